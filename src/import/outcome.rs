//! What came of an import.

use crate::layout::Layout;

/// How much came, and how much did not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Different texts that the layout can type.
    pub characters: usize,
    /// Dead keys that became latched layers.
    pub dead_keys: usize,
    /// Different named keys.
    pub named_keys: usize,
    /// Outputs at levels that exist but that no key combination reaches.
    pub unreachable: usize,
    /// Everything else that was left out.
    pub ignored: usize,
}

/// Something that was left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Why, as a phrase: "keys that the board lacks".
    pub why: String,
    /// What, each in a word or two.
    pub what: Vec<String>,
}

/// A layout from a standard's file, with what there is to say of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// The layout.
    pub layout: Layout,
    /// How much came.
    pub counts: Counts,
    /// What did not, by reason.
    pub left_out: Vec<LeftOut>,
    /// What the person must still tell, one sentence each.
    pub to_tell: Vec<String>,
}
