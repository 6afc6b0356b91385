//! The small editor: laws over any keys, the published word boundaries, and
//! par against a search over the whole product.

use etude::editor::{
    Action, Buffer, Cursor, Editor, Goal, Habits, Line, Measure, Motion, Outcome, Place, Span,
    Task, Tool, Tools, Way, Within, WordStep, par, par_within,
};
use etude::keyboard::{Modifiers, NamedKey, Output};
use etude::units::Micros;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

/// Source: Unicode 17.0.0, auxiliary/WordBreakTest.txt, as the crate
/// unicode-segmentation carries it. A word step by the habit `word-end` ends
/// at each published boundary that closes a segment with a letter, a number or
/// an underscore, and nowhere else but at the line's end.
#[test]
fn word_steps_end_at_the_published_boundaries() {
    let mut tried = 0;
    for line in include_str!("../reference/word-break.txt").lines() {
        if line.starts_with('#') {
            continue;
        }
        let segments: Vec<String> = line
            .split(" | ")
            .map(|segment| {
                segment
                    .split(' ')
                    .map(|code| char::from_u32(u32::from_str_radix(code, 16).unwrap()).unwrap())
                    .collect()
            })
            .collect();
        let text = segments.concat();
        if text.contains('\n') {
            continue; // Parts lines here; a boundary by rule WB3a and WB3b.
        }
        tried += 1;
        let mut expected = Vec::new();
        let mut end = 0;
        for segment in &segments {
            end += segment.len();
            if segment.chars().any(|c| c.is_alphanumeric() || c == '_') || end == text.len() {
                expected.push(end);
            }
        }
        let habits = Habits { word: WordStep::WordEnd, ..Habits::default() };
        let mut editor = Editor::new(Buffer::new(&text), Place::new(0, 0), habits);
        let mut stops = Vec::new();
        while editor.apply(Action::Move(Motion::WordRight)) == Outcome::Moved {
            let before = Span { start: Place::new(0, 0), end: editor.cursor().at };
            stops.push(editor.buffer().text(before).len());
        }
        assert_eq!(stops, expected, "{line}");
    }
    assert!(tried > 1500, "{tried}");
}

fn actions() -> Vec<Action> {
    Action::all().collect()
}

#[derive(Debug, Clone)]
enum Key {
    Does(usize),
    Types(&'static str),
}

fn keys() -> impl Strategy<Value = Vec<Key>> {
    let types = prop::sample::select(vec![
        "a",
        " ",
        "潮",
        "\u{301}",
        "\u{200d}",
        "👩",
        "\t",
        "x\ny",
        "_",
        "9.",
        "\u{1F1E6}",
    ]);
    prop::collection::vec(
        prop_oneof![4 => (0..actions().len()).prop_map(Key::Does), 1 => types.prop_map(Key::Types)],
        0..40,
    )
}

fn texts() -> impl Strategy<Value = String> {
    let parts = prop::sample::select(vec![
        "tide",
        "low",
        " ",
        "  ",
        "\n",
        "\n\n",
        "-1.9",
        ", ",
        "{x}",
        "潮",
        "e\u{301}",
        "\u{301}",
        "\t",
        "👩\u{200d}🚀",
        "don't",
        "_",
        "क\u{94d}ष",
        "\u{1F1F9}",
        "\u{1F1F3}\u{1F1F9}",
    ]);
    prop::collection::vec(parts, 0..14).prop_map(|parts| parts.concat())
}

fn habits() -> impl Strategy<Value = Habits> {
    (1..5usize, any::<bool>()).prop_map(|(page, ends)| Habits {
        page,
        word: if ends { WordStep::WordEnd } else { WordStep::NextStart },
    })
}

fn strike(editor: &mut Editor, key: &Key) -> Outcome {
    match key {
        Key::Does(n) => editor.apply(actions()[*n]),
        Key::Types(text) => editor.insert(text),
    }
}

fn assert_valid(editor: &Editor) {
    let buffer = editor.buffer();
    assert!(!buffer.lines().is_empty());
    assert_eq!(Buffer::new(&buffer.to_string()), *buffer, "analysed anew");
    let cursor = editor.cursor();
    assert_eq!(buffer.nearest(cursor.at), cursor.at);
    if let Some(anchor) = cursor.anchor {
        assert_eq!(buffer.nearest(anchor), anchor);
        assert_ne!(anchor, cursor.at);
    }
    assert_eq!(buffer.place(buffer.offset(cursor.at)), cursor.at);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn any_keys_leave_a_valid_buffer_and_undo_undoes(
        text in texts(), keys in keys(), habits in habits()
    ) {
        let mut editor = Editor::new(Buffer::new(&text), Place::new(0, 0), habits);
        for key in &keys {
            let before = editor.clone();
            let outcome = strike(&mut editor, key);
            assert_valid(&editor);
            let travel = matches!(key, Key::Does(n)
                if matches!(actions()[*n], Action::Undo | Action::Redo));
            match outcome {
                Outcome::Nothing => prop_assert_eq!(before.buffer(), editor.buffer()),
                Outcome::Moved => prop_assert_eq!(before.buffer(), editor.buffer()),
                Outcome::Edited if !travel => {
                    prop_assert_ne!(before.buffer(), editor.buffer());
                    let mut back = editor.clone();
                    back.apply(Action::Undo);
                    prop_assert_eq!(back.buffer(), before.buffer());
                    prop_assert_eq!(back.cursor(), before.cursor());
                    back.apply(Action::Redo);
                    prop_assert_eq!(back.buffer(), editor.buffer());
                    prop_assert_eq!(back.cursor(), editor.cursor());
                }
                Outcome::Edited => {}
            }
        }
        while editor.apply(Action::Undo) == Outcome::Edited {
            assert_valid(&editor);
        }
        prop_assert_eq!(editor.buffer().to_string(), text);
    }
}

/// A key of its own for each of `actions`; `time` gives its milliseconds.
fn tools(actions: &[Action], time: impl Fn(usize) -> u64) -> Tools {
    Tools::new(actions.iter().enumerate().map(|(n, action)| Tool {
        action: *action,
        output: Output::of_key(NamedKey::ALL[n], Modifiers::ALT),
        time: Micros::from_ms(time(n)),
    }))
}

fn is_usable(action: Action) -> bool {
    // Deletion by motions over several lines has no key by default; taking
    // back is no way forward.
    match action {
        Action::Delete(motion) => {
            matches!(motion, Motion::Left | Motion::Right | Motion::WordLeft | Motion::WordRight)
                || matches!(motion, Motion::LineEnd | Motion::LineStart)
        }
        Action::Undo
        | Action::Redo
        | Action::Indent
        | Action::Outdent
        | Action::NewLine
        | Action::DuplicateLines => false,
        _ => true,
    }
}

/// True where what was copied could be brought back though it was deleted, which
/// is no way of deleting.
fn brings_back(action: Action, goal: &Goal) -> bool {
    matches!(goal, Goal::Deletion(_)) && matches!(action, Action::Copy | Action::Paste)
}

/// True where a line is to be moved among lines of which par does not look at
/// every block: of four and more equal ones in a row; before an empty last one, at
/// which a selection of lines gets smaller when they come to the end.
fn moves_among_others(task: &Task) -> bool {
    let lines = task.start().buffer().lines();
    let equal = |lines: &[Arc<Line>]| lines.iter().all(|line| *line == lines[0]);
    matches!(task.goal(), Goal::LineMove { .. })
        && (lines.windows(4).any(equal) || lines.last().is_some_and(|line| line.is_empty()))
}

/// What `action` makes of `editor`, if the task allows it: what is not on the way
/// is taken back in a drill. Moving equal lines is no way of going.
fn step(editor: &Editor, action: Action, task: &Task) -> Option<Editor> {
    let mut next = editor.clone();
    let outcome = next.apply(action);
    let moves_lines = matches!(action, Action::MoveLinesUp | Action::MoveLinesDown);
    let goes = moves_lines && next.buffer() == editor.buffer();
    let allowed = outcome == Outcome::Moved || task.allows(next.buffer());
    (outcome != Outcome::Nothing && allowed && !goes).then_some(next)
}

/// All that tells one state of an editor from another.
type State = (String, Cursor, String);

fn state(editor: &Editor) -> State {
    (editor.buffer().to_string(), *editor.cursor(), editor.clipboard().to_owned())
}

/// The fewest keys by trying everything that the task allows, at most `most`;
/// none where more.
fn by_force(start: &Editor, task: &Task, actions: &[Action], most: usize) -> Option<usize> {
    let mut seen = HashSet::from([state(start)]);
    let mut now = vec![start.clone()];
    for keys in 0..=most {
        if now.iter().any(|editor| task.done(editor)) {
            return Some(keys);
        }
        if keys == most {
            break;
        }
        let mut next = Vec::new();
        for editor in &now {
            for action in actions {
                let after = step(editor, *action, task);
                next.extend(after.filter(|editor| seen.insert(state(editor))));
            }
        }
        now = next;
    }
    None
}

/// The least milliseconds by trying everything that the task allows (Dijkstra
/// 1959) from `start`, and how, if it is less than `most`.
fn quicker_by_force(
    start: &Editor,
    task: &Task,
    actions: &[(Action, u64)],
    most: u64,
) -> Option<(u64, Vec<Action>)> {
    let mut seen: HashSet<State> = HashSet::new();
    let mut by_time = BTreeMap::from([(0, vec![(start.clone(), Vec::new())])]);
    while let Some((now, editors)) = by_time.pop_first() {
        for (editor, way) in editors {
            if task.done(&editor) {
                return Some((now, way));
            }
            if !seen.insert(state(&editor)) {
                continue;
            }
            for (action, time) in actions.iter().filter(|(_, time)| now + time < most) {
                if let Some(next) = step(&editor, *action, task) {
                    let way = way.iter().copied().chain([*action]).collect();
                    by_time.entry(now + time).or_default().push((next, way));
                }
            }
        }
    }
    None
}

fn play(task: &Task, from: &Editor, way: &Way) -> Editor {
    let mut editor = from.clone();
    for step in &way.steps {
        assert!(!task.done(&editor), "more keys than needed");
        editor.apply(step.action);
        let on_the_way = task.done(&editor) || task.allows(editor.buffer());
        assert!(on_the_way, "{:?}", step.action);
    }
    editor
}

fn small_texts() -> impl Strategy<Value = String> {
    let parts = prop::sample::select(vec![
        "a", "bc", "low", " ", "\n", "\n", "\n\n", ".", ", ", "潮", "1.9", "--", "don't",
    ]);
    prop::collection::vec(parts, 2..9).prop_map(|parts| parts.concat())
}

fn place(buffer: &Buffer, n: usize) -> Place {
    buffer.place(n % (buffer.offset(buffer.end()) + 1))
}

fn goal(buffer: &Buffer, kind: u8, one: usize, other: usize) -> Goal {
    let (a, b) = (place(buffer, one), place(buffer, other));
    match kind {
        0 => Goal::Cursor(a),
        1 => Goal::Selection(Span::between(a, b)),
        2 => Goal::Deletion(Span::between(a, b)),
        _ => {
            Goal::LineMove { from: a.line, to: b.line.clamp(a.line.saturating_sub(3), a.line + 3) }
        }
    }
}

/// How far the search over the whole product goes.
const FORCE: usize = 4;

/// How far that for the least time goes, in milliseconds.
const FORCE_TIME: u64 = 460;

/// The same cases each time; so many new ones with `ETUDE_PAR_CASES`.
fn config() -> ProptestConfig {
    let more = std::env::var("ETUDE_PAR_CASES").ok().and_then(|n| n.parse().ok());
    ProptestConfig {
        cases: more.unwrap_or(400),
        rng_seed: if more.is_some() { RngSeed::Random } else { RngSeed::Fixed(7) },
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    /// Par leads to the goal, and no way over the whole product of text,
    /// cursor, selection and clipboard is shorter.
    #[test]
    fn par_is_what_trying_everything_finds(
        text in small_texts(), at in 0..99usize, kind in 0..4u8, one in 0..99usize,
        other in 0..99usize, habits in habits(), without in prop::collection::vec(0..99usize, 0..8),
    ) {
        let buffer = Buffer::new(&text);
        let Some(task) = Task::new(&buffer, place(&buffer, at), habits, goal(&buffer, kind, one, other))
        else { return Ok(()) };
        if moves_among_others(&task) {
            return Ok(());
        }
        let usable: Vec<Action> = Action::all().filter(|action| is_usable(*action)).collect();
        // Left and Right stay: so do the keys that go where others select.
        let gone: Vec<Action> = without
            .iter()
            .map(|n| usable[n % usable.len()])
            .filter(|action| !matches!(action, Action::Move(Motion::Left | Motion::Right)))
            .collect();
        let kept: Vec<Action> = usable
            .into_iter()
            .filter(|action| !gone.contains(action))
            .filter(|action| !matches!(action, Action::Select(m) if gone.contains(&Action::Move(*m))))
            .collect();
        let way = par(task.start(), &task, &tools(&kept, |_| 200), Measure::Keys);
        if let Some(way) = &way {
            prop_assert!(task.done(&play(&task, task.start(), way)));
        }
        let keys = way.as_ref().map_or(usize::MAX, Way::keys);
        let par_within = |keys, states| {
            let (tools, within) = (tools(&kept, |_| 200), Within { keys, states });
            par_within(task.start(), &task, &tools, Measure::Keys, within)
        };
        for most in [keys.saturating_sub(1), keys.min(99), 99] {
            let within = par_within(most, usize::MAX);
            prop_assert_eq!(&within, &way.clone().filter(|way| way.keys() <= most));
        }
        for states in [0, 60, 150, 400] {
            let within = par_within(99, states);
            prop_assert!(within.is_none() || within == way, "{:?} in {}", within, states);
        }
        let kept: Vec<Action> =
            kept.into_iter().filter(|action| !brings_back(*action, &task.goal())).collect();
        let forced = by_force(task.start(), &task, &kept, FORCE.min(keys.saturating_sub(1)));
        prop_assert_eq!(forced, None, "par {:?} on {:?} to {:?}", way, task.start(), task.goal());
    }

    /// No way over the whole product is quicker than the one of the least time.
    #[test]
    fn the_least_time_is_what_trying_everything_finds(
        text in small_texts(), at in 0..99usize, kind in 0..4u8, one in 0..99usize,
        other in 0..99usize, habits in habits(), times in prop::collection::vec(0..60_u64, 64),
        before in prop::collection::vec(0..99usize, 0..3),
    ) {
        let buffer = Buffer::new(&text);
        let Some(task) = Task::new(&buffer, place(&buffer, at), habits, goal(&buffer, kind, one, other))
        else { return Ok(()) };
        let usable: Vec<Action> = Action::all().filter(|action| is_usable(*action)).collect();
        // A key that selects takes no less than the one that goes the same way.
        let time = |n: usize| match usable[n] {
            Action::Select(motion) => {
                let go = usable.iter().position(|action| *action == Action::Move(motion));
                100 + times[n % 64].max(go.map_or(0, |go| times[go % 64]))
            }
            _ => 100 + times[n % 64],
        };
        if moves_among_others(&task) {
            return Ok(());
        }
        let mut start = task.start().clone();
        // Lines that were selected before could be moved there and back.
        let is_move = matches!(task.goal(), Goal::LineMove { .. });
        for key in before.into_iter().filter(|_| !is_move) {
            let mut next = start.clone();
            next.apply(usable[key % usable.len()]);
            if task.allows(next.buffer()) && !task.done(&next) {
                start = next;
            }
        }
        let way = par(&start, &task, &tools(&usable, time), Measure::Time).unwrap();
        prop_assert!(task.done(&play(&task, &start, &way)));
        // Lines are moved by keys that move them, however dear these are; nothing is
        // selected only to get somewhere.
        let is_way = |action: &Action| match action {
            Action::Copy | Action::Paste => false,
            Action::Select(_) | Action::SelectAll => !matches!(task.goal(), Goal::Cursor(_)),
            _ => true,
        };
        let timed: Vec<(Action, u64)> = usable
            .iter()
            .enumerate()
            .map(|(n, action)| (*action, time(n)))
            .filter(|(action, _)| is_way(action))
            .collect();
        // At most so much, or it takes too long to try everything.
        let most = (way.time.0 / 1000).min(FORCE_TIME);
        let quicker = quicker_by_force(&start, &task, &timed, most);
        prop_assert_eq!(quicker, None, "par {:?} on {:?} to {:?}", way, start, task.goal());
    }

    /// Whoever gets there needs par or more, from wherever they are; each key
    /// of a shortest way brings the goal one key nearer.
    #[test]
    fn nobody_beats_par(
        text in texts(), at in 0..99usize, kind in 0..4u8, one in 0..99usize,
        other in 0..99usize, habits in habits(), keys in prop::collection::vec(0..99usize, 1..40),
    ) {
        let buffer = Buffer::new(&text);
        let Some(task) = Task::new(&buffer, place(&buffer, at), habits, goal(&buffer, kind, one, other))
        else { return Ok(()) };
        let usable: Vec<Action> = Action::all().filter(|action| is_usable(*action)).collect();
        let tools = tools(&usable, |n| 100 + 37 * (n as u64 % 7));
        let mut editor = task.start().clone();
        let par_of = |editor: &Editor, measure| par(editor, &task, &tools, measure);
        let first = par_of(&editor, Measure::Keys);
        prop_assert!(first.is_some(), "no way for {:?}", task);
        for (played, key) in keys.iter().enumerate() {
            let Some(way) = par_of(&editor, Measure::Keys) else { panic!("lost in {editor:?}") };
            prop_assert!(first.as_ref().unwrap().keys() <= played + way.keys());
            let quick = par_of(&editor, Measure::Time).unwrap();
            prop_assert!(quick.time <= way.time && quick.keys() >= way.keys());
            prop_assert!(task.done(&play(&task, &editor, &quick)));
            let Some(step) = way.steps.first() else { break };
            let mut next = editor.clone();
            next.apply(step.action);
            let after = par_of(&next, Measure::Keys);
            prop_assert_eq!(
                after.as_ref().map(Way::keys),
                Some(way.keys() - 1),
                "from {:?} to {:?}: {:?}, then {:?}",
                editor,
                task.goal(),
                way,
                after
            );
            let mut next = editor.clone();
            next.apply(usable[key % usable.len()]);
            if task.allows(next.buffer()) {
                editor = next;
            }
        }
    }
}

/// Among equal lines a block may pass a text that the task doesn't allow.
#[test]
fn lines_that_move_together_stay_on_the_way() {
    let buffer = Buffer::new("\n\n1.9\n\n1.9\n\n \n\n ");
    let goal = Goal::LineMove { from: 1, to: 4 };
    let task = Task::new(&buffer, Place::new(4, 0), Habits::default(), goal).unwrap();
    let usable: Vec<Action> = Action::all().filter(|action| is_usable(*action)).collect();
    let way = par(task.start(), &task, &tools(&usable, |_| 200), Measure::Keys).unwrap();
    assert!(task.done(&play(&task, task.start(), &way)));
}
