//! Drills: short exercises made from a layout's layers.
//!
//! [`generate`] makes one from the shipped material (`drills/*.toml`) for a
//! cluster, a layer or the thumb keys; [`OwnText`] makes them of the person's
//! own text; [`edits`] makes editing tasks; [`offers`] tells what a layout can drill. docs/drills.md tells
//! how it goes.

mod compose;
mod edits;
mod error;
mod fragment;
mod generate;
mod glyph;
mod material;
mod mix;
mod numbers;
mod own;
mod prompt;
mod punctuation;
mod reach;
mod shortcuts;
mod speller;
mod symbols;
mod thumbs;
mod weights;
mod what;
mod wrap;

pub use edits::{
    DOCUMENT_COLUMNS, DOCUMENT_LINES, Document, Edit, EditRequest, TASKS, documents, edits,
    navigation_keys, tools,
};
pub use error::DrillError;
pub use generate::{LEAST_WIDTH, Request, STROKES, generate};
pub use glyph::{glyph, glyph_width, line_width, space_mark};
pub use material::{
    Kind, PIECE_COLUMNS, Piece, Shipped, TAB_COLUMNS, Words, pieces, shipped, words,
};
pub use mix::Mix;
pub use own::{Dropped, OwnRequest, OwnText, TEXT_LIMIT};
pub use prompt::{Cue, Prompt, Strikes, Way};
pub use shortcuts::{
    CHANGE_COLUMNS, Convention, Conventions, Recollect, Remembered, Sequence, Set, Shortcut,
    conventions, shortcut_offer, shortcuts,
};
pub use speller::Speller;
pub use weights::{ItemKey, Pull, SwitchKey, Weights};
pub(crate) use what::DRILLED_KEYS;
pub use what::{Offer, What, all_offers, offers};

use crate::layout::{Cluster, LayerId};

/// How a drill goes on after a wrong key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Flow {
    /// The caret waits for the right key.
    Stay,
    /// The wrong character stands until Backspace takes it back.
    Repair,
}

impl Flow {
    /// The word that exports and scripts use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Stay => "stay",
            Self::Repair => "repair",
        }
    }

    /// The flow that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Stay, Self::Repair].into_iter().find(|flow| flow.word() == word)
    }
}

/// Where a drill's text comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Source {
    /// Material that ships with Etude: keystrokes are kept one by one.
    Shipped,
    /// The person's own text: only counts are kept, never the text.
    Own,
}

impl Source {
    /// The word that exports use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Shipped => "shipped",
            Self::Own => "own",
        }
    }
}

/// A short exercise of about a minute with one purpose.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drill {
    /// A title for people, as in `brackets and their contents`.
    pub title: String,
    /// What it practises.
    pub cluster: Cluster,
    /// The layers that it practises; none where its outputs come from anywhere.
    /// An output that needs an access is due on one of them where it can be.
    pub layers: Vec<LayerId>,
    /// How it goes on after a wrong key.
    pub flow: Flow,
    /// Where its text comes from.
    pub source: Source,
    /// The prompts, in order.
    pub prompts: Vec<Prompt>,
    /// What was left out, with counts: of text, characters that the layout can't
    /// type; of shortcuts and editing tasks, keys that can't arrive.
    pub left_out: Vec<(String, usize)>,
}
