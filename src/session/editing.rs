//! An editing task in work: the editor run by the keys that arrive, each
//! judged by how far the goal is before it and after it.

use super::engine::{SHOW_AFTER, SHOW_AFTER_MISSES};
use super::{Effect, Level, Verdict};
use crate::drill::Edit;
use crate::editor::{Editor, Measure, Way, par};
use crate::keyboard::Output;
use crate::layout::{Layout, RouteTable};
use crate::units::Micros;
use std::sync::Arc;

/// An editing task in work.
#[derive(Debug, Clone, PartialEq)]
pub struct Editing {
    edit: Arc<Edit>,
    editor: Editor,
    /// A shortest way from here.
    way: Way,
    struck: Vec<Output>,
    detours: u32,
    misses: u32,
    time: Micros,
    /// True where the next key was missed before.
    missed_here: bool,
    /// What the latest key came to; none before the first.
    latest: Option<Told>,
    shown: bool,
    since: Option<Micros>,
    wrong: u8,
}

/// What to tell of the latest key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Told {
    /// It brought the goal nearer.
    Nearer,
    /// It brought the goal no nearer, and did no harm.
    Detour,
    /// It led away from the goal.
    Away,
    /// It changed the text in a way that the task does not ask for; the
    /// change is taken back.
    TakenBack,
    /// It does nothing in the editor.
    Unbound,
}

impl Told {
    /// The word that scripts use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Nearer => "nearer",
            Self::Detour => "detour",
            Self::Away => "away",
            Self::TakenBack => "taken-back",
            Self::Unbound => "unbound",
        }
    }
}

/// What came of one editing task.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edited {
    /// Which prompt of the drill, from 0.
    pub prompt: u16,
    /// True where the goal was reached.
    pub done: bool,
    /// The keys struck, in order, as they arrived.
    pub struck: Vec<Output>,
    /// Keys that brought the goal no nearer, and did no harm.
    pub detours: u32,
    /// Keys that led away, were taken back, or do nothing.
    pub misses: u32,
    /// From the first key to the last, pauses left out.
    pub time: Micros,
}

impl Edited {
    /// The keys whose route leaves the home block, in the order in which they
    /// were struck. What hands really did is not seen: a key counts by the route
    /// that the layout prefers.
    pub fn off_home<'a>(
        &'a self,
        routes: &'a RouteTable,
        layout: &'a Layout,
    ) -> impl Iterator<Item = &'a Output> {
        self.struck
            .iter()
            .filter(move |key| routes.to(key).is_some_and(|route| route.leaves_home(&layout.board)))
    }
}

/// How a key was judged.
pub(super) struct Judged {
    pub expected: Output,
    pub verdict: Verdict,
    pub detour: bool,
}

impl Editing {
    /// `edit` before the first key, seen from `at`.
    pub(super) fn new(edit: &Arc<Edit>, at: Micros) -> Self {
        Self {
            editor: edit.task.start().clone(),
            way: edit.way.clone(),
            edit: Arc::clone(edit),
            struck: Vec::new(),
            detours: 0,
            misses: 0,
            time: Micros::ZERO,
            missed_here: false,
            latest: None,
            shown: false,
            since: Some(at),
            wrong: 0,
        }
    }

    /// The task.
    pub fn edit(&self) -> &Edit {
        &self.edit
    }

    /// Text, cursor and selection now.
    pub const fn editor(&self) -> &Editor {
        &self.editor
    }

    /// A shortest way from here; empty at the goal.
    pub const fn way(&self) -> &Way {
        &self.way
    }

    /// The next key of a shortest way.
    pub fn next(&self) -> Option<&Output> {
        self.way.steps.first().map(|step| &step.output)
    }

    /// How many keys have been struck.
    pub fn keys(&self) -> usize {
        self.struck.len()
    }

    /// What the latest key came to.
    pub const fn latest(&self) -> Option<Told> {
        self.latest
    }

    /// True where the next key of a shortest way has been shown.
    pub const fn shown(&self) -> bool {
        self.shown
    }

    /// True before the first key.
    pub fn untouched(&self) -> bool {
        self.struck.is_empty()
    }

    /// True at the goal.
    pub fn done(&self) -> bool {
        self.way.steps.is_empty()
    }

    pub(super) fn place(&self) -> u16 {
        self.struck.len().min(usize::from(u16::MAX)) as u16
    }

    pub(super) const fn missed_here(&self) -> bool {
        self.missed_here
    }

    /// When the next key is to be shown, if nothing happens.
    pub(super) fn shows_at(&self) -> Option<Micros> {
        let known = self.shown || self.done();
        self.since.filter(|_| !known).map(|since| since + SHOW_AFTER)
    }

    pub(super) fn look_from(&mut self, since: Option<Micros>) {
        self.since = since;
    }

    /// Shows the next key, if it is not shown yet.
    pub(super) fn show(&mut self, effects: &mut Vec<Effect>) {
        if !self.shown && !self.done() {
            self.shown = true;
            effects.push(Effect::Shown { place: self.struck.len() });
        }
    }

    /// The key that `got` is, or that this terminal can't tell from it, among
    /// those that do something.
    fn bound(&self, got: &Output, level: Level) -> Option<Output> {
        let bindings = &self.edit.bindings;
        if bindings.action(got).is_some() {
            return Some(got.clone());
        }
        bindings.iter().map(|(key, _)| key).find(|key| level.same(key, got)).cloned()
    }

    /// Takes `got`; `interval` is what the clock adds.
    pub(super) fn strike(
        &mut self,
        got: &Output,
        level: Level,
        interval: Micros,
        at: Micros,
    ) -> Judged {
        if !self.struck.is_empty() {
            self.time = self.time + interval;
        }
        self.struck.push(got.clone());
        self.since = Some(at);
        let due = self.next().cloned().unwrap_or_else(|| got.clone());
        let key = self.bound(got, level);
        let (told, next) = match &key {
            Some(key) => self.after(key),
            None => (Told::Unbound, None),
        };
        if let Some((editor, way)) = next {
            self.editor = editor;
            self.way = way;
        }
        self.latest = Some(told);
        let hit = matches!(told, Told::Nearer | Told::Detour);
        match told {
            Told::Nearer => {
                self.shown = false;
                self.wrong = 0;
            }
            Told::Detour => self.detours += 1,
            Told::Away | Told::TakenBack | Told::Unbound => {
                self.misses += 1;
                self.wrong = self.wrong.saturating_add(1);
                // The key that is due next may be another now.
                self.shown = self.wrong >= SHOW_AFTER_MISSES;
            }
        }
        self.missed_here = !hit;
        Judged {
            expected: key.filter(|_| hit).unwrap_or(due),
            verdict: if hit { Verdict::Hit } else { Verdict::Miss },
            detour: told == Told::Detour,
        }
    }

    /// What `key` comes to, with the state after it where that is kept.
    fn after(&self, key: &Output) -> (Told, Option<(Editor, Way)>) {
        let Some(action) = self.edit.bindings.action(key) else { return (Told::Unbound, None) };
        let mut editor = self.editor.clone();
        editor.apply(action);
        let task = &self.edit.task;
        let way = task
            .allows(editor.buffer())
            .then(|| par(&editor, task, &self.edit.tools, Measure::Keys))
            .flatten();
        let Some(way) = way else { return (Told::TakenBack, None) };
        let told = match way.keys().cmp(&self.way.keys()) {
            std::cmp::Ordering::Less => Told::Nearer,
            std::cmp::Ordering::Equal => Told::Detour,
            std::cmp::Ordering::Greater => Told::Away,
        };
        (told, Some((editor, way)))
    }

    /// What came of it so far, as prompt number `prompt`.
    pub(super) fn outcome(&self, prompt: usize) -> Edited {
        Edited {
            prompt: prompt as u16,
            done: self.done(),
            struck: self.struck.clone(),
            detours: self.detours,
            misses: self.misses,
            time: self.time,
        }
    }
}
