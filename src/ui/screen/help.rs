//! The help, made from the table of keys.

use super::{progress, work};
use crate::ui::keymap::{self, Action, Place};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// What each figure means, for the help and the docs.
pub const FIGURES: [(&str, &str); 6] = [
    ("wpm", "words of five characters a minute, without pauses"),
    ("right", "share of keys struck right at the first try"),
    ("median", "half of the latencies were shorter; middle half: quartiles"),
    ("n", "latencies counted; not after errors, pauses, first keys"),
    ("switch", "latency of the first key on another layer"),
    ("faster", "medians lie farther apart than their noise"),
];

/// What the figures of editing tasks mean.
const TASK_FIGURES: [(&str, &str); 5] = [
    ("par", "the fewest keys that the task needs with your layout"),
    ("keys", "those that you struck, wrong ones too"),
    ("detours", "keys that brought the goal no nearer and no further away"),
    ("wrong", "keys that led away, were taken back or did nothing"),
    ("home block", "the keys that hands strike without leaving their place"),
];

/// The signs of the practice screen.
const SIGNS: [(&str, &str, &str); 5] = [
    ("S── ⇧", "S-- ^", "above the line: the layer that is needed, by its sign; Shift"),
    ("▲", "^", "the caret; what is due is shown reversed"),
    ("2 3", "2 3", "below: fingers, 1 thumb to 5 little, left underlined"),
    ("↵ ⇥ ⌫ ⎋", "^M ^I ^H ^[", "in bold: Enter, Tab, Backspace, Escape"),
    ("═  ↓S", "=  _S", "on the board: where a finger rests; hold for layer S"),
];

/// Columns of a key, a sign or a word before its label.
const ENTRY: usize = 13;

/// Draws the screen: keys of `place`, then signs and figures, from line
/// `scroll` on.
pub fn draw(area: Rect, buf: &mut Buffer, place: Place, scroll: u16, theme: Theme) {
    if frame::too_small(area, buf) {
        return;
    }
    let (head, body, foot) = frame::cut(area);
    let lines = lines(place, usize::from(body.width), theme);
    let more = if frame::scrolled(body, buf, &lines, scroll) { "more below" } else { "" };
    frame::row(
        head,
        buf,
        &Line::styled("Help", theme.style(Meaning::Strong)),
        &Line::styled(more, theme.style(Meaning::Muted)),
    );
    frame::row(foot, buf, &frame::keys(Place::Help, theme, foot.width), &Line::raw(""));
}

fn lines(place: Place, width: usize, theme: Theme) -> Vec<Line<'static>> {
    let mut lines = Vec::new();
    let mut entry = |key: &str, label: &str| {
        for (n, part) in
            frame::wrapped(label, width.saturating_sub(ENTRY).max(12)).into_iter().enumerate()
        {
            let key = if n == 0 { key } else { "" };
            let pad = ENTRY.saturating_sub(key.width());
            lines.push(Line::from(vec![
                Span::styled(key.to_owned(), theme.style(Meaning::Strong)),
                Span::raw(" ".repeat(pad)),
                Span::raw(part),
            ]));
        }
    };
    let mut bindings = keymap::at(place).peekable();
    while let Some(binding) = bindings.next() {
        let mut shown = frame::shown(binding.shown, theme).to_owned();
        let mut label = binding.label.to_owned();
        while let Some(next) = bindings.next_if(|next| share_a_line(binding.action, next.action)) {
            shown = format!("{shown} {}", frame::shown(next.shown, theme));
            if next.label != binding.label {
                label = format!("{label}, {}", next.label);
            }
        }
        entry(&shown, &label);
    }
    if let Place::Progress(which) = place {
        for (word, label) in progress::figures(which) {
            entry(word, label);
        }
        return lines;
    }
    if let Place::Work(sight) = place {
        for (word, label) in work::figures(sight) {
            entry(word, label);
        }
        return lines;
    }
    if place == Place::Edited {
        for (word, label) in TASK_FIGURES {
            entry(word, label);
        }
        return lines;
    }
    entry("Esc Esc Esc", "in a drill, within a second: leaves it");
    for (sign, plain, label) in SIGNS {
        entry(if theme.unicode { sign } else { plain }, label);
    }
    for (word, label) in FIGURES {
        entry(word, label);
    }
    lines
}

/// Opposites share a line, and what leads to other screens.
fn share_a_line(one: Action, other: Action) -> bool {
    let elsewhere = |action| matches!(action, Action::Progress | Action::Work | Action::Layers);
    elsewhere(one) && elsewhere(other)
        || matches!(
            (one, other),
            (Action::Up, Action::Down)
                | (Action::Down, Action::Up)
                | (Action::Less, Action::More)
                | (Action::More, Action::Less)
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_help_stands_whole_at_80_by_24() {
        let views = crate::ui::keymap::View::ALL.map(Place::Progress);
        let places = [Place::Welcome, Place::Start, Place::Result, Place::Edited, Place::Break];
        let sights = crate::ui::keymap::Sight::ALL.map(Place::Work);
        for place in places.into_iter().chain(views).chain(sights) {
            let lines = lines(place, 76, Theme::PLAIN).len();
            assert!(lines <= 20, "{place:?}: {lines} lines");
        }
    }
}
