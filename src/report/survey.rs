//! What a survey found, as text and JSON.

use super::table::Table;
use crate::layout::Layout;
use crate::plan::{PAGE, PageTime};
use crate::survey::{Bill, Counts};
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

/// What the text costs on a layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Bills {
    /// Presses and ways.
    pub bill: Bill,
    /// The time of a page.
    pub page: PageTime,
    /// The share of it that is measured, 0 to 1.
    pub measured: f64,
}

/// What is told.
#[derive(Debug, Clone)]
pub struct Told<'a> {
    /// The layout in use.
    pub layout: &'a Layout,
    /// The layout used before.
    pub old: Option<&'a Layout>,
    /// What was read.
    pub read: Read,
    /// Kind, texts, characters; most characters first.
    pub kinds: Vec<(&'static str, u64, u64)>,
    /// What was counted.
    pub counts: &'a Counts,
    /// The bill on the layout in use.
    pub now: Bills,
    /// The bill on the old way.
    pub before: Option<Bills>,
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
    marks.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    marks.truncate(MOST);
    marks
}

/// Pairs of two marks, most first.
fn pairs(counts: &Counts) -> Vec<((char, char), u64)> {
    let mark = |c: char| !c.is_alphanumeric() && !c.is_whitespace();
    let mut pairs: Vec<((char, char), u64)> =
        counts.pairs.iter().map(|(pair, n)| (*pair, *n)).collect();
    pairs.retain(|((one, other), _)| mark(*one) && mark(*other));
    pairs.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    pairs.truncate(MOST);
    pairs
}

/// So many a page.
fn a_page(n: f64, typed: u64) -> f64 {
    n * PAGE / typed.max(1) as f64
}

fn row(bills: &Bills) -> Vec<(&'static str, String)> {
    let bill = &bills.bill;
    let page = |n: u64| format!("{:.0}", a_page(n as f64, bill.typed));
    let share = |n: u64| format!("{:.1} %", 100.0 * n as f64 / bill.presses.max(1) as f64);
    let (low, high) = bills.page.interval();
    vec![
        ("presses", page(bill.presses)),
        ("three keys at once", page(bill.chords)),
        ("layer switches", page(bill.switches)),
        ("same finger, another key", page(bill.same_finger)),
        ("finger travel", format!("{:.1} m", a_page(bill.travel_m(), bill.typed))),
        ("presses off the home block", share(bill.off_home)),
        ("by little fingers", share(bill.little)),
        ("by thumbs", share(bill.thumb)),
        ("time", format!("{:.0} s", bills.page.seconds)),
        ("  90 % interval", format!("{low:.0}-{high:.0} s")),
        ("  of it measured", format!("{:.0} %", 100.0 * bills.measured)),
    ]
}

/// The survey as text.
pub fn text(told: &Told<'_>) -> Vec<String> {
    let Told { layout, read, counts, now, .. } = told;
    let total = counts.total();
    let mut lines = vec![format!(
        "{} texts, {} characters in {} lines; only counts were made",
        read.files,
        total,
        counts.chars.get(&'\n').copied().unwrap_or(0)
    )];
    if *read != (Read { files: read.files, bytes: read.bytes, ..Read::default() }) {
        let mut words = vec![left_out(read)];
        words.retain(|words| words != "no text was found");
        if read.long_lines > 0 {
            words.push(format!("{} lines too long to be typed", read.long_lines));
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
    for (kind, files, chars) in &told.kinds {
        table.row(vec![(*kind).into(), files.to_string(), chars.to_string(), share(*chars)]);
    }
    section("What it is", table);
    let mut table = Table::new(&["<layer", "characters", "share"]);
    for (id, layer) in layout.layers() {
        let n = now.bill.layers.get(&id).copied().unwrap_or(0);
        table.row(vec![layer.name.clone(), n.to_string(), share(n)]);
    }
    section(&format!("By layer of {}", layout.name), table);
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
    let title = format!("What a page of {PAGE:.0} strokes costs");
    if let (Some(before), Some(old)) = (&told.before, told.old) {
        let mut table = Table::new(&["<", "now", "old way"]);
        for ((what, now), (_, before)) in row(now).into_iter().zip(row(before)) {
            table.row(vec![what.to_owned(), now, before]);
        }
        section(&format!("{title}: {} now, {} as the old way", layout.name, old.name), table);
    } else {
        let mut table = Table::new(&["<", "now"]);
        for (what, now) in row(now) {
            table.row(vec![what.to_owned(), now]);
        }
        section(&format!("{title} on {}", layout.name), table);
    }
    let lacking = &now.bill.lacking;
    if !lacking.is_empty() {
        let mut most: Vec<(char, u64)> = lacking.iter().map(|(c, n)| (*c, *n)).collect();
        most.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
        let names: Vec<String> = most.iter().take(MOST).map(|(c, _)| name(*c)).collect();
        lines.push(String::new());
        lines.push(format!(
            "{} characters that {} can't type, most first: {}",
            lacking.values().sum::<u64>(),
            layout.name,
            names.join(" ")
        ));
    }
    lines.push(String::new());
    lines.push(
        "Blanks at line starts count as nothing. Fingers travel from their rest and back. What is \
         not measured"
            .to_owned(),
    );
    lines.push("goes by what is assumed of somebody who touch-types (docs/survey.md).".to_owned());
    lines
}

fn bill_json(layout: &Layout, bills: &Bills) -> Value {
    let bill = &bills.bill;
    let (low, high) = bills.page.interval();
    let layers: Vec<Value> = layout
        .layers()
        .map(|(id, layer)| {
            json!({
                "name": layer.name,
                "cluster": layer.cluster.word(),
                "characters": bill.layers.get(&id).copied().unwrap_or(0),
            })
        })
        .collect();
    json!({
        "layout": layout.name,
        "characters": bill.typed,
        "lacking": bill.lacking.iter().map(|(c, n)| json!({ "character": c, "n": n })).collect::<Vec<_>>(),
        "presses": bill.presses,
        "three_at_once": bill.chords,
        "switches": bill.switches,
        "same_finger": bill.same_finger,
        "travel_m": bill.travel_m(),
        "off_home": bill.off_home,
        "by_little_fingers": bill.little,
        "by_thumbs": bill.thumb,
        "page_s": bills.page.seconds,
        "page_low_s": low,
        "page_high_s": high,
        "measured": bills.measured,
        "layers": layers,
    })
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
        .kinds
        .iter()
        .map(|(kind, files, chars)| json!({ "kind": kind, "texts": files, "characters": chars }))
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
        "kinds": kinds,
        "characters": characters,
        "pairs": pairs,
        "page_strokes": PAGE,
        "now": bill_json(told.layout, &told.now),
        "old_way": told.old.zip(told.before.as_ref()).map(|(old, bills)| bill_json(old, bills)),
    })
}
