//! The views of a survey that the real command could have kept: glyphs and
//! styles as snapshots, every size, without colour, in ASCII.

use super::*;
use crate::layout::shipped;
use crate::survey::{Answers, Counts, FIGURES, Promise, Work};
use crate::ui::tests::{ASCII, DARK, LIGHT, picture};
use tempfile::TempDir;

const TODAY: i32 = 20_800;
const TEXT: &str = "let gauge = {\"quay\": [3.4, 3.9], \"pier\": (2, 5)};\n\
    if (tide >= 3 && tide != high) { log(&tide | mask); }\n\
    path = \"/srv/tides/2031\"; mean = (a + b) / 2; _low = x - 1;\n\
    The lamp was lit at six, and the fog lifted: nobody saw it.\n";

/// Parts, when they were promised, and after how much practice.
const PROMISED: [(&str, i32, f64); 4] =
    [("symbols", 60, 0.0), ("numbers", 60, 300.0), ("numbers", 9, 300.0), ("navigation", 9, 0.0)];

fn promise((part, days_ago, minutes): (&str, i32, f64)) -> Promise {
    Promise {
        day: TODAY - days_ago,
        layout: "tern-split".into(),
        part: part.into(),
        minutes,
        minutes_before: 0.0,
        then: -60.0,
        saved: [40.0, 10.0, 70.0],
    }
}

fn home() -> TempDir {
    let home = TempDir::new().unwrap();
    let mut answers = Answers::default();
    answers.set(FIGURES[5], 5.0).unwrap();
    let kept = KeptSurvey {
        day: TODAY - 3,
        texts: 12,
        kinds: vec![("C and C++".into(), 12, 209)],
        counts: Counts::of(TEXT),
        work: Some(Work::Code),
        answers,
        promises: PROMISED.map(promise).into(),
    };
    kept.write(home.path()).unwrap();
    home
}

fn state(home: &TempDir, sight: Sight, actions: &[Action]) -> State {
    let layout = shipped::load("tern-split").unwrap();
    let old = shipped::load("plain-ansi");
    // Without optimization a longer look takes long.
    let look = (Effort { starts: 1, moves: 60 }, Patience { bounds: 3 });
    let mut state = State { look, ..State::default() };
    state.read(home.path(), (&layout, old.as_ref()), TODAY);
    state.sight = sight;
    for action in actions {
        state.act(*action, &layout);
    }
    state.propose(&layout);
    state
}

fn drawn(state: &State, theme: Theme, (width, height): (u16, u16)) -> Buffer {
    let layout = shipped::load("tern-split").unwrap();
    let mut buf = Buffer::empty(Rect::new(0, 0, width, height));
    View { state, layout: &layout, theme }.draw(buf.area, &mut buf);
    buf
}

const UP: Action = Action::Up;

#[test]
fn the_views() {
    let home = home();
    for (name, sight, actions, size, theme) in [
        ("need_80x24_dark", Sight::Need, &[][..], (80, 24), DARK),
        ("need_100x40_light", Sight::Need, &[UP][..], (100, 40), LIGHT),
        ("need_40x12_ascii", Sight::Need, &[][..], (40, 12), ASCII),
        ("cost_80x24_dark", Sight::Cost, &[][..], (80, 24), DARK),
        ("cost_40x12_plain", Sight::Cost, &[][..], (40, 12), Theme::PLAIN),
        ("first_80x24_dark", Sight::First, &[][..], (80, 24), DARK),
        ("first_100x40_plain", Sight::First, &[][..], (100, 40), Theme::PLAIN),
        ("places_80x24_dark", Sight::Places, &[UP, UP][..], (80, 24), DARK),
        ("places_160x45_light", Sight::Places, &[UP, UP][..], (160, 45), LIGHT),
        ("places_80x24_ascii", Sight::Places, &[][..], (80, 24), ASCII),
        ("promised_80x24_dark", Sight::Promised, &[][..], (80, 24), DARK),
        ("promised_40x12_plain", Sight::Promised, &[][..], (40, 12), Theme::PLAIN),
    ] {
        let buf = drawn(&state(&home, sight, actions), theme, size);
        insta::assert_snapshot!(name, picture(&buf));
    }
}

#[test]
fn tab_goes_through_the_views_and_arrows_through_the_layers() {
    let home = home();
    let layout = shipped::load("tern-split").unwrap();
    let mut state = state(&home, Sight::Need, &[]);
    let seen = |state: &State| picture(&drawn(state, Theme::PLAIN, (80, 24)));
    for word in ["[cost]", "[first]", "[places]", "[promised]", "[need]"] {
        state.act(Action::Next, &layout);
        assert!(seen(&state).contains(word), "{word}");
    }
    state.act(Action::Previous, &layout);
    assert!(seen(&state).contains("[promised]"));
    let first = state.layer;
    for _ in 0..layout.layers.len() {
        state.act(Action::Down, &layout);
    }
    assert_eq!(state.layer, first, "round and round");
}

/// Navigation, which the text needs most, has no symbol to move.
#[test]
fn what_would_lie_better_is_looked_at_where_something_may_move() {
    let home = home();
    let layout = shipped::load("tern-split").unwrap();
    let mut state = state(&home, Sight::First, &[]);
    let needed_most = state.layer;
    state.act(Action::Next, &layout);
    assert_ne!(state.layer, needed_most);
    assert!(matches!(state.proposals.get(&state.id()), Some(Ok(_))));
    // Who goes on to a layer where nothing moves is told so.
    while state.layer != needed_most {
        state.act(Action::Down, &layout);
    }
    assert!(
        picture(&drawn(&state, Theme::PLAIN, (80, 24))).contains("no symbol here that may move")
    );
}

/// Every size is drawn, and nothing panics.
#[test]
fn every_size_is_drawn() {
    let home = home();
    for sight in Sight::ALL {
        let state = state(&home, sight, &[UP, UP]);
        for (width, height) in [(1, 1), (20, 5), (39, 11), (40, 12), (60, 18), (200, 60)] {
            let buf = drawn(&state, Theme::PLAIN, (width, height));
            assert_eq!(buf.area.width, width);
        }
    }
}

#[test]
fn without_a_survey_it_says_how_to_make_one() {
    let home = TempDir::new().unwrap();
    let seen = picture(&drawn(&state(&home, Sight::Need, &[]), Theme::PLAIN, (80, 24)));
    assert!(seen.contains("No survey of your texts yet") && seen.contains("etude survey ~/notes"));
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0, "looking makes nothing");
    std::fs::write(home.path().join(crate::store::SURVEY), "{").unwrap();
    let seen = picture(&drawn(&state(&home, Sight::Need, &[]), Theme::PLAIN, (200, 24)));
    assert!(seen.contains("survey.json, line 1"), "{seen}");
}
