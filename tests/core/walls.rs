//! The pure rooms import no clock, no files, no terminal, no store.

use std::fs;
use std::path::{Path, PathBuf};

const PURE: &[&str] = &[
    "keyboard", "import", "layout", "capture", "played", "drill", "editor", "session", "model",
    "plan", "typist", "survey", "arrange", "units.rs", "order.rs",
];
const FORBIDDEN: &[&str] = &[
    "Instant",
    "SystemTime",
    "std::fs",
    "std::io",
    "std::env",
    "std::thread",
    "std::net",
    "chrono",
    "ratatui",
    "crossterm",
    "rusqlite",
    "rustix",
    "directories",
    "rand::rng",
    "thread_rng",
    "crate::ui",
    "crate::store",
    "crate::input",
    "crate::command",
    "crate::report",
    "crate::cli",
];

fn sources(path: &Path, found: &mut Vec<PathBuf>) {
    if path.is_dir() {
        for entry in fs::read_dir(path).unwrap() {
            sources(&entry.unwrap().path(), found);
        }
    } else if path.extension().is_some_and(|e| e == "rs") {
        found.push(path.to_owned());
    }
}

fn words_found(text: &str, forbidden: &[&str]) -> Vec<String> {
    text.lines()
        .enumerate()
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
        .flat_map(|(n, line)| {
            forbidden
                .iter()
                .filter(|word| line.contains(**word))
                .map(move |word| format!("line {}: {word}", n + 1))
                .collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn pure_rooms_import_nothing_impure() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    for room in PURE {
        let before = files.len();
        sources(&src.join(room), &mut files);
        assert!(files.len() > before, "the room {room} has gone: mend this list");
    }
    let mut faults = Vec::new();
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        for fault in words_found(&text, FORBIDDEN) {
            faults.push(format!("{}: {fault}", file.display()));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn keyboard_imports_no_other_room() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src/keyboard"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).unwrap();
        assert_eq!(words_found(&text, &["crate::"]), Vec::<String>::new(), "{}", file.display());
    }
}

#[test]
fn the_scan_sees_what_it_should() {
    assert_eq!(words_found("use std::fs;\n// std::fs\n", FORBIDDEN), ["line 1: std::fs"]);
}
