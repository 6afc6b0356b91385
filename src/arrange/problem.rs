//! The exact problem: quadratic assignment with a linear term and pins.
//!
//! Put symbol i on key p(i), no two on one key, so that
//!
//! ```text
//! Σ over terms Σᵢⱼ A[i][j] · B[p(i)][p(j)]  +  Σᵢ C[i][p(i)]
//! ```
//!
//! is least (Koopmans & Beckmann 1957, with several products of flow and
//! distance instead of one). Matrices need not be symmetric, diagonals count,
//! and there may be more keys than symbols. All figures are whole numbers, so
//! that sums are exact and the same on every machine.

use thiserror::Error;

/// Why figures make no problem.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ProblemError {
    /// A matrix of the wrong size.
    #[error("{what} has {found} figures: expected {expected}")]
    Size {
        /// Which.
        what: &'static str,
        /// How many it has.
        found: usize,
        /// How many it should have.
        expected: usize,
    },
    /// More symbols than keys.
    #[error("{symbols} symbols can't stand on {keys} keys: take more keys or fewer symbols")]
    TooFewKeys {
        /// Symbols.
        symbols: usize,
        /// Keys.
        keys: usize,
    },
    /// A pin to a key that isn't there or that another symbol has.
    #[error("symbol {symbol} is pinned to key {key}, which is taken or not there")]
    Pin {
        /// The symbol, counted from 0.
        symbol: usize,
        /// The key, counted from 0.
        key: usize,
    },
    /// A flow or distance below zero, which the bound can't bear.
    #[error("{what} has a figure below zero: only what each symbol costs on each key may be")]
    Negative {
        /// Which.
        what: &'static str,
    },
    /// Sums may leave 62 bits.
    #[error("the figures are too large to be summed exactly: use a coarser unit")]
    TooLarge,
}

/// One product of the sum: how much passes between symbols, and how far apart
/// keys are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Term {
    /// symbols × symbols, row by row, ≥ 0.
    pub flow: Vec<i64>,
    /// keys × keys, row by row, ≥ 0.
    pub distance: Vec<i64>,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    symbols: usize,
    keys: usize,
    terms: Vec<Term>,
    /// symbols × keys.
    linear: Vec<i64>,
    pins: Vec<Option<usize>>,
}

impl Problem {
    /// Of `linear` (symbols × keys, row by row; what each symbol costs on each
    /// key by itself), `terms`, and for each symbol the key that it must have.
    ///
    /// # Errors
    /// Sizes that don't fit, impossible pins, flows or distances below zero,
    /// figures whose sums could overflow.
    pub fn new(
        (symbols, keys): (usize, usize),
        linear: Vec<i64>,
        terms: Vec<Term>,
        pins: Vec<Option<usize>>,
    ) -> Result<Self, ProblemError> {
        if symbols > keys {
            return Err(ProblemError::TooFewKeys { symbols, keys });
        }
        let size = |what, found, expected| {
            if found == expected {
                Ok(())
            } else {
                Err(ProblemError::Size { what, found, expected })
            }
        };
        size("the costs of symbols on keys", linear.len(), symbols * keys)?;
        size("the list of pins", pins.len(), symbols)?;
        for term in &terms {
            size("a matrix of flows", term.flow.len(), symbols * symbols)?;
            size("a matrix of distances", term.distance.len(), keys * keys)?;
            for (what, figures) in [("a flow", &term.flow), ("a distance", &term.distance)] {
                if figures.iter().any(|figure| *figure < 0) {
                    return Err(ProblemError::Negative { what });
                }
            }
        }
        let mut taken = vec![false; keys];
        for (symbol, key) in pins.iter().enumerate().filter_map(|(i, key)| Some((i, (*key)?))) {
            match taken.get_mut(key) {
                Some(taken) if !*taken => *taken = true,
                _ => return Err(ProblemError::Pin { symbol, key }),
            }
        }
        // Twice over, since the bound doubles a problem.
        let whole: i128 = linear.iter().map(|cost| i128::from(*cost).abs()).sum::<i128>()
            + terms.iter().map(Term::most).sum::<i128>();
        if whole >= 1 << 60 {
            return Err(ProblemError::TooLarge);
        }
        let mut problem = Self { symbols, keys, terms, linear, pins };
        problem.fold_diagonals();
        Ok(problem)
    }

    /// The plain form: one flow, one distance, both n × n.
    ///
    /// # Errors
    /// As [`Problem::new`].
    pub fn plain(n: usize, flow: Vec<i64>, distance: Vec<i64>) -> Result<Self, ProblemError> {
        Self::new((n, n), vec![0; n * n], vec![Term { flow, distance }], vec![None; n])
    }

    /// What a symbol has with itself depends on its key alone: it goes to the
    /// linear part, and the matrices stay without a diagonal.
    fn fold_diagonals(&mut self) {
        for term in &mut self.terms {
            for i in 0..self.symbols {
                let own = std::mem::take(&mut term.flow[i * self.symbols + i]);
                for k in 0..self.keys {
                    self.linear[i * self.keys + k] += own * term.distance[k * self.keys + k];
                }
            }
            for k in 0..self.keys {
                term.distance[k * self.keys + k] = 0;
            }
        }
    }

    /// How many symbols there are to place.
    pub const fn symbols(&self) -> usize {
        self.symbols
    }

    /// How many keys there are.
    pub const fn keys(&self) -> usize {
        self.keys
    }

    /// The key that `symbol` must have.
    pub fn pin(&self, symbol: usize) -> Option<usize> {
        self.pins[symbol]
    }

    /// The same without what is pinned: what passes between free symbols and
    /// pinned ones goes to the linear part.
    pub(super) fn free(&self) -> Free {
        let symbols: Vec<usize> =
            (0..self.symbols).filter(|symbol| self.pins[*symbol].is_none()).collect();
        let fixed: Vec<(usize, usize)> =
            self.pins.iter().enumerate().filter_map(|(i, key)| Some((i, (*key)?))).collect();
        let taken = |key: &usize| fixed.iter().any(|(_, pin)| pin == key);
        let keys: Vec<usize> = (0..self.keys).filter(|key| !taken(key)).collect();
        let mut constant = 0;
        for (i, k) in &fixed {
            constant += self.linear(*i, *k);
            for (term, (j, l)) in self.terms.iter().flat_map(|t| fixed.iter().map(move |f| (t, f)))
            {
                constant += term.flow[i * self.symbols + j] * term.distance[k * self.keys + l];
            }
        }
        let mut linear = Vec::with_capacity(symbols.len() * keys.len());
        for i in &symbols {
            for k in &keys {
                let mut cost = self.linear(*i, *k);
                for term in &self.terms {
                    for (j, l) in &fixed {
                        let there = term.flow[i * self.symbols + j];
                        let back = term.flow[j * self.symbols + i];
                        cost += there * term.distance[k * self.keys + l]
                            + back * term.distance[l * self.keys + k];
                    }
                }
                linear.push(cost);
            }
        }
        let part = |matrix: &[i64], size: usize, chosen: &[usize]| {
            let pairs = chosen.iter().flat_map(|a| chosen.iter().map(move |b| (a, b)));
            pairs.map(|(a, b)| matrix[a * size + b]).collect()
        };
        let terms = self.terms.iter().map(|term| Term {
            flow: part(&term.flow, self.symbols, &symbols),
            distance: part(&term.distance, self.keys, &keys),
        });
        let problem = Self {
            symbols: symbols.len(),
            keys: keys.len(),
            terms: terms.collect(),
            linear,
            pins: vec![None; symbols.len()],
        };
        Free { problem, symbols, keys, constant }
    }

    pub(super) fn terms(&self) -> &[Term] {
        &self.terms
    }

    pub(super) fn linear(&self, symbol: usize, key: usize) -> i64 {
        self.linear[symbol * self.keys + key]
    }

    /// What a placement costs: for each symbol its key.
    ///
    /// # Panics
    /// Where `placement` isn't as long as there are symbols, or names a key
    /// that isn't there.
    pub fn cost(&self, placement: &[usize]) -> i64 {
        assert_eq!(placement.len(), self.symbols, "a key for each symbol");
        let mut sum = 0;
        for (i, &k) in placement.iter().enumerate() {
            sum += self.linear(i, k);
            for term in &self.terms {
                let flows = &term.flow[i * self.symbols..][..self.symbols];
                let distances = &term.distance[k * self.keys..][..self.keys];
                sum += flows.iter().zip(placement).map(|(a, &l)| a * distances[l]).sum::<i64>();
            }
        }
        sum
    }

    /// True where every symbol has a key of its own, and pinned ones theirs.
    pub fn allows(&self, placement: &[usize]) -> bool {
        let mut taken = vec![false; self.keys];
        placement.len() == self.symbols
            && placement.iter().zip(&self.pins).all(|(&key, pin)| {
                key < self.keys
                    && !std::mem::replace(&mut taken[key], true)
                    && pin.is_none_or(|pin| pin == key)
            })
    }
}

impl Term {
    /// No placement can cost more.
    fn most(&self) -> i128 {
        let largest = self.distance.iter().copied().max().unwrap_or(0);
        self.flow.iter().map(|flow| i128::from(*flow)).sum::<i128>() * i128::from(largest)
    }
}

/// A problem without its pinned symbols and their keys.
#[derive(Debug, Clone)]
pub(super) struct Free {
    /// What is left to decide.
    pub problem: Problem,
    /// For each of its symbols the one of the whole problem.
    symbols: Vec<usize>,
    /// For each of its keys the one of the whole problem.
    keys: Vec<usize>,
    /// What the pinned symbols cost among themselves.
    pub constant: i64,
}

impl Free {
    /// The placement of the whole problem.
    pub fn whole(&self, of: &Problem, free: &Placed) -> Placed {
        let mut keys: Vec<usize> = of.pins.iter().map(|pin| pin.unwrap_or_default()).collect();
        for (symbol, key) in self.symbols.iter().zip(&free.keys) {
            keys[*symbol] = self.keys[*key];
        }
        Placed { cost: free.cost + self.constant, keys }
    }

    /// The part of a placement of the whole problem that is free; none where
    /// it breaks a pin.
    pub fn part(&self, whole: &[usize]) -> Option<Vec<usize>> {
        let key = |key: &usize| self.keys.iter().position(|free| free == key);
        self.symbols.iter().map(|symbol| key(whole.get(*symbol)?)).collect()
    }
}

/// A placement and what it costs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Placed {
    /// The cost, in the unit of the problem.
    pub cost: i64,
    /// For each symbol its key.
    pub keys: Vec<usize>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn two() -> Problem {
        let term = Term { flow: vec![2, 3, 1, 0], distance: vec![1, 5, 0, 4, 2, 0, 7, 9, 3] };
        Problem::new((2, 3), vec![10, 20, 30, 1, 2, 3], vec![term], vec![None, None]).unwrap()
    }

    /// By hand: symbol 0 on key 2, symbol 1 on key 0: 30 + 1, itself 2 · 3, from
    /// 0 to 1 3 · 7, from 1 to 0 1 · 0.
    #[test]
    fn directions_and_diagonals_count() {
        assert_eq!(two().cost(&[2, 0]), 31 + 6 + 21);
        assert_eq!(two().cost(&[0, 1]), 12 + 2 + 15 + 4);
    }

    #[test]
    fn what_makes_no_problem_is_refused() {
        let term = || Term { flow: vec![0; 4], distance: vec![0; 9] };
        let make = |linear: usize, term: Term, pins: Vec<Option<usize>>| {
            Problem::new((2, 3), vec![0; linear], vec![term], pins).unwrap_err()
        };
        assert!(matches!(make(5, term(), vec![None; 2]), ProblemError::Size { found: 5, .. }));
        assert!(matches!(make(6, term(), vec![None]), ProblemError::Size { expected: 2, .. }));
        let bad = Term { flow: vec![0, -1, 0, 0], ..term() };
        assert!(matches!(make(6, bad, vec![None; 2]), ProblemError::Negative { what: "a flow" }));
        for pins in [vec![Some(1), Some(1)], vec![None, Some(3)]] {
            assert!(matches!(make(6, term(), pins), ProblemError::Pin { symbol: 1, .. }));
        }
        let huge = Term { flow: vec![0, i64::MAX, 0, 0], distance: vec![i64::MAX; 9] };
        assert_eq!(make(6, huge, vec![None; 2]), ProblemError::TooLarge);
        let few = Problem::new((2, 1), vec![0; 2], vec![], vec![None; 2]).unwrap_err();
        assert_eq!(few, ProblemError::TooFewKeys { symbols: 2, keys: 1 });
    }

    #[test]
    fn a_placement_must_fit() {
        let mut problem = two();
        problem.pins[0] = Some(2);
        assert!(problem.allows(&[2, 0]));
        for wrong in [vec![0, 1], vec![2, 2], vec![2, 3], vec![2]] {
            assert!(!problem.allows(&wrong), "{wrong:?}");
        }
    }
}
