//! Punctuation where it lives: in sentences.

/// Fragments with `c`, where `A` to `D` stand for words and `W` for a word
/// with a capital.
pub(super) fn templates(c: char) -> &'static [&'static str] {
    match c {
        '.' => &["A. W", "A, B.", "a.m.", "p.m.", "i.e. A", "e.g. A"],
        ',' => &["A, B", "A, B, C", "\"A,\" B"],
        ';' => &["A; B", "(A); B", "A, B; C"],
        ':' => &["A: B", "A: B, C", "W: \"A\""],
        '?' => &["A? W", "\"A?\"", "(A?)", "A?"],
        '!' => &["A! W", "\"A!\"", "(A!)", "A!"],
        '"' => &["\"A\"", "\"A,\" B", "\"A?\" \"B.\"", "A \"B\""],
        '\'' => &["A's B", "'A'", "the A's B", "'A,' B"],
        '-' => &["A-B", "A - B", "A-B, C", "(A-B)"],
        '–' => &["A – B", "A – B – C", "“A” – B", "A–B"],
        '—' => &["A — B", "A—B—C", "A — B — C"],
        '…' => &["A… W", "A…", "“A…”"],
        '(' | ')' => &["(A) B", "A (B), C", "(A, B)", "(A.)", "A (B)"],
        '“' | '”' => &["“A”", "“A,” B", "“A?” “B.”"],
        '„' => &["„A“", "„A,“ B"],
        '‘' | '’' => &["‘A’", "A’s B", "‘A,’ B"],
        '«' | '»' => &["«A»", "« A », B", "«A», B"],
        '¿' => &["¿A?", "A: ¿B?"],
        '¡' => &["¡A!", "A: ¡B!"],
        '/' => &["A/B", "and/or A", "A/B, C"],
        '&' => &["A & B", "W & W"],
        '*' => &["*A*", "A*"],
        '_' => &["_A_", "A_B"],
        '@' => &["A@B", "@A"],
        '#' => &["#A", "# A"],
        _ => &[],
    }
}
