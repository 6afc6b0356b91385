//! Symbols that belong together.

/// What belongs together, and best lies under one finger (common practice of
/// prose and code, no source).
pub const FAMILIES: &[(&str, &str)] = &[
    ("opening brackets", "([{"),
    ("closing brackets", ")]}"),
    ("comparisons", "<=>"),
    ("quotes", "\"'`"),
    ("stops", ".,:;"),
    ("dashes", "-–—"),
    ("signs of sums", "+-*"),
    ("logic", "&|^"),
    ("slashes", "/\\"),
];

/// The families that `c` is in, by their place in [`FAMILIES`].
pub fn families_of(c: char) -> impl Iterator<Item = usize> {
    let all = FAMILIES.iter().enumerate();
    all.filter(move |(_, (_, members))| members.contains(c)).map(|(place, _)| place)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_symbol_may_belong_to_more_than_one_family() {
        assert_eq!(families_of('-').count(), 2);
        assert_eq!(families_of('x').count(), 0);
        assert_eq!(families_of('[').map(|place| FAMILIES[place].1).collect::<String>(), "([{");
    }
}
