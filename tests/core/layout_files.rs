//! Layout files: what is written reads back, what is wrong is told.

use etude::keyboard::{Chord, ChordKey, Digit, Finger, Hand, Marker, Modifiers, NamedKey, Output};
use etude::layout::{
    Access, AccessKind, Action, Assignment, Cluster, Layer, LayerId, Layout, ShiftTable, Target,
    file, shipped, token,
};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn name() -> impl Strategy<Value = String> {
    "[a-zé#.=+-]{1,8}".prop_filter("names only", |name| token::is_name(name))
}

fn text() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[ -~]",
        1 => prop::char::any().prop_map(String::from),
        1 => prop::sample::select(vec![
            "'''", "\"", "\\", "/", "//", "..", "--", "a/Shift", "=>", "e\u{301}", "\u{a0}",
            "👩‍🚀", "\u{301}", "a b", "do:x", "hold:x", "Enter", "U+41", "#", "# x", "\u{feff}",
        ])
        .prop_map(String::from),
        1 => "\\PC{1,4}",
    ]
    .prop_filter("text only", |text| !text.is_empty() && !text.contains(char::is_control))
}

fn modifier() -> impl Strategy<Value = Modifiers> {
    prop::sample::select(Modifiers::WORDS.map(|(modifier, _)| modifier).to_vec())
}

fn chord() -> impl Strategy<Value = Chord> {
    let keys = prop_oneof![
        prop::char::range('!', '~').prop_map(|c| ChordKey::Char(c.to_ascii_lowercase())),
        prop::sample::select(vec![' ', 'ß', 'é', '\u{a0}', '\'']).prop_map(ChordKey::Char),
        plain_key().prop_map(ChordKey::Named),
    ];
    (1_u8..16, keys)
        .prop_map(|(bits, key)| Chord { modifiers: Modifiers::from_bits_truncate(bits), key })
}

fn plain_key() -> impl Strategy<Value = NamedKey> {
    let keys = NamedKey::ALL.iter().copied().filter(|key| Modifiers::of_key(*key).is_none());
    prop::sample::select(keys.collect::<Vec<_>>())
}

fn output() -> impl Strategy<Value = Output> {
    prop_oneof![
        3 => text().prop_map(Output::Text),
        1 => plain_key().prop_map(Output::Key),
        1 => chord().prop_map(Output::Chord),
    ]
}

fn access(layers: usize, kind: AccessKind) -> impl Strategy<Value = Access> {
    prop_oneof![
        (0..layers as u8).prop_map(|id| Target::Layer(LayerId(id))),
        modifier().prop_map(Target::Modifier),
    ]
    .prop_map(move |target| Access { kind, target })
}

fn assignment(layers: usize, actions: Vec<String>, base: bool) -> BoxedStrategy<Assignment> {
    let does = if actions.is_empty() {
        Just(Assignment::Nothing).boxed()
    } else {
        prop::sample::select(actions).prop_map(Assignment::Does).boxed()
    };
    let beneath = if base { Assignment::Nothing } else { Assignment::FallThrough };
    let tap = prop_oneof![output().prop_map(Assignment::Gives), does.clone()]
        .prop_filter("a tap gives something", |tap| *tap != Assignment::Nothing);
    let kinds = vec![AccessKind::Hold, AccessKind::Latch, AccessKind::Lock];
    prop_oneof![
        4 => output().prop_map(Assignment::Gives),
        1 => does,
        2 => Just(beneath),
        1 => Just(Assignment::Nothing),
        2 => prop::sample::select(kinds)
            .prop_flat_map(move |kind| access(layers, kind))
            .prop_map(Assignment::Access),
        2 => (tap, access(layers, AccessKind::Hold))
            .prop_map(|(tap, hold)| Assignment::Dual { tap: Box::new(tap), hold }),
    ]
    .boxed()
}

fn finger() -> impl Strategy<Value = Finger> {
    (any::<bool>(), prop::sample::select(Digit::ALL.to_vec()))
        .prop_map(|(left, digit)| Finger::new(if left { Hand::Left } else { Hand::Right }, digit))
}

fn marker() -> impl Strategy<Value = Option<Marker>> {
    prop::option::of(prop::sample::select(Marker::all().collect::<Vec<_>>()))
}

fn layout() -> impl Strategy<Value = Layout> {
    let boards: Vec<&str> = shipped::board_names().collect();
    let heads = prop::collection::btree_map(name(), 0..Cluster::ALL.len(), 1..4);
    let actions = prop::collection::btree_map(name(), (chord(), "\\PC{0,12}"), 0..3);
    (prop::sample::select(boards), heads, actions).prop_flat_map(|(board, heads, actions)| {
        let board = shipped::board(board).unwrap();
        let keys = board.sites.len();
        let action_names: Vec<String> = actions.keys().cloned().collect();
        let count = heads.len();
        let sheets: Vec<_> = (0..count)
            .map(|n| {
                let one = assignment(count, action_names.clone(), n == 0);
                prop::collection::vec(one, keys)
            })
            .collect();
        let printable = || prop::char::any().prop_filter("printable", |c| !c.is_control());
        let places = (0..count as u8, 0..keys);
        (
            sheets,
            prop::collection::btree_map(0..keys, finger(), 0..4),
            prop::collection::btree_map(output(), places, 0..4),
            (any::<bool>(), prop::collection::btree_map(printable(), printable(), 0..4)),
            (name(), "\\PC{0,20}", prop::option::of(name()), marker()),
            prop::collection::vec("( ?[!-~][ -~]{0,20}[!-~]|)", 0..4),
        )
            .prop_map(move |(sheets, fingers, prefer, shift, names, reasons)| {
                let mut board = board.clone();
                let fingers: BTreeMap<_, _> = fingers
                    .into_iter()
                    .map(|(index, finger)| {
                        board.sites[index].finger = finger;
                        (board.sites[index].position, finger)
                    })
                    .collect();
                let marker = names.3;
                let layers = heads.iter().zip(sheets).enumerate().map(|(n, (head, keys))| Layer {
                    name: head.0.clone(),
                    cluster: Cluster::ALL[*head.1],
                    sign: ["B", "海", "#2", "'"][n].to_owned(),
                    marker: marker.filter(|_| n > 0),
                    keys,
                });
                let places = prefer.into_iter().map(|(output, (layer, index))| {
                    (output, (LayerId(layer), board.sites[index].position))
                });
                Layout {
                    reasons,
                    name: names.0,
                    title: names.1,
                    fingers,
                    old_way: names.2,
                    shift: ShiftTable { us: shift.0, pairs: shift.1 },
                    actions: actions
                        .iter()
                        .map(|(name, (chord, title))| {
                            (name.clone(), Action { chord: *chord, title: title.clone() })
                        })
                        .collect(),
                    prefer: places.collect(),
                    layers: layers.collect(),
                    board,
                }
            })
    })
}

/// A shipped layout with a piece of it cut out, doubled or replaced.
fn damaged() -> impl Strategy<Value = String> {
    let names: Vec<&str> = shipped::names().collect();
    (prop::sample::select(names), any::<prop::sample::Index>(), 0_usize..12, text()).prop_map(
        |(name, at, length, new)| {
            let text: Vec<char> = shipped::text(name).unwrap().chars().collect();
            let start = at.index(text.len());
            let end = (start + length).min(text.len());
            text[..start]
                .iter()
                .copied()
                .chain(new.chars())
                .chain(text[end..].iter().copied())
                .collect()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn what_is_written_reads_back(layout in layout()) {
        let written = file::write(&layout);
        let reading = file::read(&written, "written.toml")
            .map_err(|error| TestCaseError::fail(format!("{error}\n{written}")))?;
        prop_assert_eq!(&reading.layout, &layout);
        prop_assert_eq!(reading.warnings, []);
        prop_assert_eq!(file::write(&reading.layout), written);
    }

    #[test]
    fn no_text_upsets_the_reader(text in "\\PC{0,200}|(name|board|keys|\\[layer\\]|[=\n'\"\\[\\]{}]){0,40}") {
        let _ = file::read(&text, "any.toml");
    }

    #[test]
    fn damaged_files_are_read_or_refused_with_a_line(text in damaged()) {
        match file::read(&text, "damaged.toml") {
            Ok(reading) => {
                let again = file::read(&file::write(&reading.layout), "again.toml").unwrap();
                prop_assert_eq!(again.layout, reading.layout);
            }
            Err(error) => {
                let told = error.to_string();
                let rest = told.strip_prefix("damaged.toml:").expect("names the file");
                let line: usize = rest.split(':').next().unwrap().parse().expect("names the line");
                prop_assert!(line >= 1 && line <= text.lines().count() + 1);
                prop_assert!(!told.contains('\n'), "{}", told);
            }
        }
    }

    #[test]
    fn no_token_upsets_the_reader(word in "\\PC{0,12}|(hold:|latch:|lock:|do:|U\\+|\"|/|Shift|a|\\+|\\\\u\\{){0,6}") {
        let layers = ["a".to_owned()];
        let names = token::Names { layers: &layers, actions: &layers };
        if let Ok(assignment) = token::read(&word, names) {
            let written = token::write(&assignment, &layers);
            prop_assert_eq!(token::read(&written, names), Ok(assignment));
        }
    }
}

/// A right file, so that each case below breaks just one thing.
const RIGHT: &str = r#"# A small layout for the tests.

name = "gauge"
title = "Gauge room"
board = "ortho-4x12"

[shift]
table = "us"
pairs = { "2" = "\"" }

[fingers]
C05 = "L3"

[actions.copy]
chord = "Ctrl+C"
title = "copy"

[prefer]
"(" = "symbols C01"

[[layer]]
name = "base"
cluster = "base"
keys = '''
Tab q w e r t y u i o p Delete
Control a s d f g h j k l ; '
Shift z x c v b n m , . / Shift
-- -- -- -- -- Space Space/hold:symbols Enter -- -- do:copy --
'''

[[layer]]
name = "symbols"
keys = '''
.. .. .. .. .. .. .. .. .. .. .. ..
.. ( .. .. .. .. .. .. .. .. .. ..
.. .. .. .. .. .. .. .. .. .. .. ..
.. .. .. .. .. .. .. .. .. .. .. ..
'''
"#;

#[test]
fn errors_name_place_token_and_nearest_word() {
    assert_eq!(file::read(RIGHT, "gauge.toml").unwrap().warnings, []);
    let row = ".. ( .. .. .. .. .. .. .. .. .. ..\n";
    let cases = [
        ("no TOML", "name = \"gauge\"", "name = gauge"),
        ("a mistyped key name", "Tab q", "Tabb q"),
        ("a mistyped layer", "hold:symbols", "hold:symbol"),
        ("a mistyped action", "do:copy", "do:coppy"),
        ("a mistyped modifier", "Control a", "Strg+A a"),
        ("a bad code point", "Control a", "U+D800 a"),
        ("a dual role with a latch", "Space/hold:symbols", "Space/latch:symbols"),
        ("a tap that is an access", "Space/hold:symbols", "Shift/hold:symbols"),
        ("nothing beneath the base", "Tab q", ".. q"),
        ("a token too few", "Tab q w", "q w"),
        ("a row too few", row, ""),
        ("an unknown board", "ortho-4x12", "ortho-4x13"),
        ("no board", "board = \"ortho-4x12\"\n", ""),
        ("a title that a terminal obeys", "\"Gauge room\"", "\"Gauge \\u001b[2J\""),
        ("an action that a terminal obeys", "title = \"copy\"", "title = \"co\\tpy\""),
        ("an old way that a terminal obeys", "[shift]", "old_way = \"a\\u0007\"\n[shift]"),
        ("a number for a title", "\"Gauge room\"", "7"),
        ("a layer twice", "name = \"symbols\"", "name = \"base\""),
        ("a layer named as a modifier", "name = \"symbols\"", "name = \"Shift\""),
        ("a bad cluster", "cluster = \"base\"", "cluster = \"bass\""),
        ("a sign too wide", "cluster = \"base\"", "sign = \"SYM\""),
        ("a sign twice", "cluster = \"base\"", "sign = \"S\""),
        ("a marker that types", "name = \"symbols\"", "name = \"symbols\"\nmarker = \"F12\""),
        ("a marker on the base", "cluster = \"base\"", "marker = \"F13\""),
        ("a marker that is no text", "name = \"symbols\"", "name = \"symbols\"\nmarker = 13"),
        ("a finger elsewhere", "C05 = \"L3\"", "C25 = \"L3\""),
        ("no finger", "C05 = \"L3\"", "C05 = \"L9\""),
        ("a bad chord", "\"Ctrl+C\"", "\"Crtl+C\""),
        ("a bad shift table", "\"us\"", "\"uk\""),
        ("a bad pair", "\"\\\"\"", "\"xy\""),
        ("a pin to no layer", "symbols C01", "symbol C01"),
        ("a pin to no position", "symbols C01", "symbols F01"),
        ("a pin for nothing", "\"(\" =", "\"Entr\" ="),
        ("keys that are no text", "keys = '''\n..", "keys = 7\nx = '''\n.."),
    ];
    let told: Vec<String> = cases
        .iter()
        .map(|(title, from, to)| {
            assert!(RIGHT.contains(from), "{title}");
            let error = file::read(&RIGHT.replacen(from, to, 1), "gauge.toml").unwrap_err();
            format!("{title}\n  {error}")
        })
        .collect();
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn unknown_keys_are_warned_of_and_left_out() {
    let text = RIGHT
        .replace("title = \"Gauge room\"", "titel = \"Gauge room\"\nold-way = \"plain-ansi\"")
        .replace("cluster = \"base\"", "klaster = \"base\"")
        .replace("chord = \"Ctrl+C\"", "chord = \"Ctrl+C\"\nkey = 3");
    let reading = file::read(&text, "gauge.toml").unwrap();
    assert_eq!(reading.layout.title, "gauge");
    let told: Vec<String> = reading.warnings.iter().map(ToString::to_string).collect();
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn more_layers_than_64_are_refused() {
    let mut text = RIGHT.to_owned();
    let start = RIGHT.rfind("[[layer]]").unwrap();
    for number in 0..63 {
        let sign = format!("sign = \"{number}\"\nkeys");
        let layer = RIGHT[start..].replace("symbols", &format!("l{number}")).replace("keys", &sign);
        text.push_str(&layer);
    }
    let error = file::read(&text, "gauge.toml").unwrap_err();
    assert!(error.to_string().contains("65 layers: expected at most 64"), "{error}");
    let one_less = &text[..text.rfind("[[layer]]").unwrap()];
    assert_eq!(file::read(one_less, "gauge.toml").unwrap().layout.layers.len(), 64);
}

#[test]
fn carriage_returns_and_indents_change_nothing() {
    let expected = file::read(RIGHT, "gauge.toml").unwrap().layout;
    for text in [RIGHT.replace('\n', "\r\n"), RIGHT.replace("\n..", "\n   ..\t ")] {
        let text = text.replace("..\t  ", "..\t");
        assert_eq!(file::read(&text, "gauge.toml").unwrap().layout, expected);
    }
}

/// The docs' reference is what the reader of files says.
#[test]
fn the_reference_in_the_docs_is_the_readers_own() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/layouts.md");
    let docs = std::fs::read_to_string(path).unwrap();
    let begin = "a test keeps it so. -->\n";
    let start = docs.find(begin).unwrap() + begin.len();
    let end = docs.find("<!-- End of the reference. -->").unwrap();
    let reference = file::reference();
    assert!(docs[start..end] == reference, "put this into docs/layouts.md:\n{reference}");
}

/// Every key of the reference is read: without it there is no warning, and a
/// misspelt one is told with the right one.
#[test]
fn every_key_of_the_reference_is_known_to_the_reader() {
    let text = file::write(&shipped::load("tern-split").unwrap());
    for key in ["name", "title", "board", "old_way", "chord", "cluster", "sign"] {
        assert!(file::reference().contains(&format!("| `{key}` |")), "{key}");
        assert!(text.contains(&format!("\n{key} = ")), "{key}");
    }
    assert_eq!(file::read(&text, "x").unwrap().warnings, []);
}
