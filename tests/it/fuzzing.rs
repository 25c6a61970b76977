//! A short run of the broken inputs that `examples/fuzz.rs` throws at every reader.

#![allow(clippy::print_stdout, clippy::print_stderr)] // figures that --nocapture shows

use super::fuzz::formats::formats;
use super::fuzz::mutate::{Dice, mutate};
use super::fuzz::run::{Ask, run};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

#[test]
fn ten_thousand_broken_inputs_are_read_or_refused() {
    let report = run(&Ask {
        inputs: 10_000,
        silent: false,
        ..Ask::default()
    });
    println!("{}", report.lines.join("\n"));
    assert!(!report.failed, "{}", report.lines.join("\n"));
    assert_eq!(report.lines.len(), formats().len() + 1);
}

/// Otherwise broken inputs would prove little: the files they come from are read.
#[test]
fn every_good_file_is_read() {
    use super::fuzz::formats::Outcome;
    for format in formats() {
        assert!(!format.seeds.is_empty(), "{}", format.name);
        for (place, seed) in format.seeds.iter().enumerate() {
            let outcome = (format.read)(seed);
            assert_eq!(outcome, Outcome::Taken, "{} {place}", format.name);
        }
    }
}

#[test]
fn inputs_are_broken_in_the_same_way_each_time_and_differ() {
    let text = b"ship:\n  mass: 60 t\n  name: x\n";
    let broken = |stream: u64| {
        let mut luck = ChaCha8Rng::seed_from_u64(4);
        luck.set_stream(stream);
        mutate(text, b"world: mars\n", &mut Dice(&mut luck))
    };
    let all: Vec<Vec<u8>> = (0..200).map(broken).collect();
    assert_eq!(all, (0..200).map(broken).collect::<Vec<_>>());
    let differ = all.iter().filter(|bytes| bytes.as_slice() != text).count();
    assert!(differ > 150, "{differ} of 200 differ");
}
