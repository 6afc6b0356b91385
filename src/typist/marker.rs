//! What the keyboard sends when the typist opens a layer that has a marker.

use super::Typist;
use super::play::key_event;
use crate::keyboard::Marker;
use crate::layout::{AccessKind, LayerId, Route, Target};
use crate::session::{Event, KeyState, Stroke};
use crate::units::Micros;

/// The access key held before comes up after this share of the reach to the
/// next. Our own choice.
const UP_AFTER: f64 = 0.25;

/// The reach takes at least this share of the time to the key. Our own choice.
const LEAST_REACH: f64 = 0.25;

/// A marker that goes down and up by itself is down for so long. Our own
/// choice.
const TAPPED: Micros = Micros::from_ms(8);

/// How the next key's layer is come to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arrival {
    /// The marker of its layer.
    marker: Option<Marker>,
    kind: AccessKind,
    /// True where the key before was on the same layer.
    stays: bool,
    /// From the access key to the key, ms.
    strike_ms: f64,
}

impl Typist {
    /// The right key is about to be struck, on the way `route` from the layer
    /// `from`; the hand takes `ms` for it.
    ///
    /// Once the access key is down, a share of what the key takes without the
    /// switch is left ([`super::Person::strike_share`]); all that the switch
    /// costs lies in the reach.
    pub(super) fn arrive(&mut self, route: &Route, from: LayerId, ms: f64) {
        let switch = self.switch(from, route.layer).map_or(0.0, super::Skill::log);
        let target = Target::Layer(route.layer);
        let opens = route.accesses.iter().map(|step| step.access).rfind(|a| a.target == target);
        self.arrival = Some(Arrival {
            marker: self.routes.marker(route.layer),
            kind: opens.map_or(AccessKind::Hold, |access| access.kind),
            stays: from == route.layer,
            strike_ms: ms * (-switch).exp() * self.person.strike_share,
        });
    }

    /// The events of markers from the key before to the key at `at`, in order.
    pub(super) fn marker_events(&mut self, at: Micros) -> Vec<Event> {
        let Some(Arrival { marker, kind, stays, strike_ms }) = self.arrival.take() else {
            return Vec::new();
        };
        let mut events = Vec::new();
        let held = self.held.filter(|_| stays && kind == AccessKind::Hold);
        if held.is_some() && held == marker {
            return events;
        }
        let before = self.now();
        let whole = at.since(before).0 as f64;
        let mut send = |marker, at, state| {
            if state == KeyState::Press || self.person.releases {
                events.push(key_event(at, Stroke::of_marker(marker), state));
            }
        };
        let reach = Micros((whole - strike_ms * 1000.0).max(whole * LEAST_REACH) as u64);
        if let Some(held) = self.held.take() {
            send(held, before + Micros((reach.0 as f64 * UP_AFTER) as u64), KeyState::Release);
        }
        // What is locked stays open by itself.
        let Some(marker) = marker.filter(|_| !(stays && kind == AccessKind::Lock)) else {
            return events;
        };
        let opened = before + reach;
        send(marker, opened, KeyState::Press);
        if kind == AccessKind::Hold {
            self.held = Some(marker);
        } else {
            send(marker, (opened + TAPPED).min(at), KeyState::Release);
        }
        events
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::{Request, STROKES, What, generate};
    use crate::layout::{Cluster, Layout, RouteTable, shipped};
    use crate::session::{Effect, Flags, Granted, Keystroke, Level, Session, Spec, Verdict};
    use crate::typist::{Person, Typist};
    use std::sync::Arc;

    /// Drills of punctuation at `layout`: the typist, and all keystrokes.
    fn drilled(layout: &Layout, releases: bool) -> (Typist, Vec<Keystroke>) {
        let routes = Arc::new(RouteTable::build(layout));
        let person = Person { releases, ..Person::default() };
        let mut typist = Typist::new(layout, &routes, person, 5);
        let level = if releases { Level::Enhanced(Granted::all()) } else { Level::Plain };
        let mut session = Session::new(Spec { routes: Arc::clone(&routes), level });
        let mut strokes = Vec::new();
        for ordinal in 0..6 {
            let request = Request {
                layout,
                routes: &routes,
                what: What::Cluster(Cluster::Punctuation),
                seed: 3,
                ordinal,
                strokes: STROKES,
                width: 72,
                weights: None,
                recollect: None,
            };
            let drill = generate(&request).unwrap();
            for effect in typist.play(&mut session, drill, Micros(u64::MAX)) {
                if let Effect::Keystroke(stroke) = effect {
                    strokes.push(*stroke);
                }
            }
        }
        (typist, strokes)
    }

    fn marked() -> Layout {
        let mut layout = shipped::load("tern-split").unwrap();
        for (layer, marker) in layout.layers.iter_mut().skip(1).zip(Marker::all()) {
            layer.marker = Some(marker);
        }
        layout
    }

    #[test]
    fn markers_tell_what_is_true_and_cost_nothing() {
        let (typist, strokes) = drilled(&marked(), true);
        let (_, without) = drilled(&shipped::load("tern-split").unwrap(), true);
        assert!(without.iter().all(|stroke| stroke.reach.is_none()));
        // The same hands at the same times, judged the same.
        let judged = |strokes: &[Keystroke]| -> Vec<_> {
            strokes.iter().map(|s| (s.at, s.verdict, s.latency, s.layer)).collect()
        };
        assert_eq!(judged(&strokes), judged(&without));

        let hits = |stroke: &&Keystroke| stroke.verdict == Verdict::Hit;
        let arrivals: Vec<&Keystroke> = strokes
            .iter()
            .filter(hits)
            .filter(|s| s.layer != LayerId::BASE && s.previous_layer != s.layer)
            .filter(|s| s.latency.is_some())
            .collect();
        assert!(arrivals.len() > 60, "{}", arrivals.len());
        let told = arrivals.iter().filter(|stroke| stroke.reach.is_some()).count();
        assert!(told * 100 >= arrivals.len() * 95, "{told} of {}", arrivals.len());
        assert!(arrivals.iter().all(|stroke| stroke.flags.contains(Flags::LAYER_HELD)));
        let kept = strokes.iter().filter(hits).filter(|s| s.layer == LayerId::BASE);
        assert!(kept.clone().all(|stroke| stroke.reach.is_none()));
        assert!(kept.count() > 60);

        // The strike is the share of the key's own time that it should be.
        let share = |stroke: &&Keystroke| {
            let (_, strike) = stroke.parts()?;
            let switch = typist.switch(stroke.previous_layer, stroke.layer)?.log().exp();
            Some(strike.0 as f64 * switch / stroke.latency?.0 as f64)
        };
        let mut shares: Vec<f64> = arrivals.iter().filter_map(share).collect();
        shares.sort_by(f64::total_cmp);
        let median = shares[shares.len() / 2];
        // The switch got easier on the way, and some latencies hold a pause.
        assert!((0.40..=0.55).contains(&median), "{median}");
    }

    #[test]
    fn without_releases_markers_only_go_down() {
        let (_, strokes) = drilled(&marked(), false);
        let told = strokes.iter().filter(|stroke| stroke.reach.is_some()).count();
        assert!(told > 60, "{told}");
        let let_go = Flags::LAYER_LET_GO | Flags::LAYER_LATCHED;
        assert!(strokes.iter().all(|stroke| !stroke.flags.intersects(let_go)));
    }
}
