//! What a log knows: the quantities that people know a ship and an air by, and which combinations of the
//! uncertain numbers the readings tell apart.

use super::track::Track;
use crate::ensemble::prior::{Prior, lower};
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::numeric::Vec3;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// A quantity before and after, in SI.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    /// Stable key, with its unit.
    pub key: &'static str,
    /// Name for people.
    pub name: String,
    /// Unit for people.
    pub unit: &'static str,
    /// Middle and one-sigma before.
    pub before: (f64, f64),
    /// The same after.
    pub after: (f64, f64),
}

/// A combination of scores of ship and air, and how much narrower it has become.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// Share of each number, the largest first; their squares add up to 1.
    pub shares: Vec<(Number, f64)>,
    /// One-sigma after over that before, 0 to 1.
    pub left: f64,
}

/// Whether a number belongs to ship or air and so is there at the next pass too; the delivery and the
/// arrival of a pass are its own.
#[must_use]
pub fn stays(number: Number) -> bool {
    const ARRIVAL: [Number; 3] = [
        Number::ArrivalEnergy,
        Number::Inclination,
        Number::ArgumentOfPeriapsis,
    ];
    !Number::DELIVERY.contains(&number) && !ARRIVAL.contains(&number)
}

/// An estimate with its covariance.
pub(super) struct Posterior<'a> {
    pub(super) case: &'a Case,
    pub(super) aim_m: f64,
    pub(super) prior: &'a Prior,
    /// Standard scores of the estimate.
    pub(super) scores: &'a DVector<f64>,
    /// Their covariance.
    pub(super) covariance: &'a DMatrix<f64>,
}

/// Values of the quantities for one set of numbers.
type Values = [f64; 5];
/// Place of the density among them.
const DENSITY: usize = 2;
/// Place of its scale height.
const SCALE_HEIGHT: usize = 3;
/// Place of density over ballistic coefficient.
const DRAG: usize = 4;

impl Posterior<'_> {
    /// Ballistic coefficient, lift, density and scale height at the lowest point, and density over
    /// ballistic coefficient, as far as they are uncertain.
    pub(super) fn quantities(&self) -> Vec<Quantity> {
        let Some(at_m) = self.lowest_m() else {
            return Vec::new();
        };
        let km = at_m / 1e3;
        let names: [(&'static str, String, &'static str); 5] = [
            (
                "ballistic_coefficient_kg_m2",
                "ballistic coefficient".to_owned(),
                "kg/m²",
            ),
            (
                "lift_up_over_drag",
                "lift in the vertical plane over drag".to_owned(),
                "",
            ),
            ("density_kg_m3", format!("density at {km:.1} km"), "kg/m³"),
            ("scale_height_m", format!("scale height at {km:.1} km"), "m"),
            (
                "density_over_ballistic_coefficient_per_m",
                format!("density over ballistic coefficient at {km:.1} km"),
                "1/m",
            ),
        ];
        let zero = DVector::zeros(self.scores.len());
        let before = (self.values(&zero, at_m), self.slopes(&zero, at_m));
        let after = (
            self.values(self.scores, at_m),
            self.slopes(self.scores, at_m),
        );
        let correlation = self.prior.correlation();
        let sigma = |slopes: &[Values], covariance: &DMatrix<f64>, c: usize| {
            let slopes = DVector::from_iterator(slopes.len(), slopes.iter().map(|s| s[c]));
            slopes.dot(&(covariance * &slopes)).max(0.0).sqrt()
        };
        names
            .into_iter()
            .enumerate()
            .map(|(c, (key, name, unit))| Quantity {
                key,
                name,
                unit,
                before: (before.0[c], sigma(&before.1, correlation, c)),
                after: (after.0[c], sigma(&after.1, self.covariance, c)),
            })
            .filter(|quantity| quantity.before.1 > 1e-9 * quantity.before.0.abs())
            .collect()
    }

    /// Changes of the log of density over ballistic coefficient at the lowest point with each score, about the estimate.
    pub(super) fn ln_drag_slopes(&self) -> Option<DVector<f64>> {
        let at_m = self.lowest_m()?;
        let value = self.values(self.scores, at_m)[DRAG];
        let slopes = self.slopes(self.scores, at_m);
        let of = |change: &Values| change[DRAG] / value;
        Some(DVector::from_iterator(slopes.len(), slopes.iter().map(of)))
    }

    /// Scale height of the density at an altitude (m), m.
    pub(super) fn scale_height_m(&self, at_m: f64) -> f64 {
        self.values(self.scores, at_m)[SCALE_HEIGHT]
    }

    /// Changes of the log of density at an altitude (m) with each score, about the estimate.
    pub(super) fn ln_density_slopes(&self, at_m: f64) -> DVector<f64> {
        let value = self.values(self.scores, at_m)[DENSITY];
        let slopes = self.slopes(self.scores, at_m);
        let of = |change: &Values| change[DENSITY] / value;
        DVector::from_iterator(slopes.len(), slopes.iter().map(of))
    }

    fn lowest_m(&self) -> Option<f64> {
        let numbers = self.prior.at(self.scores);
        let longest = self.case.problem.settings().longest_s;
        let flight = (self.aim_m, &numbers);
        let track = Track::fly(
            &self.case.problem,
            flight,
            SampleNumber::Nominal,
            (0.0, longest),
        )?;
        Some(track.lowest_m())
    }

    fn values(&self, scores: &DVector<f64>, at_m: f64) -> Values {
        values(self.case, (self.aim_m, &self.prior.at(scores)), at_m)
    }

    /// Changes of the values with each score.
    fn slopes(&self, scores: &DVector<f64>, at_m: f64) -> Vec<Values> {
        const STEP: f64 = 1e-3;
        (0..scores.len())
            .map(|k| {
                let moved = |by: f64| {
                    let mut moved = scores.clone();
                    moved[k] += by;
                    self.values(&moved, at_m)
                };
                let (up, down) = (moved(STEP), moved(-STEP));
                std::array::from_fn(|c| (up[c] - down[c]) / (2.0 * STEP))
            })
            .collect()
    }

    /// The combinations of ship and air from the best known on: eigenvectors of what is left of the prior,
    /// in scores that the prior has independent.
    pub(super) fn combinations(&self) -> Vec<Combination> {
        let numbers = self.prior.numbers();
        let kept: Vec<usize> = (0..numbers.len()).filter(|&k| stays(numbers[k])).collect();
        let block = |matrix: &DMatrix<f64>| {
            DMatrix::from_fn(kept.len(), kept.len(), |i, j| matrix[(kept[i], kept[j])])
        };
        let factor = lower(&block(self.prior.correlation()));
        let Some(inverse) = factor.clone().try_inverse() else {
            return Vec::new();
        };
        let left = &inverse * block(self.covariance) * inverse.transpose();
        let eigen = SymmetricEigen::new(left);
        let mut found: Vec<Combination> = (0..kept.len())
            .map(|k| {
                let mut shares: Vec<(Number, f64)> = (0..kept.len())
                    .map(|i| (numbers[kept[i]], eigen.eigenvectors[(i, k)]))
                    .collect();
                shares.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
                if shares.first().is_some_and(|first| first.1 < 0.0) {
                    for share in &mut shares {
                        share.1 = -share.1;
                    }
                }
                Combination {
                    shares,
                    left: eigen.eigenvalues[k].clamp(0.0, 1.0).sqrt(),
                }
            })
            .collect();
        found.sort_by(|a, b| a.left.total_cmp(&b.left));
        found
    }
}

/// The quantities of a flight with these numbers, the air at `at_m` above the equator.
fn values(case: &Case, (aim_m, numbers): (f64, &Numbers), at_m: f64) -> Values {
    let problem = &case.problem;
    let Some((start, sample)) = problem.launch(aim_m, numbers, SampleNumber::Nominal) else {
        return [f64::NAN; 5];
    };
    let planet = problem.planet();
    let place = start
        .position
        .unit()
        .scale(planet.equatorial_radius_m + at_m);
    let air = planet.air(at_m, Vec3::new(place.x, place.y, place.z), &sample.air);
    let density = air.ln_density.exp();
    let vehicle = &sample.vehicle;
    [
        vehicle.ballistic_coefficient_kg_m2(),
        vehicle.lift_up,
        density,
        -1.0 / air.ln_density_slope_per_m,
        density * vehicle.drag_area_per_mass,
    ]
}
