//! What somebody says of their own work: by a file, or by questions.

use super::read_text;
use crate::survey::{Answers, FIGURES, Habits};
use anyhow::{Context, anyhow};
use std::io::{BufRead, Write};
use std::path::Path;

/// Larger files hold no figures, bytes.
const LARGEST: u64 = 64 << 10;

/// The answers in the file `path`.
///
/// # Errors
/// One that can't be read, or what is wrong on which line.
pub fn from_file(path: &Path) -> anyhow::Result<Answers> {
    let shown = path.display();
    let size = std::fs::metadata(path).with_context(|| format!("can't read {shown}"))?.len();
    anyhow::ensure!(size <= LARGEST, "{shown} has {size} bytes: expected a few figures");
    let text = read_text(path, "the answers that `etude survey --ask` asks for")?;
    Answers::parse(&text).map_err(|error| anyhow!("{shown}, {error}"))
}

/// Asks for each figure on `told`, reads the answers from `input`. An empty
/// line keeps what is shown; the end of the input keeps all that is left.
///
/// # Errors
/// An input or output that is closed.
pub fn ask(
    mut input: impl BufRead,
    mut told: impl Write,
    known: &Answers,
    assumed: Habits,
) -> anyhow::Result<Answers> {
    let mut answers = known.clone();
    writeln!(told, "How you work, roughly. Enter keeps what stands in brackets.")?;
    for figure in FIGURES {
        loop {
            let now = match answers.own(figure) {
                Some(own) => format!("{own}, yours"),
                None => format!("{:.0}, assumed", assumed.figure(figure)),
            };
            write!(told, "  {} [{now}]: ", figure.asks)?;
            told.flush()?;
            let mut line = String::new();
            if input.read_line(&mut line)? == 0 {
                writeln!(told)?;
                return Ok(answers);
            }
            let line = line.trim();
            if line.is_empty() {
                break;
            }
            let number = line.parse().unwrap_or(f64::NAN);
            match answers.set(figure, number) {
                Ok(()) => break,
                Err(problem) => writeln!(told, "  {problem}")?,
            }
        }
    }
    Ok(answers)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::Work;

    #[test]
    fn an_empty_line_keeps_and_a_wrong_one_is_asked_again() {
        let mut told = Vec::new();
        let input = "\nmany\n300\n\n\n50\n7\n".as_bytes();
        let assumed = Habits::assumed(Work::Prose);
        let answers = ask(input, &mut told, &Answers::default(), assumed).unwrap();
        let own: Vec<Option<f64>> = FIGURES.iter().map(|one| answers.own(*one)).collect();
        assert_eq!(own, [None, Some(300.0), None, None, Some(50.0), Some(7.0)]);
        let told = String::from_utf8(told).unwrap();
        assert!(told.contains("characters typed an hour [4000, assumed]: "), "{told}");
        assert!(told.contains("expected a number from 0 to 20000"), "{told}");
        // Asked again, what was said is shown, and the end keeps it.
        let mut told = Vec::new();
        let again = ask("\n".as_bytes(), &mut told, &answers, assumed).unwrap();
        assert_eq!(again, answers);
        assert!(String::from_utf8(told).unwrap().contains("[300, yours]"));
    }
}
