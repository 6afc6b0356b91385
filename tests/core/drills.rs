//! Drills over every shipped layout and over random ones.

use etude::drill::{
    Drill, DrillError, Flow, LEAST_WIDTH, Mix, Offer, OwnRequest, OwnText, Prompt, Request,
    STROKES, Source, What, generate, glyph, line_width, offers,
};
use etude::keyboard::{NamedKey, Output};
use etude::layout::{Assignment, Cluster, LayerId, Layout, RouteTable, shipped};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::sync::LazyLock;

/// In so many drills every output of a layer has had its turn at least once.
const ROUNDS: u32 = 10;

fn all() -> Vec<(Layout, RouteTable)> {
    shipped::names()
        .map(|name| {
            let layout = shipped::load(name).unwrap();
            let routes = RouteTable::build(&layout);
            (layout, routes)
        })
        .collect()
}

fn tern_split() -> &'static (Layout, RouteTable) {
    static LOADED: LazyLock<(Layout, RouteTable)> = LazyLock::new(|| {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        (layout, routes)
    });
    &LOADED
}

fn drill(layout: &Layout, routes: &RouteTable, what: What, seed: u64, ordinal: u32) -> Drill {
    generate(&Request {
        layout,
        routes,
        what,
        seed,
        ordinal,
        strokes: STROKES,
        width: 72,
        weights: None,
        recollect: None,
    })
    .unwrap()
}

fn shown(drill: &Drill) -> String {
    let mut text = format!("{} ({}, {})\n", drill.title, drill.cluster.word(), drill.flow.word());
    for prompt in &drill.prompts {
        let line: String = prompt.items().iter().map(|item| glyph(item, true)).collect();
        writeln!(text, "{line}").unwrap();
    }
    for (what, count) in &drill.left_out {
        writeln!(text, "left out: {what} × {count}").unwrap();
    }
    text
}

/// What is practised by typing; movement has tests of its own.
pub fn text_offers(layout: &Layout, routes: &RouteTable) -> Vec<Offer> {
    offers(layout, routes).into_iter().filter(|offer| !offer.what.is_movement(layout)).collect()
}

fn strokes(drill: &Drill) -> usize {
    drill.prompts.iter().map(|prompt| prompt.items().len()).sum()
}

/// What holds for every drill, whatever the layout; told in words where not.
fn faults(drill: &Drill, routes: &RouteTable, asked: usize, width: usize) -> Vec<String> {
    let mut faults = Vec::new();
    let mut escapes = 0;
    for prompt in &drill.prompts {
        let columns = line_width(prompt.items(), true).max(line_width(prompt.items(), false));
        if columns > width {
            faults.push(format!("{columns} columns, at most {width}"));
        }
        if prompt.items().is_empty() || prompt.items().len() > 200 {
            faults.push(format!("a prompt of {} items", prompt.items().len()));
        }
        for item in prompt.items() {
            if routes.preferred(item).is_none() {
                faults.push(format!("no route gives {item}"));
            }
            if let Output::Text(text) = item
                && text.chars().any(char::is_control)
            {
                faults.push(format!("{text:?} holds a control character"));
            }
            escapes = if *item == Output::Key(NamedKey::Escape) { escapes + 1 } else { 0 };
            if escapes > 2 {
                faults.push("three Escapes in a row".to_owned());
            }
            if drill.flow == Flow::Repair && *item == Output::Key(NamedKey::Backspace) {
                faults.push("Backspace is due in a drill with repairs".to_owned());
            }
        }
    }
    let got = strokes(drill);
    if got * 100 < asked * 65 || got * 100 > asked * 135 {
        faults.push(format!("{got} strokes, asked for {asked}"));
    }
    faults
}

/// Every layer that can be drilled by itself.
fn layers_of(layout: &Layout, routes: &RouteTable) -> Vec<(LayerId, Vec<Output>)> {
    let mut found: BTreeMap<LayerId, Vec<Output>> = BTreeMap::new();
    for (output, _) in routes.outputs() {
        let layer = routes.preferred(output).unwrap().layer;
        let cluster = layout.layer(layer).cluster;
        if !matches!(cluster, Cluster::Navigation | Cluster::Shortcuts)
            && matches!(output, Output::Text(_))
        {
            found.entry(layer).or_default().push(output.clone());
        }
    }
    found.into_iter().collect()
}

fn text_outside(routes: &RouteTable, layer: LayerId) -> bool {
    routes.outputs().any(|(output, _)| {
        let outside = routes.preferred(output).is_some_and(|route| route.layer != layer);
        outside && matches!(output, Output::Text(text) if text != " ")
    })
}

fn mix(drill: &Drill, routes: &RouteTable, layer: LayerId) -> Mix {
    Mix::of(drill.prompts.iter().map(Prompt::items), |output| {
        routes.preferred(output).is_some_and(|route| route.layer == layer)
    })
}

#[test]
fn every_offer_of_every_shipped_layout_makes_sound_drills() {
    for (layout, routes) in all() {
        let offers = text_offers(&layout, &routes);
        let words: Vec<String> = offers.iter().map(|offer| offer.what.word(&layout)).collect();
        for word in ["punctuation", "symbols", "numbers", "thumbs", "base"] {
            assert!(words.iter().any(|known| known == word), "{}: {word}", layout.name);
        }
        for Offer { what, keys, .. } in offers {
            let mut owed: BTreeSet<Output> = keys.into_iter().collect();
            for ordinal in 0..ROUNDS {
                let drill = drill(&layout, &routes, what, 3, ordinal);
                let faults = faults(&drill, &routes, STROKES, 72);
                assert!(faults.is_empty(), "{}: {faults:?}\n{}", layout.name, shown(&drill));
                assert_eq!(drill.source, Source::Shipped);
                for item in drill.prompts.iter().flat_map(Prompt::items) {
                    owed.remove(item);
                }
            }
            assert!(owed.is_empty(), "{}, {}: {owed:?}", layout.name, what.word(&layout));
        }
    }
}

#[test]
fn drills_of_a_layer_mix_runs_with_entries_and_exits() {
    for (layout, routes) in all() {
        for (layer, outputs) in layers_of(&layout, &routes) {
            let signs = outputs.iter().filter(|output| **output != Output::char(' ')).count();
            if signs < 2 || !text_outside(&routes, layer) {
                continue;
            }
            for ordinal in 0..3 {
                let drill = drill(&layout, &routes, What::Layer(layer), 11, ordinal);
                let mix = mix(&drill, &routes, layer);
                assert!(mix.is_telling(), "{}: {mix:?}\n{}", layout.name, shown(&drill));
            }
        }
    }
}

#[test]
fn clusters_come_as_pieces_more_than_as_fragments() {
    // People read these for months: most of what they type must be text that
    // somebody wrote.
    let (layout, routes) = tern_split();
    let shipped = etude::drill::shipped().unwrap();
    for (cluster, pieces) in
        [(Cluster::Symbols, &shipped.symbols), (Cluster::Punctuation, &shipped.punctuation)]
    {
        let lines: BTreeSet<&str> = pieces.iter().flat_map(|piece| piece.text.lines()).collect();
        let (mut written, mut total) = (0, 0);
        for ordinal in 0..8 {
            let drill = drill(layout, routes, What::Cluster(cluster), 5, ordinal);
            for prompt in &drill.prompts {
                let line: String = prompt.items().iter().filter_map(Output::as_char).collect();
                total += prompt.items().len();
                written += if lines.contains(line.as_str()) { prompt.items().len() } else { 0 };
            }
        }
        assert!(written * 100 > total * 55, "{}: {written} of {total}", cluster.word());
    }
}

#[test]
fn the_same_seed_gives_the_same_drills() {
    let (layout, routes) = tern_split();
    for offer in text_offers(layout, routes) {
        let of = |seed, ordinal| drill(layout, routes, offer.what, seed, ordinal);
        assert_eq!(of(7, 0), of(7, 0));
        assert_ne!(of(7, 0).prompts, of(7, 1).prompts);
        assert_ne!(of(7, 0).prompts, of(8, 0).prompts);
    }
}

/// What the seed 7 gives, on every platform and in every version that does
/// not change the material.
#[test]
fn drills_of_tern_split_are_as_they_were() {
    let (layout, routes) = tern_split();
    let mut text = String::new();
    for word in ["punctuation", "symbols", "numbers", "thumbs"] {
        let what = What::parse(word, layout).unwrap();
        text += &shown(&drill(layout, routes, what, 7, 0));
        text.push('\n');
    }
    insta::assert_snapshot!(text);
}

#[test]
fn other_lengths_and_widths_are_kept() {
    let (layout, routes) = tern_split();
    for offer in text_offers(layout, routes) {
        for (strokes, width) in
            [(60, LEAST_WIDTH), (75, 30), (90, 40), (120, 50), (400, 72), (1500, 300)]
        {
            let request = Request {
                layout,
                routes,
                what: offer.what,
                seed: 1,
                ordinal: 2,
                strokes,
                width,
                weights: None,
                recollect: None,
            };
            let drill = generate(&request).unwrap();
            let faults = faults(&drill, routes, strokes, width);
            assert!(faults.is_empty(), "{strokes}, {width}: {faults:?}\n{}", shown(&drill));
        }
    }
}

#[test]
fn thumb_drills_hold_every_thumb_key() {
    let (layout, routes) = tern_split();
    for ordinal in 0..5 {
        let drill = drill(layout, routes, What::Thumbs, 2, ordinal);
        assert_eq!(drill.flow, Flow::Stay);
        let items: Vec<&Output> = drill.prompts.iter().flat_map(Prompt::items).collect();
        for key in [NamedKey::Enter, NamedKey::Backspace, NamedKey::Tab, NamedKey::Escape] {
            assert!(items.contains(&&Output::Key(key)), "{key}\n{}", shown(&drill));
        }
        assert!(items.contains(&&Output::char(' ')));
        assert!(items.iter().any(|item| item.as_char().is_some_and(char::is_uppercase)));
        for prompt in &drill.prompts {
            assert_eq!(prompt.items().last(), Some(&Output::Key(NamedKey::Enter)));
        }
        // What is taken back was typed before: no line runs below its start.
        for prompt in &drill.prompts {
            let mut length = 0_i32;
            for item in prompt.items() {
                length += if *item == Output::Key(NamedKey::Backspace) { -1 } else { 1 };
                assert!(length >= 0, "{}", shown(&drill));
            }
        }
    }
}

#[test]
fn characters_that_the_layout_lacks_are_left_out_and_counted() {
    let mut layout = shipped::load("plain-ansi").unwrap();
    for layer in &mut layout.layers {
        for key in &mut layer.keys {
            if *key == Assignment::Gives(Output::char('o')) {
                *key = Assignment::Nothing;
            }
        }
    }
    let routes = RouteTable::build(&layout);
    let mut counted = 0;
    for ordinal in 0..6 {
        let drill = drill(&layout, &routes, What::Cluster(Cluster::Punctuation), 4, ordinal);
        assert!(faults(&drill, &routes, STROKES, 72).is_empty());
        counted += drill.left_out.iter().filter(|(name, _)| name == "o").count();
    }
    assert!(counted > 0);
}

#[test]
fn outputs_that_no_piece_has_get_company() {
    let mut layout = shipped::load("tern-split").unwrap();
    let symbols = layout.layer_named("symbols").unwrap();
    let unusual = ['§', '€', '→', 'ß', '¬'];
    let free = layout.layers[symbols.index()].keys.iter_mut();
    for (key, c) in free.filter(|key| **key == Assignment::FallThrough).zip(unusual) {
        *key = Assignment::Gives(Output::char(c));
    }
    let routes = RouteTable::build(&layout);
    let mut seen = BTreeSet::new();
    for ordinal in 0..ROUNDS {
        let drill = drill(&layout, &routes, What::Cluster(Cluster::Symbols), 9, ordinal);
        let faults = faults(&drill, &routes, STROKES, 72);
        assert!(faults.is_empty(), "{faults:?}\n{}", shown(&drill));
        for prompt in &drill.prompts {
            for (at, item) in prompt.items().iter().enumerate() {
                if let Some(c) = item.as_char().filter(|c| unusual.contains(c)) {
                    seen.insert(c);
                    let beside =
                        &prompt.items()[at.saturating_sub(2)..(at + 3).min(prompt.items().len())];
                    let letters = beside.iter().filter_map(Output::as_char);
                    assert!(letters.filter(|c| c.is_alphabetic()).count() > 0, "{}", shown(&drill));
                }
            }
        }
    }
    assert_eq!(seen, BTreeSet::from(unusual));
}

#[test]
fn words_are_understood_and_errors_help() {
    let (layout, routes) = tern_split();
    for (word, what) in [
        ("symbols", What::Cluster(Cluster::Symbols)),
        ("numbers", What::Cluster(Cluster::Numbers)),
        ("thumbs", What::Thumbs),
        ("navigation", What::Cluster(Cluster::Navigation)),
        ("layer:navigation", What::Layer(layout.layer_named("navigation").unwrap())),
        ("base", What::Layer(LayerId::BASE)),
        ("layer:symbols", What::Layer(layout.layer_named("symbols").unwrap())),
    ] {
        assert_eq!(What::parse(word, layout), Ok(what));
        assert_eq!(What::parse(&what.word(layout), layout), Ok(what));
    }
    let error = What::parse("simbols", layout).unwrap_err().to_string();
    assert!(error.contains("did you mean 'symbols'?") && error.contains("tern-split"), "{error}");
    let error = What::parse("zzzzzz", layout).unwrap_err().to_string();
    assert!(!error.contains("did you mean"), "{error}");
    let request = |what, width| Request {
        layout,
        routes,
        what,
        seed: 0,
        ordinal: 0,
        strokes: STROKES,
        width,
        weights: None,
        recollect: None,
    };
    let navigation = What::Layer(layout.layer_named("navigation").unwrap());
    assert!(matches!(generate(&request(navigation, 72)), Err(DrillError::NotText { .. })));
    assert!(matches!(generate(&request(What::Thumbs, 5)), Err(DrillError::TooNarrow { .. })));
    assert!(matches!(
        generate(&request(What::Layer(LayerId(60)), 72)),
        Err(DrillError::NothingToDrill { .. })
    ));
}

/// A layout of two to four layers with outputs drawn at random, most of them
/// characters, some of them unusual.
fn random_layout() -> impl Strategy<Value = Layout> {
    let output = prop_oneof![
        12 => (0x21_u8..0x7f).prop_map(|byte| Assignment::Gives(Output::char(char::from(byte)))),
        2 => proptest::sample::select(vec!['§', '€', '→', 'ß', 'é', '¿', '潮', '\u{301}'])
            .prop_map(|c| Assignment::Gives(Output::char(c))),
        1 => proptest::sample::select(vec![
            NamedKey::Enter, NamedKey::Tab, NamedKey::Backspace, NamedKey::Escape, NamedKey::Home,
        ])
        .prop_map(|key| Assignment::Gives(Output::Key(key))),
        1 => Just(Assignment::Gives(Output::char(' '))),
        1 => Just(Assignment::Gives(Output::Text("=>".to_owned()))),
        3 => Just(Assignment::FallThrough),
        2 => Just(Assignment::Nothing),
    ];
    let board = shipped::board("split-3x5-3").unwrap();
    let keys = board.sites.len();
    let layer = (proptest::collection::vec(output, keys), 0_usize..Cluster::ALL.len());
    proptest::collection::vec(layer, 2..=4).prop_map(move |layers| {
        use etude::layout::{Access, AccessKind, Target};
        let mut layout = shipped::load("tern-small").unwrap();
        layout.actions.clear();
        layout.prefer.clear();
        let count = layers.len();
        layout.layers = layers
            .into_iter()
            .enumerate()
            .map(|(n, (mut keys, cluster))| {
                if n == 0 {
                    let last = keys.len();
                    for layer in 1..count {
                        let target = Target::Layer(LayerId(layer as u8));
                        keys[last - layer] =
                            Assignment::Access(Access { kind: AccessKind::Hold, target });
                    }
                }
                etude::layout::Layer {
                    name: format!("sheet{n}"),
                    cluster: if n == 0 { Cluster::Base } else { Cluster::ALL[cluster] },
                    sign: n.to_string(),
                    marker: None,
                    keys,
                }
            })
            .collect();
        layout
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10, ..ProptestConfig::default() })]

    #[test]
    fn random_layouts_make_sound_drills(layout in random_layout(), seed: u64, ordinal in 0_u32..50) {
        let routes = RouteTable::build(&layout);
        for Offer { what, keys, .. } in text_offers(&layout, &routes) {
            prop_assert!(!keys.is_empty());
            let drill = drill(&layout, &routes, what, seed, ordinal);
            let faults = faults(&drill, &routes, STROKES, 72);
            prop_assert!(faults.is_empty(), "{faults:?}\n{}", shown(&drill));
        }
        for (layer, outputs) in layers_of(&layout, &routes) {
            let signs = outputs.iter().filter(|output| **output != Output::char(' ')).count();
            let drill = drill(&layout, &routes, What::Layer(layer), seed, ordinal);
            if signs >= 2 && text_outside(&routes, layer) {
                let mix = mix(&drill, &routes, layer);
                prop_assert!(mix.is_telling(), "{mix:?}\n{}", shown(&drill));
            }
        }
    }

    #[test]
    fn every_output_of_a_random_layer_has_its_turn(layout in random_layout(), seed: u64) {
        let routes = RouteTable::build(&layout);
        let Some(Offer { what, keys, .. }) = text_offers(&layout, &routes).pop() else {
            return Ok(());
        };
        let mut owed: BTreeSet<Output> = keys.into_iter().collect();
        for ordinal in 0..ROUNDS {
            for prompt in drill(&layout, &routes, what, seed, ordinal).prompts {
                prompt.items().iter().for_each(|item| { owed.remove(item); });
            }
        }
        prop_assert!(owed.is_empty(), "{owed:?}");
    }
}

fn own(text: &str) -> OwnText {
    OwnText::parse(text.as_bytes(), 72).unwrap()
}

#[test]
fn own_text_comes_in_order_and_round_again() {
    let (layout, routes) = tern_split();
    let mut text = String::new();
    for line in 0..40 {
        writeln!(text, "\tline {line} of the lamp log: [checked]; nothing to report").unwrap();
    }
    let own = own(&text);
    let mut seen = String::new();
    let mut drills = 0;
    let of = |ordinal| {
        own.drill(&OwnRequest { layout, routes, what: None, ordinal, strokes: 180 }).unwrap()
    };
    while seen.len() < text.len() {
        let drill = of(drills);
        assert_eq!((drill.source, drill.flow), (Source::Own, Flow::Repair));
        assert!(faults(&drill, routes, strokes(&drill), 72).is_empty());
        assert!((117..=243).contains(&strokes(&drill)) || seen.len() * 10 > text.len() * 8);
        for item in drill.prompts.iter().flat_map(Prompt::items) {
            match item {
                Output::Key(NamedKey::Enter) => seen.push('\n'),
                Output::Key(NamedKey::Tab) => seen.push('\t'),
                other => seen.extend(other.as_char()),
            }
        }
        drills += 1;
    }
    assert_eq!(seen, text);
    assert_eq!(of(drills), of(0));
}

#[test]
fn own_text_gives_lines_rich_in_a_layer() {
    let (layout, routes) = tern_split();
    let text = "the lamp is lit and the log is shut\nlet level = &readings[(hour + 11) % 12];\n";
    let own = own(&text.repeat(4));
    let request = OwnRequest {
        layout,
        routes,
        what: Some(What::Cluster(Cluster::Symbols)),
        ordinal: 0,
        strokes: 180,
    };
    let drill = own.drill(&request).unwrap();
    assert!(drill.prompts.iter().all(|prompt| prompt.items().contains(&Output::char('['))));
    let plain = OwnText::parse(b"nothing of the kind", 72).unwrap();
    assert!(matches!(plain.drill(&request), Err(DrillError::TextLacks { .. })));
    let foreign = OwnText::parse("潮位表".as_bytes(), 72).unwrap();
    let request = OwnRequest { what: None, ..request };
    assert!(matches!(foreign.drill(&request), Err(DrillError::TextLacks { .. })));
    let partly = OwnText::parse("潮 tide\n潮位表".as_bytes(), 72).unwrap();
    let drill = partly.drill(&OwnRequest { ordinal: 1, ..request }).unwrap();
    assert_eq!(drill.left_out[0], ("潮".to_owned(), 2));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_safe(bytes in proptest::collection::vec(any::<u8>(), 0..400), width in 0_usize..200) {
        let _ = OwnText::parse(&bytes, width);
    }

    #[test]
    fn any_text_is_safe(text in any::<String>(), more in "[ -~\t\n\u{80}-\u{9f}\u{202a}-\u{202e}é潮]{0,200}", width in LEAST_WIDTH..100) {
        let (layout, routes) = tern_split();
        let text = text + &more;
        let Ok(own) = OwnText::parse(text.as_bytes(), width) else { return Ok(()) };
        for line in own.lines() {
            let unsafe_char = line.chars().find(|c| {
                c.is_control() && *c != '\t'
                    || ('\u{202a}'..='\u{202e}').contains(c)
                    || *c == '\u{feff}'
            });
            prop_assert_eq!(unsafe_char, None);
        }
        for ordinal in [0, 1, u32::MAX] {
            let request =
                OwnRequest { layout, routes, what: None, ordinal, strokes: 100 };
            let Ok(drill) = own.drill(&request) else { continue };
            for prompt in &drill.prompts {
                prop_assert!(prompt.items().len() <= 200 && !prompt.items().is_empty());
                prop_assert!(line_width(prompt.items(), false) <= width);
                for item in prompt.items() {
                    prop_assert!(routes.preferred(item).is_some());
                }
            }
        }
    }
}
