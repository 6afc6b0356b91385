//! Which layer first, with its reasons.

use super::{Part, write};
use crate::progress::Paying;
use crate::survey::{DAYS, MINUTES_A_DAY};
use crate::ui::theme::Meaning;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use unicode_width::UnicodeWidthStr;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("now", "seconds a working day against the old way, as you are"),
    ("later", "the same after 300 minutes of practice of that part"),
    ("level", "practice until it takes no longer than the old way"),
    ("order", "what is level first; the plan weighs more than this"),
];

impl Part<'_> {
    /// Draws the view.
    pub(super) fn first(&self, area: Rect, buf: &mut Buffer) {
        let Some(paying) = &self.told.paying else {
            write(area, buf, &[Line::raw(self.no_old_way())]);
            return;
        };
        let minutes = f64::from(DAYS) * MINUTES_A_DAY;
        let mut lines = vec![self.muted(format!(
            "{} hours of such work a day; later: after {minutes:.0} min of practice",
            self.told.own.habits.hours
        ))];
        if paying.ranking.is_empty() {
            lines.push(Line::raw("This text needs nothing of the layers."));
        }
        // Reasons, of the first at least, and blanks between the parts, as far as
        // there is room.
        let all = paying.ranking.len();
        let forms = std::iter::once((true, all)).chain((0..=all).rev().map(|n| (false, n)));
        let room = usize::from(area.height).saturating_sub(lines.len());
        let mut parts = Vec::new();
        for (loose, reasons) in forms {
            parts = self.parts(area.width, paying, loose, reasons);
            if parts.len() <= room {
                break;
            }
        }
        lines.extend(parts);
        write(area, buf, &lines);
    }

    fn parts(
        &self,
        width: u16,
        paying: &Paying,
        loose: bool,
        reasons: usize,
    ) -> Vec<Line<'static>> {
        let width = usize::from(width).saturating_sub(3).max(1);
        let mut lines = Vec::new();
        for (place, one) in paying.ranking.iter().enumerate() {
            if loose {
                lines.push(Line::raw(""));
            }
            let style = self.theme.style(Meaning::Strong);
            lines.push(Line::from(vec![
                Span::styled(format!("{}. {}", place + 1, one.part.word()), style),
                Span::raw(format!("  {}", one.even_words())),
            ]));
            let saved =
                [format!("now {}", one.now.words()), format!("later {}", one.later.words())];
            let whole = saved.join("; ");
            // Half a figure at a line's end is hard to read.
            let saved = if whole.width() <= width { vec![whole] } else { saved.to_vec() };
            let reason = (place < reasons).then(|| one.reason());
            for part in saved.into_iter().chain(reason) {
                let parts = frame::wrapped(&part, width);
                lines.extend(parts.into_iter().map(|part| self.muted(format!("   {part}"))));
            }
        }
        lines
    }
}
