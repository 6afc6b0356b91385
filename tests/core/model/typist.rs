//! A simulated typist with a known truth, who practises through the real
//! engine.

use etude::drill::{Drill, Request, STROKES, What, generate};
use etude::keyboard::{Finger, Modifiers, Output, Position};
use etude::layout::{Cluster, LayerId, Layout, RouteTable};
use etude::model::Item;
use etude::model::switch::Motor;
use etude::session::{
    Due, Effect, Event, EventKind, KeyEvent, Keystroke, Level, Session, Spec, Stroke,
};
use etude::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Random numbers from a seed.
pub struct Dice(ChaCha8Rng);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// 0 to 1, neither of them.
    pub fn share(&mut self) -> f64 {
        (f64::from(self.0.random_range(0..u32::MAX)) + 0.5) / f64::from(u32::MAX)
    }

    pub fn below(&mut self, n: u32) -> u32 {
        self.0.random_range(0..n)
    }

    /// Standard normal, by Box and Muller.
    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.share(), self.share());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }

    /// Normal in the middle, one in ten three times as wide: tails as heavy as
    /// those of real latencies.
    pub fn heavy(&mut self) -> f64 {
        let wide = self.share() < 0.1;
        self.normal() * if wide { 3.0 } else { 1.0 }
    }
}

/// The truth, in natural logarithms of ms.
pub struct Truth {
    pub layers: BTreeMap<LayerId, f64>,
    pub switches: BTreeMap<(LayerId, LayerId), f64>,
    pub items: BTreeMap<Item, f64>,
    pub motor: [f64; 4],
    pub sd: f64,
    pub errors: f64,
}

/// What was true of the arrivals that counted: sums of ms with the switch and
/// without, and how many.
pub type Arrivals = BTreeMap<(LayerId, LayerId), (f64, f64, u64)>;

pub struct Typist<'a> {
    layout: &'a Layout,
    routes: &'a RouteTable,
    pub truth: Truth,
    dice: Dice,
    pub arrivals: Arrivals,
}

fn stroke(output: &Output) -> Stroke {
    match output {
        Output::Key(key) => Stroke::named(*key, Modifiers::empty()),
        other => Stroke::char(other.as_char().unwrap_or_else(|| panic!("{other} in a drill"))),
    }
}

impl<'a> Typist<'a> {
    /// Asymmetric switches, other hands slower than those of the model's prior.
    pub fn new(layout: &'a Layout, routes: &'a RouteTable, seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let mut layers = BTreeMap::new();
        let mut switches = BTreeMap::new();
        for (id, _) in layout.layers() {
            let slower = if id == LayerId::BASE { 0.0 } else { 0.25 + 0.1 * dice.normal() };
            layers.insert(id, 5.1 + slower);
            for (other, _) in layout.layers() {
                let toward_base = id == LayerId::BASE;
                let cost = if toward_base { 0.37 } else { 0.58 } + 0.12 * dice.normal();
                switches.insert((other, id), cost);
            }
        }
        let truth = Truth {
            layers,
            switches,
            items: BTreeMap::new(),
            motor: [0.0, 0.15, 0.45, 0.28],
            sd: 0.22,
            errors: 0.03,
        };
        Self { layout, routes, truth, dice, arrivals: Arrivals::new() }
    }

    pub fn drill(&self, cluster: Cluster, seed: u64, ordinal: u32) -> Drill {
        let what = What::Cluster(cluster);
        let (layout, routes) = (self.layout, self.routes);
        let request = Request {
            layout,
            routes,
            what,
            seed,
            ordinal,
            strokes: STROKES,
            width: 72,
            weights: None,
            recollect: None,
        };
        generate(&request).unwrap()
    }

    /// ln ms of a due key after another, without noise, and how much of it is
    /// the switch.
    fn expected(
        &mut self,
        before: Option<&(LayerId, Position, Finger)>,
        due: &Due,
    ) -> (f64, f64, Option<(LayerId, Position, Finger)>) {
        let item = Item { layer: due.layer, position: due.position, output: due.output.clone() };
        let dice = &mut self.dice;
        let effect = *self.truth.items.entry(item).or_insert_with(|| 0.2 * dice.normal());
        let mut ln = self.truth.layers[&due.layer] + effect;
        let place = due.position.zip(due.finger).map(|(p, f)| (due.layer, p, f));
        let mut switch = 0.0;
        if let (Some(before), Some(place)) = (before, place) {
            let motor = Motor::between(*before, place);
            ln += self.truth.motor[Motor::ALL.iter().position(|m| *m == motor).unwrap()];
            if before.0 != place.0 {
                switch = self.truth.switches[&(before.0, place.0)];
            }
        }
        (ln + switch, switch, place)
    }

    /// Practises `drill`; its keystrokes.
    pub fn practise(&mut self, drill: Drill) -> Vec<Keystroke> {
        let spec = Spec { routes: Arc::new(self.routes.clone()), level: Level::default() };
        let mut session = Session::new(spec);
        session.start(drill);
        let (mut at, mut before, mut keystrokes) = (0.0, None, Vec::new());
        while let Some(due) = session.due() {
            let (ln, switch, place) = self.expected(before.as_ref(), &due);
            at += (ln + self.truth.sd * self.dice.heavy()).exp() * 1e3;
            let misses = self.dice.share() < self.truth.errors;
            let struck = if misses { Output::char('\u{e6}') } else { due.output.clone() };
            // Where wrong keys stand they are taken back at once.
            let kind = |output: &Output| EventKind::Key(KeyEvent::press(stroke(output)));
            let effects = session.apply(&Event { at: Micros(at as u64), kind: kind(&struck) });
            let mut came = false;
            for effect in effects {
                if let Effect::Keystroke(keystroke) = effect {
                    came = true;
                    let pair = (keystroke.previous_layer, keystroke.layer);
                    if keystroke.timed().is_some() && pair.0 != pair.1 {
                        let sums = self.arrivals.entry(pair).or_default();
                        sums.0 += ln.exp();
                        sums.1 += (ln - switch).exp();
                        sums.2 += 1;
                    }
                    keystrokes.push(*keystroke);
                }
            }
            assert!(came, "{} was struck for nothing", due.output);
            if misses && session.line().is_some_and(|(_, line)| line.wrong_tail() > 0) {
                at += 300_000.0;
                let backspace = Output::Key(etude::keyboard::NamedKey::Backspace);
                let event = Event { at: Micros(at as u64), kind: kind(&backspace) };
                for effect in session.apply(&event) {
                    if let Effect::Keystroke(keystroke) = effect {
                        keystrokes.push(*keystroke);
                    }
                }
            }
            before = place;
        }
        keystrokes
    }
}
