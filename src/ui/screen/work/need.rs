//! How much of the work each layer has, and the keys of one as a heat map.

use super::{Part, write};
use crate::plan::PAGE;
use crate::report::arrange::heat;
use crate::ui::theme::Meaning;
use crate::ui::widget::board::{BoardView, Heat};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

/// See [`super::figures`].
pub const FIGURES: &[(&str, &str)] = &[
    ("a page", "strokes of 1,800 characters of your text, and keys besides"),
    ("entered", "how often a page the layer is opened"),
    ("board", "strokes a working day; each shade three times the one before"),
];

/// Columns of the bars.
const BAR: usize = 24;

impl Part<'_> {
    /// Draws the view.
    pub(super) fn need(&self, area: Rect, buf: &mut Buffer) {
        let told = self.told;
        let chars = told.own.counts.total();
        let mut lines = vec![self.muted(format!(
            "{chars} characters of {} texts, counted on {}",
            told.kept.texts,
            crate::store::wall_clock::day_text(told.kept.day)
        ))];
        let others = |one: &&(crate::layout::LayerId, f64, f64)| one.0.index() > 0;
        let most = told.layers.iter().filter(others).map(|one| one.1).fold(0.0, f64::max);
        let names = self.layout.layers.iter().map(|layer| layer.name.chars().count());
        let width = names.max().unwrap_or(0);
        for (place, (id, times, entered)) in told.layers.iter().enumerate() {
            let chosen = place == self.state.layer;
            let style = self.theme.style(if chosen { Meaning::Strong } else { Meaning::Text });
            let mark = match (chosen, self.theme.unicode) {
                (true, true) => "▸ ",
                (true, false) => "> ",
                (false, _) => "  ",
            };
            let name = &self.layout.layer(*id).name;
            let mut spans = vec![
                Span::styled(format!("{mark}{name:width$}"), style),
                Span::raw(format!("{times:>7.0} a page  ")),
            ];
            if id.index() == 0 {
                // It would dwarf all others.
                let share = 100.0 * times / PAGE;
                spans.push(Span::styled(
                    format!("{share:.0} % of the strokes"),
                    self.theme.style(Meaning::Muted),
                ));
            } else {
                let bar = self.bar(if most > 0.0 { times / most } else { 0.0 }, BAR);
                spans.push(Span::styled(
                    format!("{bar:BAR$}"),
                    self.theme.style(Meaning::Layer(id.0)),
                ));
                spans.push(Span::styled(
                    format!(" entered {entered:.0}"),
                    self.theme.style(Meaning::Muted),
                ));
            }
            lines.push(Line::from(spans));
        }
        lines.push(Line::raw(""));
        let rest = write(area, buf, &lines);
        let id = self.state.id();
        let heat = heat(self.layout, id, &told.a_day);
        let view = BoardView { heat: &heat, ..BoardView::new(self.layout, id, self.theme) };
        if rest.height > view.least_height() {
            let height = view.height(rest.width).min(rest.height - 1);
            (&view).render(Rect { height, ..rest }, buf);
            let below = Rect { y: rest.y + height, height: rest.height - height, ..rest };
            write(below, buf, &[self.need_legend(&heat)]);
        }
    }

    /// What the shades stand for.
    pub(super) fn need_legend(&self, heat: &[Option<Heat>]) -> Line<'static> {
        let mut spans = Vec::new();
        for step in 0..4_u8 {
            let of = heat.iter().flatten().filter(|one| one.step == step);
            let figures: Vec<u64> = of.filter_map(|one| one.figure.parse().ok()).collect();
            let words = match (figures.iter().min(), figures.iter().max()) {
                (Some(least), Some(most)) if least < most => format!(" {least} to {most}   "),
                (Some(only), _) => format!(" {only}   "),
                _ => continue,
            };
            let glyph = Heat::glyph(step, self.theme.unicode);
            spans.push(Span::styled(glyph.repeat(2), self.theme.style(Meaning::Heat(step))));
            spans.push(Span::raw(words));
        }
        spans.push(Span::styled("strokes a working day", self.theme.style(Meaning::Muted)));
        Line::from(spans)
    }
}
