//! The days of items against their daily sums.

use super::*;

/// Counts and median of an item on a day, from the daily sums.
fn of_day(figures: &Figures) -> (u64, u64, u64, Micros) {
    let median = figures.latency.median().unwrap_or(Micros::ZERO);
    (figures.n_hits, figures.n_misses, figures.latency.count(), median)
}

#[test]
fn the_days_of_items_equal_their_daily_sums() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let last = NOON.day_local(0);
    for day in (0..=70).filter(|day| day % 5 != 3) {
        let started = WallTime { ms_utc: NOON.ms_utc - (70 - day) * 86_400_000, ..NOON };
        let mut start = start_at(started);
        // Another version of the layout later on; on one day both, and on
        // another the newer one before the older.
        if day >= 40 && day != 52 {
            start.layout.text.push_str("# with a comment\n");
        }
        let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start);
        for (n, source) in [Source::Shipped, Source::Own, Source::Shipped].into_iter().enumerate() {
            if n == 1 && day % 4 != 0 {
                continue;
            }
            practise(&mut sitting, source, &strokes(day as u64 * 10 + n as u64, 15));
            sitting.end_drill(&done());
        }
        sitting.end(Ended::Done, Micros::from_secs(20));
    }
    // The same day on the other version too.
    for day in [30, 52] {
        let started = WallTime { ms_utc: NOON.ms_utc - day * 86_400_000 + 3_600_000, ..NOON };
        whole_session(&places, started, &[day as u64]);
    }
    let mut store = Store::open_at(&places).unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    for _ in 0..2 {
        for days in [
            Days::up_to(last),
            Days { from: i32::MIN, to: i32::MAX },
            Days::last(9, last),
            Days { from: last - 50, to: last - 20 },
            Days { from: last - 3, to: last - 4 },
        ] {
            let found = store.item_days("tern-split", days).unwrap();
            let mut n = 0;
            for day in (last - 71..=last).filter(|day| (days.from..=days.to).contains(day)) {
                let only = Days { from: day, to: day };
                for (name, figures) in store.item_figures("tern-split", only).unwrap() {
                    let course = &found[&name];
                    let at: Vec<&ItemDay> = course.iter().filter(|d| d.day == day).collect();
                    let [one] = at[..] else { panic!("{name:?} on {day}: {at:?}") };
                    let (hits, misses) = (u64::from(one.n_hits), u64::from(one.n_misses));
                    let got = (hits, misses, u64::from(one.n_timed), one.median);
                    assert_eq!(got, of_day(&figures), "{name:?} on {day}");
                    n += 1;
                }
            }
            assert_eq!(n, found.values().map(Vec::len).sum::<usize>());
            assert!(found.values().all(|days| days.is_sorted_by(|a, b| a.day < b.day)));
            assert_eq!(found.is_empty(), days.from > days.to);
        }
        // Once as they grew, once made anew.
        store.rebuild_rollups().unwrap();
    }
    assert_eq!(store.item_days("nowhere", Days::up_to(last)).unwrap().len(), 0);
}

#[test]
fn days_that_went_wrong_show_and_are_made_anew() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1, 2]);
    let days = Days::up_to(NOON.day_local(0));
    let mut store = Store::open_at(&places).unwrap();
    let kept = store.item_days("tern-split", days).unwrap();
    for spoil in [
        "DELETE FROM item_courses",
        "UPDATE item_courses SET month_local = month_local + 1",
        "UPDATE item_courses SET days_packed = x'ff' WHERE layer = 1",
        "UPDATE item_courses SET days_packed = CAST(days_packed || days_packed AS BLOB)",
        "UPDATE item_courses SET position_code = position_code + 100",
    ] {
        store.connection.execute_batch(spoil).unwrap();
        let faults = store.verify_rollups().unwrap();
        assert!(
            faults.iter().any(|fault| fault.contains("months of items")),
            "{spoil}: {faults:?}"
        );
        store.rebuild_rollups().unwrap();
        assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
        assert_eq!(store.item_days("tern-split", days).unwrap(), kept);
    }
    let damage = "UPDATE item_courses SET days_packed = x'ff' WHERE layer = 1";
    store.connection.execute_batch(damage).unwrap();
    let error = store.item_days("tern-split", days).unwrap_err().to_string();
    assert!(error.contains("damaged"), "{error}");
    // A damaged month never keeps a drill out.
    whole_session(&places, NOON, &[3]);
    assert_eq!(Store::open_at(&places).unwrap().totals().unwrap().n_drills, 3);
}
