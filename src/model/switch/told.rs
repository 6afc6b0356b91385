//! What can be said of a switch in milliseconds.

use super::fit::{Cell, Design, Effect, Solved};
use crate::layout::LayerId;
use crate::model::Estimate;
use crate::model::numeric::Z90;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a switch costs over striking the same items inside the layer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cost {
    /// The mean over the arrivals seen of fitted time with the switch less
    /// fitted time without it, ms, with its 90 % interval. Below zero where
    /// arrivals are faster.
    pub ms: Estimate,
    /// The same as a ratio, > 0, with its 90 % interval: 1.4 is 40 % longer. A
    /// switch cost is steadier as a ratio, between people and over time.
    pub ratio: (f64, f64, f64),
    /// How many arrivals were seen.
    pub n: u64,
    /// What they are worth after fading.
    pub n_effective: f64,
}

/// How long an arrival takes, switch and item together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Arrival {
    /// The mean of the fitted times of the arrivals seen, ms, with its 90 %
    /// interval.
    pub ms: Estimate,
    /// How many arrivals were seen.
    pub n: u64,
    /// What they are worth after fading.
    pub n_effective: f64,
}

/// What can be said of a switch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Told {
    /// The switch was told apart from its items.
    Cost(Cost),
    /// No item of the layer was struck both right after this switch and
    /// inside the layer, so that only the arrival as a whole is known.
    ArrivalOnly(Arrival),
}

impl Told {
    /// The cost, where it could be told apart.
    pub const fn cost(&self) -> Option<&Cost> {
        match self {
            Self::Cost(cost) => Some(cost),
            Self::ArrivalOnly(_) => None,
        }
    }

    /// A sentence for the person.
    pub fn sentence(&self, from: &str, to: &str) -> String {
        match self {
            Self::Cost(cost) => format!(
                "going from {from} to {to} costs {:.0} ms (90 % interval {:.0} to {:.0}, n = {})",
                cost.ms.ms, cost.ms.low_ms, cost.ms.high_ms, cost.n
            ),
            Self::ArrivalOnly(arrival) => format!(
                "arriving on {to} from {from} takes {:.0} ms (90 % interval {:.0} to {:.0}, n = {}), \
                 its key included; the switch alone can't be told apart until a key of {to} is \
                 struck both right after {from} and inside {to}",
                arrival.ms.ms, arrival.ms.low_ms, arrival.ms.high_ms, arrival.n
            ),
        }
    }
}

/// A function's gradient: on the effects, and on the items.
struct Gradient {
    fixed: Vec<f64>,
    random: BTreeMap<usize, f64>,
}

impl Gradient {
    fn add(&mut self, item: usize, cell: &Cell, by: f64) {
        for column in cell.columns() {
            self.fixed[column] += by;
        }
        *self.random.entry(item).or_default() += by;
    }

    /// g′ Cov g in units of σ², from the parts of the block inverse:
    /// (a − BD⁻¹b)′ S⁻¹ (a − BD⁻¹b) + b′D⁻¹b.
    fn variance(mut self, solved: &Solved) -> f64 {
        let mut own = 0.0;
        for (item, b) in &self.random {
            own += b * b / solved.diagonals[*item];
            for (column, weight) in &solved.links[*item] {
                self.fixed[*column] -= weight * b / solved.diagonals[*item];
            }
        }
        let through: f64 =
            solved.covariance.times(&self.fixed).iter().zip(&self.fixed).map(|(a, b)| a * b).sum();
        (through + own).max(0.0)
    }
}

/// What can be said of every switch that was seen. `scale` turns covariances
/// into ln² ms. Intervals by the delta method.
pub(super) fn told(
    design: &Design<'_>,
    solved: &Solved,
    fixed: &[f64],
    random: &[f64],
    scale: f64,
) -> BTreeMap<(LayerId, LayerId), Told> {
    let mut all = BTreeMap::new();
    for (column, effect) in design.effects.iter().enumerate() {
        let Effect::Switch(from, to) = *effect else { continue };
        let arrivals: Vec<(usize, &Cell)> = design
            .rows
            .iter()
            .enumerate()
            .filter(|(_, row)| row.item.layer == to)
            .flat_map(|(item, row)| row.cells.iter().map(move |cell| (item, cell)))
            .filter(|(_, cell)| cell.from == from)
            .collect();
        let apart = arrivals.iter().any(|(item, _)| {
            let cells = &design.rows[*item].cells;
            cells.iter().any(|cell| cell.from == to && cell.count > 0)
        });
        let n = arrivals.iter().map(|(_, cell)| cell.count).sum();
        let n_effective: f64 = arrivals.iter().map(|(_, cell)| cell.weight).sum();
        let mut gradient =
            Gradient { fixed: vec![0.0; design.effects.len()], random: BTreeMap::new() };
        let mut ms = 0.0;
        let mut with_only = 0.0;
        for (item, cell) in arrivals {
            let share = cell.weight / n_effective;
            let ln: f64 = cell.columns().map(|c| fixed[c]).sum::<f64>() + random[item];
            let with = share * ln.exp();
            let without = if apart { share * (ln - fixed[column]).exp() } else { 0.0 };
            ms += with - without;
            with_only += without;
            gradient.add(item, cell, with - without);
        }
        // The switch is not in the time without it.
        gradient.fixed[column] += with_only;
        let estimate = Estimate::of_difference(ms, (scale * gradient.variance(solved)).sqrt());
        let told = if apart {
            let value = fixed[column];
            let half = Z90 * (scale * solved.covariance.at(column, column)).sqrt();
            let ratio = (value.exp(), (value - half).exp(), (value + half).exp());
            Told::Cost(Cost { ms: estimate, ratio, n, n_effective })
        } else {
            Told::ArrivalOnly(Arrival { ms: estimate, n, n_effective })
        };
        all.insert((from, to), told);
    }
    all
}
