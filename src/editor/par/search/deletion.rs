//! The keys that delete, and those that do part of what is to be done.

use super::texts::Left;
use super::{Kind, MOST_NODES, Mark, Node, Search, Text};
use crate::editor::par::bound::{lines_at, touched};
use crate::editor::par::ground::Spot;
use crate::editor::par::reads::Reads;
use crate::editor::par::search::Cost;
use crate::editor::{Action, Cursor, Editor};

impl Search<'_> {
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
        let action = self.tools[node.tool as usize].action;
        let ground = &self.texts[node.text as usize].ground;
        let at = ground.at(node.state);
        let by_lines = (action == Action::DeleteLines).then(|| {
            let (first, last) = touched(ground, node.mark, at);
            (first, ground.wanted(node.state), lines_at(ground, first, last))
        });
        let span = match (action, node.mark) {
            (Action::Delete(motion), Mark::None) => {
                Some((at, ground.at(ground.go(node.state, motion))))
            }
            (Action::Delete(_) | Action::Cut, Mark::At(anchor)) => Some((at, anchor)),
            _ => by_lines.map(|(.., span)| span),
        };
        let Some((one, other)) = span else { return self.play(node) };
        let span = (one.min(other), one.max(other));
        let (first, wanted) = by_lines.map_or((0, 0), |(first, wanted, _)| (first, wanted));
        match self.without(node.text, span, wanted) {
            Left::Nowhere => {}
            Left::Joined => self.play(node),
            Left::Done => self.finish(node),
            Left::Text(text) => {
                let ground = &self.texts[text as usize].ground;
                let state = match by_lines {
                    None => span.0,
                    Some(_) => ground.falling(first.min(ground.last_line()), wanted),
                };
                let (kind, mark) = (Kind::State, Mark::None);
                self.push(Node { kind, text, mark, state, fresh: true, ..*node });
            }
        }
    }

    /// What the deletion of `span` leaves of the text number `of`, where the
    /// column `wanted` may be remembered.
    fn without(&mut self, of: u32, span: (Spot, Spot), wanted: usize) -> Left {
        let known = self.settled.get(&(of, span.0, span.1)).copied();
        if let Some(left) = known.filter(|left| self.remembers(*left, wanted)) {
            return left;
        }
        let reads = &mut self.texts[of as usize].ground.reads;
        reads.count();
        let sum = reads.sum_without(span);
        let reads = &self.texts[of as usize].ground.reads;
        // Equal text may have been taken for what was meant.
        let left = if sum == self.result.sum() && reads.is_without(span, &self.result) {
            Left::Done
        } else {
            let known = self.known_text(sum, wanted, |other| reads.is_without(span, other));
            known.map_or_else(|| self.add_left(of, span, wanted), Left::Text)
        };
        if let Left::Text(text) = left {
            self.known.insert(sum, text);
        }
        self.settled.insert((of, span.0, span.1), left);
        left
    }

    /// The text with that sum, in which the column `wanted` may be remembered, if
    /// it is what is looked for.
    fn known_text(&self, sum: u64, wanted: usize, is: impl Fn(&Reads) -> bool) -> Option<u32> {
        let known = *self.known.get(&sum)?;
        let reads = &self.texts[known as usize].ground.reads;
        (self.remembers(Left::Text(known), wanted) && is(reads)).then_some(known)
    }

    /// Tables know columns up to the widest line and the one remembered.
    fn remembers(&self, left: Left, wanted: usize) -> bool {
        match left {
            Left::Text(text) => self.texts[text as usize].ground.remembers(wanted),
            Left::Done | Left::Nowhere | Left::Joined => true,
        }
    }

    /// Lets the editor do what a key does that did part of it.
    fn play(&mut self, node: &Node) {
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
        let mut editor = Editor::new(text.buffer.clone(), at, self.editor.habits());
        editor.set_cursor(Cursor { at, wanted, anchor: anchor.filter(|anchor| *anchor != at) });
        editor.apply(self.tools[node.tool as usize].action);
        if self.task.done(&editor) {
            return self.finish(node);
        }
        let wanted = editor.cursor().wanted;
        let mut reads = Reads::of(editor.buffer());
        reads.count();
        let known = self.known_text(reads.sum(), wanted, |other| reads.is_without((0, 0), other));
        let next = known.or_else(|| self.add_text(node.text, editor.buffer().clone(), wanted));
        if let Some(next) = next {
            self.known.insert(reads.sum(), next);
            self.begin(node, next, *editor.cursor());
        }
    }

    /// The key of `node` reached the goal.
    fn finish(&mut self, node: &Node) {
        self.limit = self.limit.min(node.cost);
        self.add(Node { kind: Kind::Done, ..*node }, node.cost);
    }
}
