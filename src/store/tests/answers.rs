//! Answers to what had to be remembered, against the keystrokes they are of.

use super::*;
use crate::model::recall::{Answer, Deck};

/// As [`strokes`], every third of them had to be remembered.
fn answered(seed: u64) -> Vec<Keystroke> {
    let mut strokes = strokes(seed, 60);
    for stroke in strokes.iter_mut().step_by(3) {
        stroke.flags |= Flags::RECALLED;
        stroke.flags.set(Flags::SHOWN, stroke.seq % 4 == 0);
    }
    strokes
}

#[test]
fn answers_are_kept_in_order_and_can_be_made_anew() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut told: Vec<Answer> = Vec::new();
    for day in (0..4).rev() {
        let started = WallTime { ms_utc: NOON.ms_utc - day * 86_400_000, ..NOON };
        let store = Store::open_at(&places);
        let mut sitting = Sitting::begin_at(places.clone(), store, start_at(started));
        let strokes = answered(day as u64);
        practise(&mut sitting, Source::Shipped, &strokes);
        // The last one is cut short: its answers come by the journal.
        if day > 0 {
            sitting.end_drill(&done());
            sitting.end(Ended::Done, Micros::from_secs(20));
        } else {
            drop(sitting);
        }
        told.extend(strokes.iter().filter_map(|k| Answer::of(k, started.day_local(k.at.0))));
    }
    let mut store = Store::open_at(&places).unwrap();
    assert_eq!(told.len(), 80);
    assert_eq!(store.answers("tern-split").unwrap(), told);
    assert_eq!(store.answers("nowhere").unwrap(), []);
    assert!(Deck::of(told.clone()).cards().count() >= 5);
    let sound = || Vec::<String>::new();
    assert_eq!(store.verify_rollups().unwrap(), sound());
    for harm in [
        "DELETE FROM recall_answers WHERE seq = 3",
        "UPDATE recall_answers SET outcome_code = (outcome_code + 1) % 5 WHERE seq = 6",
        "INSERT INTO recall_answers SELECT layout_id, day_local, drill_id, 59, output_id, 1 \
         FROM recall_answers WHERE seq = 9",
    ] {
        assert!(store.connection.execute(harm, []).unwrap() > 0, "{harm}");
        let faults = store.verify_rollups().unwrap();
        assert!(faults.iter().any(|fault| fault.starts_with("4 answers")), "{harm}: {faults:?}");
        store.rebuild_rollups().unwrap();
        assert_eq!(store.verify_rollups().unwrap(), sound(), "{harm}");
        assert_eq!(store.answers("tern-split").unwrap(), told, "{harm}");
    }
    // What a newer program wrote is passed over.
    store.connection.execute("UPDATE recall_answers SET outcome_code = 9", []).unwrap();
    assert_eq!(store.answers("tern-split").unwrap(), []);
}
