//! A compiled keymap as sheets.

use super::dead::Compose;
use super::keysym::{Symbol, symbol};
use crate::import::error::text_of;
use crate::import::{Dead, ImportError, Level, Meaning, Opener, Sheets};
use crate::keyboard::codes::{self, CodeName};
use crate::keyboard::{BoardForm, Output, Position};
use crate::layout::AccessKind;
use crate::order::Gather;
use kbvm::ModifierMask;
use kbvm::xkb::Context;
use kbvm::xkb::Keymap;
use kbvm::xkb::diagnostic::{Diagnostic, DiagnosticHandler, DiagnosticKind};
use kbvm::xkb::keymap::{Action, Key, KeyGroup, KeyLevel, KeyTypeMapping};
use std::collections::{BTreeMap, BTreeSet};

/// How deep brackets may nest in a keymap file; compiled keymaps need five.
const MOST_NESTED: usize = 64;

/// What the compiler said of a keymap, without the text of any file.
#[derive(Debug, Default)]
pub struct Told {
    /// Kind of each complaint, and its line.
    pub complaints: Vec<(DiagnosticKind, usize)>,
}

impl DiagnosticHandler for Told {
    fn handle(&mut self, diagnostic: Diagnostic) {
        let line = diagnostic.location().map_or(0, kbvm::xkb::diagnostic::DiagnosticLocation::line);
        self.complaints.push((diagnostic.kind(), line));
    }
}

impl Told {
    /// The line of the first complaint of this kind.
    pub fn line_of(&self, kind: DiagnosticKind) -> Option<usize> {
        self.complaints.iter().find(|(told, _)| *told == kind).map(|(_, line)| *line)
    }
}

/// The keymap that the file with these bytes holds: one that stands alone, as
/// `xkbcli compile-keymap` prints it.
///
/// # Errors
/// A file that is too large, no text, no keymap, or that wants other files.
pub fn read_keymap(bytes: &[u8], file: &str) -> Result<Keymap, ImportError> {
    let text = text_of(bytes, file)?;
    refuse_depth(text, file)?;
    let mut builder = Context::builder();
    builder.enable_default_includes(false);
    builder.enable_environment(false);
    builder.clear();
    builder.max_includes(0);
    builder.max_include_depth(0);
    let mut told = Told::default();
    let keymap = builder.build().keymap_from_bytes(&mut told, None, text.as_bytes());
    let included = told
        .line_of(DiagnosticKind::MaxIncludeDepthReached)
        .or_else(|| told.line_of(DiagnosticKind::MaxIncludesReached));
    if let Some(line) = included {
        let what = "includes another file: expected a keymap that stands alone, as \
                    xkbcli compile-keymap prints it";
        return Err(ImportError::at(file, line, what));
    }
    if let Some(line) = told.line_of(DiagnosticKind::MaxRuntimeReached) {
        return Err(ImportError::at(file, line, "takes too long to compile: it is no keymap"));
    }
    let fault = |kind: DiagnosticKind, line: usize| {
        let kind = in_words(kind);
        let what = format!("no XKB keymap ({kind}): expected what xkbcli compile-keymap prints");
        ImportError::at(file, line, what)
    };
    let keymap = keymap.map_err(|diagnostic| {
        let line = diagnostic.location().map_or(1, kbvm::xkb::diagnostic::DiagnosticLocation::line);
        fault(diagnostic.kind(), line)
    })?;
    if keymap.keys().next().is_none() {
        let (kind, line) =
            told.complaints.first().copied().unwrap_or((DiagnosticKind::UnexpectedEof, 1));
        return Err(fault(kind, line));
    }
    Ok(keymap)
}

/// The compiler goes into brackets recursively.
fn refuse_depth(text: &str, file: &str) -> Result<(), ImportError> {
    let mut depth = 0_usize;
    for (number, line) in text.lines().enumerate() {
        for byte in line.bytes() {
            match byte {
                b'{' | b'(' | b'[' | b'!' | b'~' | b'-' | b'+' => depth += 1,
                b'}' | b')' | b']' => depth = depth.saturating_sub(1),
                b';' | b',' | b'=' | b'>' => {}
                _ => continue,
            }
            if depth > MOST_NESTED * 16 {
                let what = "nested too deep: this is no keymap";
                return Err(ImportError::at(file, number + 1, what));
            }
        }
    }
    Ok(())
}

/// The sheets of `keymap`'s first group, with the names of a layout for them.
///
/// # Errors
/// A keymap none of whose keys has a name of the standard.
pub fn sheets(
    keymap: &Keymap,
    form: BoardForm,
    compose: &Compose,
    name: &str,
    title: &str,
    source: &str,
) -> Result<Sheets, ImportError> {
    let keys: Vec<(Position, &Key)> = keymap
        .keys()
        .filter_map(|key| Some((codes::position(CodeName::Xkb(key.name()), form)?, key)))
        .collect();
    if keys.is_empty() {
        let what = "none of its keys has a name of the standard (AC01, SPCE …): nothing can be \
                    laid on a board";
        return Err(ImportError::whole(name, what));
    }
    let mut reader = Reader {
        masks: Vec::new(),
        dead: Vec::new(),
        others: BTreeSet::new(),
        sheets: Sheets {
            name: name.to_owned(),
            title: title.to_owned(),
            source: source.to_owned(),
            form: None,
            openers: Vec::new(),
            dead: Vec::new(),
            levels: BTreeMap::new(),
            unreachable: Vec::new(),
            notes: Vec::new(),
        },
    };
    reader.openers(&keys);
    reader.levels(&keys);
    reader.dead_keys(compose);
    let groups = keymap.keys().map(|key| key.groups().count()).max().unwrap_or(0);
    if groups > 1 {
        let note = format!("{} further groups of the keymap: only the first is read", groups - 1);
        reader.sheets.notes.push(note);
    }
    if !reader.others.is_empty() {
        let named: Vec<String> = reader.others.iter().cloned().collect();
        reader.sheets.notes.push(format!("keys without a word here: {}", named.join(", ")));
    }
    Ok(reader.sheets)
}

struct Reader {
    /// The modifiers of each opener.
    masks: Vec<ModifierMask>,
    /// Names of the dead keys met.
    dead: Vec<&'static str>,
    /// Keysyms that layouts have no word for.
    others: BTreeSet<String>,
    sheets: Sheets,
}

/// What the key's first group has.
fn group(key: &Key) -> Option<&KeyGroup> {
    key.groups().next().flatten()
}

/// The level that `mods` choose in `group`, from 0.
fn level_of(group: &KeyGroup, mods: ModifierMask) -> usize {
    let ty = group.ty();
    let effective = mods & ty.mask();
    ty.mappings().find(|mapping| mapping.mask() == effective).map_or(0, KeyTypeMapping::level)
}

fn symbols_at(group: &KeyGroup, level: usize) -> Vec<Symbol> {
    let symbols = group.levels().nth(level).map(KeyLevel::symbols).unwrap_or_default();
    symbols.iter().map(|keysym| symbol(*keysym)).collect()
}

impl Reader {
    /// Finds the keys that choose levels, and the modifiers that they hold.
    fn openers(&mut self, keys: &[(Position, &Key)]) {
        for number in [3_u8, 5] {
            let mut mask = ModifierMask::NONE;
            let mut found = Vec::new();
            for (position, key) in keys {
                let Some(group) = group(key) else { continue };
                if symbols_at(group, 0) != [Symbol::Opener(number)] {
                    continue;
                }
                let actions = group.levels().next().map(KeyLevel::actions);
                for action in actions.unwrap_or_default() {
                    let (mods, kind) = match action {
                        Action::ModsSet(set) => (set.mask(), AccessKind::Hold),
                        Action::ModsLatch(latch) => (latch.mask(), AccessKind::Latch),
                        Action::ModsLock(lock) => (lock.mask(), AccessKind::Lock),
                        _ => continue,
                    };
                    mask |= mods;
                    found.push((*position, kind));
                    break;
                }
            }
            if !found.is_empty() && mask != ModifierMask::NONE {
                self.masks.push(mask);
                self.sheets.openers.push(Opener { name: format!("level{number}"), keys: found });
            }
        }
    }

    /// Reads every level that Shift and the openers reach.
    fn levels(&mut self, keys: &[(Position, &Key)]) {
        let mut reached: BTreeSet<(Position, usize)> = BTreeSet::new();
        for opened in 0..1_u8 << self.masks.len() {
            for shift in [false, true] {
                let level = Level { opened, shift };
                let mut mods = if shift { ModifierMask::SHIFT } else { ModifierMask::NONE };
                for (index, mask) in self.masks.iter().enumerate() {
                    if opened & (1 << index) != 0 {
                        mods |= *mask;
                    }
                }
                let mut sheet = BTreeMap::new();
                for (position, key) in keys {
                    let Some(group) = group(key) else { continue };
                    let chosen = level_of(group, mods);
                    reached.insert((*position, chosen));
                    if let Some(meaning) = self.meaning(&symbols_at(group, chosen), level) {
                        sheet.insert(*position, meaning);
                    }
                }
                self.sheets.levels.insert(level, sheet);
            }
        }
        for (position, key) in keys {
            let Some(group) = group(key) else { continue };
            for level in 0..group.levels().count() {
                if reached.contains(&(*position, level)) {
                    continue;
                }
                let outputs = symbols_at(group, level);
                let there = outputs.iter().find_map(|symbol| match symbol {
                    Symbol::Text(c) => Some(c.to_string()),
                    Symbol::Dead(name) => Some(format!("dead key {name}")),
                    _ => None,
                });
                if let Some(there) = there {
                    let place = format!("{there} ({position}, level {})", level + 1);
                    self.sheets.unreachable.push(place);
                }
            }
        }
    }

    /// What a key with these symbols means; none where the level below says.
    fn meaning(&mut self, symbols: &[Symbol], level: Level) -> Option<Meaning> {
        let texts: Option<String> = symbols
            .iter()
            .map(|symbol| match symbol {
                Symbol::Text(c) => Some(*c),
                _ => None,
            })
            .collect();
        if let Some(text) = texts.filter(|text| !text.is_empty()) {
            return Some(Meaning::Gives(Output::Text(text)));
        }
        Some(match symbols.first() {
            Some(Symbol::Key(key)) => Meaning::Gives(Output::Key(*key)),
            Some(Symbol::Modifier(modifier)) => Meaning::Holds(*modifier),
            Some(Symbol::Dead(name)) => {
                let index = self.dead.iter().position(|known| known == name);
                Meaning::Dead(index.unwrap_or_else(|| {
                    self.dead.push(name);
                    self.dead.len() - 1
                }))
            }
            Some(Symbol::Other(name)) => {
                // Shift and the like of a frame key: the plain level says enough.
                if level != Level::PLAIN {
                    return None;
                }
                self.others.insert(name.clone());
                Meaning::Nothing
            }
            Some(Symbol::Opener(_)) if level != Level::PLAIN => return None,
            Some(Symbol::Text(_) | Symbol::Opener(_) | Symbol::Nothing) | None => Meaning::Nothing,
        })
    }

    fn dead_keys(&mut self, compose: &Compose) {
        let mut bases: BTreeSet<char> = BTreeSet::new();
        for sheet in self.sheets.levels.values() {
            bases.extend(sheet.values().filter_map(|meaning| match meaning {
                Meaning::Gives(output) => output.as_char(),
                _ => None,
            }));
        }
        let made = |name: &str| -> BTreeMap<String, String> {
            bases
                .iter()
                .filter_map(|base| Some((base.to_string(), compose.makes(name, *base)?)))
                .gather()
        };
        self.sheets.dead = self
            .dead
            .iter()
            .map(|name| Dead { name: (*name).to_owned(), makes: made(name) })
            .collect();
    }
}

/// The name of a complaint, `UnexpectedEof`, as words: "unexpected eof".
fn in_words(kind: DiagnosticKind) -> String {
    let mut words = String::new();
    for c in format!("{kind:?}").chars() {
        if c.is_uppercase() && !words.is_empty() {
            words.push(' ');
        }
        words.extend(c.to_lowercase());
    }
    words
}
