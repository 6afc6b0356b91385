//! Each key event as it arrives, so that a person sees what the terminal
//! makes of the keyboard.

use crate::keyboard::{LEVEL5_SHIFT, NamedKey};
use crate::session::{Event, EventKind, KeyEvent, KeyState, Level, StrokeKey};
use crate::ui::run::{App, Flow, News};
use crate::ui::theme::{Meaning, Theme};
use crate::units::Micros;
use ratatui::Frame;
use ratatui::layout::{Alignment, Rect};
use ratatui::text::{Line, Span};
use ratatui::widgets::Paragraph;
use std::collections::VecDeque;
use std::io::Write;
use unicode_width::UnicodeWidthStr;

/// Rows that are kept for terminals that grow.
const KEPT: usize = 500;
/// Escape this often within [`LEAVE_WITHIN`] leaves.
const LEAVE_TIMES: usize = 3;
const LEAVE_WITHIN: Micros = Micros::from_secs(1);

/// One line of the list.
#[derive(Debug, Clone)]
enum Row {
    Key { key: KeyEvent, since: Option<Micros> },
    Remark(String),
}

/// The state of the screen.
pub struct Watch {
    theme: Theme,
    level: Level,
    rows: VecDeque<Row>,
    presses: u64,
    last_press: Option<Micros>,
    escapes: VecDeque<Micros>,
    log: Option<Box<dyn Write>>,
    log_error: Option<String>,
}

/// A column: heading, width, and how wide the list must be to show it.
const COLUMNS: [(&str, usize, usize); 7] = [
    ("arrives as", 17, 0),
    ("key", 11, 56),
    ("held", 15, 72),
    ("text", 6, 40),
    ("place", 6, 48),
    ("state", 8, 26),
    ("since press", 12, 32),
];

impl Watch {
    /// An empty list. Key events also go to `log`, one JSON object a line.
    pub fn new(theme: Theme, log: Option<Box<dyn Write>>) -> Self {
        Self {
            theme,
            level: Level::Plain,
            rows: VecDeque::new(),
            presses: 0,
            last_press: None,
            escapes: VecDeque::new(),
            log,
            log_error: None,
        }
    }

    /// Why the log is incomplete, if it is.
    pub fn log_error(&self) -> Option<&str> {
        self.log_error.as_deref()
    }

    fn push(&mut self, row: Row) {
        if self.rows.len() == KEPT {
            self.rows.pop_front();
        }
        self.rows.push_back(row);
    }

    fn key(&mut self, at: Micros, key: KeyEvent) -> Flow {
        let since = (key.state == KeyState::Press && !key.batched)
            .then(|| self.last_press.map(|last| at.since(last)))
            .flatten();
        self.write_log(at, &key, since);
        let leaving = key.state == KeyState::Press && self.counts_to_leave(at, &key);
        if key.state == KeyState::Press {
            self.presses += 1;
            self.last_press = Some(at);
        }
        self.push(Row::Key { key, since });
        if leaving { Flow::Leave } else { Flow::Redraw }
    }

    fn counts_to_leave(&mut self, at: Micros, key: &KeyEvent) -> bool {
        if key.stroke.plain_key() != Some(NamedKey::Escape) {
            self.escapes.clear();
            return false;
        }
        self.escapes.push_back(at);
        self.forget_escapes(at);
        self.escapes.len() >= LEAVE_TIMES
    }

    fn forget_escapes(&mut self, now: Micros) {
        self.escapes.retain(|&then| now.since(then) < LEAVE_WITHIN);
    }

    fn write_log(&mut self, at: Micros, key: &KeyEvent, since: Option<Micros>) {
        let Some(log) = &mut self.log else { return };
        let line = serde_json::json!({
            "at_us": at.0,
            "since_press_us": since.map(|m| m.0),
            "state": state_word(key.state),
            "output": key.stroke.output().to_string(),
            "key": key_name(key.stroke.key),
            "modifiers": key.stroke.modifiers.to_string(),
            "text": key.stroke.text,
            "base": key.stroke.base,
            "batched": key.batched,
        });
        if let Err(error) = writeln!(log, "{line}") {
            self.log_error = Some(error.to_string());
            self.log = None;
            self.push(Row::Remark(format!("the log ends here: {error}")));
        }
    }

    fn cells(&self, key: &KeyEvent, since: Option<Micros>) -> [String; 7] {
        let stroke = &key.stroke;
        let enhanced = matches!(self.level, Level::Enhanced(_));
        [
            stroke.output().to_string(),
            key_name(stroke.key),
            stroke.modifiers.to_string(),
            stroke.text.as_deref().map(shown).unwrap_or_default(),
            stroke.base.map(String::from).unwrap_or_default(),
            if enhanced || key.state != KeyState::Press {
                state_word(key.state).to_owned()
            } else {
                "arrives".to_owned()
            },
            match since {
                Some(since) => format!("{:>8.1} ms", since.as_ms()),
                None if key.batched => "together".to_owned(),
                None => String::new(),
            },
        ]
    }

    fn row_line(&self, row: &Row, width: usize) -> Line<'static> {
        let (key, since) = match row {
            Row::Remark(words) => {
                let style = self.theme.style(Meaning::Muted);
                return Line::from(Span::styled(format!("  {words}"), style));
            }
            Row::Key { key, since } => (key, *since),
        };
        let body = match key.state {
            KeyState::Press => Meaning::Text,
            KeyState::Repeat | KeyState::Release => Meaning::Muted,
        };
        let mut spans = vec![Span::raw("  ")];
        for (n, (cell, (_, wide, from))) in
            self.cells(key, since).into_iter().zip(COLUMNS).enumerate()
        {
            if width < from {
                continue;
            }
            let meaning = match (n, body) {
                (0, Meaning::Text) => Meaning::Strong,
                _ => body,
            };
            spans.push(Span::styled(fitted(&cell, wide), self.theme.style(meaning)));
        }
        Line::from(spans)
    }

    fn heading(&self, width: usize) -> Line<'static> {
        let mut text = String::from("  ");
        for (name, wide, from) in COLUMNS {
            if width >= from {
                text.push_str(&fitted(name, wide));
            }
        }
        Line::from(Span::styled(text, self.theme.style(Meaning::Muted)))
    }

    fn foot(&self, width: usize) -> Line<'static> {
        let (full, open) = if self.theme.unicode { ("●", "○") } else { ("#", ".") };
        let struck = self.escapes.len().min(LEAVE_TIMES);
        let marks = format!("{}{}", full.repeat(struck), open.repeat(LEAVE_TIMES - struck));
        let words = if width >= 50 {
            "Esc three times within a second leaves"
        } else if width >= 20 {
            "Esc ×3 leaves"
        } else {
            "Esc ×3"
        };
        let words = if self.theme.unicode { words.to_owned() } else { words.replace('×', "x") };
        let meaning = if struck > 0 { Meaning::Strong } else { Meaning::Muted };
        Line::from(vec![
            Span::styled(format!("  {words}  "), self.theme.style(Meaning::Muted)),
            Span::styled(marks, self.theme.style(meaning)),
        ])
    }
}

impl App for Watch {
    fn handle(&mut self, news: News) -> Flow {
        match news {
            News::Event(Event { at, kind }) => match kind {
                EventKind::Key(key) => return self.key(at, key),
                EventKind::Paste(count) => {
                    self.push(Row::Remark(format!("a paste of {count} characters, not kept")));
                }
                EventKind::FocusLost => {
                    self.push(Row::Remark("the window lost the keyboard".to_owned()));
                    self.last_press = None;
                }
                EventKind::FocusGained => {
                    self.push(Row::Remark("the window has the keyboard".to_owned()));
                    self.last_press = None;
                }
                EventKind::Interrupted => {
                    self.push(Row::Remark("stopped and continued".to_owned()));
                    self.last_press = None;
                    self.escapes.clear();
                }
                EventKind::Tick => self.forget_escapes(at),
                EventKind::Leave => {}
            },
            News::Level(level) => {
                self.level = level;
                self.push(Row::Remark(format!("the terminal grants: {}", level.name())));
            }
            News::Ground(ground) => self.theme.ground = ground,
            News::Resize => {}
        }
        Flow::Redraw
    }

    fn draw(&mut self, frame: &mut Frame) {
        let area = frame.area();
        let (width, height) = (usize::from(area.width), area.height);
        let row = |y: u16, rows: u16| {
            Rect::new(area.x, area.y.saturating_add(y), area.width, rows).intersection(area)
        };
        let strong = self.theme.style(Meaning::Strong);
        let muted = self.theme.style(Meaning::Muted);
        let rule = if self.theme.unicode { "─" } else { "-" }.repeat(width);
        // The list comes last: rows are given to what can't be missed first.
        let (title, framed) = (height >= 3, height >= 8);
        let top = u16::from(title) + if framed { 3 } else { 0 };
        let bottom = if framed { 2 } else { u16::from(height >= 2) };
        if title {
            let name = Span::styled("  Keys as they arrive", strong);
            frame.render_widget(Paragraph::new(Line::from(name)), row(0, 1));
            let level = format!("{}  ", self.level.name());
            if width >= 24 + level.width() {
                let line = Line::from(Span::styled(level, self.theme.style(Meaning::Access)));
                frame.render_widget(Paragraph::new(line).alignment(Alignment::Right), row(0, 1));
            }
        }
        if framed {
            frame.render_widget(Paragraph::new(Span::styled(rule.clone(), muted)), row(1, 1));
            frame.render_widget(Paragraph::new(self.heading(width)), row(2, 1));
            frame.render_widget(Paragraph::new(Span::styled(rule, muted)), row(height - 2, 1));
        }
        if height >= 2 {
            frame.render_widget(Paragraph::new(self.foot(width)), row(height - 1, 1));
            let count = format!("{} presses  ", self.presses);
            if width >= 50 + count.len() {
                let line = Line::from(Span::styled(count, muted));
                let count = Paragraph::new(line).alignment(Alignment::Right);
                frame.render_widget(count, row(height - 1, 1));
            }
        }
        let room = height.saturating_sub(top + bottom);
        let list = row(top, room);
        if self.rows.is_empty() {
            let hint = Span::styled("  Strike any key.", self.theme.style(Meaning::Text));
            frame.render_widget(Paragraph::new(Line::from(hint)), list);
            return;
        }
        let first = self.rows.len().saturating_sub(usize::from(room));
        let lines: Vec<Line> =
            self.rows.iter().skip(first).map(|row| self.row_line(row, width)).collect();
        frame.render_widget(Paragraph::new(lines), list);
    }

    /// Only to take back the marks of Escapes that were too slow.
    fn next_wake(&self) -> Option<Micros> {
        self.escapes.front().map(|&first| first + LEAVE_WITHIN)
    }
}

fn state_word(state: KeyState) -> &'static str {
    match state {
        KeyState::Press => "press",
        KeyState::Repeat => "repeat",
        KeyState::Release => "release",
    }
}

fn key_name(key: StrokeKey) -> String {
    match key {
        StrokeKey::Char(c) => shown(c.encode_utf8(&mut [0; 4])),
        StrokeKey::Named(name) => name.to_string(),
        StrokeKey::Level5Shift => LEVEL5_SHIFT.to_owned(),
    }
}

fn shown(text: &str) -> String {
    if text == " " { "Space".to_owned() } else { text.to_owned() }
}

/// `text` in exactly `width` columns, with at least one blank at the end.
fn fitted(text: &str, width: usize) -> String {
    let mut cut = String::new();
    let mut used = 0;
    for c in text.chars() {
        let wide = UnicodeWidthStr::width(c.encode_utf8(&mut [0; 4]) as &str);
        if used + wide + 1 > width {
            break;
        }
        used += wide;
        cut.push(c);
    }
    cut.push_str(&" ".repeat(width - used));
    cut
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Modifiers;
    use crate::session::{Granted, Stroke};
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;

    fn press(at_ms: u64, stroke: Stroke) -> News {
        News::Event(Event {
            at: Micros::from_ms(at_ms),
            kind: EventKind::Key(KeyEvent::press(stroke)),
        })
    }

    fn escape(at_ms: u64) -> News {
        press(at_ms, Stroke::named(NamedKey::Escape, Modifiers::empty()))
    }

    fn drawn(watch: &mut Watch, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| watch.draw(frame)).unwrap();
        // The backend can't print itself without columns.
        if width == 0 { String::new() } else { terminal.backend().to_string() }
    }

    #[test]
    fn escape_three_times_within_a_second_leaves() {
        let mut watch = Watch::new(Theme::PLAIN, None);
        assert_eq!(watch.handle(escape(0)), Flow::Redraw);
        assert_eq!(watch.handle(escape(400)), Flow::Redraw);
        assert_eq!(watch.handle(escape(1000)), Flow::Redraw, "the first is a second old");
        assert_eq!(watch.handle(escape(1200)), Flow::Leave);
    }

    #[test]
    fn another_key_breaks_the_escapes() {
        let mut watch = Watch::new(Theme::PLAIN, None);
        watch.handle(escape(0));
        watch.handle(escape(100));
        watch.handle(press(200, Stroke::char('a')));
        assert_eq!(watch.handle(escape(300)), Flow::Redraw);
        assert_eq!(watch.next_wake(), Some(Micros::from_ms(1300)));
    }

    #[test]
    fn a_key_is_shown_with_all_that_is_known() {
        let mut watch = Watch::new(Theme::PLAIN, None);
        watch.handle(News::Level(Level::Enhanced(Granted::all())));
        watch.handle(press(0, Stroke::char('a')));
        let modifiers = Modifiers::CTRL | Modifiers::SHIFT;
        let stroke = Stroke { key: StrokeKey::Char('v'), modifiers, text: None, base: Some('c') };
        watch.handle(press(120, stroke));
        let screen = drawn(&mut watch, 80, 24);
        for part in ["Ctrl+Shift+V", "120.0 ms", "enhanced keyboard protocol", "press", "leaves"] {
            assert!(screen.contains(part), "{part}:\n{screen}");
        }
    }

    #[test]
    fn no_size_panics() {
        let mut watch = Watch::new(Theme::PLAIN, None);
        for at in 0..30 {
            watch.handle(press(at, Stroke::char('漢')));
        }
        watch.handle(News::Event(Event { at: Micros::ZERO, kind: EventKind::Paste(3) }));
        for width in 0..=90 {
            for height in 0..=26 {
                let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
                terminal.draw(|frame| watch.draw(frame)).unwrap();
            }
        }
    }
}
