//! What a page costs on the layout and on the old way.

use super::{Part, write};
use crate::plan::PAGE;
use crate::report::pays::ROWS;
use crate::ui::theme::Meaning;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("time", "seconds a page, 90 % interval; by your keys where measured"),
    ("measured", "share of the strokes whose key was measured"),
    ("way", "metres of the fingers, from rest to key"),
    ("shares", "of all presses"),
];

/// Columns of a figure.
const FIGURE: usize = 22;

impl Part<'_> {
    /// Draws the view.
    pub(super) fn cost(&self, area: Rect, buf: &mut Buffer) {
        let (Some(paying), Some(old_name)) = (&self.told.paying, &self.told.old) else {
            write(area, buf, &[Line::raw(self.no_old_way())]);
            return;
        };
        let [new, old] = &paying.bills;
        let head = format!("A page of your text ({PAGE:.0} characters)");
        let name = ROWS.iter().map(|row| row.0.chars().count()).max().unwrap_or(0);
        let mut lines = vec![
            self.strong(head),
            self.muted(format!("{:name$}  {:FIGURE$}{}", "", self.layout.name, old_name)),
        ];
        for (what, figure) in ROWS {
            lines.push(Line::from(vec![
                Span::styled(format!("{what:name$}  "), self.theme.style(Meaning::Muted)),
                Span::styled(format!("{:FIGURE$}", figure(new)), self.theme.style(Meaning::Strong)),
                Span::raw(figure(old)),
            ]));
        }
        lines.push(Line::raw(""));
        let most = new.time.interval().1.max(old.time.interval().1).max(f64::MIN_POSITIVE);
        let room = usize::from(area.width).saturating_sub(name + 2).min(50);
        for (who, bill) in [(&self.layout.name, new), (old_name, old)] {
            let bar = self.bar(bill.time.seconds / most, room);
            // How far the upper end of the interval reaches beyond.
            let reach = (bill.time.interval().1 / most * room as f64).round() as usize;
            let rest = reach.saturating_sub(bar.chars().count());
            let beyond = if self.theme.unicode { "░" } else { "." };
            lines.push(Line::from(vec![
                Span::styled(format!("{who:name$}  "), self.theme.style(Meaning::Muted)),
                Span::styled(bar, self.theme.style(Meaning::Heat(2))),
                Span::styled(beyond.repeat(rest), self.theme.style(Meaning::Muted)),
            ]));
        }
        lines
            .push(self.muted(format!("{:name$}  seconds a page, and the end of the interval", "")));
        write(area, buf, &lines);
    }

    /// Why nothing can be compared.
    pub(super) fn no_old_way(&self) -> String {
        format!("{} names no old way to compare with: `old_way` in its file", self.layout.name)
    }
}
