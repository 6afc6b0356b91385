//! One observed key event, judged against what was due.

use crate::keyboard::{Finger, Output, Position};
use crate::layout::LayerId;
use crate::units::Micros;

/// What became of a press.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// It was what was due.
    Hit,
    /// It was something else.
    Miss,
    /// A Backspace that took back something wrong (or something right, which
    /// then has to be typed again).
    Repair,
}

impl Verdict {
    /// The word that exports and scripts use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hit => "hit",
            Self::Miss => "miss",
            Self::Repair => "repair",
        }
    }

    /// The verdict that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Hit, Self::Miss, Self::Repair].into_iter().find(|v| v.word() == word)
    }
}

bitflags::bitflags! {
    /// Circumstances of a keystroke. Those in [`Flags::UNTIMED`] keep its
    /// latency out of every estimate. The bits are stored: never renumber.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
    pub struct Flags: u16 {
        /// First press of a prompt: holds reading time.
        const FIRST = 1;
        /// This place of the prompt was missed before.
        const RETRY = 1 << 1;
        /// One of the two presses after a miss or a repair.
        const AFTER_ERROR = 1 << 2;
        /// Longer than the pause bound.
        const PAUSE = 1 << 3;
        /// Read together with the event before: the interval is unknown.
        const BATCHED = 1 << 4;
        /// Focus was lost or the program stopped since the press before.
        const INTERRUPTED = 1 << 5;
        /// The due item lies on another layer than the item before it.
        const SWITCH = 1 << 6;
        /// This terminal can't tell what was struck from another key.
        const AMBIGUOUS = 1 << 7;
        /// What was due had to be remembered: the prompt named the action only.
        const RECALLED = 1 << 8;
        /// The answer had been shown before this press, since it was asked for
        /// or did not come.
        const SHOWN = 1 << 9;
        /// A key of an editing task that did not bring the goal nearer, and did
        /// no harm.
        const DETOUR = 1 << 10;
        /// The marker of the due layer was down: the layer was held.
        const LAYER_HELD = 1 << 11;
        /// A hit after the marker of the due layer had come and gone: the layer
        /// was latched.
        const LAYER_LATCHED = 1 << 12;
        /// A miss after the marker of the due layer, which has to be held, came
        /// up: the layer was let go too early.
        const LAYER_LET_GO = 1 << 13;

        /// Any of the circumstances that make a latency worthless.
        const UNTIMED = Self::FIRST.bits() | Self::RETRY.bits() | Self::AFTER_ERROR.bits()
            | Self::PAUSE.bits() | Self::BATCHED.bits() | Self::INTERRUPTED.bits()
            | Self::SHOWN.bits() | Self::DETOUR.bits();
    }
}

impl Flags {
    /// The names of the single circumstances that are set, as written in the
    /// code; bits of a newer program have none.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        // A set of several, such as UNTIMED, is no circumstance of its own.
        self.iter_names().filter(|(_, flag)| flag.bits().is_power_of_two()).map(|(name, _)| name)
    }
}

/// One press, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Keystroke {
    /// Counts from 0 within a drill.
    pub seq: u32,
    /// Which prompt of the drill, from 0.
    pub prompt: u16,
    /// Which place of the prompt was due, from 0.
    pub place: u16,
    /// When, since the start of the session.
    pub at: Micros,
    /// What was due.
    pub expected: Output,
    /// What arrived.
    pub got: Output,
    /// The judgement.
    pub verdict: Verdict,
    /// Time since the previous judged press; none for the first of a session,
    /// after an interruption, and in a batch.
    pub latency: Option<Micros>,
    /// Of the latency, the time from the previous judged press to the marker of
    /// the due layer: the reach to the access key; never more than the latency.
    /// None where the layer has no marker or it was not pressed in between.
    pub reach: Option<Micros>,
    /// How long the key stayed down, where the terminal reports releases.
    pub down: Option<Micros>,
    /// The layer of what was due, by the route that it has in its line.
    pub layer: LayerId,
    /// The layer of the item due before it.
    pub previous_layer: LayerId,
    /// The key that was due, by that route; none for an output that the layout
    /// can't give.
    pub position: Option<Position>,
    /// The finger that was due.
    pub finger: Option<Finger>,
    /// Circumstances.
    pub flags: Flags,
}

impl Keystroke {
    /// True where the latency may feed an estimate: a hit, none of the
    /// circumstances of [`Flags::UNTIMED`], and 25 ms to 2 s (bounds: the
    /// exclusions used for large transcription data).
    pub fn timed(&self) -> Option<Micros> {
        timed(self.verdict, self.flags, self.latency)
    }

    /// The latency in two: the reach to the access key, and the strike from
    /// there to the key. None where the two can't be told apart.
    pub fn parts(&self) -> Option<(Micros, Micros)> {
        let (reach, latency) = (self.reach?, self.latency?);
        Some((reach, latency.since(reach)))
    }
}

/// [`Keystroke::timed`] from the three values that decide it.
pub fn timed(verdict: Verdict, flags: Flags, latency: Option<Micros>) -> Option<Micros> {
    let latency = latency?;
    let in_range = (Micros::from_ms(25)..=Micros::from_ms(2000)).contains(&latency);
    (verdict == Verdict::Hit && !flags.intersects(Flags::UNTIMED) && in_range).then_some(latency)
}
