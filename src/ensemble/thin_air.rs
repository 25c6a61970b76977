//! Whether a flight may begin at the entry interface: what the air above it takes is not flown, and has to be little.

use super::problem::{Numbers, Problem, SampleNumber};
use crate::numeric::elementary::exp;
use crate::pass::{EntryState, Sample};
use crate::world::planet::AirSample;
use crate::world::waves::Waves;
use std::f64::consts::FRAC_PI_2;

/// Most of its speed that a ship may have lost to the air above the interface, which is left out of the flight. A
/// thousandth is some metres per second, less than a drag coefficient known to a per cent leaves open of a pass that
/// takes a tenth of the speed; the deceleration where the flight begins is then some two-hundredths of the peak of a
/// ballistic entry (Allen and Eggers, NACA report 1381, 1958, from memory: speed exp(-x/2), deceleration in proportion to
/// x·exp(-x), with x = 1 at the peak). Where to draw the line is this project's choice.
const LOST_AT_MOST: f64 = 1e-3;

/// A ship for which the air at the interface is already too thick.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "the air at the entry interface, {interface_km:.3} km, is already too thick for a ship of {ballistic_kg_m2:.4} kg/m2 \
     (mass over drag coefficient and area): what lies above it would take {:.2} % of its speed and is not flown, 0.1 % \
     at the most may be", 100.0 * .lost
)]
pub struct ThickAir {
    /// Ballistic coefficient, kg/m².
    pub ballistic_kg_m2: f64,
    /// The entry interface, km.
    pub interface_km: f64,
    /// Share of the speed that the air above takes, to first order: it may be above 1.
    pub lost: f64,
    /// The lowest interface that would do, km; `None` where the air of the world does not reach so high.
    pub would_do_km: Option<f64>,
    /// How high the air of the world reaches, km.
    pub top_km: f64,
}

impl ThickAir {
    /// What to do about it.
    #[must_use]
    pub fn help(&self) -> String {
        match self.would_do_km {
            Some(km) => format!(
                "with an interface at {:.0} km it could be flown: write a world file of your own with `entry_interface: \
                 {:.0} km`; or make the ship heavier for its area",
                km.ceil(),
                km.ceil()
            ),
            None => format!(
                "the air of this world is known to {:.0} km, and no interface below that would do: make the ship heavier \
                 for its area",
                self.top_km
            ),
        }
    }
}

impl Problem {
    /// Why the flight of these numbers, aimed at `aim_m`, may not begin at the interface; `None` where it may, or where
    /// there is no such approach.
    #[must_use]
    pub fn thick_air(
        &self,
        aim_m: f64,
        numbers: &Numbers,
        number: SampleNumber,
    ) -> Option<ThickAir> {
        let (start, sample) = self.begins(aim_m, numbers, number)?;
        if self.begins_in_thin_air(&start, &sample) {
            return None;
        }
        let planet = self.planet();
        #[expect(clippy::cast_precision_loss, reason = "some thousands")]
        let top_m = planet.base_m + planet.rows.len() as f64 / planet.cells_per_m;
        // With the interface there, the flight begins farther out, on a steeper way.
        let lost = |altitude_m: f64| {
            let mut higher = self.clone();
            higher.models.planet.interface_m = altitude_m;
            let begun = higher.begins(aim_m, numbers, number);
            begun.map_or(f64::INFINITY, |(start, sample)| {
                higher.lost_above(altitude_m, &start, &sample)
            })
        };
        let would_do_m = (lost(top_m) <= LOST_AT_MOST).then(|| {
            let (mut thick, mut thin) = (planet.interface_m, top_m);
            while thin - thick > 1.0 {
                let middle = f64::midpoint(thick, thin);
                if lost(middle) > LOST_AT_MOST {
                    thick = middle;
                } else {
                    thin = middle;
                }
            }
            thin
        });
        Some(ThickAir {
            ballistic_kg_m2: 1.0 / self.drag_area_per_mass(&sample),
            interface_km: planet.interface_m / 1e3,
            lost: self.lost_above(planet.interface_m, &start, &sample),
            would_do_km: would_do_m.map(|m| m / 1e3),
            top_km: top_m / 1e3,
        })
    }

    /// Whether so little lies above the interface that a flight may begin there.
    pub(super) fn begins_in_thin_air(&self, start: &EntryState, sample: &Sample<f64>) -> bool {
        !start.meets_air
            || self.lost_above(self.planet().interface_m, start, sample) <= LOST_AT_MOST
    }

    /// Share of the speed that the air above an altitude (m) takes on the way of an entry, to first order:
    /// `½ρ·C_D·A/m·L`, with L the scale height over the sine of the flight-path angle, or the half of a level way through
    /// air of that scale height, √(πrH/2), where that is less (Chapman's function at the horizon, common knowledge).
    fn lost_above(&self, altitude_m: f64, start: &EntryState, sample: &Sample<f64>) -> f64 {
        let (planet, r) = (self.planet(), start.position);
        // The field of small scale is about 1 along so long a way.
        let air = AirSample {
            waves: Waves::STILL,
            ..sample.air
        };
        let at = planet.air(altitude_m, r, &air);
        if !(at.ln_density_slope_per_m < 0.0) {
            return f64::INFINITY;
        }
        let scale_height_m = -1.0 / at.ln_density_slope_per_m;
        let sine = (r.dot(start.velocity) / (r.norm() * start.velocity.norm())).abs();
        let level_m = (FRAC_PI_2 * r.norm() * scale_height_m).sqrt();
        let way_m = if sine * level_m > scale_height_m {
            scale_height_m / sine
        } else {
            level_m
        };
        0.5 * exp(at.ln_density) * self.drag_area_per_mass(sample) * way_m
    }

    /// Drag coefficient and area over mass, m²/kg; of a table or a shape that of a fast continuum.
    fn drag_area_per_mass(&self, sample: &Sample<f64>) -> f64 {
        let coefficient = match self.table_lifts {
            Some(_) => self.reference_coefficients().0,
            None => 1.0,
        };
        sample.vehicle.drag_area_per_mass * coefficient
    }
}
