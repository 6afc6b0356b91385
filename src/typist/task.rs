//! The typist at editing tasks and at shortcuts.

use super::Typist;
use crate::keyboard::{NamedKey, Output};
use crate::layout::LayerId;
use crate::session::{Event, SHOW_KEY, Session};
use rand::RngExt;

/// How long a task is looked at before its first key, median, ms. Our own
/// estimate: two of the operator M of the keystroke-level model (1350 ms).
const LOOKING_MS: f64 = 2700.0;
/// What each further key of a task, and each further chord of a sequence, takes
/// to decide on, median, ms: it was thought of with the first (the operator M
/// is left out within a unit of thought, Card, Moran & Newell 1983). Our own
/// estimate.
const DECIDING_MS: f64 = 260.0;
/// How long the purpose of a shortcut is read and its chord looked for in
/// memory: M, 1350 ms (Card, Moran & Newell 1983).
const RECALLING_MS: f64 = 1350.0;
/// How long the person goes on before asking for the answer. Our own estimate.
const GIVING_UP_MS: f64 = 2600.0;
/// How often a key moves past what was meant, 0 to 1. Our own estimate.
const PAST: f64 = 0.02;

impl Typist {
    /// The next key of an editing task: one of a shortest way, as the session
    /// has it; now and then an arrow too many.
    pub(super) fn next_of_task(&mut self, session: &Session) -> Vec<Event> {
        let Some(due) = session.due() else { return Vec::new() };
        let first = self.turn_to(session);
        let thinking = if first { LOOKING_MS } else { DECIDING_MS };
        let past = !first && !self.slipped && self.rng.random::<f64>() < PAST;
        let arrows = [NamedKey::ArrowLeft, NamedKey::ArrowRight].map(Output::Key);
        let wrong = arrows.into_iter().find(|arrow| *arrow != due.output).filter(|_| past);
        self.slipped = wrong.is_some();
        let output = wrong.unwrap_or(due.output);
        let ms = self.spread(thinking, 0.35) + self.key_ms(session, &output);
        self.strike(&output, ms)
    }

    /// The next chord of a drill of shortcuts: remembered, or asked for.
    pub(super) fn next_of_shortcuts(&mut self, session: &Session) -> Vec<Event> {
        let Some(due) = session.due() else { return Vec::new() };
        let first = self.turn_to(session);
        self.asked &= !first;
        let (item, day) = (due.output, self.day);
        let known = session.answer_known();
        if !known && !self.memory.remembers(&item, day) {
            self.asked = true;
            let ms = self.spread(GIVING_UP_MS, 0.3);
            return self.strike(&Output::char(SHOW_KEY), ms);
        }
        self.memory.meet(&item, day, !known);
        let thinking = match (self.asked, first) {
            (true, _) => self.person.reading_ms,
            (false, true) => RECALLING_MS,
            (false, false) => DECIDING_MS,
        };
        // What is remembered well comes to mind sooner.
        let ease = if known { 1.0 } else { 1.5 - self.memory.chance(&item, day + 1) };
        let ms = self.spread(thinking * ease, 0.3) + self.key_ms(session, &item);
        self.asked = false;
        self.strike(&item, ms)
    }

    /// Turns to the prompt in work; true where it is a new one.
    fn turn_to(&mut self, session: &Session) -> bool {
        let now = session.prompt().map(|(number, _)| number);
        let first = now != self.prompt;
        self.prompt = now;
        first
    }

    /// How long the hand takes for `output` once it is decided on, ms; it has
    /// practised it then.
    fn key_ms(&mut self, session: &Session, output: &Output) -> f64 {
        let due =
            session.due_route().filter(|_| session.due().is_some_and(|d| d.output == *output));
        let Some(route) = due.or_else(|| self.routes.to(output)).cloned() else {
            return self.person.unmet_ms;
        };
        let before = self.before.take();
        let pair = before.as_ref().map(|(output, route)| (output, route));
        let mut log = self.log_ms(pair, output, &route);
        let key = (route.layer, output.clone());
        if self.today.insert(key.clone()) {
            log += self.person.first_of_day;
        }
        let layer_before = before.as_ref().map_or(LayerId::BASE, |(_, route)| route.layer);
        let ms = (log + self.person.noise * self.normal()).exp();
        self.arrive(&route, layer_before, ms);
        self.practise(&key, layer_before);
        self.before = Some((output.clone(), route));
        ms
    }

    /// A draw about the median `ms`, log-normal with that spread.
    fn spread(&mut self, ms: f64, spread: f64) -> f64 {
        ms * (spread * self.normal()).exp()
    }
}
