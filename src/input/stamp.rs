//! Times for what the parser finds: everything of one read shares a time.

use super::parser::{Parsed, Parser};
use crate::units::Micros;

/// A parser that knows when its bytes were read. Pure.
#[derive(Debug, Default)]
pub struct Stamper {
    parser: Parser,
    /// When the newest bytes were read.
    last: Micros,
    /// When what is pending began, and whether something was read with it.
    began: (Micros, bool),
    found: Vec<Parsed>,
}

impl Stamper {
    /// Takes the bytes of one read at `at` and puts what they complete at the
    /// end of `out`. What began with an earlier read has that read's time.
    pub fn read(&mut self, at: Micros, bytes: &[u8], out: &mut Vec<(Micros, Parsed)>) {
        let carried = self.parser.feed(bytes, &mut self.found);
        let at = at.max(self.last);
        self.last = at;
        let mut company = false;
        for (n, item) in self.found.drain(..).enumerate() {
            if n == 0 && carried {
                out.push((self.began.0, marked(item, self.began.1)));
            } else {
                let told = !matches!(item, Parsed::Reply(_));
                out.push((at, marked(item, company)));
                company |= told;
            }
        }
        if !self.parser.carries_on() {
            self.began = (at, company);
        }
    }

    /// When to call [`Stamper::flush`] if nothing more is read; none where
    /// nothing is pending.
    pub fn deadline(&self) -> Option<Micros> {
        self.parser.patience().map(|patience| self.last + patience)
    }

    /// Ends what is pending, with the time at which it was read.
    pub fn flush(&mut self, out: &mut Vec<(Micros, Parsed)>) {
        self.parser.flush_pending(&mut self.found);
        let (at, mut company) = self.began;
        for item in self.found.drain(..) {
            out.push((at, marked(item, company)));
            company = true;
        }
    }
}

fn marked(mut item: Parsed, batched: bool) -> Parsed {
    if let Parsed::Key(key) = &mut item {
        key.batched = batched;
    }
    item
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyboard::NamedKey;
    use crate::session::StrokeKey;

    fn shown(items: &[(Micros, Parsed)]) -> Vec<(u64, String, bool)> {
        items
            .iter()
            .map(|(at, item)| match item {
                Parsed::Key(key) => {
                    let name = match key.stroke.key {
                        StrokeKey::Char(c) => c.to_string(),
                        StrokeKey::Named(name) => name.to_string(),
                        StrokeKey::Level5Shift => crate::keyboard::LEVEL5_SHIFT.to_owned(),
                    };
                    (at.0, name, key.batched)
                }
                other => (at.0, format!("{other:?}"), false),
            })
            .collect()
    }

    fn row(at: u64, name: &str, batched: bool) -> (u64, String, bool) {
        (at, name.to_owned(), batched)
    }

    #[test]
    fn all_but_the_first_of_a_read_are_batched() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        stamper.read(Micros(100), b"ab", &mut out);
        stamper.read(Micros(200), b"c", &mut out);
        assert_eq!(shown(&out), [row(100, "a", false), row(100, "b", true), row(200, "c", false)]);
    }

    #[test]
    fn a_reply_is_no_company() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        stamper.read(Micros(100), b"\x1b[?31ua", &mut out);
        assert_eq!(shown(&out)[1], row(100, "a", false));
    }

    #[test]
    fn a_lone_escape_has_the_time_at_which_it_came() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        stamper.read(Micros(100), b"\x1b", &mut out);
        assert_eq!(stamper.deadline(), Some(Micros(25_100)));
        stamper.flush(&mut out);
        assert_eq!(stamper.deadline(), None);
        stamper.read(Micros(40_000), b"\x1b", &mut out);
        stamper.read(Micros(50_000), b"\x1b", &mut out);
        stamper.read(Micros(60_000), b"x", &mut out);
        let escape = NamedKey::Escape.name();
        assert_eq!(
            shown(&out),
            [row(100, escape, false), row(40_000, escape, false), row(50_000, "x", false),]
        );
    }

    #[test]
    fn a_sequence_has_the_time_of_its_first_byte() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        for (at, bytes) in [(100, &b"\x1b"[..]), (200, b"["), (300, b"1;5"), (400, b"Ax")] {
            stamper.read(Micros(at), bytes, &mut out);
        }
        assert_eq!(shown(&out), [row(100, "ArrowUp", false), row(400, "x", false)]);
    }

    #[test]
    fn what_was_read_with_something_stays_batched() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        stamper.read(Micros(100), b"a\x1b", &mut out);
        stamper.flush(&mut out);
        assert_eq!(shown(&out), [row(100, "a", false), row(100, "Escape", true)]);
    }

    #[test]
    fn time_never_runs_backwards() {
        let (mut stamper, mut out) = (Stamper::default(), Vec::new());
        stamper.read(Micros(100), b"a", &mut out);
        stamper.read(Micros(90), b"b", &mut out);
        assert_eq!(shown(&out), [row(100, "a", false), row(100, "b", false)]);
    }
}
