//! What the thumbs do: their keys, the presses that fall to each finger, and
//! Shift by thumb against the old way.
//!
//! All of it from the sums by item and by switch; what only the order of
//! presses could tell (which finger struck before) is not in them.

use super::old_way::{OldItems, mix};
use super::{ItemProgress, SwitchProgress};
use crate::keyboard::{Digit, Finger, Hand, Modifiers, Output, Position};
use crate::layout::{AccessKind, AccessStep, LayerId, Layout, Route, RouteTable, Target};
use crate::order::{Gather, InOrder};
use crate::session::{Change, Spread};
use crate::store::{Figures, Sketch};
use std::collections::BTreeMap;

/// With fewer presses of the thumbs nothing is said of who has more.
const LEAST_PRESSES: u64 = 100;
/// A thumb with so many times the presses of the other has clearly more. A
/// bound of our own, no source.
const CLEARLY_MORE: f64 = 2.0;

/// What the thumbs do.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Thumbs {
    /// Presses of each finger that strikes any: of keys that were due, and of
    /// the access keys on the way to them.
    pub fingers: BTreeMap<Finger, u64>,
    /// The keys that thumbs strike, most presses first.
    pub keys: Vec<ThumbKey>,
    /// Shift by thumb; none where the layout has none or it was never due.
    pub shift: Option<ShiftByThumb>,
}

/// A key that a thumb strikes.
#[derive(Debug, Clone, PartialEq)]
pub struct ThumbKey {
    /// Where it lies.
    pub position: Position,
    /// The thumb.
    pub finger: Finger,
    /// What it gives and opens, most struck first, as in `Space` or `symbols`.
    pub uses: Vec<String>,
    /// Its presses as a key of its own, with their times.
    pub struck: Figures,
    /// Its presses on the way to another key.
    pub n_access: u64,
    /// Of the keys on whose way it lay, how many the other hand struck, 0 to 1;
    /// none where it lay on no way.
    pub alternating: Option<f64>,
}

impl ThumbKey {
    /// All its presses.
    pub fn n_presses(&self) -> u64 {
        self.struck.n_keystrokes + self.n_access
    }
}

/// What needs Shift, with Shift by thumb.
#[derive(Debug, Clone, PartialEq)]
pub struct ShiftByThumb {
    /// All of it.
    pub now: Option<Spread>,
    /// Those outputs of it that the old way measured, here.
    pub shared: Option<Spread>,
    /// The same outputs on the old way, each as often as here.
    pub old_way: Option<Spread>,
}

impl ShiftByThumb {
    /// Here against the old way; none where that isn't measured.
    pub fn change(&self) -> Option<Change> {
        Some(Change::of(self.shared.as_ref()?, self.old_way.as_ref()?))
    }
}

impl Thumbs {
    /// Presses of all fingers.
    pub fn n_presses(&self) -> u64 {
        self.fingers.values().sum()
    }

    /// The share of all presses that `finger` has, 0 to 1.
    pub fn share(&self, finger: Finger) -> f64 {
        let n = self.fingers.get(&finger).copied().unwrap_or(0);
        n as f64 / self.n_presses().max(1) as f64
    }

    /// The thumb that has clearly more presses than the other one, with how
    /// many times as many; none where neither has, or too little is known.
    pub fn busier(&self) -> Option<(Finger, f64)> {
        let n = |hand| self.fingers.get(&Finger::new(hand, Digit::Thumb)).copied().unwrap_or(0);
        let (left, right) = (n(Hand::Left), n(Hand::Right));
        let times = left.max(right) as f64 / left.min(right).max(1) as f64;
        let hand = if left > right { Hand::Left } else { Hand::Right };
        (left + right >= LEAST_PRESSES && times >= CLEARLY_MORE)
            .then_some((Finger::new(hand, Digit::Thumb), times))
    }

    /// Who has clearly more, or that neither has, in a few words; none where
    /// too little is known.
    pub fn words(&self) -> Option<String> {
        let thumbs = [Hand::Left, Hand::Right].map(|hand| Finger::new(hand, Digit::Thumb));
        let struck = thumbs.iter().filter_map(|thumb| self.fingers.get(thumb)).sum::<u64>();
        if struck < LEAST_PRESSES {
            return None;
        }
        let shares = thumbs.map(|thumb| self.share(thumb) * 100.0);
        let told = format!(
            "left {:.1} %, right {:.1} % of {} presses",
            shares[0],
            shares[1],
            self.n_presses()
        );
        Some(match self.busier() {
            Some((finger, times))
                if thumbs.iter().all(|thumb| self.fingers.contains_key(thumb)) =>
            {
                format!("{told}; {} {times:.1} times as many", finger.hand.word())
            }
            Some((finger, _)) => format!("{told}; all by the {}", finger.hand.word()),
            None => format!("{told}; neither has clearly more"),
        })
    }

    /// From the sums of a layout by item and by switch.
    pub(super) fn of(
        layout: &Layout,
        routes: &RouteTable,
        items: &[ItemProgress],
        switches: &[SwitchProgress],
        old: &OldItems,
    ) -> Self {
        let outputs: Vec<Option<Output>> =
            items.iter().map(|item| item.name.output.parse().ok()).collect();
        let mut routes = RouteTable::clone(routes);
        routes.add_chords(layout, outputs.iter().flatten());
        let mut counter = Counter::new(layout, items, switches);
        let (mut everything, mut shared) = (Sketch::default(), Sketch::default());
        let mut parts: Vec<(f64, &Sketch)> = Vec::new();
        let mut by_thumb = false;
        for (item, output) in items.iter().zip(&outputs) {
            let Some(position) = item.name.position.filter(|_| item.all.n_keystrokes > 0) else {
                continue;
            };
            let layer = layout.layer_named(&item.name.layer);
            let route =
                output.as_ref().and_then(|output| route_at(&routes, output, layer, position));
            counter.take(item, position, route);
            if route.is_some_and(|route| route.accesses.iter().any(|step| is_thumb_shift(*step))) {
                by_thumb = true;
                everything.merge(&item.all.latency);
                if let Some(before) = old.latency(&item.name.output) {
                    shared.merge(&item.all.latency);
                    parts.push((item.all.latency.count() as f64, before));
                }
            }
        }
        let shift = by_thumb.then(|| ShiftByThumb {
            now: everything.spread(),
            shared: shared.spread(),
            old_way: mix(&parts),
        });
        let (fingers, keys) = counter.close();
        Self { fingers, keys, shift }
    }
}

fn is_thumb_shift(step: AccessStep) -> bool {
    step.finger.digit == Digit::Thumb
        && matches!(step.access.target, Target::Modifier(held) if held == Modifiers::SHIFT)
}

/// The route to `output` by the key at `position` on `layer`.
fn route_at<'a>(
    routes: &'a RouteTable,
    output: &Output,
    layer: Option<LayerId>,
    position: Position,
) -> Option<&'a Route> {
    let here = |route: &&Route| Some(route.layer) == layer && route.position == position;
    routes.all(output).iter().find(here).or_else(|| routes.by_hand(output).filter(here))
}

#[derive(Default)]
struct Gathered {
    struck: Figures,
    access: f64,
    alternating: f64,
    uses: BTreeMap<String, f64>,
}

/// Adds up presses by finger and key.
struct Counter<'a> {
    layout: &'a Layout,
    /// How often a layer is come to for one key that is due on it, 0 to 1.
    per_key: BTreeMap<&'a str, f64>,
    fingers: BTreeMap<Finger, f64>,
    keys: BTreeMap<Position, (Finger, Gathered)>,
}

impl<'a> Counter<'a> {
    fn new(layout: &'a Layout, items: &'a [ItemProgress], switches: &'a [SwitchProgress]) -> Self {
        let mut due: BTreeMap<&str, u64> = BTreeMap::new();
        for item in items {
            *due.entry(item.name.layer.as_str()).or_default() += item.all.n_keystrokes;
        }
        let mut come: BTreeMap<&str, u64> = BTreeMap::new();
        for switch in switches.iter().filter(|switch| switch.from != switch.to) {
            *come.entry(switch.to.as_str()).or_default() += switch.all.n_keystrokes;
        }
        let per_key = due
            .into_iter()
            .map(|(layer, n)| {
                let arrivals = come.get(layer).copied().unwrap_or(0);
                (layer, (arrivals as f64 / n.max(1) as f64).min(1.0))
            })
            .gather();
        Self { layout, per_key, fingers: BTreeMap::new(), keys: BTreeMap::new() }
    }

    fn take(&mut self, item: &ItemProgress, position: Position, route: Option<&Route>) {
        let n = item.all.n_keystrokes as f64;
        let of_board = || {
            let own = self.layout.fingers.get(&position).copied();
            own.or_else(|| Some(self.layout.board.site(position)?.finger))
        };
        let Some(finger) = route.map(|route| route.finger).or_else(of_board) else { return };
        *self.fingers.entry(finger).or_default() += n;
        if finger.digit == Digit::Thumb {
            let (_, key) = self.keys.entry(position).or_insert((finger, Gathered::default()));
            key.struck.merge(&item.all);
            *key.uses.entry(item.name.output.clone()).or_default() += n;
        }
        for step in route.iter().flat_map(|route| &route.accesses) {
            // A held layer is pressed once for a run of its keys.
            let held = matches!(step.access.target, Target::Layer(_))
                && step.access.kind != AccessKind::Latch;
            let per_key = self.per_key.get(item.name.layer.as_str()).copied().unwrap_or(1.0);
            let presses = if held { n * per_key } else { n };
            *self.fingers.entry(step.finger).or_default() += presses;
            if step.finger.digit != Digit::Thumb {
                continue;
            }
            let empty = (step.finger, Gathered::default());
            let (_, key) = self.keys.entry(step.position).or_insert(empty);
            key.access += presses;
            if finger.hand != step.finger.hand {
                key.alternating += presses;
            }
            let opens = match step.access.target {
                Target::Layer(layer) => self.layout.layer(layer).name.clone(),
                Target::Modifier(held) => held.to_string(),
            };
            *key.uses.entry(opens).or_default() += presses;
        }
    }

    fn close(self) -> (BTreeMap<Finger, u64>, Vec<ThumbKey>) {
        let whole = |n: f64| n.round() as u64;
        let mut keys: Vec<ThumbKey> = self
            .keys
            .into_iter()
            .map(|(position, (finger, key))| {
                let mut uses: Vec<(String, f64)> = key.uses.into_iter().collect();
                uses.order_by(|a, b| b.1.total_cmp(&a.1));
                let named = |(name, _): (String, f64)| {
                    if name == " " { "Space".to_owned() } else { name }
                };
                ThumbKey {
                    position,
                    finger,
                    uses: uses.into_iter().map(named).collect(),
                    struck: key.struck,
                    n_access: whole(key.access),
                    alternating: (key.access > 0.0).then(|| key.alternating / key.access),
                }
            })
            .collect();
        keys.order_by_key(|key| std::cmp::Reverse(key.n_presses()));
        let fingers = self.fingers.into_iter().map(|(finger, n)| (finger, whole(n))).gather();
        (fingers, keys)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::progress::Lately;
    use crate::store::ItemName;
    use crate::units::Micros;

    fn figures(n: u64, ms: u64) -> Figures {
        let mut latency = Sketch::default();
        for k in 0..n {
            latency.add(Micros::from_ms(ms + k % 20));
        }
        Figures { n_keystrokes: n, n_hits: n, latency, ..Figures::default() }
    }

    fn item(layout: &Layout, output: &str, n: u64) -> ItemProgress {
        let routes = RouteTable::build(layout);
        let route = routes.preferred(&output.parse().unwrap()).unwrap().clone();
        let layer = layout.layer(route.layer).name.clone();
        let name = ItemName { layer, position: Some(route.position), output: output.to_owned() };
        let all = figures(n, 200);
        ItemProgress { name, all, lately: Lately::default(), old_way: None, outlook: None }
    }

    fn of(items: &[ItemProgress], switches: &[SwitchProgress], old: &OldItems) -> Thumbs {
        let layout = shipped::load("tern-split").unwrap();
        Thumbs::of(&layout, &RouteTable::build(&layout), items, switches, old)
    }

    fn key<'a>(thumbs: &'a Thumbs, one: &str) -> &'a ThumbKey {
        thumbs.keys.iter().find(|key| key.uses.iter().any(|name| name == one)).unwrap()
    }

    #[test]
    fn presses_are_counted_with_the_keys_on_the_way() {
        let layout = shipped::load("tern-split").unwrap();
        let items = [
            item(&layout, "a", 60),
            item(&layout, "A", 20),
            item(&layout, "Enter", 10),
            item(&layout, "[", 30),
        ];
        // Of 30 keys on the layer 12 were come to from another one.
        let switch = |from: &str, to: &str, n| SwitchProgress {
            from: from.to_owned(),
            to: to.to_owned(),
            all: figures(n, 200),
            told: None,
            parts: None,
        };
        let symbols = items[3].name.layer.as_str();
        let switches = [switch("base", symbols, 12), switch(symbols, symbols, 18)];
        let thumbs = of(&items, &switches, &OldItems::default());
        // 60 + 20 + 10 + 30 keys, 20 times Shift, 12 times the layer.
        assert_eq!(thumbs.n_presses(), 152);
        assert_eq!(key(&thumbs, "Shift").n_access, 20);
        assert_eq!(key(&thumbs, symbols).n_access, 12);
        let enter = key(&thumbs, "Enter");
        assert_eq!((enter.struck.n_keystrokes, enter.struck.spread().unwrap().n), (10, 10));
        let thumb_presses: u64 = thumbs.keys.iter().map(ThumbKey::n_presses).sum();
        assert_eq!(thumb_presses, 42);
        // Shift lies under the right thumb, and the left hand strikes A.
        assert_eq!(key(&thumbs, "Shift").alternating, Some(1.0));
        assert_eq!(enter.alternating, None, "it opens nothing");
        assert!(thumbs.keys.is_sorted_by(|a, b| a.n_presses() >= b.n_presses()));
        assert_eq!(thumbs.words(), None, "too few to tell");
    }

    #[test]
    fn the_busier_thumb_is_named_only_where_it_is_clear() {
        let thumbs = |left: u64, right: u64| Thumbs {
            fingers: [("L1", left), ("R1", right), ("L2", 100)]
                .map(|(finger, n)| (finger.parse().unwrap(), n))
                .into(),
            ..Thumbs::default()
        };
        assert_eq!(thumbs(30, 60).words(), None);
        assert_eq!(
            thumbs(150, 50).words().unwrap(),
            "left 50.0 %, right 16.7 % of 300 presses; left 3.0 times as many"
        );
        assert!(thumbs(60, 50).words().unwrap().ends_with("neither has clearly more"));
    }

    #[test]
    fn shift_by_thumb_is_compared_with_the_same_outputs_on_the_old_way() {
        let layout = shipped::load("tern-split").unwrap();
        let items = [item(&layout, "A", 40), item(&layout, "B", 40), item(&layout, "a", 40)];
        let of_old = |output: &str, ms| {
            let name =
                ItemName { layer: "base".to_owned(), position: None, output: output.to_owned() };
            (name, figures(40, ms))
        };
        let old = OldItems::of([of_old("A", 320), of_old("a", 90)].into());
        let shift = of(&items, &[], &old).shift.unwrap();
        assert_eq!((shift.now.unwrap().n, shift.shared.unwrap().n), (80, 40));
        let before = shift.old_way.unwrap();
        assert!((before.median.as_ms() - 330.0).abs() < 10.0, "{}", before.median);
        assert_eq!(shift.change(), Some(Change::Faster));
        let without = of(&items, &[], &OldItems::default()).shift.unwrap();
        assert_eq!((without.change(), without.old_way), (None, None));
        assert_eq!(of(&items[2..], &[], &old).shift, None);
    }
}
