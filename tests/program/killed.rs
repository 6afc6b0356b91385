//! A practising program is killed at random moments; afterwards the history is
//! sound, and every keystroke that was judged is in it, once.
//!
//! `ETUDE_CRASH_ROUNDS` says how often (12 by default).

use crate::commands::etude;
use crate::practice::{Driven, kept};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde_json::Value;
use std::collections::BTreeSet;
use tempfile::TempDir;

fn rounds() -> u32 {
    std::env::var("ETUDE_CRASH_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(12)
}

#[test]
fn crash_loses_no_judged_keystroke() {
    let home = TempDir::new().unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let mut judged: Vec<(String, u64)> = Vec::new();
    for round in 0..rounds() {
        let mut driven = Driven::start(&home, &["thumbs", "--seed", "7"]);
        // Sometimes before the first key, sometimes beyond a whole drill.
        let keys = random.next_u32() % 400;
        let mut struck = 0;
        while struck < keys {
            let Some(line) = driven.next() else { break };
            match line["type"].as_str().unwrap() {
                "due" => {
                    let key = line["output"].as_str().unwrap().to_owned();
                    driven.strike(&key);
                }
                "judgement" => {
                    struck += 1;
                    let at = line["at_us"].as_u64().unwrap();
                    judged.push((format!("{round} {}", line["expected"]), at));
                }
                _ => {}
            }
        }
        driven.kill();
    }
    // The next start folds in what the killed ones left.
    let (status, words) = Driven::start(&home, &["numbers"]).end();
    assert_eq!((status, words.as_str()), (0, ""));
    let kept = kept(&home);
    // A keystroke may have been kept whose judgement the pipe lost: at most
    // one a round, never fewer than were judged.
    assert!(kept.len() >= judged.len(), "{} kept, {} judged", kept.len(), judged.len());
    let rounds = rounds() as usize;
    assert!(kept.len() <= judged.len() + rounds, "{} kept, {} judged", kept.len(), judged.len());
    let distinct: BTreeSet<String> =
        kept.iter().map(|k| format!("{} {}", k["drill"], k["seq"])).collect();
    assert_eq!(distinct.len(), kept.len(), "a keystroke was kept twice");
    let told = etude(&home).args(["data", "--json"]).assert().success().get_output().stdout.clone();
    let told: Value = serde_json::from_slice(&told).unwrap();
    assert_eq!(told["sound"], true, "{told}");
}
