//! Today's plan: some drills, minutes, reasons.

use super::planner::Planner;
use crate::drill::{ItemKey, What};

/// Part of today's plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What to practise.
    pub what: What,
    /// A title for people.
    pub title: String,
    /// About a minute is one drill.
    pub minutes: u32,
    /// Why, in one line of plain words.
    pub reason: String,
    /// What it is about, most worth first; at most eight.
    pub items: Vec<ItemKey>,
}

/// Today's plan: what pays most comes first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Today {
    /// The parts.
    pub entries: Vec<Entry>,
}

impl Today {
    /// What to practise, drill by drill: the entries take turns, so that what
    /// was practised rests in between (practice that is spread lasts longer:
    /// common practice, no source).
    pub fn turns(&self) -> Vec<What> {
        let mut left: Vec<(What, u32)> =
            self.entries.iter().map(|entry| (entry.what, entry.minutes)).collect();
        let mut turns = Vec::new();
        while left.iter().any(|(_, minutes)| *minutes > 0) {
            for (what, minutes) in left.iter_mut().filter(|(_, minutes)| *minutes > 0) {
                turns.push(*what);
                *minutes -= 1;
            }
        }
        turns
    }
}

impl Planner<'_> {
    /// The plan for so many minutes, one drill a minute: each is chosen as if
    /// those before it had gone as expected.
    pub fn today(&self, minutes: u32) -> Today {
        let mut beliefs = self.beliefs.clone();
        let mut today = Today::default();
        for ordinal in 0..minutes {
            let ahead = Planner { beliefs: &beliefs, ..*self };
            let Some(choice) = ahead.next(ordinal) else { break };
            for (key, times) in &choice.comes {
                if let Some(belief) = beliefs.items.get_mut(key) {
                    belief.course.times += times;
                }
            }
            let known = today.entries.iter_mut().find(|entry| entry.what == choice.what);
            if let Some(entry) = known {
                entry.minutes += 1;
            } else {
                today.entries.push(Entry {
                    what: choice.what,
                    title: choice.title,
                    minutes: 1,
                    reason: choice.reason,
                    items: choice.items,
                });
            }
        }
        today
    }
}
