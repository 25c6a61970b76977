//! The ship as the scenario describes it: mass, people, drag, lift, nose.

/// The ship, in SI units, as checked from the `ship` section.
#[derive(Debug, Clone, PartialEq)]
pub struct Ship {
    /// Mass at entry, kg, above 0.
    pub mass_kg: f64,
    /// People aboard who are neither crew nor cargo; 0 for a ship without.
    pub passengers: u32,
    /// Reference area of the drag and lift coefficients, m², above 0.
    pub reference_area_m2: f64,
    /// Drag coefficient on the reference area, above 0.
    pub drag_coefficient: f64,
    /// Lift-to-drag ratio, 0 or more; the bank angle gives the direction.
    pub lift_to_drag: f64,
    /// Bank angle, rad: 0 is lift up, π is lift down, positive to the right.
    pub bank_angle_rad: f64,
    /// Effective nose radius for stagnation heating, m, above 0.
    pub nose_radius_m: f64,
    /// Engine for correction burns, when the scenario names one.
    pub engine: Option<Engine>,
}

/// A rocket engine, as far as corrections after a pass need it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Engine {
    /// Specific impulse, s, above 0.
    pub specific_impulse_s: f64,
    /// Thrust, N, above 0, when stated.
    pub thrust_n: Option<f64>,
}
