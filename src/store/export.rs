//! Rows for export, one at a time.

use super::Store;
use super::error::StoreError;
use super::record::{finger_of, position_of, verdict_of};
use super::wall_clock::{WallTime, local_text};
use crate::session::Flags;
use rusqlite::Row;
use rusqlite::types::ValueRef;
use std::io;

/// What can be exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// One row a session.
    Sessions,
    /// One row a drill.
    Drills,
    /// One row a keystroke; none of own texts.
    Keystrokes,
}

/// One value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Not known.
    None,
    /// A whole number.
    Number(i64),
    /// A text.
    Text(String),
}

/// How a column of the query becomes a cell.
#[derive(Clone, Copy)]
enum Form {
    /// As it is.
    Plain,
    /// Bytes as hexadecimal digits.
    Hex,
    /// Local time from this column and the next, which is not shown.
    Local,
    /// A seed: 64 bits, as text, since JSON readers round such numbers.
    Seed,
    Verdict,
    Position,
    Finger,
    Flags,
}

type Column = (&'static str, &'static str, Form);

const SESSIONS: &[Column] = &[
    ("session", "s.uid", Form::Hex),
    ("started_at_local", "s.started_at_ms_utc", Form::Local),
    ("started_at_ms_utc", "s.started_at_ms_utc", Form::Plain),
    ("utc_offset_min", "s.utc_offset_min", Form::Plain),
    ("layout", "l.name", Form::Plain),
    ("layout_sha256", "l.hash_sha256", Form::Hex),
    ("seed", "s.seed_bits", Form::Seed),
    ("program_version", "s.program_version", Form::Plain),
    ("terminal_level", "s.terminal_level_word", Form::Plain),
    ("score_version", "s.score_version", Form::Plain),
    ("ended", "s.ended_word", Form::Plain),
    ("active_us", "s.active_us", Form::Plain),
    ("n_drills", "(SELECT count(*) FROM drills d WHERE d.session_id = s.session_id)", Form::Plain),
];

const DRILLS: &[Column] = &[
    ("session", "s.uid", Form::Hex),
    ("drill", "d.uid", Form::Hex),
    ("session_started_at_local", "s.started_at_ms_utc", Form::Local),
    ("layout", "l.name", Form::Plain),
    ("ordinal", "d.ordinal", Form::Plain),
    ("title", "d.title", Form::Plain),
    ("cluster", "d.cluster_word", Form::Plain),
    ("flow", "d.flow_word", Form::Plain),
    ("source", "d.source_word", Form::Plain),
    ("started_at_us", "d.started_at_us", Form::Plain),
    ("active_us", "d.active_us", Form::Plain),
    ("ended", "d.ended_word", Form::Plain),
    ("n_keystrokes", "d.n_keystrokes", Form::Plain),
    ("n_hits", "d.n_hits", Form::Plain),
    ("n_misses", "d.n_misses", Form::Plain),
    ("n_repairs", "d.n_repairs", Form::Plain),
    ("n_left_out", "d.n_left_out", Form::Plain),
    ("n_transcribed", "d.n_transcribed", Form::Plain),
    ("n_correct", "d.n_correct", Form::Plain),
    ("n_incorrect_not_fixed", "d.n_incorrect_not_fixed", Form::Plain),
    ("n_incorrect_fixed", "d.n_incorrect_fixed", Form::Plain),
    ("n_fixes", "d.n_fixes", Form::Plain),
];

const KEYSTROKES: &[Column] = &[
    ("drill", "d.uid", Form::Hex),
    ("seq", "k.seq", Form::Plain),
    ("prompt", "k.prompt", Form::Plain),
    ("place", "k.place", Form::Plain),
    ("at_us", "k.at_us", Form::Plain),
    ("expected", "(SELECT text FROM outputs o WHERE o.output_id = k.expected_id)", Form::Plain),
    ("got", "(SELECT text FROM outputs o WHERE o.output_id = k.got_id)", Form::Plain),
    ("verdict", "k.verdict_code", Form::Verdict),
    ("latency_us", "k.latency_us", Form::Plain),
    ("down_us", "k.down_us", Form::Plain),
    (
        "layer",
        "coalesce((SELECT name FROM layers y WHERE y.layout_id = s.layout_id \
         AND y.layer = k.layer), k.layer)",
        Form::Plain,
    ),
    (
        "previous_layer",
        "coalesce((SELECT name FROM layers y WHERE y.layout_id = s.layout_id \
         AND y.layer = k.previous_layer), k.previous_layer)",
        Form::Plain,
    ),
    ("position", "k.position_code", Form::Position),
    ("finger", "k.finger_code", Form::Finger),
    ("flags", "k.flag_bits", Form::Flags),
    ("reach_us", "k.reach_us", Form::Plain),
];

impl Table {
    fn columns(self) -> &'static [Column] {
        match self {
            Self::Sessions => SESSIONS,
            Self::Drills => DRILLS,
            Self::Keystrokes => KEYSTROKES,
        }
    }

    /// The names of the columns.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        self.columns().iter().map(|column| column.0)
    }

    #[cfg(test)]
    pub(super) fn sql_for_tests(self) -> String {
        self.sql()
    }

    fn sql(self) -> String {
        let select: Vec<&str> = self
            .columns()
            .iter()
            .flat_map(|&(_, sql, form)| {
                let offset = matches!(form, Form::Local).then_some("s.utc_offset_min");
                std::iter::once(sql).chain(offset)
            })
            .collect();
        let (from, order) = match self {
            Self::Sessions => ("sessions s", "s.session_id"),
            Self::Drills => ("drills d JOIN sessions s USING (session_id)", "d.drill_id"),
            // In the order of the table: nothing is held to be sorted.
            Self::Keystrokes => (
                "keystrokes k JOIN drills d USING (drill_id) JOIN sessions s USING (session_id)",
                "k.drill_id, k.seq",
            ),
        };
        format!(
            "SELECT {} FROM {from} JOIN layouts l USING (layout_id) \
             WHERE s.started_at_ms_utc + s.utc_offset_min * 60000 >= ?1 ORDER BY {order}",
            select.join(", ")
        )
    }
}

/// Why an export ended early.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ExportError {
    /// The history can't be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The rows can't be written.
    #[error("the export can't be written")]
    Write(#[source] io::Error),
}

impl Store {
    /// Hands every row of `table` to `write`, in the order in which they came,
    /// from sessions that began on local day `since_day` or later. Holds one
    /// row at a time.
    ///
    /// # Errors
    /// Where the history can't be read, or `write` fails.
    pub fn export(
        &self,
        table: Table,
        since_day: Option<i32>,
        mut write: impl FnMut(&[Cell]) -> io::Result<()>,
    ) -> Result<(), ExportError> {
        let since_ms = since_day.map_or(i64::MIN, |day| i64::from(day) * 86_400_000);
        let mut statement = self.said(self.connection.prepare(&table.sql()))?;
        let mut rows = self.said(statement.query([since_ms]))?;
        while let Some(row) = self.said(rows.next())? {
            let cells = self.said(cells(table.columns(), row))?;
            write(&cells).map_err(ExportError::Write)?;
        }
        Ok(())
    }
}

fn cells(columns: &[Column], row: &Row<'_>) -> rusqlite::Result<Vec<Cell>> {
    let mut place = 0;
    let mut cells = Vec::with_capacity(columns.len());
    for &(_, _, form) in columns {
        cells.push(cell(form, row, place)?);
        place += if matches!(form, Form::Local) { 2 } else { 1 };
    }
    Ok(cells)
}

fn cell(form: Form, row: &Row<'_>, place: usize) -> rusqlite::Result<Cell> {
    let text_or_none = |text: Option<String>| text.map_or(Cell::None, Cell::Text);
    Ok(match form {
        Form::Plain => match row.get_ref(place)? {
            ValueRef::Null => Cell::None,
            ValueRef::Integer(number) => Cell::Number(number),
            other => Cell::Text(other.as_str()?.to_owned()),
        },
        Form::Hex => Cell::Text(super::hex::encode(row.get_ref(place)?.as_blob()?)),
        Form::Local => Cell::Text(local_text(WallTime {
            ms_utc: row.get(place)?,
            utc_offset_min: row.get(place + 1)?,
        })),
        Form::Seed => Cell::Text(row.get::<_, i64>(place)?.cast_unsigned().to_string()),
        Form::Verdict => {
            let code: u8 = row.get(place)?;
            // A code of a newer program stays what it is.
            let word = verdict_of(code).map(|verdict| verdict.word().to_owned());
            Cell::Text(word.unwrap_or_else(|| format!("code {code}")))
        }
        Form::Position => text_or_none(position_of(row.get(place)?).map(|p| p.to_string())),
        Form::Finger => text_or_none(finger_of(row.get(place)?).map(|f| f.to_string())),
        Form::Flags => Cell::Text(flag_words(Flags::from_bits_retain(row.get(place)?))),
    })
}

/// The names of the flags, in lower case with blanks between them; bits of a
/// newer program as numbers.
fn flag_words(flags: Flags) -> String {
    let mut words: Vec<String> = flags.names().map(str::to_ascii_lowercase).collect();
    let unknown = flags.bits() & !Flags::all().bits();
    if unknown != 0 {
        words.push(format!("bits {unknown}"));
    }
    words.join(" ")
}
