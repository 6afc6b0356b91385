//! Whole screens: scripted keys and a made-up clock drive the real [`App`];
//! glyphs and styles are kept as snapshots, and no size may panic.

use super::app::{App, Config, Opening};
use super::keymap::Place;
use super::run::{App as _, News};
use super::screen::help;
use super::screen::progress::Asked;
use super::theme::{Ground, Theme};
use crate::drill::{What, offers};
use crate::editor::common;
use crate::keyboard::{Chord, ChordKey, Modifiers, NamedKey, Output};
use crate::layout::{Cluster, RouteTable, shipped};
use crate::practice::{Material, Wanted};
use crate::session::{Event, EventKind, KeyEvent, Stroke};
use crate::units::Micros;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::{Terminal, backend::TestBackend};
use std::fmt::Write;
use std::sync::Arc;
use tempfile::TempDir;

pub const DARK: Theme = Theme { colour: true, ground: Ground::Dark, unicode: true };
pub const LIGHT: Theme = Theme { ground: Ground::Light, ..DARK };
pub const ASCII: Theme = Theme { colour: false, ground: Ground::Unknown, unicode: false };

struct Stage {
    app: App,
    terminal: Terminal<TestBackend>,
    now_us: u64,
    _home: TempDir,
}

impl Stage {
    fn new(layout: &str, opening: Opening, theme: Theme, size: (u16, u16)) -> Self {
        Self::of(layout, opening, theme, size, false)
    }

    fn of(
        layout: &str,
        opening: Opening,
        theme: Theme,
        (width, height): (u16, u16),
        invented: bool,
    ) -> Self {
        let home = TempDir::new().unwrap();
        let layout = Arc::new(shipped::load(layout).unwrap());
        let routes = Arc::new(RouteTable::build(&layout));
        let config = Config {
            offers: offers(&layout, &routes),
            drills_of: None,
            old_layout: None,
            player: None,
            layout,
            routes,
            data: home.path().join("etude"),
            bindings: Arc::new(common().unwrap().clone()),
            checked: Arc::default(),
            surveyed: None,
            seed: Some(7),
            minutes: 10,
            break_after: 10,
            invented,
            theme,
        };
        let terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        let mut stage = Self { app: App::new(config, opening), terminal, now_us: 0, _home: home };
        stage.draw();
        stage.news(EventKind::Tick);
        stage
    }

    fn practice(what: What, theme: Theme, size: (u16, u16)) -> Self {
        let opening = Opening::Practice {
            wanted: Wanted::Fixed(Material::Rotation(vec![what])),
            first: false,
        };
        Self::new("tern-split", opening, theme, size)
    }

    fn news(&mut self, kind: EventKind) {
        let event = Event { at: Micros(self.now_us), kind };
        self.app.handle(News::Event(event));
    }

    fn strike(&mut self, output: &Output) {
        // Uneven, so that medians and quartiles differ.
        self.now_us += 140_000 + (self.now_us / 1000 * 7919 % 130) * 1000;
        let stroke = match output {
            Output::Key(key) => Stroke::named(*key, Modifiers::empty()),
            Output::Chord(Chord { modifiers, key: ChordKey::Named(key) }) => {
                Stroke::named(*key, *modifiers)
            }
            Output::Chord(Chord { modifiers, key: ChordKey::Char(c) }) => {
                Stroke { modifiers: *modifiers, ..Stroke::char(*c) }
            }
            other => Stroke::char(other.as_char().unwrap()),
        };
        self.news(EventKind::Key(KeyEvent::press(stroke)));
    }

    fn keys(&mut self, keys: &[NamedKey]) {
        self.settle();
        for key in keys {
            self.strike(&Output::Key(*key));
        }
    }

    /// Lets so much time pass that nothing counts as an overrun any more.
    fn settle(&mut self) {
        self.now_us += 1_000_000;
        self.news(EventKind::Tick);
    }

    fn due(&self) -> Option<Output> {
        self.app.due()
    }

    /// Types `count` due outputs, every tenth of them wrong at first.
    fn type_due(&mut self, count: usize) {
        for n in 0..count {
            let Some(due) = self.due() else { return };
            if n % 10 == 9 {
                self.strike(&Output::char('§'));
                if let Some(due) = self.due() {
                    self.strike(&due);
                }
            } else {
                self.strike(&due);
            }
        }
    }

    fn draw(&mut self) {
        let app = &mut self.app;
        self.terminal.draw(|frame| app.draw(frame)).unwrap();
    }

    fn seen(&mut self) -> String {
        self.draw();
        picture(self.terminal.backend().buffer())
    }
}

/// The glyphs, then a letter for the style of each cell, with a legend.
pub fn picture(buf: &Buffer) -> String {
    let mut styles: Vec<Style> = Vec::new();
    let (mut glyphs, mut looks) = (String::new(), String::new());
    for y in 0..buf.area.height {
        let (mut line, mut look) = (String::new(), String::new());
        for x in 0..buf.area.width {
            let cell = buf.cell((x, y)).unwrap();
            line.push_str(cell.symbol());
            let style = cell.style();
            let at = styles.iter().position(|s| *s == style).unwrap_or_else(|| {
                styles.push(style);
                styles.len() - 1
            });
            look.push(if at == 0 { ' ' } else { char::from(b'a' + at as u8 - 1) });
        }
        writeln!(glyphs, "{}", line.trim_end()).unwrap();
        writeln!(looks, "{}", look.trim_end()).unwrap();
    }
    let mut out = format!("{glyphs}\n{looks}\n");
    for (n, style) in styles.iter().enumerate().skip(1) {
        let colour = style.fg.map_or(String::new(), |c| format!("{c} "));
        writeln!(out, "{} {colour}{:?}", char::from(b'a' + n as u8 - 1), style.add_modifier)
            .unwrap();
    }
    out
}

fn start(size: (u16, u16), theme: Theme) -> Stage {
    Stage::new("tern-split", Opening::Start { first: false }, theme, size)
}

#[test]
fn the_first_start() {
    let opening = Opening::Start { first: true };
    let mut stage = Stage::new("tern-split", opening, DARK, (80, 24));
    insta::assert_snapshot!("welcome_80x24", stage.seen());
    stage.keys(&[NamedKey::Enter]);
    assert!(stage.seen().contains("practise"));
}

#[test]
fn the_start_screen() {
    for (name, size, theme) in [
        ("start_80x24_dark", (80, 24), DARK),
        ("start_100x40_light", (100, 40), LIGHT),
        ("start_40x12_plain", (40, 12), Theme::PLAIN),
    ] {
        let mut stage = start(size, theme);
        stage.keys(&[NamedKey::ArrowDown, NamedKey::ArrowDown, NamedKey::ArrowRight]);
        insta::assert_snapshot!(name, stage.seen());
    }
}

#[test]
fn the_layers_are_looked_at_from_the_start() {
    let mut stage = start((100, 40), DARK);
    stage.settle();
    stage.strike(&Output::char('l'));
    assert!(stage.seen().contains("Type what you look for"));
    // What means something on the start screen is searched for here.
    stage.strike(&Output::char('p'));
    assert!(stage.seen().contains("Where is p"));
    stage.keys(&[NamedKey::Escape, NamedKey::Escape]);
    assert!(stage.seen().contains("begin") && !stage.app.left());
}

#[test]
fn a_line_in_work() {
    for (name, size, theme) in [
        ("practice_80x24_dark", (80, 24), DARK),
        ("practice_100x40_light", (100, 40), LIGHT),
        ("practice_80x24_plain", (80, 24), Theme::PLAIN),
        ("practice_80x24_ascii", (80, 24), ASCII),
        ("practice_40x12_plain", (40, 12), Theme::PLAIN),
    ] {
        let mut stage = Stage::practice(What::Cluster(Cluster::Symbols), theme, size);
        stage.type_due(17);
        insta::assert_snapshot!(name, stage.seen());
    }
}

const MOVEMENT: What = What::Cluster(Cluster::Navigation);

#[test]
fn an_editing_task_in_work() {
    for (name, size, theme, keys) in [
        ("edit_80x24_dark", (80, 24), DARK, 0),
        ("edit_100x40_light", (100, 40), LIGHT, 9),
        ("edit_80x24_plain", (80, 24), Theme::PLAIN, 16),
        ("edit_40x12_ascii", (40, 12), ASCII, 16),
    ] {
        let mut stage = Stage::practice(MOVEMENT, theme, size);
        // By the book, so that each size shows the same task.
        for _ in 0..keys {
            let due = stage.due().unwrap();
            stage.strike(&due);
        }
        insta::assert_snapshot!(name, stage.seen());
    }
}

#[test]
fn keys_that_lead_away_are_told_and_the_next_key_is_shown_when_asked_for() {
    let mut stage = Stage::practice(MOVEMENT, DARK, (80, 24));
    stage.strike(&Output::Key(NamedKey::F5));
    assert!(stage.seen().contains("F5 does nothing here"));
    assert!(stage.seen().contains("? shows the next key"));
    stage.strike(&Output::char('?'));
    insta::assert_snapshot!("edit_shown_80x24_dark", stage.seen());
    stage.strike(&Output::Key(NamedKey::Backspace));
    assert!(stage.seen().contains("taken back"));
}

#[test]
fn a_drill_of_editing_tasks_done() {
    for (name, size, theme) in [
        ("edited_80x24_dark", (80, 24), DARK),
        ("edited_100x40_light", (100, 40), LIGHT),
        ("edited_40x12_ascii", (40, 12), ASCII),
    ] {
        let mut stage = Stage::practice(MOVEMENT, theme, size);
        stage.type_due(10_000);
        assert!(!stage.seen().contains("next drill"), "keys are told when they hold");
        stage.keys(&[NamedKey::ArrowUp, NamedKey::ArrowUp, NamedKey::ArrowRight]);
        insta::assert_snapshot!(name, stage.seen());
        let (down, right) = (NamedKey::ArrowDown, NamedKey::ArrowRight);
        stage.keys(&[down, down, right, right, right]);
        assert!(stage.seen().contains("there; "), "{}", stage.seen());
        stage.keys(&[NamedKey::Enter]);
        assert!(stage.seen().contains("par 1, struck 0"));
    }
}

/// The README's screen is one that the program draws.
#[test]
fn the_readme_shows_a_real_screen_and_the_cautions() {
    let readme = include_str!("../../README.md");
    let mut stage = Stage::practice(What::Cluster(Cluster::Symbols), DARK, (80, 24));
    stage.type_due(17);
    let seen = stage.seen();
    let screen: Vec<&str> = seen.lines().take(24).collect();
    let screen = screen.join("\n");
    assert!(readme.contains(screen.trim_end()), "the README should show:\n{screen}");
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    for caution in super::screen::welcome::CAUTIONS {
        let caution = words(caution);
        let begin = caution.split(" of active practice").next().unwrap();
        assert!(words(readme).contains(begin), "the README lacks: {caution}");
    }
}

const SHORTCUTS: What = What::Cluster(Cluster::Shortcuts);

#[test]
fn actions_are_asked_for_by_what_they_do() {
    let mut stage = Stage::practice(SHORTCUTS, DARK, (80, 24));
    insta::assert_snapshot!("strike_80x24_dark", stage.seen());
    stage.strike(&"Ctrl+G".parse().unwrap());
    assert!(stage.seen().contains("struck Ctrl+G: not this one"), "it is not given away");
    stage.strike(&Output::char('?'));
    insta::assert_snapshot!("strike_shown_80x24_dark", stage.seen());
    let mut until = |words: &str| {
        while !stage.seen().contains(words) {
            stage.type_due(1);
        }
        stage.seen()
    };
    insta::assert_snapshot!("strike_change_80x24_dark", until("before"));
    insta::assert_snapshot!("strike_sequence_80x24_dark", until("one after another"));
}

#[test]
fn one_key_is_compared_with_the_chord_by_hand() {
    for (name, size, theme) in [
        ("80x24_dark", (80, 24), DARK),
        ("100x40_light", (100, 40), LIGHT),
        ("40x12_ascii", (40, 12), ASCII),
    ] {
        let mut stage = Stage::practice(SHORTCUTS, theme, size);
        for _ in 0..2 {
            stage.type_due(10_000);
            stage.keys(&[NamedKey::Enter]);
        }
        stage.type_due(5);
        insta::assert_snapshot!(format!("strike_by_hand_{name}"), stage.seen());
        stage.type_due(10_000);
        stage.settle();
        insta::assert_snapshot!(format!("result_by_hand_{name}"), stage.seen());
    }
}

#[test]
fn an_answer_that_does_not_come_is_shown() {
    let mut stage = Stage::practice(SHORTCUTS, DARK, (80, 24));
    let hint = "? shows the answer";
    assert!(stage.seen().contains(hint));
    let wake = stage.app.next_wake().unwrap();
    stage.now_us = wake.0 - 1;
    stage.news(EventKind::Tick);
    assert!(stage.seen().contains(hint));
    stage.now_us = wake.0;
    stage.news(EventKind::Tick);
    assert!(!stage.seen().contains(hint) && stage.seen().contains("strike c"));
    assert_eq!(stage.app.next_wake(), None, "nothing more comes by itself");
}

#[test]
fn a_slip_stands_until_it_is_taken_back() {
    let mut stage = Stage::practice(What::Cluster(Cluster::Punctuation), DARK, (80, 24));
    stage.type_due(4);
    stage.strike(&Output::char('§'));
    stage.strike(&Output::char('¶'));
    insta::assert_snapshot!("repair_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Backspace, NamedKey::Backspace]);
    assert!(!stage.seen().contains('§'));
}

#[test]
fn a_drill_done_then_again_then_the_end() {
    let mut stage = Stage::practice(What::Cluster(Cluster::Symbols), DARK, (80, 24));
    stage.type_due(10_000);
    // The last line was overrun: nothing of that is a command.
    stage.strike(&Output::Key(NamedKey::Enter));
    assert!(!stage.seen().contains("next drill"), "keys are told when they hold");
    stage.settle();
    insta::assert_snapshot!("result_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Backspace]);
    assert!(stage.seen().contains("drill 2"));
    stage.type_due(3);
    stage.keys(&[NamedKey::Escape]);
    insta::assert_snapshot!("leaving_80x24_dark", stage.seen());
    for _ in 0..2 {
        stage.strike(&Output::Key(NamedKey::Escape));
    }
    assert!(stage.seen().contains("cut short"));
    stage.keys(&[NamedKey::Escape]);
    assert!(stage.app.left());
}

#[test]
fn results_at_other_sizes() {
    for (name, size, theme) in
        [("result_100x40_light", (100, 40), LIGHT), ("result_40x12_ascii", (40, 12), ASCII)]
    {
        let mut stage = Stage::practice(What::Thumbs, theme, size);
        stage.type_due(10_000);
        stage.settle();
        insta::assert_snapshot!(name, stage.seen());
    }
}

#[test]
fn a_break_is_offered_when_it_is_due() {
    let mut stage = Stage::practice(What::Thumbs, DARK, (80, 24));
    let mut drills = 0;
    while !stage.seen().contains("The minutes are up") {
        stage.type_due(10_000);
        stage.keys(&[NamedKey::Enter]);
        drills += 1;
        assert!(drills < 60, "no break in sight");
    }
    insta::assert_snapshot!("break_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Enter]);
    assert!(stage.due().is_some());
}

#[test]
fn the_help() {
    let mut stage = start((80, 24), DARK);
    stage.strike(&Output::char('?'));
    insta::assert_snapshot!("help_80x24_dark", stage.seen());
    stage.keys(&[NamedKey::Escape]);
    assert!(stage.seen().contains("practise"));
}

/// Without colour nothing is lost: the plain picture tells the due key, the
/// access key and a slip apart by weight and shape.
#[test]
fn without_colour_no_cell_has_one() {
    let mut stage = Stage::practice(What::Cluster(Cluster::Symbols), Theme::PLAIN, (80, 24));
    stage.type_due(25);
    stage.draw();
    for cell in stage.terminal.backend().buffer().content() {
        assert_eq!(cell.fg, ratatui::style::Color::Reset, "{cell:?}");
        assert_eq!(cell.bg, ratatui::style::Color::Reset, "{cell:?}");
    }
}

#[test]
fn ascii_screens_are_ascii() {
    let mut stages = vec![
        start((80, 24), ASCII),
        Stage::practice(What::Thumbs, ASCII, (80, 24)),
        Stage::practice(MOVEMENT, ASCII, (80, 24)),
        Stage::new("tern-split", Opening::Start { first: true }, ASCII, (80, 24)),
    ];
    let mut done = Stage::practice(What::Cluster(Cluster::Symbols), ASCII, (80, 24));
    done.type_due(10_000);
    stages.push(done);
    for stage in &mut stages {
        let seen = stage.seen();
        // What the layout itself gives may be anything.
        let foreign: String =
            seen.chars().filter(|c| !c.is_ascii() && !"–—…§".contains(*c)).collect();
        assert_eq!(foreign, "", "{seen}");
    }
}

#[test]
fn every_screen_of_an_invented_history_says_so_in_its_head() {
    for theme in [DARK, ASCII] {
        for size in [(80, 24), (100, 40), (79, 16), (60, 15), (40, 12), (40, 11), (40, 10)] {
            let stage = |opening| Stage::of("tern-split", opening, theme, size, true);
            let all = Material::Rotation(vec![What::Thumbs]);
            let practice =
                || Opening::Practice { wanted: Wanted::Fixed(all.clone()), first: false };
            let mut stages = vec![
                stage(Opening::Start { first: true }),
                stage(Opening::Start { first: false }),
                stage(Opening::Progress(Asked::default())),
                stage(practice()),
            ];
            let mut done = stage(practice());
            done.type_due(10_000);
            stages.push(done);
            let mut help = stage(Opening::Start { first: false });
            help.strike(&Output::char('?'));
            stages.push(help);
            for stage in &mut stages {
                let seen = stage.seen();
                let head: Vec<&str> = seen.lines().take(2).collect();
                assert!(head.iter().any(|row| row.contains("invented history")), "{seen}");
                assert!(head.iter().any(|row| row.contains("thrown away")), "{seen}");
            }
            let mut plain = Stage::new("tern-split", Opening::Start { first: false }, theme, size);
            assert!(!plain.seen().contains("invented"));
        }
    }
}

/// 0×0 to 100×40 in steps that hit every breakpoint's neighbourhood.
#[test]
fn no_size_panics() {
    let sizes = || (0..=44).chain([59, 60, 61, 69, 70, 71, 79, 80, 81, 100]);
    for theme in [DARK, ASCII] {
        let mut done = Stage::practice(What::Cluster(Cluster::Symbols), theme, (80, 24));
        done.type_due(10_000);
        let mut working = Stage::practice(What::Cluster(Cluster::Punctuation), theme, (80, 24));
        working.type_due(12);
        working.strike(&Output::char('漢'));
        let mut editing = Stage::practice(MOVEMENT, theme, (80, 24));
        editing.type_due(12);
        let mut edited = Stage::practice(MOVEMENT, theme, (80, 24));
        edited.type_due(10_000);
        let mut stages = vec![
            Stage::new("tern-laptop", Opening::Start { first: true }, theme, (80, 24)),
            start((80, 24), theme),
            working,
            editing,
            edited,
            done,
        ];
        for width in sizes() {
            for height in (0..=26).chain([40]) {
                let area = Rect::new(0, 0, width, height);
                let mut buf = Buffer::empty(area);
                for stage in &mut stages {
                    stage.app.render(area, &mut buf);
                }
                help::draw(area, &mut buf, Place::Start, 5, theme);
                let view = super::screen::pause::View { time_up: true, active_s: 600.0, drills: 3 };
                super::screen::pause::draw(area, &mut buf, view, theme);
            }
        }
    }
}

#[test]
fn every_shipped_layout_has_a_practice_screen_with_its_board() {
    for name in shipped::names() {
        let layout = shipped::load(name).unwrap();
        let routes = RouteTable::build(&layout);
        let Some(offer) = offers(&layout, &routes).into_iter().next() else {
            panic!("{name} offers nothing")
        };
        let opening = Opening::Practice {
            wanted: Wanted::Fixed(Material::Rotation(vec![offer.what])),
            first: false,
        };
        let mut stage = Stage::new(name, opening, Theme::PLAIN, (80, 24));
        let seen = stage.seen();
        assert!(seen.contains("strike"), "{name}:\n{seen}");
        assert!(seen.contains('┏') || seen.contains('['), "no due key on {name}:\n{seen}");
    }
}
