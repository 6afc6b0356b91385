//! The typist at work.

use super::hands::{Motor, strokes_of};
use super::marker::Arrival;
use super::skill::share;
use super::slip::{Map, Place};
use super::{Memory, Person, Skill, Text};
use crate::drill::{Drill, Flow, Prompt};
use crate::keyboard::{Marker, Modifiers, NamedKey, Output};
use crate::layout::{LayerId, Layout, Route, RouteTable, Target, effort};
use crate::session::{Effect, Event, EventKind, KeyEvent, KeyState, Session, Stroke};
use crate::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet};
use std::f64::consts::TAU;
use std::sync::Arc;

/// An item by what it gives and the layer that gives it.
type Key = (LayerId, Output);

/// How often a wrong character is noticed at once; otherwise after the next
/// key. Our own estimate.
const NOTICED: f64 = 0.75;

/// A simulated typist: see the module's own words.
#[derive(Debug, Clone)]
pub struct Typist {
    pub(super) person: Person,
    pub(super) routes: Arc<RouteTable>,
    map: Map,
    pub(super) rng: ChaCha8Rng,
    /// What is remembered of shortcuts, and the day that it is.
    pub(super) memory: Memory,
    pub(super) day: i32,
    /// The prompt that is looked at.
    pub(super) prompt: Option<usize>,
    /// True where the answer was asked for.
    pub(super) asked: bool,
    keys: BTreeMap<Key, Skill>,
    slips: BTreeMap<Key, Skill>,
    switches: BTreeMap<(LayerId, LayerId), Skill>,
    /// When the last key was struck.
    now: Micros,
    pub(super) before: Option<(Output, Route)>,
    pub(super) today: BTreeSet<Key>,
    /// Keys still to come that an error slows.
    slowed: u8,
    pub(super) slipped: bool,
    /// Keys that will come up, with the moment.
    down: Vec<(Micros, Stroke)>,
    /// The marker that is down, and how the next key's layer is come to.
    pub(super) held: Option<Marker>,
    pub(super) arrival: Option<Arrival>,
}

impl Typist {
    /// A typist who is `person`, at the keyboard of `layout`, who types letters
    /// daily and has never used a layer. The same seed gives the same typist.
    pub fn new(layout: &Layout, routes: &Arc<RouteTable>, person: Person, seed: u64) -> Self {
        let mut typist = Self {
            map: Map::new(layout, routes),
            person,
            routes: Arc::clone(routes),
            rng: ChaCha8Rng::seed_from_u64(seed),
            memory: Memory::new(seed),
            day: 0,
            prompt: None,
            asked: false,
            keys: BTreeMap::new(),
            slips: BTreeMap::new(),
            switches: BTreeMap::new(),
            now: Micros::ZERO,
            before: None,
            today: BTreeSet::new(),
            slowed: 0,
            slipped: false,
            down: Vec::new(),
            held: None,
            arrival: None,
        };
        typist.learn_layout(layout);
        typist
    }

    fn learn_layout(&mut self, layout: &Layout) {
        let routes = Arc::clone(&self.routes);
        let p = self.person.clone();
        for (output, routes) in routes.outputs() {
            let mut layers = BTreeSet::new();
            for route in routes {
                // The least effort of each layer comes first.
                if !layers.insert(route.layer) {
                    continue;
                }
                let site = layout.board.site(route.position);
                let reach = site.map_or(1.0, |site| f64::from(effort::strike(&layout.board, site)));
                let hard = p.effort_power * reach.ln();
                let spread = self.normal();
                let (low, high) = p.learning_limits;
                let rate = (p.learning + p.learning_spread * self.normal()).clamp(low, high);
                // Shift is no layer, and everybody who types knows it.
                let shift = Target::Modifier(Modifiers::SHIFT);
                let plain = route.layer == LayerId::BASE
                    && route.accesses.iter().all(|step| step.access.target == shift);
                let everyday = plain && output.as_char().is_some();
                let skill = if everyday {
                    let times = p.letters_typed * share(output.as_char().unwrap_or(' '));
                    let log = p.everyday_ms.ln() + hard + 0.5 * p.skill_spread * spread;
                    Skill::standing_at(log, rate, times)
                } else {
                    let base = p.unmet_ms.ln() + hard + p.skill_spread * spread;
                    Skill { base, rate, times: 0.0, everyday: false }
                };
                let key = (route.layer, output.clone());
                let (first, rate) = p.slips;
                let often = (p.skill_spread * self.normal()).exp() * first;
                let slip = Skill { base: often.ln(), rate, ..skill };
                self.slips.insert(key.clone(), slip);
                self.keys.insert(key, skill);
            }
        }
        let layers: Vec<LayerId> = layout.layers().map(|(id, _)| id).collect();
        for &from in &layers {
            for &to in &layers {
                if from == to {
                    continue;
                }
                let (first, rate) = if to == LayerId::BASE { p.leaving } else { p.entering };
                let base = first + p.switch_spread * self.normal();
                let skill = Skill { base, rate, times: 0.0, everyday: false };
                self.switches.insert((from, to), skill);
            }
        }
    }

    /// A draw of the standard normal distribution (Box & Muller 1958).
    pub(super) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.rng.random::<f64>()).ln()).sqrt();
        radius * (TAU * self.rng.random::<f64>()).cos()
    }

    /// The skill of an item, as it truly stands; none for what the layout
    /// can't give on that layer. [`Skill::log`] is the log of the median in
    /// ms after another hand's key of the same layer.
    pub fn skill(&self, layer: LayerId, output: &Output) -> Option<&Skill> {
        self.keys.get(&(layer, output.clone()))
    }

    /// The skill of a switch: [`Skill::log`] is the log of the ratio by which
    /// a key that comes right after it takes longer.
    pub fn switch(&self, from: LayerId, to: LayerId) -> Option<&Skill> {
        self.switches.get(&(from, to))
    }

    /// How often the item goes wrong, 0 to 1.
    pub fn error_rate(&self, layer: LayerId, output: &Output) -> Option<f64> {
        self.slips.get(&(layer, output.clone())).map(|slip| slip.log().exp())
    }

    /// The moment of the last event.
    pub const fn now(&self) -> Micros {
        self.now
    }

    /// Sets the clock for a new session, which begins at zero.
    pub fn sit_down(&mut self) {
        self.now = Micros::ZERO;
        self.down.clear();
        self.before = None;
        (self.held, self.arrival) = (None, None);
    }

    /// `days` go by: what is not of daily use fades, and the first time of
    /// each key is slower again.
    pub fn sleep(&mut self, days: u32) {
        let kept = (1.0 - self.person.forgetting).powf(f64::from(days));
        let skills = self.keys.values_mut().chain(self.slips.values_mut());
        for skill in skills.chain(self.switches.values_mut()) {
            if !skill.everyday {
                skill.times *= kept;
            }
        }
        self.today.clear();
        self.day = self.day.saturating_add_unsigned(days);
    }

    /// The log of the median of `output` after `before`, ms.
    pub(super) fn log_ms(
        &self,
        before: Option<(&Output, &Route)>,
        output: &Output,
        route: &Route,
    ) -> f64 {
        let p = &self.person;
        let key = (route.layer, output.clone());
        let mut log = self.keys.get(&key).map_or(p.unmet_ms.ln(), Skill::log);
        let Some((_, previous)) = before else { return log };
        log += match Motor::between(previous, route) {
            Motor::Alternate => 0.0,
            Motor::SameHand => p.motor.0,
            Motor::Repeat => p.motor.1,
            Motor::SameFinger => p.motor.2,
        };
        if let Some(switch) = self.switches.get(&(previous.layer, route.layer)) {
            log += switch.log();
        }
        let shifted = |route: &Route| route.modifiers.contains(Modifiers::SHIFT);
        log += match (shifted(previous), shifted(route)) {
            (false, true) => p.shift.0,
            (true, false) => p.shift.1,
            _ => 0.0,
        };
        log
    }

    /// How long the typist takes for `text` as things stand, seconds, errors
    /// and their repair included, by expectation. An error costs the wrong
    /// key, a Backspace (where there is one), the right key, and the slowing
    /// of two keys.
    pub fn text_seconds(&self, text: &Text) -> f64 {
        let p = &self.person;
        let mean = (p.noise * p.noise / 2.0).exp();
        let backspace = Output::Key(NamedKey::Backspace);
        let back_ms = self
            .routes
            .preferred(&backspace)
            .map_or(0.0, |route| self.log_ms(None, &backspace, route).exp());
        let slow = p.after_error.exp();
        let ms: f64 = text
            .pairs
            .iter()
            .map(|pair| {
                let before = pair.before.as_ref().map(|(output, route)| (output, route));
                let one = self.log_ms(before, &pair.output, &pair.route).exp();
                let again = self.log_ms(None, &pair.output, &pair.route).exp();
                let rate = self.error_rate(pair.route.layer, &pair.output).unwrap_or(0.0);
                let error = back_ms * slow + again * slow + p.everyday_ms * (slow - 1.0);
                pair.times * (one + rate * (one + error))
            })
            .sum();
        ms * mean / 1000.0
    }

    /// What the typist does next at `session`: the events up to and with the
    /// next press; none where no drill is in work.
    pub fn next(&mut self, session: &Session) -> Vec<Event> {
        match session.prompt() {
            Some((_, Prompt::Edit(_))) => return self.next_of_task(session),
            Some((_, Prompt::Strike(_))) => return self.next_of_shortcuts(session),
            _ => {}
        }
        let Some((_, line)) = session.line() else { return Vec::new() };
        let Some(due) = session.due() else { return Vec::new() };
        let Some(drill) = session.drill() else { return Vec::new() };
        let wrong = line.wrong_tail();
        let backspace = Output::Key(NamedKey::Backspace);
        let takes_back = drill.flow == Flow::Repair
            && wrong > 0
            && (line.wants_backspace() || self.rng.random::<f64>() < NOTICED);
        let (output, route) = if takes_back {
            let route = self.routes.preferred(&backspace).cloned();
            (backspace, route)
        } else {
            (due.output, session.due_route().cloned())
        };
        let first = line.untouched();
        let next = line.items().get(line.place() + 1).cloned();
        let Some(route) = route else {
            // Nothing leads there: the hand strikes it somehow.
            let ms = self.person.unmet_ms;
            return self.strike(&output, ms);
        };
        let key = (route.layer, output.clone());

        let before = self.before.take();
        let pair = before.as_ref().map(|(output, route)| (output, route));
        let mut log = self.log_ms(pair, &output, &route);
        if self.slowed > 0 {
            log += self.person.after_error;
            self.slowed -= 1;
        }
        if self.today.insert(key.clone()) {
            log += self.person.first_of_day;
        }
        let mut ms = (log + self.person.noise * self.normal()).exp();
        let hand_ms = ms;
        if first {
            ms += self.person.reading_ms * (0.3 * self.normal()).exp();
        } else if self.rng.random::<f64>() < self.person.pauses {
            ms += 2000.0 * (1.0 + 2.0 * self.rng.random::<f64>());
        }

        let slips = !takes_back
            && !self.slipped
            && wrong == 0
            && self.rng.random::<f64>() < self.error_rate(key.0, &key.1).unwrap_or(0.0);
        let layer_before = before.as_ref().map_or(LayerId::BASE, |(_, route)| route.layer);
        if slips {
            let place = Place {
                due: &output,
                route: &route,
                layer_before,
                before: before.as_ref().map(|(output, _)| output),
                next: next.as_ref(),
            };
            if let Some(instead) = self.map.slip(&place, &mut self.rng) {
                self.before = before;
                self.slipped = true;
                self.slowed = 2;
                return self.strike(&instead, ms);
            }
        }
        self.slipped = false;
        if takes_back {
            self.slowed = 2;
        }
        self.arrive(&route, layer_before, hand_ms);
        self.practise(&key, layer_before);
        self.before = Some((output.clone(), route));
        self.strike(&output, ms)
    }

    /// One more time of an item, and of the switch that led to it.
    pub(super) fn practise(&mut self, key: &Key, from: LayerId) {
        for skills in [&mut self.keys, &mut self.slips] {
            if let Some(skill) = skills.get_mut(key) {
                skill.times += 1.0;
            }
        }
        if let Some(switch) = self.switches.get_mut(&(from, key.0)) {
            switch.times += 1.0;
        }
    }

    pub(super) fn strike(&mut self, output: &Output, ms: f64) -> Vec<Event> {
        let at = self.now + Micros((ms.clamp(15.0, 60_000.0) * 1000.0).round() as u64);
        let mut events = Vec::new();
        self.down.sort_by_key(|(up, _)| *up);
        while self.down.first().is_some_and(|(up, _)| *up <= at) {
            let (up, stroke) = self.down.remove(0);
            events.push(key_event(up, stroke, KeyState::Release));
        }
        events.extend(self.marker_events(at));
        events.sort_by_key(|event| event.at);
        self.now = at;
        for stroke in strokes_of(output) {
            if self.person.releases {
                let down = self.person.down_ms * (0.25 * self.normal()).exp();
                self.down.push((at + Micros((down * 1000.0) as u64), stroke.clone()));
            }
            events.push(key_event(at, stroke, KeyState::Press));
        }
        events
    }

    /// Plays `drill` from its start to its end, or until `until` by the clock
    /// of the session; returns what the session told.
    pub fn play(&mut self, session: &mut Session, drill: Drill, until: Micros) -> Vec<Effect> {
        session.start(drill);
        self.begin_drill();
        let mut effects = Vec::new();
        while session.drill().is_some() && self.now < until {
            let events = self.next(session);
            if events.is_empty() {
                break;
            }
            for event in &events {
                effects.extend(session.apply(event));
            }
        }
        effects
    }

    /// Hands off the keys, eyes on a new drill: call it when a drill begins.
    pub fn begin_drill(&mut self) {
        self.before = None;
        self.prompt = None;
        self.down.clear();
        self.slowed = 0;
        self.slipped = false;
        self.now = self.now + Micros::from_secs(3);
    }
}

pub(super) fn key_event(at: Micros, stroke: Stroke, state: KeyState) -> Event {
    Event { at, kind: EventKind::Key(KeyEvent { stroke, state, batched: false }) }
}
