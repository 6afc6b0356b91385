//! How fast texts are counted, bytes a second on one thread.
//!
//! `cargo bench --bench survey`. Beside it `wc -m` on a file of the same text
//! tells what the machine gives.

use divan::counter::BytesCount;
use divan::{Bencher, black_box};
use etude::survey::Scanner;

fn main() {
    divan::main();
}

const SIZE: usize = 8 << 20;

fn text(which: &str) -> String {
    let piece = match which {
        "code" => {
            "    let level = gauge.read(\"north pier\", 3)?; // metres\n    if level >= 1.9 { bell.ring(); }\n"
        }
        "prose" => "The lamp was lit at ten past six, and the fog lifted before the second bell.\n",
        "Cyrillic" => {
            "Маяк зажгли в десять минут седьмого, и туман рассеялся до второго колокола.\n"
        }
        "Greek" => {
            "Ο φάρος άναψε στις έξι και δέκα, και η ομίχλη διαλύθηκε πριν από την καμπάνα.\n"
        }
        _ => "灯台は六時十分に点灯され、二つ目の鐘の前に霧が晴れた。\n",
    };
    piece.repeat(SIZE / piece.len() + 1)
}

#[divan::bench(args = ["code", "prose", "Cyrillic", "Greek", "Japanese"], sample_count = 20, sample_size = 1)]
fn scan(bencher: Bencher, which: &str) {
    let text = text(which);
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let mut scanner = Scanner::default();
        scanner.scan(black_box(text.as_bytes()));
        scanner.counts()
    });
}
