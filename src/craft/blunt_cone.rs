//! A spherical nose on a cone, and a segment of a sphere: their geometry and the pressure on them
//! by Newton's rule. Coefficients come from `newtonian`.

use std::f64::consts::{FRAC_PI_2, PI};

/// A spherical nose that runs smoothly into a cone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BluntCone {
    nose_radius_m: f64,
    base_radius_m: f64,
    half_angle_rad: f64,
}

/// A shape that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ShapeError {
    /// The base radius is not a positive length.
    #[error("the base radius must be above 0, got {0} m")]
    BaseRadius(f64),
    /// The half angle is outside 0 to 90 degrees.
    #[error("the cone's half angle must be above 0 and at most 90 deg, got {0} rad")]
    HalfAngle(f64),
    /// The nose is sharper than 0 or ends outside the base.
    #[error(
        "the nose radius must be 0 or more and at most {largest} m for this base and cone, got {found} m"
    )]
    NoseRadius {
        /// The radius at which the sphere meets the base, m.
        largest: f64,
        /// The radius given, m.
        found: f64,
    },
    /// A segment's sphere is smaller than its base.
    #[error(
        "a spherical segment needs a radius of at least its base radius {base} m, got {found} m"
    )]
    Segment {
        /// The base radius, m.
        base: f64,
        /// The radius given, m.
        found: f64,
    },
}

impl BluntCone {
    /// A sphere-cone. The nose radius may be 0 (a sharp cone) up to base radius over cos(half angle).
    ///
    /// # Errors
    /// [`ShapeError`] for lengths and angles that make no such body.
    pub fn new(
        nose_radius_m: f64,
        base_radius_m: f64,
        half_angle_rad: f64,
    ) -> Result<Self, ShapeError> {
        if !(base_radius_m > 0.0 && base_radius_m.is_finite()) {
            return Err(ShapeError::BaseRadius(base_radius_m));
        }
        if !(half_angle_rad > 0.0 && half_angle_rad <= FRAC_PI_2) {
            return Err(ShapeError::HalfAngle(half_angle_rad));
        }
        let largest = base_radius_m / libm::cos(half_angle_rad);
        if !(0.0..=largest * (1.0 + 1e-12)).contains(&nose_radius_m) {
            return Err(ShapeError::NoseRadius {
                largest,
                found: nose_radius_m,
            });
        }
        Ok(Self {
            nose_radius_m,
            base_radius_m,
            half_angle_rad,
        })
    }

    /// A segment of a sphere (a capsule's heat shield): `radius_m` is that of the sphere.
    ///
    /// # Errors
    /// [`ShapeError`] when the sphere is smaller than its base.
    pub fn segment(radius_m: f64, base_radius_m: f64) -> Result<Self, ShapeError> {
        if !(base_radius_m > 0.0 && base_radius_m.is_finite()) {
            return Err(ShapeError::BaseRadius(base_radius_m));
        }
        if !(radius_m >= base_radius_m && radius_m.is_finite()) {
            return Err(ShapeError::Segment {
                base: base_radius_m,
                found: radius_m,
            });
        }
        Ok(Self {
            nose_radius_m: radius_m,
            base_radius_m,
            half_angle_rad: libm::acos(base_radius_m / radius_m),
        })
    }

    /// A radius for stagnation heating, m: a hint, to be replaced by a better number.
    ///
    /// For a sphere-cone the nose radius; on cones blunter than about 45° the shoulder eases the flux
    /// further, so that this is on the hot side. For a segment 1/R² = 1/Rn² + (sin θ/(3.3 Rb))², θ the
    /// surface's angle to the axis at the rim: the sphere's radius for a hemisphere, and for a flat
    /// face the rule that it is heated like a sphere of 3.3 base radii (from memory, ±20 %).
    #[must_use]
    pub fn heating_radius_hint_m(&self) -> f64 {
        if !self.is_segment() {
            return self.nose_radius_m;
        }
        let flat = libm::sin(self.half_angle_rad) / (3.3 * self.base_radius_m);
        1.0 / libm::hypot(flat, 1.0 / self.nose_radius_m)
    }

    fn is_segment(&self) -> bool {
        let tangent = self.nose_radius_m * libm::cos(self.half_angle_rad);
        (tangent / self.base_radius_m - 1.0).abs() < 1e-9
    }

    /// Axial and normal coefficient over the stagnation pressure coefficient, at 0 ≤ α ≤ 90°.
    pub(super) fn body_axes(&self, alpha: f64) -> (f64, f64) {
        let theta = self.half_angle_rad;
        let (sine, cosine) = (libm::sin(theta), libm::cos(theta));
        let nose = self.nose_radius_m / self.base_radius_m;
        // Frustum from the tangent circle to the base: constant slope, closed form with shadow too.
        let tangent = (nose * cosine).min(1.0);
        let ring = Ring::at(sine, cosine, alpha);
        let area = (1.0 - tangent * tangent) / (2.0 * PI);
        let slope = if area > 1e-15 { cosine / sine } else { 0.0 };
        let (cap_axial, cap_normal) = cap(theta, alpha);
        (
            area * ring.axial + nose * nose * cap_axial,
            area * slope * ring.normal + nose * nose * cap_normal,
        )
    }
}

/// Pressure of one ring of a body of revolution, integrated around the axis.
struct Ring {
    axial: f64,
    normal: f64,
}

impl Ring {
    /// The surface makes an angle with the axis of the given sine and cosine. The sine of the
    /// stream's angle to the surface is A + B cos φ, φ from the windward side, and counts where positive.
    fn at(sine: f64, cosine: f64, alpha: f64) -> Self {
        let a = sine * libm::cos(alpha);
        let b = cosine * libm::sin(alpha);
        let edge = if b <= a {
            PI
        } else {
            libm::acos((-a / b).max(-1.0))
        };
        let (s, s2) = (libm::sin(edge), libm::sin(2.0 * edge));
        let squares = edge / 2.0 + s2 / 4.0;
        Self {
            axial: 2.0 * (a * a * edge + 2.0 * a * b * s + b * b * squares),
            normal: 2.0 * (a * a * s + 2.0 * a * b * squares + b * b * (s - s * s * s / 3.0)),
        }
    }
}

/// Nodes and weights of Gauss's rule of five points on [-1, 1].
const NODES: [(f64, f64); 5] = [
    (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
    (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.0, 0.568_888_888_888_888_9),
    (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
    (0.906_179_845_938_664, 0.236_926_885_056_189_1),
];

/// Axial and normal coefficient of the cap of a unit sphere between the pole and the circle where
/// the surface makes the angle `theta` with the axis, referred to π.
fn cap(theta: f64, alpha: f64) -> (f64, f64) {
    let (sa, ca) = (libm::sin(alpha), libm::cos(alpha));
    // No shadow where the surface is steeper than the angle of attack: closed form.
    let lit = |low: f64| {
        let (s4, c4) = (
            libm::pow(libm::sin(low), 4.0),
            libm::pow(libm::cos(low), 4.0),
        );
        (
            0.5 * (ca * ca * (1.0 - s4) + 0.5 * sa * sa * c4),
            0.5 * sa * ca * c4,
        )
    };
    if alpha <= theta {
        return lit(theta);
    }
    let (mut axial, mut normal) = lit(alpha.min(FRAC_PI_2));
    // Half-shadowed rings. With θ = α - u² the square-root edge of the shadow is smooth: Gauss's rule
    // of five points on eight panels.
    let panel = (alpha - theta).sqrt() / 8.0;
    for index in 0..8 {
        for (node, weight) in NODES {
            let u = panel * (f64::from(index) + 0.5 + 0.5 * node);
            let (sine, cosine) = (libm::sin(alpha - u * u), libm::cos(alpha - u * u));
            let ring = Ring::at(sine, cosine, alpha);
            let share = weight * panel * u * cosine / PI;
            axial += share * sine * ring.axial;
            normal += share * cosine * ring.normal;
        }
    }
    (axial, normal)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::super::newtonian::{NEWTON, Shape};
    use super::*;

    fn cone(nose: f64, degrees: f64) -> Shape {
        Shape::BluntCone(BluntCone::new(nose, 1.0, degrees.to_radians()).unwrap())
    }

    /// Direct sum over small elements, for bodies partly in their own shadow.
    fn summed(nose: f64, theta: f64, alpha: f64) -> (f64, f64) {
        let tangent = nose * theta.cos();
        let (rings, around) = (2000, 1000);
        let (mut axial, mut normal) = (0.0, 0.0);
        let mut add = |sine: f64, cosine: f64, area: f64| {
            for k in 0..around {
                let phi = PI * (f64::from(k) + 0.5) / f64::from(around);
                let toward = sine * alpha.cos() + cosine * alpha.sin() * phi.cos();
                let force = 2.0 * toward.max(0.0).powi(2) * area / f64::from(around) / PI;
                axial += force * sine;
                normal += force * cosine * phi.cos();
            }
        };
        for i in 0..rings {
            let share = (f64::from(i) + 0.5) / f64::from(rings);
            let slope = theta + (FRAC_PI_2 - theta) * share;
            let width = (FRAC_PI_2 - theta) / f64::from(rings) * nose;
            add(
                slope.sin(),
                slope.cos(),
                2.0 * PI * nose * slope.cos() * width,
            );
        }
        add(
            theta.sin(),
            theta.cos(),
            PI * (1.0 - tangent * tangent) / theta.sin(),
        );
        (axial, normal)
    }

    #[test]
    fn sphere_cones_are_the_sum_of_their_elements() {
        for (nose, degrees, alpha) in [
            (0.5, 70.0, 11.0),
            (0.3, 20.0, 15.0),
            (0.3, 20.0, 50.0),
            (0.9, 45.0, 88.0),
            (0.1, 9.0, 20.0),
        ] {
            let c = cone(nose, degrees).coefficients(f64::to_radians(alpha), NEWTON);
            let (axial, normal) = summed(nose, f64::to_radians(degrees), f64::to_radians(alpha));
            assert!(
                (c.axial - axial).abs() < 2e-6,
                "{degrees} {alpha}: {} {axial}",
                c.axial
            );
            assert!(
                (c.normal - normal).abs() < 2e-6,
                "{degrees} {alpha}: {} {normal}",
                c.normal
            );
        }
    }

    #[test]
    fn shapes_that_cannot_be_are_refused() {
        assert!(matches!(
            BluntCone::new(3.1, 1.0, 1.2),
            Err(ShapeError::NoseRadius { .. })
        ));
        assert!(matches!(
            BluntCone::new(0.5, 0.0, 1.2),
            Err(ShapeError::BaseRadius(_))
        ));
        assert!(matches!(
            BluntCone::new(0.5, 1.0, 1.6),
            Err(ShapeError::HalfAngle(_))
        ));
        assert!(matches!(
            BluntCone::segment(0.9, 1.0),
            Err(ShapeError::Segment { .. })
        ));
        assert!(matches!(
            BluntCone::new(f64::NAN, 1.0, 1.0),
            Err(ShapeError::NoseRadius { .. })
        ));
    }

    #[test]
    fn the_heating_radius_of_a_capsule_is_below_its_sphere() {
        let capsule = BluntCone::segment(4.69, 1.956).unwrap();
        assert!((capsule.heating_radius_hint_m() - 3.91).abs() < 0.02);
        assert_eq!(
            BluntCone::segment(2.0, 2.0)
                .unwrap()
                .heating_radius_hint_m(),
            2.0
        );
        assert_eq!(
            BluntCone::new(0.6, 1.3, 1.2)
                .unwrap()
                .heating_radius_hint_m(),
            0.6
        );
    }
}
