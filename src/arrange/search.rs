//! Good placements: tabu search from many starts.
//!
//! From a random placement the best swap of two keys is made again and again,
//! worse ones too, but no symbol goes back to a key that it left a short while
//! ago unless that gives the best placement so far (robust tabu search, Taillard
//! 1991, Parallel Computing 17:443–455; how long a key stays barred is drawn
//! anew for each move). What every swap would change is kept up to date: after a
//! move each costs two products and not a sum over all symbols.

use super::problem::{Placed, Problem, Term};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How long to search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Starts, each from a placement of its own.
    pub starts: u32,
    /// Moves of each start.
    pub moves: u64,
}

impl Default for Effort {
    /// Enough that layers of thirty keys are not improved by more (measured:
    /// docs/performance.md).
    fn default() -> Self {
        Self { starts: 8, moves: 20_000 }
    }
}

/// The best placement of all starts. The same for the same seed.
pub fn search(problem: &Problem, seed: u64, effort: Effort) -> Placed {
    let starts = (0..effort.starts.max(1)).map(|n| start(problem, seed, n, effort.moves, i64::MIN));
    // There is at least one start.
    starts.min().unwrap_or_else(|| start(problem, seed, 0, 0, i64::MIN))
}

/// The best placement that start number `ordinal` of `seed` finds in so many
/// moves, or the first one that costs no more than `enough`. Starts know
/// nothing of each other, so that they may run side by side: the least of their
/// results is the same in any order.
pub fn start(problem: &Problem, seed: u64, ordinal: u32, moves: u64, enough: i64) -> Placed {
    let free = problem.free();
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(u64::from(ordinal) + 1);
    let mut order: Vec<usize> = (0..free.problem.keys()).collect();
    for i in (1..order.len()).rev() {
        order.swap(i, rng.random_range(0..=i));
    }
    let mut walk = Walk::new(&free.problem, order);
    let found = walk.run(moves, enough.saturating_sub(free.constant), &mut rng);
    free.whole(problem, &found)
}

/// A term with a row for every key: what no symbol stands on is stood on by
/// symbols that have nothing to do with any other.
struct Pair {
    /// Flow, n × n.
    flow: Vec<i64>,
    /// Distance between the keys of two symbols, n × n: by symbols, so that a
    /// move swaps two rows and two columns.
    apart: Vec<i64>,
    /// Both are symmetric: both directions change by the same.
    symmetric: bool,
}

impl Pair {
    fn new(term: &Term, symbols: usize, n: usize, order: &[usize]) -> Self {
        let mut flow = vec![0; n * n];
        for (i, row) in term.flow.chunks_exact(symbols.max(1)).enumerate() {
            flow[i * n..][..symbols].copy_from_slice(row);
        }
        let apart: Vec<i64> = (0..n * n)
            .map(|place| term.distance[order[place / n] * n + order[place % n]])
            .collect();
        let symmetric =
            |matrix: &[i64]| (0..n).all(|i| (0..i).all(|j| matrix[i * n + j] == matrix[j * n + i]));
        let symmetric = symmetric(&flow) && symmetric(&apart);
        Self { flow, apart, symmetric }
    }
}

/// A search under way.
struct Walk {
    /// Keys, and symbols with those that stand for none.
    n: usize,
    /// Symbols that stand for something come first.
    symbols: usize,
    pairs: Vec<Pair>,
    /// Cost of symbol i on the key of symbol j, n × n.
    linear: Vec<i64>,
    /// For each symbol its key.
    keys: Vec<usize>,
    cost: i64,
    /// What swapping i and j would change, by i · n + j for i < j.
    change: Vec<i64>,
    /// Symbol i may not go back to key k before this move, n × n.
    barred: Vec<u64>,
    /// Differences of a move, used again and again.
    rows: [Vec<i64>; 4],
}

impl Walk {
    fn new(problem: &Problem, keys: Vec<usize>) -> Self {
        let (symbols, n) = (problem.symbols(), problem.keys());
        let pairs = problem.terms().iter().map(|term| Pair::new(term, symbols, n, &keys));
        let mut linear = vec![0; n * n];
        for i in 0..symbols {
            for (j, key) in keys.iter().enumerate() {
                linear[i * n + j] = problem.linear(i, *key);
            }
        }
        let mut walk = Self {
            n,
            symbols,
            pairs: pairs.collect(),
            linear,
            cost: problem.cost(&keys[..symbols]),
            keys,
            change: vec![0; n * n],
            barred: vec![0; n * n],
            rows: std::array::from_fn(|_| vec![0; n]),
        };
        for i in 0..symbols {
            for j in i + 1..n {
                walk.change[i * n + j] = walk.change_of(i, j);
            }
        }
        walk
    }

    fn placed(&self) -> Placed {
        Placed { cost: self.cost, keys: self.keys[..self.symbols].to_vec() }
    }

    fn linear_change(&self, i: usize, j: usize) -> i64 {
        let at = |a: usize, b: usize| self.linear[a * self.n + b];
        at(i, j) + at(j, i) - at(i, i) - at(j, j)
    }

    /// What swapping i and j changes, from scratch.
    fn change_of(&self, i: usize, j: usize) -> i64 {
        let n = self.n;
        let mut sum = self.linear_change(i, j);
        for Pair { flow, apart, .. } in &self.pairs {
            sum += (flow[i * n + j] - flow[j * n + i]) * (apart[j * n + i] - apart[i * n + j]);
            for k in (0..n).filter(|k| *k != i && *k != j) {
                sum += (flow[k * n + i] - flow[k * n + j]) * (apart[k * n + j] - apart[k * n + i])
                    + (flow[i * n + k] - flow[j * n + k]) * (apart[j * n + k] - apart[i * n + k]);
            }
        }
        sum
    }

    /// Swaps u and v and brings all changes up to date.
    fn make(&mut self, u: usize, v: usize) {
        let n = self.n;
        self.cost += self.change[u * n + v];
        self.keys.swap(u, v);
        for row in self.linear.chunks_exact_mut(n) {
            row.swap(u, v);
        }
        for place in 0..self.pairs.len() {
            let Pair { flow, apart, symmetric } = &mut self.pairs[place];
            for k in 0..n {
                apart.swap(u * n + k, v * n + k);
            }
            for k in 0..n {
                apart.swap(k * n + u, k * n + v);
            }
            let [out, out_apart, back, back_apart] = &mut self.rows;
            for k in 0..n {
                out[k] = flow[u * n + k] - flow[v * n + k];
                out_apart[k] = apart[u * n + k] - apart[v * n + k];
                back[k] = flow[k * n + u] - flow[k * n + v];
                back_apart[k] = apart[k * n + u] - apart[k * n + v];
            }
            for symbol in 0..self.symbols {
                let after = symbol + 1..n;
                let change = &mut self.change[symbol * n..][after.clone()];
                let own = (out[symbol], out_apart[symbol]);
                let there = out[after.clone()].iter().zip(&out_apart[after.clone()]);
                if *symmetric {
                    for (change, (flow, apart)) in change.iter_mut().zip(there) {
                        *change += 2 * (own.0 - flow) * (apart - own.1);
                    }
                } else {
                    let own_back = (back[symbol], back_apart[symbol]);
                    let back = back[after.clone()].iter().zip(&back_apart[after]);
                    for (change, (there, back)) in change.iter_mut().zip(there.zip(back)) {
                        *change += (own.0 - there.0) * (there.1 - own.1)
                            + (own_back.0 - back.0) * (back.1 - own_back.1);
                    }
                }
            }
        }
        // Pairs with one of the two that moved have more that changed.
        for k in 0..n {
            for moved in [u, v] {
                let (low, high) = (k.min(moved), k.max(moved));
                if low != high && low < self.symbols {
                    self.change[low * n + high] = self.change_of(low, high);
                }
            }
        }
    }

    /// The best placement met in so many moves, or the first that costs no
    /// more than `enough`.
    fn run(&mut self, moves: u64, enough: i64, rng: &mut impl Rng) -> Placed {
        let n = self.n;
        let mut best = self.placed();
        // Where a symbol has not been for so long it is sent in the end.
        let patience = 5 * (n * n) as u64;
        for now in 1..=moves {
            if best.cost <= enough {
                break;
            }
            let Some((i, j)) = self.choose(now, best.cost - self.cost, patience) else { break };
            let (from, to) = (self.keys[i], self.keys[j]);
            self.make(i, j);
            for (symbol, key) in [(i, from), (j, to)] {
                // Nine to eleven tenths of the keys, as the paper has it.
                let long = (n as f64 * rng.random_range(0.9..1.1)) as u64;
                self.barred[symbol * n + key] = now + 1 + long;
            }
            if self.cost < best.cost {
                best = self.placed();
            }
        }
        best
    }

    /// The swap to make: of those that lead to the best placement so far or
    /// where nobody has been for long, or else of those that are not barred, the
    /// one that changes the cost least. The first of equals.
    fn choose(&self, now: u64, better: i64, patience: u64) -> Option<(usize, usize)> {
        let n = self.n;
        let mut chosen = None;
        let (mut least, mut aspired) = (i64::MAX, false);
        for i in 0..self.symbols {
            let changes = &self.change[i * n..][..n];
            for (j, &change) in changes.iter().enumerate().skip(i + 1) {
                let by_patience = now > patience;
                if change >= least && !by_patience {
                    continue;
                }
                let until = (self.barred[i * n + self.keys[j]], self.barred[j * n + self.keys[i]]);
                let overdue = by_patience && until.0.max(until.1) < now - patience;
                let wanted = change < better || overdue;
                if !wanted && (aspired || until.0.min(until.1) > now) {
                    continue;
                }
                if (wanted && !aspired) || change < least {
                    (least, aspired, chosen) = (change, wanted, Some((i, j)));
                }
            }
        }
        // Where all are barred, the walk goes on as if none were.
        chosen.or_else(|| (n > 1 && self.symbols > 0).then(|| (0, 1 + (now as usize) % (n - 1))))
    }
}
