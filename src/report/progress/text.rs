//! Plain tables for people, and for screen readers.

use super::{cost_words, middle_half, minutes, percent, weeks};
use crate::keyboard::Digit;
use crate::order::InOrder;
use crate::progress::{Progress, RECENT_DAYS, Standing, Thumbs, reach_words};
use crate::report::table::Table;
use crate::session::Spread;
use crate::store::wall_clock::day_text;
use std::cmp::Reverse;

/// So many items are listed unless one layer is asked for.
const ITEMS: usize = 20;
/// So many uses of a thumb's key are named.
const USES: usize = 2;
/// So many weeks are listed.
const WEEKS: usize = 12;

/// The tables as lines.
pub fn text(progress: &Progress) -> Vec<String> {
    let mut lines = vec![format!("{}: {}", progress.layout, progress.title)];
    let to = day_text(progress.to);
    lines.push(match progress.since {
        Some(since) => format!("{} to {to}", day_text(since)),
        None => format!("everything up to {to}"),
    });
    if progress.is_empty() {
        lines.push(String::new());
        lines.push(match progress.since {
            Some(_) => "Nothing of this layout was practised in this range.".into(),
            None => "Nothing of this layout was practised yet.".into(),
        });
        return lines;
    }
    part(&mut lines, "Layers (medians in ms, middle half: quartiles)".into(), &layers(progress));
    part(
        &mut lines,
        format!("The last {RECENT_DAYS} days against those before"),
        &lately(progress),
    );
    if let Some(old) = &progress.old_way {
        part(
            &mut lines,
            format!("Against the old way, {old}, with the same outputs"),
            &old_way(progress),
        );
    }
    if let Some(page) = &progress.page {
        lines.push(String::new());
        let (whose, seconds) = (page.whose(), page.now.seconds);
        lines.push(format!("A page of {whose} (1,800 strokes) takes {seconds:.0} s:"));
        lines.push(format!("{}.", page.words(progress.to)));
    }
    part(
        &mut lines,
        "Promised by a survey, and saved now (seconds a working day, 90 % intervals)".into(),
        &promises(progress),
    );
    part(&mut lines, "Arrivals, and staying on a layer (ms)".into(), &switches(progress));
    if let Some(thumbs) = &progress.thumbs {
        part(&mut lines, "Keys of the thumbs".into(), &thumb_keys(thumbs));
        let words = thumb_words(thumbs);
        if !thumbs.keys.is_empty() {
            lines.extend(words);
        }
    }
    part(
        &mut lines,
        format!("Reach to the access key, strike from it; the last {RECENT_DAYS} days (ms)"),
        &parts(progress),
    );
    let (title, table) = items(progress);
    part(&mut lines, title, &table);
    part(&mut lines, "Practice by week, on any layout".into(), &calendar(progress));
    if let Some(old) = progress.old_way.as_ref().filter(|_| !has_old_way(progress)) {
        lines.push(String::new());
        lines.push(format!(
            "The old way, {old}, is not measured yet: `etude practice --old-way` does that."
        ));
    }
    lines
}

/// A table under its title; nothing where it has no rows.
fn part(lines: &mut Vec<String>, title: String, table: &Table) {
    if !table.is_empty() {
        lines.push(String::new());
        lines.push(title);
        lines.extend(table.lines());
    }
}

fn has_old_way(progress: &Progress) -> bool {
    progress.layers.iter().any(|layer| layer.old_way.is_some())
}

fn median(spread: Option<&Spread>) -> String {
    spread.map_or_else(String::new, |s| format!("{:.0}", s.median.as_ms()))
}

fn n(spread: Option<&Spread>) -> String {
    spread.map_or(0, |s| s.n).to_string()
}

fn half(spread: Option<&Spread>) -> String {
    spread.map_or_else(String::new, middle_half)
}

fn layers(progress: &Progress) -> Table {
    let outlook = progress.layers.iter().any(|layer| layer.outlook.is_some());
    let mut heads = vec!["<layer", "n", "median", "middle half", "right", "minutes"];
    if outlook {
        heads.push("mastered");
    }
    let mut table = Table::new(&heads);
    for layer in progress.layers.iter().filter(|layer| layer.all.n_keystrokes > 0) {
        let spread = layer.all.spread();
        let mut row = vec![
            layer.name.clone(),
            n(spread.as_ref()),
            median(spread.as_ref()),
            half(spread.as_ref()),
            percent(layer.all.accuracy()),
            minutes(layer.all.active),
        ];
        if outlook {
            row.push(layer.outlook.as_ref().map_or_else(String::new, |outlook| {
                format!("{} of {}", outlook.n_mastered, outlook.n_items)
            }));
        }
        table.row(row);
    }
    table
}

fn lately(progress: &Progress) -> Table {
    let mut table = Table::new(&["<layer", "lately", "n", "before", "n", "<change"]);
    for layer in progress.layers.iter().filter(|layer| layer.all.n_keystrokes > 0) {
        let (now, before) = (layer.lately.now.as_ref(), layer.lately.before.as_ref());
        let word = layer.lately.change().word().to_owned();
        table.row(vec![layer.name.clone(), median(now), n(now), median(before), n(before), word]);
    }
    table
}

fn old_way(progress: &Progress) -> Table {
    let mut table = Table::new(&["<layer", "old way", "middle half", "n", "outputs", "<the layer"]);
    for layer in &progress.layers {
        let Some(old) = &layer.old_way else { continue };
        table.row(vec![
            layer.name.clone(),
            median(Some(&old.spread)),
            middle_half(&old.spread),
            old.spread.n.to_string(),
            format!("{} of {}", old.n_outputs, old.n_outputs_all),
            match (old.standing, layer.outlook.as_ref().and_then(|outlook| outlook.reach)) {
                (Standing::NotYet, Some(reach)) => reach_words(reach, progress.to),
                (standing, _) => standing.words(),
            },
        ]);
    }
    table
}

fn promises(progress: &Progress) -> Table {
    let heads =
        ["<part", "<since", "practised", "<promised", "<saved now", "<how the forecast stands"];
    let mut table = Table::new(&heads);
    for kept in &progress.promises {
        let [saved, low, high] = kept.promise.saved;
        let seconds = |saved: f64, low: f64, high: f64| {
            format!("{saved:.0} ({low:.0} to {high:.0})").replace('-', "\u{2212}")
        };
        table.row(vec![
            kept.promise.part.clone(),
            day_text(kept.promise.day),
            format!("{:.0} of {:.0} min", kept.minutes, kept.promise.minutes),
            seconds(saved, low, high),
            seconds(kept.now.seconds, kept.now.low, kept.now.high),
            kept.standing.words().to_owned(),
        ]);
    }
    table
}

fn switches(progress: &Progress) -> Table {
    let heads = ["<from", "<to", "n", "median", "middle half", "right", "<the switch alone"];
    let mut table = Table::new(&heads);
    for switch in &progress.switches {
        let spread = switch.all.spread();
        table.row(vec![
            switch.from.clone(),
            if switch.from == switch.to { "(stays)".into() } else { switch.to.clone() },
            n(spread.as_ref()),
            median(spread.as_ref()),
            half(spread.as_ref()),
            percent(switch.all.accuracy()),
            if switch.from == switch.to { String::new() } else { cost_words(switch.told.as_ref()) },
        ]);
    }
    table
}

fn thumb_keys(thumbs: &Thumbs) -> Table {
    let heads = [
        "<at",
        "<by",
        "<gives and opens",
        "presses",
        "of all",
        "access",
        "n",
        "median",
        "middle half",
        "right",
        "across",
    ];
    let mut table = Table::new(&heads);
    let all = thumbs.n_presses().max(1) as f64;
    for key in &thumbs.keys {
        let spread = key.struck.spread();
        table.row(vec![
            key.position.to_string(),
            key.finger.to_string(),
            key.uses.iter().take(USES).cloned().collect::<Vec<_>>().join(" "),
            key.n_presses().to_string(),
            percent(Some(key.n_presses() as f64 / all)),
            key.n_access.to_string(),
            n(spread.as_ref()),
            median(spread.as_ref()),
            half(spread.as_ref()),
            percent(key.struck.accuracy()),
            percent(key.alternating),
        ]);
    }
    table
}

fn parts(progress: &Progress) -> Table {
    let heads = ["<from", "<to", "n", "reach", "middle half", "strike", "middle half"];
    let mut table = Table::new(&heads);
    for switch in &progress.switches {
        let Some(parts) = &switch.parts else { continue };
        table.row(vec![
            switch.from.clone(),
            switch.to.clone(),
            parts.reach.n.to_string(),
            median(Some(&parts.reach)),
            middle_half(&parts.reach),
            median(Some(&parts.strike)),
            middle_half(&parts.strike),
        ]);
    }
    table
}

fn thumb_words(thumbs: &Thumbs) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(words) = thumbs.words() {
        lines.push(format!("Thumbs: {words}."));
    }
    let busiest = thumbs.fingers.iter().filter(|(finger, _)| finger.digit != Digit::Thumb);
    if let Some((finger, n)) = busiest.max_by_key(|(_, n)| **n) {
        lines.push(format!(
            "The busiest other finger: {} {}, {} ({n}).",
            finger.hand.word(),
            finger.digit.word(),
            percent(Some(thumbs.share(*finger)))
        ));
    }
    let Some(shift) = &thumbs.shift else { return lines };
    let told = |spread: &Spread| {
        format!("{:.0} ms ({}, n {})", spread.median.as_ms(), middle_half(spread), spread.n)
    };
    if let Some(now) = &shift.now {
        lines.push(format!("What needs Shift, by thumb: {}.", told(now)));
    }
    if let (Some(shared), Some(old), Some(change)) = (&shift.shared, &shift.old_way, shift.change())
    {
        lines.push(format!(
            "The same outputs on the old way: {}; here {}: {}.",
            told(old),
            told(shared),
            change.word()
        ));
    }
    lines
}

fn items(progress: &Progress) -> (String, Table) {
    let mut items: Vec<_> = progress.items.iter().collect();
    items.order_by_key(|item| Reverse(item.all.spread().map(|s| (s.n >= 6, s.median))));
    let one_layer = progress.layers.len() == 1;
    let shown = if one_layer { items.len() } else { ITEMS.min(items.len()) };
    let title = if shown < items.len() {
        format!("Keys, the {shown} slowest of {} (all of a layer with --layer NAME)", items.len())
    } else {
        "Keys, slowest first".into()
    };
    let mut table = Table::new(&[
        "<key",
        "<layer",
        "<at",
        "n",
        "median",
        "middle half",
        "right",
        "<lately",
        "old way",
        "<learnt",
    ]);
    for item in items.into_iter().take(shown) {
        let spread = item.all.spread();
        table.row(vec![
            item.name.output.clone(),
            item.name.layer.clone(),
            item.name.position.map_or_else(String::new, |at| at.to_string()),
            n(spread.as_ref()),
            median(spread.as_ref()),
            half(spread.as_ref()),
            percent(item.all.accuracy()),
            item.lately.change().word().into(),
            median(item.old_way.as_ref()),
            item.outlook.as_ref().map_or_else(String::new, |o| o.state.words().to_owned()),
        ]);
    }
    (title, table)
}

fn calendar(progress: &Progress) -> Table {
    let mut table = Table::new(&["<week from Monday", "days", "minutes", "drills", "keystrokes"]);
    let weeks = weeks(&progress.calendar);
    for week in weeks.iter().rev().take(WEEKS) {
        table.row(vec![
            day_text(week.monday),
            week.n_days.to_string(),
            minutes(week.active),
            week.n_drills.to_string(),
            week.n_keystrokes.to_string(),
        ]);
    }
    table
}
