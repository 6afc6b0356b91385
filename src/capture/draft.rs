//! A layout in the making: positions may still be open.

use crate::keyboard::{Board, BoardForm};
use crate::layout::token::is_name;
use crate::layout::{Access, Assignment, Cluster, Layer, LayerId, Layout, ShiftTable, Target};
use std::collections::BTreeMap;
use unicode_width::UnicodeWidthStr;

/// The most layers that a layout may have.
const MOST_LAYERS: usize = 64;

/// One layer in the making.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Unique in the draft.
    pub name: String,
    /// What it is for.
    pub cluster: Cluster,
    /// One or two columns that stand for it, unique in the draft.
    pub sign: String,
    /// One a site of the board; none where nothing is known yet.
    pub keys: Vec<Option<Assignment>>,
}

/// A layout in the making.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    /// The name that commands use.
    pub name: String,
    /// A title for people.
    pub title: String,
    /// The board.
    pub board: Board,
    /// The layout that the person used before, by name.
    pub old_way: Option<String>,
    /// What Shift makes.
    pub shift: ShiftTable,
    /// The layers; the first is the base.
    pub layers: Vec<Sheet>,
}

/// Why a layer can't be added or named so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DraftError {
    /// Not a name.
    #[error(
        "'{0}' is no name: expected 1 to 32 characters without blanks and without / : \" ', and \
         no modifier's name"
    )]
    Name(String),
    /// There is one of this name.
    #[error("there is a layer '{0}' already: give this one another name")]
    Twice(String),
    /// As many as an index holds.
    #[error("there are 64 layers already: leave some out")]
    TooMany,
    /// No board of this name.
    #[error("no board '{0}': expected one that `etude layout list` tells, or split-RxC-T")]
    Board(String),
}

impl Draft {
    /// A draft with a base layer on which every key is open.
    ///
    /// # Errors
    /// [`DraftError::Name`] where `name` is none.
    pub fn new(name: &str, title: &str, board: Board) -> Result<Self, DraftError> {
        if !is_name(name) {
            return Err(DraftError::Name(name.to_owned()));
        }
        let keys = vec![None; board.sites.len()];
        let old_way = if board.form == BoardForm::Iso { "plain-iso" } else { "plain-ansi" };
        let base = Sheet { name: "base".into(), cluster: Cluster::Base, sign: "B".into(), keys };
        Ok(Self {
            name: name.to_owned(),
            title: title.to_owned(),
            board,
            old_way: Some(old_way.to_owned()),
            shift: ShiftTable::default(),
            layers: vec![base],
        })
    }

    /// Adds a layer, all keys open, with the first sign that is free.
    ///
    /// # Errors
    /// See [`DraftError`].
    pub fn add_layer(&mut self, name: &str, cluster: Cluster) -> Result<LayerId, DraftError> {
        self.allows(name, None)?;
        let id = u8::try_from(self.layers.len())
            .ok()
            .filter(|id| usize::from(*id) < MOST_LAYERS)
            .ok_or(DraftError::TooMany)?;
        let sheet = Sheet {
            name: name.to_owned(),
            cluster,
            sign: self.free_sign(name),
            keys: vec![None; self.board.sites.len()],
        };
        self.layers.push(sheet);
        Ok(LayerId(id))
    }

    /// Says whether a layer can have this name; `except` may have it already.
    ///
    /// # Errors
    /// See [`DraftError`].
    pub fn allows(&self, name: &str, except: Option<LayerId>) -> Result<(), DraftError> {
        if !is_name(name) {
            return Err(DraftError::Name(name.to_owned()));
        }
        let other = self.layers.iter().position(|layer| layer.name == name);
        match other {
            Some(index) if except.is_none_or(|id| id.index() != index) => {
                Err(DraftError::Twice(name.to_owned()))
            }
            _ => Ok(()),
        }
    }

    /// A sign for a layer of this name: the capital of its first letter that is
    /// free and drawn in one column, else a number.
    pub fn free_sign(&self, name: &str) -> String {
        let free = |sign: &String| {
            sign.width() == 1 && self.layers.iter().all(|layer| layer.sign != *sign)
        };
        let capitals = name.chars().map(|c| c.to_uppercase().collect::<String>());
        let numbers = (1..=MOST_LAYERS).map(|number| number.to_string());
        let numbered = |sign: &String| self.layers.iter().all(|layer| layer.sign != *sign);
        capitals
            .into_iter()
            .find(free)
            .or_else(|| numbers.into_iter().find(numbered))
            .unwrap_or_default()
    }

    /// The layer with this name.
    pub fn layer_named(&self, name: &str) -> Option<LayerId> {
        self.layers.iter().position(|layer| layer.name == name).map(|index| LayerId(index as u8))
    }

    /// What is known of key `index` of `layer`.
    pub fn key(&self, layer: LayerId, index: usize) -> Option<&Assignment> {
        self.layers.get(layer.index())?.keys.get(index)?.as_ref()
    }

    /// Takes note of what key `index` of `layer` does; none opens it again.
    pub fn set(&mut self, layer: LayerId, index: usize, what: Option<Assignment>) {
        let sheet = self.layers.get_mut(layer.index());
        if let Some(key) = sheet.and_then(|sheet| sheet.keys.get_mut(index)) {
            *key = what;
        }
    }

    /// The first key that opens `layer`, looked for on the layers in order: the
    /// layer it is on, its index, the access.
    pub fn access_to(&self, layer: LayerId) -> Option<(LayerId, usize, Access)> {
        self.layers.iter().enumerate().find_map(|(on, sheet)| {
            sheet.keys.iter().enumerate().find_map(|(index, key)| {
                let access = match key.as_ref()? {
                    Assignment::Access(access) => *access,
                    Assignment::Dual { hold, .. } => *hold,
                    _ => return None,
                };
                (access.target == Target::Layer(layer)).then_some((
                    LayerId(on as u8),
                    index,
                    access,
                ))
            })
        })
    }

    /// The layout as far as it is known: open keys give nothing on the base
    /// layer and let the layer beneath through elsewhere.
    pub fn layout(&self) -> Layout {
        let layers = self.layers.iter().enumerate().map(|(n, sheet)| {
            let open = if n == 0 { Assignment::Nothing } else { Assignment::FallThrough };
            let keys = sheet.keys.iter().map(|key| key.clone().unwrap_or_else(|| open.clone()));
            Layer {
                name: sheet.name.clone(),
                cluster: sheet.cluster,
                sign: sheet.sign.clone(),
                marker: None,
                keys: keys.collect(),
            }
        });
        Layout {
            reasons: Vec::new(),
            name: self.name.clone(),
            title: self.title.clone(),
            board: self.board.clone(),
            fingers: BTreeMap::new(),
            old_way: self.old_way.clone(),
            shift: self.shift.clone(),
            actions: BTreeMap::new(),
            prefer: BTreeMap::new(),
            layers: layers.collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::{AccessKind, file, shipped};

    fn draft() -> Draft {
        Draft::new("harbour", "Harbour", shipped::board("split-3x5-3").unwrap()).unwrap()
    }

    #[test]
    fn signs_are_free_and_names_unique() {
        let mut draft = draft();
        for (name, sign) in [("symbols", "S"), ("signs", "I"), ("s", "1"), ("bis", "2")] {
            let id = draft.add_layer(name, Cluster::Symbols).unwrap();
            assert_eq!(draft.layers[id.index()].sign, sign, "{name}");
        }
        let error = draft.add_layer("symbols", Cluster::Other).unwrap_err();
        assert_eq!(error, DraftError::Twice("symbols".into()));
        assert!(draft.add_layer("Ctrl", Cluster::Other).is_err());
        assert!(draft.add_layer("a b", Cluster::Other).is_err());
    }

    #[test]
    fn an_open_draft_is_a_layout_that_reads_back() {
        let mut draft = draft();
        let id = draft.add_layer("symbols", Cluster::Symbols).unwrap();
        let access = Access { kind: AccessKind::Hold, target: Target::Layer(id) };
        draft.set(LayerId::BASE, 31, Some(Assignment::Access(access)));
        assert_eq!(draft.access_to(id), Some((LayerId::BASE, 31, access)));
        let layout = draft.layout();
        let again = file::read(&file::write(&layout), "harbour.toml").unwrap();
        assert_eq!(again.layout, layout);
        assert_eq!(again.warnings, []);
    }
}
