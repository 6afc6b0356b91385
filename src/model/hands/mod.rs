//! Everything that is kept of a person's hands on one layout, and what it
//! comes to.
//!
//! [`Hands`] are sums: they take in drill after drill and stay about as large,
//! however long the history. [`Findings`] are what is estimated from them: by
//! item, layer and switch. Both can be written as bytes and read back, so that
//! a start does not have to read years of keystrokes.
//!
//! Lines of the person's own text are never kept one by one and are not in it.

mod findings;

pub use findings::{Findings, ItemFinding, LayerFinding, Mistake, SwitchFinding};

use super::errors::Errors;
use super::learning::Courses;
use super::slip::Slips;
use super::switch::Statistics;
use super::{Item, latency::Latencies};
use crate::layout::LayerId;
use crate::session::{Keystroke, Verdict};
use crate::units::Micros;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Grows when bytes written before can't be read, or mean something else.
pub const FORMAT: u32 = 1;

/// Errors count for so many days up to the last one: what went wrong while a
/// key was new says little of it now. Our own choice.
pub const ERROR_DAYS: i32 = 28;

/// What is kept of a person's hands on one layout.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Hands {
    pub(super) statistics: Statistics,
    pub(super) courses: Courses,
    /// By local day.
    pub(super) errors: BTreeMap<i32, Errors>,
    /// How often each switch was made.
    pub(super) arrivals: BTreeMap<(LayerId, LayerId), u64>,
}

/// Bytes that are no hands or findings of this version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("what was kept of the model can't be read; it is made anew from the keystrokes")]
pub struct Unreadable;

impl Hands {
    /// Takes in a drill, struck on local day `day`, later than those before.
    pub fn add_drill(&mut self, day: i32, slips: &Slips, keystrokes: &[Keystroke]) {
        self.statistics.merge(&Statistics::of_drill(day, keystrokes));
        self.courses.add_keystrokes(day, keystrokes);
        self.errors.entry(day).or_default().add_keystrokes(slips, keystrokes);
        for keystroke in keystrokes.iter().filter(|k| k.verdict == Verdict::Hit) {
            if keystroke.previous_layer != keystroke.layer {
                let pair = (keystroke.previous_layer, keystroke.layer);
                *self.arrivals.entry(pair).or_default() += 1;
            }
        }
        if let Some((&last, _)) = self.errors.last_key_value() {
            self.errors = self.errors.split_off(&(last - ERROR_DAYS + 1));
        }
    }

    /// Takes in a day of an item by its sums, earlier than every drill: hits,
    /// latencies that count, and their median.
    pub fn add_day(&mut self, item: &Item, day: i32, hits: u64, n_timed: u64, median: Micros) {
        let course = self.courses.items.entry(item.clone()).or_default();
        course.add_day(day, hits, n_timed, median);
    }

    /// The errors of the last [`ERROR_DAYS`] days together.
    pub fn errors(&self) -> Errors {
        let mut all = Errors::default();
        for errors in self.errors.values() {
            all.merge(errors);
        }
        all
    }

    /// Recent latencies by layer and item.
    fn latencies(&self) -> Latencies<LayerId, Item> {
        let mut latencies = Latencies::default();
        for (item, course) in &self.courses.items {
            for (day, ln_ms, count) in course.recent() {
                latencies.add_ln(item.layer, item.clone(), day, ln_ms, count);
            }
        }
        latencies
    }

    /// Makes it small enough to be kept; estimates move by less than their
    /// errors.
    pub fn settle(&mut self) {
        for course in self.courses.items.values_mut() {
            course.settle();
        }
    }

    /// As bytes.
    pub fn to_bytes(&self) -> Vec<u8> {
        postcard::to_allocvec(self).unwrap_or_default()
    }

    /// From [`Hands::to_bytes`].
    ///
    /// # Errors
    /// [`Unreadable`] for anything else.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, Unreadable> {
        postcard::from_bytes(bytes).map_err(|_| Unreadable)
    }
}
