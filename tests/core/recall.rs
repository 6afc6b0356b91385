//! Practising by recall against practising everything in turn: a simulated
//! person with a memory that fades, at equal time.
//!
//! `ETUDE_RECALL_SEEDS=50 cargo test --test core recall_beats -- --nocapture`
//! prints the table of docs/shortcuts.md.

use etude::drill::{Prompt, Recollect, Remembered, Request, STROKES, What, generate, shortcuts};
use etude::keyboard::Output;
use etude::layout::{Cluster, Layout, RouteTable, file};
use etude::model::recall::{Answer, Deck};
use etude::session::{Effect, Event, EventKind, KeyEvent, Level, SHOW_KEY, Session, Spec, Stroke};
use etude::typist::Memory;
use etude::units::Micros;
use std::fmt::Write;
use std::sync::Arc;

/// Practice a day, seconds: a drill or two.
const SECONDS_A_DAY: u64 = 100;
const DAYS: i32 = 30;

/// A layer of chords under one key: 40 actions.
fn many_shortcuts() -> (Layout, Arc<RouteTable>) {
    let mut text = "name = 'many'\nboard = 'ortho-4x12'\n".to_owned();
    let keys: Vec<char> = ('a'..='z').chain('0'..='9').chain("-=;,".chars()).collect();
    for (n, key) in keys.iter().enumerate() {
        let key = key.to_ascii_uppercase();
        write!(text, "[actions.a{n}]\nchord = 'Ctrl+Alt+{key}'\ntitle = 'action {n}'\n").unwrap();
    }
    let base = vec!["--"; 47].join(" ");
    let mut above: Vec<String> = (0..keys.len()).map(|n| format!("do:a{n}")).collect();
    above.resize(47, "--".to_owned());
    let rows = |all: &str| {
        let all: Vec<&str> = all.split(' ').collect();
        all.chunks(12).map(|row| row.join(" ")).collect::<Vec<_>>().join("\n")
    };
    for (name, keys) in
        [("base", format!("latch:x {base}")), ("x", format!("-- {}", above.join(" ")))]
    {
        write!(
            text,
            "[[layer]]\nname = '{name}'\nsign = '{}'\nkeys = '''\n{}\n'''\n",
            &name[..1],
            rows(&keys)
        )
        .unwrap();
    }
    let layout = file::read(&text, "many.toml").unwrap_or_else(|e| panic!("{e}")).layout;
    let routes = Arc::new(RouteTable::build(&layout));
    (layout, routes)
}

struct Life<'a> {
    layout: &'a Layout,
    routes: &'a Arc<RouteTable>,
    items: Vec<Output>,
    memory: Memory,
    deck: Deck,
    session: Session,
    at: Micros,
}

impl<'a> Life<'a> {
    fn new(layout: &'a Layout, routes: &'a Arc<RouteTable>, seed: u64) -> Self {
        let items = shortcuts(layout, routes).unwrap().into_iter().map(|one| one.due).collect();
        let spec = Spec { routes: Arc::clone(routes), level: Level::default() };
        Self {
            layout,
            routes,
            items,
            memory: Memory::new(seed),
            deck: Deck::default(),
            session: Session::new(spec),
            at: Micros::ZERO,
        }
    }

    fn strike(&mut self, after_ms: u64, output: &Output, day: i32) {
        self.at = self.at + Micros::from_ms(after_ms);
        let stroke = match output {
            Output::Chord(chord) => match chord.key {
                etude::keyboard::ChordKey::Char(c) => {
                    Stroke { modifiers: chord.modifiers, ..Stroke::char(c) }
                }
                etude::keyboard::ChordKey::Named(key) => Stroke::named(key, chord.modifiers),
            },
            other => Stroke::char(other.as_char().unwrap()),
        };
        let event = Event { at: self.at, kind: EventKind::Key(KeyEvent::press(stroke)) };
        for effect in self.session.apply(&event) {
            if let Effect::Keystroke(keystroke) = effect
                && let Some(answer) = Answer::of(&keystroke, day)
            {
                self.deck.take(&answer);
            }
        }
    }

    /// Drills until the day's time is used up.
    fn practise(&mut self, day: i32, seed: u64, ordinal: &mut u32, by_recall: bool) {
        let end = self.at + Micros::from_secs(SECONDS_A_DAY);
        while self.at < end {
            if self.session.drill().is_none() {
                let remembered = by_recall.then(|| Remembered {
                    due: self.deck.due(&self.items, day),
                    fresh: self.deck.fresh(&self.items, day),
                    known: self
                        .items
                        .iter()
                        .filter(|item| self.deck.card(item).is_some())
                        .cloned()
                        .collect(),
                });
                let wish = Recollect { remembered, one_way: true, ..Recollect::default() };
                let drill = generate(&Request {
                    layout: self.layout,
                    routes: self.routes,
                    what: What::Cluster(Cluster::Shortcuts),
                    seed,
                    ordinal: *ordinal,
                    strokes: STROKES,
                    width: 72,
                    weights: None,
                    recollect: Some(&wish),
                });
                self.session.start(drill.unwrap());
                *ordinal += 1;
            }
            let due = self.session.due().unwrap().output;
            let told = matches!(self.session.prompt(), Some((_, Prompt::Strike(s))) if s.told);
            if told {
                self.strike(1500, &due, day);
                self.memory.meet(&due, day, false);
            } else if self.memory.remembers(&due, day) {
                self.strike(1400, &due, day);
                self.memory.meet(&due, day, true);
            } else {
                // Looks for it, asks, finds the key.
                self.strike(2500, &Output::char(SHOW_KEY), day);
                self.strike(2000, &due, day);
                self.memory.meet(&due, day, false);
            }
        }
        // What is left of a drill belongs to the next day's beginning.
        self.session.apply(&Event { at: self.at, kind: EventKind::Leave });
    }

    /// How many of the items are expected to be remembered on `day`.
    fn known(&self, day: i32) -> f64 {
        self.items.iter().map(|item| self.memory.chance(item, day)).sum()
    }
}

/// Known a day, and a fortnight, after the last day of practice.
fn outcome(layout: &Layout, routes: &Arc<RouteTable>, seed: u64, by_recall: bool) -> [f64; 2] {
    let mut life = Life::new(layout, routes, seed);
    let mut ordinal = 0;
    for day in 0..DAYS {
        life.practise(day, seed, &mut ordinal, by_recall);
    }
    [1, 14].map(|later| life.known(DAYS - 1 + later))
}

#[test]
fn practice_by_recall_beats_practice_in_turn() {
    let seeds = std::env::var("ETUDE_RECALL_SEEDS").ok().and_then(|n| n.parse().ok()).unwrap_or(5);
    let (layout, routes) = many_shortcuts();
    let n = shortcuts(&layout, &routes).unwrap().len();
    assert_eq!(n, 40);
    let mut sums = [[0.0; 2]; 2];
    for seed in 0..seeds {
        let [recall, turn] = [true, false].map(|by| outcome(&layout, &routes, seed, by));
        println!(
            "seed {seed}: after a day {:.1} by recall, {:.1} in turn; after a fortnight {:.1}, {:.1}",
            recall[0], turn[0], recall[1], turn[1]
        );
        for (sums, found) in sums.iter_mut().zip([recall, turn]) {
            sums.iter_mut().zip(found).for_each(|(sum, found)| *sum += found);
        }
        assert!(recall[1] > turn[1], "seed {seed}: {recall:?} by recall, {turn:?} in turn");
    }
    let mean = sums.map(|sums| sums.map(|sum| sum / seeds as f64));
    println!("mean of {seeds}, of {n}: {:?} by recall, {:?} in turn", mean[0], mean[1]);
    assert!(mean[0][1] > mean[1][1] * 1.05, "{mean:?}");
}
