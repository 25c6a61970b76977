//! Who writes: this process among others that may share a folder, and what of it is unfinished.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

/// Age from which what a process of another machine left counts as given up: nobody here can ask it.
const GIVEN_UP: Duration = Duration::from_secs(24 * 3600);

/// Name of this machine, of letters, digits and `-`; `host` where it has none.
pub(super) fn host() -> &'static str {
    static HOST: OnceLock<String> = OnceLock::new();
    HOST.get_or_init(|| {
        let told = fs::read_to_string("/proc/sys/kernel/hostname").ok();
        let told = told
            .or_else(|| std::env::var("HOSTNAME").ok())
            .or_else(|| std::env::var("COMPUTERNAME").ok())
            .unwrap_or_default();
        let safe = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
        let name: String = told.trim().chars().map(safe).take(40).collect();
        if name.is_empty() { "host".into() } else { name }
    })
}

/// Whether a process of this machine runs; `None` where the system does not say.
fn runs(process: u32) -> Option<bool> {
    let listed = Path::new("/proc/self").exists();
    listed.then(|| Path::new(&format!("/proc/{process}")).exists())
}

/// Whether a process on a machine, whose last sign of life is so old, is known to be gone: it is of this machine, which
/// has no such process, or nothing was heard of it for a day.
pub(super) fn is_gone((process, machine): (u32, &str), age: Option<Duration>) -> bool {
    let ended = machine == host() && runs(process) == Some(false);
    ended || age.is_some_and(|age| age > GIVEN_UP)
}

/// Files of this process that are to go if it ends amid its work.
static UNFINISHED: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

fn unfinished() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Notes a file before it is made.
pub(super) fn begin(path: &Path) {
    unfinished().insert(path.to_owned());
}

/// Takes the note back: the file is finished, or gone.
pub(super) fn end(path: &Path) {
    unfinished().remove(path);
}

/// Ends the program at once with this exit code; nothing half-written stays.
pub fn abandon(code: i32) -> ! {
    // Held to the end, so that no other thread begins a file meanwhile.
    let left = unfinished();
    for path in left.iter() {
        // One that cannot be removed is found by the next run there.
        let _ = fs::remove_file(path);
    }
    std::process::exit(code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_process_is_gone_where_its_machine_says_so_or_after_a_day() {
        let (here, hour, days) = (
            host(),
            Some(Duration::from_secs(3600)),
            Some(GIVEN_UP + Duration::from_secs(1)),
        );
        assert!(!is_gone((std::process::id(), here), hour));
        // Numbers of processes end far below.
        let gone = cfg!(target_os = "linux");
        assert_eq!(is_gone((u32::MAX - 1, here), hour), gone);
        assert!(!is_gone((u32::MAX - 1, "another"), hour));
        assert!(is_gone((u32::MAX - 1, "another"), days));
        assert!(!is_gone((u32::MAX - 1, "another"), None));
    }
}
