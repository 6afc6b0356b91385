//! What stands on a page: paths in millimetres, the origin at the upper left.

use super::font::Font;

/// One step of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Seg {
    /// Begins at a point.
    Move(f32, f32),
    /// A straight line to a point.
    Line(f32, f32),
    /// A cubic Bézier curve: two control points and the end.
    Curve(f32, f32, f32, f32, f32, f32),
    /// Back to where the part began.
    Close,
}

/// How a path's line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Width, mm.
    pub width: f32,
    /// 0 black to 1 white.
    pub grey: f32,
    /// True for dashes.
    pub dashed: bool,
}

/// A path with how it is filled and drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The path.
    pub path: Vec<Seg>,
    /// Its inside, 0 black to 1 white.
    pub fill: Option<f32>,
    /// Its line.
    pub stroke: Option<Stroke>,
}

/// Marks that belong together, with words for who can't see them.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// What they show.
    pub label: String,
    /// The marks, later ones above.
    pub marks: Vec<Mark>,
}

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, mm.
    pub width: f32,
    /// Height, mm.
    pub height: f32,
    /// A title for the document.
    pub title: String,
    /// What stands on it.
    pub groups: Vec<Group>,
}

/// Where a text's given point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// At its start.
    Start,
    /// In its middle.
    Middle,
    /// At its end.
    End,
}

/// How far control points lie from the ends of a quarter circle.
const ROUND: f32 = 0.552_285;

/// Collects marks.
pub struct Pen<'a> {
    pub font: &'a Font<'a>,
    pub marks: Vec<Mark>,
}

impl Pen<'_> {
    /// A rectangle with rounded corners, turned about its centre.
    pub fn rounded(
        &mut self,
        place: (f32, f32, f32, f32),
        radius: f32,
        turn_deg: f32,
        fill: Option<f32>,
        stroke: Option<Stroke>,
    ) {
        let (left, top, width, height) = place;
        let turn = Turn::about((left + width / 2.0, top + height / 2.0), turn_deg);
        let near = radius * (1.0 - ROUND);
        let point = |x: f32, y: f32| turn.point(x, y);
        let line = |to: (f32, f32)| Seg::Line(to.0, to.1);
        let curve = |first: (f32, f32), second: (f32, f32), to: (f32, f32)| {
            Seg::Curve(first.0, first.1, second.0, second.1, to.0, to.1)
        };
        let (right, low) = (left + width, top + height);
        let start = point(left + radius, top);
        let path = vec![
            Seg::Move(start.0, start.1),
            line(point(right - radius, top)),
            curve(point(right - near, top), point(right, top + near), point(right, top + radius)),
            line(point(right, low - radius)),
            curve(point(right, low - near), point(right - near, low), point(right - radius, low)),
            line(point(left + radius, low)),
            curve(point(left + near, low), point(left, low - near), point(left, low - radius)),
            line(point(left, top + radius)),
            curve(point(left, top + near), point(left + near, top), start),
            Seg::Close,
        ];
        self.marks.push(Mark { path, fill, stroke });
    }

    /// Slanted lines within a rectangle, turned with it.
    pub fn hatch(&mut self, (x, y, w, h): (f32, f32, f32, f32), step: f32, turn_deg: f32) {
        let turn = Turn::about((x + w / 2.0, y + h / 2.0), turn_deg);
        let mut path = Vec::new();
        let mut at = step;
        while at < w + h {
            // From the left or lower edge to the upper or right one.
            let from = if at <= h { (x, y + at) } else { (x + at - h, y + h) };
            let to = if at <= w { (x + at, y) } else { (x + w, y + at - w) };
            let (from, to) = (turn.point(from.0, from.1), turn.point(to.0, to.1));
            path.extend([Seg::Move(from.0, from.1), Seg::Line(to.0, to.1)]);
            at += step;
        }
        let stroke = Stroke { width: 0.12, grey: 0.55, dashed: false };
        self.marks.push(Mark { path, fill: None, stroke: Some(stroke) });
    }

    /// A straight line.
    pub fn line(&mut self, from: (f32, f32), to: (f32, f32), width: f32, grey: f32) {
        let path = vec![Seg::Move(from.0, from.1), Seg::Line(to.0, to.1)];
        let stroke = Some(Stroke { width, grey, dashed: false });
        self.marks.push(Mark { path, fill: None, stroke });
    }

    /// `text` at `size` mm with its base line at `y`; returns its width.
    pub fn text(
        &mut self,
        text: &str,
        at: (f32, f32),
        size: f32,
        anchor: Anchor,
        grey: f32,
    ) -> f32 {
        let width = self.font.width(text, size);
        let x = match anchor {
            Anchor::Start => at.0,
            Anchor::Middle => at.0 - width / 2.0,
            Anchor::End => at.0 - width,
        };
        let path = self.font.outline(text, x, at.1, size);
        if !path.is_empty() {
            self.marks.push(Mark { path, fill: Some(grey), stroke: None });
        }
        width
    }

    /// As [`Pen::text`], bolder.
    pub fn strong(&mut self, text: &str, at: (f32, f32), size: f32, grey: f32) -> f32 {
        let path = self.font.outline(text, at.0, at.1, size);
        let stroke = Stroke { width: size * 0.05, grey, dashed: false };
        self.marks.push(Mark { path, fill: Some(grey), stroke: Some(stroke) });
        self.font.width(text, size) + size * 0.05
    }
}

/// A turn about a point.
pub struct Turn {
    centre: (f32, f32),
    sin: f32,
    cos: f32,
}

impl Turn {
    /// Clockwise by `degrees`, as the page's y grows downward.
    pub fn about(centre: (f32, f32), degrees: f32) -> Self {
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self { centre, sin, cos }
    }

    /// Where the point goes.
    pub fn point(&self, x: f32, y: f32) -> (f32, f32) {
        let (dx, dy) = (x - self.centre.0, y - self.centre.1);
        (
            self.centre.0 + dx * self.cos - dy * self.sin,
            self.centre.1 + dx * self.sin + dy * self.cos,
        )
    }
}
