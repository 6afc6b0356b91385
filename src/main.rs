//! Parses, runs, prints one error line, sets the exit status.

use clap::Parser;
use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = etude::cli::Cli::parse();
    match etude::command::run(cli) {
        Ok(code) => code,
        // A reader that went away (`etude … | head`) wants silence.
        Err(error) if etude::command::is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            // Where standard error has gone there is nobody to tell.
            let _ = writeln!(std::io::stderr(), "etude: {}", etude::command::shown(&error));
            ExitCode::from(if error.is::<etude::command::Usage>() { 2 } else { 1 })
        }
    }
}
