//! Standard text-entry metrics.
//!
//! P is the presented text, T the transcribed one, IS the stream of all keys.
//! Sources: Soukoreff & MacKenzie, "Measuring errors in text entry tasks"
//! (CHI 2001 Extended Abstracts) and "Metrics for text entry research"
//! (CHI 2003). Every function works on any sequence, so that keys without a
//! character (Enter, Tab) count like characters.

use crate::units::Micros;

/// The minimum string distance: least number of insertions, deletions and
/// substitutions that turn `presented` into `transcribed`.
pub fn minimum_string_distance<T: PartialEq>(presented: &[T], transcribed: &[T]) -> usize {
    let mut row: Vec<usize> = (0..=transcribed.len()).collect();
    for (i, p) in presented.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, t) in transcribed.iter().enumerate() {
            let substituted = diagonal + usize::from(p != t);
            diagonal = row[j + 1];
            row[j + 1] = substituted.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[transcribed.len()]
}

/// All alignments of two sequences that reach the minimum string distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alignments {
    /// The minimum string distance.
    pub distance: usize,
    /// How many optimal alignments there are, ≥ 1 (a float: it grows
    /// exponentially with the length).
    pub count: f64,
    /// Their mean length, ≥ the longer sequence; 0 for two empty sequences.
    pub mean_size: f64,
    /// The longer of the two lengths.
    pub longer: usize,
}

impl Alignments {
    /// Distance by the longer length, 0 to 1 (CHI 2001); 0 for empty sequences.
    pub fn error_rate(&self) -> f64 {
        ratio(self.distance as f64, self.longer as f64)
    }

    /// Distance by the mean alignment size, 0 to 1 (CHI 2003); 0 for empty
    /// sequences.
    pub fn mean_alignment_error_rate(&self) -> f64 {
        ratio(self.distance as f64, self.mean_size)
    }
}

/// Counts the optimal alignments of two sequences and their mean size.
pub fn alignments<T: PartialEq>(presented: &[T], transcribed: &[T]) -> Alignments {
    #[derive(Clone, Copy, Default)]
    struct Cell {
        distance: usize,
        count: f64,
        size_sum: f64,
    }
    let start = Cell { distance: 0, count: 1.0, size_sum: 0.0 };
    let width = transcribed.len() + 1;
    let mut previous: Vec<Cell> = Vec::new();
    for i in 0..=presented.len() {
        let mut current = vec![Cell::default(); width];
        for j in 0..width {
            if i == 0 && j == 0 {
                current[0] = start;
                continue;
            }
            let mut steps: Vec<(usize, Cell)> = Vec::with_capacity(3);
            if i > 0 {
                steps.push((previous[j].distance + 1, previous[j]));
            }
            if j > 0 {
                steps.push((current[j - 1].distance + 1, current[j - 1]));
            }
            if i > 0 && j > 0 {
                let cost = usize::from(presented[i - 1] != transcribed[j - 1]);
                steps.push((previous[j - 1].distance + cost, previous[j - 1]));
            }
            let distance = steps.iter().map(|step| step.0).min().unwrap_or(0);
            let mut cell = Cell { distance, ..Cell::default() };
            for (_, from) in steps.into_iter().filter(|step| step.0 == distance) {
                cell.count += from.count;
                cell.size_sum += from.size_sum + from.count;
            }
            current[j] = cell;
        }
        previous = current;
    }
    let last = previous[transcribed.len()];
    Alignments {
        distance: last.distance,
        count: last.count,
        mean_size: ratio(last.size_sum, last.count),
        longer: presented.len().max(transcribed.len()),
    }
}

/// The counts from which all rates follow; they add up over lines and drills.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// C: transcribed as presented.
    pub correct: u32,
    /// INF: wrong and left standing.
    pub incorrect_not_fixed: u32,
    /// IF: wrong and taken back (or refused, where the caret waits).
    pub incorrect_fixed: u32,
    /// F: keys struck to correct (Backspace).
    pub fixes: u32,
    /// |T|: transcribed keys.
    pub transcribed: u32,
    /// |IS|: all keys, without Shift and other access keys.
    pub stream: u32,
    /// Lines begun; each gives away its first key, which has no interval.
    pub lines: u32,
    /// Time from the first to the last key of each line; pauses and
    /// interruptions left out.
    pub time: Micros,
}

impl Counts {
    /// The counts of one line.
    ///
    /// `stream` counts every key struck (corrections too), `fixes` the
    /// corrections among them, `time` runs from the first key to the last.
    pub fn of_line<T: PartialEq>(
        presented: &[T],
        transcribed: &[T],
        stream: u32,
        fixes: u32,
        time: Micros,
    ) -> Self {
        let distance = minimum_string_distance(presented, transcribed);
        let longer = presented.len().max(transcribed.len());
        Self {
            correct: (longer - distance) as u32,
            incorrect_not_fixed: distance as u32,
            incorrect_fixed: stream.saturating_sub(transcribed.len() as u32).saturating_sub(fixes),
            fixes,
            transcribed: transcribed.len() as u32,
            stream,
            lines: u32::from(stream > 0),
            time,
        }
    }

    /// Both together.
    #[must_use]
    pub fn plus(self, other: Self) -> Self {
        Self {
            correct: self.correct + other.correct,
            incorrect_not_fixed: self.incorrect_not_fixed + other.incorrect_not_fixed,
            incorrect_fixed: self.incorrect_fixed + other.incorrect_fixed,
            fixes: self.fixes + other.fixes,
            transcribed: self.transcribed + other.transcribed,
            stream: self.stream + other.stream,
            lines: self.lines + other.lines,
            time: self.time + other.time,
        }
    }

    fn all(&self) -> f64 {
        f64::from(self.correct)
            + f64::from(self.incorrect_not_fixed)
            + f64::from(self.incorrect_fixed)
    }

    /// INF / (C + INF + IF), 0 to 1; 0 where nothing was struck.
    pub fn uncorrected_error_rate(&self) -> f64 {
        ratio(f64::from(self.incorrect_not_fixed), self.all())
    }

    /// IF / (C + INF + IF), 0 to 1; 0 where nothing was struck.
    pub fn corrected_error_rate(&self) -> f64 {
        ratio(f64::from(self.incorrect_fixed), self.all())
    }

    /// (INF + IF) / (C + INF + IF), 0 to 1; 0 where nothing was struck.
    pub fn total_error_rate(&self) -> f64 {
        ratio(f64::from(self.incorrect_not_fixed) + f64::from(self.incorrect_fixed), self.all())
    }

    /// C / (C + INF + IF), 0 to 1; none where nothing was struck.
    pub fn accuracy(&self) -> Option<f64> {
        (self.all() > 0.0).then(|| 1.0 - self.total_error_rate())
    }

    /// IF / F: how many wrong keys one correction takes back; none without
    /// corrections.
    pub fn correction_efficiency(&self) -> Option<f64> {
        (self.fixes > 0).then(|| f64::from(self.incorrect_fixed) / f64::from(self.fixes))
    }

    /// IF / (IF + INF), 0 to 1: the share of errors that was put right; none
    /// without errors.
    pub fn conscientiousness(&self) -> Option<f64> {
        let errors = self.incorrect_fixed + self.incorrect_not_fixed;
        (errors > 0).then(|| f64::from(self.incorrect_fixed) / f64::from(errors))
    }

    /// C / (C + INF + IF + F), 0 to 1: the share of keys that did good; none
    /// where nothing was struck.
    pub fn utilised_bandwidth(&self) -> Option<f64> {
        let all = self.all() + f64::from(self.fixes);
        (all > 0.0).then(|| f64::from(self.correct) / all)
    }

    /// |IS| / |T|: keystrokes per character, ≥ 1; none where nothing stands.
    pub fn keystrokes_per_character(&self) -> Option<f64> {
        (self.transcribed > 0).then(|| f64::from(self.stream) / f64::from(self.transcribed))
    }

    /// (|T| − 1) / S · 60 / 5, words of five characters per minute, one
    /// character less a line; none for fewer than two characters or no time.
    pub fn words_per_minute(&self) -> Option<f64> {
        let characters = self.transcribed.checked_sub(self.lines)?;
        let seconds = self.time.as_secs();
        (characters > 0 && seconds > 0.0).then(|| f64::from(characters) / seconds * 60.0 / 5.0)
    }
}

/// The median and the quartiles of some latencies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// How many.
    pub n: usize,
    /// The median.
    pub median: Micros,
    /// The quartiles, from four samples on.
    pub quartiles: Option<(Micros, Micros)>,
}

impl Spread {
    /// The spread of `samples`; none for no samples. Quantiles interpolate
    /// between order statistics (Hyndman & Fan 1996, type 7).
    pub fn of(samples: &[Micros]) -> Option<Self> {
        let mut sorted: Vec<u64> = samples.iter().map(|m| m.0).collect();
        sorted.sort_unstable();
        let quantile = |q: f64| {
            let place = q * (sorted.len() - 1) as f64;
            let below = place.floor();
            let low = sorted[below as usize] as f64;
            let high = sorted[place.ceil() as usize] as f64;
            Micros((low + (high - low) * (place - below)).round() as u64)
        };
        if sorted.is_empty() {
            return None;
        }
        let quartiles = (sorted.len() >= 4).then(|| (quantile(0.25), quantile(0.75)));
        Some(Self { n: sorted.len(), median: quantile(0.5), quartiles })
    }

    /// Half the 95 % interval of the median, from six samples on: ±1.58 · IQR
    /// / √n (McGill, Tukey & Larsen 1978, "Variations of box plots").
    pub fn median_margin(&self) -> Option<Micros> {
        let (low, high) = self.quartiles.filter(|_| self.n >= 6)?;
        Some(Micros((1.58 * high.since(low).0 as f64 / (self.n as f64).sqrt()).round() as u64))
    }
}

/// How a median stands against an earlier one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// Shorter by more than the noise.
    Faster,
    /// Longer by more than the noise.
    Slower,
    /// The difference is smaller than the noise.
    Unclear,
    /// Fewer than six samples on one side.
    TooFew,
}

impl Change {
    /// Compares two medians: they differ where they lie farther apart than
    /// the root of the sum of their squared margins (see
    /// [`Spread::median_margin`]).
    pub fn of(now: &Spread, earlier: &Spread) -> Self {
        let (Some(a), Some(b)) = (now.median_margin(), earlier.median_margin()) else {
            return Self::TooFew;
        };
        let noise = (a.0 as f64).hypot(b.0 as f64);
        let difference = now.median.0 as f64 - earlier.median.0 as f64;
        if difference.abs() <= noise {
            Self::Unclear
        } else if difference < 0.0 {
            Self::Faster
        } else {
            Self::Slower
        }
    }

    /// The word on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Faster => "faster",
            Self::Slower => "slower",
            Self::Unclear => "no clear change",
            Self::TooFew => "too few to tell",
        }
    }
}

fn ratio(numerator: f64, denominator: f64) -> f64 {
    if denominator > 0.0 { numerator / denominator } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chars(text: &str) -> Vec<char> {
        text.chars().collect()
    }

    fn close(value: f64, expected: f64) {
        assert!((value - expected).abs() < 5e-5, "{value} is not {expected}");
    }

    /// Source: Soukoreff & MacKenzie CHI 2001 (distance, four alignments) and
    /// CHI 2003 (36.36 % by mean alignment size).
    #[test]
    fn quickly_qucehkly() {
        let found = alignments(&chars("quickly"), &chars("qucehkly"));
        assert_eq!(found.distance, 3);
        close(found.count, 4.0);
        close(found.mean_size, 8.25);
        close(found.error_rate(), 0.375);
        close(found.mean_alignment_error_rate(), 0.363_64);
    }

    /// Source: Soukoreff & MacKenzie CHI 2001.
    #[test]
    fn abcd_acbd() {
        assert_eq!(minimum_string_distance(&chars("abcd"), &chars("acbd")), 2);
    }

    /// Computed by hand from the definitions of CHI 2003.
    #[test]
    fn a_line_with_a_repair_and_two_errors_left() {
        // "th quix<ck brpown": x is taken back; e is left out, p too many.
        let counts = Counts::of_line(
            &chars("the quick brown"),
            &chars("th quick brpown"),
            17,
            1,
            Micros::from_secs(6),
        );
        assert_eq!(
            (counts.correct, counts.incorrect_not_fixed, counts.incorrect_fixed, counts.fixes),
            (13, 2, 1, 1)
        );
        close(counts.total_error_rate(), 0.1875);
        close(counts.uncorrected_error_rate(), 0.125);
        close(counts.corrected_error_rate(), 0.0625);
        close(counts.utilised_bandwidth().unwrap(), 0.7647);
        close(counts.keystrokes_per_character().unwrap(), 1.1333);
        close(counts.words_per_minute().unwrap(), 28.0);
        close(counts.correction_efficiency().unwrap(), 1.0);
        close(counts.conscientiousness().unwrap(), 1.0 / 3.0);
    }

    /// Computed from the definition: 42 characters after the first in 12 s.
    #[test]
    fn pangram_of_43_characters_in_12_seconds() {
        let text = chars("the quick brown fox jumps over the lazy dog");
        let counts = Counts::of_line(&text, &text, 43, 0, Micros::from_secs(12));
        close(counts.words_per_minute().unwrap(), 42.0);
        close(counts.keystrokes_per_character().unwrap(), 1.0);
        assert_eq!(counts.correction_efficiency(), None);
        assert_eq!(counts.conscientiousness(), None);
    }

    #[test]
    fn nothing_gives_no_rates() {
        let counts = Counts::default();
        assert_eq!(counts.words_per_minute(), None);
        assert_eq!(counts.accuracy(), None);
        assert_eq!(counts.keystrokes_per_character(), None);
        close(counts.total_error_rate(), 0.0);
        assert_eq!(Spread::of(&[]), None);
        close(alignments::<char>(&[], &[]).error_rate(), 0.0);
    }

    #[test]
    fn a_difference_within_the_noise_is_called_that() {
        let spread = |low: u64, median: u64, high: u64, n: usize| Spread {
            n,
            median: Micros::from_ms(median),
            quartiles: (n >= 4).then(|| (Micros::from_ms(low), Micros::from_ms(high))),
        };
        let before = spread(180, 220, 260, 40);
        assert_eq!(Change::of(&spread(110, 140, 170, 40), &before), Change::Faster);
        assert_eq!(Change::of(&spread(280, 320, 360, 40), &before), Change::Slower);
        assert_eq!(Change::of(&spread(170, 212, 250, 40), &before), Change::Unclear);
        assert_eq!(Change::of(&spread(0, 140, 0, 3), &before), Change::TooFew);
    }

    /// Reference: R's and numpy's default quantiles (type 7): of 1 2 3 4 the
    /// quartiles are 1.75 and 3.25, the median 2.5.
    #[test]
    fn quartiles_are_of_type_7() {
        let samples = [4, 1, 3, 2].map(Micros::from_ms);
        let spread = Spread::of(&samples).unwrap();
        assert_eq!(spread.median, Micros(2500));
        assert_eq!(spread.quartiles, Some((Micros(1750), Micros(3250))));
        assert_eq!(Spread::of(&samples[..3]).unwrap().quartiles, None);
        assert_eq!(spread.median_margin(), None);
    }
}
