//! The keys that delete, and those that do part of what is to be done.

use super::{Kind, MOST_NODES, Mark, Node, Search, Text};
use crate::editor::par::bound::{Least, lines_at, touched};
use crate::editor::par::ground::{Spot, State};
use crate::editor::par::search::Cost;
use crate::editor::{Action, Cursor, Editor};

impl Search<'_> {
    /// What deleting needs at least from `state` of `text`, `at` a place, with
    /// nothing selected.
    pub(super) fn deleting(&self, text: &Text, state: State, at: Spot) -> Cost {
        let Text { ground, targets, far, .. } = text;
        let Least { step, delete, .. } = self.least;
        // Whatever deletes does so from here to there, or the lines around.
        if !targets.iter().any(|target| target.low <= at && at <= target.high) {
            return far.first().map_or(step, |far| far.from(ground, state, step)).max(step)
                + delete;
        }
        // More than one key, unless one does all.
        let two = delete + step.min(delete);
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

    /// Every key that deletes.
    pub(super) fn delete(&mut self, node: &Node, index: u32) {
        let ground = &self.texts[node.text as usize].ground;
        let at = ground.at(node.state);
        let mut found: Vec<(u16, (Spot, Spot))> = Vec::with_capacity(8);
        match node.mark {
            Mark::None => {
                for &(tool, motion) in &self.deletes {
                    let to = ground.at(ground.go(node.state, motion));
                    found.push((tool, (at.min(to), at.max(to))));
                }
            }
            Mark::At(anchor) => {
                found.extend(self.clear.map(|tool| (tool, (at.min(anchor), at.max(anchor)))));
            }
            Mark::OnLine { .. } => {}
        }
        if let Some(tool) = self.line_delete {
            let (first, last) = touched(ground, node.mark, at);
            found.push((tool, lines_at(ground, first, last)));
        }
        for (tool, span) in found {
            self.take(node, index, tool, span);
        }
    }

    /// The key `tool` takes `span` away.
    fn take(&mut self, node: &Node, index: u32, tool: u16, span: (Spot, Spot)) {
        if span.0 == span.1 {
            return;
        }
        let Text { ground, targets, .. } = &self.texts[node.text as usize];
        let mut least = None;
        for target in targets {
            let Some(within) = target.holding(ground, span) else { continue };
            if (target.start, target.end) == within {
                return self.done(node, index, tool, 1);
            }
            // Of a deletion that only counts there the cursor is elsewhere.
            let left = self.least.after(ground, target, within, within == span);
            least = Some(least.map_or(left, |least: Cost| least.min(left)));
        }
        let Some(least) = least else { return };
        self.partly(node, index, tool, least);
    }

    /// The key `tool` does part of what is to be done, and `least` is needed
    /// after it; it is worked out when its turn comes.
    pub(super) fn partly(&mut self, node: &Node, index: u32, tool: u16, least: Cost) {
        let cost = node.cost + self.costs[tool as usize];
        let bound = cost + least;
        if self.in_parts && bound < self.limit && self.nodes.len() < MOST_NODES {
            let kind = Kind::Partly;
            self.add(Node { kind, cost, parent: index, tool, times: 1, ..*node }, bound);
        }
    }

    /// Works out a key that did part of it.
    pub(super) fn settle(&mut self, node: &Node) {
        let text = &self.texts[node.text as usize];
        let ground = &text.ground;
        let at = ground.place(ground.at(node.state));
        let anchor = match node.mark {
            Mark::None => None,
            Mark::At(anchor) => Some(ground.place(anchor)),
            Mark::OnLine { line, at_start: true } => {
                Some(ground.place(ground.first(line as usize)))
            }
            Mark::OnLine { line, .. } => Some(ground.place(ground.first(line as usize + 1) - 1)),
        };
        let wanted = ground.wanted(node.state);
        let action = self.tools[node.tool as usize].action;
        let span = match (action, node.mark) {
            (Action::Delete(motion), Mark::None) => {
                Some((ground.at(node.state), ground.at(ground.go(node.state, motion))))
            }
            (Action::Delete(_) | Action::Cut, Mark::At(anchor)) => {
                Some((ground.at(node.state), anchor))
            }
            _ => None,
        };
        let span = span.map(|(one, other)| (node.text, one.min(other), one.max(other)));
        if let Some(known) = span.and_then(|span| self.settled.get(&span).copied()) {
            if let Some((next, cursor)) = known {
                self.begin(node, next, cursor);
            }
            return;
        }
        let mut editor = Editor::new(text.buffer.clone(), at, self.editor.habits());
        editor.set_cursor(Cursor { at, wanted, anchor: anchor.filter(|anchor| *anchor != at) });
        editor.apply(action);
        if self.task.done(&editor) {
            // Equal text was taken for what was meant.
            self.limit = self.limit.min(node.cost);
            self.add(Node { kind: Kind::Done, ..*node }, node.cost);
            return;
        }
        let wanted = editor.cursor().wanted;
        let reads = editor.buffer().to_string();
        let known = self.known.get(&reads).copied();
        // Tables know columns up to the widest line and the one remembered.
        let known = known.filter(|n| self.texts[*n as usize].ground.remembers(wanted));
        let next = known.or_else(|| self.add_text(node.text, editor.buffer().clone(), wanted));
        if let Some(next) = next {
            self.known.insert(reads, next);
            self.begin(node, next, *editor.cursor());
        }
        if let Some(span) = span {
            self.settled.insert(span, next.map(|next| (next, *editor.cursor())));
        }
    }
}
