//! Plain tables for people, and for screen readers.

use super::{cost_words, middle_half, minutes, percent, weeks};
use crate::progress::{Progress, RECENT_DAYS, Standing, reach_words};
use crate::report::table::Table;
use crate::session::Spread;
use crate::store::wall_clock::day_text;
use std::cmp::Reverse;

/// So many items are listed unless one layer is asked for.
const ITEMS: usize = 20;
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
    let mut part = |title: String, table: &Table| {
        if !table.is_empty() {
            lines.push(String::new());
            lines.push(title);
            lines.extend(table.lines());
        }
    };
    part("Layers (medians in ms, middle half: quartiles)".into(), &layers(progress));
    part(format!("The last {RECENT_DAYS} days against those before"), &lately(progress));
    if let Some(old) = &progress.old_way {
        part(format!("Against the old way, {old}, with the same outputs"), &old_way(progress));
    }
    if let Some(page) = &progress.page {
        lines.push(String::new());
        lines.push(format!(
            "A page of your text (1,800 strokes) takes {:.0} s, {}.",
            page.now.seconds,
            page.words(progress.to)
        ));
    }
    let mut part = |title: String, table: &Table| {
        if !table.is_empty() {
            lines.push(String::new());
            lines.push(title);
            lines.extend(table.lines());
        }
    };
    part("Arrivals, and staying on a layer (ms)".into(), &switches(progress));
    part(
        format!("Reach to the access key, strike from it; the last {RECENT_DAYS} days (ms)"),
        &parts(progress),
    );
    let (title, table) = items(progress);
    part(title, &table);
    part("Practice by week, on any layout".into(), &calendar(progress));
    if let Some(old) = progress.old_way.as_ref().filter(|_| !has_old_way(progress)) {
        lines.push(String::new());
        lines.push(format!(
            "The old way, {old}, is not measured yet: `etude practice --old-way` does that."
        ));
    }
    lines
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

fn items(progress: &Progress) -> (String, Table) {
    let mut items: Vec<_> = progress.items.iter().collect();
    items.sort_by_key(|item| Reverse(item.all.spread().map(|s| (s.n >= 6, s.median))));
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
