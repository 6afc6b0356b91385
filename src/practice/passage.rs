//! Which keys and chords drills count on, for a check of the terminal.

use crate::drill::{EditRequest, What, shortcuts, tools};
use crate::editor::Bindings;
use crate::keyboard::Output;
use crate::layout::{Cluster, Layout, RouteTable};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A key or chord that has to pass the terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passing {
    /// The key or chord.
    pub output: Output,
    /// What it does, in a few words.
    pub title: String,
}

/// What drills of `layout` count on: its shortcuts in the order of learning,
/// then the keys of editing tasks, those of its navigation layers and by hand.
pub fn passing(layout: &Layout, routes: &RouteTable, bindings: &Arc<Bindings>) -> Vec<Passing> {
    let mut found: Vec<Passing> = shortcuts(layout, routes)
        .unwrap_or_default()
        .into_iter()
        .map(|shortcut| Passing { output: shortcut.due, title: shortcut.title })
        .collect();
    let mut routes = RouteTable::clone(routes);
    routes.add_chords(layout, bindings.iter().map(|(key, _)| key));
    let tools = tools(&EditRequest {
        layout,
        routes: &routes,
        what: What::Cluster(Cluster::Navigation),
        bindings,
        arrives: &|_| true,
        time_of: &|_| None,
        own: None,
        seed: 0,
        ordinal: 0,
    });
    found.extend(tools.tools().iter().map(|tool| Passing {
        output: tool.output.clone(),
        title: tool.action.word().replace('-', " "),
    }));
    let mut seen = BTreeSet::new();
    found.retain(|passing| seen.insert(passing.output.clone()));
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::editor::common;
    use crate::layout::shipped;

    #[test]
    fn shortcuts_come_first_and_nothing_comes_twice() {
        let layout = shipped::load("tern-split").unwrap();
        let routes = RouteTable::build(&layout);
        let bindings = Arc::new(common().unwrap().clone());
        let found = passing(&layout, &routes, &bindings);
        let names: Vec<String> = found.iter().map(|one| one.output.to_string()).collect();
        assert_eq!(names[0], "Ctrl+C");
        for name in ["Ctrl+Shift+V", "ArrowLeft", "PageDown", "Ctrl+Home", "Shift+ArrowRight"] {
            assert_eq!(names.iter().filter(|other| *other == name).count(), 1, "{name}: {names:?}");
        }
        assert!(found.iter().all(|one| !one.title.is_empty()));
    }
}
