//! The general-purpose numerical parts: Huber's location, Paule–Mandel,
//! Wilson's bound, quantiles.

use statrs::function::{beta, erf};

/// Huber's tuning constant: full weight within so many standard deviations.
/// At 1.5 an estimate keeps 96 % of its efficiency where the data is normal
/// (Huber 1964, "Robust estimation of a location parameter").
pub const HUBER_K: f64 = 1.5;

/// Two-sided 90 % of the normal distribution.
pub const Z90: f64 = 1.644_853_626_951_472_2;

/// One-sided 90 % of the normal distribution.
pub const Z90_ONE_SIDED: f64 = 1.281_551_565_544_600_4;

/// The normal distribution's share below `z`, 0 to 1.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z / std::f64::consts::SQRT_2)
}

/// The weight of a standardised residual in Huber's loss: 1 within `k`,
/// `k / |r|` beyond it. An infinite `k` gives least squares.
pub fn huber_weight(r: f64, k: f64) -> f64 {
    let size = r.abs();
    if size <= k { 1.0 } else { k / size }
}

/// E(ψ(Z)²) of Huber's ψ for a standard normal Z: what the mean squared,
/// clipped residual falls short of 1 (Huber 1981, "Robust Statistics", 6.7).
pub fn huber_consistency(k: f64) -> f64 {
    if k.is_infinite() {
        return 1.0;
    }
    let density = (-0.5 * k * k).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let beyond = normal_cdf(-k);
    (1.0 - 2.0 * beyond) - 2.0 * k * density + 2.0 * k * k * beyond
}

/// The median of `values` with weights: the least value with at least half of
/// the weight at or below it, or the middle of two where exactly half lies
/// below. None where no weight is above zero.
pub fn weighted_median(values: &mut [(f64, f64)]) -> Option<f64> {
    values.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let total: f64 = values.iter().map(|v| v.1).sum();
    if total <= 0.0 {
        return None;
    }
    let mut below = 0.0;
    for (index, (value, weight)) in values.iter().enumerate() {
        below += weight;
        if (below - total / 2.0).abs() <= total * 1e-12 {
            let next = values[index + 1..].iter().find(|v| v.1 > 0.0);
            return Some(next.map_or(*value, |next| f64::midpoint(*value, next.0)));
        }
        if below > total / 2.0 {
            return Some(*value);
        }
    }
    values.last().map(|v| v.0)
}

/// Huber's location of `(value, weight)` at a known `scale`: the zero of
/// Σ w ψ((y − m)/scale), by reweighted means from the weighted median. None
/// where no weight is above zero.
pub fn huber_location(values: &[(f64, f64)], scale: f64, k: f64) -> Option<f64> {
    let mut location = weighted_median(&mut values.to_vec())?;
    for _ in 0..200 {
        let (mut sum, mut weight) = (0.0, 0.0);
        for &(value, w) in values {
            let w = w * huber_weight((value - location) / scale, k);
            sum += w * value;
            weight += w;
        }
        let next = sum / weight;
        let moved = (next - location).abs();
        location = next;
        if moved <= 1e-12 * scale {
            break;
        }
    }
    Some(location)
}

/// The variance between groups by Paule and Mandel: the τ² ≥ 0 at which
/// Σ (mᵢ − μ)² / (vᵢ + τ²) is its expectation, one less than the number of
/// groups; 0 where it is less already, and for fewer than two groups.
///
/// `groups` are estimates with their sampling variances, > 0. Source: Paule &
/// Mandel 1982, "Consensus values and weighting factors", J. Res. NBS 87.
pub fn paule_mandel(groups: &[(f64, f64)]) -> f64 {
    paule_mandel_about(groups, |tau2| precision_mean(groups, tau2).0, 1.0)
}

/// [`paule_mandel`] about any fitted mean that took `parameters` from the data.
pub fn paule_mandel_about(
    groups: &[(f64, f64)],
    mean: impl Fn(f64) -> f64,
    parameters: f64,
) -> f64 {
    paule_mandel_by(groups.len() as f64 - parameters, |tau2| {
        let mean = mean(tau2);
        groups.iter().map(|(m, v)| (m - mean).powi(2) / (v + tau2)).sum()
    })
}

/// The τ² ≥ 0 at which the falling function `q` reaches `expected`.
pub fn paule_mandel_by(expected: f64, q: impl Fn(f64) -> f64) -> f64 {
    if expected <= 0.0 || q(0.0) <= expected {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1e-4);
    while q(high) > expected && high < 1e6 {
        low = high;
        high *= 4.0;
    }
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if q(middle) > expected {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// The mean of `groups` weighted by 1 / (v + τ²), and its variance.
pub fn precision_mean(groups: &[(f64, f64)], tau2: f64) -> (f64, f64) {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (m, v) in groups {
        sum += m / (v + tau2);
        weight += 1.0 / (v + tau2);
    }
    (sum / weight, 1.0 / weight)
}

/// Wilson's interval for `errors` of `n`, at `z` normal deviations: lower and
/// upper bound, 0 to 1; (0, 1) for `n` = 0. Source: Wilson 1927, "Probable
/// inference, the law of succession, and statistical inference", JASA 22.
pub fn wilson(errors: f64, n: f64, z: f64) -> (f64, f64) {
    if n <= 0.0 {
        return (0.0, 1.0);
    }
    let p = errors / n;
    let z2 = z * z;
    let middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = z / (1.0 + z2 / n) * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// The share of Beta(a, b) below `x`, 0 to 1; `a`, `b` > 0.
pub fn beta_cdf(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 {
        0.0
    } else if x >= 1.0 {
        1.0
    } else {
        beta::beta_reg(a, b, x)
    }
}

/// The quantile of Beta(a, b) at `share`, 0 to 1. By halving an interval,
/// which always ends; a posterior near zero is where faster ways go astray.
pub fn beta_quantile(a: f64, b: f64, share: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..200 {
        let middle = f64::midpoint(low, high);
        if beta_cdf(a, b, middle) < share {
            low = middle;
        } else {
            high = middle;
        }
        if high - low <= 1e-12 * high {
            break;
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values from memory of the standard table; the golden file checks more.
    #[test]
    fn quantiles_of_the_normal_distribution() {
        assert!((normal_cdf(Z90) - 0.95).abs() < 1e-9);
        assert!((normal_cdf(Z90_ONE_SIDED) - 0.9).abs() < 1e-9);
        assert!((huber_consistency(1e3) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_weighted_median_counts_weights() {
        assert_eq!(weighted_median(&mut [(3.0, 1.0), (1.0, 1.0), (2.0, 1.0)]), Some(2.0));
        assert_eq!(weighted_median(&mut [(3.0, 1.0), (1.0, 1.0)]), Some(2.0));
        assert_eq!(weighted_median(&mut [(3.0, 3.0), (1.0, 1.0)]), Some(3.0));
        assert_eq!(weighted_median(&mut []), None);
        assert_eq!(weighted_median(&mut [(3.0, 0.0)]), None);
    }

    #[test]
    fn an_outlier_moves_hubers_location_by_no_more_than_its_share() {
        let mut values: Vec<(f64, f64)> =
            (0..20).map(|n| (5.0 + 0.01 * f64::from(n), 1.0)).collect();
        let before = huber_location(&values, 0.1, HUBER_K).unwrap();
        values.push((9.0, 1.0));
        let after = huber_location(&values, 0.1, HUBER_K).unwrap();
        assert!(after > before && after - before < HUBER_K * 0.1 / 20.0 * 1.1, "{before} {after}");
        values.push((f64::from(1e6_f32), 1.0));
        assert!(huber_location(&values, 0.1, HUBER_K).unwrap() < before + 0.02);
    }

    #[test]
    fn nothing_struck_bounds_nothing() {
        assert_eq!(wilson(0.0, 0.0, Z90), (0.0, 1.0));
        assert!(paule_mandel(&[(1.0, 0.1)]) == 0.0);
        assert!(paule_mandel(&[(1.0, 0.1), (1.01, 0.1)]) == 0.0);
    }
}
