//! What a survey counted, and what it promised: one file in the data folder,
//! made to be looked at. It holds counts, never text; taking it away forgets
//! the survey and costs no practice.

use super::wall_clock::day_text;
use crate::order::Gather;
use crate::survey::{Answers, Counts, Habits, Promise, Surveyed, Work, WorkMix};
use serde::{Deserialize, Serialize};
use std::fs::{self, DirBuilder};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The file's name in the data folder.
pub const SURVEY: &str = "survey.json";
/// Grows when files written before can't be read any more.
const FORMAT: &str = "etude.survey-kept/1";
/// A promise is kept for so many surveys of one layout at most.
const MOST_PROMISES: usize = 60;

/// Why the file can't be used.
#[derive(Debug, thiserror::Error)]
pub enum KeptError {
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
        "{}, line {line}: {problem}; take the file away and run `etude survey` again",
        path.display()
    )]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        problem: String,
    },
}

/// What is kept of a survey.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct KeptSurvey {
    /// The local day, days from 1970-01-01.
    pub day: i32,
    /// How many texts were counted.
    pub texts: u64,
    /// By kind of text: name, texts, characters.
    pub kinds: Vec<(String, u64, u64)>,
    /// What they have.
    pub counts: Counts,
    /// The kind of work that habits are assumed by; none for some of each.
    pub work: Option<Work>,
    /// The person's own habits.
    pub answers: Answers,
    /// What was promised, the earliest first.
    pub promises: Vec<Promise>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    schema: String,
    about: String,
    date: String,
    day: i32,
    texts: u64,
    kinds: Vec<(String, u64, u64)>,
    work: Option<String>,
    habits: Answers,
    promises: Vec<Promise>,
    characters: Vec<(char, u64)>,
    pairs: Vec<(char, char, u64)>,
}

impl KeptSurvey {
    /// What the folder `data` holds; none where nothing was surveyed.
    ///
    /// # Errors
    /// [`KeptError`].
    pub fn read(data: &Path) -> Result<Option<Self>, KeptError> {
        let path = data.join(SURVEY);
        let source = match fs::read(&path) {
            Ok(source) => source,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(KeptError::Io { path, error }),
        };
        let raw: Raw = serde_json::from_slice(&source).map_err(|error| KeptError::Unreadable {
            path: path.clone(),
            line: error.line(),
            problem: error.to_string(),
        })?;
        if raw.schema != FORMAT {
            let problem = format!("'{}' is not what this program reads", raw.schema.escape_debug());
            return Err(KeptError::Unreadable { path, line: 2, problem });
        }
        let pairs = raw.pairs.iter().map(|(one, other, times)| ((*one, *other), *times));
        Ok(Some(Self {
            day: raw.day,
            texts: raw.texts,
            kinds: raw.kinds,
            counts: Counts { chars: raw.characters.into_iter().gather(), pairs: pairs.gather() },
            work: raw.work.as_deref().and_then(Work::from_word),
            answers: raw.habits,
            promises: raw.promises,
        }))
    }

    /// Writes the file in the folder `data`, whole or not at all; makes the
    /// folder where there is none. Of the promises only the last are kept.
    ///
    /// # Errors
    /// [`KeptError::Io`].
    pub fn write(&self, data: &Path) -> Result<(), KeptError> {
        let path = data.join(SURVEY);
        self.replace(data, &path).map_err(|error| KeptError::Io { path, error })
    }

    fn replace(&self, data: &Path, path: &Path) -> io::Result<()> {
        let counts = &self.counts;
        let pairs = counts.pairs.iter().map(|((one, other), times)| (*one, *other, *times));
        let late = self.promises.len().saturating_sub(MOST_PROMISES);
        let raw = Raw {
            schema: FORMAT.to_owned(),
            about: "counts of your own texts, made by `etude survey`; the texts are not kept"
                .to_owned(),
            date: day_text(self.day),
            day: self.day,
            texts: self.texts,
            kinds: self.kinds.clone(),
            work: self.work.map(|work| work.word().to_owned()),
            habits: self.answers.clone(),
            promises: self.promises[late..].to_vec(),
            characters: counts.chars.iter().map(|(c, times)| (*c, *times)).collect(),
            pairs: pairs.collect(),
        };
        let mut builder = DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.recursive(true).create(data)?;
        let mut file = tempfile::NamedTempFile::new_in(data)?;
        serde_json::to_writer(io::BufWriter::new(file.as_file()), &raw)?;
        file.write_all(b"\n")?;
        file.as_file().sync_all()?;
        file.persist(path).map(|_| ()).map_err(|error| error.error)
    }

    /// Takes the file away; true where there was one.
    ///
    /// # Errors
    /// [`KeptError::Io`].
    pub fn forget(data: &Path) -> Result<bool, KeptError> {
        let path = data.join(SURVEY);
        match fs::remove_file(&path) {
            Ok(()) => Ok(true),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
            Err(error) => Err(KeptError::Io { path, error }),
        }
    }

    /// The habits: the person's own, and what is assumed of their kind of work.
    pub fn habits(&self) -> Habits {
        let mix = WorkMix::default();
        self.answers.over(self.work.map_or_else(|| Habits::of(&mix), Habits::assumed))
    }

    /// What the plan goes by.
    pub fn surveyed(&self) -> Surveyed {
        Surveyed {
            counts: self.counts.clone(),
            habits: self.habits(),
            promises: self.promises.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::FIGURES;

    fn kept() -> KeptSurvey {
        let mut answers = Answers::default();
        answers.set(FIGURES[1], 250.0).unwrap();
        KeptSurvey {
            day: 20_780,
            texts: 2,
            kinds: vec![("Rust".into(), 2, 9)],
            counts: Counts::of("{\"a\": 'é'}\n\tno\n"),
            work: Some(Work::Code),
            answers,
            promises: vec![Promise {
                day: 20_780,
                layout: "tern-split".into(),
                part: "symbols".into(),
                minutes: 300.0,
                minutes_before: 12.5,
                then: -60.0,
                saved: [30.0, 10.0, 50.0],
            }],
        }
    }

    #[test]
    fn what_is_written_is_read_again_and_can_be_forgotten() {
        let home = tempfile::tempdir().unwrap();
        let data = home.path().join("quay");
        assert_eq!(KeptSurvey::read(&data).unwrap(), None);
        kept().write(&data).unwrap();
        assert_eq!(KeptSurvey::read(&data).unwrap(), Some(kept()));
        let habits = kept().habits();
        assert_eq!(habits, Habits { moves: 250.0, ..Habits::assumed(Work::Code) });
        assert!(KeptSurvey::forget(&data).unwrap());
        assert!(!KeptSurvey::forget(&data).unwrap());
        assert_eq!(KeptSurvey::read(&data).unwrap(), None);
    }

    #[test]
    fn old_promises_give_way() {
        let home = tempfile::tempdir().unwrap();
        let one = kept().promises.remove(0);
        let many = (0..100).map(|day| Promise { day, ..one.clone() }).collect();
        KeptSurvey { promises: many, ..kept() }.write(home.path()).unwrap();
        let read = KeptSurvey::read(home.path()).unwrap().unwrap();
        assert_eq!(read.promises.len(), MOST_PROMISES);
        assert_eq!(read.promises.last().unwrap().day, 99);
    }

    #[test]
    fn what_can_not_be_read_is_told_with_what_to_do() {
        let home = tempfile::tempdir().unwrap();
        for text in ["{", "{\"schema\": 3}", "", "{\"schema\": \"x\", \"more\": 1}"] {
            fs::write(home.path().join(SURVEY), text).unwrap();
            let told = KeptSurvey::read(home.path()).unwrap_err().to_string();
            assert!(told.contains("survey.json, line 1: "), "{told}");
            assert!(told.ends_with("take the file away and run `etude survey` again"), "{told}");
        }
    }
}
