//! The screens: `etude`, and `etude practice` without `--script`.

use super::practice::{Gathered, gather};
use crate::cli::{PracticeArgs, Shared};
use crate::practice::Wanted;
use crate::store::DATABASE;
use crate::ui::app::{App, Config, Opening};
use crate::ui::run::{self, Ending};
use crate::ui::screen::progress::Asked;
use crate::ui::surroundings;
use crate::ui::terminal::Terminal;
use crate::ui::theme::{Ground, Theme};
use anyhow::Context;
use std::io::Write as _;
use std::process::ExitCode;

/// Minutes of a sitting begun from the start screen, until changed there.
const MINUTES: u32 = 10;

/// Opens the start screen.
///
/// # Errors
/// What stops the screen, in words for the person.
pub fn open(shared: &Shared) -> anyhow::Result<ExitCode> {
    let gathered = gather(shared)?;
    let first = !gathered.data.join(DATABASE).exists();
    let config = config(shared, gathered, None, MINUTES);
    show(App::new(config, Opening::Start { first }))
}

/// Opens practice at once, of what is `wanted`.
///
/// # Errors
/// What stops the screen, in words for the person.
pub fn practise(
    shared: &Shared,
    gathered: Gathered,
    args: &PracticeArgs,
    wanted: Wanted,
) -> anyhow::Result<ExitCode> {
    let first = !gathered.data.join(DATABASE).exists();
    let config = config(shared, gathered, args.seed, args.minutes);
    show(App::new(config, Opening::Practice { wanted, first }))
}

/// Opens practice of all in turn, as after a layout was made.
///
/// # Errors
/// What stops the screen, in words for the person.
pub fn first_practice(shared: &Shared) -> anyhow::Result<ExitCode> {
    let gathered = gather(shared)?;
    let first = !gathered.data.join(DATABASE).exists();
    let config = config(shared, gathered, None, MINUTES);
    show(App::new(config, Opening::Practice { wanted: Wanted::Planned(None), first }))
}

/// Opens the progress views as they were `asked` for.
///
/// # Errors
/// What stops the screen, in words for the person.
pub fn progress(shared: &Shared, gathered: Gathered, asked: Asked) -> anyhow::Result<ExitCode> {
    let config = config(shared, gathered, None, MINUTES);
    show(App::new(config, Opening::Progress(asked)))
}

fn config(shared: &Shared, gathered: Gathered, seed: Option<u64>, minutes: u32) -> Config {
    Config {
        layout: gathered.layout,
        routes: gathered.routes,
        offers: gathered.offers,
        old_layout: gathered.old_layout,
        drills_of: gathered.drills_of,
        player: gathered.player,
        surveyed: gathered.surveyed,
        data: gathered.data,
        bindings: gathered.bindings,
        checked: gathered.checked,
        seed,
        minutes,
        break_after: shared.break_after,
        invented: shared.demo,
        theme: Theme {
            colour: surroundings::colour(shared.color),
            ground: Ground::Unknown,
            unicode: surroundings::unicode(),
        },
    }
}

fn show(mut app: App) -> anyhow::Result<ExitCode> {
    let mut terminal = Terminal::enter()?;
    let ending = run::run(&mut terminal, &mut app);
    terminal.leave();
    if let Some(word) = app.last_word() {
        let _ = writeln!(std::io::stderr(), "etude: {word}");
    }
    if let Ok(Ending::Done) = ending {
        app.settle();
    }
    let ending = ending.context("the screen can't be drawn")?;
    Ok(if app.failed() { ExitCode::FAILURE } else { ending.exit_code() })
}
