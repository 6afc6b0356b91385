//! Any text, and shipped boards with pieces exchanged: reading never panics,
//! complaints name their file, and a board that was read has sane measures.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none board_file`
#![no_main]

use etude::keyboard::Board;
use libfuzzer_sys::fuzz_target;

const SHIPPED: [&str; 5] = [
    include_str!("../../../layouts/boards/full-ansi.toml"),
    include_str!("../../../layouts/boards/full-iso.toml"),
    include_str!("../../../layouts/boards/split-3x5-3.toml"),
    include_str!("../../../layouts/boards/split-3x6-3.toml"),
    include_str!("../../../layouts/boards/ortho-4x12.toml"),
];

fuzz_target!(|input: (u8, Vec<(u16, u8, String)>)| {
    let (which, exchanges) = input;
    // One more than there are boards: an empty file to begin with.
    let text = SHIPPED.get(usize::from(which) % (SHIPPED.len() + 1));
    let mut text = text.copied().unwrap_or_default().to_owned();
    for (at, length, piece) in &exchanges {
        let start = text.floor_char_boundary(usize::from(*at) % (text.len() + 1));
        let end = text.ceil_char_boundary((start + usize::from(*length)).min(text.len()));
        text.replace_range(start..end, piece);
    }
    match Board::parse(&text, "mine.toml") {
        Err(error) => assert!(error.to_string().contains("mine.toml"), "{error}"),
        Ok(board) => {
            assert_eq!(board.rows.iter().sum::<usize>(), board.sites.len());
            for site in &board.sites {
                let measures = [site.x, site.y, site.width, site.height, site.rotation_deg];
                assert!(measures.iter().all(|n| n.is_finite()), "{site:?}");
                assert!(site.width > 0.0 && site.height > 0.0, "{site:?}");
            }
        }
    }
});
