//! How well a page's time is forecast, on simulated typists with a known truth.
//!
//! `ETUDE_SIM_SEEDS=20 cargo test --test core forecast -- --nocapture` runs more
//! typists and prints the figures of docs/method.md.

use crate::plan::{House, text_drill};
use etude::drill::ItemKey;
use etude::model::hands::{Findings, Hands};
use etude::model::slip::Slips;
use etude::plan::{Pace, WorkMix};
use etude::session::{Effect, Level, Session, Spec};
use etude::typist::{Person, Typist};
use etude::units::Micros;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Typists that the plan's figures were not chosen on.
const FIRST_SEED: u64 = 3000;
const FIRST_DAY: i32 = 20_000;
const MINUTES_A_DAY: u64 = 10;
/// Days that are forecast.
const AHEAD: u32 = 30;

fn seeds() -> u64 {
    std::env::var("ETUDE_SIM_SEEDS").ok().and_then(|seeds| seeds.parse().ok()).unwrap_or(4)
}

/// A typist who practises lines of the text, ten minutes a day.
struct Learner<'a> {
    house: &'a House,
    typist: Typist,
    session: Session,
    hands: Hands,
    slips: Slips<'a>,
    seed: u64,
    day: i32,
    ordinal: u32,
}

impl<'a> Learner<'a> {
    fn new(house: &'a House, seed: u64) -> Self {
        let routes = Arc::clone(&house.routes);
        Self {
            typist: Typist::new(&house.layout, &house.routes, Person::default(), seed),
            session: Session::new(Spec { routes, level: Level::default() }),
            hands: Hands::default(),
            slips: Slips::new(&house.layout, &house.routes),
            house,
            seed,
            day: FIRST_DAY,
            ordinal: 0,
        }
    }

    /// Days of practice; how often each item was struck.
    fn practise(&mut self, days: u32) -> BTreeMap<ItemKey, f64> {
        let mut struck = BTreeMap::new();
        for _ in 0..days {
            let until = Micros(self.typist.now().0 + MINUTES_A_DAY * 60_000_000);
            while self.typist.now() < until {
                let drill = text_drill(self.house, self.seed, self.ordinal);
                self.ordinal += 1;
                let effects = self.typist.play(&mut self.session, drill, until);
                let strokes = effects.into_iter().filter_map(|effect| match effect {
                    Effect::Keystroke(stroke) => Some(*stroke),
                    _ => None,
                });
                let strokes: Vec<_> = strokes.collect();
                for stroke in &strokes {
                    let key = (stroke.layer, stroke.expected.clone());
                    *struck.entry(key).or_insert(0.0) += 1.0;
                }
                self.hands.add_drill(self.day, &self.slips, &strokes);
            }
            self.day += 1;
        }
        struck
    }

    fn seconds(&self) -> f64 {
        self.typist.text_seconds(&self.house.text)
    }
}

/// ln of what a page takes after [`AHEAD`] more days of practice as a share of what
/// it took after `known` days: as forecast, and in truth.
fn forecast(house: &House, seed: u64, known: u32) -> (f64, f64) {
    let mut learner = Learner::new(house, seed);
    learner.practise(known);
    let findings = if known == 0 {
        Findings::default()
    } else {
        Findings::of(&learner.hands, learner.day, None)
    };
    let pace = Pace::new(&house.layout, &house.routes, &house.need, &findings);
    let before = learner.seconds();
    let struck = learner.practise(AHEAD);
    let truth = (learner.seconds() / before).ln();
    let per_day = |key: &ItemKey| struck.get(key).copied().unwrap_or(0.0) / f64::from(AHEAD);
    let told = (pace.after(AHEAD, per_day).seconds / pace.now().seconds).ln();
    (told, truth)
}

#[test]
fn a_page_is_forecast_about_as_it_comes() {
    let house = House::of("tern-split", &WorkMix::default());
    // Nothing measured, as where a survey first promises; and after six days.
    for (known, bound) in [(0, 0.13), (6, 0.014)] {
        let all: Vec<(f64, f64)> =
            (FIRST_SEED..FIRST_SEED + seeds()).map(|seed| forecast(&house, seed, known)).collect();
        let mean =
            |of: &dyn Fn(&(f64, f64)) -> f64| all.iter().map(of).sum::<f64>() / all.len() as f64;
        let (told, truth) = (mean(&|one| one.0), mean(&|one| one.1));
        let off = mean(&|one| (one.0 - one.1).abs());
        println!(
            "| {known} | {:.1} % | {:.1} % | {off:.3} |",
            100.0 * told.exp_m1(),
            100.0 * truth.exp_m1()
        );
        assert!(off < bound, "{off:.3} after {known} days, {told:.3} told, {truth:.3} true");
    }
}
