//! One table a kind of sum.

use crate::progress::Progress;
use crate::report::csv;
use crate::session::Spread;
use crate::store::Figures;
use crate::store::wall_clock::day_text;
use std::io::{self, Write};

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CsvTable {
    /// A row for each layer and day (or month) practised.
    Layers,
    /// A row for each key of each layer.
    Items,
    /// A row for each pair of layers.
    Switches,
    /// A row for each day practised.
    Calendar,
}

const FIGURES: [&str; 7] =
    ["n_keystrokes", "n_hits", "n_misses", "n_timed", "median_us", "q1_us", "q3_us"];

/// Writes `table` by RFC 4180, with a header line. Times are in µs; what isn't
/// known is empty.
///
/// # Errors
/// What the system says when writing fails.
pub fn csv(out: &mut impl Write, progress: &Progress, table: CsvTable) -> io::Result<()> {
    let mut write = |fields: Vec<String>| csv::write(out, fields.iter().map(String::as_str));
    let names = |names: &[&str], figures: bool| {
        let tail: &[&str] = if figures { &FIGURES } else { &[] };
        names.iter().chain(tail).map(|&name| name.to_owned()).collect::<Vec<_>>()
    };
    match table {
        CsvTable::Layers => {
            write(names(&["layer", "day", "active_us"], true))?;
            for layer in &progress.layers {
                for point in &layer.points {
                    let active = point.figures.active.0.to_string();
                    let mut row = vec![layer.name.clone(), day_text(point.day), active];
                    row.extend(fields(&point.figures));
                    write(row)?;
                }
            }
        }
        CsvTable::Items => {
            let mut heads = names(&["layer", "position", "output"], true);
            heads.extend(names(&["old_way_n", "old_way_median_us"], false));
            write(heads)?;
            for item in &progress.items {
                let name = &item.name;
                let position = name.position.map_or_else(String::new, |at| at.to_string());
                let mut row = vec![name.layer.clone(), position, name.output.clone()];
                row.extend(fields(&item.all));
                let old = item.old_way.as_ref();
                row.push(old.map_or_else(String::new, |old| old.n.to_string()));
                row.push(old.map_or_else(String::new, |old| old.median.0.to_string()));
                write(row)?;
            }
        }
        CsvTable::Switches => {
            write(names(&["from_layer", "to_layer"], true))?;
            for switch in &progress.switches {
                let mut row = vec![switch.from.clone(), switch.to.clone()];
                row.extend(fields(&switch.all));
                write(row)?;
            }
        }
        CsvTable::Calendar => {
            write(names(&["day", "n_drills", "n_keystrokes", "active_us"], false))?;
            for day in &progress.calendar {
                write(vec![
                    day_text(day.day),
                    day.n_drills.to_string(),
                    day.n_keystrokes.to_string(),
                    day.active.0.to_string(),
                ])?;
            }
        }
    }
    Ok(())
}

fn fields(figures: &Figures) -> Vec<String> {
    let spread = figures.spread();
    let of = |pick: &dyn Fn(&Spread) -> Option<u64>| {
        spread.as_ref().and_then(pick).map_or_else(String::new, |value| value.to_string())
    };
    vec![
        figures.n_keystrokes.to_string(),
        figures.n_hits.to_string(),
        figures.n_misses.to_string(),
        figures.latency.count().to_string(),
        of(&|s| Some(s.median.0)),
        of(&|s| s.quartiles.map(|(low, _)| low.0)),
        of(&|s| s.quartiles.map(|(_, high)| high.0)),
    ]
}
