//! Short fragments made for one output: the way in which every output of a
//! layer gets practised, also one that no piece of the material has.

use super::material::Words;
use super::reach::Reach;
use super::what::Focus;
use super::{numbers, punctuation, symbols};
use crate::keyboard::Output;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;

/// How fragments speak.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Voice {
    /// As code: operators between operands, brackets with contents.
    Code,
    /// As sentences.
    Prose,
    /// As figures.
    Figures,
    /// As short lines under the thumbs.
    Thumbs,
}

/// What a generator works with.
pub(super) struct Bench<'a> {
    pub reach: &'a Reach,
    pub focus: &'a Focus,
    pub voice: Voice,
    pub rng: ChaCha8Rng,
    /// The words that the layout can type.
    pub words: Vec<&'a str>,
    /// Text outputs that are not of the focus, other than the space.
    pub outside: Vec<Output>,
    /// Characters that stand next to each other somewhere in the material.
    neighbours: BTreeSet<(char, char)>,
}

impl<'a> Bench<'a> {
    pub fn new(
        reach: &'a Reach,
        focus: &'a Focus,
        voice: Voice,
        rng: ChaCha8Rng,
        words: &'a Words,
    ) -> Self {
        let outside = reach
            .outputs()
            .map(|(output, _)| output)
            .filter(|output| matches!(output, Output::Text(text) if !text.trim().is_empty()))
            .filter(|output| !focus.holds(output))
            .cloned()
            .collect();
        let words =
            words.words.iter().map(String::as_str).filter(|word| reach.exact(word).is_some());
        Self {
            reach,
            focus,
            voice,
            rng,
            words: words.collect(),
            outside,
            neighbours: BTreeSet::new(),
        }
    }

    /// Learns from `text` what stands next to what.
    pub fn learn(&mut self, text: &str) {
        self.neighbours.extend(text.chars().zip(text.chars().skip(1)));
    }

    /// A number from 0 up to, not including, `bound`; 0 where `bound` is 0.
    pub fn below(&mut self, bound: usize) -> usize {
        // A u32 range gives the same draw on every platform.
        if bound < 2 { 0 } else { self.rng.random_range(0..bound as u32) as usize }
    }

    /// True once in `n` times.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// One of `from`, if there is any.
    pub fn pick<T: Clone>(&mut self, from: &[T]) -> Option<T> {
        let index = self.below(from.len());
        from.get(index).cloned()
    }

    /// Puts `list` into an order of the seed.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            let other = self.below(last + 1);
            list.swap(last, other);
        }
    }

    /// What stands beside an operator: a word, a number, or whatever the
    /// layout has outside the focus; empty where it has nothing.
    pub fn operand(&mut self) -> String {
        if self.voice == Voice::Figures
            && let Some(number) = numbers::number(self)
        {
            return number;
        }
        let words = std::mem::take(&mut self.words);
        let word = self.pick(&words);
        self.words = words;
        if let Some(word) = word {
            return word.to_owned();
        }
        let outside = std::mem::take(&mut self.outside);
        let other = self.pick(&outside);
        self.outside = outside;
        match other {
            Some(Output::Text(text)) => text,
            _ => String::new(),
        }
    }

    /// A fragment that holds `target`, and nothing that the layout can't
    /// give.
    pub fn fragment(&mut self, target: &Output) -> Vec<Output> {
        if let Some(c) = target.as_char() {
            if c.is_alphabetic()
                && let Some(items) = self.word_with(target, c)
            {
                return items;
            }
            if let Some(items) = self.templated(target, c) {
                return items;
            }
            if let Some(items) = self.pair(target) {
                return items;
            }
        }
        let before = self.operand();
        let mut items = self.reach.exact(&before).unwrap_or_default();
        items.push(target.clone());
        items
    }

    fn word_with(&mut self, target: &Output, c: char) -> Option<Vec<Output>> {
        let capital = c.is_uppercase();
        let with: Vec<String> = self
            .words
            .iter()
            .map(|word| if capital { capitalised(word) } else { (*word).to_owned() })
            .filter(|word| word.contains(c))
            .collect();
        let word = self.pick(&with)?;
        self.reach.exact(&word).filter(|items| items.contains(target))
    }

    fn templated(&mut self, target: &Output, c: char) -> Option<Vec<Output>> {
        let own = match self.voice {
            Voice::Code => symbols::templates(c),
            Voice::Prose | Voice::Thumbs => punctuation::templates(c),
            Voice::Figures => numbers::templates(c),
        };
        let mut lists: Vec<Vec<String>> = Vec::new();
        lists.push(own.iter().map(|template| (*template).to_owned()).collect());
        if self.voice != Voice::Code {
            lists.push(symbols::templates(c).iter().map(|t| (*t).to_owned()).collect());
        }
        lists.push(general_templates(c));
        for mut list in lists {
            self.shuffle(&mut list);
            for template in list {
                let text = self.filled(&template);
                if let Some(items) = self.reach.exact(&text)
                    && items.contains(target)
                {
                    return Some(items);
                }
            }
        }
        None
    }

    /// `template` with operands for `A`, `B`, `C`, `D`, a capitalised word for
    /// `W`, and a time of day for `T`.
    fn filled(&mut self, template: &str) -> String {
        let mut text = String::new();
        for c in template.chars() {
            match c {
                'A'..='D' => text.push_str(&self.operand()),
                'T' => text.push_str(&numbers::clock(self.below(24 * 60))),
                'W' => text.push_str(&capitalised(&self.operand())),
                c => text.push(c),
            }
        }
        text
    }

    /// `target` and another output of its layer side by side between
    /// operands: a run with its entry and its exit.
    pub fn pair(&mut self, target: &Output) -> Option<Vec<Output>> {
        let layer = self.reach.layer_of(target)?;
        let (first, second) =
            self.partner(target, |reach, output| reach.layer_of(output) == Some(layer))?;
        let mut items = Vec::new();
        let operand = self.operand();
        items.extend(self.reach.exact(&operand).unwrap_or_default());
        items.push(first);
        items.push(second);
        let operand = self.operand();
        items.extend(self.reach.exact(&operand).unwrap_or_default());
        Some(items)
    }

    /// `target` and a partner in the order in which the material has them
    /// side by side, if it has; otherwise in any.
    fn partner(
        &mut self,
        target: &Output,
        fits: impl Fn(&Reach, &Output) -> bool,
    ) -> Option<(Output, Output)> {
        let c = target.as_char()?;
        let mut known = Vec::new();
        let mut any = Vec::new();
        for other in &self.focus.text {
            let Some(d) = other.as_char() else { continue };
            if d == c || d == ' ' || !fits(self.reach, other) {
                continue;
            }
            any.push((target.clone(), other.clone()));
            if self.neighbours.contains(&(c, d)) {
                known.push((target.clone(), other.clone()));
            }
            if self.neighbours.contains(&(d, c)) {
                known.push((other.clone(), target.clone()));
            }
        }
        self.pick(&known).or_else(|| self.pick(&any))
    }

    /// A fragment after which the cost of arriving in a layer and that of
    /// staying there can be told apart: `q` comes both right after something
    /// of another layer and inside a run. `held` tells what is of the layer; it takes at most
    /// `columns` where that can be.
    pub fn telling(
        &mut self,
        columns: usize,
        held: impl Fn(&Output) -> bool,
    ) -> Option<Vec<Output>> {
        let inside: Vec<Output> = self
            .focus
            .text
            .iter()
            .filter(|output| held(output) && output.as_char() != Some(' '))
            .cloned()
            .collect();
        let outside: Vec<Output> = self
            .reach
            .outputs()
            .map(|(output, _)| output)
            .filter(|output| matches!(output, Output::Text(text) if text != " "))
            .filter(|output| !held(output))
            .cloned()
            .collect();
        if outside.is_empty() {
            return None;
        }
        let target = self.pick(&inside)?;
        let (p, q) = self.partner(&target, |_, output| held(output)).or_else(|| {
            let other = inside.iter().find(|output| **output != target)?;
            Some((target.clone(), other.clone()))
        })?;
        let mut items = Vec::new();
        let away = |bench: &mut Self, items: &mut Vec<Output>| {
            let word = bench.operand();
            let word = bench.reach.exact(&word).unwrap_or_default();
            if (1..=columns / 3 - 2).contains(&word.len()) && !word.iter().any(&held) {
                items.extend(word);
            } else if let Some(one) = bench.pick(&outside) {
                items.push(one);
            }
        };
        away(self, &mut items);
        items.extend([p, q.clone()]);
        away(self, &mut items);
        items.push(q);
        away(self, &mut items);
        Some(items)
    }
}

/// `word` with a capital first letter.
pub(super) fn capitalised(word: &str) -> String {
    let mut chars = word.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// Company for a character that no table knows, by what it is: money stands
/// beside an amount, arrows and relations between two things, the rest before
/// or after one.
fn general_templates(c: char) -> Vec<String> {
    let forms: &[&str] = match c {
        '€' | '£' | '¥' | '¢' | '₹' | '₩' | '₽' | '₺' | '¤' => &["A _", "_ A", "_A"],
        '§' | '¶' | '№' | '†' | '‡' | '•' => &["_ A", "_ A, _ B", "(_ A)", "_A"],
        '°' | '′' | '″' | '²' | '³' | '¹' | 'µ' | '‰' | 'ª' | 'º' => {
            &["A_", "A_ B", "A _"]
        }
        '←'..='⇿' | '×' | '÷' | '±' | '≤' | '≥' | '≠' | '≈' | '·' | '∞' | '∈' | '¬' => {
            &["A _ B", "A_B", "(A _ B)", "A_"]
        }
        ' ' => &["A_B"],
        _ if c.is_uppercase() => &["W _", "_ W"],
        '0'..='9' => &["A[_]", "A_", "_"],
        _ => &["A_", "_A", "A _ B", "(_)"],
    };
    forms.iter().map(|form| form.replace('_', &c.to_string())).collect()
}
