//! The store: opening, a keystroke, a drill of 300 keystrokes, and what the
//! start screen asks of ten years of daily practice.
//!
//! `cargo bench --bench store`
#![allow(clippy::unwrap_used, reason = "a bench that can't go on may panic")]

use divan::{Bencher, black_box};
use etude::drill::{Flow, Source};
use etude::keyboard::{Digit, Finger, Hand, Output, Position, Row};
use etude::layout::{Cluster, LayerId};
use etude::session::{Flags, Keystroke, Verdict};
use etude::store::{
    DrillEnd, DrillStart, Ended, LayerRecord, LayoutRecord, SessionStart, Sitting, Store, WallTime,
};
use etude::units::Micros;
use std::path::Path;
use std::sync::OnceLock;
use tempfile::TempDir;

/// 2026-11-25T08:00:00Z.
const START_MS: i64 = 1_795_593_600_000;
const DAY_MS: i64 = 86_400_000;

fn main() {
    divan::main();
}

fn session(ms_utc: i64) -> SessionStart {
    let layer = |name: &str, cluster: Cluster| LayerRecord {
        name: name.to_owned(),
        cluster: cluster.word().to_owned(),
    };
    SessionStart {
        started: WallTime { ms_utc, utc_offset_min: 60 },
        seed: 1,
        layout: LayoutRecord {
            name: "harbour".to_owned(),
            title: "Harbour, split".to_owned(),
            text: "name = \"harbour\"\n".repeat(200),
            layers: vec![layer("base", Cluster::Base), layer("marks", Cluster::Symbols)],
        },
        terminal_level: "plain".to_owned(),
        program_version: "0.1.0".to_owned(),
        score_version: 1,
    }
}

fn drill(source: Source) -> DrillStart {
    DrillStart {
        title: "brackets round gauge readings".to_owned(),
        cluster: Cluster::Symbols,
        flow: Flow::Stay,
        source,
        started_at: Micros::ZERO,
        n_left_out: 0,
    }
}

/// 60 items on two layers, latencies all over the range.
fn strokes(n: u32) -> Vec<Keystroke> {
    let mut previous_layer = LayerId::BASE;
    (0..n)
        .map(|seq| {
            let due = seq * 7 % 60;
            let layer = LayerId(u8::from(due >= 30));
            let stroke = Keystroke {
                seq,
                prompt: (seq / 60) as u16,
                place: (seq % 60) as u16,
                at: Micros(u64::from(seq + 1) * 200_000),
                expected: Output::char(char::from(b'!' + due as u8)),
                got: Output::char(char::from(b'!' + due as u8)),
                verdict: Verdict::Hit,
                latency: Some(Micros(90_000 + u64::from(seq * 7919 % 400_000))),
                reach: None,
                down: None,
                layer,
                previous_layer,
                position: Some(Position::main(Row::C, due as u8)),
                finger: Some(Finger::new(Hand::Left, Digit::Index)),
                flags: Flags::empty(),
            };
            previous_layer = layer;
            stroke
        })
        .collect()
}

fn end() -> DrillEnd {
    DrillEnd::new(Ended::Done, Micros::from_secs(60), None)
}

fn sitting_with_drill(dir: &Path, ms_utc: i64, source: Source, strokes: &[Keystroke]) -> Sitting {
    let mut sitting = Sitting::begin(dir, Store::open(dir).ok(), session(ms_utc));
    sitting.begin_drill(&drill(source));
    for stroke in strokes {
        sitting.keystroke(stroke);
    }
    sitting
}

/// Opening a history that is there, nothing to fold in.
#[divan::bench(sample_count = 50)]
fn open(bencher: Bencher) {
    let dir = TempDir::new().unwrap();
    let sitting = sitting_with_drill(dir.path(), START_MS, Source::Shipped, &strokes(300));
    drop(sitting);
    drop(Store::open(dir.path()));
    bencher.bench_local(|| Store::open(dir.path()).unwrap());
}

/// One keystroke into the journal.
#[divan::bench(sample_count = 2000, sample_size = 1)]
fn keystroke(bencher: Bencher) {
    let dir = TempDir::new().unwrap();
    let mut sitting = sitting_with_drill(dir.path(), START_MS, Source::Shipped, &[]);
    let mut all = strokes(100_000).into_iter();
    bencher.bench_local(|| sitting.keystroke(&all.next().unwrap()));
}

/// The end of a drill of 300 keystrokes: raw rows and the sums of the day,
/// with the sync to disk.
#[divan::bench(sample_count = 50, sample_size = 1)]
fn drill_commit_300(bencher: Bencher) {
    let dir = TempDir::new().unwrap();
    let strokes = strokes(300);
    let mut sitting = sitting_with_drill(dir.path(), START_MS, Source::Shipped, &[]);
    bencher.bench_local(|| {
        sitting.begin_drill(&drill(Source::Shipped));
        for stroke in &strokes {
            sitting.keystroke(stroke);
        }
        sitting.end_drill(&end());
    });
    assert_eq!(sitting.trouble(), None);
}

/// Ten years with 120 keystrokes on 60 items a day: 438,000 keystrokes and
/// 219,000 daily sums. A drill a year, as long as the year, saves 3,640 syncs.
fn ten_years() -> &'static Path {
    static DIR: OnceLock<TempDir> = OnceLock::new();
    DIR.get_or_init(|| {
        let dir = TempDir::new().unwrap();
        let mut strokes: Vec<Keystroke> = (0..365).flat_map(|_| strokes(120)).collect();
        for (seq, stroke) in (0..).zip(&mut strokes) {
            stroke.seq = seq;
            stroke.at = stroke.at + Micros::from_secs(u64::from(seq / 120) * 86_400);
        }
        for year in 1..=10 {
            let ms_utc = START_MS - year * 365 * DAY_MS;
            let mut sitting = sitting_with_drill(dir.path(), ms_utc, Source::Shipped, &strokes);
            sitting.end_drill(&end());
            assert_eq!(sitting.end(Ended::Done, Micros::from_secs(60)).trouble, None);
        }
        dir
    })
    .path()
}

/// Opening, and the last results by layer, after ten years.
#[divan::bench(sample_count = 20, sample_size = 1)]
fn start_screen_after_ten_years(bencher: Bencher) {
    let dir = ten_years();
    bencher.bench_local(|| {
        let store = Store::open(dir).unwrap();
        black_box(store.recent_by_layer("harbour").unwrap());
        black_box(store.totals().unwrap());
    });
}

/// What a drill is compared with, after ten years.
#[divan::bench(sample_count = 20, sample_size = 1)]
fn earlier_after_ten_years(bencher: Bencher) {
    let store = Store::open(ten_years()).unwrap();
    bencher.bench_local(|| store.earlier("harbour").unwrap());
}

/// Every item over all ten years.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn items_over_ten_years(bencher: Bencher) {
    let store = Store::open(ten_years()).unwrap();
    bencher.bench_local(|| store.items_since("harbour", 0).unwrap());
}
