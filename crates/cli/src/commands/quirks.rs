//! `quirks`
use crate::answer::{Answer, Found};
use crate::args::QuirksArgs;
use anyhow::Result;
pub fn run(_args: &QuirksArgs, _answer: &mut Answer) -> Result<Found> {
    Ok(Found::Nothing)
}
