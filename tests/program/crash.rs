//! Crashes and full disks: a child that practises is killed at any moment;
//! nothing that was acknowledged is lost, nothing is doubled.
//!
//! The child is this test binary, told by the environment to be one. A short
//! loop by default; `ETUDE_CRASH_ROUNDS=300` makes it long.

use crate::strokes::{drill, end, session, stroke};
use etude::drill::Source;
use etude::store::{Cell, Ended, FoldReport, Sitting, Store, Table, journals_waiting};
use etude::store::{Places, SCHEMA};
use etude::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet};
use std::env;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use tempfile::TempDir;

const ROLE: &str = "ETUDE_CRASH_ROLE";
const DATA: &str = "ETUDE_CRASH_DATA";
const SEED: &str = "ETUDE_CRASH_SEED";

/// Says a line to the parent at once.
fn say(line: &str) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    // A parent that is gone is the end of this process too.
    writeln!(out, "@{line}").and_then(|()| out.flush()).unwrap();
}

/// Runs this test binary as a child in `role`.
fn child(role: &str, dir: &Path, seed: u64, shell: Option<&str>) -> Child {
    let this = env::current_exe().unwrap();
    let mut command = match shell {
        None => Command::new(&this),
        Some(script) => {
            let mut command = Command::new("sh");
            command.args(["-c", &format!("{script}; exec \"$0\" \"$@\"")]).arg(&this);
            command
        }
    };
    command
        .args(["crash::the_child", "--exact", "--nocapture", "--test-threads=1"])
        .env(ROLE, role)
        .env(DATA, dir)
        .env(SEED, seed.to_string())
        // Journals must not go to the real home.
        .env("XDG_STATE_HOME", dir.join("state"))
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// No test of its own: does something only where the parent asks for it.
#[test]
fn the_child() {
    let Ok(role) = env::var(ROLE) else { return };
    let dir = env::var_os(DATA).unwrap();
    let seed: u64 = env::var(SEED).unwrap().parse().unwrap();
    match role.as_str() {
        "practise" => practise_for_ever(Path::new(&dir), seed),
        "fill" => fill_the_disk(Path::new(&dir)),
        other => panic!("no role {other}"),
    }
}

/// Session after session until killed; says what has been acknowledged.
fn practise_for_ever(dir: &Path, seed: u64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    for n in 0..1000 {
        let session_seed = seed * 1000 + n;
        say("opening");
        let store = Store::open(dir).ok();
        let mut sitting = Sitting::begin(dir, store, session(1_795_608_000_000, session_seed));
        for ordinal in 0..random.random_range(1..4u32) {
            let own = random.random_range(0..3u32) == 0;
            let source = if own { Source::Own } else { Source::Shipped };
            sitting.begin_drill(&drill("moorings", source));
            let length = random.random_range(1..60u32);
            for seq in 0..length {
                let mut keystroke = stroke(seq);
                keystroke.down = None;
                sitting.keystroke(&keystroke);
                if !own {
                    say(&format!("key {session_seed} {ordinal} {seq}"));
                    if seq % 5 == 0 {
                        sitting.down(seq, Micros(70_000 + u64::from(seq)));
                        say(&format!("down {session_seed} {ordinal} {seq}"));
                    }
                }
            }
            say("ending");
            sitting.end_drill(&end());
            say(&format!("ended {session_seed} {ordinal} {length}"));
        }
        say("closing");
        sitting.end(Ended::Done, Micros::from_secs(9));
    }
}

/// What children have been told is kept.
#[derive(Default)]
struct Acknowledged {
    keys: BTreeSet<(u64, u64, i64)>,
    downs: BTreeSet<(u64, u64, i64)>,
    ended: BTreeMap<(u64, u64), i64>,
}

impl Acknowledged {
    fn take(&mut self, line: &str) {
        let mut words = line.split(' ');
        let kind = words.next().unwrap();
        let numbers: Vec<u64> = words.map(|word| word.parse().unwrap()).collect();
        if let [session, ordinal, last] = numbers[..] {
            let last = i64::try_from(last).unwrap();
            match kind {
                "key" => drop(self.keys.insert((session, ordinal, last))),
                "down" => drop(self.downs.insert((session, ordinal, last))),
                "ended" => drop(self.ended.insert((session, ordinal), last)),
                other => panic!("{other}"),
            }
        }
    }
}

/// Kills the child at a moment that `random` chooses and takes in all that it
/// said before.
fn kill_some_time(mut child: Child, random: &mut ChaCha8Rng, acknowledged: &mut Acknowledged) {
    let mut reader = BufReader::new(child.stdout.take().unwrap());
    let mut next = || -> Option<String> {
        loop {
            let mut line = String::new();
            reader.read_line(&mut line).unwrap();
            // A line that the kill tore is no acknowledgement.
            let line = line.strip_suffix('\n')?;
            if let Some(at) = line.find('@') {
                return Some(line[at + 1..].to_owned());
            }
        }
    };
    // After some acknowledgements, or in the middle of an opening, a commit, a
    // closing: a little after the word that announces it.
    let word = [None, Some("opening"), Some("ending"), Some("closing")]
        [random.random_range(0..4u32) as usize];
    let mut left = match word {
        None => random.random_range(1..200u32),
        Some(_) => random.random_range(1..4u32),
    };
    let mut whole = Vec::new();
    while left > 0 {
        let line = next().expect("the child ended by itself");
        if word.is_none_or(|word| line == word) {
            left -= 1;
        }
        whole.push(line);
    }
    for _ in 0..random.random_range(0..200_000u32) {
        std::hint::spin_loop();
    }
    child.kill().unwrap();
    child.wait().unwrap();
    while let Some(line) = next() {
        whole.push(line);
    }
    for line in whole {
        acknowledged.take(&line);
    }
}

fn number(cell: &Cell) -> i64 {
    match cell {
        Cell::Number(number) => *number,
        other => panic!("{other:?}"),
    }
}

fn text(cell: &Cell) -> &str {
    match cell {
        Cell::Text(text) => text,
        other => panic!("{other:?}"),
    }
}

fn rows(store: &Store, table: Table) -> Vec<BTreeMap<&'static str, Cell>> {
    let mut rows = Vec::new();
    store
        .export(table, None, |cells| {
            rows.push(table.names().zip(cells.iter().cloned()).collect());
            Ok(())
        })
        .unwrap();
    rows
}

/// Compares what is there with what was acknowledged.
fn verify(dir: &Path, acknowledged: &Acknowledged) {
    let store = Store::open(dir).unwrap();
    assert_eq!(store.folded().troubles, Vec::<String>::new());
    assert_eq!(store.folded().damaged_lines, 0);
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
    let seeds: BTreeMap<String, u64> = rows(&store, Table::Sessions)
        .iter()
        .map(|row| (text(&row["session"]).to_owned(), text(&row["seed"]).parse().unwrap()))
        .collect();
    let mut drills = BTreeMap::new();
    let mut names = BTreeMap::new();
    for row in rows(&store, Table::Drills) {
        let key = (seeds[text(&row["session"])], number(&row["ordinal"]).cast_unsigned());
        names.insert(text(&row["drill"]).to_owned(), key);
        let twice = drills.insert(key, number(&row["n_keystrokes"]));
        assert_eq!(twice, None, "drill {key:?} is there twice");
    }
    for (key, n) in &acknowledged.ended {
        assert_eq!(drills.get(key), Some(n), "ended drill {key:?}");
    }
    let mut keys = BTreeMap::new();
    for row in rows(&store, Table::Keystrokes) {
        let (session, ordinal) = names[text(&row["drill"])];
        let key = (session, ordinal, number(&row["seq"]));
        assert_eq!(keys.insert(key, row["down_us"].clone()), None, "{key:?} is there twice");
    }
    for key in &acknowledged.keys {
        assert!(keys.contains_key(key), "keystroke {key:?} is lost");
    }
    for key in &acknowledged.downs {
        assert_eq!(keys[key], Cell::Number(70_000 + key.2), "{key:?}");
    }
}

#[test]
fn a_killed_program_loses_nothing_and_doubles_nothing() {
    let rounds: u64 = env::var("ETUDE_CRASH_ROUNDS").map_or(15, |rounds| rounds.parse().unwrap());
    let dir = TempDir::new().unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(rounds);
    let mut acknowledged = Acknowledged::default();
    for round in 1..=rounds {
        let first = child("practise", dir.path(), round * 2, None);
        // Now and then in two windows at once.
        let second = (round % 4 == 0).then(|| child("practise", dir.path(), round * 2 + 1, None));
        kill_some_time(first, &mut random, &mut acknowledged);
        if let Some(second) = second {
            kill_some_time(second, &mut random, &mut acknowledged);
        }
        if round % 25 == 0 {
            verify(dir.path(), &acknowledged);
        }
    }
    verify(dir.path(), &acknowledged);
    assert!(acknowledged.keys.len() as u64 > rounds, "hardly anything was practised");
    assert_eq!(journals_waiting(&Places::new(dir.path())).len(), 0);
    assert_eq!(Store::open(dir.path()).unwrap().folded(), &FoldReport::default());
}

/// Practises until the database, and then the journal, can't grow.
fn fill_the_disk(dir: &Path) {
    let store = Store::open(dir).ok();
    let mut sitting = Sitting::begin(dir, store, session(1_795_608_000_000, 1));
    let mut ordinal = 0;
    let mut drill_of = |sitting: &mut Sitting, n: u32, until: &str| {
        sitting.begin_drill(&drill("moorings", Source::Shipped));
        let mut reached = false;
        for seq in 0..n {
            sitting.keystroke(&stroke(seq));
            if sitting.trouble().is_some_and(|words| words.contains(until)) {
                reached = true;
                break;
            }
            say(&format!("key 1 {ordinal} {seq}"));
        }
        ordinal += 1;
        reached
    };
    for _ in 0..50 {
        drill_of(&mut sitting, 60, "nothing of the kind");
        sitting.end_drill(&end());
        if sitting.trouble().is_some() {
            break;
        }
    }
    say(&format!("words {}", sitting.trouble().unwrap_or("none")));
    let full = drill_of(&mut sitting, 100_000, "held in memory");
    say(&format!("words {}", if full { sitting.trouble().unwrap_or("none") } else { "never" }));
    sitting.end_drill(&end());
    let closed = sitting.end(Ended::Left, Micros::from_secs(9));
    say(&format!("words {}", closed.trouble.as_deref().unwrap_or("none")));
}

#[cfg(unix)]
#[test]
fn a_full_disk_is_told_and_loses_nothing_that_fitted() {
    let dir = TempDir::new().unwrap();
    assert_eq!(Store::open(dir.path()).unwrap().schema().unwrap(), SCHEMA);
    // 300 blocks are 150 or 300 kB, as the shell counts them.
    let mut child = child("fill", dir.path(), 0, Some("ulimit -f 300"));
    let lines: Vec<String> = BufReader::new(child.stdout.take().unwrap())
        .lines()
        .map(|line| line.unwrap())
        .filter_map(|line| line.split_once('@').map(|(_, said)| said.to_owned()))
        .collect();
    assert!(child.wait().unwrap().success(), "{lines:?}");
    let mut acknowledged = Acknowledged::default();
    let mut words = Vec::new();
    for line in &lines {
        match line.strip_prefix("words ") {
            Some(said) => words.push(said),
            None => acknowledged.take(line),
        }
    }
    assert!(words[0].contains("can't grow") && words[0].contains("is kept in"), "{words:?}");
    assert!(words[1].contains("can't be written either"), "{words:?}");
    assert!(words[2].contains("can't grow"), "{words:?}");
    assert!(acknowledged.keys.len() > 1000, "{}", acknowledged.keys.len());
    verify(dir.path(), &acknowledged);
}
