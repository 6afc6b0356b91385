//! Results as text, JSON and CSV.

pub mod script;
