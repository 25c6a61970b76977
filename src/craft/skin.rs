//! The wall behind a spot's surface, carried along the heat flux of a pass and through the cold time after
//! it, from pass to pass. What the wall is made of is the scenario's; where the flux comes from is `pass`.

use super::flux_history::{Between, FluxPoint, rest_steps};
use super::graded::graded;
use super::layer::{Radiating, SlabError};
use super::slab::{HeatStep, Slab, SlabState};
use super::wall::{ThinWall, equilibrium_temperature};
use crate::scenario::spots::SpotSpec;
use crate::scenario::wall::{BackSpec, WallKind};

/// The wall behind a spot's surface, ready to be carried through passes.
#[derive(Debug, Clone, PartialEq)]
pub struct Skin {
    model: Model,
    start_k: f64,
    soak_s: f64,
}

#[derive(Debug, Clone, PartialEq)]
enum Model {
    Equilibrium(Radiating),
    Thin(ThinWall),
    Slab(Slab),
}

/// A temperature and when it was, s since the wall's start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct At {
    /// Temperature, K.
    pub kelvin: f64,
    /// Time since the wall's start, s.
    pub time_s: f64,
}

/// The temperatures of a skin and the hottest they have been.
#[derive(Debug, Clone, PartialEq)]
pub struct SkinState {
    wall: WallState,
    clock_s: f64,
    surface_peak: At,
    back_peak: Option<At>,
}

#[derive(Debug, Clone, PartialEq)]
enum WallState {
    OneTemperature(f64),
    Slab(SlabState),
}

impl SkinState {
    /// Temperature of the surface, K.
    #[must_use]
    pub fn surface_k(&self) -> f64 {
        match &self.wall {
            WallState::OneTemperature(kelvin) => *kelvin,
            WallState::Slab(state) => state.front_k(),
        }
    }

    /// Temperature of the back face of a slab, K.
    #[must_use]
    pub fn back_k(&self) -> Option<f64> {
        match &self.wall {
            WallState::OneTemperature(_) => None,
            WallState::Slab(state) => Some(state.back_k()),
        }
    }

    /// The layers of a slab, for its heat books.
    #[must_use]
    pub fn slab(&self) -> Option<&SlabState> {
        match &self.wall {
            WallState::OneTemperature(_) => None,
            WallState::Slab(state) => Some(state),
        }
    }

    /// Time since the wall's start or since [`SkinState::begin_anew`], s.
    #[must_use]
    pub fn clock_s(&self) -> f64 {
        self.clock_s
    }

    /// The hottest that the surface has been.
    #[must_use]
    pub fn surface_peak(&self) -> At {
        self.surface_peak
    }

    /// The hottest that the back face of a slab has been.
    #[must_use]
    pub fn back_peak(&self) -> Option<At> {
        self.back_peak
    }

    /// Sets the clock to 0 and forgets the peaks; the temperatures stay. For peaks of each pass.
    pub fn begin_anew(&mut self) {
        self.clock_s = 0.0;
        self.surface_peak = At {
            kelvin: self.surface_k(),
            time_s: 0.0,
        };
        self.back_peak = self.back_k().map(|kelvin| At {
            kelvin,
            time_s: 0.0,
        });
    }

    fn note(&mut self) {
        let time_s = self.clock_s;
        let raise = |peak: &mut At, kelvin: f64| {
            if kelvin > peak.kelvin {
                *peak = At { kelvin, time_s };
            }
        };
        let (surface, back) = (self.surface_k(), self.back_k());
        raise(&mut self.surface_peak, surface);
        if let (Some(peak), Some(kelvin)) = (&mut self.back_peak, back) {
            raise(peak, kelvin);
        }
    }
}

impl Skin {
    /// The wall of a spot, at one temperature at first.
    ///
    /// # Errors
    /// [`SlabError`] for properties that make no wall; those of a checked scenario do.
    pub fn new(spot: &SpotSpec) -> Result<Self, SlabError> {
        Self::with_fineness(spot, 1.0)
    }

    /// The wall with its layers cut into so many times finer cells than usual, to see what cells cost.
    ///
    /// # Errors
    /// As [`Skin::new`].
    pub fn with_fineness(spot: &SpotSpec, fineness: f64) -> Result<Self, SlabError> {
        let wall = &spot.wall;
        let front = Radiating {
            emissivity: spot.emissivity,
            background_k: wall.background_k,
        };
        let model = match &wall.kind {
            WallKind::RadiativeEquilibrium => Model::Equilibrium(front),
            WallKind::Thin {
                heat_capacity_j_m2_k,
            } => Model::Thin(ThinWall {
                heat_capacity_j_m2_k: *heat_capacity_j_m2_k,
                emissivity: spot.emissivity,
                background_k: wall.background_k,
            }),
            WallKind::Slab { layers, back, .. } => {
                let back = match *back {
                    BackSpec::Insulated => None,
                    BackSpec::Radiating {
                        emissivity,
                        background_k,
                    } => Some(Radiating {
                        emissivity,
                        background_k,
                    }),
                };
                Model::Slab(Slab::new(&graded(layers, fineness), front, back)?)
            }
        };
        Ok(Self {
            model,
            start_k: wall.start_k,
            soak_s: wall.followed_s(),
        })
    }

    /// How long the scenario has the wall followed after a pass, s.
    #[must_use]
    pub fn soak_s(&self) -> f64 {
        self.soak_s
    }

    /// Whether the wall takes time to warm: it is more than a surface in equilibrium.
    #[must_use]
    pub fn takes_time(&self) -> bool {
        !matches!(self.model, Model::Equilibrium(_))
    }

    /// The wall before its first pass.
    ///
    /// # Errors
    /// [`SlabError::Temperature`] for a start below 0 K; that of a checked scenario is not.
    pub fn at_start(&self) -> Result<SkinState, SlabError> {
        let wall = match &self.model {
            Model::Equilibrium(front) => WallState::OneTemperature(front.background_k),
            Model::Thin(_) => WallState::OneTemperature(self.start_k),
            Model::Slab(slab) => WallState::Slab(slab.at_temperature(self.start_k)?),
        };
        let none = At {
            kelvin: 0.0,
            time_s: 0.0,
        };
        let mut state = SkinState {
            wall,
            clock_s: 0.0,
            surface_peak: none,
            back_peak: None,
        };
        state.begin_anew();
        Ok(state)
    }

    /// Carries the wall along the flux of a pass, whose points are in order of time; `each` sees the wall
    /// at every point. Between points ln(flux) is the cubic through values and rates, and the steps are as
    /// short as it bends: the peaks are within 0.1 % for points up to a second apart.
    ///
    /// # Errors
    /// [`SlabError::NoSolution`] for a flux or a time that is not finite.
    pub fn carry(
        &self,
        state: &mut SkinState,
        pass: &[FluxPoint],
        mut each: impl FnMut(&SkinState),
    ) -> Result<(), SlabError> {
        if let [first, ..] = pass {
            self.settle(state, first.flux_w_m2);
            state.note();
            each(state);
        }
        let peak_w_m2 = pass.iter().map(|p| p.flux_w_m2).fold(0.0, f64::max);
        for pair in pass.windows(2) {
            let between = Between::new(pair[0], pair[1], peak_w_m2);
            let mut last = pair[0].flux_w_m2;
            for step in 1..=between.steps {
                let next = between.flux_w_m2(f64::from(step) / f64::from(between.steps));
                let heat = HeatStep {
                    duration_s: between.length_s / f64::from(between.steps),
                    start_w_m2: last,
                    end_w_m2: next,
                };
                self.advance(state, &heat)?;
                last = next;
            }
            each(state);
        }
        Ok(())
    }

    /// Carries the wall through `duration_s` (s) without flux, in which it radiates only; `each` sees it after
    /// every step. Steps grow by 4 % from a quarter of a second.
    ///
    /// # Errors
    /// As [`Skin::carry`].
    pub fn rest(
        &self,
        state: &mut SkinState,
        duration_s: f64,
        mut each: impl FnMut(&SkinState),
    ) -> Result<(), SlabError> {
        if !duration_s.is_finite() {
            return Err(SlabError::NoSolution {
                step_s: duration_s,
                heat_flux_w_m2: 0.0,
            });
        }
        for duration_s in rest_steps(duration_s) {
            let still = HeatStep {
                duration_s,
                start_w_m2: 0.0,
                end_w_m2: 0.0,
            };
            self.advance(state, &still)?;
            each(state);
        }
        Ok(())
    }

    fn advance(&self, state: &mut SkinState, step: &HeatStep) -> Result<(), SlabError> {
        if !(step.end_w_m2.is_finite() && step.duration_s.is_finite()) {
            return Err(SlabError::NoSolution {
                step_s: step.duration_s,
                heat_flux_w_m2: step.end_w_m2,
            });
        }
        match (&self.model, &mut state.wall) {
            (Model::Slab(slab), WallState::Slab(layers)) => slab.advance(layers, step)?,
            (Model::Thin(thin), WallState::OneTemperature(kelvin)) => {
                let mean = 0.5 * (step.start_w_m2 + step.end_w_m2);
                *kelvin = thin.after(*kelvin, mean, step.duration_s);
            }
            _ => self.settle(state, step.end_w_m2),
        }
        state.clock_s += step.duration_s;
        state.note();
        Ok(())
    }

    /// Brings a surface that takes no time to what a flux makes it.
    fn settle(&self, state: &mut SkinState, flux_w_m2: f64) {
        if let Model::Equilibrium(front) = &self.model {
            let kelvin = equilibrium_temperature(flux_w_m2, front.emissivity, front.background_k);
            state.wall = WallState::OneTemperature(kelvin);
        }
    }
}

/// A pass and the cold time after it.
#[derive(Debug, Clone, PartialEq)]
pub struct Leg {
    /// Flux into the spot along the pass, points in order of time; may be empty.
    pub pass: Vec<FluxPoint>,
    /// Time from the end of that flux to the beginning of the next, s, 0 or more.
    pub cold_s: f64,
}

/// What a wall went through in one pass and the cold time after it. Times count from the start of the pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LegPeaks {
    /// The hottest that the surface was.
    pub surface: At,
    /// The hottest that the back face of a slab was; it may be long after the pass.
    pub back: Option<At>,
    /// Temperature of the surface at the end of the cold time, K.
    pub end_surface_k: f64,
    /// Temperature of the back face of a slab then, K.
    pub end_back_k: Option<f64>,
}

impl Skin {
    /// Carries a wall from its start through several passes with cold time after each, in which it only
    /// radiates; one entry a pass. The heat that is left goes on into the next pass.
    ///
    /// # Errors
    /// As [`Skin::carry`].
    pub fn through<'l>(
        &self,
        legs: impl IntoIterator<Item = &'l Leg>,
    ) -> Result<Vec<LegPeaks>, SlabError> {
        let mut state = self.at_start()?;
        let mut peaks = Vec::new();
        for leg in legs {
            state.begin_anew();
            self.carry(&mut state, &leg.pass, |_| ())?;
            self.rest(&mut state, leg.cold_s, |_| ())?;
            peaks.push(LegPeaks {
                surface: state.surface_peak(),
                back: state.back_peak(),
                end_surface_k: state.surface_k(),
                end_back_k: state.back_k(),
            });
        }
        Ok(peaks)
    }
}
