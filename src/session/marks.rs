//! What marker keys tell of the layers: when they open, whether they are held.

use super::Flags;
use crate::keyboard::Marker;
use crate::layout::{AccessKind, Route, RouteTable, Target};
use crate::units::Micros;

bitflags::bitflags! {
    /// What was seen of a marker.
    #[derive(Debug, Clone, Copy)]
    struct Seen: u8 {
        /// It was pressed since the last judged press.
        const NEW = 1;
        /// It came in the read that the event in work came in, so that the
        /// interval between the two is unknown.
        const IN_THIS_READ = 1 << 1;
        const DOWN = 1 << 2;
        /// It came up since the last judged press.
        const CAME_UP = 1 << 3;
        /// The terminal tells when it comes up.
        const TELLS_UP = 1 << 4;
        /// The right key came after it was up: its keyboard does not keep it
        /// down for as long as the layer is held.
        const TAPPED = 1 << 5;
    }
}

/// What is known of one marker.
#[derive(Debug)]
struct Mark {
    marker: Marker,
    /// When it was last pressed since the last judged press, where that is
    /// known.
    pressed: Option<Micros>,
    seen: Seen,
}

/// The marker of the due layer.
#[derive(Debug, Clone, Copy)]
pub(super) struct DueMarker {
    marker: Option<Marker>,
    /// The layer has to be held for the due key.
    is_held: bool,
}

impl DueMarker {
    /// That of `route`, the way to what is due.
    pub fn of(routes: &RouteTable, route: Option<&Route>) -> Self {
        let is_held = route.is_some_and(|route| {
            let target = Target::Layer(route.layer);
            let mut accesses = route.accesses.iter().map(|step| step.access);
            accesses.any(|access| access.kind == AccessKind::Hold && access.target == target)
        });
        Self { marker: route.and_then(|route| routes.marker(route.layer)), is_held }
    }
}

/// A press that is being judged.
#[derive(Debug)]
pub(super) struct Press {
    pub due: DueMarker,
    /// The judged press before it, where the time since then counts.
    pub before: Option<Micros>,
    pub at: Micros,
    pub hit: bool,
    /// The terminal reports releases.
    pub tells_up: bool,
}

/// What is known of all markers that came.
#[derive(Debug, Default)]
pub(super) struct Marks {
    marks: Vec<Mark>,
    /// True right after the event of a marker whose time is known: what is read
    /// together with it has a known time too.
    behind: bool,
}

impl Marks {
    /// Forgets what is open; nothing is known after an interruption.
    pub fn forget(&mut self) {
        self.behind = false;
        for mark in &mut self.marks {
            mark.pressed = None;
            mark.seen -= Seen::NEW | Seen::DOWN | Seen::CAME_UP;
        }
    }

    /// An event other than a marker's comes. Returns true where it was read
    /// together with a marker of a known time right before it.
    pub fn other(&mut self, batched: bool) -> bool {
        let known = batched && self.behind;
        self.behind = known;
        if !batched {
            self.new_read();
        }
        known
    }

    fn new_read(&mut self) {
        for mark in &mut self.marks {
            mark.seen -= Seen::IN_THIS_READ;
        }
    }

    fn event(&mut self, marker: Marker, batched: bool) -> &mut Mark {
        self.behind |= !batched;
        if !batched {
            self.new_read();
        }
        let index = self.marks.iter().position(|mark| mark.marker == marker);
        let index = index.unwrap_or_else(|| {
            self.marks.push(Mark { marker, pressed: None, seen: Seen::empty() });
            self.marks.len() - 1
        });
        &mut self.marks[index]
    }

    /// `marker` goes down.
    pub fn press(&mut self, marker: Marker, at: Micros, batched: bool) {
        let known = !batched || self.behind;
        let mark = self.event(marker, batched);
        mark.pressed = known.then_some(at);
        mark.seen |= Seen::NEW | Seen::IN_THIS_READ | Seen::DOWN;
        mark.seen -= Seen::CAME_UP;
    }

    /// `marker` comes up.
    pub fn release(&mut self, marker: Marker, batched: bool) {
        let mark = self.event(marker, batched);
        if mark.seen.contains(Seen::DOWN) {
            mark.seen |= Seen::CAME_UP;
        }
        mark.seen -= Seen::DOWN;
        mark.seen |= Seen::TELLS_UP;
    }

    /// `marker` repeats by being held.
    pub fn repeat(&mut self, marker: Marker, batched: bool) {
        self.event(marker, batched);
    }

    /// What the markers tell of `press`: the reach, and the flags.
    pub fn seen(&self, press: &Press) -> (Option<Micros>, Flags) {
        let mut flags = Flags::empty();
        let marker = press.due.marker;
        let mark = marker.and_then(|marker| self.marks.iter().find(|m| m.marker == marker));
        let Some(mark) = mark else { return (None, flags) };
        let was = |seen| mark.seen.contains(seen);
        let came_and_went = was(Seen::CAME_UP) && !was(Seen::DOWN);
        flags.set(Flags::LAYER_HELD, was(Seen::DOWN) && (was(Seen::TELLS_UP) || press.tells_up));
        flags.set(Flags::LAYER_LATCHED, press.hit && came_and_went && was(Seen::NEW));
        let let_go = !press.hit && came_and_went && press.due.is_held && !was(Seen::TAPPED);
        flags.set(Flags::LAYER_LET_GO, let_go);
        let pressed = mark.pressed.filter(|_| was(Seen::NEW) && !was(Seen::IN_THIS_READ));
        let reach = pressed
            .zip(press.before)
            .filter(|(pressed, before)| *before <= *pressed && *pressed <= press.at)
            .map(|(pressed, before)| pressed.since(before));
        (reach, flags)
    }

    /// A press was judged, with the flags that [`Marks::seen`] told of it.
    pub fn judged(&mut self, due: DueMarker, flags: Flags) {
        let tapped = due.is_held && flags.contains(Flags::LAYER_LATCHED);
        for mark in &mut self.marks {
            if tapped && Some(mark.marker) == due.marker {
                mark.seen |= Seen::TAPPED;
            }
            mark.pressed = None;
            mark.seen -= Seen::NEW | Seen::CAME_UP;
        }
    }
}
