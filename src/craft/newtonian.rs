//! Newton's estimate of hypersonic coefficients for simple shapes: pressure falls with the square of
//! the sine to the stream, and vanishes in the shadow. Friction and base pressure are left out.

use super::blunt_cone::BluntCone;

/// Axial, normal, drag and lift coefficients at one angle of attack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficients {
    /// Along the body's axis, toward the rear.
    pub axial: f64,
    /// Across it, toward the lee side.
    pub normal: f64,
    /// Along the stream.
    pub drag: f64,
    /// Across the stream.
    pub lift: f64,
}

impl Coefficients {
    /// Drag and lift from axial and normal coefficients: `C_D` = CA cos α + CN sin α,
    /// `C_L` = CN cos α - CA sin α. A blunt body at a positive angle has negative lift.
    #[must_use]
    pub fn from_body_axes(axial: f64, normal: f64, angle_of_attack_rad: f64) -> Self {
        let (sine, cosine) = (
            libm::sin(angle_of_attack_rad),
            libm::cos(angle_of_attack_rad),
        );
        Self {
            axial,
            normal,
            drag: axial * cosine + normal * sine,
            lift: normal * cosine - axial * sine,
        }
    }

    /// Lift over drag.
    #[must_use]
    pub fn lift_to_drag(&self) -> f64 {
        self.lift / self.drag
    }
}

/// Newton's pressure coefficient of a surface square to the stream.
pub const NEWTON: f64 = 2.0;

/// Pressure coefficient at the stagnation point behind a normal shock, for the modified Newtonian
/// rule: Rayleigh's pitot formula, 2/(γM²)([(γ+1)²M²/(4γM²-2(γ-1))]^(γ/(γ-1)) (1-γ+2γM²)/(γ+1) - 1).
///
/// `mach` above 1 (infinite allowed), `gamma` between 1 and 5/3: about 1.839 for γ 1.4 and
/// M infinite; toward 2 as γ falls to 1. NaN outside.
#[must_use]
pub fn stagnation_pressure_coefficient(mach: f64, gamma: f64) -> f64 {
    if mach < 1.0 || gamma <= 1.0 {
        return f64::NAN;
    }
    let (up, power) = (gamma + 1.0, gamma / (gamma - 1.0));
    if mach.is_infinite() {
        return 4.0 / up * libm::pow(up * up / (4.0 * gamma), power);
    }
    let m2 = mach * mach;
    let first = libm::pow(
        up * up * m2 / (4.0 * gamma * m2 - 2.0 * (gamma - 1.0)),
        power,
    );
    2.0 / (gamma * m2) * (first * (1.0 - gamma + 2.0 * gamma * m2) / up - 1.0)
}

/// A shape with a Newtonian estimate; see [`Shape::coefficients`] for the areas they refer to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A whole sphere, on its frontal area.
    Sphere,
    /// A flat plate, one side; the angle of attack is that between plate and stream. On the plate's area.
    FlatPlate,
    /// A circular cylinder without ends; the angle of attack is that between axis and stream, π/2 is
    /// broadside. On length times diameter.
    Cylinder,
    /// A spherical nose on a cone, or a segment of a sphere alone. On the base area.
    BluntCone(BluntCone),
}

impl Shape {
    /// Coefficients at an angle of attack, for a stagnation pressure coefficient ([`NEWTON`] or
    /// [`stagnation_pressure_coefficient`]).
    ///
    /// Meant for Mach numbers above about 5 and angles from -90° to 90°; beyond, the base of a cone
    /// would meet the stream and is not counted. Closed forms: sphere Cp/2; plate Cp sin² α normal to
    /// it; cylinder ⅔ Cp sin² α; cone Cp(sin²θ cos²α + ½ cos²θ sin²α) and Cp cos²θ sin α cos α while
    /// α ≤ θ; in the shadow of a spherical nose a quadrature to about 1e-9.
    #[must_use]
    pub fn coefficients(&self, angle_of_attack_rad: f64, stagnation: f64) -> Coefficients {
        let alpha = angle_of_attack_rad.abs();
        let (sine, cosine) = (libm::sin(alpha), libm::cos(alpha));
        let (axial, normal) = match self {
            Self::Sphere => (0.5 * cosine, 0.5 * sine),
            Self::FlatPlate => (0.0, sine * sine),
            Self::Cylinder => (0.0, sine * sine * 2.0 / 3.0),
            Self::BluntCone(body) => body.body_axes(alpha),
        };
        let normal = normal.copysign(angle_of_attack_rad);
        Coefficients::from_body_axes(stagnation * axial, stagnation * normal, angle_of_attack_rad)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    fn cone(nose: f64, degrees: f64) -> Shape {
        Shape::BluntCone(BluntCone::new(nose, 1.0, degrees.to_radians()).unwrap())
    }

    #[test]
    fn closed_forms_of_newton_are_met() {
        assert_eq!(Shape::Sphere.coefficients(0.0, NEWTON).drag, 1.0);
        for degrees in [5.0_f64, 30.0, 60.0, 90.0] {
            let alpha = degrees.to_radians();
            let sphere = Shape::Sphere.coefficients(alpha, NEWTON);
            assert!((sphere.drag - 1.0).abs() < 1e-15 && sphere.lift.abs() < 1e-15);
            let plate = Shape::FlatPlate.coefficients(alpha, NEWTON);
            assert!((plate.drag - 2.0 * alpha.sin().powi(3)).abs() < 1e-15);
            assert!((plate.lift - 2.0 * alpha.sin().powi(2) * alpha.cos()).abs() < 1e-15);
            let sharp = cone(0.0, degrees).coefficients(0.0, NEWTON);
            assert!((sharp.drag - 2.0 * alpha.sin().powi(2)).abs() < 1e-14);
        }
        let broadside = Shape::Cylinder.coefficients(FRAC_PI_2, NEWTON);
        assert!((broadside.drag - 4.0 / 3.0).abs() < 1e-15 && broadside.lift.abs() < 1e-15);
    }

    #[test]
    fn a_hemisphere_is_a_segment_of_its_own_radius() {
        let half = Shape::BluntCone(BluntCone::segment(2.0, 2.0).unwrap());
        assert!((half.coefficients(0.0, NEWTON).drag - 1.0).abs() < 1e-14);
        // Seen from the side half of the lit hemisphere remains: a quarter sphere, half the drag.
        let side = half.coefficients(FRAC_PI_2, NEWTON);
        assert!((side.normal - 0.5).abs() < 1e-9, "{side:?}");
    }

    #[test]
    fn a_sharp_cone_at_incidence_has_its_closed_form() {
        let (theta, alpha) = (30_f64.to_radians(), 12_f64.to_radians());
        let c = cone(0.0, 30.0).coefficients(alpha, 1.9);
        let (st, ct) = theta.sin_cos();
        let (sa, ca) = alpha.sin_cos();
        assert!((c.axial - 1.9 * (st * st * ca * ca + 0.5 * ct * ct * sa * sa)).abs() < 1e-14);
        assert!((c.normal - 1.9 * ct * ct * sa * ca).abs() < 1e-14);
        let mirrored = cone(0.0, 30.0).coefficients(-alpha, 1.9);
        assert!((mirrored.lift + c.lift).abs() < 1e-15 && (mirrored.drag - c.drag).abs() < 1e-15);
    }

    /// Viking, Pathfinder, MER and MSL: 70° sphere-cones, nose radius a quarter of the diameter,
    /// hypersonic drag coefficient 1.6 to 1.7 (from memory of their published entry papers). The air of
    /// Mars behind the shock has an effective γ of about 1.15 to 1.3. The estimate may miss by 5 %.
    #[test]
    fn the_drag_of_mars_landers_is_near_its_published_value() {
        for gamma in [1.15, 1.3] {
            let stagnation = stagnation_pressure_coefficient(25.0, gamma);
            let drag = cone(0.5, 70.0).coefficients(0.0, stagnation).drag;
            assert!(drag > 1.6 * 0.95 && drag < 1.7 * 1.05, "{gamma}: {drag}");
        }
        // Viking flew at 11 degrees with a lift-to-drag ratio of 0.18 (from memory): blunt, so downward.
        let viking = cone(0.5, 70.0).coefficients(11_f64.to_radians(), 1.85);
        assert!(
            (viking.lift_to_drag() + 0.18).abs() < 0.02,
            "{}",
            viking.lift_to_drag()
        );
    }

    /// 1.839 at γ 1.4 and M infinite: Anderson, *Hypersonic and High Temperature Gas Dynamics*, from memory.
    #[test]
    fn stagnation_pressure_follows_rayleigh() {
        let limit = stagnation_pressure_coefficient(f64::INFINITY, 1.4);
        assert!((limit - 1.839).abs() < 5e-4, "{limit}");
        assert!((stagnation_pressure_coefficient(1e5, 1.4) - limit).abs() < 1e-9);
        assert!((stagnation_pressure_coefficient(1e5, 1.0 + 1e-6) - 2.0).abs() < 1e-5);
        // Sonic: (1.2^3.5 - 1)/0.7.
        let sonic = (1.2_f64.powf(3.5) - 1.0) / 0.7;
        assert!((stagnation_pressure_coefficient(1.0, 1.4) - sonic).abs() < 1e-12);
        assert!(stagnation_pressure_coefficient(0.5, 1.4).is_nan());
    }
}
