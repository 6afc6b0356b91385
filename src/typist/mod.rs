//! A simulated typist with a known truth: what the tests of the model and of
//! the plan are held against, and what makes invented histories.
//!
//! A [`Typist`] reads the session as a person reads the screen and answers
//! with events; the session judges them like any others. Everything it does
//! follows from a [`Person`], a layout and a seed.
//!
//! The time of a key is log-normal about
//!
//! ```text
//! log ms = skill of the key        b − c·log(n + 1)
//!        + switch of layers        b' − c'·log(n' + 1), by (from → to)
//!        + motor class             other hand 0, same hand, one key twice, same finger
//!        + Shift                   going in, coming out
//!        + after an error          the next two keys
//!        + first of the day        the first time that a key comes up that day
//! ```
//!
//! Where each figure comes from stands at [`Person`]'s fields. What has to be
//! remembered is remembered or not by a [`Memory`] that fades.

mod hands;
mod marker;
mod memory;
mod person;
mod play;
mod skill;
mod slip;
mod task;
mod text;

pub use hands::{Motor, strokes_of};
pub use memory::Memory;
pub use person::Person;
pub use play::Typist;
pub use skill::Skill;
pub use text::Text;
