//! What can go wrong when drills are made.

/// Why no drill could be made, in words for the person.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DrillError {
    /// A file of drill material can't be read as what it should be.
    #[error("{file}, line {line}: {problem}")]
    Material {
        /// The file's name.
        file: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong, what was expected.
        problem: String,
    },
    /// A word names neither a cluster nor a layer.
    #[error(
        "'{word}' is neither a cluster nor a layer of layout '{layout}': expected one of {known}{}",
        hint(nearest.as_deref())
    )]
    UnknownWhat {
        /// The word.
        word: String,
        /// The layout that was asked.
        layout: String,
        /// The known word that is nearest, if one is near.
        nearest: Option<String>,
        /// All known words, for people.
        known: String,
    },
    /// A layer of cursor movement or chords was asked for as a text to type.
    #[error(
        "'{name}' holds cursor movement or shortcuts, and those give no text to type: \
         choose a layer of characters, or thumbs"
    )]
    NotText {
        /// The layer or cluster.
        name: String,
    },
    /// The layout can't give anything that such a drill practises.
    #[error(
        "layout '{layout}' gives nothing that '{name}' could drill: \
         `etude layout show {layout}` shows what it gives"
    )]
    NothingToDrill {
        /// The layer or cluster.
        name: String,
        /// The layout.
        layout: String,
    },
    /// The person left out everything that the layout offers.
    #[error(
        "everything that this layout offers is left out of the plan: \
         take something in again on the start screen"
    )]
    AllLeftOut,
    /// The lines are too short to hold anything.
    #[error("{width} columns are too few for a line of text: at least {least} are needed")]
    TooNarrow {
        /// What was asked for.
        width: usize,
        /// What is needed.
        least: usize,
    },
    /// The person's own text is not UTF-8.
    #[error(
        "the text is not UTF-8: line {line}, byte {offset} can't be read; \
         save it as UTF-8 and try again"
    )]
    NotUtf8 {
        /// The line of the first bad byte, from 1.
        line: usize,
        /// Its offset in the file, bytes from 0.
        offset: usize,
    },
    /// The person's own text holds nothing to type.
    #[error("the text holds nothing to type: every line is empty")]
    EmptyText,
    /// No line of the person's own text touches what is to be practised.
    #[error("no line of the text uses '{name}': choose another layer or another text")]
    TextLacks {
        /// The layer or cluster.
        name: String,
    },
}

fn hint(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |word| format!("; did you mean '{word}'?"))
}
