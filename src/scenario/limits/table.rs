//! The limits, each said once: a row of the table has all that decoding, judging, searching, drawing and telling need.

use super::spec::{Dashes, Form, LimitSpec, Line, Role, Words, Written};
use super::{
    DECELERATION_M_S2, DYNAMIC_PRESSURE_PA, HEAT_FLUX_W_M2, HEAT_LOAD_J_M2, LOWEST_ALTITUDE_M,
    ONSET_M_S3, STAY_S,
};
use crate::numeric::quantity::Quantity;
use crate::scenario::arrival::APOAPSIS_ALTITUDE_M;
use crate::scenario::bound::Bound;
use crate::scenario::people::LEVEL_FACTOR;
use crate::scenario::spots::SPOT_FLUX_W_M2;
use crate::scenario::uncertainty::Number;

/// One limit; of those of which a scenario may have several, one of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LimitKind {
    /// Peak sensed deceleration.
    PeakDeceleration,
    /// Onset of deceleration.
    Onset,
    /// Stay above the level of this index.
    StayAbove(usize),
    /// All time above the level of this index, every stay added up.
    TotalAbove(usize),
    /// Peak stagnation heat flux.
    HeatFlux,
    /// Stagnation heat load.
    HeatLoad,
    /// Peak dynamic pressure.
    DynamicPressure,
    /// Lowest altitude.
    LowestAltitude,
    /// Leaves the air on a closed orbit whose apoapsis is low enough.
    CapturedBelow,
    /// Leaves the air again: part of `captured_below`, broken on the steep side.
    LeavesAir,
    /// An orbit after the pass whose apoapsis is not too low.
    CapturedAbove,
    /// Ends on the ground.
    ComesDown,
    /// Heat flux of the spot of this index in `ship.spots`.
    Spot(usize),
    /// The curves of level against duration for the people aboard: the highest ratio of a level to the one that may
    /// last as long.
    People,
}

impl LimitKind {
    /// Every limit in the order in which a pass is judged by them, of those with an index the first.
    pub const ALL: [Self; 14] = [
        Self::PeakDeceleration,
        Self::Onset,
        Self::StayAbove(0),
        Self::TotalAbove(0),
        Self::HeatFlux,
        Self::HeatLoad,
        Self::DynamicPressure,
        Self::LowestAltitude,
        Self::CapturedBelow,
        Self::LeavesAir,
        Self::CapturedAbove,
        Self::ComesDown,
        Self::Spot(0),
        Self::People,
    ];

    /// Its place among those of its kind, where there may be several.
    #[must_use]
    pub fn place(self) -> Option<usize> {
        match self {
            Self::StayAbove(place) | Self::TotalAbove(place) | Self::Spot(place) => Some(place),
            _ => None,
        }
    }

    /// The same limit at another place among those of its kind.
    #[must_use]
    pub fn at(self, place: usize) -> Self {
        match self {
            Self::StayAbove(_) => Self::StayAbove(place),
            Self::TotalAbove(_) => Self::TotalAbove(place),
            Self::Spot(_) => Self::Spot(place),
            only => only,
        }
    }

    /// All that is said of it.
    #[expect(clippy::too_many_lines, reason = "a table, a row a limit")]
    #[must_use]
    pub const fn spec(self) -> &'static LimitSpec {
        match self {
            Self::PeakDeceleration => &LimitSpec {
                key: "peak_deceleration",
                of: Some(Quantity::PeakDeceleration),
                form: Form::Most,
                bound: DECELERATION_M_S2,
                written: Written::Value,
                number: Some(Number::LimitPeakDeceleration),
                of_heat: false,
                made_at_the_peak: true,
                goes_with: Some(Quantity::PeakDeceleration),
                words: Words {
                    name: "peak deceleration",
                    asks: "peak sensed deceleration at most {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Felt,
                    dashes: &[Dashes::Solid],
                },
            },
            Self::Onset => &LimitSpec {
                key: "onset",
                of: Some(Quantity::Onset),
                form: Form::Most,
                bound: ONSET_M_S3,
                written: Written::Value,
                number: Some(Number::LimitOnset),
                of_heat: false,
                made_at_the_peak: true,
                goes_with: Some(Quantity::Onset),
                words: Words {
                    name: "onset",
                    asks: "onset of deceleration at most {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::FeltByPeople,
                    dashes: &[Dashes::Dashed],
                },
            },
            Self::StayAbove(_) => &LimitSpec {
                key: "stay_above",
                of: Some(Quantity::LongestStay),
                form: Form::MostTime,
                bound: STAY_S,
                written: Written::Levels,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: Some(Quantity::PeakDeceleration),
                words: Words {
                    name: "time above {level}",
                    asks: "above {level} for at most {value} without a break",
                    ..Words::MOST_TIME
                },
                line: Line {
                    role: Role::FeltFor,
                    dashes: &[Dashes::DashDot, Dashes::Long, Dashes::Dotted, Dashes::Solid],
                },
            },
            Self::TotalAbove(_) => &LimitSpec {
                key: "total_above",
                of: Some(Quantity::TotalAbove),
                form: Form::MostTime,
                bound: STAY_S,
                written: Written::Levels,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: Some(Quantity::PeakDeceleration),
                words: Words {
                    name: "time above {level} in all",
                    asks: "above {level} for at most {value} in all",
                    ..Words::MOST_TIME
                },
                line: Line {
                    role: Role::FeltFor,
                    dashes: &[Dashes::Dashed, Dashes::Solid, Dashes::Dotted, Dashes::Long],
                },
            },
            Self::HeatFlux => &LimitSpec {
                key: "heat_flux",
                of: Some(Quantity::PeakHeatFlux),
                form: Form::Most,
                bound: HEAT_FLUX_W_M2,
                written: Written::Value,
                number: Some(Number::LimitHeatFlux),
                of_heat: true,
                made_at_the_peak: true,
                goes_with: Some(Quantity::PeakHeatFlux),
                words: Words {
                    name: "peak heat flux",
                    asks: "heat flux at most {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Load,
                    dashes: &[Dashes::Solid],
                },
            },
            Self::HeatLoad => &LimitSpec {
                key: "heat_load",
                of: Some(Quantity::HeatLoad),
                form: Form::Most,
                bound: HEAT_LOAD_J_M2,
                written: Written::Value,
                number: Some(Number::LimitHeatLoad),
                of_heat: true,
                made_at_the_peak: false,
                goes_with: Some(Quantity::HeatLoad),
                words: Words {
                    name: "heat load",
                    asks: "heat load at most {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Heat,
                    dashes: &[Dashes::Dashed],
                },
            },
            Self::DynamicPressure => &LimitSpec {
                key: "dynamic_pressure",
                of: Some(Quantity::PeakDynamicPressure),
                form: Form::Most,
                bound: DYNAMIC_PRESSURE_PA,
                written: Written::Value,
                number: Some(Number::LimitDynamicPressure),
                of_heat: false,
                made_at_the_peak: true,
                goes_with: Some(Quantity::PeakDynamicPressure),
                words: Words {
                    name: "dynamic pressure",
                    asks: "dynamic pressure at most {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Load,
                    dashes: &[Dashes::Dotted],
                },
            },
            Self::LowestAltitude => &LimitSpec {
                key: "lowest_altitude",
                of: Some(Quantity::LowestAltitude),
                form: Form::Least,
                bound: LOWEST_ALTITUDE_M,
                written: Written::Value,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: Some(Quantity::LowestAltitude),
                words: Words {
                    name: "lowest altitude",
                    broken: "{name} below {value}",
                    moved: "{name} below {value}",
                    control: "{name}, not below",
                    asks: "never below {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Place,
                    dashes: &[Dashes::DashDot],
                },
            },
            Self::CapturedBelow => &LimitSpec {
                key: "captured_below",
                of: Some(Quantity::ApoapsisAltitude),
                form: Form::CapturedMost,
                bound: APOAPSIS_ALTITUDE_M,
                written: Written::Apoapsis,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: None,
                words: Words {
                    name: "captured low enough",
                    breaking: "not captured low enough",
                    broken: "not captured below {value}",
                    moved: "not captured below {value} apoapsis",
                    control: "captured with the apoapsis below",
                    opening: "an apoapsis up to",
                    value: "{value} apoapsis",
                    asks: "captured, with the apoapsis altitude below {value}",
                },
                line: Line {
                    role: Role::Outcome,
                    dashes: &[Dashes::Solid],
                },
            },
            Self::LeavesAir => &LimitSpec {
                key: "leaves_air",
                of: None,
                form: Form::LeavesAir,
                bound: NO_VALUE,
                written: Written::WithCapture,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: None,
                words: Words {
                    name: "leaves the air again",
                    breaking: "does not leave the air",
                    broken: "does not leave the air again",
                    value: "yes",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Outcome,
                    dashes: &[Dashes::Dashed],
                },
            },
            Self::CapturedAbove => &LimitSpec {
                key: "captured_above",
                of: Some(Quantity::ApoapsisAltitude),
                form: Form::CapturedLeast,
                bound: APOAPSIS_ALTITUDE_M,
                written: Written::Apoapsis,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: None,
                words: Words {
                    name: "captured high enough",
                    breaking: "captured too low",
                    broken: "captured below {value}",
                    moved: "captured below {value} apoapsis",
                    control: "where captured, the apoapsis at least",
                    value: "{value} apoapsis",
                    asks: "captured, with the apoapsis altitude above {value}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Outcome,
                    dashes: &[Dashes::DashDot],
                },
            },
            Self::ComesDown => &LimitSpec {
                key: "comes_down",
                of: None,
                form: Form::ComesDown,
                bound: NO_VALUE,
                written: Written::Flag,
                number: None,
                of_heat: false,
                made_at_the_peak: true,
                goes_with: None,
                words: Words {
                    name: "comes down",
                    breaking: "does not come down",
                    broken: "does not come down in this pass",
                    value: "yes",
                    asks: "comes down without leaving the air again",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Outcome,
                    dashes: &[Dashes::Dotted],
                },
            },
            Self::Spot(_) => &LimitSpec {
                key: "spot",
                of: Some(Quantity::SpotHeatFlux),
                form: Form::Most,
                bound: SPOT_FLUX_W_M2,
                written: Written::Spot,
                number: None,
                of_heat: true,
                made_at_the_peak: true,
                goes_with: Some(Quantity::PeakHeatFlux),
                words: Words {
                    name: "heat flux of {spot}",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::Heat,
                    dashes: &[Dashes::Long, Dashes::Dotted, Dashes::DashDot, Dashes::Solid],
                },
            },
            Self::People => &LimitSpec {
                key: "people",
                of: Some(Quantity::PeopleShare),
                form: Form::Most,
                bound: LEVEL_FACTOR,
                written: Written::People,
                number: None,
                of_heat: false,
                made_at_the_peak: false,
                goes_with: Some(Quantity::PeakDeceleration),
                words: Words {
                    name: "people's {axes} by level and duration",
                    broken: "{name} beyond {value}",
                    moved: "{name} above {value} of the curve's levels",
                    control: "{name}, levels at most",
                    value: "{value} of the curve",
                    ..Words::MOST
                },
                line: Line {
                    role: Role::FeltByPeople,
                    dashes: &[Dashes::DashDot],
                },
            },
        }
    }
}

/// Of a limit that has no allowed value.
const NO_VALUE: Bound = Bound::between(0.0, 0.0);

#[cfg(test)]
mod tests {
    use super::*;

    /// What several rows say of one thing agrees: keys differ, a number of a limit has its key, a limit with a value
    /// has a quantity, and what is moved on a page has words with a value in them.
    #[test]
    fn the_table_agrees_with_itself() {
        for (place, kind) in LimitKind::ALL.into_iter().enumerate() {
            let spec = kind.spec();
            for other in &LimitKind::ALL[place + 1..] {
                assert_ne!(spec.key, other.spec().key);
            }
            if let Some(number) = spec.number {
                assert_eq!(number.key(), format!("limits.{}", spec.key));
                assert!(number.is_limit());
            }
            assert_eq!(spec.of.is_none(), spec.form.is_of_staying(), "{kind:?}");
            if spec.of.is_some() {
                assert!(spec.words.broken.contains("{value}"), "{kind:?}");
                assert!(spec.words.moved.contains("{value}"), "{kind:?}");
            }
            assert_eq!(kind.place().is_some(), spec.line.dashes.len() > 1);
            assert_eq!(kind.at(3).place(), kind.place().map(|_| 3));
        }
        let limits = Number::ALL.iter().filter(|number| number.is_limit());
        for number in limits {
            let known = |kind: &LimitKind| kind.spec().number == Some(*number);
            assert!(LimitKind::ALL.iter().any(known), "{number:?}");
        }
    }
}
