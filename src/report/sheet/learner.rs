//! A sheet for learners: only what was practised.

use crate::keyboard::{Modifiers, Output};
use crate::layout::walk::given;
use crate::layout::{Assignment, LayerId, Layout};
use std::collections::BTreeSet;

/// `layout` with every key that gives none of `items` left blank. Access keys
/// and modifiers stay: without them nothing can be reached.
///
/// An output counts on the layer that has it; on a key whose Shift gives a
/// practised output, the key stays too.
pub fn only(layout: &Layout, items: &BTreeSet<(LayerId, Output)>) -> Layout {
    let mut learnt = layout.clone();
    for (index, layer) in learnt.layers.iter_mut().enumerate() {
        let id = LayerId(index as u8);
        let blank = if id == LayerId::BASE { Assignment::Nothing } else { Assignment::FallThrough };
        for key in &mut layer.keys {
            let Some(output) = given(layout, key) else { continue };
            let with_shift = layout.with_modifiers(&output, Modifiers::SHIFT);
            let known = [Some(output), with_shift]
                .into_iter()
                .flatten()
                .any(|output| items.contains(&(id, output)));
            if known {
                continue;
            }
            *key = match key {
                // The hold of a dual role stays without its tap.
                Assignment::Dual { hold, .. } => Assignment::Access(*hold),
                _ => blank.clone(),
            };
        }
    }
    learnt
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    #[test]
    fn only_what_was_practised_stays() {
        let layout = shipped::load("tern-split").unwrap();
        let symbols = layout.layer_named("symbols").unwrap();
        let items =
            BTreeSet::from([(symbols, Output::char('(')), (LayerId::BASE, Output::char('A'))]);
        let learnt = only(&layout, &items);
        let gives = |layout: &Layout, id: LayerId| -> Vec<String> {
            let keys = layout.layer(id).keys.iter();
            keys.filter_map(|key| given(layout, key)).map(|output| output.to_string()).collect()
        };
        assert_eq!(gives(&learnt, symbols), ["("]);
        // Shift of the key was practised.
        assert_eq!(gives(&learnt, LayerId::BASE), ["a"]);
        let accesses = |layout: &Layout| {
            layout.layers[0]
                .keys
                .iter()
                .filter(|key| matches!(key, Assignment::Access(_) | Assignment::Dual { .. }))
                .count()
        };
        assert_eq!(accesses(&learnt), accesses(&layout));
    }
}
