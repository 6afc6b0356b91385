//! The one thread that reads the terminal and the signals.

use super::clock::{Clock, duration};
use super::parser::Parsed;
use super::stamp::Stamper;
use super::{Message, OpenError};
use crate::session::{Event, EventKind};
use crate::units::Micros;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags};
use signal_hook::SigId;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP, SIGWINCH};
use std::fs::File;
use std::io::{self, Read, Write};
use std::os::fd::{AsFd, OwnedFd};
use std::os::unix::net::UnixStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

const ENDING: [i32; 4] = [SIGTERM, SIGHUP, SIGINT, SIGQUIT];
const OTHERS: [i32; 3] = [SIGTSTP, SIGCONT, SIGWINCH];

/// How long dropping the keyboard waits for its thread.
const END_PATIENCE: Duration = Duration::from_millis(500);

/// The terminal that keys come from: standard input where it is a terminal,
/// otherwise the controlling terminal.
///
/// It is opened anew by its name, so that reading never waits: when the
/// terminal is left, what was typed is dropped, perhaps just between the poll
/// that told of it and the read. Setting that on standard input itself would
/// reach every program that shares it. Where the name can't be opened (another
/// user's terminal), standard input is read as it is.
///
/// # Errors
/// What the system says where there is none.
pub fn open_terminal() -> io::Result<OwnedFd> {
    let anew = |path: &str| {
        let flags = OFlags::RDWR | OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::CLOEXEC;
        rustix::fs::open(path, flags, Mode::empty())
    };
    let stdin = io::stdin();
    if rustix::termios::isatty(&stdin) {
        return match name_of(&stdin).map(|name| anew(&name)) {
            Some(Ok(terminal)) => Ok(terminal),
            _ => stdin.as_fd().try_clone_to_owned(),
        };
    }
    // By its own name where possible: not every system can poll /dev/tty.
    let own_name = name_of(io::stdout());
    Ok(anew(own_name.as_deref().unwrap_or("/dev/tty"))?)
}

fn name_of(terminal: impl AsFd) -> Option<String> {
    rustix::termios::ttyname(terminal, Vec::new()).ok().and_then(|name| name.into_string().ok())
}

/// The keyboard of the terminal, with the signals: one thread behind a queue.
#[derive(Debug)]
pub struct Keyboard {
    clock: Clock,
    messages: Receiver<Message>,
    sender: Sender<Message>,
    resized: Arc<AtomicBool>,
    stop: Arc<AtomicBool>,
    closed: Arc<AtomicBool>,
    waker: UnixStream,
    thread: Option<JoinHandle<()>>,
    /// Closed when the thread has ended.
    ended: Receiver<()>,
    actions: Vec<SigId>,
}

impl Keyboard {
    /// Starts reading. The signals TERM, HUP, INT, QUIT, TSTP, CONT and WINCH
    /// become messages until the keyboard is dropped; afterwards they act as
    /// they do by default.
    ///
    /// # Errors
    /// [`OpenError`] where there is no terminal, or signals or threads fail.
    pub fn open() -> Result<Self, OpenError> {
        let terminal = open_terminal().map_err(OpenError::NoTerminal)?;
        let (waker, woken) = UnixStream::pair().map_err(OpenError::Signals)?;
        woken.set_nonblocking(true).map_err(OpenError::Signals)?;
        waker.set_nonblocking(true).map_err(OpenError::Signals)?;
        let closed = Arc::new(AtomicBool::new(false));
        let mut actions = Vec::new();
        let caught = catch_signals(&waker, &closed, &mut actions).map_err(OpenError::Signals)?;
        let (sender, messages) = mpsc::channel();
        let (stop, resized) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicBool::new(false)));
        let clock = Clock::start();
        let mut reader = Reader {
            clock,
            terminal,
            woken,
            caught,
            sender: sender.clone(),
            resized: Arc::clone(&resized),
            stop: Arc::clone(&stop),
            stamper: Stamper::default(),
            items: Vec::new(),
            queue: RunQueue(None),
        };
        let (ends, ended) = mpsc::channel();
        let thread = std::thread::Builder::new()
            .name("input".to_owned())
            .spawn(move || {
                let _ends = ends;
                reader.run();
            })
            .map_err(OpenError::Thread)?;
        let thread = Some(thread);
        Ok(Self { clock, messages, sender, resized, stop, closed, waker, thread, ended, actions })
    }

    /// The next message; none where `timeout` passes first. Without a timeout
    /// it waits for as long as it takes.
    pub fn recv(&self, timeout: Option<Duration>) -> Option<Message> {
        let received = match timeout {
            None => self.messages.recv().map_err(|_| RecvTimeoutError::Disconnected),
            Some(timeout) => self.messages.recv_timeout(timeout),
        };
        match received {
            Ok(message) => Some(self.seen(message)),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(Message::Gone),
        }
    }

    /// The next message that is already there.
    pub fn try_recv(&self) -> Option<Message> {
        self.messages.try_recv().ok().map(|message| self.seen(message))
    }

    fn seen(&self, message: Message) -> Message {
        if message == Message::Resize {
            self.resized.store(false, Ordering::SeqCst);
        }
        message
    }

    /// The time on the clock that events are stamped with.
    pub fn now(&self) -> Micros {
        self.clock.now()
    }

    /// A way for other threads to send messages to the screen's loop.
    pub fn sender(&self) -> Sender<Message> {
        self.sender.clone()
    }
}

impl Drop for Keyboard {
    /// Stops the thread and lets signals act as by default again.
    fn drop(&mut self) {
        self.closed.store(true, Ordering::SeqCst);
        self.stop.store(true, Ordering::SeqCst);
        let woken = (&self.waker).write(b"!");
        for action in self.actions.drain(..) {
            signal_hook::low_level::unregister(action);
        }
        // A full pipe wakes the thread as well as a byte does.
        let wakes = woken.is_ok() || woken.is_err_and(|e| e.kind() == io::ErrorKind::WouldBlock);
        if let Some(thread) = self.thread.take().filter(|_| wakes) {
            // Ending must not hang on a thread that waits for a key after all.
            let waited = self.ended.recv_timeout(END_PATIENCE);
            if waited != Err(RecvTimeoutError::Timeout) {
                // Its panic was told by the panic hook.
                let _ = thread.join();
            }
        }
    }
}

type Caught = Vec<(i32, Arc<AtomicBool>)>;

fn catch_signals(
    waker: &UnixStream,
    closed: &Arc<AtomicBool>,
    actions: &mut Vec<SigId>,
) -> io::Result<Caught> {
    let mut caught = Vec::new();
    for signal in ENDING.into_iter().chain(OTHERS) {
        if ![SIGCONT, SIGWINCH].contains(&signal) {
            // Never undone: without any action the signal would be ignored.
            signal_hook::flag::register_conditional_default(signal, Arc::clone(closed))?;
        }
        let flag = Arc::new(AtomicBool::new(false));
        actions.push(signal_hook::flag::register(signal, Arc::clone(&flag))?);
        // After the flag: actions run in the order in which they were made.
        actions.push(signal_hook::low_level::pipe::register(signal, waker.try_clone()?)?);
        caught.push((signal, flag));
    }
    Ok(caught)
}

/// How long the thread waited for a processor after it was woken.
struct RunQueue(Option<File>);

impl RunQueue {
    #[cfg(target_os = "linux")]
    fn open() -> Self {
        Self(File::open("/proc/thread-self/schedstat").ok())
    }

    #[cfg(not(target_os = "linux"))]
    fn open() -> Self {
        Self(None)
    }

    /// Nanoseconds spent waiting, and slices run, since the thread began.
    /// Source: the kernel's documentation of scheduler statistics.
    fn read(&self) -> Option<(u64, u64)> {
        use std::os::unix::fs::FileExt;
        let mut text = [0; 96];
        let length = self.0.as_ref()?.read_at(&mut text, 0).ok()?;
        let text = std::str::from_utf8(&text[..length]).ok()?;
        let mut numbers = text.split_ascii_whitespace().skip(1).map(str::parse);
        Some((numbers.next()?.ok()?, numbers.next()?.ok()?))
    }
}

/// The wait between two readings; zero unless exactly one slice began, for
/// otherwise it can't be told which part of the wait came after the key.
fn queue_wait(before: Option<(u64, u64)>, after: Option<(u64, u64)>) -> Micros {
    match (before, after) {
        (Some((wait, slices)), Some((later, more))) if more == slices + 1 => {
            Micros(later.saturating_sub(wait) / 1000)
        }
        _ => Micros::ZERO,
    }
}

struct Reader {
    clock: Clock,
    terminal: OwnedFd,
    woken: UnixStream,
    caught: Caught,
    sender: Sender<Message>,
    resized: Arc<AtomicBool>,
    stop: Arc<AtomicBool>,
    stamper: Stamper,
    items: Vec<(Micros, Parsed)>,
    queue: RunQueue,
}

impl Reader {
    fn run(&mut self) {
        // Here, not where the reader is made: it is this thread's own wait.
        self.queue = RunQueue::open();
        let mut bytes = [0; 4096];
        loop {
            let before = self.queue.read();
            let timeout = self.stamper.deadline().map(|at| duration(at.since(self.clock.now())));
            let timeout = timeout.and_then(|timeout| Timespec::try_from(timeout).ok());
            let mut fds = [
                PollFd::new(&self.terminal, PollFlags::IN),
                PollFd::new(&self.woken, PollFlags::IN),
            ];
            let polled = poll(&mut fds, timeout.as_ref());
            let woke = self.clock.now();
            let (terminal, signals) = (fds[0].revents(), fds[1].revents());
            match polled {
                Err(rustix::io::Errno::INTR) => continue,
                Err(_) => return self.send_gone(),
                Ok(_) => {}
            }
            if !signals.is_empty() && !self.take_signals() {
                return;
            }
            if terminal.is_empty() {
                if self.stamper.deadline().is_some_and(|at| at <= woke) {
                    self.stamper.flush(&mut self.items);
                }
            } else {
                let at = woke - queue_wait(before, self.queue.read());
                match rustix::io::read(&self.terminal, &mut bytes) {
                    Ok(0) => return self.send_gone(),
                    Ok(length) => self.stamper.read(at, &bytes[..length], &mut self.items),
                    Err(rustix::io::Errno::INTR | rustix::io::Errno::AGAIN) => {}
                    Err(_) => return self.send_gone(),
                }
            }
            if !self.send_items() {
                return;
            }
        }
    }

    /// False where the thread should end.
    fn take_signals(&mut self) -> bool {
        let mut marks = [0; 64];
        while self.woken.read(&mut marks).is_ok_and(|n| n > 0) {}
        if self.stop.load(Ordering::SeqCst) {
            return false;
        }
        for (signal, flag) in &self.caught {
            if !flag.swap(false, Ordering::SeqCst) {
                continue;
            }
            let message = match *signal {
                SIGWINCH if self.resized.swap(true, Ordering::SeqCst) => continue,
                SIGWINCH => Message::Resize,
                SIGTSTP => Message::Suspend,
                SIGCONT => Message::Continued,
                signal => Message::Signal(signal),
            };
            if self.sender.send(message).is_err() {
                return false;
            }
        }
        true
    }

    fn send_items(&mut self) -> bool {
        for (at, item) in self.items.drain(..) {
            let kind = match item {
                Parsed::Key(key) => {
                    panic_if_tested();
                    EventKind::Key(key)
                }
                Parsed::Paste(count) => EventKind::Paste(count),
                Parsed::FocusIn => EventKind::FocusGained,
                Parsed::FocusOut => EventKind::FocusLost,
                Parsed::Reply(reply) => {
                    if self.sender.send(Message::Reply(reply)).is_err() {
                        return false;
                    }
                    continue;
                }
            };
            if self.sender.send(Message::Event(Event { at, kind })).is_err() {
                return false;
            }
        }
        true
    }

    /// A signal that came with the hang-up goes first: it sets the exit status.
    fn send_gone(&mut self) {
        if self.take_signals() {
            // Nobody listens any more where this fails.
            let _ = self.sender.send(Message::Gone);
        }
    }
}

/// Lets the tests of the program see what a panic of this thread does.
fn panic_if_tested() {
    #[cfg(debug_assertions)]
    assert!(
        std::env::var_os("ETUDE_TEST_PANIC").is_none_or(|what| what != "input"),
        "the input thread panics, as the test asked"
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_counts_only_with_exactly_one_new_slice() {
        assert_eq!(queue_wait(Some((1_000, 5)), Some((251_000, 6))), Micros(250));
        assert_eq!(queue_wait(Some((1_000, 5)), Some((251_000, 7))), Micros::ZERO);
        assert_eq!(queue_wait(Some((1_000, 5)), Some((1_000, 5))), Micros::ZERO);
        assert_eq!(queue_wait(None, Some((1, 6))), Micros::ZERO);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn the_kernel_tells_the_wait() {
        let (wait, slices) = RunQueue::open().read().unwrap();
        let (later, more) = RunQueue::open().read().unwrap();
        assert!(later >= wait && more >= slices);
    }
}
