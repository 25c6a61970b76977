//! What the delivery spreads over at the entry interface, against the corridor.

use super::{AtArrival, angle_at};
use crate::ensemble::Problem;
use crate::ensemble::problem::SampleNumber;
use crate::pass::orbit::Orbit;
use nalgebra::{Matrix2, SymmetricEigen};

/// Most samples that are drawn.
pub(super) const MOST: u64 = 4000;
/// Least spread that makes an ellipse, in units of the mean.
const NONE: f64 = 1e-12;

/// An ellipse of a plane: its centre and the two half axes of one standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// Centre.
    pub centre: (f64, f64),
    /// Half axes of one standard deviation, the longer (in the units used) first.
    pub axes: [(f64, f64); 2],
}

impl Ellipse {
    /// The ellipse of some points; `None` below three points or without spread in either direction.
    ///
    /// Axes of the sample covariance by its eigenvectors, in units of the standard deviations.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
    pub fn of(points: &[(f64, f64)]) -> Option<Self> {
        if points.len() < 3 {
            return None;
        }
        let count = points.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let (x, y) = (mean(|p| p.0), mean(|p| p.1));
        let moment = |of: &dyn Fn(f64, f64) -> f64| {
            points.iter().map(|p| of(p.0 - x, p.1 - y)).sum::<f64>() / (count - 1.0)
        };
        let (xx, xy, yy) = (
            moment(&|a, _| a * a),
            moment(&|a, b| a * b),
            moment(&|_, b| b * b),
        );
        let (sx, sy) = (xx.sqrt(), yy.sqrt());
        if !(sx > NONE * x.abs() && sy > NONE * y.abs()) {
            return None;
        }
        let correlation = Matrix2::new(1.0, xy / (sx * sy), xy / (sx * sy), 1.0);
        let eigen = SymmetricEigen::new(correlation);
        let axis = |i: usize| {
            let length = eigen.eigenvalues[i].max(0.0).sqrt();
            let direction = eigen.eigenvectors.column(i);
            (length * direction[0] * sx, length * direction[1] * sy)
        };
        let order = if eigen.eigenvalues[0] >= eigen.eigenvalues[1] {
            [0, 1]
        } else {
            [1, 0]
        };
        Some(Self {
            centre: (x, y),
            axes: order.map(axis),
        })
    }

    /// Points around the ellipse that holds this share of a normal distribution, 0 to 1.
    #[must_use]
    pub fn outline(&self, share: f64) -> Vec<(f64, f64)> {
        const POINTS: u32 = 120;
        let scale = (-2.0 * (1.0 - share).ln()).sqrt();
        let [a, b] = self.axes;
        (0..=POINTS)
            .map(|i| {
                let turn = std::f64::consts::TAU * f64::from(i) / f64::from(POINTS);
                let (sine, cosine) = turn.sin_cos();
                (
                    self.centre.0 + scale * (cosine * a.0 + sine * b.0),
                    self.centre.1 + scale * (cosine * a.1 + sine * b.1),
                )
            })
            .collect()
    }
}

/// What the delivery spreads over, aimed at one altitude.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivered {
    /// The aim, m.
    pub aim_m: f64,
    /// Entry speed (m/s) and flight-path angle (rad), both inertial at the interface, of some samples.
    pub points: Vec<(f64, f64)>,
    /// Vacuum periapsis altitude of the same samples, m.
    pub periapsis_m: Vec<f64>,
    /// Standard deviation of the flight-path angle, rad.
    pub angle_sigma_rad: f64,
    /// Standard deviation of the entry speed, m/s.
    pub speed_sigma_m_s: f64,
    /// Standard deviation of the vacuum periapsis, m.
    pub periapsis_sigma_m: f64,
    /// Their ellipse in speed and angle, where both spread.
    pub ellipse: Option<Ellipse>,
    /// Samples drawn, those without an approach included.
    pub samples: u64,
    /// How many of the samples lie in the corridor of their own speed: in an upper bound of it for a ship with lift.
    pub inside: u64,
}

/// Draws the delivery at an aim (m) and sets it against the corridors of the arrivals.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
pub fn delivered(
    problem: &Problem,
    (aim_m, samples): (f64, u64),
    arrivals: &[AtArrival],
) -> Option<Delivered> {
    if problem.is_deterministic() {
        return None;
    }
    let gm = problem.planet().gm_m3_s2;
    let (own, _) = problem.launch(aim_m, problem.nominal(), SampleNumber::Nominal)?;
    let surface = Orbit::from_state(gm, own.position, own.velocity).periapsis_radius_m - aim_m;
    let mut points = Vec::new();
    let mut periapsis_m = Vec::new();
    let samples = samples.min(MOST);
    for sample in 0..samples {
        let numbers = problem.numbers(sample);
        if let Some((start, _)) = problem.launch(aim_m, &numbers, SampleNumber::Of(sample)) {
            let orbit = Orbit::from_state(gm, start.position, start.velocity);
            points.push((
                start.inertial_speed_m_s(),
                start.inertial_flight_path_angle_rad(),
            ));
            periapsis_m.push(orbit.periapsis_radius_m - surface);
        }
    }
    if points.len() < 2 {
        return None;
    }
    let sigma = |values: &[f64]| {
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let squares = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
        (squares / (count - 1.0)).sqrt()
    };
    let speeds: Vec<f64> = points.iter().map(|p| p.0).collect();
    let angles: Vec<f64> = points.iter().map(|p| p.1).collect();
    let edges = edges(problem, arrivals);
    let inside = points
        .iter()
        .filter(|&&(speed, angle)| {
            at_speed(&edges, speed).is_some_and(|(low, high)| angle >= low && angle <= high)
        })
        .count();
    Some(Delivered {
        aim_m,
        angle_sigma_rad: sigma(&angles),
        speed_sigma_m_s: sigma(&speeds),
        periapsis_sigma_m: sigma(&periapsis_m),
        ellipse: Ellipse::of(&points),
        samples,
        inside: inside as u64,
        points,
        periapsis_m,
    })
}

/// Entry speed and the angles of both edges of each open corridor, the speed rising.
fn edges(problem: &Problem, arrivals: &[AtArrival]) -> Vec<(f64, f64, f64)> {
    arrivals
        .iter()
        .filter_map(|at| {
            let stretch = at.corridor.open()?;
            Some((
                at.entry_speed_m_s,
                angle_at(problem, stretch.low.aim_m, &at.numbers)?,
                angle_at(problem, stretch.high.aim_m, &at.numbers)?,
            ))
        })
        .collect()
}

/// The angles of the edges at an entry speed, straight between neighbours.
fn at_speed(edges: &[(f64, f64, f64)], speed: f64) -> Option<(f64, f64)> {
    match edges {
        [] => None,
        [only] => Some((only.1, only.2)),
        _ => {
            let after = edges.partition_point(|edge| edge.0 < speed);
            let after = after.clamp(1, edges.len() - 1);
            let (a, b) = (edges[after - 1], edges[after]);
            let place = (speed - a.0) / (b.0 - a.0);
            Some((place.mul_add(b.1 - a.1, a.1), place.mul_add(b.2 - a.2, a.2)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points on a cross of known moments: variances and covariance by hand.
    #[test]
    fn the_axes_are_those_of_the_covariance() {
        let points = [
            (2.0, 1.0),
            (-2.0, -1.0),
            (1.0, -2.0),
            (-1.0, 2.0),
            (0.0, 0.0),
        ];
        // Σx² = 10, Σy² = 10, Σxy = 2 + 2 - 2 - 2 = 0, over n - 1 = 4.
        let ellipse = Ellipse::of(&points).expect("spreads");
        let [a, b] = ellipse.axes;
        let (xx, yy, xy) = (
            a.0 * a.0 + b.0 * b.0,
            a.1 * a.1 + b.1 * b.1,
            a.0 * a.1 + b.0 * b.1,
        );
        assert!((xx - 2.5).abs() < 1e-12 && (yy - 2.5).abs() < 1e-12 && xy.abs() < 1e-12);
        // 1 - exp(-r²/2) of a normal distribution in the plane lies within r (common knowledge).
        let farthest = ellipse.outline(0.95)[0];
        let r = farthest.0.hypot(farthest.1);
        assert!((r - 2.5_f64.sqrt() * 5.991_464_547_f64.sqrt()).abs() < 1e-8);
        assert!(Ellipse::of(&[(1.0, 0.0), (1.0, 1.0), (1.0, 2.0)]).is_none());
    }
}
