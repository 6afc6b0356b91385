//! What can go wrong with the store, in words for the person.

use std::path::{Path, PathBuf};

/// Why the history can't be opened, read or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The folder can't be made or used.
    #[error(
        "the folder '{path}' can't be used ({why}): make it writable, or name another with --data"
    )]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        why: String,
    },
    /// A newer Etude wrote it.
    #[error(
        "'{path}' was written by a newer etude (schema {found}; this one knows up to {known}): \
         update etude, or name another folder with --data; nothing was touched"
    )]
    Newer {
        /// The database.
        path: PathBuf,
        /// Its schema.
        found: i64,
        /// The newest schema that this program knows.
        known: i64,
    },
    /// Another program holds it.
    #[error("'{path}' is held by another program: end that program, or wait until it is done")]
    Locked {
        /// The database.
        path: PathBuf,
    },
    /// No room.
    #[error("'{path}' can't grow, the disk is full or a limit is reached ({why}): make room")]
    Full {
        /// The file.
        path: PathBuf,
        /// What the system says.
        why: String,
    },
    /// It may only be read.
    #[error(
        "'{path}' may only be read: make it and its folder writable, or name another with --data"
    )]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// It is damaged.
    #[error(
        "'{path}' is damaged ({why}): move it away (a copy may be repaired with sqlite3's \
         .recover); the next start then begins a new one"
    )]
    Corrupt {
        /// The file.
        path: PathBuf,
        /// What was found.
        why: String,
    },
    /// It belongs to another program.
    #[error("'{path}' is a database of another program: name another folder with --data")]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// The copy before a change of the whole failed.
    #[error("no copy of '{path}' could be made before changing it ({why}): it was left as it is")]
    Backup {
        /// The database.
        path: PathBuf,
        /// What was said.
        why: String,
    },
    /// Anything else.
    #[error("'{path}' can't be used ({why})")]
    Other {
        /// The file.
        path: PathBuf,
        /// What was said.
        why: String,
    },
}

impl StoreError {
    /// `error` as it concerns the file at `path`.
    pub(super) fn of(path: &Path, error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode as Code;
        let path = path.to_owned();
        let why = error.to_string();
        match error.sqlite_error_code() {
            Some(Code::DatabaseBusy | Code::DatabaseLocked) => Self::Locked { path },
            Some(Code::DiskFull) => Self::Full { path, why },
            // A file size limit shows as a write error, not as a full disk.
            Some(Code::SystemIoFailure) if why.contains("disk I/O") => Self::Full { path, why },
            Some(Code::ReadOnly | Code::PermissionDenied) => Self::ReadOnly { path },
            Some(Code::DatabaseCorrupt | Code::NotADatabase) => Self::Corrupt { path, why },
            _ => Self::Other { path, why },
        }
    }

    /// What the system said about the folder at `path`.
    pub(super) fn folder(path: &Path, error: &std::io::Error) -> Self {
        Self::Folder { path: path.to_owned(), why: error.to_string() }
    }
}
