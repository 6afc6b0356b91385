//! Files that mean harm are refused in plain words.

use super::ldml::HARBOUR;
use etude::import::xkb::read_keymap;
use etude::import::{MOST_BYTES, ldml};
use std::fmt::Write;

fn refused(text: &[u8], fetch: &mut dyn FnMut(&str) -> Result<Vec<u8>, String>) -> String {
    let error = ldml::read(text, "k.xml", fetch).unwrap_err().to_string();
    assert!(!error.contains(char::is_control) && error.len() < 400, "{error:?}");
    error
}

fn no_file(_: &str) -> Result<Vec<u8>, String> {
    panic!("asked for a file that no one may ask for")
}

#[test]
fn entity_bombs_are_refused() {
    let mut text = "<!DOCTYPE keyboard3 [\n<!ENTITY a0 \"ha\">\n".to_owned();
    for n in 1..12 {
        let one = format!("&a{};", n - 1);
        let _ = writeln!(text, "<!ENTITY a{n} \"{}\">", one.repeat(10));
    }
    text.push_str("]>\n<keyboard3 locale=\"&a11;\" conformsTo=\"45\"/>\n");
    assert!(refused(text.as_bytes(), &mut no_file).contains("without end"));
    let ring = "<!DOCTYPE k [<!ENTITY a \"&b;\"><!ENTITY b \"&a;\">]><keyboard3>&a;</keyboard3>";
    assert!(refused(ring.as_bytes(), &mut no_file).contains("without end"));
}

#[test]
fn external_entities_are_never_fetched() {
    let text = "<!DOCTYPE k [<!ENTITY x SYSTEM \"file:///etc/passwd\">]>\n\
                <keyboard3 locale=\"&x;\" conformsTo=\"45\"/>";
    let told = refused(text.as_bytes(), &mut no_file);
    assert!(!told.contains("root:"), "{told}");
}

#[test]
fn imports_stay_in_their_folder_and_never_go_in_a_ring() {
    for path in ["/etc/passwd", "../x.xml", "a/../../x.xml", "C:\\x.xml", "http://x/y.xml", ""] {
        let text = HARBOUR.replace("<keys>", &format!("<keys><import path=\"{path}\"/>"));
        let told = refused(text.as_bytes(), &mut no_file);
        assert!(told.contains("within the folder"), "{path}: {told}");
    }
    let text = HARBOUR.replace("<keys>", "<keys><import path=\"a.xml\"/>");
    let mut ring = |path: &str| {
        let next = if path == "a.xml" { "b.xml" } else { "a.xml" };
        Ok(format!("<keys><import path=\"{next}\"/></keys>").into_bytes())
    };
    assert!(refused(text.as_bytes(), &mut ring).contains("imports itself"));
    let mut count = 0;
    let mut endless = |_: &str| {
        count += 1;
        Ok(format!("<keys><import path=\"{count}.xml\"/></keys>").into_bytes())
    };
    assert!(refused(text.as_bytes(), &mut endless).contains("too many imports"));
    let mut wrong = |_: &str| Ok(b"<layers/>".to_vec());
    assert!(refused(text.as_bytes(), &mut wrong).contains("expected <keys>"));
    let mut gone = |_: &str| Err("there is no such file".to_owned());
    assert!(refused(text.as_bytes(), &mut gone).contains("there is no such file"));
}

#[test]
fn what_is_too_large_too_deep_or_no_text_is_refused() {
    let large = vec![b' '; MOST_BYTES + 1];
    assert!(refused(&large, &mut no_file).contains("expected at most"));
    let told = read_keymap(&large, "k.xkb").unwrap_err().to_string();
    assert!(told.contains("expected at most"), "{told}");
    let binary = b"<keyboard3>\n\xff\xfe";
    assert!(refused(binary, &mut no_file).contains("k.xml:2: not UTF-8"));
    let deep = "<a>".repeat(200_000);
    refused(deep.as_bytes(), &mut no_file);
    let wide = format!("<keyboard3 conformsTo=\"45\">{}</keyboard3>", "<a/>".repeat(250_000));
    assert!(refused(wide.as_bytes(), &mut no_file).contains("more elements"));
}

#[test]
fn keymaps_that_want_other_files_or_nest_too_deep_are_refused() {
    let told = |text: &str| {
        let error = read_keymap(text.as_bytes(), "k.xkb").unwrap_err().to_string();
        assert!(error.starts_with("k.xkb") && !error.contains("root:"), "{error}");
        error
    };
    for path in ["/etc/passwd", "pc", "../../x"] {
        let text = format!("xkb_keymap {{\n xkb_symbols {{ include \"{path}\" }};\n}};");
        let told = told(&text);
        assert!(told.contains("k.xkb:2: includes another file"), "{told}");
    }
    assert!(told("").contains("no XKB keymap"));
    assert!(told("this is no keymap").contains("no XKB keymap"));
    assert!(told("xkb_keymap {};").contains("no XKB keymap"));
    for open in ["(", "{", "[", "!", "~", "-"] {
        let text = format!("xkb_keymap {{ xkb_types {{ a = {} }}; }};", open.repeat(100_000));
        told(&text);
    }
}
