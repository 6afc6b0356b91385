//! The model: golden numbers of general-purpose references, laws, and the
//! recovery of a known truth.

mod golden;
mod laws;
mod recovery;
mod typist;
