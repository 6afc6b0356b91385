//! Speed of the model on 50,000 keystrokes: five layers, 120 items.
//!
//! `cargo bench --bench model`
#![allow(clippy::expect_used, reason = "a bench that can't go on may panic")]

use divan::{Bencher, black_box};
use etude::keyboard::Output;
use etude::layout::LayerId;
use etude::model::Item;
use etude::model::latency::Latencies;
use etude::model::learning::{Course, Curve};
use etude::model::switch::{Motor, Observation, Options, Statistics, fit};
use etude::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

const KEYSTROKES: usize = 50_000;
/// A drill of about a minute.
const DRILL: usize = 200;

fn main() {
    divan::main();
}

/// Runs on layers, left with one chance in four; heavy tails.
fn observations() -> Vec<Observation> {
    let mut dice = ChaCha8Rng::seed_from_u64(1);
    let mut share = move || f64::from(dice.random_range(0..u32::MAX)) / f64::from(u32::MAX);
    let mut layer = 0_u8;
    let mut all = Vec::with_capacity(KEYSTROKES);
    for _ in 0..KEYSTROKES {
        let from = layer;
        if share() < 0.25 {
            layer = (share() * 5.0) as u8 % 5;
        }
        let item = (share() * share() * 24.0) as u8;
        let motor = Motor::ALL[(share() * share() * 4.0) as usize % 4];
        let noise: f64 = (0..6).map(|_| share()).sum::<f64>() - 3.0;
        let tail = if share() < 0.1 { 3.0 } else { 1.0 };
        let ln_ms = 5.2
            + 0.1 * f64::from(layer)
            + 0.02 * f64::from(item)
            + if from == layer { 0.0 } else { 0.45 }
            + 0.3 * tail * noise;
        all.push(Observation {
            item: Item {
                layer: LayerId(layer),
                position: None,
                output: Output::Text(format!("item {item}")),
            },
            from: LayerId(from),
            motor,
            ln_ms,
        });
    }
    all
}

/// From single keystrokes to told costs, nothing kept from before.
#[divan::bench]
fn switch_costs_from_nothing(bencher: Bencher) {
    let all = observations();
    bencher.with_inputs(|| all.clone()).bench_values(|all| {
        fit(&Statistics::of(0, all), &Options::default(), None).expect("a fit")
    });
}

/// The fit alone, from sums.
#[divan::bench]
fn switch_costs_from_sums(bencher: Bencher) {
    let sums = Statistics::of(0, observations());
    bencher.bench(|| fit(black_box(&sums), &Options::default(), None).expect("a fit"));
}

/// After one more drill: its sums, the fading of all before, the fit from the
/// last one on.
#[divan::bench]
fn switch_costs_after_a_drill(bencher: Bencher) {
    let all = observations();
    let (drill, before) = all.split_at(DRILL);
    let sums = Statistics::of(0, before.to_vec());
    let last = fit(&sums, &Options::default(), None).expect("a fit");
    bencher.with_inputs(|| (sums.clone(), drill.to_vec())).bench_values(|(mut sums, drill)| {
        sums.merge(&Statistics::of(1, drill));
        fit(&sums, &Options::default(), Some(&last)).expect("a fit")
    });
}

/// Medians of all items.
#[divan::bench]
fn medians_of_items(bencher: Bencher) {
    let mut latencies: Latencies<LayerId, Item> = Latencies::default();
    for (n, o) in (0_i32..).zip(observations()) {
        let latency = Micros((o.ln_ms.exp() * 1e3) as u64);
        latencies.add(o.item.layer, o.item, n / 2000, latency);
    }
    bencher.bench(|| black_box(&latencies).estimate(25));
}

/// The curve of one item with 2,000 repetitions on 100 days.
#[divan::bench]
fn a_learning_curve(bencher: Bencher) {
    let mut course = Course::default();
    for (n, o) in (0_i32..2000).zip(observations()) {
        course.add(n / 20, Some(Micros((o.ln_ms.exp() * 1e3) as u64)));
    }
    bencher.bench(|| Curve::fit(black_box(&course), 0.3).expect("a curve"));
}
