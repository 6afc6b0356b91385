//! Reads boards from TOML.
//!
//! ```toml
//! name = "split-3x5-3"
//! title = "Split, column-staggered, 3×5 and 3 thumb keys a side"
//! form = "free"                       # ansi, iso or free
//! home = "C01 C02 C03 C04"            # where fingers rest
//!
//! [[row]]
//! positions = "C01 C02 C03 C04"
//! fingers = "L5 L4 L3 L2"
//! x = 0                               # one number: keys stand side by side
//! y = [0.9, 0.25, 0, 0.25]            # one number: all the same
//! width = 1                           # 1 by default; height and rotation likewise
//! ```

use super::document::{Document, DocumentError, Nearest, Section};
use super::{Board, BoardForm, Finger, Position, Site};

/// The most keys that a board may have.
const MOST_KEYS: usize = 128;

/// What can be wrong with a board file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(transparent)]
#[non_exhaustive]
pub enum BoardError {
    /// A fault that is told with its line.
    Document(#[from] DocumentError),
}

impl Board {
    /// The board that `text` describes; `file` is its name in complaints.
    ///
    /// # Errors
    /// Names file, line, key and what was expected.
    pub fn parse(text: &str, file: &str) -> Result<Self, BoardError> {
        let document = Document { file, text };
        let parsed = document.parse()?;
        let top = Section { document, name: "the board", start: 0, table: parsed.get_ref() };
        known_keys(&top, &["name", "title", "form", "home", "row"])?;
        let (name, name_at) = top.need_text("name", "a name without blanks")?;
        if name.is_empty() || name.contains(char::is_whitespace) {
            return Err(value(&top, name_at, "name", name, "a name without blanks").into());
        }
        top.need_text("title", "a title for people")?;
        let title = top.line("title")?.unwrap_or(name);
        let (word, at) = top.need_text("form", "ansi, iso or free")?;
        let form = [BoardForm::Ansi, BoardForm::Iso, BoardForm::Free]
            .into_iter()
            .find(|form| form.word() == word)
            .ok_or_else(|| value(&top, at, "form", word, "ansi, iso or free"))?;
        let mut sites: Vec<Site> = Vec::new();
        let mut rows = Vec::new();
        for row in top.tables("row")? {
            let read = read_row(&row)?;
            rows.push(read.len());
            for site in read {
                if sites.iter().any(|other| other.position == site.position) {
                    let word = site.position.to_string();
                    return Err(
                        value(&row, row.start, "positions", &word, "each position once").into()
                    );
                }
                sites.push(site);
            }
        }
        if sites.is_empty() {
            return Err(top.missing("row", "at least one [[row]] of keys").into());
        }
        if sites.len() > MOST_KEYS {
            let count = sites.len().to_string();
            return Err(value(&top, 0, "row", &count, "at most 128 keys in all").into());
        }
        let (home, home_at) = top.need_text("home", "the positions where fingers rest")?;
        for word in home.split_ascii_whitespace() {
            let resting: Option<Position> = word.parse().ok();
            let site = sites
                .iter_mut()
                .find(|site| Some(site.position) == resting)
                .ok_or_else(|| value(&top, home_at, "home", word, "positions of the board"))?;
            site.home = true;
        }
        Ok(Self { name: name.to_owned(), title: title.to_owned(), form, sites, rows })
    }
}

fn value(
    section: &Section<'_>,
    at: usize,
    key: &str,
    found: &str,
    expected: &str,
) -> DocumentError {
    DocumentError::Value {
        place: section.document.place(at),
        key: key.to_owned(),
        value: found.to_owned(),
        expected: expected.to_owned(),
        nearest: Nearest::default(),
    }
}

/// Boards are data of ours: a key that nobody reads is a mistake.
fn known_keys(section: &Section<'_>, known: &[&str]) -> Result<(), DocumentError> {
    for key in section.table.keys() {
        let word = key.get_ref().as_ref();
        if !known.contains(&word) {
            return Err(DocumentError::Value {
                place: section.document.place(key.span().start),
                key: "key".to_owned(),
                value: word.to_owned(),
                expected: known.join(", "),
                nearest: Nearest::of(word, known.iter().copied()),
            });
        }
    }
    Ok(())
}

fn read_row(row: &Section<'_>) -> Result<Vec<Site>, DocumentError> {
    known_keys(row, &["positions", "fingers", "x", "y", "width", "height", "rotation"])?;
    let (words, at) = row.need_text("positions", "names such as C01 C02")?;
    let positions = words
        .split_ascii_whitespace()
        .map(|word| {
            word.parse::<Position>()
                .map_err(|error| value(row, at, "positions", word, &error.to_string()))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let (words, fingers_at) = row.need_text("fingers", "one finger a position, as in L5 R1")?;
    let fingers = words
        .split_ascii_whitespace()
        .map(|word| {
            word.parse::<Finger>()
                .map_err(|error| value(row, fingers_at, "fingers", word, &error.to_string()))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let count = positions.len();
    let counted = |at: usize, key: &str, found: usize| {
        value(row, at, key, &format!("{found} values"), &format!("{count}, one a position"))
    };
    if count == 0 {
        return Err(value(row, at, "positions", "", "at least one position"));
    }
    if fingers.len() != count {
        return Err(counted(fingers_at, "fingers", fingers.len()));
    }
    let series = |key: &'static str, default: f32, above: f32| {
        let Some((numbers, at)) = row.numbers(key)? else { return Ok(vec![default; count]) };
        let numbers = if let [one] = numbers[..] { vec![one; count] } else { numbers };
        if numbers.len() != count {
            return Err(counted(at, key, numbers.len()));
        }
        match numbers.iter().find(|number| **number <= above || **number > 100.0) {
            Some(bad) => {
                Err(value(row, at, key, &bad.to_string(), "a number in range, in key units"))
            }
            None => Ok(numbers),
        }
    };
    let width = series("width", 1.0, 0.0)?;
    let height = series("height", 1.0, 0.0)?;
    let rotation = series("rotation", 0.0, -100.0)?;
    let y = series("y", 0.0, -100.0)?;
    let mut x = series("x", 0.0, -100.0)?;
    if row.numbers("x")?.is_none_or(|(numbers, _)| numbers.len() == 1) {
        let mut edge = x[0];
        for (x, width) in x.iter_mut().zip(&width) {
            *x = edge;
            edge += width;
        }
    }
    Ok((0..count)
        .map(|i| Site {
            position: positions[i],
            x: x[i],
            y: y[i],
            width: width[i],
            height: height[i],
            rotation_deg: rotation[i],
            finger: fingers[i],
            home: false,
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = "name = 'small'\ntitle = 'Small'\nform = 'free'\nhome = 'C01 LT1'\n\
        [[row]]\npositions = 'C01 C02'\nfingers = 'L5 L4'\nx = 1\nwidth = [1.5, 1]\n\
        [[row]]\npositions = 'LT1'\nfingers = 'L1'\nx = 3\ny = 1\nrotation = 15\n";

    #[test]
    fn keys_of_a_row_stand_side_by_side() {
        let board = Board::parse(SMALL, "small.toml").unwrap();
        assert_eq!(board.rows, [2, 1]);
        let xs: Vec<f32> = board.sites.iter().map(|site| site.x).collect();
        assert_eq!(xs, [1.0, 2.5, 3.0]);
        assert!(board.sites[0].home && !board.sites[1].home && board.sites[2].home);
    }

    #[test]
    fn faults_name_file_line_and_expectation() {
        for (from, to, told) in [
            ("'L5 L4'", "'L5'", "small.toml:7: fingers = '1 values': expected 2, one a position"),
            (
                "form = 'free'",
                "form = 'fre'",
                "small.toml:3: form = 'fre': expected ansi, iso or free",
            ),
            ("width", "widht", "small.toml:9: key = 'widht'"),
            ("C01 LT1", "C09", "small.toml:4: home = 'C09': expected positions of the board"),
            ("[1.5, 1]", "[1.5, 0]", "small.toml:9: width = '0'"),
            ("C01 C02", "C01 C01", "expected each position once"),
            ("'small'", "small", "small.toml:1: not valid TOML"),
        ] {
            assert!(SMALL.contains(from));
            let error = Board::parse(&SMALL.replacen(from, to, 1), "small.toml").unwrap_err();
            assert!(error.to_string().contains(told), "{error}");
        }
    }
}
