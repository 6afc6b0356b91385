//! Why a standard's file can't be used, in words.

/// Why an import was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ImportError {
    /// The file is larger than any layout.
    #[error("{file}: {bytes} bytes: expected at most {most}; this is no keyboard file")]
    TooLarge {
        /// The file.
        file: String,
        /// Its size.
        bytes: usize,
        /// The largest that is read.
        most: usize,
    },
    /// The file is no text.
    #[error("{file}:{line}: not UTF-8: expected a text file saved as UTF-8")]
    NotText {
        /// The file.
        file: String,
        /// The first line that is none, from 1.
        line: usize,
    },
    /// A fault at one place.
    #[error("{file}:{line}: {what}")]
    At {
        /// The file.
        file: String,
        /// The line, from 1.
        line: usize,
        /// What is wrong and what was expected.
        what: String,
    },
    /// A fault of the whole.
    #[error("{file}: {what}")]
    Whole {
        /// The file, or the names that were asked for.
        file: String,
        /// What is wrong and what was expected.
        what: String,
    },
}

impl ImportError {
    /// A fault at `line` of `file`.
    pub fn at(file: &str, line: usize, what: impl Into<String>) -> Self {
        Self::At { file: file.to_owned(), line, what: what.into() }
    }

    /// A fault of all of `file`.
    pub fn whole(file: &str, what: impl Into<String>) -> Self {
        Self::Whole { file: file.to_owned(), what: what.into() }
    }
}

/// The text of `bytes`, if it is a text of reasonable size.
///
/// # Errors
/// [`ImportError::TooLarge`] and [`ImportError::NotText`].
pub fn text_of<'a>(bytes: &'a [u8], file: &str) -> Result<&'a str, ImportError> {
    if bytes.len() > super::MOST_BYTES {
        return Err(ImportError::TooLarge {
            file: file.to_owned(),
            bytes: bytes.len(),
            most: super::MOST_BYTES,
        });
    }
    std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let line = before.split(|byte| *byte == b'\n').count();
        ImportError::NotText { file: file.to_owned(), line }
    })
}
