//! `etude practice --script`: JSON lines instead of a screen.

use crate::input::script::{LONGEST_LINE, Request, Script, ScriptError};
use crate::practice::Practice;
use crate::report::edit;
use crate::report::script::{self, Line, PROTOCOL};
use crate::session::{DrillResult, Editing, Effect, Event, EventKind};
use crate::units::Micros;
use std::io::{BufRead, Read, Write};

/// Runs the sitting until the minutes are used up, the script leaves, or its
/// lines end. Gives back when it ended.
///
/// # Errors
/// What the system says when reading or writing fails; what no drill can be
/// made of.
pub fn run(
    practice: &mut Practice,
    lines: impl BufRead,
    out: impl Write,
) -> anyhow::Result<Micros> {
    // Before the first word: where nothing can be drilled there is nothing to say.
    practice.next_drill(Micros::ZERO)?;
    let mut talk = Talk { practice, out, now: Micros::ZERO, told: None };
    let result = talk.run(lines);
    // Whatever ended the talk: what was typed is kept.
    let now = talk.now;
    talk.practice.leave(now);
    result.map(|()| now)
}

struct Talk<'a, W> {
    practice: &'a mut Practice,
    out: W,
    now: Micros,
    /// The trouble that was told last.
    told: Option<String>,
}

impl<W: Write> Talk<'_, W> {
    fn run(&mut self, mut lines: impl BufRead) -> anyhow::Result<()> {
        let setup = self.practice.setup();
        let hello = Line::Hello {
            protocol: PROTOCOL,
            program: concat!("etude ", env!("CARGO_PKG_VERSION")),
            layout: &setup.layout.name,
            layers: setup.layout.layers.iter().map(|layer| layer.name.as_str()).collect(),
            seed: setup.seed,
            minutes: setup.budget.0 / 60_000_000,
            played: self.practice.player().is_some(),
        };
        say(&mut self.out, &hello)?;
        self.announce()?;
        let mut reader = Script::default();
        let mut number = 0;
        let mut bytes = Vec::new();
        loop {
            bytes.clear();
            // One byte more than allowed tells a line that is too long.
            let limit = LONGEST_LINE as u64 + 1;
            let read = lines.by_ref().take(limit).read_until(b'\n', &mut bytes)?;
            if read == 0 {
                break;
            }
            number += 1;
            if read as u64 == limit && bytes.last() != Some(&b'\n') {
                pass_over(&mut lines)?;
                self.refuse(number, &ScriptError::TooLong)?;
                continue;
            }
            let line = String::from_utf8_lossy(&bytes);
            if line.trim().is_empty() {
                continue;
            }
            match reader.read(line.trim()) {
                Err(error) => self.refuse(number, &error)?,
                Ok(Request::Leave) => break,
                Ok(Request::Event(event)) => {
                    if self.event(&event)? {
                        break;
                    }
                }
                Ok(Request::Next) => {
                    self.end_drill()?;
                    self.next_drill()?;
                }
                Ok(Request::Again) => {
                    self.end_drill()?;
                    self.practice.again(self.now);
                    self.announce()?;
                }
            }
        }
        self.end_drill()?;
        let bye = Line::Bye {
            drills: self.practice.begun(),
            active_us: self.practice.session().active().0,
        };
        say(&mut self.out, &bye)?;
        Ok(())
    }

    fn refuse(&mut self, line: usize, error: &ScriptError) -> anyhow::Result<()> {
        say(&mut self.out, &Line::Error { line, message: error.to_string() })
    }

    fn end_drill(&mut self) -> anyhow::Result<()> {
        if self.practice.session().drill().is_some() {
            let event = Event { at: self.now, kind: EventKind::Leave };
            self.event(&event)?;
        }
        Ok(())
    }

    fn next_drill(&mut self) -> anyhow::Result<()> {
        self.practice.next_drill(self.now)?;
        self.announce()
    }

    fn announce(&mut self) -> anyhow::Result<()> {
        let number = self.practice.begun();
        if let Some(drill) = self.practice.session().drill() {
            say(&mut self.out, &script::drill(drill, number, self.practice.reason()))?;
        }
        self.prompt()
    }

    fn prompt(&mut self) -> anyhow::Result<()> {
        if let Some((number, prompt)) = self.practice.session().prompt() {
            say(&mut self.out, &script::prompt(number, prompt))?;
        }
        self.due()
    }

    fn due(&mut self) -> anyhow::Result<()> {
        let session = self.practice.session();
        let line = session.line().map(|(_, line)| line.place());
        let place = line.or_else(|| session.editing().map(Editing::keys));
        if let (Some(due), Some(place)) = (session.due(), place) {
            let setup = self.practice.setup();
            let route = session.due_route();
            say(&mut self.out, &script::due(place, &due, route, &setup.layout))?;
        }
        if self.practice.trouble() != self.told.as_deref() {
            self.told = self.practice.trouble().map(str::to_owned);
            if let Some(message) = &self.told {
                say(&mut self.out, &Line::Notice { message })?;
            }
        }
        Ok(())
    }

    /// True where the session is over.
    fn event(&mut self, event: &Event) -> anyhow::Result<bool> {
        self.now = event.at;
        let effects = self.practice.apply(event);
        let layout = std::sync::Arc::clone(&self.practice.setup().layout);
        let asked = matches!(event.kind, EventKind::Leave);
        let mut judged = false;
        for effect in effects {
            match effect {
                Effect::Keystroke(keystroke) => {
                    judged = true;
                    say(&mut self.out, &script::judgement(&keystroke, &layout))?;
                }
                Effect::Down { seq, down } => {
                    say(&mut self.out, &Line::Down { seq, down_us: down.0 })?;
                }
                Effect::Shown { place } => say(&mut self.out, &Line::Shown { place })?,
                Effect::LineDone => {
                    judged = false;
                    self.prompt()?;
                }
                Effect::Leaving(presses) => say(&mut self.out, &Line::Leaving { presses })?,
                Effect::DrillDone(result) => {
                    judged = false;
                    self.result(&result)?;
                    if self.practice.over_budget() {
                        return Ok(true);
                    }
                    self.next_drill()?;
                }
                Effect::Left(result) => {
                    if let Some(result) = result {
                        self.result(&result)?;
                    }
                    return Ok(!asked);
                }
            }
        }
        if judged {
            if let Some(editing) = self.practice.session().editing() {
                say(&mut self.out, &Line::Editor(edit::state(editing)))?;
            }
            self.due()?;
        }
        Ok(false)
    }

    fn result(&mut self, result: &DrillResult) -> anyhow::Result<()> {
        let (number, setup) = (self.practice.begun(), self.practice.setup());
        let edits = self.practice.finished().map_or_else(Vec::new, |finished| {
            edit::done(result, &finished.drill, &setup.routes, &setup.layout)
        });
        say(&mut self.out, &script::result(number, result, edits, &setup.layout))
    }
}

fn say(out: &mut impl Write, line: &Line<'_>) -> anyhow::Result<()> {
    serde_json::to_writer(&mut *out, line).map_err(std::io::Error::from)?;
    out.write_all(b"\n")?;
    out.flush()?;
    Ok(())
}

/// Reads on to the end of a line that is too long to keep.
fn pass_over(lines: &mut impl BufRead) -> std::io::Result<()> {
    loop {
        let chunk = lines.fill_buf()?;
        if chunk.is_empty() {
            return Ok(());
        }
        if let Some(end) = chunk.iter().position(|byte| *byte == b'\n') {
            lines.consume(end + 1);
            return Ok(());
        }
        let all = chunk.len();
        lines.consume(all);
    }
}
