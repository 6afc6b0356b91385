//! Versions of a layout: what of their history still holds.
//!
//! A layout's history is found by its name, whatever its content was. When a
//! key or an access moves, what was measured on the way before says nothing
//! of the new one. [`Store::adopt`] tells the store which layout is in use:
//! from then on questions about items leave out what was measured on a way
//! that changed. Nothing is deleted: the rows stay, exports show them, and
//! with the earlier layout in use they count again.

use super::Store;
use super::error::StoreError;
use super::record::{position_code, position_of};
use crate::keyboard::Output;
use crate::layout::compare::{Fate, ItemName, Ways};
use crate::layout::{Layout, file};
use rusqlite::{Connection, params};
use std::collections::BTreeSet;

/// What is left out, in the connection's own memory. Queries end with
/// [`STILL_SO`].
pub(super) fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.execute_batch(
        "PRAGMA temp_store = memory; \
         CREATE TEMP TABLE changed_items (layout_id INTEGER, layer INTEGER, \
         position_code INTEGER, output_id INTEGER, \
         PRIMARY KEY (layout_id, layer, position_code, output_id)) WITHOUT ROWID;",
    )
}

/// The end of a question about items `i`: those whose way is still so.
macro_rules! still_so {
    () => {
        " AND NOT EXISTS (SELECT 1 FROM temp.changed_items c WHERE c.layout_id = i.layout_id \
         AND c.layer = i.layer AND c.position_code = i.position_code \
         AND c.output_id = i.output_id)"
    };
}
pub(super) use still_so;

/// What became of the practised items of earlier versions.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Carried {
    /// How many earlier versions there are.
    pub n_versions: usize,
    /// Those whose way is the same: their history counts.
    pub kept: BTreeSet<ItemName>,
    /// Those whose way is another: they start anew.
    pub changed: BTreeSet<ItemName>,
    /// Those that the layout has no more.
    pub gone: BTreeSet<ItemName>,
}

impl Store {
    /// Takes `layout` as the one in use under its name.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn adopt(&self, layout: &Layout) -> Result<Carried, StoreError> {
        self.said(self.adopt_inner(layout))
    }

    /// The newest version of the layout named `name` that was practised, as
    /// its file was; none where it never was.
    ///
    /// # Errors
    /// Where the database can't be read.
    pub fn last_version(&self, name: &str) -> Result<Option<String>, StoreError> {
        let read = || -> rusqlite::Result<Option<String>> {
            // By its last session: an earlier version may have come back.
            let mut statement = self.connection.prepare_cached(
                "SELECT y.text FROM sessions s JOIN layouts y USING (layout_id) \
                 WHERE y.name = ?1 ORDER BY s.started_at_ms_utc DESC, s.session_id DESC LIMIT 1",
            )?;
            let mut rows = statement.query([name])?;
            rows.next()?.map(|row| row.get(0)).transpose()
        };
        self.said(read())
    }

    fn adopt_inner(&self, layout: &Layout) -> rusqlite::Result<Carried> {
        let mut carried = Carried::default();
        let mut versions: Vec<(i64, String)> = Vec::new();
        let text = file::write(layout);
        {
            let mut statement = self
                .connection
                .prepare_cached("SELECT layout_id, text FROM layouts WHERE name = ?1")?;
            let mut rows = statement.query([&layout.name])?;
            while let Some(row) = rows.next()? {
                versions.push((row.get(0)?, row.get(1)?));
            }
        }
        let mut forget = self
            .connection
            .prepare_cached("DELETE FROM temp.changed_items WHERE layout_id = ?1")?;
        for (id, _) in &versions {
            forget.execute([id])?;
        }
        versions.retain(|(_, known)| *known != text);
        if versions.is_empty() {
            return Ok(carried);
        }
        let now = Ways::of(layout);
        for (id, text) in versions {
            // One that can't be read any more says nothing against its history.
            let Ok(reading) = file::read(&text, "the history") else { continue };
            carried.n_versions += 1;
            let before = reading.layout;
            let ways = Ways::of(&before);
            for (layer, code, output_id, output) in self.practised(id)? {
                let (Some(layer_name), Some(position), Ok(output)) = (
                    before.layers.get(usize::from(layer)).map(|layer| layer.name.clone()),
                    position_of(code),
                    output.parse::<Output>(),
                ) else {
                    continue;
                };
                let name = (layer_name, position, output);
                match ways.fate(&name, &now) {
                    Fate::Kept => carried.kept.insert(name),
                    Fate::Gone => carried.gone.insert(name),
                    Fate::Changed => {
                        self.connection
                            .prepare_cached(
                                "INSERT OR IGNORE INTO temp.changed_items VALUES (?1, ?2, ?3, ?4)",
                            )?
                            .execute(params![
                                id,
                                layer,
                                position_code(Some(position)),
                                output_id
                            ])?;
                        carried.changed.insert(name)
                    }
                };
            }
        }
        Ok(carried)
    }

    /// Layer, position code, output and its text of what was practised on a
    /// version.
    fn practised(&self, layout_id: i64) -> rusqlite::Result<Vec<(u8, u16, i64, String)>> {
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT i.layer, i.position_code, i.output_id, o.text \
             FROM item_courses i CROSS JOIN outputs o USING (output_id) WHERE i.layout_id = ?1",
        )?;
        let rows = statement.query_map([layout_id], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })?;
        rows.collect()
    }
}
