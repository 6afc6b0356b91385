//! Tests of the pure rooms from outside: properties, scenarios, outside
//! checks, and the guard of the house's walls.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod drills;
mod editor;
mod edits;
mod engine;
mod hands;
mod layout_files;
mod model;
mod plan;
mod routes;
mod typist;
mod walls;
