//! `etude arrange`: what goes where on a layer.

use super::Usage;
use super::import::write_new;
use super::layout::{output_theme, print_json, print_lines};
use super::practice::gather;
use super::survey::surveyed;
use crate::arrange::{
    Effort, Patience, Placed, Problem, Proof, Proposal, Task, Wish, prove, start,
};
use crate::cli::{ArrangeArgs, Shared};
use crate::keyboard::Output;
use crate::keyboard::document::Nearest;
use crate::layout::file::{read, write};
use crate::layout::{LayerId, Layout, shipped};
use crate::model::hands::Findings;
use crate::practice;
use crate::progress::history;
use crate::report::arrange::{self as report, Told};
use crate::store::wall_clock;
use anyhow::Context;
use std::collections::BTreeSet;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::sync::atomic::{AtomicU32, Ordering};

/// A first look, which is enough for most layers.
const SHORT: u64 = 2_000;

/// With so many starts it is told on a terminal how many are done.
const LONG: u32 = 50;

/// Runs `etude arrange`.
///
/// # Errors
/// Layers or pins that aren't there, no text to go by, a file that is there
/// already, a closed output.
pub fn run(args: &ArrangeArgs, shared: &Shared) -> anyhow::Result<ExitCode> {
    let gathered = gather(shared)?;
    let layout = &*gathered.layout;
    let layers = layers(layout, &args.layers)?;
    let pins: BTreeSet<Output> =
        args.pin.iter().flat_map(|pins| pins.chars()).map(Output::char).collect();
    if let Some(path) = args.out.as_ref().filter(|path| path.exists()) {
        anyhow::bail!(Usage(format!(
            "{} is there already and is never overwritten: name another file",
            path.display()
        )));
    }
    let own = surveyed(&args.text, args.work, &gathered.data)?;
    let findings = match history(&gathered.data)? {
        Some(store) => {
            let today = wall_clock::now().day_local(0);
            practice::findings(&store, layout, &gathered.routes, today)?
        }
        None => Findings::default(),
    };
    let wish = Wish { layout, routes: &gathered.routes, layers, pins, days: args.days };
    let task = Task::new(wish, (&own.counts, &own.habits), &findings)
        .map_err(|error| anyhow::anyhow!(Usage(error.to_string())))?;
    let proof = solve(task.problem(), &task.today(), args.seed, args.starts);
    let mut proposal = task.proposal(&proof);
    name(&mut proposal, layout, args)?;
    let told = Told { layout, task: &task, proposal: &proposal, out: args.out.as_deref() };
    if let Some(path) = args.out.as_ref().filter(|_| !proposal.moves.is_empty()) {
        let text = write(&proposal.layout);
        // What can't be read back is never left behind.
        read(&text, &path.display().to_string()).context("the proposal can't be written")?;
        write_new(path, text.as_bytes())?;
    }
    if args.json.json {
        print_json(&report::json(&told))
    } else {
        print_lines(&report::text(&told, output_theme(shared.color)))
    }
}

/// The layers of these names or clusters.
fn layers(layout: &Layout, words: &[String]) -> anyhow::Result<Vec<LayerId>> {
    let mut chosen = BTreeSet::new();
    for word in words {
        let named = layout.layers().filter(|(_, layer)| layer.name == *word);
        let of_cluster = layout.layers().filter(|(_, layer)| layer.cluster.word() == word);
        let mut found: Vec<LayerId> = named.map(|(id, _)| id).collect();
        if found.is_empty() {
            found.extend(of_cluster.map(|(id, _)| id));
        }
        if found.is_empty() {
            let known: Vec<&str> = layout.layers.iter().map(|layer| layer.name.as_str()).collect();
            let nearest = Nearest::of(word, known.iter().copied());
            anyhow::bail!(Usage(format!(
                "no layer '{word}' in {}: expected one of {}{nearest}",
                layout.name,
                known.join(", ")
            )));
        }
        chosen.extend(found);
    }
    Ok(chosen.into_iter().collect())
}

/// The best placement that is found, and what is proved of it: first a short
/// look, and a long one where that can't be proved to be the best. The same for
/// the same seed at any number of threads.
fn solve(problem: &Problem, today: &Placed, seed: u64, starts: u32) -> Proof {
    let patience = Patience::default();
    let mut known = today.clone();
    for (moves, patience) in
        [(SHORT, Patience { bounds: patience.bounds / 10 }), (Effort::default().moves, patience)]
    {
        known = known.min(from_many(problem, seed, Effort { starts, moves }));
        let proof = prove(problem, &known, patience);
        if proof.is_optimal() || moves != SHORT {
            return proof;
        }
        known = proof.best;
    }
    prove(problem, &known, patience)
}

/// The best of all starts, which share the machine's threads.
fn from_many(problem: &Problem, seed: u64, effort: Effort) -> Placed {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicU32::new(0);
    let done = AtomicU32::new(0);
    let tells = effort.starts >= LONG && std::io::stderr().is_terminal();
    let part = || {
        let mut best: Option<Placed> = None;
        loop {
            let ordinal = next.fetch_add(1, Ordering::Relaxed);
            if ordinal >= effort.starts {
                return best;
            }
            let found = start(problem, seed, ordinal, effort.moves, i64::MIN);
            best = Some(best.map_or_else(|| found.clone(), |best| best.min(found.clone())));
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            if tells {
                // A terminal that has gone is told by what is printed at the end.
                let _ = write!(std::io::stderr(), "\retude: {done} of {} starts", effort.starts);
            }
        }
    };
    let best = std::thread::scope(|scope| {
        let parts: Vec<_> = (0..threads).map(|_| scope.spawn(part)).collect();
        // A thread that panicked has told so.
        parts.into_iter().filter_map(|part| part.join().ok().flatten()).min()
    });
    if tells {
        // Nothing of it stays before what is found.
        let _ = write!(std::io::stderr(), "\r{:40}\r", "");
    }
    best.unwrap_or_else(|| start(problem, seed, 0, 0, i64::MIN))
}

/// Gives the proposal a name of its own, after its file, and says at its head
/// what it was made of.
fn name(proposal: &mut Proposal, layout: &Layout, args: &ArrangeArgs) -> anyhow::Result<()> {
    let Some(path) = &args.out else { return Ok(()) };
    let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    if !crate::layout::token::is_name(stem) {
        anyhow::bail!(Usage(format!(
            "'{stem}' can't be the name of a layout: name the file by letters, digits and '-'"
        )));
    }
    if shipped::names().any(|name| name == stem) {
        anyhow::bail!(Usage(format!(
            "a shipped layout is named '{stem}', and what is practised goes by the name: name the \
             file otherwise"
        )));
    }
    let mut made = vec![
        format!(
            "{stem}: {} with {} rearranged by `etude arrange`.",
            layout.name,
            args.layers.join(" and ")
        ),
        format!(
            "Weighed for {} working days with seed {}. What {} says of its keys follows;",
            args.days, args.seed, layout.name
        ),
        "it is not true any more of what moved:".to_owned(),
    ];
    for one in &proposal.moves {
        let layer = |id: LayerId| layout.layer(id).name.as_str();
        made.push(format!(
            "  {}  {} {} to {} {}",
            one.output,
            layer(one.from.0),
            one.from.1,
            layer(one.to.0),
            one.to.1
        ));
    }
    made.push(String::new());
    made.append(&mut proposal.layout.reasons);
    proposal.layout.reasons = made;
    stem.clone_into(&mut proposal.layout.name);
    proposal.layout.title = format!("{}, rearranged", proposal.layout.title);
    Ok(())
}
