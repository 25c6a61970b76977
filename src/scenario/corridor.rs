//! What the corridor is looked for over: the `corridor` section, which may be left out.

use super::arrival::{
    APOAPSIS_ALTITUDE_M, Arrival, ArrivalEnergy, ENTRY_SPEED_M_S, EXCESS_SPEED_M_S,
};
use super::bound::Bound;
use super::message::InputError;
use super::section::Section;
use super::ship::LIFT_TO_DRAG;
use crate::numeric::units::{Dimension, format_quantity};

/// The `corridor` section, checked. What is left out is chosen about the arrival and the ship.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Corridor {
    /// Values of what fixes the energy of the arrival (excess speed or entry speed, m/s, or apoapsis altitude, m).
    pub arrivals: Option<Sweep>,
    /// Lift-to-drag ratios of the map.
    pub lift_to_drag: Option<Sweep>,
}

/// Evenly spaced values, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sweep {
    /// First value.
    pub from: f64,
    /// Last value, not below the first.
    pub to: f64,
    /// Spacing, above 0; the last step may be shorter.
    pub step: f64,
}

/// Most values of a sweep.
const MOST_VALUES: f64 = 100.0;

impl Sweep {
    /// The values in order.
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        let mut values = Vec::new();
        let mut place = 0.0;
        while self.from + place * self.step < self.to - 1e-9 * self.step {
            values.push(self.from + place * self.step);
            place += 1.0;
        }
        values.push(self.to);
        values
    }

    fn decode(
        section: Section<'_>,
        dimension: Dimension,
        bound: Bound,
    ) -> Result<Self, InputError> {
        let width = if dimension == Dimension::Dimensionless {
            Bound::above(0.0)
        } else {
            Bound::at_least(1e-3)
        };
        let sweep = Self {
            from: section.quantity("from", dimension, bound)?,
            to: section.quantity("to", dimension, bound)?,
            step: section.quantity("step", dimension, width)?,
        };
        if sweep.to <= sweep.from {
            return Err(section
                .error_at("to", "the range is empty: `to` is not above `from`")
                .with_help("swap the two, or leave the range out"));
        }
        if sweep.step > sweep.to - sweep.from {
            let width = format_quantity(sweep.to - sweep.from, dimension);
            return Err(section.error_at(
                "step",
                format!("the step is larger than the range, {width}"),
            ));
        }
        if (sweep.to - sweep.from) / sweep.step > MOST_VALUES {
            return Err(section
                .error_at(
                    "step",
                    format!("the range holds more than {MOST_VALUES} values"),
                )
                .with_help("take a larger step"));
        }
        section.finish()?;
        Ok(sweep)
    }
}

impl Corridor {
    pub(super) fn decode(section: &Section<'_>, arrival: &Arrival) -> Result<Self, InputError> {
        let (key, dimension, bound) = match arrival.energy {
            ArrivalEnergy::ExcessSpeed(_) => ("excess_speed", Dimension::Speed, EXCESS_SPEED_M_S),
            ArrivalEnergy::InertialEntrySpeed(_) => ("speed", Dimension::Speed, ENTRY_SPEED_M_S),
            ArrivalEnergy::ApoapsisAltitude(_) => {
                ("apoapsis_altitude", Dimension::Length, APOAPSIS_ALTITUDE_M)
            }
        };
        for other in ["excess_speed", "speed", "apoapsis_altitude"] {
            if other != key
                && let Some(node) = section.optional(other)
            {
                let message = format!("`{other}` does not vary an `arrival.{}`", arrival.kind());
                return Err(node
                    .error_at_key(message)
                    .with_help(format!("write `{key}: {{from: ..., to: ..., step: ...}}`")));
            }
        }
        let sweep = |key: &str, dimension, bound| {
            let section = section.optional_section(key)?;
            section
                .map(|section| Sweep::decode(section, dimension, bound))
                .transpose()
        };
        Ok(Self {
            arrivals: sweep(key, dimension, bound)?,
            lift_to_drag: sweep("lift_to_drag", Dimension::Dimensionless, LIFT_TO_DRAG)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::scenario::{STARTER, Scenario};

    #[test]
    fn a_sweep_holds_both_ends() {
        let text = format!(
            "{STARTER}\ncorridor: {{excess_speed: {{from: 2 km/s, to: 3.1 km/s, step: 0.5 km/s}}}}\n"
        );
        let corridor = Scenario::from_text("x.yaml", &text).unwrap().corridor;
        let speeds = corridor.arrivals.map(|sweep| sweep.values());
        assert_eq!(speeds, Some(vec![2000.0, 2500.0, 3000.0, 3100.0]));
        assert_eq!(corridor.lift_to_drag, None);
    }
}
