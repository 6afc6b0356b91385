//! What an arrival may have been before the terminal.

use crate::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};
use crate::layout::Cluster;
use crate::session::Level;

/// Most readings that are offered; anything else can be written.
const MOST: usize = 6;

/// Everything that the key may have given where `got` arrived and `level`
/// can't tell: `got` first, then what is likely. One alone where there is no
/// doubt that is worth a question.
///
/// Plain text is taken as it is, except on a layer of shortcuts: there a
/// character may be a chord whose modifier the terminal dropped.
pub fn readings(level: Level, got: &Output, cluster: Cluster) -> Vec<Output> {
    let mut found = vec![got.clone()];
    let asked = match got {
        Output::Text(_) => cluster == Cluster::Shortcuts,
        Output::Key(_) | Output::Chord(_) => true,
    };
    if !asked {
        return found;
    }
    let (key, held) = match got {
        Output::Text(_) => match got.as_char() {
            Some(c) => (ChordKey::Char(c), Modifiers::empty()),
            None => return found,
        },
        Output::Key(key) => (ChordKey::Named(*key), Modifiers::empty()),
        Output::Chord(chord) => (chord.key, chord.modifiers),
    };
    // The key itself with more held, then keys that send the same code.
    let more =
        [Modifiers::SHIFT, Modifiers::CTRL, Modifiers::CTRL | Modifiers::SHIFT, Modifiers::META];
    let with_more = more.map(|more| (key, held | more));
    let related = RELATED.iter().map(|key| (*key, Modifiers::CTRL));
    for (key, modifiers) in with_more.into_iter().chain(related) {
        if modifiers.is_empty() || found.len() == MOST {
            continue;
        }
        let reading = Output::Chord(Chord { modifiers, key });
        if level.same(&reading, got) && !found.contains(&reading) {
            found.push(reading);
        }
    }
    found
}

/// Keys that with Ctrl send what another key sends.
const RELATED: [ChordKey; 13] = [
    ChordKey::Char('i'),
    ChordKey::Char('m'),
    ChordKey::Char('j'),
    ChordKey::Char('h'),
    ChordKey::Char('['),
    ChordKey::Char(' '),
    ChordKey::Char('2'),
    ChordKey::Char('/'),
    ChordKey::Char('7'),
    ChordKey::Char('-'),
    ChordKey::Char('\\'),
    ChordKey::Char(']'),
    ChordKey::Named(NamedKey::Tab),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::Granted;

    fn told(level: Level, got: &str, cluster: Cluster) -> Vec<String> {
        let got: Output = got.parse().unwrap();
        readings(level, &got, cluster).iter().map(Output::to_string).collect()
    }

    #[test]
    fn a_full_protocol_leaves_no_doubt() {
        for got in ["a", "Tab", "Enter", "Ctrl+V", "Escape"] {
            assert_eq!(told(Level::Enhanced(Granted::all()), got, Cluster::Shortcuts), [got]);
        }
    }

    #[test]
    fn a_plain_terminal_is_asked_about() {
        let base = Cluster::Base;
        assert_eq!(told(Level::Plain, "a", base), ["a"]);
        let tab = told(Level::Plain, "Tab", base);
        assert!(tab.contains(&"Ctrl+I".into()) && tab.contains(&"Ctrl+Tab".into()), "{tab:?}");
        let enter = told(Level::Plain, "Enter", base);
        assert!(enter.contains(&"Shift+Enter".into()), "{enter:?}");
        let paste = told(Level::Plain, "Ctrl+V", Cluster::Shortcuts);
        assert_eq!(paste[..2], ["Ctrl+V", "Ctrl+Shift+V"]);
        let dropped = told(Level::Plain, ".", Cluster::Shortcuts);
        assert!(dropped.contains(&"Ctrl+.".into()), "{dropped:?}");
    }

    #[test]
    fn every_reading_would_arrive_so() {
        for level in [Level::Plain, Level::ModifyOtherKeys] {
            for got in ["Tab", "Enter", "Backspace", "Ctrl+V", "c", ";", "Ctrl+/", "Escape", "F5"] {
                let got: Output = got.parse().unwrap();
                for reading in readings(level, &got, Cluster::Shortcuts) {
                    assert!(level.same(&reading, &got), "{level:?}: {reading} for {got}");
                }
            }
        }
    }
}
