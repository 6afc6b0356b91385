//! The file of shortcuts: `drills/shortcuts.toml`.

use crate::drill::DrillError;
use crate::drill::material::{line_of, unreadable};
use crate::keyboard::Chord;
use crate::order::Gather;
use serde::Deserialize;
use std::collections::BTreeSet;
use std::sync::LazyLock;
use toml::Spanned;
use unicode_width::UnicodeWidthStr;

/// The widest line of a small text, columns: two stand side by side.
pub const CHANGE_COLUMNS: usize = 34;
/// The widest title or step of a sequence, columns.
const TITLE_COLUMNS: usize = 44;
/// The most lines of a small text.
const MOST_LINES: usize = 3;
/// The most steps of a sequence.
const MOST_STEPS: usize = 4;

/// Where a shortcut belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Set {
    /// Selecting, copying, finding: text of any kind.
    Editing,
    /// Word processing.
    Writing,
    /// Program text.
    Coding,
    /// Files, tabs, windows.
    Desktop,
}

impl Set {
    /// Every set.
    pub const ALL: [Self; 4] = [Self::Editing, Self::Writing, Self::Coding, Self::Desktop];

    /// The word that files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Editing => "editing",
            Self::Writing => "writing",
            Self::Coding => "coding",
            Self::Desktop => "desktop",
        }
    }
}

/// A shortcut by common convention.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Convention {
    /// The name that layouts use for such an action.
    pub name: String,
    /// Where it belongs.
    pub set: Set,
    /// The chord.
    pub chord: Chord,
    /// What it does.
    pub title: String,
    /// A small text before and after, where it shows what is done.
    pub change: Option<(String, String)>,
}

/// Actions that follow on each other: names with words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sequence {
    /// Where it belongs.
    pub set: Set,
    /// Names of shortcuts, with the words that ask for them.
    pub steps: Vec<(String, String)>,
}

/// What the file holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conventions {
    /// The shortcuts, in the order in which they are learnt.
    pub shortcuts: Vec<Convention>,
    /// The sequences.
    pub sequences: Vec<Sequence>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    shortcut: Vec<Spanned<RawShortcut>>,
    #[serde(default)]
    sequence: Vec<Spanned<RawSequence>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawShortcut {
    name: String,
    set: String,
    chord: String,
    title: String,
    change: Option<(String, String)>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSequence {
    set: String,
    steps: Vec<(String, String)>,
}

/// The conventions of the file `name` with the contents `source`.
///
/// # Errors
/// [`DrillError::Material`] with the line of what is wrong.
pub fn conventions(name: &str, source: &str) -> Result<Conventions, DrillError> {
    let raw: RawFile = toml::from_str(source).map_err(|error| unreadable(name, source, &error))?;
    let fault = |at: usize, problem: String| DrillError::Material {
        file: name.to_owned(),
        line: line_of(source, at),
        problem,
    };
    let mut shortcuts: Vec<Convention> = Vec::new();
    for spanned in raw.shortcut {
        let at = spanned.span().start;
        let raw = spanned.into_inner();
        let set = set_of(&raw.set).map_err(|problem| fault(at, problem))?;
        let chord: Chord = raw.chord.parse().map_err(|error| fault(at, format!("{error}")))?;
        for known in &shortcuts {
            if known.name == raw.name || known.chord == chord || known.title == raw.title {
                let problem = format!(
                    "'{}', {chord} or '{}' stands earlier in this file, at '{}'",
                    raw.name, raw.title, known.name
                );
                return Err(fault(at, problem));
            }
        }
        let change = raw.change.iter().flat_map(|(before, after)| [before, after]);
        let texts = change.map(|text| (text, CHANGE_COLUMNS));
        for (text, columns) in texts.chain([(&raw.title, TITLE_COLUMNS)]) {
            if let Some(problem) = text_problem(text, columns) {
                return Err(fault(at, problem));
            }
        }
        if raw.change.as_ref().is_some_and(|(before, after)| before == after) {
            return Err(fault(at, "the change changes nothing".to_owned()));
        }
        let RawShortcut { name, title, change, .. } = raw;
        shortcuts.push(Convention { name, set, chord, title, change });
    }
    let names: BTreeSet<&str> = shortcuts.iter().map(|s| s.name.as_str()).gather();
    let mut sequences = Vec::new();
    for spanned in raw.sequence {
        let at = spanned.span().start;
        let RawSequence { set, steps } = spanned.into_inner();
        let set = set_of(&set).map_err(|problem| fault(at, problem))?;
        if !(2..=MOST_STEPS).contains(&steps.len()) {
            let problem = format!("{} steps: 2 to {MOST_STEPS} make a sequence", steps.len());
            return Err(fault(at, problem));
        }
        for (name, words) in &steps {
            if !names.contains(name.as_str()) {
                return Err(fault(at, format!("'{name}' is no shortcut of this file")));
            }
            if let Some(problem) = text_problem(words, TITLE_COLUMNS) {
                return Err(fault(at, problem));
            }
        }
        sequences.push(Sequence { set, steps });
    }
    Ok(Conventions { shortcuts, sequences })
}

fn set_of(word: &str) -> Result<Set, String> {
    Set::ALL.into_iter().find(|set| set.word() == word).ok_or_else(|| {
        let words = Set::ALL.map(Set::word).join(", ");
        format!("set '{word}' is not known: one of {words}")
    })
}

fn text_problem(text: &str, columns: usize) -> Option<String> {
    let lines: Vec<&str> = text.split('\n').collect();
    if lines.len() > MOST_LINES {
        return Some(format!("{} lines, at most {MOST_LINES} are allowed", lines.len()));
    }
    lines.into_iter().find_map(|line| {
        if line.trim().is_empty() {
            Some("a line is empty".to_owned())
        } else if line.contains(char::is_control) {
            Some("a line holds a control character".to_owned())
        } else if line.width() > columns {
            Some(format!("'{line}' has {} columns, at most {columns} fit", line.width()))
        } else {
            None
        }
    })
}

/// The shipped conventions, read once when first asked for.
///
/// # Errors
/// [`DrillError::Material`] if the shipped file is faulty, which the tests
/// rule out.
pub fn shipped() -> Result<&'static Conventions, DrillError> {
    static SHIPPED: LazyLock<Result<Conventions, DrillError>> = LazyLock::new(|| {
        conventions("drills/shortcuts.toml", include_str!("../../../drills/shortcuts.toml"))
    });
    SHIPPED.as_ref().map_err(Clone::clone)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_file_is_sound_and_every_set_has_its_share() {
        let shipped = shipped().unwrap();
        for set in Set::ALL {
            let shortcuts = shipped.shortcuts.iter().filter(|s| s.set == set).count();
            let sequences = shipped.sequences.iter().filter(|s| s.set == set).count();
            assert!(shortcuts >= 5 && sequences >= 2, "{}: {shortcuts}, {sequences}", set.word());
        }
        let changes = shipped.shortcuts.iter().filter(|s| s.change.is_some()).count();
        assert!(changes >= 12, "{changes}");
    }

    #[test]
    fn faults_are_named_with_file_and_line() {
        const COPY: &str =
            "[[shortcut]]\nname = 'copy'\nset = 'editing'\nchord = 'Ctrl+C'\ntitle = 'copy'\n";
        assert_eq!(conventions("s.toml", COPY).unwrap().shortcuts.len(), 1);
        let changed = |from: &str, to: &str| COPY.replace(from, to);
        for (source, words) in [
            (changed("editing", "sailing"), "line 1: set 'sailing'"),
            (changed("Ctrl+C", "Strg+C"), "line 1: 'Strg' is no modifier"),
            (changed("chord", "cord"), "line 4: "),
            (changed("title = 'copy'", "title = ''"), "line 1: a line is empty"),
            (format!("{COPY}change = ['a|', 'a|']"), "line 1: the change changes nothing"),
            (format!("{COPY}change = ['a', '{}']", "x".repeat(35)), "35 columns"),
            (format!("{COPY}{COPY}"), "line 6: 'copy', Ctrl+C"),
            (
                format!("{COPY}[[sequence]]\nset = 'editing'\nsteps = [['copy', 'a']]"),
                "line 6: 1 steps",
            ),
            (
                format!(
                    "{COPY}[[sequence]]\nset = 'editing'\nsteps = [['copy', 'a'], ['cpy', 'b']]"
                ),
                "line 6: 'cpy' is no shortcut",
            ),
        ] {
            let told = conventions("s.toml", &source).unwrap_err().to_string();
            assert!(told.starts_with("s.toml, ") && told.contains(words), "{source}\n{told}");
        }
    }
}
