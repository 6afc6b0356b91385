//! Lays what a standard says of a keyboard on one of our boards.

use super::ImportError;
use super::outcome::{Counts, LeftOut, Outcome};
use super::sheets::{Level, Meaning, Sheets};
use crate::keyboard::{Board, Modifiers, Output, Position, Row};
use crate::layout::{
    Access, AccessKind, Assignment, Cluster, Layer, LayerId, Layout, RouteTable, ShiftTable, Target,
};
use crate::order::Gather;
use std::collections::{BTreeMap, BTreeSet};
use unicode_width::UnicodeWidthStr;

/// The most layers a layout file may have.
const MOST_LAYERS: usize = 64;

/// What a layer of the layout stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    /// The keys with these openers held, and Shift where it can't be told by
    /// the shift table.
    Level(Level),
    /// What follows a dead key.
    Dead(usize),
}

/// One layout in the making.
struct Laying<'a> {
    sheets: &'a Sheets,
    board: &'a Board,
    shift: ShiftTable,
    /// The layers, the base first; an index here is the index there.
    kinds: Vec<Kind>,
    left_out: BTreeMap<&'static str, Vec<String>>,
}

impl Sheets {
    /// The layout that these sheets make on `board`.
    ///
    /// Shift becomes the layout's shift table; what that can't say on an opened
    /// level becomes a layer of its own under Shift. A dead key becomes a latch
    /// of a layer that has what it makes.
    ///
    /// # Errors
    /// A keyboard without a character on the home row, or with more levels
    /// than a layout can have.
    pub fn lay_on(&self, board: &Board) -> Result<Outcome, ImportError> {
        let letters = (1..=11).filter(|&column| {
            let position = Position::main(Row::C, column);
            matches!(self.meaning(Level::PLAIN, position), Meaning::Gives(Output::Text(_)))
        });
        if letters.count() == 0 {
            let what = "no character on the home row: expected a keyboard that types; this is \
                        most likely the wrong layout or a broken file";
            return Err(ImportError::whole(&self.name, what));
        }
        let mut laying = Laying {
            sheets: self,
            board,
            shift: ShiftTable::default(),
            kinds: vec![Kind::Level(Level::PLAIN)],
            left_out: BTreeMap::new(),
        };
        laying.choose_layers();
        if laying.kinds.len() > MOST_LAYERS {
            let what = format!(
                "{} levels and dead keys: a layout has at most {MOST_LAYERS} layers",
                laying.kinds.len()
            );
            return Err(ImportError::whole(&self.name, what));
        }
        laying.choose_shift();
        Ok(laying.finish())
    }
}

/// The character of a text of one.
fn one_char(meaning: &Meaning) -> Option<char> {
    match meaning {
        Meaning::Gives(output) => output.as_char(),
        _ => None,
    }
}

impl Laying<'_> {
    fn positions(&self) -> impl Iterator<Item = Position> + use<'_> {
        self.board.sites.iter().map(|site| site.position)
    }

    fn meaning(&self, level: Level, position: Position) -> &Meaning {
        self.sheets.meaning(level, position)
    }

    fn opener_at(&self, position: Position) -> Option<(usize, AccessKind)> {
        self.sheets.openers.iter().enumerate().find_map(|(index, opener)| {
            let key = opener.keys.iter().find(|(at, _)| *at == position)?;
            Some((index, key.1))
        })
    }

    /// Which layers the layout gets: every opened level that changes a key of
    /// the board, the ways to it, and what follows each dead key that can be
    /// reached.
    fn choose_layers(&mut self) {
        let mut opened: BTreeSet<u8> = BTreeSet::new();
        for level in self.sheets.levels.keys().filter(|level| level.opened != 0) {
            let changes = self.positions().any(|position| {
                let below = Level { opened: 0, ..*level };
                self.meaning(*level, position) != self.meaning(below, position)
            });
            if changes && self.can_open(level.opened) {
                opened.insert(level.opened);
            }
        }
        // A level that needs two openers is reached through one of them.
        for set in opened.clone() {
            let mut rest = set;
            while rest != 0 {
                opened.insert(rest);
                rest &= !(0x80_u8 >> rest.leading_zeros());
            }
        }
        for set in opened {
            let level = Level { opened: set, shift: false };
            self.kinds.push(Kind::Level(level));
            if self.needs_shift_layer(level) {
                self.kinds.push(Kind::Level(Level { shift: true, ..level }));
            }
        }
        for dead in 0..self.sheets.dead.len() {
            let reached = self.kinds.iter().any(|kind| {
                let Kind::Level(level) = kind else { return false };
                self.positions().any(|at| *self.meaning(*level, at) == Meaning::Dead(dead))
            });
            let useful = self.positions().any(|at| self.made(dead, at).is_some());
            if reached && useful {
                self.kinds.push(Kind::Dead(dead));
            }
        }
    }

    /// True where the board has a key for each opener of `set`.
    fn can_open(&self, set: u8) -> bool {
        let on_board = |position: &Position| self.board.index_of(*position).is_some();
        self.sheets.openers.iter().enumerate().all(|(index, opener)| {
            set & (1 << index) == 0 || opener.keys.iter().any(|(at, _)| on_board(at))
        })
    }

    /// What the dead key makes of the key at `position`.
    fn made(&self, dead: usize, position: Position) -> Option<&str> {
        let Meaning::Gives(Output::Text(text)) = self.meaning(Level::PLAIN, position) else {
            return None;
        };
        self.sheets.dead[dead].makes.get(text).map(String::as_str)
    }

    /// True where Shift on an opened level does what no shift table can say.
    fn needs_shift_layer(&self, level: Level) -> bool {
        let defined = self.sheets.levels.contains_key(&Level { shift: true, ..level });
        defined
            && self.positions().any(|position| {
                let plain = self.meaning(level, position);
                let shifted = self.meaning(Level { shift: true, ..level }, position);
                let same_without = self.meaning(Level::PLAIN, position) == plain;
                match (one_char(plain), one_char(shifted)) {
                    // Told by the base layer's pairs.
                    _ if same_without => false,
                    _ if plain == shifted => false,
                    (Some(plain), Some(shifted)) => {
                        let mut upper = plain.to_uppercase();
                        (upper.next(), upper.next()) != (Some(shifted), None)
                    }
                    _ => !matches!(shifted, Meaning::Nothing),
                }
            })
    }

    /// The pairs of the shift table: what the base layer says, then, where
    /// nothing speaks against it, what the other layers say.
    fn choose_shift(&mut self) {
        let mut wanted: BTreeMap<char, char> = BTreeMap::new();
        let mut lost: Vec<String> = Vec::new();
        // What a layer under Shift says anyway: needed only against the table.
        let mut said: BTreeSet<char> = BTreeSet::new();
        let levels: Vec<Level> = self
            .kinds
            .iter()
            .filter_map(|kind| match kind {
                Kind::Level(level) if !level.shift => Some(*level),
                _ => None,
            })
            .collect();
        for level in levels {
            let shifted_layer = self.layer_of(Kind::Level(Level { shift: true, ..level }));
            for position in self.positions().collect::<Vec<_>>() {
                let plain = self.meaning(level, position);
                let shift = Level { shift: true, ..level };
                // A level that nobody defines gives nothing of its own.
                let defined = self.sheets.levels.contains_key(&shift);
                let shifted = if defined { self.meaning(shift, position) } else { plain };
                let base = level == Level::PLAIN;
                if let Some(c) = one_char(plain)
                    && (shifted_layer.is_some() || !defined)
                    && !wanted.contains_key(&c)
                {
                    said.insert(c);
                }
                match (one_char(plain), one_char(shifted)) {
                    (Some(from), Some(to)) => {
                        let kept = *wanted.entry(from).or_insert(to);
                        if kept != to && base {
                            lost.push(format!("{to} (Shift with {position})"));
                        }
                    }
                    (Some(from), None) => {
                        wanted.entry(from).or_insert(from);
                        if base && shifted != plain {
                            lost.extend(self.named(shifted, position));
                        }
                    }
                    (None, _) if base && shifted != plain => {
                        lost.extend(self.named(shifted, position));
                    }
                    (None, _) => {}
                }
            }
        }
        for dead in &self.sheets.dead {
            for made in dead.makes.values() {
                let mut chars = made.chars();
                if let (Some(c), None) = (chars.next(), chars.next())
                    && !c.is_alphabetic()
                {
                    wanted.entry(c).or_insert(c);
                }
            }
        }
        let pairs = |us: bool| -> BTreeMap<char, char> {
            let start = ShiftTable { us, pairs: BTreeMap::new() };
            let differs = |from: char, to: char| match start.shifted(from) {
                None => to != from && !said.contains(&from),
                Some(default) => to != default,
            };
            wanted.iter().map(|(a, b)| (*a, *b)).filter(|(a, b)| differs(*a, *b)).gather()
        };
        let (us, letters) = (pairs(true), pairs(false));
        self.shift = if us.len() <= letters.len() {
            ShiftTable { us: true, pairs: us }
        } else {
            ShiftTable { us: false, pairs: letters }
        };
        if !lost.is_empty() {
            let why = "what Shift makes that a layout file can't say, since it has another Shift \
                       elsewhere or is at or under a dead key";
            self.left_out.entry(why).or_default().extend(lost);
        }
    }

    fn named(&self, meaning: &Meaning, position: Position) -> Option<String> {
        match meaning {
            Meaning::Gives(Output::Text(text)) => Some(format!("{text} (Shift with {position})")),
            Meaning::Dead(dead) => {
                Some(format!("dead key {} (Shift with {position})", self.sheets.dead[*dead].name))
            }
            // Shift with a named key is a chord anyway.
            Meaning::Gives(_) | Meaning::Holds(_) | Meaning::Nothing => None,
        }
    }

    fn layer_of(&self, kind: Kind) -> Option<LayerId> {
        let index = self.kinds.iter().position(|known| *known == kind)?;
        Some(LayerId(index as u8))
    }

    /// The assignment that `meaning` becomes.
    fn assignment(&self, meaning: &Meaning) -> Assignment {
        match meaning {
            Meaning::Gives(output) => Assignment::Gives(output.clone()),
            Meaning::Holds(modifier) => Assignment::Access(Access {
                kind: AccessKind::Hold,
                target: Target::Modifier(*modifier),
            }),
            Meaning::Dead(dead) => {
                self.layer_of(Kind::Dead(*dead)).map_or(Assignment::Nothing, |layer| {
                    Assignment::Access(Access {
                        kind: AccessKind::Latch,
                        target: Target::Layer(layer),
                    })
                })
            }
            Meaning::Nothing => Assignment::Nothing,
        }
    }

    fn key(&self, kind: Kind, position: Position) -> Assignment {
        let shift_key = *self.meaning(Level::PLAIN, position) == Meaning::Holds(Modifiers::SHIFT);
        let level = match kind {
            Kind::Dead(dead) => {
                return match self.made(dead, position) {
                    Some(made) => Assignment::Gives(Output::Text(made.to_owned())),
                    None if shift_key => Assignment::FallThrough,
                    None => Assignment::Nothing,
                };
            }
            Kind::Level(level) => level,
        };
        let opens = |target: Level, kind: AccessKind| {
            let layer = self.layer_of(Kind::Level(target))?;
            let target = Target::Layer(layer);
            Some(Assignment::Access(Access { kind, target }))
        };
        if let Some((opener, how)) = self.opener_at(position) {
            let opened = level.opened | (1 << opener);
            if opened != level.opened {
                let target = Level { opened, ..level };
                let plain = Level { opened, shift: false };
                let found = opens(target, how).or_else(|| opens(plain, how));
                return found.unwrap_or(Assignment::Nothing);
            }
            return Assignment::FallThrough;
        }
        if level == Level::PLAIN {
            return self.assignment(self.meaning(level, position));
        }
        if shift_key && !level.shift {
            let shifted = Level { shift: true, ..level };
            return opens(shifted, AccessKind::Hold).unwrap_or(Assignment::FallThrough);
        }
        let own = self.meaning(level, position);
        let is_text = matches!(own, Meaning::Gives(Output::Text(_)) | Meaning::Dead(_));
        if own == self.meaning(Level::PLAIN, position) || (level.shift && !is_text) {
            Assignment::FallThrough
        } else {
            self.assignment(own)
        }
    }

    fn finish(mut self) -> Outcome {
        let names = self.names();
        let signs = self.signs(&names);
        let layers: Vec<Layer> = self
            .kinds
            .iter()
            .zip(names)
            .zip(signs)
            .map(|((kind, name), sign)| {
                let keys: Vec<Assignment> =
                    self.positions().map(|position| self.key(*kind, position)).collect();
                Layer { name, cluster: cluster(*kind, &keys), sign, marker: None, keys }
            })
            .collect();
        self.note_what_is_left();
        let layout = Layout {
            reasons: self.reasons(),
            name: self.sheets.name.clone(),
            title: self.sheets.title.clone(),
            board: self.board.clone(),
            fingers: BTreeMap::new(),
            old_way: None,
            shift: self.shift,
            actions: BTreeMap::new(),
            prefer: BTreeMap::new(),
            layers,
        };
        let to_tell = to_tell(&layout, self.sheets);
        let counts = Counts {
            unreachable: self.sheets.unreachable.len(),
            ignored: self.left_out.values().map(Vec::len).sum::<usize>() + self.sheets.notes.len(),
            ..count(&layout)
        };
        let mut left_out: Vec<LeftOut> = self
            .left_out
            .into_iter()
            .map(|(why, what)| LeftOut { why: why.to_owned(), what })
            .collect();
        if !self.sheets.unreachable.is_empty() {
            left_out.push(LeftOut {
                why: "levels that exist but that no key combination opens".to_owned(),
                what: self.sheets.unreachable.clone(),
            });
        }
        left_out.extend(
            self.sheets.notes.iter().map(|note| LeftOut { why: note.clone(), what: Vec::new() }),
        );
        Outcome { layout, counts, left_out, to_tell }
    }

    fn reasons(&self) -> Vec<String> {
        let mut lines = vec![
            format!("{}: {}", self.sheets.name, self.sheets.title),
            String::new(),
            self.sheets.source.clone(),
        ];
        if self.kinds.iter().any(|kind| matches!(kind, Kind::Dead(_))) {
            lines.push("Layers named dead- are dead keys: a latch, and what it makes.".to_owned());
        }
        lines
            .push("Clusters are a guess from what each layer has; fingers are the board's.".into());
        lines
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for kind in &self.kinds {
            let name = match kind {
                Kind::Level(Level::PLAIN) => "base".to_owned(),
                Kind::Level(level) => {
                    let openers = self.sheets.openers.iter().enumerate();
                    let held = openers
                        .filter(|(index, _)| level.opened & (1 << index) != 0)
                        .map(|(_, opener)| opener.name.as_str());
                    let mut name = held.collect::<Vec<_>>().join("+");
                    if level.shift {
                        name.push_str("+shift");
                    }
                    name
                }
                Kind::Dead(dead) => format!("dead-{}", self.sheets.dead[*dead].name),
            };
            let mut name: String = name.chars().take(28).collect();
            while names.contains(&name) {
                name.push('\'');
                name = name.replace('\'', "-");
            }
            names.push(name);
        }
        names
    }

    /// A sign a layer: a number for levels, the accent alone for dead keys,
    /// and a running number where that is taken or can't be shown.
    fn signs(&self, names: &[String]) -> Vec<String> {
        let mut signs: Vec<String> = Vec::new();
        for (index, (kind, name)) in self.kinds.iter().zip(names).enumerate() {
            let wish = match kind {
                Kind::Level(Level::PLAIN) => "B".to_owned(),
                Kind::Level(_) => {
                    let digits: String = name.chars().filter(char::is_ascii_digit).collect();
                    let base = if digits.is_empty() { name.to_uppercase() } else { digits };
                    let mut sign: String = base.chars().take(1).collect();
                    if name.ends_with("+shift") {
                        sign.push('s');
                    }
                    sign
                }
                Kind::Dead(dead) => {
                    self.sheets.dead[*dead].makes.get(" ").cloned().unwrap_or_default()
                }
            };
            let fits = (1..=2).contains(&wish.width())
                && !wish.contains(|c: char| c.is_whitespace() || c.is_control());
            let sign = if fits && !signs.contains(&wish) { wish } else { format!("{index:02}") };
            signs.push(sign);
        }
        signs
    }

    fn note_what_is_left(&mut self) {
        let board = self.board;
        let mut beyond: Vec<String> = Vec::new();
        let mut dead: BTreeSet<usize> = BTreeSet::new();
        let plain = self.sheets.levels.get(&Level::PLAIN);
        for (position, meaning) in plain.into_iter().flatten() {
            if board.index_of(*position).is_none()
                && let Meaning::Gives(output) = meaning
            {
                beyond.push(format!("{output} ({position})"));
            }
        }
        for keys in self.sheets.levels.values() {
            dead.extend(keys.values().filter_map(|meaning| match meaning {
                Meaning::Dead(dead) => Some(*dead),
                _ => None,
            }));
        }
        let silent: Vec<String> = dead
            .into_iter()
            .filter(|dead| self.layer_of(Kind::Dead(*dead)).is_none())
            .map(|dead| self.sheets.dead[dead].name.clone())
            .collect();
        if !beyond.is_empty() {
            self.left_out.entry("keys that the board lacks").or_default().extend(beyond);
        }
        if !silent.is_empty() {
            let why = "dead keys that no layer reaches, or that make nothing of a key here";
            self.left_out.entry(why).or_default().extend(silent);
        }
    }
}

/// The cluster of most of what a layer gives: a guess.
fn cluster(kind: Kind, keys: &[Assignment]) -> Cluster {
    if kind == Kind::Level(Level::PLAIN) {
        return Cluster::Base;
    }
    if matches!(kind, Kind::Dead(_)) {
        return Cluster::Other;
    }
    let outputs = || {
        keys.iter().filter_map(|key| match key {
            Assignment::Gives(output) => Some(output),
            _ => None,
        })
    };
    let count = |wanted: &dyn Fn(char) -> bool| {
        outputs().filter(|output| output.as_char().is_some_and(wanted)).count()
    };
    let all = outputs().count();
    let keys = outputs().filter(|output| matches!(output, Output::Key(_))).count();
    let digits = count(&|c| c.is_ascii_digit());
    let signs = count(&|c| c.is_ascii_punctuation());
    if all == 0 {
        Cluster::Other
    } else if keys * 2 > all {
        Cluster::Navigation
    } else if digits * 2 > all {
        Cluster::Numbers
    } else if signs >= 5 {
        Cluster::Symbols
    } else {
        Cluster::Other
    }
}

fn count(layout: &Layout) -> Counts {
    let table = RouteTable::build(layout);
    let texts = table.outputs().filter(|(output, _)| matches!(output, Output::Text(_)));
    let keys = table.outputs().filter(|(output, _)| matches!(output, Output::Key(_)));
    let dead = layout.layers.iter().filter(|layer| layer.name.starts_with("dead-"));
    Counts {
        characters: texts.count(),
        named_keys: keys.count(),
        dead_keys: dead.count(),
        ..Counts::default()
    }
}

fn to_tell(layout: &Layout, sheets: &Sheets) -> Vec<String> {
    let mut told = vec![
        "fingers: they are the board's; change them in [fingers] where yours differ".to_owned(),
    ];
    let thumbs = layout.board.sites.iter().zip(&layout.layers[0].keys);
    let bare = thumbs
        .filter(|(site, _)| matches!(site.position, Position::Thumb { .. }))
        .filter(|(_, key)| **key == Assignment::Nothing)
        .map(|(site, _)| site.position.to_string())
        .collect::<Vec<_>>();
    if !bare.is_empty() {
        told.push(format!("thumb keys: no standard names them; write what {} do", bare.join(", ")));
    }
    let guessed: Vec<String> = layout
        .layers
        .iter()
        .skip(1)
        .filter(|layer| !layer.name.starts_with("dead-"))
        .map(|layer| format!("{} = {}", layer.name, layer.cluster.word()))
        .collect();
    if !guessed.is_empty() {
        told.push(format!("clusters: guessed as {}", guessed.join(", ")));
    }
    if sheets.form.is_none() {
        told.push(format!(
            "board: taken to be {}; name another with --board if yours differs",
            layout.board.name
        ));
    }
    told.push(
        "layers of the keyboard's own: a host's layout can't know what a key held down does \
         inside the keyboard; write those layers into the file"
            .to_owned(),
    );
    told
}
