//! Sums by day and by month, kept as drills come in.
//!
//! Days are sums of keystrokes; months are merges of days. Merging sketches is
//! exact, so it makes no difference whether a month grew drill by drill or was
//! made anew.

use super::commit::{Outputs, int, sums_of};
use super::course;
use super::tally::{Sums, Tally};
use super::verify::raw_tallies;
use super::wall_clock::month_of;
use crate::order::Gather;
use rusqlite::{Connection, OptionalExtension, ToSql, Transaction, params_from_iter};
use std::collections::{BTreeMap, BTreeSet};

type Sql<T> = rusqlite::Result<T>;

/// Sums of one kind: a table of days and one of months, of the same columns
/// but for the one that tells the time.
pub(super) struct Rollup {
    /// Both names without their ending.
    stem: &'static str,
    /// The key, with `{time}` for the day or month.
    key: &'static [&'static str],
    /// Which of them is the time.
    time: usize,
    /// True where the rows hold active time.
    active: bool,
    /// What a fault calls it.
    pub word: &'static str,
}

/// By item.
const ITEMS: Rollup = Rollup {
    stem: "item",
    key: &["layout_id", "layer", TIME, "position_code", "output_id", "own"],
    time: 2,
    active: false,
    word: "an item",
};
/// By switch.
const SWITCHES: Rollup = Rollup {
    stem: "switch",
    key: &["layout_id", "from_layer", "to_layer", TIME, "own"],
    time: 3,
    active: false,
    word: "a switch",
};
/// By layer.
const LAYERS: Rollup = Rollup {
    stem: "layer",
    key: &["layout_id", "layer", TIME, "own"],
    time: 2,
    active: true,
    word: "a layer",
};
/// All of them.
pub(super) const ALL: [Rollup; 3] = [ITEMS, SWITCHES, LAYERS];

const TIME: &str = "{time}";

/// What a row stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Grain {
    Day,
    Month,
}

impl Rollup {
    fn table(&self, grain: Grain) -> String {
        match grain {
            Grain::Day => format!("{}_days", self.stem),
            Grain::Month => format!("{}_months", self.stem),
        }
    }

    fn columns(&self, grain: Grain) -> Vec<&'static str> {
        let time = match grain {
            Grain::Day => "day_local",
            Grain::Month => "month_local",
        };
        self.key.iter().map(|&column| if column == TIME { time } else { column }).collect()
    }

    /// Takes `more` into the row at `key`; returns what it holds now.
    fn add(
        &self,
        tx: &Transaction<'_>,
        grain: Grain,
        key: &[i64],
        more: &Sums,
        active_us: u64,
    ) -> Sql<Sums> {
        let (table, columns) = (self.table(grain), self.columns(grain));
        let at: Vec<String> = columns
            .iter()
            .enumerate()
            .map(|(n, column)| format!("{column} = ?{}", n + 1))
            .collect();
        let known = tx
            .prepare_cached(&format!(
                "SELECT n_keystrokes, n_hits, n_misses, latency_sketch FROM {table} WHERE {}",
                at.join(" AND ")
            ))?
            .query_row(params_from_iter(key), sums_of)
            .optional()?;
        let mut whole = more.clone();
        if let Some(known) = &known {
            whole.merge(known);
        }
        // Not REPLACE, which would forget the active time.
        let places: Vec<String> = (1..=columns.len() + 5).map(|n| format!("?{n}")).collect();
        let counts = ["n_keystrokes", "n_hits", "n_misses", "n_timed", "latency_sketch"];
        let sets: Vec<String> =
            counts.iter().map(|column| format!("{column} = excluded.{column}")).collect();
        let sql = format!(
            "INSERT INTO {table} ({}, {}) VALUES ({}) ON CONFLICT DO UPDATE SET {}",
            columns.join(", "),
            counts.join(", "),
            places.join(", "),
            sets.join(", ")
        );
        let (hits, misses) = (int(whole.n_hits), int(whole.n_misses));
        let (all, timed) = (int(whole.n_keystrokes), int(whole.latency.count()));
        let sketch = whole.latency.to_bytes();
        let mut values: Vec<&dyn ToSql> = key.iter().map(|part| part as &dyn ToSql).collect();
        values.extend::<[&dyn ToSql; 5]>([&all, &hits, &misses, &timed, &sketch]);
        tx.prepare_cached(&sql)?.execute(&*values)?;
        if self.active && active_us > 0 {
            let mut values: Vec<i64> = key.to_vec();
            values.push(int(active_us));
            tx.prepare_cached(&format!(
                "UPDATE {table} SET active_us = active_us + ?{} WHERE {}",
                values.len(),
                at.join(" AND ")
            ))?
            .execute(params_from_iter(values))?;
        }
        Ok(whole)
    }

    /// Takes `more` into the day at `key` and, where `months` says so, into
    /// its month; returns what the day holds now.
    fn add_day(
        &self,
        tx: &Transaction<'_>,
        key: &mut [i64],
        more: &Sums,
        active_us: u64,
        months: bool,
    ) -> Sql<Sums> {
        let whole = self.add(tx, Grain::Day, key, more, active_us)?;
        if months {
            let day = i32::try_from(key[self.time]).unwrap_or(0);
            key[self.time] = month_of(day).into();
            self.add(tx, Grain::Month, key, more, active_us)?;
        }
        Ok(whole)
    }

    /// The rows of `grain`, as sums by month; damaged ones are left out.
    fn by_month(&self, connection: &Connection, grain: Grain) -> Sql<BTreeMap<Vec<i64>, Whole>> {
        let active = if self.active { "active_us" } else { "0" };
        let sql = format!(
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, {active}, {} FROM {}",
            self.columns(grain).join(", "),
            self.table(grain)
        );
        let mut found: BTreeMap<Vec<i64>, Whole> = BTreeMap::new();
        let mut statement = connection.prepare(&sql)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let mut key: Vec<i64> =
                (0..self.key.len()).map(|n| row.get(5 + n)).collect::<Sql<_>>()?;
            if grain == Grain::Day {
                let day = i32::try_from(key[self.time]).unwrap_or(0);
                key[self.time] = month_of(day).into();
            }
            let sums = match sums_of(row) {
                Ok(sums) => sums,
                Err(rusqlite::Error::FromSqlConversionFailure(..)) => continue,
                Err(error) => return Err(error),
            };
            let active_us: i64 = row.get(4)?;
            let whole = found.entry(key).or_default();
            whole.sums.merge(&sums);
            whole.active_us += active_us.cast_unsigned();
        }
        Ok(found)
    }

    /// How many months differ from the merge of their days.
    pub fn wrong_months(&self, connection: &Connection) -> Sql<usize> {
        let days = self.by_month(connection, Grain::Day)?;
        let months = self.by_month(connection, Grain::Month)?;
        let wrong = days.iter().filter(|(key, whole)| months.get(*key) != Some(whole)).count();
        Ok(wrong + months.keys().filter(|key| !days.contains_key(*key)).count())
    }

    fn fill_months(&self, tx: &Transaction<'_>) -> Sql<()> {
        tx.execute(&format!("DELETE FROM {}", self.table(Grain::Month)), [])?;
        for (key, whole) in self.by_month(tx, Grain::Day)? {
            self.add(tx, Grain::Month, &key, &whole.sums, whole.active_us)?;
        }
        Ok(())
    }
}

#[derive(Debug, Default, PartialEq)]
struct Whole {
    sums: Sums,
    active_us: u64,
}

/// Adds `sums` of one drill to the sums of their days and months.
pub(super) fn add(
    tx: &Transaction<'_>,
    outputs: &mut Outputs,
    layout_id: i64,
    sums: &Tally,
    own: bool,
) -> Sql<()> {
    add_tally(tx, outputs, layout_id, sums, own, true)
}

fn add_tally(
    tx: &Transaction<'_>,
    outputs: &mut Outputs,
    layout_id: i64,
    sums: &Tally,
    own: bool,
    months: bool,
) -> Sql<()> {
    // In the order of the alphabet: the order of the dictionary must not tell
    // in which order a text of the person's own brought them.
    for output in sums.items.keys().map(|key| &key.output).gather::<BTreeSet<_>>() {
        outputs.id(tx, output)?;
    }
    let own = i64::from(own);
    for (key, sums) in &sums.items {
        let (day, code) = (key.day_local.into(), key.position_code.into());
        let output_id = outputs.id(tx, &key.output)?;
        let mut at = [layout_id, key.layer.into(), day, code, output_id, own];
        let whole = ITEMS.add_day(tx, &mut at, sums, 0, months)?;
        if months {
            let item = [layout_id, key.layer.into(), code, output_id];
            course::put(tx, item, key.day_local, &whole, own)?;
        }
    }
    for (key, sums) in &sums.switches {
        let day = key.day_local.into();
        let mut at = [layout_id, key.from.into(), key.to.into(), day, own];
        SWITCHES.add_day(tx, &mut at, sums, 0, months)?;
    }
    for (key, whole) in &sums.layers {
        let mut at = [layout_id, key.layer.into(), key.day_local.into(), own];
        LAYERS.add_day(tx, &mut at, &whole.sums, whole.active_us, months)?;
    }
    Ok(())
}

/// Makes the sums of shipped drills anew from the raw keystrokes, and all
/// months and courses from their days. Days of the person's own texts stay, since nothing
/// else is kept of them.
pub(super) fn rebuild(tx: &Transaction<'_>) -> Sql<()> {
    for rollup in ALL {
        tx.execute(&format!("DELETE FROM {} WHERE own = 0", rollup.table(Grain::Day)), [])?;
    }
    let mut outputs = Outputs::default();
    raw_tallies(tx, |layout_id, tally| {
        add_tally(tx, &mut outputs, layout_id, tally, false, false)
    })?;
    for rollup in ALL {
        rollup.fill_months(tx)?;
    }
    course::fill(tx)
}

/// Fills what schema 2 brought: layers from raw keystrokes or, for the
/// person's own texts, from their items (their active time is not known), and
/// all months from days.
pub(super) fn fill(tx: &Transaction<'_>) -> Sql<()> {
    raw_tallies(tx, |layout_id, tally| {
        for (key, whole) in &tally.layers {
            let at = [layout_id, key.layer.into(), key.day_local.into(), 0];
            LAYERS.add(tx, Grain::Day, &at, &whole.sums, whole.active_us)?;
        }
        Ok(())
    })?;
    let mut own: BTreeMap<Vec<i64>, Sums> = BTreeMap::new();
    let mut statement = tx.prepare(
        "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, layout_id, layer, day_local \
         FROM item_days WHERE own = 1",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let key = vec![row.get(4)?, row.get(5)?, row.get(6)?, 1];
        match sums_of(row) {
            Ok(sums) => own.entry(key).or_default().merge(&sums),
            // A damaged row must not lock the person out; `etude data` tells it.
            Err(rusqlite::Error::FromSqlConversionFailure(..)) => {}
            Err(error) => return Err(error),
        }
    }
    for (key, sums) in &own {
        LAYERS.add(tx, Grain::Day, key, sums, 0)?;
    }
    for rollup in ALL {
        rollup.fill_months(tx)?;
    }
    Ok(())
}
