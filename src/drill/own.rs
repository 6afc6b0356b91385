//! Drills of the person's own text. Nothing of the text is kept: see
//! [`Source::Own`].

use super::generate::{LEAST_WIDTH, counted, prompts};
use super::reach::{LeftOut, Reach};
use super::what::Focus;
use super::wrap::wrapped;
use super::{Drill, DrillError, Flow, Source, What};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Cluster, Layout, RouteTable};
use std::collections::BTreeMap;
use unicode_normalization::UnicodeNormalization;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// How much of a text is read, bytes; the rest is counted and left.
pub const TEXT_LIMIT: usize = 1 << 20;
/// The widest line, columns: a prompt holds at most 200 items.
const MOST_WIDTH: usize = 160;

/// Lines shorter than this are passed over where longer ones are rich too.
const LEAST_RICH: usize = 12;

/// What was taken out of a text, and why.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Dropped {
    /// Control characters (C0, DEL, C1) other than tab and line ends.
    pub controls: usize,
    /// Invisible characters: bidirectional controls, joiners, soft hyphens,
    /// byte-order marks inside the text, tags, noncharacters.
    pub invisible: usize,
    /// Bytes beyond [`TEXT_LIMIT`].
    pub bytes_beyond_limit: usize,
}

/// A text of the person's own, in lines fit for drills.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnText {
    /// No control characters but tabs; none empty.
    lines: Vec<String>,
    dropped: Dropped,
    width: usize,
}

/// What is wanted of a drill of one's own text.
#[derive(Debug, Clone, Copy)]
pub struct OwnRequest<'a> {
    /// The layout to practise.
    pub layout: &'a Layout,
    /// Its routes.
    pub routes: &'a RouteTable,
    /// Use only lines that are rich in this; all lines where none.
    pub what: Option<What>,
    /// Which drill, from 0; after the last one the first comes again.
    pub ordinal: u32,
    /// About how many strokes.
    pub strokes: usize,
}

impl OwnText {
    /// The text in `bytes`, in lines of at most `width` columns.
    ///
    /// A byte-order mark at the start goes; CR LF, CR and LF end lines (as do
    /// form feed, line tabulation, NEL and U+2028/2029). Other control
    /// characters and invisible ones are dropped and counted, so that they
    /// never reach the terminal. Text is normalised to NFC, since that is what
    /// keyboards send. Lines are wrapped at blanks, longer words where the
    /// line is full; leading tabs stay (as the key Tab), leading spaces and
    /// blanks at the end go; empty lines are skipped. U+00A0 becomes a space.
    ///
    /// # Errors
    /// [`DrillError::NotUtf8`] with line and byte offset,
    /// [`DrillError::EmptyText`], [`DrillError::TooNarrow`].
    pub fn parse(bytes: &[u8], width: usize) -> Result<Self, DrillError> {
        if width < LEAST_WIDTH {
            return Err(DrillError::TooNarrow { width, least: LEAST_WIDTH });
        }
        let width = width.min(MOST_WIDTH);
        let mut dropped = Dropped::default();
        let text = limited(bytes, &mut dropped)?;
        let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
        let mut lines = Vec::new();
        let mut line = String::new();
        for c in text.nfc() {
            match c {
                '\n' | '\r' | '\u{0B}' | '\u{0C}' | '\u{85}' | '\u{2028}' | '\u{2029}' => {
                    push_line(&std::mem::take(&mut line), width, &mut lines);
                }
                '\t' => line.push('\t'),
                '\u{A0}' | '\u{202F}' => line.push(' '),
                _ if c.is_control() => dropped.controls += 1,
                _ if is_invisible(c) => dropped.invisible += 1,
                _ => line.push(c),
            }
        }
        push_line(&line, width, &mut lines);
        if lines.is_empty() {
            return Err(DrillError::EmptyText);
        }
        Ok(Self { lines, dropped, width })
    }

    /// What was taken out.
    pub const fn dropped(&self) -> Dropped {
        self.dropped
    }

    /// The lines, wrapped; tabs stand in them as tabs.
    pub fn lines(&self) -> &[String] {
        &self.lines
    }

    /// How often each character occurs: what may be kept of a text.
    pub fn counts(&self) -> BTreeMap<char, usize> {
        let mut counts = BTreeMap::new();
        for c in self.lines.iter().flat_map(|line| line.chars()) {
            *counts.entry(c).or_default() += 1;
        }
        counts
    }

    /// The drill number `ordinal` of this text. Lines come in the order of the
    /// text; Enter ends each where the layout can give it; flow is
    /// [`Flow::Repair`]. With `what`, only lines at least as rich in it as the
    /// mean of those that touch it.
    ///
    /// # Errors
    /// [`DrillError::TextLacks`] where no line can be used,
    /// [`DrillError::NotText`], [`DrillError::NothingToDrill`].
    pub fn drill(&self, request: &OwnRequest) -> Result<Drill, DrillError> {
        let reach = Reach::new(request.routes);
        let focus =
            request.what.map(|what| Focus::new(what, request.layout, &reach)).transpose()?;
        let lacks = || DrillError::TextLacks {
            name: focus.as_ref().map_or_else(|| request.layout.name.clone(), |f| f.name.clone()),
        };
        let lines: Vec<usize> = match &focus {
            Some(focus) => self.rich_lines(focus, &reach),
            None => (0..self.lines.len()).collect(),
        };
        // Cut into drills by the length of the text itself, not by what the
        // layout can type of it: every layout gets the same lines.
        let strokes = request.strokes.clamp(20, 2000);
        let mut drills: Vec<(usize, usize)> = Vec::new();
        let (mut start, mut used) = (0, 0);
        for (at, &line) in lines.iter().enumerate() {
            let length = self.lines[line].chars().count() + 1;
            if used > 0 && used + length / 2 > strokes {
                drills.push((start, at));
                (start, used) = (at, 0);
            }
            used += length;
        }
        if start < lines.len() {
            drills.push((start, lines.len()));
        }
        let count = drills.len();
        if count == 0 {
            return Err(lacks());
        }
        // A drill of which the layout can type nothing is passed over.
        for turn in 0..count {
            let (from, to) = drills[(request.ordinal as usize % count + turn) % count];
            let mut left_out = LeftOut::new();
            let chosen = lines[from..to].iter().map(|&line| self.lines[line].as_str());
            let typed = self.typed(chosen, &reach, &mut left_out);
            if typed.is_empty() {
                continue;
            }
            return Ok(Drill {
                title: match &focus {
                    Some(focus) => format!("own text: lines rich in {}", focus.name),
                    None => "own text".to_owned(),
                },
                cluster: focus.as_ref().map_or(Cluster::Base, |focus| focus.cluster),
                layers: focus.as_ref().map_or_else(Vec::new, |focus| focus.layers.clone()),
                flow: Flow::Repair,
                source: Source::Own,
                prompts: prompts(typed),
                left_out: counted(left_out),
            });
        }
        Err(lacks())
    }

    fn typed<'l>(
        &self,
        lines: impl Iterator<Item = &'l str>,
        reach: &Reach,
        left_out: &mut LeftOut,
    ) -> Vec<Vec<Output>> {
        let enter = reach.can_key(NamedKey::Enter).then_some(Output::Key(NamedKey::Enter));
        let room = self.width - if enter.is_some() { 2 } else { 0 };
        let mut typed = Vec::new();
        for line in lines {
            let tokens = reach.tokens(line);
            for (name, count) in tokens.lost {
                *left_out.entry(name).or_default() += count;
            }
            for mut items in wrapped(&tokens.items, room) {
                items.extend(enter.clone());
                typed.push(items);
            }
        }
        typed
    }

    fn rich_lines(&self, focus: &Focus, reach: &Reach) -> Vec<usize> {
        let held: Vec<(usize, usize, usize)> = self
            .lines
            .iter()
            .enumerate()
            .map(|(at, line)| {
                let items = reach.tokens(line).items;
                let held = items.iter().filter(|item| focus.holds(item)).count();
                (at, held, items.len())
            })
            .filter(|(_, held, _)| *held > 0)
            .collect();
        // A line of one bracket is rich in brackets, but no exercise.
        let long = |(_, _, length): &(usize, usize, usize)| *length >= LEAST_RICH;
        let held: Vec<(usize, usize, usize)> =
            if held.iter().any(long) { held.into_iter().filter(long).collect() } else { held };
        let all: usize = held.iter().map(|(_, _, length)| length).sum();
        let sum: usize = held.iter().map(|(_, held, _)| held).sum();
        held.into_iter()
            .filter(|(_, held, length)| held * all >= sum * length)
            .map(|(at, _, _)| at)
            .collect()
    }
}

/// The text of `bytes` up to the limit, cut at the end of a line where one is
/// near, never inside a character.
fn limited<'b>(bytes: &'b [u8], dropped: &mut Dropped) -> Result<&'b str, DrillError> {
    let mut end = bytes.len();
    if end > TEXT_LIMIT {
        end = TEXT_LIMIT;
        let tail = &bytes[end - 4096..end];
        if let Some(at) = tail.iter().rposition(|byte| *byte == b'\n') {
            end = end - 4096 + at + 1;
        } else {
            while end > 0 && bytes[end] & 0xC0 == 0x80 {
                end -= 1;
            }
        }
        dropped.bytes_beyond_limit = bytes.len() - end;
    }
    std::str::from_utf8(&bytes[..end]).map_err(|error| {
        let offset = error.valid_up_to();
        let line = bytes[..offset].split(|byte| *byte == b'\n').count();
        DrillError::NotUtf8 { line, offset }
    })
}

/// True for characters that have no form of their own but change how others
/// are shown or hide in them: Unicode's format characters (general category
/// Cf without those of that category that are seen, such as Arabic number
/// signs), fillers, variation selectors, noncharacters, and private use (which
/// no font is bound to show). The ranges are from memory.
fn is_invisible(c: char) -> bool {
    matches!(c,
        '\u{AD}' | '\u{34F}' | '\u{61C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}'
        | '\u{180B}'..='\u{180F}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}'
        | '\u{2060}'..='\u{206F}' | '\u{3164}' | '\u{E000}'..='\u{F8FF}'
        | '\u{FDD0}'..='\u{FDEF}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}'
        | '\u{FFF0}'..='\u{FFFB}' | '\u{FFFE}' | '\u{FFFF}' | '\u{1BCA0}'..='\u{1BCA3}'
        | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{10FFFF}'
    ) || u32::from(c) & 0xFFFE == 0xFFFE
}

/// `line` wrapped to `width` columns into `lines`.
fn push_line(line: &str, width: usize, lines: &mut Vec<String>) {
    let line = line.trim_end().trim_start_matches(|c: char| c.is_whitespace() && c != '\t');
    if line.trim().is_empty() {
        return;
    }
    let mut row = String::new();
    let mut used = 0;
    for word in line.split_inclusive([' ', '\t']) {
        let columns = columns(word.trim_end_matches(' '));
        if used > 0 && used + columns > width {
            finish_row(&mut row, lines);
            used = 0;
        }
        for grapheme in word.graphemes(true) {
            let columns = self::columns(grapheme);
            if used + columns > width {
                if grapheme == " " {
                    continue;
                }
                finish_row(&mut row, lines);
                used = 0;
            }
            row.push_str(grapheme);
            used += columns;
        }
    }
    finish_row(&mut row, lines);
}

fn finish_row(row: &mut String, lines: &mut Vec<String>) {
    let text = row.trim_end();
    if !text.is_empty() {
        lines.push(text.to_owned());
    }
    row.clear();
}

/// A tab is shown by a sign of at most two columns.
fn columns(text: &str) -> usize {
    let tabs = text.matches('\t').count();
    if tabs == 0 { text.width() } else { text.replace('\t', "").width() + 2 * tabs }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<String> {
        OwnText::parse(text.as_bytes(), 20).unwrap().lines
    }

    #[test]
    fn line_ends_of_every_kind_end_lines() {
        assert_eq!(
            lines("\u{FEFF}a\r\nb\rc\n\n\nd\u{85}e\u{2028}f"),
            ["a", "b", "c", "d", "e", "f"]
        );
    }

    #[test]
    fn lines_are_wrapped_and_trimmed() {
        assert_eq!(
            lines("  the lamp was lit at dusk as ever  "),
            ["the lamp was lit at", "dusk as ever"]
        );
        assert_eq!(lines("\t\tindented"), ["\t\tindented"]);
        assert_eq!(lines(&"x".repeat(45)), ["x".repeat(20), "x".repeat(20), "x".repeat(5)]);
        assert_eq!(lines("潮位表潮位表潮位表潮位表"), ["潮位表潮位表潮位表潮", "位表"]);
    }

    #[test]
    fn what_is_invisible_is_dropped_and_counted() {
        let text = "a\u{1b}[31mb\u{9b}c\u{202e}d\u{200b}e\0f\u{7f}\u{fffe}";
        let own = OwnText::parse(text.as_bytes(), 20).unwrap();
        assert_eq!(own.lines(), ["a[31mbcdef"]);
        assert_eq!(own.dropped(), Dropped { controls: 4, invisible: 3, bytes_beyond_limit: 0 });
    }

    #[test]
    fn text_is_normalised() {
        assert_eq!(lines("cafe\u{301}"), ["caf\u{e9}"]);
    }

    #[test]
    fn bad_utf8_is_named_by_line_and_byte() {
        let error = OwnText::parse(b"one\ntwo\xff", 20).unwrap_err();
        assert_eq!(error, DrillError::NotUtf8 { line: 2, offset: 7 });
        assert!(error.to_string().contains("line 2, byte 7"), "{error}");
        assert_eq!(OwnText::parse(b" \n\t\n", 20), Err(DrillError::EmptyText));
        assert_eq!(OwnText::parse(b"", 20), Err(DrillError::EmptyText));
        assert!(matches!(OwnText::parse(b"a", 3), Err(DrillError::TooNarrow { .. })));
    }

    #[test]
    fn a_huge_text_is_cut_at_a_line_and_the_rest_counted() {
        let line = "the tide comes in as it went out\n";
        let text = line.repeat(TEXT_LIMIT / line.len() + 500);
        let own = OwnText::parse(text.as_bytes(), 72).unwrap();
        let beyond = own.dropped().bytes_beyond_limit;
        assert!(beyond > 0 && beyond.is_multiple_of(line.len()), "{beyond}");
        assert_eq!(own.lines().len() * line.len() + beyond, text.len());
        // Without a line end near, no character is cut in two.
        let wide = "é".repeat(TEXT_LIMIT);
        assert!(OwnText::parse(&wide.as_bytes()[1..], 72).is_err());
        let own = OwnText::parse(format!("x{wide}").as_bytes(), 72).unwrap();
        assert_eq!(own.dropped().bytes_beyond_limit, TEXT_LIMIT + 2);
    }
}
