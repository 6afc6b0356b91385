//! What the check finds, and what it leaves alone.

use super::*;
use crate::keyboard::{Chord, Hand};
use crate::layout::{LayerId, file, shipped};
use std::fmt::Write;

fn checked(text: &str) -> Vec<String> {
    let layout = file::read(text, "test.toml").unwrap_or_else(|e| panic!("{e}")).layout;
    let told = check(&layout).into_iter().filter(|r| r.kind() != "untypeable");
    told.filter(|r| r.kind() != "off-home").map(|r| r.to_string()).collect()
}

/// A 4×12 board of which only the first keys matter.
fn small(layers: &[(&str, &str)]) -> String {
    let mut text = "name = 'test'\nboard = 'ortho-4x12'\n".to_owned();
    for (number, (name, first)) in layers.iter().enumerate() {
        let rest = if number == 0 { " --" } else { " .." };
        let count = first.split_whitespace().count();
        let row = format!("{first}{}", rest.repeat(12 - count));
        let blank = rest.repeat(12);
        let _ = write!(
            text,
            "[[layer]]\nname = '{name}'\nsign = '{number}'\n\
             keys = '''\n{row}\n{blank}\n{blank}\n{blank}\n'''\n"
        );
    }
    text
}

#[test]
fn keys_under_the_holding_finger_are_covered() {
    // D00 and D01 both belong to the left little finger.
    let text = small(&[("base", "hold:x a"), ("x", "b c d")]);
    assert_eq!(
        checked(&text),
        [
            "D00 on layer 'x' can't be struck: its finger holds D00 to keep the layer",
            "D01 on layer 'x' can't be struck: its finger holds D00 to keep the layer",
        ]
    );
    let freed = small(&[("base", "hold:x a latch:x"), ("x", "b c d")]);
    assert_eq!(checked(&freed), Vec::<String>::new());
}

#[test]
fn a_lock_needs_a_way_back() {
    let stuck = small(&[("base", "lock:x"), ("x", "a")]);
    let told = checked(&stuck);
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("'x' locked by D00 on layer 'base' can't be left"));
    for back in ["..", "lock:x", "lock:base"] {
        let text = small(&[("base", "lock:x"), ("x", &format!("{back} a"))]);
        assert_eq!(checked(&text), Vec::<String>::new(), "{back}");
    }
}

#[test]
fn layers_without_access_and_doubles_are_told() {
    let text = small(&[("base", "a b a"), ("x", "c")]);
    assert_eq!(
        checked(&text),
        [
            "layer 'x' can't be reached: no access leads to it",
            "a is on layer 'base' more than once: D00, D02",
        ]
    );
}

#[test]
fn what_cannot_be_typed_is_told_and_faults_come_first() {
    let text = small(&[("base", "a Enter")]);
    let layout = file::read(&text, "test.toml").unwrap().layout;
    let remarks = check(&layout);
    let missing = remarks.iter().filter(|r| r.kind() == "untypeable").count();
    // 95 printable characters and four keys; a and Enter are there.
    assert_eq!(missing, 95 + 4 - 2);
    assert!(remarks.is_sorted_by_key(Remark::weight));
}

#[test]
fn shipped_layouts_have_no_faults() {
    for name in shipped::names() {
        let faults: Vec<String> = check(&shipped::load(name).unwrap())
            .iter()
            .filter(|remark| remark.weight() == Weight::Fault)
            .map(Remark::to_string)
            .collect();
        assert_eq!(faults, Vec::<String>::new(), "{name}");
    }
}

#[test]
fn the_layered_layouts_keep_frequent_characters_at_home() {
    for name in shipped::names() {
        let layout = shipped::load(name).unwrap();
        let off = check(&layout).into_iter().filter(|r| r.kind() == "off-home").count();
        assert_eq!(off > 0, layout.old_way.is_none(), "{name}");
    }
}

#[test]
fn preferences_in_vain_and_unknown_old_ways_are_told() {
    let mut layout = shipped::load(shipped::DEFAULT).unwrap();
    let wrong = layout.prefer.iter().next().map(|(output, _)| output.clone()).unwrap();
    let elsewhere = (LayerId::BASE, layout.board.sites[0].position);
    layout.prefer.insert(wrong, elsewhere);
    layout.old_way = Some("plain-asni".into());
    let kinds: Vec<&str> = check(&layout).iter().map(Remark::kind).collect();
    assert_eq!(kinds, ["vain-preference", "unknown-old-way"]);
}

#[test]
fn an_access_under_the_holding_finger_is_an_impossible_hold() {
    // D00 and D01 both belong to the left little finger.
    let text = small(&[("base", "hold:x a"), ("x", ".. hold:y b"), ("y", ".. .. c")]);
    let told = checked(&text);
    let hold = told.iter().find(|told| told.contains("can't be held"));
    let hold = hold.unwrap_or_else(|| panic!("{told:?}"));
    assert!(hold.contains("D01 on layer 'x'") && hold.contains("left little already holds D00"));
}

#[test]
fn what_is_latched_outlasts_the_hold_that_led_to_it() {
    // The latch on x is struck by another finger; then D00 is let up.
    let text = small(&[("base", "hold:x a b"), ("x", ".. .. latch:y"), ("y", ".. c")]);
    assert_eq!(checked(&text), Vec::<String>::new());
}

#[test]
fn locks_that_lead_only_to_each_other_are_a_trap() {
    let trap = |y: &str| {
        small(&[("base", "lock:x a"), ("x", "lock:y b"), ("y", &format!("lock:x c {y}"))])
    };
    let told = checked(&trap(".."));
    assert!(told.iter().any(|told| told.contains("from 'x' and 'y' to each other")), "{told:?}");
    let free = checked(&trap("lock:base"));
    assert!(!free.iter().any(|told| told.contains("each other")), "{free:?}");
}

#[test]
fn a_layer_behind_a_lock_is_told() {
    let behind = [("base", "lock:x a"), ("x", "lock:x latch:y"), ("y", ".. .. c")];
    let told = checked(&small(&behind));
    assert_eq!(told, ["layer 'y' is reached only while 'x' is locked"]);
    let also = [("base", "lock:x a latch:y"), ("x", "lock:x latch:y"), ("y", ".. .. .. c")];
    assert_eq!(checked(&small(&also)), Vec::<String>::new());
}

/// Rows of a 4×12 board: E is missing, D above C above B.
fn rows(name: &str, sign: &str, rows: [&str; 3]) -> String {
    let thumbs = if name == "base" {
        "-- -- -- -- hold:x -- -- Space -- -- -- --"
    } else {
        ".. .. .. .. .. .. .. .. .. .. .. .."
    };
    format!(
        "[[layer]]\nname = '{name}'\nsign = '{sign}'\nkeys = \"\"\"\n{}\n{thumbs}\n\"\"\"\n",
        rows.join("\n")
    )
}

fn with_symbols(symbols: [&str; 3]) -> Layout {
    let letters =
        ["-- q w e r t y u i o p --", "-- a s d f g h j k l m --", "-- z x c v b n -- -- -- -- --"];
    let text = format!(
        "name = 'test'\nboard = 'ortho-4x12'\n{}{}",
        rows("base", "B", letters),
        rows("x", "X", symbols)
    );
    file::read(&text, "test.toml").unwrap_or_else(|e| panic!("{e}\n{text}")).layout
}

fn kinds(remarks: &[Remark], kind: &str) -> Vec<String> {
    let of_kind = remarks.iter().filter(|remark| remark.kind() == kind);
    of_kind.map(|remark| format!("{remark}; {}", remark.suggestion())).collect()
}

#[test]
fn a_frequent_symbol_changes_places_with_a_rarer_one_under_its_finger() {
    let layout = with_symbols([
        ".. .. .. .. .. .. .. { .. .. .. ..",
        ".. .. .. .. .. .. .. ^ & .. .. ..",
        ".. .. .. .. .. .. .. .. .. .. .. ..",
    ]);
    let often = |pairs: &[(char, f64)]| -> Often {
        pairs.iter().map(|(c, times)| ((LayerId(1), Output::char(*c)), *times)).collect()
    };
    let told = |pairs| kinds(&advise(&layout, &often(pairs)), "off-home-row");
    assert_eq!(
        told(&[('{', 9.0), ('^', 1.0), ('&', 0.0)]),
        ["D07 on layer 'x' is off the home row but struck 9.0 times a page ({), while C06 is \
             free; move { from D07 to C06, which is free"]
    );
    assert_eq!(told(&[('{', 3.0)]), Vec::<String>::new());
}

#[test]
fn families_stay_together_or_are_told() {
    let apart = with_symbols([
        ".. .. .. .. .. .. .. ( [ .. .. ..",
        ".. .. .. .. .. .. .. .. .. .. .. ..",
        ".. .. .. .. .. .. .. .. { .. .. ..",
    ]);
    let told = kinds(&advise(&apart, &Often::new()), "split-family");
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("opening brackets on layer 'x'"), "{told:?}");
    assert!(told[0].ends_with("as the right middle: a family is learnt as one"), "{told:?}");
    let together = with_symbols([
        ".. .. .. .. .. .. .. ( .. .. .. ..",
        ".. .. .. .. .. .. .. [ .. .. .. ..",
        ".. .. .. .. .. .. .. { .. .. .. ..",
    ]);
    assert!(kinds(&advise(&together, &Often::new()), "split-family").is_empty());
}

#[test]
fn chords_of_three_keys_are_told_until_a_layer_has_them() {
    let plain = shipped::load("plain-ansi").unwrap();
    let told = kinds(&advise(&plain, &Often::new()), "three-keys");
    assert!(told.iter().any(|told| told.starts_with("Ctrl+Shift+V")), "{told:?}");
    let split = shipped::load("tern-split").unwrap();
    let remarks = advise(&split, &Often::new());
    let chord: Chord = "Ctrl+Shift+V".parse().unwrap();
    let found =
        |remark: &Remark| matches!(remark, Remark::ThreeKeys { chord: c, .. } if *c == chord);
    assert!(!remarks.iter().any(found), "{remarks:?}");
}

#[test]
fn loaded_little_fingers_and_idle_thumbs_are_told_by_their_share() {
    let layout = shipped::load("plain-ansi").unwrap();
    let often: Often =
        [('e', 50.0), ('-', 50.0)].map(|(c, n)| ((LayerId::BASE, Output::char(c)), n)).into();
    let remarks = advise(&layout, &often);
    let little = remarks.iter().find_map(|remark| match remark {
        Remark::LittleFinger { hand, share, keys } => Some((*hand, *share, keys.len())),
        _ => None,
    });
    assert_eq!(little, Some((Hand::Right, 0.5, 1)));
    let thumbs = kinds(&remarks, "idle-thumbs");
    assert!(thumbs[0].starts_with("the thumbs have only 0 % of all presses"), "{thumbs:?}");
    let even: Often =
        [('e', 84.0), (' ', 16.0)].map(|(c, n)| ((LayerId::BASE, Output::char(c)), n)).into();
    let remarks = advise(&layout, &even);
    assert!(
        kinds(&remarks, "idle-thumbs").is_empty() && kinds(&remarks, "little-finger").is_empty()
    );
}

#[test]
fn every_remark_has_a_suggestion_and_most_a_place() {
    for name in shipped::names() {
        for remark in advise(&shipped::load(name).unwrap(), &Often::new()) {
            assert!(!remark.suggestion().is_empty(), "{remark}");
            let place = remark.place();
            assert!(place.layer.is_some() || !place.positions.is_empty(), "{remark}");
        }
    }
}

#[test]
fn markers_that_tell_too_little_are_told() {
    let layers = [("base", "hold:x hold:y F15 a"), ("x", ".. .. .. b"), ("y", ".. .. .. c")];
    let text = small(&layers);
    let marked = |x: &str, y: &str| {
        let text = text.replace("sign = '1'", &format!("sign = '1'\nmarker = '{x}'"));
        text.replace("sign = '2'", &format!("sign = '2'\nmarker = '{y}'"))
    };
    let before = checked(&text);
    assert_eq!(checked(&marked("F13", "ISO_Level5_Shift")), before);
    let told = |text: &str| -> Vec<String> {
        checked(text).into_iter().filter(|words| !before.contains(words)).collect()
    };
    assert_eq!(told(&marked("F13", "F13")), ["F13 marks several layers: 'x', 'y'"]);
    assert_eq!(
        told(&marked("F13", "F15")),
        ["F15 marks layer 'y', but D02 on layer 'base' types it"]
    );
}
