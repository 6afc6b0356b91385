//! Tests of the store as a whole.

use super::journal::{Entry, Journal};
use super::record::{DrillRecord, SessionRecord, WholeDrill};
use super::*;
use crate::drill::{Flow, Source};
use crate::keyboard::{Digit, Finger, Hand, Output, Position, Row as GridRow};
use crate::layout::{Cluster, LayerId};
use crate::session::{Flags, Keystroke, Spread, Verdict};
use crate::units::Micros;
use rand::{RngExt, SeedableRng};
use std::fs;
use tempfile::TempDir;

mod answers;
mod courses;
mod markers;
mod trouble;
mod versions;

/// 2026-11-25T12:00:00Z at +01:00.
const NOON: WallTime = WallTime { ms_utc: 1_795_608_000_000, utc_offset_min: 60 };

fn places(dir: &TempDir) -> Places {
    Places { data: dir.path().join("data"), fallbacks: vec![dir.path().join("state")] }
}

fn start_at(started: WallTime) -> SessionStart {
    let layer = |name: &str, cluster: Cluster| LayerRecord {
        name: name.to_owned(),
        cluster: cluster.word().to_owned(),
    };
    SessionStart {
        started,
        seed: u64::MAX - 1,
        layout: LayoutRecord {
            name: "tern-split".to_owned(),
            title: "Tern Point, split".to_owned(),
            text: "name = \"tern-split\"\n".to_owned(),
            layers: vec![layer("base", Cluster::Base), layer("marks", Cluster::Symbols)],
        },
        terminal_level: "enhanced".to_owned(),
        program_version: "0.1.0".to_owned(),
        score_version: 1,
    }
}

fn drill(source: Source) -> DrillStart {
    DrillStart {
        title: "brackets round gauge readings".to_owned(),
        cluster: Cluster::Symbols,
        flow: Flow::Stay,
        source,
        started_at: Micros::from_secs(1),
        n_left_out: 2,
    }
}

/// `n` keystrokes that look like practice, the same for the same seed.
fn strokes(seed: u64, n: u32) -> Vec<Keystroke> {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let mut at = Micros::from_secs(1);
    let mut previous_layer = LayerId::BASE;
    (0..n)
        .map(|seq| {
            let latency = Micros(u64::from(random.random_range(20_000u32..600_000)));
            at = at + latency;
            let due = random.random_range(0..6u32);
            let layer = LayerId(u8::from(due >= 3));
            let expected = Output::char(['a', 't', ' ', '[', ']', ','][due as usize]);
            let verdict = match random.random_range(0..10u32) {
                0 => Verdict::Miss,
                1 => Verdict::Repair,
                _ => Verdict::Hit,
            };
            let mut flags = Flags::empty();
            flags.set(Flags::FIRST, seq == 0);
            flags.set(Flags::SWITCH, layer != previous_layer);
            flags.set(Flags::PAUSE, random.random_range(0..12u32) == 0);
            let stroke = Keystroke {
                seq,
                prompt: 0,
                place: seq as u16,
                at,
                got: if verdict == Verdict::Miss { Output::char('q') } else { expected.clone() },
                expected,
                verdict,
                latency: (seq > 0).then_some(latency),
                reach: None,
                down: None,
                layer,
                previous_layer,
                position: Some(Position::main(GridRow::C, due as u8 + 1)),
                finger: Some(Finger::new(Hand::Right, Digit::Index)),
                flags,
            };
            previous_layer = layer;
            stroke
        })
        .collect()
}

fn done() -> DrillEnd {
    let text = TextCounts { n_transcribed: 40, n_correct: 38, ..TextCounts::default() };
    DrillEnd::new(Ended::Done, Micros::from_secs(20), Some(text))
}

fn practise(sitting: &mut Sitting, source: Source, strokes: &[Keystroke]) {
    sitting.begin_drill(&drill(source));
    for stroke in strokes {
        sitting.keystroke(stroke);
    }
}

fn whole_session(places: &Places, started: WallTime, seeds: &[u64]) {
    let store = Store::open_at(places);
    let mut sitting = Sitting::begin_at(places.clone(), store, start_at(started));
    for &seed in seeds {
        practise(&mut sitting, Source::Shipped, &strokes(seed, 120));
        sitting.end_drill(&done());
    }
    assert_eq!(sitting.end(Ended::Done, Micros::from_secs(60)).trouble, None);
}

fn export(store: &Store, table: Table) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    store
        .export(table, None, |cells| {
            rows.push(cells.to_vec());
            Ok(())
        })
        .unwrap();
    rows
}

fn names_in(dir: &Path) -> Vec<String> {
    let Ok(entries) = fs::read_dir(dir) else { return Vec::new() };
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// Every byte that lies in `dir`, files one after another.
fn all_bytes(dir: &Path) -> Vec<u8> {
    names_in(dir).iter().flat_map(|name| fs::read(dir.join(name)).unwrap()).collect()
}

fn holds(haystack: &[u8], needle: &[u8]) -> bool {
    haystack.windows(needle.len()).any(|window| window == needle)
}

/// Waits for `condition`, at most ten seconds.
#[expect(clippy::disallowed_methods, reason = "a deadline for a test that waits on a condition")]
fn wait_for(what: &str, mut condition: impl FnMut() -> bool) {
    let deadline = std::time::Instant::now() + Duration::from_secs(10);
    while !condition() {
        assert!(std::time::Instant::now() < deadline, "waited in vain for {what}");
        std::thread::yield_now();
    }
}

#[test]
fn a_session_is_kept_as_it_was() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1, 2]);
    let store = Store::open_to_read(&places.data).unwrap().unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let totals = store.totals().unwrap();
    assert_eq!((totals.n_sessions, totals.n_drills, totals.n_keystrokes), (1, 2, 240));
    assert_eq!(totals.active, Micros::from_secs(60));
    assert_eq!(totals.first_day.map(wall_clock::day_text).as_deref(), Some("2026-11-25"));
    let sessions = export(&store, Table::Sessions);
    let text = |text: &str| Cell::Text(text.to_owned());
    assert_eq!(sessions[0][1], text("2026-11-25T13:00:00+01:00"));
    assert_eq!(sessions[0][6], text("18446744073709551614"));
    assert_eq!(sessions[0][10], text("done"));
    let rows = export(&store, Table::Keystrokes);
    let expected: Vec<Keystroke> = [strokes(1, 120), strokes(2, 120)].concat();
    assert_eq!(rows.len(), expected.len());
    for (row, stroke) in rows.iter().zip(&expected) {
        assert_eq!(row[1], Cell::Number(i64::from(stroke.seq)));
        assert_eq!(row[4], Cell::Number(stroke.at.0.cast_signed()));
        assert_eq!(row[5], text(&stroke.expected.to_string()));
        assert_eq!(row[6], text(&stroke.got.to_string()));
        assert_eq!(row[7], text(stroke.verdict.word()));
        assert_eq!(row[12], text(&stroke.position.unwrap().to_string()));
        assert_eq!(row[13], text("R2"));
    }
    assert!(
        names_in(&places.data).iter().all(|name| name.starts_with("history.sqlite")),
        "{:?}",
        names_in(&places.data)
    );
}

#[cfg(unix)]
#[test]
fn folder_and_files_are_for_this_person_only() {
    use std::os::unix::fs::PermissionsExt;
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 5));
    let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&places.data), 0o700);
    let names = names_in(&places.data);
    assert!(names.len() >= 2, "{names:?}");
    for name in names {
        assert_eq!(mode(&places.data.join(&name)), 0o600, "{name}");
    }
}

#[test]
fn a_dropped_session_is_folded_in_once_with_its_last_drill_cut() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 30));
    sitting.end_drill(&done());
    practise(&mut sitting, Source::Shipped, &strokes(2, 17));
    sitting.down(16, Micros::from_ms(80));
    let journal = fold::journals_in(&places.data).remove(0);
    let bytes = fs::read(&journal).unwrap();
    // While the session lives, another window leaves its journal alone.
    let other = Store::open_at(&places).unwrap();
    assert_eq!(other.folded(), &FoldReport::default());
    drop(sitting);
    drop(other);

    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.folded(), &FoldReport { drills: 1, journals: 1, ..FoldReport::default() });
    let drills = export(&store, Table::Drills);
    assert_eq!(drills.len(), 2);
    assert_eq!(drills[1][11], Cell::Text("cut".to_owned()));
    assert_eq!(drills[1][12], Cell::Number(17));
    let rows = export(&store, Table::Keystrokes);
    assert_eq!(rows.last().unwrap()[9], Cell::Number(80_000));
    assert_eq!(journals_waiting(&places).len(), 0);

    // A crash between the commit and the removal of the journal.
    fs::write(&journal, &bytes).unwrap();
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.folded().drills, 0);
    assert_eq!(export(&store, Table::Keystrokes).len(), rows.len());
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
}

#[test]
fn a_journal_torn_anywhere_gives_every_whole_line() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    Store::open_at(&places).unwrap();
    let session = SessionRecord { uid: Uid::random(), start: start_at(NOON) };
    let mut journal = Journal::create(&places.data, &places.data, &session).unwrap();
    journal.append(&Entry::Drill(DrillRecord::new(&drill(Source::Shipped), 0)));
    let head = fs::read(journal.path()).unwrap().len();
    for stroke in strokes(3, 4) {
        journal.append(&Entry::Key(record::Row::of(&stroke)));
    }
    let bytes = fs::read(journal.path()).unwrap();
    journal.remove();
    for cut in 0..bytes.len() {
        let torn = TempDir::new().unwrap();
        let places = Places { data: places.data.clone(), fallbacks: vec![torn.path().to_owned()] };
        let reading = fold_bytes(&places, &bytes[..cut]);
        let whole = bytes[head.min(cut)..cut].split(|&b| b == b'\n').count() - 1;
        assert_eq!(reading, whole, "cut at {cut}");
    }
}

/// How many keystrokes a journal of these bytes gives.
fn fold_bytes(places: &Places, bytes: &[u8]) -> usize {
    fold::keystrokes_in(bytes).unwrap_or_else(|| {
        assert!(!holds(bytes, b"\n"), "{}", places.data.display());
        0
    })
}

#[test]
fn a_damaged_line_costs_that_line_and_the_journal_is_kept() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(4, 9));
    let path = fold::journals_in(&places.data).remove(0);
    drop(sitting);
    let mut bytes = fs::read(&path).unwrap();
    let third_last = bytes.iter().rposition(|&b| b == b'\n').unwrap() - 200;
    bytes[third_last] ^= 1;
    fs::write(&path, &bytes).unwrap();
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.folded().damaged_lines, 1);
    assert_eq!(store.totals().unwrap().n_keystrokes, 8);
    assert!(names_in(&places.data).iter().any(|name| name.starts_with("damaged-journal-")));
    assert_eq!(Store::open_at(&places).unwrap().folded(), &FoldReport::default());
}

#[test]
fn of_own_texts_only_sums_reach_the_disk() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let text = "the keeper wrote";
    let own: Vec<Keystroke> = strokes(5, 40)
        .into_iter()
        .zip(text.chars().cycle())
        .map(|(stroke, c)| Keystroke {
            expected: Output::char(c),
            got: Output::char('\u{2603}'),
            verdict: Verdict::Miss,
            ..stroke
        })
        .collect();
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    let secret = DrillStart { title: "secret letter".to_owned(), ..drill(Source::Own) };
    sitting.begin_drill(&secret);
    for stroke in &own {
        sitting.keystroke(stroke);
    }
    let sums = journal::sums_path(&fold::journals_in(&places.data)[0]);
    wait_for("the sums of all keystrokes", || {
        fs::read(&sums).is_ok_and(|bytes| holds(&bytes, b"{\"n_keystrokes\":40,"))
    });
    let in_drill = all_bytes(&places.data);
    drop(sitting);

    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.folded().drills, 1);
    assert_eq!(export(&store, Table::Keystrokes).len(), 0);
    assert_eq!(store.totals().unwrap().n_keystrokes, 40);
    let items = store.items_since("tern-split", 0).unwrap();
    assert_eq!(items.iter().map(|item| item.n_misses).sum::<u64>(), 40);
    let e = items.iter().filter(|item| item.output == "e").map(|item| item.n_misses).sum::<u64>();
    assert_eq!(e as usize, text.chars().cycle().take(40).filter(|&c| c == 'e').count());
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    // The dictionary is in alphabetical order, not in the text's.
    let outputs: Vec<String> = store
        .connection
        .prepare("SELECT text FROM outputs ORDER BY output_id")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert!(outputs.is_sorted(), "{outputs:?}");
    drop(store);
    for bytes in [in_drill, all_bytes(&places.data)] {
        for secret in ["secret", "keeper", "wrote", "\u{2603}"] {
            assert!(!holds(&bytes, secret.as_bytes()), "{secret}");
        }
    }
    assert_eq!(journals_waiting(&places).len(), 0);
    assert!(!sums.exists());
}

#[test]
fn own_and_shipped_drills_in_one_session_both_count() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    for (seed, source) in [(1, Source::Own), (2, Source::Shipped), (3, Source::Own)] {
        practise(&mut sitting, source, &strokes(seed, 50));
        sitting.end_drill(&done());
    }
    assert_eq!(sitting.end(Ended::Left, Micros::from_secs(60)).trouble, None);
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.totals().unwrap().n_keystrokes, 150);
    assert_eq!(export(&store, Table::Keystrokes).len(), 50);
    assert_eq!(store.verify_rollups().unwrap(), Vec::<String>::new());
    assert!(!names_in(&places.data).iter().any(|name| name.starts_with("journal")));
}

#[test]
fn sums_kept_by_the_day_equal_those_made_anew_and_a_difference_shows() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    for day in 0..4 {
        let ms_utc = NOON.ms_utc + day * 43_200_000;
        whole_session(&places, WallTime { ms_utc, ..NOON }, &[day as u64, 50 + day as u64]);
    }
    let mut store = Store::open_at(&places).unwrap();
    assert_eq!(store.verify_rollups().unwrap(), Vec::<String>::new());
    let dump = |store: &Store| -> Vec<(i64, Vec<u8>)> {
        store
            .connection
            .prepare("SELECT n_keystrokes, latency_sketch FROM item_days")
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap()
            .map(Result::unwrap)
            .collect()
    };
    let kept = dump(&store);
    assert!(kept.len() > 12);
    store.rebuild_rollups().unwrap();
    assert_eq!(dump(&store), kept);
    for (spoil, word) in [
        ("UPDATE item_days SET n_keystrokes = n_keystrokes + 1 WHERE layer = 0", "wrong"),
        ("DELETE FROM item_days WHERE layer = 0", "missing"),
        ("DELETE FROM keystrokes WHERE seq = 3", "keystrokes"),
        ("UPDATE item_days SET latency_sketch = x'00' WHERE layer = 1", "damaged"),
        ("UPDATE switch_days SET day_local = day_local + 9", "no keystrokes"),
        ("UPDATE layer_days SET active_us = active_us + 1 WHERE layer = 1", "layer 1 on"),
        ("UPDATE item_months SET n_hits = n_hits - 1", "over a month"),
        ("DELETE FROM layer_months", "over a month"),
    ] {
        store.connection.execute_batch(&format!("SAVEPOINT s; {spoil}")).unwrap();
        let faults = store.verify_rollups().unwrap();
        assert!(faults.iter().any(|fault| fault.contains(word)), "{spoil}: {faults:?}");
        assert!(!store.integrity().unwrap().is_sound());
        store.connection.execute_batch("ROLLBACK TO s; RELEASE s").unwrap();
    }
    assert!(store.integrity().unwrap().is_sound());
}

#[test]
fn queries_answer_from_what_was_practised() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1]);
    let later = WallTime { ms_utc: NOON.ms_utc + 86_400_000, ..NOON };
    whole_session(&places, later, &[2, 3]);
    let store = Store::open_at(&places).unwrap();

    let layers = store.recent_by_layer("tern-split").unwrap();
    assert_eq!(layers.iter().map(|l| l.layer.as_str()).collect::<Vec<_>>(), ["base", "marks"]);
    let all = [strokes(1, 120), strokes(2, 120), strokes(3, 120)].concat();
    let marks: Vec<&Keystroke> = all.iter().filter(|stroke| stroke.layer == LayerId(1)).collect();
    assert_eq!(layers[1].n_keystrokes as usize, marks.len());
    assert_eq!(wall_clock::day_text(layers[1].last_day), "2026-11-26");
    let exact = Spread::of(&marks.iter().filter_map(|s| s.timed()).collect::<Vec<_>>()).unwrap();
    let sketched = layers[1].latency.unwrap();
    assert_eq!(sketched.n, exact.n);
    let ratio = sketched.median.as_ms() / exact.median.as_ms();
    assert!((ratio - 1.0).abs() < 0.02, "{ratio}");

    let before = store.before("tern-split", Cluster::Symbols, None).unwrap().unwrap();
    assert_eq!(before.started, later);
    let last = &all[120..];
    assert_eq!(before.n_drills, 2);
    assert_eq!(before.n_hits, last.iter().filter(|s| s.verdict == Verdict::Hit).count() as u64);
    let timed: Vec<Micros> = last.iter().filter_map(Keystroke::timed).collect();
    assert_eq!(before.latency, Spread::of(&timed));
    let switch: Vec<Micros> = last
        .iter()
        .filter(|s| s.flags.contains(Flags::SWITCH) && s.layer == LayerId(1))
        .filter_map(Keystroke::timed)
        .collect();
    assert_eq!(
        (before.switches[1].from.as_str(), before.switches[1].to.as_str()),
        ("base", "marks")
    );
    assert_eq!(before.switches[1].latency, Spread::of(&switch));
    assert_eq!(before.items.len(), 6);

    let uid = store
        .connection
        .query_row("SELECT uid FROM sessions ORDER BY started_at_ms_utc DESC LIMIT 1", [], |row| {
            row.get::<_, [u8; 16]>(0)
        })
        .unwrap();
    let first = store.before("tern-split", Cluster::Symbols, Some(Uid(uid))).unwrap().unwrap();
    assert_eq!(first.started, NOON);
    assert_eq!(store.before("tern-split", Cluster::Numbers, None).unwrap(), None);
    assert_eq!(store.before("other", Cluster::Symbols, None).unwrap(), None);
    let earlier = store.earlier("tern-split").unwrap();
    assert_eq!(earlier.items.len(), 6);
    let bracket = &earlier.items[&(LayerId(1), Output::char('['))];
    let exact: Vec<Micros> = all
        .iter()
        .filter(|s| s.expected == Output::char('['))
        .filter_map(Keystroke::timed)
        .collect();
    assert_eq!(bracket.n, exact.len());
    assert_eq!(earlier.switches.len(), 4);
    assert_eq!(store.earlier("other").unwrap(), crate::session::Earlier::default());
    let switches = store.switches_since("tern-split", later.day_local(0)).unwrap();
    assert_eq!(switches[1].n_hits, before.switches[1].n_hits);
}

#[test]
fn words_and_codes_of_a_newer_program_survive_a_read() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1]);
    let store = Store::open_at(&places).unwrap();
    store
        .connection
        .execute_batch(
            "UPDATE keystrokes SET verdict_code = 9, flag_bits = 32768 + 1 WHERE seq = 3; \
             UPDATE drills SET ended_word = 'paused', cluster_word = 'music'; \
             UPDATE layers SET cluster_word = 'music' WHERE layer = 1",
        )
        .unwrap();
    let row = &export(&store, Table::Keystrokes)[3];
    assert_eq!(row[7], Cell::Text("code 9".to_owned()));
    assert_eq!(row[14], Cell::Text("first bits 32768".to_owned()));
    assert_eq!(export(&store, Table::Drills)[0][11], Cell::Text("paused".to_owned()));
    assert_eq!(store.recent_by_layer("tern-split").unwrap()[1].cluster, "music");
}

#[test]
fn reading_makes_nothing() {
    let dir = TempDir::new().unwrap();
    assert!(Store::open_to_read(&dir.path().join("none")).unwrap().is_none());
    assert_eq!(names_in(dir.path()), Vec::<String>::new());
}

#[test]
fn exports_stream_in_the_tables_order() {
    let dir = TempDir::new().unwrap();
    let store = Store::open_at(&places(&dir)).unwrap();
    for table in [Table::Sessions, Table::Drills, Table::Keystrokes] {
        let plan: Vec<String> = store
            .connection
            .prepare(&format!("EXPLAIN QUERY PLAN {}", table.sql_for_tests()))
            .unwrap()
            .query_map([0], |row| row.get(3))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert!(!plan.iter().any(|step| step.contains("TEMP B-TREE")), "{plan:?}");
    }
}

#[test]
fn two_windows_at_once_are_fine() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let windows: Vec<_> = (0..3u64)
        .map(|window| {
            let places = places.clone();
            std::thread::spawn(move || {
                for n in 0..3 {
                    let start = start_at(NOON);
                    let mut sitting =
                        Sitting::begin_at(places.clone(), Store::open_at(&places), start);
                    practise(&mut sitting, Source::Shipped, &strokes(window * 10 + n, 40));
                    sitting.end_drill(&done());
                    sitting.end(Ended::Done, Micros::from_secs(20));
                }
            })
        })
        .collect();
    for window in windows {
        window.join().unwrap();
    }
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.totals().unwrap().n_keystrokes, 360);
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
}

#[test]
fn a_drill_goes_in_once_however_often_it_is_written() {
    let dir = TempDir::new().unwrap();
    let mut store = Store::open_at(&places(&dir)).unwrap();
    let session = SessionRecord { uid: Uid::random(), start: start_at(NOON) };
    let whole = WholeDrill {
        start: DrillRecord::new(&drill(Source::Shipped), 0),
        end: done(),
        body: record::Body::Rows(strokes(1, 30).iter().map(record::Row::of).collect()),
    };
    assert_eq!(store.commit(&session, std::slice::from_ref(&whole), None).unwrap(), 1);
    assert_eq!(store.commit(&session, &[whole], None).unwrap(), 0);
    assert_eq!(store.totals().unwrap().n_keystrokes, 30);
    assert_eq!(store.totals().unwrap().active, Micros::from_secs(20));
    assert!(store.integrity().unwrap().is_sound());
}

#[test]
fn a_history_of_schema_1_is_read_as_it_was() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    fs::create_dir(&places.data).unwrap();
    let fixture = include_str!("../../tests/fixtures/history-schema-1.sql");
    Connection::open(places.data.join(DATABASE)).unwrap().execute_batch(fixture).unwrap();
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.schema().unwrap(), SCHEMA);
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let totals = store.totals().unwrap();
    assert_eq!((totals.n_sessions, totals.n_drills, totals.n_keystrokes), (3, 3, 38));
    assert_eq!(export(&store, Table::Keystrokes).len(), 24);
    assert_eq!(export(&store, Table::Drills)[2][5], Cell::Text("own text".to_owned()));
    let layers = store.recent_by_layer("harbour").unwrap();
    assert_eq!(
        layers.iter().map(|l| (l.layer.as_str(), l.n_keystrokes)).collect::<Vec<_>>(),
        [("base", 14), ("marks", 24)]
    );
    let before = store.before("harbour", Cluster::Symbols, None).unwrap().unwrap();
    // Keystrokes 2 to 5 and 8 to 11, less the miss at 4.
    let marks = before.items.iter().filter(|item| item.layer == "marks");
    assert_eq!(marks.map(|item| item.n_hits).sum::<u64>(), 7);
    // Keystroke n took 150 + 7 n ms; those from 1 to 11 without 4 count.
    assert_eq!(before.latency.unwrap().median, Micros(195_500));
}

#[test]
fn questions_about_recent_days_dont_read_all_the_years() {
    let dir = TempDir::new().unwrap();
    let store = Store::open_at(&places(&dir)).unwrap();
    for sql in [query::ITEMS_SINCE, query::SWITCHES_SINCE] {
        let plan: Vec<String> = store
            .connection
            .prepare(&format!("EXPLAIN QUERY PLAN {sql}"))
            .unwrap()
            .query_map(rusqlite::params!["harbour", 0], |row| row.get(3))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        assert!(plan.iter().any(|step| step.contains("day_local>")), "{plan:?}");
    }
    for (stem, time) in [("days", "day_local"), ("months", "month_local")] {
        for template in [ranges::ITEMS, ranges::SWITCHES, ranges::LAYERS] {
            let sql = template.replace("{days}", stem).replace("{time}", time);
            let plan: Vec<String> = store
                .connection
                .prepare(&format!("EXPLAIN QUERY PLAN {sql}"))
                .unwrap()
                .query_map(rusqlite::params!["harbour", 0, 9], |row| row.get(3))
                .unwrap()
                .map(Result::unwrap)
                .collect();
            let bound = format!("{time}>");
            assert!(plan.iter().any(|step| step.contains(&bound)), "{plan:?}");
        }
    }
}

/// Sums over a range, the slow and sure way: from every kept keystroke.
#[test]
fn sums_over_ranges_equal_those_of_the_raw_keystrokes() {
    use std::collections::BTreeMap;
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    // 100 days from August on, some without practice.
    let first = NOON.day_local(0) - 100;
    let mut raw: Vec<(i32, Keystroke)> = Vec::new();
    for day in (0..=100).filter(|day| day % 7 != 3) {
        let started = WallTime { ms_utc: NOON.ms_utc - i64::from(100 - day) * 86_400_000, ..NOON };
        let strokes = strokes(day as u64, 12);
        raw.extend(strokes.iter().map(|stroke| (first + day, stroke.clone())));
        let mut sitting =
            Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(started));
        practise(&mut sitting, Source::Shipped, &strokes);
        sitting.end_drill(&done());
        sitting.end(Ended::Done, Micros::from_secs(20));
    }
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let names = ["base", "marks"];
    for days in [
        Days::up_to(first + 100),
        Days::last(90, first + 100),
        Days { from: first + 5, to: first + 5 },
        Days { from: first + 11, to: first + 79 },
        Days { from: first + 3, to: first + 3 },
        Days { from: 10, to: 2 },
    ] {
        let within = |day: i32| (days.from..=days.to).contains(&day);
        let mut items: BTreeMap<(String, String), Vec<Micros>> = BTreeMap::new();
        let mut layers: BTreeMap<(&str, i32), (u64, u64, u64)> = BTreeMap::new();
        let mut switches: BTreeMap<(String, String), u64> = BTreeMap::new();
        for (day, stroke) in raw.iter().filter(|(day, _)| within(*day)) {
            let layer = names[stroke.layer.index()];
            let from = names[stroke.previous_layer.index()];
            let item = items.entry((layer.to_owned(), stroke.expected.to_string())).or_default();
            item.extend(stroke.timed());
            *switches.entry((from.to_owned(), layer.to_owned())).or_default() += 1;
            let sums = layers.entry((layer, *day)).or_default();
            sums.0 += u64::from(stroke.verdict == Verdict::Hit);
            sums.1 += u64::from(stroke.timed().is_some());
            if !stroke.flags.contains(Flags::PAUSE) {
                sums.2 += stroke.latency.map_or(0, |latency| latency.0);
            }
        }
        let found = store.item_figures("tern-split", days).unwrap();
        assert_eq!(found.len(), items.len());
        for (name, figures) in found {
            let exact = &items[&(name.layer, name.output)];
            assert_eq!(figures.latency.count(), exact.len() as u64);
            if let (Some(spread), Some(exact)) = (figures.spread(), Spread::of(exact)) {
                // Of an even count the sketch takes one of the middle two.
                let (low, high) = exact.quartiles.unwrap_or((exact.median, exact.median));
                if exact.n > 8 {
                    assert!(spread.median.as_ms() >= low.as_ms() * 0.98);
                    assert!(spread.median.as_ms() <= high.as_ms() * 1.02);
                }
            }
        }
        let found = store.switch_figures("tern-split", days).unwrap();
        let counts: BTreeMap<_, _> =
            found.into_iter().map(|(key, figures)| (key, figures.n_keystrokes)).collect();
        assert_eq!(counts, switches);
        let by_day = store.layer_series("tern-split", days, Step::Day).unwrap();
        let mut n = 0;
        for (layer, points) in &by_day {
            for (day, figures) in points {
                let got = (figures.n_hits, figures.latency.count(), figures.active.0);
                assert_eq!(got, layers[&(layer.as_str(), *day)]);
                n += 1;
            }
        }
        assert_eq!(n, layers.len());
        // Months hold the same as their days.
        let by_month = store.layer_series("tern-split", days, Step::Month).unwrap();
        for (layer, points) in &by_month {
            let (mut a, mut b) = (Figures::default(), Figures::default());
            for figures in points.values() {
                a.merge(figures);
            }
            for figures in by_day[layer].values() {
                b.merge(figures);
            }
            assert_eq!(a, b);
        }
        let practised = store.practice_days(days).unwrap();
        let mut by_day: BTreeMap<i32, u64> = BTreeMap::new();
        raw.iter().filter(|(day, _)| within(*day)).for_each(|(day, _)| {
            *by_day.entry(*day).or_default() += 1;
        });
        let got: BTreeMap<i32, u64> = practised.iter().map(|d| (d.day, d.n_keystrokes)).collect();
        assert_eq!(got, by_day);
        assert!(practised.iter().all(|day| day.active == Micros::from_secs(20)));
    }
    assert_eq!(store.last_practised("tern-split").unwrap(), Some(first + 100));
    assert_eq!(store.last_practised("nowhere").unwrap(), None);
    assert_eq!(store.layers_of("tern-split").unwrap()[1], ("marks".into(), "symbols".into()));
}
