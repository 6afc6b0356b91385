//! How outputs look on a line of text.

use crate::keyboard::{NamedKey, Output};
use std::borrow::Cow;
use unicode_width::UnicodeWidthStr;

/// How `output` stands in a line: text as itself, a key as one sign, a chord
/// by its name.
///
/// With `unicode` the signs are ↵ ⇥ ⌫ ⎋, all of them one column wide: the
/// symbols of ISO/IEC 9995-7 (from memory), except that the arrow of Enter is
/// the older and more widely available U+21B5. Without it they are what a
/// terminal itself writes for these keys, `^M ^I ^H ^[` (caret notation, as
/// `stty -a` prints it). A lone combining mark gets a dotted circle to stand
/// on. A space is a blank; [`space_mark`] makes it visible.
pub fn glyph(output: &Output, unicode: bool) -> Cow<'_, str> {
    match output {
        Output::Text(text) if text.width() > 0 => Cow::Borrowed(text),
        Output::Text(text) => {
            Cow::Owned(format!("{}{text}", if unicode { '\u{25CC}' } else { '.' }))
        }
        Output::Key(key) => Cow::Borrowed(match (key, unicode) {
            (NamedKey::Enter, true) => "↵",
            (NamedKey::Enter, false) => "^M",
            (NamedKey::Tab, true) => "⇥",
            (NamedKey::Tab, false) => "^I",
            (NamedKey::Backspace, true) => "⌫",
            (NamedKey::Backspace, false) => "^H",
            (NamedKey::Escape, true) => "⎋",
            (NamedKey::Escape, false) => "^[",
            (other, true) => other.short(),
            (other, false) => other.name(),
        }),
        Output::Chord(chord) => Cow::Owned(chord.to_string()),
    }
}

/// The columns that [`glyph`] takes, ≥ 1.
pub fn glyph_width(output: &Output, unicode: bool) -> usize {
    glyph(output, unicode).width().max(1)
}

/// The columns of a whole line, ≥ 0.
pub fn line_width(items: &[Output], unicode: bool) -> usize {
    items.iter().map(|item| glyph_width(item, unicode)).sum()
}

/// A visible sign for a space, one column wide.
pub const fn space_mark(unicode: bool) -> &'static str {
    if unicode { "·" } else { "_" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_have_the_width_they_say() {
        for key in [NamedKey::Enter, NamedKey::Tab, NamedKey::Backspace, NamedKey::Escape] {
            let key = Output::Key(key);
            assert_eq!(glyph_width(&key, true), 1, "{key}");
            assert_eq!(glyph_width(&key, false), 2, "{key}");
            assert!(glyph(&key, false).is_ascii());
        }
        assert_eq!(space_mark(true).width(), 1);
        assert_eq!(space_mark(false).width(), 1);
    }

    #[test]
    fn text_stands_as_itself() {
        assert_eq!(glyph(&Output::char('é'), true), "é");
        assert_eq!(glyph(&Output::char(' '), false), " ");
        assert_eq!(glyph_width(&Output::char('潮'), true), 2);
        assert_eq!(glyph(&Output::char('\u{301}'), true), "\u{25CC}\u{301}");
        assert_eq!(glyph_width(&Output::char('\u{301}'), true), 1);
        let chord: Output = "Ctrl+C".parse().unwrap();
        assert_eq!(glyph(&chord, true), "Ctrl+C");
        assert_eq!(line_width(&[chord, Output::char('a')], true), 7);
    }
}
