//! A text in the small editor: lines, cursor, selection, and what the task is
//! about.
//!
//! Nothing is told by colour alone. The cursor is reversed and bold, the
//! selection reversed; what the task is about is bold and underlined, what is
//! to be deleted is struck through as well, and the margin names it in a word.

use crate::editor::{Buffer as Text, Editor, Goal, Place, Span, Task};
use crate::ui::theme::{Meaning, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Columns of the margin, in which the goal's lines are named.
pub const MARGIN: u16 = 7;

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct DocumentView<'a> {
    /// The text and the cursor now.
    pub editor: &'a Editor,
    /// What is to come of it.
    pub task: &'a Task,
    /// How it looks.
    pub theme: Theme,
}

/// What the task is about, in the text as it is now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    Nothing,
    Place(Place),
    Select(Span),
    Delete(Span),
    /// The line, and where it goes.
    Line(usize, usize),
}

impl About {
    fn of(task: &Task, text: &Text) -> Self {
        match task.goal() {
            Goal::Cursor(place) => Self::Place(place),
            Goal::Selection(span) => Self::Select(span),
            Goal::Deletion(_) => {
                let left = task.left_to_delete(text).first().copied();
                left.filter(|span| !span.is_empty()).map_or(Self::Nothing, Self::Delete)
            }
            Goal::LineMove { to, .. } => match task.line_to_move(text) {
                Some(now) if now != to => Self::Line(now, to),
                _ => Self::Nothing,
            },
        }
    }

    /// The first and the last line that matter.
    fn lines(self, cursor: usize) -> (usize, usize) {
        match self {
            Self::Nothing => (cursor, cursor),
            Self::Place(place) => (place.line, place.line),
            Self::Select(span) | Self::Delete(span) => (span.start.line, span.end.line),
            Self::Line(from, to) => (from.min(to), from.max(to)),
        }
    }

    fn holds(self, place: Place, end_of_line: bool) -> bool {
        match self {
            Self::Nothing => false,
            Self::Place(at) => at == place,
            Self::Select(span) | Self::Delete(span) => span.start <= place && place < span.end,
            Self::Line(line, _) => place.line == line && !end_of_line,
        }
    }

    /// The word in the margin of `line`.
    fn word(self, line: usize, unicode: bool) -> String {
        let sign = |word: &str| format!("{word:<5}{}", if unicode { '▸' } else { '>' });
        let on = if unicode { '▸' } else { '>' };
        match self {
            Self::Place(place) if place.line == line => sign("go"),
            Self::Select(span) if span.start.line == line => sign("mark"),
            Self::Delete(span) if span.start.line == line => sign("del"),
            Self::Select(span) | Self::Delete(span)
                if span.start.line < line && (line, 0) < (span.end.line, span.end.column) =>
            {
                format!("     {on}")
            }
            Self::Line(now, _) if now == line => sign("move"),
            Self::Line(now, to) if to == line => {
                let arrow = match (to > now, unicode) {
                    (true, true) => '↓',
                    (true, false) => 'v',
                    (false, true) => '↑',
                    (false, false) => '^',
                };
                format!("to   {arrow}")
            }
            _ => String::new(),
        }
    }
}

impl DocumentView<'_> {
    /// The columns that the widest line takes, margin and a place after it
    /// included.
    pub fn width(&self) -> u16 {
        let widest = self.editor.buffer().width().max(self.task.start().buffer().width());
        (widest.min(200) as u16) + MARGIN + 1
    }

    /// The rows of the whole text.
    pub fn height(&self) -> u16 {
        self.task.start().buffer().lines().len().min(200) as u16
    }

    /// The first line and the first display column shown in `area`, so that
    /// the cursor is seen, and what the task is about where there is room for
    /// both.
    fn origin(&self, area: Rect, about: About) -> (usize, usize) {
        let text = self.editor.buffer();
        let cursor = self.editor.cursor().at;
        let rows = usize::from(area.height);
        let (first, last) = about.lines(cursor.line);
        let (top, bottom) = (first.min(cursor.line), last.max(cursor.line));
        let line = if bottom - top < rows {
            // Both ends fit: as near to the text's start as that allows.
            (bottom + 1).saturating_sub(rows)
        } else {
            cursor.line.saturating_sub(rows / 2)
        };
        let columns = usize::from(area.width.saturating_sub(MARGIN + 1));
        let column = text.display_column(cursor);
        (line, if column < columns { 0 } else { column + 1 - columns / 2 })
    }

    fn style(&self, about: About, place: Place, end_of_line: bool) -> Style {
        let cursor = self.editor.cursor();
        let selection = cursor.selection();
        let mut style = if about.holds(place, end_of_line) {
            let style = self.theme.style(Meaning::Access);
            if matches!(about, About::Delete(_)) {
                style.add_modifier(Modifier::CROSSED_OUT)
            } else {
                style
            }
        } else {
            self.theme.style(Meaning::Text)
        };
        let selected = selection.is_some_and(|span| span.start <= place && place < span.end);
        if selected {
            style = style.add_modifier(Modifier::REVERSED);
        }
        if cursor.at == place {
            let due = self.theme.style(Meaning::Due);
            style = style.patch(due);
        }
        style
    }
}

impl Widget for &DocumentView<'_> {
    fn render(self, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        if area.width <= MARGIN + 1 || area.height == 0 {
            return;
        }
        let text = self.editor.buffer();
        let about = About::of(self.task, text);
        let (first, left) = self.origin(area, about);
        let right = area.x + area.width;
        let margin = self.theme.style(Meaning::Access).remove_modifier(Modifier::UNDERLINED);
        for row in 0..area.height {
            let number = first + usize::from(row);
            let Some(line) = text.lines().get(number) else { break };
            let y = area.y + row;
            let word = about.word(number, self.theme.unicode);
            buf.set_stringn(area.x, y, word, usize::from(MARGIN) - 1, margin);
            // One place more than graphemes: the end of the line.
            let ends = [None];
            let graphemes = line.graphemes().map(Some).chain(ends);
            for (column, grapheme) in graphemes.enumerate() {
                let place = Place::new(number, column);
                let Some(x) = line.display_column(column).checked_sub(left) else { continue };
                let x = area.x + MARGIN + x as u16;
                if x >= right {
                    break;
                }
                let style = self.style(about, place, grapheme.is_none());
                let mark = about.holds(place, grapheme.is_none());
                let sign = match grapheme {
                    Some("\t") | None if !mark && style == self.theme.style(Meaning::Text) => {
                        continue;
                    }
                    Some("\t") => " ".repeat(
                        (line.display_column(column + 1) - line.display_column(column)).max(1),
                    ),
                    Some(grapheme) if grapheme.width() == 0 => format!("\u{25CC}{grapheme}"),
                    Some(grapheme) => grapheme.to_owned(),
                    // A line end that is part of the task shows itself.
                    None if mark && self.theme.unicode => "↵".to_owned(),
                    None if mark => "$".to_owned(),
                    None => " ".to_owned(),
                };
                buf.set_stringn(x, y, sign, usize::from(right - x), style);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::{Action, Habits, Motion};

    fn seen(task: &Task, editor: &Editor, size: (u16, u16)) -> Vec<String> {
        let area = Rect::new(0, 0, size.0, size.1);
        let mut buf = Buffer::empty(area);
        let theme = Theme::PLAIN;
        (&DocumentView { editor, task, theme }).render(area, &mut buf);
        (0..size.1)
            .map(|y| {
                let row: String = (0..size.0)
                    .map(|x| {
                        let cell = buf.cell((x, y)).unwrap();
                        let look = cell.style().add_modifier;
                        // Letters for looks, so that a test reads them.
                        match cell.symbol() {
                            " " if look.contains(Modifier::REVERSED) => "█",
                            " " if look.contains(Modifier::UNDERLINED) => "_",
                            symbol => symbol,
                        }
                    })
                    .collect();
                row.trim_end().to_owned()
            })
            .collect()
    }

    fn task(goal: Goal) -> Task {
        let text = Text::new("06:10 fog\n\nbell (two)\n潮 high");
        Task::new(&text, Place::new(0, 5), Habits::default(), goal).unwrap()
    }

    #[test]
    fn goals_are_named_in_the_margin() {
        let go = task(Goal::Cursor(Place::new(0, 9)));
        assert_eq!(
            seen(&go, go.start(), (24, 4)),
            ["go   ▸ 06:10█fog↵", "", "       bell (two)", "       潮  high"]
        );
        let span = Span { start: Place::new(0, 6), end: Place::new(2, 4) };
        let delete = task(Goal::Deletion(span));
        assert_eq!(
            seen(&delete, delete.start(), (24, 3)),
            ["del  ▸ 06:10█fog↵", "     ▸ ↵", "     ▸ bell (two)"]
        );
        let goal = task(Goal::LineMove { from: 3, to: 2 });
        assert_eq!(
            seen(&goal, goal.start(), (24, 4))[2..],
            ["to   ↑ bell (two)", "move ▸ 潮 _high"]
        );
    }

    #[test]
    fn small_rooms_show_the_cursor() {
        let go = task(Goal::Cursor(Place::new(3, 2)));
        let mut editor = go.start().clone();
        assert_eq!(seen(&go, &editor, (14, 1)), ["       06:10█f"]);
        editor.apply(Action::Move(Motion::DocumentEnd));
        assert_eq!(seen(&go, &editor, (16, 1)), ["go   ▸ 潮  high█"]);
        for width in 0..20 {
            for height in 0..5 {
                seen(&go, &editor, (width, height));
            }
        }
    }
}
