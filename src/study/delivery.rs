//! Whether the errors of the arrival fit it: how far each turns the entry and moves it, and what share of its own
//! spread fits no approach at all.
//!
//! A slow ship near the highest point of its way is the case: its periapsis lies thousands of kilometres below
//! the ground, and a few kilometres of it are all the room there is between its entry and none.

use crate::ensemble::Problem;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::Vec3;
use crate::pass::EntryState;
use crate::scenario::uncertainty::Number;

/// How far out an error is looked at, in standard deviations.
const REACH: f64 = 4.0;
/// Places between the median and there.
const PLACES: u32 = 400;
/// Half the distance over which a derivative is taken, in standard deviations.
const NEAR: f64 = 0.05;
/// An error is ill-conditioned where one standard deviation turns the entry by more than this share of its angle: then
/// [`REACH`] of them bring it to level, in a straight line.
const SHARE_OF_ANGLE: f64 = 1.0 / REACH;
/// The same where it moves the place of entry by more than this, rad: 5 deg, some hundred kilometres.
const FARTHEST_RAD: f64 = 0.087;

/// An error that the arrival does not fit well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IllConditioned {
    /// The uncertain number.
    pub number: Number,
    /// The aim (vacuum periapsis altitude) it is looked at, m.
    pub aim_m: f64,
    /// Inertial flight-path angle at the interface there without errors, rad.
    pub angle_rad: f64,
    /// Derivative of that angle by the number, times its standard deviation, rad, 0 or more.
    pub turned_rad: f64,
    /// The same of the place of entry, as an angle at the centre, rad.
    pub moved_rad: f64,
    /// Share of its deliveries within four standard deviations that fit no approach, 0 to 1.
    pub without_approach: f64,
}

/// The errors of delivery, energy and plane that are ill-conditioned for the arrival: at either end or the middle of the
/// range of aims some of their spread fits no approach, or in the middle they turn or move the entry by more than it can
/// bear.
#[must_use]
pub fn ill_conditioned(problem: &Problem) -> Vec<IllConditioned> {
    let range = problem.aim();
    let middle_m = f64::midpoint(range.from_m, range.to_m);
    let coordinates = problem.coordinates();
    let of_the_arrival = coordinates.iter().enumerate().filter(|(_, number)| {
        Number::DELIVERY.contains(number)
            || matches!(
                number,
                Number::ArrivalEnergy | Number::Inclination | Number::ArgumentOfPeriapsis
            )
    });
    let worst = |(place, &number): (usize, &Number)| {
        let at = |aim_m| look(problem, (place, number), aim_m);
        let middle = at(middle_m).filter(|found| {
            found.without_approach > 0.0
                || found.turned_rad > SHARE_OF_ANGLE * found.angle_rad.abs()
                || found.moved_rad > FARTHEST_RAD
        });
        let ends = [range.from_m, range.to_m].map(|aim_m| {
            let found = (!range.is_single()).then(|| at(aim_m)).flatten();
            found.filter(|found| found.without_approach > 0.0)
        });
        let found = ends.into_iter().chain([middle]).flatten();
        found.max_by(|a, b| a.without_approach.total_cmp(&b.without_approach))
    };
    of_the_arrival.filter_map(worst).collect()
}

/// What one number (at its place among the coordinates) does at an aim (m); `None` where the arrival has no entry there.
fn look(problem: &Problem, (place, number): (usize, Number), aim_m: f64) -> Option<IllConditioned> {
    let entry = |score: f64| -> Option<EntryState> {
        let mut scores = vec![0.0; problem.dimensions()];
        scores[place] = score;
        let numbers = problem.numbers_at(&scores);
        let launched = problem.launch(aim_m, &numbers, SampleNumber::Nominal);
        launched.map(|(start, _)| start)
    };
    let middle = entry(0.0).filter(|start| start.meets_air)?;
    // On one side alone where the other fits no approach.
    let (below, above) = (entry(-NEAR), entry(NEAR));
    let (one, other) = (below.unwrap_or(middle), above.unwrap_or(middle));
    let apart = NEAR * f64::from(u8::from(below.is_some()) + u8::from(above.is_some()));
    let slope = |change: f64| {
        if apart > 0.0 {
            change / apart
        } else {
            f64::INFINITY
        }
    };
    let angle = EntryState::inertial_flight_path_angle_rad;
    let (mut without, mut all) = (0.0, 0.0);
    let places = -i64::from(PLACES)..=i64::from(PLACES);
    for step in places {
        #[expect(clippy::cast_precision_loss, reason = "some hundred")]
        let score = REACH * step as f64 / f64::from(PLACES);
        let weight = (-0.5 * score * score).exp();
        all += weight;
        if entry(score).is_none() {
            without += weight;
        }
    }
    Some(IllConditioned {
        number,
        aim_m,
        angle_rad: angle(&middle),
        turned_rad: slope((angle(&other) - angle(&one)).abs()),
        moved_rad: slope(between(one.position, other.position)),
        without_approach: without / all,
    })
}

/// The angle between two directions, rad.
fn between(a: Vec3<f64>, b: Vec3<f64>) -> f64 {
    libm::atan2(a.cross(b).norm(), a.dot(b))
}
