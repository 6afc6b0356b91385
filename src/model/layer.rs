//! How a whole layer gets on, and whether it stands still.
//!
//! Days are compared by the same items: y = item + day, so that a day of hard
//! items does not look like a bad day.

use super::learning::{Course, Courses, Curve, Point};
use super::numeric::{Z90, Z90_ONE_SIDED};
use crate::layout::LayerId;
use crate::order::Gather;
use std::collections::{BTreeMap, BTreeSet};

impl Courses {
    /// The curve of a layer by days: items with their own b and one c, so that
    /// it does not matter which items a day practised. None for fewer than two
    /// days. `sd_ln` is the spread of single latencies of the layer.
    pub fn layer(&self, layer: LayerId, sd_ln: f64) -> Option<LayerCourse> {
        let of_layer = self.items.iter().filter(|(item, _)| item.layer == layer);
        pooled(of_layer.map(|(_, course)| course), sd_ln)
    }
}

/// The course of a layer, by days.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerCourse {
    /// The curve of the layer's mean item.
    pub curve: Curve,
    /// By day: ln ms of the mean item, and how many latencies.
    pub days: Vec<(i32, f64, f64)>,
}

/// Items with their own level and days in common: y = item + day, x likewise,
/// by turns until both stand still.
fn pooled<'a>(courses: impl Iterator<Item = &'a Course>, sd_ln: f64) -> Option<LayerCourse> {
    let (mut repetitions, mut n_items) = (0.0, 0.0);
    let mut cells: Vec<(usize, Point)> = Vec::new();
    for course in courses {
        let points = course.points(sd_ln);
        if points.is_empty() {
            continue;
        }
        cells.extend(points.into_iter().map(|point| (n_items as usize, point)));
        repetitions += course.repetitions() as f64;
        n_items += 1.0;
    }
    let days: BTreeSet<i32> = cells.iter().map(|(_, point)| point.day).gather();
    if days.len() < 2 {
        return None;
    }
    let place: BTreeMap<i32, usize> = days.iter().enumerate().map(|(n, day)| (*day, n)).gather();
    let levels = |value: fn(&Point) -> f64| {
        let mut of_items = vec![0.0; n_items as usize];
        let mut of_days = vec![0.0; days.len()];
        for _ in 0..2000 {
            let mut sums = vec![(0.0, 0.0); of_items.len()];
            for (item, point) in &cells {
                sums[*item].0 += point.count * (value(point) - of_days[place[&point.day]]);
                sums[*item].1 += point.count;
            }
            of_items = sums.iter().map(|(sum, count)| sum / count).collect();
            // The mean item has level 0, so that days carry the layer's level.
            let mean = of_items.iter().sum::<f64>() / n_items;
            let mut moved = 0.0_f64;
            let mut sums = vec![(0.0, 0.0); of_days.len()];
            for (item, point) in &cells {
                let sum = &mut sums[place[&point.day]];
                sum.0 += point.count * (value(point) - (of_items[*item] - mean));
                sum.1 += point.count;
            }
            for (old, (sum, count)) in of_days.iter_mut().zip(sums) {
                moved = moved.max((sum / count - *old).abs());
                *old = sum / count;
            }
            if moved < 1e-7 {
                break;
            }
        }
        of_days
    };
    let (ys, xs) = (levels(|point| point.y), levels(|point| point.x));
    let mut counts = vec![0.0; days.len()];
    for (_, point) in &cells {
        counts[place[&point.day]] += point.count;
    }
    let points: Vec<Point> = days
        .iter()
        .enumerate()
        .map(|(n, day)| Point { day: *day, x: xs[n], y: ys[n], count: counts[n] })
        .collect();
    let curve = Curve::through(&points, sd_ln, repetitions / n_items)?;
    let days = points.iter().map(|p| (p.day, p.y, p.count)).collect();
    Some(LayerCourse { curve, days })
}

/// The least number of days from which a standstill is looked for.
pub const STANDSTILL_DAYS: usize = 12;
/// A gain below this share, with 90 % certainty, is called standing still.
pub const STANDSTILL_GAIN: f64 = 0.05;

impl LayerCourse {
    /// How much faster the last half of the days was than the quarter before
    /// it, as a share, with the 90 % interval: (gain, low, high). None for
    /// fewer than [`STANDSTILL_DAYS`] days.
    ///
    /// The noise is what days differ by about the two halves' means.
    pub fn recent_gain(&self) -> Option<(f64, f64, f64)> {
        let (ln, error) = self.recent_difference()?;
        let gain = |ln: f64| 1.0 - (-ln).exp();
        Some((gain(ln), gain(ln - Z90 * error), gain(ln + Z90 * error)))
    }

    /// The same in logarithms, with its standard error.
    fn recent_difference(&self) -> Option<(f64, f64)> {
        let n = self.days.len();
        if n < STANDSTILL_DAYS {
            return None;
        }
        let half = n / 2;
        let before = &self.days[n - half - n / 4..n - half];
        let last = &self.days[n - half..];
        let mean =
            |days: &[(i32, f64, f64)]| days.iter().map(|d| d.1).sum::<f64>() / days.len() as f64;
        let (a, b) = (mean(before), mean(last));
        let squares: f64 = before.iter().map(|d| (d.1 - a).powi(2)).sum::<f64>()
            + last.iter().map(|d| (d.1 - b).powi(2)).sum::<f64>();
        let variance = squares / (before.len() + last.len() - 2) as f64;
        let error = (variance * (1.0 / before.len() as f64 + 1.0 / last.len() as f64)).sqrt();
        Some((a - b, error))
    }

    /// True where the last half of the days brought at most
    /// [`STANDSTILL_GAIN`], with 90 % certainty. False also where there is too
    /// little to tell.
    pub fn stands_still(&self) -> bool {
        self.recent_difference().is_some_and(|(ln, error)| {
            1.0 - (-(ln + Z90_ONE_SIDED * error)).exp() <= STANDSTILL_GAIN
        })
    }
}
