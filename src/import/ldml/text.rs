//! The strings of LDML keyboards: escapes, variables, markers.

use std::collections::BTreeMap;
use unicode_normalization::UnicodeNormalization;

/// The longest string that variables may grow to, characters.
pub const MOST_CHARS: usize = 1000;

/// One unit of a string.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unit {
    /// A character.
    Char(char),
    /// A marker, by its id.
    Marker(String),
}

/// The variables of a file.
#[derive(Debug, Clone, Default)]
pub struct Variables {
    /// `<string>`: their text, unexpanded.
    pub strings: BTreeMap<String, String>,
    /// `<set>`: their items, unexpanded.
    pub sets: BTreeMap<String, Vec<String>>,
}

impl Variables {
    /// `text` with every `${…}` replaced.
    ///
    /// # Errors
    /// A variable that is not there, or a text that grows beyond all bounds.
    pub fn expand(&self, text: &str) -> Result<String, String> {
        self.expand_within(text, 0)
    }

    fn expand_within(&self, text: &str, depth: usize) -> Result<String, String> {
        if depth > 8 {
            return Err("variables that name each other in a ring".to_owned());
        }
        let mut expanded = String::new();
        let mut rest = text;
        while let Some(at) = rest.find("${") {
            let (before, after) = rest.split_at(at);
            expanded.push_str(before);
            let (name, behind) = after[2..]
                .split_once('}')
                .ok_or_else(|| "a variable without its }: expected ${name}".to_owned())?;
            let value = self
                .strings
                .get(name)
                .ok_or_else(|| format!("unknown variable '{}'", shown(name)))?;
            expanded.push_str(&self.expand_within(value, depth + 1)?);
            if expanded.len() > MOST_CHARS * 4 {
                return Err("a string that grows without end through its variables".to_owned());
            }
            rest = behind;
        }
        expanded.push_str(rest);
        Ok(expanded)
    }
}

/// A text from a file, made safe for a complaint: short, without controls.
pub fn shown(text: &str) -> String {
    let mut shown: String =
        text.chars().take(40).map(|c| if c.is_control() { '\u{FFFD}' } else { c }).collect();
    if text.chars().nth(40).is_some() {
        shown.push('…');
    }
    shown
}

/// The characters of `\u{61}` or `\u{65 301}`, given what stands between the
/// braces.
///
/// # Errors
/// What is no list of code points.
pub fn code_points(hex: &str) -> Result<String, String> {
    let text: Option<String> = hex
        .split_whitespace()
        .map(|word| u32::from_str_radix(word, 16).ok().and_then(char::from_u32))
        .collect();
    text.filter(|text| !text.is_empty()).ok_or_else(|| {
        format!("bad escape \\u{{{}}}: expected hexadecimal code points", shown(hex))
    })
}

/// The units of `text`, whose variables are expanded already.
///
/// # Errors
/// A bad escape.
pub fn units(text: &str) -> Result<Vec<Unit>, String> {
    let mut units = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        if let Some(after) = rest.strip_prefix("\\u{") {
            let (hex, behind) = after.split_once('}').ok_or("an escape \\u{ without its }")?;
            units.extend(code_points(hex)?.chars().map(Unit::Char));
            rest = behind;
        } else if let Some(after) = rest.strip_prefix("\\m{") {
            let (id, behind) = after.split_once('}').ok_or("a marker \\m{ without its }")?;
            units.push(Unit::Marker(id.to_owned()));
            rest = behind;
        } else if let Some(after) = rest.strip_prefix('\\') {
            let next = after.chars().next().ok_or("a backslash at the end")?;
            if next.is_alphanumeric() {
                return Err(format!(
                    "bad escape \\{next}: expected \\u{{…}}, \\m{{…}} or a backslash and a sign"
                ));
            }
            units.push(Unit::Char(next));
            rest = &after[next.len_utf8()..];
        } else {
            units.push(Unit::Char(c));
            rest = &rest[c.len_utf8()..];
        }
    }
    Ok(units)
}

/// The text of `units` in form NFC, markers left out.
pub fn text_of(units: &[Unit]) -> String {
    let chars = units.iter().filter_map(|unit| match unit {
        Unit::Char(c) => Some(*c),
        Unit::Marker(_) => None,
    });
    chars.nfc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escapes_markers_and_variables() {
        let mut variables = Variables::default();
        variables.strings.insert("y".into(), "\\u{65 301}".into());
        let units = units(&variables.expand("a${y}\\m{circ}\\\\").unwrap()).unwrap();
        assert_eq!(text_of(&units), "aé\\");
        assert_eq!(units[3], Unit::Marker("circ".into()));
        assert!(variables.expand("${x}").unwrap_err().contains("unknown variable 'x'"));
        assert!(super::units("\\u{zz}").unwrap_err().contains("hexadecimal"));
        assert!(super::units("\\u{D800}").is_err());
        assert!(super::units("\\q").unwrap_err().contains("bad escape"));
    }

    #[test]
    fn variables_do_not_grow_without_end() {
        let mut variables = Variables::default();
        variables.strings.insert("a".into(), "${a}".into());
        assert!(variables.expand("${a}").unwrap_err().contains("ring"));
        let mut value = "x".repeat(100);
        for name in ["b", "c", "d", "e"] {
            variables.strings.insert(name.into(), value.clone());
            value = format!("${{{name}}}").repeat(100);
        }
        assert!(variables.expand("${e}").unwrap_err().contains("without end"));
    }
}
