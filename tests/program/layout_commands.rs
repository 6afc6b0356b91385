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
    // Scripts learn of faults by the exit status.
    let output = etude(&home).args(["layout", "check"]).arg(&file).assert().code(3);
    let told = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    for part in [
        "3 faults, 2 pieces of advice",
        " b c d ",
        "'x' locked by D02",
        "D03 on layer 'y'",
        "D00, D01",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let warned = String::from_utf8(output.get_output().stderr.clone()).unwrap();
    assert!(warned.contains("mine.toml:3: unknown key 'titel'"), "{warned}");
    let file = file.to_str().unwrap();
    let output = etude(&home).args(["layout", "check", file, "--json"]).assert().code(3);
    let checked: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    assert_eq!(checked["schema"], "etude.layout-check/1");
    let remarks = checked["remarks"].as_array().unwrap();
    let lock = remarks.iter().find(|r| r["kind"] == "no-way-back").unwrap();
    assert_eq!((&lock["weight"], &lock["layer"]), (&"fault".into(), &"base".into()));
    assert_eq!(lock["positions"], serde_json::json!(["D02"]));
    assert!(lock["suggestion"].as_str().unwrap().contains("a lock of the base layer"));
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
fn a_sheet_is_written_as_svg_pdf_and_text_and_never_over_another_file() {
    let home = TempDir::new().unwrap();
    let path = |name: &str| home.path().join(name).to_str().unwrap().to_owned();
    for name in ["a.svg", "a.pdf", "a.txt"] {
        let file = path(name);
        succeeds(&home, &["layout", "sheet", "tern-split", "-o", &file, "--paper", "letter"]);
        let told = fails(&home, 1, &["layout", "sheet", "tern-split", "-o", &file]);
        assert!(told.contains("exists: nothing was written"), "{told}");
    }
    let svg = std::fs::read_to_string(path("a.svg")).unwrap();
    let document = roxmltree::Document::parse(&svg).unwrap();
    let root = document.root_element();
    assert_eq!(root.attribute("width"), Some("279.4mm"));
    let groups = root.children().filter(|node| node.has_tag_name("g")).count();
    assert_eq!(groups, 8, "six layers, heading and legend");
    // Nothing depends on a font of the machine that shows it.
    assert!(!svg.contains("<text") && !svg.contains("font"), "text is drawn as outlines");
    let pdf = std::fs::read(path("a.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF-1.") && pdf.trim_ascii_end().ends_with(b"%%EOF"));
    assert!(!pdf.windows(5).any(|part| part == b"/Font"), "text is drawn as outlines");
    let text = std::fs::read_to_string(path("a.txt")).unwrap();
    assert!(text.contains("symbols  hold LT2 (left thumb)"), "{text}");
    let (_, fingers) = text.split_once("5 the little one:").unwrap();
    let on = |row: &str| row.chars().filter(char::is_ascii_digit).collect::<String>();
    let rows: Vec<String> = fingers.lines().map(on).filter(|row| !row.is_empty()).collect();
    assert!(rows.contains(&"432234".to_owned()), "{rows:?}");
    let told = fails(&home, 2, &["layout", "sheet", "-o", &path("a.png")]);
    assert!(told.contains("ends in .svg, .pdf or .txt"), "{told}");
    let told = fails(&home, 1, &["layout", "sheet", "--learner"]);
    assert!(told.contains("nothing was practised on 'tern-split' yet"), "{told}");
}

/// Outside check: poppler counts pages and measures them, where it is installed.
#[test]
fn the_pdf_is_one_page_of_the_papers_size() {
    let home = TempDir::new().unwrap();
    let file = home.path().join("a.pdf").to_str().unwrap().to_owned();
    succeeds(&home, &["layout", "sheet", "tern-laptop", "-o", &file]);
    let Ok(output) = std::process::Command::new("pdfinfo").arg(&file).output() else {
        eprintln!("skipped: no pdfinfo on this machine (Debian: poppler-utils)");
        return;
    };
    let told = String::from_utf8(output.stdout).unwrap();
    assert!(told.contains("Pages:           1"), "{told}");
    assert!(told.contains("841.89 x 595.27") || told.contains("(A4)"), "{told}");
}

#[test]
fn an_import_writes_a_layout_that_can_be_used_at_once() {
    let home = TempDir::new().unwrap();
    let path = |name: &str| home.path().join(name).to_str().unwrap().to_owned();
    let keymap = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/import/de.xkb");
    let file = path("german.toml");
    let told = succeeds(&home, &["layout", "import", keymap, "-o", &file]);
    for part in ["characters", "dead keys", "Left out", "Yours to tell", "fingers:", "clusters:"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let shown = json(&home, &["layout", "show", &file, "--json"]);
    let routes = shown["routes"].as_array().unwrap();
    let at = routes.iter().find(|route| route["output"] == "@").unwrap();
    assert_eq!(at["routes"][0]["accesses"][0]["target"], "level3");
    let told = fails(&home, 1, &["layout", "import", keymap, "-o", &file]);
    assert!(told.contains("exists: nothing was written"), "{told}");
    let other = path("other.toml");
    let outcome = json(
        &home,
        &[
            "layout", "import", keymap, "-o", &other, "--name", "mine", "--board", "full-iso",
            "--json",
        ],
    );
    assert_eq!(outcome["schema"], "etude.layout-import/1");
    assert_eq!(outcome["name"], "mine");
    // How many more depends on the machine's compose table.
    assert!(outcome["counts"]["dead_keys"].as_u64().unwrap() >= 9, "{outcome}");
}

#[test]
fn an_ldml_file_brings_its_neighbours_but_nothing_from_outside_its_folder() {
    let home = TempDir::new().unwrap();
    let inside = home.path().join("keyboards");
    std::fs::create_dir(&inside).unwrap();
    let write = |path: std::path::PathBuf, text: &str| std::fs::write(path, text).unwrap();
    write(home.path().join("secret.xml"), "<keys><key id=\"x1\" output=\"secret\"/></keys>");
    write(inside.join("more.xml"), "<keys><key id=\"x1\" output=\"ß\"/></keys>");
    let text = |import: &str| {
        format!(
            "<keyboard3 locale=\"de\" conformsTo=\"45\"><info name=\"Harbour\"/>\n\
             <keys><import path=\"{import}\"/></keys>\n<layers formId=\"iso\"><layer modifiers=\"none\">\
             <row keys=\"gap\"/><row keys=\"q\"/><row keys=\"a x1\"/></layer></layers></keyboard3>"
        )
    };
    let file = inside.join("harbour.xml");
    write(file.clone(), &text("more.xml"));
    let output = home.path().join("harbour.toml").to_str().unwrap().to_owned();
    let file = file.to_str().unwrap();
    succeeds(&home, &["layout", "import", file, "-o", &output]);
    assert!(std::fs::read_to_string(&output).unwrap().contains('ß'));
    let refused = |import: &str| {
        std::fs::write(file, text(import)).unwrap();
        let told = fails(&home, 1, &["layout", "import", file, "-o", "-"]);
        assert!(!told.contains("secret\""), "{told}");
        told
    };
    assert!(refused("../secret.xml").contains("within the folder"));
    assert!(refused("gone.xml").contains("no such file"));
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("../secret.xml", inside.join("link.xml")).unwrap();
        assert!(refused("link.xml").contains("within the folder"));
    }
}

#[test]
fn xkb_names_that_are_none_are_told_with_the_nearest() {
    let home = TempDir::new().unwrap();
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/import/xkb");
    let fails = |arguments: &[&str]| {
        let output = etude(&home)
            .env("XKB_CONFIG_ROOT", root)
            .args(["layout", "import", "-o", "-"])
            .args(arguments)
            .assert()
            .failure();
        String::from_utf8(output.get_output().stderr.clone()).unwrap()
    };
    for (arguments, told) in [
        (&["--xkb", "terx"][..], "no XKB layout 'terx'"),
        (&["--xkb", "tern", "--variant", "windlas"], "did you mean 'windlass'?"),
        (&["--xkb", "tern", "--options", "lv3:cap_switch"], "did you mean 'lv3:caps_switch'?"),
        (&["--xkb", "../../etc/passwd"], "is no XKB name"),
        (&["--xkb", "tern", "--board", "full-is"], "did you mean 'full-iso'?"),
        (&["nowhere.xml"], "can't read nowhere.xml"),
        (&[], "required"),
    ] {
        let found = fails(arguments);
        assert!(found.contains(told), "{arguments:?}: {found}");
    }
}

#[test]
fn compare_tells_moves_effort_and_what_is_to_be_learnt() {
    let home = TempDir::new().unwrap();
    let text = succeeds(&home, &["layout", "compare", "plain-ansi", "tern-split"]);
    for part in ["effort of a page", "access to symbols: LT2, was none", "To be learnt anew"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let same = succeeds(&home, &["layout", "compare", "tern-split", "tern-split"]);
    assert!(same.contains("have the same keys") && same.contains("no change"), "{same}");
    let compared = json(&home, &["layout", "compare", "plain-ansi", "tern-split", "--json"]);
    assert_eq!(compared["schema"], "etude.layout-compare/1");
    let moved = compared["moved"].as_array().unwrap();
    let brace = moved.iter().find(|moved| moved["output"] == "{").unwrap();
    assert_eq!(brace["before"]["accesses"][0]["target"], "Shift");
    assert_eq!(
        (&brace["now"]["layer"], &brace["now"]["position"]),
        (&"symbols".into(), &"B07".into())
    );
    assert_eq!(compared["history"], Value::Null);
    let told = fails(&home, 1, &["layout", "compare", "tern-split"]);
    assert!(told.contains("'tern-split' was never practised"), "{told}");
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
