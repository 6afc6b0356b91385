//! The days of every item, counts and medians alone, fast over many years.
//!
//! A row of `item_courses` holds a month of an item. Its days are packed one
//! after another, each as five unsigned LEB128 numbers (as in DWARF 5, §7.6):
//! days since the first of the month, hits, misses, latencies that count, and
//! their median in microseconds, 0 where none counts. Days are in order, each
//! at most once.

use super::Store;
use super::commit::sums_of;
use super::error::StoreError;
use super::ranges::{Days, ItemName};
use super::record::position_of;
use super::tally::Sums;
use super::versions::still_so;
use super::wall_clock::{first_day_of, month_of};
use crate::order::{Gather, InOrder};
use crate::units::Micros;
use rusqlite::types::Type;
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use std::collections::{BTreeMap, BTreeSet};

type Sql<T> = rusqlite::Result<T>;

/// What is known of an item on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ItemDay {
    /// The local day, in days since 1970-01-01.
    pub day: i32,
    /// Hits: how often it was done.
    pub n_hits: u32,
    /// Misses.
    pub n_misses: u32,
    /// Latencies that count.
    pub n_timed: u32,
    /// Their median within 1 %; zero where there are none.
    pub median: Micros,
}

impl ItemDay {
    fn of(day: i32, sums: &Sums) -> Self {
        let count = |n: u64| u32::try_from(n).unwrap_or(u32::MAX);
        Self {
            day,
            n_hits: count(sums.n_hits),
            n_misses: count(sums.n_misses),
            n_timed: count(sums.latency.count()),
            median: sums.latency.median().unwrap_or(Micros::ZERO),
        }
    }
}

/// An item of one version of a layout, in the order of the table's key.
type Key = [i64; 4];

fn push(bytes: &mut Vec<u8>, mut value: u64) {
    loop {
        let low = (value & 0x7f) as u8;
        value >>= 7;
        if value == 0 {
            return bytes.push(low);
        }
        bytes.push(low | 0x80);
    }
}

fn pull(bytes: &mut &[u8]) -> Option<u64> {
    let mut value = 0_u64;
    for shift in (0..64).step_by(7) {
        let (&byte, rest) = bytes.split_first()?;
        *bytes = rest;
        value |= u64::from(byte & 0x7f) << shift;
        if byte & 0x80 == 0 {
            return Some(value);
        }
    }
    None
}

fn pack(month: i32, days: &[ItemDay]) -> Vec<u8> {
    let first = first_day_of(month);
    let mut bytes = Vec::with_capacity(days.len() * 9);
    for day in days {
        push(&mut bytes, u64::from(day.day.abs_diff(first)));
        push(&mut bytes, day.n_hits.into());
        push(&mut bytes, day.n_misses.into());
        push(&mut bytes, day.n_timed.into());
        push(&mut bytes, day.median.0);
    }
    bytes
}

/// Adds the days of `bytes` to `days`; none where they are damaged.
fn unpack(month: i32, mut bytes: &[u8], days: &mut Vec<ItemDay>) -> Option<()> {
    let first = first_day_of(month);
    while !bytes.is_empty() {
        let mut next = || pull(&mut bytes);
        let offset = i32::try_from(next()?).ok().filter(|offset| *offset < 31)?;
        let mut count = || u32::try_from(next()?).ok();
        let (n_hits, n_misses, n_timed) = (count()?, count()?, count()?);
        let median = Micros(next()?);
        days.push(ItemDay { day: first + offset, n_hits, n_misses, n_timed, median });
    }
    Some(())
}

fn damaged(column: usize) -> rusqlite::Error {
    let words = "the days of an item are damaged; `etude data` tells more";
    rusqlite::Error::FromSqlConversionFailure(column, Type::Blob, words.into())
}

/// Takes note that `sums` is all of the item's `day` from shipped drills, or,
/// where `own` is 1, from own texts.
pub(super) fn put(tx: &Transaction<'_>, key: Key, day: i32, sums: &Sums, own: i64) -> Sql<()> {
    let [layout_id, layer, position_code, output_id] = key;
    let mut whole = sums.clone();
    let other = tx
        .prepare_cached(
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch FROM item_days \
             WHERE layout_id = ?1 AND layer = ?2 AND day_local = ?3 AND position_code = ?4 \
             AND output_id = ?5 AND own = ?6",
        )?
        .query_row(params![layout_id, layer, day, position_code, output_id, 1 - own], sums_of)
        .optional()?;
    if let Some(other) = &other {
        whole.merge(other);
    }
    let month = month_of(day);
    let known: Option<Vec<u8>> = tx
        .prepare_cached(
            "SELECT days_packed FROM item_courses WHERE layout_id = ?1 AND layer = ?2 \
             AND position_code = ?3 AND output_id = ?4 AND month_local = ?5",
        )?
        .query_row(params![layout_id, layer, position_code, output_id, month], |row| row.get(0))
        .optional()?;
    let mut days = Vec::new();
    // Damaged ones are replaced by what is left: they must not keep a drill out.
    let _ = unpack(month, known.as_deref().unwrap_or_default(), &mut days);
    let of_day = ItemDay::of(day, &whole);
    match days.binary_search_by_key(&day, |known| known.day) {
        Ok(at) => days[at] = of_day,
        Err(at) => days.insert(at, of_day),
    }
    insert(tx, key, month, &days)
}

fn insert(tx: &Transaction<'_>, key: Key, month: i32, days: &[ItemDay]) -> Sql<()> {
    let [layout_id, layer, position_code, output_id] = key;
    tx.prepare_cached(
        "INSERT INTO item_courses (layout_id, layer, position_code, output_id, month_local, \
         days_packed) VALUES (?1, ?2, ?3, ?4, ?5, ?6) \
         ON CONFLICT DO UPDATE SET days_packed = excluded.days_packed",
    )?
    .execute(params![layout_id, layer, position_code, output_id, month, pack(month, days)])?;
    Ok(())
}

/// The months of all items, from the daily sums; damaged ones are left out.
fn months(connection: &Connection) -> Sql<BTreeMap<(Key, i32), Vec<ItemDay>>> {
    let mut found: BTreeMap<(Key, i32), Vec<ItemDay>> = BTreeMap::new();
    let mut keep = |key: Key, day: i32, sums: &Sums| {
        found.entry((key, month_of(day))).or_default().push(ItemDay::of(day, sums));
    };
    // In the order of the key, so that own texts come right after shipped
    // drills, and the days of an item in their order.
    let mut statement = connection.prepare(
        "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, layout_id, layer, \
         position_code, output_id, day_local FROM item_days \
         ORDER BY layout_id, layer, day_local, position_code, output_id, own",
    )?;
    let mut rows = statement.query([])?;
    let mut last: Option<(Key, i32, Sums)> = None;
    while let Some(row) = rows.next()? {
        let sums = match sums_of(row) {
            Ok(sums) => sums,
            // A damaged row must not lock the person out; `etude data` tells it.
            Err(rusqlite::Error::FromSqlConversionFailure(..)) => continue,
            Err(error) => return Err(error),
        };
        let key = [row.get(4)?, row.get(5)?, row.get(6)?, row.get(7)?];
        let day = row.get(8)?;
        match &mut last {
            Some((known, at, whole)) if (*known, *at) == (key, day) => whole.merge(&sums),
            _ => {
                if let Some((key, day, sums)) = last.replace((key, day, sums)) {
                    keep(key, day, &sums);
                }
            }
        }
    }
    if let Some((key, day, sums)) = last {
        keep(key, day, &sums);
    }
    Ok(found)
}

/// Makes all courses anew from the daily sums.
pub(super) fn fill(tx: &Transaction<'_>) -> Sql<()> {
    tx.execute("DELETE FROM item_courses", [])?;
    for ((key, month), days) in months(tx)? {
        insert(tx, key, month, &days)?;
    }
    Ok(())
}

/// How many months of items differ from their daily sums.
pub(super) fn wrong(connection: &Connection) -> Sql<usize> {
    let mut expected = months(connection)?;
    let mut wrong = 0;
    let mut statement = connection.prepare(
        "SELECT layout_id, layer, position_code, output_id, month_local, days_packed \
         FROM item_courses",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let key = [row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?];
        let month = row.get(4)?;
        let mut days = Vec::new();
        let whole = unpack(month, row.get_ref(5)?.as_blob()?, &mut days);
        let right = expected.remove(&(key, month));
        wrong += usize::from(whole.is_none() || right.as_ref() != Some(&days));
    }
    Ok(wrong + expected.len())
}

// In the order of the key, which goes straight to the months in question.
pub(super) const COURSES: &str = concat!(
    "SELECT l.name, i.layer, i.position_code, i.output_id, \
     i.month_local, i.days_packed FROM layouts y CROSS JOIN layers l USING (layout_id) \
     CROSS JOIN item_courses i ON i.layout_id = l.layout_id AND i.layer = l.layer \
     WHERE y.name = ?1 AND i.month_local BETWEEN ?2 AND ?3",
    still_so!()
);

impl Store {
    /// The days in `days` on which each item of the layout named `layout` was
    /// practised, oldest first: counts and medians. Versions of a layout count
    /// together, by the layers' names; own texts included.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn item_days(
        &self,
        layout: &str,
        days: Days,
    ) -> Result<BTreeMap<ItemName, Vec<ItemDay>>, StoreError> {
        let mut items = self.said(self.item_days_inner(layout, days))?;
        // A day on which two versions of the layout were practised stands
        // twice: its median needs the sketches.
        let twice: BTreeSet<i32> = items
            .values()
            .flat_map(|days| days.windows(2).filter(|pair| pair[0].day == pair[1].day))
            .map(|pair| pair[0].day)
            .gather();
        for day in twice {
            for (name, figures) in self.item_figures(layout, Days { from: day, to: day })? {
                let Some(days) = items.get_mut(&name) else { continue };
                let sums = Sums {
                    n_keystrokes: figures.n_keystrokes,
                    n_hits: figures.n_hits,
                    n_misses: figures.n_misses,
                    latency: figures.latency,
                };
                let start = days.partition_point(|known| known.day < day);
                let end = days.partition_point(|known| known.day <= day);
                days.splice(start..end, [ItemDay::of(day, &sums)]);
            }
        }
        Ok(items)
    }

    fn item_days_inner(&self, layout: &str, days: Days) -> Sql<BTreeMap<ItemName, Vec<ItemDay>>> {
        let mut items: BTreeMap<ItemName, Vec<ItemDay>> = BTreeMap::new();
        let mut keep = |name: ItemName, found: &mut Vec<ItemDay>| {
            found.retain(|day| (days.from..=days.to).contains(&day.day));
            if found.is_empty() {
                return;
            }
            match items.get_mut(&name) {
                // The same item of another version of the layout.
                Some(known) => {
                    known.append(found);
                    known.order_by_key(|day| day.day);
                }
                None => drop(items.insert(name, std::mem::take(found))),
            }
            found.clear();
        };
        let mut outputs: BTreeMap<i64, String> = BTreeMap::new();
        let mut statement =
            self.connection.prepare_cached("SELECT output_id, text FROM outputs")?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            outputs.insert(row.get(0)?, row.get(1)?);
        }
        // No earlier or later day has a place in the calendar.
        let (first, last) = (days.from.max(-1_000_000), days.to.min(90_000_000));
        let mut statement = self.connection.prepare_cached(COURSES)?;
        let mut rows = statement.query(params![layout, month_of(first), month_of(last)])?;
        let mut current: Option<((i64, i64, i64), ItemName)> = None;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let key = (row.get(1)?, row.get(2)?, row.get(3)?);
            let layer = row.get_ref(0)?.as_str()?;
            let same = |(known, name): &(_, ItemName)| *known == key && name.layer == layer;
            if !current.as_ref().is_some_and(same) {
                let name = ItemName {
                    layer: layer.to_owned(),
                    position: position_of(row.get(2)?),
                    output: outputs.get(&key.2).cloned().unwrap_or_default(),
                };
                if let Some((_, name)) = current.replace((key, name)) {
                    keep(name, &mut found);
                }
            }
            let blob = row.get_ref(5)?.as_blob()?;
            unpack(row.get(4)?, blob, &mut found).ok_or_else(|| damaged(5))?;
        }
        if let Some((_, name)) = current {
            keep(name, &mut found);
        }
        Ok(items)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn packed_days_read_back_and_cut_ones_dont_pass_for_whole(
            month in -12..900_i32,
            days in prop::collection::btree_map(
                0..28_i32,
                (any::<u32>(), 0..300_u32, any::<u32>(), 0..u64::MAX),
                0..12,
            ),
        ) {
            let days: Vec<ItemDay> = days
                .into_iter()
                .map(|(offset, (n_hits, n_misses, n_timed, median))| ItemDay {
                    day: first_day_of(month) + offset,
                    n_hits,
                    n_misses,
                    n_timed,
                    median: Micros(median),
                })
                .collect();
            let bytes = pack(month, &days);
            let mut back = Vec::new();
            prop_assert_eq!(unpack(month, &bytes, &mut back), Some(()));
            prop_assert_eq!(&back, &days);
            for end in 0..bytes.len() {
                let mut cut = Vec::new();
                let whole = unpack(month, &bytes[..end], &mut cut).is_some();
                prop_assert!(cut.len() < days.len());
                prop_assert_eq!(&cut[..], &days[..cut.len()]);
                prop_assert!(!whole || pack(month, &cut).len() == end);
            }
        }
    }
}
