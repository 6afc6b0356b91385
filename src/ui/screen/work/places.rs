//! What would lie better on a layer: today's board and the proposed one.

use super::{Part, Told, write};
use crate::arrange::{DAYS, Effort, Patience, Proposal, Task, TaskError, Wish, prove, search};
use crate::layout::{LayerId, Layout};
use crate::report::arrange::heat;
use crate::report::layout::counted;
use crate::ui::widget::board::BoardView;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::Widget;
use std::collections::BTreeSet;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("proposed", "a short look; `etude arrange` looks longer and proves"),
    ("saves", "seconds a working day after 60 of them, 90 % interval"),
    ("won back", "when what learning anew costs is saved again"),
    ("board", "strokes a working day"),
];

/// A look that keeps nobody waiting: some tenths of a second.
pub(super) const LOOK: (Effort, Patience) =
    (Effort { starts: 4, moves: 2_000 }, Patience { bounds: 1_000 });
/// Two boards stand side by side from so many columns on.
const WIDE: u16 = 150;

/// What would lie better on the layer, or why nothing can be said.
pub(super) fn proposal(
    told: &Told,
    layout: &Layout,
    id: LayerId,
    (effort, patience): (Effort, Patience),
) -> Result<Proposal, String> {
    let wish =
        Wish { layout, routes: &told.routes, layers: vec![id], pins: BTreeSet::new(), days: DAYS };
    let task = Task::new(wish, (&told.own.counts, &told.own.habits), &told.findings);
    let task = task.map_err(|error| match error {
        TaskError::NothingMoves { .. } => {
            "no symbol here that may move; the arrows up and down go to other \
            layers"
                .to_owned()
        }
        other => other.to_string(),
    })?;
    let found = search(task.problem(), 1, effort).min(task.today());
    Ok(task.proposal(&prove(task.problem(), &found, patience)))
}

impl Part<'_> {
    /// Draws the view.
    pub(super) fn places(&self, area: Rect, buf: &mut Buffer) {
        let id = self.state.id();
        let name = &self.layout.layer(id).name;
        let proposal = match self.state.proposals.get(&id) {
            Some(Ok(proposal)) => proposal,
            Some(Err(problem)) => {
                let lines = frame::wrapped(&format!("{name}: {problem}"), area.width.into());
                write(area, buf, &lines.into_iter().map(Line::raw).collect::<Vec<_>>());
                return;
            }
            None => return,
        };
        if proposal.moves.is_empty() {
            let words = format!(
                "{name}: nothing moves. Whatever would lie better is not worth learning anew."
            );
            let lines = frame::wrapped(&words, area.width.into());
            write(area, buf, &lines.into_iter().map(Line::raw).collect::<Vec<_>>());
            return;
        }
        let mut lines = vec![
            self.strong(format!("{name}: {} would move", counted(proposal.moves.len(), "symbol"))),
        ];
        let back = match proposal.paid_back {
            Some(day) => format!("learning is won back on working day {day}"),
            None => "learning is not won back within four years".to_owned(),
        };
        let words = format!("After {DAYS} working days it {}; {back}.", proposal.saved.words());
        lines.extend(frame::wrapped(&words, area.width.into()).into_iter().map(Line::raw));
        let moves: Vec<String> = proposal
            .moves
            .iter()
            .map(|one| format!("{} {}>{}", one.output, one.from.1, one.to.1))
            .collect();
        let rest = write(area, buf, &lines);
        let foot = frame::wrapped(&moves.join("  "), area.width.into());
        let foot_height = (foot.len() as u16).min(rest.height / 4);
        let boards = Rect { height: rest.height - foot_height, ..rest };
        self.two_boards(boards, buf, proposal);
        let below = Rect { y: boards.y + boards.height, height: foot_height, ..rest };
        write(below, buf, &foot.into_iter().map(|line| self.muted(line)).collect::<Vec<_>>());
    }

    fn two_boards(&self, area: Rect, buf: &mut Buffer, proposal: &Proposal) {
        let id = self.state.id();
        let wide = area.width >= WIDE;
        let half = if wide {
            Rect { width: area.width / 2 - 1, ..area }
        } else {
            Rect { height: area.height / 2, ..area }
        };
        let second = if wide {
            Rect { x: half.x + half.width + 2, ..half }
        } else {
            Rect { y: half.y + half.height, height: area.height - half.height, ..half }
        };
        for (title, layout, room) in
            [("today", self.layout, half), ("proposed", &proposal.layout, second)]
        {
            let rest = write(room, buf, &[self.muted(title)]);
            let heat = heat(layout, id, &self.told.a_day);
            let view = BoardView { heat: &heat, ..BoardView::new(layout, id, self.theme) };
            let height = view.height(rest.width).min(rest.height);
            if view.fits(Rect { height, ..rest }) {
                (&view).render(Rect { height, ..rest }, buf);
            }
        }
    }
}
