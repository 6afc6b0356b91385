//! Which key of the plain keyboard stands for which of the layout.

use super::host::Host;
use crate::keyboard::document::Nearest;
use crate::keyboard::{Digit, NamedKey, Output, Position};
use crate::layout::token::{read_output, write_output};
use crate::layout::{Access, Assignment, LayerId, Layout, Target};
use crate::order::InOrder;
use std::collections::BTreeMap;

/// A wish of the person: `LT2=CapsLock`, `symbols=F5`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandIn {
    /// A position of the layout, or a layer by name.
    pub of: String,
    /// A key of the plain keyboard: its position, or what it gives.
    pub by: String,
}

impl std::str::FromStr for StandIn {
    type Err = StandInError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        // The key itself may be '='.
        match s.split_once('=') {
            Some((of, by)) if !of.is_empty() && !by.is_empty() => {
                Ok(Self { of: of.to_owned(), by: by.to_owned() })
            }
            _ => Err(StandInError::Shape(s.to_owned())),
        }
    }
}

/// Why a wish can't be granted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum StandInError {
    /// Not two names.
    #[error(
        "'{0}' names no stand-in: expected a key of the layout or a layer, =, and a key of your \
         keyboard, as in LT2=CapsLock or symbols=F5"
    )]
    Shape(String),
    /// Neither a position of the layout nor a layer.
    #[error(
        "'{of}' is neither a key of '{layout}' nor a layer of it: expected a position such as LT2, \
         or one of {layers}{nearest}"
    )]
    Of {
        /// What was named.
        of: String,
        /// The layout.
        layout: String,
        /// Its layers but the base layer, parted by commas.
        layers: String,
        /// The nearest layer.
        nearest: Nearest,
    },
    /// No key of the plain keyboard.
    #[error(
        "'{by}' is no key of a plain keyboard: expected a position such as C00, or what it gives \
         unshifted, such as CapsLock, Space or F5"
    )]
    By {
        /// What was named.
        by: String,
    },
}

/// What stands for what.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StandIns {
    /// Where keys can be held: the place on the plain keyboard, the index of
    /// the layout's key.
    pub held: BTreeMap<Position, usize>,
    /// Where they can only be struck: the key that opens each layer.
    pub struck: BTreeMap<NamedKey, LayerId>,
}

/// Keys that stand in for those that nothing else fits, the handiest first.
const SPARE: [&str; 8] = ["CapsLock", "Tab", "Enter", "'", "\\", "`", "=", "]"];

/// What stands for what of `layout` on the plain keyboard `host`.
///
/// On the same board every key is itself. Otherwise the keys of the thumbs are
/// stood for by the key that gives what they give when struck (Escape by
/// CapsLock, which lies nearer) or by a spare one, and the others by the key of
/// the same place. Wishes go before all of that. Where keys can only be struck
/// F1, F2 … open the layers in their order.
///
/// # Errors
/// See [`StandInError`].
pub fn stand_ins(
    layout: &Layout,
    host: &Host,
    plain: &Layout,
    wishes: &[StandIn],
) -> Result<StandIns, StandInError> {
    let mut all = StandIns::default();
    let sites = &layout.board.sites;
    let mut done: Vec<usize> = Vec::new();
    let mut named_layers = Vec::new();
    for wish in wishes {
        let by = place_named(&wish.by, host, plain)
            .ok_or_else(|| StandInError::By { by: wish.by.clone() })?;
        let position = wish.of.parse().ok().and_then(|position| layout.board.index_of(position));
        match (position, layout.layer_named(&wish.of)) {
            (Some(index), _) => {
                all.held.insert(by, index);
                done.push(index);
            }
            (None, Some(layer)) => {
                // A layer is stood for by whichever key opens it.
                if let Some(index) = opener(layout, layer).filter(|index| !done.contains(index)) {
                    all.held.insert(by, index);
                    done.push(index);
                }
                if let Ok(Output::Key(key)) = read_output(&wish.by) {
                    all.struck.insert(key, layer);
                    named_layers.push(layer);
                }
            }
            (None, None) => {
                let names = layout.layers.iter().map(|layer| layer.name.as_str());
                let others: Vec<&str> = names.clone().skip(1).collect();
                return Err(StandInError::Of {
                    of: wish.of.clone(),
                    layout: layout.name.trim_end_matches(".played").to_owned(),
                    layers: others.join(", "),
                    nearest: Nearest::of(&wish.of, names),
                });
            }
        }
    }
    let mut number = 0;
    for (layer, _) in layout.layers().skip(1) {
        number += 1;
        if named_layers.contains(&layer) {
            continue;
        }
        let key = NamedKey::function(number).filter(|key| !all.struck.contains_key(key));
        all.struck.extend(key.map(|key| (key, layer)));
    }
    let mut stand = |index: usize, at: Option<Position>, done: &mut Vec<usize>| {
        let free = at.filter(|at| !all.held.contains_key(at) && plain.board.site(*at).is_some());
        if let Some(at) = free.filter(|_| !done.contains(&index)) {
            all.held.insert(at, index);
            done.push(index);
        }
    };
    if layout.board.name == host.board() {
        for (index, site) in sites.iter().enumerate() {
            stand(index, Some(site.position), &mut done);
        }
        return Ok(all);
    }
    let thumbs = || {
        let all = sites.iter().enumerate();
        all.filter(|(_, site)| site.finger.digit == Digit::Thumb).map(|(index, _)| index)
    };
    for index in thumbs() {
        stand(index, twin(layout, index, host), &mut done);
    }
    for index in thumbs() {
        for spare in SPARE {
            stand(index, place_named(spare, host, plain), &mut done);
        }
    }
    for (index, site) in sites.iter().enumerate() {
        if site.finger.digit != Digit::Thumb {
            stand(index, Some(site.position), &mut done);
        }
    }
    for index in 0..sites.len() {
        stand(index, twin(layout, index, host), &mut done);
    }
    Ok(all)
}

/// The first base key that opens `layer`.
fn opener(layout: &Layout, layer: LayerId) -> Option<usize> {
    layout.layers.first()?.keys.iter().position(|key| {
        let access = match key {
            Assignment::Access(access) => *access,
            Assignment::Dual { hold, .. } => *hold,
            _ => return false,
        };
        access.target == Target::Layer(layer)
    })
}

/// The key of the plain keyboard that gives what base key `index` gives.
fn twin(layout: &Layout, index: usize, host: &Host) -> Option<Position> {
    let key = layout.layers.first()?.keys.get(index)?;
    let struck = match key {
        Assignment::Dual { tap, .. } => tap,
        other => other,
    };
    let output = match struck {
        Assignment::Gives(Output::Key(NamedKey::Escape))
            if matches!(key, Assignment::Dual { .. }) =>
        {
            Output::Key(NamedKey::CapsLock)
        }
        Assignment::Gives(output) => output.clone(),
        Assignment::Access(Access { target: Target::Modifier(modifier), .. }) => {
            Output::Key(modifier.key())
        }
        _ => return None,
    };
    host.place_of(&output)
}

/// The place of the plain keyboard's key that `word` names.
fn place_named(word: &str, host: &Host, plain: &Layout) -> Option<Position> {
    let by_output = read_output(word).ok().and_then(|output| host.place_of(&output));
    let by_place = || word.parse().ok().filter(|position| plain.board.site(*position).is_some());
    by_output.or_else(by_place)
}

impl StandIns {
    /// The keys that open layers and the layers, in words: "CapsLock symbols".
    /// With keys that can be held, or that can only be struck.
    pub fn openers(&self, layout: &Layout, host: &Host, held: bool) -> Vec<(String, LayerId)> {
        if !held {
            let mut all: Vec<_> =
                self.struck.iter().map(|(key, layer)| (key.name().to_owned(), *layer)).collect();
            all.order_by_key(|(_, layer)| *layer);
            return all;
        }
        let mut all: Vec<(String, LayerId)> = self
            .held
            .iter()
            .filter_map(|(position, index)| {
                let access = match layout.layers.first()?.keys.get(*index)? {
                    Assignment::Access(access) => *access,
                    Assignment::Dual { hold, .. } => *hold,
                    _ => return None,
                };
                match access.target {
                    Target::Layer(layer) => Some((host.name_of(*position), layer)),
                    Target::Modifier(_) => None,
                }
            })
            .collect();
        all.order_by_key(|(_, layer)| *layer);
        all
    }

    /// What each stand-in is and stands for, for the docs and a look: the name
    /// on the plain keyboard, the layout's position, what it gives when struck.
    pub fn table(&self, layout: &Layout, host: &Host) -> Vec<(String, Position, String)> {
        self.held
            .iter()
            .filter_map(|(at, index)| {
                let site = layout.board.sites.get(*index)?;
                let key = layout.layers.first()?.keys.get(*index)?;
                let gives = crate::layout::walk::given(layout, key);
                let gives = gives.map_or_else(String::new, |output| write_output(&output));
                Some((host.name_of(*at), site.position, gives))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    fn openers(layout: &str, wishes: &[&str], held: bool) -> Vec<String> {
        let plain = shipped::load("plain-ansi").unwrap();
        let (host, layout) = (Host::new(&plain), shipped::load(layout).unwrap());
        let wishes: Vec<StandIn> = wishes.iter().map(|wish| wish.parse().unwrap()).collect();
        let all = stand_ins(&layout, &host, &plain, &wishes).unwrap();
        all.openers(&layout, &host, held)
            .into_iter()
            .map(|(key, layer)| format!("{key} {}", layout.layer(layer).name))
            .collect()
    }

    #[test]
    fn thumbs_are_stood_for_by_what_they_give() {
        assert_eq!(
            openers("tern-split", &[], true),
            [
                "Enter punctuation",
                "Backspace symbols",
                "Tab numbers",
                "Space navigation",
                "CapsLock shortcuts"
            ]
        );
        assert_eq!(
            openers("tern-laptop", &[], true)[..2],
            ["AltGraph punctuation", "CapsLock symbols"]
        );
        assert_eq!(openers("tern-split", &["symbols=CapsLock"], true)[1], "CapsLock symbols");
        assert_eq!(openers("tern-split", &["LT2=CapsLock"], true)[1], "CapsLock symbols");
    }

    #[test]
    fn where_keys_can_only_be_struck_function_keys_open_layers() {
        assert_eq!(openers("tern-split", &[], false)[..2], ["F1 punctuation", "F2 symbols"]);
        let named_layers = openers("tern-split", &["symbols=F9"], false);
        assert_eq!(named_layers[..2], ["F1 punctuation", "F9 symbols"]);
    }

    #[test]
    fn a_wish_that_names_nothing_is_told() {
        let plain = shipped::load("plain-ansi").unwrap();
        let (host, layout) = (Host::new(&plain), shipped::load("tern-split").unwrap());
        let told = |wish: &str| {
            wish.parse::<StandIn>()
                .and_then(|wish| stand_ins(&layout, &host, &plain, &[wish]))
                .unwrap_err()
                .to_string()
        };
        assert!(told("symbols").contains("names no stand-in"));
        assert!(told("symbls=F5").contains("did you mean 'symbols'"));
        assert!(told("nope=F5").contains("one of punctuation, symbols, numbers"));
        assert!(told("symbols=Fantasy").contains("is no key"));
    }
}
