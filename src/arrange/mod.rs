//! Which symbol on which key.
