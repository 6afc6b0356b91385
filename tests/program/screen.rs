//! The real binary inside a pseudo-terminal, with a small terminal around it.
//!
//! How a test goes:
//!
//! ```ignore
//! let home = TempDir::new().unwrap();
//! let mut screen = Screen::start(&home, &["terminal", "--watch"], &Setup::default());
//! screen.wait_for_text("Strike any key");          // up to a deadline, else the screen is shown
//! screen.send(b"\x1b[97;1;97u");                    // bytes as a terminal sends them
//! screen.resize(60, 20);
//! screen.signal(Signal::TERM);
//! assert_eq!(screen.wait_exit(), 143);              // 128 + 15
//! screen.assert_left();                             // settings, modes and screen as before
//! ```
//!
//! A thread reads what the program writes into a `vt100` parser and a raw log
//! and answers the program's questions as [`Answers`] says. Nothing sleeps for
//! a fixed time: each wait is for a condition.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use rustix::process::{Pid, Signal, WaitOptions, kill_process, waitpid};
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How long a condition may take before the test fails.
const DEADLINE: Duration = Duration::from_mins(1);

/// Which kind of terminal answers the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answers {
    /// One with the open keyboard protocol and a dark background.
    Enhanced,
    /// One that knows only its primary attributes.
    Plain,
    /// One that answers nothing.
    Silent,
}

/// How the terminal and the program's environment look.
#[derive(Debug, Clone)]
pub struct Setup {
    /// What it answers.
    pub answers: Answers,
    /// Its size.
    pub columns: u16,
    /// Its size.
    pub rows: u16,
    /// Variables on top of the bare environment.
    pub env: Vec<(&'static str, String)>,
    /// The shell's redirections for the program, such as `</dev/null`.
    pub redirect: Option<&'static str>,
}

impl Default for Setup {
    fn default() -> Self {
        Self { answers: Answers::Enhanced, columns: 80, rows: 24, env: Vec::new(), redirect: None }
    }
}

impl Setup {
    /// The default with other answers.
    pub fn answering(answers: Answers) -> Self {
        Self { answers, ..Self::default() }
    }

    /// With a variable more.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: &str) -> Self {
        self.env.push((name, value.to_owned()));
        self
    }
}

struct Seen {
    parser: vt100::Parser,
    log: Vec<u8>,
    ended: bool,
}

type Writer = Arc<Mutex<Box<dyn Write + Send>>>;

/// A running program and its terminal.
pub struct Screen {
    master: Option<Box<dyn MasterPty + Send>>,
    writer: Option<Writer>,
    child: Box<dyn Child + Send + Sync>,
    seen: Arc<(Mutex<Seen>, Condvar)>,
    closing: Arc<AtomicBool>,
    before: String,
}

/// `bytes` somewhere in `log`?
pub fn contains(log: &[u8], bytes: &[u8]) -> bool {
    log.windows(bytes.len()).any(|window| window == bytes)
}

#[expect(clippy::disallowed_methods, reason = "a deadline of a test")]
fn now() -> Instant {
    Instant::now()
}

fn cells(n: u16) -> NonZeroU16 {
    NonZeroU16::new(n).unwrap()
}

impl Screen {
    /// Starts the binary with `args` in a terminal of its own.
    pub fn start(home: &TempDir, args: &[&str], setup: &Setup) -> Self {
        let size =
            PtySize { rows: setup.rows, cols: setup.columns, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).unwrap();
        let program = env!("CARGO_BIN_EXE_etude");
        let mut command = if let Some(redirect) = setup.redirect {
            // The shell gives way to the program: the process stays the same.
            let mut command = CommandBuilder::new("/bin/sh");
            command.args(["-c", &format!("exec \"$0\" \"$@\" {redirect}"), program]);
            command
        } else {
            CommandBuilder::new(program)
        };
        command.env_clear();
        command.args(args);
        command.cwd(home.path());
        for (name, value) in [
            ("HOME", home.path().to_str().unwrap()),
            ("PATH", "/usr/bin:/bin"),
            ("LANG", "C.UTF-8"),
            ("TERM", "xterm-256color"),
        ] {
            command.env(name, value);
        }
        for (name, value) in &setup.env {
            command.env(name, value);
        }
        let before = format!("{:?}", pair.master.get_termios().unwrap());
        let child = pair.slave.spawn_command(command).unwrap();
        drop(pair.slave);
        let writer: Writer = Arc::new(Mutex::new(pair.master.take_writer().unwrap()));
        let parser = vt100::Parser::new(cells(setup.rows), cells(setup.columns), 0);
        let seen = Seen { parser, log: Vec::new(), ended: false };
        let seen = Arc::new((Mutex::new(seen), Condvar::new()));
        let closing = Arc::new(AtomicBool::new(false));
        let reader = Reader {
            from: pair.master.try_clone_reader().unwrap(),
            to: Arc::clone(&writer),
            seen: Arc::clone(&seen),
            closing: Arc::clone(&closing),
            answers: setup.answers,
        };
        std::thread::spawn(move || reader.run());
        Self { master: Some(pair.master), writer: Some(writer), child, seen, closing, before }
    }

    fn seen(&self) -> MutexGuard<'_, Seen> {
        self.seen.0.lock().unwrap()
    }

    fn wait(&self, what: &str, mut done: impl FnMut(&Seen) -> bool) {
        let until = now() + DEADLINE;
        let mut seen = self.seen();
        while !done(&seen) {
            let left = until.saturating_duration_since(now());
            assert!(
                !left.is_zero(),
                "waited in vain for {what}; the screen:\n{}\nthe last bytes: {}",
                seen.parser.screen().contents(),
                seen.log[seen.log.len().saturating_sub(400)..].escape_ascii()
            );
            seen = self.seen.1.wait_timeout(seen, left).unwrap().0;
        }
    }

    /// Waits until `done` says so of the screen; `what` is for the failure.
    pub fn wait_for(&self, what: &str, done: impl Fn(&vt100::Screen) -> bool) {
        self.wait(what, |seen| done(seen.parser.screen()));
    }

    /// Waits until `text` stands on the screen.
    pub fn wait_for_text(&self, text: &str) {
        self.wait_for(text, |screen| screen.contents().contains(text));
    }

    /// Waits until the program has written `bytes`, modes and all.
    pub fn wait_for_bytes(&self, bytes: &[u8]) {
        self.wait(&bytes.escape_ascii().to_string(), |seen| contains(&seen.log, bytes));
    }

    /// The text on the screen now.
    pub fn text(&self) -> String {
        self.seen().parser.screen().contents()
    }

    /// All that the program wrote so far.
    pub fn log(&self) -> Vec<u8> {
        self.seen().log.clone()
    }

    /// Sends bytes as if the terminal had read them from its keyboard.
    pub fn send(&self, bytes: &[u8]) {
        let mut writer = self.writer.as_ref().unwrap().lock().unwrap();
        writer.write_all(bytes).unwrap();
        writer.flush().unwrap();
    }

    /// Changes the terminal's size.
    pub fn resize(&self, columns: u16, rows: u16) {
        let size = PtySize { rows, cols: columns, pixel_width: 0, pixel_height: 0 };
        self.seen().parser.screen_mut().set_size(cells(rows), cells(columns));
        self.master.as_ref().unwrap().resize(size).unwrap();
    }

    fn pid(&self) -> Pid {
        Pid::from_raw(self.child.process_id().unwrap().try_into().unwrap()).unwrap()
    }

    /// Sends a signal to the program.
    pub fn signal(&self, signal: Signal) {
        kill_process(self.pid(), signal).unwrap();
    }

    /// Waits until the program is stopped, as a shell would see it.
    pub fn wait_stopped(&self) {
        let until = now() + DEADLINE;
        loop {
            let options = WaitOptions::UNTRACED | WaitOptions::NOHANG;
            if let Some((_, status)) = waitpid(Some(self.pid()), options).unwrap() {
                assert!(status.stopped(), "it ended instead: {status:?}");
                return;
            }
            assert!(now() < until, "waited in vain for a stop");
            std::thread::yield_now();
        }
    }

    /// Waits for the program's end and for all of its output. Its exit status.
    pub fn wait_exit(&mut self) -> u32 {
        let until = now() + DEADLINE;
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(now() < until, "it doesn't end; the screen:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(2));
        };
        assert_eq!(status.signal(), None, "it was killed by a signal");
        if self.master.is_some() {
            self.wait("the end of the output", |seen| seen.ended);
        }
        status.exit_code()
    }

    /// Closes the terminal under the running program, as a closed window does.
    /// A key is struck, so that the reading thread sees that it should end.
    pub fn hang_up(&mut self) {
        self.closing.store(true, Ordering::SeqCst);
        self.send(b"x");
        self.wait("the reader's end", |seen| seen.ended);
        self.writer = None;
        self.master = None;
    }

    /// The settings of the terminal (raw mode and the like), for comparison.
    pub fn settings(&self) -> String {
        format!("{:?}", self.master.as_ref().unwrap().get_termios().unwrap())
    }

    /// The settings from before the program started.
    pub fn settings_before(&self) -> &str {
        &self.before
    }

    /// What the bytes written so far leave turned on.
    pub fn modes(&self) -> Modes {
        Modes::of(&self.seen().log)
    }

    /// Asserts that the terminal is as it was before the program started.
    pub fn assert_left(&self) {
        assert_eq!(self.settings(), self.before, "the terminal's settings");
        assert_eq!(self.modes(), Modes::default(), "the terminal's modes");
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        if matches!(self.child.try_wait(), Ok(None)) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

/// Modes of a terminal; the default is what a shell expects.
#[expect(clippy::struct_excessive_bools, reason = "each is a mode of its own")]
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Modes {
    /// The alternate screen is shown.
    pub alternate: bool,
    /// Pastes are bracketed.
    pub paste: bool,
    /// Focus is reported.
    pub focus: bool,
    /// The cursor is hidden.
    pub cursor_hidden: bool,
    /// An update is open.
    pub updating: bool,
    /// modifyOtherKeys is on.
    pub other_keys: bool,
    /// Keyboard flags pushed on the main and the alternate screen.
    pub pushed: [usize; 2],
}

impl Modes {
    /// What `log` leaves turned on. Each screen has keyboard flags of its own.
    pub fn of(log: &[u8]) -> Self {
        let mut modes = Self::default();
        let mut rest = log;
        while let Some(start) = rest.windows(2).position(|w| w == b"\x1b[") {
            rest = &rest[start + 2..];
            let Some(end) = rest.iter().position(|b| (0x40..=0x7e).contains(b)) else { break };
            let (body, last) = (&rest[..end], rest[end]);
            let on = last == b'h';
            match (body, last) {
                (b"?1049", b'h' | b'l') => modes.alternate = on,
                (b"?2004", b'h' | b'l') => modes.paste = on,
                (b"?1004", b'h' | b'l') => modes.focus = on,
                (b"?25", b'h' | b'l') => modes.cursor_hidden = !on,
                (b"?2026", b'h' | b'l') => modes.updating = on,
                (b">4;2", b'm') => modes.other_keys = true,
                (b">4;0", b'm') => modes.other_keys = false,
                ([b'>', ..], b'u') => modes.pushed[usize::from(modes.alternate)] += 1,
                ([b'<', ..], b'u') => {
                    let depth = &mut modes.pushed[usize::from(modes.alternate)];
                    *depth = depth.saturating_sub(1);
                }
                _ => {}
            }
            rest = &rest[end + 1..];
        }
        modes
    }
}

struct Reader {
    from: Box<dyn Read + Send>,
    to: Writer,
    seen: Arc<(Mutex<Seen>, Condvar)>,
    closing: Arc<AtomicBool>,
    answers: Answers,
}

impl Reader {
    fn run(mut self) {
        let mut bytes = [0; 4096];
        let mut scanned = 0;
        loop {
            let read = self.from.read(&mut bytes).unwrap_or(0);
            if read == 0 || self.closing.load(Ordering::SeqCst) {
                break;
            }
            let mut seen = self.seen.0.lock().unwrap();
            seen.log.extend_from_slice(&bytes[..read]);
            seen.parser.process(&bytes[..read]);
            let replies = self.replies(&seen.log, &mut scanned);
            drop(seen);
            self.seen.1.notify_all();
            if !replies.is_empty() {
                // The program may have ended meanwhile.
                let _ = self.to.lock().unwrap().write_all(&replies);
            }
        }
        let seen = Arc::clone(&self.seen);
        // The terminal's ends are closed before anyone hears of it.
        drop(self);
        seen.0.lock().unwrap().ended = true;
        seen.1.notify_all();
    }

    /// The answers to the questions in `log` from `scanned` on, in order.
    fn replies(&self, log: &[u8], scanned: &mut usize) -> Vec<u8> {
        let questions: &[(&[u8], &[u8])] = match self.answers {
            Answers::Enhanced => &[
                (b"\x1b[?u", b"\x1b[?31u"),
                (b"\x1b]11;?\x1b\\", b"\x1b]11;rgb:1010/1818/2020\x1b\\"),
                (b"\x1b[c", b"\x1b[?62;22c"),
            ],
            Answers::Plain => &[(b"\x1b[c", b"\x1b[?1;2c")],
            Answers::Silent => &[],
        };
        let mut replies = Vec::new();
        while *scanned < log.len() {
            let rest = &log[*scanned..];
            if let Some((asked, answer)) = questions.iter().find(|(q, _)| rest.starts_with(q)) {
                replies.extend_from_slice(answer);
                *scanned += asked.len();
            } else if questions.iter().any(|(q, _)| q.starts_with(rest)) {
                break; // Half a question: more is to come.
            } else {
                *scanned += 1;
            }
        }
        replies
    }
}
