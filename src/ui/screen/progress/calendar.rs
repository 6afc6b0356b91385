//! When there was practice: a column a week, a row a day of the week.

use super::{Part, write};
use crate::order::Gather;
use crate::progress::Progress;
use crate::report::progress::{minutes, weeks};
use crate::store::PracticeDay;
use crate::store::wall_clock::{day_text, month_of, weekday_of};
use crate::ui::theme::Meaning;
use crate::ui::widget::board::Heat;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::collections::BTreeMap;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("a square", "a day's active minutes, pauses left out, on any layout"),
    ("active", "from the first to the last key of each line"),
    ("keystrokes", "every press judged, corrections included"),
    ("a week", "begins on Monday; the arrows choose one"),
];

/// Upper bounds of the first three shades, minutes.
const BOUNDS: [f64; 3] = [5.0, 10.0, 20.0];
const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/// How many weeks the calendar has, the running one included.
pub fn n_weeks(progress: &Progress) -> i32 {
    let last = monday(progress.to);
    let first = progress.calendar.first().map_or(last, |day| monday(day.day));
    ((last - first) / 7).max(0) + 1
}

fn monday(day: i32) -> i32 {
    day - weekday_of(day)
}

impl Part<'_> {
    /// Draws the view.
    pub(super) fn calendar(&self, area: Rect, buf: &mut Buffer) {
        let days: BTreeMap<i32, PracticeDay> =
            self.progress.calendar.iter().map(|day| (day.day, *day)).gather();
        let (last, n) = (monday(self.progress.to), n_weeks(self.progress));
        let room = (i32::from(area.width.saturating_sub(4)) / 2).max(1);
        let back = self.state.week.min(n - 1);
        let chosen = last - 7 * back;
        // The chosen week stays in view.
        let newest = last - 7 * (back + 1 - room).max(0);
        let shown = n.min(room);
        let first = newest - 7 * (shown - 1);
        let muted = self.theme.style(Meaning::Muted);

        let mut months = "    ".to_owned();
        for week in 0..shown {
            let monday = first + 7 * week;
            // Named where its first Monday stands, if the name before has ended.
            let new = week == 0 || month_of(monday) != month_of(monday - 7);
            let at = 4 + 2 * week as usize;
            if new && months.trim_end().len() < at {
                months.truncate(at);
                months.push_str(MONTHS[month_of(monday).rem_euclid(12) as usize]);
            }
            while months.len() < at + 2 {
                months.push(' ');
            }
        }
        let mut lines = vec![Line::styled(months, muted)];
        for (weekday, name) in (0..).zip(WEEKDAYS) {
            let shown_name = if weekday % 2 == 0 { name } else { "" };
            let mut spans = vec![Span::styled(format!("{shown_name:4}"), muted)];
            for week in 0..shown {
                let day = first + 7 * week + weekday;
                spans.push(self.day(day, days.get(&day)));
            }
            lines.push(Line::from(spans));
        }
        let mut under = " ".repeat(4 + 2 * ((chosen - first) / 7).max(0) as usize);
        under.push_str(if self.theme.unicode { "▲" } else { "^" });
        lines.push(Line::styled(under, self.theme.style(Meaning::Strong)));
        let rest = write(area, buf, &lines);
        let rest = write(rest, buf, &[self.shades(), Line::raw("")]);
        write(rest, buf, &self.week_words(chosen, &days));
    }

    fn day(&self, day: i32, practised: Option<&PracticeDay>) -> Span<'static> {
        match practised {
            _ if day > self.progress.to => Span::raw("  "),
            None => Span::styled(
                if self.theme.unicode { "· " } else { ". " },
                self.theme.style(Meaning::Muted),
            ),
            Some(practised) => {
                let step = shade(practised);
                let glyph = Heat::glyph(step, self.theme.unicode);
                Span::styled(format!("{glyph} "), self.theme.style(Meaning::Heat(step)))
            }
        }
    }

    fn shades(&self) -> Line<'static> {
        let mut spans = vec![Span::raw("    ")];
        for step in 0..4_u8 {
            let words = match BOUNDS.get(usize::from(step)) {
                Some(bound) => format!(" below {bound:.0}   "),
                None => " more minutes".to_owned(),
            };
            let glyph = Heat::glyph(step, self.theme.unicode);
            spans.push(Span::styled(glyph, self.theme.style(Meaning::Heat(step))));
            spans.push(Span::styled(words, self.theme.style(Meaning::Muted)));
        }
        Line::from(spans)
    }

    /// The chosen week, day by day, and the whole range.
    fn week_words(&self, chosen: i32, days: &BTreeMap<i32, PracticeDay>) -> Vec<Line<'static>> {
        let strong = self.theme.style(Meaning::Strong);
        let weeks = weeks(&self.progress.calendar);
        let week = weeks.iter().find(|week| week.monday == chosen);
        let mut lines = vec![Line::from(vec![
            Span::styled(format!("week of {}  ", day_text(chosen)), strong),
            Span::raw(week.map_or_else(
                || "no practice".to_owned(),
                |week| {
                    format!(
                        "{} min on {} of 7 days, {} drills, {} keystrokes",
                        minutes(week.active),
                        week.n_days,
                        week.n_drills,
                        week.n_keystrokes
                    )
                },
            )),
        ])];
        let told: Vec<String> = (chosen..chosen + 7)
            .filter_map(|day| days.get(&day))
            .map(|day| {
                format!("{} {} min", WEEKDAYS[weekday_of(day.day) as usize], minutes(day.active))
            })
            .collect();
        lines.push(Line::raw(told.join("   ")));
        lines.push(Line::raw(""));
        let all = weeks.iter().fold((0, 0, 0, crate::units::Micros::ZERO), |sum, week| {
            (
                sum.0 + week.n_days,
                sum.1 + week.n_drills,
                sum.2 + week.n_keystrokes,
                sum.3 + week.active,
            )
        });
        lines.push(self.muted(format!(
            "in all {} min on {} days, {} drills, {} keystrokes",
            minutes(all.3),
            all.0,
            all.1,
            all.2
        )));
        lines
    }
}

fn shade(day: &PracticeDay) -> u8 {
    let minutes = day.active.as_secs() / 60.0;
    BOUNDS.iter().filter(|&&bound| minutes >= bound).count() as u8
}
