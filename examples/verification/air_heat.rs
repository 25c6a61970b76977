//! Rows of the standard atmosphere and of stagnation heating.

use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::craft::convective::{Stream, detra_kemp_riddell, detra_kemp_riddell_customary};
use periband::craft::free_molecular;
use periband::craft::heating::{stagnation_factor, sutton_graves};
use periband::craft::radiative::TauberSutton;
use periband::world::Ussa1976;
use periband::world::gas::{Gas, Species};

const AIR: Group = Group {
    name: "Standard atmosphere",
    source: "U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562, printed Table I",
    known: Known::Published,
};

/// Altitude (km), printed density (kg/m³), how it is known; all reproduced by an independent program.
const PRINTED: [(f64, f64, Known); 17] = [
    (0.0, 1.2250, Known::Published),
    (5.0, 7.3643e-1, Known::FromMemory),
    (11.0, 3.6480e-1, Known::FromMemory),
    (20.0, 8.8910e-2, Known::FromMemory),
    (50.0, 1.0269e-3, Known::FromMemory),
    (80.0, 1.8458e-5, Known::FromMemory),
    (86.0, 6.958e-6, Known::Published),
    (90.0, 3.416e-6, Known::Published),
    (100.0, 5.604e-7, Known::Published),
    (110.0, 9.708e-8, Known::Published),
    (120.0, 2.222e-8, Known::Published),
    (150.0, 2.076e-9, Known::Published),
    (200.0, 2.541e-10, Known::FromMemory),
    (300.0, 1.916e-11, Known::FromMemory),
    (500.0, 5.215e-13, Known::Published),
    (750.0, 1.788e-14, Known::FromMemory),
    (1000.0, 3.561e-15, Known::Published),
];

const CONVECTIVE: Group = Group {
    name: "Convective heating",
    source: "Sutton & Graves, NASA TR R-376 (1971); worked example: NASA TFAWS 2012 course",
    known: Known::Published,
};
const DETRA: Group = Group {
    name: "Convective heating",
    source: "Detra, Kemp & Riddell, Jet Propulsion 27 (1957), formula from memory",
    known: Known::Computed,
};
const FREE: Group = Group {
    name: "Free-molecular heating",
    source: "half of density times speed cubed, alpha 1",
    known: Known::Computed,
};
const RADIATIVE: Group = Group {
    name: "Radiative heating",
    source: "Tauber & Sutton, J. Spacecraft Rockets 28(1) 1991, 40-42 (tables: Earth published, Mars from memory)",
    known: Known::Computed,
};

pub(crate) fn rows() -> Vec<Row> {
    [air(), convective(), mixtures(), thin_and_radiative()].concat()
}

fn air() -> Vec<Row> {
    let standard = Ussa1976::new().expect("the standard is tabulated within its own range");
    let printed = PRINTED.iter().map(|&(km, density, known)| {
        let share = if km < 86.0 { 5e-5 } else { 1e-3 };
        let computed = standard.density_kg_m3(km * 1e3);
        let check = format!("density at {km} km");
        AIR.known(known).row(
            check,
            "kg/m3",
            (density, computed),
            Tolerance::Relative(share),
        )
    });
    printed.collect()
}

fn convective() -> Vec<Row> {
    let flux = |(rho, rn, v): (f64, f64, f64)| {
        stagnation_factor(1.7415e-4, rn) * sutton_graves(rho.sqrt(), v) / 1e4
    };
    let detra = |(rho, rn, v): (f64, f64, f64)| detra_kemp_riddell(rho.sqrt(), v) / rn.sqrt() / 1e4;
    let customary = detra_kemp_riddell_customary(&Stream {
        density_kg_m3: 1e-4,
        speed_m_s: 7800.0,
        nose_radius_m: 1.0,
    });
    let computed = CONVECTIVE.known(Known::Computed);
    vec![
        CONVECTIVE.row(
            "worked example, 3535 m/s",
            "W/cm2",
            (13.6, flux((3.1459e-4, 1.0, 3535.0))),
            Tolerance::Relative(5e-3),
        ),
        computed.row(
            "7800 m/s, 1e-4 kg/m3, 1 m",
            "W/cm2",
            (82.643, flux((1e-4, 1.0, 7800.0))),
            Tolerance::Relative(1e-5),
        ),
        computed.row(
            "11000 m/s, 2e-4 kg/m3, 4.7 m",
            "W/cm2",
            (151.206, flux((2e-4, 4.7, 11_000.0))),
            Tolerance::Relative(1e-5),
        ),
        DETRA.row(
            "7800 m/s, SI form",
            "W/cm2",
            (94.789, detra((1e-4, 1.0, 7800.0))),
            Tolerance::Relative(1e-5),
        ),
        DETRA.row(
            "7800 m/s, customary form",
            "W/cm2",
            (94.548, customary / 1e4),
            Tolerance::Relative(1e-4),
        ),
        DETRA.row(
            "11000 m/s, SI form",
            "W/cm2",
            (182.605, detra((2e-4, 4.7, 11_000.0))),
            Tolerance::Relative(1e-5),
        ),
    ]
}

/// Name, parts in per cent by mole, and the constant k (kg^½/m).
type Mixture = (&'static str, &'static [(Species, f64)], f64);

/// Mixtures and the constant k that the mixture rule gives for it, to 5 %.
fn mixtures() -> Vec<Row> {
    use Species::{Ar, CH4, CO2, H2, He, N2, O2};
    let group = Group {
        source: "mixture rule of Sutton & Graves, constants of the gases from memory",
        ..CONVECTIVE.known(Known::Computed)
    };
    let cases: [Mixture; 10] = [
        // K 0.1113 of air, Table II (published), and 0.1210 of carbon dioxide, over twice the root of 101325 Pa.
        (
            "air, from K 0.1113",
            &[(N2, 78.08), (O2, 20.95), (Ar, 0.93)],
            1.748e-4,
        ),
        ("pure carbon dioxide", &[(CO2, 100.0)], 1.9006e-4),
        ("Titan, 5 % methane", &[(N2, 95.0), (CH4, 5.0)], 1.7242e-4),
        ("Mars", &[(CO2, 95.6), (N2, 2.7), (Ar, 1.6)], 1.9024e-4),
        ("Venus", &[(CO2, 96.5), (N2, 3.5)], 1.8967e-4),
        ("Titan, 2 % methane", &[(N2, 98.0), (CH4, 2.0)], 1.7377e-4),
        ("Jupiter", &[(H2, 86.4), (He, 13.6)], 6.850e-5),
        ("Saturn", &[(H2, 88.0), (He, 12.0)], 6.773e-5),
        ("Uranus", &[(H2, 85.0), (He, 15.0)], 6.918e-5),
        ("Neptune", &[(H2, 81.0), (He, 19.0)], 7.116e-5),
    ];
    let row = |&(name, parts, expected): &Mixture| {
        let total: f64 = parts.iter().map(|(_, share)| share).sum();
        let shares: Vec<_> = parts.iter().map(|&(gas, x)| (gas, x / total)).collect();
        let gas = Gas::by_mole(&shares, 1.4).expect("the shares add up to one");
        let k = gas
            .mixture_heating_constant()
            .expect("every gas of the mixtures has a constant");
        group.row(
            format!("k of {name}"),
            "kg^.5/m",
            (expected, k),
            Tolerance::Relative(0.05),
        )
    };
    cases.iter().map(row).collect()
}

fn thin_and_radiative() -> Vec<Row> {
    let free = |density: f64| free_molecular::heat_flux(density, 4600.0, 1.0) / 1e4;
    let (earth, mars) = (TauberSutton::earth(), TauberSutton::mars());
    let mut rows = vec![
        FREE.row(
            "4600 m/s, 30 kg/km3",
            "W/cm2",
            (0.146_004, free(30e-9)),
            Tolerance::Relative(1e-5),
        ),
        FREE.row(
            "4600 m/s, 10 kg/km3",
            "W/cm2",
            (0.048_668, free(10e-9)),
            Tolerance::Relative(1e-5),
        ),
    ];
    for (what, model, (density, speed, nose), expected) in [
        (
            "Earth, 12000 m/s, 1 m",
            &earth,
            (3e-4, 12_000.0, 1.0),
            856.2372,
        ),
        (
            "Earth, 10250 m/s, 0.5 m",
            &earth,
            (1e-4, 10_250.0, 0.5),
            22.3948,
        ),
        ("Mars, 7000 m/s, 1 m", &mars, (1e-3, 7000.0, 1.0), 51.2334),
    ] {
        let flux = model.at(density, speed, nose).w_m2 / 1e4;
        rows.push(RADIATIVE.row(what, "W/cm2", (expected, flux), Tolerance::Relative(3e-6)));
    }
    rows
}
