//! Beliefs from priors and keystrokes alone, one keystroke at a time: what the
//! plan goes by where nothing better is known, and within a sitting.

use super::belief::{Beliefs, Course, ItemBelief, SwitchBelief};
use crate::drill::{DRILLED_KEYS, ItemKey, SwitchKey};
use crate::keyboard::{Finger, Modifiers, Output, Position};
use crate::layout::{LayerId, Layout, Route, RouteTable, Target};
use crate::model::hands::Findings;
use crate::session::{Flags, Keystroke, Verdict};
use std::collections::BTreeMap;

/// A key that was never struck: log of the operator K for random letters (Card,
/// Moran & Newell 1983: 500 ms); the error is our own estimate.
pub(crate) const UNMET: (f64, f64) = (6.215, 0.4);
/// A letter of a person who touch-types: 200 ms (the same, 55 words a minute).
const EVERYDAY: (f64, f64) = (5.298, 0.35);
/// How often a letter was typed before: too often to gain much. Our own
/// estimate.
const EVERYDAY_TIMES: f64 = 5000.0;
/// The time of a key typed for years goes with its effort against that of the
/// mean letter, to this power: a digit on its far row then takes about 1.4, a
/// capital 2 times as long as a letter. Our own estimate, beside a password's
/// "5" of 281 ms and "R" of 370 ms where its letters took 117 to 189 ms
/// (Killourhy & Maxion 2009, medians).
pub(crate) const EFFORT_POWER: f64 = 0.7;
/// Exponent of the power law of practice (docs/plan.md).
pub(crate) const EXPONENT: (f64, f64) = (0.11, 0.06);
/// Log ratios of going into a layer and of going back to the base layer
/// (Killourhy & Maxion 2009 for Shift: .57 to .60 and .37 to .38, skilled;
/// new layers cost more: our own estimate), and their exponent (our own
/// estimate).
const ENTERING: (f64, f64) = (0.8, 0.3);
const LEAVING: (f64, f64) = (0.5, 0.3);
const SWITCH_EXPONENT: (f64, f64) = (0.05, 0.04);
/// Wrong and right tries that each item starts with: one in twelve wrong for a
/// new one, one in forty for a letter (our own estimate).
const NEW_ERRORS: (f64, f64) = (1.0, 11.0);
const EVERYDAY_ERRORS: (f64, f64) = (1.0, 39.0);
/// Variance of a single log latency about its median (our own estimate).
const NOISE: f64 = 0.09;
/// Same hand, one key twice, same finger, against alternate hands, logs: see
/// docs/plan.md.
const MOTOR: (f64, f64, f64) = (0.118, 0.332, 0.509);

/// Beliefs that keystrokes keep up to date.
#[derive(Debug, Clone)]
pub struct Watch {
    beliefs: Beliefs,
    before: Option<(Position, Finger)>,
}

impl Watch {
    /// What can be said of a person who touch-types and has used no layer of
    /// `layout` yet.
    pub fn new(layout: &Layout, routes: &RouteTable) -> Self {
        let mut beliefs = Beliefs::default();
        for (output, routes) in routes.outputs() {
            for route in routes {
                let known = everyday(output, route);
                beliefs.items.entry((route.layer, output.clone())).or_insert_with(|| {
                    let (log, times, errors) = if known {
                        (EVERYDAY, EVERYDAY_TIMES, EVERYDAY_ERRORS)
                    } else {
                        (UNMET, 0.0, NEW_ERRORS)
                    };
                    ItemBelief { course: Course::standing_at(log, EXPONENT, times), errors }
                });
            }
        }
        for (from, _) in layout.layers() {
            for (to, _) in layout.layers().filter(|(to, _)| *to != from) {
                let log = if to == LayerId::BASE { LEAVING } else { ENTERING };
                let course = Course::standing_at(log, SWITCH_EXPONENT, 0.0);
                beliefs.switches.insert((from, to), SwitchBelief { course });
            }
        }
        Self { beliefs, before: None }
    }

    /// The same of a person of whom `findings` are known: what was measured
    /// takes the place of what is assumed, with the error that it has.
    pub fn knowing(layout: &Layout, routes: &RouteTable, findings: &Findings) -> Self {
        Self::new(layout, routes).told(findings)
    }

    /// The same with the chords by hand that `routes` has taken in, as keys that
    /// were never struck.
    #[must_use]
    pub fn and_by_hand(mut self, routes: &RouteTable) -> Self {
        for (output, route) in routes.by_hands() {
            let course = Course::standing_at(UNMET, EXPONENT, 0.0);
            let belief = ItemBelief { course, errors: NEW_ERRORS };
            self.beliefs.items.entry((route.layer, output.clone())).or_insert(belief);
        }
        self
    }

    /// What can be said of a person who has typed on `layout` for years: every
    /// key by its effort, and chords by hand too. Keys that lines don't hold go
    /// by those of them that `findings` have measured.
    pub fn of_years(layout: &Layout, routes: &RouteTable, findings: &Findings) -> Self {
        let mut watch = Self::new(layout, routes);
        let letters: Vec<f64> = ('a'..='z')
            .filter_map(|c| Some(f64::from(routes.preferred(&Output::char(c))?.effort)))
            .collect();
        let mean = letters.iter().sum::<f64>() / (letters.len() as f64).max(1.0);
        let all = routes.outputs().flat_map(|(output, all)| all.iter().map(move |r| (output, r)));
        let mut logs: BTreeMap<ItemKey, f64> = BTreeMap::new();
        for (output, route) in all.chain(routes.by_hands()) {
            let key: ItemKey = (route.layer, output.clone());
            if everyday(output, route) && route.accesses.is_empty() || logs.contains_key(&key) {
                continue;
            }
            let ratio = (f64::from(route.effort) / mean.max(f64::MIN_POSITIVE)).ln().max(0.0);
            logs.insert(key, EVERYDAY.0 + EFFORT_POWER * ratio);
        }
        let slower = slower(&logs, findings);
        for (key, log) in logs {
            let log = if is_of_lines(&key) { log } else { log + slower };
            let course = Course::standing_at((log, EVERYDAY.1), EXPONENT, EVERYDAY_TIMES);
            watch.beliefs.items.insert(key, ItemBelief { course, errors: EVERYDAY_ERRORS });
        }
        watch
    }

    /// The same with what `findings` know in the place of what is assumed.
    #[must_use]
    pub fn told(self, findings: &Findings) -> Self {
        let mut watch = self;
        let mut struck: BTreeMap<ItemKey, u64> = BTreeMap::new();
        for (item, finding) in &findings.items {
            let key: ItemKey = (item.layer, item.output.clone());
            let Some(belief) = watch.beliefs.items.get_mut(&key) else { continue };
            // An output on several keys of a layer goes by the one struck most.
            let most = struck.entry(key).or_default();
            if finding.repetitions < *most {
                continue;
            }
            *most = finding.repetitions;
            let times = finding.repetitions as f64;
            let prior = belief.course;
            if let (Some(latency), Some(inside_ms)) = (&finding.latency, finding.inside_ms) {
                let log = (inside_ms.ln(), latency.error_ln);
                // What was typed for years falls no more by the few repetitions
                // that were measured.
                let everyday = prior.times >= EVERYDAY_TIMES;
                let c = match &finding.curve {
                    Some(curve) if !everyday => (curve.c, curve.covariance[1].max(0.0).sqrt()),
                    _ => EXPONENT,
                };
                let before = if everyday { EVERYDAY_TIMES } else { 0.0 };
                belief.course = Course::standing_at(log, c, before + times);
            } else {
                belief.course.times += times;
            }
            belief.errors = finding.errors.posterior;
        }
        for (pair, finding) in &findings.switches {
            let Some(belief) = watch.beliefs.switches.get_mut(pair) else { continue };
            let times = finding.times as f64;
            if finding.told.cost().is_some() {
                belief.course = Course::standing_at(finding.ln, SWITCH_EXPONENT, times);
            } else {
                belief.course.times = times;
            }
        }
        watch
    }

    /// The same with switches that were never measured as those that `findings`
    /// have, into a layer or back: the mean of all, what is assumed being one of
    /// them.
    #[must_use]
    pub fn switching_alike(mut self, findings: &Findings) -> Self {
        let is_entry = |pair: &SwitchKey| pair.1 != LayerId::BASE;
        let measured = |pair: &SwitchKey| {
            findings.switches.get(pair).filter(|finding| finding.told.cost().is_some())
        };
        for (entry, assumed) in [(true, ENTERING), (false, LEAVING)] {
            let weight = |error: f64| (assumed.1.powi(2) + error.powi(2)).recip();
            let (mut sum, mut weights) = (weight(0.0) * assumed.0, weight(0.0));
            let known = findings.switches.keys().filter(|pair| is_entry(pair) == entry);
            for finding in known.filter_map(measured) {
                sum += weight(finding.ln.1) * finding.ln.0;
                weights += weight(finding.ln.1);
            }
            for (pair, belief) in &mut self.beliefs.switches {
                if is_entry(pair) == entry && measured(pair).is_none() {
                    let log = (sum / weights, assumed.1);
                    belief.course = Course::standing_at(log, SWITCH_EXPONENT, belief.course.times);
                }
            }
        }
        self
    }

    /// Goes on from `beliefs`.
    pub const fn of(beliefs: Beliefs) -> Self {
        Self { beliefs, before: None }
    }

    /// What is known now.
    pub const fn beliefs(&self) -> &Beliefs {
        &self.beliefs
    }

    /// Takes in one keystroke.
    pub fn see(&mut self, keystroke: &Keystroke) {
        let here = keystroke.position.zip(keystroke.finger);
        let before = self.before.take();
        if keystroke.verdict != Verdict::Miss {
            self.before = here;
        }
        let key: ItemKey = (keystroke.layer, keystroke.expected.clone());
        let Some(item) = self.beliefs.items.get_mut(&key) else { return };
        let first_try = !keystroke.flags.contains(Flags::RETRY);
        match keystroke.verdict {
            Verdict::Repair => return,
            Verdict::Miss => {
                item.errors.0 += f64::from(u8::from(first_try));
                return;
            }
            Verdict::Hit => item.errors.1 += f64::from(u8::from(first_try)),
        }
        let pair: SwitchKey = (keystroke.previous_layer, keystroke.layer);
        let switch = (pair.0 != pair.1).then(|| self.beliefs.switches.get_mut(&pair)).flatten();
        if let Some(latency) = keystroke.timed() {
            let motor = match (before, here) {
                (Some(before), Some(here)) => motor(before, here),
                _ => 0.0,
            };
            let log = latency.as_ms().ln() - motor;
            if let Some(switch) = switch {
                // Each is told as well as the other is known.
                let ((own, own_error), (ratio, ratio_error)) =
                    (item.course.log(), switch.course.log());
                item.course.observe(log - ratio, NOISE + ratio_error * ratio_error);
                switch.course.observe(log - own, NOISE + own_error * own_error);
                switch.course.times += 1.0;
            } else {
                item.course.observe(log, NOISE);
            }
        } else if let Some(switch) = switch {
            switch.course.times += 1.0;
        }
        item.course.times += 1.0;
    }
}

/// True for what somebody who touch-types strikes all day: text of the base
/// layer by a plain key, or with Shift.
fn everyday(output: &Output, route: &Route) -> bool {
    let shift = Target::Modifier(Modifiers::SHIFT);
    route.layer == LayerId::BASE
        && route.accesses.iter().all(|step| step.access.target == shift)
        && output.as_char().is_some_and(|c| c.is_alphabetic() || c == ' ')
}

fn motor(before: (Position, Finger), here: (Position, Finger)) -> f64 {
    if before.0 == here.0 {
        MOTOR.1
    } else if before.1 == here.1 {
        MOTOR.2
    } else if before.1.hand == here.1.hand {
        MOTOR.0
    } else {
        0.0
    }
}
/// True for what lines of text hold, where nothing is to be decided.
fn is_of_lines(key: &ItemKey) -> bool {
    match &key.1 {
        Output::Text(_) => true,
        Output::Key(key) => DRILLED_KEYS.contains(key),
        Output::Chord(_) => false,
    }
}

/// By how much keys that lines don't hold are slower than their `logs`, a logarithm: the
/// mean over those that were measured, which hold what there is to decide in
/// drills of tasks and of shortcuts. Drawn to zero as by one key more
/// (precision-weighted; the error of `logs` is that of a key typed for years).
fn slower(logs: &BTreeMap<ItemKey, f64>, findings: &Findings) -> f64 {
    let (mut sum, mut weights) = (0.0, EVERYDAY.1.powi(-2));
    for (item, finding) in &findings.items {
        let key: ItemKey = (item.layer, item.output.clone());
        let told = finding.latency.as_ref().zip(finding.inside_ms).filter(|_| !is_of_lines(&key));
        if let (Some(log), Some((latency, inside_ms))) = (logs.get(&key), told) {
            let weight = (EVERYDAY.1.powi(2) + latency.error_ln.powi(2)).recip();
            sum += weight * (inside_ms.ln() - log);
            weights += weight;
        }
    }
    sum / weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::model::errors::ErrorRate;
    use crate::model::hands::{ItemFinding, SwitchFinding};
    use crate::model::latency::Latency;
    use crate::model::switch::{Cost, Told};
    use crate::model::{Estimate, Item};

    #[test]
    fn switches_go_by_those_that_were_measured() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let watch = Watch::new(&layout, &routes);
        let mut findings = Findings::default();
        let ms = Estimate { ms: 90.0, low_ms: 80.0, high_ms: 100.0 };
        let told = Told::Cost(Cost { ms, ratio: (1.2, 1.2, 1.2), n: 50, n_effective: 50.0 });
        for to in [1, 2] {
            let finding = SwitchFinding { told, ln: (0.2, 0.0), times: 50 };
            findings.switches.insert((LayerId::BASE, LayerId(to)), finding);
        }
        let logs = |watch: &Watch, pair| watch.beliefs().switches[&pair].course.log().0;
        let alike = watch.clone().told(&findings).switching_alike(&findings);
        let never = (LayerId::BASE, LayerId(3));
        assert!((logs(&alike, never) - (ENTERING.0 + 0.4) / 3.0).abs() < 1e-9);
        for pair in [(LayerId::BASE, LayerId(1)), (LayerId(2), LayerId::BASE)] {
            let before = logs(&watch.clone().told(&findings), pair);
            assert!((logs(&alike, pair) - before).abs() < 1e-9, "{pair:?}");
        }
    }

    #[test]
    fn keys_beside_text_go_by_those_that_were_measured() {
        let layout = shipped::load("plain-ansi").unwrap();
        let mut routes = RouteTable::build(&layout);
        let chords: Vec<Output> =
            ["Ctrl+C", "Ctrl+V", "Ctrl+X", "Ctrl+Z"].map(|c| c.parse().unwrap()).to_vec();
        routes.add_chords(&layout, &chords);
        let log_of = |findings: &Findings, output: &Output| {
            let watch = Watch::of_years(&layout, &routes, findings);
            let layer = routes.to(output).unwrap().layer;
            watch.beliefs().items[&(layer, output.clone())].course.log().0
        };
        let nothing = Findings::default();
        let assumed: Vec<f64> = chords.iter().map(|chord| log_of(&nothing, chord)).collect();
        let measured = |n: usize, times: f64| {
            let mut findings = Findings::default();
            for (chord, log) in chords.iter().zip(&assumed).take(n) {
                let route = routes.to(chord).unwrap();
                let ms = log.exp() * times;
                let item = Item {
                    layer: route.layer,
                    position: Some(route.position),
                    output: chord.clone(),
                };
                let latency = Latency {
                    n: 9,
                    n_effective: 9.0,
                    median: Estimate { ms, low_ms: ms, high_ms: ms },
                    raw_ms: ms,
                    sd_ln: 0.3,
                    error_ln: 0.0,
                };
                let finding = ItemFinding {
                    latency: Some(latency),
                    inside_ms: Some(ms),
                    curve: None,
                    repetitions: 9,
                    n_days: 2,
                    errors: ErrorRate { n: 9, errors: 0, posterior: (1.0, 9.0) },
                    mistakes: Vec::new(),
                    slips: Vec::new(),
                };
                findings.items.insert(item, finding);
            }
            findings
        };
        // Three that take twice as long, and one more that is drawn to zero.
        let moved = log_of(&measured(3, 2.0), &chords[3]) - assumed[3];
        assert!((moved - 0.75 * 2_f64.ln()).abs() < 1e-9, "{moved}");
        assert!(log_of(&measured(2, 0.5), &chords[3]) < assumed[3]);
        // Letters and what lines hold stay.
        for output in ["1", "Enter"].map(|word| word.parse::<Output>().unwrap()) {
            let (then, now) = (log_of(&nothing, &output), log_of(&measured(3, 2.0), &output));
            assert!((then - now).abs() < 1e-12, "{output}");
        }
    }
}
