//! What the person sees now, and what their keys do to it.

mod opening;
mod render;
mod rows;

pub use opening::{Config, Opening};

use self::rows::{of_thumbs, recovered, rows};
use crate::drill::What;
use crate::keyboard::Output;
use crate::layout::Cluster;
use crate::practice::{Material, Plan, Practice, Setup, Wanted, bring_up_to_date, latest, planned};
use crate::session::{Effect, Event, EventKind, KeyState, Level, Verdict};
use crate::store::{
    Before, DATABASE, LayerResult, Places, Store, StoreError, Wish, journals_waiting, wall_clock,
};
use crate::ui::keymap::{self, Action, Place};
use crate::ui::screen::edited::Replay;
use crate::ui::screen::look::{Ended, Look};
use crate::ui::screen::progress::{Asked, State};
use crate::ui::screen::start::{Last, Row};
use crate::ui::screen::work;
use crate::ui::widget::frame;
use crate::units::Micros;
use std::sync::Arc;

/// The most columns that a line of a drill has, for the eye's sake.
const WIDEST_LINE: usize = 72;

/// A result takes no key before so long has passed without one: the last line
/// of a drill is often overrun.
const SETTLE: Micros = Micros::from_ms(600);

/// The state of the program.
#[derive(Debug)]
pub struct App {
    config: Config,
    opening: Opening,
    place: Place,
    behind: Place,
    /// Lines by which the help is scrolled.
    scroll: u16,
    rows: Vec<Row>,
    chosen: usize,
    results: Vec<LayerResult>,
    /// What the next sitting goes by; none before the history is read.
    plan: Option<Plan>,
    /// The last sitting with thumb keys.
    thumbs: Option<Before>,
    /// What was recovered of a sitting that was cut short.
    recovered: Option<String>,
    /// The history, between sittings.
    store: Option<Store>,
    store_trouble: Option<String>,
    end_trouble: Option<String>,
    /// Why no drill could be made of what was asked for.
    undrillable: Option<String>,
    /// False until the first frame is drawn and the history is read.
    opened: bool,
    progress: State,
    work: work::State,
    practice: Option<Practice>,
    /// The moment of the keyboard's clock at which the sitting began.
    origin: Micros,
    now: Micros,
    next_break: Micros,
    slip: Option<(String, String)>,
    /// Until when keys on the result are an overrun of the drill.
    settles_at: Option<Micros>,
    /// What is looked at of a drill of editing tasks.
    replay: Replay,
    /// The layers, while they are looked at.
    look: Option<Look>,
    level: Level,
    width: u16,
    left: bool,
    /// True once a sitting began.
    practised: bool,
}

impl App {
    /// The program just opened; nothing of the history is read yet.
    pub fn new(config: Config, opening: Opening) -> Self {
        let place = match &opening {
            Opening::Start { first: true } | Opening::Practice { first: true, .. } => {
                Place::Welcome
            }
            Opening::Start { first: false } => Place::Start,
            Opening::Practice { first: false, .. } => Place::Practice,
            Opening::Progress(_) => Place::Progress(keymap::View::Layers),
        };
        let asked = match &opening {
            Opening::Progress(asked) => asked.clone(),
            Opening::Start { .. } | Opening::Practice { .. } => Asked::default(),
        };
        let rows = rows(&config, None, |_| None);
        Self {
            config,
            opening,
            place,
            behind: Place::Start,
            scroll: 0,
            rows,
            chosen: 0,
            results: Vec::new(),
            plan: None,
            thumbs: None,
            recovered: None,
            store: None,
            store_trouble: None,
            end_trouble: None,
            undrillable: None,
            opened: false,
            progress: State::new(asked),
            work: work::State::default(),
            practice: None,
            origin: Micros::ZERO,
            now: Micros::ZERO,
            next_break: Micros::ZERO,
            slip: None,
            settles_at: None,
            replay: Replay::default(),
            look: None,
            level: Level::default(),
            width: 80,
            left: false,
            practised: false,
        }
    }

    /// Opens the history and reads what the start screen shows; begins
    /// practice where that was asked for. Called once, after the first frame.
    fn opened(&mut self, at: Micros) {
        self.opened = true;
        self.now = self.now.max(at);
        if let Opening::Progress(_) = &self.opening {
            return self.read_progress();
        }
        self.read_history();
        if self.place == Place::Practice {
            self.begin_as_opened();
        }
    }

    fn begin_as_opened(&mut self) {
        if let Opening::Practice { wanted, .. } = &self.opening {
            self.begin_wanted(wanted.clone());
        } else {
            self.place = Place::Start;
        }
    }

    /// Reads what the start screen and the rotation need; the history stays
    /// open for the sitting that follows.
    fn read_history(&mut self) {
        // Looking makes no history where there is none.
        let read = if self.config.data.join(DATABASE).exists()
            || !journals_waiting(&Places::new(&self.config.data)).is_empty()
        {
            Store::open(&self.config.data).and_then(|store| {
                self.recovered = recovered(store.folded()).or(self.recovered.take());
                self.thumbs = store.before(&self.config.layout.name, Cluster::Other, None)?;
                let results = store.recent_by_layer(&self.config.layout.name)?;
                self.store = Some(store);
                Ok(results)
            })
        } else {
            Ok(Vec::new())
        };
        match read {
            Ok(results) => {
                self.results = results;
                self.store_trouble = None;
            }
            Err(error) => self.store_trouble = Some(error.to_string()),
        }
        self.make_plan();
        self.make_rows();
    }

    /// What pays most, by the history and the person's wishes.
    fn make_plan(&mut self) {
        let Config { layout, routes, offers, surveyed, seed, .. } = &self.config;
        let today = wall_clock::now().day_local(0);
        // Faulty material is told when a drill is asked for.
        let (store, surveyed) = (self.store.as_ref(), surveyed.as_deref());
        self.plan = planned(store, layout, routes, offers, surveyed, *seed, today).ok();
    }

    fn make_rows(&mut self) {
        let today = wall_clock::now().day_local(0);
        let thumbs = self.thumbs.as_ref();
        let wishes = self.store.as_ref().and_then(|s| s.wishes(&self.config.layout.name).ok());
        let planned = self.plan.as_ref().map(|plan| (plan, wishes.unwrap_or_default()));
        self.rows = rows(&self.config, planned.as_ref(), |offer| {
            if offer.what == What::Thumbs {
                return thumbs.map(|before| of_thumbs(before, offer, today));
            }
            latest(offer, &self.config.layout, &self.results).map(|r| Last {
                days_ago: u32::try_from(today - r.last_day).unwrap_or(0),
                median: r.median,
                accuracy: r.accuracy,
                n: r.n_keystrokes,
            })
        });
    }

    fn read_progress(&mut self) {
        let today = wall_clock::now().day_local(0);
        let Config { data, layout, old_layout, surveyed, .. } = &self.config;
        let layouts = (&**layout, old_layout.as_deref());
        self.progress.read(data, layouts, surveyed.as_deref(), today);
    }

    /// Begins a sitting of what is wanted.
    fn begin_wanted(&mut self, wanted: Wanted) {
        let material = match (wanted, &self.plan) {
            (Wanted::Fixed(material), _) => material,
            (Wanted::Planned(Some(what)), Some(plan)) => {
                Material::Planned(Box::new(plan.clone().about(what)))
            }
            (Wanted::Planned(None), Some(plan)) => Material::Planned(Box::new(plan.clone())),
            (Wanted::Planned(what), None) => Material::Rotation(what.into_iter().collect()),
        };
        self.begin(material);
    }

    /// Begins a sitting.
    fn begin(&mut self, material: Material) {
        let started = wall_clock::now();
        let seed = self.config.seed.unwrap_or(started.ms_utc.unsigned_abs());
        let setup = Setup {
            layout: Arc::clone(&self.config.layout),
            routes: Arc::clone(&self.config.routes),
            material,
            drills_of: self.config.drills_of.clone(),
            seed,
            budget: Micros::from_secs(u64::from(self.config.minutes) * 60),
            width: self.line_width(),
            level: self.level,
            bindings: Arc::clone(&self.config.bindings),
            checked: Arc::clone(&self.config.checked),
        };
        self.next_break = Micros::from_secs(u64::from(self.config.break_after) * 60);
        self.origin = self.now;
        self.practised = true;
        let places = Places::new(&self.config.data);
        let store = self.store.take().map_or_else(|| Store::open_at(&places), Ok);
        let mut practice = Practice::begin(setup, places, store, started);
        if let Some(player) = &self.config.player {
            practice.play(player.clone());
        }
        self.practice = Some(practice);
        self.next_drill();
    }

    fn line_width(&self) -> usize {
        usize::from(self.width.saturating_sub(6)).clamp(24, WIDEST_LINE)
    }

    fn next_drill(&mut self) {
        let at = self.now.since(self.origin);
        let width = self.line_width();
        self.slip = None;
        let Some(practice) = &mut self.practice else { return };
        practice.set_width(width);
        match practice.next_drill(at) {
            Ok(()) => self.place = Place::Practice,
            Err(error) => {
                self.end_sitting();
                if self.left {
                    // There is no screen any more to tell it on.
                    self.undrillable = Some(error.to_string());
                }
                self.store_trouble = Some(error.to_string());
            }
        }
    }

    fn end_sitting(&mut self) {
        self.finish();
        match self.opening {
            Opening::Practice { .. } | Opening::Progress(_) => self.left = true,
            Opening::Start { .. } => {
                self.place = Place::Start;
                self.read_history();
            }
        }
    }

    /// Takes in one event of the keyboard's clock; true where the screen has
    /// to be drawn anew.
    pub fn event(&mut self, event: &Event) -> bool {
        self.now = self.now.max(event.at);
        match self.place {
            Place::Practice => return self.drill_event(event),
            Place::Look => return self.look_event(event),
            _ => {}
        }
        if let Some(at) = self.settles_at {
            if event.at < at {
                if matches!(event.kind, EventKind::Key(_)) {
                    self.settles_at = Some(event.at + SETTLE);
                }
                return false;
            }
            self.settles_at = None;
            if event.kind == EventKind::Tick {
                return true;
            }
        }
        if let EventKind::Key(key) = &event.kind
            && key.state == KeyState::Press
            && let Some(action) = keymap::action(self.place, &key.stroke)
        {
            self.act(action);
            return true;
        }
        false
    }

    fn drill_event(&mut self, event: &Event) -> bool {
        let Some(practice) = &mut self.practice else { return false };
        let leaving = practice.session().leaving();
        let event = Event { at: event.at.since(self.origin), kind: event.kind.clone() };
        let effects = practice.apply(&event);
        let mut seen = practice.session().leaving() != leaving || practice.player().is_some();
        for effect in effects {
            match effect {
                Effect::Keystroke(keystroke) => {
                    seen = true;
                    let theme = self.config.theme;
                    self.slip = (keystroke.verdict == Verdict::Miss).then(|| {
                        (
                            frame::name(&keystroke.expected, theme),
                            frame::name(&keystroke.got, theme),
                        )
                    });
                }
                Effect::DrillDone(result) | Effect::Left(Some(result)) => {
                    let edits = !result.edits.is_empty();
                    self.place = if edits { Place::Edited } else { Place::Result };
                    self.replay = Replay::default();
                    self.settles_at = Some(self.now + SETTLE);
                }
                Effect::Left(None) => {
                    self.end_sitting();
                    return true;
                }
                Effect::Shown { .. } => seen = true,
                Effect::LineDone | Effect::Down { .. } | Effect::Leaving(_) => {}
            }
        }
        seen
    }

    /// What is struck is searched for, until the layers are left.
    fn look_event(&mut self, event: &Event) -> bool {
        let Some(look) = &mut self.look else { return false };
        let seen = look.event(event);
        if let Some(ended) = look.ended() {
            self.look = None;
            self.place = Place::Start;
            self.left = ended == Ended::Quit;
        }
        seen
    }

    fn act(&mut self, action: Action) {
        match (self.place, action) {
            (_, Action::Quit) => {
                self.finish();
                self.left = true;
            }
            (_, Action::Help) => {
                self.behind = self.place;
                self.scroll = 0;
                self.place = Place::Help;
            }
            (Place::Help | Place::Welcome, Action::Up) => {
                self.scroll = self.scroll.saturating_sub(1);
            }
            (Place::Help | Place::Welcome, Action::Down) => {
                self.scroll = self.scroll.saturating_add(1).min(64);
            }
            (Place::Help, _) => self.place = self.behind,
            (Place::Welcome, Action::Go) => self.begin_as_opened(),
            (Place::Welcome | Place::Start, Action::Back) => self.left = true,
            (Place::Start, Action::Progress) => {
                self.read_progress();
                self.place = Place::Progress(self.progress.which);
            }
            (Place::Start, Action::Work) => {
                let Config { data, layout, old_layout, .. } = &self.config;
                let today = wall_clock::now().day_local(0);
                self.work.read(data, (layout, old_layout.as_deref()), today);
                self.place = Place::Work(self.work.sight);
            }
            (Place::Work(_), Action::Back) => self.place = Place::Start,
            (Place::Work(_), action) => {
                self.work.act(action, &self.config.layout);
                self.place = Place::Work(self.work.sight);
            }
            (Place::Start, Action::Layers) => {
                let layout = self.config.layout.as_ref().clone();
                self.look = Some(Look::new(layout, "", self.config.theme));
                self.place = Place::Look;
            }
            (Place::Progress(_), Action::Back) => match self.opening {
                Opening::Progress(_) => self.left = true,
                Opening::Start { .. } | Opening::Practice { .. } => self.place = Place::Start,
            },
            (Place::Progress(_), action) => {
                if self.progress.act(action) {
                    self.read_progress();
                }
                self.place = Place::Progress(self.progress.which);
            }
            (Place::Start, Action::Go) => self.begin_chosen(),
            (Place::Start, Action::Up) => {
                let rows = self.rows.len().max(1);
                self.chosen = (self.chosen + rows - 1) % rows;
            }
            (Place::Start, Action::Down) => {
                self.chosen = (self.chosen + 1) % self.rows.len().max(1);
            }
            (Place::Start, Action::Less) => {
                self.config.minutes = (self.config.minutes - 1).max(1);
                self.make_rows();
            }
            (Place::Start, Action::More) => {
                self.config.minutes = (self.config.minutes + 1).min(120);
                self.make_rows();
            }
            (Place::Start, Action::Wish) => self.turn_wish(),
            (Place::Result | Place::Edited, Action::Go) => self.go_on(),
            (Place::Result | Place::Edited, Action::Again) => {
                let at = self.now.since(self.origin);
                self.slip = None;
                if let Some(practice) = &mut self.practice {
                    practice.again(at);
                    self.place = Place::Practice;
                }
            }
            (Place::Break, Action::Go) => {
                let more = Micros::from_secs(u64::from(self.config.break_after) * 60);
                if let Some(practice) = &mut self.practice {
                    self.next_break = practice.session().active() + more;
                    if practice.over_budget() {
                        practice.extend(more);
                    }
                }
                self.next_drill();
            }
            (Place::Edited, action) if action != Action::Back => self.look_at(action),
            (Place::Result | Place::Edited | Place::Break, Action::Back) => self.end_sitting(),
            _ => {}
        }
    }

    /// Another task of the drill that ended, or another step of its way.
    fn look_at(&mut self, action: Action) {
        let Some(finished) = self.practice.as_ref().and_then(Practice::finished) else { return };
        let (drill, result) = (&finished.drill, &finished.result);
        self.replay = match action {
            Action::Up => self.replay.other(result, false),
            Action::Down => self.replay.other(result, true),
            Action::Less => self.replay.step(drill, result, false),
            Action::More => self.replay.step(drill, result, true),
            _ => self.replay,
        };
    }

    fn begin_chosen(&mut self) {
        // The first row stands for the plan.
        let offer = self.chosen.checked_sub(1).and_then(|n| self.config.offers.get(n));
        self.begin_wanted(Wanted::Planned(offer.map(|offer| offer.what)));
    }

    /// Pins what is chosen, leaves it out, takes it in again, by turns.
    fn turn_wish(&mut self) {
        let Some(offer) = self.chosen.checked_sub(1).and_then(|n| self.config.offers.get(n)) else {
            return;
        };
        let layout = &self.config.layout;
        let word = offer.what.word(layout);
        let wished = || -> Result<(), StoreError> {
            if self.store.is_none() {
                self.store = Some(Store::open_at(&Places::new(&self.config.data))?);
            }
            let Some(store) = &self.store else { return Ok(()) };
            let wish = match store.wishes(&layout.name)?.get(&word) {
                None => Some(Wish::Pinned),
                Some(Wish::Pinned) => Some(Wish::LeftOut),
                Some(Wish::LeftOut) => None,
            };
            store.wish(&layout.name, &word, wish)
        };
        let mut wished = wished;
        self.store_trouble = wished().err().map(|error| error.to_string());
        self.make_plan();
        self.make_rows();
    }

    fn go_on(&mut self) {
        let due = self.practice.as_ref().is_some_and(|practice| {
            practice.over_budget() || practice.session().active() >= self.next_break
        });
        if due {
            self.place = Place::Break;
        } else {
            self.next_drill();
        }
    }

    /// Ends what is in work and keeps it; for every way of leaving.
    pub fn finish(&mut self) {
        let at = self.now.since(self.origin);
        if let Some(practice) = self.practice.take() {
            self.end_trouble = practice.end(at);
        }
    }

    /// Works out after a sitting what the next start shows; for after leaving,
    /// where nobody waits for it.
    pub fn settle(&self) {
        if self.practised {
            let Config { data, layout, routes, .. } = &self.config;
            bring_up_to_date(data, layout, routes);
        }
    }

    /// What could not be kept where it belongs, for a last word after leaving.
    pub fn last_word(&self) -> Option<&str> {
        self.undrillable.as_deref().or(self.end_trouble.as_deref())
    }

    /// True where no drill could be made of what was asked for.
    pub const fn failed(&self) -> bool {
        self.undrillable.is_some()
    }

    /// What is due now, where a line is.
    pub fn due(&self) -> Option<Output> {
        let practice = self.practice.as_ref().filter(|_| self.place == Place::Practice)?;
        practice.session().due().map(|due| due.output)
    }

    /// True when the program should end.
    pub fn left(&self) -> bool {
        self.left
    }

    fn set_level(&mut self, level: Level) {
        self.level = level;
        if let Some(player) = &mut self.config.player {
            player.set_level(level);
        }
        if let Some(practice) = &mut self.practice {
            practice.set_level(level);
        }
    }
}
