//! The row that says that layers are played, and by which keys.

use crate::keyboard::NamedKey;
use crate::layout::{AccessKind, Layout};
use crate::played::{Player, Way};
use crate::ui::theme::{Meaning, Theme};
use ratatui::text::{Line, Span};

/// "Layers played by Etude: hold Caps S · Space V"; a layer that is open is
/// marked as key caps mark accesses.
pub fn line(player: &Player, layout: &Layout, theme: Theme) -> Line<'static> {
    let held = player.way() == Way::Held;
    let muted = theme.style(Meaning::Muted);
    let mut spans = vec![Span::styled("Layers played by Etude:", theme.style(Meaning::Caution))];
    if held {
        spans.push(Span::styled(" hold", muted));
    }
    let dot = if theme.unicode { " ·" } else { "," };
    for (n, (key, layer, open)) in player.openers().into_iter().enumerate() {
        if n > 0 {
            spans.push(Span::styled(dot, muted));
        }
        let key = key.parse::<NamedKey>().map_or(key, |named| named.short().to_owned());
        let sign = match (open, theme.unicode) {
            (None, _) => "",
            (Some(AccessKind::Hold), true) => "↓",
            (Some(AccessKind::Hold), false) => "_",
            (Some(AccessKind::Latch), true) => "¹",
            (Some(AccessKind::Latch), false) => "1",
            (Some(AccessKind::Lock), true) => "∞",
            (Some(AccessKind::Lock), false) => "=",
        };
        let style = if open.is_some() {
            theme.style(Meaning::Chosen)
        } else {
            theme.style(Meaning::Layer(layer.0))
        };
        spans.push(Span::styled(format!(" {key} "), muted));
        spans.push(Span::styled(format!("{sign}{}", layout.layer(layer).sign), style));
    }
    if !held {
        spans.push(Span::styled("; twice locks", muted));
    }
    Line::from(spans)
}
