//! temporary
use super::practice::Gathered;
use crate::cli::{PracticeArgs, Shared};
use crate::practice::Material;
use std::process::ExitCode;
/// temporary
///
/// # Errors
/// always
pub fn practise(_: &Shared, _: Gathered, _: &PracticeArgs, _: Option<Material>) -> anyhow::Result<ExitCode> { anyhow::bail!("no screen") }
