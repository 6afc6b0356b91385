//! Keysyms as outputs.

use crate::keyboard::{Modifiers, NamedKey};
use kbvm::Keysym;

/// What a keysym is to a layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Symbol {
    /// Text of one character.
    Text(char),
    /// A named key.
    Key(NamedKey),
    /// A modifier that the host sees.
    Modifier(Modifiers),
    /// A dead key, by its name without `dead_`.
    Dead(&'static str),
    /// Opens level 3 or 5, latches it or locks it.
    Opener(u8),
    /// Nothing, on purpose.
    Nothing,
    /// Something that a layout has no word for, by its name.
    Other(String),
}

/// Keysym names of named keys, where they differ from the W3C names.
/// Source: the key table of W3C UI Events "key Values" gives the meanings, the
/// X protocol's keysym list (xproto appendix A) the names.
const NAMED: &[(&str, NamedKey)] = &[
    ("Return", NamedKey::Enter),
    ("ISO_Enter", NamedKey::Enter),
    ("BackSpace", NamedKey::Backspace),
    ("Prior", NamedKey::PageUp),
    ("Page_Up", NamedKey::PageUp),
    ("Next", NamedKey::PageDown),
    ("Page_Down", NamedKey::PageDown),
    ("Left", NamedKey::ArrowLeft),
    ("Right", NamedKey::ArrowRight),
    ("Up", NamedKey::ArrowUp),
    ("Down", NamedKey::ArrowDown),
    ("Caps_Lock", NamedKey::CapsLock),
    ("Num_Lock", NamedKey::NumLock),
    ("Scroll_Lock", NamedKey::ScrollLock),
    ("Menu", NamedKey::ContextMenu),
    ("Print", NamedKey::PrintScreen),
    ("Multi_key", NamedKey::Compose),
    ("Henkan", NamedKey::Convert),
    ("Henkan_Mode", NamedKey::Convert),
    ("Muhenkan", NamedKey::NonConvert),
    ("Hiragana_Katakana", NamedKey::KanaMode),
    ("XF86AudioRaiseVolume", NamedKey::AudioVolumeUp),
    ("XF86AudioLowerVolume", NamedKey::AudioVolumeDown),
    ("XF86AudioMute", NamedKey::AudioVolumeMute),
    ("XF86AudioPlay", NamedKey::MediaPlayPause),
    ("XF86AudioNext", NamedKey::MediaTrackNext),
    ("XF86AudioPrev", NamedKey::MediaTrackPrevious),
    ("XF86AudioStop", NamedKey::MediaStop),
    ("XF86MonBrightnessUp", NamedKey::BrightnessUp),
    ("XF86MonBrightnessDown", NamedKey::BrightnessDown),
];

/// Keysym names of modifiers that the host sees.
const MODIFIERS: &[(&str, Modifiers)] = &[
    ("Shift_L", Modifiers::SHIFT),
    ("Shift_R", Modifiers::SHIFT),
    ("Control_L", Modifiers::CTRL),
    ("Control_R", Modifiers::CTRL),
    ("Alt_L", Modifiers::ALT),
    ("Alt_R", Modifiers::ALT),
    ("Meta_L", Modifiers::META),
    ("Meta_R", Modifiers::META),
    ("Super_L", Modifiers::META),
    ("Super_R", Modifiers::META),
];

/// What `keysym` is.
pub fn symbol(keysym: Keysym) -> Symbol {
    let name = keysym.name().unwrap_or_default();
    if matches!(name, "NoSymbol" | "VoidSymbol") || keysym.0 == 0 {
        return Symbol::Nothing;
    }
    if let Some(dead) = name.strip_prefix("dead_") {
        return Symbol::Dead(dead);
    }
    if let Some((_, modifier)) = MODIFIERS.iter().find(|(known, _)| *known == name) {
        return Symbol::Modifier(*modifier);
    }
    for (level, prefix) in [(3, "ISO_Level3_"), (5, "ISO_Level5_")] {
        if name.starts_with(prefix) {
            return Symbol::Opener(level);
        }
    }
    if let Some((_, key)) = NAMED.iter().find(|(known, _)| *known == name) {
        return Symbol::Key(*key);
    }
    if let Ok(key) = name.parse::<NamedKey>()
        && Modifiers::of_key(key).is_none()
    {
        return Symbol::Key(key);
    }
    match keysym.char() {
        Some(c) if !c.is_control() => Symbol::Text(c),
        _ if name.is_empty() => Symbol::Other(format!("keysym {:#x}", keysym.0)),
        _ => Symbol::Other(name.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(name: &str) -> Symbol {
        symbol(Keysym::from_str(name).unwrap_or_else(|| panic!("{name}")))
    }

    #[test]
    fn every_name_of_the_tables_is_a_keysym() {
        for (name, key) in NAMED {
            assert_eq!(of(name), Symbol::Key(*key), "{name}");
        }
        for (name, modifier) in MODIFIERS {
            assert_eq!(of(name), Symbol::Modifier(*modifier), "{name}");
        }
    }

    #[test]
    fn control_characters_are_named_keys_and_the_rest_is_told_apart() {
        for name in ["Tab", "Escape", "Delete", "Insert", "Home", "End", "Pause", "F1", "F24"] {
            assert_eq!(of(name), Symbol::Key(name.parse().unwrap()));
        }
        assert_eq!(of("space"), Symbol::Text(' '));
        assert_eq!(of("EuroSign"), Symbol::Text('€'));
        assert_eq!(of("U2318"), Symbol::Text('⌘'));
        assert_eq!(of("dead_acute"), Symbol::Dead("acute"));
        assert_eq!(of("ISO_Level3_Latch"), Symbol::Opener(3));
        assert_eq!(of("NoSymbol"), Symbol::Nothing);
        assert_eq!(of("ISO_Next_Group"), Symbol::Other("ISO_Next_Group".into()));
    }
}
