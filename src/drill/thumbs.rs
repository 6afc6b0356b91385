//! Keys without text, woven into lines: Enter ends them, Tab indents them,
//! words are taken back with Backspace, Escape stands between.

use super::fragment::{Bench, Voice, capitalised};
use super::glyph::line_width;
use super::material::{Words, shared_start};
use crate::keyboard::{NamedKey, Output};
use crate::order::Gather;
use std::collections::BTreeSet;

/// Weaves keys into the lines of one drill.
pub(super) struct Weaver {
    enter: bool,
    /// The keys to weave that have not come yet, the next one last.
    owed: Vec<NamedKey>,
    keys: BTreeSet<NamedKey>,
    width: usize,
    /// Lines so far.
    woven: usize,
}

impl Weaver {
    /// For `keys`, into lines of at most `width` columns. Backspace is woven
    /// only where `take_back`: a drill in which the person repairs what went
    /// wrong can't also ask for Backspace.
    pub fn new(keys: &[NamedKey], take_back: bool, width: usize) -> Self {
        let keys: BTreeSet<NamedKey> =
            keys.iter().copied().filter(|key| take_back || *key != NamedKey::Backspace).gather();
        // Tab is owed last: the pieces of the thumb drills mostly have it.
        let owed = [NamedKey::Tab, NamedKey::Escape, NamedKey::Backspace]
            .into_iter()
            .filter(|key| keys.contains(key))
            .collect();
        Self { enter: keys.contains(&NamedKey::Enter), owed, keys, width, woven: 0 }
    }

    /// Takes note of what `lines` have by themselves.
    pub fn sees(&mut self, lines: &[Vec<Output>]) {
        if lines.iter().flatten().any(|item| *item == Output::Key(NamedKey::Tab)) {
            self.owed.retain(|key| *key != NamedKey::Tab);
        }
    }

    /// The columns to leave free for the key that ends a line.
    pub fn margin(&self) -> usize {
        if self.enter { line_width(&[Output::Key(NamedKey::Enter)], false) } else { 0 }
    }

    /// `line` with keys woven in, as far as the width allows. A line that was
    /// not `made` of fragments has its own indents and gets no other, unless
    /// Tab would not come at all.
    pub fn weave(
        &mut self,
        mut line: Vec<Output>,
        made: bool,
        bench: &mut Bench,
        words: &Words,
    ) -> Vec<Output> {
        self.woven += 1;
        let thumbs = bench.voice == Voice::Thumbs;
        let tabbed = line.contains(&Output::Key(NamedKey::Tab));
        let patient = thumbs && !made && self.woven < 4;
        let owed = self.owed.pop_if(|key| !(patient && *key == NamedKey::Tab));
        for key in [NamedKey::Backspace, NamedKey::Tab, NamedKey::Escape] {
            let often = if thumbs && key == NamedKey::Backspace { 2 } else { 4 };
            let barred = key == NamedKey::Tab && (tabbed || (thumbs && !made));
            let wanted = owed == Some(key) || (!barred && bench.once_in(often));
            if !self.keys.contains(&key) || !wanted {
                continue;
            }
            let woven = match key {
                NamedKey::Backspace => with_slip(&line, bench, words),
                NamedKey::Tab => {
                    Some(std::iter::once(Output::Key(key)).chain(line.iter().cloned()).collect())
                }
                _ => Some(line.iter().cloned().chain([Output::Key(key)]).collect()),
            };
            match woven {
                Some(woven) if line_width(&woven, false) + self.margin() <= self.width => {
                    line = woven;
                }
                // No room, or nothing to take back: the next line may have it.
                _ if owed == Some(key) => self.owed.insert(0, key),
                _ => {}
            }
        }
        if self.enter {
            line.push(Output::Key(NamedKey::Enter));
        }
        line
    }
}

/// `line` with one word first typed wrong and taken back as far as it is
/// wrong. None where the line has nothing to take back.
fn with_slip(line: &[Output], bench: &mut Bench, words: &Words) -> Option<Vec<Output>> {
    let starts = word_spans(line);
    // A word with a known slip first; then any word, its end turned round.
    let mut known = Vec::new();
    for &(start, end) in &starts {
        let word = text_of(&line[start..end]);
        for (wrong, right) in &words.slips {
            if word.to_lowercase() != *right {
                continue;
            }
            let shared = shared_start(wrong, right);
            let tail: String = wrong.chars().skip(shared).collect();
            if let Some(tail) = bench.reach.exact(&tail) {
                known.push((start + shared, tail));
            }
        }
    }
    if known.is_empty() {
        for &(start, end) in &starts {
            let (Some(last), Some(before)) = (line.get(end - 1), line.get(end - 2)) else {
                continue;
            };
            if end - start >= 3 && last != before {
                known.push((end - 2, vec![last.clone(), before.clone()]));
            }
        }
    }
    if known.is_empty() {
        // Anything struck once too often.
        let twice: Vec<usize> = (1..=line.len())
            .filter(|at| matches!(&line[at - 1], Output::Text(text) if text != " "))
            .collect();
        known.extend(twice.into_iter().map(|at| (at, vec![line[at - 1].clone()])));
    }
    let (at, wrong) = bench.pick(&known)?;
    let mut woven = line[..at].to_vec();
    let back = wrong.len();
    woven.extend(wrong);
    woven.extend(std::iter::repeat_n(Output::Key(NamedKey::Backspace), back));
    woven.extend_from_slice(&line[at..]);
    Some(woven)
}

/// Start and end of every run of letters.
fn word_spans(line: &[Output]) -> Vec<(usize, usize)> {
    let mut spans = Vec::new();
    let mut start = None;
    for (at, item) in line.iter().map(Some).chain([None]).enumerate() {
        let letter = item.and_then(Output::as_char).is_some_and(char::is_alphabetic);
        match (letter, start) {
            (true, None) => start = Some(at),
            (false, Some(from)) => {
                if at - from >= 2 {
                    spans.push((from, at));
                }
                start = None;
            }
            _ => {}
        }
    }
    spans
}

fn text_of(items: &[Output]) -> String {
    items.iter().filter_map(Output::as_char).collect()
}

/// Short lines about words that are easily mistaken for others.
pub(super) fn lines(bench: &mut Bench, words: &Words, count: usize) -> Vec<String> {
    let rights: Vec<&String> = words.slips.iter().map(|(_, right)| right).collect();
    (0..count)
        .filter_map(|_| {
            let frame = bench.pick(&words.frames)?;
            let right = bench.pick(&rights)?;
            let right = capitalised(right);
            let swapped: Vec<&str> =
                frame.split(' ').map(|word| if word == "A" { &right } else { word }).collect();
            Some(swapped.join(" "))
        })
        .collect()
}
