//! Arrivals on a layer in two parts, where its marker key told them apart.

use super::error::StoreError;
use super::record::timed;
use super::wall_clock::WallTime;
use super::{Days, Store};
use crate::order::Gather;
use crate::session::Spread;
use crate::units::Micros;
use rusqlite::params;
use std::collections::BTreeMap;

type Sql<T> = rusqlite::Result<T>;

/// The two parts of the latencies of a switch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// From the press before to the access key.
    pub reach: Spread,
    /// From the access key to the key.
    pub strike: Spread,
}

// Keystrokes without a reach are not read, nor those of other days.
const PARTS: &str = "SELECT s.started_at_ms_utc, s.utc_offset_min, k.at_us, k.verdict_code, \
     k.flag_bits, k.latency_us, k.reach_us, f.name, t.name \
     FROM sessions s CROSS JOIN layouts y USING (layout_id) CROSS JOIN drills d USING (session_id) \
     CROSS JOIN keystrokes k INDEXED BY keystrokes_by_reach ON k.drill_id = d.drill_id \
     CROSS JOIN layers f ON f.layout_id = y.layout_id AND f.layer = k.previous_layer \
     CROSS JOIN layers t ON t.layout_id = y.layout_id AND t.layer = k.layer \
     WHERE s.started_at_ms_utc BETWEEN ?2 AND ?3 AND y.name = ?1 AND k.reach_us IS NOT NULL";

impl Store {
    /// The parts of each switch (from, to) of the layout named `layout` on
    /// `days`, from latencies that feed estimates. Of texts of one's own no
    /// keystrokes are kept, so that they are not in it.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn switch_parts(
        &self,
        layout: &str,
        days: Days,
    ) -> Result<BTreeMap<(String, String), Parts>, StoreError> {
        self.said(self.switch_parts_inner(layout, days))
    }

    fn switch_parts_inner(
        &self,
        layout: &str,
        days: Days,
    ) -> Sql<BTreeMap<(String, String), Parts>> {
        // As in `practice_days`: room for offsets and for sessions that reach
        // into the next day.
        let from_ms = (i64::from(days.from) - 2).saturating_mul(86_400_000);
        let to_ms = (i64::from(days.to) + 2).saturating_mul(86_400_000);
        let mut found: BTreeMap<(String, String), (Vec<Micros>, Vec<Micros>)> = BTreeMap::new();
        let mut statement = self.connection.prepare_cached(PARTS)?;
        let mut rows = statement.query(params![layout, from_ms, to_ms])?;
        while let Some(row) = rows.next()? {
            let started = WallTime { ms_utc: row.get(0)?, utc_offset_min: row.get(1)? };
            let day = started.day_local(row.get::<_, i64>(2)?.cast_unsigned());
            if !(days.from..=days.to).contains(&day) {
                continue;
            }
            let latency_us = row.get::<_, Option<i64>>(5)?.map(i64::cast_unsigned);
            let reach = Micros(row.get::<_, i64>(6)?.cast_unsigned());
            let latency = timed(row.get(3)?, row.get(4)?, latency_us);
            let Some(latency) = latency.filter(|latency| *latency >= reach) else { continue };
            let (reaches, strikes) = found.entry((row.get(7)?, row.get(8)?)).or_default();
            reaches.push(reach);
            strikes.push(latency.since(reach));
        }
        let parts = found.into_iter().filter_map(|(pair, (reaches, strikes))| {
            let parts = Spread::of(&reaches).zip(Spread::of(&strikes));
            parts.map(|(reach, strike)| (pair, Parts { reach, strike }))
        });
        Ok(parts.gather())
    }
}

#[cfg(test)]
pub(super) const PARTS_FOR_TESTS: &str = PARTS;
