//! Runs the readers over broken inputs on every core, and watches for panics and hangs.

#![allow(clippy::print_stderr)] // what hangs is told at once

use super::formats::{Format, Outcome, formats};
use super::mutate::{Dice, mutate};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rayon::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Longest time that one input may take.
const LONGEST: Duration = Duration::from_secs(10);

/// Inputs that are named of those that fail, in each format.
const NAMED: usize = 5;

/// What is to be done.
pub(crate) struct Ask {
    /// Inputs over all formats.
    pub(crate) inputs: u64,
    /// Seed of the inputs.
    pub(crate) seed: u64,
    /// Whether panics say nothing while they happen.
    pub(crate) silent: bool,
    /// One format alone.
    pub(crate) format: Option<String>,
}

impl Default for Ask {
    fn default() -> Self {
        Self {
            inputs: 1_000_000,
            seed: 1,
            format: None,
            silent: true,
        }
    }
}

/// What came of it.
pub(crate) struct Report {
    /// To be printed.
    pub(crate) lines: Vec<String>,
    /// Whether an input made a reader panic or hang.
    pub(crate) failed: bool,
}

/// An input under way.
type UnderWay = Mutex<Option<(Instant, String, Vec<u8>)>>;

/// The input of this number.
fn input(format: &Format, seed: u64, number: u64) -> Vec<u8> {
    let mut luck = ChaCha8Rng::seed_from_u64(seed);
    luck.set_stream(number);
    let mut dice = Dice(&mut luck);
    let text = &format.seeds[dice.below(format.seeds.len())];
    let other = &format.seeds[dice.below(format.seeds.len())];
    mutate(text, other, &mut dice)
}

/// Tries `ask.inputs` inputs.
pub(crate) fn run(ask: &Ask) -> Report {
    let all = formats();
    let wanted = |format: &&Format| ask.format.as_ref().is_none_or(|name| *name == format.name);
    let chosen: Vec<&Format> = all.iter().filter(wanted).collect();
    let weights: u64 = chosen.iter().map(|format| format.weight).sum();
    if chosen.is_empty() || chosen.iter().any(|format| format.seeds.is_empty()) {
        return Report {
            lines: vec!["no such format, or no good file of one".to_owned()],
            failed: true,
        };
    }
    // Messages of panics would drown the count; each is named at the end.
    if ask.silent {
        std::panic::set_hook(Box::new(|_| {}));
    }
    let under_way: Vec<UnderWay> = (0..=rayon::current_num_threads())
        .map(|_| Mutex::default())
        .collect();
    let done = AtomicBool::new(false);
    let mut lines = Vec::new();
    let mut failed = false;
    let mut total = 0;
    std::thread::scope(|scope| {
        scope.spawn(|| watch(&under_way, &done));
        for format in chosen {
            let share = (ask.inputs * format.weight).div_ceil(weights);
            let (line, bad) = one_format(format, (ask.seed, share), &under_way);
            lines.push(line);
            total += share;
            failed |= !bad.is_empty();
            for number in bad.into_iter().take(NAMED) {
                let kept = keep(format.name, &input(format, ask.seed, number));
                lines.push(format!(
                    "  panicked: input {number} of seed {}, kept as {}",
                    ask.seed,
                    kept.display()
                ));
            }
        }
        done.store(true, Ordering::Relaxed);
    });
    if ask.silent {
        let _ = std::panic::take_hook();
    }
    let memory = peak_memory_mib().map_or(String::new(), |mib| format!("; peak memory {mib} MiB"));
    let words = if failed {
        "with panics"
    } else {
        "without a panic or hang"
    };
    lines.push(format!("{total} inputs {words}{memory}"));
    Report { lines, failed }
}

fn one_format(
    format: &Format,
    (seed, share): (u64, u64),
    under_way: &[UnderWay],
) -> (String, Vec<u64>) {
    let (taken, slowest_us) = (AtomicU64::new(0), AtomicU64::new(0));
    let bad: Vec<u64> = (0..share)
        .into_par_iter()
        .filter(|&number| {
            let bytes = input(format, seed, number);
            let slot = &under_way[rayon::current_thread_index().map_or(0, |thread| thread + 1)];
            let started = Instant::now();
            put(slot, Some((started, format.name.to_owned(), bytes.clone())));
            let outcome = catch_unwind(AssertUnwindSafe(|| (format.read)(&bytes)));
            put(slot, None);
            let us = u64::try_from(started.elapsed().as_micros()).unwrap_or(u64::MAX);
            slowest_us.fetch_max(us, Ordering::Relaxed);
            if matches!(outcome, Ok(Outcome::Taken)) {
                taken.fetch_add(1, Ordering::Relaxed);
            }
            outcome.is_err()
        })
        .collect();
    let taken = taken.into_inner();
    let slowest = Duration::from_micros(slowest_us.into_inner());
    let line = format!(
        "{}: {share} inputs, {taken} read, {} refused, {} panicked, slowest {:.3} s",
        format.name,
        share - taken - bad.len() as u64,
        bad.len(),
        slowest.as_secs_f64()
    );
    (line, bad)
}

fn put(slot: &UnderWay, what: Option<(Instant, String, Vec<u8>)>) {
    if let Ok(mut slot) = slot.lock() {
        *slot = what;
    }
}

/// Ends the program where an input takes too long: it cannot be taken back.
fn watch(under_way: &[UnderWay], done: &AtomicBool) {
    while !done.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(100));
        for slot in under_way {
            let Ok(slot) = slot.lock() else { continue };
            if let Some((started, name, bytes)) = slot
                .as_ref()
                .filter(|(started, ..)| started.elapsed() > LONGEST)
            {
                let seconds = started.elapsed().as_secs();
                eprintln!(
                    "{name}: an input hangs for {seconds} s, kept as {}",
                    keep(name, bytes).display()
                );
                std::process::exit(1);
            }
        }
    }
}

/// Writes an input down to be looked at.
fn keep(name: &str, bytes: &[u8]) -> PathBuf {
    let hash = periband::report::folder::sha256(bytes);
    let file = format!("periband-fuzz-{}-{}", name.replace(' ', "-"), &hash[..12]);
    let path = std::env::temp_dir().join(file);
    let _ = std::fs::write(&path, bytes);
    path
}

/// Highest memory of this process so far, where the system tells.
fn peak_memory_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024)
}
