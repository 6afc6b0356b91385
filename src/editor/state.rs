//! A buffer with everything that keys act on.

use super::{Action, Buffer, Cursor, Habits, INDENT_COLUMNS, Motion, Place, Span};

/// What an action came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// Nothing is different.
    Nothing,
    /// The cursor, the selection or the clipboard is different.
    Moved,
    /// The text is different.
    Edited,
}

/// A text being edited.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Editor {
    buffer: Buffer,
    cursor: Cursor,
    clipboard: String,
    habits: Habits,
    past: Vec<(Buffer, Cursor)>,
    future: Vec<(Buffer, Cursor)>,
}

impl Editor {
    /// `buffer` with the cursor at `at` (or the nearest place), nothing
    /// selected, an empty clipboard and nothing to undo.
    pub fn new(buffer: Buffer, at: Place, habits: Habits) -> Self {
        let cursor = Cursor::new(&buffer, buffer.nearest(at));
        Self {
            buffer,
            cursor,
            clipboard: String::new(),
            habits,
            past: Vec::new(),
            future: Vec::new(),
        }
    }

    /// The same with `span` selected and the cursor at its end; nothing for an
    /// empty one.
    #[must_use]
    pub fn with_selection(mut self, span: Span) -> Self {
        let (start, end) = (self.buffer.nearest(span.start), self.buffer.nearest(span.end));
        self.cursor = Cursor::new(&self.buffer, end);
        self.cursor.anchor = (start != end).then_some(start);
        self
    }

    /// Puts the cursor where a search has found that it could stand.
    pub(super) const fn set_cursor(&mut self, cursor: Cursor) {
        self.cursor = cursor;
    }

    /// The text.
    pub const fn buffer(&self) -> &Buffer {
        &self.buffer
    }

    /// The cursor and what is selected.
    pub const fn cursor(&self) -> &Cursor {
        &self.cursor
    }

    /// What was cut or copied last.
    pub fn clipboard(&self) -> &str {
        &self.clipboard
    }

    /// What differs from platform to platform.
    pub const fn habits(&self) -> Habits {
        self.habits
    }

    /// The lines that the cursor or the selection touches, first and last.
    pub fn touched(&self) -> (usize, usize) {
        let Some(span) = self.cursor.selection() else {
            return (self.cursor.at.line, self.cursor.at.line);
        };
        let (first, last) = (span.start.line, span.end.line);
        (first, if span.end.column == 0 && last > first { last - 1 } else { last })
    }

    /// Puts `text` in, in the stead of the selection, as if typed or pasted.
    pub fn insert(&mut self, text: &str) -> Outcome {
        let before = (self.buffer.clone(), self.cursor);
        self.put(text);
        self.settle(before)
    }

    /// Does `action`.
    pub fn apply(&mut self, action: Action) -> Outcome {
        let before = (self.buffer.clone(), self.cursor);
        match action {
            Action::Move(motion) => {
                self.cursor = self.cursor.moved(&self.buffer, motion, self.habits);
            }
            Action::Select(motion) => {
                self.cursor = self.cursor.selecting(&self.buffer, motion, self.habits);
            }
            Action::SelectAll => {
                let start = self.buffer.start();
                self.cursor = Cursor::new(&self.buffer, self.buffer.end());
                self.cursor.anchor = (start != self.cursor.at).then_some(start);
            }
            Action::Delete(motion) => self.delete(motion),
            Action::DeleteLines => self.delete_lines(),
            Action::Cut | Action::Copy => return self.take(action == Action::Cut, before),
            Action::Paste => self.put(&self.clipboard.clone()),
            Action::MoveLinesUp => self.move_lines(false),
            Action::MoveLinesDown => self.move_lines(true),
            Action::DuplicateLines => self.duplicate_lines(),
            Action::Indent => self.indent(),
            Action::Outdent => self.outdent(),
            Action::NewLine => self.put("\n"),
            Action::Undo | Action::Redo => return self.travel(action == Action::Undo),
        }
        self.settle(before)
    }

    /// Tells what came of it, and remembers the state before a change.
    fn settle(&mut self, before: (Buffer, Cursor)) -> Outcome {
        if self.buffer != before.0 {
            self.past.push(before);
            self.future.clear();
            Outcome::Edited
        } else if self.cursor == before.1 {
            Outcome::Nothing
        } else {
            Outcome::Moved
        }
    }

    fn travel(&mut self, back: bool) -> Outcome {
        let (from, to) = if back {
            (&mut self.past, &mut self.future)
        } else {
            (&mut self.future, &mut self.past)
        };
        let Some((buffer, cursor)) = from.pop() else { return Outcome::Nothing };
        let now = (std::mem::replace(&mut self.buffer, buffer), self.cursor);
        // What is taken back was after a change; the state before it is kept
        // with the change, so that both ways lead to the same places.
        to.push(now);
        self.cursor = cursor;
        Outcome::Edited
    }

    fn put(&mut self, text: &str) {
        let at = self.cursor.at;
        let span = self.cursor.selection().unwrap_or(Span { start: at, end: at });
        self.replace(span, text);
    }

    fn replace(&mut self, span: Span, text: &str) {
        if !(span.is_empty() && text.is_empty()) {
            let after = self.buffer.replace(span, text);
            self.cursor = Cursor::new(&self.buffer, after);
        }
    }

    fn take(&mut self, cut: bool, before: (Buffer, Cursor)) -> Outcome {
        let Some(span) = self.cursor.selection() else { return Outcome::Nothing };
        let text = self.buffer.text(span);
        let new = self.clipboard != text;
        self.clipboard = text;
        if cut {
            self.replace(span, "");
        }
        match self.settle(before) {
            Outcome::Nothing if new => Outcome::Moved,
            outcome => outcome,
        }
    }

    fn delete(&mut self, motion: Motion) {
        let cursor = self.cursor;
        let there = || cursor.moved(&self.buffer, motion, self.habits).at;
        let span = cursor.selection().unwrap_or_else(|| Span::between(cursor.at, there()));
        self.replace(span, "");
    }

    fn delete_lines(&mut self) {
        let (first, last) = self.touched();
        let at = self.cursor;
        let lines = self.buffer.lines().len();
        let span = if last + 1 < lines {
            Span { start: Place::new(first, 0), end: Place::new(last + 1, 0) }
        } else if first > 0 {
            let before = Place::new(first - 1, self.buffer.line(first - 1).len());
            Span { start: before, end: self.buffer.end() }
        } else {
            Span { start: self.buffer.start(), end: self.buffer.end() }
        };
        self.replace(span, "");
        let line = first.min(self.buffer.lines().len() - 1);
        let place = Place::new(line, self.buffer.line(line).column_at(at.wanted));
        self.cursor = Cursor { at: place, wanted: at.wanted, anchor: None };
    }

    fn move_lines(&mut self, down: bool) {
        let (first, last) = self.touched();
        if !self.buffer.shift_lines(first, last, down) {
            return;
        }
        let moved = |place: Place| {
            let line = if down { place.line + 1 } else { place.line - 1 };
            // The end of a selection may lie before a line that is not touched;
            // the touched lines may now be the last.
            let end = self.buffer.end();
            if line > end.line { end } else { Place { line, ..place } }
        };
        let at = moved(self.cursor.at);
        self.cursor.at = at;
        self.cursor.anchor = self.cursor.anchor.map(moved).filter(|anchor| *anchor != at);
    }

    fn duplicate_lines(&mut self) {
        let (first, last) = self.touched();
        let (start, end) = (Place::new(first, 0), Place::new(last, self.buffer.line(last).len()));
        let mut copy = self.buffer.text(Span { start, end });
        copy.push('\n');
        self.buffer.replace(Span { start, end: start }, &copy);
        let down = last - first + 1;
        let moved = |place: Place| Place { line: place.line + down, ..place };
        self.cursor.at = self.buffer.nearest(moved(self.cursor.at));
        self.cursor.anchor = self.cursor.anchor.map(|anchor| self.buffer.nearest(moved(anchor)));
    }

    fn indent(&mut self) {
        if self.cursor.anchor.is_none() {
            let column = self.buffer.display_column(self.cursor.at);
            self.put(&" ".repeat(INDENT_COLUMNS - column % INDENT_COLUMNS));
            return;
        }
        let (first, last) = self.touched();
        for line in first..=last {
            if !self.buffer.line(line).is_empty() {
                let start = Place::new(line, 0);
                self.edit_line_start(Span { start, end: start }, &" ".repeat(INDENT_COLUMNS));
            }
        }
    }

    fn outdent(&mut self) {
        let (first, last) = self.touched();
        for line in first..=last {
            let text = self.buffer.line(line).text();
            let blanks = if text.starts_with('\t') {
                1
            } else {
                text.bytes().take(INDENT_COLUMNS).take_while(|byte| *byte == b' ').count()
            };
            let start = Place::new(line, 0);
            let end = self.buffer.nearest(Place::new(line, blanks));
            self.edit_line_start(Span { start, end }, "");
        }
    }

    /// Replaces `span` at the start of a line and keeps cursor and anchor at
    /// the characters that they stood at. A selection that began with its line
    /// still does.
    fn edit_line_start(&mut self, span: Span, text: &str) {
        let length = self.buffer.line(span.start.line).len();
        self.buffer.replace(span, text);
        let grown = self.buffer.line(span.start.line).len();
        let moved = |place: Place| {
            if place.line != span.start.line || place.column == 0 {
                return place;
            }
            Place { column: (place.column + grown).saturating_sub(length), ..place }
        };
        let at = self.buffer.nearest(moved(self.cursor.at));
        let anchor = self.cursor.anchor.map(|anchor| self.buffer.nearest(moved(anchor)));
        self.cursor = Cursor::new(&self.buffer, at);
        self.cursor.anchor = anchor.filter(|anchor| *anchor != at);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The text with `|` at the cursor and `^` at the anchor.
    fn marked(editor: &Editor) -> String {
        let mut text = editor.buffer.to_string();
        let buffer = &editor.buffer;
        let byte = |place: Place| buffer.text(Span { start: buffer.start(), end: place }).len();
        let mut marks = vec![(byte(editor.cursor.at), '|')];
        marks.extend(editor.cursor.anchor.map(|anchor| (byte(anchor), '^')));
        marks.sort_unstable();
        for (at, mark) in marks.into_iter().rev() {
            text.insert(at, mark);
        }
        text
    }

    fn editor(text: &str) -> Editor {
        let plain: String = text.chars().filter(|c| !"|^".contains(*c)).collect();
        let buffer = Buffer::new(&plain);
        let place = |mark: char| {
            let before: String =
                text[..text.find(mark)?].chars().filter(|c| !"|^".contains(*c)).collect();
            Some(Buffer::new(&before).end())
        };
        let mut editor = Editor::new(buffer, place('|').unwrap(), Habits::default());
        editor.cursor.anchor = place('^');
        editor
    }

    fn after(text: &str, words: &str) -> String {
        let mut editor = editor(text);
        for word in words.split(' ') {
            editor.apply(Action::from_word(word).unwrap_or_else(|| panic!("{word}")));
        }
        marked(&editor)
    }

    #[test]
    fn actions_do_what_they_say() {
        for (text, words, result) in [
            ("ab|c", "delete-left", "a|c"),
            ("ab\n|c", "delete-left", "ab|c"),
            ("a|bc", "delete-right", "a|c"),
            ("low wa|ter", "delete-word-left", "low |ter"),
            ("low |water up", "delete-word-right", "low |up"),
            ("a^bc|d", "delete-left", "a|d"),
            ("ab|cd\ne", "delete-line-end", "ab|\ne"),
            ("one\ntw|o\nthree", "delete-line", "one\nth|ree"),
            ("one\ntwo\nthre|e", "delete-line", "one\ntwo|"),
            ("o^ne\ntwo\n|three", "delete-line", "|three"),
            ("on|e", "delete-line", "|"),
            ("one\ntw|o\nthree", "move-line-up", "tw|o\none\nthree"),
            ("one\ntw|o", "move-line-down", "one\ntw|o"),
            ("^one\ntwo\n|three\n4", "move-line-down", "three\n^one\ntwo\n|4"),
            ("one|\ntwo", "duplicate-line", "one\none|\ntwo"),
            ("^ab|c", "copy right paste", "abab|c"),
            ("^ab|c", "cut line-end paste", "cab|"),
            ("a|bc", "indent", "a   |bc"),
            ("a^bc\nd|e", "indent", "    a^bc\n    d|e"),
            ("    a^bc\n  d|e", "outdent", "a^bc\nd|e"),
            ("a|b", "new-line", "a\n|b"),
            ("a|b", "delete-right delete-left undo", "a|"),
            ("a|b", "delete-right delete-left undo undo redo", "a|"),
            ("a|b\nc", "select-all", "^ab\nc|"),
            ("a|b", "cut", "a|b"),
        ] {
            assert_eq!(after(text, words), result, "{words} on {text}");
        }
    }

    #[test]
    fn only_a_change_of_the_text_is_an_edit() {
        let mut editor = editor("a|b");
        assert_eq!(editor.apply(Action::Undo), Outcome::Nothing);
        assert_eq!(editor.apply(Action::Move(Motion::Right)), Outcome::Moved);
        assert_eq!(editor.apply(Action::Move(Motion::Right)), Outcome::Nothing);
        assert_eq!(editor.apply(Action::Paste), Outcome::Nothing);
        assert_eq!(editor.apply(Action::SelectAll), Outcome::Moved);
        assert_eq!(editor.apply(Action::Copy), Outcome::Moved);
        assert_eq!(editor.apply(Action::Paste), Outcome::Moved);
        assert_eq!(editor.insert("潮"), Outcome::Edited);
        assert_eq!(marked(&editor), "ab潮|");
    }
}
