//! An invented history, so that a newcomer sees what the charts will be: 120
//! days at Tern Point, by the simulated typist at the real engine.
//!
//! This room is shell: it joins the pure rooms to the store, and has no clock;
//! today is an argument. The same day, layout and seed give the same history.

mod days;
mod hands;
#[cfg(test)]
mod tests;
mod work;

pub use work::WorkError;

use crate::keyboard::{Marker, Output};
use crate::layout::{Layout, RouteTable};
use crate::store::{PastSession, Store, StoreError, WallTime};
use crate::units::Micros;
use days::Plan;
use hands::Hands;
use std::path::Path;
use std::sync::mpsc;

/// How many days it spans, the last of them yesterday.
pub const DAYS: i32 = 120;

/// The seed of the history that the program shows.
pub const SEED: u64 = 36;

/// How long the old way is measured with the drills of each layer.
const OLD_WAY: Micros = Micros::from_secs(45);

/// So many sessions may wait to be written.
const AHEAD: usize = 16;

/// What to invent.
#[derive(Debug, Clone, Copy)]
pub struct Invention<'a> {
    /// The layout that is learnt.
    pub layout: &'a Layout,
    /// The layout used before, which is measured now and then.
    pub old_way: Option<&'a Layout>,
    /// Now: the history ends the day before, in this offset of local time.
    pub now: WallTime,
    /// How many days the history spans.
    pub days: i32,
    /// The same seed gives the same history.
    pub seed: u64,
}

impl<'a> Invention<'a> {
    /// [`DAYS`] days of `layout` up to the day before `now`.
    pub const fn new(layout: &'a Layout, old_way: Option<&'a Layout>, now: WallTime) -> Self {
        Self { layout, old_way, now, days: DAYS, seed: SEED }
    }

    /// The sessions, in their order in time. None where the layout has nothing
    /// that can be drilled.
    pub fn sessions(&self) -> impl Iterator<Item = PastSession> + use<'a> {
        let marked = with_markers(self.layout);
        let mut hands = Hands::new(&marked, self.layout, self.seed);
        let mut old_hands = self.old_way.map(|old| Hands::new(old, self.layout, self.seed + 1));
        let plan = Plan::new(hands.offers(), old_hands.is_some(), self.days, self.seed);
        let (today, offset) = (self.now.day_local(0), self.now.utc_offset_min);
        let (days, seed) = (self.days, self.seed);
        let mut yesterday = None;
        plan.flat_map(move |day| {
            let slept = yesterday.replace(day.number).map_or(0, |before| day.number - before);
            for hands in std::iter::once(&mut hands).chain(&mut old_hands) {
                hands.sleep(slept.unsigned_abs());
            }
            let at = |minute: i32| WallTime {
                ms_utc: i64::from(today - days + day.number) * 86_400_000
                    + i64::from(minute - offset) * 60_000,
                utc_offset_min: offset,
            };
            let mut sessions = vec![hands.sit(at(day.minute), &day.offers, day.active, seed)];
            if let Some(old) = old_hands.as_mut().filter(|_| !day.old_way.is_empty()) {
                let later = day.minute + (day.active.as_secs() / 60.0).ceil() as i32 + 9;
                let active = Micros(OLD_WAY.0 * day.old_way.len() as u64);
                sessions.push(old.sit(at(later), &day.old_way, active, seed));
            }
            sessions.retain(|session| !session.drills.is_empty());
            sessions
        })
    }

    /// Writes the history into the folder `dir`, which has none yet. The survey is
    /// another file: [`Invention::survey`].
    ///
    /// # Errors
    /// Where it can't be written.
    pub fn write(&self, dir: &Path) -> Result<(), StoreError> {
        let mut store = Store::open(dir)?;
        // One thread types while the other writes, which nearly halves the time.
        std::thread::scope(|scope| {
            let (sender, sessions) = mpsc::sync_channel(AHEAD);
            scope.spawn(move || {
                for session in self.sessions() {
                    if sender.send(session).is_err() {
                        // Writing has failed, and says why.
                        break;
                    }
                }
            });
            store.take_in(sessions)
        })
    }
}

/// `layout` on a keyboard that sends a marker for each layer: those that it has,
/// and for the other layers the next that nothing in it gives.
fn with_markers(layout: &Layout) -> Layout {
    let mut marked = layout.clone();
    let routes = RouteTable::build(layout);
    let has = |marker: &Marker| layout.layers().any(|(_, layer)| layer.marker == Some(*marker));
    let given = |marker: &Marker| match marker {
        Marker::Key(key) => routes.to(&Output::Key(*key)).is_some(),
        Marker::Level5Shift => false,
    };
    let mut free = Marker::all().filter(|marker| !has(marker) && !given(marker));
    // The base layer is never opened.
    for layer in marked.layers.iter_mut().skip(1) {
        layer.marker = layer.marker.or_else(|| free.next());
    }
    marked
}
