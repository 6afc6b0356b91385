//! `etude layout`: list, show and check layouts.

use super::survey::needed;
use super::{Usage, compare, import, making, print, sheet};
use crate::cli::{ColorChoice, LayoutCommand, Shared};
use crate::keyboard::Output;
use crate::keyboard::document::{Nearest, harmless};
use crate::layout::check::{Often, Weight};
use crate::layout::{self, LayerId, Layout, RouteTable, file, shipped, token};
use crate::order::Gather;
use crate::report::layout as report;
use crate::ui::run;
use crate::ui::screen::look::Look;
use crate::ui::surroundings;
use crate::ui::terminal::Terminal;
use crate::ui::theme::{Ground, Theme};
use anyhow::{Context, anyhow};
use std::io::IsTerminal;
use std::path::Path;
use std::process::ExitCode;

/// The exit status that tells of faults in a layout.
const FAULTY: u8 = 3;

/// The widest drawing where standard output is no terminal.
const PLAIN_WIDTH: u16 = 80;

/// Runs `etude layout …`.
///
/// # Errors
/// A layout or layer that is not there or can't be read, or a closed output.
pub fn run(command: &LayoutCommand, shared: &Shared) -> anyhow::Result<ExitCode> {
    let theme = output_theme(shared.color);
    let in_use = shared.layout.as_deref();
    match command {
        LayoutCommand::Compare(args) => compare::run(args, shared, theme),
        LayoutCommand::Import(args) => import::run(args, theme),
        LayoutCommand::Sheet(args) => sheet::run(args, shared, theme),
        LayoutCommand::List(flag) => {
            let layouts: Vec<Layout> = shipped::names().filter_map(shipped::load).collect();
            let boards: Vec<_> = shipped::board_names().filter_map(shipped::board).collect();
            if flag.json {
                print_json(&report::list_json(&layouts, &boards))
            } else {
                print_lines(&report::list_text(&layouts, &boards, theme))
            }
        }
        LayoutCommand::Show { which, layer, place, screen, json } => {
            let layout = resolve(which.as_deref().or(in_use))?;
            let output = place.as_deref().map(output_of).transpose()?;
            if *screen {
                return look(layout, place.as_deref(), shared);
            }
            if let Some(output) = output {
                return tell_where(&layout, &output, json.json, theme);
            }
            let only = layer.as_deref().map(|name| layer_of(&layout, name)).transpose()?;
            if json.json {
                print_json(&report::show_json(&layout, only))
            } else {
                print_lines(&report::show_text(&layout, only, theme, output_width()))
            }
        }
        LayoutCommand::New { file } => making::describe(file, shared),
        LayoutCommand::Capture { file, board } => making::capture(file, board.as_deref(), shared),
        LayoutCommand::Check { which, json } => {
            let layout = resolve(which.as_deref().or(in_use))?;
            let (need, day) = needed(&RouteTable::build(&layout), shared)?;
            let often: Often = need.items().map(|(item, times)| (item.clone(), times)).gather();
            let remarks = layout::advise(&layout, &often);
            if json.json {
                print_json(&report::check_json(&layout, &remarks, day))?;
            } else {
                print_lines(&report::check_text(&layout, &remarks, day, theme))?;
            }
            let faulty = remarks.iter().any(|remark| remark.weight() == Weight::Fault);
            Ok(if faulty { ExitCode::from(FAULTY) } else { ExitCode::SUCCESS })
        }
    }
}

/// The output that `word` names.
///
/// # Errors
/// What was expected instead.
fn output_of(word: &str) -> anyhow::Result<Output> {
    token::read_output(word)
        .map_err(|error| Usage(format!("--where '{}': {error}", word.escape_debug())).into())
}

fn tell_where(
    layout: &Layout,
    output: &Output,
    json: bool,
    theme: Theme,
) -> anyhow::Result<ExitCode> {
    let routes = layout::routes(layout, output);
    if json {
        return print_json(&report::where_json(layout, output, &routes));
    }
    print_lines(&report::where_text(layout, output, &routes, theme))
}

/// Opens the screen that shows the layers side by side.
fn look(layout: Layout, wanted: Option<&str>, shared: &Shared) -> anyhow::Result<ExitCode> {
    let theme = Theme {
        colour: surroundings::colour(shared.color),
        ground: Ground::Unknown,
        unicode: surroundings::unicode(),
    };
    let mut screen = Look::new(layout, wanted.unwrap_or_default(), theme);
    let mut terminal = Terminal::enter().context("the screen needs a terminal")?;
    let ending = run::run(&mut terminal, &mut screen);
    drop(terminal);
    Ok(ending.context("the screen can't be drawn")?.exit_code())
}

/// The layout that `which` names: a shipped one, or a file (anything with a
/// path separator, ending in `.toml`, or that is there as a file). Without a
/// name the one to start with. Warnings go to standard error.
///
/// # Errors
/// A name that is neither, with the nearest known one; a file that can't be
/// read; what is wrong with it.
pub fn resolve(which: Option<&str>) -> anyhow::Result<Layout> {
    let name = which.unwrap_or(shipped::DEFAULT);
    if let Some(text) = shipped::text(name) {
        return Ok(file::read(text, name)?.layout);
    }
    let path = Path::new(name);
    let is_path = path.components().count() > 1
        || path.extension().is_some_and(|extension| extension == "toml");
    if !is_path && !path.is_file() {
        let known: Vec<&str> = shipped::names().collect();
        return Err(Usage(format!(
            "no layout '{name}': expected a file or one of {}{}",
            known.join(", "),
            Nearest::of(name, known.iter().copied())
        ))
        .into());
    }
    let bytes = std::fs::read(path).with_context(|| format!("can't read layout '{name}'"))?;
    let text = String::from_utf8(bytes).map_err(|error| {
        let before = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = before.split(|&byte| byte == b'\n').count();
        anyhow!("{name}:{line}: not UTF-8: expected a text file saved as UTF-8")
    })?;
    let reading = file::read(&text, name)?;
    for warning in &reading.warnings {
        eprintln!("etude: warning: {}", harmless(&warning.to_string()));
    }
    Ok(reading.layout)
}

/// The layer of `layout` with this name.
///
/// # Errors
/// A name that it doesn't have, with the nearest one.
pub fn layer_of(layout: &Layout, name: &str) -> anyhow::Result<LayerId> {
    layout.layer_named(name).ok_or_else(|| {
        let known: Vec<&str> = layout.layers.iter().map(|layer| layer.name.as_str()).collect();
        Usage(format!(
            "layout '{}' has no layer '{name}': expected one of {}{}",
            layout.name,
            known.join(", "),
            Nearest::of(name, known.iter().copied())
        ))
        .into()
    })
}

/// How to style standard output: the flag first, then `NO_COLOR` and whether
/// a terminal reads it. ASCII alone where the locale is known not to be UTF-8.
pub fn output_theme(choice: ColorChoice) -> Theme {
    let set = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let colour = match choice {
        ColorChoice::Always => true,
        ColorChoice::Never => false,
        ColorChoice::Auto => {
            set("NO_COLOR").is_none()
                && set("TERM").is_some_and(|term| term != "dumb")
                && std::io::stdout().is_terminal()
        }
    };
    let locale = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
    let unicode = locale.is_none_or(|locale| {
        let locale = locale.to_lowercase();
        locale.contains("utf-8") || locale.contains("utf8")
    });
    Theme { colour, ground: Ground::Unknown, unicode }
}

/// The columns for drawings: the terminal's, two left for the indent.
pub fn output_width() -> u16 {
    let terminal = std::io::stdout().is_terminal();
    let columns = terminal.then(crossterm::terminal::size).and_then(Result::ok);
    columns.map_or(PLAIN_WIDTH, |(columns, _)| columns).saturating_sub(2)
}

/// Prints each line.
///
/// # Errors
/// A closed output.
pub fn print_lines(lines: &[String]) -> anyhow::Result<ExitCode> {
    let mut text = lines.join("\n");
    text.push('\n');
    print(text.as_bytes())
}

/// Prints `value`, indented.
///
/// # Errors
/// A closed output.
pub fn print_json(value: &serde_json::Value) -> anyhow::Result<ExitCode> {
    let mut text = serde_json::to_string_pretty(value)?;
    text.push('\n');
    print(text.as_bytes())
}
