//! What a drill should be rich in, and drills composed by that.

use super::compose::{Composer, Composition};
use super::material::Piece;
use crate::keyboard::Output;
use crate::layout::{LayerId, RouteTable};
use crate::order::{Gather, InOrder};
use std::collections::{BTreeMap, BTreeSet};

/// An item: an output and the layer that gives it.
pub type ItemKey = (LayerId, Output);
/// A switch of layers: from, to.
pub type SwitchKey = (LayerId, LayerId);

/// What one more time of something is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull {
    /// Worth of a repetition is this over the repetitions so far, in any unit
    /// that is the same for all, ≥ 0.
    pub gain: f64,
    /// Repetitions so far, and one more; ≥ 1.
    pub times: f64,
    /// What it takes, seconds; for a switch, what it adds.
    pub seconds: f64,
}

impl Pull {
    /// What the repetition is worth that comes after `more` others, by a
    /// power law of practice: gain · log((times + more + 1) / (times + more)).
    pub fn worth(&self, more: f64) -> f64 {
        self.gain * (1.0 / (self.times.max(1.0) + more)).ln_1p()
    }
}

/// What a drill should be rich in.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Weights {
    /// By item.
    pub items: BTreeMap<ItemKey, Pull>,
    /// By switch.
    pub switches: BTreeMap<SwitchKey, Pull>,
    /// What is not to come if that can be avoided: keys that have not been
    /// brought in yet.
    pub later: BTreeSet<ItemKey>,
    /// What a stroke takes that has no weight, seconds, > 0.
    pub other_seconds: f64,
    /// True where an output that several layers have is due on a layer that the
    /// drill practises; false where it is due as in text, by its preferred
    /// route.
    pub on_own_layers: bool,
}

/// How often each thing has come.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen<'a> {
    items: BTreeMap<&'a ItemKey, f64>,
    switches: BTreeMap<SwitchKey, f64>,
}

/// A text as weights see it.
#[derive(Debug, Clone, Default)]
pub(super) struct Strokes(Vec<(Option<LayerId>, ItemKey)>);

impl Strokes {
    pub fn of(routes: &RouteTable, lines: &[Vec<Output>], practised: &[LayerId]) -> Self {
        let mut strokes = Vec::new();
        for line in lines {
            let mut before = None;
            for (output, route) in line.iter().zip(routes.along(line, practised)) {
                let layer = route.map_or(LayerId::BASE, |route| route.layer);
                strokes.push((before, (layer, output.clone())));
                before = Some(layer);
            }
        }
        Self(strokes)
    }
}

impl Weights {
    /// Which of the drill's own `layers` decide where its outputs are due.
    pub(super) fn practised<'l>(&self, layers: &'l [LayerId]) -> &'l [LayerId] {
        if self.on_own_layers { layers } else { &[] }
    }

    /// What `strokes` are worth a second, on top of what was `seen`.
    fn rate<'a>(&self, strokes: &'a Strokes, seen: &Seen<'a>) -> f64 {
        let (gain, seconds) = self.sums(strokes, &mut seen.clone());
        let later: BTreeSet<&ItemKey> =
            strokes.0.iter().map(|(_, key)| key).filter(|key| self.later.contains(key)).gather();
        gain / seconds.max(self.other_seconds) * LATER.powf(later.len() as f64)
    }

    /// Worth and seconds of `strokes`, which are then seen.
    fn sums<'a>(&self, strokes: &'a Strokes, seen: &mut Seen<'a>) -> (f64, f64) {
        let (mut gain, mut seconds) = (0.0, 0.0);
        for (from, key) in &strokes.0 {
            if from.is_none() {
                seconds += LINE_SECONDS;
            }
            if let Some(pull) = self.items.get(key) {
                let more = seen.items.entry(key).or_default();
                gain += pull.worth(*more);
                seconds += pull.seconds;
                *more += 1.0;
            } else {
                seconds += self.other_seconds;
            }
            let Some(from) = from.filter(|from| *from != key.0) else { continue };
            if let Some(pull) = self.switches.get(&(from, key.0)) {
                let more = seen.switches.entry((from, key.0)).or_default();
                gain += pull.worth(*more);
                seconds += pull.seconds;
                *more += 1.0;
            }
        }
        (gain, seconds)
    }

    /// What `lines` are worth as practice of the layers `practised`, in the unit
    /// of the gains, and how many seconds they take by these figures.
    pub fn worth(
        &self,
        routes: &RouteTable,
        lines: &[Vec<Output>],
        practised: &[LayerId],
    ) -> (f64, f64) {
        self.sums(&Strokes::of(routes, lines, practised), &mut Seen::default())
    }
}

/// So many outputs get fragments made for them.
const TARGETS: usize = 20;
/// So many lines of fragments are made to choose from.
const MADE: usize = 36;
/// Fragments in one such line.
const FRAGMENTS: usize = 3;
/// A piece whose turn it is counts for so much more, so that the same pieces
/// don't come again and again.
const TURN: f64 = 1.1;
/// Each key that was not to come yet lowers a line's rate to this.
const LATER: f64 = 0.9;
/// Every line has to be read before its first key, seconds (our own estimate;
/// the keystroke-level model has 1.35 s for a mental step).
const LINE_SECONDS: f64 = 1.0;

impl Composer<'_, '_> {
    /// A drill that is rich in what `weights` ask for: pieces and lines of
    /// fragments by what they are worth a second, the best first, each one
    /// counting for less what the drill has already.
    pub fn compose_weighted(
        mut self,
        pieces: &[&Piece],
        order: &[usize],
        extra: &[String],
        routes: &RouteTable,
        weights: &Weights,
    ) -> Composition {
        let targets = self.targets(routes, weights);
        let focus = self.bench.focus;
        let practised = weights.practised(&focus.layers);
        let mut choices: Vec<(Vec<Vec<Output>>, Strokes, bool, bool)> = Vec::new();
        let mut lost = Vec::new();
        for candidate in self.candidates(pieces, order, extra, &targets) {
            let strokes = Strokes::of(routes, &candidate.lines, practised);
            choices.push((candidate.lines, strokes, candidate.due, false));
            lost.push(candidate.lost);
        }
        for _ in 0..if targets.is_empty() { 0 } else { MADE } {
            let mut items = Vec::new();
            for _ in 0..FRAGMENTS {
                let Some(target) = self.bench.pick(&targets) else { break };
                let fragment = self.bench.fragment(&target);
                if !items.is_empty() && self.bench.reach.can(&Output::char(' ')) {
                    items.push(Output::char(' '));
                }
                items.extend(fragment);
            }
            let lines = super::wrap::wrapped(&items, self.width - self.weaver.margin());
            if lines.is_empty() {
                continue;
            }
            let strokes = Strokes::of(routes, &lines, practised);
            choices.push((lines, strokes, true, true));
            lost.push(BTreeMap::new());
        }
        let kept = choices.clone();
        let mut seen = Seen::default();
        let mut open: BTreeSet<usize> = (0..choices.len()).gather();
        while self.total < self.strokes * 9 / 10 {
            let room = self.strokes * 23 / 20 - self.total;
            let best = open
                .iter()
                .filter(|n| kept[**n].1.0.len() <= room && !kept[**n].1.0.is_empty())
                .map(|n| {
                    let (_, strokes, due, _) = &kept[*n];
                    (weights.rate(strokes, &seen) * if *due { TURN } else { 1.0 }, *n)
                })
                .filter(|(rate, _)| *rate > 0.0)
                .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
            let before = self.total;
            if let Some((_, n)) = best {
                open.remove(&n);
                weights.sums(&kept[n].1, &mut seen);
                self.note_lost(std::mem::take(&mut lost[n]));
                self.add_unit(std::mem::take(&mut choices[n].0), kept[n].3);
            } else {
                self.add_filler(room);
            }
            if self.total == before {
                break;
            }
        }
        self.close()
    }

    /// The outputs of the focus that are worth most a second, the best first.
    fn targets(&self, routes: &RouteTable, weights: &Weights) -> Vec<Output> {
        let mut targets: Vec<(f64, &Output)> = self
            .bench
            .focus
            .text
            .iter()
            .filter_map(|output| {
                let route =
                    routes.after(None, output, weights.practised(&self.bench.focus.layers))?;
                let key = (route.layer, output.clone());
                if weights.later.contains(&key) {
                    return None;
                }
                let pull = weights.items.get(&key)?;
                Some((pull.worth(0.0) / pull.seconds.max(f64::MIN_POSITIVE), output))
            })
            .filter(|(rate, _)| *rate > 0.0)
            .collect();
        targets.order_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
        targets.into_iter().take(TARGETS).map(|(_, output)| output.clone()).collect()
    }
}
