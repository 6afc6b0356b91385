//! The line being typed: what stands, what is due, what was missed.

use super::Counts;
use crate::drill::Flow;
use crate::keyboard::{NamedKey, Output};
use crate::units::Micros;

/// What stands at a place that the caret has passed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// What was due.
    Right,
    /// Something else.
    Wrong(Output),
}

/// After this many wrong characters in a row only Backspace goes on, so that
/// one slip can't run through a whole line.
pub const MOST_WRONG: usize = 6;

/// A line of outputs in work.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    flow: Flow,
    items: Vec<Output>,
    standing: Vec<Standing>,
    missed: Vec<bool>,
    /// All keys judged in this line.
    stream: u32,
    fixes: u32,
    time: Micros,
}

/// What a press does to the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Change {
    /// The due item, rightly struck.
    Advance,
    /// A wrong character now stands.
    Stand,
    /// The caret waits.
    Wait,
    /// The last standing character is taken back.
    TakeBack,
}

impl Line {
    /// The line of `items`, nothing typed.
    pub fn new(items: &[Output], flow: Flow) -> Self {
        Self {
            flow,
            missed: vec![false; items.len()],
            items: items.to_vec(),
            standing: Vec::new(),
            stream: 0,
            fixes: 0,
            time: Micros::ZERO,
        }
    }

    /// How it goes on after a wrong key.
    pub const fn flow(&self) -> Flow {
        self.flow
    }

    /// What is to be typed.
    pub fn items(&self) -> &[Output] {
        &self.items
    }

    /// What stands at the places before the caret.
    pub fn standing(&self) -> &[Standing] {
        &self.standing
    }

    /// Where the caret stands, 0 to `items().len()`.
    pub fn place(&self) -> usize {
        self.standing.len()
    }

    /// True where `place` was missed at least once.
    pub fn was_missed(&self, place: usize) -> bool {
        self.missed.get(place).copied().unwrap_or(false)
    }

    /// How many wrong characters stand right before the caret.
    pub fn wrong_tail(&self) -> usize {
        self.standing.iter().rev().take_while(|s| **s != Standing::Right).count()
    }

    /// True where only Backspace goes on: the line ends wrongly, or too many
    /// wrong characters stand.
    pub fn wants_backspace(&self) -> bool {
        let wrong = self.wrong_tail();
        wrong >= MOST_WRONG || (wrong > 0 && self.place() == self.items.len())
    }

    /// What is due now; none when the line is done.
    pub fn due(&self) -> Option<Output> {
        if self.wants_backspace() {
            return Some(Output::Key(NamedKey::Backspace));
        }
        self.items.get(self.place()).cloned()
    }

    /// True when all is typed and the last item is right.
    pub fn done(&self) -> bool {
        self.place() == self.items.len() && self.wrong_tail() == 0
    }

    /// True before the first press.
    pub fn untouched(&self) -> bool {
        self.stream == 0
    }

    /// What striking `got` would do; `hit` tells whether it is what is due.
    pub(super) fn change(&self, got: &Output, hit: bool) -> Change {
        let backspace = *got == Output::Key(NamedKey::Backspace);
        if self.flow == Flow::Repair && backspace && self.place() > 0 {
            let due_itself = hit && self.wrong_tail() == 0;
            return if due_itself { Change::Advance } else { Change::TakeBack };
        }
        if hit {
            return Change::Advance;
        }
        match (self.flow, got) {
            (Flow::Repair, Output::Text(_)) if !self.wants_backspace() => Change::Stand,
            _ => Change::Wait,
        }
    }

    /// Does it; `interval` is what the clock adds.
    pub(super) fn make(&mut self, change: Change, got: &Output, interval: Micros) {
        if self.stream > 0 {
            self.time = self.time + interval;
        }
        self.stream += 1;
        let place = self.place();
        match change {
            Change::Advance => self.standing.push(Standing::Right),
            Change::Stand => {
                self.missed[place] = true;
                self.standing.push(Standing::Wrong(got.clone()));
            }
            Change::Wait => {
                if let Some(missed) = self.missed.get_mut(place) {
                    *missed = true;
                }
            }
            Change::TakeBack => {
                self.standing.pop();
                self.fixes += 1;
                self.missed[place - 1] = true;
            }
        }
    }

    /// The counts so far; what lies beyond the caret does not count.
    pub fn counts(&self) -> Counts {
        let presented = &self.items[..self.place()];
        let transcribed: Vec<Output> = self
            .standing
            .iter()
            .zip(&self.items)
            .map(|(standing, item)| match standing {
                Standing::Right => item.clone(),
                Standing::Wrong(got) => got.clone(),
            })
            .collect();
        Counts::of_line(presented, &transcribed, self.stream, self.fixes, self.time)
    }
}
