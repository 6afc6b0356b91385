//! Power laws of practice.

/// One thing that gets easier by being done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skill {
    /// Logarithm at no practice: of ms for a key, of the ratio for a switch.
    pub base: f64,
    /// Exponent, > 0.
    pub rate: f64,
    /// Times done, as far as still felt, ≥ 0.
    pub times: f64,
    /// True for what is done all day long: it is never forgotten.
    pub everyday: bool,
}

impl Skill {
    /// `base − rate·log(times + 1)`.
    pub fn log(&self) -> f64 {
        self.base - self.rate * self.times.ln_1p()
    }

    /// A skill that stands at `log` after `times`.
    pub fn standing_at(log: f64, rate: f64, times: f64) -> Self {
        Self { base: log + rate * times.ln_1p(), rate, times, everyday: true }
    }
}

/// How often a letter comes in English, of ten thousand letters: Norvig 2013 on Google Books;
/// the first four from the source, the rest from memory.
pub(super) const LETTERS: [(char, u16); 26] = [
    ('e', 1249),
    ('t', 928),
    ('a', 804),
    ('o', 764),
    ('i', 757),
    ('n', 723),
    ('s', 651),
    ('r', 628),
    ('h', 505),
    ('l', 407),
    ('d', 382),
    ('c', 334),
    ('u', 273),
    ('m', 251),
    ('f', 240),
    ('p', 214),
    ('g', 187),
    ('w', 168),
    ('y', 166),
    ('b', 148),
    ('v', 105),
    ('k', 54),
    ('x', 23),
    ('j', 16),
    ('q', 12),
    ('z', 9),
];

/// The share of all letters that `c` has, 0 to 1; capitals a twentieth of it
/// (our own estimate), the space 0.2, everything else 0.002.
pub(super) fn share(c: char) -> f64 {
    let lower = c.to_lowercase().next().unwrap_or(c);
    let letter = LETTERS.iter().find(|(known, _)| *known == lower);
    match letter {
        Some((_, count)) if lower == c => f64::from(*count) / 1e4,
        Some((_, count)) => f64::from(*count) / 2e5,
        None if c == ' ' => 0.2,
        None => 0.002,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_make_a_whole() {
        let sum: u16 = LETTERS.iter().map(|(_, count)| count).sum();
        assert!(sum.abs_diff(10_000) < 50, "{sum}");
        assert!(share('e') > share('E') && share('E') > share('z'));
    }

    #[test]
    fn a_skill_stands_where_it_was_put_and_falls_with_practice() {
        let mut skill = Skill::standing_at(5.0, 0.11, 1000.0);
        assert!((skill.log() - 5.0).abs() < 1e-12);
        skill.times = 2001.0;
        assert!((skill.log() - (5.0 - 0.11 * (2002.0_f64 / 1001.0).ln())).abs() < 1e-12);
    }
}
