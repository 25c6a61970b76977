//! The `capture` section: the orbit that is wanted, the ways to it that are compared, and what they may cost.

use std::f64::consts::FRAC_PI_2;

use super::arrival::{APOAPSIS_ALTITUDE_M, EXCESS_SPEED_M_S};
use super::bound::Bound;
use super::message::InputError;
use super::section::Section;
use super::ship::MASS_KG;
use crate::numeric::units::Dimension;

/// What is asked of a comparison of ways to be captured, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Capture {
    /// The orbit wanted.
    pub target: Target,
    /// The ways compared, in the order in which they are written.
    pub options: Vec<CaptureOption>,
    /// Apoapsis altitude below which a first burn or a moon has to leave the ship, m, when stated.
    pub loosest_apoapsis_m: Option<f64>,
    /// How the engine is used.
    pub burns: Burns,
    /// Burns before entry that are tried, beside none.
    pub sweep_steps: u32,
    /// Moons to fly past, by name; empty for every moon of the world.
    pub moons: Vec<String>,
    /// Speed change set aside for each flyby, m/s.
    pub flyby_allowance_m_s: f64,
    /// Propellant that may be used, kg, when stated.
    pub propellant_aboard_kg: Option<f64>,
    /// Other arrivals that are compared with the one of the scenario.
    pub alternatives: Vec<Alternative>,
}

/// The orbit wanted: altitudes above the equatorial radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Periapsis altitude, m.
    pub periapsis_m: f64,
    /// Apoapsis altitude, m, at least that of the periapsis.
    pub apoapsis_m: f64,
    /// How far either may be off, m, above 0.
    pub tolerance_m: f64,
}

/// A way to be captured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CaptureOption {
    /// `engine`: propellant alone.
    Engine,
    /// `air`: one pass through the air.
    Air,
    /// `burn_then_air`: a burn before entry, then one pass.
    BurnThenAir,
    /// `gentle_passes`: a loose orbit by engine, then many passes.
    GentlePasses,
    /// `moon`: a moon's gravity, then engine or air.
    Moon,
}

impl CaptureOption {
    /// Every option with its key.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Engine, "engine"),
        (Self::Air, "air"),
        (Self::BurnThenAir, "burn_then_air"),
        (Self::GentlePasses, "gentle_passes"),
        (Self::Moon, "moon"),
    ];

    /// The key in a scenario.
    #[must_use]
    pub fn key(self) -> &'static str {
        let entry = Self::ALL.iter().find(|(option, _)| *option == self);
        entry.map_or("", |(_, key)| key)
    }
}

/// How the engine is used.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burns {
    /// Whether thrust is always against the velocity; else it is fixed in space.
    pub against_velocity: bool,
    /// Number of burns of a capture by engine, when stated.
    pub count: Option<u32>,
    /// Loss to gravity, as a share of the impulse, below which no more burns are taken.
    pub accepted_loss: f64,
    /// Longest time from the first burn to the last, s.
    pub longest_s: f64,
    /// One-sigma of the relative error of a burn's size.
    pub size_sigma: f64,
    /// One-sigma of a burn's pointing in either direction, rad.
    pub pointing_sigma_rad: f64,
}

/// Another arrival.
#[derive(Debug, Clone, PartialEq)]
pub struct Alternative {
    /// What to call it.
    pub name: String,
    /// Excess speed, m/s.
    pub excess_speed_m_s: f64,
    /// How much longer the way is, s; negative for a shorter one.
    pub extra_time_s: f64,
    /// Propellant that it costs before the arrival, kg.
    pub extra_propellant_kg: f64,
}

/// Most burns of a capture by engine.
pub const MOST_BURNS: u32 = 12;
const MOST_ALTERNATIVES: usize = 12;

impl Capture {
    pub(super) fn decode(capture: &Section<'_>) -> Result<Self, InputError> {
        let target = capture.section("target")?;
        let length = |key, bound| capture.optional_quantity(key, Dimension::Length, bound);
        let decoded = Self {
            target: Target::decode(&target)?,
            options: decode_options(capture)?,
            loosest_apoapsis_m: length("loosest_apoapsis", APOAPSIS_ALTITUDE_M)?,
            burns: Burns::decode(capture.optional_section("burns")?)?,
            sweep_steps: small(capture.optional_integer("sweep_steps", 2..=40)?).unwrap_or(8),
            moons: decode_moons(capture)?,
            flyby_allowance_m_s: capture
                .optional_quantity(
                    "flyby_allowance",
                    Dimension::Speed,
                    Bound::between(0.0, 1e4),
                )?
                .unwrap_or(0.0),
            propellant_aboard_kg: capture.optional_quantity(
                "propellant_aboard",
                Dimension::Mass,
                MASS_KG,
            )?,
            alternatives: decode_alternatives(capture)?,
        };
        target.finish()?;
        let loosest = decoded.loosest_apoapsis_m;
        if loosest.is_some_and(|loosest| loosest < decoded.target.apoapsis_m) {
            return Err(capture
                .error_at(
                    "loosest_apoapsis",
                    "the loosest apoapsis is below that of the target",
                )
                .with_help(
                    "it is that of the orbit in which the ship may wait; raise it, or leave it out",
                ));
        }
        Ok(decoded)
    }

    /// Whether an option is asked for.
    #[must_use]
    pub fn has(&self, option: CaptureOption) -> bool {
        self.options.contains(&option)
    }
}

impl Target {
    fn decode(target: &Section<'_>) -> Result<Self, InputError> {
        let altitude = |key| target.quantity(key, Dimension::Length, APOAPSIS_ALTITUDE_M);
        let decoded = Self {
            periapsis_m: altitude("periapsis_altitude")?,
            apoapsis_m: altitude("apoapsis_altitude")?,
            tolerance_m: target
                .optional_quantity("tolerance", Dimension::Length, Bound::between(1.0, 1e9))?
                .unwrap_or(25e3),
        };
        if decoded.apoapsis_m < decoded.periapsis_m {
            return Err(target
                .error_at("apoapsis_altitude", "the apoapsis is below the periapsis")
                .with_help("swap the two"));
        }
        Ok(decoded)
    }
}

impl Default for Burns {
    fn default() -> Self {
        Self {
            against_velocity: false,
            count: None,
            accepted_loss: 0.02,
            longest_s: 120.0 * 86_400.0,
            size_sigma: 0.005,
            pointing_sigma_rad: 0.3_f64.to_radians(),
        }
    }
}

impl Burns {
    fn decode(burns: Option<Section<'_>>) -> Result<Self, InputError> {
        let default = Self::default();
        let Some(burns) = burns else {
            return Ok(default);
        };
        let share =
            |key, most| burns.optional_quantity(key, Dimension::Ratio, Bound::between(0.0, most));
        let decoded = Self {
            against_velocity: match burns.optional_text("attitude")? {
                None | Some("fixed") => false,
                Some("against_velocity") => true,
                Some(other) => {
                    return Err(burns
                        .error_at("attitude", format!("`{other}` is no attitude of a burn"))
                        .with_help("write `fixed` or `against_velocity`"));
                }
            },
            count: small(burns.optional_integer("count", 1..=u64::from(MOST_BURNS))?),
            accepted_loss: share("accepted_loss", 1.0)?.unwrap_or(default.accepted_loss),
            longest_s: burns
                .optional_quantity("longest", Dimension::Time, Bound::between(1.0, 1e10))?
                .unwrap_or(default.longest_s),
            size_sigma: share("size_error", 0.3)?.unwrap_or(default.size_sigma),
            pointing_sigma_rad: burns
                .optional_quantity(
                    "pointing_error",
                    Dimension::Angle,
                    Bound::between(0.0, 0.25 * FRAC_PI_2),
                )?
                .unwrap_or(default.pointing_sigma_rad),
        };
        burns.finish()?;
        Ok(decoded)
    }
}

fn decode_options(capture: &Section<'_>) -> Result<Vec<CaptureOption>, InputError> {
    let mut options = Vec::new();
    for node in capture.optional_list("options")? {
        let written = node.text()?;
        let found = CaptureOption::ALL.iter().find(|(_, key)| *key == written);
        let Some(&(option, _)) = found else {
            let keys = CaptureOption::ALL.map(|(_, key)| key);
            return Err(node
                .error(format!("`{written}` is no way to be captured"))
                .with_help(format!("known: {}", keys.join(", "))));
        };
        if options.contains(&option) {
            return Err(node.error(format!("`{written}` is already in the list")));
        }
        options.push(option);
    }
    if options.is_empty() {
        options.extend([
            CaptureOption::Engine,
            CaptureOption::Air,
            CaptureOption::BurnThenAir,
        ]);
    }
    Ok(options)
}

fn decode_moons(capture: &Section<'_>) -> Result<Vec<String>, InputError> {
    let mut moons: Vec<String> = Vec::new();
    for node in capture.optional_list("moons")? {
        let name = node.text()?.trim().to_owned();
        if moons.contains(&name) {
            return Err(node.error(format!("`{name}` is already in the list")));
        }
        moons.push(name);
    }
    Ok(moons)
}

fn decode_alternatives(capture: &Section<'_>) -> Result<Vec<Alternative>, InputError> {
    let mut all: Vec<Alternative> = Vec::new();
    for one in capture.optional_sections("alternatives")? {
        let decoded = Alternative {
            name: one.text("name")?.trim().to_owned(),
            excess_speed_m_s: one.quantity("excess_speed", Dimension::Speed, EXCESS_SPEED_M_S)?,
            extra_time_s: one
                .optional_quantity("extra_time", Dimension::Time, Bound::between(-1e10, 1e10))?
                .unwrap_or(0.0),
            extra_propellant_kg: one
                .optional_quantity(
                    "extra_propellant",
                    Dimension::Mass,
                    Bound::between(0.0, 1e9),
                )?
                .unwrap_or(0.0),
        };
        if all.iter().any(|other| other.name == decoded.name) {
            return Err(one.error_at("name", "another arrival has this name already"));
        }
        if all.len() == MOST_ALTERNATIVES {
            return Err(one.error(format!(
                "`alternatives` takes at most {MOST_ALTERNATIVES} arrivals"
            )));
        }
        one.finish()?;
        all.push(decoded);
    }
    Ok(all)
}

/// A whole number that was checked to be small.
fn small(number: Option<u64>) -> Option<u32> {
    number.and_then(|number| u32::try_from(number).ok())
}
