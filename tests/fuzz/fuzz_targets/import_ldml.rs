//! Any bytes, and a keyboard file with pieces exchanged: reading never panics,
//! complaints name their file and carry no control characters, what was read
//! lies on every board and reads back as a layout.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none import_ldml`
#![no_main]

use etude::import::ldml;
use etude::layout::{file, shipped};
use libfuzzer_sys::fuzz_target;

const START: &str = r#"<keyboard3 locale="en" conformsTo="45"><info name="Harbour"/>
<keys><import path="a.xml"/><key id="d" output="\m{d}"/><key id="w" output="${w}\u{65 301}"/></keys>
<variables><string id="w" value="x"/><set id="p" value="a b"/><set id="q" value="c d"/></variables>
<layers formId="iso"><layer modifiers="none"><row keys="gap 1 2"/><row keys="q d w"/>
<row keys="a b c"/></layer><layer modifiers="shift"><row keys="A"/></layer>
<layer modifiers="altR, ctrl alt"><row keys="1"/></layer></layers>
<transforms type="simple"><transformGroup><transform from="\m{d}($[p])" to="$[1:q]"/>
<transform from="\m{d}[a-c](x|y)?z{1,2}" to="é$1"/></transformGroup></transforms></keyboard3>"#;

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
    let mut fetch = |path: &str| {
        assert!(!path.starts_with('/') && !path.split('/').any(|part| part == ".."), "{path}");
        Ok(bytes.clone())
    };
    match ldml::read(first, "k.xml", &mut fetch) {
        Err(error) => {
            let told = error.to_string();
            assert!(!told.contains(char::is_control), "{told:?}");
        }
        Ok(sheets) => {
            let boards = ["full-ansi", "full-iso", "split-3x5-3"];
            let board = boards[exchanges.len() % boards.len()];
            let board = shipped::board(board).expect("a shipped board");
            if let Ok(outcome) = sheets.lay_on(&board) {
                let written = file::write(&outcome.layout);
                let again = file::read(&written, "mine.toml")
                    .unwrap_or_else(|error| panic!("{error}\n{written}"));
                assert_eq!(again.layout, outcome.layout);
            }
        }
    }
});
