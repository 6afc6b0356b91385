//! What the model says beside the plain figures: how far things are learnt,
//! what is to be expected, what switches cost.

use super::{Forecast, Lately};
use crate::drill::ItemKey;
use crate::layout::{LayerId, Layout, RouteTable};
use crate::model::errors::State;
use crate::model::hands::{Findings, ItemFinding, LayerFinding};
use crate::model::learning::Reach;
use crate::plan::{Need, Pace, PageTime};
use crate::session::Spread;
use crate::store::{ItemName, wall_clock};
use crate::survey::Surveyed;
use crate::units::Micros;
use std::collections::BTreeMap;

/// The chart looks so many days ahead.
const DAYS_AHEAD: u32 = 14;
/// "On this course" looks so many days ahead.
const HORIZON: u32 = 365;
/// Where the old way has no measure of an output, a key counts as fast enough
/// at so many times the person's median letter. Our own choice.
const NEAR_A_LETTER: f64 = 1.25;
/// The same where no letter was measured either, ms: our own choice.
const USUAL_TARGET_MS: f64 = 250.0;
/// The share of a page that must be measured on both sides before the two are
/// compared.
pub const LEAST_MEASURED: f64 = 0.8;

/// What the model says of a layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Keys by how far they are learnt: mastered, learning, not met.
    pub n_mastered: usize,
    /// Keys on their way.
    pub n_learning: usize,
    /// Keys of the layout that were never struck.
    pub n_not_met: usize,
    /// Keys in all.
    pub n_items: usize,
    /// True where the last half of the days brought no gain beyond the noise.
    pub stands_still: bool,
    /// The gain of the last half of the days as a share, with its 90 %
    /// interval; none for too few days.
    pub recent_gain: Option<(f64, f64, f64)>,
    /// Medians to come, by day, with their interval.
    pub forecast: Vec<Forecast>,
    /// When it will be as fast as the old way; none where that is not measured.
    pub reach: Option<Reach>,
}

/// What the model says of a key.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemOutlook {
    /// What is known of it.
    pub finding: ItemFinding,
    /// How far it is learnt.
    pub state: State,
    /// The median that counts as fast enough, ms.
    pub target_ms: f64,
    /// When it will be as fast as the old way; none where that is not measured.
    pub reach: Option<Reach>,
}

/// A page of the person's text on both ways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PageOutlook {
    /// On this layout.
    pub now: PageTime,
    /// The share of its strokes that is measured, 0 to 1.
    pub measured: f64,
    /// On the old way, and the share of it that is measured.
    pub old: Option<(PageTime, f64)>,
    /// Days from now between which it comes to take no longer than on the old
    /// way; none where that is not on this course, or not to be told.
    pub reach: Option<(u32, Option<u32>)>,
    /// True where it is a page of the person's own texts.
    pub own: bool,
}

impl PageOutlook {
    /// Whose text it is a page of.
    pub const fn whose(&self) -> &'static str {
        if self.own { "your text" } else { "ordinary text" }
    }

    /// Both ways compared, in words for the person; `today` is a local day.
    pub fn words(&self, today: i32) -> String {
        let Some((old, measured)) = self.old else { return "old way not measured".into() };
        if self.measured < LEAST_MEASURED || measured < LEAST_MEASURED {
            return format!(
                "too few keys measured to compare ({:.0} % here, {:.0} % on the old way)",
                self.measured * 100.0,
                measured * 100.0
            );
        }
        let (share, low, high) = self.now.against(old);
        let percent = |share: f64| format!("{:.0} %", share.abs() * 100.0);
        if high < 0.0 {
            return format!("beats the old way by {}", percent(share));
        }
        let course = course_words(self.reach, today);
        if low > 0.0 {
            format!("{} behind the old way; {course}", percent(share))
        } else {
            "no clear difference from the old way".into()
        }
    }
}

fn course_words(reach: Option<(u32, Option<u32>)>, today: i32) -> String {
    let day = |ahead: u32| wall_clock::day_text(today.saturating_add_unsigned(ahead));
    match reach {
        None => "not on this course".into(),
        Some((from, Some(to))) => {
            format!("level on this course between {} and {}", day(from), day(to))
        }
        Some((from, None)) => format!("level on this course on {} or later", day(from)),
    }
}

/// When a course meets the old way, in words for the person.
pub fn reach_words(reach: Reach, today: i32) -> String {
    let day = |ahead: u32| wall_clock::day_text(today.saturating_add_unsigned(ahead));
    match reach {
        Reach::Already => "as fast as the old way".into(),
        Reach::Between(from, Some(to)) => {
            format!("on this course between {} and {}", day(from), day(to))
        }
        Reach::Between(from, None) => format!("on this course on {} or later", day(from)),
        Reach::NotOnThisCourse => "not on this course".into(),
    }
}

/// The layouts and findings that outlooks are made from.
pub(super) struct Known<'a> {
    pub layout: &'a Layout,
    pub routes: &'a RouteTable,
    pub findings: &'a Findings,
    pub today: i32,
    by_name: BTreeMap<(LayerId, String), &'a ItemFinding>,
}

impl<'a> Known<'a> {
    pub fn new(
        layout: &'a Layout,
        routes: &'a RouteTable,
        findings: &'a Findings,
        today: i32,
    ) -> Self {
        let mut by_name: BTreeMap<(LayerId, String), &ItemFinding> = BTreeMap::new();
        for (item, finding) in &findings.items {
            let kept = by_name.entry((item.layer, item.output.to_string())).or_insert(finding);
            if finding.repetitions > kept.repetitions {
                *kept = finding;
            }
        }
        Self { layout, routes, findings, today, by_name }
    }

    /// What counts as fast enough for a key: the old way's median, or near the
    /// person's own letters.
    fn target_ms(&self, old: Option<&Spread>) -> f64 {
        let letters = self.findings.layers.get(&LayerId::BASE);
        let near = letters.map_or(USUAL_TARGET_MS, |l| l.latency.mean.ms * NEAR_A_LETTER);
        old.map_or(near, |old| old.median.as_ms())
    }

    /// Of an item that was struck so often a day lately.
    pub fn item(&self, name: &ItemName, old: Option<&Spread>, per_day: f64) -> Option<ItemOutlook> {
        let layer = self.layout.layer_named(&name.layer)?;
        let finding = *self.by_name.get(&(layer, name.output.clone()))?;
        let target_ms = self.target_ms(old);
        let reach = old.and_then(|old| {
            let curve = finding.curve.as_ref()?;
            Some(curve.reach(old.median.as_ms(), per_day, HORIZON))
        });
        Some(ItemOutlook {
            finding: finding.clone(),
            state: finding.state(target_ms),
            target_ms,
            reach,
        })
    }

    /// Of a layer whose keys came so often a day lately. `old` is the old way's
    /// median of the layer's mix, `of_output` that of an output.
    pub fn layer(
        &self,
        layer: LayerId,
        lately: &Lately,
        per_day: f64,
        old: Option<&Spread>,
        of_output: impl Fn(&str) -> Option<Spread>,
    ) -> Outlook {
        let mut counts = [0; 3];
        for (output, _) in self.routes.outputs() {
            if self.routes.preferred(output).is_none_or(|route| route.layer != layer) {
                continue;
            }
            let name = output.to_string();
            let target = self.target_ms(of_output(&name).as_ref());
            let finding = self.by_name.get(&(layer, name));
            let state = finding.map_or(State::NotMet, |finding| finding.state(target));
            counts[match state {
                State::Mastered => 0,
                State::Learning | State::StandingStill => 1,
                State::NotMet => 2,
            }] += 1;
        }
        let finding = self.findings.layers.get(&layer);
        let (forecast, reach) = finding
            .and_then(|finding| self.ahead(finding, lately, per_day, old))
            .unwrap_or_default();
        Outlook {
            n_mastered: counts[0],
            n_learning: counts[1],
            n_not_met: counts[2],
            n_items: counts.iter().sum(),
            stands_still: finding.is_some_and(|finding| finding.stands_still),
            recent_gain: finding.and_then(|finding| finding.recent_gain),
            forecast,
            reach,
        }
    }

    /// The curve is of the layer's mean key; what it says of the days to come is
    /// put on the median of the layer's practised mix lately, which the chart
    /// shows.
    fn ahead(
        &self,
        finding: &LayerFinding,
        lately: &Lately,
        per_day: f64,
        old: Option<&Spread>,
    ) -> Option<(Vec<Forecast>, Option<Reach>)> {
        let curve = finding.curve.as_ref()?;
        let median = lately.now.as_ref()?.median.as_ms();
        let scale = median / curve.ln_at(curve.repetitions).0.exp();
        let micros = |ms: f64| Micros((ms * scale * 1000.0).max(0.0) as u64);
        let forecast = curve
            .forecast(DAYS_AHEAD, per_day)
            .into_iter()
            .map(|f| Forecast {
                day: self.today.saturating_add_unsigned(f.days_ahead),
                low: micros(f.median.low_ms),
                middle: micros(f.median.ms),
                high: micros(f.median.high_ms),
            })
            .collect();
        let reach = old.map(|old| curve.reach(old.median.as_ms() / scale, per_day, HORIZON));
        Some((forecast, reach))
    }

    /// A page of the person's text here and on the old way, or of the shipped mix
    /// of work while none was counted; `per_day` tells how often an item came a day lately.
    pub fn page(
        &self,
        old: Option<(&Layout, &RouteTable, &Findings)>,
        surveyed: Option<&Surveyed>,
        per_day: impl Fn(&ItemKey) -> f64,
    ) -> Option<PageOutlook> {
        let need = Need::of_text(self.routes, surveyed).ok()?;
        let pace = Pace::new(self.layout, self.routes, &need, self.findings);
        let old = old.and_then(|(layout, routes, findings)| {
            if findings.items.is_empty() {
                return None;
            }
            let need = Need::of_text(routes, surveyed).ok()?;
            let pace = Pace::new(layout, routes, &need, findings);
            Some((pace.now(), pace.measured))
        });
        let told = |measured: f64| measured >= LEAST_MEASURED;
        let reach = old
            .filter(|(_, measured)| told(*measured) && told(pace.measured))
            .and_then(|(target, _)| pace.reach(target, HORIZON, per_day));
        let own = need.is_own();
        Some(PageOutlook { now: pace.now(), measured: pace.measured, old, reach, own })
    }
}
