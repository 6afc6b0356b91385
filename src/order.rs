//! Sorting and gathering with little code.
//!
//! The sorts of the standard library are made anew for each type, five
//! kilobytes a time, and so are maps and sets that are collected: they sort
//! what they are given first. With more than a hundred types that was a
//! tenth of the program. Where a few hundred things are put in order between
//! two keys that is too dear; what is here costs a few hundred bytes a type.
//! Loops that run for milliseconds keep the sorts of the standard library.

use std::cmp::Ordering;

/// Maps and sets out of an iterator.
pub trait Gather: Iterator + Sized {
    /// All of it in a collection, put in one after the other; of equal keys in
    /// a map the last value stays.
    fn gather<C: Default + Extend<Self::Item>>(self) -> C {
        let mut gathered = C::default();
        gathered.extend(self);
        gathered
    }
}

impl<I: Iterator> Gather for I {}

/// Sorting of slices; equal elements stay in the order that they are in.
pub trait InOrder<T> {
    /// Sorts by `compare`, a total order.
    fn order_by(&mut self, compare: impl FnMut(&T, &T) -> Ordering);

    /// Sorts by `key`, which is worked out anew for each comparison.
    fn order_by_key<K: Ord>(&mut self, key: impl FnMut(&T) -> K);

    /// Sorts by `key`, which is worked out once for each element.
    fn order_by_cached_key<K: Ord>(&mut self, key: impl FnMut(&T) -> K);
}

impl<T> InOrder<T> for [T] {
    fn order_by(&mut self, mut compare: impl FnMut(&T, &T) -> Ordering) {
        let order = order_of(self.len(), &mut |one, other| compare(&self[one], &self[other]));
        bring_into(self, order);
    }

    fn order_by_key<K: Ord>(&mut self, mut key: impl FnMut(&T) -> K) {
        self.order_by(|one, other| key(one).cmp(&key(other)));
    }

    fn order_by_cached_key<K: Ord>(&mut self, key: impl FnMut(&T) -> K) {
        let keys: Vec<K> = self.iter().map(key).collect();
        let order = order_of(self.len(), &mut |one, other| keys[one].cmp(&keys[other]));
        bring_into(self, order);
    }
}

/// In which order `count` elements follow each other; equal ones by number.
fn order_of(count: usize, compare: &mut dyn FnMut(usize, usize) -> Ordering) -> Vec<usize> {
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_unstable_by(|&one, &other| compare(one, other).then(one.cmp(&other)));
    order
}

/// Puts in each place the element whose number `order` has there, one cycle of
/// the permutation after the other.
fn bring_into<T>(slice: &mut [T], mut order: Vec<usize>) {
    for start in 0..order.len() {
        let mut here = start;
        loop {
            let from = std::mem::replace(&mut order[here], here);
            if from == start {
                break;
            }
            slice.swap(here, from);
            here = from;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::{BTreeMap, BTreeSet};

    proptest! {
        #[test]
        fn what_is_ordered_is_as_the_standard_library_sorts_it(
            pairs in prop::collection::vec((0_u8..9, any::<u32>()), 0..80),
        ) {
            let mut sorted = pairs.clone();
            sorted.sort_by_key(|pair| pair.0);
            let mut by = pairs.clone();
            by.order_by(|one, other| one.0.cmp(&other.0));
            prop_assert_eq!(&by, &sorted);
            let mut by_key = pairs.clone();
            by_key.order_by_key(|pair| pair.0);
            prop_assert_eq!(&by_key, &sorted);
            let mut by_cached_key = pairs;
            by_cached_key.order_by_cached_key(|pair| pair.0);
            prop_assert_eq!(&by_cached_key, &sorted);
        }

        #[test]
        fn what_is_gathered_is_as_the_standard_library_collects_it(
            pairs in prop::collection::vec((0_u8..9, any::<u32>()), 0..40),
        ) {
            let map: BTreeMap<u8, u32> = pairs.iter().copied().gather();
            prop_assert_eq!(map, pairs.iter().copied().collect());
            let set: BTreeSet<u32> = pairs.iter().map(|pair| pair.1).gather();
            prop_assert_eq!(set, pairs.iter().map(|pair| pair.1).collect());
        }
    }
}
