//! What the person sees now, and what their keys do to it.

use crate::drill::{Offer, What};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Assignment, Cluster, LayerId, Layout, RouteTable};
use crate::practice::{Material, Practice, Setup, in_turn, latest};
use crate::session::{Effect, Event, EventKind, KeyState, Level, Verdict};
use crate::store::{
    Before, DATABASE, FoldReport, LayerResult, Places, Store, journals_waiting, wall_clock,
};
use crate::ui::keymap::{self, Action, Place};
use crate::ui::run::{self, Flow, News};
use crate::ui::screen::progress::{Asked, State};
use crate::ui::screen::start::{Last, Row};
use crate::ui::screen::{help, pause, practice, progress, result, start, welcome};
use crate::ui::theme::Theme;
use crate::ui::widget::frame;
use crate::units::Micros;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::path::PathBuf;
use std::sync::Arc;

/// The most columns that a line of a drill has, for the eye's sake.
const WIDEST_LINE: usize = 72;

/// A result takes no key before so long has passed without one: the last line
/// of a drill is often overrun.
const SETTLE: Micros = Micros::from_ms(600);

/// What the program was asked to open.
#[derive(Debug, Clone)]
pub enum Opening {
    /// The start screen; the welcome before it on the first start.
    Start {
        /// True where there is no history yet.
        first: bool,
    },
    /// Practice at once, all offers in turn without a wish; leaving it leaves
    /// the program. The welcome before it on the first start.
    Practice {
        /// What to practise.
        material: Option<Material>,
        /// True where there is no history yet.
        first: bool,
    },
    /// The views of progress; leaving them leaves the program.
    Progress(Asked),
}

/// What an [`App`] needs to know.
#[derive(Debug, Clone)]
pub struct Config {
    /// The layout in use.
    pub layout: Arc<Layout>,
    /// Its routes.
    pub routes: Arc<RouteTable>,
    /// What it can drill.
    pub offers: Vec<Offer>,
    /// The layout whose drills are practised on `layout`, with its routes,
    /// where it is another one.
    pub drills_of: Option<(Arc<Layout>, Arc<RouteTable>)>,
    /// Folder of the history.
    pub data: PathBuf,
    /// Seed of the drills; none takes a new one each sitting.
    pub seed: Option<u64>,
    /// Length of a sitting, minutes.
    pub minutes: u32,
    /// Active minutes after which a break is offered.
    pub break_after: u32,
    /// How it looks.
    pub theme: Theme,
}

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
    /// The last sitting with thumb keys.
    thumbs: Option<Before>,
    /// What was recovered of a sitting that was cut short.
    recovered: Option<String>,
    store_trouble: Option<String>,
    end_trouble: Option<String>,
    /// False until the first frame is drawn and the history is read.
    opened: bool,
    progress: State,
    practice: Option<Practice>,
    /// The moment of the keyboard's clock at which the sitting began.
    origin: Micros,
    now: Micros,
    next_break: Micros,
    slip: Option<(String, String)>,
    /// Until when keys on the result are an overrun of the drill.
    settles_at: Option<Micros>,
    level: Level,
    width: u16,
    left: bool,
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
        let rows = rows(&config, |_| None);
        Self {
            config,
            opening,
            place,
            behind: Place::Start,
            scroll: 0,
            rows,
            chosen: 0,
            results: Vec::new(),
            thumbs: None,
            recovered: None,
            store_trouble: None,
            end_trouble: None,
            opened: false,
            progress: State::new(asked),
            practice: None,
            origin: Micros::ZERO,
            now: Micros::ZERO,
            next_break: Micros::ZERO,
            slip: None,
            settles_at: None,
            level: Level::default(),
            width: 80,
            left: false,
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
        if let Opening::Practice { material, .. } = &self.opening {
            let material = material.clone().unwrap_or_else(|| self.in_turn());
            self.begin(material);
        } else {
            self.place = Place::Start;
        }
    }

    /// Reads what the start screen and the rotation need, and closes the
    /// history again: a sitting opens its own.
    fn read_history(&mut self) {
        // Looking makes no history where there is none.
        let read = if self.config.data.join(DATABASE).exists()
            || !journals_waiting(&Places::new(&self.config.data)).is_empty()
        {
            Store::open(&self.config.data).and_then(|store| {
                self.recovered = recovered(store.folded()).or(self.recovered.take());
                self.thumbs = store.before(&self.config.layout.name, Cluster::Other, None)?;
                store.recent_by_layer(&self.config.layout.name)
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
        let today = wall_clock::now().day_local(0);
        let thumbs = self.thumbs.as_ref();
        self.rows = rows(&self.config, |offer| {
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
        self.progress.read(&self.config.data, &self.config.layout, today);
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
        };
        self.next_break = Micros::from_secs(u64::from(self.config.break_after) * 60);
        self.origin = self.now;
        let places = Places::new(&self.config.data);
        let store = Store::open_at(&places);
        self.practice = Some(Practice::begin(setup, places, store, started));
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
                self.store_trouble = Some(error.to_string());
            }
        }
    }

    fn end_sitting(&mut self) {
        let at = self.now.since(self.origin);
        if let Some(practice) = self.practice.take() {
            self.end_trouble = practice.end(at);
        }
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
        if self.place == Place::Practice {
            return self.drill_event(event);
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
        let mut seen = practice.session().leaving() != leaving;
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
                Effect::DrillDone(_) | Effect::Left(Some(_)) => {
                    self.place = Place::Result;
                    self.settles_at = Some(self.now + SETTLE);
                }
                Effect::Left(None) => {
                    self.end_sitting();
                    return true;
                }
                Effect::LineDone | Effect::Down { .. } | Effect::Leaving(_) => {}
            }
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
            (Place::Start, Action::Less) => self.config.minutes = (self.config.minutes - 1).max(1),
            (Place::Start, Action::More) => {
                self.config.minutes = (self.config.minutes + 1).min(120);
            }
            (Place::Result, Action::Go) => self.go_on(),
            (Place::Result, Action::Again) => {
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
            (Place::Result | Place::Break, Action::Back) => self.end_sitting(),
            _ => {}
        }
    }

    fn begin_chosen(&mut self) {
        // The first row stands for all the others in turn.
        let material = match self.chosen.checked_sub(1).and_then(|n| self.config.offers.get(n)) {
            Some(offer) => Material::Rotation(vec![offer.what]),
            None => self.in_turn(),
        };
        self.begin(material);
    }

    fn in_turn(&self) -> Material {
        in_turn(&self.config.offers, &self.config.layout, &self.results)
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

    /// What could not be kept where it belongs, for a last word after leaving.
    pub fn last_word(&self) -> Option<&str> {
        self.end_trouble.as_deref()
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
        if let Some(practice) = &mut self.practice {
            practice.set_level(level);
        }
    }

    /// Draws the screen.
    pub fn render(&self, area: Rect, buf: &mut Buffer) {
        let theme = self.config.theme;
        let layout = &self.config.layout;
        let trouble =
            self.practice.as_ref().and_then(Practice::trouble).or(self.store_trouble.as_deref());
        match self.place {
            Place::Welcome => welcome::draw(area, buf, &layout.title, self.scroll, theme),
            Place::Help => help::draw(area, buf, self.behind, self.scroll, theme),
            Place::Start => start::View {
                layout,
                rows: &self.rows,
                chosen: self.chosen,
                minutes: self.config.minutes,
                trouble,
                theme,
            }
            .draw(area, buf),
            Place::Progress(_) => {
                progress::View { state: &self.progress, layout, theme }.draw(area, buf);
            }
            Place::Practice => {
                if let Some(practice) = &self.practice {
                    practice::View {
                        session: practice.session(),
                        layout,
                        number: practice.begun(),
                        earlier: practice.earlier(),
                        slip: self.slip.as_ref(),
                        trouble,
                        theme,
                    }
                    .draw(area, buf);
                }
            }
            Place::Result => {
                if let Some((practice, finished)) =
                    self.practice.as_ref().and_then(|p| p.finished().map(|f| (p, f)))
                {
                    result::View {
                        drill: &finished.drill,
                        result: &finished.result,
                        earlier: practice.earlier(),
                        layout,
                        number: practice.begun(),
                        active_s: (
                            practice.session().active().as_secs(),
                            practice.setup().budget.as_secs(),
                        ),
                        settled: self.settles_at.is_none(),
                        trouble,
                        theme,
                    }
                    .draw(area, buf);
                }
            }
            Place::Break => {
                if let Some(practice) = &self.practice {
                    let view = pause::View {
                        time_up: practice.over_budget(),
                        active_s: practice.session().active().as_secs(),
                        drills: practice.begun(),
                    };
                    pause::draw(area, buf, view, theme);
                }
            }
        }
    }
}

impl run::App for App {
    fn handle(&mut self, news: News) -> Flow {
        let redraw = match news {
            News::Event(Event { kind: EventKind::Leave, .. }) => {
                self.finish();
                return Flow::Leave;
            }
            News::Event(event) if !self.opened => {
                self.opened(event.at);
                // The tick after the first frame, or a key that outran it.
                self.event(&event);
                true
            }
            News::Event(event) => self.event(&event),
            News::Level(level) => {
                self.set_level(level);
                false
            }
            News::Ground(ground) => {
                self.config.theme.ground = ground;
                true
            }
            News::Resize => true,
        };
        if self.left {
            Flow::Leave
        } else if redraw {
            Flow::Redraw
        } else {
            Flow::Same
        }
    }

    fn draw(&mut self, frame: &mut Frame) {
        self.width = frame.area().width;
        self.render(frame.area(), frame.buffer_mut());
    }

    fn next_wake(&self) -> Option<Micros> {
        if !self.opened {
            return Some(Micros::ZERO);
        }
        if self.settles_at.is_some() {
            return self.settles_at;
        }
        let practice = self.practice.as_ref().filter(|_| self.place == Place::Practice)?;
        practice.session().wake_at().map(|at| at + self.origin)
    }
}

/// "In turn", then a row for each offer.
fn rows(config: &Config, last: impl Fn(&Offer) -> Option<Last>) -> Vec<Row> {
    let all = Row {
        name: "in turn".into(),
        layer: LayerId::BASE,
        keys: "all, longest ago first".into(),
        last: None,
    };
    std::iter::once(all)
        .chain(config.offers.iter().map(|offer| row(offer, config, last(offer))))
        .collect()
}

fn row(offer: &Offer, config: &Config, last: Option<Last>) -> Row {
    let keys: Vec<_> =
        in_order(offer, &config.layout).iter().map(|key| frame::name(key, config.theme)).collect();
    Row {
        name: offer.what.word(&config.layout),
        layer: match offer.what {
            What::Layer(layer) => layer,
            What::Cluster(_) => offer.layers.first().copied().unwrap_or(LayerId::BASE),
            What::Thumbs => LayerId::BASE,
        },
        keys: keys.join(" "),
        last,
    }
}

/// The keys of `offer` as people meet them: keys without text first, then in
/// the order of the rows of its layers. Thumb drills are about keys, not about
/// the capitals that Shift makes.
fn in_order(offer: &Offer, layout: &Layout) -> Vec<Output> {
    let mut keys: Vec<Output> =
        offer.keys.iter().filter(|key| matches!(key, Output::Key(_))).cloned().collect();
    if offer.what == What::Thumbs {
        keys.extend(offer.keys.iter().filter(|key| key.as_char() == Some(' ')).cloned());
        keys.push(Output::Key(NamedKey::Shift));
        return keys;
    }
    let given = offer.layers.iter().flat_map(|layer| &layout.layer(*layer).keys);
    for assignment in given {
        let output = match assignment {
            Assignment::Gives(output) => output,
            Assignment::Dual { tap, .. } => match &**tap {
                Assignment::Gives(output) => output,
                _ => continue,
            },
            _ => continue,
        };
        if offer.keys.contains(output) && !keys.contains(output) {
            keys.push(output.clone());
        }
    }
    let rest = offer.keys.iter().filter(|key| !keys.contains(key)).cloned();
    let rest: Vec<Output> = rest.collect();
    keys.extend(rest);
    keys
}

/// What the last sitting has of the thumb keys themselves. Their letters are
/// left out; so the one median of the sitting would not be theirs.
fn of_thumbs(before: &Before, offer: &Offer, today: i32) -> Last {
    let wanted = |output: &str| {
        output
            .parse::<Output>()
            .is_ok_and(|output| matches!(output, Output::Key(_)) || output.as_char() == Some(' '))
            && offer.keys.iter().any(|key| key.to_string() == output)
    };
    let (mut hits, mut misses) = (0, 0);
    for item in before.items.iter().filter(|item| wanted(&item.output)) {
        hits += item.n_hits;
        misses += item.n_misses;
    }
    Last {
        days_ago: u32::try_from(today - before.started.day_local(0)).unwrap_or(0),
        median: None,
        accuracy: (hits + misses > 0).then(|| hits as f64 / (hits + misses) as f64),
        n: hits + misses,
    }
}

/// What to say of journals that were folded in.
fn recovered(report: &FoldReport) -> Option<String> {
    match (report.drills, report.troubles.first()) {
        (_, Some(trouble)) => Some(trouble.clone()),
        (0, None) => None,
        (1, None) => {
            Some("A drill that was cut short was recovered; all its keys are kept.".into())
        }
        (n, None) => {
            Some(format!("{n} drills that were cut short were recovered; all keys are kept."))
        }
    }
}
