//! What the environment says about colour and characters.

use crate::cli::ColorChoice;
use std::env;

/// True where colour should be used: the option wins, then NO_COLOR (any
/// non-empty value) and `TERM=dumb` say no. Source: the convention of the
/// NO_COLOR variable.
pub fn colour(choice: ColorChoice) -> bool {
    decide_colour(choice, env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty()), || {
        env::var_os("TERM").is_some_and(|term| term == "dumb")
    })
}

fn decide_colour(choice: ColorChoice, no_color: bool, dumb: impl FnOnce() -> bool) -> bool {
    match choice {
        ColorChoice::Always => true,
        ColorChoice::Never => false,
        ColorChoice::Auto => !no_color && !dumb(),
    }
}

/// True where the locale says UTF-8. The first of LC_ALL, LC_CTYPE and LANG
/// that is not empty decides, as in POSIX; Windows terminals always do.
pub fn unicode() -> bool {
    let first = ["LC_ALL", "LC_CTYPE", "LANG"]
        .iter()
        .filter_map(env::var_os)
        .find(|value| !value.is_empty());
    cfg!(windows) || first.is_some_and(|value| says_utf8(&value.to_string_lossy()))
}

/// What the environment calls this terminal: the words of TERM and of
/// TERM_PROGRAM, which many terminals set (common practice, no source). Inside
/// a multiplexer they name that one, which has its own say in what comes
/// through.
pub fn terminal() -> String {
    let words = ["TERM", "TERM_PROGRAM"].iter().filter_map(env::var_os);
    name_of(words.map(|word| word.to_string_lossy().into_owned()))
}

fn name_of(words: impl Iterator<Item = String>) -> String {
    let words: Vec<String> = words
        .map(|word| word.chars().filter(|c| !c.is_control()).take(80).collect::<String>())
        .map(|word| word.trim().to_owned())
        .filter(|word| !word.is_empty())
        .collect();
    if words.is_empty() { "unnamed".to_owned() } else { words.join(" ") }
}

fn says_utf8(locale: &str) -> bool {
    let charset = locale.split_once('.').map_or(locale, |(_, charset)| charset);
    let charset = charset.split('@').next().unwrap_or(charset).to_ascii_lowercase();
    charset == "utf-8" || charset == "utf8"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_option_wins_over_the_environment() {
        assert!(decide_colour(ColorChoice::Always, true, || true));
        assert!(!decide_colour(ColorChoice::Never, false, || false));
        assert!(decide_colour(ColorChoice::Auto, false, || false));
        assert!(!decide_colour(ColorChoice::Auto, true, || false));
        assert!(!decide_colour(ColorChoice::Auto, false, || true));
    }

    #[test]
    fn a_terminal_is_named_by_what_is_there() {
        let name = |words: &[&str]| name_of(words.iter().map(|word| (*word).to_owned()));
        assert_eq!(name(&["tern-term", "harbour"]), "tern-term harbour");
        assert_eq!(name(&["", " har\u{1b}bour "]), "harbour");
        assert_eq!(name(&[]), "unnamed");
    }

    #[test]
    fn the_locale_tells_the_characters() {
        for yes in ["C.UTF-8", "de_DE.utf8", "en_GB.UTF-8@euro", "UTF-8"] {
            assert!(says_utf8(yes), "{yes}");
        }
        for no in ["C", "POSIX", "de_DE.ISO-8859-1", "de_DE@euro", ""] {
            assert!(!says_utf8(no), "{no}");
        }
    }
}
