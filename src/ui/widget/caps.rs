//! What stands on a key: the shortest clear words for an assignment.

use crate::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};
use crate::layout::{Access, AccessKind, Assignment, Layout, Target};
use unicode_width::UnicodeWidthStr;

/// The text for `assignment` in at most `room` columns; empty for nothing
/// and for fall-through. A dual role shows its tap.
pub fn cap(layout: &Layout, assignment: &Assignment, room: usize, unicode: bool) -> String {
    match assignment {
        Assignment::FallThrough | Assignment::Nothing => String::new(),
        Assignment::Gives(output) => output_cap(output, room, unicode),
        Assignment::Does(name) => match layout.actions.get(name) {
            Some(action) => chord_cap(action.chord, room, unicode),
            None => cut(name, room),
        },
        Assignment::Access(access) => access_cap(layout, *access, room, unicode),
        Assignment::Dual { tap, .. } => cap(layout, tap, room, unicode),
    }
}

/// The text for an access in at most `room` columns: a mark of its kind (down
/// for hold, one for latch, without end for lock) and the layer's sign, or the
/// modifier's name.
pub fn access_cap(layout: &Layout, access: Access, room: usize, unicode: bool) -> String {
    let mark = match (access.kind, unicode) {
        (AccessKind::Hold, true) => "↓",
        (AccessKind::Hold, false) => "_",
        (AccessKind::Latch, true) => "¹",
        (AccessKind::Latch, false) => "1",
        (AccessKind::Lock, true) => "∞",
        (AccessKind::Lock, false) => "=",
    };
    match access.target {
        Target::Layer(id) => {
            let sign = layout.layers.get(id.index()).map_or("?", |layer| layer.sign.as_str());
            fit(&[&format!("{mark}{sign}"), sign], room)
        }
        Target::Modifier(modifier) => {
            let key = modifier.key();
            match access.kind {
                AccessKind::Hold => key_cap(key, room, unicode),
                _ => cut(&format!("{mark}{}", key_cap(key, room.saturating_sub(1), unicode)), room),
            }
        }
    }
}

fn output_cap(output: &Output, room: usize, unicode: bool) -> String {
    match output {
        Output::Text(text) if text == " " => fit(&["Space", "Spc", "_"], room),
        // A blank of another kind would leave the key empty.
        Output::Text(text) if text.trim().is_empty() => {
            let number = text.chars().next().map_or(0, u32::from);
            cut(&format!("{number:X}"), room)
        }
        Output::Text(text) if unicode || text.is_ascii() => cut(text, room),
        Output::Text(text) => {
            let number = text.chars().next().map_or(0, u32::from);
            cut(&format!("{number:X}"), room)
        }
        Output::Key(key) => key_cap(*key, room, unicode),
        Output::Chord(chord) => chord_cap(*chord, room, unicode),
    }
}

fn key_cap(key: NamedKey, room: usize, unicode: bool) -> String {
    let (shorter, shortest) = match key {
        NamedKey::Enter => ("Entr", "Ent"),
        NamedKey::Backspace => ("Bksp", "Bsp"),
        NamedKey::Shift => ("Shft", "Sft"),
        NamedKey::Control => ("Ctrl", "Ctl"),
        NamedKey::Meta => ("Meta", "Met"),
        NamedKey::Home => ("Home", "Hom"),
        NamedKey::PageUp => ("PgUp", "PgU"),
        NamedKey::PageDown => ("PgDn", "PgD"),
        NamedKey::CapsLock => ("Caps", "Cap"),
        NamedKey::ContextMenu => ("Menu", "Mnu"),
        NamedKey::AltGraph => ("AltG", "AlG"),
        NamedKey::PrintScreen => ("Prnt", "Prt"),
        other => (other.short(), other.short()),
    };
    if !unicode {
        match key {
            NamedKey::ArrowLeft => return cut("<-", room),
            NamedKey::ArrowRight => return cut("->", room),
            NamedKey::ArrowUp => return cut("Up", room),
            NamedKey::ArrowDown => return cut("Dn", room),
            _ => {}
        }
    }
    let arrow = key.short().chars().count() == 1;
    if arrow {
        cut(key.short(), room)
    } else {
        fit(&[key.name(), shorter, shortest, &two(key, shortest)], room)
    }
}

/// Two columns that tell the key from all others.
fn two(key: NamedKey, shortest: &str) -> String {
    let apart = match key {
        NamedKey::Home => "Hm",
        NamedKey::End => "Ed",
        NamedKey::PageUp => "PU",
        NamedKey::PageDown => "PD",
        NamedKey::Backspace => "Bs",
        NamedKey::PrintScreen => "Pr",
        // Of F10 to F24 the number tells which.
        other => match other.name().strip_prefix('F') {
            Some(number) if number.len() == 2 => number,
            _ => shortest,
        },
    };
    cut(apart, 2)
}

fn chord_cap(chord: Chord, room: usize, unicode: bool) -> String {
    let mut marks = String::new();
    for (modifier, mark, plain) in [
        (Modifiers::CTRL, "^", "^"),
        (Modifiers::ALT, "ᴬ", "A"),
        (Modifiers::SHIFT, "⇧", "s"),
        (Modifiers::META, "ᴹ", "M"),
    ] {
        if chord.modifiers.contains(modifier) {
            marks.push_str(if unicode { mark } else { plain });
        }
    }
    let left = room.saturating_sub(marks.width());
    let key = match chord.key {
        ChordKey::Char(' ') => "Spc".to_owned(),
        ChordKey::Char(c) => c.to_uppercase().to_string(),
        ChordKey::Named(key) => key_cap(key, left, unicode),
    };
    fit(&[&chord.to_string(), &format!("{marks}{key}")], room)
}

/// The first of `candidates` that fits in `room` columns, or the last cut.
fn fit(candidates: &[&str], room: usize) -> String {
    let found = candidates.iter().find(|text| text.width() <= room);
    match (found, candidates.last()) {
        (Some(text), _) => (*text).to_owned(),
        (None, Some(last)) => cut(last, room),
        (None, None) => String::new(),
    }
}

/// As much of `text` as fits in `room` columns.
fn cut(text: &str, room: usize) -> String {
    use unicode_segmentation::UnicodeSegmentation;
    let mut kept = String::new();
    for grapheme in text.graphemes(true) {
        if kept.width() + grapheme.width() > room {
            break;
        }
        kept.push_str(grapheme);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::layout::token::{Names, read};

    #[test]
    fn two_columns_tell_keys_apart() {
        use NamedKey as N;
        let keys = [
            N::Home,
            N::End,
            N::Enter,
            N::PageUp,
            N::PageDown,
            N::Insert,
            N::Delete,
            N::Escape,
            N::Tab,
            N::Backspace,
        ];
        let functions = (1..=24).filter_map(NamedKey::function);
        let mut caps: Vec<String> =
            keys.into_iter().chain(functions).map(|key| key_cap(key, 2, true)).collect();
        assert!(caps.iter().all(|cap| cap.width() <= 2), "{caps:?}");
        caps.sort_unstable();
        let all = caps.len();
        caps.dedup();
        assert_eq!(caps.len(), all, "{caps:?}");
    }

    #[test]
    fn caps_shorten_as_room_shrinks() {
        let layout = shipped::load("tern-split").unwrap();
        let layers: Vec<String> = layout.layers.iter().map(|layer| layer.name.clone()).collect();
        let actions: Vec<String> = layout.actions.keys().cloned().collect();
        let names = Names { layers: &layers, actions: &actions };
        for (token, room, text) in [
            ("Enter", 6, "Enter"),
            ("Enter", 4, "Entr"),
            ("Enter", 3, "Ent"),
            ("Backspace", 4, "Bksp"),
            ("ArrowLeft", 9, "←"),
            ("do:paste-plain", 12, "Ctrl+Shift+V"),
            ("do:paste-plain", 4, "^⇧V"),
            ("do:word-left", 4, "^←"),
            ("hold:symbols", 4, "↓S"),
            ("lock:numbers", 4, "∞N"),
            ("latch:symbols", 1, "S"),
            ("latch:Shift", 4, "¹Sft"),
            ("Space", 3, "Spc"),
            ("Space", 1, "_"),
            ("U+00A0", 3, "A0"),
            ("\"=>\"", 3, "=>"),
            ("a/hold:symbols", 3, "a"),
            ("..", 3, ""),
            ("--", 3, ""),
        ] {
            let assignment = read(token, names).unwrap();
            assert_eq!(cap(&layout, &assignment, room, true), text, "{token} in {room}");
            for room in 0..8 {
                let plain = cap(&layout, &assignment, room, false);
                assert!(plain.is_ascii() && plain.width() <= room, "{token}: {plain}");
            }
        }
    }
}
