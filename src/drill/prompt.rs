//! One thing to do: a line to type, actions to strike, or a text to edit.

use super::edits::Edit;
use crate::keyboard::Output;
use std::sync::Arc;

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Prompt {
    /// A line to type: outputs in order; never empty, at most 200.
    Text(Vec<Output>),
    /// Actions to strike, one after another.
    Strike(Strikes),
    /// A place to go to, or a text to change, in the small editor.
    Edit(Arc<Edit>),
}

impl Prompt {
    /// What is to be struck, in order; empty where the prompt does not
    /// prescribe the keys one by one.
    pub fn items(&self) -> &[Output] {
        match self {
            Self::Text(items) => items,
            Self::Strike(strikes) => strikes.items(),
            Self::Edit(_) => &[],
        }
    }

    /// Every key that may be struck in answer to it.
    pub fn keys(&self) -> Vec<&Output> {
        match self {
            Self::Edit(edit) => edit.bindings.iter().map(|(key, _)| key).collect(),
            _ => self.items().iter().collect(),
        }
    }

    /// The editing task, if it is one.
    pub const fn edit(&self) -> Option<&Arc<Edit>> {
        match self {
            Self::Edit(edit) => Some(edit),
            Self::Text(_) | Self::Strike(_) => None,
        }
    }

    /// The word that scripts use.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Text(_) => "text",
            Self::Strike(_) => "strike",
            Self::Edit(_) => "edit",
        }
    }
}

/// By which way a chord is to be struck. The host receives the same by both.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Way {
    /// By the layout's preferred route: a key that gives the chord at once,
    /// where there is one.
    Layout,
    /// By holding its modifiers and striking its key, as on a board without
    /// layers.
    Hand,
}

impl Way {
    /// The word that scripts use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Layout => "layout",
            Self::Hand => "hand",
        }
    }
}

/// What is to be seen of an action besides its title.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cue {
    /// Nothing: the title asks.
    Title,
    /// A small piece of text before and after; the title is kept back until
    /// the answer is known. `|` stands for the caret, `[` and `]` enclose what
    /// is selected.
    Change {
        /// The text as it is, lines separated by `\n`.
        before: String,
        /// The text as the action leaves it.
        after: String,
    },
}

/// Actions to strike one after another: what they are called, and what is
/// due for each. Never empty, at most 200.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strikes {
    /// What else is to be seen.
    pub cue: Cue,
    /// True where the chords stand beside the titles from the start: nothing
    /// has to be remembered.
    pub told: bool,
    /// How they are to be struck.
    pub way: Way,
    titles: Vec<String>,
    items: Vec<Output>,
}

impl Strikes {
    /// Strikes asked for by their titles, each to be remembered; `steps` are
    /// titles with what is due.
    pub fn new(steps: impl IntoIterator<Item = (String, Output)>) -> Self {
        let (titles, items) = steps.into_iter().unzip();
        Self { cue: Cue::Title, told: false, way: Way::Layout, titles, items }
    }

    /// What is due, in order.
    pub fn items(&self) -> &[Output] {
        &self.items
    }

    /// The titles, one for each of [`Strikes::items`].
    pub fn titles(&self) -> &[String] {
        &self.titles
    }
}
