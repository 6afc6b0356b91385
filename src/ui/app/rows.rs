//! The rows of the start screen: what can be practised, and how it went last.

use super::Config;
use crate::drill::{Offer, What};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Assignment, LayerId, Layout};
use crate::practice::Plan;
use crate::store::{Before, FoldReport, Wish};
use crate::ui::screen::start::{Last, Row, Why};
use crate::ui::widget::frame;
use std::collections::BTreeMap;

/// Today's plan, then a row for each offer.
pub fn rows(
    config: &Config,
    planned: Option<&(&Plan, BTreeMap<String, Wish>)>,
    last: impl Fn(&Offer) -> Option<Last>,
) -> Vec<Row> {
    let (layout, routes) = (&config.layout, &config.routes);
    let today = planned.map(|(plan, _)| plan.today(layout, routes, config.minutes));
    let today = today.unwrap_or_default();
    let entries = today.entries.iter().map(|entry| Why {
        what: format!("{}, {} min", entry.what.word(layout), entry.minutes),
        reason: entry.reason.clone(),
    });
    let all = Row {
        name: "today's plan".into(),
        layer: today.entries.first().map_or(LayerId::BASE, |entry| shown_layer(entry.what, config)),
        keys: "what pays most".into(),
        planned: None,
        wish: None,
        why: entries.collect(),
        last: None,
    };
    let of_offer = |offer: &Offer| {
        let entry = today.entries.iter().find(|entry| entry.what == offer.what);
        let chosen = || {
            let (plan, _) = planned?;
            plan.choose_about(offer.what, layout, routes, 0)
        };
        let reason = entry.map(|entry| entry.reason.clone());
        let why = reason.or_else(|| chosen().map(|choice| choice.reason));
        Row {
            planned: entry.map(|entry| entry.minutes),
            wish: planned.and_then(|(_, wishes)| wishes.get(&offer.what.word(layout)).copied()),
            why: why.map(|reason| Why { what: String::new(), reason }).into_iter().collect(),
            ..row(offer, config, last(offer))
        }
    };
    std::iter::once(all).chain(config.offers.iter().map(of_offer)).collect()
}

/// The layer that stands for `what` on the board.
fn shown_layer(what: What, config: &Config) -> LayerId {
    let offer = config.offers.iter().find(|offer| offer.what == what);
    match what {
        What::Layer(layer) => layer,
        // One that is for it, where the offer has keys of other layers too.
        What::Cluster(cluster) => {
            let layers = offer.map_or(&[][..], |offer| offer.layers.as_slice());
            let own = |layer: &&LayerId| config.layout.layer(**layer).cluster == cluster;
            layers.iter().find(own).or(layers.first()).copied().unwrap_or(LayerId::BASE)
        }
        What::Thumbs => LayerId::BASE,
    }
}

fn row(offer: &Offer, config: &Config, last: Option<Last>) -> Row {
    let keys: Vec<_> =
        in_order(offer, &config.layout).iter().map(|key| frame::name(key, config.theme)).collect();
    Row {
        name: offer.what.word(&config.layout),
        layer: shown_layer(offer.what, config),
        keys: keys.join(" "),
        planned: None,
        wish: None,
        why: Vec::new(),
        last,
    }
}

/// The keys of `offer` as people meet them: keys without text first, then in
/// the order of the rows of its layers. Thumb drills are about keys, not about
/// the capitals that Shift makes.
fn in_order(offer: &Offer, layout: &Layout) -> Vec<Output> {
    let mut keys: Vec<Output> =
        offer.keys.iter().filter(|key| matches!(key, Output::Key(_))).cloned().collect();
    if offer.what == What::Thumbs {
        keys.extend(offer.keys.iter().filter(|key| key.as_char() == Some(' ')).cloned());
        keys.push(Output::Key(NamedKey::Shift));
        return keys;
    }
    let given = offer.layers.iter().flat_map(|layer| &layout.layer(*layer).keys);
    for assignment in given {
        let output = match assignment {
            Assignment::Gives(output) => output,
            Assignment::Dual { tap, .. } => match &**tap {
                Assignment::Gives(output) => output,
                _ => continue,
            },
            _ => continue,
        };
        if offer.keys.contains(output) && !keys.contains(output) {
            keys.push(output.clone());
        }
    }
    let rest = offer.keys.iter().filter(|key| !keys.contains(key)).cloned();
    let rest: Vec<Output> = rest.collect();
    keys.extend(rest);
    keys
}

/// What the last sitting has of the thumb keys themselves. Their letters are
/// left out; so the one median of the sitting would not be theirs.
pub fn of_thumbs(before: &Before, offer: &Offer, today: i32) -> Last {
    let wanted = |output: &str| {
        output
            .parse::<Output>()
            .is_ok_and(|output| matches!(output, Output::Key(_)) || output.as_char() == Some(' '))
            && offer.keys.iter().any(|key| key.to_string() == output)
    };
    let (mut hits, mut misses) = (0, 0);
    for item in before.items.iter().filter(|item| wanted(&item.output)) {
        hits += item.n_hits;
        misses += item.n_misses;
    }
    Last {
        days_ago: u32::try_from(today - before.started.day_local(0)).unwrap_or(0),
        median: None,
        accuracy: (hits + misses > 0).then(|| hits as f64 / (hits + misses) as f64),
        n: hits + misses,
    }
}

/// What to say of journals that were folded in.
pub fn recovered(report: &FoldReport) -> Option<String> {
    match (report.drills, report.troubles.first()) {
        (_, Some(trouble)) => Some(trouble.clone()),
        (0, None) => None,
        (1, None) => {
            Some("A drill that was cut short was recovered; all its keys are kept.".into())
        }
        (n, None) => {
            Some(format!("{n} drills that were cut short were recovered; all keys are kept."))
        }
    }
}
