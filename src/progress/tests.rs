//! Comparisons that can be checked by hand, and histories of many days.

use super::old_way::{mix, standing};
use super::*;
use crate::store::Sketch;

fn sketch(values: &[u64]) -> Sketch {
    let mut sketch = Sketch::default();
    for ms in values {
        sketch.add(Micros::from_ms(*ms));
    }
    sketch
}

fn near(value: Micros, ms: f64) {
    assert!((value.as_ms() / ms - 1.0).abs() < 0.03, "{value} is not {ms} ms");
}

#[test]
fn a_mix_weighs_outputs_as_the_layer_has_them() {
    let quick = sketch(&[100; 30]);
    let slow = sketch(&[400; 10]);
    // Three quarters of what the layer needs is slow on the old way, though
    // only a quarter of what was measured there is.
    let found = mix(&[(25.0, &quick), (75.0, &slow)]).unwrap();
    assert_eq!(found.n, 40);
    near(found.median, 400.0);
    let found = mix(&[(80.0, &quick), (20.0, &slow)]).unwrap();
    near(found.median, 100.0);
    near(found.quartiles.unwrap().1, 100.0);
    assert_eq!(mix(&[]), None);
}

fn day(day: i32, low_ms: u64, n: u64) -> Point {
    let values: Vec<u64> = (0..n).map(|k| low_ms + k * 60 / n).collect();
    let figures = Figures { latency: sketch(&values), n_hits: n, ..Figures::default() };
    Point { day, figures }
}

#[test]
fn the_old_way_is_beaten_from_the_day_on_which_every_week_is_faster() {
    let old = sketch(&(0..200).map(|k| 200 + k % 60).collect::<Vec<_>>()).spread().unwrap();
    let slow = |d| day(d, 260, 40);
    let quick = |d| day(d, 120, 40);
    let points: Vec<Point> = (0..20).map(|d| if d < 10 { slow(d) } else { quick(d) }).collect();
    let Standing::Since(since) = standing(&points, &old, 7, false) else { panic!() };
    // Seven days together are faster once enough of them are.
    assert!((11..=16).contains(&since), "{since}");
    assert_eq!(standing(&points, &old, 1, false), Standing::Since(10));
    assert_eq!(standing(&points[..12], &old, 7, false), Standing::NotYet);
    assert_eq!(standing(&points[12..], &old, 7, false), Standing::Since(12));
    assert_eq!(standing(&points[12..], &old, 7, true), Standing::SinceOrEarlier(12));
    assert_eq!(standing(&[day(3, 120, 4)], &old, 7, false), Standing::TooFew);
    assert_eq!(standing(&[], &old, 7, false), Standing::TooFew);
    // The same speed is no victory.
    let even: Vec<Point> = (0..9).map(|d| day(d, 200, 40)).collect();
    assert_eq!(standing(&even, &old, 7, false), Standing::NotYet);
    assert_eq!(Standing::NotYet.words(), "not yet");
    assert!(Standing::Since(20_000).words().starts_with("beats the old way since 2024-"));
}
