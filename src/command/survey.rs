//! `etude survey`: what the person's own texts have.

use super::layout::{output_theme, print_json, print_lines};
use super::practice::{Gathered, gather};
use super::walk::Found;
use super::{Usage, habits};
use crate::cli::{Shared, SurveyArgs, WorkChoice};
use crate::layout::RouteTable;
use crate::order::InOrder;
use crate::plan::Need;
use crate::progress::{Hands, Paying, Practised, history};
use crate::report::pays::Pays;
use crate::report::survey::{self as report, Read, Told};
use crate::store::{KeptSurvey, Store, data_dir, wall_clock};
use crate::survey::{
    Counts, DAYS, Habits, MINUTES_A_DAY, OTHER, Promise, Ranked, Scanned, Scanner, Surveyed, Work,
    WorkMix, kind_of, with_new,
};
use anyhow::Context;
use std::collections::BTreeMap;
use std::io::{IsTerminal, Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Longer ones are no text that somebody typed, bytes.
const LARGEST_FILE: u64 = 64 << 20;
/// So many files are read between two signs of life.
const FILES_A_SIGN: usize = 256;

/// Runs `etude survey`.
///
/// # Errors
/// A path that isn't there, nothing to count, habits that can't be true, a
/// layout or history that can't be read, a closed output.
pub fn run(args: &SurveyArgs, shared: &Shared) -> anyhow::Result<ExitCode> {
    if args.dry_run {
        let (files, _) = found(&args.paths)?;
        let lines: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
        return print_lines(&lines);
    }
    if args.ask && args.paths.iter().any(|path| path == Path::new("-")) {
        anyhow::bail!(Usage(
            "--ask reads answers where - reads the text: name files, or --habits FILE".into()
        ));
    }
    let data = data_dir(shared.data.as_deref())?;
    if args.forget {
        let was = KeptSurvey::forget(&data)?;
        let words = if was { "The survey is forgotten." } else { "No survey was kept." };
        return print_lines(&[words.to_owned()]);
    }
    let before = KeptSurvey::read(&data)?;
    let (mut kept, read) = if args.paths.is_empty() {
        let kept = before.ok_or_else(|| {
            Usage("no survey is kept: name files or folders, as in etude survey ~/notes".into())
        })?;
        let read = Read { files: kept.texts, ..Read::default() };
        (kept, read)
    } else {
        let (scanned, read) = scan(&args.paths)?;
        let before = before.unwrap_or_default();
        let kept = KeptSurvey {
            day: wall_clock::now().day_local(0),
            texts: read.files,
            kinds: scanned.kinds(),
            counts: scanned.counts(),
            ..before
        };
        (kept, read)
    };
    if args.work.is_some() {
        kept.work = args.work.map(work_of);
    }
    if let Some(path) = &args.habits {
        kept.answers = habits::from_file(path)?;
    }
    if args.ask {
        let assumed = habits_of(kept.work);
        kept.answers =
            habits::ask(std::io::stdin().lock(), std::io::stderr(), &kept.answers, assumed)?;
    }
    let gathered = gather(shared)?;
    let store = history(&gathered.data)?;
    let habits = kept.habits();
    let today = wall_clock::now().day_local(0);
    let own = kept.surveyed();
    let hands = |layout| Hands::read(layout, &habits, store.as_ref(), today);
    let new = hands(&gathered.layout)?;
    let old = gathered.old_layout.as_deref().map(hands).transpose()?;
    let pays = old.as_ref().map(|old| Pays {
        layout: new.layout,
        old: old.layout,
        total: own.counts.total(),
        hours: habits.hours,
        paying: Paying::of(&own, &new, old),
    });
    if !args.once {
        if let Some(pays) = &pays {
            kept.promises = promised(&kept, &gathered, store.as_ref(), &pays.paying.ranking)?;
        }
        kept.write(&data)?;
    }
    let told = Told {
        layout: &gathered.layout,
        read,
        kept: &kept,
        is_kept: !args.once,
        need: Need::of_counts(&new.routes, &own.counts, |_, _| true).with(&new.routes, &own.habits),
        counts: &own.counts,
        pays,
    };
    if args.json.json {
        print_json(&report::json(&told))
    } else {
        let theme = output_theme(shared.color);
        print_lines(&report::text(&told, theme))
    }
}

/// What was promised before, and what this ranking promises.
fn promised(
    kept: &KeptSurvey,
    gathered: &Gathered,
    store: Option<&Store>,
    ranking: &[Ranked],
) -> anyhow::Result<Vec<Promise>> {
    let layout = &gathered.layout;
    let today = wall_clock::now().day_local(0);
    let practised = Practised::read(store, layout, today)?;
    let minutes = |part: &str| practised.minutes(part, layout);
    let asked = f64::from(DAYS) * MINUTES_A_DAY;
    let new = ranking
        .iter()
        .map(|one| Promise::of(&layout.name, today, one, (asked, minutes(one.part.word()))));
    Ok(with_new(&kept.promises, new.collect(), minutes))
}

const fn work_of(choice: WorkChoice) -> Work {
    match choice {
        WorkChoice::Prose => Work::Prose,
        WorkChoice::Code => Work::Code,
        WorkChoice::Figures => Work::Figures,
        WorkChoice::Editing => Work::Editing,
    }
}

/// What is assumed of a kind of work, or of some of each.
fn habits_of(work: Option<Work>) -> Habits {
    work.map_or_else(|| Habits::of(&WorkMix::default()), Habits::assumed)
}

/// The survey that is kept; one that can't be read is told of and goes for none,
/// since nothing but what it is needed for should fail.
pub fn kept_or_told(data: &Path) -> Option<KeptSurvey> {
    KeptSurvey::read(data).unwrap_or_else(|error| {
        eprintln!("etude: {error}");
        None
    })
}

/// What a page of the person's text needs of the layout with `routes`, and the
/// day of the survey that tells; none where the shipped text does.
///
/// # Errors
/// The folder of the history can't be told.
pub fn needed(routes: &RouteTable, shared: &Shared) -> anyhow::Result<(Need, Option<i32>)> {
    let kept = kept_or_told(&data_dir(shared.data.as_deref())?);
    let own = kept.as_ref().map(KeptSurvey::surveyed);
    Ok((Need::of_text(routes, own.as_ref())?, kept.map(|kept| kept.day)))
}

/// What to go by: the counts of the texts below `paths` with the habits of a
/// kind of work, or without paths the survey that is kept.
///
/// # Errors
/// A path that isn't there, nothing to count, no survey.
pub fn surveyed(
    paths: &[PathBuf],
    work: Option<WorkChoice>,
    data: &Path,
) -> anyhow::Result<Surveyed> {
    let kept = KeptSurvey::read(data)?;
    let mut own = match (paths, &kept) {
        ([], Some(kept)) => kept.surveyed(),
        ([], None) => anyhow::bail!(Usage(
            "no survey is kept to go by: run `etude survey PATH…` first, or name texts with --text"
                .into()
        )),
        (paths, kept) => {
            let counts = scan(paths)?.0.counts();
            let habits = kept.as_ref().map_or_else(|| habits_of(None), KeptSurvey::habits);
            Surveyed { counts, habits, promises: Vec::new() }
        }
    };
    if let Some(work) = work {
        let answers = kept.map(|kept| kept.answers).unwrap_or_default();
        own.habits = answers.over(habits_of(Some(work_of(work))));
    }
    Ok(own)
}

/// Counts the texts below `paths`.
fn scan(paths: &[PathBuf]) -> anyhow::Result<(Counted, Read)> {
    let (files, mut read) = found(paths)?;
    let mut scanned = scanned(&files);
    if paths.iter().any(|path| path == Path::new("-")) {
        scanned.add(standard_input()?);
    }
    read.take(&scanned);
    if scanned.counts().total() == 0 {
        anyhow::bail!("nothing to count: {}", report::left_out(&read));
    }
    Ok((scanned, read))
}

/// The files below `paths`, in order; what no file can be read of is told.
fn found(paths: &[PathBuf]) -> anyhow::Result<(Vec<PathBuf>, Read)> {
    let mut read = Read::default();
    let mut files = Vec::new();
    for path in paths.iter().filter(|path| *path != Path::new("-")) {
        if !path.exists() {
            anyhow::bail!(Usage(format!(
                "'{}' is not there: expected a file, a folder, or - for standard input",
                path.display()
            )));
        }
        let mut found = Found::default();
        found.add(path);
        files.append(&mut found.files);
        read.unreadable.append(&mut found.unreadable);
    }
    // A file that is named twice counts once.
    files.sort();
    files.dedup();
    Ok((files, read))
}

fn standard_input() -> anyhow::Result<Counted> {
    let mut input = std::io::stdin().lock();
    if input.is_terminal() {
        eprintln!("Type or paste the text; Ctrl+D on a line of its own ends it.");
    }
    let mut bytes = Vec::new();
    input
        .by_ref()
        .take(LARGEST_FILE)
        .read_to_end(&mut bytes)
        .context("can't read standard input")?;
    let mut counted = Counted::default();
    counted.take(OTHER, &bytes);
    Ok(counted)
}

/// What was counted, by kind.
#[derive(Default)]
struct Counted {
    kinds: BTreeMap<&'static str, (u64, Scanner)>,
    bytes: u64,
    long_lines: u64,
    binary: u64,
    not_utf8: u64,
    too_large: u64,
    unreadable: Vec<String>,
    done: Vec<(&'static str, u64, Counts)>,
}

impl Counted {
    fn take(&mut self, kind: &'static str, bytes: &[u8]) {
        let (files, scanner) = self.kinds.entry(kind).or_default();
        match scanner.scan(bytes) {
            Scanned::Text { long_lines } => {
                *files += 1;
                self.bytes += bytes.len() as u64;
                self.long_lines += long_lines;
            }
            Scanned::Binary => self.binary += 1,
            Scanned::NotUtf8 { .. } => self.not_utf8 += 1,
        }
    }

    fn file(&mut self, path: &Path, bytes: &mut Vec<u8>) {
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        bytes.clear();
        let opened = std::fs::File::open(path).and_then(|file| {
            let size = file.metadata()?.len();
            if size <= LARGEST_FILE {
                bytes.reserve(size as usize + 1);
                file.take(LARGEST_FILE).read_to_end(bytes)?;
            }
            Ok(size)
        });
        match opened {
            Ok(size) if size > LARGEST_FILE => self.too_large += 1,
            Ok(_) => self.take(kind_of(ending), bytes),
            Err(error) => self.unreadable.push(format!("{}: {error}", path.display())),
        }
    }

    /// Ends the counting of this part.
    fn settle(&mut self) {
        let kinds = std::mem::take(&mut self.kinds);
        let counted = kinds.into_iter().filter(|(_, (files, _))| *files > 0);
        self.done.extend(counted.map(|(kind, (files, scanner))| (kind, files, scanner.counts())));
    }

    fn add(&mut self, mut other: Self) {
        self.settle();
        other.settle();
        self.done.extend(other.done);
        self.bytes += other.bytes;
        self.long_lines += other.long_lines;
        self.binary += other.binary;
        self.not_utf8 += other.not_utf8;
        self.too_large += other.too_large;
        self.unreadable.extend(other.unreadable);
    }

    fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        for (.., part) in &self.done {
            counts.add(part);
        }
        counts
    }

    /// Files and characters by kind, most characters first.
    fn kinds(&self) -> Vec<(String, u64, u64)> {
        let mut sums: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
        for (kind, files, counts) in &self.done {
            let sum = sums.entry(kind).or_default();
            *sum = (sum.0 + files, sum.1 + counts.total());
        }
        let mut kinds: Vec<_> =
            sums.into_iter().map(|(kind, sum)| (kind.to_owned(), sum.0, sum.1)).collect();
        kinds.order_by(|a, b| b.2.cmp(&a.2).then(a.0.cmp(&b.0)));
        kinds
    }
}

impl Read {
    fn take(&mut self, counted: &Counted) {
        self.files = counted.done.iter().map(|(_, files, _)| files).sum();
        self.bytes = counted.bytes;
        self.long_lines = counted.long_lines;
        self.binary = counted.binary;
        self.not_utf8 = counted.not_utf8;
        self.too_large = counted.too_large;
        self.unreadable.extend(counted.unreadable.iter().cloned());
        self.unreadable.sort();
    }
}

/// Reads `files` with as many threads as the machine has; how they share the
/// files makes no difference to what comes of it.
fn scanned(files: &[PathBuf]) -> Counted {
    let threads = std::thread::available_parallelism().map_or(1, usize::from).min(8);
    let next = AtomicUsize::new(0);
    let shows = std::io::stderr().is_terminal() && files.len() > 4 * FILES_A_SIGN;
    let part = || {
        let (mut counted, mut bytes) = (Counted::default(), Vec::new());
        loop {
            let n = next.fetch_add(1, Ordering::Relaxed);
            let Some(file) = files.get(n) else { break };
            if shows && n.is_multiple_of(FILES_A_SIGN) {
                sign(n, files.len());
            }
            counted.file(file, &mut bytes);
        }
        counted.settle();
        counted
    };
    let mut all = Counted::default();
    std::thread::scope(|scope| {
        let parts: Vec<_> = (0..threads).map(|_| scope.spawn(part)).collect();
        for part in parts {
            // A thread that panicked has told so.
            if let Ok(counted) = part.join() {
                all.add(counted);
            }
        }
    });
    if shows {
        let _ = write!(std::io::stderr(), "\r\x1b[K");
    }
    all
}

/// How far it has come, on one line of the terminal.
fn sign(done: usize, all: usize) {
    let filled = 30 * done / all.max(1);
    let bar = format!("{}{}", "#".repeat(filled), ".".repeat(30 - filled));
    // Nothing is lost where it can't be shown.
    let _ = write!(std::io::stderr(), "\r[{bar}] {done} of {all} files");
}
