//! Any text, and shipped layouts with pieces exchanged: reading never panics,
//! complaints name their file, and what was read is written and read back the
//! same, checked, searched for routes and drawn.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none layout_file`
#![no_main]

use etude::layout::{self, RouteTable, file, shipped};
use etude::report;
use etude::ui::theme::{Ground, Theme};
use libfuzzer_sys::fuzz_target;

/// Puts a piece in place of `length` bytes at `at`.
type Exchange = (u16, u8, String);

fn exchange(text: &mut String, (at, length, piece): &Exchange) {
    let start = text.floor_char_boundary(usize::from(*at) % (text.len() + 1));
    let end = text.ceil_char_boundary((start + usize::from(*length)).min(text.len()));
    text.replace_range(start..end, piece);
}

fuzz_target!(|input: (u8, Vec<Exchange>)| {
    let (which, exchanges) = input;
    let names: Vec<&str> = shipped::names().collect();
    // One more than there are layouts: an empty file to begin with.
    let name = names.get(usize::from(which) % (names.len() + 1));
    let mut text = name.and_then(|name| shipped::text(name)).unwrap_or_default().to_owned();
    for change in &exchanges {
        exchange(&mut text, change);
    }
    match file::read(&text, "mine.toml") {
        Err(error) => assert!(error.to_string().contains("mine.toml"), "{error}"),
        Ok(reading) => {
            let written = file::write(&reading.layout);
            let again = file::read(&written, "mine.toml")
                .unwrap_or_else(|error| panic!("{error}\n{written}"));
            assert_eq!(again.layout, reading.layout);
            // Slow beside reading: once in a while is enough.
            if exchanges.len() % 8 != 1 {
                return;
            }
            let remarks = layout::check(&reading.layout);
            let theme = Theme { colour: false, ground: Ground::Unknown, unicode: false };
            let mut drawn = report::layout::check_text(&reading.layout, &remarks, None, theme);
            drawn.extend(report::layout::show_text(&reading.layout, None, theme, 78));
            assert!(!drawn.iter().any(|line| line.contains(char::is_control)), "{drawn:?}");
            RouteTable::build(&reading.layout);
        }
    }
});
