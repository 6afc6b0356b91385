//! An invented survey beside the invented history: the texts are those that
//! ship as material, all of Tern Point.

use super::Invention;
use crate::drill::{DrillError, shipped};
use crate::progress::{Hands, Paying};
use crate::store::{KeptSurvey, StoreError};
use crate::survey::{Answers, Counts, DAYS, MINUTES_A_DAY, Promise};

/// Why there is no survey.
#[derive(Debug, thiserror::Error)]
pub enum WorkError {
    /// A shipped file is faulty, which the tests rule out.
    #[error(transparent)]
    Material(#[from] DrillError),
    /// Hands that can't be read.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl Invention<'_> {
    /// A survey made the day before the history begins, with what it promised
    /// to somebody who was new to the layers.
    ///
    /// # Errors
    /// [`WorkError`].
    pub fn survey(&self) -> Result<KeptSurvey, WorkError> {
        let material = shipped()?;
        let kinds = [
            ("text", &material.punctuation),
            ("C and C++", &material.symbols),
            ("other", &material.numbers),
        ];
        let mut kept = KeptSurvey {
            day: self.now.day_local(0) - self.days - 1,
            answers: Answers::default(),
            ..KeptSurvey::default()
        };
        for (kind, pieces) in kinds {
            let mut counts = Counts::default();
            for piece in pieces {
                // Each ends with a line's end, as texts do.
                counts.add(&Counts::of(&format!("{}\n", piece.text.trim_end())));
            }
            kept.texts += pieces.len() as u64;
            kept.kinds.push((kind.to_owned(), pieces.len() as u64, counts.total()));
            kept.counts.add(&counts);
        }
        if let Some(old) = self.old_way {
            let own = kept.surveyed();
            let hands = |layout| Hands::read(layout, &own.habits, None, kept.day);
            let paying = Paying::of(&own, &hands(self.layout)?, &hands(old)?);
            let minutes = f64::from(DAYS) * MINUTES_A_DAY;
            let promise = |one| Promise::of(&self.layout.name, kept.day, one, (minutes, 0.0));
            kept.promises = paying.ranking.iter().map(promise).collect();
        }
        Ok(kept)
    }
}
