//! What a survey found, as text and JSON.

use super::layout::counted;
use super::pays::{self, Pays};
use super::table::Table;
use crate::layout::{Layer, LayerId, Layout};
use crate::order::InOrder;
use crate::plan::{Need, PAGE};
use crate::store::KeptSurvey;
use crate::store::wall_clock::day_text;
use crate::survey::{Counts, FIGURES, Figure};
use crate::ui::theme::Theme;
use serde_json::{Value, json};

/// How many characters and pairs are told.
const MOST: usize = 20;

/// What was read, and what was left out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Read {
    /// Texts that were counted.
    pub files: u64,
    /// Their bytes.
    pub bytes: u64,
    /// Lines in them that were too long to be typed.
    pub long_lines: u64,
    /// Files with a NUL byte.
    pub binary: u64,
    /// Files that are no UTF-8.
    pub not_utf8: u64,
    /// Files that are too large to be typed.
    pub too_large: u64,
    /// What could not be read, with the reason.
    pub unreadable: Vec<String>,
}

/// What is told.
pub struct Told<'a> {
    /// The layout in use.
    pub layout: &'a Layout,
    /// What was read.
    pub read: Read,
    /// What was counted by kind, and the habits.
    pub kept: &'a KeptSurvey,
    /// Whether it is kept.
    pub is_kept: bool,
    /// What was counted.
    pub counts: &'a Counts,
    /// What a page of it needs of the layout.
    pub need: Need,
    /// What it costs, and which layer first; none for a layout that names no
    /// old way.
    pub pays: Option<Pays<'a>>,
}

/// What was left out, in words.
pub fn left_out(read: &Read) -> String {
    let parts: Vec<String> = [
        (read.binary, "binary"),
        (read.not_utf8, "not UTF-8"),
        (read.too_large, "too large"),
        (read.unreadable.len() as u64, "not to be read"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, why)| format!("{n} {why}"))
    .collect();
    if parts.is_empty() { "no text was found".to_owned() } else { parts.join(", ") }
}

/// The name of a character where it doesn't show.
fn name(c: char) -> String {
    match c {
        '\n' => "Enter".to_owned(),
        '\t' => "Tab".to_owned(),
        ' ' => "Space".to_owned(),
        c if c.is_control() => format!("U+{:04X}", u32::from(c)),
        c => c.to_string(),
    }
}

/// What is neither a letter nor blank, most first; ties in the order of
/// characters.
fn marks(counts: &Counts) -> Vec<(char, u64)> {
    let mut marks: Vec<(char, u64)> = counts.chars.iter().map(|(c, n)| (*c, *n)).collect();
    marks.retain(|(c, _)| !c.is_alphabetic() && *c != ' ');
    marks.order_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    marks.truncate(MOST);
    marks
}

/// Pairs of two marks, most first.
fn pairs(counts: &Counts) -> Vec<((char, char), u64)> {
    let mark = |c: char| !c.is_alphanumeric() && !c.is_whitespace();
    let mut pairs: Vec<((char, char), u64)> =
        counts.pairs.iter().map(|(pair, n)| (*pair, *n)).collect();
    pairs.retain(|((one, other), _)| mark(*one) && mark(*other));
    pairs.order_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    pairs.truncate(MOST);
    pairs
}

/// Backspaces a stroke of text, which no text shows: 6.3 corrections in 100
/// characters of 136 million keystrokes (Dhakal et al. 2018, from memory). Told
/// only; the bill goes without.
const BACKSPACES: f64 = 0.063;

/// So many a page.
fn a_page(n: f64, typed: u64) -> f64 {
    n * PAGE / typed.max(1) as f64
}

/// Whether the counts are kept, in words.
fn kept_words(told: &Told<'_>) -> String {
    if told.is_kept {
        format!("counts of {} are kept, no text is", day_text(told.kept.day))
    } else {
        "only counts were made, and they are not kept".to_owned()
    }
}

/// The person's habits, each with whose figure it is.
fn habits(kept: &KeptSurvey) -> Vec<(&'static str, &'static str, f64, bool)> {
    let habits = kept.habits();
    let one = |figure: &Figure| {
        (figure.word, figure.asks, habits.figure(*figure), kept.answers.own(*figure).is_some())
    };
    FIGURES.iter().map(one).collect()
}

/// The survey as text.
pub fn text(told: &Told<'_>, theme: Theme) -> Vec<String> {
    let Told { layout, read, counts, .. } = told;
    let total = counts.total();
    let mut lines = vec![format!(
        "{}, {} in {}; {}",
        counted(read.files as usize, "text"),
        counted(total as usize, "character"),
        counted(counts.chars.get(&'\n').copied().unwrap_or(0) as usize, "line"),
        kept_words(told)
    )];
    if *read != (Read { files: read.files, bytes: read.bytes, ..Read::default() }) {
        let mut words = vec![left_out(read)];
        words.retain(|words| words != "no text was found");
        if read.long_lines > 0 {
            words.push(format!(
                "{} too long to be typed",
                counted(read.long_lines as usize, "line")
            ));
        }
        lines.push(format!("left out: {}", words.join("; ")));
        lines.extend(read.unreadable.iter().map(|why| format!("  {why}")));
    }
    let mut section = |title: &str, table: Table| {
        if !table.is_empty() {
            lines.push(String::new());
            lines.push(title.to_owned());
            lines.extend(table.lines());
        }
    };
    let share = |n: u64| format!("{:.1} %", 100.0 * n as f64 / total.max(1) as f64);
    let mut table = Table::new(&["<kind", "texts", "characters", "share"]);
    for (kind, files, chars) in &told.kept.kinds {
        table.row(vec![kind.clone(), files.to_string(), chars.to_string(), share(*chars)]);
    }
    section("What it is", table);
    let mut table = Table::new(&["<layer", "a page", "share", "entered", "left", "run"]);
    let layers = layers(told);
    let strokes: f64 = layers.iter().map(|layer| layer.strokes).sum();
    for layer in &layers {
        table.row(vec![
            layer.name.to_owned(),
            format!("{:.0}", layer.strokes),
            format!("{:.1} %", 100.0 * layer.strokes / strokes.max(f64::MIN_POSITIVE)),
            format!("{:.0}", layer.entered),
            format!("{:.0}", layer.left),
            layer.run().map_or_else(String::new, |run| format!("{run:.1}")),
        ]);
    }
    let title = format!(
        "By layer of {}, strokes of {PAGE:.0} characters and keys besides; run: strokes an entry",
        layout.name
    );
    section(&title, table);
    let mut table = Table::new(&["<besides", "times", "a page"]);
    for (name, times) in besides(counts) {
        let page = format!("{:.1}", a_page(times as f64, total));
        table.row(vec![name.to_owned(), times.to_string(), page]);
    }
    let assumed = format!("{:.1}", BACKSPACES * PAGE);
    table.row(vec!["Backspace".to_owned(), "assumed".to_owned(), assumed]);
    section("Capitals, and keys beside characters", table);
    let mut table = Table::new(&["<character", "times", "a page"]);
    for (c, n) in marks(counts) {
        let page = format!("{:.1}", a_page(n as f64, total));
        table.row(vec![name(c), n.to_string(), page]);
    }
    section("Most used beside letters and blanks", table);
    let mut table = Table::new(&["<pair", "times", "a page"]);
    for ((one, other), n) in pairs(counts) {
        let page = format!("{:.1}", a_page(n as f64, total));
        table.row(vec![format!("{one}{other}"), n.to_string(), page]);
    }
    section("Most used pairs of marks", table);
    let mut table = Table::new(&["<besides text", "figure", "<whose"]);
    for (_, asks, figure, own) in habits(told.kept) {
        let whose = if own { "yours" } else { "assumed" };
        table.row(vec![asks.to_owned(), format!("{figure:.0}"), whose.to_owned()]);
    }
    section("How you work (etude survey --ask, or --habits FILE)", table);
    lines.push(String::new());
    match &told.pays {
        Some(found) => lines.extend(pays::text(found, theme)),
        None => lines.push(format!(
            "{} names no old way to compare with: `old_way` in its file (docs/layouts.md)",
            layout.name
        )),
    }
    lines.push(String::new());
    lines.push(
        "Blanks at line starts count as nothing: editors put them. What is not measured".into(),
    );
    lines.push("goes by what is assumed of somebody who touch-types (docs/survey.md).".into());
    lines
}

/// What a page needs of a layer.
struct OfLayer<'a> {
    name: &'a str,
    strokes: f64,
    entered: f64,
    left: f64,
}

impl OfLayer<'_> {
    /// Strokes in a row on it, on average; none where it is never entered.
    fn run(&self) -> Option<f64> {
        (self.entered > 0.0).then(|| self.strokes / self.entered)
    }
}

fn layers<'a>(told: &'a Told<'_>) -> Vec<OfLayer<'a>> {
    // A sum of nothing is minus zero.
    let sum = |times: &mut dyn Iterator<Item = f64>| times.fold(0.0, |sum, one| sum + one);
    let need = &told.need;
    let one = |(id, layer): (LayerId, &'a Layer)| OfLayer {
        name: &layer.name,
        strokes: sum(&mut need.items().filter(|(key, _)| key.0 == id).map(|one| one.1)),
        entered: sum(&mut need.switches().filter(|((_, to), _)| *to == id).map(|one| one.1)),
        left: sum(&mut need.switches().filter(|((from, _), _)| *from == id).map(|one| one.1)),
    };
    told.layout.layers().map(one).collect()
}

/// Capitals, line ends and tabs, with how often each comes.
fn besides(counts: &Counts) -> [(&'static str, u64); 3] {
    let of = |wanted: &dyn Fn(char) -> bool| {
        counts.chars.iter().filter(|(c, _)| wanted(**c)).map(|(_, times)| times).sum()
    };
    [
        ("capitals", of(&char::is_uppercase)),
        ("Enter", of(&|c| c == '\n')),
        ("Tab", of(&|c| c == '\t')),
    ]
}

/// The survey as JSON.
pub fn json(told: &Told<'_>) -> Value {
    let Told { read, counts, .. } = told;
    let characters: Vec<Value> =
        counts.chars.iter().map(|(c, n)| json!({ "character": c, "n": n })).collect();
    let pairs: Vec<Value> = counts
        .pairs
        .iter()
        .map(|((one, other), n)| json!({ "first": one, "second": other, "n": n }))
        .collect();
    let kinds: Vec<Value> = told
        .kept
        .kinds
        .iter()
        .map(|(kind, files, chars)| json!({ "kind": kind, "texts": files, "characters": chars }))
        .collect();
    // What the board shows as a heat map.
    let keys: Vec<Value> = told
        .need
        .items()
        .map(|((id, output), times)| {
            let layer = &told.layout.layer(*id).name;
            json!({ "layer": layer, "output": output.to_string(), "a_page": times })
        })
        .collect();
    json!({
        "schema": "etude.survey/1",
        "texts": read.files,
        "text_bytes": read.bytes,
        "left_out": {
            "binary": read.binary,
            "not_utf8": read.not_utf8,
            "too_large": read.too_large,
            "unreadable": read.unreadable,
            "long_lines": read.long_lines,
        },
        "date": day_text(told.kept.day),
        "kept": told.is_kept,
        "habits": habits(told.kept).into_iter().map(|(word, _, figure, own)| json!({
            "habit": word, "figure": figure, "own": own,
        })).collect::<Vec<_>>(),
        "kinds": kinds,
        "characters": characters,
        "pairs": pairs,
        "page_strokes": PAGE,
        "layers": layers(told).iter().map(|layer| json!({
            "layer": layer.name,
            "strokes": layer.strokes,
            "entered": layer.entered,
            "left": layer.left,
            "run": layer.run(),
        })).collect::<Vec<_>>(),
        "keys": keys,
        "backspaces_assumed": BACKSPACES * PAGE,
        "pays": told.pays.as_ref().map(pays::json),
    })
}
