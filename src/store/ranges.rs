//! What the progress views ask: sums over ranges of days.
//!
//! From the daily and monthly sums alone. A range is cut into whole months,
//! which are read as months, and the days at its ends: ten years cost some 120
//! rows an item instead of 3650.

use super::Store;
use super::commit::sums_of;
use super::error::StoreError;
use super::record::position_of;
use super::sketch::Sketch;
use super::tally::Sums;
use super::versions::still_so;
use super::wall_clock::{first_day_of, month_of};
use crate::keyboard::Position;
use crate::session::Spread;
use crate::units::Micros;
use rusqlite::params;
use std::collections::BTreeMap;

type Sql<T> = rusqlite::Result<T>;

/// Local days from `from` to `to`, both included, in days since 1970-01-01.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Days {
    /// The first.
    pub from: i32,
    /// The last.
    pub to: i32,
}

impl Days {
    /// Every day up to `to`.
    pub const fn up_to(to: i32) -> Self {
        Self { from: i32::MIN, to }
    }

    /// The `n` days up to `to`.
    pub const fn last(n: i32, to: i32) -> Self {
        Self { from: to.saturating_sub(n - 1), to }
    }

    /// How many days, 0 where `from` comes after `to`.
    pub const fn count(self) -> u32 {
        if self.from > self.to { 0 } else { self.to.abs_diff(self.from).saturating_add(1) }
    }

    /// The whole months in it, and the days that are left at its ends.
    fn cut(self) -> Cut {
        if self.from > self.to {
            return Cut { months: None, days: Vec::new() };
        }
        // Earlier than any day that the database can hold.
        let from = self.from.max(-1_000_000);
        let to = self.to.clamp(from, 100_000_000);
        let first = if first_day_of(month_of(from)) == from || self.from == i32::MIN {
            month_of(from)
        } else {
            month_of(from) + 1
        };
        let last = if first_day_of(month_of(to) + 1) == to.saturating_add(1) {
            month_of(to)
        } else {
            month_of(to) - 1
        };
        if first > last {
            return Cut { months: None, days: vec![(from, to)] };
        }
        let mut days = Vec::new();
        let (begin, end) = (first_day_of(first), first_day_of(last + 1));
        if from < begin {
            days.push((from, begin - 1));
        }
        if end <= to {
            days.push((end, to));
        }
        Cut { months: Some((first, last)), days }
    }
}

/// See [`Days::cut`]; bounds are included.
#[derive(Debug, PartialEq, Eq)]
struct Cut {
    months: Option<(i32, i32)>,
    days: Vec<(i32, i32)>,
}

impl Cut {
    /// (true for months, first, last).
    fn pieces(&self) -> impl Iterator<Item = (bool, i32, i32)> {
        let months = self.months.map(|(first, last)| (true, first, last));
        months.into_iter().chain(self.days.iter().map(|&(first, last)| (false, first, last)))
    }
}

/// How long the stretches are that a series of sums has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A day.
    Day,
    /// A calendar month.
    Month,
}

/// Counts, latencies and time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figures {
    /// Presses, corrections included.
    pub n_keystrokes: u64,
    /// Hits.
    pub n_hits: u64,
    /// Misses.
    pub n_misses: u64,
    /// Time, pauses and interruptions left out; zero where it isn't kept (it
    /// is kept by layer alone).
    pub active: Micros,
    /// The latencies that count.
    pub latency: Sketch,
}

impl Figures {
    /// Median and quartiles of the latencies within 1 %; none without any.
    pub fn spread(&self) -> Option<Spread> {
        self.latency.spread()
    }

    /// Hits among hits and misses, 0 to 1; none where there are neither.
    pub fn accuracy(&self) -> Option<f64> {
        let judged = self.n_hits + self.n_misses;
        (judged > 0).then(|| self.n_hits as f64 / judged as f64)
    }

    /// Takes in `other`.
    pub fn merge(&mut self, other: &Self) {
        self.n_keystrokes += other.n_keystrokes;
        self.n_hits += other.n_hits;
        self.n_misses += other.n_misses;
        self.active = self.active + other.active;
        self.latency.merge(&other.latency);
    }

    fn add(&mut self, sums: &Sums) {
        self.n_keystrokes += sums.n_keystrokes;
        self.n_hits += sums.n_hits;
        self.n_misses += sums.n_misses;
        self.latency.merge(&sums.latency);
    }
}

/// An item's name: layer, key, output.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ItemName {
    /// The name of its layer.
    pub layer: String,
    /// Its key; none where the layout couldn't give it.
    pub position: Option<Position>,
    /// The output, as [`crate::keyboard::Output`] is written.
    pub output: String,
}

/// What was practised on a day, on any layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PracticeDay {
    /// The local day, in days since 1970-01-01.
    pub day: i32,
    /// Drills begun on it.
    pub n_drills: u64,
    /// Keystrokes in them.
    pub n_keystrokes: u64,
    /// Their active time.
    pub active: Micros,
}

/// A statement for a table of days or of months.
fn sql(months: bool, template: &str) -> String {
    let (stem, time) = if months { ("months", "month_local") } else { ("days", "day_local") };
    template.replace("{days}", stem).replace("{time}", time)
}

// CROSS JOIN keeps SQLite to this order of tables, which goes straight to the
// days in question; left to itself it reads all the years of a layout.
pub(super) const ITEMS: &str = concat!(
    "SELECT i.n_keystrokes, i.n_hits, i.n_misses, i.latency_sketch, \
     l.name, i.position_code, o.text FROM layouts y CROSS JOIN layers l USING (layout_id) \
     CROSS JOIN item_{days} i ON i.layout_id = l.layout_id AND i.layer = l.layer \
     CROSS JOIN outputs o USING (output_id) WHERE y.name = ?1 AND i.{time} BETWEEN ?2 AND ?3",
    still_so!()
);
pub(super) const SWITCHES: &str = "SELECT i.n_keystrokes, i.n_hits, i.n_misses, \
     i.latency_sketch, f.name, t.name FROM layouts y CROSS JOIN layers f USING (layout_id) \
     CROSS JOIN layers t USING (layout_id) CROSS JOIN switch_{days} i \
     ON i.layout_id = y.layout_id AND i.from_layer = f.layer AND i.to_layer = t.layer \
     WHERE y.name = ?1 AND i.{time} BETWEEN ?2 AND ?3";
pub(super) const LAYERS: &str = "SELECT i.n_keystrokes, i.n_hits, i.n_misses, \
     i.latency_sketch, l.name, i.{time}, i.active_us FROM layouts y \
     CROSS JOIN layers l USING (layout_id) CROSS JOIN layer_{days} i \
     ON i.layout_id = l.layout_id AND i.layer = l.layer \
     WHERE y.name = ?1 AND i.{time} BETWEEN ?2 AND ?3";

impl Store {
    /// Sums by layer name, and in it by stretch of time, under its first day
    /// (of a month cut by the range, the first of that month). Versions of a
    /// layout count together, by the layers' names; own texts included.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn layer_series(
        &self,
        layout: &str,
        days: Days,
        step: Step,
    ) -> Result<BTreeMap<String, BTreeMap<i32, Figures>>, StoreError> {
        let cut = match step {
            Step::Month => days.cut(),
            Step::Day if days.from > days.to => Cut { months: None, days: Vec::new() },
            Step::Day => Cut { months: None, days: vec![(days.from, days.to)] },
        };
        let read = || -> Sql<_> {
            let mut series: BTreeMap<String, BTreeMap<i32, Figures>> = BTreeMap::new();
            for (months, first, last) in cut.pieces() {
                let mut statement = self.connection.prepare_cached(&sql(months, LAYERS))?;
                let mut rows = statement.query(params![layout, first, last])?;
                while let Some(row) = rows.next()? {
                    let time: i32 = row.get(5)?;
                    let at = match (months, step) {
                        (true, _) => first_day_of(time),
                        (false, Step::Month) => first_day_of(month_of(time)),
                        (false, Step::Day) => time,
                    };
                    let figures = series.entry(row.get(4)?).or_default().entry(at).or_default();
                    figures.add(&sums_of(row)?);
                    let active = row.get::<_, i64>(6)?.cast_unsigned();
                    figures.active = figures.active + Micros(active);
                }
            }
            Ok(series)
        };
        self.said(read())
    }

    /// Sums by item of the layout named `layout` over `days`, own texts
    /// included.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn item_figures(
        &self,
        layout: &str,
        days: Days,
    ) -> Result<BTreeMap<ItemName, Figures>, StoreError> {
        let read = || -> Sql<_> {
            let mut items: BTreeMap<ItemName, Figures> = BTreeMap::new();
            for (months, first, last) in days.cut().pieces() {
                let mut statement = self.connection.prepare_cached(&sql(months, ITEMS))?;
                let mut rows = statement.query(params![layout, first, last])?;
                while let Some(row) = rows.next()? {
                    let name = ItemName {
                        layer: row.get(4)?,
                        position: position_of(row.get(5)?),
                        output: row.get(6)?,
                    };
                    items.entry(name).or_default().add(&sums_of(row)?);
                }
            }
            Ok(items)
        };
        self.said(read())
    }

    /// Sums by (from, to), the names of two layers, over `days`; where both
    /// are the same, of staying on it. Own texts included.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn switch_figures(
        &self,
        layout: &str,
        days: Days,
    ) -> Result<BTreeMap<(String, String), Figures>, StoreError> {
        let read = || -> Sql<_> {
            let mut switches: BTreeMap<(String, String), Figures> = BTreeMap::new();
            for (months, first, last) in days.cut().pieces() {
                let mut statement = self.connection.prepare_cached(&sql(months, SWITCHES))?;
                let mut rows = statement.query(params![layout, first, last])?;
                while let Some(row) = rows.next()? {
                    let key = (row.get(4)?, row.get(5)?);
                    switches.entry(key).or_default().add(&sums_of(row)?);
                }
            }
            Ok(switches)
        };
        self.said(read())
    }

    /// The days of `days` on which anything was practised, on any layout, in
    /// order.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn practice_days(&self, days: Days) -> Result<Vec<PracticeDay>, StoreError> {
        // A session reaches into the days after its start, so one that began
        // the day before may have drills in the range; two days leave room for
        // offsets of local time.
        let from_ms = (i64::from(days.from) - 2).saturating_mul(86_400_000);
        let to_ms = (i64::from(days.to) + 2).saturating_mul(86_400_000);
        let read = || -> Sql<Vec<PracticeDay>> {
            // Summed up here: SQLite would sort all drills to group them.
            let mut statement = self.connection.prepare_cached(
                "SELECT (s.started_at_ms_utc + s.utc_offset_min * 60000 + d.started_at_us / 1000) \
                 / 86400000, d.n_keystrokes, d.active_us \
                 FROM sessions s CROSS JOIN drills d USING (session_id) \
                 WHERE s.started_at_ms_utc BETWEEN ?1 AND ?2",
            )?;
            let mut rows = statement.query(params![from_ms, to_ms])?;
            let mut by_day: BTreeMap<i32, PracticeDay> = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let day = row.get(0)?;
                if !(days.from..=days.to).contains(&day) {
                    continue;
                }
                let none = PracticeDay { day, n_drills: 0, n_keystrokes: 0, active: Micros::ZERO };
                let sums = by_day.entry(day).or_insert(none);
                sums.n_drills += 1;
                sums.n_keystrokes += row.get::<_, i64>(1)?.cast_unsigned();
                sums.active = sums.active + Micros(row.get::<_, i64>(2)?.cast_unsigned());
            }
            Ok(by_day.into_values().collect())
        };
        self.said(read())
    }

    /// The layers of the newest version of the layout named `layout` that was
    /// practised, in its order; empty where it never was.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn layers_of(&self, layout: &str) -> Result<Vec<(String, String)>, StoreError> {
        let read = || -> Sql<Vec<(String, String)>> {
            self.connection
                .prepare_cached(
                    "SELECT name, cluster_word FROM layers WHERE layout_id = \
                     (SELECT max(layout_id) FROM layouts WHERE name = ?1) ORDER BY layer",
                )?
                .query_map([layout], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect()
        };
        self.said(read())
    }

    /// The last day on which the layout named `layout` was practised; none
    /// where it never was.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn last_practised(&self, layout: &str) -> Result<Option<i32>, StoreError> {
        self.said(self.last_day(layout))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::wall_clock::day_from_text;

    #[test]
    fn a_range_is_cut_into_months_and_days_without_gap_or_overlap() {
        let day = |text: &str| day_from_text(text).unwrap();
        let start = day("2026-01-15");
        for from in start..start + 70 {
            for to in from - 1..from + 130 {
                let cut = Days { from, to }.cut();
                let mut seen: Vec<i32> =
                    cut.days.iter().flat_map(|&(first, last)| first..=last).collect();
                if let Some((first, last)) = cut.months {
                    seen.extend(first_day_of(first)..first_day_of(last + 1));
                }
                seen.sort_unstable();
                assert!(seen.iter().copied().eq(from..=to), "{from} to {to}: {cut:?}");
            }
        }
        let all = Days::up_to(day("2026-11-25")).cut();
        assert_eq!(all.days, [(day("2026-11-01"), day("2026-11-25"))]);
        assert!(all.months.is_some_and(|(first, _)| first < -1000));
        assert_eq!((Days { from: 3, to: 2 }).cut().pieces().count(), 0);
        Days { from: i32::MIN, to: i32::MAX }.cut();
        assert_eq!(Days::last(14, 20), Days { from: 7, to: 20 });
        assert_eq!((Days::last(14, 20).count(), Days { from: 1, to: 0 }.count()), (14, 0));
    }
}
