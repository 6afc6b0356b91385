//! Boards that a name describes: split boards and grids of any usual size.
//!
//! `split-4x6-5` is a split board with 4 rows of 6 keys and 5 thumb keys a
//! side; `ortho-5x12` a grid of 5 rows of 12. Their geometry is made here, so
//! that a person can draw a board by counting its keys.

use super::{Board, BoardForm, Digit, Finger, Hand, Position, Row, Site};
use std::fmt;
use std::str::FromStr;

/// What a person counts on a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shape {
    /// Two halves with columns staggered by finger length, and thumb keys.
    Split {
        /// Rows of a half, see [`Shape::ROWS`].
        rows: u8,
        /// Columns of a half, see [`Shape::COLUMNS`].
        columns: u8,
        /// Thumb keys of a half, see [`Shape::THUMBS`].
        thumbs: u8,
    },
    /// One block of keys in straight rows and columns; the six middle keys of
    /// the lowest row belong to the thumbs.
    Grid {
        /// Rows, see [`Shape::GRID_ROWS`].
        rows: u8,
        /// Columns, see [`Shape::GRID_COLUMNS`].
        columns: u8,
    },
}

/// How far each column of a half lies below the middle finger's, key units,
/// from column 00 to 05. Our own, as on the boards that ship (no source).
const STAGGER: [f32; 6] = [0.7, 0.6, 0.2, 0.0, 0.2, 0.35];
/// How far the thumb keys lie below the last row, from the innermost out.
const THUMB_DROP: [f32; 3] = [0.8, 0.4, 0.3];
/// Their turn, degrees, left hand.
const THUMB_TURN: [f32; 3] = [24.0, 12.0, 0.0];
/// Rows from the uppermost down.
const ROWS: [Row; 5] = [Row::E, Row::D, Row::C, Row::B, Row::A];

impl Shape {
    /// The rows that a half can have: 3 are rows D to B, the fourth is E, the
    /// fifth A.
    pub const ROWS: std::ops::RangeInclusive<u8> = 3..=5;
    /// The columns that a half can have: 4 leave out 05 and 06, 6 add 00 and 11.
    pub const COLUMNS: std::ops::RangeInclusive<u8> = 4..=6;
    /// The thumb keys that a half can have.
    pub const THUMBS: std::ops::RangeInclusive<u8> = 1..=6;
    /// The rows that a grid can have: D to A, and E.
    pub const GRID_ROWS: std::ops::RangeInclusive<u8> = 4..=5;
    /// The columns that a grid can have, an even number.
    pub const GRID_COLUMNS: std::ops::RangeInclusive<u8> = 10..=12;

    /// True where every count is one that a board can have.
    pub fn is_usual(self) -> bool {
        match self {
            Self::Split { rows, columns, thumbs } => {
                Self::ROWS.contains(&rows)
                    && Self::COLUMNS.contains(&columns)
                    && Self::THUMBS.contains(&thumbs)
            }
            Self::Grid { rows, columns } => {
                Self::GRID_ROWS.contains(&rows)
                    && Self::GRID_COLUMNS.contains(&columns)
                    && columns % 2 == 0
            }
        }
    }

    /// The board, drawn.
    pub fn board(self) -> Board {
        match self {
            Self::Split { rows, columns, thumbs } => split(self, rows, columns, thumbs),
            Self::Grid { rows, columns } => grid(self, rows, columns),
        }
    }
}

impl fmt::Display for Shape {
    /// The name that layout files use.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Split { rows, columns, thumbs } => write!(f, "split-{rows}x{columns}-{thumbs}"),
            Self::Grid { rows, columns } => write!(f, "ortho-{rows}x{columns}"),
        }
    }
}

/// A text that describes no board.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' describes no board: expected split-RxC-T with 3 to 5 rows, 4 to 6 columns and 1 to 6 \
     thumb keys a side, or ortho-RxC with 4 or 5 rows and 10 or 12 columns"
)]
pub struct ParseShapeError(pub String);

impl FromStr for Shape {
    type Err = ParseShapeError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        let digit = |word: &str| word.parse::<u8>().ok();
        let read = || {
            let (kind, counts) = s.split_once('-')?;
            let (rows, rest) = counts.split_once('x')?;
            match kind {
                "split" => {
                    let (columns, thumbs) = rest.split_once('-')?;
                    Some(Self::Split {
                        rows: digit(rows)?,
                        columns: digit(columns)?,
                        thumbs: digit(thumbs)?,
                    })
                }
                "ortho" => Some(Self::Grid { rows: digit(rows)?, columns: digit(rest)? }),
                _ => None,
            }
        };
        read()
            .filter(|shape| shape.is_usual() && shape.to_string() == s)
            .ok_or_else(|| ParseShapeError(s.to_owned()))
    }
}

/// The finger of a column in touch typing (common practice, no source).
const fn finger_of(column: u8) -> Finger {
    match column {
        0 | 1 => Finger::new(Hand::Left, Digit::Little),
        2 => Finger::new(Hand::Left, Digit::Ring),
        3 => Finger::new(Hand::Left, Digit::Middle),
        4 | 5 => Finger::new(Hand::Left, Digit::Index),
        6 | 7 => Finger::new(Hand::Right, Digit::Index),
        8 => Finger::new(Hand::Right, Digit::Middle),
        9 => Finger::new(Hand::Right, Digit::Ring),
        _ => Finger::new(Hand::Right, Digit::Little),
    }
}

const fn rests(row: Row, column: u8) -> bool {
    matches!(row, Row::C) && matches!(column, 1..=4 | 7..=10)
}

/// The columns of a half, from the left.
fn columns_of(hand: Hand, columns: u8) -> std::ops::Range<u8> {
    let left = match columns {
        6 => 0..6,
        5 => 1..6,
        _ => 1..5,
    };
    match hand {
        Hand::Left => left,
        Hand::Right => 11 - (left.end - 1)..12 - left.start,
    }
}

fn unit_site(position: Position, x: f32, y: f32, finger: Finger, home: bool) -> Site {
    Site { position, x, y, width: 1.0, height: 1.0, rotation_deg: 0.0, finger, home }
}

fn split(shape: Shape, rows: u8, columns: u8, thumbs: u8) -> Board {
    let first = usize::from(rows == 3);
    let (mut sites, mut counts) = (Vec::new(), Vec::new());
    for (n, &row) in ROWS.iter().skip(first).take(usize::from(rows)).enumerate() {
        for (hand, edge) in [(Hand::Left, 0), (Hand::Right, columns + 3)] {
            for (place, column) in columns_of(hand, columns).enumerate() {
                let twin = usize::from(if hand == Hand::Left { column } else { 11 - column });
                sites.push(unit_site(
                    Position::main(row, column),
                    f32::from(edge) + place as f32,
                    n as f32 + STAGGER[twin],
                    finger_of(column),
                    rests(row, column),
                ));
            }
        }
        counts.push(usize::from(columns) * 2);
    }
    // In arcs of three, turned toward the hands; more keys lie below them.
    let resting = thumbs.min(2);
    for arc in 0..thumbs.div_ceil(3) {
        let indices: Vec<u8> = (arc * 3 + 1..=thumbs.min(arc * 3 + 3)).collect();
        let left = indices.iter().rev().map(|index| (Hand::Left, *index));
        let right = indices.iter().map(|index| (Hand::Right, *index));
        for (hand, index) in left.chain(right) {
            let step = usize::from((index - 1) % 3);
            let (x, turn) = match hand {
                Hand::Left => (f32::from(columns) - step as f32, THUMB_TURN[step]),
                Hand::Right => (f32::from(columns) + 2.0 + step as f32, -THUMB_TURN[step]),
            };
            let y = f32::from(rows) + THUMB_DROP[step] + 1.1 * f32::from(arc);
            let finger = Finger::new(hand, Digit::Thumb);
            let site = unit_site(Position::thumb(hand, index), x, y, finger, index == resting);
            // No -0: it would be written.
            let rotation_deg = if turn == 0.0 { 0.0 } else { turn };
            sites.push(Site { rotation_deg, ..site });
        }
        counts.push(indices.len() * 2);
    }
    let keys = if thumbs == 1 { "thumb key" } else { "thumb keys" };
    Board {
        name: shape.to_string(),
        title: format!("Split, column-staggered, {rows}×{columns} and {thumbs} {keys} a side"),
        form: BoardForm::Free,
        sites,
        rows: counts,
    }
}

fn grid(shape: Shape, rows: u8, columns: u8) -> Board {
    let first = ROWS.len() - usize::from(rows);
    let start = u8::from(columns != 12);
    let mut sites = Vec::new();
    for (n, &row) in ROWS.iter().skip(first).enumerate() {
        for place in 0..columns {
            let column = start + place;
            let finger = match (row, column) {
                (Row::A, 3..=5) => Finger::new(Hand::Left, Digit::Thumb),
                (Row::A, 6..=8) => Finger::new(Hand::Right, Digit::Thumb),
                _ => finger_of(column),
            };
            let home = rests(row, column) || (row == Row::A && (column == 5 || column == 6));
            let position = Position::main(row, column);
            sites.push(unit_site(position, f32::from(place), n as f32, finger, home));
        }
    }
    Board {
        name: shape.to_string(),
        title: format!("Orthogonal, {rows}×{columns}"),
        form: BoardForm::Free,
        sites,
        rows: vec![usize::from(columns); usize::from(rows)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> impl Iterator<Item = Shape> {
        let split = Shape::ROWS.flat_map(|rows| {
            Shape::COLUMNS.flat_map(move |columns| {
                Shape::THUMBS.map(move |thumbs| Shape::Split { rows, columns, thumbs })
            })
        });
        let grid = Shape::GRID_ROWS
            .flat_map(|rows| [10, 12].map(move |columns| Shape::Grid { rows, columns }));
        split.chain(grid)
    }

    #[test]
    fn names_read_back_and_others_are_refused() {
        for shape in all() {
            assert_eq!(shape.to_string().parse(), Ok(shape));
        }
        for text in [
            "",
            "split",
            "split-3x5",
            "split-2x5-3",
            "split-3x5-0",
            "split-03x5-3",
            "split-3x7-3",
            "ortho-4x11",
            "ortho-3x12",
            "ortho-4x12-3",
            "grid-4x12",
        ] {
            assert!(text.parse::<Shape>().is_err(), "{text}");
        }
    }

    #[test]
    fn every_described_board_is_whole() {
        for shape in all() {
            let board = shape.board();
            assert_eq!(board.rows.iter().sum::<usize>(), board.sites.len(), "{shape}");
            for (n, site) in board.sites.iter().enumerate() {
                assert_eq!(board.index_of(site.position), Some(n), "{shape}: {}", site.position);
                for other in &board.sites[..n] {
                    let (dx, dy) = ((site.x - other.x).abs(), (site.y - other.y).abs());
                    // Turned thumb keys may come a little closer.
                    let near = dx < 0.9 && dy < 0.9;
                    assert!(!near, "{shape}: {} on {}", site.position, other.position);
                }
            }
            let home = board.sites.iter().filter(|site| site.home).count();
            assert_eq!(home, 10, "{shape}");
        }
    }
}
