//! CSV by RFC 4180.

use std::io::{self, Write};

/// Writes one record: CRLF at its end, quotes where they are needed.
///
/// # Errors
/// What the system says when writing fails.
pub fn write<'a>(
    out: &mut impl Write,
    fields: impl IntoIterator<Item = &'a str>,
) -> io::Result<()> {
    for (n, field) in fields.into_iter().enumerate() {
        if n > 0 {
            out.write_all(b",")?;
        }
        if field.contains([',', '"', '\r', '\n']) {
            write!(out, "\"{}\"", field.replace('"', "\"\""))?;
        } else {
            out.write_all(field.as_bytes())?;
        }
    }
    out.write_all(b"\r\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn csv_quotes_what_needs_it() {
        let mut out = Vec::new();
        write(&mut out, ["a", "", ",", "say \"dawn\"", "two\r\nlines", " b"]).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "a,,\",\",\"say \"\"dawn\"\"\",\"two\r\nlines\", b\r\n"
        );
    }
}
