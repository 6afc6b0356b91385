//! Results as text and JSON, for standard output.

pub mod board;
pub mod layout;
pub mod script;
