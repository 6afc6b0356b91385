//! Where the practice history lies.

use directories::BaseDirs;
use std::env;
use std::path::{Path, PathBuf};

/// The folder of the history, and the folders to which a journal goes where
/// that one can't be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Places {
    /// The data folder.
    pub data: PathBuf,
    /// Substitutes, the best first.
    pub fallbacks: Vec<PathBuf>,
}

impl Places {
    /// `data` with the substitutes of this machine: the XDG state folder, then
    /// the folder for temporary files.
    pub fn new(data: &Path) -> Self {
        let mut fallbacks = Vec::new();
        if let Some(state) = xdg("XDG_STATE_HOME", ".local/state") {
            fallbacks.push(state.join("etude"));
        }
        fallbacks.push(env::temp_dir().join(temporary_name()));
        let data = std::path::absolute(data).unwrap_or_else(|_| data.to_owned());
        Self { data, fallbacks }
    }
}

#[cfg(unix)]
fn temporary_name() -> String {
    format!("etude-{}", rustix::process::getuid().as_raw())
}

#[cfg(not(unix))]
fn temporary_name() -> String {
    "etude".to_owned()
}

/// `$variable` where it is absolute (the XDG Base Directory Specification says
/// to ignore others), else `fallback` in the home folder.
fn xdg(variable: &str, fallback: &str) -> Option<PathBuf> {
    match env::var_os(variable).map(PathBuf::from) {
        Some(path) if path.is_absolute() => Some(path),
        _ => Some(BaseDirs::new()?.home_dir().join(fallback)),
    }
}

/// There is no home folder to put the history into.
#[derive(Debug, thiserror::Error)]
#[error(
    "there is no home folder for the practice history: name a folder with --data or ETUDE_DATA"
)]
pub struct NoHome;

/// The data folder: `flag` (from `--data` or `ETUDE_DATA`), else
/// `$XDG_DATA_HOME/etude` where that variable is absolute, else
/// `~/.local/share/etude`; on Windows the folder for roaming data.
///
/// # Errors
/// [`NoHome`] where none of these is known.
pub fn data_dir(flag: Option<&Path>) -> Result<PathBuf, NoHome> {
    if let Some(path) = flag.filter(|path| !path.as_os_str().is_empty()) {
        return Ok(path.to_owned());
    }
    if cfg!(windows) {
        return Ok(BaseDirs::new().ok_or(NoHome)?.data_dir().join("etude"));
    }
    xdg("XDG_DATA_HOME", ".local/share").map(|path| path.join("etude")).ok_or(NoHome)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_named_folder_wins_and_an_empty_name_counts_as_none() {
        assert_eq!(data_dir(Some(Path::new("logs"))).unwrap(), Path::new("logs"));
        let own = data_dir(Some(Path::new(""))).unwrap();
        assert!(own.ends_with("etude") && own.is_absolute(), "{}", own.display());
    }
}
