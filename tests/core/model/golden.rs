//! Numbers made by scipy and statsmodels; see tests/reference/*.py.

use etude::keyboard::Output;
use etude::layout::LayerId;
use etude::model::Item;
use etude::model::numeric::{
    HUBER_K, Z90_ONE_SIDED, beta_cdf, beta_quantile, huber_consistency, huber_location, normal_cdf,
    paule_mandel, precision_mean, wilson,
};
use etude::model::switch::{Motor, Observation, Options, Statistics, fit};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Robust {
    huber: Vec<Huber>,
    paule_mandel: Vec<PauleMandel>,
    binomial: Vec<Binomial>,
    normal: Normal,
}

#[derive(Deserialize)]
struct Huber {
    values: Vec<f64>,
    weights: Vec<f64>,
    scale: f64,
    location: f64,
}

#[derive(Deserialize)]
struct PauleMandel {
    means: Vec<f64>,
    variances: Vec<f64>,
    tau2: f64,
    mean: f64,
}

#[derive(Deserialize)]
struct Binomial {
    errors: u32,
    n: u32,
    wilson_low: f64,
    wilson_high: f64,
    beta_low: f64,
    beta_high: f64,
    beta_below_a_twentieth: f64,
}

#[derive(Deserialize)]
struct Normal {
    z: Vec<f64>,
    cdf: Vec<f64>,
    k: Vec<f64>,
    clipped_square: Vec<f64>,
}

fn robust() -> Robust {
    toml::from_str(include_str!("../../reference/robust.toml")).unwrap()
}

#[track_caller]
fn close(value: f64, expected: f64, within: f64) {
    let error = (value - expected).abs();
    assert!(error <= within, "{value} is not {expected}: {error:e} off, {within:e} allowed");
}

#[test]
fn hubers_location_is_scipys() {
    for case in robust().huber {
        let values: Vec<(f64, f64)> = case.values.into_iter().zip(case.weights).collect();
        close(huber_location(&values, case.scale, HUBER_K).unwrap(), case.location, 1e-10);
    }
}

#[test]
fn paule_mandel_is_statsmodels() {
    for case in robust().paule_mandel {
        let groups: Vec<(f64, f64)> = case.means.into_iter().zip(case.variances).collect();
        let tau2 = paule_mandel(&groups);
        close(tau2, case.tau2, 1e-9);
        close(precision_mean(&groups, tau2).0, case.mean, 1e-9);
    }
}

#[test]
fn bounds_and_quantiles_are_those_of_statsmodels_and_scipy() {
    for case in robust().binomial {
        let (errors, n) = (f64::from(case.errors), f64::from(case.n));
        let (low, high) = wilson(errors, n, Z90_ONE_SIDED);
        close(low, case.wilson_low, 1e-10);
        close(high, case.wilson_high, 1e-10);
        let (a, b) = (0.5 + errors, 0.5 + n - errors);
        close(beta_quantile(a, b, 0.05), case.beta_low, 1e-9);
        close(beta_quantile(a, b, 0.95), case.beta_high, 1e-9);
        close(beta_cdf(a, b, 0.05), case.beta_below_a_twentieth, 1e-9);
    }
}

#[test]
fn the_normal_distribution_is_scipys() {
    let normal = robust().normal;
    for (z, share) in normal.z.into_iter().zip(normal.cdf) {
        close(normal_cdf(z), share, 1e-10);
    }
    for (k, square) in normal.k.into_iter().zip(normal.clipped_square) {
        close(huber_consistency(k), square, 1e-8);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Mixed {
    sd: f64,
    between_sd: f64,
    effects: BTreeMap<String, f64>,
    errors: BTreeMap<String, f64>,
    items: BTreeMap<String, f64>,
}

pub fn reference_observations() -> Vec<Observation> {
    let mut lines = include_str!("../../reference/switch.csv").lines();
    assert_eq!(lines.next(), Some("layer,item,from_layer,motor,ln_ms"));
    lines
        .map(|line| {
            let [layer, item, from, motor, ln_ms] =
                line.split(',').collect::<Vec<_>>().try_into().unwrap();
            let layer = LayerId(layer.parse().unwrap());
            Observation {
                item: Item { layer, position: None, output: Output::Text(format!("i{item}")) },
                from: LayerId(from.parse().unwrap()),
                motor: match motor {
                    "alternate" => Motor::Alternate,
                    "same_hand" => Motor::SameHand,
                    "same_finger" => Motor::SameFinger,
                    "repeat" => Motor::Repeat,
                    other => panic!("{other}"),
                },
                ln_ms: ln_ms.parse().unwrap(),
            }
        })
        .collect()
}

#[test]
fn the_switch_model_without_hubers_loss_is_statsmodels_reml() {
    let expected: Mixed = toml::from_str(include_str!("../../reference/switch.toml")).unwrap();
    let statistics = Statistics::of(0, reference_observations());
    let options = Options { huber_k: f64::INFINITY, motor_prior: false, tolerance: 1e-12 };
    let found = fit(&statistics, &options, None).unwrap();
    assert!(found.settled);
    let within = 1e-6;
    close(found.sd_ln, expected.sd, within);
    close(found.between_sd_ln, expected.between_sd, within);
    for (layer, mean) in &found.layers {
        close(*mean, expected.effects[&format!("layer_{}", layer.0)], within);
    }
    for ((from, to), (value, error)) in &found.switches {
        let name = format!("switch_{}_{}", from.0, to.0);
        close(*value, expected.effects[&name], within);
        close(*error, expected.errors[&name], within);
    }
    for (motor, (value, error)) in &found.motor {
        let name = match motor {
            Motor::Alternate => panic!("the reference class has no effect"),
            Motor::SameHand => "motor_same_hand",
            Motor::SameFinger => "motor_same_finger",
            Motor::Repeat => "motor_repeat",
        };
        close(*value, expected.effects[name], within);
        close(*error, expected.errors[name], within);
    }
    assert_eq!(found.items.len(), expected.items.len());
    for (item, effect) in &found.items {
        let Output::Text(name) = &item.output else { panic!() };
        let name = format!("item_{}_{}", item.layer.0, name.trim_start_matches('i'));
        close(*effect, expected.items[&name], within);
    }
}
