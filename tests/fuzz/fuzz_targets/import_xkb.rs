//! Any bytes, and a keymap with pieces exchanged: reading never panics nor
//! reads another file, and what was read lies on a board.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none import_xkb`
#![no_main]

use etude::import::xkb::{Compose, read_keymap, sheets};
use etude::keyboard::BoardForm;
use etude::layout::{file, shipped};
use libfuzzer_sys::fuzz_target;

const START: &str = r#"xkb_keymap {
xkb_keycodes { minimum = 8; maximum = 255; <AC01> = 38; <AC02> = 39; <RALT> = 108; <LFSH> = 50; };
xkb_types { virtual_modifiers LevelThree = 0x80;
  type "ONE_LEVEL" { modifiers = none; };
  type "FOUR_LEVEL" { modifiers = Shift+LevelThree; map[Shift] = 2; map[LevelThree] = 3;
    map[Shift+LevelThree] = 4; }; };
xkb_compat { interpret Shift_L { action = SetMods(modifiers = Shift); };
  interpret ISO_Level3_Shift { action = SetMods(modifiers = LevelThree); }; };
xkb_symbols {
  key <AC01> { type = "FOUR_LEVEL", [ a, A, dead_acute, U2603 ] };
  key <AC02> { [ e ] }; key <LFSH> { [ Shift_L ] }; key <RALT> { [ ISO_Level3_Shift ] }; };
};"#;

/// Puts a piece in place of `length` bytes at `at`.
type Exchange = (u16, u8, String);

fuzz_target!(|input: (bool, Vec<u8>, Vec<Exchange>)| {
    let (raw, bytes, exchanges) = input;
    let mut text = START.to_owned();
    for (at, length, piece) in &exchanges {
        let start = text.floor_char_boundary(usize::from(*at) % (text.len() + 1));
        let end = text.ceil_char_boundary((start + usize::from(*length)).min(text.len()));
        text.replace_range(start..end, piece);
    }
    let first = if raw { &bytes } else { text.as_bytes() };
    match read_keymap(first, "k.xkb") {
        Err(error) => {
            let told = error.to_string();
            assert!(told.contains("k.xkb") && !told.contains(char::is_control), "{told:?}");
        }
        Ok(keymap) => {
            let compose = Compose::default();
            let Ok(sheets) = sheets(&keymap, BoardForm::Iso, &compose, "k", "K", "A keymap.")
            else {
                return;
            };
            let board = shipped::board("full-iso").expect("a shipped board");
            if let Ok(outcome) = sheets.lay_on(&board) {
                let written = file::write(&outcome.layout);
                let again = file::read(&written, "mine.toml")
                    .unwrap_or_else(|error| panic!("{error}\n{written}"));
                assert_eq!(again.layout, outcome.layout);
            }
        }
    }
});
