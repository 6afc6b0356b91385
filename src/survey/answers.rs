//! What somebody says of their own work, in the place of what is assumed.

use super::Habits;
use crate::keyboard::document::Nearest;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use thiserror::Error;

/// A figure of [`Habits`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Figure {
    /// The word that files use.
    pub word: &'static str,
    /// What it counts, as a question has it.
    pub asks: &'static str,
    /// The least and the most that can be true.
    pub range: (u32, u32),
}

/// Every figure, in the order in which they are asked.
pub const FIGURES: [Figure; 6] = [
    Figure { word: "typed", asks: "characters typed an hour", range: (1, 60_000) },
    Figure { word: "moves", asks: "keys that move the cursor, an hour", range: (0, 20_000) },
    Figure { word: "selections", asks: "keys that select, an hour", range: (0, 20_000) },
    Figure {
        word: "deletions",
        asks: "keys that delete, an hour, Backspace left out",
        range: (0, 20_000),
    },
    Figure { word: "shortcuts", asks: "shortcuts an hour", range: (0, 20_000) },
    Figure { word: "hours", asks: "hours of such work a day", range: (1, 24) },
];

/// What is wrong with a file of answers.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("line {line}: {problem}")]
pub struct AnswersError {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong, and what was expected.
    pub problem: String,
}

/// A person's own figures; what they don't know is assumed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Answers(BTreeMap<String, f64>);

impl Answers {
    /// From a file with lines such as `moves = 400`.
    ///
    /// # Errors
    /// What is wrong on which line.
    pub fn parse(text: &str) -> Result<Self, AnswersError> {
        let line = |at: usize| text[..at.min(text.len())].matches('\n').count() + 1;
        let raw: BTreeMap<toml::Spanned<String>, toml::Spanned<toml::Value>> = toml::from_str(text)
            .map_err(|error| AnswersError {
                line: line(error.span().map_or(0, |span| span.start)),
                problem: error.message().to_owned(),
            })?;
        let mut answers = Self::default();
        for (word, value) in &raw {
            let told = |problem| AnswersError { line: line(word.span().start), problem };
            let known = FIGURES.iter().map(|figure| figure.word);
            let figure = FIGURES.iter().find(|figure| figure.word == word.get_ref());
            let Some(figure) = figure else {
                let nearest = Nearest::of(word.get_ref(), known.clone());
                return Err(told(format!(
                    "'{}' is no figure: expected one of {}{nearest}",
                    word.get_ref().escape_debug(),
                    known.collect::<Vec<_>>().join(", ")
                )));
            };
            let number = match value.get_ref() {
                toml::Value::Integer(number) => *number as f64,
                toml::Value::Float(number) => *number,
                _ => f64::NAN,
            };
            answers.set(*figure, number).map_err(told)?;
        }
        Ok(answers)
    }

    /// Takes in an answer.
    ///
    /// # Errors
    /// In words where it can't be true.
    pub fn set(&mut self, figure: Figure, number: f64) -> Result<(), String> {
        let (least, most) = figure.range;
        if !(f64::from(least)..=f64::from(most)).contains(&number) {
            return Err(format!(
                "{} ({}): expected a number from {least} to {most}",
                figure.word, figure.asks
            ));
        }
        self.0.insert(figure.word.to_owned(), number);
        Ok(())
    }

    /// The person's own figure; none where it is assumed.
    pub fn own(&self, figure: Figure) -> Option<f64> {
        self.0.get(figure.word).copied()
    }

    /// True where everything is assumed.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// `assumed` with the person's own figures in it.
    #[must_use]
    pub fn over(&self, assumed: Habits) -> Habits {
        let mut habits = assumed;
        for figure in FIGURES {
            if let Some(number) = self.own(figure) {
                *habits.figure_mut(figure) = number;
            }
        }
        habits
    }
}

impl Habits {
    fn figure_mut(&mut self, figure: Figure) -> &mut f64 {
        match figure.word {
            "typed" => &mut self.typed,
            "moves" => &mut self.moves,
            "selections" => &mut self.selections,
            "deletions" => &mut self.deletions,
            "shortcuts" => &mut self.shortcuts,
            _ => &mut self.hours,
        }
    }

    /// One of its figures.
    pub fn figure(mut self, figure: Figure) -> f64 {
        *self.figure_mut(figure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::Work;

    #[test]
    fn own_figures_take_the_place_of_assumed_ones() {
        let answers = Answers::parse("# mine\nmoves = 250\nhours = 6.5\n").unwrap();
        let assumed = Habits::assumed(Work::Code);
        let habits = answers.over(assumed);
        assert_eq!((habits.moves, habits.hours), (250.0, 6.5));
        assert_eq!(Habits { moves: assumed.moves, hours: assumed.hours, ..habits }, assumed);
        let own: Vec<bool> = FIGURES.iter().map(|one| answers.own(*one).is_some()).collect();
        assert_eq!(own, [false, true, false, false, false, true]);
        for (place, figure) in FIGURES.iter().enumerate() {
            let mut answers = Answers::default();
            answers.set(*figure, 7.0).unwrap();
            let changed = answers.over(assumed);
            for (other, one) in FIGURES.iter().enumerate() {
                let is_new = (changed.figure(*one) - 7.0).abs() < 1e-12;
                assert_eq!(is_new, other == place, "{}", one.word);
            }
        }
    }

    #[test]
    fn what_is_wrong_is_told_with_its_line() {
        let told = |text| Answers::parse(text).unwrap_err().to_string();
        assert_eq!(
            told("typed = 3000\nmovs = 3\n"),
            "line 2: 'movs' is no figure: expected one of typed, moves, selections, deletions, \
             shortcuts, hours; did you mean 'moves'?"
        );
        assert!(told("hours = 25\n").starts_with("line 1: hours (hours of such work a day)"));
        assert!(told("typed = 0\n").ends_with("expected a number from 1 to 60000"));
        assert!(told("moves = \"many\"\n").contains("expected a number"));
        assert!(told("a\nmoves =").starts_with("line 1: "));
    }
}
