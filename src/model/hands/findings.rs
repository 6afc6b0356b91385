//! What is estimated of a person's hands.

use super::{Hands, Unreadable};
use crate::keyboard::Output;
use crate::layout::LayerId;
use crate::model::Item;
use crate::model::errors::{ErrorRate, State};
use crate::model::latency::{GroupLatency, Latency};
use crate::model::layer::LayerCourse;
use crate::model::learning::Curve;
use crate::model::slip::Slip;
use crate::model::switch::{Options, Told, fit};
use crate::order::Gather;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// So many mistakes of an item are kept.
const MOST_MISTAKES: usize = 4;
/// The spread of single latencies where too little is known.
const USUAL_SPREAD: f64 = 0.3;

/// A wrong key that came instead of the right one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mistake {
    /// What was struck.
    pub got: Output,
    /// How often, retries included.
    pub n: u64,
    /// The most frequent kind.
    pub slip: Slip,
}

/// What is known of an item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ItemFinding {
    /// Its latency in the practised mix of arrivals and runs; none where
    /// nothing was timed lately.
    pub latency: Option<Latency>,
    /// Its median inside its layer, without the cost of getting there, ms.
    pub inside_ms: Option<f64>,
    /// How it changes with practice.
    pub curve: Option<Curve>,
    /// How often it was struck, ever.
    pub repetitions: u64,
    /// On how many days.
    pub n_days: usize,
    /// How often it goes wrong, lately.
    pub errors: ErrorRate,
    /// What comes instead, lately, the most frequent first; at most four.
    pub mistakes: Vec<Mistake>,
    /// Wrong keys by kind, lately, the most frequent first.
    pub slips: Vec<(Slip, u64)>,
}

impl ItemFinding {
    /// How far it is learnt against the target median `target_ms`.
    pub fn state(&self, target_ms: f64) -> State {
        State::of_item(self.latency.as_ref(), &self.errors, self.n_days, target_ms)
    }
}

/// What is known of a layer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LayerFinding {
    /// The mean of its items, and what single latencies spread.
    pub latency: GroupLatency,
    /// How its mean item changes with practice; none for fewer than two days.
    pub curve: Option<Curve>,
    /// How much faster the last half of the days was than the quarter before,
    /// as a share, with the 90 % interval; none for too few days.
    pub recent_gain: Option<(f64, f64, f64)>,
    /// True where the last half of the days brought no gain beyond the noise.
    pub stands_still: bool,
}

/// What is known of a switch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SwitchFinding {
    /// In ms.
    pub told: Told,
    /// ln of the ratio, with its standard error; means nothing where `told` is
    /// an arrival only.
    pub ln: (f64, f64),
    /// How often it was made, ever.
    pub times: u64,
}

/// What is estimated of a person's hands on one layout.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Findings {
    /// The local day of the estimate.
    pub day: i32,
    /// By item.
    pub items: BTreeMap<Item, ItemFinding>,
    /// By layer.
    pub layers: BTreeMap<LayerId, LayerFinding>,
    /// By (from, to).
    pub switches: BTreeMap<(LayerId, LayerId), SwitchFinding>,
    /// Why no switch could be told apart, in words for the person; none where
    /// some could.
    pub no_switches: Option<String>,
}

impl Findings {
    /// What `hands` come to as of local day `today`. Curves of items that were
    /// not struck since `earlier` are taken from it.
    pub fn of(hands: &Hands, today: i32, earlier: Option<&Self>) -> Self {
        let estimates = hands.latencies().estimate(today);
        let errors = hands.errors();
        let mut rates = errors.rates();
        let fitted = fit(&hands.statistics, &Options::default(), None);
        let spread =
            |layer: LayerId| estimates.groups.get(&layer).map_or(USUAL_SPREAD, |g| g.sd_ln);
        let mut items = BTreeMap::new();
        for (item, course) in &hands.courses.items {
            let known = earlier.and_then(|earlier| earlier.items.get(item));
            let curve = match known {
                Some(known) if known.repetitions == course.repetitions() => known.curve,
                _ => Curve::fit(course, spread(item.layer)),
            };
            items.insert(
                item.clone(),
                ItemFinding {
                    latency: estimates.keys.get(&(item.layer, item.clone())).copied(),
                    inside_ms: fitted.as_ref().ok().and_then(|fit| fit.inside_ms(item)),
                    curve,
                    repetitions: course.repetitions(),
                    n_days: course.days(),
                    errors: ErrorRate::new(0, 0, crate::model::errors::JEFFREYS),
                    mistakes: Vec::new(),
                    slips: Vec::new(),
                },
            );
        }
        for (item, of_item) in &errors.items {
            let Some(rate) = rates.remove(item) else { continue };
            let finding = items.entry(item.clone()).or_insert_with(|| ItemFinding {
                latency: None,
                inside_ms: None,
                curve: None,
                repetitions: 0,
                n_days: 0,
                errors: rate,
                mistakes: Vec::new(),
                slips: Vec::new(),
            });
            finding.errors = rate;
            finding.slips = of_item.slips();
            finding.mistakes = of_item
                .confusions()
                .into_iter()
                .take(MOST_MISTAKES)
                .map(|(got, confusion)| {
                    let most =
                        confusion.slips.iter().max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0)));
                    let slip = most.map_or(Slip::Other, |(slip, _)| *slip);
                    Mistake { got: got.clone(), n: confusion.n, slip }
                })
                .collect();
        }
        let layers = estimates.groups.iter().map(|(&layer, latency)| {
            let course = hands.courses.layer(layer, latency.sd_ln);
            (
                layer,
                LayerFinding {
                    latency: *latency,
                    curve: course.as_ref().map(|course| course.curve),
                    recent_gain: course.as_ref().and_then(LayerCourse::recent_gain),
                    stands_still: course.as_ref().is_some_and(LayerCourse::stands_still),
                },
            )
        });
        let layers = layers.gather();
        let mut switches = BTreeMap::new();
        if let Ok(fitted) = &fitted {
            for (pair, told) in &fitted.told {
                let ln = fitted.switches.get(pair).copied().unwrap_or_default();
                let times = hands.arrivals.get(pair).copied().unwrap_or_default();
                switches.insert(*pair, SwitchFinding { told: *told, ln, times });
            }
        }
        let no_switches = fitted.err().map(|error| error.to_string());
        Self { day: today, items, layers, switches, no_switches }
    }

    /// As bytes.
    pub fn to_bytes(&self) -> Vec<u8> {
        postcard::to_allocvec(self).unwrap_or_default()
    }

    /// From [`Findings::to_bytes`].
    ///
    /// # Errors
    /// [`Unreadable`] for anything else.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, Unreadable> {
        postcard::from_bytes(bytes).map_err(|_| Unreadable)
    }
}
