//! Editing tasks made from layouts: what holds for every layout and seed.

use etude::drill::{Drill, DrillError, Edit, EditRequest, Prompt, TASKS, What, edits};
use etude::editor::{Action, Bindings, Goal, common};
use etude::keyboard::Output;
use etude::layout::{Assignment, Cluster, Layout, RouteTable, Target, shipped};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::{Arc, LazyLock};

const MOVEMENT: What = What::Cluster(Cluster::Navigation);

fn bindings() -> &'static Arc<Bindings> {
    static COMMON: LazyLock<Arc<Bindings>> = LazyLock::new(|| Arc::new(common().unwrap().clone()));
    &COMMON
}

fn routes_of(layout: &Layout) -> RouteTable {
    let mut routes = RouteTable::build(layout);
    routes.add_chords(layout, bindings().iter().map(|(key, _)| key));
    routes
}

fn drill(
    layout: &Layout,
    routes: &RouteTable,
    (seed, ordinal): (u64, u32),
    arrives: &dyn Fn(&Output) -> bool,
) -> Result<Drill, DrillError> {
    edits(&EditRequest {
        layout,
        routes,
        what: MOVEMENT,
        bindings: bindings(),
        arrives,
        time_of: &|_| None,
        own: None,
        seed,
        ordinal,
    })
}

fn tasks(drill: &Drill) -> impl Iterator<Item = &Edit> {
    drill.prompts.iter().filter_map(Prompt::edit).map(AsRef::as_ref)
}

/// What is wrong with `drill` on a layout with these routes.
fn faults(drill: &Drill, routes: &RouteTable) -> Vec<String> {
    let mut faults = Vec::new();
    if drill.prompts.len() < TASKS - 2 {
        faults.push(format!("only {} tasks", drill.prompts.len()));
    }
    for (n, edit) in tasks(drill).enumerate() {
        let mut editor = edit.task.start().clone();
        for step in &edit.way.steps {
            if routes.to(&step.output).is_none() {
                faults.push(format!("task {n}: no route to {}", step.output));
            }
            if edit.bindings.action(&step.output) != Some(step.action) {
                faults.push(format!("task {n}: {} does something else", step.output));
            }
            editor.apply(step.action);
        }
        if !edit.task.done(&editor) {
            faults.push(format!("task {n}: the way does not lead there"));
        }
        if edit.par() == 0 || edit.par() > 6 || edit.quickest.time > edit.way.time {
            faults.push(format!("task {n}: par {}", edit.par()));
        }
    }
    faults
}

#[test]
fn every_shipped_layout_gets_tasks_that_it_can_do() {
    for name in shipped::names() {
        let layout = shipped::load(name).unwrap();
        let routes = routes_of(&layout);
        let drill = drill(&layout, &routes, (7, 0), &|_| true).unwrap();
        assert_eq!(faults(&drill, &routes), Vec::<String>::new(), "{name}");
        // From one key to whole tasks.
        let pars: Vec<usize> = tasks(&drill).map(Edit::par).collect();
        assert!(pars[..3].iter().all(|par| *par == 1), "{name}: {pars:?}");
        assert!(pars.iter().rev().take(3).all(|par| *par >= 3), "{name}: {pars:?}");
        assert!(tasks(&drill).any(|edit| !matches!(edit.task.goal(), Goal::Cursor(_))), "{name}");
    }
}

#[test]
fn the_same_seed_gives_the_same_tasks() {
    let layout = shipped::load("tern-split").unwrap();
    let routes = routes_of(&layout);
    let of = |seed, ordinal| drill(&layout, &routes, (seed, ordinal), &|_| true).unwrap();
    assert_eq!(of(7, 0), of(7, 0));
    assert_ne!(of(7, 0), of(7, 1));
    assert_ne!(of(7, 0), of(8, 0));
}

/// Over a few drills every sort of task and most keys of the layer come.
#[test]
fn every_sort_of_task_and_most_keys_come_round() {
    let layout = shipped::load("tern-split").unwrap();
    let routes = routes_of(&layout);
    let mut sorts = BTreeSet::new();
    let mut keys = BTreeSet::new();
    for ordinal in 0..6 {
        let drill = drill(&layout, &routes, (7, ordinal), &|_| true).unwrap();
        for edit in tasks(&drill) {
            sorts.insert(match edit.task.goal() {
                Goal::Cursor(_) => "go",
                Goal::Selection(_) => "select",
                Goal::Deletion(_) => "delete",
                Goal::LineMove { .. } => "move",
            });
            keys.extend(edit.way.steps.iter().map(|step| step.output.to_string()));
        }
    }
    assert_eq!(sorts.len(), 4, "{sorts:?}");
    let layer = [
        "ArrowLeft",
        "ArrowRight",
        "ArrowUp",
        "ArrowDown",
        "Home",
        "End",
        "Ctrl+ArrowLeft",
        "Ctrl+ArrowRight",
        "Delete",
    ];
    let missing: Vec<&str> = layer.into_iter().filter(|key| !keys.contains(*key)).collect();
    assert!(missing.len() <= 1, "{missing:?} of {keys:?}");
}

#[test]
fn what_cannot_arrive_is_never_counted_on() {
    let layout = shipped::load("tern-split").unwrap();
    let routes = routes_of(&layout);
    let arrives = |key: &Output| !key.to_string().contains("Shift");
    let drill = drill(&layout, &routes, (7, 3), &arrives).unwrap();
    for edit in tasks(&drill) {
        assert!(edit.tools.tools().iter().all(|tool| arrives(&tool.output)));
        assert!(!edit.way.steps.iter().any(|step| matches!(step.action, Action::Select(_))));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, ..ProptestConfig::default() })]

    /// Whatever of its movement layer a layout lacks: the tasks do without.
    #[test]
    fn any_movement_layer_gets_tasks_that_it_can_do(
        gone in prop::collection::vec(0..84usize, 0..30), seed in any::<u64>(), ordinal in 0..9_u32
    ) {
        let mut layout = shipped::load("tern-split").unwrap();
        let movement = layout.layer_named("navigation").unwrap();
        let keys = &mut layout.layers[movement.index()].keys;
        for n in gone {
            let index = n % keys.len();
            let access = |assignment: &Assignment| matches!(
                assignment,
                Assignment::Access(access) if matches!(access.target, Target::Layer(_))
            );
            if !access(&keys[index]) {
                keys[index] = Assignment::Nothing;
            }
        }
        let routes = routes_of(&layout);
        match drill(&layout, &routes, (seed, ordinal), &|_| true) {
            Ok(drill) => {
                let faults: Vec<String> = faults(&drill, &routes)
                    .into_iter()
                    .filter(|fault| !fault.starts_with("only"))
                    .collect();
                prop_assert!(faults.is_empty(), "{faults:?}");
            }
            Err(error) => prop_assert!(matches!(error, DrillError::NothingToDrill { .. }), "{error}"),
        }
    }
}
