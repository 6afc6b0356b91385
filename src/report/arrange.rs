//! What `etude arrange` proposes, as text and JSON.

use super::board::{row_of, text_of};
use super::table::Table;
use crate::arrange::{Move, Proposal, Spot, Task};
use crate::keyboard::Output;
use crate::layout::{LayerId, Layout};
use crate::order::Gather;
use crate::survey::Saving;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::{BoardView, Heat};
use ratatui::text::{Line, Span};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;

/// Boards are drawn in so many columns.
const COLUMNS: u16 = 80;

/// What there is to tell.
pub struct Told<'a> {
    /// The layout as it is.
    pub layout: &'a Layout,
    /// What was asked.
    pub task: &'a Task<'a>,
    /// The answer.
    pub proposal: &'a Proposal,
    /// The file that was asked for.
    pub out: Option<&'a Path>,
}

/// The heat of need of each key of a layer: each step is three times the one
/// before, and the figure is how often a working day strikes the key.
pub fn heat(
    layout: &Layout,
    layer: LayerId,
    needs: &BTreeMap<(LayerId, String), f64>,
) -> Vec<Option<Heat>> {
    let here = needs.iter().filter(|((of, _), _)| *of == layer);
    let most = here.map(|(_, times)| *times).fold(0.0, f64::max);
    let keys = &layout.layer(layer).keys;
    let times = keys.iter().map(|key| match key {
        crate::layout::Assignment::Gives(output) => {
            needs.get(&(layer, output.to_string())).copied()
        }
        _ => None,
    });
    times
        .map(|times| {
            let times = times.filter(|times| *times > 0.0)?;
            let step =
                [1.0 / 27.0, 1.0 / 9.0, 1.0 / 3.0].iter().filter(|part| times >= most * **part);
            Some(Heat { step: step.count() as u8, figure: format!("{times:.0}") })
        })
        .collect()
}

/// How often a working day strikes each symbol on its layer, today or as
/// proposed.
pub fn needs(told: &Told<'_>, proposed: bool) -> BTreeMap<(LayerId, String), f64> {
    let moved: BTreeMap<Spot, Spot> =
        told.proposal.moves.iter().filter(|_| proposed).map(|one| (one.from, one.to)).gather();
    let all = told.task.needs().map(|(output, spot, times)| {
        let spot = moved.get(&spot).copied().unwrap_or(spot);
        ((spot.0, output.to_string()), times)
    });
    all.gather()
}

/// The report as lines, at most 100 columns wide.
pub fn text(told: &Told<'_>, theme: Theme) -> Vec<String> {
    let strong = |text: String| {
        let line = Line::from(Span::styled(text, theme.style(Meaning::Strong)));
        text_of(&line, theme.colour)
    };
    let Told { layout, task, proposal, out } = told;
    let (symbols, free, keys) = task.sizes();
    let layers: Vec<&str> =
        task.layers().iter().map(|id| layout.layer(*id).name.as_str()).collect();
    let mut lines = vec![
        strong(format!("{} of {}, by what you type", layers.join(" and "), layout.name)),
        format!(
            "{symbols} symbols, {free} of which may move, on {keys} keys, weighed for {} working days",
            task.days()
        ),
        learner(told),
        proof(proposal),
        String::new(),
    ];
    if proposal.moves.is_empty() {
        lines.push("Nothing moves: whatever would lie better is not worth learning anew.".into());
        if let Some(won) = proposal.unpaid {
            lines.push(format!(
                "Bringing families together would lose {} over all days, and is not proposed.",
                minutes(-won)
            ));
        }
        return lines;
    }
    for (name, proposed, shown) in [("today", false, *layout), ("proposed", true, &proposal.layout)]
    {
        let needs = needs(told, proposed);
        for id in task.layers() {
            let heat = heat(shown, *id, &needs);
            let view = BoardView { heat: &heat, ..BoardView::new(shown, *id, theme) };
            lines.push(strong(format!(
                "{}, {name} (strokes a working day)",
                layout.layer(*id).name
            )));
            lines.extend(view.lines(COLUMNS).iter().map(|line| row_of(line, theme.colour)));
        }
    }
    lines.push(String::new());
    lines.push(strong(format!("What moves ({} of {free})", proposal.moves.len())));
    let mut table = Table::new(&["<symbol", "a day", "<from", "<to"]);
    for one in &proposal.moves {
        table.row(vec![
            one.output.to_string(),
            format!("{:.0}", one.a_day),
            place(layout, one.from),
            place(layout, one.to),
        ]);
    }
    lines.extend(table.lines());
    lines.push(String::new());
    lines.push(format!("After {} working days it {}.", task.days(), proposal.saved.words()));
    lines.push(paid_back(proposal));
    lines.push(match out {
        Some(path) => format!("Written to {}. Try it: etude --layout {0}", path.display()),
        None => "Nothing is written; -o FILE makes a layout of it.".into(),
    });
    lines
}

fn place(layout: &Layout, (layer, position): Spot) -> String {
    format!("{} {position}", layout.layer(layer).name)
}

/// How the price of learning was found.
fn learner(told: &Told<'_>) -> String {
    let learner = told.task.learner();
    let less = 100.0 * (1.0 - 0.5_f64.powf(learner.c.0));
    let first = learner.b.0.exp();
    match learner.keys {
        0 => format!(
            "A new key: {first:.0} ms at first, {less:.0} % less at each doubling of practice (assumed: \
             nothing measured yet)"
        ),
        keys => format!(
            "A new key: {first:.0} ms at first, {less:.0} % less at each doubling of practice (from {keys} \
             of your keys)"
        ),
    }
}

fn proof(proposal: &Proposal) -> String {
    if proposal.is_optimal() {
        "Proved: no placement of these symbols costs less".into()
    } else {
        format!(
            "Not proved: a placement might cost up to {:.2} % less, though none was found",
            100.0 * proposal.gap()
        )
    }
}

fn paid_back(proposal: &Proposal) -> String {
    match proposal.paid_back {
        Some(day) => format!(
            "What learning costs is won back on working day {day}; over all days it wins {}.",
            minutes(proposal.won)
        ),
        None => "What learning costs is not won back within four years.".into(),
    }
}

fn minutes(seconds: f64) -> String {
    if seconds.abs() < 120.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min", seconds / 60.0)
    }
}

/// The report for programs; docs/json.md names the fields.
pub fn json(told: &Told<'_>) -> Value {
    let Told { layout, task, proposal, out } = told;
    let (symbols, free, keys) = task.sizes();
    let layer = |id: &LayerId| layout.layer(*id).name.clone();
    let spot =
        |(id, position): Spot| json!({"layer": layer(&id), "position": position.to_string()});
    let moved = |one: &Move| {
        json!({
            "output": one.output.to_string(),
            "from": spot(one.from),
            "to": spot(one.to),
            "times_a_day": one.a_day,
        })
    };
    let needs = task.needs().map(|(output, place, times): (&Output, Spot, f64)| {
        json!({"output": output.to_string(), "at": spot(place), "times_a_day": times})
    });
    let Saving { seconds, low, high } = proposal.saved;
    let learner = task.learner();
    json!({
        "schema": "etude.arrange/1",
        "layout": layout.name,
        "layers": task.layers().iter().map(layer).collect::<Vec<_>>(),
        "days": task.days(),
        "symbols": symbols,
        "symbols_free": free,
        "keys": keys,
        "needs": needs.collect::<Vec<_>>(),
        "new_key": {
            "first_ms": learner.b.0.exp(),
            "exponent": learner.c.0,
            "measured_keys": learner.keys,
        },
        "optimal": proposal.is_optimal(),
        "gap_share": proposal.gap(),
        "cost_ms": proposal.costs.0,
        "cost_proposed_ms": proposal.costs.1,
        "cost_least_ms": proposal.least,
        "moves": proposal.moves.iter().map(moved).collect::<Vec<_>>(),
        "saved_a_day": {"seconds": seconds, "low": low, "high": high},
        "paid_back_day": proposal.paid_back,
        "won_seconds": proposal.won,
        "unpaid_seconds": proposal.unpaid,
        "file": out.filter(|_| !proposal.moves.is_empty()).map(|path| path.display().to_string()),
    })
}
