//! The walk over a keyboard: one position after another, layer after layer.

use super::draft::Draft;
use super::ear::{Ear, Heard};
use super::note::Note;
use super::reading::readings;
use crate::keyboard::{Marker, Modifiers, NamedKey, Output};
use crate::layout::token::{self, Names, TokenError};
use crate::layout::walk::given;
use crate::layout::{Access, AccessKind, Assignment, LayerId, Target};
use crate::order::Gather;
use crate::session::{Event, Granted, Level};
use crate::units::Micros;
use std::collections::{BTreeMap, BTreeSet};

/// Text that arrives so soon after other text came of the same key: no hand
/// strikes twice within it (our estimate, no source).
pub const TEXT_GAP: Micros = Micros::from_ms(12);
/// A doubtful arrival counts when the key is struck again after so long; the
/// repeat of a held key comes sooner (our estimate, no source).
pub const AGAIN_AFTER: Micros = Micros::from_ms(300);
/// The most accesses that may lie between the base and a layer.
const DEEPEST: usize = 8;

/// The place of a key: its layer and its index in the board's sites.
pub type Spot = (LayerId, usize);

/// What is to be struck now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    /// The layer that has to be active.
    pub layer: LayerId,
    /// The key, by its index in the board's sites.
    pub index: usize,
    /// The key that opens the layer, and the layer it is on; none on the base
    /// layer, and where no key is known to open it.
    pub access: Option<(LayerId, usize, Access)>,
    /// True where the key is known to open a layer when held, and what is due
    /// is what it gives when struck.
    pub tap: bool,
}

/// Why an arrival is doubted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// It is what the layer's own access key gives when struck.
    AccessTap,
    /// It is what arrived just before, and the terminal tells no repeats.
    Repeated,
}

/// What came of an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// Nothing that counts.
    Nothing,
    /// A key was noted; another one is due, or all are told.
    Noted,
    /// Escape: the person wants to say something.
    Menu,
    /// The terminal can't tell which of these it was: see [`Capture::asked`].
    Ask,
    /// It counts when the key is struck again.
    Doubt(Output, Why),
    /// More arrived from one key than a layout can say; the rest is left out.
    TooMuch,
}

/// A capture in work.
#[derive(Debug, Clone)]
pub struct Capture {
    draft: Draft,
    level: Level,
    ear: Ear,
    at: Option<Spot>,
    /// Keys that open a layer when held; what they give when struck is open.
    untapped: BTreeSet<Spot>,
    /// Accesses that were known before the first key was told.
    preset: BTreeMap<Spot, Access>,
    skipped: BTreeSet<Spot>,
    /// Keys that fall through because they are held to open their layer.
    covered: BTreeSet<Spot>,
    dead: BTreeSet<Spot>,
    /// What was told, in order, so that it can be taken back.
    told: Vec<Spot>,
    awaits_dead: bool,
    asked: Option<Vec<Output>>,
    /// How many questions were answered.
    answered: usize,
    doubt: Option<(Output, Micros)>,
    /// The last arrival that was noted: when, where, what.
    last: Option<(Micros, Spot, Output)>,
    notes: Vec<Note>,
}

impl Capture {
    /// A capture of every key of `draft` that is open. Accesses that it has
    /// already are kept; what their keys give when struck is asked.
    pub fn begin(draft: Draft, level: Level) -> Self {
        let mut capture = Self::of(draft, level);
        let draft = &capture.draft;
        let mut notes = vec![Note::Begin {
            schema: super::SCHEMA.to_owned(),
            name: draft.name.clone(),
            title: draft.title.clone(),
            board: draft.board.name.clone(),
            old_way: draft.old_way.clone(),
        }];
        notes.extend(draft.layers.iter().map(|sheet| Note::of_layer(&sheet.name, sheet.cluster)));
        let mut preset = BTreeMap::new();
        for (n, sheet) in draft.layers.iter().enumerate() {
            for (index, key) in sheet.keys.iter().enumerate() {
                let spot = (LayerId(n as u8), index);
                match key {
                    None => {}
                    Some(Assignment::Access(access))
                        if access.kind == AccessKind::Hold
                            && matches!(access.target, Target::Layer(_)) =>
                    {
                        preset.insert(spot, *access);
                        notes.push(capture.note(spot, "opens"));
                    }
                    Some(_) => notes.push(capture.note(spot, "key")),
                }
            }
        }
        capture.untapped = preset.keys().copied().gather();
        capture.preset = preset;
        capture.notes = notes;
        capture.seek();
        capture
    }

    /// A capture with nothing told yet and no notes.
    pub(super) fn of(draft: Draft, level: Level) -> Self {
        Self {
            draft,
            level,
            ear: Ear::default(),
            at: None,
            untapped: BTreeSet::new(),
            preset: BTreeMap::new(),
            skipped: BTreeSet::new(),
            covered: BTreeSet::new(),
            dead: BTreeSet::new(),
            told: Vec::new(),
            awaits_dead: false,
            asked: None,
            answered: 0,
            doubt: None,
            last: None,
            notes: Vec::new(),
        }
    }

    /// What is known so far.
    pub fn draft(&self) -> &Draft {
        &self.draft
    }

    /// The notes since they were taken last, to be kept at once.
    pub fn take_notes(&mut self) -> Vec<Note> {
        std::mem::take(&mut self.notes)
    }

    /// Takes note of what the terminal can tell apart.
    pub fn set_level(&mut self, level: Level) {
        self.level = level;
    }

    /// What is due; none where every key is told or skipped.
    pub fn due(&self) -> Option<Due> {
        let (layer, index) = self.at?;
        let access = if layer == LayerId::BASE { None } else { self.draft.access_to(layer) };
        Some(Due { layer, index, access, tap: self.untapped.contains(&(layer, index)) })
    }

    /// What the terminal can't tell apart, until it is answered.
    pub fn asked(&self) -> Option<&[Output]> {
        self.asked.as_deref()
    }

    /// True where the next arrival is a dead key's.
    pub fn awaits_dead(&self) -> bool {
        self.awaits_dead
    }

    /// The key that was told last.
    pub fn last_told(&self) -> Option<Spot> {
        self.told.last().copied()
    }

    /// Keys told and keys in all, of `layer`.
    pub fn progress(&self, layer: LayerId) -> (usize, usize) {
        let Some(sheet) = self.draft.layers.get(layer.index()) else { return (0, 0) };
        let open = |index: &usize| {
            sheet.keys[*index].is_none() || self.untapped.contains(&(layer, *index))
        };
        let open = (0..sheet.keys.len()).filter(open).count();
        (sheet.keys.len() - open, sheet.keys.len())
    }

    /// Keys that were passed over and are still open.
    pub fn skipped(&self) -> impl Iterator<Item = Spot> + '_ {
        self.skipped.iter().copied()
    }

    /// Dead keys.
    pub fn dead(&self) -> impl Iterator<Item = Spot> + '_ {
        self.dead.iter().copied()
    }

    /// How many questions of what the terminal can't tell apart were answered.
    pub fn answered(&self) -> usize {
        self.answered
    }

    /// Other keys of the same layer that give what key `spot` gives.
    pub fn doubles(&self, spot: Spot) -> Vec<usize> {
        let layout = self.draft.layout();
        let gives =
            |index: usize| self.draft.key(spot.0, index).and_then(|key| given(&layout, key));
        let Some(output) = gives(spot.1) else { return Vec::new() };
        (0..layout.board.sites.len())
            .filter(|index| *index != spot.1 && gives(*index).as_ref() == Some(&output))
            .collect()
    }

    /// Takes in one event while a key is due.
    pub fn event(&mut self, event: &Event) -> Outcome {
        let heard = self.ear.hear(event);
        match heard {
            Some(heard) if self.asked.is_none() => self.heard(heard),
            _ => Outcome::Nothing,
        }
    }

    fn heard(&mut self, heard: Heard) -> Outcome {
        let Heard { at, output, batched } = heard;
        if let Some((before, spot, last)) = &self.last
            && (batched || at.since(*before) < TEXT_GAP)
        {
            let (spot, last) = (*spot, last.clone());
            return self.more(at, spot, last, output);
        }
        let Some(due) = self.due() else { return Outcome::Nothing };
        if output == Output::Key(NamedKey::Escape) {
            self.doubt = None;
            return Outcome::Menu;
        }
        let marker = matches!(output, Output::Key(key) if is_marker(key));
        if due.layer != LayerId::BASE && (marker || due.access.is_none()) {
            // A marker tells only that the layer is open.
            return Outcome::Nothing;
        }
        if let Some(why) = self.doubts(&due, &output) {
            match &self.doubt {
                Some((before, then)) if *before == output && at.since(*then) >= AGAIN_AFTER => {}
                _ => {
                    self.doubt = Some((output.clone(), at));
                    return Outcome::Doubt(output, why);
                }
            }
        }
        self.doubt = None;
        self.arrived(at, output)
    }

    /// More of the same key: its text grows.
    fn more(&mut self, at: Micros, spot: Spot, last: Output, output: Output) -> Outcome {
        let (Output::Text(before), Output::Text(text)) = (last, output) else {
            return Outcome::TooMuch;
        };
        let joined = Output::Text(before + &text);
        let new = match self.draft.key(spot.0, spot.1) {
            Some(Assignment::Dual { hold, .. }) => {
                Assignment::Dual { tap: Box::new(Assignment::Gives(joined.clone())), hold: *hold }
            }
            _ => self.unless_beneath(spot, joined.clone()),
        };
        self.draft.set(spot.0, spot.1, Some(new));
        let note = self.note(spot, "key");
        self.notes.push(note);
        self.last = Some((at, spot, joined));
        Outcome::Noted
    }

    fn doubts(&self, due: &Due, output: &Output) -> Option<Why> {
        let layout = self.draft.layout();
        if let Some((on, index, access)) = due.access
            && access.kind == AccessKind::Hold
            && index != due.index
            && let Some(Assignment::Dual { tap, .. }) = self.draft.key(on, index)
            && given(&layout, tap).as_ref() == Some(output)
        {
            return Some(Why::AccessTap);
        }
        let repeats_told = self.level.granted().contains(Granted::EVENT_TYPES);
        let repeated = self.last.as_ref().is_some_and(|(_, _, last)| last == output);
        (!repeats_told && repeated).then_some(Why::Repeated)
    }

    /// Notes an arrival, or asks what it was.
    fn arrived(&mut self, at: Micros, output: Output) -> Outcome {
        let Some((layer, _)) = self.at else { return Outcome::Nothing };
        let cluster = self.draft.layers[layer.index()].cluster;
        let readings = readings(self.level, &output, cluster);
        if readings.len() > 1 {
            self.asked = Some(readings);
            return Outcome::Ask;
        }
        self.last = self.at.map(|spot| (at, spot, output.clone()));
        self.give(output);
        Outcome::Noted
    }

    /// Answers what [`Capture::asked`] asks, by its number there.
    pub fn answer(&mut self, number: usize) {
        let Some(output) = self.asked.as_ref().and_then(|all| all.get(number)).cloned() else {
            return;
        };
        self.asked = None;
        self.answered += 1;
        self.give(output);
    }

    /// The due key gives Escape; asks where the terminal can't tell it from
    /// another.
    pub fn escape(&mut self) -> Outcome {
        let outcome = self.arrived(Micros::ZERO, Output::Key(NamedKey::Escape));
        self.last = None;
        outcome
    }

    /// Leaves a question or a wish open: the key is due as before.
    pub fn dismiss(&mut self) {
        self.asked = None;
        self.awaits_dead = false;
        self.doubt = None;
    }

    /// The due key gives `output`.
    fn give(&mut self, output: Output) {
        let Some(spot) = self.at else { return };
        let dead = std::mem::take(&mut self.awaits_dead);
        let modifier = match output {
            Output::Key(key) => Modifiers::of_key(key),
            _ => None,
        };
        let what = match (self.held_by(spot), modifier) {
            (Some(hold), None) => {
                Assignment::Dual { tap: Box::new(Assignment::Gives(output)), hold }
            }
            // A modifier that comes with a layer is no tap.
            (Some(hold), Some(_)) => Assignment::Access(hold),
            (None, Some(modifier)) => {
                let target = Target::Modifier(modifier);
                let own = Assignment::Access(Access { kind: AccessKind::Hold, target });
                if self.beneath(spot) == Some(&own) { Assignment::FallThrough } else { own }
            }
            (None, None) => self.unless_beneath(spot, output),
        };
        self.tell(spot, what, dead);
    }

    /// The hold of a key whose tap is open.
    fn held_by(&self, spot: Spot) -> Option<Access> {
        match self.draft.key(spot.0, spot.1)? {
            Assignment::Access(access) if self.untapped.contains(&spot) => Some(*access),
            _ => None,
        }
    }

    /// Fall-through where the layers beneath give `output` at this key anyway.
    fn unless_beneath(&self, spot: Spot, output: Output) -> Assignment {
        let layout = self.draft.layout();
        let same = self.beneath(spot).and_then(|key| given(&layout, key));
        if same.as_ref() == Some(&output) {
            Assignment::FallThrough
        } else {
            Assignment::Gives(output)
        }
    }

    /// What the layers beneath `spot` have at its key.
    fn beneath(&self, spot: Spot) -> Option<&Assignment> {
        if spot.0 == LayerId::BASE {
            return None;
        }
        let found = self
            .way_to(spot.0)
            .into_iter()
            .filter_map(|(on, _)| self.draft.key(on, spot.1))
            .find(|key| **key != Assignment::FallThrough);
        found.or_else(|| self.draft.key(LayerId::BASE, spot.1))
    }

    /// The access keys that lead to `layer`, the last first: each with the
    /// layer that it is on.
    fn way_to(&self, layer: LayerId) -> Vec<Spot> {
        let mut way = Vec::new();
        let mut above = layer;
        while above != LayerId::BASE && way.len() < DEEPEST {
            let Some((on, index, _)) = self.draft.access_to(above) else { break };
            way.push((on, index));
            above = on;
        }
        way
    }

    fn tell(&mut self, spot: Spot, what: Assignment, dead: bool) {
        self.draft.set(spot.0, spot.1, Some(what));
        self.untapped.remove(&spot);
        self.skipped.remove(&spot);
        self.dead.remove(&spot);
        if dead {
            self.dead.insert(spot);
        }
        let note = self.note(spot, "key");
        self.notes.push(note);
        self.told.push(spot);
        self.dismiss();
        self.seek();
    }

    fn note(&self, spot: Spot, kind: &str) -> Note {
        let layer = self.draft.layers[spot.0.index()].name.clone();
        let position = self.draft.board.sites[spot.1].position.to_string();
        let names: Vec<String> = self.draft.layers.iter().map(|sheet| sheet.name.clone()).collect();
        let token = self.draft.key(spot.0, spot.1).map(|key| token::write(key, &names));
        match (kind, token) {
            ("key", Some(token)) => {
                Note::Key { layer, position, token, dead: self.dead.contains(&spot) }
            }
            ("opens", Some(token)) => Note::Opens { layer, position, token },
            ("skip", _) => Note::Skip { layer, position },
            _ => Note::Open { layer, position },
        }
    }

    /// Goes to the first key that is open and not skipped. A key that is held
    /// to open the layer can't be struck: it falls through without a word.
    fn seek(&mut self) {
        self.free_what_is_not_held();
        for n in 0..self.draft.layers.len() {
            let layer = LayerId(n as u8);
            let held = self.held_on(layer);
            for index in 0..self.draft.board.sites.len() {
                let spot = (layer, index);
                let open = self.draft.key(layer, index).is_none() || self.untapped.contains(&spot);
                if !open || self.skipped.contains(&spot) {
                    continue;
                }
                if held.contains(&index) && !self.untapped.contains(&spot) {
                    self.draft.set(layer, index, Some(Assignment::FallThrough));
                    self.covered.insert(spot);
                    let note = self.note(spot, "key");
                    self.notes.push(note);
                    continue;
                }
                self.at = Some(spot);
                return;
            }
        }
        self.at = None;
    }

    /// The keys that are held while `layer` is open.
    fn held_on(&self, layer: LayerId) -> Vec<usize> {
        let way = self.way_to(layer).into_iter();
        way.filter(|(on, index)| {
            let key = self.draft.key(*on, *index);
            key.and_then(hold_of).is_some_and(|access| access.kind == AccessKind::Hold)
        })
        .map(|(_, index)| index)
        .collect()
    }

    /// Opens the keys that fell through only because they were held, where
    /// they are held no longer.
    fn free_what_is_not_held(&mut self) {
        for (layer, index) in self.covered.clone() {
            if !self.held_on(layer).contains(&index) {
                self.covered.remove(&(layer, index));
                self.draft.set(layer, index, None);
                let note = self.note((layer, index), "open");
                self.notes.push(note);
            }
        }
    }

    /// The due key gives nothing when struck.
    pub fn nothing(&mut self) {
        let Some(spot) = self.at else { return };
        let what = self.held_by(spot).map_or(Assignment::Nothing, Assignment::Access);
        self.tell(spot, what, false);
    }

    /// The due key does what it does on the layer beneath; on the base layer
    /// there is none, and nothing happens.
    pub fn as_beneath(&mut self) {
        if let Some(spot) = self.at.filter(|(layer, _)| *layer != LayerId::BASE) {
            self.tell(spot, Assignment::FallThrough, false);
        }
    }

    /// Every open key of the due key's layer does what it does beneath; on the
    /// base layer nothing happens.
    pub fn rest_as_beneath(&mut self) {
        let Some((layer, _)) = self.at.filter(|(layer, _)| *layer != LayerId::BASE) else {
            return;
        };
        while let Some(spot) = self.at.filter(|(on, _)| *on == layer) {
            self.tell(spot, Assignment::FallThrough, false);
        }
    }

    /// Passes the due key over; it stays open.
    pub fn skip(&mut self) {
        let Some(spot) = self.at else { return };
        self.skipped.insert(spot);
        let note = self.note(spot, "skip");
        self.notes.push(note);
        self.told.push(spot);
        self.dismiss();
        self.seek();
    }

    /// Passes every open key of the due key's layer over.
    pub fn skip_layer(&mut self) {
        let Some((layer, _)) = self.at else { return };
        while self.at.is_some_and(|(on, _)| on == layer) {
            self.skip();
        }
    }

    /// Takes back what was told last; that key is due again. False where
    /// nothing was told.
    pub fn back(&mut self) -> bool {
        self.dismiss();
        self.last = None;
        let Some(spot) = self.told.pop() else { return false };
        self.told.retain(|told| *told != spot);
        self.open(spot);
        let note = self.note(spot, "open");
        self.notes.push(note);
        if let Some(access) = self.preset.get(&spot) {
            self.draft.set(spot.0, spot.1, Some(Assignment::Access(*access)));
            self.untapped.insert(spot);
            let note = self.note(spot, "opens");
            self.notes.push(note);
        }
        self.free_what_is_not_held();
        self.at = Some(spot);
        true
    }

    /// Forgets what was told of a key.
    fn open(&mut self, spot: Spot) {
        self.draft.set(spot.0, spot.1, None);
        self.skipped.remove(&spot);
        self.dead.remove(&spot);
        self.untapped.remove(&spot);
    }

    /// Opens what was skipped, to be walked anew.
    pub fn take_up_skipped(&mut self) {
        for spot in std::mem::take(&mut self.skipped) {
            let note = self.note(spot, "open");
            self.notes.push(note);
            if self.untapped.contains(&spot) {
                let note = self.note(spot, "opens");
                self.notes.push(note);
            }
        }
        self.seek();
    }

    /// The due key opens a layer or holds a modifier. Where it opens it while
    /// held, what it gives when struck is due next.
    pub fn opens(&mut self, access: Access) {
        let Some(spot) = self.at else { return };
        self.dismiss();
        if access.kind == AccessKind::Hold {
            self.draft.set(spot.0, spot.1, Some(Assignment::Access(access)));
            self.untapped.insert(spot);
            self.told.push(spot);
            let note = self.note(spot, "opens");
            self.notes.push(note);
        } else {
            self.tell(spot, Assignment::Access(access), false);
        }
    }

    /// Key `index` of the base layer opens `layer` in this way, besides what
    /// it was told to give.
    pub fn opened_by(&mut self, index: usize, access: Access) {
        let spot = (LayerId::BASE, index);
        if index >= self.draft.board.sites.len() {
            return;
        }
        let what = match self.draft.key(LayerId::BASE, index) {
            Some(tap @ Assignment::Gives(_)) if access.kind == AccessKind::Hold => {
                Assignment::Dual { tap: Box::new(tap.clone()), hold: access }
            }
            Some(Assignment::Dual { tap, .. }) if access.kind == AccessKind::Hold => {
                Assignment::Dual { tap: tap.clone(), hold: access }
            }
            _ => Assignment::Access(access),
        };
        let dead = self.dead.contains(&spot);
        self.tell(spot, what, dead);
    }

    /// Adds a layer.
    ///
    /// # Errors
    /// See [`super::DraftError`].
    pub fn add_layer(
        &mut self,
        name: &str,
        cluster: crate::layout::Cluster,
    ) -> Result<LayerId, super::DraftError> {
        let id = self.draft.add_layer(name, cluster)?;
        self.notes.push(Note::of_layer(name, cluster));
        Ok(id)
    }

    /// The next arrival is a dead key's: the person strikes it and a space.
    pub fn expect_dead(&mut self) {
        self.dismiss();
        self.awaits_dead = true;
    }

    /// The due key does what `token` of a layout file says.
    ///
    /// # Errors
    /// What was expected instead.
    pub fn write(&mut self, token: &str) -> Result<(), TokenError> {
        let Some(spot) = self.at else { return Ok(()) };
        let names: Vec<String> = self.draft.layers.iter().map(|sheet| sheet.name.clone()).collect();
        let what = token::read(token.trim(), Names { layers: &names, actions: &[] })?;
        if spot.0 == LayerId::BASE && what == Assignment::FallThrough {
            return Err(TokenError {
                expected: "something else than .. on the base layer: nothing lies beneath".into(),
                nearest: crate::keyboard::document::Nearest::default(),
            });
        }
        self.tell(spot, what, false);
        Ok(())
    }

    /// Takes up a note of a progress file; false where it makes no sense.
    pub(super) fn recall(&mut self, note: &Note) -> bool {
        let spot = |draft: &Draft, layer: &str, position: &str| {
            let layer = draft.layer_named(layer)?;
            let index = draft.board.index_of(position.parse().ok()?)?;
            Some((layer, index))
        };
        let names: Vec<String> = self.draft.layers.iter().map(|sheet| sheet.name.clone()).collect();
        let names = Names { layers: &names, actions: &[] };
        match note {
            // Notes that were kept twice, since keeping them failed in between,
            // say nothing new.
            Note::Begin { name, .. } => *name == self.draft.name,
            Note::Layer { name, cluster } => {
                let Some(cluster) = crate::layout::Cluster::from_word(cluster) else {
                    return false;
                };
                if self.draft.layer_named(name).is_some() {
                    return true;
                }
                self.draft.add_layer(name, cluster).is_ok()
            }
            Note::Key { layer, position, token, dead } => {
                let Some(spot) = spot(&self.draft, layer, position) else { return false };
                let Ok(what) = token::read(token, names) else { return false };
                if spot.0 == LayerId::BASE && what == Assignment::FallThrough {
                    return false;
                }
                self.draft.set(spot.0, spot.1, Some(what));
                self.untapped.remove(&spot);
                self.skipped.remove(&spot);
                if *dead {
                    self.dead.insert(spot);
                } else {
                    self.dead.remove(&spot);
                }
                self.told.retain(|told| *told != spot);
                if token == ".." && self.held_on(spot.0).contains(&spot.1) {
                    self.covered.insert(spot);
                } else {
                    self.told.push(spot);
                }
                true
            }
            Note::Opens { layer, position, token } => {
                let Some(spot) = spot(&self.draft, layer, position) else { return false };
                let Ok(Assignment::Access(access)) = token::read(token, names) else {
                    return false;
                };
                self.draft.set(spot.0, spot.1, Some(Assignment::Access(access)));
                self.untapped.insert(spot);
                if self.told.is_empty() {
                    self.preset.insert(spot, access);
                } else if !self.preset.contains_key(&spot) {
                    self.told.push(spot);
                }
                true
            }
            Note::Skip { layer, position } => {
                let Some(spot) = spot(&self.draft, layer, position) else { return false };
                self.skipped.insert(spot);
                self.told.push(spot);
                true
            }
            Note::Open { layer, position } => {
                let Some(spot) = spot(&self.draft, layer, position) else { return false };
                self.open(spot);
                self.covered.remove(&spot);
                self.told.retain(|told| *told != spot);
                true
            }
        }
    }

    /// Goes to the first open key after notes were recalled.
    pub(super) fn recalled(&mut self) {
        self.seek();
    }
}

fn is_marker(key: NamedKey) -> bool {
    Marker::of_key(key).is_some()
}

fn hold_of(key: &Assignment) -> Option<Access> {
    match key {
        Assignment::Access(access) => Some(*access),
        Assignment::Dual { hold, .. } => Some(*hold),
        _ => None,
    }
}
