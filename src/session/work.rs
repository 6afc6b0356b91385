//! The prompt in work: what its kind adds to a line.

use super::engine::{SHOW_AFTER, SHOW_AFTER_MISSES};
use super::{Counts, Editing, Effect, Line, Verdict};
use crate::drill::{Flow, Prompt};
use crate::units::Micros;

/// The prompt in work, by its kind.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Work {
    /// A line to type.
    Text(Line),
    /// Actions to strike: a line of chords, each of which may have to be
    /// remembered.
    Strike(Striking),
    /// A text to edit.
    Edit(Box<Editing>),
}

/// A prompt of actions in work.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Striking {
    pub line: Line,
    /// True where nothing has to be remembered.
    pub told: bool,
    /// True where the answer to what is due has been shown.
    pub shown: bool,
    /// Since when the person has been looking for the answer; none while the
    /// window has not the keyboard.
    pub since: Option<Micros>,
    /// Wrong answers to what is due.
    wrong: u8,
}

impl Work {
    /// The work of `prompt`, nothing done, seen from `at`.
    pub fn new(prompt: &Prompt, flow: Flow, at: Micros) -> Self {
        match prompt {
            Prompt::Text(items) => Self::Text(Line::new(items, flow)),
            Prompt::Strike(strikes) => Self::Strike(Striking {
                line: Line::new(strikes.items(), Flow::Stay),
                told: strikes.told,
                shown: false,
                since: Some(at),
                wrong: 0,
            }),
            Prompt::Edit(edit) => Self::Edit(Box::new(Editing::new(edit, at))),
        }
    }

    /// The line, where the kind has one.
    pub const fn line(&self) -> Option<&Line> {
        match self {
            Self::Text(line) | Self::Strike(Striking { line, .. }) => Some(line),
            Self::Edit(_) => None,
        }
    }

    /// The line, to be changed.
    pub const fn line_mut(&mut self) -> Option<&mut Line> {
        match self {
            Self::Text(line) | Self::Strike(Striking { line, .. }) => Some(line),
            Self::Edit(_) => None,
        }
    }

    /// The counts of the prompt so far.
    pub fn counts(&self) -> Counts {
        self.line().map_or_else(Counts::default, Line::counts)
    }

    /// The strikes, if it is such a prompt.
    pub const fn striking(&self) -> Option<&Striking> {
        match self {
            Self::Strike(striking) => Some(striking),
            Self::Text(_) | Self::Edit(_) => None,
        }
    }

    /// The strikes, to be changed.
    pub const fn striking_mut(&mut self) -> Option<&mut Striking> {
        match self {
            Self::Strike(striking) => Some(striking),
            Self::Text(_) | Self::Edit(_) => None,
        }
    }

    /// The text being edited, if it is such a prompt.
    pub const fn editing(&self) -> Option<&Editing> {
        match self {
            Self::Edit(editing) => Some(editing),
            Self::Text(_) | Self::Strike(_) => None,
        }
    }

    /// The text being edited, to be changed.
    pub const fn editing_mut(&mut self) -> Option<&mut Editing> {
        match self {
            Self::Edit(editing) => Some(editing),
            Self::Text(_) | Self::Strike(_) => None,
        }
    }

    /// True where the prompt is done.
    pub fn done(&self) -> bool {
        match self {
            Self::Text(line) | Self::Strike(Striking { line, .. }) => line.done(),
            Self::Edit(editing) => editing.done(),
        }
    }
}

impl Striking {
    /// When the answer is to be shown, if nothing happens; none where it is
    /// known already.
    pub fn shows_at(&self) -> Option<Micros> {
        let known = self.told || self.shown || self.line.done();
        self.since.filter(|_| !known).map(|since| since + SHOW_AFTER)
    }

    /// Shows the answer, where it has to be remembered and is not known yet.
    pub fn show(&mut self, effects: &mut Vec<Effect>) {
        if !self.told && !self.shown && !self.line.done() {
            self.shown = true;
            effects.push(Effect::Shown { place: self.line.place() });
        }
    }

    /// Takes note of a judgement: after a hit the next action has to be
    /// remembered, after several misses the answer is shown.
    pub fn judged(&mut self, verdict: Verdict, at: Micros, effects: &mut Vec<Effect>) {
        match verdict {
            Verdict::Hit => {
                self.shown = false;
                self.wrong = 0;
                self.since = Some(at);
            }
            Verdict::Miss | Verdict::Repair => {
                self.wrong = self.wrong.saturating_add(1);
                if self.wrong >= SHOW_AFTER_MISSES {
                    self.show(effects);
                }
            }
        }
    }
}
