//! What is needed at least from a state of the search.

use super::{Cost, Mark, Node, Search, Text};
use crate::editor::par::bound::{Least, Target, lines_at, touched};
use crate::editor::par::ground::{Ground, Spot, State};
use crate::editor::task::MOST_SLIDES;
use crate::editor::{Goal, Place, Span};

impl Search<'_> {
    /// What is needed at least from `node`.
    pub(super) fn bound(&self, node: &Node) -> Cost {
        let text = &self.texts[node.text as usize];
        let at = text.ground.at(node.state);
        let step = self.least.step;
        match self.task.goal() {
            Goal::Cursor(_) if node.mark == Mark::None => {
                text.far[0].from(&text.ground, node.state, step)
            }
            Goal::Cursor(_) => step,
            Goal::Selection(_) if self.reached(node) => 0,
            // The key that selects everything may begin it anywhere.
            Goal::Selection(Span { start, .. })
                if self.all.is_some() && start == Place::new(0, 0) =>
            {
                step
            }
            Goal::Selection(span) => self.selecting(text, node, [span.start, span.end]),
            Goal::Deletion(_) if self.needs_two(node.text) => self.in_two(text, node, at),
            Goal::Deletion(_) if node.mark == Mark::None => self.deleting(text, node.state, at),
            Goal::Deletion(_) => self.selected(text, node, at),
            Goal::LineMove { .. } => {
                let blocks = text.blocks.iter().map(|(.., tool, _)| *tool);
                let tools = blocks.chain(text.parts.iter().map(|(.., tool)| *tool));
                tools.map(|tool| self.costs[tool as usize]).min().unwrap_or(0)
            }
        }
    }

    /// What selecting all between `ends` needs at least from `node`.
    fn selecting(&self, text: &Text, node: &Node, ends: [Place; 2]) -> Cost {
        let (ground, step) = (&text.ground, self.least.step);
        let spots = ends.map(|end| ground.spot(end));
        let to = |end: usize| text.far[end].from(ground, node.state, step);
        // From one end to the other, by whichever column.
        let across = |from: usize| self.across[from];
        match node.mark {
            Mark::None => (to(0) + across(0)).min(to(1) + across(1)),
            // On to the other end; or back to this one by a key without selecting.
            Mark::At(anchor) if anchor == spots[0] => to(1).min(step + across(0)),
            Mark::At(anchor) if anchor == spots[1] => to(0).min(step + across(1)),
            _ => step + across(0).min(across(1)),
        }
    }

    /// What is needed at least from any state of that text with such a selection.
    pub(super) fn floor(&self, text: u32, mark: Mark) -> Cost {
        let delete = self.least.delete;
        match (self.task.goal(), mark) {
            (Goal::Deletion(_), _) if self.needs_two(text) => 2 * delete,
            (Goal::Deletion(_), Mark::None) => self.texts[text as usize].rest,
            (Goal::Deletion(_), _) => delete,
            _ => 0,
        }
    }

    /// What it costs at least from `state` of `text`, `at` a place, to get to where
    /// some of what is left can be deleted; 0 there.
    fn way_there(&self, text: &Text, state: State, at: Spot) -> Cost {
        let Text { ground, targets, far, .. } = text;
        if targets.iter().any(|target| target.low <= at && at <= target.high) {
            return 0;
        }
        let step = self.least.step;
        far.first().map_or(step, |far| far.from(ground, state, step).max(step))
    }

    /// What deleting needs at least from `state` of `text`, `at` a place, with
    /// nothing selected.
    fn deleting(&self, text: &Text, state: State, at: Spot) -> Cost {
        let Text { ground, targets, .. } = text;
        // Whatever deletes does so from here to there, or the lines around.
        let there = self.way_there(text, state, at);
        if there > 0 {
            return there + text.rest;
        }
        // More than one key, unless one does all.
        let two = self.least.two(ground, targets);
        let all = |span: (Spot, Spot)| {
            targets.iter().any(|t| t.holding(ground, span) == Some((t.start, t.end)))
        };
        let by_motion = self.deletes.iter().filter(|(_, motion)| {
            let to = ground.at(ground.go(state, *motion));
            at != to && all((at.min(to), at.max(to)))
        });
        let line = ground.line(at);
        let by_line = self.line_delete.filter(|_| all(lines_at(ground, line, line)));
        let keys = by_motion.map(|(tool, _)| *tool).chain(by_line);
        keys.map(|tool| self.costs[tool as usize]).min().map_or(two, |one| one.min(two))
    }

    /// What deleting needs at least from `node`, with something selected and
    /// the cursor at `at`.
    fn selected(&self, text: &Text, node: &Node, at: Spot) -> Cost {
        let Least { step, delete, .. } = self.least;
        let mut least = self.least.deleting(text, node.mark, node.state);
        // A selection that was there before leads to where it ends as well.
        if node.fresh {
            least = least.min(delete + step.min(delete));
        }
        // Back to where something is left to delete, or at once to where the
        // selection was begun.
        match self.way_there(text, node.state, at) {
            0 => least,
            there => least.max((there + delete).min(step + text.rest)),
        }
    }

    /// True where that text is left by at least two deletions: all ways of one
    /// are known, but those on which a selection was begun only to get somewhere.
    fn needs_two(&self, text: u32) -> bool {
        self.in_parts && text == 0 && !self.cheap
    }

    /// What deleting in at least two goes needs at least from `node`, with the
    /// cursor at `at` and nothing deleted yet.
    fn in_two(&self, text: &Text, node: &Node, at: Spot) -> Cost {
        let Text { ground, targets, .. } = text;
        let Least { step, delete, .. } = self.least;
        // Of what has more lines' ends than the next deletion and one more key
        // can take, something is to be selected, or deleted in a third go.
        let taken = match node.mark {
            Mark::None => 1,
            mark => {
                let (first, last) = touched(ground, mark, at);
                last - first + 1
            }
        };
        let ends = |target: &Target| ground.line(target.end) - ground.line(target.start);
        let many = self.least.short && targets.iter().all(|target| ends(target) > taken + 1);
        let third = if many { step.min(delete) } else { 0 };
        let more = match (self.way_there(text, node.state, at), node.mark) {
            (there, Mark::None) => there + third,
            (0, _) => third,
            // Back, by which more is selected, or away from the selection.
            _ => step,
        };
        2 * delete + more
    }

    /// What deleting one of `targets` costs at least from anywhere: one key, if
    /// one takes all of it, else two.
    pub(super) fn rest(&self, ground: &Ground, targets: &[Target]) -> Cost {
        // Of so many not all may be known; and where a line's end leads depends
        // on the column that is remembered.
        if targets.len() >= MOST_SLIDES || self.deletes.iter().any(|(_, m)| m.keeps_column()) {
            return self.least.delete;
        }
        let each = targets.iter().flat_map(|&Target { start, end, lines, .. }| {
            let leads = move |motion| {
                let to = |from| ground.at(ground.go(from, motion));
                to(start) == end || to(end) == start
            };
            let keys = self.deletes.iter().filter(move |(_, motion)| leads(*motion));
            let takes = move |line| lines_at(ground, line, line) == (start, end);
            let whole = lines && (ground.line(start)..=ground.line(end)).any(takes);
            keys.map(|(tool, _)| *tool).chain(self.line_delete.filter(|_| whole))
        });
        let one = each.map(|tool| self.costs[tool as usize]).min();
        let two = self.least.two(ground, targets);
        one.map_or(two, |one| one.min(two))
    }
}
