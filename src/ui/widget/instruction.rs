//! Which keys to strike for what is due, in words.

use crate::keyboard::Position;
use crate::layout::{AccessKind, AccessStep, LayerId, Layout, Route, Target};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::caps::cap;
use crate::ui::widget::score::finger_words;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// What to do, in words: `{   hold Bksp for symbols (left thumb), strike m
/// (right index finger)`. Keys are named by what they give on the base layer,
/// which is what people know them by.
pub fn instruction<'a>(route: &Route, layout: &Layout, due: &str, theme: Theme) -> Line<'a> {
    let mut spans =
        vec![Span::styled(due.to_owned(), theme.style(Meaning::Strong)), Span::raw("   ")];
    let access = theme.style(Meaning::Access);
    for step in &route.accesses {
        let verb = match step.access.kind {
            AccessKind::Hold => "hold",
            AccessKind::Latch => "tap",
            AccessKind::Lock => "lock",
        };
        let key = key_name(step.position, layout, theme);
        let opens = opened(*step, layout);
        spans.push(Span::styled(format!("{verb} {key}"), access));
        if key != opens {
            spans.push(Span::raw(format!(" for {opens}")));
        }
        spans.push(Span::styled(
            format!(" ({}), ", finger_words(step.finger)),
            theme.style(Meaning::Muted),
        ));
    }
    spans.push(Span::raw("strike "));
    spans.push(Span::styled(key_name(route.position, layout, theme), theme.style(Meaning::Strong)));
    spans.push(Span::styled(
        format!(" ({})", finger_words(route.finger)),
        theme.style(Meaning::Muted),
    ));
    Line::from(spans)
}

/// `line`, an [`instruction`], without the fingers of as many presses, from the
/// first on, as it takes to fit into so many columns.
pub fn shortened(mut line: Line<'_>, columns: u16) -> Line<'_> {
    for n in 0..line.spans.len() {
        if line.width() <= usize::from(columns) {
            break;
        }
        let content = &mut line.spans[n].content;
        if content.starts_with(" (") {
            *content = if content.ends_with(", ") { ", " } else { "" }.into();
        }
    }
    line
}

/// `line`, broken before one of its presses where it is too long for a row of
/// `area` and there is another row: the first row holds as much as it can, and
/// the strike stands whole in any case.
pub fn in_two(mut line: Line<'_>, area: Rect) -> Vec<Line<'_>> {
    let room = usize::from(area.width);
    if line.width() <= room || area.height < 2 {
        return vec![shortened(line, area.width)];
    }
    let begins = |span: &Span| {
        ["hold ", "tap ", "lock ", "strike "].iter().any(|verb| span.content.starts_with(verb))
    };
    let width = |spans: &[Span]| spans.iter().map(Span::width).sum::<usize>();
    let breaks: Vec<usize> = (1..line.spans.len()).filter(|n| begins(&line.spans[*n])).collect();
    let fits = |at: &usize| {
        let (first, rest) = line.spans.split_at(*at);
        width(first) <= room && width(rest) <= room
    };
    let Some(at) = breaks.iter().rev().copied().find(fits).or(breaks.last().copied()) else {
        return vec![line];
    };
    let rest = line.spans.split_off(at);
    vec![line, Line::from(rest)]
}

/// What the key at `position` gives on the base layer, by which people know
/// it; its place where it gives nothing there.
fn key_name(position: Position, layout: &Layout, theme: Theme) -> String {
    let index = layout.board.index_of(position);
    let assignment = index.and_then(|index| layout.layer(LayerId::BASE).keys.get(index));
    match assignment.map(|assignment| cap(layout, assignment, 9, theme.unicode)) {
        Some(name) if !name.is_empty() => name,
        _ => position.to_string(),
    }
}

fn opened(step: AccessStep, layout: &Layout) -> String {
    match step.access.target {
        Target::Layer(layer) => layout.layer(layer).name.clone(),
        Target::Modifier(modifier) => modifier.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_too_long_names_fewer_fingers() {
        let spans = ["PgDn", "   ", "hold Spc", " for navigation", " (right thumb), "];
        let mut line = Line::from(spans.map(Span::raw).to_vec());
        line.spans.extend(["strike ", "g", " (left index finger)"].map(Span::raw));
        let whole = "PgDn   hold Spc for navigation (right thumb), strike g (left index finger)";
        let told = |columns| shortened(line.clone(), columns).to_string();
        assert_eq!(told(whole.len() as u16), whole);
        let first = "PgDn   hold Spc for navigation, strike g (left index finger)";
        assert_eq!(told(whole.len() as u16 - 1), first);
        assert_eq!(told(first.len() as u16), first);
        assert_eq!(told(first.len() as u16 - 1), "PgDn   hold Spc for navigation, strike g");
    }
}
