//! Bytes of a terminal to keys, pastes, focus changes and replies.
//!
//! The parser takes bytes in pieces of any size; where the pieces are cut
//! makes no difference. It has no clock: what could still go on (a lone
//! Escape, half a character) stays pending until more bytes come or the
//! caller, after waiting for [`Parser::patience`], calls
//! [`Parser::flush_pending`].
//!
//! Unknown sequences are swallowed whole. What breaks a sequence off (another
//! Escape, a control character, a byte above 127) is read as itself, so that
//! no sequence eats the key after it.
//!
//! Sources: ECMA-48 (shape of control sequences), the published specification
//! of the progressive keyboard protocol (`CSI u`), xterm's "Control Sequences"
//! document (legacy keys, modifyOtherKeys, replies).

mod csi;
mod keys;

use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{KeyEvent, Stroke, StrokeKey};
use crate::units::Micros;

/// Longest control sequence that is looked at; longer ones are swallowed.
const SEQUENCE_CAP: usize = 256;
/// A paste counts no further than this many characters.
pub const PASTE_CAP: usize = 100_000;
/// How long a lone Escape waits for company before it is the Escape key.
pub const KEY_PATIENCE: Micros = Micros::from_ms(25);
/// How long the rest of a sequence that can be nothing else may take. Slow
/// links cut replies in two; no key waits for this.
pub const SEQUENCE_PATIENCE: Micros = Micros::from_ms(100);
/// How long a paste may pause before it is taken as ended.
pub const PASTE_PATIENCE: Micros = Micros::from_ms(1000);

/// An answer of the terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reply {
    /// The flags of the keyboard protocol in force (`CSI ? flags u`).
    Flags(u8),
    /// The primary device attributes, which every terminal gives (`CSI ? … c`).
    Attributes,
    /// The background colour: red, green, blue, each 0 to 65535.
    Background([u16; 3]),
    /// A key arrived in a form that only a terminal with extended keys sends
    /// (`CSI 27 ; … ~` or `CSI … u`). Told once.
    ExtendedKeys,
}

impl Reply {
    /// True for a background on which dark text reads better.
    ///
    /// By relative luminance with the weights of ITU-R BT.709, without
    /// linearising: the middle grey of a terminal palette is the border.
    pub fn is_light([red, green, blue]: [u16; 3]) -> bool {
        let luminance = 2126 * u64::from(red) + 7152 * u64::from(green) + 722 * u64::from(blue);
        luminance > 10_000 * 0x7fff
    }
}

/// What a stretch of bytes said.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Parsed {
    /// A key.
    Key(KeyEvent),
    /// A paste of so many characters, at most [`PASTE_CAP`]; the text itself
    /// is never kept.
    Paste(usize),
    /// The window has the keyboard.
    FocusIn,
    /// The window lost the keyboard.
    FocusOut,
    /// An answer of the terminal.
    Reply(Reply),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Ground,
    /// Escape came.
    Escape,
    /// `ESC [` came; the rest is in the buffer.
    Csi,
    /// A control sequence too long to be looked at.
    CsiOverlong,
    /// `ESC [ [`: function keys of a system console.
    ConsoleKey,
    /// `ESC O` came; parameters may be in the buffer.
    Ss3,
    /// `ESC ]` (true) or `ESC P` came; the body is in the buffer.
    Text(bool),
    /// Escape inside such a text.
    TextEscape(bool),
    /// Bytes of an old mouse report that are still to come.
    Mouse(u8),
    /// Within a bracketed paste: how many bytes of its end were seen.
    Paste(u8),
    /// Within a character of several bytes (true: after Escape).
    Utf8(bool),
}

const PASTE_END: &[u8; 6] = b"\x1b[201~";

/// Turns bytes into [`Parsed`] items. Memory is bounded.
#[derive(Debug, Clone)]
pub struct Parser {
    state: State,
    buffer: Vec<u8>,
    pasted: usize,
    carried: bool,
    first_carried: bool,
    extended: bool,
}

impl Default for Parser {
    fn default() -> Self {
        Self::new()
    }
}

impl Parser {
    /// A parser that has seen nothing.
    pub const fn new() -> Self {
        Self {
            state: State::Ground,
            buffer: Vec::new(),
            pasted: 0,
            carried: false,
            first_carried: false,
            extended: false,
        }
    }

    /// Takes `bytes` and puts what they complete at the end of `out`.
    ///
    /// Returns true where the first item put began with bytes of an earlier
    /// call.
    pub fn feed(&mut self, bytes: &[u8], out: &mut Vec<Parsed>) -> bool {
        self.carried = self.state != State::Ground;
        self.first_carried = false;
        for &byte in bytes {
            self.byte(byte, out);
        }
        self.first_carried
    }

    /// True after a [`Parser::feed`] that left pending what was pending before.
    pub fn carries_on(&self) -> bool {
        self.carried && self.state != State::Ground
    }

    /// How long to wait for more bytes before [`Parser::flush_pending`]; none
    /// where nothing is pending.
    pub const fn patience(&self) -> Option<Micros> {
        let bare = self.buffer.is_empty();
        match self.state {
            State::Ground => None,
            State::Escape | State::ConsoleKey | State::Utf8(_) => Some(KEY_PATIENCE),
            State::Csi | State::Ss3 | State::Text(_) if bare => Some(KEY_PATIENCE),
            State::Csi
            | State::Ss3
            | State::Text(_)
            | State::CsiOverlong
            | State::TextEscape(_)
            | State::Mouse(_) => Some(SEQUENCE_PATIENCE),
            State::Paste(_) => Some(PASTE_PATIENCE),
        }
    }

    /// Ends what is pending: a lone Escape, `ESC [`, `ESC O` and the like
    /// become keys, half a character becomes U+FFFD, a broken sequence is
    /// dropped, a paste is taken as ended.
    pub fn flush_pending(&mut self, out: &mut Vec<Parsed>) {
        match self.state {
            State::Escape => self.key(named(NamedKey::Escape, Modifiers::empty()), out),
            State::Csi if self.buffer.is_empty() => self.alt('[', out),
            State::Ss3 if self.buffer.is_empty() => self.alt('O', out),
            State::Text(osc) if self.buffer.is_empty() => {
                self.alt(if osc { ']' } else { 'P' }, out);
            }
            State::ConsoleKey => {
                self.alt('[', out);
                self.key(Stroke::char('['), out);
            }
            State::Utf8(alt) => self.broken_character(alt, out),
            State::Paste(matched) => {
                self.count_pasted(usize::from(matched));
                self.emit(Parsed::Paste(self.pasted), out);
            }
            // Nothing, or what can be no key.
            State::Ground
            | State::Csi
            | State::CsiOverlong
            | State::Ss3
            | State::Text(_)
            | State::TextEscape(_)
            | State::Mouse(_) => {}
        }
        self.rest();
    }

    fn rest(&mut self) {
        self.state = State::Ground;
        self.buffer.clear();
        self.carried = false;
    }

    fn emit(&mut self, item: Parsed, out: &mut Vec<Parsed>) {
        if self.carried {
            self.first_carried = true;
            self.carried = false;
        }
        out.push(item);
    }

    fn key(&mut self, stroke: Stroke, out: &mut Vec<Parsed>) {
        self.emit(Parsed::Key(KeyEvent::press(stroke)), out);
    }

    fn alt(&mut self, c: char, out: &mut Vec<Parsed>) {
        self.key(with(Stroke::char(c), Modifiers::ALT), out);
    }

    fn byte(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        match self.state {
            State::Ground => self.ground(byte, false, out),
            State::Escape => self.after_escape(byte, out),
            State::Csi => self.in_csi(byte, out),
            State::CsiOverlong => match byte {
                0x20..=0x3f => {}
                0x40..=0x7e => self.rest(),
                _ => self.again(byte, out),
            },
            State::ConsoleKey => match byte {
                b'A'..=b'E' => {
                    self.key(function(byte - b'A' + 1, Modifiers::empty()), out);
                    self.rest();
                }
                0x20..=0x7e => self.rest(),
                _ => self.again(byte, out),
            },
            State::Ss3 => self.in_ss3(byte, out),
            State::Text(osc) => self.in_text(byte, osc, out),
            State::TextEscape(osc) => {
                if byte == b'\\' {
                    self.end_of_text(osc, out);
                } else {
                    // Escape broke the text off and begins something itself.
                    self.rest();
                    self.state = State::Escape;
                    self.after_escape(byte, out);
                }
            }
            State::Mouse(left) => match byte {
                0x20.. if left > 1 => self.state = State::Mouse(left - 1),
                0x20.. => self.rest(),
                _ => self.again(byte, out),
            },
            State::Paste(matched) => self.in_paste(byte, matched, out),
            State::Utf8(alt) => self.in_character(byte, alt, out),
        }
    }

    /// Drops what is pending and reads `byte` as the beginning of something.
    fn again(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        self.rest();
        self.ground(byte, false, out);
    }

    /// Ends what is pending as [`Parser::flush_pending`] does, then reads `byte`.
    fn flush_then(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        self.flush_pending(out);
        self.ground(byte, false, out);
    }

    fn ground(&mut self, byte: u8, alt: bool, out: &mut Vec<Parsed>) {
        let modifiers = if alt { Modifiers::ALT } else { Modifiers::empty() };
        match byte {
            0x1b => {
                self.state = State::Escape;
                return;
            }
            0x80.. => {
                self.state = State::Utf8(alt);
                self.buffer.clear();
                self.buffer.push(byte);
                self.try_character(alt, out);
                return;
            }
            _ => self.key(with(keys::of_ascii(byte), modifiers), out),
        }
        self.rest();
    }

    fn after_escape(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        self.buffer.clear();
        match byte {
            // Escape struck twice and Alt+Escape look alike; only the first is
            // common (practice is left by Escape three times).
            0x1b => {
                self.key(named(NamedKey::Escape, Modifiers::empty()), out);
                self.state = State::Escape;
                self.carried = false;
            }
            b'[' => self.state = State::Csi,
            b'O' => self.state = State::Ss3,
            b']' => self.state = State::Text(true),
            b'P' => self.state = State::Text(false),
            _ => self.ground(byte, true, out),
        }
    }

    fn in_csi(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        match byte {
            b'[' if self.buffer.is_empty() => self.state = State::ConsoleKey,
            // Three bytes of place follow an old mouse report.
            b'M' if self.buffer.is_empty() => self.state = State::Mouse(3),
            // A terminal family ends Shift+key with a dollar sign, which is
            // otherwise no end: only after one bare number.
            b'$' if !self.buffer.is_empty() && self.buffer.iter().all(u8::is_ascii_digit) => {
                self.end_of_csi(byte, out);
            }
            0x20..=0x3f if self.buffer.len() < SEQUENCE_CAP => self.buffer.push(byte),
            0x20..=0x3f => {
                self.buffer.clear();
                self.state = State::CsiOverlong;
            }
            0x40..=0x7e => self.end_of_csi(byte, out),
            _ if self.buffer.is_empty() => self.flush_then(byte, out),
            _ => self.again(byte, out),
        }
    }

    fn end_of_csi(&mut self, last: u8, out: &mut Vec<Parsed>) {
        let body = std::mem::take(&mut self.buffer);
        match csi::read(&body, last) {
            csi::Meaning::Nothing => {}
            csi::Meaning::PasteBegins => {
                self.pasted = 0;
                self.state = State::Paste(0);
                return;
            }
            csi::Meaning::Item(item) => self.emit(item, out),
            csi::Meaning::ExtendedKey(event) => {
                self.emit(Parsed::Key(event), out);
                if !self.extended {
                    self.extended = true;
                    out.push(Parsed::Reply(Reply::ExtendedKeys));
                }
            }
        }
        self.rest();
    }

    fn in_ss3(&mut self, byte: u8, out: &mut Vec<Parsed>) {
        match byte {
            b'0'..=b'9' | b';' if self.buffer.len() < SEQUENCE_CAP => self.buffer.push(byte),
            0x20..=0x7e => {
                if let Some(stroke) = keys::of_ss3(&self.buffer, byte) {
                    self.key(stroke, out);
                }
                self.rest();
            }
            _ if self.buffer.is_empty() => self.flush_then(byte, out),
            _ => self.again(byte, out),
        }
    }

    fn in_text(&mut self, byte: u8, osc: bool, out: &mut Vec<Parsed>) {
        match byte {
            0x07 if osc => self.end_of_text(osc, out),
            0x1b if self.buffer.is_empty() => self.flush_then(byte, out),
            0x1b => self.state = State::TextEscape(osc),
            0x00..=0x1f | 0x7f if self.buffer.is_empty() => self.flush_then(byte, out),
            0x00..=0x1f | 0x7f => self.again(byte, out),
            _ if self.buffer.len() < SEQUENCE_CAP => self.buffer.push(byte),
            _ => {}
        }
    }

    fn end_of_text(&mut self, osc: bool, out: &mut Vec<Parsed>) {
        let body = std::mem::take(&mut self.buffer);
        if let Some(colour) = osc.then(|| csi::background(&body)).flatten() {
            self.emit(Parsed::Reply(Reply::Background(colour)), out);
        }
        self.rest();
    }

    fn in_paste(&mut self, byte: u8, matched: u8, out: &mut Vec<Parsed>) {
        if byte == PASTE_END[usize::from(matched)] {
            if usize::from(matched) + 1 == PASTE_END.len() {
                self.emit(Parsed::Paste(self.pasted), out);
                self.rest();
            } else {
                self.state = State::Paste(matched + 1);
            }
            return;
        }
        self.count_pasted(usize::from(matched));
        // Escape stands only at the head of the end mark, so a match that
        // breaks can begin anew only at this very byte.
        if byte == PASTE_END[0] {
            self.state = State::Paste(1);
        } else {
            // Bytes 80 to BF go on with a character that was counted.
            self.count_pasted(usize::from(byte & 0xc0 != 0x80));
            self.state = State::Paste(0);
        }
    }

    fn count_pasted(&mut self, more: usize) {
        self.pasted = (self.pasted + more).min(PASTE_CAP);
    }

    fn in_character(&mut self, byte: u8, alt: bool, out: &mut Vec<Parsed>) {
        if byte & 0xc0 == 0x80 {
            self.buffer.push(byte);
            self.try_character(alt, out);
        } else {
            self.broken_character(alt, out);
            self.again(byte, out);
        }
    }

    fn try_character(&mut self, alt: bool, out: &mut Vec<Parsed>) {
        let found = match std::str::from_utf8(&self.buffer) {
            Ok(text) => text.chars().next(),
            // More bytes are needed.
            Err(error) if error.error_len().is_none() => return,
            Err(_) => None,
        };
        let Some(c) = found else {
            let last = self.buffer.last().copied().filter(|_| self.buffer.len() > 1);
            self.broken_character(alt, out);
            self.rest();
            // A byte that could not go on with the character stands for itself.
            if let Some(byte) = last {
                self.ground(byte, false, out);
            }
            return;
        };
        let c = if c.is_control() { char::REPLACEMENT_CHARACTER } else { c };
        let modifiers = if alt { Modifiers::ALT } else { Modifiers::empty() };
        self.key(with(Stroke::char(c), modifiers), out);
        self.rest();
    }

    /// A key was struck, whatever it was: it must not get lost.
    fn broken_character(&mut self, alt: bool, out: &mut Vec<Parsed>) {
        if alt {
            self.alt(char::REPLACEMENT_CHARACTER, out);
        } else {
            self.key(Stroke::char(char::REPLACEMENT_CHARACTER), out);
        }
    }
}

fn with(mut stroke: Stroke, modifiers: Modifiers) -> Stroke {
    stroke.modifiers |= modifiers;
    stroke
}

fn named(key: NamedKey, modifiers: Modifiers) -> Stroke {
    Stroke::named(key, modifiers)
}

fn function(number: u8, modifiers: Modifiers) -> Stroke {
    let key = NamedKey::function(number).map_or(StrokeKey::Char(' '), StrokeKey::Named);
    Stroke { key, modifiers, text: None, base: None }
}

#[cfg(test)]
mod tests;
