//! The help, made from the table of keys.

use crate::ui::keymap::{self, Place};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span, Text};
use ratatui::widgets::{Paragraph, Widget, Wrap};

/// What each figure means, for the help and the docs.
pub const FIGURES: [(&str, &str); 6] = [
    ("wpm", "words of five characters a minute, first to last key of a line, pauses left out"),
    ("right", "keys struck right at once, of all keys that should stand (C / (C + INF + IF))"),
    ("median", "half of the latencies were shorter; the range is the middle half (quartiles)"),
    ("n", "how many latencies were counted; after errors, pauses and first keys they are not"),
    ("switch", "latency of the first key on another layer than the key before it"),
    ("faster", "medians lie farther apart than their noise; else no clear change is claimed"),
];

/// The signs of the practice screen.
const SIGNS: [(&str, &str, &str); 4] = [
    ("S──", "S--", "above the line: the layer, by its sign, for as long as it is needed"),
    ("▲", "^", "the caret; what is due is shown reversed"),
    ("2 3", "2 3", "below: fingers, 1 thumb to 5 little; left hand underlined"),
    ("⇧", "^", "above a capital: Shift"),
];

/// Draws the screen: keys of `place`, then signs and figures.
pub fn draw(area: Rect, buf: &mut Buffer, place: Place, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    frame::row(head, buf, &Line::styled("Help", theme.style(Meaning::Strong)), &Line::raw(""));
    let mut text = Text::default();
    let entry = |key: String, label: &str| {
        Line::from(vec![
            Span::styled(format!("{key:<11}"), theme.style(Meaning::Strong)),
            Span::raw(label.to_owned()),
        ])
    };
    for binding in keymap::at(place) {
        text.push_line(entry(frame::shown(binding.shown, theme).to_owned(), binding.label));
    }
    text.push_line(entry("Esc Esc Esc".into(), " within a second: leaves a drill"));
    text.push_line(Line::raw(""));
    for (sign, plain, label) in SIGNS {
        text.push_line(entry(if theme.unicode { sign } else { plain }.to_owned(), label));
    }
    text.push_line(Line::raw(""));
    for (word, label) in FIGURES {
        text.push_line(entry(word.to_owned(), label));
    }
    Paragraph::new(text).wrap(Wrap { trim: false }).render(body, buf);
    frame::row(foot, buf, &frame::keys(Place::Help, theme, foot.width), &Line::raw(""));
}
