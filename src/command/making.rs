//! `etude layout new` and `etude layout capture`: the files of a layout in the
//! making.

use super::{Usage, screen};
use crate::capture::{self, Draft};
use crate::cli::Shared;
use crate::keyboard::document::Nearest;
use crate::layout::{shipped, token::is_name};
use crate::session::Level;
use crate::ui::run;
use crate::ui::screen::making::{End, Keep, Making};
use crate::ui::surroundings;
use crate::ui::terminal::Terminal;
use crate::ui::theme::{Ground, Theme};
use anyhow::Context;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// The largest progress file that is read, bytes.
const LARGEST: u64 = 4 * 1024 * 1024;

/// `etude layout new`.
///
/// # Errors
/// A file that is there already, or what stops the screen.
pub fn describe(file: &Path, shared: &Shared) -> anyhow::Result<ExitCode> {
    let keep = Files::new(file)?;
    let name = name_of(file)?;
    begin(Making::describe(&name, false, Box::new(keep), theme(shared)), file, shared)
}

/// `etude layout capture`.
///
/// # Errors
/// A layout file that is there already, a progress file that can't be read, an
/// unknown board, or what stops the screen.
pub fn capture(file: &Path, board: Option<&str>, shared: &Shared) -> anyhow::Result<ExitCode> {
    let keep = Files::new(file)?;
    let name = name_of(file)?;
    let theme = theme(shared);
    if let Some(capture) = keep.left_before()? {
        let on = &capture.draft().board.name;
        if let Some(board) = board.filter(|board| board != on) {
            return Err(Usage(format!(
                "{} was begun on the board '{on}', not on '{board}': go on without --board, or \
                 move that file away to begin anew",
                keep.notes_name
            ))
            .into());
        }
        return begin(Making::resume(capture, Box::new(keep), theme), file, shared);
    }
    let Some(board) = board else {
        return begin(Making::describe(&name, true, Box::new(keep), theme), file, shared);
    };
    let found = shipped::board(board).ok_or_else(|| {
        let known: Vec<&str> = shipped::board_names().collect();
        Usage(format!(
            "no board '{board}': expected one of {}, or a described one such as split-4x6-5 or \
             ortho-5x12{}",
            known.join(", "),
            Nearest::of(board, known.iter().copied())
        ))
    })?;
    let draft = Draft::new(&name, &name, found)?;
    begin(Making::capture(draft, Box::new(keep), theme), file, shared)
}

fn theme(shared: &Shared) -> Theme {
    Theme {
        colour: surroundings::colour(shared.color),
        ground: Ground::Unknown,
        unicode: surroundings::unicode(),
    }
}

/// The layout's name: that of the file without its ending.
fn name_of(file: &Path) -> anyhow::Result<String> {
    let name = file.file_stem().map(|stem| stem.to_string_lossy().into_owned());
    name.filter(|name| is_name(name)).ok_or_else(|| {
        Usage(format!(
            "'{}' gives no name for a layout: expected a file such as harbour.toml, named with 1 \
             to 32 characters without blanks and without / : \" '",
            file.display()
        ))
        .into()
    })
}

fn begin(mut making: Making, file: &Path, shared: &Shared) -> anyhow::Result<ExitCode> {
    let mut terminal = Terminal::enter().context("a layout is made on a terminal")?;
    let ending = run::run(&mut terminal, &mut making);
    // Gone for good: practice has a terminal of its own.
    drop(terminal);
    if let Some(word) = making.last_word() {
        let _ = writeln!(std::io::stderr(), "etude: {word}");
    }
    let code = ending.context("the screen can't be drawn")?.exit_code();
    let shown = file.display();
    match making.end() {
        End::Left => {
            let notes = notes_path(file);
            if notes.exists() {
                eprintln!(
                    "Everything told so far is kept in {}.\n`etude layout capture {shown}` goes \
                     on from there.",
                    notes.display()
                );
            }
            Ok(code)
        }
        End::Written => {
            eprintln!(
                "{shown} is written. `etude layout check {shown}` tells what it lacks, `etude -l \
                 {shown}` practises it."
            );
            Ok(code)
        }
        End::Practise => {
            let layout = Some(file.to_string_lossy().into_owned());
            screen::first_practice(&Shared { layout, ..shared.clone() })
        }
    }
}

/// Where the notes of a capture of `file` are kept.
fn notes_path(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".capture");
    PathBuf::from(name)
}

/// The layout file to be, and the notes beside it.
struct Files {
    layout: PathBuf,
    layout_name: String,
    notes: PathBuf,
    notes_name: String,
    open: Option<File>,
}

impl Files {
    fn new(layout: &Path) -> anyhow::Result<Self> {
        if layout.exists() {
            return Err(Usage(format!(
                "{} is there already and is never overwritten: name another file, or move that \
                 one away",
                layout.display()
            ))
            .into());
        }
        let notes = notes_path(layout);
        Ok(Self {
            layout: layout.to_owned(),
            layout_name: layout.display().to_string(),
            notes_name: notes.display().to_string(),
            notes,
            open: None,
        })
    }

    /// The capture that was left before, if one was.
    fn left_before(&self) -> anyhow::Result<Option<capture::Capture>> {
        let size = match std::fs::metadata(&self.notes) {
            Ok(data) => data.len(),
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(error) => {
                return Err(error).with_context(|| format!("can't read '{}'", self.notes_name));
            }
        };
        anyhow::ensure!(
            size <= LARGEST,
            "{} has {size} bytes, more than the notes of a capture: move it away to begin anew",
            self.notes_name
        );
        let bytes = std::fs::read(&self.notes)
            .with_context(|| format!("can't read '{}'", self.notes_name))?;
        // Only a line that was cut short can end within a character.
        let text = String::from_utf8_lossy(&bytes);
        Ok(Some(capture::resume(&text, &self.notes_name, Level::default())?))
    }

    fn append(&mut self, lines: &str) -> io::Result<()> {
        if self.open.is_none() {
            let file = OpenOptions::new().create(true).append(true).read(true).open(&self.notes)?;
            drop_torn_line(&file, &self.notes)?;
            self.open = Some(file);
        }
        if let Some(file) = &mut self.open {
            file.write_all(lines.as_bytes())?;
            file.sync_data()?;
        }
        Ok(())
    }

    fn create(&self, text: &str) -> io::Result<()> {
        let mut file = File::create_new(&self.layout)?;
        let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
        if written.is_err() {
            // Ours, and not whole: the next attempt begins anew.
            let _ = std::fs::remove_file(&self.layout);
        }
        written
    }
}

/// Takes away a last line without an end: it was cut short, and the next one
/// must not be joined to it.
fn drop_torn_line(file: &File, path: &Path) -> io::Result<()> {
    let bytes = std::fs::read(path)?;
    let whole = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    if whole < bytes.len() { file.set_len(whole as u64) } else { Ok(()) }
}

impl Keep for Files {
    fn file(&self) -> &str {
        &self.layout_name
    }

    fn note(&mut self, lines: &str) -> Result<(), String> {
        self.append(lines).map_err(|error| {
            // What was written of it is written again, whole.
            self.open = None;
            format!(
                "{} can't be written ({error}): what you tell is kept only while this window is \
                 open; make room or rights, and strike on",
                self.notes_name
            )
        })
    }

    fn write(&mut self, text: &str) -> Result<(), String> {
        self.create(text).map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => format!(
                "{} has been made by someone else meanwhile and is never overwritten: move it \
                 away and choose again",
                self.layout_name
            ),
            _ => format!(
                "{} can't be written ({error}): make room or rights, and choose again",
                self.layout_name
            ),
        })?;
        self.open = None;
        // Notes that stay do no harm; only a capture without them can't be
        // gone on with.
        let _ = std::fs::remove_file(&self.notes);
        Ok(())
    }
}
