//! Writing drills into the database: one transaction, each drill once.

use super::Store;
use super::error::StoreError;
use super::record::{Body, DrillEnd, DrillRecord, LayoutRecord, SessionRecord, WholeDrill};
use super::sketch::Sketch;
use super::tally::{Sums, Totals};
use super::{recall, rollup};
use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};
use std::collections::BTreeMap;

type Sql<T> = rusqlite::Result<T>;

impl Store {
    /// Writes `drills` of `session`, and how the session ended where `close`
    /// tells; returns how many were not there before. All or nothing; a drill
    /// that is there already is left as it is.
    pub(super) fn commit(
        &mut self,
        session: &SessionRecord,
        drills: &[WholeDrill],
        close: Option<&DrillEnd>,
    ) -> Result<usize, StoreError> {
        let path = self.path.clone();
        self.commit_inner(session, drills, close).map_err(|error| StoreError::of(&path, &error))
    }

    fn commit_inner(
        &mut self,
        session: &SessionRecord,
        drills: &[WholeDrill],
        close: Option<&DrillEnd>,
    ) -> Sql<usize> {
        // IMMEDIATE: a deferred transaction that reads first can't wait for
        // another writer.
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let layout_id = layout_id(&tx, &session.start.layout)?;
        let session_id = session_id(&tx, session, layout_id)?;
        let mut outputs = Outputs::default();
        let mut new = 0;
        for drill in drills {
            let sums = drill.sums(session.start.started);
            let inserted = insert_drill(&tx, session_id, &drill.start, &drill.end, sums.totals)?;
            let Some(drill_id) = inserted else { continue };
            new += 1;
            let own = match &drill.body {
                Body::Rows(rows) => {
                    insert_rows(&tx, &mut outputs, drill_id, rows)?;
                    let ids = (layout_id, drill_id);
                    recall::insert(&tx, &mut outputs, ids, session.start.started, rows)?;
                    false
                }
                Body::Sums(_) => true,
            };
            rollup::add(&tx, &mut outputs, layout_id, &sums, own)?;
            tx.prepare_cached(
                "UPDATE sessions SET active_us = active_us + ?2 WHERE session_id = ?1",
            )?
            .execute(params![session_id, int(drill.end.active.0)])?;
        }
        if let Some(end) = close {
            tx.prepare_cached(
                "UPDATE sessions SET ended_word = ?2, active_us = ?3 WHERE session_id = ?1",
            )?
            .execute(params![session_id, end.ended.word(), int(end.active.0)])?;
        }
        tx.commit()?;
        Ok(new)
    }
}

/// `value` as SQLite's signed integer; what doesn't fit becomes the greatest.
pub(super) fn int(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

pub(super) fn layout_id(tx: &Transaction<'_>, layout: &LayoutRecord) -> Sql<i64> {
    let hash = layout.hash();
    let known: Option<i64> = tx
        .prepare_cached("SELECT layout_id FROM layouts WHERE hash_sha256 = ?1")?
        .query_row([hash.as_slice()], |row| row.get(0))
        .optional()?;
    if let Some(id) = known {
        return Ok(id);
    }
    tx.prepare_cached(
        "INSERT INTO layouts (hash_sha256, name, title, text) VALUES (?1, ?2, ?3, ?4)",
    )?
    .execute(params![hash.as_slice(), layout.name, layout.title, layout.text])?;
    let id = tx.last_insert_rowid();
    let mut insert = tx.prepare_cached(
        "INSERT INTO layers (layout_id, layer, name, cluster_word) VALUES (?1, ?2, ?3, ?4)",
    )?;
    for (layer, record) in layout.layers.iter().enumerate() {
        insert.execute(params![id, int(layer as u64), record.name, record.cluster])?;
    }
    Ok(id)
}

pub(super) fn session_id(
    tx: &Transaction<'_>,
    session: &SessionRecord,
    layout_id: i64,
) -> Sql<i64> {
    let start = &session.start;
    // Until it says otherwise a session counts as cut short.
    tx.prepare_cached(
        "INSERT INTO sessions (uid, layout_id, started_at_ms_utc, utc_offset_min, \
         seed_bits, program_version, terminal_level_word, score_version, ended_word, active_us) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, 'cut', 0) ON CONFLICT (uid) DO NOTHING",
    )?
    .execute(params![
        session.uid.0.as_slice(),
        layout_id,
        start.started.ms_utc,
        start.started.utc_offset_min,
        start.seed.cast_signed(),
        start.program_version,
        start.terminal_level,
        start.score_version,
    ])?;
    tx.prepare_cached("SELECT session_id FROM sessions WHERE uid = ?1")?
        .query_row([session.uid.0.as_slice()], |row| row.get(0))
}

/// The new drill's id; none where it is there already.
pub(super) fn insert_drill(
    tx: &Transaction<'_>,
    session_id: i64,
    start: &DrillRecord,
    end: &DrillEnd,
    totals: Totals,
) -> Sql<Option<i64>> {
    let known = tx
        .prepare_cached("SELECT 1 FROM drills WHERE uid = ?1")?
        .exists([start.uid.0.as_slice()])?;
    if known {
        return Ok(None);
    }
    let text = end.text;
    tx.prepare_cached(
        "INSERT INTO drills (uid, session_id, ordinal, title, cluster_word, flow_word, \
         source_word, started_at_us, active_us, ended_word, n_keystrokes, n_hits, n_misses, \
         n_repairs, n_left_out, n_transcribed, n_correct, n_incorrect_not_fixed, \
         n_incorrect_fixed, n_fixes) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, \
         ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20)",
    )?
    .execute(params![
        start.uid.0.as_slice(),
        session_id,
        start.ordinal,
        start.title,
        start.cluster,
        start.flow,
        start.source,
        int(start.started_at_us),
        int(end.active.0),
        end.ended.word(),
        int(totals.n_keystrokes),
        int(totals.n_hits),
        int(totals.n_misses),
        int(totals.n_repairs),
        start.n_left_out,
        text.map(|t| t.n_transcribed),
        text.map(|t| t.n_correct),
        text.map(|t| t.n_incorrect_not_fixed),
        text.map(|t| t.n_incorrect_fixed),
        text.map(|t| t.n_fixes),
    ])?;
    Ok(Some(tx.last_insert_rowid()))
}

/// The dictionary of outputs, with what this transaction has looked up.
#[derive(Default)]
pub(super) struct Outputs {
    known: BTreeMap<String, i64>,
}

impl Outputs {
    /// The id of `text`, which is new where it is not there yet.
    pub fn id(&mut self, tx: &Transaction<'_>, text: &str) -> Sql<i64> {
        if let Some(&id) = self.known.get(text) {
            return Ok(id);
        }
        let found: Option<i64> = tx
            .prepare_cached("SELECT output_id FROM outputs WHERE text = ?1")?
            .query_row([text], |row| row.get(0))
            .optional()?;
        let id = if let Some(id) = found {
            id
        } else {
            tx.prepare_cached("INSERT INTO outputs (text) VALUES (?1)")?.execute([text])?;
            tx.last_insert_rowid()
        };
        self.known.insert(text.to_owned(), id);
        Ok(id)
    }
}

pub(super) fn insert_rows(
    tx: &Transaction<'_>,
    outputs: &mut Outputs,
    drill_id: i64,
    rows: &[super::record::Row],
) -> Sql<()> {
    let mut insert = tx.prepare_cached(
        "INSERT INTO keystrokes (drill_id, seq, prompt, place, at_us, expected_id, \
         got_id, verdict_code, latency_us, down_us, layer, previous_layer, position_code, \
         finger_code, flag_bits, reach_us) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)",
    )?;
    for row in rows {
        let expected_id = outputs.id(tx, &row.expected)?;
        let got_id = outputs.id(tx, &row.got)?;
        insert.execute(params![
            drill_id,
            row.seq,
            row.prompt,
            row.place,
            int(row.at_us),
            expected_id,
            got_id,
            row.verdict_code,
            row.latency_us.map(int),
            row.down_us.map(int),
            row.layer,
            row.previous_layer,
            row.position_code,
            row.finger_code,
            row.flag_bits,
            row.reach_us.map(int),
        ])?;
    }
    Ok(())
}

/// The sums in the first four columns of `row`.
pub(super) fn sums_of(row: &rusqlite::Row<'_>) -> Sql<Sums> {
    let bytes = row.get_ref(3)?.as_blob()?;
    let latency = Sketch::from_bytes(bytes).ok_or_else(|| {
        rusqlite::Error::FromSqlConversionFailure(
            3,
            rusqlite::types::Type::Blob,
            "a latency sketch is damaged; `etude data` tells more".into(),
        )
    })?;
    Ok(Sums {
        n_keystrokes: row.get::<_, i64>(0)?.cast_unsigned(),
        n_hits: row.get::<_, i64>(1)?.cast_unsigned(),
        n_misses: row.get::<_, i64>(2)?.cast_unsigned(),
        latency,
    })
}
