//! Where a key is struck: the screens and their views.

/// Where a key is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The first start.
    Welcome,
    /// Choosing what to practise.
    Start,
    /// Typing a line.
    Practice,
    /// The result of a drill.
    Result,
    /// The result of a drill of editing tasks.
    Edited,
    /// The break that is offered.
    Break,
    /// Looking at progress.
    Progress(View),
    /// Looking at what the person's work needs.
    Work(Sight),
    /// The help.
    Help,
    /// Looking at a layout: what is typed is searched for.
    Look,
    /// Making a layout: describing it, or learning it from the keyboard.
    Making(Step),
}

/// What a key is for while a layout is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Choosing and describing the board.
    Board,
    /// Naming layers.
    Layers,
    /// Saying which keys open them.
    Accesses,
    /// Striking the marked key: every key but Esc is noted.
    Strike,
    /// Choosing from a list.
    List,
    /// Writing a word.
    Word,
    /// Pointing at a key of the board.
    Point,
}

/// The views of progress, in the order in which Tab goes through them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// By layer, with a chart over the days.
    Layers,
    /// The board as a heat map.
    Board,
    /// From which layer to which.
    Switches,
    /// Key by key.
    Items,
    /// Day by day.
    Calendar,
}

impl View {
    /// Every view, in order.
    pub const ALL: [Self; 5] =
        [Self::Layers, Self::Board, Self::Switches, Self::Items, Self::Calendar];

    /// Its name on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Layers => "layers",
            Self::Board => "board",
            Self::Switches => "switches",
            Self::Items => "keys",
            Self::Calendar => "days",
        }
    }

    /// The view so many further on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let at = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(at + by) % Self::ALL.len()]
    }
}

/// The views of the person's work, in the order in which Tab goes through them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sight {
    /// What each layer and key is needed for.
    #[default]
    Need,
    /// What a page costs here and on the old way.
    Cost,
    /// Which layer first.
    First,
    /// What would lie better.
    Places,
    /// What was promised, and what came of it.
    Promised,
}

impl Sight {
    /// Every view, in order.
    pub const ALL: [Self; 5] = [Self::Need, Self::Cost, Self::First, Self::Places, Self::Promised];

    /// Its name on screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Need => "need",
            Self::Cost => "cost",
            Self::First => "first",
            Self::Places => "places",
            Self::Promised => "promised",
        }
    }

    /// The view so many further on, round and round.
    #[must_use]
    pub fn step(self, by: usize) -> Self {
        let at = Self::ALL.iter().position(|sight| *sight == self).unwrap_or(0);
        Self::ALL[(at + by) % Self::ALL.len()]
    }
}
