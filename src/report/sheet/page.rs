//! Where each layer stands on the page.

use super::Paper;
use super::draw::{Anchor, Group, Page, Pen, Turn};
use super::font::Font;
use super::key::{Key, fit};
use crate::keyboard::Board;
use crate::layout::{LayerId, Layout};
use crate::report::layout::{accesses_to, reached};

/// Margin, mm: most printers can't print nearer to the edge.
const MARGIN: f32 = 10.0;
/// Height of the heading, mm.
const HEAD: f32 = 11.0;
/// Height of the legend, mm.
const FOOT: f32 = 9.0;
/// Height of a layer's title, mm.
const TITLE: f32 = 6.5;
/// Space between layers, mm.
const GAP: f32 = 5.0;
/// The largest key unit, mm: that of real keys.
const MOST_UNIT: f32 = 19.05;

/// The place that a board takes, key units: left, upper, right, lower edge.
fn bounds(board: &Board) -> (f32, f32, f32, f32) {
    let start = (f32::MAX, f32::MAX, f32::MIN, f32::MIN);
    let corners = board.sites.iter().flat_map(|site| {
        let turn = Turn::about(site.centre(), site.rotation_deg);
        let (right, low) = (site.x + site.width, site.y + site.height);
        [(site.x, site.y), (right, site.y), (site.x, low), (right, low)]
            .map(|(x, y)| turn.point(x, y))
    });
    corners.fold(start, |all, (x, y)| (all.0.min(x), all.1.min(y), all.2.max(x), all.3.max(y)))
}

/// How layers are set: columns, rows, and the size of a key unit in mm.
fn grid(count: usize, board: (f32, f32), page: (f32, f32)) -> (usize, usize, f32) {
    let mut best = (1, count.max(1), 0.0_f32);
    for columns in 1..=count.max(1) {
        let rows = count.div_ceil(columns).max(1);
        let wide = (page.0 - 2.0 * MARGIN - GAP * (columns - 1) as f32) / columns as f32;
        let high = (page.1 - 2.0 * MARGIN - HEAD - FOOT - GAP * (rows - 1) as f32) / rows as f32;
        let unit = (wide / board.0).min((high - TITLE) / board.1).min(MOST_UNIT);
        if unit > best.2 {
            best = (columns, rows, unit);
        }
    }
    best
}

/// The layers `only` of `layout` (all, if none is named) on one page of
/// `paper`, lying or upright as they come out larger. None only where the
/// font that comes with Etude can't be read.
pub fn lay_out(layout: &Layout, only: &[LayerId], paper: Paper, note: &str) -> Option<Page> {
    let font = Font::shipped()?;
    let shown: Vec<LayerId> = layout
        .layers()
        .map(|(id, _)| id)
        .filter(|id| only.is_empty() || only.contains(id))
        .collect();
    let (left, top, right, low) = bounds(&layout.board);
    let board = (right - left, low - top);
    let upright = paper.size_mm();
    let lying = (upright.1, upright.0);
    let (page, set) = [lying, upright]
        .map(|size| (size, grid(shown.len(), board, size)))
        .into_iter()
        .reduce(|a, b| if b.1.2 > a.1.2 { b } else { a })?;
    let (columns, rows, unit) = set;
    let mut groups = vec![heading(&font, layout, page, note)];
    let cell = (
        (page.0 - 2.0 * MARGIN - GAP * (columns - 1) as f32) / columns as f32,
        TITLE + board.1 * unit,
    );
    // What is left of the height goes between the rows.
    let free = page.1 - 2.0 * MARGIN - HEAD - FOOT - cell.1 * rows as f32;
    let between = (free / rows as f32).clamp(0.0, 3.0 * GAP);
    for (number, id) in shown.iter().enumerate() {
        let (column, row) = ((number % columns) as f32, (number / columns) as f32);
        let x = MARGIN + column * (cell.0 + GAP);
        let y = MARGIN + HEAD + row * (cell.1 + between);
        let origin = (x + (cell.0 - board.0 * unit) / 2.0 - left * unit, y + TITLE - top * unit);
        groups.push(layer(&font, layout, *id, origin, (x, y, cell.0), unit));
    }
    groups.push(legend(&font, page));
    let title = format!("{}: {}", layout.name, layout.title);
    Some(Page { width: page.0, height: page.1, title, groups })
}

fn heading(font: &Font<'_>, layout: &Layout, page: (f32, f32), note: &str) -> Group {
    let mut pen = Pen { font, marks: Vec::new() };
    let room = page.0 - 2.0 * MARGIN;
    let at = (MARGIN, MARGIN + 4.5);
    let size = fit(&pen, &layout.title, 5.0, room * 0.6);
    let width = pen.strong(&layout.title, at, size, 0.0);
    let mut about = format!("{} on {}", layout.name, layout.board.name);
    if !note.is_empty() {
        about = format!("{about} · {note}");
    }
    let size = fit(&pen, &about, 3.2, room - width - 4.0);
    pen.text(&about, (page.0 - MARGIN, at.1), size, Anchor::End, 0.3);
    pen.line((MARGIN, at.1 + 2.2), (page.0 - MARGIN, at.1 + 2.2), 0.2, 0.0);
    Group { label: format!("{}, {about}", layout.title), marks: pen.marks }
}

fn layer(
    font: &Font<'_>,
    layout: &Layout,
    id: LayerId,
    origin: (f32, f32),
    (x, y, width): (f32, f32, f32),
    unit: f32,
) -> Group {
    let mut pen = Pen { font, marks: Vec::new() };
    let sheet = layout.layer(id);
    // The board may be narrower than its cell: the title starts with it.
    let end = x + width;
    let x = x.max(origin.0);
    let room = end - x;
    let badge = font.width(&sheet.sign, 3.4) + 2.2;
    pen.rounded((x, y, badge, 4.6), 0.8, 0.0, Some(0.0), None);
    pen.strong(&sheet.sign, (x + 1.1, y + 3.5), 3.4, 1.0);
    let at = (x + badge + 1.8, y + 3.5);
    let named = pen.strong(&sheet.name, at, 3.6, 0.0);
    let mut about = reached(layout, id);
    if sheet.cluster.word() != sheet.name {
        about = format!("{} · {about}", sheet.cluster.word());
    }
    let rest = (room - badge - named - 4.5).max(1.0);
    let size = fit(&pen, &about, 2.9, rest);
    pen.text(&about, (at.0 + named + 2.4, at.1), size, Anchor::Start, 0.3);
    let opening: Vec<_> = accesses_to(layout, id).map(|(_, position, _)| position).collect();
    for (assignment, site) in sheet.keys.iter().zip(&layout.board.sites) {
        let opens = opening.contains(&site.position);
        Key { layout, layer: id, assignment, site, opens }.draw(&mut pen, origin, unit);
    }
    Group { label: format!("Layer {}, {about}", sheet.name), marks: pen.marks }
}

fn legend(font: &Font<'_>, page: (f32, f32)) -> Group {
    let mut pen = Pen { font, marks: Vec::new() };
    let y = page.1 - MARGIN - 1.0;
    let text = "Thick edge: a finger rests here. Hatched: opens this layer. Small number: finger, \
                1 thumb to 5 little, left hand underlined.";
    let more = "↓ hold, ¹ latch (for the next key), ∞ lock; at a lower edge: what the key is when \
                held. Upper right: with Shift. Grey: as on the base layer. Dashed: nothing.";
    let room = page.0 - 2.0 * MARGIN;
    let size = fit(&pen, more, 2.7, room).min(fit(&pen, text, 2.7, room));
    pen.text(text, (MARGIN, y - 4.0), size, Anchor::Start, 0.3);
    pen.text(more, (MARGIN, y), size, Anchor::Start, 0.3);
    Group { label: format!("{text} {more}"), marks: pen.marks }
}

#[cfg(test)]
mod tests {
    use super::super::draw::Seg;
    use super::*;
    use crate::layout::shipped;

    #[test]
    fn everything_lies_within_the_margins_of_one_page() {
        for name in shipped::names() {
            let layout = shipped::load(name).unwrap();
            for paper in [Paper::A4, Paper::Letter] {
                let page = lay_out(&layout, &[], paper, "").unwrap();
                let edge = MARGIN - 0.5;
                for mark in page.groups.iter().flat_map(|group| &group.marks) {
                    for seg in &mark.path {
                        let (Seg::Move(x, y) | Seg::Line(x, y) | Seg::Curve(.., x, y)) = *seg
                        else {
                            continue;
                        };
                        assert!((edge..=page.width - edge).contains(&x), "{name}: x {x}");
                        assert!((edge..=page.height - edge).contains(&y), "{name}: y {y}");
                    }
                }
                assert_eq!(page.groups.len(), layout.layers.len() + 2);
            }
        }
    }

    #[test]
    fn layers_never_overlap() {
        let layout = shipped::load("tern-split").unwrap();
        let page = lay_out(&layout, &[], Paper::A4, "").unwrap();
        let extents: Vec<(f32, f32, f32, f32)> = page.groups[1..page.groups.len() - 1]
            .iter()
            .map(|group| {
                let start = (f32::MAX, f32::MAX, f32::MIN, f32::MIN);
                group.marks.iter().flat_map(|mark| &mark.path).fold(start, |all, seg| match *seg {
                    Seg::Move(x, y) | Seg::Line(x, y) | Seg::Curve(.., x, y) => {
                        (all.0.min(x), all.1.min(y), all.2.max(x), all.3.max(y))
                    }
                    Seg::Close => all,
                })
            })
            .collect();
        for (index, a) in extents.iter().enumerate() {
            for b in &extents[index + 1..] {
                let apart = a.2 <= b.0 || b.2 <= a.0 || a.3 <= b.1 || b.3 <= a.1;
                assert!(apart, "{a:?} {b:?}");
            }
        }
    }
}
