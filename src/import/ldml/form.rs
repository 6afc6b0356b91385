//! Which key the n-th of a row is.
//!
//! Source: UTS #35 part 7, element `layers`, attribute `formId`, and the scan
//! codes of the implied forms there; a scan code below 0x60 is the Linux evdev
//! code of the same key (PC set 1), 0x73 is IntlRo, 0x7D IntlYen.

use crate::keyboard::codes::{self, CodeName};
use crate::keyboard::{BoardForm, Position};

/// The rows of scan codes of a form, and which board has it.
pub struct Form {
    /// Its `formId`.
    pub id: &'static str,
    /// The board's form.
    pub board: BoardForm,
    rows: [&'static [(u16, u16)]; 5],
}

const SPACE: &[(u16, u16)] = &[(0x39, 0x39)];

/// The forms, each row as runs of scan codes, both ends included.
const FORMS: &[Form] = &[
    Form {
        id: "us",
        board: BoardForm::Ansi,
        rows: [
            &[(0x29, 0x29), (0x02, 0x0D)],
            &[(0x10, 0x1B), (0x2B, 0x2B)],
            &[(0x1E, 0x28)],
            &[(0x2C, 0x35)],
            SPACE,
        ],
    },
    Form {
        id: "iso",
        board: BoardForm::Iso,
        rows: [
            &[(0x29, 0x29), (0x02, 0x0D)],
            &[(0x10, 0x1B)],
            &[(0x1E, 0x28), (0x2B, 0x2B)],
            &[(0x56, 0x56), (0x2C, 0x35)],
            SPACE,
        ],
    },
    Form {
        id: "abnt2",
        board: BoardForm::Iso,
        rows: [
            &[(0x29, 0x29), (0x02, 0x0D)],
            &[(0x10, 0x1B)],
            &[(0x1E, 0x28), (0x2B, 0x2B)],
            &[(0x56, 0x56), (0x2C, 0x35), (0x73, 0x73)],
            SPACE,
        ],
    },
    Form {
        id: "jis",
        board: BoardForm::Iso,
        rows: [
            &[(0x29, 0x29), (0x02, 0x0D), (0x7D, 0x7D)],
            &[(0x10, 0x1B)],
            &[(0x1E, 0x28), (0x2B, 0x2B)],
            &[(0x2C, 0x35), (0x73, 0x73)],
            SPACE,
        ],
    },
    Form {
        id: "ks",
        board: BoardForm::Ansi,
        rows: [
            &[(0x29, 0x29), (0x02, 0x0D), (0x2B, 0x2B)],
            &[(0x10, 0x1B)],
            &[(0x1E, 0x28)],
            &[(0x2C, 0x35)],
            SPACE,
        ],
    },
];

impl Form {
    /// The form with this `formId`.
    pub fn named(id: &str) -> Option<&'static Self> {
        FORMS.iter().find(|form| form.id == id)
    }

    /// The known `formId`s.
    pub fn ids() -> impl Iterator<Item = &'static str> {
        FORMS.iter().map(|form| form.id)
    }

    /// The keys of row `number`, from 0; empty beyond the last.
    pub fn row(&self, number: usize) -> Vec<Option<Position>> {
        let runs = self.rows.get(number).copied().unwrap_or_default();
        let codes = runs.iter().flat_map(|(first, last)| *first..=*last);
        codes.map(|code| self.position(code)).collect()
    }

    fn position(&self, scan: u16) -> Option<Position> {
        let evdev = match scan {
            0x73 => CodeName::Code("IntlRo"),
            0x7D => CodeName::Code("IntlYen"),
            code => CodeName::Evdev(code),
        };
        codes::position(evdev, self.board)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rows_begin_and_end_where_the_boards_do() {
        for (id, row, length, first, last) in [
            ("us", 0, 13, "E00", "E12"),
            ("us", 1, 13, "D01", "D13"),
            ("us", 2, 11, "C01", "C11"),
            ("us", 3, 10, "B01", "B10"),
            ("us", 4, 1, "A03", "A03"),
            ("iso", 1, 12, "D01", "D12"),
            ("iso", 2, 12, "C01", "C12"),
            ("iso", 3, 11, "B00", "B10"),
            ("abnt2", 3, 12, "B00", "B11"),
            ("jis", 0, 14, "E00", "E13"),
            ("jis", 3, 11, "B01", "B11"),
            ("ks", 0, 14, "E00", "D13"),
        ] {
            let keys = Form::named(id).unwrap().row(row);
            let name = |key: Option<&Option<Position>>| key.unwrap().unwrap().to_string();
            let found = (keys.len(), name(keys.first()), name(keys.last()));
            assert_eq!(found, (length, first.to_owned(), last.to_owned()), "{id} row {row}");
        }
        assert!(Form::named("us").unwrap().row(5).is_empty());
    }
}
