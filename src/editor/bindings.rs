//! Which key does what in the editor, and the habits of the platform.

use super::{Action, Habits, WordStep};
use crate::keyboard::Output;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::sync::LazyLock;
use toml::Spanned;

/// Why a file of bindings can't be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}, line {line}: {problem}")]
pub struct BindingError {
    /// The file's name.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// What is wrong, what was expected.
    pub problem: String,
}

/// Keys with their actions, and the habits of the platform.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bindings {
    keys: BTreeMap<Output, Action>,
    habits: Habits,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    #[serde(default)]
    habits: RawHabits,
    #[serde(default)]
    keys: BTreeMap<String, Spanned<Vec<Spanned<String>>>>,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields)]
struct RawHabits {
    word: Option<Spanned<String>>,
    page: Option<Spanned<usize>>,
}

/// The bindings of `drills/editing.toml`: common desktop conventions.
///
/// # Errors
/// [`BindingError`] if the shipped file is faulty, which the tests rule out.
pub fn common() -> Result<&'static Bindings, BindingError> {
    static COMMON: LazyLock<Result<Bindings, BindingError>> = LazyLock::new(|| {
        let none = Bindings { keys: BTreeMap::new(), habits: Habits::default() };
        none.changed_by("drills/editing.toml", include_str!("../../drills/editing.toml"))
    });
    COMMON.as_ref().map_err(Clone::clone)
}

impl Bindings {
    /// These bindings, changed as the text `source` says; `file` is its name
    /// in complaints. An action that it names has the keys given there and no
    /// others; a key given there to one action does no other any more.
    ///
    /// # Errors
    /// [`BindingError`] with the line: not TOML, an unknown action, habit or
    /// key, a key that does two things, a key that types text.
    pub fn changed_by(&self, file: &str, source: &str) -> Result<Self, BindingError> {
        let fault = |at: usize, problem: String| BindingError {
            file: file.to_owned(),
            line: source.bytes().take(at).filter(|byte| *byte == b'\n').count() + 1,
            problem,
        };
        let raw: RawFile = toml::from_str(source).map_err(|error| {
            let at = error.span().map_or(0, |span| span.start);
            fault(at, error.message().to_owned())
        })?;
        let mut named = BTreeMap::new();
        let mut given: BTreeMap<Output, Action> = BTreeMap::new();
        for (word, keys) in raw.keys {
            let at = keys.span().start;
            let action = Action::from_word(&word).ok_or_else(|| fault(at, unknown(&word)))?;
            named.insert(action, ());
            for key in keys.into_inner() {
                let at = key.span().start;
                let output: Output =
                    key.get_ref().parse().map_err(|error| fault(at, format!("{error}")))?;
                if let Output::Text(text) = &output {
                    return Err(fault(
                        at,
                        format!("'{text}' types itself: expected a named key or a chord"),
                    ));
                }
                if let Some(other) = given.insert(output, action) {
                    let (key, other) = (key.get_ref(), other.word());
                    return Err(fault(at, format!("'{key}' stands for '{other}' already")));
                }
            }
        }
        let mut keys = self.keys.clone();
        keys.retain(|key, action| !named.contains_key(action) && !given.contains_key(key));
        keys.extend(given);
        let mut habits = self.habits;
        if let Some(word) = raw.habits.word {
            habits.word = WordStep::from_word(word.get_ref()).ok_or_else(|| {
                let problem = format!(
                    "'{}' is no habit of word steps: expected next-start or word-end",
                    word.get_ref()
                );
                fault(word.span().start, problem)
            })?;
        }
        if let Some(page) = raw.habits.page {
            habits.page = *page.get_ref();
            if !(1..=100).contains(&habits.page) {
                let problem = format!("a page of {} lines: expected 1 to 100", habits.page);
                return Err(fault(page.span().start, problem));
            }
        }
        Ok(Self { keys, habits })
    }

    /// What the key `output` does.
    pub fn action(&self, output: &Output) -> Option<Action> {
        self.keys.get(output).copied()
    }

    /// Every key with its action, in the order of the keys.
    pub fn iter(&self) -> impl Iterator<Item = (&Output, Action)> {
        self.keys.iter().map(|(output, action)| (output, *action))
    }

    /// The habits of the platform.
    pub const fn habits(&self) -> Habits {
        self.habits
    }
}

fn unknown(word: &str) -> String {
    let nearest = Action::all()
        .map(|action| action.word())
        .map(|known| (strsim::damerau_levenshtein(word, &known), known))
        .filter(|(distance, known)| *distance <= known.len().div_ceil(3))
        .min_by_key(|(distance, _)| *distance);
    match nearest {
        Some((_, known)) => format!("'{word}' is no action: did you mean '{known}'?"),
        None => format!("'{word}' is no action: drills/editing.toml has all of them"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::Motion;

    #[test]
    fn the_shipped_file_names_every_action_that_makes_sense() {
        let common = common().unwrap();
        let bound: Vec<Action> = common.iter().map(|(_, action)| action).collect();
        for action in Action::all() {
            let listed = include_str!("../../drills/editing.toml")
                .lines()
                .any(|line| line.starts_with(&format!("{} = ", action.word())));
            assert!(listed, "{}", action.word());
            let rare = matches!(action, Action::Delete(_));
            assert!(rare || bound.contains(&action), "{}", action.word());
        }
        let output: Output = "Ctrl+ArrowLeft".parse().unwrap();
        assert_eq!(common.action(&output), Some(Action::Move(Motion::WordLeft)));
    }

    #[test]
    fn a_file_changes_what_it_names() {
        let mine = common()
            .unwrap()
            .changed_by(
                "mine.toml",
                "[habits]\nword = \"word-end\"\n[keys]\nword-left = [\"Alt+ArrowLeft\"]\n\
                 paste = [\"Ctrl+C\"]\n",
            )
            .unwrap();
        let action = |key: &str| mine.action(&key.parse().unwrap());
        assert_eq!(action("Alt+ArrowLeft"), Some(Action::Move(Motion::WordLeft)));
        assert_eq!(action("Ctrl+ArrowLeft"), None);
        assert_eq!(action("Ctrl+C"), Some(Action::Paste));
        assert_eq!(action("Ctrl+V"), None);
        assert_eq!(action("Ctrl+X"), Some(Action::Cut));
        assert_eq!(mine.habits().word, WordStep::WordEnd);
    }

    #[test]
    fn faults_are_told_with_file_and_line() {
        let told = |source: &str| {
            common().unwrap().changed_by("mine.toml", source).unwrap_err().to_string()
        };
        for (source, parts) in [
            ("[keys]\n\nword-lft = [\"Home\"]", ["mine.toml, line 3: ", "'word-left'"]),
            ("[keys]\ncut = [\"Ctlr+X\"]", ["mine.toml, line 2: ", "'Ctlr+X'"]),
            ("[keys]\ncut = [\"x\"]", ["mine.toml, line 2: ", "types itself"]),
            ("[keys]\ncut = [\"F1\"]\ncopy = [\"F1\"]", ["line 2: ", "'copy' already"]),
            ("[habits]\nword = \"both\"", ["mine.toml, line 2: ", "next-start or word-end"]),
            ("[habits]\npage = 0", ["mine.toml, line 2: ", "1 to 100"]),
            ("[colours]\n", ["mine.toml, line 1: ", "colours"]),
        ] {
            let told = told(source);
            assert!(parts.iter().all(|part| told.contains(part)), "{source}\n{told}");
        }
    }
}
