//! What a layout lacks, and what would make it better.
//!
//! [`check`] tells what follows from the layout alone, [`advise`] also what
//! follows from how often outputs are needed. Each remark has its place, its
//! weight and a suggestion.

mod advice;
mod mark;
mod place;
mod reach;
mod remark;
#[cfg(test)]
mod tests;

pub use remark::{Place, Remark, Weight};

use super::{LayerId, Layout, RouteTable, search, shipped};
use crate::keyboard::{NamedKey, Output};
use crate::order::InOrder;
use std::collections::BTreeMap;

/// How often a page of text needs each output on each layer, times a page.
pub type Often = BTreeMap<(LayerId, Output), f64>;

/// Everything that `layout` lacks, the faults first; within a kind in the
/// order of characters, layers and keys.
pub fn check(layout: &Layout) -> Vec<Remark> {
    let table = RouteTable::build(layout);
    in_order(remarks(layout, &table))
}

/// As [`check`], with advice that weighs how often outputs are needed.
pub fn advise(layout: &Layout, often: &Often) -> Vec<Remark> {
    let table = RouteTable::build(layout);
    let mut all = remarks(layout, &table);
    all.extend(advice::off_home_row(layout, &table, often));
    all.extend(advice::split_families(layout, &table));
    all.extend(advice::three_key_chords(layout));
    all.extend(advice::little_fingers(layout, &table, often));
    all.extend(advice::idle_thumbs(layout, &table, often));
    in_order(all)
}

fn remarks(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let states = search::states(layout);
    let mut remarks = untypeable(table);
    remarks.extend(reach::unreachable(layout, &states));
    remarks.extend(reach::no_way_back(layout, &states));
    remarks.extend(reach::traps(layout));
    remarks.extend(reach::covered(layout, &states));
    remarks.extend(reach::only_locked(layout, &states));
    remarks.extend(place::off_home(layout, table));
    remarks.extend(place::duplicates(layout));
    remarks.extend(mark::shared(layout));
    remarks.extend(mark::given_too(layout));
    remarks.extend(place::vain_preferences(layout, table));
    let old_way = layout.old_way.iter().filter(|name| shipped::text(name).is_none());
    remarks.extend(old_way.map(|name| Remark::UnknownOldWay { name: name.clone() }));
    remarks
}

/// By weight; those of one weight stay as they are.
fn in_order(mut remarks: Vec<Remark>) -> Vec<Remark> {
    remarks.order_by_key(Remark::weight);
    remarks
}

fn untypeable(table: &RouteTable) -> Vec<Remark> {
    let keys = [NamedKey::Enter, NamedKey::Tab, NamedKey::Backspace, NamedKey::Escape];
    (' '..='~')
        .map(Output::char)
        .chain(keys.map(Output::Key))
        .filter(|output| table.preferred(output).is_none())
        .map(|output| Remark::Untypeable { output })
        .collect()
}
