//! Speed of the search for a placement and of its proof.
//!
//! `cargo bench --bench arrange` prints swap evaluations a second, and for each
//! published instance how long it takes from random placements to the optimum.

use divan::{Bencher, counter::ItemsCount};
use etude::arrange::{Effort, Patience, Problem, prove, search, start};
use std::time::Instant;

fn main() {
    optima();
    divan::main();
}

const SEEDS: u64 = 20;

fn instances() -> Vec<(&'static str, Problem, i64)> {
    let one = |name, file: &str, optimum| {
        let mut figures =
            file.split_ascii_whitespace().map(|n| n.parse::<i64>().expect("a number"));
        let n = figures.next().expect("a size") as usize;
        let flow: Vec<i64> = figures.by_ref().take(n * n).collect();
        let distance: Vec<i64> = figures.collect();
        (name, Problem::plain(n, flow, distance).expect("an instance"), optimum)
    };
    macro_rules! file {
        ($name:literal) => {
            include_str!(concat!("../tests/fixtures/qaplib/", $name, ".dat"))
        };
    }
    vec![
        one("bur26a", file!("bur26a"), 5_426_670),
        one("bur26b", file!("bur26b"), 3_817_852),
        one("bur26c", file!("bur26c"), 5_426_795),
        one("bur26d", file!("bur26d"), 3_821_225),
        one("nug12", file!("nug12"), 578),
        one("nug15", file!("nug15"), 1150),
        one("nug30", file!("nug30"), 6124),
        one("kra30a", file!("kra30a"), 88_900),
        one("tai25a", file!("tai25a"), 1_167_256),
        one("ste36a", file!("ste36a"), 9526),
    ]
}

/// From a random placement to the published optimum, for each seed.
#[expect(clippy::disallowed_methods, reason = "the bench measures time")]
fn optima() {
    for (name, problem, optimum) in instances() {
        let mut times: Vec<f64> = Vec::new();
        let mut found = 0;
        for seed in 0..SEEDS {
            let begun = Instant::now();
            let placed = start(&problem, seed, 0, 4_000_000, optimum);
            times.push(begun.elapsed().as_secs_f64());
            found += u32::from(placed.cost == optimum);
        }
        times.sort_by(f64::total_cmp);
        let (median, worst) = (times[times.len() / 2], times[times.len() - 1]);
        println!("{name}: optimum {found} of {SEEDS}, median {median:.3} s, worst {worst:.3} s");
    }
}

/// Moves of a search at n = 26; each weighs 325 swaps.
#[divan::bench]
fn swaps_26(bencher: Bencher) {
    let (_, problem, _) = instances().swap_remove(0);
    let moves = 2_000;
    bencher
        .counter(ItemsCount::new(moves * 325_u64))
        .bench(|| start(&problem, 1, 0, moves, i64::MIN));
}

#[divan::bench(args = ["nug12", "nug15"], sample_count = 3)]
fn proof(bencher: Bencher, name: &str) {
    let (_, problem, optimum) =
        instances().into_iter().find(|one| one.0 == name).expect("an instance");
    let known = search(&problem, 1, Effort { starts: 2, moves: 2_000 });
    bencher.bench(|| {
        let proof = prove(&problem, &known, Patience { bounds: u64::MAX });
        assert!(proof.is_optimal() && proof.best.cost == optimum);
        proof
    });
}
