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

/// Draws the screen; `active_s` is the active time of the sitting in seconds.
pub fn draw(area: Rect, buf: &mut Buffer, active_s: f64, drills: u32, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    frame::row(
        head,
        buf,
        &Line::styled("A break is due", theme.style(Meaning::Strong)),
        &Line::raw(format!("{} active, {drills} drills", clock(active_s))),
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
