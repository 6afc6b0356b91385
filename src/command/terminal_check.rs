//! `etude terminal --check`: what of the drilled keys comes through.

use super::layout::resolve;
use super::print;
use crate::cli::Shared;
use crate::editor::common;
use crate::keyboard::Output;
use crate::layout::RouteTable;
use crate::practice::passing;
use crate::session::{Arrival, Checked, Finding, Level};
use crate::store::{Terminals, data_dir};
use crate::ui::run::{Ending, run as run_screen};
use crate::ui::screen::check::{CheckScreen, Keep};
use crate::ui::surroundings;
use crate::ui::terminal::Terminal;
use crate::ui::theme::{Ground, Theme};
use std::io::Write as _;
use std::process::ExitCode;
use std::sync::Arc;

/// So many keys are named in a line.
const NAMED: usize = 8;

/// Runs the check and tells what came of it.
///
/// # Errors
/// Where there is no terminal, or what was kept before can't be read.
pub fn run(shared: &Shared) -> anyhow::Result<ExitCode> {
    let layout = resolve(shared.layout.as_deref())?;
    let data = data_dir(shared.data.as_deref())?;
    let wanted = passing(&layout, &RouteTable::build(&layout), &Arc::new(common()?.clone()));
    let name = surroundings::terminal();
    let terminals = Terminals::read(&data)?;
    let checked = terminals.named(&name).cloned().unwrap_or_default();
    let keep: Keep = Box::new({
        let name = name.clone();
        move |checked| {
            // Another window may have kept something of its own since.
            let mut terminals = Terminals::read(&data).map_err(|error| error.to_string())?;
            terminals.set(&name, checked.clone());
            terminals.write(&data).map_err(|error| error.to_string())
        }
    });
    let theme = Theme {
        colour: surroundings::colour(shared.color),
        ground: Ground::Unknown,
        unicode: surroundings::unicode(),
    };
    let mut screen = CheckScreen::new(theme, wanted, checked, keep);
    let mut terminal = Terminal::enter()?;
    let ending = run_screen(&mut terminal, &mut screen);
    drop(terminal);
    let ending = ending?;
    if let Some(trouble) = screen.trouble() {
        // The status stays that of the ending.
        let _ = writeln!(std::io::stderr(), "etude: not kept: {trouble}");
    }
    if ending != Ending::Done {
        return Ok(ending.exit_code());
    }
    let mut lines = vec![format!("{name}, {}", screen.level().name())];
    lines.extend(words(screen.checked(), screen.level()));
    lines.extend(advice(screen.checked(), screen.level()).map(str::to_owned));
    print((lines.join("\n") + "\n").as_bytes())
}

/// What was found at `level`, a line each; empty where nothing was tried.
pub fn words(checked: &Checked, level: Level) -> Vec<String> {
    let Some(found) = checked.at(level).filter(|found| !found.is_empty()) else {
        return Vec::new();
    };
    let of = |arrival: Arrival| {
        let mine = found.iter().filter(move |(_, finding)| finding.arrival() == arrival);
        mine.map(|(output, finding)| match finding {
            Finding::Other(other) => format!("{output} (as {other})"),
            Finding::Itself | Finding::Nothing => output.to_string(),
        })
        .collect::<Vec<_>>()
    };
    let mut lines = vec![format!(
        "Of {} keys and chords that were tried, {} arrive.",
        found.len(),
        of(Arrival::Delivered).len()
    )];
    for (arrival, told) in
        [(Arrival::Swallowed, "Never arrive"), (Arrival::Ambiguous, "Arrive as another")]
    {
        let lost = of(arrival);
        if !lost.is_empty() {
            let more = lost.len().saturating_sub(NAMED);
            let more = if more > 0 { format!(", and {more} more") } else { String::new() };
            let named = lost[..lost.len().min(NAMED)].join(", ");
            lines.push(format!("{told}: {named}{more}"));
        }
    }
    lines
}

/// What to do about what doesn't arrive; none where everything does.
pub fn advice(checked: &Checked, level: Level) -> Option<&'static str> {
    let lost = |finding: &Finding| finding.arrival() != Arrival::Delivered;
    checked.at(level).is_some_and(|found| found.values().any(lost)).then_some(
        "Drills leave out what doesn't arrive. To get it through, look in the settings of\n\
         the terminal, then of the desktop, for their own shortcuts (keyboard, key\n\
         bindings) and take these away; use a terminal with the enhanced keyboard\n\
         protocol; or give the action another chord in the layout's [actions]. Where a\n\
         layer's keys can't be told apart, let its access send a marker key as well\n\
         (docs/markers.md). Then check again.",
    )
}

/// What was found at `level`, for programs; null where nothing was tried.
pub fn json(name: &str, checked: &Checked, level: Level) -> serde_json::Value {
    let Some(found) = checked.at(level) else { return serde_json::Value::Null };
    let of = |wanted: &Finding| {
        let mine = found.iter().filter(|(_, finding)| *finding == wanted);
        mine.map(|(output, _)| output.to_string()).collect::<Vec<_>>()
    };
    let other = |(output, finding): (&Output, &Finding)| match finding {
        Finding::Other(other) => Some((output.to_string(), other.to_string().into())),
        Finding::Itself | Finding::Nothing => None,
    };
    serde_json::json!({
        "terminal": name,
        "arrive": of(&Finding::Itself),
        "other": found.iter().filter_map(other).collect::<serde_json::Map<_, _>>(),
        "nothing": of(&Finding::Nothing),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn findings_are_told_with_what_to_do() {
        let mut checked = Checked::default();
        let level = Level::Plain;
        assert!(words(&checked, level).is_empty() && advice(&checked, level).is_none());
        let output = |word: &str| word.parse::<Output>().unwrap();
        checked.note("plain", output("Ctrl+C"), Finding::Itself);
        assert_eq!(words(&checked, level), ["Of 1 keys and chords that were tried, 1 arrive."]);
        assert!(advice(&checked, level).is_none());
        checked.note("plain", output("Ctrl+W"), Finding::Nothing);
        checked.note("plain", output("Ctrl+PageUp"), Finding::Other(output("PageUp")));
        assert_eq!(
            words(&checked, level)[1..],
            ["Never arrive: Ctrl+W", "Arrive as another: Ctrl+PageUp (as PageUp)"]
        );
        assert!(advice(&checked, level).is_some());
        let json = json("tern-term", &checked, level);
        assert_eq!(json["nothing"][0], "Ctrl+W");
        assert_eq!(json["other"]["Ctrl+PageUp"], "PageUp");
    }
}
