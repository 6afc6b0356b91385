//! Whether the database is sound, and its sums true.

use super::commit::sums_of;
use super::error::StoreError;
use super::record::{Row, timed, verdict_of};
use super::sketch::Sketch;
use super::tally::{Sums, Tally, active_us};
use super::wall_clock::{WallTime, day_text};
use super::{Store, course, recall, rollup, schema};
use crate::order::InOrder;
use crate::session::Verdict;
use crate::units::Micros;
use rusqlite::{Connection, TransactionBehavior};
use std::collections::HashMap;
use std::hash::Hash;
use std::path::PathBuf;

type Sql<T> = rusqlite::Result<T>;

/// At most so many faults are told one by one.
const TOLD: usize = 20;

/// What a thorough check found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Integrity {
    /// In words; empty where the database is sound.
    pub faults: Vec<String>,
    /// True where the file itself is at fault: then nothing is known of the
    /// sums, and making them anew doesn't help.
    pub damaged: bool,
    /// False where the sums were not checked: the file is at fault, or is still
    /// to be brought up to date by the next opening that may write.
    pub sums_checked: bool,
}

impl Integrity {
    /// True where nothing was found.
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }
}

impl Store {
    /// SQLite's own checks, references, and the sums against the raw
    /// keystrokes. Reads everything: a second or more for years of practice.
    ///
    /// # Errors
    /// Where the database can't be read at all.
    pub fn integrity(&self) -> Result<Integrity, StoreError> {
        let mut faults = Vec::new();
        let mut check = || -> rusqlite::Result<()> {
            let mut statement = self.connection.prepare("PRAGMA integrity_check(20)")?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let word: String = row.get(0)?;
                if word != "ok" {
                    faults.push(word);
                }
            }
            let mut statement = self.connection.prepare("PRAGMA foreign_key_check")?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let (table, parent): (String, String) = (row.get(0)?, row.get(2)?);
                faults.push(format!("a row of {table} refers to a row of {parent} that is gone"));
            }
            Ok(())
        };
        self.said(check())?;
        let damaged = !faults.is_empty();
        let sums_checked = !damaged && self.is_up_to_date()?;
        if sums_checked {
            faults = self.verify_rollups()?;
        }
        let more = faults.len().saturating_sub(TOLD);
        faults.truncate(TOLD);
        if more > 0 {
            faults.push(format!("and {more} more"));
        }
        Ok(Integrity { faults, damaged, sums_checked })
    }

    /// The sums that differ from those made anew from the raw keystrokes, in
    /// words; empty where all agree. Sums from the person's own texts have no
    /// raw keystrokes; of them only the form is checked.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn verify_rollups(&self) -> Result<Vec<String>, StoreError> {
        let mut faults = Vec::new();
        self.said(self.compare(&mut faults))?;
        Ok(faults)
    }

    /// Makes the sums of shipped drills anew from the raw keystrokes, and all
    /// months and courses from their days, after a copy of the database, whose
    /// path it returns. Days of the person's own texts stay as they are, since
    /// nothing else is kept of them.
    ///
    /// # Errors
    /// Where the database can't be copied or written.
    pub fn rebuild_rollups(&mut self) -> Result<PathBuf, StoreError> {
        let path = self.path.clone();
        let copy = schema::backup(&self.connection, &path, "before-rebuild")?;
        let mut rebuild = || -> rusqlite::Result<()> {
            let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            rollup::rebuild(&tx)?;
            recall::rebuild(&tx)?;
            // Worked out again from the keystrokes when it is next needed.
            tx.execute("DELETE FROM models", [])?;
            tx.commit()
        };
        rebuild().map_err(|error| StoreError::of(&path, &error))?;
        Ok(copy)
    }

    fn compare(&self, faults: &mut Vec<String>) -> Sql<()> {
        let raw = Raw::read(&self.connection)?;
        let outputs = output_texts(&self.connection)?;
        let text = |id: i64| outputs.get(&id).map_or("?", String::as_str);
        self.against(
            raw.items,
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, 0, \
             layout_id, layer, day_local, position_code, output_id FROM item_days",
            |row| Ok((row.get(7)?, row.get(8)?, row.get(9)?, row.get(10)?, row.get(11)?)),
            |&(_, _, day, _, output)| format!("'{}' on {}", text(output), day_text(day)),
            faults,
        )?;
        self.against(
            raw.switches,
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, 0, \
             layout_id, from_layer, to_layer, day_local FROM switch_days",
            |row| Ok((row.get(7)?, row.get(8)?, row.get(9)?, row.get(10)?)),
            |&(_, from, to, day)| {
                format!("the switch from layer {from} to {to} on {}", day_text(day))
            },
            faults,
        )?;
        self.against(
            raw.layers,
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, active_us, \
             layout_id, layer, day_local FROM layer_days",
            |row| Ok((row.get(7)?, row.get(8)?, row.get(9)?)),
            |&(_, layer, day)| format!("layer {layer} on {}", day_text(day)),
            faults,
        )?;
        for kind in rollup::ALL {
            match kind.wrong_months(&self.connection)? {
                0 => {}
                n => faults.push(format!(
                    "{n} sums of {} over a month differ from those of its days",
                    kind.word
                )),
            }
        }
        match course::wrong(&self.connection)? {
            0 => {}
            n => faults.push(format!("{n} months of items differ from their days")),
        }
        match recall::differences(&self.connection)? {
            0 => {}
            n => faults.push(format!("{n} answers to actions differ from the keystrokes")),
        }
        let mut statement = self.connection.prepare(
            "SELECT d.drill_id, d.n_keystrokes, count(k.seq) FROM drills d \
             LEFT JOIN keystrokes k USING (drill_id) WHERE d.source_word <> 'own' \
             GROUP BY d.drill_id HAVING d.n_keystrokes <> count(k.seq)",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let (id, told, there): (i64, i64, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
            faults.push(format!("drill {id} tells of {told} keystrokes, {there} are there"));
        }
        Ok(())
    }

    /// Compares the rows of `sql`, a row at a time, with `raw`; `key` and `name`
    /// tell what a row is of.
    fn against<K: Eq + Hash + Ord>(
        &self,
        mut raw: HashMap<K, Plain>,
        sql: &str,
        key: impl Fn(&rusqlite::Row<'_>) -> Sql<K>,
        name: impl Fn(&K) -> String,
        faults: &mut Vec<String>,
    ) -> Sql<()> {
        let mut statement = self.connection.prepare(sql)?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let key = key(row)?;
            let sums = sound_sums(row, faults, || name(&key))?;
            if row.get::<_, bool>(5)? {
                // Of the person's own texts nothing else is kept.
                continue;
            }
            let plain = raw.remove(&key);
            match (sums, plain) {
                (None, _) => {}
                (Some(_), None) => {
                    faults.push(format!("the sums of {} have no keystrokes", name(&key)));
                }
                (Some(sums), Some(plain)) => {
                    let active_us = row.get::<_, i64>(6)?.cast_unsigned();
                    if !plain.gives(&sums, active_us) {
                        faults.push(format!("the sums of {} are wrong", name(&key)));
                    }
                }
            }
        }
        let mut missing: Vec<K> = raw.into_keys().collect();
        missing.order_by(Ord::cmp);
        let told = missing.iter().map(|key| format!("the sums of {} are missing", name(key)));
        faults.extend(told);
        Ok(())
    }

    /// True where the session is in the database.
    pub(super) fn knows(&self, session: &super::record::SessionRecord) -> bool {
        self.connection
            .prepare_cached("SELECT 1 FROM sessions WHERE uid = ?1")
            .and_then(|mut statement| statement.exists([session.uid.0.as_slice()]))
            // Where it can't be read, the commit that follows says why.
            .unwrap_or(true)
    }

    /// True where the database has the newest schema.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn is_up_to_date(&self) -> Result<bool, StoreError> {
        Ok(self.schema()? == schema::SCHEMA)
    }
}

/// The sums in a row; none, and a fault, where they are damaged.
fn sound_sums(
    row: &rusqlite::Row<'_>,
    faults: &mut Vec<String>,
    what: impl Fn() -> String,
) -> Sql<Option<Sums>> {
    match sums_of(row) {
        Ok(sums) if sums.latency.count() == row.get::<_, i64>(4)?.cast_unsigned() => Ok(Some(sums)),
        Ok(_) => {
            faults.push(format!("the sums of {} don't agree with themselves", what()));
            Ok(None)
        }
        Err(rusqlite::Error::FromSqlConversionFailure(..)) => {
            faults.push(format!("the latencies of {} are damaged", what()));
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// Sums of raw keystrokes, as small as can be: ten years have a third of a
/// million of them, and a sketch of each would take half a gigabyte.
#[derive(Debug, Default)]
struct Plain {
    n_keystrokes: u32,
    n_hits: u32,
    n_misses: u32,
    active_us: u64,
    timed_us: Vec<u32>,
}

impl Plain {
    fn add(&mut self, row: &Row) {
        self.n_keystrokes += 1;
        match verdict_of(row.verdict_code) {
            Some(Verdict::Hit) => self.n_hits += 1,
            Some(Verdict::Miss) => self.n_misses += 1,
            Some(Verdict::Repair) | None => {}
        }
        let latency = timed(row.verdict_code, row.flag_bits, row.latency_us);
        self.timed_us.extend(latency.map(|latency| u32::try_from(latency.0).unwrap_or(u32::MAX)));
    }

    /// True where these are the keystrokes of `sums`.
    fn gives(&self, sums: &Sums, active_us: u64) -> bool {
        let mut latency = Sketch::default();
        for &us in &self.timed_us {
            latency.add(Micros(us.into()));
        }
        let (n_hits, n_misses) = (self.n_hits.into(), self.n_misses.into());
        let made = Sums { n_keystrokes: self.n_keystrokes.into(), n_hits, n_misses, latency };
        made == *sums && self.active_us == active_us
    }
}

/// Sums of all raw keystrokes, keyed as the tables are.
#[derive(Debug, Default)]
struct Raw {
    /// Layout, layer, day, key, output.
    items: HashMap<(i64, u8, i32, u16, i64), Plain>,
    /// Layout, from, to, day.
    switches: HashMap<(i64, u8, u8, i32), Plain>,
    /// Layout, layer, day.
    layers: HashMap<(i64, u8, i32), Plain>,
}

impl Raw {
    fn read(connection: &Connection) -> Sql<Self> {
        let mut raw = Self::default();
        each_keystroke(connection, |layout, started, output, row| {
            let (day, layer) = (started.day_local(row.at_us), row.layer);
            raw.items.entry((layout, layer, day, row.position_code, output)).or_default().add(row);
            raw.switches.entry((layout, row.previous_layer, layer, day)).or_default().add(row);
            let whole = raw.layers.entry((layout, layer, day)).or_default();
            whole.add(row);
            whole.active_us = whole.active_us.saturating_add(active_us(row));
            Ok(())
        })?;
        Ok(raw)
    }
}

/// The texts of all outputs, by their number.
fn output_texts(connection: &Connection) -> Sql<HashMap<i64, String>> {
    let mut statement = connection.prepare("SELECT output_id, text FROM outputs")?;
    statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
}

/// Shows `visit` every raw keystroke with its layout, the start of its session
/// and the number of what was due; texts are left out of the row.
fn each_keystroke(
    connection: &Connection,
    mut visit: impl FnMut(i64, WallTime, i64, &Row) -> Sql<()>,
) -> Sql<()> {
    // CROSS JOIN keeps SQLite to this order: one look-up a drill, not two a
    // keystroke.
    let mut statement = connection.prepare(
        "SELECT s.layout_id, s.started_at_ms_utc, s.utc_offset_min, k.expected_id, k.at_us, \
         k.verdict_code, k.latency_us, k.layer, k.previous_layer, k.position_code, k.flag_bits \
         FROM sessions s CROSS JOIN drills d USING (session_id) \
         CROSS JOIN keystrokes k USING (drill_id)",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let started = WallTime { ms_utc: row.get(1)?, utc_offset_min: row.get(2)? };
        let stroke = Row {
            seq: 0,
            prompt: 0,
            place: 0,
            at_us: row.get::<_, i64>(4)?.cast_unsigned(),
            expected: String::new(),
            got: String::new(),
            verdict_code: row.get(5)?,
            latency_us: row.get::<_, Option<i64>>(6)?.map(i64::cast_unsigned),
            reach_us: None,
            down_us: None,
            layer: row.get(7)?,
            previous_layer: row.get(8)?,
            position_code: row.get(9)?,
            finger_code: 0,
            flag_bits: row.get(10)?,
        };
        visit(row.get(0)?, started, row.get(3)?, &stroke)?;
    }
    Ok(())
}

/// So many sums of items are held at once by [`raw_tallies`].
const HELD: usize = 20_000;

/// Hands the sums of all raw keystrokes to `take`, by layout and in parts: sums
/// of one day may come in two of them.
pub(super) fn raw_tallies(
    connection: &Connection,
    mut take: impl FnMut(i64, &Tally) -> Sql<()>,
) -> Sql<()> {
    let outputs = output_texts(connection)?;
    let mut held: (i64, Tally) = (0, Tally::default());
    each_keystroke(connection, |layout, started, output, row| {
        if layout != held.0 || held.1.items.len() >= HELD {
            let (layout, whole) = std::mem::replace(&mut held, (layout, Tally::default()));
            take(layout, &whole)?;
        }
        let expected = outputs.get(&output).cloned().unwrap_or_default();
        held.1.add(started, &Row { expected, ..row.clone() });
        Ok(())
    })?;
    take(held.0, &held.1)
}
