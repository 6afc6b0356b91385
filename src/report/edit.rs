//! Editing tasks in the lines that `etude practice --script` writes.

use crate::drill::{Drill, Edit};
use crate::editor::{Editor, Goal, Place, Span, Way};
use crate::layout::{Layout, RouteTable};
use crate::session::{DrillResult, Edited, Editing, Told};
use serde::Serialize;

/// A place: line and column (graphemes), both from 0.
type At = [usize; 2];

fn at(place: Place) -> At {
    [place.line, place.column]
}

fn ends(span: Span) -> [At; 2] {
    [at(span.start), at(span.end)]
}

fn keys(way: &Way) -> Vec<String> {
    way.steps.iter().map(|step| step.output.to_string()).collect()
}

/// What a prompt says of its task.
#[derive(Debug, Serialize)]
pub struct Task {
    title: String,
    text: String,
    cursor: At,
    goal: GoalLine,
    /// The fewest keys.
    par: usize,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "kebab-case")]
enum GoalLine {
    /// The cursor there.
    Cursor(At),
    /// Exactly this selected.
    Select([At; 2]),
    /// Exactly this deleted.
    Delete([At; 2]),
    /// The line moved: from, to.
    MoveLine([usize; 2]),
}

/// What the prompt `edit` asks for.
pub fn task(edit: &Edit) -> Task {
    let start = edit.task.start();
    Task {
        title: edit.to_string(),
        text: start.buffer().to_string(),
        cursor: at(start.cursor().at),
        goal: match edit.task.goal() {
            Goal::Cursor(place) => GoalLine::Cursor(at(place)),
            Goal::Selection(span) => GoalLine::Select(ends(span)),
            Goal::Deletion(span) => GoalLine::Delete(ends(span)),
            Goal::LineMove { from, to } => GoalLine::MoveLine([from, to]),
        },
        par: edit.par(),
    }
}

/// The editor after a key.
#[derive(Debug, Serialize)]
pub struct State {
    /// What the key came to: `nearer`, `detour`, `away`, `taken-back`,
    /// `unbound`.
    told: Option<&'static str>,
    text: String,
    cursor: At,
    selection: Option<[At; 2]>,
    /// The fewest keys from here.
    left: usize,
}

/// The state of `editing`.
pub fn state(editing: &Editing) -> State {
    let editor: &Editor = editing.editor();
    State {
        told: editing.latest().map(Told::word),
        text: editor.buffer().to_string(),
        cursor: at(editor.cursor().at),
        selection: editor.cursor().selection().map(ends),
        left: editing.way().keys(),
    }
}

/// What came of an editing task.
#[derive(Debug, Serialize)]
pub struct Done {
    prompt: u16,
    #[serde(rename = "done")]
    reached: bool,
    keys: Vec<String>,
    detours: u32,
    misses: u32,
    active_us: u64,
    par: usize,
    way: Vec<String>,
    /// The way with the least time, and its time, by what the keys cost.
    quickest: Vec<String>,
    quickest_us: u64,
    /// Keys whose preferred route leaves the home block.
    off_home: usize,
}

/// What came of each editing task of `drill`.
pub fn done(
    result: &DrillResult,
    drill: &Drill,
    routes: &RouteTable,
    layout: &Layout,
) -> Vec<Done> {
    let of = |edited: &Edited| {
        let edit = drill.prompts.get(usize::from(edited.prompt))?.edit()?;
        Some(Done {
            prompt: edited.prompt,
            reached: edited.done,
            keys: edited.struck.iter().map(ToString::to_string).collect(),
            detours: edited.detours,
            misses: edited.misses,
            active_us: edited.time.0,
            par: edit.par(),
            way: keys(&edit.way),
            quickest: keys(&edit.quickest),
            quickest_us: edit.quickest.time.0,
            off_home: edited.off_home(routes, layout).count(),
        })
    };
    result.edits.iter().filter_map(of).collect()
}
