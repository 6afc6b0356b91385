//! The texts on the way, and what is known of each.

use super::{EQUAL_LINES, Search, Text};
use crate::editor::par::bound::Target;
use crate::editor::par::far::Far;
use crate::editor::par::ground::{Ground, Spot};
use crate::editor::task::MOST_SLIDES;
use crate::editor::{Action, Buffer, Goal, Span};

/// What a deletion leaves.
#[derive(Debug, Clone, Copy)]
pub(super) enum Left {
    /// The text with that number.
    Text(u32),
    /// The goal's.
    Done,
    /// None that is on the way.
    Nowhere,
    /// One that only the editor knows: what was before and after makes other
    /// graphemes together.
    Joined,
}

impl Search<'_> {
    /// A text on the way, made of the text number `of` if there is one yet; none
    /// where it isn't on the way.
    pub(super) fn add_text(&mut self, of: u32, buffer: Buffer, wanted: usize) -> Option<u32> {
        let spans = match self.task.goal() {
            Goal::Deletion(_) => {
                Some(self.task.left_to_delete(&buffer)).filter(|s| !s.is_empty())?
            }
            _ => Vec::new(),
        };
        let other = self.texts.get(of as usize).map(|text| (&text.ground, &text.buffer));
        let ground = Ground::new(other, &buffer, wanted, self.editor.habits());
        let mut text = Text::new(ground, buffer);
        if let Goal::LineMove { to, .. } = self.task.goal() {
            let line = self.task.line_to_move(&text.buffer)?;
            self.block_moves(&mut text, line, to);
        }
        let ground = &text.ground;
        let lines = self.line_delete.is_some();
        let spans: Vec<(Spot, Spot)> =
            spans.iter().map(|span| (ground.spot(span.start), ground.spot(span.end))).collect();
        text.targets = Target::any_of(ground, &spans, lines);
        text.rest = self.rest(&text.ground, &text.targets);
        text.far = self.far(&text);
        self.texts.push(text);
        Some(self.texts.len() as u32 - 1)
    }

    /// The text that the deletion of `span` leaves of the text number `of`,
    /// where the column `wanted` may be remembered; not the goal's.
    pub(super) fn add_left(&mut self, of: u32, span: (Spot, Spot), wanted: usize) -> Left {
        let Text { ground: whole, buffer, targets, .. } = &self.texts[of as usize];
        // Of so many not all may be known.
        if targets.len() >= MOST_SLIDES {
            return Left::Joined;
        }
        let mut within = targets.iter().filter_map(|t| Some((t, t.holding(whole, span)?)));
        let Some((target, (one, other))) = within.next() else { return Left::Nowhere };
        let left = (target.start, target.end - (other - one));
        let mut less = buffer.clone();
        less.replace(Span { start: whole.place(span.0), end: whole.place(span.1) }, "");
        let ground = Ground::new(Some((whole, buffer)), &less, wanted, self.editor.habits());
        if !whole.reads.is_without(span, &ground.reads) {
            return Left::Joined;
        }
        let lines = self.line_delete.is_some();
        let spans: Vec<(Spot, Spot)> = slides(&ground, left).collect();
        let targets = Target::any_of(&ground, &spans, lines);
        let rest = self.rest(&ground, &targets);
        self.texts.push(Text { targets, rest, ..Text::new(ground, less) });
        Left::Text(self.texts.len() as u32 - 1)
    }

    /// How far it is to what the goal is about in `text`.
    fn far(&self, text: &Text) -> Vec<Far> {
        let ground = &text.ground;
        // Too dear for each text on the way, where it is near.
        if !self.texts.is_empty() {
            return Vec::new();
        }
        let to = |one, other| Far::new(ground, &self.keys, (one, other));
        match self.task.goal() {
            Goal::Cursor(place) => vec![to(ground.spot(place), ground.spot(place))],
            Goal::Selection(Span { start, end }) => {
                [start, end].map(|end| to(ground.spot(end), ground.spot(end))).into()
            }
            Goal::Deletion(_) => {
                let low = text.targets.iter().map(|target| target.low).min();
                let high = text.targets.iter().map(|target| target.high).max();
                low.zip(high).map(|(low, high)| to(low, high)).into_iter().collect()
            }
            Goal::LineMove { .. } => Vec::new(),
        }
    }

    /// Every block of lines that a key, struck so many times, moves so that the
    /// lines are right: the one line or all that it passes, and where lines
    /// are equal others too; and those that a key moves on the way.
    fn block_moves(&self, text: &mut Text, line: usize, to: usize) {
        let number = |action: Action| {
            self.tools.iter().position(|tool| tool.action == action).map(|n| n as u16)
        };
        let (up, down) = (number(Action::MoveLinesUp), number(Action::MoveLinesDown));
        let (now, then) = (text.buffer.lines(), self.task.result().lines());
        let differ = |(one, other)| one != other;
        let first = now.iter().zip(then).position(differ);
        let Some((first, last)) = first.zip(now.iter().zip(then).rposition(differ)) else { return };
        for from in first.saturating_sub(EQUAL_LINES)..=first {
            for to in last..=(last + EQUAL_LINES).min(now.len() - 1) {
                let (before, after) = (&now[from..=to], &then[from..=to]);
                for by in 1..before.len() {
                    let (head, tail) = before.split_at(by);
                    if !after.iter().eq(tail.iter().chain(head)) {
                        continue;
                    }
                    // What is above goes down, or what is below goes up.
                    let times = before.len() - by;
                    let above = (from, from + by - 1);
                    let below = (from + by, to);
                    for ((first, last), tool, times) in [(above, down, times), (below, up, by)] {
                        let goes = |_: &u16| {
                            self.stays_on_the_way(&text.buffer, (first, last), tool == down, times)
                        };
                        text.blocks.extend(
                            tool.filter(goes).map(|tool| (first, last, tool, times as u16)),
                        );
                    }
                }
            }
        }
        if line < to {
            text.parts.extend(down.map(|tool| (line, line, tool)));
            text.parts.extend((line + 1..to).filter_map(|k| up.map(|tool| (line + 1, k, tool))));
        } else {
            text.parts.extend(up.map(|tool| (line, line, tool)));
            text.parts.extend((to + 1..line).filter_map(|k| down.map(|tool| (k, line - 1, tool))));
        }
        let blocks = text.blocks.iter().map(|&(first, last, ..)| (first, last));
        let parts = text.parts.iter().map(|&(first, last, _)| (first, last));
        let many = blocks.chain(parts).filter(|(first, last)| last > first);
        let lines = many.flat_map(|(first, last)| [first, last, last + 1]);
        text.lines = lines.map(|line| line as u32).collect();
        text.lines.sort_unstable();
        text.lines.dedup();
    }

    /// True where the block of lines can be moved so many times by one line:
    /// among equal lines a text between may be none on the way.
    fn stays_on_the_way(
        &self,
        buffer: &Buffer,
        (first, last): (usize, usize),
        down: bool,
        times: usize,
    ) -> bool {
        let mut buffer = buffer.clone();
        (0..times).all(|by| {
            let on = if down { (first + by, last + by) } else { (first - by, last - by) };
            buffer.shift_lines(on.0, on.1, down);
            self.task.line_to_move(&buffer).is_some()
        })
    }
}

/// `span` and the spans next to it whose deletion leaves the same text, as
/// [`crate::editor::Task::left_to_delete`] tells.
fn slides(ground: &Ground, (start, end): (Spot, Spot)) -> impl Iterator<Item = (Spot, Spot)> {
    let right =
        (0..).take_while(move |n| end + n < ground.end() && ground.equal(start + n, end + n));
    let left = (1..=start).take_while(move |n| ground.equal(start - n, end - n));
    let right = right.map(move |n| (start + n + 1, end + n + 1));
    let left = left.map(move |n| (start - n, end - n));
    std::iter::once((start, end)).chain(right).chain(left).take(MOST_SLIDES)
}
