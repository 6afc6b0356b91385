//! Whether the database is sound, and its sums true.

use super::commit::sums_of;
use super::course;
use super::error::StoreError;
use super::record::Row;
use super::rollup;
use super::tally::{ItemKey, LayerKey, LayerSums, Sums, SwitchKey, Tally};
use super::wall_clock::{WallTime, day_text};
use super::{Store, schema};
use rusqlite::TransactionBehavior;
use std::collections::{BTreeMap, BTreeSet};

/// At most so many faults are told one by one.
const TOLD: usize = 20;

/// What a thorough check found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Integrity {
    /// In words; empty where the database is sound.
    pub faults: Vec<String>,
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
        if faults.is_empty() {
            faults = self.verify_rollups()?;
        }
        faults.truncate(TOLD);
        Ok(Integrity { faults })
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

    /// Makes the sums of shipped drills anew from the raw keystrokes.
    ///
    /// # Errors
    /// Where the database can't be written.
    pub fn rebuild_rollups(&mut self) -> Result<(), StoreError> {
        let path = self.path.clone();
        let mut rebuild = || -> rusqlite::Result<()> {
            let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            rollup::rebuild(&tx)?;
            // Worked out again from the keystrokes when it is next needed.
            tx.execute("DELETE FROM models", [])?;
            tx.commit()
        };
        rebuild().map_err(|error| StoreError::of(&path, &error))
    }

    fn compare(&self, faults: &mut Vec<String>) -> rusqlite::Result<()> {
        let raw = raw_tallies(&self.connection)?;
        let kept = self.kept_tallies(faults)?;
        let layouts: BTreeSet<i64> = raw.keys().chain(kept.keys()).copied().collect();
        let none = Tally::default();
        for layout in layouts {
            let raw = raw.get(&layout).unwrap_or(&none);
            let kept = kept.get(&layout).unwrap_or(&none);
            differences(&raw.items, &kept.items, faults, |key| {
                format!("'{}' on {}", key.output, day_text(key.day_local))
            });
            differences(&raw.switches, &kept.switches, faults, |key| {
                format!(
                    "the switch from layer {} to {} on {}",
                    key.from,
                    key.to,
                    day_text(key.day_local)
                )
            });
            differences(&raw.layers, &kept.layers, faults, |key| {
                format!("layer {} on {}", key.layer, day_text(key.day_local))
            });
        }
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

    /// The kept sums of shipped drills by layout; notes damaged ones.
    fn kept_tallies(&self, faults: &mut Vec<String>) -> rusqlite::Result<BTreeMap<i64, Tally>> {
        let mut tallies: BTreeMap<i64, Tally> = BTreeMap::new();
        let mut statement = self.connection.prepare(
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, layout_id, \
             day_local, layer, position_code, text FROM item_days JOIN outputs USING (output_id)",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let key = ItemKey {
                day_local: row.get(7)?,
                layer: row.get(8)?,
                position_code: row.get(9)?,
                output: row.get(10)?,
            };
            let Some(sums) = sound_sums(row, faults, &key.output)? else { continue };
            if !row.get::<_, bool>(5)? {
                tallies.entry(row.get(6)?).or_default().items.insert(key, sums);
            }
        }
        let mut statement = self.connection.prepare(
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, layout_id, \
             day_local, from_layer, to_layer FROM switch_days",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let key = SwitchKey { day_local: row.get(7)?, from: row.get(8)?, to: row.get(9)? };
            let Some(sums) = sound_sums(row, faults, "a switch")? else { continue };
            if !row.get::<_, bool>(5)? {
                tallies.entry(row.get(6)?).or_default().switches.insert(key, sums);
            }
        }
        let mut statement = self.connection.prepare(
            "SELECT n_keystrokes, n_hits, n_misses, latency_sketch, n_timed, own, layout_id, \
             day_local, layer, active_us FROM layer_days",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let key = LayerKey { day_local: row.get(7)?, layer: row.get(8)? };
            let Some(sums) = sound_sums(row, faults, "a layer")? else { continue };
            if !row.get::<_, bool>(5)? {
                let active_us = row.get::<_, i64>(9)?.cast_unsigned();
                let layers = &mut tallies.entry(row.get(6)?).or_default().layers;
                layers.insert(key, LayerSums { sums, active_us });
            }
        }
        Ok(tallies)
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
    what: &str,
) -> rusqlite::Result<Option<Sums>> {
    match sums_of(row) {
        Ok(sums) if sums.latency.count() == row.get::<_, i64>(4)?.cast_unsigned() => Ok(Some(sums)),
        Ok(_) => {
            faults.push(format!("the sums of '{what}' don't agree with themselves"));
            Ok(None)
        }
        Err(rusqlite::Error::FromSqlConversionFailure(..)) => {
            faults.push(format!("the latencies of '{what}' are damaged"));
            Ok(None)
        }
        Err(error) => Err(error),
    }
}

/// The sums of all raw keystrokes, by layout.
pub(super) fn raw_tallies(
    connection: &rusqlite::Connection,
) -> rusqlite::Result<BTreeMap<i64, Tally>> {
    let mut tallies: BTreeMap<i64, Tally> = BTreeMap::new();
    let mut statement = connection.prepare(
        "SELECT s.layout_id, s.started_at_ms_utc, s.utc_offset_min, k.at_us, o.text, \
         k.verdict_code, k.latency_us, k.layer, k.previous_layer, k.position_code, k.flag_bits \
         FROM keystrokes k JOIN drills d USING (drill_id) JOIN sessions s USING (session_id) \
         JOIN outputs o ON o.output_id = k.expected_id",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let started = WallTime { ms_utc: row.get(1)?, utc_offset_min: row.get(2)? };
        let stroke = Row {
            seq: 0,
            prompt: 0,
            place: 0,
            at_us: row.get::<_, i64>(3)?.cast_unsigned(),
            expected: row.get(4)?,
            got: String::new(),
            verdict_code: row.get(5)?,
            latency_us: row.get::<_, Option<i64>>(6)?.map(i64::cast_unsigned),
            down_us: None,
            layer: row.get(7)?,
            previous_layer: row.get(8)?,
            position_code: row.get(9)?,
            finger_code: 0,
            flag_bits: row.get(10)?,
        };
        tallies.entry(row.get(0)?).or_default().add(started, &stroke);
    }
    Ok(tallies)
}

fn differences<K: Ord, S: PartialEq>(
    raw: &BTreeMap<K, S>,
    kept: &BTreeMap<K, S>,
    faults: &mut Vec<String>,
    name: impl Fn(&K) -> String,
) {
    for (key, sums) in raw {
        match kept.get(key) {
            Some(other) if other == sums => {}
            Some(_) => faults.push(format!("the sums of {} are wrong", name(key))),
            None => faults.push(format!("the sums of {} are missing", name(key))),
        }
    }
    for key in kept.keys().filter(|key| !raw.contains_key(key)) {
        faults.push(format!("the sums of {} have no keystrokes", name(key)));
    }
}
