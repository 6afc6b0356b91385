//! The keys that `<import base="cldr">` brings.
//!
//! Names from memory of the files `keys-Zyyy-punctuation.xml` and
//! `keys-Zyyy-currency.xml` of Unicode CLDR 45; a file that uses a name that
//! is missing here is refused with the name, and can define it itself.

/// Key names of the punctuation file and what they give.
pub const PUNCTUATION: &[(&str, &str)] = &[
    ("amp", "&"),
    ("apos", "'"),
    ("asterisk", "*"),
    ("at", "@"),
    ("backslash", "\\"),
    ("backquote", "`"),
    ("bang", "!"),
    ("bullet", "•"),
    ("caret", "^"),
    ("close-angle", ">"),
    ("close-curly", "}"),
    ("close-paren", ")"),
    ("close-square", "]"),
    ("colon", ":"),
    ("comma", ","),
    ("dash", "–"),
    ("degree", "°"),
    ("double-quote", "\""),
    ("ellipsis", "…"),
    ("em-dash", "—"),
    ("en-dash", "–"),
    ("equal", "="),
    ("equals", "="),
    ("grave", "`"),
    ("gt", ">"),
    ("hash", "#"),
    ("hyphen", "-"),
    ("interpunct", "·"),
    ("lt", "<"),
    ("micro", "µ"),
    ("middle-dot", "·"),
    ("not-sign", "¬"),
    ("nbsp", "\u{A0}"),
    ("numero", "№"),
    ("open-angle", "<"),
    ("open-curly", "{"),
    ("open-paren", "("),
    ("open-square", "["),
    ("paragraph", "¶"),
    ("percent", "%"),
    ("period", "."),
    ("pipe", "|"),
    ("plus", "+"),
    ("question", "?"),
    ("section", "§"),
    ("semi-colon", ";"),
    ("slash", "/"),
    ("tilde", "~"),
    ("underscore", "_"),
];

/// Key names of the currency file and what they give.
pub const CURRENCY: &[(&str, &str)] = &[
    ("cent", "¢"),
    ("currency", "¤"),
    ("dollar", "$"),
    ("euro", "€"),
    ("pound", "£"),
    ("rupee", "₹"),
    ("won", "₩"),
    ("yen", "¥"),
];

/// What the file at `path` (as `45/keys-Zyyy-punctuation.xml`) brings.
pub fn keys(path: &str) -> Option<&'static [(&'static str, &'static str)]> {
    match path.rsplit('/').next()? {
        "keys-Zyyy-punctuation.xml" => Some(PUNCTUATION),
        "keys-Zyyy-currency.xml" => Some(CURRENCY),
        _ => None,
    }
}
