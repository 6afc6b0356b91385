//! The lines of a progress file: JSON, one note a line.
//!
//! Each note says all that it is about, so that a file can be read by a
//! person, and a last line that was cut short loses one key at most.

use crate::layout::Cluster;
use serde::{Deserialize, Serialize};

/// The schema of the first line.
pub const SCHEMA: &str = "etude.capture/1";

/// One line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "note", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Note {
    /// The first line: what is captured.
    Begin {
        /// [`SCHEMA`].
        schema: String,
        /// The layout's name.
        name: String,
        /// Its title.
        title: String,
        /// Its board.
        board: String,
        /// Its old way.
        old_way: Option<String>,
    },
    /// A layer; the first is the base.
    Layer {
        /// Its name.
        name: String,
        /// The word of its cluster.
        cluster: String,
    },
    /// What a key does.
    Key {
        /// The layer.
        layer: String,
        /// The position.
        position: String,
        /// As layout files write it.
        token: String,
        /// True for a dead key: the token is what it gives before a space.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        dead: bool,
    },
    /// A key that opens a layer while it is held; what it gives when struck is
    /// open.
    Opens {
        /// The layer that it is on.
        layer: String,
        /// The position.
        position: String,
        /// The access, as layout files write it.
        token: String,
    },
    /// A key that was passed over.
    Skip {
        /// The layer.
        layer: String,
        /// The position.
        position: String,
    },
    /// A key that is open again.
    Open {
        /// The layer.
        layer: String,
        /// The position.
        position: String,
    },
}

/// Why a progress file can't be gone on from.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoteError {
    /// A line that is no note.
    #[error("{file}:{line}: {reason}: expected a note of a capture; mend the line or delete it")]
    Line {
        /// The file as the person named it.
        file: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// Not a progress file at all.
    #[error(
        "{file}: this is no progress of a capture: expected a first line with \"schema\": \
         \"{SCHEMA}\"; move the file away to begin anew"
    )]
    Schema {
        /// The file as the person named it.
        file: String,
    },
}

impl Note {
    /// The line, without its end.
    pub fn line(&self) -> String {
        // Plain strings always serialize.
        serde_json::to_string(self).unwrap_or_default()
    }

    /// The note of a layer.
    pub fn of_layer(name: &str, cluster: Cluster) -> Self {
        Self::Layer { name: name.to_owned(), cluster: cluster.word().to_owned() }
    }
}

/// The notes of a progress file, each with its line number. A last line
/// without an end was cut short and is left out.
///
/// # Errors
/// [`NoteError`], with file and line.
pub fn read_notes(text: &str, file: &str) -> Result<Vec<(usize, Note)>, NoteError> {
    let whole = text.rfind('\n').map_or("", |end| &text[..end]);
    let mut notes = Vec::new();
    for (n, line) in whole.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let note = serde_json::from_str(line).map_err(|error| {
            let schema = NoteError::Schema { file: file.to_owned() };
            if notes.is_empty() {
                return schema;
            }
            // The place within the line says little; the line is told.
            let reason = error.to_string();
            let reason = reason.split(" at line ").next().unwrap_or_default().to_owned();
            NoteError::Line { file: file.to_owned(), line: n + 1, reason }
        })?;
        notes.push((n + 1, note));
    }
    match notes.first() {
        Some((_, Note::Begin { schema, .. })) if schema == SCHEMA => Ok(notes),
        _ => Err(NoteError::Schema { file: file.to_owned() }),
    }
}
