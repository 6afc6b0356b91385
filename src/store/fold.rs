//! Folding in the journals that ended sessions left behind.

use super::Store;
use super::journal::{self, Entry, OwnSums};
use super::paths::Places;
use super::record::{Body, DrillEnd, DrillRecord, Ended, Row, SessionRecord, Span, WholeDrill};
use super::tally::Tally;
use crate::order::InOrder;
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

/// What became of the journals when the store was opened.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FoldReport {
    /// Drills that were taken in.
    pub drills: usize,
    /// Journals that are done with.
    pub journals: usize,
    /// Damaged lines, a torn last line not counted; their journals are kept
    /// under a name that begins with `damaged-`.
    pub damaged_lines: usize,
    /// What could not be taken in, and why, in words.
    pub troubles: Vec<String>,
}

/// A journal's content.
#[derive(Debug, PartialEq)]
struct Reading {
    data: PathBuf,
    session: SessionRecord,
    drills: Vec<WholeDrill>,
    close: Option<DrillEnd>,
    damaged_lines: usize,
}

/// Why a journal has no content for us.
#[derive(Debug, PartialEq, Eq)]
enum Unreadable {
    /// It holds no whole line: its session had not begun.
    Empty,
    /// A newer program wrote it.
    Newer,
    /// Its first line is damaged.
    Damaged,
}

/// The journals in `dir`, by name.
pub(super) fn journals_in(dir: &Path) -> Vec<PathBuf> {
    files_in(dir, ".jsonl")
}

fn files_in(dir: &Path, ending: &str) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(dir) else { return Vec::new() };
    let mut found: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()))
        .filter(|entry| {
            let name = entry.file_name();
            let name = name.to_string_lossy();
            name.starts_with("journal-") && name.ends_with(ending)
        })
        .map(|entry| entry.path())
        .collect();
    found.order_by(Ord::cmp);
    found
}

/// Takes in what ended sessions left in the folders of `places`.
pub(super) fn fold_in(store: &mut Store, places: &Places) -> FoldReport {
    let mut report = FoldReport::default();
    let fallbacks = places.fallbacks.iter().filter(|dir| is_ours(dir));
    for dir in std::iter::once(&places.data).chain(fallbacks) {
        for path in journals_in(dir) {
            fold_one(store, places, &path, &mut report);
        }
        // Left by a crash between making a journal and locking it.
        for path in files_in(dir, ".new") {
            if let Ok(Some(_lock)) = lock(&path) {
                let _ = fs::remove_file(&path);
            }
        }
    }
    report
}

/// True where a folder outside the data folder is this person's alone: in the
/// folder for temporary files anybody may have made one of that name.
pub(super) fn is_ours(dir: &Path) -> bool {
    let Ok(meta) = fs::symlink_metadata(dir) else { return false };
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        meta.is_dir()
            && meta.uid() == rustix::process::getuid().as_raw()
            && meta.mode() & 0o022 == 0
    }
    #[cfg(not(unix))]
    meta.is_dir()
}

/// The file, locked; none where a living session (or another window that is
/// folding it in) holds it.
fn lock(path: &Path) -> io::Result<Option<File>> {
    let file = OpenOptions::new().read(true).write(true).open(path)?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) => Err(error),
    }
}

fn fold_one(store: &mut Store, places: &Places, path: &Path, report: &mut FoldReport) {
    let mut trouble = |why: &str| {
        report.troubles.push(format!("the journal '{}' waits: {why}", path.display()));
    };
    let read = lock(path).and_then(|file| match file {
        None => Ok(None),
        Some(mut file) => {
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes)?;
            Ok(Some((file, bytes)))
        }
    });
    let (_lock, bytes) = match read {
        Ok(Some(read)) => read,
        // Alive, or another window was faster.
        Ok(None) => return,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return,
        Err(error) => return trouble(&error.to_string()),
    };
    let sums = fs::read(journal::sums_path(path)).unwrap_or_default();
    let reading = match read_journal(&bytes, &sums) {
        Ok(reading) => reading,
        Err(Unreadable::Empty) => {
            let _ = fs::remove_file(path);
            return;
        }
        Err(Unreadable::Newer) => {
            return trouble("a newer etude wrote it; update etude");
        }
        Err(Unreadable::Damaged) => {
            set_aside(path);
            return trouble("its first line is damaged; it was renamed to damaged-…");
        }
    };
    if reading.data != places.data {
        // Another history's, in a folder that several share.
        return;
    }
    let close = reading.close.as_ref();
    let taken = if reading.drills.is_empty() && !store.knows(&reading.session) {
        Ok(0)
    } else {
        store.commit(&reading.session, &reading.drills, close)
    };
    match taken {
        Ok(drills) => {
            report.drills += drills;
            report.journals += 1;
            report.damaged_lines += reading.damaged_lines;
            // The sums first: without their journal they would belong to nobody.
            let _ = fs::remove_file(journal::sums_path(path));
            let _ = fs::remove_file(journal::sums_path(path).with_extension("sums-new"));
            if reading.damaged_lines == 0 {
                let _ = fs::remove_file(path);
            } else {
                set_aside(path);
            }
        }
        Err(error) => trouble(&error.to_string()),
    }
}

/// The journals that belong to the history of `places`.
pub(super) fn waiting(places: &Places) -> Vec<PathBuf> {
    let mut found = journals_in(&places.data);
    for dir in places.fallbacks.iter().filter(|dir| is_ours(dir)) {
        found.extend(journals_in(dir).into_iter().filter(|path| belongs_to(places, path)));
    }
    found
}

fn belongs_to(places: &Places, path: &Path) -> bool {
    let Ok(file) = File::open(path) else { return false };
    let mut first = Vec::new();
    // Read to the first line feed; layouts are far smaller than the bound.
    let mut head = io::BufReader::new(file.take(1 << 20));
    if io::BufRead::read_until(&mut head, b'\n', &mut first).is_err() {
        return false;
    }
    let line = first.strip_suffix(b"\n").unwrap_or(&first);
    matches!(journal::parse(line), Some(Entry::Session { data, .. }) if data == places.data)
}

fn set_aside(path: &Path) {
    if let Some(name) = path.file_name() {
        let _ = fs::rename(path, path.with_file_name(format!("damaged-{}", name.display())));
    }
}

/// A drill whose end has not been read yet.
struct Open {
    start: DrillRecord,
    rows: BTreeMap<u32, Row>,
    sums: Option<Tally>,
}

impl Open {
    /// The drill, cut short where `end` is none.
    fn close(self, end: Option<DrillEnd>, own: Option<&OwnSums>) -> WholeDrill {
        let last_us = self.rows.values().map(|row| row.at_us).max();
        let body = if self.start.source == crate::drill::Source::Own.word() {
            let from_file = || own.filter(|own| own.drill == self.start.uid);
            let sums = self.sums.or_else(|| from_file().map(|own| own.tally.clone()));
            Body::Sums(sums.unwrap_or_default())
        } else {
            Body::Rows(self.rows.into_values().collect())
        };
        let end = end.unwrap_or_else(|| DrillEnd {
            ended: Ended::Cut,
            // Pauses included: the end of a drill that would tell is missing.
            active: Span(last_us.map_or(0, |at| at.saturating_sub(self.start.started_at_us))),
            text: None,
        });
        WholeDrill { start: self.start, end, body }
    }
}

fn read_journal(bytes: &[u8], sums: &[u8]) -> Result<Reading, Unreadable> {
    let own: Option<OwnSums> = journal::parse(sums.strip_suffix(b"\n").unwrap_or(sums));
    // What follows the last line feed is a torn line, and no loss to report:
    // its write had not returned.
    let whole = bytes.iter().rposition(|&b| b == b'\n').ok_or(Unreadable::Empty)?;
    let mut lines = bytes[..whole].split(|&b| b == b'\n');
    let (data, session) = match lines.next().and_then(journal::parse) {
        Some(Entry::Session { journal_version, .. }) if journal_version > journal::VERSION => {
            return Err(Unreadable::Newer);
        }
        Some(Entry::Session { data, session, .. }) => (data, session),
        _ => return Err(Unreadable::Damaged),
    };
    let mut reading = Reading { data, session, drills: Vec::new(), close: None, damaged_lines: 0 };
    let mut open: Option<Open> = None;
    for line in lines {
        match (journal::parse(line), open.as_mut()) {
            (Some(Entry::Drill(start)), _) => {
                let next = Open { start, rows: BTreeMap::new(), sums: None };
                if let Some(cut) = open.replace(next) {
                    reading.drills.push(cut.close(None, own.as_ref()));
                }
            }
            (Some(Entry::Key(row)), Some(drill)) => {
                drill.rows.entry(row.seq).or_insert(row);
            }
            (Some(Entry::Down(seq, down_us)), Some(drill)) => {
                if let Some(row) = drill.rows.get_mut(&seq) {
                    row.down_us = Some(down_us);
                }
            }
            (Some(Entry::Sums(tally)), Some(drill)) => drill.sums = Some(tally),
            (Some(Entry::DrillEnd(end)), Some(_)) => {
                if let Some(done) = open.take() {
                    reading.drills.push(done.close(Some(end), own.as_ref()));
                }
            }
            (Some(Entry::SessionEnd(end)), _) => reading.close = Some(end),
            _ => reading.damaged_lines += 1,
        }
    }
    if let Some(cut) = open {
        reading.drills.push(cut.close(None, own.as_ref()));
    }
    reading.drills.retain(|drill| !drill.is_empty());
    Ok(reading)
}

/// How many keystrokes a journal of these bytes gives; none where it has no
/// session.
#[cfg(test)]
pub(super) fn keystrokes_in(bytes: &[u8]) -> Option<usize> {
    let reading = read_journal(bytes, &[]).ok()?;
    let rows = reading.drills.iter().map(|drill| match &drill.body {
        Body::Rows(rows) => rows.len(),
        Body::Sums(_) => 0,
    });
    assert_eq!(reading.damaged_lines, 0);
    Some(rows.sum())
}
