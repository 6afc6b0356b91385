//! Whether a drill can tell the cost of a switch.
//!
//! The cost of going from one layer to another can be told from the speed
//! inside the second only where some output of the second comes both right
//! after the first and inside a run: so drills are made of runs of two or
//! more, with entries and exits.

use crate::keyboard::Output;
use std::collections::BTreeMap;

/// What a drill tells about one layer.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Mix {
    /// Runs of two or more outputs of the layer.
    pub runs: usize,
    /// Outputs of the layer right after one of another layer.
    pub entries: usize,
    /// Outputs of another layer right after one of the layer.
    pub exits: usize,
    /// Outputs that come both as an entry and inside a run.
    pub told: usize,
}

impl Mix {
    /// Counts over `lines`; `held` tells what is of the layer. The first
    /// output of a line has none before it.
    pub fn of<'l>(
        lines: impl IntoIterator<Item = &'l [Output]>,
        held: impl Fn(&Output) -> bool,
    ) -> Self {
        let mut mix = Self::default();
        let mut seen: BTreeMap<&Output, (bool, bool)> = BTreeMap::new();
        for line in lines {
            let mut run = 0;
            for (at, item) in line.iter().enumerate() {
                let here = held(item);
                let before = at > 0 && held(&line[at - 1]);
                run = if here { run + 1 } else { 0 };
                mix.runs += usize::from(run == 2);
                if at == 0 {
                    continue;
                }
                mix.entries += usize::from(here && !before);
                mix.exits += usize::from(!here && before);
                if here {
                    let (entry, inside) = seen.entry(item).or_default();
                    *entry |= !before;
                    *inside |= before;
                }
            }
        }
        mix.told = seen.values().filter(|(entry, inside)| *entry && *inside).count();
        mix
    }

    /// True where the cost of switching can be told from the time inside.
    pub const fn is_telling(self) -> bool {
        self.runs > 0 && self.entries > 0 && self.exits > 0 && self.told > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(text: &str) -> Vec<Output> {
        text.chars().map(Output::char).collect()
    }

    #[test]
    fn a_mix_counts_runs_entries_and_exits() {
        let held = |output: &Output| output.as_char().is_some_and(|c| !c.is_alphabetic());
        let of = |text: &str| Mix::of([items(text).as_slice()], held);
        assert_eq!(of("a()b)"), Mix { runs: 1, entries: 2, exits: 1, told: 1 });
        assert_eq!(of("a(b"), Mix { runs: 0, entries: 1, exits: 1, told: 0 });
        assert_eq!(of("((a"), Mix { runs: 1, entries: 0, exits: 1, told: 0 });
        assert!(of("a()b)c").is_telling());
        assert!(!of("a()b").is_telling());
    }
}
