//! The line to type, read like sheet music: the text on one row; above it
//! where the layer changes, below it the finger of what is due.

use crate::drill::{glyph, space_mark};
use crate::keyboard::{Digit, Hand, Modifiers, NamedKey, Output};
use crate::layout::{LayerId, Layout, Route};
use crate::session::{Line, Standing};
use crate::ui::theme::{Meaning, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Rows that the score takes: layers, text, caret, fingers.
pub const ROWS: u16 = 4;

/// The line in work with everything that its drawing needs.
#[derive(Debug, Clone, Copy)]
pub struct Score<'a> {
    /// The line.
    pub line: &'a Line,
    /// The layout that it is practised on.
    pub layout: &'a Layout,
    /// The route of each item of the line.
    pub routes: &'a [Option<Route>],
    /// How it looks.
    pub theme: Theme,
}

/// One item with its place on the row.
struct Cell<'a> {
    column: u16,
    width: u16,
    text: String,
    route: Option<&'a Route>,
}

impl Score<'_> {
    fn cells(&self) -> Vec<Cell<'_>> {
        let mut column = 0;
        self.line
            .items()
            .iter()
            .enumerate()
            .map(|(n, item)| {
                let text = glyph(item, self.theme.unicode).into_owned();
                let width = (text.width() as u16).max(1);
                let cell = Cell {
                    column,
                    width,
                    text,
                    route: self.routes.get(n).and_then(Option::as_ref),
                };
                column += width;
                cell
            })
            .collect()
    }

    /// The first column to show so that the caret keeps a third of the row
    /// ahead of it.
    fn shift(cells: &[Cell<'_>], place: usize, width: u16) -> u16 {
        let total = cells.last().map_or(0, |c| c.column + c.width) + 1;
        if total <= width {
            return 0;
        }
        let caret = cells.get(place).map_or(total - 1, |c| c.column);
        caret.saturating_sub(width / 3).min(total - width)
    }
}

impl Widget for &Score<'_> {
    fn render(self, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        if area.is_empty() {
            return;
        }
        let cells = self.cells();
        let place = self.line.place();
        let shift = Score::shift(&cells, place, area.width);
        let row = |n: u16| (n < area.height).then_some(area.y + n);
        // With fewer rows the text comes first, then the layers, then the rest.
        let (layers, text, caret, fingers) = match area.height {
            0 | 1 => (None, row(0), None, None),
            2 => (row(0), row(1), None, None),
            3 => (row(0), row(1), None, row(2)),
            _ => (row(0), row(1), row(2), row(3)),
        };
        let put = |buf: &mut Buffer, column: u16, y: Option<u16>, text: &str, style: Style| {
            let (Some(y), Some(x)) = (y, column.checked_sub(shift)) else { return };
            if x < area.width {
                buf.set_stringn(area.x + x, y, text, usize::from(area.width - x), style);
            }
        };
        let theme = self.theme;
        let bar = if theme.unicode { "─" } else { "-" };
        let mut before: Option<(LayerId, bool)> = None;
        for (index, cell) in cells.iter().enumerate() {
            let layer = cell.route.map_or(LayerId::BASE, |r| r.layer);
            let shifted = cell.route.is_some_and(|r| r.modifiers.contains(Modifiers::SHIFT));
            let style = theme.style(Meaning::Layer(layer.0));
            let sign = if layer != LayerId::BASE {
                Some(self.layout.layer(layer).sign.as_str())
            } else if shifted {
                Some(if theme.unicode { "⇧" } else { "^" })
            } else {
                None
            };
            if let Some(sign) = sign {
                let style = if index < place { theme.style(Meaning::Muted) } else { style };
                let begins = before != Some((layer, shifted));
                if begins {
                    // A run of one has room for one column only.
                    let room = run_width(&cells[index..], layer, shifted);
                    let sign: String = sign.chars().take(usize::from(room)).collect();
                    put(buf, cell.column, layers, &sign, style.add_modifier(Modifier::BOLD));
                    for extra in sign.width() as u16..cell.width {
                        put(buf, cell.column + extra, layers, bar, style);
                    }
                } else if !covered_by_sign(&cells, index, before, sign) {
                    for extra in 0..cell.width {
                        put(buf, cell.column + extra, layers, bar, style);
                    }
                }
            }
            before = Some((layer, shifted));

            let (shown, mut style) = self.look(index, place, cell);
            if matches!(self.line.items().get(index), Some(Output::Key(_))) {
                style = style.add_modifier(Modifier::BOLD);
            }
            put(buf, cell.column, text, &shown, style);
            if index == place {
                let mark = if theme.unicode { "▲" } else { "^" };
                put(buf, cell.column, caret, mark, theme.style(Meaning::Strong));
            }
            let finger_due = index == place || (index > place && layer != LayerId::BASE);
            if let (true, Some(route)) = (finger_due, cell.route) {
                let style =
                    theme.style(if index == place { Meaning::Strong } else { Meaning::Muted });
                let style = match route.finger.hand {
                    Hand::Left => style.add_modifier(Modifier::UNDERLINED),
                    Hand::Right => style,
                };
                put(buf, cell.column, fingers, &route.finger.digit.number().to_string(), style);
            }
        }
        // The double bar that ends a line of music.
        let end = cells.last().map_or(0, |c| c.column + c.width);
        let by_enter = self.line.items().last() == Some(&Output::Key(NamedKey::Enter));
        let (mark, style) = if place == cells.len() && self.line.wants_backspace() {
            (if theme.unicode { "⌫" } else { "^H" }, theme.style(Meaning::Due))
        } else if by_enter || !theme.unicode {
            // Enter ends the line itself; ASCII has no bar that is never due.
            (" ", theme.style(Meaning::Text))
        } else {
            ("‖", theme.style(Meaning::Muted))
        };
        put(buf, end, text, mark, style);
    }
}

impl Score<'_> {
    fn look(&self, index: usize, place: usize, cell: &Cell<'_>) -> (String, Style) {
        let theme = self.theme;
        let shown = cell.text.clone();
        match self.line.standing().get(index) {
            Some(Standing::Right) if self.line.was_missed(index) => {
                (shown, theme.style(Meaning::Muted).add_modifier(Modifier::UNDERLINED))
            }
            Some(Standing::Right) => (shown, theme.style(Meaning::Muted)),
            Some(Standing::Wrong(got)) => {
                let struck = glyph(got, theme.unicode);
                let struck = match &*struck {
                    " " => space_mark(theme.unicode),
                    wide if wide.width() as u16 > cell.width => "?",
                    other => other,
                };
                (struck.to_owned(), theme.style(Meaning::Wrong))
            }
            None if index == place => {
                let style = theme.style(Meaning::Due);
                let missed = self.line.was_missed(index);
                (shown, if missed { style.add_modifier(Modifier::UNDERLINED) } else { style })
            }
            None => (shown, theme.style(Meaning::Text)),
        }
    }
}

/// The columns of the run that begins with the first of `cells`.
fn run_width(cells: &[Cell<'_>], layer: LayerId, shifted: bool) -> u16 {
    cells
        .iter()
        .take_while(|cell| {
            let own = cell.route.map_or(LayerId::BASE, |r| r.layer);
            let shift = cell.route.is_some_and(|r| r.modifiers.contains(Modifiers::SHIFT));
            own == layer && shift == shifted
        })
        .map(|cell| cell.width)
        .sum()
}

/// True where a sign of two columns, set at the cell before, reaches here.
fn covered_by_sign(
    cells: &[Cell<'_>],
    index: usize,
    run: Option<(LayerId, bool)>,
    sign: &str,
) -> bool {
    let Some((layer, shifted)) = run else { return false };
    let before = index.checked_sub(2).and_then(|i| cells[i].route);
    let begins_before = index == 1
        || before.map_or(LayerId::BASE, |r| r.layer) != layer
        || before.is_some_and(|r| r.modifiers.contains(Modifiers::SHIFT)) != shifted;
    begins_before && sign.width() as u16 > cells[index - 1].width
}

/// "left thumb", "right index", for the instruction under the board.
pub fn finger_words(finger: crate::keyboard::Finger) -> String {
    match finger.digit {
        Digit::Thumb => format!("{} thumb", finger.hand.word()),
        digit => format!("{} {} finger", finger.hand.word(), digit.word()),
    }
}
