//! Puts drills together: pieces of the material, fragments for what no piece
//! has, keys woven in, until the drill is long enough.

use super::fragment::{Bench, Voice};
use super::glyph::line_width;
use super::material::{Piece, Words};
use super::mix::Mix;
use super::reach::{LeftOut, Reach};
use super::thumbs::Weaver;
use super::wrap::{wrapped, wrapped_as_is};
use crate::keyboard::{NamedKey, Output};
use crate::order::{Gather, InOrder};
use std::collections::{BTreeMap, BTreeSet};

/// A piece that loses more than one in this many of its characters is not
/// used.
const LOSS_LIMIT: usize = 8;
/// How many outputs each drill takes its turn with: one for so many strokes.
const STROKES_PER_TURN: usize = 20;
/// Lines of fragments get at least so many columns.
const SHORT_LINE: usize = 16;
/// How long a fragment is, about.
const FRAGMENT_STROKES: usize = 9;
/// How long the fragment of [`Composer::make_telling`] is, about.
const TELLING_STROKES: usize = 12;
/// Pieces whose turn it is in this drill.
const PIECES_PER_TURN: usize = 9;

/// What a finished composition holds.
pub(super) struct Composition {
    pub lines: Vec<Vec<Output>>,
    pub left_out: LeftOut,
}

/// A piece as this layout can type it.
pub(super) struct Candidate {
    pub lines: Vec<Vec<Output>>,
    pub lost: LeftOut,
    size: usize,
    /// How many of its items are of the focus.
    held: usize,
    /// Which of the outputs whose turn it is it holds, by index.
    musts: Vec<usize>,
    /// Its turn: reads through the whole material before repeating.
    pub due: bool,
}

pub(super) struct Composer<'a, 'b> {
    pub bench: &'b mut Bench<'a>,
    pub words: &'b Words,
    pub weaver: Weaver,
    pub width: usize,
    pub strokes: usize,
    pub ordinal: u32,
    pub units: Vec<Vec<Vec<Output>>>,
    pub total: usize,
    counts: BTreeMap<Output, usize>,
    pub left_out: LeftOut,
}

impl<'a, 'b> Composer<'a, 'b> {
    pub fn new(
        bench: &'b mut Bench<'a>,
        words: &'b Words,
        weaver: Weaver,
        (width, strokes, ordinal): (usize, usize, u32),
    ) -> Self {
        Self {
            bench,
            words,
            weaver,
            width,
            // The rest is for what make_telling may add.
            strokes: strokes - TELLING_STROKES.min(strokes / 5),
            ordinal,
            units: Vec::new(),
            total: 0,
            counts: BTreeMap::new(),
            left_out: LeftOut::new(),
        }
    }

    /// The drill: `ring` is the focus in an order of the seed alone, so that
    /// each output comes round; `order` is the same for the pieces.
    pub fn compose(
        mut self,
        pieces: &[&Piece],
        order: &[usize],
        extra: &[String],
        ring: &[Output],
    ) -> Composition {
        let turns = (self.strokes / STROKES_PER_TURN).max(3).min(ring.len());
        let first = self.ordinal as usize * turns;
        let musts: Vec<Output> =
            (0..turns).filter_map(|n| ring.get((first + n) % ring.len()).cloned()).collect();
        let mut candidates = self.candidates(pieces, order, extra, &musts);

        // What no piece has comes first, while there is room.
        let rare: Vec<Output> = musts
            .iter()
            .enumerate()
            .filter(|(n, _)| !candidates.iter().any(|candidate| candidate.musts.contains(n)))
            .map(|(_, must)| must.clone())
            .collect();
        self.add_fragments(&rare, self.strokes * 5 / 10);
        loop {
            // Room is kept for a fragment for each output that has its turn
            // and would not come otherwise.
            let missing = musts.iter().filter(|must| !self.counts.contains_key(must)).count();
            let kept = missing * FRAGMENT_STROKES;
            if self.total + kept >= self.strokes * 8 / 10 {
                break;
            }
            let room = (self.strokes * 11 / 10).saturating_sub(self.total + kept / 2);
            let Some(index) = self.choose(&candidates, &musts, room) else { break };
            let candidate = candidates.swap_remove(index);
            self.add_candidate(candidate);
        }
        let missing: Vec<Output> =
            musts.iter().filter(|must| !self.counts.contains_key(must)).cloned().collect();
        self.add_fragments(&missing, self.strokes + self.strokes.saturating_sub(100) / 4);
        while self.total < self.strokes * 9 / 10 {
            let room = self.strokes * 23 / 20 - self.total;
            let before = self.total;
            if let Some(index) = self.choose(&candidates, &musts, room) {
                let candidate = candidates.swap_remove(index);
                self.add_candidate(candidate);
            } else {
                self.add_filler(room);
            }
            if self.total == before {
                break;
            }
        }
        self.close()
    }

    /// What was gathered, made telling and in an order of the seed.
    pub fn close(mut self) -> Composition {
        self.make_telling();
        let mut units = std::mem::take(&mut self.units);
        self.bench.shuffle(&mut units);
        Composition {
            lines: at_most_two_escapes(units.into_iter().flatten()),
            left_out: self.left_out,
        }
    }

    pub fn candidates(
        &self,
        pieces: &[&Piece],
        order: &[usize],
        extra: &[String],
        musts: &[Output],
    ) -> Vec<Candidate> {
        let first = self.ordinal as usize * PIECES_PER_TURN;
        let due: Vec<usize> = (0..PIECES_PER_TURN.min(order.len()))
            .map(|n| order[(first + n) % order.len()])
            .collect();
        let written = pieces.iter().enumerate().map(|(n, piece)| (&piece.text, due.contains(&n)));
        written
            .chain(extra.iter().map(|line| (line, true)))
            .filter_map(|(text, due)| self.candidate(text, due, musts))
            .collect()
    }

    /// `text` as this layout can type it; none where it loses too much or has
    /// nothing of the focus.
    fn candidate(&self, text: &str, due: bool, musts: &[Output]) -> Option<Candidate> {
        let reach = self.bench.reach;
        let mut lines = Vec::new();
        let mut lost = LeftOut::new();
        for line in text.split('\n') {
            let line = if reach.can_key(NamedKey::Tab) {
                line.to_owned()
            } else {
                line.trim_start_matches('\t').replace('\t', " ")
            };
            let tokens = reach.tokens(&line);
            for (name, count) in tokens.lost {
                *lost.entry(name).or_default() += count;
            }
            lines.extend(wrapped(&tokens.items, self.width - self.weaver.margin()));
        }
        let size: usize = lines.iter().map(|line| line.len() + self.weaver.margin().min(1)).sum();
        let held = lines.iter().flatten().filter(|o| self.bench.focus.holds(o)).count();
        let gone: usize = lost.values().sum();
        let there: BTreeSet<&Output> = lines.iter().flatten().gather();
        let musts = (0..musts.len()).filter(|n| there.contains(&musts[*n])).collect();
        (held > 0 && gone * LOSS_LIMIT <= text.chars().count()).then_some(Candidate {
            lines,
            lost,
            size,
            held,
            musts,
            due,
        })
    }

    /// The index of a candidate that fits into `room`, drawn by weight: those
    /// whose turn it is, that lose nothing, that are rich in the focus and
    /// that hold what this drill still lacks weigh more.
    fn choose(&mut self, candidates: &[Candidate], musts: &[Output], room: usize) -> Option<usize> {
        let weights: Vec<u32> = candidates
            .iter()
            .map(|candidate| {
                if candidate.size > room || candidate.size == 0 {
                    return 0;
                }
                let lacking = candidate
                    .musts
                    .iter()
                    .filter(|must| !self.counts.contains_key(&musts[**must]))
                    .count();
                let lacking = lacking.min(4) as u32;
                let share = (candidate.held * 8 / candidate.size) as u32;
                let turn = if candidate.due { 12 } else { 1 };
                let whole = if candidate.lost.is_empty() { 4 } else { 1 };
                (1 + share + 2 * lacking) * turn * whole
            })
            .collect();
        let sum: usize = weights.iter().map(|weight| *weight as usize).sum();
        if sum == 0 {
            return None;
        }
        let mut left = self.bench.below(sum);
        weights.iter().position(|weight| {
            let weight = *weight as usize;
            let here = left < weight;
            left = left.saturating_sub(weight);
            here
        })
    }

    fn add_candidate(&mut self, candidate: Candidate) {
        self.note_lost(candidate.lost);
        self.add_unit(candidate.lines, false);
    }

    pub fn note_lost(&mut self, lost: LeftOut) {
        for (name, count) in lost {
            *self.left_out.entry(name).or_default() += count;
        }
    }

    /// Adds lines that belong together; `made` ones are of fragments.
    pub fn add_unit(&mut self, lines: Vec<Vec<Output>>, made: bool) {
        let mut unit = Vec::new();
        self.weaver.sees(&lines);
        for line in lines {
            let line = self.weaver.weave(line, made, self.bench, self.words);
            if line.is_empty() {
                continue;
            }
            self.total += line.len();
            for item in &line {
                *self.counts.entry(item.clone()).or_default() += 1;
            }
            unit.push(line);
        }
        if !unit.is_empty() {
            self.units.push(unit);
        }
    }

    /// Lines of fragments, one fragment for each of `targets`, until the
    /// drill holds `limit` strokes.
    fn add_fragments(&mut self, targets: &[Output], limit: usize) {
        let mut line = Vec::new();
        for target in targets {
            if self.total + line.len() >= limit {
                break;
            }
            let fragment = self.bench.fragment(target);
            self.append(&mut line, &fragment);
        }
        // A line of one short word is no line.
        for _ in 0..4 {
            if line.is_empty()
                || line_width(&line, false) >= SHORT_LINE.min(self.width / 2)
                || self.total + line.len() >= limit
            {
                break;
            }
            let Some(target) = self.bench.pick(&self.bench.focus.text) else { break };
            let fragment = self.bench.fragment(&target);
            self.append(&mut line, &fragment);
        }
        if !line.is_empty() {
            self.add_unit(vec![line], true);
        }
    }

    /// Puts `fragment` behind `line`, or ends the line first where it is full.
    fn append(&mut self, line: &mut Vec<Output>, fragment: &[Output]) {
        // Room for a word taken back and the keys around it.
        let full = (self.width - self.weaver.margin()).min(64) * 4 / 5;
        let space = Output::char(' ');
        if !line.is_empty() && line_width(line, false) + 1 + line_width(fragment, false) > full {
            let done = std::mem::take(line);
            self.add_unit(vec![done], true);
        }
        let apart = self.bench.reach.can(&space);
        let blank = |item: Option<&Output>| item.is_none_or(|item| *item == space);
        if apart && !blank(line.last()) && !blank(fragment.first()) {
            line.push(space);
        }
        for part in wrapped_as_is(fragment, full) {
            if !line.is_empty() && line_width(line, false) + line_width(&part, false) > full {
                let done = std::mem::take(line);
                self.add_unit(vec![done], true);
            }
            line.extend(part);
        }
    }

    /// A line of at most `room` strokes of fragments for what came least.
    pub fn add_filler(&mut self, room: usize) {
        let mut targets = self.bench.focus.text.clone();
        self.bench.shuffle(&mut targets);
        targets.order_by_key(|target| self.counts.get(target).copied().unwrap_or(0));
        let mut line: Vec<Output> = Vec::new();
        let start = self.total;
        if targets.is_empty() {
            // Only keys without text: words to weave them into.
            let mut words = Vec::new();
            for _ in 0..3 {
                words.push(self.bench.operand());
            }
            let line = self.bench.reach.tokens(words.join(" ").trim()).items;
            return self.add_unit(vec![line], true);
        }
        for target in targets {
            let fragment = self.bench.fragment(&target);
            let used = self.total - start + line.len();
            if used > 0 && (used + fragment.len() + 6 > room || used > self.width / 2) {
                break;
            }
            self.append(&mut line, &fragment);
        }
        self.add_unit(vec![line], true);
    }

    /// Sees to it that the drill has, for each layer of the focus, runs of two
    /// or more with entries and exits, and one output both as an entry and
    /// inside a run: otherwise no switch cost can be told from the drill.
    pub fn make_telling(&mut self) {
        let reach = self.bench.reach;
        for layer in self.bench.focus.layers.clone() {
            let held = |output: &Output| reach.layer_of(output) == Some(layer);
            let lines = self.units.iter().flatten();
            if Mix::of(lines.map(Vec::as_slice), held).is_telling() {
                continue;
            }
            if let Some(items) = self.bench.telling(self.width - self.weaver.margin(), held) {
                let lines = wrapped_as_is(&items, self.width - self.weaver.margin());
                self.add_unit(lines, true);
            }
        }
    }
}

/// The lines without the third and further Escapes in a row: three of them
/// leave the practice.
pub(super) fn at_most_two_escapes(lines: impl Iterator<Item = Vec<Output>>) -> Vec<Vec<Output>> {
    let escape = Output::Key(NamedKey::Escape);
    let mut in_a_row = 0;
    lines
        .map(|line| {
            line.into_iter()
                .filter(|item| {
                    in_a_row = if *item == escape { in_a_row + 1 } else { 0 };
                    in_a_row <= 2
                })
                .collect::<Vec<_>>()
        })
        .filter(|line| !line.is_empty())
        .collect()
}

/// The voice's extra lines, made anew for each drill.
pub(super) fn extra_lines(bench: &mut Bench, words: &Words) -> Vec<String> {
    match bench.voice {
        Voice::Figures => super::numbers::lines(bench, 6),
        Voice::Thumbs => super::thumbs::lines(bench, words, 5),
        Voice::Code | Voice::Prose => Vec::new(),
    }
}

/// True where `reach` can give every item of `line`.
pub(super) fn possible(reach: &Reach, line: &[Output]) -> bool {
    line.iter().all(|item| reach.can(item))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(text: &str) -> Vec<Output> {
        text.chars().map(Output::char).collect()
    }

    #[test]
    fn a_third_escape_in_a_row_goes() {
        let escape = Output::Key(NamedKey::Escape);
        let line = vec![escape.clone()];
        let lines = vec![line.clone(), line.clone(), line.clone(), items("a"), line.clone()];
        let kept = at_most_two_escapes(lines.into_iter());
        assert_eq!(kept, [line.clone(), line.clone(), items("a"), line]);
    }
}
