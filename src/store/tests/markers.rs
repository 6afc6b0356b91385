//! The reach that a marker told, kept and asked for.

use super::*;

/// Keystrokes as in practice, every fourth with a reach of a third of its
/// latency.
fn marked(seed: u64, n: u32) -> Vec<Keystroke> {
    let mut strokes = strokes(seed, n);
    for stroke in strokes.iter_mut().filter(|stroke| stroke.seq % 4 == 1) {
        stroke.reach = stroke.latency.map(|latency| Micros(latency.0 / 3));
    }
    strokes
}

#[test]
fn the_reach_is_kept_exported_and_told_by_switch() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let strokes = marked(7, 400);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes);
    sitting.end_drill(&done());
    // The same of an own text is not kept.
    practise(&mut sitting, Source::Own, &strokes);
    sitting.end_drill(&done());
    assert_eq!(sitting.end(Ended::Done, Micros::from_secs(60)).trouble, None);

    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let column = Table::Keystrokes.names().position(|name| name == "reach_us").unwrap();
    let exported: Vec<Cell> =
        export(&store, Table::Keystrokes).into_iter().map(|row| row[column].clone()).collect();
    let cell = |stroke: &Keystroke| {
        stroke.reach.map_or(Cell::None, |reach| Cell::Number(reach.0.cast_signed()))
    };
    assert_eq!(exported, strokes.iter().map(cell).collect::<Vec<_>>());

    let today = NOON.day_local(0);
    let parts = store.switch_parts("tern-split", Days { from: today, to: today }).unwrap();
    let names = ["base", "marks"];
    let mut seen = 0;
    for from in 0..2_u8 {
        for to in 0..2_u8 {
            let of_pair = |stroke: &&Keystroke| {
                (stroke.previous_layer, stroke.layer) == (LayerId(from), LayerId(to))
            };
            let (first, second): (Vec<_>, Vec<_>) = strokes
                .iter()
                .filter(of_pair)
                .filter(|stroke| stroke.timed().is_some())
                .filter_map(Keystroke::parts)
                .unzip();
            let pair = (names[usize::from(from)].to_owned(), names[usize::from(to)].to_owned());
            let told = parts.get(&pair);
            assert_eq!(told.map(|parts| parts.reach), Spread::of(&first), "{pair:?}");
            assert_eq!(told.map(|parts| parts.strike), Spread::of(&second), "{pair:?}");
            seen += first.len();
        }
    }
    assert!(seen > 30, "{seen}");
    let yesterday = Days { from: today - 20, to: today - 1 };
    assert_eq!(store.switch_parts("tern-split", yesterday).unwrap().len(), 0);
    assert_eq!(store.switch_parts("plain-ansi", Days::up_to(today)).unwrap().len(), 0);
}

#[test]
fn a_reach_outlives_a_session_that_was_cut() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let strokes = marked(8, 40);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes);
    drop(sitting);
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.folded().drills, 1);
    let column = Table::Keystrokes.names().position(|name| name == "reach_us").unwrap();
    let told =
        export(&store, Table::Keystrokes).into_iter().filter(|row| row[column] != Cell::None);
    assert_eq!(told.count(), strokes.iter().filter(|stroke| stroke.reach.is_some()).count());
}

#[test]
fn without_markers_no_keystroke_is_read_for_the_parts() {
    let dir = TempDir::new().unwrap();
    let store = Store::open_at(&places(&dir)).unwrap();
    let plan: Vec<String> = store
        .connection
        .prepare(&format!("EXPLAIN QUERY PLAN {}", reach::PARTS_FOR_TESTS))
        .unwrap()
        .query_map(rusqlite::params!["tern-split", 0, 1], |row| row.get(3))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert!(plan.iter().any(|step| step.contains("keystrokes_by_reach")), "{plan:?}");
    assert!(plan.iter().any(|step| step.contains("sessions_by_start")), "{plan:?}");
}
