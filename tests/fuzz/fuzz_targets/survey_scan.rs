//! Any bytes: counting never panics, and counts no more characters than bytes.
//!
//! `cargo fuzz run --fuzz-dir tests/fuzz --sanitizer none survey_scan`
#![no_main]

use etude::survey::{Counts, Scanned, Scanner};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|texts: Vec<Vec<u8>>| {
    let mut scanner = Scanner::default();
    let mut one_by_one = Counts::default();
    for text in &texts {
        let told = scanner.scan(text);
        let readable = !text.contains(&0) && std::str::from_utf8(text).is_ok();
        assert_eq!(readable, matches!(told, Scanned::Text { .. }));
        let mut alone = Scanner::default();
        alone.scan(text);
        one_by_one.add(&alone.counts());
    }
    let counts = scanner.counts();
    assert_eq!(counts, one_by_one);
    assert!(counts.total() <= texts.iter().map(|text| text.len() as u64).sum());
});
