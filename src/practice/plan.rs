//! The plan of a sitting: what is needed, what is known, and what the person
//! asked for.

use super::SHORTCUTS;
use crate::drill::{DrillError, Offer, Recollect, What};
use crate::keyboard::Output;
use crate::layout::{LayerId, Layout, RouteTable};
use crate::model::hands::Findings;
use crate::plan::{Choice, Need, Planner, Today, Watch, Wishes, WorkMix};
use crate::session::Keystroke;
use crate::store::{Store, Wish};
use crate::units::Micros;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The plan for `layout` by the history in `store`, as of local day `today`;
/// without a history, or where it can't be read, by what is assumed of
/// somebody who touch-types. Without a `seed` the plan is the same all day, as
/// long as the history is.
///
/// # Errors
/// [`DrillError::Material`] if a shipped file is faulty, which the tests
/// rule out.
pub fn planned(
    store: Option<&Store>,
    layout: &Layout,
    routes: &RouteTable,
    offers: &[Offer],
    seed: Option<u64>,
    today: i32,
) -> Result<Plan, DrillError> {
    let findings = store.and_then(|s| super::findings(s, layout, routes, today).ok());
    let wishes = store.and_then(|store| store.wishes(&layout.name).ok());
    let seed = seed.unwrap_or(u64::from(today.unsigned_abs()));
    Plan::new(
        layout,
        routes,
        offers,
        &findings.unwrap_or_default(),
        &wishes.unwrap_or_default(),
        seed,
    )
}

/// What drills are chosen by.
#[derive(Debug, Clone)]
pub struct Plan {
    /// What may be chosen.
    offers: Vec<Offer>,
    need: Arc<Need>,
    watch: Watch,
    wishes: Wishes,
    /// What the person chose instead.
    only: Option<What>,
    seed: u64,
}

impl Plan {
    /// By what is known and by the person's wishes about words of
    /// [`What::word`]. The same seed makes the same plan of the same history.
    ///
    /// # Errors
    /// [`DrillError::Material`] if a shipped file is faulty, which the tests
    /// rule out.
    pub fn new(
        layout: &Layout,
        routes: &RouteTable,
        offers: &[Offer],
        findings: &Findings,
        wishes: &BTreeMap<String, Wish>,
        seed: u64,
    ) -> Result<Self, DrillError> {
        let asked = |offer: &&Offer, wish| wishes.get(&offer.what.word(layout)) == Some(&wish);
        let without: BTreeSet<What> = offers
            .iter()
            .filter(|offer| asked(offer, Wish::LeftOut))
            .map(|offer| offer.what)
            .collect();
        let left_out = offers
            .iter()
            .filter(|offer| without.contains(&offer.what))
            .flat_map(|offer| offer.layers.iter().copied())
            .filter(|layer| *layer != LayerId::BASE)
            .collect();
        let pinned = offers
            .iter()
            .filter(|offer| asked(offer, Wish::Pinned))
            .map(|offer| offer.what)
            .collect();
        Ok(Self {
            offers: offers.iter().filter(|o| !without.contains(&o.what)).cloned().collect(),
            need: Arc::new(Need::of(routes, &WorkMix::default())?),
            watch: Watch::knowing(layout, routes, findings),
            wishes: Wishes { pinned, left_out },
            only: None,
            seed,
        })
    }

    /// The same where the person chose `what`.
    #[must_use]
    pub fn about(mut self, what: What) -> Self {
        self.only = Some(what);
        self
    }

    /// The drill number `ordinal` of a sitting; none where nothing is left
    /// that is worth practising.
    pub fn choose(&self, layout: &Layout, routes: &RouteTable, ordinal: u32) -> Option<Choice> {
        match self.only {
            Some(what) => self.choose_about(what, layout, routes, ordinal),
            None => self.planner(layout, routes).next(ordinal),
        }
    }

    /// The same where the person would choose `what`.
    pub fn choose_about(
        &self,
        what: What,
        layout: &Layout,
        routes: &RouteTable,
        ordinal: u32,
    ) -> Option<Choice> {
        self.planner(layout, routes).about(what, ordinal)
    }

    /// How long the person takes for `output` by its preferred route, without
    /// the way to its layer; none where they have not struck it yet.
    pub fn time_of(&self, routes: &RouteTable, output: &Output) -> Option<Micros> {
        let layer = routes.to(output)?.layer;
        let belief = self.watch.beliefs().items.get(&(layer, output.clone()))?;
        let (log_ms, _) = belief.course.log();
        (belief.course.times >= 1.0).then(|| Micros::from_ms(log_ms.exp().round() as u64))
    }

    /// True where drill number `ordinal` is one of shortcuts: the person chose
    /// them, or they are offered and something is due when a sitting begins.
    pub(super) fn recalls(&self, recollect: &Recollect, ordinal: u32) -> bool {
        if let Some(what) = self.only {
            return what == SHORTCUTS;
        }
        let due = recollect.remembered.as_ref().is_some_and(|r| !r.due.is_empty());
        due && ordinal == 0 && self.offers.iter().any(|offer| offer.what == SHORTCUTS)
    }

    /// What is planned for so many minutes.
    pub fn today(&self, layout: &Layout, routes: &RouteTable, minutes: u32) -> Today {
        self.planner(layout, routes).today(minutes)
    }

    /// Takes in a keystroke of the sitting.
    pub fn see(&mut self, keystroke: &Keystroke) {
        self.watch.see(keystroke);
    }

    /// What to practise where no choice can be weighed: everything that is not
    /// left out, in turn.
    pub fn in_turn(&self, ordinal: u32) -> Option<What> {
        if self.only.is_some() {
            return self.only;
        }
        let at = ordinal as usize % self.offers.len().max(1);
        self.offers.get(at).map(|offer| offer.what)
    }

    fn planner<'a>(&'a self, layout: &'a Layout, routes: &'a RouteTable) -> Planner<'a> {
        Planner {
            layout,
            routes,
            offers: &self.offers,
            need: &self.need,
            beliefs: self.watch.beliefs(),
            wishes: &self.wishes,
            seed: self.seed,
        }
    }
}
