//! Subcommands, their output and exit status, in a throwaway home.

use assert_cmd::Command;
use tempfile::TempDir;

/// The binary with a home, data folder and environment of its own.
pub fn etude(home: &TempDir) -> Command {
    let mut command = Command::cargo_bin("etude").unwrap();
    command
        .env_clear()
        .env("HOME", home.path())
        .env("PATH", "/usr/bin:/bin")
        .env("LANG", "C.UTF-8")
        .env("TERM", "xterm-256color");
    command
}

#[test]
fn help_exits_with_success_and_shows_examples() {
    let home = TempDir::new().unwrap();
    let output = etude(&home).arg("--help").assert().success();
    let text = String::from_utf8(output.get_output().stdout.clone()).unwrap();
    assert!(text.contains("Examples:"), "{text}");
}

#[test]
fn a_mistyped_command_names_the_nearest_and_exits_with_2() {
    let home = TempDir::new().unwrap();
    let output = etude(&home).arg("practise").assert().code(2);
    let text = String::from_utf8(output.get_output().stderr.clone()).unwrap();
    assert!(text.contains("practice"), "{text}");
}
