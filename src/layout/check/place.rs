//! Where outputs lie.

use super::Remark;
use crate::keyboard::{Modifiers, Output, Position};
use crate::layout::walk::given;
use crate::layout::{LayerId, Layout, RouteTable};
use std::collections::BTreeMap;

/// Characters that prose and code need again and again (common practice, no
/// source): they deserve a place in the home block.
const FREQUENT: &str = ".,'\"-_()[]{}<>=:;/";

pub fn vain_preferences(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let in_vain = |output: &Output, layer: LayerId, position: Position| {
        !table.all(output).iter().any(|r| (r.layer, r.position) == (layer, position))
    };
    layout
        .prefer
        .iter()
        .filter(|(output, (layer, position))| in_vain(output, *layer, *position))
        .map(|(output, (layer, position))| Remark::VainPreference {
            output: output.clone(),
            layer: layout.layer(*layer).name.clone(),
            position: *position,
        })
        .collect()
}

pub fn off_home(layout: &Layout, table: &RouteTable) -> Vec<Remark> {
    let board = &layout.board;
    let home = |position| board.site(position).is_some_and(|site| board.in_home_block(site));
    FREQUENT
        .chars()
        .map(Output::char)
        .filter_map(|output| {
            let at_home = table.all(&output).iter().any(|route| home(route.position));
            let route = table.preferred(&output).filter(|_| !at_home)?;
            Some(Remark::OffHome {
                position: route.position,
                layer: layout.layer(route.layer).name.clone(),
                output,
            })
        })
        .collect()
}

pub fn duplicates(layout: &Layout) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (_, layer) in layout.layers() {
        let mut places: BTreeMap<Output, Vec<Position>> = BTreeMap::new();
        for (assignment, site) in layer.keys.iter().zip(&layout.board.sites) {
            if let Some(output) = given(layout, assignment)
                .and_then(|output| layout.with_modifiers(&output, Modifiers::empty()))
            {
                places.entry(output).or_default().push(site.position);
            }
        }
        for (output, positions) in places {
            if positions.len() > 1 {
                remarks.push(Remark::Duplicate { layer: layer.name.clone(), output, positions });
            }
        }
    }
    remarks
}
