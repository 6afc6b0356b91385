//! The layers of a layout side by side, and where something lies.

use crate::keyboard::{NamedKey, Output, Position};
use crate::layout::token::read_output;
use crate::layout::{Access, Assignment, LayerId, Layout, Route, Target, routes};
use crate::session::{Event, EventKind, KeyState, Stroke};
use crate::ui::keymap::{self, Action, Place};
use crate::ui::run::{App, Flow, News};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::BoardView;
use crate::ui::widget::frame;
use crate::units::Micros;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use std::cell::Cell;
use unicode_width::UnicodeWidthStr;

/// The most routes that are told in words.
const MOST_ROUTES: usize = 3;
/// The longest search, characters.
const LONGEST: usize = 40;
/// Blank columns between two boards.
const GAP: u16 = 2;

/// The state of the screen.
#[derive(Debug)]
pub struct Look {
    layout: Layout,
    theme: Theme,
    search: String,
    found: Vec<Route>,
    scroll: u16,
    /// How far it can be scrolled, from the last drawing.
    hidden: Cell<u16>,
    ended: Option<Ended>,
}

/// How the person ended the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Back to where they were before.
    Back,
    /// Out of the program.
    Quit,
}

impl Look {
    /// The screen of `layout`, with a search already typed.
    pub fn new(layout: Layout, search: &str, theme: Theme) -> Self {
        let search = search.chars().take(LONGEST).collect();
        let mut look = Self {
            layout,
            theme,
            search,
            found: Vec::new(),
            scroll: 0,
            hidden: Cell::new(0),
            ended: None,
        };
        look.find();
        look
    }

    /// What is searched for, if that is an output.
    fn wanted(&self) -> Option<Output> {
        read_output(&self.search).ok()
    }

    fn find(&mut self) {
        self.found = self.wanted().map(|output| routes(&self.layout, &output)).unwrap_or_default();
        self.scroll = 0;
    }

    /// Takes in an event; true where the screen has to be drawn anew.
    pub fn event(&mut self, event: &Event) -> bool {
        match &event.kind {
            // Shift and its kind come with what is typed.
            EventKind::Key(key) => {
                key.state != KeyState::Release
                    && !key.stroke.is_silent()
                    && self.stroke(&key.stroke)
            }
            _ => false,
        }
    }

    /// How the person ended the screen; none as long as it is looked at.
    pub fn ended(&self) -> Option<Ended> {
        self.ended
    }

    fn stroke(&mut self, stroke: &Stroke) -> bool {
        match keymap::action(Place::Look, stroke) {
            Some(Action::Up) => self.scroll = self.scroll.saturating_sub(4),
            Some(Action::Down) => {
                self.scroll = self.scroll.saturating_add(4).min(self.hidden.get());
            }
            Some(Action::Back) if self.search.is_empty() => self.ended = Some(Ended::Back),
            Some(Action::Back) => {
                self.search.clear();
                self.find();
            }
            Some(Action::Quit) => self.ended = Some(Ended::Quit),
            _ => return self.typed(stroke),
        }
        true
    }

    fn typed(&mut self, stroke: &Stroke) -> bool {
        match stroke.output() {
            Output::Key(NamedKey::Backspace) if !self.search.is_empty() => {
                self.search.pop();
            }
            // A key or a chord is searched for by striking it.
            Output::Text(text) if text == " " => "Space".clone_into(&mut self.search),
            Output::Text(text) if self.search.chars().count() + text.chars().count() <= LONGEST => {
                self.search.push_str(&text);
            }
            Output::Text(_) => return false,
            other => self.search = other.to_string(),
        }
        self.find();
        true
    }

    /// The words above the boards.
    fn words(&self, width: usize) -> Vec<Line<'static>> {
        let theme = self.theme;
        let muted = theme.style(Meaning::Muted);
        if self.search.is_empty() {
            return vec![Line::styled(
                "Type what you look for: a character, Enter, Ctrl+C … or strike the key.",
                muted,
            )];
        }
        let mut first = vec![
            Span::styled("Where is ", muted),
            Span::styled(self.search.clone(), theme.style(Meaning::Strong)),
            Span::styled(" ", theme.style(Meaning::Caret)),
        ];
        if self.found.is_empty() {
            let words = if self.wanted().is_some() {
                "  nowhere on this layout"
            } else {
                "  go on typing: a key's whole name, such as ArrowLeft"
            };
            first.push(Span::styled(words, theme.style(Meaning::Caution)));
        }
        let mut lines = vec![Line::from(first)];
        for (n, route) in self.found.iter().take(MOST_ROUTES).enumerate() {
            let on = &self.layout.layer(route.layer).name;
            let more = match self.found.len() {
                all if n + 1 == MOST_ROUTES && all > MOST_ROUTES => {
                    format!(", and {} ways more", all - MOST_ROUTES)
                }
                _ => String::new(),
            };
            let tell = |words: String| format!("{}. {words} on {on}{more}", n + 1);
            let mut words = tell(route.words(&self.layout));
            if words.width() > width {
                words = tell(route.brief_words(&self.layout));
            }
            let meaning = if n == 0 { Meaning::Text } else { Meaning::Muted };
            lines.push(Line::styled(frame::clip(&words, width, theme), theme.style(meaning)));
        }
        lines
    }

    fn view<'a>(&'a self, layer: LayerId, accesses: &'a [Position]) -> BoardView<'a> {
        let due = self.found.iter().find(|route| route.layer == layer);
        BoardView {
            layout: &self.layout,
            layer,
            due: due.map(|route| route.position),
            accesses,
            theme: self.theme,
            heat: &[],
        }
    }

    /// The access keys to mark on `layer`: those of the way to what was found
    /// there.
    fn accesses(&self, layer: LayerId) -> Vec<Position> {
        let route = self.found.iter().find(|route| route.layer == layer);
        let on_it = route.into_iter().flat_map(|route| &route.accesses);
        on_it.map(|step| step.position).collect()
    }

    /// "S symbols  hold LT2".
    fn title(&self, id: LayerId) -> Line<'static> {
        let layer = self.layout.layer(id);
        let theme = self.theme;
        let style = theme.style(Meaning::Layer(id.0)).patch(theme.style(Meaning::Strong));
        let name = Span::styled(format!("{}  {}", layer.sign, layer.name), style);
        let opened = self.layout.layers.iter().find_map(|on| {
            on.keys.iter().zip(&self.layout.board.sites).find_map(|(key, site)| {
                let access = access_of(key)?;
                (access.target == Target::Layer(id))
                    .then(|| format!("  {} {}", access.kind.word(), site.position))
            })
        });
        let opened = if id == LayerId::BASE { String::new() } else { opened.unwrap_or_default() };
        Line::from(vec![name, Span::styled(opened, theme.style(Meaning::Muted))])
    }

    /// Draws the screen.
    pub fn render(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let theme = self.theme;
        let (head, body, foot) = frame::cut(area);
        let title = Line::from(vec![
            Span::styled(self.layout.name.clone(), theme.style(Meaning::Strong)),
            Span::styled(format!("  {}", self.layout.title), theme.style(Meaning::Muted)),
        ]);
        frame::row(foot, buf, &frame::keys(Place::Look, theme, foot.width), &Line::raw(""));
        let words = self.words(usize::from(body.width));
        let above = (words.len() as u16 + 1).min(body.height);
        for (n, line) in words.iter().enumerate().take(usize::from(body.height)) {
            buf.set_line(body.x, body.y + n as u16, line, body.width);
        }
        let room = Rect { y: body.y + above, height: body.height - above, ..body };
        let hidden = self.boards(room, buf);
        let more = if self.scroll < hidden { "more below" } else { "" };
        frame::row(head, buf, &title, &Line::styled(more, theme.style(Meaning::Muted)));
        self.hidden.set(hidden);
    }

    /// Draws every layer into `room`, as many beside one another as fit, boxes
    /// where all of them fit so; returns how many rows are hidden.
    fn boards(&self, room: Rect, buf: &mut Buffer) -> u16 {
        let least = self.view(LayerId::BASE, &[]);
        let narrow = least.width(0, least.least_height()).max(1);
        let most = (self.layout.layers.len() as u16).max(1);
        let columns = ((room.width + GAP) / (narrow + GAP)).clamp(1, most);
        let lines = most.div_ceil(columns);
        let each = (room.width + GAP) / columns - GAP.min(room.width);
        // Boxes where all of them fit; lines otherwise.
        let full = least.height(each);
        let fits = lines * (full + 2) <= room.height + 1;
        let height = if fits { full } else { least.least_height() };
        let block = height + 2;
        let hidden = (lines * block).saturating_sub(room.height + 1);
        let scroll = self.scroll.min(hidden);
        // Drawn on a sheet of its own, of which `room` shows a part.
        let mut sheet = Buffer::empty(Rect::new(0, 0, room.width, lines * block));
        for (id, _) in self.layout.layers() {
            let n = u16::from(id.0);
            let (x, y) = ((n % columns) * (each + GAP), (n / columns) * block);
            let accesses = self.accesses(id);
            let view = self.view(id, &accesses);
            sheet.set_line(x, y, &self.title(id), each);
            (&view).render(Rect::new(x, y + 1, each, height), &mut sheet);
        }
        for y in 0..room.height {
            for x in 0..room.width {
                let from = sheet.cell((x, y + scroll)).cloned();
                if let (Some(from), Some(to)) = (from, buf.cell_mut((room.x + x, room.y + y))) {
                    *to = from;
                }
            }
        }
        hidden
    }
}

fn access_of(key: &Assignment) -> Option<Access> {
    match key {
        Assignment::Access(access) => Some(*access),
        Assignment::Dual { hold, .. } => Some(*hold),
        _ => None,
    }
}

impl App for Look {
    fn handle(&mut self, news: News) -> Flow {
        let redraw = match news {
            News::Event(Event { kind: EventKind::Leave, .. }) => return Flow::Leave,
            News::Event(event) => self.event(&event),
            News::Level(_) => false,
            News::Ground(ground) => {
                self.theme.ground = ground;
                true
            }
            News::Resize => true,
        };
        match (self.ended.is_some(), redraw) {
            (true, _) => Flow::Leave,
            (false, true) => Flow::Redraw,
            (false, false) => Flow::Same,
        }
    }

    fn draw(&mut self, frame: &mut Frame) {
        self.render(frame.area(), frame.buffer_mut());
    }

    fn next_wake(&self) -> Option<Micros> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Modifiers;
    use crate::layout::shipped;
    use crate::session::KeyEvent;
    use crate::ui::tests::{ASCII, DARK, picture};
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    fn seen(look: &mut Look, (width, height): (u16, u16)) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| look.draw(frame)).unwrap();
        picture(terminal.backend().buffer())
    }

    fn strike(look: &mut Look, stroke: Stroke) -> Flow {
        let kind = EventKind::Key(KeyEvent::press(stroke));
        look.handle(News::Event(Event { at: Micros::ZERO, kind }))
    }

    fn look(name: &str, search: &str, theme: Theme) -> Look {
        Look::new(shipped::load(name).unwrap(), search, theme)
    }

    #[test]
    fn layers_stand_side_by_side_where_there_is_room() {
        let mut look = look("tern-split", "", DARK);
        insta::assert_snapshot!("look_80x24_dark", seen(&mut look, (80, 24)));
        insta::assert_snapshot!("look_120x40_dark", seen(&mut look, (120, 40)));
    }

    #[test]
    fn a_search_marks_every_way() {
        let mut look = look("tern-split", "", ASCII);
        strike(&mut look, Stroke::char('('));
        insta::assert_snapshot!("where_120x40_ascii", seen(&mut look, (120, 40)));
        // In whole without the fingers, where there is no room for them.
        let drawn = seen(&mut look, (80, 24));
        assert!(drawn.contains("1. hold LT2 for symbols, strike C07 on symbols"), "{drawn}");
        // A key is searched for by striking it; Esc ends the search, then leaves.
        strike(&mut look, Stroke::named(NamedKey::Enter, Modifiers::empty()));
        assert!(seen(&mut look, (80, 24)).contains("Where is Enter"));
        let escape = || Stroke::named(NamedKey::Escape, Modifiers::empty());
        assert_eq!(strike(&mut look, escape()), Flow::Redraw);
        assert_eq!(strike(&mut look, escape()), Flow::Leave);
    }

    #[test]
    fn what_is_nowhere_is_said() {
        let mut nowhere = look("tern-split", "漢", DARK);
        assert!(seen(&mut nowhere, (80, 24)).contains("nowhere on this layout"));
        let mut half = look("tern-split", "Arrow", DARK);
        assert!(seen(&mut half, (80, 24)).contains("go on typing"));
    }

    #[test]
    fn no_size_panics_and_scrolling_ends() {
        for name in ["tern-laptop", "tern-ortho"] {
            let mut look = look(name, "~", DARK);
            for width in (0..=160).step_by(19) {
                for height in (0..=45).step_by(3) {
                    seen(&mut look, (width.max(1), height.max(1)));
                    strike(&mut look, Stroke::named(NamedKey::ArrowDown, Modifiers::empty()));
                    assert!(look.scroll <= look.hidden.get());
                }
            }
        }
    }
}
