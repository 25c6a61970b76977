//! Heat that soaks through the wall: conduction in one dimension through layers, with a flux and
//! re-radiation in front and an insulated or radiating back. Its state goes on from pass to pass.

use super::layer::{Layer, MOST_CELLS, Radiating, SlabError};

/// A wall of layers, front first. Properties do not depend on temperature; nothing ablates.
#[derive(Debug, Clone, PartialEq)]
pub struct Slab {
    /// Heat capacity that belongs to each node, J/(m² K); nodes are the ends of the cells.
    pub(super) capacity: Vec<f64>,
    /// Conductance between a node and the next, W/(m² K).
    pub(super) conductance: Vec<f64>,
    pub(super) front: Radiating,
    pub(super) back: Option<Radiating>,
}

/// The temperatures of a wall and the heat that went through its surfaces so far.
#[derive(Debug, Clone, PartialEq)]
pub struct SlabState {
    temperatures_k: Vec<f64>,
    absorbed_j_m2: f64,
    radiated_j_m2: f64,
}

impl SlabState {
    /// Temperatures from front to back, K.
    #[must_use]
    pub fn temperatures_k(&self) -> &[f64] {
        &self.temperatures_k
    }
    /// Temperature of the front surface, K.
    #[must_use]
    pub fn front_k(&self) -> f64 {
        self.temperatures_k[0]
    }
    /// Temperature of the back surface, K.
    #[must_use]
    pub fn back_k(&self) -> f64 {
        self.temperatures_k[self.temperatures_k.len() - 1]
    }
    /// Heat put into the front so far, J/m².
    #[must_use]
    pub fn absorbed_j_m2(&self) -> f64 {
        self.absorbed_j_m2
    }
    /// Net heat radiated by front and back so far, J/m².
    #[must_use]
    pub fn radiated_j_m2(&self) -> f64 {
        self.radiated_j_m2
    }
}

/// One step of time with a flux that changes linearly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatStep {
    /// Length, s, 0 or more.
    pub duration_s: f64,
    /// Flux into the front at its beginning, W/m², before re-radiation.
    pub start_w_m2: f64,
    /// Flux at its end, W/m².
    pub end_w_m2: f64,
}

impl Slab {
    /// A wall of layers; `back` is `None` for an insulated back.
    ///
    /// # Errors
    /// [`SlabError`] names what is wrong with a layer or a surface.
    pub fn new(
        layers: &[Layer],
        front: Radiating,
        back: Option<Radiating>,
    ) -> Result<Self, SlabError> {
        if layers.is_empty() {
            return Err(SlabError::NoLayer);
        }
        front.check()?;
        back.map_or(Ok(()), |back| back.check())?;
        let (mut capacity, mut conductance) = (vec![0.0], Vec::new());
        for (index, layer) in layers.iter().enumerate() {
            layer.check(index)?;
            if conductance.len() + layer.cells > MOST_CELLS {
                return Err(SlabError::Cells);
            }
            #[expect(clippy::cast_precision_loss, reason = "at most 10 000")]
            let width = layer.thickness_m / layer.cells as f64;
            let half = 0.5 * width * layer.density_kg_m3 * layer.specific_heat_j_kg_k;
            for _ in 0..layer.cells {
                if let Some(last) = capacity.last_mut() {
                    *last += half;
                }
                capacity.push(half);
                conductance.push(layer.conductivity_w_m_k / width);
            }
        }
        Ok(Self {
            capacity,
            conductance,
            front,
            back,
        })
    }

    /// The wall at one temperature, K, with nothing absorbed or radiated.
    ///
    /// # Errors
    /// [`SlabError::Temperature`] for a number below 0 or none.
    pub fn at_temperature(&self, temperature_k: f64) -> Result<SlabState, SlabError> {
        if !(temperature_k >= 0.0 && temperature_k.is_finite()) {
            return Err(SlabError::Temperature(temperature_k));
        }
        Ok(SlabState {
            temperatures_k: vec![temperature_k; self.capacity.len()],
            absorbed_j_m2: 0.0,
            radiated_j_m2: 0.0,
        })
    }

    /// Heat in the wall above 0 K, J/m².
    #[must_use]
    pub fn heat_j_m2(&self, state: &SlabState) -> f64 {
        let pairs = self.capacity.iter().zip(&state.temperatures_k);
        pairs
            .map(|(capacity, temperature)| capacity * temperature)
            .sum()
    }

    /// Carries the wall through one step of time: the trapezoidal rule to 2 - √2 of the step, then the
    /// second-order backward formula to its end (Bank et al., IEEE Trans. CAD 4, 1985), which damps what
    /// a step is too long to resolve. Second order in time and thickness; the heat books balance to
    /// rounding. A step too long for the equations to have a solution is taken in halves.
    ///
    /// # Errors
    /// [`SlabError::NoSolution`] when the flux is not finite or halving does not help; the state is
    /// then that at the beginning of the part that failed.
    pub fn advance(&self, state: &mut SlabState, step: &HeatStep) -> Result<(), SlabError> {
        let mut waiting = vec![(*step, 0)];
        while let Some((step, halvings)) = waiting.pop() {
            if step.duration_s <= 0.0 || self.attempt(state, &step).is_some() {
                continue;
            }
            let middle = 0.5 * (step.start_w_m2 + step.end_w_m2);
            if halvings == 40 || !middle.is_finite() || !step.duration_s.is_finite() {
                return Err(SlabError::NoSolution {
                    step_s: step.duration_s,
                    heat_flux_w_m2: step.end_w_m2,
                });
            }
            let half = |start_w_m2, end_w_m2| HeatStep {
                duration_s: 0.5 * step.duration_s,
                start_w_m2,
                end_w_m2,
            };
            waiting.push((half(middle, step.end_w_m2), halvings + 1));
            waiting.push((half(step.start_w_m2, middle), halvings + 1));
        }
        Ok(())
    }

    /// Carries the wall through the time between two passes, without a flux: a hundred steps, each a
    /// tenth longer than the one before.
    ///
    /// # Errors
    /// As [`Slab::advance`].
    pub fn rest(&self, state: &mut SlabState, duration_s: f64) -> Result<(), SlabError> {
        let mut length = duration_s * 0.1 / (libm::pow(1.1, 100.0) - 1.0);
        for _ in 0..100 {
            let step = HeatStep {
                duration_s: length,
                start_w_m2: 0.0,
                end_w_m2: 0.0,
            };
            self.advance(state, &step)?;
            length *= 1.1;
        }
        Ok(())
    }

    /// One step; `None`, with the state as it was, when its equations have no solution.
    fn attempt(&self, state: &mut SlabState, step: &HeatStep) -> Option<()> {
        let h = step.duration_s;
        let gamma = 2.0 - std::f64::consts::SQRT_2;
        let (implicit, carried) = (0.5 * gamma * h, 0.25 * std::f64::consts::SQRT_2 * h);
        let fluxes = [step.start_w_m2, step.end_w_m2];
        let middle_w_m2 = gamma.mul_add(fluxes[1] - fluxes[0], fluxes[0]);
        let start = &state.temperatures_k;
        let first = self.inflow(start, fluxes[0]);
        let held = self.held(start, implicit, &[&first]);
        let middle = self.solve(start, &held, (implicit, middle_w_m2))?;
        let second = self.inflow(&middle, middle_w_m2);
        let held = self.held(start, carried, &[&first, &second]);
        let end = self.solve(&middle, &held, (implicit, fluxes[1]))?;
        let total =
            |start: f64, middle: f64, end: f64| carried.mul_add(start + middle, implicit * end);
        let lost = |temperatures: &[f64]| {
            let [front, back] = self.radiation(temperatures);
            front.0 + back.0
        };
        state.absorbed_j_m2 += total(fluxes[0], middle_w_m2, fluxes[1]);
        state.radiated_j_m2 += total(lost(start), lost(&middle), lost(&end));
        state.temperatures_k = end;
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::wall::ThinWall;
    use super::*;

    const DARK: Radiating = Radiating {
        emissivity: 0.0,
        background_k: 0.0,
    };
    const BRIGHT: Radiating = Radiating {
        emissivity: 0.9,
        background_k: 250.0,
    };

    fn layer(thickness_m: f64, cells: usize) -> Layer {
        Layer {
            thickness_m,
            conductivity_w_m_k: 0.5,
            density_kg_m3: 300.0,
            specific_heat_j_kg_k: 1200.0,
            cells,
        }
    }

    fn pulse(slab: &Slab, state: &mut SlabState, flux: f64, (duration, steps): (f64, u32)) {
        for _ in 0..steps {
            let step = HeatStep {
                duration_s: duration / f64::from(steps),
                start_w_m2: flux,
                end_w_m2: flux,
            };
            slab.advance(state, &step).unwrap();
        }
    }

    /// Carslaw & Jaeger, *Conduction of Heat in Solids* (1959), 2.9, from memory: a half space under
    /// constant flux warms at depth x by (2q/k)(√(κt/π) e^(-x²/4κt) - (x/2) erfc(x/2√(κt))).
    fn half_space_rise(flux: f64, depth: f64, time: f64) -> f64 {
        let (k, kappa) = (0.5, 0.5 / (300.0 * 1200.0));
        let root = (kappa * time).sqrt();
        let gauss = (-depth * depth / (4.0 * kappa * time)).exp();
        let rest = 0.5 * depth * libm::erfc(depth / (2.0 * root));
        2.0 * flux / k * (root / std::f64::consts::PI.sqrt() * gauss - rest)
    }

    #[test]
    fn a_thick_wall_warms_as_a_half_space_and_converges_at_second_order() {
        let error = |steps: u32| {
            let cells = steps as usize;
            let slab = Slab::new(&[layer(0.06, cells)], DARK, None).unwrap();
            let mut state = slab.at_temperature(300.0).unwrap();
            pulse(&slab, &mut state, 2e4, (100.0, steps));
            [(0, 0.0), (cells / 10, 0.006)].map(|(node, depth)| {
                (state.temperatures_k()[node] - 300.0) / half_space_rise(2e4, depth, 100.0) - 1.0
            })
        };
        let (coarse, fine) = (error(100), error(200));
        for (coarse, fine) in coarse.into_iter().zip(fine) {
            assert!(fine.abs() < 1e-4, "{fine}");
            assert!((coarse / fine).abs() > 3.5, "{coarse} {fine}");
        }
    }

    #[test]
    fn steady_conduction_is_a_straight_line_through_every_layer() {
        let metal = Layer {
            conductivity_w_m_k: 20.0,
            ..layer(0.004, 3)
        };
        let slab = Slab::new(&[layer(0.02, 10), metal], DARK, Some(BRIGHT)).unwrap();
        let mut state = slab.at_temperature(300.0).unwrap();
        pulse(&slab, &mut state, 5e3, (1e6, 400));
        let back =
            (5e3 / (0.9 * crate::craft::wall::STEFAN_BOLTZMANN) + 250_f64.powi(4)).powf(0.25);
        assert!((state.back_k() - back).abs() < 1e-6, "{}", state.back_k());
        let front = back + 5e3 * (0.02 / 0.5 + 0.004 / 20.0);
        assert!(
            (state.front_k() - front).abs() < 1e-6,
            "{}",
            state.front_k()
        );
    }

    #[test]
    fn the_heat_books_balance_over_several_passes() {
        let slab = Slab::new(&[layer(0.03, 30)], BRIGHT, Some(BRIGHT)).unwrap();
        let mut state = slab.at_temperature(280.0).unwrap();
        let before = slab.heat_j_m2(&state);
        let mut backs = Vec::new();
        for _ in 0..3 {
            for i in 0..60 {
                let step = HeatStep {
                    duration_s: 5.0,
                    start_w_m2: 1e5 * (f64::from(i) / 20.0).sin().abs(),
                    end_w_m2: 1e5 * (f64::from(i + 1) / 20.0).sin().abs(),
                };
                slab.advance(&mut state, &step).unwrap();
            }
            slab.rest(&mut state, 600.0).unwrap();
            backs.push(state.back_k());
        }
        let gained = slab.heat_j_m2(&state) - before;
        let books = state.absorbed_j_m2() - state.radiated_j_m2();
        assert!(
            (gained - books).abs() < 1e-9 * state.absorbed_j_m2(),
            "{gained} {books}"
        );
        assert!(
            backs[0] > 280.0 && backs[1] > backs[0],
            "heat soaks in: {backs:?}"
        );
    }

    #[test]
    fn a_thin_conducting_wall_is_the_thin_wall() {
        let sheet = Layer {
            thickness_m: 0.002,
            conductivity_w_m_k: 4e3,
            density_kg_m3: 2000.0,
            specific_heat_j_kg_k: 1000.0,
            cells: 1,
        };
        let slab = Slab::new(&[sheet], BRIGHT, None).unwrap();
        let mut state = slab.at_temperature(300.0).unwrap();
        pulse(&slab, &mut state, 1e5, (60.0, 2000));
        let thin = ThinWall {
            heat_capacity_j_m2_k: 4000.0,
            emissivity: 0.9,
            background_k: 250.0,
        };
        let exact = thin.after(300.0, 1e5, 60.0);
        assert!((state.temperatures_k()[1] - exact).abs() < 0.05, "{exact}");
    }

    #[test]
    fn long_steps_are_halved_and_impossible_ones_are_named() {
        let slab = Slab::new(&[layer(0.01, 20)], BRIGHT, None).unwrap();
        let mut state = slab.at_temperature(3000.0).unwrap();
        pulse(&slab, &mut state, 0.0, (1e5, 1));
        assert!((state.front_k() - 250.0).abs() < 5.0, "{}", state.front_k());
        let kept = state.clone();
        let step = HeatStep {
            duration_s: 1.0,
            start_w_m2: 0.0,
            end_w_m2: f64::NAN,
        };
        assert!(matches!(
            slab.advance(&mut state, &step),
            Err(SlabError::NoSolution { .. })
        ));
        assert_eq!(state, kept);
    }

    #[test]
    fn walls_that_cannot_be_are_refused() {
        let new = |layers: &[Layer], front| Slab::new(layers, front, None).map(|_| ()).unwrap_err();
        assert_eq!(new(&[], DARK), SlabError::NoLayer);
        assert_eq!(new(&[layer(0.1, 0)], DARK), SlabError::Cells);
        assert_eq!(
            new(&[layer(0.1, 6000), layer(0.1, 6000)], DARK),
            SlabError::Cells
        );
        assert_eq!(
            new(&[layer(0.1, 5), layer(-0.1, 5)], DARK).to_string(),
            "layer 2: thickness must be above 0, got -0.1"
        );
        let odd = Radiating {
            emissivity: 1.2,
            ..DARK
        };
        assert_eq!(new(&[layer(0.1, 5)], odd), SlabError::Surface);
        let slab = Slab::new(&[layer(0.1, 5)], DARK, None).unwrap();
        assert_eq!(slab.at_temperature(-1.0), Err(SlabError::Temperature(-1.0)));
    }
}
