//! What reaches the engine: timed events, from a terminal or a script.

use crate::keyboard::{Chord, ChordKey, Marker, Modifiers, NamedKey, Output};
use crate::units::Micros;

/// The key of a stroke.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StrokeKey {
    /// A key by the character that it gives without modifiers (or with
    /// Shift, where the terminal tells no more).
    Char(char),
    /// A named key.
    Named(NamedKey),
    /// The level-5 shift of the system, for which W3C has no name.
    Level5Shift,
}

/// What one key event says.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Stroke {
    /// The key. A plain terminal gives the typed character; the enhanced
    /// protocol the key's unshifted character.
    pub key: StrokeKey,
    /// The modifiers held, as far as the terminal tells.
    pub modifiers: Modifiers,
    /// The text that was typed, where the terminal grants it.
    pub text: Option<String>,
    /// The physical key on a US board, where the terminal grants it.
    pub base: Option<char>,
}

impl Stroke {
    /// A character typed in a plain terminal.
    pub fn char(c: char) -> Self {
        Self { key: StrokeKey::Char(c), modifiers: Modifiers::empty(), text: None, base: None }
    }

    /// A named key with modifiers.
    pub fn named(key: NamedKey, modifiers: Modifiers) -> Self {
        Self { key: StrokeKey::Named(key), modifiers, text: None, base: None }
    }

    /// A marker key.
    pub fn of_marker(marker: Marker) -> Self {
        let key = match marker {
            Marker::Key(key) => StrokeKey::Named(key),
            Marker::Level5Shift => StrokeKey::Level5Shift,
        };
        Self { key, modifiers: Modifiers::empty(), text: None, base: None }
    }

    /// What the host receives by this stroke.
    ///
    /// Text wins where neither Ctrl, Alt nor Meta is held. A character with
    /// Shift alone is the text that the terminal sent for it.
    pub fn output(&self) -> Output {
        let commanding =
            self.modifiers.intersects(Modifiers::CTRL | Modifiers::ALT | Modifiers::META);
        match self.key {
            StrokeKey::Named(key) => Output::of_key(key, self.modifiers),
            // It has no name of its own; of those that there are this is next.
            StrokeKey::Level5Shift => Output::Key(NamedKey::AltGraph),
            StrokeKey::Char(c) if !commanding => match &self.text {
                Some(text) if !text.is_empty() => Output::Text(text.clone()),
                _ if self.modifiers.contains(Modifiers::SHIFT) => {
                    let mut upper = c.to_uppercase();
                    match (upper.next(), upper.next()) {
                        (Some(one), None) => Output::char(one),
                        _ => Output::char(c),
                    }
                }
                _ => Output::char(c),
            },
            StrokeKey::Char(c) => {
                let plain = c.to_lowercase().next().unwrap_or(c);
                let shift = if plain == c { Modifiers::empty() } else { Modifiers::SHIFT };
                Output::Chord(Chord {
                    modifiers: self.modifiers | shift,
                    key: ChordKey::Char(plain),
                })
            }
        }
    }

    /// True for keys that are never an answer: modifiers and locks alone, and
    /// the function keys that a keyboard may send when a layer is accessed.
    pub fn is_silent(&self) -> bool {
        let key = match self.key {
            StrokeKey::Named(key) => key,
            StrokeKey::Level5Shift => return true,
            StrokeKey::Char(_) => return false,
        };
        Modifiers::of_key(key).is_some()
            || matches!(
                key,
                NamedKey::AltGraph
                    | NamedKey::CapsLock
                    | NamedKey::NumLock
                    | NamedKey::ScrollLock
                    | NamedKey::Fn
            )
            || (NamedKey::F13..=NamedKey::F24).contains(&key)
    }

    /// The marker key that this is, whatever is held with it.
    pub fn marker(&self) -> Option<Marker> {
        match self.key {
            StrokeKey::Named(key) => Marker::of_key(key),
            StrokeKey::Level5Shift => Some(Marker::Level5Shift),
            StrokeKey::Char(_) => None,
        }
    }

    /// The marker key that this may be in a plain terminal, which sends F13 to
    /// F24 as Shift with F1 to F12 (source: xterm's control sequences).
    pub fn plain_marker(&self) -> Option<Marker> {
        let StrokeKey::Named(key) = self.key else { return None };
        if self.modifiers != Modifiers::SHIFT {
            return None;
        }
        let number = (1..=12).find(|number| NamedKey::function(*number) == Some(key))?;
        NamedKey::function(number + 12).and_then(Marker::of_key)
    }

    /// The named key, if this is one without modifiers.
    pub fn plain_key(&self) -> Option<NamedKey> {
        match self.key {
            StrokeKey::Named(key) if self.modifiers.is_empty() => Some(key),
            _ => None,
        }
    }
}

/// Whether a key went down, repeats, or came up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum KeyState {
    /// Went down.
    Press,
    /// Sent again by the keyboard's own repeat; never a press.
    Repeat,
    /// Came up, where the terminal tells.
    Release,
}

/// One key event.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct KeyEvent {
    /// What it says.
    pub stroke: Stroke,
    /// Down, repeat or up.
    pub state: KeyState,
    /// True where it was read together with the event before it, so that no
    /// interval between the two is known.
    pub batched: bool,
}

impl KeyEvent {
    /// A press with its own time.
    pub fn press(stroke: Stroke) -> Self {
        Self { stroke, state: KeyState::Press, batched: false }
    }
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum EventKind {
    /// A key.
    Key(KeyEvent),
    /// Text was pasted; it never counts as keystrokes. The number of characters.
    Paste(usize),
    /// The window lost the keyboard: the clock stops.
    FocusLost,
    /// The window has the keyboard again.
    FocusGained,
    /// The running interval is worthless (the program was stopped, the
    /// machine slept): measure anew from here.
    Interrupted,
    /// Time passed.
    Tick,
    /// The person or the system ends the session now.
    Leave,
}

/// Something that happened at a known time.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Event {
    /// Since the start of the session; never less than the event before.
    pub at: Micros,
    /// What.
    pub kind: EventKind,
}
