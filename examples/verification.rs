//! The verification of `periband`: flies and computes every check, prints one table and writes it as
//! Markdown and JSON to `out/verification/`.
//!
//! `cargo run --release --example verification`. An optional argument names another folder. What lies outside
//! its tolerance says so, with the reason; the tests of the project hold that nothing else does.
#![allow(clippy::print_stdout, reason = "a table on the screen is its purpose")]

#[path = "verification/mod.rs"]
mod verification;

use std::path::PathBuf;
use verification::{all_rows, flights, sheet};

fn main() -> std::io::Result<()> {
    let folder = std::env::args_os().nth(1);
    let folder = folder.map_or_else(|| PathBuf::from("out/verification"), PathBuf::from);
    let (rows, fields) = (all_rows(), flights::fields());
    print!("{}", sheet::screen(&rows));
    std::fs::create_dir_all(&folder)?;
    std::fs::write(
        folder.join("verification.md"),
        sheet::markdown(&rows, &fields),
    )?;
    std::fs::write(
        folder.join("verification.json"),
        sheet::json(&rows, &fields),
    )?;
    std::fs::write(folder.join("verified.json"), sheet::summary(&rows))?;
    println!("\nWritten to {}", folder.display());
    Ok(())
}
