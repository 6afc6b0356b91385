//! Results as text and JSON, for standard output.

pub mod arrange;
pub mod board;
pub mod compare;
pub mod csv;
pub mod edit;
pub mod import;
pub mod layout;
pub mod pays;
pub mod progress;
pub mod script;
pub mod sheet;
pub mod survey;
pub mod table;
