//! Limits with a name: the curves of level against duration that are published for people in seats,
//! and the gentle levels of ground transport. Each is a choice of the user's; none is a default.

use super::limit_curve::{CurveError, LimitCurve};
use super::people::SeatAxis;
use super::validity::Known;

/// A published curve of level against duration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NamedCurve {
    /// The name a scenario uses.
    pub name: &'static str,
    /// Who it is for.
    pub crew: &'static str,
    /// The axis it holds for.
    pub axis: SeatAxis,
    /// Duration, s, and level, g.
    pub points: &'static [(f64, f64)],
    /// The source, with its clause.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

const STANDARD: &str = "NASA-STD-3001 Vol 2 Rev F, Table 6.5-1 \"Ax Sustained Translational Acceleration Limits (Seated)\", [V2 6064]";
const MEMORANDUM: &str = "NASA TM-104753 (Kumar & Norfleet 1992), Table 3 p. 24";

/// The curves there are. All published, read in a copy; all for +Gx. The standard draws curves
/// between its points: straight lines in log-log are taken here.
pub const NAMED_CURVES: &[NamedCurve] = &[
    NamedCurve {
        name: "nasa-std-3001-deconditioned",
        crew: "crew returning from weightlessness",
        axis: SeatAxis::PlusX,
        points: &[
            (0.5, 14.0),
            (10.0, 10.0),
            (30.0, 8.0),
            (50.0, 6.3),
            (90.0, 5.0),
            (120.0, 4.3),
            (150.0, 4.0),
            // "150 s and longer".
            (1e9, 4.0),
        ],
        source: STANDARD,
        known: Known::Published,
    },
    NamedCurve {
        name: "nasa-std-3001-non-deconditioned",
        crew: "crew used to weight",
        axis: SeatAxis::PlusX,
        points: &[(0.5, 19.0), (5.0, 16.0), (300.0, 7.5)],
        source: STANDARD,
        known: Known::Published,
    },
    NamedCurve {
        name: "nasa-std-3001-emergency",
        crew: "crew in an emergency (launch abort or emergency entry)",
        axis: SeatAxis::PlusX,
        points: &[(0.5, 38.0), (120.0, 8.8), (300.0, 7.5), (1200.0, 5.0)],
        source: STANDARD,
        known: Known::Published,
    },
    NamedCurve {
        name: "nasa-tm-104753-normal",
        crew: "crew used to weight",
        axis: SeatAxis::PlusX,
        points: &[(0.2, 20.0), (5.0, 16.0), (300.0, 8.0)],
        source: MEMORANDUM,
        known: Known::Published,
    },
    NamedCurve {
        name: "nasa-tm-104753-deconditioned",
        crew: "crew returning from weightlessness",
        axis: SeatAxis::PlusX,
        // The last printed as "less than 2.5 min".
        points: &[(0.2, 15.0), (5.0, 12.0), (150.0, 8.0)],
        source: MEMORANDUM,
        known: Known::Published,
    },
];

impl NamedCurve {
    /// The curve with this name.
    ///
    /// # Errors
    /// [`CurveError::Unknown`] lists the names there are.
    pub fn find(name: &str) -> Result<&'static Self, CurveError> {
        NAMED_CURVES
            .iter()
            .find(|curve| curve.name == name)
            .ok_or_else(|| {
                let curves = NAMED_CURVES.iter().map(|curve| curve.name);
                let names: Vec<_> = curves
                    .chain(COMFORT_LEVELS.iter().map(|level| level.name))
                    .collect();
                CurveError::Unknown {
                    name: name.to_owned(),
                    known: names.join(", "),
                }
            })
    }

    /// The curve as it is used.
    #[must_use]
    pub fn curve(&self) -> LimitCurve {
        LimitCurve::named(self)
    }

    /// This curve, for a person whose sensed acceleration also acts along `axis`.
    ///
    /// # Errors
    /// [`CurveError::NoCurve`] for every axis but the curve's own: limits for the others are published,
    /// but not held here, and must be the user's numbers.
    pub fn along(&self, axis: SeatAxis) -> Result<LimitCurve, CurveError> {
        if axis == self.axis {
            Ok(self.curve())
        } else {
            Err(CurveError::NoCurve { axis })
        }
    }
}

/// A level that passengers of ground transport are given without complaint, for any duration. Meant
/// for untrained people; a choice, not a medical limit. ISO 2631-1 is about vibration and not here.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ComfortLevel {
    /// The name a scenario uses.
    pub name: &'static str,
    /// Who it is for, and in which direction.
    pub people: &'static str,
    /// Sustained level, g.
    pub level_g: f64,
    /// Rate of change, g/s, where the source has one.
    pub jerk_g_s: Option<f64>,
    /// The source.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

const ASCE: &str = "ASCE 21 Automated People Mover Standards, ride-quality table";
const HOBEROCK: &str = "L. L. Hoberock, A survey of longitudinal acceleration comfort studies in ground transportation vehicles, Univ. Texas CATS RR-40 (1976)";

const fn comfort(
    name: &'static str,
    people: &'static str,
    (level_g, jerk_g_s): (f64, Option<f64>),
    source: &'static str,
) -> ComfortLevel {
    ComfortLevel {
        name,
        people,
        level_g,
        jerk_g_s,
        source,
        known: Known::FromMemory,
    }
}

/// The comfort levels there are, all from memory of their sources.
pub const COMFORT_LEVELS: &[ComfortLevel] = &[
    comfort(
        "asce-21-seated",
        "seated, longitudinal",
        (0.35, Some(0.25)),
        ASCE,
    ),
    comfort(
        "asce-21-standing",
        "standing, longitudinal",
        (0.16, Some(0.1)),
        ASCE,
    ),
    comfort(
        "asce-21-emergency-seated",
        "seated, emergency braking",
        (0.6, None),
        ASCE,
    ),
    comfort(
        "asce-21-emergency-standing",
        "standing, emergency braking",
        (0.32, None),
        ASCE,
    ),
    comfort(
        "asce-21-lateral-seated",
        "seated, lateral",
        (0.25, None),
        ASCE,
    ),
    comfort(
        "asce-21-lateral-standing",
        "standing, lateral",
        (0.1, None),
        ASCE,
    ),
    comfort(
        "hoberock-low",
        "public transport, low end of the band",
        (0.11, Some(0.3)),
        HOBEROCK,
    ),
    comfort(
        "hoberock-high",
        "public transport, high end of the band",
        (0.15, Some(0.3)),
        HOBEROCK,
    ),
];

impl ComfortLevel {
    /// Whether the level is of lateral movement; the others are along the vehicle.
    fn is_lateral(&self) -> bool {
        self.people.contains("lateral")
    }

    /// The level as a curve along an axis: it may not be passed for any time. Levels along the vehicle hold for
    /// +Gx and -Gx (people of a vehicle face either way), lateral ones for +Gy and -Gy.
    ///
    /// # Errors
    /// [`CurveError::NoCurve`] for another axis.
    pub fn along(&self, axis: SeatAxis) -> Result<LimitCurve, CurveError> {
        let holds = match axis {
            SeatAxis::PlusX | SeatAxis::MinusX => !self.is_lateral(),
            SeatAxis::PlusY | SeatAxis::MinusY => self.is_lateral(),
            SeatAxis::PlusZ | SeatAxis::MinusZ => false,
        };
        if !holds {
            return Err(CurveError::NoCurve { axis });
        }
        LimitCurve::own(axis, &[(1.0, self.level_g)], self.source)
    }

    /// The level with this name.
    ///
    /// # Errors
    /// [`CurveError::Unknown`] lists the names there are.
    pub fn find(name: &str) -> Result<&'static Self, CurveError> {
        COMFORT_LEVELS
            .iter()
            .find(|level| level.name == name)
            .ok_or_else(|| {
                let names: Vec<_> = COMFORT_LEVELS.iter().map(|level| level.name).collect();
                CurveError::Unknown {
                    name: name.to_owned(),
                    known: names.join(", "),
                }
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published values (read in a copy of the standard), as they stand in the file of reference.
    #[test]
    fn curves_are_those_of_the_file_of_published_limits() {
        let rows = include_str!("../../tests/reference/accel_limits.csv");
        let mut found = 0;
        for (state, name) in [
            ("emergency", "nasa-std-3001-emergency"),
            ("non-deconditioned", "nasa-std-3001-non-deconditioned"),
            ("deconditioned", "nasa-std-3001-deconditioned"),
            ("normal plateau", "nasa-tm-104753-normal"),
            ("normal sustained", "nasa-tm-104753-normal"),
            ("deconditioned plateau", "nasa-tm-104753-deconditioned"),
            ("deconditioned sustained", "nasa-tm-104753-deconditioned"),
        ] {
            let named = NamedCurve::find(name).unwrap();
            let report = if name.contains("std") {
                "NASA-STD-3001v2F"
            } else {
                "NASA TM-104753"
            };
            let start = format!("{report},+Gx,{state},");
            for row in rows.lines().filter_map(|row| row.strip_prefix(&start)) {
                let mut fields = row.split(',');
                let mut number = || fields.next().unwrap().parse::<f64>().unwrap();
                let point = (number(), number());
                assert!(named.points.contains(&point), "{name} {point:?}");
                assert_eq!(fields.next(), Some("published"));
                found += 1;
            }
        }
        for named in NAMED_CURVES {
            assert!(LimitCurve::own(named.axis, named.points, named.source).is_ok());
        }
        let held: usize = NAMED_CURVES.iter().map(|curve| curve.points.len()).sum();
        assert_eq!(found, held);
    }

    #[test]
    fn comfort_levels_are_those_of_the_file() {
        let rows = include_str!("../../tests/reference/accel_limits.csv");
        for level in COMFORT_LEVELS {
            let source = if level.name.starts_with("asce") {
                "ASCE 21 APM"
            } else {
                "Hoberock 1976"
            };
            let mut same = rows.lines().filter(|row| row.starts_with(source));
            assert!(same.any(|row| row.contains(&format!(",{},memory,", level.level_g))));
            assert_eq!(level.known, Known::FromMemory);
        }
        assert_eq!(
            ComfortLevel::find("asce-21-seated").unwrap().jerk_g_s,
            Some(0.25)
        );
    }

    #[test]
    fn an_axis_without_a_curve_asks_for_the_user_s_numbers() {
        let named = NamedCurve::find("nasa-std-3001-deconditioned").unwrap();
        for axis in SeatAxis::ALL {
            match named.along(axis) {
                Ok(curve) => assert_eq!((axis, curve.known()), (SeatAxis::PlusX, Known::Published)),
                Err(error) => assert_eq!(
                    error.to_string(),
                    format!(
                        "no published limit is held for {}: give your own durations and levels for it",
                        axis.symbol()
                    )
                ),
            }
        }
    }

    #[test]
    fn unknown_names_are_answered_with_the_known_ones() {
        let error = NamedCurve::find("nasa").unwrap_err().to_string();
        assert!(error.contains("`nasa`") && error.contains("nasa-std-3001-emergency"));
        assert!(ComfortLevel::find("soft").is_err());
    }
}
