//! The constants of a body: its gravity, its figure, its spin and where its air begins to count.

use super::error::{WorldError, given};

/// A body with an atmosphere. Any value can be written down; [`Body::check`] says whether it makes sense.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Name, for titles.
    pub name: String,
    /// Gravitational parameter, m³/s², above 0.
    pub gm_m3_s2: f64,
    /// Equatorial radius of the ellipsoid from which altitude is counted, m.
    pub equatorial_radius_m: f64,
    /// Polar radius of that ellipsoid, m, at most the equatorial one.
    pub polar_radius_m: f64,
    /// Zonal harmonic J2, not normalised; 0 if absent.
    pub j2: f64,
    /// Zonal harmonic J3, not normalised; 0 if absent.
    pub j3: f64,
    /// Zonal harmonic J4, not normalised; 0 if absent.
    pub j4: f64,
    /// Reference radius that goes with the harmonics, m.
    pub j_reference_radius_m: f64,
    /// Rotation about +z, rad/s; negative is retrograde.
    pub rotation_rad_s: f64,
    /// Altitude of the entry interface, m.
    pub entry_interface_m: f64,
}

/// Largest |J2| taken for a planet, more than four times Saturn's 0.0163.
const MAX_J2: f64 = 0.07;
/// Largest |J3| and |J4|, ten times Saturn's J4 of about 0.00094 (from memory).
const MAX_J34: f64 = 0.01;

impl Body {
    /// Checks every constant: finite, signs, polar radius at most the equatorial one and at least half
    /// of it, harmonics of a size planets have, spin below the break-up rate √(GM/R³), and the
    /// entry interface above 0 and below one equatorial radius.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for the first constant that fails, under its key in a world file.
    pub fn check(&self) -> Result<(), WorldError> {
        let (gm, a, b) = (self.gm_m3_s2, self.equatorial_radius_m, self.polar_radius_m);
        let (reference, spin) = (self.j_reference_radius_m, self.rotation_rad_s);
        let interface = self.entry_interface_m;
        given("gravitational_parameter", "m3/s2", gm).must(gm > 0.0, "above 0")?;
        given("equatorial_radius", "m", a).must(a > 0.0, "above 0")?;
        let rule = "at most the equatorial radius and at least half of it";
        given("polar_radius", "m", b).must(b <= a && b >= 0.5 * a, rule)?;
        let rule = "between -0.07 and 0.07";
        given("j2", "", self.j2).must(self.j2.abs() <= MAX_J2, rule)?;
        for (key, j) in [("j3", self.j3), ("j4", self.j4)] {
            given(key, "", j).must(j.abs() <= MAX_J34, "between -0.01 and 0.01")?;
        }
        let rule = "between half and twice the equatorial radius";
        let near = reference >= 0.5 * a && reference <= 2.0 * a;
        given("j_reference_radius", "m", reference).must(near, rule)?;
        let break_up = (gm / a).sqrt() / a;
        let rule = "slower than the body can hold together";
        given("rotation_rate", "rad/s", spin).must(spin.abs() < break_up, rule)?;
        let rule = "above 0 and below one equatorial radius";
        given("entry_interface", "m", interface).must(interface > 0.0 && interface < a, rule)?;
        Ok(())
    }

    /// Flattening (a − b)/a of the ellipsoid, 0 for a sphere.
    #[must_use]
    pub fn flattening(&self) -> f64 {
        (self.equatorial_radius_m - self.polar_radius_m) / self.equatorial_radius_m
    }

    /// Mean radius (2a + b)/3, m.
    #[must_use]
    pub fn mean_radius_m(&self) -> f64 {
        2.0f64.mul_add(self.equatorial_radius_m, self.polar_radius_m) / 3.0
    }

    /// Speed √(GM/r) on a circular orbit at an altitude above the equatorial radius, m/s;
    /// central gravity alone. NaN below the centre.
    #[must_use]
    pub fn circular_speed_m_s(&self, altitude_m: f64) -> f64 {
        (self.gm_m3_s2 / (self.equatorial_radius_m + altitude_m)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Earth; IAU and EGM96 values, from memory (checks table of bodies).
    fn earth() -> Body {
        Body {
            name: "Earth".to_owned(),
            gm_m3_s2: 398_600.441_8e9,
            equatorial_radius_m: 6_378_137.0,
            polar_radius_m: 6_356_752.0,
            j2: 1.082_626_68e-3,
            j3: 0.0,
            j4: 0.0,
            j_reference_radius_m: 6_378_137.0,
            rotation_rad_s: 7.292_115e-5,
            entry_interface_m: 121_920.0,
        }
    }

    fn failing_key(change: impl FnOnce(&mut Body)) -> &'static str {
        let mut body = earth();
        change(&mut body);
        match body.check() {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        }
    }

    #[test]
    fn earth_is_accepted_and_round_to_one_part_in_298() {
        assert_eq!(earth().check(), Ok(()));
        // 1/298.25 follows from the two radii above.
        assert!((1.0 / earth().flattening() - 298.25).abs() < 0.02);
    }

    #[test]
    fn circular_speed_is_that_of_the_published_example() {
        // Curtis, Orbital Mechanics for Engineering Students, departure from a 300 km orbit:
        // mu 398600, r 6678 km, 7.7258 km/s (from memory, and computed).
        let body = Body {
            gm_m3_s2: 398_600e9,
            equatorial_radius_m: 6_378_000.0,
            ..earth()
        };
        assert!((body.circular_speed_m_s(300_000.0) / 7725.8 - 1.0).abs() < 1e-5);
    }

    #[test]
    fn each_constant_is_refused_under_its_own_key() {
        assert_eq!(failing_key(|b| b.gm_m3_s2 = 0.0), "gravitational_parameter");
        assert_eq!(
            failing_key(|b| b.gm_m3_s2 = f64::NAN),
            "gravitational_parameter"
        );
        assert_eq!(
            failing_key(|b| b.equatorial_radius_m = f64::INFINITY),
            "equatorial_radius"
        );
        assert_eq!(
            failing_key(|b| b.polar_radius_m = 6_400_000.0),
            "polar_radius"
        );
        assert_eq!(failing_key(|b| b.j2 = 1.08), "j2");
        assert_eq!(failing_key(|b| b.j3 = -0.2), "j3");
        assert_eq!(failing_key(|b| b.j4 = f64::NAN), "j4");
        assert_eq!(
            failing_key(|b| b.j_reference_radius_m = 6378.0),
            "j_reference_radius"
        );
        assert_eq!(failing_key(|b| b.rotation_rad_s = 2.0e-3), "rotation_rate");
        assert_eq!(
            failing_key(|b| b.entry_interface_m = -1.0),
            "entry_interface"
        );
    }
}
