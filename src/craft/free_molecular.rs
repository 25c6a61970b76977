//! Heat and force on simple bodies in air so thin that molecules meet the ship one by one.
//! Between this and a continuum `rarefaction` bridges.

use crate::numeric::Real;
use std::f64::consts::PI;

/// Free-molecular heat flux on a surface square to the stream, W/m²: ½ α ρ V³.
///
/// `density` in kg/m³, `speed_m_s` relative to the air; `accommodation` α is the share of the
/// molecules' energy that stays (0 to 1, near 1 for technical surfaces). Hyperthermal and cold-wall
/// limit: the thermal energy of the air and what the wall gives back are left out, good to 5 % at
/// speed ratios above 5.
#[inline(always)]
pub fn heat_flux<R: Real>(density: R, speed_m_s: R, accommodation: R) -> R {
    R::splat(0.5) * accommodation * density * speed_m_s * speed_m_s * speed_m_s
}

/// How molecules leave a surface, and the stream they come from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reflection {
    /// Speed ratio V/√(2RT) of the stream, above 0; infinite for the hyperthermal limit.
    pub speed_ratio: f64,
    /// Wall over air temperature.
    pub wall_temperature_ratio: f64,
    /// Accommodation of normal momentum, 0 (mirror) to 1 (diffuse).
    pub normal: f64,
    /// Accommodation of tangential momentum, 0 to 1.
    pub tangential: f64,
}

impl Reflection {
    /// Fully diffuse reflection from a wall of the given temperature ratio.
    #[must_use]
    pub fn diffuse(speed_ratio: f64, wall_temperature_ratio: f64) -> Self {
        Self {
            speed_ratio,
            wall_temperature_ratio,
            normal: 1.0,
            tangential: 1.0,
        }
    }

    /// The share of dynamic pressure that re-emitted molecules of a fully diffuse wall add, √(Tw/T)/s.
    fn wall_speed(&self) -> f64 {
        if self.speed_ratio.is_infinite() {
            0.0
        } else {
            self.wall_temperature_ratio.sqrt() / self.speed_ratio
        }
    }
}

/// Pressure and shear on one side of a surface element, over the dynamic pressure ½ρV².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SurfaceStress {
    /// Pressure on the element, static pressure of the stream included.
    pub pressure: f64,
    /// Shear along the stream's direction in the surface.
    pub shear: f64,
}

/// Stress on one side of a flat element whose outward normal makes the angle 90° - δ with the
/// direction the stream comes from; `sine` is sin δ, positive on the windward side.
///
/// Schaaf & Chambré, *Flow of Rarefied Gases* (1961), with s the speed ratio and x = s sin δ:
/// p = s⁻² {[(2-σn) x/√π + ½σn √(Tw/T)] e^(-x²) + [(2-σn)(½ + x²) + ½σn √(π Tw/T) x](1 + erf x)},
/// τ = σt cos δ/(s√π) {e^(-x²) + √π x (1 + erf x)}. From memory; held against the integrals of the
/// Maxwellian momentum flux in the tests. At infinite s the limits 2(2-σn) sin²δ and 2σt sin δ cos δ.
#[must_use]
pub fn surface_stress(sine: f64, reflection: &Reflection) -> SurfaceStress {
    let (s, specular) = (reflection.speed_ratio, 2.0 - reflection.normal);
    let cosine = (1.0 - sine * sine).max(0.0).sqrt();
    if s.is_infinite() {
        let windward = sine.max(0.0);
        return SurfaceStress {
            pressure: 2.0 * specular * windward * windward,
            shear: 2.0 * reflection.tangential * windward * cosine,
        };
    }
    let x = s * sine;
    let gauss = libm::exp(-x * x);
    // 1 + erf x without cancellation on the lee side.
    let rest = libm::erfc(-x);
    let wall = 0.5 * reflection.normal * reflection.wall_temperature_ratio.sqrt();
    let inside = (specular * x / PI.sqrt() + wall) * gauss
        + (specular * (0.5 + x * x) + wall * PI.sqrt() * x) * rest;
    let flow = gauss / PI.sqrt() + x * rest;
    SurfaceStress {
        pressure: inside / (s * s),
        shear: reflection.tangential * cosine * flow / s,
    }
}

/// Drag and lift coefficients of a thin flat plate, both sides, on the area of one side.
///
/// `incidence_rad` is the angle between plate and stream, from -π/2 to π/2.
#[must_use]
pub fn flat_plate(incidence_rad: f64, reflection: &Reflection) -> (f64, f64) {
    let (sine, cosine) = (libm::sin(incidence_rad), libm::cos(incidence_rad));
    let (front, back) = (
        surface_stress(sine, reflection),
        surface_stress(-sine, reflection),
    );
    let normal = front.pressure - back.pressure;
    let along = front.shear + back.shear;
    (
        normal * sine + along * cosine,
        normal * cosine - along * sine,
    )
}

/// Drag coefficient of a sphere on its frontal area: 2 for a hyperthermal stream.
///
/// (2-σn+σt)/(2s³) [(4s⁴+4s²-1)/(2s) erf s + (2s²+1) e^(-s²)/√π] + 2σn √(π Tw/T)/(3s), Schaaf &
/// Chambré (1961), from memory; held against the sum of [`surface_stress`] in the tests. Meant for
/// speed ratios above 0.1 (below, the terms cancel).
#[must_use]
pub fn sphere_drag(reflection: &Reflection) -> f64 {
    let (normal, tangential) = (reflection.normal, reflection.tangential);
    let wall = 2.0 / 3.0 * normal * PI.sqrt() * reflection.wall_speed();
    let s = reflection.speed_ratio;
    if s.is_infinite() {
        return 2.0 - normal + tangential;
    }
    let s2 = s * s;
    let erf_part = (4.0 * s2 * s2 + 4.0 * s2 - 1.0) / (2.0 * s) * libm::erf(s);
    let gauss_part = (2.0 * s2 + 1.0) * libm::exp(-s2) / PI.sqrt();
    (2.0 - normal + tangential) / (2.0 * s2 * s) * (erf_part + gauss_part) + wall
}

#[cfg(test)]
mod tests {
    use super::*;

    /// rho 30 and 10 kg/km³, 4600 m/s, α 1 -> 0.146004 and 0.048668 W/cm² (computed, exact).
    #[test]
    fn heat_flux_meets_its_computed_values() {
        assert!((heat_flux(30e-9, 4600.0, 1.0) / 1e4 - 0.146_004_f64).abs() < 1e-15);
        assert!((heat_flux(10e-9, 4600.0, 1.0) / 1e4 - 0.048_668_f64).abs() < 1e-15);
    }

    /// Simpson sums of the moments of a Maxwellian stream through an element: in units of the most
    /// probable thermal speed and of density, the normal speeds are Gaussian of mean x and variance ½.
    fn stress_by_integration(sine: f64, r: &Reflection) -> SurfaceStress {
        let (s, x) = (r.speed_ratio, r.speed_ratio * sine);
        let (steps, top) = (20_000, x.max(0.0) + 9.0);
        let h = top / f64::from(steps);
        let (mut count, mut momentum) = (0.0, 0.0);
        for i in 0..=steps {
            let c = h * f64::from(i);
            let weight = match i {
                0 => 1.0,
                i if i == steps => 1.0,
                i if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            let density = (-(c - x) * (c - x)).exp() / PI.sqrt() * weight * h / 3.0;
            count += c * density;
            momentum += c * c * density;
        }
        // Diffuse molecules leave with a mean normal momentum of √(π R Tw/2) each.
        let re_emitted = count * 0.5 * (PI * r.wall_temperature_ratio).sqrt();
        let pressure = (2.0 - r.normal) * momentum + r.normal * re_emitted;
        let shear = r.tangential * count * s * (1.0 - sine * sine).sqrt();
        SurfaceStress {
            pressure: 2.0 * pressure / (s * s),
            shear: 2.0 * shear / (s * s),
        }
    }

    #[test]
    fn stresses_are_the_moments_of_a_maxwellian_stream() {
        for (s, ratio, normal, tangential) in [
            (0.5, 1.0, 1.0, 1.0),
            (3.0, 2.5, 0.8, 0.6),
            (8.0, 0.4, 1.0, 1.0),
            (5.0, 1.0, 0.0, 0.0),
        ] {
            let reflection = Reflection {
                speed_ratio: s,
                wall_temperature_ratio: ratio,
                normal,
                tangential,
            };
            for sine in [-1.0, -0.3, 0.0, 0.2, 0.7, 1.0] {
                let ours = surface_stress(sine, &reflection);
                let sum = stress_by_integration(sine, &reflection);
                assert!((ours.pressure - sum.pressure).abs() < 1e-9 * (1.0 + sum.pressure));
                assert!((ours.shear - sum.shear).abs() < 1e-9 * (1.0 + sum.shear));
            }
        }
    }

    #[test]
    fn a_sphere_is_the_sum_of_its_elements() {
        for (s, ratio, normal, tangential) in [
            (0.7, 1.0, 1.0, 1.0),
            (4.0, 0.5, 0.9, 0.7),
            (9.0, 3.0, 1.0, 1.0),
        ] {
            let reflection = Reflection {
                speed_ratio: s,
                wall_temperature_ratio: ratio,
                normal,
                tangential,
            };
            // Rings at an angle from the windward pole, on the frontal area: 2 sin θ dθ.
            let steps = 40_000;
            let h = PI / f64::from(steps);
            let sum: f64 = (0..steps)
                .map(|i| {
                    let (sine, cosine) = (h * (f64::from(i) + 0.5)).sin_cos();
                    let stress = surface_stress(cosine, &reflection);
                    2.0 * sine * h * (stress.pressure * cosine + stress.shear * sine)
                })
                .sum();
            let closed = sphere_drag(&reflection);
            assert!((closed / sum - 1.0).abs() < 1e-7, "{closed} {sum}");
        }
    }

    #[test]
    fn fast_streams_tend_to_the_hyperthermal_limit() {
        let fast = Reflection::diffuse(1e5, 1.0);
        let limit = Reflection::diffuse(f64::INFINITY, 1.0);
        assert!(
            (sphere_drag(&fast) - 2.0).abs() < 2e-5 && (sphere_drag(&limit) - 2.0).abs() < 1e-15
        );
        for incidence in [0.2, 0.9, PI / 2.0] {
            let (fast, limit) = (flat_plate(incidence, &fast), flat_plate(incidence, &limit));
            assert!((fast.0 - limit.0).abs() < 5e-5 && (fast.1 - limit.1).abs() < 5e-5);
            // Every molecule that meets a diffuse cold wall gives up all its momentum.
            assert!((limit.0 - 2.0 * incidence.sin()).abs() < 1e-14 && limit.1.abs() < 1e-14);
        }
        // A mirror turns the stream as Newton's particles without loss: twice his pressure.
        let mirror = Reflection {
            normal: 0.0,
            tangential: 0.0,
            ..limit
        };
        let (drag, lift) = flat_plate(0.4, &mirror);
        let sine = 0.4_f64.sin();
        assert!((drag - 4.0 * sine.powi(3)).abs() < 1e-14);
        assert!((lift - 4.0 * sine * sine * 0.4_f64.cos()).abs() < 1e-14);
        assert!((sphere_drag(&mirror) - 2.0).abs() < 1e-15);
    }
}
