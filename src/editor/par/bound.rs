//! What is still needed at least from a state: never more than the truth, so
//! that the search finds a shortest way.

use super::ground::{Ground, Spot, State};
use super::search::{Cost, Mark, Text};
use crate::editor::Motion;

/// The least costs of kinds of keys.
#[derive(Debug, Clone, Copy)]
pub(super) struct Least {
    /// A key that goes or selects.
    pub step: Cost,
    /// A key that deletes.
    pub delete: Cost,
    /// True where no key without a selection deletes more than one line's end.
    pub short: bool,
    /// True where none deletes more than a word.
    pub words: bool,
    /// True where what is left may make other graphemes together, so that what
    /// was in the middle may come to an end.
    pub joins: bool,
}

/// What is to be deleted, from one place to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Target {
    pub start: Spot,
    pub end: Spot,
    /// True where a key for whole lines could take part of it.
    pub lines: bool,
    /// How far equal text goes on before it and after it: what is deleted there
    /// may count as deleted in it.
    pub low: Spot,
    pub high: Spot,
}

impl Target {
    /// What is to be deleted of `ground`'s text: any one of `spans`, all of which
    /// leave the same. `lines` tells whether there is a key for whole lines.
    pub fn any_of(ground: &Ground, spans: &[(Spot, Spot)], lines: bool) -> Vec<Self> {
        // The others are the same text shifted: nothing goes on farther there.
        let low = spans.iter().min().map_or(0, |first| ground.reads.goes_on_before(*first));
        let high = spans.iter().max().map_or(0, |last| ground.reads.goes_on_after(*last));
        let target = |&(start, end): &(Spot, Spot)| {
            let (from, to) = (ground.line(start), ground.line(end));
            let whole = |line| {
                let (first, after) = lines_at(ground, line, line);
                start <= first && after <= end
            };
            let lines = lines && (from..=to).any(whole);
            Self { start, end, lines, low, high }
        };
        spans.iter().map(target).collect()
    }

    /// True where all from `one` to `other` is to be deleted.
    pub const fn holds(&self, (one, other): (Spot, Spot)) -> bool {
        self.start <= one && other <= self.end
    }

    /// Where in it the deletion of `span` may be counted; none where the text
    /// between differs.
    pub fn holding(
        &self,
        ground: &Ground,
        (mut one, mut other): (Spot, Spot),
    ) -> Option<(Spot, Spot)> {
        if one < self.low || self.high < other {
            return None;
        }
        while other > self.end && one > self.start && ground.equal(one - 1, other - 1) {
            (one, other) = (one - 1, other - 1);
        }
        while one < self.start && other < self.end && ground.equal(one, other) {
            (one, other) = (one + 1, other + 1);
        }
        self.holds((one, other)).then_some((one, other))
    }

    const fn is(&self, (one, other): (Spot, Spot)) -> bool {
        self.start == one && self.end == other
    }

    const fn within(&self, at: Spot) -> bool {
        self.start < at && at < self.end
    }

    const fn edge(&self, at: Spot) -> bool {
        at == self.start || at == self.end
    }
}

/// What the key for whole lines takes of the lines `first` to `last`.
pub(super) fn lines_at(ground: &Ground, first: usize, last: usize) -> (Spot, Spot) {
    if last < ground.last_line() {
        (ground.first(first), ground.first(last + 1))
    } else if first > 0 {
        (ground.first(first) - 1, ground.end())
    } else {
        (0, ground.end())
    }
}

/// The lines that a selection from `mark` to `at` touches, first and last, as
/// [`crate::editor::Editor::touched`] tells.
pub(super) fn touched(ground: &Ground, mark: Mark, at: Spot) -> (usize, usize) {
    let line_of = ground.line(at);
    let at_start = at == ground.first(line_of);
    let (line, mark_at_start) = match mark {
        Mark::None => return (line_of, line_of),
        Mark::At(place) => (ground.line(place), place == ground.first(ground.line(place))),
        Mark::OnLine { line, at_start } => (line as usize, at_start),
    };
    let (first, last, at_start) =
        if line <= line_of { (line, line_of, at_start) } else { (line_of, line, mark_at_start) };
    (first, if at_start && last > first { last - 1 } else { last })
}

/// How many keys for words it takes at least, up to three, to delete rightwards
/// from `start` to `end`: each leaves what follows the blank after it, however
/// the text at the cursor joins.
fn words_right(ground: &Ground, mut start: Spot, end: Spot) -> usize {
    for keys in 1..3 {
        let blank = (start..end).find(|&at| ground.is_blank(at));
        start = blank.map_or(end, |at| ground.go(at, Motion::WordRight));
        if start >= end {
            return keys;
        }
    }
    3
}

/// The same leftwards from `end` to `start`.
fn words_left(ground: &Ground, start: Spot, mut end: Spot) -> usize {
    for keys in 1..3 {
        let blank = (start..end).rev().find(|&at| ground.is_blank(at));
        end = blank.map_or(start, |at| ground.go(at + 1, Motion::WordLeft));
        if end <= start {
            return keys;
        }
    }
    3
}

/// How many more keys than one it takes at least to delete what is left after the
/// deletion of `span` at one end of `target`, where none deletes more than a word.
fn more_words(ground: &Ground, target: &Target, span: (Spot, Spot)) -> Cost {
    let rightwards = span.0 == target.start;
    let (start, end) = if rightwards {
        (span.1, target.end)
    } else if span.1 == target.end {
        (target.start, span.0)
    } else {
        return 0;
    };
    // Else it could be deleted from next to it too.
    if ground.equal(start, target.end)
        || (target.start > 0 && ground.equal(target.start - 1, end - 1))
    {
        return 0;
    }
    let words =
        if rightwards { words_right(ground, start, end) } else { words_left(ground, start, end) };
    // What is part of one line, no key but one for a word selects.
    let line = ground.line(start);
    let (first, last) = (ground.first(line), ground.first(line + 1) - 1);
    let part = ground.line(end) == line && if rightwards { end < last } else { start > first };
    match words {
        0 | 1 => 0,
        3 if part => 2,
        _ => 1,
    }
}

impl Least {
    /// True where neither a key that selects gets over so many lines' ends of
    /// `target` at once nor two that delete take them, as long as no line has
    /// become blank on the way.
    fn is_long(self, ground: &Ground, target: &Target, ends: usize) -> bool {
        if !self.short || ends < 3 {
            return false;
        }
        let (first, last) = (ground.line(target.low), ground.line(target.high));
        // Whole lines need one step less.
        let paged = [ends, ends - 1].contains(&ground.page());
        // To the first or last line, or a paragraph.
        let edge = first < 2 || last + 2 > ground.last_line() || ground.begins(last + 1) >= first;
        !paged && !edge
    }

    /// What is needed at least where one key that deletes is not enough.
    pub fn two(self, ground: &Ground, targets: &[Target]) -> Cost {
        let long = |target: &Target| {
            self.is_long(ground, target, ground.line(target.end) - ground.line(target.start))
        };
        let more = if targets.iter().all(long) { 2 } else { 1 };
        self.delete + more * self.step.min(self.delete)
    }

    /// After a deletion that left what lies before and after `span` of `target`,
    /// with the cursor there or, where equal text was taken, elsewhere.
    pub fn after(self, ground: &Ground, target: &Target, span: (Spot, Spot), there: bool) -> Cost {
        if self.joins {
            return self.delete;
        }
        let (first, last) = (ground.line(span.0), ground.line(span.1));
        let left = ground.line(target.end) - ground.line(target.start) - (last - first);
        // What is before it and after it makes one line, a blank one perhaps.
        let blank = || {
            let mut rest = (ground.first(first)..span.0).chain(span.1..ground.first(last + 1) - 1);
            rest.all(|at| ground.is_blank(at))
        };
        let sole = target.low == target.start && target.high == target.end && !target.lines;
        let more = if self.is_long(ground, target, left) && !blank() {
            2
        } else if self.words && there && sole && span.0 > target.start && span.1 < target.end {
            1
        } else if self.words && there && sole {
            more_words(ground, target, span).max(Cost::from(left > 1))
        } else {
            // A key that deletes goes one way.
            let sides = there && target.start < span.0 && span.1 < target.end && !target.lines;
            Cost::from(sides || (self.short && left > 1))
        };
        self.delete + more * self.step.min(self.delete)
    }

    /// From `state` with a selection, where part of `text` is to be deleted.
    pub fn deleting(self, text: &Text, mark: Mark, state: State) -> Cost {
        let ground = &text.ground;
        let at = ground.at(state);
        let Self { step, delete, .. } = self;
        // What is equal may be deleted from outside.
        let outside = delete + step.min(delete);
        let each = text.targets.iter().map(|target| match mark {
            Mark::None => delete,
            Mark::OnLine { .. } if !target.lines => Cost::MAX,
            Mark::OnLine { .. } => {
                let (first, last) = touched(ground, mark, at);
                let span = lines_at(ground, first, last);
                if target.is(span) {
                    delete
                } else if target.holds(span) {
                    delete + step.min(delete)
                } else {
                    outside
                }
            }
            Mark::At(anchor) => {
                let span = (anchor.min(at), anchor.max(at));
                if target.is(span) {
                    delete
                } else if target.edge(anchor) {
                    if target.within(at) { delete + step.min(delete) } else { outside }
                } else if !target.within(anchor) {
                    outside
                } else if target.edge(at) {
                    2 * delete
                } else if !target.within(at) {
                    2 * delete + step.min(delete)
                } else if target.lines {
                    2 * delete
                } else {
                    2 * delete + step.min(delete)
                }
            }
        });
        each.min().unwrap_or(outside)
    }
}
