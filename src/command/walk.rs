//! The files below a folder that ignore files don't leave out.
//!
//! The rules are those of `gitignore`: `.gitignore` counts within a repository,
//! with what its `info/exclude` says, and `.ignore` everywhere; the deeper file
//! goes before the one above it, and in one folder `.ignore` before `.gitignore`.
//! Hidden files and folders are left out, links are not followed.

use gix_ignore::glob::pattern::Case;
use gix_ignore::{Kind, Search, search::Ignore};
use std::fs;
use std::path::{Path, PathBuf};

/// What is found.
#[derive(Debug, Default)]
pub struct Found {
    /// Files, in order.
    pub files: Vec<PathBuf>,
    /// What could not be read, with the reason.
    pub unreadable: Vec<String>,
}

impl Found {
    /// Adds `path`, if it is a file, or the files below it.
    pub fn add(&mut self, path: &Path) {
        if !path.is_dir() {
            self.files.push(path.to_owned());
            return;
        }
        let whole = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let repository = whole.ancestors().find(|folder| folder.join(".git").exists());
        let top = repository.unwrap_or(&whole).to_owned();
        let mut rules = Rules { search: Search::default(), in_repository: repository.is_some() };
        if rules.in_repository {
            rules.take(&top.join(".git/info/exclude"), None);
        }
        // Folders above count too, the outermost first.
        let above: Vec<&Path> = whole.ancestors().skip(1).collect();
        for folder in above.into_iter().rev().filter(|folder| folder.starts_with(&top)) {
            rules.enter(folder, &top);
        }
        let within = whole.strip_prefix(&top).unwrap_or(Path::new(""));
        self.folder(path, (within, &top), &mut rules);
    }

    /// The files of `folder`, which lies `within` the folder `top` that rules
    /// count from.
    fn folder(&mut self, folder: &Path, (within, top): (&Path, &Path), rules: &mut Rules) {
        let entries = fs::read_dir(folder).and_then(Iterator::collect::<Result<Vec<_>, _>>);
        let entries = match entries {
            Ok(entries) => entries,
            Err(error) => {
                self.unreadable.push(format!("{}: {error}", folder.display()));
                return;
            }
        };
        let mut names: Vec<_> =
            entries.into_iter().map(|entry| (entry.file_name(), entry.file_type())).collect();
        names.sort_unstable_by(|a, b| a.0.cmp(&b.0));
        let before = rules.search.patterns.len();
        if names.iter().any(|(name, _)| name == ".ignore" || name == ".gitignore") {
            rules.enter(&top.join(within), top);
        }
        for (name, kind) in names {
            let hidden = name.as_encoded_bytes().starts_with(b".");
            let (path, within) = (folder.join(&name), within.join(&name));
            match kind {
                Err(error) => self.unreadable.push(format!("{}: {error}", path.display())),
                Ok(_) if hidden => {}
                Ok(kind) if kind.is_dir() => {
                    if !rules.leave_out(&within, true) {
                        self.folder(&path, (&within, top), rules);
                    }
                }
                Ok(kind) if kind.is_file() && !rules.leave_out(&within, false) => {
                    self.files.push(path);
                }
                Ok(_) => {}
            }
        }
        rules.search.patterns.truncate(before);
    }
}

/// What the ignore files of the folders entered say.
struct Rules {
    search: Search,
    in_repository: bool,
}

impl Rules {
    /// Takes in the ignore files of `folder`.
    fn enter(&mut self, folder: &Path, top: &Path) {
        if self.in_repository {
            self.take(&folder.join(".gitignore"), Some(top));
        }
        self.take(&folder.join(".ignore"), Some(top));
    }

    fn take(&mut self, file: &Path, top: Option<&Path>) {
        // One that isn't there, or can't be read, says nothing.
        if let Ok(bytes) = fs::read(file) {
            let rules = Ignore { support_precious: false };
            // It fails only for a file that lies outside of `top`.
            let _ = self.search.add_patterns_buffer(&bytes, file, top, rules);
        }
    }

    fn leave_out(&self, within: &Path, is_folder: bool) -> bool {
        if self.search.patterns.is_empty() {
            return false;
        }
        let names = within.iter().map(|name| name.to_string_lossy());
        let path = names.collect::<Vec<_>>().join("/");
        let (path, is_folder) = (path.as_str().into(), Some(is_folder));
        let found = self.search.pattern_matching_relative_path(path, is_folder, Case::Sensitive);
        found.is_some_and(|found| !found.pattern.is_negative() && found.kind == Kind::Expendable)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tempfile::TempDir;

    fn folder(files: &[(&str, &str)]) -> TempDir {
        let home = TempDir::new().unwrap();
        for (name, text) in files {
            let path = home.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        home
    }

    fn names(home: &TempDir, below: &str) -> Vec<String> {
        let mut found = Found::default();
        let root = home.path().join(below);
        found.add(&root);
        assert_eq!(found.unreadable, Vec::<String>::new());
        let name = |path: &PathBuf| path.strip_prefix(home).unwrap().display().to_string();
        found.files.iter().map(name).collect()
    }

    /// The rules are those of gitignore(5).
    #[test]
    fn ignore_files_leave_out_what_they_name() {
        let home = folder(&[
            (".git/info/exclude", "secret.txt\n"),
            (".gitignore", "*.log\n!keep.log\n/built/\nold\n# a comment\n"),
            ("a.txt", ""),
            ("secret.txt", ""),
            (".hidden", ""),
            ("tide.log", ""),
            ("keep.log", ""),
            ("built/a.txt", ""),
            ("quay/built/a.txt", ""),
            ("quay/old/a.txt", ""),
            ("quay/.ignore", "*.md\n!tide.log\n"),
            ("quay/notes.md", ""),
            ("quay/tide.log", ""),
            ("quay/deep/down/more.md", ""),
        ]);
        assert_eq!(names(&home, ""), ["a.txt", "keep.log", "quay/built/a.txt", "quay/tide.log"]);
        // What stands above counts too, and a file that is named is read.
        assert_eq!(names(&home, "quay"), ["quay/built/a.txt", "quay/tide.log"]);
        assert_eq!(names(&home, "quay/deep"), Vec::<String>::new());
        assert_eq!(names(&home, "tide.log"), ["tide.log"]);
    }

    #[test]
    fn outside_of_a_repository_only_ignore_counts() {
        let home = folder(&[
            (".gitignore", "a.txt\n"),
            ("a.txt", ""),
            ("b.txt", ""),
            (".ignore", "b.txt\n"),
        ]);
        assert_eq!(names(&home, ""), ["a.txt"]);
    }

    #[cfg(unix)]
    #[test]
    fn links_are_not_followed() {
        let home = folder(&[("a.txt", "")]);
        std::os::unix::fs::symlink(home.path(), home.path().join("round")).unwrap();
        std::os::unix::fs::symlink(home.path().join("a.txt"), home.path().join("b.txt")).unwrap();
        assert_eq!(names(&home, ""), ["a.txt"]);
    }
}
