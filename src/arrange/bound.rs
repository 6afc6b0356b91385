//! Proof that no placement is better, or by how much one might be.
//!
//! Branch and bound with the bound of Gilmore (1962) and Lawler (1963): what
//! symbol i costs at least on key k is its own cost there, what passes between
//! it and the symbols placed already, and the least sum of products of its flows
//! and the distances of that key, the largest flow with the smallest distance.
//! The least assignment of these sums is a bound for all placements, and its
//! reduced costs are bounds for what each single step would add.

use super::assign::Assignment;
use super::problem::{Placed, Problem, Term};

/// How much work a proof may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Patience {
    /// Bounds to work out. A count and not a time, so that the same problem has
    /// the same answer everywhere.
    pub bounds: u64,
}

impl Default for Patience {
    /// Enough for most layers (measured: docs/performance.md).
    fn default() -> Self {
        Self { bounds: 30_000 }
    }
}

/// What is certain.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// The best placement known.
    pub best: Placed,
    /// No placement costs less; the cost of the best where that is proved.
    pub least: i64,
    /// Bounds that were worked out.
    pub bounds: u64,
}

impl Proof {
    /// True where the best placement is certain to be one.
    pub const fn is_optimal(&self) -> bool {
        self.least >= self.best.cost
    }

    /// How much better, as a share of its cost, a placement could at most be.
    pub fn gap(&self) -> f64 {
        if self.is_optimal() {
            return 0.0;
        }
        let best = self.best.cost as f64;
        (best - self.least as f64) / best.abs().max(f64::MIN_POSITIVE)
    }
}

/// Looks for a better placement than `known`, or proves that there is none, as
/// far as `patience` goes.
///
/// # Panics
/// Where `known` isn't a placement that `problem` allows.
pub fn prove(problem: &Problem, known: &Placed, patience: Patience) -> Proof {
    assert!(problem.allows(&known.keys), "a placement of this problem");
    let free = problem.free();
    let keys = free.part(&known.keys).unwrap_or_default();
    let cost = known.cost - free.constant;
    let mut tree = Tree::new(&free.problem, Placed { cost, keys }, patience);
    let linear = tree.linear();
    tree.grow(&linear, 0);
    let least = tree.open.min(tree.best.cost);
    Proof {
        best: free.whole(problem, &tree.best),
        least: least + free.constant,
        bounds: tree.bounds,
    }
}

/// A term made ready for the bound.
struct Ready {
    /// What passes between two symbols, symbols × symbols, doubled.
    flow: Vec<i64>,
    /// keys × keys.
    distance: Vec<i64>,
    /// For each symbol the others, the largest flow first.
    flows: Vec<Vec<usize>>,
    /// For each key the others, the smallest distance first.
    distances: Vec<Vec<usize>>,
}

impl Ready {
    fn new(term: &Term, symbols: usize, keys: usize) -> Self {
        let both = |matrix: &[i64], n: usize| -> Vec<i64> {
            (0..n * n).map(|at| matrix[at] + matrix[(at % n) * n + at / n]).collect()
        };
        // Where one of the two is symmetric, the other may be made so without
        // changing any sum, and the bound gets tighter.
        let is_symmetric = |matrix: &[i64], n: usize| {
            (0..n * n).all(|at| matrix[at] == matrix[(at % n) * n + at / n])
        };
        let (flow, distance) = if is_symmetric(&term.distance, keys) {
            (both(&term.flow, symbols), term.distance.clone())
        } else if is_symmetric(&term.flow, symbols) {
            (term.flow.clone(), both(&term.distance, keys))
        } else {
            (term.flow.iter().map(|flow| 2 * flow).collect(), term.distance.clone())
        };
        let others = |n: usize, i: usize| (0..n).filter(move |j| *j != i);
        let flows = (0..symbols).map(|i| {
            let mut order: Vec<usize> = others(symbols, i).collect();
            order.sort_by_key(|j| std::cmp::Reverse(flow[i * symbols + j]));
            order
        });
        let flows = flows.collect();
        let distances = (0..keys).map(|k| {
            let mut order: Vec<usize> = others(keys, k).collect();
            order.sort_by_key(|l| distance[k * keys + l]);
            order
        });
        let distances = distances.collect();
        Self { flow, distance, flows, distances }
    }
}

/// The search tree. All costs inside are doubled, so that halves stay whole.
struct Tree<'a> {
    problem: &'a Problem,
    terms: Vec<Ready>,
    best: Placed,
    /// For each symbol its key, for each key whether it is taken.
    placed: Vec<Option<usize>>,
    taken: Vec<bool>,
    bounds: u64,
    patience: Patience,
    /// The least bound of what was never looked into.
    open: i64,
    assignment: Assignment,
    costs: Vec<i64>,
    sorted: [Vec<i64>; 2],
}

/// A step that could be taken: the bound with it, doubled, the symbol, the key.
type Step = (i64, usize, usize);

impl<'a> Tree<'a> {
    fn new(problem: &'a Problem, best: Placed, patience: Patience) -> Self {
        let (symbols, keys) = (problem.symbols(), problem.keys());
        let terms = problem.terms().iter().map(|term| Ready::new(term, symbols, keys));
        Self {
            problem,
            terms: terms.collect(),
            best,
            placed: vec![None; symbols],
            taken: vec![false; keys],
            bounds: 0,
            patience,
            open: i64::MAX,
            assignment: Assignment::default(),
            costs: Vec::new(),
            sorted: [Vec::new(), Vec::new()],
        }
    }

    fn linear(&self) -> Vec<i64> {
        let (symbols, keys) = (self.problem.symbols(), self.problem.keys());
        let all = (0..symbols).flat_map(|i| (0..keys).map(move |k| (i, k)));
        all.map(|(i, k)| 2 * self.problem.linear(i, k)).collect()
    }

    /// A bound, doubled, is worth so much undoubled.
    const fn halved(doubled: i64) -> i64 {
        doubled.div_euclid(2) + doubled.rem_euclid(2)
    }

    /// Looks into everything below the symbols placed so far, which cost
    /// `fixed` (doubled). `linear` has what the others cost by themselves and
    /// with those placed.
    fn grow(&mut self, linear: &[i64], fixed: i64) {
        let symbols: Vec<usize> =
            (0..self.placed.len()).filter(|i| self.placed[*i].is_none()).collect();
        let keys: Vec<usize> = (0..self.taken.len()).filter(|k| !self.taken[*k]).collect();
        if symbols.is_empty() {
            self.offer();
            return;
        }
        self.bounds += 1;
        self.fill(linear, &symbols, &keys);
        let columns = keys.len();
        let costs = std::mem::take(&mut self.costs);
        let bound = fixed + self.assignment.solve(&costs, symbols.len(), columns);
        let chosen = self.assignment.columns_of();
        self.complete(&symbols, &keys, &chosen);
        if Self::halved(bound) >= self.best.cost {
            self.costs = costs;
            return;
        }
        let with = |row: usize, column: usize| {
            bound + costs[row * columns + column]
                - self.assignment.rows[row]
                - self.assignment.columns[column]
        };
        let steps = self.steps(&symbols, &keys, with);
        self.costs = costs;
        for (place, &(bound, symbol, key)) in steps.iter().enumerate() {
            if Self::halved(bound) >= self.best.cost {
                // Those after it are no better.
                break;
            }
            if self.bounds >= self.patience.bounds {
                let rest = steps[place..].iter().map(|step| Self::halved(step.0));
                self.open = self.open.min(rest.min().unwrap_or(i64::MAX));
                return;
            }
            let (next, cost) = self.place(linear, symbol, key);
            self.grow(&next, fixed + cost);
            self.placed[symbol] = None;
            self.taken[key] = false;
        }
    }

    /// What each free symbol costs at least on each free key.
    fn fill(&mut self, linear: &[i64], symbols: &[usize], keys: &[usize]) {
        let all_keys = self.taken.len();
        self.costs.clear();
        for i in symbols {
            self.costs.extend(keys.iter().map(|k| linear[i * all_keys + k]));
        }
        let (most, columns) = (symbols.len() - 1, keys.len());
        for term in &self.terms {
            let [flows, distances] = &mut self.sorted;
            distances.clear();
            for k in keys {
                let row = &term.distance[k * all_keys..][..all_keys];
                let free = term.distances[*k].iter().filter(|l| !self.taken[**l]);
                distances.extend(free.take(most).map(|l| row[*l]));
            }
            for (place, i) in symbols.iter().enumerate() {
                let row = &term.flow[i * self.placed.len()..][..self.placed.len()];
                flows.clear();
                let free = term.flows[*i].iter().filter(|j| self.placed[**j].is_none());
                flows.extend(free.map(|j| row[*j]).take_while(|flow| *flow > 0));
                if flows.is_empty() {
                    continue;
                }
                let costs = &mut self.costs[place * columns..][..columns];
                for (cost, distances) in costs.iter_mut().zip(distances.chunks_exact(most)) {
                    *cost += flows.iter().zip(distances).map(|(a, b)| a * b).sum::<i64>();
                }
            }
        }
    }

    /// The steps of the symbol or, where every key gets one, of the key that
    /// leaves the fewest; those that can't lead to a better placement left out,
    /// the most promising first.
    fn steps(
        &self,
        symbols: &[usize],
        keys: &[usize],
        with: impl Fn(usize, usize) -> i64,
    ) -> Vec<Step> {
        let promising = |bound: i64| Self::halved(bound) < self.best.cost;
        let by_symbol = (0..symbols.len()).map(|row| {
            let all = (0..keys.len()).map(|column| (with(row, column), symbols[row], keys[column]));
            all.filter(|step| promising(step.0)).collect::<Vec<Step>>()
        });
        let by_key = (0..keys.len()).filter(|_| symbols.len() == keys.len()).map(|column| {
            let all = (0..symbols.len()).map(|row| (with(row, column), symbols[row], keys[column]));
            all.filter(|step| promising(step.0)).collect::<Vec<Step>>()
        });
        // Of equals that whose steps cost more.
        let weight = |steps: &Vec<Step>| {
            (steps.len(), std::cmp::Reverse(steps.iter().map(|step| step.0).sum::<i64>()))
        };
        let mut steps = by_symbol.chain(by_key).min_by_key(weight).unwrap_or_default();
        steps.sort_unstable();
        steps
    }

    /// Places `symbol` on `key`: the linear costs then, and what it costs.
    fn place(&mut self, linear: &[i64], symbol: usize, key: usize) -> (Vec<i64>, i64) {
        let (symbols, keys) = (self.placed.len(), self.taken.len());
        self.placed[symbol] = Some(key);
        self.taken[key] = true;
        let mut next = linear.to_vec();
        for term in &self.terms {
            for i in (0..symbols).filter(|i| self.placed[*i].is_none()) {
                let to = term.flow[i * symbols + symbol];
                let from = term.flow[symbol * symbols + i];
                if to == 0 && from == 0 {
                    continue;
                }
                let row = &mut next[i * keys..][..keys];
                for (k, cost) in row.iter_mut().enumerate() {
                    *cost +=
                        to * term.distance[k * keys + key] + from * term.distance[key * keys + k];
                }
            }
        }
        (next, linear[symbol * keys + key])
    }

    /// Takes the placement that the assignment completes, where it is better.
    fn complete(&mut self, symbols: &[usize], keys: &[usize], chosen: &[usize]) {
        let mut whole = self.placed.clone();
        for (symbol, column) in symbols.iter().zip(chosen) {
            whole[*symbol] = Some(keys[*column]);
        }
        self.take(&whole);
    }

    fn offer(&mut self) {
        self.take(&self.placed.clone());
    }

    fn take(&mut self, whole: &[Option<usize>]) {
        let keys: Vec<usize> = whole.iter().map(|key| key.unwrap_or_default()).collect();
        let cost = self.problem.cost(&keys);
        if cost < self.best.cost {
            self.best = Placed { cost, keys };
        }
    }
}
