//! What a drill shows: a fold over its keystrokes.

use super::{Flags, Keystroke, Spread, Verdict};
use crate::keyboard::Output;
use crate::layout::LayerId;
use crate::order::InOrder;
use crate::units::Micros;
use std::collections::BTreeMap;

/// What was seen of one output.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ItemTally {
    /// Times that it was due, counted once a place.
    pub due: u32,
    /// Times that something else was struck first.
    pub missed: u32,
    /// Latencies that count.
    pub latencies: Vec<Micros>,
    /// What was struck instead, with counts.
    pub instead: BTreeMap<Output, u32>,
}

impl ItemTally {
    /// Median and quartiles of the latencies.
    pub fn spread(&self) -> Option<Spread> {
        Spread::of(&self.latencies)
    }
}

/// What was measured before, to compare with.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Earlier {
    /// By layer and output.
    pub items: BTreeMap<(LayerId, Output), Spread>,
    /// By from and to.
    pub switches: BTreeMap<(LayerId, LayerId), Spread>,
}

/// Sums over the keystrokes of one drill or many.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tally {
    /// By layer and output.
    pub items: BTreeMap<(LayerId, Output), ItemTally>,
    /// Latencies of arrivals, by from and to; within a layer from = to.
    pub switches: BTreeMap<(LayerId, LayerId), Vec<Micros>>,
    /// Backspaces that took something back, with their latencies.
    pub repairs: Vec<Micros>,
}

impl Tally {
    /// The tally of `keystrokes`.
    pub fn of<'a>(keystrokes: impl IntoIterator<Item = &'a Keystroke>) -> Self {
        let mut tally = Self::default();
        for keystroke in keystrokes {
            tally.add(keystroke);
        }
        tally
    }

    /// Adds one keystroke.
    pub fn add(&mut self, keystroke: &Keystroke) {
        if keystroke.verdict == Verdict::Repair {
            self.repairs.extend(keystroke.latency);
            return;
        }
        let key = (keystroke.layer, keystroke.expected.clone());
        let item = self.items.entry(key).or_default();
        let first_try = !keystroke.flags.contains(Flags::RETRY);
        if first_try {
            item.due += 1;
        }
        if keystroke.verdict == Verdict::Miss {
            item.missed += u32::from(first_try);
            *item.instead.entry(keystroke.got.clone()).or_default() += 1;
        }
        if let Some(latency) = keystroke.timed() {
            item.latencies.push(latency);
            self.switches
                .entry((keystroke.previous_layer, keystroke.layer))
                .or_default()
                .push(latency);
        }
    }

    /// Items by median latency, slowest first, then by output; only those
    /// with at least `least` latencies.
    pub fn slowest(&self, least: usize) -> Vec<(LayerId, &Output, Spread)> {
        let mut found: Vec<_> = self
            .items
            .iter()
            .filter_map(|((layer, output), item)| {
                item.spread().filter(|s| s.n >= least).map(|s| (*layer, output, s))
            })
            .collect();
        found.order_by(|a, b| b.2.median.cmp(&a.2.median).then_with(|| a.1.cmp(b.1)));
        found
    }

    /// Items that were missed, most missed first, then by output.
    pub fn missed(&self) -> Vec<(LayerId, &Output, &ItemTally)> {
        let mut found: Vec<_> = self
            .items
            .iter()
            .filter(|(_, item)| !item.instead.is_empty())
            .map(|((layer, output), item)| (*layer, output, item))
            .collect();
        found.order_by(|a, b| {
            let struck = |item: &ItemTally| item.instead.values().sum::<u32>();
            struck(b.2).cmp(&struck(a.2)).then_with(|| a.1.cmp(b.1))
        });
        found
    }
}
