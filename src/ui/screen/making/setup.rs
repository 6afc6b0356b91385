//! Describing a layout: the board, its layers, the keys that open them.

use super::list::{self, Below, Chosen, List, Word, mark, place_of};
use crate::capture::{Draft, Fill, commented, fill, suggested};
use crate::keyboard::{Board, Digit, Shape};
use crate::layout::{Access, AccessKind, Assignment, Cluster, LayerId, Target, shipped};
use crate::session::{Event, EventKind, KeyState, Stroke};
use crate::ui::keymap::{self, Action, Place, Step};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// What came of an event.
pub enum Settled {
    /// Nothing.
    Same,
    /// It looks different.
    Changed,
    /// The person left.
    Left,
    /// The file is to be written.
    Write {
        /// Its text.
        text: String,
        /// True where practice is wished for.
        practise: bool,
    },
    /// The keys are to be learnt from the keyboard.
    Capture(Box<Draft>),
}

/// A layer as it is wished for.
#[derive(Debug, Clone, PartialEq)]
struct Wish {
    name: String,
    cluster: Cluster,
    /// The key that opens it, by its index, and how.
    access: Option<(usize, AccessKind)>,
}

/// What follows once everything is described.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Then {
    Practise,
    Write,
    Capture,
}

#[derive(Debug, Clone)]
enum At {
    Board,
    Layers,
    Name(Word, Option<usize>),
    Accesses,
    Finish(List<Then>),
}

/// The lines of the board step; the last three count a split board.
const KINDS: usize = 6;
/// The first line that counts a split board.
const SPLIT: usize = 3;

/// The state of the description.
#[derive(Debug, Clone)]
pub struct Setup {
    name: String,
    capturing: bool,
    at: At,
    /// The line of the board step.
    kind: usize,
    grid: (u8, u8),
    split: [u8; 3],
    layers: Vec<Wish>,
    chosen: usize,
}

impl Setup {
    /// Nothing described yet; our own board and layers are offered.
    pub fn new(name: &str, capturing: bool) -> Self {
        let offered = [
            Cluster::Punctuation,
            Cluster::Symbols,
            Cluster::Numbers,
            Cluster::Navigation,
            Cluster::Shortcuts,
        ];
        let wish =
            |cluster: Cluster| Wish { name: cluster.word().to_owned(), cluster, access: None };
        Self {
            name: name.to_owned(),
            capturing,
            at: At::Board,
            kind: SPLIT,
            grid: (4, 12),
            split: [3, 5, 3],
            layers: offered.map(wish).to_vec(),
            chosen: 0,
        }
    }

    fn board(&self) -> Option<Board> {
        match self.kind {
            0 => shipped::board("full-ansi"),
            1 => shipped::board("full-iso"),
            2 => {
                shipped::board(&Shape::Grid { rows: self.grid.0, columns: self.grid.1 }.to_string())
            }
            _ => {
                let [rows, columns, thumbs] = self.split;
                shipped::board(&Shape::Split { rows, columns, thumbs }.to_string())
            }
        }
    }

    /// The draft as described, its other keys open.
    fn draft(&self) -> Option<Draft> {
        let mut draft = Draft::new(&self.name, &self.name, self.board()?).ok()?;
        for wish in &self.layers {
            draft.add_layer(&wish.name, wish.cluster).ok()?;
        }
        for (n, wish) in self.layers.iter().enumerate() {
            if let Some((index, kind)) = wish.access {
                let target = Target::Layer(LayerId(n as u8 + 1));
                draft.set(LayerId::BASE, index, Some(Assignment::Access(Access { kind, target })));
            }
        }
        Some(draft)
    }

    /// Offers our own access keys, each once.
    fn suggest(&mut self) {
        let Some(draft) = self.draft() else { return };
        let keys = draft.board.sites.len();
        let mut taken: Vec<usize> = Vec::new();
        for wish in &mut self.layers {
            wish.access = wish.access.filter(|(index, _)| *index < keys && !taken.contains(index));
            let free = |found: &(usize, AccessKind)| !taken.contains(&found.0);
            wish.access = wish.access.or_else(|| suggested(&draft, wish.cluster).filter(free));
            taken.extend(wish.access.map(|(index, _)| index));
        }
    }

    /// The keys in the order in which they are offered as accesses: the
    /// thumbs' first.
    fn offered(board: &Board) -> Vec<usize> {
        let thumb = |index: &usize| board.sites[*index].finger.digit == Digit::Thumb;
        let all = 0..board.sites.len();
        all.clone().filter(thumb).chain(all.filter(|index| !thumb(index))).collect()
    }

    /// Takes in one event.
    pub fn event(&mut self, event: &Event) -> Settled {
        let EventKind::Key(key) = &event.kind else { return Settled::Same };
        // A key held too long must not choose twice.
        if key.state != KeyState::Press {
            return Settled::Same;
        }
        let stroke = &key.stroke;
        match &mut self.at {
            At::Name(word, which) => {
                let which = *which;
                match word.stroke(stroke) {
                    Chosen::Same => Settled::Same,
                    Chosen::Moved => Settled::Changed,
                    Chosen::Closed => {
                        self.at = At::Layers;
                        Settled::Changed
                    }
                    Chosen::This(name) => self.named(&name, which),
                }
            }
            At::Finish(list) => match list.stroke(stroke) {
                Chosen::Same => Settled::Same,
                Chosen::Moved => Settled::Changed,
                Chosen::Closed => {
                    self.at = At::Accesses;
                    Settled::Changed
                }
                Chosen::This(then) => self.finish(then),
            },
            At::Board => self.on_board(stroke),
            At::Layers => self.on_layers(stroke),
            At::Accesses => self.on_accesses(stroke),
        }
    }

    fn on_board(&mut self, stroke: &Stroke) -> Settled {
        let step = |value: &mut u8, range: std::ops::RangeInclusive<u8>, by: i8, action| {
            let moved = value.saturating_add_signed(if action == Action::Less { -by } else { by });
            *value = moved.clamp(*range.start(), *range.end());
        };
        match keymap::action(Place::Making(Step::Board), stroke) {
            Some(Action::Up) => self.kind = (self.kind + KINDS - 1) % KINDS,
            Some(Action::Down) => self.kind = (self.kind + 1) % KINDS,
            Some(action @ (Action::Less | Action::More)) => match self.kind {
                2 => {
                    let sizes = [(4, 10), (4, 12), (5, 10), (5, 12)];
                    let at = sizes.iter().position(|size| *size == self.grid).unwrap_or(0);
                    let by = if action == Action::Less { sizes.len() - 1 } else { 1 };
                    self.grid = sizes[(at + by) % sizes.len()];
                }
                3 => step(&mut self.split[0], Shape::ROWS, 1, action),
                4 => step(&mut self.split[1], Shape::COLUMNS, 1, action),
                5 => step(&mut self.split[2], Shape::THUMBS, 1, action),
                _ => return Settled::Same,
            },
            Some(Action::Go) => {
                self.at = At::Layers;
                self.chosen = 0;
            }
            Some(Action::Back) => return Settled::Left,
            _ => return Settled::Same,
        }
        Settled::Changed
    }

    fn on_layers(&mut self, stroke: &Stroke) -> Settled {
        let count = self.layers.len();
        match keymap::action(Place::Making(Step::Layers), stroke) {
            Some(Action::Up) => self.chosen = (self.chosen + count.max(1) - 1) % count.max(1),
            Some(Action::Down) => self.chosen = (self.chosen + 1) % count.max(1),
            Some(action @ (Action::Less | Action::More)) => {
                let Some(wish) = self.layers.get_mut(self.chosen) else { return Settled::Same };
                // The base is the layer beneath them all.
                let all = &Cluster::ALL[1..];
                let at = all.iter().position(|cluster| *cluster == wish.cluster).unwrap_or(0);
                let by = if action == Action::Less { all.len() - 1 } else { 1 };
                wish.cluster = all[(at + by) % all.len()];
                wish.access = None;
            }
            Some(Action::Rename) => {
                let Some(wish) = self.layers.get(self.chosen) else { return Settled::Same };
                let word = Word {
                    text: wish.name.clone(),
                    ..Word::new(format!("Another name for the layer '{}'", wish.name))
                };
                self.at = At::Name(word, Some(self.chosen));
            }
            Some(Action::Add) => self.at = At::Name(Word::new("A name for the new layer"), None),
            Some(Action::Remove) => {
                if self.chosen < count {
                    self.layers.remove(self.chosen);
                    self.chosen = self.chosen.min(count.saturating_sub(2));
                }
            }
            Some(Action::Go) => {
                self.suggest();
                self.chosen = 0;
                if self.layers.is_empty() {
                    self.end();
                } else {
                    self.at = At::Accesses;
                }
            }
            Some(Action::Back) => self.at = At::Board,
            _ => return Settled::Same,
        }
        Settled::Changed
    }

    fn named(&mut self, name: &str, which: Option<usize>) -> Settled {
        let allowed = self
            .draft()
            .map(|draft| draft.allows(name, which.map(|index| LayerId(index as u8 + 1))));
        let At::Name(word, _) = &mut self.at else { return Settled::Same };
        if let Some(Err(error)) = allowed {
            word.wrong = Some(error.to_string());
            return Settled::Changed;
        }
        if let Some(wish) = which.and_then(|index| self.layers.get_mut(index)) {
            name.clone_into(&mut wish.name);
        } else {
            let cluster = Cluster::from_word(name).unwrap_or(Cluster::Other);
            self.layers.push(Wish { name: name.to_owned(), cluster, access: None });
            self.chosen = self.layers.len() - 1;
        }
        self.at = At::Layers;
        Settled::Changed
    }

    fn on_accesses(&mut self, stroke: &Stroke) -> Settled {
        let count = self.layers.len().max(1);
        match keymap::action(Place::Making(Step::Accesses), stroke) {
            Some(Action::Up) => self.chosen = (self.chosen + count - 1) % count,
            Some(Action::Down) => self.chosen = (self.chosen + 1) % count,
            Some(action @ (Action::Less | Action::More)) => {
                let Some(board) = self.board() else { return Settled::Same };
                let offered = Self::offered(&board);
                let taken: Vec<usize> = self
                    .layers
                    .iter()
                    .enumerate()
                    .filter(|(n, _)| *n != self.chosen)
                    .filter_map(|(_, wish)| wish.access.map(|(index, _)| index))
                    .collect();
                let Some(wish) = self.layers.get_mut(self.chosen) else { return Settled::Same };
                let kind = wish.access.map_or(AccessKind::Hold, |(_, kind)| kind);
                let by = if action == Action::Less { offered.len() - 1 } else { 1 };
                let mut at = wish
                    .access
                    .and_then(|(index, _)| offered.iter().position(|key| *key == index))
                    .unwrap_or(offered.len() - 1);
                for _ in 0..offered.len() {
                    at = (at + by) % offered.len();
                    if !taken.contains(&offered[at]) {
                        break;
                    }
                }
                wish.access = Some((offered[at], kind));
            }
            Some(Action::Turn) => {
                if let Some((_, kind)) =
                    self.layers.get_mut(self.chosen).and_then(|wish| wish.access.as_mut())
                {
                    *kind = match kind {
                        AccessKind::Hold => AccessKind::Latch,
                        AccessKind::Latch => AccessKind::Lock,
                        AccessKind::Lock => AccessKind::Hold,
                    };
                }
            }
            Some(Action::Go) => self.end(),
            Some(Action::Back) => self.at = At::Layers,
            _ => return Settled::Same,
        }
        Settled::Changed
    }

    fn end(&mut self) {
        let mut rows = vec![
            (
                'p',
                "Write it with layers of our own, to be changed at will, and practise".to_owned(),
                Then::Practise,
            ),
            (
                'w',
                "Write it with letters alone; the layers are yours to fill".to_owned(),
                Then::Write,
            ),
            (
                'c',
                "Strike each key, so that Etude learns what your keyboard sends".to_owned(),
                Then::Capture,
            ),
        ];
        if self.capturing {
            rows.rotate_right(1);
        }
        self.at = At::Finish(List::new("What now?", rows));
    }

    fn finish(&mut self, then: Then) -> Settled {
        let Some(mut draft) = self.draft() else { return Settled::Same };
        if then == Then::Capture {
            return Settled::Capture(Box::new(draft));
        }
        let practise = then == Then::Practise;
        fill(&mut draft, if practise { Fill::Ours } else { Fill::Letters });
        let reasons = [
            format!("{}: described on a guided screen.", self.name),
            String::new(),
            "Write here why the layout is as it is; the lines are kept with it.".to_owned(),
        ];
        Settled::Write { text: commented(&draft.layout(), &reasons), practise }
    }

    fn step(&self) -> (usize, &'static str, Place) {
        match &self.at {
            At::Board => (1, "Which board is it?", Place::Making(Step::Board)),
            At::Layers => {
                (2, "Which layers are there above the letters?", Place::Making(Step::Layers))
            }
            At::Name(..) => {
                (2, "Which layers are there above the letters?", Place::Making(Step::Word))
            }
            At::Accesses => (3, "Which key opens each layer?", Place::Making(Step::Accesses)),
            At::Finish(_) => (4, "All is described.", Place::Making(Step::List)),
        }
    }

    /// Draws the step; `file` is what is being made.
    pub fn draw(
        &self,
        area: Rect,
        buf: &mut Buffer,
        file: &str,
        trouble: Option<&str>,
        theme: Theme,
    ) {
        if frame::too_small(area, buf) {
            return;
        }
        let (head, body, foot) = frame::cut(area);
        let (number, question, place) = self.step();
        let title = Line::from(vec![
            Span::styled("A new layout", theme.style(Meaning::Strong)),
            Span::styled(format!("  {file}"), theme.style(Meaning::Muted)),
        ]);
        frame::row(head, buf, &title, &Line::raw(format!("step {number} of 4")));
        frame::row(foot, buf, &frame::keys(place, theme, foot.width), &Line::raw(""));
        let body = frame::notice(body, buf, trouble, theme);
        let width = usize::from(body.width);
        let mut lines = match &self.at {
            At::Finish(_) | At::Name(..) => Vec::new(),
            _ => vec![Line::styled(question, theme.style(Meaning::Strong))],
        };
        let Some(mut shown) = self.draft() else { return };
        fill(&mut shown, Fill::Letters);
        let layout = shown.layout();
        let mut accesses = Vec::new();
        let mut due = None;
        let mut opened: Vec<_> = self.layers.iter().filter_map(|wish| wish.access).collect();
        match &self.at {
            At::Board => {
                lines.extend(self.board_lines(theme));
                opened.clear();
            }
            At::Layers => lines.extend(self.layer_lines(width, theme)),
            At::Name(word, _) => lines.extend(word.lines(width, theme)),
            At::Accesses => {
                lines.extend(self.access_lines(&layout, width, theme));
                let own = self.layers.get(self.chosen).and_then(|wish| wish.access);
                due = own.map(|(index, _)| layout.board.sites[index].position);
            }
            At::Finish(list) => lines.extend(list.lines(width, theme)),
        }
        for (index, _) in opened {
            let position = layout.board.sites[index].position;
            if Some(position) != due {
                accesses.push(position);
            }
        }
        let below = Below { layout: &layout, layer: LayerId::BASE, due, accesses: &accesses };
        list::draw(body, buf, &lines, Some(&below), theme);
    }

    fn board_lines(&self, theme: Theme) -> Vec<Line<'static>> {
        let [rows, columns, thumbs] = self.split;
        let (grid_rows, grid_columns) = self.grid;
        let arrows = |chosen: bool, text: String| match (chosen, theme.unicode) {
            (true, true) => format!("◂ {text} ▸"),
            (true, false) => format!("< {text} >"),
            _ => format!("  {text}"),
        };
        let entries = [
            ("Full size, ANSI", String::new()),
            ("Full size, ISO", String::new()),
            ("Grid            rows × columns", format!("{grid_rows} × {grid_columns}")),
            ("Split           rows of a half", rows.to_string()),
            ("                keys of a row of a half", columns.to_string()),
            ("                thumb keys of a half", thumbs.to_string()),
        ];
        entries
            .into_iter()
            .enumerate()
            .map(|(n, (label, value))| {
                let chosen = n == self.kind;
                let group = chosen || (n >= SPLIT && self.kind >= SPLIT);
                let style = theme.style(match (chosen, group) {
                    (true, _) => Meaning::Strong,
                    (_, true) => Meaning::Text,
                    _ => Meaning::Muted,
                });
                let value = if value.is_empty() { value } else { arrows(chosen, value) };
                Line::from(vec![
                    Span::styled(mark(chosen, theme), style),
                    Span::styled(format!("{label:<42}{value}"), style),
                ])
            })
            .collect()
    }

    fn layer_lines(&self, width: usize, theme: Theme) -> Vec<Line<'static>> {
        if self.layers.is_empty() {
            return vec![Line::styled("  none; + adds one", theme.style(Meaning::Muted))];
        }
        let muted = theme.style(Meaning::Muted);
        self.layers
            .iter()
            .enumerate()
            .map(|(n, wish)| {
                let chosen = n == self.chosen;
                let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Text });
                let name = frame::clip(&wish.name, 20.min(width), theme);
                Line::from(vec![
                    Span::styled(format!("{}{name:<22}", mark(chosen, theme)), style),
                    Span::styled(format!("drilled as {}", wish.cluster.word()), muted),
                ])
            })
            .collect()
    }

    fn access_lines(
        &self,
        layout: &crate::layout::Layout,
        width: usize,
        theme: Theme,
    ) -> Vec<Line<'static>> {
        self.layers
            .iter()
            .enumerate()
            .map(|(n, wish)| {
                let chosen = n == self.chosen;
                let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Text });
                let name = frame::clip(&wish.name, 20.min(width), theme);
                let how = match wish.access {
                    Some((index, kind)) => {
                        format!("{:<6}{}", kind.word(), place_of(layout, index))
                    }
                    None => "no key yet".to_owned(),
                };
                Line::from(vec![
                    Span::styled(format!("{}{name:<22}", mark(chosen, theme)), style),
                    Span::styled(how, style),
                ])
            })
            .collect()
    }
}
