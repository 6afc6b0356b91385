//! What is to be done in an editing task.

use super::{Buffer, Cursor, Editor, Habits, Place, Span};

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
            Goal::Deletion(_) => self.left_to_delete(buffer).is_some(),
            Goal::LineMove { .. } => self.line_to_move(buffer).is_some(),
        }
    }

    /// What of the span to delete is still there in `buffer`; none where
    /// something else is missing. Empty at the end.
    pub fn left_to_delete(&self, buffer: &Buffer) -> Option<Span> {
        let Goal::Deletion(span) = self.goal else { return None };
        let first = self.start.buffer();
        let start_and = |end: Place, of: &Buffer| Span { start: of.start(), end };
        let before = first.text(start_and(span.start, first));
        let after = first.text(Span { start: span.end, end: first.end() });
        let now = buffer.to_string();
        if before.len() + after.len() > now.len() {
            return None;
        }
        let left = now.strip_prefix(&before)?.strip_suffix(&after)?;
        let whole = first.text(span);
        let mut rest = whole.chars();
        if !left.chars().all(|c| rest.any(|other| other == c)) {
            return None;
        }
        let place = |text: &str| {
            let line = text.matches('\n').count();
            let column = text.rsplit('\n').next().unwrap_or("");
            Some(Place::new(line, buffer.line(line).column_of(column.len())?))
        };
        let end = now.len() - after.len();
        Some(Span { start: place(&before)?, end: place(&now[..end])? })
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
        assert_eq!(left("the low\nand high"), Some(span));
        assert_eq!(
            left("the lo high"),
            Some(Span { start: Place::new(0, 4), end: Place::new(0, 6) })
        );
        assert!(left("the  high").unwrap().is_empty());
        assert_eq!(left("the high"), None);
        assert_eq!(left("th low\nand high"), None);
        assert_eq!(left("the wol\nand high"), None);
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
