//! What a layout costs on the person's counted work, and which layer first, by
//! today's hands.

use crate::keyboard::Output;
use crate::layout::{Layout, RouteTable};
use crate::model::hands::Findings;
use crate::practice;
use crate::store::{Store, StoreError};
use crate::survey::{Bill, Habits, Known, Ranked, Side, Surveyed, first};

/// A layout with what is known of the hands on it.
#[derive(Debug)]
pub struct Hands<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its routes, the chords of the habits by hand taken in.
    pub routes: RouteTable,
    /// What was measured; nothing without a history.
    pub findings: Findings,
}

impl<'a> Hands<'a> {
    /// Of `layout` as of local day `today`.
    ///
    /// # Errors
    /// Where the history can't be read.
    pub fn read(
        layout: &'a Layout,
        habits: &Habits,
        store: Option<&Store>,
        today: i32,
    ) -> Result<Self, StoreError> {
        let mut routes = RouteTable::build(layout);
        let findings = match store {
            Some(store) => practice::findings(store, layout, &routes, today)?,
            None => Findings::default(),
        };
        let keys: Vec<Output> = habits.keys().into_iter().map(|(key, _)| key).collect();
        routes.add_chords(layout, &keys);
        Ok(Self { layout, routes, findings })
    }

    /// For the bill and the ranking.
    pub const fn side(&self, known: Known) -> Side<'_> {
        let Self { layout, routes, findings } = self;
        Side { layout, routes, findings, known }
    }
}

/// The bills of both, and the ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Paying {
    /// Of a page on the layout and on the old way.
    pub bills: [Bill; 2],
    /// What to learn first, at the head.
    pub ranking: Vec<Ranked>,
}

impl Paying {
    /// By what is known of the hands on `new` and on `old`, typed for years.
    pub fn of(own: &Surveyed, new: &Hands<'_>, old: &Hands<'_>) -> Self {
        let (new, old) = (new.side(Known::Letters), old.side(Known::Everything));
        let bill = |side: Side<'_>| {
            let work = (&own.counts, &own.habits);
            Bill::of(side.layout, side.routes, work, (side.findings, side.known))
        };
        Self { bills: [bill(new), bill(old)], ranking: first(&own.counts, &own.habits, new, old) }
    }
}
