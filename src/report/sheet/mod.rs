//! The printed sheet of a layout's layers: one page, vector, black on white.
//!
//! [`page::lay_out`] decides what stands where; [`svg`] and [`pdf`] write the
//! same marks. Text is drawn as outlines, so that it prints everywhere.

mod draw;
mod font;
mod key;
pub mod learner;
mod page;
pub mod pdf;
pub mod svg;

pub use draw::{Group, Mark, Page, Seg, Stroke};
pub use page::lay_out;

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    A4,
    /// 8.5 × 11 inches, 215.9 × 279.4 mm (ANSI/ASME Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height when upright, mm.
    pub const fn size_mm(self) -> (f32, f32) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}
