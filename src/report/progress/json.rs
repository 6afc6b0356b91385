//! Schema `etude.progress/1`.

use crate::progress::{ItemProgress, Lately, LayerProgress, Progress};
use crate::session::{Change, Spread};
use crate::store::wall_clock::day_text;
use crate::store::{Figures, Step};
use serde_json::{Value, json};

/// Everything, schema `etude.progress/1`: times in µs, shares from 0 to 1,
/// days as `YYYY-MM-DD`; null for what isn't known.
pub fn json(progress: &Progress) -> Value {
    json!({
        "schema": "etude.progress/1",
        "layout": progress.layout,
        "old_way": progress.old_way,
        "since": progress.since.map(day_text),
        "to": day_text(progress.to),
        "step": match progress.step {
            Step::Day => "day",
            Step::Month => "month",
        },
        "layers": progress.layers.iter().map(layer).collect::<Vec<_>>(),
        "switches": progress.switches.iter().map(|switch| {
            let mut value = figures(&switch.all);
            value["from"] = json!(switch.from);
            value["to"] = json!(switch.to);
            value
        }).collect::<Vec<_>>(),
        "items": progress.items.iter().map(item).collect::<Vec<_>>(),
        "calendar": progress.calendar.iter().map(|day| json!({
            "day": day_text(day.day),
            "n_drills": day.n_drills,
            "n_keystrokes": day.n_keystrokes,
            "active_us": day.active.0,
        })).collect::<Vec<_>>(),
    })
}

fn layer(layer: &LayerProgress) -> Value {
    let mut value = figures(&layer.all);
    value["layer"] = json!(layer.name);
    value["active_us"] = json!(layer.all.active.0);
    value["points"] = layer
        .points
        .iter()
        .map(|point| {
            let mut value = figures(&point.figures);
            value["day"] = json!(day_text(point.day));
            value["active_us"] = json!(point.figures.active.0);
            value
        })
        .collect();
    value["lately"] = lately(&layer.lately);
    value["old_way"] = layer.old_way.as_ref().map_or(Value::Null, |old| {
        json!({
            "latency": spread(Some(&old.spread)),
            "n_outputs": old.n_outputs,
            "n_outputs_all": old.n_outputs_all,
            "share": old.share,
            "standing": old.standing.word(),
            "day": old.standing.day().map(day_text),
        })
    });
    value["outlook"] = layer.outlook.as_ref().map_or(Value::Null, |outlook| {
        json!({
            "n_mastered": outlook.n_mastered,
            "n_items": outlook.n_items,
            "forecast": outlook.forecast.iter().map(|f| json!({
                "day": day_text(f.day),
                "low_us": f.low.0,
                "middle_us": f.middle.0,
                "high_us": f.high.0,
            })).collect::<Vec<_>>(),
        })
    });
    value
}

fn item(item: &ItemProgress) -> Value {
    let mut value = figures(&item.all);
    value["output"] = json!(item.name.output);
    value["layer"] = json!(item.name.layer);
    value["position"] = json!(item.name.position.map(|at| at.to_string()));
    value["lately"] = lately(&item.lately);
    value["old_way"] = match &item.old_way {
        None => Value::Null,
        Some(old) => json!({
            "latency": spread(Some(old)),
            "change": item.against().map(word),
        }),
    };
    value
}

fn lately(lately: &Lately) -> Value {
    json!({
        "now": spread(lately.now.as_ref()),
        "before": spread(lately.before.as_ref()),
        "change": word(lately.change()),
    })
}

fn figures(figures: &Figures) -> Value {
    json!({
        "n_keystrokes": figures.n_keystrokes,
        "n_hits": figures.n_hits,
        "n_misses": figures.n_misses,
        "accuracy": figures.accuracy(),
        "latency": spread(figures.spread().as_ref()),
    })
}

fn spread(spread: Option<&Spread>) -> Value {
    spread.map_or(Value::Null, |spread| {
        json!({
            "n": spread.n,
            "median_us": spread.median.0,
            "q1_us": spread.quartiles.map(|(low, _)| low.0),
            "q3_us": spread.quartiles.map(|(_, high)| high.0),
        })
    })
}

const fn word(change: Change) -> &'static str {
    match change {
        Change::Faster => "faster",
        Change::Slower => "slower",
        Change::Unclear => "unclear",
        Change::TooFew => "too_few",
    }
}
