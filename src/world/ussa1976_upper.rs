//! The U.S. Standard Atmosphere, 1976, above 86 km: each gas settles by molecular and eddy diffusion
//! in a given temperature. Equations 25 to 40 of the report; constants from memory of its Tables 5 to 7.

use super::air::AirState;
use super::curve::{evaluate, hermite, slope};
use super::ussa1976::{GAS_CONSTANT, GRAVITY, RADIUS_M, SEA_LEVEL_MOLAR_MASS, StandardAir};
use crate::numeric::elementary::{exp, ln, powf};
use crate::numeric::real::cell_of;

/// Altitude at which the integrals begin, km.
const FOOT_KM: f64 = 86.0;
/// Spacing of the integrals, km; its multiples from 86 km meet every break of the equations.
const STEP_KM: f64 = 0.1;
/// Number of steps from 86 to 1000 km.
const STEPS: u32 = 9_140;
/// Steps up to 100 km, below which the mean molar mass is that at sea level.
const MIXED_STEPS: usize = 140;
/// Step at 150 km, where hydrogen begins, and at 500 km, where it is given.
const HYDROGEN_FROM: usize = 640;
/// See [`HYDROGEN_FROM`].
const HYDROGEN_GIVEN: usize = 4_140;
/// Hydrogen at 500 km, 1/m³, and its flux upward, 1/(m² s).
const HYDROGEN_500: f64 = 8.0e10;
/// See [`HYDROGEN_500`].
const HYDROGEN_FLUX: f64 = 7.2e11;
/// Avogadro's and Boltzmann's constants of the standard, 1/kmol and J/K.
const AVOGADRO: f64 = 6.022_169e26;
/// See [`AVOGADRO`].
const BOLTZMANN: f64 = 1.380_622e-23;
/// Molar masses of N2, O, O2, Ar, He, H, kg/kmol.
const MOLAR_MASS: [f64; 6] = [28.0134, 15.9994, 31.9988, 39.948, 4.0026, 1.007_97];

/// A gas that diffuses through the heavier ones.
struct Diffusing {
    molar_mass: f64,
    /// Number density at 86 km, 1/m³.
    foot: f64,
    /// D = a/n (T/273.15)^b, m²/s with n in 1/m³.
    a: f64,
    b: f64,
    /// Thermal diffusion factor α.
    thermal: f64,
    /// Flux term.
    flux: Flux,
}

/// Flux term Q (Z−U)² exp(−W (Z−U)³), 1/km, with Q in 1/km³, U in km and W in 1/km³.
struct Flux {
    q: f64,
    u: f64,
    w: f64,
}

/// Second flux term of atomic oxygen, q (u−Z)² exp(−w (u−Z)³), up to u.
const OXYGEN_ATOM_BELOW: Flux = Flux {
    q: -3.416_248e-3,
    u: 97.0,
    w: 5.008_765e-4,
};
const NITROGEN_FOOT: f64 = 1.129_794e20;
const OXYGEN_ATOM: Diffusing = Diffusing {
    molar_mass: MOLAR_MASS[1],
    foot: 8.6e16,
    a: 6.986e20,
    b: 0.750,
    thermal: 0.0,
    flux: Flux {
        q: -5.809_644e-4,
        u: 56.903_11,
        w: 2.706_240e-5,
    },
};
const OXYGEN: Diffusing = Diffusing {
    molar_mass: MOLAR_MASS[2],
    foot: 3.030_898e19,
    a: 4.863e20,
    b: 0.750,
    thermal: 0.0,
    flux: Flux {
        q: 1.366_212e-4,
        u: 86.0,
        w: 8.333_333e-5,
    },
};
const ARGON: Diffusing = Diffusing {
    molar_mass: MOLAR_MASS[3],
    foot: 1.351_400e18,
    a: 4.487e20,
    b: 0.870,
    thermal: 0.0,
    flux: Flux {
        q: 9.434_079e-5,
        u: 86.0,
        w: 8.333_333e-5,
    },
};
const HELIUM: Diffusing = Diffusing {
    molar_mass: MOLAR_MASS[4],
    foot: 7.5817e14,
    a: 1.700e21,
    b: 0.691,
    thermal: -0.40,
    flux: Flux {
        q: -2.457_369e-4,
        u: 86.0,
        w: 6.666_667e-4,
    },
};
/// Diffusion of hydrogen: a, b and α.
const HYDROGEN: (f64, f64, f64) = (3.305e21, 0.500, -0.25);

/// Log number densities of N2, O, O2, Ar, He with their rates, and hydrogen, at every step.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Upper {
    knots: Vec<Knot>,
}

/// Number densities at one altitude, in 1/m³ and 1/m.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    /// (ln n, its rate) of N2, O, O2, Ar, He.
    heavy: [(f64, f64); 5],
    /// (n, its rate) of H; 0 below 150 km.
    hydrogen: (f64, f64),
}

/// Temperature and gravity at an altitude.
#[derive(Clone, Copy)]
struct Place {
    km: f64,
    temperature: f64,
    /// T′/T, 1/m.
    warming: f64,
    /// g/(R* T), kmol/(kg m): times a molar mass it is an inverse scale height.
    weight: f64,
}

impl Place {
    fn at(km: f64) -> Self {
        let (temperature, rate_per_km) = temperature(km);
        let gravity = GRAVITY * (RADIUS_M / 1e3f64.mul_add(km, RADIUS_M)).powi(2);
        Self {
            km,
            temperature,
            warming: rate_per_km / 1e3 / temperature,
            weight: gravity / (GAS_CONSTANT * temperature),
        }
    }

    /// Diffusion coefficient in a gas of n particles per m³, m²/s.
    fn diffusion(&self, a: f64, b: f64, n: f64) -> f64 {
        a / n * powf(self.temperature / 273.15, b)
    }
}

/// Kinetic temperature, K, and its rate, K/km (equations 25, 27, 29, 31).
fn temperature(km: f64) -> (f64, f64) {
    if km < 91.0 {
        (186.8673, 0.0)
    } else if km < 110.0 {
        let x = (km - 91.0) / -19.9429;
        let root = (1.0 - x * x).sqrt();
        (
            (-76.3232f64).mul_add(root, 263.1905),
            76.3232 * x / root / -19.9429,
        )
    } else if km < 120.0 {
        (12.0f64.mul_add(km - 110.0, 240.0), 12.0)
    } else {
        let radius = RADIUS_M / 1e3;
        let stretch = (radius + 120.0) / (radius + km);
        let falling = 640.0 * exp(-0.01875 * (km - 120.0) * stretch);
        (1000.0 - falling, falling * 0.01875 * stretch * stretch)
    }
}

/// Eddy diffusion coefficient, m²/s.
fn eddy(km: f64) -> f64 {
    if km < 95.0 {
        120.0
    } else if km < 115.0 {
        120.0 * exp(1.0 - 400.0 / (400.0 - (km - 95.0).powi(2)))
    } else {
        0.0
    }
}

impl Flux {
    /// The term at a distance above U, km.
    fn at(&self, km: f64) -> f64 {
        self.q * km * km * exp(-self.w * km.powi(3))
    }
}

impl Diffusing {
    /// f + v of equation 37, 1/m: −(ln(n T))′ of the gas, against a background of n particles
    /// per m³ with a mean molar mass.
    fn settling(&self, place: &Place, (n, mean_molar_mass): (f64, f64)) -> f64 {
        let diffusion = place.diffusion(self.a, self.b, n);
        let eddy = eddy(place.km);
        let pull = place.weight * self.molar_mass.mul_add(diffusion, mean_molar_mass * eddy);
        let thermal = self.thermal * diffusion * place.warming;
        (pull + thermal) / (diffusion + eddy) + self.flux.at(place.km - self.flux.u) / 1e3
    }
}

/// −(ln(n T))′ of N2, O, O2, Ar, He at a place, 1/m, from their number densities there.
/// Up to 100 km the air counts as mixed: the mean molar mass is that at sea level.
fn settling(place: &Place, n: [f64; 5], mixed: bool) -> [f64; 5] {
    let mean = |value: f64| if mixed { SEA_LEVEL_MOLAR_MASS } else { value };
    let main = n[0] + n[1] + n[2];
    let nitrogen = (n[0], mean(MOLAR_MASS[0]));
    let weighed = n[0] * MOLAR_MASS[0] + n[1] * MOLAR_MASS[1] + n[2] * MOLAR_MASS[2];
    let all = (main, mean(weighed / main));
    let below = OXYGEN_ATOM_BELOW.u - place.km;
    let second = if below > 0.0 {
        OXYGEN_ATOM_BELOW.at(below) / 1e3
    } else {
        0.0
    };
    [
        place.weight * nitrogen.1,
        OXYGEN_ATOM.settling(place, nitrogen) + second,
        OXYGEN.settling(place, nitrogen),
        ARGON.settling(place, all),
        HELIUM.settling(place, all),
    ]
}

impl Upper {
    /// Integrates from 86 km up by trapezoids; hydrogen both ways from 500 km.
    pub(crate) fn integrate() -> Self {
        let feet = [
            NITROGEN_FOOT,
            OXYGEN_ATOM.foot,
            OXYGEN.foot,
            ARGON.foot,
            HELIUM.foot,
        ];
        let places: Vec<_> = (0..=STEPS)
            .map(|i| Place::at(f64::from(i).mul_add(STEP_KM, FOOT_KM)))
            .collect();
        // ln(n T) of the heavy gases.
        let mut content = feet.map(|n| ln(n * places[0].temperature));
        let number = |content: [f64; 5], place: &Place| content.map(|c| exp(c) / place.temperature);
        let mut knots = Vec::with_capacity(places.len());
        for (index, place) in places.iter().enumerate() {
            let mixed = index < MIXED_STEPS;
            let here = settling(place, number(content, place), mixed);
            let ln_temperature = ln(place.temperature);
            let mut heavy = [(0.0, 0.0); 5];
            for (gas, (c, fall)) in heavy.iter_mut().zip(content.into_iter().zip(here)) {
                *gas = (c - ln_temperature, -fall - place.warming);
            }
            knots.push(Knot {
                heavy,
                hydrogen: (0.0, 0.0),
            });
            if let Some(next) = places.get(index + 1) {
                content = climb(content, here, next, mixed);
            }
        }
        add_hydrogen(&mut knots, &places);
        Self { knots }
    }
}

/// Carries ln(n T) over one step with the mean of the settling at both ends (Heun's method).
fn climb(content: [f64; 5], here: [f64; 5], next: &Place, mixed: bool) -> [f64; 5] {
    let step_m = STEP_KM * 1e3;
    let along = |fall: [f64; 5]| {
        let mut above = content;
        for (value, fall) in above.iter_mut().zip(fall) {
            *value = (-step_m).mul_add(fall, *value);
        }
        above
    };
    let mut mean = settling(next, along(here).map(|c| exp(c) / next.temperature), mixed);
    for (there, here) in mean.iter_mut().zip(here) {
        *there = 0.5 * (*there + here);
    }
    along(mean)
}

/// Fills in hydrogen from 150 km up (equation 39): it rises through the heavy gases with a given flux,
/// and its density is given at 500 km.
fn add_hydrogen(knots: &mut [Knot], places: &[Place]) {
    let (a, b, thermal) = HYDROGEN;
    let settling = |place: &Place| {
        place
            .weight
            .mul_add(MOLAR_MASS[5], (1.0 + thermal) * place.warming)
    };
    let flow = |knot: &Knot, place: &Place| {
        let heavy = knot.heavy.iter().map(|&(ln_n, _)| exp(ln_n)).sum();
        HYDROGEN_FLUX / place.diffusion(a, b, heavy)
    };
    // n′ = −φ/D − n s, with s the settling: n = (n₅₀₀ − ∫ φ/D e^S) e^−S with S = ∫ s.
    let mut fill = |indices: &mut dyn Iterator<Item = usize>, step_m: f64| {
        let (mut settled, mut flown) = (0.0, 0.0);
        let mut before: Option<(f64, f64)> = None;
        for index in indices {
            let (Some(place), Some(knot)) = (places.get(index), knots.get_mut(index)) else {
                return;
            };
            let (s, f) = (settling(place), flow(knot, place));
            if let Some((s_before, f_before)) = before {
                let lower = f_before * exp(settled);
                settled += 0.5 * step_m * (s + s_before);
                flown += 0.5 * step_m * f.mul_add(exp(settled), lower);
            }
            before = Some((s, f));
            let n = (HYDROGEN_500 - flown) * exp(-settled);
            knot.hydrogen = (n, -f - n * s);
        }
    };
    let step_m = STEP_KM * 1e3;
    fill(&mut (HYDROGEN_GIVEN..places.len()), step_m);
    fill(&mut (HYDROGEN_FROM..=HYDROGEN_GIVEN).rev(), -step_m);
}

impl Upper {
    /// The air at an altitude of 86 km or more, m; above 1000 km every log density goes on as a straight line.
    pub(crate) fn at(&self, altitude_m: f64) -> StandardAir {
        let place = Place::at(altitude_m / 1e3);
        let position = (altitude_m / 1e3 - FOOT_KM) / STEP_KM;
        let (index, t) = cell_of(position, self.knots.len() - 1);
        let (low, high) = (&self.knots[index], &self.knots[index + 1]);
        let step_m = STEP_KM * 1e3;
        let inside = |low: (f64, f64), high: (f64, f64)| {
            if position > f64::from(STEPS) {
                return (
                    (position - f64::from(STEPS)).mul_add(high.1 * step_m, high.0),
                    high.1,
                );
            }
            let cubic = hermite([low.0, high.0], [low.1 * step_m, high.1 * step_m]);
            (evaluate(&cubic, t), slope(&cubic, t) / step_m)
        };
        let mut all = [(0.0, 0.0); 6];
        for (gas, (&low, &high)) in all.iter_mut().zip(low.heavy.iter().zip(&high.heavy)) {
            let (ln_n, rate) = inside(low, high);
            let n = exp(ln_n);
            *gas = (n, n * rate);
        }
        if low.hydrogen.0 > 0.0 {
            let (n, rate) = inside(low.hydrogen, high.hydrogen);
            all[5] = (n.max(0.0), rate);
        }
        summed(all, place.temperature)
    }
}

/// Density, pressure and mean molar mass of gases with these number densities and their rates.
fn summed(gases: [(f64, f64); 6], temperature_k: f64) -> StandardAir {
    let (mut n, mut mass, mut mass_rate) = (0.0, 0.0, 0.0);
    for ((number, rate), molar_mass) in gases.into_iter().zip(MOLAR_MASS) {
        n += number;
        mass = molar_mass.mul_add(number, mass);
        mass_rate = molar_mass.mul_add(rate, mass_rate);
    }
    StandardAir {
        state: AirState {
            ln_density: ln(mass / AVOGADRO),
            ln_density_per_m: mass_rate / mass,
            temperature_k: Some(temperature_k),
            pressure_pa: Some(n * BOLTZMANN * temperature_k),
        },
        molar_mass_kg_kmol: mass / n,
        number_densities_m3: Some(gases.map(|(number, _)| number)),
    }
}
