//! The break that is offered.

use super::practice::clock;
use super::welcome::CAUTIONS;
use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Text};
use ratatui::widgets::{Paragraph, Widget, Wrap};

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View {
    /// True where the minutes of the sitting are used up.
    pub time_up: bool,
    /// Active time of the sitting, seconds.
    pub active_s: f64,
    /// Drills of the sitting.
    pub drills: u32,
}

/// Draws the screen.
pub fn draw(area: Rect, buf: &mut Buffer, view: View, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    let title = if view.time_up { "The minutes are up" } else { "A break is due" };
    let drills = if view.drills == 1 { "drill" } else { "drills" };
    frame::row(
        head,
        buf,
        &Line::styled(title, theme.style(Meaning::Strong)),
        &Line::raw(format!("{} active, {} {drills}", clock(view.active_s), view.drills)),
    );
    let mut text = Text::default();
    text.push_line(Line::raw(
        "Take the hands off the keys, let the arms hang, look at something far away.",
    ));
    text.push_line(Line::raw(
        "A short sitting every day teaches more than a long one now and then.",
    ));
    text.push_line(Line::raw(""));
    for caution in CAUTIONS {
        text.push_line(Line::raw(caution));
    }
    let width = body.width.min(72);
    Paragraph::new(text).wrap(Wrap { trim: true }).render(Rect { width, ..body }, buf);
    frame::row(foot, buf, &frame::keys(Place::Break, theme, foot.width), &Line::raw(""));
}
