//! Which material, voice and flow a drill gets.

use super::compose::{Composer, Composition, extra_lines, possible};
use super::fragment::{Bench, Voice};
use super::material::{Piece, Shipped, shipped};
use super::reach::{LeftOut, Reach};
use super::thumbs::Weaver;
use super::what::Focus;
use super::{Drill, DrillError, Flow, Prompt, Recollect, Source, Weights, What, shortcuts};
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Cluster, Layout, RouteTable};
use crate::order::InOrder;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// The usual length of a drill, strokes: about a minute at 36 words (of five
/// characters) a minute.
pub const STROKES: usize = 180;
/// The narrowest line that a drill can be written in, columns.
pub const LEAST_WIDTH: usize = 20;
/// The widest line that a drill uses, columns: a prompt holds at most 200
/// items, and every item takes a column.
const MOST_WIDTH: usize = 160;
/// Drills shorter or longer than this are not made.
const STROKES_RANGE: (usize, usize) = (60, 2000);

/// What is wanted of a drill.
#[derive(Debug, Clone, Copy)]
pub struct Request<'a> {
    /// The layout to practise.
    pub layout: &'a Layout,
    /// Its routes.
    pub routes: &'a RouteTable,
    /// What to practise.
    pub what: What,
    /// The same seed gives the same drills on every platform.
    pub seed: u64,
    /// Which drill of the session, from 0: outputs and pieces take turns.
    pub ordinal: u32,
    /// How many strokes it should ask for; see [`STROKES`]. Kept within 60
    /// to 2000; the drill comes within 35 % of it.
    pub strokes: usize,
    /// No line is wider, columns; at least [`LEAST_WIDTH`].
    pub width: usize,
    /// What it should be rich in; without, everything takes its turn.
    pub weights: Option<&'a Weights>,
    /// What of shortcuts is due, new and out of reach; without, everything
    /// takes its turn.
    pub recollect: Option<&'a Recollect>,
}

/// A drill of the shipped material.
///
/// Shortcuts are asked for by what they do, all other clusters are lines of
/// text.
///
/// Drills of single keys (symbols, numbers, thumbs, other layers) have
/// [`Flow::Stay`]; sentences (punctuation, letters) have [`Flow::Repair`], so
/// that taking back is practised where it happens. A layer of sentences that
/// also holds Backspace gets a `Stay` drill at every third turn, since only
/// there Backspace can be asked for.
///
/// Enter ends every line where Enter itself is practised (thumbs, or a layer
/// that holds it); other lines end by themselves.
///
/// # Errors
/// [`DrillError::TooNarrow`], [`DrillError::NotText`] and
/// [`DrillError::NothingToDrill`].
pub fn generate(request: &Request) -> Result<Drill, DrillError> {
    if request.width < LEAST_WIDTH {
        return Err(DrillError::TooNarrow { width: request.width, least: LEAST_WIDTH });
    }
    if request.what == What::Cluster(Cluster::Shortcuts) {
        return shortcuts::generate(request);
    }
    let reach = Reach::new(request.routes);
    let focus = Focus::new(request.what, request.layout, &reach)?;
    let shipped = shipped()?;
    let plan = Plan::of(request, &focus, shipped);
    let width = request.width.min(MOST_WIDTH);
    let strokes = request.strokes.clamp(STROKES_RANGE.0, STROKES_RANGE.1);

    // Stream 0 belongs to the seed alone, the others to one drill each.
    let mut rng = ChaCha8Rng::seed_from_u64(request.seed ^ tag(&focus.name));
    rng.set_stream(0);
    let mut bench = Bench::new(&reach, &focus, plan.voice, rng.clone(), &shipped.words);
    for piece in &plan.pieces {
        piece.text.lines().for_each(|line| bench.learn(line));
    }
    let mut turns = focus.text.clone();
    bench.shuffle(&mut turns);
    let mut order: Vec<usize> = (0..plan.pieces.len()).collect();
    bench.shuffle(&mut order);
    rng.set_stream(u64::from(request.ordinal) + 1);
    rng.set_word_pos(0);
    bench.rng = rng;

    let extra = extra_lines(&mut bench, &shipped.words);
    let weaver = Weaver::new(&focus.keys, plan.flow == Flow::Stay, width);
    let shape = (width, strokes, request.ordinal);
    let composer = Composer::new(&mut bench, &shipped.words, weaver, shape);
    let Composition { lines, left_out } = match request.weights {
        Some(weights) => {
            let routes = request.routes;
            composer.compose_weighted(&plan.pieces, &order, &extra, routes, weights)
        }
        None => composer.compose(&plan.pieces, &order, &extra, &turns),
    };
    debug_assert!(lines.iter().all(|line| possible(&reach, line)), "an output of no route");
    if lines.is_empty() {
        let layout = request.layout.name.clone();
        return Err(DrillError::NothingToDrill { name: focus.name, layout });
    }
    Ok(Drill {
        title: focus.title(),
        cluster: focus.cluster,
        layers: match request.weights {
            Some(weights) => weights.practised(&focus.layers).to_vec(),
            None => focus.layers.clone(),
        },
        flow: plan.flow,
        source: Source::Shipped,
        prompts: prompts(lines),
        left_out: counted(left_out),
    })
}

/// What the cluster decides.
struct Plan {
    voice: Voice,
    flow: Flow,
    pieces: Vec<&'static Piece>,
}

impl Plan {
    fn of(request: &Request, focus: &Focus, shipped: &'static Shipped) -> Self {
        let Shipped { symbols, punctuation, numbers, thumbs, .. } = shipped;
        let (voice, flow, files): (_, _, Vec<&'static Vec<Piece>>) = match focus.cluster {
            _ if request.what == What::Thumbs => (Voice::Thumbs, Flow::Stay, vec![thumbs]),
            Cluster::Symbols => (Voice::Code, Flow::Stay, vec![symbols]),
            Cluster::Numbers => (Voice::Figures, Flow::Stay, vec![numbers]),
            Cluster::Punctuation | Cluster::Base => (Voice::Prose, Flow::Repair, vec![punctuation]),
            _ => (Voice::Code, Flow::Stay, vec![symbols, punctuation, numbers, thumbs]),
        };
        let takes_back = focus.keys.contains(&NamedKey::Backspace)
            && (focus.text.is_empty() || request.ordinal % 3 == 2);
        let flow = if takes_back { Flow::Stay } else { flow };
        Self { voice, flow, pieces: files.into_iter().flatten().collect() }
    }
}

pub(super) fn prompts(lines: Vec<Vec<Output>>) -> Vec<Prompt> {
    lines.into_iter().map(Prompt::Text).collect()
}

/// The most frequent first, then by name.
pub(super) fn counted(left_out: LeftOut) -> Vec<(String, usize)> {
    let mut counted: Vec<(String, usize)> = left_out.into_iter().collect();
    counted.order_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    counted
}

/// A number for a name, so that two layers under one seed get different
/// drills: the FNV-1a hash, whose two constants are part of its definition.
fn tag(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of the hash's published test vectors, from memory.
    #[test]
    fn names_are_hashed_as_fnv_1a_says() {
        assert_eq!(tag(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(tag("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(tag("foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn what_was_left_out_is_told_by_frequency_then_name() {
        let left_out = LeftOut::from([("b".into(), 1), ("a".into(), 1), ("z".into(), 5)]);
        let told: Vec<String> = counted(left_out).into_iter().map(|(name, _)| name).collect();
        assert_eq!(told, ["z", "a", "b"]);
    }
}
