//! Meanings and how they look; no other file names a colour.
//!
//! Every meaning also has a shape, a weight or a place of its own, so that
//! the plain theme loses nothing. Colours come from the terminal's own
//! sixteen, on its own background.

use ratatui::style::{Color, Modifier, Style};

/// What a piece of screen means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// Ordinary text.
    Text,
    /// What matters less: hints, frames of keys, what is already typed.
    Muted,
    /// What matters more: headings, figures.
    Strong,
    /// The place where the caret stands.
    Caret,
    /// The key to strike now.
    Due,
    /// The key that gives access to the due key's layer.
    Access,
    /// Typed wrongly.
    Wrong,
    /// Better than before.
    Better,
    /// Worse than before.
    Worse,
    /// A caution.
    Caution,
    /// A layer, by its number in the layout.
    Layer(u8),
    /// What is chosen in a list.
    Chosen,
    /// A step of a heat map, 0 the lowest to 3 the highest.
    Heat(u8),
}

/// What the terminal's background is, as far as known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ground {
    /// Not told: only colours that read on both.
    Unknown,
    /// Dark.
    Dark,
    /// Light.
    Light,
}

/// How meanings look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// False draws with weight and shape alone.
    pub colour: bool,
    /// The background.
    pub ground: Ground,
    /// False draws with ASCII alone, for locales without UTF-8.
    pub unicode: bool,
}

impl Theme {
    /// Without colour.
    pub const PLAIN: Self = Self { colour: false, ground: Ground::Unknown, unicode: true };

    /// The style of `meaning`.
    pub fn style(self, meaning: Meaning) -> Style {
        let style = Style::new();
        let weighted = match meaning {
            Meaning::Text | Meaning::Layer(_) | Meaning::Heat(1) => style,
            Meaning::Muted | Meaning::Heat(0) => style.add_modifier(Modifier::DIM),
            Meaning::Strong | Meaning::Better | Meaning::Caution | Meaning::Heat(_) => {
                style.add_modifier(Modifier::BOLD)
            }
            Meaning::Caret => style.add_modifier(Modifier::REVERSED),
            Meaning::Due | Meaning::Chosen => {
                style.add_modifier(Modifier::REVERSED | Modifier::BOLD)
            }
            Meaning::Access => style.add_modifier(Modifier::BOLD | Modifier::UNDERLINED),
            Meaning::Wrong | Meaning::Worse => {
                style.add_modifier(Modifier::BOLD | Modifier::UNDERLINED)
            }
        };
        match self.colour.then(|| self.colour_of(meaning)).flatten() {
            Some(colour) => weighted.fg(colour),
            None => weighted,
        }
    }

    fn colour_of(self, meaning: Meaning) -> Option<Color> {
        let (warm, cool, accent) = match self.ground {
            Ground::Dark => (Color::LightYellow, Color::LightCyan, Color::LightMagenta),
            Ground::Light => (Color::Red, Color::Blue, Color::Magenta),
            // Of the sixteen, these read on black and on white alike.
            Ground::Unknown => (Color::Red, Color::Cyan, Color::Magenta),
        };
        match meaning {
            Meaning::Text | Meaning::Muted | Meaning::Strong | Meaning::Caret | Meaning::Chosen => {
                None
            }
            Meaning::Due | Meaning::Better | Meaning::Heat(1) => Some(cool),
            Meaning::Access | Meaning::Heat(2) => Some(accent),
            Meaning::Layer(0) | Meaning::Heat(0) => None,
            Meaning::Wrong | Meaning::Worse | Meaning::Caution | Meaning::Heat(_) => Some(warm),
            // Layers never look like mistakes: the warm colour is left out.
            Meaning::Layer(number) => {
                let colours = match self.ground {
                    Ground::Dark => [accent, cool, Color::LightGreen, Color::LightBlue],
                    Ground::Light => [accent, cool, Color::Green, Color::Cyan],
                    // No fourth colour reads on both grounds.
                    Ground::Unknown => [accent, cool, Color::Green, Color::Reset],
                };
                Some(colours[(usize::from(number) - 1) % 4])
            }
        }
    }
}
