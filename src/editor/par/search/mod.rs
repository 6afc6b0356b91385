//! From state to state, by the least that a way through it can cost.

mod deletion;
mod motion;
mod needed;
mod texts;

use self::texts::Left;
use super::bound::{Least, Target};
use super::far::{Far, Keys};
use super::ground::{Ground, Spot, State};
use super::reads::Reads;
use super::{Measure, Step, Tool, Tools, Way, Within};
use crate::editor::{Action, Buffer, Cursor, Editor, Goal, Motion, Task};
use crate::units::Micros;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use std::hash::{BuildHasherDefault, Hasher};

/// Keys and time as one number, the measure in the upper bits.
pub(super) type Cost = u64;

/// Where the keys begin; their times, in units of 64 µs, lie below.
const KEY: Cost = 1 << 32;

/// Beyond so many states no more ways are begun that delete in several goes.
const MOST_NODES: usize = 1 << 20;

/// A text on the way takes about as long as so many states.
const STATES_A_TEXT: usize = 30;

/// So many lines beyond those that change are looked at for equal ones.
const EQUAL_LINES: usize = 3;

/// So many selections have tables of their own; states of others are looked up.
const MOST_LAYERS: usize = 10;

/// Where a selection was begun, as far as it matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// Nothing is selected.
    None,
    /// There.
    At(Spot),
    /// Anywhere on the line, at its start or after it; only whole lines count.
    OnLine { line: u32, at_start: bool },
}

impl Mark {
    /// A number for it, unique in a text with so many places.
    const fn number(self, places: u32) -> u64 {
        (match self {
            Self::None => 0,
            Self::At(place) => 1 + place,
            Self::OnLine { line, at_start } => 1 + places + 2 * line + at_start as u32,
        }) as u64
    }
}

/// A text on the way.
pub(super) struct Text {
    pub buffer: Buffer,
    pub ground: Ground,
    /// What is left to delete: any one of these.
    pub targets: Vec<Target>,
    /// What deleting it costs at least, wherever the cursor stands.
    pub rest: Cost,
    /// How far it is to the goal, to each end of what is to be selected, or to
    /// where something is left to delete.
    far: Vec<Far>,
    /// Blocks of lines with the key that moves them rightly, and how often.
    blocks: Vec<(usize, usize, u16, u16)>,
    /// Blocks that a key moves by one line on the way.
    parts: Vec<(usize, usize, u16)>,
    /// Lines on which a selection of whole lines may begin.
    lines: Vec<u32>,
}

impl Text {
    fn new(ground: Ground, buffer: Buffer) -> Self {
        let (targets, far, lines) = (Vec::new(), Vec::new(), Vec::new());
        Self { buffer, ground, targets, rest: 0, far, blocks: Vec::new(), parts: Vec::new(), lines }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    /// A state of the cursor.
    State,
    /// After a key that did part of it; not worked out yet.
    Partly,
    /// The goal.
    Done,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    kind: Kind,
    text: u32,
    mark: Mark,
    state: State,
    cost: Cost,
    parent: u32,
    tool: u16,
    /// How often the tool is struck.
    times: u16,
    /// True where no keys that go led to the selection's end: it was there in
    /// a new text, grew from there, or is everything.
    fresh: bool,
}

const NOBODY: u32 = u32::MAX;

/// Spreads numbers over a table (Fibonacci hashing, Knuth vol. 3, 6.4).
#[derive(Default)]
struct Spread(u64);

impl Hasher for Spread {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(self.0 ^ u64::from(*byte));
        }
    }

    fn write_u32(&mut self, number: u32) {
        self.write_u64(self.0 ^ u64::from(number));
    }

    fn write_u64(&mut self, number: u64) {
        let spread = number.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 = spread ^ (spread >> 32);
    }
}

/// True where `motion` passes one line's end at most.
const fn is_short(motion: Motion) -> bool {
    matches!(
        motion,
        Motion::Left
            | Motion::Right
            | Motion::WordLeft
            | Motion::WordRight
            | Motion::LineStart
            | Motion::LineEnd
    )
}

pub(super) struct Search<'a> {
    editor: &'a Editor,
    task: &'a Task,
    tools: &'a [Tool],
    costs: Vec<Cost>,
    measure: Measure,
    least: Least,
    texts: Vec<Text>,
    /// Those but the first, by the sum of what they read.
    known: HashMap<u64, u32, BuildHasherDefault<Spread>>,
    /// What a deletion leaves: of which text, from where to where.
    settled: HashMap<(u32, Spot, Spot), Left, BuildHasherDefault<Spread>>,
    /// What the goal's text reads, where ways are looked for that change the
    /// text in several goes.
    result: Reads,
    goes: Vec<(u16, Motion)>,
    selects: Vec<(u16, Motion)>,
    deletes: Vec<(u16, Motion)>,
    /// The cheapest key that deletes what is selected.
    clear: Option<u16>,
    all: Option<u16>,
    line_delete: Option<u16>,
    keys: Keys,
    /// From each end of what is to be selected to the other, at least.
    across: [Cost; 2],
    nodes: Vec<Node>,
    /// The node that reaches each state of the first text best, plus one, by
    /// where the selection began; of all others by number.
    layers: Vec<(Mark, Vec<u32>)>,
    seen: HashMap<u64, u32, BuildHasherDefault<Spread>>,
    heap: BinaryHeap<Reverse<(Cost, u32)>>,
    /// What the best way known costs, or the least that is too much.
    limit: Cost,
    /// The most states to be looked at.
    most: usize,
    /// True where ways that change the text in several goes are looked for.
    in_parts: bool,
    /// True where a key that selects costs less than the one that goes the same
    /// way, so that a selection may be begun to get somewhere.
    cheap: bool,
}

impl<'a> Search<'a> {
    /// A search from `editor`; none where no key leads on.
    pub fn new(
        editor: &'a Editor,
        task: &'a Task,
        tools: &'a Tools,
        measure: Measure,
    ) -> Option<Self> {
        let tools = tools.tools();
        let costs: Vec<Cost> = tools
            .iter()
            .map(|tool| {
                let time = tool.time.0.min(u64::from(u32::MAX));
                match measure {
                    Measure::Keys => KEY + (time >> 6),
                    Measure::Time => (time << 24) + 1,
                }
            })
            .collect();
        let number =
            |action: Action| tools.iter().position(|tool| tool.action == action).map(|n| n as u16);
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
        let deletes = by_motion(&|action| match action {
            Action::Delete(motion) => Some(motion),
            _ => None,
        });
        let cut = number(Action::Cut);
        let line_delete = number(Action::DeleteLines);
        let all = number(Action::SelectAll);
        let cost = |n: &u16| costs[*n as usize];
        let clear = deletes.iter().map(|(n, _)| *n).chain(cut).min_by_key(|n| cost(n));
        let steps = goes.iter().chain(&selects).map(|(n, _)| *n).chain(all);
        let least = Least {
            step: steps.map(|n| cost(&n)).min().unwrap_or(KEY),
            short: deletes.iter().all(|(_, motion)| is_short(*motion)),
            words: deletes.iter().all(|(_, motion)| {
                is_short(*motion) && !matches!(motion, Motion::LineStart | Motion::LineEnd)
            }),
            joins: false,
            delete: clear.into_iter().chain(line_delete).map(|n| cost(&n)).min().unwrap_or(KEY),
        };
        // A key that selects takes the cursor where the one that goes does.
        let motions = goes.iter().map(|&(go, motion)| {
            let select = selects.iter().find(|(_, other)| *other == motion);
            (motion, select.map_or(cost(&go), |(select, _)| cost(select).min(cost(&go))))
        });
        let keys = Keys {
            motions: motions.collect(),
            all: all.as_ref().map(|all| (cost(all), least.step)),
        };
        let cheap = goes.iter().any(|(go, motion)| {
            selects.iter().any(|(select, other)| other == motion && cost(select) < cost(go))
        });
        let mut search = Self {
            editor,
            task,
            tools,
            costs,
            measure,
            least,
            texts: Vec::new(),
            known: HashMap::default(),
            settled: HashMap::default(),
            result: Reads::default(),
            goes,
            selects,
            deletes,
            clear,
            all,
            line_delete,
            keys,
            across: [0; 2],
            nodes: Vec::new(),
            layers: Vec::new(),
            seen: HashMap::default(),
            heap: BinaryHeap::new(),
            limit: Cost::MAX,
            most: usize::MAX,
            in_parts: false,
            cheap,
        };
        search.add_text(0, editor.buffer().clone(), editor.cursor().wanted)?;
        search.least.joins = search.texts[0].ground.reads.may_join();
        if let (Goal::Selection(span), [Text { ground, far, .. }]) =
            (task.goal(), search.texts.as_slice())
        {
            let spots = [span.start, span.end].map(|end| ground.spot(end));
            search.across = [0, 1].map(|n| far[1 - n].starting_at(ground, spots[n], least.step));
        }
        Some(search)
    }

    /// Only as far as that.
    pub fn within(mut self, Within { keys, states }: Within) -> Self {
        if self.measure == Measure::Keys {
            self.limit = (keys as Cost).saturating_add(1).saturating_mul(KEY);
        }
        self.most = states;
        self
    }

    /// A shortest way: first of those that change the text at one go, then any
    /// that is shorter still.
    pub fn run(mut self) -> Option<Way> {
        let first = self.once();
        if self.gave_up() {
            return None;
        }
        if !matches!(self.task.goal(), Goal::Deletion(_) | Goal::LineMove { .. }) {
            return first.map(|(_, way)| way);
        }
        self.in_parts = true;
        self.result = Reads::of(self.task.result());
        self.result.count();
        if let Some((cost, _)) = first {
            self.limit = match self.measure {
                Measure::Keys => cost / KEY * KEY,
                Measure::Time => cost,
            };
        }
        self.most = self.most.saturating_sub(self.nodes.len());
        self.nodes.clear();
        self.seen.clear();
        self.heap.clear();
        let less = self.once();
        // Where it gave up, nobody knows whether there is less.
        less.or(first).filter(|_| !self.gave_up()).map(|(_, way)| way)
    }

    /// True where more was looked at than was to be.
    fn gave_up(&self) -> bool {
        self.nodes.len() + STATES_A_TEXT * self.texts.len() > self.most
    }

    fn once(&mut self) -> Option<(Cost, Way)> {
        self.layers.clear();
        let root = Node {
            kind: Kind::State,
            text: 0,
            mark: Mark::None,
            state: 0,
            cost: 0,
            parent: NOBODY,
            tool: 0,
            times: 0,
            fresh: true,
        };
        self.begin(&root, 0, *self.editor.cursor());
        while let Some(Reverse((_, index))) = self.heap.pop() {
            if self.gave_up() {
                return None;
            }
            let node = self.nodes[index as usize];
            match node.kind {
                Kind::Partly => self.settle(&node),
                Kind::State if !self.is_best(&node, index) => {}
                Kind::State if !self.reached(&node) => self.expand(&node, index),
                Kind::State | Kind::Done => return Some((node.cost, self.way(index))),
            }
        }
        None
    }

    /// Goes on from `node` in the text number `text` with that cursor.
    fn begin(&mut self, node: &Node, text: u32, cursor: Cursor) {
        let Cursor { at, wanted, anchor } = cursor;
        let ground = &mut self.texts[text as usize].ground;
        let state = ground.state(at, wanted);
        let mark = anchor.map_or(Mark::None, |anchor| Mark::At(ground.spot(anchor)));
        let on_line = anchor
            .map(|anchor| Mark::OnLine { line: anchor.line as u32, at_start: anchor.column == 0 });
        for mark in std::iter::once(mark).chain(on_line) {
            self.push(Node { kind: Kind::State, text, mark, state, fresh: true, ..*node });
        }
    }

    fn key(&self, node: &Node) -> u64 {
        let mark = node.mark.number(self.texts[node.text as usize].ground.places());
        u64::from(node.text) << 44 | mark << 22 | u64::from(node.state)
    }

    /// The table that has the states of that text and selection, if any.
    fn layer(&self, text: u32, mark: Mark) -> Option<usize> {
        let here = || self.layers.iter().position(|(known, _)| *known == mark);
        (text == 0).then(here).flatten()
    }

    /// That table, made where there is room for one more.
    fn layer_for(&mut self, text: u32, mark: Mark) -> Option<usize> {
        let found = self.layer(text, mark);
        if found.is_none() && text == 0 && self.layers.len() < MOST_LAYERS {
            self.layers.push((mark, vec![0; self.texts[0].ground.states()]));
            return Some(self.layers.len() - 1);
        }
        found
    }

    /// The node that reaches the state of `node` best, plus one; 0 for none.
    fn best(&self, node: &Node, layer: Option<usize>) -> u32 {
        match layer {
            Some(layer) => self.layers[layer].1[node.state as usize],
            None => self.seen.get(&self.key(node)).copied().unwrap_or(0),
        }
    }

    /// True where no node reaches the state of `node` better than itself, which
    /// has that number.
    fn is_best(&self, node: &Node, index: u32) -> bool {
        self.best(node, self.layer(node.text, node.mark)) == index + 1
    }

    fn push(&mut self, node: Node) {
        let layer = self.layer_for(node.text, node.mark);
        self.push_on(layer, node);
    }

    /// As [`Self::push`], where the table of its text and selection is known.
    fn push_on(&mut self, layer: Option<usize>, node: Node) {
        let known = self.best(&node, layer);
        if known != 0 && self.nodes[(known - 1) as usize].cost <= node.cost {
            return;
        }
        let bound = node.cost + self.bound(&node);
        if bound >= self.limit {
            return;
        }
        let index = self.add(node, bound);
        match layer {
            Some(layer) => self.layers[layer].1[node.state as usize] = index + 1,
            None => {
                self.seen.insert(self.key(&node), index + 1);
            }
        }
    }

    fn add(&mut self, node: Node, bound: Cost) -> u32 {
        let index = self.nodes.len() as u32;
        self.nodes.push(node);
        self.heap.push(Reverse((bound, index)));
        index
    }

    fn times(&self, tool: u16, times: u16) -> Cost {
        self.costs[tool as usize] * Cost::from(times)
    }

    fn reached(&self, node: &Node) -> bool {
        let ground = &self.texts[node.text as usize].ground;
        let at = ground.at(node.state);
        match (self.task.goal(), node.mark) {
            (Goal::Cursor(place), Mark::None) => at == ground.spot(place),
            (Goal::Selection(span), Mark::At(anchor)) => {
                (anchor.min(at), anchor.max(at)) == (ground.spot(span.start), ground.spot(span.end))
            }
            _ => false,
        }
    }

    /// Every key that can be struck in the state of `node`.
    fn expand(&mut self, node: &Node, index: u32) {
        match self.task.goal() {
            Goal::Deletion(_) => self.delete(node, index),
            Goal::LineMove { .. } => self.move_lines(node, index),
            Goal::Cursor(_) | Goal::Selection(_) => {}
        }
        self.go(node, index);
        self.select(node, index);
    }

    /// The goal is reached from `node` by so many strikes of `tool`.
    fn done(&mut self, node: &Node, index: u32, tool: u16, times: u16) {
        let cost = node.cost + self.times(tool, times);
        if cost < self.limit {
            self.limit = cost;
            self.add(Node { kind: Kind::Done, cost, parent: index, tool, times, ..*node }, cost);
        }
    }

    fn way(&self, index: u32) -> Way {
        let mut tools: Vec<u16> = Vec::new();
        let mut node = self.nodes[index as usize];
        while node.parent != NOBODY {
            tools.extend(std::iter::repeat_n(node.tool, usize::from(node.times)));
            node = self.nodes[node.parent as usize];
        }
        tools.reverse();
        let tool = |n: &u16| &self.tools[*n as usize];
        let time = tools.iter().map(|n| tool(n).time.0).sum();
        let step = |n: &u16| Step { output: tool(n).output.clone(), action: tool(n).action };
        Way { steps: tools.iter().map(step).collect(), time: Micros(time) }
    }
}
