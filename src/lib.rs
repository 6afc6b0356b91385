//! Etude, a typing trainer for layered keyboard layouts: the map of the house.
//!
//! ```text
//!  layouts/*.toml ──► layout ──► routes ───────────────┐
//!  drills/*.toml, the person's own text ──► drill ◄────┘
//!                                             │
//!  terminal / script ──► events ──► session ◄─┘
//!                                      │
//!                                      ▼
//!                                 keystrokes ──► store ──► report
//!                                      │                     ▲
//!                                      └──► model ───────────┘
//! ```
//!
//! [`keyboard`], [`layout`], [`import`], [`capture`], [`played`], [`drill`], [`editor`], [`session`], [`model`],
//! [`plan`], [`survey`], [`arrange`] and [`typist`] are pure: no clock, no ambient randomness, no files, no
//! terminal. Time enters only inside events,
//! randomness only as a seed.

pub mod arrange;
pub mod capture;
pub mod cli;
pub mod command;
pub mod demo;
pub mod drill;
pub mod editor;
pub mod import;
pub mod input;
pub mod keyboard;
pub mod layout;
pub mod model;
pub mod order;
pub mod plan;
pub mod played;
pub mod practice;
pub mod progress;
pub mod report;
pub mod session;
pub mod store;
pub mod survey;
pub mod typist;
pub mod ui;
pub mod units;
