//! The journal of a running session: an append-only file of lines.
//!
//! A line is a CRC-32 in eight hexadecimal digits, a blank, a JSON text, a line
//! feed; a line that is torn or damaged shows by its CRC. The file is locked
//! while its session lives, so that another window leaves it alone. The first
//! line names the session; see [`Entry`].
//!
//! Each keystroke is one `write(2)`: a killed process loses nothing. A thread
//! of its own asks the disk to keep up at most once a second, which is what a
//! power cut can cost, and writes the sums of a drill from the person's own
//! text to a second file, replaced as a whole.

use super::record::{DrillEnd, DrillRecord, Row, SessionRecord, Uid};
use super::tally::Tally;
use serde::{Deserialize, Serialize};
use std::fs::{self, File};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// The version of the format; a journal of a greater one is left alone.
pub(super) const VERSION: u32 = 1;

/// How often the disk is asked to keep up.
const PACE: Duration = Duration::from_secs(1);

/// One line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Entry {
    /// The first line: whose journal it is.
    Session {
        /// [`VERSION`].
        journal_version: u32,
        /// The data folder that it belongs to.
        data: PathBuf,
        /// The session.
        session: SessionRecord,
    },
    /// A drill starts.
    Drill(DrillRecord),
    /// A keystroke of the drill that started last.
    Key(Row),
    /// A key came up after its press was written: seq, microseconds down.
    Down(u32, u64),
    /// The sums of the drill that started last, from the person's own text.
    Sums(Tally),
    /// The drill ends.
    DrillEnd(DrillEnd),
    /// The session ends.
    SessionEnd(DrillEnd),
}

/// `value` as a line.
pub(super) fn line(value: &impl Serialize) -> Vec<u8> {
    // Plain data with text keys always has a JSON text.
    let json = serde_json::to_vec(value).unwrap_or_default();
    let mut line = format!("{:08x} ", crc32fast::hash(&json)).into_bytes();
    line.extend_from_slice(&json);
    line.push(b'\n');
    line
}

/// The value of a line without its line feed; none where it is torn, damaged,
/// or of a kind that this program doesn't know.
pub(super) fn parse<T: for<'de> Deserialize<'de>>(line: &[u8]) -> Option<T> {
    let (crc, json) = line.split_at_checked(9)?;
    let crc = u32::from_str_radix(std::str::from_utf8(crc).ok()?.strip_suffix(' ')?, 16).ok()?;
    if crc32fast::hash(json) != crc {
        return None;
    }
    serde_json::from_slice(json).ok()
}

/// The file that holds the sums of a drill from the person's own text.
pub(super) fn sums_path(journal: &Path) -> PathBuf {
    journal.with_extension("sums")
}

/// The sums of a running drill from the person's own text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct OwnSums {
    pub drill: Uid,
    pub tally: Tally,
}

/// An open journal.
#[derive(Debug)]
pub(super) struct Journal {
    file: File,
    path: PathBuf,
    /// The length up to which the file holds whole lines.
    good: u64,
    /// The length of the first line.
    head: u64,
    /// What could not be written yet.
    backlog: Vec<u8>,
    failure: Option<String>,
    keeper: Keeper,
}

impl Journal {
    /// A new journal in `dir`, locked, with its first line written.
    pub fn create(dir: &Path, data: &Path, session: &SessionRecord) -> io::Result<Self> {
        let stem =
            format!("journal-{}-{}", std::process::id(), super::hex::encode(&Uid::random().0[..4]));
        let path = dir.join(format!("{stem}.jsonl"));
        // Under another name until it is locked, so that a window which starts
        // right now doesn't take it for a dead session's.
        let unborn = dir.join(format!("{stem}.new"));
        let mut file = super::create_private(&unborn)?;
        let head = line(&Entry::Session {
            journal_version: VERSION,
            data: data.to_owned(),
            session: session.clone(),
        });
        let born = file
            .try_lock()
            .map_err(io::Error::from)
            .and_then(|()| file.write_all(&head))
            .and_then(|()| fs::rename(&unborn, &path))
            .and_then(|()| Keeper::start(&file, sums_path(&path)));
        let keeper = match born {
            Ok(keeper) => keeper,
            Err(error) => {
                let _ = fs::remove_file(&unborn);
                let _ = fs::remove_file(&path);
                return Err(error);
            }
        };
        let head = head.len() as u64;
        Ok(Self { file, path, good: head, head, backlog: Vec::new(), failure: None, keeper })
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes `entry`. What can't be written now is tried again with the next.
    pub fn append(&mut self, entry: &Entry) {
        self.backlog.extend_from_slice(&line(entry));
        self.write_backlog();
    }

    /// Tries to write what could not be written yet.
    pub fn write_backlog(&mut self) {
        if self.backlog.is_empty() {
            return;
        }
        loop {
            match self.file.write(&self.backlog) {
                Ok(n) if n == self.backlog.len() => {
                    self.good += n as u64;
                    self.backlog.clear();
                    self.failure = None;
                    self.keeper.touched();
                    return;
                }
                Ok(_) => self.failure = Some("no room left".to_owned()),
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => self.failure = Some(error.to_string()),
            }
            break;
        }
        // Take back a torn line, so that the next one starts on its own.
        let _ = self.file.set_len(self.good);
        let _ = self.file.seek(SeekFrom::Start(self.good));
    }

    /// Why keystrokes are not reaching the disk; none where they are.
    pub fn failure(&self) -> Option<String> {
        self.failure.clone().or_else(|| self.keeper.failure())
    }

    /// Hands the sums of a running drill to `change`; they are on disk within
    /// a second.
    pub fn with_own(&self, change: impl FnOnce(&mut Option<OwnSums>)) {
        self.keeper.with_own(change);
    }

    /// Forgets everything after the first line: it is in the database.
    pub fn clear(&mut self) {
        self.backlog.clear();
        if self.file.set_len(self.head).is_ok()
            && self.file.seek(SeekFrom::Start(self.head)).is_ok()
        {
            self.good = self.head;
        }
    }

    /// Ends the journal; everything is in the database.
    pub fn remove(mut self) {
        self.keeper.stop();
        // The sums first: without their journal they would belong to nobody.
        let _ = fs::remove_file(sums_path(&self.path));
        let _ = fs::remove_file(&self.path);
    }
}

/// The thread that keeps the disk up to date.
#[derive(Debug)]
struct Keeper {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug, Default)]
struct Shared {
    state: Mutex<State>,
    wake: Condvar,
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[derive(Debug, Default)]
struct State {
    lines_wait: bool,
    sums_wait: bool,
    own: Option<OwnSums>,
    stop: bool,
    failure: Option<String>,
}

impl Keeper {
    fn start(journal: &File, sums: PathBuf) -> io::Result<Self> {
        let file = journal.try_clone()?;
        let shared = Arc::new(Shared::default());
        let theirs = Arc::clone(&shared);
        let thread = std::thread::Builder::new()
            .name("journal".to_owned())
            .spawn(move || keep(&theirs, &file, &sums))?;
        Ok(Self { shared, thread: Some(thread) })
    }

    fn touched(&self) {
        let mut state = self.shared.lock();
        if !state.lines_wait {
            state.lines_wait = true;
            self.shared.wake.notify_one();
        }
    }

    fn with_own(&self, change: impl FnOnce(&mut Option<OwnSums>)) {
        let mut state = self.shared.lock();
        change(&mut state.own);
        if !state.sums_wait {
            state.sums_wait = true;
            self.shared.wake.notify_one();
        }
    }

    fn failure(&self) -> Option<String> {
        self.shared.lock().failure.clone()
    }

    fn stop(&mut self) {
        self.shared.lock().stop = true;
        self.shared.wake.notify_one();
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.stop();
    }
}

fn keep(shared: &Shared, file: &File, sums: &Path) {
    let mut state = shared.lock();
    loop {
        while !(state.lines_wait || state.sums_wait || state.stop) {
            state = shared.wake.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
        let lines = std::mem::take(&mut state.lines_wait);
        let own = if std::mem::take(&mut state.sums_wait) { state.own.clone() } else { None };
        let stop = state.stop;
        drop(state);
        let mut outcome = Ok(());
        if lines {
            outcome = file.sync_data();
        }
        if let Some(own) = own {
            outcome = outcome.and(write_sums(sums, &own));
        }
        state = shared.lock();
        state.failure = outcome.err().map(|error| error.to_string());
        if stop {
            return;
        }
        state = shared
            .wake
            .wait_timeout_while(state, PACE, |state| !state.stop)
            .unwrap_or_else(PoisonError::into_inner)
            .0;
    }
}

/// Replaces the file of sums as a whole.
fn write_sums(path: &Path, own: &OwnSums) -> io::Result<()> {
    let unborn = path.with_extension("sums-new");
    let _ = fs::remove_file(&unborn);
    let mut file = super::create_private(&unborn)?;
    file.write_all(&line(own))?;
    file.sync_data()?;
    fs::rename(&unborn, path)
}
