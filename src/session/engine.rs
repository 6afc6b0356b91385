//! The engine: `apply` an event, get effects.

use super::line::Change;
use super::marks::{DueMarker, Marks, Press};
use super::work::{Striking, Work};
use super::{
    Counts, DrillResult, Due, Edited, Editing, Effect, Event, EventKind, Flags, Granted, KeyEvent,
    KeyState, Keystroke, Level, Line, Stroke, StrokeKey, Tally, Verdict,
};
use crate::drill::{Drill, Flow, Prompt, Way};
use crate::keyboard::{Chord, ChordKey, Marker, Modifiers, NamedKey, Output};
use crate::layout::{LayerId, Route, RouteTable};
use crate::units::Micros;
use std::sync::Arc;

/// Esc struck this often within [`LEAVE_WITHIN`] leaves.
pub const LEAVE_PRESSES: usize = 3;
/// See [`LEAVE_PRESSES`].
pub const LEAVE_WITHIN: Micros = Micros::from_secs(1);

/// The pause bound before enough is known of the person.
pub const FIRST_PAUSE_BOUND: Micros = Micros::from_secs(2);
/// A latency of more than this many medians is a pause …
pub const PAUSE_MEDIANS: u64 = 8;
/// … but never below the lower and never above the upper of these.
pub const PAUSE_LIMITS: (Micros, Micros) = (Micros::from_secs(1), Micros::from_secs(5));
/// Latencies that the running median looks back on, and the least it needs.
const RECENT: (usize, usize) = (64, 20);
/// Presses after an error whose latency does not count.
const AFTER_ERROR: u8 = 2;

/// An answer that has to be remembered is shown when so long has passed
/// without it (common practice, no source) …
pub const SHOW_AFTER: Micros = Micros::from_secs(8);
/// … or after so many wrong answers …
pub const SHOW_AFTER_MISSES: u8 = 3;
/// … or when this is struck, which no strike prompt ever asks for.
pub const SHOW_KEY: char = '?';

/// What a session needs to know.
#[derive(Debug, Clone)]
pub struct Spec {
    /// The ways to each output.
    pub routes: Arc<RouteTable>,
    /// What the terminal can tell apart.
    pub level: Level,
}

#[derive(Debug)]
struct Run {
    drill: Drill,
    prompt: usize,
    work: Work,
    /// The route of each item of the line, in the company that it keeps.
    routes: Vec<Option<Route>>,
    seq: u32,
    /// What has arrived of a due text of several characters, and when it began.
    part: Option<(Micros, String)>,
    layer_before: LayerId,
    after_error: u8,
    counts: Counts,
    tally: Tally,
    active: Micros,
    edits: Vec<Edited>,
}

/// One sitting: drills one after another, one clock.
#[derive(Debug)]
pub struct Session {
    spec: Spec,
    now: Micros,
    run: Option<Run>,
    active: Micros,
    last_press: Option<Micros>,
    recent: Vec<Micros>,
    recent_next: usize,
    down: Vec<(StrokeKey, u32, Micros)>,
    marks: Marks,
    escapes: Vec<(Micros, KeyEvent)>,
}

impl Session {
    /// A session at time zero without a drill.
    pub fn new(spec: Spec) -> Self {
        Self {
            spec,
            now: Micros::ZERO,
            run: None,
            active: Micros::ZERO,
            last_press: None,
            recent: Vec::new(),
            recent_next: 0,
            down: Vec::new(),
            marks: Marks::default(),
            escapes: Vec::new(),
        }
    }

    /// Begins `drill`; a drill in work is dropped (end it with
    /// [`EventKind::Leave`] to keep its result).
    pub fn start(&mut self, drill: Drill) {
        self.escapes.clear();
        self.down.clear();
        self.marks.forget();
        self.last_press = None;
        let now = self.now;
        let first = drill.prompts.first();
        let first = first.map(|first| {
            (Work::new(first, drill.flow, now), along(&self.spec.routes, first, &drill.layers))
        });
        self.run = first.map(|(work, routes)| Run {
            prompt: 0,
            work,
            routes,
            seq: 0,
            part: None,
            layer_before: LayerId::BASE,
            after_error: 0,
            counts: Counts::default(),
            tally: Tally::default(),
            active: Micros::ZERO,
            edits: Vec::new(),
            drill,
        });
    }

    /// Takes note of what the terminal can tell apart, when it becomes known.
    pub fn set_level(&mut self, level: Level) {
        self.spec.level = level;
    }

    /// The drill in work.
    pub fn drill(&self) -> Option<&Drill> {
        self.run.as_ref().map(|run| &run.drill)
    }

    /// Takes note of the ways to each output, where more have become known.
    pub fn set_routes(&mut self, routes: Arc<RouteTable>) {
        self.spec.routes = routes;
    }

    /// The prompt in work, and its number in the drill.
    pub fn prompt(&self) -> Option<(usize, &Prompt)> {
        let run = self.run.as_ref()?;
        Some((run.prompt, run.drill.prompts.get(run.prompt)?))
    }

    /// The line of the prompt in work, and the prompt's number in the drill;
    /// none for a prompt without one. Actions to strike are a line of chords.
    pub fn line(&self) -> Option<(usize, &Line)> {
        let run = self.run.as_ref()?;
        Some((run.prompt, run.work.line()?))
    }

    /// False while what is due has to be remembered and has not been shown.
    pub fn answer_known(&self) -> bool {
        let Some(run) = &self.run else { return true };
        let editing = run.work.editing().is_none_or(Editing::shown);
        editing && run.work.striking().is_none_or(|striking| striking.told || striking.shown)
    }

    /// The tally of the drill in work.
    pub fn tally(&self) -> Option<&Tally> {
        self.run.as_ref().map(|run| &run.tally)
    }

    /// The counts of the drill in work, the line in work included.
    pub fn counts(&self) -> Counts {
        self.run.as_ref().map_or_else(Counts::default, |run| run.counts.plus(run.work.counts()))
    }

    /// Active time of the whole session: intervals between presses, without
    /// pauses and interruptions. The time of an action to strike counts up to
    /// [`SHOW_AFTER`], the first of its prompt too.
    pub fn active(&self) -> Micros {
        self.active
    }

    /// How many times Esc stands towards leaving, 0 to 2.
    pub fn leaving(&self) -> usize {
        self.escapes.len()
    }

    /// When a [`EventKind::Tick`] is needed, if at all: when Esc presses that
    /// stand towards leaving have run out, or an answer is to be shown.
    pub fn wake_at(&self) -> Option<Micros> {
        let escapes = self.escapes.first().map(|(at, _)| *at + LEAVE_WITHIN + Micros(1));
        let striking = self.run.as_ref().and_then(|run| run.work.striking());
        let editing = self.run.as_ref().and_then(|run| run.work.editing());
        let show = striking.and_then(Striking::shows_at);
        let show = show.or_else(|| editing.and_then(Editing::shows_at));
        escapes.into_iter().chain(show).min()
    }

    /// What is due now.
    pub fn due(&self) -> Option<Due> {
        let work = &self.run.as_ref()?.work;
        let output = match work.editing() {
            Some(editing) => editing.next()?.clone(),
            None => work.line()?.due()?,
        };
        Some(Due::new(output, self.due_route()))
    }

    /// The route to what is due now. Within a run it keeps to the layer that is
    /// held already.
    pub fn due_route(&self) -> Option<&Route> {
        let run = self.run.as_ref()?;
        if let Some(editing) = run.work.editing() {
            return self.spec.routes.to(editing.next()?);
        }
        let line = run.work.line()?;
        if line.wants_backspace() {
            return self.spec.routes.preferred(&Output::Key(NamedKey::Backspace));
        }
        run.routes.get(line.place())?.as_ref()
    }

    /// The route of each item of the prompt in work.
    pub fn line_routes(&self) -> &[Option<Route>] {
        self.run.as_ref().map_or(&[], |run| &run.routes)
    }

    /// The bound above which a latency is a pause.
    pub fn pause_bound(&self) -> Micros {
        if self.recent.len() < RECENT.1 {
            return FIRST_PAUSE_BOUND;
        }
        let mut sorted = self.recent.clone();
        let middle = sorted.len() / 2;
        let (_, median, _) = sorted.select_nth_unstable(middle);
        Micros(median.0 * PAUSE_MEDIANS).clamp(PAUSE_LIMITS.0, PAUSE_LIMITS.1)
    }

    /// Takes in one event. An event earlier than the one before it is taken
    /// as happening at the same time, and its interval does not count.
    pub fn apply(&mut self, event: &Event) -> Vec<Effect> {
        let mut effects = Vec::new();
        let disordered = event.at < self.now;
        self.now = self.now.max(event.at);
        let now = self.now;
        self.expire_escapes(now, &mut effects);
        self.show_when_due(now, &mut effects);
        match &event.kind {
            EventKind::Key(key) => {
                let mut key = key.clone();
                key.batched |= disordered;
                if let Some(marker) = self.marker_of(&key.stroke) {
                    match key.state {
                        KeyState::Press => self.marks.press(marker, now, key.batched),
                        KeyState::Release => self.marks.release(marker, key.batched),
                        KeyState::Repeat => self.marks.repeat(marker, key.batched),
                    }
                    return effects;
                }
                // The time since the press before is known where that of the
                // marker is.
                if self.marks.other(key.batched) && !disordered {
                    key.batched = false;
                }
                match key.state {
                    KeyState::Press => self.press(now, key, &mut effects),
                    KeyState::Release => self.release(now, &key, &mut effects),
                    KeyState::Repeat => {}
                }
            }
            EventKind::FocusLost
            | EventKind::FocusGained
            | EventKind::Interrupted
            | EventKind::Paste(_) => {
                self.last_press = None;
                self.down.clear();
                self.marks.forget();
                // Who looks elsewhere is not looking for the answer.
                let since = (event.kind != EventKind::FocusLost).then_some(now);
                if let Some(striking) = self.striking() {
                    striking.since = since;
                } else if let Some(editing) = self.editing_mut() {
                    editing.look_from(since);
                }
            }
            EventKind::Tick => {}
            EventKind::Leave => {
                self.settle_escapes(&mut effects);
                self.leave(&mut effects);
            }
        }
        effects
    }

    /// The marker of some layer of the layout, where `stroke` is one.
    fn marker_of(&self, stroke: &Stroke) -> Option<Marker> {
        let routes = &self.spec.routes;
        if let Some(marker) = stroke.marker() {
            return routes.sends(marker).then_some(marker);
        }
        if matches!(self.spec.level, Level::Enhanced(_)) {
            return None;
        }
        let marker = stroke.plain_marker().filter(|marker| routes.sends(*marker))?;
        let due = self.due().is_some_and(|due| due.output == stroke.output());
        (!due).then_some(marker)
    }

    fn press(&mut self, at: Micros, key: KeyEvent, effects: &mut Vec<Effect>) {
        if key.stroke.is_silent() {
            return;
        }
        let escape = key.stroke.plain_key() == Some(NamedKey::Escape);
        let due_escape = self.escapes.is_empty()
            && self.due().is_some_and(|d| d.output == Output::Key(NamedKey::Escape));
        if escape && !due_escape {
            self.escapes.push((at, key));
            if self.escapes.len() >= LEAVE_PRESSES {
                self.escapes.clear();
                self.leave(effects);
            } else {
                effects.push(Effect::Leaving(self.escapes.len()));
            }
            return;
        }
        self.settle_escapes(effects);
        if self.takes_back_nothing(&key.stroke) || self.asks(&key.stroke, effects) {
            return;
        }
        self.judge(at, &key, effects);
    }

    /// Where the caret waits, nothing wrong stands: Backspace right after a miss
    /// is a habit, not an answer.
    fn takes_back_nothing(&self, stroke: &Stroke) -> bool {
        let backspace = Output::Key(NamedKey::Backspace);
        self.run.as_ref().is_some_and(|run| {
            run.work.line().is_some_and(|line| {
                line.flow() == Flow::Stay
                    && run.after_error == AFTER_ERROR
                    && line.due() != Some(backspace)
                    && stroke.plain_key() == Some(NamedKey::Backspace)
            })
        })
    }

    fn striking(&mut self) -> Option<&mut Striking> {
        self.run.as_mut()?.work.striking_mut()
    }

    fn editing_mut(&mut self) -> Option<&mut Editing> {
        self.run.as_mut()?.work.editing_mut()
    }

    /// The text being edited, if the prompt in work is one.
    pub fn editing(&self) -> Option<&Editing> {
        self.run.as_ref()?.work.editing()
    }

    /// True where `stroke` asks for the answer instead of giving one: then it
    /// is shown.
    fn asks(&mut self, stroke: &Stroke, effects: &mut Vec<Effect>) -> bool {
        if stroke.output() != Output::char(SHOW_KEY) {
            return false;
        }
        if let Some(striking) = self.striking() {
            striking.show(effects);
        } else if let Some(editing) = self.editing_mut() {
            editing.show(effects);
        } else {
            return false;
        }
        true
    }

    fn show_when_due(&mut self, now: Micros, effects: &mut Vec<Effect>) {
        if let Some(striking) = self.striking()
            && striking.shows_at().is_some_and(|at| at <= now)
        {
            striking.show(effects);
        }
        if let Some(editing) = self.editing_mut()
            && editing.shows_at().is_some_and(|at| at <= now)
        {
            editing.show(effects);
        }
    }

    /// Esc presses that did not lead to leaving were wrong keys after all.
    fn settle_escapes(&mut self, effects: &mut Vec<Effect>) {
        for (at, key) in std::mem::take(&mut self.escapes) {
            self.judge(at, &key, effects);
        }
    }

    fn expire_escapes(&mut self, now: Micros, effects: &mut Vec<Effect>) {
        while self.escapes.first().is_some_and(|(at, _)| now.since(*at) > LEAVE_WITHIN) {
            let (at, key) = self.escapes.remove(0);
            self.judge(at, &key, effects);
        }
    }

    fn leave(&mut self, effects: &mut Vec<Effect>) {
        let result = self.run.take().map(|run| Box::new(run.result(false)));
        effects.push(Effect::Left(result));
    }

    fn release(&mut self, at: Micros, key: &KeyEvent, effects: &mut Vec<Effect>) {
        if let Some(index) = self.down.iter().position(|(k, _, _)| *k == key.stroke.key) {
            let (_, seq, since) = self.down.remove(index);
            effects.push(Effect::Down { seq, down: at.since(since) });
        }
    }

    fn judge(&mut self, at: Micros, key: &KeyEvent, effects: &mut Vec<Effect>) {
        if self.editing().is_some() {
            return self.judge_edit(at, key, effects);
        }
        let Some(due) = self.due() else { return };
        let due_marker = DueMarker::of(&self.spec.routes, self.due_route());
        let bound = self.pause_bound();
        let Some((at, got)) = self.gather(at, key.stroke.output(), &due.output) else { return };
        let exact = got == due.output;
        let hit = exact || same_key(&due.output, &got) || self.spec.level.same(&due.output, &got);
        let latency = match self.last_press {
            Some(before) if !key.batched => Some(at.since(before)),
            _ => None,
        };
        let tells_up = self.spec.level.granted().contains(Granted::EVENT_TYPES);
        let before = self.last_press.filter(|_| latency.is_some());
        let press = Press { due: due_marker, before, at, hit, tells_up };
        let (mut reach, marks) = self.marks.seen(&press);
        let backspace = Output::Key(NamedKey::Backspace);
        let backspace_route = self.spec.routes.preferred(&backspace);
        let backspace_due = Due::new(backspace, backspace_route);
        let Some(run) = &mut self.run else { return };
        let recall = run.work.striking().map(|s| (s.told, s.shown));
        let Some(line) = run.work.line_mut() else { return };
        let place = line.place();

        let mut flags = marks;
        flags.set(Flags::FIRST, line.untouched());
        flags.set(Flags::RETRY, line.was_missed(place));
        flags.set(Flags::AFTER_ERROR, run.after_error > 0);
        flags.set(Flags::BATCHED, key.batched);
        flags.set(Flags::INTERRUPTED, self.last_press.is_none() && !line.untouched());
        flags.set(Flags::PAUSE, latency.is_some_and(|l| l > bound));
        flags.set(Flags::AMBIGUOUS, hit && !exact);
        flags.set(Flags::RECALLED, recall.is_some_and(|(told, _)| !told));
        flags.set(Flags::SHOWN, recall.is_some_and(|(told, shown)| shown && !told));

        let taken = if hit { due.output.clone() } else { got.clone() };
        let change = line.change(&taken, hit);
        let verdict = match change {
            Change::Advance => Verdict::Hit,
            Change::Stand | Change::Wait => Verdict::Miss,
            Change::TakeBack => Verdict::Repair,
        };
        let due = if verdict == Verdict::Repair {
            // The markers were asked about what was due before it.
            reach = None;
            flags.remove(marks);
            backspace_due
        } else {
            due
        };
        flags.set(Flags::SWITCH, due.layer != run.layer_before);
        run.after_error = match verdict {
            Verdict::Hit => run.after_error.saturating_sub(1),
            Verdict::Miss | Verdict::Repair => AFTER_ERROR,
        };
        let interval = latency.filter(|l| *l <= bound).unwrap_or_default();
        line.make(change, &taken, interval);

        let keystroke = Keystroke {
            seq: run.seq,
            prompt: run.prompt as u16,
            place: place as u16,
            at,
            expected: due.output,
            got,
            verdict,
            latency,
            reach,
            down: None,
            layer: due.layer,
            previous_layer: run.layer_before,
            position: due.position,
            finger: due.finger,
            flags,
        };
        self.marks.judged(due_marker, flags);
        let worked = match latency {
            // To look for what one has to remember is what is practised.
            Some(latency) if recall.is_some() => latency.min(SHOW_AFTER),
            _ if flags.contains(Flags::FIRST) => Micros::ZERO,
            _ => interval,
        };
        self.keep(keystroke, key.stroke.key, worked, effects);
        if let Some(striking) = self.striking() {
            striking.judged(verdict, at, effects);
        }
        if self.run.as_ref().is_some_and(|run| run.work.done()) {
            self.next_line(effects);
        }
    }

    /// Judges a key of an editing task: a key on a shortest way is a hit, one
    /// that brings the goal no nearer and no further away a hit with
    /// [`Flags::DETOUR`], all others are misses. See docs/editing.md.
    fn judge_edit(&mut self, at: Micros, key: &KeyEvent, effects: &mut Vec<Effect>) {
        let bound = self.pause_bound();
        let latency = match self.last_press {
            Some(before) if !key.batched => Some(at.since(before)),
            _ => None,
        };
        let (level, interrupted) = (self.spec.level, self.last_press.is_none());
        let tells_up = level.granted().contains(Granted::EVENT_TYPES);
        let before = self.last_press.filter(|_| latency.is_some());
        let Some(run) = &mut self.run else { return };
        let Some(editing) = run.work.editing_mut() else { return };
        let mut flags = Flags::empty();
        flags.set(Flags::FIRST, editing.untouched());
        flags.set(Flags::RETRY, editing.missed_here());
        flags.set(Flags::AFTER_ERROR, run.after_error > 0);
        flags.set(Flags::BATCHED, key.batched);
        flags.set(Flags::INTERRUPTED, interrupted && !editing.untouched());
        flags.set(Flags::PAUSE, latency.is_some_and(|l| l > bound));
        flags.set(Flags::SHOWN, editing.shown());
        let interval = latency.filter(|l| *l <= bound).unwrap_or_default();
        let place = editing.place();
        let got = key.stroke.output();
        let known = editing.shown();
        let judged = editing.strike(&got, level, interval, at);
        let shown = (editing.shown() && !known).then(|| Effect::Shown { place: editing.keys() });
        let route = self.spec.routes.to(&judged.expected);
        let due_marker = DueMarker::of(&self.spec.routes, route);
        let due = Due::new(judged.expected.clone(), route);
        let hit = judged.verdict == Verdict::Hit;
        let press = Press { due: due_marker, before, at, hit, tells_up };
        let (reach, marks) = self.marks.seen(&press);
        flags |= marks;
        flags.set(Flags::DETOUR, judged.detour);
        flags.set(Flags::AMBIGUOUS, hit && due.output != got);
        flags.set(Flags::SWITCH, due.layer != run.layer_before);
        run.after_error = match judged.verdict {
            Verdict::Hit => run.after_error.saturating_sub(1),
            Verdict::Miss | Verdict::Repair => AFTER_ERROR,
        };
        let keystroke = Keystroke {
            seq: run.seq,
            prompt: run.prompt as u16,
            place,
            at,
            expected: due.output,
            got,
            verdict: judged.verdict,
            latency,
            reach,
            down: None,
            layer: due.layer,
            previous_layer: run.layer_before,
            position: due.position,
            finger: due.finger,
            flags,
        };
        self.marks.judged(due_marker, flags);
        let worked = if flags.contains(Flags::FIRST) { Micros::ZERO } else { interval };
        self.keep(keystroke, key.stroke.key, worked, effects);
        effects.extend(shown);
        if self.run.as_ref().is_some_and(|run| run.work.done()) {
            self.next_line(effects);
        }
    }

    /// Keeps a judged keystroke; `worked` is what the clock adds.
    fn keep(
        &mut self,
        keystroke: Keystroke,
        key: StrokeKey,
        worked: Micros,
        effects: &mut Vec<Effect>,
    ) {
        let Some(run) = &mut self.run else { return };
        if keystroke.verdict == Verdict::Hit {
            run.layer_before = keystroke.layer;
        }
        run.active = run.active + worked;
        self.active = self.active + worked;
        self.last_press = Some(keystroke.at);
        self.down.retain(|(k, _, _)| *k != key);
        self.down.push((key, run.seq, keystroke.at));
        if let Some(latency) = keystroke.timed() {
            if self.recent.len() < RECENT.0 {
                self.recent.push(latency);
            } else {
                self.recent[self.recent_next] = latency;
            }
            self.recent_next = (self.recent_next + 1) % RECENT.0;
        }
        run.seq += 1;
        run.tally.add(&keystroke);
        effects.push(Effect::Keystroke(Box::new(keystroke)));
    }

    /// One key of a layout may give several characters, which arrive one by
    /// one: they are put together, and judged as one press of the first one's
    /// time. None while there is more to come.
    fn gather(&mut self, at: Micros, got: Output, due: &Output) -> Option<(Micros, Output)> {
        let run = self.run.as_mut()?;
        let part = run.part.take();
        let (Output::Text(whole), Output::Text(text)) = (due, &got) else { return Some((at, got)) };
        let (began, so_far) = match part {
            Some((began, so_far)) => (began, so_far + text),
            None => (at, text.clone()),
        };
        if so_far == *whole {
            return Some((began, Output::Text(so_far)));
        }
        if whole.starts_with(&so_far) {
            run.part = Some((began, so_far));
            return None;
        }
        Some((at, got))
    }

    fn next_line(&mut self, effects: &mut Vec<Effect>) {
        let Some(run) = &mut self.run else { return };
        run.prompt += 1;
        if let Some(prompt) = run.drill.prompts.get(run.prompt) {
            run.counts = run.counts.plus(run.work.counts());
            run.edits.extend(run.work.editing().map(|editing| editing.outcome(run.prompt - 1)));
            run.work = Work::new(prompt, run.drill.flow, self.now);
            run.routes = along(&self.spec.routes, prompt, &run.drill.layers);
            run.part = None;
            run.after_error = 0;
            effects.push(Effect::LineDone);
        } else if let Some(run) = self.run.take() {
            effects.push(Effect::DrillDone(Box::new(run.result(true))));
        }
    }
}

impl Run {
    fn result(mut self, complete: bool) -> DrillResult {
        // After the last prompt its number has been counted up.
        let last = self.drill.prompts.len().saturating_sub(1);
        let number = self.prompt.min(last);
        let begun = self.work.editing().filter(|editing| !editing.untouched());
        self.edits.extend(begun.map(|editing| editing.outcome(number)));
        DrillResult {
            complete,
            active: self.active,
            counts: self.counts.plus(self.work.counts()),
            tally: self.tally,
            edits: self.edits,
        }
    }
}

/// The route of each item of `prompt`, by the way that it asks for.
fn along(routes: &RouteTable, prompt: &Prompt, practised: &[LayerId]) -> Vec<Option<Route>> {
    match prompt {
        Prompt::Text(items) => routes.along(items, practised),
        // Which keys are struck is not known before.
        Prompt::Edit(_) => Vec::new(),
        Prompt::Strike(strikes) => strikes
            .items()
            .iter()
            .map(|item| match strikes.way {
                Way::Layout => routes.preferred(item).or_else(|| routes.by_hand(item)),
                Way::Hand => routes.by_hand(item).or_else(|| routes.preferred(item)),
            })
            .map(Option::<&Route>::cloned)
            .collect(),
    }
}

/// A Shift that is still down does not make Enter, Backspace or Escape wrong:
/// programs take both alike.
fn same_key(due: &Output, got: &Output) -> bool {
    let Output::Chord(Chord { modifiers: Modifiers::SHIFT, key: ChordKey::Named(key) }) = got
    else {
        return false;
    };
    matches!(key, NamedKey::Enter | NamedKey::Backspace | NamedKey::Escape)
        && *due == Output::Key(*key)
}
