//! `etude layout compare`: what moves from one layout to another.

use super::layout::{print_json, print_lines, resolve};
use super::survey::needed;
use crate::cli::{CompareArgs, Shared};
use crate::layout::compare::{Needed, compare};
use crate::layout::{Layout, RouteTable, file};
use crate::progress::history;
use crate::report::compare as report;
use crate::store::{Carried, data_dir};
use crate::ui::theme::Theme;
use anyhow::{Context, bail};
use std::process::ExitCode;

/// Runs `etude layout compare`.
///
/// # Errors
/// A layout or history that can't be read, a layout that was never practised
/// where its earlier version is asked for, a closed output.
pub fn run(args: &CompareArgs, shared: &Shared, theme: Theme) -> anyhow::Result<ExitCode> {
    let first = resolve(args.first.as_deref().or(shared.layout.as_deref()))?;
    let second = args.second.as_deref().map(|name| resolve(Some(name))).transpose()?;
    let (before, now, carried) = if let Some(now) = second {
        (first, now, None)
    } else {
        let (before, carried) = practised(&first, shared)?;
        (before, first, Some(carried))
    };
    let (need, surveyed) = needed(&RouteTable::build(&now), shared)?;
    let mut outputs = Needed::new();
    for ((_, output), times) in need.items() {
        *outputs.entry(output.clone()).or_default() += times;
    }
    let comparison = compare(&before, &now, &outputs);
    let told = report::Told { before: &before, now: &now, comparison, carried, surveyed };
    if args.json.json {
        print_json(&report::json(&told))
    } else {
        print_lines(&report::text(&told, theme))
    }
}

/// The layout as it was practised last, and what of its history holds now.
fn practised(now: &Layout, shared: &Shared) -> anyhow::Result<(Layout, Carried)> {
    let name = &now.name;
    let store = history(&data_dir(shared.data.as_deref())?)?;
    let text = store.as_ref().map(|store| store.last_version(name)).transpose()?.flatten();
    let (Some(store), Some(text)) = (store, text) else {
        bail!(
            "'{name}' was never practised: nothing to compare it with; name two layouts, as in \
             etude layout compare plain-ansi {name}"
        );
    };
    let before = file::read(&text, name)
        .with_context(|| format!("the history holds an earlier '{name}' that can't be read"))?;
    Ok((before.layout, store.adopt(now)?))
}
