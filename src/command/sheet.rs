//! `etude layout sheet`: the layers on paper.

use super::Usage;
use super::import::write_new;
use super::layout::{layer_of, output_width, print_lines, resolve};
use crate::cli::{PaperChoice, Shared, SheetArgs};
use crate::keyboard::Output;
use crate::layout::{LayerId, Layout};
use crate::order::Gather;
use crate::progress::history;
use crate::report::board::fingers;
use crate::report::layout::show_text;
use crate::report::sheet::{Paper, lay_out, learner, pdf, svg};
use crate::store::data_dir;
use crate::ui::theme::Theme;
use anyhow::{anyhow, bail};
use std::collections::BTreeSet;
use std::process::ExitCode;

/// Runs `etude layout sheet`.
///
/// # Errors
/// A layout, layer or history that can't be read, an ending without a
/// meaning, a file that exists, a closed output.
pub fn run(args: &SheetArgs, shared: &Shared, theme: Theme) -> anyhow::Result<ExitCode> {
    let mut layout = resolve(args.which.as_deref().or(shared.layout.as_deref()))?;
    let mut only: Vec<LayerId> = Vec::new();
    for name in &args.layers {
        only.push(layer_of(&layout, name)?);
    }
    let mut note = String::new();
    if args.learner {
        let items = practised(&layout, shared)?;
        if items.is_empty() {
            bail!(
                "nothing was practised on '{}' yet: a learner's sheet would be empty; leave \
                 --learner out for all of it",
                layout.name
            );
        }
        layout = learner::only(&layout, &items);
        "learner's edition: what was practised".clone_into(&mut note);
    }
    let Some(path) = &args.output else {
        return print_lines(&text(&layout, &only, theme, output_width()));
    };
    let paper = match args.paper {
        PaperChoice::A4 => Paper::A4,
        PaperChoice::Letter => Paper::Letter,
    };
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
    let page = || {
        lay_out(&layout, &only, paper, &note)
            .ok_or_else(|| anyhow!("the font that comes with Etude can't be read"))
    };
    let bytes = match ending {
        "svg" => svg::write(&page()?).into_bytes(),
        "pdf" => pdf::write(&page()?),
        "txt" => {
            let plain = Theme { colour: false, ..theme };
            let mut text = text(&layout, &only, plain, 80).join("\n");
            text.push('\n');
            text.into_bytes()
        }
        _ => bail!(Usage(format!(
            "'{}': expected a file that ends in .svg, .pdf or .txt",
            path.display()
        ))),
    };
    write_new(path, &bytes)?;
    print_lines(&[format!("{}: written to {}", layout.name, path.display())])
}

fn text(layout: &Layout, only: &[LayerId], theme: Theme, width: u16) -> Vec<String> {
    let mut lines = if only.is_empty() {
        show_text(layout, None, theme, width)
    } else {
        only.iter().flat_map(|id| show_text(layout, Some(*id), theme, width)).collect()
    };
    lines.push(String::new());
    lines.push("Fingers, from 1 the thumb to 5 the little one:".to_owned());
    lines.extend(fingers(layout, theme, width).into_iter().map(|row| format!("  {row}")));
    lines
}

/// Every item that was struck at least once on the layout, by its name.
fn practised(layout: &Layout, shared: &Shared) -> anyhow::Result<BTreeSet<(LayerId, Output)>> {
    let Some(store) = history(&data_dir(shared.data.as_deref())?)? else {
        return Ok(BTreeSet::new());
    };
    store.adopt(layout)?;
    let items = store.items_since(&layout.name, i32::MIN)?;
    Ok(items
        .into_iter()
        .filter(|item| item.n_hits > 0)
        .filter_map(|item| Some((layout.layer_named(&item.layer)?, item.output.parse().ok()?)))
        .gather())
}
