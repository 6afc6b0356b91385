//! Keys on systems without a Unix terminal, by crossterm's reader.
//!
//! Against the reader of Unix systems this loses: the key's place on the
//! board, the text of dead keys and input methods, the time at which a key
//! arrived before the thread ran, and the terminal's replies (the level stays
//! plain). Signals other than the closing of the window don't exist there.
//! This file has been compiled for no such system by the project's own tests.

use super::clock::Clock;
use super::{Message, OpenError};
use crate::keyboard::{Modifiers, NamedKey};
use crate::session::{Event, EventKind, KeyEvent, KeyState, Stroke, StrokeKey};
use crate::units::Micros;
use crossterm::event::{self, KeyCode, KeyEventKind, KeyModifiers};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

/// How often the thread looks whether it should stop.
const LOOK: Duration = Duration::from_millis(100);

/// The keyboard of the terminal: one thread behind a queue.
#[derive(Debug)]
pub struct Keyboard {
    clock: Clock,
    messages: Receiver<Message>,
    sender: Sender<Message>,
    stop: Arc<AtomicBool>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Keyboard {
    /// Starts reading.
    ///
    /// # Errors
    /// [`OpenError::Thread`] where the thread can't be started.
    pub fn open() -> Result<Self, OpenError> {
        let (sender, messages) = mpsc::channel();
        let clock = Clock::start();
        let stop = Arc::new(AtomicBool::new(false));
        let (to, stopped) = (sender.clone(), Arc::clone(&stop));
        let thread = std::thread::Builder::new()
            .name("input".to_owned())
            .spawn(move || run(clock, &to, &stopped))
            .map_err(OpenError::Thread)?;
        Ok(Self { clock, messages, sender, stop, thread: Some(thread) })
    }

    /// The next message; none where `timeout` passes first.
    pub fn recv(&self, timeout: Option<Duration>) -> Option<Message> {
        let received = match timeout {
            None => self.messages.recv().map_err(|_| RecvTimeoutError::Disconnected),
            Some(timeout) => self.messages.recv_timeout(timeout),
        };
        match received {
            Ok(message) => Some(message),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => Some(Message::Gone),
        }
    }

    /// The next message that is already there.
    pub fn try_recv(&self) -> Option<Message> {
        self.messages.try_recv().ok()
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
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            // Its panic was told by the panic hook.
            let _ = thread.join();
        }
    }
}

fn run(clock: Clock, to: &Sender<Message>, stop: &AtomicBool) {
    while !stop.load(Ordering::SeqCst) {
        match event::poll(LOOK) {
            Ok(false) => continue,
            Ok(true) => {}
            Err(_) => break,
        }
        let at = clock.now();
        let Ok(read) = event::read() else { break };
        let kind = match read {
            event::Event::Key(key) => match key_event(key) {
                Some(key) => EventKind::Key(key),
                None => continue,
            },
            event::Event::Paste(text) => {
                EventKind::Paste(text.chars().count().min(super::parser::PASTE_CAP))
            }
            event::Event::FocusGained => EventKind::FocusGained,
            event::Event::FocusLost => EventKind::FocusLost,
            event::Event::Resize(..) => {
                if to.send(Message::Resize).is_err() {
                    return;
                }
                continue;
            }
            event::Event::Mouse(_) => continue,
        };
        if to.send(Message::Event(Event { at, kind })).is_err() {
            return;
        }
    }
    // Nobody listens any more where this fails.
    let _ = to.send(Message::Gone);
}

fn key_event(key: event::KeyEvent) -> Option<KeyEvent> {
    let mut modifiers = Modifiers::empty();
    for (theirs, ours) in [
        (KeyModifiers::SHIFT, Modifiers::SHIFT),
        (KeyModifiers::CONTROL, Modifiers::CTRL),
        (KeyModifiers::ALT, Modifiers::ALT),
        (KeyModifiers::SUPER, Modifiers::META),
        (KeyModifiers::HYPER, Modifiers::META),
        (KeyModifiers::META, Modifiers::META),
    ] {
        modifiers.set(ours, key.modifiers.contains(theirs) || modifiers.contains(ours));
    }
    let named = |name| Some(StrokeKey::Named(name));
    let code = match key.code {
        KeyCode::Char(c) => Some(StrokeKey::Char(c)),
        KeyCode::Enter => named(NamedKey::Enter),
        KeyCode::Tab => named(NamedKey::Tab),
        KeyCode::BackTab => {
            modifiers |= Modifiers::SHIFT;
            named(NamedKey::Tab)
        }
        KeyCode::Backspace => named(NamedKey::Backspace),
        KeyCode::Esc => named(NamedKey::Escape),
        KeyCode::Delete => named(NamedKey::Delete),
        KeyCode::Insert => named(NamedKey::Insert),
        KeyCode::Home => named(NamedKey::Home),
        KeyCode::End => named(NamedKey::End),
        KeyCode::PageUp => named(NamedKey::PageUp),
        KeyCode::PageDown => named(NamedKey::PageDown),
        KeyCode::Left => named(NamedKey::ArrowLeft),
        KeyCode::Right => named(NamedKey::ArrowRight),
        KeyCode::Up => named(NamedKey::ArrowUp),
        KeyCode::Down => named(NamedKey::ArrowDown),
        KeyCode::Menu => named(NamedKey::ContextMenu),
        KeyCode::F(n) => NamedKey::function(n).map(StrokeKey::Named),
        _ => None,
    }?;
    let text = match code {
        StrokeKey::Char(c) => {
            let command = modifiers.intersects(Modifiers::CTRL | Modifiers::ALT | Modifiers::META);
            (!command).then(|| c.to_string())
        }
        StrokeKey::Named(_) | StrokeKey::Level5Shift => None,
    };
    let state = match key.kind {
        KeyEventKind::Press => KeyState::Press,
        KeyEventKind::Repeat => KeyState::Repeat,
        KeyEventKind::Release => KeyState::Release,
    };
    Some(KeyEvent {
        stroke: Stroke { key: code, modifiers, text, base: None },
        state,
        batched: false,
    })
}
