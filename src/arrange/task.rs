//! A layer as a problem: what each symbol costs on each key.
//!
//! The unit is a millisecond over all the days that the change is weighed for
//! ([`Wish::days`]), so that what must be learnt anew is paid in the same coin
//! as what it saves:
//!
//! - A symbol by itself: how often the work strikes it, times how long it takes,
//!   day by day. Where it stays, that is its own course as measured; on another
//!   key it starts as a new one and falls at the person's own rate ([`Learner`]),
//!   the effort of the key included; no new key is taken to cure a slow symbol.
//! - Two symbols one after the other: how often, times a typical stroke, times
//!   what the second takes longer after the first: the ratios of
//!   [`change`](crate::layout::effort::change), and the switch of layers where
//!   they are on two.
//! - A symbol that moves has to be found a few times, [`FINDING_MS`], so that what
//!   is hardly ever struck stays.
//! - Two of a family under different fingers: a share of the strokes of both,
//!   [`SPLIT`].

use super::learner::{Learner, Pace};
use super::problem::{Placed, Problem, ProblemError, Term};
use crate::keyboard::{Finger, Output, Position};
use crate::layout::effort::change;
use crate::layout::{Assignment, FAMILIES, LayerId, Layout, RouteTable, families_of};
use crate::model::hands::Findings;
use crate::plan::{Beliefs, Need, PAGE, Watch};
use crate::survey::{Counts, Habits};
use std::collections::{BTreeMap, BTreeSet};
use thiserror::Error;

/// What it costs to remember a family that lies under several fingers: so much
/// of each stroke of its members (our own estimate, no source).
pub const SPLIT: f64 = 0.12;

/// What it costs to find a symbol that has moved until it is known where it
/// went, however seldom it comes: twenty looks of half a second (our own
/// estimate, no source).
pub const FINDING_MS: f64 = 10_000.0;

/// Working days that a change is weighed for where nobody says otherwise: three
/// months (our own choice).
pub const DAYS: u32 = 60;

/// Why nothing can be arranged.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TaskError {
    /// No layer holds a symbol that may move.
    #[error("no symbol of {layers} may move: choose other layers or fewer pins")]
    NothingMoves {
        /// The layers asked for.
        layers: String,
    },
    /// A pin for what the layers don't have.
    #[error("{output} is not on {layers}, so that it can't be pinned there")]
    NotThere {
        /// As the person wrote it.
        output: String,
        /// The layers asked for.
        layers: String,
    },
    /// Nothing of the work needs these layers.
    #[error("the text needs nothing of {layers}: there is nothing to gain")]
    NotNeeded {
        /// The layers asked for.
        layers: String,
    },
    /// The figures.
    #[error(transparent)]
    Problem(#[from] ProblemError),
}

/// What is to be arranged.
#[derive(Debug, Clone)]
pub struct Wish<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its routes.
    pub routes: &'a RouteTable,
    /// The layers whose symbols may change places, with each other too.
    pub layers: Vec<LayerId>,
    /// What must stay where it is. Letters and digits stay anyway.
    pub pins: BTreeSet<Output>,
    /// Working days that the change is weighed for, ≥ 1.
    pub days: u32,
}

/// A key of a layer.
pub type Spot = (LayerId, Position);

/// A key that a symbol may lie on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slot {
    pub spot: Spot,
    pub finger: Finger,
    pub effort: f64,
}

/// A symbol that lies on one of the layers.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Symbol {
    pub output: Output,
    /// How often a working day strikes it here.
    pub a_day: f64,
    /// The share of these strokes that comes from outside of the layers.
    pub entered: f64,
    /// How it goes where it lies.
    pub pace: Pace,
}

/// The problem, with what its figures stand for.
#[derive(Debug, Clone)]
pub struct Task<'a> {
    pub(super) wish: Wish<'a>,
    pub(super) learner: Learner,
    pub(super) symbols: Vec<Symbol>,
    pub(super) slots: Vec<Slot>,
    /// How often a working day has symbol j right after symbol i, symbols ×
    /// symbols.
    pub(super) follows: Vec<f64>,
    /// How much longer a stroke on slot l takes after one on slot k, as a
    /// share, slots × slots.
    pub(super) longer: Vec<f64>,
    /// The same of entering the layer of each slot.
    pub(super) entering: Vec<f64>,
    /// A typical stroke, ms.
    pub(super) typical_ms: f64,
    stays: Vec<usize>,
    problem: Problem,
}

impl<'a> Task<'a> {
    /// The problem of `wish` for somebody with these `counts` and `habits`, of
    /// whose hands `findings` are known.
    ///
    /// # Errors
    /// [`TaskError`].
    pub fn new(
        wish: Wish<'a>,
        (counts, habits): (&Counts, &Habits),
        findings: &Findings,
    ) -> Result<Self, TaskError> {
        let Wish { layout, routes, .. } = wish;
        let watch = Watch::new(layout, routes).told(findings);
        let learner = Learner::of(routes, &wish.layers, findings);
        let slots = slots(&wish);
        let need = Need::of_counts(routes, counts, |_, _| true);
        let pages = habits.typed * habits.hours / PAGE;
        let mut symbols = Vec::new();
        let (mut stays, mut pins) = (Vec::new(), Vec::new());
        let mut seen = BTreeSet::new();
        for (place, slot) in slots.iter().enumerate() {
            let Some(output) = gives(layout, slot.spot) else { continue };
            let key = (slot.spot.0, output.clone());
            // Of an output twice on a layer the work goes by one of the two.
            let first = seen.insert(key.clone());
            let a_day = if first { need.item(&key) * pages } else { 0.0 };
            let movable = output.as_char().is_some_and(|c| !c.is_alphanumeric() && c != ' ');
            pins.push((!movable || wish.pins.contains(output)).then_some(place));
            stays.push(place);
            let pace = Pace::known(watch.beliefs(), slot.spot.0, output, slot.effort);
            symbols.push(Symbol { output: output.clone(), a_day, entered: 1.0, pace });
        }
        let layers = || names(&wish);
        if pins.iter().all(Option::is_some) {
            return Err(TaskError::NothingMoves { layers: layers() });
        }
        let here: BTreeSet<&Output> = symbols.iter().map(|symbol| &symbol.output).collect();
        if let Some(output) = wish.pins.iter().find(|output| !here.contains(output)) {
            return Err(TaskError::NotThere { output: output.to_string(), layers: layers() });
        }
        if symbols.iter().all(|symbol| symbol.a_day <= 0.0) {
            return Err(TaskError::NotNeeded { layers: layers() });
        }
        let follows = follows(&mut symbols, counts, pages);
        let longer = longer(&slots, watch.beliefs());
        let entering: Vec<f64> =
            slots.iter().map(|slot| switch(watch.beliefs(), LayerId::BASE, slot.spot.0)).collect();
        let typical_ms = typical(&symbols, &learner, wish.days);
        let mut task = Self {
            wish,
            learner,
            symbols,
            slots,
            follows,
            longer,
            entering,
            typical_ms,
            stays,
            problem: Problem::plain(0, Vec::new(), Vec::new())?,
        };
        task.problem = task.figures(pins)?;
        Ok(task)
    }

    /// The exact problem.
    pub const fn problem(&self) -> &Problem {
        &self.problem
    }

    /// What is known of how the person learns a key.
    pub const fn learner(&self) -> &Learner {
        &self.learner
    }

    /// How many symbols there are and how many may move, and the keys they may
    /// lie on.
    pub fn sizes(&self) -> (usize, usize, usize) {
        let free = (0..self.symbols.len()).filter(|i| self.problem.pin(*i).is_none()).count();
        (self.symbols.len(), free, self.slots.len())
    }

    /// The layers whose symbols may change places.
    pub fn layers(&self) -> &[LayerId] {
        &self.wish.layers
    }

    /// Working days that the change is weighed for.
    pub const fn days(&self) -> u32 {
        self.wish.days
    }

    /// How often a working day strikes each symbol.
    pub fn needs(&self) -> impl Iterator<Item = (&Output, Spot, f64)> {
        let places = self.symbols.iter().zip(&self.stays);
        places.map(|(symbol, place)| (&symbol.output, self.slots[*place].spot, symbol.a_day))
    }

    /// Everything as it lies today.
    pub fn today(&self) -> Placed {
        Placed { cost: self.problem.cost(&self.stays), keys: self.stays.clone() }
    }

    /// The pace of `symbol` on `slot`.
    pub(super) fn pace(&self, symbol: usize, slot: usize) -> Pace {
        let (pace, today) = (self.symbols[symbol].pace, self.stays[symbol]);
        if today == slot {
            return pace;
        }
        pace.anew(&self.learner, self.slots[today].effort, self.slots[slot].effort)
    }

    fn figures(&self, pins: Vec<Option<usize>>) -> Result<Problem, ProblemError> {
        let (symbols, slots) = (self.symbols.len(), self.slots.len());
        let days = f64::from(self.wish.days);
        let mut linear = Vec::with_capacity(symbols * slots);
        for (i, symbol) in self.symbols.iter().enumerate() {
            for k in 0..slots {
                let pace = self.pace(i, k);
                let each = symbol.a_day * (1.0 + symbol.entered * self.entering[k]);
                let all: f64 = (0..self.wish.days)
                    .map(|day| {
                        let times = symbol.a_day * (f64::from(day) + 0.5);
                        pace.log(&self.learner, times).exp()
                    })
                    .sum();
                let finding = if self.stays[i] == k { 0.0 } else { FINDING_MS };
                linear.push((each * all + finding).round() as i64);
            }
        }
        // In hundredths, which the products make whole again.
        let whole = |share: &f64| (100.0 * share).round() as i64;
        let pair = Term {
            flow: self
                .follows
                .iter()
                .map(|times| (times * days * self.typical_ms / 100.0).round() as i64)
                .collect(),
            distance: self.longer.iter().map(whole).collect(),
        };
        let apart = |at: usize| {
            let (one, other) = (&self.slots[at / slots], &self.slots[at % slots]);
            i64::from(one.finger != other.finger)
        };
        let family = Term {
            flow: self.families().iter().map(|ms| ms.round() as i64).collect(),
            distance: (0..slots * slots).map(apart).collect(),
        };
        Problem::new((symbols, slots), linear, vec![pair, family], pins)
    }

    /// What it costs over all days that two symbols of a family lie under
    /// different fingers, ms, symbols × symbols.
    fn families(&self) -> Vec<f64> {
        let n = self.symbols.len();
        let families: Vec<Vec<usize>> = self
            .symbols
            .iter()
            .map(|symbol| {
                symbol.output.as_char().map_or_else(Vec::new, |c| families_of(c).collect())
            })
            .collect();
        let mut sizes = vec![0.0; FAMILIES.len()];
        for family in families.iter().flatten() {
            sizes[*family] += 1.0;
        }
        let mut costs = vec![0.0; n * n];
        let ms = SPLIT * self.typical_ms * f64::from(self.wish.days);
        for i in 0..n {
            for j in i + 1..n {
                for family in families[i].iter().filter(|family| families[j].contains(family)) {
                    let strokes = self.symbols[i].a_day + self.symbols[j].a_day;
                    let others: f64 = sizes[*family] - 1.0;
                    costs[i * n + j] += strokes / others.max(1.0) * ms;
                }
            }
        }
        costs
    }
}

/// The names of the layers asked for.
fn names(wish: &Wish) -> String {
    let names = wish.layers.iter().map(|id| wish.layout.layer(*id).name.as_str());
    names.collect::<Vec<_>>().join(" and ")
}

/// What the key gives the host by a strike of its own.
fn gives(layout: &Layout, (layer, position): Spot) -> Option<&Output> {
    let index = layout.board.index_of(position)?;
    match &layout.layer(layer).keys[index] {
        Assignment::Gives(output) if output.as_char().is_some() => Some(output),
        _ => None,
    }
}

/// The keys that symbols may lie on: those that give a character now, those
/// that do nothing, and those of the fingers that let a letter of the base
/// layer through. Which of them can be struck while the layer is active, by
/// which finger and with what effort, is found by laying a character of its own
/// on each and asking for its route.
fn slots(wish: &Wish) -> Vec<Slot> {
    let mut trial = wish.layout.clone();
    trial.prefer.clear();
    let mut marks: Vec<(Output, Spot)> = Vec::new();
    let letters: Vec<bool> = wish.layout.layers[0]
        .keys
        .iter()
        .map(|key| matches!(key, Assignment::Gives(output) if output.as_char().is_some_and(char::is_alphabetic)))
        .collect();
    let mut private = '\u{f0000}'..='\u{ffffd}';
    for id in &wish.layers {
        for (index, site) in wish.layout.board.sites.iter().enumerate() {
            let key = &wish.layout.layer(*id).keys[index];
            let main = matches!(site.position, Position::Main { .. });
            let usable = match key {
                Assignment::Gives(output) => output.as_char().is_some(),
                Assignment::Nothing => main,
                Assignment::FallThrough => main && *id != LayerId::BASE && letters[index],
                _ => false,
            };
            if let Some(mark) = private.next().filter(|_| usable) {
                trial.layers[id.index()].keys[index] = Assignment::Gives(Output::char(mark));
                marks.push((Output::char(mark), (*id, site.position)));
            }
        }
    }
    let table = RouteTable::build(&trial);
    let slot = |(mark, spot): &(Output, Spot)| {
        let route = table.preferred(mark).filter(|route| route.modifiers.is_empty())?;
        Some(Slot { spot: *spot, finger: route.finger, effort: f64::from(route.effort) })
    };
    marks.iter().filter_map(slot).collect()
}

/// How often a working day has one symbol right after another; what comes from
/// elsewhere is noted with each.
fn follows(symbols: &mut [Symbol], counts: &Counts, pages: f64) -> Vec<f64> {
    let n = symbols.len();
    // A character on two layers goes by the one that the work uses more.
    let mut places: BTreeMap<char, usize> = BTreeMap::new();
    for (place, symbol) in symbols.iter().enumerate() {
        let Some(c) = symbol.output.as_char() else { continue };
        let known = places.entry(c).or_insert(place);
        if symbol.a_day > symbols[*known].a_day {
            *known = place;
        }
    }
    let a_day = pages * PAGE / (counts.total() as f64).max(1.0);
    let mut follows = vec![0.0; n * n];
    for (&(a, b), &times) in &counts.pairs {
        if let (Some(&i), Some(&j)) = (places.get(&a), places.get(&b))
            && symbols[i].a_day > 0.0
            && symbols[j].a_day > 0.0
        {
            follows[i * n + j] += times as f64 * a_day;
        }
    }
    for (j, symbol) in symbols.iter_mut().enumerate() {
        let within: f64 = (0..n).map(|i| follows[i * n + j]).sum();
        symbol.entered =
            if symbol.a_day > 0.0 { (1.0 - within / symbol.a_day).clamp(0.0, 1.0) } else { 0.0 };
    }
    follows
}

/// By how much, as a share, the stroke right after a switch takes longer.
fn switch(beliefs: &Beliefs, from: LayerId, to: LayerId) -> f64 {
    let belief = beliefs.switches.get(&(from, to));
    belief.map_or(0.0, |belief| belief.course.log().0.max(0.0).exp_m1())
}

fn longer(slots: &[Slot], beliefs: &Beliefs) -> Vec<f64> {
    let pairs = slots.iter().flat_map(|one| slots.iter().map(move |other| (one, other)));
    pairs
        .map(|(one, other)| {
            let hands = change((one.spot.1, one.finger), (other.spot.1, other.finger));
            let ratio = f64::from(hands) - 1.0;
            let (from, to) = (one.spot.0, other.spot.0);
            ratio + if from == to { 0.0 } else { switch(beliefs, from, to) }
        })
        .collect()
}

/// The mean stroke of the symbols where they lie, half way through the days,
/// ms.
fn typical(symbols: &[Symbol], learner: &Learner, days: u32) -> f64 {
    let (mut sum, mut strokes) = (0.0, 0.0);
    for symbol in symbols {
        let times = symbol.a_day * f64::from(days) / 2.0;
        sum += symbol.a_day * symbol.pace.log(learner, times).exp();
        strokes += symbol.a_day;
    }
    if strokes > 0.0 { sum / strokes } else { 0.0 }
}
