//! Marker keys that tell less than they could.

use super::Remark;
use crate::keyboard::{Marker, Output};
use crate::layout::Layout;
use crate::layout::walk::given;
use std::collections::BTreeMap;

pub fn shared(layout: &Layout) -> Vec<Remark> {
    let mut layers: BTreeMap<Marker, Vec<String>> = BTreeMap::new();
    for layer in &layout.layers {
        if let Some(marker) = layer.marker {
            layers.entry(marker).or_default().push(layer.name.clone());
        }
    }
    let shared = layers.into_iter().filter(|(_, layers)| layers.len() > 1);
    shared.map(|(marker, layers)| Remark::SharedMarker { marker, layers }).collect()
}

pub fn given_too(layout: &Layout) -> Vec<Remark> {
    let mut remarks = Vec::new();
    for (_, layer) in layout.layers() {
        for (assignment, site) in layer.keys.iter().zip(&layout.board.sites) {
            let Some(Output::Key(key)) = given(layout, assignment) else { continue };
            let marked = layout
                .layers
                .iter()
                .find(|other| other.marker.is_some() && other.marker == Marker::of_key(key));
            if let Some((marked, marker)) = marked.and_then(|other| Some((other, other.marker?))) {
                remarks.push(Remark::GivenMarker {
                    marker,
                    marks: marked.name.clone(),
                    layer: layer.name.clone(),
                    position: site.position,
                });
            }
        }
    }
    remarks
}
