//! The simulated typist at one layout, session after session.

use crate::drill::{Drill, Offer, Request, STROKES, What, generate, offers};
use crate::layout::{Cluster, Layout, RouteTable, file};
use crate::practice::SCORE_VERSION;
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
    drills: BTreeMap<(usize, u32), Drill>,
    /// How often each offer was drilled.
    times: BTreeMap<usize, u32>,
}

/// The typist types lines; to move in a document and to recall chords it has
/// not learnt.
fn typed(mut offers: Vec<Offer>) -> Vec<Offer> {
    let other = [Cluster::Navigation, Cluster::Shortcuts].map(What::Cluster);
    offers.retain(|offer| !other.contains(&offer.what));
    offers
}

impl Hands {
    /// At the keyboard of `layout`, with the drills of the layout `of`.
    pub fn new(layout: &Layout, of: &Layout, seed: u64) -> Self {
        let routes = Arc::new(RouteTable::build(layout));
        let of_routes = RouteTable::build(of);
        Self {
            typist: Typist::new(layout, &routes, person(), seed),
            record: LayoutRecord::new(layout, &file::write(layout)),
            offers: typed(offers(of, &of_routes)),
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

    fn drill(&mut self, offer: usize, seed: u64) -> Option<Drill> {
        let times = self.times.entry(offer).or_default();
        let ordinal = *times % DRILLS;
        *times += 1;
        if let Some(drill) = self.drills.get(&(offer, ordinal)) {
            return Some(drill.clone());
        }
        let request = Request {
            layout: &self.of.0,
            routes: &self.of.1,
            what: self.offers.get(offer)?.what,
            seed,
            ordinal,
            strokes: STROKES,
            width: WIDTH,
            weights: None,
            recollect: None,
        };
        let drill = generate(&request).ok()?;
        self.drills.insert((offer, ordinal), drill.clone());
        Some(drill)
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
        let mut drills = Vec::new();
        for &offer in offers.iter().cycle() {
            if session.active() >= active {
                break;
            }
            let Some(drill) = self.drill(offer, seed) else { break };
            let start = DrillStart::of(&drill, self.typist.now());
            let effects = self.typist.play(&mut session, drill, Micros(u64::MAX));
            let Some(done) = past(start, effects) else { break };
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
fn past(start: DrillStart, effects: Vec<Effect>) -> Option<PastDrill> {
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
                let text = TextCounts {
                    n_transcribed: counts.transcribed,
                    n_correct: counts.correct,
                    n_incorrect_not_fixed: counts.incorrect_not_fixed,
                    n_incorrect_fixed: counts.incorrect_fixed,
                    n_fixes: counts.fixes,
                };
                let end = DrillEnd::new(Ended::Done, result.active, Some(text));
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
