//! What a layout file may hold: read by the parser, told in its messages, and
//! written into the docs.

use crate::layout::Cluster;
use std::fmt::Write;

/// One key of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// The key.
    pub key: &'static str,
    /// What should stand there, as messages say it.
    pub expected: &'static str,
    /// What holds without it.
    pub without: &'static str,
}

const fn entry(key: &'static str, expected: &'static str, without: &'static str) -> Entry {
    Entry { key, expected, without }
}

/// What a name of a layout, layer or action is.
pub const NAME_RULE: &str =
    "1 to 32 characters without blanks and without / : \" ', and no modifier's name";

pub const NAME: Entry = entry("name", "a name without blanks", "it must be there");
pub const TITLE: Entry = entry("title", "a title for people", "the name");
pub const BOARD: Entry =
    entry("board", "the name of a board, as in split-3x6-3", "it must be there");
pub const OLD_WAY: Entry =
    entry("old_way", "another layout, the line to beat", "nothing is compared with");
pub const SHIFT: Entry = entry("shift", "a table: what Shift makes", "the US table");
pub const FINGERS: Entry =
    entry("fingers", "a table: position = a finger such as L5 or R2", "the board's fingers");
pub const ACTIONS: Entry = entry("actions", "tables: purposes behind chords", "none");
pub const PREFER: Entry =
    entry("prefer", "a table: output = \"LAYER POSITION\"", "the route of least effort");
pub const LAYER: Entry =
    entry("layer", "at least one [[layer]] with name and keys", "it must be there");

pub const SHIFT_TABLE: Entry = entry("table", "us or letters", "us");
pub const SHIFT_PAIRS: Entry = entry("pairs", "a table: one character = one character", "none");

pub const CHORD: Entry = entry("chord", "a chord such as Ctrl+C", "it must be there");
pub const PURPOSE: Entry = entry("title", "what the person is asked to do", "the name");

pub const LAYER_NAME: Entry = entry("name", "a name for the layer", "it must be there");
pub const CLUSTER: Entry =
    entry("cluster", "what the layer is for", "base for the first layer, other for the rest");
pub const SIGN: Entry =
    entry("sign", "one or two columns of visible characters", "the capital of the name");
pub const MARKER: Entry = entry(
    "marker",
    "a key that types nothing: F13 to F24, AltGraph or ISO_Level5_Shift; not on the base layer",
    "no marker",
);
pub const KEYS: Entry = entry("keys", "one line of tokens a row of the board", "it must be there");

/// The tables of a file: heading, and the keys that each knows.
pub const TABLES: [(&str, &[Entry]); 4] = [
    ("the top of the file", &[NAME, TITLE, BOARD, OLD_WAY, SHIFT, FINGERS, ACTIONS, PREFER, LAYER]),
    ("[shift]", &[SHIFT_TABLE, SHIFT_PAIRS]),
    ("[actions.NAME]", &[CHORD, PURPOSE]),
    ("[[layer]]", &[LAYER_NAME, CLUSTER, SIGN, MARKER, KEYS]),
];

/// The keys of the table with this number in [`TABLES`].
pub fn keys(table: usize) -> Vec<&'static str> {
    TABLES.get(table).map_or_else(Vec::new, |(_, keys)| keys.iter().map(|one| one.key).collect())
}

/// The reference of layout files in Markdown, for `docs/layouts.md`.
pub fn reference() -> String {
    let mut text = String::from("| table | key | expected | without it |\n|---|---|---|---|\n");
    for (heading, keys) in TABLES {
        for (n, one) in keys.iter().enumerate() {
            let heading = if n == 0 { format!("`{heading}`") } else { String::new() };
            let heading = heading.replace("`the top of the file`", "the top of the file");
            // Writing to a String never fails.
            let _ = writeln!(
                text,
                "| {heading} | `{}` | {} | {} |",
                one.key, one.expected, one.without
            );
        }
    }
    let clusters = Cluster::ALL.map(Cluster::word).join(", ");
    let _ = write!(
        text,
        "\nNames are {NAME_RULE}. A cluster is one of {clusters}. A key that nobody reads is left \
         out with a warning.\n"
    );
    text
}
