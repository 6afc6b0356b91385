//! The plan of a sitting: what is needed, what is known, and what the person
//! asked for.

use super::{SHORTCUTS, recall};
use crate::drill::{DrillError, Offer, Recollect, Remembered, What};
use crate::keyboard::Output;
use crate::layout::{LayerId, Layout, RouteTable};
use crate::model::hands::Findings;
use crate::order::Gather;
use crate::plan::{Choice, Entry, Need, Planner, Today, Watch, Wishes};
use crate::session::Keystroke;
use crate::store::{Store, Wish};
use crate::survey::Surveyed;
use crate::units::Micros;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The plan for `layout` by the history in `store`, as of local day `today`, and
/// by what the person's texts need where they were counted;
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
    surveyed: Option<&Surveyed>,
    seed: Option<u64>,
    today: i32,
) -> Result<Plan, DrillError> {
    let findings = store.and_then(|s| super::findings(s, layout, routes, today).ok());
    let wishes = store.and_then(|store| store.wishes(&layout.name).ok());
    let seed = seed.unwrap_or(u64::from(today.unsigned_abs()));
    let mut plan = Plan::new(
        layout,
        routes,
        offers,
        &findings.unwrap_or_default(),
        &wishes.unwrap_or_default(),
        surveyed,
        seed,
    )?;
    let deck = super::deck(store, &layout.name);
    let (remembered, _) = super::remembered(&deck, layout, routes, &|_| true, today);
    plan.due = plan.due_first(&remembered).then(|| recall::words(&remembered));
    Ok(plan)
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
    /// Why shortcuts come first; none where nothing is due.
    due: Option<String>,
    seed: u64,
}

impl Plan {
    /// By what is known, by what the person's work needs, and by the person's wishes about words of
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
        surveyed: Option<&Surveyed>,
        seed: u64,
    ) -> Result<Self, DrillError> {
        let asked = |offer: &&Offer, wish| wishes.get(&offer.what.word(layout)) == Some(&wish);
        let without: BTreeSet<What> = offers
            .iter()
            .filter(|offer| asked(offer, Wish::LeftOut))
            .map(|offer| offer.what)
            .gather();
        let left_out = offers
            .iter()
            .filter(|offer| without.contains(&offer.what))
            .flat_map(|offer| offer.layers.iter().copied())
            .filter(|layer| *layer != LayerId::BASE)
            .gather();
        let pinned = offers
            .iter()
            .filter(|offer| asked(offer, Wish::Pinned))
            .map(|offer| offer.what)
            .collect();
        Ok(Self {
            offers: offers.iter().filter(|o| !without.contains(&o.what)).cloned().collect(),
            need: Arc::new(Need::of_work(routes, surveyed)?),
            watch: Watch::knowing(layout, routes, findings),
            wishes: Wishes { pinned, left_out },
            only: None,
            due: None,
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
        ordinal == 0 && recollect.remembered.as_ref().is_some_and(|r| self.due_first(r))
    }

    /// True where something is due of the shortcuts, and they are offered.
    fn due_first(&self, remembered: &Remembered) -> bool {
        !remembered.due.is_empty() && self.offers.iter().any(|offer| offer.what == SHORTCUTS)
    }

    /// What is planned for so many minutes: what is about to be forgotten
    /// first, then what pays most.
    pub fn today(&self, layout: &Layout, routes: &RouteTable, minutes: u32) -> Today {
        let planner = self.planner(layout, routes);
        let Some((reason, rest)) = self.due.clone().zip(minutes.checked_sub(1)) else {
            return planner.today(minutes);
        };
        let mut today = planner.today(rest);
        let known = today.entries.iter().position(|entry| entry.what == SHORTCUTS);
        let later = known.map(|at| today.entries.remove(at));
        let title = self.offers.iter().find(|offer| offer.what == SHORTCUTS);
        let first = Entry {
            what: SHORTCUTS,
            title: title.map(|offer| offer.title.clone()).unwrap_or_default(),
            minutes: 1 + later.as_ref().map_or(0, |entry| entry.minutes),
            reason,
            items: later.map(|entry| entry.items).unwrap_or_default(),
        };
        today.entries.insert(0, first);
        today
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
