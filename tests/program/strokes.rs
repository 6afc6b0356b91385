//! Made-up practice for tests of the history.

use etude::drill::{Flow, Source};
use etude::keyboard::{Digit, Finger, Hand, Output, Position, Row};
use etude::layout::{Cluster, LayerId};
use etude::session::{Flags, Keystroke, Verdict};
use etude::store::{
    DrillEnd, DrillStart, Ended, LayerRecord, LayoutRecord, SessionStart, TextCounts, WallTime,
};
use etude::units::Micros;

/// A session that started at this moment, with this seed.
pub fn session(ms_utc: i64, seed: u64) -> SessionStart {
    let layer = |name: &str, cluster: &str| LayerRecord {
        name: name.to_owned(),
        cluster: cluster.to_owned(),
    };
    SessionStart {
        started: WallTime { ms_utc, utc_offset_min: 60 },
        seed,
        layout: LayoutRecord {
            name: "harbour".to_owned(),
            title: "Harbour, split".to_owned(),
            text: "name = \"harbour\"\n".to_owned(),
            layers: vec![layer("base", "base"), layer("marks", "symbols")],
        },
        terminal_level: "plain".to_owned(),
        program_version: "0.1.0".to_owned(),
        score_version: 1,
    }
}

/// A drill of symbols.
pub fn drill(title: &str, source: Source) -> DrillStart {
    DrillStart {
        title: title.to_owned(),
        cluster: Cluster::Symbols,
        flow: Flow::Stay,
        source,
        started_at: Micros::ZERO,
        n_left_out: 0,
    }
}

/// How a drill ends.
pub fn end() -> DrillEnd {
    let text = TextCounts { n_transcribed: 30, n_correct: 29, ..TextCounts::default() };
    DrillEnd::new(Ended::Done, Micros::from_secs(9), Some(text))
}

/// The keystroke number `seq` of a drill; nothing random about it.
pub fn stroke(seq: u32) -> Keystroke {
    let due = ["a", ",", "\"", "[", " ", "="][seq as usize % 6];
    let layer = |seq: u32| LayerId(u8::from(seq % 6 >= 2));
    let previous_layer = layer(seq.saturating_sub(1));
    let mut flags = Flags::empty();
    flags.set(Flags::FIRST, seq == 0);
    flags.set(Flags::SWITCH, layer(seq) != previous_layer);
    Keystroke {
        seq,
        prompt: 0,
        place: (seq % 200) as u16,
        at: Micros(u64::from(seq + 1) * 180_000),
        expected: Output::Text(due.to_owned()),
        got: Output::Text(if seq % 9 == 4 { "x" } else { due }.to_owned()),
        verdict: if seq % 9 == 4 { Verdict::Miss } else { Verdict::Hit },
        latency: (seq > 0).then_some(Micros(150_000 + u64::from(seq % 17) * 7_000)),
        reach: None,
        down: seq.is_multiple_of(2).then_some(Micros(90_000)),
        layer: layer(seq),
        previous_layer,
        position: Some(Position::main(Row::C, (seq % 6) as u8 + 1)),
        finger: Some(Finger::new(Hand::Left, Digit::Ring)),
        flags,
    }
}
