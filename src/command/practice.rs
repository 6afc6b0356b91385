//! `etude practice`: gathers what a sitting needs, for the screen or a script.

use super::layout::resolve;
use super::survey::kept_or_told;
use super::{Usage, read_text, screen, script};
use crate::cli::{PracticeArgs, Shared};
use crate::drill::{Offer, OwnText, What, all_offers};
use crate::editor::{Bindings, common};
use crate::layout::{Layout, RouteTable, shipped};
use crate::played::{self, Host, Player, StandIn};
use crate::practice::{Material, Practice, Setup, Wanted, bring_up_to_date, planned};
use crate::session::{Checked, Granted, Level};
use crate::store::{Places, Store, Terminals, data_dir, wall_clock};
use crate::survey::Surveyed;
use crate::ui::surroundings;
use crate::units::Micros;
use anyhow::{Context, bail};
use std::fs::File;
use std::io::Write as _;
use std::io::{IsTerminal, Read};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

/// The most of a text of one's own that is read at all, bytes.
const LARGEST_TEXT: u64 = 64 * 1024 * 1024;

/// The keyboard on which layers are played where the layout names no old way.
const PLAIN: &str = "plain-ansi";

/// The columns of a script's lines, and of the person's own text.
const LINE: usize = 72;

/// What every sitting needs, on screen or by script.
#[derive(Debug, Clone)]
pub struct Gathered {
    /// The layout.
    pub layout: Arc<Layout>,
    /// Its routes.
    pub routes: Arc<RouteTable>,
    /// What it can drill.
    pub offers: Vec<Offer>,
    /// The layout used before, where the layout names one that can be read.
    pub old_layout: Option<Arc<Layout>>,
    /// The layout whose drills are practised, where it is another one.
    pub drills_of: Option<(Arc<Layout>, Arc<RouteTable>)>,
    /// Folder of the history.
    pub data: PathBuf,
    /// What each key does in editing tasks.
    pub bindings: Arc<Bindings>,
    /// What a check found that this terminal lets through.
    pub checked: Arc<Checked>,
    /// Who plays the layers, where the keyboard under the hands has none.
    pub player: Option<Player>,
    /// What the person's texts have, where they were counted.
    pub surveyed: Option<Arc<Surveyed>>,
}

/// Reads the layout and finds the folder of the history.
///
/// # Errors
/// What is wrong with either, in words for the person.
pub fn gather(shared: &Shared) -> anyhow::Result<Gathered> {
    let layout = Arc::new(resolve(shared.layout.as_deref())?);
    let routes = Arc::new(RouteTable::build(&layout));
    let offers = all_offers(&layout, &routes);
    if offers.is_empty() {
        bail!("the layout '{}' has nothing that can be drilled", layout.name);
    }
    // One that can't be read is told where it is asked for.
    let old_layout = layout.old_way.as_deref().and_then(|name| resolve(Some(name)).ok());
    let data = data_dir(shared.data.as_deref())?;
    // What can't be read is told, and never costs the practice.
    let terminals = Terminals::read(&data).unwrap_or_else(|error| {
        eprintln!("etude: {error}");
        Terminals::default()
    });
    let checked = terminals.named(&surroundings::terminal()).cloned().unwrap_or_default();
    let kept = kept_or_told(&data);
    Ok(Gathered {
        surveyed: kept.map(|kept| Arc::new(kept.surveyed())),
        checked: Arc::new(checked),
        old_layout: old_layout.map(Arc::new),
        layout,
        routes,
        offers,
        drills_of: None,
        data,
        bindings: Arc::new(common()?.clone()),
        player: None,
    })
}

impl Gathered {
    /// The same on a plain keyboard, with the layers played; its history goes
    /// under a name of its own.
    ///
    /// # Errors
    /// A wish for a stand-in that names nothing.
    pub fn played(self, wishes: &[String]) -> anyhow::Result<Self> {
        let old_way = self.layout.old_way.as_deref().and_then(shipped::load);
        let plain = old_way.or_else(|| shipped::load(PLAIN)).context("no plain keyboard")?;
        let host = Host::new(&plain);
        let layout = Arc::new(played::played(&self.layout));
        let wishes =
            wishes.iter().map(|wish| wish.parse::<StandIn>()).collect::<Result<Vec<_>, _>>();
        let stand_ins = wishes
            .and_then(|wishes| played::stand_ins(&layout, &host, &plain, &wishes))
            .map_err(|error| Usage(error.to_string()))?;
        let player = Player::new(Arc::clone(&layout), host, stand_ins, Level::default());
        Ok(Self { layout, player: Some(player), ..self })
    }

    /// The same drills on the old way of the layout; its history goes under
    /// the old layout's name.
    ///
    /// # Errors
    /// Where the layout names no old way, or one that can't be read.
    fn on_the_old_way(self) -> anyhow::Result<Self> {
        let Some(name) = &self.layout.old_way else {
            return Err(Usage(format!(
                "the layout '{}' names no old way: add `old_way = \"plain-ansi\"` (or the layout \
                 that you used before) to its file",
                self.layout.name
            ))
            .into());
        };
        let layout = resolve(Some(name)).with_context(|| {
            format!("the old way '{name}' of the layout '{}' can't be used", self.layout.name)
        })?;
        let routes = Arc::new(RouteTable::build(&layout));
        let drills_of = Some((self.layout, self.routes));
        // What is offered belongs to the other layout.
        let layout = Arc::new(layout);
        Ok(Self { layout, old_layout: None, routes, offers: Vec::new(), drills_of, ..self })
    }
}

/// Practises.
///
/// # Errors
/// What stops the practice, in words for the person.
pub fn run(shared: &Shared, args: &PracticeArgs) -> anyhow::Result<ExitCode> {
    let mut gathered = gather(shared)?;
    if let Some(path) = &args.keys {
        gathered.bindings = Arc::new(own_bindings(path)?);
    }
    let gathered = if args.played { gathered.played(&args.stand_in)? } else { gathered };
    let what = args.what.as_ref().map(|word| What::parse(word, &gathered.layout)).transpose();
    let what = what.map_err(|error| Usage(error.to_string()))?;
    let wanted = match &args.text {
        Some(path) if args.script && path == Path::new("-") => {
            let words = "--script reads its events from standard input, so --text needs a file";
            return Err(Usage(words.into()).into());
        }
        Some(path) => Wanted::Fixed(Material::Own(Arc::new(own_text(path)?), what)),
        None => match what {
            // A seed gives the same drills everywhere, whatever the history.
            Some(what) if args.seed.is_some() => Wanted::Fixed(Material::Rotation(vec![what])),
            what => Wanted::Planned(what),
        },
    };
    let (gathered, wanted) = if args.old_way {
        let all = || gathered.offers.iter().map(|offer| offer.what).collect();
        let wanted = match wanted {
            // The old way is measured as it is: nothing of it is steered.
            Wanted::Planned(what) => {
                Wanted::Fixed(Material::Rotation(what.map_or_else(all, |what| vec![what])))
            }
            fixed @ Wanted::Fixed(_) => fixed,
        };
        (gathered.on_the_old_way()?, wanted)
    } else {
        (gathered, wanted)
    };
    if args.script {
        by_script(&gathered, args, wanted)
    } else {
        screen::practise(shared, gathered, args, wanted)
    }
}

/// The common bindings as the file at `path` changes them.
fn own_bindings(path: &Path) -> anyhow::Result<Bindings> {
    let source = read_text(path, "keys of editing tasks, as drills/editing.toml gives them")?;
    Ok(common()?.changed_by(&path.display().to_string(), &source)?)
}

fn own_text(path: &Path) -> anyhow::Result<OwnText> {
    let mut bytes = Vec::new();
    let read = if path == Path::new("-") {
        if std::io::stdin().is_terminal() {
            eprintln!("Type or paste the text; Ctrl+D on a line of its own ends it.");
        }
        std::io::stdin().lock().take(LARGEST_TEXT).read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|file| file.take(LARGEST_TEXT).read_to_end(&mut bytes))
    };
    read.with_context(|| format!("can't read the text '{}'", path.display()))?;
    OwnText::parse(&bytes, LINE)
        .with_context(|| format!("can't practise the text '{}'", path.display()))
}

fn by_script(gathered: &Gathered, args: &PracticeArgs, wanted: Wanted) -> anyhow::Result<ExitCode> {
    let started = wall_clock::now();
    let places = Places::new(&gathered.data);
    // A history that can't be opened never costs the practice: the sitting
    // tells it as trouble.
    let store = Store::open_at(&places);
    let layout = &gathered.layout;
    let material = match wanted {
        Wanted::Fixed(material) => material,
        Wanted::Planned(what) => {
            let (store, routes) = (store.as_ref().ok(), &gathered.routes);
            let (today, surveyed) = (started.day_local(0), gathered.surveyed.as_deref());
            let plan =
                planned(store, layout, routes, &gathered.offers, surveyed, args.seed, today)?;
            Material::Planned(Box::new(match what {
                Some(what) => plan.about(what),
                None => plan,
            }))
        }
    };
    let setup = Setup {
        layout: Arc::clone(layout),
        routes: Arc::clone(&gathered.routes),
        material,
        drills_of: gathered.drills_of.clone(),
        seed: args.seed.unwrap_or(started.ms_utc.unsigned_abs()),
        budget: Micros::from_secs(u64::from(args.minutes) * 60),
        width: LINE,
        // A script says exactly what it means.
        level: Level::Enhanced(Granted::all()),
        bindings: Arc::clone(&gathered.bindings),
        checked: Arc::default(),
    };
    let mut practice = Practice::begin(setup, places, store, started);
    practice.by_script();
    if let Some(player) = &gathered.player {
        practice.play(player.clone());
    }
    let result = script::run(&mut practice, std::io::stdin().lock(), std::io::stdout().lock());
    let end = result.as_ref().copied().unwrap_or_default();
    if let Some(word) = practice.end(end) {
        let _ = writeln!(std::io::stderr(), "etude: {word}");
    }
    bring_up_to_date(&gathered.data, layout, &gathered.routes);
    result.map(|_| ExitCode::SUCCESS)
}
