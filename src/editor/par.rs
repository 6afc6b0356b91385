//! The least that a task needs: fewest keys, or least time.
//!
//! A best-first search (Dijkstra 1959) over the states of the cursor: its
//! place, the column that it remembers, and the anchor of the selection. Only
//! anchors that can matter are followed: both ends of what is to be selected
//! or deleted, the anchor that is set already, the start of the text where
//! everything can be selected at once, and, for keys that act on whole lines,
//! "anywhere on that line". From each state the keys that change the text are
//! tried, by branch and bound.
//!
//! What is searched, and what is left out:
//!
//! - *Going* and *selecting*: every way.
//! - *Deleting*: every way in which nothing outside the target is deleted and
//!   the cursor does not move between one deletion and the next; after its
//!   first deletion the rest of the way is looked for anew, so that moves
//!   there are left out only where they make another first deletion pay.
//! - *Moving a line*: every way by keys that move lines: the line itself, or
//!   all those that it passes at once. Cutting it and pasting it elsewhere needs
//!   a selection, two keys and a way between: never less for up to four lines.
//!
//! The tests compare it with a search over the whole product of text, cursor,
//! selection and clipboard on small buffers.

use super::motion::go;
use super::{Action, Buffer, Cursor, Editor, Goal, Motion, Place, Span, Task};
use crate::keyboard::Output;
use crate::units::Micros;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::sync::Arc;

/// A key that can be struck, with what it does and what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tool {
    /// What it does.
    pub action: Action,
    /// The key.
    pub output: Output,
    /// How long it takes, at most an hour.
    pub time: Micros,
}

/// The keys that can be struck: the quickest for each action.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tools {
    tools: Vec<Tool>,
}

impl Tools {
    /// The quickest of `tools` for each action; the first of equals. A key that
    /// selects is kept only with the key that goes the same way.
    pub fn new(tools: impl IntoIterator<Item = Tool>) -> Self {
        let mut kept: Vec<Tool> = Vec::new();
        for tool in tools {
            match kept.iter_mut().find(|other| other.action == tool.action) {
                Some(other) if tool.time < other.time => *other = tool,
                Some(_) => {}
                None => kept.push(tool),
            }
        }
        let goes: Vec<Action> = kept.iter().map(|tool| tool.action).collect();
        kept.retain(|tool| match tool.action {
            Action::Select(motion) => goes.contains(&Action::Move(motion)),
            _ => true,
        });
        kept.sort_by_key(|tool| tool.action);
        Self { tools: kept }
    }

    /// The keys, one an action, in the order of the actions.
    pub fn tools(&self) -> &[Tool] {
        &self.tools
    }

    /// The key for `action`, if there is one.
    pub fn of(&self, action: Action) -> Option<&Tool> {
        self.tools.iter().find(|tool| tool.action == action)
    }
}

/// What is to be least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Measure {
    /// The number of keys; among equals the least time.
    Keys,
    /// The time; among equals the fewest keys.
    Time,
}

/// One key of a way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The key.
    pub output: Output,
    /// What it does.
    pub action: Action,
}

/// A way from a state to the goal.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Way {
    /// The keys in order; none where the goal is reached already.
    pub steps: Vec<Step>,
    /// How long they take together.
    pub time: Micros,
}

impl Way {
    /// How many keys it takes.
    pub fn keys(&self) -> usize {
        self.steps.len()
    }
}

/// A shortest way from `editor`, which may be any state that the task can be
/// in, to the goal of `task`; none where `tools` don't lead there. The same
/// arguments give the same way.
pub fn par(editor: &Editor, task: &Task, tools: &Tools, measure: Measure) -> Option<Way> {
    if task.done(editor) {
        return Some(Way::default());
    }
    let way = Search::new(editor, task, tools, measure)?.run()?;
    Some(go_on_afresh(editor, task, tools, measure, way))
}

/// The search lets only deletions follow a deletion. Where more than one is
/// left to do, going to another place first, or selecting, can be shorter: so
/// the rest of the way is looked for anew from there.
fn go_on_afresh(
    editor: &Editor,
    task: &Task,
    tools: &Tools,
    measure: Measure,
    mut way: Way,
) -> Way {
    let deletes =
        |step: &Step| matches!(step.action, Action::Delete(_) | Action::DeleteLines | Action::Cut);
    let Some(first) = way.steps.iter().position(deletes) else { return way };
    // One key more can't be bettered.
    if way.steps.len() < first + 3 {
        return way;
    }
    let mut after = editor.clone();
    for step in &way.steps[..=first] {
        after.apply(step.action);
    }
    let time = |steps: &[Step]| {
        let each = steps.iter().filter_map(|step| tools.of(step.action));
        each.fold(Micros::ZERO, |sum, tool| sum + tool.time)
    };
    let rest = &way.steps[first + 1..];
    let cost = |keys: usize, time: Micros| match measure {
        Measure::Keys => (keys as u64, time.0),
        Measure::Time => (time.0, keys as u64),
    };
    if let Some(other) = par(&after, task, tools, measure)
        && cost(other.keys(), other.time) < cost(rest.len(), time(rest))
    {
        way.steps.truncate(first + 1);
        way.time = time(&way.steps) + other.time;
        way.steps.extend(other.steps);
    }
    way
}

/// Keys and time as one number, the measure in the upper bits.
type Cost = u64;

/// An hour in microseconds needs 32 bits; so do the keys of any way.
const LOW: u32 = 32;

/// What is selected in a state, as far as the search follows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Anchor {
    None,
    At(Place),
    /// Anywhere on the line, at its start or after it; only whole lines count.
    OnLine {
        line: usize,
        at_start: bool,
    },
}

#[derive(Debug, Clone, Copy)]
struct Node {
    at: Place,
    wanted: usize,
    layer: usize,
    cost: Cost,
    parent: u32,
    tool: u16,
}

const NOBODY: u32 = u32::MAX;

/// A state after deletions, from which only deletions follow. It is worked out
/// when its turn comes.
struct Chain {
    /// The state before the last tool of `tail`; none for the text searched.
    before: Option<Arc<Editor>>,
    /// The cursor in that state.
    cursor: Cursor,
    cost: Cost,
    node: u32,
    tail: Vec<u16>,
}

/// What waits to be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Waiting {
    Node(u32),
    Chain(u32),
}

/// The best complete way so far: from a node on by these tools.
struct Best {
    cost: Cost,
    node: u32,
    tail: Vec<u16>,
}

struct Search<'a> {
    editor: &'a Editor,
    buffer: &'a Buffer,
    task: &'a Task,
    tools: &'a [Tool],
    costs: Arc<[Cost]>,
    measure: Measure,
    layers: Vec<Anchor>,
    /// What is left to delete: any one of these.
    targets: Vec<Span>,
    /// Blocks of lines with the tool that moves them rightly, and how often.
    blocks: Vec<(usize, usize, u16, usize)>,
    /// Least cost of a key that deletes.
    delete_cost: Cost,
    deletes: Vec<u16>,
    /// Deletions by which so many words or lines may go at once that words and
    /// lines are no bound.
    far: bool,
    line_deletes: bool,
    edge_deletes: bool,
    nodes: Vec<Node>,
    /// Per layer and state: the node that reaches it best, plus one.
    seen: Vec<Vec<u32>>,
    offsets: Vec<usize>,
    columns: usize,
    /// By the least that a way through it can cost.
    heap: BinaryHeap<Reverse<(Cost, Waiting)>>,
    chains: Vec<Chain>,
    /// Texts with cursors that a chain has come to, with the least cost.
    chained: HashMap<(String, Place), Cost>,
    goes: Vec<(u16, Motion)>,
    /// The tool that selects everything.
    all: Option<u16>,
    selects: Vec<(u16, Motion)>,
    best: Option<Best>,
}

impl<'a> Search<'a> {
    fn new(editor: &'a Editor, task: &'a Task, tools: &'a Tools, measure: Measure) -> Option<Self> {
        let buffer = editor.buffer();
        let tools = tools.tools();
        let costs: Arc<[Cost]> = tools
            .iter()
            .map(|tool| {
                let time = tool.time.0.min(u64::from(u32::MAX));
                match measure {
                    Measure::Keys => (1 << LOW) + (time >> 6),
                    Measure::Time => (time << (LOW - 8)) + 1,
                }
            })
            .collect();
        let mut offsets = Vec::with_capacity(buffer.lines().len());
        let mut total = 0;
        for line in buffer.lines() {
            offsets.push(total);
            total += line.len() + 1;
        }
        let columns = buffer.width().max(editor.cursor().wanted) + 1;
        let mut layers = vec![Anchor::None];
        let mut add = |anchor: Anchor| {
            if !layers.contains(&anchor) {
                layers.push(anchor);
            }
        };
        if let Some(anchor) = editor.cursor().anchor {
            add(Anchor::At(anchor));
        }
        let has = |action: Action| tools.iter().any(|tool| tool.action == action);
        if has(Action::SelectAll) {
            add(Anchor::At(buffer.start()));
        }
        let mut targets = Vec::new();
        let mut blocks = Vec::new();
        let line_deletes = has(Action::DeleteLines);
        match task.goal() {
            Goal::Cursor(_) => {}
            Goal::Selection(span) => {
                add(Anchor::At(span.start));
                add(Anchor::At(span.end));
            }
            Goal::Deletion(_) => {
                targets = task.left_to_delete(buffer);
                for span in &targets {
                    add(Anchor::At(span.start));
                    add(Anchor::At(span.end));
                    if line_deletes && span.end.line > span.start.line {
                        for line in [span.start.line, span.end.line - 1, span.end.line] {
                            add(Anchor::OnLine { line, at_start: true });
                            add(Anchor::OnLine { line, at_start: false });
                        }
                    }
                }
                if targets.is_empty() {
                    return None;
                }
            }
            Goal::LineMove { to, .. } => {
                let now = task.line_to_move(buffer)?;
                let number = |action: Action| {
                    tools.iter().position(|tool| tool.action == action).map(|n| n as u16)
                };
                let (up, down) = (number(Action::MoveLinesUp), number(Action::MoveLinesDown));
                let (toward, against, first, last) =
                    if to > now { (down, up, now + 1, to) } else { (up, down, to, now - 1) };
                blocks.extend(toward.map(|tool| (now, now, tool, to.abs_diff(now))));
                blocks.extend(against.map(|tool| (first, last, tool, 1)));
                if last > first && against.is_some() {
                    for line in [first, last, last + 1] {
                        add(Anchor::OnLine { line, at_start: true });
                        add(Anchor::OnLine { line, at_start: false });
                    }
                }
            }
        }
        let deletes: Vec<u16> = (0..tools.len() as u16)
            .filter(|&n| {
                let action = tools[n as usize].action;
                matches!(action, Action::Delete(_) | Action::Cut | Action::DeleteLines)
            })
            .collect();
        let delete_cost = deletes.iter().map(|&n| costs[n as usize]).min().unwrap_or(0);
        let deletes_by = |wanted: &dyn Fn(Motion) -> bool| {
            deletes.iter().any(
                |&n| matches!(tools[n as usize].action, Action::Delete(motion) if wanted(motion)),
            )
        };
        let by_motion = |wanted: &dyn Fn(Action) -> Option<Motion>| -> Vec<(u16, Motion)> {
            let numbered = tools.iter().enumerate();
            numbered.filter_map(|(n, tool)| Some((n as u16, wanted(tool.action)?))).collect()
        };
        let goes = by_motion(&|action| match action {
            Action::Move(motion) => Some(motion),
            _ => None,
        });
        let selects = by_motion(&|action| match action {
            Action::Select(motion) => Some(motion),
            _ => None,
        });
        let edge = |motion| matches!(motion, Motion::LineStart | Motion::LineEnd);
        let near = |motion| {
            matches!(motion, Motion::Left | Motion::Right | Motion::WordLeft | Motion::WordRight)
        };
        Some(Self {
            far: deletes_by(&|motion| !edge(motion) && !near(motion)),
            edge_deletes: deletes_by(&edge),
            line_deletes,
            seen: vec![Vec::new(); layers.len()],
            editor,
            buffer,
            task,
            tools,
            costs,
            measure,
            layers,
            targets,
            blocks,
            delete_cost,
            deletes,
            nodes: Vec::new(),
            offsets,
            columns,
            heap: BinaryHeap::new(),
            chains: Vec::new(),
            chained: HashMap::new(),
            all: tools.iter().position(|t| t.action == Action::SelectAll).map(|n| n as u16),
            goes,
            selects,
            best: None,
        })
    }

    fn run(mut self) -> Option<Way> {
        let Cursor { at, wanted, anchor } = *self.editor.cursor();
        let layer = anchor.map_or(0, |anchor| self.layer_of(Anchor::At(anchor)).unwrap_or(0));
        self.push(Node { at, wanted, layer, cost: 0, parent: NOBODY, tool: 0 });
        while let Some(Reverse((cost, waiting))) = self.heap.pop() {
            if self.best.as_ref().is_some_and(|best| best.cost <= cost) {
                break;
            }
            let index = match waiting {
                Waiting::Node(index) => index,
                Waiting::Chain(chain) => {
                    self.delete_on(chain);
                    continue;
                }
            };
            let node = self.nodes[index as usize];
            let state = self.state(node.at, node.wanted);
            if self.seen[node.layer][state] != index + 1 {
                continue;
            }
            if self.reached(&node) {
                self.best = Some(Best { cost, node: index, tail: Vec::new() });
                break;
            }
            self.change(&node, index);
            self.expand(&node, index);
        }
        let best = self.best.take()?;
        Some(self.way(&best))
    }

    fn state(&self, at: Place, wanted: usize) -> usize {
        (self.offsets[at.line] + at.column) * self.columns + wanted
    }

    fn layer_of(&self, anchor: Anchor) -> Option<usize> {
        self.layers.iter().position(|layer| *layer == anchor)
    }

    fn push(&mut self, node: Node) {
        let state = self.state(node.at, node.wanted);
        if self.seen[node.layer].is_empty() {
            let last = self.buffer.end();
            let places = self.offsets[last.line] + last.column + 1;
            self.seen[node.layer] = vec![0; places * self.columns];
        }
        let seen = &mut self.seen[node.layer][state];
        if *seen != 0 && self.nodes[(*seen - 1) as usize].cost <= node.cost {
            return;
        }
        if self.best.as_ref().is_some_and(|best| best.cost <= node.cost) {
            return;
        }
        let index = self.nodes.len() as u32;
        *seen = index + 1;
        self.heap.push(Reverse((node.cost, Waiting::Node(index))));
        self.nodes.push(node);
    }

    fn reached(&self, node: &Node) -> bool {
        match (self.task.goal(), self.layers[node.layer]) {
            (Goal::Cursor(place), Anchor::None) => node.at == place,
            (Goal::Selection(span), Anchor::At(anchor)) => {
                anchor != node.at && Span::between(anchor, node.at) == span
            }
            _ => false,
        }
    }

    /// Every key that goes or selects.
    fn expand(&mut self, node: &Node, index: u32) {
        let (buffer, habits) = (self.buffer, self.editor.habits());
        let anchor = self.layers[node.layer];
        let costs = Arc::clone(&self.costs);
        let reach = |(at, wanted): (Place, usize), layer: usize, tool: u16| Node {
            at,
            wanted,
            layer,
            cost: node.cost + costs[tool as usize],
            parent: index,
            tool,
        };
        for n in 0..self.goes.len() {
            let (tool, motion) = self.goes[n];
            match anchor {
                Anchor::None => {
                    let to = go(buffer, node.at, node.wanted, motion, habits);
                    self.push(reach(to, 0, tool));
                }
                // All others lead where they lead without a selection, which
                // costs no more to get to.
                Anchor::At(anchor)
                    if node.parent == NOBODY || matches!(motion, Motion::Left | Motion::Right) =>
                {
                    let Node { at, wanted, .. } = *node;
                    let cursor = Cursor { at, wanted, anchor: Some(anchor) };
                    let Cursor { at, wanted, .. } = cursor.moved(buffer, motion, habits);
                    self.push(reach((at, wanted), 0, tool));
                }
                Anchor::At(_) | Anchor::OnLine { .. } => {}
            }
        }
        let (line, at_start) = (node.at.line, node.at.column == 0);
        let begun =
            [self.layer_of(Anchor::At(node.at)), self.layer_of(Anchor::OnLine { line, at_start })];
        for n in 0..self.selects.len() {
            let (tool, motion) = self.selects[n];
            match anchor {
                Anchor::None if begun == [None, None] => break,
                Anchor::None => {
                    let to = go(buffer, node.at, node.wanted, motion, habits);
                    let moves = to.0 != node.at;
                    for layer in begun.into_iter().flatten().filter(|_| moves) {
                        self.push(reach(to, layer, tool));
                    }
                }
                Anchor::At(anchor) => {
                    let to = go(buffer, node.at, node.wanted, motion, habits);
                    self.push(reach(to, if anchor == to.0 { 0 } else { node.layer }, tool));
                }
                Anchor::OnLine { .. } => {
                    let to = go(buffer, node.at, node.wanted, motion, habits);
                    self.push(reach(to, node.layer, tool));
                }
            }
        }
        let (start, end) = (buffer.start(), buffer.end());
        if let Some(all) = self.all
            && let Some(layer) = self.layer_of(Anchor::At(start)).filter(|_| start != end)
        {
            self.push(reach((end, buffer.display_column(end)), layer, all));
        }
    }

    /// The lines that the selection of `node` touches, as [`Editor::touched`].
    fn touched(&self, node: &Node) -> (usize, usize) {
        let (line, at_start) = match self.layers[node.layer] {
            Anchor::None => return (node.at.line, node.at.line),
            Anchor::At(place) => (place.line, place.column == 0),
            Anchor::OnLine { line, at_start } => (line, at_start),
        };
        let (first, last, at_start) = if line <= node.at.line {
            (line, node.at.line, node.at.column == 0)
        } else {
            (node.at.line, line, at_start)
        };
        (first, if at_start && last > first { last - 1 } else { last })
    }

    /// Every key that changes the text, and what it takes from there.
    fn change(&mut self, node: &Node, index: u32) {
        for n in 0..self.targets.len() {
            self.delete_from(node, index, self.targets[n]);
        }
        if self.blocks.is_empty() {
            return;
        }
        let touched = self.touched(node);
        for block in 0..self.blocks.len() {
            let (first, last, tool, times) = self.blocks[block];
            if touched == (first, last) {
                let cost = node.cost + self.costs[tool as usize] * times as Cost;
                self.offer(cost, index, || vec![tool; times]);
            }
        }
    }

    fn offer(&mut self, cost: Cost, node: u32, tail: impl FnOnce() -> Vec<u16>) {
        if self.best.as_ref().is_none_or(|best| cost < best.cost) {
            self.best = Some(Best { cost, node, tail: tail() });
        }
    }

    /// What the deleting key `tool` takes away from `editor`'s text.
    fn taken(
        &self,
        buffer: &Buffer,
        cursor: &Cursor,
        touched: (usize, usize),
        tool: u16,
    ) -> Option<Span> {
        let span = match (self.tools[tool as usize].action, cursor.selection()) {
            (Action::DeleteLines, _) => {
                let (first, last) = touched;
                if last + 1 < buffer.lines().len() {
                    Span { start: Place::new(first, 0), end: Place::new(last + 1, 0) }
                } else if first > 0 {
                    let end = buffer.line(first - 1).len();
                    Span { start: Place::new(first - 1, end), end: buffer.end() }
                } else {
                    Span { start: buffer.start(), end: buffer.end() }
                }
            }
            (_, Some(selection)) => selection,
            (Action::Delete(motion), None) => {
                let habits = self.editor.habits();
                let (to, _) = go(buffer, cursor.at, cursor.wanted, motion, habits);
                Span::between(cursor.at, to)
            }
            _ => return None,
        };
        (!span.is_empty()).then_some(span)
    }

    fn delete_from(&mut self, node: &Node, index: u32, target: Span) {
        let anchor = match self.layers[node.layer] {
            Anchor::None => None,
            Anchor::At(anchor) => Some(anchor),
            // Only keys that take whole lines make sense here.
            Anchor::OnLine { .. } => {
                self.delete_lines_from(node, index, target);
                return;
            }
        };
        let inside = target.start <= node.at && node.at <= target.end;
        if !inside && !self.line_deletes && anchor.is_none() {
            return;
        }
        let cursor = Cursor { at: node.at, wanted: node.wanted, anchor };
        let touched = self.touched(node);
        for n in 0..self.deletes.len() {
            let tool = self.deletes[n];
            let cost = node.cost + self.costs[tool as usize];
            let Some(span) = self.taken(self.buffer, &cursor, touched, tool) else { continue };
            if !target.holds(&span) {
                continue;
            }
            if span == target {
                self.offer(cost, index, || vec![tool]);
                continue;
            }
            let left = Span { start: target.start, end: span.start };
            let right = Span { start: span.end, end: target.end };
            let least = self.least_deletes(self.buffer, left, right);
            let least = if self.targets.len() > 1 { (least - 1).max(1) } else { least };
            if self.too_dear(cost, least) {
                continue;
            }
            self.follow(
                cost,
                least,
                Chain { before: None, cursor, cost, node: index, tail: vec![tool] },
            );
        }
    }

    /// Lets a chain of deletions that costs `cost` and needs `least` more wait
    /// its turn.
    fn follow(&mut self, cost: Cost, least: usize, chain: Chain) {
        let bound = cost + self.delete_cost * least as Cost;
        let number = self.chains.len() as u32;
        self.chains.push(chain);
        self.heap.push(Reverse((bound, Waiting::Chain(number))));
    }

    fn delete_lines_from(&mut self, node: &Node, index: u32, target: Span) {
        let Some(&tool) =
            self.deletes.iter().find(|&&n| self.tools[n as usize].action == Action::DeleteLines)
        else {
            return;
        };
        let cursor = Cursor { at: node.at, wanted: node.wanted, anchor: None };
        let span = self.taken(self.buffer, &cursor, self.touched(node), tool);
        if span == Some(target) {
            let cost = node.cost + self.costs[tool as usize];
            self.offer(cost, index, || vec![tool]);
        }
    }

    /// True where a way that costs `cost` so far and needs `least` deletions
    /// more can't beat the best.
    fn too_dear(&self, cost: Cost, least: usize) -> bool {
        let whole = cost + self.delete_cost * least as Cost;
        self.best.as_ref().is_some_and(|best| best.cost <= whole)
    }

    /// Works out a chain of deletions, and what else to delete after it.
    fn delete_on(&mut self, chain: u32) {
        let Chain { before, cursor, cost, node, tail } = &self.chains[chain as usize];
        let (cost, node, tail) = (*cost, *node, tail.clone());
        let Some(&latest) = tail.last() else { return };
        let mut editor = if let Some(before) = before {
            Editor::clone(before)
        } else {
            let mut editor = Editor::new(self.buffer.clone(), cursor.at, self.editor.habits());
            editor.set_cursor(*cursor);
            editor
        };
        editor.apply(self.tools[latest as usize].action);
        let known = self.chained.entry((editor.buffer().to_string(), editor.cursor().at));
        let least_cost = known.or_insert(Cost::MAX);
        if *least_cost <= cost {
            return;
        }
        *least_cost = cost;
        let targets = self.task.left_to_delete(editor.buffer());
        if targets.first().is_some_and(Span::is_empty) {
            self.offer(cost, node, || tail);
            return;
        }
        let cursor = *editor.cursor();
        let touched = editor.touched();
        let editor = Arc::new(editor);
        for n in 0..self.deletes.len() {
            let tool = self.deletes[n];
            let cost = cost + self.costs[tool as usize];
            let Some(span) = self.taken(editor.buffer(), &cursor, touched, tool) else { continue };
            // The reading of what is left that needs the fewest.
            let least = targets
                .iter()
                .filter(|target| target.holds(&span))
                .map(|target| {
                    let left = Span { start: target.start, end: span.start };
                    let right = Span { start: span.end, end: target.end };
                    if *target == span {
                        0
                    } else {
                        self.least_deletes(editor.buffer(), left, right)
                    }
                })
                .min();
            let Some(least) = least else { continue };
            // Equal text may be read in other ways after it.
            let least = if least > 1 && targets.len() > 1 { least - 1 } else { least };
            let mut tail = tail.clone();
            tail.push(tool);
            if least == 0 {
                self.offer(cost, node, || tail);
            } else if !self.too_dear(cost, least) {
                let before = Some(Arc::clone(&editor));
                self.follow(cost, least, Chain { before, cursor, cost, node, tail });
            }
        }
    }

    /// A lower bound of the deletions that take away `left` (which ends at the
    /// cursor) and `right` (which begins there), not both empty.
    fn least_deletes(&self, buffer: &Buffer, left: Span, right: Span) -> usize {
        if self.far || (self.line_deletes && buffer.lines().len() == 1) {
            return 1;
        }
        let mut least = 1;
        let lines = (left.end.line - left.start.line) + (right.end.line - right.start.line);
        if !self.line_deletes || lines == 0 {
            // Without keys for whole lines, a deletion goes one way.
            least = usize::from(!left.is_empty()) + usize::from(!right.is_empty());
            if !self.edge_deletes {
                // … and takes one whole word at most.
                least = least.max(words_within(buffer, left) + words_within(buffer, right));
            }
        }
        // Every deletion takes one line end at most.
        least.max(lines)
    }

    fn way(&self, best: &Best) -> Way {
        let mut tools: Vec<u16> = best.tail.iter().rev().copied().collect();
        let mut node = self.nodes[best.node as usize];
        while node.parent != NOBODY {
            tools.push(node.tool);
            node = self.nodes[node.parent as usize];
        }
        tools.reverse();
        let tool = |n: &u16| &self.tools[*n as usize];
        let time = tools.iter().map(|n| tool(n).time.0).sum();
        let step = |n: &u16| Step { output: tool(n).output.clone(), action: tool(n).action };
        debug_assert!(self.measure == Measure::Time || best.cost >> LOW >= tools.len() as u64);
        Way { steps: tools.iter().map(step).collect(), time: Micros(time) }
    }
}

/// How many words lie in `span` whole.
fn words_within(buffer: &Buffer, span: Span) -> usize {
    (span.start.line..=span.end.line)
        .map(|number| {
            let line = buffer.line(number);
            let from = if number == span.start.line { span.start.column } else { 0 };
            let to = if number == span.end.line { span.end.column } else { line.len() };
            let (starts, ends) = line.word_edges();
            let first = starts.partition_point(|&start| (start as usize) < from);
            let last = ends.partition_point(|&end| end as usize <= to);
            last.saturating_sub(first)
        })
        .sum()
}
