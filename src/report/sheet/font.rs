//! Outlines of the font that comes with Etude.

use super::draw::Seg;
use ttf_parser::{Face, GlyphId, OutlineBuilder};

/// A part of DejaVu Sans; its licence stands beside it.
const DATA: &[u8] = include_bytes!("../../../assets/fonts/DejaVuSans-subset.ttf");

/// A font, ready to be drawn.
pub struct Font<'a> {
    face: Face<'a>,
    units: f32,
}

impl Font<'static> {
    /// The font that comes with Etude.
    pub fn shipped() -> Option<Self> {
        let face = Face::parse(DATA, 0).ok()?;
        let units = f32::from(face.units_per_em());
        Some(Self { face, units })
    }
}

impl Font<'_> {
    /// True where the font has a glyph for every character of `text`.
    pub fn has(&self, text: &str) -> bool {
        text.chars().all(|c| self.face.glyph_index(c).is_some())
    }

    fn glyphs<'t>(&'t self, text: &'t str) -> impl Iterator<Item = (GlyphId, f32)> + 't {
        text.chars().map(|c| {
            let glyph = self.face.glyph_index(c).unwrap_or(GlyphId(0));
            let advance = self.face.glyph_hor_advance(glyph).unwrap_or(0);
            (glyph, f32::from(advance) / self.units)
        })
    }

    /// The width of `text` at `size` mm, mm.
    pub fn width(&self, text: &str, size: f32) -> f32 {
        self.glyphs(text).map(|(_, advance)| advance * size).sum()
    }

    /// How high `text` reaches above and below the base line at `size` mm: the
    /// lower edge (negative below it) and the upper one.
    pub fn extent(&self, text: &str, size: f32) -> Option<(f32, f32)> {
        let boxes = self.glyphs(text).filter_map(|(glyph, _)| self.face.glyph_bounding_box(glyph));
        let scale = size / self.units;
        boxes
            .map(|b| (f32::from(b.y_min) * scale, f32::from(b.y_max) * scale))
            .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }

    /// The outlines of `text` with its start at `x` and its base line at `y`.
    pub fn outline(&self, text: &str, x: f32, y: f32, size: f32) -> Vec<Seg> {
        let mut path = Vec::new();
        let mut x = x;
        for (glyph, advance) in self.glyphs(text) {
            let mut builder =
                Builder { path: &mut path, x, y, scale: size / self.units, last: (0.0, 0.0) };
            // None for blanks, which have no outline.
            let _ = self.face.outline_glyph(glyph, &mut builder);
            x += advance * size;
        }
        path
    }
}

struct Builder<'a> {
    path: &'a mut Vec<Seg>,
    x: f32,
    y: f32,
    scale: f32,
    /// The last point, in font units.
    last: (f32, f32),
}

impl Builder<'_> {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (self.x + x * self.scale, self.y - y * self.scale)
    }
}

impl OutlineBuilder for Builder<'_> {
    fn move_to(&mut self, x: f32, y: f32) {
        let to = self.at(x, y);
        self.path.push(Seg::Move(to.0, to.1));
        self.last = (x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let to = self.at(x, y);
        self.path.push(Seg::Line(to.0, to.1));
        self.last = (x, y);
    }

    /// A quadratic curve is a cubic one with its control points at two thirds.
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        let (x0, y0) = self.last;
        let third = |end: f32, control: f32| end + (control - end) * 2.0 / 3.0;
        self.curve_to(third(x0, x1), third(y0, y1), third(x, x1), third(y, y1), x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (a, b, to) = (self.at(x1, y1), self.at(x2, y2), self.at(x, y));
        self.path.push(Seg::Curve(a.0, a.1, b.0, b.1, to.0, to.1));
        self.last = (x, y);
    }

    fn close(&mut self) {
        self.path.push(Seg::Close);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Output;
    use crate::layout::{Assignment, shipped};

    #[test]
    fn the_font_has_every_character_of_the_shipped_layouts() {
        let font = Font::shipped().unwrap();
        for name in shipped::names() {
            for layer in shipped::load(name).unwrap().layers {
                for key in &layer.keys {
                    if let Assignment::Gives(Output::Text(text)) = key {
                        assert!(font.has(text), "{text}");
                    }
                }
            }
        }
        for text in ["ß é ğ ł Ω Я א", "→ ⇧ € № … — « »", "0123456789"] {
            assert!(font.has(text), "{text}");
        }
        assert!(!font.has("漢"));
    }

    #[test]
    fn widths_add_up_and_outlines_lie_within_them() {
        let font = Font::shipped().unwrap();
        let width = font.width("Tern", 10.0);
        let parts: f32 = ["T", "e", "r", "n"].map(|c| font.width(c, 10.0)).iter().sum();
        assert!((width - parts).abs() < 1e-3 && width > 10.0);
        for seg in font.outline("Tern", 5.0, 20.0, 10.0) {
            if let Seg::Line(x, y) | Seg::Move(x, y) | Seg::Curve(.., x, y) = seg {
                assert!((4.9..5.1 + width).contains(&x) && (12.0..20.5).contains(&y), "{x} {y}");
            }
        }
    }
}
