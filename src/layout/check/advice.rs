//! Advice that weighs how often outputs are needed, and what belongs together.

use super::{Often, Remark};
use crate::keyboard::{Chord, Digit, Finger, Hand, Output, Position, Row};
use crate::layout::{Assignment, FAMILIES, LayerId, Layout, Route, RouteTable, Target, routes};
use crate::order::{Gather, InOrder};
use std::collections::{BTreeMap, BTreeSet};

/// A symbol that a page needs so often deserves the home row.
const FREQUENT: f64 = 4.0;

/// So many times rarer is what may make room for it.
const RARER: f64 = 2.0;

/// Shortcuts with two modifiers that many programs share (common practice, no
/// source).
const SHORTCUTS: &[(&str, &str)] =
    &[("Ctrl+Shift+Z", "redo"), ("Ctrl+Shift+V", "paste without formatting")];

/// A little finger with more of all presses than this has too many: a fifth
/// more than an even share of ten fingers (our own bound, no source).
const LITTLE_SHARE: f64 = 0.12;

/// Thumbs with less than this do little but Space (our own bound, no source).
const THUMB_SHARE: f64 = 0.16;

/// The route that gives `output` on `layer`, the easiest of several.
fn route_on<'a>(table: &'a RouteTable, layer: LayerId, output: &Output) -> Option<&'a Route> {
    table.all(output).iter().find(|route| route.layer == layer)
}

/// The other members of the family of `output` that `layer` has.
fn family_on(table: &RouteTable, layer: LayerId, output: &Output) -> usize {
    let Some(c) = output.as_char() else { return 0 };
    let family = FAMILIES.iter().find(|(_, members)| members.contains(c));
    let members = family.map_or("", |(_, members)| *members).chars();
    members
        .filter(|other| *other != c)
        .filter(|other| route_on(table, layer, &Output::char(*other)).is_some())
        .count()
}

/// Symbols off the home row of a layer that has a rarer one there. Families
/// come first: what has one on the layer stays with its finger.
pub fn off_home_row(layout: &Layout, table: &RouteTable, often: &Often) -> Vec<Remark> {
    let board = &layout.board;
    let times = |layer: LayerId, output: &Output| {
        often.get(&(layer, output.clone())).copied().unwrap_or(0.0)
    };
    let is_symbol =
        |output: &Output| output.as_char().is_some_and(|c| !c.is_alphanumeric() && c != ' ');
    let mut wanted: Vec<(LayerId, &Output, f64, &Route)> = often
        .iter()
        .filter(|((layer, output), times)| {
            *layer != LayerId::BASE && is_symbol(output) && **times >= FREQUENT
        })
        .filter_map(|((layer, output), times)| {
            Some((*layer, output, *times, route_on(table, *layer, output)?))
        })
        .filter(|(.., route)| {
            route.finger.digit != Digit::Thumb
                && matches!(route.position, Position::Main { row, .. } if row != Row::C)
        })
        .collect();
    wanted.order_by(|a, b| b.2.total_cmp(&a.2).then((a.0, a.1).cmp(&(b.0, b.1))));
    let mut taken: BTreeSet<(LayerId, Position)> = BTreeSet::new();
    let mut remarks = Vec::new();
    for (id, output, often_here, route) in wanted {
        let layer = layout.layer(id);
        let held: Vec<Finger> = route.accesses.iter().map(|step| step.finger).collect();
        let bound = family_on(table, id, output) > 0;
        let candidates = board.sites.iter().zip(&layer.keys).filter(|(site, _)| {
            matches!(site.position, Position::Main { row: Row::C, column: 1..=10 })
                && site.finger.hand == route.finger.hand
                && !held.contains(&site.finger)
                && !taken.contains(&(id, site.position))
        });
        let better = candidates
            .filter_map(|(site, key)| {
                let same = site.finger == route.finger;
                match key {
                    Assignment::FallThrough | Assignment::Nothing if same || !bound => {
                        Some((0.0, site, None))
                    }
                    Assignment::Gives(other)
                        if is_symbol(other)
                            && (same || (!bound && family_on(table, id, other) == 0)) =>
                    {
                        let rarer = times(id, other);
                        Some((rarer, site, Some((other.clone(), rarer))))
                    }
                    _ => None,
                }
            })
            .filter(|(rarer, _, _)| rarer * RARER < often_here)
            .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.position.cmp(&b.1.position)));
        if let Some((_, site, instead)) = better {
            taken.insert((id, site.position));
            remarks.push(Remark::OffHomeRow {
                output: output.clone(),
                times: often_here,
                position: route.position,
                layer: layer.name.clone(),
                better: site.position,
                instead,
            });
        }
    }
    remarks
}

/// Families whose members on one layer lie under several fingers.
pub fn split_families(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (family, members) in FAMILIES {
        let mut by_layer: BTreeMap<LayerId, Vec<(Output, Position, Finger)>> = BTreeMap::new();
        for c in members.chars() {
            let output = Output::char(c);
            if let Some(route) = table.preferred(&output)
                && route.layer != LayerId::BASE
                && route.modifiers.is_empty()
            {
                let member = (output, route.position, route.finger);
                by_layer.entry(route.layer).or_default().push(member);
            }
        }
        for (layer, members) in by_layer {
            let fingers: BTreeSet<Finger> = members.iter().map(|(_, _, finger)| *finger).gather();
            if fingers.len() > 1 {
                let layer = layout.layer(layer).name.clone();
                remarks.push(Remark::SplitFamily { family, layer, members });
            }
        }
    }
    remarks
}

/// Actions of the layout, and shortcuts that many programs share, that take
/// three keys at once.
pub fn three_key_chords(layout: &Layout) -> Vec<Remark> {
    let mut chords: Vec<(Chord, String)> = layout
        .actions
        .values()
        .map(|action| (action.chord, action.title.clone()))
        .filter(|(chord, _)| chord.modifiers.bits().count_ones() > 1)
        .collect();
    for (chord, title) in SHORTCUTS {
        if let Ok(chord) = chord.parse::<Chord>()
            && !chords.iter().any(|(known, _)| *known == chord)
        {
            chords.push((chord, (*title).to_owned()));
        }
    }
    chords
        .into_iter()
        .filter_map(|(chord, title)| {
            let routes = routes(layout, &Output::Chord(chord));
            let route = routes.iter().min_by_key(|route| route.accesses.len())?;
            let mut positions: Vec<Position> =
                route.accesses.iter().map(|step| step.position).collect();
            positions.push(route.position);
            (positions.len() >= 3).then_some(Remark::ThreeKeys { chord, title, positions })
        })
        .collect()
}

/// How often a page presses each key; an access counts at each output, though
/// a run within a layer holds it once.
fn presses(table: &RouteTable, often: &Often) -> BTreeMap<(Position, Finger), f64> {
    let mut presses: BTreeMap<(Position, Finger), f64> = BTreeMap::new();
    for ((layer, output), times) in often {
        let Some(route) = route_on(table, *layer, output) else { continue };
        for step in &route.accesses {
            *presses.entry((step.position, step.finger)).or_default() += times;
        }
        *presses.entry((route.position, route.finger)).or_default() += times;
    }
    presses
}

/// Little fingers with more than their share of all presses.
pub fn little_fingers(layout: &Layout, table: &RouteTable, often: &Often) -> Vec<Remark> {
    let presses = presses(table, often);
    let all: f64 = presses.values().sum();
    if all <= 0.0 {
        return Vec::new();
    }
    [Hand::Left, Hand::Right]
        .into_iter()
        .filter_map(|hand| {
            let finger = Finger::new(hand, Digit::Little);
            let mut own: Vec<(Position, f64)> = presses
                .iter()
                .filter(|((_, by), _)| *by == finger)
                .map(|((position, _), times)| (*position, times / all))
                .collect();
            let share: f64 = own.iter().map(|(_, share)| share).sum();
            own.order_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
            // Its resting key is its own: what lies beyond can move.
            own.retain(|(position, share)| {
                layout.board.site(*position).is_some_and(|site| !site.home) && *share >= 0.005
            });
            own.truncate(3);
            (share > LITTLE_SHARE && !own.is_empty()).then_some(Remark::LittleFinger {
                hand,
                share,
                keys: own,
            })
        })
        .collect()
}

/// Thumb keys without a use, or thumbs that do little.
pub fn idle_thumbs(layout: &Layout, table: &RouteTable, often: &Often) -> Vec<Remark> {
    let thumbs = layout.board.sites.iter().zip(&layout.layers[0].keys);
    let bare: Vec<Position> = thumbs
        .filter(|(site, _)| site.finger.digit == Digit::Thumb)
        .filter(|(_, key)| **key == Assignment::Nothing)
        .map(|(site, _)| site.position)
        .collect();
    let presses = presses(table, often);
    let all: f64 = presses.values().sum();
    let own: f64 = presses
        .iter()
        .filter(|((_, finger), _)| finger.digit == Digit::Thumb)
        .map(|(_, times)| times)
        .sum();
    let share = if all > 0.0 { own / all } else { 0.0 };
    // A thumb that opens layers does its share, however the text counts.
    let opens = layout.board.sites.iter().zip(&layout.layers[0].keys).any(|(site, key)| {
        let (Assignment::Access(access) | Assignment::Dual { hold: access, .. }) = key else {
            return false;
        };
        site.finger.digit == Digit::Thumb && matches!(access.target, Target::Layer(_))
    });
    let idle = !bare.is_empty() || (share < THUMB_SHARE && !opens);
    if idle && all > 0.0 { vec![Remark::IdleThumbs { bare, share }] } else { Vec::new() }
}
