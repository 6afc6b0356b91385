//! The session engine: scenario files (events in, numbers out) and laws.

use etude::drill::{Drill, Edit, EditRequest, Flow, Prompt, Source, Strikes, Way, What, tools};
use etude::editor::{Buffer, Goal, Place, Span, Task, common};
use etude::keyboard::{NamedKey, Output};
use etude::layout::{Cluster, LayerId, RouteTable, shipped};
use etude::session::metrics::minimum_string_distance;
use etude::session::{
    DrillResult, Effect, Event, EventKind, Flags, KeyEvent, KeyState, Keystroke, Level, Session,
    Spec, Stroke, Tally,
};
use etude::units::Micros;
use proptest::prelude::*;
use serde::Deserialize;
use std::fs;
use std::path::Path;
use std::sync::Arc;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Scenario {
    about: String,
    layout: Option<String>,
    /// Numbers of layers with their marker keys.
    #[serde(default)]
    markers: Vec<(u8, String)>,
    /// Numbers of the layers that the drill practises.
    #[serde(default)]
    practises: Vec<u8>,
    flow: String,
    #[serde(default)]
    lines: Vec<Vec<String>>,
    /// Prompts of actions, after the lines: titles with what is due.
    #[serde(default)]
    actions: Vec<Vec<(String, String)>>,
    /// The actions are told from the start, and struck by hand.
    #[serde(default)]
    told_by_hand: bool,
    /// Editing tasks, after the actions.
    #[serde(default)]
    edits: Vec<EditTask>,
    events: Vec<(u64, String)>,
    expect: Expect,
}

/// A text, where the cursor stands (line, column), and one goal.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct EditTask {
    text: String,
    at: [usize; 2],
    go: Option<[usize; 2]>,
    select: Option<[[usize; 2]; 2]>,
    delete: Option<[[usize; 2]; 2]>,
    move_line: Option<[usize; 2]>,
}

impl EditTask {
    fn prompt(&self, layout: &str) -> Prompt {
        let layout = shipped::load(layout).unwrap();
        let bindings = Arc::new(common().unwrap().clone());
        let mut routes = RouteTable::build(&layout);
        routes.add_chords(&layout, bindings.iter().map(|(key, _)| key));
        let tools = Arc::new(tools(&EditRequest {
            layout: &layout,
            routes: &routes,
            what: What::Cluster(Cluster::Navigation),
            bindings: &bindings,
            arrives: &|_| true,
            time_of: &|_| None,
            own: None,
            seed: 0,
            ordinal: 0,
        }));
        let at = |[line, column]: [usize; 2]| Place::new(line, column);
        let span = |[start, end]: [[usize; 2]; 2]| Span { start: at(start), end: at(end) };
        let goal = self
            .go
            .map(|place| Goal::Cursor(at(place)))
            .or(self.select.map(|ends| Goal::Selection(span(ends))))
            .or(self.delete.map(|ends| Goal::Deletion(span(ends))))
            .or(self.move_line.map(|[from, to]| Goal::LineMove { from, to }))
            .unwrap();
        let task = Task::new(&Buffer::new(&self.text), at(self.at), bindings.habits(), goal);
        Prompt::Edit(Arc::new(Edit::new(task.unwrap(), &bindings, &tools).unwrap()))
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Expect {
    end: String,
    verdicts: Vec<String>,
    latencies_ms: Option<Vec<i64>>,
    flags: Option<Vec<String>>,
    layers: Option<Vec<u8>>,
    /// The reach to the access key; -1 where none was told.
    reaches_ms: Option<Vec<i64>>,
    downs_ms: Option<Vec<u64>>,
    /// C, INF, IF, F.
    counts: Option<[u32; 4]>,
    wpm: Option<f64>,
    active_ms: Option<u64>,
    /// At how many moments an answer was shown.
    shown: Option<usize>,
    timed: Option<usize>,
    /// Of each editing task: keys struck, par, detours, misses.
    edits: Option<Vec<[u32; 4]>>,
    /// What was due at each press, as it was judged.
    due: Option<Vec<String>>,
}

fn key(text: &str) -> Stroke {
    match text.parse().unwrap_or_else(|e| panic!("{e}")) {
        Output::Text(text) => Stroke::char(text.chars().next().unwrap()),
        Output::Key(key) => Stroke::named(key, etude::keyboard::Modifiers::empty()),
        Output::Chord(chord) => Stroke {
            modifiers: chord.modifiers,
            ..match chord.key {
                etude::keyboard::ChordKey::Char(c) => Stroke::char(c),
                etude::keyboard::ChordKey::Named(key) => Stroke::named(key, chord.modifiers),
            }
        },
    }
}

fn event(at: Micros, word: &str) -> Event {
    let state =
        |text: &str, state| EventKind::Key(KeyEvent { stroke: key(text), state, batched: false });
    let kind = match word.split_once(' ') {
        None if word == "(focus-lost)" => EventKind::FocusLost,
        None if word == "(focus)" => EventKind::FocusGained,
        None if word == "(interrupted)" => EventKind::Interrupted,
        None if word == "(paste)" => EventKind::Paste(5),
        None if word == "(tick)" => EventKind::Tick,
        None if word == "(leave)" => EventKind::Leave,
        None => state(word, KeyState::Press),
        Some(("up", text)) => state(text, KeyState::Release),
        Some(("repeat", text)) => state(text, KeyState::Repeat),
        Some(("batched", text)) => {
            EventKind::Key(KeyEvent { stroke: key(text), state: KeyState::Press, batched: true })
        }
        Some(_) => panic!("no event: {word}"),
    };
    Event { at, kind }
}

fn drill(flow: Flow, layers: Vec<LayerId>, lines: Vec<Vec<Output>>) -> Drill {
    Drill {
        title: "scenario".into(),
        cluster: Cluster::Symbols,
        layers,
        flow,
        source: Source::Shipped,
        prompts: lines.into_iter().map(Prompt::Text).collect(),
        left_out: Vec::new(),
    }
}

fn session(layout: Option<&str>, markers: &[(u8, String)], drill: &Drill) -> Session {
    let routes = layout.map_or_else(RouteTable::default, |name| {
        let mut layout = shipped::load(name).unwrap_or_else(|| panic!("no layout {name}"));
        for (layer, marker) in markers {
            layout.layers[usize::from(*layer)].marker = Some(marker.parse().unwrap());
        }
        let mut routes = RouteTable::build(&layout);
        routes.add_chords(&layout, drill.prompts.iter().flat_map(Prompt::keys));
        routes
    });
    Session::new(Spec { routes: Arc::new(routes), level: Level::default() })
}

struct Seen {
    keystrokes: Vec<Keystroke>,
    downs: Vec<Micros>,
    shown: usize,
    result: Option<DrillResult>,
    end: &'static str,
}

fn play(session: &mut Session, events: &[Event]) -> Seen {
    let mut seen =
        Seen { keystrokes: Vec::new(), downs: Vec::new(), shown: 0, result: None, end: "open" };
    for event in events {
        for effect in session.apply(event) {
            match effect {
                Effect::Keystroke(keystroke) => seen.keystrokes.push(*keystroke),
                Effect::Down { down, .. } => seen.downs.push(down),
                Effect::DrillDone(result) => {
                    seen.end = "done";
                    seen.result = Some(*result);
                }
                Effect::Left(result) => {
                    seen.end = "left";
                    seen.result = result.map(|r| *r).or(seen.result);
                }
                Effect::Shown { .. } => seen.shown += 1,
                Effect::LineDone | Effect::Leaving(_) => {}
            }
        }
    }
    seen
}

fn names(flags: Flags) -> String {
    flags
        .iter_names()
        .map(|(name, _)| name)
        .filter(|n| *n != "UNTIMED")
        .collect::<Vec<_>>()
        .join(" ")
}

#[test]
fn scenarios() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scenarios");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 8, "scenario files have gone");
    for file in files {
        let name = file.file_name().unwrap().to_string_lossy().into_owned();
        let text = fs::read_to_string(&file).unwrap();
        let scenario: Scenario = toml::from_str(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
        let what = format!("{name}: {}", scenario.about);
        let lines = scenario
            .lines
            .iter()
            .map(|line| line.iter().map(|item| item.parse().unwrap()).collect())
            .collect();
        let strikes = scenario.actions.iter().map(|steps| {
            let steps = steps.iter().map(|(title, due)| (title.clone(), due.parse().unwrap()));
            let mut strikes = Strikes::new(steps);
            if scenario.told_by_hand {
                (strikes.told, strikes.way) = (true, Way::Hand);
            }
            Prompt::Strike(strikes)
        });
        let practised = scenario.practises.into_iter().map(LayerId).collect();
        let mut drill = drill(Flow::from_word(&scenario.flow).unwrap(), practised, lines);
        drill.prompts.extend(strikes);
        let layout = scenario.layout.as_deref();
        drill.prompts.extend(scenario.edits.iter().map(|task| task.prompt(layout.unwrap())));
        let pars: Vec<u32> =
            drill.prompts.iter().filter_map(Prompt::edit).map(|edit| edit.par() as u32).collect();
        let mut session = session(layout, &scenario.markers, &drill);
        session.start(drill);
        let events: Vec<Event> =
            scenario.events.iter().map(|(at, word)| event(Micros::from_ms(*at), word)).collect();
        let seen = play(&mut session, &events);
        let expect = scenario.expect;
        let verdicts: Vec<_> =
            seen.keystrokes.iter().map(|k| k.verdict.word().to_owned()).collect();
        assert_eq!(verdicts, expect.verdicts, "{what}");
        assert_eq!(seen.end, expect.end, "{what}");
        if let Some(latencies) = expect.latencies_ms {
            let got: Vec<_> = seen
                .keystrokes
                .iter()
                .map(|k| k.latency.map_or(-1, |l| i64::try_from(l.0 / 1000).unwrap()))
                .collect();
            assert_eq!(got, latencies, "{what}");
        }
        if let Some(flags) = expect.flags {
            let got: Vec<_> = seen.keystrokes.iter().map(|k| names(k.flags)).collect();
            assert_eq!(got, flags, "{what}");
        }
        if let Some(layers) = expect.layers {
            let got: Vec<_> = seen.keystrokes.iter().map(|k| k.layer.0).collect();
            assert_eq!(got, layers, "{what}");
        }
        if let Some(reaches) = expect.reaches_ms {
            let got: Vec<_> = seen
                .keystrokes
                .iter()
                .map(|k| k.reach.map_or(-1, |r| i64::try_from(r.0 / 1000).unwrap()))
                .collect();
            assert_eq!(got, reaches, "{what}");
        }
        if let Some(downs) = expect.downs_ms {
            let got: Vec<_> = seen.downs.iter().map(|d| d.0 / 1000).collect();
            assert_eq!(got, downs, "{what}");
        }
        if let Some(shown) = expect.shown {
            assert_eq!(seen.shown, shown, "{what}");
        }
        if let Some(due) = expect.due {
            let got: Vec<_> = seen.keystrokes.iter().map(|k| k.expected.to_string()).collect();
            assert_eq!(got, due, "{what}");
        }
        if let Some(edits) = expect.edits {
            let outcome = seen.result.as_ref().map_or(&[][..], |result| &result.edits);
            let got: Vec<[u32; 4]> = outcome
                .iter()
                .zip(pars)
                .map(|(e, par)| [e.struck.len() as u32, par, e.detours, e.misses])
                .collect();
            assert_eq!(got, edits, "{what}");
        }
        if let Some(timed) = expect.timed {
            assert_eq!(
                seen.keystrokes.iter().filter(|k| k.timed().is_some()).count(),
                timed,
                "{what}"
            );
        }
        let counts = seen.result.as_ref().map_or_else(|| session.counts(), |r| r.counts);
        if let Some(expected) = expect.counts {
            let got =
                [counts.correct, counts.incorrect_not_fixed, counts.incorrect_fixed, counts.fixes];
            assert_eq!(got, expected, "{what}");
        }
        if let Some(wpm) = expect.wpm {
            let got = counts.words_per_minute().unwrap();
            assert!((got - wpm).abs() < 1e-6, "{what}: {got} wpm");
        }
        if let Some(active) = expect.active_ms {
            assert_eq!(session.active(), Micros::from_ms(active), "{what}");
        }
    }
}

fn any_item() -> impl Strategy<Value = Output> {
    prop_oneof![
        6 => prop::sample::select(vec!['a', 'b', '{', ' ']).prop_map(Output::char),
        1 => prop::sample::select(vec![NamedKey::Enter, NamedKey::Backspace, NamedKey::Escape])
            .prop_map(Output::Key),
    ]
}

fn any_drill() -> impl Strategy<Value = Drill> {
    let lines = prop::collection::vec(prop::collection::vec(any_item(), 1..8), 1..4);
    (lines, prop::bool::ANY).prop_map(|(lines, stay)| {
        drill(if stay { Flow::Stay } else { Flow::Repair }, Vec::new(), lines)
    })
}

fn any_events() -> impl Strategy<Value = Vec<Event>> {
    let word = prop::sample::select(vec![
        "a",
        "a",
        "b",
        "{",
        "Space",
        "Enter",
        "Backspace",
        "Escape",
        "Shift",
        "F13",
        "up a",
        "repeat a",
        "batched b",
        "(focus-lost)",
        "(focus)",
        "(paste)",
        "(tick)",
        "Ctrl+C",
    ]);
    prop::collection::vec((0_u64..900, word), 0..80).prop_map(|steps| {
        let mut at = 0;
        steps
            .into_iter()
            .map(|(gap, word)| {
                at += gap;
                event(Micros::from_ms(at), word)
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Replaying a log gives the same keystrokes and results; so does a log
    /// taken in two parts; and the tally is a fold over the keystrokes.
    #[test]
    fn replay_gives_the_same(drill in any_drill(), events in any_events(), cut in 0_usize..80) {
        let mut first = session(None, &[], &drill);
        first.start(drill.clone());
        let live = play(&mut first, &events);
        let mut second = session(None, &[], &drill);
        second.start(drill.clone());
        let (head, tail) = events.split_at(cut.min(events.len()));
        let mut keystrokes = play(&mut second, head).keystrokes;
        keystrokes.extend(play(&mut second, tail).keystrokes);
        prop_assert_eq!(&keystrokes, &live.keystrokes);
        let tally = live.result.as_ref().map(|r| r.tally.clone()).or_else(|| first.tally().cloned());
        prop_assert_eq!(Tally::of(&live.keystrokes), tally.unwrap_or_default());
        for (n, keystroke) in live.keystrokes.iter().enumerate() {
            prop_assert_eq!(keystroke.seq as usize, n);
        }
    }

    /// Typing what is due always ends a drill, whatever was struck before.
    #[test]
    fn what_is_due_leads_to_the_end(drill in any_drill(), events in any_events()) {
        let mut session = session(None, &[], &drill);
        session.start(drill);
        play(&mut session, &events);
        let mut at = 100_000;
        let mut left = 1000;
        while let Some(due) = session.due() {
            at += 1500;
            session.apply(&event(Micros::from_ms(at), &due.output.to_string()));
            left -= 1;
            prop_assert!(left > 0, "no end in sight");
        }
    }

    /// Reference: the general-purpose string library `strsim`.
    #[test]
    fn distance_is_levenshtein(a in "[abc]{0,12}", b in "[abc]{0,12}") {
        let (x, y): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
        prop_assert_eq!(minimum_string_distance(&x, &y), strsim::levenshtein(&a, &b));
        prop_assert_eq!(
            etude::session::metrics::alignments(&x, &y).distance,
            strsim::levenshtein(&a, &b)
        );
    }
}
