//! Simple transforms, as far as dead keys need them.
//!
//! UTS #35 part 7, "Transforms": `from` is a small regular language of
//! characters, markers, sets, classes, groups and bounded repeats; `to` may
//! name its groups. A pattern beyond that is noted and left out.

use super::text::{Unit, Variables, code_points, shown, text_of, units};

/// The most steps that matching may take for one keyboard.
pub const MOST_STEPS: usize = 5_000_000;

/// How deep groups may nest.
const MOST_NESTED: usize = 16;

#[derive(Debug, Clone)]
enum Node {
    Unit(Unit),
    AnyMarker,
    AnyChar,
    Class {
        ranges: Vec<(char, char)>,
        negated: bool,
    },
    /// One of the items of a set, whose number a group remembers.
    Set(Vec<Vec<Unit>>),
    /// Alternatives, each a sequence; captured under a number or not.
    Group(Option<usize>, Vec<Vec<Self>>),
    Repeat(Box<Self>, usize, usize),
}

/// What a group matched, and which item of a set if it was one.
#[derive(Debug, Clone, Default)]
struct Capture {
    units: Vec<Unit>,
    item: Option<usize>,
}

enum To {
    Unit(Unit),
    Group(usize),
    Mapped(usize, Vec<Vec<Unit>>),
}

/// One transform.
pub struct Transform {
    from: Vec<Node>,
    to: Vec<To>,
}

/// The items of a set.
pub fn items(variables: &Variables, name: &str) -> Result<Vec<Vec<Unit>>, String> {
    let set = variables.sets.get(name).ok_or_else(|| format!("unknown set '{}'", shown(name)))?;
    set.iter().map(|item| units(&variables.expand(item)?)).collect()
}

impl Transform {
    /// The transform with these attributes.
    ///
    /// # Errors
    /// What is not understood.
    pub fn read(from: &str, to: &str, variables: &Variables) -> Result<Self, String> {
        let from = variables.expand(from)?;
        let mut pattern = Pattern { rest: &from, variables, groups: 0 };
        let nodes = pattern.sequence(0)?;
        if !pattern.rest.is_empty() {
            return Err(format!("unexpected '{}'", shown(pattern.rest)));
        }
        Ok(Self { from: nodes, to: read_to(&variables.expand(to)?, variables)? })
    }

    /// What becomes of `input` where the transform fits its end.
    fn apply(&self, input: &[Unit], steps: &mut usize) -> Option<Vec<Unit>> {
        for start in 0..input.len() {
            let mut captures = vec![Capture::default(); 10];
            let nodes: Vec<&Node> = self.from.iter().collect();
            let mut matching = Matching { input, captures: &mut captures, steps };
            if matching.all(&nodes, start) {
                let mut made = input[..start].to_vec();
                for part in &self.to {
                    match part {
                        To::Unit(unit) => made.push(unit.clone()),
                        To::Group(number) => {
                            made.extend(captures.get(*number)?.units.iter().cloned());
                        }
                        To::Mapped(number, items) => {
                            let item = captures.get(*number)?.item?;
                            made.extend(items.get(item)?.iter().cloned());
                        }
                    }
                }
                return Some(made);
            }
        }
        None
    }
}

/// What the groups of transforms make of `input`: changed and free of
/// markers, or nothing. `steps` counts down.
pub fn run(groups: &[Vec<Transform>], input: &[Unit], steps: &mut usize) -> Option<String> {
    let mut now = input.to_vec();
    for group in groups {
        if let Some(made) = group.iter().find_map(|transform| transform.apply(&now, steps)) {
            now = made;
        }
    }
    let bare = now.iter().all(|unit| matches!(unit, Unit::Char(c) if !c.is_control()));
    (now != input && bare && !now.is_empty()).then(|| text_of(&now))
}

struct Pattern<'a> {
    rest: &'a str,
    variables: &'a Variables,
    groups: usize,
}

impl Pattern<'_> {
    fn take(&mut self) -> Option<char> {
        let c = self.rest.chars().next()?;
        self.rest = &self.rest[c.len_utf8()..];
        Some(c)
    }

    fn until(&mut self, end: char) -> Result<String, String> {
        let (inside, behind) =
            self.rest.split_once(end).ok_or_else(|| format!("a missing {end}"))?;
        let inside = inside.to_owned();
        self.rest = behind;
        Ok(inside)
    }

    fn sequence(&mut self, depth: usize) -> Result<Vec<Node>, String> {
        if depth > MOST_NESTED {
            return Err("groups nested too deep".to_owned());
        }
        let mut nodes: Vec<Node> = Vec::new();
        while let Some(next) = self.rest.chars().next() {
            if matches!(next, ')' | '|') {
                break;
            }
            self.take();
            let node = match next {
                '(' => self.group(depth)?,
                '[' => self.class()?,
                '.' => Node::AnyChar,
                '$' if self.rest.starts_with('[') => {
                    self.take();
                    let name = self.until(']')?;
                    Node::Set(items(self.variables, &name)?)
                }
                '?' => {
                    let last = nodes.pop().ok_or("a ? after nothing")?;
                    Node::Repeat(Box::new(last), 0, 1)
                }
                '{' => {
                    let bounds = self.until('}')?;
                    let (least, most) = bounds.split_once(',').unwrap_or((&bounds, &bounds));
                    let number = |word: &str| word.trim().parse::<usize>().ok().filter(|n| *n <= 9);
                    let (Some(least), Some(most)) = (number(least), number(most)) else {
                        return Err(format!("bad bounds {{{}}}", shown(&bounds)));
                    };
                    let repeated = nodes.pop().ok_or("a repeat of nothing")?;
                    Node::Repeat(Box::new(repeated), least, most)
                }
                '*' | '+' | '^' | '$' => return Err(format!("'{next}' in a pattern")),
                '\\' => self.escape(&mut nodes)?,
                c => Node::Unit(Unit::Char(c)),
            };
            nodes.push(node);
        }
        Ok(nodes)
    }

    fn escape(&mut self, nodes: &mut Vec<Node>) -> Result<Node, String> {
        match self.take().ok_or("a backslash at the end")? {
            'u' if self.rest.starts_with('{') => {
                self.take();
                let text = code_points(&self.until('}')?)?;
                let mut chars: Vec<Node> =
                    text.chars().map(|c| Node::Unit(Unit::Char(c))).collect();
                let last = chars.pop().ok_or("an empty escape")?;
                nodes.extend(chars);
                Ok(last)
            }
            'm' if self.rest.starts_with('{') => {
                self.take();
                let id = self.until('}')?;
                Ok(if id == "." { Node::AnyMarker } else { Node::Unit(Unit::Marker(id)) })
            }
            c if c.is_alphanumeric() => Err(format!("'\\{c}' in a pattern")),
            c => Ok(Node::Unit(Unit::Char(c))),
        }
    }

    fn group(&mut self, depth: usize) -> Result<Node, String> {
        let number = if let Some(after) = self.rest.strip_prefix("?:") {
            self.rest = after;
            None
        } else {
            self.groups += 1;
            Some(self.groups)
        };
        if self.groups > 9 {
            return Err("more than nine groups".to_owned());
        }
        let mut alternatives = vec![self.sequence(depth + 1)?];
        loop {
            match self.take() {
                Some('|') => alternatives.push(self.sequence(depth + 1)?),
                Some(')') => return Ok(Node::Group(number, alternatives)),
                _ => return Err("a group without its )".to_owned()),
            }
        }
    }

    fn class(&mut self) -> Result<Node, String> {
        let mut ranges: Vec<(char, char)> = Vec::new();
        let negated = self.rest.starts_with('^');
        if negated {
            self.take();
        }
        let mut range = false;
        loop {
            let c = match self.take().ok_or("a class without its ]")? {
                ']' => return Ok(Node::Class { ranges, negated }),
                '-' if !ranges.is_empty() && !self.rest.starts_with(']') => {
                    range = true;
                    continue;
                }
                '\\' if self.rest.starts_with("u{") => {
                    self.rest = &self.rest[2..];
                    let text = code_points(&self.until('}')?)?;
                    text.chars().next().unwrap_or_default()
                }
                '\\' => {
                    self.take().filter(|c| !c.is_alphanumeric()).ok_or("an escape in a class")?
                }
                '[' | '&' => return Err("a set operation in a class".to_owned()),
                c => c,
            };
            if range {
                if let Some(last) = ranges.last_mut() {
                    last.1 = c;
                }
                range = false;
            } else {
                ranges.push((c, c));
            }
        }
    }
}

fn read_to(to: &str, variables: &Variables) -> Result<Vec<To>, String> {
    let mut parts = Vec::new();
    let mut rest = to;
    while let Some(at) = rest.find('$') {
        let (before, after) = rest.split_at(at);
        parts.extend(units(before)?.into_iter().map(To::Unit));
        let after = &after[1..];
        if let Some(inside) = after.strip_prefix('[') {
            let (map, behind) = inside.split_once(']').ok_or("a $[ without its ]")?;
            let (number, name) = map.split_once(':').ok_or("$[ without a group and a set")?;
            let number = number.parse().map_err(|_| "a group number in $[…]")?;
            parts.push(To::Mapped(number, items(variables, name)?));
            rest = behind;
        } else {
            let digit = after.chars().next().and_then(|c| c.to_digit(10));
            let digit = digit.ok_or("a $ without a group's number")?;
            parts.push(To::Group(digit as usize));
            rest = &after[1..];
        }
    }
    parts.extend(units(rest)?.into_iter().map(To::Unit));
    Ok(parts)
}

struct Matching<'a> {
    input: &'a [Unit],
    captures: &'a mut Vec<Capture>,
    steps: &'a mut usize,
}

impl Matching<'_> {
    /// True where `nodes` match from `at` exactly to the end of the input.
    fn all(&mut self, nodes: &[&Node], at: usize) -> bool {
        if *self.steps == 0 {
            return false;
        }
        *self.steps -= 1;
        let Some((first, rest)) = nodes.split_first() else { return at == self.input.len() };
        let here = self.input.get(at);
        match first {
            Node::Unit(unit) => here == Some(unit) && self.all(rest, at + 1),
            Node::AnyMarker => matches!(here, Some(Unit::Marker(_))) && self.all(rest, at + 1),
            Node::AnyChar => matches!(here, Some(Unit::Char(_))) && self.all(rest, at + 1),
            Node::Class { ranges, negated } => {
                let Some(Unit::Char(c)) = here else { return false };
                let inside = ranges.iter().any(|(low, high)| (low..=high).contains(&c));
                inside != *negated && self.all(rest, at + 1)
            }
            Node::Set(items) => items
                .iter()
                .any(|item| self.input[at..].starts_with(item) && self.all(rest, at + item.len())),
            Node::Group(number, alternatives) => {
                alternatives.iter().any(|inner| self.group(*number, inner, rest, at))
            }
            Node::Repeat(inner, least, most) => (*least..=*most).rev().any(|times| {
                let mut nodes: Vec<&Node> = vec![inner.as_ref(); times];
                nodes.extend_from_slice(rest);
                self.all(&nodes, at)
            }),
        }
    }

    /// A group's end is found by trying every end: inputs have a few units.
    fn group(&mut self, number: Option<usize>, inner: &[Node], rest: &[&Node], at: usize) -> bool {
        (at..=self.input.len()).rev().any(|end| {
            let nodes: Vec<&Node> = inner.iter().collect();
            let part = &self.input[..end];
            let fits = Matching { input: part, captures: self.captures, steps: self.steps }
                .all(&nodes, at);
            if !fits {
                return false;
            }
            if let Some(capture) = number.and_then(|number| self.captures.get_mut(number)) {
                capture.units = self.input[at..end].to_vec();
                capture.item = match inner {
                    [Node::Set(items)] => items.iter().position(|item| *item == capture.units),
                    _ => None,
                };
            }
            self.all(rest, end)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(from: &str, to: &str, input: &str) -> Option<String> {
        let mut variables = Variables::default();
        variables.sets.insert("plain".into(), vec!["a".into(), "e".into(), "ss".into()]);
        variables.sets.insert("acute".into(), vec!["á".into(), "é".into(), "ß".into()]);
        let transform = Transform::read(from, to, &variables).unwrap();
        run(&[vec![transform]], &units(input).unwrap(), &mut 10_000)
    }

    #[test]
    fn patterns_of_dead_keys() {
        for (from, to, input, expected) in [
            ("\\m{acute}e", "é", "\\m{acute}e", Some("é")),
            ("\\m{acute}e", "é", "\\m{acute}a", None),
            ("\\m{acute}e", "é", "e", None),
            ("\\m{acute}($[plain])", "$[1:acute]", "\\m{acute}a", Some("á")),
            ("\\m{acute}($[plain])", "$[1:acute]", "\\m{acute}ss", Some("ß")),
            ("\\m{.}([a-c])", "<$1>", "\\m{x}b", Some("<b>")),
            ("\\m{.}([^a-c])", "$1", "\\m{x}b", None),
            ("\\m{a}(x|y)z?", "$1!", "\\m{a}y", Some("y!")),
            ("\\m{a}(x|y)z{2,3}", "$1!", "\\m{a}xzz", Some("x!")),
            ("\\m{a}.", "\\u{2192}", "\\m{a}q", Some("→")),
            // What leaves a marker standing is no dead key's work.
            ("e", "é", "\\m{a}e", None),
        ] {
            assert_eq!(made(from, to, input).as_deref(), expected, "{from} {input}");
        }
    }

    #[test]
    fn what_is_not_understood_is_told() {
        let variables = Variables::default();
        for from in ["a*", "(a", "[a", "\\d", "a{1,99}", "$[none]", "(((((((((((((((((((a"] {
            assert!(Transform::read(from, "x", &variables).is_err(), "{from}");
        }
        let mut steps = 50;
        let slow = Transform::read("(a|a|a)(a|a|a)(a|a|a)b", "x", &variables).unwrap();
        let input: Vec<Unit> = "aaaaaaaaaaaa".chars().map(Unit::Char).collect();
        assert_eq!(run(&[vec![slow]], &input, &mut steps), None);
        assert_eq!(steps, 0);
    }
}
