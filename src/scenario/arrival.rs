//! How the ship comes to the air: one conic, known by its energy and aimed by its vacuum periapsis.

/// The approach conic and the range of aims, as checked from the `arrival` section.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// What fixes the energy of the approach conic.
    pub energy: ArrivalEnergy,
    /// Inclination of the approach plane to the equator, rad, 0 to π.
    pub inclination_rad: f64,
    /// Argument of periapsis, rad: 0 puts the periapsis on the equator, northbound.
    pub argument_of_periapsis_rad: f64,
    /// The vacuum periapsis altitudes to aim for.
    pub aim: AimRange,
}

/// What fixes the energy of the approach conic (exactly one arrival per scenario).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArrivalEnergy {
    /// `arrival.hyperbola`: hyperbolic excess speed, m/s, 0 or more (0 is a parabola).
    ExcessSpeed(f64),
    /// `arrival.entry`: inertial speed at the entry interface, m/s, above 0.
    InertialEntrySpeed(f64),
    /// `arrival.orbit`: apoapsis altitude above the equatorial radius, m.
    ApoapsisAltitude(f64),
}

/// Vacuum periapsis altitudes above the ellipsoid: a single aim has `from_m == to_m`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AimRange {
    /// Lowest aim, m.
    pub from_m: f64,
    /// Highest aim, m; above `from_m` for a study over aims.
    pub to_m: f64,
    /// Spacing of the first grid, m, above 0.
    pub step_m: f64,
}
