//! Unicode LDML Keyboard 3.0 files (UTS #35 part 7).
//!
//! Read are keys, variables, the hardware layers and the simple transforms of
//! dead keys. What belongs to touch screens, and what only changes text that
//! was typed before, is noted and left out.

mod cldr;
mod document;
mod form;
mod text;
mod transform;

use super::error::text_of;
use super::{Dead, ImportError, Level, Meaning, Opener, Sheets};
use crate::keyboard::codes;
use crate::keyboard::document::Nearest;
use crate::keyboard::{BoardForm, Modifiers, NamedKey, Output, Position};
use crate::layout::AccessKind;
use crate::order::{Gather, InOrder};
use document::{Facts, KeyFact, LayerFact};
use form::Form;
use std::collections::BTreeMap;
use text::{Unit, shown};

/// How a file that another imports is asked for: its path below the folder of
/// the first file. The answer is its bytes, or why it can't be had.
pub type Fetch<'a> = dyn FnMut(&str) -> Result<Vec<u8>, String> + 'a;

/// The sheets of the keyboard that `bytes` describe; `file` is its name in
/// complaints, `fetch` gets what it imports.
///
/// # Errors
/// A file that is too large, no text, no XML, another format or version, or
/// faulty; names file, line, layer, row and id.
pub fn read(bytes: &[u8], file: &str, fetch: &mut Fetch<'_>) -> Result<Sheets, ImportError> {
    let text = text_of(bytes, file)?;
    let facts = document::facts(text, file, fetch)?;
    Reader { facts, file, dead: Vec::new(), notes: Vec::new() }.sheets()
}

struct Reader<'a> {
    facts: Facts,
    file: &'a str,
    /// The markers of each dead key.
    dead: Vec<Vec<String>>,
    notes: Vec<String>,
}

/// A modifier of `layer@modifiers` that opens a level: its word and its keys.
const OPENERS: &[(&str, &[&str])] = &[
    ("altR", &["AltRight"]),
    ("alt", &["AltLeft", "AltRight"]),
    ("altL", &["AltLeft"]),
    ("ctrl", &["ControlLeft", "ControlRight"]),
    ("ctrlL", &["ControlLeft"]),
    ("ctrlR", &["ControlRight"]),
];

/// The keys of a board that no standard's file lists, by their codes.
fn frame(form: BoardForm) -> BTreeMap<Position, Meaning> {
    codes::all(form)
        .filter_map(|key| {
            let meaning = match key.code {
                "Space" => Meaning::Gives(Output::char(' ')),
                "ShiftLeft" | "ShiftRight" => Meaning::Holds(Modifiers::SHIFT),
                "ControlLeft" | "ControlRight" => Meaning::Holds(Modifiers::CTRL),
                "AltLeft" | "AltRight" => Meaning::Holds(Modifiers::ALT),
                "MetaLeft" | "MetaRight" => Meaning::Holds(Modifiers::META),
                code => Meaning::Gives(Output::Key(code.parse::<NamedKey>().ok()?)),
            };
            Some((key.position, meaning))
        })
        .gather()
}

impl Reader<'_> {
    fn sheets(mut self) -> Result<Sheets, ImportError> {
        let form = Form::named(&self.facts.form).ok_or_else(|| {
            let what = format!(
                "unknown form '{}': expected one of {}{}",
                shown(&self.facts.form),
                Form::ids().collect::<Vec<_>>().join(", "),
                Nearest::of(&self.facts.form, Form::ids())
            );
            ImportError::at(self.file, self.facts.form_line, what)
        })?;
        let layers = std::mem::take(&mut self.facts.layers);
        let mut openers: Vec<&'static str> = Vec::new();
        let mut levels: BTreeMap<Level, BTreeMap<Position, Meaning>> = BTreeMap::new();
        levels.insert(Level::PLAIN, frame(form.board));
        let mut seen: Vec<Level> = Vec::new();
        for layer in &layers {
            let Some(level) = self.level(layer, &mut openers)? else { continue };
            if seen.contains(&level) {
                self.notes.push(format!(
                    "layer '{}' overlaps another with the same modifiers: left out",
                    shown(&layer.name)
                ));
                continue;
            }
            seen.push(level);
            let keys = self.keys(layer, form)?;
            levels.entry(level).or_default().extend(keys);
        }
        let dead = self.dead_keys(&levels)?;
        let openers = openers
            .into_iter()
            .map(|word| Opener { name: word.to_owned(), keys: opener_keys(word, form.board) })
            .collect();
        let mut notes = std::mem::take(&mut self.facts.notes);
        notes.append(&mut self.notes);
        Ok(Sheets {
            name: slug(&self.facts.name, &self.facts.locale),
            title: self.facts.name.clone(),
            source: format!("From an LDML keyboard file (UTS #35), locale {}.", self.facts.locale),
            form: Some(form.board),
            openers,
            dead,
            levels,
            unreachable: Vec::new(),
            notes,
        })
    }

    /// The level that a layer is for: of its sets of modifiers the one with
    /// the fewest openers. None, with a note, where only CapsLock or "other"
    /// modifiers lead to it.
    fn level(
        &mut self,
        layer: &LayerFact,
        openers: &mut Vec<&'static str>,
    ) -> Result<Option<Level>, ImportError> {
        let mut sets: Vec<(Vec<&'static str>, bool)> = Vec::new();
        for set in layer.modifiers.split(',') {
            let mut held = Vec::new();
            let (mut shift, mut usable) = (false, true);
            for word in set.split_whitespace() {
                match word {
                    "none" => {}
                    "shift" => shift = true,
                    "caps" | "other" => usable = false,
                    word => {
                        let known = OPENERS.iter().find(|(known, _)| *known == word);
                        let (known, _) = known.ok_or_else(|| {
                            let words = ["none", "shift", "caps", "other"];
                            let words = words.into_iter().chain(OPENERS.iter().map(|(w, _)| *w));
                            let what = format!(
                                "layer '{}': unknown modifier '{}'{}",
                                shown(&layer.name),
                                shown(word),
                                Nearest::of(word, words)
                            );
                            ImportError::at(&layer.file, layer.line, what)
                        })?;
                        held.push(*known);
                    }
                }
            }
            if usable {
                sets.push((held, shift));
            }
        }
        let Some((held, shift)) = sets.into_iter().min_by_key(|(held, _)| held.len()) else {
            self.notes.push(format!(
                "layer '{}' needs CapsLock or other modifiers: left out",
                shown(&layer.name)
            ));
            return Ok(None);
        };
        let mut level = Level { opened: 0, shift };
        for word in held {
            let index = openers.iter().position(|known| *known == word).unwrap_or_else(|| {
                openers.push(word);
                openers.len() - 1
            });
            level.opened |= 1 << index;
        }
        Ok(Some(level))
    }

    fn keys(
        &mut self,
        layer: &LayerFact,
        form: &Form,
    ) -> Result<BTreeMap<Position, Meaning>, ImportError> {
        let mut keys = BTreeMap::new();
        for (number, row) in layer.rows.iter().enumerate() {
            let places = form.row(number);
            let place = format!("layer '{}', row {}", shown(&layer.name), number + 1);
            if row.ids.len() > places.len() {
                let what = format!(
                    "{place}: {} keys: expected at most {} of form '{}'",
                    row.ids.len(),
                    places.len(),
                    form.id
                );
                return Err(ImportError::at(&layer.file, row.line, what));
            }
            if row.ids.len() < places.len() {
                self.notes.push(format!(
                    "{place} has {} keys of {}: what follows may be displaced",
                    row.ids.len(),
                    places.len()
                ));
            }
            for (id, position) in row.ids.iter().zip(places) {
                let meaning = self.key(id).ok_or_else(|| {
                    let known = self.facts.keys.keys().map(String::as_str);
                    let what =
                        format!("{place}: unknown key '{}'{}", shown(id), Nearest::of(id, known));
                    ImportError::at(&layer.file, row.line, what)
                })?;
                if let Some(position) = position {
                    keys.insert(position, meaning);
                }
            }
        }
        Ok(keys)
    }

    /// What the key with this id means; none where nobody defines it.
    fn key(&mut self, id: &str) -> Option<Meaning> {
        let Some(fact) = self.facts.keys.get(id) else {
            let mut chars = id.chars();
            return match (chars.next(), chars.next(), id) {
                (_, _, "gap") => Some(Meaning::Nothing),
                (_, _, "space") => Some(Meaning::Gives(Output::char(' '))),
                (Some(c), None, _) if c.is_ascii_alphanumeric() => {
                    Some(Meaning::Gives(Output::char(c)))
                }
                _ => None,
            };
        };
        let KeyFact::Output(units) = fact else { return Some(Meaning::Nothing) };
        let made = text::text_of(units);
        if !made.is_empty() {
            return Some(if made.contains(char::is_control) {
                self.notes.push(format!("key '{}' gives a control character: left out", shown(id)));
                Meaning::Nothing
            } else {
                Meaning::Gives(Output::Text(made))
            });
        }
        let markers: Vec<String> = units
            .iter()
            .filter_map(|unit| match unit {
                Unit::Marker(id) => Some(id.clone()),
                Unit::Char(_) => None,
            })
            .collect();
        if markers.is_empty() {
            return Some(Meaning::Nothing);
        }
        let index = self.dead.iter().position(|known| *known == markers).unwrap_or_else(|| {
            self.dead.push(markers);
            self.dead.len() - 1
        });
        Some(Meaning::Dead(index))
    }

    fn dead_keys(
        &self,
        levels: &BTreeMap<Level, BTreeMap<Position, Meaning>>,
    ) -> Result<Vec<Dead>, ImportError> {
        let mut steps = transform::MOST_STEPS;
        let mut bases: Vec<&str> = levels
            .values()
            .flat_map(BTreeMap::values)
            .filter_map(|meaning| match meaning {
                Meaning::Gives(Output::Text(text)) => Some(text.as_str()),
                _ => None,
            })
            .collect();
        bases.order_by(Ord::cmp);
        bases.dedup();
        let mut dead = Vec::new();
        for markers in &self.dead {
            let mut makes = BTreeMap::new();
            for base in &bases {
                let mut input: Vec<Unit> = markers.iter().cloned().map(Unit::Marker).collect();
                input.extend(base.chars().map(Unit::Char));
                if let Some(made) = transform::run(&self.facts.transforms, &input, &mut steps) {
                    makes.insert((*base).to_owned(), made);
                }
                if steps == 0 {
                    let what = "its transforms take too long: this is no keyboard for people";
                    return Err(ImportError::whole(self.file, what));
                }
            }
            let name = markers.join("-");
            let name = slug(&name, "marker");
            dead.push(Dead { name, makes });
        }
        Ok(dead)
    }
}

fn opener_keys(word: &str, form: BoardForm) -> Vec<(Position, AccessKind)> {
    let codes = OPENERS.iter().find(|(known, _)| *known == word).map_or(&[][..], |(_, keys)| keys);
    codes
        .iter()
        .filter_map(|code| codes::position(codes::CodeName::Code(code), form))
        .map(|position| (position, AccessKind::Hold))
        .collect()
}

/// A name without blanks: letters and digits of `wish`, the rest hyphens.
pub fn slug(wish: &str, otherwise: &str) -> String {
    let mut name = String::new();
    for c in wish.chars() {
        if c.is_alphanumeric() {
            name.extend(c.to_lowercase());
        } else if !name.ends_with('-') && !name.is_empty() {
            name.push('-');
        }
    }
    let name: String = name.chars().take(24).collect();
    let name = name.trim_end_matches('-').to_owned();
    if crate::layout::token::is_name(&name) {
        name
    } else if wish == otherwise {
        "keyboard".to_owned()
    } else {
        slug(otherwise, otherwise)
    }
}
