//! One key on a printed sheet.

use super::draw::{Anchor, Pen, Stroke, Turn};
use crate::keyboard::{Chord, ChordKey, Hand, Modifiers, NamedKey, Output, Site};
use crate::layout::{Access, AccessKind, Assignment, LayerId, Layout, Target};

/// Grey of what matters less: fingers, keys that fall through.
const QUIET: f32 = 0.45;
/// Grey of outlines.
const EDGE: f32 = 0.25;

/// Everything about a key but its place.
pub struct Key<'a> {
    pub layout: &'a Layout,
    pub layer: LayerId,
    pub assignment: &'a Assignment,
    pub site: &'a Site,
    /// True where this key, held or struck, makes the layer active.
    pub opens: bool,
}

/// A label: one line, or a small one above another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    pub above: Option<String>,
    pub main: String,
}

impl Label {
    fn of(main: impl Into<String>) -> Self {
        Self { above: None, main: main.into() }
    }
}

/// The word for a key: arrows as arrows, the rest by name.
fn named(key: NamedKey) -> String {
    let short = key.short();
    match key {
        NamedKey::Backspace => "Back".into(),
        NamedKey::Enter | NamedKey::Home | NamedKey::Shift => key.name().into(),
        _ => short.into(),
    }
}

fn chord(chord: Chord) -> Label {
    let key = match chord.key {
        ChordKey::Char(' ') => "Space".to_owned(),
        ChordKey::Char(c) => c.to_uppercase().to_string(),
        ChordKey::Named(key) => named(key),
    };
    Label { above: Some(chord.modifiers.to_string()), main: key }
}

/// A mark for how, and the sign of what: `↓S`.
pub fn access(layout: &Layout, access: Access) -> String {
    let mark = match access.kind {
        AccessKind::Hold => "↓",
        AccessKind::Latch => "¹",
        AccessKind::Lock => "∞",
    };
    match access.target {
        Target::Layer(id) => {
            let sign = layout.layers.get(id.index()).map_or("?", |layer| layer.sign.as_str());
            format!("{mark}{sign}")
        }
        Target::Modifier(modifier) if access.kind == AccessKind::Hold => named(modifier.key()),
        Target::Modifier(modifier) => format!("{mark}{modifier}"),
    }
}

/// What stands on a key for `assignment`; none for nothing and fall-through.
pub fn label(
    layout: &Layout,
    assignment: &Assignment,
    has: impl Fn(&str) -> bool,
) -> Option<Label> {
    match assignment {
        Assignment::FallThrough | Assignment::Nothing => None,
        Assignment::Gives(Output::Text(text)) if text == " " => Some(Label::of("Space")),
        Assignment::Gives(Output::Text(text)) if text.trim().is_empty() || !has(text) => {
            let points: Vec<String> =
                text.chars().take(2).map(|c| format!("{:04X}", u32::from(c))).collect();
            Some(Label { above: Some("U+".into()), main: points.join(" ") })
        }
        Assignment::Gives(Output::Text(text)) => Some(Label::of(text.clone())),
        Assignment::Gives(Output::Key(key)) => Some(Label::of(named(*key))),
        Assignment::Gives(Output::Chord(keys)) => Some(chord(*keys)),
        Assignment::Does(name) => Some(match layout.actions.get(name) {
            Some(action) => chord(action.chord),
            None => Label::of(name.clone()),
        }),
        Assignment::Access(opens) => Some(Label::of(access(layout, *opens))),
        Assignment::Dual { tap, .. } => label(layout, tap, has),
    }
}

impl Key<'_> {
    /// Draws the key; `unit` is the size of a key unit in mm, `origin` where
    /// the board's upper left corner lies.
    pub fn draw(&self, pen: &mut Pen<'_>, origin: (f32, f32), unit: f32) {
        let site = self.site;
        let gap = 0.04 * unit;
        let (x, y) = (origin.0 + site.x * unit + gap, origin.1 + site.y * unit + gap);
        let (w, h) = (site.width * unit - 2.0 * gap, site.height * unit - 2.0 * gap);
        let own = label(self.layout, self.assignment, |text| pen.font.has(text));
        let nothing = *self.assignment == Assignment::Nothing;
        let (width, grey) = if site.home { (0.055 * unit, 0.0) } else { (0.02 * unit, EDGE) };
        let stroke = Stroke { width, grey, dashed: nothing && !site.home };
        if self.opens {
            pen.hatch((x, y, w, h), 0.13 * unit, site.rotation_deg);
        }
        pen.rounded((x, y, w, h), 0.12 * unit, site.rotation_deg, None, Some(stroke));
        let turn = Turn::about((x + w / 2.0, y + h / 2.0), site.rotation_deg);
        let corner = turn.point(x + 0.08 * unit, y + h - 0.1 * unit);
        self.finger(pen, corner, unit);
        let centre = (x + w / 2.0, y + h / 2.0);
        let hold = match self.assignment {
            Assignment::Dual { hold, .. } => Some(access(self.layout, *hold)),
            _ => None,
        };
        let lift = if hold.is_some() { 0.06 * unit } else { 0.0 };
        if let Some(own) = &own {
            let centre = (centre.0, centre.1 - lift);
            words(pen, own, centre, (w, unit));
        } else if self.opens || self.layer == LayerId::BASE {
            // A held key: what it is beneath.
        } else if *self.assignment == Assignment::FallThrough
            && let Some(beneath) = self.layout.layers[0].keys.get(self.index())
            && let Some(beneath) = label(self.layout, beneath, |text| pen.font.has(text))
        {
            quiet(pen, &beneath, centre, (w, unit));
        }
        if let Some(hold) = hold {
            // Turned with the key, so that it keeps clear of the finger's number.
            let at = turn.point(centre.0, y + h - 0.16 * unit);
            let at = (at.0, at.1 + 0.07 * unit);
            let high = fit(pen, &hold, 0.25 * unit, w * 0.9);
            pen.text(&hold, at, high, Anchor::Middle, 0.0);
        }
        if let Some(shifted) = self.shifted().filter(|text| pen.font.has(text)) {
            let at = turn.point(x + w - 0.08 * unit, y + 0.29 * unit);
            pen.text(&shifted, at, 0.26 * unit, Anchor::End, 0.2);
        }
        if self.opens && own.is_none() {
            let at = (centre.0, centre.1 + 0.12 * unit);
            let sign = &self.layout.layer(self.layer).sign;
            let high = fit(pen, sign, 0.36 * unit, w * 0.8);
            pen.strong(sign, (at.0 - pen.font.width(sign, high) / 2.0, at.1), high, 0.0);
        }
    }

    fn index(&self) -> usize {
        self.layout.board.index_of(self.site.position).unwrap_or(usize::MAX)
    }

    /// What Shift makes of a base key, where it is no capital letter.
    fn shifted(&self) -> Option<String> {
        if self.layer != LayerId::BASE {
            return None;
        }
        let Assignment::Gives(output) = self.assignment else { return None };
        let plain = output.as_char()?;
        let shifted = self.layout.with_modifiers(output, Modifiers::SHIFT)?.as_char()?;
        let capital = plain.to_uppercase().eq([shifted]);
        (shifted != plain && !capital && !shifted.is_whitespace()).then(|| shifted.to_string())
    }

    /// The pianists' number in a corner, underlined for the left hand.
    fn finger(&self, pen: &mut Pen<'_>, corner: (f32, f32), unit: f32) {
        let size = 0.19 * unit;
        let number = self.site.finger.digit.number().to_string();
        let at = corner;
        let width = pen.text(&number, at, size, Anchor::Start, QUIET);
        if self.site.finger.hand == Hand::Left {
            let y = at.1 + 0.04 * unit;
            pen.line((at.0, y), (at.0 + width, y), 0.018 * unit, QUIET);
        }
    }
}

/// `size`, or what makes `text` fit in `room` mm.
pub fn fit(pen: &Pen<'_>, text: &str, size: f32, room: f32) -> f32 {
    let width = pen.font.width(text, size);
    if width > room { size * room / width } else { size }
}

/// Draws a label in the middle of a key; `room` is its width and a key unit.
fn words(pen: &mut Pen<'_>, label: &Label, centre: (f32, f32), room: (f32, f32)) {
    let (w, unit) = room;
    let single = label.main.chars().count() <= 2 && label.above.is_none();
    let wish = match (&label.above, single) {
        (Some(_), _) => 0.32,
        (None, true) => 0.46,
        (None, false) => 0.3,
    };
    let size = fit(pen, &label.main, wish * unit, w * 0.88);
    let base = if label.main.chars().any(char::is_alphanumeric) || label.above.is_some() {
        centre.1 + size * 0.36
    } else {
        // Signs sit high or low on the line: the key's middle is theirs.
        pen.font.extent(&label.main, size).map_or(centre.1, |(low, high)| {
            let middle = centre.1 + f32::midpoint(low, high);
            // A comma low and a quote high: pulled halfway only.
            f32::midpoint(middle, centre.1 + size * 0.36)
        })
    };
    let base = if label.above.is_some() { base + 0.1 * unit } else { base };
    pen.text(&label.main, (centre.0, base), size, Anchor::Middle, 0.0);
    if let Some(above) = &label.above {
        let small = fit(pen, above, 0.2 * unit, w * 0.9);
        let at = (centre.0, base - size * 0.72 - 0.09 * unit);
        pen.text(above, at, small, Anchor::Middle, 0.0);
    }
}

/// As [`words`], small and grey: what falls through.
fn quiet(pen: &mut Pen<'_>, label: &Label, centre: (f32, f32), room: (f32, f32)) {
    let size = fit(pen, &label.main, 0.24 * room.1, room.0 * 0.8);
    pen.text(&label.main, (centre.0, centre.1 + size * 0.36), size, Anchor::Middle, 0.62);
}
