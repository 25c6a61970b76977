//! The moons of a body: what a planner needs to bend a flight past one of them.
//! Where a moon is at a given time, and what a flyby does, is left to others.

use super::body::Body;
use super::error::{WorldError, given};

/// A moon on a round orbit in the plane of the body's equator, as far as this program knows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Moon {
    /// Name, for titles.
    pub name: String,
    /// Gravitational parameter, m³/s², above 0 and below that of the body.
    pub gm_m3_s2: f64,
    /// Mean radius, m, above 0 and at most that of the body.
    pub radius_m: f64,
    /// Mean radius of its orbit about the centre of the body, m, so that it stays outside the body's air.
    pub orbit_radius_m: f64,
    /// Lowest altitude above the mean radius at which a flyby may be planned, m, 0 or more.
    pub lowest_flyby_altitude_m: f64,
}

impl Moon {
    /// Checks every number against those of the body it goes round.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for the first number that fails, under its key in a world file.
    pub fn check(&self, body: &Body) -> Result<(), WorldError> {
        let (gm, radius) = (self.gm_m3_s2, self.radius_m);
        let (orbit, flyby) = (self.orbit_radius_m, self.lowest_flyby_altitude_m);
        let rule = "above 0 and below that of the body";
        given("gravitational_parameter", "m3/s2", gm).must(gm > 0.0 && gm < body.gm_m3_s2, rule)?;
        let rule = "above 0 and at most that of the body";
        given("radius", "m", radius)
            .must(radius > 0.0 && radius <= body.equatorial_radius_m, rule)?;
        let air = body.equatorial_radius_m + body.entry_interface_m;
        let rule = "so wide that the moon stays above the entry interface";
        given("orbit_radius", "m", orbit).must(orbit - radius > air, rule)?;
        let rule = "0 or more and below the orbit radius";
        given("lowest_flyby_altitude", "m", flyby).must(flyby >= 0.0 && flyby < orbit, rule)?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::exponential::ExponentialWorld;
    use super::*;

    #[test]
    fn numbers_that_fit_no_moon_of_the_body_are_named() {
        let world = ExponentialWorld::default().build().unwrap();
        // The Moon; JPL and IAU values, from memory. The flyby altitude is a round value.
        let moon = Moon {
            name: "Moon".to_owned(),
            gm_m3_s2: 4_902.8e9,
            radius_m: 1_737.4e3,
            orbit_radius_m: 384_400e3,
            lowest_flyby_altitude_m: 100e3,
        };
        assert_eq!(moon.check(world.body()), Ok(()));
        let key = |change: fn(&mut Moon)| {
            let mut changed = moon.clone();
            change(&mut changed);
            match changed.check(world.body()) {
                Err(WorldError::OutOfRange { key, .. }) => key,
                other => panic!("expected a number out of range, got {other:?}"),
            }
        };
        assert_eq!(key(|moon| moon.gm_m3_s2 = 4e14), "gravitational_parameter");
        assert_eq!(key(|moon| moon.radius_m = 0.0), "radius");
        assert_eq!(key(|moon| moon.orbit_radius_m = 8_235e3), "orbit_radius");
        assert_eq!(
            key(|moon| moon.lowest_flyby_altitude_m = f64::NAN),
            "lowest_flyby_altitude"
        );
    }
}
