//! The terminal as a device: raw mode, size, writing.

use std::io;

#[cfg(unix)]
mod device {
    use rustix::termios::{OptionalActions, Termios, isatty, tcgetattr, tcgetwinsize, tcsetattr};
    use std::fs::File;
    use std::io;
    use std::os::fd::{AsFd, OwnedFd};

    /// The settings of the terminal before raw mode.
    #[derive(Debug)]
    pub struct Saved {
        terminal: OwnedFd,
        settings: Termios,
    }

    impl Saved {
        /// Turns raw mode on and returns the settings from before.
        pub fn enter_raw() -> io::Result<Self> {
            let terminal = crate::input::open_terminal()?;
            let settings = tcgetattr(&terminal)?;
            let saved = Self { terminal, settings };
            saved.raw_again()?;
            Ok(saved)
        }

        /// Turns raw mode on once more, after something else turned it off.
        pub fn raw_again(&self) -> io::Result<()> {
            let mut raw = self.settings.clone();
            raw.make_raw();
            Ok(tcsetattr(&self.terminal, OptionalActions::Flush, &raw)?)
        }

        /// Puts the settings back; input that waits is dropped.
        pub fn restore(&self) -> io::Result<()> {
            Ok(tcsetattr(&self.terminal, OptionalActions::Flush, &self.settings)?)
        }
    }

    /// Standard output where it is a terminal, otherwise the controlling
    /// terminal; unbuffered.
    pub fn output() -> io::Result<File> {
        if is_terminal() {
            return Ok(io::stdout().as_fd().try_clone_to_owned()?.into());
        }
        File::options().write(true).open("/dev/tty")
    }

    pub fn is_terminal() -> bool {
        isatty(io::stdout())
    }

    pub fn size() -> io::Result<(u16, u16)> {
        let size = tcgetwinsize(output()?)?;
        Ok((size.ws_col, size.ws_row))
    }

    /// Stops the program until it is told to go on.
    pub fn stop_self() -> io::Result<()> {
        use rustix::process::{Signal, getpid, kill_process};
        Ok(kill_process(getpid(), Signal::STOP)?)
    }
}

#[cfg(not(unix))]
mod device {
    use std::io;

    /// Raw mode is on.
    #[derive(Debug)]
    pub struct Saved;

    impl Saved {
        pub fn enter_raw() -> io::Result<Self> {
            crossterm::terminal::enable_raw_mode()?;
            Ok(Self)
        }

        pub fn raw_again(&self) -> io::Result<()> {
            crossterm::terminal::enable_raw_mode()
        }

        pub fn restore(&self) -> io::Result<()> {
            crossterm::terminal::disable_raw_mode()
        }
    }

    pub fn output() -> io::Result<io::Stdout> {
        Ok(io::stdout())
    }

    pub fn is_terminal() -> bool {
        io::IsTerminal::is_terminal(&io::stdout())
    }

    pub fn size() -> io::Result<(u16, u16)> {
        crossterm::terminal::size()
    }

    /// There is nothing to stop for here.
    pub fn stop_self() -> io::Result<()> {
        Ok(())
    }
}

pub use device::{Saved, is_terminal, output, stop_self};

/// Columns and rows. A line that knows no size counts as 80×24, as ever.
///
/// # Errors
/// What the system says where standard output is no terminal.
pub fn size() -> io::Result<(u16, u16)> {
    Ok(match device::size()? {
        (0, 0) => (80, 24),
        known => known,
    })
}
