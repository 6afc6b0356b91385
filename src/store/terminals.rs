//! What terminals let through, as checks found it: one small file in the data
//! folder, made to be read and mended by hand.
//!
//! It holds no practice: losing it costs a repetition of the check.

use crate::keyboard::Output;
use crate::order::Gather;
use crate::session::{Checked, Finding};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{self, DirBuilder};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The file's name in the data folder.
pub const TERMINALS: &str = "terminals.toml";

const HEAD: &str = "\
# What each terminal lets through, as `etude terminal --check` found it.
# Without this file everything counts as arriving that the terminal's level
# delivers.

";

/// Why the file can't be used.
#[derive(Debug, thiserror::Error)]
pub enum TerminalsError {
    /// The system refuses it.
    #[error("can't use '{}': {error}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// It says something that can't be understood.
    #[error(
        "{}, line {line}: {problem}; mend it, or take the file away and run `etude terminal --check`",
        path.display()
    )]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong, what was expected.
        problem: String,
    },
}

/// What was found, by the terminal's name.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Terminals {
    by_name: BTreeMap<String, Checked>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    #[serde(default)]
    terminal: Vec<RawTerminal>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTerminal {
    name: String,
    level: String,
    #[serde(default)]
    arrive: Vec<toml::Spanned<String>>,
    #[serde(default)]
    nothing: Vec<toml::Spanned<String>>,
    /// What was struck, and what arrived in its stead.
    #[serde(default)]
    other: BTreeMap<toml::Spanned<String>, toml::Spanned<String>>,
}

impl Terminals {
    /// What the folder `data` holds; nothing where there is no file.
    ///
    /// # Errors
    /// [`TerminalsError`].
    pub fn read(data: &Path) -> Result<Self, TerminalsError> {
        let path = data.join(TERMINALS);
        match fs::read_to_string(&path) {
            Ok(source) => Self::parse(&path, &source),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Self::default()),
            Err(error) => Err(TerminalsError::Io { path, error }),
        }
    }

    fn parse(path: &Path, source: &str) -> Result<Self, TerminalsError> {
        let unreadable = |at: usize, problem: String| TerminalsError::Unreadable {
            path: path.to_owned(),
            line: source[..at.min(source.len())].matches('\n').count() + 1,
            problem,
        };
        let raw: RawFile = toml::from_str(source).map_err(|error| {
            let at = error.span().map_or(0, |span| span.start);
            unreadable(at, error.message().to_owned())
        })?;
        let output = |word: &toml::Spanned<String>| {
            word.get_ref().parse::<Output>().map_err(|error| {
                unreadable(
                    word.span().start,
                    format!("'{}' is no key or chord: {error}", word.get_ref()),
                )
            })
        };
        let mut found = Self::default();
        for terminal in raw.terminal {
            let checked = found.by_name.entry(terminal.name).or_default();
            for (words, finding) in
                [(&terminal.arrive, Finding::Itself), (&terminal.nothing, Finding::Nothing)]
            {
                for word in words {
                    checked.note(&terminal.level, output(word)?, finding.clone());
                }
            }
            for (struck, arrived) in &terminal.other {
                let finding = Finding::Other(output(arrived)?);
                checked.note(&terminal.level, output(struck)?, finding);
            }
        }
        Ok(found)
    }

    /// What was found at the terminal with this name.
    pub fn named(&self, name: &str) -> Option<&Checked> {
        self.by_name.get(name)
    }

    /// Takes in what was found at the terminal with this name, in the stead of
    /// what was known of it.
    pub fn set(&mut self, name: &str, checked: Checked) {
        self.by_name.insert(name.to_owned(), checked);
    }

    /// Writes the file in the folder `data`, whole or not at all; makes the
    /// folder where there is none.
    ///
    /// # Errors
    /// [`TerminalsError::Io`].
    pub fn write(&self, data: &Path) -> Result<(), TerminalsError> {
        let path = data.join(TERMINALS);
        self.replace(data, &path).map_err(|error| TerminalsError::Io { path, error })
    }

    fn replace(&self, data: &Path, path: &Path) -> io::Result<()> {
        let mut builder = DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.recursive(true).create(data)?;
        let mut file = tempfile::NamedTempFile::new_in(data)?;
        file.write_all(HEAD.as_bytes())?;
        file.write_all(toml::to_string(&self.raw()).map_err(io::Error::other)?.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist(path).map(|_| ()).map_err(|error| error.error)
    }

    fn raw(&self) -> RawFile {
        let word = |output: &Output| toml::Spanned::new(0..0, output.to_string());
        let mut terminal = Vec::new();
        for (name, checked) in &self.by_name {
            for (level, found) in checked.levels() {
                let of = |wanted: &Finding| {
                    let with = found.iter().filter(|(_, finding)| *finding == wanted);
                    with.map(|(output, _)| word(output)).collect()
                };
                terminal.push(RawTerminal {
                    name: name.clone(),
                    level: level.to_owned(),
                    arrive: of(&Finding::Itself),
                    nothing: of(&Finding::Nothing),
                    other: found
                        .iter()
                        .filter_map(|(output, finding)| match finding {
                            Finding::Other(arrived) => Some((word(output), word(arrived))),
                            Finding::Itself | Finding::Nothing => None,
                        })
                        .gather(),
                });
            }
        }
        RawFile { terminal }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        let home = tempfile::tempdir().unwrap();
        let data = home.path().join("harbour");
        assert_eq!(Terminals::read(&data).unwrap(), Terminals::default());
        let mut checked = Checked::default();
        let output = |word: &str| word.parse::<Output>().unwrap();
        checked.note("enhanced 31", output("Ctrl+C"), Finding::Itself);
        checked.note("enhanced 31", output("Ctrl+Shift+V"), Finding::Nothing);
        checked.note("enhanced 31", output("Ctrl+]"), Finding::Other(output("\"")));
        checked.note("plain", output("Ctrl+C"), Finding::Nothing);
        let mut terminals = Terminals::default();
        terminals.set("tern-term", checked.clone());
        terminals.set("other \"term\"", Checked::default());
        terminals.write(&data).unwrap();
        let read = Terminals::read(&data).unwrap();
        assert_eq!(read.named("tern-term"), Some(&checked));
        // Nothing was found at the other one: there is nothing to write of it.
        assert_eq!(read.named("other \"term\""), None);
        read.write(&data).unwrap();
        assert_eq!(Terminals::read(&data).unwrap(), read);
        assert_eq!(fs::read_dir(&data).unwrap().count(), 1, "no other file stays");
    }

    #[test]
    fn a_damaged_file_is_told_by_line() {
        let error = |source: &str| {
            Terminals::parse(Path::new("terminals.toml"), source).unwrap_err().to_string()
        };
        let told =
            error("[[terminal]]\nname = 'a'\nlevel = 'plain'\narrive = ['Ctrl+C', 'Crtl+V']");
        assert!(told.starts_with("terminals.toml, line 4: 'Crtl+V' is no key"), "{told}");
        let told = error("[[terminal]]\nnmae = 'a'");
        assert!(told.starts_with("terminals.toml, line 2:"), "{told}");
        assert!(told.ends_with("`etude terminal --check`"), "{told}");
    }
}
