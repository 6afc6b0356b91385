//! The board as a heat map of latency or of errors, layer by layer.

use super::items::at_least;
use super::{Part, in_words, write};
use crate::keyboard::Position;
use crate::layout::LayerId;
use crate::order::InOrder;
use crate::progress::Thumbs;
use crate::store::Figures;
use crate::ui::theme::Meaning;
use crate::ui::widget::board::{BoardView, Heat};
use crate::units::Micros;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use std::collections::BTreeMap;
use unicode_width::UnicodeWidthStr;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("latency", "median of a key in ms; capitals count with their key"),
    ("shades", "by parts of the layer's median: to 0.85, 1.15, 1.5, above"),
    ("errors", "misses of hits and misses, %"),
    ("its shades", "up to 2 %, 5 %, 10 %, above"),
    ("thumbs", "their presses of all, access keys too; twice is more"),
    ("no shade", "fewer than 6 latencies, or 20 hits and misses"),
];

/// Fewer latencies tell nothing of a key's speed.
const LEAST: u64 = 6;
/// Fewer hits and misses tell nothing of its errors.
const LEAST_JUDGED: u64 = 20;
/// Upper bounds of the first three steps, parts of the layer's median.
const BY_MEDIAN: [f64; 3] = [0.85, 1.15, 1.5];
/// Upper bounds of the first three steps, shares of misses.
const BY_ERRORS: [f64; 3] = [0.02, 0.05, 0.10];

fn step(value: f64, bounds: [f64; 3]) -> u8 {
    bounds.iter().filter(|&&bound| value > bound).count() as u8
}

impl Part<'_> {
    /// Draws the view.
    pub(super) fn board(&self, area: Rect, buf: &mut Buffer) {
        let Some(layer) = self.layer() else { return };
        let Some(id) = layer.id else {
            let words = format!("The layer '{}' is in the layout no more.", layer.name);
            write(area, buf, &[Line::raw(words)]);
            return;
        };
        let median = layer.all.spread().map(|spread| spread.median);
        let heat = self.heat(id, median);
        let what = if self.state.errors { "errors" } else { "latency" };
        let strong = self.theme.style(Meaning::Strong);
        let title = Line::from(vec![
            Span::styled(format!("{} ", layer.name), strong),
            Span::raw(format!("{what}   layer: {}", in_words(layer.all.spread().as_ref()))),
            Span::raw(
                layer
                    .all
                    .accuracy()
                    .map_or(String::new(), |a| format!("   {:.1} % right", a * 100.0)),
            ),
        ]);
        let rest = write(area, buf, &[title]);
        let view = BoardView { heat: &heat, ..BoardView::new(self.layout, id, self.theme) };
        // The legend and a line for what can be said below the board.
        let height = view.height(rest.width).min(rest.height.saturating_sub(3));
        let top = rest.y + u16::from(rest.height > height + 4);
        (&view).render(Rect { y: top, height, ..rest }, buf);
        let below = (top + height + 1).min(area.y + area.height);
        let rest = Rect { y: below, height: area.y + area.height - below, ..area };
        let mut lines =
            vec![self.heat_legend(median), self.worst(layer.name.as_str(), area.width.into())];
        let thumbs = self.progress.thumbs.as_ref().and_then(Thumbs::words);
        lines.extend(thumbs.map(|words| {
            // Half a figure would mislead.
            let shorter = |end| words.split(end).next().unwrap_or_default();
            let fit = [words.as_str(), shorter(";"), shorter(" of ")]
                .map(|words| format!("thumbs: {words}"));
            let [.., least] = &fit;
            let fits = fit.iter().find(|words| words.width() <= area.width.into());
            self.muted(fits.unwrap_or(least).clone())
        }));
        write(rest, buf, &lines);
    }

    /// The heat of each key of the board.
    fn heat(&self, id: LayerId, median: Option<Micros>) -> Vec<Option<Heat>> {
        let name = &self.layout.layer(id).name;
        let mut keys: BTreeMap<Position, Figures> = BTreeMap::new();
        for item in self.progress.items.iter().filter(|item| item.name.layer == *name) {
            if let Some(position) = item.name.position {
                keys.entry(position).or_default().merge(&item.all);
            }
        }
        let sites = self.layout.board.sites.iter();
        let of = |figures: &Figures| -> Option<Heat> {
            if self.state.errors {
                let errors = 1.0 - figures.accuracy()?;
                let enough = figures.n_hits + figures.n_misses >= LEAST_JUDGED;
                let figure = format!("{:.0}%", errors * 100.0);
                enough.then(|| Heat { step: step(errors, BY_ERRORS), figure })
            } else {
                let spread = figures.spread()?;
                let share = spread.median.as_ms() / median?.as_ms().max(1.0);
                let figure = format!("{:.0}", spread.median.as_ms());
                (spread.n as u64 >= LEAST).then(|| Heat { step: step(share, BY_MEDIAN), figure })
            }
        };
        sites.map(|site| keys.get(&site.position).and_then(of)).collect()
    }

    fn heat_legend(&self, median: Option<Micros>) -> Line<'static> {
        let mut spans = Vec::new();
        let bounds: Vec<String> = if self.state.errors {
            BY_ERRORS.iter().map(|bound| format!("{:.0} %", bound * 100.0)).collect()
        } else {
            let median = median.map_or(0.0, Micros::as_ms);
            BY_MEDIAN.iter().map(|bound| format!("{:.0} ms", bound * median)).collect()
        };
        for n in 0..4_u8 {
            let words = match bounds.get(usize::from(n)) {
                Some(bound) => format!(" to {bound}   "),
                None => " above   ".to_owned(),
            };
            let glyph = Heat::glyph(n, self.theme.unicode);
            spans.push(Span::styled(glyph.repeat(2), self.theme.style(Meaning::Heat(n))));
            spans.push(Span::raw(words));
        }
        spans.push(Span::styled("none: too few", self.theme.style(Meaning::Muted)));
        Line::from(spans)
    }

    /// The keys that stand out, with n.
    fn worst(&self, layer: &str, width: usize) -> Line<'static> {
        let mut items: Vec<_> =
            self.progress.items.iter().filter(|item| item.name.layer == layer).collect();
        let words: Vec<String> = if self.state.errors {
            let errors = |figures: &Figures| figures.accuracy().map_or(0.0, |a| 1.0 - a);
            items.order_by(|a, b| at_least(b).total_cmp(&at_least(a)));
            items.retain(|item| item.all.n_misses > 0);
            items
                .iter()
                .take(4)
                .map(|item| {
                    let n = item.all.n_hits + item.all.n_misses;
                    let name = self.key_name(&item.name.output);
                    format!("{name} {:.0} % of {n}", errors(&item.all) * 100.0)
                })
                .collect()
        } else {
            items.retain(|item| item.all.latency.count() >= LEAST);
            items.order_by_cached_key(|item| std::cmp::Reverse(item.all.latency.median()));
            items
                .iter()
                .take(3)
                .map(|item| {
                    let name = self.key_name(&item.name.output);
                    format!("{name} {}", in_words(item.all.spread().as_ref()))
                })
                .collect()
        };
        let heading = if self.state.errors { "surely missed" } else { "slowest" };
        if words.is_empty() {
            return self.muted(format!("{heading}: none that can be told"));
        }
        let mut text = format!("{heading}:");
        for word in words {
            // Half a figure would mislead.
            if text.width() + word.width() + 3 <= width || text.ends_with(':') {
                text.push_str(if text.ends_with(':') { " " } else { "   " });
                text.push_str(&word);
            }
        }
        self.muted(text)
    }
}
