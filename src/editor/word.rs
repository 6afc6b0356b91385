//! Where words begin and end.

use unicode_segmentation::UnicodeSegmentation;

/// The starts and ends of the words of `line`, in bytes.
///
/// A word is a segment between two word boundaries of UAX #29 (Unicode Text
/// Segmentation, default rules) that holds a letter or a number of any script,
/// or an underscore: blanks, punctuation and signs are no words, and a word
/// step passes over them. `tide_level` and `don't` are one word each, `-1.9`
/// has one word, `1.9`.
pub(super) fn edges(line: &str) -> impl Iterator<Item = (usize, usize)> {
    line.split_word_bound_indices()
        .filter(|(_, segment)| segment.chars().any(|c| c.is_alphanumeric() || c == '_'))
        .map(|(start, segment)| (start, start + segment.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(line: &str) -> Vec<&str> {
        edges(line).map(|(start, end)| &line[start..end]).collect()
    }

    /// The examples of UAX #29, figure 1 and section 4 (from memory), and the
    /// program lines that its rules decide.
    #[test]
    fn words_are_those_of_the_standard() {
        let quick = "The quick (\u{201C}brown\u{201D}) fox can\u{2019}t jump 32.3 feet, right?";
        assert_eq!(
            words(quick),
            ["The", "quick", "brown", "fox", "can\u{2019}t", "jump", "32.3", "feet", "right"]
        );
        assert_eq!(words("let tide_level = -1.9;"), ["let", "tide_level", "1.9"]);
        assert_eq!(words("  ... "), Vec::<&str>::new());
    }
}
