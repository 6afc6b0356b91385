//! The line, the board beneath it, and how it goes.

use super::edit;
use crate::drill::{Cue, Drill, Flow, Prompt, Strikes, glyph, line_width as width_of};
use crate::layout::{LayerId, Layout, Route, Target};
use crate::session::{Change, Earlier, Editing, SHOW_KEY, Session, Spread};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::board::BoardView;
use crate::ui::widget::cue::{self, CueView};
use crate::ui::widget::frame;
use crate::ui::widget::instruction::{in_two, instruction};
use crate::ui::widget::score::{self, Score};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

/// What the screen shows.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The session with its drill in work.
    pub session: &'a Session,
    /// The layout.
    pub layout: &'a Layout,
    /// Which drill of the sitting, from 1.
    pub number: u32,
    /// What was measured before.
    pub earlier: &'a Earlier,
    /// What was struck last where it was wrong: expected, got.
    pub slip: Option<&'a (String, String)>,
    /// Something that the person should know (the history can't be written).
    pub trouble: Option<&'a str>,
    /// How it looks.
    pub theme: Theme,
}

/// Where the parts of the screen lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Parts {
    /// Title and progress.
    pub head: Rect,
    /// The line in work.
    pub score: Rect,
    /// The line after it.
    pub next: Rect,
    /// What to do, in words.
    pub words: Rect,
    /// The board.
    pub board: Rect,
    /// What the person should know, if anything.
    pub notice: Rect,
    /// Figures, and how to leave.
    pub foot: Rect,
}

/// Cuts `area`; `board` is the height that the board asks for at full size,
/// `notice` that of a notice, which is never given up. With less room the board goes first, then the next line, then the words.
pub fn parts(area: Rect, board: u16, notice: u16) -> Parts {
    let (head, body, foot) = frame::cut(area);
    let notice = Rect {
        y: body.y + body.height.saturating_sub(notice),
        height: notice.min(body.height),
        ..body
    };
    let body = Rect { height: body.height - notice.height, ..body };
    let mut left = body.height;
    let mut take = |wanted: u16, least: u16| {
        let got = if left >= wanted {
            wanted
        } else if left >= least {
            left
        } else {
            0
        };
        left -= got;
        got
    };
    let score = take(score::ROWS, 1);
    let words = take(2, 1);
    let keys = take(board, 3);
    let next = take(1, 1);
    let gap_above = take(1, 1);
    let gap_middle = take(1, 1);
    // On a large screen the eye rests a third of the way down.
    let mut y = body.y + left / 3;
    let mut place = |height: u16| {
        let rect = Rect { y, height, ..body };
        y += height;
        rect
    };
    place(gap_above);
    let score = place(score);
    let next = place(next);
    place(gap_middle);
    let board = place(keys);
    let words = place(words);
    Parts { head, score, next, words, board, notice, foot }
}

impl View<'_> {
    /// Draws the screen.
    pub fn draw(&self, area: Rect, buf: &mut Buffer) {
        if frame::too_small(area, buf) {
            return;
        }
        if let (Some(drill), Some(editing)) = (self.session.drill(), self.session.editing()) {
            return self.draw_edit(area, buf, drill, editing);
        }
        let (Some(drill), Some((prompt, line))) = (self.session.drill(), self.session.line())
        else {
            return;
        };
        let theme = self.theme;
        let due = self.session.due();
        let strikes = self.strikes();
        let known = self.session.answer_known();
        // What has to be remembered is not given away by the board.
        let route = self.session.due_route().filter(|_| known);
        let accesses: Vec<_> =
            route.map(|r| r.accesses.iter().map(|a| a.position).collect()).unwrap_or_default();
        let board = BoardView {
            layout: self.layout,
            layer: route.map_or(LayerId::BASE, shown_layer),
            due: route.map(|r| r.position),
            accesses: &accesses,
            theme,
            heat: &[],
        };
        let wanted = board.height(area.width.saturating_sub(4));
        let mut parts = parts(area, wanted, if self.trouble.is_some() { 2 } else { 0 });
        parts.notice = frame::notice(parts.notice, buf, self.trouble, theme);
        self.head(parts.head, buf, drill, prompt);
        let next = drill.prompts.get(prompt + 1).filter(|next| matches!(next, Prompt::Text(_)));
        if let Some(strikes) = strikes {
            let cue = CueView { strikes, progress: line, known, theme };
            let rows = (parts.score.height + parts.next.height).min(cue::ROWS);
            (&cue).render(Rect { height: rows, ..parts.score }, buf);
        } else {
            let routes = self.session.line_routes();
            let score = Score { line, layout: self.layout, routes, theme };
            (&score).render(centred(parts.score, line_width(line, theme)), buf);
        }
        if let Some(next) = next.filter(|_| strikes.is_none()) {
            let text: String = next.items().iter().map(|i| glyph(i, theme.unicode)).collect();
            // Under the line in work, as far as there is room.
            let left = centred(parts.next, line_width(line, theme)).x;
            let room = (parts.next.x + parts.next.width).saturating_sub(left);
            if parts.next.height > 0 {
                let style = theme.style(Meaning::Muted);
                buf.set_stringn(left, parts.next.y, &text, usize::from(room), style);
            }
        }
        if board.fits(parts.board) {
            (&board).render(parts.board, buf);
        }
        let mut words = Vec::new();
        if !known {
            words.push(Line::from(vec![
                Span::styled(SHOW_KEY.to_string(), theme.style(Meaning::Strong)),
                Span::styled(" shows the answer", theme.style(Meaning::Muted)),
            ]));
        } else if let (Some(due), Some(route)) = (&due, route) {
            let mut words_of =
                instruction(route, self.layout, &glyph(&due.output, theme.unicode), theme);
            if strikes.is_some_and(|strikes| strikes.cue == Cue::Title) {
                // The chord stands beside its title.
                words_of.spans.drain(..2);
            }
            words.extend(in_two(words_of, parts.words));
        } else {
            words.push(Line::from("this layout has no key for it"));
        }
        if let Some((expected, got)) = self.slip {
            let advice = match drill.flow {
                Flow::Repair => ", Backspace takes it back",
                Flow::Stay if !known => "",
                Flow::Stay => ", strike the right one",
            };
            let slip = Line::from(vec![
                Span::styled(format!("struck {got}"), theme.style(Meaning::Wrong)),
                Span::raw(if known { format!(" for {expected}") } else { ": not this one".into() }),
                Span::styled(advice, theme.style(Meaning::Muted)),
            ]);
            // With one row only, what went wrong is what matters.
            words.truncate(usize::from(parts.words.height).saturating_sub(1));
            words.push(slip);
        }
        for (n, line) in words.iter().take(parts.words.height.into()).enumerate() {
            let area = centred(parts.words, line.width() as u16);
            buf.set_line(area.x, area.y + n as u16, line, area.width);
        }
        self.foot(parts.foot, buf, &self.figures());
    }

    fn draw_edit(&self, area: Rect, buf: &mut Buffer, drill: &Drill, editing: &Editing) {
        let (head, body, foot) = frame::cut(area);
        let body = frame::notice(body, buf, self.trouble, self.theme);
        let prompt = self.session.prompt().map_or(0, |(number, _)| number);
        self.head(head, buf, drill, prompt);
        let Self { session, layout, slip, theme, .. } = *self;
        let edit = edit::Body { session, editing, drill, layout, slip, theme };
        edit.draw(body, buf);
        self.foot(foot, buf, &edit.figures());
    }

    /// The actions in work, if the prompt is such.
    fn strikes(&self) -> Option<&Strikes> {
        match self.session.prompt()?.1 {
            Prompt::Strike(strikes) => Some(strikes),
            Prompt::Text(_) | Prompt::Edit(_) => None,
        }
    }

    fn head(&self, area: Rect, buf: &mut Buffer, drill: &Drill, prompt: usize) {
        let theme = self.theme;
        let left = Line::styled(drill.title.clone(), theme.style(Meaning::Strong));
        let (full, empty) = if theme.unicode { ("━", "─") } else { ("=", "-") };
        let total = drill.prompts.len().max(1);
        let columns = total.clamp(1, 16);
        let done = prompt * columns / total;
        let right = Line::from(vec![
            Span::styled(full.repeat(done), theme.style(Meaning::Strong)),
            Span::styled(empty.repeat(columns - done), theme.style(Meaning::Muted)),
            Span::raw(format!(
                "  drill {}  {}",
                self.number,
                clock(self.session.active().as_secs())
            )),
        ]);
        frame::row(area, buf, &left, &right);
    }

    fn foot(&self, area: Rect, buf: &mut Buffer, figures: &Line<'_>) {
        let theme = self.theme;
        let leaving = self.session.leaving();
        let mut leave = vec![Span::raw("")];
        for n in 0..3 {
            let meaning = if n < leaving { Meaning::Due } else { Meaning::Muted };
            leave.push(Span::styled("Esc", theme.style(meaning)));
            leave.push(Span::raw(" "));
        }
        leave.push(Span::styled("leaves", theme.style(Meaning::Muted)));
        frame::row(area, buf, figures, &Line::from(leave));
    }

    /// Speed, accuracy and the latest switch of this drill, with what it was.
    fn figures(&self) -> Line<'static> {
        let counts = self.session.counts();
        let mut spans = Vec::new();
        // Words a minute are a measure of text.
        if let Some(wpm) = counts.words_per_minute().filter(|_| self.strikes().is_none()) {
            spans.push(Span::raw(format!("{wpm:.0} wpm")));
        }
        if let Some(accuracy) = counts.accuracy() {
            if !spans.is_empty() {
                spans.push(Span::raw("  "));
            }
            spans.push(Span::raw(format!("{:.0} % right", accuracy * 100.0)));
        }
        let due = self.session.due().map_or(LayerId::BASE, |d| d.layer);
        let switch = self.session.tally().and_then(|tally| {
            let arrivals = |to| tally.switches.iter().filter(move |((a, b), _)| a != b && *b == to);
            // The switch into the layer that is due, else the most frequent one.
            arrivals(due).max_by_key(|(_, latencies)| latencies.len()).or_else(|| {
                tally.switches.iter().filter(|((a, b), _)| a != b).max_by_key(|(_, l)| l.len())
            })
        });
        if let Some((&(from, to), latencies)) = switch
            && let Some(now) = Spread::of(latencies)
        {
            let arrow = if self.theme.unicode { "→" } else { ">" };
            spans.push(Span::raw(format!(
                "  {}{arrow}{} {}",
                self.layout.layer(from).name,
                self.layout.layer(to).name,
                now.median
            )));
            if let Some(before) = self.earlier.switches.get(&(from, to)) {
                let meaning = match Change::of(&now, before) {
                    Change::Faster => Meaning::Better,
                    Change::Slower => Meaning::Worse,
                    Change::Unclear | Change::TooFew => Meaning::Muted,
                };
                spans.push(Span::styled(
                    format!(" (was {:.0})", before.median.as_ms()),
                    self.theme.style(meaning).remove_modifier(Modifier::UNDERLINED),
                ));
            }
        }
        Line::from(spans)
    }
}

/// The layer that the board shows: the last one that the route opens.
pub(super) fn shown_layer(route: &Route) -> LayerId {
    route
        .accesses
        .iter()
        .rev()
        .find_map(|step| match step.access.target {
            Target::Layer(layer) => Some(layer),
            Target::Modifier(_) => None,
        })
        .unwrap_or(LayerId::BASE)
}

/// The columns of a line with the bar at its end.
fn line_width(line: &crate::session::Line, theme: Theme) -> u16 {
    width_of(line.items(), theme.unicode) as u16 + 1
}

/// The middle `width` columns of `area`.
pub(super) fn centred(area: Rect, width: u16) -> Rect {
    let width = width.min(area.width);
    Rect { x: area.x + (area.width - width) / 2, width, ..area }
}

/// Minutes and seconds: `4:07`.
pub fn clock(seconds: f64) -> String {
    let whole = seconds as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inside(area: Rect, parts: &Parts) {
        for part in [
            parts.head,
            parts.score,
            parts.next,
            parts.words,
            parts.board,
            parts.notice,
            parts.foot,
        ] {
            assert_eq!(part.intersection(area).area(), part.area(), "{part:?} in {area:?}");
        }
        let rows: u16 = [
            parts.head,
            parts.score,
            parts.next,
            parts.words,
            parts.board,
            parts.notice,
            parts.foot,
        ]
        .iter()
        .map(|p| p.height)
        .sum();
        assert!(rows <= area.height, "{parts:?}");
    }

    #[test]
    fn parts_never_overflow_and_the_line_always_has_room() {
        for height in 10..60 {
            let area = Rect::new(0, 0, 80, height);
            let parts = parts(area, 12, height % 3);
            inside(area, &parts);
            assert!(parts.score.height >= 3, "{height}: {parts:?}");
        }
    }

    #[test]
    fn the_board_stands_whole_at_80_by_24_and_gives_way_below() {
        assert_eq!(parts(Rect::new(0, 0, 80, 24), 12, 0).board.height, 12);
        assert!(parts(Rect::new(0, 0, 80, 10), 12, 0).board.height < 12);
    }

    #[test]
    fn clocks_show_minutes_and_seconds() {
        assert_eq!(clock(0.0), "0:00");
        assert_eq!(clock(247.9), "4:07");
    }
}
