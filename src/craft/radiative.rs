//! Radiative heat flux at the stagnation point from the hot gas of the shock layer.
//! Worlds without a published correlation have none here.

use super::monotone::Monotone;
use super::ship_models::{Heating, Stream};
use super::validity::{Range, Validity};
use crate::numeric::Real;

/// The correlation of Tauber & Sutton, J. Spacecraft Rockets 28(1), 1991, 40-42, for Earth or Mars:
/// q = C rn^a ρ^b f(V), rn in m, ρ in kg/m³, q in W/cm² there and in W/m² here.
///
/// Below the first row of f the flux is 0, as the source has it (f jumps there from 1.5 or 0.2).
/// Between rows f is a monotone cubic; above the last row it goes on in a straight line and
/// [`TauberSutton::at`] marks the result. It is good to ±50 % at best and over-predicts several-fold
/// for small fast probes (nose radius 0.23 m: about 9 % of the peak flux was radiative in flight).
#[derive(Debug, Clone, PartialEq)]
pub struct TauberSutton {
    rule: &'static Rule,
    first_m_s: f64,
    cells_per_m_s: f64,
    ln_scale: f64,
    ln_radius_exponent_scale: f64,
    rows: Vec<[f64; 4]>,
}

/// What distinguishes one world's correlation from another's.
#[derive(Debug, PartialEq)]
struct Rule {
    /// C, with q in W/cm².
    scale_w_cm2: f64,
    /// b.
    density_exponent: f64,
    /// a = k0 V^k1 ρ^k2, up to a cap that depends on the nose radius.
    radius_exponent: [f64; 3],
    /// Up to which nose radius (m) which cap holds.
    caps: &'static [(f64, f64)],
    step_m_s: f64,
    speed_function: &'static [(f64, f64)],
    ranges: [Range; 3],
}

/// The nose of a ship as the correlation needs it; see [`TauberSutton::nose`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadiativeNose<R> {
    /// Natural logarithm of the nose radius in m.
    pub ln_radius: R,
    /// The most the exponent of the nose radius may be.
    pub exponent_cap: R,
}

impl RadiativeNose<f64> {
    /// A nose without a cap on the exponent; `radius_m` above 0.
    #[must_use]
    pub fn without_cap(radius_m: f64) -> Self {
        Self {
            ln_radius: Real::ln(radius_m),
            exponent_cap: 1.0,
        }
    }
}

/// A radiative flux with the mark of its validity.
#[derive(Debug, Clone, PartialEq)]
pub struct RadiativeFlux {
    /// Heat flux, W/m².
    pub w_m2: f64,
    /// What lies outside the range the source states.
    pub validity: Validity,
}

/// Speed (m/s) and f for Earth. Published, read in a copy.
const EARTH_SPEED_FUNCTION: &[(f64, f64)] = &[
    (9000.0, 1.5),
    (9250.0, 4.3),
    (9500.0, 9.7),
    (9750.0, 19.5),
    (10000.0, 35.0),
    (10250.0, 55.0),
    (10500.0, 81.0),
    (10750.0, 115.0),
    (11000.0, 151.0),
    (11500.0, 238.0),
    (12000.0, 359.0),
    (12500.0, 495.0),
    (13000.0, 660.0),
    (13500.0, 850.0),
    (14000.0, 1065.0),
    (14500.0, 1313.0),
    (15000.0, 1550.0),
    (15500.0, 1780.0),
    (16000.0, 2040.0),
];

/// Speed (m/s) and f for Mars. From memory of the source.
const MARS_SPEED_FUNCTION: &[(f64, f64)] = &[
    (6000.0, 0.2),
    (6150.0, 1.0),
    (6300.0, 1.95),
    (6500.0, 3.42),
    (6700.0, 5.1),
    (6900.0, 7.1),
    (7000.0, 8.1),
    (7200.0, 10.2),
    (7400.0, 12.5),
    (7600.0, 14.8),
    (7800.0, 17.1),
    (8000.0, 19.2),
    (8200.0, 21.4),
    (8400.0, 24.1),
    (8600.0, 26.0),
    (8800.0, 28.9),
    (9000.0, 32.8),
];

const fn range(quantity: &'static str, unit: &'static str, lowest: f64, highest: f64) -> Range {
    Range {
        quantity,
        unit,
        lowest,
        highest,
    }
}

/// C 4.736e4, b 1.22, a = 1.072e6 V^-1.88 ρ^-0.325 capped at 1 (rn ≤ 1 m), 0.6 (to 2 m), 0.5
/// (beyond), valid 10-16 km/s, 6.66e-5..6.31e-4 kg/m³, 0.3-3 m: published, read in a copy.
static EARTH: Rule = Rule {
    scale_w_cm2: 4.736e4,
    density_exponent: 1.22,
    radius_exponent: [1.072e6, -1.88, -0.325],
    caps: &[(1.0, 1.0), (2.0, 0.6), (f64::INFINITY, 0.5)],
    step_m_s: 250.0,
    speed_function: EARTH_SPEED_FUNCTION,
    ranges: [
        range("speed", "m/s", 1e4, 1.6e4),
        range("density", "kg/m3", 6.66e-5, 6.31e-4),
        range("nose radius", "m", 0.3, 3.0),
    ],
};

/// C 2.35e4, a 0.526, b 1.19: from memory. The speeds are those of the table; the source's ranges
/// of density and radius are not known here, so nothing outside the table's speeds is marked.
static MARS: Rule = Rule {
    scale_w_cm2: 2.35e4,
    density_exponent: 1.19,
    radius_exponent: [0.526, 0.0, 0.0],
    caps: &[(f64::INFINITY, 1.0)],
    step_m_s: 50.0,
    speed_function: MARS_SPEED_FUNCTION,
    ranges: [
        range("speed", "m/s", 6000.0, 9000.0),
        range("density", "kg/m3", 0.0, f64::INFINITY),
        range("nose radius", "m", 0.0, f64::INFINITY),
    ],
};

impl TauberSutton {
    /// The correlation for the Earth's air.
    #[must_use]
    pub fn earth() -> Self {
        Self::new(&EARTH)
    }

    /// The correlation for the air of Mars.
    #[must_use]
    pub fn mars() -> Self {
        Self::new(&MARS)
    }

    fn new(rule: &'static Rule) -> Self {
        let (speeds, values): (Vec<f64>, Vec<f64>) = rule.speed_function.iter().copied().unzip();
        let curve = Monotone::through(&speeds, &values).expect("the speeds of both tables rise");
        let (first, last) = (speeds[0], speeds[speeds.len() - 1]);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "28 or 60 cells"
        )]
        let cells = ((last - first) / rule.step_m_s).round() as u32;
        let mut rows = curve.rows(cells);
        rows.push([
            values[values.len() - 1],
            curve.end_slope() * rule.step_m_s,
            0.0,
            0.0,
        ]);
        Self {
            rule,
            first_m_s: first,
            cells_per_m_s: 1.0 / rule.step_m_s,
            ln_scale: Real::ln(rule.scale_w_cm2 * 1e4),
            ln_radius_exponent_scale: Real::ln(rule.radius_exponent[0]),
            rows,
        }
    }

    /// The nose of a ship for [`TauberSutton::flux`]; `radius_m` is the nose radius, above 0.
    #[must_use]
    pub fn nose(&self, radius_m: f64) -> RadiativeNose<f64> {
        let cap = self.rule.caps.iter().find(|(up_to, _)| radius_m <= *up_to);
        RadiativeNose {
            exponent_cap: cap.map_or(0.5, |(_, cap)| *cap),
            ..RadiativeNose::without_cap(radius_m)
        }
    }

    /// Speed below which there is no flux, m/s.
    #[must_use]
    pub fn slowest_m_s(&self) -> f64 {
        self.first_m_s
    }

    /// The speed function f at `speed_m_s`; 0 below the first row.
    #[inline(always)]
    pub fn speed_function<R: Real>(&self, speed_m_s: R) -> R {
        self.speed_function_and_slope(speed_m_s).0
    }

    /// The speed function and its slope, s/m.
    #[inline(always)]
    fn speed_function_and_slope<R: Real>(&self, speed_m_s: R) -> (R, R) {
        let first = R::splat(self.first_m_s);
        let cells = R::splat(self.cells_per_m_s);
        let ([c0, c1, c2, c3], t) = ((speed_m_s - first) * cells).grid_row(&self.rows);
        let value = c3.mul_add(t, c2).mul_add(t, c1).mul_add(t, c0);
        let three = R::splat(3.0) * c3;
        let slope = three.mul_add(t, c2 + c2).mul_add(t, c1) * cells;
        let zero = R::splat(0.0);
        (
            speed_m_s.select_less(first, zero, value),
            speed_m_s.select_less(first, zero, slope),
        )
    }

    /// Radiative heat flux, W/m², from the logarithm of density (kg/m³) and the airspeed (m/s),
    /// without a branch: one ln, two exp and a look-up. Ranges are not checked; see [`TauberSutton::at`].
    #[inline(always)]
    pub fn flux<R: Real>(&self, ln_density: R, speed_m_s: R, nose: RadiativeNose<R>) -> R {
        let exponent = self.exponent(ln_density, speed_m_s, nose);
        self.scaled(ln_density, exponent, nose) * self.speed_function(speed_m_s)
    }

    /// The same with the rate of its logarithm along a flight; the rate is 0 where the flux is.
    #[inline(always)]
    pub fn heating<R: Real>(&self, nose: RadiativeNose<R>, stream: &Stream<R>) -> Heating<R> {
        let [_, k1, k2] = self.rule.radius_exponent;
        let exponent = self.exponent(stream.ln_density, stream.speed, nose);
        let (value, slope) = self.speed_function_and_slope(stream.speed);
        let by_speed = slope * stream.speed / value.max(R::splat(1e-300)) * stream.speed_log_rate;
        // Below its cap the exponent goes with speed and density too.
        let steepening = R::splat(k1).mul_add(
            stream.speed_log_rate,
            R::splat(k2) * stream.density_log_rate,
        );
        let zero = R::splat(0.0);
        let moving = exponent.select_less(nose.exponent_cap, exponent * nose.ln_radius, zero);
        let by_density = R::splat(self.rule.density_exponent)
            .mul_add(stream.density_log_rate, moving * steepening);
        Heating {
            flux: self.scaled(stream.ln_density, exponent, nose) * value,
            log_rate: by_density + by_speed,
        }
    }

    /// Exponent of the nose radius, at most its cap.
    #[inline(always)]
    fn exponent<R: Real>(&self, ln_density: R, speed_m_s: R, nose: RadiativeNose<R>) -> R {
        let [_, k1, k2] = self.rule.radius_exponent;
        let k0 = self.ln_radius_exponent_scale;
        let ln_speed = speed_m_s.max(R::splat(1.0)).ln();
        let steep = R::splat(k1).mul_add(ln_speed, R::splat(k2).mul_add(ln_density, R::splat(k0)));
        steep.exp().min(nose.exponent_cap)
    }

    /// Everything but the speed function, W/m².
    #[inline(always)]
    fn scaled<R: Real>(&self, ln_density: R, exponent: R, nose: RadiativeNose<R>) -> R {
        let scale =
            R::splat(self.rule.density_exponent).mul_add(ln_density, R::splat(self.ln_scale));
        exponent.mul_add(nose.ln_radius, scale).exp()
    }

    /// Radiative heat flux of one point of a flight, with the mark of its validity.
    ///
    /// `density_kg_m3`, `speed_m_s` (relative to the air) and `nose_radius_m` must be above 0.
    #[must_use]
    pub fn at(&self, density_kg_m3: f64, speed_m_s: f64, nose_radius_m: f64) -> RadiativeFlux {
        let w_m2 = self.flux(Real::ln(density_kg_m3), speed_m_s, self.nose(nose_radius_m));
        let [speed, density, radius] = self.rule.ranges;
        RadiativeFlux {
            w_m2,
            validity: Validity::of(&[
                (speed, speed_m_s),
                (density, density_kg_m3),
                (radius, nose_radius_m),
            ]),
        }
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;
    use crate::numeric::Lanes;

    /// ρ, V, rn -> q in W/cm², computed from the published equation by an independent program
    /// (tables of Earth published, of Mars from memory), printed to six figures or more: tolerance 3e-6.
    #[test]
    fn computed_fluxes_are_met() {
        let (earth, mars) = (TauberSutton::earth(), TauberSutton::mars());
        for (model, density, speed, radius, expected) in [
            (&earth, 3e-4, 12000.0, 1.0, 856.2372),
            (&earth, 1e-4, 10250.0, 0.5, 22.3948),
            (&mars, 1e-3, 7000.0, 1.0, 51.2334),
        ] {
            let flux = model.at(density, speed, radius);
            let relative = flux.w_m2 / 1e4 / expected - 1.0;
            assert!(relative.abs() < 3e-6, "{} {relative}", flux.w_m2);
            assert!(flux.validity.holds());
        }
    }

    #[test]
    fn the_formula_holds_in_full_away_from_the_rows() {
        let earth = TauberSutton::earth();
        for (density, speed, radius, cap) in
            [(1.7e-4, 11_320.0, 0.4, 1.0), (5e-4, 13_777.0, 2.7, 0.5)]
        {
            let a = (1.072e6 * f64::powf(speed, -1.88) * f64::powf(density, -0.325)).min(cap);
            let expected = 4.736e8
                * f64::powf(radius, a)
                * f64::powf(density, 1.22)
                * earth.speed_function(speed);
            let flux = earth.at(density, speed, radius).w_m2;
            assert!((flux / expected - 1.0).abs() < 1e-12, "{flux} {expected}");
        }
    }

    #[test]
    fn every_row_is_met_and_the_function_rises_between_rows() {
        for model in [TauberSutton::earth(), TauberSutton::mars()] {
            for pair in model.rule.speed_function.windows(2) {
                assert!((model.speed_function(pair[0].0) / pair[0].1 - 1.0).abs() < 1e-13);
                let middle = model.speed_function(0.5 * (pair[0].0 + pair[1].0));
                assert!(middle > pair[0].1 && middle < pair[1].1);
            }
        }
    }

    #[test]
    fn slow_air_gives_nothing_and_departures_are_named() {
        let earth = TauberSutton::earth();
        let slow = earth.at(1e-4, 8_999.9, 1.0);
        assert_eq!(slow.w_m2, 0.0);
        assert!(!slow.validity.holds());
        let fast = earth.at(1e-5, 17_000.0, 5.0);
        assert_eq!(fast.validity.departures().len(), 3);
        // Straight on above the last row: at least the last slope of the table.
        assert!(earth.speed_function(17_000.0) > 2040.0 + 2.0 * 230.0);
        assert_eq!(earth.nose(1.0).exponent_cap, 1.0);
        assert_eq!(earth.nose(1.5).exponent_cap, 0.6);
        assert_eq!(earth.nose(2.5).exponent_cap, 0.5);
    }

    #[test]
    fn lanes_give_the_bits_of_the_single_number() {
        let earth = TauberSutton::earth();
        let speeds = [
            1.0, 8999.0, 9000.0, 9777.0, 11_000.0, 12_345.0, 16_000.0, 18_000.0,
        ];
        let nose = earth.nose(0.8);
        let lanes = RadiativeNose {
            ln_radius: Lanes::splat(nose.ln_radius),
            exponent_cap: Lanes::splat(nose.exponent_cap),
        };
        let flux = earth.flux(Lanes::splat(-8.0), Lanes(speeds), lanes);
        for (i, speed) in speeds.into_iter().enumerate() {
            assert_eq!(flux.0[i], earth.flux(-8.0, speed, nose));
        }
    }
}
