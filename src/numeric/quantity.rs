//! What a pass is told by, each quantity said once: its key in files, its name, its unit, its digits, its meaning.
//! Values are SI until they are written; what a flown pass has of each is left to `pass`.

use super::dimension::Dimension;

/// A unit in which people and files have values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// One of it in SI.
    pub si: f64,
    /// As people read it: `W/cm²`; empty for a bare number.
    pub shown: &'static str,
    /// As a scenario writes it: `W/cm2`.
    pub written: &'static str,
    /// As it ends the name of a column: `w_cm2`.
    pub suffix: &'static str,
}

const fn unit(
    si: f64,
    (shown, written): (&'static str, &'static str),
    suffix: &'static str,
) -> Unit {
    Unit {
        si,
        shown,
        written,
        suffix,
    }
}

/// Standard gravity, m/s² (3rd CGPM, 1901; exact).
const G0: f64 = 9.806_65;

impl Unit {
    /// A bare number.
    pub const NONE: Self = unit(1.0, ("", ""), "");
    /// Metre.
    pub const M: Self = unit(1.0, ("m", "m"), "m");
    /// Kilometre.
    pub const KM: Self = unit(1e3, ("km", "km"), "km");
    /// Square metre.
    pub const M2: Self = unit(1.0, ("m²", "m2"), "m2");
    /// Metre per second.
    pub const M_S: Self = unit(1.0, ("m/s", "m/s"), "m_s");
    /// Kilometre per second.
    pub const KM_S: Self = unit(1e3, ("km/s", "km/s"), "km_s");
    /// Standard gravity.
    pub const G: Self = unit(G0, ("g", "g"), "g");
    /// Standard gravity per second.
    pub const G_S: Self = unit(G0, ("g/s", "g/s"), "g_s");
    /// Watt per square centimetre.
    pub const W_CM2: Self = unit(1e4, ("W/cm²", "W/cm2"), "w_cm2");
    /// Joule per square centimetre.
    pub const J_CM2: Self = unit(1e4, ("J/cm²", "J/cm2"), "j_cm2");
    /// Kilopascal.
    pub const KPA: Self = unit(1e3, ("kPa", "kPa"), "kpa");
    /// Second.
    pub const S: Self = unit(1.0, ("s", "s"), "s");
    /// Degree.
    pub const DEG: Self = unit(std::f64::consts::PI / 180.0, ("deg", "deg"), "deg");
    /// Kilogram.
    pub const KG: Self = unit(1.0, ("kg", "kg"), "kg");
    /// Kilogram per cubic metre.
    pub const KG_M3: Self = unit(1.0, ("kg/m³", "kg/m3"), "kg_m3");
    /// Per cent.
    pub const PERCENT: Self = unit(1e-2, ("%", "%"), "percent");

    /// How many of it are one SI unit.
    #[must_use]
    pub fn per_si(&self) -> f64 {
        1.0 / self.si
    }

    /// An SI value in this unit.
    #[must_use]
    pub fn of(&self, si: f64) -> f64 {
        si / self.si
    }
}

/// A quantity of one pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quantity {
    /// Peak sensed deceleration.
    PeakDeceleration,
    /// Onset of deceleration.
    Onset,
    /// Peak stagnation heat flux.
    PeakHeatFlux,
    /// Stagnation heat load.
    HeatLoad,
    /// Peak dynamic pressure.
    PeakDynamicPressure,
    /// Lowest altitude.
    LowestAltitude,
    /// Work of drag as a speed, of the passes that leave the air again.
    SpeedLost,
    /// Apoapsis altitude of a captured pass.
    ApoapsisAltitude,
    /// Longest continuous stay above a level of deceleration.
    LongestStay,
    /// All time above a level of deceleration.
    TotalAbove,
    /// Level of deceleration over the one that people may be given for as long.
    PeopleShare,
    /// Peak heat flux of a spot of the ship.
    SpotHeatFlux,
}

/// What is said of a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facts {
    /// Key with the unit as it stands in files; of several alike `{n}` stands for the number, from 1.
    pub key: &'static str,
    /// Name for people.
    pub name: &'static str,
    /// What it measures: which units a scenario may write it in.
    pub dimension: Dimension,
    /// The unit it is shown in.
    pub unit: Unit,
    /// Significant digits of an allowed value.
    pub digits: usize,
    /// What it means.
    pub meaning: &'static str,
}

impl Quantity {
    /// Those that every pass has, described over samples, in the order in which they are shown.
    pub const ALL: [Self; 8] = [
        Self::PeakDeceleration,
        Self::Onset,
        Self::PeakHeatFlux,
        Self::HeatLoad,
        Self::PeakDynamicPressure,
        Self::LowestAltitude,
        Self::SpeedLost,
        Self::ApoapsisAltitude,
    ];

    /// Those that are times above a level of deceleration, of which a pass may have several.
    pub const ABOVE_LEVELS: [Self; 2] = [Self::LongestStay, Self::TotalAbove];

    /// What is said of it.
    #[must_use]
    pub const fn facts(self) -> &'static Facts {
        match self {
            Self::PeakDeceleration => &Facts {
                key: "peak_deceleration_g",
                name: "peak deceleration",
                dimension: Dimension::Acceleration,
                unit: Unit::G,
                digits: 4,
                meaning: "highest aerodynamic acceleration: what a passenger feels, without gravity",
            },
            Self::Onset => &Facts {
                key: "onset_g_s",
                name: "onset",
                dimension: Dimension::AccelerationRate,
                unit: Unit::G_S,
                digits: 4,
                meaning: "highest rate at which the sensed deceleration rises",
            },
            Self::PeakHeatFlux => &Facts {
                key: "peak_heat_flux_w_cm2",
                name: "peak heat flux",
                dimension: Dimension::HeatFlux,
                unit: Unit::W_CM2,
                digits: 4,
                meaning: "highest heat flux at the stagnation point",
            },
            Self::HeatLoad => &Facts {
                key: "heat_load_j_cm2",
                name: "heat load",
                dimension: Dimension::HeatLoad,
                unit: Unit::J_CM2,
                digits: 5,
                meaning: "heat flux at the stagnation point summed over the pass",
            },
            Self::PeakDynamicPressure => &Facts {
                key: "peak_dynamic_pressure_kpa",
                name: "peak dynamic pressure",
                dimension: Dimension::Pressure,
                unit: Unit::KPA,
                digits: 4,
                meaning: "highest dynamic pressure of the stream",
            },
            Self::LowestAltitude => &Facts {
                key: "lowest_altitude_km",
                name: "lowest altitude",
                dimension: Dimension::Length,
                unit: Unit::KM,
                digits: 5,
                meaning: "lowest altitude above the ellipsoid",
            },
            Self::SpeedLost => &Facts {
                key: "speed_lost_m_s",
                name: "speed lost to air",
                dimension: Dimension::Speed,
                unit: Unit::M_S,
                digits: 4,
                meaning: "work of drag as a speed, of passes that leave the air again",
            },
            Self::ApoapsisAltitude => &Facts {
                key: "apoapsis_altitude_km",
                name: "apoapsis altitude",
                dimension: Dimension::Length,
                unit: Unit::KM,
                digits: 6,
                meaning: "altitude of the next apoapsis above the equatorial radius, of captured passes",
            },
            Self::LongestStay => &Facts {
                key: "longest_stay_{n}_s",
                name: "longest stay above a level",
                dimension: Dimension::Time,
                unit: Unit::S,
                digits: 4,
                meaning: "longest time without a break for which the sensed deceleration is above a level",
            },
            Self::TotalAbove => &Facts {
                key: "total_time_above_{n}_s",
                name: "total time above a level",
                dimension: Dimension::Time,
                unit: Unit::S,
                digits: 4,
                meaning: "all time of a pass for which the sensed deceleration is above a level, every stay added up",
            },
            Self::PeopleShare => &Facts {
                key: "people_share_of_curve",
                name: "share of people's curve",
                dimension: Dimension::Ratio,
                unit: Unit::PERCENT,
                digits: 4,
                meaning: "the highest ratio of a level of deceleration to the one that people may be given for as long",
            },
            Self::SpotHeatFlux => &Facts {
                key: "peak_heat_flux_of_spot_{n}_w_cm2",
                name: "peak heat flux of a spot",
                dimension: Dimension::HeatFlux,
                unit: Unit::W_CM2,
                digits: 4,
                meaning: "highest heat flux at a named place of the ship",
            },
        }
    }

    /// Key with the unit; of several alike with the number of this one, from 1.
    #[must_use]
    pub fn numbered_key(self, number: usize) -> String {
        self.facts().key.replace("{n}", &number.to_string())
    }

    /// Key with the unit.
    #[must_use]
    pub fn key(self) -> &'static str {
        self.facts().key
    }

    /// Name and unit for people.
    #[must_use]
    pub fn label(self) -> (&'static str, &'static str) {
        (self.facts().name, self.facts().unit.shown)
    }

    /// The unit it is shown in.
    #[must_use]
    pub fn unit(self) -> &'static Unit {
        &self.facts().unit
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::units::parse_quantity;

    /// A unit is the one that a scenario reads under the same name, and its key in files ends in it.
    #[test]
    fn units_are_those_that_a_scenario_reads() {
        let more = Quantity::ABOVE_LEVELS.into_iter();
        for quantity in Quantity::ALL.into_iter().chain(more) {
            let facts = quantity.facts();
            let one = parse_quantity(&format!("1 {}", facts.unit.written), facts.dimension);
            assert_eq!(one, Ok(facts.unit.si), "{}", facts.key);
            assert!(
                facts.key.ends_with(&format!("_{}", facts.unit.suffix)),
                "{}",
                facts.key
            );
        }
    }

    /// What was written with a factor keeps its bits: the quotient of one and the unit is the factor itself.
    #[test]
    #[expect(clippy::float_cmp, reason = "the same bits are meant")]
    fn factors_are_exact() {
        for (unit, factor) in [
            (Unit::KM, 1e-3),
            (Unit::W_CM2, 1e-4),
            (Unit::PERCENT, 100.0),
            (Unit::DEG, 180.0 / std::f64::consts::PI),
            (Unit::G, 1.0 / 9.806_65),
        ] {
            assert_eq!(unit.per_si(), factor, "{}", unit.shown);
        }
    }
}
