//! What a layout costs on a person's work beside the old way, and which layer
//! first: as text and JSON.

use super::board::text_of;
use super::table::Table;
use crate::layout::Layout;
use crate::plan::PAGE;
use crate::progress::Paying;
use crate::survey::{Bill, Comfort, DAYS, MINUTES_A_DAY, Ranked, Saving};
use crate::ui::theme::{Meaning, Theme};
use ratatui::text::{Line, Span};
use serde_json::{Value, json};

/// So many characters that can't be typed are named in the text.
const SHOWN: usize = 12;
/// And so many keys and chords.
const KEYS_SHOWN: usize = 3;

/// What there is to tell.
pub struct Pays<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// The layout used before.
    pub old: &'a Layout,
    /// Characters of the text.
    pub total: u64,
    /// Hours of such work a day.
    pub hours: f64,
    /// The bills of the two and the ranking.
    pub paying: Paying,
}

/// A figure of the bill, as the text names it.
pub type Row = (&'static str, fn(&Bill) -> String);

fn share(comfort: &Comfort, figure: f64) -> String {
    format!("{:.1} %", 100.0 * comfort.of_presses(figure))
}

/// The figures of a bill, in the order in which they are told.
pub const ROWS: [Row; 10] = [
    ("presses", |b| format!("{:.0}", b.comfort.presses)),
    ("strokes with three keys or more", |b| format!("{:.0}", b.comfort.chords)),
    ("way of the fingers", |b| format!("{:.1} m", b.comfort.travel_m)),
    ("presses off the home block", |b| share(&b.comfort, b.comfort.off_home)),
    ("by a little finger", |b| share(&b.comfort, b.comfort.little)),
    ("by a thumb", |b| share(&b.comfort, b.comfort.thumb)),
    ("one finger on two keys running", |b| share(&b.comfort, b.comfort.same_finger)),
    ("layer switches", |b| format!("{:.0}", b.comfort.switches)),
    ("time", |b| {
        let (low, high) = b.time.interval();
        format!("{:.0} s ({low:.0} to {high:.0})", b.time.seconds)
    }),
    ("of that measured", |b| format!("{:.0} %", 100.0 * b.measured)),
];

/// The report as lines, at most 100 columns wide.
pub fn text(pays: &Pays<'_>, theme: Theme) -> Vec<String> {
    let strong = |text: String| {
        let line = Line::from(Span::styled(text, theme.style(Meaning::Strong)));
        text_of(&line, theme.colour)
    };
    let mut lines = vec![strong(format!("What a page costs ({PAGE:.0} characters of your text)"))];
    let mut table = Table::new(&["<", "<layout", "<old way"]);
    let [new, old] = &pays.paying.bills;
    let names = [pays.layout, pays.old].map(|layout| layout.name.clone());
    table.row([vec![String::new()], names.to_vec()].concat());
    for (name, figure) in ROWS {
        table.row(vec![name.into(), figure(new), figure(old)]);
    }
    lines.extend(table.lines());
    for (layout, bill) in [(pays.layout, new), (pays.old, old)] {
        lines.extend(missing(layout, bill, pays.total));
    }
    let all = f64::from(DAYS) * MINUTES_A_DAY;
    lines.push(String::new());
    lines.push(strong(format!(
        "Which layer first ({} hours of such work a day; later: after {all:.0} min of practice)",
        pays.hours
    )));
    if pays.paying.ranking.is_empty() {
        lines.push("  this text needs nothing of the layers".into());
    }
    for (place, one) in pays.paying.ranking.iter().enumerate() {
        lines.push(format!("  {}. {}: {}", place + 1, one.part.word(), one.even_words()));
        lines.push(format!("     now {}; later {}", one.now.words(), one.later.words()));
        lines.push(format!("     {}", one.reason()));
    }
    lines
}

/// What `layout` can't give, in a line or two.
fn missing(layout: &Layout, bill: &Bill, total: u64) -> Vec<String> {
    let mut lines = Vec::new();
    let times: u64 = bill.missing.iter().map(|(_, times)| times).sum();
    if times > 0 {
        let named =
            |c: &char| if c.is_control() { c.escape_unicode().to_string() } else { c.to_string() };
        let shown: Vec<String> = bill.missing.iter().take(SHOWN).map(|(c, _)| named(c)).collect();
        let more = if bill.missing.len() > SHOWN { " …" } else { "" };
        lines.push(format!(
            "  {} can't type {times} of {total} characters: {}{more}",
            layout.name,
            shown.join(" ")
        ));
    }
    if !bill.missing_keys.is_empty() {
        let times: f64 = bill.missing_keys.iter().map(|(_, times)| times).sum();
        let named = bill.missing_keys.iter().map(|(output, _)| output.to_string());
        let shown: Vec<String> = named.take(KEYS_SHOWN).collect();
        let more = match bill.missing_keys.len().saturating_sub(KEYS_SHOWN) {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        lines.push(format!(
            "  {} has no fingering for {}{more} ({times:.1} a page)",
            layout.name,
            shown.join(", ")
        ));
    }
    lines
}

/// The report for programs; docs/json.md names the fields.
pub fn json(pays: &Pays<'_>) -> Value {
    let [new, old] = &pays.paying.bills;
    json!({
        "layout": pays.layout.name,
        "old_way": pays.old.name,
        "page_characters": PAGE,
        "cost": bill(new),
        "cost_old_way": bill(old),
        "first": pays.paying.ranking.iter().map(ranked).collect::<Vec<_>>(),
    })
}

fn bill(bill: &Bill) -> Value {
    let Comfort { strokes, presses, chords, travel_m, off_home, .. } = bill.comfort;
    let Comfort { little, thumb, same_finger, switches, .. } = bill.comfort;
    let (low, high) = bill.time.interval();
    let missing = bill.missing.iter().map(|(c, times)| json!({"character": c, "times": times}));
    let keys = bill.missing_keys.iter();
    json!({
        "strokes": strokes,
        "presses": presses,
        "strokes_of_three_keys": chords,
        "travel_m": travel_m,
        "presses_off_home": off_home,
        "presses_little_finger": little,
        "presses_thumb": thumb,
        "presses_same_finger": same_finger,
        "switches": switches,
        "seconds": bill.time.seconds,
        "seconds_low": low,
        "seconds_high": high,
        "measured_share": bill.measured,
        "missing_characters": missing.collect::<Vec<_>>(),
        "missing_keys": keys
            .map(|(key, times)| json!({"key": key.to_string(), "times": times}))
            .collect::<Vec<_>>(),
    })
}

fn saving(saving: Saving) -> Value {
    json!({"seconds": saving.seconds, "low": saving.low, "high": saving.high})
}

fn ranked(one: &Ranked) -> Value {
    json!({
        "part": one.part.word(),
        "times_a_day": one.times,
        "saved_now": saving(one.now),
        "saved_later": saving(one.later),
        "level_after_minutes": one.even_minutes,
        "measured_share": one.measured.0,
        "measured_share_old_way": one.measured.1,
        "reason": one.reason(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::progress::Hands;
    use crate::survey::{Counts, Habits, Surveyed, Work};
    use unicode_width::UnicodeWidthStr;

    fn told(text: &str, then: impl Fn(&Pays<'_>)) {
        let (layout, old) =
            (shipped::load("tern-split").unwrap(), shipped::load("plain-ansi").unwrap());
        let habits = Habits::assumed(Work::Code);
        let own = Surveyed { counts: Counts::of(text), habits, promises: Vec::new() };
        let hands = |layout| Hands::read(layout, &habits, None, 0).unwrap();
        then(&Pays {
            layout: &layout,
            old: &old,
            total: own.counts.total(),
            hours: habits.hours,
            paying: Paying::of(&own, &hands(&layout), &hands(&old)),
        });
    }

    const GAUGE: &str = "let tide = gauges[3].read()?;\nif tide > 4.5 { log(\"high\", 語); }\n";

    #[test]
    fn the_report_fits_and_names_everything() {
        told(GAUGE, |pays| {
            let lines = text(pays, Theme::PLAIN);
            assert!(lines.iter().all(|line| line.width() <= 100), "{lines:#?}");
            insta::assert_snapshot!(lines.join("\n"));
        });
    }

    #[test]
    fn an_empty_text_is_told_without_figures_that_are_none() {
        told("", |pays| {
            let text = text(pays, Theme::PLAIN).join("\n");
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
            assert!(!json(pays).to_string().contains("null,\"measured"));
        });
    }

    #[test]
    fn programs_get_the_same_figures() {
        told(GAUGE, |pays| {
            let json = json(pays);
            assert_eq!(json["first"].as_array().unwrap().len(), pays.paying.ranking.len());
            assert_eq!(json["cost"]["missing_characters"][0]["character"], "語");
            assert_eq!(json["first"][0]["part"], pays.paying.ranking[0].part.word());
            assert_eq!(json["cost"]["presses"], pays.paying.bills[0].comfort.presses);
        });
    }
}
