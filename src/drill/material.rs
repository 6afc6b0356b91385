//! The text that ships with Etude: `drills/*.toml`.

use super::DrillError;
use serde::Deserialize;
use std::collections::BTreeSet;
use std::sync::LazyLock;
use toml::Spanned;
use unicode_width::UnicodeWidthStr;

/// The widest line of a shipped piece, columns; a tab counts [`TAB_COLUMNS`].
pub const PIECE_COLUMNS: usize = 72;
/// How many columns a tab character counts in the material.
pub const TAB_COLUMNS: usize = 4;

/// What sort of text a piece is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "each variant is its own word")]
pub enum Kind {
    Prose,
    Dialogue,
    List,
    Letter,
    Log,
    Table,
    Time,
    Measure,
    Date,
    Place,
    Sum,
    Rust,
    Python,
    Shell,
    Typescript,
    C,
    Sql,
    Markdown,
    Regex,
    Path,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 20] = [
        Self::Prose,
        Self::Dialogue,
        Self::List,
        Self::Letter,
        Self::Log,
        Self::Table,
        Self::Time,
        Self::Measure,
        Self::Date,
        Self::Place,
        Self::Sum,
        Self::Rust,
        Self::Python,
        Self::Shell,
        Self::Typescript,
        Self::C,
        Self::Sql,
        Self::Markdown,
        Self::Regex,
        Self::Path,
    ];

    /// The word that files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Prose => "prose",
            Self::Dialogue => "dialogue",
            Self::List => "list",
            Self::Letter => "letter",
            Self::Log => "log",
            Self::Table => "table",
            Self::Time => "time",
            Self::Measure => "measure",
            Self::Date => "date",
            Self::Place => "place",
            Self::Sum => "sum",
            Self::Rust => "rust",
            Self::Python => "python",
            Self::Shell => "shell",
            Self::Typescript => "typescript",
            Self::C => "c",
            Self::Sql => "sql",
            Self::Markdown => "markdown",
            Self::Regex => "regex",
            Self::Path => "path",
        }
    }

    /// The kind that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// One piece of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// What sort of text.
    pub kind: Kind,
    /// One line or a few, none of them empty.
    pub text: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    piece: Vec<Spanned<RawPiece>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPiece {
    kind: String,
    text: String,
}

/// The pieces of the file `name` with the contents `source`.
///
/// # Errors
/// [`DrillError::Material`] with the line of what is wrong: not TOML, a key
/// or kind that is not known, an empty, too wide or repeated text, a control
/// character other than tab and line feed.
pub fn pieces(name: &str, source: &str) -> Result<Vec<Piece>, DrillError> {
    let raw: RawFile = toml::from_str(source).map_err(|error| unreadable(name, source, &error))?;
    let mut seen = BTreeSet::new();
    let mut found = Vec::with_capacity(raw.piece.len());
    for spanned in raw.piece {
        let line = line_of(source, spanned.span().start);
        let RawPiece { kind, text } = spanned.into_inner();
        let fault = |problem: String| DrillError::Material { file: name.to_owned(), line, problem };
        let Some(kind) = Kind::from_word(&kind) else {
            let words: Vec<&str> = Kind::ALL.iter().map(|kind| kind.word()).collect();
            return Err(fault(format!("kind '{kind}' is not known: one of {}", words.join(", "))));
        };
        if let Some(problem) = text_problem(&text) {
            return Err(fault(problem));
        }
        if !seen.insert(text.clone()) {
            return Err(fault("the same text stands earlier in this file".to_owned()));
        }
        found.push(Piece { kind, text });
    }
    Ok(found)
}

fn text_problem(text: &str) -> Option<String> {
    for line in text.split('\n') {
        if line.trim().is_empty() {
            return Some("a line of the text is empty".to_owned());
        }
        if let Some(c) = line.chars().find(|c| c.is_control() && *c != '\t') {
            return Some(format!("the text holds the control character U+{:04X}", u32::from(c)));
        }
        if line.ends_with([' ', '\t']) {
            return Some(format!("a blank ends the line '{line}'"));
        }
        let tabs = line.matches('\t').count();
        let columns = line.replace('\t', "").width() + tabs * TAB_COLUMNS;
        if columns > PIECE_COLUMNS {
            return Some(format!(
                "the line '{line}' has {columns} columns, at most {PIECE_COLUMNS} are allowed"
            ));
        }
    }
    None
}

/// Words that fragments are made of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    /// Lower-case words.
    pub words: Vec<String>,
    /// Pairs of a wrong word and the right one; the wrong word differs from
    /// the right one in its last one to four letters.
    pub slips: Vec<(String, String)>,
    /// Short lines with an `A` where a word stands.
    pub frames: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawWords {
    words: Vec<Spanned<String>>,
    slips: Vec<Spanned<(String, String)>>,
    frames: Vec<Spanned<String>>,
}

/// The words of the file `name` with the contents `source`.
///
/// # Errors
/// [`DrillError::Material`] with the line of what is wrong.
pub fn words(name: &str, source: &str) -> Result<Words, DrillError> {
    let raw: RawWords = toml::from_str(source).map_err(|error| unreadable(name, source, &error))?;
    let fault = |at: usize, problem: String| DrillError::Material {
        file: name.to_owned(),
        line: line_of(source, at),
        problem,
    };
    let mut words = Vec::new();
    for word in raw.words {
        let at = word.span().start;
        let word = word.into_inner();
        if word.is_empty() || !word.bytes().all(|b| b.is_ascii_lowercase()) {
            return Err(fault(at, format!("'{word}' is no word of letters a to z")));
        }
        if words.contains(&word) {
            return Err(fault(at, format!("'{word}' stands there twice")));
        }
        words.push(word);
    }
    let mut slips = Vec::new();
    for slip in raw.slips {
        let at = slip.span().start;
        let (wrong, right) = slip.into_inner();
        let back = wrong.chars().count() - shared_start(&wrong, &right);
        if !(1..=4).contains(&back) {
            return Err(fault(
                at,
                format!("'{wrong}' needs {back} letters taken back for '{right}': 1 to 4 do"),
            ));
        }
        slips.push((wrong, right));
    }
    let mut frames = Vec::new();
    for frame in raw.frames {
        let at = frame.span().start;
        let frame = frame.into_inner();
        if frame.split(' ').filter(|word| *word == "A").count() != 1 {
            return Err(fault(at, format!("'{frame}' must hold the word A just once")));
        }
        frames.push(frame);
    }
    Ok(Words { words, slips, frames })
}

/// How many characters `a` and `b` share from the start.
pub(super) fn shared_start(a: &str, b: &str) -> usize {
    a.chars().zip(b.chars()).take_while(|(x, y)| x == y).count()
}

pub(super) fn unreadable(name: &str, source: &str, error: &toml::de::Error) -> DrillError {
    let at = error.span().map_or(0, |span| span.start);
    DrillError::Material {
        file: name.to_owned(),
        line: line_of(source, at),
        problem: error.message().to_owned(),
    }
}

pub(super) fn line_of(source: &str, at: usize) -> usize {
    source.bytes().take(at).filter(|b| *b == b'\n').count() + 1
}

/// The shipped material, read once when first asked for.
#[derive(Debug)]
pub struct Shipped {
    /// Symbols: snippets of code, paths, patterns.
    pub symbols: Vec<Piece>,
    /// Punctuation: sentences, dialogue, lists, letters.
    pub punctuation: Vec<Piece>,
    /// Numbers: times, tables, measures, dates, sums.
    pub numbers: Vec<Piece>,
    /// Thumb keys: short lines, indents, capitals.
    pub thumbs: Vec<Piece>,
    /// The vocabulary.
    pub words: Words,
}

/// The shipped material.
///
/// # Errors
/// [`DrillError::Material`] if a shipped file is faulty, which the tests rule
/// out.
pub fn shipped() -> Result<&'static Shipped, DrillError> {
    static SHIPPED: LazyLock<Result<Shipped, DrillError>> = LazyLock::new(|| {
        Ok(Shipped {
            symbols: pieces("drills/symbols.toml", include_str!("../../drills/symbols.toml"))?,
            punctuation: pieces(
                "drills/punctuation.toml",
                include_str!("../../drills/punctuation.toml"),
            )?,
            numbers: pieces("drills/numbers.toml", include_str!("../../drills/numbers.toml"))?,
            thumbs: pieces("drills/thumbs.toml", include_str!("../../drills/thumbs.toml"))?,
            words: words("drills/words.toml", include_str!("../../drills/words.toml"))?,
        })
    });
    SHIPPED.as_ref().map_err(Clone::clone)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn the_shipped_material_is_sound_and_enough() {
        let shipped = shipped().unwrap();
        let mut all = BTreeSet::new();
        for (name, pieces) in [
            ("symbols", &shipped.symbols),
            ("punctuation", &shipped.punctuation),
            ("numbers", &shipped.numbers),
            ("thumbs", &shipped.thumbs),
        ] {
            assert!(pieces.len() >= 40, "{name}: {}", pieces.len());
            let foreign = pieces.iter().filter(|piece| !piece.text.is_ascii()).count();
            assert!(foreign * 10 <= pieces.len(), "{name}: {foreign} pieces are not ASCII");
            for piece in pieces {
                assert!(all.insert(&piece.text), "{name}: '{}' stands twice", piece.text);
            }
        }
        assert!(shipped.words.words.len() >= 60);
        assert!(shipped.words.slips.len() >= 20);
        let code: BTreeSet<Kind> = shipped.symbols.iter().map(|piece| piece.kind).collect();
        for kind in [
            Kind::Rust,
            Kind::Python,
            Kind::Shell,
            Kind::Typescript,
            Kind::C,
            Kind::Sql,
            Kind::Markdown,
            Kind::Regex,
        ] {
            assert!(code.contains(&kind), "{}", kind.word());
        }
    }

    /// Every ASCII symbol stands in enough pieces that people meet it in
    /// different company.
    #[test]
    fn every_ascii_symbol_has_company() {
        let mut counts: BTreeMap<char, usize> =
            ('!'..='~').filter(char::is_ascii_punctuation).map(|c| (c, 0)).collect();
        for piece in &shipped().unwrap().symbols {
            for (c, count) in &mut counts {
                *count += usize::from(piece.text.contains(*c));
            }
        }
        let rare: Vec<_> = counts.into_iter().filter(|(_, count)| *count < 3).collect();
        assert!(rare.is_empty(), "{rare:?}");
    }

    #[test]
    fn kinds_read_back() {
        for kind in Kind::ALL {
            assert_eq!(Kind::from_word(kind.word()), Some(kind));
        }
        assert_eq!(Kind::from_word("poem"), None);
    }

    fn problem(source: &str) -> String {
        pieces("mine.toml", source).unwrap_err().to_string()
    }

    #[test]
    fn faults_are_named_with_file_and_line() {
        let good = "[[piece]]\nkind = \"prose\"\ntext = 'a'\n";
        assert_eq!(pieces("mine.toml", good).unwrap().len(), 1);
        for (source, words) in [
            ("[[piece]]\nkind = \"poem\"\ntext = 'a'\n", ["mine.toml, line 1: ", "'poem'"]),
            ("\n\n[[piece]\n", ["mine.toml, line 3: ", ""]),
            ("[[piece]]\nkind = \"prose\"\ntxt = 'a'\n", ["mine.toml, line 3: ", "txt"]),
            ("[[piece]]\nkind = \"prose\"\n", ["mine.toml, line 1: ", "text"]),
            ("[[piece]]\nkind = \"prose\"\ntext = ''\n", ["mine.toml, line 1: ", "empty"]),
            (
                "[[piece]]\nkind = \"prose\"\ntext = \"a\\u001Bb\"\n",
                ["mine.toml, line 1: ", "U+001B"],
            ),
            (&format!("{good}\n{good}"), ["mine.toml, line 5: ", "earlier"]),
            (
                &format!("[[piece]]\nkind = \"prose\"\ntext = '{}'\n", "x".repeat(73)),
                ["line 1: ", "73 columns"],
            ),
        ] {
            let told = problem(source);
            assert!(words.iter().all(|word| told.contains(word)), "{source}\n{told}");
        }
    }

    #[test]
    fn faults_of_words_are_named() {
        let of = |source: &str| words("w.toml", source).unwrap_err().to_string();
        assert!(of("words = [\"A\"]\nslips = []\nframes = []").contains("w.toml, line 1: 'A'"));
        assert!(of("words = []\nslips = [[\"sea\", \"seal\"]]\nframes = []").contains("line 2"));
        assert!(of("words = []\nslips = []\nframes = [\"no\"]").contains("line 3"));
    }
}
