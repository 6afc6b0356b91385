//! Learning a layout from the keyboard: which key is due, what arrived, and
//! the lists by which a person says what no key can say.

use super::list::{self, Below, Chosen, List, Word, place_of};
use crate::capture::{Capture, Due, Note, Outcome, Summary, Why, commented};
use crate::keyboard::{Modifiers, Position};
use crate::layout::check::Weight;
use crate::layout::{
    Access, AccessKind, Assignment, Cluster, LayerId, Layout, Target, check, token,
};
use crate::session::{Event, EventKind, KeyState, Level, Stroke};
use crate::ui::keymap::{self, Action, Place, Step};
use crate::ui::theme::{Meaning, Theme};
use crate::ui::widget::frame;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// What came of an event.
pub enum Taken {
    /// Nothing.
    Same,
    /// It looks different, and notes may wait.
    Changed,
    /// The person left; it can be gone on with.
    Left,
    /// The file is to be written.
    Write {
        /// Its text.
        text: String,
        /// True where practice is wished for.
        practise: bool,
    },
}

/// What a person can say of the due key, or of the capture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Say {
    Nothing,
    Opens,
    Beneath,
    Escape,
    Dead,
    Write,
    Skip,
    Back,
    RestBeneath,
    SkipLayer,
    TakeUp,
    Leave,
    Finish,
    Practise,
}

/// What a key may open.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Opened {
    Target(Target),
    NewLayer,
}

#[derive(Debug, Clone)]
enum Mode {
    /// The marked key is to be struck.
    Strike,
    /// Something is said of it.
    Say(List<Say>),
    /// What it opens.
    Opens(List<Opened>),
    /// How; for the key to which the layer was pointed, if one.
    How(Target, Option<usize>, List<AccessKind>),
    /// The name of a new layer.
    Name(Word),
    /// What the new layer is for.
    For(String, List<Cluster>),
    /// A token of the layout file.
    Token(Word),
    /// Which of these it was.
    Which(List<usize>),
    /// The key that opens the due layer is pointed at.
    Point(usize),
    /// Everything is told.
    Done(List<Say>),
}

/// A capture on screen.
pub struct Taking {
    capture: Capture,
    mode: Mode,
    /// What the last arrival came to.
    said: Vec<(Meaning, String)>,
}

impl Taking {
    /// The screen of `capture`; `resumed` says that it was left before.
    pub fn new(capture: Capture, resumed: bool) -> Self {
        let mut taking = Self { capture, mode: Mode::Strike, said: Vec::new() };
        taking.settle();
        if resumed {
            taking.said = vec![(Meaning::Strong, "Gone on with where it was left.".to_owned())];
        }
        taking
    }

    /// The notes since they were taken last.
    pub fn take_notes(&mut self) -> Vec<Note> {
        self.capture.take_notes()
    }

    /// Takes note of what the terminal can tell apart.
    pub fn set_level(&mut self, level: Level) {
        self.capture.set_level(level);
    }

    fn layout(&self) -> Layout {
        self.capture.draft().layout()
    }

    /// Chooses what is shown by what is due.
    fn settle(&mut self) {
        self.mode = match self.capture.due() {
            None => self.done(),
            Some(due) if due.layer != LayerId::BASE && due.access.is_none() => {
                let thumb = self
                    .layout()
                    .board
                    .sites
                    .iter()
                    .position(|site| matches!(site.position, Position::Thumb { .. }));
                Mode::Point(thumb.unwrap_or(0))
            }
            Some(_) => Mode::Strike,
        };
    }

    /// Takes in one event.
    pub fn event(&mut self, event: &Event) -> Taken {
        // A key that sends several characters may still be at it.
        if matches!(self.mode, Mode::Strike | Mode::Done(_) | Mode::Point(_)) {
            let outcome = self.capture.event(event);
            if matches!(self.mode, Mode::Strike) || outcome == Outcome::Noted {
                return self.heard(outcome);
            }
        }
        let EventKind::Key(key) = &event.kind else { return Taken::Same };
        // A key held too long must not choose twice.
        if key.state != KeyState::Press {
            return Taken::Same;
        }
        self.stroke(&key.stroke)
    }

    fn heard(&mut self, outcome: Outcome) -> Taken {
        match outcome {
            Outcome::Nothing => return Taken::Same,
            Outcome::Noted => {
                self.told();
                self.settle();
            }
            Outcome::Menu => self.mode = Mode::Say(self.sayings()),
            Outcome::Ask => self.ask(),
            Outcome::Doubt(output, why) => {
                let output = token::write_output(&output);
                let words = match why {
                    Why::AccessTap => format!(
                        "{output} is what the layer's key gives when struck: hold it longer. If \
                         the marked key gives it too, strike it again."
                    ),
                    Why::Repeated => format!(
                        "{output} again: a key held too long? If the marked key gives it too, \
                         strike it once more."
                    ),
                };
                self.said = vec![(Meaning::Caution, words)];
            }
            Outcome::TooMuch => {
                let words = "More arrived than a layout can say of one key; the rest is left out.";
                self.said = vec![(Meaning::Caution, words.to_owned())];
            }
        }
        Taken::Changed
    }

    /// Says what the last key came to.
    fn told(&mut self) {
        self.said.clear();
        let Some(spot) = self.capture.last_told() else { return };
        let layout = self.layout();
        let draft = self.capture.draft();
        let names: Vec<String> = draft.layers.iter().map(|layer| layer.name.clone()).collect();
        let position = layout.board.sites[spot.1].position;
        let words = match draft.key(spot.0, spot.1) {
            None => format!("{position} is passed over"),
            Some(Assignment::FallThrough) => {
                format!("{position}: as on the layer beneath")
            }
            Some(Assignment::Nothing) => format!("{position}: nothing"),
            Some(key) => format!("{position}: {}", token::write(key, &names)),
        };
        let holds = self
            .capture
            .due()
            .and_then(|due| due.access)
            .filter(|(_, _, access)| access.kind == AccessKind::Hold);
        let words = match (draft.key(spot.0, spot.1), holds) {
            (Some(Assignment::FallThrough), Some((_, index, _))) => {
                format!("{words} (was {} held down?)", layout.board.sites[index].position)
            }
            _ => words,
        };
        self.said.push((Meaning::Text, words));
        let doubles: Vec<String> = self
            .capture
            .doubles(spot)
            .into_iter()
            .map(|index| layout.board.sites[index].position.to_string())
            .collect();
        if !doubles.is_empty() {
            let words = format!("{} gives the same; both are noted", doubles.join(", "));
            self.said.push((Meaning::Muted, words));
        }
    }

    fn ask(&mut self) {
        let Some(asked) = self.capture.asked() else { return };
        let rows = asked.iter().enumerate().map(|(n, output)| {
            let key = char::from_digit(n as u32 + 1, 10).unwrap_or(' ');
            (key, token::write_output(output), n)
        });
        let rows: Vec<_> = rows.collect();
        let title = format!(
            "{} arrived. This terminal sends the same for all of these; which does the key give? \
             Esc, then 'write it', says another.",
            rows.first().map_or("", |(_, label, _)| label)
        );
        self.mode = Mode::Which(List::new(title, rows));
    }

    /// What can be said of the due key.
    fn sayings(&self) -> List<Say> {
        let layout = self.layout();
        let Some(due) = self.capture.due() else { return List::new("", Vec::new()) };
        let above = due.layer != LayerId::BASE;
        let mut rows: Vec<(char, &str, Say)> = Vec::new();
        if self.capture.draft().access_to(due.layer).is_some() || !above {
            let nothing = if due.tap {
                "nothing when it is struck: it only opens the layer"
            } else {
                "nothing: no key, or one that does nothing here"
            };
            let beneath = ('u', "the same as on the layer beneath", Say::Beneath);
            if above && self.gives_nothing_beneath(due) {
                rows.extend([beneath, ('n', nothing, Say::Nothing)]);
            } else {
                rows.push(('n', nothing, Say::Nothing));
                rows.extend(above.then_some(beneath));
            }
            if !due.tap {
                rows.push(('o', "it opens a layer, or is Shift, Ctrl, Alt or Meta", Say::Opens));
            }
            rows.push(('e', "it gives Escape", Say::Escape));
            rows.push(('d', "it is a dead key", Say::Dead));
            rows.push(('w', "something that does not arrive here: write it", Say::Write));
            rows.push(('s', "pass it over for now", Say::Skip));
            if above {
                rows.push((
                    'r',
                    "it and all the rest here: as on the layer beneath",
                    Say::RestBeneath,
                ));
            }
        }
        if above {
            rows.push(('l', "pass over the rest of this layer", Say::SkipLayer));
        }
        if self.capture.last_told().is_some() {
            rows.push(('b', "back: the key before was noted wrongly", Say::Back));
        }
        rows.push(('q', "leave; everything is kept, and can be gone on with", Say::Leave));
        let rows = rows.into_iter().map(|(key, label, say)| (key, label.to_owned(), say)).collect();
        let name = &layout.layer(due.layer).name;
        List::new(format!("{} on {name}", place_of(&layout, due.index)), rows)
    }

    fn gives_nothing_beneath(&self, due: Due) -> bool {
        !matches!(
            self.capture.draft().key(LayerId::BASE, due.index),
            Some(Assignment::Gives(_) | Assignment::Dual { .. })
        )
    }

    fn stroke(&mut self, stroke: &Stroke) -> Taken {
        match &mut self.mode {
            Mode::Strike => Taken::Same,
            Mode::Say(list) | Mode::Done(list) => match list.stroke(stroke) {
                Chosen::Same => Taken::Same,
                Chosen::Moved => Taken::Changed,
                Chosen::Closed => self.close(),
                Chosen::This(say) => self.say(say),
            },
            Mode::Opens(list) => match list.stroke(stroke) {
                Chosen::Same => Taken::Same,
                Chosen::Moved => Taken::Changed,
                Chosen::Closed => self.close(),
                Chosen::This(Opened::Target(target)) => self.how(target, None),
                Chosen::This(Opened::NewLayer) => {
                    self.mode = Mode::Name(Word::new("A name for the new layer"));
                    Taken::Changed
                }
            },
            Mode::How(target, pointed, list) => {
                let (target, pointed) = (*target, *pointed);
                match list.stroke(stroke) {
                    Chosen::Same => Taken::Same,
                    Chosen::Moved => Taken::Changed,
                    Chosen::Closed => self.close(),
                    Chosen::This(kind) => self.open(Access { kind, target }, pointed),
                }
            }
            Mode::Name(word) => match word.stroke(stroke) {
                Chosen::Same => Taken::Same,
                Chosen::Moved => Taken::Changed,
                Chosen::Closed => self.close(),
                Chosen::This(name) => {
                    match self.capture.draft().allows(&name, None) {
                        Err(error) => word.wrong = Some(error.to_string()),
                        Ok(()) => self.mode = Mode::For(name, clusters()),
                    }
                    Taken::Changed
                }
            },
            Mode::For(name, list) => {
                let name = name.clone();
                match list.stroke(stroke) {
                    Chosen::Same => Taken::Same,
                    Chosen::Moved => Taken::Changed,
                    Chosen::Closed => self.close(),
                    Chosen::This(cluster) => match self.capture.add_layer(&name, cluster) {
                        Ok(id) => self.how(Target::Layer(id), None),
                        Err(error) => {
                            self.said = vec![(Meaning::Caution, error.to_string())];
                            self.close()
                        }
                    },
                }
            }
            Mode::Token(word) => match word.stroke(stroke) {
                Chosen::Same => Taken::Same,
                Chosen::Moved => Taken::Changed,
                Chosen::Closed => self.close(),
                Chosen::This(token) => {
                    if let Err(error) = self.capture.write(&token) {
                        word.wrong = Some(error.to_string());
                    } else {
                        self.told();
                        self.settle();
                    }
                    Taken::Changed
                }
            },
            Mode::Which(list) => match list.stroke(stroke) {
                Chosen::Same => Taken::Same,
                Chosen::Moved => Taken::Changed,
                Chosen::Closed => {
                    self.capture.dismiss();
                    self.mode = Mode::Say(self.sayings());
                    Taken::Changed
                }
                Chosen::This(number) => {
                    self.capture.answer(number);
                    self.told();
                    self.settle();
                    Taken::Changed
                }
            },
            Mode::Point(index) => {
                let keys = self.capture.draft().board.sites.len().max(1);
                match keymap::action(Place::Making(Step::Point), stroke) {
                    Some(Action::Less) => *index = (*index + keys - 1) % keys,
                    Some(Action::More) => *index = (*index + 1) % keys,
                    Some(Action::Go) => {
                        let index = *index;
                        if let Some(due) = self.capture.due() {
                            return self.how(Target::Layer(due.layer), Some(index));
                        }
                    }
                    Some(Action::Back) => self.mode = Mode::Say(self.sayings()),
                    _ => return Taken::Same,
                }
                Taken::Changed
            }
        }
    }

    fn close(&mut self) -> Taken {
        self.capture.dismiss();
        if matches!(self.mode, Mode::Done(_)) {
            return Taken::Left;
        }
        self.settle();
        Taken::Changed
    }

    fn how(&mut self, target: Target, pointed: Option<usize>) -> Taken {
        let rows = vec![
            ('h', "while it is held down".to_owned(), AccessKind::Hold),
            ('n', "for the next key only (latch)".to_owned(), AccessKind::Latch),
            ('l', "until it is struck again (lock)".to_owned(), AccessKind::Lock),
        ];
        let what = match target {
            Target::Layer(id) => format!("the layer '{}'", self.layout().layer(id).name),
            Target::Modifier(modifier) => modifier.to_string(),
        };
        self.mode = Mode::How(target, pointed, List::new(format!("It opens {what}"), rows));
        Taken::Changed
    }

    fn open(&mut self, access: Access, pointed: Option<usize>) -> Taken {
        if let Some(index) = pointed {
            self.capture.opened_by(index, access);
        } else {
            self.capture.opens(access);
        }
        self.said.clear();
        if pointed.is_none() && access.kind != AccessKind::Hold {
            self.told();
        }
        self.settle();
        Taken::Changed
    }

    fn say(&mut self, say: Say) -> Taken {
        match say {
            Say::Nothing => self.capture.nothing(),
            Say::Beneath => self.capture.as_beneath(),
            Say::RestBeneath => self.capture.rest_as_beneath(),
            Say::Skip => self.capture.skip(),
            Say::SkipLayer => self.capture.skip_layer(),
            Say::TakeUp => self.capture.take_up_skipped(),
            Say::Escape => {
                if self.capture.escape() == Outcome::Ask {
                    self.ask();
                    return Taken::Changed;
                }
            }
            Say::Opens => {
                self.mode = Mode::Opens(self.openable());
                return Taken::Changed;
            }
            Say::Dead => {
                self.capture.expect_dead();
                self.said.clear();
                self.mode = Mode::Strike;
                return Taken::Changed;
            }
            Say::Write => {
                let title = "What does it give? One character, a named key such as F13, a chord \
                             such as Ctrl+Shift+V, text in \"quotes\"";
                self.mode = Mode::Token(Word::new(title));
                return Taken::Changed;
            }
            Say::Back => {
                self.capture.back();
                self.said.clear();
                self.settle();
                return Taken::Changed;
            }
            Say::Leave => return Taken::Left,
            Say::Finish | Say::Practise => return self.finish(say == Say::Practise),
        }
        self.told();
        self.settle();
        Taken::Changed
    }

    /// The layers and modifiers that a key can open.
    fn openable(&self) -> List<Opened> {
        let draft = self.capture.draft();
        let mut rows = Vec::new();
        for (n, layer) in draft.layers.iter().enumerate().skip(1) {
            let key = char::from_digit(n as u32, 36).unwrap_or(' ');
            let target = Target::Layer(LayerId(n as u8));
            rows.push((key, format!("the layer '{}'", layer.name), Opened::Target(target)));
        }
        rows.push(('+', "a new layer".to_owned(), Opened::NewLayer));
        for (key, modifier) in [
            ('S', Modifiers::SHIFT),
            ('C', Modifiers::CTRL),
            ('A', Modifiers::ALT),
            ('M', Modifiers::META),
        ] {
            rows.push((key, modifier.to_string(), Opened::Target(Target::Modifier(modifier))));
        }
        let base = Target::Layer(LayerId::BASE);
        rows.push(('0', "the base layer: it ends every lock".to_owned(), Opened::Target(base)));
        List::new("What does it open?", rows)
    }

    fn done(&self) -> Mode {
        let skipped = self.capture.skipped().count();
        let mut rows = vec![
            ('p', "write the layout and practise it".to_owned(), Say::Practise),
            ('w', "write the layout".to_owned(), Say::Finish),
        ];
        if skipped > 0 {
            let words = format!("take up what was passed over ({skipped})");
            rows.insert(0, ('s', words, Say::TakeUp));
        }
        rows.push(('b', "back: the key before was noted wrongly".to_owned(), Say::Back));
        rows.push((
            'q',
            "leave; everything is kept, and can be gone on with".to_owned(),
            Say::Leave,
        ));
        Mode::Done(List::new("Every key is told.", rows))
    }

    fn finish(&self, practise: bool) -> Taken {
        let draft = self.capture.draft();
        let mut reasons = vec![format!("{}: learnt from the keyboard, key by key.", draft.name)];
        reasons.extend(Summary::of(&self.capture).reasons());
        Taken::Write { text: commented(&draft.layout(), &reasons), practise }
    }

    /// What is to be done, and the place of the key.
    fn instruction(&self, layout: &Layout, due: Due) -> (String, String) {
        let place = place_of(layout, due.index);
        let name = &layout.layer(due.layer).name;
        if self.capture.awaits_dead() {
            return ("Strike the marked dead key, then Space.".to_owned(), place);
        }
        if due.tap {
            let opens = match self.capture.draft().key(due.layer, due.index) {
                Some(Assignment::Access(Access { target: Target::Layer(id), .. })) => {
                    format!("It opens '{}' while held. ", layout.layer(*id).name)
                }
                Some(Assignment::Access(Access { target: Target::Modifier(m), .. })) => {
                    format!("It is {m} while held. ")
                }
                _ => String::new(),
            };
            let words = format!("{opens}Strike it shortly: what does it give? Esc if nothing.");
            return (words, place);
        }
        let key = |index: usize| layout.board.sites[index].position;
        let words = match due.access {
            None => "Strike the marked key.".to_owned(),
            Some((_, index, access)) => match access.kind {
                AccessKind::Hold => {
                    format!("Hold {} down, and strike the marked key.", key(index))
                }
                AccessKind::Latch => {
                    format!("Strike {}, then the marked key, for each key.", key(index))
                }
                AccessKind::Lock => format!(
                    "Strike {} once, so that '{name}' stays; then the marked key.",
                    key(index)
                ),
            },
        };
        (words, place)
    }

    /// Draws the screen; `file` is what is being made.
    pub fn draw(
        &self,
        area: Rect,
        buf: &mut Buffer,
        file: &str,
        trouble: Option<&str>,
        theme: Theme,
    ) {
        if frame::too_small(area, buf) {
            return;
        }
        let (head, body, foot) = frame::cut(area);
        let layout = self.layout();
        let due = self.capture.due();
        let title = Line::from(vec![
            Span::styled("Capture", theme.style(Meaning::Strong)),
            Span::styled(format!("  {file}"), theme.style(Meaning::Muted)),
        ]);
        let right = due.map_or_else(
            || "all told".to_owned(),
            |due| {
                let (told, all) = self.capture.progress(due.layer);
                format!(
                    "{}  key {} of {all}  layer {} of {}",
                    layout.layer(due.layer).name,
                    (told + 1).min(all),
                    due.layer.index() + 1,
                    layout.layers.len()
                )
            },
        );
        frame::row(head, buf, &title, &Line::raw(right));
        let place = Place::Making(match &self.mode {
            Mode::Strike => Step::Strike,
            Mode::Name(_) | Mode::Token(_) => Step::Word,
            Mode::Point(_) => Step::Point,
            _ => Step::List,
        });
        frame::row(foot, buf, &frame::keys(place, theme, foot.width), &Line::raw(""));
        let body = frame::notice(body, buf, trouble, theme);
        let width = usize::from(body.width);
        let mut marked = due.map(|due| due.index);
        let mut layer = due.map_or(LayerId::BASE, |due| due.layer);
        let lines = match &self.mode {
            Mode::Strike => self.strike_lines(&layout, width, theme),
            Mode::Say(list) => list.lines(width, theme),
            Mode::Opens(list) => list.lines(width, theme),
            Mode::How(_, _, list) => list.lines(width, theme),
            Mode::For(_, list) => list.lines(width, theme),
            Mode::Which(list) => list.lines(width, theme),
            Mode::Name(word) | Mode::Token(word) => word.lines(width, theme),
            Mode::Point(index) => {
                marked = Some(*index);
                let name = due.map_or("", |due| layout.layer(due.layer).name.as_str());
                layer = LayerId::BASE;
                vec![
                    Line::styled(
                        format!("No key opens '{name}' yet. Point at the one that does."),
                        theme.style(Meaning::Strong),
                    ),
                    Line::styled(place_of(&layout, *index), theme.style(Meaning::Muted)),
                ]
            }
            Mode::Done(list) => {
                let mut lines = self.summary_lines(&layout, width, theme);
                lines.push(Line::raw(""));
                lines.extend(list.lines(width, theme).into_iter().skip(1));
                lines
            }
        };
        let accesses: Vec<Position> = due
            .and_then(|due| due.access)
            .map(|(_, index, _)| layout.board.sites[index].position)
            .into_iter()
            .collect();
        let below = Below {
            layout: &layout,
            layer,
            due: marked.map(|index| layout.board.sites[index].position),
            accesses: &accesses,
        };
        let done = matches!(self.mode, Mode::Done(_));
        list::draw(body, buf, &lines, (!done).then_some(&below), theme);
    }

    fn strike_lines(&self, layout: &Layout, width: usize, theme: Theme) -> Vec<Line<'static>> {
        let Some(due) = self.capture.due() else { return Vec::new() };
        let (words, place) = self.instruction(layout, due);
        let mut lines: Vec<Line<'static>> = frame::wrapped(&words, width)
            .into_iter()
            .map(|line| Line::styled(line, theme.style(Meaning::Strong)))
            .collect();
        lines.push(Line::styled(place, theme.style(Meaning::Muted)));
        // Two rows, so that the board does not jump from key to key.
        let mut said: Vec<Line<'static>> = Vec::new();
        for (meaning, words) in &self.said {
            for line in frame::wrapped(words, width) {
                said.push(Line::styled(line, theme.style(*meaning)));
            }
        }
        said.resize(said.len().max(2), Line::raw(""));
        lines.extend(said);
        lines
    }

    fn summary_lines(&self, layout: &Layout, width: usize, theme: Theme) -> Vec<Line<'static>> {
        let summary = Summary::of(&self.capture);
        let mut lines = vec![Line::styled("Every key is told.", theme.style(Meaning::Strong))];
        let places = |places: &[(String, Position)]| {
            let words: Vec<String> =
                places.iter().map(|(layer, position)| format!("{layer} {position}")).collect();
            words.join(", ")
        };
        let mut say = |meaning: Meaning, words: String| {
            let words = frame::clip(&words, (2 * width).saturating_sub(12), theme);
            for line in frame::wrapped(&words, width).into_iter().take(2) {
                lines.push(Line::styled(line, theme.style(meaning)));
            }
        };
        say(
            Meaning::Text,
            format!(
                "{} keys give something of their own, {} open layers or hold modifiers, {} do \
                 nothing, {} are as beneath.",
                summary.own, summary.accesses, summary.nothing, summary.beneath
            ),
        );
        if !summary.open.is_empty() {
            say(
                Meaning::Caution,
                format!("{} passed over: {}", summary.open.len(), places(&summary.open)),
            );
        }
        if !summary.closed.is_empty() {
            say(Meaning::Caution, format!("no key opens: {}", summary.closed.join(", ")));
        }
        if !summary.dead.is_empty() {
            let keys: Vec<String> =
                summary.dead.iter().map(|(output, ..)| output.to_string()).collect();
            say(Meaning::Text, format!("dead keys: {}", keys.join(" ")));
        }
        if !summary.doubles.is_empty() {
            let outputs: Vec<String> =
                summary.doubles.iter().map(|(output, _)| frame::name(output, theme)).collect();
            say(Meaning::Text, format!("given by several keys: {}", outputs.join(" ")));
        }
        if summary.answered > 0 {
            say(
                Meaning::Text,
                format!("{} told by you, which this terminal can't tell apart", summary.answered),
            );
        }
        let remarks = check(layout);
        let missing: Vec<String> = remarks
            .iter()
            .filter_map(|remark| match remark {
                check::Remark::Untypeable { output } => Some(frame::name(output, theme)),
                _ => None,
            })
            .collect();
        if !missing.is_empty() {
            say(Meaning::Caution, format!("can't be typed: {}", missing.join(" ")));
        }
        let others = remarks.iter().filter(|remark| {
            remark.weight() == Weight::Fault && !matches!(remark, check::Remark::Untypeable { .. })
        });
        for remark in others.take(4) {
            say(Meaning::Caution, remark.to_string());
        }
        lines
    }
}

fn clusters() -> List<Cluster> {
    let rows = Cluster::ALL[1..].iter().enumerate().map(|(n, cluster)| {
        let key = char::from_digit(n as u32 + 1, 10).unwrap_or(' ');
        (key, cluster.word().to_owned(), *cluster)
    });
    List::new("What is the layer for? It decides which drills it gets.", rows.collect())
}
