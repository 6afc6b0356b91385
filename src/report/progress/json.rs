//! Schema `etude.progress/1`.

use crate::model::learning::Reach;
use crate::model::switch::Told;
use crate::progress::{ItemProgress, Lately, LayerProgress, Progress, Thumbs};
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
        "page": progress.page.as_ref().map(|page| json!({
            "seconds": page.now.seconds,
            "seconds_90": page.now.interval(),
            "measured": page.measured,
            "surveyed": page.own,
            "old_way_seconds": page.old.map(|(old, _)| old.seconds),
            "old_way_seconds_90": page.old.map(|(old, _)| old.interval()),
            "old_way_measured": page.old.map(|(_, measured)| measured),
            "words": page.words(progress.to),
        })),
        "promises": progress.promises.iter().map(|kept| json!({
            "part": kept.promise.part,
            "day": day_text(kept.promise.day),
            "minutes_asked": kept.promise.minutes,
            "minutes_since": kept.minutes,
            "saved_then": kept.promise.then,
            "promised": kept.promise.saved[0],
            "promised_90": [kept.promise.saved[1], kept.promise.saved[2]],
            "saved_now": kept.now.seconds,
            "saved_now_90": [kept.now.low, kept.now.high],
            "standing": kept.standing.words(),
        })).collect::<Vec<_>>(),
        "thumbs": progress.thumbs.as_ref().map(thumbs),
        "layers": progress.layers.iter().map(|l| layer(l, progress.to)).collect::<Vec<_>>(),
        "switches": progress.switches.iter().map(|switch| {
            let mut value = figures(&switch.all);
            value["from"] = json!(switch.from);
            value["to"] = json!(switch.to);
            value["cost"] = switch.told.as_ref().map_or(Value::Null, told);
            if let Some(parts) = &switch.parts {
                value["parts"] = json!({
                    "reach": spread(Some(&parts.reach)),
                    "strike": spread(Some(&parts.strike)),
                });
            }
            value
        }).collect::<Vec<_>>(),
        "items": progress.items.iter().map(|i| item(i, progress.to)).collect::<Vec<_>>(),
        "calendar": progress.calendar.iter().map(|day| json!({
            "day": day_text(day.day),
            "n_drills": day.n_drills,
            "n_keystrokes": day.n_keystrokes,
            "active_us": day.active.0,
        })).collect::<Vec<_>>(),
    })
}

/// What the thumbs do.
fn thumbs(thumbs: &Thumbs) -> Value {
    json!({
        "n_presses": thumbs.n_presses(),
        "fingers": thumbs.fingers.iter().map(|(finger, n)| json!({
            "finger": finger.to_string(),
            "n_presses": n,
            "share": thumbs.share(*finger),
        })).collect::<Vec<_>>(),
        "busier": thumbs.busier().map(|(finger, times)| json!({
            "finger": finger.to_string(),
            "times": times,
        })),
        "keys": thumbs.keys.iter().map(|key| {
            let mut value = figures(&key.struck);
            value["position"] = json!(key.position.to_string());
            value["finger"] = json!(key.finger.to_string());
            value["uses"] = json!(key.uses);
            value["n_access"] = json!(key.n_access);
            value["alternating"] = json!(key.alternating);
            value
        }).collect::<Vec<_>>(),
        "shift": thumbs.shift.as_ref().map(|shift| json!({
            "latency": spread(shift.now.as_ref()),
            "shared": spread(shift.shared.as_ref()),
            "old_way": spread(shift.old_way.as_ref()),
            "change": shift.change().map(word),
        })),
    })
}

/// What a switch costs, or why that can't be told.
fn told(told: &Told) -> Value {
    match told {
        Told::Cost(cost) => json!({
            "told": "cost",
            "ms": cost.ms.ms,
            "ms_90": [cost.ms.low_ms, cost.ms.high_ms],
            "ratio": cost.ratio.0,
            "ratio_90": [cost.ratio.1, cost.ratio.2],
            "n": cost.n,
        }),
        Told::ArrivalOnly(arrival) => json!({
            "told": "arrival_only",
            "ms": arrival.ms.ms,
            "ms_90": [arrival.ms.low_ms, arrival.ms.high_ms],
            "n": arrival.n,
        }),
    }
}

/// When the old way is met.
fn reach(reach: Reach, today: i32) -> Value {
    let day = |ahead: u32| day_text(today.saturating_add_unsigned(ahead));
    match reach {
        Reach::Already => json!({ "on_this_course": true, "from": day(0), "to": day(0) }),
        Reach::Between(from, to) => {
            json!({ "on_this_course": true, "from": day(from), "to": to.map(day) })
        }
        Reach::NotOnThisCourse => json!({ "on_this_course": false }),
    }
}

fn layer(layer: &LayerProgress, to: i32) -> Value {
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
            "n_learning": outlook.n_learning,
            "n_not_met": outlook.n_not_met,
            "n_items": outlook.n_items,
            "stands_still": outlook.stands_still,
            "recent_gain": outlook.recent_gain.map(|(gain, low, high)| json!([gain, low, high])),
            "reach": outlook.reach.map(|reach| self::reach(reach, to)),
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

fn item(item: &ItemProgress, to: i32) -> Value {
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
    value["outlook"] = item.outlook.as_ref().map_or(Value::Null, |outlook| {
        let finding = &outlook.finding;
        json!({
            "state": outlook.state.words(),
            "target_ms": outlook.target_ms,
            "median_ms": finding.latency.map(|latency| latency.median.ms),
            "median_ms_90": finding.latency.map(|l| [l.median.low_ms, l.median.high_ms]),
            "inside_ms": finding.inside_ms,
            "repetitions": finding.repetitions,
            "errors": finding.errors.mean(),
            "errors_90": finding.errors.interval(),
            "reach": outlook.reach.map(|reach| self::reach(reach, to)),
            "instead": finding.mistakes.iter().map(|mistake| json!({
                "got": mistake.got.to_string(),
                "n": mistake.n,
                "slip": mistake.slip.words(),
            })).collect::<Vec<_>>(),
        })
    });
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
