//! `etude` and `etude practice`: the screen, or a script.

use super::layout::resolve;
use super::script;
use crate::cli::{ColorChoice, PracticeArgs, Shared};
use crate::drill::own::OwnText;
use crate::drill::{What, offers};
use crate::layout::RouteTable;
use crate::practice::{Material, Practice, Setup, rotation};
use crate::session::{Granted, Level};
use crate::store::{Store, paths, wall_clock};
use crate::ui;
use crate::ui::app::{App, Config, Opening};
use crate::ui::terminal::Terminal;
use crate::units::Micros;
use anyhow::{Context, bail};
use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

/// The most of a text of one's own that is read, bytes.
const LARGEST_TEXT: u64 = 64 * 1024 * 1024;

/// The columns of a script's lines, and of the person's own text.
const LINE: usize = 72;

/// Opens the start screen.
///
/// # Errors
/// What stops the screen, in words for the person.
pub fn open(shared: &Shared) -> anyhow::Result<ExitCode> {
    let config = config(shared, None, 10)?;
    let first = !paths::has_history(&config.data);
    show(App::new(config, Opening::Start { first }))
}

/// Practises.
///
/// # Errors
/// What stops the practice, in words for the person.
pub fn run(shared: &Shared, args: &PracticeArgs) -> anyhow::Result<ExitCode> {
    let config = config(shared, args.seed, args.minutes)?;
    let what = match &args.what {
        Some(word) => Some(What::parse(word, &config.layout)?),
        None => None,
    };
    let material = match (&args.text, what) {
        (Some(_), _) if args.script && args.text.as_deref() == Some(Path::new("-")) => {
            bail!("--script reads its events from standard input, so --text needs a file")
        }
        (Some(path), what) => {
            Some(Material::Own(Arc::new(own_text(path)?), what))
        }
        (None, Some(what)) => Some(Material::Rotation(vec![what])),
        (None, None) => None,
    };
    if args.script {
        return by_script(&config, material);
    }
    show(App::new(config, Opening::Practice(material)))
}

fn show(mut app: App) -> anyhow::Result<ExitCode> {
    let mut terminal = Terminal::enter()?;
    let ending = ui::run::run(&mut terminal, &mut app);
    terminal.leave();
    Ok(ending.context("the screen can't be drawn")?.exit_code())
}

fn config(shared: &Shared, seed: Option<u64>, minutes: u32) -> anyhow::Result<Config> {
    let layout = Arc::new(resolve(shared.layout.as_deref())?);
    let routes = Arc::new(RouteTable::build(&layout));
    let offers = offers(&layout, &routes);
    if offers.is_empty() {
        bail!("the layout '{}' has nothing that can be drilled", layout.name);
    }
    Ok(Config {
        layout,
        routes,
        offers,
        data: paths::data_dir(shared.data.as_deref())?,
        seed,
        minutes,
        break_after: shared.break_after,
        theme: ui::theme::Theme::at_start(shared.color == ColorChoice::Always, shared.color != ColorChoice::Never),
    })
}

fn own_text(path: &Path) -> anyhow::Result<OwnText> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        std::io::stdin().lock().take(LARGEST_TEXT).read_to_end(&mut bytes)
    } else {
        File::open(path)
            .and_then(|file| file.take(LARGEST_TEXT).read_to_end(&mut bytes))
    };
    read.with_context(|| format!("can't read the text '{}'", path.display()))?;
    OwnText::parse(&bytes, LINE)
        .with_context(|| format!("can't practise the text '{}'", path.display()))
}

fn by_script(config: &Config, material: Option<Material>) -> anyhow::Result<ExitCode> {
    let started = wall_clock::now();
    // A history that can't be opened never costs the practice: the sitting
    // tells it as trouble.
    let store = Store::open(&config.data).ok();
    let earlier = store
        .as_ref()
        .and_then(|store| store.earlier(&config.layout.name).ok())
        .unwrap_or_default();
    let material =
        material.unwrap_or_else(|| Material::Rotation(rotation(&config.offers, |_| None)));
    let setup = Setup {
        layout: Arc::clone(&config.layout),
        routes: Arc::clone(&config.routes),
        material,
        seed: config.seed.unwrap_or(started.ms_utc.unsigned_abs()),
        budget: Micros::from_secs(u64::from(config.minutes) * 60),
        width: LINE,
        // A script says exactly what it means.
        level: Level::Enhanced(Granted::all()),
    };
    let mut practice = Practice::begin(setup, &config.data, store, started, earlier);
    let result = script::run(&mut practice, std::io::stdin().lock(), std::io::stdout().lock());
    let end = result.as_ref().copied().unwrap_or_default();
    practice.end(end);
    result.map(|_| ExitCode::SUCCESS)
}
