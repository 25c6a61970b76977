//! Throws broken files at every reader of the program and counts them: no panic, no hang, no unbounded memory.
//!
//! `cargo run --release --example fuzz -- [--inputs 1000000] [--seed 1] [--format scenario]`. Every input is a
//! function of the seed and its number alone. One that panics, or takes longer than ten seconds, is written to a
//! file, named, and ends the run with code 1.

#![allow(clippy::print_stdout, clippy::print_stderr)] // its answer is for the terminal

#[path = "fuzz/mod.rs"]
mod fuzz;

use fuzz::run::{Ask, Report, run};
use std::process::ExitCode;

fn main() -> ExitCode {
    let ask = match asked() {
        Ok(ask) => ask,
        Err(message) => {
            eprintln!("{message}");
            return ExitCode::from(2);
        }
    };
    let Report { lines, failed } = run(&ask);
    for line in &lines {
        println!("{line}");
    }
    if failed {
        ExitCode::FAILURE
    } else {
        ExitCode::SUCCESS
    }
}

fn asked() -> Result<Ask, String> {
    let mut ask = Ask::default();
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let value = words.next().ok_or(format!("{word} needs a value"))?;
        let number = || {
            value
                .parse()
                .map_err(|_| format!("{word}: {value} is no whole number"))
        };
        match word.as_str() {
            "--inputs" => ask.inputs = number()?,
            "--seed" => ask.seed = number()?,
            "--format" => ask.format = Some(value),
            _ => return Err(format!("unknown option {word}")),
        }
    }
    Ok(ask)
}
