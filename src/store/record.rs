//! What is kept, as plain data, and the codes that stand for it.

use super::tally::{Tally, Totals};
use super::wall_clock::WallTime;
use crate::drill::{Drill, Flow, Source};
use crate::keyboard::{Digit, Finger, Hand, Position, Row as GridRow};
use crate::layout::{Cluster, Layout};
use crate::session::{Flags, Keystroke, Verdict};
use crate::units::Micros;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest, Sha256};

/// A random 128-bit name, so that nothing is taken in twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Uid(pub [u8; 16]);

impl Uid {
    /// A new one.
    pub(super) fn random() -> Self {
        let mut bytes = [0; 16];
        if getrandom::fill(&mut bytes).is_err() {
            // A system without randomness: time, process and a count still
            // make a name that no other window has.
            use std::sync::atomic::{AtomicU64, Ordering};
            static COUNT: AtomicU64 = AtomicU64::new(0);
            let mut hash = Sha256::new();
            hash.update(super::wall_clock::now().ms_utc.to_le_bytes());
            hash.update(std::process::id().to_le_bytes());
            hash.update(COUNT.fetch_add(1, Ordering::Relaxed).to_le_bytes());
            bytes.copy_from_slice(&hash.finalize()[..16]);
        }
        Self(bytes)
    }
}

impl Serialize for Uid {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        super::hex::encode(&self.0).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Uid {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        super::hex::decode(&text)
            .and_then(|bytes| bytes.try_into().ok())
            .map(Self)
            .ok_or_else(|| serde::de::Error::custom("expected 32 hexadecimal digits"))
    }
}

/// One layer of a layout, as far as results need it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LayerRecord {
    /// Its name.
    pub name: String,
    /// The word of its cluster.
    pub cluster: String,
}

/// A layout exactly as it was practised.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LayoutRecord {
    /// The name that commands use.
    pub name: String,
    /// The title for people.
    pub title: String,
    /// The layout file's canonical text.
    pub text: String,
    /// The layers, the base layer first.
    pub layers: Vec<LayerRecord>,
}

impl LayoutRecord {
    /// `layout`, whose canonical text is `text`.
    pub fn new(layout: &Layout, text: &str) -> Self {
        Self {
            name: layout.name.clone(),
            title: layout.title.clone(),
            text: text.to_owned(),
            layers: layout
                .layers
                .iter()
                .map(|layer| LayerRecord {
                    name: layer.name.clone(),
                    cluster: layer.cluster.word().to_owned(),
                })
                .collect(),
        }
    }

    /// The SHA-256 of the canonical text.
    pub fn hash(&self) -> [u8; 32] {
        Sha256::digest(self.text.as_bytes()).into()
    }
}

/// What is known when a session starts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SessionStart {
    /// When it started; see [`super::wall_clock::now`].
    pub started: WallTime,
    /// The seed of its drills.
    pub seed: u64,
    /// The layout.
    pub layout: LayoutRecord,
    /// The level of the terminal in a word, as the input room names it.
    pub terminal_level: String,
    /// The version of the program.
    pub program_version: String,
    /// The version of the rules by which keystrokes are judged, from 1.
    pub score_version: u32,
}

/// A session with its name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct SessionRecord {
    pub uid: Uid,
    pub start: SessionStart,
}

/// How a drill or a session ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ended {
    /// It was done to its end.
    Done,
    /// The person (or the system, by a signal) left it early.
    Left,
    /// The program was ended before it could say how; found in a journal.
    Cut,
}

impl Ended {
    /// The word that the database and exports use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Left => "left",
            Self::Cut => "cut",
        }
    }
}

/// What is known when a drill starts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrillStart {
    /// Its title. Of a drill from the person's own text, the title is not
    /// kept, since it may quote that text.
    pub title: String,
    /// What it practises.
    pub cluster: Cluster,
    /// How it goes on after a wrong key.
    pub flow: Flow,
    /// Where its text comes from; decides what is kept.
    pub source: Source,
    /// Since the start of the session.
    pub started_at: Micros,
    /// How many characters were left out.
    pub n_left_out: u32,
}

impl DrillStart {
    /// The start of `drill` at `started_at` since the start of the session.
    pub fn of(drill: &Drill, started_at: Micros) -> Self {
        let n_left_out: usize = drill.left_out.iter().map(|(_, n)| n).sum();
        Self {
            title: drill.title.clone(),
            cluster: drill.cluster,
            flow: drill.flow,
            source: drill.source,
            started_at,
            n_left_out: u32::try_from(n_left_out).unwrap_or(u32::MAX),
        }
    }
}

/// The counts from which the text-entry rates follow (Soukoreff & MacKenzie,
/// CHI 2003).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct TextCounts {
    /// |T|, the length of the transcribed text.
    pub n_transcribed: u32,
    /// C, correct keystrokes.
    pub n_correct: u32,
    /// INF, errors that stand.
    pub n_incorrect_not_fixed: u32,
    /// IF, errors that were taken back.
    pub n_incorrect_fixed: u32,
    /// F, keystrokes that took something back.
    pub n_fixes: u32,
}

/// What is known when a drill ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct DrillEnd {
    /// How.
    pub ended: Ended,
    /// Active time, without pauses.
    pub active: Span,
    /// The text-entry counts; none where they make no sense.
    pub text: Option<TextCounts>,
}

impl DrillEnd {
    /// An end after `active` time.
    pub fn new(ended: Ended, active: Micros, text: Option<TextCounts>) -> Self {
        Self { ended, active: Span(active.0), text }
    }
}

/// A time in microseconds, as it is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Span(pub u64);

/// A drill's start as it is kept: words instead of enums, so that a word from
/// another version survives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct DrillRecord {
    pub uid: Uid,
    pub ordinal: u32,
    pub title: String,
    pub cluster: String,
    pub flow: String,
    pub source: String,
    pub started_at_us: u64,
    pub n_left_out: u32,
}

impl DrillRecord {
    /// The record of `start`, with a new name.
    pub fn new(start: &DrillStart, ordinal: u32) -> Self {
        Self {
            uid: Uid::random(),
            ordinal,
            title: match start.source {
                Source::Shipped => start.title.clone(),
                Source::Own => "own text".to_owned(),
            },
            cluster: start.cluster.word().to_owned(),
            flow: start.flow.word().to_owned(),
            source: start.source.word().to_owned(),
            started_at_us: start.started_at.0,
            n_left_out: start.n_left_out,
        }
    }
}

/// What happened in a drill.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Body {
    /// Every keystroke.
    Rows(Vec<Row>),
    /// Sums alone: the person's own text.
    Sums(Tally),
}

/// A drill with everything that is kept of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct WholeDrill {
    pub start: DrillRecord,
    pub end: DrillEnd,
    pub body: Body,
}

impl WholeDrill {
    /// The sums of the drill, made from its rows where there are any.
    pub fn sums(&self, started: WallTime) -> Tally {
        match &self.body {
            Body::Rows(rows) => Tally::of(started, rows),
            Body::Sums(tally) => tally.clone(),
        }
    }

    /// True where nothing was struck.
    pub fn is_empty(&self) -> bool {
        match &self.body {
            Body::Rows(rows) => rows.is_empty(),
            Body::Sums(tally) => tally.totals == Totals::default(),
        }
    }
}

/// One keystroke as it is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "RowTuple", into = "RowTuple")]
pub(super) struct Row {
    pub seq: u32,
    pub prompt: u16,
    pub place: u16,
    pub at_us: u64,
    pub expected: String,
    pub got: String,
    pub verdict_code: u8,
    pub latency_us: Option<u64>,
    pub reach_us: Option<u64>,
    pub down_us: Option<u64>,
    pub layer: u8,
    pub previous_layer: u8,
    pub position_code: u16,
    pub finger_code: u8,
    pub flag_bits: u16,
}

/// The reach stands last, and is left out where there is none: journals of
/// before it was kept have none.
#[derive(Serialize, Deserialize)]
struct RowTuple(
    u32,
    u16,
    u16,
    u64,
    String,
    String,
    u8,
    Option<u64>,
    Option<u64>,
    u8,
    u8,
    u16,
    u8,
    u16,
    #[serde(default, skip_serializing_if = "Option::is_none")] Option<u64>,
);

impl From<RowTuple> for Row {
    fn from(t: RowTuple) -> Self {
        Self {
            seq: t.0,
            prompt: t.1,
            place: t.2,
            at_us: t.3,
            expected: t.4,
            got: t.5,
            verdict_code: t.6,
            latency_us: t.7,
            down_us: t.8,
            layer: t.9,
            previous_layer: t.10,
            position_code: t.11,
            finger_code: t.12,
            flag_bits: t.13,
            reach_us: t.14,
        }
    }
}

impl From<Row> for RowTuple {
    fn from(r: Row) -> Self {
        Self(
            r.seq,
            r.prompt,
            r.place,
            r.at_us,
            r.expected,
            r.got,
            r.verdict_code,
            r.latency_us,
            r.down_us,
            r.layer,
            r.previous_layer,
            r.position_code,
            r.finger_code,
            r.flag_bits,
            r.reach_us,
        )
    }
}

impl Row {
    /// The row of `keystroke`.
    pub fn of(keystroke: &Keystroke) -> Self {
        Self {
            seq: keystroke.seq,
            prompt: keystroke.prompt,
            place: keystroke.place,
            at_us: keystroke.at.0,
            expected: keystroke.expected.to_string(),
            got: keystroke.got.to_string(),
            verdict_code: verdict_code(keystroke.verdict),
            latency_us: keystroke.latency.map(|latency| latency.0),
            reach_us: keystroke.reach.map(|reach| reach.0),
            down_us: keystroke.down.map(|down| down.0),
            layer: keystroke.layer.0,
            previous_layer: keystroke.previous_layer.0,
            position_code: position_code(keystroke.position),
            finger_code: finger_code(keystroke.finger),
            flag_bits: keystroke.flags.bits(),
        }
    }
}

/// The latency that may feed an estimate, by the rule of
/// [`Keystroke::timed`], from what is kept.
pub(super) fn timed(verdict_code: u8, flag_bits: u16, latency_us: Option<u64>) -> Option<Micros> {
    let verdict = verdict_of(verdict_code)?;
    crate::session::timed(verdict, Flags::from_bits_retain(flag_bits), latency_us.map(Micros))
}

/// The code of a verdict. Codes are stored: never renumber.
pub(super) const fn verdict_code(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Hit => 0,
        Verdict::Miss => 1,
        Verdict::Repair => 2,
    }
}

/// The verdict of a code; none where a newer program wrote it.
pub(super) const fn verdict_of(code: u8) -> Option<Verdict> {
    match code {
        0 => Some(Verdict::Hit),
        1 => Some(Verdict::Miss),
        2 => Some(Verdict::Repair),
        _ => None,
    }
}

const ROWS: [GridRow; 6] = [GridRow::A, GridRow::B, GridRow::C, GridRow::D, GridRow::E, GridRow::K];
const THUMB_BASE: u16 = 0x1000;

/// The code of a position: 0 for none; 1 + 256 × row + column for the main
/// block (rows A to E, K from 0); 4096 + 256 × side + number for thumb keys.
/// Codes are stored: never renumber.
pub(super) fn position_code(position: Option<Position>) -> u16 {
    match position {
        None => 0,
        Some(Position::Main { row, column }) => {
            let row = ROWS.iter().position(|&r| r == row).unwrap_or(0);
            1 + 256 * row as u16 + u16::from(column)
        }
        Some(Position::Thumb { side, index }) => {
            THUMB_BASE + 256 * u16::from(side == Hand::Right) + u16::from(index)
        }
    }
}

/// The position of a code; none for 0 and for what a newer program wrote.
pub(super) fn position_of(code: u16) -> Option<Position> {
    if let Some(rest) = code.checked_sub(THUMB_BASE) {
        let side = match rest >> 8 {
            0 => Hand::Left,
            1 => Hand::Right,
            _ => return None,
        };
        let index = (rest & 0xff) as u8;
        return (index > 0).then_some(Position::thumb(side, index));
    }
    let rest = code.checked_sub(1)?;
    let row = *ROWS.get(usize::from(rest >> 8))?;
    Some(Position::main(row, (rest & 0xff) as u8))
}

/// The code of a finger: 0 for none, 1 to 5 left, 6 to 10 right, the thumb
/// first. Codes are stored: never renumber.
pub(super) fn finger_code(finger: Option<Finger>) -> u8 {
    finger.map_or(0, |f| f.digit.number() + if f.hand == Hand::Right { 5 } else { 0 })
}

/// The finger of a code; none for 0 and for what a newer program wrote.
pub(super) fn finger_of(code: u8) -> Option<Finger> {
    match code {
        1..=5 => Digit::from_number(code).map(|digit| Finger::new(Hand::Left, digit)),
        6..=10 => Digit::from_number(code - 5).map(|digit| Finger::new(Hand::Right, digit)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn codes_read_back_and_differ() {
        let mut seen = BTreeSet::from([0]);
        for row in ROWS {
            for column in 0..=99 {
                let position = Position::main(row, column);
                let code = position_code(Some(position));
                assert_eq!(position_of(code), Some(position));
                assert!(seen.insert(code));
            }
        }
        for side in [Hand::Left, Hand::Right] {
            for index in 1..=u8::MAX {
                let position = Position::thumb(side, index);
                let code = position_code(Some(position));
                assert_eq!(position_of(code), Some(position));
                assert!(seen.insert(code));
            }
            for digit in Digit::ALL {
                let finger = Finger::new(side, digit);
                assert_eq!(finger_of(finger_code(Some(finger))), Some(finger));
            }
        }
        for verdict in [Verdict::Hit, Verdict::Miss, Verdict::Repair] {
            assert_eq!(verdict_of(verdict_code(verdict)), Some(verdict));
        }
    }

    #[test]
    fn journals_of_before_the_reach_was_kept_are_read() {
        let old = r#"[3,0,3,480000,"[","[",0,240000,null,1,0,780,9,64]"#;
        let row: Row = serde_json::from_str(old).unwrap();
        assert_eq!((row.latency_us, row.flag_bits, row.reach_us), (Some(240_000), 64, None));
        // Without a marker a line is what it always was.
        assert_eq!(serde_json::to_string(&row).unwrap(), old);
        let marked = Row { reach_us: Some(170_000), ..row };
        let new = serde_json::to_string(&marked).unwrap();
        assert_eq!(new, old.replace(",64]", ",64,170000]"));
        assert_eq!(serde_json::from_str::<Row>(&new).unwrap(), marked);
        assert!(serde_json::from_str::<Row>("[3,0,3,480000]").is_err());
    }

    #[test]
    fn codes_of_a_newer_program_are_no_error() {
        assert_eq!(verdict_of(9), None);
        assert_eq!(position_of(u16::MAX), None);
        assert_eq!(finger_of(200), None);
        assert_eq!(timed(9, 0, Some(100_000)), None);
        assert_eq!(timed(0, 1 << 15, Some(100_000)), Some(Micros(100_000)));
    }
}
