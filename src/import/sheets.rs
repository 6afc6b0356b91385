//! What a standard's file says of a keyboard, before it lies on a board.

use crate::keyboard::{BoardForm, Modifiers, Output, Position};
use crate::layout::AccessKind;
use std::collections::BTreeMap;

/// A state of the keyboard in which each key has one meaning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Level {
    /// One bit an opener of [`Sheets::openers`].
    pub opened: u8,
    /// True while Shift is held.
    pub shift: bool,
}

impl Level {
    /// Nothing held.
    pub const PLAIN: Self = Self { opened: 0, shift: false };
}

/// What a key means at one level.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Meaning {
    /// Text or a named key.
    Gives(Output),
    /// A modifier that the host sees.
    Holds(Modifiers),
    /// The dead key with this index in [`Sheets::dead`].
    Dead(usize),
    /// Nothing.
    Nothing,
}

/// What makes a level other than Shift's: a level-3 key, say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Opener {
    /// A name without blanks, as in `level3`.
    pub name: String,
    /// The keys that do it, and how.
    pub keys: Vec<(Position, AccessKind)>,
}

/// A dead key: it gives nothing until the key after it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dead {
    /// A name without blanks, as in `acute`.
    pub name: String,
    /// What it makes of the text of the key after it.
    pub makes: BTreeMap<String, String>,
}

/// A keyboard as a standard's file describes it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sheets {
    /// A name without blanks for the layout.
    pub name: String,
    /// A title for people.
    pub title: String,
    /// Where it came from, one sentence; stands at the top of the file.
    pub source: String,
    /// The form of board that the file is for, where it says so.
    pub form: Option<BoardForm>,
    /// What opens levels, at most eight.
    pub openers: Vec<Opener>,
    /// The dead keys.
    pub dead: Vec<Dead>,
    /// What the keys mean, by level. A key that a level does not list means
    /// what the level below has.
    pub levels: BTreeMap<Level, BTreeMap<Position, Meaning>>,
    /// Outputs at levels that no key combination reaches.
    pub unreachable: Vec<String>,
    /// What the reader left out, and why; one sentence each.
    pub notes: Vec<String>,
}

impl Sheets {
    /// What the key at `position` means at `level`, fall-through followed:
    /// openers are taken away one by one, then the plain level is asked.
    pub fn meaning(&self, level: Level, position: Position) -> &Meaning {
        let mut level = level;
        loop {
            if let Some(found) = self.levels.get(&level).and_then(|keys| keys.get(&position)) {
                return found;
            }
            if level.opened != 0 {
                // The highest opener is the last to be pressed.
                level.opened &= !(0x80_u8 >> level.opened.leading_zeros());
            } else if level.shift {
                level.shift = false;
            } else {
                return &Meaning::Nothing;
            }
        }
    }
}
