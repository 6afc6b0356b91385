//! Kinds of files, by their endings.

/// Endings and what they stand for; the first word is the kind.
const KINDS: [(&str, &[&str]); 19] = [
    ("C and C++", &["c", "h", "cc", "cpp", "cxx", "hh", "hpp"]),
    ("CSS", &["css", "scss"]),
    ("figures", &["csv", "tsv"]),
    ("Go", &["go"]),
    ("HTML and XML", &["html", "htm", "xml", "svg"]),
    ("Java", &["java", "kt"]),
    ("JavaScript and TypeScript", &["js", "mjs", "cjs", "jsx", "ts", "tsx"]),
    ("JSON", &["json", "jsonl"]),
    ("Markdown", &["md", "markdown"]),
    ("mail", &["eml", "mbox"]),
    ("notes", &["org", "rst", "adoc"]),
    ("Python", &["py", "pyi"]),
    ("Ruby", &["rb"]),
    ("Rust", &["rs"]),
    ("shell", &["sh", "bash", "zsh", "fish"]),
    ("SQL", &["sql"]),
    ("TeX", &["tex", "bib"]),
    ("text", &["txt", "text", "log"]),
    ("TOML and YAML", &["toml", "yaml", "yml", "ini", "cfg", "conf"]),
];

/// The kind of everything else.
pub const OTHER: &str = "other";

/// The kind of a file with that ending (without the full stop, in any case).
pub fn kind_of(ending: &str) -> &'static str {
    let ending = ending.to_ascii_lowercase();
    let known = KINDS.iter().find(|(_, endings)| endings.contains(&ending.as_str()));
    known.map_or(OTHER, |(kind, _)| kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_tell_kinds() {
        assert_eq!(kind_of("rs"), "Rust");
        assert_eq!(kind_of("TXT"), "text");
        assert_eq!(kind_of(""), OTHER);
        let all: Vec<&str> = KINDS.iter().flat_map(|(_, endings)| *endings).copied().collect();
        for (n, ending) in all.iter().enumerate() {
            assert!(!all[..n].contains(ending), "{ending} twice");
        }
    }
}
