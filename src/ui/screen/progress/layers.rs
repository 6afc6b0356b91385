//! By layer: a table, and the chosen layer over the days.

use super::{Part, in_words, write as write_lines};
use crate::progress::{LayerProgress, Outlook, Standing, reach_words};
use crate::report::progress::{middle_half, minutes};
use crate::store::{Figures, Step};
use crate::ui::theme::Meaning;
use crate::ui::widget::chart::{self, Chart};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::fmt::Write as _;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("n", "latencies counted; not after errors, pauses, first keys"),
    ("median", "half were shorter, arrivals on the layer included"),
    ("middle half", "from the first to the third quartile, ms"),
    ("right, min", "hits of hits and misses; minutes without pauses"),
    ("lately", "last 14 days against those before, beyond the noise"),
    ("old way", "same outputs, as often, on the layout used before"),
    ("on this course", "level with the old way, if practised as lately"),
    ("mastered", "surely as fast as the old way, under 5 % wrong;"),
    ("standing still", "no gain beyond the noise in half of the days"),
    ("expected", "the curve of practice goes on; half-way bars: 90 %"),
    ("a page", "1,800 strokes: of your surveyed texts, or ordinary"),
    ("beats since", "faster beyond the noise in every 7 practised days"),
];

const NAME: usize = 12;

/// How far a layer is learnt, and whether it gets on.
fn learnt_words(outlook: &Outlook) -> String {
    let Outlook { n_mastered, n_learning, n_not_met, n_items, .. } = outlook;
    let mut words = format!("{n_mastered} of {n_items} keys mastered, {n_learning} learning");
    if *n_not_met > 0 {
        let _ = write!(words, ", {n_not_met} not met");
    }
    if outlook.stands_still {
        words.push_str("; standing still");
    } else if let Some((gain, low, _)) = outlook.recent_gain.filter(|(_, low, _)| *low > 0.0) {
        let _ =
            write!(words, "; {:.0} % faster of late (at least {:.0})", gain * 100.0, low * 100.0);
    }
    words
}

/// Minutes and seconds.
fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02} min", whole / 60, whole % 60)
}

impl Part<'_> {
    /// The chosen layer.
    pub(super) fn layer(&self) -> Option<&LayerProgress> {
        self.progress.layers.get(self.state.layer)
    }

    /// Draws the view.
    pub(super) fn layers(&self, area: Rect, buf: &mut Buffer) {
        let rest = write_lines(area, buf, &self.layer_table(area));
        let Some(layer) = self.layer() else { return };
        let gap = u16::from(rest.height >= chart::LEAST + 4);
        let rest = Rect { y: rest.y + gap, height: rest.height - gap, ..rest };
        let rest = write_lines(rest, buf, &self.layer_words(layer, usize::from(area.width)));
        if rest.height < chart::LEAST + 1 || layer.points.is_empty() {
            return;
        }
        let points: Vec<(i32, &Figures)> =
            layer.points.iter().map(|point| (point.day, &point.figures)).collect();
        let firsts = self.progress.layers.iter().filter_map(|l| l.points.first());
        let forecast = layer.outlook.as_ref().map_or(&[][..], |outlook| &outlook.forecast);
        let chart = Chart {
            points: &points,
            from: firsts.map(|point| point.day).min().unwrap_or(self.progress.to),
            to: forecast.iter().map(|f| f.day).max().unwrap_or(self.progress.to),
            line: layer.old_way.as_ref().map(|old| old.spread.median),
            forecast,
            mark: self
                .theme
                .style(layer.id.map_or(Meaning::Strong, |id| Meaning::Layer(id.0)))
                .patch(self.theme.style(Meaning::Strong)),
            theme: self.theme,
        };
        let legend = self.legend(layer, usize::from(area.width), chart.days_a_mark(area.width));
        chart.draw(write_lines(rest, buf, &[legend]), buf);
    }

    fn layer_table(&self, area: Rect) -> Vec<Line<'static>> {
        let wide = area.width >= 70;
        // A small window shows the rows round the chosen one.
        let room = usize::from(area.height.saturating_sub(4)).max(3);
        let first = (self.state.layer + 1).saturating_sub(room);
        let mut lines = vec![self.muted(if wide {
            format!(
                "  {:NAME$}{:>7}{:>9}{:>13}{:>8}{:>7}  lately",
                "layer", "n", "median", "middle half", "right", "min"
            )
        } else {
            format!("  {:NAME$}{:>6}{:>9}{:>9}", "layer", "n", "median", "right")
        })];
        for (n, layer) in self.progress.layers.iter().enumerate().skip(first).take(room) {
            let chosen = n == self.state.layer;
            let name = frame::clip(&layer.name, NAME, self.theme);
            let pad = NAME.saturating_sub(unicode_width::UnicodeWidthStr::width(name.as_str()));
            let name = format!("{}{name}{}", self.pointer(chosen), " ".repeat(pad));
            let mut spans = vec![Span::styled(name, self.row_style(chosen))];
            let Some(spread) = layer.all.spread() else {
                spans.push(Span::styled("  not practised", self.theme.style(Meaning::Muted)));
                lines.push(Line::from(spans));
                continue;
            };
            let right =
                layer.all.accuracy().map_or(String::new(), |a| format!("{:.1} %", a * 100.0));
            let median = spread.median.to_string();
            if wide {
                spans.push(Span::raw(format!(
                    "{:>7}{median:>9}{:>13}{right:>8}{:>7}  ",
                    spread.n,
                    middle_half(&spread),
                    minutes(layer.all.active),
                )));
                spans.push(self.change(layer.lately.change()));
            } else {
                spans.push(Span::raw(format!("{:>6}{median:>9}{right:>9}", spread.n)));
            }
            lines.push(Line::from(spans));
        }
        lines
    }

    /// Lately against before, and against the old way.
    fn layer_words(&self, layer: &LayerProgress, width: usize) -> Vec<Line<'static>> {
        let lately = &layer.lately;
        let (now, before) = (in_words(lately.now.as_ref()), in_words(lately.before.as_ref()));
        // The word stands in the table, where that is wide enough.
        let mut lines = if width >= 70 {
            vec![Line::raw(format!("lately {now}, before {before}"))]
        } else {
            vec![Line::from(vec![
                self.change(lately.change()),
                Span::raw(format!(": {now}, before {before}")),
            ])]
        };
        lines.push(match (&layer.old_way, &self.progress.old_way) {
            (Some(old), _) => {
                let meaning = match old.standing {
                    Standing::Since(_) | Standing::SinceOrEarlier(_) => Meaning::Better,
                    Standing::NotYet | Standing::TooFew => Meaning::Muted,
                };
                let outputs = if old.n_outputs < old.n_outputs_all {
                    format!(", {} of {} keys", old.n_outputs, old.n_outputs_all)
                } else {
                    String::new()
                };
                let figures = format!("old way {}{outputs}: ", in_words(Some(&old.spread)));
                // Where it is not beaten yet: whether and when it will be.
                let reach = layer.outlook.as_ref().and_then(|outlook| outlook.reach);
                let words = match (old.standing, reach) {
                    (Standing::NotYet, Some(reach)) => reach_words(reach, self.progress.to),
                    (standing, _) => standing.words(),
                };
                let mut spans = vec![Span::raw(figures.clone())];
                // Where the line is short the verdict matters more.
                if figures.len() + words.len() > width {
                    spans = vec![Span::raw(format!("old way {}: ", old.spread.median))];
                }
                spans.push(Span::styled(words, self.theme.style(meaning)));
                Line::from(spans)
            }
            (None, Some(_)) => self.muted("old way: not measured, see etude practice --old-way"),
            (None, None) => self.muted("old way: the layout names none"),
        });
        if let Some(outlook) = &layer.outlook {
            lines.push(Line::raw(learnt_words(outlook)));
        }
        if let Some(page) = &self.progress.page {
            lines.push(Line::from(vec![
                Span::raw(format!(
                    "a page of {} takes {}: ",
                    page.whose(),
                    clock(page.now.seconds)
                )),
                self.muted_span(page.words(self.progress.to)),
            ]));
        }
        lines
    }

    fn legend(&self, layer: &LayerProgress, width: usize, days: u32) -> Line<'static> {
        let [few, many, bar, line, expected] = chart::glyphs(self.theme);
        let step = match (self.progress.step, days) {
            (Step::Day, 1) => "a day".to_owned(),
            (Step::Month, ..=31) => "a month".to_owned(),
            (Step::Day, days) => format!("{days} days"),
            (Step::Month, days) => format!("{} months", days.div_ceil(31)),
        };
        let mut rest = String::new();
        if layer.old_way.is_some() {
            let _ = write!(rest, "  {line} old way");
        }
        if layer.outlook.as_ref().is_some_and(|outlook| !outlook.forecast.is_empty()) {
            let _ = write!(rest, "  {expected} expected");
        }
        // The longest that fits; the help explains every mark.
        let texts = [
            format!("ms  {many} median of {step} ({few} fewer than 6)  {bar} middle half{rest}"),
            format!("ms  {many} median of {step}  {bar} middle half{rest}"),
            format!("ms  {many} median  {bar} middle half{rest}"),
        ];
        let fits = |text: &&String| unicode_width::UnicodeWidthStr::width(text.as_str()) <= width;
        let text = texts.iter().find(fits).unwrap_or(&texts[2]);
        self.muted(text.clone())
    }
}
