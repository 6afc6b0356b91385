//! How long a page of the person's text takes, now and in the coming days.

use super::belief::{Beliefs, Course, ItemBelief};
use super::need::Need;
use super::value::ERROR_KEYS;
use crate::drill::{ItemKey, SwitchKey};
use crate::layout::{Layout, RouteTable};
use crate::model::hands::Findings;
use crate::plan::Watch;
use std::collections::BTreeMap;

/// An item or switch counts as measured from so many latencies on.
const LEAST_MEASURED: u64 = 3;
/// 90 % of a normal distribution lie within so many standard deviations.
const Z90: f64 = 1.6449;

/// The time that a page of text takes, from typical times of its keys.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    parts: Vec<Part>,
    items: Vec<(ItemKey, ItemBelief)>,
    /// What is known of each switch, and its way back, into the same.
    switches: Vec<(Course, Option<usize>)>,
    /// The share of the page's strokes whose key was measured, 0 to 1; the rest
    /// goes by what is assumed of somebody who touch-types.
    pub measured: f64,
}

/// A stroke of the page: how often, on what, after a switch or not.
#[derive(Debug, Clone, PartialEq)]
struct Part {
    times: f64,
    /// Into [`Pace::items`].
    item: usize,
    /// Into [`Pace::switches`].
    switch: Option<usize>,
}

/// A page's time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageTime {
    /// Seconds.
    pub seconds: f64,
    /// Its standard error, seconds: from the errors of all keys and switches,
    /// taken as independent (the delta method).
    pub error: f64,
}

impl PageTime {
    /// Lower and upper end of the 90 % interval, seconds.
    pub fn interval(self) -> (f64, f64) {
        (self.seconds - Z90 * self.error, self.seconds + Z90 * self.error)
    }

    /// How much longer than `other` it takes, as a share, with the 90 %
    /// interval: −0.1 is a tenth less.
    pub fn against(self, other: Self) -> (f64, f64, f64) {
        let ln = (self.seconds / other.seconds).ln();
        let error =
            ((self.error / self.seconds).powi(2) + (other.error / other.seconds).powi(2)).sqrt();
        let share = |ln: f64| ln.exp_m1();
        (share(ln), share(ln - Z90 * error), share(ln + Z90 * error))
    }
}

impl Pace {
    /// Of a page as `need` has it, by what `findings` know of the hands on
    /// `layout`.
    pub fn new(layout: &Layout, routes: &RouteTable, need: &Need, findings: &Findings) -> Self {
        let watch = Watch::new(layout, routes).and_by_hand(routes).told(findings);
        Self::believing(watch.switching_alike(findings).beliefs(), need, findings)
    }

    /// The same for somebody who has typed on `layout` for years: what isn't
    /// measured goes by [`Watch::of_years`].
    pub fn of_years(
        layout: &Layout,
        routes: &RouteTable,
        need: &Need,
        findings: &Findings,
    ) -> Self {
        let watch = Watch::of_years(layout, routes, findings).told(findings);
        Self::believing(watch.beliefs(), need, findings)
    }

    fn believing(beliefs: &Beliefs, need: &Need, findings: &Findings) -> Self {
        let mut known: BTreeMap<ItemKey, bool> = BTreeMap::new();
        for (item, finding) in &findings.items {
            let enough = finding.latency.is_some_and(|latency| latency.n >= LEAST_MEASURED);
            *known.entry((item.layer, item.output.clone())).or_default() |= enough;
        }
        let (mut measured, mut all) = (0.0, 0.0);
        let (mut parts, mut items, mut switches) = (Vec::new(), Vec::new(), Vec::new());
        let mut places: BTreeMap<&ItemKey, usize> = BTreeMap::new();
        let mut ways: BTreeMap<SwitchKey, usize> = BTreeMap::new();
        for (from, item, times) in need.arrivals() {
            let Some(belief) = beliefs.items.get(item) else { continue };
            all += times;
            measured += if known.get(item).copied().unwrap_or(false) { times } else { 0.0 };
            let pair = from.filter(|from| *from != item.0).map(|from| (from, item.0));
            let switch = pair.and_then(|pair| Some((pair, beliefs.switches.get(&pair)?)));
            let switch = switch.map(|(pair, belief)| {
                *ways.entry(pair).or_insert_with(|| {
                    switches.push((belief.course, None));
                    switches.len() - 1
                })
            });
            let place = *places.entry(item).or_insert_with(|| {
                items.push((item.clone(), *belief));
                items.len() - 1
            });
            parts.push(Part { times, item: place, switch });
        }
        for ((from, to), place) in &ways {
            switches[*place].1 = ways.get(&(*to, *from)).copied();
        }
        let measured = if all > 0.0 { measured / all } else { 0.0 };
        Self { parts, items, switches, measured }
    }

    /// The page now. An error costs its key three times more (docs/plan.md).
    pub fn now(&self) -> PageTime {
        self.after(0, |_| 0.0)
    }

    /// How often a day each switch is repeated, where each item is repeated
    /// `per_day` times, as often right after a switch as on the page. Who enters a
    /// layer leaves it too, so that each way comes as often as the one back.
    fn switched(&self, per_day: impl Fn(&ItemKey) -> f64) -> Vec<f64> {
        let mut strokes = vec![0.0; self.items.len()];
        for part in &self.parts {
            strokes[part.item] += part.times;
        }
        let each: Vec<f64> = self
            .items
            .iter()
            .zip(&strokes)
            .map(|((key, _), all)| per_day(key) / all.max(f64::MIN_POSITIVE))
            .collect();
        let mut times = vec![0.0_f64; self.switches.len()];
        for (part, place) in self.parts.iter().filter_map(|part| Some((part, part.switch?))) {
            times[place] += part.times * each[part.item];
        }
        let back = |place: usize| self.switches[place].1.map_or(0.0, |back| times[back]);
        (0..times.len()).map(|place| times[place].max(back(place))).collect()
    }

    /// The page after so many days with so many repetitions of each item a day,
    /// and of the switches that come with them.
    pub fn after(&self, days: u32, per_day: impl Fn(&ItemKey) -> f64) -> PageTime {
        // ln of the ratio of each switch then, with its error.
        let switches: Vec<(f64, f64)> = self
            .switches
            .iter()
            .zip(self.switched(&per_day))
            .map(|((course, _), a_day)| {
                Course { times: course.times + f64::from(days) * a_day, ..*course }.log()
            })
            .collect();
        // ln ms of each item then, with its error, and what its slips cost.
        let then: Vec<(f64, f64, f64)> = self
            .items
            .iter()
            .map(|(key, belief)| {
                let times = belief.course.times + f64::from(days) * per_day(key);
                let (log, error) = Course { times, ..belief.course }.log();
                (log, error, belief.error_rate() * ERROR_KEYS * log.exp())
            })
            .collect();
        let mut sum = 0.0;
        let (mut of_items, mut of_switches) =
            (vec![0.0; then.len()], vec![0.0; self.switches.len()]);
        for part in &self.parts {
            let (log, _, slips) = then[part.item];
            let ratio = part.switch.map_or(0.0, |place| switches[place].0.max(0.0));
            let arriving = part.times * (log + ratio).exp() / 1000.0;
            let all = arriving + part.times * slips / 1000.0;
            sum += all;
            of_items[part.item] += all;
            if let Some(place) = part.switch {
                of_switches[place] += arriving;
            }
        }
        let of_items = of_items.iter().zip(then.iter().map(|item| item.1));
        let of_switches = of_switches.iter().zip(switches.iter().map(|switch| switch.1));
        let variance: f64 =
            of_items.chain(of_switches).map(|(seconds, error)| (seconds * error).powi(2)).sum();
        PageTime { seconds: sum, error: variance.sqrt() }
    }

    /// The days from now between which the page comes to take no longer than
    /// `target`, with 90 % certainty, looking `horizon` days ahead: the later
    /// end is none where it lies beyond. None where it is not on this course.
    pub fn reach(
        &self,
        target: PageTime,
        horizon: u32,
        per_day: impl Fn(&ItemKey) -> f64,
    ) -> Option<(u32, Option<u32>)> {
        // Times fall all the way, so that halving finds the day.
        let first = |met: &dyn Fn(u32) -> bool| {
            if !met(horizon) {
                return None;
            }
            let (mut low, mut high) = (0, horizon);
            while low < high {
                let middle = low.midpoint(high);
                if met(middle) { high = middle } else { low = middle + 1 }
            }
            Some(low)
        };
        let at = |days| self.after(days, &per_day).against(target);
        first(&|days| at(days).0 <= 0.0)?;
        let early = first(&|days| at(days).1 <= 0.0)?;
        Some((early, first(&|days| at(days).2 <= 0.0)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Output;
    use crate::layout::shipped;

    /// By hand: 10 × "ab" a page at the assumed 200 ms and 1 error in 40.
    #[test]
    fn a_page_of_letters_takes_what_its_letters_take() {
        let layout = shipped::load("plain-ansi").unwrap();
        let routes = RouteTable::build(&layout);
        let line: Vec<Output> = "ab".chars().map(Output::char).collect();
        let need = Need::of_lines(&routes, vec![(line, 10.0)]);
        let pace = Pace::new(&layout, &routes, &need, &Findings::default());
        let now = pace.now();
        let by_hand = 20.0 * 0.2 * (1.0 + 3.0 / 40.0);
        assert!((now.seconds / by_hand - 1.0).abs() < 0.001, "{now:?} {by_hand}");
        // Two letters, each half of the page, each known to a factor of e^0.35.
        assert!((now.error / (by_hand / 2.0 * 0.35 * 2.0_f64.sqrt()) - 1.0).abs() < 0.01);
        assert!(pace.measured.abs() < 1e-12);
        let later = pace.after(100, |_| 50.0);
        assert!(later.seconds < now.seconds);
        let (share, low, high) = later.against(now);
        assert!(share < 0.0 && low < share && share < high);
    }

    #[test]
    fn a_target_is_reached_or_not() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let line: Vec<Output> = "{a}".chars().map(Output::char).collect();
        let need = Need::of_lines(&routes, vec![(line, 10.0)]);
        let pace = Pace::new(&layout, &routes, &need, &Findings::default());
        let now = pace.now();
        let target = |share: f64| PageTime { seconds: now.seconds * share, error: 0.0 };
        let (early, _) = pace.reach(target(0.9), 365, |_| 20.0).unwrap();
        let (late, _) = pace.reach(target(0.8), 365, |_| 20.0).unwrap();
        assert!(early <= late, "{early} {late}");
        assert_eq!(pace.reach(target(0.01), 365, |_| 20.0), None);
        assert_eq!(pace.reach(target(2.0), 365, |_| 20.0).map(|r| r.0), Some(0));
    }
}
