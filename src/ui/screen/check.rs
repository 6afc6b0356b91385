//! The check of a terminal: one key or chord after another is asked for, and
//! what arrives is kept at once.

use crate::keyboard::{NamedKey, Output};
use crate::order::InOrder;
use crate::practice::Passing;
use crate::session::{
    Arrival, Check, Checked, Event, EventKind, Finding, KeyEvent, KeyState, Level, Step,
};
use crate::ui::run::{App, Flow, News};
use crate::ui::theme::{Meaning, Theme};
use crate::units::Micros;
use ratatui::Frame;
use ratatui::layout::{Alignment, Rect};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Wrap};
use std::collections::VecDeque;
use unicode_width::UnicodeWidthStr;

/// Escape this often within [`LEAVE_WITHIN`] leaves.
const LEAVE_TIMES: usize = 3;
const LEAVE_WITHIN: Micros = Micros::from_secs(1);

/// Keeps what was found; says why where it can't.
pub type Keep = Box<dyn FnMut(&Checked) -> Result<(), String>>;

/// The state of the screen.
pub struct CheckScreen {
    theme: Theme,
    level: Level,
    wanted: Vec<Passing>,
    checked: Checked,
    check: Check,
    /// What was found in this run, newest last.
    found: Vec<(Output, Finding)>,
    /// What happened besides, since the last finding.
    remark: Option<&'static str>,
    escapes: VecDeque<Micros>,
    keep: Keep,
    trouble: Option<String>,
}

impl CheckScreen {
    /// Asks for what of `wanted` the terminal's level delivers; `checked` is
    /// what is known of it, and `keep` gets that anew after each finding.
    pub fn new(theme: Theme, wanted: Vec<Passing>, checked: Checked, keep: Keep) -> Self {
        let mut screen = Self {
            theme,
            level: Level::Plain,
            check: Check::new(Level::Plain, &[], &checked),
            wanted,
            checked,
            found: Vec::new(),
            remark: None,
            escapes: VecDeque::new(),
            keep,
            trouble: None,
        };
        screen.begin();
        screen
    }

    /// Why what was found couldn't be kept, if it couldn't.
    pub fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// What is known of the terminal, this run included.
    pub fn checked(&self) -> &Checked {
        &self.checked
    }

    /// What the terminal turned out to tell about keys.
    pub fn level(&self) -> Level {
        self.level
    }

    fn begin(&mut self) {
        let outputs: Vec<Output> = self.wanted.iter().map(|one| one.output.clone()).collect();
        self.check = Check::new(self.level, &outputs, &self.checked);
        self.found.clear();
        self.remark = None;
    }

    fn key(&mut self, at: Micros, key: &KeyEvent) -> Flow {
        // A release whose press was swallowed says nothing, nor does a repeat.
        if key.state != KeyState::Press {
            return Flow::Same;
        }
        if key.stroke.plain_key() == Some(NamedKey::Escape) {
            self.escapes.push_back(at);
            self.forget_escapes(at);
            let leaving = self.escapes.len() >= LEAVE_TIMES || self.check.due().is_none();
            return if leaving { Flow::Leave } else { Flow::Redraw };
        }
        self.escapes.clear();
        if self.check.due().is_none() {
            let enter = key.stroke.plain_key() == Some(NamedKey::Enter);
            return if enter { Flow::Leave } else { Flow::Same };
        }
        match self.check.press(&key.stroke) {
            Step::Ignored => return Flow::Same,
            Step::Again(_) => {}
            Step::Passed => self.remark = None,
            Step::Found(output, finding) => {
                self.remark = None;
                self.checked.note(&self.level.key(), output.clone(), finding.clone());
                self.found.push((output, finding));
                if let Err(words) = (self.keep)(&self.checked) {
                    self.trouble = Some(words);
                }
            }
        }
        Flow::Redraw
    }

    fn forget_escapes(&mut self, now: Micros) {
        self.escapes.retain(|&then| now.since(then) < LEAVE_WITHIN);
    }

    fn title_of(&self, output: &Output) -> &str {
        let found = self.wanted.iter().find(|one| one.output == *output);
        found.map_or("", |one| one.title.as_str())
    }

    /// How many of what is wanted arrive, arrive as another, never arrive, are
    /// not tried yet.
    fn counts(&self) -> [usize; 4] {
        let mut counts = [0; 4];
        for one in &self.wanted {
            let found = self.checked.at(self.level).and_then(|found| found.get(&one.output));
            let place = match self.checked.arrival(self.level, &one.output) {
                Arrival::Delivered if found.is_none() => 3,
                Arrival::Delivered => 0,
                Arrival::Ambiguous => 1,
                Arrival::Swallowed => 2,
            };
            counts[place] += 1;
        }
        counts
    }

    fn body(&self) -> Vec<Line<'static>> {
        let strong = self.theme.style(Meaning::Strong);
        let muted = self.theme.style(Meaning::Muted);
        let mut lines = Vec::new();
        if let Some(due) = self.check.due() {
            let (passed, all) = self.check.progress();
            lines.push(Line::from(vec![
                Span::raw("Press   "),
                Span::styled(due.to_string(), strong),
                Span::styled(format!("   {}", self.title_of(due)), muted),
            ]));
            lines.push(Line::default());
            lines.push(match (self.check.other(), self.remark) {
                (Some(other), _) => Line::from(vec![
                    Span::styled(other.to_string(), self.theme.style(Meaning::Due)),
                    Span::raw(" arrived. The same once more, and it is kept as such."),
                ]),
                (None, Some(remark)) => Line::raw(remark),
                (None, None) => Line::raw(
                    "Once, as you do at work. Where the window does something itself, undo that.",
                ),
            });
            lines.push(Line::default());
            lines.push(Line::styled(format!("{} of {all}", passed + 1), muted));
        } else if self.check.progress().1 == 0 {
            lines.push(Line::raw("Nothing that drills count on has to be tried here."));
        } else {
            lines.push(Line::styled("That was all. Kept for this terminal.", strong));
        }
        let [arrive, other, never, open] = self.counts();
        lines.push(Line::styled(
            format!("arrive {arrive}   as another {other}   never {never}   not tried {open}"),
            muted,
        ));
        if let Some(trouble) = &self.trouble {
            lines.push(Line::styled(format!("Not kept: {trouble}"), strong));
        }
        lines.push(Line::default());
        lines
    }

    /// What was found, newest first; at the end, what doesn't arrive first.
    fn list(&self) -> Vec<Line<'static>> {
        let mut found: Vec<&(Output, Finding)> = self.found.iter().rev().collect();
        if self.check.due().is_none() {
            found.order_by_key(|(_, finding)| std::cmp::Reverse(finding.arrival()));
        }
        found
            .into_iter()
            .map(|(output, finding)| {
                let name = output.to_string();
                let room = " ".repeat(24_usize.saturating_sub(name.width()).max(1));
                let (words, meaning) = match finding {
                    Finding::Itself => ("arrives".to_owned(), Meaning::Muted),
                    Finding::Other(other) => (format!("arrives as {other}"), Meaning::Strong),
                    Finding::Nothing => ("nothing arrives".to_owned(), Meaning::Strong),
                };
                let style = self.theme.style(meaning);
                Line::from(vec![
                    Span::styled(format!("{name}{room}"), style),
                    Span::styled(words, style),
                ])
            })
            .collect()
    }

    fn foot(&self, width: usize) -> Line<'static> {
        let key = |name: &'static str| Span::styled(name, self.theme.style(Meaning::Strong));
        let words = |text: &'static str| Span::styled(text, self.theme.style(Meaning::Muted));
        if self.check.due().is_none() {
            return Line::from(vec![key("Enter"), words(" or "), key("Esc"), words(" leaves")]);
        }
        let (full, open) = if self.theme.unicode { ("●", "○") } else { ("#", ".") };
        let struck = self.escapes.len().min(LEAVE_TIMES);
        let marks = format!(" {}{}", full.repeat(struck), open.repeat(LEAVE_TIMES - struck));
        let meaning = if struck > 0 { Meaning::Strong } else { Meaning::Muted };
        let marks = Span::styled(marks, self.theme.style(meaning));
        let mut spans = if width >= 62 {
            vec![
                key("Enter"),
                words(" nothing happened   "),
                key("Tab"),
                words(" later   "),
                key("Esc"),
                words(" three times leaves"),
            ]
        } else if width >= 36 {
            vec![
                key("Enter"),
                words(" nothing  "),
                key("Tab"),
                words(" later  "),
                key("Esc"),
                words(" 3 times"),
            ]
        } else {
            vec![key("Esc"), words(" 3 times")]
        };
        spans.push(marks);
        Line::from(spans)
    }
}

impl App for CheckScreen {
    fn handle(&mut self, news: News) -> Flow {
        match news {
            News::Event(Event { at, kind }) => match kind {
                EventKind::Key(key) => return self.key(at, &key),
                EventKind::FocusLost | EventKind::FocusGained => {
                    self.remark = Some("The window lost the keyboard: if that key did it, Enter.");
                }
                EventKind::Paste(_) => {
                    self.remark = Some("Something was pasted: if that key did it, Enter.");
                }
                EventKind::Interrupted => self.escapes.clear(),
                EventKind::Tick => self.forget_escapes(at),
                EventKind::Leave => {}
            },
            News::Level(level) if level != self.level => {
                self.level = level;
                self.begin();
            }
            News::Level(_) | News::Resize => {}
            News::Ground(ground) => self.theme.ground = ground,
        }
        Flow::Redraw
    }

    fn draw(&mut self, frame: &mut Frame) {
        let area = frame.area();
        let (width, height) = (area.width, area.height);
        let row = |y: u16, rows: u16| {
            let inner = width.saturating_sub(4);
            Rect::new(area.x + 2.min(width), area.y.saturating_add(y), inner, rows)
                .intersection(area)
        };
        let muted = self.theme.style(Meaning::Muted);
        let framed = height >= 12;
        let (top, bottom) = if framed { (3, 2) } else { (0, 1) };
        if framed {
            let rule = if self.theme.unicode { "─" } else { "-" }.repeat(width.into());
            let line = |y| Rect::new(area.x, area.y + y, width, 1);
            let title =
                Span::styled("What this terminal lets through", self.theme.style(Meaning::Strong));
            frame.render_widget(Paragraph::new(Line::from(title)), row(0, 1));
            let level = self.level.name();
            if usize::from(width) >= 40 + level.width() {
                let level = Span::styled(level, self.theme.style(Meaning::Access));
                let level = Paragraph::new(Line::from(level)).alignment(Alignment::Right);
                frame.render_widget(level, row(0, 1));
            }
            frame.render_widget(Paragraph::new(Span::styled(rule.clone(), muted)), line(1));
            frame.render_widget(Paragraph::new(Span::styled(rule, muted)), line(height - 2));
        }
        if height > bottom {
            let foot = self.foot(usize::from(width));
            frame.render_widget(Paragraph::new(foot), row(height - 1, 1));
        }
        let room = height.saturating_sub(top + bottom);
        let mut lines = self.body();
        lines.extend(self.list());
        lines.truncate(room.into());
        frame.render_widget(Paragraph::new(lines).wrap(Wrap { trim: false }), row(top, room));
    }

    /// Only to take back the marks of Escapes that were too slow.
    fn next_wake(&self) -> Option<Micros> {
        self.escapes.front().map(|&first| first + LEAVE_WITHIN)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::Modifiers;
    use crate::session::{Granted, Stroke};
    use ratatui::Terminal;
    use ratatui::backend::TestBackend;
    use std::cell::RefCell;
    use std::rc::Rc;

    fn output(word: &str) -> Output {
        word.parse().unwrap()
    }

    fn event(at_ms: u64, key: KeyEvent) -> News {
        News::Event(Event { at: Micros::from_ms(at_ms), kind: EventKind::Key(key) })
    }

    fn press(stroke: Stroke) -> News {
        event(0, KeyEvent::press(stroke))
    }

    fn named(key: NamedKey) -> Stroke {
        Stroke::named(key, Modifiers::empty())
    }

    fn ctrl(c: char, more: Modifiers) -> Stroke {
        Stroke { modifiers: Modifiers::CTRL | more, ..Stroke::char(c) }
    }

    /// The screen with four things to ask for, and what it keeps.
    fn screen() -> (CheckScreen, Rc<RefCell<Checked>>) {
        let kept = Rc::new(RefCell::new(Checked::default()));
        let into = Rc::clone(&kept);
        let wanted = [
            ("Ctrl+C", "copy"),
            ("Ctrl+Shift+V", "paste without formatting"),
            ("Ctrl+PageUp", "to the tab before"),
            ("Ctrl+X", "cut"),
        ]
        .map(|(word, title)| Passing { output: output(word), title: title.to_owned() });
        let keep: Keep = Box::new(move |checked| {
            *into.borrow_mut() = checked.clone();
            Ok(())
        });
        let mut screen = CheckScreen::new(Theme::PLAIN, wanted.to_vec(), Checked::default(), keep);
        screen.handle(News::Level(Level::Enhanced(Granted::all())));
        (screen, kept)
    }

    fn drawn(screen: &mut CheckScreen, width: u16, height: u16) -> String {
        let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
        terminal.draw(|frame| screen.draw(frame)).unwrap();
        if width == 0 { String::new() } else { terminal.backend().to_string() }
    }

    #[test]
    fn each_finding_is_kept_at_once() {
        let (mut screen, kept) = screen();
        let level = screen.level();
        screen.handle(press(ctrl('c', Modifiers::empty())));
        assert_eq!(kept.borrow().at(level).unwrap()[&output("Ctrl+C")], Finding::Itself);
        screen.handle(press(named(NamedKey::Enter)));
        assert_eq!(kept.borrow().at(level).unwrap()[&output("Ctrl+Shift+V")], Finding::Nothing);
        for _ in 0..2 {
            screen.handle(press(named(NamedKey::PageUp)));
        }
        let other = Finding::Other(output("PageUp"));
        assert_eq!(kept.borrow().at(level).unwrap()[&output("Ctrl+PageUp")], other);
        assert_eq!(screen.handle(press(named(NamedKey::Tab))), Flow::Redraw);
        assert_eq!(kept.borrow().at(level).unwrap().len(), 3, "put off, not answered");
        assert_eq!(screen.handle(press(named(NamedKey::Enter))), Flow::Leave);
    }

    #[test]
    fn a_leaked_release_and_a_repeat_are_no_answers() {
        let (mut screen, kept) = screen();
        for state in [KeyState::Release, KeyState::Repeat] {
            let stroke = ctrl('v', Modifiers::empty());
            let leaked = KeyEvent { stroke, state, batched: false };
            assert_eq!(screen.handle(event(0, leaked)), Flow::Same);
        }
        assert_eq!(*kept.borrow(), Checked::default());
    }

    #[test]
    fn escape_three_times_within_a_second_leaves() {
        let (mut screen, _) = screen();
        let escape = |at| event(at, KeyEvent::press(named(NamedKey::Escape)));
        assert_eq!(screen.handle(escape(0)), Flow::Redraw);
        assert_eq!(screen.handle(escape(900)), Flow::Redraw);
        assert_eq!(screen.handle(escape(1000)), Flow::Redraw, "the first is a second old");
        assert_eq!(screen.handle(escape(1100)), Flow::Leave);
    }

    #[test]
    fn the_screen_in_work_and_at_its_end() {
        let (mut screen, _) = screen();
        screen.handle(press(ctrl('c', Modifiers::empty())));
        screen.handle(press(named(NamedKey::Enter)));
        screen.handle(press(named(NamedKey::PageUp)));
        insta::assert_snapshot!("check_in_work", drawn(&mut screen, 80, 24));
        insta::assert_snapshot!("check_small", drawn(&mut screen, 40, 10));
        screen.handle(press(named(NamedKey::PageUp)));
        screen.handle(press(ctrl('x', Modifiers::empty())));
        insta::assert_snapshot!("check_at_its_end", drawn(&mut screen, 80, 24));
    }

    #[test]
    fn another_level_begins_anew() {
        let (mut screen, _) = screen();
        screen.handle(press(ctrl('c', Modifiers::empty())));
        screen.handle(News::Level(Level::Plain));
        let text = drawn(&mut screen, 80, 24);
        assert!(text.contains("1 of 3") && text.contains("as another 1"), "{text}");
    }

    #[test]
    fn what_cannot_be_kept_is_told() {
        let keep: Keep = Box::new(|_| Err("the folder is read-only".to_owned()));
        let wanted = vec![Passing { output: output("Ctrl+C"), title: "copy".to_owned() }];
        let mut screen = CheckScreen::new(Theme::PLAIN, wanted, Checked::default(), keep);
        screen.handle(press(ctrl('c', Modifiers::empty())));
        assert_eq!(screen.trouble(), Some("the folder is read-only"));
        assert!(drawn(&mut screen, 80, 24).contains("Not kept: the folder is read-only"));
    }

    #[test]
    fn no_size_panics() {
        let (mut screen, _) = screen();
        screen.handle(press(ctrl('c', Modifiers::empty())));
        for width in 0..=90 {
            for height in 0..=26 {
                drawn(&mut screen, width, height);
            }
        }
    }
}
