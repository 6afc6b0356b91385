//! What the person's work needs and what pays: the survey that is kept, looked
//! at in five ways.

mod cost;
mod first;
mod need;
mod places;
mod promised;
#[cfg(test)]
mod tests;

use crate::arrange::{Effort, Patience, Proposal};
use crate::layout::{LayerId, Layout, RouteTable};
use crate::order::{Gather, InOrder};
use crate::plan::{Need, PAGE};
use crate::progress::{Hands, Paying, Practised, history};
use crate::store::KeptSurvey;
use crate::survey::{Kept, Surveyed};
use crate::ui::keymap::{Action, Place, Sight};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::collections::BTreeMap;
use std::path::Path;

/// What each figure of a view means, for the help.
pub fn figures(sight: Sight) -> &'static [(&'static str, &'static str)] {
    match sight {
        Sight::Need => need::FIGURES,
        Sight::Cost => cost::FIGURES,
        Sight::First => first::FIGURES,
        Sight::Places => places::FIGURES,
        Sight::Promised => promised::FIGURES,
    }
}

/// What was read of the survey and of the history.
#[derive(Debug)]
struct Told {
    kept: KeptSurvey,
    own: Surveyed,
    /// How often a working day strikes each output on each layer.
    a_day: BTreeMap<(LayerId, String), f64>,
    /// For each layer its strokes, and how often it is entered, a page.
    layers: Vec<(LayerId, f64, f64)>,
    /// None where the layout names no old way.
    paying: Option<Paying>,
    /// What was promised for the layout, the earliest first.
    promises: Vec<Kept>,
    /// The name of the old way.
    old: Option<String>,
    findings: crate::model::hands::Findings,
    routes: RouteTable,
}

/// Where the person is.
#[derive(Debug)]
pub struct State {
    /// The view.
    pub sight: Sight,
    told: Option<Told>,
    trouble: Option<String>,
    /// Into the layout's layers.
    layer: usize,
    /// What was proposed for a layer, or why nothing was.
    proposals: BTreeMap<LayerId, Result<Proposal, String>>,
    /// How long a proposal may be looked for.
    look: (Effort, Patience),
}

impl Default for State {
    fn default() -> Self {
        Self {
            sight: Sight::default(),
            told: None,
            trouble: None,
            layer: 0,
            proposals: BTreeMap::new(),
            look: places::LOOK,
        }
    }
}

impl State {
    /// Reads the survey and the history in the folder `data`.
    pub fn read(&mut self, data: &Path, (layout, old): (&Layout, Option<&Layout>), today: i32) {
        self.proposals.clear();
        self.trouble = None;
        match read(data, (layout, old), today) {
            Ok(told) => self.told = told,
            Err(error) => {
                self.told = None;
                self.trouble = Some(error);
            }
        }
        if let Some(told) = self.told.as_ref().filter(|_| self.layer == 0) {
            // The layer that work needs most is looked at first.
            let above = told.layers.iter().enumerate().filter(|(_, one)| one.0 != LayerId::BASE);
            let most = above.max_by(|a, b| a.1.1.total_cmp(&b.1.1));
            self.layer = most.map_or(0, |(place, _)| place);
        }
        self.propose(layout);
    }

    /// Does what a key means here.
    pub fn act(&mut self, action: Action, layout: &Layout) {
        let layers = layout.layers.len().max(1);
        match action {
            Action::Next => self.sight = self.sight.step(1),
            Action::Previous => self.sight = self.sight.step(Sight::ALL.len() - 1),
            Action::Down => self.layer = (self.layer + 1) % layers,
            Action::Up => self.layer = (self.layer + layers - 1) % layers,
            _ => {}
        }
        self.propose(layout);
        if matches!(action, Action::Next | Action::Previous) {
            self.look_where_something_moves(layout);
        }
    }

    /// Where nothing may move on the layer that is looked at, goes to that which
    /// work needs most of those where something may.
    fn look_where_something_moves(&mut self, layout: &Layout) {
        let before = self.layer;
        if !matches!(self.proposals.get(&self.id()), Some(Err(_))) {
            return;
        }
        let mut layers: Vec<(LayerId, f64)> = match &self.told {
            Some(told) => told.layers.iter().map(|(id, strokes, _)| (*id, *strokes)).collect(),
            None => return,
        };
        layers.order_by(|a, b| b.1.total_cmp(&a.1));
        for (id, _) in layers.into_iter().filter(|(id, _)| *id != LayerId::BASE) {
            self.layer = usize::from(id.0);
            self.propose(layout);
            if matches!(self.proposals.get(&id), Some(Ok(_))) {
                return;
            }
        }
        self.layer = before;
    }

    fn id(&self) -> LayerId {
        LayerId(self.layer as u8)
    }

    /// Works out the proposal for the layer that is looked at, once.
    fn propose(&mut self, layout: &Layout) {
        let id = self.id();
        if self.sight != Sight::Places || self.proposals.contains_key(&id) {
            return;
        }
        if let Some(told) = &self.told {
            self.proposals.insert(id, places::proposal(told, layout, id, self.look));
        }
    }
}

/// What the folder `data` holds; none without a survey.
fn read(
    data: &Path,
    (layout, old): (&Layout, Option<&Layout>),
    today: i32,
) -> Result<Option<Told>, String> {
    let Some(kept) = KeptSurvey::read(data).map_err(|error| error.to_string())? else {
        return Ok(None);
    };
    let own = kept.surveyed();
    let store = history(data).map_err(|error| error.to_string())?;
    let hands = |layout| {
        Hands::read(layout, &own.habits, store.as_ref(), today).map_err(|error| error.to_string())
    };
    let new = hands(layout)?;
    let paying = old.map(hands).transpose()?.map(|old| Paying::of(&own, &new, &old));
    let ranking = paying.as_ref().map_or(&[][..], |paying| &paying.ranking);
    let practised =
        Practised::read(store.as_ref(), layout, today).map_err(|error| error.to_string())?;
    let need =
        Need::of_counts(&new.routes, &own.counts, |_, _| true).with(&new.routes, &own.habits);
    let pages = own.habits.typed * own.habits.hours / PAGE;
    let a_day = need
        .items()
        .map(|((layer, output), times)| ((*layer, output.to_string()), times * pages))
        .gather();
    let layers = layout.layers().map(|(id, _)| {
        let of = need.items().filter(|(key, _)| key.0 == id);
        let into = need.switches().filter(|((_, to), _)| *to == id);
        (id, of.map(|(_, times)| times).sum(), into.map(|(_, times)| times).sum())
    });
    Ok(Some(Told {
        layers: layers.collect(),
        promises: practised.held(&own, ranking, layout),
        a_day,
        paying,
        old: old.map(|old| old.name.clone()),
        findings: new.findings,
        routes: new.routes,
        own,
        kept,
    }))
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

/// What to do where nothing was counted.
const NOTHING: [&str; 4] =
    ["No survey of your texts yet. In a shell:", "", "  etude survey ~/notes ~/work", ""];

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let (head, body, foot) = frame::cut(area);
        self.head(head, buf);
        match &self.state.told {
            Some(told) => {
                let part = Part { state: self.state, told, layout: self.layout, theme: self.theme };
                match self.state.sight {
                    Sight::Need => part.need(body, buf),
                    Sight::Cost => part.cost(body, buf),
                    Sight::First => part.first(body, buf),
                    Sight::Places => part.places(body, buf),
                    Sight::Promised => part.promised(body, buf),
                }
            }
            None if self.state.trouble.is_none() => {
                let mut lines: Vec<Line<'_>> =
                    NOTHING.iter().map(|line| Line::raw(*line)).collect();
                let words = "It counts characters and pairs, keeps no text, and tells what your \
                             layers cost and save on your own work.";
                lines.extend(frame::wrapped(words, body.width.into()).into_iter().map(Line::raw));
                write(body, buf, &lines);
            }
            None => {}
        }
        let foot_line = match &self.state.trouble {
            Some(trouble) => Line::styled(trouble.clone(), self.theme.style(Meaning::Caution)),
            None => frame::keys(Place::Work(self.state.sight), self.theme, foot.width),
        };
        frame::row(foot, buf, &foot_line, &Line::raw(""));
    }

    /// The names of the views, the layout.
    fn head(&self, area: Rect, buf: &mut Buffer) {
        let theme = self.theme;
        let mut spans = Vec::new();
        if area.width >= 60 {
            spans.push(Span::styled("Your work  ", theme.style(Meaning::Strong)));
        }
        for sight in Sight::ALL {
            let chosen = sight == self.state.sight;
            let (before, after) = if chosen { ("[", "]") } else { (" ", " ") };
            let style = theme.style(if chosen { Meaning::Strong } else { Meaning::Muted });
            spans.push(Span::styled(format!("{before}{}{after}", sight.word()), style));
        }
        let names = Line::from(spans);
        let layout = Line::raw(self.layout.name.clone());
        // A name cut in half tells less than none.
        let fits = names.width() + 2 + layout.width() <= area.width.into();
        frame::row(area, buf, &names, &if fits { layout } else { Line::raw("") });
    }
}

/// What a view draws from.
#[derive(Debug, Clone, Copy)]
struct Part<'a> {
    state: &'a State,
    told: &'a Told,
    layout: &'a Layout,
    theme: Theme,
}

impl Part<'_> {
    fn muted(&self, text: impl Into<String>) -> Line<'static> {
        Line::styled(text.into(), self.theme.style(Meaning::Muted))
    }

    fn strong(&self, text: impl Into<String>) -> Line<'static> {
        Line::styled(text.into(), self.theme.style(Meaning::Strong))
    }

    /// A bar of `share` of `width` columns; never empty for more than nothing.
    fn bar(&self, share: f64, width: usize) -> String {
        let filled = (share.clamp(0.0, 1.0) * width as f64).round() as usize;
        let filled = filled.max(usize::from(share > 0.0));
        (if self.theme.unicode { "█" } else { "#" }).repeat(filled.min(width))
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
