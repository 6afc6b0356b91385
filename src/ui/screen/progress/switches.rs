//! From which layer to which: a matrix, and the chosen layer in words.

use super::{Part, in_words, write};
use crate::order::InOrder;
use crate::progress::RECENT_DAYS;
use crate::report::progress::{cost_words, middle_half};
use crate::session::Spread;
use crate::store::Parts;
use crate::ui::theme::Meaning;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("figure", "median latency of the first key on another layer, ms"),
    ("below it", "n, latencies counted"),
    ("(figure)", "within a layer: key after key on it"),
    ("dot", "never timed in this range"),
    ("costs", "over the same keys struck within the layer; 90 %"),
    ("the model", "tells the switch from its keys and hands; lately"),
    ("can't tell", "no key was struck both right after it and within"),
    ("reach", "to the access key; strike: from it; by a marker"),
];

/// The narrowest and widest column of the matrix.
const COLUMN: std::ops::RangeInclusive<usize> = 6..=11;
/// Columns of the names at the left.
const NAME: usize = 12;

impl Part<'_> {
    /// Draws the view.
    pub(super) fn switches(&self, area: Rect, buf: &mut Buffer) {
        let layers: Vec<(usize, &str)> = self
            .progress
            .layers
            .iter()
            .enumerate()
            .map(|(n, layer)| (n, layer.name.as_str()))
            .filter(|(_, name)| {
                self.progress.switches.iter().any(|s| s.from == *name || s.to == *name)
            })
            .collect();
        let words = self.leavings();
        // Of one layer asked for there are only arrivals and leavings.
        if layers.len() < 2 {
            write(area, buf, &words);
            return;
        }
        let room = usize::from(area.width).saturating_sub(NAME + 2);
        let column = (room / layers.len()).clamp(*COLUMN.start(), *COLUMN.end());
        let tall = usize::from(area.height) >= 1 + 2 * layers.len() + 3;
        let mut head = format!("  {:NAME$}", "from \\ to");
        for (_, name) in &layers {
            let name = frame::clip(name, column - 1, self.theme);
            head.push_str(&" ".repeat(column.saturating_sub(name.width())));
            head.push_str(&name);
        }
        let mut lines = vec![self.muted(head)];
        let (muted, strong) = (self.theme.style(Meaning::Muted), self.theme.style(Meaning::Strong));
        for (n, from) in &layers {
            let chosen = *n == self.state.layer;
            let name = frame::clip(from, NAME, self.theme);
            let pad = NAME.saturating_sub(name.width());
            let name = format!("{}{name}{}", self.pointer(chosen), " ".repeat(pad));
            let mut figures = vec![Span::styled(name, self.row_style(chosen))];
            let mut counts = vec![Span::raw(" ".repeat(NAME + 2))];
            for (_, to) in &layers {
                let spread = self.progress.switch(from, to).and_then(|s| s.all.spread());
                let (figure, count) = match spread {
                    None => (if self.theme.unicode { "·" } else { "." }.to_owned(), String::new()),
                    Some(s) if from == to => {
                        (format!("({:.0})", s.median.as_ms()), format!("n {}", s.n))
                    }
                    Some(s) => (format!("{:.0} ", s.median.as_ms()), format!("n {}", s.n)),
                };
                let style = if from == to || spread.is_none() { muted } else { strong };
                figures.push(Span::styled(format!("{figure:>column$}"), style));
                counts.push(Span::styled(format!("{count:>column$}"), muted));
            }
            lines.push(Line::from(figures));
            if tall {
                lines.push(Line::from(counts));
            }
        }
        let rest = write(area, buf, &lines);
        let gap = u16::from(rest.height > 3);
        write(Rect { y: rest.y + gap, height: rest.height - gap, ..rest }, buf, &words);
    }

    /// Where the chosen layer is left for, against staying there.
    fn leavings(&self) -> Vec<Line<'static>> {
        let Some(layer) = self.layer() else { return Vec::new() };
        let arrow = if self.theme.unicode { "→" } else { ">" };
        let mut found: Vec<_> = self
            .progress
            .switches
            .iter()
            .filter(|s| s.from == layer.name && s.from != s.to)
            .filter_map(|s| s.all.spread().map(|spread| (s, spread)))
            .collect();
        found.order_by_key(|(_, spread)| std::cmp::Reverse(spread.n));
        if found.is_empty() {
            return vec![self.muted(format!("from {}: nothing timed", layer.name))];
        }
        found
            .into_iter()
            .flat_map(|(switch, spread)| {
                let name = format!("{} {arrow} {}", switch.from, switch.to);
                let mut spans = vec![
                    Span::styled(name, self.theme.style(Meaning::Strong)),
                    Span::raw(format!("  {}", in_words(Some(&spread)))),
                ];
                spans.push(Span::styled(
                    format!("  {}", cost_words(switch.told.as_ref())),
                    self.theme.style(Meaning::Muted),
                ));
                let parts = switch.parts.as_ref().map(|parts| self.muted(parts_words(parts)));
                std::iter::once(Line::from(spans)).chain(parts)
            })
            .collect()
    }
}

/// The two parts of a switch, which have one n.
fn parts_words(parts: &Parts) -> String {
    let in_words = |spread: &Spread| {
        let half = middle_half(spread);
        let half = if half.is_empty() { half } else { format!(" ({half})") };
        format!("{}{half}", spread.median)
    };
    format!(
        "  reach {}, strike {}, n {}, last {RECENT_DAYS} days",
        in_words(&parts.reach),
        in_words(&parts.strike),
        parts.reach.n
    )
}
