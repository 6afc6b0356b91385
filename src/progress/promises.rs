//! What surveys promised, against what is measured.

use super::{Hands, LayerProgress, Paying, Request};
use crate::layout::Layout;
use crate::store::{Store, StoreError};
use crate::survey::{Kept, Part, Surveyed};

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
/// first; none without an old way to save against.
///
/// # Errors
/// Where the history can't be read.
pub(super) fn promises(
    store: &Store,
    request: &Request<'_>,
    surveyed: &Surveyed,
    layers: &[LayerProgress],
) -> Result<Vec<Kept>, StoreError> {
    let Some(old) = request.old_layout else { return Ok(Vec::new()) };
    let (layout, today) = (request.layout, request.today);
    let mine: Vec<_> =
        surveyed.promises.iter().filter(|promise| promise.layout == layout.name).collect();
    if mine.is_empty() {
        return Ok(Vec::new());
    }
    let new = Hands::read(layout, &surveyed.habits, Some(store), today)?;
    let old = Hands::read(old, &surveyed.habits, Some(store), today)?;
    let ranking = Paying::of(surveyed, &new, &old).ranking;
    let kept = mine.into_iter().filter_map(|promise| {
        let now = ranking.iter().find(|one| one.part.word() == promise.part)?.now;
        Some(promise.held(now, minutes_of(&promise.part, layers, layout)))
    });
    Ok(kept.collect())
}
