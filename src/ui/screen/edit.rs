//! An editing task in work: the document, what is to be done, what the latest
//! key came to, and the board of the movement layer.

use super::practice::{centred, shown_layer};
use crate::drill::{Drill, glyph};
use crate::editor::Buffer as Text;
use crate::layout::{LayerId, Layout};
use crate::session::{Editing, Session, Told};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::BoardView;
use crate::ui::widget::document::DocumentView;
use crate::ui::widget::frame;
use crate::ui::widget::instruction::{instruction, shortened};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

/// What the body of the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct Body<'a> {
    /// The session.
    pub session: &'a Session,
    /// Its editing task in work.
    pub editing: &'a Editing,
    /// The drill.
    pub drill: &'a Drill,
    /// The layout.
    pub layout: &'a Layout,
    /// What was struck last where it was wrong: expected, got.
    pub slip: Option<&'a (String, String)>,
    /// How it looks.
    pub theme: Theme,
}

/// Where the parts of the body lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parts {
    /// What is to be done.
    pub task: Rect,
    /// The document.
    pub document: Rect,
    /// What the latest key came to, and the next key where it is shown.
    pub words: Rect,
    /// The board.
    pub board: Rect,
}

/// Cuts `body` for a document of `rows` lines; `board` is the least height of
/// the board. Task and document come first, then the words, then the board,
/// then air.
pub fn parts(body: Rect, rows: u16, board: u16) -> Parts {
    let mut left = body.height;
    let mut take = |wanted: u16, least: u16| {
        let got = if left >= wanted { wanted } else { left };
        let got = if got >= least { got } else { 0 };
        left -= got;
        got
    };
    let task = take(1, 1);
    let words = take(2, 1);
    let document = take(rows.max(3), 1);
    let board = take(board, board);
    let gap_above = take(1, 1);
    let gap_board = take(1, 1);
    let gap_below = take(1, 1);
    let mut y = body.y + left / 3;
    let mut place = |height: u16, gap: u16| {
        let rect = Rect { y, height, ..body };
        y += height + gap;
        rect
    };
    let task = place(task, gap_above);
    let document = place(document, gap_below);
    let words = place(words, gap_board);
    let board = place(board, 0);
    Parts { task, document, words, board }
}

impl Body<'_> {
    /// Draws the body.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        let theme = self.theme;
        let known = self.session.answer_known();
        let route = self.session.due_route().filter(|_| known);
        let accesses: Vec<_> =
            route.map(|r| r.accesses.iter().map(|a| a.position).collect()).unwrap_or_default();
        let layer = self.drill.layers.first().copied().unwrap_or(LayerId::BASE);
        let board = BoardView {
            layout: self.layout,
            layer: route.map_or(layer, shown_layer),
            due: route.map(|r| r.position),
            accesses: &accesses,
            theme,
            heat: &[],
        };
        let view =
            DocumentView { editor: self.editing.editor(), task: &self.editing.edit().task, theme };
        let rows = view.height();
        let full = board.height(area.width);
        // At full size where there is room for all of it.
        let wanted = [full, board.least_height()];
        let fits = |height: &&u16| area.height >= rows + 5 + **height;
        let parts = parts(area, rows, wanted.iter().find(fits).copied().unwrap_or(0));
        let column = centred(parts.document, view.width());
        let task = Rect { x: column.x, width: area.x + area.width - column.x, ..parts.task };
        frame::row(task, buf, &self.task(), &Line::raw(""));
        (&view).render(column, buf);
        if parts.board.height > 0 && board.fits(parts.board) {
            (&board).render(parts.board, buf);
        }
        let mut words = vec![self.told()];
        if let (Some(due), Some(route)) = (self.session.due(), route) {
            let due = glyph(&due.output, theme.unicode).into_owned();
            words.push(shortened(instruction(route, self.layout, &due, theme), area.width));
        } else {
            let hint = "? shows the next key of a shortest way";
            words.push(Line::styled(hint, theme.style(Meaning::Muted)));
        }
        if parts.words.height == 1 {
            words.drain(..usize::from(self.editing.latest() == Some(Told::Nearer)));
        }
        for (n, line) in words.iter().take(parts.words.height.into()).enumerate() {
            // What is too long beside the document begins at the left.
            let room = area.x + area.width - column.x;
            let x = if line.width() > usize::from(room) { area.x } else { column.x };
            buf.set_line(x, parts.words.y + n as u16, line, area.x + area.width - x);
        }
    }

    fn task(&self) -> Line<'static> {
        let theme = self.theme;
        let (par, keys) = (self.editing.edit().par(), self.editing.keys());
        Line::from(vec![
            Span::styled(self.editing.edit().to_string(), theme.style(Meaning::Strong)),
            Span::raw(format!("   par {par}, struck {keys}")),
        ])
    }

    /// What the latest key came to, and where the cursor is.
    fn told(&self) -> Line<'static> {
        let theme = self.theme;
        let left = match self.editing.way().keys() {
            1 => "1 key from here".to_owned(),
            n => format!("{n} keys from here"),
        };
        let got = self.slip.map_or("that key", |(_, got)| got.as_str()).to_owned();
        let (what, meaning) = match self.editing.latest() {
            None => (place(self.editing.editor().buffer(), self.editing), Meaning::Muted),
            Some(Told::Nearer) => (format!("nearer: {left}"), Meaning::Muted),
            Some(Told::Detour) => (format!("a detour, no nearer: {left}"), Meaning::Text),
            Some(Told::Away) => (format!("{got} led away: {left}"), Meaning::Wrong),
            Some(Told::TakenBack) => {
                (format!("{got} is not what the text needs: taken back"), Meaning::Wrong)
            }
            Some(Told::Unbound) => (format!("{got} does nothing here"), Meaning::Wrong),
        };
        Line::styled(what, theme.style(meaning))
    }

    /// Keys struck and par of the tasks so far, for the foot.
    pub fn figures(&self) -> Line<'static> {
        let missed = self.session.tally().map_or(0, |tally| {
            tally.items.values().map(|item| item.instead.values().sum::<u32>()).sum::<u32>()
        });
        let words = if missed == 1 { "key went wrong" } else { "keys went wrong" };
        Line::raw(format!("{missed} {words} in this drill"))
    }
}

/// Where the cursor is, in words.
fn place(text: &Text, editing: &Editing) -> String {
    let at = editing.editor().cursor().at;
    format!("line {} of {}, column {}", at.line + 1, text.lines().len(), at.column + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_never_overflow_and_the_document_has_room() {
        for height in 6..50 {
            for rows in 1..13 {
                let body = Rect::new(0, 2, 80, height);
                let parts = parts(body, rows, if height > rows + 9 { 4 } else { 0 });
                let all = [parts.task, parts.document, parts.words, parts.board];
                for part in all {
                    assert_eq!(part.intersection(body).area(), part.area(), "{part:?}");
                }
                assert!(parts.document.height >= rows.min(height - 3), "{parts:?}");
            }
        }
    }
}
