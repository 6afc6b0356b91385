//! The XML of a keyboard file, with what it imports.

use super::text::{self, Unit, Variables, shown};
use super::transform::Transform;
use super::{Fetch, cldr};
use crate::import::ImportError;
use crate::import::error::text_of;
use crate::order::Gather;
use roxmltree::{Document, Node, ParsingOptions};
use std::collections::{BTreeMap, BTreeSet};

/// The oldest version of the format, by CLDR release.
const OLDEST: u32 = 45;
/// The most files that one keyboard may import.
const MOST_IMPORTS: usize = 32;
/// The most XML nodes of one file.
const MOST_NODES: u32 = 200_000;

/// What a key gives.
pub enum KeyFact {
    /// Characters and markers.
    Output(Vec<Unit>),
    /// A gap, or a key of touch screens.
    Gap,
}

/// One row of a layer.
pub struct RowFact {
    /// The ids of its keys.
    pub ids: Vec<String>,
    /// Its line, from 1.
    pub line: usize,
}

/// One hardware layer.
pub struct LayerFact {
    /// Its id, or its modifiers.
    pub name: String,
    /// The file that it stands in.
    pub file: String,
    /// Its line, from 1.
    pub line: usize,
    /// `layer@modifiers`.
    pub modifiers: String,
    /// Its rows.
    pub rows: Vec<RowFact>,
}

/// Everything that counts in a keyboard file.
#[derive(Default)]
pub struct Facts {
    /// `info@name`, or the locale.
    pub name: String,
    /// `keyboard3@locale`.
    pub locale: String,
    /// `formId` of the hardware layers, and its line.
    pub form: String,
    /// Its line.
    pub form_line: usize,
    /// Keys by id.
    pub keys: BTreeMap<String, KeyFact>,
    /// The hardware layers.
    pub layers: Vec<LayerFact>,
    /// Groups of simple transforms, in order.
    pub transforms: Vec<Vec<Transform>>,
    /// What is left out.
    pub notes: Vec<String>,
}

/// A key before its variables are known: `output`, where it stands, is a gap.
struct RawKey {
    output: Option<String>,
    gap: bool,
    file: String,
    line: usize,
}

#[derive(Default)]
struct Gathering {
    facts: Facts,
    keys: BTreeMap<String, RawKey>,
    variables: Variables,
    /// `from` and `to` by group.
    transforms: Vec<Vec<(String, String)>>,
    left_out: BTreeMap<&'static str, usize>,
    hardware: usize,
    imported: usize,
    /// Files that are being read, to see a ring.
    open: Vec<String>,
}

/// What the file says.
///
/// # Errors
/// See [`super::read`].
pub fn facts(text: &str, file: &str, fetch: &mut Fetch<'_>) -> Result<Facts, ImportError> {
    let document = parse(text, file)?;
    let root = document.root_element();
    let name = root.tag_name().name();
    if name == "keyboard" {
        let what = "an LDML keyboard of an older format: expected <keyboard3>, version 45 or later";
        return Err(ImportError::at(file, line(&root), what));
    }
    if name != "keyboard3" {
        let what =
            format!("root element <{}>: expected <keyboard3> of LDML Keyboard 3.0", shown(name));
        return Err(ImportError::at(file, line(&root), what));
    }
    let version = root.attribute("conformsTo").unwrap_or_default();
    if version.parse::<u32>().map_or(true, |version| version < OLDEST) {
        let what =
            format!("conformsTo=\"{}\": expected {OLDEST} or a later number", shown(version));
        return Err(ImportError::at(file, line(&root), what));
    }
    let mut gathering = Gathering::default();
    gathering.facts.locale = shown(root.attribute("locale").unwrap_or("und"));
    gathering.children(&root, file, "", fetch)?;
    gathering.finish(file)
}

fn parse<'a>(text: &'a str, file: &str) -> Result<Document<'a>, ImportError> {
    let options =
        ParsingOptions { allow_dtd: true, nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    Document::parse_with_options(text, options).map_err(|error| {
        // The parser's own words may carry text of the file.
        let what = match error {
            roxmltree::Error::EntityReferenceLoop(_) => {
                "entities that refer to each other without end".to_owned()
            }
            roxmltree::Error::NodesLimitReached => "more elements than any keyboard".to_owned(),
            ref error => format!("no well-formed XML: {}", shown(&error.to_string())),
        };
        ImportError::at(file, (error.pos().row as usize).max(1), what)
    })
}

fn line(node: &Node<'_, '_>) -> usize {
    node.document().text_pos_at(node.range().start).row as usize
}

/// The path that `import` names, seen from the folder of the first file.
///
/// # Errors
/// A path that leaves the folder.
fn resolve(from: &str, path: &str) -> Result<String, String> {
    let odd = path.starts_with('/') || path.contains(['\\', ':', '\0']) || path.is_empty();
    let outside = || format!("import of '{}': expected a file within the folder", shown(path));
    if odd {
        return Err(outside());
    }
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop().ok_or_else(outside)?;
            }
            part => parts.push(part),
        }
    }
    Ok(parts.join("/"))
}

impl Gathering {
    /// Reads the children of the root, or of an imported part.
    fn children(
        &mut self,
        root: &Node<'_, '_>,
        file: &str,
        path: &str,
        fetch: &mut Fetch<'_>,
    ) -> Result<(), ImportError> {
        for node in root.children().filter(Node::is_element) {
            match node.tag_name().name() {
                "info" => {
                    if let Some(name) = node.attribute("name") {
                        self.facts.name = shown(name.trim());
                    }
                }
                "import" => self.import(&node, root.tag_name().name(), file, path, fetch)?,
                "keys" | "variables" => self.part(&node, file, path, fetch)?,
                "transforms" => self.transforms(&node, file, path, fetch)?,
                "layers" => self.layers(&node, file)?,
                "displays" => self.leave("displays of keys"),
                "flicks" => self.leave("flicks of touch screens"),
                "forms" => self.leave("forms of its own"),
                _ => {}
            }
        }
        Ok(())
    }

    fn leave(&mut self, what: &'static str) {
        *self.left_out.entry(what).or_default() += 1;
    }

    /// Reads `<keys>` or `<variables>`.
    fn part(
        &mut self,
        part: &Node<'_, '_>,
        file: &str,
        path: &str,
        fetch: &mut Fetch<'_>,
    ) -> Result<(), ImportError> {
        for node in part.children().filter(Node::is_element) {
            let id = node.attribute("id").unwrap_or_default().to_owned();
            let value = node.attribute("value").unwrap_or_default();
            match node.tag_name().name() {
                "import" => self.import(&node, part.tag_name().name(), file, path, fetch)?,
                "key" => {
                    for (name, what) in [
                        ("longPressKeyIds", "long presses of touch screens"),
                        ("flickId", "flicks of touch screens"),
                        ("multiTapKeyIds", "repeated taps of touch screens"),
                    ] {
                        if node.attribute(name).is_some() {
                            self.leave(what);
                        }
                    }
                    let key = RawKey {
                        output: node.attribute("output").map(str::to_owned),
                        gap: node.attribute("gap") == Some("true"),
                        file: file.to_owned(),
                        line: line(&node),
                    };
                    self.keys.insert(id, key);
                }
                "string" => {
                    self.variables.strings.insert(id, value.to_owned());
                }
                "set" => {
                    let items = value.split_whitespace().map(str::to_owned).collect();
                    self.variables.sets.insert(id, items);
                }
                "uset" => self.leave("sets of Unicode properties"),
                _ => {}
            }
        }
        Ok(())
    }

    fn transforms(
        &mut self,
        part: &Node<'_, '_>,
        file: &str,
        path: &str,
        fetch: &mut Fetch<'_>,
    ) -> Result<(), ImportError> {
        if part.attribute("type").is_some_and(|kind| kind != "simple") {
            self.leave("transforms of Backspace");
            return Ok(());
        }
        for group in part.children().filter(Node::is_element) {
            match group.tag_name().name() {
                "import" => self.import(&group, "transforms", file, path, fetch)?,
                "transformGroup" => {
                    let mut own = Vec::new();
                    for node in group.children().filter(Node::is_element) {
                        if node.tag_name().name() == "reorder" {
                            self.leave("reorderings");
                        } else if let Some(from) = node.attribute("from") {
                            let to = node.attribute("to").unwrap_or_default();
                            own.push((from.to_owned(), to.to_owned()));
                        }
                    }
                    if !own.is_empty() {
                        self.transforms.push(own);
                    }
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn import(
        &mut self,
        node: &Node<'_, '_>,
        parent: &str,
        file: &str,
        path: &str,
        fetch: &mut Fetch<'_>,
    ) -> Result<(), ImportError> {
        let at = line(node);
        let wanted = node.attribute("path").unwrap_or_default();
        if node.attribute("base") == Some("cldr") {
            let Some(keys) = cldr::keys(wanted) else {
                if parent == "forms" {
                    return Ok(());
                }
                let what = format!(
                    "import of '{}' from CLDR: known are keys-Zyyy-punctuation.xml and \
                     keys-Zyyy-currency.xml",
                    shown(wanted)
                );
                return Err(ImportError::at(file, at, what));
            };
            for (id, output) in keys {
                // Escaped, so that no sign means anything but itself.
                let points: Vec<String> =
                    output.chars().map(|c| format!("{:X}", u32::from(c))).collect();
                let units = format!("\\u{{{}}}", points.join(" "));
                let key =
                    RawKey { output: Some(units), gap: false, file: file.to_owned(), line: at };
                self.keys.insert((*id).to_owned(), key);
            }
            return Ok(());
        }
        let target = resolve(path, wanted).map_err(|what| ImportError::at(file, at, what))?;
        let ring = self.open.contains(&target);
        self.imported += 1;
        if ring || self.imported > MOST_IMPORTS {
            let what = if ring { "imports itself, directly or not" } else { "too many imports" };
            return Err(ImportError::at(file, at, format!("'{}': {what}", shown(wanted))));
        }
        let bytes = fetch(&target).map_err(|why| {
            ImportError::at(file, at, format!("import of '{}': {why}", shown(wanted)))
        })?;
        let name = shown(&target);
        let text = text_of(&bytes, &name)?;
        let document = parse(text, &name)?;
        let root = document.root_element();
        if root.tag_name().name() != parent {
            let what = format!(
                "root element <{}>: expected <{parent}>, since it is imported there",
                shown(root.tag_name().name())
            );
            return Err(ImportError::at(&name, line(&root), what));
        }
        self.open.push(target.clone());
        match parent {
            "keys" | "variables" => self.part(&root, &name, &target, fetch)?,
            "transforms" => self.transforms(&root, &name, &target, fetch)?,
            _ => self.children(&root, &name, &target, fetch)?,
        }
        self.open.pop();
        Ok(())
    }

    fn layers(&mut self, node: &Node<'_, '_>, file: &str) -> Result<(), ImportError> {
        let form = node.attribute("formId").unwrap_or_default();
        if form == "touch" {
            self.leave("layers of touch screens");
            return Ok(());
        }
        self.hardware += 1;
        if self.hardware > 1 {
            let what = "a second set of hardware layers: expected exactly one";
            return Err(ImportError::at(file, line(node), what));
        }
        form.clone_into(&mut self.facts.form);
        self.facts.form_line = line(node);
        for layer in node.children().filter(|child| child.tag_name().name() == "layer") {
            let modifiers = layer.attribute("modifiers").unwrap_or("none").to_owned();
            let rows = layer
                .children()
                .filter(|child| child.tag_name().name() == "row")
                .map(|row| RowFact {
                    ids: row
                        .attribute("keys")
                        .unwrap_or_default()
                        .split_whitespace()
                        .map(str::to_owned)
                        .collect(),
                    line: line(&row),
                })
                .collect();
            self.facts.layers.push(LayerFact {
                name: layer.attribute("id").unwrap_or(&modifiers).to_owned(),
                file: file.to_owned(),
                line: line(&layer),
                modifiers,
                rows,
            });
        }
        Ok(())
    }

    /// Expands variables, now that all are known.
    fn finish(mut self, file: &str) -> Result<Facts, ImportError> {
        if self.hardware == 0 {
            let what = "no hardware layers: expected <layers> with a formId other than touch";
            return Err(ImportError::whole(file, what));
        }
        let used: BTreeSet<&str> = self
            .facts
            .layers
            .iter()
            .flat_map(|layer| &layer.rows)
            .flat_map(|row| row.ids.iter().map(String::as_str))
            .gather();
        for (id, key) in &self.keys {
            let fact = match &key.output {
                Some(output) if !key.gap => {
                    let read =
                        self.variables.expand(output).and_then(|output| text::units(&output));
                    match read {
                        Ok(units) => KeyFact::Output(units),
                        // What nothing uses can't do harm.
                        Err(_) if !used.contains(id.as_str()) => continue,
                        Err(what) => {
                            let what = format!("key '{}': {what}", shown(id));
                            return Err(ImportError::at(&key.file, key.line, what));
                        }
                    }
                }
                _ => KeyFact::Gap,
            };
            self.facts.keys.insert(id.clone(), fact);
        }
        let mut unread = 0;
        for group in &self.transforms {
            let mut own = Vec::new();
            for (from, to) in group {
                match Transform::read(from, to, &self.variables) {
                    Ok(transform) => own.push(transform),
                    Err(_) => unread += 1,
                }
            }
            self.facts.transforms.push(own);
        }
        if unread > 0 {
            let note = format!("{unread} transforms beyond what dead keys need");
            self.facts.notes.push(note);
        }
        for (what, count) in &self.left_out {
            self.facts.notes.push(format!("{what} ({count})"));
        }
        if self.facts.name.is_empty() {
            self.facts.name.clone_from(&self.facts.locale);
        }
        Ok(self.facts)
    }
}
