//! What to practise, and how it went last.

use crate::layout::LayerId;
use crate::layout::Layout;
use crate::store::Wish;
use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::BoardView;
use crate::ui::widget::frame;
use crate::units::Micros;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// One thing that can be practised.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its name, as `etude practice NAME` takes it.
    pub name: String,
    /// The layer that the board shows while this row is chosen.
    pub layer: LayerId,
    /// Its keys, as they appear.
    pub keys: String,
    /// Minutes of today's plan.
    pub planned: Option<u32>,
    /// What the person asked of the plan.
    pub wish: Option<Wish>,
    /// Why it is, or would be, worth practising.
    pub why: Vec<Why>,
    /// What the history has of it.
    pub last: Option<Last>,
}

/// One reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Why {
    /// What it speaks of; empty where that is plain.
    pub what: String,
    /// In plain words.
    pub reason: String,
}

/// So many reasons are shown at most.
const REASONS: usize = 4;

/// What the history has of a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Last {
    /// Whole days since it was last practised, 0 = today.
    pub days_ago: u32,
    /// Median latency of its timed keystrokes.
    pub median: Option<Micros>,
    /// Share struck right at once, 0 to 1.
    pub accuracy: Option<f64>,
    /// How many keystrokes it has.
    pub n: u64,
}

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The layout in use.
    pub layout: &'a Layout,
    /// What can be practised.
    pub rows: &'a [Row],
    /// Which row is chosen.
    pub chosen: usize,
    /// How long, minutes.
    pub minutes: u32,
    /// False before the history was read: nothing is said of it then.
    pub read: bool,
    /// Something that the person should know.
    pub trouble: Option<&'a str>,
    /// How it looks.
    pub theme: Theme,
}

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let theme = self.theme;
        let (head, body, foot) = frame::cut(area);
        frame::row(
            head,
            buf,
            &Line::from(vec![
                Span::styled("Etude", theme.style(Meaning::Strong)),
                Span::styled(format!("  {}", self.layout.title), theme.style(Meaning::Muted)),
            ]),
            &Line::raw(format!("{} minutes", self.minutes)),
        );
        let body = frame::notice(body, buf, self.trouble, theme);
        let mut table = self.table(body.width);
        let listed = table.len() as u16;
        table.push(Line::raw(""));
        table.extend(self.reasons(body.width, body.height.saturating_sub(listed + 1)));
        let rows = table.len() as u16;
        // The chosen row stays in view where the list is longer than the room.
        let first = if listed > body.height {
            (self.chosen as u16 + 2).saturating_sub(body.height)
        } else {
            0
        };
        for (n, line) in table.iter().enumerate().skip(usize::from(first)) {
            let y = n as u16 - first;
            if y >= body.height {
                break;
            }
            buf.set_line(body.x, body.y + y, line, body.width);
        }
        let board = Rect {
            y: body.y + (rows + 1).min(body.height),
            height: body.height.saturating_sub(rows + 1),
            ..body
        };
        if let Some(row) = self.rows.get(self.chosen) {
            let view = BoardView {
                layout: self.layout,
                layer: row.layer,
                due: None,
                accesses: &[],
                theme,
                heat: &[],
            };
            if view.fits(board) {
                let height = view.height(board.width).min(board.height);
                let gap = (board.height - height).min(4);
                (&view).render(Rect { y: board.y + gap / 2, height, ..board }, buf);
            }
        }
        frame::row(foot, buf, &frame::keys(Place::Start, theme, foot.width), &Line::raw(""));
    }

    fn table(&self, width: u16) -> Vec<Line<'static>> {
        let theme = self.theme;
        let name_width = self.rows.iter().map(|r| r.name.width()).max().unwrap_or(0).max(12);
        // Too narrow a list of keys says nothing.
        let room = usize::from(width).saturating_sub(2 + name_width + 2 + 45);
        let keys_width = if room < 12 { 0 } else { room.min(60) };
        let heading = format!(
            "  {:name_width$}  {:keys_width$}{:>9}{:>11}{:>9}{:>8}{:>8}",
            "practise", "", "today", "last", "median", "right", "n"
        );
        let mut lines = vec![Line::styled(heading, theme.style(Meaning::Muted))];
        for (n, row) in self.rows.iter().enumerate() {
            let chosen = n == self.chosen;
            let mark = match (chosen, theme.unicode) {
                (true, true) => "▸ ",
                (true, false) => "> ",
                _ => "  ",
            };
            let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Text });
            let keys = frame::clip(&row.keys, keys_width.saturating_sub(1), theme);
            let pad = keys_width.saturating_sub(keys.width());
            let mut spans = vec![
                Span::styled(format!("{mark}{:name_width$}  ", row.name), style),
                Span::styled(format!("{keys}{}", " ".repeat(pad)), theme.style(Meaning::Muted)),
            ];
            let today = match (row.wish, row.planned) {
                (Some(Wish::LeftOut), _) => "left out".to_owned(),
                (Some(Wish::Pinned), None) => "pinned".to_owned(),
                (Some(Wish::Pinned), Some(minutes)) => format!("pin {minutes} min"),
                (None, Some(minutes)) => format!("{minutes} min"),
                (None, None) if n == 0 => format!("{} min", self.minutes),
                (None, None) => String::new(),
            };
            spans.push(Span::styled(format!("{today:>9}"), style));
            spans.push(Span::raw(match row.last {
                None if n == 0 || !self.read => String::new(),
                None => format!("{:>11}", "not yet"),
                Some(last) => format!(
                    "{:>11}{:>9}{:>8}{:>8}",
                    ago(last.days_ago),
                    last.median.map_or_else(String::new, |m| m.to_string()),
                    last.accuracy.map_or_else(String::new, |a| format!("{:.0} %", a * 100.0)),
                    last.n
                ),
            }));
            lines.push(Line::from(spans));
        }
        lines
    }
}

impl View<'_> {
    /// Why the chosen row is worth its minutes; cut where wrapping them needs more
    /// than `height` lines.
    fn reasons(&self, width: u16, height: u16) -> Vec<Line<'static>> {
        let theme = self.theme;
        let Some(row) = self.rows.get(self.chosen) else { return Vec::new() };
        let pad = row.why.iter().map(|why| why.what.width()).max().unwrap_or(0);
        let gap = if pad > 0 { 2 } else { 0 };
        let room = usize::from(width).saturating_sub(2 + pad + gap);
        let whole: Vec<(&Why, Vec<String>)> = row
            .why
            .iter()
            .take(REASONS)
            .map(|why| (why, frame::wrapped(&why.reason, room)))
            .collect();
        let fits = whole.iter().map(|(_, lines)| lines.len()).sum::<usize>() <= height.into();
        let mut lines = Vec::new();
        for (why, wrapped) in whole {
            let cut = vec![frame::clip(&why.reason, room, theme)];
            let mut what = why.what.as_str();
            for text in if fits { wrapped } else { cut } {
                let head = format!("  {what:pad$}{}", " ".repeat(gap));
                lines.push(Line::from(vec![
                    Span::styled(head, theme.style(Meaning::Muted)),
                    Span::raw(text),
                ]));
                what = "";
            }
        }
        lines
    }
}

fn ago(days: u32) -> String {
    match days {
        0 => "today".into(),
        1 => "yesterday".into(),
        n => format!("{n} days ago"),
    }
}
