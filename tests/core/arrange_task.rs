//! A layer as a problem, and its answer as a layout.

use etude::arrange::{
    DAYS, Effort, FINDING_MS, Patience, Proposal, Task, TaskError, Wish, prove, search,
};
use etude::keyboard::Output;
use etude::layout::{Assignment, LayerId, Layout, RouteTable, file, shipped};
use etude::model::hands::Findings;
use etude::survey::{Counts, Habits, Work};
use std::collections::{BTreeMap, BTreeSet};

const TEXT: &str = "let gauge = {\"quay\": [3.4, 3.9], \"pier\": (2, 5)};\n\
    if (tide >= 3 && tide != high) { log(&tide | mask); }\n\
    path = \"/srv/tides/2031\"; mean = (a + b) / 2; _low = x - 1;\n";

struct House {
    layout: Layout,
    routes: RouteTable,
    counts: Counts,
}

impl House {
    fn new(layout: Layout) -> Self {
        let routes = RouteTable::build(&layout);
        Self { layout, routes, counts: Counts::of(TEXT) }
    }

    fn shipped() -> Self {
        Self::new(shipped::load("tern-split").unwrap())
    }

    fn task(&self, layers: &[&str], pins: &str) -> Result<Task<'_>, TaskError> {
        self.task_for(layers, pins, DAYS)
    }

    fn task_for(&self, layers: &[&str], pins: &str, days: u32) -> Result<Task<'_>, TaskError> {
        let wish = Wish {
            layout: &self.layout,
            routes: &self.routes,
            layers: layers.iter().map(|name| self.layout.layer_named(name).unwrap()).collect(),
            pins: pins.chars().map(Output::char).collect(),
            days,
        };
        Task::new(wish, (&self.counts, &Habits::assumed(Work::Code)), &Findings::default())
    }
}

/// With little effort: whether it is the best makes no difference here.
fn answer(task: &Task<'_>) -> Proposal {
    let found = search(task.problem(), 1, Effort { starts: 1, moves: 300 });
    let known = found.min(task.today());
    task.proposal(&prove(task.problem(), &known, Patience { bounds: 20 }))
}

/// How often each character lies on each layer.
fn given(layout: &Layout, layers: &BTreeSet<LayerId>) -> BTreeMap<String, usize> {
    let mut given = BTreeMap::new();
    for (_, layer) in layout.layers().filter(|(id, _)| layers.contains(id)) {
        for key in &layer.keys {
            if let Assignment::Gives(output) = key {
                *given.entry(output.to_string()).or_default() += 1;
            }
        }
    }
    given
}

#[test]
fn a_proposal_keeps_every_symbol_and_every_way() {
    let house = House::shipped();
    let pins = "()[]{}";
    let task = house.task(&["symbols", "punctuation"], pins).unwrap();
    let proposal = answer(&task);
    assert!(!proposal.moves.is_empty());
    let layers: BTreeSet<LayerId> = task.layers().iter().copied().collect();
    assert_eq!(given(&house.layout, &layers), given(&proposal.layout, &layers));
    let routes = RouteTable::build(&proposal.layout);
    for (output, _) in house.routes.outputs() {
        assert!(routes.to(output).is_some(), "{output} can't be typed any more");
    }
    for one in &proposal.moves {
        assert!(!pins.contains(one.output.as_char().unwrap()), "{} is pinned", one.output);
        let route = routes.all(&one.output).iter().find(|route| route.layer == one.to.0).unwrap();
        assert_eq!(route.position, one.to.1);
    }
    // Other layers, and what is no symbol, stay as they are.
    for (id, layer) in house.layout.layers() {
        for (before, after) in layer.keys.iter().zip(&proposal.layout.layer(id).keys) {
            let symbol = |key: &Assignment| match key {
                Assignment::Gives(output) => output.as_char().is_some_and(|c| !c.is_alphanumeric()),
                Assignment::Nothing | Assignment::FallThrough => true,
                _ => false,
            };
            assert!(before == after || (layers.contains(&id) && symbol(before) && symbol(after)));
        }
    }
    // What is written is what is read.
    let text = file::write(&proposal.layout);
    assert_eq!(file::read(&text, "proposal.toml").unwrap().layout, proposal.layout);
}

/// Of somebody of whom nothing is known, every key is as new as any other: the
/// proposed layout then costs what the proposal says, but for finding what
/// moved.
#[test]
fn the_cost_of_a_proposal_is_that_of_its_layout() {
    let house = House::shipped();
    let task = house.task(&["symbols"], "").unwrap();
    let proposal = answer(&task);
    assert_eq!(proposal.costs.0, task.today().cost);
    assert!(proposal.costs.1 < proposal.costs.0 && proposal.least <= proposal.costs.1);
    assert!((0.0..0.5).contains(&proposal.gap()), "{}", proposal.gap());
    let there = House::new(proposal.layout.clone());
    let finding = i64::try_from(proposal.moves.len()).unwrap() * FINDING_MS as i64;
    let again = there.task(&["symbols"], "").unwrap();
    let off = again.today().cost - (proposal.costs.1 - finding);
    // The typical stroke is that of the places as they lie, so that it got a
    // little shorter: a hundredth at most.
    assert!(off <= 0 && off.abs() * 100 < proposal.costs.1, "{off} of {}", proposal.costs.1);
    assert!(proposal.saved.low < proposal.saved.seconds && proposal.saved.seconds > 0.0);
    let day = proposal.paid_back.unwrap();
    assert!((1..=DAYS).contains(&day) && proposal.won > 0.0, "{day}");
}

#[test]
fn the_best_of_a_layer_is_proved() {
    let house = House::shipped();
    // Eight free symbols: every placement can be proved in a moment.
    let task = house.task(&["symbols"], "()[]{}<>!\"'`~#$%^@\\?+").unwrap();
    let (symbols, free, keys) = task.sizes();
    assert!(free <= 8 && symbols > free && keys >= symbols, "{free} {symbols} {keys}");
    let proof = prove(task.problem(), &task.today(), Patience { bounds: 20_000 });
    assert!(proof.is_optimal() && task.proposal(&proof).is_optimal());
    let found = search(task.problem(), 5, Effort { starts: 3, moves: 2_000 });
    assert_eq!(found.cost, proof.best.cost, "the search finds what is proved");
}

/// Families together are no reason to lose time, and a symbol that lies on both
/// layers is not sent where it lies already.
#[test]
fn what_loses_is_not_proposed_and_copies_stay() {
    let mut house = House::shipped();
    let shipped = etude::drill::shipped().unwrap();
    let pieces = shipped.symbols.iter().chain(&shipped.punctuation);
    house.counts = Counts::of(&pieces.map(|piece| piece.text.as_str()).collect::<String>());
    let mut proposed = 0;
    for layers in [&["base"][..], &["symbols"], &["punctuation"], &["symbols", "punctuation"]] {
        for days in [1, 10, DAYS] {
            let task = house.task_for(layers, "", days).unwrap();
            let found = search(task.problem(), 1, Effort { starts: 2, moves: 3_000 });
            let known = found.min(task.today());
            let proposal = task.proposal(&prove(task.problem(), &known, Patience { bounds: 1 }));
            assert!(proposal.won >= 0.0, "{layers:?}, {days} days: {}", proposal.won);
            assert!(proposal.unpaid.is_none_or(|won| won < 0.0 && proposal.moves.is_empty()));
            proposed += proposal.moves.len();
            for one in &proposal.moves {
                let there = proposal
                    .moves
                    .iter()
                    .any(|other| other.output == one.output && other.from == one.to);
                assert!(!there, "{} goes where it lies: {:?}", one.output, one.to);
            }
        }
    }
    assert!(proposed > 0);
}

#[test]
fn where_everything_lies_well_nothing_moves() {
    let house = House::shipped();
    let task = house.task(&["symbols"], "()[]{}<>!\"'`~#$%^@\\?+").unwrap();
    let best = prove(task.problem(), &task.today(), Patience { bounds: 20_000 });
    let there = House::new(task.proposal(&best).layout);
    let task = there.task(&["symbols"], "()[]{}<>!\"'`~#$%^@\\?+").unwrap();
    let proof = prove(task.problem(), &task.today(), Patience { bounds: 20_000 });
    let proposal = task.proposal(&proof);
    assert!(proposal.moves.is_empty() && proposal.is_optimal(), "{:?}", proposal.moves);
    assert_eq!((proposal.paid_back, proposal.saved.seconds), (Some(0), 0.0));
    assert_eq!(proposal.layout, there.layout);
}

#[test]
fn what_can_not_be_arranged_is_said() {
    let house = House::shipped();
    let error = |layers: &[&str], pins: &str| house.task(layers, pins).unwrap_err();
    assert!(matches!(error(&["symbols"], "é"), TaskError::NotThere { .. }));
    assert!(matches!(
        error(&["numbers"], "/,.:+-*"),
        TaskError::NotThere { .. } | TaskError::NothingMoves { .. }
    ));
    let house = House { counts: Counts::of("tide and time\n"), ..House::shipped() };
    let error = house.task(&["symbols"], "").unwrap_err();
    assert!(matches!(error, TaskError::NotNeeded { .. }), "{error}");
}
