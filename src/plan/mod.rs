//! What to practise next.
//!
//! [`Need`] tells how often the person needs each item and each switch;
//! [`Beliefs`] what is known of their times, errors and learning;
//! [`Planner`] makes of both the drills that save most per minute of
//! practice, and says why. docs/plan.md has the method,
//! docs/method.md how it was proved.

mod belief;
mod need;
mod pace;
mod planner;
mod reason;
mod today;
mod value;
mod watch;

pub use belief::{Beliefs, Course, ItemBelief, SwitchBelief};
pub use need::{Need, PAGE};

pub use crate::survey::{Work, WorkMix};
pub use pace::{Pace, PageTime};
pub use planner::{Choice, NEW_AT_ONCE, Planner, Wishes};
pub use today::{Entry, Today};
pub use watch::Watch;
pub(crate) use watch::{EFFORT_POWER, EXPONENT, UNMET};
