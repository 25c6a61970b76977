//! What a passenger feels along the axes of the seat, from the ship's attitude and how the seat
//! stands in it. What may be felt, and how long, is in `limit_curve` and `named_curves`.

use crate::numeric::{Real, Vec3};

/// A direction in which a seated person is accelerated, by the customary names of physiology.
///
/// The sign is that of the acceleration of the seat: +x forward (eyeballs in, chest to back), +y to
/// the right (eyeballs left), +z toward the head (eyeballs down). From memory of the usual
/// convention (Gell 1961; AGARD).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeatAxis {
    /// Chest to back, eyeballs in.
    PlusX,
    /// Back to chest, eyeballs out.
    MinusX,
    /// To the right.
    PlusY,
    /// To the left.
    MinusY,
    /// Toward the head, eyeballs down.
    PlusZ,
    /// Toward the feet, eyeballs up.
    MinusZ,
}

impl SeatAxis {
    /// All six.
    pub const ALL: [Self; 6] = [
        Self::PlusX,
        Self::MinusX,
        Self::PlusY,
        Self::MinusY,
        Self::PlusZ,
        Self::MinusZ,
    ];

    /// The customary symbol.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::PlusX => "+Gx",
            Self::MinusX => "-Gx",
            Self::PlusY => "+Gy",
            Self::MinusY => "-Gy",
            Self::PlusZ => "+Gz",
            Self::MinusZ => "-Gz",
        }
    }

    /// The direction in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PlusX => "chest to back",
            Self::MinusX => "back to chest",
            Self::PlusY => "to the right",
            Self::MinusY => "to the left",
            Self::PlusZ => "toward the head",
            Self::MinusZ => "toward the feet",
        }
    }

    /// The axis with this symbol.
    #[must_use]
    pub fn with_symbol(symbol: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|axis| axis.symbol() == symbol)
    }

    /// The part of seat components (x, y, z) that acts along this axis, 0 where they act against it.
    #[must_use]
    pub fn part(self, components: [f64; 3]) -> f64 {
        let [x, y, z] = components;
        let along = match self {
            Self::PlusX => x,
            Self::MinusX => -x,
            Self::PlusY => y,
            Self::MinusY => -y,
            Self::PlusZ => z,
            Self::MinusZ => -z,
        };
        along.max(0.0)
    }
}

/// A seat that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SeatError {
    /// A direction without length, or not finite.
    #[error("the seat's forward and head directions must have a length")]
    NoDirection,
    /// The two directions are not square to each other.
    #[error(
        "the seat's forward and head directions must be square to each other, the angle is {angle_deg:.2} deg"
    )]
    NotSquare {
        /// The angle between them, degrees.
        angle_deg: f64,
    },
}

/// How a seat stands in the ship.
///
/// Ship axes: x forward along the ship's axis, into the stream at zero angle of attack; y to the
/// right; z down, away from the lift of a positive lift coefficient. The heat shield of a capsule
/// is at its front.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seat {
    forward: Vec3<f64>,
    right: Vec3<f64>,
    head: Vec3<f64>,
}

impl Seat {
    /// A seat by the directions, in ship axes, in which its occupant faces and in which the head is.
    /// Lengths do not matter; the angle between them must be 90° to within 0.1°.
    ///
    /// # Errors
    /// [`SeatError`] for directions that make no seat.
    pub fn new(forward: Vec3<f64>, head: Vec3<f64>) -> Result<Self, SeatError> {
        let (forward, head) = (forward.unit(), head.unit());
        let cosine = forward.dot(head);
        if !cosine.is_finite() {
            return Err(SeatError::NoDirection);
        }
        let angle_deg = libm::acos(cosine.clamp(-1.0, 1.0)).to_degrees();
        if (angle_deg - 90.0).abs() > 0.1 {
            return Err(SeatError::NotSquare { angle_deg });
        }
        let head = forward.scale_add(-cosine, head).unit();
        Ok(Self {
            forward,
            right: forward.cross(head),
            head,
        })
    }

    /// On the back against the stream, head toward the lift: braking is felt as +Gx.
    #[must_use]
    pub fn back_to_stream() -> Self {
        Self::of([-1.0, 0.0, 0.0], [0.0, 0.0, -1.0])
    }

    /// Upright and facing the stream: braking is felt as -Gx.
    #[must_use]
    pub fn facing_stream() -> Self {
        Self::of([1.0, 0.0, 0.0], [0.0, 0.0, -1.0])
    }

    /// Feet toward the stream, facing the lift: braking is felt as +Gz.
    #[must_use]
    pub fn feet_to_stream() -> Self {
        Self::of([0.0, 0.0, -1.0], [-1.0, 0.0, 0.0])
    }

    /// The same seat leaned back by an angle (rad): the chest turns toward where the head was.
    #[must_use]
    pub fn reclined(&self, angle_rad: f64) -> Self {
        let (sine, cosine) = (libm::sin(angle_rad), libm::cos(angle_rad));
        Self {
            forward: self.head.scale_add(sine, self.forward.scale(cosine)),
            right: self.right,
            head: self.forward.scale_add(-sine, self.head.scale(cosine)),
        }
    }

    fn of(forward: [f64; 3], head: [f64; 3]) -> Self {
        let vector = |[x, y, z]: [f64; 3]| Vec3::new(x, y, z);
        let (forward, head) = (vector(forward), vector(head));
        Self {
            forward,
            right: forward.cross(head),
            head,
        }
    }

    /// What one unit of drag and of lift acceleration gives along the seat's axes, at an angle of attack
    /// (rad) and no sideslip. The bank angle does not matter: ship and lift roll together.
    ///
    /// In ship axes drag acts along (-cos α, 0, -sin α) and lift along (sin α, 0, -cos α).
    #[must_use]
    pub fn factors(&self, angle_of_attack_rad: f64) -> SeatFactors {
        let (sine, cosine) = (
            libm::sin(angle_of_attack_rad),
            libm::cos(angle_of_attack_rad),
        );
        let drag = Vec3::new(-cosine, 0.0, -sine);
        let lift = Vec3::new(sine, 0.0, -cosine);
        let axes = [self.forward, self.right, self.head];
        SeatFactors {
            per_drag: axes.map(|axis| axis.dot(drag)),
            per_lift: axes.map(|axis| axis.dot(lift)),
        }
    }
}

/// Seat components (x, y, z) of one unit of drag and of lift acceleration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeatFactors {
    /// Of drag acceleration.
    pub per_drag: [f64; 3],
    /// Of lift acceleration.
    pub per_lift: [f64; 3],
}

impl SeatFactors {
    /// Components (x, y, z) in the seat of what is sensed, in the unit of `drag` and `lift`
    /// (accelerations by the air; lift positive toward a positive lift coefficient).
    #[inline(always)]
    #[must_use]
    pub fn resolve<R: Real>(&self, drag: R, lift: R) -> [R; 3] {
        let [xd, yd, zd] = self.per_drag;
        let [xl, yl, zl] = self.per_lift;
        [
            R::splat(xl).mul_add(lift, R::splat(xd) * drag),
            R::splat(yl).mul_add(lift, R::splat(yd) * drag),
            R::splat(zl).mul_add(lift, R::splat(zd) * drag),
        ]
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;
    use crate::numeric::Lanes;

    fn close(a: [f64; 3], b: [f64; 3]) -> bool {
        a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-14)
    }

    #[test]
    fn braking_is_felt_along_the_axis_of_the_seat() {
        let felt = |seat: Seat| seat.factors(0.0).resolve(3.0, 0.0);
        assert!(close(felt(Seat::back_to_stream()), [3.0, 0.0, 0.0]));
        assert!(close(felt(Seat::facing_stream()), [-3.0, 0.0, 0.0]));
        assert!(close(felt(Seat::feet_to_stream()), [0.0, 0.0, 3.0]));
        let right = Vec3::new(0.0, 1.0, 0.0);
        let sideways = Seat::new(right, Vec3::new(0.0, 0.0, -1.0)).unwrap();
        // Facing right, the stream comes from the left hand and pushes to the right one.
        assert!(close(felt(sideways), [0.0, 3.0, 0.0]));
    }

    #[test]
    fn lift_pushes_toward_the_head_of_a_level_seat() {
        let seat = Seat::facing_stream();
        assert!(close(seat.factors(0.0).resolve(0.0, 2.0), [0.0, 0.0, 2.0]));
        // At 40 degrees of attack lift leans forward and drag pushes up.
        let alpha = 40_f64.to_radians();
        let felt = seat.factors(alpha).resolve(1.0, 1.0);
        let (sine, cosine) = alpha.sin_cos();
        assert!(close(felt, [sine - cosine, 0.0, sine + cosine]));
    }

    #[test]
    fn leaning_back_turns_braking_from_the_chest_to_the_head() {
        let seat = Seat::back_to_stream().reclined(30_f64.to_radians());
        let felt = seat.factors(0.0).resolve(1.0, 0.0);
        // The head tips toward the stream, so braking pushes toward the feet.
        assert!(close(felt, [0.75_f64.sqrt(), 0.0, -0.5]), "{felt:?}");
        // The chest tips toward the lift, which now pushes chest and head alike.
        let felt = seat.factors(0.0).resolve(0.0, 1.0);
        assert!(close(felt, [0.5, 0.0, 0.75_f64.sqrt()]), "{felt:?}");
    }

    #[test]
    fn components_keep_the_size_of_what_is_sensed() {
        let forward = Vec3::new(1.0, 2.0, 0.5);
        let head = forward.cross(Vec3::new(0.3, -0.7, 1.0));
        let seat = Seat::new(forward, head).unwrap();
        let [x, y, z] = seat.factors(0.4).resolve(3.0, -4.0);
        assert!((x * x + y * y + z * z - 25.0).abs() < 1e-12);
        let lanes = seat
            .factors(0.4)
            .resolve(Lanes::splat(3.0), Lanes::splat(-4.0));
        assert_eq!(lanes.map(|lane| lane.0[6]), [x, y, z]);
    }

    #[test]
    fn directions_that_make_no_seat_are_refused() {
        let x = Vec3::new(1.0, 0.0, 0.0);
        assert_eq!(Seat::new(x, x.scale(0.0)), Err(SeatError::NoDirection));
        let skew = Seat::new(x, Vec3::new(1.0, 1.0, 0.0))
            .unwrap_err()
            .to_string();
        assert!(skew.ends_with("the angle is 45.00 deg"), "{skew}");
    }

    #[test]
    fn each_axis_takes_the_part_along_it() {
        let parts = SeatAxis::ALL.map(|axis| axis.part([1.0, -2.0, 3.0]));
        assert_eq!(parts, [1.0, 0.0, 0.0, 2.0, 3.0, 0.0]);
    }
}
