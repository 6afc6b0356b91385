//! Text as the outputs of a layout.

use super::reach::Reach;
use crate::keyboard::Output;
use crate::layout::RouteTable;

/// Spells text with what a layout gives.
#[derive(Debug, Clone)]
pub struct Speller(Reach);

impl Speller {
    /// For the layout with `routes`.
    pub fn new(routes: &RouteTable) -> Self {
        Self(Reach::new(routes))
    }

    /// `line` (no line feeds) as outputs. A tab is the key Tab; what the
    /// layout can't give is replaced by its plainest form, or dropped.
    pub fn spell(&self, line: &str) -> Vec<Output> {
        self.0.tokens(line).items
    }

    /// True where the layout gives `output`.
    pub fn can(&self, output: &Output) -> bool {
        self.0.can(output)
    }
}
