//! `etude man`: one manual page for all commands.

use clap::Command;
use clap_mangen::Man;

/// The manual page of `root` in roff, the commands below it in sections of
/// their own: there are no further pages to look up.
///
/// # Errors
/// What the system says where nothing can be written.
pub fn page(root: &Command) -> std::io::Result<Vec<u8>> {
    let mut page = Vec::new();
    let top = Man::new(root.clone());
    top.render_title(&mut page)?;
    top.render_name_section(&mut page)?;
    top.render_synopsis_section(&mut page)?;
    top.render_description_section(&mut page)?;
    top.render_options_section(&mut page)?;
    commands(root, root.get_name(), &mut page)?;
    let mut notes = Vec::new();
    top.render_extra_section(&mut notes)?;
    let notes = text(notes).replace(".SH EXTRA\n", ".SH EXAMPLES AND NOTES\n.nf\n");
    page.extend_from_slice(notes.as_bytes());
    page.extend_from_slice(b".fi\n");
    Ok(page)
}

fn text(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes)
        .unwrap_or_else(|error| String::from_utf8_lossy(error.as_bytes()).into_owned())
}

/// The sections of all commands below `parent` that do something.
fn commands(parent: &Command, path: &str, page: &mut Vec<u8>) -> std::io::Result<()> {
    for command in parent.get_subcommands() {
        let path = format!("{path} {}", command.get_name());
        if !command.is_subcommand_required_set() {
            // Not built yet: what it inherits is told once, with the program.
            let own =
                command.clone().bin_name(&path).disable_help_flag(true).disable_version_flag(true);
            let man = Man::new(own);
            let mut section = format!(".SH COMMAND \\(lq{path}\\(rq\n").into_bytes();
            man.render_description_section(&mut section)?;
            man.render_synopsis_section(&mut section)?;
            man.render_options_section(&mut section)?;
            man.render_extra_section(&mut section)?;
            let section = text(section)
                .replace(".SH DESCRIPTION\n", "")
                .replace(".SH SYNOPSIS\n", ".PP\n")
                .replace(".SH OPTIONS\n", "")
                .replace(".SH EXTRA\n", ".PP\n.nf\n");
            page.extend_from_slice(section.as_bytes());
            page.extend_from_slice(b".fi\n");
        }
        commands(command, &path, page)?;
    }
    Ok(())
}
