//! What asks for actions: their titles, or a small text before and after.

use crate::drill::{Cue, Strikes, Way};
use crate::session::Line as Progress;
use crate::ui::theme::{Meaning, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use std::cmp::Ordering;
use unicode_width::UnicodeWidthStr;

/// Rows that it takes: a heading, and four steps or lines of text.
pub const ROWS: u16 = 5;

/// Columns between two texts side by side, for the arrow.
const GAP: usize = 6;

/// The actions in work.
#[derive(Debug, Clone, Copy)]
pub struct CueView<'a> {
    /// What asks for them.
    pub strikes: &'a Strikes,
    /// How far they are.
    pub progress: &'a Progress,
    /// True where the answer to the one that is due is known.
    pub known: bool,
    /// How it looks.
    pub theme: Theme,
}

impl Widget for &CueView<'_> {
    fn render(self, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        if area.is_empty() {
            return;
        }
        let lines = match &self.strikes.cue {
            Cue::Title => self.steps(),
            Cue::Change { before, after } => self.change(before, after, area.width.into()),
        };
        // With too few rows the heading goes first.
        let spare = lines.len().saturating_sub(area.height.into());
        let lines = &lines[spare.min(1)..];
        let columns = lines.iter().map(Line::width).max().unwrap_or(0) as u16;
        let left = area.x + area.width.saturating_sub(columns) / 2;
        let room = area.x + area.width - left;
        // Short ones stand in the middle.
        let top = area.y + area.height.saturating_sub(lines.len() as u16) / 2;
        for (n, line) in lines.iter().take(area.height.into()).enumerate() {
            buf.set_line(left, top + n as u16, line, room);
        }
    }
}

impl CueView<'_> {
    fn heading(&self) -> &'static str {
        match (self.strikes.told, self.strikes.way, self.strikes.items().len()) {
            (true, Way::Layout, 1) => "new: this is its key",
            (true, Way::Layout, _) => "by the layout's own keys",
            (true, Way::Hand, _) => "by hand: hold the modifiers, strike the key",
            (false, _, 1) => "strike the shortcut for",
            (false, ..) => "strike the shortcuts, one after another",
        }
    }

    fn steps(&self) -> Vec<Line<'static>> {
        let theme = self.theme;
        let muted = theme.style(Meaning::Muted);
        let (done_mark, due_mark) = if theme.unicode { ("✓ ", "▸ ") } else { ("+ ", "> ") };
        let titles = self.strikes.titles();
        let widest = titles.iter().map(|title| title.width()).max().unwrap_or(0);
        let due = self.progress.place();
        let steps = titles.iter().zip(self.strikes.items()).enumerate();
        std::iter::once(Line::styled(self.heading(), muted))
            .chain(steps.map(|(n, (title, item))| {
                let missed = self.progress.was_missed(n);
                let (mark, style) = match n.cmp(&due) {
                    Ordering::Less => (done_mark, muted),
                    Ordering::Equal => (due_mark, theme.style(Meaning::Due)),
                    Ordering::Greater => ("  ", theme.style(Meaning::Text)),
                };
                let mut spans = vec![Span::raw(mark), Span::styled(title.clone(), style)];
                if self.strikes.told || n < due || (n == due && self.known) {
                    spans.push(Span::raw(" ".repeat(widest - title.width() + 3)));
                    let style = if n == due { theme.style(Meaning::Strong) } else { muted };
                    spans.push(Span::styled(item.to_string(), style));
                    if missed && n < due {
                        spans.push(Span::styled("  missed first", muted));
                    }
                }
                Line::from(spans)
            }))
            .collect()
    }

    fn change(&self, before: &str, after: &str, room: usize) -> Vec<Line<'static>> {
        let theme = self.theme;
        let muted = theme.style(Meaning::Muted);
        let strong = theme.style(Meaning::Strong);
        let arrow = if theme.unicode { "→" } else { "->" };
        let (old, new): (Vec<&str>, Vec<&str>) =
            (before.lines().collect(), after.lines().collect());
        let columns = |lines: &[&str]| lines.iter().map(|line| line.width()).max().unwrap_or(0);
        let (left, right) = (columns(&old).max("before".len()), columns(&new).max("after".len()));
        // The title takes the place of the question once it is known.
        let title = self.strikes.titles().get(self.progress.place()).filter(|_| self.known);
        let mut lines = vec![match title {
            Some(title) => Line::styled(title.clone(), theme.style(Meaning::Due)),
            None => Line::styled("which shortcut does this?", muted),
        }];
        if left + GAP + right <= room {
            let pad = |text: &str, to: usize| {
                format!("{text}{}", " ".repeat(to.saturating_sub(text.width())))
            };
            lines.push(Line::from(vec![
                Span::styled(pad("before", left + GAP), muted),
                Span::styled("after", muted),
            ]));
            for n in 0..old.len().max(new.len()) {
                let sign = if n == 0 { format!("  {arrow}") } else { String::new() };
                lines.push(Line::from(vec![
                    Span::raw(pad(old.get(n).copied().unwrap_or(""), left)),
                    Span::styled(pad(&sign, GAP), muted),
                    Span::styled(new.get(n).copied().unwrap_or("").to_owned(), strong),
                ]));
            }
        } else {
            lines.push(Line::styled("before, after", muted));
            lines.extend(old.iter().map(|line| Line::raw((*line).to_owned())));
            let mut mark = format!("{arrow} ");
            for line in new {
                lines.push(Line::from(vec![
                    Span::styled(mark.clone(), muted),
                    Span::styled(line.to_owned(), strong),
                ]));
                mark = " ".repeat(mark.width());
            }
        }
        lines
    }
}
