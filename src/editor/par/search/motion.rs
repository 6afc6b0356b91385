//! The keys that go and select, and those that move lines.

use super::{Kind, Mark, Node, Search, Text};
use crate::editor::par::bound::{Target, touched};
use crate::editor::par::ground::{Spot, State};
use crate::editor::{Goal, Motion};

impl Search<'_> {
    fn after(&self, node: &Node, index: u32, tool: u16, mark: Mark, state: State) -> Node {
        let cost = node.cost + self.costs[tool as usize];
        let (kind, text) = (Kind::State, node.text);
        Node { kind, text, mark, state, cost, parent: index, tool, times: 1, fresh: false }
    }

    pub(super) fn go(&mut self, node: &Node, index: u32) {
        let standing = self.texts[node.text as usize].ground.standing(node.state);
        let layer = self.layer_for(node.text, Mark::None);
        let floor = node.cost + self.floor(node.text, Mark::None);
        for n in 0..self.goes.len() {
            let (tool, motion) = self.goes[n];
            if floor + self.costs[tool as usize] >= self.limit {
                continue;
            }
            let ground = &self.texts[node.text as usize].ground;
            let to = match (node.mark, motion) {
                (Mark::None, _) => ground.go_from(&standing, motion),
                (Mark::At(anchor), Motion::Left) => anchor.min(standing.at),
                (Mark::At(anchor), Motion::Right) => anchor.max(standing.at),
                // All others lead where they lead without a selection, which
                // costs no more to get to.
                (Mark::At(_), _) if node.fresh => ground.go_from(&standing, motion),
                _ => continue,
            };
            if node.mark != Mark::None || to != node.state {
                self.push_on(layer, self.after(node, index, tool, Mark::None, to));
            }
        }
    }

    /// Where a selection may begin at `at`.
    fn marks(&self, node: &Node, at: Spot) -> [Option<Mark>; 2] {
        let Text { ground, targets, lines, .. } = &self.texts[node.text as usize];
        let line = ground.line(at) as u32;
        let at_start = at == ground.first(line as usize);
        let on_line = Mark::OnLine { line, at_start };
        match self.task.goal() {
            Goal::Cursor(_) => [None, None],
            Goal::Selection(span) => {
                let edge = at == ground.spot(span.start) || at == ground.spot(span.end);
                [edge.then_some(Mark::At(at)), None]
            }
            Goal::Deletion(_) => {
                let here = targets.iter().any(|target| {
                    let edge = at == target.start || at == target.end;
                    edge || (self.in_parts && target.low <= at && at <= target.high)
                });
                let lines = targets.iter().filter(|target| target.lines && target.holds((at, at)));
                // Lines end where the next begins; the last ones begin where the one
                // before ends.
                let outer = |target: &Target| {
                    let (first, last) = (ground.line(target.start), ground.line(target.end));
                    [first, first + 1, last, last.saturating_sub(1)].contains(&(line as usize))
                };
                let lines = lines.into_iter().any(|target| self.in_parts || outer(target));
                [here.then_some(Mark::At(at)), lines.then_some(on_line)]
            }
            Goal::LineMove { .. } => [None, lines.contains(&line).then_some(on_line)],
        }
    }

    pub(super) fn select(&mut self, node: &Node, index: u32) {
        let ground = &self.texts[node.text as usize].ground;
        let (standing, end) = (ground.standing(node.state), ground.end());
        let begun = match node.mark {
            Mark::None => self.marks(node, standing.at),
            mark => [Some(mark), None],
        };
        for mark in begun.into_iter().flatten() {
            let layer = self.layer_for(node.text, mark);
            let floor = node.cost + self.floor(node.text, mark);
            for n in 0..self.selects.len() {
                let (tool, motion) = self.selects[n];
                if floor + self.costs[tool as usize] >= self.limit {
                    continue;
                }
                let ground = &self.texts[node.text as usize].ground;
                let to = ground.go_from(&standing, motion);
                let there = ground.at(to);
                if to == node.state || (node.mark == Mark::None && there == standing.at) {
                    continue;
                }
                let fresh = node.fresh && node.mark != Mark::None;
                // Back where it began, nothing is selected.
                let (layer, mark) = if mark == Mark::At(there) {
                    (self.layer_for(node.text, Mark::None), Mark::None)
                } else {
                    (layer, mark)
                };
                let next = Node { fresh, ..self.after(node, index, tool, mark, to) };
                self.push_on(layer, next);
            }
        }
        if let Some(all) = self.all.filter(|_| end > 0) {
            self.push(Node { fresh: true, ..self.after(node, index, all, Mark::At(0), end) });
        }
    }

    pub(super) fn move_lines(&mut self, node: &Node, index: u32) {
        let Text { ground, blocks, parts, .. } = &self.texts[node.text as usize];
        let lines = touched(ground, node.mark, ground.at(node.state));
        let here = |first, last| lines == (first, last);
        let whole: Vec<(u16, u16)> =
            blocks.iter().filter(|b| here(b.0, b.1)).map(|b| (b.2, b.3)).collect();
        let part: Vec<u16> = parts.iter().filter(|b| here(b.0, b.1)).map(|b| b.2).collect();
        for (tool, times) in whole {
            self.done(node, index, tool, times);
        }
        for tool in part {
            let least = self.bound(node);
            self.partly(node, index, tool, least);
        }
    }
}
