//! `etude terminal`: what this terminal can deliver.

use super::{print, terminal_check};
use crate::cli::{ColorChoice, Shared, TerminalArgs};
use crate::session::{Checked, Granted, Level};
use crate::store::{Terminals, data_dir};
use crate::ui::run::{Ending, run as run_screen};
use crate::ui::screen::watch::Watch;
use crate::ui::surroundings;
use crate::ui::terminal::{Probe, Terminal};
use crate::ui::theme::{Ground, Theme};
use crate::ui::widget::frame::wrapped;
use anyhow::Context;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{LineWriter, Write as _};
use std::path::Path;
use std::process::ExitCode;

/// Runs `etude terminal`.
///
/// # Errors
/// Where there is no terminal to ask, the log can't be made, or what was
/// checked before can't be read.
pub fn run(args: &TerminalArgs, shared: &Shared) -> anyhow::Result<ExitCode> {
    let colour = shared.color;
    if args.check {
        return terminal_check::run(shared);
    }
    if args.watch {
        return watch(args.log.as_deref(), colour);
    }
    let known_as = surroundings::terminal();
    // Without a home folder nothing can have been kept.
    let terminals = match data_dir(shared.data.as_deref()) {
        Ok(data) => Terminals::read(&data)?,
        Err(_) => Terminals::default(),
    };
    let probe = Terminal::probe().context("this needs a terminal to ask")?;
    if let Some(number) = probe.ended_by {
        return Ok(Ending::Signal(number).exit_code());
    }
    let findings = Findings {
        probe,
        name: std::env::var("TERM").unwrap_or_default(),
        colour: surroundings::colour(colour),
        utf8: surroundings::unicode(),
        checked: terminals.named(&known_as).cloned().unwrap_or_default(),
        known_as,
    };
    if args.json.json {
        let text = serde_json::to_string_pretty(&findings.json())?;
        return print(format!("{text}\n").as_bytes());
    }
    print(findings.words().as_bytes())
}

fn watch(log: Option<&Path>, colour: ColorChoice) -> anyhow::Result<ExitCode> {
    let log = match log {
        None => None,
        Some(path) => {
            let file = File::create_new(path).with_context(|| {
                format!("the log {} can't be made: name a new file", path.display())
            })?;
            Some(Box::new(LineWriter::new(file)) as Box<dyn std::io::Write>)
        }
    };
    let theme = Theme {
        colour: surroundings::colour(colour),
        ground: Ground::Unknown,
        unicode: surroundings::unicode(),
    };
    let mut screen = Watch::new(theme, log);
    let mut terminal = Terminal::enter()?;
    let ending = run_screen(&mut terminal, &mut screen);
    drop(terminal);
    let code = ending?.exit_code();
    if let Some(error) = screen.log_error() {
        // The status stays that of the ending; this only explains the log.
        let _ = writeln!(std::io::stderr(), "etude: the log is incomplete: {error}");
    }
    Ok(code)
}

/// What was found out, before it is put into words.
struct Findings {
    probe: Probe,
    name: String,
    colour: bool,
    utf8: bool,
    /// What the environment calls it.
    known_as: String,
    checked: Checked,
}

impl Findings {
    fn ground(&self) -> &'static str {
        match self.probe.ground {
            Ground::Unknown => "unknown",
            Ground::Dark => "dark",
            Ground::Light => "light",
        }
    }

    fn words(&self) -> String {
        let level = self.probe.level;
        let (columns, rows) = self.probe.size;
        let mut text = String::new();
        let mut line = |words: &str| {
            // Writing to a string never fails.
            let _ = writeln!(text, "{words}");
        };
        let name = if self.name.is_empty() { "not named" } else { &self.name };
        line(&format!("Terminal    {name}, {columns} by {rows}"));
        line(&format!("Background  {}", self.ground()));
        line(&format!("Colour      {}", if self.colour { "yes" } else { "no" }));
        line(&format!(
            "Characters  {}",
            if self.utf8 { "UTF-8" } else { "the locale says no UTF-8: ASCII alone is drawn" }
        ));
        line(&format!("Keys        {}", level.name()));
        if !self.probe.answered {
            line("            (it answered nothing within 250 ms)");
        }
        line("");
        line("It tells");
        for (flag, words) in Granted::WORDS {
            let told = if level.granted().contains(flag) { "yes" } else { "no " };
            line(&format!("  {told}  {words}"));
        }
        let pairs = level.cannot_tell_apart();
        if !pairs.is_empty() {
            line("");
            line("It can't tell apart, among others (drills take either for the other)");
            for pair in pairs.chunks(3) {
                let cells: Vec<String> = pair
                    .iter()
                    .map(|(one, other)| format!("{:<25}", format!("{one} and {other}")))
                    .collect();
                line(format!("  {}", cells.concat()).trim_end());
            }
        }
        let losses = level.never_told();
        if !losses.is_empty() {
            line("");
            line("It never tells");
            for loss in losses {
                line(&format!("  {loss}"));
            }
        }
        let found = terminal_check::words(&self.checked, level);
        if !found.is_empty() {
            line("");
            line("What was checked here");
            for words in found.iter().flat_map(|words| wrapped(words, 76)) {
                line(&format!("  {words}"));
            }
        }
        line("");
        for advice in self.advice() {
            line(advice);
        }
        text
    }

    fn advice(&self) -> Vec<&'static str> {
        let mut advice = Vec::new();
        match self.probe.level {
            Level::Enhanced(flags) if flags.is_all() => {
                advice.push("All that Etude can use is granted.");
            }
            Level::Enhanced(_) => {
                advice.push("Chords can be practised; a newer terminal may grant the rest.");
            }
            Level::ModifyOtherKeys | Level::Plain => {
                advice.push(
                    "Text, symbols, numbers and thumb keys can be practised here. For shortcuts\n\
                     use a terminal with the open keyboard protocol (the documents of yours may\n\
                     call it progressive enhancement or CSI u; some have to be told to turn it\n\
                     on).",
                );
            }
        }
        match terminal_check::advice(&self.checked, self.probe.level) {
            Some(words) => advice.push(words),
            None if self.checked.at(self.probe.level).is_none() => {
                advice.push("Try the keys that drills count on: etude terminal --check");
            }
            None => {}
        }
        if !self.utf8 {
            advice.push("For clearer drawing set LANG to a UTF-8 locale, such as C.UTF-8.");
        }
        if self.probe.size.0 < 80 || self.probe.size.1 < 24 {
            advice.push("Practice looks best in 80 by 24 or more.");
        }
        advice.push("See each key as it arrives: etude terminal --watch");
        advice
    }

    fn json(&self) -> serde_json::Value {
        let level = self.probe.level;
        let has = |flag| level.granted().contains(flag);
        serde_json::json!({
            "schema": "etude.terminal/1",
            "term": self.name,
            "columns": self.probe.size.0,
            "rows": self.probe.size.1,
            "background": self.ground(),
            "colour": self.colour,
            "utf8": self.utf8,
            "answered": self.probe.answered,
            "level": level.word(),
            "flags": level.granted().bits(),
            "grants": {
                "chords": has(Granted::DISAMBIGUATE),
                "repeats_and_releases": has(Granted::EVENT_TYPES),
                "base_key": has(Granted::ALTERNATE_KEYS),
                "all_keys": has(Granted::ALL_KEYS),
                "text": has(Granted::TEXT),
            },
            "same": level.cannot_tell_apart(),
            "never_told": level.never_told(),
            "checked": terminal_check::json(&self.known_as, &self.checked, level),
            "advice": self.advice(),
        })
    }
}
