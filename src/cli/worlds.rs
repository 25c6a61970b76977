//! `periband worlds`: which worlds there are, how far they reach and how well they are known.

use super::args::{Common, WorldsArgs};
use super::exit::CliError;
use super::screen::Screen;
use crate::numeric::written::raised;
use crate::report::lock::FolderLock;
use crate::report::number::{MISSING, grouped, significant};
use crate::report::{ReportError, world_files};
use crate::world::{World, bundled_names, listing};
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::Path;

pub(super) fn run(args: &WorldsArgs, _common: &Common, screen: Screen) -> Result<(), CliError> {
    if let Some(choice) = &args.world {
        let world = World::from_choice(choice, Path::new(""))?;
        show(&world, screen);
        if args.figure {
            draw(&world, args, screen)?;
        }
        return Ok(());
    }
    list(screen)?;
    if args.figure {
        for name in bundled_names() {
            draw(&World::bundled(name)?, args, screen)?;
        }
    }
    Ok(())
}

fn draw(world: &World, args: &WorldsArgs, screen: Screen) -> Result<(), CliError> {
    let folder = world_files::folder(world, &args.out.out);
    let lock = FolderLock::take(&folder).map_err(ReportError::from)?;
    world_files::write(world, &args.out.out)?;
    drop(lock);
    screen.say(&format!("Figure: {}", folder.join("density.svg").display()));
    Ok(())
}

fn list(screen: Screen) -> Result<(), CliError> {
    let worlds = listing()?;
    screen.json(&json!({ "worlds": worlds.iter().map(|world| json!({
        "name": world.name,
        "lowest_altitude_km": world.floor_m / 1e3,
        "highest_altitude_km": world.top_m / 1e3,
        "entry_interface_km": world.entry_interface_m / 1e3,
        "quality": world.quality.words(),
        "sources": sources(&world.sources),
    })).collect::<Vec<_>>() }));
    let mut text = format!(
        "{:<12} {:>20} {:>14}  {}\n",
        "world", "air table (km)", "interface (km)", "known"
    );
    for world in &worlds {
        let range = format!("{:.0} to {:.0}", world.floor_m / 1e3, world.top_m / 1e3);
        let interface = world.entry_interface_m / 1e3;
        let _ = writeln!(
            text,
            "{:<12} {range:>20} {interface:>14.2}  {}",
            world.name,
            world.quality.words()
        );
    }
    text.push_str(
        "\nSources and constants of one: periband worlds NAME.\nYour own world file is named by its path.",
    );
    screen.say(&text);
    Ok(())
}

fn sources(sources: &[crate::world::Source]) -> Value {
    let entry = |source: &crate::world::Source| json!({ "what": source.what, "known": source.known.words(), "source": source.text });
    sources.iter().map(entry).collect()
}

fn show(world: &World, screen: Screen) {
    let body = world.body();
    let numbers = [
        ("gravitational parameter", body.gm_m3_s2 / 1e9, "km3/s2"),
        ("equatorial radius", body.equatorial_radius_m / 1e3, "km"),
        ("polar radius", body.polar_radius_m / 1e3, "km"),
        ("rotation", body.rotation_rad_s, "rad/s"),
        ("entry interface", body.entry_interface_m / 1e3, "km"),
        ("ground", world.ground_m() / 1e3, "km"),
        (
            "heating constant k",
            rounded(world.heating_constant()),
            "kg^0.5/m",
        ),
    ];
    screen.json(&json!({
        "name": body.name,
        "quality": world.quality().words(),
        "constants": numbers.iter().map(|(name, value, unit)| json!({ "name": name, "value": value, "unit": unit })).collect::<Vec<_>>(),
        "sources": sources(world.sources()),
    }));
    let mut text = format!("{} ({})\n", body.name, world.quality().words());
    for (name, value, unit) in numbers {
        let (value, unit) = (grouped(&value.to_string()), raised(unit));
        let _ = writeln!(text, "  {name:<26} {value:>16} {unit}");
    }
    let _ = writeln!(
        text,
        "\n  {:>9} {:>12} {:>11} {:>9}",
        "km", "kg/m³", "one sigma", "K"
    );
    let air = world.air();
    let (low, high) = (air.floor_m().max(world.ground_m()), air.top_m());
    for i in 0..=12 {
        let altitude = low + (high.min(2.0 * body.entry_interface_m) - low) * f64::from(i) / 12.0;
        let point = air.lookup(altitude);
        let kelvin = point
            .temperature_k
            .map_or_else(|| MISSING.to_owned(), |k| format!("{k:.1}"));
        let _ = writeln!(
            text,
            "  {:>9.1} {:>12.4e} {:>9.1} % {kelvin:>9}",
            altitude / 1e3,
            point.ln_density.exp(),
            100.0 * world.dispersion().log_sigma(air, altitude)
        );
    }
    text.push_str(
        "\n  Density is the median of the days. One sigma is that of its logarithm with\n  \
         every part of the dispersion: the mean lies higher by half its square.\n",
    );
    text.push_str("\nSources\n");
    for source in world.sources() {
        let _ = writeln!(text, "  {} ({})", source.what, source.known.words());
        for line in wrap(&source.text, 74) {
            let _ = writeln!(text, "    {line}");
        }
    }
    text.pop();
    screen.say(&text);
}

/// A number to six digits: more are not known of a constant that follows from a mixture.
fn rounded(value: f64) -> f64 {
    significant(value, 6).parse().unwrap_or(value)
}

/// Words in lines of at most `width` characters, longer only for a longer word.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}
