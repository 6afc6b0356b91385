//! The plain keyboard under the hands.

use crate::keyboard::{Modifiers, NamedKey, Output, Position};
use crate::layout::{AccessKind, Assignment, Layout, Target, shipped};
use crate::order::Gather;
use crate::session::{Stroke, StrokeKey};
use std::collections::BTreeMap;

/// A key of the plain keyboard, and what is held with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HostKey {
    /// Where it lies.
    pub position: Position,
    /// The modifiers that the host holds.
    pub modifiers: Modifiers,
}

/// What each key of the plain keyboard sends, to know it again.
#[derive(Debug, Clone)]
pub struct Host {
    board: String,
    chars: BTreeMap<char, HostKey>,
    named: BTreeMap<NamedKey, Position>,
    /// The same board with the US characters, by which terminals name places.
    places: BTreeMap<char, Position>,
}

impl Host {
    /// The keyboard whose base layer `plain` describes.
    pub fn new(plain: &Layout) -> Self {
        let us = shipped::load("plain-ansi");
        let (chars, named) = keys_of(plain);
        let places = us.as_ref().map(|us| keys_of(us).0).unwrap_or_default();
        let places = places.into_iter().filter(|(_, key)| key.modifiers.is_empty());
        Self {
            board: plain.board.name.clone(),
            chars,
            named,
            places: places.map(|(c, key)| (c, key.position)).gather(),
        }
    }

    /// The name of its board.
    pub fn board(&self) -> &str {
        &self.board
    }

    /// The key that made `stroke`; none for one that the keyboard lacks.
    pub fn key(&self, stroke: &Stroke) -> Option<HostKey> {
        match stroke.key {
            StrokeKey::Named(named) => {
                let position = *self.named.get(&named)?;
                // A modifier's own key does not count as held with itself.
                let own = Modifiers::of_key(named).unwrap_or_default();
                Some(HostKey { position, modifiers: stroke.modifiers - own })
            }
            StrokeKey::Level5Shift => None,
            StrokeKey::Char(c) => {
                if let Some(position) = stroke.base.and_then(|base| self.places.get(&base)) {
                    return Some(HostKey { position: *position, modifiers: stroke.modifiers });
                }
                let key = self.chars.get(&c)?;
                Some(HostKey { modifiers: key.modifiers | stroke.modifiers, ..*key })
            }
        }
    }

    /// Where `output` lies without modifiers; a modifier's key too.
    pub fn place_of(&self, output: &Output) -> Option<Position> {
        match output {
            Output::Key(key) => self.named.get(key).copied(),
            Output::Text(_) => {
                let key = self.chars.get(&output.as_char()?)?;
                key.modifiers.is_empty().then_some(key.position)
            }
            Output::Chord(_) => None,
        }
    }

    /// What the key at `position` is called: its character or its key.
    pub fn name_of(&self, position: Position) -> String {
        let named = self.named.iter().find(|(_, at)| **at == position);
        let char = || {
            let mut plain = self.chars.iter().filter(|(_, key)| key.modifiers.is_empty());
            plain.find(|(_, key)| key.position == position)
        };
        match (named, char()) {
            (Some((key, _)), _) => key.name().to_owned(),
            (None, Some((' ', _))) => "Space".to_owned(),
            (None, Some((c, _))) => c.to_string(),
            (None, None) => position.to_string(),
        }
    }
}

fn keys_of(plain: &Layout) -> (BTreeMap<char, HostKey>, BTreeMap<NamedKey, Position>) {
    let (mut chars, mut named) = (BTreeMap::new(), BTreeMap::new());
    let Some(base) = plain.layers.first() else { return (chars, named) };
    for (key, site) in base.keys.iter().zip(&plain.board.sites) {
        let position = site.position;
        match key {
            Assignment::Gives(output) => match (output, output.as_char()) {
                (_, Some(c)) => {
                    let key = |modifiers| HostKey { position, modifiers };
                    chars.entry(c).or_insert(key(Modifiers::empty()));
                    if let Some(shifted) = plain.shift.shifted(c) {
                        chars.entry(shifted).or_insert(key(Modifiers::SHIFT));
                    }
                }
                (Output::Key(key), _) => {
                    named.entry(*key).or_insert(position);
                }
                _ => {}
            },
            Assignment::Access(access) if access.kind == AccessKind::Hold => {
                if let Target::Modifier(modifier) = access.target {
                    let key = modifier.key();
                    // Many hosts tell the right Alt key as AltGr.
                    let key = match key {
                        NamedKey::Alt if named.contains_key(&key) => NamedKey::AltGraph,
                        key => key,
                    };
                    named.entry(key).or_insert(position);
                }
            }
            _ => {}
        }
    }
    (chars, named)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_of_every_kind_of_terminal_find_their_key() {
        let host = Host::new(&shipped::load("plain-ansi").unwrap());
        let at = |stroke: &Stroke| {
            host.key(stroke).map(|key| format!("{} {}", key.position, key.modifiers))
        };
        assert_eq!(at(&Stroke::char('a')), Some("C01 ".into()));
        // A plain terminal tells Shift by the character alone.
        assert_eq!(at(&Stroke::char('A')), Some("C01 Shift".into()));
        assert_eq!(at(&Stroke::char('{')), Some("D11 Shift".into()));
        let told = Stroke { modifiers: Modifiers::SHIFT, ..Stroke::char('a') };
        assert_eq!(at(&told), Some("C01 Shift".into()));
        // Another host: the place on a US board wins.
        let other = Stroke { base: Some('y'), ..Stroke::char('z') };
        assert_eq!(at(&other), Some("D06 ".into()));
        let none = Modifiers::empty();
        assert_eq!(at(&Stroke::named(NamedKey::CapsLock, none)), Some("C00 ".into()));
        assert_eq!(at(&Stroke::named(NamedKey::Shift, Modifiers::SHIFT)), Some("B99 ".into()));
        assert_eq!(at(&Stroke::char('漢')), None);
        assert_eq!(host.name_of("A03".parse().unwrap()), "Space");
        assert_eq!(host.name_of("C00".parse().unwrap()), "CapsLock");
    }
}
