//! `etude layout import`: a layout file from an open standard's.

use super::layout::print_json;
use super::{Usage, print};
use crate::cli::ImportArgs;
use crate::import::{ImportError, MOST_BYTES, Outcome, Sheets, ldml, xkb};
use crate::keyboard::document::Nearest;
use crate::keyboard::{Board, BoardForm};
use crate::layout::{file, shipped, token};
use crate::report::import as report;
use crate::ui::theme::Theme;
use anyhow::{Context as _, anyhow, bail};
use kbvm::xkb::Context;
use kbvm::xkb::diagnostic::DiagnosticKind;
use kbvm::xkb::rmlvo::Group;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Where systems keep their XKB data, unless told otherwise.
const XKB_ROOT: &str = "/usr/share/X11/xkb";

/// Runs `etude layout import`.
///
/// # Errors
/// A source that is not there or refused, a file that exists, a closed output.
pub fn run(args: &ImportArgs, theme: Theme) -> anyhow::Result<ExitCode> {
    let wanted = args.board.as_deref().map(board_named).transpose()?;
    let mut sheets = match (&args.file, &args.xkb) {
        (Some(file), _) => from_file(file, wanted.as_ref())?,
        (None, Some(layout)) => from_system(layout, args, wanted.as_ref())?,
        (None, None) => bail!(Usage("expected a file or --xkb and a layout's name".into())),
    };
    if let Some(name) = &args.name {
        if !token::is_name(name) {
            let what = "expected 1 to 32 characters without blanks and without / : \" '";
            bail!(Usage(format!("'{name}' can't name a layout: {what}")));
        }
        sheets.name.clone_from(name);
    }
    let board = match wanted {
        Some(board) => board,
        None => board_named(default_board(sheets.form, args.xkb.as_deref()))?,
    };
    let outcome = sheets.lay_on(&board)?;
    let text = file::write(&outcome.layout);
    // What is written must be readable: better told here than at the next start.
    file::read(&text, &sheets.name).context("the layout made from it can't be read back")?;
    tell(args, &outcome, &text, theme)
}

fn tell(
    args: &ImportArgs,
    outcome: &Outcome,
    text: &str,
    theme: Theme,
) -> anyhow::Result<ExitCode> {
    let path = args
        .output
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("{}.toml", outcome.layout.name)));
    if path.as_os_str() == "-" {
        for line in report::text(outcome, None, Theme { colour: false, ..theme }) {
            eprintln!("{line}");
        }
        return print(text.as_bytes());
    }
    write_new(&path, text.as_bytes())?;
    if args.json.json {
        return print_json(&report::json(outcome, &path));
    }
    super::layout::print_lines(&report::text(outcome, Some(&path), theme))
}

/// Writes a file that must not be there yet.
///
/// # Errors
/// One that is, or what the system says.
pub fn write_new(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let shown = path.display();
    let mut file =
        std::fs::OpenOptions::new().write(true).create_new(true).open(path).map_err(|error| {
            match error.kind() {
                std::io::ErrorKind::AlreadyExists => {
                    anyhow!("{shown} exists: nothing was written; name another file with -o")
                }
                _ => anyhow!("can't write {shown}: {error}"),
            }
        })?;
    file.write_all(bytes)
        .and_then(|()| file.sync_all())
        .with_context(|| format!("can't write {shown}"))
}

fn board_named(name: &str) -> anyhow::Result<Board> {
    shipped::board(name).ok_or_else(|| {
        let known: Vec<&str> = shipped::board_names().collect();
        let nearest = Nearest::of(name, known.iter().copied());
        Usage(format!("no board '{name}': expected one of {}{nearest}", known.join(", "))).into()
    })
}

/// Full-size, ANSI where the source says so or is the American layout (common
/// practice, no source).
fn default_board(form: Option<BoardForm>, xkb: Option<&str>) -> &'static str {
    match (form, xkb) {
        (Some(BoardForm::Ansi), _) | (None, Some("us")) => "full-ansi",
        _ => "full-iso",
    }
}

/// The bytes of `path`, no more than an import reads.
fn bytes_of(path: &Path) -> anyhow::Result<Vec<u8>> {
    let shown = path.display();
    let file = std::fs::File::open(path).with_context(|| format!("can't read {shown}"))?;
    let mut bytes = Vec::new();
    file.take(MOST_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .with_context(|| format!("can't read {shown}"))?;
    Ok(bytes)
}

fn from_file(path: &Path, board: Option<&Board>) -> anyhow::Result<Sheets> {
    let bytes = bytes_of(path)?;
    let name = path.display().to_string();
    let start = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
    if start.trim_ascii_start().starts_with(b"<") {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new(".")).to_owned();
        let mut fetch = |wanted: &str| fetch_within(&folder, wanted);
        return Ok(ldml::read(&bytes, &name, &mut fetch)?);
    }
    let keymap = xkb::read_keymap(&bytes, &name)?;
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    let stem = stem.unwrap_or_else(|| "keymap".to_owned());
    let slug = ldml::slug(&stem, "keymap");
    let form = board.map_or(BoardForm::Iso, |board| board.form);
    let source = "From a compiled XKB keymap.";
    let title = format!("Keymap {slug}");
    Ok(xkb::sheets(&keymap, form, &host_compose(), &slug, &title, source)?)
}

/// A file that a keyboard file imports: within the folder, links followed.
fn fetch_within(folder: &Path, wanted: &str) -> Result<Vec<u8>, String> {
    let gone = || "there is no such file that can be read".to_owned();
    let folder = folder.canonicalize().map_err(|_| gone())?;
    let target = folder.join(wanted).canonicalize().map_err(|_| gone())?;
    if !target.starts_with(&folder) || !target.is_file() {
        return Err("expected a file within the folder".to_owned());
    }
    bytes_of(&target).map_err(|_| gone())
}

/// The host's compose table, if it has one: what dead keys make.
fn host_compose() -> xkb::Compose {
    let mut builder = Context::builder();
    builder.enable_environment(false);
    let context = builder.build();
    let mut table = context.compose_table_builder();
    table.locale("en_US.UTF-8");
    let mut told = xkb::Told::default();
    table.build(&mut told).map_or_else(xkb::Compose::default, xkb::Compose::of_host)
}

/// Names as XKB's data has them: they become parts of paths.
fn is_xkb_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 64
        && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-')
}

fn from_system(layout: &str, args: &ImportArgs, board: Option<&Board>) -> anyhow::Result<Sheets> {
    let variant = args.variant.as_deref().unwrap_or_default();
    for name in [layout, variant].into_iter().filter(|name| !name.is_empty()) {
        if !is_xkb_name(name) {
            bail!(Usage(format!(
                "'{}' is no XKB name: expected one, as in de",
                name.escape_debug()
            )));
        }
    }
    let lists = Lists::read();
    let options: Vec<&str> = args.options.iter().map(String::as_str).collect();
    for option in &options {
        lists.check_option(option)?;
    }
    let context = Context::builder().build();
    let mut told = xkb::Told::default();
    let groups = [Group { layout, variant }];
    let keymap = context.keymap_from_names(&mut told, None, None, Some(&groups), Some(&options));
    let missing = |kind| told.line_of(kind).is_some();
    if missing(DiagnosticKind::FileNotFound) || missing(DiagnosticKind::FileOpenFailed) {
        return Err(lists.not_found(layout, variant));
    }
    let form = board
        .map_or(if layout == "us" { BoardForm::Ansi } else { BoardForm::Iso }, |board| board.form);
    let mut words = format!("XKB layout {layout}");
    let mut name = layout.to_owned();
    if !variant.is_empty() {
        words = format!("{words}, variant {variant}");
        name = format!("{layout}-{variant}");
    }
    let title = words.clone();
    if !options.is_empty() {
        words = format!("{words}, options {}", options.join(","));
    }
    let source = format!("From the system's {words}.");
    let name = ldml::slug(&name, "keymap");
    Ok(xkb::sheets(&keymap, form, &host_compose(), &name, &title, &source)?)
}

/// What the system's XKB data offers, as its rules list tells.
struct Lists {
    root: PathBuf,
    text: Option<String>,
}

impl Lists {
    fn read() -> Self {
        let root = std::env::var_os("XKB_CONFIG_ROOT").filter(|root| !root.is_empty());
        let root = root.map_or_else(|| PathBuf::from(XKB_ROOT), PathBuf::from);
        let text = bytes_of(&root.join("rules/evdev.lst")).ok();
        Self { root, text: text.and_then(|bytes| String::from_utf8(bytes).ok()) }
    }

    /// The first words of the lines under `! section`.
    fn names(&self, section: &str) -> impl Iterator<Item = (&str, &str)> {
        let heading = format!("! {section}");
        let lines = self.text.as_deref().unwrap_or_default().lines();
        lines
            .skip_while(move |line| line.trim_end() != heading)
            .skip(1)
            .take_while(|line| !line.starts_with('!'))
            .filter_map(|line| line.trim().split_once(char::is_whitespace))
            .map(|(name, about)| (name, about.trim_start()))
    }

    fn check_option(&self, option: &str) -> anyhow::Result<()> {
        if self.text.is_none() {
            eprintln!("etude: warning: no list of XKB options here: '{option}' can't be checked");
            return Ok(());
        }
        if self.names("option").any(|(known, _)| known == option) {
            return Ok(());
        }
        let nearest = Nearest::of(option, self.names("option").map(|(known, _)| known));
        bail!(Usage(format!(
            "no XKB option '{}': expected one of those in {}{nearest}",
            option.escape_debug(),
            self.root.join("rules/evdev.lst").display()
        )))
    }

    fn not_found(&self, layout: &str, variant: &str) -> anyhow::Error {
        if !self.root.is_dir() {
            let what = format!(
                "no XKB data in {}: expected the system's keyboard layouts there; a compiled \
                 keymap file needs none",
                self.root.display()
            );
            return ImportError::whole(layout, what).into();
        }
        let known: Vec<&str> = self.names("layout").map(|(known, _)| known).collect();
        if known.is_empty() || known.contains(&layout) {
            let prefix = format!("{layout}:");
            let of_layout = self.names("variant").filter(|(_, about)| about.starts_with(&prefix));
            let variants: Vec<&str> = of_layout.map(|(known, _)| known).collect();
            let nearest = Nearest::of(variant, variants.iter().copied());
            return Usage(format!(
                "XKB layout '{layout}' has no variant '{variant}': expected one of {}{nearest}",
                if variants.is_empty() { "none".to_owned() } else { variants.join(", ") },
            ))
            .into();
        }
        let nearest = Nearest::of(layout, known.iter().copied());
        Usage(format!(
            "no XKB layout '{layout}': expected one of those in {}{nearest}",
            self.root.join("rules/evdev.lst").display()
        ))
        .into()
    }
}
