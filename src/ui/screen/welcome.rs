//! The first start: what this is, and the cautions.

use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

/// The cautions, word for word as the README has them.
pub const CAUTIONS: [&str; 3] = [
    "Repetitive work can hurt. Keep sittings short: a break is offered after ten minutes of \
     active practice.",
    "Stop at pain, numbness or tingling, and see a clinician.",
    "The rules of your workplace and professional advice come before this program.",
];

/// Draws the screen from line `scroll` on. The cautions come first, so that
/// no window is too small for them.
pub fn draw(area: Rect, buf: &mut Buffer, layout_title: &str, scroll: u16, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    let width = body.width.min(72);
    let dot = if theme.unicode { "·" } else { "*" };
    let mut lines = Vec::new();
    let mut paragraph = |text: &str, meaning: Meaning| {
        for line in frame::wrapped(text, width.into()) {
            lines.push(Line::styled(line, theme.style(meaning)));
        }
    };
    paragraph("Before you begin", Meaning::Caution);
    for caution in CAUTIONS {
        paragraph(&format!("{dot} {caution}"), Meaning::Text);
    }
    paragraph("", Meaning::Text);
    paragraph(
        "Short drills for the layers of your keyboard. Etude times every key and every layer \
         switch, and shows which layer is worth its keep.",
        Meaning::Text,
    );
    paragraph("", Meaning::Text);
    paragraph(&format!("Layout: {layout_title}"), Meaning::Text);
    paragraph(
        "etude layout list shows the others; --layout chooses one, or a file of your own.",
        Meaning::Muted,
    );
    paragraph("", Meaning::Text);
    paragraph(
        "While a line is due, every key belongs to the drill. Esc three times leaves, from \
         anywhere; all that you did is kept.",
        Meaning::Text,
    );
    let more = frame::scrolled(Rect { width, ..body }, buf, &lines, scroll);
    let more = Line::styled(if more { "more below" } else { "" }, theme.style(Meaning::Muted));
    frame::row(head, buf, &Line::styled("Etude", theme.style(Meaning::Strong)), &more);
    frame::row(foot, buf, &frame::keys(Place::Welcome, theme, foot.width), &Line::raw(""));
}
