//! Counting what a text has, fast.
//!
//! Bytes go in, counts come out; the text is never kept. What counts:
//!
//! - A line ends with LF, CR LF, or CR alone; each is one `'\n'`, an Enter.
//! - Blanks at the start of a line count as nothing: editors put them there.
//! - A byte-order mark at the start is none of the text.
//! - A NUL byte makes the text binary: nothing of it counts.
//! - A line of more than [`LONGEST`] bytes was made by a program, not typed: it
//!   is left out and counted. What is no UTF-8 is not read at all.
//! - Characters from U+3000 on (ideographs, kana, syllables, emoji) come from an
//!   input method, not from a key each: they are counted, but make no pairs.

mod pairs;

use super::Counts;
use pairs::Pairs;
use std::collections::BTreeMap;
use std::hint::select_unpredictable;

/// The longest line that somebody may have typed, bytes.
pub const LONGEST: usize = 2000;

/// From here on characters make no pairs.
const UNPAIRED: u32 = 0x3000;
/// Where ASCII ends.
const ASCII: usize = 0x80;
/// A run of ASCII of so many bytes is not worth a way of its own.
const SHORT: usize = 6;
/// So near to what is not ASCII lines go one by one, bytes.
const NEAR: usize = 64;
/// So many bytes of whole lines go through the fast way at a time.
const BLOCK: usize = 1 << 10;
/// Pairs of ASCII characters: the first times [`ASCII`], and the second. As
/// large as a `u16` reaches, so that no bound has to be checked.
type Table = [u32; 1 << 16];

/// What became of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scanned {
    /// It was counted.
    Text {
        /// Lines that were too long.
        long_lines: u64,
    },
    /// It has a NUL byte.
    Binary,
    /// It is no UTF-8 from this byte on.
    NotUtf8 {
        /// The first byte that is wrong, from 0.
        at: usize,
    },
}

/// Takes in texts and counts.
#[derive(Debug, Clone)]
pub struct Scanner {
    /// Tables in turn: one counter struck twice in a row would wait for
    /// itself. Blanks after a line's end, which count as nothing, are in them.
    ascii: [Box<Table>; 2],
    /// Pairs of others up to [`UNPAIRED`].
    others: Pairs,
    /// Characters that begin something: no pair ends with them.
    begin: BTreeMap<char, u64>,
    /// Characters from [`UNPAIRED`] on.
    wide: BTreeMap<u32, Box<[u64; 256]>>,
    /// ASCII pairs since the tables were emptied.
    full: u64,
    /// What was in the tables before.
    counts: Counts,
}

impl Default for Scanner {
    fn default() -> Self {
        Self {
            ascii: std::array::from_fn(|_| table()),
            others: Pairs::default(),
            begin: BTreeMap::new(),
            wide: BTreeMap::new(),
            full: 0,
            counts: Counts::default(),
        }
    }
}

impl Scanner {
    /// Takes in one text. Nothing of a binary one, or of one that is no UTF-8,
    /// counts.
    pub fn scan(&mut self, bytes: &[u8]) -> Scanned {
        if memchr::memchr(0, bytes).is_some() {
            return Scanned::Binary;
        }
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text.strip_prefix('\u{FEFF}').unwrap_or(text),
            Err(error) => return Scanned::NotUtf8 { at: error.valid_up_to() },
        };
        let mut long_lines = 0;
        let mut before = None;
        let mut rest = text;
        while !rest.is_empty() {
            let lines = if before == Some('\n') { whole_lines(rest.as_bytes()) } else { None };
            if let Some(end) = lines {
                let (block, after) = rest.split_at(end);
                self.block(block.as_bytes());
                rest = after;
            } else {
                (rest, before) = self.any_line(rest, before, &mut long_lines);
            }
        }
        if self.full > u64::from(u32::MAX / 2) {
            self.empty();
        }
        Scanned::Text { long_lines }
    }

    /// Counts the first line of `rest`, after `before`; returns what follows,
    /// and what it comes after.
    fn any_line<'t>(
        &mut self,
        rest: &'t str,
        mut before: Option<char>,
        long_lines: &mut u64,
    ) -> (&'t str, Option<char>) {
        let end = memchr::memchr2(b'\n', b'\r', rest.as_bytes());
        let (line, after) = rest.split_at(end.unwrap_or(rest.len()));
        if line.len() > LONGEST {
            *long_lines += 1;
            before = None;
        } else {
            let typed = line.trim_start_matches([' ', '\t']);
            before = self.line(typed, before);
            if end.is_some() {
                self.count(before, '\n');
                before = Some('\n');
            }
        }
        let skipped = if after.starts_with("\r\n") { 2 } else { usize::from(end.is_some()) };
        (&after[skipped..], before)
    }

    /// Counts whole lines of ASCII. Of each pair of bytes the counter is raised
    /// without a look at what they are; only blanks after a line's end leave the
    /// line's end as what came before. Two halves go side by side, since each
    /// step has to wait for the one before it.
    fn block(&mut self, block: &[u8]) {
        let middle = memchr::memrchr(b'\n', &block[..block.len() / 2]).map_or(0, |at| at + 1);
        let (first, second) = block.split_at(middle);
        let [one, other] = &mut self.ascii;
        side_by_side((one, first), (other, second));
        self.full += block.len() as u64;
    }

    /// Counts a line after `before`; returns its last character, or `before`.
    fn line(&mut self, line: &str, mut before: Option<char>) -> Option<char> {
        let mut rest = line;
        while !rest.is_empty() {
            let ascii = rest.bytes().take_while(u8::is_ascii).count();
            // A blank between two words of another script goes with them.
            if ascii > SHORT {
                let (plain, other) = rest.split_at(ascii);
                before = self.ascii(plain.as_bytes(), before);
                rest = other;
                continue;
            }
            let other = rest[ascii..].bytes().position(|byte| byte.is_ascii());
            let (mixed, after) = rest.split_at(other.map_or(rest.len(), |end| ascii + end));
            let mut bytes = mixed.as_bytes();
            while let Some((code, left)) = first_code(bytes) {
                bytes = left;
                match before {
                    Some(one) if code < UNPAIRED => {
                        self.others.add(u32::from(one), code);
                        before = char::from_u32(code);
                    }
                    _ => before = char::from_u32(code).and_then(|c| self.count(before, c)),
                }
            }
            self.full += mixed.len() as u64;
            rest = after;
        }
        before
    }

    fn ascii(&mut self, bytes: &[u8], before: Option<char>) -> Option<char> {
        let Some(&first) = bytes.first() else { return before };
        self.count(before, char::from(first));
        let [one, other] = &mut self.ascii;
        let at = |pair: &[u8]| usize::from(pair[0]) * ASCII + usize::from(pair[1]);
        let mut pairs = bytes.windows(2);
        while let Some(pair) = pairs.next() {
            one[at(pair)] += 1;
            if let Some(pair) = pairs.next() {
                other[at(pair)] += 1;
            }
        }
        self.full += bytes.len() as u64;
        bytes.last().map(|byte| char::from(*byte))
    }

    /// Counts `c` after `before`; returns what the next one comes after.
    fn count(&mut self, before: Option<char>, c: char) -> Option<char> {
        let code = u32::from(c);
        if code >= UNPAIRED {
            let page = self.wide.entry(code >> 8).or_insert_with(|| Box::new([0; 256]));
            page[(code & 0xFF) as usize] += 1;
            return None;
        }
        match before {
            None => *self.begin.entry(c).or_default() += 1,
            Some(before) if before.is_ascii() && c.is_ascii() => {
                self.ascii[0][before as usize * ASCII + c as usize] += 1;
                self.full += 1;
            }
            Some(before) => {
                self.others.add(u32::from(before), code);
                self.full += 1;
            }
        }
        Some(c)
    }

    /// Moves what the tables hold to the counts.
    fn empty(&mut self) {
        let Counts { chars, pairs } = &mut self.counts;
        let mut add = |one: char, other: char, times: u64| {
            if one == '\n' && matches!(other, ' ' | '\t') {
                return;
            }
            *chars.entry(other).or_default() += times;
            *pairs.entry((one, other)).or_default() += times;
        };
        for at in 0..ASCII * ASCII {
            let tables = self.ascii.iter_mut();
            let times = tables.map(|table| u64::from(std::mem::take(&mut table[at]))).sum();
            if times > 0 {
                add(char::from((at / ASCII) as u8), char::from((at % ASCII) as u8), times);
            }
        }
        for (one, other, times) in self.others.drain() {
            if let (Some(one), Some(other)) = (char::from_u32(one), char::from_u32(other)) {
                add(one, other, times);
            }
        }
        for (c, times) in std::mem::take(&mut self.begin) {
            *chars.entry(c).or_default() += times;
        }
        for (page, counters) in std::mem::take(&mut self.wide) {
            for (low, times) in counters.iter().enumerate().filter(|(_, times)| **times > 0) {
                if let Some(c) = char::from_u32(page << 8 | low as u32) {
                    *chars.entry(c).or_default() += times;
                }
            }
        }
        self.full = 0;
    }

    /// What was counted.
    pub fn counts(mut self) -> Counts {
        self.empty();
        self.counts
    }
}

/// The code of the first character of text that is UTF-8 (RFC 3629), and what
/// follows it; none at the end.
fn first_code(text: &[u8]) -> Option<(u32, &[u8])> {
    let low = |byte: u8| u32::from(byte & 0x3F);
    match *text {
        [one @ ..0x80, ref rest @ ..] => Some((u32::from(one), rest)),
        [one @ ..0xE0, two, ref rest @ ..] => Some((u32::from(one & 0x1F) << 6 | low(two), rest)),
        [one @ ..0xF0, two, three, ref rest @ ..] => {
            Some((u32::from(one & 0x0F) << 12 | low(two) << 6 | low(three), rest))
        }
        [one, two, three, four, ref rest @ ..] => {
            let code = u32::from(one & 0x07) << 18 | low(two) << 12 | low(three) << 6 | low(four);
            Some((code, rest))
        }
        _ => None,
    }
}

/// An empty table, made where it stays: it is too large for the stack.
fn table() -> Box<Table> {
    let counters = vec![0; 1 << 16].into_boxed_slice();
    counters.try_into().unwrap_or_else(|_| unreachable!("as many counters as a table has"))
}

/// The row of a line's end.
const START: u16 = (b'\n' as u16) << 7;

/// For each byte the row after which it leaves the row as it is: that of a
/// line's end for blanks, none for all others.
const STAYS: [u16; 256] = {
    let mut stays = [u16::MAX; 256];
    stays[b' ' as usize] = START;
    stays[b'\t' as usize] = START;
    stays
};

/// Counts the bytes of two texts, each after a line's end. Apart from what calls
/// it, so that all that the loop needs stays in registers.
#[inline(never)]
fn side_by_side((one, first): (&mut Table, &[u8]), (other, second): (&mut Table, &[u8])) {
    let (mut before, mut before_other) = (START, START);
    for (a, b) in first.iter().zip(second) {
        before = step(one, before, *a);
        before_other = step(other, before_other, *b);
    }
    let done = first.len().min(second.len());
    for a in &first[done..] {
        before = step(one, before, *a);
    }
    for b in &second[done..] {
        before_other = step(other, before_other, *b);
    }
}

/// Counts `byte`, ASCII, in the row `before`; returns its own row, or that of
/// the line's end after which it is a blank.
fn step(table: &mut Table, before: u16, byte: u8) -> u16 {
    table[usize::from(before | u16::from(byte))] += 1;
    select_unpredictable(before == STAYS[usize::from(byte)], before, u16::from(byte) << 7)
}

/// How many bytes from the start are whole lines of ASCII without CR, none longer
/// than [`LONGEST`], about [`BLOCK`] of them; none where the first line or the
/// last one is another.
fn whole_lines(bytes: &[u8]) -> Option<usize> {
    let mut end = 0;
    while end < BLOCK {
        let ahead = &bytes[end..bytes.len().min(end + LONGEST + 1)];
        let Some(last) = memchr::memrchr(b'\n', ahead) else { break };
        end += last + 1;
    }
    let lines = &bytes[..end];
    if !lines.is_ascii() || memchr::memchr(b'\r', lines).is_some() {
        // Those well before the first that is another can still go together.
        let plain = |some: &&[u8]| some.is_ascii() && memchr::memchr(b'\r', some).is_none();
        let plain = lines.chunks(NEAR).take_while(plain).count() * NEAR;
        end = memchr::memrchr(b'\n', &lines[..plain])? + 1;
    }
    (end > 0).then_some(end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What `Counts::of` would count of the same text, by the rules above.
    fn by_hand(text: &str) -> Counts {
        let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
        let text = text.replace("\r\n", "\n").replace('\r', "\n");
        let lines: Vec<&str> =
            text.split('\n').map(|l| l.trim_start_matches([' ', '\t'])).collect();
        let mut counts = Counts::of(&lines.join("\n"));
        counts.pairs.retain(|(one, other), _| *one < '\u{3000}' && *other < '\u{3000}');
        counts
    }

    #[test]
    fn lines_marks_and_blanks_count_as_said() {
        let mut scanner = Scanner::default();
        let text = "\u{FEFF}fn tide() {\r\n    level\r\t}\n";
        assert_eq!(scanner.scan(text.as_bytes()), Scanned::Text { long_lines: 0 });
        assert_eq!(scanner.counts(), Counts::of("fn tide() {\nlevel\n}\n"));
    }

    #[test]
    fn what_was_not_typed_is_left_out() {
        let mut scanner = Scanner::default();
        assert_eq!(scanner.scan(b"tide\0"), Scanned::Binary);
        assert_eq!(scanner.scan(b"tide \xFF"), Scanned::NotUtf8 { at: 5 });
        let long = format!("a\n{}\nb", "x".repeat(LONGEST + 1));
        assert_eq!(scanner.scan(long.as_bytes()), Scanned::Text { long_lines: 1 });
        let counts = scanner.counts();
        assert_eq!(counts.chars, BTreeMap::from([('a', 1), ('\n', 1), ('b', 1)]));
        assert_eq!(counts.pairs, BTreeMap::from([(('a', '\n'), 1)]));
    }

    proptest! {
        #[test]
        fn the_tables_count_what_one_by_one_counts(
            texts in prop::collection::vec("[a-c{} \t\r\nß🌊潮\u{301}é]{0,60}|[a-c{} \t\n]{0,500}ß?[a-c \n]{0,90}", 0..5),
            order in any::<bool>(),
        ) {
            let mut scanner = Scanner::default();
            let mut counts = Counts::default();
            let mut turn: Vec<&String> = texts.iter().collect();
            if order {
                turn.reverse();
            }
            for text in turn {
                scanner.scan(text.as_bytes());
            }
            for text in &texts {
                counts.add(&by_hand(text));
            }
            prop_assert_eq!(scanner.counts(), counts);
        }

        #[test]
        fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            let mut scanner = Scanner::default();
            let told = scanner.scan(&bytes);
            let refused = !matches!(told, Scanned::Text { .. });
            prop_assert_eq!(refused, bytes.contains(&0) || std::str::from_utf8(&bytes).is_err());
            if refused {
                prop_assert_eq!(scanner.counts(), Counts::default());
            }
        }
    }
}
