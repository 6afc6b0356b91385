//! The invented history tells its story, and the pictures in the documents
//! are what it looks like.

use super::*;
use crate::drill::What;
use crate::layout::{Cluster, shipped};
use crate::progress::{Progress, Request, Standing};
use crate::store::{Cell, Days, KeptSurvey, PastDrill, Store, Table};
use crate::ui::keymap::{Action, Sight, View as Which};
use crate::ui::screen::progress::{Asked, State, View};
use crate::ui::screen::work;
use crate::ui::theme::Theme;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::PathBuf;
use std::sync::OnceLock;
use tempfile::TempDir;

/// 2026-11-25T12:00:00Z at +01:00.
const NOW: WallTime = WallTime { ms_utc: 1_795_608_000_000, utc_offset_min: 60 };

fn layout() -> Layout {
    shipped::load("tern-split").unwrap()
}

/// The history that `--demo` would show on that day, written once.
fn history() -> &'static Path {
    static HOME: OnceLock<TempDir> = OnceLock::new();
    let home = HOME.get_or_init(|| {
        let home = TempDir::new().unwrap();
        let old = shipped::load("plain-ansi").unwrap();
        let layout = layout();
        let invention = Invention::new(&layout, Some(&old), NOW);
        invention.write(home.path()).unwrap();
        invention.survey().unwrap().write(home.path()).unwrap();
        home
    });
    home.path()
}

#[test]
fn it_tells_of_a_person_who_brings_in_one_layer_after_another() {
    let store = Store::open(history()).unwrap();
    let (layout, today) = (layout(), NOW.day_local(0));
    let request = Request {
        layout: &layout,
        old_layout: None,
        since: None,
        today,
        only: None,
        surveyed: None,
    };
    let progress = Progress::read(&store, &request).unwrap();
    let days: Vec<i32> = progress.calendar.iter().map(|day| day.day).collect();
    assert_eq!((days[0], days[days.len() - 1]), (today - DAYS, today - 1));
    assert!((70..110).contains(&days.len()), "{} days", days.len());
    let away = days.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap();
    assert!(away > 7, "at most {away} days without practice");
    let mut seconds: Vec<u64> = progress.calendar.iter().map(|d| d.active.0 / 1_000_000).collect();
    seconds.sort_unstable();
    assert!(seconds[seconds.len() - 1] > 2 * seconds[0] && seconds[seconds.len() - 1] < 3600);

    // The thumb keys, then one cluster after another.
    let hands = Hands::new(&layout, &layout, SEED);
    let plan: Vec<days::Day> = Plan::new(hands.offers(), true, DAYS, SEED).collect();
    let first = |what| {
        let place = hands.offers().iter().position(|offer| offer.what == what).unwrap();
        plan.iter().find(|day| day.offers.contains(&place)).unwrap().number
    };
    let clusters = [Cluster::Punctuation, Cluster::Symbols, Cluster::Numbers].map(What::Cluster);
    let met: Vec<i32> = std::iter::once(What::Thumbs).chain(clusters).map(first).collect();
    assert!(met.is_sorted_by(|a, b| a + 7 < *b), "{met:?}");
    assert!(plan.iter().filter(|day| !day.old_way.is_empty()).count() > 4);
    for layer in progress.layers.iter().filter(|layer| layer.all.n_keystrokes > 0) {
        let old = layer.old_way.as_ref().expect(&layer.name);
        assert_ne!(old.standing, Standing::TooFew, "{}", layer.name);
    }
    let beaten = progress.layers.iter().filter_map(|layer| layer.old_way.as_ref()?.standing.day());
    assert!(beaten.count() >= 2);
}

#[test]
fn it_has_editing_tasks_shortcuts_thumbs_and_markers() {
    let store = Store::open(history()).unwrap();
    let (mut clusters, mut titles) = (BTreeSet::new(), BTreeSet::new());
    let column = |name| Table::Drills.names().position(|known| known == name).unwrap();
    let (cluster, title) = (column("cluster"), column("title"));
    store
        .export(Table::Drills, None, |row| {
            for (cell, words) in [(&row[cluster], &mut clusters), (&row[title], &mut titles)] {
                words.extend(match cell {
                    Cell::Text(word) => Some(word.clone()),
                    _ => None,
                });
            }
            Ok(())
        })
        .unwrap();
    for known in ["navigation", "shortcuts"] {
        assert!(clusters.contains(known), "no {known}: {clusters:?}");
    }
    assert!(titles.iter().any(|title| title.starts_with("thumb keys")), "{titles:?}");
    assert!(titles.contains("shortcuts: one key against by hand"), "{titles:?}");
    assert!(!store.answers("tern-split").unwrap().is_empty(), "nothing to recall");
    // Both parts of a switch into each layer that was practised lately.
    let today = NOW.day_local(0);
    let lately = Days { from: today - 14, to: today - 1 };
    let parts = store.switch_parts("tern-split", lately).unwrap();
    let told: Vec<_> = parts.iter().filter(|(_, parts)| parts.reach.n >= 20).collect();
    assert!(told.len() >= 3, "{parts:?}");
    for ((from, to), parts) in told {
        assert!(to != "base" && from != to, "{from} to {to}");
        // The access is found before the key is struck, and takes most of it.
        assert!(parts.reach.median > parts.strike.median, "{from} to {to}: {parts:?}");
    }
}

#[test]
fn each_layer_gets_a_marker_of_its_own() {
    let mut layout = layout();
    layout.layers[2].marker = "F13".parse().ok();
    let marked = with_markers(&layout);
    let markers: Vec<_> = marked.layers.iter().map(|layer| layer.marker).collect();
    assert_eq!((markers[0], markers[2]), (None, "F13".parse().ok()));
    let mut others = markers[1..].to_vec();
    assert!(others.iter().all(Option::is_some));
    others.sort_unstable();
    others.dedup();
    assert_eq!(others.len(), layout.layers.len() - 1);
}

#[test]
fn the_day_layout_and_seed_decide_it_all() {
    let old = shipped::load("plain-ansi").unwrap();
    let of = |layout: &Layout, seed, now| -> Vec<PastSession> {
        Invention { days: 9, seed, ..Invention::new(layout, Some(&old), now) }.sessions().collect()
    };
    let once = of(&layout(), 1, NOW);
    assert_eq!(once, of(&layout(), 1, NOW));
    assert_ne!(once, of(&layout(), 2, NOW));
    // On another day, or elsewhere, the same at other times.
    let later = WallTime { ms_utc: NOW.ms_utc + 86_400_000, utc_offset_min: -210 };
    let drills = |sessions: Vec<PastSession>| -> Vec<PastDrill> {
        sessions.into_iter().flat_map(|session| session.drills).collect()
    };
    let elsewhere = of(&layout(), 1, later);
    let day = |session: &PastSession| session.start.started.day_local(0);
    assert!(once.iter().zip(&elsewhere).all(|(a, b)| day(a) + 1 == day(b)));
    assert_eq!(drills(once), drills(elsewhere));
    // Any layout will do, also one without an old way or with one thing to drill.
    for name in ["tern-small", "tern-ortho", "tern-laptop", "plain-iso"] {
        let layout = shipped::load(name).unwrap();
        let invention = Invention { days: 9, old_way: None, ..Invention::new(&layout, None, NOW) };
        assert!(invention.sessions().count() > 3, "{name}");
    }
}

#[test]
fn its_sums_agree_with_its_keystrokes() {
    let home = TempDir::new().unwrap();
    let old = shipped::load("plain-ansi").unwrap();
    let layout = layout();
    let invention = Invention { days: 24, ..Invention::new(&layout, Some(&old), NOW) };
    let mut sessions: Vec<PastSession> = invention.sessions().collect();
    // In two parts, so that sums of the same month grow.
    let rest = sessions.split_off(sessions.len() / 2);
    let mut store = Store::open(home.path()).unwrap();
    store.take_in(sessions).unwrap();
    store.take_in(rest).unwrap();
    assert_eq!(store.integrity().unwrap().faults, Vec::<String>::new());
}

/// The rows of a progress screen as `--demo` shows it, without colour.
fn picture(which: Which, actions: &[Action]) -> String {
    let (layout, old) = (layout(), shipped::load("plain-ansi").unwrap());
    let mut state = State::new(Asked::default());
    state.which = which;
    let own = KeptSurvey::read(history()).unwrap().unwrap().surveyed();
    state.read(history(), (&layout, Some(&old)), Some(&own), NOW.day_local(0));
    for action in actions {
        if state.act(*action) {
            state.read(history(), (&layout, Some(&old)), Some(&own), NOW.day_local(0));
        }
    }
    rows(|area, buf| View { state: &state, layout: &layout, theme: Theme::PLAIN }.draw(area, buf))
}

/// The same of the screen of the person's work.
fn picture_of_work(sight: Sight) -> String {
    let (layout, old) = (layout(), shipped::load("plain-ansi").unwrap());
    let mut state = work::State::default();
    state.read(history(), (&layout, Some(&old)), NOW.day_local(0));
    state.sight = sight;
    let view = work::View { state: &state, layout: &layout, theme: Theme::PLAIN };
    rows(|area, buf| view.draw(area, buf))
}

/// What `draw` draws on a screen of 80×24 that is marked as invented.
fn rows(draw: impl FnOnce(Rect, &mut Buffer)) -> String {
    let area = Rect::new(0, 0, 80, 24);
    let mut buf = Buffer::empty(area);
    draw(area, &mut buf);
    frame::mark_invented(area, &mut buf, Theme::PLAIN);
    let mut text = String::new();
    for y in 0..area.height {
        let row: String = (0..area.width).map(|x| buf[(x, y)].symbol()).collect();
        let _ = writeln!(text, "{}", row.trim_end());
    }
    text
}

/// A document with its pictures: each stands in a fence below a comment that
/// names it, `<!-- demo: NAME -->`.
fn with_pictures(text: &str, pictures: &BTreeMap<&str, String>) -> (String, usize) {
    let (mut out, mut rest, mut n) = (String::new(), text, 0);
    while let Some(at) = rest.find("<!-- demo: ") {
        let (before, found) = rest.split_at(at);
        let name = found["<!-- demo: ".len()..].split(" -->").next().unwrap();
        let picture = pictures.get(name).unwrap_or_else(|| panic!("no picture {name}"));
        let open = found.find("```text\n").expect("a fence") + "```text\n".len();
        let close = open + found[open..].find("```").expect("the end of the fence");
        out.push_str(before);
        out.push_str(&found[..open]);
        out.push_str(picture);
        rest = &found[close..];
        n += 1;
    }
    out.push_str(rest);
    (out, n)
}

/// `ETUDE_PICTURES=write cargo test --lib demo::` makes them anew.
#[test]
fn the_pictures_in_the_documents_are_what_it_looks_like() {
    let down = [Action::Down, Action::Down];
    let pictures = BTreeMap::from([
        ("layers", picture(Which::Layers, &down)),
        ("board", picture(Which::Board, &down)),
        ("switches", picture(Which::Switches, &down)),
        ("parts", picture(Which::Switches, &[])),
        ("need", picture_of_work(Sight::Need)),
        ("first", picture_of_work(Sight::First)),
        ("promised", picture_of_work(Sight::Promised)),
    ]);
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    for (file, count) in
        [("README.md", 1), ("docs/progress.md", 2), ("docs/survey.md", 3), ("docs/markers.md", 1)]
    {
        let path = root.join(file);
        let text = std::fs::read_to_string(&path).unwrap();
        let (drawn, n) = with_pictures(&text, &pictures);
        assert_eq!(n, count, "pictures in {file}");
        if std::env::var_os("ETUDE_PICTURES").is_some() {
            std::fs::write(&path, drawn).unwrap();
        } else {
            assert!(drawn == text, "a picture in {file} is out of date; it should be\n{drawn}");
        }
    }
}

#[test]
fn the_survey_is_of_tern_point_and_promises_each_part_once() {
    let (layout, old) = (layout(), shipped::load("plain-ansi").unwrap());
    let kept = Invention::new(&layout, Some(&old), NOW).survey().unwrap();
    assert!(kept.counts.total() > 5_000 && kept.kinds.len() == 3, "{:?}", kept.kinds);
    assert_eq!(kept.day, NOW.day_local(0) - DAYS - 1);
    let mut parts: Vec<&str> = kept.promises.iter().map(|one| one.part.as_str()).collect();
    parts.sort_unstable();
    parts.dedup();
    assert!(parts.len() == kept.promises.len() && parts.len() >= 4, "{parts:?}");
    assert!(kept.promises.iter().all(|one| one.saved[0] > one.then), "practice saves something");
}
