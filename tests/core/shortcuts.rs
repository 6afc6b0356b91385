//! Drills of shortcuts: laws that hold for every layout and wish.

use etude::drill::{
    Cue, Drill, DrillError, Prompt, Recollect, Remembered, Request, STROKES, Shortcut, Strikes,
    Way, What, generate, shortcut_offer, shortcuts,
};
use etude::input::{Parsed, Parser};
use etude::keyboard::Output;
use etude::layout::{Cluster, Layout, RouteTable, shipped};
use etude::session::{Granted, Level, SHOW_KEY};
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::sync::LazyLock;

const LAYERED: [&str; 4] = ["tern-split", "tern-small", "tern-laptop", "tern-ortho"];

static SPLIT: LazyLock<(Layout, RouteTable)> = LazyLock::new(|| load("tern-split"));

fn load(name: &str) -> (Layout, RouteTable) {
    let layout = shipped::load(name).unwrap();
    let routes = RouteTable::build(&layout);
    (layout, routes)
}

fn drill(
    (layout, routes): &(Layout, RouteTable),
    ordinal: u32,
    seed: u64,
    recollect: Option<&Recollect>,
) -> Result<Drill, DrillError> {
    generate(&Request {
        layout,
        routes,
        what: What::Cluster(Cluster::Shortcuts),
        seed,
        ordinal,
        strokes: STROKES,
        width: 72,
        weights: None,
        recollect,
    })
}

fn strikes(drill: &Drill) -> Vec<&Strikes> {
    let all = drill.prompts.iter().map(|prompt| match prompt {
        Prompt::Strike(strikes) => strikes,
        Prompt::Text(_) | Prompt::Edit(_) => panic!("no actions in a drill of shortcuts"),
    });
    all.collect()
}

/// What holds for every drill of shortcuts.
fn faults(drill: &Drill, known: &[Shortcut], absent: &BTreeSet<Output>) -> Vec<String> {
    let mut faults = Vec::new();
    let mut last: Option<&Output> = None;
    let total: usize = drill.prompts.iter().map(|prompt| prompt.items().len()).sum();
    if !(20..=45).contains(&total) {
        faults.push(format!("{total} strikes"));
    }
    for strikes in strikes(drill) {
        if strikes.items().is_empty() || strikes.items().len() != strikes.titles().len() {
            faults.push("items and titles differ".to_owned());
        }
        if !strikes.told && strikes.items().len() == 1 && last == strikes.items().first() {
            // A told action is asked for right after only when it is alone.
            let alone = strikes.items().first();
            let others = drill.prompts.iter().flat_map(Prompt::items).any(|o| Some(o) != alone);
            if others {
                faults.push(format!("{} twice running", strikes.items()[0]));
            }
        }
        last = strikes.items().last();
        for item in strikes.items() {
            if absent.contains(item) {
                faults.push(format!("{item} can't arrive"));
            }
            if matches!(item, Output::Text(_)) || *item == Output::char(SHOW_KEY) {
                faults.push(format!("{item} is text"));
            }
            if !known.iter().any(|shortcut| shortcut.due == *item) {
                faults.push(format!("{item} is no shortcut of the layout"));
            }
        }
        if let Cue::Change { before, after } = &strikes.cue
            && (strikes.told || before == after)
        {
            faults.push("a change that asks nothing".to_owned());
        }
    }
    faults
}

#[test]
fn every_layered_layout_asks_for_all_that_it_has() {
    for name in LAYERED {
        let house = load(name);
        let known = shortcuts(&house.0, &house.1).unwrap();
        let offer = shortcut_offer(&house.0, &house.1).unwrap();
        assert!(known.len() >= 20, "{name}: {}", known.len());
        assert_eq!(offer.keys.len(), known.len());
        let mut owed: BTreeSet<Output> = offer.keys.into_iter().collect();
        let (mut changes, mut sequences, mut by_hand) = (0, 0, 0);
        for ordinal in 0..9 {
            let drill = drill(&house, ordinal, 7, None).unwrap();
            let faults = faults(&drill, &known, &BTreeSet::new());
            assert!(faults.is_empty(), "{name}, {ordinal}: {faults:?}");
            for strikes in strikes(&drill) {
                strikes.items().iter().for_each(|item| _ = owed.remove(item));
                changes += usize::from(strikes.cue != Cue::Title);
                sequences += usize::from(!strikes.told && strikes.items().len() > 1);
                by_hand += usize::from(strikes.way == Way::Hand);
            }
        }
        assert!(owed.is_empty(), "{name}: {owed:?}");
        assert!(changes > 5 && sequences > 5, "{name}: {changes}, {sequences}");
        assert!(by_hand > 0, "{name}: nothing is compared");
    }
}

#[test]
fn a_comparison_asks_for_the_same_by_both_ways() {
    let drill = drill(&SPLIT, 2, 3, None).unwrap();
    let strikes = strikes(&drill);
    assert!(strikes.iter().all(|strikes| strikes.told));
    for pair in strikes.chunks(2) {
        assert_eq!(pair[0].items(), pair[1].items());
        assert_ne!(pair[0].way, pair[1].way);
    }
    assert_ne!(strikes[0].way, strikes[2].way, "neither way always comes first");
    let on_the_old_way = Recollect { one_way: true, ..Recollect::default() };
    let drill = self::drill(&SPLIT, 2, 3, Some(&on_the_old_way)).unwrap();
    assert!(self::strikes(&drill).iter().all(|strikes| strikes.way == Way::Layout));
}

#[test]
fn a_layout_without_shortcuts_offers_none() {
    let house = load("plain-ansi");
    assert_eq!(shortcut_offer(&house.0, &house.1), None);
    assert!(matches!(drill(&house, 0, 1, None), Err(DrillError::NothingToDrill { .. })));
}

#[test]
fn an_action_of_the_layout_has_its_own_chord_and_title() {
    let (mut layout, _) = load("tern-split");
    let action = layout.actions.get_mut("save").unwrap();
    action.title = "write the log to the disk".to_owned();
    action.chord = "Ctrl+Shift+S".parse().unwrap();
    let found = shortcuts(&layout, &RouteTable::build(&layout)).unwrap();
    let save = found.iter().find(|one| one.name.as_deref() == Some("save")).unwrap();
    assert_eq!(
        (save.due.to_string(), save.title.as_str()),
        ("Ctrl+Shift+S".into(), "write the log to the disk")
    );
    assert!(!found.iter().any(|one| one.due.to_string() == "Ctrl+S"), "the convention gives way");
}

#[test]
fn what_is_due_comes_first_and_what_is_new_is_told_before_it_is_asked_for() {
    let all: Vec<Output> =
        shortcuts(&SPLIT.0, &SPLIT.1).unwrap().into_iter().map(|one| one.due).collect();
    let remembered = Remembered {
        due: vec![all[9].clone(), all[2].clone()],
        fresh: all[..2].to_vec(),
        known: all[3..9].to_vec(),
    };
    let wish = Recollect { remembered: Some(remembered), ..Recollect::default() };
    let drill = drill(&SPLIT, 0, 5, Some(&wish)).unwrap();
    let strikes = strikes(&drill);
    let first: Vec<(bool, &Output)> =
        strikes[..6].iter().map(|strikes| (strikes.told, &strikes.items()[0])).collect();
    let wanted = [(true, 0), (true, 1), (false, 9), (false, 2), (false, 0), (false, 1)];
    assert_eq!(first, wanted.map(|(told, n)| (told, &all[n])));
    let asked: BTreeSet<&Output> = drill.prompts.iter().flat_map(Prompt::items).collect();
    assert!(asked.iter().all(|item| !all[10..].contains(item)), "nothing that is not its turn");
}

#[test]
fn what_the_terminal_lacks_is_left_out_and_counted() {
    for level in [Level::Plain, Level::ModifyOtherKeys, Level::Enhanced(Granted::all())] {
        let known = shortcuts(&SPLIT.0, &SPLIT.1).unwrap();
        let absent: BTreeSet<Output> =
            known.iter().map(|one| one.due.clone()).filter(|due| !level.delivers(due)).collect();
        let wish = Recollect { absent: absent.clone(), ..Recollect::default() };
        for ordinal in 0..6 {
            let drill = drill(&SPLIT, ordinal, 5, Some(&wish)).unwrap();
            assert_eq!(faults(&drill, &known, &absent), Vec::<String>::new());
            assert_eq!(drill.left_out.len(), absent.len());
        }
        let lost = absent.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
        let told = match level {
            Level::Plain => "Ctrl+Shift+P Ctrl+Shift+V Ctrl+Shift+Z",
            _ => "",
        };
        assert_eq!(lost, told, "{level:?}");
    }
}

/// What the level says of control characters agrees with what the reader of a
/// terminal's bytes makes of them.
#[test]
fn chords_of_control_characters_read_back_as_the_level_says() {
    for c in 'a'..='z' {
        let chord: Output = format!("Ctrl+{c}").parse().unwrap();
        let mut read = Vec::new();
        Parser::new().feed(&[c as u8 - b'a' + 1], &mut read);
        let [Parsed::Key(key)] = read.as_slice() else { panic!("{read:?}") };
        assert_eq!(key.stroke.output() == chord, Level::Plain.delivers(&chord), "{chord}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is due, new, known or out of reach: the laws hold, and the same
    /// seed gives the same drill.
    #[test]
    fn any_wish_gives_a_sound_drill(
        roles in prop::collection::vec(0_u8..5, 40),
        ordinal in 0_u32..40,
        seed in any::<u64>(),
        one_way in any::<bool>(),
    ) {
        let known = shortcuts(&SPLIT.0, &SPLIT.1).unwrap();
        let of = |role: u8| -> Vec<Output> {
            let with = known.iter().zip(&roles).filter(|(_, has)| **has == role);
            with.map(|(shortcut, _)| shortcut.due.clone()).collect()
        };
        let absent: BTreeSet<Output> = of(3).into_iter().collect();
        let remembered = Some(Remembered { due: of(0), fresh: of(1), known: of(2) });
        let wish = Recollect { remembered, absent: absent.clone(), one_way };
        let drill = drill(&SPLIT, ordinal, seed, Some(&wish)).unwrap();
        let found = faults(&drill, &known, &absent);
        prop_assert!(found.is_empty(), "{found:?}");
        prop_assert_eq!(&drill, &self::drill(&SPLIT, ordinal, seed, Some(&wish)).unwrap());
    }
}
