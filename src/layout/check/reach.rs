//! What can't be reached, held or left.

use super::Remark;
use crate::layout::walk::Walk;
use crate::layout::{Access, AccessKind, Assignment, LayerId, Layout, Target};
use crate::order::Gather;
use std::collections::{BTreeMap, BTreeSet};

/// How many accesses may lie between a lock and its end.
const MOST_WAY_BACK: usize = 3;

/// The most sets of locks that are followed to find a trap.
const MOST_LOCKED: usize = 512;

pub fn unreachable(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
    layout
        .layers()
        .filter(|(id, _)| !states.iter().any(|walk| walk.is_active(Target::Layer(*id))))
        .map(|(_, layer)| Remark::Unreachable { layer: layer.name.clone() })
        .collect()
}

pub fn no_way_back(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
    let keys = layout.board.sites.len();
    // Whether some state from which the lock can be pressed has no way back.
    let mut locks: BTreeMap<(LayerId, usize, Target), bool> = BTreeMap::new();
    for walk in states {
        for index in (0..keys).filter(|index| walk.can_press(*index)) {
            let Some((layer, _)) = walk.meaning(index) else { continue };
            let Some(Access { kind: AccessKind::Lock, target }) = walk.access_at(index) else {
                continue;
            };
            if walk.is_active(target) {
                continue;
            }
            let mut locked = walk.clone();
            locked.access(index);
            locked.release_all();
            let stuck = !leads_back(&locked, target, keys, MOST_WAY_BACK);
            *locks.entry((layer, index, target)).or_insert(false) |= stuck;
        }
    }
    locks
        .into_iter()
        .filter(|(_, stuck)| *stuck)
        .map(|((layer, index, target), _)| Remark::NoWayBack {
            target: match target {
                Target::Layer(id) => layout.layer(id).name.clone(),
                Target::Modifier(modifier) => modifier.to_string(),
            },
            layer: layout.layer(layer).name.clone(),
            position: layout.board.sites[index].position,
        })
        .collect()
}

fn leads_back(walk: &Walk<'_>, target: Target, keys: usize, steps: usize) -> bool {
    (0..keys).any(|index| {
        let mut next = walk.clone();
        let Some(access) = next.access(index) else { return false };
        if access.kind == AccessKind::Lock && !next.is_active(target) {
            return true;
        }
        // Only what opens something new can lead further.
        steps > 1 && !walk.is_active(access.target) && leads_back(&next, target, keys, steps - 1)
    })
}

pub fn covered(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (id, layer) in layout.layers() {
        for (index, assignment) in layer.keys.iter().enumerate() {
            if matches!(assignment, Assignment::FallThrough | Assignment::Nothing) {
                continue;
            }
            let mut held = None;
            let free = states
                .iter()
                .filter(|walk| walk.meaning(index).is_some_and(|(found, _)| found == id))
                .any(|walk| {
                    let blocked = walk.blocked_by(index);
                    held = held.or(blocked);
                    // What is latched or locked outlasts the holds that led to it.
                    let mut released = walk.clone();
                    released.release_all();
                    let still = released.meaning(index).is_some_and(|(found, _)| found == id);
                    blocked.is_none() || still
                });
            if let (false, Some(held)) = (free, held) {
                let (site, held) = (&layout.board.sites[index], &layout.board.sites[held]);
                let (layer, position) = (layer.name.clone(), site.position);
                // A key that is its own hold is simply held already.
                let access = matches!(assignment, Assignment::Access(_)) && site != held;
                remarks.push(if access {
                    let (held, finger) = (held.position, site.finger);
                    Remark::ImpossibleHold { layer, position, held, finger }
                } else {
                    Remark::Covered { layer, position, held: held.position }
                });
            }
        }
    }
    remarks
}

/// Locks from which others lead on, but nothing to the base layer alone.
pub fn traps(layout: &Layout) -> Vec<Remark> {
    let keys = layout.board.sites.len();
    let rest = Walk::new(layout);
    let mut remarks = Vec::new();
    let mut told: BTreeSet<Vec<Target>> = BTreeSet::new();
    for index in 0..keys {
        let Some(Access { kind: AccessKind::Lock, .. }) = rest.access_at(index) else { continue };
        let mut first = rest.clone();
        first.access(index);
        let mut seen: BTreeSet<Vec<Target>> = std::iter::once(first.locked()).gather();
        let mut open = vec![first];
        let mut back = false;
        while let Some(walk) = open.pop() {
            if walk.locked().is_empty() || seen.len() > MOST_LOCKED {
                back = true;
                break;
            }
            for next in locks_from(&walk, keys) {
                if seen.insert(next.locked()) {
                    open.push(next);
                }
            }
        }
        let layers: BTreeSet<Target> = seen.iter().flatten().copied().gather();
        // A lock that leads nowhere else is told as one without a way back.
        if back || layers.len() < 2 || !told.insert(layers.iter().copied().collect()) {
            continue;
        }
        let named = |target: &Target| match target {
            Target::Layer(id) => layout.layer(*id).name.clone(),
            Target::Modifier(modifier) => modifier.to_string(),
        };
        remarks.push(Remark::Trap {
            layers: layers.iter().map(named).collect(),
            position: layout.board.sites[index].position,
        });
    }
    remarks
}

/// The keyboard after each lock that can be struck, also while one other
/// access is held or latched.
fn locks_from<'a>(walk: &Walk<'a>, keys: usize) -> Vec<Walk<'a>> {
    let mut after = Vec::new();
    let mut strike = |walk: &Walk<'a>| {
        for index in 0..keys {
            if walk.access_at(index).is_some_and(|access| access.kind == AccessKind::Lock) {
                let mut next = walk.clone();
                if next.access(index).is_some() {
                    next.release_all();
                    after.push(next);
                }
            }
        }
    };
    strike(walk);
    for index in 0..keys {
        if walk.access_at(index).is_some_and(|access| access.kind != AccessKind::Lock) {
            let mut held = walk.clone();
            if held.access(index).is_some() {
                strike(&held);
            }
        }
    }
    after
}

/// Layers that are active only while another one is locked.
pub fn only_locked(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (id, layer) in layout.layers().skip(1) {
        let target = Target::Layer(id);
        let mut with = states.iter().filter(|walk| walk.is_active(target)).peekable();
        if with.peek().is_none() {
            continue;
        }
        let other = |walk: &Walk<'_>| walk.locked().into_iter().find(|locked| *locked != target);
        let all: Option<Vec<Target>> = with.map(other).collect();
        let Some(Target::Layer(locked)) = all.and_then(|all| all.first().copied()) else {
            continue;
        };
        remarks.push(Remark::OnlyLocked {
            layer: layer.name.clone(),
            locked: layout.layer(locked).name.clone(),
        });
    }
    remarks
}
