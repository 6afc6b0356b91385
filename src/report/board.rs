//! A layer on its board, as text for standard output.

use crate::keyboard::{Output, Site};
use crate::layout::{Assignment, LayerId, Layout};
use crate::ui::theme::Theme;
use crate::ui::widget::board::BoardView;
use ratatui::style::{Color, Modifier, Style};
use ratatui::text::Line;
use std::fmt::Write;

/// The drawing of layer `layer` in `width` columns, one string a row, with SGR
/// sequences (ECMA-48) if the theme has colour and without any otherwise.
pub fn board(layout: &Layout, layer: LayerId, theme: Theme, width: u16) -> Vec<String> {
    let view = BoardView::new(layout, layer, theme);
    view.lines(width).iter().map(|line| row_of(line, theme.colour)).collect()
}

/// The finger of each key, numbered as pianists do, drawn like a layer.
pub fn fingers(layout: &Layout, theme: Theme, width: u16) -> Vec<String> {
    let number = |site: &Site| Output::Text(site.finger.digit.number().to_string());
    let keys =
        layout.board.sites.iter().map(|site| Assignment::Gives(number(site))).collect::<Vec<_>>();
    let mut numbered = layout.clone();
    numbered.layers.truncate(1);
    for layer in &mut numbered.layers {
        layer.keys.clone_from(&keys);
    }
    board(&numbered, LayerId::BASE, theme, width)
}

/// A row of a board as text; without styles muted keys are left blank.
pub(super) fn row_of(line: &Line<'_>, styled: bool) -> String {
    if styled {
        return text_of(line, true);
    }
    let mut text = String::new();
    for span in &line.spans {
        if span.style.add_modifier.contains(Modifier::DIM) {
            text.extend(span.content.chars().map(bare));
        } else {
            text.push_str(&span.content);
        }
    }
    text
}

/// A styled line as text; `styled` says whether with SGR sequences.
pub fn text_of(line: &Line<'_>, styled: bool) -> String {
    let mut text = String::new();
    for span in &line.spans {
        let codes = if styled { sgr(span.style) } else { String::new() };
        if codes.is_empty() {
            text.push_str(&span.content);
        } else {
            // Writing to a String never fails.
            let _ = write!(text, "\x1b[{codes}m{}\x1b[0m", span.content);
        }
    }
    text
}

/// Without styles a key that falls through would look like one of the layer's
/// own: it is left blank. Frames stay.
fn bare(c: char) -> char {
    if ('\u{2500}'..='\u{257F}').contains(&c) || "+-|=".contains(c) { c } else { ' ' }
}

/// The SGR parameters of `style`; empty for none. Only the sixteen colours of
/// the terminal's own palette are told.
fn sgr(style: Style) -> String {
    let mut codes: Vec<String> = Vec::new();
    for (modifier, code) in [
        (Modifier::BOLD, "1"),
        (Modifier::DIM, "2"),
        (Modifier::UNDERLINED, "4"),
        (Modifier::REVERSED, "7"),
    ] {
        if style.add_modifier.contains(modifier) {
            codes.push(code.to_owned());
        }
    }
    if let Some(number) = style.fg.and_then(colour_number) {
        let code = if number < 8 { 30 + number } else { 82 + number };
        codes.push(code.to_string());
    }
    codes.join(";")
}

const fn colour_number(colour: Color) -> Option<u8> {
    Some(match colour {
        Color::Black => 0,
        Color::Red => 1,
        Color::Green => 2,
        Color::Yellow => 3,
        Color::Blue => 4,
        Color::Magenta => 5,
        Color::Cyan => 6,
        Color::Gray => 7,
        Color::DarkGray => 8,
        Color::LightRed => 9,
        Color::LightGreen => 10,
        Color::LightYellow => 11,
        Color::LightBlue => 12,
        Color::LightMagenta => 13,
        Color::LightCyan => 14,
        Color::White => 15,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::ui::theme::Ground;

    #[test]
    fn styles_are_told_only_with_colour() {
        let layout = shipped::load("tern-split").unwrap();
        let plain = board(&layout, LayerId(2), Theme::PLAIN, 80);
        assert!(plain.iter().all(|line| !line.contains('\x1b')));
        let theme = Theme { colour: true, ground: Ground::Dark, unicode: true };
        let styled = board(&layout, LayerId(2), theme, 80);
        assert!(styled.iter().any(|line| line.contains("\x1b[")));
        let stripped: Vec<String> = BoardView::new(&layout, LayerId(2), theme)
            .lines(80)
            .iter()
            .map(|line| row_of(line, false))
            .collect();
        assert_eq!(stripped, plain);
    }

    #[test]
    fn bright_colours_have_their_own_codes() {
        assert_eq!(sgr(Style::new().fg(Color::LightCyan)), "96");
        assert_eq!(sgr(Style::new().fg(Color::Red).add_modifier(Modifier::BOLD)), "1;31");
        assert_eq!(sgr(Style::new()), "");
    }
}
