//! The physical presses that give an output.

use super::{Access, LayerId};
use crate::keyboard::{Finger, Modifiers, Output, Position};
use std::collections::BTreeMap;

/// One access key of a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AccessStep {
    /// The access key.
    pub position: Position,
    /// The finger that presses it.
    pub finger: Finger,
    /// How and what it makes active.
    pub access: Access,
}

/// One way to give one output.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// Access keys in the order in which they are pressed.
    pub accesses: Vec<AccessStep>,
    /// The key that is struck last.
    pub position: Position,
    /// The finger that strikes it.
    pub finger: Finger,
    /// The layer that gives the output: the uppermost active one. An output
    /// that falls through belongs to the layer beneath.
    pub layer: LayerId,
    /// The modifiers that are active at the strike.
    pub modifiers: Modifiers,
    /// Effort by the prior model, > 0; 1 is an easy key on the home row.
    pub effort: f32,
}

/// Every text output of a layout with its routes, least effort first.
#[derive(Debug, Clone, Default)]
pub struct RouteTable {
    routes: BTreeMap<Output, Vec<Route>>,
}

impl RouteTable {
    /// The preferred route to `output`, if it can be given at all.
    pub fn preferred(&self, output: &Output) -> Option<&Route> {
        self.routes.get(output)?.first()
    }

    /// All routes to `output`, the preferred one first.
    pub fn all(&self, output: &Output) -> &[Route] {
        self.routes.get(output).map_or(&[], Vec::as_slice)
    }

    /// Every output that the table knows, in order.
    pub fn outputs(&self) -> impl Iterator<Item = (&Output, &[Route])> {
        self.routes.iter().map(|(output, routes)| (output, routes.as_slice()))
    }
}
