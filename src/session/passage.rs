//! What comes through a terminal: what a check found there, beside what its
//! level says, and the course of such a check.

use super::{Level, Stroke};
use crate::keyboard::{NamedKey, Output};
use std::collections::BTreeMap;

/// What becomes of a key or chord on its way through a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Arrival {
    /// It arrives, and nothing that is another answer arrives as the same.
    Delivered,
    /// It arrives as something that would be another answer.
    Ambiguous,
    /// It never arrives.
    Swallowed,
}

/// What a check found of one key or chord.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Finding {
    /// It arrived as itself, or as what its level can't tell from it.
    Itself,
    /// This arrived in its stead, twice running.
    Other(Output),
    /// Nothing arrived, the person says.
    Nothing,
}

impl Finding {
    /// What it says of the key or chord.
    pub const fn arrival(&self) -> Arrival {
        match self {
            Self::Itself => Arrival::Delivered,
            Self::Other(_) => Arrival::Ambiguous,
            Self::Nothing => Arrival::Swallowed,
        }
    }
}

/// What was found at one terminal, for each level apart: a terminal that grants
/// more may let other keys through.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Checked {
    levels: BTreeMap<String, BTreeMap<Output, Finding>>,
}

impl Checked {
    /// Takes note of what was found at the level with this
    /// [key](Level::key); what was found before of the same is forgotten.
    pub fn note(&mut self, level: &str, output: Output, finding: Finding) {
        self.levels.entry(level.to_owned()).or_default().insert(output, finding);
    }

    /// What was found at `level`.
    pub fn at(&self, level: Level) -> Option<&BTreeMap<Output, Finding>> {
        self.levels.get(&level.key())
    }

    /// Each level by its [key](Level::key), with what was found at it.
    pub fn levels(&self) -> impl Iterator<Item = (&str, &BTreeMap<Output, Finding>)> {
        self.levels.iter().map(|(level, found)| (level.as_str(), found))
    }

    /// What becomes of `output` in a terminal of `level`: what the level says
    /// it can't deliver stays so whatever was found, since what arrived then
    /// proves nothing.
    pub fn arrival(&self, level: Level, output: &Output) -> Arrival {
        match level.arrival(output) {
            Arrival::Delivered => self
                .at(level)
                .and_then(|found| found.get(output))
                .map_or(Arrival::Delivered, Finding::arrival),
            lost => lost,
        }
    }

    /// True where `output` may be asked for in a terminal of `level`.
    pub fn arrives(&self, level: Level, output: &Output) -> bool {
        self.arrival(level, output) == Arrival::Delivered
    }
}

/// The key by which a person says that nothing arrived.
pub const NOTHING_KEY: NamedKey = NamedKey::Enter;

/// The key by which a person puts off what is asked for.
pub const LATER_KEY: NamedKey = NamedKey::Tab;

/// What a press did to a check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// It says nothing: a modifier or lock alone, or nothing is asked for.
    Ignored,
    /// Something else arrived; the same once more would prove it.
    Again(Output),
    /// What was asked for stays as unknown as it was; the next is asked for.
    Passed,
    /// This was found, and the next is asked for.
    Found(Output, Finding),
}

/// The course of a check: one key or chord after another is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Check {
    level: Level,
    asked: Vec<Output>,
    at: usize,
    other: Option<Output>,
}

impl Check {
    /// Asks for each of `wanted` that `level` delivers: those first of which
    /// `checked` knows nothing, or all anew where it knows all. Escape and the
    /// keys that answer are never asked for.
    pub fn new(level: Level, wanted: &[Output], checked: &Checked) -> Self {
        let mine = [NamedKey::Escape, NOTHING_KEY, LATER_KEY].map(Output::Key);
        let fit = |output: &&Output| {
            level.arrival(output) == Arrival::Delivered
                && !mine.iter().any(|key| level.same(output, key))
        };
        let fit: Vec<Output> = wanted.iter().filter(fit).cloned().collect();
        let known = |output: &Output| checked.at(level).is_some_and(|f| f.contains_key(output));
        let open: Vec<Output> = fit.iter().filter(|output| !known(output)).cloned().collect();
        Self { level, asked: if open.is_empty() { fit } else { open }, at: 0, other: None }
    }

    /// What is asked for now; none at the end.
    pub fn due(&self) -> Option<&Output> {
        self.asked.get(self.at)
    }

    /// What arrived last in its stead.
    pub fn other(&self) -> Option<&Output> {
        self.other.as_ref()
    }

    /// How many were asked for and passed, and how many there are.
    pub fn progress(&self) -> (usize, usize) {
        (self.at, self.asked.len())
    }

    fn go_on(&mut self) {
        self.other = None;
        self.at = (self.at + 1).min(self.asked.len());
    }

    /// Takes a press. What arrives in the stead of what is asked for counts
    /// only when it arrives twice running, so that a slip of the hand proves
    /// nothing.
    pub fn press(&mut self, stroke: &Stroke) -> Step {
        let Some(due) = self.due().cloned() else { return Step::Ignored };
        let got = stroke.output();
        let finding = if self.level.same(&due, &got) {
            Finding::Itself
        } else if stroke.is_silent() {
            return Step::Ignored;
        } else if stroke.plain_key() == Some(NOTHING_KEY) {
            Finding::Nothing
        } else if stroke.plain_key() == Some(LATER_KEY) {
            self.go_on();
            return Step::Passed;
        } else if self.other.as_ref() == Some(&got) {
            Finding::Other(got)
        } else {
            self.other = Some(got.clone());
            return Step::Again(got);
        };
        self.go_on();
        Step::Found(due, finding)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Modifiers;
    use crate::session::Granted;

    fn output(word: &str) -> Output {
        word.parse().unwrap()
    }

    fn ctrl(c: char) -> Stroke {
        Stroke { modifiers: Modifiers::CTRL, ..Stroke::char(c) }
    }

    fn enter() -> Stroke {
        Stroke::named(NamedKey::Enter, Modifiers::empty())
    }

    #[test]
    fn what_arrives_twice_in_its_stead_is_believed_and_a_slip_is_not() {
        let wanted = [output("Ctrl+C"), output("Ctrl+Shift+V"), output("Ctrl+X")];
        let level = Level::Enhanced(Granted::all());
        let mut check = Check::new(level, &wanted, &Checked::default());
        let shift = Stroke::named(NamedKey::Shift, Modifiers::SHIFT);
        assert_eq!(check.press(&shift), Step::Ignored, "a modifier on its way to a chord");
        assert_eq!(check.press(&ctrl('b')), Step::Again(output("Ctrl+B")));
        assert_eq!(check.press(&ctrl('n')), Step::Again(output("Ctrl+N")), "another slip");
        assert_eq!(check.press(&ctrl('c')), Step::Found(wanted[0].clone(), Finding::Itself));
        assert_eq!(check.press(&ctrl('v')), Step::Again(output("Ctrl+V")));
        let other = Finding::Other(output("Ctrl+V"));
        assert_eq!(check.press(&ctrl('v')), Step::Found(wanted[1].clone(), other));
        assert_eq!(check.press(&enter()), Step::Found(wanted[2].clone(), Finding::Nothing));
        assert_eq!((check.due(), check.progress()), (None, (3, 3)));
        assert_eq!(check.press(&ctrl('x')), Step::Ignored);
    }

    #[test]
    fn what_the_level_loses_is_never_asked_for() {
        let wanted: Vec<Output> =
            ["Ctrl+C", "Ctrl+Shift+V", "Ctrl+I", "Ctrl+M", "Meta+C", "Escape", "Enter", "PageUp"]
                .map(output)
                .to_vec();
        let asked = |level| {
            let check = Check::new(level, &wanted, &Checked::default());
            check.asked.iter().map(Output::to_string).collect::<Vec<_>>()
        };
        assert_eq!(asked(Level::Plain), ["Ctrl+C", "PageUp"]);
        let all = Level::Enhanced(Granted::all());
        assert_eq!(asked(all), ["Ctrl+C", "Ctrl+Shift+V", "Ctrl+I", "Ctrl+M", "Meta+C", "PageUp"]);
    }

    #[test]
    fn what_is_open_comes_first_and_then_all_begin_anew() {
        let wanted = [output("Ctrl+C"), output("Ctrl+V")];
        let level = Level::Plain;
        let mut checked = Checked::default();
        checked.note(&level.key(), wanted[0].clone(), Finding::Itself);
        assert_eq!(Check::new(level, &wanted, &checked).due(), Some(&wanted[1]));
        checked.note(&level.key(), wanted[1].clone(), Finding::Nothing);
        assert_eq!(Check::new(level, &wanted, &checked).progress(), (0, 2));
    }

    #[test]
    fn a_finding_holds_for_its_level_alone_and_never_against_the_table() {
        let chord = output("Ctrl+Shift+V");
        let all = Level::Enhanced(Granted::all());
        let mut checked = Checked::default();
        assert_eq!(checked.arrival(all, &chord), Arrival::Delivered);
        checked.note(&all.key(), chord.clone(), Finding::Nothing);
        assert_eq!(checked.arrival(all, &chord), Arrival::Swallowed);
        let some = Level::Enhanced(Granted::DISAMBIGUATE);
        assert_eq!(checked.arrival(some, &chord), Arrival::Delivered);
        checked.note(&Level::Plain.key(), chord.clone(), Finding::Itself);
        assert_eq!(checked.arrival(Level::Plain, &chord), Arrival::Ambiguous);
        checked.note(&all.key(), chord.clone(), Finding::Other(output("Ctrl+V")));
        assert_eq!(checked.arrival(all, &chord), Arrival::Ambiguous);
        assert!(!checked.arrives(all, &chord) && checked.arrives(all, &output("Ctrl+V")));
    }
}
