//! What holds for any data.

use super::golden::reference_observations;
use super::typist::Dice;
use etude::keyboard::Output;
use etude::layout::LayerId;
use etude::model::Item;
use etude::model::latency::{Estimates, Latencies};
use etude::model::learning::{Course, Curve, Reach};
use etude::model::switch::{Observation, Options, Statistics, Told, fit};
use etude::units::Micros;
use proptest::prelude::*;

type Samples = Vec<Vec<(i32, u64)>>;

/// A few items with a few latencies each, in µs, by day.
fn samples() -> impl Strategy<Value = Samples> {
    let item =
        prop::collection::vec((0..40_i32, 25_000..2_000_000_u64), 1..12).prop_map(|mut v| {
            v.sort_by_key(|(day, _)| *day);
            v
        });
    prop::collection::vec(item, 1..8)
}

fn estimate(samples: &Samples, order: &[usize], by: f64) -> Estimates<u8, usize> {
    let mut latencies = Latencies::default();
    for &item in order {
        for (day, micros) in &samples[item] {
            latencies.add(0, item, *day, Micros((*micros as f64 * by).round() as u64));
        }
    }
    latencies.estimate(40)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_order_of_items_changes_nothing(samples in samples()) {
        let forth: Vec<usize> = (0..samples.len()).collect();
        let back: Vec<usize> = (0..samples.len()).rev().collect();
        prop_assert_eq!(estimate(&samples, &forth, 1.0), estimate(&samples, &back, 1.0));
    }

    #[test]
    fn times_scaled_scale_medians(samples in samples(), by in 2..9_u32) {
        let order: Vec<usize> = (0..samples.len()).collect();
        let by = f64::from(by);
        let (one, scaled) = (estimate(&samples, &order, 1.0), estimate(&samples, &order, by));
        for (key, latency) in &one.keys {
            let other = scaled.keys[key].median;
            for (a, b) in [
                (latency.median.ms, other.ms),
                (latency.median.low_ms, other.low_ms),
                (latency.median.high_ms, other.high_ms),
            ] {
                prop_assert!((b / a / by - 1.0).abs() < 1e-7, "{} {}", a, b);
            }
        }
    }

    #[test]
    fn a_shrunk_median_lies_between_the_raw_one_and_the_layers(samples in samples()) {
        let order: Vec<usize> = (0..samples.len()).collect();
        let found = estimate(&samples, &order, 1.0);
        let mean = found.groups[&0].mean.ms;
        for latency in found.keys.values() {
            let (low, high) = (latency.raw_ms.min(mean), latency.raw_ms.max(mean));
            let ms = latency.median.ms;
            prop_assert!(low - 1e-6 <= ms && ms <= high + 1e-6, "{} {} {}", low, ms, high);
            prop_assert!(latency.median.low_ms < ms && ms < latency.median.high_ms);
            prop_assert!(latency.error_ln.is_finite() && latency.error_ln > 0.0);
            prop_assert!(latency.n_effective <= latency.n as f64 + 1e-9);
            prop_assert!(latency.n_effective >= 1.0 - 1e-9);
        }
    }

    /// Any course: finite numbers, an interval about the middle, wider ahead.
    #[test]
    fn forecasts_are_finite_and_widen(samples in samples()) {
        for item in &samples {
            let mut course = Course::default();
            for (day, micros) in item {
                course.add(*day, Some(Micros(*micros)));
            }
            let curve = Curve::fit(&course, 0.3).unwrap();
            let forecast = curve.forecast(60, 20.0);
            prop_assert_eq!(forecast.len(), 60);
            for day in &forecast {
                let m = day.median;
                prop_assert!(m.ms.is_finite() && m.low_ms < m.ms && m.ms < m.high_ms);
            }
            let width = |n: usize| (forecast[n].median.high_ms / forecast[n].median.low_ms).ln();
            prop_assert!(width(59) >= width(0) - 1e-9);
        }
    }
}

#[test]
fn more_data_narrows_the_interval() {
    for seed in 0..20 {
        let mut dice = Dice::new(seed);
        let width = |n: usize, dice: &mut Dice| {
            let mut latencies: Latencies<u8, u8> = Latencies::default();
            for item in 0..6 {
                for _ in 0..n {
                    let ms = 200.0 * (0.3 * dice.normal() + 0.05 * f64::from(item)).exp();
                    latencies.add(0, item, 0, Micros((ms * 1e3) as u64));
                }
            }
            let found = latencies.estimate(0);
            found.keys.values().map(|l| l.error_ln).fold(0.0, f64::max)
        };
        let (few, more, many) = (width(6, &mut dice), width(40, &mut dice), width(250, &mut dice));
        assert!(few > more && more > many, "seed {seed}: {few} {more} {many}");
    }
}

fn default_fit(statistics: &Statistics) -> etude::model::switch::Fit {
    fit(statistics, &Options::default(), None).unwrap()
}

#[test]
fn statistics_of_parts_add_up_to_those_of_the_whole() {
    let all = reference_observations();
    let whole = default_fit(&Statistics::of(3, all.clone()));
    let mut parts = Statistics::default();
    // Last part first: the order of drills of a day does not matter.
    for part in all.chunks(97).rev() {
        parts.merge(&Statistics::of(3, part.to_vec()));
    }
    assert_eq!(parts.n(), 600);
    let joined = default_fit(&parts);
    for (pair, (value, error)) in &whole.switches {
        let (other, other_error) = joined.switches[pair];
        assert!((value - other).abs() < 1e-6 && (error - other_error).abs() < 1e-6);
    }
    // An earlier fit is a good place to start from, and ends at the same place.
    let first = default_fit(&Statistics::of(3, all[..500].to_vec()));
    let warm = fit(&parts, &Options::default(), Some(&first)).unwrap();
    assert!(warm.rounds <= joined.rounds, "{} {}", warm.rounds, joined.rounds);
    for (pair, (value, _)) in &joined.switches {
        assert!((value - warm.switches[pair].0).abs() < 1e-5);
    }
}

#[test]
fn old_drills_fade_and_age_alone_changes_nothing() {
    let all = reference_observations();
    let slower = all.iter().cloned().map(|o| Observation { ln_ms: o.ln_ms + 1.0, ..o });
    let mut faded = Statistics::of(0, slower);
    faded.merge(&Statistics::of(140, all.clone()));
    let (old_and_new, new) = (default_fit(&faded), default_fit(&Statistics::of(140, all.clone())));
    for (layer, mean) in &old_and_new.layers {
        assert!((mean - new.layers[layer]).abs() < 0.02);
    }
    assert!((faded.n_effective() - 600.0).abs() < 2.0 && faded.n() == 1200);
    // The other way round is the same.
    let mut other = Statistics::of(140, all.clone());
    other.merge(&Statistics::of(0, all.clone()));
    assert!((other.n_effective() - 600.0).abs() < 2.0);
    // After ten years nothing is left of it, and no nonsense either.
    let mut later = Statistics::of(0, all.clone());
    later.merge(&Statistics::of(3650, all[..300].to_vec()));
    assert!((later.n_effective() - 300.0).abs() < 1e-6 && later.n() < 900);
    let fresh = default_fit(&Statistics::of(3650, all[..300].to_vec()));
    for (pair, (value, _)) in default_fit(&later).switches {
        assert!((value - fresh.switches[&pair].0).abs() < 1e-6);
    }
    let mut aged = Statistics::of(0, all.clone());
    aged.merge(&Statistics::of(70, Vec::new()));
    let aged = default_fit(&aged);
    for (pair, (value, error)) in default_fit(&Statistics::of(0, all)).switches {
        let (other, other_error) = aged.switches[&pair];
        assert!((value - other).abs() < 1e-6 && (error - other_error).abs() < 1e-6);
    }
}

fn observation(layer: u8, item: &str, from: u8, ln_ms: f64) -> Observation {
    Observation {
        item: Item { layer: LayerId(layer), position: None, output: Output::Text(item.into()) },
        from: LayerId(from),
        motor: etude::model::switch::Motor::Alternate,
        ln_ms,
    }
}

#[test]
fn a_switch_is_told_apart_only_where_an_item_occurs_both_ways() {
    // Layer 1 is entered with x and goes on with y: x is never inside.
    let mut dice = Dice::new(5);
    let mut all = Vec::new();
    for _ in 0..60 {
        all.push(observation(0, "a", 0, 5.0 + 0.2 * dice.normal()));
        all.push(observation(0, "b", 1, 5.3 + 0.2 * dice.normal()));
        all.push(observation(0, "b", 0, 5.1 + 0.2 * dice.normal()));
        all.push(observation(1, "x", 0, 6.0 + 0.2 * dice.normal()));
        all.push(observation(1, "y", 1, 5.5 + 0.2 * dice.normal()));
    }
    let found = default_fit(&Statistics::of(0, all.clone()));
    let Told::ArrivalOnly(arrival) = found.told[&(LayerId(0), LayerId(1))] else {
        panic!("{found:?}")
    };
    assert!((arrival.ms.ms / 6.0_f64.exp()).ln().abs() < 0.1, "{arrival:?}");
    assert!(arrival.ms.low_ms > 350.0 && arrival.ms.high_ms < 450.0, "{arrival:?}");
    assert_eq!(arrival.n, 60);
    assert!(found.told[&(LayerId(1), LayerId(0))].cost().is_some());
    // One press of x inside is enough for a number, with a wide interval.
    all.push(observation(1, "x", 1, 5.6));
    let found = default_fit(&Statistics::of(0, all.clone()));
    let one = *found.told[&(LayerId(0), LayerId(1))].cost().unwrap();
    for _ in 0..40 {
        all.push(observation(1, "x", 1, 5.6 + 0.2 * dice.normal()));
    }
    let found = default_fit(&Statistics::of(0, all));
    let many = *found.told[&(LayerId(0), LayerId(1))].cost().unwrap();
    assert!(many.ms.high_ms - many.ms.low_ms < one.ms.high_ms - one.ms.low_ms);
    assert!((many.ratio.0.ln() - 0.4).abs() < 0.15, "{many:?}");
}

#[test]
fn too_little_is_an_error_with_words() {
    let error = fit(&Statistics::default(), &Options::default(), None).unwrap_err();
    assert!(error.to_string().contains("too few keystrokes"), "{error}");
    let one = Statistics::of(0, [observation(0, "a", 0, 5.0)]);
    assert!(fit(&one, &Options::default(), None).is_err());
}

#[test]
fn outliers_do_not_move_a_switch() {
    let mut all = reference_observations();
    let before = default_fit(&Statistics::of(0, all.clone()));
    for observation in all.iter_mut().step_by(12) {
        observation.ln_ms += 2.0;
    }
    let robust = default_fit(&Statistics::of(0, all.clone()));
    let options = Options { huber_k: f64::INFINITY, ..Options::default() };
    let squares = fit(&Statistics::of(0, all), &options, None).unwrap();
    let moved = |fit: &etude::model::switch::Fit| {
        let pairs = fit.switches.iter();
        pairs.map(|(pair, e)| (e.0 - before.switches[pair].0).abs()).fold(0.0, f64::max)
    };
    assert!(moved(&robust) < 0.1 && moved(&robust) < moved(&squares) / 2.0);
    assert!(squares.sd_ln > 1.3 * robust.sd_ln);
}

#[test]
fn a_course_meets_its_target_or_does_not() {
    let mut dice = Dice::new(3);
    let mut course = Course::default();
    for day in 0..15 {
        for n in 0..20 {
            let ln = 6.2 - 0.12 * f64::from(day * 20 + n).ln_1p() + 0.2 * dice.normal();
            course.add(day, Some(Micros((ln.exp() * 1e3) as u64)));
        }
    }
    let curve = Curve::fit(&course, 0.2).unwrap();
    let now = curve.ln_at(curve.repetitions).0.exp();
    assert!((curve.c - 0.12).abs() < 0.04, "{curve:?}");
    assert_eq!(curve.reach(now * 1.3, 20.0, 60), Reach::Already);
    assert_eq!(curve.reach(now * 0.5, 20.0, 60), Reach::NotOnThisCourse);
    let Reach::Between(first, last) = curve.reach(now * 0.93, 20.0, 365) else { panic!() };
    assert!(first >= 1 && last.is_none_or(|last| last > first), "{first} {last:?}");
    assert!(curve.gain_ms() > 0.0);
    assert_eq!(curve.drawn([0.0, 0.0]), curve);
}
