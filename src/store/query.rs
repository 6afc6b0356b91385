//! What the screens ask.

use super::Store;
use super::commit::sums_of;
use super::error::StoreError;
use super::record::{Uid, position_of, timed, verdict_of};
use super::tally::Sums;
use super::versions::still_so;
use super::wall_clock::WallTime;
use crate::keyboard::{Output, Position};
use crate::layout::{Cluster, LayerId};
use crate::order::InOrder;
use crate::session::{Earlier, Spread, Verdict};
use crate::units::Micros;
use rusqlite::{OptionalExtension, params};
use std::collections::BTreeMap;

/// "Recent" are the days up to the last practised one, so many in all.
const RECENT_DAYS: i32 = 14;

// CROSS JOIN keeps SQLite to this order of tables, which goes straight to the
// days in question; left to itself it reads all the years of a layout.
pub(super) const ITEMS_SINCE: &str = concat!(
    "SELECT i.n_keystrokes, i.n_hits, i.n_misses, i.latency_sketch, l.name, i.position_code, \
     o.text FROM layouts y CROSS JOIN layers l USING (layout_id) \
     CROSS JOIN item_days i ON i.layout_id = l.layout_id AND i.layer = l.layer \
     CROSS JOIN outputs o USING (output_id) WHERE y.name = ?1 AND i.day_local >= ?2",
    still_so!()
);
pub(super) const SWITCHES_SINCE: &str = "SELECT i.n_keystrokes, i.n_hits, i.n_misses, i.latency_sketch, f.name, t.name \
     FROM layouts y CROSS JOIN layers f USING (layout_id) CROSS JOIN layers t USING (layout_id) \
     CROSS JOIN switch_days i ON i.layout_id = y.layout_id AND i.from_layer = f.layer \
     AND i.to_layer = t.layer WHERE y.name = ?1 AND i.day_local >= ?2";

/// The last results of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerResult {
    /// The layer's name.
    pub layer: String,
    /// The word of its cluster.
    pub cluster: String,
    /// The last day on which it was practised, in local days since 1970-01-01.
    pub last_day: i32,
    /// Presses due on it in the 14 days up to `last_day`, own texts included.
    pub n_keystrokes: u64,
    /// Hits among them.
    pub n_hits: u64,
    /// Misses among them.
    pub n_misses: u64,
    /// The median of the latencies among them that count, within 1 %.
    pub median: Option<Micros>,
    /// The same with n and quartiles.
    pub latency: Option<Spread>,
    /// Hits among hits and misses, 0 to 1; none where there are neither.
    pub accuracy: Option<f64>,
}

/// Results of an item.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemResult {
    /// The output, as [`crate::keyboard::Output`] is written.
    pub output: String,
    /// The name of its layer.
    pub layer: String,
    /// Its key; none where the layout couldn't give it.
    pub position: Option<Position>,
    /// Hits.
    pub n_hits: u64,
    /// Misses.
    pub n_misses: u64,
    /// The latencies that count.
    pub latency: Option<Spread>,
}

/// Results of arriving on a layer from another one or, where the two are the
/// same, of staying on it.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchResult {
    /// The name of the layer it starts from.
    pub from: String,
    /// The name of the layer it ends on.
    pub to: String,
    /// Hits.
    pub n_hits: u64,
    /// Misses.
    pub n_misses: u64,
    /// The latencies that count.
    pub latency: Option<Spread>,
}

/// The last session before this one with drills of a cluster.
#[derive(Debug, Clone, PartialEq)]
pub struct Before {
    /// When it started.
    pub started: WallTime,
    /// Its drills of the cluster, those from own texts not counted.
    pub n_drills: u64,
    /// Their hits.
    pub n_hits: u64,
    /// Their misses.
    pub n_misses: u64,
    /// All their latencies that count, exact.
    pub latency: Option<Spread>,
    /// By item, in the order of layer, key and output.
    pub items: Vec<ItemResult>,
    /// By switch, in the order of names.
    pub switches: Vec<SwitchResult>,
}

/// How much there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// Sessions.
    pub n_sessions: u64,
    /// Drills.
    pub n_drills: u64,
    /// Keystrokes, those of own texts included.
    pub n_keystrokes: u64,
    /// Active time.
    pub active: Micros,
    /// Local day of the first session, in days since 1970-01-01.
    pub first_day: Option<i32>,
    /// Local day of the last session.
    pub last_day: Option<i32>,
}

/// Counts and single latencies.
#[derive(Default)]
struct Exact {
    n_hits: u64,
    n_misses: u64,
    latencies: Vec<Micros>,
}

impl Exact {
    fn add(&mut self, verdict_code: u8, latency: Option<Micros>) {
        match verdict_of(verdict_code) {
            Some(Verdict::Hit) => self.n_hits += 1,
            Some(Verdict::Miss) => self.n_misses += 1,
            _ => {}
        }
        self.latencies.extend(latency);
    }
}

impl Store {
    /// How much there is.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn totals(&self) -> Result<Totals, StoreError> {
        let read = || -> rusqlite::Result<Totals> {
            let day = "(started_at_ms_utc + utc_offset_min * 60000) / 86400000";
            let sql = format!(
                "SELECT count(*), coalesce(sum(active_us), 0), min({day}), max({day}) FROM sessions"
            );
            let (n_sessions, active, first_day, last_day): (i64, i64, _, _) = self
                .connection
                .prepare_cached(&sql)?
                .query_row([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            // From the drills: counting ten million keystrokes would be felt.
            let (n_drills, n_keystrokes): (i64, i64) = self
                .connection
                .prepare_cached("SELECT count(*), coalesce(sum(n_keystrokes), 0) FROM drills")?
                .query_row([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            Ok(Totals {
                n_sessions: n_sessions.cast_unsigned(),
                n_drills: n_drills.cast_unsigned(),
                n_keystrokes: n_keystrokes.cast_unsigned(),
                active: Micros(active.cast_unsigned()),
                first_day,
                last_day,
            })
        };
        self.said(read())
    }

    /// The last results of each layer that was practised on the layout named
    /// `layout`, in the layout's order. Versions of a layout count together,
    /// by the layers' names.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn recent_by_layer(&self, layout: &str) -> Result<Vec<LayerResult>, StoreError> {
        self.said(self.recent_by_layer_inner(layout))
    }

    fn recent_by_layer_inner(&self, layout: &str) -> rusqlite::Result<Vec<LayerResult>> {
        struct Sheet {
            order: u8,
            cluster: String,
            last_day: i32,
            places: Vec<(i64, u8)>,
        }
        let mut sheets: BTreeMap<String, Sheet> = BTreeMap::new();
        let mut statement = self.connection.prepare_cached(
            "SELECT l.layout_id, l.layer, l.name, l.cluster_word, \
             (SELECT max(day_local) FROM layer_days i \
              WHERE i.layout_id = l.layout_id AND i.layer = l.layer) \
             FROM layers l JOIN layouts USING (layout_id) WHERE layouts.name = ?1 \
             ORDER BY l.layout_id",
        )?;
        let mut rows = statement.query([layout])?;
        while let Some(row) = rows.next()? {
            let Some(day) = row.get::<_, Option<i32>>(4)? else { continue };
            let place: (i64, u8) = (row.get(0)?, row.get(1)?);
            let sheet = sheets.entry(row.get(2)?).or_insert(Sheet {
                order: place.1,
                cluster: String::new(),
                last_day: day,
                places: Vec::new(),
            });
            // The newest version comes last and says what the layer is.
            sheet.order = place.1;
            sheet.cluster = row.get(3)?;
            sheet.last_day = sheet.last_day.max(day);
            sheet.places.push(place);
        }
        let mut results = Vec::new();
        for (layer, sheet) in sheets {
            let mut sums = Sums::default();
            for (layout_id, index) in sheet.places {
                let mut statement = self.connection.prepare_cached(
                    "SELECT n_keystrokes, n_hits, n_misses, latency_sketch FROM layer_days \
                     WHERE layout_id = ?1 AND layer = ?2 AND day_local > ?3",
                )?;
                let since = sheet.last_day - RECENT_DAYS;
                let mut rows = statement.query(params![layout_id, index, since])?;
                while let Some(row) = rows.next()? {
                    sums.merge(&sums_of(row)?);
                }
            }
            let judged = Some(sums.n_hits + sums.n_misses).filter(|&judged| judged > 0);
            let result = LayerResult {
                layer,
                cluster: sheet.cluster,
                last_day: sheet.last_day,
                n_keystrokes: sums.n_keystrokes,
                n_hits: sums.n_hits,
                n_misses: sums.n_misses,
                median: sums.latency.median(),
                latency: sums.latency.spread(),
                accuracy: judged.map(|judged| sums.n_hits as f64 / judged as f64),
            };
            results.push((sheet.order, result));
        }
        results.order_by(|a, b| (a.0, &a.1.layer).cmp(&(b.0, &b.1.layer)));
        Ok(results.into_iter().map(|(_, result)| result).collect())
    }

    /// What was measured on the layout named `layout` in the 14 days up to the
    /// last practised one: medians by item and by switch, to compare a drill
    /// with. Layers are those of the newest version of the layout.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn earlier(&self, layout: &str) -> Result<Earlier, StoreError> {
        let Some(last_day) = self.said(self.last_day(layout))? else {
            return Ok(Earlier::default());
        };
        let ids = self.said(self.newest_layers(layout))?;
        let since = last_day - RECENT_DAYS + 1;
        let mut earlier = Earlier::default();
        for item in self.items_since(layout, since)? {
            let output = item.output.parse::<Output>();
            if let (Some(&layer), Ok(output), Some(spread)) =
                (ids.get(&item.layer), output, item.latency)
            {
                // An item that moved to another key has two: the better known.
                let slot = earlier.items.entry((layer, output)).or_insert(spread);
                if spread.n > slot.n {
                    *slot = spread;
                }
            }
        }
        for switch in self.switches_since(layout, since)? {
            if let (Some(&from), Some(&to), Some(spread)) =
                (ids.get(&switch.from), ids.get(&switch.to), switch.latency)
            {
                earlier.switches.insert((from, to), spread);
            }
        }
        Ok(earlier)
    }

    pub(super) fn last_day(&self, layout: &str) -> rusqlite::Result<Option<i32>> {
        self.connection
            .prepare_cached(
                "SELECT max((SELECT max(day_local) FROM item_days i \
                 WHERE i.layout_id = l.layout_id AND i.layer = l.layer)) \
                 FROM layers l JOIN layouts y USING (layout_id) WHERE y.name = ?1",
            )?
            .query_row([layout], |row| row.get(0))
    }

    fn newest_layers(&self, layout: &str) -> rusqlite::Result<BTreeMap<String, LayerId>> {
        let mut statement = self.connection.prepare_cached(
            "SELECT name, layer FROM layers WHERE layout_id = \
             (SELECT max(layout_id) FROM layouts WHERE name = ?1)",
        )?;
        let mut layers = BTreeMap::new();
        for row in statement.query_map([layout], |row| Ok((row.get(0)?, LayerId(row.get(1)?))))? {
            let (name, layer) = row?;
            layers.insert(name, layer);
        }
        Ok(layers)
    }

    /// The last session with shipped drills of `cluster` on the layout named
    /// `layout`, other than `except`; none where there is none. Exact, from
    /// the raw keystrokes.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn before(
        &self,
        layout: &str,
        cluster: Cluster,
        except: Option<Uid>,
    ) -> Result<Option<Before>, StoreError> {
        self.said(self.before_inner(layout, cluster, except))
    }

    fn before_inner(
        &self,
        layout: &str,
        cluster: Cluster,
        except: Option<Uid>,
    ) -> rusqlite::Result<Option<Before>> {
        let except = except.map_or([0; 16], |uid| uid.0);
        let found: Option<(i64, WallTime, i64)> = self
            .connection
            .prepare_cached(
                "SELECT s.session_id, s.started_at_ms_utc, s.utc_offset_min, \
                 (SELECT count(*) FROM drills d WHERE d.session_id = s.session_id \
                  AND d.cluster_word = ?2 AND d.source_word <> 'own') AS n \
                 FROM sessions s JOIN layouts l USING (layout_id) \
                 WHERE l.name = ?1 AND s.uid <> ?3 AND n > 0 \
                 ORDER BY s.started_at_ms_utc DESC, s.session_id DESC LIMIT 1",
            )?
            .query_row(params![layout, cluster.word(), except.as_slice()], |row| {
                let started = WallTime { ms_utc: row.get(1)?, utc_offset_min: row.get(2)? };
                Ok((row.get(0)?, started, row.get(3)?))
            })
            .optional()?;
        let Some((session_id, started, n_drills)) = found else { return Ok(None) };
        let mut all = Exact::default();
        let mut items: BTreeMap<(u8, u16, String), (String, Exact)> = BTreeMap::new();
        let mut switches: BTreeMap<(String, String), Exact> = BTreeMap::new();
        let mut statement = self.connection.prepare_cached(
            "SELECT k.verdict_code, k.flag_bits, k.latency_us, k.layer, k.position_code, o.text, \
             coalesce(t.name, k.layer), coalesce(f.name, k.previous_layer) \
             FROM drills d JOIN sessions s USING (session_id) JOIN keystrokes k USING (drill_id) \
             JOIN outputs o ON o.output_id = k.expected_id \
             LEFT JOIN layers t ON t.layout_id = s.layout_id AND t.layer = k.layer \
             LEFT JOIN layers f ON f.layout_id = s.layout_id AND f.layer = k.previous_layer \
             WHERE d.session_id = ?1 AND d.cluster_word = ?2 \
             AND NOT EXISTS (SELECT 1 FROM temp.changed_items c \
             WHERE c.layout_id = s.layout_id AND c.layer = k.layer \
             AND c.position_code = k.position_code AND c.output_id = k.expected_id)",
        )?;
        let mut rows = statement.query(params![session_id, cluster.word()])?;
        while let Some(row) = rows.next()? {
            let (verdict_code, flag_bits): (u8, u16) = (row.get(0)?, row.get(1)?);
            let latency_us = row.get::<_, Option<i64>>(2)?.map(i64::cast_unsigned);
            let latency = timed(verdict_code, flag_bits, latency_us);
            let to = name(row, 6)?;
            all.add(verdict_code, latency);
            let key = (name(row, 7)?, to.clone());
            switches.entry(key).or_default().add(verdict_code, latency);
            items
                .entry((row.get(3)?, row.get(4)?, row.get(5)?))
                .or_insert_with(|| (to, Exact::default()))
                .1
                .add(verdict_code, latency);
        }
        Ok(Some(Before {
            started,
            n_drills: n_drills.cast_unsigned(),
            n_hits: all.n_hits,
            n_misses: all.n_misses,
            latency: Spread::of(&all.latencies),
            items: items
                .into_iter()
                .map(|((_, position_code, output), (layer, exact))| ItemResult {
                    output,
                    layer,
                    position: position_of(position_code),
                    n_hits: exact.n_hits,
                    n_misses: exact.n_misses,
                    latency: Spread::of(&exact.latencies),
                })
                .collect(),
            switches: switches
                .into_iter()
                .map(|((from, to), exact)| SwitchResult {
                    from,
                    to,
                    n_hits: exact.n_hits,
                    n_misses: exact.n_misses,
                    latency: Spread::of(&exact.latencies),
                })
                .collect(),
        }))
    }

    /// Every item practised on the layout named `layout` on local day
    /// `since_day` or later, from the daily sums, own texts included; in the
    /// order of layer name, key and output.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn items_since(&self, layout: &str, since_day: i32) -> Result<Vec<ItemResult>, StoreError> {
        let read = || -> rusqlite::Result<Vec<ItemResult>> {
            let mut items: BTreeMap<(String, u16, String), Sums> = BTreeMap::new();
            let mut statement = self.connection.prepare_cached(ITEMS_SINCE)?;
            let mut rows = statement.query(params![layout, since_day])?;
            while let Some(row) = rows.next()? {
                let key = (row.get(4)?, row.get(5)?, row.get(6)?);
                items.entry(key).or_default().merge(&sums_of(row)?);
            }
            Ok(items
                .into_iter()
                .map(|((layer, position_code, output), sums)| ItemResult {
                    output,
                    layer,
                    position: position_of(position_code),
                    n_hits: sums.n_hits,
                    n_misses: sums.n_misses,
                    latency: sums.latency.spread(),
                })
                .collect())
        };
        self.said(read())
    }

    /// Every arrival on a layer, by the layer it came from, practised on the layout named `layout` on local day
    /// `since_day` or later, from the daily sums, own texts included.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn switches_since(
        &self,
        layout: &str,
        since_day: i32,
    ) -> Result<Vec<SwitchResult>, StoreError> {
        let read = || -> rusqlite::Result<Vec<SwitchResult>> {
            let mut switches: BTreeMap<(String, String), Sums> = BTreeMap::new();
            let mut statement = self.connection.prepare_cached(SWITCHES_SINCE)?;
            let mut rows = statement.query(params![layout, since_day])?;
            while let Some(row) = rows.next()? {
                let key = (name(row, 4)?, name(row, 5)?);
                switches.entry(key).or_default().merge(&sums_of(row)?);
            }
            Ok(switches
                .into_iter()
                .map(|((from, to), sums)| SwitchResult {
                    from,
                    to,
                    n_hits: sums.n_hits,
                    n_misses: sums.n_misses,
                    latency: sums.latency.spread(),
                })
                .collect())
        };
        self.said(read())
    }
}

/// A layer's name, or its number where the name is not known.
fn name(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<String> {
    use rusqlite::types::ValueRef;
    Ok(match row.get_ref(column)? {
        ValueRef::Integer(number) => number.to_string(),
        other => other.as_str()?.to_owned(),
    })
}
