//! The line to beat: the same outputs on the layout used before.

use super::{ItemProgress, Point};
use crate::session::{Change, Spread};
use crate::store::{Figures, ItemName, Sketch, Step, wall_clock};
use crate::units::Micros;
use std::collections::BTreeMap;

/// Outputs with fewer latencies on the old way count as not measured there.
const LEAST_LATENCIES: u64 = 3;

/// The least share of a layer's latencies whose outputs must be measured on
/// the old way before the two are compared.
pub const LEAST_SHARE: f64 = 0.8;

/// So many practised days together stand against the old way.
const WINDOW: usize = 7;

/// A latency sketch gives so many of its quantiles to a mix.
const SLICES: u32 = 40;

/// The old way with the outputs of one layer, each as often as on the layer.
#[derive(Debug, Clone, PartialEq)]
pub struct OldWay {
    /// Median and quartiles of the mix, and the latencies that it rests on.
    pub spread: Spread,
    /// Outputs of the layer that are measured on the old way.
    pub n_outputs: usize,
    /// Outputs of the layer.
    pub n_outputs_all: usize,
    /// The share of the layer's latencies that those outputs have, 0 to 1.
    pub share: f64,
    /// How the layer stands against it.
    pub standing: Standing,
}

/// How a layer stands against the old way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Faster, beyond the noise, in every seven practised days (or month) from
    /// this day on.
    Since(i32),
    /// The same, and perhaps longer: the range begins on this day.
    SinceOrEarlier(i32),
    /// Slower, or not clearly faster.
    NotYet,
    /// Too little is measured on either side.
    TooFew,
}

impl Standing {
    /// In words for people.
    pub fn words(self) -> String {
        match self {
            Self::Since(day) => {
                format!("beats the old way since {}", wall_clock::day_text(day))
            }
            Self::SinceOrEarlier(day) => {
                format!("beats the old way since {} or earlier", wall_clock::day_text(day))
            }
            Self::NotYet => "not yet".into(),
            Self::TooFew => "too few to tell".into(),
        }
    }

    /// In one word for programs.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Since(_) => "since",
            Self::SinceOrEarlier(_) => "since_or_earlier",
            Self::NotYet => "not_yet",
            Self::TooFew => "too_few",
        }
    }

    /// The day that it names, if any.
    pub const fn day(self) -> Option<i32> {
        match self {
            Self::Since(day) | Self::SinceOrEarlier(day) => Some(day),
            Self::NotYet | Self::TooFew => None,
        }
    }
}

/// What is measured on the old way, by output.
#[derive(Debug, Default)]
pub(super) struct OldItems {
    by_output: BTreeMap<String, Figures>,
}

impl OldItems {
    /// From its items; where an output lies on several keys they count
    /// together.
    pub fn of(items: BTreeMap<ItemName, Figures>) -> Self {
        let mut by_output: BTreeMap<String, Figures> = BTreeMap::new();
        for (name, figures) in items {
            by_output.entry(name.output).or_default().merge(&figures);
        }
        by_output.retain(|_, figures| figures.latency.count() >= LEAST_LATENCIES);
        Self { by_output }
    }

    /// Median and quartiles of an output; none where it isn't measured.
    pub fn spread(&self, output: &str) -> Option<Spread> {
        self.by_output.get(output).and_then(Figures::spread)
    }

    /// The latencies of an output; none where it isn't measured.
    pub fn latency(&self, output: &str) -> Option<&Sketch> {
        self.by_output.get(output).map(|figures| &figures.latency)
    }

    /// The old way with the mix of outputs that `items` of one layer have.
    pub fn mixed_as<'a>(
        &self,
        items: impl Iterator<Item = &'a ItemProgress>,
        points: &[Point],
        step: Step,
        has_earlier: bool,
    ) -> Option<OldWay> {
        let mut parts: Vec<(f64, &Sketch)> = Vec::new();
        let (mut all, mut measured, mut n_outputs_all) = (0, 0, 0);
        for item in items {
            let n = item.all.latency.count();
            if n == 0 {
                continue;
            }
            all += n;
            n_outputs_all += 1;
            if let Some(old) = self.by_output.get(&item.name.output) {
                measured += n;
                parts.push((n as f64, &old.latency));
            }
        }
        let spread = mix(&parts)?;
        let share = measured as f64 / all as f64;
        let standing = if share < LEAST_SHARE {
            Standing::TooFew
        } else {
            let window = if step == Step::Day { WINDOW } else { 1 };
            standing(points, &spread, window, has_earlier)
        };
        Some(OldWay { spread, n_outputs: parts.len(), n_outputs_all, share, standing })
    }
}

/// Median and quartiles of a mix of sketches, each with its weight; n counts
/// what they rest on. None without any.
pub(super) fn mix(parts: &[(f64, &Sketch)]) -> Option<Spread> {
    let mut slices: Vec<(Micros, f64)> = Vec::new();
    for (weight, sketch) in parts {
        for n in 0..SLICES {
            let value = sketch.quantile((f64::from(n) + 0.5) / f64::from(SLICES))?;
            slices.push((value, weight / f64::from(SLICES)));
        }
    }
    slices.sort_unstable_by_key(|slice| slice.0);
    let whole: f64 = slices.iter().map(|slice| slice.1).sum();
    let at = |q: f64| {
        let mut sum = 0.0;
        let found = slices.iter().find(|slice| {
            sum += slice.1;
            sum >= q * whole
        });
        found.or(slices.last()).map(|slice| slice.0)
    };
    let n = usize::try_from(parts.iter().map(|(_, sketch)| sketch.count()).sum::<u64>()).ok()?;
    let quartiles = at(0.25).zip(at(0.75)).filter(|_| n >= 4);
    Some(Spread { n, median: at(0.5)?, quartiles })
}

/// How `points` stand against `old`, `window` of them together at a time.
pub(super) fn standing(
    points: &[Point],
    old: &Spread,
    window: usize,
    has_earlier: bool,
) -> Standing {
    let mut since = None;
    for end in (0..points.len()).rev() {
        let mut together = Figures::default();
        for point in &points[(end + 1).saturating_sub(window)..=end] {
            together.merge(&point.figures);
        }
        let change = together.spread().map_or(Change::TooFew, |now| Change::of(&now, old));
        match (change, since) {
            (Change::Faster, _) => since = Some((end, points[end].day)),
            // Fewer than enough at the beginning prove nothing.
            (Change::TooFew, None) => return Standing::TooFew,
            (_, None) => return Standing::NotYet,
            (_, Some(_)) => break,
        }
    }
    match since {
        Some((0, day)) if has_earlier => Standing::SinceOrEarlier(day),
        Some((_, day)) => Standing::Since(day),
        None => Standing::TooFew,
    }
}
