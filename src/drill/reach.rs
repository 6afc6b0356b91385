//! What a layout can give, as drills see it.

use crate::keyboard::{NamedKey, Output};
use crate::layout::{LayerId, RouteTable};
use crate::order::{Gather, InOrder};
use std::collections::BTreeMap;
use unicode_segmentation::UnicodeSegmentation;

/// Characters that were left out, with counts.
pub(super) type LeftOut = BTreeMap<String, usize>;

/// Every output of a layout with the layers that give it: that of the
/// preferred route first, then those that give it without modifiers.
#[derive(Debug, Clone, Default)]
pub(super) struct Reach {
    layers: BTreeMap<Output, Vec<LayerId>>,
    /// Texts of several graphemes that one key gives, longest first.
    long: Vec<String>,
}

/// A line of text as outputs.
#[derive(Debug, Clone, Default)]
pub(super) struct Tokens {
    pub items: Vec<Output>,
    /// What the layout can't give.
    pub lost: LeftOut,
}

impl Reach {
    pub fn new(routes: &RouteTable) -> Self {
        Self::from_layers(routes.outputs().map(|(output, routes)| {
            // A route with Shift belongs to the pair of the key, not to what
            // the layer was made for, unless nothing easier gives the output.
            let plain = routes.iter().skip(1).filter(|route| route.modifiers.is_empty());
            let layers = routes.iter().take(1).chain(plain).map(|route| route.layer);
            (output.clone(), layers.collect())
        }))
    }

    pub fn from_layers(layers: impl IntoIterator<Item = (Output, Vec<LayerId>)>) -> Self {
        let layers: BTreeMap<Output, Vec<LayerId>> =
            layers.into_iter().filter(|(_, layers)| !layers.is_empty()).gather();
        let mut long: Vec<String> = layers
            .keys()
            .filter_map(|output| match output {
                Output::Text(text) if text.graphemes(true).nth(1).is_some() => Some(text.clone()),
                _ => None,
            })
            .collect();
        long.order_by_key(|text| std::cmp::Reverse(text.len()));
        Self { layers, long }
    }

    pub fn outputs(&self) -> impl Iterator<Item = (&Output, &[LayerId])> {
        self.layers.iter().map(|(output, layers)| (output, layers.as_slice()))
    }

    /// The layer of the preferred route.
    pub fn layer_of(&self, output: &Output) -> Option<LayerId> {
        self.layers.get(output)?.first().copied()
    }

    /// The layers that give it.
    pub fn layers_of(&self, output: &Output) -> &[LayerId] {
        self.layers.get(output).map_or(&[], Vec::as_slice)
    }

    pub fn can(&self, output: &Output) -> bool {
        self.layers.contains_key(output)
    }

    pub fn can_key(&self, key: NamedKey) -> bool {
        self.can(&Output::Key(key))
    }

    /// `line` (no line feeds) as outputs. A tab is the key Tab. What the
    /// layout can't give is replaced by its plainest form (a capital by the
    /// small letter, a curved quote by the straight one) or dropped, and
    /// counted either way.
    pub fn tokens(&self, line: &str) -> Tokens {
        let mut tokens = Tokens::default();
        let mut rest = line;
        'line: while let Some(grapheme) = rest.graphemes(true).next() {
            for long in &self.long {
                if let Some(after) = rest.strip_prefix(long.as_str()) {
                    tokens.items.push(Output::Text(long.clone()));
                    rest = after;
                    continue 'line;
                }
            }
            rest = &rest[grapheme.len()..];
            let whole = Output::Text(grapheme.to_owned());
            if self.can(&whole) {
                tokens.items.push(whole);
                continue;
            }
            for c in grapheme.chars() {
                self.token_of_char(c, &mut tokens);
            }
        }
        tokens
    }

    fn token_of_char(&self, c: char, tokens: &mut Tokens) {
        let (output, name) = if c == '\t' {
            (Output::Key(NamedKey::Tab), "Tab".to_owned())
        } else {
            let output = Output::char(c);
            let name = output.to_string();
            (output, name)
        };
        if self.can(&output) {
            tokens.items.push(output);
            return;
        }
        *tokens.lost.entry(name).or_default() += 1;
        for plain in plain_form(c) {
            let plain = Output::char(plain);
            if self.can(&plain) {
                tokens.items.push(plain);
            }
        }
    }

    /// `text` as outputs, if nothing of it gets lost and it is not empty.
    pub fn exact(&self, text: &str) -> Option<Vec<Output>> {
        let tokens = self.tokens(text);
        (tokens.lost.is_empty() && !tokens.items.is_empty()).then_some(tokens.items)
    }
}

/// What stands for `c` where `c` itself can't be typed.
fn plain_form(c: char) -> Vec<char> {
    use unicode_normalization::UnicodeNormalization;
    match c {
        '“' | '”' | '„' | '«' | '»' => vec!['"'],
        '‘' | '’' | '‚' => vec!['\''],
        '–' | '—' | '−' | '‐' | '‑' => vec!['-'],
        '…' => vec!['.', '.', '.'],
        _ if c.is_uppercase() => c.to_lowercase().collect(),
        _ => {
            // é → e: the letter without its marks.
            let base: Vec<char> =
                c.nfd().filter(|c| !unicode_normalization::char::is_combining_mark(*c)).collect();
            if base == [c] { Vec::new() } else { base }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reach(text: &str) -> Reach {
        Reach::from_layers(text.chars().map(|c| (Output::char(c), vec![LayerId::BASE])))
    }

    fn typed(reach: &Reach, line: &str) -> (String, usize) {
        let tokens = reach.tokens(line);
        let text = tokens.items.iter().map(|o| o.as_char().unwrap_or('?')).collect();
        (text, tokens.lost.values().sum())
    }

    #[test]
    fn what_can_be_typed_stays_and_the_rest_is_counted() {
        let reach = reach("abcdeA'.-\" ");
        assert_eq!(typed(&reach, "Abc e"), ("Abc e".to_owned(), 0));
        assert_eq!(typed(&reach, "Bé–…§"), ("be-...".to_owned(), 5));
        assert_eq!(typed(&reach, "e\u{301}"), ("e".to_owned(), 1));
        assert_eq!(typed(&reach, "\ta"), ("a".to_owned(), 1));
        assert_eq!(reach.exact("ab"), Some(vec![Output::char('a'), Output::char('b')]));
        assert_eq!(reach.exact("ax"), None);
        assert_eq!(reach.exact(""), None);
    }

    #[test]
    fn a_key_that_gives_several_characters_is_one_item() {
        let reach = Reach::from_layers(
            ["=>", "=", ">", "e\u{301}"]
                .map(|text| (Output::Text(text.to_owned()), vec![LayerId::BASE])),
        );
        let items = reach.exact("=>=e\u{301}").unwrap();
        assert_eq!(items.len(), 3);
        assert_eq!(items[0], Output::Text("=>".to_owned()));
        assert_eq!(items[2], Output::Text("e\u{301}".to_owned()));
    }
}
