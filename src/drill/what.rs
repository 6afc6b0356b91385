//! What a drill practises, and what a layout has to offer.

use super::DrillError;
use super::reach::Reach;
use super::shortcuts::shortcut_offer;
use crate::editor::common;
use crate::keyboard::{NamedKey, Output};
use crate::layout::{Cluster, LayerId, Layout, RouteTable};

/// What a drill practises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum What {
    /// Every layer of a cluster; on a layout without such a layer, the
    /// characters that such layers are for.
    Cluster(Cluster),
    /// One layer.
    Layer(LayerId),
    /// Enter, Backspace, Tab, Escape, Space and Shift, wherever they lie.
    Thumbs,
}

/// The clusters with a generator of their own.
const OWN_GENERATOR: [Cluster; 3] = [Cluster::Punctuation, Cluster::Symbols, Cluster::Numbers];

/// The keys without text that a drill can ask for.
pub(crate) const DRILLED_KEYS: [NamedKey; 4] =
    [NamedKey::Enter, NamedKey::Backspace, NamedKey::Tab, NamedKey::Escape];

/// With so many outputs of its own, a base layer leaves to the drills of the
/// clusters what they have.
const LETTERS: usize = 10;

const LAYER_PREFIX: &str = "layer:";

impl What {
    /// What `word` asks for: `punctuation`, `symbols`, `numbers`, `shortcuts`,
    /// `navigation`, `thumbs`, or a layer by its name (a layer of shortcuts is
    /// all shortcuts); `layer:NAME` is the layer even where a cluster has
    /// the same name.
    ///
    /// # Errors
    /// [`DrillError::UnknownWhat`] with the nearest known word,
    pub fn parse(word: &str, layout: &Layout) -> Result<Self, DrillError> {
        let cluster = Cluster::from_word(word);
        let no_text = |c: &Cluster| matches!(c, Cluster::Shortcuts | Cluster::Navigation);
        if let Some(cluster) = cluster.filter(|c| OWN_GENERATOR.contains(c) || no_text(c)) {
            return Ok(Self::Cluster(cluster));
        }
        let name = word.strip_prefix(LAYER_PREFIX).unwrap_or(word);
        if name == word && word == "thumbs" {
            return Ok(Self::Thumbs);
        }
        if let Some(layer) = layout.layer_named(name) {
            return match layout.layer(layer).cluster {
                Cluster::Shortcuts => Ok(Self::Cluster(Cluster::Shortcuts)),
                _ => Ok(Self::Layer(layer)),
            };
        }
        match cluster {
            Some(Cluster::Base) => Ok(Self::Layer(LayerId::BASE)),
            Some(Cluster::Other) if layout.layers().any(|(_, l)| l.cluster == Cluster::Other) => {
                Ok(Self::Cluster(Cluster::Other))
            }
            _ => Err(unknown(word, layout)),
        }
    }

    /// The word that [`What::parse`] reads back.
    pub fn word(self, layout: &Layout) -> String {
        match self {
            Self::Cluster(cluster) => cluster.word().to_owned(),
            Self::Thumbs => "thumbs".to_owned(),
            Self::Layer(layer) => {
                let name = &layout.layer(layer).name;
                if Self::parse(name, layout) == Ok(self) {
                    name.clone()
                } else {
                    format!("{LAYER_PREFIX}{name}")
                }
            }
        }
    }

    /// True where it is practised by editing tasks: [`edits`](super::edits).
    pub fn is_movement(self, layout: &Layout) -> bool {
        match self {
            Self::Cluster(cluster) => cluster == Cluster::Navigation,
            Self::Layer(layer) => layout
                .layers
                .get(layer.index())
                .is_some_and(|layer| layer.cluster == Cluster::Navigation),
            Self::Thumbs => false,
        }
    }
}

fn unknown(word: &str, layout: &Layout) -> DrillError {
    let mut known: Vec<&str> = OWN_GENERATOR.iter().map(|cluster| cluster.word()).collect();
    known.extend([Cluster::Shortcuts.word(), Cluster::Navigation.word(), "thumbs"]);
    for (_, layer) in layout.layers() {
        let drilled = layer.cluster != Cluster::Shortcuts;
        if drilled && !known.contains(&layer.name.as_str()) {
            known.push(&layer.name);
        }
    }
    let nearest = known
        .iter()
        .map(|known| (strsim::damerau_levenshtein(word, known), *known))
        .filter(|(distance, known)| *distance <= known.chars().count().div_ceil(3))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known.to_owned());
    DrillError::UnknownWhat {
        word: word.to_owned(),
        layout: layout.name.clone(),
        nearest,
        known: known.join(", "),
    }
}

/// Something that a layout can drill.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// What to ask for.
    pub what: What,
    /// A title for people.
    pub title: String,
    /// The layers that it practises; those that hold the outputs, where it
    /// practises outputs from anywhere.
    pub layers: Vec<LayerId>,
    /// What is drilled, in order.
    pub keys: Vec<Output>,
}

/// Everything that `layout` can drill: [`offers`], then shortcuts.
pub fn all_offers(layout: &Layout, routes: &RouteTable) -> Vec<Offer> {
    let mut all = offers(layout, routes);
    all.extend(shortcut_offer(layout, routes));
    all
}

/// Everything but shortcuts that `layout` can drill: clusters first, then layers
/// that no cluster covers alone.
pub fn offers(layout: &Layout, routes: &RouteTable) -> Vec<Offer> {
    let reach = Reach::new(routes);
    let mut found = Vec::new();
    let clusters = OWN_GENERATOR.map(What::Cluster);
    let layers = layout.layers().filter_map(|(id, layer)| {
        let siblings = layout.layers().filter(|(_, other)| other.cluster == layer.cluster).count();
        let alone = OWN_GENERATOR.contains(&layer.cluster) && siblings == 1;
        (!alone).then_some(What::Layer(id))
    });
    let movement = What::Cluster(Cluster::Navigation);
    for what in clusters.into_iter().chain([What::Thumbs, movement]).chain(layers) {
        if what.is_movement(layout) {
            found.extend(movement_offer(what, layout, routes));
            continue;
        }
        let Ok(focus) = Focus::new(what, layout, &reach) else { continue };
        let keys = focus.outputs();
        let mut layers: Vec<LayerId> = if focus.layers.is_empty() {
            keys.iter().filter_map(|output| reach.layer_of(output)).collect()
        } else {
            focus.layers.clone()
        };
        layers.sort_unstable();
        layers.dedup();
        found.push(Offer { what, title: focus.title(), layers, keys });
    }
    found
}

/// The movement of the common bindings; only as a cluster, unless it has
/// several layers.
fn movement_offer(what: What, layout: &Layout, routes: &RouteTable) -> Option<Offer> {
    let siblings = layout.layers().filter(|(_, l)| l.cluster == Cluster::Navigation).count();
    if matches!(what, What::Layer(_)) && siblings == 1 {
        return None;
    }
    let keys = super::navigation_keys(layout, routes, what, common().ok()?);
    if keys.is_empty() {
        return None;
    }
    let layers = if let What::Layer(layer) = what {
        vec![layer]
    } else {
        let moves = layout.layers().filter(|(_, l)| l.cluster == Cluster::Navigation);
        moves.map(|(id, _)| id).collect()
    };
    let title = format!("{}: in logs, tables, code and letters", what.word(layout));
    Some(Offer { what, title, layers, keys })
}

/// The outputs that a drill is about.
#[derive(Debug, Clone)]
pub(super) struct Focus {
    /// The cluster's or layer's name.
    pub name: String,
    /// Decides the material.
    pub cluster: Cluster,
    /// The layers in question; none where the outputs come from anywhere.
    pub layers: Vec<LayerId>,
    /// Text outputs, in order.
    pub text: Vec<Output>,
    /// Keys without text.
    pub keys: Vec<NamedKey>,
    thumbs: bool,
}

impl Focus {
    /// # Errors
    /// [`DrillError::NotText`] and [`DrillError::NothingToDrill`].
    pub fn new(what: What, layout: &Layout, reach: &Reach) -> Result<Self, DrillError> {
        let (name, cluster, layers) = match what {
            What::Thumbs => ("thumbs".to_owned(), Cluster::Other, Vec::new()),
            What::Layer(id) => {
                let Some(layer) = layout.layers.get(id.index()) else {
                    let name = format!("layer number {}", id.0);
                    return Err(DrillError::NothingToDrill { name, layout: layout.name.clone() });
                };
                (layer.name.clone(), layer.cluster, vec![id])
            }
            What::Cluster(cluster) => {
                let layers =
                    layout.layers().filter(|(_, l)| l.cluster == cluster).map(|(id, _)| id);
                (cluster.word().to_owned(), cluster, layers.collect())
            }
        };
        if matches!(cluster, Cluster::Navigation | Cluster::Shortcuts) {
            return Err(DrillError::NotText { name });
        }
        let thumbs = what == What::Thumbs;
        // A layer has what it gives by preferred routes: what is struck
        // elsewhere is no practice of it. A cluster has all that its layers
        // could give: a full stop belongs to punctuation also where another
        // layer has it at less effort.
        let by_preferred = matches!(what, What::Layer(_));
        let on_layers = |own: &[LayerId]| {
            let own = if by_preferred { own.get(..1).unwrap_or(own) } else { own };
            own.iter().any(|layer| layers.contains(layer))
        };
        let belongs = |output: &Output, own: &[LayerId]| match output.as_char() {
            _ if thumbs => output.as_char().is_some_and(|c| c == ' ' || c.is_uppercase()),
            Some(c) if layers.is_empty() => class_of(c) == Some(cluster),
            _ => on_layers(own),
        };
        let mut text: Vec<Output> = reach
            .outputs()
            .filter(|(output, own)| matches!(output, Output::Text(_)) && belongs(output, own))
            .map(|(output, _)| output.clone())
            .collect();
        let keys: Vec<NamedKey> = DRILLED_KEYS
            .into_iter()
            .filter(|key| {
                let own = reach.layers_of(&Output::Key(*key));
                !own.is_empty() && (thumbs || on_layers(own))
            })
            .collect();
        if cluster == Cluster::Base {
            let others: Vec<Self> = OWN_GENERATOR
                .into_iter()
                .filter_map(|other| Self::new(What::Cluster(other), layout, reach).ok())
                .collect();
            let own = |output: &Output| !others.iter().any(|other| other.holds(output));
            if text.iter().filter(|output| own(output)).count() >= LETTERS {
                text.retain(own);
            }
        }
        // Under a base layer the keys without text are the thumb drill's.
        let keys = if cluster == Cluster::Base && !text.is_empty() { Vec::new() } else { keys };
        let nothing = if thumbs { keys.is_empty() } else { text.is_empty() && keys.is_empty() };
        if nothing {
            return Err(DrillError::NothingToDrill { name, layout: layout.name.clone() });
        }
        Ok(Self { name, cluster, layers, text, keys, thumbs })
    }

    /// True where `output` is one of those that are drilled.
    pub fn holds(&self, output: &Output) -> bool {
        match output {
            Output::Key(key) => self.keys.contains(key),
            _ => self.text.binary_search(output).is_ok(),
        }
    }

    /// Everything that is drilled, in order.
    pub fn outputs(&self) -> Vec<Output> {
        self.text.iter().cloned().chain(self.keys.iter().map(|key| Output::Key(*key))).collect()
    }

    /// A title for people.
    pub fn title(&self) -> String {
        if self.thumbs {
            return "thumb keys: line ends, indents, capitals, slips".to_owned();
        }
        match self.cluster {
            Cluster::Symbols => format!("{}: in code, paths and patterns", self.name),
            Cluster::Punctuation => format!("{}: in sentences, dialogue and lists", self.name),
            Cluster::Numbers => format!("{}: in times, tables and measures", self.name),
            Cluster::Base => format!("{}: letters in sentences", self.name),
            _ => format!("{}: what this layer gives", self.name),
        }
    }
}

/// The cluster that a character belongs to by what it is, for layouts without
/// a layer for it; none for letters and blanks.
fn class_of(c: char) -> Option<Cluster> {
    match c {
        '.' | ',' | ';' | ':' | '!' | '?' | '\'' | '"' | '-' | '(' | ')' | '–' | '—' | '…'
        | '‘' | '’' | '‚' | '“' | '”' | '„' | '«' | '»' | '‹' | '›' | '¿' | '¡' => {
            Some(Cluster::Punctuation)
        }
        _ if c.is_numeric() => Some(Cluster::Numbers),
        _ if c.is_alphabetic() || c.is_whitespace() => None,
        _ => Some(Cluster::Symbols),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_are_classed_by_what_they_are() {
        assert_eq!(class_of('7'), Some(Cluster::Numbers));
        assert_eq!(class_of('{'), Some(Cluster::Symbols));
        assert_eq!(class_of('€'), Some(Cluster::Symbols));
        assert_eq!(class_of(','), Some(Cluster::Punctuation));
        assert_eq!(class_of('ß'), None);
        assert_eq!(class_of(' '), None);
    }
}
