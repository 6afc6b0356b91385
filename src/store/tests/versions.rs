//! A layout that changed: what was measured holds where the way is the same.

use super::*;
use crate::layout::{Layout, file, shipped};

/// The shipped layout, its text changed.
fn version(from: &str, to: &str) -> Layout {
    let text = shipped::text("tern-split").unwrap();
    assert!(from.is_empty() || text.contains(from), "{from}");
    let text = if from.is_empty() { text.to_owned() } else { text.replace(from, to) };
    file::read(&text, "version").unwrap_or_else(|error| panic!("{error}")).layout
}

/// Three hits of each of `items` on `layout`: layer, key, output.
fn practised(places: &Places, layout: &Layout, day: i64, items: &[(&str, &str, char)]) {
    let started = WallTime { ms_utc: NOON.ms_utc + day * 86_400_000, ..NOON };
    let mut start = start_at(started);
    start.layout = LayoutRecord::new(layout, &file::write(layout));
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(places), start);
    let mut done_strokes = strokes(1, 3 * items.len() as u32);
    for (stroke, (layer, position, c)) in
        done_strokes.iter_mut().zip(items.iter().flat_map(|item| [item; 3]))
    {
        stroke.layer = layout.layer_named(layer).unwrap();
        stroke.previous_layer = stroke.layer;
        stroke.position = Some(position.parse().unwrap());
        stroke.expected = Output::char(*c);
        stroke.got = stroke.expected.clone();
        stroke.verdict = Verdict::Hit;
    }
    practise(&mut sitting, Source::Shipped, &done_strokes);
    sitting.end_drill(&done());
    sitting.end(Ended::Done, Micros::from_secs(20));
}

/// What questions about items answer: hits by layer, key and output.
fn answers(store: &Store) -> Vec<String> {
    let figures = store.item_figures("tern-split", Days::up_to(90_000)).unwrap();
    let mut told: Vec<String> = figures
        .iter()
        .map(|(item, figures)| format!("{} {} {}", item.layer, item.output, figures.n_hits))
        .collect();
    let since = store.items_since("tern-split", i32::MIN).unwrap();
    let same: Vec<String> = since
        .iter()
        .map(|item| format!("{} {} {}", item.layer, item.output, item.n_hits))
        .collect();
    told.sort();
    let mut sorted = same;
    sorted.sort();
    assert_eq!(told, sorted);
    let days = store.item_days("tern-split", Days::up_to(90_000)).unwrap();
    let hits = |days: &Vec<ItemDay>| days.iter().map(|day| day.n_hits).sum::<u32>();
    let mut courses: Vec<String> = days
        .iter()
        .map(|(item, days)| format!("{} {} {}", item.layer, item.output, hits(days)))
        .collect();
    courses.sort();
    assert_eq!(told, courses);
    let mut read = 0;
    let each = |drill: &DrillRead<'_>| read += drill.keystrokes.len();
    store.each_drill("tern-split", 0, i32::MIN + 9, each).unwrap();
    let all: u64 = figures.values().map(|figures| figures.n_hits).sum();
    assert_eq!(read as u64, all);
    told
}

const ITEMS: [(&str, &str, char); 4] = [
    ("base", "C01", 'a'),
    ("symbols", "C08", ')'),
    ("symbols", "D05", '%'),
    ("symbols", "D01", '#'),
];

#[test]
fn a_way_that_stays_keeps_its_history_and_one_that_changes_starts_anew() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let before = version("", "");
    // % goes where # was, and # from the layer.
    let now = version(".. # | * ~ %    ` [ ] < ! ..", ".. % | * ~ ..    ` [ ] < ! ..");
    practised(&places, &before, 0, &ITEMS);
    let store = Store::open_at(&places).unwrap();
    let all = ["base a 3", "symbols # 3", "symbols % 3", "symbols ) 3"];
    assert_eq!(answers(&store), all);
    assert_eq!(store.adopt(&before).unwrap(), Carried::default());
    assert_eq!(answers(&store), all);

    let carried = store.adopt(&now).unwrap();
    let outputs = |items: &std::collections::BTreeSet<(String, Position, Output)>| {
        items.iter().map(|(_, _, output)| output.to_string()).collect::<String>()
    };
    assert_eq!(carried.n_versions, 1);
    assert_eq!(
        (outputs(&carried.kept), outputs(&carried.changed), outputs(&carried.gone)),
        ("a)".to_owned(), "%".to_owned(), "#".to_owned())
    );
    // What is gone is told as it was; what moved is not taken for the new key.
    assert_eq!(answers(&store), ["base a 3", "symbols # 3", "symbols ) 3"]);
    let before_drills = store.before("tern-split", Cluster::Symbols, None).unwrap().unwrap();
    assert_eq!(before_drills.items.len(), 3);

    drop(store);
    practised(&places, &now, 1, &[("symbols", "D01", '%'), ("base", "C01", 'a')]);
    let store = Store::open_at(&places).unwrap();
    store.adopt(&now).unwrap();
    assert_eq!(answers(&store), ["base a 6", "symbols # 3", "symbols % 3", "symbols ) 3"]);
    // Nothing was deleted: with the earlier layout back, it counts again.
    store.adopt(&before).unwrap();
    let back = answers(&store);
    assert!(back.contains(&"base a 6".to_owned()), "{back:?}");
    assert_eq!(store.totals().unwrap().n_keystrokes, 18);
    assert_eq!(export(&store, Table::Keystrokes).len(), 18);
}

#[test]
fn another_access_key_is_another_way() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let before = version("", "");
    let now = version(
        "Backspace/hold:symbols  Tab/hold:numbers",
        "Backspace/hold:numbers  Tab/hold:symbols",
    );
    practised(&places, &before, 0, &ITEMS);
    let store = Store::open_to_read(&places.data).unwrap().unwrap();
    let carried = store.adopt(&now).unwrap();
    assert_eq!((carried.kept.len(), carried.changed.len()), (1, 3));
    assert_eq!(answers(&store), ["base a 3"]);
    assert!(store.last_version("tern-split").unwrap().unwrap().contains("Backspace/hold:symbols"));
    assert_eq!(store.last_version("other").unwrap(), None);
}

#[test]
fn a_change_of_words_alone_costs_nothing() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    practised(&places, &version("", ""), 0, &ITEMS);
    let store = Store::open_at(&places).unwrap();
    let retitled = version("title = \"undo\"", "title = \"take the last change back\"");
    let carried = store.adopt(&retitled).unwrap();
    assert_eq!((carried.kept.len(), carried.changed.len(), carried.gone.len()), (4, 0, 0));
    assert_eq!(answers(&store).len(), 4);
}
