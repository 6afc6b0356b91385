//! The documents that tasks are set in.

use crate::drill::{DrillError, Kind, OwnText};
use serde::Deserialize;
use std::sync::LazyLock;
use toml::Spanned;
use unicode_width::UnicodeWidthStr;

/// The widest line of a shipped document, columns.
pub const DOCUMENT_COLUMNS: usize = 64;
/// The fewest and the most lines of a shipped document.
pub const DOCUMENT_LINES: (usize, usize) = (5, 12);
/// Lines of a document made of the person's own text.
const OWN_LINES: usize = 9;

/// A text to move about in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Document {
    /// What sort of text; prose for the person's own.
    pub kind: Kind,
    /// The lines, without a line feed at the end.
    pub text: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    document: Vec<Spanned<RawDocument>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDocument {
    kind: String,
    text: String,
}

/// The documents of the file `name` with the contents `source`.
///
/// # Errors
/// [`DrillError::Material`] with the line of what is wrong: not TOML, an
/// unknown kind, too few, too many or too wide lines, a blank at a line's end,
/// a control character.
pub fn documents(name: &str, source: &str) -> Result<Vec<Document>, DrillError> {
    let fault = |at: usize, problem: String| DrillError::Material {
        file: name.to_owned(),
        line: source.bytes().take(at).filter(|byte| *byte == b'\n').count() + 1,
        problem,
    };
    let raw: RawFile = toml::from_str(source).map_err(|error| {
        fault(error.span().map_or(0, |span| span.start), error.message().to_owned())
    })?;
    raw.document
        .into_iter()
        .map(|spanned| {
            let at = spanned.span().start;
            let RawDocument { kind, text } = spanned.into_inner();
            let text = text.strip_suffix('\n').unwrap_or(&text).to_owned();
            let Some(kind) = Kind::from_word(&kind) else {
                return Err(fault(at, format!("kind '{kind}' is not known")));
            };
            match problem(&text) {
                Some(problem) => Err(fault(at, problem)),
                None => Ok(Document { kind, text }),
            }
        })
        .collect()
}

fn problem(text: &str) -> Option<String> {
    let lines = text.split('\n').count();
    let (least, most) = DOCUMENT_LINES;
    if !(least..=most).contains(&lines) {
        return Some(format!("the document has {lines} lines: expected {least} to {most}"));
    }
    if text.starts_with('\n') || text.ends_with('\n') {
        return Some("the document begins or ends with an empty line".to_owned());
    }
    for line in text.split('\n') {
        if let Some(c) = line.chars().find(|c| c.is_control()) {
            return Some(format!("the text holds the control character U+{:04X}", u32::from(c)));
        }
        if line.ends_with(' ') {
            return Some(format!("a blank ends the line '{line}'"));
        }
        if line.width() > DOCUMENT_COLUMNS {
            return Some(format!(
                "the line '{line}' has {} columns, at most {DOCUMENT_COLUMNS} are allowed",
                line.width()
            ));
        }
    }
    None
}

/// The shipped documents, read once when first asked for.
pub(super) fn shipped() -> Result<&'static [Document], DrillError> {
    static SHIPPED: LazyLock<Result<Vec<Document>, DrillError>> = LazyLock::new(|| {
        documents("drills/documents.toml", include_str!("../../../drills/documents.toml"))
    });
    SHIPPED.as_ref().map(Vec::as_slice).map_err(Clone::clone)
}

/// Documents of the person's own text: nine lines each, in order; one shorter
/// than that at the end only where it is the only one.
pub(super) fn own(text: &OwnText) -> Vec<Document> {
    let lines = text.lines();
    let whole = lines.chunks(OWN_LINES).filter(|chunk| chunk.len() == OWN_LINES);
    let mut chunks: Vec<&[String]> = whole.collect();
    if chunks.is_empty() {
        chunks.push(lines);
    }
    chunks.into_iter().map(|chunk| Document { kind: Kind::Prose, text: chunk.join("\n") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn the_shipped_documents_are_sound_and_of_every_sort() {
        let shipped = shipped().unwrap();
        assert!(shipped.len() >= 12, "{}", shipped.len());
        let kinds: BTreeSet<Kind> = shipped.iter().map(|document| document.kind).collect();
        for kind in [Kind::Log, Kind::Table, Kind::Letter, Kind::Rust, Kind::Python] {
            assert!(kinds.contains(&kind), "{}", kind.word());
        }
        let texts: BTreeSet<&str> = shipped.iter().map(|d| d.text.as_str()).collect();
        assert_eq!(texts.len(), shipped.len(), "a document stands twice");
        // Paragraphs are there to be gone to.
        let parted = shipped.iter().filter(|document| document.text.contains("\n\n")).count();
        assert!(parted * 2 > shipped.len(), "{parted}");
    }

    #[test]
    fn faults_are_named_with_file_and_line() {
        let told = |source: &str| documents("mine.toml", source).unwrap_err().to_string();
        for (source, parts) in [
            ("\n[[document]]\nkind = \"log\"\ntext = 'a'", ["mine.toml, line 2: ", "1 lines"]),
            ("[[document]]\nkind = \"saga\"\ntext = 'a'", ["mine.toml, line 1: ", "'saga'"]),
            ("[[document]]\ntext = 'a'", ["mine.toml, line 1: ", "kind"]),
            (
                "[[document]]\nkind = \"log\"\ntext = \"a\\nb \\nc\\nd\\ne\"",
                ["mine.toml, line 1: ", "blank"],
            ),
        ] {
            let told = told(source);
            assert!(parts.iter().all(|part| told.contains(part)), "{source}\n{told}");
        }
    }

    #[test]
    fn a_text_of_ones_own_is_cut_into_documents() {
        let lines: Vec<String> = (0..20).map(|n| format!("line {n}")).collect();
        let text = OwnText::parse(lines.join("\n").as_bytes(), 72).unwrap();
        let cut = own(&text);
        assert_eq!(cut.len(), 2);
        assert!(cut[1].text.starts_with("line 9\n"));
        let short = OwnText::parse(b"only this", 72).unwrap();
        assert_eq!(own(&short)[0].text, "only this");
    }
}
