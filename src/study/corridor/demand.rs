//! What a flight of the corridor must do, and how the ship flies it.

use crate::ensemble::problem::Numbers;
use crate::ensemble::{LimitKind, Problem};
use crate::pass::{Ending, PassResult};
use crate::scenario::limits::Form;
use crate::scenario::uncertainty::Number;
use std::f64::consts::PI;

/// How the lift is turned during a flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bank {
    /// Full lift up.
    Up,
    /// Full lift down.
    Down,
    /// A ship without its lift.
    Without,
    /// Held at this angle, rad.
    Held(f64),
}

impl Bank {
    /// The word for it in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Up => "lift_up",
            Self::Down => "lift_down",
            Self::Without => "no_lift",
            Self::Held(_) => "held",
        }
    }

    /// The numbers of a ship that flies like this.
    #[must_use]
    pub fn numbers(self, problem: &Problem, numbers: &Numbers) -> Numbers {
        let mut numbers = *numbers;
        // At its trim angle a table or a shape may lift the other way.
        let (up, down) = if problem.reference_coefficients().1 < 0.0 {
            (PI, 0.0)
        } else {
            (0.0, PI)
        };
        let angle = match self {
            Self::Up | Self::Without => up,
            Self::Down => down,
            Self::Held(angle) => angle,
        };
        numbers[Number::BankAngle as usize] = angle;
        if self == Self::Without {
            // The ratio itself, or a factor on what a table or a shape gives.
            numbers[Number::LiftToDrag as usize] = 0.0;
        }
        numbers
    }
}

/// Something the flight must do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Demand {
    /// Hold the limit of this place in the limit set.
    Limit(usize, LimitKind),
    /// Not leave on a parabola or hyperbola: asked for where no limit says what the pass is for.
    Stays,
    /// Have a result at all: an integration that fails, or numbers that fit no approach, hold nothing, and break no
    /// limit.
    Flown,
}

/// The demands of a problem: its limits, to stay where no limit says what the pass is for, and last to have a result.
#[must_use]
pub fn demands(problem: &Problem) -> Vec<Demand> {
    let entries = problem.limits().entries();
    let mut all: Vec<Demand> = entries
        .iter()
        .enumerate()
        .map(|(index, limit)| Demand::Limit(index, limit.kind))
        .collect();
    let purpose = |form| matches!(form, Form::CapturedMost | Form::ComesDown);
    if !entries.iter().any(|limit| purpose(limit.kind.spec().form)) {
        all.push(Demand::Stays);
    }
    all.push(Demand::Flown);
    all
}

/// One bit for each demand in order, set where the flight breaks it; `None` is a flight that fits no approach.
#[must_use]
pub fn broken(problem: &Problem, demands: &[Demand], flown: Option<&PassResult>) -> u64 {
    let flown = flown.filter(|pass| pass.ending.is_flown());
    let limits = flown.map_or(0, |pass| problem.limits().broken(pass, problem.nominal()));
    let mut mask = 0;
    for (bit, demand) in demands.iter().enumerate() {
        let breaks = match demand {
            Demand::Limit(index, _) => limits >> index & 1 == 1,
            Demand::Stays => flown.is_some_and(|pass| pass.ending == Ending::Escaped),
            Demand::Flown => flown.is_none(),
        };
        mask |= u64::from(breaks) << bit;
    }
    mask
}
