//! Shortcuts: what a layout gives, what each is for, and drills of them.

mod compose;
mod material;

pub use material::{CHANGE_COLUMNS, Convention, Conventions, Sequence, Set, conventions};

use super::{DrillError, Offer, What};
use crate::keyboard::{Chord, Output};
use crate::layout::{Cluster, LayerId, Layout, RouteTable, routes};
use crate::order::Gather;
use std::collections::{BTreeMap, BTreeSet};

pub(super) use compose::generate;

/// A chord that a layout gives, with what it is for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shortcut {
    /// What is due.
    pub due: Output,
    /// The name of its action, where it has one.
    pub name: Option<String>,
    /// What it does, as prompts ask for it.
    pub title: String,
    /// A small text before and after, where it shows what is done.
    pub change: Option<(String, String)>,
}

/// What a drill of shortcuts should ask for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Recollect {
    /// What is due and new; without, everything takes its turn.
    pub remembered: Option<Remembered>,
    /// What can't arrive on this terminal: never asked for, but counted.
    pub absent: BTreeSet<Output>,
    /// True where keys that give a chord at once are not compared with the same
    /// chords by hand, as on the old way.
    pub one_way: bool,
}

/// What is due and new. Items that the layout lacks are passed over.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Remembered {
    /// What is due, most urgent first.
    pub due: Vec<Output>,
    /// What comes for the first time: told first, then asked for.
    pub fresh: Vec<Output>,
    /// What was asked for before and is not due; it fills up the drill.
    pub known: Vec<Output>,
}

/// The shortcuts that `layout` gives and that have a purpose with words: those
/// of the conventions in their order, then the layout's own by name. An action
/// of the layout has its own chord and title.
///
/// # Errors
/// [`DrillError::Material`] if the shipped conventions are faulty.
pub fn shortcuts(layout: &Layout, table: &RouteTable) -> Result<Vec<Shortcut>, DrillError> {
    let shipped = material::shipped()?;
    let taken: BTreeSet<Chord> = layout.actions.values().map(|action| action.chord).gather();
    let mut found: Vec<Shortcut> = Vec::new();
    for convention in &shipped.shortcuts {
        let name = Some(convention.name.clone());
        let change = convention.change.clone();
        if let Some(action) = layout.actions.get(&convention.name) {
            let (due, title) = (Output::Chord(action.chord), action.title.clone());
            found.push(Shortcut { due, name, title, change });
        } else if !taken.contains(&convention.chord) {
            let due = Output::Chord(convention.chord);
            if table.preferred(&due).is_some() {
                found.push(Shortcut { due, name, title: convention.title.clone(), change });
            }
        }
    }
    for (name, action) in &layout.actions {
        if !found.iter().any(|shortcut| shortcut.name.as_ref() == Some(name)) {
            let (due, title) = (Output::Chord(action.chord), action.title.clone());
            found.push(Shortcut { due, name: Some(name.clone()), title, change: None });
        }
    }
    // Two actions of one chord could not be told apart by their chord.
    let mut seen = BTreeSet::new();
    found.retain(|shortcut| {
        let given =
            table.preferred(&shortcut.due).is_some() || !routes(layout, &shortcut.due).is_empty();
        given && !shortcut.title.trim().is_empty() && seen.insert(shortcut.due.clone())
    });
    Ok(found)
}

/// The drill of shortcuts that `layout` offers; none where it has fewer than
/// two.
pub fn shortcut_offer(layout: &Layout, table: &RouteTable) -> Option<Offer> {
    let found = shortcuts(layout, table).ok().filter(|found| found.len() >= 2)?;
    let keys: Vec<Output> = found.into_iter().map(|shortcut| shortcut.due).collect();
    Some(Offer {
        what: What::Cluster(Cluster::Shortcuts),
        title: "shortcuts: by what they do".to_owned(),
        layers: layers(&keys, table),
        keys,
    })
}

/// The layers of the preferred routes to `keys`, but the base layer.
fn layers(keys: &[Output], table: &RouteTable) -> Vec<LayerId> {
    let layers: BTreeSet<LayerId> =
        keys.iter().filter_map(|key| table.preferred(key)).map(|route| route.layer).gather();
    layers.into_iter().filter(|layer| *layer != LayerId::BASE).collect()
}

/// By their dues.
fn by_due(found: &[Shortcut]) -> BTreeMap<&Output, &Shortcut> {
    found.iter().map(|shortcut| (&shortcut.due, shortcut)).gather()
}
