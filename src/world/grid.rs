//! The altitudes at which the flown table of the air has its knots.

use super::error::{WorldError, given};

/// Altitudes at which a table has its knots.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Lowest altitude of the air, m.
    pub floor_m: f64,
    /// Altitude up to which the profile is meant, m; the table's top is the first knot not below it.
    pub top_m: f64,
    /// Spacing of the knots, m.
    pub step_m: f64,
}

/// Most steps that a table may have: 16 MiB of cells.
const MAX_STEPS: f64 = 262_144.0;
/// Most steps that the default spacing leads to.
const DEFAULT_STEPS: f64 = 20_000.0;
/// Finest default spacing, m.
const DEFAULT_STEP_M: f64 = 100.0;

impl Grid {
    /// A grid with the default spacing: 100 m, or the first of 200, 500, 1000, 2000 m and so on
    /// that needs no more than 20 000 steps.
    #[must_use]
    pub fn covering(floor_m: f64, top_m: f64) -> Self {
        let mut step_m = DEFAULT_STEP_M;
        let mut factors = [2.0, 2.5, 2.0].into_iter().cycle();
        while (top_m - floor_m) / step_m > DEFAULT_STEPS {
            step_m *= factors.next().unwrap_or(2.0);
        }
        Self {
            floor_m,
            top_m,
            step_m,
        }
    }

    /// The number of steps from the floor to the top, 1 or more.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for a grid that is not finite, is empty or needs more than 262 144 steps.
    pub fn steps(self) -> Result<u32, WorldError> {
        let Self {
            floor_m,
            top_m,
            step_m,
        } = self;
        given("floor", "m", floor_m).must(true, "a finite altitude")?;
        given("top", "m", top_m).must(top_m > floor_m, "above the lowest altitude")?;
        let step = given("grid_step", "m", step_m);
        step.must(step_m > 0.0, "above 0")?;
        // A hair less than the quotient, so that its rounding does not add a step.
        let steps = ((top_m - floor_m) / step_m * (1.0 - 1e-12)).ceil().max(1.0);
        step.must(
            steps <= MAX_STEPS,
            "coarse enough to reach the top in 262144 steps",
        )?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "whole and between 1 and 262144"
        )]
        Ok(steps as u32)
    }

    /// Altitude of a knot, m, counted from the floor.
    pub(crate) fn knot_m(self, index: u32) -> f64 {
        f64::from(index).mul_add(self.step_m, self.floor_m)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    #[test]
    fn default_spacing_keeps_the_table_small() {
        let step = |top_m| Grid::covering(0.0, top_m).step_m;
        assert_eq!(
            [1e6, 3e6, 9e6, 19e6, 39e6].map(step),
            [100.0, 200.0, 500.0, 1e3, 2e3]
        );
    }

    #[test]
    fn the_last_knot_is_the_first_not_below_the_top() {
        let grid = Grid {
            floor_m: -2e3,
            top_m: 1e4,
            step_m: 100.0,
        };
        assert_eq!(grid.steps(), Ok(120));
        let uneven = Grid {
            top_m: 10_001.0,
            ..grid
        };
        assert_eq!(uneven.steps(), Ok(121));
        assert_eq!(uneven.knot_m(121), 10_100.0);
        let tenths = Grid {
            floor_m: 0.0,
            top_m: 0.3,
            step_m: 0.1,
        };
        assert_eq!(tenths.steps(), Ok(3));
    }

    #[test]
    fn unusable_grids_are_refused() {
        let grid = Grid {
            floor_m: -2e3,
            top_m: 1e4,
            step_m: 100.0,
        };
        let key = |grid: Grid| match grid.steps() {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        };
        assert_eq!(
            key(Grid {
                floor_m: f64::NAN,
                ..grid
            }),
            "floor"
        );
        assert_eq!(
            key(Grid {
                top_m: -3e3,
                ..grid
            }),
            "top"
        );
        assert_eq!(
            key(Grid {
                top_m: f64::INFINITY,
                ..grid
            }),
            "top"
        );
        assert_eq!(
            key(Grid {
                step_m: 0.0,
                ..grid
            }),
            "grid_step"
        );
        assert_eq!(
            key(Grid {
                step_m: f64::NAN,
                ..grid
            }),
            "grid_step"
        );
        assert_eq!(
            key(Grid {
                step_m: 0.001,
                ..grid
            }),
            "grid_step"
        );
    }
}
