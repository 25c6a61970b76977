//! What the people aboard may be given: a curve of level against duration along an axis of the seat,
//! watched at its own levels in every pass.

use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::craft::limit_curve::{CurveError, LimitCurve};
use crate::craft::named_curves::NamedCurve;
use crate::craft::people::{Seat, SeatAxis};
use crate::pass::PassResult;
use crate::scenario::limits::Limits;
use crate::scenario::people::{People, PeopleCurve, SeatChoice};

/// A curve that cannot be watched.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PeopleError {
    /// The curve is not known, not in order, or not of this axis.
    #[error("{0}")]
    Curve(#[from] CurveError),
    /// The curve has more levels than a pass can watch.
    #[error("the curve has {0} levels, at most 12 can be watched")]
    TooManyLevels(usize),
}

/// A curve as it is watched.
#[derive(Debug, Clone, PartialEq)]
pub struct PeopleWatch {
    /// Where its levels begin among those that are watched.
    first: usize,
    /// Longest stay above each level, s.
    allowed_s: Vec<f64>,
    /// The axis in which the seat feels the braking, and the share of what is sensed that acts along it.
    axis: (SeatAxis, f64),
    /// Where the curve comes from.
    source: String,
}

impl PeopleWatch {
    /// The watch of a curve for a ship of this lift-to-drag ratio at zero angle of attack; adds the curve's
    /// levels, as sensed accelerations in m/s², to those watched.
    pub(super) fn new(
        people: &People,
        lift_to_drag: f64,
        levels_m_s2: &mut Vec<f64>,
    ) -> Result<Self, PeopleError> {
        let seat = match people.seat {
            SeatChoice::BackToStream => Seat::back_to_stream(),
            SeatChoice::FacingStream => Seat::facing_stream(),
            SeatChoice::FeetToStream => Seat::feet_to_stream(),
        };
        let whole = (1.0 + lift_to_drag * lift_to_drag).sqrt();
        let felt = seat
            .reclined(people.recline_rad)
            .factors(0.0)
            .resolve(1.0 / whole, lift_to_drag / whole);
        // The axis that takes the most of what is sensed.
        let mut axis = (SeatAxis::PlusX, 0.0);
        for candidate in SeatAxis::ALL {
            let part = candidate.part(felt);
            if part > axis.1 {
                axis = (candidate, part);
            }
        }
        let curve = match &people.curve {
            PeopleCurve::Named(name) => NamedCurve::find(name)?.along(axis.0)?,
            PeopleCurve::Own(points) => {
                let points: Vec<(f64, f64)> = points.iter().map(|&(s, a)| (s, a / G0)).collect();
                LimitCurve::own(axis.0, &points, "the scenario's own")?
            }
        };
        let levels_g = curve.levels(0);
        let first = levels_m_s2.len();
        if first + levels_g.len() > Limits::MAX_WATCHED {
            return Err(PeopleError::TooManyLevels(levels_g.len()));
        }
        levels_m_s2.extend(levels_g.iter().map(|level| level * G0 / axis.1));
        Ok(Self {
            first,
            allowed_s: levels_g
                .iter()
                .map(|&level| curve.allowed_s(level))
                .collect(),
            axis,
            source: curve.source().to_owned(),
        })
    }

    /// Whether a pass stays above one of the levels longer than the curve allows.
    #[must_use]
    pub fn broken(&self, pass: &PassResult) -> bool {
        let stays = pass.longest_stay_s.iter().skip(self.first);
        stays
            .zip(&self.allowed_s)
            .any(|(stay, allowed)| stay > allowed)
    }

    /// Each level by its place among those that are watched, and the longest stay above it, s: infinite where
    /// the curve sets none.
    pub fn allowed(&self) -> impl Iterator<Item = (usize, f64)> {
        let places = self.first..;
        places.zip(self.allowed_s.iter().copied())
    }

    /// The axis of the seat and the share of the sensed acceleration that acts along it.
    #[must_use]
    pub fn axis(&self) -> (SeatAxis, f64) {
        self.axis
    }

    /// Where the curve comes from.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn people(curve: &str, seat: SeatChoice) -> People {
        People {
            curve: PeopleCurve::Named(curve.to_owned()),
            seat,
            recline_rad: 0.0,
        }
    }

    /// NASA-STD-3001 Vol 2 Rev F Table 6.5-1 [V2 6064], +Gx, deconditioned (published): 10 g for 10 s, 8 g for 30 s.
    #[test]
    fn a_pass_is_held_against_the_published_curve() {
        let mut levels = vec![5.0];
        let seat = SeatChoice::BackToStream;
        let watch = PeopleWatch::new(
            &people("nasa-std-3001-deconditioned", seat),
            0.0,
            &mut levels,
        )
        .unwrap();
        assert_eq!(watch.axis(), (SeatAxis::PlusX, 1.0));
        let at = levels
            .iter()
            .position(|&level| (level / G0 - 8.0).abs() < 1e-9)
            .expect("8 g is a level");
        let mut pass = PassResult::default();
        pass.longest_stay_s[at] = 29.0;
        assert!(!watch.broken(&pass));
        pass.longest_stay_s[at] = 31.0;
        assert!(watch.broken(&pass));
    }

    #[test]
    fn an_axis_without_a_published_curve_asks_for_the_users_numbers() {
        let facing = people("nasa-std-3001-deconditioned", SeatChoice::FacingStream);
        let refused = PeopleWatch::new(&facing, 0.0, &mut Vec::new()).unwrap_err();
        assert!(refused.to_string().contains("give your own"), "{refused}");
        let own = People {
            curve: PeopleCurve::Own(vec![(1.0, 3.0 * G0), (60.0, 1.5 * G0)]),
            ..facing
        };
        assert!(PeopleWatch::new(&own, 0.3, &mut Vec::new()).is_ok());
    }
}
