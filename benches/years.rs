//! Ten years of daily practice, ten million keystrokes: opening, progress,
//! the days of items, the end of a drill, against a history without a day.
//!
//! `cargo bench --bench years`. The history is made by the simulated typist,
//! its sessions over and over on other days, and is kept under `target/tmp`
//! for the next time; making it takes minutes and 1.5 GB.
#![allow(clippy::unwrap_used, reason = "a bench that can't go on may panic")]

use divan::{Bencher, black_box};
use etude::demo::Invention;
use etude::drill::{Flow, Source, offers};
use etude::layout::{Cluster, Layout, RouteTable, file, shipped};
use etude::model::hands::{Findings, Hands};
use etude::practice;
use etude::progress::{Progress, Request};
use etude::session::Keystroke;
use etude::store::{
    DATABASE, Days, DrillEnd, DrillStart, Ended, LayoutRecord, PastSession, SCHEMA, SessionStart,
    Sitting, Store, WallTime,
};
use etude::units::Micros;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

const KEYSTROKES: usize = 10_000_000;
const DAYS: i32 = 3653;
const DAY_MS: i64 = 86_400_000;
/// 2026-11-25T12:00:00Z.
const NOW: WallTime = WallTime { ms_utc: 1_795_608_000_000, utc_offset_min: 60 };
/// So many days go into the database at once.
const AT_ONCE: i32 = 60;

fn main() {
    divan::main();
}

fn layout() -> &'static Layout {
    static LAYOUT: OnceLock<Layout> = OnceLock::new();
    LAYOUT.get_or_init(|| shipped::load("tern-split").unwrap())
}

fn n_keystrokes(session: &PastSession) -> usize {
    session.drills.iter().map(|drill| drill.keystrokes.len()).sum()
}

/// The invented sessions of 120 days.
fn pool() -> Vec<PastSession> {
    let old = shipped::load("plain-ansi").unwrap();
    Invention::new(layout(), Some(&old), NOW).sessions().collect()
}

/// Writes ten years into `dir`: each day as many sessions as it takes.
fn make(dir: &Path) {
    let pool = pool();
    let mut next = pool.iter().cycle();
    let mut store = Store::open(dir).unwrap();
    let today = NOW.day_local(0);
    let (mut made, mut day) = (0, today - DAYS);
    while day < today {
        let mut sessions = Vec::new();
        for _ in 0..AT_ONCE.min(today - day) {
            let due = KEYSTROKES * (day + 1 - (today - DAYS)) as usize / DAYS as usize;
            let mut hour = 6;
            while made < due {
                let mut session = next.next().unwrap().clone();
                made += n_keystrokes(&session);
                session.start.started.ms_utc = i64::from(day) * DAY_MS + hour * 3_600_000;
                hour += 2;
                sessions.push(session);
            }
            day += 1;
        }
        store.take_in(sessions).unwrap();
        eprint!("\rmaking ten years: {made} of {KEYSTROKES} keystrokes");
    }
    eprintln!();
}

/// The history of ten years, made where it isn't there yet.
fn ten_years() -> &'static Path {
    static DIR: OnceLock<PathBuf> = OnceLock::new();
    DIR.get_or_init(|| {
        let dir =
            Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("ten-years-{SCHEMA}-{KEYSTROKES}"));
        if !dir.join("whole").exists() {
            let _ = std::fs::remove_dir_all(&dir);
            make(&dir);
            // As the end of a sitting does.
            let store = Store::open(&dir).unwrap();
            let routes = RouteTable::build(layout());
            practice::findings(&store, layout(), &routes, NOW.day_local(0)).unwrap();
            std::fs::write(dir.join("whole"), "").unwrap();
        }
        dir
    })
}

/// A history with a single session.
fn one_session() -> &'static Path {
    static DIR: OnceLock<TempDir> = OnceLock::new();
    DIR.get_or_init(|| {
        let dir = TempDir::new().unwrap();
        let old = shipped::load("plain-ansi").unwrap();
        let invention = Invention { days: 1, ..Invention::new(layout(), Some(&old), NOW) };
        invention.write(dir.path()).unwrap();
        dir
    })
    .path()
}

const BOTH: [&str; 2] = ["a day", "ten years"];

fn history(which: &str) -> &'static Path {
    if which == "a day" { one_session() } else { ten_years() }
}

/// Opening, and all that the start screen reads and plans.
#[divan::bench(args = BOTH, sample_count = 40, sample_size = 1)]
fn start_screen(bencher: Bencher, which: &str) {
    let dir = history(which);
    let routes = RouteTable::build(layout());
    let offers = offers(layout(), &routes);
    let today = NOW.day_local(0);
    bencher.bench_local(|| {
        let store = Store::open(dir).unwrap();
        black_box(store.before("tern-split", Cluster::Other, None).unwrap());
        black_box(store.recent_by_layer("tern-split").unwrap());
        let plan = practice::planned(Some(&store), layout(), &routes, &offers, None, None, today);
        black_box(plan.unwrap().today(layout(), &routes, 10));
    });
}

/// What is worked out after a sitting, everything fitted anew.
#[divan::bench(args = BOTH, sample_count = 20, sample_size = 1)]
fn what_is_known_fitted_anew(bencher: Bencher, which: &str) {
    let store = Store::open(history(which)).unwrap();
    let (layout, today) = (layout(), NOW.day_local(0));
    practice::findings(&store, layout, &RouteTable::build(layout), today).unwrap();
    let hands = Hands::from_bytes(&store.kept_hands("tern-split").unwrap().unwrap()).unwrap();
    bencher.bench_local(|| Findings::of(black_box(&hands), today, None));
}

/// What a sitting compares a drill with.
#[divan::bench(args = BOTH, sample_count = 40, sample_size = 1)]
fn before_a_drill(bencher: Bencher, which: &str) {
    let store = Store::open(history(which)).unwrap();
    bencher.bench_local(|| store.before("tern-split", Cluster::Symbols, None).unwrap());
}

/// All that the views of progress show, by their ranges; 0 is everything.
#[divan::bench(args = [30, 90, 365, 0], sample_count = 20, sample_size = 1)]
fn progress_after_ten_years(bencher: Bencher, days: i32) {
    let store = Store::open(ten_years()).unwrap();
    let today = NOW.day_local(0);
    let since = (days > 0).then(|| today - days + 1);
    let old = shipped::load("plain-ansi").unwrap();
    let request = Request {
        layout: layout(),
        old_layout: Some(&old),
        since,
        today,
        only: None,
        surveyed: None,
    };
    bencher.bench_local(|| Progress::read(&store, &request).unwrap());
}

/// Counts and medians of every item on every day.
#[divan::bench(args = BOTH, sample_count = 20, sample_size = 1)]
fn days_of_items(bencher: Bencher, which: &str) {
    let store = Store::open(history(which)).unwrap();
    let days = Days::up_to(NOW.day_local(0));
    bencher.bench_local(|| store.item_days("tern-split", days).unwrap());
}

/// The end of a drill: raw rows and all sums, with the sync to disk. On a copy.
#[divan::bench(args = BOTH, sample_count = 40, sample_size = 1)]
fn end_of_a_drill(bencher: Bencher, which: &str) {
    let copy = TempDir::new_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    std::fs::copy(history(which).join(DATABASE), copy.path().join(DATABASE)).unwrap();
    let pool = pool();
    let drill = pool.iter().flat_map(|s| &s.drills).max_by_key(|d| d.keystrokes.len()).unwrap();
    let strokes: &[Keystroke] = &drill.keystrokes;
    let start = SessionStart {
        started: NOW,
        layout: LayoutRecord::new(layout(), &file::write(layout())),
        ..pool[0].start.clone()
    };
    let mut sitting = Sitting::begin(copy.path(), Store::open(copy.path()).ok(), start);
    let start = DrillStart {
        title: "gauges".to_owned(),
        cluster: Cluster::Symbols,
        flow: Flow::Stay,
        source: Source::Shipped,
        started_at: Micros::ZERO,
        n_left_out: 0,
    };
    let end = DrillEnd::new(Ended::Done, Micros::from_secs(60), None);
    bencher.with_inputs(|| ()).bench_local_values(|()| {
        sitting.begin_drill(&start);
        for stroke in strokes {
            sitting.keystroke(stroke);
        }
        sitting.end_drill(&end);
    });
    assert_eq!(sitting.trouble(), None);
}
