//! The board, drawn from its geometry.
//!
//! Where there is room, keys are boxes that share their edges; junctions are
//! worked out cell by cell, so that any stagger joins up. Otherwise one line a
//! row of keys. Rotation is not drawn.
//!
//! Meanings have a shape besides a style: the due key has a heavy frame, the
//! access key a double one (in the narrow form `[ ]` and `( )`), resting keys a
//! double stroke below, and a dual role shows its hold in the lower edge.

use super::caps::{access_cap, cap};
use super::sheet::{DOUBLE, DOUBLE_ASCII, Frame, HEAVY, HEAVY_ASCII, Sheet};
use crate::keyboard::{Position, Site};
use crate::layout::{Access, Assignment, LayerId, Layout};
use crate::ui::theme::{Meaning, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Rows of a boxed key one unit high, its lower edge left out.
const BOX_ROWS: f32 = 2.0;
/// The narrowest and widest boxed key one unit wide, its right edge left out.
const BOX_COLUMNS: std::ops::RangeInclusive<u16> = 4..=6;
/// The same for the narrow form.
const LINE_COLUMNS: std::ops::RangeInclusive<u16> = 3..=5;

/// One layer of a layout on its board.
#[derive(Debug, Clone, Copy)]
pub struct BoardView<'a> {
    /// The layout.
    pub layout: &'a Layout,
    /// The layer to show; what it lets through is shown muted.
    pub layer: LayerId,
    /// The key to strike now.
    pub due: Option<Position>,
    /// The keys that give access to it.
    pub accesses: &'a [Position],
    /// How meanings look.
    pub theme: Theme,
    /// Heat by key, in the board's order; empty for a plain board.
    pub heat: &'a [Option<Heat>],
}

/// How hot a key is: a glyph beside its cap, a figure below it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heat {
    /// From 0, the lowest, to 3.
    pub step: u8,
    /// The figure, short; left out where it doesn't fit.
    pub figure: String,
}

impl Heat {
    /// The glyph of a step.
    pub fn glyph(step: u8, unicode: bool) -> &'static str {
        let glyphs = if unicode { ["░", "▒", "▓", "█"] } else { [".", ":", "+", "#"] };
        glyphs[usize::from(step).min(3)]
    }
}

/// Boxes or lines, and how many columns a key unit takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Boxes(u16),
    Lines(u16),
}

/// How far a board reaches, key units.
#[derive(Debug, Clone, Copy)]
struct Extent {
    left: f32,
    right: f32,
    top: f32,
}

impl Extent {
    /// The key's frame where a key unit takes `columns`.
    fn frame(self, site: &Site, columns: u16) -> Frame {
        let across = |x: f32| ((x - self.left) * f32::from(columns)).round().max(0.0) as usize;
        let top = ((site.y - self.top) * BOX_ROWS).round().max(0.0) as usize;
        Frame {
            left: across(site.x),
            right: across(site.x + site.width),
            top,
            // Its own height, not the rounded lower edge: rows stay even.
            bottom: top + ((site.height * BOX_ROWS).round() as usize).max(2),
        }
    }
}

/// How a key is marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Due,
    Access,
    None,
}

impl<'a> BoardView<'a> {
    /// The layer as it is, nothing marked.
    pub const fn new(layout: &'a Layout, layer: LayerId, theme: Theme) -> Self {
        Self { layout, layer, due: None, accesses: &[], theme, heat: &[] }
    }

    /// How many rows the board takes in `width` columns when height is no
    /// object: boxes where they fit, one line a row of keys otherwise.
    pub fn height(&self, width: u16) -> u16 {
        self.rows_of(self.form(width, u16::MAX))
    }

    /// The least height that shows every row of keys.
    pub fn least_height(&self) -> u16 {
        self.layout.board.rows.len() as u16
    }

    /// How many columns the board takes in an area of this size.
    pub fn width(&self, width: u16, height: u16) -> u16 {
        self.columns_of(self.form(width, height))
    }

    /// True where the whole board can be drawn in `area`.
    pub fn fits(&self, area: Rect) -> bool {
        area.height >= self.least_height() && self.width(area.width, area.height) <= area.width
    }

    /// The drawing for `width` columns as styled lines, for standard output.
    pub fn lines(&self, width: u16) -> Vec<Line<'static>> {
        let sheet = self.draw(self.form(width, u16::MAX));
        (0..sheet.rows)
            .map(|row| {
                let mut spans: Vec<Span<'static>> = Vec::new();
                let cells = &sheet.cells[row * sheet.columns..(row + 1) * sheet.columns];
                let end =
                    cells.iter().rposition(|(symbol, _)| symbol != " ").map_or(0, |at| at + 1);
                for (symbol, style) in &cells[..end] {
                    match spans.last_mut() {
                        Some(last) if last.style == *style => {
                            last.content.to_mut().push_str(symbol);
                        }
                        _ => spans.push(Span::styled(symbol.clone().into_owned(), *style)),
                    }
                }
                Line::from(spans)
            })
            .collect()
    }

    fn form(&self, width: u16, height: u16) -> Form {
        let boxes = BOX_COLUMNS.rev().map(Form::Boxes);
        let lines = LINE_COLUMNS.rev().map(Form::Lines);
        boxes
            .chain(lines)
            .find(|form| self.columns_of(*form) <= width && self.rows_of(*form) <= height)
            .unwrap_or(Form::Lines(*LINE_COLUMNS.start()))
    }

    fn columns_of(&self, form: Form) -> u16 {
        let extent = self.extent();
        let (Form::Boxes(columns) | Form::Lines(columns)) = form;
        // A board is at most some hundred units wide: see its reader.
        ((extent.right - extent.left).max(0.0) * f32::from(columns)).round() as u16 + 1
    }

    fn rows_of(&self, form: Form) -> u16 {
        match form {
            Form::Lines(_) => self.least_height(),
            Form::Boxes(columns) => {
                let sites = &self.layout.board.sites;
                let extent = self.extent();
                let lowest = sites.iter().map(|site| extent.frame(site, columns).bottom).max();
                lowest.map_or(0, |bottom| bottom as u16 + 1)
            }
        }
    }

    fn extent(&self) -> Extent {
        let none = Extent { left: f32::INFINITY, right: 0.0, top: f32::INFINITY };
        self.layout.board.sites.iter().fold(none, |all, site| Extent {
            left: all.left.min(site.x),
            right: all.right.max(site.x + site.width),
            top: all.top.min(site.y),
        })
    }

    fn draw(&self, form: Form) -> Sheet {
        let mut sheet =
            Sheet::new(usize::from(self.columns_of(form)), usize::from(self.rows_of(form)));
        match form {
            Form::Boxes(columns) => self.draw_boxes(&mut sheet, columns),
            Form::Lines(columns) => self.draw_lines(&mut sheet, columns),
        }
        sheet
    }

    /// What stands at key `index`, and the style of its cap.
    fn meaning(&self, index: usize) -> (&'a Assignment, Style) {
        let on = |id: LayerId| {
            let layer = self.layout.layers.get(id.index());
            layer.and_then(|layer| layer.keys.get(index)).unwrap_or(&Assignment::Nothing)
        };
        match on(self.layer) {
            Assignment::FallThrough => (on(LayerId::BASE), self.theme.style(Meaning::Muted)),
            own => (own, self.theme.style(Meaning::Layer(self.layer.0))),
        }
    }

    fn mark(&self, position: Position) -> Mark {
        if self.due == Some(position) {
            Mark::Due
        } else if self.accesses.contains(&position) {
            Mark::Access
        } else {
            Mark::None
        }
    }

    /// The text on a key with its style; an access key in use shows its hold.
    fn label(&self, index: usize, mark: Mark, room: usize) -> (String, Style) {
        let (assignment, style) = self.meaning(index);
        let unicode = self.theme.unicode;
        match (mark, hold_of(assignment)) {
            (Mark::Access, Some(access)) => {
                (access_cap(self.layout, access, room, unicode), self.theme.style(Meaning::Access))
            }
            (Mark::Access, None) => {
                (cap(self.layout, assignment, room, unicode), self.theme.style(Meaning::Access))
            }
            (Mark::Due, _) => {
                (cap(self.layout, assignment, room, unicode), self.theme.style(Meaning::Due))
            }
            (Mark::None, _) => (cap(self.layout, assignment, room, unicode), style),
        }
    }

    fn draw_boxes(&self, sheet: &mut Sheet, columns: u16) {
        let sites = &self.layout.board.sites;
        let extent = self.extent();
        let frames: Vec<Frame> = sites.iter().map(|site| extent.frame(site, columns)).collect();
        sheet.boxes(&frames, self.theme.unicode, self.theme.style(Meaning::Muted));
        for wanted in [Mark::None, Mark::Access, Mark::Due] {
            for (index, (site, frame)) in sites.iter().zip(&frames).enumerate() {
                let mark = self.mark(site.position);
                if mark == wanted {
                    self.draw_box(sheet, index, site, *frame, mark);
                }
            }
        }
    }

    fn draw_box(&self, sheet: &mut Sheet, index: usize, site: &Site, frame: Frame, mark: Mark) {
        let unicode = self.theme.unicode;
        match mark {
            Mark::None => {}
            Mark::Due => {
                let style = self.theme.style(Meaning::Due).remove_modifier(Modifier::REVERSED);
                sheet.frame(frame, if unicode { &HEAVY } else { &HEAVY_ASCII }, style);
            }
            Mark::Access => {
                let style = self.theme.style(Meaning::Access).remove_modifier(Modifier::UNDERLINED);
                sheet.frame(frame, if unicode { &DOUBLE } else { &DOUBLE_ASCII }, style);
            }
        }
        let room = frame.right.saturating_sub(frame.left + 1);
        if !self.heat.is_empty() {
            return self.draw_heat(sheet, index, frame, room);
        }
        let (text, style) = self.label(index, mark, room);
        let row = frame.top + (frame.bottom - frame.top) / 2;
        let start = frame.left + 1;
        if mark == Mark::Due {
            sheet.write(start, row, &" ".repeat(room), style);
        }
        let before = (room - text.width().min(room)) / 2;
        sheet.write(start + before, row, &text, style);
        if mark != Mark::None {
            return;
        }
        let muted = self.theme.style(Meaning::Muted);
        if let (Assignment::Dual { hold, .. }, _) = self.meaning(index) {
            let text = access_cap(self.layout, *hold, room, unicode);
            let before = (room - text.width().min(room)) / 2;
            sheet.write(start + before, frame.bottom, &text, self.hold_style(*hold));
        } else if site.home {
            let middle = start + room.saturating_sub(1) / 2;
            sheet.write(middle, frame.bottom, if unicode { "═" } else { "=" }, muted);
        }
    }

    fn heat_of(&self, index: usize) -> Option<&'a Heat> {
        self.heat.get(index).and_then(Option::as_ref)
    }

    /// The cap between glyphs of its heat, the figure in the lower edge.
    fn draw_heat(&self, sheet: &mut Sheet, index: usize, frame: Frame, room: usize) {
        let unicode = self.theme.unicode;
        let (start, row) = (frame.left + 1, frame.top + (frame.bottom - frame.top) / 2);
        let Some(heat) = self.heat_of(index) else {
            let (text, _) = self.label(index, Mark::None, room);
            let before = (room - text.width().min(room)) / 2;
            return sheet.write(start + before, row, &text, self.theme.style(Meaning::Muted));
        };
        let style = self.theme.style(Meaning::Heat(heat.step));
        // A glyph on either side, blanks next to the cap where there is room.
        let (text, _) = self.label(index, Mark::None, room.saturating_sub(2));
        let glyph = Heat::glyph(heat.step, unicode);
        sheet.write(start, row, glyph, style);
        sheet.write(start + room.saturating_sub(1), row, glyph, style);
        let before = (room - text.width().min(room)) / 2;
        sheet.write(start + before, row, &text, self.theme.style(Meaning::Strong));
        if heat.figure.width() <= room {
            let before = (room - heat.figure.width()) / 2;
            sheet.write(start + before, frame.bottom, &heat.figure, style);
        }
    }

    fn hold_style(&self, hold: Access) -> Style {
        match hold.target {
            crate::layout::Target::Layer(id) => self.theme.style(Meaning::Layer(id.0)),
            crate::layout::Target::Modifier(_) => self.theme.style(Meaning::Muted),
        }
    }

    fn draw_lines(&self, sheet: &mut Sheet, columns: u16) {
        let sites = &self.layout.board.sites;
        let extent = self.extent();
        let mut index = 0;
        for (row, &count) in self.layout.board.rows.iter().enumerate() {
            for _ in 0..count {
                let Some(site) = sites.get(index) else { return };
                let frame = extent.frame(site, columns);
                let mark = self.mark(site.position);
                let room = frame.right.saturating_sub(frame.left + 1);
                let (mut text, mut style) = self.label(index, mark, room);
                if !self.heat.is_empty() {
                    style = self.theme.style(Meaning::Muted);
                }
                if let Some(heat) = self.heat_of(index) {
                    let (cap, _) = self.label(index, mark, room.saturating_sub(1));
                    text = format!("{}{cap}", Heat::glyph(heat.step, self.theme.unicode));
                    style = self.theme.style(Meaning::Heat(heat.step));
                }
                if site.home && mark == Mark::None {
                    style = style.add_modifier(Modifier::UNDERLINED);
                }
                let before = (room - text.width().min(room)) / 2;
                let start = frame.left + 1 + before;
                sheet.write(start, row, &text, style);
                let around = match mark {
                    Mark::Due => ["[", "]"],
                    Mark::Access => ["(", ")"],
                    Mark::None => {
                        index += 1;
                        continue;
                    }
                };
                sheet.write(start.saturating_sub(1), row, around[0], style);
                sheet.write(start + text.width(), row, around[1], style);
                index += 1;
            }
        }
    }
}

fn hold_of(assignment: &Assignment) -> Option<Access> {
    match assignment {
        Assignment::Access(access) => Some(*access),
        Assignment::Dual { hold, .. } => Some(*hold),
        _ => None,
    }
}

impl Widget for &BoardView<'_> {
    /// Draws the board in the middle of `area`, clipped to it.
    fn render(self, area: Rect, buf: &mut Buffer) {
        let area = area.intersection(buf.area);
        if area.is_empty() {
            return;
        }
        let sheet = self.draw(self.form(area.width, area.height));
        let indent = usize::from(area.width).saturating_sub(sheet.columns) / 2;
        let columns = sheet.columns.min(usize::from(area.width));
        for row in 0..sheet.rows.min(usize::from(area.height)) {
            for column in 0..columns {
                let (symbol, style) = &sheet.cells[row * sheet.columns + column];
                // A wide character's second half, or one that would stick out.
                if symbol.is_empty() || column + symbol.width() > columns {
                    continue;
                }
                let at = (area.x + (indent + column) as u16, area.y + row as u16);
                if let Some(cell) = buf.cell_mut(at) {
                    cell.set_symbol(symbol).set_style(*style);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;

    fn at(names: &[&str]) -> Vec<Position> {
        names.iter().map(|name| name.parse().unwrap()).collect()
    }

    fn drawn(view: &BoardView<'_>, width: u16, height: u16) -> Vec<String> {
        let mut buffer = Buffer::empty(Rect::new(0, 0, width, height));
        view.render(buffer.area, &mut buffer);
        (0..height)
            .map(|y| {
                let row = (0..width).map(|x| buffer.cell((x, y)).unwrap().symbol());
                row.collect::<String>().trim_end().to_owned()
            })
            .collect()
    }

    #[test]
    fn no_size_upsets_the_drawing() {
        for name in shipped::names() {
            let layout = shipped::load(name).unwrap();
            let accesses = at(&["LT2", "C00", "A03"]);
            for unicode in [true, false] {
                let view = BoardView {
                    due: layout.board.sites.last().map(|site| site.position),
                    accesses: &accesses,
                    ..BoardView::new(
                        &layout,
                        LayerId(layout.layers.len() as u8 - 1),
                        Theme { unicode, ..Theme::PLAIN },
                    )
                };
                for width in (0..100).step_by(7) {
                    for height in (0..20).step_by(3) {
                        drawn(&view, width, height);
                    }
                    assert!(view.least_height() <= view.height(width));
                }
            }
        }
    }

    #[test]
    fn a_drawing_in_the_corner_of_a_larger_screen_stays_there() {
        let layout = shipped::load("tern-split").unwrap();
        let view = BoardView::new(&layout, LayerId::BASE, Theme::PLAIN);
        let mut buffer = Buffer::empty(Rect::new(0, 0, 90, 20));
        let area = Rect::new(80, 15, 40, 40);
        view.render(area, &mut buffer);
        for y in 0..20 {
            for x in 0..90 {
                let blank = buffer.cell((x, y)).unwrap().symbol() == " ";
                assert!(blank || (x >= 80 && y >= 15), "{x} {y}");
            }
        }
    }

    #[test]
    fn every_board_fits_eighty_by_ten() {
        for name in shipped::names() {
            let layout = shipped::load(name).unwrap();
            let view = BoardView::new(&layout, LayerId::BASE, Theme::PLAIN);
            assert!(view.least_height() <= 10 && view.width(80, 10) <= 80, "{name}");
            assert!(view.height(80) > view.least_height(), "{name} has boxes at 80 columns");
        }
    }

    #[test]
    fn due_and_access_keys_have_a_shape_of_their_own() {
        let layout = shipped::load("tern-split").unwrap();
        let accesses = at(&["LT2"]);
        let view = BoardView {
            due: Some("C08".parse().unwrap()),
            accesses: &accesses,
            ..BoardView::new(&layout, LayerId(2), Theme::PLAIN)
        };
        insta::assert_snapshot!("boxes", drawn(&view, 80, 12).join("\n"));
        insta::assert_snapshot!("lines", drawn(&view, 80, 4).join("\n"));
        let ascii = BoardView { theme: Theme { unicode: false, ..Theme::PLAIN }, ..view };
        let rows = drawn(&ascii, 80, 12);
        assert!(rows.iter().all(|row| row.is_ascii()));
        insta::assert_snapshot!("boxes_ascii", rows.join("\n"));
    }

    #[test]
    fn the_laptop_board_joins_up() {
        let layout = shipped::load("tern-laptop").unwrap();
        let view = BoardView::new(&layout, LayerId::BASE, Theme::PLAIN);
        insta::assert_snapshot!("laptop", drawn(&view, 80, 15).join("\n"));
        insta::assert_snapshot!("laptop_narrow", drawn(&view, 80, 6).join("\n"));
    }
}
