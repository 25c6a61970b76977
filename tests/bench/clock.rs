//! The clock of the benchmarks.

use std::time::Instant;

/// Processor time of this thread, s; the wall clock where the system does not tell.
pub(crate) fn thread_time(since: Instant) -> f64 {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok())
        .map_or_else(|| since.elapsed().as_secs_f64(), |ns| ns * 1e-9)
}
