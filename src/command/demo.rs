//! `--demo`: any command on an invented history in a folder of its own, which
//! is removed at the end.

use super::Usage;
use super::layout::resolve;
use crate::cli::{Cli, Command, LayoutCommand};
use crate::demo::Invention;
use crate::store::wall_clock;
use anyhow::Context;
use std::io::IsTerminal;
use std::path::Path;
use std::process::ExitCode;
use tempfile::TempDir;

/// The words that stand before what a command prints of an invented history.
pub const MARK: &str = "Invented history (--demo): a simulated typist at Tern Point, not you.";

/// A folder with an invented history.
pub struct Demo {
    folder: TempDir,
}

impl Demo {
    /// Makes the history where `cli` asks for it and its command looks at one,
    /// and points the command at it.
    ///
    /// # Errors
    /// Where a folder is named as well, or the history can't be made.
    pub fn begin(cli: &mut Cli) -> anyhow::Result<Option<Self>> {
        let shared = &mut cli.shared;
        if !shared.demo {
            return Ok(None);
        }
        // What the environment names is for every day, and is left alone.
        let everyday = std::env::var_os("ETUDE_DATA");
        if shared
            .data
            .as_deref()
            .is_some_and(|named| Some(named.as_os_str()) != everyday.as_deref())
        {
            let words = "--demo makes a history of its own and throws it away: leave out --data";
            return Err(Usage(words.into()).into());
        }
        match cli.command {
            None
            | Some(
                Command::Practice(_)
                | Command::Progress(_)
                | Command::Survey(_)
                | Command::Arrange(_)
                | Command::Data(_)
                | Command::Layout(
                    LayoutCommand::Check { .. }
                    | LayoutCommand::Compare(_)
                    | LayoutCommand::Sheet(_),
                ),
            ) => {}
            // These look at no history.
            Some(
                Command::Layout(_)
                | Command::Terminal(_)
                | Command::Completions { .. }
                | Command::Man,
            ) => return Ok(None),
        }
        let layout = resolve(shared.layout.as_deref())?;
        let old_way = layout.old_way.as_deref().map(|name| resolve(Some(name))).transpose()?;
        // For this person only, as tempfile makes it.
        let folder = tempfile::Builder::new()
            .prefix("etude-demo-")
            .tempdir()
            .context("no folder can be made for the invented history")?;
        write(&Invention::new(&layout, old_way.as_ref(), wall_clock::now()), folder.path())?;
        shared.data = Some(folder.path().to_owned());
        Ok(Some(Self { folder }))
    }

    /// Removes the folder; passes `outcome` on.
    ///
    /// # Errors
    /// Those of `outcome`.
    pub fn end(self, outcome: anyhow::Result<ExitCode>) -> anyhow::Result<ExitCode> {
        let path = self.folder.path().to_owned();
        if let Err(error) = self.folder.close() {
            eprintln!(
                "etude: the invented history in '{}' can't be removed ({error}): remove it yourself",
                path.display()
            );
        }
        outcome
    }
}

fn write(invention: &Invention<'_>, folder: &Path) -> anyhow::Result<()> {
    if std::io::stderr().is_terminal() {
        eprintln!("etude: making {} invented days", invention.days);
    }
    invention.write(folder).context("the invented history can't be made")?;
    let kept = invention.survey().context("the invented survey can't be made")?;
    kept.write(folder).context("the invented survey can't be kept")
}
