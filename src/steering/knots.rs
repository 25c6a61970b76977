//! What a steered flight did, knot by knot: for histories and for flying it again.

use crate::craft::Vehicle;
use crate::pass::reference::Moment;

/// One stretch of a steered flight and what the ship had decided.
#[derive(Debug, Clone, Copy)]
pub struct Knot {
    /// Where the stretch begins.
    pub moment: Moment,
    /// Its end, s.
    pub until_s: f64,
    /// The ship that flew it, errors included.
    pub vehicle: Vehicle<f64>,
    /// The bank angle held on it as the ship believes, rad.
    pub bank_rad: f64,
    /// The bank angle commanded, rad.
    pub command_rad: f64,
    /// The ratio of measured to modelled drag that it believes in.
    pub drag_ratio: f64,
    /// What was left of the demand at the last decision; not a number before the first.
    pub demand: f64,
    /// Whether the skirt is on.
    pub skirt_on: bool,
}

/// A steered flight, knot by knot.
#[derive(Debug, Clone, Default)]
pub struct Log {
    /// The stretches in order.
    pub knots: Vec<Knot>,
    /// How it ended.
    pub last: Option<Moment>,
}

impl Log {
    /// The moments that are kept: the start of each stretch, and the end.
    pub fn moments(&self) -> impl Iterator<Item = &Moment> {
        let starts = self.knots.iter().map(|knot| &knot.moment);
        starts.chain(&self.last)
    }

    /// The stretch that is flown at a time, s; `None` before the first.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<&Knot> {
        let after = self
            .knots
            .partition_point(|knot| knot.moment.time_s <= time_s);
        self.knots.get(after.checked_sub(1)?)
    }

    /// Times the bank changed sides.
    #[must_use]
    pub fn reversals(&self) -> usize {
        let turns = self
            .knots
            .windows(2)
            .filter(|pair| pair[0].command_rad * pair[1].command_rad < 0.0);
        turns.count()
    }

    /// When the skirt was dropped, s.
    #[must_use]
    pub fn dropped_s(&self) -> Option<f64> {
        let first_off = self.knots.iter().position(|knot| !knot.skirt_on)?;
        (first_off > 0).then(|| self.knots[first_off].moment.time_s)
    }
}
