//! Taking in sessions as a whole: histories that are invented for a demonstration or a measurement.
//!
//! What is kept is the same as from a [`super::Sitting`], row for row. It is
//! quicker because nothing is journalled, everything is one transaction, and
//! the sums of a day are added once instead of drill by drill.

use super::Store;
use super::commit::{Outputs, insert_drill, insert_rows, int, layout_id, session_id};
use super::error::StoreError;
use super::record::{DrillEnd, DrillRecord, DrillStart, Row, SessionRecord, SessionStart, Uid};
use super::tally::{Tally, Totals};
use super::{recall, rollup};
use crate::drill::Source;
use crate::session::Keystroke;
use rusqlite::{TransactionBehavior, params};
use std::collections::BTreeMap;

/// A session that is over.
#[derive(Debug, Clone, PartialEq)]
pub struct PastSession {
    /// How it began.
    pub start: SessionStart,
    /// Its drills, in their order.
    pub drills: Vec<PastDrill>,
    /// How it ended.
    pub end: DrillEnd,
}

/// A drill that is over.
#[derive(Debug, Clone, PartialEq)]
pub struct PastDrill {
    /// How it began.
    pub start: DrillStart,
    /// Its keystrokes, in the order of their numbers.
    pub keystrokes: Vec<Keystroke>,
    /// How it ended.
    pub end: DrillEnd,
}

impl Store {
    /// Takes in sessions that are over, all or none. Each counts as new.
    ///
    /// # Errors
    /// Where the database can't be written.
    pub fn take_in(
        &mut self,
        sessions: impl IntoIterator<Item = PastSession>,
    ) -> Result<(), StoreError> {
        let path = self.path.clone();
        self.take_in_inner(&mut sessions.into_iter()).map_err(|error| StoreError::of(&path, &error))
    }

    fn take_in_inner(
        &mut self,
        sessions: &mut dyn Iterator<Item = PastSession>,
    ) -> rusqlite::Result<()> {
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let mut outputs = Outputs::default();
        let mut sums: BTreeMap<(i64, bool), Tally> = BTreeMap::new();
        for PastSession { start, drills, end } in sessions {
            let layout_id = layout_id(&tx, &start.layout)?;
            let started = start.started;
            let session_id =
                session_id(&tx, &SessionRecord { uid: Uid::random(), start }, layout_id)?;
            for (ordinal, drill) in (0..).zip(&drills) {
                let own = drill.start.source == Source::Own;
                let tally = sums.entry((layout_id, own)).or_default();
                let mut totals = Totals::default();
                let rows: Vec<Row> = drill.keystrokes.iter().map(Row::of).collect();
                for row in &rows {
                    totals.add(row.verdict_code);
                    tally.add(started, row);
                }
                let record = DrillRecord::new(&drill.start, ordinal);
                let id = insert_drill(&tx, session_id, &record, &drill.end, totals)?;
                if let Some(id) = id.filter(|_| !own) {
                    insert_rows(&tx, &mut outputs, id, &rows)?;
                    recall::insert(&tx, &mut outputs, (layout_id, id), started, &rows)?;
                }
            }
            tx.prepare_cached(
                "UPDATE sessions SET ended_word = ?2, active_us = ?3 WHERE session_id = ?1",
            )?
            .execute(params![session_id, end.ended.word(), int(end.active.0)])?;
        }
        for ((layout_id, own), tally) in &sums {
            rollup::add(&tx, &mut outputs, *layout_id, tally, *own)?;
        }
        tx.commit()
    }
}
