//! Key by key, in an order of the person's choice.

use super::{Part, in_words, write};
use crate::keyboard::Output;
use crate::model::hands::ERROR_DAYS;
use crate::order::InOrder;
use crate::progress::{ItemOutlook, ItemProgress, reach_words};
use crate::report::progress::middle_half;
use crate::session::Change;
use crate::ui::theme::Meaning;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::cmp::Reverse;
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("n", "latencies counted; not after errors, pauses, first keys"),
    ("median", "half were shorter"),
    ("mid half", "middle half: from the first to the third quartile, ms"),
    ("right", "hits of hits and misses"),
    ("surely", "by the lower end of the 95 % interval of the misses"),
    ("old", "median of the same output on the old way, ms"),
    ("typically", "lately, shrunk toward its layer, with its interval"),
    ("wanted", "the old way's median, or near your letters"),
    ("mastered", "surely within it, under 5 % wrong, n 20, 2 days"),
    ("instead", "what was struck, and what kind of slip it was"),
    ("lately", "last 14 days against those before, beyond the noise"),
];

/// In which order the keys stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The longest median first, those with fewer than 6 latencies last.
    Slow,
    /// The greatest share of misses first, as far as it is sure.
    Wrong,
    /// The most latencies first.
    Often,
    /// The farthest behind the old way first.
    Behind,
    /// As they lie in the layout.
    Place,
}

impl Order {
    /// The one after it.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Slow => Self::Wrong,
            Self::Wrong => Self::Often,
            Self::Often => Self::Behind,
            Self::Behind => Self::Place,
            Self::Place => Self::Slow,
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Slow => "slowest first",
            Self::Wrong => "most surely missed first",
            Self::Often => "most practised first",
            Self::Behind => "farthest behind the old way first",
            Self::Place => "by layer and place",
        }
    }

    /// Sorts `items`; what is equal stays in the layout's order.
    fn sort(self, items: &mut [&ItemProgress]) {
        const LEAST: u64 = 6;
        let behind = |item: &ItemProgress| {
            let (mine, old) = (item.all.spread()?, item.old_way?);
            Some(mine.median.0.cast_signed() - old.median.0.cast_signed())
        };
        match self {
            Self::Slow => items.order_by_cached_key(|item| {
                Reverse((item.all.latency.count() >= LEAST, item.all.latency.median()))
            }),
            Self::Wrong => items.order_by(|a, b| at_least(b).total_cmp(&at_least(a))),
            Self::Often => items.order_by_key(|item| Reverse(item.all.latency.count())),
            Self::Behind => items.order_by_cached_key(|item| Reverse(behind(item))),
            Self::Place => {}
        }
    }
}

/// The share of misses that an item has at least: the lower end of its 95 %
/// interval (Wilson 1927, JASA 22), so that a miss in six isn't taken for much.
pub(super) fn at_least(item: &ItemProgress) -> f64 {
    let n = (item.all.n_hits + item.all.n_misses) as f64;
    if n == 0.0 {
        return 0.0;
    }
    let (p, z) = (item.all.n_misses as f64 / n, 1.96_f64);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    ((p + z * z / (2.0 * n) - half) / (1.0 + z * z / n)).max(0.0)
}

/// How far a key is learnt, in a line.
fn learnt_words(outlook: &ItemOutlook) -> String {
    let mut words = outlook.state.words().to_owned();
    if let Some(latency) = &outlook.finding.latency {
        let median = latency.median;
        let _ = write!(
            words,
            ": typically {:.0} ms (90 %: {:.0} to {:.0}), wanted {:.0}",
            median.ms, median.low_ms, median.high_ms, outlook.target_ms
        );
    }
    words
}

const KEY: usize = 6;
const LAYER: usize = 12;

impl Part<'_> {
    /// An output as a word.
    pub(super) fn key_name(&self, output: &str) -> String {
        match output.parse::<Output>() {
            Ok(output) => frame::name(&output, self.theme),
            Err(_) => output.to_owned(),
        }
    }

    /// Draws the view.
    pub(super) fn items(&self, area: Rect, buf: &mut Buffer) {
        let mut items: Vec<&ItemProgress> = self.progress.items.iter().collect();
        self.state.order.sort(&mut items);
        let wide = area.width >= 70;
        let below = if area.height >= 14 {
            5
        } else if area.height >= 12 {
            3
        } else {
            1
        };
        let room = usize::from(area.height.saturating_sub(2 + below)).max(1);
        let chosen = self.state.item.min(items.len().saturating_sub(1));
        let first = (chosen + 1).saturating_sub(room).max(chosen.saturating_sub(room / 2));
        let first = first.min(items.len().saturating_sub(room));
        let mut lines = vec![
            Line::raw(format!(
                "{}, {} to {} of {}",
                self.state.order.words(),
                first + 1,
                (first + room).min(items.len()),
                items.len()
            )),
            self.muted(if wide {
                format!(
                    "  {:KEY$}{:LAYER$}{:>6}{:>8}{:>11}{:>8}{:>5}  lately",
                    "key", "layer", "n", "median", "mid half", "right", "old"
                )
            } else {
                format!("  {:KEY$}{:9}{:>5}{:>8}{:>8}", "key", "layer", "n", "median", "right")
            }),
        ];
        for (n, item) in items.iter().enumerate().skip(first).take(room) {
            lines.push(self.item_row(item, n == chosen, wide));
        }
        write(Rect { height: area.height.saturating_sub(below), ..area }, buf, &lines);
        let y = area.y + area.height.saturating_sub(below.saturating_sub(1).max(1));
        if let Some(item) = items.get(chosen) {
            let rest = Rect { y, height: area.y + area.height - y, ..area };
            write(rest, buf, &self.item_words(item));
        }
    }

    fn item_row(&self, item: &ItemProgress, chosen: bool, wide: bool) -> Line<'static> {
        let spread = item.all.spread();
        let cell = |text: String, width: usize| {
            let text = frame::clip(&text, width - 1, self.theme);
            format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
        };
        let key = cell(self.key_name(&item.name.output), KEY);
        let mut spans = vec![
            Span::styled(format!("{}{key}", self.pointer(chosen)), self.row_style(chosen)),
            Span::raw(cell(item.name.layer.clone(), if wide { LAYER } else { 9 })),
        ];
        let n = item.all.latency.count();
        let median = spread.map_or(String::new(), |s| s.median.to_string());
        let right = item.all.accuracy().map_or(String::new(), |a| format!("{:.1} %", a * 100.0));
        if wide {
            let half = spread.as_ref().map_or(String::new(), middle_half);
            let old = item.old_way.map_or(String::new(), |s| format!("{:.0}", s.median.as_ms()));
            spans.push(Span::raw(format!("{n:>6}{median:>8}{half:>11}{right:>8}{old:>5}  ")));
            spans.push(self.change(item.lately.change()));
        } else {
            spans.push(Span::raw(format!("{n:>5}{median:>8}{right:>8}")));
        }
        Line::from(spans)
    }

    fn item_words(&self, item: &ItemProgress) -> Vec<Line<'static>> {
        let name = self.key_name(&item.name.output);
        let at = item.name.position.map_or(String::new(), |at| format!(" at {at}"));
        let old = match (&item.old_way, item.against()) {
            (Some(old), Some(against)) => {
                let words = match against {
                    Change::Faster => "faster than the old way",
                    Change::Slower => "slower than the old way",
                    Change::Unclear => "no clear difference",
                    Change::TooFew => "too few to tell",
                };
                let reach = item.outlook.as_ref().and_then(|outlook| outlook.reach);
                let words = match (against, reach) {
                    (Change::Slower, Some(reach)) => {
                        format!("slower; {}", reach_words(reach, self.progress.to))
                    }
                    _ => words.to_owned(),
                };
                Line::from(vec![
                    Span::raw(format!("old way {}: ", in_words(Some(old)))),
                    Span::styled(
                        words,
                        self.theme.style(match against {
                            Change::Faster => Meaning::Better,
                            Change::Slower => Meaning::Worse,
                            _ => Meaning::Muted,
                        }),
                    ),
                ])
            }
            _ => self.muted("old way: not measured"),
        };
        let mut lines = vec![
            Line::from(vec![
                Span::styled(format!("{name}{at}"), self.theme.style(Meaning::Strong)),
                Span::raw(format!(
                    "  lately {}, before {}",
                    in_words(item.lately.now.as_ref()),
                    in_words(item.lately.before.as_ref())
                )),
            ]),
            old,
        ];
        if let Some(outlook) = &item.outlook {
            lines.push(self.muted(learnt_words(outlook)));
            lines.push(self.muted(self.mistake_words(outlook)));
        }
        lines
    }

    /// What comes instead of a key, and what kind of slip it is.
    fn mistake_words(&self, outlook: &ItemOutlook) -> String {
        let finding = &outlook.finding;
        if finding.mistakes.is_empty() {
            return format!("never wrong in the last {ERROR_DAYS} days (n {})", finding.errors.n);
        }
        let times = if self.theme.unicode { "×" } else { "x" };
        let came: Vec<String> = finding
            .mistakes
            .iter()
            .take(3)
            .map(|mistake| {
                let got = frame::name(&mistake.got, self.theme);
                format!("{got} {times}{} ({})", mistake.n, mistake.slip.words())
            })
            .collect();
        format!("instead came {}", came.join(", "))
    }
}
