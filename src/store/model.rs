//! What the model needs of the history, and what is kept of it.

use super::Store;
use super::error::StoreError;
use super::record::{finger_of, position_of, verdict_of};
use super::wall_clock::WallTime;
use crate::keyboard::Output;
use crate::layout::LayerId;
use crate::session::{Flags, Keystroke};
use crate::units::Micros;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeMap;

type Sql<T> = rusqlite::Result<T>;

/// What is kept of a model, without its sums.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptModel {
    /// The version of the bytes.
    pub format: u32,
    /// The names of the layers that its numbers stand for, one a line.
    pub layers: String,
    /// The last drill that it has taken in.
    pub through_drill: i64,
    /// The local day on which it was estimated.
    pub day: i32,
    /// What is estimated, as bytes.
    pub findings: Vec<u8>,
}

/// A drill as it was struck.
#[derive(Debug)]
pub struct DrillRead<'a> {
    /// Its number in this database.
    pub drill: i64,
    /// The local day of its start.
    pub day: i32,
    /// The names of the layers that the keystrokes' numbers stand for.
    pub layers: &'a [String],
    /// Its keystrokes in order. Those whose codes this program does not know
    /// are left out.
    pub keystrokes: Vec<Keystroke>,
}

/// What a person asked of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Wish {
    /// Every other drill.
    Pinned,
    /// Not at all.
    LeftOut,
}

impl Wish {
    const fn word(self) -> &'static str {
        match self {
            Self::Pinned => "pinned",
            Self::LeftOut => "left_out",
        }
    }

    fn from_word(word: &str) -> Option<Self> {
        [Self::Pinned, Self::LeftOut].into_iter().find(|wish| wish.word() == word)
    }
}

impl Store {
    /// What is kept of the model of the layout named `layout`; none where
    /// nothing is.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn kept_model(&self, layout: &str) -> Result<Option<KeptModel>, StoreError> {
        let read = || {
            self.connection
                .prepare_cached(
                    "SELECT format, layers_text, through_drill, day_local, findings FROM models \
                     WHERE layout_name = ?1",
                )?
                .query_row([layout], |row| {
                    Ok(KeptModel {
                        format: row.get(0)?,
                        layers: row.get(1)?,
                        through_drill: row.get(2)?,
                        day: row.get(3)?,
                        findings: row.get(4)?,
                    })
                })
                .optional()
        };
        self.said(read())
    }

    /// The sums of that model, as bytes.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn kept_hands(&self, layout: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let read = || {
            self.connection
                .prepare_cached("SELECT hands FROM models WHERE layout_name = ?1")?
                .query_row([layout], |row| row.get(0))
                .optional()
        };
        self.said(read())
    }

    /// Keeps a model with its sums in place of the one that is there, unless
    /// that has taken in later drills.
    ///
    /// # Errors
    /// Where the database can't be written.
    pub fn keep_model(
        &self,
        layout: &str,
        model: &KeptModel,
        hands: &[u8],
    ) -> Result<(), StoreError> {
        let write = || {
            self.connection
                .prepare_cached(
                    "INSERT INTO models (layout_name, format, layers_text, through_drill, \
                     day_local, findings, hands) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) \
                     ON CONFLICT (layout_name) DO UPDATE SET format = ?2, layers_text = ?3, \
                     through_drill = ?4, day_local = ?5, findings = ?6, hands = ?7 \
                     WHERE through_drill <= ?4 OR format <> ?2 OR layers_text <> ?3",
                )?
                .execute(params![
                    layout,
                    model.format,
                    model.layers,
                    model.through_drill,
                    model.day,
                    model.findings,
                    hands
                ])
                .map(drop)
        };
        self.said(write())
    }

    /// The last drill on the layout named `layout` whose keystrokes are kept
    /// one by one; none where there is none.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn newest_drill(&self, layout: &str) -> Result<Option<i64>, StoreError> {
        // From the newest back: the first one found is nearly always the last
        // of all, however long the history.
        let read = || {
            self.connection
                .prepare_cached(
                    "SELECT d.drill_id FROM drills d CROSS JOIN sessions s USING (session_id) \
                     CROSS JOIN layouts y USING (layout_id) \
                     WHERE y.name = ?1 AND d.source_word <> 'own' \
                     ORDER BY d.drill_id DESC LIMIT 1",
                )?
                .query_row([layout], |row| row.get(0))
                .optional()
        };
        self.said(read())
    }

    /// Hands `each` the drills on the layout named `layout` that came after the
    /// drill number `after`, from local day `since` on, in the order of their
    /// numbers.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn each_drill(
        &self,
        layout: &str,
        after: i64,
        since: i32,
        mut each: impl FnMut(&DrillRead<'_>),
    ) -> Result<(), StoreError> {
        self.said(self.each_drill_inner(layout, after, since, &mut each))
    }

    fn each_drill_inner(
        &self,
        layout: &str,
        after: i64,
        since: i32,
        each: &mut dyn FnMut(&DrillRead<'_>),
    ) -> Sql<()> {
        let mut layers: BTreeMap<i64, Vec<String>> = BTreeMap::new();
        let mut names = self.connection.prepare_cached(
            "SELECT l.layout_id, l.name FROM layouts y CROSS JOIN layers l USING (layout_id) \
             WHERE y.name = ?1 ORDER BY l.layout_id, l.layer",
        )?;
        let mut rows = names.query([layout])?;
        while let Some(row) = rows.next()? {
            layers.entry(row.get(0)?).or_default().push(row.get(1)?);
        }
        let mut outputs = Texts::default();
        let mut drills = self.connection.prepare_cached(
            "SELECT d.drill_id, s.layout_id, s.started_at_ms_utc, s.utc_offset_min, \
             d.started_at_us FROM drills d CROSS JOIN sessions s USING (session_id) \
             CROSS JOIN layouts y USING (layout_id) \
             WHERE d.drill_id > ?2 AND y.name = ?1 AND d.source_word <> 'own' \
             AND s.started_at_ms_utc >= ?3 ORDER BY d.drill_id",
        )?;
        // Two days leave room for offsets of local time and for sessions that
        // began the day before.
        let since_ms = (i64::from(since) - 2).saturating_mul(86_400_000);
        let mut rows = drills.query(params![layout, after, since_ms])?;
        while let Some(row) = rows.next()? {
            let drill = row.get(0)?;
            let started = WallTime { ms_utc: row.get(2)?, utc_offset_min: row.get(3)? };
            let day = started.day_local(row.get::<_, i64>(4)?.cast_unsigned());
            if day < since {
                continue;
            }
            let Some(layers) = layers.get(&row.get(1)?) else { continue };
            let keystrokes = self.keystrokes_of(drill, row.get(1)?, &mut outputs)?;
            each(&DrillRead { drill, day, layers, keystrokes });
        }
        Ok(())
    }

    /// The keystrokes of a drill, those left out whose way has changed since.
    fn keystrokes_of(
        &self,
        drill: i64,
        layout_id: i64,
        outputs: &mut Texts,
    ) -> Sql<Vec<Keystroke>> {
        let mut statement = self.connection.prepare_cached(
            "SELECT seq, prompt, place, at_us, expected_id, got_id, verdict_code, latency_us, \
             down_us, layer, previous_layer, position_code, finger_code, flag_bits, \
             reach_us FROM keystrokes k WHERE drill_id = ?1 AND NOT EXISTS (SELECT 1 \
             FROM temp.changed_items c WHERE c.layout_id = ?2 AND c.layer = k.layer \
             AND c.position_code = k.position_code AND c.output_id = k.expected_id) \
             ORDER BY seq",
        )?;
        let mut rows = statement.query(params![drill, layout_id])?;
        let mut found = Vec::new();
        while let Some(row) = rows.next()? {
            let Some(verdict) = verdict_of(row.get(6)?) else { continue };
            let expected = outputs.of(self, row.get(4)?)?;
            let got = outputs.of(self, row.get(5)?)?;
            let (Some(expected), Some(got)) = (expected, got) else { continue };
            let micros =
                |value: Option<i64>| value.map(|value| Micros(value.max(0).cast_unsigned()));
            found.push(Keystroke {
                seq: row.get(0)?,
                prompt: row.get(1)?,
                place: row.get(2)?,
                at: Micros(row.get::<_, i64>(3)?.max(0).cast_unsigned()),
                expected,
                got,
                verdict,
                latency: micros(row.get(7)?),
                reach: micros(row.get(14)?),
                down: micros(row.get(8)?),
                layer: LayerId(row.get(9)?),
                previous_layer: LayerId(row.get(10)?),
                position: position_of(row.get(11)?),
                finger: finger_of(row.get(12)?),
                flags: Flags::from_bits_retain(row.get(13)?),
            });
        }
        Ok(found)
    }

    /// What the person asked of the plan for the layout named `layout`, by the
    /// word of what it is about.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn wishes(&self, layout: &str) -> Result<BTreeMap<String, Wish>, StoreError> {
        let read = || -> Sql<BTreeMap<String, Wish>> {
            let mut statement = self
                .connection
                .prepare_cached("SELECT what_word, wish_word FROM wishes WHERE layout_name = ?1")?;
            let mut rows = statement.query([layout])?;
            let mut wishes = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let word: String = row.get(1)?;
                if let Some(wish) = Wish::from_word(&word) {
                    wishes.insert(row.get(0)?, wish);
                }
            }
            Ok(wishes)
        };
        self.said(read())
    }

    /// Keeps a wish about `what`, or takes it back.
    ///
    /// # Errors
    /// Where the database can't be written.
    pub fn wish(&self, layout: &str, what: &str, wish: Option<Wish>) -> Result<(), StoreError> {
        let write = || match wish {
            Some(wish) => self
                .connection
                .prepare_cached(
                    "INSERT INTO wishes (layout_name, what_word, wish_word) VALUES (?1, ?2, ?3) \
                     ON CONFLICT (layout_name, what_word) DO UPDATE SET wish_word = ?3",
                )?
                .execute([layout, what, wish.word()]),
            None => self
                .connection
                .prepare_cached("DELETE FROM wishes WHERE layout_name = ?1 AND what_word = ?2")?
                .execute([layout, what]),
        };
        self.said(write().map(drop))
    }
}

/// Outputs by their number; none for what this program can't read.
#[derive(Default)]
struct Texts(BTreeMap<i64, Option<Output>>);

impl Texts {
    fn of(&mut self, store: &Store, id: i64) -> Sql<Option<Output>> {
        if let Some(known) = self.0.get(&id) {
            return Ok(known.clone());
        }
        let text: String = store
            .connection
            .prepare_cached("SELECT text FROM outputs WHERE output_id = ?1")?
            .query_row([id], |row| row.get(0))?;
        let output = text.parse().ok();
        self.0.insert(id, output.clone());
        Ok(output)
    }
}
