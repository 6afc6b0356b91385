//! Layouts from open standards.

mod hostile;
mod ldml;
mod xkb;

use etude::import::{Outcome, Sheets};
use etude::keyboard::Output;
use etude::layout::{RouteTable, file, shipped};

/// The sheets on a board; what is written reads back the same.
fn laid(sheets: &Sheets, board: &str) -> Outcome {
    let outcome = sheets.lay_on(&shipped::board(board).unwrap()).unwrap();
    let text = file::write(&outcome.layout);
    let again = file::read(&text, "again.toml").unwrap_or_else(|e| panic!("{e}\n{text}"));
    assert_eq!(again.layout, outcome.layout);
    assert_eq!(again.warnings, []);
    outcome
}

/// The preferred route to a character, as accesses and the key: `A08+D01`.
fn route(outcome: &Outcome, c: char) -> String {
    let table = RouteTable::build(&outcome.layout);
    let Some(route) = table.preferred(&Output::char(c)) else { return "none".to_owned() };
    let mut keys: Vec<String> =
        route.accesses.iter().map(|step| step.position.to_string()).collect();
    keys.push(route.position.to_string());
    keys.join("+")
}
