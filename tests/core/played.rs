//! Whatever a layout can give, its routes give when Etude plays them.

use etude::keyboard::{Modifiers, NamedKey, Output, Position};
use etude::layout::{AccessKind, Layout, Route, RouteTable, Target, shipped};
use etude::played::{Host, Player, StandIn, StandIns, Way, played, stand_ins};
use etude::session::{Event, EventKind, Granted, KeyEvent, KeyState, Level, Stroke};
use etude::units::Micros;
use proptest::prelude::*;
use std::sync::Arc;

struct Hands {
    player: Player,
    host: Host,
    stand_ins: StandIns,
    positions: Vec<Position>,
    now: Micros,
    came: Vec<Output>,
    /// What came up.
    up: Vec<Output>,
}

impl Hands {
    fn new(layout: &str, wishes: &[&str], level: Level) -> Self {
        Self::on(&shipped::load(layout).unwrap(), wishes, level)
    }

    fn on(layout: &Layout, wishes: &[&str], level: Level) -> Self {
        let plain = shipped::load("plain-ansi").unwrap();
        let host = Host::new(&plain);
        let layout = Arc::new(played(layout));
        let wishes: Vec<StandIn> = wishes.iter().map(|wish| wish.parse().unwrap()).collect();
        let all = stand_ins(&layout, &host, &plain, &wishes).unwrap();
        let positions = layout.board.sites.iter().map(|site| site.position).collect();
        let player = Player::new(layout, host.clone(), all.clone(), level);
        let now = Micros::ZERO;
        Self { player, host, stand_ins: all, positions, now, came: Vec::new(), up: Vec::new() }
    }

    /// The stroke of the plain key that stands for the layout's `position`.
    fn stroke(&self, position: Position) -> Option<Stroke> {
        let index = self.positions.iter().position(|site| *site == position)?;
        let (at, _) = self.stand_ins.held.iter().find(|(_, stood)| **stood == index)?;
        let name = self.host.name_of(*at);
        if name == "Space" {
            return Some(Stroke::char(' '));
        }
        let mut chars = name.chars();
        match (chars.next(), chars.next()) {
            (Some(c), None) => Some(Stroke::char(c)),
            _ => name.parse().ok().map(|key| Stroke::named(key, Modifiers::empty())),
        }
    }

    fn event(&mut self, stroke: &Stroke, state: KeyState) {
        self.now = self.now + Micros::from_ms(20);
        let kind = EventKind::Key(KeyEvent { stroke: stroke.clone(), state, batched: false });
        for event in self.player.play(&Event { at: self.now, kind }) {
            let EventKind::Key(key) = event.kind else { continue };
            match key.state {
                KeyState::Press => self.came.push(key.stroke.output()),
                KeyState::Release => self.up.push(key.stroke.output()),
                KeyState::Repeat => {}
            }
        }
    }

    /// Plays `route`; false where the plain keyboard lacks a key of it.
    fn play(&mut self, route: &Route) -> bool {
        let Some(last) = self.stroke(route.position) else { return false };
        let mut held = Vec::new();
        for step in &route.accesses {
            let Some(stroke) = self.stroke(step.position) else { return false };
            // The host tells modifiers that it holds itself with each key.
            self.event(&stroke, KeyState::Press);
            match step.access.kind {
                AccessKind::Hold => held.push(stroke),
                AccessKind::Latch | AccessKind::Lock => self.event(&stroke, KeyState::Release),
            }
        }
        self.event(&last, KeyState::Press);
        self.event(&last, KeyState::Release);
        for stroke in held.iter().rev() {
            self.event(stroke, KeyState::Release);
        }
        true
    }
}

fn all() -> Level {
    Level::Enhanced(Granted::all())
}

/// Text joined, since a text of several characters comes one by one.
fn joined(came: &[Output]) -> String {
    came.iter().map(ToString::to_string).collect()
}

#[test]
fn every_route_of_a_played_layout_gives_its_output() {
    for (layout, least) in [("tern-laptop", 150), ("tern-split", 100), ("tern-small", 100)] {
        let table = RouteTable::build(&shipped::load(layout).unwrap());
        let (mut played, mut left_out) = (0, Vec::new());
        for (output, routes) in table.outputs() {
            let mut hands = Hands::new(layout, &[], all());
            assert_eq!(hands.player.way(), Way::Held);
            if hands.play(&routes[0]) {
                assert_eq!(joined(&hands.came), output.to_string(), "{layout}: {output}");
                assert_eq!(hands.player.wake_at(), None);
                played += 1;
            } else {
                left_out.push(output.to_string());
            }
        }
        assert!(played >= least, "{layout}: {played} played, not {left_out:?}");
    }
}

#[test]
fn every_layer_can_be_latched_where_releases_are_not_told() {
    let layout = shipped::load("tern-split").unwrap();
    let table = RouteTable::build(&layout);
    let mut played = 0;
    for (output, routes) in table.outputs() {
        let route = &routes[0];
        let mut hands = Hands::new("tern-split", &[], Level::Plain);
        let openers = hands.player.openers();
        let mut possible = true;
        for step in &route.accesses {
            let opener =
                openers.iter().find(|(_, layer, _)| step.access.target == Target::Layer(*layer));
            match opener {
                Some((key, ..)) => {
                    let key: NamedKey = key.parse().unwrap();
                    hands.event(&Stroke::named(key, Modifiers::empty()), KeyState::Press);
                }
                None => possible = false,
            }
        }
        let Some(last) = hands.stroke(route.position).filter(|_| possible) else { continue };
        hands.event(&last, KeyState::Press);
        assert_eq!(joined(&hands.came), output.to_string());
        // The latch is spent.
        hands.came.clear();
        hands.event(&Stroke::char('j'), KeyState::Press);
        assert_eq!(joined(&hands.came), "j", "after {output}");
        played += 1;
    }
    assert!(played > 90, "{played}");
}

#[test]
fn wishes_move_the_keys() {
    let table = RouteTable::build(&shipped::load("tern-split").unwrap());
    let mut hands = Hands::new("tern-split", &["symbols=CapsLock"], all());
    let output = Output::char('(');
    assert_eq!(hands.stroke("LT2".parse().unwrap()).unwrap().plain_key(), Some(NamedKey::CapsLock));
    assert!(hands.play(table.preferred(&output).unwrap()));
    assert_eq!(joined(&hands.came), "(");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// Plain typing in any rhythm loses nothing and keeps its order.
    #[test]
    fn plain_letters_always_come_through_in_order(
        keys in prop::collection::vec((0_usize..20, 1_u64..90, 0_u64..180), 1..60),
    ) {
        const LETTERS: &str = "asdfghjklqwertyuiop ";
        let mut hands = Hands::new("tern-laptop", &[], all());
        // Each key goes down some time after the one before, and comes up
        // after a time of its own: strokes overlap.
        let (mut at, mut events, mut typed) = (0, Vec::new(), String::new());
        let mut up_at = [0_u64; 20];
        for (key, after, down) in keys {
            at = (at + after).max(up_at[key] + 1);
            let c = LETTERS.chars().nth(key).unwrap();
            // A blank has two roles: here it is struck, never held within.
            let down = if c == ' ' { down.min(after.min(60)) } else { down }.max(1);
            up_at[key] = at + down;
            events.push((at, 1, c));
            events.push((at + down, 0, c));
            typed.push(c);
            if c == ' ' {
                at += down + 1;
            }
        }
        events.sort_unstable();
        for (at, press, c) in events {
            hands.now = Micros::from_ms(at);
            let state = if press == 1 { KeyState::Press } else { KeyState::Release };
            let kind = EventKind::Key(KeyEvent { stroke: Stroke::char(c), state, batched: false });
            for event in hands.player.play(&Event { at: hands.now, kind }) {
                if let EventKind::Key(key) = event.kind && key.state == KeyState::Press {
                    hands.came.push(key.stroke.output());
                }
            }
        }
        let came: String = hands.came.iter().filter_map(Output::as_char).collect();
        prop_assert_eq!(came, typed);
    }
}

#[test]
fn a_played_layer_sends_its_marker() {
    let mut layout = shipped::load("tern-split").unwrap();
    let symbols = layout.layer_named("symbols").unwrap();
    layout.layers[symbols.index()].marker = "F13".parse().ok();
    let table = RouteTable::build(&layout);
    let marker = Output::Key(NamedKey::F13);
    let brace = Output::char('{');
    // Held: down before the key, up after it.
    let mut hands = Hands::on(&layout, &[], all());
    assert!(hands.play(table.preferred(&brace).unwrap()));
    assert_eq!(hands.came, [marker.clone(), brace.clone()]);
    assert_eq!(hands.up.last(), Some(&marker), "{:?}", hands.up);
    // Opened by a key that can only be struck: down and up at once.
    let mut hands = Hands::on(&layout, &[], Level::Plain);
    let (key, _) = hands.stand_ins.struck.iter().find(|(_, layer)| **layer == symbols).unwrap();
    let opener = Stroke::named(*key, Modifiers::empty());
    hands.event(&opener, KeyState::Press);
    assert_eq!((&hands.came, &hands.up), (&vec![marker.clone()], &vec![marker]));
}
