//! Speed of the plan.
//!
//! `cargo bench --bench plan`

use divan::{Bencher, black_box};
use etude::drill::{Offer, Request, STROKES, generate, offers};
use etude::keyboard::Output;
use etude::layout::{
    Access, AccessKind, Assignment, Cluster, Layer, LayerId, Layout, RouteTable, Target, shipped,
};
use etude::plan::{Need, Planner, Watch, Wishes};

/// What is practised by typing: the plan weighs it against each other.
fn text_offers(layout: &Layout, routes: &RouteTable) -> Vec<Offer> {
    offers(layout, routes).into_iter().filter(|offer| !offer.what.is_movement(layout)).collect()
}

fn main() {
    divan::main();
}

/// A layout with its layers, need and beliefs.
struct House {
    layout: Layout,
    routes: RouteTable,
    offers: Vec<Offer>,
    need: Need,
    watch: Watch,
    wishes: Wishes,
}

impl House {
    /// Over `tern-split` with so many more layers of text that the text needs
    /// 400 items and more.
    fn of_400_items() -> Self {
        let mut layout = shipped::load("tern-split").expect("a shipped layout");
        let mut next = ('\u{4e00}'..'\u{9fff}').map(Output::char);
        for n in 0..10_u8 {
            let id = LayerId(layout.layers.len() as u8);
            let hold = Access { kind: AccessKind::Hold, target: Target::Layer(id) };
            let site = &mut layout.layers[0].keys[usize::from(n)];
            *site = Assignment::Dual { tap: Box::new(site.clone()), hold };
            let count = layout.board.sites.len();
            let keys = (0..count).map(|k| match next.next() {
                Some(output) if k >= 8 => Assignment::Gives(output),
                _ => Assignment::FallThrough,
            });
            let keys = keys.collect();
            let name = format!("more{n}");
            layout.layers.push(Layer {
                name,
                cluster: Cluster::Other,
                sign: n.to_string(),
                marker: None,
                keys,
            });
        }
        let routes = RouteTable::build(&layout);
        let line: Vec<Output> = routes
            .outputs()
            .map(|(output, _)| output.clone())
            .filter(|output| matches!(output, Output::Text(_)))
            .collect();
        let need = Need::of_lines(&routes, vec![(line, 1.0)]);
        assert!(need.items().count() >= 400, "{} items", need.items().count());
        let (offers, watch) = (text_offers(&layout, &routes), Watch::new(&layout, &routes));
        Self { layout, routes, offers, need, watch, wishes: Wishes::default() }
    }

    fn planner(&self) -> Planner<'_> {
        Planner {
            layout: &self.layout,
            routes: &self.routes,
            offers: &self.offers,
            need: &self.need,
            beliefs: self.watch.beliefs(),
            wishes: &self.wishes,
            seed: 1,
        }
    }
}

/// Ten minutes of a plan for 400 items.
#[divan::bench]
fn today_for_400_items(bencher: Bencher) {
    let house = House::of_400_items();
    bencher.bench(|| black_box(house.planner()).today(10));
}

#[divan::bench]
fn choose_the_next_drill_of_400_items(bencher: Bencher) {
    let house = House::of_400_items();
    bencher.bench(|| black_box(house.planner()).next(3));
}

/// A drill by weights, made.
#[divan::bench]
fn compose_a_drill(bencher: Bencher) {
    let layout = shipped::load("tern-split").expect("a shipped layout");
    let routes = RouteTable::build(&layout);
    let need = Need::of(&routes, &etude::plan::WorkMix::default()).expect("shipped material");
    let (offers, watch) = (text_offers(&layout, &routes), Watch::new(&layout, &routes));
    let house = House { layout, routes, offers, need, watch, wishes: Wishes::default() };
    let choice = house.planner().next(1).expect("something to practise");
    bencher.bench(|| {
        generate(&Request {
            layout: &house.layout,
            routes: &house.routes,
            what: choice.what,
            seed: 1,
            ordinal: 1,
            strokes: STROKES,
            width: 72,
            weights: Some(&choice.weights),
            recollect: None,
        })
    });
}
