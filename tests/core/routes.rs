//! Routes against a brute-force walk of small random layouts.
//!
//! The walk here is written anew and plainly: it plays every sequence of up
//! to four accesses, strikes every key, and asks of each proper subset of the
//! accesses whether it would have done.

use etude::keyboard::{
    Board, BoardForm, Chord, ChordKey, Digit, Finger, Hand, Modifiers, NamedKey, Output, Position,
    Row, Site,
};
use etude::layout::walk::Walk;
use etude::layout::{
    Access, AccessKind, Action, Assignment, Cluster, Layer, LayerId, Layout, Route, RouteTable,
    ShiftTable, Target, routes, shipped,
};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

const MODIFIERS: [Modifiers; 3] = [Modifiers::SHIFT, Modifiers::CTRL, Modifiers::ALT];

fn access(layers: usize, kind: AccessKind) -> impl Strategy<Value = Access> {
    prop_oneof![
        3 => (0..layers as u8).prop_map(|id| Target::Layer(LayerId(id))),
        1 => prop::sample::select(MODIFIERS.as_slice()).prop_map(Target::Modifier),
    ]
    .prop_map(move |target| Access { kind, target })
}

fn gives() -> impl Strategy<Value = Assignment> {
    prop_oneof![
        // Few characters, so that outputs have several homes; Shift joins some.
        6 => prop::sample::select(vec!['a', 'b', 'A', '1', '!', ' ']).prop_map(Output::char),
        1 => Just(Output::Text("=>".to_owned())),
        1 => Just(Output::Key(NamedKey::Enter)),
        1 => Just(Output::Chord(Chord {
            modifiers: Modifiers::CTRL,
            key: ChordKey::Char('a'),
        })),
    ]
    .prop_map(Assignment::Gives)
}

fn assignment(layers: usize) -> impl Strategy<Value = Assignment> {
    let kinds = [AccessKind::Hold, AccessKind::Latch, AccessKind::Lock];
    prop_oneof![
        4 => gives(),
        1 => Just(Assignment::Does("act".to_owned())),
        4 => Just(Assignment::FallThrough),
        1 => Just(Assignment::Nothing),
        5 => prop::sample::select(kinds.to_vec())
            .prop_flat_map(move |kind| access(layers, kind).prop_map(Assignment::Access)),
        2 => (gives(), access(layers, AccessKind::Hold))
            .prop_map(|(tap, hold)| Assignment::Dual { tap: Box::new(tap), hold }),
    ]
}

fn finger() -> impl Strategy<Value = Finger> {
    let digits = [Digit::Thumb, Digit::Index, Digit::Little];
    (any::<bool>(), prop::sample::select(digits.to_vec()))
        .prop_map(|(left, digit)| Finger::new(if left { Hand::Left } else { Hand::Right }, digit))
}

fn small_layout() -> impl Strategy<Value = Layout> {
    (2_usize..=8, 1_usize..=3).prop_flat_map(|(keys, layers)| {
        let sheet = prop::collection::vec(assignment(layers), keys);
        (
            prop::collection::vec(finger(), keys),
            prop::collection::vec(sheet, layers),
            prop::option::of((0..layers as u8, 0..keys as u8)),
        )
            .prop_map(move |(fingers, sheets, pin)| small(&fingers, sheets, pin))
    })
}

fn small(fingers: &[Finger], sheets: Vec<Vec<Assignment>>, pin: Option<(u8, u8)>) -> Layout {
    let sites = fingers.iter().enumerate().map(|(index, finger)| Site {
        position: Position::main(Row::C, index as u8),
        x: index as f32,
        y: 0.0,
        width: 1.0,
        height: 1.0,
        rotation_deg: 0.0,
        finger: *finger,
        home: index % 2 == 0,
    });
    let layers = sheets.into_iter().enumerate().map(|(number, keys)| Layer {
        name: format!("layer{number}"),
        cluster: Cluster::Other,
        sign: number.to_string(),
        marker: None,
        keys,
    });
    let action = Action {
        chord: Chord { modifiers: Modifiers::ALT, key: ChordKey::Named(NamedKey::Tab) },
        title: "act".to_owned(),
    };
    let pin =
        pin.map(|(layer, key)| (Output::char('a'), (LayerId(layer), Position::main(Row::C, key))));
    Layout {
        reasons: Vec::new(),
        name: "small".to_owned(),
        title: "Small".to_owned(),
        board: Board {
            name: "small".to_owned(),
            title: "Small".to_owned(),
            form: BoardForm::Free,
            rows: vec![fingers.len()],
            sites: sites.collect(),
        },
        fingers: BTreeMap::new(),
        old_way: None,
        shift: ShiftTable::default(),
        actions: BTreeMap::from([("act".to_owned(), action)]),
        prefer: pin.into_iter().collect(),
        layers: layers.collect(),
    }
}

type Step = (usize, Access);

/// What the keyboard does: everything active, in order, with the key held.
#[derive(Clone, Default)]
struct Played {
    active: Vec<(Access, Option<usize>)>,
}

impl Played {
    fn held(&self) -> impl Iterator<Item = usize> + '_ {
        self.active.iter().filter_map(|(_, by)| *by)
    }

    fn free(&self, layout: &Layout, key: usize) -> bool {
        let sites = &layout.board.sites;
        self.held().all(|held| held != key && sites[held].finger != sites[key].finger)
    }

    fn find<'a>(&self, layout: &'a Layout, key: usize) -> (LayerId, &'a Assignment) {
        for (access, _) in self.active.iter().rev() {
            if let Target::Layer(id) = access.target {
                let assignment = &layout.layers[id.index()].keys[key];
                if *assignment != Assignment::FallThrough {
                    return (id, assignment);
                }
            }
        }
        (LayerId::BASE, &layout.layers[0].keys[key])
    }

    fn modifiers(&self) -> Modifiers {
        let mut all = Modifiers::empty();
        for (access, _) in &self.active {
            if let Target::Modifier(modifier) = access.target {
                all |= modifier;
            }
        }
        all
    }

    fn step(&mut self, layout: &Layout, key: usize) -> Option<Access> {
        let access = match self.find(layout, key).1 {
            Assignment::Access(access) => *access,
            Assignment::Dual { hold, .. } => *hold,
            _ => return None,
        };
        let active = access.target == Target::Layer(LayerId::BASE)
            || self.active.iter().any(|(other, _)| other.target == access.target);
        if active || !self.free(layout, key) {
            return None;
        }
        self.active.push((access, (access.kind == AccessKind::Hold).then_some(key)));
        Some(access)
    }

    fn strike(&self, layout: &Layout, key: usize) -> Option<(Output, LayerId)> {
        if !self.free(layout, key) {
            return None;
        }
        let (layer, assignment) = self.find(layout, key);
        let plain = match assignment {
            Assignment::Gives(output) => output.clone(),
            Assignment::Does(name) => Output::Chord(layout.actions[name].chord),
            Assignment::Dual { tap, .. } => match tap.as_ref() {
                Assignment::Gives(output) => output.clone(),
                _ => return None,
            },
            _ => return None,
        };
        Some((layout.with_modifiers(&plain, self.modifiers())?, layer))
    }

    fn play(layout: &Layout, steps: &[Step]) -> Option<Self> {
        let mut played = Self::default();
        for (key, access) in steps {
            if played.step(layout, *key)? != *access {
                return None;
            }
        }
        Some(played)
    }
}

/// Regardless of order: the steps, and the last key.
type Kind = (BTreeSet<Step>, usize);
/// In order: the steps, the layer that gives, the modifiers.
type Way = (Vec<Step>, LayerId, Modifiers);
type Ways = BTreeMap<Kind, Way>;

fn brute(layout: &Layout) -> BTreeMap<Output, Ways> {
    let keys = layout.board.sites.len();
    let mut found: BTreeMap<Output, Ways> = BTreeMap::new();
    let mut sequences: Vec<Vec<Step>> = vec![Vec::new()];
    let mut at = 0;
    while at < sequences.len() {
        let steps = sequences[at].clone();
        at += 1;
        let played = Played::play(layout, &steps).unwrap();
        for key in 0..keys {
            if let Some((output, layer)) = played.strike(layout, key)
                && !fewer_do(layout, &steps, key, &output)
            {
                let kind = (steps.iter().copied().collect(), key);
                let route = (steps.clone(), layer, played.modifiers());
                let order = |steps: &[Step]| steps.iter().map(|s| s.0).collect::<Vec<_>>();
                let routes = found.entry(output).or_default();
                let known = routes.entry(kind).or_insert_with(|| route.clone());
                if order(&route.0) < order(&known.0) {
                    *known = route;
                }
            }
            if steps.len() < 4
                && let Some(access) = played.clone().step(layout, key)
            {
                let mut longer = steps.clone();
                longer.push((key, access));
                sequences.push(longer);
            }
        }
    }
    found
}

fn fewer_do(layout: &Layout, steps: &[Step], key: usize, output: &Output) -> bool {
    (0..(1_u32 << steps.len()) - 1).any(|chosen| {
        let some: Vec<Step> = (0..steps.len())
            .filter(|index| chosen & (1 << index) != 0)
            .map(|index| steps[index])
            .collect();
        Played::play(layout, &some)
            .and_then(|played| played.strike(layout, key))
            .is_some_and(|(other, _)| other == *output)
    })
}

fn index(layout: &Layout, position: Position) -> usize {
    layout.board.index_of(position).unwrap()
}

fn kind_of(layout: &Layout, route: &Route) -> (Kind, Way) {
    let steps: Vec<Step> =
        route.accesses.iter().map(|s| (index(layout, s.position), s.access)).collect();
    let kind = (steps.iter().copied().collect(), index(layout, route.position));
    (kind, (steps, route.layer, route.modifiers))
}

fn collected(layout: &Layout, routes: &[Route]) -> Ways {
    let all: BTreeMap<_, _> = routes.iter().map(|route| kind_of(layout, route)).collect();
    assert_eq!(all.len(), routes.len(), "no route stands twice");
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn routes_are_complete_and_minimal(layout in small_layout()) {
        let expected = brute(&layout);
        for (output, wanted) in &expected {
            prop_assert_eq!(&collected(&layout, &routes(&layout, output)), wanted, "{}", output);
        }
        // The table: the same, for all that needs neither Ctrl nor Alt held.
        let table = RouteTable::build(&layout);
        for (output, wanted) in &expected {
            let plain: BTreeMap<_, _> = wanted
                .iter()
                .filter(|(_, (_, _, modifiers))| Modifiers::SHIFT.contains(*modifiers))
                .map(|(kind, route)| (kind.clone(), route.clone()))
                .collect();
            prop_assert_eq!(collected(&layout, table.all(output)), plain, "{}", output);
        }
        for (output, _) in table.outputs() {
            prop_assert!(expected.contains_key(output));
        }
    }

    #[test]
    fn preferred_routes_are_pinned_or_least(layout in small_layout()) {
        for (output, routes) in RouteTable::build(&layout).outputs() {
            let pin = layout.prefer.get(output);
            let pinned = |route: &Route| pin == Some(&(route.layer, route.position));
            for pair in routes.windows(2) {
                let (first, second) = (pinned(&pair[0]), pinned(&pair[1]));
                let in_order = if first == second {
                    pair[0].effort <= pair[1].effort
                } else {
                    first
                };
                prop_assert!(in_order, "{}: {:?}", output, pair);
            }
        }
    }

    /// Keys held longer, layers under way: the walk never forgets or panics.
    #[test]
    fn walks_end_where_they_began(layout in small_layout(), keys in prop::collection::vec(0_usize..9, 0..20)) {
        let mut walk = Walk::new(&layout);
        for key in keys {
            let before = walk.clone();
            match walk.access(key) {
                Some(access) if access.kind == AccessKind::Hold => {
                    prop_assert!(before.can_press(key) && !walk.can_press(key));
                    prop_assert!(walk.is_active(access.target));
                }
                Some(_) => prop_assert!(walk.can_press(key)),
                None => {
                    if let Some(struck) = walk.strike(key) {
                        prop_assert_eq!(struck.modifiers, before.modifiers());
                    }
                }
            }
            if key % 3 == 0 {
                walk.release(key);
                prop_assert!(walk.blocked_by(key) != Some(key));
            }
        }
        walk.release_all();
        prop_assert!((0..layout.board.sites.len()).all(|key| walk.can_press(key)));
    }
}

#[test]
fn every_shipped_route_gives_its_output_when_walked() {
    for name in shipped::names() {
        let layout = shipped::load(name).unwrap();
        for (output, routes) in RouteTable::build(&layout).outputs() {
            for route in routes {
                let mut walk = Walk::new(&layout);
                for step in &route.accesses {
                    let access = walk.access(index(&layout, step.position));
                    assert_eq!(access, Some(step.access), "{name} {output}");
                }
                let struck = walk.strike(index(&layout, route.position)).unwrap();
                assert_eq!((&struck.output, struck.layer), (output, route.layer), "{name}");
                assert!(route.effort.is_finite() && route.effort > 0.0);
            }
        }
    }
}

#[test]
fn a_capital_can_be_had_by_either_shift_and_a_chord_by_held_modifiers() {
    let layout = shipped::load("plain-ansi").unwrap();
    // The left Shift's finger also strikes A: only the right one serves.
    let shifts = |c| {
        let routes = routes(&layout, &Output::char(c));
        routes.iter().map(|r| r.accesses[0].position.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(shifts('A'), ["B12"]);
    assert_eq!(shifts('F'), ["B12", "B99"]);
    assert_eq!(shifts('P'), ["B99"]);
    let chord = "Ctrl+Shift+F".parse().unwrap();
    let held: Vec<Vec<String>> = routes(&layout, &chord)
        .iter()
        .map(|r| r.accesses.iter().map(|step| step.position.to_string()).collect())
        .collect();
    assert_eq!(held.len(), 2, "{held:?}");
    assert!(RouteTable::build(&layout).preferred(&chord).is_none());
}

#[test]
fn latches_outlast_accesses_and_end_with_the_output() {
    let latch = |target| Assignment::Access(Access { kind: AccessKind::Latch, target });
    let text = |c| Assignment::Gives(Output::char(c));
    let fingers: Vec<Finger> =
        ["L5", "L4", "L3"].iter().map(|finger| finger.parse().unwrap()).collect();
    let layout = small(
        &fingers,
        vec![
            vec![
                latch(Target::Layer(LayerId(1))),
                latch(Target::Modifier(Modifiers::SHIFT)),
                text('a'),
            ],
            vec![Assignment::FallThrough, Assignment::FallThrough, text('b')],
        ],
        None,
    );
    let mut walk = Walk::new(&layout);
    walk.access(0).unwrap();
    walk.access(1).unwrap();
    assert_eq!(walk.strike(2).unwrap().output, Output::char('B'));
    assert_eq!(walk.strike(2).unwrap().output, Output::char('a'));
}

#[test]
fn a_run_within_a_held_layer_is_not_broken() {
    let mut layout = shipped::load("tern-split").unwrap();
    let exclamation = Output::char('!');
    let punctuation = layout.layer_named("punctuation").unwrap();
    layout.prefer.insert(exclamation.clone(), (punctuation, "D01".parse().unwrap()));
    let table = RouteTable::build(&layout);
    let layer_after = |before: Option<&Route>| {
        let route = table.after(before, &exclamation, &[]).unwrap();
        layout.layer(route.layer).name.as_str()
    };
    let of = |c| table.preferred(&Output::char(c));
    assert_eq!(layer_after(None), "punctuation");
    assert_eq!(layer_after(of('a')), "punctuation");
    assert_eq!(layer_after(of('=')), "symbols");
    assert_eq!(table.after(of('='), &Output::char('a'), &[]), of('a'));
}

/// Shift lies on the base layer of every shipped layout: no capital needs more.
#[test]
fn no_capital_opens_a_layer_on_a_shipped_layout() {
    for name in shipped::names() {
        let layout = shipped::load(name).unwrap();
        let table = RouteTable::build(&layout);
        for c in 'A'..='Z' {
            let route = table.preferred(&Output::char(c)).unwrap();
            assert_eq!((route.accesses.len(), route.layer.0), (1, 0), "{c} on {name}: {route:?}");
        }
    }
}

/// The layers are what these layouts are for: in a drill of numbers, every
/// digit is due on the layer of numbers.
#[test]
fn digits_are_practised_on_their_layer() {
    for name in shipped::names().filter(|name| name.starts_with("tern")) {
        let layout = shipped::load(name).unwrap();
        let table = RouteTable::build(&layout);
        let numbers = layout.layer_named("numbers").unwrap();
        let items: Vec<Output> = "a1 b2,3".chars().map(Output::char).collect();
        for (item, route) in items.iter().zip(table.along(&items, &[numbers])) {
            if item.as_char().is_some_and(|c| c.is_ascii_digit()) {
                assert_eq!(route.unwrap().layer, numbers, "{item} on {name}");
            }
        }
    }
}
