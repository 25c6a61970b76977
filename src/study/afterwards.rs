//! What comes after a pass that captured: the way up to the apoapsis and down to the next passage, and the burn that
//! keeps the ship out of the ground.

use crate::ensemble::Problem;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::root::bracketed_root;
use crate::pass::coast::{Coast, Until, coast};
use crate::pass::dynamics::{State, position, velocity};
use crate::pass::orbit::{Orbit, speed_between_apsides};
use crate::pass::{Ending, PassResult};
use crate::world::Planet;

/// The next round of a captured ship without air, under the zonal field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextRound {
    /// Time from the end of the pass to the apoapsis, s.
    pub to_apoapsis_s: f64,
    /// Lowest altitude of the passage after it above the ellipsoid, m.
    pub lowest_altitude_m: f64,
    /// Whether that lies below the ground of the world.
    pub below_ground: bool,
    /// Speed change along the motion at the apoapsis that lifts it to the entry interface, m/s; 0 where it lies there
    /// already, `None` where no burn there does.
    pub lift_m_s: Option<f64>,
}

impl NextRound {
    /// The round after a pass; `None` for one that did not capture.
    #[must_use]
    pub fn after(planet: &Planet, pass: &PassResult) -> Option<Self> {
        if pass.ending != Ending::Captured {
            return None;
        }
        let end: &State<f64> = &pass.end_state;
        let up = coast(planet, position(end), velocity(end), Until::Apoapsis)?;
        let lowest = lowest_altitude_m(planet, &up, 0.0)?;
        Some(Self {
            to_apoapsis_s: up.duration_s,
            lowest_altitude_m: lowest,
            below_ground: lowest < planet.floor_m,
            lift_m_s: if lowest >= planet.interface_m {
                Some(0.0)
            } else {
                lift_m_s(planet, &up)
            },
        })
    }

    /// The round after the nominal pass at an aim (m), flown as the samples are.
    #[must_use]
    pub fn nominal(problem: &Problem, aim_m: f64) -> Option<Self> {
        let numbers = *problem.nominal();
        let (start, sample) = problem.launch(aim_m, &numbers, SampleNumber::Nominal)?;
        let mut found = None;
        let launches = std::iter::once(((0, start, sample), numbers));
        problem.fly_in_lanes(launches, |_, pass| {
            found = Self::after(problem.planet(), &pass);
        });
        found
    }
}

/// Lowest altitude of the round after a burn along the motion at an apoapsis, m. A round orbit about a flattened world
/// has more than one low.
fn lowest_altitude_m(planet: &Planet, up: &Coast, burn_m_s: f64) -> Option<f64> {
    let mut velocity = up.velocity + up.velocity.unit().scale(burn_m_s);
    let mut position = up.position;
    let round_s =
        Orbit::from_state(planet.gm_m3_s2, position, velocity).period_s(planet.gm_m3_s2)?;
    let (mut lowest, mut time_s) = (f64::INFINITY, 0.0);
    while time_s < round_s {
        let down = coast(planet, position, velocity, Until::Lowest)?;
        time_s += down.duration_s;
        lowest = lowest.min(planet.altitude_at(down.position));
        // From a low about a sphere the way to the next one has no length: it is the only one.
        if !(down.duration_s > 1e-6 * round_s) {
            break;
        }
        (position, velocity) = (down.position, down.velocity);
    }
    Some(lowest)
}

/// The burn at an apoapsis after which the next passage comes down to the entry interface and no farther, m/s.
fn lift_m_s(planet: &Planet, up: &Coast) -> Option<f64> {
    let (gm, far) = (planet.gm_m3_s2, up.position.norm());
    // A circle there stays above the interface, or no burn of the kind does.
    let most = speed_between_apsides(gm, far, far, far) - up.velocity.norm();
    let miss = |burn_m_s: f64| {
        lowest_altitude_m(planet, up, burn_m_s).map_or(f64::NAN, |m| m - planet.interface_m)
    };
    bracketed_root(miss, 0.0, most, 1e-4)
}
