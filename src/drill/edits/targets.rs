//! What a task can be about: places and pieces of text that people mean.

use crate::editor::{Buffer, Goal, Place, Span};
use rand::{Rng, RngExt};
use rand_chacha::ChaCha8Rng;

/// What a task asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    Go,
    Select,
    Delete,
    Move,
}

/// The starts and ends of the words of `line`, grapheme columns.
fn words(buffer: &Buffer, line: usize) -> Vec<(usize, usize)> {
    let (starts, ends) = buffer.line(line).word_edges();
    starts.iter().zip(ends).map(|(&start, &end)| (start as usize, end as usize)).collect()
}

fn pick<T: Copy>(rng: &mut ChaCha8Rng, of: &[T]) -> Option<T> {
    (!of.is_empty()).then(|| of[rng.random_range(0..of.len())])
}

/// One of `n` cases.
fn case(rng: &mut ChaCha8Rng, n: u32) -> u32 {
    rng.next_u32() % n
}

/// A goal of `sort` in `buffer`, drawn by `rng`; none where the draw finds
/// nothing that makes sense.
pub(super) fn draw(sort: Sort, buffer: &Buffer, rng: &mut ChaCha8Rng) -> Option<Goal> {
    let lines = buffer.lines().len();
    let line = rng.random_range(0..lines);
    Some(match sort {
        Sort::Go => Goal::Cursor(place(buffer, line, rng)?),
        Sort::Select | Sort::Delete => {
            let span = piece(buffer, line, rng)?;
            if sort == Sort::Select { Goal::Selection(span) } else { deletion(buffer, span) }
        }
        Sort::Move => {
            if buffer.line(line).is_blank() {
                return None;
            }
            let by = 1 + case(rng, 3) as usize;
            let to = if case(rng, 2) == 0 { line.checked_sub(by)? } else { line + by };
            (to < lines).then_some(Goal::LineMove { from: line, to })?
        }
    })
}

/// A place that people go to: a word's start or end, an edge of a line, of a
/// paragraph or of the text.
fn place(buffer: &Buffer, line: usize, rng: &mut ChaCha8Rng) -> Option<Place> {
    let (words, length) = (words(buffer, line), buffer.line(line).len());
    Some(match case(rng, 10) {
        0..=3 => Place::new(line, pick(rng, &words)?.0),
        4 | 5 => Place::new(line, pick(rng, &words)?.1),
        6 => Place::new(line, 0),
        7 => Place::new(line, length),
        8 => {
            let begins = |line: usize| line == 0 || buffer.line(line - 1).is_blank();
            let line = (0..=line).rev().find(|&line| begins(line))?;
            Place::new(line, 0)
        }
        _ if case(rng, 2) == 0 => buffer.start(),
        _ => buffer.end(),
    })
}

/// A piece of text that people mean: a word or a few, the rest of a line, a
/// line, several lines, a paragraph.
fn piece(buffer: &Buffer, line: usize, rng: &mut ChaCha8Rng) -> Option<Span> {
    let (words, length) = (words(buffer, line), buffer.line(line).len());
    let last = buffer.lines().len() - 1;
    let within = |start: usize, end: usize| Span {
        start: Place::new(line, start),
        end: Place::new(line, end),
    };
    let whole = |from: usize, to: usize| Span {
        start: Place::new(from, 0),
        end: if to < last { Place::new(to + 1, 0) } else { buffer.end() },
    };
    let span = match case(rng, 12) {
        0..=3 => {
            let (start, end) = pick(rng, &words)?;
            within(start, end)
        }
        4 | 5 => {
            // With the blank after it, as it is taken out of a sentence.
            let at = rng.random_range(0..words.len().max(1));
            within(words.get(at)?.0, words.get(at + 1)?.0)
        }
        6 | 7 => {
            let at = rng.random_range(0..words.len().max(1));
            let end = (at + 1 + case(rng, 2) as usize).min(words.len().saturating_sub(1));
            within(words.get(at)?.0, words.get(end)?.1)
        }
        8 => within(pick(rng, &words)?.0, length),
        9 => within(0, pick(rng, &words)?.0),
        10 if !buffer.line(line).is_blank() => whole(line, line),
        10 => return None,
        _ => {
            let to = line + 1 + case(rng, 2) as usize;
            (to <= last).then(|| whole(line, to))?
        }
    };
    (!span.is_empty()).then_some(span)
}

/// The deletion of `span`. Where whole lines go to the end of the text, so does
/// the line end before them: no empty line stays.
fn deletion(buffer: &Buffer, span: Span) -> Goal {
    let whole = span.start.column == 0 && span.end == buffer.end() && span.start.line > 0;
    if !whole {
        return Goal::Deletion(span);
    }
    let before = span.start.line - 1;
    let start = Place::new(before, buffer.line(before).len());
    Goal::Deletion(Span { start, end: span.end })
}
