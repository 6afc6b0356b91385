//! Scripted events: JSON lines from another program.
//!
//! The format is described in `docs/script.md`. A bad line is an error about
//! that line, never an end.

use crate::keyboard::{ChordKey, LEVEL5_SHIFT, Marker, Output};
use crate::session::{Event, EventKind, KeyEvent, KeyState, Stroke, StrokeKey};
use crate::units::Micros;
use serde::Deserialize;

/// The longest line that is read, bytes.
pub const LONGEST_LINE: usize = 64 * 1024;

/// What one line asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Request {
    /// A timed event for the session.
    Event(Event),
    /// Begin the next drill now; what was typed of this one is kept.
    Next,
    /// Begin the same drill again.
    Again,
    /// End the session.
    Leave,
}

/// Why a line can't be taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ScriptError {
    /// The line is no JSON object of a known shape.
    #[error("{0}; expected an object such as {{\"at_us\":120000,\"key\":\"a\"}}")]
    Shape(String),
    /// The line is longer than [`LONGEST_LINE`].
    #[error("the line has more than {LONGEST_LINE} bytes and was passed over")]
    TooLong,
    /// The key is no output.
    #[error("{0}")]
    Key(String),
    /// Neither or more than one of `key`, `event` and `command` is given.
    #[error("expected exactly one of \"key\", \"event\" and \"command\"")]
    NotOne,
    /// A key or event has no time.
    #[error("expected \"at_us\", the time in microseconds since the start of the session")]
    NoTime,
    /// The time lies before the one of the line before.
    #[error("\"at_us\" is {got}, but the event before was at {before}; times never go back")]
    Disorder {
        /// The time of the event before, microseconds.
        before: u64,
        /// The time of this one.
        got: u64,
    },
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    at_us: Option<u64>,
    key: Option<String>,
    state: Option<RawState>,
    text: Option<String>,
    base: Option<char>,
    #[serde(default)]
    batched: bool,
    event: Option<RawEvent>,
    command: Option<RawCommand>,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum RawState {
    Press,
    Repeat,
    Release,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum RawEvent {
    FocusLost,
    FocusGained,
    Interrupted,
    Tick,
}

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum RawCommand {
    Next,
    Again,
    Leave,
}

/// Reads the lines of one script, and watches that time never goes back.
#[derive(Debug, Default)]
pub struct Script {
    latest: u64,
}

impl Script {
    /// What `line` asks for.
    ///
    /// # Errors
    /// [`ScriptError`], in words for the author of the script.
    pub fn read(&mut self, line: &str) -> Result<Request, ScriptError> {
        if line.len() > LONGEST_LINE {
            return Err(ScriptError::TooLong);
        }
        let raw: Raw =
            serde_json::from_str(line).map_err(|error| ScriptError::Shape(error.to_string()))?;
        let given = [raw.key.is_some(), raw.event.is_some(), raw.command.is_some()];
        if given.iter().filter(|given| **given).count() != 1 {
            return Err(ScriptError::NotOne);
        }
        if let Some(command) = raw.command {
            return Ok(match command {
                RawCommand::Next => Request::Next,
                RawCommand::Again => Request::Again,
                RawCommand::Leave => Request::Leave,
            });
        }
        let at = raw.at_us.ok_or(ScriptError::NoTime)?;
        if at < self.latest {
            return Err(ScriptError::Disorder { before: self.latest, got: at });
        }
        let kind = match (raw.event, &raw.key) {
            (Some(RawEvent::FocusLost), _) => EventKind::FocusLost,
            (Some(RawEvent::FocusGained), _) => EventKind::FocusGained,
            (Some(RawEvent::Interrupted), _) => EventKind::Interrupted,
            (Some(RawEvent::Tick), _) => EventKind::Tick,
            (None, Some(key)) => EventKind::Key(KeyEvent {
                stroke: stroke(key, raw.text, raw.base)?,
                state: match raw.state {
                    None | Some(RawState::Press) => KeyState::Press,
                    Some(RawState::Repeat) => KeyState::Repeat,
                    Some(RawState::Release) => KeyState::Release,
                },
                batched: raw.batched,
            }),
            (None, None) => return Err(ScriptError::NotOne),
        };
        self.latest = at;
        Ok(Request::Event(Event { at: Micros(at), kind }))
    }
}

fn stroke(key: &str, text: Option<String>, base: Option<char>) -> Result<Stroke, ScriptError> {
    if key.contains(char::is_control) {
        return Err(ScriptError::Key(format!(
            "'{}' holds a control character: expected a named key such as Enter",
            key.escape_default()
        )));
    }
    if key == LEVEL5_SHIFT {
        return Ok(Stroke::of_marker(Marker::Level5Shift));
    }
    let output: Output = key.parse().map_err(|error| ScriptError::Key(format!("{error}")))?;
    let mut stroke = match output {
        Output::Key(key) => Stroke::named(key, crate::keyboard::Modifiers::empty()),
        Output::Chord(chord) => Stroke {
            key: match chord.key {
                ChordKey::Char(c) => StrokeKey::Char(c),
                ChordKey::Named(key) => StrokeKey::Named(key),
            },
            modifiers: chord.modifiers,
            text: None,
            base: None,
        },
        Output::Text(text) => {
            let mut stroke = Stroke::char(text.chars().next().unwrap_or(' '));
            if text.chars().nth(1).is_some() {
                stroke.text = Some(text);
            }
            stroke
        }
    };
    if text.as_deref().is_some_and(|t| t.chars().any(char::is_control)) {
        return Err(ScriptError::Key("\"text\" holds a control character".into()));
    }
    stroke.text = text.or(stroke.text);
    stroke.base = base;
    Ok(stroke)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::NamedKey;

    fn one(line: &str) -> Result<Request, ScriptError> {
        Script::default().read(line)
    }

    #[test]
    fn keys_events_and_commands_are_told_apart() {
        let Ok(Request::Event(event)) = one(r#"{"at_us":5,"key":"{"}"#) else { panic!() };
        assert_eq!(event.at, Micros(5));
        let EventKind::Key(key) = event.kind else { panic!() };
        assert_eq!(key.stroke.output(), Output::char('{'));
        let Ok(Request::Event(event)) = one(r#"{"at_us":5,"key":"Enter","state":"release"}"#)
        else {
            panic!()
        };
        let EventKind::Key(key) = event.kind else { panic!() };
        assert_eq!(key.stroke.output(), Output::Key(NamedKey::Enter));
        assert_eq!(key.state, KeyState::Release);
        assert_eq!(one(r#"{"command":"next"}"#), Ok(Request::Next));
        assert_eq!(one(r#"{"command":"leave"}"#), Ok(Request::Leave));
    }

    #[test]
    fn bad_lines_say_what_was_expected() {
        for (line, word) in [
            ("", "expected an object"),
            ("[]", "expected an object"),
            (r#"{"at_us":1}"#, "exactly one"),
            (r#"{"key":"a"}"#, "at_us"),
            (r#"{"at_us":1,"key":"Entr"}"#, "no output"),
            (r#"{"at_us":1,"key":"\u0007"}"#, "control character"),
            (r#"{"at_us":1,"key":"a","text":"\u001b[2J"}"#, "control character"),
            (r#"{"at_us":1,"key":"\"\r\u000e\""}"#, "control character"),
            (r#"{"at_us":1,"key":"a","colour":1}"#, "colour"),
            (r#"{"at_us":-1,"key":"a"}"#, "expected an object"),
            (r#"{"at_us":1,"key":"a","command":"next"}"#, "exactly one"),
        ] {
            let error = one(line).unwrap_err().to_string();
            assert!(error.contains(word), "{line}: {error}");
        }
    }

    #[test]
    fn time_never_goes_back_and_a_bad_line_changes_nothing() {
        let mut script = Script::default();
        assert!(script.read(r#"{"at_us":100,"key":"a"}"#).is_ok());
        assert_eq!(
            script.read(r#"{"at_us":99,"key":"a"}"#),
            Err(ScriptError::Disorder { before: 100, got: 99 })
        );
        assert!(script.read(r#"{"at_us":100,"key":"a"}"#).is_ok());
    }
}
