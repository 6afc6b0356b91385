//! What surveys promised, against what is measured.

use super::{Hands, Paying, Request};
use crate::layout::{LayerId, Layout};
use crate::order::Gather;
use crate::store::{Days, Step, Store, StoreError};
use crate::survey::{Kept, Part, Ranked, Surveyed};
use crate::units::Micros;
use std::collections::BTreeMap;

/// How long each layer of a layout was practised in all.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Practised(BTreeMap<LayerId, Micros>);

impl Practised {
    /// The history of `layout` up to the local day `to`; nothing without one.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn read(store: Option<&Store>, layout: &Layout, to: i32) -> Result<Self, StoreError> {
        let Some(store) = store else { return Ok(Self::default()) };
        let series = store.layer_series(&layout.name, Days::up_to(to), Step::Month)?;
        let layers = series.into_iter().filter_map(|(name, months)| {
            let active = months.values().map(|figures| figures.active.0).sum();
            Some((layout.layer_named(&name)?, Micros(active)))
        });
        Ok(Self(layers.gather()))
    }

    /// Minutes of practice of `part` in all: of the layers of its cluster, or of
    /// the base layer for the thumbs.
    pub fn minutes(&self, part: &str, layout: &Layout) -> f64 {
        let belongs = |id: LayerId| {
            let cluster = layout.layer(id).cluster.word();
            cluster == part || (part == Part::Thumbs.word() && cluster == "base")
        };
        let active = self.0.iter().filter(|(id, _)| belongs(**id)).map(|(_, active)| active.0);
        active.sum::<u64>() as f64 / 60e6
    }

    /// Each promise for `layout` that `surveyed` has, with what came of it by
    /// today's `ranking` of the same counts, the earliest first.
    pub fn held(&self, surveyed: &Surveyed, ranking: &[Ranked], layout: &Layout) -> Vec<Kept> {
        let mine = surveyed.promises.iter().filter(|promise| promise.layout == layout.name);
        mine.filter_map(|promise| {
            let now = ranking.iter().find(|one| one.part.word() == promise.part)?.now;
            Some(promise.held(now, self.minutes(&promise.part, layout)))
        })
        .collect()
    }
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
) -> Result<Vec<Kept>, StoreError> {
    let Some(old) = request.old_layout else { return Ok(Vec::new()) };
    let (layout, today) = (request.layout, request.today);
    if surveyed.promises.iter().all(|promise| promise.layout != layout.name) {
        return Ok(Vec::new());
    }
    let new = Hands::read(layout, &surveyed.habits, Some(store), today)?;
    let old = Hands::read(old, &surveyed.habits, Some(store), today)?;
    let ranking = Paying::of(surveyed, &new, &old).ranking;
    Ok(Practised::read(Some(store), layout, today)?.held(surveyed, &ranking, layout))
}
