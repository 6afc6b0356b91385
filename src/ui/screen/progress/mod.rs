//! Progress: five views of what the history says.

mod board;
mod calendar;
mod items;
mod layers;
mod switches;
#[cfg(test)]
mod tests;

use crate::layout::Layout;
use crate::progress::{Progress, Request, history};
use crate::session::{Change, Spread};
use crate::store::StoreError;
use crate::survey::Surveyed;
use crate::ui::keymap::{Action, Place, View as Which};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::path::Path;

pub use items::Order;

/// Ranges to choose from, days; 0 is everything.
const RANGES: [i32; 4] = [30, 90, 365, 0];
/// The one that is shown first.
const FIRST: usize = 1;

/// What was asked on the command line.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Asked {
    /// The first local day of the range.
    pub since: Option<i32>,
    /// The layer to begin with, by name; only this one is shown.
    pub layer: Option<String>,
}

/// Where the person is in the views.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    asked: Asked,
    /// Into [`RANGES`]; none while the asked-for day holds.
    range: Option<usize>,
    /// The view that is shown.
    pub which: Which,
    /// What the history says; none where there is none.
    data: Option<Progress>,
    /// Why the history can't be read.
    trouble: Option<String>,
    layer: usize,
    item: usize,
    /// Weeks back from the last.
    week: i32,
    errors: bool,
    order: Order,
}

impl State {
    /// The views as they were asked for; nothing is read yet.
    pub fn new(asked: Asked) -> Self {
        Self {
            range: asked.since.is_none().then_some(FIRST),
            asked,
            which: Which::Layers,
            data: None,
            trouble: None,
            layer: 0,
            item: 0,
            week: 0,
            errors: false,
            order: Order::Slow,
        }
    }

    /// Reads the history in the folder `data`; `surveyed` is what the person's
    /// texts have.
    pub fn read(
        &mut self,
        data: &Path,
        (layout, old_layout): (&Layout, Option<&Layout>),
        surveyed: Option<&Surveyed>,
        today: i32,
    ) {
        let request = Request {
            layout,
            old_layout,
            since: match self.range.map(|range| RANGES[range]) {
                None => self.asked.since,
                Some(0) => None,
                Some(days) => Some(today - days + 1),
            },
            today,
            only: self.asked.layer.as_deref(),
            surveyed,
        };
        let read = || -> Result<Option<Progress>, StoreError> {
            history(data)?.map(|store| Progress::read(&store, &request)).transpose()
        };
        match read() {
            Ok(progress) => {
                self.data = progress;
                self.trouble = None;
            }
            Err(error) => self.trouble = Some(error.to_string()),
        }
        let first_practised = self.data.as_ref().and_then(|progress| {
            progress.layers.iter().position(|layer| layer.all.n_keystrokes > 0)
        });
        let is_blank = |layer: &usize| {
            let layers = self.data.as_ref().map(|progress| &progress.layers);
            layers.and_then(|l| l.get(*layer)).is_none_or(|l| l.all.n_keystrokes == 0)
        };
        if is_blank(&self.layer) {
            self.layer = first_practised.unwrap_or(0);
        }
        self.item = 0;
        self.week = 0;
    }

    /// Does what a key means here; true where the history has to be read anew.
    pub fn act(&mut self, action: Action) -> bool {
        let views = Which::ALL.len();
        match action {
            Action::Next => self.which = self.which.step(1),
            Action::Previous => self.which = self.which.step(views - 1),
            Action::Up | Action::Down => self.go(action == Action::Down),
            Action::Turn => match self.which {
                Which::Board => self.errors = !self.errors,
                Which::Items => {
                    self.order = self.order.next();
                    self.item = 0;
                }
                _ => {}
            },
            Action::Less | Action::More => {
                let last = RANGES.len() - 1;
                let range = match (self.range, action == Action::More) {
                    (None, _) => FIRST,
                    (Some(range), true) => (range + 1).min(last),
                    (Some(range), false) => range.saturating_sub(1),
                };
                let changed = self.range != Some(range);
                self.range = Some(range);
                return changed;
            }
            _ => {}
        }
        false
    }

    fn go(&mut self, down: bool) {
        let Some(progress) = &self.data else { return };
        let step = |at: usize, n: usize| {
            let n = n.max(1);
            if down { (at + 1) % n } else { (at + n - 1) % n }
        };
        match self.which {
            Which::Layers | Which::Board | Which::Switches => {
                self.layer = step(self.layer, progress.layers.len());
            }
            Which::Items if down => {
                self.item = (self.item + 1).min(progress.items.len().saturating_sub(1));
            }
            Which::Items => self.item = self.item.saturating_sub(1),
            // Upwards is into the past.
            Which::Calendar if down => self.week = (self.week - 1).max(0),
            Which::Calendar => self.week = (self.week + 1).min(calendar::n_weeks(progress) - 1),
        }
    }
}

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// Where the person is.
    pub state: &'a State,
    /// The layout in use.
    pub layout: &'a Layout,
    /// How it looks.
    pub theme: Theme,
}

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let theme = self.theme;
        let (head, body, foot) = frame::cut(area);
        self.head(head, buf);
        match &self.state.data {
            Some(progress) if !progress.is_empty() => {
                let part = Part { state: self.state, progress, layout: self.layout, theme };
                match self.state.which {
                    Which::Layers => part.layers(body, buf),
                    Which::Board => part.board(body, buf),
                    Which::Switches => part.switches(body, buf),
                    Which::Items => part.items(body, buf),
                    Which::Calendar => part.calendar(body, buf),
                }
            }
            Some(progress) => {
                let words = match progress.since {
                    None => "Nothing of this layout was practised yet.",
                    Some(_) => {
                        "Nothing of this layout was practised in this range; + takes in more."
                    }
                };
                buf.set_line(body.x, body.y, &Line::raw(words), body.width);
            }
            None if self.state.trouble.is_none() => {
                let words = "No practice history yet. It begins with the first drill.";
                buf.set_line(body.x, body.y, &Line::raw(words), body.width);
            }
            None => {}
        }
        let foot_line = match &self.state.trouble {
            Some(trouble) => Line::styled(trouble.clone(), theme.style(Meaning::Caution)),
            None => frame::keys(Place::Progress(self.state.which), theme, foot.width),
        };
        frame::row(foot, buf, &foot_line, &Line::raw(""));
    }

    /// The names of the views, the range.
    fn head(&self, area: Rect, buf: &mut Buffer) {
        let theme = self.theme;
        let mut spans = Vec::new();
        if area.width >= 70 {
            spans.push(Span::styled("Progress  ", theme.style(Meaning::Strong)));
        }
        for which in Which::ALL {
            let chosen = which == self.state.which;
            let (before, after) = if chosen { ("[", "]") } else { (" ", " ") };
            let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Muted });
            spans.push(Span::styled(format!("{before}{}{after}", which.word()), style));
        }
        let range = match (self.state.range.map(|range| RANGES[range]), self.state.asked.since) {
            (None, Some(day)) => format!("since {}", crate::store::wall_clock::day_text(day)),
            (None, None) | (Some(0), _) => "all days".into(),
            (Some(days), _) => format!("{days} days"),
        };
        let range = if area.width >= 70 { format!("{}  {range}", self.layout.name) } else { range };
        frame::row(area, buf, &Line::from(spans), &Line::raw(range));
    }
}

/// What a view draws from.
#[derive(Debug, Clone, Copy)]
struct Part<'a> {
    state: &'a State,
    progress: &'a Progress,
    layout: &'a Layout,
    theme: Theme,
}

impl Part<'_> {
    fn muted(&self, text: impl Into<String>) -> Line<'static> {
        Line::styled(text.into(), self.theme.style(Meaning::Muted))
    }

    fn muted_span(&self, text: impl Into<String>) -> Span<'static> {
        Span::styled(text.into(), self.theme.style(Meaning::Muted))
    }

    /// The mark before the chosen row.
    fn pointer(&self, chosen: bool) -> &'static str {
        match (chosen, self.theme.unicode) {
            (true, true) => "▸ ",
            (true, false) => "> ",
            (false, _) => "  ",
        }
    }

    fn row_style(&self, chosen: bool) -> ratatui::style::Style {
        self.theme.style(if chosen { Meaning::Strong } else { Meaning::Text })
    }

    fn change(&self, change: Change) -> Span<'static> {
        let meaning = match change {
            Change::Faster => Meaning::Better,
            Change::Slower => Meaning::Worse,
            Change::Unclear | Change::TooFew => Meaning::Muted,
        };
        Span::styled(change.word(), self.theme.style(meaning))
    }
}

/// Writes lines from the top of `area` down, as many as fit; returns what is
/// left of it.
fn write(area: Rect, buf: &mut Buffer, lines: &[Line<'_>]) -> Rect {
    for (n, line) in lines.iter().take(area.height.into()).enumerate() {
        buf.set_line(area.x, area.y + n as u16, line, area.width);
    }
    let used = (lines.len() as u16).min(area.height);
    Rect { y: area.y + used, height: area.height - used, ..area }
}

/// `232 ms (180-240, n 812)`, or that nothing counts.
fn in_words(spread: Option<&Spread>) -> String {
    let Some(spread) = spread else { return "none".into() };
    match spread.quartiles {
        Some((low, high)) => {
            format!("{} ({:.0}-{:.0}, n {})", spread.median, low.as_ms(), high.as_ms(), spread.n)
        }
        None => format!("{} (n {})", spread.median, spread.n),
    }
}

/// What each figure of a view means, for the help.
pub fn figures(which: Which) -> &'static [(&'static str, &'static str)] {
    match which {
        Which::Layers => layers::FIGURES,
        Which::Board => board::FIGURES,
        Which::Switches => switches::FIGURES,
        Which::Items => items::FIGURES,
        Which::Calendar => calendar::FIGURES,
    }
}
