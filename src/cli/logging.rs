//! What `-v` shows: the course of a run, on standard error, each line with the seconds since the start.
//! Other programs that use the library may install a logger of their own; this one is the command line's.

use log::{Level, LevelFilter, Log, Metadata, Record};
use std::io::Write as _;
use std::sync::OnceLock;
use std::time::Instant;

/// When the program started.
static START: OnceLock<Instant> = OnceLock::new();

struct ToStandardError;

impl Log for ToStandardError {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.target().starts_with("periband") && metadata.level() <= log::max_level()
    }

    fn log(&self, record: &Record<'_>) {
        if !self.enabled(record.metadata()) {
            return;
        }
        let seconds = START.get_or_init(Instant::now).elapsed().as_secs_f64();
        let line = line(seconds, record.level(), &record.args().to_string());
        let _ = writeln!(std::io::stderr(), "{line}");
    }

    fn flush(&self) {}
}

/// A line of the log.
fn line(seconds: f64, level: Level, message: &str) -> String {
    let word = match level {
        Level::Error => "error",
        Level::Warn => "warning",
        Level::Info => "info",
        Level::Debug => "detail",
        Level::Trace => "trace",
    };
    format!("[{seconds:9.3} s] {word:<7} {message}")
}

/// Starts to log: warnings always, with one `-v` the stages of a run, with two each of their steps.
pub(super) fn start(verbose: u8, quiet: bool) {
    START.get_or_init(Instant::now);
    let level = match verbose {
        _ if quiet => LevelFilter::Error,
        0 => LevelFilter::Warn,
        1 => LevelFilter::Info,
        2 => LevelFilter::Debug,
        _ => LevelFilter::Trace,
    };
    // In a process that runs the command line twice the logger stands already.
    let _ = log::set_logger(&ToStandardError);
    log::set_max_level(level);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_has_its_time_and_its_weight() {
        let text = line(1.25, Level::Info, "grid of 19 aims");
        assert_eq!(text, "[    1.250 s] info    grid of 19 aims");
    }
}
