//! Tests of the pure rooms from outside: properties, scenarios, outside
//! checks, and the guard of the house's walls.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod arrange;
mod arrange_task;
mod capture;
mod drills;
mod editor;
mod edits;
mod engine;
mod forecast;
mod hands;
mod import;
mod layout_files;
mod model;
mod plan;
mod played;
mod recall;
mod routes;
mod shortcuts;
mod typist;
mod walls;
