//! What a key gave, from the events that came of it.

use crate::keyboard::{Modifiers, NamedKey, Output};
use crate::session::{Event, EventKind, KeyState, StrokeKey};
use crate::units::Micros;

/// Something that a key gave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// When it arrived.
    pub at: Micros,
    /// What arrived. A modifier alone is its key.
    pub output: Output,
    /// True where it was read together with what came before.
    pub batched: bool,
}

/// Tells modifiers that were struck alone from those that belong to a key:
/// a keyboard sends a chord as several events. Repeats and releases of other
/// keys are nothing; nor are keys that open a layer for the host.
#[derive(Debug, Clone, Default)]
pub struct Ear {
    /// The modifier that is down with nothing struck since.
    alone: Option<NamedKey>,
}

impl Ear {
    /// Takes in one event; what was given, if this completes it.
    pub fn hear(&mut self, event: &Event) -> Option<Heard> {
        let EventKind::Key(key) = &event.kind else {
            self.alone = None;
            return None;
        };
        let named = match key.stroke.key {
            StrokeKey::Named(named) => Some(named),
            // It opens a layer for the host, and is nothing by itself.
            StrokeKey::Level5Shift => return None,
            StrokeKey::Char(_) => None,
        };
        let heard = |output| Some(Heard { at: event.at, output, batched: key.batched });
        if let Some(modifier) = named.filter(|named| Modifiers::of_key(*named).is_some()) {
            return match key.state {
                KeyState::Press => {
                    // Two at once are no key that layouts can tell.
                    self.alone = self.alone.is_none().then_some(modifier);
                    None
                }
                KeyState::Release => {
                    let alone = self.alone.take() == Some(modifier);
                    alone.then(|| heard(Output::Key(modifier))).flatten()
                }
                KeyState::Repeat => None,
            };
        }
        if matches!(named, Some(NamedKey::AltGraph | NamedKey::Fn)) || key.state != KeyState::Press
        {
            return None;
        }
        self.alone = None;
        heard(key.stroke.output())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::{KeyEvent, Stroke};

    fn events(words: &[(&str, KeyState, Modifiers)]) -> Vec<String> {
        let mut ear = Ear::default();
        words
            .iter()
            .filter_map(|(word, state, modifiers)| {
                let stroke = match word.parse::<NamedKey>() {
                    Ok(key) => Stroke::named(key, Modifiers::empty()),
                    Err(_) => Stroke {
                        modifiers: *modifiers,
                        ..Stroke::char(word.chars().next().unwrap())
                    },
                };
                let kind = EventKind::Key(KeyEvent { stroke, state: *state, batched: false });
                ear.hear(&Event { at: Micros::ZERO, kind })
            })
            .map(|heard| heard.output.to_string())
            .collect()
    }

    #[test]
    fn a_modifier_counts_alone_or_with_its_key_never_twice() {
        use KeyState::{Press, Release, Repeat};
        let none = Modifiers::empty();
        assert_eq!(events(&[("Shift", Press, none), ("Shift", Release, none)]), ["Shift"]);
        let chord = [
            ("Control", Press, none),
            ("c", Press, Modifiers::CTRL),
            ("c", Repeat, Modifiers::CTRL),
            ("c", Release, Modifiers::CTRL),
            ("Control", Release, none),
        ];
        assert_eq!(events(&chord), ["Ctrl+C"]);
        let both = [
            ("Control", Press, none),
            ("Shift", Press, none),
            ("Shift", Release, none),
            ("Control", Release, none),
        ];
        assert_eq!(events(&both), [""; 0]);
        assert_eq!(events(&[("AltGraph", Press, none), ("AltGraph", Release, none)]), [""; 0]);
    }
}
