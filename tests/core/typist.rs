//! The simulated typist, driven through the real engine.

use crate::drills::text_offers;
use etude::drill::{Drill, Request, STROKES, What, generate};
use etude::keyboard::Output;
use etude::layout::{LayerId, Layout, RouteTable, shipped};
use etude::session::{Effect, Flags, Keystroke, Level, Session, Spec, Verdict};
use etude::typist::{Person, Typist};
use etude::units::Micros;
use std::collections::BTreeMap;
use std::sync::Arc;

fn tern_split() -> (Layout, Arc<RouteTable>) {
    let layout = shipped::load("tern-split").unwrap();
    let routes = Arc::new(RouteTable::build(&layout));
    (layout, routes)
}

fn drill(layout: &Layout, routes: &RouteTable, what: What, ordinal: u32) -> Drill {
    let (strokes, width, weights, recollect) = (STROKES, 72, None, None);
    generate(&Request {
        layout,
        routes,
        what,
        seed: 1,
        ordinal,
        strokes,
        width,
        weights,
        recollect,
    })
    .unwrap()
}

/// What a sitting of so many drills, all offers in turn, tells.
fn sitting(
    person: &Person,
    seed: u64,
    drills: u32,
    until: Micros,
) -> (Vec<Keystroke>, Vec<Micros>, Typist, usize) {
    let (layout, routes) = tern_split();
    let offers = text_offers(&layout, &routes);
    let mut typist = Typist::new(&layout, &routes, person.clone(), seed);
    let mut session = Session::new(Spec { routes: Arc::clone(&routes), level: Level::default() });
    let (mut strokes, mut downs, mut done) = (Vec::new(), Vec::new(), 0);
    for ordinal in 0..drills {
        let what = offers[ordinal as usize % offers.len()].what;
        let drill = drill(&layout, &routes, what, ordinal);
        for effect in typist.play(&mut session, drill, until) {
            match effect {
                Effect::Keystroke(keystroke) => strokes.push(*keystroke),
                Effect::Down { down, .. } => downs.push(down),
                Effect::DrillDone(_) => done += 1,
                Effect::Left(_) => panic!("a typist does not leave"),
                Effect::LineDone | Effect::Shown { .. } | Effect::Leaving(_) => {}
            }
        }
    }
    (strokes, downs, typist, done)
}

const EVER: Micros = Micros::from_secs(100_000);

#[test]
fn every_drill_is_played_to_its_end_and_by_the_seed() {
    let person = Person::default();
    let (one, downs, _, done) = sitting(&person, 7, 12, EVER);
    let (two, ..) = sitting(&person, 7, 12, EVER);
    let (other, ..) = sitting(&person, 8, 12, EVER);
    assert_eq!(done, 12);
    assert_eq!(one, two);
    assert_ne!(one, other);
    assert!(downs.len() * 10 > one.len() * 8, "{} releases of {}", downs.len(), one.len());
    let missed = one.iter().filter(|k| k.verdict == Verdict::Miss).count();
    let repaired = one.iter().filter(|k| k.verdict == Verdict::Repair).count();
    let paused = one.iter().filter(|k| k.flags.contains(Flags::PAUSE)).count();
    assert!(missed > 20 && repaired > 3 && paused > 0, "{missed} {repaired} {paused}");
    assert!(missed * 5 < one.len(), "{missed} of {}", one.len());
}

#[test]
fn a_sitting_stops_when_its_time_is_over() {
    let (strokes, _, _, done) = sitting(&Person::default(), 1, 1, Micros::from_secs(10));
    assert_eq!(done, 0);
    assert!((20..100).contains(&strokes.len()), "{}", strokes.len());
}

/// Without noise each time follows from the truth alone, so that what the
/// engine saw can be worked out from the typist's own figures.
#[test]
fn times_are_those_of_the_truth() {
    let person = Person {
        noise: 0.0,
        slips: (1e-9, 0.25),
        pauses: 0.0,
        first_of_day: 0.0,
        motor: (0.0, 0.0, 0.0),
        shift: (0.0, 0.0),
        learning_limits: (0.0, 0.0),
        entering: (0.9, 0.0),
        leaving: (0.5, 0.0),
        ..Person::default()
    };
    let (strokes, _, typist, _) = sitting(&person, 3, 6, EVER);
    let mut switched = 0;
    for pair in strokes.windows(2) {
        let keystroke = &pair[1];
        assert_eq!(keystroke.verdict, Verdict::Hit);
        let Some(latency) = keystroke.timed() else { continue };
        let skill = typist.skill(keystroke.layer, &keystroke.expected).unwrap();
        let mut log = skill.log();
        if let Some(switch) = typist.switch(keystroke.previous_layer, keystroke.layer) {
            log += switch.log();
            switched += 1;
        }
        assert!((latency.as_ms() - log.exp()).abs() < 0.01, "{keystroke:?}");
    }
    assert!(switched > 100);
}

#[test]
fn practice_makes_faster_and_days_take_some_of_it() {
    let (layout, routes) = tern_split();
    let brace = Output::char('{');
    let layer = routes.preferred(&brace).unwrap().layer;
    let log = |typist: &Typist| typist.skill(layer, &brace).unwrap().log();
    let fresh = Typist::new(&layout, &routes, Person::default(), 5);
    let (_, _, mut typist, _) = sitting(&Person::default(), 5, 24, EVER);
    let practised = log(&typist);
    assert!(practised < log(&fresh) - 0.1);
    assert!(typist.error_rate(layer, &brace) < fresh.error_rate(layer, &brace));
    let into = |typist: &Typist| typist.switch(LayerId::BASE, layer).unwrap().log();
    assert!(into(&typist) < into(&fresh));
    let e = typist.skill(LayerId::BASE, &Output::char('e')).unwrap().log();
    typist.sleep(30);
    assert!(log(&typist) > practised && log(&typist) < log(&fresh));
    let after = typist.skill(LayerId::BASE, &Output::char('e')).unwrap().log();
    assert!((after - e).abs() < 1e-12, "letters are typed every day");
}

/// Going in costs more than coming back, and a run inside costs less than
/// both: what was put in comes out of the engine.
#[test]
fn switches_cost_what_they_should() {
    let (strokes, ..) = sitting(&Person::default(), 11, 24, EVER);
    let mut by_pair: BTreeMap<(bool, bool), Vec<f64>> = BTreeMap::new();
    for k in &strokes {
        if let Some(latency) = k.timed() {
            let pair = (k.previous_layer == LayerId::BASE, k.layer == LayerId::BASE);
            by_pair.entry(pair).or_default().push(latency.as_ms().ln());
        }
    }
    let mean = |pair| by_pair[&pair].iter().sum::<f64>() / by_pair[&pair].len() as f64;
    let (inside, into) = (mean((false, false)), mean((true, false)));
    let (back, base) = (mean((false, true)), mean((true, true)));
    assert!(into > inside + 0.3, "{into} {inside}");
    assert!(back > base + 0.2, "{back} {base}");
}
