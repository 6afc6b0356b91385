//! The boards and layouts that come with Etude, built into the program.

use super::{Layout, file};
use crate::keyboard::{Board, Shape};

/// The layout to start with.
pub const DEFAULT: &str = "tern-split";

/// File name and text of each board.
const BOARDS: &[(&str, &str)] = &[
    ("full-ansi", include_str!("../../layouts/boards/full-ansi.toml")),
    ("full-iso", include_str!("../../layouts/boards/full-iso.toml")),
    ("split-3x5-3", include_str!("../../layouts/boards/split-3x5-3.toml")),
    ("split-3x6-3", include_str!("../../layouts/boards/split-3x6-3.toml")),
    ("ortho-4x12", include_str!("../../layouts/boards/ortho-4x12.toml")),
];

/// File name and text of each layout.
const LAYOUTS: &[(&str, &str)] = &[
    ("tern-split", include_str!("../../layouts/tern-split.toml")),
    ("tern-small", include_str!("../../layouts/tern-small.toml")),
    ("tern-ortho", include_str!("../../layouts/tern-ortho.toml")),
    ("tern-laptop", include_str!("../../layouts/tern-laptop.toml")),
    ("plain-ansi", include_str!("../../layouts/plain-ansi.toml")),
    ("plain-iso", include_str!("../../layouts/plain-iso.toml")),
];

/// The names of the shipped boards, in the order of lists.
pub fn board_names() -> impl Iterator<Item = &'static str> {
    BOARDS.iter().map(|(name, _)| *name)
}

/// The board with this name: a shipped one, or one that its name describes
/// ([`Shape`]).
pub fn board(name: &str) -> Option<Board> {
    match BOARDS.iter().find(|(known, _)| *known == name) {
        Some((name, text)) => Board::parse(text, name).ok(),
        None => name.parse().ok().map(Shape::board),
    }
}

/// The names of the shipped layouts, in the order of lists.
pub fn names() -> impl Iterator<Item = &'static str> {
    LAYOUTS.iter().map(|(name, _)| *name)
}

/// The file of the shipped layout with this name, as written.
pub fn text(name: &str) -> Option<&'static str> {
    LAYOUTS.iter().find(|(known, _)| *known == name).map(|(_, text)| *text)
}

/// The shipped layout with this name.
pub fn load(name: &str) -> Option<Layout> {
    file::read(text(name)?, name).ok().map(|reading| reading.layout)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Output;
    use crate::layout::RouteTable;

    #[test]
    fn every_board_reads_and_is_named_as_its_file() {
        for (name, text) in BOARDS {
            let board = Board::parse(text, &format!("layouts/boards/{name}.toml"))
                .unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(board.name, *name);
            assert_eq!(board.rows.iter().sum::<usize>(), board.sites.len());
            assert!(board.sites.iter().filter(|site| site.home).count() >= 9);
        }
    }

    #[test]
    fn a_described_board_is_the_shipped_one_of_its_size() {
        for name in ["split-3x5-3", "split-3x6-3", "ortho-4x12"] {
            let described = name.parse::<Shape>().unwrap().board();
            assert_eq!(Some(described), board(name), "{name}");
        }
        assert!(board("split-4x6-5").is_some() && board("split-9x9-9").is_none());
    }

    #[test]
    fn every_layout_reads_without_warnings_and_writes_back() {
        for (name, text) in LAYOUTS {
            let reading = file::read(text, &format!("layouts/{name}.toml"))
                .unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(reading.warnings, []);
            assert_eq!(reading.layout.name, *name);
            assert!(reading.layout.reasons.len() > 3, "{name} gives its reasons");
            let again = file::read(&file::write(&reading.layout), name).unwrap();
            assert_eq!(again.layout, reading.layout);
            if let Some(old_way) = &reading.layout.old_way {
                assert!(names().any(|known| known == old_way), "{old_way}");
            }
        }
    }

    #[test]
    fn every_layout_types_printable_ascii_and_the_thumb_keys() {
        for name in names() {
            let table = RouteTable::build(&load(name).unwrap());
            let keys = ["Enter", "Tab", "Backspace", "Escape"].map(|key| key.parse().unwrap());
            for output in (' '..='~').map(Output::char).chain(keys) {
                assert!(table.preferred(&output).is_some(), "{name} can't type {output}");
            }
        }
    }
}
