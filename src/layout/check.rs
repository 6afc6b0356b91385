//! What a layout lacks.

use super::walk::{Walk, given};
use super::{Access, AccessKind, Assignment, LayerId, Layout, RouteTable, Target, search, shipped};
use crate::keyboard::{Modifiers, NamedKey, Output, Position};
use std::collections::BTreeMap;
use std::fmt;

/// Characters that prose and code need again and again (common practice, no
/// source): they deserve a place in the home block.
const FREQUENT: &str = ".,'\"-_()[]{}<>=:;/";

/// How many accesses may lie between a lock and its end.
const MOST_WAY_BACK: usize = 3;

/// How much a remark matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Something can't be done.
    Fault,
    /// Something could be better, or is as it is on purpose.
    Note,
}

impl Weight {
    /// The word that reports use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Note => "note",
        }
    }
}

/// One thing that a layout lacks. Layers are told by name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Remark {
    /// No route gives this.
    Untypeable {
        /// What.
        output: Output,
    },
    /// No access leads to this layer.
    Unreachable {
        /// Which.
        layer: String,
    },
    /// A lock from which nothing leads back.
    NoWayBack {
        /// What is locked.
        target: String,
        /// The layer with the lock.
        layer: String,
        /// Its key.
        position: Position,
    },
    /// A key that can't be struck, since its finger holds the layer.
    Covered {
        /// The layer.
        layer: String,
        /// The key.
        position: Position,
        /// The key that is held, or the finger's.
        held: Position,
    },
    /// A frequent character that no route strikes in the home block, whatever
    /// its access keys.
    OffHome {
        /// The character.
        output: Output,
        /// The key of its preferred route.
        position: Position,
        /// The layer of its preferred route.
        layer: String,
    },
    /// One output at several keys of one layer.
    Duplicate {
        /// The layer.
        layer: String,
        /// The output.
        output: Output,
        /// The keys.
        positions: Vec<Position>,
    },
    /// A preference for a key that does not give the output.
    VainPreference {
        /// The output.
        output: Output,
        /// The layer that is preferred.
        layer: String,
        /// The key that is preferred.
        position: Position,
    },
    /// The old way is none of the layouts that ship.
    UnknownOldWay {
        /// Its name.
        name: String,
    },
}

impl Remark {
    /// How much it matters.
    pub const fn weight(&self) -> Weight {
        match self {
            Self::Untypeable { .. }
            | Self::Unreachable { .. }
            | Self::NoWayBack { .. }
            | Self::Covered { .. } => Weight::Fault,
            Self::OffHome { .. }
            | Self::Duplicate { .. }
            | Self::VainPreference { .. }
            | Self::UnknownOldWay { .. } => Weight::Note,
        }
    }

    /// A word for its kind, for reports that programs read.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Untypeable { .. } => "untypeable",
            Self::Unreachable { .. } => "unreachable",
            Self::NoWayBack { .. } => "no-way-back",
            Self::Covered { .. } => "covered",
            Self::OffHome { .. } => "off-home",
            Self::Duplicate { .. } => "duplicate",
            Self::VainPreference { .. } => "vain-preference",
            Self::UnknownOldWay { .. } => "unknown-old-way",
        }
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Untypeable { output } => write!(f, "{output} can't be typed"),
            Self::Unreachable { layer } => {
                write!(f, "layer '{layer}' can't be reached: no access leads to it")
            }
            Self::NoWayBack { target, layer, position } => write!(
                f,
                "'{target}' locked by {position} on layer '{layer}' can't be left: \
                 put the same lock, or a lock of the base layer, where it is still reached"
            ),
            Self::Covered { layer, position, held } => write!(
                f,
                "{position} on layer '{layer}' can't be struck: \
                 its finger holds {held} to keep the layer"
            ),
            Self::OffHome { output, position, layer } => write!(
                f,
                "{output} is frequent but off the home block: {position} on layer '{layer}'"
            ),
            Self::Duplicate { layer, output, positions } => {
                let names: Vec<String> = positions.iter().map(Position::to_string).collect();
                write!(f, "{output} is on layer '{layer}' more than once: {}", names.join(", "))
            }
            Self::VainPreference { output, layer, position } => write!(
                f,
                "[prefer] wants {output} by {position} on layer '{layer}', which does not give it"
            ),
            Self::UnknownOldWay { name } => write!(
                f,
                "old_way '{name}' is none of {}",
                shipped::names().collect::<Vec<_>>().join(", ")
            ),
        }
    }
}

/// Everything that `layout` lacks, the faults first; within a kind in the
/// order of characters, layers and keys.
pub fn check(layout: &Layout) -> Vec<Remark> {
    let states = search::states(layout);
    let table = RouteTable::build(layout);
    let mut remarks = untypeable(&table);
    remarks.extend(unreachable(layout, &states));
    remarks.extend(no_way_back(layout, &states));
    remarks.extend(covered(layout, &states));
    remarks.extend(off_home(layout, &table));
    remarks.extend(duplicates(layout));
    remarks.extend(vain_preferences(layout, &table));
    let old_way = layout.old_way.iter().filter(|name| shipped::text(name).is_none());
    remarks.extend(old_way.map(|name| Remark::UnknownOldWay { name: name.clone() }));
    remarks
}

fn vain_preferences(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let in_vain = |output: &Output, layer: LayerId, position: Position| {
        !table.all(output).iter().any(|r| (r.layer, r.position) == (layer, position))
    };
    layout
        .prefer
        .iter()
        .filter(|(output, (layer, position))| in_vain(output, *layer, *position))
        .map(|(output, (layer, position))| Remark::VainPreference {
            output: output.clone(),
            layer: layout.layer(*layer).name.clone(),
            position: *position,
        })
        .collect()
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

fn unreachable(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
    layout
        .layers()
        .filter(|(id, _)| !states.iter().any(|walk| walk.is_active(Target::Layer(*id))))
        .map(|(_, layer)| Remark::Unreachable { layer: layer.name.clone() })
        .collect()
}

fn no_way_back(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
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

fn covered(layout: &Layout, states: &[Walk<'_>]) -> Vec<Remark> {
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
                    blocked.is_none()
                });
            if let (false, Some(held)) = (free, held) {
                remarks.push(Remark::Covered {
                    layer: layer.name.clone(),
                    position: layout.board.sites[index].position,
                    held: layout.board.sites[held].position,
                });
            }
        }
    }
    remarks
}

fn off_home(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let board = &layout.board;
    let home = |position| board.site(position).is_some_and(|site| board.in_home_block(site));
    FREQUENT
        .chars()
        .map(Output::char)
        .filter_map(|output| {
            let at_home = table.all(&output).iter().any(|route| home(route.position));
            let route = table.preferred(&output).filter(|_| !at_home)?;
            Some(Remark::OffHome {
                position: route.position,
                layer: layout.layer(route.layer).name.clone(),
                output,
            })
        })
        .collect()
}

fn duplicates(layout: &Layout) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (_, layer) in layout.layers() {
        let mut places: BTreeMap<Output, Vec<Position>> = BTreeMap::new();
        for (assignment, site) in layer.keys.iter().zip(&layout.board.sites) {
            if let Some(output) = given(layout, assignment)
                .and_then(|output| layout.with_modifiers(&output, Modifiers::empty()))
            {
                places.entry(output).or_default().push(site.position);
            }
        }
        for (output, positions) in places {
            if positions.len() > 1 {
                remarks.push(Remark::Duplicate { layer: layer.name.clone(), output, positions });
            }
        }
    }
    remarks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{file, shipped};
    use std::fmt::Write;

    fn checked(text: &str) -> Vec<String> {
        let layout = file::read(text, "test.toml").unwrap_or_else(|e| panic!("{e}")).layout;
        let told = check(&layout).into_iter().filter(|r| r.kind() != "untypeable");
        told.filter(|r| r.kind() != "off-home").map(|r| r.to_string()).collect()
    }

    /// A 4×12 board of which only the first keys matter.
    fn small(layers: &[(&str, &str)]) -> String {
        let mut text = "name = 'test'\nboard = 'ortho-4x12'\n".to_owned();
        for (number, (name, first)) in layers.iter().enumerate() {
            let rest = if number == 0 { " --" } else { " .." };
            let count = first.split_whitespace().count();
            let row = format!("{first}{}", rest.repeat(12 - count));
            let blank = rest.repeat(12);
            let _ = write!(
                text,
                "[[layer]]\nname = '{name}'\nsign = '{number}'\n\
                 keys = '''\n{row}\n{blank}\n{blank}\n{blank}\n'''\n"
            );
        }
        text
    }

    #[test]
    fn keys_under_the_holding_finger_are_covered() {
        // D00 and D01 both belong to the left little finger.
        let text = small(&[("base", "hold:x a"), ("x", "b c d")]);
        assert_eq!(
            checked(&text),
            [
                "D00 on layer 'x' can't be struck: its finger holds D00 to keep the layer",
                "D01 on layer 'x' can't be struck: its finger holds D00 to keep the layer",
            ]
        );
        let freed = small(&[("base", "hold:x a latch:x"), ("x", "b c d")]);
        assert_eq!(checked(&freed), Vec::<String>::new());
    }

    #[test]
    fn a_lock_needs_a_way_back() {
        let stuck = small(&[("base", "lock:x"), ("x", "a")]);
        let told = checked(&stuck);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].starts_with("'x' locked by D00 on layer 'base' can't be left"));
        for back in ["..", "lock:x", "lock:base"] {
            let text = small(&[("base", "lock:x"), ("x", &format!("{back} a"))]);
            assert_eq!(checked(&text), Vec::<String>::new(), "{back}");
        }
    }

    #[test]
    fn layers_without_access_and_doubles_are_told() {
        let text = small(&[("base", "a b a"), ("x", "c")]);
        assert_eq!(
            checked(&text),
            [
                "layer 'x' can't be reached: no access leads to it",
                "a is on layer 'base' more than once: D00, D02",
            ]
        );
    }

    #[test]
    fn what_cannot_be_typed_is_told_and_faults_come_first() {
        let text = small(&[("base", "a Enter")]);
        let layout = file::read(&text, "test.toml").unwrap().layout;
        let remarks = check(&layout);
        let missing = remarks.iter().filter(|r| r.kind() == "untypeable").count();
        // 95 printable characters and four keys; a and Enter are there.
        assert_eq!(missing, 95 + 4 - 2);
        assert!(remarks.is_sorted_by_key(Remark::weight));
    }

    #[test]
    fn shipped_layouts_have_no_faults() {
        for name in shipped::names() {
            let faults: Vec<String> = check(&shipped::load(name).unwrap())
                .iter()
                .filter(|remark| remark.weight() == Weight::Fault)
                .map(Remark::to_string)
                .collect();
            assert_eq!(faults, Vec::<String>::new(), "{name}");
        }
    }

    #[test]
    fn the_layered_layouts_keep_frequent_characters_at_home() {
        for name in shipped::names() {
            let layout = shipped::load(name).unwrap();
            let off = check(&layout).into_iter().filter(|r| r.kind() == "off-home").count();
            assert_eq!(off > 0, layout.old_way.is_none(), "{name}");
        }
    }

    #[test]
    fn preferences_in_vain_and_unknown_old_ways_are_told() {
        let mut layout = shipped::load(shipped::DEFAULT).unwrap();
        let wrong = layout.prefer.iter().next().map(|(output, _)| output.clone()).unwrap();
        let elsewhere = (LayerId::BASE, layout.board.sites[0].position);
        layout.prefer.insert(wrong, elsewhere);
        layout.old_way = Some("plain-asni".into());
        let kinds: Vec<&str> = check(&layout).iter().map(Remark::kind).collect();
        assert_eq!(kinds, ["vain-preference", "unknown-old-way"]);
    }
}
