//! What a text reads, as numbers: two texts on the way are told apart without
//! either being written out.

use crate::editor::{Buffer, Line};
use std::ops::Range;
use unicode_segmentation::UnicodeSegmentation;

/// A place, by its number.
pub(super) type Spot = u32;

/// The base of the sums (2⁶⁴ over the golden ratio, as Knuth vol. 3, 6.4, for
/// spreading); odd, so that it can be divided by.
const BASE: u64 = 0x9E37_79B9_7F4A_7C15;

/// What the base times it is 1, modulo 2⁶⁴.
const DIVIDED: u64 = inverse(BASE);

/// The inverse of an odd number modulo 2⁶⁴: each round doubles the bits that
/// are right (Newton's method; an odd number is its own inverse modulo 8).
const fn inverse(number: u64) -> u64 {
    let mut found = number;
    let mut right = 3;
    while right < 64 {
        found = found.wrapping_mul(2_u64.wrapping_sub(number.wrapping_mul(found)));
        right *= 2;
    }
    found
}

/// A text's graphemes, each line's end included.
#[derive(Debug, Default)]
pub(super) struct Reads {
    /// A number for the grapheme after each place: its character, or of several
    /// characters something beyond all characters.
    graphemes: Vec<u32>,
    /// By place, once they were asked for: the sum of what is before it, each
    /// grapheme times the base to the power of its place (Karp & Rabin 1987).
    sums: Vec<u64>,
}

impl Reads {
    /// Room for `total` graphemes.
    pub fn with_capacity(total: usize) -> Self {
        Self { graphemes: Vec::with_capacity(total), sums: Vec::new() }
    }

    /// What `buffer` reads.
    pub fn of(buffer: &Buffer) -> Self {
        let mut reads = Self::default();
        for line in buffer.lines() {
            reads.add(line);
        }
        reads
    }

    /// Goes on with `line` and its end.
    pub fn add(&mut self, line: &Line) {
        if line.text().len() == line.len() {
            self.graphemes.extend(line.text().bytes().map(u32::from));
        } else {
            self.graphemes.extend(line.graphemes().map(number_of));
        }
        self.graphemes.push(u32::from('\n'));
    }

    /// Goes on with what `other` reads at some places.
    pub fn copy(&mut self, other: &Self, places: Range<usize>) {
        self.graphemes.extend_from_slice(&other.graphemes[places]);
    }

    /// The number of the grapheme after `at`.
    pub fn grapheme(&self, at: Spot) -> u32 {
        self.graphemes[at as usize]
    }

    /// How far text that is equal to some of what is from one place to another
    /// goes on before it: to the place where it begins.
    pub fn goes_on_before(&self, (start, end): (Spot, Spot)) -> Spot {
        let (all, span) = (&self.graphemes, start as usize..end as usize);
        let before = &all[..span.start];
        let Some(last) = before.last() else { return start };
        let ends = (span.start + 1..).zip(&all[span]).filter(|(_, other)| *other == last);
        let equal = |(to, _): (usize, _)| {
            let both = all[..to].iter().rev().zip(before.iter().rev());
            both.take_while(|(one, other)| one == other).count()
        };
        start - ends.map(equal).max().unwrap_or(0) as Spot
    }

    /// How far it goes on after it, the last line's end left out: to the place
    /// where it ends.
    pub fn goes_on_after(&self, (start, end): (Spot, Spot)) -> Spot {
        let (all, span) = (&self.graphemes, start as usize..end as usize);
        let after = &all[span.end..all.len() - 1];
        let Some(first) = after.first() else { return end };
        let starts = (span.start..).zip(&all[span]).filter(|(_, other)| *other == first);
        let equal = |(from, _): (usize, _)| {
            let both = all[from..].iter().zip(after);
            both.take_while(|(one, other)| one == other).count()
        };
        end + starts.map(equal).max().unwrap_or(0) as Spot
    }

    /// True where graphemes here may make one with others, brought together.
    pub fn may_join(&self) -> bool {
        let mut others: Vec<u32> = self.graphemes.iter().copied().filter(|n| *n >= 128).collect();
        others.sort_unstable();
        others.dedup();
        // Beyond all characters are those of several.
        others.into_iter().any(|number| char::from_u32(number).is_none_or(joins))
    }

    /// Counts the sums, unless they were counted.
    pub fn count(&mut self) {
        if !self.sums.is_empty() {
            return;
        }
        self.sums.reserve_exact(self.graphemes.len() + 1);
        let (mut sum, mut power) = (0_u64, 1_u64);
        self.sums.push(0);
        for grapheme in &self.graphemes {
            // A text and that text with a nought after it differ.
            sum = sum.wrapping_add(power.wrapping_mul(u64::from(*grapheme) + 1));
            power = power.wrapping_mul(BASE);
            self.sums.push(sum);
        }
    }

    /// The sum of all but what is from one place to another; only after
    /// [`Self::count`].
    pub fn sum_without(&self, (from, to): (Spot, Spot)) -> u64 {
        let sum = |at: usize| self.sums[at];
        let after = sum(self.graphemes.len()).wrapping_sub(sum(to as usize));
        sum(from as usize).wrapping_add(after.wrapping_mul(DIVIDED.wrapping_pow(to - from)))
    }

    /// The sum of all; only after [`Self::count`].
    pub fn sum(&self) -> u64 {
        self.sum_without((0, 0))
    }

    /// True where `other` reads the same but for what is from one place to
    /// another here.
    pub fn is_without(&self, (from, to): (Spot, Spot), other: &Self) -> bool {
        let (from, to) = (from as usize, to as usize);
        other.graphemes.len() + to - from == self.graphemes.len()
            && other.graphemes[..from] == self.graphemes[..from]
            && other.graphemes[from..] == self.graphemes[to..]
    }
}

/// True for a character that makes one grapheme with a letter next to it, or
/// with another of its kind (UAX #29, 3.1.1).
fn joins(c: char) -> bool {
    [format!("a{c}"), format!("{c}a"), format!("{c}{c}")]
        .iter()
        .any(|both| both.graphemes(true).count() == 1)
}

/// A number for a grapheme. That two of several characters share one is as
/// good as impossible in a text (FNV-1a of 31 bits), and would cost a detour.
fn number_of(grapheme: &str) -> u32 {
    let mut chars = grapheme.chars();
    if let (Some(single), None) = (chars.next(), chars.next()) {
        return u32::from(single);
    }
    let mix = |sum: u32, byte: u8| (sum ^ u32::from(byte)).wrapping_mul(0x0100_0193);
    grapheme.bytes().fold(0x811C_9DC5, mix) | 1 << 31
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_base_can_be_divided_by() {
        assert_eq!(BASE.wrapping_mul(DIVIDED), 1);
    }

    #[test]
    fn what_may_join_is_known() {
        for (text, joins) in [
            ("low tide\t3.4 m", false),
            ("Größe, café, 潮", false),
            ("cafe\u{301}", true),
            ("low\n\u{301}", true),
            ("\u{1F1F3}", true),
            ("a\n\u{200d}", true),
            ("\u{1100}", true),
        ] {
            assert_eq!(Reads::of(&Buffer::new(text)).may_join(), joins, "{text:?}");
        }
    }

    #[test]
    fn equal_text_goes_on_around() {
        for (text, span, around) in [
            ("low water", (4, 6), (4, 6)),
            ("at a low low tide", (4, 8), (4, 13)),
            ("at a low low tide", (9, 13), (4, 13)),
            ("aaaa", (1, 2), (0, 4)),
            ("abcab", (0, 3), (0, 5)),
            ("abcab", (2, 5), (0, 5)),
            ("a\nb\nb\nc", (2, 4), (1, 6)),
            ("b\nb\n", (2, 4), (0, 4)),
            ("bb\n", (0, 1), (0, 2)),
        ] {
            let reads = Reads::of(&Buffer::new(text));
            let told = (reads.goes_on_before(span), reads.goes_on_after(span));
            assert_eq!(told, around, "{text:?} {span:?}");
        }
    }

    #[test]
    fn what_is_left_sums_up_as_if_written_out() {
        let mut whole = Reads::of(&Buffer::new("low\n潮e\u{301} water\n"));
        whole.count();
        for (from, to, text) in [
            (0, 0, "low\n潮e\u{301} water\n"),
            (0, 4, "潮e\u{301} water\n"),
            (2, 5, "loe\u{301} water\n"),
            (6, 13, "low\n潮e\u{301}"),
        ] {
            let mut left = Reads::of(&Buffer::new(text));
            left.count();
            assert_eq!(whole.sum_without((from, to)), left.sum(), "{text:?}");
            assert!(whole.is_without((from, to), &left), "{text:?}");
        }
        let mut other = Reads::of(&Buffer::new("lwo\n潮e\u{301} water\n"));
        other.count();
        assert_ne!(whole.sum(), other.sum());
        assert!(!whole.is_without((0, 0), &other));
        // A text that ends in a nought is none without it.
        let mut noughts = ["a", "a\0"].map(|text| Reads::of(&Buffer::new(text)));
        noughts.iter_mut().for_each(Reads::count);
        assert_ne!(noughts[0].sum(), noughts[1].sum());
    }
}
