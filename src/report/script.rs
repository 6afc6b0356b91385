//! The lines that `etude practice --script` writes; see `docs/script.md`.

use super::edit;
use crate::drill::{Cue, Drill, Prompt};
use crate::layout::{AccessStep, LayerId, Layout, Route, Target};
use crate::order::Gather;
use crate::session::{DrillResult, Due, Flags, Keystroke, Spread, Tally};
use serde::Serialize;
use std::collections::BTreeMap;

/// The version of the protocol; it grows when a field changes its meaning or
/// goes away, not when one is added.
pub const PROTOCOL: u32 = 1;

/// One line.
#[derive(Debug, Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Line<'a> {
    /// First of all.
    Hello {
        /// See [`PROTOCOL`].
        protocol: u32,
        /// Version of the program.
        program: &'static str,
        /// Name of the layout.
        layout: &'a str,
        /// Names of its layers, the base layer first.
        layers: Vec<&'a str>,
        /// The seed of the drills.
        seed: u64,
        /// The session ends after so many minutes of active practice.
        minutes: u64,
        /// True where the layers are played: keys are a plain keyboard's.
        #[serde(skip_serializing_if = "std::ops::Not::not")]
        played: bool,
    },
    /// A drill begins.
    Drill {
        /// From 1.
        number: u32,
        /// For people.
        title: &'a str,
        /// The cluster.
        cluster: &'static str,
        /// `stay` or `repair`.
        flow: &'static str,
        /// How many prompts.
        prompts: usize,
        /// Characters left out, with counts.
        left_out: BTreeMap<&'a str, usize>,
        /// Why the plan chose it; left out where it did not.
        #[serde(skip_serializing_if = "Option::is_none")]
        reason: Option<&'a str>,
    },
    /// A prompt is due.
    Prompt {
        /// From 0.
        prompt: usize,
        /// `text`, `strike` or `edit`.
        kind: &'static str,
        /// Its outputs in order.
        items: Vec<String>,
        /// Of actions: what more there is to say.
        #[serde(flatten)]
        actions: Option<Actions<'a>>,
        /// Of an editing task: what it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        task: Option<edit::Task>,
    },
    /// An output is due.
    Due {
        /// Place in the prompt, from 0; the caret.
        place: usize,
        /// The output.
        output: String,
        /// The layer of its preferred route.
        layer: &'a str,
        /// The presses of its preferred route; empty without a route.
        route: Vec<Press>,
    },
    /// The editor after a key of an editing task.
    Editor(edit::State),
    /// The answer to what is due is shown from now on.
    Shown {
        /// Place in the prompt, from 0.
        place: usize,
    },
    /// A press was judged.
    Judgement(Judged<'a>),
    /// The key of a judged press came up.
    Down {
        /// Which press.
        seq: u32,
        /// How long the key was down.
        down_us: u64,
    },
    /// Esc was struck so often; three times within a second leaves.
    Leaving {
        /// 1 or 2.
        presses: usize,
    },
    /// A drill ended.
    Result(Box<Outcome<'a>>),
    /// Something that the person should know; practice goes on.
    Notice {
        /// In plain words.
        message: &'a str,
    },
    /// A line of the script can't be taken; the session goes on.
    Error {
        /// Which line of standard input, from 1.
        line: usize,
        /// What was expected.
        message: String,
    },
    /// Last of all.
    Bye {
        /// Drills begun.
        drills: u32,
        /// Active time of the session.
        active_us: u64,
    },
}

/// What a prompt says of the actions that it asks for.
#[derive(Debug, Serialize)]
pub struct Actions<'a> {
    titles: &'a [String],
    /// `layout` or `hand`.
    way: &'static str,
    /// True where nothing has to be remembered.
    told: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    before: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    after: Option<&'a str>,
}

/// One physical press of a route.
#[derive(Debug, Serialize)]
pub struct Press {
    /// `hold`, `latch`, `lock` or `strike`.
    pub press: &'static str,
    /// The key.
    pub position: String,
    /// The finger.
    pub finger: String,
    /// The layer or modifier that it makes active.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opens: Option<String>,
}

/// A judged press.
#[derive(Debug, Serialize)]
pub struct Judged<'a> {
    seq: u32,
    prompt: u16,
    place: u16,
    at_us: u64,
    expected: String,
    got: String,
    verdict: &'static str,
    latency_us: Option<u64>,
    /// Of the latency, the time to the marker of the layer, where one came.
    #[serde(skip_serializing_if = "Option::is_none")]
    reach_us: Option<u64>,
    /// True where the latency feeds the estimates.
    timed: bool,
    layer: &'a str,
    previous_layer: &'a str,
    position: Option<String>,
    finger: Option<String>,
    flags: Vec<String>,
}

/// What came of a drill.
#[derive(Debug, Serialize)]
pub struct Outcome<'a> {
    number: u32,
    complete: bool,
    active_us: u64,
    keystrokes: u32,
    words_per_minute: Option<f64>,
    keystrokes_per_character: Option<f64>,
    total_error_rate: f64,
    corrected_error_rate: f64,
    uncorrected_error_rate: f64,
    correction_efficiency: Option<f64>,
    conscientiousness: Option<f64>,
    utilised_bandwidth: Option<f64>,
    items: Vec<Item<'a>>,
    switches: Vec<Switch<'a>>,
    /// Of editing tasks only.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    edits: Vec<edit::Done>,
}

#[derive(Debug, Serialize)]
struct Item<'a> {
    output: String,
    layer: &'a str,
    due: u32,
    missed: u32,
    instead: BTreeMap<String, u32>,
    #[serde(flatten)]
    latency: Latency,
}

#[derive(Debug, Serialize)]
struct Switch<'a> {
    from: &'a str,
    to: &'a str,
    #[serde(flatten)]
    latency: Latency,
}

#[derive(Debug, Serialize)]
struct Latency {
    n: usize,
    median_us: Option<u64>,
    quartiles_us: Option<[u64; 2]>,
}

impl From<Option<Spread>> for Latency {
    fn from(spread: Option<Spread>) -> Self {
        Self {
            n: spread.map_or(0, |s| s.n),
            median_us: spread.map(|s| s.median.0),
            quartiles_us: spread.and_then(|s| s.quartiles).map(|(low, high)| [low.0, high.0]),
        }
    }
}

fn name(layout: &Layout, layer: LayerId) -> &str {
    &layout.layer(layer).name
}

/// The line for a drill that begins.
pub fn drill<'a>(drill: &'a Drill, number: u32, reason: Option<&'a str>) -> Line<'a> {
    Line::Drill {
        number,
        title: &drill.title,
        cluster: drill.cluster.word(),
        flow: drill.flow.word(),
        prompts: drill.prompts.len(),
        left_out: drill.left_out.iter().map(|(text, n)| (text.as_str(), *n)).gather(),
        reason,
    }
}

/// The line for a prompt.
pub fn prompt(number: usize, prompt: &Prompt) -> Line<'_> {
    let actions = match prompt {
        Prompt::Strike(strikes) => {
            let change = match &strikes.cue {
                Cue::Change { before, after } => Some((before.as_str(), after.as_str())),
                Cue::Title => None,
            };
            Some(Actions {
                titles: strikes.titles(),
                way: strikes.way.word(),
                told: strikes.told,
                before: change.map(|(before, _)| before),
                after: change.map(|(_, after)| after),
            })
        }
        Prompt::Text(_) | Prompt::Edit(_) => None,
    };
    Line::Prompt {
        prompt: number,
        kind: prompt.word(),
        items: prompt.items().iter().map(ToString::to_string).collect(),
        actions,
        task: prompt.edit().map(|edit| edit::task(edit)),
    }
}

/// The line for what is due.
pub fn due<'a>(place: usize, due: &Due, route: Option<&Route>, layout: &'a Layout) -> Line<'a> {
    let mut presses: Vec<Press> = Vec::new();
    if let Some(route) = route {
        presses.extend(route.accesses.iter().map(|step| access(*step, layout)));
        presses.push(Press {
            press: "strike",
            position: route.position.to_string(),
            finger: route.finger.to_string(),
            opens: None,
        });
    }
    Line::Due {
        place,
        output: due.output.to_string(),
        layer: name(layout, due.layer),
        route: presses,
    }
}

fn access(step: AccessStep, layout: &Layout) -> Press {
    Press {
        press: step.access.kind.word(),
        position: step.position.to_string(),
        finger: step.finger.to_string(),
        opens: Some(match step.access.target {
            Target::Layer(layer) => name(layout, layer).to_owned(),
            Target::Modifier(modifier) => modifier.to_string(),
        }),
    }
}

/// The words of `flags`, in lower case.
fn flag_words(flags: Flags) -> Vec<String> {
    flags.names().map(|name| name.to_lowercase().replace('_', "-")).collect()
}

/// The line for a judged press.
pub fn judgement<'a>(keystroke: &Keystroke, layout: &'a Layout) -> Line<'a> {
    Line::Judgement(Judged {
        seq: keystroke.seq,
        prompt: keystroke.prompt,
        place: keystroke.place,
        at_us: keystroke.at.0,
        expected: keystroke.expected.to_string(),
        got: keystroke.got.to_string(),
        verdict: keystroke.verdict.word(),
        latency_us: keystroke.latency.map(|l| l.0),
        reach_us: keystroke.reach.map(|reach| reach.0),
        timed: keystroke.timed().is_some(),
        layer: name(layout, keystroke.layer),
        previous_layer: name(layout, keystroke.previous_layer),
        position: keystroke.position.map(|p| p.to_string()),
        finger: keystroke.finger.map(|f| f.to_string()),
        flags: flag_words(keystroke.flags),
    })
}

/// The line for a drill's end.
pub fn result<'a>(
    number: u32,
    result: &DrillResult,
    edits: Vec<edit::Done>,
    layout: &'a Layout,
) -> Line<'a> {
    let counts = &result.counts;
    Line::Result(Box::new(Outcome {
        number,
        complete: result.complete,
        active_us: result.active.0,
        keystrokes: counts.stream,
        words_per_minute: counts.words_per_minute(),
        keystrokes_per_character: counts.keystrokes_per_character(),
        total_error_rate: counts.total_error_rate(),
        corrected_error_rate: counts.corrected_error_rate(),
        uncorrected_error_rate: counts.uncorrected_error_rate(),
        correction_efficiency: counts.correction_efficiency(),
        conscientiousness: counts.conscientiousness(),
        utilised_bandwidth: counts.utilised_bandwidth(),
        items: items(&result.tally, layout),
        switches: result
            .tally
            .switches
            .iter()
            .filter(|((from, to), _)| from != to)
            .map(|((from, to), latencies)| Switch {
                from: name(layout, *from),
                to: name(layout, *to),
                latency: Spread::of(latencies).into(),
            })
            .collect(),
        edits,
    }))
}

fn items<'a>(tally: &Tally, layout: &'a Layout) -> Vec<Item<'a>> {
    tally
        .items
        .iter()
        .map(|((layer, output), item)| Item {
            output: output.to_string(),
            layer: name(layout, *layer),
            due: item.due,
            missed: item.missed,
            instead: item.instead.iter().map(|(got, n)| (got.to_string(), *n)).gather(),
            latency: item.spread().into(),
        })
        .collect()
}
