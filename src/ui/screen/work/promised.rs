//! What surveys forecast, and what came of it.

use super::{Part, write};
use crate::store::wall_clock::day_text;
use crate::survey::{Kept, Standing};
use crate::ui::theme::Meaning;
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("forecast", "seconds a working day after so much practice"),
    ("now", "by the same reckoning, with your hands of today"),
    ("as promised", "then the two 90 % intervals have something in common"),
    ("practice", "minutes on the part's layers since the promise"),
];

/// What to do where nothing was promised.
const NOTHING: &str = "Nothing is promised yet for this layout: each `etude survey PATH…` \
                       forecasts what its parts will save, and is held to it here.";

impl Part<'_> {
    /// Draws the view: the latest first, as many as there is room for.
    pub(super) fn promised(&self, area: Rect, buf: &mut Buffer) {
        if self.told.paying.is_none() {
            write(area, buf, &[Line::raw(self.no_old_way())]);
            return;
        }
        let (width, height) = (usize::from(area.width), usize::from(area.height));
        if self.told.promises.is_empty() {
            let lines = frame::wrapped(NOTHING, width);
            write(area, buf, &lines.into_iter().map(Line::raw).collect::<Vec<_>>());
            return;
        }
        let all = || self.told.promises.iter().rev();
        let head =
            self.muted("Forecast for after that practice, against the old way; latest first");
        // Blanks between them, as far as there is room.
        for loose in [true, false] {
            let mut lines = vec![head.clone()];
            let mut shown = 0;
            for kept in all() {
                let mut own = self.one(kept, width);
                if loose {
                    own.insert(0, Line::raw(""));
                }
                // The last row tells of those that have no room.
                let last = shown + 1 == self.told.promises.len();
                if lines.len() + own.len() + usize::from(!last) > height {
                    break;
                }
                lines.extend(own);
                shown += 1;
            }
            let more = self.told.promises.len() - shown;
            if more == 0 || !loose {
                if more > 0 {
                    lines.push(self.muted(format!("and {more} more: etude progress --plain")));
                }
                write(area, buf, &lines);
                return;
            }
        }
    }

    fn one(&self, kept: &Kept, width: usize) -> Vec<Line<'static>> {
        let Kept { promise, minutes, now, standing } = kept;
        let meaning = match standing {
            Standing::Early => Meaning::Muted,
            Standing::Held | Standing::More => Meaning::Better,
            Standing::Less => Meaning::Worse,
        };
        let head = Line::from(vec![
            Span::styled(promise.part.clone(), self.theme.style(Meaning::Strong)),
            Span::raw("  "),
            Span::styled(standing.words(), self.theme.style(meaning)),
        ]);
        let told = [
            format!("forecast {}: {}", day_text(promise.day), promise.saving().words()),
            format!("now {}; {minutes:.0} of {:.0} min practised", now.words(), promise.minutes),
        ];
        let rest = told.iter().flat_map(|words| frame::wrapped(words, width.saturating_sub(3)));
        std::iter::once(head).chain(rest.map(|words| self.muted(format!("   {words}")))).collect()
    }
}
