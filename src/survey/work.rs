//! Kinds of work, and how much of each somebody does.

use crate::order::Gather;
use std::collections::BTreeMap;

/// A kind of work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Work {
    /// Sentences: `drills/punctuation.toml`.
    Prose,
    /// Code, paths, patterns: `drills/symbols.toml`.
    Code,
    /// Times, tables, measures: `drills/numbers.toml`.
    Figures,
    /// Short lines, indents, words taken back: `drills/thumbs.toml` and the
    /// slips of `drills/words.toml`.
    Editing,
}

impl Work {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Prose, Self::Code, Self::Figures, Self::Editing];

    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Prose => "prose",
            Self::Code => "code",
            Self::Figures => "figures",
            Self::Editing => "editing",
        }
    }

    /// The kind that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|work| work.word() == word)
    }
}

/// How much of a person's strokes each kind of work has; only the ratios
/// count.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkMix(pub BTreeMap<Work, f64>);

impl WorkMix {
    /// One kind alone.
    pub fn only(work: Work) -> Self {
        Self(std::iter::once((work, 1.0)).gather())
    }
}

impl Default for WorkMix {
    /// Prose 40, code 40, figures 5, editing 15 of a hundred: our own estimate
    /// of a person who writes and programs, no source.
    fn default() -> Self {
        let shares =
            [(Work::Prose, 40.0), (Work::Code, 40.0), (Work::Figures, 5.0), (Work::Editing, 15.0)];
        Self(shares.into_iter().gather())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back() {
        for work in Work::ALL {
            assert_eq!(Work::from_word(work.word()), Some(work));
        }
    }
}
