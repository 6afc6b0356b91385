//! Why a drill is worth its minute, in one line of plain words.

use super::planner::Planner;
use super::value::{Costs, ERROR_KEYS};
use crate::drill::{ItemKey, SwitchKey, Weights};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Cluster, LayerId};
use std::collections::BTreeMap;

/// A figure whose standard error of logs is above this is told with "about".
const SURE: f64 = 0.1;

/// What a reason is made from. Figures are those that are known, not those
/// that were drawn.
pub(super) struct Why<'a, 'b> {
    pub planner: &'a Planner<'b>,
    pub costs: &'a Costs,
}

impl Why<'_, '_> {
    /// The reason for a drill about `items`.
    pub fn reason(
        &self,
        items: &[ItemKey],
        new: &[ItemKey],
        comes: &BTreeMap<ItemKey, f64>,
        weights: &Weights,
    ) -> String {
        let Some(first) = items.first() else {
            return "nothing that is needed can be gained here".to_owned();
        };
        let need = self.planner.need;
        if !new.is_empty() {
            let names: Vec<String> = new.iter().map(|(_, output)| output.to_string()).collect();
            let sum: f64 = new.iter().map(|key| need.item(key)).sum();
            let them = if new.len() == 1 { "it" } else { "them" };
            let whose = self.whose(first);
            return format!("new: {}; {whose} {them} {}", names.join(" "), often(sum));
        }
        let worth = |key: &ItemKey| {
            let times = comes.get(key).copied().unwrap_or(0.0);
            weights.items.get(key).map_or(0.0, |pull| pull.worth(0.0) * times)
        };
        let entries = |pair: &SwitchKey| {
            let times: f64 =
                comes.iter().filter(|(key, _)| key.0 == pair.1).map(|(_, times)| times).sum();
            weights.switches.get(pair).map_or(0.0, |pull| pull.worth(0.0) * times)
        };
        let best = weights
            .switches
            .keys()
            .filter(|(_, to)| *to != LayerId::BASE)
            .max_by(|a, b| entries(a).total_cmp(&entries(b)).then(b.cmp(a)));
        if let Some(pair) = best.filter(|pair| entries(pair) > worth(first)) {
            return self.of_switch(*pair);
        }
        self.of_item(first)
    }

    fn of_item(&self, key: &ItemKey) -> String {
        let Planner { need, beliefs, .. } = self.planner;
        let often = often(need.item(key));
        let (name, whose) = (key.1.to_string(), self.whose(key));
        let Some(belief) = beliefs.items.get(key) else {
            return format!("{whose} {name} {often}");
        };
        let (log, error) = belief.course.log();
        let rate = belief.error_rate();
        if rate * ERROR_KEYS > 1.0 {
            let one_in = (1.0 / rate).round();
            return format!("{name} goes wrong one time in {one_in}, and {whose} it {often}");
        }
        let ms = (log + self.usual_ratio(key)).exp();
        format!("{name} costs you {} and {whose} it {often}", told(ms, error))
    }

    fn of_switch(&self, pair: SwitchKey) -> String {
        let Planner { need, beliefs, layout, .. } = self.planner;
        let often = often(need.switch(&pair));
        let layer = layout.layer(pair.1);
        let (name, work) = (&layer.name, [Cluster::Navigation, Cluster::Shortcuts]);
        let what = if work.contains(&layer.cluster) { "work" } else { "text" };
        let whose = format!("{} {what}", self.whole());
        let Some(belief) = beliefs.switches.get(&pair) else {
            return format!("{whose} goes to {name} {often}");
        };
        let (log, error) = belief.course.log();
        let ms = self.costs.known_seconds * 1000.0 * (log.exp() - 1.0).max(0.0);
        format!("going to {name} adds {}, and {whose} does it {often}", told(ms, error))
    }

    /// Whose text and work counts: not the person's before it was surveyed.
    fn whole(&self) -> &'static str {
        if self.planner.need.is_own() { "your" } else { "ordinary" }
    }

    /// Who has the item: text, or what work needs besides it.
    fn whose(&self, key: &ItemKey) -> String {
        let what = match &key.1 {
            Output::Text(_)
            | Output::Key(NamedKey::Enter | NamedKey::Backspace | NamedKey::Tab) => "text",
            _ => "work",
        };
        format!("{} {what} has", self.whole())
    }

    /// The log ratio that getting there adds in the person's text, on average.
    fn usual_ratio(&self, key: &ItemKey) -> f64 {
        let Planner { need, beliefs, .. } = self.planner;
        let (mut sum, mut all) = (0.0, 0.0);
        for (from, _, times) in need.arrivals().filter(|(_, there, _)| *there == key) {
            let pair = from.filter(|from| *from != key.0).map(|from| (from, key.0));
            let belief = pair.and_then(|pair| beliefs.switches.get(&pair));
            sum += times * belief.map_or(0.0, |belief| belief.course.log().0.max(0.0));
            all += times;
        }
        if all > 0.0 { sum / all } else { 0.0 }
    }
}

/// ms to three figures at most; "about" in steps of ten where it is uncertain.
fn told(ms: f64, error: f64) -> String {
    if error > SURE {
        format!("about {:.0} ms", (ms / 10.0).round() * 10.0)
    } else {
        format!("{ms:.0} ms")
    }
}

/// How often something comes a page, in words.
fn often(times: f64) -> String {
    if times >= 1.5 {
        format!("{times:.0} times a page")
    } else if times >= 0.75 {
        "once a page".to_owned()
    } else if times > 0.0 {
        format!("once in {:.0} pages", (1.0 / times).round().max(2.0))
    } else {
        "hardly ever".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frequencies_in_words() {
        for (times, words) in [
            (31.2, "31 times a page"),
            (1.0, "once a page"),
            (0.24, "once in 4 pages"),
            (0.7, "once in 2 pages"),
            (0.0, "hardly ever"),
        ] {
            assert_eq!(often(times), words);
        }
        assert_eq!(told(412.4, 0.05), "412 ms");
        assert_eq!(told(412.4, 0.3), "about 410 ms");
    }
}
