//! temporary
use crate::layout::{Layout, shipped};
/// temporary
///
/// # Errors
/// unknown
pub fn resolve(which: Option<&str>) -> anyhow::Result<Layout> {
    shipped::load(which.unwrap_or("tern-split")).ok_or_else(|| anyhow::anyhow!("no such layout"))
}
