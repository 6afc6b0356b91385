//! TOML with line numbers: what the readers of boards and layouts share.
//!
//! Tables are walked by hand, not through serde, so that every complaint can
//! say where it stands and what was expected.

use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A line of a file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The file as the person named it.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file, self.line)
    }
}

/// The known word that a mistyped one most resembles.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Nearest(pub Option<String>);

impl Nearest {
    /// The word of `known` nearest to `word`, if one is near enough to be
    /// meant: Damerau-Levenshtein distance of at most a third of the length,
    /// rounded up, case apart. The first of equals.
    pub fn of<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        let lower = word.to_lowercase();
        let limit = word.chars().count().div_ceil(3);
        let best = known
            .into_iter()
            .map(|candidate| {
                (strsim::damerau_levenshtein(&lower, &candidate.to_lowercase()), candidate)
            })
            .filter(|(distance, _)| *distance <= limit)
            .min_by_key(|(distance, _)| *distance);
        Self(best.map(|(_, candidate)| candidate.to_owned()))
    }
}

impl fmt::Display for Nearest {
    /// Empty, or a clause that ends a sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(word) => write!(f, "; did you mean '{word}'?"),
            None => Ok(()),
        }
    }
}

/// `text` with its control characters written out, so that a terminal shows them
/// and does nothing of what they say.
pub fn harmless(text: &str) -> String {
    let shown = |c: char| if c.is_control() { c.escape_default().to_string() } else { c.into() };
    text.chars().map(shown).collect()
}

/// What can be wrong with a TOML document before its words are looked at.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// Not TOML.
    #[error("{place}: not valid TOML: {message}")]
    Syntax {
        /// Where.
        place: Place,
        /// What the parser says.
        message: String,
    },
    /// A value of the wrong type.
    #[error("{place}: '{key}' is {found}: expected {expected}")]
    Type {
        /// Where.
        place: Place,
        /// The key.
        key: String,
        /// The type found.
        found: &'static str,
        /// What should stand there.
        expected: &'static str,
    },
    /// A key that must be there.
    #[error("{place}: {table} lacks '{key}': expected {expected}")]
    Missing {
        /// Where the table begins.
        place: Place,
        /// The table, for a sentence.
        table: String,
        /// The key.
        key: &'static str,
        /// What should stand there.
        expected: &'static str,
    },
    /// A value that means nothing here.
    #[error("{place}: {key} = '{}': expected {expected}{nearest}", harmless(value))]
    Value {
        /// Where.
        place: Place,
        /// The key.
        key: String,
        /// The value found.
        value: String,
        /// What should stand there.
        expected: String,
        /// The nearest known word.
        nearest: Nearest,
    },
}

/// The text of a file and its name, to turn byte offsets into lines.
#[derive(Debug, Clone, Copy)]
pub struct Document<'a> {
    /// The file as the person named it.
    pub file: &'a str,
    /// Its text.
    pub text: &'a str,
}

/// One table of a document.
#[derive(Debug, Clone, Copy)]
pub struct Section<'a> {
    /// The document that it is part of.
    pub document: Document<'a>,
    /// Its name in sentences: "the file", "layer 'symbols'".
    pub name: &'a str,
    /// The byte where it begins.
    pub start: usize,
    /// Its keys.
    pub table: &'a DeTable<'a>,
}

impl<'a> Document<'a> {
    /// The top table.
    ///
    /// # Errors
    /// [`DocumentError::Syntax`] with the line, if the text is not TOML.
    pub fn parse(self) -> Result<Spanned<DeTable<'a>>, DocumentError> {
        DeTable::parse(self.text).map_err(|error| DocumentError::Syntax {
            place: self.place(error.span().map_or(0, |span| span.start)),
            message: error.message().replace('\n', " "),
        })
    }

    /// The line that holds byte `offset`.
    pub fn place(self, offset: usize) -> Place {
        let before = self.text.as_bytes().iter().take(offset);
        let line = 1 + before.filter(|&&byte| byte == b'\n').count();
        Place { file: self.file.to_owned(), line }
    }

    /// The complaint that `value` under `key` has the wrong type.
    pub fn wrong_type(
        self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        expected: &'static str,
    ) -> DocumentError {
        DocumentError::Type {
            place: self.place(value.span().start),
            key: key.to_owned(),
            found: type_words(value.get_ref()),
            expected,
        }
    }
}

const fn type_words(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a string",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "an array",
        DeValue::Table(_) => "a table",
    }
}

impl<'a> Section<'a> {
    /// The value of `key`.
    pub fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.table.get(key)
    }

    /// The text of `key` and the byte where it stands, if it is there.
    ///
    /// # Errors
    /// If it is no string.
    pub fn text(&self, key: &str) -> Result<Option<(&'a str, usize)>, DocumentError> {
        let Some(value) = self.get(key) else { return Ok(None) };
        match value.get_ref() {
            DeValue::String(text) => Ok(Some((text.as_ref(), value.span().start))),
            _ => Err(self.document.wrong_type(key, value, "a string")),
        }
    }

    /// The text of `key`, to be shown as it is.
    ///
    /// # Errors
    /// If it is no string, or has control characters, which a terminal would obey.
    pub fn line(&self, key: &str) -> Result<Option<&'a str>, DocumentError> {
        match self.text(key)? {
            Some((text, at)) if text.contains(char::is_control) => Err(DocumentError::Value {
                place: self.document.place(at),
                key: key.to_owned(),
                value: text.to_owned(),
                expected: "text without control characters".to_owned(),
                nearest: Nearest::default(),
            }),
            found => Ok(found.map(|(text, _)| text)),
        }
    }

    /// The text of `key` and the byte where it stands.
    ///
    /// # Errors
    /// If it is missing or no string.
    pub fn need_text(
        &self,
        key: &'static str,
        expected: &'static str,
    ) -> Result<(&'a str, usize), DocumentError> {
        self.text(key)?.ok_or_else(|| self.missing(key, expected))
    }

    /// The complaint that `key` is missing.
    pub fn missing(&self, key: &'static str, expected: &'static str) -> DocumentError {
        DocumentError::Missing {
            place: self.document.place(self.start),
            table: self.name.to_owned(),
            key,
            expected,
        }
    }

    /// The table of `key`, empty if it is not there.
    ///
    /// # Errors
    /// If it is no table.
    pub fn table(&self, key: &'a str) -> Result<Option<Section<'a>>, DocumentError> {
        let Some(value) = self.get(key) else { return Ok(None) };
        match value.get_ref() {
            DeValue::Table(table) => Ok(Some(Section {
                document: self.document,
                name: key,
                start: value.span().start,
                table,
            })),
            _ => Err(self.document.wrong_type(key, value, "a table")),
        }
    }

    /// The tables of the array `key`, none if it is not there.
    ///
    /// # Errors
    /// If it is no array of tables.
    pub fn tables(&self, key: &'a str) -> Result<Vec<Section<'a>>, DocumentError> {
        let Some(value) = self.get(key) else { return Ok(Vec::new()) };
        let expected = "an array of tables, as in [[layer]]";
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.document.wrong_type(key, value, expected));
        };
        items
            .iter()
            .map(|item| match item.get_ref() {
                DeValue::Table(table) => Ok(Section {
                    document: self.document,
                    name: key,
                    start: item.span().start,
                    table,
                }),
                _ => Err(self.document.wrong_type(key, item, expected)),
            })
            .collect()
    }

    /// The numbers of `key` and the byte where they stand: one, or an array.
    ///
    /// # Errors
    /// If something else stands there, or a number that is not finite.
    pub fn numbers(&self, key: &str) -> Result<Option<(Vec<f32>, usize)>, DocumentError> {
        let Some(value) = self.get(key) else { return Ok(None) };
        let expected = "a number or an array of numbers";
        let one = |value: &Spanned<DeValue<'_>>| {
            let number: Option<f32> = match value.get_ref() {
                DeValue::Integer(number) => number.as_str().parse().ok(),
                DeValue::Float(number) => number.as_str().parse().ok(),
                _ => None,
            };
            number
                .filter(|number| number.is_finite())
                .ok_or_else(|| self.document.wrong_type(key, value, expected))
        };
        let numbers = match value.get_ref() {
            DeValue::Array(items) => items.iter().map(one).collect::<Result<_, _>>()?,
            _ => vec![one(value)?],
        };
        Ok(Some((numbers, value.span().start)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_word_is_told_only_where_it_may_be_meant() {
        let known = ["symbols", "numbers", "navigation"];
        let near = |word| Nearest::of(word, known).0;
        assert_eq!(near("symbls"), Some("symbols".to_owned()));
        assert_eq!(near("SYMBOLS"), Some("symbols".to_owned()));
        assert_eq!(near("nubmers"), Some("numbers".to_owned()));
        assert_eq!(near("harbour"), None);
        assert_eq!(near(""), None);
    }

    #[test]
    fn lines_count_from_one() {
        let document = Document { file: "f", text: "a\nb\n" };
        let lines = [0, 1, 2, 3, 4, 99].map(|offset| document.place(offset).line);
        assert_eq!(lines, [1, 1, 2, 2, 3, 3]);
    }
}
