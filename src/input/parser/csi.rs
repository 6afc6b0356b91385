//! What a complete control sequence means.

use super::keys::{self, Code};
use super::{Parsed, Reply, named};
use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{KeyEvent, KeyState, Stroke, StrokeKey};

/// Most characters of associated text that are kept.
const TEXT_CAP: usize = 16;

/// What a control sequence says.
pub enum Meaning {
    /// Nothing that concerns us.
    Nothing,
    /// A bracketed paste begins.
    PasteBegins,
    /// An item.
    Item(Parsed),
    /// A key in a form that only a terminal with extended keys sends.
    ExtendedKey(KeyEvent),
}

/// Numbers of a sequence: fields parted by `;`, each parted by `:`. A field
/// that is missing or no number reads as none.
struct Fields<'a>(&'a [u8]);

impl Fields<'_> {
    fn field(&self, n: usize) -> Option<&[u8]> {
        self.0.split(|&b| b == b';').nth(n)
    }

    fn part(&self, n: usize, m: usize) -> Option<u32> {
        self.field(n)?.split(|&b| b == b':').nth(m).and_then(number)
    }

    fn first(&self) -> Option<u32> {
        self.part(0, 0)
    }

    fn modifiers(&self) -> Modifiers {
        modifiers_of(self.part(1, 0).unwrap_or(1))
    }

    fn state(&self) -> KeyState {
        match self.part(1, 1) {
            Some(2) => KeyState::Repeat,
            Some(3) => KeyState::Release,
            _ => KeyState::Press,
        }
    }
}

/// A decimal number of at most seven digits; none for anything else.
pub fn number(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || digits.len() > 7 {
        return None;
    }
    digits.iter().try_fold(0, |sum, &digit| {
        digit.is_ascii_digit().then(|| sum * 10 + u32::from(digit - b'0'))
    })
}

/// The modifiers behind the number `1 + bits`. The bits of Caps Lock and Num
/// Lock are left out. Hyper counts as Meta: a key struck with it must not
/// look like the bare key.
pub fn modifiers_of(number: u32) -> Modifiers {
    let bits = number.saturating_sub(1);
    let mut found = Modifiers::empty();
    for (mask, modifier) in [
        (1, Modifiers::SHIFT),
        (2, Modifiers::ALT),
        (4, Modifiers::CTRL),
        (8 | 16 | 32, Modifiers::META),
    ] {
        found.set(modifier, bits & mask != 0);
    }
    found
}

/// What `CSI body last` means.
pub fn read(body: &[u8], last: u8) -> Meaning {
    match body.first() {
        Some(b'?') => return reply(&body[1..], last),
        // Mouse reports, secondary attributes and whatever else is private.
        Some(b'<' | b'=' | b'>') => return Meaning::Nothing,
        _ => {}
    }
    // Bytes 20 to 2F make it another function altogether.
    if body.iter().any(|b| (0x20..=0x2f).contains(b)) {
        return Meaning::Nothing;
    }
    let fields = Fields(body);
    let key = |key, modifiers| Meaning::Item(Parsed::Key(event(named(key, modifiers), &fields)));
    match last {
        b'u' => unicode_key(&fields),
        b'~' => match fields.first() {
            Some(200) => Meaning::PasteBegins,
            Some(27) => other_key(&fields),
            Some(n) => keys::of_tilde(n).map_or(Meaning::Nothing, |k| key(k, fields.modifiers())),
            None => Meaning::Nothing,
        },
        b'I' if body.is_empty() => Meaning::Item(Parsed::FocusIn),
        b'O' if body.is_empty() => Meaning::Item(Parsed::FocusOut),
        b'Z' => key(NamedKey::Tab, fields.modifiers() | Modifiers::SHIFT),
        // Shift+arrow, and Shift, Ctrl or both with an editing key, as one
        // terminal family sends them.
        b'a'..=b'd' if body.is_empty() => keys::of_final(last.to_ascii_uppercase())
            .map_or(Meaning::Nothing, |k| key(k, Modifiers::SHIFT)),
        b'$' | b'^' | b'@' => {
            let modifiers = match last {
                b'$' => Modifiers::SHIFT,
                b'^' => Modifiers::CTRL,
                _ => Modifiers::SHIFT | Modifiers::CTRL,
            };
            fields.first().and_then(keys::of_tilde).map_or(Meaning::Nothing, |k| key(k, modifiers))
        }
        // Anything but 1 in front makes it no key: `CSI 5 ; 7 R` is a place.
        _ if fields.first().unwrap_or(1) == 1 => {
            keys::of_final(last).map_or(Meaning::Nothing, |k| key(k, fields.modifiers()))
        }
        _ => Meaning::Nothing,
    }
}

fn event(stroke: Stroke, fields: &Fields) -> KeyEvent {
    KeyEvent { stroke, state: fields.state(), batched: false }
}

fn reply(body: &[u8], last: u8) -> Meaning {
    match last {
        b'u' => match number(body) {
            Some(flags) => Meaning::Item(Parsed::Reply(Reply::Flags((flags & 0x1f) as u8))),
            None => Meaning::Nothing,
        },
        b'c' => Meaning::Item(Parsed::Reply(Reply::Attributes)),
        _ => Meaning::Nothing,
    }
}

const COMMANDING: Modifiers = Modifiers::CTRL.union(Modifiers::ALT).union(Modifiers::META);

/// `CSI code : shifted : base ; modifiers : event ; text u`
fn unicode_key(fields: &Fields) -> Meaning {
    let Some(code) = fields.first() else { return Meaning::Nothing };
    let mut modifiers = fields.modifiers();
    let state = fields.state();
    let text = if modifiers.intersects(COMMANDING) || state == KeyState::Release {
        None
    } else {
        associated_text(fields)
    };
    let key = match keys::of_code(code) {
        Code::Key(key) => key,
        // Text without a key: from an input method or a dead key.
        Code::Unnamed if code == 0 => match text.as_ref().and_then(|t| t.chars().next()) {
            Some(c) => StrokeKey::Char(c),
            None => return Meaning::Nothing,
        },
        Code::Unnamed => return Meaning::Nothing,
    };
    let stroke = match key {
        StrokeKey::Char(_) => {
            let shifted = fields.part(0, 1).and_then(printable);
            let only_shift = modifiers == Modifiers::SHIFT && state != KeyState::Release;
            let text = text.or_else(|| if only_shift { shifted.map(String::from) } else { None });
            Stroke { key, modifiers, text, base: fields.part(0, 2).and_then(printable) }
        }
        StrokeKey::Named(name) => {
            // A modifier's own bit says only that it is down.
            modifiers -= Modifiers::of_key(name).unwrap_or(Modifiers::empty());
            Stroke::named(name, modifiers)
        }
        StrokeKey::Level5Shift => Stroke { key, modifiers, text: None, base: None },
    };
    Meaning::ExtendedKey(KeyEvent { stroke, state, batched: false })
}

fn printable(code: u32) -> Option<char> {
    char::from_u32(code).filter(|c| !c.is_control())
}

/// The third field's characters; none where there are none, too many, or any
/// that is no character to be shown.
fn associated_text(fields: &Fields) -> Option<String> {
    let field = fields.field(2)?;
    let codes = field.split(|&b| b == b':');
    if codes.clone().count() > TEXT_CAP {
        return None;
    }
    codes.map(|code| number(code).and_then(printable)).collect()
}

/// xterm's modifyOtherKeys: `CSI 27 ; modifiers ; code ~`. The code is that of
/// the character with Shift applied.
fn other_key(fields: &Fields) -> Meaning {
    let Some(code) = fields.part(2, 0) else { return Meaning::Nothing };
    let Code::Key(key) = keys::of_code(code) else { return Meaning::Nothing };
    let modifiers = fields.modifiers();
    let text = match key {
        StrokeKey::Char(c) if !modifiers.intersects(COMMANDING) => Some(c.to_string()),
        _ => None,
    };
    let stroke = Stroke { key, modifiers, text, base: None };
    Meaning::ExtendedKey(KeyEvent { stroke, state: KeyState::Press, batched: false })
}

/// The colour in the body of `OSC 11 ; rgb:RRRR/GGGG/BBBB`, 0 to 65535 each.
pub fn background(body: &[u8]) -> Option<[u16; 3]> {
    let colour = body.strip_prefix(b"11;")?;
    let colour = colour.strip_prefix(b"rgb:").or_else(|| colour.strip_prefix(b"rgba:"))?;
    let mut parts = colour.split(|&b| b == b'/');
    let mut channel = || -> Option<u16> {
        let digits = std::str::from_utf8(parts.next()?).ok()?;
        if digits.is_empty() || digits.len() > 4 || digits.starts_with('+') {
            return None;
        }
        let value = u32::from_str_radix(digits, 16).ok()?;
        let most = (1_u32 << (4 * digits.len())) - 1;
        Some((value * 0xffff / most) as u16)
    };
    Some([channel()?, channel()?, channel()?])
}
