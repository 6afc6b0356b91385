//! Which screen is drawn, from what and when: the app in the loop of full
//! screens.

use super::App;
use crate::practice::Practice;
use crate::session::{Event, EventKind};
use crate::ui::keymap::Place;
use crate::ui::run::{self, Flow, News};
use crate::ui::screen::{edited, help, pause, practice, progress, result, start, welcome, work};
use crate::ui::widget::frame;
use crate::ui::widget::played;
use crate::units::Micros;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

impl App {
    /// Draws the screen.
    pub fn render(&self, area: Rect, buf: &mut Buffer) {
        if self.config.invented {
            self.render_place(frame::below_mark(area), buf);
            frame::mark_invented(area, buf, self.config.theme);
        } else {
            self.render_place(area, buf);
        }
    }

    fn render_place(&self, area: Rect, buf: &mut Buffer) {
        let theme = self.config.theme;
        let area = self.played_strip(area, buf);
        let layout = &self.config.layout;
        let trouble =
            self.practice.as_ref().and_then(Practice::trouble).or(self.store_trouble.as_deref());
        match self.place {
            Place::Welcome => welcome::draw(area, buf, &layout.title, self.scroll, theme),
            Place::Help => help::draw(area, buf, self.behind, self.scroll, theme),
            Place::Start => start::View {
                layout,
                rows: &self.rows,
                chosen: self.chosen,
                minutes: self.config.minutes,
                read: self.opened,
                trouble,
                theme,
            }
            .draw(area, buf),
            Place::Progress(_) => {
                progress::View { state: &self.progress, layout, theme }.draw(area, buf);
            }
            Place::Work(_) => work::View { state: &self.work, layout, theme }.draw(area, buf),
            Place::Practice => {
                if let Some(practice) = &self.practice {
                    practice::View {
                        session: practice.session(),
                        layout,
                        number: practice.begun(),
                        earlier: practice.earlier(),
                        slip: self.slip.as_ref(),
                        trouble,
                        theme,
                    }
                    .draw(area, buf);
                }
            }
            Place::Result => {
                if let Some((practice, finished)) =
                    self.practice.as_ref().and_then(|p| p.finished().map(|f| (p, f)))
                {
                    result::View {
                        drill: &finished.drill,
                        result: &finished.result,
                        earlier: practice.earlier(),
                        layout,
                        number: practice.begun(),
                        active_s: (
                            practice.session().active().as_secs(),
                            practice.setup().budget.as_secs(),
                        ),
                        next: practice.coming().and_then(|coming| {
                            Some((coming.drill.title.as_str(), coming.reason.as_deref()?))
                        }),
                        settled: self.settles_at.is_none(),
                        trouble,
                        theme,
                    }
                    .draw(area, buf);
                }
            }
            Place::Edited => {
                if let Some((practice, finished)) =
                    self.practice.as_ref().and_then(|p| p.finished().map(|f| (p, f)))
                {
                    edited::View {
                        drill: &finished.drill,
                        result: &finished.result,
                        layout,
                        routes: &practice.setup().routes,
                        replay: self.replay,
                        number: practice.begun(),
                        active_s: (
                            practice.session().active().as_secs(),
                            practice.setup().budget.as_secs(),
                        ),
                        settled: self.settles_at.is_none(),
                        trouble,
                        theme,
                    }
                    .draw(area, buf);
                }
            }
            Place::Look => {
                if let Some(look) = &self.look {
                    look.render(area, buf);
                }
            }
            // A small program of its own.
            Place::Making(_) => {}
            Place::Break => {
                if let Some(practice) = &self.practice {
                    let view = pause::View {
                        time_up: practice.over_budget(),
                        active_s: practice.session().active().as_secs(),
                        drills: practice.begun(),
                    };
                    pause::draw(area, buf, view, theme);
                }
            }
        }
    }
}

impl App {
    /// Says in the first row that layers are played, and by which keys, where
    /// they are; returns the rows below.
    fn played_strip(&self, area: Rect, buf: &mut Buffer) -> Rect {
        let running = self.practice.as_ref().and_then(Practice::player);
        let Some(player) = running.or(self.config.player.as_ref()) else { return area };
        let theme = self.config.theme;
        let margin = if area.width >= 60 { 2 } else { 0 };
        let room = area.width.saturating_sub(margin);
        let line = played::line(player, &self.config.layout, theme);
        if area.height > 0 {
            buf.set_line(area.x + margin, area.y, &line, room);
        }
        Rect { y: area.y + area.height.min(1), height: area.height.saturating_sub(1), ..area }
    }
}

impl run::App for App {
    fn handle(&mut self, news: News) -> Flow {
        let redraw = match news {
            News::Event(Event { kind: EventKind::Leave, .. }) => {
                self.finish();
                return Flow::Leave;
            }
            News::Event(event) if !self.opened => {
                self.opened(event.at);
                // The tick after the first frame, or a key that outran it.
                self.event(&event);
                true
            }
            News::Event(event) => self.event(&event),
            News::Level(level) => {
                self.set_level(level);
                false
            }
            News::Ground(ground) => {
                self.config.theme.ground = ground;
                true
            }
            News::Resize => true,
        };
        if self.left {
            Flow::Leave
        } else if redraw {
            Flow::Redraw
        } else {
            Flow::Same
        }
    }

    fn draw(&mut self, frame: &mut Frame) {
        self.width = frame.area().width;
        self.render(frame.area(), frame.buffer_mut());
    }

    fn next_wake(&self) -> Option<Micros> {
        if !self.opened {
            return Some(Micros::ZERO);
        }
        if self.settles_at.is_some() {
            return self.settles_at;
        }
        let practice = self.practice.as_ref().filter(|_| self.place == Place::Practice)?;
        practice.wake_at().map(|at| at + self.origin)
    }
}
