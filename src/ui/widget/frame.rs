//! The head and foot of every screen, and the plain request for room.

use crate::drill::glyph;
use crate::keyboard::Output;
use crate::ui::keymap::{self, Action, Binding, Place};
use crate::ui::theme::{Meaning, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget, Wrap};
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// The least room in which screens can be drawn, columns and rows.
pub const LEAST: (u16, u16) = (40, 10);

/// Asks for room where there is less than [`LEAST`]; true where it did.
pub fn too_small(area: Rect, buf: &mut Buffer) -> bool {
    if area.width >= LEAST.0 && area.height >= LEAST.1 {
        return false;
    }
    let text = format!(
        "Etude needs {}×{}, this window has {}×{}. Nothing is lost.",
        LEAST.0, LEAST.1, area.width, area.height
    );
    Paragraph::new(text).wrap(Wrap { trim: true }).render(area, buf);
    true
}

/// Cuts a screen into head (1 row), body and foot (1 row), with a blank row
/// above and below the body where there is room.
pub fn cut(area: Rect) -> (Rect, Rect, Rect) {
    let gap = u16::from(area.height >= 16);
    let margin = if area.width >= 60 { 2 } else { 0 };
    let inner = Rect { x: area.x + margin, width: area.width.saturating_sub(2 * margin), ..area };
    let head = Rect { height: inner.height.min(1), ..inner };
    let foot =
        Rect { y: inner.y + inner.height.saturating_sub(1), height: inner.height.min(1), ..inner };
    let body =
        Rect { y: inner.y + 1 + gap, height: inner.height.saturating_sub(2 + 2 * gap), ..inner };
    (head, body, foot)
}

/// A row with something at its left and something at its right end. Where
/// both don't fit the left is cut, down to [`LEAST_LEFT`] columns; below that
/// the right gives way.
pub fn row(area: Rect, buf: &mut Buffer, left: &Line<'_>, right: &Line<'_>) {
    if area.is_empty() {
        return;
    }
    let (wanted, fixed) = (left.width() as u16, right.width() as u16);
    let room = area.width.saturating_sub(fixed + 2);
    if fixed > 0 && room >= wanted.min(LEAST_LEFT) {
        buf.set_line(area.x, area.y, left, room);
        buf.set_line(area.x + area.width - fixed, area.y, right, fixed);
    } else {
        buf.set_line(area.x, area.y, left, area.width);
    }
}

/// See [`row`].
const LEAST_LEFT: u16 = 16;

/// The keys that hold at `place`, for the foot of the screen, as many as fit.
/// The way back is never left out; the help has them all.
pub fn keys(place: Place, theme: Theme, width: u16) -> Line<'static> {
    let bindings: Vec<_> = keymap::at(place).filter(|b| b.action != Action::Quit).collect();
    let cost = |b: &Binding| shown(b.shown, theme).width() + 1 + b.label.width() + 3;
    let back: usize = bindings.iter().filter(|b| b.action == Action::Back).map(|b| cost(b)).sum();
    let mut room = (usize::from(width) + 3).saturating_sub(back);
    let mut spans: Vec<Span<'static>> = Vec::new();
    for binding in bindings {
        if binding.action != Action::Back {
            if cost(binding) > room {
                continue;
            }
            room -= cost(binding);
        }
        if !spans.is_empty() {
            spans.push(Span::raw("   "));
        }
        spans.push(Span::styled(shown(binding.shown, theme), theme.style(Meaning::Strong)));
        spans.push(Span::raw(" "));
        spans.push(Span::styled(binding.label, theme.style(Meaning::Muted)));
    }
    Line::from(spans)
}

/// The name of a key as this theme can draw it.
pub fn shown(name: &'static str, theme: Theme) -> &'static str {
    match name {
        _ if theme.unicode => name,
        "↑" => "Up",
        "↓" => "Down",
        "←" => "Left",
        "→" => "Right",
        other => other,
    }
}

/// An output as a word in a table or a sentence: spaces and keys by name.
pub fn name(output: &Output, theme: Theme) -> String {
    match output {
        Output::Key(key) => key.short().to_owned(),
        other if other.as_char() == Some(' ') => "Space".into(),
        other => glyph(other, theme.unicode).into_owned(),
    }
}

/// At most `width` columns of `text`, with a mark where something is cut off.
pub fn clip(text: &str, width: usize, theme: Theme) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let mut out = String::new();
    for grapheme in text.graphemes(true) {
        if out.width() + grapheme.width() + 1 > width {
            break;
        }
        out.push_str(grapheme);
    }
    if width > 0 {
        out.push(if theme.unicode { '…' } else { '~' });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clipped_text_never_exceeds_its_width() {
        let theme = Theme::PLAIN;
        for width in 0..8 {
            assert!(clip("{ } [ ] ( )", width, theme).width() <= width, "{width}");
            assert!(clip("漢字漢字漢字", width, theme).width() <= width, "{width}");
        }
        assert_eq!(clip("ab", 2, theme), "ab");
        assert_eq!(clip("abc", 2, theme), "a…");
        assert_eq!(clip("abc", 2, Theme { unicode: false, ..theme }), "a~");
    }

    #[test]
    fn a_row_keeps_its_right_end_while_the_left_can_give_way() {
        let area = Rect::new(0, 0, 40, 1);
        let mut buf = Buffer::empty(area);
        row(area, &mut buf, &Line::raw("a title that is rather long"), &Line::raw("drill 1 done"));
        let text: String = buf.content().iter().map(ratatui::buffer::Cell::symbol).collect();
        assert!(
            text.starts_with("a title that is rather") && text.ends_with("drill 1 done"),
            "{text}"
        );
        let narrow = Rect::new(0, 0, 20, 1);
        let mut buf = Buffer::empty(narrow);
        row(
            narrow,
            &mut buf,
            &Line::raw("a title that is rather long"),
            &Line::raw("drill 1 done"),
        );
        let text: String = buf.content().iter().map(ratatui::buffer::Cell::symbol).collect();
        assert_eq!(text, "a title that is rath");
    }
}
