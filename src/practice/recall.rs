//! What is remembered: from the history to what a drill of shortcuts asks for.

use super::Setup;
use crate::drill::{Recollect, Remembered, shortcuts};
use crate::keyboard::Output;
use crate::layout::{Layout, RouteTable};
use crate::model::recall::Deck;
use crate::order::Gather;
use crate::store::Store;
use std::collections::BTreeSet;

/// What is remembered of the layout named `layout`, by the history in `store`;
/// nothing where that can't be read.
pub fn deck(store: Option<&Store>, layout: &str) -> Deck {
    let answers = store.and_then(|store| store.answers(layout).ok());
    Deck::of(answers.unwrap_or_default())
}

/// What is due and new of the shortcuts of `layout` on local day `today`, and
/// those that don't arrive on this terminal, which are neither.
pub fn remembered(
    deck: &Deck,
    layout: &Layout,
    routes: &RouteTable,
    arrives: &dyn Fn(&Output) -> bool,
    today: i32,
) -> (Remembered, BTreeSet<Output>) {
    let found = shortcuts(layout, routes).unwrap_or_default();
    let (there, absent): (Vec<Output>, Vec<Output>) =
        found.into_iter().map(|shortcut| shortcut.due).partition(|due| arrives(due));
    let due = deck.due(&there, today);
    let fresh = deck.fresh(&there, today);
    let known =
        there.into_iter().filter(|item| deck.card(item).is_some() && !due.contains(item)).collect();
    (Remembered { due, fresh, known }, absent.into_iter().gather())
}

/// What a drill of shortcuts of a sitting asks for. With `steered` false only
/// what can't arrive is left out, and everything takes its turn.
pub(super) fn recollect(setup: &Setup, deck: &Deck, today: i32, steered: bool) -> Recollect {
    let (layout, routes) = setup.drilled();
    let (remembered, absent) = remembered(deck, layout, routes, &|due| setup.arrives(due), today);
    Recollect {
        remembered: steered.then_some(remembered),
        absent,
        one_way: setup.drills_of.is_some(),
    }
}

/// Why a drill of shortcuts comes, in one line.
pub(super) fn reason(recollect: &Recollect) -> Option<String> {
    recollect.remembered.as_ref().map(words)
}

/// What is due and what is new, in one line.
pub(super) fn words(remembered: &Remembered) -> String {
    let Remembered { due, fresh, .. } = remembered;
    let counted = |n: usize, one: &str, more: &str| match n {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {more}")),
    };
    let parts: Vec<String> = [
        counted(
            due.len(),
            "shortcut is about to be forgotten",
            "shortcuts are about to be forgotten",
        ),
        counted(fresh.len(), "is new today", "are new today"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if parts.is_empty() {
        "nothing is due: all shortcuts that you know in turn".to_owned()
    } else {
        parts.join(", ")
    }
}
