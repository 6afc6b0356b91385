//! Plays a layout on a plain keyboard, event by event.

use super::host::Host;
use super::stand_in::StandIns;
use super::tap_hold::{Decided, TapHold, TwoRoles};
use crate::keyboard::{ChordKey, Marker, Modifiers, NamedKey, Output};
use crate::layout::walk::{Walk, WalkState, given};
use crate::layout::{Access, AccessKind, Assignment, LayerId, Layout, Target};
use crate::session::{Event, EventKind, Granted, KeyEvent, KeyState, Level, Stroke, StrokeKey};
use crate::units::Micros;
use std::sync::Arc;

/// How layers are opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// A key opens its layer while it is held: the terminal tells releases.
    Held,
    /// A key struck opens its layer for the next key, struck twice until it is
    /// struck again.
    Struck,
}

impl Way {
    /// The way that a terminal of this level allows.
    pub fn of(level: Level) -> Self {
        // Without all keys as sequences Enter, Tab and Backspace tell no
        // release, nor does CapsLock tell anything.
        if level.granted().contains(Granted::EVENT_TYPES | Granted::ALL_KEYS) {
            Self::Held
        } else {
            Self::Struck
        }
    }
}

/// A key that is down: its index in the layout, what it last gave, and the
/// modifiers that the host held.
#[derive(Debug, Clone, PartialEq)]
struct Key {
    index: usize,
    modifiers: Modifiers,
}

/// Plays a layout on a plain keyboard.
#[derive(Debug, Clone)]
pub struct Player {
    layout: Arc<Layout>,
    host: Host,
    stand_ins: StandIns,
    way: Way,
    decision: TapHold<usize>,
    /// The modifiers held by the host when each undecided key went down.
    modifiers: Vec<Key>,
    state: WalkState,
    /// What keys that are down have given, to be let up again.
    given: Vec<(usize, Stroke)>,
}

impl Player {
    /// A keyboard at rest that plays `layout`.
    pub fn new(layout: Arc<Layout>, host: Host, stand_ins: StandIns, level: Level) -> Self {
        Self {
            layout,
            host,
            stand_ins,
            way: Way::of(level),
            decision: TapHold::default(),
            modifiers: Vec::new(),
            state: WalkState::default(),
            given: Vec::new(),
        }
    }

    /// How layers are opened.
    pub fn way(&self) -> Way {
        self.way
    }

    /// Takes note of what the terminal tells.
    pub fn set_level(&mut self, level: Level) {
        let way = Way::of(level);
        if way != self.way {
            self.way = way;
            self.rest();
        }
    }

    /// The keys that open layers, each with its layer, and how that layer is
    /// active now.
    pub fn openers(&self) -> Vec<(String, LayerId, Option<AccessKind>)> {
        let walk = self.walk(self.state.clone());
        let held = self.way == Way::Held;
        let all = self.stand_ins.openers(&self.layout, &self.host, held).into_iter();
        all.map(|(key, layer)| (key, layer, walk.active_by(Target::Layer(layer)))).collect()
    }

    /// When an [`EventKind::Tick`] is needed, if at all.
    pub fn wake_at(&self) -> Option<Micros> {
        self.decision.wake_at()
    }

    /// What a keyboard with the layout would have sent where the plain one
    /// sent `event`. Several events of one moment have no interval between
    /// them.
    pub fn play(&mut self, event: &Event) -> Vec<Event> {
        let mut out = Vec::new();
        match &event.kind {
            EventKind::Key(key) => match self.way {
                Way::Held => self.held(event.at, key, &mut out),
                Way::Struck => self.struck(key, &mut out),
            },
            EventKind::Tick => {
                self.decide(
                    event.at,
                    |decision, at, two, out| decision.tick(at, two, out),
                    &mut out,
                );
            }
            EventKind::FocusLost | EventKind::FocusGained | EventKind::Interrupted => self.rest(),
            EventKind::Paste(_) | EventKind::Leave => {}
        }
        let mut presses = 0;
        for key in &mut out {
            if key.state == KeyState::Press {
                key.batched |= presses > 0;
                presses += 1;
            }
        }
        let mut events: Vec<Event> =
            out.into_iter().map(|key| Event { at: event.at, kind: EventKind::Key(key) }).collect();
        if !matches!(event.kind, EventKind::Key(_)) {
            events.push(event.clone());
        }
        events
    }

    /// Lets every key up without a word.
    fn rest(&mut self) {
        self.decision.clear();
        self.modifiers.clear();
        self.state = WalkState::default();
        self.given.clear();
    }

    fn walk(&self, state: WalkState) -> Walk<'_> {
        Walk::under_hands(&self.layout, state)
    }

    fn held(&mut self, at: Micros, key: &KeyEvent, out: &mut Vec<KeyEvent>) {
        let found = self.host.key(&key.stroke);
        let index = found.and_then(|found| self.stand_ins.held.get(&found.position).copied());
        let (Some(found), Some(index)) = (found, index) else {
            // Escape always arrives: it is the way out.
            if key.stroke.plain_key() == Some(NamedKey::Escape) {
                out.push(key.clone());
            }
            return;
        };
        match key.state {
            KeyState::Press => {
                self.modifiers.retain(|down| down.index != index);
                self.modifiers.push(Key { index, modifiers: found.modifiers });
                let before = out.len();
                self.decide(at, |decision, at, two, out| decision.press(at, index, two, out), out);
                if let Some(first) = out.get_mut(before) {
                    first.batched |= key.batched;
                }
                // Its own meaning may be anything; three of it must leave.
                if key.stroke.plain_key() == Some(NamedKey::Escape) && !self.gives_escape(index) {
                    out.push(key.clone());
                }
            }
            KeyState::Release => {
                self.decide(
                    at,
                    |decision, at, two, out| decision.release(at, &index, two, out),
                    out,
                );
            }
            KeyState::Repeat => {}
        }
    }

    fn gives_escape(&self, index: usize) -> bool {
        let key = self.layout.layers.first().and_then(|base| base.keys.get(index));
        key.and_then(|key| given(&self.layout, key)) == Some(Output::Key(NamedKey::Escape))
    }

    /// Lets the decision go on and plays what it decides, one after another,
    /// since what a key means depends on what was decided before.
    fn decide(
        &mut self,
        at: Micros,
        step: impl FnOnce(
            &mut TapHold<usize>,
            Micros,
            &mut TwoRoles<'_, usize>,
            &mut Vec<Decided<usize>>,
        ),
        out: &mut Vec<KeyEvent>,
    ) {
        let layout = Arc::clone(&self.layout);
        let mut decision = std::mem::take(&mut self.decision);
        let mut decided = Vec::new();
        // A shadow of the keyboard follows what is decided on the way.
        let mut shadow = Walk::under_hands(&layout, self.state.clone());
        let mut seen = 0;
        let mut two = |key: &usize, so_far: &[Decided<usize>]| {
            for one in &so_far[seen..] {
                follow(&mut shadow, one);
            }
            seen = so_far.len();
            matches!(shadow.meaning(*key), Some((_, Assignment::Dual { .. })))
        };
        step(&mut decision, at, &mut two, &mut decided);
        self.decision = decision;
        for one in decided {
            self.carry_out(&layout, &one, out);
        }
    }

    fn carry_out(
        &mut self,
        layout: &Arc<Layout>,
        decided: &Decided<usize>,
        out: &mut Vec<KeyEvent>,
    ) {
        let mut walk = Walk::under_hands(layout, std::mem::take(&mut self.state));
        let before = marked(layout, &walk);
        match *decided {
            Decided::Down(index) | Decided::Tap(index) => {
                if walk.access_at(index).is_some()
                    && !matches!(walk.meaning(index), Some((_, Assignment::Dual { .. })))
                {
                    walk.access(index);
                } else if let Some(struck) = walk.strike(index) {
                    let held = self.modifiers.iter().find(|down| down.index == index);
                    let held = held.map_or(Modifiers::empty(), |down| down.modifiers);
                    let tap = matches!(decided, Decided::Tap(_));
                    let extra = held - struck.modifiers;
                    let output = layout.with_modifiers(&struck.output, extra);
                    for stroke in output.iter().flat_map(strokes) {
                        out.push(KeyEvent::press(stroke.clone()));
                        // A tap is over when it is known: how long the key was
                        // down belongs to the decision, not to the stroke.
                        if !tap {
                            self.given.push((index, stroke));
                        }
                    }
                }
            }
            Decided::Hold(index) => {
                walk.access(index);
            }
            Decided::Up(index) => {
                walk.release(index);
                let (up, down): (Vec<_>, Vec<_>) =
                    self.given.drain(..).partition(|(by, _)| *by == index);
                self.given = down;
                out.extend(up.into_iter().map(|(_, stroke)| KeyEvent {
                    stroke,
                    state: KeyState::Release,
                    batched: false,
                }));
            }
        }
        send_markers(&before, &marked(layout, &walk), out);
        self.state = walk.into_state();
    }

    /// Where keys can only be struck.
    fn struck(&mut self, key: &KeyEvent, out: &mut Vec<KeyEvent>) {
        if key.state != KeyState::Press {
            return;
        }
        let layout = Arc::clone(&self.layout);
        let mut walk = Walk::under_hands(&layout, std::mem::take(&mut self.state));
        let marks = marked(&layout, &walk);
        let named = key.stroke.plain_key();
        if let Some(layer) = named.and_then(|named| self.stand_ins.struck.get(&named)) {
            let target = Target::Layer(*layer);
            let before = walk.active_by(target);
            walk.deactivate(target);
            let kind = match before {
                None => Some(AccessKind::Latch),
                Some(AccessKind::Latch) => Some(AccessKind::Lock),
                Some(_) => None,
            };
            if let Some(kind) = kind {
                walk.activate(Access { kind, target });
            }
            send_markers(&marks, &marked(&layout, &walk), out);
            self.state = walk.into_state();
            return;
        }
        let found = self.host.key(&key.stroke);
        let index = found.and_then(|found| self.stand_ins.held.get(&found.position).copied());
        let escape = named == Some(NamedKey::Escape);
        if let (Some(found), Some(index)) = (found, index)
            && (!escape || self.gives_escape(index))
        {
            match walk.meaning(index) {
                // What would be held is latched instead.
                Some((_, Assignment::Access(access))) => {
                    let access = match access.kind {
                        AccessKind::Lock => *access,
                        _ => Access { kind: AccessKind::Latch, ..*access },
                    };
                    if access.kind == AccessKind::Lock {
                        walk.access(index);
                    } else {
                        walk.activate(access);
                    }
                }
                _ => {
                    if let Some(struck) = walk.strike(index) {
                        let extra = found.modifiers - struck.modifiers;
                        let output = layout.with_modifiers(&struck.output, extra);
                        let mut batched = key.batched;
                        for stroke in output.iter().flat_map(strokes) {
                            out.push(KeyEvent { stroke, state: KeyState::Press, batched });
                            batched = true;
                        }
                    }
                }
            }
        } else if escape {
            out.push(key.clone());
        }
        send_markers(&marks, &marked(&layout, &walk), out);
        self.state = walk.into_state();
    }
}

/// The markers of the layout, each with how its layer is active.
fn marked(layout: &Layout, walk: &Walk<'_>) -> Vec<(Marker, Option<AccessKind>)> {
    layout
        .layers()
        .filter_map(|(id, layer)| Some((layer.marker?, walk.active_by(Target::Layer(id)))))
        .collect()
}

/// Sends the markers of the layers that opened or closed: down while a layer is
/// held, down and up where it is latched or locked.
fn send_markers(
    before: &[(Marker, Option<AccessKind>)],
    after: &[(Marker, Option<AccessKind>)],
    out: &mut Vec<KeyEvent>,
) {
    for ((marker, was), (_, is)) in before.iter().zip(after) {
        let event = |state| KeyEvent { stroke: Stroke::of_marker(*marker), state, batched: false };
        let (was_held, is_held) = (*was == Some(AccessKind::Hold), *is == Some(AccessKind::Hold));
        if was_held && !is_held {
            out.push(event(KeyState::Release));
        } else if is_held && !was_held {
            out.push(event(KeyState::Press));
        } else if is != was && is.is_some() {
            out.extend([event(KeyState::Press), event(KeyState::Release)]);
        }
    }
}

/// Lets `walk` follow one decision.
fn follow(walk: &mut Walk<'_>, decided: &Decided<usize>) {
    match decided {
        Decided::Down(index) => {
            if walk.access(*index).is_none() {
                walk.strike(*index);
            }
        }
        Decided::Tap(index) => {
            walk.strike(*index);
        }
        Decided::Hold(index) => {
            walk.access(*index);
        }
        Decided::Up(index) => walk.release(*index),
    }
}

/// The strokes that tell `output`.
fn strokes(output: &Output) -> Vec<Stroke> {
    match output {
        Output::Text(text) => {
            text.chars().map(|c| Stroke { text: Some(c.to_string()), ..Stroke::char(c) }).collect()
        }
        Output::Key(key) => vec![Stroke::named(*key, Modifiers::empty())],
        Output::Chord(chord) => {
            let key = match chord.key {
                ChordKey::Char(c) => StrokeKey::Char(c),
                ChordKey::Named(key) => StrokeKey::Named(key),
            };
            vec![Stroke { key, modifiers: chord.modifiers, text: None, base: None }]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::shipped;
    use crate::played::stand_ins;
    use crate::session::Granted;

    fn player(layout: &str, level: Level) -> Player {
        let plain = shipped::load("plain-ansi").unwrap();
        let host = Host::new(&plain);
        let layout = Arc::new(shipped::load(layout).unwrap());
        let all = stand_ins(&layout, &host, &plain, &[]).unwrap();
        Player::new(layout, host, all, level)
    }

    /// Plays `+CapsLock@0 +d@20 -d@50`; what came, with its time in ms.
    fn told(player: &mut Player, sequence: &str) -> String {
        let mut words = Vec::new();
        for word in sequence.split_whitespace() {
            let (what, at) = word.rsplit_once('@').unwrap();
            let (sign, name) = what.split_at(what.len().min(1));
            let kind = if name.is_empty() {
                EventKind::Tick
            } else {
                let stroke = match name.parse::<NamedKey>() {
                    Ok(key) => Stroke::named(key, Modifiers::empty()),
                    Err(_) if name == "Space" => Stroke::char(' '),
                    Err(_) => Stroke::char(name.chars().next().unwrap()),
                };
                let state = if sign == "+" { KeyState::Press } else { KeyState::Release };
                EventKind::Key(KeyEvent { stroke, state, batched: false })
            };
            let at = Micros::from_ms(at.parse().unwrap());
            for event in player.play(&Event { at, kind }) {
                if let EventKind::Key(key) = event.kind
                    && key.state == KeyState::Press
                {
                    let together = if key.batched { "&" } else { "" };
                    words.push(format!("{together}{}@{}", key.stroke.output(), at.0 / 1000));
                }
            }
        }
        words.join(" ")
    }

    fn all() -> Level {
        Level::Enhanced(Granted::all())
    }

    #[test]
    fn held_keys_open_layers_on_the_laptop_layout() {
        for (sequence, came) in [
            // CapsLock held: symbols. j is the round bracket there.
            ("+CapsLock@0 +j@50 -j@90 -CapsLock@120 +j@300", "(@90 j@300"),
            ("+CapsLock@0 .@250 +j@260", "(@260"),
            // Struck, it is Escape.
            ("+CapsLock@0 -CapsLock@80", "Escape@80"),
            // Space rolls over the next letter: text, in order.
            ("+Space@0 +t@60 -Space@90 -t@130", "Space@90 &t@90"),
            // Space held: movement.
            ("+Space@0 +d@70 -d@110 -Space@140", "ArrowDown@110"),
            // A lock from a held layer.
            ("+Tab@0 +b@210 -b@230 -Tab@250 +j@400 -j@450 +l@500", "4@400 6@500"),
        ] {
            assert_eq!(told(&mut player("tern-laptop", all()), sequence), came, "{sequence}");
        }
    }

    #[test]
    fn a_split_layout_is_played_on_its_stand_ins() {
        for (sequence, came) in [
            ("+Space@0 -Space@70 +Backspace@200 -Backspace@260", "Space@70 Backspace@260"),
            ("+Backspace@0 +j@210 -j@240 -Backspace@300", "(@210"),
            // A digit that the board has no key for is nothing.
            ("+5@0 -5@50", ""),
            // The way out always arrives.
            ("+Escape@0 -Escape@30 +Escape@100 -Escape@130", "Escape@0 Escape@100"),
        ] {
            assert_eq!(told(&mut player("tern-split", all()), sequence), came, "{sequence}");
        }
    }

    #[test]
    fn where_releases_are_not_told_layers_are_latched_and_locked() {
        for (sequence, came) in [
            ("+F2@0 +j@100 +j@200", "(@100 j@200"),
            ("+F2@0 +F2@50 +j@100 +k@200 +F2@300 +j@400", "(@100 )@200 j@400"),
            ("+Space@0 +Enter@100 +Tab@200", "Space@0 Enter@100 Tab@200"),
            ("+F2@0 +F4@50 +d@100", "ArrowDown@100"),
            ("+Escape@0 +Escape@10 +Escape@20", "Escape@0 Escape@10 Escape@20"),
            ("+A@0", "A@0"),
        ] {
            assert_eq!(told(&mut player("tern-split", Level::Plain), sequence), came, "{sequence}");
        }
    }

    #[test]
    fn a_lost_focus_lets_every_key_up() {
        let mut player = player("tern-laptop", all());
        assert_eq!(told(&mut player, "+CapsLock@0 .@250"), "");
        player.play(&Event { at: Micros::from_ms(300), kind: EventKind::FocusLost });
        assert_eq!(told(&mut player, "+j@400"), "j@400");
    }
}
