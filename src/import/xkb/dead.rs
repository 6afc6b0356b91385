//! What dead keys make.
//!
//! The host's compose table knows best; where there is none, Unicode's own
//! composition (base letter and combining mark, form NFC) gives the letters.

use kbvm::Keysym;
use kbvm::xkb::compose::{ComposeTable, FeedResult};
use unicode_normalization::UnicodeNormalization;

/// Combining mark and spacing form of the dead keys that have one in Unicode.
/// Source: names of the X keysym list against names of the Unicode blocks
/// "Combining Diacritical Marks" and "Spacing Modifier Letters".
const MARKS: &[(&str, char, char)] = &[
    ("grave", '\u{300}', '`'),
    ("acute", '\u{301}', '´'),
    ("circumflex", '\u{302}', '^'),
    ("tilde", '\u{303}', '~'),
    ("macron", '\u{304}', '¯'),
    ("breve", '\u{306}', '˘'),
    ("abovedot", '\u{307}', '˙'),
    ("diaeresis", '\u{308}', '¨'),
    ("hook", '\u{309}', '\u{309}'),
    ("abovering", '\u{30A}', '°'),
    ("doubleacute", '\u{30B}', '˝'),
    ("caron", '\u{30C}', 'ˇ'),
    ("doublegrave", '\u{30F}', '\u{30F}'),
    ("invertedbreve", '\u{311}', '\u{311}'),
    ("horn", '\u{31B}', '\u{31B}'),
    ("belowdot", '\u{323}', '\u{323}'),
    ("belowcomma", '\u{326}', '\u{326}'),
    ("cedilla", '\u{327}', '¸'),
    ("ogonek", '\u{328}', '˛'),
];

/// What the dead key `dead` makes of `base` by Unicode alone; none where
/// Unicode has no such letter.
pub fn unicode_makes(dead: &str, base: char) -> Option<String> {
    let (_, mark, alone) = MARKS.iter().find(|(name, _, _)| *name == dead)?;
    if base == ' ' {
        return (alone != mark).then(|| alone.to_string());
    }
    let composed: String = [base, *mark].into_iter().nfc().collect();
    let mut chars = composed.chars();
    (chars.next().is_some() && chars.next().is_none()).then_some(composed)
}

/// A table of what dead keys make.
#[derive(Debug, Default)]
pub struct Compose {
    table: Option<ComposeTable>,
}

impl Compose {
    /// What a host's compose table says.
    pub const fn of_host(table: ComposeTable) -> Self {
        Self { table: Some(table) }
    }

    /// What the dead key `dead` makes of `base`.
    pub fn makes(&self, dead: &str, base: char) -> Option<String> {
        let Some(table) = &self.table else { return unicode_makes(dead, base) };
        let key = Keysym::from_str(&format!("dead_{dead}"))?;
        let mut state = table.create_state();
        match table.feed(&mut state, key)? {
            FeedResult::Pending => {}
            FeedResult::Aborted | FeedResult::Composed { .. } => return None,
        }
        match table.feed(&mut state, Keysym::from_char(base))? {
            FeedResult::Composed { string, keysym } => {
                let made = string.map(str::to_owned).or_else(|| Some(keysym?.char()?.to_string()));
                made.filter(|text| !text.is_empty() && !text.contains(char::is_control))
            }
            FeedResult::Pending | FeedResult::Aborted => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unicode_composes_letters_and_leaves_the_rest() {
        let makes = |dead, base| unicode_makes(dead, base);
        assert_eq!(makes("acute", 'e').as_deref(), Some("é"));
        assert_eq!(makes("circumflex", 'A').as_deref(), Some("Â"));
        assert_eq!(makes("caron", 's').as_deref(), Some("š"));
        assert_eq!(makes("acute", ' ').as_deref(), Some("´"));
        assert_eq!(makes("acute", 'q'), None);
        assert_eq!(makes("greek", 'a'), None);
    }
}
