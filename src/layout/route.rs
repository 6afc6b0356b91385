//! The physical presses that give an output.

use super::walk::given;
use super::{Access, AccessKind, LayerId, Layout, Target, search};
use crate::keyboard::{Board, Digit, Finger, Marker, Modifiers, Output, Position};
use crate::order::Gather;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// One access key of a route.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AccessStep {
    /// The access key.
    pub position: Position,
    /// The finger that presses it.
    pub finger: Finger,
    /// How and what it makes active.
    pub access: Access,
}

/// One way to give one output.
#[derive(Debug, Clone, PartialEq)]
pub struct Route {
    /// Access keys in the order in which they are pressed.
    pub accesses: Vec<AccessStep>,
    /// The key that is struck last.
    pub position: Position,
    /// The finger that strikes it.
    pub finger: Finger,
    /// The layer that gives the output: the uppermost active one. An output
    /// that falls through belongs to the layer beneath.
    pub layer: LayerId,
    /// The modifiers that are active at the strike.
    pub modifiers: Modifiers,
    /// Effort by the prior model, > 0; 1 is an easy key on the home row.
    pub effort: f32,
}

impl Route {
    /// True where one of its presses lies outside the home block of `board`.
    pub fn leaves_home(&self, board: &Board) -> bool {
        let accesses = self.accesses.iter().map(|step| step.position);
        accesses
            .chain([self.position])
            .any(|position| board.site(position).is_some_and(|site| !board.in_home_block(site)))
    }

    /// The presses in words: "hold LT2 (left thumb) for symbols, strike C07 (right
    /// index finger)".
    pub fn words(&self, layout: &Layout) -> String {
        self.told(layout, |finger| match finger.digit {
            Digit::Thumb => format!(" ({} thumb)", finger.hand.word()),
            digit => format!(" ({} {} finger)", finger.hand.word(), digit.word()),
        })
    }

    /// The same without the fingers: "hold LT2 for symbols, strike C07".
    pub fn brief_words(&self, layout: &Layout) -> String {
        self.told(layout, |_| String::new())
    }

    fn told(&self, layout: &Layout, by: impl Fn(Finger) -> String) -> String {
        let mut words = String::new();
        for step in &self.accesses {
            let opens = match step.access.target {
                Target::Layer(id) => layout.layer(id).name.clone(),
                Target::Modifier(modifier) => modifier.to_string(),
            };
            let how = match step.access.kind {
                AccessKind::Hold => "hold",
                AccessKind::Latch => "strike (latch)",
                AccessKind::Lock => "strike (lock)",
            };
            // Writing to a String never fails.
            let _ = write!(words, "{how} {}{} for {opens}, ", step.position, by(step.finger));
        }
        let _ = write!(words, "strike {}{}", self.position, by(self.finger));
        words
    }
}

/// Every output of a layout that needs neither Ctrl, Alt nor Meta held, with
/// its routes, the preferred one first: a pinned one, then least effort, then
/// fewest presses, then position order. For chords by held modifiers see
/// [`routes`].
#[derive(Debug, Clone, Default)]
pub struct RouteTable {
    routes: BTreeMap<Output, Vec<Route>>,
    /// Chords that were looked for; none for those that can't be given so.
    by_hand: BTreeMap<Output, Option<Route>>,
    /// The marker key of each layer that has one.
    markers: BTreeMap<LayerId, Marker>,
}

/// All routes to `output`, chords by held modifiers included, the preferred
/// one first; empty where the layout can't give it.
///
/// A route has at most four accesses, presses no access for something that is
/// active, and is minimal: leaving out accesses would give something else.
/// Routes that differ only in the order of their accesses are one.
pub fn routes(layout: &Layout, output: &Output) -> Vec<Route> {
    // Modifiers only ever add: what the output does not have is never held.
    let allowed = match output {
        Output::Text(_) => Modifiers::SHIFT,
        Output::Key(_) => Modifiers::empty(),
        Output::Chord(chord) => chord.modifiers,
    };
    search::routes(layout, allowed, |found| found == output).remove(output).unwrap_or_default()
}

impl RouteTable {
    /// The table of `layout`.
    pub fn build(layout: &Layout) -> Self {
        Self {
            routes: search::routes(layout, Modifiers::SHIFT, |_| true),
            by_hand: BTreeMap::new(),
            markers: layout
                .layers()
                .filter_map(|(id, layer)| layer.marker.map(|marker| (id, marker)))
                .gather(),
        }
    }

    /// The key that the accesses of `layer` also send, where the layout
    /// declares one.
    pub fn marker(&self, layer: LayerId) -> Option<Marker> {
        self.markers.get(&layer).copied()
    }

    /// True where an access of some layer also sends `marker`.
    pub fn sends(&self, marker: Marker) -> bool {
        self.markers.values().any(|known| *known == marker)
    }

    /// Takes in the chords among `outputs` as they are struck by hand: all
    /// their modifiers held, their key struck.
    pub fn add_chords<'a>(
        &mut self,
        layout: &Layout,
        outputs: impl IntoIterator<Item = &'a Output>,
    ) {
        // One search for all chords with the same modifiers: searching is dear.
        let mut wanted: BTreeMap<Modifiers, BTreeSet<&Output>> = BTreeMap::new();
        for output in outputs {
            if let Output::Chord(chord) = output
                && !self.by_hand.contains_key(output)
            {
                wanted.entry(chord.modifiers).or_default().insert(output);
            }
        }
        for (modifiers, outputs) in wanted {
            let mut found = search::routes(layout, modifiers, |output| outputs.contains(output));
            for output in outputs {
                let routes = found.remove(output).unwrap_or_default();
                let by_hand = routes.into_iter().find(|route| {
                    let index = layout.board.index_of(route.position);
                    let struck = index.and_then(|i| layout.layer(route.layer).keys.get(i));
                    let plain = struck.and_then(|assignment| given(layout, assignment));
                    route.modifiers == modifiers && !matches!(plain, Some(Output::Chord(_)))
                });
                self.by_hand.insert(output.clone(), by_hand);
            }
        }
    }

    /// The preferred route to a chord by hand, if it was taken in by
    /// [`RouteTable::add_chords`] and the layout can give it so.
    pub fn by_hand(&self, output: &Output) -> Option<&Route> {
        self.by_hand.get(output)?.as_ref()
    }

    /// Every chord by hand that was taken in and can be given, in order.
    pub fn by_hands(&self) -> impl Iterator<Item = (&Output, &Route)> {
        self.by_hand.iter().filter_map(|(output, route)| Some((output, route.as_ref()?)))
    }

    /// The route to `output`: the preferred one, else by hand.
    pub fn to(&self, output: &Output) -> Option<&Route> {
        self.preferred(output).or_else(|| self.by_hand(output))
    }

    /// The preferred route to `output`, if it can be given at all.
    pub fn preferred(&self, output: &Output) -> Option<&Route> {
        self.routes.get(output)?.first()
    }

    /// The route to take right after `before` where the layers `practised` are
    /// what the exercise is about.
    ///
    /// Where a layer is held, one with the same accesses held and no others, so
    /// that a run within the layer is not broken. Else, for an output that needs
    /// an access anyway, one to a practised layer. Else the preferred one. The
    /// least effort among several.
    pub fn after(
        &self,
        before: Option<&Route>,
        output: &Output,
        practised: &[LayerId],
    ) -> Option<&Route> {
        let routes = self.all(output);
        let stays = |route: &&Route| {
            let same = |before: &Route| {
                before.accesses == route.accesses
                    && before
                        .accesses
                        .iter()
                        .any(|step| matches!(step.access.target, Target::Layer(_)))
                    && before.accesses.iter().all(|step| step.access.kind == AccessKind::Hold)
            };
            before.is_some_and(same)
        };
        let first = routes.first()?;
        let on_it = |route: &&Route| !first.accesses.is_empty() && practised.contains(&route.layer);
        let found = routes.iter().find(stays).or_else(|| routes.iter().find(on_it));
        Some(found.unwrap_or(first))
    }

    /// The route of each of `items` when they are struck one after another;
    /// see [`RouteTable::after`].
    pub fn along(&self, items: &[Output], practised: &[LayerId]) -> Vec<Option<Route>> {
        let mut before: Option<&Route> = None;
        items
            .iter()
            .map(|item| {
                before = self.after(before, item, practised);
                before.cloned()
            })
            .collect()
    }

    /// All routes to `output` but chords by hand, the preferred one first.
    pub fn all(&self, output: &Output) -> &[Route] {
        self.routes.get(output).map_or(&[], Vec::as_slice)
    }

    /// Every output that the table knows, in order.
    pub fn outputs(&self) -> impl Iterator<Item = (&Output, &[Route])> {
        self.routes.iter().map(|(output, routes)| (output, routes.as_slice()))
    }
}
