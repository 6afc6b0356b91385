//! Text as lines of graphemes.

use super::word;
use std::fmt;
use std::sync::Arc;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// Columns of one indent, and the distance of tab stops.
pub const INDENT_COLUMNS: usize = 4;

/// A place between two graphemes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Place {
    /// The line, from 0.
    pub line: usize,
    /// Graphemes of the line before it, 0 to the line's length.
    pub column: usize,
}

impl Place {
    /// The place before grapheme `column` of `line`, both from 0.
    pub const fn new(line: usize, column: usize) -> Self {
        Self { line, column }
    }
}

/// The text from one place to another, never backwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Span {
    /// Where it begins.
    pub start: Place,
    /// Where it ends; not before `start`.
    pub end: Place,
}

impl Span {
    /// The text between two places, in whichever order they come.
    pub fn between(one: Place, other: Place) -> Self {
        Self { start: one.min(other), end: one.max(other) }
    }

    /// True where nothing lies in it.
    pub fn is_empty(&self) -> bool {
        self.start == self.end
    }

    /// True where `other` lies within it.
    pub fn holds(&self, other: &Self) -> bool {
        self.start <= other.start && other.end <= self.end
    }
}

/// One line without its end, cut into graphemes.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Line {
    text: String,
    /// The byte where each grapheme begins, and the line's length.
    bytes: Vec<u32>,
    /// The display column where each grapheme begins, and the line's width.
    columns: Vec<u32>,
    /// Grapheme columns where words begin, and where they end.
    word_starts: Vec<u32>,
    word_ends: Vec<u32>,
}

impl Line {
    fn new(text: String) -> Self {
        let mut line = Self {
            bytes: Vec::with_capacity(text.len() + 1),
            columns: Vec::with_capacity(text.len() + 1),
            word_starts: Vec::with_capacity(text.len() / 4),
            word_ends: Vec::with_capacity(text.len() / 4),
            text: String::new(),
        };
        // Of printable ASCII each character is a grapheme one column wide.
        if text.bytes().all(|byte| matches!(byte, b' '..=b'~')) {
            line.bytes.extend(0..=text.len() as u32);
            line.columns.extend(0..=text.len() as u32);
        } else {
            line.cut(&text);
        }
        for (start, end) in word::edges(&text) {
            line.word_starts.push(line.column_of_byte(start) as u32);
            line.word_ends.push(line.column_of_byte(end) as u32);
        }
        line.text = text;
        line
    }

    /// Cuts `text` into graphemes.
    fn cut(&mut self, text: &str) {
        let mut column = 0;
        self.bytes.push(0);
        self.columns.push(0);
        for (start, grapheme) in text.grapheme_indices(true) {
            column += if grapheme == "\t" {
                INDENT_COLUMNS - column % INDENT_COLUMNS
            } else {
                // A lone mark still takes a column, so that the cursor shows.
                grapheme.width().max(1)
            };
            self.bytes.push((start + grapheme.len()) as u32);
            self.columns.push(column as u32);
        }
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// How many graphemes it has.
    pub fn len(&self) -> usize {
        self.bytes.len() - 1
    }

    /// True where it has none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// True where it holds blanks at most.
    pub fn is_blank(&self) -> bool {
        self.text.trim().is_empty()
    }

    /// The display column of the place before grapheme `column`, from 0; that
    /// of the line's end for columns beyond it. A tab goes to the next stop.
    pub fn display_column(&self, column: usize) -> usize {
        self.columns[column.min(self.len())] as usize
    }

    /// The display column of each place.
    pub(super) fn display_columns(&self) -> &[u32] {
        &self.columns
    }

    /// The last place at or before the display column `display`.
    pub fn column_at(&self, display: usize) -> usize {
        let last = self.len();
        if self.columns[last] as usize <= display {
            return last;
        }
        // Most lines have one column a grapheme.
        if self.columns[display.min(last)] as usize == display {
            return display;
        }
        self.columns.partition_point(|&column| column as usize <= display) - 1
    }

    /// The graphemes in order.
    pub fn graphemes(&self) -> impl Iterator<Item = &str> {
        self.bytes.windows(2).map(|pair| &self.text[pair[0] as usize..pair[1] as usize])
    }

    /// The grapheme at `column`, if the line goes so far.
    pub fn grapheme(&self, column: usize) -> Option<&str> {
        let (start, end) = (self.bytes.get(column)?, self.bytes.get(column + 1)?);
        self.text.get(*start as usize..*end as usize)
    }

    /// The byte where grapheme `column` begins.
    fn byte(&self, column: usize) -> usize {
        self.bytes[column.min(self.len())] as usize
    }

    /// The first place at or after `byte`.
    fn column_of_byte(&self, byte: usize) -> usize {
        self.bytes.partition_point(|&start| (start as usize) < byte)
    }

    /// The place at `byte`, if a grapheme begins or the line ends there.
    pub(super) fn column_of(&self, byte: usize) -> Option<usize> {
        self.bytes.binary_search(&(byte as u32)).ok()
    }

    /// The grapheme columns where words begin and where they end, ascending.
    /// A word is what UAX #29 parts from its neighbours and holds a letter, a
    /// number or an underscore.
    pub fn word_edges(&self) -> (&[u32], &[u32]) {
        (&self.word_starts, &self.word_ends)
    }
}

/// A text: at least one line. Cloning is cheap; unchanged lines are shared.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Buffer {
    lines: Vec<Arc<Line>>,
}

impl Default for Buffer {
    fn default() -> Self {
        Self::new("")
    }
}

impl fmt::Display for Buffer {
    /// The whole text, lines joined by line feeds.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, line) in self.lines.iter().enumerate() {
            if n > 0 {
                f.write_str("\n")?;
            }
            f.write_str(line.text())?;
        }
        Ok(())
    }
}

impl Buffer {
    /// The text `text`; line feeds part its lines, and a line feed at the end
    /// is followed by an empty line.
    pub fn new(text: &str) -> Self {
        Self { lines: text.split('\n').map(|line| Arc::new(Line::new(line.to_owned()))).collect() }
    }

    /// The lines, at least one.
    pub fn lines(&self) -> &[Arc<Line>] {
        &self.lines
    }

    /// Line `line`, the last one for numbers beyond it.
    pub fn line(&self, line: usize) -> &Line {
        &self.lines[line.min(self.lines.len() - 1)]
    }

    /// The place before everything.
    pub const fn start(&self) -> Place {
        Place::new(0, 0)
    }

    /// The place after everything.
    pub fn end(&self) -> Place {
        let line = self.lines.len() - 1;
        Place::new(line, self.lines[line].len())
    }

    /// `place`, or the nearest place that the text has.
    pub fn nearest(&self, place: Place) -> Place {
        let line = place.line.min(self.lines.len() - 1);
        Place::new(line, place.column.min(self.lines[line].len()))
    }

    /// The display column of `place`, from 0.
    pub fn display_column(&self, place: Place) -> usize {
        self.line(place.line).display_column(place.column)
    }

    /// How many graphemes lie before `place`, each line end counted as one.
    pub fn offset(&self, place: Place) -> usize {
        let before: usize = self.lines[..place.line].iter().map(|line| line.len() + 1).sum();
        before + place.column
    }

    /// The place that has `offset` graphemes before it; the end for more.
    pub fn place(&self, mut offset: usize) -> Place {
        for (n, line) in self.lines.iter().enumerate() {
            if offset <= line.len() {
                return Place::new(n, offset);
            }
            offset -= line.len() + 1;
        }
        self.end()
    }

    /// The text of `span`.
    pub fn text(&self, span: Span) -> String {
        let (start, end) = (span.start, span.end);
        let first = self.line(start.line);
        if start.line == end.line {
            return first.text[first.byte(start.column)..first.byte(end.column)].to_owned();
        }
        let mut text = first.text[first.byte(start.column)..].to_owned();
        for line in &self.lines[start.line + 1..end.line] {
            text.push('\n');
            text.push_str(&line.text);
        }
        text.push('\n');
        let last = self.line(end.line);
        text.push_str(&last.text[..last.byte(end.column)]);
        text
    }

    /// Puts `text` in the stead of `span` and returns the place after it. Where
    /// the joint makes one grapheme of two, that is the place after both.
    pub fn replace(&mut self, span: Span, text: &str) -> Place {
        let first = self.line(span.start.line);
        let last = self.line(span.end.line);
        let (start, end) = (span.start.line, span.end.line);
        // Where whole lines go, the one that stays is not cut up anew.
        if text.is_empty() && (span.start.column, span.end.column) == (0, 0) {
            self.lines.drain(start..end);
            return span.start;
        }
        if text.is_empty() && (span.start.column, span.end.column) == (first.len(), last.len()) {
            self.lines.drain(start + 1..=end);
            return span.start;
        }
        let mut joined = first.text[..first.byte(span.start.column)].to_owned();
        joined.push_str(text);
        let after = joined.rfind('\n').map_or(joined.len(), |at| joined.len() - at - 1);
        joined.push_str(&last.text[last.byte(span.end.column)..]);
        let new: Vec<Arc<Line>> =
            joined.split('\n').map(|line| Arc::new(Line::new(line.to_owned()))).collect();
        let line = span.start.line + text.matches('\n').count();
        self.lines.splice(span.start.line..=span.end.line, new);
        Place::new(line, self.lines[line].column_of_byte(after))
    }

    /// Moves the lines `from` to `to` (both included) by one line up or down.
    /// False where there is no line to change places with.
    pub(super) fn shift_lines(&mut self, from: usize, to: usize, down: bool) -> bool {
        if down && to + 1 < self.lines.len() {
            self.lines[from..=to + 1].rotate_right(1);
        } else if !down && from > 0 {
            self.lines[from - 1..=to].rotate_left(1);
        } else {
            return false;
        }
        true
    }

    /// The widest line's width, columns.
    pub fn width(&self) -> usize {
        self.lines.iter().map(|line| line.display_column(line.len())).max().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_follow_width_and_tab_stops() {
        let line = Line::new("a\t潮e\u{301}b".to_owned());
        let columns: Vec<usize> = (0..=line.len()).map(|n| line.display_column(n)).collect();
        assert_eq!(columns, [0, 1, 4, 6, 7, 8]);
        assert_eq!(line.column_at(3), 1);
        assert_eq!(line.column_at(5), 2);
        assert_eq!(line.column_at(6), 3);
        assert_eq!(line.column_at(99), 5);
    }

    #[test]
    fn replacing_joins_and_parts_lines() {
        let mut buffer = Buffer::new("high water\nlow water\nslack");
        let span = Span::between(Place::new(1, 3), Place::new(0, 4));
        assert_eq!(buffer.text(span), " water\nlow");
        assert_eq!(buffer.replace(span, ""), Place::new(0, 4));
        assert_eq!(buffer.to_string(), "high water\nslack");
        let at = Place::new(0, 4);
        assert_eq!(buffer.replace(Span::between(at, at), ":\n1.9 m"), Place::new(1, 5));
        assert_eq!(buffer.to_string(), "high:\n1.9 m water\nslack");
        let all = buffer.clone();
        let lines = Span { start: Place::new(0, 0), end: Place::new(2, 0) };
        assert_eq!(buffer.replace(lines, ""), Place::new(0, 0));
        assert_eq!(buffer, Buffer::new("slack"));
        buffer = all;
        let ends = Span { start: Place::new(0, 5), end: buffer.end() };
        assert_eq!(buffer.replace(ends, ""), Place::new(0, 5));
        assert_eq!(buffer, Buffer::new("high:"));
    }

    #[test]
    fn a_joint_may_make_one_grapheme_of_two() {
        let mut buffer = Buffer::new("ex\u{301}");
        let after = buffer.replace(Span::between(Place::new(0, 1), Place::new(0, 2)), "");
        assert_eq!((buffer.to_string().as_str(), after), ("e", Place::new(0, 1)));
        let mut buffer = Buffer::new("e\n\u{301}z");
        let after = buffer.replace(Span::between(Place::new(0, 1), Place::new(1, 0)), "");
        assert_eq!(buffer.line(0).len(), 2);
        assert_eq!(after, Place::new(0, 1));
    }

    #[test]
    fn offsets_count_line_ends() {
        let buffer = Buffer::new("ab\n\nc");
        for offset in 0..=5 {
            assert_eq!(buffer.offset(buffer.place(offset)), offset);
        }
        assert_eq!(buffer.place(99), buffer.end());
    }
}
