//! The screen: terminal state, the loop, screens, widgets, theme.

pub mod app;
pub mod keymap;
pub mod run;
pub mod screen;
pub mod surroundings;
pub mod terminal;
pub mod theme;
pub mod widget;

#[cfg(test)]
mod tests;
