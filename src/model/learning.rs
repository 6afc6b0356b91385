//! How times fall with practice, and where they are heading.
//!
//! The two-parameter power law of practice, ln ms = b − c·ln(n + 1), n = how
//! often the item was struck before, with the prior c ~ N(0.11, 0.06): on a
//! password typed 400 times by each of 51 people (Killourhy & Maxion 2009) it
//! beats an exponential for 63 % of them and forecasts best. b is free. No
//! asymptote: data of this kind can't tell one, so none is ever shown.
//!
//! Presses are gathered in blocks: one per day and doubling of √2 of n + 1.
//! Each block's mean is Huber's location with variance σ²/n of its presses,
//! and blocks of a day have a deviation in common, of variance ω², found as
//! Paule and Mandel do and mixed with a prior of 0.05² that counts for 20 days (our own estimate: one item tells
//! little of it). Blocks off the line get Huber weights, k = 1.5. The first
//! repetition of a day is 9 % slower, which is taken off before.

use super::numeric::{HUBER_K, Z90, Z90_ONE_SIDED, huber_location, huber_weight, paule_mandel_by};
use super::{Estimate, Item};
use crate::session::{Keystroke, Verdict};
use crate::units::Micros;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Mean and standard deviation of c before anything is known.
pub const EXPONENT_PRIOR: (f64, f64) = (0.11, 0.06);
/// The first repetition of a day is slower by this ratio.
pub const FIRST_OF_DAY: f64 = 1.09;
/// What days differ by before anything is known, and for how many days it
/// counts. Our own estimate, no source.
const DAY_PRIOR: (f64, f64) = (0.05, 20.0);
/// The variance of a median over that of a mean, for normal values: π/2.
const MEDIAN_VARIANCE: f64 = std::f64::consts::FRAC_PI_2;

/// For so many days single latencies are kept, in bins; older ones have faded
/// to less than a hundredth of their weight.
const FINE_DAYS: i32 = 98;
/// Bins of ln ms in one unit.
const BINS_PER_UNIT: f64 = 64.0;
/// The spread of single latencies that means of old days are taken by.
const USUAL_SPREAD: f64 = 0.3;
/// So many blocks of an item are kept at most, those of [`FINE_DAYS`] beside.
const MOST_BLOCKS: usize = 96;

/// Presses of about the same day and stage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Block {
    day: i32,
    stage: u32,
    /// Sum of ln(n + 1), over `count`.
    ln_n_sum: f64,
    count: f64,
    values: Vec<(f64, f64)>,
}

impl Block {
    fn bin(&mut self) {
        let mut bins: BTreeMap<i32, f64> = BTreeMap::new();
        for (ln, count) in &self.values {
            *bins.entry((ln * BINS_PER_UNIT).round() as i32).or_default() += count;
        }
        if bins.len() < self.values.len() {
            let value = |(bin, count)| (f64::from(bin) / BINS_PER_UNIT, count);
            self.values = bins.into_iter().map(value).collect();
        }
    }

    fn collapse(&mut self) {
        if self.values.len() > 1
            && let Some(location) = huber_location(&self.values, USUAL_SPREAD, HUBER_K)
        {
            self.values = vec![(location, self.count)];
        }
    }
}

/// The history of one item, in order: what a curve is fitted to.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Course {
    repetitions: u64,
    n_days: usize,
    last_day: Option<i32>,
    blocks: Vec<Block>,
}

impl Course {
    /// Adds one repetition on local day `day`; its latency, where it counts.
    pub fn add(&mut self, day: i32, latency: Option<Micros>) {
        let first = self.begin(day);
        let ln_n = (self.repetitions as f64).ln_1p();
        self.repetitions += 1;
        let Some(latency) = latency.filter(|l| *l > Micros::ZERO) else { return };
        let slower = if first { FIRST_OF_DAY.ln() } else { 0.0 };
        self.put(day, ln_n, 1.0, latency.as_ms().ln() - slower);
    }

    /// Adds a whole day by its sums, as a rollup has them: repetitions, how
    /// many latencies counted, and their median. The day is one block.
    pub fn add_day(&mut self, day: i32, repetitions: u64, n_timed: u64, median: Micros) {
        self.begin(day);
        let middle = self.repetitions as f64 + repetitions as f64 / 2.0;
        self.repetitions += repetitions;
        if n_timed > 0 && median > Micros::ZERO {
            let count = (n_timed as f64 / MEDIAN_VARIANCE).max(1.0);
            self.put(day, middle.ln_1p(), count, median.as_ms().ln());
        }
    }

    fn put(&mut self, day: i32, ln_n: f64, count: f64, ln_ms: f64) {
        let stage = (ln_n * 2.0 / std::f64::consts::LN_2) as u32;
        if let Some(block) = self.blocks.last_mut()
            && (block.day, block.stage) == (day, stage)
        {
            block.ln_n_sum += ln_n * count;
            block.count += count;
            block.values.push((ln_ms, count));
        } else {
            let values = vec![(ln_ms, count)];
            self.blocks.push(Block { day, stage, ln_n_sum: ln_n * count, count, values });
        }
    }

    /// The latencies of the [`FINE_DAYS`] days up to the last one: day, ln ms,
    /// how many.
    pub(super) fn recent(&self) -> impl Iterator<Item = (i32, f64, f64)> {
        let from = self.last_day.unwrap_or_default().saturating_sub(FINE_DAYS);
        let blocks = self.blocks.iter().filter(move |block| block.day > from);
        blocks.flat_map(|block| block.values.iter().map(|(ln, count)| (block.day, *ln, *count)))
    }

    /// Makes it small enough to be kept: latencies of a day in bins of one
    /// sixty-fourth, older days as their mean, and the oldest days of a very
    /// long course by twos. A fit moves by less than its error.
    pub(super) fn settle(&mut self) {
        let from = self.last_day.unwrap_or_default().saturating_sub(FINE_DAYS);
        for block in &mut self.blocks {
            if block.day <= from {
                block.collapse();
            } else {
                block.bin();
            }
        }
        while self.blocks.len() > MOST_BLOCKS {
            // Only days that are one value by now can be put together.
            let old = self.blocks.iter().take_while(|block| block.day <= from).count();
            if old < 2 {
                break;
            }
            let rest = self.blocks.split_off(old);
            let mut pairs: Vec<Block> = Vec::with_capacity(old / 2 + 1 + rest.len());
            for pair in self.blocks.chunks(2) {
                let mut together = pair[0].clone();
                if let Some(other) = pair.get(1) {
                    together.ln_n_sum += other.ln_n_sum;
                    together.count += other.count;
                    together.values.extend(&other.values);
                    together.collapse();
                }
                pairs.push(together);
            }
            pairs.extend(rest);
            self.blocks = pairs;
        }
    }

    /// How often it was struck.
    pub fn repetitions(&self) -> u64 {
        self.repetitions
    }

    /// On how many days.
    pub fn days(&self) -> usize {
        self.n_days
    }

    /// Takes note that the item was struck on `day`; true where it is the first
    /// time that day.
    fn begin(&mut self, day: i32) -> bool {
        let first = self.last_day.is_none_or(|last| day > last);
        if first {
            self.n_days += 1;
            self.last_day = Some(day);
        }
        first
    }

    pub(super) fn points(&self, sd_ln: f64) -> Vec<Point> {
        let point = |block: &Block| {
            huber_location(&block.values, sd_ln, HUBER_K).map(|y| Point {
                day: block.day,
                x: block.ln_n_sum / block.count,
                y,
                count: block.count,
            })
        };
        self.blocks.iter().filter_map(point).collect()
    }
}

/// A block as a point: x = mean ln(n + 1), y = ln ms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) day: i32,
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) count: f64,
}

/// The courses of all items of a layout.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Courses {
    /// By item.
    pub items: BTreeMap<Item, Course>,
}

impl Courses {
    /// Adds a drill's keystrokes, struck on local day `day`, later than those
    /// before. Every hit is a repetition; latencies that count feed the curve.
    pub fn add_keystrokes(&mut self, day: i32, keystrokes: &[Keystroke]) {
        for keystroke in keystrokes.iter().filter(|k| k.verdict == Verdict::Hit) {
            self.items.entry(Item::of(keystroke)).or_default().add(day, keystroke.timed());
        }
    }
}

/// A fitted curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// b: ln ms of the very first repetition.
    pub b: f64,
    /// c: how steeply it falls; 0.11 means 7 % less at each doubling of practice.
    pub c: f64,
    /// Variances of b and c and their covariance.
    pub covariance: [f64; 3],
    /// ω: what days differ by, beyond chance, in logarithms.
    pub day_sd: f64,
    /// How often it was struck so far.
    pub repetitions: f64,
    /// Blocks that it was fitted to, ≥ 1.
    pub n_blocks: usize,
    /// The days that it was fitted to.
    pub n_days: usize,
}

/// The forecast for one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Days from now, ≥ 1.
    pub days_ahead: u32,
    /// The median to be measured on that day, with its 90 % interval.
    pub median: Estimate,
}

/// When a course meets a target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reach {
    /// It is met today with 90 % certainty.
    Already,
    /// It will probably be met between so many days ahead; the later end is
    /// none where it lies beyond the days looked at.
    Between(u32, Option<u32>),
    /// Not within the days looked at, as things go.
    NotOnThisCourse,
}

impl Curve {
    /// The curve of `course`; none where nothing was timed. `sd_ln` is the
    /// spread of single latencies, as [`super::latency`] finds it.
    pub fn fit(course: &Course, sd_ln: f64) -> Option<Self> {
        let points = course.points(sd_ln);
        let repetitions = course.repetitions as f64;
        Self::through(&points, sd_ln, repetitions)
    }

    pub(super) fn through(points: &[Point], sd_ln: f64, repetitions: f64) -> Option<Self> {
        if points.is_empty() {
            return None;
        }
        let plain: Vec<f64> = points.iter().map(|p| p.count / (sd_ln * sd_ln)).collect();
        let mut weights = plain.clone();
        let n_days = points.chunk_by(|a, b| a.day == b.day).count();
        let mut omega2 = DAY_PRIOR.0.powi(2);
        let mut line = Line::through(points, &weights, omega2);
        for _ in 0..30 {
            let spare = n_days as f64 - 2.0;
            if spare > 0.0 {
                // Outlying blocks must not pass for what days differ by.
                let found = paule_mandel_by(spare, |omega2| {
                    Line::through(points, &weights, omega2).misfit_of_days(points, &weights, omega2)
                });
                let (prior, counts) = DAY_PRIOR;
                omega2 = (counts * prior * prior + spare * found) / (counts + spare);
            }
            let before = line;
            line = Line::through(points, &weights, omega2);
            for ((weight, plain), point) in weights.iter_mut().zip(&plain).zip(points) {
                let sd = (1.0 / plain + omega2).sqrt();
                *weight = plain * huber_weight(line.residual(point) / sd, HUBER_K);
            }
            if (line.b - before.b).abs() + (line.c - before.c).abs() < 1e-7 {
                break;
            }
        }
        Some(Self {
            b: line.b,
            c: line.c,
            covariance: line.covariance,
            day_sd: omega2.sqrt(),
            repetitions,
            n_blocks: points.len(),
            n_days,
        })
    }

    /// ln ms after `n` repetitions and its variance, what days differ by left
    /// out.
    pub fn ln_at(&self, n: f64) -> (f64, f64) {
        let x = n.ln_1p();
        let [bb, cc, bc] = self.covariance;
        (self.b - self.c * x, (bb - 2.0 * x * bc + x * x * cc).max(0.0))
    }

    /// The median after `more` further repetitions, with the 90 % interval in
    /// which a day's median will lie.
    pub fn after(&self, more: f64) -> Estimate {
        let (ln, variance) = self.ln_at(self.repetitions + more);
        Estimate::of_ln(ln, (variance + self.day_sd.powi(2)).sqrt())
    }

    /// The coming `days` days, at `per_day` repetitions a day.
    pub fn forecast(&self, days: u32, per_day: f64) -> Vec<Forecast> {
        let of_day = |days_ahead: u32| Forecast {
            days_ahead,
            median: self.after(per_day * (f64::from(days_ahead) - 0.5)),
        };
        (1..=days).map(of_day).collect()
    }

    /// What the next repetition is expected to save at each later one, ms:
    /// ms · c / (n + 1). Below zero where times rise.
    pub fn gain_ms(&self) -> f64 {
        self.ln_at(self.repetitions).0.exp() * self.c / (self.repetitions + 1.0)
    }

    /// The curve with b and c drawn from what is known of them, by two
    /// independent standard normal numbers.
    #[must_use]
    pub fn drawn(&self, normal: [f64; 2]) -> Self {
        let [bb, cc, bc] = self.covariance;
        let on_c = cc.max(0.0).sqrt();
        let shared = if on_c > 0.0 { bc / on_c } else { 0.0 };
        let own = (bb - shared * shared).max(0.0).sqrt();
        Self {
            b: self.b + shared * normal[0] + own * normal[1],
            c: self.c + on_c * normal[0],
            ..*self
        }
    }

    /// When the curve meets `target_ms` at `per_day` repetitions a day, looking
    /// `horizon` days ahead.
    pub fn reach(&self, target_ms: f64, per_day: f64, horizon: u32) -> Reach {
        let target = target_ms.ln();
        let at = |days: u32| {
            let (ln, variance) = self.ln_at(self.repetitions + per_day * f64::from(days));
            (ln, Z90 * variance.sqrt())
        };
        let (ln, _) = at(0);
        let one_sided = Z90_ONE_SIDED / Z90;
        if ln + one_sided * at(0).1 <= target {
            return Reach::Already;
        }
        // Times fall with days where c is above zero, and never otherwise.
        if self.c <= 0.0 || at(horizon).0 > target {
            return Reach::NotOnThisCourse;
        }
        let first = |side: f64| {
            (1..=horizon).find(|days| {
                let (ln, half) = at(*days);
                ln + side * half <= target
            })
        };
        match (first(-1.0), first(0.0)) {
            (Some(earliest), Some(_)) => Reach::Between(earliest, first(1.0)),
            _ => Reach::NotOnThisCourse,
        }
    }
}

/// A weighted line y = b − c·x with the prior on c.
#[derive(Debug, Clone, Copy)]
struct Line {
    b: f64,
    c: f64,
    covariance: [f64; 3],
}

impl Line {
    /// Through points with `weights` = 1 / variance, those of a day with one
    /// deviation in common of variance `omega2`: generalised least squares, a
    /// day eliminated at a time.
    fn through(points: &[Point], weights: &[f64], omega2: f64) -> Self {
        let (mut w0, mut wx, mut wxx, mut wy, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        let mut rest = weights;
        for day in points.chunk_by(|a, b| a.day == b.day) {
            let (of_day, later) = rest.split_at(day.len());
            rest = later;
            let (mut d0, mut dx, mut dy) = (0.0, 0.0, 0.0);
            for (point, w) in day.iter().zip(of_day) {
                d0 += w;
                dx += w * point.x;
                dy += w * point.y;
                wxx += w * point.x * point.x;
                wxy += w * point.x * point.y;
            }
            let shared = omega2 / (1.0 + omega2 * d0);
            w0 += d0 - shared * d0 * d0;
            wx += dx - shared * d0 * dx;
            wy += dy - shared * d0 * dy;
            wxx -= shared * dx * dx;
            wxy -= shared * dx * dy;
        }
        let (mean, sd) = EXPONENT_PRIOR;
        let prior = 1.0 / (sd * sd);
        // Normal equations in (b, c) with regressors (1, −x).
        let (cc, cy) = (wxx + prior, prior * mean - wxy);
        let determinant = w0 * cc - wx * wx;
        Self {
            b: (cc * wy + wx * cy) / determinant,
            c: (w0 * cy + wx * wy) / determinant,
            covariance: [cc / determinant, w0 / determinant, wx / determinant],
        }
    }

    /// The squared mean residuals of days in units of their variances.
    fn misfit_of_days(&self, points: &[Point], weights: &[f64], omega2: f64) -> f64 {
        let (mut sum, mut rest) = (0.0, weights);
        for day in points.chunk_by(|a, b| a.day == b.day) {
            let (of_day, later) = rest.split_at(day.len());
            rest = later;
            let weight: f64 = of_day.iter().sum();
            let residual: f64 =
                day.iter().zip(of_day).map(|(point, w)| w * self.residual(point)).sum();
            sum += (residual / weight).powi(2) / (1.0 / weight + omega2);
        }
        sum
    }

    fn residual(&self, point: &Point) -> f64 {
        point.y - (self.b - self.c * point.x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(of: impl Fn(&mut Course, i32, u64)) -> Curve {
        let mut course = Course::default();
        for day in 0..30 {
            let n = course.repetitions();
            of(&mut course, day, n);
        }
        assert_eq!(course.days(), 30);
        Curve::fit(&course, 0.2).unwrap()
    }

    fn latency(n: u64) -> Micros {
        Micros(((6.0 - 0.2 * (n as f64).ln_1p()).exp() * 1e3) as u64)
    }

    #[test]
    fn a_steady_course_is_found_whether_told_by_presses_or_by_days() {
        let by_presses = curve(|course, day, n| {
            for more in 0..20 {
                let slower = if more == 0 { FIRST_OF_DAY } else { 1.0 };
                let ms = latency(n + more).0 as f64 * slower;
                course.add(day, Some(Micros(ms as u64)));
            }
        });
        let by_days = curve(|course, day, n| course.add_day(day, 20, 18, latency(n + 10)));
        for curve in [by_presses, by_days] {
            // The prior draws c toward 0.11 a little.
            assert!((curve.c - 0.2).abs() < 0.02, "{curve:?}");
            let (ln, _) = curve.ln_at(600.0);
            assert!((ln - (6.0 - 0.2 * 601_f64.ln())).abs() < 0.02, "{curve:?}");
        }
        assert!(by_presses.covariance[1] < by_days.covariance[1]);
    }

    #[test]
    fn what_never_counted_has_no_curve() {
        let mut course = Course::default();
        course.add(1, None);
        course.add_day(2, 5, 0, Micros::ZERO);
        assert_eq!(course.repetitions(), 6);
        assert!(Curve::fit(&course, 0.3).is_none());
    }

    #[test]
    fn one_latency_gives_a_curve_that_knows_little() {
        let mut course = Course::default();
        course.add(1, Some(Micros::from_ms(600)));
        let curve = Curve::fit(&course, 0.3).unwrap();
        assert!((curve.c - EXPONENT_PRIOR.0).abs() < 1e-9);
        let next = curve.after(0.0);
        assert!(next.low_ms < 400.0 && next.high_ms > 700.0, "{next:?}");
    }

    #[test]
    fn drawn_curves_scatter_as_their_covariance_says() {
        let curve = Curve {
            b: 6.0,
            c: 0.1,
            covariance: [0.04, 0.01, 0.015],
            day_sd: 0.05,
            repetitions: 10.0,
            n_blocks: 5,
            n_days: 2,
        };
        // The four corners of a unit square have the unit covariance.
        let draws = [[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]].map(|z| curve.drawn(z));
        let mean = |of: &dyn Fn(&Curve) -> f64| draws.iter().map(of).sum::<f64>() / 4.0;
        assert!((mean(&|d| (d.b - 6.0).powi(2)) - 0.04).abs() < 1e-12);
        assert!((mean(&|d| (d.c - 0.1).powi(2)) - 0.01).abs() < 1e-12);
        assert!((mean(&|d| (d.b - 6.0) * (d.c - 0.1)) - 0.015).abs() < 1e-12);
    }
}
