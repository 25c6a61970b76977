//! What the people aboard may be given: a curve of level against duration along an axis of the seat,
//! watched at its own levels in every pass.

use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::craft::limit_curve::{CurveError, LimitCurve};
use crate::craft::named_curves::{ComfortLevel, NamedCurve};
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
    /// The curves have more levels than a pass can watch.
    #[error("with these curves {0} levels are to be watched, {max} at the most", max = Limits::MAX_WATCHED)]
    TooManyLevels(usize),
    /// Two curves for one axis.
    #[error("the seat feels the braking along {symbol}, for which there is a curve already: give `other_axes` the other ones", symbol = .0.symbol())]
    Twice(SeatAxis),
}

/// The curves as they are watched.
#[derive(Debug, Clone, PartialEq)]
pub struct PeopleWatch {
    /// The curve along the axis in which the seat feels the braking, then those along others.
    curves: Vec<WatchedCurve>,
    /// Seat components of one unit of what is sensed.
    felt: [f64; 3],
}

/// A curve along one axis of the seat, in terms of what is sensed in all.
#[derive(Debug, Clone, PartialEq)]
struct WatchedCurve {
    axis: SeatAxis,
    /// Share of what is sensed that acts along the axis, above 0.
    share: f64,
    /// Where its levels begin among those that are watched.
    first: usize,
    /// Longest stay above each level, s.
    allowed_s: Vec<f64>,
    /// Sensed acceleration that may not be passed for any time, m/s².
    peak_m_s2: f64,
    /// Where the curve comes from.
    source: String,
}

impl WatchedCurve {
    /// Adds the curve's levels, as sensed accelerations in m/s², to those watched.
    fn new(
        curve: &LimitCurve,
        share: f64,
        levels_m_s2: &mut Vec<f64>,
    ) -> Result<Self, PeopleError> {
        let levels_g = curve.levels(0);
        let first = levels_m_s2.len();
        if first + levels_g.len() > Limits::MAX_WATCHED {
            return Err(PeopleError::TooManyLevels(first + levels_g.len()));
        }
        levels_m_s2.extend(levels_g.iter().map(|level| level * G0 / share));
        let allowed = levels_g.iter().map(|&level| curve.allowed_s(level));
        Ok(Self {
            axis: curve.axis(),
            share,
            first,
            allowed_s: allowed.collect(),
            peak_m_s2: curve.peak_g() * G0 / share,
            source: curve.source().to_owned(),
        })
    }

    fn broken(&self, pass: &PassResult) -> bool {
        let stays = pass.longest_stay_s.iter().skip(self.first);
        let mut stays = stays.zip(&self.allowed_s);
        pass.peak_deceleration_m_s2 > self.peak_m_s2 || stays.any(|(stay, allowed)| stay > allowed)
    }
}

impl PeopleWatch {
    /// The watch of the curves for a ship of this lift-to-drag ratio; the seat stands to the stream as the
    /// scenario says when the ship is at its trim. Adds the levels to those watched.
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
        let mut main = (SeatAxis::PlusX, 0.0);
        for candidate in SeatAxis::ALL {
            let part = candidate.part(felt);
            if part > main.1 {
                main = (candidate, part);
            }
        }
        let curve = match &people.curve {
            PeopleCurve::Named(name) => named(name, main.0)?,
            PeopleCurve::Own(points) => own(main.0, points)?,
        };
        let mut curves = vec![WatchedCurve::new(&curve, main.1, levels_m_s2)?];
        for (symbol, points) in &people.other_axes {
            let Some(axis) = SeatAxis::with_symbol(symbol) else {
                continue;
            };
            if axis == main.0 {
                return Err(PeopleError::Twice(axis));
            }
            let curve = own(axis, points)?;
            let share = axis.part(felt);
            // Along an axis in which the seat feels nothing there is nothing to watch.
            if share > 1e-9 {
                curves.push(WatchedCurve::new(&curve, share, levels_m_s2)?);
            }
        }
        Ok(Self { curves, felt })
    }

    /// Whether a pass goes above a curve's highest level, or stays above one of its levels longer than it allows.
    #[must_use]
    pub fn broken(&self, pass: &PassResult) -> bool {
        self.curves.iter().any(|curve| curve.broken(pass))
    }

    /// Each level of every curve by its place among those that are watched, and the longest stay above it, s:
    /// infinite where the curve sets none.
    pub fn allowed(&self) -> impl Iterator<Item = (usize, f64)> {
        let curves = self.curves.iter();
        curves.flat_map(|curve| (curve.first..).zip(curve.allowed_s.iter().copied()))
    }

    /// The sensed acceleration that no curve lets pass for any time, m/s².
    #[must_use]
    pub fn peak_m_s2(&self) -> f64 {
        let peaks = self.curves.iter().map(|curve| curve.peak_m_s2);
        peaks.fold(f64::INFINITY, f64::min)
    }

    /// The axes that are watched, that of the braking first, each with the share of the sensed acceleration that
    /// acts along it and where its curve comes from.
    pub fn watched(&self) -> impl Iterator<Item = (SeatAxis, f64, &str)> {
        let curves = self.curves.iter();
        curves.map(|curve| (curve.axis, curve.share, &*curve.source))
    }

    /// The symbols of the axes that are watched.
    #[must_use]
    pub fn symbols(&self) -> Vec<&'static str> {
        self.watched().map(|(axis, ..)| axis.symbol()).collect()
    }

    /// The axes along which the seat feels something without a curve for it, with the share of the sensed
    /// acceleration.
    #[must_use]
    pub fn unwatched(&self) -> Vec<(SeatAxis, f64)> {
        let parts = SeatAxis::ALL.map(|axis| (axis, axis.part(self.felt)));
        let watched = |axis| self.curves.iter().any(|curve| curve.axis == axis);
        let open = |&(axis, part): &(SeatAxis, f64)| part > 1e-6 && !watched(axis);
        parts.into_iter().filter(open).collect()
    }
}

/// A curve or a level of comfort by its name, along an axis.
fn named(name: &str, axis: SeatAxis) -> Result<LimitCurve, PeopleError> {
    match NamedCurve::find(name) {
        Ok(curve) => Ok(curve.along(axis)?),
        Err(unknown) => match ComfortLevel::find(name) {
            Ok(level) => Ok(level.along(axis)?),
            Err(_) => Err(unknown.into()),
        },
    }
}

fn own(axis: SeatAxis, points: &[(f64, f64)]) -> Result<LimitCurve, PeopleError> {
    let points: Vec<(f64, f64)> = points.iter().map(|&(s, a)| (s, a / G0)).collect();
    Ok(LimitCurve::own(axis, &points, "the scenario's own")?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn people(curve: &str, seat: SeatChoice) -> People {
        People {
            curve: PeopleCurve::Named(curve.to_owned()),
            seat,
            recline_rad: 0.0,
            other_axes: Vec::new(),
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
        let axes: Vec<(SeatAxis, f64, &str)> = watch.watched().collect();
        assert!(
            matches!(axes[..], [(SeatAxis::PlusX, 1.0, source)] if source.contains("[V2 6064]"))
        );
        assert_eq!(watch.unwatched(), []);
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
