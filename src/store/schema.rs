//! Bringing a database up to date.

use super::error::StoreError;
use super::{course, rollup};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};

/// One step from a schema to the next.
#[derive(Clone, Copy)]
pub(super) struct Migration {
    /// What SQL can do of it.
    pub sql: &'static str,
    /// The rest, in the same transaction.
    pub then: Option<fn(&Transaction<'_>) -> rusqlite::Result<()>>,
}

impl Migration {
    /// One that SQL does alone.
    pub const fn sql(sql: &'static str) -> Self {
        Self { sql, then: None }
    }
}

/// One migration a schema, append-only: number n takes schema n−1 to n.
pub(super) const MIGRATIONS: &[Migration] = &[
    Migration::sql(include_str!("migrations/001_first.sql")),
    Migration {
        sql: include_str!("migrations/002_layers_and_months.sql"),
        then: Some(rollup::fill),
    },
    Migration { sql: include_str!("migrations/003_item_courses.sql"), then: Some(course::fill) },
    Migration::sql(include_str!("migrations/004_models_and_wishes.sql")),
    Migration::sql(include_str!("migrations/005_recall_answers.sql")),
    Migration::sql(include_str!("migrations/006_reach.sql")),
];

/// The newest schema that this program knows.
pub const SCHEMA: i64 = MIGRATIONS.len().cast_signed() as i64;

/// SQLite's `application_id`, by which `file` and we know the format: "ETUD".
pub(super) const APPLICATION_ID: i64 = 0x4554_5544;

/// The database's own account of itself.
pub(super) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Refuses a database that is newer than `known` or another program's.
/// Returns its schema, 0 for an empty one.
pub(super) fn check(connection: &Connection, path: &Path, known: i64) -> Result<i64, StoreError> {
    let of = |error| StoreError::of(path, &error);
    let found = version(connection).map_err(of)?;
    let id: i64 =
        connection.pragma_query_value(None, "application_id", |row| row.get(0)).map_err(of)?;
    let tables: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .map_err(of)?;
    if id != APPLICATION_ID && (tables > 0 || found != 0) {
        return Err(StoreError::Foreign { path: path.to_owned() });
    }
    if found > known {
        return Err(StoreError::Newer { path: path.to_owned(), found, known });
    }
    Ok(found)
}

/// Brings the database at `path` from its schema to the last of `migrations`,
/// after a copy where it holds something. Returns the copy's path, if any.
pub(super) fn migrate(
    connection: &mut Connection,
    path: &Path,
    migrations: &[Migration],
) -> Result<Option<PathBuf>, StoreError> {
    let of = |error| StoreError::of(path, &error);
    let known = migrations.len().cast_signed() as i64;
    let found = check(connection, path, known)?;
    if found == known {
        return Ok(None);
    }
    let copy = if found > 0 {
        Some(backup(connection, path, &format!("before-schema-{}", found + 1))?)
    } else {
        None
    };
    let tx = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(of)?;
    // Another window may have done it while this one waited for the lock.
    let found = check(&tx, path, known)?;
    for (done, step) in migrations.iter().enumerate().skip(found.max(0) as usize) {
        tx.execute_batch(step.sql).map_err(of)?;
        if let Some(then) = step.then {
            then(&tx).map_err(of)?;
        }
        tx.pragma_update(None, "user_version", done.cast_signed() as i64 + 1).map_err(of)?;
    }
    tx.pragma_update(None, "application_id", APPLICATION_ID).map_err(of)?;
    tx.commit().map_err(of)?;
    Ok(copy)
}

/// Copies the database beside itself, under a name that begins with `stem` and
/// is still free.
pub(super) fn backup(
    connection: &Connection,
    path: &Path,
    stem: &str,
) -> Result<PathBuf, StoreError> {
    let failed = |why: String| StoreError::Backup { path: path.to_owned(), why };
    for n in 1..1000 {
        let copy = path.with_file_name(format!("{stem}-{n}.sqlite"));
        match super::create_private(&copy) {
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => continue,
            Err(error) => return Err(failed(error.to_string())),
        }
        // VACUUM INTO takes an empty file; that one has the right mode already.
        let name = copy.to_string_lossy().into_owned();
        return match connection.execute("VACUUM INTO ?1", [name]) {
            Ok(_) => Ok(copy),
            Err(error) => {
                let _ = std::fs::remove_file(&copy);
                Err(failed(error.to_string()))
            }
        };
    }
    Err(failed("too many copies lie there already".to_owned()))
}
