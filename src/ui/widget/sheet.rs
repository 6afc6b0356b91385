//! A sheet of cells to draw boxes on.

use ratatui::style::Style;
use std::borrow::Cow;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// A key's frame in cells, edges included.
#[derive(Debug, Clone, Copy)]
pub struct Frame {
    /// Column of its left edge.
    pub left: usize,
    /// Column of its right edge.
    pub right: usize,
    /// Row of its upper edge.
    pub top: usize,
    /// Row of its lower edge.
    pub bottom: usize,
}

/// A drawing that grows as it is drawn on; cells are (symbol, style).
pub struct Sheet {
    /// How wide it is.
    pub columns: usize,
    /// How high it is.
    pub rows: usize,
    /// Row by row; the cell after a wide character is empty.
    pub cells: Vec<(Cow<'static, str>, Style)>,
}

impl Sheet {
    /// A blank one.
    pub fn new(columns: usize, rows: usize) -> Self {
        Self { columns, rows, cells: vec![(Cow::Borrowed(" "), Style::new()); columns * rows] }
    }

    /// Sets one cell; outside of the sheet nothing happens.
    pub fn put(
        &mut self,
        column: usize,
        row: usize,
        symbol: impl Into<Cow<'static, str>>,
        style: Style,
    ) {
        if column < self.columns
            && row < self.rows
            && let Some(cell) = self.cells.get_mut(row * self.columns + column)
        {
            *cell = (symbol.into(), style);
        }
    }

    /// Writes `text`; a wide character takes two cells, the second empty.
    pub fn write(&mut self, column: usize, row: usize, text: &str, style: Style) {
        let mut at = column;
        for grapheme in text.graphemes(true) {
            self.put(at, row, grapheme.to_owned(), style);
            for covered in 1..grapheme.width() {
                self.put(at + covered, row, "", style);
            }
            at += grapheme.width();
        }
    }

    /// Draws boxes that share edges: where edges meet, they join.
    pub fn boxes(&mut self, frames: &[Frame], unicode: bool, style: Style) {
        let mut edges = vec![0_u8; self.columns * self.rows];
        for frame in frames {
            let mut add = |column: usize, row: usize, bits: u8| {
                if let Some(cell) = edges.get_mut(row * self.columns + column) {
                    *cell |= bits;
                }
            };
            for row in [frame.top, frame.bottom] {
                add(frame.left, row, RIGHT);
                (frame.left + 1..frame.right).for_each(|column| add(column, row, LEFT | RIGHT));
                add(frame.right, row, LEFT);
            }
            for column in [frame.left, frame.right] {
                add(column, frame.top, DOWN);
                (frame.top + 1..frame.bottom).for_each(|row| add(column, row, UP | DOWN));
                add(column, frame.bottom, UP);
            }
        }
        for (at, bits) in edges.into_iter().enumerate().filter(|(_, bits)| *bits != 0) {
            self.put(at % self.columns, at / self.columns, joint(bits, unicode), style);
        }
    }

    /// Draws one box over what is there.
    pub fn frame(&mut self, frame: Frame, strokes: &Strokes, style: Style) {
        for column in frame.left + 1..frame.right {
            self.put(column, frame.top, strokes[4], style);
            self.put(column, frame.bottom, strokes[4], style);
        }
        for row in frame.top + 1..frame.bottom {
            self.put(frame.left, row, strokes[5], style);
            self.put(frame.right, row, strokes[5], style);
        }
        self.put(frame.left, frame.top, strokes[0], style);
        self.put(frame.right, frame.top, strokes[1], style);
        self.put(frame.right, frame.bottom, strokes[2], style);
        self.put(frame.left, frame.bottom, strokes[3], style);
    }
}

/// The edges that meet in a cell.
const UP: u8 = 1;
const DOWN: u8 = 2;
const LEFT: u8 = 4;
const RIGHT: u8 = 8;

const fn joint(edges: u8, unicode: bool) -> &'static str {
    const VERTICAL: u8 = UP | DOWN;
    const HORIZONTAL: u8 = LEFT | RIGHT;
    if !unicode {
        return match edges {
            0 => " ",
            UP | DOWN | VERTICAL => "|",
            LEFT | RIGHT | HORIZONTAL => "-",
            _ => "+",
        };
    }
    match edges {
        0 => " ",
        UP | DOWN | VERTICAL => "│",
        LEFT | RIGHT | HORIZONTAL => "─",
        5 => "╯",
        6 => "╮",
        7 => "┤",
        9 => "╰",
        10 => "╭",
        11 => "├",
        13 => "┴",
        14 => "┬",
        _ => "┼",
    }
}

/// A frame's strokes: corners from the upper left clockwise, across, down.
pub type Strokes = [&'static str; 6];
/// A heavy frame.
pub const HEAVY: Strokes = ["┏", "┓", "┛", "┗", "━", "┃"];
/// A double frame.
pub const DOUBLE: Strokes = ["╔", "╗", "╝", "╚", "═", "║"];
/// A heavy frame in ASCII.
pub const HEAVY_ASCII: Strokes = ["#", "#", "#", "#", "#", "#"];
/// A double frame in ASCII.
pub const DOUBLE_ASCII: Strokes = ["*", "*", "*", "*", "*", "*"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shared_edges_join_and_nothing_leaves_the_sheet() {
        let mut sheet = Sheet::new(7, 5);
        let at = |left, top| Frame { left, right: left + 3, top, bottom: top + 2 };
        sheet.boxes(&[at(0, 0), at(3, 0), at(1, 2), at(90, 90)], true, Style::new());
        sheet.write(5, 1, "海海", Style::new());
        let rows: Vec<String> = sheet
            .cells
            .chunks(7)
            .map(|row| row.iter().map(|(symbol, _)| symbol.as_ref()).collect())
            .collect();
        assert_eq!(rows, ["╭──┬──╮", "│  │ 海", "╰┬─┴┬─╯", " │  │  ", " ╰──╯  "]);
    }
}
