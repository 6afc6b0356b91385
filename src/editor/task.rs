//! What is to be done in an editing task.

use super::{Buffer, Cursor, Editor, Habits, Place, Span};
use crate::order::InOrder;

/// What is to come of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Goal {
    /// The cursor stands there, nothing selected.
    Cursor(Place),
    /// Exactly this is selected, the cursor at either end.
    Selection(Span),
    /// Exactly this is deleted; where the cursor stands does not matter.
    Deletion(Span),
    /// Line `from` has become line `to`, those between moved by one; where the
    /// cursor stands does not matter.
    LineMove {
        /// The line, from 0.
        from: usize,
        /// Where it goes.
        to: usize,
    },
}

/// A text, where the cursor stands in it, and what is to come of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Task {
    start: Editor,
    goal: Goal,
    /// The text at the end.
    result: Buffer,
}

impl Task {
    /// The task to reach `goal` in `buffer` with the cursor at `at`. Places
    /// that the text lacks become the nearest that it has. None where it is
    /// done already, or an empty span is to be selected or deleted.
    pub fn new(buffer: &Buffer, at: Place, habits: Habits, goal: Goal) -> Option<Self> {
        let near = |place: Place| buffer.nearest(place);
        let near_span = |span: Span| Span::between(near(span.start), near(span.end));
        let lines = buffer.lines().len();
        let goal = match goal {
            Goal::Cursor(place) => Goal::Cursor(near(place)),
            Goal::Selection(span) => Goal::Selection(near_span(span)),
            Goal::Deletion(span) => Goal::Deletion(near_span(span)),
            Goal::LineMove { from, to } => {
                Goal::LineMove { from: from.min(lines - 1), to: to.min(lines - 1) }
            }
        };
        let mut result = buffer.clone();
        match goal {
            Goal::Selection(span) | Goal::Deletion(span) if span.is_empty() => return None,
            Goal::Cursor(_) | Goal::Selection(_) => {}
            Goal::Deletion(span) => {
                result.replace(span, "");
            }
            Goal::LineMove { from, to } => move_line(&mut result, from, to),
        }
        let start = Editor::new(buffer.clone(), near(at), habits);
        let task = Self { start, goal, result };
        (!task.done(&task.start)).then_some(task)
    }

    /// The editor before the first key.
    pub const fn start(&self) -> &Editor {
        &self.start
    }

    /// What is to be reached.
    pub const fn goal(&self) -> Goal {
        self.goal
    }

    /// The text at the end.
    pub const fn result(&self) -> &Buffer {
        &self.result
    }

    /// True where `editor` has reached the goal.
    pub fn done(&self, editor: &Editor) -> bool {
        match self.goal {
            Goal::Cursor(place) => {
                let Cursor { at, anchor, .. } = *editor.cursor();
                self.at_text(editor) && at == place && anchor.is_none()
            }
            Goal::Selection(span) => {
                self.at_text(editor) && editor.cursor().selection() == Some(span)
            }
            Goal::Deletion(_) | Goal::LineMove { .. } => *editor.buffer() == self.result,
        }
    }

    fn at_text(&self, editor: &Editor) -> bool {
        editor.buffer() == self.start.buffer()
    }

    /// True where a text on the way to the goal may look like `buffer`: as at
    /// the start; with parts of what is to be deleted gone; with the line on
    /// its way from where it was to where it goes.
    pub fn allows(&self, buffer: &Buffer) -> bool {
        match self.goal {
            Goal::Cursor(_) | Goal::Selection(_) => buffer == self.start.buffer(),
            Goal::Deletion(_) => *buffer == self.result || !self.left_to_delete(buffer).is_empty(),
            Goal::LineMove { .. } => self.line_to_move(buffer).is_some(),
        }
    }

    /// What could still be deleted in `buffer` to reach the goal, each span by
    /// itself, the one that was meant first; none where something else is missing
    /// or was never there, or where the joint would make one grapheme of two.
    /// Several, at most 64, where equal text leaves a choice, as
    /// between the blank before a word and the one after it.
    pub fn left_to_delete(&self, buffer: &Buffer) -> Vec<Span> {
        let Goal::Deletion(meant) = self.goal else { return Vec::new() };
        let first = self.start.buffer();
        let (now, then) = (buffer.to_string(), self.result.to_string());
        let Some(more) = now.len().checked_sub(then.len()) else { return Vec::new() };
        // Deletions leave what was there in its order.
        let whole = first.to_string();
        let mut rest = whole.chars();
        if !now.chars().all(|c| rest.any(|other| other == c)) {
            return Vec::new();
        }
        let same = |(one, other): &(u8, u8)| one == other;
        let before = now.bytes().zip(then.bytes()).take_while(same).count();
        let after = now.bytes().rev().zip(then.bytes().rev()).take_while(same).count();
        let meant = first.text(Span { start: first.start(), end: meant.start }).len();
        let mut starts: Vec<usize> = if more == 0 && before == then.len() {
            vec![meant]
        } else {
            (then.len() - after..=before).collect()
        };
        starts.order_by_key(|start| start.abs_diff(meant));
        let span = |start: usize| {
            Some(Span {
                start: place_of_byte(buffer, start)?,
                end: place_of_byte(buffer, start + more)?,
            })
        };
        starts.into_iter().filter_map(span).take(MOST_SLIDES).collect()
    }

    /// Where the line to move is in `buffer`; none where the lines are in an
    /// order that is not on the way.
    pub fn line_to_move(&self, buffer: &Buffer) -> Option<usize> {
        let Goal::LineMove { from, to } = self.goal else { return None };
        let first = self.start.buffer();
        if buffer.lines().len() != first.lines().len() {
            return None;
        }
        // The nearest to the goal first, where equal lines leave a choice.
        let on_the_way: Vec<usize> =
            if from <= to { (from..=to).rev().collect() } else { (to..=from).collect() };
        on_the_way.into_iter().find(|&now| {
            let mut lines = first.clone();
            move_line(&mut lines, from, now);
            lines == *buffer
        })
    }
}

/// The place at that byte of the text, if a grapheme begins or a line ends there.
fn place_of_byte(buffer: &Buffer, mut byte: usize) -> Option<Place> {
    for (n, line) in buffer.lines().iter().enumerate() {
        let len = line.text().len();
        if byte <= len {
            return Some(Place::new(n, line.column_of(byte)?));
        }
        byte -= len + 1;
    }
    None
}

/// The most spans that are the same deletion.
pub(super) const MOST_SLIDES: usize = 64;

/// Moves line `from` to where line `to` is.
fn move_line(buffer: &mut Buffer, from: usize, to: usize) {
    let mut line = from;
    while line != to {
        buffer.shift_lines(line, line, to > line);
        line = if to > line { line + 1 } else { line - 1 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn task(text: &str, goal: Goal) -> Option<Task> {
        Task::new(&Buffer::new(text), Place::new(0, 0), Habits::default(), goal)
    }

    #[test]
    fn texts_on_the_way_are_told_from_others() {
        let span = Span { start: Place::new(0, 4), end: Place::new(1, 3) };
        let task = task("the low\nand high", Goal::Deletion(span)).unwrap();
        assert_eq!(task.result().to_string(), "the  high");
        let left = |text: &str| task.left_to_delete(&Buffer::new(text));
        assert_eq!(left("the low\nand high"), [span]);
        assert_eq!(left("the lo high"), [Span { start: Place::new(0, 4), end: Place::new(0, 6) }]);
        assert!(left("the  high")[0].is_empty());
        assert_eq!(left("the high"), []);
        assert_eq!(left("th low\nand high"), []);
        assert_eq!(left("the wol\nand high"), []);
    }

    #[test]
    fn equal_text_leaves_a_choice() {
        let span = Span { start: Place::new(0, 4), end: Place::new(0, 8) };
        let task = task("at a low low tide", Goal::Deletion(span)).unwrap();
        let left = task.left_to_delete(task.start().buffer());
        let words: Vec<String> = left.iter().map(|l| task.start().buffer().text(*l)).collect();
        assert_eq!(words, [" low", "low ", "ow l", "w lo", " low", "low "]);
        assert!(task.allows(&Buffer::new("at a lowlow tide")));
        assert!(!task.allows(&Buffer::new("at low low tide")));
    }

    #[test]
    fn a_moving_line_is_found() {
        let goal = Goal::LineMove { from: 0, to: 2 };
        let task = task("a\nb\nc\nd", goal).unwrap();
        let line = |text: &str| task.line_to_move(&Buffer::new(text));
        assert_eq!(line("a\nb\nc\nd"), Some(0));
        assert_eq!(line("b\na\nc\nd"), Some(1));
        assert_eq!(line("b\nc\na\nd"), Some(2));
        assert_eq!(line("b\nc\nd\na"), None);
        assert_eq!(line("c\nb\na\nd"), None);
    }

    #[test]
    fn what_is_done_already_is_no_task() {
        let here = Place::new(0, 0);
        assert_eq!(task("a\na", Goal::Cursor(here)), None);
        assert_eq!(task("a\na", Goal::Deletion(Span { start: here, end: here })), None);
        assert_eq!(task("a\na", Goal::LineMove { from: 0, to: 1 }), None);
        assert!(task("a\nb", Goal::LineMove { from: 0, to: 9 }).is_some());
    }
}
