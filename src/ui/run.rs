//! The one loop behind every full screen: messages in, frames out.
//!
//! Signals, suspension, hang-ups and panics of other threads are handled here
//! and nowhere else. A frame is drawn only after a change, and at most once
//! for all messages that were waiting together; there is no idle clock.

use super::terminal::Terminal;
use super::theme::Ground;
use crate::input::Message;
use crate::session::{Event, EventKind, Level};
use crate::units::Micros;
use ratatui::Frame;
use std::io::{self, Write};
use std::process::ExitCode;

/// Most messages handled before a frame is drawn, so that a flood of input
/// can't hold the screen back for ever.
const BATCH: usize = 256;

/// The number of the hang-up signal, for the exit status where a terminal
/// goes without one.
const HANG_UP: i32 = 1;

/// What a screen is told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum News {
    /// A key, a paste, a change of focus; an interruption after a stop; a tick
    /// at the moment of [`App::next_wake`]; and, last of all, the request to
    /// leave (signal, hang-up, panic of another thread), after which the
    /// screen is asked no more. Times are on the terminal's clock.
    Event(Event),
    /// What the terminal tells about keys has become known or changed.
    Level(Level),
    /// The background has become known.
    Ground(Ground),
    /// The size changed.
    Resize,
}

/// What follows from news.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// The screen stays as it is.
    Same,
    /// The screen has to be drawn.
    Redraw,
    /// The loop ends.
    Leave,
}

/// A full screen: state, told of news, drawn after changes.
pub trait App {
    /// Takes news.
    fn handle(&mut self, news: News) -> Flow;

    /// Draws the whole screen. Called only after a change.
    fn draw(&mut self, frame: &mut Frame);

    /// The moment at which the screen wants a tick; none where nothing changes
    /// by itself.
    fn next_wake(&self) -> Option<Micros>;
}

/// How the loop ended. The terminal is left unless the app asked for the end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// The app asked for it; the terminal is still entered, for a next screen.
    Done,
    /// A signal, by its number.
    Signal(i32),
    /// The terminal has gone.
    Gone,
    /// Another thread panicked, with these words.
    Panicked(String),
}

impl Ending {
    /// The exit status: 0, 128+n for signal n (a hang-up without a signal
    /// counts as one), 101 for a panic, whose words go to standard error.
    pub fn exit_code(&self) -> ExitCode {
        let by_signal = |n: i32| ExitCode::from(u8::try_from(128 + n).unwrap_or(255));
        match self {
            Self::Done => ExitCode::SUCCESS,
            Self::Signal(n) => by_signal(*n),
            Self::Gone => by_signal(HANG_UP),
            Self::Panicked(words) => {
                // Where standard error has gone there is nobody to tell.
                let _ = writeln!(io::stderr(), "{words}");
                ExitCode::from(101)
            }
        }
    }
}

/// Runs `app` until it, a signal, a hang-up or a panic ends it.
///
/// # Errors
/// What the system says where the terminal refuses a frame or can't be entered
/// again after a stop.
pub fn run(terminal: &mut Terminal, app: &mut dyn App) -> io::Result<Ending> {
    let ending = turn(terminal, app);
    match &ending {
        Ok(Ending::Done) => {}
        Ok(_) => terminal.leave(),
        Err(_) => {
            tell_leave(terminal, app);
            terminal.leave();
        }
    }
    ending
}

fn tell_leave(terminal: &Terminal, app: &mut dyn App) {
    // The answer makes no difference any more.
    let _ = app.handle(News::Event(Event { at: terminal.now(), kind: EventKind::Leave }));
}

fn turn(terminal: &mut Terminal, app: &mut dyn App) -> io::Result<Ending> {
    let mut known = (Level::Plain, Ground::Unknown);
    let mut changed = true;
    loop {
        if changed {
            if let Err(error) = terminal.draw(|frame| app.draw(frame)) {
                if is_hang_up(&error) {
                    tell_leave(terminal, app);
                    return Ok(Ending::Gone);
                }
                return Err(error);
            }
            panic_if_tested();
            changed = false;
        }
        let mut next = terminal.recv(app.next_wake());
        for _ in 0..BATCH {
            if let Some(message) = next {
                match take(terminal, app, message)? {
                    Step::Go(flow) => {
                        if flow == Flow::Leave {
                            return Ok(Ending::Done);
                        }
                        changed |= flow == Flow::Redraw;
                    }
                    Step::End(ending) => {
                        tell_leave(terminal, app);
                        return Ok(ending);
                    }
                }
            }
            next = terminal.try_recv();
            if next.is_none() {
                break;
            }
        }
        if let Some(left_over) = next {
            terminal.hold(left_over);
        }
        let mut flows = Vec::new();
        if known.0 != terminal.level() {
            known.0 = terminal.level();
            flows.push(app.handle(News::Level(known.0)));
        }
        if known.1 != terminal.ground() {
            known.1 = terminal.ground();
            flows.push(app.handle(News::Ground(known.1)));
        }
        let now = terminal.now();
        if app.next_wake().is_some_and(|at| at <= now) {
            flows.push(app.handle(News::Event(Event { at: now, kind: EventKind::Tick })));
        }
        if flows.contains(&Flow::Leave) {
            return Ok(Ending::Done);
        }
        changed |= flows.contains(&Flow::Redraw);
    }
}

enum Step {
    Go(Flow),
    End(Ending),
}

fn take(terminal: &mut Terminal, app: &mut dyn App, message: Message) -> io::Result<Step> {
    Ok(match message {
        Message::Event(event) => Step::Go(app.handle(News::Event(event))),
        Message::Reply(_) => Step::Go(Flow::Same),
        Message::Resize => match app.handle(News::Resize) {
            Flow::Leave => Step::Go(Flow::Leave),
            // The size itself is read when the frame is drawn.
            _ => Step::Go(Flow::Redraw),
        },
        Message::Suspend => {
            terminal.suspend()?;
            Step::Go(Flow::Same)
        }
        Message::Continued => {
            // A hang-up wakes a stopped program, and the two may come in either
            // order.
            match terminal.resume() {
                Err(error) if is_hang_up(&error) => return Ok(Step::End(Ending::Gone)),
                other => other?,
            }
            let at = terminal.now();
            match app.handle(News::Event(Event { at, kind: EventKind::Interrupted })) {
                Flow::Leave => Step::Go(Flow::Leave),
                _ => Step::Go(Flow::Redraw),
            }
        }
        Message::Signal(number) => Step::End(Ending::Signal(number)),
        Message::Gone => Step::End(Ending::Gone),
        Message::Panicked(words) => Step::End(Ending::Panicked(words)),
    })
}

/// True for what the system says when the terminal has gone.
fn is_hang_up(error: &io::Error) -> bool {
    // EIO comes from a terminal that went, ENXIO from looking for one where none
    // is left. They have no kind of their own; their numbers are the same on
    // every Unix.
    const EIO: i32 = 5;
    const ENXIO: i32 = 6;
    matches!(error.kind(), io::ErrorKind::BrokenPipe)
        || matches!(error.raw_os_error(), Some(EIO | ENXIO))
}

/// Lets the tests of the program see what a panic of the screen does.
fn panic_if_tested() {
    #[cfg(debug_assertions)]
    assert!(
        std::env::var_os("ETUDE_TEST_PANIC").is_none_or(|what| what != "ui"),
        "the screen panics, as the test asked"
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_that_went_is_known_by_either_word_of_the_system() {
        for number in [5, 6] {
            assert!(is_hang_up(&io::Error::from_raw_os_error(number)));
        }
        assert!(is_hang_up(&io::ErrorKind::BrokenPipe.into()));
        assert!(!is_hang_up(&io::Error::from_raw_os_error(28)), "a full disk is none");
    }
}
