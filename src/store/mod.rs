//! The practice history: one SQLite database, one journal a running session.
//!
//! [`Store`] owns the only connection; nobody else sees SQLite. A session
//! writes through a [`Sitting`]: each keystroke goes to an append-only journal
//! at once, each drill goes into the database when it ends. A journal that a
//! crash left behind is folded in when the store is next opened. What is kept
//! of a text of the person's own are sums, never keystrokes; see `docs/data.md`.

mod commit;
mod course;
mod error;
mod export;
mod fold;
mod hex;
mod journal;
mod model;
mod past;
mod paths;
mod query;
mod ranges;
mod reach;
mod recall;
mod record;
mod rollup;
mod schema;
mod sitting;
mod sketch;
mod survey;
mod tally;
mod terminals;
#[cfg(test)]
mod tests;
mod verify;
mod versions;
pub mod wall_clock;

pub use course::ItemDay;
pub use error::StoreError;
pub use export::{Cell, ExportError, Table};
pub use fold::FoldReport;
pub use model::{DrillRead, KeptModel, Wish};
pub use past::{PastDrill, PastSession};
pub use paths::{NoHome, Places, data_dir};
pub use query::{Before, ItemResult, LayerResult, SwitchResult, Totals};
pub use ranges::{Days, Figures, ItemName, PracticeDay, Step};
pub use reach::Parts;
pub use record::{
    DrillEnd, DrillStart, Ended, LayerRecord, LayoutRecord, SessionStart, Span, TextCounts, Uid,
};
pub use schema::SCHEMA;
pub use sitting::{Closed, Sitting};
pub use sketch::Sketch;
pub use survey::{KeptError, KeptSurvey, SURVEY};
pub use terminals::{TERMINALS, Terminals, TerminalsError};
pub use verify::Integrity;
pub use versions::Carried;
pub use wall_clock::WallTime;

use rusqlite::{Connection, OpenFlags};
use std::fs::{DirBuilder, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The database's name in the data folder.
pub const DATABASE: &str = "history.sqlite";

/// How long a write waits for another window's. A commit takes some
/// milliseconds; longer waits would be felt, and the journal holds the data.
const BUSY: Duration = Duration::from_secs(1);

/// The practice history.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    path: PathBuf,
    folded: FoldReport,
}

impl Store {
    /// The history in the folder `dir`, made where there is none, brought up
    /// to date where it is older, with the journals of ended sessions folded
    /// in. What could not be folded in stays where it is; see
    /// [`Store::folded`].
    ///
    /// # Errors
    /// Where the folder or the database can't be used.
    pub fn open(dir: &Path) -> Result<Self, StoreError> {
        Self::open_at(&Places::new(dir))
    }

    /// As [`Store::open`], with stated substitutes for the journals' folder.
    ///
    /// # Errors
    /// Where the folder or the database can't be used.
    pub fn open_at(places: &Places) -> Result<Self, StoreError> {
        sitting::survive_size_limit();
        create_folder(&places.data).map_err(|error| StoreError::folder(&places.data, &error))?;
        let path = places.data.join(DATABASE);
        match create_private(&path) {
            Ok(_) => {}
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(StoreError::folder(&places.data, &error)),
        }
        let mut store = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        store.prepare_for_writing()?;
        schema::migrate(&mut store.connection, &store.path, schema::MIGRATIONS)?;
        store.folded = fold::fold_in(&mut store, places);
        Ok(store)
    }

    /// The history in `dir` for reading only; none where there is none yet.
    /// Nothing is made, brought up to date or folded in.
    ///
    /// # Errors
    /// Where the database can't be used.
    pub fn open_to_read(dir: &Path) -> Result<Option<Self>, StoreError> {
        let path = dir.join(DATABASE);
        match std::fs::metadata(&path) {
            // An empty file is what an opening leaves that failed half-way.
            Ok(meta) if meta.len() > 0 => {}
            Ok(_) => return Ok(None),
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
                ) =>
            {
                return Ok(None);
            }
            Err(error) => return Err(StoreError::folder(dir, &error)),
        }
        let store = Self::connect(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        schema::check(&store.connection, &store.path, SCHEMA)?;
        Ok(Some(store))
    }

    fn connect(path: PathBuf, access: OpenFlags) -> Result<Self, StoreError> {
        let flags = access | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let open = || -> rusqlite::Result<Connection> {
            let connection = Connection::open_with_flags(&path, flags)?;
            connection.busy_timeout(BUSY)?;
            connection.set_prepared_statement_cache_capacity(32);
            connection.pragma_update(None, "foreign_keys", true)?;
            versions::prepare(&connection)?;
            Ok(connection)
        };
        let connection = open().map_err(|error| StoreError::of(&path, &error))?;
        Ok(Self { connection, path, folded: FoldReport::default() })
    }

    /// Write-ahead log with a sync at each commit: NORMAL may lose the last
    /// commits at a power cut.
    fn prepare_for_writing(&self) -> Result<(), StoreError> {
        let of = |error| StoreError::of(&self.path, &error);
        // Before anything is changed, so that a refused database stays as it is.
        schema::check(&self.connection, &self.path, SCHEMA)?;
        self.connection
            .pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))
            .map_err(of)?;
        self.connection.pragma_update(None, "synchronous", "full").map_err(of)
    }

    /// What became of the journals at opening.
    pub fn folded(&self) -> &FoldReport {
        &self.folded
    }

    /// The database's path.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The database's schema.
    ///
    /// # Errors
    /// Where it can't be read.
    pub fn schema(&self) -> Result<i64, StoreError> {
        schema::version(&self.connection).map_err(|error| StoreError::of(&self.path, &error))
    }

    /// The size of the database with its write-ahead log, in bytes.
    pub fn size_bytes(&self) -> u64 {
        let log = PathBuf::from(format!("{}-wal", self.path.display()));
        [&self.path, &log]
            .into_iter()
            .filter_map(|path| std::fs::metadata(path).ok())
            .map(|meta| meta.len())
            .sum()
    }

    /// `result` with its error in words.
    fn said<T>(&self, result: rusqlite::Result<T>) -> Result<T, StoreError> {
        result.map_err(|error| StoreError::of(&self.path, &error))
    }
}

/// The journals of the history of `places`: of running sessions, and of ended
/// ones that wait to be folded in.
pub fn journals_waiting(places: &Places) -> Vec<PathBuf> {
    fold::waiting(places)
}

/// Makes the folder and its missing parents, for this person only (as the XDG
/// Base Directory Specification asks).
fn create_folder(path: &Path) -> io::Result<()> {
    let mut builder = DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// A new, empty file for this person only.
fn create_private(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path)
}
