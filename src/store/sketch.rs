//! A mergeable summary of latencies.
//!
//! DDSketch (Masson, Rim & Lee, VLDB 2019) with a relative accuracy of 1 %:
//! counts in bins whose bounds grow by a constant ratio. Merging adds the
//! counts, so it is exact, and its order doesn't matter. Latencies are whole
//! microseconds; their sum stays exact in an `f64` up to 2^53.
//!
//! Kept as a CRC-32 (four bytes, big endian) and the library's own interchange
//! bytes, which list only bins in use. The CRC keeps damaged bytes from the
//! library's decoder, which trusts its input.

use crate::session::Spread;
use crate::units::Micros;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sketches_ddsketch::DDSketch;
use std::fmt;

/// Latencies, summed up.
#[derive(Clone, Default)]
pub struct Sketch {
    inner: DDSketch,
}

impl Sketch {
    /// Takes in one latency.
    pub fn add(&mut self, latency: Micros) {
        self.inner.add(latency.0 as f64);
    }

    /// Takes in all that `other` has taken in.
    pub fn merge(&mut self, other: &Self) {
        // The only error is a differing configuration; there is just one here,
        // and `from_bytes` refuses others.
        let merged = self.inner.merge(&other.inner);
        debug_assert!(merged.is_ok());
    }

    /// How many latencies it has taken in.
    pub fn count(&self) -> u64 {
        self.inner.count() as u64
    }

    /// The `q` quantile (0 to 1) within 1 %; none where it is empty.
    pub fn quantile(&self, q: f64) -> Option<Micros> {
        let value = self.inner.quantile(q.clamp(0.0, 1.0)).ok().flatten()?;
        Some(Micros(value.round() as u64))
    }

    /// The median within 1 % (of an even count, the lower of the middle two).
    pub fn median(&self) -> Option<Micros> {
        self.quantile(0.5)
    }

    /// Median and quartiles within 1 %; none where it is empty.
    pub fn spread(&self) -> Option<Spread> {
        let median = self.median()?;
        let n = usize::try_from(self.count()).unwrap_or(usize::MAX);
        let quartiles = self.quantile(0.25).zip(self.quantile(0.75)).filter(|_| n >= 4);
        Some(Spread { n, median, quartiles })
    }

    /// The bytes that [`Sketch::from_bytes`] reads. Equal sketches give equal
    /// bytes, however they came about.
    pub fn to_bytes(&self) -> Vec<u8> {
        let body = self.inner.to_java_bytes();
        let mut bytes = crc32fast::hash(&body).to_be_bytes().to_vec();
        bytes.extend_from_slice(&body);
        bytes
    }

    /// The sketch that gave `bytes`; none where they are damaged.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (crc, body) = bytes.split_first_chunk::<4>()?;
        if crc32fast::hash(body).to_be_bytes() != *crc {
            return None;
        }
        let mut inner = DDSketch::from_java_bytes(body).ok()?;
        // Refuses another configuration. Nothing is merged into it, not the
        // other way round, which would copy all its bins.
        inner.merge(&DDSketch::default()).ok()?;
        Some(Self { inner })
    }
}

impl PartialEq for Sketch {
    fn eq(&self, other: &Self) -> bool {
        self.to_bytes() == other.to_bytes()
    }
}

impl fmt::Debug for Sketch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Sketch(n {}, median {:?})", self.count(), self.median())
    }
}

impl Serialize for Sketch {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        super::hex::encode(&self.to_bytes()).serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Sketch {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        super::hex::decode(&text)
            .and_then(|bytes| Self::from_bytes(&bytes))
            .ok_or_else(|| serde::de::Error::custom("damaged sketch"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(values: &[u64]) -> Sketch {
        let mut sketch = Sketch::default();
        for &value in values {
            sketch.add(Micros(value));
        }
        sketch
    }

    #[test]
    fn the_median_is_within_one_percent() {
        let values: Vec<u64> = (0..1001).map(|n| 25_000 + n * 1_900).collect();
        let sketch = of(&values);
        for (q, exact) in [(0.25, values[250]), (0.5, values[500]), (0.75, values[750])] {
            let got = sketch.quantile(q).unwrap().0 as f64;
            assert!((got / exact as f64 - 1.0).abs() <= 0.0101, "{q}: {got} for {exact}");
        }
        assert_eq!(of(&[]).median(), None);
    }

    #[test]
    fn damaged_bytes_are_refused() {
        let bytes = of(&[30_000, 200_000, 1_900_000]).to_bytes();
        assert!(Sketch::from_bytes(&[]).is_none());
        for n in 0..bytes.len() {
            let mut bad = bytes.clone();
            bad[n] ^= 0x10;
            assert!(Sketch::from_bytes(&bad).is_none(), "byte {n}");
            assert!(Sketch::from_bytes(&bytes[..n]).is_none(), "cut at {n}");
        }
    }

    proptest! {
        #[test]
        fn merging_equals_taking_in_all_in_any_order(
            a in prop::collection::vec(25_000u64..=2_000_000, 0..60),
            b in prop::collection::vec(25_000u64..=2_000_000, 0..60),
            c in prop::collection::vec(25_000u64..=2_000_000, 0..60),
        ) {
            let whole = of(&[a.clone(), b.clone(), c.clone()].concat());
            let mut left = of(&a);
            left.merge(&of(&b));
            left.merge(&of(&c));
            let mut right = of(&c);
            right.merge(&of(&b));
            right.merge(&of(&a));
            prop_assert_eq!(whole.to_bytes(), left.to_bytes());
            prop_assert_eq!(whole.to_bytes(), right.to_bytes());
            let back = Sketch::from_bytes(&whole.to_bytes()).unwrap();
            prop_assert_eq!(back.to_bytes(), whole.to_bytes());
            prop_assert_eq!(back.median(), whole.median());
        }
    }
}
