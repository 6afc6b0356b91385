//! Which code each key of the main block has in the open standards.
//!
//! Sources: ISO/IEC 9995-1 for positions, XKB key names ("A" and the position),
//! Linux evdev codes (XKB keycode = evdev code + 8), W3C UI Events `code`
//! values, USB HID usages of page 07. The tests compare with reference crates.
//!
//! The trap: the code `Backslash` lies at D13 on ANSI boards and at C12 on ISO
//! boards (HID has a usage for each), so every question names the board's form.

use super::{BoardForm, Position, Row};

/// The names of one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyCodes {
    /// Where it is.
    pub position: Position,
    /// XKB key name.
    pub xkb: &'static str,
    /// Linux evdev code.
    pub evdev: u16,
    /// W3C UI Events `code`.
    pub code: &'static str,
    /// USB HID usage, page 07.
    pub hid: u16,
}

/// One name of a key, to look it up by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CodeName<'a> {
    /// XKB key name.
    Xkb(&'a str),
    /// Linux evdev code.
    Evdev(u16),
    /// W3C UI Events `code`.
    Code(&'a str),
    /// USB HID usage, page 07.
    Hid(u16),
}

/// XKB's other name of the key BKSL, at its ISO place.
const XKB_AC12: &str = "AC12";
/// HID usage of the ANSI backslash key.
const HID_ANSI_BACKSLASH: u16 = 0x31;
/// HID usage of the ISO key left of Enter.
const HID_ISO_BACKSLASH: u16 = 0x32;

const fn key(
    row: Row,
    column: u8,
    xkb: &'static str,
    evdev: u16,
    code: &'static str,
    hid: u16,
) -> KeyCodes {
    KeyCodes { position: Position::main(row, column), xkb, evdev, code, hid }
}

/// Every key but Backslash, whose place depends on the form.
const KEYS: &[KeyCodes] = &[
    key(Row::K, 0, "ESC", 1, "Escape", 0x29),
    key(Row::K, 1, "FK01", 59, "F1", 0x3A),
    key(Row::K, 2, "FK02", 60, "F2", 0x3B),
    key(Row::K, 3, "FK03", 61, "F3", 0x3C),
    key(Row::K, 4, "FK04", 62, "F4", 0x3D),
    key(Row::K, 5, "FK05", 63, "F5", 0x3E),
    key(Row::K, 6, "FK06", 64, "F6", 0x3F),
    key(Row::K, 7, "FK07", 65, "F7", 0x40),
    key(Row::K, 8, "FK08", 66, "F8", 0x41),
    key(Row::K, 9, "FK09", 67, "F9", 0x42),
    key(Row::K, 10, "FK10", 68, "F10", 0x43),
    key(Row::K, 11, "FK11", 87, "F11", 0x44),
    key(Row::K, 12, "FK12", 88, "F12", 0x45),
    key(Row::E, 0, "TLDE", 41, "Backquote", 0x35),
    key(Row::E, 1, "AE01", 2, "Digit1", 0x1E),
    key(Row::E, 2, "AE02", 3, "Digit2", 0x1F),
    key(Row::E, 3, "AE03", 4, "Digit3", 0x20),
    key(Row::E, 4, "AE04", 5, "Digit4", 0x21),
    key(Row::E, 5, "AE05", 6, "Digit5", 0x22),
    key(Row::E, 6, "AE06", 7, "Digit6", 0x23),
    key(Row::E, 7, "AE07", 8, "Digit7", 0x24),
    key(Row::E, 8, "AE08", 9, "Digit8", 0x25),
    key(Row::E, 9, "AE09", 10, "Digit9", 0x26),
    key(Row::E, 10, "AE10", 11, "Digit0", 0x27),
    key(Row::E, 11, "AE11", 12, "Minus", 0x2D),
    key(Row::E, 12, "AE12", 13, "Equal", 0x2E),
    key(Row::E, 13, "AE13", 124, "IntlYen", 0x89),
    key(Row::E, 14, "BKSP", 14, "Backspace", 0x2A),
    key(Row::E, 30, "INS", 110, "Insert", 0x49),
    key(Row::E, 31, "HOME", 102, "Home", 0x4A),
    key(Row::E, 32, "PGUP", 104, "PageUp", 0x4B),
    key(Row::D, 0, "TAB", 15, "Tab", 0x2B),
    key(Row::D, 1, "AD01", 16, "KeyQ", 0x14),
    key(Row::D, 2, "AD02", 17, "KeyW", 0x1A),
    key(Row::D, 3, "AD03", 18, "KeyE", 0x08),
    key(Row::D, 4, "AD04", 19, "KeyR", 0x15),
    key(Row::D, 5, "AD05", 20, "KeyT", 0x17),
    key(Row::D, 6, "AD06", 21, "KeyY", 0x1C),
    key(Row::D, 7, "AD07", 22, "KeyU", 0x18),
    key(Row::D, 8, "AD08", 23, "KeyI", 0x0C),
    key(Row::D, 9, "AD09", 24, "KeyO", 0x12),
    key(Row::D, 10, "AD10", 25, "KeyP", 0x13),
    key(Row::D, 11, "AD11", 26, "BracketLeft", 0x2F),
    key(Row::D, 12, "AD12", 27, "BracketRight", 0x30),
    key(Row::D, 30, "DELE", 111, "Delete", 0x4C),
    key(Row::D, 31, "END", 107, "End", 0x4D),
    key(Row::D, 32, "PGDN", 109, "PageDown", 0x4E),
    key(Row::C, 0, "CAPS", 58, "CapsLock", 0x39),
    key(Row::C, 1, "AC01", 30, "KeyA", 0x04),
    key(Row::C, 2, "AC02", 31, "KeyS", 0x16),
    key(Row::C, 3, "AC03", 32, "KeyD", 0x07),
    key(Row::C, 4, "AC04", 33, "KeyF", 0x09),
    key(Row::C, 5, "AC05", 34, "KeyG", 0x0A),
    key(Row::C, 6, "AC06", 35, "KeyH", 0x0B),
    key(Row::C, 7, "AC07", 36, "KeyJ", 0x0D),
    key(Row::C, 8, "AC08", 37, "KeyK", 0x0E),
    key(Row::C, 9, "AC09", 38, "KeyL", 0x0F),
    key(Row::C, 10, "AC10", 39, "Semicolon", 0x33),
    key(Row::C, 11, "AC11", 40, "Quote", 0x34),
    key(Row::C, 13, "RTRN", 28, "Enter", 0x28),
    key(Row::B, 99, "LFSH", 42, "ShiftLeft", 0xE1),
    key(Row::B, 0, "LSGT", 86, "IntlBackslash", 0x64),
    key(Row::B, 1, "AB01", 44, "KeyZ", 0x1D),
    key(Row::B, 2, "AB02", 45, "KeyX", 0x1B),
    key(Row::B, 3, "AB03", 46, "KeyC", 0x06),
    key(Row::B, 4, "AB04", 47, "KeyV", 0x19),
    key(Row::B, 5, "AB05", 48, "KeyB", 0x05),
    key(Row::B, 6, "AB06", 49, "KeyN", 0x11),
    key(Row::B, 7, "AB07", 50, "KeyM", 0x10),
    key(Row::B, 8, "AB08", 51, "Comma", 0x36),
    key(Row::B, 9, "AB09", 52, "Period", 0x37),
    key(Row::B, 10, "AB10", 53, "Slash", 0x38),
    key(Row::B, 11, "AB11", 89, "IntlRo", 0x87),
    key(Row::B, 12, "RTSH", 54, "ShiftRight", 0xE5),
    key(Row::B, 31, "UP", 103, "ArrowUp", 0x52),
    key(Row::A, 99, "LCTL", 29, "ControlLeft", 0xE0),
    key(Row::A, 0, "LWIN", 125, "MetaLeft", 0xE3),
    key(Row::A, 2, "LALT", 56, "AltLeft", 0xE2),
    key(Row::A, 3, "SPCE", 57, "Space", 0x2C),
    key(Row::A, 8, "RALT", 100, "AltRight", 0xE6),
    key(Row::A, 10, "RWIN", 126, "MetaRight", 0xE7),
    key(Row::A, 11, "COMP", 127, "ContextMenu", 0x65),
    key(Row::A, 12, "RCTL", 97, "ControlRight", 0xE4),
    key(Row::A, 30, "LEFT", 105, "ArrowLeft", 0x50),
    key(Row::A, 31, "DOWN", 108, "ArrowDown", 0x51),
    key(Row::A, 32, "RGHT", 106, "ArrowRight", 0x4F),
];

/// The key Backslash where boards of `form` have it; free boards count as ANSI.
const fn backslash(form: BoardForm) -> KeyCodes {
    match form {
        BoardForm::Iso => key(Row::C, 12, "BKSL", 43, "Backslash", HID_ISO_BACKSLASH),
        BoardForm::Ansi | BoardForm::Free => {
            key(Row::D, 13, "BKSL", 43, "Backslash", HID_ANSI_BACKSLASH)
        }
    }
}

/// Every key that has codes on boards of `form`.
pub fn all(form: BoardForm) -> impl Iterator<Item = KeyCodes> {
    KEYS.iter().copied().chain([backslash(form)])
}

/// The codes of the key at `position` on boards of `form`. None for thumb
/// keys, which no standard names, and for positions without a key of their own.
pub fn at(position: Position, form: BoardForm) -> Option<KeyCodes> {
    all(form).find(|key| key.position == position)
}

/// The position of the key that `name` means on boards of `form`.
///
/// Both HID usages of Backslash are understood on every board, since boards
/// of either form are known to send the other's.
pub fn position(name: CodeName<'_>, form: BoardForm) -> Option<Position> {
    let name = match name {
        CodeName::Hid(HID_ANSI_BACKSLASH | HID_ISO_BACKSLASH) | CodeName::Xkb(XKB_AC12) => {
            CodeName::Code("Backslash")
        }
        other => other,
    };
    let found = all(form).find(|key| match name {
        CodeName::Xkb(xkb) => key.xkb == xkb,
        CodeName::Evdev(evdev) => key.evdev == evdev,
        CodeName::Code(code) => key.code == code,
        CodeName::Hid(hid) => key.hid == hid,
    });
    found.map(|key| key.position)
}

#[cfg(test)]
mod tests {
    use super::super::Board;
    use super::*;

    const FORMS: [BoardForm; 3] = [BoardForm::Ansi, BoardForm::Iso, BoardForm::Free];

    /// Oracle: the crate `keycode`, made from Chromium's converter table.
    #[test]
    fn evdev_and_hid_codes_are_those_of_the_reference() {
        for key in all(BoardForm::Ansi) {
            let code: keycode::KeyMappingCode = key.code.parse().unwrap();
            let reference = keycode::KeyMap::from(code);
            assert_eq!((reference.evdev, reference.usb), (key.evdev, key.hid), "{key:?}");
            assert_eq!(reference.xkb, key.evdev + 8, "{key:?}");
        }
    }

    /// Oracle: the crate `keyboard-types`, which carries the W3C list.
    #[test]
    fn code_names_are_those_of_the_standard() {
        for key in all(BoardForm::Iso) {
            let reference: keyboard_types::Code = key.code.parse().unwrap();
            assert_eq!(reference.to_string(), key.code);
        }
    }

    #[test]
    fn every_name_leads_back_and_stands_once() {
        for form in FORMS {
            for key in all(form) {
                let here = Some(key.position);
                for name in [
                    CodeName::Xkb(key.xkb),
                    CodeName::Evdev(key.evdev),
                    CodeName::Code(key.code),
                    CodeName::Hid(key.hid),
                ] {
                    assert_eq!(position(name, form), here, "{name:?}");
                }
                assert_eq!(at(key.position, form), Some(key));
            }
        }
    }

    #[test]
    fn letter_and_digit_keys_are_named_by_their_position() {
        for key in all(BoardForm::Ansi).filter(|key| key.xkb.starts_with('A')) {
            assert_eq!(key.xkb, format!("A{}", key.position));
        }
    }

    #[test]
    fn backslash_lies_where_the_form_says() {
        let place = |form| position(CodeName::Code("Backslash"), form).unwrap().to_string();
        assert_eq!(FORMS.map(place), ["D13", "C12", "D13"]);
        for hid in [0x31, 0x32] {
            assert_eq!(
                position(CodeName::Hid(hid), BoardForm::Iso).map(|p| p.to_string()),
                Some("C12".to_owned())
            );
        }
        assert_eq!(at("C12".parse().unwrap(), BoardForm::Ansi), None);
        assert_eq!(at("D13".parse().unwrap(), BoardForm::Iso), None);
    }

    #[test]
    fn every_key_of_the_full_boards_has_codes() {
        for text in [
            include_str!("../../layouts/boards/full-ansi.toml"),
            include_str!("../../layouts/boards/full-iso.toml"),
        ] {
            let board = Board::parse(text, "board").unwrap();
            for site in &board.sites {
                assert!(at(site.position, board.form).is_some(), "{}", site.position);
            }
        }
    }
}
