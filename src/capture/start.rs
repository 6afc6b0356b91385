//! What a new layout starts from, and the file that it ends in.

use super::draft::Draft;
use crate::keyboard::{BoardForm, Digit, Hand, Modifiers, NamedKey, Output, Position, Row};
use crate::layout::{
    Access, AccessKind, Assignment, Cluster, LayerId, Layout, Target, file, shipped,
};
use crate::order::InOrder;
use std::fmt::Write;

/// What the keys of a new layout are filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Layers of our own, as far as the board has their keys.
    Ours,
    /// Letters as on a plain board, layers to be filled by hand.
    Letters,
}

/// Our layout for boards of this kind.
fn pattern(draft: &Draft) -> Option<Layout> {
    let thumbs = draft.board.sites.iter().any(|s| matches!(s.position, Position::Thumb { .. }));
    let name = match (draft.board.form, thumbs) {
        (BoardForm::Ansi | BoardForm::Iso, _) => "tern-laptop",
        (BoardForm::Free, true) => "tern-split",
        (BoardForm::Free, false) => "tern-ortho",
    };
    shipped::load(name)
}

/// The key of `layout` at `position` on its layer of this cluster.
fn of_pattern(layout: &Layout, cluster: Cluster, position: Position) -> Option<&Assignment> {
    let layer = layout.layers.iter().find(|layer| layer.cluster == cluster)?;
    layer.keys.get(layout.board.index_of(position)?)
}

/// A key that opens a layer of this cluster where our own layouts have it, if
/// the board of `draft` has that key: its index, and how it opens.
pub fn suggested(draft: &Draft, cluster: Cluster) -> Option<(usize, AccessKind)> {
    let layout = pattern(draft)?;
    let layer = layout.layers.iter().position(|layer| layer.cluster == cluster)?;
    let target = Target::Layer(LayerId(layer as u8));
    let base = layout.layers.first()?;
    base.keys.iter().zip(&layout.board.sites).find_map(|(key, site)| {
        let access = match key {
            Assignment::Access(access) => *access,
            Assignment::Dual { hold, .. } => *hold,
            _ => return None,
        };
        let index = draft.board.index_of(site.position)?;
        (access.target == target).then_some((index, access.kind))
    })
}

/// What the thumbs need most, the best key first: the resting thumbs have
/// Space and Backspace.
fn thumb_taps(draft: &Draft) -> Vec<(Position, Assignment)> {
    let mut free: Vec<Position> = Vec::new();
    let home = draft.board.sites.iter().filter(|site| site.home);
    let thumbs = home.filter(|site| matches!(site.position, Position::Thumb { .. }));
    let mut resting: Vec<Position> = thumbs.map(|site| site.position).collect();
    resting.order_by_key(
        |position| matches!(position, Position::Thumb { side, .. } if *side == Hand::Left),
    );
    free.extend(resting);
    for index in 1..=6 {
        for side in [Hand::Right, Hand::Left] {
            let position = Position::thumb(side, index);
            if draft.board.index_of(position).is_some() && !free.contains(&position) {
                free.push(position);
            }
        }
    }
    let key = |key| Assignment::Gives(Output::Key(key));
    let keys = [
        Assignment::Gives(Output::char(' ')),
        key(NamedKey::Backspace),
        key(NamedKey::Enter),
        key(NamedKey::Tab),
        SHIFT,
        key(NamedKey::Escape),
        key(NamedKey::Delete),
    ];
    free.into_iter().zip(keys).collect()
}

/// The key that holds Shift.
const SHIFT: Assignment = Assignment::Access(Access {
    kind: AccessKind::Hold,
    target: Target::Modifier(Modifiers::SHIFT),
});

/// Where no key holds Shift, the outer keys of the lower row do, besides what
/// they give.
fn ensure_shift(draft: &mut Draft) {
    let shift = |key: &Option<Assignment>| matches!(key, Some(Assignment::Access(access)) if SHIFT == Assignment::Access(*access));
    if draft.layers[0].keys.iter().any(shift) {
        return;
    }
    let Assignment::Access(hold) = SHIFT else { return };
    for column in [1, 10] {
        if let Some(index) = draft.board.index_of(Position::main(Row::B, column))
            && let Some(tap @ Assignment::Gives(_)) = draft.key(LayerId::BASE, index).cloned()
        {
            let dual = Assignment::Dual { tap: Box::new(tap), hold };
            draft.set(LayerId::BASE, index, Some(dual));
        }
    }
}

/// Fills the open keys of `draft`. Keys that open a layer while held keep
/// that, and get what they give when struck.
pub fn fill(draft: &mut Draft, fill: Fill) {
    let ours = pattern(draft);
    let plain = draft.old_way.as_deref().and_then(shipped::load);
    let taps = thumb_taps(draft);
    for n in 0..draft.layers.len() {
        let layer = LayerId(n as u8);
        let cluster = draft.layers[n].cluster;
        for index in 0..draft.board.sites.len() {
            let site = &draft.board.sites[index];
            let position = site.position;
            let struck = if layer == LayerId::BASE {
                base_key(position, &taps, plain.as_ref(), ours.as_ref())
            } else if fill == Fill::Ours {
                let found = ours.as_ref().and_then(|ours| of_pattern(ours, cluster, position));
                found.and_then(|key| plainly(ours.as_ref(), key))
            } else {
                None
            };
            let now = draft.key(layer, index).cloned();
            let new = match (now, struck) {
                (None, Some(struck)) => struck,
                (None, None) if layer == LayerId::BASE => Assignment::Nothing,
                (None, None) => Assignment::FallThrough,
                (Some(Assignment::Access(hold)), Some(tap @ Assignment::Gives(_)))
                    if hold.kind == AccessKind::Hold =>
                {
                    Assignment::Dual { tap: Box::new(tap), hold }
                }
                (Some(now), _) => now,
            };
            draft.set(layer, index, Some(new));
        }
    }
    ensure_shift(draft);
    if fill == Fill::Ours {
        spare_held_keys(draft);
    }
}

/// A layer of ours may have something on the key that here opens it.
fn spare_held_keys(draft: &mut Draft) {
    for n in 1..draft.layers.len() {
        let layer = LayerId(n as u8);
        if let Some((_, index, access)) = draft.access_to(layer)
            && access.kind == AccessKind::Hold
        {
            draft.set(layer, index, Some(Assignment::FallThrough));
        }
    }
}

/// What the base key at `position` gives: the thumbs as they need it, letters
/// as on the plain board, rim keys as on our own.
fn base_key(
    position: Position,
    taps: &[(Position, Assignment)],
    plain: Option<&Layout>,
    ours: Option<&Layout>,
) -> Option<Assignment> {
    if let Some((_, key)) = taps.iter().find(|(at, _)| *at == position) {
        return Some(key.clone());
    }
    if matches!(position, Position::Thumb { .. }) {
        return None;
    }
    let on = |layout: Option<&Layout>| {
        let layout = layout?;
        let index = layout.board.index_of(position)?;
        plainly(Some(layout), layout.layers.first()?.keys.get(index)?)
    };
    on(ours).or_else(|| on(plain))
}

/// `key` without accesses to layers, which here lie elsewhere, and with
/// chords in place of actions.
fn plainly(layout: Option<&Layout>, key: &Assignment) -> Option<Assignment> {
    match key {
        Assignment::Gives(_) | Assignment::Access(Access { target: Target::Modifier(_), .. }) => {
            Some(key.clone())
        }
        Assignment::Does(name) => {
            let action = layout?.actions.get(name)?;
            Some(Assignment::Gives(Output::Chord(action.chord)))
        }
        Assignment::Dual { tap, .. } => plainly(layout, tap),
        Assignment::Access(_) | Assignment::FallThrough | Assignment::Nothing => None,
    }
}

/// The file of `layout` with comments that say what each part is for. The
/// `reasons` stand at its top.
pub fn commented(layout: &Layout, reasons: &[String]) -> String {
    let layout = Layout { reasons: reasons.to_vec(), ..layout.clone() };
    let mut text = String::new();
    let mut first_layer = true;
    for line in file::write(&layout).lines() {
        let comments: &[&str] = match line {
            "[shift]" => &["# What Shift makes; the host decides it."],
            "[[layer]]" if std::mem::take(&mut first_layer) => &[
                "# One line of tokens a row of the board. A character is itself; Enter, Ctrl+C,",
                "# \"=>\" are a key, a chord, a text; hold:, latch: and lock: open a layer;",
                "# a/hold:LAYER gives a when struck and opens the layer when held; .. is what the",
                "# layer beneath has, -- is nothing. docs/layouts.md tells it all.",
                "",
            ],
            _ if line.starts_with("old_way = ") => {
                &["# The layout used before, the line to beat: etude practice --old-way"]
            }
            _ => &[],
        };
        for comment in comments {
            text.push_str(comment);
            text.push('\n');
        }
        text.push_str(line);
        text.push('\n');
    }
    let thumbs: Vec<String> = layout
        .board
        .sites
        .iter()
        .filter(|site| site.finger.digit == Digit::Thumb)
        .map(|site| site.position.to_string())
        .collect();
    // Writing to a String never fails.
    let _ = write!(
        text,
        "\n# More that can stand here, each above the first [[layer]]:\n#\n\
         # [fingers]                  # where yours differ from the board's\n\
         # C05 = \"L3\"\n#\n\
         # [actions.copy]             # a purpose behind a chord; keys say do:copy\n\
         # chord = \"Ctrl+C\"\n\
         # title = \"copy\"\n#\n\
         # [prefer]                   # where something has several homes\n\
         # \"(\" = \"symbols C07\"\n#\n\
         # Thumb keys of this board: {}\n",
        if thumbs.is_empty() { "none".to_owned() } else { thumbs.join(" ") }
    );
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::layout::check;
    use crate::layout::check::Weight;

    /// What the guided screen makes of a board when everything is accepted.
    fn accepted(board: &str, fill_with: Fill) -> Draft {
        let mut draft = Draft::new("harbour", "Harbour", shipped::board(board).unwrap()).unwrap();
        for cluster in Cluster::ALL.into_iter().skip(1).take(5) {
            let id = draft.add_layer(cluster.word(), cluster).unwrap();
            if let Some((index, kind)) = suggested(&draft, cluster) {
                let access = Access { kind, target: Target::Layer(id) };
                draft.set(LayerId::BASE, index, Some(Assignment::Access(access)));
            }
        }
        fill(&mut draft, fill_with);
        draft
    }

    #[test]
    fn what_is_accepted_as_it_is_can_be_practised() {
        for board in ["split-3x5-3", "split-3x6-3", "split-4x6-4", "ortho-4x12", "full-ansi"] {
            let draft = accepted(board, Fill::Ours);
            let faults: Vec<String> = check(&draft.layout())
                .iter()
                .filter(|remark| remark.weight() == Weight::Fault)
                .map(ToString::to_string)
                .collect();
            assert_eq!(faults, [""; 0], "{board}");
        }
    }

    #[test]
    fn every_described_board_gets_a_whole_file() {
        for board in ["split-3x4-1", "split-5x6-6", "ortho-5x10", "full-iso"] {
            for with in [Fill::Ours, Fill::Letters] {
                let draft = accepted(board, with);
                let layout = draft.layout();
                let text = commented(&layout, &["Why".to_owned()]);
                let again = file::read(&text, "harbour.toml").unwrap_or_else(|e| panic!("{e}"));
                assert_eq!(again.warnings, []);
                assert_eq!(again.layout.layers, layout.layers, "{board}");
                assert_eq!(again.layout.reasons, ["Why"]);
                let space = layout.layers[0]
                    .keys
                    .iter()
                    .any(|key| crate::layout::walk::given(&layout, key) == Some(Output::char(' ')));
                assert!(space, "{board} has a Space");
            }
        }
    }
}
