//! Tables of keys: control characters, SS3, numbers of `CSI n ~`, and the
//! key codes of the open keyboard protocol.

use super::csi::modifiers_of;
use super::named;
use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{Stroke, StrokeKey};

const NONE: Modifiers = Modifiers::empty();

/// The key that sends the ASCII character `byte` in a plain terminal.
pub fn of_ascii(byte: u8) -> Stroke {
    let ctrl = |c: u8| Stroke {
        key: StrokeKey::Char(char::from(c)),
        modifiers: Modifiers::CTRL,
        text: None,
        base: None,
    };
    match byte {
        b'\r' | b'\n' => named(NamedKey::Enter, NONE),
        b'\t' => named(NamedKey::Tab, NONE),
        // Terminals send either for Backspace.
        0x08 | 0x7f => named(NamedKey::Backspace, NONE),
        0x1b => named(NamedKey::Escape, NONE),
        0x00 => ctrl(b' '),
        0x01..=0x1a => ctrl(byte + b'a' - 1),
        0x1c..=0x1f => ctrl(byte + b'@'),
        _ => Stroke::char(char::from(byte)),
    }
}

/// The key that sends `ESC O parameters last`; none for an unknown one.
pub fn of_ss3(parameters: &[u8], last: u8) -> Option<Stroke> {
    // An old form puts the modifiers here: `ESC O 5 P`, `ESC O 1 ; 5 P`.
    let number = parameters.rsplit(|&b| b == b';').next().and_then(super::csi::number);
    let modifiers = modifiers_of(number.unwrap_or(1));
    if let Some(key) = of_final(last) {
        return Some(named(key, modifiers));
    }
    let key = match last {
        b'M' => StrokeKey::Named(NamedKey::Enter),
        b'I' => StrokeKey::Named(NamedKey::Tab),
        b' ' => StrokeKey::Char(' '),
        b'X' => StrokeKey::Char('='),
        // The keypad in application mode: j is *, p is 0, y is 9.
        b'j'..=b'y' => StrokeKey::Char(char::from(last - b'j' + b'*')),
        // Ctrl+arrow of one terminal family.
        b'a'..=b'd' => {
            let arrow = of_final(last.to_ascii_uppercase())?;
            return Some(named(arrow, modifiers | Modifiers::CTRL));
        }
        _ => return None,
    };
    Some(Stroke { key, modifiers, text: None, base: None })
}

/// The key whose sequence ends with the letter `last`, after CSI or SS3.
pub const fn of_final(last: u8) -> Option<NamedKey> {
    Some(match last {
        b'A' => NamedKey::ArrowUp,
        b'B' => NamedKey::ArrowDown,
        b'C' => NamedKey::ArrowRight,
        b'D' => NamedKey::ArrowLeft,
        b'F' => NamedKey::End,
        b'H' => NamedKey::Home,
        b'P' => NamedKey::F1,
        b'Q' => NamedKey::F2,
        b'R' => NamedKey::F3,
        b'S' => NamedKey::F4,
        _ => return None,
    })
}

/// The key of `CSI number ~`.
pub fn of_tilde(number: u32) -> Option<NamedKey> {
    let function = |n: u32| NamedKey::function(u8::try_from(n).ok()?);
    match number {
        1 | 7 => Some(NamedKey::Home),
        2 => Some(NamedKey::Insert),
        3 => Some(NamedKey::Delete),
        4 | 8 => Some(NamedKey::End),
        5 => Some(NamedKey::PageUp),
        6 => Some(NamedKey::PageDown),
        // The numbers leave gaps after each group of keys on an old keyboard.
        11..=15 => function(number - 10),
        17..=21 => function(number - 11),
        23..=26 => function(number - 12),
        28 | 29 => function(number - 13),
        31..=34 => function(number - 14),
        _ => None,
    }
}

/// What the key code of the open protocol stands for.
pub enum Code {
    /// A key.
    Key(StrokeKey),
    /// A key that layouts have no name for.
    Unnamed,
}

/// The key with `code` in `CSI code u`. Codes 57344 to 63743 are functional
/// keys (source: the protocol's table of functional keys).
pub fn of_code(code: u32) -> Code {
    let key = match code {
        9 | 57346 => NamedKey::Tab,
        13 | 57345 | 57414 => NamedKey::Enter,
        27 | 57344 => NamedKey::Escape,
        8 | 127 | 57347 => NamedKey::Backspace,
        57348 | 57425 => NamedKey::Insert,
        57349 | 57426 => NamedKey::Delete,
        57350 | 57417 => NamedKey::ArrowLeft,
        57351 | 57418 => NamedKey::ArrowRight,
        57352 | 57419 => NamedKey::ArrowUp,
        57353 | 57420 => NamedKey::ArrowDown,
        57354 | 57421 => NamedKey::PageUp,
        57355 | 57422 => NamedKey::PageDown,
        57356 | 57423 => NamedKey::Home,
        57357 | 57424 => NamedKey::End,
        57358 => NamedKey::CapsLock,
        57359 => NamedKey::ScrollLock,
        57360 => NamedKey::NumLock,
        57361 => NamedKey::PrintScreen,
        57362 => NamedKey::Pause,
        57363 => NamedKey::ContextMenu,
        57364..=57387 => match NamedKey::function((code - 57363) as u8) {
            Some(key) => key,
            None => return Code::Unnamed,
        },
        57399..=57416 => {
            let c = b"0123456789./*-+\r=,"[(code - 57399) as usize];
            return Code::Key(StrokeKey::Char(char::from(c)));
        }
        57430 => NamedKey::MediaPlayPause,
        57432 => NamedKey::MediaStop,
        57435 => NamedKey::MediaTrackNext,
        57436 => NamedKey::MediaTrackPrevious,
        57438 => NamedKey::AudioVolumeDown,
        57439 => NamedKey::AudioVolumeUp,
        57440 => NamedKey::AudioVolumeMute,
        57441 | 57447 => NamedKey::Shift,
        57442 | 57448 => NamedKey::Control,
        57443 | 57449 => NamedKey::Alt,
        // Super on the one hand, Meta on the other: W3C calls both Meta.
        57444 | 57446 | 57450 | 57452 => NamedKey::Meta,
        57453 => NamedKey::AltGraph,
        57454 => return Code::Key(StrokeKey::Level5Shift),
        _ => {
            // The rest of the private range: Hyper, F25 and up.
            let private = (57344..=63743).contains(&code);
            return match char::from_u32(code) {
                Some(c) if !c.is_control() && !private => Code::Key(StrokeKey::Char(c)),
                _ => Code::Unnamed,
            };
        }
    };
    Code::Key(StrokeKey::Named(key))
}
