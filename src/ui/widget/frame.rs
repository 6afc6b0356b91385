//! The head and foot of every screen, and the plain request for room.

use crate::drill::glyph;
use crate::keyboard::{Chord, ChordKey, NamedKey, Output};
use crate::ui::keymap::{self, Action, Place};
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
    let gap = u16::from(area.height >= ROOMY);
    let margin = if area.width >= 60 { 2 } else { 0 };
    let inner = Rect { x: area.x + margin, width: area.width.saturating_sub(2 * margin), ..area };
    let head = Rect { height: inner.height.min(1), ..inner };
    let foot =
        Rect { y: inner.y + inner.height.saturating_sub(1), height: inner.height.min(1), ..inner };
    let body =
        Rect { y: inner.y + 1 + gap, height: inner.height.saturating_sub(2 + 2 * gap), ..inner };
    (head, body, foot)
}

/// The area of a screen whose head says that the history is invented. The row
/// below the head is blank where there is room; only elsewhere a row is taken
/// from the screen, down to what it needs at least.
pub fn below_mark(area: Rect) -> Rect {
    if area.height >= ROOMY || area.height <= LEAST.1 {
        return area;
    }
    Rect { y: area.y + 1, height: area.height - 1, ..area }
}

/// Says in the head of a screen, drawn into [`below_mark`], that the history is
/// invented.
pub fn mark_invented(area: Rect, buf: &mut Buffer, theme: Theme) {
    if area.width < LEAST.0 || area.height < LEAST.1 {
        return;
    }
    let (head, _, _) = cut(area);
    let row = Rect { y: head.y + u16::from(area.height >= ROOMY), ..head };
    let words = if area.width >= 80 { INVENTED } else { INVENTED_SHORT };
    buf.set_style(row, ratatui::style::Style::reset());
    buf.set_stringn(
        row.x,
        row.y,
        " ".repeat(row.width.into()),
        row.width.into(),
        theme.style(Meaning::Text),
    );
    buf.set_stringn(row.x, row.y, words, row.width.into(), theme.style(Meaning::Caution));
}

const INVENTED: &str = "invented history: a simulated typist at Tern Point; thrown away at the end";
const INVENTED_SHORT: &str = "invented history; thrown away at the end";

/// From so many rows on a blank row parts head and body.
const ROOMY: u16 = 16;

/// A row with something at its left and something at its right end. Where
/// both don't fit the left is cut, down to sixteen columns; below that
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

/// What the left part of a [`row`] keeps at least.
const LEAST_LEFT: u16 = 16;

/// Keys of the foot with what they do.
struct Foot {
    keys: String,
    label: &'static str,
    /// True for what is never left out.
    stays: bool,
}

impl Foot {
    /// Columns, with the blanks before the next.
    fn cost(&self) -> usize {
        self.keys.width() + 1 + self.label.width() + 3
    }
}

/// The keys that hold at `place`, for the foot of the screen, as many as fit.
/// The way back and the help are never left out; the help has them all.
pub fn keys(place: Place, theme: Theme, width: u16) -> Line<'static> {
    let mut entries: Vec<Foot> = Vec::new();
    for binding in keymap::at(place).filter(|b| b.action != Action::Quit) {
        let key = shown(binding.shown, theme);
        let stays = matches!(binding.action, Action::Back | Action::Help);
        // Keys that go two ways of the same stand together.
        match entries.iter_mut().find(|entry| entry.label == binding.label) {
            Some(entry) => entry.keys = format!("{} {key}", entry.keys),
            None => entries.push(Foot { keys: key.to_owned(), label: binding.label, stays }),
        }
    }
    let kept: usize = entries.iter().filter(|entry| entry.stays).map(Foot::cost).sum();
    let mut room = (usize::from(width) + 3).saturating_sub(kept);
    let mut spans: Vec<Span<'static>> = Vec::new();
    for entry in entries {
        if !entry.stays {
            if entry.cost() > room {
                continue;
            }
            room -= entry.cost();
        }
        if !spans.is_empty() {
            spans.push(Span::raw("   "));
        }
        spans.push(Span::styled(entry.keys, theme.style(Meaning::Strong)));
        spans.push(Span::raw(" "));
        spans.push(Span::styled(entry.label, theme.style(Meaning::Muted)));
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

/// `text` in lines of at most `width` columns, cut at blanks; a longer word
/// is cut where the line is full.
pub fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let used = lines.last().map_or(0, |line| line.width());
        if used > 0 && used + 1 + word.width() > width {
            lines.push(String::new());
        } else if used > 0 {
            lines.last_mut().into_iter().for_each(|line| line.push(' '));
        }
        for grapheme in word.graphemes(true) {
            if lines.last().is_some_and(|line| line.width() + grapheme.width() > width) {
                lines.push(String::new());
            }
            lines.last_mut().into_iter().for_each(|line| line.push_str(grapheme));
        }
    }
    lines
}

/// Draws `lines` from line `scroll` on; true where more lie below.
pub fn scrolled(area: Rect, buf: &mut Buffer, lines: &[Line<'_>], scroll: u16) -> bool {
    let hidden = (lines.len() as u16).saturating_sub(area.height);
    let first = scroll.min(hidden);
    for (n, line) in lines.iter().skip(first.into()).take(area.height.into()).enumerate() {
        buf.set_line(area.x, area.y + n as u16, line, area.width);
    }
    first < hidden
}

/// Rows that a notice may take at most.
const NOTICE_ROWS: u16 = 3;

/// Writes `notice` into the last rows of `body`, and returns the rows above.
pub fn notice(body: Rect, buf: &mut Buffer, notice: Option<&str>, theme: Theme) -> Rect {
    let Some(text) = notice else { return body };
    let most = NOTICE_ROWS.min(body.height / 3);
    let mut lines = wrapped(text, body.width.into());
    if lines.len() > usize::from(most) {
        lines.truncate(most.into());
        if let Some(last) = lines.last_mut() {
            *last = clip(&format!("{last} and more, told at the end"), body.width.into(), theme);
        }
    }
    let height = lines.len() as u16;
    let top = body.y + body.height - height;
    for (n, line) in lines.iter().enumerate() {
        let style = theme.style(Meaning::Caution);
        buf.set_stringn(body.x, top + n as u16, line, body.width.into(), style);
    }
    Rect { height: body.height - height, ..body }
}

/// An output as a word in a table or a sentence: spaces and keys by name,
/// chords with the short name of their key.
pub fn name(output: &Output, theme: Theme) -> String {
    let short = |key: NamedKey| match key.short() {
        short if theme.unicode || short.is_ascii() => short,
        _ => key.name().trim_start_matches("Arrow"),
    };
    match output {
        Output::Key(key) => short(*key).to_owned(),
        Output::Chord(Chord { modifiers, key: ChordKey::Named(key) }) => {
            format!("{modifiers}+{}", short(*key))
        }
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
    fn wrapping_keeps_every_word_and_the_width() {
        let text = "words of five characters a minute, first to last key of a line";
        let lines = wrapped(text, 20);
        assert!(lines.iter().all(|line| line.width() <= 20), "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert_eq!(wrapped("/a/long/path", 5), ["/a/lo", "ng/pa", "th"]);
    }

    #[test]
    fn a_notice_stands_whole_or_says_that_there_is_more() {
        let body = Rect::new(0, 0, 40, 12);
        let mut buf = Buffer::empty(body);
        let rest =
            notice(body, &mut buf, Some("the folder '/proc/nope' can't be used"), Theme::PLAIN);
        assert_eq!(rest.height, 11);
        let rest = notice(body, &mut buf, Some(&"word ".repeat(60)), Theme::PLAIN);
        assert_eq!(rest.height, 9);
        assert_eq!(notice(body, &mut buf, None, Theme::PLAIN), body);
    }

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
