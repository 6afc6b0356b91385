//! Two layouts side by side: what moved, what it costs, what is kept.

use super::{AccessKind, LayerId, Layout, Route, RouteTable, Target};
use crate::keyboard::{Finger, Modifiers, Output, Position};
use crate::order::{Gather, InOrder};
use std::collections::{BTreeMap, BTreeSet};

/// How an output is given, told by names, so that ways of two layouts can be
/// compared.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Way {
    /// The layer's name.
    pub layer: String,
    /// The access keys in order: key, finger, how, and what is opened.
    pub accesses: Vec<(Position, Finger, AccessKind, String)>,
    /// The key that is struck last.
    pub position: Position,
    /// Its finger.
    pub finger: Finger,
    /// The modifiers that are held.
    pub modifiers: Modifiers,
}

impl Way {
    /// The way of `route` on `layout`.
    pub fn of(layout: &Layout, route: &Route) -> Self {
        let target = |target: Target| match target {
            Target::Layer(id) => layout.layer(id).name.clone(),
            Target::Modifier(modifier) => modifier.to_string(),
        };
        Self {
            layer: layout.layer(route.layer).name.clone(),
            accesses: route
                .accesses
                .iter()
                .map(|step| {
                    (step.position, step.finger, step.access.kind, target(step.access.target))
                })
                .collect(),
            position: route.position,
            finger: route.finger,
            modifiers: route.modifiers,
        }
    }

    /// The keys in order: `LT2 C08`.
    pub fn keys(&self) -> String {
        let accesses = self.accesses.iter().map(|(position, ..)| position);
        let keys: Vec<String> = accesses.chain([&self.position]).map(Position::to_string).collect();
        keys.join(" ")
    }
}

/// An item by names: its layer, its key, what it gives.
pub type ItemName = (String, Position, Output);

/// The easiest way to each output by each key of each layer that gives it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ways(BTreeMap<ItemName, Way>);

/// What a change of the layout means for an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// Its way is the same: what was measured holds.
    Kept,
    /// The same output on the same layer has another way: it starts anew.
    Changed,
    /// The new layout has it no more on that layer.
    Gone,
}

impl Ways {
    /// The ways of `layout`.
    pub fn of(layout: &Layout) -> Self {
        let table = RouteTable::build(layout);
        let mut ways = BTreeMap::new();
        for (output, routes) in table.outputs() {
            // The easiest comes first.
            for route in routes {
                let way = Way::of(layout, route);
                let name = (way.layer.clone(), way.position, output.clone());
                ways.entry(name).or_insert(way);
            }
        }
        Self(ways)
    }

    /// What becomes of the item `name` of these ways where `now` is in use.
    pub fn fate(&self, name: &ItemName, now: &Self) -> Fate {
        // What no table knows (a chord by held modifiers) is left as it is.
        let Some(before) = self.0.get(name) else { return Fate::Kept };
        match now.0.get(name) {
            Some(way) if way == before => Fate::Kept,
            Some(_) => Fate::Changed,
            None => {
                let (layer, _, output) = name;
                let elsewhere = now.0.keys().any(|(l, _, o)| l == layer && o == output);
                if elsewhere { Fate::Changed } else { Fate::Gone }
            }
        }
    }
}

/// An output whose way differs.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The output.
    pub output: Output,
    /// How often a page needs it.
    pub times: f64,
    /// The way before; none where it could not be given.
    pub before: Option<Way>,
    /// The way now; none where it can't be given any more.
    pub now: Option<Way>,
    /// Its effort before, in strikes of a resting index finger; 0 without.
    pub effort_before: f32,
    /// Its effort now.
    pub effort_now: f32,
}

/// What a change costs or saves.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// How many outputs have the same preferred way.
    pub same: usize,
    /// Those whose way differs, what is needed most first.
    pub moved: Vec<Moved>,
    /// Access to each layer, where it differs: name, keys before, keys now.
    pub accesses: Vec<(String, Vec<Position>, Vec<Position>)>,
    /// The effort of a page before, accesses counted at each output.
    pub effort_before: f64,
    /// The effort of a page now.
    pub effort_now: f64,
}

/// How often a page needs each output, times a page.
pub type Needed = BTreeMap<Output, f64>;

/// What changes from `before` to `now`, where pages need outputs as `needed`
/// says. An output that one of the two can't give is left out of the effort
/// of both.
pub fn compare(before: &Layout, now: &Layout, needed: &Needed) -> Comparison {
    let (mut old, mut new) = (RouteTable::build(before), RouteTable::build(now));
    let outputs: BTreeSet<Output> = old
        .outputs()
        .chain(new.outputs())
        .filter(|(o, r)| is_own(o, r))
        .map(|(o, _)| o.clone())
        .gather();
    // What has a key on one may be a chord by hand on the other.
    old.add_chords(before, &outputs);
    new.add_chords(now, &outputs);
    let mut comparison = Comparison {
        same: 0,
        moved: Vec::new(),
        accesses: accesses(before, now),
        effort_before: 0.0,
        effort_now: 0.0,
    };
    for output in &outputs {
        let (was, is) = (old.to(output), new.to(output));
        let times = needed.get(output).copied().unwrap_or(0.0);
        let effort = |route: Option<&Route>| route.map_or(0.0, |route| route.effort);
        if was.is_some() && is.is_some() {
            comparison.effort_before += times * f64::from(effort(was));
            comparison.effort_now += times * f64::from(effort(is));
        }
        let was_way = was.map(|route| Way::of(before, route));
        let is_way = is.map(|route| Way::of(now, route));
        // Where only the Shift key is another, the key is the same.
        let shifted_same = match (&was_way, &is_way) {
            (Some(a), Some(b)) => {
                a.modifiers == Modifiers::SHIFT
                    && b.modifiers == Modifiers::SHIFT
                    && (&a.layer, a.position, a.finger) == (&b.layer, b.position, b.finger)
            }
            _ => false,
        };
        if was_way == is_way || shifted_same {
            comparison.same += 1;
            continue;
        }
        comparison.moved.push(Moved {
            output: output.clone(),
            times,
            before: was_way,
            now: is_way,
            effort_before: effort(was),
            effort_now: effort(is),
        });
    }
    comparison
        .moved
        .order_by(|a, b| b.times.total_cmp(&a.times).then_with(|| a.output.cmp(&b.output)));
    comparison
}

/// True but for keys and chords that come of Shift held: they lie where the
/// key without Shift lies.
fn is_own(output: &Output, routes: &[Route]) -> bool {
    matches!(output, Output::Text(_)) || routes.iter().any(|route| route.modifiers.is_empty())
}

/// The keys that open each layer by name, and those of Shift, where they differ.
fn accesses(before: &Layout, now: &Layout) -> Vec<(String, Vec<Position>, Vec<Position>)> {
    let (old, new) = (openers(before), openers(now));
    let names: BTreeSet<&String> = old.keys().chain(new.keys()).gather();
    let none = Vec::new();
    names
        .into_iter()
        .map(|name| (name, old.get(name).unwrap_or(&none), new.get(name).unwrap_or(&none)))
        .filter(|(_, was, is)| was != is)
        .map(|(name, was, is)| (name.clone(), was.clone(), is.clone()))
        .collect()
}

fn openers(layout: &Layout) -> BTreeMap<String, Vec<Position>> {
    use super::Assignment;
    let mut openers: BTreeMap<String, Vec<Position>> = BTreeMap::new();
    for (assignment, site) in layout.layers[0].keys.iter().zip(&layout.board.sites) {
        let (Assignment::Access(access) | Assignment::Dual { hold: access, .. }) = assignment
        else {
            continue;
        };
        let name = match access.target {
            Target::Layer(LayerId::BASE) => continue,
            Target::Layer(id) => layout.layer(id).name.clone(),
            Target::Modifier(Modifiers::SHIFT) => Modifiers::SHIFT.to_string(),
            Target::Modifier(_) => continue,
        };
        openers.entry(name).or_default().push(site.position);
    }
    openers
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{file, shipped};

    fn changed(from: &str, to: &str) -> (Layout, Layout) {
        let before = shipped::text("tern-split").unwrap();
        assert!(before.contains(from));
        let now = before.replace(from, to);
        let read = |text: &str| file::read(text, "t.toml").unwrap_or_else(|e| panic!("{e}")).layout;
        (read(before), read(&now))
    }

    fn needed(pairs: &[(char, f64)]) -> Needed {
        pairs.iter().map(|(c, times)| (Output::char(*c), *times)).collect()
    }

    #[test]
    fn a_layout_against_itself_changes_nothing() {
        for name in shipped::names() {
            let layout = shipped::load(name).unwrap();
            let comparison = compare(&layout, &layout, &needed(&[('e', 9.0)]));
            assert!(comparison.moved.is_empty() && comparison.accesses.is_empty());
            assert!((comparison.effort_before - comparison.effort_now).abs() < 1e-9);
        }
    }

    #[test]
    fn two_keys_exchanged_are_two_moves_and_their_effort() {
        // { from B07 to C07, ( the other way.
        let (before, now) = changed(
            ".. $ & + / _    \" ( ) = : ..\n.. @ ^ - \\ ..   ' { }",
            ".. $ & + / _    \" { ) = : ..\n.. @ ^ - \\ ..   ' ( }",
        );
        let comparison = compare(&before, &now, &needed(&[('{', 8.0), ('(', 2.0)]));
        let told: Vec<(String, String, String)> = comparison
            .moved
            .iter()
            .map(|moved| {
                let keys = |way: &Option<Way>| way.as_ref().map_or("-".into(), Way::keys);
                (moved.output.to_string(), keys(&moved.before), keys(&moved.now))
            })
            .collect();
        let row = |a: &str, b: &str, c: &str| (a.to_owned(), b.to_owned(), c.to_owned());
        assert_eq!(told[0], row("{", "LT2 B07", "LT2 C07"));
        // ( is also on the punctuation layer, but preferred here.
        assert_eq!(told[1].0, "(");
        let saved = comparison.effort_before - comparison.effort_now;
        let one = f64::from(comparison.moved[0].effort_before - comparison.moved[0].effort_now);
        let other = f64::from(comparison.moved[1].effort_before - comparison.moved[1].effort_now);
        assert!(one > 0.0 && (saved - (8.0 * one + 2.0 * other)).abs() < 1e-6, "{comparison:?}");
    }

    #[test]
    fn items_keep_their_history_only_by_the_same_way() {
        let (before, now) = changed(
            "Backspace/hold:symbols  Tab/hold:numbers",
            "Backspace/hold:numbers  Tab/hold:symbols",
        );
        let (old, new) = (Ways::of(&before), Ways::of(&now));
        let fate = |layer: &str, position: &str, output: char| {
            let name = (layer.to_owned(), position.parse().unwrap(), Output::char(output));
            old.fate(&name, &new)
        };
        // Another access key: another way, though the key is the same.
        assert_eq!(fate("symbols", "C08", ')'), Fate::Changed);
        assert_eq!(fate("numbers", "C07", '4'), Fate::Changed);
        assert_eq!(fate("punctuation", "C04", '.'), Fate::Kept);
        assert_eq!(fate("base", "C01", 'a'), Fate::Kept);
        let accesses = compare(&before, &now, &Needed::new()).accesses;
        let names: Vec<&str> = accesses.iter().map(|(name, ..)| name.as_str()).collect();
        assert_eq!(names, ["numbers", "symbols"]);
    }

    #[test]
    fn what_moves_on_its_layer_starts_anew_and_what_leaves_it_is_gone() {
        let (before, now) =
            changed(".. # | * ~ %    ` [ ] < ! ..", ".. % | * ~ ..    ` [ ] < ! ..");
        let (old, new) = (Ways::of(&before), Ways::of(&now));
        let fate = |position: &str, output: char| {
            let name = ("symbols".to_owned(), position.parse().unwrap(), Output::char(output));
            old.fate(&name, &new)
        };
        assert_eq!(fate("D05", '%'), Fate::Changed);
        assert_eq!(fate("D01", '#'), Fate::Gone);
        assert_eq!(fate("D03", '*'), Fate::Kept);
    }
}
