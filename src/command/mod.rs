//! One file a subcommand: gather inputs, call the core, hand to ui or report.

mod arrange;
mod compare;
mod data;
mod demo;
mod habits;
mod import;
mod layout;
mod making;
mod man;
mod practice;
mod progress;
mod screen;
mod script;
mod sheet;
mod survey;
mod terminal;
mod terminal_check;
mod walk;

use crate::cli::{Cli, Command};
use crate::keyboard::document::harmless;
use anyhow::anyhow;
use clap::CommandFactory;
use std::io::{ErrorKind, Write};
use std::path::Path;
use std::process::ExitCode;

/// Runs what the command line asks for.
///
/// # Errors
/// Whatever stops the command, in words for the person.
pub fn run(mut cli: Cli) -> anyhow::Result<ExitCode> {
    // Lives as long as the command; then the invented history is removed.
    let demo = demo::Demo::begin(&mut cli)?;
    let outcome = obey(cli);
    match demo {
        Some(demo) => demo.end(outcome),
        None => outcome,
    }
}

fn obey(cli: Cli) -> anyhow::Result<ExitCode> {
    match cli.command {
        None => screen::open(&cli.shared),
        Some(Command::Practice(args)) => practice::run(&cli.shared, &args),
        Some(Command::Progress(args)) => progress::run(&cli.shared, &args),
        Some(Command::Survey(args)) => survey::run(&args, &cli.shared),
        Some(Command::Arrange(args)) => arrange::run(&args, &cli.shared),
        Some(Command::Layout(command)) => layout::run(&command, &cli.shared),
        Some(Command::Data(args)) => data::run(&cli.shared, &args),
        Some(Command::Terminal(args)) => terminal::run(&args, &cli.shared),
        Some(Command::Completions { shell }) => {
            let mut text = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "etude", &mut text);
            print(&text)
        }
        Some(Command::Man) => print(&man::page(&Cli::command())?),
    }
}

/// Writes `text` to standard output and reports success.
///
/// # Errors
/// What the system says when writing fails.
pub fn print(text: &[u8]) -> anyhow::Result<ExitCode> {
    let mut out = std::io::stdout().lock();
    out.write_all(text)?;
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

/// `error` with all its causes as it is told: what a file or an argument holds
/// never reaches the terminal as a command to it.
pub fn shown(error: &anyhow::Error) -> String {
    let told = format!("{error:#}");
    told.split('\n').map(harmless).collect::<Vec<_>>().join("\n")
}

/// A wish that can't be understood: a wrong name or combination of options.
/// The exit status tells it from what failed.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Usage(pub String);

/// True where `error` says that the reader of our output went away.
pub fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause.downcast_ref::<std::io::Error>().is_some_and(|io| io.kind() == ErrorKind::BrokenPipe)
    })
}

/// The text of the file at `path`, in which there should be `expected`.
///
/// # Errors
/// Where it can't be read, or is no text.
fn read_text(path: &Path, expected: &str) -> anyhow::Result<String> {
    let shown = path.display();
    std::fs::read_to_string(path).map_err(|error| match error.kind() {
        ErrorKind::InvalidData => anyhow!("{shown} is no text in UTF-8: expected {expected}"),
        _ => anyhow!("can't read {shown}: {error}"),
    })
}
