//! What the sources of the models cover of a flight, limit by limit: in go the models and how far a flight went, out
//! come the parts that no source has and what bounds them. Which flights are looked at is left to the studies.

use super::limits::{LimitKind, LimitSet};
use super::problem::Numbers;
use super::reach::{Braking, Place, Reach};
use crate::craft::ShipModels;
use crate::craft::aero_csv::read_aero_table;
use crate::craft::aero_table::{AeroPoint, AeroTable};
use crate::craft::radiative::TauberSutton;
use crate::craft::validity::Departure;
use crate::numeric::Real;
use crate::numeric::units::{Dimension, show_quantity};
use crate::pass::PassResult;
use crate::scenario::Scenario;
use crate::scenario::aerodynamics::{AeroForm, Radiative};
use crate::scenario::uncertainty::Number;
use crate::world::{Radiation, World};

/// How far beyond the end of a source a quantity may lie before its model counts as outside, as a ratio.
/// Choices of this project; they stand in the README.
mod margin {
    /// Nose radius, pressure and enthalpy.
    pub(super) const PLAIN: f64 = 1.1;
    /// Speed: that of an enthalpy 10 % higher.
    pub(super) const SPEED: f64 = 1.05;
    /// Density of the radiative correlation, and Knudsen numbers of a table.
    pub(super) const DENSITY: f64 = 2.0;
    /// Mach numbers: far above the speed of sound coefficients hardly go with them.
    pub(super) const MACH: f64 = 1.25;
    /// Angle of attack, rad: a degree.
    pub(super) const ANGLE_RAD: f64 = std::f64::consts::PI / 180.0;
    /// Air beyond the rows of its source: one scale height, as a difference of log density.
    pub(super) const LN_DENSITY: f64 = 1.0;
}
/// Highest stagnation enthalpy (J/kg) and pressure (Pa) of the convective correlation (Sutton & Graves, NASA TR R-376,
/// 1971, published). Below its range it errs on the safe side: it leaves out the enthalpy of the wall, and thin air is
/// bridged or has less heat than it gives.
const CONVECTIVE: (f64, f64) = (116.2e6, 100.0 * 101_325.0);
/// Mach number above which Newton's rule is for (common practice).
const NEWTONIAN_MACH: f64 = 5.0;
/// Knudsen numbers below the first and above the second do not change coefficients: continuum, free molecules.
const STILL_KNUDSEN: (f64, f64) = (1e-3, 10.0);

/// A model of which a flight may ask more than its source has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Model {
    /// Heat that the gas in front of the ship radiates.
    Radiation,
    /// Convective heat at the stagnation point.
    Convection,
    /// Drag and lift coefficients.
    Coefficients,
    /// The air of the world.
    Air,
    /// The flight itself: none could be looked at.
    Flight,
}

/// The most that an uncovered part adds.
#[derive(Debug, Clone, PartialEq)]
pub struct Bound {
    /// Share of the value that is flown, 0 or more.
    pub share: f64,
    /// What is bounded and by whom, in words.
    pub source: String,
}

/// A part of a flight that no source has.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// The model.
    pub model: Model,
    /// What is outside, in words.
    pub why: String,
    /// What bounds it, if anything does.
    pub bound: Option<Bound>,
    /// Whether it is met where the peaks are made, or only in the rest of the flight.
    pub at_the_peak: bool,
}

impl Gap {
    /// Nothing can be said of what is covered: no flight could be looked at.
    #[must_use]
    pub fn unknown(why: String) -> Self {
        Self {
            model: Model::Flight,
            why,
            bound: None,
            at_the_peak: true,
        }
    }

    /// Whether it could change the verdict of a limit of this kind.
    fn touches(&self, kind: LimitKind) -> bool {
        let spec = kind.spec();
        match self.model {
            Model::Radiation | Model::Convection => spec.of_heat,
            Model::Coefficients | Model::Air => self.at_the_peak || !spec.made_at_the_peak,
            Model::Flight => true,
        }
    }
}

/// What the sources have of a limit.
#[derive(Debug, Clone, PartialEq)]
pub enum Coverage {
    /// Everything that counts.
    Whole,
    /// All but a part that is bounded.
    Within(Bound),
    /// Not all, and nothing bounds the rest; why, in words.
    Not(String),
}

impl Coverage {
    /// How many times its value a limit could reach with the uncovered part; infinite where nothing bounds it.
    #[must_use]
    pub fn factor(&self) -> f64 {
        match self {
            Self::Whole => 1.0,
            Self::Within(bound) => 1.0 + bound.share,
            Self::Not(_) => f64::INFINITY,
        }
    }
}

/// What a limit of this kind is covered by, with these gaps in the flights.
#[must_use]
pub fn coverage(gaps: &[Gap], kind: LimitKind) -> Coverage {
    let touching: Vec<&Gap> = gaps.iter().filter(|gap| gap.touches(kind)).collect();
    let open = touching.iter().filter(|gap| gap.bound.is_none());
    let mut why: Vec<&str> = open.map(|gap| gap.why.as_str()).collect();
    why.dedup();
    if !why.is_empty() {
        return Coverage::Not(why.join("; "));
    }
    let bounds = touching.iter().filter_map(|gap| gap.bound.as_ref());
    match bounds.max_by(|a, b| a.share.total_cmp(&b.share)) {
        Some(bound) => Coverage::Within(bound.clone()),
        None => Coverage::Whole,
    }
}

/// One bit for each limit that a pass holds as flown but could break with what is not covered: `coverages` are those
/// of the limits in order, `numbers` those of its sample, `broken` the limits that it breaks as flown.
#[must_use]
pub fn uncovered(
    limits: &LimitSet,
    coverages: &[Coverage],
    (pass, numbers, broken): (&PassResult, &Numbers, u32),
) -> u32 {
    let mut mask = 0;
    for (bit, (limit, coverage)) in limits.entries().iter().zip(coverages).enumerate() {
        let could = match coverage {
            Coverage::Whole => false,
            Coverage::Not(_) => true,
            Coverage::Within(_) => limits
                .heat(limit, pass, numbers)
                .is_none_or(|(value, allowed)| !(value * coverage.factor() <= allowed)),
        };
        if could && broken >> bit & 1 == 0 {
            mask |= 1 << bit;
        }
    }
    mask
}

/// What the sources of a scenario's models have.
#[derive(Debug, Clone)]
pub struct Sources {
    world: String,
    radiation: Option<Radiation>,
    /// Altitudes between which the source has the air, m, and ln of density (kg/m³) there.
    air: [(f64, f64); 2],
    radiative: Radiative,
    own_bound: Option<Bound>,
    coefficients: Coefficients,
}

/// Where the coefficients of a ship come from, as far as that has an end.
#[derive(Debug, Clone)]
enum Coefficients {
    /// Constants: the user's own for the whole flight.
    Constant,
    /// Newton's rule for a shape.
    Shape,
    /// A table, flown between these angles of attack (rad).
    Table(Box<AeroTable>, [f64; 2]),
}

impl Sources {
    /// The sources of a scenario and its world.
    #[must_use]
    pub fn new(scenario: &Scenario, world: &World) -> Self {
        let (ship, uncertainty) = (&scenario.ship, &scenario.uncertainty);
        let coefficients = match ship.aerodynamics.as_ref().map(|spec| &spec.form) {
            None | Some(AeroForm::Constant) => Coefficients::Constant,
            Some(AeroForm::Shape(_)) => Coefficients::Shape,
            // A table that cannot be read is refused where the ship is made ready to fly.
            Some(AeroForm::Table { text, .. }) => match read_aero_table(text) {
                Ok(table) => {
                    let mut uncertain = uncertainty.numbers.iter();
                    let trim = uncertain.find(|one| one.number == Number::TrimAngle);
                    let span = trim.map_or(0.0, |one| 3.0 * one.distribution.std_dev());
                    let trim = ship.trim_angle_rad;
                    Coefficients::Table(Box::new(table), [trim - span, trim + span])
                }
                Err(_) => Coefficients::Constant,
            },
        };
        let (from_m, to_m) = world.sourced_m();
        let end = |altitude_m: f64| (altitude_m, world.air().lookup(altitude_m).ln_density);
        Self {
            world: world.body().name.clone(),
            radiation: world.radiation().cloned(),
            air: [end(from_m), end(to_m)],
            radiative: ship.heating.radiative,
            own_bound: ship.heating.radiation_bound.as_ref().map(|bound| Bound {
                share: bound.share,
                source: format!("by the scenario: {}", bound.source),
            }),
            coefficients,
        }
    }

    /// The parts of a flight that they do not have; `ship` is what it was flown with.
    #[must_use]
    pub fn gaps(&self, reach: &Reach, ship: &ShipModels) -> Vec<Gap> {
        let mut gaps: Vec<Gap> = [self.radiation(reach, ship), convection(reach)]
            .into_iter()
            .flatten()
            .collect();
        for (at_the_peak, braking) in [(true, &reach.near), (false, &reach.whole)] {
            let found = [
                (Model::Coefficients, self.coefficients(braking, ship)),
                (Model::Air, self.air(braking)),
            ];
            for (model, why) in found {
                let known = gaps.iter().any(|gap| gap.model == model);
                if let (Some(why), false) = (why, known) {
                    gaps.push(Gap {
                        model,
                        why,
                        bound: None,
                        at_the_peak,
                    });
                }
            }
        }
        gaps
    }

    /// Radiation that is not flown, or outside the range of what it is flown with.
    fn radiation(&self, reach: &Reach, ship: &ShipModels) -> Option<Gap> {
        let own = self.own_bound.clone();
        let of_world = || {
            let bound = self.radiation.as_ref()?.bound.as_ref()?;
            Some(Bound {
                share: bound.share,
                source: format!("{}: {}", bound.source.known.words(), bound.source.text),
            })
        };
        let (why, bound) = match self.why_no_radiation(reach, ship) {
            Some(why) => (why, own),
            None => ("radiation below the onset is not flown".to_owned(), {
                Some(own.or_else(of_world)?)
            }),
        };
        Some(Gap {
            model: Model::Radiation,
            why,
            bound,
            at_the_peak: true,
        })
    }

    /// Why the radiation of this flight is not covered; `None` where the gas does not radiate yet, or as a source has
    /// it.
    fn why_no_radiation(&self, reach: &Reach, ship: &ShipModels) -> Option<String> {
        let (name, fast) = (&self.world, reach.fastest_m_s);
        let Some(stated) = &self.radiation else {
            return Some(format!(
                "the world file of {name} does not say from which speed its gas radiates (a block `radiation` does)"
            ));
        };
        let onset_m_s = stated.onset_m_s?;
        let radiates = || {
            format!(
                "at {} against the air the gas of {name} radiates (from {} on, {})",
                speed(fast),
                speed(onset_m_s),
                stated.source.known.words()
            )
        };
        match &ship.radiative {
            // What it is flown with begins at a higher speed than the world states.
            Some(model) if (onset_m_s..model.slowest_m_s()).contains(&reach.hottest_m_s) => {
                Some(format!(
                    "{}, and its correlation begins at {}",
                    radiates(),
                    speed(model.slowest_m_s())
                ))
            }
            Some(model) => outside_radiation(model, reach.brightest.as_ref()?),
            None if fast < onset_m_s => None,
            None if self.radiative == Radiative::LeftOut => Some(format!(
                "{}, and `heating.radiative: no` leaves that heat out",
                radiates()
            )),
            None => Some(format!(
                "{}, and no correlation for it is flown",
                radiates()
            )),
        }
    }

    /// What of the braking lies outside the table of coefficients, or the rule for a shape.
    fn coefficients(&self, braking: &Braking, ship: &ShipModels) -> Option<String> {
        let (table, angles) = match &self.coefficients {
            Coefficients::Constant => return None,
            Coefficients::Shape => {
                let slow = braking.mach.low * margin::MACH < NEWTONIAN_MACH;
                return slow.then(|| {
                    format!(
                        "it is braked at Mach {:.1}, and Newton's rule for its shape is for Mach {NEWTONIAN_MACH} and \
                         more",
                        braking.mach.low
                    )
                });
            }
            Coefficients::Table(table, angles) => (table, *angles),
        };
        let ln_knudsen_density = ship.aerodynamics.as_ref()?.ln_knudsen_density;
        let knudsen = |ln_density: f64| Real::exp(ln_knudsen_density - ln_density);
        let (mach, density) = (braking.mach, braking.ln_density);
        let corners = [
            (angles[0], mach.low, density.low),
            (angles[1], mach.high, density.high),
        ];
        let mut outside: Vec<String> = Vec::new();
        for (angle_of_attack_rad, mach, ln_density) in corners {
            let point = AeroPoint {
                angle_of_attack_rad,
                mach,
                knudsen: knudsen(ln_density),
            };
            let left = table.at(&point).validity;
            let left = left.departures().iter().filter(|one| leaves_table(one));
            outside.extend(left.map(in_table));
        }
        outside.dedup();
        (!outside.is_empty()).then(|| {
            format!(
                "the flight leaves the table of coefficients: {}",
                outside.join(" and ")
            )
        })
    }

    /// What of the braking lies outside the altitudes that the source of the air has.
    fn air(&self, braking: &Braking) -> Option<String> {
        let [(from_m, thick), (to_m, thin)] = self.air;
        let (altitude_m, ln_density) = (braking.altitude_m, braking.ln_density);
        let (way, altitude_m, end, end_m) =
            if altitude_m.high > to_m && thin - ln_density.low > margin::LN_DENSITY {
                ("up", altitude_m.high, "ends", to_m)
            } else if altitude_m.low < from_m && ln_density.high - thick > margin::LN_DENSITY {
                ("down", altitude_m.low, "begins", from_m)
            } else {
                return None;
            };
        Some(format!(
            "it is braked {way} to {} and the source of the air of {} {end} at {}",
            length(altitude_m),
            self.world,
            length(end_m)
        ))
    }
}

fn outside_radiation(model: &TauberSutton, brightest: &Place) -> Option<String> {
    let Place {
        speed_m_s,
        density_kg_m3,
        nose_radius_m,
    } = *brightest;
    let found = model.at(density_kg_m3, speed_m_s, nose_radius_m).validity;
    let left = found.departures().iter().filter(|departure| {
        let (value, range) = (departure.value, departure.range);
        match range.quantity {
            // Below its stated speeds the source has rows still, down to the first of its table.
            "speed" => value > range.highest * margin::SPEED,
            "density" => ratio(departure) > margin::DENSITY,
            _ => ratio(departure) > margin::PLAIN,
        }
    });
    let words: Vec<String> = left.map(ToString::to_string).collect();
    (!words.is_empty()).then(|| {
        format!(
            "radiation is outside the range of its source: {}",
            words.join("; ")
        )
    })
}

fn convection(reach: &Reach) -> Option<Gap> {
    let (fastest_m_s, pressure_pa) = reach.hot;
    let (enthalpy, pressure) = CONVECTIVE;
    let why = if 0.5 * fastest_m_s * fastest_m_s > margin::PLAIN * enthalpy {
        format!(
            "at {} against the air convective heating is outside its correlation (to 15.2 km/s)",
            speed(fastest_m_s)
        )
    } else if pressure_pa > margin::PLAIN * pressure {
        format!(
            "at a stagnation pressure of {:.0} atm convective heating is outside its correlation (to 100 atm)",
            pressure_pa / 101_325.0
        )
    } else {
        return None;
    };
    Some(Gap {
        model: Model::Convection,
        why,
        bound: None,
        at_the_peak: true,
    })
}

/// How far outside its range a value is, as a ratio; infinite where it is no number.
fn ratio(departure: &Departure) -> f64 {
    let (range, value) = (departure.range, departure.value);
    let found = (value / range.highest).max(range.lowest / value);
    if found.is_nan() { f64::INFINITY } else { found }
}

/// Whether a point lies farther outside a table than its margin.
fn leaves_table(departure: &Departure) -> bool {
    let (range, value) = (departure.range, departure.value);
    let (continuum, free) = STILL_KNUDSEN;
    match range.quantity {
        "Mach number" => ratio(departure) > margin::MACH,
        "Knudsen number" => {
            let still = (value < range.lowest && range.lowest <= continuum * margin::DENSITY)
                || (value > range.highest && range.highest * margin::DENSITY >= free);
            !still && ratio(departure) > margin::DENSITY
        }
        _ => {
            let off = (value - range.highest).max(range.lowest - value);
            !(off <= margin::ANGLE_RAD)
        }
    }
}

/// A departure from a table in words.
fn in_table(departure: &Departure) -> String {
    let (range, value) = (departure.range, departure.value);
    let end = if value > range.highest {
        range.highest
    } else {
        range.lowest
    };
    match range.quantity {
        "Mach number" => format!("Mach {value:.1} beyond its {end}"),
        "Knudsen number" => format!("Knudsen number {value:.2e} beyond its {end:.2e}"),
        _ => format!(
            "{} of {:.2} deg beyond its {:.2} deg",
            range.quantity,
            value.to_degrees(),
            end.to_degrees()
        ),
    }
}

fn speed(m_s: f64) -> String {
    format!("{:.2} km/s", m_s / 1e3)
}

fn length(m: f64) -> String {
    show_quantity((m / 100.0).round() * 100.0, Dimension::Length)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gap(model: Model, share: Option<f64>, at_the_peak: bool) -> Gap {
        Gap {
            model,
            why: format!("{model:?}"),
            bound: share.map(|share| Bound {
                share,
                source: "made up".to_owned(),
            }),
            at_the_peak,
        }
    }

    #[test]
    fn what_nothing_bounds_goes_before_the_widest_bound() {
        let (narrow, wide) = (
            gap(Model::Radiation, Some(0.1), true),
            gap(Model::Radiation, Some(0.5), true),
        );
        let both = [narrow.clone(), wide.clone()];
        assert!((coverage(&both, LimitKind::HeatFlux).factor() - 1.5).abs() < 1e-15);
        assert_eq!(
            coverage(&both, LimitKind::PeakDeceleration),
            Coverage::Whole
        );
        let open = [wide, gap(Model::Convection, None, true)];
        let found = coverage(&open, LimitKind::HeatLoad);
        assert_eq!(found, Coverage::Not("Convection".to_owned()));
        assert!(found.factor().is_infinite());
    }

    #[test]
    fn what_is_met_away_from_the_peaks_touches_orbits_and_stays_alone() {
        let off = [gap(Model::Coefficients, None, false)];
        for (kind, touched) in [
            (LimitKind::PeakDeceleration, false),
            (LimitKind::HeatFlux, false),
            (LimitKind::ComesDown, false),
            (LimitKind::HeatLoad, true),
            (LimitKind::CapturedBelow, true),
            (LimitKind::StayAbove(0), true),
            (LimitKind::People, true),
        ] {
            let found = coverage(&off, kind);
            assert_eq!(matches!(found, Coverage::Not(_)), touched, "{kind:?}");
        }
        let unknown = [Gap::unknown("it failed".to_owned())];
        let found = coverage(&unknown, LimitKind::LeavesAir);
        assert_eq!(found, Coverage::Not("it failed".to_owned()));
    }
}
