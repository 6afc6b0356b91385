//! The screen: terminal state, the loop, screens, widgets, theme.

pub mod keymap;
pub mod theme;
pub mod widget;
