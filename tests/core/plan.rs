//! The plan, proved on simulated typists with a known truth: what it saves of
//! the time that a page takes, against other ways of practising.
//!
//! `ETUDE_SIM_SEEDS=20 cargo test --test core plan -- --nocapture` runs more
//! typists and prints the table of docs/plan.md.

use etude::drill::{
    Drill, Flow, Offer, Prompt, Pull, Request, STROKES, Source, Weights, What, generate, offers,
};
use etude::keyboard::Output;
use etude::layout::{Cluster, LayerId, Layout, RouteTable, shipped};
use etude::plan::{Need, Planner, Watch, Wishes, Work, WorkMix};
use etude::session::{Effect, Level, Session, Spec};
use etude::typist::{Person, Text, Typist};
use etude::units::Micros;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::sync::Arc;

struct House {
    layout: Layout,
    routes: Arc<RouteTable>,
    offers: Vec<Offer>,
    need: Need,
    text: Text,
}

impl House {
    fn of(name: &str, mix: &WorkMix) -> Self {
        let layout = shipped::load(name).unwrap();
        let routes = Arc::new(RouteTable::build(&layout));
        let offers = offers(&layout, &routes);
        let need = Need::of(&routes, mix).unwrap();
        let text = Text::new(&routes, need.lines());
        Self { layout, routes, offers, need, text }
    }

    fn planner<'a>(&'a self, watch: &'a Watch, wishes: &'a Wishes, seed: u64) -> Planner<'a> {
        Planner {
            layout: &self.layout,
            routes: &self.routes,
            offers: &self.offers,
            need: &self.need,
            beliefs: watch.beliefs(),
            wishes,
            seed,
        }
    }

    fn drill(&self, what: What, seed: u64, ordinal: u32, weights: Option<&Weights>) -> Drill {
        generate(&Request {
            layout: &self.layout,
            routes: &self.routes,
            what,
            seed,
            ordinal,
            strokes: STROKES,
            width: 72,
            weights,
        })
        .unwrap()
    }
}

/// A way of choosing drills.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    Plan,
    /// Every offer in turn, every key in turn.
    Uniform,
    /// Lines of the text itself, as often as the text has them.
    Text,
    /// What is slowest, whatever it is needed for.
    Slowest,
}

const WAYS: [Way; 4] = [Way::Plan, Way::Uniform, Way::Text, Way::Slowest];

fn next(house: &House, way: Way, watch: &Watch, seed: u64, ordinal: u32) -> Drill {
    match way {
        Way::Plan => {
            let wishes = Wishes::default();
            let choice = house.planner(watch, &wishes, seed).next(ordinal).unwrap();
            house.drill(choice.what, seed, ordinal, Some(&choice.weights))
        }
        Way::Uniform => {
            let offer = &house.offers[ordinal as usize % house.offers.len()];
            house.drill(offer.what, seed, ordinal, None)
        }
        Way::Text => text_drill(house, seed, ordinal),
        Way::Slowest => {
            let (what, weights) = slowest(house, watch);
            house.drill(what, seed, ordinal, Some(&weights))
        }
    }
}

/// Lines of the text, drawn by how often they come. The caret waits after an
/// error, which costs less practice time than taking back.
fn text_drill(house: &House, seed: u64, ordinal: u32) -> Drill {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(u64::from(ordinal));
    let lines: Vec<(&[Output], f64)> = house.need.lines().collect();
    let sum: f64 = lines.iter().map(|(_, times)| times).sum();
    let mut prompts = Vec::new();
    let mut strokes = 0;
    while strokes < STROKES {
        let mut left = rng.random::<f64>() * sum;
        let line = lines.iter().find(|(_, times)| {
            left -= times;
            left <= 0.0
        });
        let items = line.unwrap_or(&lines[0]).0.to_vec();
        strokes += items.len();
        prompts.push(Prompt { items });
    }
    Drill {
        title: "text".to_owned(),
        cluster: Cluster::Base,
        flow: Flow::Stay,
        source: Source::Own,
        prompts,
        left_out: Vec::new(),
    }
}

/// The eight slowest keys of the offer that has the slowest key.
fn slowest(house: &House, watch: &Watch) -> (What, Weights) {
    let log = |output: &Output| {
        let key = (house.routes.preferred(output)?.layer, output.clone());
        Some((watch.beliefs().items.get(&key)?.course.log().0, key))
    };
    let (_, what, mut keys) = house
        .offers
        .iter()
        .map(|offer| {
            let mut keys: Vec<(f64, (LayerId, Output))> =
                offer.keys.iter().filter_map(log).collect();
            keys.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
            (keys.first().map_or(0.0, |key| key.0), offer.what, keys)
        })
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
        .unwrap();
    keys.truncate(8);
    let items = keys
        .into_iter()
        .map(|(log, key)| (key, Pull { gain: log.exp(), times: 1.0, seconds: log.exp() / 1000.0 }));
    let items = items.collect();
    (what, Weights { items, other_seconds: 0.2, ..Weights::default() })
}

/// Share of the text's time that practice of `minutes` saves, 0 to 1.
fn saved(house: &House, person: &Person, way: Way, seed: u64, minutes: u64) -> f64 {
    let mut typist = Typist::new(&house.layout, &house.routes, person.clone(), seed);
    let mut watch = Watch::new(&house.layout, &house.routes);
    let routes = Arc::clone(&house.routes);
    let mut session = Session::new(Spec { routes, level: Level::default() });
    let before = typist.text_seconds(&house.text);
    let until = Micros::from_secs(minutes * 60);
    for ordinal in 0.. {
        let drill = next(house, way, &watch, seed, ordinal);
        for effect in typist.play(&mut session, drill, until) {
            if let Effect::Keystroke(keystroke) = effect {
                watch.see(&keystroke);
            }
        }
        if session.active() >= until {
            break;
        }
    }
    1.0 - typist.text_seconds(&house.text) / before
}

fn seeds() -> u64 {
    std::env::var("ETUDE_SIM_SEEDS").ok().and_then(|seeds| seeds.parse().ok()).unwrap_or(2)
}

fn spread(shares: &[f64]) -> String {
    let n = shares.len() as f64;
    let mean = shares.iter().sum::<f64>() / n;
    let variance = shares.iter().map(|share| (share - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let least = shares.iter().copied().fold(f64::MAX, f64::min);
    let most = shares.iter().copied().fold(f64::MIN, f64::max);
    format!("{mean:.3} | {:.3} | {least:.3} | {most:.3}", variance.sqrt())
}

#[test]
fn the_plan_saves_more_than_other_ways_on_every_seed() {
    let person = Person::default();
    let mut lost = Vec::new();
    for (name, mix) in [
        ("both", WorkMix::default()),
        ("code", WorkMix::only(Work::Code)),
        ("prose", WorkMix::only(Work::Prose)),
    ] {
        let seeds = if name == "both" || seeds() > 2 { seeds() } else { 1 };
        let house = House::of("tern-split", &mix);
        let mut shares: BTreeMap<Way, Vec<f64>> = BTreeMap::new();
        for seed in 0..seeds {
            for way in WAYS {
                let share = saved(&house, &person, way, seed, 25);
                shares.entry(way).or_default().push(share);
            }
        }
        for way in WAYS {
            println!("| {name} | {way:?} | {} |", spread(&shares[&way]));
            for (seed, (plan, other)) in shares[&Way::Plan].iter().zip(&shares[&way]).enumerate() {
                if way != Way::Plan && plan <= other {
                    lost.push(format!("{name}, seed {seed}: {way:?} {other:.4} > {plan:.4}"));
                }
            }
        }
    }
    assert!(lost.is_empty(), "{}", lost.join("\n"));
}

#[test]
fn scratch() {
    let house = House::of("tern-split", &WorkMix::only(Work::Code));
    let person = Person::default();
    for way in [Way::Plan, Way::Text, Way::Uniform] {
        let mut typist = Typist::new(&house.layout, &house.routes, person.clone(), 0);
        let mut watch = Watch::new(&house.layout, &house.routes);
        let mut session =
            Session::new(Spec { routes: Arc::clone(&house.routes), level: Level::default() });
        let until = Micros::from_secs(1500);
        for ordinal in 0.. {
            let drill = next(&house, way, &watch, 0, ordinal);
            let wishes = Wishes::default();
            let p = house.planner(&watch, &wishes, 0).about(drill_what(&house, &drill), ordinal);
            let lines: Vec<Vec<Output>> = drill.prompts.iter().map(|p| p.items.clone()).collect();
            let n: usize = lines.iter().map(Vec::len).sum();
            let (title, a) = (drill.title.clone(), session.active());
            let before = typist.text_seconds(&house.text);
            for effect in typist.play(&mut session, drill, until) {
                if let Effect::Keystroke(keystroke) = effect {
                    watch.see(&keystroke);
                }
            }
            let took = session.active().since(a).as_secs();
            let gain = (before - typist.text_seconds(&house.text)) * 1000.0;
            println!(
                "{way:?} {ordinal} {:.12} n{n} {took:.0}s true {:.1} ms/page/s; expected {:.1}, {}",
                title,
                gain / took,
                p.as_ref().map_or(0.0, |p| p.worth),
                p.map_or(String::new(), |p| p.reason)
            );
            if ordinal % 8 == 1 {
                println!(
                    "   {}",
                    lines
                        .iter()
                        .map(|l| l.iter().map(|o| etude::drill::glyph(o, true)).collect::<String>())
                        .collect::<Vec<_>>()
                        .join(" / ")
                );
            }
            if session.active() >= until {
                break;
            }
        }
        println!("{:.1}", typist.text_seconds(&house.text));
    }
}
fn drill_what(house: &House, drill: &Drill) -> What {
    house.offers.iter().find(|o| o.title == drill.title).map_or(What::Thumbs, |o| o.what)
}
