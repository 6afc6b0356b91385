//! Lines of outputs.

use super::glyph::line_width;
use crate::keyboard::Output;

/// `items` in lines of at most `width` columns, broken at spaces (which go),
/// otherwise where the line is full; blanks at the ends go.
pub(super) fn wrapped(items: &[Output], width: usize) -> Vec<Vec<Output>> {
    wrapped_at(items, width, true)
}

/// The same, with the blanks at the ends kept.
pub(super) fn wrapped_as_is(items: &[Output], width: usize) -> Vec<Vec<Output>> {
    wrapped_at(items, width, false)
}

fn wrapped_at(items: &[Output], width: usize, trim: bool) -> Vec<Vec<Output>> {
    let space = Output::char(' ');
    let mut lines = Vec::new();
    let mut start = 0;
    while start < items.len() {
        let mut end = start;
        let mut used = 0;
        while let Some(item) = items.get(end) {
            used += line_width(std::slice::from_ref(item), false);
            if used > width && end > start {
                break;
            }
            end += 1;
        }
        let mut next = end;
        if end < items.len() {
            let line = &items[start..=end];
            if let Some(at) = line.iter().rposition(|item| *item == space)
                && line[..at].iter().any(|item| *item != space)
            {
                (end, next) = (start + at, start + at + 1);
            }
        }
        let mut line = &items[start..end];
        if trim {
            while let Some((last, rest)) = line.split_last()
                && *last == space
            {
                line = rest;
            }
            while let Some((first, rest)) = line.split_first()
                && *first == space
            {
                line = rest;
            }
        }
        if !line.is_empty() {
            lines.push(line.to_vec());
        }
        start = next;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(text: &str) -> Vec<Output> {
        text.chars().map(Output::char).collect()
    }

    fn lines(text: &str, width: usize) -> Vec<String> {
        let lines = wrapped(&items(text), width);
        lines.iter().map(|line| line.iter().filter_map(Output::as_char).collect()).collect()
    }

    #[test]
    fn lines_break_at_blanks() {
        assert_eq!(lines("the tide turns", 9), ["the tide", "turns"]);
        assert_eq!(lines("the tide turns", 8), ["the tide", "turns"]);
        assert_eq!(lines("the tide turns", 7), ["the", "tide", "turns"]);
        assert_eq!(lines("lighthouse", 4), ["ligh", "thou", "se"]);
        assert_eq!(lines("  a  ", 4), ["a"]);
        assert_eq!(lines("     ", 4), Vec::<String>::new());
        assert_eq!(lines("", 4), Vec::<String>::new());
    }
}
