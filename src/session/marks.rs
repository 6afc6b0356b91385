//! What marker keys tell of the layers: when they open, whether they are held.

use super::Flags;
use crate::keyboard::Marker;
use crate::layout::{AccessKind, Route, RouteTable, Target};
use crate::units::Micros;

/// What is known of one marker.
#[derive(Debug)]
struct Mark {
    marker: Marker,
    /// When it was last pressed since the last judged press, where that is
    /// known.
    pressed: Option<Micros>,
    /// It was pressed since the last judged press.
    is_new: bool,
    /// It came in the read that the event in work came in, so that the interval
    /// between the two is unknown.
    in_this_read: bool,
    down: bool,
    /// It came up since the last judged press.
    came_up: bool,
    /// The terminal tells when it comes up.
    tells_up: bool,
    /// The right key came after it was up: its keyboard does not keep it down
    /// for as long as the layer is held.
    is_tapped: bool,
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
            (mark.pressed, mark.is_new) = (None, false);
            (mark.down, mark.came_up) = (false, false);
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
            mark.in_this_read = false;
        }
    }

    fn event(&mut self, marker: Marker, batched: bool) -> &mut Mark {
        self.behind |= !batched;
        if !batched {
            self.new_read();
        }
        let index = self.marks.iter().position(|mark| mark.marker == marker);
        let index = index.unwrap_or_else(|| {
            self.marks.push(Mark {
                marker,
                pressed: None,
                is_new: false,
                in_this_read: false,
                down: false,
                came_up: false,
                tells_up: false,
                is_tapped: false,
            });
            self.marks.len() - 1
        });
        &mut self.marks[index]
    }

    /// `marker` goes down.
    pub fn press(&mut self, marker: Marker, at: Micros, batched: bool) {
        let known = !batched || self.behind;
        let mark = self.event(marker, batched);
        mark.pressed = known.then_some(at);
        (mark.is_new, mark.in_this_read) = (true, true);
        (mark.down, mark.came_up) = (true, false);
    }

    /// `marker` comes up.
    pub fn release(&mut self, marker: Marker, batched: bool) {
        let mark = self.event(marker, batched);
        mark.came_up = mark.down || mark.came_up;
        (mark.down, mark.tells_up) = (false, true);
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
        flags.set(Flags::LAYER_HELD, mark.down && (mark.tells_up || press.tells_up));
        flags.set(Flags::LAYER_LATCHED, press.hit && !mark.down && mark.is_new && mark.came_up);
        let let_go = !press.hit && !mark.down && mark.came_up;
        let let_go = let_go && press.due.is_held && !mark.is_tapped;
        flags.set(Flags::LAYER_LET_GO, let_go);
        let pressed = mark.pressed.filter(|_| mark.is_new && !mark.in_this_read);
        let reach = pressed
            .zip(press.before)
            .filter(|(pressed, before)| *before <= *pressed && *pressed <= press.at)
            .map(|(pressed, before)| pressed.since(before));
        (reach, flags)
    }

    /// A press was judged, with the flags that [`Marks::seen`] told of it.
    pub fn judged(&mut self, due: DueMarker, flags: Flags) {
        let is_tapped = due.is_held && flags.contains(Flags::LAYER_LATCHED);
        for mark in &mut self.marks {
            mark.is_tapped |= is_tapped && Some(mark.marker) == due.marker;
            (mark.pressed, mark.is_new, mark.came_up) = (None, false, false);
        }
    }
}
