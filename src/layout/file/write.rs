//! Layouts to text.

use crate::layout::{Layout, token};
use std::fmt::Write;
use unicode_width::UnicodeWidthStr;

/// The file that [`read`](super::read) turns into `layout` again.
pub fn write(layout: &Layout) -> String {
    let mut text = String::new();
    // Writing to a String never fails.
    let _ = write_to(&mut text, layout);
    text
}

fn write_to(text: &mut String, layout: &Layout) -> std::fmt::Result {
    for line in &layout.reasons {
        writeln!(text, "{}", format!("# {line}").trim_end_matches(' '))?;
    }
    if !layout.reasons.is_empty() {
        writeln!(text)?;
    }
    writeln!(text, "name = {}", quote(&layout.name))?;
    writeln!(text, "title = {}", quote(&layout.title))?;
    writeln!(text, "board = {}", quote(&layout.board.name))?;
    if let Some(old_way) = &layout.old_way {
        writeln!(text, "old_way = {}", quote(old_way))?;
    }
    if !layout.shift.us || !layout.shift.pairs.is_empty() {
        writeln!(text, "\n[shift]")?;
        writeln!(text, "table = \"{}\"", if layout.shift.us { "us" } else { "letters" })?;
        if !layout.shift.pairs.is_empty() {
            let pairs: Vec<String> = layout
                .shift
                .pairs
                .iter()
                .map(|(plain, shifted)| {
                    format!("{} = {}", quote(&plain.to_string()), quote(&shifted.to_string()))
                })
                .collect();
            writeln!(text, "pairs = {{ {} }}", pairs.join(", "))?;
        }
    }
    if !layout.fingers.is_empty() {
        writeln!(text, "\n[fingers]")?;
        for (position, finger) in &layout.fingers {
            writeln!(text, "{position} = \"{finger}\"")?;
        }
    }
    for (name, action) in &layout.actions {
        writeln!(text, "\n[actions.{}]", quote(name))?;
        writeln!(text, "chord = {}", quote(&action.chord.to_string()))?;
        writeln!(text, "title = {}", quote(&action.title))?;
    }
    if !layout.prefer.is_empty() {
        writeln!(text, "\n[prefer]")?;
        for (output, (layer, position)) in &layout.prefer {
            let place = format!("{} {position}", layout.layer(*layer).name);
            writeln!(text, "{} = {}", quote(&token::write_output(output)), quote(&place))?;
        }
    }
    let names: Vec<String> = layout.layers.iter().map(|layer| layer.name.clone()).collect();
    for layer in &layout.layers {
        writeln!(text, "\n[[layer]]")?;
        writeln!(text, "name = {}", quote(&layer.name))?;
        writeln!(text, "cluster = \"{}\"", layer.cluster.word())?;
        writeln!(text, "sign = {}", quote(&layer.sign))?;
        if let Some(marker) = layer.marker {
            writeln!(text, "marker = {}", quote(marker.name()))?;
        }
        writeln!(text, "keys = '''")?;
        let tokens: Vec<String> =
            layer.keys.iter().map(|assignment| token::write(assignment, &names)).collect();
        write_rows(text, &tokens, &layout.board.rows)?;
        writeln!(text, "'''")?;
    }
    Ok(())
}

/// Writes tokens in columns, so that rows can be read against each other.
fn write_rows(text: &mut String, tokens: &[String], rows: &[usize]) -> std::fmt::Result {
    let mut lines: Vec<&[String]> = Vec::new();
    let mut rest = tokens;
    for &count in rows {
        let (line, after) = rest.split_at(count.min(rest.len()));
        lines.push(line);
        rest = after;
    }
    let columns = lines.iter().map(|line| line.len()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|column| {
            lines.iter().filter_map(|line| line.get(column)).map(|t| t.width()).max().unwrap_or(0)
        })
        .collect();
    for line in lines {
        let mut written = String::new();
        for (token, width) in line.iter().zip(&widths) {
            written.push_str(token);
            let fill = width.saturating_sub(token.width()) + 1;
            written.extend(std::iter::repeat_n(' ', fill));
        }
        writeln!(text, "{}", written.trim_end_matches(' '))?;
    }
    Ok(())
}

/// A TOML basic string.
fn quote(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            c if c.is_control() => {
                let _ = write!(quoted, "\\u{:04X}", u32::from(c));
            }
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}
