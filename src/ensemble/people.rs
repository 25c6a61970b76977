//! What the people aboard may be given: a curve of level against duration along an axis of the seat,
//! held against all levels of every pass.

use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::craft::limit_curve::{CurveError, LimitCurve};
use crate::craft::named_curves::{ComfortLevel, NamedCurve};
use crate::craft::people::{Seat, SeatAxis};
use crate::pass::PassResult;
use crate::pass::exposure::{Curves, SensedCurve};
use crate::scenario::people::{People, PeopleCurve, SeatChoice, SeveralPeaks};

/// A curve that cannot be watched.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PeopleError {
    /// The curve is not known, not in order, or not of this axis.
    #[error("{0}")]
    Curve(#[from] CurveError),
    /// Two curves for one axis.
    #[error("the seat feels the braking along {symbol}, for which there is a curve already: give `other_axes` the other ones", symbol = .0.symbol())]
    Twice(SeatAxis),
}

/// The curves as they are watched.
#[derive(Debug, Clone, PartialEq)]
pub struct PeopleWatch {
    /// The curve along the axis in which the seat feels the braking, then those along others.
    watched: Vec<WatchedCurve>,
    /// The same in terms of what is sensed in all, in this order.
    curves: Curves,
    /// Levels that may be given over those of the curves.
    level_factor: f64,
    /// Seat components of one unit of what is sensed.
    felt: [f64; 3],
}

/// A curve along one axis of the seat.
#[derive(Debug, Clone, PartialEq)]
struct WatchedCurve {
    curve: LimitCurve,
    /// Share of what is sensed that acts along the axis, above 0.
    share: f64,
}

impl WatchedCurve {
    fn sensed(&self) -> Result<SensedCurve, CurveError> {
        let points = self.curve.points().iter();
        let points: Vec<(f64, f64)> = points.map(|&(s, g)| (s, g * G0 / self.share)).collect();
        SensedCurve::new(&points).ok_or(CurveError::NoPoints)
    }
}

/// The level at which a pass is hardest on the curves, along the axis of the curve it is hardest on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HardestLevel {
    /// The axis.
    pub axis: SeatAxis,
    /// The level over the one that may last as long; beyond the level factor the curve is broken.
    pub ratio: f64,
    /// The level along the axis, g.
    pub level_g: f64,
    /// How long it was stayed at or above, s: in one stay or in all, as several peaks count.
    pub stay_s: f64,
    /// How long the curve allows for that level, with its levels times the level factor, s: 0 above the highest one,
    /// infinite below the lowest one.
    pub allowed_s: f64,
}

impl PeopleWatch {
    /// The watch of the curves for a ship of this lift-to-drag ratio; the seat stands to the stream as the
    /// scenario says when the ship is at its trim.
    pub(super) fn new(people: &People, lift_to_drag: f64) -> Result<Self, PeopleError> {
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
        let mut watched = vec![WatchedCurve {
            curve,
            share: main.1,
        }];
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
                watched.push(WatchedCurve { curve, share });
            }
        }
        let list = watched.iter().map(WatchedCurve::sensed);
        let curves = Curves {
            list: list.collect::<Result<_, _>>()?,
            several_peaks: people.several_peaks,
        };
        Ok(Self {
            watched,
            curves,
            level_factor: people.level_factor,
            felt,
        })
    }

    /// The curves in terms of what is sensed in all, for the passes to be held against.
    #[must_use]
    pub fn curves(&self) -> &Curves {
        &self.curves
    }

    /// Levels that may be given over those of the curves.
    #[must_use]
    pub fn level_factor(&self) -> f64 {
        self.level_factor
    }

    /// How several peaks of a pass count.
    #[must_use]
    pub fn several_peaks(&self) -> SeveralPeaks {
        self.curves.several_peaks
    }

    /// The level at which a pass is hardest on the curves; `None` where it felt nothing.
    #[must_use]
    pub fn hardest(&self, pass: &PassResult) -> Option<HardestLevel> {
        let exposure = pass.exposure?;
        let WatchedCurve { curve, share } = self.watched.get(exposure.curve)?;
        let level_g = exposure.level_m_s2 * share / G0;
        Some(HardestLevel {
            axis: curve.axis(),
            ratio: exposure.ratio,
            level_g,
            stay_s: exposure.stay_s,
            allowed_s: curve.allowed_s(level_g / self.level_factor),
        })
    }

    /// The axes that are watched, that of the braking first, each with the share of the sensed acceleration that
    /// acts along it and where its curve comes from.
    pub fn watched(&self) -> impl Iterator<Item = (SeatAxis, f64, &str)> {
        let watched = self.watched.iter();
        watched.map(|watched| (watched.curve.axis(), watched.share, watched.curve.source()))
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
        let watched = |axis| {
            self.watched
                .iter()
                .any(|watched| watched.curve.axis() == axis)
        };
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
    use crate::ensemble::LimitKind;
    use crate::ensemble::limits::measured;
    use crate::pass::trace::Trace;

    fn people(curve: &str, seat: SeatChoice) -> People {
        People {
            curve: PeopleCurve::Named(curve.to_owned()),
            seat,
            recline_rad: 0.0,
            other_axes: Vec::new(),
            level_factor: 1.0,
            several_peaks: SeveralPeaks::LongestSingleStay,
        }
    }

    /// NASA-STD-3001 Vol 2 Rev F Table 6.5-1 [V2 6064], +Gx, deconditioned (published): 10 g for 10 s, 8 g for 30 s.
    #[test]
    fn a_pass_is_held_against_the_published_curve() {
        let people = people("nasa-std-3001-deconditioned", SeatChoice::BackToStream);
        let watch = PeopleWatch::new(&people, 0.0).unwrap();
        let axes: Vec<(SeatAxis, f64, &str)> = watch.watched().collect();
        assert!(
            matches!(axes[..], [(SeatAxis::PlusX, 1.0, source)] if source.contains("[V2 6064]"))
        );
        assert_eq!(watch.unwatched(), []);
        let held = |level_g: f64, time_s: f64| PassResult {
            peak_deceleration_m_s2: level_g * G0,
            exposure: watch.curves().exposure(&Trace::held(level_g * G0, time_s)),
            ..PassResult::default()
        };
        let broken = |pass: &PassResult| {
            measured(LimitKind::People, pass).is_none_or(|ratio| ratio > watch.level_factor())
        };
        assert!(!broken(&held(8.0, 29.9)));
        assert!(broken(&held(8.0, 30.1)));
        // Between the points: √(10·8) g may last √(10·30) s (computed).
        assert!(!broken(&held(80_f64.sqrt(), 0.999 * 300_f64.sqrt())));
        let beyond = held(80_f64.sqrt(), 1.001 * 300_f64.sqrt());
        assert!(broken(&beyond));
        let hardest = watch.hardest(&beyond).unwrap();
        assert!((hardest.level_g / 80_f64.sqrt() - 1.0).abs() < 1e-12);
        assert!((hardest.allowed_s / 300_f64.sqrt() - 1.0).abs() < 1e-9);
        // What was not measured proves nothing.
        assert!(broken(&PassResult {
            exposure: None,
            ..held(1.0, 1.0)
        }));
    }

    #[test]
    fn an_axis_without_a_published_curve_asks_for_the_users_numbers() {
        let facing = people("nasa-std-3001-deconditioned", SeatChoice::FacingStream);
        let refused = PeopleWatch::new(&facing, 0.0).unwrap_err();
        assert!(refused.to_string().contains("give your own"), "{refused}");
        let own = People {
            curve: PeopleCurve::Own(vec![(1.0, 3.0 * G0), (60.0, 1.5 * G0)]),
            ..facing
        };
        assert!(PeopleWatch::new(&own, 0.3).is_ok());
    }
}
