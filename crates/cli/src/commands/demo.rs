//! `demo`
use crate::answer::{Answer, Found};
use crate::args::DemoArgs;
use anyhow::Result;
pub fn run(_args: &DemoArgs, _answer: &mut Answer) -> Result<Found> {
    Ok(Found::Nothing)
}
