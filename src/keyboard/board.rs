//! The geometry of a physical keyboard.

use super::{Digit, Finger, Position, Row};

/// Which places the ambiguous key codes of a board stand for.
///
/// One key code, `Backslash`, lies at D13 on ANSI boards and at C12 on ISO
/// boards; only the form tells which.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BoardForm {
    /// One-row Enter, no key left of B01.
    Ansi,
    /// Two-row Enter, an extra key B00.
    Iso,
    /// Neither: split and orthogonal boards.
    Free,
}

impl BoardForm {
    /// The word used in board files.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ansi => "ansi",
            Self::Iso => "iso",
            Self::Free => "free",
        }
    }
}

/// One physical key: where it is and which finger strikes it.
///
/// Lengths are in key units of 19.05 mm (industry convention; ISO 9241-4 asks
/// 19 ± 1 mm between centres). The origin is the board's upper left corner,
/// `y` grows downward.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// The key's name.
    pub position: Position,
    /// Left edge, key units.
    pub x: f32,
    /// Upper edge, key units.
    pub y: f32,
    /// Width, key units, > 0.
    pub width: f32,
    /// Height, key units, > 0.
    pub height: f32,
    /// Clockwise rotation about the key's centre, degrees.
    pub rotation_deg: f32,
    /// The finger that strikes it in touch typing.
    pub finger: Finger,
    /// True where that finger rests.
    pub home: bool,
}

impl Site {
    /// The centre of the key, key units.
    pub fn centre(&self) -> (f32, f32) {
        (self.x + self.width / 2.0, self.y + self.height / 2.0)
    }
}

/// A physical keyboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    /// The name that layout files refer to.
    pub name: String,
    /// A title for people.
    pub title: String,
    /// Which places ambiguous key codes stand for.
    pub form: BoardForm,
    /// The keys in reading order, row by row as files write them.
    pub sites: Vec<Site>,
    /// How many keys each written row has; the sum is `sites.len()`.
    pub rows: Vec<usize>,
}

impl Board {
    /// The index in `sites` of `position`, if the board has it.
    pub fn index_of(&self, position: Position) -> Option<usize> {
        self.sites.iter().position(|site| site.position == position)
    }

    /// The key at `position`, if the board has it.
    pub fn site(&self, position: Position) -> Option<&Site> {
        self.index_of(position).map(|index| &self.sites[index])
    }

    /// The resting place of `finger`, if the board marks one.
    pub fn home_of(&self, finger: Finger) -> Option<&Site> {
        self.sites.iter().find(|site| site.home && site.finger == finger)
    }

    /// How far `finger` travels from its rest to `site`, key units, ≥ 0.
    /// Thumbs that share one bar share its resting place. Zero for a finger
    /// without any.
    pub fn travel(&self, finger: Finger, site: &Site) -> f32 {
        let shared = || {
            let other = Finger::new(finger.hand.other(), Digit::Thumb);
            (finger.digit == Digit::Thumb).then(|| self.home_of(other)).flatten()
        };
        let Some(home) = self.home_of(finger).or_else(shared) else { return 0.0 };
        if home.position == site.position {
            return 0.0;
        }
        let (hx, hy) = home.centre();
        // A wide key is struck at its nearest place that is one unit wide.
        let nearest = |from: f32, start: f32, size: f32| {
            let inset = (size / 2.0).min(0.5);
            from.clamp(start + inset, (start + size - inset).max(start + inset))
        };
        let x = nearest(hx, site.x, site.width);
        let y = nearest(hy, site.y, site.height);
        (x - hx).hypot(y - hy)
    }

    /// True for keys of the home block, which hands strike without leaving
    /// home: rows B to D of columns 01 to 10, every thumb key, and the keys of
    /// the space bar's row that a thumb strikes.
    pub fn in_home_block(&self, site: &Site) -> bool {
        match site.position {
            Position::Thumb { .. } => true,
            Position::Main { row: Row::A, .. } => site.finger.digit == Digit::Thumb,
            Position::Main { row, column } => {
                matches!(row, Row::B | Row::C | Row::D) && (1..=10).contains(&column)
            }
        }
    }
}
