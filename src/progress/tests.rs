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

#[test]
fn a_history_is_read_by_layer_item_switch_and_day() {
    let home = tempfile::TempDir::new().unwrap();
    let data = home.path().join("etude");
    let layout = crate::layout::shipped::load("tern-split").unwrap();
    let old = crate::layout::shipped::load("plain-ansi").unwrap();
    assert!(history(&data).unwrap().is_none());
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
    let store = history(sample::history_of_24_days()).unwrap().unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let read = |since: Option<i32>, only: Option<&str>| {
        let today = sample::TODAY;
        Progress::read(
            &store,
            &Request {
                layout: &layout,
                old_layout: Some(&old),
                since,
                today,
                only,
                surveyed: None,
            },
        )
        .unwrap()
    };
    let all = read(None, None);
    assert_eq!(all.step, Step::Day);
    let layer = |progress: &Progress, name: &str| {
        progress.layers.iter().find(|layer| layer.name == name).unwrap().clone()
    };
    let symbols = layer(&all, "symbols");
    assert!(symbols.all.n_hits > 500 && symbols.points.len() > 10, "{symbols:?}");
    // Points, items and switches are cuts of the same keystrokes.
    let hits: u64 = symbols.points.iter().map(|point| point.figures.n_hits).sum();
    let of_items = all.items.iter().filter(|item| item.name.layer == "symbols");
    let arrivals = all.switches.iter().filter(|switch| switch.to == "symbols");
    assert_eq!(hits, symbols.all.n_hits);
    assert_eq!(of_items.map(|item| item.all.n_hits).sum::<u64>(), hits);
    assert_eq!(arrivals.map(|switch| switch.all.n_hits).sum::<u64>(), hits);
    assert!(symbols.all.active > Micros::from_secs(60));
    assert_eq!(layer(&all, "base").lately.change(), Change::Faster);
    let old = symbols.old_way.unwrap();
    assert!(old.share > LEAST_SHARE && old.spread.n > 100, "{old:?}");
    assert_eq!(old.standing, Standing::NotYet);
    assert!(matches!(layer(&all, "base").old_way.unwrap().standing, Standing::Since(_)));
    // Where nothing of the old way is measured nothing is said.
    assert_eq!(layer(&all, "navigation").old_way, None);
    assert_eq!(all.calendar.len(), all.calendar.iter().filter(|day| day.n_drills > 0).count());

    let thumbs = all.thumbs.as_ref().unwrap();
    let (due, struck) = (
        all.items.iter().map(|item| item.all.n_keystrokes).sum::<u64>(),
        thumbs.keys.iter().map(|key| key.struck.n_keystrokes).sum::<u64>(),
    );
    // Each key that was due is one press, and access keys come on top.
    assert!(thumbs.n_presses() > due && struck > 0 && struck < due);
    let symbols_key = thumbs.keys.iter().find(|key| key.uses.iter().any(|u| u == "symbols"));
    let come = all.switches.iter().filter(|s| s.to == "symbols" && s.from != "symbols");
    let come: u64 = come.map(|switch| switch.all.n_keystrokes).sum();
    assert!(symbols_key.unwrap().n_access.abs_diff(come) <= 1, "{symbols_key:?} {come}");

    let some = read(Some(sample::TODAY - 5), Some("symbols"));
    assert_eq!(some.thumbs, None);
    assert_eq!(some.layers.len(), 1);
    assert!(some.items.iter().all(|item| item.name.layer == "symbols"));
    assert!(some.layers[0].points.iter().all(|point| point.day >= sample::TODAY - 5));
    assert!(some.layers[0].all.n_hits < hits && some.layers[0].lately.before.is_none());
    assert!(read(Some(sample::TODAY + 1), None).is_empty());
}
