//! Rows of walls: radiative equilibrium, a thin sheet, and conduction through thickness.

use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::craft::flux_history::FluxPoint;
use periband::craft::layer::{Layer, Radiating};
use periband::craft::skin::{Leg, Skin};
use periband::craft::slab::{HeatStep, Slab, SlabState};
use periband::craft::wall::{STEFAN_BOLTZMANN, ThinWall, equilibrium_temperature};
use periband::scenario::spots::{SpotShare, SpotSpec};
use periband::scenario::wall::{BackSpec, LayerSpec, WallKind, WallSpec};
use std::f64::consts::PI;

const RADIATING: Group = Group {
    name: "Walls",
    source: "q = eps sigma T^4; c dT/dt = q - eps sigma T^4 and its closed form",
    known: Known::Computed,
};
const CONDUCTING: Group = Group {
    name: "Walls",
    source: "Carslaw & Jaeger, Conduction of Heat in Solids (1959), 2.9 and 3.8, from memory; values computed from them",
    known: Known::Computed,
};

const TILE: LayerSpec = LayerSpec {
    thickness_m: 0.06,
    conductivity_w_m_k: 0.5,
    density_kg_m3: 300.0,
    specific_heat_j_kg_k: 1200.0,
};

pub(crate) fn rows() -> Vec<Row> {
    [radiating(), conducting(), pulse()].concat()
}

fn radiating() -> Vec<Row> {
    let flux = 2e5;
    let balance = equilibrium_temperature(flux, 0.85, 0.0);
    let radiated = 0.85 * STEFAN_BOLTZMANN * balance.powi(4) / 1e4;
    let sheet = ThinWall {
        heat_capacity_j_m2_k: 6000.0,
        emissivity: 0.85,
        background_k: 0.0,
    };
    // artanh x + arctan x, x = T over that of balance, grows by 2 eps sigma T^3 t/c.
    let grown = |kelvin: f64| (kelvin / balance).atanh() + (kelvin / balance).atan();
    let warmed = sheet.after(300.0, flux, 20.0);
    let growth = 2.0 * 0.85 * STEFAN_BOLTZMANN * balance.powi(3) * 20.0 / 6000.0;
    vec![
        RADIATING.row(
            "equilibrium at 20 W/cm2: radiated",
            "W/cm2",
            (flux / 1e4, radiated),
            Tolerance::Relative(1e-13),
        ),
        RADIATING.row(
            "thin sheet, 20 s: artanh x + arctan x",
            "",
            (grown(300.0) + growth, grown(warmed)),
            Tolerance::Relative(1e-9),
        ),
    ]
}

/// A wall of the tile, without radiation, after so many seconds (400 steps) of so many W/m².
fn heated(thickness_m: f64, flux: f64, seconds: f64) -> SlabState {
    let layer = Layer {
        thickness_m,
        conductivity_w_m_k: TILE.conductivity_w_m_k,
        density_kg_m3: TILE.density_kg_m3,
        specific_heat_j_kg_k: TILE.specific_heat_j_kg_k,
        cells: 400,
    };
    let dark = Radiating {
        emissivity: 0.0,
        background_k: 0.0,
    };
    let slab = Slab::new(&[layer], dark, None).expect("the wall of the checks can be");
    let mut state = slab.at_temperature(300.0).expect("300 K can be");
    for _ in 0..400 {
        let step = HeatStep {
            duration_s: seconds / 400.0,
            start_w_m2: flux,
            end_w_m2: flux,
        };
        slab.advance(&mut state, &step)
            .expect("the steps of the checks can be taken");
    }
    state
}

fn conducting() -> Vec<Row> {
    let (k, kappa) = (
        TILE.conductivity_w_m_k,
        TILE.conductivity_w_m_k / (TILE.density_kg_m3 * TILE.specific_heat_j_kg_k),
    );
    let half_space = |flux: f64, depth: f64, time: f64| {
        let root = (kappa * time).sqrt();
        let gauss = (-depth * depth / (4.0 * kappa * time)).exp();
        let rest = 0.5 * depth * libm::erfc(depth / (2.0 * root));
        2.0 * flux / k * (root / PI.sqrt() * gauss - rest)
    };
    // Insulated behind: q t/(rho c L) + (q L/k) (-1/6 - (2/pi^2) sum (-1)^n/n^2 exp(-n^2 pi^2 kappa t/L^2)).
    let back = |flux: f64, thickness: f64, time: f64| {
        let sum: f64 = (1..100)
            .map(|n| {
                let square = f64::from(n * n);
                let sign = if n % 2 == 0 { 1.0 } else { -1.0 };
                sign / square * (-square * PI * PI * kappa * time / (thickness * thickness)).exp()
            })
            .sum();
        flux * time * kappa / (k * thickness)
            - flux * thickness / k * (1.0 / 6.0 + 2.0 / (PI * PI) * sum)
    };
    let thick = heated(0.06, 2e4, 100.0);
    let thin = heated(0.01, 2e4, 100.0);
    let close = Tolerance::Relative(1e-4);
    let rise = |kelvin: f64| kelvin - 300.0;
    vec![
        CONDUCTING.row(
            "thick wall, 2 W/cm2 for 100 s: surface",
            "K",
            (half_space(2e4, 0.0, 100.0), rise(thick.front_k())),
            close,
        ),
        CONDUCTING.row(
            "the same, 6 mm deep",
            "K",
            (
                half_space(2e4, 0.006, 100.0),
                rise(thick.temperatures_k()[40]),
            ),
            close,
        ),
        CONDUCTING.row(
            "10 mm, insulated behind: back face",
            "K",
            (back(2e4, 0.01, 100.0), rise(thin.back_k())),
            close,
        ),
    ]
}

/// The peak of a bell of flux of 10 s as a scenario's wall is carried through it, in its own cells.
fn pulse() -> Vec<Row> {
    let (peak, width) = (1e5, 10.0);
    let bell = |time: f64| peak * (-0.5 * (time / width - 6.0).powi(2)).exp();
    let points: Vec<FluxPoint> = (0..=120)
        .map(f64::from)
        .map(|time_s| FluxPoint {
            time_s,
            flux_w_m2: bell(time_s),
            log_rate_per_s: -(time_s / width - 6.0) / width,
        })
        .collect();
    let spot = SpotSpec {
        name: "tile".into(),
        heating: SpotShare::Share(1.0),
        emissivity: 0.0,
        highest_temperature_k: None,
        highest_flux_w_m2: None,
        on_circumference: false,
        wall: WallSpec {
            kind: WallKind::Slab {
                layers: vec![TILE],
                back: BackSpec::Insulated,
                highest_back_k: None,
            },
            start_k: 300.0,
            background_k: 0.0,
            soak_s: None,
        },
    };
    let effusivity =
        (TILE.conductivity_w_m_k * TILE.density_kg_m3 * TILE.specific_heat_j_kg_k).sqrt();
    let rise = |time: f64| {
        let steps = 2000;
        let width = time.sqrt() / f64::from(steps);
        let places = (0..steps).map(|i| (f64::from(i) + 0.5) * width);
        let sum: f64 = places.map(|u| 2.0 * bell(time - u * u) * width).sum();
        sum / (effusivity * PI.sqrt())
    };
    let expected = (0..400)
        .map(|i| rise(60.0 + 0.05 * f64::from(i)))
        .fold(0.0, f64::max);
    let leg = Leg {
        pass: points,
        cold_s: 0.0,
    };
    let skin = Skin::new(&spot).expect("the wall of the checks can be");
    let found = skin.through([&leg]).expect("the pulse can be carried")[0]
        .surface
        .kelvin
        - 300.0;
    vec![CONDUCTING.row(
        "bell of 10 W/cm2, 10 s: peak",
        "K",
        (expected, found),
        Tolerance::Relative(1e-3),
    )]
}
