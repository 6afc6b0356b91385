//! Speed of the small editor: par on a text of 20 lines of 80 columns (at most
//! 1 ms), an editor step, a drill of editing tasks.

#![allow(clippy::unwrap_used, reason = "a bench fails by panicking")]

use etude::drill::{Drill, EditRequest, OwnText, Prompt, What, edits};
use etude::editor::{
    Action, Bindings, Buffer, Editor, Goal, Habits, Measure, Motion, Place, Span, Task, Tool,
    Tools, common, par,
};
use etude::layout::{Cluster, Layout, RouteTable, shipped};
use etude::units::Micros;
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};

fn main() {
    divan::main();
}

/// Twenty dense lines of eighty columns.
fn text() -> Buffer {
    let words = "tide gauge level, harbour (low) water_mark 3.4 m; bell lamp rope sand-bar ";
    let mut lines = Vec::new();
    for n in 0..20 {
        let all: String = words.chars().cycle().skip(7 * n).take(79).collect();
        lines.push(format!("{all}."));
    }
    Buffer::new(&lines.join("\n"))
}

fn tools() -> Tools {
    let shipped = common().unwrap();
    Tools::new(shipped.iter().map(|(output, action)| Tool {
        action,
        output: output.clone(),
        time: Micros::from_ms(200 + 3 * (output.to_string().len() as u64)),
    }))
}

/// The farthest goal of each kind that the tasks below ask for.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Go,
    Select,
    Delete,
    DeleteWords,
    DeleteLines,
    MoveLine,
}

fn task(kind: Kind) -> Task {
    let at = Place::new;
    let goal = match kind {
        Kind::Go => Goal::Cursor(at(11, 43)),
        Kind::Select => Goal::Selection(Span { start: at(9, 37), end: at(12, 52) }),
        Kind::Delete => Goal::Deletion(Span { start: at(13, 33), end: at(13, 56) }),
        // Six keys, the most that drills ask for.
        Kind::DeleteWords => Goal::Deletion(Span { start: at(4, 4), end: at(4, 22) }),
        Kind::DeleteLines => Goal::Deletion(Span { start: at(12, 0), end: at(16, 0) }),
        Kind::MoveLine => Goal::LineMove { from: 13, to: 16 },
    };
    Task::new(&text(), at(2, 5), Habits::default(), goal).unwrap()
}

const KINDS: [Kind; 6] =
    [Kind::Go, Kind::Select, Kind::Delete, Kind::DeleteWords, Kind::DeleteLines, Kind::MoveLine];

#[divan::bench(args = KINDS)]
fn fewest_keys(bencher: divan::Bencher, kind: Kind) {
    let (task, tools) = (task(kind), tools());
    bencher.bench(|| par(task.start(), black_box(&task), &tools, Measure::Keys));
}

#[divan::bench(args = KINDS)]
fn least_time(bencher: divan::Bencher, kind: Kind) {
    let (task, tools) = (task(kind), tools());
    bencher.bench(|| par(task.start(), black_box(&task), &tools, Measure::Time));
}

/// A shipped layout with its routes, chords by hand included, and its bindings.
struct Keyboard {
    layout: Layout,
    routes: RouteTable,
    bindings: Arc<Bindings>,
}

impl Keyboard {
    fn new() -> Self {
        let layout = shipped::load("tern-split").unwrap();
        let mut routes = RouteTable::build(&layout);
        let bindings = Arc::new(common().unwrap().clone());
        routes.add_chords(&layout, bindings.iter().map(|(key, _)| key));
        Self { layout, routes, bindings }
    }

    /// The drill of its navigation with that number, in `own` text if there is one.
    fn drill(&self, own: Option<&OwnText>, ordinal: u32) -> Drill {
        edits(&EditRequest {
            layout: &self.layout,
            routes: &self.routes,
            what: What::Cluster(Cluster::Navigation),
            bindings: &self.bindings,
            arrives: &|_| true,
            time_of: &|_| None,
            own,
            seed: 7,
            ordinal,
        })
        .unwrap()
    }
}

/// The task that takes longest of all that twenty drills ask for, half of them in
/// the shipped documents, half in lines of eighty columns, and the tools for it.
#[expect(clippy::disallowed_methods, reason = "the bench measures time")]
fn slowest_of_drills(measure: Measure) -> (Task, Tools) {
    let keyboard = Keyboard::new();
    let own = OwnText::parse(text().to_string().as_bytes(), 80).unwrap();
    let mut slowest: Option<(Duration, Task, Tools)> = None;
    let (mut slow, mut count) = (0, 0);
    for ordinal in 0..20 {
        let own = (ordinal % 2 == 0).then_some(&own);
        for prompt in keyboard.drill(own, ordinal).prompts {
            let Prompt::Edit(edit) = prompt else { continue };
            let time = || {
                let start = Instant::now();
                black_box(par(edit.task.start(), &edit.task, &edit.tools, measure));
                start.elapsed()
            };
            let least = (0..5).map(|_| time()).min().unwrap();
            count += 1;
            slow += u32::from(least > Duration::from_millis(1));
            if slowest.as_ref().is_none_or(|(most, ..)| least > *most) {
                slowest = Some((least, edit.task.clone(), Tools::clone(&edit.tools)));
            }
        }
    }
    eprintln!("{slow} of {count} tasks take more than 1 ms");
    slowest.map(|(_, task, tools)| (task, tools)).unwrap()
}

#[divan::bench]
fn fewest_keys_slowest_of_drills(bencher: divan::Bencher) {
    let (task, tools) = slowest_of_drills(Measure::Keys);
    bencher.bench(|| par(task.start(), black_box(&task), &tools, Measure::Keys));
}

#[divan::bench]
fn least_time_slowest_of_drills(bencher: divan::Bencher) {
    let (task, tools) = slowest_of_drills(Measure::Time);
    bencher.bench(|| par(task.start(), black_box(&task), &tools, Measure::Time));
}

#[divan::bench]
fn step_word_right(bencher: divan::Bencher) {
    let mut editor = Editor::new(text(), Place::new(0, 0), Habits::default());
    bencher.bench_local(|| editor.apply(black_box(Action::Move(Motion::WordRight))));
}

#[divan::bench]
fn step_delete_and_undo(bencher: divan::Bencher) {
    let mut editor = Editor::new(text(), Place::new(4, 20), Habits::default());
    bencher.bench_local(|| {
        editor.apply(black_box(Action::Delete(Motion::WordRight)));
        editor.apply(Action::Undo)
    });
}

#[divan::bench]
fn chords_by_hand(bencher: divan::Bencher) {
    let layout = shipped::load("tern-split").unwrap();
    let routes = RouteTable::build(&layout);
    let bindings = common().unwrap();
    bencher.bench(|| {
        let mut routes = routes.clone();
        routes.add_chords(&layout, bindings.iter().map(|(key, _)| key));
        routes
    });
}

#[divan::bench]
fn drill_of_tasks(bencher: divan::Bencher) {
    let keyboard = Keyboard::new();
    bencher.bench(|| keyboard.drill(None, black_box(3)));
}
