//! Medians over days: a mark for each, a bar for the middle half, a line to
//! beat, what is expected.

use crate::progress::Forecast;
use crate::store::Figures;
use crate::store::wall_clock::day_text;
use crate::ui::theme::{Meaning, Theme};
use crate::units::Micros;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use std::collections::BTreeMap;

/// Columns of the scale at the left, its line included.
const SCALE: u16 = 6;
/// Rows below the plot: the line and the days.
const BELOW: u16 = 2;
/// Fewer latencies make a hollow mark: their median has no margin.
const FEW: u64 = 6;

/// The least height that shows anything.
pub const LEAST: u16 = BELOW + 3;

/// What a chart shows.
#[derive(Debug, Clone, Copy)]
pub struct Chart<'a> {
    /// (first day, sums), oldest first.
    pub points: &'a [(i32, &'a Figures)],
    /// The first day at the left.
    pub from: i32,
    /// The last day at the right.
    pub to: i32,
    /// The line to beat.
    pub line: Option<Micros>,
    /// What is expected after the last point.
    pub forecast: &'a [Forecast],
    /// How the marks look.
    pub mark: Style,
    /// How the rest looks.
    pub theme: Theme,
}

/// The glyphs of a chart: few, many, bar, line to beat, expected.
pub fn glyphs(theme: Theme) -> [&'static str; 5] {
    if theme.unicode { ["○", "●", "│", "┈", "╎"] } else { ["o", "@", "|", "-", ":"] }
}

/// The bounds of a scale and its step, ms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Scale {
    low: u64,
    high: u64,
    step: u64,
}

impl Scale {
    /// Round bounds round `low` to `high`, with about a step for three rows.
    fn round(low: u64, high: u64, rows: u16) -> Self {
        let wanted = (high.saturating_sub(low) / u64::from((rows / 3).max(1))).max(1);
        let steps = [5, 10, 20, 25, 50, 100, 200, 250, 500, 1000];
        let step = steps.into_iter().find(|&step| step >= wanted).unwrap_or(1000);
        let (low, high) = (low / step * step, high.div_ceil(step) * step);
        Self { low, high: high.max(low + step), step }
    }

    /// The row of `value` from the top of `rows`; values outside go to the edge.
    fn row(self, value: Micros, rows: u16) -> u16 {
        let span = (self.high - self.low) as f64;
        let share = ((self.high as f64 - value.as_ms()) / span).clamp(0.0, 1.0);
        (share * f64::from(rows.saturating_sub(1))).round() as u16
    }
}

impl Chart<'_> {
    /// How many days a mark stands for in an area so wide.
    pub fn days_a_mark(&self, width: u16) -> u32 {
        let columns = u32::from(width.saturating_sub(SCALE)).max(1);
        (self.to.abs_diff(self.from) + 1).div_ceil(columns).max(1)
    }

    /// Draws it in `area`; nothing where that is too small or nothing is there.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if area.height < LEAST || area.width < SCALE + 12 {
            return;
        }
        let columns = u32::from(area.width - SCALE);
        let per = self.days_a_mark(area.width);
        // Marks share the whole width, but stand at most four columns apart.
        let n_marks = (self.to.abs_diff(self.from) + 1).div_ceil(per);
        let used = columns.min(4 * n_marks);
        let column = |day: i32| {
            let mark = (day.saturating_sub(self.from).max(0) as u32 / per).min(n_marks - 1);
            (mark * used / n_marks) as u16
        };
        let mut marks: BTreeMap<u16, Figures> = BTreeMap::new();
        for (day, figures) in self.points {
            marks.entry(column(*day)).or_default().merge(figures);
        }
        let rows = area.height - BELOW;
        let Some(scale) = self.scale(marks.values(), rows) else { return };
        let muted = self.theme.style(Meaning::Muted);
        let [few, many, bar, line, expected] = glyphs(self.theme);
        let left = area.x + SCALE;
        let mut put = |x: u16, y: u16, symbol: &str, style: Style| {
            if x < area.x + area.width
                && y < area.y + area.height
                && let Some(cell) = buf.cell_mut((x, y))
            {
                // What was there must not shine through: a mark is no paler on a bar.
                cell.reset();
                cell.set_symbol(symbol).set_style(style);
            }
        };
        let (tick, wall, corner, floor) =
            if self.theme.unicode { ("┤", "│", "└", "─") } else { ("+", "|", "+", "-") };
        for y in 0..rows {
            put(left - 1, area.y + y, wall, muted);
        }
        put(left - 1, area.y + rows, corner, muted);
        for x in 0..columns as u16 {
            put(left + x, area.y + rows, floor, muted);
        }
        let mut value = scale.low;
        let mut last_row = None;
        while value <= scale.high {
            let y = scale.row(Micros::from_ms(value), rows);
            if last_row != Some(y) {
                put(left - 1, area.y + y, tick, muted);
                for (n, c) in format!("{value:>4}").chars().enumerate() {
                    put(area.x + n as u16, area.y + y, &c.to_string(), muted);
                }
            }
            last_row = Some(y);
            value += scale.step;
        }
        if let Some(beat) = self.line {
            let style = self.theme.style(Meaning::Caution);
            for x in 0..columns as u16 {
                put(left + x, area.y + scale.row(beat, rows), line, style);
            }
        }
        for forecast in self.forecast {
            let x = left + column(forecast.day);
            for y in scale.row(forecast.high, rows)..=scale.row(forecast.low, rows) {
                put(x, area.y + y, expected, muted);
            }
        }
        for (x, figures) in &marks {
            let Some(spread) = figures.spread() else { continue };
            if let Some((low, high)) = spread.quartiles {
                for y in scale.row(high, rows)..=scale.row(low, rows) {
                    put(left + x, area.y + y, bar, muted);
                }
            }
            let mark = if figures.latency.count() < FEW { few } else { many };
            put(left + x, area.y + scale.row(spread.median, rows), mark, self.mark);
        }
        let y = area.y + rows + 1;
        let (first, last) = (day_text(self.from), day_text(self.to));
        let used = used as u16;
        for (n, c) in first.chars().enumerate() {
            put(left + n as u16, y, &c.to_string(), muted);
        }
        let width = last.len() as u16;
        if used >= 2 * width + 2 {
            for (n, c) in last.chars().enumerate() {
                put(left + used - width + n as u16, y, &c.to_string(), muted);
            }
        }
    }

    /// From the least lower quartile to the greatest median, and further to
    /// most of the upper quartiles: a bad day must not flatten the rest.
    fn scale<'b>(&self, marks: impl Iterator<Item = &'b Figures>, rows: u16) -> Option<Scale> {
        let (mut low, mut high): (Option<u64>, Option<u64>) = (None, None);
        let mut upper = Vec::new();
        let mut take = |value: Micros| {
            let ms = value.0 / 1000;
            low = Some(low.map_or(ms, |low| low.min(ms)));
            high = Some(high.map_or(ms, |high| high.max(ms)));
        };
        for figures in marks {
            let Some(spread) = figures.spread() else { continue };
            take(spread.median);
            if let Some((low, high)) = spread.quartiles {
                take(low);
                upper.push(high);
            }
        }
        upper.sort_unstable();
        upper.get(upper.len().saturating_sub(1) * 9 / 10).copied().into_iter().for_each(&mut take);
        self.line.into_iter().for_each(&mut take);
        for forecast in self.forecast {
            take(forecast.low);
            take(forecast.middle);
        }
        Some(Scale::round(low?, high?, rows))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::Sketch;

    fn figures(ms: &[u64]) -> Figures {
        let mut latency = Sketch::default();
        for ms in ms {
            latency.add(Micros::from_ms(*ms));
        }
        Figures { latency, ..Figures::default() }
    }

    #[test]
    fn scales_are_round_and_hold_what_they_show() {
        for (low, high) in [(180, 181), (92, 407), (0, 3), (950, 1990), (200, 200)] {
            for rows in [3, 6, 11, 30] {
                let scale = Scale::round(low, high, rows);
                assert!(scale.low <= low && scale.high >= high, "{scale:?}");
                assert!(scale.low.is_multiple_of(scale.step) && scale.high > scale.low);
                assert_eq!(scale.row(Micros::from_ms(scale.high), rows), 0);
                assert_eq!(scale.row(Micros::from_ms(scale.low), rows), rows - 1);
                assert_eq!(scale.row(Micros::from_secs(99), rows), 0);
            }
        }
    }

    #[test]
    fn a_chart_shows_marks_bars_the_line_to_beat_and_what_is_expected() {
        let (slow, quick) = (figures(&[250, 270, 300, 300, 330, 350]), figures(&[180, 200, 220]));
        let many = figures(&[150, 170, 180, 200, 220, 230, 260]);
        let points = [(20_000, &slow), (20_006, &quick), (20_012, &many)];
        let expected = |day, ms| Forecast {
            day,
            low: Micros::from_ms(ms - 20),
            middle: Micros::from_ms(ms),
            high: Micros::from_ms(ms + 20),
        };
        let chart = Chart {
            points: &points,
            from: 20_000,
            to: 20_019,
            line: Some(Micros::from_ms(220)),
            forecast: &[expected(20_016, 190)],
            mark: Style::new(),
            theme: Theme { unicode: false, ..Theme::PLAIN },
        };
        let mut buf = Buffer::empty(Rect::new(0, 0, 48, 12));
        chart.draw(buf.area, &mut buf);
        let rows: Vec<String> = (0..12)
            .map(|y| (0..48).map(|x| buf.cell((x, y)).unwrap().symbol()).collect())
            .map(|row: String| row.trim_end().to_owned())
            .collect();
        insta::assert_snapshot!("chart_ascii", rows.join("\n"));
        for width in 0..60 {
            for height in 0..16 {
                let mut buf = Buffer::empty(Rect::new(0, 0, width, height));
                chart.draw(buf.area, &mut buf);
            }
        }
    }
}
