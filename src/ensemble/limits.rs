//! The limits of a scenario as a list: which of them a flown pass breaks. What each is stands in the table of
//! `scenario::limits`; a pass is judged by the form alone.

use super::people::{PeopleError, PeopleWatch};
use crate::craft::spots::{Rolling, Spot, SpotHeating};
use crate::numeric::quantity::Quantity;
use crate::pass::stays::Level;
use crate::pass::{Ending, PassResult};
use crate::scenario::limits::{Form, Limits};
pub use crate::scenario::limits::{Limit, LimitKind};
use crate::scenario::ship::Ship;
use crate::scenario::spots::{SpotShare, SpotSpec};
use crate::scenario::uncertainty::Number;

impl Limit {
    /// The allowed value of a sample with these numbers: its own where that is uncertain.
    #[must_use]
    pub fn drawn(&self, numbers: &[f64; Number::COUNT]) -> f64 {
        let number = self.kind.spec().number;
        number.map_or(self.allowed, |number| numbers[number as usize])
    }
}

/// All limits that bind, in a fixed order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LimitSet {
    entries: Vec<Limit>,
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
        let people = match &limits.people {
            Some(people) => Some(PeopleWatch::new(people, lift_to_drag)?),
            None => None,
        };
        let mut entries = limits.entries().to_vec();
        let mut add = |kind, allowed: Option<f64>| {
            entries.extend(allowed.map(|allowed| Limit {
                kind,
                allowed,
                level_m_s2: None,
            }));
        };
        for (index, spot) in ship.spots.iter().enumerate() {
            add(LimitKind::Spot(index), model(spot).binding_flux_w_m2());
        }
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

    /// The limit on a quantity that is limited on one side only; the first of several. The apoapsis is limited on both:
    /// ask for the limit itself.
    #[must_use]
    pub fn on(&self, quantity: Quantity) -> Option<&Limit> {
        let mut entries = self.entries.iter();
        entries.find(|limit| limit.kind.spec().of == Some(quantity))
    }

    /// The same limit as one of these.
    #[must_use]
    pub fn find(&self, kind: LimitKind) -> Option<&Limit> {
        self.entries.iter().find(|limit| limit.kind == kind)
    }

    /// Levels above which the time of a pass has to be measured.
    #[must_use]
    pub fn levels(&self) -> Vec<Level> {
        let levels = self.entries.iter().filter_map(|limit| {
            let (of, place) = (limit.kind.spec().of?, limit.kind.place()?);
            let level_m_s2 = limit.level_m_s2?;
            // A level beyond the most is not measured, and so broken.
            (place < Limits::MAX_LEVELS).then_some(Level {
                of,
                place,
                level_m_s2,
            })
        });
        levels.collect()
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
    /// The value of a pass that a limit with an allowed value is held against, in SI units: [`measured`], and of a
    /// spot what follows from the nose radius (m) at the start of the pass, asked for only there.
    #[must_use]
    pub fn value(
        &self,
        kind: LimitKind,
        pass: &PassResult,
        nose_radius_m: impl FnOnce() -> f64,
    ) -> Option<f64> {
        match (kind.spec().of, kind.place()) {
            (Some(Quantity::SpotHeatFlux), Some(spot)) => {
                self.spot_flux_w_m2(spot, pass, nose_radius_m())
            }
            _ => measured(kind, pass),
        }
    }

    /// The value of a limit of heat in a pass and what is allowed of it, SI units; `None` for any other limit.
    #[must_use]
    pub fn heat(
        &self,
        limit: &Limit,
        pass: &PassResult,
        numbers: &[f64; Number::COUNT],
    ) -> Option<(f64, f64)> {
        if !limit.kind.spec().of_heat {
            return None;
        }
        let nose_radius_m = || numbers[Number::NoseRadius as usize];
        let value = self.value(limit.kind, pass, nose_radius_m)?;
        Some((value, limit.drawn(numbers)))
    }

    /// What is not measured, or is no number, holds no limit.
    fn breaks(&self, limit: &Limit, pass: &PassResult, numbers: &[f64; Number::COUNT]) -> bool {
        let value = || self.value(limit.kind, pass, || numbers[Number::NoseRadius as usize]);
        let above = || value().is_none_or(|value| !(value <= limit.drawn(numbers)));
        let below = || value().is_none_or(|value| !(value >= limit.allowed));
        match limit.kind.spec().form {
            Form::Most | Form::MostTime => above(),
            Form::Least => below(),
            Form::CapturedMost => {
                // A ship that did not come out again is counted by `leaves_air` alone.
                match pass.ending {
                    Ending::Captured => above(),
                    Ending::Escaped => true,
                    Ending::Landed | Ending::OutOfTime | Ending::Failed | Ending::NoApproach => {
                        false
                    }
                }
            }
            Form::CapturedLeast => pass.ending == Ending::Captured && below(),
            Form::LeavesAir => matches!(pass.ending, Ending::Landed | Ending::OutOfTime),
            Form::ComesDown => pass.ending != Ending::Landed,
        }
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

/// The value of a pass that a limit with an allowed value is held against, in SI units; `None` for a spot, whose flux
/// follows from the ship too ([`LimitSet::value`]).
#[must_use]
pub fn measured(kind: LimitKind, pass: &PassResult) -> Option<f64> {
    pass.value(kind.spec().of?, kind.place().unwrap_or(0))
}
