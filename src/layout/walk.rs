//! What a keyboard with a layout does, press by press.
//!
//! The active layers form a stack: base at the bottom, then the others in the
//! order in which they were activated. A position means what the uppermost
//! layer has there; fall-through asks the layer beneath. A position that is
//! held down can't be struck, and a finger that holds a key presses no other.
//! Hold lasts while its key is down. Latch lasts until the next output; an
//! access is no output. Lock toggles, and lock of the base layer drops every
//! lock. Modifiers become active in the same three ways.

use super::{Access, AccessKind, Assignment, LayerId, Layout, Target};
use crate::keyboard::{Modifiers, Output};

/// Something that is active, and by which key it is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Active {
    access: Access,
    /// The index of the key, for holds.
    by: u8,
}

/// What a strike gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Struck {
    /// What the host receives.
    pub output: Output,
    /// The layer that had it.
    pub layer: LayerId,
    /// The modifiers that were active.
    pub modifiers: Modifiers,
}

/// A keyboard in use: which keys are down, which layers and modifiers active.
/// Keys are told by their index in the board's sites.
#[derive(Debug, Clone)]
pub struct Walk<'a> {
    layout: &'a Layout,
    active: Vec<Active>,
    /// True where any finger may press any key.
    free: bool,
}

/// What is active on a keyboard, apart from its layout.
#[derive(Debug, Clone, Default)]
pub struct WalkState(Vec<Active>);

impl<'a> Walk<'a> {
    /// A keyboard at rest.
    pub const fn new(layout: &'a Layout) -> Self {
        Self { layout, active: Vec::new(), free: false }
    }

    /// A keyboard under real hands, in the state that it was left in: only a
    /// key that is down can't be pressed, whatever finger holds another.
    pub fn under_hands(layout: &'a Layout, state: WalkState) -> Self {
        Self { layout, active: state.0, free: true }
    }

    /// What is active, to go on with later.
    pub fn into_state(self) -> WalkState {
        WalkState(self.active)
    }

    /// Makes `access` active without a key of the layout: a latch or a lock.
    pub fn activate(&mut self, access: Access) {
        self.active.push(Active { access, by: u8::MAX });
    }

    /// Ends every latch and lock of `target`.
    pub fn deactivate(&mut self, target: Target) {
        self.active.retain(|active| {
            active.access.kind == AccessKind::Hold || active.access.target != target
        });
    }

    /// How `target` is active, if it is: the last of its accesses.
    pub fn active_by(&self, target: Target) -> Option<AccessKind> {
        let mut all = self.active.iter().rev();
        all.find(|active| active.access.target == target).map(|active| active.access.kind)
    }

    /// The active layers, uppermost first; the last is the base layer.
    pub fn stack(&self) -> impl Iterator<Item = LayerId> + '_ {
        let above = self.active.iter().rev().filter_map(|active| match active.access.target {
            Target::Layer(id) => Some(id),
            Target::Modifier(_) => None,
        });
        above.chain([LayerId::BASE])
    }

    /// The active modifiers.
    pub fn modifiers(&self) -> Modifiers {
        self.active.iter().fold(Modifiers::empty(), |all, active| match active.access.target {
            Target::Modifier(modifier) => all | modifier,
            Target::Layer(_) => all,
        })
    }

    /// True where `target` is active. The base layer always is.
    pub fn is_active(&self, target: Target) -> bool {
        target == Target::Layer(LayerId::BASE)
            || self.active.iter().any(|active| active.access.target == target)
    }

    /// What is locked, in order.
    pub fn locked(&self) -> Vec<Target> {
        let locks = self.active.iter().filter(|active| active.access.kind == AccessKind::Lock);
        let mut targets: Vec<Target> = locks.map(|active| active.access.target).collect();
        targets.sort_unstable();
        targets
    }

    /// True where key `index` can be pressed: it is up, and its finger holds
    /// no other key. False for an index that the board lacks.
    pub fn can_press(&self, index: usize) -> bool {
        index < self.layout.board.sites.len() && self.blocked_by(index).is_none()
    }

    /// The key whose holding keeps key `index` from being pressed: itself, or
    /// another that the same finger holds.
    pub fn blocked_by(&self, index: usize) -> Option<usize> {
        let sites = &self.layout.board.sites;
        let finger = sites.get(index)?.finger;
        let held = self.active.iter().filter(|active| active.access.kind == AccessKind::Hold);
        held.map(|active| usize::from(active.by)).find(|&held| {
            held == index
                || !self.free && sites.get(held).is_some_and(|other| other.finger == finger)
        })
    }

    /// What key `index` means now, and the layer that says so; never
    /// fall-through except on the base layer.
    pub fn meaning(&self, index: usize) -> Option<(LayerId, &'a Assignment)> {
        let mut last = None;
        for id in self.stack() {
            let assignment = self.layout.layers.get(id.index())?.keys.get(index)?;
            last = Some((id, assignment));
            if *assignment != Assignment::FallThrough {
                break;
            }
        }
        last
    }

    /// The access that key `index` makes now when pressed or held.
    pub fn access_at(&self, index: usize) -> Option<Access> {
        match self.meaning(index)?.1 {
            Assignment::Access(access) => Some(*access),
            Assignment::Dual { hold, .. } => Some(*hold),
            _ => None,
        }
    }

    /// Uses key `index` as an access key: holds it down, or strikes a latch
    /// or lock. Returns what it did; none, and nothing changes, where the key
    /// gives no access or can't be pressed.
    pub fn access(&mut self, index: usize) -> Option<Access> {
        let access = self.access_at(index).filter(|_| self.can_press(index))?;
        let by = u8::try_from(index).ok()?;
        if access.kind == AccessKind::Lock {
            let locked = |active: &Active| active.access.kind == AccessKind::Lock;
            let before = self.active.len();
            if access.target == Target::Layer(LayerId::BASE) {
                self.active.retain(|active| !locked(active));
                return Some(access);
            }
            self.active.retain(|active| !(locked(active) && active.access.target == access.target));
            if self.active.len() < before {
                return Some(access);
            }
        }
        self.active.push(Active { access, by });
        Some(access)
    }

    /// Lets key `index` up: what it held is active no longer.
    pub fn release(&mut self, index: usize) {
        self.active.retain(|active| {
            active.access.kind != AccessKind::Hold || usize::from(active.by) != index
        });
    }

    /// Lets every held key up.
    pub fn release_all(&mut self) {
        self.active.retain(|active| active.access.kind != AccessKind::Hold);
    }

    /// Strikes key `index` for what it gives. Latches end. None, and nothing
    /// changes, where it gives nothing or can't be pressed.
    pub fn strike(&mut self, index: usize) -> Option<Struck> {
        if !self.can_press(index) {
            return None;
        }
        let (layer, assignment) = self.meaning(index)?;
        let modifiers = self.modifiers();
        let plain = given(self.layout, assignment)?;
        let output = self.layout.with_modifiers(&plain, modifiers)?;
        self.active.retain(|active| active.access.kind != AccessKind::Latch);
        Some(Struck { output, layer, modifiers })
    }
}

/// What a struck `assignment` gives without modifiers, if anything.
pub fn given(layout: &Layout, assignment: &Assignment) -> Option<Output> {
    match assignment {
        Assignment::Gives(output) => Some(output.clone()),
        Assignment::Does(name) => {
            layout.actions.get(name).map(|action| Output::Chord(action.chord))
        }
        Assignment::Dual { tap, .. } => match tap.as_ref() {
            // A tap is never a dual role itself.
            Assignment::Dual { .. } => None,
            tap => given(layout, tap),
        },
        Assignment::FallThrough | Assignment::Nothing | Assignment::Access(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::file;

    /// A 4×12 board; `base` and `above` fill the first keys of the first row.
    fn layout(base: &str, above: &str) -> Layout {
        let row = |keys: &str, rest: &str| {
            let count = keys.split(' ').count();
            format!("{keys}{}", format!(" {rest}").repeat(12 - count))
        };
        let blank = |rest: &str| format!("\n{}", row(rest, rest)).repeat(3);
        let text = format!(
            "name = 'test'\nboard = 'ortho-4x12'\n[[layer]]\nname = 'base'\n\
             keys = '''\n{}{}\n'''\n[[layer]]\nname = 'x'\nkeys = '''\n{}{}\n'''\n",
            row(base, "--"),
            blank("--"),
            row(above, ".."),
            blank("..")
        );
        file::read(&text, "test.toml").unwrap_or_else(|error| panic!("{error}")).layout
    }

    fn struck(walk: &mut Walk<'_>, index: usize) -> String {
        walk.strike(index).map_or_else(|| "-".to_owned(), |struck| struck.output.to_string())
    }

    #[test]
    fn a_hold_lasts_while_its_key_is_down_and_binds_its_finger() {
        let layout = layout("hold:x q w e", ".. 1 2 ..");
        let mut walk = Walk::new(&layout);
        walk.access(0);
        // D01 belongs to the finger that holds D00.
        assert_eq!([1, 2, 3].map(|key| struck(&mut walk, key)), ["-", "2", "e"]);
        assert_eq!(walk.blocked_by(1), Some(0));
        walk.release(0);
        assert_eq!([1, 2].map(|key| struck(&mut walk, key)), ["q", "w"]);
    }

    #[test]
    fn a_lock_toggles_and_a_lock_of_the_base_drops_all() {
        let layout = layout("lock:x q w lock:Shift", ".. 1 .. .. lock:base");
        let mut walk = Walk::new(&layout);
        walk.access(0);
        walk.access(3);
        assert_eq!([1, 2].map(|key| struck(&mut walk, key)), ["!", "W"]);
        walk.access(3);
        assert_eq!(struck(&mut walk, 1), "1");
        walk.access(0);
        assert_eq!(struck(&mut walk, 1), "q");
        walk.access(0);
        walk.access(3);
        walk.access(4);
        assert_eq!([1, 2].map(|key| struck(&mut walk, key)), ["q", "w"]);
        assert!(!walk.is_active(Target::Layer(LayerId(1))));
    }

    #[test]
    fn a_dual_role_is_tapped_or_held() {
        let layout = layout("a/hold:x q w e", "1 1 2 --");
        let mut walk = Walk::new(&layout);
        assert_eq!(struck(&mut walk, 0), "a");
        assert!(walk.access(0).is_some());
        assert_eq!([0, 2, 3].map(|key| struck(&mut walk, key)), ["-", "2", "-"]);
        assert_eq!(walk.strike(99), None);
    }
}
