//! From a layout and a document to tasks.

use super::targets::{Sort, draw};
use super::{Document, Edit, documents};
use crate::drill::{Drill, DrillError, Flow, OwnText, Prompt, Source, What};
use crate::editor::{
    Action, Bindings, Buffer, Editor, Goal, Measure, Motion, Place, Task, Tool, Tools, Within,
    par_within,
};
use crate::keyboard::Output;
use crate::layout::{Cluster, LayerId, Layout, Route, RouteTable, Target};
use crate::order::InOrder;
use crate::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::sync::Arc;

/// Tasks of a drill: about a minute.
pub const TASKS: usize = 12;

/// Draws for one task; the best that fits is taken.
const DRAWS: usize = 10;

/// A task is drawn where its least keys and its least time are found within so
/// many states each: about a millisecond, and the same tasks on every computer.
const MOST_STATES: usize = 4000;

/// The time of one press where nothing is known of the person: K of a typist
/// of 55 words a minute (Card, Moran & Newell, keystroke-level model; a held
/// key counts as a press of its own).
const PRESS: Micros = Micros::from_ms(200);

/// What is wanted of a drill of editing tasks.
pub struct EditRequest<'a> {
    /// The layout to practise.
    pub layout: &'a Layout,
    /// Its routes; chords by hand count where they were taken in
    /// ([`RouteTable::add_chords`]).
    pub routes: &'a RouteTable,
    /// What to practise: the cluster or a layer of movement.
    pub what: What,
    /// What each key does.
    pub bindings: &'a Arc<Bindings>,
    /// False for a key that can't arrive, or arrives as another: no task counts
    /// on it.
    pub arrives: &'a dyn Fn(&Output) -> bool,
    /// How long the person takes for a key, where that is known.
    pub time_of: &'a dyn Fn(&Output) -> Option<Micros>,
    /// The person's own text, in the stead of the shipped documents.
    pub own: Option<&'a OwnText>,
    /// The same seed gives the same drills on every platform.
    pub seed: u64,
    /// Which drill of the session, from 0.
    pub ordinal: u32,
}

/// The keys that tasks count on: those of `bindings` that go, select, delete or
/// move lines, that `layout` can give and that arrive, each with
/// what it costs: the person's own time, else 200 ms a press of its route.
pub fn tools(request: &EditRequest) -> Tools {
    Tools::new(found(request).into_iter().map(|(tool, _)| tool))
}

/// The tools with the route of each.
fn found<'a>(request: &EditRequest<'a>) -> Vec<(Tool, &'a Route)> {
    request
        .bindings
        .iter()
        .filter(|(output, action)| is_tool(*action) && (request.arrives)(output))
        .filter_map(|(output, action)| {
            let route = request.routes.to(output)?;
            let presses = Micros(PRESS.0 * (route.accesses.len() as u64 + 1));
            let time = (request.time_of)(output).unwrap_or(presses);
            Some((Tool { action, output: output.clone(), time }, route))
        })
        .collect()
}

/// The layers that `what` is about.
fn layers_of(layout: &Layout, what: What) -> Vec<LayerId> {
    match what {
        What::Layer(layer) => vec![layer],
        _ => layout
            .layers()
            .filter(|(_, layer)| layer.cluster == Cluster::Navigation)
            .map(|(id, _)| id)
            .collect(),
    }
}

/// The keys by which `layout` moves about, in the order of the actions: those
/// of the layers that `what` is about; on a layout without such a layer, all
/// that do something in the editor and need no modifier held. Empty where
/// there are fewer than four that move.
pub fn navigation_keys(
    layout: &Layout,
    routes: &RouteTable,
    what: What,
    bindings: &Bindings,
) -> Vec<Output> {
    let layers = layers_of(layout, what);
    let mut keys: Vec<(Action, Output)> = bindings
        .iter()
        .filter(|(_, action)| is_tool(*action))
        .filter(|(output, _)| {
            routes.all(output).iter().any(|route| {
                let plain = route.accesses.iter().all(|step| {
                    matches!(step.access.target, Target::Layer(layer) if layers.contains(&layer))
                });
                plain && (layers.is_empty() || layers.contains(&route.layer))
            })
        })
        .map(|(output, action)| (action, output.clone()))
        .collect();
    if keys.iter().filter(|(action, _)| matches!(action, Action::Move(_))).count() < 4 {
        return Vec::new();
    }
    keys.order_by(Ord::cmp);
    keys.into_iter().map(|(_, output)| output).collect()
}

/// What par counts on.
const fn is_tool(action: Action) -> bool {
    matches!(
        action,
        Action::Move(_)
            | Action::Select(_)
            | Action::SelectAll
            | Action::Delete(_)
            | Action::DeleteLines
            | Action::Cut
            | Action::MoveLinesUp
            | Action::MoveLinesDown
    )
}

/// A drill of editing tasks: up to [`TASKS`], from one key to whole tasks; fewer
/// where what was drawn didn't fit.
/// Three at a time follow each other in one document; each begins where a
/// shortest way of the one before ends. Tasks are taken by how many keys their
/// shortest way has that are practised and have not come yet.
///
/// # Errors
/// [`DrillError::NothingToDrill`] where the layout moves nowhere.
pub fn edits(request: &EditRequest) -> Result<Drill, DrillError> {
    let EditRequest { layout, what, .. } = *request;
    let nothing =
        || DrillError::NothingToDrill { name: what.word(layout), layout: layout.name.clone() };
    let practised = navigation_keys(layout, request.routes, what, request.bindings);
    let found = found(request);
    let tools = Arc::new(Tools::new(found.iter().map(|(tool, _)| tool.clone())));
    let layers = layers_of(layout, what);
    // By layer held: Shift with a key of the layer is practised too.
    let on_layer = |output: &Output| {
        found.iter().any(|(tool, route)| {
            tool.output == *output
                && (layers.is_empty()
                    || layers.contains(&route.layer)
                    || route.accesses.iter().any(|step| {
                        matches!(step.access.target, Target::Layer(l) if layers.contains(&l))
                    }))
        })
    };
    if practised.is_empty() {
        return Err(nothing());
    }
    let focus: Vec<Output> =
        tools.tools().iter().map(|tool| tool.output.clone()).filter(on_layer).collect();
    let own = request.own.map(documents::own);
    let documents = match &own {
        Some(documents) => documents.as_slice(),
        None => documents::shipped()?,
    };
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed ^ 0x6564_6974);
    rng.set_stream(0);
    let mut order: Vec<usize> = (0..documents.len()).collect();
    if own.is_none() {
        shuffle(&mut order, &mut rng);
    }
    rng.set_stream(u64::from(request.ordinal) + 1);
    rng.set_word_pos(0);
    let mut composer = Composer { request, tools, focus, seen: Vec::new(), rng };
    let mut prompts = Vec::new();
    let first = request.ordinal as usize * TASKS.div_ceil(PER_DOCUMENT);
    for turn in 0..TASKS.div_ceil(PER_DOCUMENT) {
        let Some(&document) = order.get((first + turn) % order.len().max(1)) else { break };
        composer.in_document(&documents[document], turn * PER_DOCUMENT, &mut prompts);
    }
    if prompts.is_empty() {
        return Err(nothing());
    }
    Ok(Drill {
        title: format!("{}: in logs, tables, code and letters", what.word(layout)),
        cluster: Cluster::Navigation,
        layers,
        flow: Flow::Stay,
        source: if own.is_some() { Source::Own } else { Source::Shipped },
        prompts,
        left_out: lost(request).into_iter().map(|key| (key.to_string(), 1)).collect(),
    })
}

/// The keys that tasks would count on if they arrived.
fn lost(request: &EditRequest) -> Vec<Output> {
    let tools = request.bindings.iter().filter(|(_, action)| is_tool(*action));
    let lost = tools
        .filter(|(output, _)| !(request.arrives)(output) && request.routes.to(output).is_some());
    lost.map(|(output, _)| output.clone()).collect()
}

/// Tasks that follow each other in one document.
const PER_DOCUMENT: usize = 3;

fn shuffle(order: &mut [usize], rng: &mut ChaCha8Rng) {
    for n in (1..order.len()).rev() {
        order.swap(n, rng.random_range(0..=n));
    }
}

/// What the task number `n` of a drill may be, and how many keys it may need.
fn wanted(n: usize) -> (&'static [Sort], std::ops::RangeInclusive<usize>) {
    use Sort::{Delete, Go, Move, Select};
    match n {
        0..=2 => (&[Go], 1..=1),
        3..=5 => (&[Go, Go, Select], 2..=3),
        6..=8 => (&[Go, Select, Delete, Move], 2..=4),
        _ => (&[Select, Delete, Delete, Move], 3..=6),
    }
}

struct Composer<'a> {
    request: &'a EditRequest<'a>,
    tools: Arc<Tools>,
    /// The keys that are practised.
    focus: Vec<Output>,
    /// Those that a shortest way has had already.
    seen: Vec<Output>,
    rng: ChaCha8Rng,
}

impl Composer<'_> {
    fn in_document(&mut self, document: &Document, first: usize, prompts: &mut Vec<Prompt>) {
        let mut buffer = Buffer::new(&document.text);
        let mut at = buffer.place(self.rng.random_range(0..document.text.len().max(1)));
        for n in first..(first + PER_DOCUMENT).min(TASKS) {
            let Some(edit) = self.best(&buffer, at, n) else { continue };
            for step in &edit.way.steps {
                if !self.seen.contains(&step.output) {
                    self.seen.push(step.output.clone());
                }
            }
            let mut end = edit.task.start().clone();
            for step in &edit.way.steps {
                end.apply(step.action);
            }
            (buffer, at) = (end.buffer().clone(), end.cursor().at);
            prompts.push(Prompt::Edit(Arc::new(edit)));
        }
    }

    /// The best of several draws for task number `n` of the drill.
    fn best(&mut self, buffer: &Buffer, at: Place, n: usize) -> Option<Edit> {
        let (sorts, keys) = wanted(n);
        let habits = self.request.bindings.habits();
        let mut best: Option<(usize, Edit)> = None;
        for _ in 0..DRAWS {
            let goal = if keys == (1..=1) {
                self.one_key(buffer, at)
            } else {
                let sort = sorts[self.rng.random_range(0..sorts.len())];
                draw(sort, buffer, &mut self.rng)
            };
            let Some(task) = goal.and_then(|goal| Task::new(buffer, at, habits, goal)) else {
                continue;
            };
            let within = Within { keys: *keys.end(), states: MOST_STATES };
            let par = |measure| par_within(task.start(), &task, &self.tools, measure, within);
            let Some(way) = par(Measure::Keys).filter(|way| keys.contains(&way.keys())) else {
                continue;
            };
            let practised = || way.steps.iter().filter(|step| self.focus.contains(&step.output));
            let new = practised().filter(|step| !self.seen.contains(&step.output)).count();
            let worth = 2 * new + usize::from(practised().next().is_some());
            if best.as_ref().is_some_and(|(most, _)| worth <= *most) {
                continue;
            }
            let Some(quickest) = par(Measure::Time) else { continue };
            let (bindings, tools) = (Arc::clone(self.request.bindings), Arc::clone(&self.tools));
            best = Some((worth, Edit { task, bindings, tools, way, quickest }));
            if worth >= 3 {
                break;
            }
        }
        best.map(|(_, edit)| edit)
    }

    /// Where one key that is practised leads, those first that have not come.
    fn one_key(&mut self, buffer: &Buffer, at: Place) -> Option<Goal> {
        let moves: Vec<Motion> = self
            .tools
            .tools()
            .iter()
            .filter(|tool| self.focus.contains(&tool.output))
            .filter_map(|tool| match tool.action {
                Action::Move(motion) => Some((motion, self.seen.contains(&tool.output))),
                _ => None,
            })
            .filter(|(_, seen)| !seen || self.rng.random_range(0..4) == 0)
            .map(|(motion, _)| motion)
            .collect();
        let motion = *moves.get(self.rng.random_range(0..moves.len().max(1)))?;
        let mut editor = Editor::new(buffer.clone(), at, self.request.bindings.habits());
        editor.apply(Action::Move(motion));
        Some(Goal::Cursor(editor.cursor().at))
    }
}
