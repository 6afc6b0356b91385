//! A sitting, on screen or by script: chooses the next drill, feeds events to
//! the session, and hands what comes of it to the store.
//!
//! This room is shell: it joins the pure rooms to the store, and knows
//! neither screen nor script.

mod hands;
mod passage;
mod plan;
mod recall;

pub use hands::{bring_up_to_date, findings};
pub use passage::{Passing, passing};
pub use plan::{Plan, planned};
pub use recall::{deck, remembered};

use crate::drill::{
    self, Drill, DrillError, EditRequest, Offer, OwnRequest, OwnText, Prompt, Recollect, Request,
    STROKES, What,
};
use crate::editor::Bindings;
use crate::keyboard::Output;
use crate::layout::{Cluster, Layout, RouteTable, file};
use crate::model::recall::{Answer, Deck};
use crate::plan::Choice;
use crate::played::Player;
use crate::session::{
    Checked, DrillResult, Earlier, Effect, Event, EventKind, Level, Session, Spec,
};
use crate::store::{
    DrillEnd, DrillStart, Ended, LayerResult, LayoutRecord, Places, SessionStart, Sitting, Store,
    StoreError, TextCounts, WallTime,
};
use crate::units::Micros;
use std::sync::Arc;

/// What is remembered rather than only struck.
const SHORTCUTS: What = What::Cluster(Cluster::Shortcuts);

/// Judging rules; grows when stored keystrokes would be judged differently.
pub const SCORE_VERSION: u32 = 1;

/// What drills are made from.
#[derive(Debug, Clone)]
pub enum Material {
    /// The same drills everywhere for a seed, one after another.
    Rotation(Vec<What>),
    /// What pays most, by what is known of the person.
    Planned(Box<Plan>),
    /// The person's own text; with a layer or cluster, its richest lines.
    Own(Arc<OwnText>, Option<What>),
}

/// What the person wants to practise.
#[derive(Debug, Clone)]
pub enum Wanted {
    /// What the plan chooses; of one offer, where they chose that.
    Planned(Option<What>),
    /// This.
    Fixed(Material),
}

/// What a sitting needs to know.
#[derive(Debug, Clone)]
pub struct Setup {
    /// The layout.
    pub layout: Arc<Layout>,
    /// Its routes.
    pub routes: Arc<RouteTable>,
    /// What drills are made from.
    pub material: Material,
    /// The layout whose material is practised, with its routes, where it is
    /// another one: the old way is measured with the new layout's drills.
    pub drills_of: Option<(Arc<Layout>, Arc<RouteTable>)>,
    /// The same seed gives the same drills.
    pub seed: u64,
    /// Active time after which the sitting ends, or a break is offered.
    pub budget: Micros,
    /// Columns that a line may have.
    pub width: usize,
    /// What the terminal can tell apart.
    pub level: Level,
    /// What each key does in editing tasks.
    pub bindings: Arc<Bindings>,
    /// What a check found that this terminal lets through.
    pub checked: Arc<Checked>,
}

impl Setup {
    /// True where `output` may be asked for in this terminal: its level
    /// delivers it, and no check found that it doesn't arrive.
    pub fn arrives(&self, output: &Output) -> bool {
        self.checked.arrives(self.level, output)
    }

    /// The layout whose material is practised, with its routes.
    fn drilled(&self) -> (&Layout, &RouteTable) {
        match &self.drills_of {
            Some((layout, routes)) => (layout, routes),
            None => (&self.layout, &self.routes),
        }
    }
}

/// A drill with its outcome.
#[derive(Debug, Clone)]
pub struct Finished {
    /// The drill.
    pub drill: Drill,
    /// What came of it.
    pub result: DrillResult,
}

/// One sitting.
#[derive(Debug)]
pub struct Practice {
    setup: Setup,
    session: Session,
    sitting: Sitting,
    begun: u32,
    earlier: Earlier,
    running: Option<Drill>,
    finished: Option<Finished>,
    player: Option<Player>,
    /// Why the drill in work, or the one that ended last, was chosen.
    reason: Option<String>,
    /// The next drill, made ahead so that its reason can be told.
    coming: Option<Composed>,
    /// What is remembered, the drills of this sitting included.
    deck: Deck,
    started: WallTime,
    /// When the drill in work began.
    shown_at: Micros,
}

/// A drill, and why it was chosen, where it was.
#[derive(Debug, Clone)]
pub struct Composed {
    /// The drill.
    pub drill: Drill,
    /// Why, in one line of plain words.
    pub reason: Option<String>,
}

impl Practice {
    /// A sitting that began at `started`; its history goes to `places`, into
    /// `store` where that could be opened.
    pub fn begin(
        setup: Setup,
        places: Places,
        store: Result<Store, StoreError>,
        started: WallTime,
    ) -> Self {
        let session = Session::new(Spec { routes: Arc::clone(&setup.routes), level: setup.level });
        let sitting = Sitting::begin_at(
            places,
            store,
            SessionStart {
                started,
                seed: setup.seed,
                layout: LayoutRecord::new(&setup.layout, &file::write(&setup.layout)),
                terminal_level: setup.level.word().to_owned(),
                program_version: env!("CARGO_PKG_VERSION").to_owned(),
                score_version: SCORE_VERSION,
            },
        );
        // Where this can't be read, what was measured is only compared more
        // broadly.
        if let Some(store) = sitting.store() {
            let _ = store.adopt(&setup.layout);
        }
        let earlier = Earlier::default();
        let deck = deck(sitting.store(), &setup.layout.name);
        Self {
            setup,
            session,
            sitting,
            begun: 0,
            earlier,
            running: None,
            finished: None,
            reason: None,
            coming: None,
            deck,
            started,
            shown_at: Micros::ZERO,
            player: None,
        }
    }

    /// Begins the next drill.
    ///
    /// # Errors
    /// [`DrillError`] where nothing can be drilled.
    pub fn next_drill(&mut self, at: Micros) -> Result<(), DrillError> {
        let next = match self.coming.take() {
            Some(coming) => coming,
            None => self.compose(self.begun)?,
        };
        self.reason = next.reason;
        self.start(next.drill, at);
        Ok(())
    }

    fn compose(&self, ordinal: u32) -> Result<Composed, DrillError> {
        let today = self.started.day_local(self.session.active().0);
        let steered = matches!(self.setup.material, Material::Planned(_));
        let recollect = recall::recollect(&self.setup, &self.deck, today, steered);
        compose(&self.setup, ordinal, &recollect)
    }

    /// What is remembered, the drills of this sitting included.
    pub fn deck(&self) -> &Deck {
        &self.deck
    }

    /// Begins the latest drill again.
    pub fn again(&mut self, at: Micros) {
        let drill = self.running.take().or_else(|| self.finished.take().map(|f| f.drill));
        if let Some(drill) = drill {
            self.start(drill, at);
        }
    }

    fn start(&mut self, drill: Drill, at: Micros) {
        self.begun += 1;
        self.shown_at = at;
        self.finished = None;
        self.coming = None;
        self.earlier = self.look_back(drill.cluster);
        self.sitting.begin_drill(&DrillStart::of(&drill, at));
        self.know_chords(&drill);
        // What has to be remembered is looked for from now on.
        self.session.apply(&Event { at, kind: EventKind::Tick });
        self.session.start(drill.clone());
        self.running = Some(drill);
    }

    /// Finds the ways by hand to the chords that `drill` asks for: the table
    /// of a layout has only what needs no modifiers held.
    fn know_chords(&mut self, drill: &Drill) {
        let strikes = drill.prompts.iter().filter(|prompt| matches!(prompt, Prompt::Strike(_)));
        let edits = drill.prompts.iter().find_map(Prompt::edit);
        let bound = edits.iter().flat_map(|edit| edit.bindings.iter().map(|(key, _)| key));
        let mut chords = strikes.flat_map(Prompt::items).chain(bound).peekable();
        if chords.peek().is_some() {
            let layout = Arc::clone(&self.setup.layout);
            Arc::make_mut(&mut self.setup.routes).add_chords(&layout, chords);
            self.session.set_routes(Arc::clone(&self.setup.routes));
        }
    }

    /// What the last sitting with drills of `cluster` measured; nothing where
    /// there was none or the history can't be read.
    fn look_back(&self, cluster: Cluster) -> Earlier {
        let layout = &self.setup.layout;
        let before = self.sitting.store().and_then(|store| {
            store.before(&layout.name, cluster, Some(self.sitting.uid())).ok().flatten()
        });
        let mut earlier = Earlier::default();
        let Some(before) = before else { return earlier };
        for item in before.items {
            let output: Option<Output> = item.output.parse().ok();
            if let (Some(layer), Some(output), Some(spread)) =
                (layout.layer_named(&item.layer), output, item.latency)
            {
                earlier.items.insert((layer, output), spread);
            }
        }
        for switch in before.switches {
            if let (Some(from), Some(to), Some(spread)) =
                (layout.layer_named(&switch.from), layout.layer_named(&switch.to), switch.latency)
            {
                earlier.switches.insert((from, to), spread);
            }
        }
        earlier
    }

    /// Feeds one event and keeps what comes of it.
    pub fn apply(&mut self, event: &Event) -> Vec<Effect> {
        let effects = match &mut self.player {
            None => self.session.apply(event),
            // The session sees only what the layout would have sent.
            Some(player) => {
                player.play(event).iter().flat_map(|event| self.session.apply(event)).collect()
            }
        };
        for effect in &effects {
            match effect {
                Effect::Keystroke(keystroke) => {
                    self.sitting.keystroke(keystroke);
                    if let Material::Planned(plan) = &mut self.setup.material {
                        plan.see(keystroke);
                    }
                    let day = self.started.day_local(keystroke.at.0);
                    if let Some(answer) = Answer::of(keystroke, day) {
                        self.deck.take(&answer);
                    }
                }
                Effect::Down { seq, down } => self.sitting.down(*seq, *down),
                Effect::DrillDone(result) | Effect::Left(Some(result)) => {
                    self.close(result);
                    // Who leaves needs none; what can't be made is told when it
                    // is asked for.
                    if event.kind != EventKind::Leave {
                        self.coming = self.compose(self.begun).ok();
                    }
                }
                Effect::LineDone
                | Effect::Shown { .. }
                | Effect::Leaving(_)
                | Effect::Left(None) => {}
            }
        }
        effects
    }

    fn close(&mut self, result: &DrillResult) {
        let ended = if result.complete { Ended::Done } else { Ended::Left };
        let counts = &result.counts;
        let running = self.running.as_ref();
        // Of editing tasks nothing is transcribed.
        let lines = running.is_none_or(|drill| drill.prompts.iter().any(|p| p.edit().is_none()));
        let text = lines.then_some(TextCounts {
            n_transcribed: counts.transcribed,
            n_correct: counts.correct,
            n_incorrect_not_fixed: counts.incorrect_not_fixed,
            n_incorrect_fixed: counts.incorrect_fixed,
            n_fixes: counts.fixes,
        });
        self.sitting.end_drill(&DrillEnd::new(ended, result.active, text));
        if let Some(drill) = self.running.take() {
            self.finished = Some(Finished { drill, result: result.clone() });
        }
    }

    /// Stops the drill in work, keeping what was typed.
    pub fn leave(&mut self, at: Micros) -> Vec<Effect> {
        self.apply(&Event { at, kind: EventKind::Leave })
    }

    /// Ends the sitting; returns what could not be kept where it belongs, in
    /// words for the person.
    pub fn end(mut self, at: Micros) -> Option<String> {
        if self.running.is_some() {
            self.leave(at);
        }
        let ended = if self.over_budget() { Ended::Done } else { Ended::Left };
        self.sitting.end(ended, self.session.active()).trouble
    }

    /// Takes note of what the terminal can tell apart. It delivers other chords
    /// then: a drill of shortcuts or of editing tasks in which nothing has been
    /// struck yet is made anew.
    pub fn set_level(&mut self, level: Level) {
        let other = level != self.setup.level;
        self.setup.level = level;
        self.session.set_level(level);
        if let Some(player) = &mut self.player {
            player.set_level(level);
        }
        self.sitting.set_terminal_level(level.word());
        if !other {
            return;
        }
        self.coming = None;
        let untouched = self.session.counts().stream == 0;
        let by_level = |drill: &Drill| {
            drill.cluster == Cluster::Shortcuts || drill.prompts.iter().any(|p| p.edit().is_some())
        };
        if untouched && self.running.as_ref().is_some_and(by_level) {
            let ordinal = self.begun - 1;
            if let Ok(next) = self.compose(ordinal) {
                self.begun = ordinal;
                self.reason = next.reason;
                self.start(next.drill, self.shown_at);
            }
        }
    }

    /// Lets `player` play the layers: events are a plain keyboard's from here
    /// on.
    pub fn play(&mut self, mut player: Player) {
        player.set_level(self.setup.level);
        self.player = Some(player);
    }

    /// Who plays the layers, if anyone does.
    pub fn player(&self) -> Option<&Player> {
        self.player.as_ref()
    }

    /// When an [`EventKind::Tick`] is needed, if at all.
    pub fn wake_at(&self) -> Option<Micros> {
        let player = self.player.as_ref().and_then(Player::wake_at);
        let session = self.session.wake_at();
        match (player, session) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        }
    }

    /// Takes note that a script, not a terminal, says what is struck.
    pub fn by_script(&mut self) {
        self.sitting.set_terminal_level("script");
    }

    /// Columns that the lines of the drills to come may have.
    pub fn set_width(&mut self, width: usize) {
        if width != self.setup.width {
            self.setup.width = width;
            self.coming = None;
        }
    }

    /// Why the drill in work was chosen, where it was.
    pub fn reason(&self) -> Option<&str> {
        self.reason.as_deref()
    }

    /// The drill to come, once one has ended.
    pub fn coming(&self) -> Option<&Composed> {
        self.coming.as_ref()
    }

    /// The session.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// What it was set up with.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// The drill that ended last, until the next one begins.
    pub fn finished(&self) -> Option<&Finished> {
        self.finished.as_ref()
    }

    /// What the sitting before measured of the cluster in work.
    pub fn earlier(&self) -> &Earlier {
        &self.earlier
    }

    /// Drills begun.
    pub fn begun(&self) -> u32 {
        self.begun
    }

    /// Adds to the budget.
    pub fn extend(&mut self, more: Micros) {
        self.setup.budget = self.session.active().max(self.setup.budget) + more;
    }

    /// True when the active time has reached the budget.
    pub fn over_budget(&self) -> bool {
        self.session.active() >= self.setup.budget
    }

    /// What the person should know of the history, if anything.
    pub fn trouble(&self) -> Option<&str> {
        self.sitting.trouble()
    }
}

/// The drill number `ordinal` (from 0) of a sitting, where shortcuts are asked
/// for as `recollect` tells.
///
/// # Errors
/// [`DrillError`] where nothing can be drilled.
pub fn compose(setup: &Setup, ordinal: u32, recollect: &Recollect) -> Result<Composed, DrillError> {
    let (layout, routes) = setup.drilled();
    let generate = |what: What, choice: Option<&Choice>| {
        if what.is_movement(layout) {
            return tasks(setup, what, ordinal, None);
        }
        drill::generate(&Request {
            layout,
            routes,
            what,
            seed: setup.seed,
            ordinal,
            strokes: STROKES,
            width: setup.width,
            weights: choice.map(|choice| &choice.weights),
            recollect: Some(recollect),
        })
    };
    let (drill, reason) = match &setup.material {
        Material::Own(text, what) => {
            let what = *what;
            if let Some(movement) = what.filter(|what| what.is_movement(layout)) {
                let drill = tasks(setup, movement, ordinal, Some(text))?;
                return Ok(Composed { drill, reason: None });
            }
            let request = OwnRequest { layout, routes, what, ordinal, strokes: STROKES };
            (text.drill(&request)?, None)
        }
        Material::Rotation(rotation) => {
            let what = rotation.get(ordinal as usize % rotation.len().max(1));
            (generate(what.copied().unwrap_or(What::Thumbs), None)?, None)
        }
        // What is about to be forgotten comes first.
        Material::Planned(plan) if plan.recalls(recollect, ordinal) => {
            (generate(SHORTCUTS, None)?, recall::reason(recollect))
        }
        Material::Planned(plan) => {
            if let Some(choice) = plan.choose(layout, routes, ordinal) {
                (generate(choice.what, Some(&choice))?, Some(choice.reason))
            } else {
                let what = plan.in_turn(ordinal).ok_or(DrillError::AllLeftOut)?;
                (generate(what, None)?, None)
            }
        }
    };
    Ok(Composed { drill, reason })
}

/// A drill of editing tasks, in the person's own text where that is given.
fn tasks(
    setup: &Setup,
    what: What,
    ordinal: u32,
    own: Option<&OwnText>,
) -> Result<Drill, DrillError> {
    let (layout, routes) = setup.drilled();
    let bindings = &setup.bindings;
    let keys = || bindings.iter().map(|(key, _)| key);
    // The ways by hand are found once; a copy that has them is what is kept.
    let mut routes = RouteTable::clone(routes);
    routes.add_chords(layout, keys());
    drill::edits(&EditRequest {
        layout,
        routes: &routes,
        what,
        bindings,
        arrives: &|key| {
            let alike = |other: &Output| other != key && setup.level.same(other, key);
            setup.arrives(key) && !keys().any(alike)
        },
        time_of: &|key| match &setup.material {
            Material::Planned(plan) => plan.time_of(&routes, key),
            Material::Rotation(_) | Material::Own(..) => None,
        },
        own,
        seed: setup.seed,
        ordinal,
    })
}

/// The most recent result among the layers that `offer` practises.
pub fn latest<'a>(
    offer: &Offer,
    layout: &Layout,
    results: &'a [LayerResult],
) -> Option<&'a LayerResult> {
    offer
        .layers
        .iter()
        .filter_map(|layer| results.iter().find(|r| r.layer == layout.layer(*layer).name))
        .max_by_key(|r| r.last_day)
}
