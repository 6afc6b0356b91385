//! `etude progress`: what the history says, on screen or as text.

use super::Usage;
use super::demo::MARK;
use super::layout::layer_of;
use super::practice::gather;
use super::screen;
use crate::cli::{ProgressArgs, ProgressTable, Shared};
use crate::progress::{Progress, Request, history};
use crate::report::progress as report;
use crate::report::progress::CsvTable;
use crate::store::DATABASE;
use crate::store::wall_clock::{self, day_from_text};
use crate::ui::screen::progress::Asked;
use serde_json::json;
use std::io::IsTerminal;
use std::path::Path;
use std::process::ExitCode;

/// Runs `etude progress`. Makes nothing where there is no history yet.
///
/// # Errors
/// A layer or day that makes no sense, a history that can't be read, or a
/// closed output.
pub fn run(shared: &Shared, args: &ProgressArgs) -> anyhow::Result<ExitCode> {
    let gathered = gather(shared)?;
    let gathered = if args.played { gathered.played(&[])? } else { gathered };
    if let Some(name) = &args.layer {
        layer_of(&gathered.layout, name)?;
    }
    let since = match &args.since {
        None => None,
        Some(text) => Some(day_from_text(text).ok_or_else(|| {
            let words = "is no day: expected YYYY-MM-DD, as in 2026-11-25";
            Usage(format!("--since '{text}' {words}"))
        })?),
    };
    let as_text = args.plain || args.json || args.csv.is_some();
    if !as_text && std::io::stdout().is_terminal() && std::io::stdin().is_terminal() {
        return screen::progress(shared, gathered, Asked { since, layer: args.layer.clone() });
    }
    let request = Request {
        layout: &gathered.layout,
        old_layout: gathered.old_layout.as_deref(),
        since,
        today: wall_clock::now().day_local(0),
        only: args.layer.as_deref(),
        surveyed: gathered.surveyed.as_deref(),
    };
    let progress = match history(&gathered.data)? {
        Some(store) => Some(Progress::read(&store, &request)?),
        None => None,
    };
    print(progress.as_ref(), args, &gathered.data, shared.demo)
}

fn print(
    progress: Option<&Progress>,
    args: &ProgressArgs,
    data: &Path,
    invented: bool,
) -> anyhow::Result<ExitCode> {
    let mut out = Vec::new();
    if invented && args.csv.is_some() {
        // Not a row of the table.
        eprintln!("etude: {MARK}");
    }
    match (progress, args.csv) {
        (Some(progress), Some(table)) => {
            let table = match table {
                ProgressTable::Layers => CsvTable::Layers,
                ProgressTable::Items => CsvTable::Items,
                ProgressTable::Switches => CsvTable::Switches,
                ProgressTable::Calendar => CsvTable::Calendar,
            };
            report::csv(&mut out, progress, table)?;
        }
        (Some(progress), None) if args.json => {
            let mut value = report::json(progress);
            value["exists"] = json!(true);
            value["invented"] = json!(invented);
            out = serde_json::to_vec_pretty(&value)?;
            out.push(b'\n');
        }
        (Some(progress), None) => {
            let mut lines = report::text(progress);
            if invented {
                lines.insert(0, MARK.to_owned());
            }
            out = (lines.join("\n") + "\n").into_bytes();
        }
        (None, None) if args.json => {
            out = serde_json::to_vec_pretty(&json!({
                "schema": "etude.progress/1",
                "exists": false,
            }))?;
            out.push(b'\n');
        }
        (None, csv) => {
            let words = format!(
                "No practice history yet. It begins with the first drill, in\n  {}\n",
                data.join(DATABASE).display()
            );
            if csv.is_some() {
                // Not a row of the table.
                eprint!("etude: {words}");
            } else {
                out = words.into_bytes();
            }
        }
    }
    super::print(&out)
}
