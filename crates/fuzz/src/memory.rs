//! How much memory this process takes, where the system says it.

/// Resident memory now, in KiB.
#[must_use]
pub fn now() -> Option<u64> {
    stated("VmRSS:")
}

/// The greatest resident memory so far, in KiB.
#[must_use]
pub fn most() -> Option<u64> {
    stated("VmHWM:")
}

/// An amount of memory as people read it.
#[must_use]
pub fn in_words(kib: Option<u64>) -> String {
    kib.map_or_else(|| "not known".to_string(), |kib| format!("{:.1} MB", kib as f64 / 1024.0))
}

/// A line of what Linux says of this process.
fn stated(field: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix(field))?;
    line.split_whitespace().next()?.parse().ok()
}
