//! Which layer first: what each would save a working day, and the practice
//! until it does.
//!
//! A cluster's part of the work are its outputs and what is struck right
//! before or after them: pairs that touch it, and its keys of the habits. That
//! part is priced on the layout and on the old way; the difference is what the
//! cluster saves. A pair that touches two clusters counts for both, so that the
//! savings of clusters don't add up.

use super::cost::Known;
use super::{Counts, Habits, output_of};
use crate::drill::ItemKey;
use crate::keyboard::{Output, Position};
use crate::layout::{Cluster, LayerId, Layout, RouteTable};
use crate::model::hands::Findings;
use crate::order::{Gather, InOrder};
use crate::plan::{Need, PAGE, Pace, PageTime};
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// Practice a day, minutes.
pub const MINUTES_A_DAY: f64 = 10.0;
/// The forecast looks so many days of practice ahead.
pub const DAYS: u32 = 30;
/// Breaking even is looked for so many days of practice ahead.
const HORIZON: u32 = 365;
/// 90 % of a normal distribution lie within so many standard deviations.
const Z90: f64 = 1.6449;

/// What may be learnt by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// The layers of a cluster.
    Cluster(Cluster),
    /// Thumb keys of the base layer other than Space.
    Thumbs,
}

impl Part {
    /// Every part, in no order of worth.
    pub const ALL: [Self; 6] = [
        Self::Cluster(Cluster::Punctuation),
        Self::Cluster(Cluster::Symbols),
        Self::Cluster(Cluster::Numbers),
        Self::Cluster(Cluster::Navigation),
        Self::Cluster(Cluster::Shortcuts),
        Self::Thumbs,
    ];

    /// The word that commands use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cluster(cluster) => cluster.word(),
            Self::Thumbs => "thumbs",
        }
    }

    /// The outputs that `layout` gives by this part's preferred routes.
    fn outputs(self, layout: &Layout, routes: &RouteTable) -> BTreeSet<Output> {
        let belongs = |output: &Output| {
            let Some(route) = routes.preferred(output) else { return false };
            match self {
                Self::Cluster(cluster) => layout.layer(route.layer).cluster == cluster,
                Self::Thumbs => {
                    route.layer == LayerId::BASE
                        && matches!(route.position, Position::Thumb { .. })
                        && *output != Output::char(' ')
                }
            }
        };
        routes.outputs().map(|(output, _)| output).filter(|o| belongs(o)).cloned().gather()
    }
}

/// Seconds a working day, with their 90 % interval; below zero for a loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saving {
    /// The estimate.
    pub seconds: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

impl Saving {
    /// `old` − `new` pages, their errors taken as independent of each other,
    /// `pages` of them a day.
    fn of(old: PageTime, new: PageTime, pages: f64) -> Self {
        let (seconds, error) = (old.seconds - new.seconds, old.error.hypot(new.error));
        let at = |z: f64| (seconds + z * error) * pages;
        Self { seconds: at(0.0), low: at(-Z90), high: at(Z90) }
    }

    /// True where the interval holds zero.
    pub fn is_open(self) -> bool {
        self.low <= 0.0 && self.high >= 0.0
    }

    /// In words: "saves 210 s a day (90 to 330)", "costs …", "may save or cost
    /// (−40 to 60 s a day)".
    pub fn words(self) -> String {
        let Self { seconds, low, high } = self;
        if self.is_open() {
            format!("may save or cost ({} to {} s a day)", signed(low), signed(high))
        } else if seconds > 0.0 {
            format!("saves {seconds:.0} s a day ({low:.0} to {high:.0})")
        } else {
            format!("costs {:.0} s a day ({:.0} to {:.0})", -seconds, -high, -low)
        }
    }
}

/// Whole seconds with a true minus sign.
fn signed(seconds: f64) -> String {
    // Not minus zero.
    format!("{:.0}", seconds.round() + 0.0).replace('-', "−")
}

/// One part of the ranking.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// What is to be learnt.
    pub part: Part,
    /// How often its outputs come in a working day, from text and habits.
    pub times: f64,
    /// Saved a working day, were it used now.
    pub now: Saving,
    /// Saved a working day after [`DAYS`] days of [`MINUTES_A_DAY`] minutes.
    pub later: Saving,
    /// Minutes of practice until it takes no longer than the old way; zero
    /// where it does already, none where that is more than a year away.
    pub even_minutes: Option<f64>,
    /// The share of its strokes that is measured, on the layout and on the old
    /// way, 0 to 1.
    pub measured: (f64, f64),
}

impl Ranked {
    /// Seconds a working day that the practice of the forecast wins, whether
    /// or not it brings the part level with the old way.
    pub fn won(&self) -> f64 {
        self.later.seconds - self.now.seconds
    }

    /// Why it stands where it stands, in one sentence.
    pub fn reason(&self) -> String {
        let minutes = f64::from(DAYS) * MINUTES_A_DAY;
        format!(
            "needed {:.0} times a day; {minutes:.0} min of practice win {:.0} s a day",
            self.times,
            self.won()
        )
    }

    /// When it breaks even, in words.
    pub fn even_words(&self) -> String {
        match self.even_minutes {
            Some(minutes) if minutes <= 0.0 => "no slower than the old way already".into(),
            Some(minutes) => {
                let days = (minutes / MINUTES_A_DAY).ceil();
                let s = if days > 1.0 { "s" } else { "" };
                format!("level after {minutes:.0} min of practice ({days:.0} day{s})")
            }
            None => "not level within a year on this course".into(),
        }
    }
}

/// A layout with what is known of the hands on it.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// Its routes, the chords of the habits taken in
    /// ([`RouteTable::add_chords`]).
    pub routes: &'a RouteTable,
    /// What was measured.
    pub findings: &'a Findings,
    /// What holds where nothing was measured.
    pub known: Known,
}

impl Side<'_> {
    /// The price of the part of the work that touches `outputs`.
    fn pace(&self, counts: &Counts, habits: &Habits, outputs: &BTreeSet<Output>) -> (Need, Pace) {
        let touches = |c: char| output_of(c).is_some_and(|output| outputs.contains(&output));
        let need = Need::of_counts(self.routes, counts, |a, b| touches(a) || touches(b));
        let need = need.with_those(self.routes, habits, |output| outputs.contains(output));
        let pace = match self.known {
            Known::Letters => Pace::new(self.layout, self.routes, &need, self.findings),
            Known::Everything => Pace::of_years(self.layout, self.routes, &need, self.findings),
        };
        (need, pace)
    }
}

/// What each part of `new` saves against `old` on a person's work. First comes
/// what is level with the old way after least practice, and of parts alike in
/// that the one that saves more later; then what is not level within a year, by
/// what practice wins. Outputs that one of the two can't give count on
/// neither side; parts that the work never needs are left out.
pub fn first(counts: &Counts, habits: &Habits, new: Side, old: Side) -> Vec<Ranked> {
    let pages = habits.typed * habits.hours / PAGE;
    let on_both =
        |output: &Output| new.routes.to(output).is_some() && old.routes.to(output).is_some();
    // The text that both can give.
    let both = |c: char| output_of(c).is_some_and(|output| on_both(&output));
    let mut shared = counts.clone();
    shared.pairs.retain(|(a, b), _| both(*a) && both(*b));
    let whole = (counts.total() as f64).max(1.0);
    let mut ranking = Vec::new();
    for part in Part::ALL {
        let mut outputs = part.outputs(new.layout, new.routes);
        outputs.retain(|output| on_both(output));
        let from_text: f64 = shared
            .chars
            .iter()
            .filter(|(c, _)| output_of(**c).is_some_and(|output| outputs.contains(&output)))
            .map(|(_, times)| *times as f64 / whole)
            .sum();
        let keys = habits.keys();
        let wanted = keys.iter().filter(|(output, _)| outputs.contains(output));
        let times = (from_text + wanted.map(|(_, each)| each).sum::<f64>()) * PAGE * pages;
        if times <= 0.0 {
            continue;
        }
        let (need, pace) = new.pace(&shared, habits, &outputs);
        let (_, before) = old.pace(&shared, habits, &outputs);
        let before_time = before.now();
        // Practice strikes the part's own keys, each as often as work needs
        // it, at the pace that they have at first.
        let own: BTreeMap<&ItemKey, f64> =
            need.items().filter(|(key, _)| outputs.contains(&key.1)).gather();
        let strokes: f64 = own.values().sum();
        let of_all: f64 = need.arrivals().map(|(_, _, times)| times).sum();
        let seconds = pace.now().seconds / of_all.max(f64::MIN_POSITIVE);
        let per_day = |key: &ItemKey| {
            let share = own.get(key).map_or(0.0, |times| times / strokes);
            share * MINUTES_A_DAY * 60.0 / seconds.max(0.01)
        };
        ranking.push(Ranked {
            part,
            times,
            now: Saving::of(before_time, pace.now(), pages),
            later: Saving::of(before_time, pace.after(DAYS, per_day), pages),
            even_minutes: even(&pace, before_time, per_day),
            measured: (pace.measured, before.measured),
        });
    }
    ranking.order_by(order);
    ranking
}

fn order(a: &Ranked, b: &Ranked) -> Ordering {
    let worth = match (a.even_minutes, b.even_minutes) {
        (Some(a_minutes), Some(b_minutes)) => {
            a_minutes.total_cmp(&b_minutes).then(b.later.seconds.total_cmp(&a.later.seconds))
        }
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => b.won().total_cmp(&a.won()),
    };
    worth.then(a.part.cmp(&b.part))
}

/// Minutes of practice until the page takes no longer than `target`: within
/// the day that does it, as if times fell evenly.
fn even(pace: &Pace, target: PageTime, per_day: impl Fn(&ItemKey) -> f64) -> Option<f64> {
    let above = |day: u32| pace.after(day, &per_day).seconds - target.seconds;
    let (mut low, mut high) = (0, HORIZON);
    if above(low) <= 0.0 {
        return Some(0.0);
    }
    if above(high) > 0.0 {
        return None;
    }
    // Times fall all the way, so that halving finds the day.
    while high - low > 1 {
        let middle = low.midpoint(high);
        if above(middle) <= 0.0 { high = middle } else { low = middle }
    }
    let (before, after) = (above(low), above(high));
    let within = before / (before - after).max(f64::MIN_POSITIVE);
    Some((f64::from(low) + within) * MINUTES_A_DAY)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drill::shipped as material;
    use crate::layout::shipped;
    use crate::survey::Work;

    fn ranking(work: Work) -> Vec<Ranked> {
        let layout = shipped::load("tern-split").unwrap();
        let old = shipped::load("plain-ansi").unwrap();
        let habits = Habits::assumed(work);
        let keys: Vec<Output> = habits.keys().into_iter().map(|(key, _)| key).collect();
        let table = |layout: &Layout| {
            let mut routes = RouteTable::build(layout);
            routes.add_chords(layout, &keys);
            routes
        };
        let (routes, old_routes) = (table(&layout), table(&old));
        let material = material().unwrap();
        let pieces = match work {
            Work::Prose => &material.punctuation,
            Work::Figures => &material.numbers,
            _ => &material.symbols,
        };
        let lines: Vec<&str> = pieces.iter().map(|piece| piece.text.as_str()).collect();
        let counts = Counts::of(&lines.join("\n"));
        let findings = Findings::default();
        let new =
            Side { layout: &layout, routes: &routes, findings: &findings, known: Known::Letters };
        let old = Side {
            layout: &old,
            routes: &old_routes,
            findings: &findings,
            known: Known::Everything,
        };
        first(&counts, &habits, new, old)
    }

    /// Common practice, no source.
    #[test]
    fn the_shipped_profiles_give_the_order_of_common_practice() {
        use Cluster::{Navigation, Punctuation, Shortcuts, Symbols};
        for work in [Work::Prose, Work::Code] {
            let found = ranking(work);
            let at = |cluster| found.iter().position(|one| one.part == Part::Cluster(cluster));
            assert!(at(Shortcuts).unwrap() < at(Navigation).unwrap(), "{work:?} {found:#?}");
            let (first, second) =
                if work == Work::Prose { (Punctuation, Symbols) } else { (Symbols, Punctuation) };
            assert!(at(first).unwrap() < at(second).unwrap(), "{work:?} {found:#?}");
        }
    }

    #[test]
    fn a_new_layer_costs_at_first_and_less_with_practice() {
        for one in ranking(Work::Code) {
            assert!(one.now.low < one.now.seconds && one.now.seconds < one.now.high);
            assert!(one.won() > 0.0, "{one:?}");
            if let Some(minutes) = one.even_minutes {
                let within = minutes <= f64::from(DAYS) * MINUTES_A_DAY;
                assert_eq!(within, one.later.seconds >= 0.0, "{one:?}");
            }
            assert!(one.measured == (0.0, 0.0), "nothing was measured");
        }
    }

    /// A layout against itself, both known alike, saves nothing, and says that
    /// it can't be told.
    #[test]
    fn what_holds_zero_is_said_to() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let findings = Findings::default();
        let side =
            Side { layout: &layout, routes: &routes, findings: &findings, known: Known::Letters };
        let counts = Counts::of("a = {b, c};\nd = [e];\n");
        let found = first(&counts, &Habits::assumed(Work::Code), side, side);
        assert!(found.len() >= 3);
        for one in found {
            assert!(one.now.seconds.abs() < 1e-9 && one.now.is_open());
            assert!(one.now.words().starts_with("may save or cost (−"), "{}", one.now.words());
            assert_eq!(one.even_minutes, Some(0.0));
        }
    }

    #[test]
    fn savings_in_words() {
        let words = |seconds, low, high| Saving { seconds, low, high }.words();
        assert_eq!(words(210.0, 90.0, 330.0), "saves 210 s a day (90 to 330)");
        assert_eq!(words(-210.0, -330.0, -90.0), "costs 210 s a day (90 to 330)");
        assert_eq!(words(10.0, -40.0, 60.0), "may save or cost (−40 to 60 s a day)");
        assert_eq!(words(1.0, -0.4, 2.0), "may save or cost (0 to 2 s a day)");
    }
}
