//! What the engine tells: what is due, what came of a drill, what the shell
//! has to do.

use super::{Counts, Edited, Keystroke, Tally};
use crate::keyboard::{Finger, Output, Position};
use crate::layout::{LayerId, Route};
use crate::units::Micros;

/// What is due: an output and its route, as far as there is one.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    /// The output.
    pub output: Output,
    /// Its layer; the base layer for an output without a route.
    pub layer: LayerId,
    /// The key to strike.
    pub position: Option<Position>,
    /// The finger that strikes it.
    pub finger: Option<Finger>,
}

impl Due {
    pub(super) fn new(output: Output, route: Option<&Route>) -> Self {
        Self {
            layer: route.map_or(LayerId::BASE, |r| r.layer),
            position: route.map(|r| r.position),
            finger: route.map(|r| r.finger),
            output,
        }
    }
}

/// The outcome of a drill, ended or cut short.
#[derive(Debug, Clone, PartialEq)]
pub struct DrillResult {
    /// True where every line was typed.
    pub complete: bool,
    /// From the drill's first press to its last, pauses left out.
    pub active: Micros,
    /// The counts of all lines.
    pub counts: Counts,
    /// By item and by switch.
    pub tally: Tally,
    /// The editing tasks that were begun, in order.
    pub edits: Vec<Edited>,
}

/// What the shell has to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Keep this.
    Keystroke(Box<Keystroke>),
    /// The key of the keystroke with this `seq` came up after so long.
    Down {
        /// The keystroke.
        seq: u32,
        /// How long the key was down.
        down: Micros,
    },
    /// The answer to what is due has to be shown: it was asked for, or did
    /// not come.
    Shown {
        /// The place in the prompt.
        place: usize,
    },
    /// A prompt is done; the next one is due.
    LineDone,
    /// The drill is over.
    DrillDone(Box<DrillResult>),
    /// Esc was struck so often (1 or 2); it is not due, so it may mean leaving.
    Leaving(usize),
    /// The person leaves. What was done of the drill is in the result.
    Left(Option<Box<DrillResult>>),
}
