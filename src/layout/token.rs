//! The words of layout files: one token a position.
//!
//! | token | meaning |
//! |---|---|
//! | one character, any | that character |
//! | `Space`, `U+00A0` | that character by name or code point |
//! | `"=>"` | text of several characters; inside, `\\`, `\"` and `\u{A0}` |
//! | `Enter`, `ArrowLeft` … | a named key (W3C) |
//! | `Ctrl+Shift+V` | a chord |
//! | `do:copy` | the chord of an action |
//! | `hold:x`, `latch:x`, `lock:x` | access to layer x, or to Shift, Ctrl, Alt, Meta |
//! | `Shift`, `Control`, `Alt`, `Meta` | hold of that modifier |
//! | `a/hold:x`, `a/Shift` | dual role: tap and hold |
//! | `..` | what the layer beneath has |
//! | `--` | nothing |
//!
//! One character alone always means itself, so every printable character can
//! be written.

use super::{Access, AccessKind, Assignment, LayerId, Target};
use crate::keyboard::document::Nearest;
use crate::keyboard::{Chord, Modifiers, NamedKey, Output, ParseChordError};
use std::fmt::Write;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthChar;

/// What a bad token is and what was expected instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected {expected}{nearest}")]
pub struct TokenError {
    /// What should stand there.
    pub expected: String,
    /// The nearest known word.
    pub nearest: Nearest,
}

/// What tokens may refer to.
#[derive(Debug, Clone, Copy)]
pub struct Names<'a> {
    /// The layers in order.
    pub layers: &'a [String],
    /// The actions.
    pub actions: &'a [String],
}

const OUTPUT: &str = "one character, a named key, a chord or \"text\"";
const ANY: &str = "one character, a named key, a chord, \"text\", do:ACTION, hold:, latch: or \
                   lock: and a layer, TAP/hold:LAYER, .. or --";

fn expected(what: impl Into<String>, nearest: Nearest) -> TokenError {
    TokenError { expected: what.into(), nearest }
}

/// True for names of layers and actions: 1 to 32 characters, none of them a
/// blank, a control character, or one of `/ : " '`, and no modifier's name.
pub fn is_name(word: &str) -> bool {
    let length = word.chars().count();
    (1..=32).contains(&length)
        && !word.chars().any(|c| {
            c.is_whitespace() || c.is_control() || c.width() == Some(0) || "/:\"'".contains(c)
        })
        && modifier_named(word).is_none()
}

/// The modifier that a word names, by chord word or key name.
fn modifier_named(word: &str) -> Option<Modifiers> {
    let by_word = Modifiers::WORDS.iter().find(|(_, known)| *known == word).map(|(one, _)| *one);
    by_word.or_else(|| word.parse().ok().and_then(Modifiers::of_key))
}

/// The assignment that `token` writes.
///
/// # Errors
/// What was expected instead, with the nearest known word.
pub fn read(token: &str, names: Names<'_>) -> Result<Assignment, TokenError> {
    if token.graphemes(true).count() == 1 {
        return read_output(token).map(Assignment::Gives);
    }
    match token {
        ".." => return Ok(Assignment::FallThrough),
        "--" => return Ok(Assignment::Nothing),
        _ => {}
    }
    if let Some(access) = read_access(token, names)? {
        return Ok(Assignment::Access(access));
    }
    if !is_quoted(token)
        && let Some((tap, hold)) = token.rsplit_once('/')
        && !tap.is_empty()
        && let Some(hold) = read_access(hold, names)?
    {
        if hold.kind != AccessKind::Hold {
            return Err(expected("a hold after the /, as in a/hold:LAYER", Nearest::default()));
        }
        return match read(tap, names)? {
            tap @ (Assignment::Gives(_) | Assignment::Does(_)) => {
                Ok(Assignment::Dual { tap: Box::new(tap), hold })
            }
            _ => Err(expected(
                "a character, key, chord, text or action before the /",
                Nearest::default(),
            )),
        };
    }
    if let Some(action) = token.strip_prefix("do:") {
        return if names.actions.iter().any(|known| known == action) {
            Ok(Assignment::Does(action.to_owned()))
        } else {
            let known = names.actions.iter().map(String::as_str);
            Err(expected("an action of [actions] after do:", Nearest::of(action, known)))
        };
    }
    read_output(token).map(Assignment::Gives).map_err(|mut error| {
        if error.expected == OUTPUT {
            ANY.clone_into(&mut error.expected);
        }
        error
    })
}

/// The access that `word` writes; none where it is no access at all.
fn read_access(word: &str, names: Names<'_>) -> Result<Option<Access>, TokenError> {
    if let Some(modifier) = modifier_named(word) {
        return Ok(Some(Access { kind: AccessKind::Hold, target: Target::Modifier(modifier) }));
    }
    for kind in [AccessKind::Hold, AccessKind::Latch, AccessKind::Lock] {
        let Some(target) = word.strip_prefix(kind.word()).and_then(|rest| rest.strip_prefix(':'))
        else {
            continue;
        };
        if let Some(modifier) = modifier_named(target) {
            return Ok(Some(Access { kind, target: Target::Modifier(modifier) }));
        }
        return match names.layers.iter().position(|known| known == target) {
            Some(index) => Ok(Some(Access { kind, target: Target::Layer(LayerId(index as u8)) })),
            None => Err(expected(
                format!(
                    "a layer of this file, or Shift, Ctrl, Alt or Meta, after {}:",
                    kind.word()
                ),
                Nearest::of(target, names.layers.iter().map(String::as_str)),
            )),
        };
    }
    Ok(None)
}

fn is_quoted(token: &str) -> bool {
    token.len() > 2 && token.starts_with('"') && token.ends_with('"')
}

/// The output that `token` writes: a character, `Space`, a code point, quoted
/// text, a named key or a chord.
///
/// # Errors
/// What was expected instead, with the nearest known word.
pub fn read_output(token: &str) -> Result<Output, TokenError> {
    if token.is_empty() {
        return Err(expected(OUTPUT, Nearest::default()));
    }
    if token.graphemes(true).count() == 1 {
        if token.contains(char::is_control) {
            return Err(expected("no control character", Nearest::default()));
        }
        return Ok(Output::Text(token.to_owned()));
    }
    if token == "Space" {
        return Ok(Output::char(' '));
    }
    if let Some(hex) = token.strip_prefix("U+") {
        return code_point(hex).map(Output::char).ok_or_else(|| {
            expected("U+ and the hexadecimal number of a printable character", Nearest::default())
        });
    }
    if is_quoted(token) {
        return unquote(&token[1..token.len() - 1]).map(Output::Text);
    }
    if let Ok(key) = token.parse::<NamedKey>() {
        return Ok(Output::Key(key));
    }
    if token.contains('+') {
        return token.parse::<Chord>().map(Output::Chord).map_err(|error| bad_chord(&error));
    }
    Err(expected(OUTPUT, nearest_key(token)))
}

fn nearest_key(word: &str) -> Nearest {
    Nearest::of(word, NamedKey::ALL.iter().map(|key| key.name()).chain(["Space"]))
}

/// What was expected of a chord, with the nearest word for the part at fault.
pub fn bad_chord(error: &ParseChordError) -> TokenError {
    let (what, nearest) = match error {
        ParseChordError::Shape(_) => ("a chord such as Ctrl+Shift+V", Nearest::default()),
        ParseChordError::Modifier { word } => (
            "a chord with the modifiers Ctrl, Alt, Shift or Meta",
            Nearest::of(word, Modifiers::WORDS.map(|(_, known)| known)),
        ),
        ParseChordError::Key { word } => {
            ("a chord that ends in one character or a named key", nearest_key(word))
        }
    };
    expected(what, nearest)
}

fn code_point(hex: &str) -> Option<char> {
    let all_hex = !hex.is_empty() && hex.len() <= 6 && hex.bytes().all(|b| b.is_ascii_hexdigit());
    let number = all_hex.then(|| u32::from_str_radix(hex, 16).ok()).flatten()?;
    char::from_u32(number).filter(|c| !c.is_control())
}

fn unquote(inside: &str) -> Result<String, TokenError> {
    let mut text = String::new();
    let mut rest = inside;
    while let Some(c) = rest.chars().next() {
        rest = &rest[c.len_utf8()..];
        if c.is_control() {
            return Err(expected("no control character", Nearest::default()));
        }
        if c != '\\' {
            text.push(c);
            continue;
        }
        let escape =
            || expected("\\\\, \\\" or \\u{A0} after a backslash in text", Nearest::default());
        if let Some(after) = rest.strip_prefix("u{") {
            let (hex, after) = after.split_once('}').ok_or_else(escape)?;
            text.push(code_point(hex).ok_or_else(escape)?);
            rest = after;
        } else {
            let next = rest.chars().next().filter(|c| "\\\"".contains(*c)).ok_or_else(escape)?;
            text.push(next);
            rest = &rest[1..];
        }
    }
    Ok(text)
}

/// True for characters that can stand in a file as they are and be seen.
fn is_plain(c: char) -> bool {
    !c.is_whitespace() && !c.is_control() && c.width().is_some_and(|width| width > 0)
}

/// The token for `output`; [`read_output`] reads it back.
pub fn write_output(output: &Output) -> String {
    match output {
        Output::Text(text) if text == " " => "Space".to_owned(),
        Output::Text(text) => write_text(text),
        Output::Key(key) => key.name().to_owned(),
        Output::Chord(chord) => chord.to_string(),
    }
}

fn write_text(text: &str) -> String {
    let mut chars = text.chars();
    let first = chars.next();
    let one = chars.next().is_none();
    if text.graphemes(true).count() == 1
        && first.is_some_and(is_plain)
        && !text.contains(|c: char| c.is_whitespace() || c.is_control())
    {
        return text.to_owned();
    }
    if let (Some(c), true) = (first, one) {
        return format!("U+{:04X}", u32::from(c));
    }
    let mut token = String::from("\"");
    for c in text.chars() {
        match c {
            '\\' => token.push_str("\\\\"),
            '"' => token.push_str("\\\""),
            // Three in a row would end the block of keys.
            '\'' => token.push_str("\\u{27}"),
            c if is_plain(c) => token.push(c),
            c => {
                let _ = write!(token, "\\u{{{:X}}}", u32::from(c));
            }
        }
    }
    token.push('"');
    token
}

fn write_access(access: Access, layers: &[String]) -> String {
    match (access.kind, access.target) {
        (AccessKind::Hold, Target::Modifier(modifier)) => modifier.key().name().to_owned(),
        (kind, Target::Modifier(modifier)) => format!("{}:{modifier}", kind.word()),
        (kind, Target::Layer(id)) => {
            format!("{}:{}", kind.word(), layers.get(id.index()).map_or("?", String::as_str))
        }
    }
}

/// The token for `assignment`; [`read`] reads it back.
pub fn write(assignment: &Assignment, layers: &[String]) -> String {
    match assignment {
        Assignment::FallThrough => "..".to_owned(),
        Assignment::Nothing => "--".to_owned(),
        Assignment::Gives(output) => write_output(output),
        Assignment::Does(action) => format!("do:{action}"),
        Assignment::Access(access) => write_access(*access, layers),
        Assignment::Dual { tap, hold } => {
            format!("{}/{}", write(tap, layers), write_access(*hold, layers))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names<'a>(layers: &'a [String], actions: &'a [String]) -> Names<'a> {
        Names { layers, actions }
    }

    #[test]
    fn every_printable_ascii_character_means_itself() {
        for c in '!'..='~' {
            let token = c.to_string();
            let read = read(&token, names(&[], &[])).unwrap();
            assert_eq!(read, Assignment::Gives(Output::char(c)));
            assert_eq!(write(&read, &[]), token);
        }
    }

    #[test]
    fn tokens_read_back_as_they_are_written() {
        let layers = ["base".to_owned(), "symbols".to_owned()];
        let actions = ["copy".to_owned()];
        for token in [
            "Space",
            "U+00A0",
            "U+0301",
            "\"=>\"",
            "\"a\\u{20}b\"",
            "\"\\\"\\\\\"",
            "Enter",
            "AltGraph",
            "Ctrl+Shift+V",
            "Ctrl++",
            "Ctrl+/",
            "Ctrl+Space",
            "do:copy",
            "hold:symbols",
            "latch:symbols",
            "lock:base",
            "latch:Shift",
            "lock:Ctrl",
            "Shift",
            "Control",
            "Alt",
            "Meta",
            "a/hold:symbols",
            "//hold:symbols",
            "\"/Shift",
            "Ctrl+//Shift",
            "do:copy/Meta",
            "Space/hold:symbols",
            "\"=>\"/Shift",
            "..",
            "--",
            "ß",
            "é",
            "e\u{301}",
            "\"/hold:base\"",
        ] {
            let read = read(token, names(&layers, &actions)).unwrap();
            assert_eq!(write(&read, &layers), token, "{read:?}");
        }
    }

    #[test]
    fn a_tap_may_be_a_slash() {
        let layers = ["base".to_owned(), "x".to_owned()];
        let hold = Access { kind: AccessKind::Hold, target: Target::Layer(LayerId(1)) };
        let tap = Box::new(Assignment::Gives(Output::char('/')));
        assert_eq!(read("//hold:x", names(&layers, &[])), Ok(Assignment::Dual { tap, hold }));
        assert_eq!(read("/", names(&layers, &[])), Ok(Assignment::Gives(Output::char('/'))));
    }

    #[test]
    fn bad_tokens_are_told_with_the_nearest_word() {
        let layers = ["base".to_owned(), "symbols".to_owned()];
        let actions = ["copy".to_owned()];
        for (token, told) in [
            ("Entr", "did you mean 'Enter'?"),
            ("hold:symbol", "did you mean 'symbols'?"),
            ("do:cpy", "did you mean 'copy'?"),
            ("a/latch:symbols", "a hold after the /"),
            ("../hold:symbols", "before the /"),
            ("Strg+C", "the modifiers Ctrl"),
            ("Ctrl+Entr", "did you mean 'Enter'?"),
            ("Crtl+C", "did you mean 'Ctrl'?"),
            ("U+D800", "hexadecimal number"),
            ("U+000A", "hexadecimal number"),
            ("\"a\\n\"", "after a backslash"),
            ("ab", "one character"),
        ] {
            let error = read(token, names(&layers, &actions)).unwrap_err().to_string();
            assert!(error.contains(told), "{token}: {error}");
        }
    }
}
