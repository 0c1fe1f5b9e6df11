//! Goes through the targets for as long as one likes: `hours SECONDS [TARGET]`, seconds for each.

use std::error::Error;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use backporch_fuzz::{TARGETS, memory};

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let seconds: u64 = arguments.next().ok_or("found nothing, allowed: SECONDS [TARGET]")?.parse()?;
    let only = arguments.next();
    // Other inputs each time; what fails is named by its number.
    let from = SystemTime::now().duration_since(UNIX_EPOCH)?.as_nanos() as u64;
    let mut all = 0;
    for target in TARGETS.iter().filter(|target| only.as_deref().is_none_or(|only| only == target.name)) {
        let tried = target.run_for(from, Duration::from_secs(seconds))?;
        all += tried.inputs;
        let (slowest, number) = tried.slowest;
        println!(
            "{:13} {:>10} inputs, slowest {slowest:.2?} ({number}), memory up to {}",
            target.name,
            tried.inputs,
            memory::in_words(memory::most())
        );
    }
    println!("{all} inputs");
    Ok(())
}
