//! Plain tables: a heading, rows, two blanks between columns.

use unicode_width::UnicodeWidthStr;

/// A table of texts.
#[derive(Debug, Clone)]
pub struct Table {
    /// The heading of each column; one that begins with `<` is set to the left.
    heads: Vec<&'static str>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// One without rows. Columns are set to the right, those whose heading
    /// begins with `<` to the left.
    pub fn new(heads: &[&'static str]) -> Self {
        Self { heads: heads.to_vec(), rows: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// True without rows.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The heading and the rows, indented by two.
    pub fn lines(&self) -> Vec<String> {
        let names: Vec<String> =
            self.heads.iter().map(|head| head.trim_start_matches('<').to_owned()).collect();
        let widths: Vec<usize> = (0..names.len())
            .map(|n| {
                let cells = self.rows.iter().filter_map(|row| row.get(n));
                cells.chain([&names[n]]).map(|cell| cell.width()).max().unwrap_or(0)
            })
            .collect();
        let line = |cells: &[String]| {
            let mut text = String::new();
            for (n, cell) in cells.iter().enumerate().take(names.len()) {
                let pad = " ".repeat(widths[n].saturating_sub(cell.width()));
                let left = self.heads[n].starts_with('<');
                text.push_str("  ");
                for part in if left { [cell, &pad] } else { [&pad, cell] } {
                    text.push_str(part);
                }
            }
            text.trim_end().to_owned()
        };
        std::iter::once(line(&names)).chain(self.rows.iter().map(|row| line(row))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_by_width_not_by_bytes() {
        let mut table = Table::new(&["<key", "n", "<word"]);
        table.row(vec!["漢".into(), "7".into(), "a".into()]);
        table.row(vec!["ä".into(), "1200".into(), String::new()]);
        assert_eq!(table.lines(), ["  key     n  word", "  漢      7  a", "  ä    1200"]);
    }
}
