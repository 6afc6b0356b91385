//! From the history to what is known of the hands, and back.

use crate::layout::{Layout, RouteTable};
use crate::model::Item;
use crate::model::hands::{FORMAT, Findings, Hands};
use crate::model::slip::Slips;
use crate::session::Keystroke;
use crate::store::{Days, DrillRead, KeptModel, Store, StoreError, wall_clock};
use std::path::Path;

/// Where nothing of a model is kept, so many days are read again. What is
/// older has faded to less than a ten-thousandth of its weight; of it the
/// medians of the days are enough.
const DAYS_READ: i32 = 200;

/// What is known of the hands on `layout`, as of local day `today`: what is
/// kept, brought up to date with the drills since then. What comes of it is
/// kept again where the history can be written.
///
/// # Errors
/// Where the history can't be read.
pub fn findings(
    store: &Store,
    layout: &Layout,
    routes: &RouteTable,
    today: i32,
) -> Result<Findings, StoreError> {
    let name = layout.name.as_str();
    let names: Vec<&str> = layout.layers.iter().map(|layer| layer.name.as_str()).collect();
    // A model that took in what has changed since is made anew.
    let changed = store.adopt(layout)?.changed;
    let mut layers = names.join("\n");
    if !changed.is_empty() {
        let told = format!("{changed:?}");
        layers = format!("{layers}\nchanged {:08x}", crc32fast::hash(told.as_bytes()));
    }
    let Some(newest) = store.newest_drill(name)? else { return Ok(Findings::default()) };
    let kept = store
        .kept_model(name)?
        .filter(|kept| kept.format == FORMAT && kept.layers == layers)
        .and_then(|kept| Some((kept.through_drill, Findings::from_bytes(&kept.findings).ok()?)));
    let kept = match kept {
        Some((through, findings)) if through >= newest => return Ok(findings),
        Some((through, findings)) => store
            .kept_hands(name)?
            .and_then(|bytes| Hands::from_bytes(&bytes).ok())
            .map(|hands| (through, findings, hands)),
        None => None,
    };
    let (after, since, earlier, mut hands) = match kept {
        Some((through, findings, hands)) => (through, i32::MIN, Some(findings), hands),
        None => (0, today - DAYS_READ, None, before(store, layout, today - DAYS_READ)?),
    };
    let slips = Slips::new(layout, routes);
    let mut through = after.max(newest);
    store.each_drill(name, after, since, |drill| {
        hands.add_drill(drill.day, &slips, &on(layout, drill));
        through = through.max(drill.drill);
    })?;
    hands.settle();
    let findings = Findings::of(&hands, today, earlier.as_ref());
    let kept = KeptModel {
        format: FORMAT,
        layers,
        through_drill: through,
        day: today,
        findings: findings.to_bytes(),
    };
    // Read-only or locked: it is worked out again next time.
    let _ = store.keep_model(name, &kept, &hands.to_bytes());
    Ok(findings)
}

/// Brings what is known up to date after a sitting, so that the next start
/// need not. What can't be read or written now is worked out then.
pub fn bring_up_to_date(data: &Path, layout: &Layout, routes: &RouteTable) {
    if let Ok(Some(store)) = crate::progress::history(data) {
        let today = wall_clock::now().day_local(0);
        let _ = findings(&store, layout, routes, today);
    }
}

/// Hands that know the days of each item before local day `since` by their
/// sums.
fn before(store: &Store, layout: &Layout, since: i32) -> Result<Hands, StoreError> {
    let mut hands = Hands::default();
    for (item, days) in store.item_days(&layout.name, Days::up_to(since - 1))? {
        let (Some(layer), Ok(output)) = (layout.layer_named(&item.layer), item.output.parse())
        else {
            continue;
        };
        let item = Item { layer, position: item.position, output };
        for day in days {
            let (hits, timed) = (u64::from(day.n_hits), u64::from(day.n_timed));
            hands.add_day(&item, day.day, hits, timed, day.median);
        }
    }
    Ok(hands)
}

/// The keystrokes of a drill with the layers of `layout`, found by name; those
/// on layers that it has no more are left out.
fn on(layout: &Layout, drill: &DrillRead<'_>) -> Vec<Keystroke> {
    let now = |layer: crate::layout::LayerId| {
        drill.layers.get(layer.index()).and_then(|name| layout.layer_named(name))
    };
    let moved = |keystroke: &Keystroke| {
        let mut keystroke = keystroke.clone();
        keystroke.layer = now(keystroke.layer)?;
        keystroke.previous_layer = now(keystroke.previous_layer)?;
        Some(keystroke)
    };
    drill.keystrokes.iter().filter_map(moved).collect()
}
