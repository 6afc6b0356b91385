//! How a drill went: what was slow, what was wrong, each switch, against
//! what was measured before.

use super::practice::clock;
use crate::drill::Drill;
use crate::keyboard::Output;
use crate::layout::walk::given;
use crate::layout::{Cluster, LayerId, Layout};
use crate::order::{Gather, InOrder};
use crate::session::{Change, DrillResult, Earlier, Spread};
use crate::ui::keymap::Place;
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use std::fmt::Write;
use unicode_width::UnicodeWidthStr;

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The drill that ended.
    pub drill: &'a Drill,
    /// Its outcome.
    pub result: &'a DrillResult,
    /// What was measured before it.
    pub earlier: &'a Earlier,
    /// The layout.
    pub layout: &'a Layout,
    /// Which drill of the sitting, from 1.
    pub number: u32,
    /// Active time of the sitting so far and its budget, seconds.
    pub active_s: (f64, f64),
    /// The title of the next drill, and why it was chosen.
    pub next: Option<(&'a str, &'a str)>,
    /// False right after the last key, while keys of an overrun are passed over.
    pub settled: bool,
    /// Something that the person should know.
    pub trouble: Option<&'a str>,
    /// How it looks.
    pub theme: Theme,
}

/// What the next drill is, and why: in one line, or two where that is too long.
fn next_lines((title, reason): (&str, &str), width: u16, theme: Theme) -> Vec<Line<'static>> {
    let head = Span::styled(format!("next  {title}: "), theme.style(Meaning::Muted));
    let room = usize::from(width);
    if head.width() + reason.width() <= room {
        return vec![Line::from(vec![head, Span::raw(reason.to_owned())])];
    }
    let indent = " ".repeat("next  ".len());
    let reason = frame::clip(reason, room.saturating_sub(indent.len()), theme);
    vec![Line::from(head), Line::raw(format!("{indent}{reason}"))]
}

/// Which drill of the sitting ended, how, and how much of the minutes is gone.
pub(super) fn ended(number: u32, complete: bool, (active, budget): (f64, f64)) -> String {
    let end = if complete { "done" } else { "cut short" };
    let time = if active >= budget {
        "the minutes are up".to_owned()
    } else {
        format!("{} of {}", clock(active), clock(budget))
    };
    format!("drill {number} {end}  {time}")
}

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        let theme = self.theme;
        let (head, body, foot) = frame::cut(area);
        let complete = self.result.complete;
        let right = ended(self.number, complete, self.active_s);
        let title = Line::styled(self.drill.title.clone(), theme.style(Meaning::Strong));
        frame::row(head, buf, &title, &Line::raw(right));
        let mut body = frame::notice(body, buf, self.trouble, theme);
        if let Some(next) = self.next.filter(|_| body.height > 8) {
            let lines = next_lines(next, body.width, theme);
            body.height -= lines.len() as u16 + 1;
            for (n, line) in (1..).zip(&lines) {
                buf.set_line(body.x, body.y + body.height + n, line, body.width);
            }
        }
        let wide = body.width >= 70;
        let summary = self.summary();
        let mut y = body.y;
        let bottom = body.y + body.height;
        let put = |buf: &mut Buffer, x: u16, y: u16, width: u16, line: &Line<'_>| {
            if y < bottom {
                buf.set_line(x, y, line, width);
            }
        };
        for line in &summary {
            put(buf, body.x, y, body.width, line);
            y += 1;
        }
        y += 1;
        let compared = self.compared();
        let switches = if compared.is_empty() { self.switches() } else { compared };
        let room = usize::from(bottom.saturating_sub(y));
        // Switches first: they are what a layer costs. Two columns share the rest.
        let most = room.saturating_sub(7).max(2);
        let shown = if switches.len() > most { most.saturating_sub(1) } else { switches.len() };
        for line in switches.iter().take(shown) {
            put(buf, body.x, y, body.width, line);
            y += 1;
        }
        if shown < switches.len() {
            let rest = self.heading(format!("and {} rarer ones", switches.len() - shown));
            put(buf, body.x, y, body.width, &rest);
            y += 1;
        }
        y += 1;
        let room = usize::from(bottom.saturating_sub(y));
        let (slow, wrong) = (self.slow(), self.wrong());
        if wide {
            let half = body.width / 2;
            for (n, line) in slow.iter().take(room).enumerate() {
                put(buf, body.x, y + n as u16, half.saturating_sub(1), line);
            }
            for (n, line) in wrong.iter().take(room).enumerate() {
                put(buf, body.x + half + 2, y + n as u16, body.width - half - 2, line);
            }
        } else {
            let first = room / 2;
            let gap = [Line::raw("")];
            for line in slow.iter().take(first.saturating_sub(1)).chain(&gap).chain(&wrong) {
                put(buf, body.x, y, body.width, line);
                y += 1;
            }
        }
        if self.settled {
            frame::row(foot, buf, &frame::keys(Place::Result, theme, foot.width), &Line::raw(""));
        }
    }

    fn heading(&self, text: String) -> Line<'static> {
        Line::styled(text, self.theme.style(Meaning::Muted))
    }

    fn summary(&self) -> Vec<Line<'static>> {
        let counts = &self.result.counts;
        let strong = self.theme.style(Meaning::Strong);
        let mut spans = Vec::new();
        let mut figure = |value: String, unit: &str| {
            if !spans.is_empty() {
                spans.push(Span::raw("   "));
            }
            spans.push(Span::styled(value, strong));
            spans.push(Span::raw(format!(" {unit}")));
        };
        // Words a minute and keys a character are measures of text.
        let edits = self.drill.prompts.iter().any(|prompt| prompt.edit().is_some());
        let text = self.drill.cluster != Cluster::Shortcuts && !edits;
        if let Some(wpm) = counts.words_per_minute().filter(|_| text) {
            figure(format!("{wpm:.0}"), "wpm");
        }
        if let Some(accuracy) = counts.accuracy() {
            figure(format!("{:.0} %", accuracy * 100.0), "right");
        }
        if let Some(kspc) = counts.keystrokes_per_character().filter(|_| text) {
            figure(format!("{kspc:.2}"), "keystrokes per character");
        }
        figure(counts.stream.to_string(), if counts.stream == 1 { "key" } else { "keys" });
        let mut lines = vec![Line::from(spans)];
        if !self.drill.left_out.is_empty() {
            let total: usize = self.drill.left_out.iter().map(|(_, n)| n).sum();
            let most = if text { 8 } else { 3 };
            let which: Vec<&str> =
                self.drill.left_out.iter().take(most).map(|(text, _)| text.as_str()).collect();
            let mut which = which.join(" ");
            if let more @ 1.. = self.drill.left_out.len().saturating_sub(most)
                && !text
            {
                let _ = write!(which, " and {more} more");
            }
            lines.push(self.heading(if text {
                format!(
                    "{total} characters left out or replaced, this layout can't type them: {which}"
                )
            } else {
                format!("{total} out of this terminal's reach: {which}")
            }));
        }
        lines
    }

    /// Chords that this drill struck both by a key that gives them at once and
    /// by hand: what the key gains.
    fn compared(&self) -> Vec<Line<'static>> {
        let items = &self.result.tally.items;
        let at_once = |layer: LayerId, output: &Output| {
            let gives = |key| given(self.layout, key).as_ref() == Some(output);
            self.layout.layer(layer).keys.iter().any(gives)
        };
        let mut lines = Vec::new();
        for ((layer, output), item) in items.iter().filter(|((l, o), _)| at_once(*l, o)) {
            let by_hand = items.iter().find(|((l, o), _)| o == output && !at_once(*l, o));
            let Some((key, hand)) = item.spread().zip(by_hand.and_then(|(_, i)| i.spread())) else {
                continue;
            };
            let gain = hand.median.as_ms() - key.median.as_ms();
            let change = Change::of(&key, &hand);
            let (words, style) = match change {
                Change::Faster => (format!("{gain:.0} ms faster"), Meaning::Better),
                Change::Slower => (format!("{:.0} ms slower", -gain), Meaning::Worse),
                Change::Unclear | Change::TooFew => (change.word().to_owned(), Meaning::Muted),
            };
            let name = frame::clip(&self.layout.layer(*layer).name, 11, self.theme);
            lines.push(Line::from(vec![
                Span::styled(
                    format!("{:<15}", frame::name(output, self.theme)),
                    self.theme.style(Meaning::Strong),
                ),
                Span::raw(format!(
                    "{name:<12}{:>3}{:>9}{:>10}{:>9}  ",
                    key.n,
                    key.median.to_string(),
                    hand.n,
                    hand.median.to_string()
                )),
                Span::styled(words, self.theme.style(style)),
            ]));
        }
        if !lines.is_empty() {
            lines.insert(
                0,
                self.heading(format!(
                    "{:<15}{:<12}{:>3}{:>9}{:>10}{:>9}",
                    "one key", "layer", "n", "median", "by hand n", "median"
                )),
            );
        }
        lines
    }

    fn switches(&self) -> Vec<Line<'static>> {
        let mut found: Vec<_> = self
            .result
            .tally
            .switches
            .iter()
            .filter(|((from, to), _)| from != to)
            .filter_map(|(&key, latencies)| Spread::of(latencies).map(|s| (key, s)))
            .collect();
        if found.is_empty() {
            let layers: std::collections::BTreeSet<LayerId> =
                self.result.tally.items.keys().map(|(layer, _)| *layer).gather();
            let words = if layers.len() < 2 {
                "this drill stays on one layer"
            } else {
                "no layer switch could be timed"
            };
            return vec![self.heading(words.into())];
        }
        found.order_by_key(|((from, to), spread)| (std::cmp::Reverse(spread.n), *from, *to));
        let arrow = if self.theme.unicode { "→" } else { ">" };
        let mut lines = vec![self.heading(format!(
            "{:<24}{:>4}{:>9}{:>13}{:>9}{:>5}",
            "switch", "n", "median", "middle half", "before", "n"
        ))];
        for ((from, to), spread) in found {
            let name =
                format!("{} {arrow} {}", self.layout.layer(from).name, self.layout.layer(to).name);
            let middle = spread.quartiles.map_or_else(String::new, |(low, high)| {
                format!("{:.0}-{:.0}", low.as_ms(), high.as_ms())
            });
            let mut spans = vec![Span::raw(format!(
                "{:<24}{:>4}{:>9}{middle:>13}",
                frame::clip(&name, 23, self.theme),
                spread.n,
                spread.median.to_string(),
            ))];
            spans.extend(self.against(&spread, self.earlier.switches.get(&(from, to))));
            lines.push(Line::from(spans));
        }
        lines
    }

    /// The columns of a name in the lists: chords need more than keys.
    const fn name_columns(&self) -> usize {
        match self.drill.cluster {
            Cluster::Shortcuts => 14,
            _ => 7,
        }
    }

    fn slow(&self) -> Vec<Line<'static>> {
        let wide = self.name_columns();
        let mut lines = vec![self.heading(format!(
            "{:<wide$}{:<12}{:>3}{:>8}{:>7}",
            "slow", "layer", "n", "median", "before"
        ))];
        for (layer, output, spread) in self.result.tally.slowest(2).into_iter().take(8) {
            let shown = frame::name(output, self.theme);
            let layer_name = frame::clip(&self.layout.layer(layer).name, 11, self.theme);
            let earlier = self.earlier.items.get(&(layer, output.clone()));
            let before = earlier.map_or_else(String::new, |e| format!("{:.0}", e.median.as_ms()));
            lines.push(Line::from(vec![
                Span::styled(format!("{shown:<wide$}"), self.theme.style(Meaning::Strong)),
                Span::raw(format!(
                    "{layer_name:<12}{:>3}{:>8}",
                    spread.n,
                    spread.median.to_string()
                )),
                Span::styled(format!("{before:>7}"), self.theme.style(Meaning::Muted)),
            ]));
        }
        if lines.len() == 1 {
            lines.push(Line::raw("too few keys to tell"));
        }
        lines
    }

    fn wrong(&self) -> Vec<Line<'static>> {
        let wide = self.name_columns() + 1;
        let mut lines =
            vec![self.heading(format!("{:<wide$}{:<5}{}", "wrong", "n", "struck instead"))];
        for (_, output, item) in self.result.tally.missed().into_iter().take(8) {
            let total: u32 = item.instead.values().sum();
            let mut instead: Vec<_> = item.instead.iter().collect();
            instead.order_by_key(|(got, n)| (std::cmp::Reverse(**n), (*got).clone()));
            let times = if self.theme.unicode { "×" } else { "x" };
            let list: Vec<String> = instead
                .iter()
                .take(4)
                .map(|(got, n)| match n {
                    1 => frame::name(got, self.theme),
                    n => format!("{} {times}{n}", frame::name(got, self.theme)),
                })
                .collect();
            lines.push(Line::from(vec![
                Span::styled(
                    format!("{:<wide$}", frame::name(output, self.theme)),
                    self.theme.style(Meaning::Strong),
                ),
                Span::raw(format!("{total:<5}{}", list.join("  "))),
            ]));
        }
        if lines.len() == 1 {
            lines.push(Line::raw("nothing"));
        }
        lines
    }

    /// The median before, its n, and what may be said of the difference.
    fn against(&self, now: &Spread, before: Option<&Spread>) -> Vec<Span<'static>> {
        let muted = self.theme.style(Meaning::Muted);
        let Some(before) = before else {
            return vec![Span::styled(format!("{:>16}", "first time"), muted)];
        };
        let change = Change::of(now, before);
        let style = match change {
            Change::Faster => self.theme.style(Meaning::Better),
            Change::Slower => self.theme.style(Meaning::Worse),
            Change::Unclear | Change::TooFew => muted,
        };
        vec![
            Span::raw(format!("{:>9}{:>5}  ", before.median.to_string(), before.n)),
            Span::styled(change.word(), style),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_reason_stands_below_the_next_drill() {
        let told = |title, reason, width| -> Vec<String> {
            let lines = next_lines((title, reason), width, Theme::PLAIN);
            lines.iter().map(ToString::to_string).collect()
        };
        assert_eq!(told("thumb keys", "new: Tab", 40), ["next  thumb keys: new: Tab"]);
        let reason = "new: Delete; your work has it 27 times a page";
        let lines = told("navigation: in logs, tables, code and letters", reason, 78);
        assert_eq!(lines[0], "next  navigation: in logs, tables, code and letters: ");
        assert_eq!(lines[1], format!("      {reason}"));
        let cut = told("navigation: in logs", reason, 30);
        assert!(cut.len() == 2 && cut[1].width() <= 30 && cut[1] != lines[1], "{cut:?}");
    }
}
