//! Any bytes, cut anywhere: the parser never panics, cuts make no difference,
//! and no bytes eat the key after them.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none key_parser`
#![no_main]

use etude::input::{Parsed, Parser};
use etude::session::StrokeKey;
use libfuzzer_sys::fuzz_target;

fn parse(pieces: &[&[u8]]) -> Vec<Parsed> {
    let (mut parser, mut items) = (Parser::new(), Vec::new());
    for piece in pieces {
        parser.feed(piece, &mut items);
    }
    parser.flush_pending(&mut items);
    assert_eq!(parser.patience(), None);
    let whole = items.len();
    parser.feed(b"q", &mut items);
    assert_eq!(items.len(), whole + 1);
    let Some(Parsed::Key(key)) = items.pop() else { panic!("the key was eaten") };
    assert_eq!(key.stroke.key, StrokeKey::Char('q'));
    items
}

fuzz_target!(|input: (u16, Vec<u8>)| {
    let (cut, bytes) = input;
    let cut = usize::from(cut) % (bytes.len() + 1);
    let (head, tail) = bytes.split_at(cut);
    assert_eq!(parse(&[head, tail]), parse(&[&bytes]));
});
