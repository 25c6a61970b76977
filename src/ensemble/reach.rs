//! How far a flight goes, as far as sources of models have an end: speeds, densities, altitudes and Mach numbers where
//! they count. What that means for a limit is left to `coverage`.

use crate::craft::radiative::TauberSutton;
use crate::numeric::Real;
use crate::pass::Models;
use crate::pass::reference::Moment;

/// Peaks are made while the dynamic pressure, or the flux, is above this share of its own peak.
const NEAR_THE_PEAK: f64 = 0.5;
/// What the flight does as a whole, the orbit it leaves on and how long it is braked, is made above this share.
const WHOLE_FLIGHT: f64 = 0.1;
/// Where the radiative correlation gives less than this share of the peak flux its range is not asked.
const NEGLIGIBLE: f64 = 0.01;

/// The air and the motion at a moment, as far as a correlation asks for them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) speed_m_s: f64,
    pub(super) density_kg_m3: f64,
    pub(super) nose_radius_m: f64,
}

/// The least and the most of a quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Span {
    const NONE: Self = Self {
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    fn take(&mut self, value: f64) {
        self.low = self.low.min(value);
        self.high = self.high.max(value);
    }
}

/// Where a flight was braked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Braking {
    pub(super) altitude_m: Span,
    pub(super) mach: Span,
    pub(super) ln_density: Span,
}

/// How far a flight went, as far as sources have an end.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// Fastest against the air, m/s.
    pub fastest_m_s: f64,
    /// Fastest, and the highest ρV² (Pa), while the flux is above half its peak.
    pub(super) hot: (f64, f64),
    /// Speed where the flux was highest, m/s.
    pub(super) hottest_m_s: f64,
    /// Where the radiative correlation gives most, if that is not negligible.
    pub(super) brightest: Option<Place>,
    pub(super) near: Braking,
    pub(super) whole: Braking,
}

impl Reach {
    /// What a flown history asks of the models, with the nose radius (m) at a time (s); `None` for one that never met
    /// the air.
    #[must_use]
    pub fn of(
        history: &[Moment],
        models: &Models,
        nose_radius_m: impl Fn(f64) -> f64,
    ) -> Option<Self> {
        let most = |of: fn(&Moment) -> f64| history.iter().map(of).fold(0.0, f64::max);
        let (flux, pressure) = (
            most(|m| m.felt.heat_flux),
            most(|m| m.felt.dynamic_pressure),
        );
        if !(flux > 0.0 && pressure > 0.0) {
            return None;
        }
        let density = |m: &Moment| 2.0 * m.felt.dynamic_pressure / (m.felt.speed * m.felt.speed);
        let braking = |share: f64| {
            let mut found = Braking {
                altitude_m: Span::NONE,
                mach: Span::NONE,
                ln_density: Span::NONE,
            };
            let counts = |m: &&Moment| m.felt.dynamic_pressure >= share * pressure;
            for moment in history.iter().filter(counts) {
                let felt = &moment.felt;
                found.altitude_m.take(felt.altitude);
                let sound = models.planet.inverse_sound(felt.altitude).0;
                found.mach.take(felt.speed * sound);
                found.ln_density.take(Real::ln(density(moment)));
            }
            found
        };
        let hot = history
            .iter()
            .filter(|m| m.felt.heat_flux >= NEAR_THE_PEAK * flux)
            .map(|m| (m.felt.speed, 2.0 * m.felt.dynamic_pressure))
            .fold((0.0_f64, 0.0_f64), |a, b| (a.0.max(b.0), a.1.max(b.1)));
        let by_flux = |a: &&Moment, b: &&Moment| a.felt.heat_flux.total_cmp(&b.felt.heat_flux);
        let hottest = history.iter().max_by(by_flux);
        let bright = |model: &TauberSutton| {
            let air = history.iter().filter(|m| density(m) > 0.0);
            let lit = air.map(|m| {
                let place = Place {
                    speed_m_s: m.felt.speed,
                    density_kg_m3: density(m),
                    nose_radius_m: nose_radius_m(m.time_s),
                };
                (radiated(model, &place), place)
            });
            let brightest = lit.max_by(|a, b| a.0.total_cmp(&b.0))?;
            (brightest.0 > NEGLIGIBLE * flux).then_some(brightest.1)
        };
        Some(Self {
            fastest_m_s: most(|m| m.felt.speed),
            hot,
            hottest_m_s: hottest.map_or(0.0, |moment| moment.felt.speed),
            brightest: models.ship.radiative.as_ref().and_then(bright),
            near: braking(NEAR_THE_PEAK),
            whole: braking(WHOLE_FLIGHT),
        })
    }
}

/// The flux of the radiative correlation, W/m².
fn radiated(model: &TauberSutton, place: &Place) -> f64 {
    let nose = model.nose(place.nose_radius_m);
    model.flux(Real::ln(place.density_kg_m3), place.speed_m_s, nose)
}
