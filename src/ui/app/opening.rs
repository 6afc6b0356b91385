//! What the program was asked to open, and what it needs for that.

use crate::drill::Offer;
use crate::editor::Bindings;
use crate::layout::{Layout, RouteTable};
use crate::played::Player;
use crate::practice::Wanted;
use crate::session::Checked;
use crate::survey::Surveyed;
use crate::ui::screen::progress::Asked;
use crate::ui::theme::Theme;
use std::path::PathBuf;
use std::sync::Arc;

/// What the program was asked to open.
#[derive(Debug, Clone)]
pub enum Opening {
    /// The start screen; the welcome before it on the first start.
    Start {
        /// True where there is no history yet.
        first: bool,
    },
    /// Practice at once; leaving it leaves
    /// the program. The welcome before it on the first start.
    Practice {
        /// What to practise.
        wanted: Wanted,
        /// True where there is no history yet.
        first: bool,
    },
    /// The views of progress; leaving them leaves the program.
    Progress(Asked),
}

/// What an [`App`](super::App) needs to know.
#[derive(Debug, Clone)]
pub struct Config {
    /// The layout in use.
    pub layout: Arc<Layout>,
    /// Its routes.
    pub routes: Arc<RouteTable>,
    /// What it can drill.
    pub offers: Vec<Offer>,
    /// The layout used before, where it is named and could be read.
    pub old_layout: Option<Arc<Layout>>,
    /// The layout whose drills are practised on `layout`, with its routes,
    /// where it is another one.
    pub drills_of: Option<(Arc<Layout>, Arc<RouteTable>)>,
    /// Who plays the layers, where the keyboard under the hands has none.
    pub player: Option<Player>,
    /// Folder of the history.
    pub data: PathBuf,
    /// What each key does in editing tasks.
    pub bindings: Arc<Bindings>,
    /// What a check found that this terminal lets through.
    pub checked: Arc<Checked>,
    /// What the person's texts have, where they were counted.
    pub surveyed: Option<Arc<Surveyed>>,
    /// Seed of the drills; none takes a new one each sitting.
    pub seed: Option<u64>,
    /// Length of a sitting, minutes.
    pub minutes: u32,
    /// Active minutes after which a break is offered.
    pub break_after: u32,
    /// True where the history is invented, which every screen says.
    pub invented: bool,
    /// How it looks.
    pub theme: Theme,
}
