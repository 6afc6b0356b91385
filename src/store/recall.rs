//! The answers that tell what is remembered: kept beside the keystrokes that
//! they can be made from again.

use super::Store;
use super::commit::Outputs;
use super::error::StoreError;
use super::record::{Row, verdict_of};
use super::wall_clock::WallTime;
use crate::model::recall::{Answer, Outcome};
use crate::order::InOrder;
use crate::session::Flags;
use crate::units::Micros;
use rusqlite::{Connection, Transaction, params};

type Sql<T> = rusqlite::Result<T>;

/// The code of an outcome. Codes are stored: never renumber.
const fn outcome_code(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Shown => 0,
        Outcome::Wrong => 1,
        Outcome::Slow => 2,
        Outcome::Right => 3,
        Outcome::AtOnce => 4,
    }
}

/// The outcome of a code; none where a newer program wrote it.
fn outcome_of(code: u8) -> Option<Outcome> {
    Outcome::ALL.into_iter().find(|outcome| outcome_code(*outcome) == code)
}

fn observed(verdict_code: u8, flag_bits: u16, latency_us: Option<u64>) -> Option<Outcome> {
    let flags = Flags::from_bits_retain(flag_bits);
    Outcome::of(verdict_of(verdict_code)?, flags, latency_us.map(Micros))
}

/// Keeps the answers among `rows` of a drill.
pub(super) fn insert(
    tx: &Transaction<'_>,
    outputs: &mut Outputs,
    (layout_id, drill_id): (i64, i64),
    started: WallTime,
    rows: &[Row],
) -> Sql<()> {
    for row in rows {
        if let Some(outcome) = observed(row.verdict_code, row.flag_bits, row.latency_us) {
            let output_id = outputs.id(tx, &row.expected)?;
            let day = started.day_local(row.at_us);
            put(tx, [layout_id, day.into(), drill_id, row.seq.into(), output_id], outcome)?;
        }
    }
    Ok(())
}

fn put(tx: &Transaction<'_>, at: [i64; 5], outcome: Outcome) -> Sql<()> {
    let [layout_id, day, drill_id, seq, output_id] = at;
    tx.prepare_cached(
        "INSERT INTO recall_answers (layout_id, day_local, drill_id, seq, output_id, \
         outcome_code) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![layout_id, day, drill_id, seq, output_id, outcome_code(outcome)])?;
    Ok(())
}

/// Where an answer stands, what it is about, and its code.
type Kept = ([i64; 5], u8);

/// The answers as the raw keystrokes tell them, in order.
fn from_keystrokes(connection: &Connection) -> Sql<Vec<Kept>> {
    let mut statement = connection.prepare(
        "SELECT s.layout_id, s.started_at_ms_utc, s.utc_offset_min, k.drill_id, k.seq, k.at_us, \
         k.expected_id, k.verdict_code, k.latency_us, k.flag_bits \
         FROM keystrokes k JOIN drills d USING (drill_id) JOIN sessions s USING (session_id) \
         WHERE k.flag_bits & ?1 <> 0",
    )?;
    let mut rows = statement.query([Flags::RECALLED.bits()])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let started = WallTime { ms_utc: row.get(1)?, utc_offset_min: row.get(2)? };
        let latency = row.get::<_, Option<i64>>(8)?.map(i64::cast_unsigned);
        if let Some(outcome) = observed(row.get(7)?, row.get(9)?, latency) {
            let day = started.day_local(row.get::<_, i64>(5)?.cast_unsigned());
            let at = [row.get(0)?, day.into(), row.get(3)?, row.get(4)?, row.get(6)?];
            found.push((at, outcome_code(outcome)));
        }
    }
    found.order_by(Ord::cmp);
    Ok(found)
}

fn kept(connection: &Connection) -> Sql<Vec<Kept>> {
    let mut statement = connection.prepare(
        "SELECT layout_id, day_local, drill_id, seq, output_id, outcome_code FROM recall_answers \
         ORDER BY 1, 2, 3, 4",
    )?;
    statement
        .query_map([], |row| {
            let at = [row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?];
            Ok((at, row.get(5)?))
        })?
        .collect()
}

/// Makes all answers anew from the raw keystrokes.
pub(super) fn rebuild(tx: &Transaction<'_>) -> Sql<()> {
    let found = from_keystrokes(tx)?;
    tx.execute("DELETE FROM recall_answers", [])?;
    for (at, code) in found {
        if let Some(outcome) = outcome_of(code) {
            put(tx, at, outcome)?;
        }
    }
    Ok(())
}

/// How many answers are missing, too many, or other than the raw keystrokes
/// tell.
pub(super) fn differences(connection: &Connection) -> Sql<usize> {
    let (told, kept) = (from_keystrokes(connection)?, kept(connection)?);
    let missing = told.iter().filter(|answer| kept.binary_search(answer).is_err()).count();
    let extra = kept.iter().filter(|answer| told.binary_search(answer).is_err()).count();
    Ok(missing.max(extra))
}

impl Store {
    /// Every answer of the layouts named `layout`, in the order of days. Those
    /// that this program can't read are passed over.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn answers(&self, layout: &str) -> Result<Vec<Answer>, StoreError> {
        let read = || -> Sql<Vec<Answer>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT o.text, r.day_local, r.outcome_code FROM recall_answers r \
                 JOIN layouts y USING (layout_id) JOIN outputs o USING (output_id) \
                 WHERE y.name = ?1 ORDER BY r.day_local, r.drill_id, r.seq",
            )?;
            let mut rows = statement.query([layout])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let item = row.get_ref(0)?.as_str()?.parse().ok();
                let outcome = outcome_of(row.get(2)?);
                if let (Some(item), Some(outcome)) = (item, outcome) {
                    found.push(Answer { item, day: row.get(1)?, outcome });
                }
            }
            Ok(found)
        };
        self.said(read())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_read_back() {
        for outcome in Outcome::ALL {
            assert_eq!(outcome_of(outcome_code(outcome)), Some(outcome));
        }
        assert_eq!(outcome_of(5), None);
    }
}
