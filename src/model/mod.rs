//! What the hands do: how long each item takes, what each layer switch costs,
//! how that changes, and which keys go wrong and how.
//!
//! Everything works on logarithms of latencies: intervals between keys are
//! close to log-normal, and a switch cost is stable as a ratio, not in
//! milliseconds. [`latency`] estimates medians, [`switch`] tells the cost of a
//! switch from the cost of its items, [`learning`] fits and forecasts,
//! [`layer`] does so for a whole layer, [`errors`] estimates error rates, [`slip`] names the kind of a wrong key,
//! [`recall`] tells what is remembered and what is due.
//! docs/method.md explains each number to the person.
//!
//! A model is of one layout. Days are whole local days since 1970-01-01 and
//! always an argument; nothing here reads a clock. Sums run in the order of
//! sorted keys, so the same data gives the same bits in whatever order it came.

pub mod errors;
pub mod hands;
pub mod latency;
pub mod layer;
pub mod learning;
pub mod numeric;
pub mod recall;
pub mod slip;
pub mod switch;

use crate::keyboard::{Output, Position};
use crate::layout::LayerId;
use crate::session::Keystroke;
use serde::{Deserialize, Serialize};

/// What is learnt and measured: an output by the key and layer that it was due
/// on. The layout is that of the model. An output that is due by two routes,
/// as the company in its line has it, is two items.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Item {
    /// The layer that gives it.
    pub layer: LayerId,
    /// The key; none for an output that the layout can't give.
    pub position: Option<Position>,
    /// The output.
    pub output: Output,
}

impl Item {
    /// What was due at `keystroke`.
    pub fn of(keystroke: &Keystroke) -> Self {
        Self {
            layer: keystroke.layer,
            position: keystroke.position,
            output: keystroke.expected.clone(),
        }
    }
}

/// A value in milliseconds with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The estimate, ms.
    pub ms: f64,
    /// Lower end of the 90 % interval, ms.
    pub low_ms: f64,
    /// Upper end of the 90 % interval, ms.
    pub high_ms: f64,
}

impl Estimate {
    /// The median whose logarithm is `mean` with standard error `error`.
    fn of_ln(mean: f64, error: f64) -> Self {
        let half = numeric::Z90 * error;
        Self { ms: mean.exp(), low_ms: (mean - half).exp(), high_ms: (mean + half).exp() }
    }

    /// A difference with standard error `error`, on the scale of ms.
    fn of_difference(ms: f64, error: f64) -> Self {
        let half = numeric::Z90 * error;
        Self { ms, low_ms: ms - half, high_ms: ms + half }
    }

    /// True where the interval holds `ms`.
    pub fn holds(&self, ms: f64) -> bool {
        (self.low_ms..=self.high_ms).contains(&ms)
    }
}
