//! A history that can't be used costs no practice.

use super::*;

#[test]
fn a_newer_database_is_refused_and_left_alone_and_practice_goes_on() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1]);
    let path = places.data.join(DATABASE);
    Connection::open(&path).unwrap().pragma_update(None, "user_version", 9).unwrap();
    let before = fs::read(&path).unwrap();
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(2, 20));
    let words = sitting.trouble().unwrap().to_owned();
    assert!(words.contains("schema 9") && words.contains(&format!("up to {SCHEMA}")), "{words}");
    assert!(words.contains("update etude") && words.contains("Practice goes on"), "{words}");
    sitting.end_drill(&done());
    assert!(sitting.end(Ended::Done, Micros::from_secs(20)).trouble.is_some());
    assert_eq!(fs::read(&path).unwrap(), before);
    assert!(matches!(Store::open_to_read(&places.data), Err(StoreError::Newer { .. })));

    Connection::open(&path).unwrap().pragma_update(None, "user_version", SCHEMA).unwrap();
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.totals().unwrap().n_keystrokes, 140);
    assert_eq!(export(&store, Table::Drills)[1][11], Cell::Text("done".to_owned()));
}

#[test]
fn a_locked_database_costs_nothing() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 20));
    let other = Connection::open(places.data.join(DATABASE)).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    sitting.end_drill(&done());
    let words = sitting.trouble().unwrap().to_owned();
    assert!(words.contains("held by another program"), "{words}");
    practise(&mut sitting, Source::Shipped, &strokes(2, 20));
    other.execute_batch("COMMIT").unwrap();
    sitting.end_drill(&done());
    assert_eq!(sitting.trouble(), None);
    assert_eq!(sitting.end(Ended::Done, Micros::from_secs(40)).trouble, None);
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.totals().unwrap().n_keystrokes, 40);
    assert!(store.integrity().unwrap().is_sound());
}

#[test]
fn a_database_that_is_locked_at_the_start_costs_nothing() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    Store::open_at(&places).unwrap();
    let other = Connection::open(places.data.join(DATABASE)).unwrap();
    other
        .execute_batch("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE; DELETE FROM drills")
        .unwrap();
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 20));
    assert!(sitting.trouble().unwrap().contains("held by another program"));
    sitting.end_drill(&done());
    drop(other);
    let closed = sitting.end(Ended::Done, Micros::from_secs(20));
    assert_eq!(closed.trouble, None);
    assert_eq!(closed.store.unwrap().totals().unwrap().n_keystrokes, 20);
}

#[test]
fn a_database_that_may_only_be_read_costs_nothing() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1]);
    // Opened for reading: what an unwritable file would be, for root too.
    let store = Store::open_to_read(&places.data).unwrap().unwrap();
    let mut sitting = Sitting::begin_at(places.clone(), Ok(store), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(2, 20));
    sitting.end_drill(&done());
    let words = sitting.trouble().unwrap().to_owned();
    assert!(words.contains("may only be read") && words.contains("journal-"), "{words}");
    assert!(sitting.end(Ended::Done, Micros::from_secs(20)).trouble.is_some());
    assert_eq!(Store::open_at(&places).unwrap().totals().unwrap().n_keystrokes, 140);
}

#[test]
fn a_damaged_database_or_another_programs_is_told_apart_and_left_alone() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    fs::create_dir(&places.data).unwrap();
    let path = places.data.join(DATABASE);
    let content = b"this is no database, it is a tide table.".repeat(40);
    fs::write(&path, &content).unwrap();
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 20));
    assert!(sitting.trouble().unwrap().contains("damaged"), "{:?}", sitting.trouble());
    drop(sitting);
    assert_eq!(fs::read(&path).unwrap(), content);
    fs::remove_file(&path).unwrap();
    assert_eq!(Store::open_at(&places).unwrap().totals().unwrap().n_keystrokes, 20);

    let dir = TempDir::new().unwrap();
    let places = Places { data: dir.path().to_owned(), fallbacks: Vec::new() };
    let gauges = Connection::open(dir.path().join(DATABASE)).unwrap();
    gauges.execute_batch("CREATE TABLE gauges (level)").unwrap();
    assert!(matches!(Store::open_at(&places), Err(StoreError::Foreign { .. })));
}

#[test]
fn where_the_folder_cant_be_used_the_journal_goes_elsewhere_and_is_found_again() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    // A file where the folder should be: also root can't write there.
    fs::write(&places.data, "in the way").unwrap();
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 20));
    let words = sitting.trouble().unwrap().to_owned();
    let state = places.fallbacks[0].display().to_string();
    assert!(words.contains("can't be used") && words.contains(&state), "{words}");
    sitting.end_drill(&done());
    assert!(sitting.end(Ended::Done, Micros::from_secs(20)).trouble.is_some());
    fs::remove_file(&places.data).unwrap();

    // Another history that shares the substitute leaves it alone.
    let other = Places { data: dir.path().join("other"), ..places.clone() };
    assert_eq!(Store::open_at(&other).unwrap().totals().unwrap().n_keystrokes, 0);
    let store = Store::open_at(&places).unwrap();
    assert_eq!(store.totals().unwrap().n_keystrokes, 20);
    assert_eq!(names_in(&places.fallbacks[0]), Vec::<String>::new());
}

#[test]
fn with_no_place_at_all_it_is_held_in_memory_until_there_is_one() {
    let dir = TempDir::new().unwrap();
    let mut places = places(&dir);
    fs::write(&places.data, "in the way").unwrap();
    fs::write(&places.fallbacks[0], "in the way").unwrap();
    places.fallbacks.push(dir.path().join("data/no"));
    let mut sitting = Sitting::begin_at(places.clone(), Store::open_at(&places), start_at(NOON));
    practise(&mut sitting, Source::Shipped, &strokes(1, 20));
    assert!(sitting.trouble().unwrap().contains("held in memory"), "{:?}", sitting.trouble());
    sitting.end_drill(&done());
    fs::remove_file(&places.data).unwrap();
    practise(&mut sitting, Source::Own, &strokes(2, 30));
    sitting.end_drill(&done());
    assert_eq!(sitting.end(Ended::Done, Micros::from_secs(40)).trouble, None);
    assert_eq!(Store::open_at(&places).unwrap().totals().unwrap().n_keystrokes, 50);
}

#[test]
fn an_older_database_is_copied_and_brought_up_to_date() {
    let dir = TempDir::new().unwrap();
    let places = places(&dir);
    whole_session(&places, NOON, &[1]);
    let mut store = Store::open_at(&places).unwrap();
    let path = store.path.clone();
    let add = schema::Migration::sql("ALTER TABLE sessions ADD COLUMN place TEXT");
    let next = [schema::MIGRATIONS, &[add]].concat();
    let copy = schema::migrate(&mut store.connection, &path, &next).unwrap().unwrap();
    assert_eq!(store.schema().unwrap(), SCHEMA + 1);
    assert_eq!(schema::migrate(&mut store.connection, &path, &next).unwrap(), None);
    let old = Connection::open(&copy).unwrap();
    assert_eq!(schema::version(&old).unwrap(), SCHEMA);
    let n: i64 = old.query_row("SELECT count(*) FROM keystrokes", [], |row| row.get(0)).unwrap();
    assert_eq!(n, 120);

    // A migration that fails leaves everything as it was.
    let broken = [&*next, &[schema::Migration::sql("CREATE TABLE sessions (x)")]].concat();
    assert!(schema::migrate(&mut store.connection, &path, &broken).is_err());
    assert_eq!(store.schema().unwrap(), SCHEMA + 1);
    assert_eq!(store.totals().unwrap().n_keystrokes, 120);
}
