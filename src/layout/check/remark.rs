//! One thing to say of a layout.

use crate::keyboard::{Chord, Finger, Hand, Marker, Output, Position};
use crate::layout::shipped;
use std::fmt;

/// How much a remark matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Something can't be done.
    Fault,
    /// Something could be better, by a figure or a rule that is told.
    Advice,
    /// Something is worth knowing, and may be so on purpose.
    Note,
}

impl Weight {
    /// The word that reports use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fault => "fault",
            Self::Advice => "advice",
            Self::Note => "note",
        }
    }
}

/// Where a remark is about: a layer and keys, as far as they can be told.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// The layer's name.
    pub layer: Option<String>,
    /// The keys.
    pub positions: Vec<Position>,
}

/// One thing to say of a layout. Layers are told by name.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Remark {
    /// No route gives this.
    Untypeable {
        /// What.
        output: Output,
    },
    /// No access leads to this layer.
    Unreachable {
        /// Which.
        layer: String,
    },
    /// A lock from which nothing leads back.
    NoWayBack {
        /// What is locked.
        target: String,
        /// The layer with the lock.
        layer: String,
        /// Its key.
        position: Position,
    },
    /// Locks that lead to each other and never to the base layer alone.
    Trap {
        /// The layers that are locked in turn.
        layers: Vec<String>,
        /// The lock that leads in.
        position: Position,
    },
    /// A key that can't be struck, since its finger holds the layer.
    Covered {
        /// The layer.
        layer: String,
        /// The key.
        position: Position,
        /// The key that is held, or the finger's.
        held: Position,
    },
    /// An access key that would need the finger that already holds another.
    ImpossibleHold {
        /// The layer that has the access key.
        layer: String,
        /// The access key.
        position: Position,
        /// The key that its finger holds.
        held: Position,
        /// The finger of both.
        finger: Finger,
    },
    /// A layer that is active only while another one is locked.
    OnlyLocked {
        /// The layer.
        layer: String,
        /// The layer that has to be locked.
        locked: String,
    },
    /// A frequent character that no route strikes in the home block, whatever
    /// its access keys.
    OffHome {
        /// The character.
        output: Output,
        /// The key of its preferred route.
        position: Position,
        /// The layer of its preferred route.
        layer: String,
    },
    /// A symbol off the home row, with a rarer one on it.
    OffHomeRow {
        /// The symbol.
        output: Output,
        /// How often a page needs it.
        times: f64,
        /// Its key.
        position: Position,
        /// Its layer.
        layer: String,
        /// A key of the home row of the same layer and hand.
        better: Position,
        /// What that key gives, and how often a page needs it; none where it
        /// is free.
        instead: Option<(Output, f64)>,
    },
    /// What belongs together lies under several fingers.
    SplitFamily {
        /// What it is: "opening brackets".
        family: &'static str,
        /// The layer.
        layer: String,
        /// Each output with its key and finger.
        members: Vec<(Output, Position, Finger)>,
    },
    /// A chord that takes three keys or more.
    ThreeKeys {
        /// The chord.
        chord: Chord,
        /// What it is for.
        title: String,
        /// The keys of its easiest route.
        positions: Vec<Position>,
    },
    /// A little finger with more than its share.
    LittleFinger {
        /// Whose.
        hand: Hand,
        /// Its share of all presses, 0 to 1.
        share: f64,
        /// The keys that cost it most, with their shares.
        keys: Vec<(Position, f64)>,
    },
    /// Thumb keys that do nothing, or thumbs that do little.
    IdleThumbs {
        /// Thumb keys without an assignment on the base layer.
        bare: Vec<Position>,
        /// The thumbs' share of all presses, 0 to 1.
        share: f64,
    },
    /// One output at several keys of one layer.
    Duplicate {
        /// The layer.
        layer: String,
        /// The output.
        output: Output,
        /// The keys.
        positions: Vec<Position>,
    },
    /// A preference for a key that does not give the output.
    VainPreference {
        /// The output.
        output: Output,
        /// The layer that is preferred.
        layer: String,
        /// The key that is preferred.
        position: Position,
    },
    /// Several layers with one marker key: it can't tell which of them opens.
    SharedMarker {
        /// The marker.
        marker: Marker,
        /// The layers that have it.
        layers: Vec<String>,
    },
    /// A marker key that a key of the layout also gives: what it gives can't be
    /// told from the layer opening.
    GivenMarker {
        /// The marker.
        marker: Marker,
        /// The layer that it marks.
        marks: String,
        /// The layer that has the key.
        layer: String,
        /// The key.
        position: Position,
    },
    /// The old way is none of the layouts that ship.
    UnknownOldWay {
        /// Its name.
        name: String,
    },
}

impl Remark {
    /// How much it matters.
    pub const fn weight(&self) -> Weight {
        match self {
            Self::Untypeable { .. }
            | Self::Unreachable { .. }
            | Self::NoWayBack { .. }
            | Self::Trap { .. }
            | Self::Covered { .. }
            | Self::ImpossibleHold { .. } => Weight::Fault,
            Self::OffHome { .. }
            | Self::OffHomeRow { .. }
            | Self::SplitFamily { .. }
            | Self::ThreeKeys { .. }
            | Self::LittleFinger { .. }
            | Self::IdleThumbs { .. }
            | Self::SharedMarker { .. }
            | Self::GivenMarker { .. }
            | Self::OnlyLocked { .. } => Weight::Advice,
            Self::Duplicate { .. } | Self::VainPreference { .. } | Self::UnknownOldWay { .. } => {
                Weight::Note
            }
        }
    }

    /// A word for its kind, for reports that programs read.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Untypeable { .. } => "untypeable",
            Self::Unreachable { .. } => "unreachable",
            Self::NoWayBack { .. } => "no-way-back",
            Self::Trap { .. } => "trap",
            Self::Covered { .. } => "covered",
            Self::ImpossibleHold { .. } => "impossible-hold",
            Self::OnlyLocked { .. } => "only-locked",
            Self::OffHome { .. } => "off-home",
            Self::OffHomeRow { .. } => "off-home-row",
            Self::SplitFamily { .. } => "split-family",
            Self::ThreeKeys { .. } => "three-keys",
            Self::LittleFinger { .. } => "little-finger",
            Self::IdleThumbs { .. } => "idle-thumbs",
            Self::Duplicate { .. } => "duplicate",
            Self::VainPreference { .. } => "vain-preference",
            Self::SharedMarker { .. } => "shared-marker",
            Self::GivenMarker { .. } => "given-marker",
            Self::UnknownOldWay { .. } => "unknown-old-way",
        }
    }

    /// Where it is about.
    pub fn place(&self) -> Place {
        let place = |layer: Option<&String>, positions: &[Position]| Place {
            layer: layer.cloned(),
            positions: positions.to_vec(),
        };
        match self {
            Self::Untypeable { .. } | Self::UnknownOldWay { .. } => Place::default(),
            Self::Unreachable { layer } | Self::OnlyLocked { layer, .. } => place(Some(layer), &[]),
            Self::NoWayBack { layer, position, .. }
            | Self::OffHome { layer, position, .. }
            | Self::OffHomeRow { layer, position, .. }
            | Self::VainPreference { layer, position, .. }
            | Self::GivenMarker { layer, position, .. }
            | Self::Covered { layer, position, .. }
            | Self::ImpossibleHold { layer, position, .. } => place(Some(layer), &[*position]),
            Self::Trap { layers, position } => place(layers.first(), &[*position]),
            Self::SharedMarker { layers, .. } => place(layers.first(), &[]),
            Self::SplitFamily { layer, members, .. } => Place {
                layer: Some(layer.clone()),
                positions: members.iter().map(|(_, position, _)| *position).collect(),
            },
            Self::ThreeKeys { positions, .. } => place(None, positions),
            Self::LittleFinger { keys, .. } => Place {
                layer: None,
                positions: keys.iter().map(|(position, _)| *position).collect(),
            },
            Self::IdleThumbs { bare, .. } => place(None, bare),
            Self::Duplicate { layer, positions, .. } => place(Some(layer), positions),
        }
    }

    /// What could be done about it, in one sentence.
    pub fn suggestion(&self) -> String {
        match self {
            Self::Untypeable { output } => format!("give {output} a key on some layer"),
            Self::Unreachable { layer } => {
                format!("write hold:{layer} on a key of another layer, or leave the layer out")
            }
            Self::NoWayBack { .. } => "put the same lock, or a lock of the base layer, where it \
                                       is still reached"
                .to_owned(),
            Self::Trap { layers, .. } => {
                format!("put lock:base on a key of layer '{}'", layers.join("' or '"))
            }
            Self::Covered { position, held, .. } => {
                format!(
                    "move what {position} has under another finger, or latch instead of hold \
                         at {held}"
                )
            }
            Self::ImpossibleHold { finger, held, .. } => format!(
                "move the access key to another finger than {} {}, or latch instead of hold at \
                 {held}",
                finger.hand.word(),
                finger.digit.word()
            ),
            Self::OnlyLocked { layer, .. } => {
                format!("give '{layer}' a hold of its own if it is needed for a key or two")
            }
            Self::OffHome { output, .. } => {
                format!("put {output} on a layer, within rows B to D or under a thumb")
            }
            Self::OffHomeRow { output, position, better, instead, .. } => match instead {
                Some((other, _)) => {
                    format!("exchange {output} ({position}) and {other} ({better})")
                }
                None => format!("move {output} from {position} to {better}, which is free"),
            },
            Self::SplitFamily { members, .. } => {
                let mut counts: Vec<(Finger, usize)> = Vec::new();
                for (_, _, finger) in members {
                    match counts.iter_mut().find(|(known, _)| known == finger) {
                        Some((_, count)) => *count += 1,
                        None => counts.push((*finger, 1)),
                    }
                }
                let most = counts.iter().max_by_key(|(_, count)| *count).map(|(finger, _)| finger);
                most.map_or_else(String::new, |finger| {
                    format!(
                        "gather them under one finger, as the {} {}: a family is learnt as one",
                        finger.hand.word(),
                        finger.digit.word()
                    )
                })
            }
            Self::ThreeKeys { chord, .. } => {
                format!("write {chord} as an action on a layer: one access and one key")
            }
            Self::LittleFinger { keys, .. } => {
                let names: Vec<String> =
                    keys.iter().map(|(position, _)| position.to_string()).collect();
                format!("move what {} give to a thumb or a layer", names.join(", "))
            }
            Self::IdleThumbs { .. } => "let thumbs hold layers, and strike Enter, Backspace, Tab \
                                        or Escape"
                .to_owned(),
            Self::Duplicate { .. } => "leave one of them, unless both are wanted".to_owned(),
            Self::VainPreference { .. } => "correct or leave out the line in [prefer]".to_owned(),
            Self::SharedMarker { .. } => "give each layer a marker of its own".to_owned(),
            Self::GivenMarker { marks, .. } => {
                format!("give layer '{marks}' a marker that no key types")
            }
            Self::UnknownOldWay { .. } => {
                let known = shipped::names().collect::<Vec<_>>().join(", ");
                format!("name one of {known}")
            }
        }
    }
}

fn percent(share: f64) -> String {
    // An empty sum is negative zero.
    format!("{:.0} %", share.abs() * 100.0)
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Untypeable { output } => write!(f, "{output} can't be typed"),
            Self::Unreachable { layer } => {
                write!(f, "layer '{layer}' can't be reached: no access leads to it")
            }
            Self::NoWayBack { target, layer, position } => {
                write!(f, "'{target}' locked by {position} on layer '{layer}' can't be left")
            }
            Self::Trap { layers, position } => write!(
                f,
                "locks lead from '{}' to each other and never back to the base layer alone, once \
                 {position} was struck",
                layers.join("' and '")
            ),
            Self::Covered { layer, position, held } => write!(
                f,
                "{position} on layer '{layer}' can't be struck: \
                 its finger holds {held} to keep the layer"
            ),
            Self::ImpossibleHold { layer, position, held, finger } => write!(
                f,
                "the access {position} on layer '{layer}' can't be held: the {} {} already holds \
                 {held}",
                finger.hand.word(),
                finger.digit.word()
            ),
            Self::OnlyLocked { layer, locked } => {
                write!(f, "layer '{layer}' is reached only while '{locked}' is locked")
            }
            Self::OffHome { output, position, layer } => write!(
                f,
                "{output} is frequent but off the home block: {position} on layer '{layer}'"
            ),
            Self::OffHomeRow { output, times, position, layer, better, instead } => {
                write!(
                    f,
                    "{position} on layer '{layer}' is off the home row but struck {times:.1} times \
                     a page ({output}), while {better} "
                )?;
                match instead {
                    Some((other, rarer)) => write!(f, "is struck {rarer:.1} times ({other})"),
                    None => write!(f, "is free"),
                }
            }
            Self::SplitFamily { family, layer, members } => {
                let told: Vec<String> = members
                    .iter()
                    .map(|(output, position, finger)| format!("{output} {position} {finger}"))
                    .collect();
                write!(
                    f,
                    "{family} on layer '{layer}' lie under several fingers: {}",
                    told.join(", ")
                )
            }
            Self::ThreeKeys { chord, title, positions } => {
                let keys: Vec<String> = positions.iter().map(Position::to_string).collect();
                write!(f, "{chord} ({title}) takes {} keys: {}", keys.len(), keys.join(", "))
            }
            Self::LittleFinger { hand, share, keys } => {
                let told: Vec<String> = keys
                    .iter()
                    .map(|(position, share)| format!("{position} {}", percent(*share)))
                    .collect();
                write!(
                    f,
                    "the {} little finger has {} of all presses, most at {}",
                    hand.word(),
                    percent(*share),
                    told.join(", ")
                )
            }
            Self::IdleThumbs { bare, share } if bare.is_empty() => {
                write!(f, "the thumbs have only {} of all presses", percent(*share))
            }
            Self::IdleThumbs { bare, share } => {
                let names: Vec<String> = bare.iter().map(Position::to_string).collect();
                write!(
                    f,
                    "thumb keys without a use on the base layer: {} (thumbs have {} of all presses)",
                    names.join(", "),
                    percent(*share)
                )
            }
            Self::Duplicate { layer, output, positions } => {
                let names: Vec<String> = positions.iter().map(Position::to_string).collect();
                write!(f, "{output} is on layer '{layer}' more than once: {}", names.join(", "))
            }
            Self::VainPreference { output, layer, position } => write!(
                f,
                "[prefer] wants {output} by {position} on layer '{layer}', which does not give it"
            ),
            Self::SharedMarker { marker, layers } => {
                write!(f, "{marker} marks several layers: '{}'", layers.join("', '"))
            }
            Self::GivenMarker { marker, marks, layer, position } => write!(
                f,
                "{marker} marks layer '{marks}', but {position} on layer '{layer}' types it"
            ),
            Self::UnknownOldWay { name } => {
                write!(f, "old_way '{name}' is no layout that ships")
            }
        }
    }
}
