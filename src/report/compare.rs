//! Two layouts side by side, as text and JSON.

use super::board::text_of;
use super::layout::{by_whose_text, counted};
use crate::keyboard::{Output, Position};
use crate::layout::Layout;
use crate::layout::compare::{Comparison, ItemName, Moved, Way};
use crate::order::Gather;
use crate::store::Carried;
use crate::store::wall_clock::day_text;
use crate::ui::theme::{Meaning, Theme};
use ratatui::text::{Line, Span};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use unicode_width::UnicodeWidthStr;

/// How many rows a list of the text has at most.
const SHOWN: usize = 20;

/// What there is to tell.
pub struct Told<'a> {
    /// The layout before.
    pub before: &'a Layout,
    /// The layout now.
    pub now: &'a Layout,
    /// What differs.
    pub comparison: Comparison,
    /// What becomes of the history; none where none was asked for.
    pub carried: Option<Carried>,
    /// The day of the survey that tells what a page needs; none where the text
    /// that ships does.
    pub surveyed: Option<i32>,
}

/// The outputs whose ways differ, by what happened to them.
struct Parts<'a> {
    moved: Vec<&'a Moved>,
    new: Vec<&'a Moved>,
    gone: Vec<&'a Moved>,
}

impl<'a> Parts<'a> {
    fn of(comparison: &'a Comparison) -> Self {
        let part = |before: bool, now: bool| {
            let fits =
                |moved: &&Moved| moved.before.is_some() == before && moved.now.is_some() == now;
            comparison.moved.iter().filter(fits).collect::<Vec<_>>()
        };
        Self { moved: part(true, true), new: part(false, true), gone: part(true, false) }
    }
}

/// The change of effort in percent of what it was.
fn percent(comparison: &Comparison) -> Option<f64> {
    let (before, now) = (comparison.effort_before, comparison.effort_now);
    (before > 0.0).then(|| (now / before - 1.0) * 100.0)
}

fn keys(way: Option<&Way>) -> String {
    way.map_or_else(String::new, |way| format!("{} ({})", way.keys(), way.layer))
}

/// The comparison as lines.
pub fn text(told: &Told<'_>, theme: Theme) -> Vec<String> {
    let comparison = &told.comparison;
    let parts = Parts::of(comparison);
    let strong = |text: String| {
        let line = Line::from(Span::styled(text, theme.style(Meaning::Strong)));
        text_of(&line, theme.colour)
    };
    let title = if told.carried.is_some() {
        format!("{}: as practised last, and now", told.now.name)
    } else {
        format!("{} and {}", told.before.name, told.now.name)
    };
    let mut lines = vec![strong(title)];
    if comparison.moved.is_empty() {
        lines.push(format!("  all {} outputs have the same keys", comparison.same));
    } else {
        lines.push(format!(
            "  {} with the same keys, {} with others, {} new, {} gone",
            counted(comparison.same, "output"),
            parts.moved.len(),
            parts.new.len(),
            parts.gone.len()
        ));
    }
    if let Some(percent) = percent(comparison) {
        let change = if percent.abs() < 0.05 {
            "no change".to_owned()
        } else {
            let sign = if percent < 0.0 { "-" } else { "+" };
            format!("{sign}{:.1} %", percent.abs())
        };
        lines.push(format!(
            "  effort of a page: {:.0}, was {:.0} ({change}); strikes of a resting index finger",
            comparison.effort_now, comparison.effort_before
        ));
        lines.push(format!("  a page {}", by_whose_text(told.surveyed)));
    }
    for (name, before, now) in &comparison.accesses {
        let list = |positions: &[Position]| {
            let names: Vec<String> = positions.iter().map(Position::to_string).collect();
            if names.is_empty() { "none".to_owned() } else { names.join(", ") }
        };
        lines.push(format!("  access to {name}: {}, was {}", list(now), list(before)));
    }
    if !parts.moved.is_empty() {
        lines.push(String::new());
        lines.push(strong("Other keys: times a page, keys, effort".to_owned()));
        lines.extend(table(&parts.moved));
    }
    for (title, part) in [("New", &parts.new), ("Gone", &parts.gone)] {
        if !part.is_empty() {
            lines.push(String::new());
            lines.push(strong(title.to_owned()));
            lines.extend(names(part));
        }
    }
    let anew: Vec<&&Moved> =
        parts.moved.iter().chain(&parts.new).filter(|moved| moved.times > 0.0).collect();
    if !anew.is_empty() {
        lines.push(String::new());
        lines.push(strong("To be learnt anew, what is needed most first".to_owned()));
        let words: Vec<String> = anew.iter().map(|moved| moved.output.to_string()).collect();
        lines.extend(wrapped(&words));
    }
    if let Some(carried) = &told.carried {
        lines.push(String::new());
        lines.push(strong("What you have practised".to_owned()));
        lines.extend(history(carried));
    }
    lines
}

fn history(carried: &Carried) -> Vec<String> {
    if carried.n_versions == 0 {
        return vec!["  all of it counts: the layout is as it was practised".to_owned()];
    }
    let mut lines = vec![format!(
        "  {} keep their history: their keys are the same",
        counted(carried.kept.len(), "key")
    )];
    let outputs = |items: &BTreeSet<ItemName>| {
        let found: BTreeSet<&Output> = items.iter().map(|(_, _, output)| output).gather();
        found.into_iter().map(Output::to_string).collect::<Vec<_>>()
    };
    for (items, words) in [
        (&carried.changed, "start anew: the way to them is another"),
        (&carried.gone, "are not on their layer any more"),
    ] {
        if !items.is_empty() {
            lines.push(format!("  {} {words}:", counted(items.len(), "key")));
            lines.extend(wrapped(&outputs(items)));
        }
    }
    lines.push(
        "  Nothing is deleted: exports have all of it, and it counts again if a key goes back."
            .to_owned(),
    );
    lines
}

fn table(moved: &[&Moved]) -> Vec<String> {
    let rows: Vec<[String; 5]> = moved
        .iter()
        .take(SHOWN)
        .map(|moved| {
            [
                moved.output.to_string(),
                format!("{:.1}", moved.times),
                keys(moved.before.as_ref()),
                keys(moved.now.as_ref()),
                format!("{:.1}, was {:.1}", moved.effort_now, moved.effort_before),
            ]
        })
        .collect();
    let width = |column: usize| rows.iter().map(|row| row[column].width()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..5).map(width).collect();
    let pad = |text: &str, column: usize| {
        let fill = " ".repeat(widths[column].saturating_sub(text.width()));
        if column == 1 { format!("{fill}{text}") } else { format!("{text}{fill}") }
    };
    let mut lines: Vec<String> = rows
        .iter()
        .map(|[output, times, before, now, effort]| {
            let [output, times] = [pad(output, 0), pad(times, 1)];
            let [before, now] = [pad(before, 2), pad(now, 3)];
            format!("  {output}  {times}  {before}  to  {now}  {effort}")
        })
        .collect();
    lines.extend(more(moved.len()));
    lines
}

fn more(count: usize) -> Option<String> {
    (count > SHOWN).then(|| format!("  and {} more; --json has all", count - SHOWN))
}

fn names(part: &[&Moved]) -> Vec<String> {
    let words: Vec<String> = part.iter().map(|moved| moved.output.to_string()).collect();
    wrapped(&words)
}

/// Words in lines of at most 78 columns.
fn wrapped(words: &[String]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::from("   ");
    for word in words {
        if line.width() + 1 + word.width() > 78 {
            lines.push(std::mem::replace(&mut line, String::from("   ")));
        }
        line.push(' ');
        line.push_str(word);
    }
    if !line.trim().is_empty() {
        lines.push(line);
    }
    lines
}

/// The comparison, schema `etude.layout-compare/1`.
pub fn json(told: &Told<'_>) -> Value {
    let comparison = &told.comparison;
    let round = |value: f64| (value * 1000.0).round() / 1000.0;
    let way = |way: Option<&Way>| {
        way.map(|way| {
            json!({
                "layer": way.layer,
                "accesses": way.accesses.iter().map(|(position, finger, kind, target)| json!({
                    "position": position.to_string(),
                    "finger": finger.to_string(),
                    "kind": kind.word(),
                    "target": target,
                })).collect::<Vec<_>>(),
                "position": way.position.to_string(),
                "finger": way.finger.to_string(),
            })
        })
    };
    let names =
        |positions: &[Position]| positions.iter().map(Position::to_string).collect::<Vec<_>>();
    let items = |items: &BTreeSet<ItemName>| {
        items
            .iter()
            .map(|(layer, position, output)| {
                json!({
                    "layer": layer,
                    "position": position.to_string(),
                    "output": output.to_string(),
                })
            })
            .collect::<Vec<_>>()
    };
    json!({
        "schema": "etude.layout-compare/1",
        "before": told.before.name,
        "now": told.now.name,
        "surveyed": told.surveyed.map(day_text),
        "same": comparison.same,
        "effort_before": round(comparison.effort_before),
        "effort_now": round(comparison.effort_now),
        "accesses": comparison.accesses.iter().map(|(layer, before, now)| json!({
            "layer": layer,
            "before": names(before),
            "now": names(now),
        })).collect::<Vec<_>>(),
        "moved": comparison.moved.iter().map(|moved| json!({
            "output": moved.output.to_string(),
            "times_a_page": round(moved.times),
            "before": way(moved.before.as_ref()),
            "now": way(moved.now.as_ref()),
            "effort_before": round(f64::from(moved.effort_before)),
            "effort_now": round(f64::from(moved.effort_now)),
        })).collect::<Vec<_>>(),
        "history": told.carried.as_ref().map(|carried| json!({
            "earlier_versions": carried.n_versions,
            "kept": items(&carried.kept),
            "changed": items(&carried.changed),
            "gone": items(&carried.gone),
        })),
    })
}
