//! The views of a history that the real engine wrote: glyphs and styles as
//! snapshots, every size, without colour, in ASCII.

use super::*;
use crate::layout::shipped;
use crate::progress::{Forecast, Outlook, sample};
use crate::store::Parts;
use crate::ui::tests::{ASCII, DARK, LIGHT, picture};
use crate::units::Micros;
use tempfile::TempDir;

fn data() -> &'static Path {
    sample::history_of_24_days()
}

fn layout() -> Layout {
    shipped::load("tern-split").unwrap()
}

/// The layout used before.
fn old() -> Option<Layout> {
    shipped::load("plain-ansi")
}

fn state(which: Which, actions: &[Action]) -> State {
    let layout = layout();
    let mut state = State::new(Asked::default());
    state.which = which;
    state.read(data(), (&layout, old().as_ref()), None, sample::TODAY);
    for action in actions {
        if state.act(*action) {
            state.read(data(), (&layout, old().as_ref()), None, sample::TODAY);
        }
    }
    state
}

fn drawn(state: &State, theme: Theme, (width, height): (u16, u16)) -> Buffer {
    let mut buf = Buffer::empty(Rect::new(0, 0, width, height));
    View { state, layout: &layout(), theme }.draw(buf.area, &mut buf);
    buf
}

const PLAIN: Theme = Theme::PLAIN;
const DOWN: Action = Action::Down;

#[test]
fn the_views() {
    let symbols = [DOWN, DOWN];
    for (name, which, actions, size, theme) in [
        ("layers_80x24_dark", Which::Layers, &symbols[..], (80, 24), DARK),
        ("layers_100x40_light", Which::Layers, &[DOWN][..], (100, 40), LIGHT),
        ("layers_40x12_plain", Which::Layers, &[DOWN][..], (40, 12), PLAIN),
        ("layers_80x24_ascii", Which::Layers, &symbols[..], (80, 24), ASCII),
        ("board_80x24_dark", Which::Board, &symbols[..], (80, 24), DARK),
        ("board_errors_80x24_plain", Which::Board, &[Action::Turn][..], (80, 24), PLAIN),
        ("board_100x40_light", Which::Board, &[][..], (100, 40), LIGHT),
        ("board_40x12_ascii", Which::Board, &symbols[..], (40, 12), ASCII),
        ("switches_80x24_dark", Which::Switches, &symbols[..], (80, 24), DARK),
        ("switches_40x12_plain", Which::Switches, &symbols[..], (40, 12), PLAIN),
        ("keys_80x24_dark", Which::Items, &[DOWN, DOWN, DOWN][..], (80, 24), DARK),
        ("keys_40x12_ascii", Which::Items, &[Action::Turn][..], (40, 12), ASCII),
        ("days_80x24_dark", Which::Calendar, &[Action::Up][..], (80, 24), DARK),
        ("days_40x12_ascii", Which::Calendar, &[][..], (40, 12), ASCII),
    ] {
        let seen = picture(&drawn(&state(which, actions), theme, size));
        insta::assert_snapshot!(name, seen);
    }
}

#[test]
fn what_a_model_expects_is_drawn_where_there_is_a_model() {
    let mut state = state(Which::Layers, &[DOWN, DOWN]);
    let expected = |day| Forecast {
        day: sample::TODAY + day,
        low: Micros::from_ms(250),
        middle: Micros::from_ms(280),
        high: Micros::from_ms(310),
    };
    let layer = &mut state.data.as_mut().unwrap().layers[2];
    layer.outlook = Some(Outlook {
        n_mastered: 7,
        n_learning: 14,
        n_not_met: 4,
        n_items: 25,
        stands_still: false,
        recent_gain: Some((0.08, 0.03, 0.13)),
        forecast: (1..8).map(expected).collect(),
        reach: None,
    });
    let seen = picture(&drawn(&state, PLAIN, (80, 24)));
    assert!(
        seen.contains("7 of 25 keys mastered, 14 learning, 4 not met")
            && seen.contains("╎ expected"),
        "{seen}"
    );
    assert!(seen.contains("╎┈╎") && seen.contains("2026-12-02"), "{seen}");
}

#[test]
fn keys_go_through_views_rows_orders_and_ranges() {
    let mut state = state(Which::Layers, &[]);
    let mut seen = vec![state.which];
    for _ in 0..4 {
        assert!(!state.act(Action::Next));
        seen.push(state.which);
    }
    assert_eq!(seen, Which::ALL);
    state.act(Action::Next);
    assert_eq!(state.which, Which::Layers);
    state.act(Action::Previous);
    assert_eq!(state.which, Which::Calendar);
    assert!(state.act(Action::More) && state.act(Action::More));
    assert!(!state.act(Action::More), "there is no more than everything");
    for _ in 0..3 {
        assert!(state.act(Action::Less));
    }
    assert!(!state.act(Action::Less));
    state.which = Which::Items;
    let orders: Vec<Order> = (0..5)
        .map(|_| {
            state.act(Action::Turn);
            state.order
        })
        .collect();
    assert_eq!(orders.last(), Some(&Order::Slow));
    for (n, order) in orders.iter().enumerate() {
        assert!(!orders[..n].contains(order));
        let seen = picture(&drawn(&State { order: *order, ..state.clone() }, PLAIN, (80, 24)));
        assert!(seen.contains(" first, 1 to ") || seen.contains("by layer and place"), "{seen}");
    }
    // The list ends, and neither end is passed.
    for _ in 0..400 {
        state.act(DOWN);
    }
    assert!(picture(&drawn(&state, PLAIN, (80, 24))).contains('▸'));
    for _ in 0..400 {
        state.act(Action::Up);
    }
    assert_eq!(state.item, 0);
}

#[test]
fn an_asked_for_layer_and_day_are_kept_to() {
    let layout = layout();
    let since = sample::TODAY - 9;
    let mut state = State::new(Asked { since: Some(since), layer: Some("symbols".to_owned()) });
    state.read(data(), (&layout, old().as_ref()), None, sample::TODAY);
    let progress = state.data.clone().unwrap();
    assert_eq!((progress.layers.len(), progress.since), (1, Some(since)));
    for which in Which::ALL {
        state.which = which;
        let seen = picture(&drawn(&state, PLAIN, (80, 24)));
        assert!(seen.contains("since 2026-11-16"), "{seen}");
        assert!(!seen.contains("punctuation") || which == Which::Switches, "{seen}");
    }
}

#[test]
fn without_a_history_it_says_so_and_makes_nothing() {
    let home = TempDir::new().unwrap();
    let mut state = State::new(Asked::default());
    state.read(&home.path().join("etude"), (&layout(), None), None, sample::TODAY);
    let seen = picture(&drawn(&state, PLAIN, (80, 24)));
    assert!(seen.contains("No practice history yet"), "{seen}");
    assert_eq!(std::fs::read_dir(home.path()).unwrap().count(), 0);
    // Practised, but not lately.
    state.read(data(), (&layout(), None), None, sample::TODAY + 1000);
    let seen = picture(&drawn(&state, PLAIN, (80, 24)));
    assert!(seen.contains("in this range"), "{seen}");
    // Practised on another layout alone.
    let other = shipped::load("tern-small").unwrap();
    state.range = Some(RANGES.len() - 1);
    state.read(data(), (&other, None), None, sample::TODAY);
    let seen = picture(&drawn(&state, PLAIN, (80, 24)));
    assert!(seen.contains("was practised yet"), "{seen}");
}

#[test]
fn a_history_that_cant_be_read_is_told() {
    let home = TempDir::new().unwrap();
    std::fs::write(home.path().join("history.sqlite"), "a letter, not a database").unwrap();
    let mut state = State::new(Asked::default());
    state.read(home.path(), (&layout(), None), None, sample::TODAY);
    let seen = picture(&drawn(&state, PLAIN, (80, 24)));
    assert!(seen.contains("is no history") || seen.contains("damaged"), "{seen}");
}

#[test]
fn no_size_panics_and_ascii_and_plain_are_kept() {
    for which in Which::ALL {
        for actions in [&[DOWN, DOWN][..], &[DOWN, Action::Turn, Action::Less]] {
            let state = state(which, actions);
            for width in [0, 1, 39, 40, 41, 43, 59, 60, 61, 69, 70, 71, 79, 80, 130] {
                for height in [0, 1, 9, 10, 11, 12, 13, 15, 16, 17, 23, 24, 40] {
                    drawn(&state, DARK, (width, height));
                }
            }
            let seen = picture(&drawn(&state, ASCII, (80, 24)));
            let foreign: String = seen.chars().filter(|c| !c.is_ascii()).collect();
            assert_eq!(foreign.replace(['–', '—', '…', '§', '¶'], ""), "", "{seen}");
            for cell in drawn(&state, PLAIN, (80, 24)).content() {
                let reset = ratatui::style::Color::Reset;
                assert_eq!((cell.fg, cell.bg), (reset, reset));
            }
        }
    }
}

#[test]
fn the_parts_of_a_switch_stand_below_it_where_markers_told_them() {
    let spread = |ms: [u64; 5]| Spread::of(&ms.map(Micros::from_ms)).unwrap();
    let mut state = state(Which::Switches, &[]);
    let text = |state: &State, size| picture(&drawn(state, DARK, size));
    assert!(!text(&state, (80, 24)).contains("reach"));
    let switches = &mut state.data.as_mut().unwrap().switches;
    let switch = switches.iter_mut().find(|s| s.from == "base" && s.to == "symbols").unwrap();
    switch.parts = Some(Parts {
        reach: spread([150, 170, 180, 200, 220]),
        strike: spread([80, 90, 100, 110, 120]),
    });
    let seen = text(&state, (80, 24));
    assert!(
        seen.contains("  reach 180 ms (170-200), strike 100 ms (90-110), n 5, last 14 days"),
        "{seen}"
    );
    for width in [20, 40, 60, 120] {
        text(&state, (width, 12));
    }
}
