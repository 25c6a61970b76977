//! `Vehicle`: one sample of the ship as the equations of motion need it.

use super::heating::stagnation_factor;
use crate::numeric::elementary::sin_cos;

/// Drag, lift and heating factors of one ship, or of eight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vehicle<R> {
    /// `C_D·A/m`, m²/kg: the inverse of the ballistic coefficient.
    pub drag_area_per_mass: R,
    /// Lift over drag times the cosine of the bank angle: the part of lift in the vertical plane.
    pub lift_up: R,
    /// Lift over drag times the sine of the bank angle: the part of lift to the right.
    pub lift_right: R,
    /// Sensed over drag acceleration, √(1 + (L/D)²).
    pub sensed_over_drag: R,
    /// k/√Rn of stagnation heating, kg^½/m^1.5.
    pub heating_factor: R,
}

/// The numbers of a ship that fix a [`Vehicle`].
#[derive(Debug, Clone, Copy)]
pub struct VehicleNumbers {
    /// Mass, kg, above 0.
    pub mass_kg: f64,
    /// Reference area, m², above 0.
    pub reference_area_m2: f64,
    /// Drag coefficient, above 0.
    pub drag_coefficient: f64,
    /// Lift-to-drag ratio.
    pub lift_to_drag: f64,
    /// Bank angle, rad, 0 for lift up.
    pub bank_angle_rad: f64,
    /// Nose radius, m, above 0.
    pub nose_radius_m: f64,
    /// Stagnation heating constant of the gas, kg^½/m.
    pub heating_constant: f64,
}

impl Vehicle<f64> {
    /// The vehicle of one set of numbers.
    #[must_use]
    pub fn new(numbers: &VehicleNumbers) -> Self {
        let (sine, cosine) = sin_cos(numbers.bank_angle_rad);
        let lift = numbers.lift_to_drag;
        Self {
            drag_area_per_mass: numbers.drag_coefficient * numbers.reference_area_m2
                / numbers.mass_kg,
            lift_up: lift * cosine,
            lift_right: lift * sine,
            sensed_over_drag: (1.0 + lift * lift).sqrt(),
            heating_factor: stagnation_factor(numbers.heating_constant, numbers.nose_radius_m),
        }
    }

    /// The same ship at another bank angle, rad.
    #[must_use]
    pub fn banked(&self, bank_angle_rad: f64) -> Self {
        let (sine, cosine) = sin_cos(bank_angle_rad);
        self.turned(cosine, sine)
    }

    /// The same ship at the bank angle of this cosine and sine.
    #[must_use]
    pub fn turned(&self, cosine: f64, sine: f64) -> Self {
        let (up, right) = (self.lift_up, self.lift_right);
        let lift = (up * up + right * right).sqrt();
        Self {
            lift_up: lift * cosine,
            lift_right: lift * sine,
            ..*self
        }
    }

    /// Ballistic coefficient `m/(C_D·A)`, kg/m².
    #[must_use]
    pub fn ballistic_coefficient_kg_m2(&self) -> f64 {
        1.0 / self.drag_area_per_mass
    }
}
