//! The fit: weighted mixed-model equations, items eliminated.

use super::dense::Square;
use super::told::{self, Told};
use super::{Bin, Cells, Item, Motor, Statistics};
use crate::layout::LayerId;
use crate::model::numeric::{HUBER_K, huber_consistency, huber_weight};
use crate::order::Gather;
use std::collections::BTreeMap;

/// How to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Huber's constant; infinite for least squares.
    pub huber_k: f64,
    /// Whether the motor classes have their prior.
    pub motor_prior: bool,
    /// Ends where fits move by no more than this (root mean square, logarithms).
    pub tolerance: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { huber_k: HUBER_K, motor_prior: true, tolerance: 1e-7 }
    }
}

/// Why there is no fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum SwitchError {
    /// Too little to tell two variances apart.
    #[error(
        "too few keystrokes to tell switches from items: there are {n} that count, of {items} \
         items; practise a layer with runs of two or more keys"
    )]
    TooFew {
        /// Latencies that count.
        n: u64,
        /// Items among them.
        items: usize,
    },
    /// The equations could not be solved in working precision.
    #[error("the times are too irregular to tell switches from items")]
    Singular,
}

/// A fitted model. All effects are in natural logarithms of ms.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The mean of each layer's items, inside the layer, other hand before.
    pub layers: BTreeMap<LayerId, f64>,
    /// What each item differs from its layer's mean by.
    pub items: BTreeMap<Item, f64>,
    /// What each motor class that occurred adds, with its standard error.
    pub motor: BTreeMap<Motor, (f64, f64)>,
    /// What each switch adds, with its standard error. Where [`Fit::told`]
    /// says that it can't be told apart, the value means nothing.
    pub switches: BTreeMap<(LayerId, LayerId), (f64, f64)>,
    /// What can be said of each switch in ms.
    pub told: BTreeMap<(LayerId, LayerId), Told>,
    /// σ: the spread of single latencies.
    pub sd_ln: f64,
    /// τ: the spread between items of a layer.
    pub between_sd_ln: f64,
    /// Latencies.
    pub n: u64,
    /// What they are worth after fading.
    pub n_effective: f64,
    /// Rounds until it stood still.
    pub rounds: usize,
    /// False where it still moved after the last round allowed.
    pub settled: bool,
}

impl Fit {
    /// The median of `item` inside its layer, other hand before, in ms; none
    /// for an item that was not measured.
    pub fn inside_ms(&self, item: &Item) -> Option<f64> {
        Some((self.layers.get(&item.layer)? + self.items.get(item)?).exp())
    }

    fn effect(&self, effect: Effect) -> f64 {
        match effect {
            Effect::Layer(layer) => self.layers.get(&layer).copied(),
            Effect::Switch(from, to) => self.switches.get(&(from, to)).map(|e| e.0),
            Effect::Motor(motor) => self.motor.get(&motor).map(|e| e.0),
        }
        .unwrap_or_default()
    }
}

/// Rounds before giving up.
const MOST_ROUNDS: usize = 400;
/// Keeps effects finite that can't be told apart; too weak to move others.
const RIDGE: f64 = 1e-6;
/// Variances are not let below this.
const LEAST_VARIANCE: f64 = 1e-8;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Effect {
    Layer(LayerId),
    Switch(LayerId, LayerId),
    Motor(Motor),
}

/// Latencies with one fit: an item, the layer before, a motor class.
pub(super) struct Cell {
    /// The effects of its fit, up to three, as columns.
    pub(super) columns: [Option<usize>; 3],
    pub(super) from: LayerId,
    pub(super) count: u64,
    pub(super) weight: f64,
    /// A range of [`Design::bins`].
    bins: std::ops::Range<usize>,
}

impl Cell {
    pub(super) fn columns(&self) -> impl Iterator<Item = usize> + '_ {
        self.columns.iter().flatten().copied()
    }
}

/// An item and its cells.
pub(super) struct Row<'a> {
    pub(super) item: &'a Item,
    pub(super) cells: Vec<Cell>,
}

/// The statistics laid out for passing over them many times.
pub(super) struct Design<'a> {
    pub(super) effects: Vec<Effect>,
    pub(super) rows: Vec<Row<'a>>,
    bins: Vec<Bin>,
    /// Makes the weights sum to the effective number.
    by: f64,
}

impl<'a> Design<'a> {
    fn of(statistics: &'a Statistics) -> Self {
        let mut columns: BTreeMap<Effect, usize> = BTreeMap::new();
        for (item, (from, motor)) in
            statistics.items.iter().flat_map(|(item, cells)| cells.keys().map(move |k| (item, *k)))
        {
            for effect in effects_of(item, from, motor).into_iter().flatten() {
                columns.insert(effect, 0);
            }
        }
        let effects: Vec<Effect> = columns.keys().copied().collect();
        for (place, column) in columns.values_mut().enumerate() {
            *column = place;
        }
        let (weight, squares) = statistics.weights();
        let by = if squares > 0.0 { weight / squares } else { 1.0 };
        let mut bins = Vec::new();
        let cells_of = |item: &Item, cells: &Cells, bins: &mut Vec<Bin>| {
            cells
                .iter()
                .map(|(&(from, motor), of_cell)| {
                    let start = bins.len();
                    bins.extend(of_cell.values().filter(|bin| bin.weight > 0.0));
                    let own = &bins[start..];
                    Cell {
                        columns: effects_of(item, from, motor)
                            .map(|effect| effect.and_then(|e| columns.get(&e).copied())),
                        from,
                        count: own.iter().map(|bin| bin.count).sum(),
                        weight: own.iter().map(|bin| by * bin.weight).sum(),
                        bins: start..bins.len(),
                    }
                })
                .collect()
        };
        let rows = statistics
            .items
            .iter()
            .map(|(item, cells)| Row { item, cells: cells_of(item, cells, &mut bins) })
            .collect();
        Self { effects, rows, bins, by }
    }
}

fn effects_of(item: &Item, from: LayerId, motor: Motor) -> [Option<Effect>; 3] {
    let switch = (from != item.layer).then_some(Effect::Switch(from, item.layer));
    let motor = (motor != Motor::Alternate).then_some(Effect::Motor(motor));
    [Some(Effect::Layer(item.layer)), switch, motor]
}

/// Where the rounds stand.
struct State {
    fixed: Vec<f64>,
    random: Vec<f64>,
    variance: f64,
    between: f64,
}

/// The solved equations of a round. Covariances are in units of σ².
pub(super) struct Solved {
    /// Of the effects.
    pub(super) covariance: Square,
    /// Per item: the diagonal of its equation.
    pub(super) diagonals: Vec<f64>,
    /// Per item: its weights on the effects.
    pub(super) links: Vec<Vec<(usize, f64)>>,
}

/// Fits `statistics`. `start` is an earlier fit to begin from: the result is
/// the same to the tolerance, sooner.
///
/// # Errors
/// Where there are fewer than two items or no more latencies than effects.
pub fn fit(
    statistics: &Statistics,
    options: &Options,
    start: Option<&Fit>,
) -> Result<Fit, SwitchError> {
    let design = Design::of(statistics);
    let (n, n_effective) = (statistics.n(), statistics.n_effective());
    let items = design.rows.len();
    if items < 2 || n_effective < design.effects.len() as f64 + 2.0 {
        return Err(SwitchError::TooFew { n, items });
    }
    let mut state = match start {
        Some(fit) => State {
            fixed: design.effects.iter().map(|e| fit.effect(*e)).collect(),
            random: design
                .rows
                .iter()
                .map(|row| fit.items.get(row.item).copied().unwrap_or_default())
                .collect(),
            variance: fit.sd_ln.powi(2),
            between: fit.between_sd_ln.powi(2),
        },
        None => State::cold(&design),
    };
    // A cold start knows no fit to judge outliers by: one round of least squares.
    let mut by_squares = start.is_none();
    let mut rounds = 0;
    let (solved, settled) = loop {
        let huber_k = if by_squares { f64::INFINITY } else { options.huber_k };
        let (solved, moved) = state.round(&design, options, huber_k)?;
        rounds += 1;
        let settled = moved <= options.tolerance && !by_squares;
        if settled || rounds >= MOST_ROUNDS {
            break (solved, settled);
        }
        by_squares = false;
    };
    let scale = state.variance * state.tail_factor(&design, options.huber_k);
    let mut fit = Fit {
        layers: BTreeMap::new(),
        items: design
            .rows
            .iter()
            .zip(&state.random)
            .map(|(row, effect)| (row.item.clone(), *effect))
            .gather(),
        motor: BTreeMap::new(),
        switches: BTreeMap::new(),
        told: told::told(&design, &solved, &state.fixed, &state.random, scale),
        sd_ln: state.variance.sqrt(),
        between_sd_ln: state.between.sqrt(),
        n,
        n_effective,
        rounds,
        settled,
    };
    for (column, effect) in design.effects.iter().enumerate() {
        let value = state.fixed[column];
        let error = (scale * solved.covariance.at(column, column)).sqrt();
        match *effect {
            Effect::Layer(layer) => _ = fit.layers.insert(layer, value),
            Effect::Switch(from, to) => _ = fit.switches.insert((from, to), (value, error)),
            Effect::Motor(motor) => _ = fit.motor.insert(motor, (value, error)),
        }
    }
    Ok(fit)
}

impl State {
    fn cold(design: &Design<'_>) -> Self {
        let (mut weight, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for bin in &design.bins {
            weight += bin.weight;
            sum += bin.sum;
            squares += bin.squares;
        }
        let variance = (squares / weight - (sum / weight).powi(2)).max(LEAST_VARIANCE);
        Self {
            fixed: vec![0.0; design.effects.len()],
            random: vec![0.0; design.rows.len()],
            variance: variance / 2.0,
            between: variance / 2.0,
        }
    }

    fn fitted(&self, item: usize, cell: &Cell) -> f64 {
        cell.columns().map(|c| self.fixed[c]).sum::<f64>() + self.random[item]
    }

    /// One round; how far anything moved.
    fn round(
        &mut self,
        design: &Design<'_>,
        options: &Options,
        huber_k: f64,
    ) -> Result<(Solved, f64), SwitchError> {
        let size = design.effects.len();
        let ratio = self.variance / self.between;
        let sd = self.variance.sqrt();
        // The mixed-model equations (Henderson 1975), in units of 1/σ².
        let mut left = Square::zero(size);
        let mut right = vec![0.0; size];
        let mut prior = vec![RIDGE; size];
        for (column, effect) in design.effects.iter().enumerate() {
            if let (Effect::Motor(motor), true) = (effect, options.motor_prior)
                && let Some((mean, error)) = motor.prior()
            {
                prior[column] = self.variance / (error * error);
                right[column] += prior[column] * mean;
            }
            left.add(column, column, prior[column]);
        }
        let mut diagonals = Vec::with_capacity(design.rows.len());
        let mut sums = Vec::with_capacity(design.rows.len());
        let mut links: Vec<Vec<(usize, f64)>> = Vec::with_capacity(design.rows.len());
        let mut total = 0.0;
        // An item's weights on the effects.
        let mut dense = vec![0.0; size];
        for (item, row) in design.rows.iter().enumerate() {
            let (mut diagonal, mut sum) = (ratio, 0.0);
            dense.fill(0.0);
            for cell in &row.cells {
                let fitted = self.fitted(item, cell);
                let (mut w, mut wy) = (0.0, 0.0);
                for bin in &design.bins[cell.bins.clone()] {
                    let h = design.by * huber_weight((bin.sum / bin.weight - fitted) / sd, huber_k);
                    w += h * bin.weight;
                    wy += h * bin.sum;
                    total += design.by * bin.weight;
                }
                for a in cell.columns() {
                    for b in cell.columns() {
                        left.add(a, b, w);
                    }
                    right[a] += wy;
                    dense[a] += w;
                }
                diagonal += w;
                sum += wy;
            }
            let link: Vec<(usize, f64)> =
                dense.iter().copied().enumerate().filter(|(_, w)| *w > 0.0).collect();
            // Items see only themselves: eliminating one changes only the
            // effects that it has.
            for &(a, wa) in &link {
                for &(b, wb) in &link {
                    left.add(a, b, -wa * wb / diagonal);
                }
                right[a] -= wa * sum / diagonal;
            }
            diagonals.push(diagonal);
            sums.push(sum);
            links.push(link);
        }
        let covariance = left.inverse().ok_or(SwitchError::Singular)?;
        let fixed = covariance.times(&right);
        let (mut random, mut trace, mut size_of_items) = (Vec::new(), 0.0, 0.0);
        for ((link, diagonal), sum) in links.iter().zip(&diagonals).zip(&sums) {
            let shared: f64 = link.iter().map(|(c, w)| w * fixed[*c]).sum();
            let effect = (sum - shared) / diagonal;
            trace += 1.0 / diagonal + covariance.form(link) / (diagonal * diagonal);
            size_of_items += effect * effect;
            random.push(effect);
        }
        // What the effects and items use up of the data, and Schall's step.
        let of_items = random.len() as f64 - ratio * trace;
        let of_prior: f64 = (0..size).map(|c| prior[c] * covariance.at(c, c)).sum();
        let used = size as f64 - of_prior + of_items;
        // Fits by their weight, not effects one by one: an effect that can't be
        // told apart has no value to settle on, nor has one of two latencies
        // far apart, between which Huber's loss is flat.
        let before = std::mem::replace(&mut self.fixed, fixed);
        let before_random = std::mem::replace(&mut self.random, random);
        let mut moved = 0.0;
        for (item, row) in design.rows.iter().enumerate() {
            for cell in &row.cells {
                let old = cell.columns().map(|c| before[c]).sum::<f64>() + before_random[item];
                moved += cell.weight / total * (old - self.fitted(item, cell)).powi(2);
            }
        }
        let mut moved = moved.sqrt();
        let squares = self.squares(design, huber_k, sd);
        let spare = (total - used).max(1.0);
        let variance = (squares / (spare * huber_consistency(huber_k))).max(LEAST_VARIANCE);
        let between = (size_of_items / of_items.max(1e-9)).max(LEAST_VARIANCE);
        moved = moved.max((variance.sqrt() - sd).abs());
        moved = moved.max((between.sqrt() - self.between.sqrt()).abs());
        self.variance = variance;
        self.between = between;
        Ok((Solved { covariance, diagonals, links }, moved))
    }

    /// The sum of squares of clipped residuals.
    fn squares(&self, design: &Design<'_>, huber_k: f64, sd: f64) -> f64 {
        let mut squares = 0.0;
        for (item, row) in design.rows.iter().enumerate() {
            for cell in &row.cells {
                let fitted = self.fitted(item, cell);
                for bin in &design.bins[cell.bins.clone()] {
                    let h = huber_weight((bin.sum / bin.weight - fitted) / sd, huber_k);
                    let square = bin.squares - fitted * (2.0 * bin.sum - fitted * bin.weight);
                    squares += design.by * h * h * square.max(0.0);
                }
            }
        }
        squares
    }

    /// What Huber's loss makes of the covariances: E(ψ²) E(w) / E(ψ′)², with
    /// E(ψ²) as σ was defined by it.
    fn tail_factor(&self, design: &Design<'_>, huber_k: f64) -> f64 {
        let sd = self.variance.sqrt();
        let (mut weights, mut slopes, mut total) = (0.0, 0.0, 0.0);
        for (item, row) in design.rows.iter().enumerate() {
            for cell in &row.cells {
                let fitted = self.fitted(item, cell);
                for bin in &design.bins[cell.bins.clone()] {
                    let r = (bin.sum / bin.weight - fitted) / sd;
                    weights += bin.weight * huber_weight(r, huber_k);
                    slopes += if r.abs() <= huber_k { bin.weight } else { 0.0 };
                    total += bin.weight;
                }
            }
        }
        let slope = (slopes / total).max(0.1);
        huber_consistency(huber_k) * (weights / total) / (slope * slope)
    }
}
