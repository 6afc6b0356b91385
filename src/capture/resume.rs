//! A capture, gone on with from its notes.

use super::draft::Draft;
use super::note::{Note, NoteError, read_notes};
use super::walk::Capture;
use crate::layout::{Cluster, shipped};
use crate::session::Level;

/// The capture whose notes `text` holds; `file` is its name in complaints.
///
/// # Errors
/// [`NoteError`], with file and line.
pub fn resume(text: &str, file: &str, level: Level) -> Result<Capture, NoteError> {
    let notes = read_notes(text, file)?;
    let fault =
        |line: usize, reason: String| NoteError::Line { file: file.to_owned(), line, reason };
    let mut notes = notes.into_iter();
    let Some((line, Note::Begin { name, title, board, old_way, .. })) = notes.next() else {
        return Err(NoteError::Schema { file: file.to_owned() });
    };
    let board = shipped::board(&board).ok_or_else(|| fault(line, format!("no board '{board}'")))?;
    let mut draft =
        Draft::new(&name, &title, board).map_err(|error| fault(line, error.to_string()))?;
    draft.old_way = old_way;
    // The base layer is noted like the others; it may have a name of its own.
    let Some((_, Note::Layer { name, cluster })) = notes.next() else {
        return Err(fault(2, "the base layer is missing".to_owned()));
    };
    draft.allows(&name, Some(crate::layout::LayerId::BASE)).map_err(|e| fault(2, e.to_string()))?;
    let cluster =
        Cluster::from_word(&cluster).ok_or_else(|| fault(2, format!("no cluster '{cluster}'")))?;
    draft.layers[0].name = name;
    draft.layers[0].cluster = cluster;
    let mut capture = Capture::of(draft, level);
    for (line, note) in notes {
        if !capture.recall(&note) {
            return Err(fault(line, format!("this makes no sense here: {}", note.line())));
        }
    }
    capture.recalled();
    Ok(capture)
}
