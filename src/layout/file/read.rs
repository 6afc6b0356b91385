//! Text to layouts.

use super::definitions;
use super::error::{LayoutError, Warning};
use crate::keyboard::document::{Document, DocumentError, Nearest, Section};
use crate::keyboard::{Board, Chord, Finger, Marker, Output, Position};
use crate::layout::token::{self, Names, TokenError};
use crate::layout::{Action, Assignment, Cluster, Layer, LayerId, Layout, ShiftTable, shipped};
use crate::order::InOrder;
use std::collections::BTreeMap;
use toml::de::DeValue;
use unicode_width::UnicodeWidthStr;

/// The most layers a layout may have.
const MOST_LAYERS: usize = 64;

/// A layout and what is odd about its file.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The layout.
    pub layout: Layout,
    /// Likely mistakes, in the order of the file.
    pub warnings: Vec<Warning>,
}

/// The layout that `text` describes; `file` is its name in complaints.
///
/// # Errors
/// Names file, line, and where it applies layer, row, position and token,
/// with what was expected and the nearest known word.
pub fn read(text: &str, file: &str) -> Result<Reading, LayoutError> {
    let document = Document { file, text };
    let parsed = document.parse()?;
    let top = Section { document, name: "the file", start: 0, table: parsed.get_ref() };
    let mut warnings = Vec::new();
    let known = definitions::keys(0);
    warn_unknown(&top, &known, &mut warnings);
    unknown_sections(&top, &known)?;

    let (name, name_at) = top.need_text(definitions::NAME.key, definitions::NAME.expected)?;
    if !token::is_name(name) {
        return Err(bad_name(&top, name_at, "name", name));
    }
    let title = top.line("title")?.unwrap_or(name);
    let mut board = read_board(&top)?;
    let old_way = top.line("old_way")?.map(str::to_owned);
    let shift = read_shift(&top, &mut warnings)?;
    let fingers = read_fingers(&top, &board)?;
    for (position, finger) in &fingers {
        for site in board.sites.iter_mut().filter(|site| site.position == *position) {
            site.finger = *finger;
        }
    }
    let actions = read_actions(&top, &mut warnings)?;
    let sections = top.tables("layer")?;
    let heads = read_heads(&top, &sections, &mut warnings)?;
    let layer_names: Vec<String> = heads.iter().map(|head| head.name.clone()).collect();
    let action_names: Vec<String> = actions.keys().cloned().collect();
    let names = Names { layers: &layer_names, actions: &action_names };
    let mut layers = Vec::new();
    for (head, section) in heads.into_iter().zip(&sections) {
        let base = layers.is_empty();
        let keys = read_keys(section, &head.name, &board, names, base)?;
        layers.push(Layer { keys, ..head });
    }
    let prefer = read_prefer(&top, &board, &layer_names)?;
    warnings.order_by_key(Warning::line);
    let layout = Layout {
        reasons: reasons(text),
        name: name.to_owned(),
        title: title.to_owned(),
        board,
        fingers,
        old_way,
        shift,
        actions,
        prefer,
        layers,
    };
    Ok(Reading { layout, warnings })
}

/// The comment lines at the top, without their mark.
fn reasons(text: &str) -> Vec<String> {
    text.trim_start_matches('\u{feff}')
        .lines()
        .map_while(|line| line.strip_prefix('#'))
        .map(|line| line.strip_prefix(' ').unwrap_or(line).trim_end().to_owned())
        .collect()
}

fn bad(
    section: &Section<'_>,
    at: usize,
    key: &str,
    value: &str,
    expected: impl Into<String>,
    nearest: Nearest,
) -> LayoutError {
    LayoutError::Document(DocumentError::Value {
        place: section.document.place(at),
        key: key.to_owned(),
        value: value.to_owned(),
        expected: expected.into(),
        nearest,
    })
}

fn bad_name(section: &Section<'_>, at: usize, key: &str, value: &str) -> LayoutError {
    bad(section, at, key, value, definitions::NAME_RULE, Nearest::default())
}

fn warn_unknown(section: &Section<'_>, known: &[&str], warnings: &mut Vec<Warning>) {
    for key in section.table.keys() {
        let word = key.get_ref().as_ref();
        if !known.contains(&word) {
            warnings.push(Warning::UnknownKey {
                place: section.document.place(key.span().start),
                table: section.name.to_owned(),
                key: word.to_owned(),
                nearest: Nearest::of(word, known.iter().copied()),
            });
        }
    }
}

/// A `[[table]]` that nobody knows is most likely a layer with its name
/// misspelt; without it everything after would be misunderstood.
fn unknown_sections(top: &Section<'_>, known: &[&str]) -> Result<(), LayoutError> {
    for (key, value) in top.table {
        let word = key.get_ref().as_ref();
        let sections = value.get_ref().as_array().is_some_and(|array| {
            array.first().is_some_and(|first| first.get_ref().as_table().is_some())
        });
        if sections && !known.contains(&word) {
            let nearest = Nearest::of(word, known.iter().copied());
            let value = format!("[[{word}]]");
            return Err(bad(top, key.span().start, word, &value, "[[layer]]", nearest));
        }
    }
    Ok(())
}

fn read_board(top: &Section<'_>) -> Result<Board, LayoutError> {
    let (name, at) = top.need_text(definitions::BOARD.key, definitions::BOARD.expected)?;
    shipped::board(name).ok_or_else(|| {
        let known: Vec<&str> = shipped::board_names().collect();
        let expected = format!(
            "one of {}, or a described one such as split-4x6-5 or ortho-5x12",
            known.join(", ")
        );
        bad(top, at, "board", name, expected, Nearest::of(name, known.iter().copied()))
    })
}

fn one_char(text: &str) -> Option<char> {
    let mut chars = text.chars();
    let c = chars.next()?;
    (chars.next().is_none() && !c.is_control()).then_some(c)
}

fn read_shift(top: &Section<'_>, warnings: &mut Vec<Warning>) -> Result<ShiftTable, LayoutError> {
    let Some(section) = top.table("shift")? else { return Ok(ShiftTable::default()) };
    let section = Section { name: "[shift]", ..section };
    warn_unknown(&section, &definitions::keys(1), warnings);
    let us = match section.text("table")? {
        None | Some(("us", _)) => true,
        Some(("letters", _)) => false,
        Some((word, at)) => {
            let nearest = Nearest::of(word, ["us", "letters"]);
            return Err(bad(
                &section,
                at,
                "table",
                word,
                definitions::SHIFT_TABLE.expected,
                nearest,
            ));
        }
    };
    let mut pairs = BTreeMap::new();
    if let Some(table) = section.table("pairs")? {
        for (key, _) in table.table {
            let plain = key.get_ref().as_ref();
            let (shifted, at) = table.need(plain)?;
            let pair = one_char(plain).zip(one_char(shifted));
            let (plain, shifted) = pair.ok_or_else(|| {
                let shown = format!("{plain}{shifted}");
                bad(
                    &table,
                    at,
                    "pairs",
                    &shown,
                    "one character = one character",
                    Nearest::default(),
                )
            })?;
            pairs.insert(plain, shifted);
        }
    }
    Ok(ShiftTable { us, pairs })
}

impl<'a> Section<'a> {
    /// The text of a key that is there.
    fn need(&self, key: &str) -> Result<(&'a str, usize), DocumentError> {
        Ok(self.text(key)?.unwrap_or(("", self.start)))
    }
}

fn position_on(board: &Board, word: &str) -> Option<Position> {
    word.parse().ok().filter(|position| board.index_of(*position).is_some())
}

fn nearest_position(board: &Board, word: &str) -> Nearest {
    let known: Vec<String> = board.sites.iter().map(|site| site.position.to_string()).collect();
    Nearest::of(word, known.iter().map(String::as_str))
}

fn read_fingers(
    top: &Section<'_>,
    board: &Board,
) -> Result<BTreeMap<Position, Finger>, LayoutError> {
    let mut fingers = BTreeMap::new();
    let Some(section) = top.table("fingers")? else { return Ok(fingers) };
    for key in section.table.keys() {
        let word = key.get_ref().as_ref();
        let position = position_on(board, word).ok_or_else(|| {
            let expected = format!("positions of board '{}'", board.name);
            let nearest = nearest_position(board, word);
            bad(&section, key.span().start, "[fingers] key", word, expected, nearest)
        })?;
        let (text, at) = section.need(word)?;
        let finger = text.parse().map_err(|_| {
            bad(&section, at, word, text, "a finger such as L5 or R2", Nearest::default())
        })?;
        fingers.insert(position, finger);
    }
    Ok(fingers)
}

fn read_actions(
    top: &Section<'_>,
    warnings: &mut Vec<Warning>,
) -> Result<BTreeMap<String, Action>, LayoutError> {
    let mut actions = BTreeMap::new();
    let Some(section) = top.table("actions")? else { return Ok(actions) };
    for (key, value) in section.table {
        let name = key.get_ref().as_ref();
        if !token::is_name(name) {
            return Err(bad_name(&section, key.span().start, "action", name));
        }
        let DeValue::Table(table) = value.get_ref() else {
            return Err(section.document.wrong_type(name, value, "a table").into());
        };
        let heading = format!("action '{name}'");
        let action = Section {
            document: section.document,
            name: &heading,
            start: value.span().start,
            table,
        };
        warn_unknown(&action, &definitions::keys(2), warnings);
        let (text, at) = action.need_text(definitions::CHORD.key, definitions::CHORD.expected)?;
        let chord: Chord = text.parse().map_err(|error| {
            let TokenError { expected, nearest } = token::bad_chord(&error);
            bad(&action, at, "chord", text, expected, nearest)
        })?;
        let title = action.line("title")?.unwrap_or(name).to_owned();
        actions.insert(name.to_owned(), Action { chord, title });
    }
    Ok(actions)
}

/// Reads all of each layer but its keys, so that keys can name any layer.
fn read_heads(
    top: &Section<'_>,
    sections: &[Section<'_>],
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Layer>, LayoutError> {
    if sections.is_empty() {
        return Err(top.missing(definitions::LAYER.key, definitions::LAYER.expected).into());
    }
    if let Some(first) = sections.get(MOST_LAYERS) {
        let place = top.document.place(first.start);
        return Err(LayoutError::TooMany { place, found: sections.len() });
    }
    let mut heads: Vec<Layer> = Vec::new();
    for section in sections {
        let (name, at) =
            section.need_text(definitions::LAYER_NAME.key, definitions::LAYER_NAME.expected)?;
        if !token::is_name(name) {
            return Err(bad_name(section, at, "layer name", name));
        }
        let twice = |what, name: &str, at| LayoutError::Twice {
            place: section.document.place(at),
            what,
            name: name.to_owned(),
        };
        if heads.iter().any(|head| head.name == name) {
            return Err(twice("layer", name, at));
        }
        let heading = format!("layer '{name}'");
        let section = Section { name: &heading, ..*section };
        warn_unknown(&section, &definitions::keys(3), warnings);
        let cluster = match section.text("cluster")? {
            None if heads.is_empty() => Cluster::Base,
            None => Cluster::Other,
            Some((word, at)) => Cluster::from_word(word).ok_or_else(|| {
                let known = Cluster::ALL.map(Cluster::word);
                let expected = format!("one of {}", known.join(", "));
                bad(&section, at, "cluster", word, expected, Nearest::of(word, known))
            })?,
        };
        let (sign, sign_at) = match section.text("sign")? {
            Some((sign, at)) => (sign.to_owned(), at),
            None => (name.chars().take(1).flat_map(char::to_uppercase).collect(), at),
        };
        let printable = !sign.contains(|c: char| c.is_control() || c.is_whitespace());
        if !printable || !(1..=2).contains(&sign.width()) {
            let expected = definitions::SIGN.expected;
            return Err(bad(&section, sign_at, "sign", &sign, expected, Nearest::default()));
        }
        if heads.iter().any(|head| head.sign == sign) {
            return Err(twice("sign", &sign, sign_at));
        }
        let marker = read_marker(&section, heads.is_empty())?;
        heads.push(Layer { name: name.to_owned(), cluster, sign, marker, keys: Vec::new() });
    }
    Ok(heads)
}

/// The marker key of a layer, where it names one. The base layer needs no
/// access, so that nothing could send its marker.
fn read_marker(section: &Section<'_>, base: bool) -> Result<Option<Marker>, LayoutError> {
    let Some((word, at)) = section.text("marker")? else { return Ok(None) };
    if base {
        let expected = "no marker on the base layer, which no access opens; leave the line out";
        return Err(bad(section, at, "marker", word, expected, Nearest::default()));
    }
    let marker = word.parse().map_err(|_| {
        let expected = definitions::MARKER.expected;
        bad(
            section,
            at,
            "marker",
            word,
            expected,
            Nearest::of(word, Marker::all().map(Marker::name)),
        )
    })?;
    Ok(Some(marker))
}

fn read_keys(
    section: &Section<'_>,
    layer: &str,
    board: &Board,
    names: Names<'_>,
    base: bool,
) -> Result<Vec<Assignment>, LayoutError> {
    let (keys, at) = section.need_text(definitions::KEYS.key, definitions::KEYS.expected)?;
    let mut place = section.document.place(at);
    let source = &section.document.text[at..];
    // A block's first line break, right after the quotes, is not part of it.
    let in_block = ["'''", "\"\"\""]
        .iter()
        .any(|mark| source.strip_prefix(mark).is_some_and(|rest| rest.starts_with(['\n', '\r'])));
    let first = place.line + usize::from(in_block);
    let lines: Vec<(usize, &str)> = keys
        .lines()
        .enumerate()
        .map(|(number, line)| (first + number, line))
        .filter(|(_, line)| !line.trim().is_empty())
        .collect();
    if lines.len() != board.rows.len() {
        return Err(LayoutError::Rows {
            place,
            layer: layer.to_owned(),
            found: lines.len(),
            expected: board.rows.len(),
            board: board.name.clone(),
        });
    }
    let mut assignments = Vec::with_capacity(board.sites.len());
    let mut sites = board.sites.as_slice();
    for (row, ((line, text), &count)) in lines.iter().zip(&board.rows).enumerate() {
        place.line = *line;
        let (here, after) = sites.split_at(count.min(sites.len()));
        sites = after;
        let tokens: Vec<&str> = text.split([' ', '\t']).filter(|t| !t.is_empty()).collect();
        if tokens.len() != count {
            let names: Vec<String> = here.iter().map(|site| site.position.to_string()).collect();
            return Err(LayoutError::Count {
                place,
                layer: layer.to_owned(),
                row: row + 1,
                found: tokens.len(),
                expected: count,
                positions: names.join(" "),
            });
        }
        for (word, site) in tokens.iter().zip(here) {
            let read = token::read(word, names).and_then(|assignment| {
                if base && assignment == Assignment::FallThrough {
                    Err(TokenError {
                        expected: "something: nothing lies beneath the base layer; write -- for \
                                   nothing"
                            .to_owned(),
                        nearest: Nearest::default(),
                    })
                } else {
                    Ok(assignment)
                }
            });
            assignments.push(read.map_err(|source| LayoutError::Token {
                place: place.clone(),
                layer: layer.to_owned(),
                row: row + 1,
                position: site.position.to_string(),
                token: (*word).to_owned(),
                reason: source,
            })?);
        }
    }
    Ok(assignments)
}

fn read_prefer(
    top: &Section<'_>,
    board: &Board,
    layers: &[String],
) -> Result<BTreeMap<Output, (LayerId, Position)>, LayoutError> {
    let mut prefer = BTreeMap::new();
    let Some(section) = top.table("prefer")? else { return Ok(prefer) };
    for key in section.table.keys() {
        let word = key.get_ref().as_ref();
        let output = token::read_output(word).map_err(|error| {
            let at = key.span().start;
            bad(&section, at, "[prefer] key", word, error.expected, error.nearest)
        })?;
        let (text, at) = section.need(word)?;
        let wrong = |expected: &str, nearest| bad(&section, at, word, text, expected, nearest);
        let (layer, position) = text.split_once(' ').ok_or_else(|| {
            wrong("a layer and a position, as in symbols C07", Nearest::default())
        })?;
        let index = layers.iter().position(|known| known == layer).ok_or_else(|| {
            let nearest = Nearest::of(layer, layers.iter().map(String::as_str));
            wrong("a layer of this file first", nearest)
        })?;
        let position = position_on(board, position).ok_or_else(|| {
            wrong("a position of the board after the layer", nearest_position(board, position))
        })?;
        prefer.insert(output, (LayerId(index as u8), position));
    }
    Ok(prefer)
}
