//! A history for tests: the real engine driven through days that are stated,
//! by hands that get faster.

use crate::drill::{Drill, Flow, Prompt, Source};
use crate::keyboard::{Modifiers, Output};
use crate::layout::{Cluster, Layout, RouteTable, file, shipped};
use crate::session::{Effect, Event, EventKind, Granted, KeyEvent, Level, Session, Spec, Stroke};
use crate::store::{
    DrillEnd, DrillStart, Ended, LayoutRecord, Places, SessionStart, Sitting, Store, WallTime,
};
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
        Output::Key(key) => Some(Stroke::named(*key, Modifiers::empty())),
        other => other.as_char().map(Stroke::char),
    }
}

/// Lines that hold what is practised, whatever the generators make.
const SYMBOLS: [&str; 6] = [
    "level[3] = { dawn: 4, noon: 9 };",
    "if (tide > 12 && !fog) { log(\"high\"); }",
    "read(gauge) | sort -n > list.txt",
    "mean = (a + b) / 2; rest = a % b;",
    "print('lamp #7 is ' + on[i] + '\\n')",
    "<lamp id=\"west\"> & <horn/> ~ $bay_2",
];
const MARKS: [&str; 4] = [
    "The lamp was lit at dusk; the horn, twice, at dawn.",
    "\"High water?\" - \"Not yet,\" said the keeper.",
    "Three boats came in: the Tern, the Plover, the Rail.",
    "Fog again... is the west gauge right? It's low!",
];
const NUMBERS: [&str; 3] =
    ["04:12 3.7 m, 10:31 0.9 m, 16:40 3.5 m", "125 + 80 = 205", "gauge 6: 198, 202, 197"];

fn drill(title: &str, cluster: Cluster, lines: &[&str]) -> Drill {
    let prompt = |line: &&str| Prompt::Text(line.chars().map(Output::char).collect());
    Drill {
        title: title.to_owned(),
        cluster,
        flow: Flow::Stay,
        source: Source::Shipped,
        prompts: lines.iter().chain(lines).map(prompt).collect(),
        layers: Vec::new(),
        left_out: Vec::new(),
    }
}

fn sitting(dir: &Path, layout: &Layout, (day, learnt): (i32, i32), old: bool, drills: &[Drill]) {
    let routes = Arc::new(RouteTable::build(layout));
    let started = WallTime { ms_utc: i64::from(day) * 86_400_000 + 25_200_000, utc_offset_min: 60 };
    let places = Places::new(dir);
    let level = Level::Enhanced(Granted::all());
    let mut session = Session::new(Spec { routes, level });
    let start = SessionStart {
        started,
        seed: 1,
        layout: LayoutRecord::new(layout, &file::write(layout)),
        terminal_level: level.word().to_owned(),
        program_version: "0.1.0".to_owned(),
        score_version: 1,
    };
    let store = Store::open_at(&places);
    let mut sitting = Sitting::begin_at(places, store, start);
    let mut hands = Hands {
        random: ChaCha8Rng::seed_from_u64(u64::from(day.unsigned_abs())),
        at: Micros::from_ms(700),
        last_layer: 0,
    };
    for drill in drills {
        sitting.begin_drill(&DrillStart::of(drill, hands.at));
        session.start(drill.clone());
        while let Some(due) = session.due() {
            let layer = session.due_route().map_or(0, |route| route.layer.0);
            let latency = hands.latency(layer, learnt, old);
            hands.at = hands.at + Micros::from_ms(latency);
            let slip = hands.random.random_range(0..24_u32) == 0;
            let wrong = Output::char('x');
            let Some(stroke) = stroke(if slip { &wrong } else { &due.output }) else { break };
            let kind = EventKind::Key(KeyEvent::press(stroke));
            for effect in session.apply(&Event { at: hands.at, kind }) {
                match effect {
                    Effect::Keystroke(keystroke) => sitting.keystroke(&keystroke),
                    Effect::DrillDone(result) => {
                        sitting.end_drill(&DrillEnd::new(Ended::Done, result.active, None));
                    }
                    _ => {}
                }
            }
        }
    }
    assert_eq!(sitting.end(Ended::Done, session.active()).trouble, None);
}

/// Practises tern-split on `days` days up to [`TODAY`], not on every one, and
/// the old way on three, where `old` says so.
fn practise(dir: &Path, days: i32, old: bool) {
    let layout = shipped::load("tern-split").unwrap();
    let symbols = drill("readings", Cluster::Symbols, &SYMBOLS);
    let marks = drill("the log", Cluster::Punctuation, &MARKS);
    let numbers = drill("tides", Cluster::Numbers, &NUMBERS);
    for learnt in (0..days).filter(|day| day % 7 != 2 && day % 5 != 1) {
        let second = if learnt % 4 == 0 { &numbers } else { &marks };
        let day = (TODAY - days + 1 + learnt, learnt);
        sitting(dir, &layout, day, false, &[symbols.clone(), second.clone()]);
    }
    if old {
        let before = shipped::load("plain-ansi").unwrap();
        for day in [2, 3, 9] {
            let day = (TODAY - days + day, 0);
            sitting(dir, &before, day, true, &[symbols.clone(), marks.clone()]);
        }
    }
}
