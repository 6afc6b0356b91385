//! How a drill of editing tasks went: keys against par, what led nowhere, what
//! left the home block; and a shortest way of each task, step by step.

use crate::drill::{Drill, Edit};
use crate::editor::Editor;
use crate::layout::{Layout, RouteTable};
use crate::order::InOrder;
use crate::session::{DrillResult, Edited};
use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::document::DocumentView;
use crate::ui::widget::frame;
use crate::units::Micros;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;
use std::collections::BTreeMap;

/// Which task is looked at, and how many steps of its way are done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Replay {
    /// The task, from 0.
    pub task: usize,
    /// Steps done.
    pub step: usize,
}

impl Replay {
    /// One task back or on, round and round; its way from the start.
    #[must_use]
    pub fn other(self, result: &DrillResult, on: bool) -> Self {
        let tasks = result.edits.len().max(1);
        Self { task: (self.task + if on { 1 } else { tasks - 1 }) % tasks, step: 0 }
    }

    /// One step back or on, as far as the way goes.
    #[must_use]
    pub fn step(self, drill: &Drill, result: &DrillResult, on: bool) -> Self {
        let most = edit_of(drill, result, self.task).map_or(0, |(edit, _)| edit.par());
        let step = if on { self.step + 1 } else { self.step.saturating_sub(1) };
        Self { step: step.min(most), ..self }
    }
}

fn edit_of<'a>(
    drill: &'a Drill,
    result: &'a DrillResult,
    task: usize,
) -> Option<(&'a Edit, &'a Edited)> {
    let edited = result.edits.get(task)?;
    Some((drill.prompts.get(usize::from(edited.prompt))?.edit()?, edited))
}

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The drill that ended.
    pub drill: &'a Drill,
    /// Its outcome.
    pub result: &'a DrillResult,
    /// The layout.
    pub layout: &'a Layout,
    /// Its routes.
    pub routes: &'a RouteTable,
    /// What is looked at.
    pub replay: Replay,
    /// Which drill of the sitting, from 1.
    pub number: u32,
    /// Active time of the sitting so far and its budget, seconds.
    pub active_s: (f64, f64),
    /// False right after the last key, while keys of an overrun are passed over.
    pub settled: bool,
    /// Something that the person should know.
    pub trouble: Option<&'a str>,
    /// How it looks.
    pub theme: Theme,
}

/// Rows of the list of tasks at most.
const LIST: u16 = 6;

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let theme = self.theme;
        let (head, body, foot) = frame::cut(area);
        let right = super::result::ended(self.number, self.result.complete, self.active_s);
        let title = Line::styled(self.drill.title.clone(), theme.style(Meaning::Strong));
        frame::row(head, buf, &title, &Line::raw(right));
        let body = frame::notice(body, buf, self.trouble, theme);
        let mut y = body.y;
        let bottom = body.y + body.height;
        for line in self.summary() {
            if y < bottom {
                buf.set_line(body.x, y, &line, body.width);
            }
            y += 1;
        }
        let gap = u16::from(body.height >= 18);
        y += gap;
        let list = self.list_rows(body);
        self.list(Rect { y, height: list.min(bottom.saturating_sub(y)), ..body }, buf);
        y += list + gap;
        let rest = Rect { y, height: bottom.saturating_sub(y), ..body };
        self.way(rest, buf);
        if self.settled {
            frame::row(foot, buf, &frame::keys(Place::Edited, theme, foot.width), &Line::raw(""));
        }
    }

    /// Rows for the list: what the document of the longest task and the steps
    /// leave, three at least.
    fn list_rows(&self, body: Rect) -> u16 {
        let tasks = self.result.edits.len() as u16;
        let spare = body.height.saturating_sub(15);
        (spare.clamp(3, LIST)).min(tasks + 1)
    }

    fn summary(&self) -> Vec<Line<'static>> {
        let theme = self.theme;
        let strong = theme.style(Meaning::Strong);
        let edits = || self.result.edits.iter().filter(|edited| edited.done);
        let done = edits().count();
        let keys: usize = edits().map(|edited| edited.struck.len()).sum();
        let par: usize = (0..self.result.edits.len())
            .filter_map(|n| edit_of(self.drill, self.result, n))
            .filter(|(_, edited)| edited.done)
            .map(|(edit, _)| edit.par())
            .sum();
        let tasks = if done == 1 { "task done" } else { "tasks done" };
        let figures = Line::from(vec![
            Span::styled(done.to_string(), strong),
            Span::raw(format!(" {tasks} with ")),
            Span::styled(keys.to_string(), strong),
            Span::raw(if keys == 1 { " key" } else { " keys" }),
            Span::raw(", par "),
            Span::styled(par.to_string(), strong),
        ]);
        vec![figures, self.off_home()]
    }

    /// Which keys left the home block, and how often.
    fn off_home(&self) -> Line<'static> {
        let mut counts: BTreeMap<String, usize> = BTreeMap::new();
        for key in self.result.edits.iter().flat_map(|e| e.off_home(self.routes, self.layout)) {
            *counts.entry(frame::name(key, self.theme)).or_default() += 1;
        }
        let total: usize = counts.values().sum();
        if total == 0 {
            let words = "every key lies in the home block on this layout";
            return Line::styled(words, self.theme.style(Meaning::Muted));
        }
        let mut keys: Vec<(String, usize)> = counts.into_iter().collect();
        keys.order_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        let times = if self.theme.unicode { "×" } else { "x" };
        let list: Vec<String> =
            keys.iter().take(6).map(|(key, n)| format!("{key} {times}{n}")).collect();
        let presses = if total == 1 { "press" } else { "presses" };
        Line::from(vec![
            Span::styled(total.to_string(), self.theme.style(Meaning::Strong)),
            Span::raw(format!(" {presses} left the home block: {}", list.join("  "))),
        ])
    }

    fn list(&self, area: Rect, buf: &mut Buffer) {
        if area.height == 0 {
            return;
        }
        let muted = self.theme.style(Meaning::Muted);
        let head = format!("{:<40}{:>5}{:>5}{:>9}{:>7}", "task", "keys", "par", "detours", "wrong");
        buf.set_stringn(area.x, area.y, head, area.width.into(), muted);
        let rows = usize::from(area.height - 1);
        let tasks = self.result.edits.len();
        let first = self.replay.task.saturating_sub(rows / 2).min(tasks.saturating_sub(rows));
        for row in 0..rows {
            let Some((edit, edited)) = edit_of(self.drill, self.result, first + row) else { break };
            let chosen = first + row == self.replay.task;
            let sign = match (chosen, self.theme.unicode) {
                (true, true) => "▸ ",
                (true, false) => "> ",
                (false, _) => "  ",
            };
            let name = format!("{sign}{}{edit}", if edited.done { "" } else { "not done: " });
            let line = format!(
                "{:<40}{:>5}{:>5}{:>9}{:>7}",
                frame::clip(&name, 39, self.theme),
                edited.struck.len(),
                edit.par(),
                edited.detours,
                edited.misses,
            );
            let meaning = if chosen { Meaning::Strong } else { Meaning::Text };
            let y = area.y + 1 + row as u16;
            buf.set_stringn(area.x, y, line, area.width.into(), self.theme.style(meaning));
        }
    }

    /// The text after the steps done, with the keys of the way and the
    /// person's own.
    fn way(&self, area: Rect, buf: &mut Buffer) {
        let Some((edit, edited)) = edit_of(self.drill, self.result, self.replay.task) else {
            return;
        };
        let theme = self.theme;
        let mut editor: Editor = edit.task.start().clone();
        for step in edit.way.steps.iter().take(self.replay.step) {
            editor.apply(step.action);
        }
        let view = DocumentView { editor: &editor, task: &edit.task, theme };
        let rows = area.height.saturating_sub(3).min(view.height());
        (&view).render(Rect { height: rows, ..area }, buf);
        let mut y = area.y + rows + u16::from(area.height > rows + 3);
        let bottom = area.y + area.height;
        let mut put = |line: &Line<'_>| {
            if y < bottom {
                buf.set_line(area.x, y, line, area.width);
            }
            y += 1;
        };
        put(&self.steps(edit));
        put(&self.next(edit));
        put(&self.own(edited, area.width));
    }

    /// The keys of the way; those that are done are muted, the next is marked.
    fn steps(&self, edit: &Edit) -> Line<'static> {
        let theme = self.theme;
        let mut spans = vec![Span::styled("a shortest way  ", theme.style(Meaning::Muted))];
        for (n, step) in edit.way.steps.iter().enumerate() {
            let meaning = match n.cmp(&self.replay.step) {
                std::cmp::Ordering::Less => Meaning::Muted,
                std::cmp::Ordering::Equal => Meaning::Due,
                std::cmp::Ordering::Greater => Meaning::Strong,
            };
            let name = frame::name(&step.output, theme);
            spans.push(Span::styled(format!(" {name} "), theme.style(meaning)));
            spans.push(Span::raw(" "));
        }
        Line::from(spans)
    }

    /// What the next step does; at the end how the quickest way differs.
    fn next(&self, edit: &Edit) -> Line<'static> {
        let muted = self.theme.style(Meaning::Muted);
        if let Some(step) = edit.way.steps.get(self.replay.step) {
            let words = format!("step {} of {}: ", self.replay.step + 1, edit.par());
            return Line::from(vec![Span::styled(words, muted), Span::raw(step.action.title())]);
        }
        if edit.quickest.time >= edit.way.time {
            return Line::styled("there; no way is quicker by your times", muted);
        }
        let keys: Vec<String> =
            edit.quickest.steps.iter().map(|step| frame::name(&step.output, self.theme)).collect();
        Line::from(vec![
            Span::styled("there; quicker by your times: ", muted),
            Span::raw(keys.join(" ")),
        ])
    }

    /// What was struck, as much of it as there is room for, and how long it took.
    fn own(&self, edited: &Edited, columns: u16) -> Line<'static> {
        let keys: Vec<String> =
            edited.struck.iter().map(|key| frame::name(key, self.theme)).collect();
        let time = if edited.time == Micros::ZERO {
            String::new()
        } else {
            format!("  in {:.1} s", edited.time.as_secs())
        };
        let label = "your keys        ";
        let room = usize::from(columns).saturating_sub(label.len() + time.len());
        let keys = frame::clip(&keys.join("  "), room, self.theme);
        Line::from(vec![
            Span::styled(label, self.theme.style(Meaning::Muted)),
            Span::raw(format!("{keys}{time}")),
        ])
    }
}
