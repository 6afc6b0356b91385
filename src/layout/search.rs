//! Finds every route by trying every sequence of accesses.
//!
//! Sequences form a tree. Each node knows the nodes of all its proper
//! subsequences that can be played, so that "would fewer accesses do?" is a
//! comparison of numbers: outputs are numbered once.

use super::walk::{Walk, given};
use super::{Access, AccessStep, Assignment, LayerId, Layout, Route, Target, effort};
use crate::keyboard::{Modifiers, Output};
use crate::order::{Gather, InOrder};
use std::collections::BTreeMap;

/// The most access steps that a route may have.
pub const MOST_ACCESSES: usize = 4;

/// The number of an output; none where a key gives nothing.
type Given = Option<u32>;

struct Node<'a> {
    walk: Walk<'a>,
    /// Keys and accesses from rest to here.
    steps: Vec<(usize, Access)>,
    /// The nodes that one more access leads to, by key.
    children: Vec<(usize, Access, usize)>,
    /// The nodes of every proper subsequence of `steps` that can be played.
    fewer: Vec<usize>,
    /// What each key gives here, and the layer that has it.
    gives: Vec<(Given, LayerId)>,
}

/// Numbers outputs, and remembers what each key gives under each modifier.
struct Outputs {
    numbers: BTreeMap<Output, u32>,
    /// By modifiers, layer and key; none where not asked before.
    known: Vec<Option<Given>>,
    keys: usize,
    layers: usize,
}

impl Outputs {
    fn new(layout: &Layout) -> Self {
        let (keys, layers) = (layout.board.sites.len(), layout.layers.len());
        let states = usize::from(Modifiers::all().bits()) + 1;
        Self { numbers: BTreeMap::new(), known: vec![None; states * layers * keys], keys, layers }
    }

    fn of(&mut self, layout: &Layout, modifiers: Modifiers, layer: LayerId, index: usize) -> Given {
        let sheet = usize::from(modifiers.bits()) * self.layers + layer.index();
        let place = sheet * self.keys + index;
        if let Some(given) = self.known[place] {
            return given;
        }
        let output = given(layout, &layout.layer(layer).keys[index])
            .and_then(|plain| layout.with_modifiers(&plain, modifiers));
        let next = self.numbers.len() as u32;
        let number = output.map(|output| *self.numbers.entry(output).or_insert(next));
        self.known[place] = Some(number);
        number
    }
}

/// Every route to the outputs that `wanted` accepts, with modifiers of
/// `allowed` only; the preferred route of each first.
pub fn routes(
    layout: &Layout,
    allowed: Modifiers,
    wanted: impl Fn(&Output) -> bool,
) -> BTreeMap<Output, Vec<Route>> {
    let mut outputs = Outputs::new(layout);
    let nodes = grow(layout, allowed, &mut outputs);
    let mut by_number: Vec<(Option<Output>, Vec<Found>)> = Vec::new();
    by_number.resize_with(outputs.numbers.len(), Default::default);
    for (output, number) in outputs.numbers {
        if wanted(&output) {
            by_number[number as usize].0 = Some(output);
        }
    }
    for (id, node) in nodes.iter().enumerate() {
        for (index, &(given, layer)) in node.gives.iter().enumerate() {
            let Some(number) = given else { continue };
            let (Some(_), found) = &mut by_number[number as usize] else { continue };
            if node.fewer.iter().any(|&fewer| nodes[fewer].gives[index].0 == given) {
                continue;
            }
            let mut set = node.steps.clone();
            set.sort_unstable();
            // Nodes come in the order of their keys: the first of equals stays.
            if !found.iter().any(|other| other.index == index && other.set == set) {
                found.push(Found { node: id, index, layer, set });
            }
        }
    }
    let costs = effort::Costs::new(&layout.board);
    by_number
        .into_iter()
        .filter_map(|(output, found)| Some((output?, found)))
        .filter(|(_, found)| !found.is_empty())
        .map(|(output, found)| {
            let routes = in_order(layout, &costs, &nodes, &output, &found);
            (output, routes)
        })
        .gather()
}

/// The keyboard at rest and after every sequence of accesses to layers that a
/// route may have, shortest first.
pub fn states(layout: &Layout) -> Vec<Walk<'_>> {
    let mut outputs = Outputs::new(layout);
    let nodes = grow(layout, Modifiers::empty(), &mut outputs);
    nodes.into_iter().map(|node| node.walk).collect()
}

/// A route before it is weighed.
struct Found {
    node: usize,
    index: usize,
    layer: LayerId,
    /// The steps regardless of order.
    set: Vec<(usize, Access)>,
}

/// Every playable sequence of up to [`MOST_ACCESSES`] accesses, shortest first.
fn grow<'a>(layout: &'a Layout, allowed: Modifiers, outputs: &mut Outputs) -> Vec<Node<'a>> {
    let keys = layout.board.sites.len();
    let mut nodes: Vec<Node<'a>> = Vec::new();
    let root = Node {
        walk: Walk::new(layout),
        steps: Vec::new(),
        children: Vec::new(),
        fewer: Vec::new(),
        gives: Vec::new(),
    };
    nodes.push(root);
    let mut next = 0;
    while next < nodes.len() {
        let node = &nodes[next];
        let modifiers = node.walk.modifiers();
        let stack: Vec<(LayerId, &[Assignment])> =
            node.walk.stack().map(|id| (id, layout.layer(id).keys.as_slice())).collect();
        let mut gives = Vec::with_capacity(keys);
        let mut steps = Vec::new();
        for index in 0..keys {
            // As `Walk::meaning`, with the stack looked up once.
            let meaning = stack
                .iter()
                .map(|(id, sheet)| (*id, &sheet[index]))
                .find(|(_, own)| **own != Assignment::FallThrough)
                .filter(|_| node.walk.can_press(index));
            let Some((layer, assignment)) = meaning else {
                gives.push((None, LayerId::BASE));
                continue;
            };
            gives.push((outputs.of(layout, modifiers, layer, index), layer));
            let access = match assignment {
                Assignment::Access(access) | Assignment::Dual { hold: access, .. } => *access,
                _ => continue,
            };
            if node.steps.len() < MOST_ACCESSES
                && !node.walk.is_active(access.target)
                && is_allowed(access.target, allowed)
            {
                steps.push((index, access));
            }
        }
        nodes[next].gives = gives;
        for (index, access) in steps {
            let parent = &nodes[next];
            let mut walk = parent.walk.clone();
            walk.access(index);
            let mut all = parent.steps.clone();
            all.push((index, access));
            // Without this step, or without others: shorter nodes all exist.
            let mut fewer = parent.fewer.clone();
            fewer.push(next);
            fewer.extend(parent.fewer.iter().filter_map(|&other| {
                let children = &nodes[other].children;
                let at = children.binary_search_by_key(&index, |child| child.0).ok()?;
                (children[at].1 == access).then_some(children[at].2)
            }));
            let id = nodes.len();
            nodes[next].children.push((index, access, id));
            nodes.push(Node { walk, steps: all, children: Vec::new(), fewer, gives: Vec::new() });
        }
        next += 1;
    }
    nodes
}

fn is_allowed(target: Target, allowed: Modifiers) -> bool {
    match target {
        Target::Layer(_) => true,
        Target::Modifier(modifier) => allowed.contains(modifier),
    }
}

fn in_order(
    layout: &Layout,
    costs: &effort::Costs<'_>,
    nodes: &[Node<'_>],
    output: &Output,
    found: &[Found],
) -> Vec<Route> {
    let sites = &layout.board.sites;
    let pin = layout.prefer.get(output).copied();
    let mut routes: Vec<(Vec<usize>, Route)> = found
        .iter()
        .map(|found| {
            let node = &nodes[found.node];
            let accesses: Vec<AccessStep> = node
                .steps
                .iter()
                .map(|&(index, access)| AccessStep {
                    position: sites[index].position,
                    finger: sites[index].finger,
                    access,
                })
                .collect();
            let site = &sites[found.index];
            let mut order: Vec<usize> = node.steps.iter().map(|(index, _)| *index).collect();
            order.push(found.index);
            let route = Route {
                effort: costs.route(&node.steps, found.index),
                accesses,
                position: site.position,
                finger: site.finger,
                layer: found.layer,
                modifiers: node.walk.modifiers(),
            };
            (order, route)
        })
        .collect();
    routes.order_by(|(order, route), (other_order, other)| {
        let pinned = |route: &Route| pin == Some((route.layer, route.position));
        pinned(other)
            .cmp(&pinned(route))
            .then(route.effort.total_cmp(&other.effort))
            .then(route.accesses.len().cmp(&other.accesses.len()))
            .then(order.cmp(other_order))
    });
    routes.into_iter().map(|(_, route)| route).collect()
}
