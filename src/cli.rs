//! Command line types; the man page and completions are made from them.

use clap::{ArgGroup, Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const EXAMPLES: &str = "\
Examples:
  etude                                  open the start screen
  etude practice symbols                 drills for the symbol layer
  etude practice thumbs --minutes 5      five minutes of thumb keys
  etude practice --text letter.md        drills from a text of your own
  etude progress                         what the history says, by layer and key
  etude --demo                           the same program on an invented history
  etude layout show tern-split           draw every layer of a layout

Exit status: 0 done, 1 failed, 2 wrong usage, 128+n ended by signal n.

Keep sessions short, stop at pain, numbness or tingling and see a clinician;
workplace rules and professional advice come before this program.";

/// Heading of the options that every command takes.
const EVERYWHERE: &str = "Options of every command";

/// A terminal typing trainer for layered keyboard layouts.
#[derive(Debug, Parser)]
#[command(name = "etude", version, about, after_help = EXAMPLES, max_term_width = 100)]
pub struct Cli {
    /// Options that every command takes.
    #[command(flatten)]
    pub shared: Shared,
    /// What to do; none opens the start screen.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// Options that every command takes.
#[derive(Debug, Clone, Args)]
pub struct Shared {
    /// Folder of the practice history [default: the XDG data folder]
    #[arg(long, global = true, value_name = "DIR", env = "ETUDE_DATA", help_heading = EVERYWHERE)]
    pub data: Option<PathBuf>,
    /// Look around in an invented history, which is thrown away at the end
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub demo: bool,
    /// When to use colour; `auto` heeds NO_COLOR and plain terminals
    #[arg(
        long,
        global = true,
        value_enum,
        default_value_t = ColorChoice::Auto,
        value_name = "WHEN",
        help_heading = EVERYWHERE
    )]
    pub color: ColorChoice,
    /// Layout: a shipped name (see `etude layout list`) or a file
    #[arg(
        long,
        short,
        global = true,
        value_name = "NAME|FILE",
        env = "ETUDE_LAYOUT",
        help_heading = EVERYWHERE
    )]
    pub layout: Option<String>,
    /// Offer a break after so many minutes of active practice
    #[arg(
        long,
        global = true,
        value_name = "N",
        env = "ETUDE_BREAK_AFTER",
        default_value_t = 10,
        value_parser = clap::value_parser!(u32).range(1..=60),
        help_heading = EVERYWHERE
    )]
    pub break_after: u32,
}

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ColorChoice {
    /// On a terminal that can, unless NO_COLOR is set.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Practise a layer or a cluster
    Practice(PracticeArgs),
    /// Look at what the history says: by layer, key, switch and day
    Progress(ProgressArgs),
    /// Look at layouts and make them: list, show, check, new, capture
    #[command(
        subcommand,
        after_help = "Examples:\n  etude layout list\n  etude layout show tern-split\n  etude layout check my-layout.toml\n  etude layout capture my-layout.toml"
    )]
    Layout(LayoutCommand),
    /// Count what texts and source trees have, and what that costs on the layout
    Survey(SurveyArgs),
    /// Propose what goes where on a layer, the price of learning it anew included
    Arrange(ArrangeArgs),
    /// Look at the practice history, or export it
    Data(DataArgs),
    /// Tell what this terminal can deliver
    Terminal(TerminalArgs),
    /// Print shell completions
    #[command(
        after_help = "Example:\n  etude completions bash > ~/.local/share/bash-completion/completions/etude"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
    /// Print the manual page
    #[command(after_help = "Example:\n  etude man | man -l -")]
    Man,
}

/// `etude practice`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude practice                         what the start screen would offer first
  etude practice punctuation             a cluster: punctuation, symbols, numbers, thumbs
  etude practice navigation              move about and change text without the mouse
  etude practice shortcuts               chords by what they do; what is nearly forgotten first
  etude practice marks                   a layer of the layout, by its name
  etude practice numbers -m 3 --seed 7   the same drills every time
  etude practice --text notes.md         a text of your own; nothing of it is kept
  git diff | etude practice --text -     the same from standard input
  etude practice symbols --old-way       the same drills on the layout you used before
  etude practice symbols --script        driven by another program, see docs/script.md
  etude practice --played                layers tried on a plain keyboard, see docs/played.md")]
pub struct PracticeArgs {
    /// A cluster (punctuation, symbols, numbers, shortcuts, navigation, thumbs) or a layer by name
    pub what: Option<String>,
    /// Minutes of active practice
    #[arg(long, short, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u32).range(1..=120))]
    pub minutes: u32,
    /// Practise a text of your own, `-` for standard input; nothing of it is kept
    #[arg(long, value_name = "FILE")]
    pub text: Option<PathBuf>,
    /// Change keys of the editing tasks, as drills/editing.toml gives them
    #[arg(long, value_name = "FILE")]
    pub keys: Option<PathBuf>,
    /// The same seed gives the same drills everywhere
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// Practise the same drills on the layout's old way, to have a line to beat
    #[arg(long)]
    pub old_way: bool,
    /// Let Etude play the layers on a plain keyboard; the history is kept apart
    #[arg(long, conflicts_with = "old_way")]
    pub played: bool,
    /// A key of the plain keyboard that stands for a key or a layer, as in LT2=CapsLock
    #[arg(long, value_name = "KEY|LAYER=KEY", requires = "played")]
    pub stand_in: Vec<String>,
    /// Speak JSON lines on standard input and output instead of opening a screen
    #[arg(long)]
    pub script: bool,
}

/// `etude progress`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude progress                         on a terminal: views of layers, board, switches, keys, days
  etude progress --plain                 the same as plain tables
  etude progress --layer symbols --since 2026-11-01
  etude progress --json > progress.json
  etude progress --csv items > keys.csv

Figures are explained in docs/progress.md, and on the screen with ?.
Exit status: 0 also where nothing was practised yet.")]
pub struct ProgressArgs {
    /// Only this layer
    #[arg(long, value_name = "NAME")]
    pub layer: Option<String>,
    /// Only this local day (YYYY-MM-DD) and later [default: everything; the screen: 90 days]
    #[arg(long, value_name = "DAY")]
    pub since: Option<String>,
    /// The history of the layout as Etude played its layers
    #[arg(long)]
    pub played: bool,
    /// Plain tables, also on a terminal
    #[arg(long)]
    pub plain: bool,
    /// Print JSON, schema etude.progress/1
    #[arg(long, conflicts_with = "plain")]
    pub json: bool,
    /// Print one table as CSV (RFC 4180)
    #[arg(
        long,
        value_enum,
        value_name = "TABLE",
        num_args = 0..=1,
        default_missing_value = "layers",
        conflicts_with_all = ["plain", "json"]
    )]
    pub csv: Option<ProgressTable>,
}

/// A table of `etude progress --csv`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ProgressTable {
    /// One row a layer and day (or month) practised.
    Layers,
    /// One row a key of a layer.
    Items,
    /// One row a pair of layers.
    Switches,
    /// One row a day practised.
    Calendar,
}

/// `etude layout`
#[derive(Debug, Clone, Subcommand)]
pub enum LayoutCommand {
    /// List the shipped layouts and boards
    #[command(after_help = "Examples:\n  etude layout list\n  etude layout list --json")]
    List(JsonFlag),
    /// Draw every layer on its board
    #[command(
        after_help = "Examples:\n  etude layout show tern-split\n  etude layout show tern-split --layer symbols\n  etude layout show my-layout.toml --color never\n  etude layout show tern-split --where '~'\n  etude layout show tern-split --screen"
    )]
    Show {
        /// A shipped layout's name or a file [default: the layout in use]
        which: Option<String>,
        /// Only this layer
        #[arg(long, value_name = "NAME")]
        layer: Option<String>,
        /// Tell every way to give this: one character, a key such as Enter, a chord
        #[arg(long = "where", value_name = "OUTPUT", conflicts_with = "layer")]
        place: Option<String>,
        /// On a full screen: the layers side by side, and a search
        #[arg(long, conflicts_with_all = ["json", "layer"])]
        screen: bool,
        /// Machine-readable output.
        #[command(flatten)]
        json: JsonFlag,
    },
    /// Describe a layout on a guided screen and write its file
    #[command(
        after_help = "Examples:\n  etude layout new harbour.toml\n\nThe board is chosen or counted, layers are named, and the keys that open them\npointed at. The file comes with comments; an existing one is never overwritten.\nSee docs/capture.md."
    )]
    New {
        /// The file to write
        #[arg(default_value = "my-layout.toml")]
        file: PathBuf,
    },
    /// Learn a layout from the keyboard, key by key, and write its file
    #[command(
        after_help = "Examples:\n  etude layout capture harbour.toml\n  etude layout capture harbour.toml --board split-3x5-3\n\nWhat is told is kept after each key in FILE.capture; the same command goes on\nfrom there. An existing layout file is never overwritten. See docs/capture.md."
    )]
    Capture {
        /// The file to write
        #[arg(default_value = "my-layout.toml")]
        file: PathBuf,
        /// The board, without the guided screen: a name that `etude layout list` tells, or
        /// split-RxC-T or ortho-RxC
        #[arg(long, value_name = "NAME")]
        board: Option<String>,
    },
    /// Tell what a layout lacks, and what would make it better
    #[command(
        after_help = "Examples:\n  etude layout check my-layout.toml\n  etude layout check tern-split --json\n\nExit status: 0 without faults (advice and notes are none), 3 with faults,\n1 where the file can't be read."
    )]
    Check {
        /// A shipped layout's name or a file [default: the layout in use]
        which: Option<String>,
        /// Machine-readable output.
        #[command(flatten)]
        json: JsonFlag,
    },
    /// Make a layout file from an open standard's: LDML Keyboard 3.0 or XKB
    Import(ImportArgs),
    /// Make a sheet of the layers to print: SVG, PDF or plain text
    Sheet(SheetArgs),
    /// Tell what moves from one layout to another, and what is kept
    Compare(CompareArgs),
}

/// `etude layout compare`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude layout compare plain-ansi tern-split    from the old way to a layered one
  etude layout compare mine.toml                from how it was practised last to how it is now
  etude layout compare old.toml new.toml --json

What is practised keeps its history where its keys are the same. Effort is that
of a page of your texts where a survey is kept, else of the shipped text; see
docs/layouts.md.")]
pub struct CompareArgs {
    /// A shipped layout's name or a file: the one before; alone, the one now
    pub first: Option<String>,
    /// The one now [default: the first, against how it was practised last]
    pub second: Option<String>,
    /// Machine-readable output.
    #[command(flatten)]
    pub json: JsonFlag,
}

/// `etude layout sheet`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude layout sheet tern-split -o sheet.pdf
  etude layout sheet -o sheet.svg --paper letter
  etude layout sheet --layer symbols --layer numbers -o two.pdf
  etude layout sheet --learner -o mine.pdf             only what you have practised
  etude layout sheet                                   as plain text

The kind follows from the file's ending. An existing file is never overwritten.
Exit status: 1 where nothing was written.")]
pub struct SheetArgs {
    /// A shipped layout's name or a file [default: the layout in use]
    pub which: Option<String>,
    /// The new file, ending in .svg, .pdf or .txt [default: plain text on standard output]
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// The paper of SVG and PDF
    #[arg(long, value_enum, value_name = "SIZE", default_value_t = PaperChoice::A4)]
    pub paper: PaperChoice,
    /// Only this layer; can be given several times
    #[arg(long = "layer", value_name = "NAME")]
    pub layers: Vec<String>,
    /// A learner's edition: only what was practised on this layout
    #[arg(long)]
    pub learner: bool,
}

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PaperChoice {
    /// 210 × 297 mm.
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

/// `etude layout import`
#[derive(Debug, Clone, Args)]
#[command(group(ArgGroup::new("source").required(true)))]
#[command(after_help = "\
Examples:
  etude layout import --xkb de                        the system's layout, by its XKB name
  etude layout import --xkb us --variant intl --board full-ansi
  etude layout import --xkb de --options lv3:caps_switch -o mine.toml
  etude layout import keymap.xkb                      what xkbcli compile-keymap prints
  etude layout import fr-azerty.xml                   an LDML Keyboard 3.0 file

Level-3 and level-5 keys become layer accesses, dead keys latches. An existing
file is never overwritten. Exit status: 1 where nothing was written.")]
pub struct ImportArgs {
    /// An LDML Keyboard 3.0 file, or a compiled XKB keymap
    #[arg(group = "source")]
    pub file: Option<PathBuf>,
    /// A layout of the system's XKB data, by name
    #[arg(long, value_name = "LAYOUT", group = "source")]
    pub xkb: Option<String>,
    /// A variant of the XKB layout
    #[arg(long, value_name = "NAME", requires = "xkb")]
    pub variant: Option<String>,
    /// XKB options, parted by commas
    #[arg(long, value_name = "LIST", requires = "xkb", value_delimiter = ',')]
    pub options: Vec<String>,
    /// The board to lay it on [default: what the file says, else full-iso; full-ansi for XKB's us]
    #[arg(long, value_name = "NAME")]
    pub board: Option<String>,
    /// The name of the new layout [default: from the source]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// The new file, `-` for standard output [default: the layout's name with .toml]
    #[arg(long, short, value_name = "FILE")]
    pub output: Option<PathBuf>,
    /// Print the outcome as JSON
    #[command(flatten)]
    pub json: JsonFlag,
}

/// `--json`
#[derive(Debug, Clone, Copy, Args)]
pub struct JsonFlag {
    /// Print JSON (schemas in docs/json.md)
    #[arg(long)]
    pub json: bool,
}

/// Kinds of work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum WorkChoice {
    /// Sentences
    Prose,
    /// Programs
    Code,
    /// Tables and measures
    Figures,
    /// Short changes here and there
    Editing,
}

/// `etude survey`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude survey ~/notes ~/work/gauges       what you type there, and what it costs
  etude survey --dry-run .                 what would be read
  git diff | etude survey - --once         any text from standard input, kept nowhere
  etude survey                             what is kept, by your hands of today
  etude survey --ask                       how often you move, select, delete, strike shortcuts

Only counts are made and kept; the text is not. Files that an ignore file leaves out, hidden files and
binary ones are not read.")]
#[expect(clippy::struct_excessive_bools, reason = "each is a flag of the command line")]
pub struct SurveyArgs {
    /// Files and folders; - is standard input; none shows what is kept
    #[arg(value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// The work that the texts are of: how often one moves, selects and strikes shortcuts in it
    /// is assumed by that [default: some of each]
    #[arg(long, value_name = "KIND")]
    pub work: Option<WorkChoice>,
    /// Your own figures from a file with lines such as moves = 400
    #[arg(long, value_name = "FILE", conflicts_with = "ask")]
    pub habits: Option<PathBuf>,
    /// Ask for your own figures
    #[arg(long)]
    pub ask: bool,
    /// Count and tell, keep nothing
    #[arg(long)]
    pub once: bool,
    /// Forget what is kept
    #[arg(long, conflicts_with_all = ["paths", "json", "habits", "ask", "once", "work", "dry_run"])]
    pub forget: bool,
    /// Only list what would be read
    #[arg(long, conflicts_with = "json", requires = "paths")]
    pub dry_run: bool,
    /// Machine-readable output.
    #[command(flatten)]
    pub json: JsonFlag,
}

/// `etude arrange`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude arrange symbols                      what would lie better, by the survey of your texts
  etude arrange symbols --text ~/work        by these texts instead
  etude arrange symbols punctuation          symbols may change between the two layers
  etude arrange symbols --pin '()[]{}'       brackets stay where they are
  etude arrange symbols -o mine.toml         the proposal as a layout of your own

Letters, digits and everything that is no character stay where they are. A key that must be learnt
anew costs what it costs until it is learnt: only what pays itself back within the days is
proposed.")]
pub struct ArrangeArgs {
    /// The layers, by name or cluster
    #[arg(required = true, value_name = "LAYER")]
    pub layers: Vec<String>,
    /// Files and folders that you typed, to go by; - is standard input [default: the survey kept]
    #[arg(long, value_name = "PATH", num_args = 1..)]
    pub text: Vec<PathBuf>,
    /// Symbols that must stay where they are, written one after the other
    #[arg(long, value_name = "SYMBOLS", allow_hyphen_values = true)]
    pub pin: Option<String>,
    /// Working days within which the change must pay
    #[arg(long, value_name = "N", default_value_t = crate::arrange::DAYS, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub days: u32,
    /// The kind of work [default: some of each]
    #[arg(long, value_name = "KIND")]
    pub work: Option<WorkChoice>,
    /// Where chance begins; the same number gives the same proposal
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// From how many placements the search begins
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub starts: u32,
    /// Write the proposal to a new layout file, whose name becomes the layout's
    #[arg(long, short, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Machine-readable output.
    #[command(flatten)]
    pub json: JsonFlag,
}

/// `etude data`
#[derive(Debug, Clone, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "\
Examples:
  etude data                                    path, size, what is in it, integrity
  etude data check --rebuild                    make wrong sums anew from the keystrokes
  etude data export keystrokes > strokes.csv
  etude data export drills --format jsonl --since 2026-11-01"
)]
pub struct DataArgs {
    /// What to do; none shows path, size and integrity.
    #[command(subcommand)]
    pub command: Option<DataCommand>,
    /// Machine-readable output.
    #[command(flatten)]
    pub json: JsonFlag,
}

/// `etude data …`
#[derive(Debug, Clone, Subcommand)]
pub enum DataCommand {
    /// Check the history, its sums against the keystrokes; make wrong sums anew
    #[command(
        after_help = "Examples:\n  etude data check\n  etude data check --rebuild\n\nExit status: 1 where faults were found, or are left after --rebuild."
    )]
    Check {
        /// Make the sums anew from the keystrokes where they are wrong, after a copy
        #[arg(long)]
        rebuild: bool,
        /// Machine-readable output.
        #[command(flatten)]
        json: JsonFlag,
    },
    /// Write sessions, drills or keystrokes to standard output or a file
    #[command(
        after_help = "Examples:\n  etude data export keystrokes > strokes.csv\n  etude data export drills --format jsonl --since 2026-11-01\n  etude data export sessions --output sessions.csv"
    )]
    Export {
        /// What to write
        #[arg(value_enum)]
        what: ExportWhat,
        /// In which form
        #[arg(long, value_enum, default_value_t = ExportFormat::Csv)]
        format: ExportFormat,
        /// Only sessions that began on this day or later (YYYY-MM-DD, local time)
        #[arg(long, value_name = "DAY")]
        since: Option<String>,
        /// A new file instead of standard output; an existing one is never overwritten
        #[arg(long, short, value_name = "FILE")]
        output: Option<PathBuf>,
    },
}

/// What to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExportWhat {
    /// One row a session.
    Sessions,
    /// One row a drill.
    Drills,
    /// One row a keystroke.
    Keystrokes,
}

/// In which form to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExportFormat {
    /// RFC 4180, with a header line.
    Csv,
    /// One JSON object a line.
    Jsonl,
}

/// `etude terminal`
#[derive(Debug, Clone, Args)]
#[command(after_help = "\
Examples:
  etude terminal                         what it grants and what it can't tell apart
  etude terminal --json
  etude terminal --watch                 see each key as it arrives
  etude terminal --watch --log keys.jsonl
  etude terminal --check

Exit status: 1 where there is no terminal to ask.")]
pub struct TerminalArgs {
    /// Machine-readable output.
    #[command(flatten)]
    pub json: JsonFlag,
    /// Show each key event as it arrives; Esc three times within a second leaves
    #[arg(long, conflicts_with = "json")]
    pub watch: bool,
    /// Try each key that drills of the layout count on; drills leave out what doesn't arrive
    #[arg(long, conflicts_with_all = ["json", "watch"])]
    pub check: bool,
    /// Write each key event to a new file, one JSON object a line
    #[arg(long, value_name = "FILE", requires = "watch")]
    pub log: Option<PathBuf>,
}
