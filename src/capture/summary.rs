//! What a capture found.

use super::walk::Capture;
use crate::keyboard::{Output, Position};
use crate::layout::walk::given;
use crate::layout::{Assignment, LayerId};
use std::collections::BTreeMap;

/// The places of one thing: the layer's name and the position.
pub type Places = Vec<(String, Position)>;

/// What a capture found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Summary {
    /// Keys that give something of their own.
    pub own: usize,
    /// Keys that open a layer or hold a modifier, struck for nothing else.
    pub accesses: usize,
    /// Keys that do what the layer beneath has.
    pub beneath: usize,
    /// Keys that do nothing.
    pub nothing: usize,
    /// Keys that are still open.
    pub open: Places,
    /// Dead keys, by what they give before a space.
    pub dead: Vec<(Output, String, Position)>,
    /// Outputs that several keys of their own give.
    pub doubles: Vec<(Output, Places)>,
    /// Layers that no key opens.
    pub closed: Vec<String>,
    /// Arrivals that the terminal couldn't tell and the person did.
    pub answered: usize,
}

impl Summary {
    /// The summary of `capture` as it is.
    pub fn of(capture: &Capture) -> Self {
        let draft = capture.draft();
        let layout = draft.layout();
        let mut summary = Self { answered: capture.answered(), ..Self::default() };
        let mut homes: BTreeMap<Output, Places> = BTreeMap::new();
        for (n, sheet) in draft.layers.iter().enumerate() {
            let place = |index: usize| (sheet.name.clone(), draft.board.sites[index].position);
            for (index, key) in sheet.keys.iter().enumerate() {
                match key {
                    None => summary.open.push(place(index)),
                    Some(Assignment::FallThrough) => summary.beneath += 1,
                    Some(Assignment::Nothing) => summary.nothing += 1,
                    Some(Assignment::Access(_)) => summary.accesses += 1,
                    Some(key) => {
                        summary.own += 1;
                        if let Some(output) = given(&layout, key) {
                            homes.entry(output).or_default().push(place(index));
                        }
                    }
                }
            }
            let id = LayerId(n as u8);
            if id != LayerId::BASE && draft.access_to(id).is_none() {
                summary.closed.push(sheet.name.clone());
            }
        }
        summary.doubles = homes.into_iter().filter(|(_, places)| places.len() > 1).collect();
        for (layer, index) in capture.dead() {
            let output = draft.key(layer, index).and_then(|key| given(&layout, key));
            if let Some(output) = output {
                let name = draft.layers[layer.index()].name.clone();
                summary.dead.push((output, name, draft.board.sites[index].position));
            }
        }
        summary
    }

    /// What a layout file should say of all this at its top, line by line.
    pub fn reasons(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if !self.dead.is_empty() {
            lines.push(String::new());
            lines.push("Dead keys, noted by what they give before a space:".to_owned());
            for (output, layer, position) in &self.dead {
                lines.push(format!("  {layer} {position}  {output}"));
            }
        }
        if !self.open.is_empty() {
            lines.push(String::new());
            lines.push(
                "Passed over; the file has them as keys that do nothing of their own:".into(),
            );
            for chunk in self.open.chunks(8) {
                let places: Vec<String> =
                    chunk.iter().map(|(layer, position)| format!("{layer} {position}")).collect();
                lines.push(format!("  {}", places.join(", ")));
            }
        }
        if !self.doubles.is_empty() {
            lines.push(String::new());
            lines.push("Given by several keys; [prefer] can pin one of them:".to_owned());
            for (output, places) in &self.doubles {
                let places: Vec<String> =
                    places.iter().map(|(layer, position)| format!("{layer} {position}")).collect();
                lines.push(format!("  {output}  {}", places.join(", ")));
            }
        }
        lines
    }
}
