//! Asked to end (Ctrl-C, terminate, hang up), the program leaves nothing half-written behind.

use std::io;
use std::thread;

use backporch_input::abandon_unfinished;
use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;
use signal_hook::low_level::emulate_default_handler;

/// From now on, removes unfinished files before any of these signals ends the program as it would have.
///
/// # Errors
/// What the system refuses.
pub fn clean_up_when_told_to_end() -> io::Result<()> {
    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    let wait_for_signals = move || {
        for signal in signals.forever() {
            abandon_unfinished();
            // Ends the program; whoever started it sees by which signal.
            let _ = emulate_default_handler(signal);
        }
    };
    thread::Builder::new().name("signals".to_string()).spawn(wait_for_signals)?;
    Ok(())
}
