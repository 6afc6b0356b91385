//! A placement as a change of the layout: what moves, what it saves, when it
//! is paid back.

use super::bound::Proof;
use super::learner::Pace;
use super::problem::Placed;
use super::task::{FINDING_MS, Spot, Task};
use crate::keyboard::Output;
use crate::layout::{Assignment, Layout};
use crate::survey::Saving;

/// Paying back is looked for so many working days ahead: four years.
const FAR: u32 = 1000;
/// 90 % of a normal distribution lie within so many standard deviations.
const Z90: f64 = 1.6449;

/// A symbol that changes its key.
#[derive(Debug, Clone, PartialEq)]
pub struct Move {
    /// The symbol.
    pub output: Output,
    /// Where it lies.
    pub from: Spot,
    /// Where it is to lie.
    pub to: Spot,
    /// How often a working day strikes it on these layers.
    pub a_day: f64,
}

/// What is proposed.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// What changes, the most needed first; empty where everything lies well.
    pub moves: Vec<Move>,
    /// Seconds a working day at the end of the days, against today's places,
    /// with their 90 % interval: from the errors of the keys' own courses,
    /// independent, and of the person's learning rate, common to all that moves.
    /// What a key's effort does to its time is taken as known.
    pub saved: Saving,
    /// The working day on which what was lost while learning is won back; none
    /// where that is more than four years away. Zero where nothing moves.
    pub paid_back: Option<u32>,
    /// Seconds won over all days, those of learning taken off; never below zero.
    pub won: f64,
    /// Where something costs less only by bringing families together: what it
    /// would win over all days, below zero, so that it is not proposed.
    pub unpaid: Option<f64>,
    /// The problem's cost as it lies, and as proposed: with what families under
    /// several fingers cost, ms over all days.
    pub costs: (i64, i64),
    /// No placement costs less, ms over all days.
    pub least: i64,
    /// The layout as proposed.
    pub layout: Layout,
}

impl Proposal {
    /// True where it is certain that no placement costs less.
    pub const fn is_optimal(&self) -> bool {
        self.least >= self.costs.1
    }

    /// How much less, as a share of the cost, a placement could at most cost.
    pub fn gap(&self) -> f64 {
        let (cost, least) = (self.costs.1 as f64, self.least as f64);
        if self.is_optimal() { 0.0 } else { (cost - least) / cost.abs().max(1.0) }
    }
}

impl Task<'_> {
    /// What `proof` found, as a change of the layout; nothing where today's
    /// places cost no more, or where time is lost over the days.
    pub fn proposal(&self, proof: &Proof) -> Proposal {
        let today = self.today();
        let best = self.copies_stay(&proof.best, &today);
        if best.cost >= today.cost {
            return self.change(proof, &today);
        }
        let found = self.change(proof, &best);
        if found.won >= 0.0 {
            return found;
        }
        Proposal { unpaid: Some(found.won), ..self.change(proof, &today) }
    }

    /// `best` with copies of one symbol, which lies on several layers, exchanged
    /// so that none goes where another lies today: for the person that is no
    /// change, and nothing to be learnt.
    fn copies_stay(&self, best: &Placed, today: &Placed) -> Placed {
        let mut keys = best.keys.clone();
        let n = self.symbols.len();
        let pair = |keys: &[usize]| {
            let all = (0..n).flat_map(|i| (0..n).map(move |j| (i, j)));
            all.filter(|(i, j)| i != j && self.symbols[*i].output == self.symbols[*j].output)
                .find(|(i, j)| keys[*i] == today.keys[*j])
        };
        // Each exchange puts one copy where it lies today, for good.
        while let Some((i, j)) = pair(&keys) {
            keys.swap(i, j);
        }
        Placed { cost: self.problem().cost(&keys), keys }
    }

    /// The change of today's places to `best`.
    fn change(&self, proof: &Proof, best: &Placed) -> Proposal {
        let today = self.today();
        let mut moves: Vec<Move> = (0..self.symbols.len())
            .filter(|i| best.keys[*i] != today.keys[*i])
            .map(|i| Move {
                output: self.symbols[i].output.clone(),
                from: self.slots[today.keys[i]].spot,
                to: self.slots[best.keys[i]].spot,
                a_day: self.symbols[i].a_day,
            })
            .collect();
        moves.sort_by(|a, b| b.a_day.total_cmp(&a.a_day).then(a.output.cmp(&b.output)));
        let days = self.wish.days;
        let gain = |day: f64| self.seconds(&today.keys, day) - self.seconds(&best.keys, day);
        let seconds = gain(f64::from(days));
        let error = self.error(&today.keys, &best.keys, f64::from(days));
        let saved = Saving { seconds, low: seconds - Z90 * error, high: seconds + Z90 * error };
        // It is paid before anything is won.
        let mut sum = -(moves.len() as f64 * FINDING_MS) / 1000.0;
        let (mut won, mut paid_back) = (0.0, None);
        for day in 0..FAR.max(days) {
            sum += gain(f64::from(day) + 0.5);
            if day < days {
                won = sum;
            }
            if sum >= 0.0 && paid_back.is_none() {
                paid_back = Some(day + 1);
            } else if sum < 0.0 {
                // It was no more than a good first day.
                paid_back = None;
            }
        }
        Proposal {
            saved,
            paid_back: if moves.is_empty() { Some(0) } else { paid_back },
            won,
            unpaid: None,
            costs: (today.cost, best.cost),
            least: proof.least.min(best.cost),
            layout: self.with(&moves),
            moves,
        }
    }

    /// What the symbols of a working day take on these keys, seconds, so many
    /// days from now.
    fn seconds(&self, keys: &[usize], day: f64) -> f64 {
        let (n, slots) = (self.symbols.len(), self.slots.len());
        let mut ms = 0.0;
        for (i, symbol) in self.symbols.iter().enumerate() {
            ms += self.stroke(i, keys[i], day) * symbol.a_day;
            for j in 0..n {
                let longer = self.longer[keys[i] * slots + keys[j]];
                ms += self.follows[i * n + j] * self.typical_ms * longer;
            }
        }
        ms / 1000.0
    }

    /// One stroke of a symbol, ms, with what entering its layer adds.
    fn stroke(&self, symbol: usize, slot: usize, day: f64) -> f64 {
        let one = &self.symbols[symbol];
        let log = self.pace(symbol, slot).log(&self.learner, one.a_day * day);
        log.exp() * (1.0 + one.entered * self.entering[slot])
    }

    /// The standard error of the difference, seconds a day.
    fn error(&self, before: &[usize], after: &[usize], day: f64) -> f64 {
        // By the level and by the rate that all new keys have in common, and by
        // each key's own course.
        let (mut level, mut rate, mut own) = (0.0, 0.0, 0.0);
        for (i, symbol) in self.symbols.iter().enumerate() {
            if before[i] == after[i] {
                continue;
            }
            for (keys, sign) in [(before, -1.0), (after, 1.0)] {
                let times = symbol.a_day * day;
                let ms = sign * symbol.a_day * self.stroke(i, keys[i], day);
                match self.pace(i, keys[i]) {
                    Pace::New { .. } => {
                        level += ms;
                        rate += ms * times.ln_1p();
                    }
                    Pace::Stays(course) => own += (ms * course.log().1).powi(2),
                }
            }
        }
        let (b, c) = (self.learner.b.1, self.learner.c.1);
        ((level * b).powi(2) + (rate * c).powi(2) + own).sqrt() / 1000.0
    }

    /// The layout with `moves` made: what gave way does nothing or, where it let
    /// the layer beneath through, does so again.
    fn with(&self, moves: &[Move]) -> Layout {
        let mut layout = self.wish.layout.clone();
        let board = layout.board.clone();
        let index = |spot: Spot| board.index_of(spot.1).unwrap_or_default();
        // A key that is left empty is as the layer's empty keys are.
        for one in moves {
            let empty = self.empty(one.from);
            layout.layers[one.from.0.index()].keys[index(one.from)] = empty;
        }
        for one in moves {
            layout.layers[one.to.0.index()].keys[index(one.to)] =
                Assignment::Gives(one.output.clone());
            if let Some(place) = layout.prefer.get_mut(&one.output)
                && *place == one.from
            {
                *place = one.to;
            }
        }
        layout
    }

    /// What an emptied key of this layer does: what most of the keys that
    /// give nothing there do.
    fn empty(&self, (layer, _): Spot) -> Assignment {
        let keys = &self.wish.layout.layer(layer).keys;
        let count = |kind: &Assignment| keys.iter().filter(|key| *key == kind).count();
        if layer.index() != 0 && count(&Assignment::FallThrough) >= count(&Assignment::Nothing) {
            Assignment::FallThrough
        } else {
            Assignment::Nothing
        }
    }
}
