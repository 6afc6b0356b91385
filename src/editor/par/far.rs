//! How far it is at least: what a way from line to line costs where every
//! place of a line could be stood on at once, and besides what a way from
//! column to column costs where every line could be.
//!
//! Both may be added: of each key only one of them counts the cost (Katz &
//! Domshlak 2008), the lines that of a key that can leave the line, the columns
//! that of a key that stays on it.

use super::ground::{Ground, Spot, State};
use super::search::Cost;
use crate::editor::Motion;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Beyond every way; far enough from the end of the numbers to be added to.
const NOWHERE: Cost = 1 << 60;

/// The least costs of ways to some places that follow each other.
pub(super) struct Far {
    first: Spot,
    last: Spot,
    /// From each line.
    lines: Vec<Cost>,
    /// From each remembered column.
    columns: Vec<Cost>,
}

/// The keys that go or select.
pub(super) struct Keys {
    /// What each costs.
    pub motions: Vec<(Motion, Cost)>,
    /// What it costs to select everything, if a key does, and what to go to
    /// the start from there.
    pub all: Option<(Cost, Cost)>,
}

impl Far {
    /// To the places from `first` to `last`.
    pub fn new(ground: &Ground, keys: &Keys, (first, last): (Spot, Spot)) -> Self {
        let mut far = Self { first, last, lines: Vec::new(), columns: Vec::new() };
        far.count_lines(ground, keys);
        far.count_columns(ground, keys);
        far
    }

    fn count_lines(&mut self, ground: &Ground, keys: &Keys) {
        let end = ground.last_line();
        self.lines = vec![NOWHERE; end + 1];
        self.lines[ground.line(self.first)..=ground.line(self.last)].fill(0);
        // Until nothing gets less (Bellman 1958, Ford 1956).
        let mut less = true;
        while less {
            less = false;
            for line in 0..=end {
                let mut here = self.lines[line];
                for &(motion, cost) in &keys.motions {
                    for to in ground.lines_led(line, motion) {
                        here = here.min(cost + self.lines[to]);
                    }
                }
                if let Some((all, back)) = keys.all {
                    here = here.min(all + self.lines[end]).min(all + back + self.lines[0]);
                }
                less |= here != self.lines[line];
                self.lines[line] = here;
            }
        }
    }

    fn count_columns(&mut self, ground: &Ground, keys: &Keys) {
        let count = ground.columns();
        // The steps that lead to each column: from which, for what, and the
        // number of the next one in the list, plus one.
        let mut steps: Vec<(u32, Cost, u32)> = Vec::with_capacity(4 * ground.states());
        let mut list = vec![0_u32; count];
        // What it costs to get to a column from anywhere.
        let mut anywhere = vec![NOWHERE; count];
        let mut least = vec![NOWHERE; count];
        let lines = 0..=ground.last_line();
        for &(motion, cost) in keys.motions.iter().filter(|(motion, _)| !motion.keeps_column()) {
            let by_place = matches!(
                motion,
                Motion::Left | Motion::Right | Motion::WordLeft | Motion::WordRight
            );
            for line in lines.clone() {
                if !by_place {
                    // The same from all places of the line, but to a paragraph.
                    for at in [ground.first(line), ground.first(line + 1) - 1] {
                        let to = ground.go(at, motion);
                        let stays = matches!(motion, Motion::LineStart | Motion::LineEnd);
                        let column = ground.wanted(to);
                        anywhere[column] = anywhere[column].min(if stays { cost } else { 0 });
                    }
                    continue;
                }
                let mut before = (Spot::MAX, 0, 0);
                for (column, at) in ground.fallen(line).enumerate() {
                    if at != before.0 {
                        let to = ground.go(at, motion);
                        before =
                            (at, ground.wanted(to), if ground.line(to) == line { cost } else { 0 });
                    }
                    let (_, to, cost) = before;
                    // The line above often leads there from the same column.
                    let newest = list[to].checked_sub(1).map(|n| steps[n as usize]);
                    if newest.is_none_or(|(from, least, _)| (from, least) != (column as u32, cost))
                    {
                        steps.push((column as u32, cost, list[to]));
                        list[to] = steps.len() as u32;
                    }
                }
            }
        }
        for line in lines {
            for (column, at) in ground.fallen(line).enumerate() {
                if (self.first..=self.last).contains(&at) {
                    least[column] = 0;
                }
            }
        }
        if keys.all.is_some() {
            anywhere[ground.wanted(ground.end())] = 0;
            anywhere[0] = 0;
        }
        // From the goal back (Dijkstra 1959).
        let mut heap: BinaryHeap<Reverse<(Cost, usize)>> =
            (0..count).filter(|column| least[*column] == 0).map(|to| Reverse((0, to))).collect();
        let mut most = NOWHERE;
        while let Some(Reverse((cost, to))) = heap.pop() {
            if cost > least[to] {
                continue;
            }
            most = most.min(cost + anywhere[to]);
            let mut next = list[to];
            while next != 0 {
                let (from, step, after) = steps[next as usize - 1];
                let (from, cost) = (from as usize, cost + step);
                if cost < least[from] {
                    least[from] = cost;
                    heap.push(Reverse((cost, from)));
                }
                next = after;
            }
        }
        // What goes from anywhere to the best column to go to needs no second
        // round: all others cost at most as much from there.
        for cost in &mut least {
            *cost = (*cost).min(most);
        }
        self.columns = least;
    }

    /// True where `at` is one of the places.
    pub const fn holds(&self, at: Spot) -> bool {
        self.first <= at && at <= self.last
    }

    /// From `state`, by keys of at least `step`.
    pub fn from(&self, ground: &Ground, state: State, step: Cost) -> Cost {
        let at = ground.at(state);
        if self.holds(at) {
            return 0;
        }
        let column = if ground.is_odd(state) { 0 } else { self.columns[ground.wanted(state)] };
        (self.lines[ground.line(at)] + column).max(step)
    }

    /// From the place `at`, whichever column is remembered there.
    pub fn starting_at(&self, ground: &Ground, at: Spot, step: Cost) -> Cost {
        if self.holds(at) {
            return 0;
        }
        let line = ground.line(at);
        let there = self.columns.iter().zip(ground.fallen(line)).filter(|(_, other)| *other == at);
        let column = there.map(|(cost, _)| *cost).min().unwrap_or(0);
        (self.lines[line] + column).max(step)
    }
}
