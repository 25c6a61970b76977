//! Drag and lift coefficients as a user gives them, against angle of attack, Mach and Knudsen number.
//! `aero_csv` reads them from text, `aero_grid` brings them into the form that is flown.

use super::aero_error::{AeroTableError, Axis, check_axis, check_spacing, check_values};
use super::monotone::Monotone;
use super::validity::{Range, Validity};
use crate::numeric::Real;

/// A table of coefficients on a full grid. An axis with one entry is one the coefficients do not
/// depend on.
#[derive(Debug, Clone, PartialEq)]
pub struct AeroTable {
    angles: Vec<f64>,
    machs: Vec<f64>,
    knudsens: Vec<f64>,
    ln_knudsens: Vec<f64>,
    /// In the order (angle, Mach, Knudsen), the last running fastest.
    drag: Vec<f64>,
    lift: Vec<f64>,
}

/// The numbers of a table; each axis rises strictly.
#[derive(Debug, Clone, PartialEq)]
pub struct AeroNumbers {
    /// Angles of attack, rad.
    pub angles_rad: Vec<f64>,
    /// Mach numbers, 0 to 1e5.
    pub machs: Vec<f64>,
    /// Knudsen numbers, 1e-12 to 1e12.
    pub knudsens: Vec<f64>,
    /// Drag coefficients, above 0 and at most 1e6, in the order (angle, Mach, Knudsen), the last running fastest.
    pub drag: Vec<f64>,
    /// Lift coefficients in the same order.
    pub lift: Vec<f64>,
}

/// What a Mach number of a table may be.
const MACH_RULE: &str = "between 0 and 1e5";
/// What a Knudsen number of a table may be.
const KNUDSEN_RULE: &str = "between 1e-12 and 1e12";

/// Where in a table to look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AeroPoint {
    /// Angle of attack, rad.
    pub angle_of_attack_rad: f64,
    /// Mach number.
    pub mach: f64,
    /// Knudsen number, above 0.
    pub knudsen: f64,
}

/// Coefficients at one point of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct AeroValue {
    /// Drag coefficient.
    pub drag: f64,
    /// Lift coefficient.
    pub lift: f64,
    /// The axes on which the point lay outside the table; the end's value was taken there.
    pub validity: Validity,
}

/// Drag and lift against Mach number at one angle of attack and one Knudsen number.
pub(super) struct MachCurves {
    pub(super) drag: Monotone,
    pub(super) lift: Monotone,
}

impl AeroTable {
    /// Checks a table.
    ///
    /// # Errors
    /// [`AeroTableError`] names the axis or coefficient that is wrong.
    pub fn new(numbers: AeroNumbers) -> Result<Self, AeroTableError> {
        let n = &numbers;
        check_axis(
            Axis::AngleOfAttack,
            &n.angles_rad,
            |a| a.abs() <= std::f64::consts::PI,
            "within ±180 deg",
        )?;
        let (mach, knudsen) = (
            |mach: f64| (0.0..=1e5).contains(&mach),
            |kn: f64| (1e-12..=1e12).contains(&kn),
        );
        check_axis(Axis::Mach, &n.machs, mach, MACH_RULE)?;
        check_axis(Axis::Knudsen, &n.knudsens, knudsen, KNUDSEN_RULE)?;
        let ln_knudsens: Vec<f64> = n.knudsens.iter().map(|kn| Real::ln(*kn)).collect();
        check_spacing(Axis::Mach, &n.machs, &n.machs)?;
        check_spacing(Axis::Knudsen, &n.knudsens, &ln_knudsens)?;
        let expected = n.angles_rad.len() * n.machs.len() * n.knudsens.len();
        let drag = |c: f64| c > 0.0 && c <= 1e6;
        check_values("drag", &n.drag, expected, (drag, "above 0 and at most 1e6"))?;
        let lift = |c: f64| c.abs() <= 1e6;
        check_values("lift", &n.lift, expected, (lift, "within ±1e6"))?;
        Ok(Self {
            ln_knudsens,
            angles: numbers.angles_rad,
            machs: numbers.machs,
            knudsens: numbers.knudsens,
            drag: numbers.drag,
            lift: numbers.lift,
        })
    }

    /// Coefficients that depend on nothing.
    ///
    /// # Errors
    /// [`AeroTableError::Coefficient`] when `drag` is not above 0 or `lift` not finite.
    pub fn constant(drag: f64, lift: f64) -> Result<Self, AeroTableError> {
        Self::new(AeroNumbers {
            angles_rad: vec![0.0],
            machs: vec![0.0],
            knudsens: vec![1.0],
            drag: vec![drag],
            lift: vec![lift],
        })
    }

    /// The least drag coefficient of the table.
    pub(super) fn least_drag(&self) -> f64 {
        self.drag.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// Mach numbers of the table, rising.
    #[must_use]
    pub fn machs(&self) -> &[f64] {
        &self.machs
    }

    /// ln Kn of the table, rising; one entry where the coefficients do not depend on it.
    #[must_use]
    pub fn ln_knudsens(&self) -> &[f64] {
        &self.ln_knudsens
    }

    /// Coefficients at a point: linear in the angle, then a monotone cubic in Mach number, then linear
    /// in ln Kn. Outside the table the value at its end, marked.
    #[must_use]
    pub fn at(&self, point: &AeroPoint) -> AeroValue {
        let curves = self.mach_curves(point.angle_of_attack_rad);
        let (low, share) = place(&self.ln_knudsens, Real::ln(point.knudsen));
        let high = (low + 1).min(curves.len() - 1);
        let mix = |value: fn(&MachCurves) -> &Monotone| {
            let (a, b) = (
                value(&curves[low]).at(point.mach).0,
                value(&curves[high]).at(point.mach).0,
            );
            share.mul_add(b - a, a)
        };
        AeroValue {
            drag: mix(|curves| &curves.drag),
            lift: mix(|curves| &curves.lift),
            validity: self.validity(point),
        }
    }

    /// What an angle of attack off the trim adds to drag and lift coefficient at one Mach number, in a
    /// continuum (the lowest Knudsen number): the trim error of one sample as a shift of its coefficients.
    #[must_use]
    pub fn trim_shift(&self, trim_rad: f64, actual_rad: f64, mach: f64) -> (f64, f64) {
        let at = |angle_of_attack_rad| {
            self.at(&AeroPoint {
                angle_of_attack_rad,
                mach,
                knudsen: self.knudsens[0],
            })
        };
        let (trim, actual) = (at(trim_rad), at(actual_rad));
        (actual.drag - trim.drag, actual.lift - trim.lift)
    }

    /// The curves against Mach number at an angle of attack, one pair for each Knudsen number.
    pub(super) fn mach_curves(&self, angle_rad: f64) -> Vec<MachCurves> {
        let (low, share) = place(&self.angles, angle_rad);
        let high = (low + 1).min(self.angles.len() - 1);
        let (machs, knudsens) = (self.machs.len(), self.knudsens.len());
        let curve = |values: &[f64], kn: usize| {
            let blended: Vec<f64> = (0..machs)
                .map(|m| {
                    let at = |angle: usize| values[(angle * machs + m) * knudsens + kn];
                    share.mul_add(at(high) - at(low), at(low))
                })
                .collect();
            Monotone::through(&self.machs, &blended).expect("Mach numbers were checked to rise")
        };
        (0..knudsens)
            .map(|kn| MachCurves {
                drag: curve(&self.drag, kn),
                lift: curve(&self.lift, kn),
            })
            .collect()
    }

    fn validity(&self, point: &AeroPoint) -> Validity {
        let mut checks = Vec::new();
        for (quantity, unit, axis, value) in [
            (
                "angle of attack",
                "rad",
                &self.angles,
                point.angle_of_attack_rad,
            ),
            ("Mach number", "", &self.machs, point.mach),
            ("Knudsen number", "", &self.knudsens, point.knudsen),
        ] {
            if axis.len() > 1 {
                let range = Range {
                    quantity,
                    unit,
                    lowest: axis[0],
                    highest: axis[axis.len() - 1],
                };
                checks.push((range, value));
            }
        }
        Validity::of(&checks)
    }
}

/// The cell of `x` between rising knots and the share of its upper end, held at the ends.
fn place(knots: &[f64], x: f64) -> (usize, f64) {
    let above = knots.partition_point(|knot| *knot <= x);
    match (above, knots.get(above)) {
        (0, _) => (0, 0.0),
        (_, None) => (knots.len() - 1, 0.0),
        (above, Some(high)) => {
            let low = knots[above - 1];
            (above - 1, (x - low) / (high - low))
        }
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    /// `C_D` = (1 + α²)(1 + 1/(1+M)) + ln Kn/20 and `C_L` = 2α, on a grid.
    fn table() -> AeroTable {
        let (angles, machs, knudsens) = ([-0.2, 0.0, 0.3], [1.0, 2.0, 5.0, 20.0], [1e-3, 1.0]);
        let (mut drag, mut lift) = (Vec::new(), Vec::new());
        for a in angles {
            for m in machs {
                for kn in knudsens {
                    drag.push((1.0 + a * a) * (1.0 + 1.0 / (1.0 + m)) + f64::ln(kn) / 20.0);
                    lift.push(2.0 * a);
                }
            }
        }
        AeroTable::new(AeroNumbers {
            angles_rad: angles.to_vec(),
            machs: machs.to_vec(),
            knudsens: knudsens.to_vec(),
            drag,
            lift,
        })
        .unwrap()
    }

    fn point(angle_of_attack_rad: f64, mach: f64, knudsen: f64) -> AeroPoint {
        AeroPoint {
            angle_of_attack_rad,
            mach,
            knudsen,
        }
    }

    #[test]
    fn knots_are_met_and_between_them_each_axis_has_its_rule() {
        let table = table();
        let knot = table.at(&point(0.3, 5.0, 1e-3));
        let expected = 1.09 * (1.0 + 1.0 / 6.0) + 1e-3_f64.ln() / 20.0;
        assert!((knot.drag - expected).abs() < 1e-14 && (knot.lift - 0.6).abs() < 1e-15);
        assert!(knot.validity.holds());
        // Linear in the angle: halfway between 0 and 0.3 the mean of both.
        let half = table.at(&point(0.15, 2.0, 1.0)).drag;
        assert!((half - (1.0 + 0.045) * (1.0 + 1.0 / 3.0)).abs() < 1e-14);
        // Linear in ln Kn: at √(1e-3) the mean.
        let middle = table.at(&point(0.0, 2.0, 1e-3_f64.sqrt())).drag;
        assert!((middle - (4.0 / 3.0 + 1e-3_f64.ln() / 40.0)).abs() < 1e-12);
        // Between Mach numbers no value leaves its neighbours.
        let mach = table.at(&point(0.0, 11.0, 1.0)).drag;
        assert!(mach < 1.0 + 1.0 / 6.0 && mach > 1.0 + 1.0 / 21.0);
    }

    #[test]
    fn outside_the_table_its_end_is_taken_and_marked() {
        let table = table();
        let value = table.at(&point(0.5, 30.0, 10.0));
        assert_eq!(value.drag, table.at(&point(0.3, 20.0, 1.0)).drag);
        assert_eq!(value.validity.departures().len(), 3);
        let free = AeroTable::constant(1.5, 0.1).unwrap();
        let value = free.at(&point(3.0, 99.0, 1e9));
        assert_eq!((value.drag, value.lift), (1.5, 0.1));
        assert!(value.validity.holds(), "nothing depends on anything");
    }

    #[test]
    fn a_trim_error_shifts_the_coefficients() {
        let (drag, lift) = table().trim_shift(0.1, 0.2, 5.0);
        assert!((lift - 0.2).abs() < 1e-14);
        assert!((drag - 0.03 * (1.0 + 1.0 / 6.0)).abs() < 1e-14);
    }

    #[test]
    fn wrong_tables_are_refused() {
        let good = AeroNumbers {
            angles_rad: vec![0.0],
            machs: vec![1.0, 2.0],
            knudsens: vec![1.0],
            drag: vec![1.0, 1.1],
            lift: vec![0.0, 0.0],
        };
        let text = |numbers: AeroNumbers| AeroTable::new(numbers).unwrap_err().to_string();
        let fall = AeroNumbers {
            machs: vec![2.0, 1.0],
            ..good.clone()
        };
        assert_eq!(
            text(fall),
            "the Mach number of the table must rise from entry to entry (entry 2 does not)"
        );
        let short = AeroNumbers {
            drag: vec![1.0],
            ..good.clone()
        };
        assert_eq!(text(short), "the table needs 2 drag coefficients, got 1");
        let negative = AeroNumbers {
            drag: vec![1.0, -1.0],
            ..good.clone()
        };
        assert_eq!(
            text(negative),
            "drag coefficient 2 of the table is -1: it must be above 0 and at most 1e6"
        );
        let none = AeroNumbers {
            knudsens: vec![0.0],
            ..good.clone()
        };
        assert_eq!(
            text(none),
            "the Knudsen number 0 of the table is not between 1e-12 and 1e12"
        );
        let empty = AeroNumbers {
            angles_rad: vec![],
            ..good
        };
        assert!(AeroTable::new(empty).is_err());
    }
}
