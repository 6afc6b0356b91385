//! A text, as what follows what how often.

use crate::keyboard::Output;
use crate::layout::{LayerId, Route, RouteTable};
use std::collections::BTreeMap;

/// One stroke after another.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pair {
    pub before: Option<(Output, Route)>,
    pub output: Output,
    pub route: Route,
    pub times: f64,
}

/// A text to be timed: see [`super::Typist::text_seconds`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Text {
    pub(super) pairs: Vec<Pair>,
}

impl Text {
    /// The text of `lines`, each with how often it counts, as a layout with
    /// `routes` types it. What has no route is passed over.
    pub fn new<'a>(
        routes: &RouteTable,
        lines: impl IntoIterator<Item = (&'a [Output], f64)>,
    ) -> Self {
        type Key = (LayerId, Output);
        type Found = (Pair, f64);
        let mut pairs: BTreeMap<(Option<Key>, Key), Found> = BTreeMap::new();
        for (line, times) in lines {
            let mut before: Option<(Output, Route)> = None;
            for (output, route) in line.iter().zip(routes.along(line, &[])) {
                let Some(route) = route else { continue };
                let key = |(output, route): &(Output, Route)| (route.layer, output.clone());
                let here = (output.clone(), route.clone());
                pairs
                    .entry((before.as_ref().map(key), key(&here)))
                    .or_insert_with(|| {
                        let before = before.clone();
                        (Pair { before, output: output.clone(), route, times: 0.0 }, 0.0)
                    })
                    .1 += times;
                before = Some(here);
            }
        }
        let pairs = pairs.into_values().map(|(pair, times)| Pair { times, ..pair }).collect();
        Self { pairs }
    }

    /// How many strokes it has.
    pub fn strokes(&self) -> f64 {
        self.pairs.iter().map(|pair| pair.times).sum()
    }
}
