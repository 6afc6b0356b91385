//! The simulated typist at one layout, session after session.

use crate::drill::{
    Drill, EditRequest, Offer, Recollect, Request, STROKES, What, all_offers, edits, generate,
    shortcuts,
};
use crate::editor::common;
use crate::keyboard::Output;
use crate::layout::{Cluster, Layout, RouteTable, file};
use crate::model::recall::{Answer, Deck};
use crate::practice::{SCORE_VERSION, remembered};
use crate::session::{Effect, Granted, Keystroke, Level, Session, Spec};
use crate::store::{
    DrillEnd, DrillStart, Ended, LayoutRecord, PastDrill, PastSession, SessionStart, TextCounts,
    WallTime,
};
use crate::typist::{Person, Typist};
use crate::units::Micros;
use std::collections::BTreeMap;
use std::sync::Arc;

/// So many different drills are made of each offer; then they come again.
/// Making one takes as long as typing hundreds of keys does here.
const DRILLS: u32 = 6;

/// The columns of a drill's lines.
const WIDTH: usize = 72;

/// One person at one layout.
pub struct Hands {
    typist: Typist,
    routes: Arc<RouteTable>,
    record: LayoutRecord,
    /// The layout whose drills are typed.
    of: (Layout, RouteTable),
    offers: Vec<Offer>,
    /// True at a layout whose keys are not compared with chords by hand.
    one_way: bool,
    /// What is remembered, as the program reckons it.
    deck: Deck,
    drills: BTreeMap<(usize, u32), Drill>,
    /// How often each offer was drilled.
    times: BTreeMap<usize, u32>,
}

impl Hands {
    /// At the keyboard of `layout`, with the drills of the layout `of`.
    pub fn new(layout: &Layout, of: &Layout, seed: u64) -> Self {
        let (mut routes, mut of_routes) = (RouteTable::build(layout), RouteTable::build(of));
        let offers = all_offers(of, &of_routes);
        // Tables of a layout have only what needs no modifiers held.
        let found = shortcuts(of, &of_routes).unwrap_or_default();
        let bound = common().into_iter().flat_map(|bindings| bindings.iter().map(|(key, _)| key));
        let chords: Vec<Output> =
            found.into_iter().map(|one| one.due).chain(bound.cloned()).collect();
        of_routes.add_chords(of, &chords);
        routes.add_chords(layout, &chords);
        let routes = Arc::new(routes);
        Self {
            typist: Typist::new(layout, &routes, person(), seed),
            record: LayoutRecord::new(layout, &file::write(layout)),
            offers,
            one_way: layout.name != of.name,
            deck: Deck::default(),
            of: (of.clone(), of_routes),
            routes,
            drills: BTreeMap::new(),
            times: BTreeMap::new(),
        }
    }

    /// What can be drilled.
    pub fn offers(&self) -> &[Offer] {
        &self.offers
    }

    /// Days go by.
    pub fn sleep(&mut self, days: u32) {
        self.typist.sleep(days);
    }

    fn drill(&mut self, offer: usize, seed: u64, day: i32) -> Option<Drill> {
        let times = self.times.entry(offer).or_default();
        let (nth, ordinal) = (*times, *times % DRILLS);
        *times += 1;
        let what = self.offers.get(offer)?.what;
        if what == What::Cluster(Cluster::Shortcuts) {
            // What is due is another thing each day.
            return self.generated(what, seed, nth, Some(&self.recollect(day)));
        }
        if let Some(drill) = self.drills.get(&(offer, ordinal)) {
            return Some(drill.clone());
        }
        let drill = if what.is_movement(&self.of.0) {
            edits(&EditRequest {
                layout: &self.of.0,
                routes: &self.of.1,
                what,
                bindings: &Arc::new(common().ok()?.clone()),
                arrives: &|_| true,
                time_of: &|_| None,
                own: None,
                seed,
                ordinal,
            })
            .ok()
        } else {
            self.generated(what, seed, ordinal, None)
        }?;
        self.drills.insert((offer, ordinal), drill.clone());
        Some(drill)
    }

    fn generated(
        &self,
        what: What,
        seed: u64,
        ordinal: u32,
        recollect: Option<&Recollect>,
    ) -> Option<Drill> {
        let (layout, routes) = (&self.of.0, &self.of.1);
        let request = Request {
            layout,
            routes,
            what,
            seed,
            ordinal,
            strokes: STROKES,
            width: WIDTH,
            weights: None,
            recollect,
        };
        generate(&request).ok()
    }

    fn recollect(&self, day: i32) -> Recollect {
        let (remembered, absent) = remembered(&self.deck, &self.of.0, &self.of.1, &|_| true, day);
        Recollect { remembered: Some(remembered), absent, one_way: self.one_way }
    }

    /// A session from `started` on with drills of `offers` in turn, until
    /// `active` time has gone.
    pub fn sit(
        &mut self,
        started: WallTime,
        offers: &[usize],
        active: Micros,
        seed: u64,
    ) -> PastSession {
        let level = Level::Enhanced(Granted::all());
        let mut session = Session::new(Spec { routes: Arc::clone(&self.routes), level });
        self.typist.sit_down();
        let day = started.day_local(0);
        let mut drills = Vec::new();
        for &offer in offers.iter().cycle() {
            if session.active() >= active {
                break;
            }
            let Some(drill) = self.drill(offer, seed, day) else { break };
            let start = DrillStart::of(&drill, self.typist.now());
            // Of editing tasks nothing is transcribed.
            let lines = drill.prompts.iter().any(|prompt| prompt.edit().is_none());
            let effects = self.typist.play(&mut session, drill, Micros(u64::MAX));
            let Some(done) = past(start, effects, lines) else { break };
            for answer in done.keystrokes.iter().filter_map(|stroke| Answer::of(stroke, day)) {
                self.deck.take(&answer);
            }
            drills.push(done);
        }
        PastSession {
            start: SessionStart {
                started,
                seed,
                layout: self.record.clone(),
                terminal_level: level.word().to_owned(),
                program_version: env!("CARGO_PKG_VERSION").to_owned(),
                score_version: SCORE_VERSION,
            },
            drills,
            end: DrillEnd::new(Ended::Done, session.active(), None),
        }
    }
}

/// What became of a drill; none where it did not end.
fn past(start: DrillStart, effects: Vec<Effect>, lines: bool) -> Option<PastDrill> {
    let mut keystrokes: Vec<Keystroke> = Vec::new();
    for effect in effects {
        match effect {
            Effect::Keystroke(keystroke) => keystrokes.push(*keystroke),
            Effect::Down { seq, down } => {
                if let Some(stroke) = keystrokes.iter_mut().rev().find(|k| k.seq == seq) {
                    stroke.down = Some(down);
                }
            }
            Effect::DrillDone(result) => {
                let counts = &result.counts;
                let text = lines.then_some(TextCounts {
                    n_transcribed: counts.transcribed,
                    n_correct: counts.correct,
                    n_incorrect_not_fixed: counts.incorrect_not_fixed,
                    n_incorrect_fixed: counts.incorrect_fixed,
                    n_fixes: counts.fixes,
                });
                let end = DrillEnd::new(Ended::Done, result.active, text);
                return Some(PastDrill { start, keystrokes, end });
            }
            Effect::LineDone | Effect::Shown { .. } | Effect::Leaving(_) | Effect::Left(_) => {}
        }
    }
    None
}

/// Somebody who types fluently, learns layers rather quickly and forgets
/// little, so that 120 days show what otherwise takes longer. Our own choice.
fn person() -> Person {
    Person {
        unmet_ms: 410.0,
        learning: 0.14,
        entering: (0.80, 0.07),
        forgetting: 0.004,
        ..Person::default()
    }
}
