//! Making a layout on screen: describing it, and learning it from the keyboard.
//!
//! An [`App`] of its own, begun by `etude layout new` and
//! `etude layout capture`. What is found goes to a [`Keep`], so that the
//! screen itself touches no file.

mod list;
mod setup;
mod taking;

#[cfg(test)]
mod tests;

use crate::capture::{Capture, Draft};
use crate::session::{Event, EventKind, Level};
use crate::ui::run::{App, Flow, News};
use crate::ui::theme::Theme;
use crate::units::Micros;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use setup::{Settled, Setup};
use taking::{Taken, Taking};

/// Where what is found is kept.
pub trait Keep {
    /// The layout file's name, for the person.
    fn file(&self) -> &str;

    /// Keeps `lines` of a capture at once, each with its end.
    ///
    /// # Errors
    /// What went wrong and what to do, in words for the person. The lines are
    /// given again with the next ones.
    fn note(&mut self, lines: &str) -> Result<(), String>;

    /// Writes the layout file, never over another one; after that the notes of
    /// the capture are not needed any more.
    ///
    /// # Errors
    /// What went wrong and what to do, in words for the person.
    fn write(&mut self, text: &str) -> Result<(), String>;
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// Left before the file was written; a capture can be gone on with.
    Left,
    /// The file is written.
    Written,
    /// The file is written, and practice is wished for.
    Practise,
}

/// The screen.
pub struct Making {
    theme: Theme,
    level: Level,
    stage: Stage,
    keep: Box<dyn Keep>,
    /// Notes that could not be kept yet.
    unkept: String,
    trouble: Option<String>,
    end: Option<End>,
}

enum Stage {
    Setup(Setup),
    Taking(Box<Taking>),
}

impl Making {
    /// Begins with describing the board; `capturing` puts learning from the
    /// keyboard first among what can follow.
    pub fn describe(name: &str, capturing: bool, keep: Box<dyn Keep>, theme: Theme) -> Self {
        Self::at(Stage::Setup(Setup::new(name, capturing)), keep, theme)
    }

    /// Begins with learning `draft` from the keyboard.
    pub fn capture(draft: Draft, keep: Box<dyn Keep>, theme: Theme) -> Self {
        let capture = Capture::begin(draft, Level::default());
        Self::at(Stage::Taking(Box::new(Taking::new(capture, false))), keep, theme)
    }

    /// Goes on with a capture.
    pub fn resume(capture: Capture, keep: Box<dyn Keep>, theme: Theme) -> Self {
        Self::at(Stage::Taking(Box::new(Taking::new(capture, true))), keep, theme)
    }

    fn at(stage: Stage, keep: Box<dyn Keep>, theme: Theme) -> Self {
        Self {
            theme,
            level: Level::default(),
            stage,
            keep,
            unkept: String::new(),
            trouble: None,
            end: None,
        }
    }

    /// How it ended; left while it has not.
    pub fn end(&self) -> End {
        self.end.unwrap_or(End::Left)
    }

    /// What could not be kept, for a last word after leaving.
    pub fn last_word(&self) -> Option<&str> {
        self.trouble.as_deref().filter(|_| !self.unkept.is_empty())
    }

    fn keep_notes(&mut self) {
        if let Stage::Taking(taking) = &mut self.stage {
            for note in taking.take_notes() {
                self.unkept.push_str(&note.line());
                self.unkept.push('\n');
            }
        }
        if self.unkept.is_empty() {
            return;
        }
        match self.keep.note(&self.unkept) {
            Ok(()) => {
                self.unkept.clear();
                self.trouble = None;
            }
            Err(trouble) => self.trouble = Some(trouble),
        }
    }

    fn write(&mut self, text: &str, end: End) {
        match self.keep.write(text) {
            Ok(()) => self.end = Some(end),
            Err(trouble) => self.trouble = Some(trouble),
        }
    }

    fn event(&mut self, event: &Event) -> bool {
        match &mut self.stage {
            Stage::Setup(setup) => match setup.event(event) {
                Settled::Same => return false,
                Settled::Changed => self.trouble = None,
                Settled::Left => self.end = Some(End::Left),
                Settled::Write { text, practise } => {
                    self.write(&text, if practise { End::Practise } else { End::Written });
                }
                Settled::Capture(draft) => {
                    let capture = Capture::begin(*draft, self.level);
                    self.stage = Stage::Taking(Box::new(Taking::new(capture, false)));
                }
            },
            Stage::Taking(taking) => {
                let taken = taking.event(event);
                self.keep_notes();
                match taken {
                    Taken::Same => return false,
                    Taken::Changed => {}
                    Taken::Left => self.end = Some(End::Left),
                    Taken::Write { text, practise } => {
                        self.write(&text, if practise { End::Practise } else { End::Written });
                    }
                }
            }
        }
        true
    }

    /// Draws the screen.
    pub fn render(&self, area: Rect, buf: &mut Buffer) {
        let trouble = self.trouble.as_deref();
        match &self.stage {
            Stage::Setup(setup) => {
                setup.draw(area, buf, self.keep.file(), trouble, self.theme);
            }
            Stage::Taking(taking) => {
                taking.draw(area, buf, self.keep.file(), trouble, self.theme);
            }
        }
    }
}

impl App for Making {
    fn handle(&mut self, news: News) -> Flow {
        let redraw = match news {
            News::Event(Event { kind: EventKind::Leave, .. }) => {
                self.keep_notes();
                return Flow::Leave;
            }
            News::Event(event) => self.event(&event),
            News::Level(level) => {
                self.level = level;
                if let Stage::Taking(taking) = &mut self.stage {
                    taking.set_level(level);
                }
                true
            }
            News::Ground(ground) => {
                self.theme.ground = ground;
                true
            }
            News::Resize => true,
        };
        match (self.end, redraw) {
            (Some(_), _) => Flow::Leave,
            (None, true) => Flow::Redraw,
            (None, false) => Flow::Same,
        }
    }

    fn draw(&mut self, frame: &mut Frame) {
        self.render(frame.area(), frame.buffer_mut());
    }

    fn next_wake(&self) -> Option<Micros> {
        None
    }
}
