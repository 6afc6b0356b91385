//! What a key can do in the editor.

use super::Motion;

/// What a key does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// Moves the cursor; nothing is selected then.
    Move(Motion),
    /// Moves the cursor and selects what it passes.
    Select(Motion),
    /// Selects everything; the cursor stands at the end.
    SelectAll,
    /// Deletes the selection; without one, what the motion would pass.
    Delete(Motion),
    /// Deletes the touched lines with their ends. See [`Action::MoveLinesUp`]
    /// for which these are. The cursor keeps its column, on the line that
    /// follows; on the last line the line end before goes too.
    DeleteLines,
    /// Takes the selection out, to paste it; without one, nothing.
    Cut,
    /// Remembers the selection, to paste it; without one, nothing.
    Copy,
    /// Puts in what was cut or copied last, in the stead of the selection.
    Paste,
    /// Changes places with the line above. Lines are touched by the cursor or
    /// the selection; a selection that ends before the first character of a
    /// line does not touch that line. Cursor and selection go along.
    MoveLinesUp,
    /// Changes places with the line below, likewise.
    MoveLinesDown,
    /// Puts a copy below the touched lines; the cursor goes to the copy.
    DuplicateLines,
    /// With a selection, begins each touched line that is not empty with an
    /// indent; without one, puts spaces up to the next stop.
    Indent,
    /// Takes one indent (spaces, or a tab) from the start of each touched line.
    Outdent,
    /// Ends the line here, in the stead of the selection.
    NewLine,
    /// Takes the latest change back; each key that changed the text is one.
    Undo,
    /// Makes the change again that was taken back last.
    Redo,
}

impl Action {
    /// What it does, for people: `select one word to the right`.
    pub fn title(self) -> String {
        match self {
            Self::Move(motion) => format!("go {}", motion.title()),
            Self::Select(motion) => format!("select {}", motion.title()),
            Self::Delete(motion) => format!("delete {}", motion.title()),
            Self::SelectAll => "select everything".to_owned(),
            Self::DeleteLines => "delete the line".to_owned(),
            Self::Cut => "cut".to_owned(),
            Self::Copy => "copy".to_owned(),
            Self::Paste => "paste".to_owned(),
            Self::MoveLinesUp => "move the line up".to_owned(),
            Self::MoveLinesDown => "move the line down".to_owned(),
            Self::DuplicateLines => "duplicate the line".to_owned(),
            Self::Indent => "indent".to_owned(),
            Self::Outdent => "take an indent back".to_owned(),
            Self::NewLine => "end the line".to_owned(),
            Self::Undo => "undo".to_owned(),
            Self::Redo => "redo".to_owned(),
        }
    }

    /// The word that files use: `word-left`, `select-word-left`,
    /// `delete-word-left`, `cut` …
    pub fn word(self) -> String {
        let of = |motion: Motion| {
            Motion::WORDS.iter().find(|(known, _)| *known == motion).map_or("", |(_, word)| word)
        };
        match self {
            Self::Move(motion) => of(motion).to_owned(),
            Self::Select(motion) => format!("select-{}", of(motion)),
            Self::Delete(motion) => format!("delete-{}", of(motion)),
            Self::SelectAll => "select-all".to_owned(),
            Self::DeleteLines => "delete-line".to_owned(),
            Self::Cut => "cut".to_owned(),
            Self::Copy => "copy".to_owned(),
            Self::Paste => "paste".to_owned(),
            Self::MoveLinesUp => "move-line-up".to_owned(),
            Self::MoveLinesDown => "move-line-down".to_owned(),
            Self::DuplicateLines => "duplicate-line".to_owned(),
            Self::Indent => "indent".to_owned(),
            Self::Outdent => "outdent".to_owned(),
            Self::NewLine => "new-line".to_owned(),
            Self::Undo => "undo".to_owned(),
            Self::Redo => "redo".to_owned(),
        }
    }

    /// Every action, in the order in which lists show them.
    pub fn all() -> impl Iterator<Item = Self> {
        let motions = || Motion::WORDS.into_iter().map(|(motion, _)| motion);
        let plain = [
            Self::DeleteLines,
            Self::Cut,
            Self::Copy,
            Self::Paste,
            Self::MoveLinesUp,
            Self::MoveLinesDown,
            Self::DuplicateLines,
            Self::Indent,
            Self::Outdent,
            Self::NewLine,
            Self::Undo,
            Self::Redo,
        ];
        motions()
            .map(Self::Move)
            .chain(motions().map(Self::Select))
            .chain([Self::SelectAll])
            .chain(motions().map(Self::Delete))
            .chain(plain)
    }

    /// The action that `word` names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::all().find(|action| action.word() == word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back() {
        for action in Action::all() {
            assert_eq!(Action::from_word(&action.word()), Some(action));
        }
        assert_eq!(Action::from_word("teleport"), None);
    }
}
