//! What is kept of the hands: written, read, made small, brought up to date.

use crate::drills::text_offers;
use etude::drill::{Request, STROKES, generate};
use etude::layout::{LayerId, Layout, RouteTable, shipped};
use etude::model::hands::{ERROR_DAYS, Findings, Hands};
use etude::model::slip::Slips;
use etude::plan::Watch;
use etude::session::{Effect, Keystroke, Level, Session, Spec};
use etude::typist::{Person, Typist};
use etude::units::Micros;
use std::sync::Arc;

struct House {
    layout: Layout,
    routes: Arc<RouteTable>,
}

impl House {
    fn new() -> Self {
        let layout = shipped::load("tern-split").unwrap();
        let routes = Arc::new(RouteTable::build(&layout));
        Self { layout, routes }
    }

    /// Two drills a day on so many days, every offer in turn.
    fn history(&self, days: i32) -> Vec<(i32, Vec<Keystroke>)> {
        let Self { layout, routes } = self;
        let offers = text_offers(layout, routes);
        let mut typist = Typist::new(layout, routes, Person::default(), 3);
        let mut session =
            Session::new(Spec { routes: Arc::clone(routes), level: Level::default() });
        let mut drills = Vec::new();
        for ordinal in 0..u32::try_from(days * 2).unwrap() {
            let what = offers[ordinal as usize % offers.len()].what;
            let (strokes, width, weights, recollect) = (STROKES, 72, None, None);
            let request = Request {
                layout,
                routes,
                what,
                seed: 5,
                ordinal,
                strokes,
                width,
                weights,
                recollect,
            };
            let effects =
                typist.play(&mut session, generate(&request).unwrap(), Micros::from_secs(100_000));
            let keystrokes = effects.into_iter().filter_map(|effect| match effect {
                Effect::Keystroke(keystroke) => Some(*keystroke),
                _ => None,
            });
            drills.push((20_000 + i32::try_from(ordinal / 2).unwrap(), keystrokes.collect()));
        }
        drills
    }

    fn hands(&self, history: &[(i32, Vec<Keystroke>)]) -> Hands {
        let mut hands = Hands::default();
        for (day, keystrokes) in history {
            hands.add_drill(*day, &Slips::new(&self.layout, &self.routes), keystrokes);
        }
        hands
    }
}

#[test]
fn hands_and_findings_read_back_as_they_were_written() {
    let house = House::new();
    let mut hands = house.hands(&house.history(8));
    hands.settle();
    let bytes = hands.to_bytes();
    assert_eq!(Hands::from_bytes(&bytes).unwrap(), hands);
    let findings = Findings::of(&hands, 20_007, None);
    assert!(findings.items.len() > 60 && findings.switches.len() > 4, "{}", findings.items.len());
    assert_eq!(Findings::from_bytes(&findings.to_bytes()).unwrap(), findings);
    for cut in [0, 1, bytes.len() / 2, bytes.len() - 1] {
        assert!(Hands::from_bytes(&bytes[..cut]).is_err(), "{cut} bytes passed for hands");
    }
}

#[test]
fn being_made_small_moves_estimates_by_less_than_their_errors() {
    let house = House::new();
    let mut hands = house.hands(&house.history(12));
    let before = Findings::of(&hands, 20_011, None);
    hands.settle();
    let after = Findings::of(&hands, 20_011, None);
    let mut compared = 0;
    for (item, finding) in &before.items {
        let (Some(a), Some(b)) = (&finding.latency, &after.items[item].latency) else { continue };
        assert!((a.median.ms / b.median.ms).ln().abs() < 0.5 * a.error_ln, "{item:?} {a:?} {b:?}");
        let (Some(a), Some(b)) = (&finding.curve, &after.items[item].curve) else { continue };
        let error = a.covariance[1].sqrt();
        assert!((a.c - b.c).abs() < 0.5 * error, "{item:?} {a:?} {b:?}");
        compared += 1;
    }
    assert!(compared > 50, "{compared}");
}

/// A year of one item a day, by days long gone as well as new ones.
#[test]
fn hands_stay_small_however_long_the_history() {
    let house = House::new();
    let week = house.history(7);
    let mut hands = Hands::default();
    let slips = Slips::new(&house.layout, &house.routes);
    let mut sizes = Vec::new();
    for round in 0..72 {
        for (day, keystrokes) in &week {
            hands.add_drill(day + 7 * round, &slips, keystrokes);
        }
        if round % 12 == 11 {
            hands.settle();
            sizes.push(hands.to_bytes().len());
        }
    }
    let (early, late) = (sizes[2], sizes[5]);
    assert!(late < early + early / 4, "{sizes:?}");
    let errors = hands.errors();
    let due: u64 = errors.items.values().map(|item| item.n).sum();
    let week: usize = week.iter().map(|(_, keystrokes)| keystrokes.len()).sum();
    let weeks = usize::try_from(ERROR_DAYS / 7).unwrap();
    assert!(due > 0 && due <= (week * weeks) as u64, "{due} of {week} a week");
}

#[test]
fn what_was_not_struck_keeps_its_curve() {
    let house = House::new();
    let history = house.history(10);
    let (earlier, later) = history.split_at(16);
    let mut hands = house.hands(earlier);
    let first = Findings::of(&hands, 20_007, None);
    for (day, keystrokes) in later {
        hands.add_drill(*day, &Slips::new(&house.layout, &house.routes), keystrokes);
    }
    let second = Findings::of(&hands, 20_009, Some(&first));
    let anew = Findings::of(&hands, 20_009, None);
    let (mut kept, mut refitted) = (0, 0);
    for (item, finding) in &second.items {
        match first.items.get(item) {
            Some(old) if old.repetitions == finding.repetitions => {
                assert_eq!(old.curve, finding.curve);
                kept += 1;
            }
            _ => {
                assert_eq!(anew.items[item].curve, finding.curve);
                refitted += 1;
            }
        }
    }
    assert!(kept > 5 && refitted > 5, "{kept} kept, {refitted} refitted");
}

#[test]
fn beliefs_take_what_was_measured_and_leave_the_rest() {
    let house = House::new();
    let hands = house.hands(&house.history(10));
    let findings = Findings::of(&hands, 20_009, None);
    let assumed = Watch::new(&house.layout, &house.routes);
    let known = Watch::knowing(&house.layout, &house.routes, &findings);
    assert_eq!(
        Watch::knowing(&house.layout, &house.routes, &Findings::default()).beliefs(),
        assumed.beliefs()
    );
    let mut measured = 0;
    for (item, finding) in findings.items.iter().filter(|(item, _)| item.layer != LayerId::BASE) {
        let key = (item.layer, item.output.clone());
        let (Some(belief), Some(inside)) = (known.beliefs().items.get(&key), finding.inside_ms)
        else {
            continue;
        };
        let (log, error) = belief.course.log();
        let prior = assumed.beliefs().items[&key].course.log().1;
        assert!((log - inside.ln()).abs() < 1e-9 && error < prior, "{key:?}: {belief:?}");
        assert!((belief.course.times - finding.repetitions as f64).abs() < 1e-9);
        measured += 1;
    }
    assert!(measured > 40, "{measured}");
    let unmet = known.beliefs().items.iter().filter(|(key, belief)| {
        belief.course.times == 0.0 && assumed.beliefs().items[*key] == **belief
    });
    assert!(unmet.count() > 0, "everything was met in ten days");
}
