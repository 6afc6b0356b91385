//! The screen: terminal state, the loop, screens, widgets, theme.

pub mod theme;
pub mod widget;
