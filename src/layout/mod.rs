//! Layouts: named sets of layers on one board.
//!
//! [`Layout`] and its parts are plain data; `file` reads and writes them,
//! `route` finds the ways to each output, `effort` weighs them, `check` tells
//! what a layout lacks, `shipped` holds the layouts that come with Etude.

mod assignment;
pub mod check;
pub mod compare;
pub mod effort;
mod family;
pub mod file;
mod route;
mod search;
pub mod shipped;
pub mod token;
pub mod walk;

pub use assignment::{Access, AccessKind, Assignment, Target};
pub use check::{advise, check};
pub use family::{FAMILIES, families_of};
pub use route::{AccessStep, Route, RouteTable, routes};

use crate::keyboard::{Board, Chord, Finger, Marker, Modifiers, Output, Position};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The index of a layer in [`Layout::layers`]; 0 is the base layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct LayerId(pub u8);

impl LayerId {
    /// The layer that is active when nothing is held, latched or locked.
    pub const BASE: Self = Self(0);

    /// The index as a `usize`.
    pub const fn index(self) -> usize {
        self.0 as usize
    }
}

/// What a layer is for: decides which drills it gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cluster {
    /// Letters: what is active when nothing is held.
    Base,
    /// Full stops, commas, quotes, dashes: what prose needs.
    Punctuation,
    /// Brackets, operators: what code needs.
    Symbols,
    /// Digits.
    Numbers,
    /// Cursor movement.
    Navigation,
    /// Chords of modifiers and a key.
    Shortcuts,
    /// Anything else.
    Other,
}

impl Cluster {
    /// Every cluster, in the order in which they are shown.
    pub const ALL: [Self; 7] = [
        Self::Base,
        Self::Punctuation,
        Self::Symbols,
        Self::Numbers,
        Self::Navigation,
        Self::Shortcuts,
        Self::Other,
    ];

    /// The word that files and commands use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Base => "base",
            Self::Punctuation => "punctuation",
            Self::Symbols => "symbols",
            Self::Numbers => "numbers",
            Self::Navigation => "navigation",
            Self::Shortcuts => "shortcuts",
            Self::Other => "other",
        }
    }

    /// The cluster that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|cluster| cluster.word() == word)
    }
}

/// One sheet of a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    /// Unique in the layout.
    pub name: String,
    /// What it is for.
    pub cluster: Cluster,
    /// One or two columns that stand for the layer on screen, unique in the
    /// layout; by default the capital of the name.
    pub sign: String,
    /// The key that its accesses also send, so that the host sees them; never
    /// on the base layer.
    pub marker: Option<Marker>,
    /// One assignment a site of the board, in the board's order.
    pub keys: Vec<Assignment>,
}

/// A purpose behind a chord.
#[derive(Debug, Clone, PartialEq)]
pub struct Action {
    /// What the host receives.
    pub chord: Chord,
    /// What the person is asked to do.
    pub title: String,
}

/// What Shift makes of characters; the host decides it, the layout states it.
#[derive(Debug, Clone, PartialEq)]
pub struct ShiftTable {
    /// True where the table starts from the US one (the default) instead of
    /// from letters alone.
    pub us: bool,
    /// Pairs that differ from the starting table.
    pub pairs: BTreeMap<char, char>,
}

impl ShiftTable {
    /// The pairs of a US keyboard other than letters: plain, shifted.
    pub const US: &'static str = "`~1!2@3#4$5%6^7&8*9(0)-_=+[{]}\\|;:'\",<.>/?";

    /// What Shift makes of `c`; none where it makes nothing different.
    pub fn shifted(&self, c: char) -> Option<char> {
        if let Some(&other) = self.pairs.get(&c) {
            return (other != c).then_some(other);
        }
        if self.us {
            let mut pairs = Self::US.chars();
            while let (Some(plain), Some(shifted)) = (pairs.next(), pairs.next()) {
                if plain == c {
                    return Some(shifted);
                }
            }
        }
        let mut upper = c.to_uppercase();
        match (upper.next(), upper.next()) {
            (Some(one), None) if one != c => Some(one),
            _ => None,
        }
    }
}

impl Default for ShiftTable {
    fn default() -> Self {
        Self { us: true, pairs: BTreeMap::new() }
    }
}

/// A named set of layers on one board.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// The comment lines at the top of the file, without `#`.
    pub reasons: Vec<String>,
    /// The name that commands use.
    pub name: String,
    /// A title for people.
    pub title: String,
    /// The board, with the layout's own fingers already applied.
    pub board: Board,
    /// Fingers that differ from the board's.
    pub fingers: BTreeMap<Position, Finger>,
    /// The layout that the person used before, by name.
    pub old_way: Option<String>,
    /// What Shift makes.
    pub shift: ShiftTable,
    /// Named chords.
    pub actions: BTreeMap<String, Action>,
    /// Which position (on which layer) to prefer where an output has several.
    pub prefer: BTreeMap<Output, (LayerId, Position)>,
    /// The sheets; the first is the base layer. At least one, at most 64.
    pub layers: Vec<Layer>,
}

impl Layout {
    /// The layer with this id.
    ///
    /// # Panics
    /// If `id` is of another layout.
    pub fn layer(&self, id: LayerId) -> &Layer {
        &self.layers[id.index()]
    }

    /// The id of the layer with this name.
    pub fn layer_named(&self, name: &str) -> Option<LayerId> {
        self.layers.iter().position(|layer| layer.name == name).map(|index| LayerId(index as u8))
    }

    /// All layers with their ids.
    pub fn layers(&self) -> impl Iterator<Item = (LayerId, &Layer)> {
        self.layers.iter().enumerate().map(|(index, layer)| (LayerId(index as u8), layer))
    }

    /// What `output` becomes when the host sees it with `modifiers` held:
    /// Shift changes text by the layout's table, the others make a chord.
    /// None where the host would receive nothing different that can be named.
    pub fn with_modifiers(&self, output: &Output, modifiers: Modifiers) -> Option<Output> {
        use crate::keyboard::ChordKey;
        if modifiers.is_empty() {
            return Some(output.clone());
        }
        match output {
            Output::Key(key) => Some(Output::of_key(*key, modifiers)),
            Output::Chord(chord) => Some(Output::Chord(Chord {
                modifiers: chord.modifiers | modifiers,
                key: chord.key,
            })),
            Output::Text(_) => {
                let c = output.as_char()?;
                if modifiers == Modifiers::SHIFT {
                    return Some(match self.shift.shifted(c) {
                        Some(other) => Output::char(other),
                        None => output.clone(),
                    });
                }
                let plain = c.to_lowercase().next().unwrap_or(c);
                let modifiers = if plain == c { modifiers } else { modifiers | Modifiers::SHIFT };
                Some(Output::Chord(Chord { modifiers, key: ChordKey::Char(plain) }))
            }
        }
    }
}
