//! A history for tests: the real engine driven through days that are stated,
//! by hands that get faster.

use crate::drill::{What, offers};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Cluster, Layout, RouteTable, shipped};
use crate::practice::{Material, Practice, Setup};
use crate::session::{Event, EventKind, Granted, KeyEvent, Level, Stroke};
use crate::store::{Places, Store, WallTime};
use crate::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::Path;
use std::sync::{Arc, OnceLock};
use tempfile::TempDir;

/// The last day of the history: 2026-11-25.
pub const TODAY: i32 = 20_782;

/// A history of 24 days with the old way, written once for all tests.
///
/// # Panics
/// Where it can't be written.
pub fn history_of_24_days() -> &'static Path {
    static HOME: OnceLock<TempDir> = OnceLock::new();
    let home = HOME.get_or_init(|| {
        let home = TempDir::new().unwrap();
        practise(home.path(), 24, true);
        home
    });
    home.path()
}

struct Hands {
    random: ChaCha8Rng,
    at: Micros,
    last_layer: u8,
}

impl Hands {
    /// How long the next key takes, in ms: less from day to day.
    fn latency(&mut self, layer: u8, days: i32, old: bool) -> u64 {
        let base = [150.0, 210.0, 300.0, 280.0][usize::from(layer.min(3))];
        let learnt = if old { 1.0 } else { (1.0 + f64::from(days)).powf(-0.11) };
        let slow = if old { 235.0 } else { base * learnt + 40.0 };
        let switch = if layer == self.last_layer { 0.0 } else { 60.0 };
        self.last_layer = layer;
        let spread = f64::from(self.random.random_range(600_u32..1600)) / 1000.0;
        ((slow + switch) * spread) as u64
    }
}

fn stroke(output: &Output) -> Option<Stroke> {
    match output {
        Output::Key(key) => Some(Stroke::named(*key, crate::keyboard::Modifiers::empty())),
        other => other.as_char().map(Stroke::char),
    }
}

fn sitting(
    dir: &Path,
    layout: &Arc<Layout>,
    drills_of: Option<&Arc<Layout>>,
    (day, learnt): (i32, i32),
    material: &[What],
) {
    let routes = Arc::new(RouteTable::build(layout));
    let started = WallTime { ms_utc: i64::from(day) * 86_400_000 + 25_200_000, utc_offset_min: 60 };
    let places = Places::new(dir);
    let setup = Setup {
        layout: Arc::clone(layout),
        routes,
        material: Material::Rotation(material.to_vec()),
        drills_of: drills_of.map(|of| (Arc::clone(of), Arc::new(RouteTable::build(of)))),
        seed: u64::from(day.unsigned_abs()),
        budget: Micros::from_secs(3600),
        width: 60,
        level: Level::Enhanced(Granted::all()),
    };
    let store = Store::open_at(&places);
    let mut practice = Practice::begin(setup, places, store, started);
    let mut hands = Hands {
        random: ChaCha8Rng::seed_from_u64(u64::from(day.unsigned_abs())),
        at: Micros::from_ms(700),
        last_layer: 0,
    };
    for _ in material {
        practice.next_drill(hands.at).unwrap();
        while let Some(due) = practice.session().due() {
            let layer = practice.session().due_route().map_or(0, |route| route.layer.0);
            let latency = hands.latency(layer, learnt, drills_of.is_some());
            hands.at = hands.at + Micros::from_ms(latency);
            let slip = hands.random.random_range(0..24_u32) == 0;
            let wrong = Output::char('x');
            let output = if slip && due.output != Output::Key(NamedKey::Backspace) {
                &wrong
            } else {
                &due.output
            };
            let Some(stroke) = stroke(output) else { break };
            practice.apply(&Event { at: hands.at, kind: EventKind::Key(KeyEvent::press(stroke)) });
        }
        practice.leave(hands.at);
    }
    assert_eq!(practice.end(hands.at), None);
}

/// Practises tern-split on `days` days up to [`TODAY`], not on every one, and
/// the old way on three, where `old` says so.
fn practise(dir: &Path, days: i32, old: bool) {
    let layout = Arc::new(shipped::load("tern-split").unwrap());
    let routes = RouteTable::build(&layout);
    assert!(!offers(&layout, &routes).is_empty());
    let (marks, symbols) = (What::Cluster(Cluster::Punctuation), What::Cluster(Cluster::Symbols));
    let numbers = What::Cluster(Cluster::Numbers);
    for learnt in (0..days).filter(|day| day % 7 != 2 && day % 5 != 1) {
        let day = TODAY - days + 1 + learnt;
        let second = if learnt % 4 == 0 { numbers } else { marks };
        sitting(dir, &layout, None, (day, learnt), &[symbols, second]);
    }
    if old {
        let before = Arc::new(shipped::load("plain-ansi").unwrap());
        for day in [2, 3, 9] {
            let day = TODAY - days + day;
            sitting(dir, &before, Some(&layout), (day, 0), &[symbols, marks]);
        }
    }
}
