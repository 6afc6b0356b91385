//! LDML Keyboard 3.0, against expectations worked out by hand from UTS #35
//! part 7.

use super::{laid, route};
use etude::import::{ImportError, ldml};

/// A small keyboard of Tern Point: a level under the right Alt key, one dead
/// key by markers, one by a mapped set.
pub const HARBOUR: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<keyboard3 xmlns="https://schemas.unicode.org/cldr/45/keyboard3" locale="en" conformsTo="45">
  <info name="Tern Point" author="harbour office"/>
  <keys>
    <import base="cldr" path="45/keys-Zyyy-punctuation.xml"/>
    <key id="acute" output="\m{acute}"/>
    <key id="ring" output="\m{ring}"/>
    <key id="wave" output="${wave}" longPressKeyIds="a b"/>
    <key id="e-acute" output="\u{65 301}"/>
    <key id="ij" output="ij"/>
    <key id="stop" gap="true"/>
  </keys>
  <variables>
    <string id="wave" value="\u{223F}"/>
    <set id="plain" value="a u A"/>
    <set id="ringed" value="å ů Å"/>
  </variables>
  <layers formId="us">
    <layer modifiers="none">
      <row keys="grave 1 2 3 4 5 6 7 8 9 0 hyphen equal"/>
      <row keys="q w e r t y u i o p acute ring backslash"/>
      <row keys="a s d f g h j k l semi-colon apos"/>
      <row keys="z x c v b n m comma period slash"/>
      <row keys="space"/>
    </layer>
    <layer modifiers="shift, caps">
      <row keys="tilde bang at hash dollar percent caret amp asterisk open-paren close-paren underscore plus"/>
      <row keys="Q W E R T Y U I O P gap gap pipe"/>
      <row keys="A S D F G H J K L colon double-quote"/>
      <row keys="Z X C V B N M open-angle close-angle question"/>
    </layer>
    <layer modifiers="altR, ctrl alt">
      <row keys="gap gap gap gap gap gap gap gap gap gap gap gap gap"/>
      <row keys="stop stop e-acute ij wave"/>
    </layer>
    <layer modifiers="caps">
      <row keys="gap"/>
    </layer>
  </layers>
  <layers formId="touch"><layer id="base"><row keys="a b c"/></layer></layers>
  <transforms type="simple">
    <transformGroup>
      <transform from="\m{acute}e" to="é"/>
      <transform from="\m{acute}a" to="\u{E1}"/>
      <transform from="\m{acute} " to="´"/>
      <transform from="\m{ring}($[plain])" to="$[1:ringed]"/>
    </transformGroup>
    <transformGroup><reorder from="a" order="1"/></transformGroup>
  </transforms>
  <transforms type="backspace"><transformGroup><transform from="x" to=""/></transformGroup></transforms>
</keyboard3>
"#;

pub fn read(text: &str) -> Result<etude::import::Sheets, ImportError> {
    // Currency signs come from a file beside it.
    let text = text.replace("<keys>", "<keys><import path=\"more/currency.xml\"/>");
    ldml::read(text.as_bytes(), "harbour.xml", &mut |path| {
        assert_eq!(path, "more/currency.xml");
        Ok(b"<keys><key id=\"dollar\" output=\"$\"/></keys>".to_vec())
    })
}

#[test]
fn a_keyboard_worked_out_by_hand() {
    let sheets = read(HARBOUR).unwrap();
    let outcome = laid(&sheets, "full-ansi");
    for (c, keys) in [
        ('q', "D01"),
        ('Q', "B12+D01"),
        ('"', "B99+C11"),
        ('$', "B12+E04"),
        // Two ways: the latch is easier.
        ('é', "D11+D03"),
        ('∿', "A08+D05"),
        ('á', "D11+C01"),
        ('å', "D12+C01"),
        ('ů', "D12+D07"),
        ('´', "D11+A03"),
        ('\\', "D13"),
        ('|', "B99+D13"),
    ] {
        assert_eq!(route(&outcome, c), keys, "{c}");
    }
    let layout = &outcome.layout;
    assert_eq!((layout.name.as_str(), layout.title.as_str()), ("tern-point", "Tern Point"));
    let names: Vec<&str> = layout.layers.iter().map(|layer| layer.name.as_str()).collect();
    assert_eq!(names, ["base", "altR", "dead-acute", "dead-ring"]);
    assert_eq!(outcome.counts.dead_keys, 2);
    let told: Vec<&str> = outcome.left_out.iter().map(|left| left.why.as_str()).collect();
    for part in ["layer 'caps'", "touch screens", "reorderings", "Backspace", "long presses"] {
        assert!(told.iter().any(|why| why.contains(part)), "{part}: {told:?}");
    }
    assert!(told.iter().any(|why| why.contains("row 2 has 5 keys of 13")), "{told:?}");
}

#[test]
fn blanks_around_a_name_are_none_of_it() {
    // Reads back the same, which a comment with blanks at its end would not.
    for (name, title) in [(" Tern Point\t ", "Tern Point"), ("  ", "en")] {
        let text = HARBOUR.replace("name=\"Tern Point\"", &format!("name=\"{name}\""));
        assert_eq!(laid(&read(&text).unwrap(), "full-ansi").layout.title, title);
    }
}

#[test]
fn mistakes_name_file_layer_row_and_id() {
    for (wrong, right, told) in [
        ("formId=\"us\"", "formId=\"uk\"", "unknown form 'uk'"),
        ("conformsTo=\"45\"", "conformsTo=\"44\"", "harbour.xml:2: conformsTo=\"44\""),
        ("<keyboard3", "<keyboard", "no well-formed XML"),
        (
            " semi-colon apos",
            " semicolon apos",
            "row 3: unknown key 'semicolon'; did you mean 'semi-colon'?",
        ),
        (
            "k l semi-colon apos",
            "k l semi-colon apos a",
            "12 keys: expected at most 11 of form 'us'",
        ),
        ("value=\"\\u{223F}\"", "value=\"\\u{110000}\"", "key 'wave': bad escape"),
        ("${wave}", "${surf}", "unknown variable 'surf'"),
        ("altR, ctrl alt", "altr", "unknown modifier 'altr'; did you mean 'altR'?"),
        ("formId=\"touch\"", "formId=\"iso\"", "a second set of hardware layers"),
        ("formId=\"us\"", "formId=\"touch\"", "no hardware layers"),
        ("45/keys-Zyyy-punctuation.xml", "45/keys-Latn.xml", "known are keys-Zyyy-punctuation.xml"),
    ] {
        let text = HARBOUR.replace(wrong, right);
        assert_ne!(text, HARBOUR);
        let error = read(&text).unwrap_err().to_string();
        assert!(error.contains(told), "{told}: {error}");
        assert!(error.starts_with("harbour.xml:"), "{error}");
    }
    let older = "<keyboard locale=\"en\"/>";
    let error = ldml::read(older.as_bytes(), "old.xml", &mut |_| Ok(Vec::new())).unwrap_err();
    assert!(error.to_string().contains("older format"), "{error}");
}

#[test]
fn a_keyboard_without_letters_at_home_is_refused() {
    let text = HARBOUR.replace("a s d f g h j k l semi-colon apos", "gap gap gap");
    let sheets = read(&text).unwrap();
    let board = etude::layout::shipped::board("full-ansi").unwrap();
    let error = sheets.lay_on(&board).unwrap_err().to_string();
    assert!(error.contains("no character on the home row"), "{error}");
}
