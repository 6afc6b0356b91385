//! `etude layout`: list, show, check.

use crate::commands::etude;
use serde_json::Value;
use tempfile::TempDir;

fn succeeds(home: &TempDir, arguments: &[&str]) -> String {
    let output = etude(home).args(arguments).assert().success();
    String::from_utf8(output.get_output().stdout.clone()).unwrap()
}

fn fails(home: &TempDir, status: i32, arguments: &[&str]) -> String {
    let output = etude(home).args(arguments).assert().code(status);
    assert!(output.get_output().stdout.is_empty());
    String::from_utf8(output.get_output().stderr.clone()).unwrap()
}

fn json(home: &TempDir, arguments: &[&str]) -> Value {
    serde_json::from_str(&succeeds(home, arguments)).unwrap()
}

#[test]
fn list_tells_every_layout_and_board() {
    let home = TempDir::new().unwrap();
    insta::assert_snapshot!(succeeds(&home, &["layout", "list"]));
    let list = json(&home, &["layout", "list", "--json"]);
    assert_eq!(list["schema"], "etude.layout-list/1");
    let names = |key: &str| -> Vec<String> {
        let items = list[key].as_array().unwrap().iter();
        items.map(|item| item["name"].as_str().unwrap().to_owned()).collect()
    };
    for layout in names("layouts") {
        succeeds(&home, &["layout", "show", &layout]);
        succeeds(&home, &["layout", "check", &layout]);
    }
    assert_eq!(names("boards").len(), 5);
}

#[test]
fn show_draws_each_layer_plainly_when_piped() {
    let home = TempDir::new().unwrap();
    let text = succeeds(&home, &["layout", "show"]);
    assert!(!text.contains('\x1b'));
    insta::assert_snapshot!(text);
}

#[test]
fn show_has_colour_where_it_is_asked_for_and_ascii_where_the_locale_wants_it() {
    let home = TempDir::new().unwrap();
    let text = succeeds(&home, &["layout", "show", "tern-laptop", "--color", "always"]);
    assert!(text.contains("\x1b["));
    let output = etude(&home)
        .env("LANG", "C")
        .args(["layout", "show", "tern-laptop", "--layer", "numbers"])
        .assert()
        .success();
    let text = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    assert!(text.is_ascii(), "{text}");
}

#[test]
fn show_as_json_carries_layers_and_routes() {
    let home = TempDir::new().unwrap();
    let shown = json(&home, &["layout", "show", "tern-split", "--layer", "symbols", "--json"]);
    assert_eq!(shown["schema"], "etude.layout-show/1");
    assert_eq!(shown["layers"].as_array().unwrap().len(), 1);
    assert_eq!(shown["layers"][0]["accesses"][0]["position"], "LT2");
    let routes = shown["routes"].as_array().unwrap();
    let brace = routes.iter().find(|route| route["output"] == "{").unwrap();
    assert_eq!(brace["routes"][0]["position"], "B07");
    assert_eq!(brace["routes"][0]["accesses"][0]["target"], "symbols");
}

#[test]
fn the_layout_option_and_the_environment_name_the_layout_in_use() {
    let home = TempDir::new().unwrap();
    let text = succeeds(&home, &["layout", "check", "--layout", "plain-iso"]);
    assert!(text.starts_with("plain-iso:"), "{text}");
    let output =
        etude(&home).env("ETUDE_LAYOUT", "plain-ansi").args(["layout", "check"]).assert().success();
    assert!(output.get_output().stdout.starts_with(b"plain-ansi:"));
}

#[test]
fn check_tells_what_a_file_lacks() {
    let home = TempDir::new().unwrap();
    let file = home.path().join("mine.toml");
    let row = " --".repeat(12);
    let text = format!(
        "name = 'mine'\nboard = 'ortho-4x12'\ntitel = 'Mine'\n[[layer]]\nname = 'base'\n\
         keys = '''\na a lock:x hold:y{}\n{row}\n{row}\n{row}\n'''\n\
         [[layer]]\nname = 'x'\nkeys = '''\n{row}\n{row}\n{row}\n{row}\n'''\n\
         [[layer]]\nname = 'y'\nkeys = '''\n-- -- -- b{}\n{row}\n{row}\n{row}\n'''\n",
        " --".repeat(8),
        " --".repeat(8)
    );
    std::fs::write(&file, text).unwrap();
    let output = etude(&home).args(["layout", "check"]).arg(&file).assert().success();
    let told = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    for part in ["100 faults", " b c d ", "'x' locked by D02", "D03 on layer 'y'", "D00, D01"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let warned = String::from_utf8(output.get_output().stderr.clone()).unwrap();
    assert!(warned.contains("mine.toml:3: unknown key 'titel'"), "{warned}");
    let checked = json(&home, &["layout", "check", file.to_str().unwrap(), "--json"]);
    assert_eq!(checked["schema"], "etude.layout-check/1");
    assert!(checked["remarks"].as_array().unwrap().iter().any(|r| r["kind"] == "no-way-back"));
}

#[test]
fn what_is_not_there_is_told_with_the_nearest_name() {
    let home = TempDir::new().unwrap();
    let told = fails(&home, 2, &["layout", "show", "tern-splt"]);
    assert!(told.contains("did you mean 'tern-split'?"), "{told}");
    let told = fails(&home, 2, &["layout", "show", "tern-split", "--layer", "symbol"]);
    assert!(told.contains("did you mean 'symbols'?"), "{told}");
    let told = fails(&home, 1, &["layout", "check", "nowhere/mine.toml"]);
    assert!(told.contains("can't read layout 'nowhere/mine.toml'"), "{told}");
}

#[test]
fn a_file_that_cannot_be_read_names_line_and_reason() {
    let home = TempDir::new().unwrap();
    let file = home.path().join("bad.toml");
    std::fs::write(&file, b"name = 'bad'\ntitle = '\xff'\n").unwrap();
    let told = fails(&home, 1, &["layout", "check", file.to_str().unwrap()]);
    assert!(told.contains("bad.toml:2: not UTF-8"), "{told}");
    std::fs::write(&file, "name = 'bad'\nboard = 'ortho-4x13'\n").unwrap();
    let told = fails(&home, 1, &["layout", "show", file.to_str().unwrap()]);
    assert!(told.contains("bad.toml:2") && told.contains("did you mean 'ortho-4x12'?"), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
}

#[test]
fn every_way_to_something_is_told() {
    let home = TempDir::new().unwrap();
    let told = |args: &[&str]| {
        let args = [&["layout", "show", "tern-split"], args].concat();
        let output = etude(&home).args(args).assert().success().get_output().stdout.clone();
        String::from_utf8(output).unwrap()
    };
    let text = told(&["--where", "("]);
    assert!(text.contains("preferred  hold LT2 (left thumb) for symbols, strike C07"), "{text}");
    assert!(text.contains("also       hold RT1 (right thumb) for punctuation"), "{text}");
    assert!(told(&["--where", "Ctrl+Shift+V"]).contains("for shortcuts"));
    assert!(told(&["--where", "ж"]).contains("can't be given by tern-split"));
    let json: serde_json::Value = serde_json::from_str(&told(&["--where", "~", "--json"])).unwrap();
    assert_eq!(json["schema"], "etude.layout-where/1");
    assert_eq!(json["routes"][0]["layer"], "symbols");
    let refused = etude(&home).args(["layout", "show", "--where", "Entr"]).assert().code(2);
    let error = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
    assert!(error.contains("did you mean 'Enter'"), "{error}");
}
