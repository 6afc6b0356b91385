//! The first start: what this is, and the cautions.

use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Text};
use ratatui::widgets::{Paragraph, Widget, Wrap};

/// The cautions, word for word as the README has them.
pub const CAUTIONS: [&str; 3] = [
    "Repetitive work can hurt. Keep sittings short: a break is offered after ten minutes of \
     active practice.",
    "Stop at pain, numbness or tingling, and see a clinician.",
    "The rules of your workplace and professional advice come before this program.",
];

/// Draws the screen.
pub fn draw(area: Rect, buf: &mut Buffer, layout_title: &str, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    frame::row(head, buf, &Line::styled("Etude", theme.style(Meaning::Strong)), &Line::raw(""));
    let dot = if theme.unicode { "·" } else { "*" };
    let mut text = Text::default();
    text.push_line(Line::raw(
        "Short drills for the layers of your keyboard. Etude times every key and every layer \
         switch, and shows which layer is worth its keep.",
    ));
    text.push_line(Line::raw(""));
    text.push_line(Line::raw(format!("Layout: {layout_title}")));
    text.push_line(Line::styled(
        "etude layout list shows the others; --layout chooses one, or a file of your own.",
        theme.style(Meaning::Muted),
    ));
    text.push_line(Line::raw(""));
    text.push_line(Line::styled("Before you begin", theme.style(Meaning::Caution)));
    for caution in CAUTIONS {
        text.push_line(Line::raw(format!("{dot} {caution}")));
    }
    text.push_line(Line::raw(""));
    text.push_line(Line::raw(
        "While a line is due, every key belongs to the drill. Esc three times leaves, from \
         anywhere; all that you did is kept.",
    ));
    let width = body.width.min(72);
    Paragraph::new(text).wrap(Wrap { trim: true }).render(Rect { width, ..body }, buf);
    frame::row(foot, buf, &frame::keys(Place::Welcome, theme, foot.width), &Line::raw(""));
}
