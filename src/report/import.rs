//! What came of an import, as text and JSON.

use super::board::text_of;
use super::layout::counted;
use crate::import::Outcome;
use crate::ui::theme::{Meaning, Theme};
use ratatui::text::{Line, Span};
use serde_json::{Value, json};
use std::path::Path;

/// How many of the things left out are told by name in the text.
const SHOWN: usize = 6;

/// The outcome as lines; `path` is the file that was written.
pub fn text(outcome: &Outcome, path: Option<&Path>, theme: Theme) -> Vec<String> {
    let line = |spans: Vec<Span<'_>>| text_of(&Line::from(spans), theme.colour);
    let layout = &outcome.layout;
    let written = path.map_or_else(String::new, |path| format!(", written to {}", path.display()));
    let heading = format!(
        "{}: {} on {}{written}",
        layout.name,
        counted(layout.layers.len(), "layer"),
        layout.board.name
    );
    let mut lines = vec![line(vec![Span::styled(heading, theme.style(Meaning::Strong))])];
    let counts = outcome.counts;
    lines.push(format!(
        "  {}, {}, {}; {} unreachable, {} ignored",
        counted(counts.characters, "character"),
        counted(counts.dead_keys, "dead key"),
        counted(counts.named_keys, "named key"),
        counts.unreachable,
        counts.ignored
    ));
    if !outcome.left_out.is_empty() {
        lines.push(String::new());
        lines.push(line(vec![Span::styled("Left out", theme.style(Meaning::Strong))]));
    }
    for left in &outcome.left_out {
        let mut text = format!("  {}", left.why);
        if !left.what.is_empty() {
            let first: Vec<&str> = left.what.iter().take(SHOWN).map(String::as_str).collect();
            text = format!("{text}: {}", first.join(", "));
            if left.what.len() > SHOWN {
                text = format!("{text} and {} more", left.what.len() - SHOWN);
            }
        }
        lines.push(text);
    }
    lines.push(String::new());
    lines.push(line(vec![Span::styled("Yours to tell", theme.style(Meaning::Strong))]));
    lines.extend(outcome.to_tell.iter().map(|told| format!("  {told}")));
    if let Some(path) = path {
        lines.push(String::new());
        lines.push(format!("Next: etude layout check {}", path.display()));
    }
    lines
}

/// The outcome, schema `etude.layout-import/1`.
pub fn json(outcome: &Outcome, path: &Path) -> Value {
    let layout = &outcome.layout;
    json!({
        "schema": "etude.layout-import/1",
        "name": layout.name,
        "title": layout.title,
        "board": layout.board.name,
        "file": path.display().to_string(),
        "layers": layout.layers.iter().map(|layer| json!({
            "name": layer.name,
            "cluster": layer.cluster.word(),
        })).collect::<Vec<_>>(),
        "counts": {
            "characters": outcome.counts.characters,
            "dead_keys": outcome.counts.dead_keys,
            "named_keys": outcome.counts.named_keys,
            "unreachable": outcome.counts.unreachable,
            "ignored": outcome.counts.ignored,
        },
        "left_out": outcome.left_out.iter().map(|left| json!({
            "why": left.why,
            "what": left.what,
        })).collect::<Vec<_>>(),
        "to_tell": outcome.to_tell,
    })
}
