//! Layouts as text and JSON: list, show, check.

use super::board::{board, text_of};
use crate::keyboard::{Board, Output, Position};
use crate::layout::check::{Remark, Weight};
use crate::layout::{Access, Assignment, Layer, LayerId, Layout, Route, RouteTable, Target, token};
use crate::store::wall_clock::day_text;
use crate::ui::theme::{Meaning, Theme};
use ratatui::text::{Line, Span};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// The shipped layouts and boards as lines.
pub fn list_text(layouts: &[Layout], boards: &[Board], theme: Theme) -> Vec<String> {
    let mut lines = vec![heading("Layouts", theme)];
    let width = layouts.iter().map(|layout| layout.name.len()).max().unwrap_or(0);
    for layout in layouts {
        let line = vec![
            Span::raw("  "),
            Span::styled(format!("{:width$}", layout.name), theme.style(Meaning::Strong)),
            Span::raw(format!("  {}", layout.title)),
            Span::styled(format!("  on {}", layout.board.name), theme.style(Meaning::Muted)),
        ];
        lines.push(text_of(&Line::from(line), theme.colour));
    }
    lines.push(String::new());
    lines.push(heading("Boards", theme));
    let width = boards.iter().map(|board| board.name.len()).max().unwrap_or(0);
    for board in boards {
        let line = vec![
            Span::raw("  "),
            Span::styled(format!("{:width$}", board.name), theme.style(Meaning::Strong)),
            Span::raw(format!("  {}", board.title)),
            Span::styled(format!("  {} keys", board.sites.len()), theme.style(Meaning::Muted)),
        ];
        lines.push(text_of(&Line::from(line), theme.colour));
    }
    lines
}

/// The shipped layouts and boards, schema `etude.layout-list/1`.
pub fn list_json(layouts: &[Layout], boards: &[Board]) -> Value {
    json!({
        "schema": "etude.layout-list/1",
        "layouts": layouts.iter().map(|layout| json!({
            "name": layout.name,
            "title": layout.title,
            "board": layout.board.name,
            "old_way": layout.old_way,
            "layers": layout.layers.iter().map(|layer| json!({
                "name": layer.name,
                "sign": layer.sign,
                "cluster": layer.cluster.word(),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "boards": boards.iter().map(|board| json!({
            "name": board.name,
            "title": board.title,
            "form": board.form.word(),
            "keys": board.sites.len(),
        })).collect::<Vec<_>>(),
    })
}

/// The layers of `layout` as lines: how each is reached, its drawing in
/// `width` columns, and its actions. `only` leaves out all but one.
pub fn show_text(layout: &Layout, only: Option<LayerId>, theme: Theme, width: u16) -> Vec<String> {
    let muted = |text: String| {
        let line = Line::from(Span::styled(text, theme.style(Meaning::Muted)));
        text_of(&line, theme.colour)
    };
    let mut lines = vec![heading(&format!("{}: {}", layout.name, layout.title), theme)];
    let old_way = layout.old_way.as_ref().map(|old| format!(", old way {old}"));
    lines.push(muted(format!(
        "board {}, {} keys{}",
        layout.board.name,
        layout.board.sites.len(),
        old_way.unwrap_or_default()
    )));
    for (id, layer) in layout.layers().filter(|(id, _)| only.is_none_or(|only| only == *id)) {
        let cluster = match layer.cluster.word() {
            word if word == layer.name => String::new(),
            word => format!("{word}, "),
        };
        let line = vec![
            Span::styled(
                format!("{}  {}", layer.sign, layer.name),
                theme.style(Meaning::Layer(id.0)).patch(theme.style(Meaning::Strong)),
            ),
            Span::styled(
                format!("  {cluster}{}", reached(layout, id)),
                theme.style(Meaning::Muted),
            ),
        ];
        lines.push(String::new());
        lines.push(text_of(&Line::from(line), theme.colour));
        lines.extend(board(layout, id, theme, width).into_iter().map(|row| format!("  {row}")));
        lines.extend(actions_of(layout, layer).into_iter().map(|line| format!("  {line}")));
    }
    lines.push(String::new());
    lines.push(muted(if theme.unicode {
        "On keys: ↓ hold, ¹ latch, ∞ lock, ^ Ctrl, ⇧ Shift, ᴬ Alt, ᴹ Meta. \
         In a lower edge: what the key is when held."
            .to_owned()
    } else {
        "On keys: _ hold, 1 latch, = lock, ^ Ctrl, s Shift, A Alt, M Meta. \
         In a lower edge: what the key is when held."
            .to_owned()
    }));
    lines
}

/// How a layer is reached, in words: "hold LT2 (left thumb)".
pub fn reached(layout: &Layout, id: LayerId) -> String {
    if id == LayerId::BASE {
        return "always there".to_owned();
    }
    let ways: Vec<String> = accesses_to(layout, id)
        .map(|(from, position, access)| {
            let finger = layout
                .board
                .site(position)
                .map(|site| format!(" ({} {})", site.finger.hand.word(), site.finger.digit.word()));
            let on = if from == LayerId::BASE {
                String::new()
            } else {
                format!(" on {}", layout.layer(from).name)
            };
            format!("{} {position}{}{on}", access.kind.word(), finger.unwrap_or_default())
        })
        .collect();
    if ways.is_empty() { "no access leads here".to_owned() } else { ways.join(", or ") }
}

/// Every key that gives access to layer `id`: the layer it is on, where, how.
pub fn accesses_to(
    layout: &Layout,
    id: LayerId,
) -> impl Iterator<Item = (LayerId, Position, Access)> + '_ {
    layout.layers().flat_map(move |(from, layer)| {
        layer.keys.iter().zip(&layout.board.sites).filter_map(move |(assignment, site)| {
            let access = match assignment {
                Assignment::Access(access) => *access,
                Assignment::Dual { hold, .. } => *hold,
                _ => return None,
            };
            (access.target == Target::Layer(id)).then_some((from, site.position, access))
        })
    })
}

/// The actions on a layer: position, chord, purpose.
fn actions_of(layout: &Layout, layer: &Layer) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let mut lines = Vec::new();
    for (assignment, site) in layer.keys.iter().zip(&layout.board.sites) {
        let name = match assignment {
            Assignment::Does(name) => name,
            Assignment::Dual { tap, .. } => match tap.as_ref() {
                Assignment::Does(name) => name,
                _ => continue,
            },
            _ => continue,
        };
        if let Some(action) = layout.actions.get(name)
            && seen.insert((site.position, name))
        {
            let chord = action.chord.to_string();
            lines.push(format!("{:4} {chord:16} {}", site.position.to_string(), action.title));
        }
    }
    lines
}

/// The layers of `layout`, schema `etude.layout-show/1`.
pub fn show_json(layout: &Layout, only: Option<LayerId>) -> Value {
    let names: Vec<String> = layout.layers.iter().map(|layer| layer.name.clone()).collect();
    let table = RouteTable::build(layout);
    let layers: Vec<Value> = layout
        .layers()
        .filter(|(id, _)| only.is_none_or(|only| only == *id))
        .map(|(id, layer)| {
            json!({
                "name": layer.name,
                "sign": layer.sign,
                "cluster": layer.cluster.word(),
                "accesses": accesses_to(layout, id).map(|(from, position, access)| json!({
                    "layer": layout.layer(from).name,
                    "position": position.to_string(),
                    "kind": access.kind.word(),
                })).collect::<Vec<_>>(),
                "keys": layer.keys.iter().zip(&layout.board.sites).map(|(key, site)| json!({
                    "position": site.position.to_string(),
                    "finger": site.finger.to_string(),
                    "token": token::write(key, &names),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "schema": "etude.layout-show/1",
        "name": layout.name,
        "title": layout.title,
        "board": layout.board.name,
        "old_way": layout.old_way,
        "layers": layers,
        "actions": layout.actions.iter().map(|(name, action)| json!({
            "name": name,
            "chord": action.chord.to_string(),
            "title": action.title,
        })).collect::<Vec<_>>(),
        "routes": table.outputs().map(|(output, routes)| json!({
            "output": output.to_string(),
            "routes": routes.iter().map(|route| route_json(layout, route)).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

fn route_json(layout: &Layout, route: &Route) -> Value {
    json!({
        "accesses": route.accesses.iter().map(|step| json!({
            "kind": step.access.kind.word(),
            "position": step.position.to_string(),
            "finger": step.finger.to_string(),
            "target": match step.access.target {
                Target::Layer(id) => layout.layer(id).name.clone(),
                Target::Modifier(modifier) => modifier.to_string(),
            },
        })).collect::<Vec<_>>(),
        "position": route.position.to_string(),
        "finger": route.finger.to_string(),
        "layer": layout.layer(route.layer).name,
        "effort": (f64::from(route.effort) * 1000.0).round() / 1000.0,
    })
}

/// The `routes` to `output` as lines, the preferred one first.
pub fn where_text(layout: &Layout, output: &Output, routes: &[Route], theme: Theme) -> Vec<String> {
    let shown = token::write_output(output);
    if routes.is_empty() {
        return vec![heading(&format!("{shown} can't be given by {}", layout.name), theme)];
    }
    let mut lines = vec![heading(&format!("{shown} on {}", layout.name), theme)];
    for (n, route) in routes.iter().enumerate() {
        let word = if n == 0 { "preferred" } else { "also" };
        let line = vec![
            Span::styled(format!("  {word:11}"), theme.style(Meaning::Muted)),
            Span::raw(route.words(layout)),
            Span::styled(
                format!("  {}, effort {:.1}", layout.layer(route.layer).name, route.effort),
                theme.style(Meaning::Muted),
            ),
        ];
        lines.push(text_of_kept(&Line::from(line), theme.colour));
    }
    lines
}

/// A styled line as text in which nothing is blanked for want of styles.
fn text_of_kept(line: &Line<'_>, styled: bool) -> String {
    if styled {
        return text_of(line, true);
    }
    line.spans.iter().map(|span| span.content.as_ref()).collect()
}

/// The `routes` to `output`, schema `etude.layout-where/1`.
pub fn where_json(layout: &Layout, output: &Output, routes: &[Route]) -> Value {
    json!({
        "schema": "etude.layout-where/1",
        "name": layout.name,
        "output": output.to_string(),
        "routes": routes.iter().map(|route| {
            let mut one = route_json(layout, route);
            one["words"] = json!(route.words(layout));
            one
        }).collect::<Vec<_>>(),
    })
}

/// Whose text tells how often a page needs each key: that of the survey made on
/// `day`, or that which ships.
pub fn by_whose_text(day: Option<i32>) -> String {
    match day {
        Some(day) => format!("by the survey of your texts of {}", day_text(day)),
        None => "by the text that ships; `etude survey` goes by yours".to_owned(),
    }
}

/// What there is to say of `layout`, as lines: each remark, and under it what
/// could be done. What a page needs is by the survey made on `day`, if any.
pub fn check_text(
    layout: &Layout,
    remarks: &[Remark],
    day: Option<i32>,
    theme: Theme,
) -> Vec<String> {
    let mut told: Vec<(Weight, String, String)> = Vec::new();
    let missing: Vec<String> = remarks
        .iter()
        .filter_map(|remark| match remark {
            Remark::Untypeable { output } => Some(output.to_string()),
            _ => None,
        })
        .collect();
    // One line for all of them: a young layout may lack a hundred.
    if !missing.is_empty() {
        let text = format!("can't be typed: {}", missing.join(" "));
        told.push((Weight::Fault, text, "give each a key on some layer".to_owned()));
    }
    let far: Vec<String> = remarks
        .iter()
        .filter_map(|remark| match remark {
            Remark::OffHome { output, position, layer } => {
                Some(format!("{output} {position} ({layer})"))
            }
            _ => None,
        })
        .collect();
    let grouped = |remark: &&Remark| {
        matches!(remark, Remark::Untypeable { .. })
            || (far.len() > 1 && matches!(remark, Remark::OffHome { .. }))
    };
    let others = remarks.iter().filter(|remark| !grouped(remark));
    told.extend(others.map(|remark| (remark.weight(), remark.to_string(), remark.suggestion())));
    if far.len() > 1 {
        let text = format!("frequent but off the home block: {}", far.join(", "));
        let suggestion = "put them on a layer, within rows B to D or under a thumb";
        let at = told.partition_point(|(weight, ..)| *weight == Weight::Fault);
        told.insert(at, (Weight::Advice, text, suggestion.to_owned()));
    }
    // As many as are listed: those told in one line count as one.
    let count = |weight| told.iter().filter(|line| line.0 == weight).count();
    let [faults, advice, notes] = [Weight::Fault, Weight::Advice, Weight::Note].map(count);
    let counts: Vec<String> = [
        (faults > 0).then(|| counted(faults, "fault")),
        (advice > 0).then(|| match advice {
            1 => "1 piece of advice".to_owned(),
            more => format!("{more} pieces of advice"),
        }),
        (notes > 0).then(|| counted(notes, "note")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let summary =
        if counts.is_empty() { "nothing to remark".to_owned() } else { counts.join(", ") };
    let mut lines = vec![heading(&format!("{}: {summary}", layout.name), theme)];
    let arrow = if theme.unicode { "→" } else { "->" };
    for (weight, text, suggestion) in told {
        let meaning = match weight {
            Weight::Fault => Meaning::Caution,
            Weight::Advice => Meaning::Strong,
            Weight::Note => Meaning::Muted,
        };
        let word = format!("  {:6}  ", weight.word());
        let line = vec![Span::styled(word, theme.style(meaning)), Span::raw(text)];
        lines.push(text_of(&Line::from(line), theme.colour));
        let line = format!("          {arrow} {suggestion}");
        let line = Line::from(Span::styled(line, theme.style(Meaning::Muted)));
        lines.push(text_of(&line, theme.colour));
    }
    if advice > 0 {
        let line = format!("How often a page needs a key: {}.", by_whose_text(day));
        let line = Line::from(Span::styled(line, theme.style(Meaning::Muted)));
        lines.push(text_of(&line, theme.colour));
    }
    lines
}

/// "1 fault", "2 faults".
pub fn counted(number: usize, word: &str) -> String {
    format!("{number} {word}{}", if number == 1 { "" } else { "s" })
}

/// What there is to say of `layout` by the survey made on `day`, if any, schema
/// `etude.layout-check/1`.
pub fn check_json(layout: &Layout, remarks: &[Remark], day: Option<i32>) -> Value {
    json!({
        "schema": "etude.layout-check/1",
        "name": layout.name,
        "surveyed": day.map(day_text),
        "remarks": remarks.iter().map(|remark| {
            let place = remark.place();
            json!({
                "weight": remark.weight().word(),
                "kind": remark.kind(),
                "text": remark.to_string(),
                "layer": place.layer,
                "positions": place.positions.iter().map(Position::to_string).collect::<Vec<_>>(),
                "suggestion": remark.suggestion(),
            })
        }).collect::<Vec<_>>(),
    })
}

fn heading(text: &str, theme: Theme) -> String {
    let line = Line::from(Span::styled(text.to_owned(), theme.style(Meaning::Strong)));
    text_of(&line, theme.colour)
}
