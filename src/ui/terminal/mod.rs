//! The terminal: entered once, left once, from wherever the program ends.
//!
//! [`Terminal`] owns the screen and the [`Keyboard`]. Entering turns on raw
//! mode, the alternate screen, bracketed paste, focus reports and the open
//! keyboard protocol, and asks what is granted; drawing can begin at once,
//! the answers set [`Terminal::level`] as they come. Leaving undoes all of it,
//! once, whoever asks: the end of the program, a signal, a panic, a drop.

mod backend;
mod tty;

use crate::input::{Keyboard, Message, OpenError, Reply};
use crate::session::{Granted, Level};
use crate::ui::theme::Ground;
use crate::units::Micros;
use backend::FrameBackend;
use ratatui::Frame;
use std::cell::Cell;
use std::collections::VecDeque;
use std::io::{self, Write};
use std::sync::mpsc::Sender;
use std::sync::{Mutex, MutexGuard, Once, PoisonError};

/// How long to wait for the terminal's answers before it counts as plain.
const ANSWER_PATIENCE: Micros = Micros::from_ms(250);
/// How long leaving waits for the terminal's last answer.
const LEAVE_PATIENCE: Micros = Micros::from_ms(150);

const ENTER_SCREEN: &[u8] = b"\x1b[?1049h\x1b[?2004h\x1b[?1004h";
/// Where the fallback reads the keys, answers would arrive among them.
const ASKS: bool = cfg!(unix);
/// Push all flags of the keyboard protocol; ask for the flags in force.
const ASK_FLAGS: &[u8] = b"\x1b[>31u\x1b[?u";
/// Ask for the background.
const ASK_GROUND: &[u8] = b"\x1b]11;?\x1b\\";
/// Ask, last of all, what every terminal answers.
const ASK_LAST: &[u8] = b"\x1b[c";
const MODIFY_OTHER_KEYS: &[u8] = b"\x1b[>4;2m";
const PLAIN_OTHER_KEYS: &[u8] = b"\x1b[>4;0m";
const POP: &[u8] = b"\x1b[<u";
const LEAVE_SCREEN: &[u8] = b"\x1b[?2026l\x1b[0m\x1b[?2004l\x1b[?1004l\x1b[?25h\x1b[?1049l";

/// Why the terminal can't be entered.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EnterError {
    /// Standard output is a file or a pipe.
    #[error(
        "standard output is no terminal: this screen needs one (for other programs there is \
         `etude practice --script`)"
    )]
    NoTerminal,
    /// Another part of the program has entered it.
    #[error("the terminal is entered already")]
    Twice,
    /// The keyboard can't be read.
    #[error(transparent)]
    Keyboard(#[from] OpenError),
    /// The terminal refuses its settings or what is written to it.
    #[error("the terminal can't be set up: {0}")]
    Device(#[from] io::Error),
}

/// What has to be undone, kept where a panic hook finds it.
struct Entered {
    saved: tty::Saved,
    screen: bool,
    other_keys: bool,
    loop_sender: Sender<Message>,
}

static ENTERED: Mutex<Option<Entered>> = Mutex::new(None);
static HOOK: Once = Once::new();

thread_local! {
    /// True on the thread that entered the terminal.
    static OF_SCREEN: Cell<bool> = const { Cell::new(false) };
}

fn entered() -> MutexGuard<'static, Option<Entered>> {
    ENTERED.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Entered {
    /// The bytes that undo what entering turned on.
    fn farewell(&self) -> Vec<u8> {
        let mut bytes = POP.to_vec();
        if self.other_keys {
            bytes.extend_from_slice(PLAIN_OTHER_KEYS);
        }
        if self.screen {
            bytes.extend_from_slice(LEAVE_SCREEN);
        }
        bytes
    }
}

fn write(bytes: &[u8]) -> io::Result<()> {
    let mut output = tty::output()?;
    output.write_all(bytes)?;
    output.flush()
}

/// Lets a panic of the screen's thread leave the terminal before its words
/// are printed, and makes a panic of any other thread a message to the loop.
/// Without an entered terminal the hook from before acts alone.
fn install_hook() {
    HOOK.call_once(|| {
        let original = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let of_screen = OF_SCREEN.get();
            let mut guard = if of_screen {
                // The lock may be held by the very code that panics.
                let Ok(guard) = ENTERED.try_lock() else { return original(info) };
                guard
            } else {
                // No other thread ever panics while it holds the lock.
                entered()
            };
            match guard.take() {
                Some(entered) if of_screen => {
                    // Nothing can be done about a failure here.
                    let _ = write(&entered.farewell());
                    let _ = entered.saved.restore();
                    drop(guard);
                    original(info);
                }
                Some(entered) => {
                    let name = std::thread::current().name().unwrap_or("unnamed").to_owned();
                    let trace = std::backtrace::Backtrace::capture();
                    let mut words = format!("thread '{name}' {info}");
                    if trace.status() == std::backtrace::BacktraceStatus::Captured {
                        words = format!("{words}\n{trace}");
                    }
                    // Where the loop has ended there is nothing left to end.
                    let _ = entered.loop_sender.send(Message::Panicked(words));
                    *guard = Some(entered);
                }
                None => {
                    drop(guard);
                    original(info);
                }
            }
        }));
    });
}

/// The screen and the keyboard of the terminal.
pub struct Terminal {
    screen: ratatui::Terminal<FrameBackend>,
    keyboard: Keyboard,
    level: Level,
    ground: Ground,
    /// True where the flags in force were told since the last question.
    flags_told: bool,
    /// Until when answers are waited for.
    answers_until: Option<Micros>,
    /// Last questions that have no answer yet.
    unanswered: u32,
    held: VecDeque<Message>,
    gone: bool,
}

impl std::fmt::Debug for Terminal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Terminal").field("level", &self.level).finish_non_exhaustive()
    }
}

impl Terminal {
    /// Enters the full screen.
    ///
    /// # Errors
    /// [`EnterError`] where there is no terminal or it refuses; it is then as
    /// it was before.
    pub fn enter() -> Result<Self, EnterError> {
        Self::begin(true)
    }

    /// Asks the terminal what it grants, without a change to its screen, and
    /// waits for the answers (250 ms at most).
    ///
    /// # Errors
    /// As [`Terminal::enter`].
    pub fn probe() -> Result<Probe, EnterError> {
        let mut terminal = Self::begin(false)?;
        let mut ended_by = None;
        while let Some(until) = terminal.answers_until {
            let now = terminal.now();
            match terminal.recv(Some(until)) {
                Some(Message::Signal(number)) => ended_by = Some(number),
                Some(Message::Gone) => break,
                None if now >= until => break,
                _ => {}
            }
        }
        let answered = terminal.unanswered == 0;
        terminal.leave();
        let size = tty::size()?;
        let (level, ground) = (terminal.level, terminal.ground);
        Ok(Probe { level, ground, answered, size, ended_by })
    }

    fn begin(screen: bool) -> Result<Self, EnterError> {
        if screen && !tty::is_terminal() {
            return Err(EnterError::NoTerminal);
        }
        let mut guard = entered();
        if guard.is_some() {
            return Err(EnterError::Twice);
        }
        install_hook();
        OF_SCREEN.set(true);
        // Colour is decided by our theme; the cell writer's own reading of
        // NO_COLOR would take bold and reverse away as well.
        crossterm::style::force_color_output(true);
        let keyboard = Keyboard::open()?;
        let output = tty::output()?;
        let backend = FrameBackend::new(Box::new(output));
        let drawn = ratatui::Terminal::new(backend)?;
        *guard = Some(Entered {
            saved: tty::Saved::enter_raw()?,
            screen,
            other_keys: false,
            loop_sender: keyboard.sender(),
        });
        drop(guard);
        let mut terminal = Self {
            screen: drawn,
            keyboard,
            level: Level::Plain,
            ground: Ground::Unknown,
            flags_told: false,
            answers_until: None,
            unanswered: 0,
            held: VecDeque::new(),
            gone: false,
        };
        terminal.turn_on(screen)?;
        Ok(terminal)
    }

    fn turn_on(&mut self, screen: bool) -> io::Result<()> {
        let mut bytes = if screen { ENTER_SCREEN.to_vec() } else { Vec::new() };
        self.flags_told = false;
        if ASKS {
            bytes.extend_from_slice(ASK_FLAGS);
            // The Linux console has no answer, and old ones print the question.
            if std::env::var_os("TERM").is_none_or(|term| term != "linux") {
                bytes.extend_from_slice(ASK_GROUND);
            }
            bytes.extend_from_slice(ASK_LAST);
            self.answers_until = Some(self.now() + ANSWER_PATIENCE);
            self.unanswered += 1;
        }
        write(&bytes)
    }

    /// What the terminal tells about keys, as far as it has answered.
    pub fn level(&self) -> Level {
        self.level
    }

    /// The terminal's background, as far as it has answered.
    pub fn ground(&self) -> Ground {
        self.ground
    }

    /// The time on the clock that events are stamped with.
    pub fn now(&self) -> Micros {
        self.keyboard.now()
    }

    /// A way for other threads to send messages to the screen's loop.
    pub fn sender(&self) -> Sender<Message> {
        self.keyboard.sender()
    }

    /// The next message; none where the moment `until` comes first. The
    /// terminal's own answers have taken effect when this returns.
    pub fn recv(&mut self, until: Option<Micros>) -> Option<Message> {
        if let Some(message) = self.held.pop_front() {
            return Some(message);
        }
        let earliest = [until, self.answers_until].into_iter().flatten().min();
        let timeout = earliest.map(|at| crate::input::clock::duration(at.since(self.now())));
        let message = self.keyboard.recv(timeout);
        if let Some(message) = &message {
            self.note(message);
        }
        if self.answers_until.is_some_and(|at| at <= self.now()) {
            self.no_more_answers();
        }
        message
    }

    /// The next message that is already there.
    pub fn try_recv(&mut self) -> Option<Message> {
        if let Some(message) = self.held.pop_front() {
            return Some(message);
        }
        let message = self.keyboard.try_recv()?;
        self.note(&message);
        Some(message)
    }

    /// Puts a message back, to be the next.
    pub fn hold(&mut self, message: Message) {
        self.held.push_front(message);
    }

    fn note(&mut self, message: &Message) {
        match message {
            Message::Gone => self.gone = true,
            Message::Reply(Reply::Flags(flags)) => {
                self.flags_told = true;
                self.level = Level::of_flags(Granted::from_bits_truncate(*flags));
            }
            Message::Reply(Reply::Background(colour)) => {
                self.ground = if Reply::is_light(*colour) { Ground::Light } else { Ground::Dark };
            }
            Message::Reply(Reply::Attributes) => {
                self.unanswered = self.unanswered.saturating_sub(1);
                if self.unanswered == 0 {
                    self.no_more_answers();
                }
            }
            // Only now is it known: a terminal may ignore the request.
            Message::Reply(Reply::ExtendedKeys) if self.level == Level::Plain => {
                self.level = Level::ModifyOtherKeys;
            }
            _ => {}
        }
    }

    /// Asks a terminal without the open protocol for the next best.
    fn no_more_answers(&mut self) {
        self.answers_until = None;
        if matches!(self.level, Level::Enhanced(_)) {
            if self.flags_told {
                return;
            }
            // After a stop it may be another terminal that shows the screen.
            self.level = Level::Plain;
        }
        if let Some(entered) = entered().as_mut().filter(|e| e.screen && !e.other_keys) {
            // A terminal that can't be written to ends at the next frame.
            entered.other_keys = write(MODIFY_OTHER_KEYS).is_ok();
        }
    }

    /// Draws one frame: one write, inside a synchronized update.
    ///
    /// # Errors
    /// What the system says when writing fails; the terminal may have gone.
    pub fn draw(&mut self, render: impl FnOnce(&mut Frame)) -> io::Result<()> {
        self.screen.draw(render).map(|_| ())
    }

    /// Leaves the terminal as it was before [`Terminal::enter`]. Does nothing
    /// where it has been left.
    pub fn leave(&mut self) {
        let Some(entered) = entered().take() else { return };
        let mut bytes = entered.farewell();
        if ASKS {
            bytes.extend_from_slice(ASK_LAST);
            self.unanswered += 1;
        }
        if !self.gone && write(&bytes).is_ok() {
            self.discard_until_answered();
        }
        // A terminal that has gone has no settings to put back.
        let _ = entered.saved.restore();
    }

    /// What the terminal still sends must not reach the shell. Keys are
    /// dropped; what concerns the program is held.
    fn discard_until_answered(&mut self) {
        let until = self.now() + LEAVE_PATIENCE;
        while self.unanswered > 0 {
            let left = until.since(self.now());
            if left == Micros::ZERO {
                return;
            }
            match self.keyboard.recv(Some(crate::input::clock::duration(left))) {
                Some(Message::Reply(Reply::Attributes)) => self.unanswered -= 1,
                Some(Message::Event(_) | Message::Reply(_)) => {}
                Some(Message::Gone) => {
                    self.gone = true;
                    self.held.push_back(Message::Gone);
                    return;
                }
                Some(other) => self.held.push_back(other),
                None => return,
            }
        }
    }

    /// Leaves the terminal and stops the program until the shell continues it;
    /// [`Message::Continued`] follows.
    ///
    /// # Errors
    /// What the system says where the program can't be stopped.
    pub fn suspend(&mut self) -> io::Result<()> {
        self.leave();
        tty::stop_self()
    }

    /// Enters the terminal again after a stop, with an empty screen.
    ///
    /// # Errors
    /// What the system says where the terminal refuses.
    pub fn resume(&mut self) -> io::Result<()> {
        let mut guard = entered();
        if let Some(entered) = guard.as_ref() {
            // Stopped by force: modes may or may not still be on. Undo, redo.
            write(&entered.farewell())?;
            entered.saved.raw_again()?;
        } else {
            *guard = Some(Entered {
                saved: tty::Saved::enter_raw()?,
                screen: true,
                other_keys: false,
                loop_sender: self.keyboard.sender(),
            });
        }
        if let Some(entered) = guard.as_mut() {
            entered.other_keys = false;
        }
        drop(guard);
        self.turn_on(true)?;
        self.clear()
    }

    /// Empties the screen, so that the next frame draws everything.
    ///
    /// # Errors
    /// What the system says when writing fails.
    pub fn clear(&mut self) -> io::Result<()> {
        let (width, height) = tty::size()?;
        self.screen.resize(ratatui::layout::Rect::new(0, 0, width, height))
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        self.leave();
    }
}

/// What a terminal told when it was asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Probe {
    /// What it tells about keys. Plain also where modifyOtherKeys would work:
    /// only a key can prove that.
    pub level: Level,
    /// Its background.
    pub ground: Ground,
    /// False where it answered nothing within 250 ms.
    pub answered: bool,
    /// Columns and rows.
    pub size: (u16, u16),
    /// The signal that came meanwhile and asks the program to end.
    pub ended_by: Option<i32>,
}
