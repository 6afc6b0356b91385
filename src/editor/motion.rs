//! Where the cursor can go.

use super::{Buffer, Place, Span};

/// A way to move the cursor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Motion {
    /// One grapheme back; from a line's start to the end of the line before.
    Left,
    /// One grapheme on; from a line's end to the start of the next line.
    Right,
    /// To the nearest start of a word before the cursor. Where the line has
    /// none, to the line's start; from there, to the last start of a word of
    /// the line before, or its start.
    WordLeft,
    /// To the next word, by [`Habits::word`]: its start, or its end. Where the
    /// line has none, to the line's end; from there, to the first of the next
    /// line, or its end.
    WordRight,
    /// Home: the place before the line's first character, blank or not.
    LineStart,
    /// End: the place after the line's last character, blank or not.
    LineEnd,
    /// One line up, to the remembered display column or the nearest place
    /// before it. On the first line the cursor stays.
    Up,
    /// One line down, likewise. On the last line the cursor stays.
    Down,
    /// To the first line of the paragraph; from there, to that of the
    /// paragraph before, or to the document's start. A paragraph is a run of
    /// lines that are not blank.
    ParagraphUp,
    /// To the first line of the next paragraph, or to the document's end.
    ParagraphDown,
    /// A page up: [`Habits::page`] lines, at most to the first, by the
    /// remembered column.
    PageUp,
    /// A page down, likewise.
    PageDown,
    /// Before everything.
    DocumentStart,
    /// After everything.
    DocumentEnd,
}

impl Motion {
    /// Every motion with the word that files use for it.
    pub const WORDS: [(Self, &'static str); 14] = [
        (Self::Left, "left"),
        (Self::Right, "right"),
        (Self::WordLeft, "word-left"),
        (Self::WordRight, "word-right"),
        (Self::LineStart, "line-start"),
        (Self::LineEnd, "line-end"),
        (Self::Up, "up"),
        (Self::Down, "down"),
        (Self::ParagraphUp, "paragraph-up"),
        (Self::ParagraphDown, "paragraph-down"),
        (Self::PageUp, "page-up"),
        (Self::PageDown, "page-down"),
        (Self::DocumentStart, "document-start"),
        (Self::DocumentEnd, "document-end"),
    ];

    /// True where it keeps the remembered column.
    pub const fn keeps_column(self) -> bool {
        matches!(self, Self::Up | Self::Down | Self::PageUp | Self::PageDown)
    }

    /// What it does, for people: `one word to the left`.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Left => "one character to the left",
            Self::Right => "one character to the right",
            Self::WordLeft => "one word to the left",
            Self::WordRight => "one word to the right",
            Self::LineStart => "to the start of the line",
            Self::LineEnd => "to the end of the line",
            Self::Up => "one line up",
            Self::Down => "one line down",
            Self::ParagraphUp => "to the paragraph above",
            Self::ParagraphDown => "to the paragraph below",
            Self::PageUp => "one page up",
            Self::PageDown => "one page down",
            Self::DocumentStart => "to the start of the text",
            Self::DocumentEnd => "to the end of the text",
        }
    }
}

/// Where a step to the right by a word ends. Steps to the left end at a
/// word's start either way. Both are found among the platforms in use (common
/// practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum WordStep {
    /// At the start of the next word.
    #[default]
    NextStart,
    /// At the end of the word.
    WordEnd,
}

impl WordStep {
    /// The word that files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::NextStart => "next-start",
            Self::WordEnd => "word-end",
        }
    }

    /// The habit that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::NextStart, Self::WordEnd].into_iter().find(|habit| habit.word() == word)
    }
}

/// What differs from platform to platform.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Habits {
    /// Where a step to the right by a word ends.
    pub word: WordStep,
    /// Lines of a page, at least 1.
    pub page: usize,
}

impl Default for Habits {
    /// The next word's start, and pages of ten lines.
    fn default() -> Self {
        Self { word: WordStep::default(), page: 10 }
    }
}

/// Where the cursor stands, what column it remembers, what is selected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Cursor {
    /// The place.
    pub at: Place,
    /// The display column that moves up and down keep to.
    pub wanted: usize,
    /// The other end of the selection; never the place itself.
    pub anchor: Option<Place>,
}

impl Cursor {
    /// At `at`, nothing selected.
    pub fn new(buffer: &Buffer, at: Place) -> Self {
        Self { at, wanted: buffer.display_column(at), anchor: None }
    }

    /// What is selected.
    pub fn selection(&self) -> Option<Span> {
        self.anchor.map(|anchor| Span::between(anchor, self.at))
    }

    /// After moving by `motion` without selecting. With a selection, Left and
    /// Right go to its start and its end; every other motion starts from the
    /// cursor.
    #[must_use]
    pub fn moved(&self, buffer: &Buffer, motion: Motion, habits: Habits) -> Self {
        let edge = match (motion, self.selection()) {
            (Motion::Left, Some(span)) => Some(span.start),
            (Motion::Right, Some(span)) => Some(span.end),
            _ => None,
        };
        if let Some(edge) = edge {
            return Self::new(buffer, edge);
        }
        let (at, wanted) = go(buffer, self.at, self.wanted, motion, habits);
        Self { at, wanted, anchor: None }
    }

    /// After moving by `motion` while selecting: the anchor stays, and is set
    /// where the cursor stood if nothing was selected. A selection that
    /// becomes empty is none.
    #[must_use]
    pub fn selecting(&self, buffer: &Buffer, motion: Motion, habits: Habits) -> Self {
        let (at, wanted) = go(buffer, self.at, self.wanted, motion, habits);
        let anchor = self.anchor.unwrap_or(self.at);
        Self { at, wanted, anchor: (anchor != at).then_some(anchor) }
    }
}

/// Where `motion` leads from `at`, and the column that is remembered then.
/// Only moves by lines and pages keep the column; all others set it anew.
pub(super) fn go(
    buffer: &Buffer,
    at: Place,
    wanted: usize,
    motion: Motion,
    habits: Habits,
) -> (Place, usize) {
    let last = buffer.lines().len() - 1;
    let page = habits.page.max(1);
    let to_line = |line: usize| {
        let column = if line == at.line { at.column } else { buffer.line(line).column_at(wanted) };
        (Place::new(line, column), wanted)
    };
    let to = match motion {
        Motion::Up => return to_line(at.line.saturating_sub(1)),
        Motion::Down => return to_line((at.line + 1).min(last)),
        Motion::PageUp => return to_line(at.line.saturating_sub(page)),
        Motion::PageDown => return to_line(at.line.saturating_add(page).min(last)),
        Motion::Left if at.column > 0 => Place::new(at.line, at.column - 1),
        Motion::Left => match at.line.checked_sub(1) {
            Some(line) => Place::new(line, buffer.line(line).len()),
            None => at,
        },
        Motion::Right if at.column < buffer.line(at.line).len() => {
            Place::new(at.line, at.column + 1)
        }
        Motion::Right if at.line < last => Place::new(at.line + 1, 0),
        Motion::Right => at,
        Motion::WordLeft => word_left(buffer, at),
        Motion::WordRight => word_right(buffer, at, habits.word),
        Motion::LineStart => Place::new(at.line, 0),
        Motion::LineEnd => Place::new(at.line, buffer.line(at.line).len()),
        Motion::ParagraphUp => paragraph_up(buffer, at),
        Motion::ParagraphDown => paragraph_down(buffer, at),
        Motion::DocumentStart => buffer.start(),
        Motion::DocumentEnd => buffer.end(),
    };
    (to, buffer.display_column(to))
}

fn word_left(buffer: &Buffer, at: Place) -> Place {
    let last_before = |line: usize, column: usize| {
        let (starts, _) = buffer.line(line).word_edges();
        let before = starts.partition_point(|&start| (start as usize) < column);
        before.checked_sub(1).map_or(0, |index| starts[index] as usize)
    };
    match (at.column, at.line.checked_sub(1)) {
        (0, None) => at,
        (0, Some(line)) => Place::new(line, last_before(line, usize::MAX)),
        (column, _) => Place::new(at.line, last_before(at.line, column)),
    }
}

fn word_right(buffer: &Buffer, at: Place, habit: WordStep) -> Place {
    let stops = |line: usize| {
        let (starts, ends) = buffer.line(line).word_edges();
        match habit {
            WordStep::NextStart => starts,
            WordStep::WordEnd => ends,
        }
    };
    let length = buffer.line(at.line).len();
    if at.column < length {
        let stops = stops(at.line);
        let next = stops.partition_point(|&stop| stop as usize <= at.column);
        return Place::new(at.line, stops.get(next).map_or(length, |&stop| stop as usize));
    }
    if at.line + 1 == buffer.lines().len() {
        return at;
    }
    let line = at.line + 1;
    let column = stops(line).first().map_or(buffer.line(line).len(), |&stop| stop as usize);
    Place::new(line, column)
}

/// True where a paragraph begins on `line`.
fn begins_paragraph(buffer: &Buffer, line: usize) -> bool {
    !buffer.line(line).is_blank() && (line == 0 || buffer.line(line - 1).is_blank())
}

fn paragraph_up(buffer: &Buffer, at: Place) -> Place {
    // From inside the first line its own start comes first.
    let from = if at.column > 0 { at.line + 1 } else { at.line };
    let line = (0..from).rev().find(|&line| begins_paragraph(buffer, line));
    Place::new(line.unwrap_or(0), 0)
}

fn paragraph_down(buffer: &Buffer, at: Place) -> Place {
    let next = (at.line + 1..buffer.lines().len()).find(|&line| begins_paragraph(buffer, line));
    next.map_or(buffer.end(), |line| Place::new(line, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOG: &str = "06:10 fog, no wind\n\n  light relit\nbell (two) rung\n\nend";

    fn all(start: (usize, usize), motions: &[Motion], habits: Habits) -> Vec<(usize, usize)> {
        let buffer = Buffer::new(LOG);
        let mut cursor = Cursor::new(&buffer, Place::new(start.0, start.1));
        motions
            .iter()
            .map(|motion| {
                cursor = cursor.moved(&buffer, *motion, habits);
                (cursor.at.line, cursor.at.column)
            })
            .collect()
    }

    #[test]
    fn word_steps_pass_over_blanks_and_punctuation() {
        use Motion::{WordLeft, WordRight};
        let starts = Habits::default();
        let ends = Habits { word: WordStep::WordEnd, ..starts };
        assert_eq!(
            all((0, 6), &[WordRight; 6], starts),
            [(0, 11), (0, 14), (0, 18), (1, 0), (2, 2), (2, 8)]
        );
        assert_eq!(
            all((0, 6), &[WordRight; 6], ends),
            [(0, 9), (0, 13), (0, 18), (1, 0), (2, 7), (2, 13)]
        );
        assert_eq!(
            all((3, 7), &[WordLeft; 7], ends),
            [(3, 6), (3, 0), (2, 8), (2, 2), (2, 0), (1, 0), (0, 14)]
        );
    }

    #[test]
    fn up_and_down_remember_the_column() {
        use Motion::{Down, LineEnd, PageDown, PageUp, Up};
        let habits = Habits { page: 2, ..Habits::default() };
        assert_eq!(all((0, 16), &[Down, Down, Down], habits), [(1, 0), (2, 13), (3, 15)]);
        assert_eq!(all((0, 16), &[Down, Up, Up], habits), [(1, 0), (0, 16), (0, 16)]);
        assert_eq!(
            all((0, 16), &[PageDown, PageDown, PageDown, PageDown, PageUp], habits),
            [(2, 13), (4, 0), (5, 3), (5, 3), (3, 15)]
        );
        assert_eq!(all((1, 0), &[LineEnd, Down], habits), [(1, 0), (2, 0)]);
    }

    #[test]
    fn paragraphs_begin_after_blank_lines() {
        use Motion::{ParagraphDown, ParagraphUp};
        let habits = Habits::default();
        assert_eq!(all((0, 5), &[ParagraphDown; 4], habits), [(2, 0), (5, 0), (5, 3), (5, 3)]);
        assert_eq!(all((3, 2), &[ParagraphUp; 3], habits), [(2, 0), (0, 0), (0, 0)]);
        assert_eq!(all((2, 2), &[ParagraphUp; 2], habits), [(2, 0), (0, 0)]);
        assert_eq!(all((4, 0), &[ParagraphUp], habits), [(2, 0)]);
    }

    #[test]
    fn left_and_right_go_to_the_edges_of_a_selection() {
        let buffer = Buffer::new(LOG);
        let habits = Habits::default();
        let cursor =
            Cursor::new(&buffer, Place::new(0, 6)).selecting(&buffer, Motion::WordRight, habits);
        assert_eq!(buffer.text(cursor.selection().unwrap()), "fog, ");
        assert_eq!(cursor.moved(&buffer, Motion::Left, habits).at, Place::new(0, 6));
        assert_eq!(cursor.moved(&buffer, Motion::Right, habits).at, Place::new(0, 11));
        assert_eq!(cursor.moved(&buffer, Motion::LineEnd, habits).at, Place::new(0, 18));
        let back = cursor.selecting(&buffer, Motion::WordLeft, habits);
        assert_eq!(back.anchor, None);
    }
}
