//! How often items and switches are needed.
//!
//! Counted in the material that ships, each file standing for a kind of work;
//! a person's own mix of work weighs them. The material is our own, made to
//! be practised: it is richer in symbols and figures than everyday text, so
//! that the counts are a start until the person's own text has been counted.

use crate::drill::{DrillError, ItemKey, Piece, Speller, SwitchKey, shipped};
use crate::keyboard::{NamedKey, Output};
use crate::layout::RouteTable;
use crate::survey::{Counts, Habits, Surveyed, Work, WorkMix, output_of};
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
    own: bool,
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

    /// What a page of the person's text needs: by their own texts where those
    /// were counted, else by the stated mix of work.
    ///
    /// # Errors
    /// As [`Need::of`].
    pub fn of_text(routes: &RouteTable, surveyed: Option<&Surveyed>) -> Result<Self, DrillError> {
        match surveyed {
            Some(own) => {
                Ok(Self { own: true, ..Self::of_counts(routes, &own.counts, |_, _| true) })
            }
            None => Self::of(routes, &WorkMix::default()),
        }
    }

    /// The same with what the work needs besides text.
    ///
    /// # Errors
    /// As [`Need::of`].
    pub fn of_work(routes: &RouteTable, surveyed: Option<&Surveyed>) -> Result<Self, DrillError> {
        let assumed = || Habits::of(&WorkMix::default());
        let habits = surveyed.map_or_else(assumed, |own| own.habits);
        Ok(Self::of_text(routes, surveyed)?.with(routes, &habits))
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

    /// What a page of a text with these `counts` needs: of its pairs `wanted`
    /// picks those that count, each with the second character struck right
    /// after the first. The first goes by its preferred route, since no more
    /// is known of what stood before. Characters without one before them, and
    /// pairs with one that the layout can't give, are left out.
    pub fn of_counts(
        routes: &RouteTable,
        counts: &Counts,
        wanted: impl Fn(char, char) -> bool,
    ) -> Self {
        let mut need = Self::default();
        let each = PAGE / (counts.total() as f64).max(1.0);
        for (&(a, b), &times) in counts.pairs.iter().filter(|((a, b), _)| wanted(*a, *b)) {
            let (Some(one), Some(other)) = (output_of(a), output_of(b)) else { continue };
            let Some(before) = routes.to(&one) else { continue };
            let Some(route) = routes.after(Some(before), &other, &[]) else { continue };
            let (times, key) = (times as f64 * each, (route.layer, other));
            *need.items.entry(key.clone()).or_default() += times;
            *need.arrivals.entry((Some(before.layer), key)).or_default() += times;
            if before.layer != route.layer {
                *need.switches.entry((before.layer, route.layer)).or_default() += times;
            }
        }
        need
    }

    /// The same with what work needs besides text. Of keys that several layers
    /// have, the preferred one counts; keys that the layout lacks don't.
    #[must_use]
    pub fn with(self, routes: &RouteTable, habits: &Habits) -> Self {
        self.with_those(routes, habits, |output| routes.preferred(output).is_some())
    }

    /// The same with those keys of `habits` that are `wanted`. Chords by hand
    /// count where `routes` has taken them in ([`RouteTable::add_chords`]).
    #[must_use]
    pub fn with_those(
        mut self,
        routes: &RouteTable,
        habits: &Habits,
        wanted: impl Fn(&Output) -> bool,
    ) -> Self {
        let base = crate::layout::LayerId::BASE;
        for (output, each) in habits.keys() {
            if each <= 0.0 || !wanted(&output) {
                continue;
            }
            let Some(route) = routes.to(&output) else { continue };
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

    /// True where the person's own texts were counted.
    pub const fn is_own(&self) -> bool {
        self.own
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

    /// By hand: of ten characters two are "{": 360 of 1800, all entered from the
    /// base layer.
    #[test]
    fn what_was_counted_takes_the_place_of_what_is_assumed() {
        let layout = crate::layout::shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let habits = Habits { moves: 0.0, ..Habits::assumed(Work::Code) };
        let own = Surveyed { counts: Counts::of("aa{aaa{aaa"), habits, promises: Vec::new() };
        let text = Need::of_text(&routes, Some(&own)).unwrap();
        let symbols = layout.layer_named("symbols").unwrap();
        let brace = (symbols, Output::char('{'));
        assert!((text.item(&brace) - 360.0).abs() < 1e-9, "{}", text.item(&brace));
        let base = crate::layout::LayerId::BASE;
        assert!((text.switch(&(base, symbols)) - 360.0).abs() < 1e-9);
        let right = Output::Key(NamedKey::ArrowRight);
        let moves = |need: &Need| {
            need.items().filter(|(key, _)| key.1 == right).map(|(_, times)| times).sum::<f64>()
        };
        assert!(moves(&Need::of_work(&routes, Some(&own)).unwrap()) <= 0.0);
        assert!(moves(&Need::of_work(&routes, None).unwrap()) > 0.0);
        assert_eq!(
            Need::of_text(&routes, None).unwrap(),
            Need::of(&routes, &WorkMix::default()).unwrap()
        );
    }
}
