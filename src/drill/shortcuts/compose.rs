//! How a drill of shortcuts is put together.

use super::{Remembered, Shortcut, by_due, layers, material, shortcuts};
use crate::drill::{Cue, Drill, DrillError, Flow, Prompt, Request, Source, Strikes, Way};
use crate::keyboard::Output;
use crate::layout::{Cluster, RouteTable};
use rand::seq::SliceRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeSet;

/// An action takes as long to read, remember and strike as so many strokes of
/// a line (an estimate of our own).
const STROKES_EACH: usize = 7;
/// Fewer actions make no drill.
const LEAST: usize = 8;
/// So many different actions in one drill, at most.
const AT_ONCE: usize = 8;
/// So many chords are compared in one drill, at most.
const COMPARED: usize = 4;
/// Each third drill compares.
const COMPARE_EVERY: u32 = 3;
/// Actions that follow on each other without a sequence of the file.
const RUN: usize = 3;

/// A drill of shortcuts.
///
/// First what is new is told; then everything is asked for by its title, what
/// is due first; then by small texts, by sequences and in runs, until the drill
/// is long enough. Each third drill compares keys that give a chord at once
/// with the same chords by hand, where the layout has such.
///
/// # Errors
/// [`DrillError::NothingToDrill`].
pub fn generate(request: &Request) -> Result<Drill, DrillError> {
    let all = shortcuts(request.layout, request.routes)?;
    let nothing = || DrillError::NothingToDrill {
        name: Cluster::Shortcuts.word().to_owned(),
        layout: request.layout.name.clone(),
    };
    let none = BTreeSet::new();
    let absent = request.recollect.map_or(&none, |recollect| &recollect.absent);
    let (lost, there): (Vec<Shortcut>, Vec<Shortcut>) =
        all.into_iter().partition(|shortcut| absent.contains(&shortcut.due));
    if there.is_empty() {
        return Err(nothing());
    }
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed);
    rng.set_stream(u64::from(request.ordinal) + 1);
    let strikes = (request.strokes / STROKES_EACH).max(LEAST);
    let remembered = request.recollect.and_then(|recollect| recollect.remembered.as_ref());
    let chosen = Chosen::of(&there, remembered, request.ordinal);
    let compare = request.recollect.is_none_or(|recollect| !recollect.one_way)
        && request.ordinal % COMPARE_EVERY == COMPARE_EVERY - 1;
    let pairs = if compare { pairs(request, &chosen) } else { Vec::new() };
    let (title, prompts) = if pairs.len() < 2 {
        let composer = Composer { chosen, rng, strikes, prompts: Vec::new() };
        ("shortcuts: by what they do", composer.compose()?)
    } else {
        ("shortcuts: one key against by hand", compared(&pairs, strikes, &mut rng))
    };
    let keys: Vec<Output> = there.into_iter().map(|shortcut| shortcut.due).collect();
    Ok(Drill {
        title: title.to_owned(),
        cluster: Cluster::Shortcuts,
        layers: layers(&keys, request.routes),
        flow: Flow::Stay,
        source: Source::Shipped,
        prompts,
        left_out: lost.into_iter().map(|shortcut| (shortcut.due.to_string(), 1)).collect(),
    })
}

/// What one drill asks for.
struct Chosen<'a> {
    /// In the order of the first round.
    asked: Vec<&'a Shortcut>,
    /// Those of them that are told first.
    fresh: Vec<&'a Shortcut>,
}

impl<'a> Chosen<'a> {
    fn of(there: &'a [Shortcut], remembered: Option<&Remembered>, ordinal: u32) -> Self {
        let Some(remembered) = remembered else {
            // Drills that compare take no turn of their own.
            let turn = (ordinal - ordinal / COMPARE_EVERY) as usize * AT_ONCE;
            let asked = (0..there.len().min(AT_ONCE)).map(|n| &there[(turn + n) % there.len()]);
            return Self { asked: asked.collect(), fresh: Vec::new() };
        };
        let known = by_due(there);
        let find = |items: &[Output]| -> Vec<&'a Shortcut> {
            items.iter().filter_map(|item| known.get(item).copied()).collect()
        };
        let (mut due, mut fresh) = (find(&remembered.due), find(&remembered.fresh));
        // What is due comes first, but what is new is not put off for ever.
        fresh.truncate(AT_ONCE.saturating_sub(due.len()).max(1));
        due.truncate(AT_ONCE - fresh.len());
        let mut rest = find(&remembered.known);
        let turn = ordinal as usize * AT_ONCE % rest.len().max(1);
        rest.rotate_left(turn);
        let mut asked: Vec<&Shortcut> = Vec::new();
        for shortcut in due.iter().chain(&fresh).chain(&rest) {
            if asked.len() < AT_ONCE && !asked.contains(shortcut) {
                asked.push(shortcut);
            }
        }
        if asked.is_empty() {
            // Nothing known, nothing new left for today: all take their turn.
            return Self::of(there, None, ordinal);
        }
        Self { asked, fresh }
    }
}

struct Composer<'a> {
    chosen: Chosen<'a>,
    rng: ChaCha8Rng,
    strikes: usize,
    prompts: Vec<Prompt>,
}

impl Composer<'_> {
    fn compose(mut self) -> Result<Vec<Prompt>, DrillError> {
        let fresh: Vec<Prompt> = self.chosen.fresh.iter().map(|one| told(one)).collect();
        self.prompts.extend(fresh);
        let mut first = self.chosen.asked.clone();
        while let Some(shortcut) = self.next_of(&mut first) {
            self.prompts.push(by_title(&[shortcut]));
        }
        let mut sequences = self.sequences()?.into_iter().cycle();
        // Rounds of small texts and titles, with a sequence after each third.
        while self.struck() < self.strikes {
            let mut round = self.chosen.asked.clone();
            round.shuffle(&mut self.rng);
            let mut n = 0;
            while self.struck() < self.strikes
                && let Some(shortcut) = self.next_of(&mut round)
            {
                let shown = self.rng.random_bool(0.5).then(|| by_change(shortcut)).flatten();
                self.prompts.push(shown.unwrap_or_else(|| by_title(&[shortcut])));
                n += 1;
                if n % 3 == 0 {
                    self.prompts.extend(sequences.next());
                }
            }
            if self.struck() < self.strikes {
                let mut all = self.chosen.asked.clone();
                all.shuffle(&mut self.rng);
                let mut run: Vec<&Shortcut> = self.next_of(&mut all).into_iter().collect();
                run.extend(all.into_iter().take(RUN - 1));
                self.prompts.push(by_title(&run));
            }
        }
        Ok(self.prompts)
    }

    /// Takes the next of `queue` out of it: the first that was not struck just
    /// now, since the same action twice running tells nothing of memory; none
    /// where nothing else is left.
    fn next_of<'b>(&self, queue: &mut Vec<&'b Shortcut>) -> Option<&'b Shortcut> {
        let last = self.prompts.last().and_then(|prompt| prompt.items().last());
        let at = queue.iter().position(|shortcut| Some(&shortcut.due) != last);
        let alone = self.chosen.asked.len() == 1 && !queue.is_empty();
        at.or(alone.then_some(0)).map(|at| queue.remove(at))
    }

    /// The sequences of the file that need nothing but what is asked for.
    fn sequences(&mut self) -> Result<Vec<Prompt>, DrillError> {
        let find = |name: &str| {
            let of_name = |shortcut: &&&Shortcut| shortcut.name.as_deref() == Some(name);
            self.chosen.asked.iter().find(of_name).copied()
        };
        let mut found: Vec<Prompt> = material::shipped()?
            .sequences
            .iter()
            .filter_map(|sequence| {
                let steps: Option<Vec<(String, Output)>> = sequence
                    .steps
                    .iter()
                    .map(|(name, words)| Some((words.clone(), find(name)?.due.clone())))
                    .collect();
                Some(Prompt::Strike(Strikes::new(steps?)))
            })
            .collect();
        found.shuffle(&mut self.rng);
        Ok(found)
    }

    fn struck(&self) -> usize {
        self.prompts.iter().map(|prompt| prompt.items().len()).sum()
    }
}

fn strikes(shortcuts: &[&Shortcut]) -> Strikes {
    Strikes::new(shortcuts.iter().map(|one| (one.title.clone(), one.due.clone())))
}

fn by_title(shortcuts: &[&Shortcut]) -> Prompt {
    Prompt::Strike(strikes(shortcuts))
}

fn told(shortcut: &Shortcut) -> Prompt {
    let mut strikes = strikes(&[shortcut]);
    strikes.told = true;
    Prompt::Strike(strikes)
}

fn by_change(shortcut: &Shortcut) -> Option<Prompt> {
    let (before, after) = shortcut.change.clone()?;
    let mut strikes = strikes(&[shortcut]);
    strikes.cue = Cue::Change { before, after };
    Some(Prompt::Strike(strikes))
}

/// Those of the chosen that a key of the layout gives at once and that can be
/// struck by hand as well.
fn pairs<'a>(request: &Request, chosen: &Chosen<'a>) -> Vec<&'a Shortcut> {
    let mut by_hand = RouteTable::default();
    let at_once: Vec<&Shortcut> = chosen
        .asked
        .iter()
        .copied()
        .filter(|one| request.routes.preferred(&one.due).is_some_and(|r| r.modifiers.is_empty()))
        .collect();
    by_hand.add_chords(request.layout, at_once.iter().map(|one| &one.due));
    let pairs = at_once.into_iter().filter(|one| by_hand.by_hand(&one.due).is_some());
    pairs.take(COMPARED).collect()
}

/// The same chords in the same order, by the layout's keys and by hand in
/// turn; nothing has to be remembered.
fn compared(pairs: &[&Shortcut], strikes_wanted: usize, rng: &mut ChaCha8Rng) -> Vec<Prompt> {
    let rounds = strikes_wanted.div_ceil(pairs.len() * 2).max(2);
    let mut order = pairs.to_vec();
    (0..rounds)
        .flat_map(|round| {
            let last = order.last().map(|one| one.due.clone());
            order.shuffle(rng);
            if order.first().map(|one| &one.due) == last.as_ref() {
                order.rotate_left(1);
            }
            // Neither way has the advantage of coming second always.
            let ways =
                if round % 2 == 0 { [Way::Layout, Way::Hand] } else { [Way::Hand, Way::Layout] };
            ways.map(|way| {
                let mut strikes = strikes(&order);
                (strikes.told, strikes.way) = (true, way);
                Prompt::Strike(strikes)
            })
        })
        .collect()
}
