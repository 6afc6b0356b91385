//! XKB, against libxkbcommon: golden tables that it made (see
//! `tests/reference/keymap.py`), and its own tools where they are installed.

use super::{laid, route};
use etude::import::xkb::{Compose, Told, read_keymap, sheets, unicode_makes};
use etude::import::{Level, Meaning, Sheets};
use etude::keyboard::codes::{self, CodeName};
use etude::keyboard::{BoardForm, Output};
use etude::layout::file;
use kbvm::xkb::Context;
use std::process::Command;

fn of_text(text: &[u8], name: &str) -> Sheets {
    let keymap = read_keymap(text, name).unwrap();
    let compose = Compose::default();
    sheets(&keymap, BoardForm::Iso, &compose, name, "Test", "From a test.").unwrap()
}

fn fixture(name: &str) -> String {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/import");
    std::fs::read_to_string(format!("{folder}/{name}")).unwrap()
}

/// The bits of `sheets`' openers for Mod5 (level 3) and Mod3 (level 5).
fn level(sheets: &Sheets, mods: u8) -> Option<Level> {
    let mut opened = 0;
    for (bit, name) in [(2, "level3"), (4, "level5")] {
        if mods & bit != 0 {
            let index = sheets.openers.iter().position(|opener| opener.name == name)?;
            opened |= 1 << index;
        }
    }
    Some(Level { opened, shift: mods & 1 != 0 })
}

#[test]
fn every_character_is_where_libxkbcommon_has_it() {
    for (name, least) in [("de", 180), ("de-neo", 250)] {
        let sheets = of_text(fixture(&format!("{name}.xkb")).as_bytes(), name);
        let mut compared = 0;
        for line in fixture(&format!("{name}.csv")).lines().skip(1) {
            let fields: Vec<&str> = line.split(',').collect();
            let position = codes::position(CodeName::Xkb(fields[0]), BoardForm::Iso);
            let Some(position) = position else { continue };
            let expected = char::from_u32(u32::from_str_radix(fields[2], 16).unwrap()).unwrap();
            let Some(level) = level(&sheets, fields[1].parse().unwrap()) else { continue };
            let found = sheets.meaning(level, position);
            assert_eq!(*found, Meaning::Gives(Output::char(expected)), "{name}: {line}");
            compared += 1;
        }
        assert!(compared >= least, "{name}: {compared}");
    }
}

#[test]
fn level_keys_become_accesses_and_dead_keys_latches() {
    let german = laid(&of_text(fixture("de.xkb").as_bytes(), "de"), "full-iso");
    for (c, keys) in [
        ('z', "D06"),
        ('ß', "E11"),
        ('?', "B99+E11"),
        ('@', "A08+D01"),
        ('{', "A08+E07"),
        ('é', "E12+D03"),
        ('^', "E00+A03"),
        ('Ω', "A08+B12+D01"),
    ] {
        assert_eq!(route(&german, c), keys, "{c}");
    }
    assert_eq!(german.layout.layers[1].name, "level3");
    let neo = laid(&of_text(fixture("de-neo.xkb").as_bytes(), "de-neo"), "full-iso");
    for (c, keys) in [('u', "C01"), ('{', "C00+C03")] {
        assert_eq!(route(&neo, c), keys, "{c}");
    }
    assert!(neo.layout.layers.iter().any(|layer| layer.name == "level3+level5"));
}

#[test]
fn golden_layout_of_a_keymap() {
    let german = laid(&of_text(fixture("de.xkb").as_bytes(), "de"), "full-iso");
    let layers = file::write(&german.layout);
    // The first three layers: base, level 3, and Shift on level 3.
    let end = layers.match_indices("[[layer]]").nth(3).unwrap().0;
    insta::assert_snapshot!(layers[..end].trim_end());
    insta::assert_snapshot!(format!("{:#?}\n{:#?}", german.counts, german.left_out));
}

#[test]
fn levels_that_no_key_opens_are_counted_and_not_offered() {
    // Without what gives the level-3 key its modifier.
    let text = fixture("de.xkb").replace("modifier_map Mod5", "modifier_map Mod2");
    let text = text.replace("ISO_Level3_Shift", "Scroll_Lock");
    let outcome = laid(&of_text(text.as_bytes(), "de"), "full-iso");
    assert!(outcome.layout.layers.iter().all(|layer| !layer.name.starts_with("level3")));
    assert!(outcome.counts.unreachable > 80, "{:?}", outcome.counts);
}

#[test]
fn the_board_decides_what_fits() {
    let sheets = of_text(fixture("de.xkb").as_bytes(), "de");
    let split = laid(&sheets, "split-3x6-3");
    let beyond = split.left_out.iter().find(|left| left.why.contains("board lacks")).unwrap();
    assert!(beyond.what.iter().any(|what| what == "1 (E01)"), "{beyond:?}");
    assert!(split.to_tell.iter().any(|told| told.contains("LT3, LT2, LT1")), "{split:?}");
}

/// Every letter that Unicode makes is what the host's compose table makes.
#[test]
fn unicode_agrees_with_the_compose_table() {
    let mut builder = Context::builder();
    builder.enable_environment(false);
    let context = builder.build();
    let mut table = context.compose_table_builder();
    table.locale("en_US.UTF-8");
    let Some(table) = table.build(&mut Told::default()) else {
        eprintln!("skipped: no compose table on this machine");
        return;
    };
    let host = Compose::of_host(table);
    let mut compared = 0;
    for dead in ["grave", "acute", "circumflex", "tilde", "diaeresis", "cedilla", "caron"] {
        for base in ('a'..='z').chain('A'..='Z') {
            if let Some(made) = unicode_makes(dead, base) {
                assert_eq!(host.makes(dead, base), Some(made), "{dead} {base}");
                compared += 1;
            }
        }
    }
    assert!(compared > 100, "{compared}");
}

fn tool(arguments: &[&str]) -> Option<String> {
    let output = Command::new("xkbcli").args(arguments).output().ok()?;
    output.status.success().then(|| String::from_utf8(output.stdout).unwrap())
}

/// libxkbcommon compiles the system's layouts and tells where each character
/// is; so do we.
#[test]
fn the_systems_layouts_are_as_libxkbcommon_has_them() {
    let layouts: [&[&str]; 4] = [
        &["--layout", "us", "--variant", "intl"],
        &["--layout", "fr"],
        &["--layout", "gr"],
        &["--layout", "de", "--options", "lv3:caps_switch"],
    ];
    for names in layouts {
        let compiled = [&["compile-keymap"], names].concat();
        let Some(text) = tool(&compiled) else {
            eprintln!("skipped: no xkbcli on this machine (Debian: libxkbcommon-tools)");
            return;
        };
        let sheets = of_text(text.as_bytes(), "system");
        let mut texts = Vec::new();
        for (level, keys) in &sheets.levels {
            for (position, meaning) in keys {
                if let Meaning::Gives(output) = meaning
                    && let Some(c) = output.as_char()
                {
                    texts.push((*level, *position, c));
                }
            }
        }
        assert!(texts.len() > 90, "{names:?}: {}", texts.len());
        // A sample: the tool compiles the keymap anew each time.
        for (level, position, c) in texts.into_iter().step_by(11) {
            let point = format!("0x{:x}", u32::from(c));
            let told = tool(&[&["how-to-type"], names, &[point.as_str()]].concat()).unwrap();
            let key = codes::at(position, BoardForm::Iso).unwrap().xkb;
            let mut mods: Vec<&str> = Vec::new();
            if level.shift {
                mods.push("Shift");
            }
            for (index, opener) in sheets.openers.iter().enumerate() {
                if level.opened & (1 << index) != 0 {
                    mods.push(if opener.name == "level3" { "Mod5" } else { "Mod3" });
                }
            }
            // A key that does not heed a modifier is told without it.
            let fits = told.lines().skip(2).any(|line| {
                let words: Vec<&str> = line.split_whitespace().collect();
                let held = line.split_once('[').map_or("", |(_, held)| held);
                let held: Vec<&str> = held.trim_end_matches(']').split_whitespace().collect();
                words.get(1) == Some(&key) && held.iter().all(|held| mods.contains(held))
            });
            assert!(fits, "{names:?}: {c} at {position}, {mods:?}:\n{told}");
        }
    }
}
