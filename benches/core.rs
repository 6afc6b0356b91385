//! Speed of the core: parser, routes, drills, engine, frames.
//!
//! `cargo bench --bench core`

use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use etude::drill::{self, Request, What};
use etude::input::{Parsed, Parser};
use etude::layout::{Cluster, Layout, RouteTable, shipped};
use etude::session::{
    Earlier, Event, EventKind, KeyEvent, Level, Session, Spec, Stroke, StrokeKey,
};
use etude::ui::screen::practice;
use etude::ui::theme::{Ground, Theme};
use etude::units::Micros;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::sync::Arc;

fn main() {
    divan::main();
}

fn layout() -> Layout {
    shipped::load("tern-split").expect("a shipped layout")
}

fn a_drill(layout: &Layout, routes: &RouteTable) -> drill::Drill {
    drill::generate(&Request {
        layout,
        routes,
        what: What::Cluster(Cluster::Symbols),
        seed: 1,
        ordinal: 0,
        strokes: 180,
        width: 72,
        weights: None,
        recollect: None,
    })
    .expect("a drill")
}

#[divan::bench]
fn routes_of_all_outputs(bencher: Bencher) {
    let layout = layout();
    bencher.bench(|| RouteTable::build(black_box(&layout)));
}

#[divan::bench]
fn generate_a_drill(bencher: Bencher) {
    let layout = layout();
    let routes = RouteTable::build(&layout);
    bencher.bench(|| a_drill(black_box(&layout), &routes));
}

/// Key events as the enhanced protocol sends them: press and release.
#[divan::bench]
fn parse_enhanced_keys(bencher: Bencher) {
    let bytes =
        b"\x1b[97;1:1u\x1b[97;1:3u\x1b[57441;2:1u\x1b[91:123;2;123u\x1b[91;2:3u".repeat(200);
    bencher.counter(BytesCount::of_slice(&bytes)).bench(|| parse(black_box(&bytes)));
}

/// Characters as a plain terminal sends them.
#[divan::bench]
fn parse_plain_keys(bencher: Bencher) {
    let bytes = "level[3] = \"high\";\r\x1b[A\x1bOP é".repeat(200).into_bytes();
    bencher.counter(BytesCount::of_slice(&bytes)).bench(|| parse(black_box(&bytes)));
}

fn parse(bytes: &[u8]) -> usize {
    let mut parser = Parser::default();
    let mut out: Vec<Parsed> = Vec::new();
    parser.feed(bytes, &mut out);
    parser.flush_pending(&mut out);
    out.len()
}

fn events_of(drill: &drill::Drill) -> Vec<Event> {
    let mut at = 0;
    drill
        .prompts
        .iter()
        .flat_map(drill::Prompt::items)
        .map(|item| {
            at += 180_000;
            let stroke = match item.as_char() {
                Some(c) => Stroke::char(c),
                None => match item {
                    etude::keyboard::Output::Key(key) => {
                        Stroke::named(*key, etude::keyboard::Modifiers::empty())
                    }
                    other => panic!("{other} in a drill of text"),
                },
            };
            debug_assert!(!matches!(stroke.key, StrokeKey::Char('\0')));
            Event { at: Micros(at), kind: EventKind::Key(KeyEvent::press(stroke)) }
        })
        .collect()
}

/// A whole drill through the engine; the figure is per keystroke.
#[divan::bench]
fn engine_event(bencher: Bencher) {
    let layout = layout();
    let routes = Arc::new(RouteTable::build(&layout));
    let drill = a_drill(&layout, &routes);
    let events = events_of(&drill);
    bencher
        .counter(ItemsCount::new(events.len()))
        .with_inputs(|| {
            let mut session =
                Session::new(Spec { routes: Arc::clone(&routes), level: Level::default() });
            session.start(drill.clone());
            session
        })
        .bench_values(|mut session| {
            for event in &events {
                black_box(session.apply(event));
            }
            session
        });
}

/// One frame of the practice screen, drawn and compared with the one before.
#[divan::bench(args = [(80, 24), (200, 60)])]
fn practice_frame(bencher: Bencher, (width, height): (u16, u16)) {
    let layout = layout();
    let routes = Arc::new(RouteTable::build(&layout));
    let drill = a_drill(&layout, &routes);
    let mut session = Session::new(Spec { routes: Arc::clone(&routes), level: Level::default() });
    let events = events_of(&drill);
    session.start(drill);
    for event in &events[..20] {
        session.apply(event);
    }
    let earlier = Earlier::default();
    let theme = Theme { colour: true, ground: Ground::Dark, unicode: true };
    let mut terminal = Terminal::new(TestBackend::new(width, height)).expect("a test terminal");
    bencher.bench_local(|| {
        terminal
            .draw(|frame| {
                practice::View {
                    session: &session,
                    layout: &layout,
                    number: 1,
                    earlier: &earlier,
                    slip: None,
                    trouble: None,
                    theme,
                }
                .draw(frame.area(), frame.buffer_mut());
            })
            .expect("drawing into memory")
            .area
    });
}
