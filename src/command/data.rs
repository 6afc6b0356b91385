//! `etude data`: what the history holds, whether it is sound, exports.

use super::Usage;
use super::demo::MARK;
use super::survey::kept_or_told;
use crate::cli::{DataArgs, DataCommand, ExportFormat, ExportWhat, Shared};
use crate::report::csv;
use crate::report::layout::counted;
use crate::store::wall_clock::{day_from_text, day_text};
use crate::store::{Cell, DATABASE, ExportError, Places, Store, Table, data_dir, journals_waiting};
use anyhow::bail;
use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::json;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::process::ExitCode;

/// Runs `etude data` and what is below it. Makes nothing where there is no
/// history yet.
///
/// # Errors
/// Where the history can't be read, or the output can't be written.
pub fn run(shared: &Shared, args: &DataArgs) -> anyhow::Result<ExitCode> {
    let dir = data_dir(shared.data.as_deref())?;
    match &args.command {
        None => overview(&dir, args.json.json, shared.demo),
        Some(DataCommand::Check { rebuild, json }) => check(&dir, *rebuild, json.json, shared.demo),
        Some(DataCommand::Export { what, format, since, output }) => {
            if shared.demo {
                // Not a row of the table.
                eprintln!("etude: {MARK}");
            }
            export(&dir, *what, *format, since.as_deref(), output.as_deref())
        }
    }
}

/// What to do about faults.
const ADVICE: &str = "keep a copy of the folder before anything else; wrong sums are made anew by \
                      `etude data check --rebuild`; see docs/data.md";

/// Checks the history and, where `rebuild` says so, makes wrong sums anew;
/// status 1 where faults were found, or are left.
fn check(dir: &Path, rebuild: bool, as_json: bool, invented: bool) -> anyhow::Result<ExitCode> {
    let places = Places::new(dir);
    let path = places.data.join(DATABASE);
    let known = match Store::open_to_read(&places.data)? {
        // An older one has not all sums yet.
        Some(store) if !store.is_up_to_date()? => Some(Store::open_at(&places)?),
        known => known,
    };
    let Some(store) = known else {
        let text = if as_json {
            let value = json!({ "schema": "etude.data-check/1", "path": path, "exists": false });
            format!("{value}\n")
        } else {
            format!("No practice history yet in\n  {}\n", path.display())
        };
        return super::print(text.as_bytes());
    };
    let found = store.integrity()?;
    let (mut copy, mut left) = (None, found.faults.clone());
    if rebuild && !found.is_sound() && !found.damaged {
        drop(store);
        let mut store = Store::open_at(&places)?;
        copy = Some(store.rebuild_rollups()?);
        left = store.integrity()?.faults;
    }
    let text = if as_json {
        let value = json!({
            "schema": "etude.data-check/1",
            "path": path,
            "exists": true,
            "invented": invented,
            "sound": found.is_sound(),
            "faults": found.faults,
            "rebuilt": copy.is_some(),
            "copy": copy,
            "left": left,
        });
        format!("{value}\n")
    } else {
        let mut text = if invented { format!("{MARK}\n") } else { String::new() };
        let _ = writeln!(text, "{}", path.display());
        if found.is_sound() {
            text.push_str("sound: the file, and its sums against every keystroke\n");
        } else {
            text.push_str("faults found:\n");
        }
        for fault in &found.faults {
            let _ = writeln!(text, "  {fault}");
        }
        match &copy {
            Some(copy) => {
                let copy = copy.display();
                let _ = writeln!(text, "The sums were made anew; as it was before: {copy}");
                let sound = "The history is sound now.";
                let word = if left.is_empty() { sound } else { "These faults are left:" };
                let _ = writeln!(text, "{word}");
                for fault in &left {
                    let _ = writeln!(text, "  {fault}");
                }
            }
            None if found.damaged => {
                text.push_str(
                    "The file itself is damaged, so that sums can't help; see docs/data.md\n",
                );
            }
            None if !found.is_sound() => {
                let _ = writeln!(text, "{ADVICE}");
            }
            None => {}
        }
        text
    };
    super::print(text.as_bytes())?;
    Ok(if left.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// Prints what is there; status 1 where it is not sound.
fn overview(dir: &Path, as_json: bool, invented: bool) -> anyhow::Result<ExitCode> {
    let places = Places::new(dir);
    let path = places.data.join(DATABASE);
    let journals = journals_waiting(&places);
    let kept = kept_or_told(dir);
    let survey =
        kept.as_ref().map(|kept| json!({ "day": day_text(kept.day), "texts": kept.texts }));
    let kept = kept.map(|kept| {
        let texts = counted(kept.texts as usize, "text");
        format!(
            "{}, counts of {texts}; `etude survey` shows it, --forget removes it",
            day_text(kept.day)
        )
    });
    let Some(store) = Store::open_to_read(&places.data)? else {
        let text = if as_json {
            let value = json!({
                "schema": "etude.data/1",
                "path": path,
                "exists": false,
                "journals_waiting": journals.len(),
                "survey": survey,
            });
            format!("{value}\n")
        } else {
            let mut text = format!(
                "No practice history yet. It begins with the first drill, in\n  {}\n",
                path.display()
            );
            if !journals.is_empty() {
                let _ = writeln!(text, "Journals waiting: {}", journals.len());
            }
            if let Some(kept) = &kept {
                let _ = writeln!(text, "Survey: {kept}");
            }
            text
        };
        return super::print(text.as_bytes());
    };
    let totals = store.totals()?;
    let integrity = store.integrity()?;
    let faults = integrity.faults;
    let (first, last) = (totals.first_day.map(day_text), totals.last_day.map(day_text));
    let text = if as_json {
        let value = json!({
            "schema": "etude.data/1",
            "path": path,
            "exists": true,
            "invented": invented,
            "size_bytes": store.size_bytes(),
            "database_schema": store.schema()?,
            "sessions": totals.n_sessions,
            "drills": totals.n_drills,
            "keystrokes": totals.n_keystrokes,
            "active_us": totals.active.0,
            "first_day": first,
            "last_day": last,
            "journals_waiting": journals.len(),
            "sound": faults.is_empty(),
            "faults": faults,
            "survey": survey,
        });
        format!("{value}\n")
    } else {
        let days = match (first, last) {
            (Some(first), Some(last)) => format!("{first} to {last}"),
            _ => "none yet".to_owned(),
        };
        let minutes = totals.active.0 / 60_000_000;
        let mut text = if invented { format!("{MARK}\n") } else { String::new() };
        let mut line = |name: &str, value: String| {
            let _ = writeln!(text, "{name:<12} {value}");
        };
        line("History", path.display().to_string());
        line("Size", size_text(store.size_bytes()));
        line("Schema", store.schema()?.to_string());
        line("Sessions", totals.n_sessions.to_string());
        line("Drills", totals.n_drills.to_string());
        line("Keystrokes", totals.n_keystrokes.to_string());
        line(
            "Active time",
            match minutes {
                0 => format!("{:.0} s", totals.active.as_secs()),
                1..60 => format!("{minutes} min"),
                _ => format!("{} h {} min", minutes / 60, minutes % 60),
            },
        );
        line("Days", days);
        line(
            "Journals",
            match journals.len() {
                0 => "none waiting".to_owned(),
                n => format!("{n}, of open windows or to be folded in at the next start"),
            },
        );
        line("Survey", kept.unwrap_or_else(|| "none".to_owned()));
        let word = match (faults.is_empty(), integrity.sums_checked) {
            (true, true) => "sound",
            (true, false) => "sound; the sums are made complete at the next start",
            (false, _) => "faults found:",
        };
        line("Integrity", word.to_owned());
        for fault in &faults {
            line("", fault.clone());
        }
        if !faults.is_empty() {
            line("", ADVICE.to_owned());
        }
        text
    };
    super::print(text.as_bytes())?;
    Ok(if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE })
}

/// `bytes` in the unit that suits it, decimal.
fn size_text(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}

fn export(
    dir: &Path,
    what: ExportWhat,
    format: ExportFormat,
    since: Option<&str>,
    output: Option<&Path>,
) -> anyhow::Result<ExitCode> {
    let since_day = match since {
        None => None,
        Some(text) => Some(day_from_text(text).ok_or_else(|| {
            let words = "is no day: expected YYYY-MM-DD, as in 2026-11-25";
            Usage(format!("--since '{text}' {words}"))
        })?),
    };
    let places = Places::new(dir);
    let Some(store) = Store::open_to_read(&places.data)? else {
        bail!("no practice history in '{}' yet: there is nothing to export", dir.display());
    };
    let table = match what {
        ExportWhat::Sessions => Table::Sessions,
        ExportWhat::Drills => Table::Drills,
        ExportWhat::Keystrokes => Table::Keystrokes,
    };
    match output {
        None => write_rows(&store, table, format, since_day, io::stdout().lock())?,
        Some(path) => {
            let file = File::create_new(path).map_err(|error| match error.kind() {
                io::ErrorKind::AlreadyExists => anyhow::anyhow!(
                    "'{}' exists and is not overwritten: name another file",
                    path.display()
                ),
                _ => anyhow::Error::new(error)
                    .context(format!("'{}' can't be written", path.display())),
            })?;
            if let Err(error) = write_rows(&store, table, format, since_day, file) {
                // Half an export would pass for a whole one.
                let _ = fs::remove_file(path);
                return Err(error.context(format!("'{}' was not written", path.display())));
            }
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn write_rows(
    store: &Store,
    table: Table,
    format: ExportFormat,
    since_day: Option<i32>,
    out: impl Write,
) -> anyhow::Result<()> {
    let mut out = BufWriter::new(out);
    let names: Vec<&str> = table.names().collect();
    if format == ExportFormat::Csv {
        csv::write(&mut out, names.iter().copied())?;
    }
    let outcome = store.export(table, since_day, |cells| match format {
        ExportFormat::Csv => {
            let fields: Vec<String> = cells.iter().map(cell_text).collect();
            csv::write(&mut out, fields.iter().map(String::as_str))
        }
        ExportFormat::Jsonl => {
            serde_json::to_writer(&mut out, &Line { names: &names, cells })?;
            out.write_all(b"\n")
        }
    });
    match outcome {
        Ok(()) => Ok(out.flush()?),
        Err(ExportError::Write(error)) => Err(error.into()),
        Err(error) => Err(error.into()),
    }
}

fn cell_text(cell: &Cell) -> String {
    match cell {
        Cell::None => String::new(),
        Cell::Number(number) => number.to_string(),
        Cell::Text(text) => text.clone(),
    }
}

/// A row as a JSON object with its columns in their order.
struct Line<'a> {
    names: &'a [&'a str],
    cells: &'a [Cell],
}

impl Serialize for Line<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.cells.len()))?;
        for (name, cell) in self.names.iter().zip(self.cells) {
            match cell {
                Cell::None => map.serialize_entry(name, &())?,
                Cell::Number(number) => map.serialize_entry(name, number)?,
                Cell::Text(text) => map.serialize_entry(name, text)?,
            }
        }
        map.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_have_units() {
        for (bytes, text) in
            [(7, "7 bytes"), (1_000, "1.0 kB"), (4_660_000, "4.7 MB"), (2_000_000_000, "2.0 GB")]
        {
            assert_eq!(size_text(bytes), text);
        }
    }
}
