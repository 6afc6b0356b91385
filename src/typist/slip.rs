//! What is struck instead of what is due.

use super::hands::neighbours;
use crate::keyboard::{Output, Position};
use crate::layout::{LayerId, Layout, Route, RouteTable};
use crate::order::Gather;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;

/// What each key gives on each layer without modifiers, and what lies beside it.
#[derive(Debug, Clone)]
pub(super) struct Map {
    text: BTreeMap<(LayerId, Position), Output>,
    beside: BTreeMap<Position, Vec<Position>>,
}

/// What surrounds a key that goes wrong.
pub(super) struct Place<'a> {
    pub due: &'a Output,
    pub route: &'a Route,
    pub layer_before: LayerId,
    pub before: Option<&'a Output>,
    pub next: Option<&'a Output>,
}

impl Map {
    pub fn new(layout: &Layout, routes: &RouteTable) -> Self {
        let mut text = BTreeMap::new();
        for (output, routes) in routes.outputs() {
            // Keys without text are never struck by mistake: three Escapes
            // would leave, and Enter changes nothing where a line is due.
            if !matches!(output, Output::Text(_)) {
                continue;
            }
            for route in routes.iter().filter(|route| route.modifiers.is_empty()) {
                text.entry((route.layer, route.position)).or_insert_with(|| output.clone());
            }
        }
        let sites = layout.board.sites.iter();
        let beside =
            sites.map(|site| (site.position, neighbours(&layout.board, site.position))).gather();
        Self { text, beside }
    }

    /// What comes instead; none where nothing that could come is there. Half
    /// of all slips hit the neighbour, a fifth each the right key on the wrong
    /// layer and the key before once more, the rest the key after too early:
    /// our own estimate. On the wrong layer means the layer left behind (let
    /// go too late) or the base layer (let go, or not reached, in time).
    pub fn slip(&self, place: &Place, rng: &mut ChaCha8Rng) -> Option<Output> {
        let kind = rng.random_range(0..100_u32);
        let on = |layer, position| self.text.get(&(layer, position)).cloned();
        let struck = match kind {
            50..70 => {
                let layer = place.route.layer;
                let wrong = if layer == LayerId::BASE { place.layer_before } else { LayerId::BASE };
                (wrong != layer).then(|| on(wrong, place.route.position)).flatten()
            }
            70..90 => place.before.cloned(),
            90.. => place.next.cloned(),
            _ => None,
        };
        let usable = |output: &Output| output != place.due && matches!(output, Output::Text(_));
        struck.filter(usable).or_else(|| {
            let beside = self.beside.get(&place.route.position)?;
            let there: Vec<Output> = beside
                .iter()
                .filter_map(|position| on(place.route.layer, *position))
                .filter(usable)
                .collect();
            let last = there.len().checked_sub(1)?;
            there.get(rng.random_range(0..=last as u32) as usize).cloned()
        })
    }
}
