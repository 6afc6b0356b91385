//! Which drill, and what it should be rich in.

use super::belief::Beliefs;
use super::need::Need;
use super::reason::Why;
use super::value::Costs;
use crate::drill::{ItemKey, Offer, Pull, Weights, What};
use crate::layout::{Cluster, LayerId, Layout, RouteTable};
use crate::order::{Gather, InOrder};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet};

/// At most so many keys of an offer are new at a time.
pub const NEW_AT_ONCE: usize = 5;
/// A key is no longer new after so many times.
const MET: f64 = 6.0;
/// Of a drill of 180 strokes so many are of its focus, about; the rest are
/// words and blanks around them. Seen in drills made of the shipped material.
const FOCUS_STROKES: usize = 70;
const OTHER_STROKES: f64 = 110.0;
/// So many of a layer's keys come right after another layer's, about.
const ENTRIES: f64 = 0.6;
/// Editing tasks: keys of a drill, about, and seconds of it that go into
/// reading what is asked. Our own estimate, no source.
const TASK_STROKES: usize = 45;
const TASK_READING: f64 = 30.0;
/// The same of a drill of shortcuts.
const STRIKES: usize = 24;
/// Shortcuts come in every fifth drill at most: what is repeated at once is
/// hardly remembered better (the spacing effect; five is our own choice).
const SPACED: u32 = 5;
const STRIKE_READING: f64 = 24.0;

/// Of what a drill is made.
#[derive(Debug, Clone, Copy)]
struct Shape {
    /// Strokes that it is about.
    focus: usize,
    /// What everything else in it takes, seconds.
    other_seconds: f64,
    /// Shares of its keys that come right after another layer.
    entries: f64,
}

impl Shape {
    fn of(what: What, layout: &Layout, weights: &Weights) -> Self {
        if what.is_movement(layout) {
            Self { focus: TASK_STROKES, other_seconds: TASK_READING, entries: 0.0 }
        } else if what == What::Cluster(Cluster::Shortcuts) {
            Self { focus: STRIKES, other_seconds: STRIKE_READING, entries: 0.0 }
        } else {
            let other_seconds = OTHER_STROKES * weights.other_seconds;
            Self { focus: FOCUS_STROKES, other_seconds, entries: ENTRIES }
        }
    }
}

/// What the person asks of the plan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wishes {
    /// Get every other drill, in turn.
    pub pinned: Vec<What>,
    /// Are not practised.
    pub left_out: BTreeSet<LayerId>,
}

/// What the plan goes by.
#[derive(Debug, Clone, Copy)]
pub struct Planner<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its routes.
    pub routes: &'a RouteTable,
    /// What it can drill: [`crate::drill::offers`].
    pub offers: &'a [Offer],
    /// What the person's text needs.
    pub need: &'a Need,
    /// What is known of the person.
    pub beliefs: &'a Beliefs,
    /// What they asked for.
    pub wishes: &'a Wishes,
    /// The same seed gives the same plan.
    pub seed: u64,
}

/// A drill to make.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// What to practise: for [`crate::drill::Request::what`].
    pub what: What,
    /// A title for people.
    pub title: String,
    /// What it should be rich in: for [`crate::drill::Request::weights`].
    pub weights: Weights,
    /// What it is about, most worth first; at most eight.
    pub items: Vec<ItemKey>,
    /// Those of them that were never struck before.
    pub new: Vec<ItemKey>,
    /// What the drill is expected to save, ms for each page of text and second of practice.
    pub worth: f64,
    /// Why, in one line of plain words.
    pub reason: String,
    /// How often each item is expected to come.
    pub(super) comes: BTreeMap<ItemKey, f64>,
}

impl Planner<'_> {
    /// The drill number `ordinal` of a sitting; none where nothing is left to
    /// practise. Outputs that several layers have are due as in text, by their
    /// preferred routes, unless the drill was pinned.
    pub fn next(&self, ordinal: u32) -> Option<Choice> {
        if let Some(pinned) = self.pinned(ordinal)
            && let Some(choice) = self.about(pinned, ordinal)
        {
            return Some(choice);
        }
        self.best(&self.draw(ordinal), ordinal)
    }

    /// The same drill where the person chose `what`, on the layers of their
    /// choice wherever those have an output; none where the layout does not
    /// offer it.
    pub fn about(&self, what: What, ordinal: u32) -> Option<Choice> {
        let offer = self.offers.iter().find(|offer| offer.what == what)?;
        let costs = self.draw(ordinal);
        let weights = Weights { on_own_layers: true, ..costs.weights() };
        Some(self.choice(offer, &costs, &weights))
    }

    pub(super) fn draw(&self, ordinal: u32) -> Costs {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        rng.set_stream(u64::from(ordinal));
        Costs::new(self.beliefs, self.need, Some(&mut rng))
    }

    fn pinned(&self, ordinal: u32) -> Option<What> {
        let turn = ordinal.is_multiple_of(2).then_some(ordinal as usize / 2)?;
        self.wishes.pinned.get(turn % self.wishes.pinned.len().max(1)).copied()
    }

    fn best(&self, costs: &Costs, ordinal: u32) -> Option<Choice> {
        let recalled = What::Cluster(Cluster::Shortcuts);
        let spaced = ordinal.is_multiple_of(SPACED);
        let weights = costs.weights();
        self.offers
            .iter()
            .filter(|offer| !offer.layers.iter().all(|layer| self.is_left_out(*layer)))
            .filter(|offer| spaced || offer.what != recalled)
            .map(|offer| self.choice(offer, costs, &weights))
            .filter(|choice| choice.worth > 0.0)
            .reduce(|best, next| if next.worth > best.worth { next } else { best })
    }

    fn is_left_out(&self, layer: LayerId) -> bool {
        self.wishes.left_out.contains(&layer)
    }

    fn times(&self, key: &ItemKey) -> f64 {
        self.beliefs.items.get(key).map_or(0.0, |belief| belief.course.times)
    }

    fn choice(&self, offer: &Offer, costs: &Costs, weights: &Weights) -> Choice {
        let mut weights = weights.clone();
        let own: BTreeSet<ItemKey> = offer
            .keys
            .iter()
            .filter_map(|output| {
                let practised = if weights.on_own_layers { offer.layers.as_slice() } else { &[] };
                let route = self.routes.after(None, output, practised)?;
                Some((route.layer, output.clone()))
            })
            .gather();
        let new = self.bring_in(&own, &weights);
        for key in weights.items.keys() {
            let left_out = key.0 != LayerId::BASE && self.is_left_out(key.0);
            if left_out || (self.times(key) < 1.0 && !new.contains(key)) {
                weights.later.insert(key.clone());
            }
        }
        for key in &weights.later {
            weights.items.remove(key);
        }
        let left_out = &self.wishes.left_out;
        weights.switches.retain(|(from, to), _| !left_out.contains(from) && !left_out.contains(to));
        let shape = Shape::of(offer.what, self.layout, &weights);
        let (comes, worth) = expected(&own, &weights, shape);
        let mut items: Vec<(f64, ItemKey)> = comes
            .iter()
            .map(|(key, times)| (gained(&weights.items[key], *times), key.clone()))
            .collect();
        items.order_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
        let items: Vec<ItemKey> = items.into_iter().map(|(_, key)| key).take(8).collect();
        let new: Vec<ItemKey> = items.iter().filter(|key| new.contains(*key)).cloned().collect();
        let why = Why { planner: self, costs };
        let reason = why.reason(&items, &new, &comes, &weights);
        let (what, title) = (offer.what, offer.title.clone());
        Choice { what, title, weights, items, new, worth, reason, comes }
    }

    /// The keys that come for the first time now: as many as there is room for
    /// beside those that came a few times only, the most worth first.
    fn bring_in(&self, own: &BTreeSet<ItemKey>, weights: &Weights) -> BTreeSet<ItemKey> {
        let times = |key: &&ItemKey| self.times(key);
        let fresh = own.iter().filter(|key| (1.0..MET).contains(&times(key))).count();
        let rate = |key: &ItemKey| {
            let pull = weights.items.get(key);
            pull.map_or(0.0, |pull| pull.worth(0.0) / pull.seconds.max(f64::MIN_POSITIVE))
        };
        let mut unmet: Vec<&ItemKey> = own
            .iter()
            .filter(|key| times(key) < 1.0 && !(self.is_left_out(key.0) && key.0 != LayerId::BASE))
            .collect();
        unmet.order_by(|a, b| rate(b).total_cmp(&rate(a)).then_with(|| a.cmp(b)));
        let room = NEW_AT_ONCE.saturating_sub(fresh);
        unmet.into_iter().take(room).cloned().gather()
    }
}

/// What `times` more repetitions gain.
fn gained(pull: &Pull, times: f64) -> f64 {
    pull.gain * (times / pull.times.max(1.0)).ln_1p()
}

/// How often a drill about `own` brings each of them, the most worth a second
/// first, and what the whole drill is worth a second.
fn expected(
    own: &BTreeSet<ItemKey>,
    weights: &Weights,
    shape: Shape,
) -> (BTreeMap<ItemKey, f64>, f64) {
    let there: Vec<(&ItemKey, &Pull)> =
        own.iter().filter_map(|key| weights.items.get(key).map(|pull| (key, pull))).collect();
    let mut times = vec![0_u32; there.len()];
    let rate = |n: usize, times: u32| {
        let pull = there[n].1;
        pull.worth(f64::from(times)) / pull.seconds.max(f64::MIN_POSITIVE)
    };
    let mut rates: Vec<f64> = (0..there.len()).map(|n| rate(n, 0)).collect();
    let (mut gain, mut seconds) = (0.0, 0.0);
    let mut of_layer: BTreeMap<LayerId, f64> = BTreeMap::new();
    for _ in 0..shape.focus {
        let best = (0..rates.len()).max_by(|a, b| rates[*a].total_cmp(&rates[*b]).then(b.cmp(a)));
        let Some(best) = best else { break };
        let (key, pull) = there[best];
        gain += pull.worth(f64::from(times[best]));
        seconds += pull.seconds;
        times[best] += 1;
        rates[best] = rate(best, times[best]);
        *of_layer.entry(key.0).or_default() += shape.entries;
    }
    for (layer, entries) in of_layer.into_iter().filter(|(layer, _)| *layer != LayerId::BASE) {
        for pair in [(LayerId::BASE, layer), (layer, LayerId::BASE)] {
            if let Some(pull) = weights.switches.get(&pair) {
                gain += gained(pull, entries);
                seconds += pull.seconds * entries;
            }
        }
    }
    seconds += shape.other_seconds;
    let comes = there
        .into_iter()
        .zip(times)
        .filter(|(_, times)| *times > 0)
        .map(|((key, _), times)| (key.clone(), f64::from(times)))
        .gather();
    (comes, if seconds > 0.0 { gain / seconds } else { 0.0 })
}
