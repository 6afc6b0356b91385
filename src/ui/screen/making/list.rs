//! A list to choose from, and a word to write: what the steps share.

use crate::keyboard::Position;
use crate::layout::{LayerId, Layout};
use crate::session::Stroke;
use crate::ui::keymap::{self, Action, Place, Step};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::BoardView;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

/// One row of a list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row<T> {
    /// The character that chooses it at once.
    pub key: char,
    /// What it says.
    pub label: String,
    /// What it stands for.
    pub what: T,
}

/// A list to choose from: by going up and down, or by a row's character.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct List<T> {
    /// What is asked.
    pub title: String,
    /// What can be chosen; at least one.
    pub rows: Vec<Row<T>>,
    /// The row that stands out.
    pub chosen: usize,
}

/// What a stroke does to a list or a word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Chosen<T> {
    /// Nothing.
    Same,
    /// It looks different.
    Moved,
    /// This was chosen.
    This(T),
    /// It was closed.
    Closed,
}

impl<T: Clone> List<T> {
    /// A list; the first row stands out.
    pub fn new(title: impl Into<String>, rows: Vec<(char, String, T)>) -> Self {
        let rows = rows.into_iter().map(|(key, label, what)| Row { key, label, what }).collect();
        Self { title: title.into(), rows, chosen: 0 }
    }

    /// What `stroke` does.
    pub fn stroke(&mut self, stroke: &Stroke) -> Chosen<T> {
        let count = self.rows.len().max(1);
        match keymap::action(Place::Making(Step::List), stroke) {
            Some(Action::Up) => self.chosen = (self.chosen + count - 1) % count,
            Some(Action::Down) => self.chosen = (self.chosen + 1) % count,
            Some(Action::Go) => {
                let row = self.rows.get(self.chosen);
                return row.map_or(Chosen::Same, |row| Chosen::This(row.what.clone()));
            }
            Some(Action::Back) => return Chosen::Closed,
            _ => {
                let typed = stroke.output().as_char();
                let row = self.rows.iter().find(|row| typed == Some(row.key));
                return row.map_or(Chosen::Same, |row| Chosen::This(row.what.clone()));
            }
        }
        Chosen::Moved
    }

    /// The list as lines.
    pub fn lines(&self, width: usize, theme: Theme) -> Vec<Line<'static>> {
        let mut lines: Vec<Line<'static>> = frame::wrapped(&self.title, width)
            .into_iter()
            .map(|line| Line::styled(line, theme.style(Meaning::Strong)))
            .collect();
        for (n, row) in self.rows.iter().enumerate() {
            lines.push(line(n == self.chosen, &row.key.to_string(), &row.label, width, theme));
        }
        lines
    }
}

/// A row that can stand out, with its key.
pub fn line(chosen: bool, key: &str, label: &str, width: usize, theme: Theme) -> Line<'static> {
    let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Text });
    let label = frame::clip(label, width.saturating_sub(5), theme);
    Line::from(vec![
        Span::styled(mark(chosen, theme), style),
        Span::styled(format!("{key}  "), theme.style(Meaning::Access)),
        Span::styled(label, style),
    ])
}

/// What stands before the row that stands out, and before the others.
pub fn mark(chosen: bool, theme: Theme) -> &'static str {
    match (chosen, theme.unicode) {
        (true, true) => "▸ ",
        (true, false) => "> ",
        _ => "  ",
    }
}

/// A word in the making.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Word {
    /// What is asked.
    pub title: String,
    /// What is written so far.
    pub text: String,
    /// What is wrong with it.
    pub wrong: Option<String>,
}

/// The longest word that can be written, characters.
const LONGEST: usize = 64;

impl Word {
    /// An empty word.
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), ..Self::default() }
    }

    /// What `stroke` does.
    pub fn stroke(&mut self, stroke: &Stroke) -> Chosen<String> {
        use crate::keyboard::NamedKey;
        match keymap::action(Place::Making(Step::Word), stroke) {
            Some(Action::Go) => return Chosen::This(self.text.clone()),
            Some(Action::Back) => return Chosen::Closed,
            _ => {}
        }
        self.wrong = None;
        if stroke.plain_key() == Some(NamedKey::Backspace) {
            self.text.pop();
            return Chosen::Moved;
        }
        match stroke.output() {
            crate::keyboard::Output::Text(text)
                if self.text.chars().count() + text.chars().count() <= LONGEST =>
            {
                self.text.push_str(&text);
                Chosen::Moved
            }
            _ => Chosen::Same,
        }
    }

    /// The word as lines.
    pub fn lines(&self, width: usize, theme: Theme) -> Vec<Line<'static>> {
        let title = frame::wrapped(&self.title, width);
        let mut lines: Vec<Line<'static>> = title
            .into_iter()
            .map(|line| Line::styled(line, theme.style(Meaning::Strong)))
            .collect();
        let caret = theme.style(Meaning::Caret);
        let mark = mark(true, theme);
        let shown = Span::raw(format!("{mark}{}", self.text));
        lines.push(Line::from(vec![shown, Span::styled(" ", caret)]));
        if let Some(wrong) = &self.wrong {
            for line in frame::wrapped(wrong, width) {
                lines.push(Line::styled(line, theme.style(Meaning::Wrong)));
            }
        }
        lines
    }
}

/// A board with marked keys, beneath some lines.
pub struct Below<'a> {
    /// The layout as far as it is known.
    pub layout: &'a Layout,
    /// The layer to show.
    pub layer: LayerId,
    /// The marked key.
    pub due: Option<Position>,
    /// The keys that open the layer.
    pub accesses: &'a [Position],
}

/// Draws `lines`, and `below` in the room that is left.
pub fn draw(
    body: Rect,
    buf: &mut Buffer,
    lines: &[Line<'_>],
    below: Option<&Below<'_>>,
    theme: Theme,
) {
    let height = (lines.len() as u16).min(body.height);
    for (n, line) in lines.iter().take(usize::from(height)).enumerate() {
        buf.set_line(body.x, body.y + n as u16, line, body.width);
    }
    let Some(below) = below else { return };
    let gap = u16::from(body.height > height + 8);
    let room =
        Rect { y: body.y + height + gap, height: body.height.saturating_sub(height + gap), ..body };
    let view = BoardView {
        layout: below.layout,
        layer: below.layer,
        due: below.due,
        accesses: below.accesses,
        theme,
        heat: &[],
    };
    if view.fits(room) {
        let height = view.height(room.width).min(room.height);
        (&view).render(Rect { height, ..room }, buf);
    }
}

/// The place of a key in words: "LT2, left thumb".
pub fn place_of(layout: &Layout, index: usize) -> String {
    layout.board.sites.get(index).map_or_else(String::new, |site| {
        let finger = site.finger;
        let joined = match finger.digit {
            crate::keyboard::Digit::Thumb => "thumb".to_owned(),
            digit => format!("{} finger", digit.word()),
        };
        format!("{}, {} {joined}", site.position, finger.hand.word())
    })
}
