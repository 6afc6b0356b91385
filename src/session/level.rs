//! What a terminal can tell apart, so that no distinction is ever graded
//! that it can't deliver.

use super::Arrival;
use crate::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};

bitflags::bitflags! {
    /// Flags of the open keyboard protocol, with the protocol's own bits.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub struct Granted: u8 {
        /// Chords that a plain terminal confuses arrive as themselves.
        const DISAMBIGUATE = 1;
        /// Repeats and releases are told apart from presses.
        const EVENT_TYPES = 2;
        /// The shifted key and the key's place on a US board are told.
        const ALTERNATE_KEYS = 4;
        /// Every key arrives as a sequence, modifiers alone too.
        const ALL_KEYS = 8;
        /// The text that was typed is told.
        const TEXT = 16;
    }
}

impl Granted {
    /// Each flag with what it gives, in plain words.
    pub const WORDS: [(Self, &'static str); 5] = [
        (Self::DISAMBIGUATE, "chords that look alike in a plain terminal"),
        (Self::EVENT_TYPES, "repeats and releases of keys"),
        (Self::ALTERNATE_KEYS, "the key's place on the board, whatever the layout"),
        (Self::ALL_KEYS, "every key as itself, Shift, Ctrl and Alt alone too"),
        (Self::TEXT, "the text that a key gave, dead keys and input methods too"),
    ];
}

/// How much a terminal tells about keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Level {
    /// The open keyboard protocol, with the flags that were granted (never
    /// without [`Granted::DISAMBIGUATE`]).
    Enhanced(Granted),
    /// xterm's modifyOtherKeys: most chords, presses only.
    ModifyOtherKeys,
    /// What terminals have always sent.
    #[default]
    Plain,
}

const PLAIN_PAIRS: &[(&str, &str)] = &[
    ("Tab", "Ctrl+I"),
    ("Tab", "Ctrl+Tab"),
    ("Enter", "Ctrl+M"),
    ("Enter", "Ctrl+Enter"),
    ("Enter", "Shift+Enter"),
    ("Enter", "Ctrl+J"),
    ("Escape", "Ctrl+["),
    ("Backspace", "Ctrl+H"),
    ("Backspace", "Ctrl+Backspace"),
    ("Ctrl+Space", "Ctrl+2"),
    ("Ctrl+/", "Ctrl+7"),
    ("Ctrl+/", "Ctrl+_"),
    ("Ctrl+V", "Ctrl+Shift+V"),
    (";", "Ctrl+;"),
    (".", "Ctrl+."),
    ("1", "Ctrl+1"),
    ("-", "Ctrl+-"),
    ("c", "Meta+C"),
];

const MODIFIED_PAIRS: &[(&str, &str)] = &[("Backspace", "Ctrl+Backspace"), ("c", "Meta+C")];

const PLAIN_LOSSES: &[&str] = &[
    "when a key comes up",
    "whether a key was struck again or repeats by being held",
    "Shift, Ctrl, Alt and layer keys by themselves",
    "Alt with a key, from Escape and the key right after it",
    "which physical key it was",
];

const NO_LOSSES: &[&str] = &[];

impl Level {
    /// The level that the flags in force amount to.
    pub fn of_flags(flags: Granted) -> Self {
        if flags.contains(Granted::DISAMBIGUATE) { Self::Enhanced(flags) } else { Self::Plain }
    }

    /// The level's name for the screen.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Enhanced(_) => "enhanced keyboard protocol",
            Self::ModifyOtherKeys => "modifyOtherKeys",
            Self::Plain => "plain",
        }
    }

    /// The word that exports and scripts use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Enhanced(_) => "enhanced",
            Self::ModifyOtherKeys => "modify-other-keys",
            Self::Plain => "plain",
        }
    }

    /// The word together with the flags granted, as in `enhanced 31`: what was
    /// found at one of these holds for it alone.
    pub fn key(self) -> String {
        match self {
            Self::Enhanced(flags) => format!("{} {}", self.word(), flags.bits()),
            Self::ModifyOtherKeys | Self::Plain => self.word().to_owned(),
        }
    }

    /// The flags granted; none below the enhanced protocol.
    pub const fn granted(self) -> Granted {
        match self {
            Self::Enhanced(flags) => flags,
            _ => Granted::empty(),
        }
    }

    /// Pairs of outputs that arrive as the same, each as [`Output`] writes
    /// itself. Examples of every kind, not all there are.
    pub const fn cannot_tell_apart(self) -> &'static [(&'static str, &'static str)] {
        match self {
            Self::Enhanced(_) => &[],
            Self::ModifyOtherKeys => MODIFIED_PAIRS,
            Self::Plain => PLAIN_PAIRS,
        }
    }

    /// What else never arrives, in plain words.
    pub fn never_told(self) -> Vec<&'static str> {
        let granted = self.granted();
        match self {
            Self::Plain => PLAIN_LOSSES.to_vec(),
            Self::ModifyOtherKeys => {
                PLAIN_LOSSES.iter().copied().filter(|loss| !loss.starts_with("Alt")).collect()
            }
            Self::Enhanced(_) => {
                let mut losses = NO_LOSSES.to_vec();
                if !granted.contains(Granted::EVENT_TYPES) {
                    losses.extend(&PLAIN_LOSSES[..2]);
                }
                if !granted.contains(Granted::ALL_KEYS) {
                    losses.push(PLAIN_LOSSES[2]);
                }
                if !granted.contains(Granted::ALTERNATE_KEYS) {
                    losses.push(PLAIN_LOSSES[4]);
                }
                losses
            }
        }
    }

    /// True where `got` can't be told from `expected` at this level: they
    /// are equal, or the terminal sends the same bytes for both.
    pub fn same(self, expected: &Output, got: &Output) -> bool {
        if expected == got {
            return true;
        }
        let sent = match self {
            Self::Enhanced(_) => return false,
            Self::ModifyOtherKeys => sent_with_modify_other_keys,
            Self::Plain => sent_plain,
        };
        match (sent(expected), sent(got)) {
            (Some(one), Some(other)) => one == other,
            _ => false,
        }
    }

    /// What becomes of `output` at this level, by the table alone: what a
    /// desktop or a terminal program keeps for itself is not known here.
    pub fn arrival(self, output: &Output) -> Arrival {
        let sent = match self {
            _ if self.delivers(output) => return Arrival::Delivered,
            Self::ModifyOtherKeys => sent_with_modify_other_keys(output),
            Self::Enhanced(_) | Self::Plain => sent_plain(output),
        };
        if sent.is_some() { Arrival::Ambiguous } else { Arrival::Swallowed }
    }

    /// False for a chord that never arrives at this level, or only as
    /// something that would be another answer: a key or character without
    /// modifiers, or a chord with fewer of them. Such a chord is never asked
    /// for. What a desktop or a terminal program keeps for itself is not known
    /// here.
    pub fn delivers(self, output: &Output) -> bool {
        let Output::Chord(chord) = output else { return true };
        match self {
            Self::Enhanced(_) => true,
            Self::ModifyOtherKeys => {
                let unsure = chord.key == ChordKey::Named(NamedKey::Backspace)
                    && chord.modifiers.contains(Modifiers::CTRL);
                !chord.modifiers.contains(Modifiers::META)
                    && !unsure
                    && sent_with_modify_other_keys(output).is_some()
            }
            Self::Plain => {
                sent_plain(output).and_then(|sent| modifiers_read(&sent)) == Some(chord.modifiers)
            }
        }
    }
}

/// The modifiers that are read from what a plain terminal sends; none where no
/// chord is read. A control character that a key of its own sends is that key.
fn modifiers_read(sent: &Sent) -> Option<Modifiers> {
    let bytes = match sent {
        Sent::Sequence(modifiers, _) => return Some(*modifiers),
        Sent::Bytes(bytes) => bytes,
    };
    let (alt, rest) = match bytes.strip_prefix('\u{1b}') {
        Some(rest) if !rest.is_empty() => (Modifiers::ALT, rest),
        _ => (Modifiers::empty(), bytes.as_str()),
    };
    let own = match rest.chars().next()? {
        '\r' | '\t' | '\u{7f}' | '\u{1b}' => Modifiers::empty(),
        c if c.is_control() => Modifiers::CTRL,
        c if c.is_uppercase() => Modifiers::SHIFT,
        _ => Modifiers::empty(),
    };
    Some(alt | own).filter(|modifiers| !modifiers.is_empty())
}

/// What arrives for an output: bytes, or a sequence that stands for itself.
#[derive(Debug, PartialEq, Eq)]
enum Sent {
    Bytes(String),
    Sequence(Modifiers, NamedKey),
}

/// What a plain terminal sends, in the manner of xterm with its defaults;
/// none for keys that it sends nothing for. Source: xterm's "Control
/// Sequences" and what terminals were seen to send.
fn sent_plain(output: &Output) -> Option<Sent> {
    match output {
        Output::Text(text) => Some(Sent::Bytes(text.clone())),
        Output::Key(key) => named_plain(*key, Modifiers::empty()),
        Output::Chord(Chord { modifiers, key: ChordKey::Named(key) }) => {
            named_plain(*key, *modifiers)
        }
        Output::Chord(Chord { modifiers, key: ChordKey::Char(c) }) => {
            let mut c = if modifiers.contains(Modifiers::SHIFT) { shifted(*c) } else { *c };
            if modifiers.contains(Modifiers::CTRL) {
                c = controlled(c);
            }
            Some(prefixed(c, *modifiers))
        }
    }
}

fn prefixed(c: char, modifiers: Modifiers) -> Sent {
    let escape = if modifiers.contains(Modifiers::ALT) { "\u{1b}" } else { "" };
    Sent::Bytes(format!("{escape}{c}"))
}

fn named_plain(key: NamedKey, modifiers: Modifiers) -> Option<Sent> {
    let c = match key {
        NamedKey::Enter => '\r',
        NamedKey::Tab if modifiers.contains(Modifiers::SHIFT) => {
            return Some(Sent::Sequence(Modifiers::SHIFT, key));
        }
        NamedKey::Tab => '\t',
        NamedKey::Escape => '\u{1b}',
        NamedKey::Backspace => '\u{7f}',
        _ if arrives(key) => return Some(Sent::Sequence(modifiers - Modifiers::META, key)),
        _ => return None,
    };
    Some(prefixed(c, modifiers))
}

/// True for keys that plain terminals have sequences for.
fn arrives(key: NamedKey) -> bool {
    use NamedKey::{
        ArrowDown, ArrowLeft, ArrowRight, ArrowUp, Delete, End, Home, Insert, PageDown, PageUp,
    };
    (NamedKey::F1..=NamedKey::F20).contains(&key)
        || matches!(
            key,
            Insert
                | Delete
                | Home
                | End
                | PageUp
                | PageDown
                | ArrowLeft
                | ArrowRight
                | ArrowUp
                | ArrowDown
        )
}

/// The control character that Ctrl makes of `c`, or `c` where it makes none.
/// Enter's line feed and Backspace's other form read as those keys.
fn controlled(c: char) -> char {
    match c.to_ascii_lowercase() {
        'j' => '\r',
        'h' | '8' | '?' => '\u{7f}',
        letter @ 'a'..='z' => char::from(letter as u8 - b'a' + 1),
        ' ' | '2' | '@' => '\0',
        '3' | '[' => '\u{1b}',
        '4' | '\\' => '\u{1c}',
        '5' | ']' => '\u{1d}',
        '6' | '^' => '\u{1e}',
        '7' | '/' | '_' => '\u{1f}',
        _ => c,
    }
}

/// What Shift makes of `c` on a US board; it only serves to be lenient.
fn shifted(c: char) -> char {
    const PLAIN: &str = "`1234567890-=[]\\;',./";
    const SHIFTED: &str = "~!@#$%^&*()_+{}|:\"<>?";
    if let Some(place) = PLAIN.find(c) {
        return SHIFTED[place..].chars().next().unwrap_or(c);
    }
    let mut upper = c.to_uppercase();
    match (upper.next(), upper.next()) {
        (Some(one), None) => one,
        _ => c,
    }
}

/// What xterm sends with modifyOtherKeys 2: everything as itself but Meta
/// (the Super key), which it knows nothing of, and Ctrl+Backspace, which
/// depends on its settings.
fn sent_with_modify_other_keys(output: &Output) -> Option<Sent> {
    let Output::Chord(chord) = output else {
        return match output {
            Output::Key(key) if sent_plain(output).is_some() => {
                Some(Sent::Sequence(Modifiers::empty(), *key))
            }
            Output::Key(_) => None,
            _ => sent_plain(output),
        };
    };
    let modifiers = chord.modifiers - Modifiers::META;
    match chord.key {
        ChordKey::Named(NamedKey::Backspace) => {
            Some(Sent::Sequence(modifiers - Modifiers::CTRL, NamedKey::Backspace))
        }
        ChordKey::Named(key) => named_plain(key, modifiers).map(|_| Sent::Sequence(modifiers, key)),
        ChordKey::Char(c) if modifiers.is_empty() => Some(Sent::Bytes(c.to_string())),
        ChordKey::Char(c) if modifiers == Modifiers::SHIFT => {
            Some(Sent::Bytes(shifted(c).to_string()))
        }
        ChordKey::Char(c) if modifiers.contains(Modifiers::SHIFT) => {
            // The code sent is that of the character with Shift applied, so
            // that Shift itself says something only about letters.
            let c = shifted(c);
            let kept = if c.is_alphabetic() { modifiers } else { modifiers - Modifiers::SHIFT };
            Some(Sent::Bytes(format!("{kept}+{c}")))
        }
        ChordKey::Char(c) => Some(Sent::Bytes(format!("{modifiers}+{c}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(text: &str) -> Output {
        text.parse().unwrap()
    }

    #[test]
    fn the_pairs_listed_are_the_same_both_ways() {
        for level in [Level::Plain, Level::ModifyOtherKeys] {
            for (one, other) in level.cannot_tell_apart() {
                assert!(level.same(&output(one), &output(other)), "{level:?}: {one} and {other}");
                assert!(level.same(&output(other), &output(one)), "{level:?}: {other} and {one}");
            }
        }
    }

    #[test]
    fn the_enhanced_protocol_tells_all_pairs_apart() {
        let level = Level::Enhanced(Granted::all());
        for (one, other) in PLAIN_PAIRS {
            assert!(!level.same(&output(one), &output(other)), "{one} and {other}");
        }
    }

    #[test]
    fn modify_other_keys_mends_most_pairs() {
        let level = Level::ModifyOtherKeys;
        for (one, other) in PLAIN_PAIRS.iter().filter(|pair| !MODIFIED_PAIRS.contains(pair)) {
            assert!(!level.same(&output(one), &output(other)), "{one} and {other}");
        }
    }

    #[test]
    fn modify_other_keys_sends_the_shifted_character() {
        let level = Level::ModifyOtherKeys;
        // `CSI 27 ; 6 ; 58 ~` for Ctrl+Shift+; reads as Ctrl+Shift+:.
        assert!(level.same(&output("Ctrl+Shift+;"), &output("Ctrl+Shift+:")));
        assert!(level.same(&output("Ctrl+Shift+="), &output("Ctrl++")));
        assert!(level.same(&output("Ctrl+Shift+V"), &output("Ctrl+Shift+V")));
        assert!(!level.same(&output("Ctrl+Shift+;"), &output("Ctrl+;")));
        assert!(!level.same(&output("Ctrl+Shift+V"), &output("Ctrl+V")));
    }

    #[test]
    fn what_arrives_differently_is_never_the_same() {
        for level in [Level::Plain, Level::ModifyOtherKeys, Level::Enhanced(Granted::all())] {
            for (one, other) in [
                ("a", "A"),
                ("a", "Alt+A"),
                ("Tab", "Shift+Tab"),
                ("ArrowLeft", "Ctrl+ArrowLeft"),
                ("Ctrl+C", "c"),
                ("Enter", "Tab"),
                ("F13", "F14"),
                ("Alt+A", "Alt+Shift+A"),
                ("Delete", "Backspace"),
                ("Space", "Ctrl+Space"),
                ("Shift", "Control"),
                ("MediaStop", "AudioVolumeUp"),
            ] {
                assert!(!level.same(&output(one), &output(other)), "{level:?}: {one} and {other}");
            }
        }
    }

    #[test]
    fn equal_outputs_are_the_same_at_every_level() {
        for level in [Level::Plain, Level::ModifyOtherKeys, Level::Enhanced(Granted::all())] {
            for text in ["a", "Shift", "Ctrl+Shift+V", "Meta+C", "F24", "Backspace"] {
                assert!(level.same(&output(text), &output(text)));
            }
        }
    }

    #[test]
    fn what_would_be_another_answer_is_not_delivered() {
        for (word, plain, modified) in [
            ("Ctrl+C", true, true),
            ("Ctrl+/", true, true),
            ("Alt+ArrowUp", true, true),
            ("Ctrl+Shift+ArrowLeft", true, true),
            ("Ctrl+PageDown", true, true),
            ("Alt+D", true, true),
            ("Alt+Shift+D", true, true),
            ("Alt+Enter", true, true),
            ("Ctrl+Shift+V", false, true),
            ("Ctrl+I", false, true),
            ("Ctrl+M", false, true),
            ("Ctrl+[", false, true),
            ("Ctrl+H", false, true),
            ("Ctrl+Backspace", false, false),
            ("Ctrl+;", false, true),
            ("Ctrl+Alt+Enter", false, true),
            ("Meta+C", false, false),
        ] {
            let chord = output(word);
            assert_eq!(Level::Plain.delivers(&chord), plain, "{word}");
            assert_eq!(Level::ModifyOtherKeys.delivers(&chord), modified, "{word}");
            assert!(Level::Enhanced(Granted::all()).delivers(&chord), "{word}");
        }
    }

    #[test]
    fn what_is_not_delivered_is_ambiguous_or_swallowed() {
        for (word, plain) in [
            ("Ctrl+C", Arrival::Delivered),
            ("Ctrl+Shift+V", Arrival::Ambiguous),
            ("Meta+C", Arrival::Ambiguous),
            ("Ctrl+F24", Arrival::Swallowed),
        ] {
            assert_eq!(Level::Plain.arrival(&output(word)), plain, "{word}");
        }
        assert_eq!(Level::ModifyOtherKeys.arrival(&output("Ctrl+F24")), Arrival::Swallowed);
        assert_eq!(Level::ModifyOtherKeys.arrival(&output("Meta+C")), Arrival::Ambiguous);
        let all = Level::Enhanced(Granted::all());
        assert_eq!(all.arrival(&output("Meta+C")), Arrival::Delivered);
        assert_eq!((all.key().as_str(), Level::Plain.key().as_str()), ("enhanced 31", "plain"));
    }

    #[test]
    fn flags_without_disambiguation_are_plain() {
        assert_eq!(Level::of_flags(Granted::empty()), Level::Plain);
        assert_eq!(Level::of_flags(Granted::TEXT), Level::Plain);
        assert_eq!(Level::of_flags(Granted::all()), Level::Enhanced(Granted::all()));
    }

    #[test]
    fn every_loss_of_a_bare_grant_is_told() {
        assert_eq!(Level::Enhanced(Granted::all()).never_told(), NO_LOSSES);
        assert_eq!(Level::Enhanced(Granted::DISAMBIGUATE).never_told().len(), 4);
        assert_eq!(Level::Plain.never_told().len(), 5);
        assert_eq!(Level::ModifyOtherKeys.never_told().len(), 4);
    }
}
