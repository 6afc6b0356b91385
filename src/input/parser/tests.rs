use super::*;
use crate::session::KeyState::{self, Press, Release, Repeat};
use proptest::prelude::*;

const NONE: Modifiers = Modifiers::empty();
const CTRL: Modifiers = Modifiers::CTRL;
const ALT: Modifiers = Modifiers::ALT;
const SHIFT: Modifiers = Modifiers::SHIFT;
const META: Modifiers = Modifiers::META;

fn parse(pieces: &[&[u8]]) -> Vec<Parsed> {
    let (mut parser, mut out) = (Parser::new(), Vec::new());
    for piece in pieces {
        parser.feed(piece, &mut out);
    }
    parser.flush_pending(&mut out);
    assert_eq!(parser.patience(), None, "nothing is pending after a flush");
    out
}

/// Keys alone, and without the one-time remark about extended keys.
fn without_remark(items: Vec<Parsed>) -> Vec<Parsed> {
    items.into_iter().filter(|i| *i != Parsed::Reply(Reply::ExtendedKeys)).collect()
}

fn ch(c: char, modifiers: Modifiers) -> Parsed {
    key(Stroke { key: StrokeKey::Char(c), modifiers, text: None, base: None })
}

fn nk(name: NamedKey, modifiers: Modifiers) -> Parsed {
    key(Stroke::named(name, modifiers))
}

fn key(stroke: Stroke) -> Parsed {
    stated(stroke, Press)
}

fn stated(stroke: Stroke, state: KeyState) -> Parsed {
    Parsed::Key(KeyEvent { stroke, state, batched: false })
}

fn level5(state: KeyState) -> Parsed {
    let key = StrokeKey::Level5Shift;
    stated(Stroke { key, modifiers: NONE, text: None, base: None }, state)
}

fn full(c: char, modifiers: Modifiers, text: Option<&str>, base: Option<char>) -> Stroke {
    Stroke { key: StrokeKey::Char(c), modifiers, text: text.map(str::to_owned), base }
}

fn table() -> Vec<(&'static [u8], Vec<Parsed>)> {
    use NamedKey::*;
    vec![
        // Plain characters and control characters.
        (b"a", vec![ch('a', NONE)]),
        (b"A{ ", vec![ch('A', NONE), ch('{', NONE), ch(' ', NONE)]),
        ("ß€😀".as_bytes(), vec![ch('ß', NONE), ch('€', NONE), ch('😀', NONE)]),
        (b"\r", vec![nk(Enter, NONE)]),
        (b"\n", vec![nk(Enter, NONE)]),
        (b"\t", vec![nk(Tab, NONE)]),
        (b"\x7f\x08", vec![nk(Backspace, NONE), nk(Backspace, NONE)]),
        (b"\x00\x01\x1a", vec![ch(' ', CTRL), ch('a', CTRL), ch('z', CTRL)]),
        (b"\x1c\x1d\x1e\x1f", vec![ch('\\', CTRL), ch(']', CTRL), ch('^', CTRL), ch('_', CTRL)]),
        // Escape alone, twice, with company.
        (b"\x1b", vec![nk(Escape, NONE)]),
        (b"\x1b\x1b\x1b", vec![nk(Escape, NONE), nk(Escape, NONE), nk(Escape, NONE)]),
        (b"\x1b\x1b[A", vec![nk(Escape, NONE), nk(ArrowUp, NONE)]),
        (b"\x1bx", vec![ch('x', ALT)]),
        (b"\x1b\x18", vec![ch('x', CTRL | ALT)]),
        (b"\x1b\r", vec![nk(Enter, ALT)]),
        (b"\x1b\x7f", vec![nk(Backspace, ALT)]),
        ("\x1bß".as_bytes(), vec![ch('ß', ALT)]),
        (b"\x1b[", vec![ch('[', ALT)]),
        (b"\x1bO", vec![ch('O', ALT)]),
        (b"\x1b]", vec![ch(']', ALT)]),
        (b"\x1bP", vec![ch('P', ALT)]),
        (b"\x1b^\x1b_\x1bX", vec![ch('^', ALT), ch('_', ALT), ch('X', ALT)]),
        (b"\x1b[\rx", vec![ch('[', ALT), nk(Enter, NONE), ch('x', NONE)]),
        (b"\x1bO\x1b[A", vec![ch('O', ALT), nk(ArrowUp, NONE)]),
        // Legacy functional keys.
        (b"\x1b[A\x1b[B", vec![nk(ArrowUp, NONE), nk(ArrowDown, NONE)]),
        (b"\x1bOC\x1bOD", vec![nk(ArrowRight, NONE), nk(ArrowLeft, NONE)]),
        (b"\x1b[H\x1bOF", vec![nk(Home, NONE), nk(End, NONE)]),
        (b"\x1b[1;5D", vec![nk(ArrowLeft, CTRL)]),
        (b"\x1b[1;6C", vec![nk(ArrowRight, CTRL | SHIFT)]),
        (b"\x1b[1;2R", vec![nk(F3, SHIFT)]),
        (b"\x1b[5;7R", vec![]),
        (b"\x1bOP\x1bOS", vec![nk(F1, NONE), nk(F4, NONE)]),
        (b"\x1bO5Q", vec![nk(F2, CTRL)]),
        (b"\x1bO1;3Q", vec![nk(F2, ALT)]),
        (
            b"\x1bOM\x1bOj\x1bOp\x1bOy",
            vec![nk(Enter, NONE), ch('*', NONE), ch('0', NONE), ch('9', NONE)],
        ),
        (b"\x1bOa", vec![nk(ArrowUp, CTRL)]),
        (b"\x1b[Z", vec![nk(Tab, SHIFT)]),
        (b"\x1b[1;5Z", vec![nk(Tab, SHIFT | CTRL)]),
        (b"\x1b[3~\x1b[3;5~", vec![nk(Delete, NONE), nk(Delete, CTRL)]),
        (b"\x1b[5~\x1b[6;2~", vec![nk(PageUp, NONE), nk(PageDown, SHIFT)]),
        (b"\x1b[2~\x1b[7~\x1b[8~", vec![nk(Insert, NONE), nk(Home, NONE), nk(End, NONE)]),
        (b"\x1b[11~\x1b[15~", vec![nk(F1, NONE), nk(F5, NONE)]),
        (b"\x1b[17~\x1b[21~", vec![nk(F6, NONE), nk(F10, NONE)]),
        (b"\x1b[24~\x1b[25~", vec![nk(F12, NONE), nk(F13, NONE)]),
        (b"\x1b[26~\x1b[28~", vec![nk(F14, NONE), nk(F15, NONE)]),
        (b"\x1b[29~\x1b[31~", vec![nk(F16, NONE), nk(F17, NONE)]),
        (b"\x1b[34~", vec![nk(F20, NONE)]),
        (b"\x1b[[A\x1b[[E", vec![nk(F1, NONE), nk(F5, NONE)]),
        (b"\x1b[a\x1b[3$", vec![nk(ArrowUp, SHIFT), nk(Delete, SHIFT)]),
        (b"\x1b[3^\x1b[5@", vec![nk(Delete, CTRL), nk(PageUp, CTRL | SHIFT)]),
        // The open protocol.
        (b"\x1b[97u", vec![ch('a', NONE)]),
        (b"\x1b[97;1;97u", vec![key(full('a', NONE, Some("a"), None))]),
        (b"\x1b[97:65;2;65u", vec![key(full('a', SHIFT, Some("A"), None))]),
        (b"\x1b[49:33;2u", vec![key(full('1', SHIFT, Some("!"), None))]),
        (b"\x1b[59::122;1;59u", vec![key(full(';', NONE, Some(";"), Some('z')))]),
        (b"\x1b[1089:1057:99;6u", vec![key(full('с', CTRL | SHIFT, None, Some('c')))]),
        (b"\x1b[97;5;97u", vec![ch('a', CTRL)]),
        (b"\x1b[97;133u", vec![ch('a', CTRL)]),
        (b"\x1b[97;9u\x1b[97;17u\x1b[97;33u", vec![ch('a', META), ch('a', META), ch('a', META)]),
        (b"\x1b[97;1:2;97u", vec![stated(full('a', NONE, Some("a"), None), Repeat)]),
        (b"\x1b[97;1:3u", vec![stated(full('a', NONE, None, None), Release)]),
        (b"\x1b[97:65;2:3u", vec![stated(full('a', SHIFT, None, None), Release)]),
        (b"\x1b[1;1:3A", vec![stated(Stroke::named(ArrowUp, NONE), Release)]),
        (b"\x1b[3;5:2~", vec![stated(Stroke::named(Delete, CTRL), Repeat)]),
        (b"\x1b[0;1;233u", vec![key(full('é', NONE, Some("é"), None))]),
        (b"\x1b[101;1;101:769u", vec![key(full('e', NONE, Some("e\u{301}"), None))]),
        (b"\x1b[97;1;7u", vec![ch('a', NONE)]),
        (
            b"\x1b[13u\x1b[9u\x1b[27u\x1b[127u",
            vec![nk(Enter, NONE), nk(Tab, NONE), nk(Escape, NONE), nk(Backspace, NONE)],
        ),
        (b"\x1b[105;5u\x1b[109;5u\x1b[91;5u", vec![ch('i', CTRL), ch('m', CTRL), ch('[', CTRL)]),
        (b"\x1b[57376u\x1b[57387u\x1b[57388u", vec![nk(F13, NONE), nk(F24, NONE)]),
        (b"\x1b[57400;1;49u", vec![key(full('1', NONE, Some("1"), None))]),
        (
            b"\x1b[57414u\x1b[57417u\x1b[57424u",
            vec![nk(Enter, NONE), nk(ArrowLeft, NONE), nk(End, NONE)],
        ),
        (b"\x1b[57441;2u\x1b[57448;5u", vec![nk(Shift, NONE), nk(Control, NONE)]),
        (b"\x1b[57443;3:3u", vec![stated(Stroke::named(Alt, NONE), Release)]),
        (b"\x1b[57441;6u", vec![nk(Shift, CTRL)]),
        (
            b"\x1b[57444;9u\x1b[57453u\x1b[57454u",
            vec![nk(Meta, NONE), nk(AltGraph, NONE), level5(Press)],
        ),
        (b"\x1b[57454;1:3u", vec![level5(Release)]),
        (
            b"\x1b[57376u\x1b[57387;1:3u",
            vec![nk(F13, NONE), stated(Stroke::named(F24, NONE), Release)],
        ),
        (
            b"\x1b[57358u\x1b[57363u\x1b[57439u",
            vec![nk(CapsLock, NONE), nk(ContextMenu, NONE), nk(AudioVolumeUp, NONE)],
        ),
        (b"\x1b[57427uq", vec![ch('q', NONE)]),
        (b"\x1b[u\x1b[;5u\x1b[99999999u\x1b[55296u", vec![]),
        // modifyOtherKeys.
        (b"\x1b[27;5;105~", vec![ch('i', CTRL)]),
        (b"\x1b[27;6;86~", vec![ch('V', CTRL | SHIFT)]),
        (b"\x1b[27;5;13~\x1b[27;5;9~", vec![nk(Enter, CTRL), nk(Tab, CTRL)]),
        (b"\x1b[27;2;32~", vec![key(full(' ', SHIFT, Some(" "), None))]),
        (b"\x1b[27;5~", vec![]),
        // Focus, replies, mouse, the unknown.
        (b"\x1b[I\x1b[O", vec![Parsed::FocusIn, Parsed::FocusOut]),
        (
            b"\x1b[?31u\x1b[?0u",
            vec![Parsed::Reply(Reply::Flags(31)), Parsed::Reply(Reply::Flags(0))],
        ),
        (b"\x1b[?64;1;2;22c", vec![Parsed::Reply(Reply::Attributes)]),
        (b"\x1b[>1;4000;29cx", vec![ch('x', NONE)]),
        (
            b"\x1b]11;rgb:ffff/8000/0000\x1b\\",
            vec![Parsed::Reply(Reply::Background([0xffff, 0x8000, 0]))],
        ),
        (
            b"\x1b]11;rgb:1e/1e/2e\x07",
            vec![Parsed::Reply(Reply::Background([0x1e1e, 0x1e1e, 0x2e2e]))],
        ),
        (
            b"\x1b]11;rgba:f/f/f/f\x07y",
            vec![Parsed::Reply(Reply::Background([0xffff; 3])), ch('y', NONE)],
        ),
        (b"\x1b]11;rgb:zz/1/1\x07\x1b]4;1;rgb:1/1/1\x07z", vec![ch('z', NONE)]),
        (b"\x1bP>|term 1.2\x1b\\x", vec![ch('x', NONE)]),
        (b"\x1b]8;;a\x1b[A", vec![nk(ArrowUp, NONE)]),
        (b"\x1b]8;;a\rb", vec![nk(Enter, NONE), ch('b', NONE)]),
        (b"\x1b[<0;10;20M\x1b[<0;10;20mq", vec![ch('q', NONE)]),
        (b"\x1b[M !!q", vec![ch('q', NONE)]),
        (b"\x1b[?2026;2$yq", vec![ch('q', NONE)]),
        (b"\x1b[4;1$yq", vec![ch('q', NONE)]),
        (b"\x1b[99~\x1b[1;2y\x1bOz\x1b[8;24;80tq", vec![ch('q', NONE)]),
        (b"\x1b[1;\x1b[A", vec![nk(ArrowUp, NONE)]),
        (b"\x1b[1;\tq", vec![nk(Tab, NONE), ch('q', NONE)]),
        // Bytes that are no character.
        (b"\xff\xc3(", vec![ch('\u{fffd}', NONE), ch('\u{fffd}', NONE), ch('(', NONE)]),
        (b"\xc3", vec![ch('\u{fffd}', NONE)]),
        (b"\xe0\x80", vec![ch('\u{fffd}', NONE), ch('\u{fffd}', NONE)]),
        (b"\xe2\x82\x1b[A", vec![ch('\u{fffd}', NONE), nk(ArrowUp, NONE)]),
        (b"\xc2\x9b", vec![ch('\u{fffd}', NONE)]),
        (b"\x1b\xc3", vec![ch('\u{fffd}', ALT)]),
        // Pastes.
        (b"\x1b[200~tide\r\n\x1b[201~x", vec![Parsed::Paste(6), ch('x', NONE)]),
        (b"\x1b[200~\x1b[201~", vec![Parsed::Paste(0)]),
        ("\x1b[200~Ölß\x1b[20\x1b\x1b[201~".as_bytes(), vec![Parsed::Paste(8)]),
        (b"\x1b[200~ab\x1b[2", vec![Parsed::Paste(5)]),
        (b"\x1b[201~q", vec![ch('q', NONE)]),
    ]
}

#[test]
fn each_sequence_means_what_it_should() {
    for (bytes, expected) in table() {
        assert_eq!(
            without_remark(parse(&[bytes])),
            expected,
            "{:?}",
            bytes.escape_ascii().to_string()
        );
    }
}

#[test]
fn where_a_sequence_is_cut_makes_no_difference() {
    for (bytes, _) in table() {
        let whole = parse(&[bytes]);
        for first in 0..=bytes.len() {
            for second in first..=bytes.len() {
                let pieces = [&bytes[..first], &bytes[first..second], &bytes[second..]];
                let shown = bytes.escape_ascii().to_string();
                assert_eq!(parse(&pieces), whole, "{shown} cut at {first} and {second}");
            }
        }
    }
}

#[test]
fn the_first_extended_key_is_remarked_once() {
    let items = parse(&[b"a\x1b[98u\x1b[99u\x1b[27;5;105~"]);
    let remarks: Vec<usize> =
        (0..items.len()).filter(|&i| items[i] == Parsed::Reply(Reply::ExtendedKeys)).collect();
    assert_eq!(remarks, [2]);
    assert!(!parse(&[b"\x1b[1;5A"]).contains(&Parsed::Reply(Reply::ExtendedKeys)));
}

#[test]
fn what_began_earlier_is_told() {
    let mut out = Vec::new();
    let mut parser = Parser::new();
    assert!(!parser.feed(b"a\x1b", &mut out));
    assert!(parser.feed(b"\x1b", &mut out), "the first Escape came before");
    assert!(parser.feed(b"[A", &mut out));
    assert!(!parser.feed(b"b", &mut out));
    assert!(!parser.feed(b"\x1b[99", &mut out));
    assert!(!parser.feed(b"yq", &mut out), "what came before was swallowed");
    assert!(!parser.feed(b"\xc3", &mut out));
    assert!(parser.feed(b"\x9fq", &mut out));
}

#[test]
fn patience_is_short_only_for_what_may_be_a_key() {
    for (bytes, patience) in [
        (&b"a"[..], None),
        (b"\x1b", Some(KEY_PATIENCE)),
        (b"\x1b[", Some(KEY_PATIENCE)),
        (b"\x1bO", Some(KEY_PATIENCE)),
        (b"\x1b]", Some(KEY_PATIENCE)),
        (b"\xe2\x82", Some(KEY_PATIENCE)),
        (b"\x1b[1", Some(SEQUENCE_PATIENCE)),
        (b"\x1b]11;", Some(SEQUENCE_PATIENCE)),
        (b"\x1b[200~a", Some(PASTE_PATIENCE)),
    ] {
        let mut parser = Parser::new();
        parser.feed(bytes, &mut Vec::new());
        assert_eq!(parser.patience(), patience, "{:?}", bytes.escape_ascii().to_string());
    }
}

#[test]
fn memory_and_counts_are_bounded() {
    let mut parser = Parser::new();
    let mut out = Vec::new();
    parser.feed(b"\x1b[", &mut out);
    parser.feed(&vec![b'1'; 1_000_000], &mut out);
    assert!(parser.buffer.capacity() <= 4 * SEQUENCE_CAP);
    parser.feed(b"~q", &mut out);
    assert_eq!(out, [ch('q', NONE)]);
    out.clear();
    parser.feed(b"\x1b]11;", &mut out);
    parser.feed(&vec![b'1'; 1_000_000], &mut out);
    assert!(parser.buffer.capacity() <= 4 * SEQUENCE_CAP);
    parser.feed(b"\x07\x1b[200~", &mut out);
    parser.feed(&vec![b'x'; 1_000_000], &mut out);
    parser.feed(b"\x1b[201~", &mut out);
    assert_eq!(out, [Parsed::Paste(PASTE_CAP)]);
}

#[test]
fn grounds_are_told_apart() {
    assert!(Reply::is_light([0xffff; 3]));
    assert!(Reply::is_light([0xfdfd, 0xf6f6, 0xe3e3]));
    assert!(!Reply::is_light([0; 3]));
    assert!(!Reply::is_light([0x1e1e, 0x1e1e, 0x2e2e]));
}

/// Bytes that look like what terminals send more often than chance would.
fn likely_bytes() -> impl Strategy<Value = Vec<u8>> {
    let piece = prop_oneof![
        any::<u8>().prop_map(|b| vec![b]),
        prop::sample::select(vec![
            &b"\x1b"[..],
            b"\x1b[",
            b"\x1bO",
            b"\x1b]",
            b"\x1bP",
            b"\x1b\\",
            b"\x07",
            b";",
            b":",
            b"1",
            b"27",
            b"57441",
            b"u",
            b"~",
            b"\x1b[200~",
            b"\x1b[201~",
            b"\x1b[M",
            b"\x1b[[",
            b"$",
            b"?",
            b"\xc3",
            b"\x9f",
            b"\xf0\x9f",
        ])
        .prop_map(<[u8]>::to_vec),
    ];
    prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_bytes_eat_the_key_after_them(bytes in likely_bytes()) {
        let (mut parser, mut out) = (Parser::new(), Vec::new());
        parser.feed(&bytes, &mut out);
        parser.flush_pending(&mut out);
        prop_assert_eq!(parser.patience(), None);
        out.clear();
        parser.feed(b"q", &mut out);
        prop_assert_eq!(out, vec![ch('q', NONE)]);
    }

    #[test]
    fn cuts_make_no_difference_to_any_bytes(bytes in likely_bytes(), cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..6)) {
        let mut places: Vec<usize> = cuts.iter().map(|c| c.index(bytes.len() + 1)).collect();
        places.extend([0, bytes.len()]);
        places.sort_unstable();
        let pieces: Vec<&[u8]> = places.windows(2).map(|w| &bytes[w[0]..w[1]]).collect();
        prop_assert_eq!(parse(&pieces), parse(&[&bytes]));
    }

    #[test]
    fn text_arrives_as_it_was_typed(text in "[^\\p{Cc}]{0,30}") {
        let typed: String = parse(&[text.as_bytes()])
            .into_iter()
            .map(|item| match item {
                Parsed::Key(KeyEvent { stroke: Stroke { key: StrokeKey::Char(c), .. }, .. }) => c,
                other => panic!("{other:?}"),
            })
            .collect();
        prop_assert_eq!(typed, text);
    }
}
