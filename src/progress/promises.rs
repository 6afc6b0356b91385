//! What surveys promised, against what is measured.

use super::{LayerProgress, Request};
use crate::keyboard::Output;
use crate::layout::{Layout, RouteTable};
use crate::model::hands::Findings;
use crate::survey::{Kept, Known, Part, Side, Surveyed, first};

/// Minutes of practice of a part in all: of the layers of its cluster, or of the
/// base layer for the thumbs.
pub fn minutes_of(part: &str, layers: &[LayerProgress], layout: &Layout) -> f64 {
    let belongs = |layer: &&LayerProgress| {
        let Some(id) = layer.id else { return false };
        let cluster = layout.layer(id).cluster.word();
        cluster == part || (part == Part::Thumbs.word() && cluster == "base")
    };
    layers.iter().filter(belongs).map(|layer| layer.all.active.0 as f64 / 60e6).sum()
}

/// Each promise for the layout of `request` with what came of it, the earliest
/// first; none without a survey, or without an old way to save against.
pub(super) fn promises(
    request: &Request<'_>,
    surveyed: &Surveyed,
    (findings, old_findings): (&Findings, &Findings),
    layers: &[LayerProgress],
) -> Vec<Kept> {
    let Some(old) = request.old_layout else { return Vec::new() };
    let layout = request.layout;
    let mine: Vec<_> =
        surveyed.promises.iter().filter(|promise| promise.layout == layout.name).collect();
    if mine.is_empty() {
        return Vec::new();
    }
    let keys: Vec<Output> = surveyed.habits.keys().into_iter().map(|(key, _)| key).collect();
    let table = |layout: &Layout| {
        let mut routes = RouteTable::build(layout);
        routes.add_chords(layout, &keys);
        routes
    };
    let (routes, old_routes) = (table(layout), table(old));
    let new = Side { layout, routes: &routes, findings, known: Known::Letters };
    let old =
        Side { layout: old, routes: &old_routes, findings: old_findings, known: Known::Everything };
    let ranking = first(&surveyed.counts, &surveyed.habits, new, old);
    mine.into_iter()
        .filter_map(|promise| {
            let now = ranking.iter().find(|one| one.part.word() == promise.part)?.now;
            Some(promise.held(now, minutes_of(&promise.part, layers, layout)))
        })
        .collect()
}
