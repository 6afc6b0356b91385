//! Output to the terminal: each frame is one write, inside a synchronized
//! update.

use super::tty;
use ratatui::backend::{Backend, ClearType, CrosstermBackend, WindowSize};
use ratatui::buffer::Cell;
use ratatui::layout::{Position, Size};
use std::cell::RefCell;
use std::io::{self, Write};
use std::rc::Rc;

const BEGIN_UPDATE: &[u8] = b"\x1b[?2026h";
const END_UPDATE: &[u8] = b"\x1b[?2026l";

/// Draws into memory; a flush writes all of it at once.
pub struct FrameBackend {
    inner: CrosstermBackend<Frame>,
    bytes: Rc<RefCell<Vec<u8>>>,
    to: Box<dyn Write>,
    cursor: Position,
}

/// The bytes of one frame.
struct Frame(Rc<RefCell<Vec<u8>>>);

impl Write for Frame {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut frame = self.0.borrow_mut();
        if frame.is_empty() {
            frame.extend_from_slice(BEGIN_UPDATE);
        }
        frame.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    /// Does nothing: the cell writer flushes in the midst of a frame.
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl FrameBackend {
    /// A backend that writes to `to`.
    pub fn new(to: Box<dyn Write>) -> Self {
        let bytes = Rc::new(RefCell::new(Vec::new()));
        let inner = CrosstermBackend::new(Frame(Rc::clone(&bytes)));
        Self { inner, bytes, to, cursor: Position::ORIGIN }
    }
}

impl Backend for FrameBackend {
    type Error = io::Error;

    fn draw<'a, I>(&mut self, content: I) -> io::Result<()>
    where
        I: Iterator<Item = (u16, u16, &'a Cell)>,
    {
        self.inner.draw(content)
    }

    fn hide_cursor(&mut self) -> io::Result<()> {
        self.inner.hide_cursor()
    }

    fn show_cursor(&mut self) -> io::Result<()> {
        self.inner.show_cursor()
    }

    /// Where it was set last. The terminal is never asked: its answer would
    /// arrive among the keys.
    fn get_cursor_position(&mut self) -> io::Result<Position> {
        Ok(self.cursor)
    }

    fn set_cursor_position<P: Into<Position>>(&mut self, position: P) -> io::Result<()> {
        self.cursor = position.into();
        self.inner.set_cursor_position(self.cursor)
    }

    fn clear(&mut self) -> io::Result<()> {
        self.inner.clear()
    }

    fn clear_region(&mut self, what: ClearType) -> io::Result<()> {
        self.inner.clear_region(what)
    }

    fn size(&self) -> io::Result<Size> {
        tty::size().map(Size::from)
    }

    fn window_size(&mut self) -> io::Result<WindowSize> {
        Ok(WindowSize { columns_rows: self.size()?, pixels: Size::ZERO })
    }

    /// Sends the frame.
    fn flush(&mut self) -> io::Result<()> {
        let mut frame = self.bytes.borrow_mut();
        if frame.is_empty() {
            return Ok(());
        }
        frame.extend_from_slice(END_UPDATE);
        let written = self.to.write_all(&frame).and_then(|()| self.to.flush());
        frame.clear();
        written
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Clone, Default)]
    struct Log(Rc<RefCell<Vec<Vec<u8>>>>);

    impl Write for Log {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.borrow_mut().push(bytes.to_vec());
            Ok(bytes.len())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_frame_is_one_write_inside_an_update() {
        let log = Log::default();
        let mut backend = FrameBackend::new(Box::new(log.clone()));
        let cell = Cell::new("x");
        backend.draw([(3, 2, &cell)].into_iter()).unwrap();
        backend.hide_cursor().unwrap();
        assert!(log.0.borrow().is_empty(), "nothing goes out before the flush");
        backend.flush().unwrap();
        backend.flush().unwrap();
        let writes = log.0.borrow();
        assert_eq!(writes.len(), 1);
        assert!(writes[0].starts_with(BEGIN_UPDATE) && writes[0].ends_with(END_UPDATE));
    }
}
