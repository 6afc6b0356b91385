//! A text as tables: where each motion leads from each state of the cursor.
//!
//! Places are numbered through the text, each line's end included, so that
//! they compare as they follow each other. A state is a place at its own
//! display column, or a line with a remembered column that the line has no
//! place at: after going up or down to a shorter line.

use super::reads::Reads;
use crate::editor::{Buffer, Habits, Line, Motion, Place, WordStep};
use std::ops::Range;
use std::sync::Arc;

pub(super) use super::reads::Spot;

/// A state of the cursor: a place, or beyond all places a line with the column
/// that is remembered.
pub(super) type State = u32;

/// A state of the cursor, and what it means.
#[derive(Debug, Clone, Copy)]
pub(super) struct Standing {
    pub state: State,
    pub at: Spot,
    line: usize,
    /// The column that is remembered.
    wanted: usize,
}

/// The tables of one text.
pub(super) struct Ground {
    /// The first place of each line, and how many places there are.
    first: Vec<Spot>,
    line_of: Vec<u32>,
    /// The display column of each place.
    display: Vec<u32>,
    /// What it reads.
    pub reads: Reads,
    /// How far a step by a word goes from each place, so that it is the same
    /// wherever the line is.
    word_left: Vec<u32>,
    word_right: Vec<u32>,
    /// By line and remembered column: the place there, counted from the line's
    /// first.
    fallen: Vec<u32>,
    /// The nearest line at or above at which a paragraph begins, or 0.
    paragraph: Vec<u32>,
    /// Where the next paragraph begins, or the end.
    next_paragraph: Vec<Spot>,
    /// Columns that can be remembered: 0 to one less.
    columns: usize,
    page: usize,
    /// A place with a remembered column that does not lead there, as after
    /// lines were moved; the state beyond all others.
    odd: Option<(Spot, usize)>,
}

impl Ground {
    /// The tables of `buffer`, in which columns up to `wanted` may be
    /// remembered, with what `other` tells of its own text's lines that are here
    /// too.
    pub fn new(
        other: Option<(&Self, &Buffer)>,
        buffer: &Buffer,
        wanted: usize,
        habits: Habits,
    ) -> Self {
        let lines = buffer.lines();
        let needed = buffer.width().max(wanted) + 1;
        let columns = other.map_or(needed, |(other, _)| needed.max(other.columns));
        let total: usize = lines.iter().map(|line| line.len() + 1).sum();
        let mut ground = Self {
            first: Vec::with_capacity(lines.len() + 1),
            line_of: Vec::with_capacity(total),
            display: Vec::with_capacity(total),
            reads: Reads::with_capacity(total),
            word_left: Vec::with_capacity(total),
            word_right: Vec::with_capacity(total),
            fallen: Vec::with_capacity(lines.len() * columns),
            paragraph: Vec::with_capacity(lines.len()),
            next_paragraph: vec![total as Spot - 1; lines.len()],
            columns,
            page: habits.page.max(1),
            odd: None,
        };
        ground.paragraphs(lines);
        let known = other.filter(|(other, _)| other.columns == columns);
        let (before, after) = known.map_or((0, 0), |(_, of)| same_around(of.lines(), lines));
        let after = lines.len() - after;
        if let Some((other, _)) = known {
            ground.copy(other, 0..before, 0);
        }
        for (number, line) in lines.iter().enumerate().take(after).skip(before) {
            ground.line_of.resize(ground.line_of.len() + line.len() + 1, number as u32);
            ground.display.extend_from_slice(line.display_columns());
            ground.reads.add(line);
            ground.words(buffer, number, habits.word);
            // From each place as far as the next one begins.
            for (column, next) in line.display_columns().iter().skip(1).enumerate() {
                ground.fallen.resize(number * columns + *next as usize, column as u32);
            }
            ground.fallen.resize((number + 1) * columns, line.len() as u32);
        }
        if let Some((other, of)) = known {
            let end = of.lines().len();
            ground.copy(other, end - (lines.len() - after)..end, after);
        }
        // Next to lines that were copied there are others now, or none.
        for below in [before, after] {
            let at = ground.first[below] as usize;
            if let Some(above) = below.checked_sub(1) {
                ground.word_right[at - 1] = to_word_below(buffer, above, habits.word);
            }
            if below < lines.len() {
                ground.word_left[at] = to_word_above(buffer, below);
            }
        }
        ground
    }

    /// Counts where lines and paragraphs begin.
    fn paragraphs(&mut self, lines: &[Arc<Line>]) {
        let mut blank_before = true;
        let (mut begins, mut start) = (0, 0);
        for (number, line) in lines.iter().enumerate() {
            self.first.push(start);
            let blank = line.is_blank();
            if !blank && blank_before {
                self.next_paragraph[begins..number].fill(start);
                begins = number;
            }
            blank_before = blank;
            self.paragraph.push(begins as u32);
            start += line.len() as Spot + 1;
        }
        self.first.push(start);
    }

    /// Goes on with what `other` tells of some of its lines, of which the first
    /// has the number `now` here.
    fn copy(&mut self, other: &Self, lines: Range<usize>, now: usize) {
        let places = other.first[lines.start] as usize..other.first[lines.end] as usize;
        let number = |line: &u32| line - lines.start as u32 + now as u32;
        self.line_of.extend(other.line_of[places.clone()].iter().map(number));
        self.display.extend_from_slice(&other.display[places.clone()]);
        self.reads.copy(&other.reads, places.clone());
        self.word_left.extend_from_slice(&other.word_left[places.clone()]);
        self.word_right.extend_from_slice(&other.word_right[places]);
        let columns = lines.start * other.columns..lines.end * other.columns;
        self.fallen.extend_from_slice(&other.fallen[columns]);
    }

    /// How far word steps go from the places of line `number`.
    fn words(&mut self, buffer: &Buffer, number: usize, habit: WordStep) {
        let line = buffer.line(number);
        let starts = line.word_edges().0;
        self.word_left.push(to_word_above(buffer, number));
        let (mut next, mut last) = (0, 0);
        for column in 1..=line.len() {
            while next < starts.len() && (starts[next] as usize) < column {
                last = starts[next] as usize;
                next += 1;
            }
            self.word_left.push((column - last) as u32);
        }
        let stops = stops(line, habit);
        let mut next = 0;
        for column in 0..line.len() {
            while next < stops.len() && stops[next] as usize <= column {
                next += 1;
            }
            let to = stops.get(next).map_or(line.len(), |&stop| stop as usize);
            self.word_right.push((to - column) as u32);
        }
        self.word_right.push(to_word_below(buffer, number, habit));
    }

    /// True where the same grapheme, or a line's end, follows on both places.
    pub fn equal(&self, one: Spot, other: Spot) -> bool {
        self.reads.grapheme(one) == self.reads.grapheme(other)
    }

    /// True where a blank or a line's end follows.
    pub fn is_blank(&self, at: Spot) -> bool {
        [' ', '\t', '\n'].map(u32::from).contains(&self.reads.grapheme(at))
    }

    /// How many lines a page is.
    pub const fn page(&self) -> usize {
        self.page
    }

    /// The nearest line at or above `line` at which a paragraph begins, or 0.
    pub fn begins(&self, line: usize) -> usize {
        self.paragraph[line] as usize
    }

    /// How many places there are.
    pub fn places(&self) -> u32 {
        self.line_of.len() as u32
    }

    /// How many states there are.
    pub fn states(&self) -> usize {
        self.line_of.len() + self.fallen.len() + 1
    }

    /// True where a cursor may remember the column `wanted`.
    pub const fn remembers(&self, wanted: usize) -> bool {
        wanted < self.columns
    }

    /// The last line.
    pub fn last_line(&self) -> usize {
        self.first.len() - 2
    }

    /// The first place of `line`; for the line after the last one, one place
    /// beyond the end.
    pub fn first(&self, line: usize) -> Spot {
        self.first[line]
    }

    /// The place that stands last.
    pub fn end(&self) -> Spot {
        self.places() - 1
    }

    /// The line of a place.
    pub fn line(&self, at: Spot) -> usize {
        self.line_of[at as usize] as usize
    }

    /// The number of `place`.
    pub fn spot(&self, place: Place) -> Spot {
        self.first[place.line] + place.column as Spot
    }

    /// The place with that number.
    pub fn place(&self, at: Spot) -> Place {
        let line = self.line(at);
        Place::new(line, (at - self.first[line]) as usize)
    }

    /// The state of a cursor at `place` that remembers the column `wanted`. Of
    /// those in which that column leads elsewhere, only the latest is known.
    pub fn state(&mut self, place: Place, wanted: usize) -> State {
        let at = self.spot(place);
        let beyond = place.line * self.columns + wanted;
        if self.display[at as usize] as usize == wanted {
            at
        } else if self.first[place.line] + self.fallen[beyond] == at {
            self.places() + beyond as State
        } else {
            self.odd = Some((at, wanted));
            self.states() as State - 1
        }
    }

    /// The place and column of a state beyond all places.
    fn beyond(&self, beyond: usize) -> (Spot, usize) {
        match (self.fallen.get(beyond), self.odd) {
            (Some(&at), _) => (self.first[beyond / self.columns] + at, beyond % self.columns),
            (None, Some(odd)) => odd,
            (None, None) => (0, 0),
        }
    }

    /// Where the cursor stands in `state`.
    pub fn at(&self, state: State) -> Spot {
        match state.checked_sub(self.places()) {
            None => state,
            Some(beyond) => self.beyond(beyond as usize).0,
        }
    }

    /// The column that is remembered in `state`.
    pub fn wanted(&self, state: State) -> usize {
        match state.checked_sub(self.places()) {
            None => self.display[state as usize] as usize,
            Some(beyond) => self.beyond(beyond as usize).1,
        }
    }

    /// What is known of a cursor in `state`.
    pub fn standing(&self, state: State) -> Standing {
        let at = self.at(state);
        Standing { state, at, wanted: self.wanted(state), line: self.line(at) }
    }

    /// Where `motion` leads from `state`, as [`super::super::motion::go`] tells.
    pub fn go(&self, state: State, motion: Motion) -> State {
        self.go_from(&self.standing(state), motion)
    }

    /// The same for a state of which all is known.
    pub fn go_from(&self, from: &Standing, motion: Motion) -> State {
        let Standing { at, line, .. } = *from;
        let last = self.last_line();
        match motion {
            Motion::Left => at.saturating_sub(1),
            Motion::Right => (at + 1).min(self.end()),
            Motion::WordLeft => at - self.word_left[at as usize],
            Motion::WordRight => at + self.word_right[at as usize],
            Motion::LineStart => self.first[line],
            Motion::LineEnd => self.first[line + 1] - 1,
            Motion::Up => self.upright(from, line.saturating_sub(1)),
            Motion::Down => self.upright(from, (line + 1).min(last)),
            Motion::PageUp => self.upright(from, line.saturating_sub(self.page)),
            Motion::PageDown => self.upright(from, line.saturating_add(self.page).min(last)),
            Motion::ParagraphUp if at > self.first[line] => {
                self.first[self.paragraph[line] as usize]
            }
            Motion::ParagraphUp => {
                let above = line.checked_sub(1).map_or(0, |above| self.paragraph[above]);
                self.first[above as usize]
            }
            Motion::ParagraphDown => self.next_paragraph[line],
            Motion::DocumentStart => 0,
            Motion::DocumentEnd => self.end(),
        }
    }

    /// How many columns can be remembered: 0 to one less.
    pub const fn columns(&self) -> usize {
        self.columns
    }

    /// By remembered column: the place on `line`.
    pub fn fallen(&self, line: usize) -> impl Iterator<Item = Spot> {
        let first = self.first[line];
        let places = &self.fallen[line * self.columns..(line + 1) * self.columns];
        places.iter().map(move |place| first + place)
    }

    /// True for a state whose column does not lead to where it is.
    pub fn is_odd(&self, state: State) -> bool {
        state as usize + 1 == self.states()
    }

    /// The lines that `motion` can lead to from the places of `line`.
    pub fn lines_led(&self, line: usize, motion: Motion) -> [usize; 2] {
        let last = self.last_line();
        let paragraph = |line: usize| self.paragraph[line] as usize;
        match motion {
            Motion::Left | Motion::WordLeft => [line, line.saturating_sub(1)],
            Motion::Right | Motion::WordRight => [line, (line + 1).min(last)],
            Motion::LineStart | Motion::LineEnd => [line; 2],
            Motion::Up => [line.saturating_sub(1); 2],
            Motion::Down => [(line + 1).min(last); 2],
            Motion::PageUp => [line.saturating_sub(self.page); 2],
            Motion::PageDown => [line.saturating_add(self.page).min(last); 2],
            Motion::ParagraphUp => [paragraph(line), line.checked_sub(1).map_or(0, paragraph)],
            Motion::ParagraphDown => [self.line(self.next_paragraph[line]); 2],
            Motion::DocumentStart => [0; 2],
            Motion::DocumentEnd => [last; 2],
        }
    }

    /// To the line `to` at the remembered column.
    fn upright(&self, from: &Standing, to: usize) -> State {
        if to == from.line { from.state } else { self.falling(to, from.wanted) }
    }

    /// The state of a cursor that comes to `line` remembering the column `wanted`.
    pub fn falling(&self, line: usize, wanted: usize) -> State {
        let beyond = line * self.columns + wanted;
        let at = self.first[line] + self.fallen[beyond];
        if self.display[at as usize] as usize == wanted {
            at
        } else {
            self.places() + beyond as State
        }
    }
}

/// How many lines are the same from the first on, and how many others up to
/// the last.
fn same_around(old: &[Arc<Line>], new: &[Arc<Line>]) -> (usize, usize) {
    let same = |(one, other): &(&Arc<Line>, &Arc<Line>)| Arc::ptr_eq(one, other);
    let before = old.iter().zip(new).take_while(same).count();
    let rest = old[before..].iter().rev().zip(new[before..].iter().rev());
    (before, rest.take_while(same).count())
}

/// How far a step to the left by a word goes from the start of line `number`:
/// to the last word of the line before.
fn to_word_above(buffer: &Buffer, number: usize) -> u32 {
    number.checked_sub(1).map_or(0, |above| {
        let line = buffer.line(above);
        line.len() as u32 + 1 - line.word_edges().0.last().copied().unwrap_or(0)
    })
}

/// How far a step to the right by a word goes from the end of line `number`: to
/// the first stop of the next line.
fn to_word_below(buffer: &Buffer, number: usize, habit: WordStep) -> u32 {
    buffer
        .lines()
        .get(number + 1)
        .map_or(0, |below| 1 + stops(below, habit).first().copied().unwrap_or(below.len() as u32))
}

/// Where word steps to the right stop on `line`.
fn stops(line: &Line, habit: WordStep) -> &[u32] {
    let (starts, ends) = line.word_edges();
    match habit {
        WordStep::NextStart => starts,
        WordStep::WordEnd => ends,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::Span;
    use crate::editor::motion::go;
    use proptest::prelude::*;

    proptest! {
        /// The tables tell what the editor does, from every state.
        #[test]
        fn the_tables_tell_where_the_cursor_goes(
            text in "[ab ,\t\n潮]{0,40}",
            more in "[ab\n]{0,4}",
            at in 0_usize..40,
            page in 1_usize..4,
            word_ends: bool,
        ) {
            let buffer = Buffer::new(&text);
            let word = if word_ends { WordStep::WordEnd } else { WordStep::NextStart };
            let habits = Habits { word, page };
            // Some of what it knows it has from another text.
            let mut before = buffer.clone();
            let place = before.place(at % (text.len() + 1));
            before.replace(Span { start: place, end: place }, &more);
            let other = Ground::new(None, &before, 9, habits);
            let mut ground = Ground::new(Some((&other, &before)), &buffer, 9, habits);
            for state in 0..ground.states() as State - 1 {
                let (place, wanted) = (ground.place(ground.at(state)), ground.wanted(state));
                // Beyond the places only what is none itself is a state.
                if ground.state(place, wanted) != state {
                    continue;
                }
                for (motion, _) in Motion::WORDS {
                    let to = ground.go(state, motion);
                    let told = (ground.place(ground.at(to)), ground.wanted(to));
                    let (at, wanted) = go(&buffer, place, wanted, motion, habits);
                    prop_assert_eq!(told, (at, wanted), "{:?} from {:?}", motion, place);
                }
            }
        }
    }
}
