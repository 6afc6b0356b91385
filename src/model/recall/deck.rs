//! What is remembered of one layout, and what is due.

use super::fsrs::{interval_days, retrievability};
use super::{Answer, Memory};
use crate::keyboard::Output;
use crate::order::InOrder;
use std::collections::BTreeMap;

/// Something is due when it would be remembered less surely than this.
pub const RETENTION: f64 = 0.9;
/// So many new items a day, at most (a choice of our own: a few).
pub const NEW_A_DAY: usize = 4;

/// One item that has been asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Card {
    /// How well it is remembered.
    pub memory: Memory,
    /// The day of the first answer.
    pub first_day: i32,
    /// The day of the last answer.
    pub last_day: i32,
    /// Answers so far.
    pub n: u32,
}

impl Card {
    /// The day on which it is due.
    pub fn due_day(&self) -> i32 {
        // At most a hundred years: no overflow.
        self.last_day.saturating_add(interval_days(self.memory.stability, RETENTION) as i32)
    }

    /// The chance that it is remembered on `today`, 0 to 1.
    pub fn retrievability(&self, today: i32) -> f64 {
        let days = today.saturating_sub(self.last_day).max(0);
        retrievability(self.memory.stability, f64::from(days))
    }
}

/// What is remembered of one layout: the fold over all answers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Deck {
    cards: BTreeMap<Output, Card>,
}

impl Deck {
    /// The deck after `answers`, which come in the order of their days.
    pub fn of(answers: impl IntoIterator<Item = Answer>) -> Self {
        let mut deck = Self::default();
        for answer in answers {
            deck.take(&answer);
        }
        deck
    }

    /// Takes in one more answer. An answer of an earlier day than the one
    /// before counts as of that day.
    pub fn take(&mut self, answer: &Answer) {
        let grade = answer.outcome.grade();
        self.cards
            .entry(answer.item.clone())
            .and_modify(|card| {
                let day = answer.day.max(card.last_day);
                let days = u32::try_from(day.saturating_sub(card.last_day)).unwrap_or(0);
                card.memory = card.memory.after(grade, days);
                card.last_day = day;
                card.n += 1;
            })
            .or_insert_with(|| Card {
                memory: Memory::first(grade),
                first_day: answer.day,
                last_day: answer.day,
                n: 1,
            });
    }

    /// What is known of `item`; none where it was never asked for.
    pub fn card(&self, item: &Output) -> Option<&Card> {
        self.cards.get(item)
    }

    /// Every item that was asked for, in order.
    pub fn cards(&self) -> impl Iterator<Item = (&Output, &Card)> {
        self.cards.iter()
    }

    /// What of `all` is due on `today`, least surely remembered first.
    pub fn due(&self, all: &[Output], today: i32) -> Vec<Output> {
        let mut due: Vec<(f64, &Output)> = all
            .iter()
            .filter_map(|item| Some((self.cards.get(item)?, item)))
            .filter(|(card, _)| card.due_day() <= today)
            .map(|(card, item)| (card.retrievability(today), item))
            .collect();
        due.order_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(b.1)));
        due.into_iter().map(|(_, item)| item.clone()).collect()
    }

    /// What of `all` was never asked for, in the order of `all`; at most
    /// [`NEW_A_DAY`] less what was new on `today` already.
    pub fn fresh(&self, all: &[Output], today: i32) -> Vec<Output> {
        let begun =
            all.iter().filter(|item| self.cards.get(item).is_some_and(|c| c.first_day == today));
        let room = NEW_A_DAY.saturating_sub(begun.count());
        all.iter().filter(|item| !self.cards.contains_key(item)).take(room).cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::Outcome;
    use super::*;

    fn item(text: &str) -> Output {
        text.parse().unwrap()
    }

    fn answer(text: &str, day: i32, outcome: Outcome) -> Answer {
        Answer { item: item(text), day, outcome }
    }

    #[test]
    fn due_comes_what_is_about_to_be_forgotten_worst_first() {
        let all = ["Ctrl+A", "Ctrl+C", "Ctrl+V", "Ctrl+X"].map(item);
        let deck = Deck::of([
            answer("Ctrl+A", 0, Outcome::AtOnce),
            answer("Ctrl+C", 0, Outcome::Wrong),
            answer("Ctrl+V", 0, Outcome::Right),
        ]);
        assert_eq!(deck.due(&all, 0), Vec::<Output>::new(), "not on the day itself");
        assert_eq!(deck.due(&all, 1), [item("Ctrl+C")]);
        assert_eq!(deck.due(&all, 2), ["Ctrl+C", "Ctrl+V"].map(item));
        assert_eq!(deck.due(&all, 9), ["Ctrl+C", "Ctrl+V", "Ctrl+A"].map(item));
        assert_eq!(deck.due(&all[..1], 9), [item("Ctrl+A")], "only what the layout has");
    }

    #[test]
    fn new_items_come_a_few_a_day() {
        let all: Vec<Output> =
            ["A", "B", "C", "D", "E", "F"].map(|key| item(&format!("Ctrl+{key}"))).into();
        let mut deck = Deck::default();
        assert_eq!(deck.fresh(&all, 5), all[..NEW_A_DAY]);
        deck.take(&answer("Ctrl+A", 5, Outcome::Right));
        deck.take(&answer("Ctrl+B", 4, Outcome::Right));
        assert_eq!(deck.fresh(&all, 5), all[2..5]);
        assert_eq!(deck.fresh(&all, 6), all[2..6]);
    }

    #[test]
    fn an_answer_from_the_past_is_taken_as_of_the_latest_day() {
        let mut deck = Deck::of([answer("Ctrl+A", 9, Outcome::Right)]);
        deck.take(&answer("Ctrl+A", 3, Outcome::Right));
        let card = deck.card(&item("Ctrl+A")).copied();
        assert_eq!(card.map(|card| (card.last_day, card.n)), Some((9, 2)));
    }
}
