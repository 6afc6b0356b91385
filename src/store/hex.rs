//! Bytes as hexadecimal text.

use std::fmt::Write;

/// `bytes` in lower case, two digits a byte.
pub fn encode(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String can't fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// The bytes that `text` spells; none where it is no hexadecimal.
pub fn decode(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes();
    if !digits.len().is_multiple_of(2) || !digits.iter().all(u8::is_ascii_hexdigit) {
        return None;
    }
    digits
        .chunks_exact(2)
        .map(|pair| u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_read_back() {
        assert_eq!(encode(&[0, 0xab, 0x7f]), "00ab7f");
        assert_eq!(decode("00ab7f"), Some(vec![0, 0xab, 0x7f]));
        for text in ["0", "0g", "+1", "é"] {
            assert_eq!(decode(text), None, "{text}");
        }
    }
}
