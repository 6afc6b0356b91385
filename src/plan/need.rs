//! How often items and switches are needed.
//!
//! Counted in the material that ships, each file standing for a kind of work;
//! a person's own mix of work weighs them. The material is our own, made to
//! be practised: it is richer in symbols and figures than everyday text, so
//! that the counts are a start until the person's own text has been counted.

use crate::drill::{DrillError, ItemKey, Piece, Speller, SwitchKey, shipped};
use crate::keyboard::{NamedKey, Output};
use crate::layout::RouteTable;
use crate::survey::{Counts, Habits, Work, WorkMix, output_of};
use std::collections::BTreeMap;

/// A page, strokes: 30 lines of 60 (a manuscript page as publishers count it;
/// common practice, no source).
pub const PAGE: f64 = 1800.0;

/// Of keys that move, select and delete so many come right after text; the
/// rest follows on others of their layer. Our own estimate.
const ENTERED: f64 = 0.4;

/// How often a page of a person's text needs each item of a layout.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Need {
    lines: Vec<(Vec<Output>, f64)>,
    arrivals: BTreeMap<(Option<crate::layout::LayerId>, ItemKey), f64>,
    items: BTreeMap<ItemKey, f64>,
    switches: BTreeMap<SwitchKey, f64>,
}

impl Need {
    /// What `mix` needs of the layout with `routes`, counted in the material
    /// that ships.
    ///
    /// # Errors
    /// [`DrillError::Material`] if a shipped file is faulty, which the tests
    /// rule out.
    pub fn of(routes: &RouteTable, mix: &WorkMix) -> Result<Self, DrillError> {
        let material = shipped()?;
        let speller = Speller::new(routes);
        let mut lines = Vec::new();
        let total: f64 = mix.0.values().filter(|share| **share > 0.0).sum();
        for (&work, &share) in mix.0.iter().filter(|(_, share)| **share > 0.0) {
            let mut own = match work {
                Work::Prose => spelled(&speller, &material.punctuation),
                Work::Code => spelled(&speller, &material.symbols),
                Work::Figures => spelled(&speller, &material.numbers),
                Work::Editing => spelled(&speller, &material.thumbs),
            };
            if work == Work::Editing {
                own.extend(material.words.slips.iter().map(|slip| taken_back(&speller, slip)));
            }
            let strokes: usize = own.iter().map(Vec::len).sum();
            let times = share / total * PAGE / strokes.max(1) as f64;
            lines.extend(own.into_iter().map(|line| (line, times)));
        }
        Ok(Self::of_lines(routes, lines))
    }

    /// What a text of `lines` needs, each with how often it comes a page.
    pub fn of_lines(routes: &RouteTable, lines: Vec<(Vec<Output>, f64)>) -> Self {
        let mut need = Self::default();
        for (line, times) in &lines {
            let mut before = None;
            for (output, route) in line.iter().zip(routes.along(line, &[])) {
                let Some(route) = route else { continue };
                let key = (route.layer, output.clone());
                *need.items.entry(key.clone()).or_default() += times;
                *need.arrivals.entry((before, key)).or_default() += times;
                if let Some(from) = before.filter(|from| *from != route.layer) {
                    *need.switches.entry((from, route.layer)).or_default() += times;
                }
                before = Some(route.layer);
            }
        }
        need.lines = lines;
        need
    }

    /// What a page of a text with `counts` needs: each character right after
    /// each that came before it.
    pub fn of_counts(routes: &RouteTable, counts: &Counts) -> Self {
        let mut need = Self::default();
        let given =
            counts.chars.iter().filter(|(c, _)| routes.preferred(&output_of(**c)).is_some());
        let strokes: u64 = given.map(|(_, times)| times).sum();
        let a_page = PAGE / strokes.max(1) as f64;
        let mut begun = counts.chars.clone();
        let mut add = |before: Option<char>, c: char, times: u64| {
            let before = before.and_then(|before| routes.preferred(&output_of(before)));
            let output = output_of(c);
            let Some(route) = routes.after(before, &output, &[]) else { return };
            let (times, key) = (times as f64 * a_page, (route.layer, output));
            let from = before.map(|before| before.layer);
            *need.items.entry(key.clone()).or_default() += times;
            *need.arrivals.entry((from, key)).or_default() += times;
            if let Some(from) = from.filter(|from| *from != route.layer) {
                *need.switches.entry((from, route.layer)).or_default() += times;
            }
        };
        for (&(before, c), &times) in &counts.pairs {
            if let Some(left) = begun.get_mut(&c) {
                *left = left.saturating_sub(times);
            }
            add(Some(before), c, times);
        }
        for (&c, &times) in begun.iter().filter(|(_, times)| **times > 0) {
            add(None, c, times);
        }
        need
    }

    /// The same with what work needs besides text. Of keys that several layers
    /// have, the preferred one counts; keys that the layout lacks don't.
    #[must_use]
    pub fn with(mut self, routes: &RouteTable, habits: &Habits) -> Self {
        let base = crate::layout::LayerId::BASE;
        for (output, each) in habits.keys() {
            let Some(route) = routes.preferred(&output).filter(|_| each > 0.0) else { continue };
            let (times, key) = (each * PAGE, (route.layer, output));
            let entered = if route.layer == base { 0.0 } else { times * ENTERED };
            *self.items.entry(key.clone()).or_default() += times;
            *self.arrivals.entry((Some(route.layer), key.clone())).or_default() += times - entered;
            if entered > 0.0 {
                *self.arrivals.entry((Some(base), key)).or_default() += entered;
                *self.switches.entry((base, route.layer)).or_default() += entered;
                *self.switches.entry((route.layer, base)).or_default() += entered;
            }
        }
        self
    }

    /// The lines that were counted, each with how often it comes a page.
    pub fn lines(&self) -> impl Iterator<Item = (&[Output], f64)> {
        self.lines.iter().map(|(line, times)| (line.as_slice(), *times))
    }

    /// How often a page needs the item, ≥ 0.
    pub fn item(&self, key: &ItemKey) -> f64 {
        self.items.get(key).copied().unwrap_or(0.0)
    }

    /// How often a page needs the switch, ≥ 0.
    pub fn switch(&self, key: &SwitchKey) -> f64 {
        self.switches.get(key).copied().unwrap_or(0.0)
    }

    /// Every item that is needed, with how often a page.
    pub fn items(&self) -> impl Iterator<Item = (&ItemKey, f64)> {
        self.items.iter().map(|(key, times)| (key, *times))
    }

    /// Every switch that is needed, with how often a page.
    pub fn switches(&self) -> impl Iterator<Item = (&SwitchKey, f64)> {
        self.switches.iter().map(|(key, times)| (key, *times))
    }

    /// Every item by the layer before it (none at the start of a line), with
    /// how often a page.
    pub fn arrivals(
        &self,
    ) -> impl Iterator<Item = (Option<crate::layout::LayerId>, &ItemKey, f64)> {
        self.arrivals.iter().map(|((from, key), times)| (*from, key, *times))
    }
}

/// The lines of `pieces`, each ended by Enter where the layout has it.
fn spelled(speller: &Speller, pieces: &[Piece]) -> Vec<Vec<Output>> {
    let enter = Output::Key(NamedKey::Enter);
    let lines = pieces.iter().flat_map(|piece| piece.text.lines());
    lines
        .map(|line| {
            let mut items = speller.spell(line);
            items.extend(speller.can(&enter).then(|| enter.clone()));
            items
        })
        .filter(|items| !items.is_empty())
        .collect()
}

/// The wrong word, what differs taken back, the right word and a space.
fn taken_back(speller: &Speller, (wrong, right): &(String, String)) -> Vec<Output> {
    let shared = wrong.chars().zip(right.chars()).take_while(|(a, b)| a == b).count();
    let back = Output::Key(NamedKey::Backspace);
    let mut items = speller.spell(wrong);
    if speller.can(&back) {
        items.extend(std::iter::repeat_n(back, wrong.chars().count() - shared));
        items.extend(speller.spell(&right.chars().skip(shared).collect::<String>()));
    }
    items.extend(speller.spell(" "));
    items
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{LayerId, shipped as layouts};

    #[test]
    fn a_page_has_its_strokes() {
        let layout = layouts::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        for mix in Work::ALL.map(WorkMix::only).into_iter().chain([WorkMix::default()]) {
            let need = Need::of(&routes, &mix).unwrap();
            let sum: f64 = need.items().map(|(_, times)| times).sum();
            assert!((sum - PAGE).abs() < 1e-6, "{mix:?}: {sum}");
        }
    }

    #[test]
    fn code_needs_brackets_and_prose_needs_commas() {
        let layout = layouts::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let [prose, code] =
            [Work::Prose, Work::Code].map(|w| Need::of(&routes, &WorkMix::only(w)).unwrap());
        let of = |need: &Need, c: char| -> f64 {
            need.items().filter(|(key, _)| key.1 == Output::char(c)).map(|(_, times)| times).sum()
        };
        assert!(of(&code, '{') > 5.0 && of(&prose, '{') == 0.0);
        assert!(of(&prose, ',') > of(&code, ',') && of(&prose, 'e') > 100.0);
    }

    /// Where pairs tell the routes, counts need what their lines need.
    #[test]
    fn counts_need_what_their_lines_need() {
        let layout = layouts::load("plain-ansi").unwrap();
        let routes = RouteTable::build(&layout);
        let text = "low water, 05:40\n";
        let line: Vec<Output> = text.chars().map(crate::survey::output_of).collect();
        let lines = Need::of_lines(&routes, vec![(line, PAGE / text.len() as f64)]);
        let counts = Need::of_counts(&routes, &Counts::of(text));
        for ((from, key), times) in &lines.arrivals {
            let other = counts.arrivals.get(&(*from, key.clone())).copied().unwrap_or(0.0);
            assert!((times - other).abs() < 1e-9, "{from:?} {key:?}: {times} {other}");
        }
        assert_eq!(lines.arrivals.len(), counts.arrivals.len());
        assert_eq!(lines.items.len(), counts.items.len());
    }

    #[test]
    fn lines_are_counted_one_by_one() {
        let layout = layouts::load("plain-ansi").unwrap();
        let routes = RouteTable::build(&layout);
        let line: Vec<Output> = "aba".chars().map(Output::char).collect();
        let need = Need::of_lines(&routes, vec![(line, 3.0)]);
        let a = (LayerId::BASE, Output::char('a'));
        assert!((need.item(&a) - 6.0).abs() < 1e-12);
        let arrivals: Vec<_> = need.arrivals().map(|(from, _, times)| (from, times)).collect();
        assert_eq!(arrivals, [(None, 3.0), (Some(LayerId::BASE), 3.0), (Some(LayerId::BASE), 3.0)]);
        assert_eq!(need.switches().count(), 0);
    }
}
