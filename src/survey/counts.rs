//! How often each character and each pair of characters comes.

use crate::keyboard::{NamedKey, Output};
use std::collections::BTreeMap;

/// What is struck for a character: Enter for a line's end, the key Tab for a
/// tab, text for the rest; none for other control characters.
pub fn output_of(c: char) -> Option<Output> {
    match c {
        '\n' => Some(Output::Key(NamedKey::Enter)),
        '\t' => Some(Output::Key(NamedKey::Tab)),
        c if c.is_control() => None,
        c => Some(Output::char(c)),
    }
}

/// Counts of a text. The text itself can't be made of them again.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Counts {
    /// How often each character comes. A line's end is `'\n'`, however the
    /// text wrote it.
    pub chars: BTreeMap<char, u64>,
    /// How often each pair of characters comes, the second right after the
    /// first in the same text; line ends are in it.
    pub pairs: BTreeMap<(char, char), u64>,
}

impl Counts {
    /// The counts of `text`.
    pub fn of(text: &str) -> Self {
        let mut counts = Self::default();
        let mut before = None;
        for c in text.chars() {
            *counts.chars.entry(c).or_default() += 1;
            if let Some(before) = before {
                *counts.pairs.entry((before, c)).or_default() += 1;
            }
            before = Some(c);
        }
        counts
    }

    /// Takes in the counts of another text.
    pub fn add(&mut self, other: &Self) {
        for (&c, times) in &other.chars {
            *self.chars.entry(c).or_default() += times;
        }
        for (&pair, times) in &other.pairs {
            *self.pairs.entry(pair).or_default() += times;
        }
    }

    /// All characters together.
    pub fn total(&self) -> u64 {
        self.chars.values().sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_stand_next_to_each_other_in_one_text() {
        let mut counts = Counts::of("aab\n");
        counts.add(&Counts::of("ba"));
        assert_eq!(counts.chars, BTreeMap::from([('a', 3), ('b', 2), ('\n', 1)]));
        let pairs = [(('a', 'a'), 1), (('a', 'b'), 1), (('b', '\n'), 1), (('b', 'a'), 1)];
        assert_eq!(counts.pairs, BTreeMap::from(pairs));
        assert_eq!(counts.total(), 6);
    }
}
