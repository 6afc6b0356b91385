//! What the history says of a layout: by layer, key, switch and day, against
//! the days before and against the old way.
//!
//! This room is shell: it asks the store, and knows neither screen nor report,
//! which draw and write what [`Progress`] holds.

mod old_way;
mod outlook;
mod paying;
mod promises;
#[cfg(test)]
pub mod sample;
#[cfg(test)]
mod tests;
mod thumbs;

pub use old_way::{LEAST_SHARE, OldWay, Standing};
pub use outlook::{ItemOutlook, LEAST_MEASURED, Outlook, PageOutlook, reach_words};
pub use paying::{Hands, Paying};
pub use promises::Practised;
pub use thumbs::{ShiftByThumb, ThumbKey, Thumbs};

use crate::drill::ItemKey;
use crate::layout::{LayerId, Layout, RouteTable};
use crate::model::hands::Findings;
use crate::model::switch::Told;
use crate::order::{Gather, InOrder};
use crate::practice;
use crate::session::{Change, Spread};
use crate::store::{
    DATABASE, Days, Figures, ItemName, Parts, Places, PracticeDay, Step, Store, StoreError,
    journals_waiting,
};
use crate::survey::{Kept, Surveyed};
use crate::units::Micros;
use old_way::OldItems;
use outlook::Known;
use std::collections::BTreeMap;
use std::path::Path;

/// "Lately" are the days up to the last practised one, so many in all.
pub const RECENT_DAYS: i32 = 14;

/// Up to so many days a point of a series is a day, beyond it a month.
const MOST_DAYS: u32 = 400;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Request<'a> {
    /// The layout in use; the history is found by its name.
    pub layout: &'a Layout,
    /// The layout used before, where it is named and could be read.
    pub old_layout: Option<&'a Layout>,
    /// The first local day of the range; none takes everything.
    pub since: Option<i32>,
    /// Today.
    pub today: i32,
    /// Only this layer.
    pub only: Option<&'a str>,
    /// What the person's texts have, where they were counted.
    pub surveyed: Option<&'a Surveyed>,
}

/// What the history says.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// The layout's name.
    pub layout: String,
    /// The layout's title.
    pub title: String,
    /// The layout to compare with, by name, where the layout names one.
    pub old_way: Option<String>,
    /// The first day asked for; none where everything was.
    pub since: Option<i32>,
    /// The last day: today.
    pub to: i32,
    /// How long the stretches are that a point of a series stands for.
    pub step: Step,
    /// By layer, in the layout's order, then what is in the layout no more.
    pub layers: Vec<LayerProgress>,
    /// By item, in the order of layers, keys and outputs.
    pub items: Vec<ItemProgress>,
    /// By (from, to); within a layer both are the same. In the layout's order.
    pub switches: Vec<SwitchProgress>,
    /// By day, on any layout, days without practice left out.
    pub calendar: Vec<PracticeDay>,
    /// What the thumbs do; none where one layer alone was asked for.
    pub thumbs: Option<Thumbs>,
    /// A page of text here and on the old way; none without a model.
    pub page: Option<PageOutlook>,
    /// What surveys promised, against what is measured now; empty for a part of
    /// the layers or of the time, which can't tell how much was practised.
    pub promises: Vec<Kept>,
    /// Why no switch could be told apart; none where some could.
    pub no_switches: Option<String>,
}

/// One layer.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerProgress {
    /// Its name.
    pub name: String,
    /// Its place in the layout; none where the layout has it no more.
    pub id: Option<LayerId>,
    /// The whole range.
    pub all: Figures,
    /// One point a practised day or month, oldest first.
    pub points: Vec<Point>,
    /// The last 14 days against those before.
    pub lately: Lately,
    /// The old way with the same outputs; none where nothing is measured.
    pub old_way: Option<OldWay>,
    /// What is expected of it, by the model; none where there is none.
    pub outlook: Option<Outlook>,
}

/// A practised day or month.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Its first day.
    pub day: i32,
    /// Its sums.
    pub figures: Figures,
}

/// A median that is expected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Forecast {
    /// The local day.
    pub day: i32,
    /// The lower end of the interval.
    pub low: Micros,
    /// What is most to be expected.
    pub middle: Micros,
    /// The upper end of the interval.
    pub high: Micros,
}

/// Two stretches of time, and what may be said of the difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lately {
    /// The 14 days up to the last practised one.
    pub now: Option<Spread>,
    /// The days of the range before them.
    pub before: Option<Spread>,
}

impl Lately {
    /// What may be said; [`Change::TooFew`] where either is missing.
    pub fn change(&self) -> Change {
        match (&self.now, &self.before) {
            (Some(now), Some(before)) => Change::of(now, before),
            _ => Change::TooFew,
        }
    }
}

/// One item.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemProgress {
    /// Layer, key and output.
    pub name: ItemName,
    /// The whole range.
    pub all: Figures,
    /// The last 14 days against those before.
    pub lately: Lately,
    /// The same output on the old way; none where it isn't measured.
    pub old_way: Option<Spread>,
    /// What the model says of it; none where there is none.
    pub outlook: Option<ItemOutlook>,
}

impl ItemProgress {
    /// How the last 14 days stand against the old way; none where it isn't
    /// measured.
    pub fn against(&self) -> Option<Change> {
        let old = self.old_way.as_ref()?;
        Some(self.lately.now.as_ref().map_or(Change::TooFew, |now| Change::of(now, old)))
    }
}

/// An arrival on a layer from another one, or staying on it.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchProgress {
    /// The layer it starts from.
    pub from: String,
    /// The layer it ends on.
    pub to: String,
    /// The whole range.
    pub all: Figures,
    /// What it costs, by the model, lately; none where there is none.
    pub told: Option<Told>,
    /// Its two parts in the last 14 days; none where no marker key told them
    /// apart.
    pub parts: Option<Parts>,
}

impl Progress {
    /// What `store` says of what was asked.
    ///
    /// # Errors
    /// Where the history can't be read.
    pub fn read(store: &Store, request: &Request<'_>) -> Result<Self, StoreError> {
        let layout = request.layout;
        let name = layout.name.as_str();
        let last = store.last_practised(name)?;
        let to = request.today.max(last.unwrap_or(request.today));
        let days = Days { from: request.since.unwrap_or(i32::MIN), to };
        let lately = Days::last(RECENT_DAYS, last.unwrap_or(to));
        let lately = Days { from: lately.from.max(days.from), to };
        let before = Days { from: days.from, to: lately.from.saturating_sub(1) };
        let step = if days.count() <= MOST_DAYS { Step::Day } else { Step::Month };
        let order = order_of(layout, &store.layers_of(name)?);
        let wanted = |layer: &str| request.only.is_none_or(|only| only == layer);
        let routes = RouteTable::build(layout);
        let findings = practice::findings(store, layout, &routes, request.today)?;
        let known = Known::new(layout, &routes, &findings, to);

        let old_items = match &layout.old_way {
            Some(old) => OldItems::of(store.item_figures(old, Days::up_to(to))?),
            None => OldItems::default(),
        };
        let mut items =
            joined(store.item_figures(name, before)?, store.item_figures(name, lately)?)
                .into_iter()
                .filter(|(item, _)| wanted(&item.layer))
                .map(|(name, (all, lately))| {
                    let old_way = old_items.spread(&name.output);
                    let outlook = known.item(&name, old_way.as_ref(), per_day(lately.now.as_ref()));
                    ItemProgress { name, all, lately, old_way, outlook }
                })
                .collect::<Vec<_>>();
        items.order_by_key(|item| place(&order, &item.name.layer));

        let mut points = store.layer_series(name, days, step)?;
        // A long range is short enough to be drawn by day as long as it isn't
        // practised on more days than that.
        let step = if request.since.is_none() && step == Step::Month {
            let first = points.values().filter_map(|points| points.keys().next()).min();
            let days = first.map(|&from| Days { from, to });
            match days.filter(|days| days.count() <= MOST_DAYS) {
                Some(days) => {
                    points = store.layer_series(name, days, Step::Day)?;
                    Step::Day
                }
                None => step,
            }
        } else {
            step
        };
        let earlier = match request.since {
            Some(since) => store.layer_series(name, Days::up_to(since - 1), Step::Month)?,
            None => BTreeMap::new(),
        };
        let sums = joined(
            merged(store.layer_series(name, before, Step::Month)?),
            merged(store.layer_series(name, lately, Step::Day)?),
        );
        let layers: Vec<LayerProgress> = order
            .iter()
            .filter(|layer| wanted(layer))
            .map(|layer| {
                let points = points.remove(layer).unwrap_or_default();
                let points: Vec<Point> =
                    points.into_iter().map(|(day, figures)| Point { day, figures }).collect();
                let (all, lately) = sums.get(layer).cloned().unwrap_or_default();
                let mine = items.iter().filter(|item| item.name.layer == *layer);
                let old_way = old_items.mixed_as(mine, &points, step, earlier.contains_key(layer));
                let id = layout.layer_named(layer);
                let outlook = id.filter(|_| !findings.items.is_empty()).map(|id| {
                    let old = old_way.as_ref().map(|old| &old.spread);
                    let n_items = findings.items.keys().filter(|item| item.layer == id).count();
                    let per_day = per_day(lately.now.as_ref()) / n_items.max(1) as f64;
                    known.layer(id, &lately, per_day, old, |output| old_items.spread(output))
                });
                LayerProgress { name: layer.clone(), id, all, points, lately, old_way, outlook }
            })
            .collect();

        let mut parts = store.switch_parts(name, lately)?;
        let mut switches: Vec<SwitchProgress> = store
            .switch_figures(name, days)?
            .into_iter()
            .filter(|((from, to), _)| wanted(from) || wanted(to))
            .map(|((from, to), all)| {
                let pair = (from, to);
                let parts = parts.remove(&pair);
                let (from, to) = pair;
                let ids = layout.layer_named(&from).zip(layout.layer_named(&to));
                let told = ids.and_then(|pair| findings.switches.get(&pair)).map(|s| s.told);
                SwitchProgress { from, to, all, told, parts }
            })
            .collect();
        switches.order_by_key(|s| (place(&order, &s.from), place(&order, &s.to)));
        let thumbs = request
            .only
            .is_none()
            .then(|| Thumbs::of(layout, &routes, &items, &switches, &old_items));
        let old_findings = match request.old_layout {
            Some(old) if !findings.items.is_empty() => {
                practice::findings(store, old, &RouteTable::build(old), request.today)?
            }
            _ => Findings::default(),
        };
        let promises = match request.surveyed.filter(|_| request.only.is_none()) {
            Some(own) => promises::promises(store, request, own)?,
            None => Vec::new(),
        };
        let page = if findings.items.is_empty() {
            None
        } else {
            let struck: BTreeMap<ItemKey, f64> = items
                .iter()
                .filter_map(|item| {
                    let layer = layout.layer_named(&item.name.layer)?;
                    let output = item.name.output.parse().ok()?;
                    Some(((layer, output), per_day(item.lately.now.as_ref())))
                })
                .gather();
            let old_routes = request.old_layout.map(RouteTable::build);
            let old = request.old_layout.zip(old_routes.as_ref());
            let old = old.map(|(layout, routes)| (layout, routes, &old_findings));
            known.page(old, request.surveyed, |key| struck.get(key).copied().unwrap_or(0.0))
        };
        Ok(Self {
            layout: layout.name.clone(),
            title: layout.title.clone(),
            old_way: layout.old_way.clone(),
            since: request.since,
            to,
            step,
            layers,
            items,
            switches,
            calendar: store.practice_days(days)?,
            page,
            promises,
            thumbs,
            no_switches: findings.no_switches.clone(),
        })
    }

    /// True where nothing of the layout was practised in the range.
    pub fn is_empty(&self) -> bool {
        self.layers.iter().all(|layer| layer.all.n_keystrokes == 0)
    }

    /// The switch from `from` to `to`, where it was practised.
    pub fn switch(&self, from: &str, to: &str) -> Option<&SwitchProgress> {
        self.switches.iter().find(|s| s.from == from && s.to == to)
    }
}

/// Latencies a day over the last [`RECENT_DAYS`] days.
fn per_day(lately: Option<&Spread>) -> f64 {
    lately.map_or(0.0, |lately| lately.n as f64 / f64::from(RECENT_DAYS))
}

impl Default for Lately {
    /// Nothing.
    fn default() -> Self {
        Self { now: None, before: None }
    }
}

/// The history, with what ended sessions left behind; none where there is
/// none. One that can't be written is read as it is.
///
/// # Errors
/// Where it can't be read.
pub fn history(data: &Path) -> Result<Option<Store>, StoreError> {
    let places = Places::new(data);
    // Looking makes no history where there is none.
    if !data.join(DATABASE).exists() && journals_waiting(&places).is_empty() {
        return Ok(None);
    }
    match Store::open_at(&places) {
        Ok(store) => Ok(Some(store)),
        Err(error) => match Store::open_to_read(data) {
            Ok(Some(store)) if store.is_up_to_date()? => Ok(Some(store)),
            _ => Err(error),
        },
    }
}

/// The layout's layers, then those of the history that it has no more.
fn order_of(layout: &Layout, practised: &[(String, String)]) -> Vec<String> {
    let mut order: Vec<String> = layout.layers.iter().map(|layer| layer.name.clone()).collect();
    for (layer, _) in practised {
        if !order.contains(layer) {
            order.push(layer.clone());
        }
    }
    order
}

fn place(order: &[String], layer: &str) -> usize {
    order.iter().position(|known| known == layer).unwrap_or(order.len())
}

fn merged(series: BTreeMap<String, BTreeMap<i32, Figures>>) -> BTreeMap<String, Figures> {
    series
        .into_iter()
        .map(|(layer, points)| {
            let mut all = Figures::default();
            for figures in points.values() {
                all.merge(figures);
            }
            (layer, all)
        })
        .gather()
}

/// Both stretches together, and one against the other.
fn joined<K: Ord>(
    before: BTreeMap<K, Figures>,
    now: BTreeMap<K, Figures>,
) -> BTreeMap<K, (Figures, Lately)> {
    let mut both: BTreeMap<K, (Figures, Lately)> = before
        .into_iter()
        .map(|(key, figures)| {
            let before = figures.spread();
            (key, (figures, Lately { now: None, before }))
        })
        .gather();
    for (key, figures) in now {
        let (all, lately) = both.entry(key).or_default();
        lately.now = figures.spread();
        all.merge(&figures);
    }
    both
}
