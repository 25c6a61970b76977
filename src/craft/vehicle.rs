//! `Vehicle`: one sample of the ship as the equations of motion need it.

use super::heating::stagnation_factor;
use super::radiative::RadiativeNose;
use crate::numeric::elementary::sin_cos;

/// Drag, lift and heating factors of one ship, or of eight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vehicle<R> {
    /// `C_D·A/m`, m²/kg: the inverse of the ballistic coefficient. With a grid of coefficients, `A/m`
    /// times the factor on drag.
    pub drag_area_per_mass: R,
    /// Lift over drag times the cosine of the bank angle: the part of lift in the vertical plane. With a
    /// grid, a factor on its lift over drag in place of lift over drag itself.
    pub lift_up: R,
    /// Lift over drag times the sine of the bank angle: the part of lift to the right.
    pub lift_right: R,
    /// k/√Rn of stagnation heating times the factor on convection, kg^½/m^1.5.
    pub heating_factor: R,
    /// Angle of attack less that of the trim, rad; used with a grid alone.
    pub off_trim: R,
    /// Share of the energy of free molecules that stays in the skin; used where thin air is bridged to.
    pub accommodation: R,
    /// The nose as radiative heating needs it, where that is flown.
    pub radiative_nose: RadiativeNose<R>,
    /// Factor on the radiative flux: what its correlation is off by, 1 as it stands.
    pub radiative_factor: R,
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
    /// Factor on the drag coefficient, above 0.
    pub drag_factor: f64,
    /// Factor on the lift coefficient.
    pub lift_factor: f64,
    /// Angle of attack less that of the trim, rad.
    pub off_trim_rad: f64,
    /// Share of the energy of free molecules that stays in the skin, 0 to 1.
    pub accommodation: f64,
    /// Factor on the convective flux, above 0: 1 as its correlation has it.
    pub convective_factor: f64,
    /// Factor on the radiative flux, above 0: 1 as its correlation has it.
    pub radiative_factor: f64,
}

impl Default for VehicleNumbers {
    /// A body of 1 kg, 1 m² and a drag coefficient of 1, without lift and without heating.
    fn default() -> Self {
        Self {
            mass_kg: 1.0,
            reference_area_m2: 1.0,
            drag_coefficient: 1.0,
            lift_to_drag: 0.0,
            bank_angle_rad: 0.0,
            nose_radius_m: 1.0,
            heating_constant: 0.0,
            drag_factor: 1.0,
            lift_factor: 1.0,
            off_trim_rad: 0.0,
            accommodation: 1.0,
            convective_factor: 1.0,
            radiative_factor: 1.0,
        }
    }
}

impl Vehicle<f64> {
    /// The vehicle of one set of numbers.
    #[must_use]
    pub fn new(numbers: &VehicleNumbers) -> Self {
        let (sine, cosine) = sin_cos(numbers.bank_angle_rad);
        let lift = numbers.lift_to_drag * (numbers.lift_factor / numbers.drag_factor);
        Self {
            drag_area_per_mass: numbers.drag_coefficient
                * numbers.drag_factor
                * numbers.reference_area_m2
                / numbers.mass_kg,
            lift_up: lift * cosine,
            lift_right: lift * sine,
            heating_factor: stagnation_factor(
                numbers.convective_factor * numbers.heating_constant,
                numbers.nose_radius_m,
            ),
            off_trim: numbers.off_trim_rad,
            accommodation: numbers.accommodation,
            radiative_nose: RadiativeNose::without_cap(numbers.nose_radius_m),
            radiative_factor: numbers.radiative_factor,
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

    /// Sensed over drag acceleration, √(1 + (L/D)²), away from the vertical; means nothing with a grid.
    #[must_use]
    pub fn sensed_over_drag(&self) -> f64 {
        let (up, right) = (self.lift_up, self.lift_right);
        (1.0 + up * up + right * right).sqrt()
    }

    /// Ballistic coefficient `m/(C_D·A)`, kg/m².
    #[must_use]
    pub fn ballistic_coefficient_kg_m2(&self) -> f64 {
        1.0 / self.drag_area_per_mass
    }
}
