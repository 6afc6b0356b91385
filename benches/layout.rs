//! Speed of layouts: import, check, compare, sheet.
//!
//! `cargo bench --bench layout`

use divan::{Bencher, black_box};
use etude::import::{ldml, xkb};
use etude::keyboard::BoardForm;
use etude::layout::check::Often;
use etude::layout::compare::{Needed, compare};
use etude::layout::{self, Layout, RouteTable, shipped};
use etude::plan::{Need, WorkMix};
use etude::report::sheet::{Paper, lay_out, pdf, svg};

fn main() {
    divan::main();
}

const KEYMAP: &[u8] = include_bytes!("../tests/fixtures/import/de.xkb");

const LDML: &str = r#"<keyboard3 locale="en" conformsTo="45"><info name="Harbour"/>
<keys><import base="cldr" path="45/keys-Zyyy-punctuation.xml"/>
<key id="acute" output="\m{acute}"/></keys>
<variables><set id="plain" value="a e i o u"/><set id="made" value="á é í ó ú"/></variables>
<layers formId="us">
<layer modifiers="none"><row keys="grave 1 2 3 4 5 6 7 8 9 0 hyphen equal"/>
<row keys="q w e r t y u i o p acute gap backslash"/><row keys="a s d f g h j k l semi-colon apos"/>
<row keys="z x c v b n m comma period slash"/></layer>
<layer modifiers="shift"><row keys="tilde bang at hash"/><row keys="Q W E R T Y U I O P"/>
<row keys="A S D F G H J K L"/><row keys="Z X C V B N M"/></layer></layers>
<transforms type="simple"><transformGroup>
<transform from="\m{acute}($[plain])" to="$[1:made]"/></transformGroup></transforms></keyboard3>"#;

fn layout() -> Layout {
    shipped::load("tern-split").expect("a shipped layout")
}

fn often(layout: &Layout) -> Often {
    let need = Need::of(&RouteTable::build(layout), &WorkMix::default()).expect("shipped text");
    need.items().map(|(item, times)| (item.clone(), times)).collect()
}

#[divan::bench]
fn import_a_keymap(bencher: Bencher) {
    let board = shipped::board("full-iso").expect("a shipped board");
    let compose = xkb::Compose::default();
    bencher.bench(|| {
        let keymap = xkb::read_keymap(black_box(KEYMAP), "de.xkb").expect("a keymap");
        let sheets = xkb::sheets(&keymap, BoardForm::Iso, &compose, "de", "German", "A keymap.");
        sheets.expect("sheets").lay_on(&board).expect("a layout")
    });
}

#[divan::bench]
fn import_an_ldml_file(bencher: Bencher) {
    let board = shipped::board("full-ansi").expect("a shipped board");
    bencher.bench(|| {
        let mut none = |_: &str| Err("none".to_owned());
        let sheets = ldml::read(black_box(LDML.as_bytes()), "k.xml", &mut none);
        sheets.expect("sheets").lay_on(&board).expect("a layout")
    });
}

#[divan::bench]
fn check_a_layout(bencher: Bencher) {
    let layout = layout();
    let often = often(&layout);
    bencher.bench(|| layout::advise(black_box(&layout), &often));
}

#[divan::bench]
fn compare_two_layouts(bencher: Bencher) {
    let (before, now) = (shipped::load("plain-ansi").expect("a shipped layout"), layout());
    let needed: Needed = often(&now).into_iter().map(|((_, output), n)| (output, n)).collect();
    bencher.bench(|| compare(black_box(&before), &now, &needed));
}

#[divan::bench]
fn sheet_as_svg(bencher: Bencher) {
    let layout = layout();
    bencher.bench(|| svg::write(&lay_out(black_box(&layout), &[], Paper::A4, "").expect("a page")));
}

#[divan::bench]
fn sheet_as_pdf(bencher: Bencher) {
    let layout = layout();
    bencher.bench(|| pdf::write(&lay_out(black_box(&layout), &[], Paper::A4, "").expect("a page")));
}
