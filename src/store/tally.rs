//! Sums of keystrokes by item, by switch and by layer, a day at a time.

use super::record::{Row, timed, verdict_of};
use super::sketch::Sketch;
use super::wall_clock::WallTime;
use crate::order::Gather;
use crate::session::{Flags, Verdict};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// An item on a day.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) struct ItemKey {
    pub day_local: i32,
    pub layer: u8,
    pub position_code: u16,
    pub output: String,
}

/// A switch from one layer to another on a day, or staying on a layer where
/// the two are the same: what a switch costs shows against that.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) struct SwitchKey {
    pub day_local: i32,
    pub from: u8,
    pub to: u8,
}

/// A layer on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub(super) struct LayerKey {
    pub day_local: i32,
    pub layer: u8,
}

/// Counts, latencies and time of one layer.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(super) struct LayerSums {
    pub sums: Sums,
    /// The time up to each key due on it, pauses and interruptions left out.
    pub active_us: u64,
}

impl LayerSums {
    fn add(&mut self, row: &Row) {
        self.sums.add(row);
        self.active_us = self.active_us.saturating_add(active_us(row));
    }
}

/// What a keystroke adds to the time of its layer.
pub(super) fn active_us(row: &Row) -> u64 {
    let idle = Flags::PAUSE | Flags::INTERRUPTED;
    let is_idle = Flags::from_bits_retain(row.flag_bits).intersects(idle);
    if is_idle { 0 } else { row.latency_us.unwrap_or(0) }
}

/// Counts and latencies of one item or switch.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub(super) struct Sums {
    pub n_keystrokes: u64,
    pub n_hits: u64,
    pub n_misses: u64,
    pub latency: Sketch,
}

impl Sums {
    fn add(&mut self, row: &Row) {
        self.n_keystrokes += 1;
        match verdict_of(row.verdict_code) {
            Some(Verdict::Hit) => self.n_hits += 1,
            Some(Verdict::Miss) => self.n_misses += 1,
            Some(Verdict::Repair) | None => {}
        }
        if let Some(latency) = timed(row.verdict_code, row.flag_bits, row.latency_us) {
            self.latency.add(latency);
        }
    }

    /// Takes in `other`.
    pub fn merge(&mut self, other: &Self) {
        self.n_keystrokes += other.n_keystrokes;
        self.n_hits += other.n_hits;
        self.n_misses += other.n_misses;
        self.latency.merge(&other.latency);
    }
}

/// The counts of a whole drill.
#[expect(clippy::struct_field_names, reason = "n_ marks a count, as in the database")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub(super) struct Totals {
    pub n_keystrokes: u64,
    pub n_hits: u64,
    pub n_misses: u64,
    pub n_repairs: u64,
}

impl Totals {
    /// Takes in one keystroke.
    pub fn add(&mut self, verdict_code: u8) {
        self.n_keystrokes += 1;
        match verdict_of(verdict_code) {
            Some(Verdict::Hit) => self.n_hits += 1,
            Some(Verdict::Miss) => self.n_misses += 1,
            Some(Verdict::Repair) => self.n_repairs += 1,
            None => {}
        }
    }
}

/// Sums by item, switch and layer. Sorted by what they are of, so that they don't
/// betray the order of the keystrokes.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "TallyLists", into = "TallyLists")]
pub(super) struct Tally {
    pub totals: Totals,
    pub items: BTreeMap<ItemKey, Sums>,
    pub switches: BTreeMap<SwitchKey, Sums>,
    pub layers: BTreeMap<LayerKey, LayerSums>,
}

/// JSON has no objects with structured keys: lists stand for the maps.
#[derive(Serialize, Deserialize)]
struct TallyLists {
    totals: Totals,
    items: Vec<(ItemKey, Sums)>,
    switches: Vec<(SwitchKey, Sums)>,
    // Journals of 0.1 before schema 2 lack it.
    #[serde(default)]
    layers: Vec<(LayerKey, LayerSums)>,
}

impl From<TallyLists> for Tally {
    fn from(lists: TallyLists) -> Self {
        Self {
            totals: lists.totals,
            items: lists.items.into_iter().gather(),
            switches: lists.switches.into_iter().gather(),
            layers: lists.layers.into_iter().gather(),
        }
    }
}

impl From<Tally> for TallyLists {
    fn from(tally: Tally) -> Self {
        Self {
            totals: tally.totals,
            items: tally.items.into_iter().collect(),
            switches: tally.switches.into_iter().collect(),
            layers: tally.layers.into_iter().collect(),
        }
    }
}

impl Tally {
    /// The sums of `rows` in a session that started at `started`.
    pub fn of(started: WallTime, rows: &[Row]) -> Self {
        let mut tally = Self::default();
        for row in rows {
            tally.add(started, row);
        }
        tally
    }

    /// Takes in one keystroke.
    pub fn add(&mut self, started: WallTime, row: &Row) {
        self.totals.add(row.verdict_code);
        let day_local = started.day_local(row.at_us);
        let item = ItemKey {
            day_local,
            layer: row.layer,
            position_code: row.position_code,
            output: row.expected.clone(),
        };
        self.items.entry(item).or_default().add(row);
        let switch = SwitchKey { day_local, from: row.previous_layer, to: row.layer };
        self.switches.entry(switch).or_default().add(row);
        let layer = LayerKey { day_local, layer: row.layer };
        self.layers.entry(layer).or_default().add(row);
    }
}
