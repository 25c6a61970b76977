//! The limits of a scenario as a list: which of them a flown pass breaks.

use super::people::{PeopleError, PeopleWatch};
use crate::craft::spots::{Rolling, Spot, SpotHeating};
use crate::pass::{Ending, PassResult};
use crate::scenario::limits::Limits;
use crate::scenario::ship::Ship;
use crate::scenario::spots::{SpotShare, SpotSpec};
use crate::scenario::uncertainty::Number;

/// One kind of limit. Its key is the one written in the scenario where there is one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LimitKind {
    /// Peak sensed deceleration.
    PeakDeceleration,
    /// Onset of deceleration.
    Onset,
    /// Stay above the level of this index.
    StayAbove(usize),
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
    /// An orbit after the pass whose apoapsis is not too low.
    CapturedAbove,
    /// Leaves the air again: part of `captured_below`, broken on the steep side.
    LeavesAir,
    /// Ends on the ground.
    ComesDown,
    /// Heat flux of the spot of this index in `ship.spots`.
    Spot(usize),
    /// The curves of level against duration for the people aboard: the highest ratio of a level to the one that may
    /// last as long.
    People,
}

impl LimitKind {
    /// The stable key in files: that of the scenario where there is one.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::PeakDeceleration => "peak_deceleration",
            Self::Onset => "onset",
            Self::StayAbove(_) => "stay_above",
            Self::HeatFlux => "heat_flux",
            Self::HeatLoad => "heat_load",
            Self::DynamicPressure => "dynamic_pressure",
            Self::LowestAltitude => "lowest_altitude",
            Self::CapturedBelow => "captured_below",
            Self::CapturedAbove => "captured_above",
            Self::LeavesAir => "leaves_air",
            Self::ComesDown => "comes_down",
            Self::Spot(_) => "spot",
            Self::People => "people",
        }
    }

    /// The number by which its allowed value may be uncertain.
    #[must_use]
    pub fn number(self) -> Option<Number> {
        match self {
            Self::PeakDeceleration => Some(Number::LimitPeakDeceleration),
            Self::Onset => Some(Number::LimitOnset),
            Self::HeatFlux => Some(Number::LimitHeatFlux),
            Self::HeatLoad => Some(Number::LimitHeatLoad),
            Self::DynamicPressure => Some(Number::LimitDynamicPressure),
            _ => None,
        }
    }

    /// Whether it is about where one pass leaves the ship: of a campaign, which has a target of its own, it is not
    /// asked.
    #[must_use]
    pub fn is_of_the_way_out(self) -> bool {
        matches!(
            self,
            Self::CapturedBelow | Self::CapturedAbove | Self::LeavesAir | Self::ComesDown
        )
    }
}

/// One limit with its allowed value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// What is limited.
    pub kind: LimitKind,
    /// Allowed value in SI units, for `People` a ratio (for `LeavesAir` and `ComesDown` 0: they have none).
    pub allowed: f64,
}

impl Limit {
    /// The allowed value of a sample with these numbers: its own where that is uncertain.
    #[must_use]
    pub fn drawn(&self, numbers: &[f64; Number::COUNT]) -> f64 {
        let number = self.kind.number();
        number.map_or(self.allowed, |number| numbers[number as usize])
    }
}

/// All limits that bind, in a fixed order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitSet {
    entries: Vec<Limit>,
    levels_m_s2: Vec<f64>,
    spots: Vec<SpotFlux>,
    people: Option<PeopleWatch>,
    /// Nose radius after a drop over that before it, for a ship that drops its skirt.
    nose_after: Option<f64>,
}

/// The flux of a spot from that of the stagnation point.
#[derive(Debug, Clone, Copy, PartialEq)]
struct SpotFlux {
    share: SpotShare,
    /// What a roll leaves of it on the average, 1 without one.
    rolled: f64,
}

impl SpotFlux {
    fn factor(&self, nose_radius_m: f64) -> f64 {
        let share = match self.share {
            SpotShare::Share(share) => share,
            SpotShare::Radius(radius_m) => (nose_radius_m / radius_m).sqrt(),
        };
        share * self.rolled
    }
}

impl LimitSet {
    /// Most limits of a scenario: one bit of what a pass broke for each. [`super::Problem::new`] refuses more.
    pub const MOST: usize = u32::BITS as usize;

    /// The limits of a scenario and its ship, which is felt at this lift-to-drag ratio.
    ///
    /// # Errors
    /// [`PeopleError`] for a curve that is not known or not of the axis in which the seat feels the braking.
    pub fn new(limits: &Limits, ship: &Ship, lift_to_drag: f64) -> Result<Self, PeopleError> {
        let mut entries = Vec::new();
        let mut add = |kind, allowed: Option<f64>| {
            entries.extend(allowed.map(|allowed| Limit { kind, allowed }));
        };
        add(LimitKind::PeakDeceleration, limits.peak_deceleration_m_s2);
        add(LimitKind::Onset, limits.onset_m_s3);
        for (index, stay) in limits.stay_above.iter().enumerate() {
            add(LimitKind::StayAbove(index), Some(stay.at_most_s));
        }
        add(LimitKind::HeatFlux, limits.heat_flux_w_m2);
        add(LimitKind::HeatLoad, limits.heat_load_j_m2);
        add(LimitKind::DynamicPressure, limits.dynamic_pressure_pa);
        add(LimitKind::LowestAltitude, limits.lowest_altitude_m);
        add(LimitKind::CapturedBelow, limits.captured_below_m);
        add(LimitKind::LeavesAir, limits.captured_below_m.map(|_| 0.0));
        add(LimitKind::CapturedAbove, limits.captured_above_m);
        add(LimitKind::ComesDown, limits.comes_down.then_some(0.0));
        for (index, spot) in ship.spots.iter().enumerate() {
            add(LimitKind::Spot(index), model(spot).binding_flux_w_m2());
        }
        let levels_m_s2 = limits.stay_above.iter().map(|stay| stay.level_m_s2);
        let people = match &limits.people {
            Some(people) => Some(PeopleWatch::new(people, lift_to_drag)?),
            None => None,
        };
        add(
            LimitKind::People,
            people.as_ref().map(PeopleWatch::level_factor),
        );
        let rolled = ship.roll.map_or(1.0, |roll| {
            let rolling = Rolling {
                period_s: roll.period_s,
                exponent: roll.exponent,
                lee_share: roll.lee_share,
            };
            rolling.average_share()
        });
        Ok(Self {
            spots: ship
                .spots
                .iter()
                .map(|spot| SpotFlux {
                    share: spot.heating,
                    rolled: if spot.on_circumference { rolled } else { 1.0 },
                })
                .collect(),
            entries,
            levels_m_s2: levels_m_s2.collect(),
            people,
            nose_after: None,
        })
    }

    /// The same limits of a ship whose nose radius is `factor` (above 0) times as large after a drop.
    #[must_use]
    pub fn with_nose_after(self, factor: f64) -> Self {
        Self {
            nose_after: Some(factor),
            ..self
        }
    }

    /// Nose radius after a drop over that before it; 1 for a ship that drops nothing.
    #[must_use]
    pub fn nose_after(&self) -> f64 {
        self.nose_after.unwrap_or(1.0)
    }

    /// The curve for the people aboard, if there is one.
    #[must_use]
    pub fn people(&self) -> Option<&PeopleWatch> {
        self.people.as_ref()
    }

    /// The limits in order.
    #[must_use]
    pub fn entries(&self) -> &[Limit] {
        &self.entries
    }

    /// Levels whose longest stay has to be measured, m/s².
    #[must_use]
    pub fn levels_m_s2(&self) -> &[f64] {
        &self.levels_m_s2
    }

    /// Peak flux of a spot in a pass of a ship with this nose radius (m) at its start, a roll's average included,
    /// W/m². After a drop the flux counts with the nose that flies then.
    #[must_use]
    pub fn spot_flux_w_m2(
        &self,
        spot: usize,
        pass: &PassResult,
        nose_radius_m: f64,
    ) -> Option<f64> {
        let spot = self.spots.get(spot)?;
        let before = spot.factor(nose_radius_m);
        Some(match pass.peak_heat_flux_by_nose_w_m2 {
            Some([flux, flux_after]) => {
                let after = spot.factor(nose_radius_m * self.nose_after());
                (flux * before).max(flux_after * after)
            }
            None => pass.peak_heat_flux_w_m2 * before,
        })
    }

    /// Flux of a spot over the stagnation flux of a ship with this nose radius (m), a roll's average included.
    #[must_use]
    pub fn spot_factor(&self, spot: usize, nose_radius_m: f64) -> Option<f64> {
        Some(self.spots.get(spot)?.factor(nose_radius_m))
    }

    /// Whether nothing binds.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// One bit for each limit in order, set where `pass` breaks it. `numbers` are those of its sample,
    /// for allowables that are uncertain. What was not flown to an end ([`Ending::is_flown`]) breaks none, and holds
    /// none: whoever counts what held asks for the ending too.
    #[must_use]
    pub fn broken(&self, pass: &PassResult, numbers: &[f64; Number::COUNT]) -> u32 {
        let mut mask = 0;
        for (bit, limit) in self.entries.iter().enumerate() {
            if pass.ending.is_flown() && self.breaks(limit, pass, numbers) {
                mask |= 1 << bit;
            }
        }
        mask
    }
}

impl LimitSet {
    /// The value of a limit of heat in a pass and what is allowed of it, SI units; `None` for any other limit.
    #[must_use]
    pub fn heat(
        &self,
        limit: &Limit,
        pass: &PassResult,
        numbers: &[f64; Number::COUNT],
    ) -> Option<(f64, f64)> {
        let value = match limit.kind {
            LimitKind::HeatFlux | LimitKind::HeatLoad => measured(limit.kind, pass)?,
            LimitKind::Spot(spot) => {
                self.spot_flux_w_m2(spot, pass, numbers[Number::NoseRadius as usize])?
            }
            _ => return None,
        };
        Some((value, limit.drawn(numbers)))
    }

    fn breaks(&self, limit: &Limit, pass: &PassResult, numbers: &[f64; Number::COUNT]) -> bool {
        if let LimitKind::Spot(spot) = limit.kind {
            let flux = self.spot_flux_w_m2(spot, pass, numbers[Number::NoseRadius as usize]);
            return flux.is_none_or(|flux| !(flux <= limit.allowed));
        }
        breaks(limit, pass, numbers)
    }
}

/// The heating model of a spot of the scenario.
fn model(spot: &SpotSpec) -> Spot {
    Spot {
        name: spot.name.clone(),
        heating: match spot.heating {
            SpotShare::Share(share) => SpotHeating::Share(share),
            SpotShare::Radius(radius_m) => SpotHeating::Radius(radius_m),
        },
        radiative_share: 0.0,
        emissivity: spot.emissivity,
        background_k: spot.wall.background_k,
        highest_temperature_k: spot.highest_temperature_k,
        highest_flux_w_m2: spot.highest_flux_w_m2,
    }
}

/// The value of a pass that a limit with an allowed value is held against, in SI units.
#[must_use]
pub fn measured(kind: LimitKind, pass: &PassResult) -> Option<f64> {
    match kind {
        LimitKind::PeakDeceleration => Some(pass.peak_deceleration_m_s2),
        LimitKind::Onset => Some(pass.onset_m_s3),
        LimitKind::StayAbove(index) => pass.longest_stay_s.get(index).copied(),
        LimitKind::HeatFlux => Some(pass.peak_heat_flux_w_m2),
        LimitKind::HeatLoad => Some(pass.heat_load_j_m2),
        LimitKind::DynamicPressure => Some(pass.peak_dynamic_pressure_pa),
        LimitKind::LowestAltitude => Some(pass.lowest_altitude_m),
        LimitKind::CapturedBelow | LimitKind::CapturedAbove => pass.apoapsis_altitude_m,
        LimitKind::People => match pass.exposure {
            Some(exposure) => Some(exposure.ratio),
            // Where nothing was felt no curve was neared; else it was not measured.
            None => (pass.peak_deceleration_m_s2 <= 0.0).then_some(0.0),
        },
        LimitKind::LeavesAir | LimitKind::ComesDown | LimitKind::Spot(_) => None,
    }
}

/// What is not measured, or is no number, holds no limit.
fn breaks(limit: &Limit, pass: &PassResult, numbers: &[f64; Number::COUNT]) -> bool {
    let above = || measured(limit.kind, pass).is_none_or(|value| !(value <= limit.drawn(numbers)));
    match limit.kind {
        LimitKind::PeakDeceleration
        | LimitKind::Onset
        | LimitKind::HeatFlux
        | LimitKind::HeatLoad
        | LimitKind::DynamicPressure
        | LimitKind::StayAbove(_)
        | LimitKind::People => above(),
        LimitKind::LowestAltitude => !(pass.lowest_altitude_m >= limit.allowed),
        LimitKind::CapturedBelow => {
            // A ship that did not come out again is counted by `LeavesAir` alone.
            match pass.ending {
                Ending::Captured => above(),
                Ending::Escaped => true,
                Ending::Landed | Ending::OutOfTime | Ending::Failed | Ending::NoApproach => false,
            }
        }
        LimitKind::CapturedAbove => {
            pass.ending == Ending::Captured
                && measured(limit.kind, pass).is_none_or(|value| !(value >= limit.allowed))
        }
        LimitKind::LeavesAir => matches!(pass.ending, Ending::Landed | Ending::OutOfTime),
        LimitKind::ComesDown => pass.ending != Ending::Landed,
        // It needs the limit set, which judges it itself.
        LimitKind::Spot(_) => true,
    }
}
