//! Walls of spots, carried along the flux of passes: against closed forms, against integral equations solved
//! here, and against themselves with finer cells.

use crate::cli::{Folder, periband, text};
use crate::{case_of, examples};
use periband::Case;
use periband::craft::flux_history::FluxPoint;
use periband::craft::skin::{Leg, Skin};
use periband::craft::wall::{STEFAN_BOLTZMANN, equilibrium_temperature};
use periband::ensemble::problem::SampleNumber;
use periband::pass::reference::{FlownPass, FlyOptions, fly};
use periband::report::{heat_text, pass_text};
use periband::scenario::spots::{SpotShare, SpotSpec};
use periband::scenario::wall::{BackSpec, LayerSpec, WallKind, WallSpec};
use periband::study::nose::Nose;
use periband::study::second_opinion::opinions;
use periband::study::single::fly_single;
use periband::study::walls::{SpotHeat, flux_along};
use proptest::prelude::*;
use std::f64::consts::PI;

const TILE: LayerSpec = LayerSpec {
    thickness_m: 0.06,
    conductivity_w_m_k: 0.05,
    density_kg_m3: 150.0,
    specific_heat_j_kg_k: 1000.0,
};
const SHEET: LayerSpec = LayerSpec {
    thickness_m: 0.0015,
    conductivity_w_m_k: 120.0,
    density_kg_m3: 2700.0,
    specific_heat_j_kg_k: 900.0,
};

fn spot(emissivity: f64, kind: WallKind) -> SpotSpec {
    SpotSpec {
        name: "panel".into(),
        heating: SpotShare::Share(1.0),
        emissivity,
        highest_temperature_k: None,
        highest_flux_w_m2: None,
        on_circumference: false,
        wall: WallSpec {
            kind,
            start_k: 300.0,
            background_k: 0.0,
            soak_s: None,
        },
    }
}

fn slab(layers: &[LayerSpec]) -> WallKind {
    WallKind::Slab {
        layers: layers.to_vec(),
        back: BackSpec::Insulated,
        highest_back_k: None,
    }
}

fn thin(heat_capacity_j_m2_k: f64) -> WallKind {
    WallKind::Thin {
        heat_capacity_j_m2_k,
    }
}

/// A bell of flux, W/m², about its peak at six widths, with a point every `spacing` widths.
fn bell(peak: f64, width_s: f64, spacing: f64) -> Vec<FluxPoint> {
    let count = (12.0 / spacing).round();
    let mut points = Vec::new();
    let mut i = 0.0;
    while i <= count {
        let at = 12.0 * i / count - 6.0;
        points.push(FluxPoint {
            time_s: (at + 6.0) * width_s,
            flux_w_m2: peak * (-0.5 * at * at).exp(),
            log_rate_per_s: -at / width_s,
        });
        i += 1.0;
    }
    points
}

fn bell_at(peak: f64, width_s: f64, time_s: f64) -> f64 {
    let at = time_s / width_s - 6.0;
    peak * (-0.5 * at * at).exp()
}

/// A sheet under constant flux: artanh x + arctan x grows by 2 ε σ `T_e`³ t/c, x = T/`T_e` (computed from the
/// equation c dT/dt = q - ε σ T⁴, whose solution it is).
#[test]
fn a_thin_wall_warms_as_its_closed_form_says() {
    let (flux, capacity) = (4e4, 6000.0);
    let skin = Skin::new(&spot(0.8, thin(capacity))).expect("a wall");
    let mut state = skin.at_start().expect("a start");
    let steady = |time_s| FluxPoint {
        time_s,
        flux_w_m2: flux,
        log_rate_per_s: 0.0,
    };
    let balance = (flux / (0.8 * STEFAN_BOLTZMANN)).powf(0.25);
    let grown = |kelvin: f64| (kelvin / balance).atanh() + (kelvin / balance).atan();
    for minute in 0..3 {
        let from = state.surface_k();
        let times = (60.0 * f64::from(minute), 60.0 * f64::from(minute + 1));
        skin.carry(&mut state, &[steady(times.0), steady(times.1)], |_| ())
            .expect("carried");
        let growth = 2.0 * 0.8 * STEFAN_BOLTZMANN * balance.powi(3) * 60.0 / capacity;
        let left = grown(state.surface_k()) - grown(from) - growth;
        assert!(left.abs() < 1e-9, "{left}");
    }
    assert!((state.clock_s() - 180.0).abs() < 1e-9);
}

/// Carslaw & Jaeger, *Conduction of Heat in Solids* (1959), 2.9, from memory: the surface of a half space
/// under the flux q(t) warms by ∫ q(τ)/√(π k ρ c (t - τ)) dτ. By the midpoint rule in √(t - τ).
fn half_space_rise(layer: &LayerSpec, flux: impl Fn(f64) -> f64, time_s: f64) -> f64 {
    let effusivity =
        (layer.conductivity_w_m_k * layer.density_kg_m3 * layer.specific_heat_j_kg_k).sqrt();
    let steps = 4000;
    let width = time_s.sqrt() / f64::from(steps);
    let sum: f64 = (0..steps)
        .map(|i| (f64::from(i) + 0.5) * width)
        .map(|u| 2.0 * flux(time_s - u * u) * width)
        .sum();
    sum / (effusivity * PI.sqrt())
}

#[test]
fn a_thick_wall_takes_a_pulse_as_a_half_space_does() {
    for (layer, peak, width_s, spacing) in [
        (TILE, 2e4, 40.0, 0.025),
        (TILE, 1e5, 2.0, 0.5),
        (
            LayerSpec {
                thickness_m: 0.5,
                ..SHEET
            },
            1e6,
            5.0,
            0.2,
        ),
    ] {
        let skin = Skin::new(&spot(0.0, slab(&[layer]))).expect("a wall");
        let mut state = skin.at_start().expect("a start");
        skin.carry(&mut state, &bell(peak, width_s, spacing), |_| ())
            .expect("carried");
        let rise = |time_s| half_space_rise(&layer, |t| bell_at(peak, width_s, t), time_s);
        let expected = (0..600)
            .map(|i| rise(width_s * (6.0 + f64::from(i) / 200.0)))
            .fold(0.0, f64::max);
        let found = state.surface_peak().kelvin - 300.0;
        assert!(
            (found / expected - 1.0).abs() < 1e-3,
            "{width_s} s: {found} {expected}"
        );
    }
}

/// Surface temperature of a half space that radiates: `T(t) = T0 + ∫ (q - ε σ T⁴)/√(π k ρ c (t - τ)) dτ`
/// (Carslaw & Jaeger 2.9 with the net flux), solved step by step with the net flux straight in each.
fn radiating_half_space_peak(layer: &LayerSpec, emissivity: f64, bell: (f64, f64)) -> f64 {
    let effusivity =
        (layer.conductivity_w_m_k * layer.density_kg_m3 * layer.specific_heat_j_kg_k).sqrt();
    let steps = 3000_i32;
    let h = 10.0 * bell.1 / f64::from(steps);
    let scale = h.sqrt() / (effusivity * PI.sqrt());
    // ∫ over a step of 1/√(t - τ) times the rising and the falling part, in units of √h.
    let weights: Vec<(f64, f64)> = (0..steps)
        .map(|back| {
            let (a, b) = (f64::from(back), f64::from(back + 1));
            let whole = 2.0 * (b.sqrt() - a.sqrt());
            let moment = 2.0 / 3.0 * (b.powf(1.5) - a.powf(1.5));
            // At a the weight of the newer end, at b that of the older.
            (b * whole - moment, moment - a * whole)
        })
        .collect();
    let flux = |i: i32| bell_at(bell.0, bell.1, h * f64::from(i));
    let lost = |t: f64| emissivity * STEFAN_BOLTZMANN * t.powi(4);
    let mut net = vec![flux(0) - lost(300.0)];
    let (mut peak, mut kelvin) = (300.0_f64, 300.0_f64);
    for i in 1..=steps {
        let known: f64 = (0..i)
            .map(|back| {
                let (newer, older) = weights[usize::try_from(back).expect("small")];
                let at = usize::try_from(i - back).expect("small");
                older * net[at - 1] + if back == 0 { 0.0 } else { newer * net[at] }
            })
            .sum();
        let own = scale * weights[0].0;
        // T = 300 + scale (known) + own (q - lost(T)), by Newton's method.
        for _ in 0..50 {
            let miss = kelvin - 300.0 - scale * known - own * (flux(i) - lost(kelvin));
            kelvin -= miss / (1.0 + own * 4.0 * lost(kelvin) / kelvin);
        }
        net.push(flux(i) - lost(kelvin));
        peak = peak.max(kelvin);
    }
    peak
}

#[test]
fn a_radiating_wall_peaks_as_its_integral_equation_says() {
    for (peak, width_s, spacing) in [(2e5, 30.0, 0.03), (1.5e6, 3.0, 0.3)] {
        let skin = Skin::new(&spot(0.85, slab(&[TILE]))).expect("a wall");
        let mut state = skin.at_start().expect("a start");
        skin.carry(&mut state, &bell(peak, width_s, spacing), |_| ())
            .expect("carried");
        let expected = radiating_half_space_peak(&TILE, 0.85, (peak, width_s));
        let found = state.surface_peak().kelvin;
        assert!(
            (found / expected - 1.0).abs() < 1e-3,
            "{width_s} s: {found} {expected}"
        );
    }
}

/// Carslaw & Jaeger 3.8, from memory: the insulated back of a slab of thickness L whose front takes q from
/// t = 0 is at q t/(ρ c L) + (q L/k)(-1/6 - (2/π²) Σ (-1)ⁿ/n² exp(-κ n² π² t/L²)) above its start.
#[test]
fn the_back_face_goes_on_warming_after_the_pulse_as_its_series_says() {
    let layer = LayerSpec {
        thickness_m: 0.01,
        ..TILE
    };
    let (flux, lasting) = (1e4, 60.0);
    let capacity = layer.density_kg_m3 * layer.specific_heat_j_kg_k * layer.thickness_m;
    let series = |time: f64| {
        if time <= 0.0 {
            return 0.0;
        }
        let sum: f64 = (1..200)
            .map(|n| {
                let n2 = f64::from(n * n);
                let sign = if n % 2 == 0 { 1.0 } else { -1.0 };
                sign / n2 * (-n2 * PI * PI * time / layer.diffusion_time_s()).exp()
            })
            .sum();
        flux * time / capacity
            + flux * layer.thickness_m / layer.conductivity_w_m_k
                * (-1.0 / 6.0 - 2.0 / (PI * PI) * sum)
    };
    let skin = Skin::new(&spot(0.0, slab(&[layer]))).expect("a wall");
    let mut state = skin.at_start().expect("a start");
    let steady = |time_s| FluxPoint {
        time_s,
        flux_w_m2: flux,
        log_rate_per_s: 0.0,
    };
    skin.carry(&mut state, &[steady(0.0), steady(lasting)], |_| ())
        .expect("carried");
    let mut worst = 0.0_f64;
    skin.rest(&mut state, 900.0, |now| {
        let time = now.clock_s();
        let expected = series(time) - series(time - lasting);
        let found = now.back_k().expect("a slab") - 300.0;
        worst = worst.max((found - expected).abs() / (flux * lasting / capacity));
    })
    .expect("rested");
    assert!(worst < 1e-3, "{worst}");
    let back = state.back_peak().expect("a slab");
    assert!(back.time_s > lasting + 300.0, "{back:?}");
}

/// Passes flown by the reference: a shallow one at Mars, a steep one at the Earth.
fn flown() -> Vec<FlownPass> {
    let shallow = std::fs::read_to_string(examples().join("mars-arrival.yaml")).expect("a file");
    let steep = "
title: Steep
world: earth
ship: {mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1.2, nose_radius: 0.4 m}
arrival:
  entry: {speed: 11.6 km/s, inclination: 30 deg, flight_path_angle: -30 deg}
limits: {comes_down: yes}
";
    [(case_of(&shallow), Some(51e3)), (case_of(steep), None)]
        .into_iter()
        .map(|(case, aim)| fly_nominal(&case, aim))
        .collect()
}

fn fly_nominal(case: &Case, aim_m: Option<f64>) -> FlownPass {
    let problem = &case.problem;
    let aim_m = aim_m.unwrap_or(problem.aim().from_m);
    let (start, sample) = problem
        .launch(aim_m, problem.nominal(), SampleNumber::Nominal)
        .expect("an approach");
    let settings = (problem.settings(), FlyOptions::default());
    fly(problem.models(), &sample, &start, settings).expect("flown")
}

/// Peaks along flown passes do not change with the cells of the wall, nor with the spacing of the history.
#[test]
fn peaks_along_flown_passes_are_settled_to_a_thousandth() {
    for flown in flown() {
        let share = 2e5 / flown.result.peak_heat_flux_w_m2;
        let every = flux_along(&flown.history, share);
        let second: Vec<FluxPoint> = every.iter().copied().step_by(2).collect();
        for kind in [thin(3000.0), slab(&[TILE, SHEET]), slab(&[SHEET, TILE])] {
            let spot = spot(0.8, kind);
            let peaks = |fineness: f64, flux: &[FluxPoint]| {
                let skin = Skin::with_fineness(&spot, fineness).expect("a wall");
                let mut state = skin.at_start().expect("a start");
                skin.carry(&mut state, flux, |_| ()).expect("carried");
                skin.rest(&mut state, skin.soak_s(), |_| ())
                    .expect("rested");
                let back = state.back_peak().map_or(0.0, |back| back.kelvin);
                [state.surface_peak().kelvin, back]
            };
            let usual = peaks(1.0, &every);
            for other in [peaks(3.0, &every), peaks(1.0, &second)] {
                for (a, b) in usual.into_iter().zip(other) {
                    assert!((a - b).abs() <= 1e-3 * b, "{spot:?}: {usual:?} {other:?}");
                }
            }
        }
    }
}

/// Heat that a pass leaves in the wall goes on into the next, which is hotter for it, as long as the wall began
/// at the temperature of what it sees. In one go and step by step it is the same.
#[test]
fn heat_goes_on_from_pass_to_pass_through_cold_gaps() {
    let mut spot = spot(0.3, slab(&[SHEET, TILE]));
    (spot.wall.start_k, spot.wall.background_k) = (290.0, 290.0);
    let skin = Skin::new(&spot).expect("a wall");
    let leg = Leg {
        pass: bell(2e4, 30.0, 0.1),
        cold_s: 3600.0,
    };
    let peaks = skin.through(&vec![leg.clone(); 4]).expect("carried");
    for pair in peaks.windows(2) {
        assert!(pair[1].surface.kelvin > pair[0].surface.kelvin);
        assert!(pair[1].back.expect("a slab").kelvin > pair[0].back.expect("a slab").kelvin);
        assert!(pair[1].surface.time_s < 12.0 * 30.0);
    }
    let mut state = skin.at_start().expect("a start");
    for peak in &peaks {
        state.begin_anew();
        skin.carry(&mut state, &leg.pass, |_| ()).expect("carried");
        skin.rest(&mut state, leg.cold_s, |_| ()).expect("rested");
        assert_eq!(state.surface_peak(), peak.surface);
        assert_eq!(state.surface_k(), peak.end_surface_k);
        assert_eq!(state.back_k(), peak.end_back_k);
    }
    // A long gap lets all of it go, down to what the wall sees.
    let cold = Leg {
        pass: Vec::new(),
        cold_s: 3e7,
    };
    let end = skin.through([&leg, &cold]).expect("carried")[1];
    assert!((end.end_surface_k - 290.0).abs() < 1e-3, "{end:?}");
}

/// A flux that is no number is told, and no wall is made of nothing.
#[test]
fn what_cannot_be_carried_is_told() {
    for kind in [thin(3000.0), slab(&[TILE])] {
        let skin = Skin::new(&spot(0.8, kind)).expect("a wall");
        let mut state = skin.at_start().expect("a start");
        let broken = [0.0, f64::NAN].map(|flux_w_m2| FluxPoint {
            time_s: if flux_w_m2.is_nan() { 1.0 } else { 0.0 },
            flux_w_m2,
            log_rate_per_s: 0.0,
        });
        let error = skin.carry(&mut state, &broken, |_| ()).unwrap_err();
        assert!(error.to_string().contains("no wall temperature"), "{error}");
        assert!(skin.rest(&mut state, f64::INFINITY, |_| ()).is_err());
    }
    assert!(Skin::new(&spot(0.8, slab(&[]))).is_err());
}

/// The bell that stands for a flown flux, when only its peak and load are known.
#[test]
fn a_pulse_has_its_peak_and_load() {
    let pulse = FluxPoint::pulse(3e5, 2e7);
    let load: f64 = pulse
        .windows(2)
        .map(|p| 0.5 * (p[0].flux_w_m2 + p[1].flux_w_m2) * (p[1].time_s - p[0].time_s))
        .sum();
    assert!((load / 2e7 - 1.0).abs() < 1e-5, "{load}");
    let peak = pulse.iter().map(|p| p.flux_w_m2).fold(0.0, f64::max);
    assert!((peak / 3e5 - 1.0).abs() < 1e-12, "{peak}");
    assert!(FluxPoint::pulse(0.0, 1e5).is_empty());
    for flown in flown() {
        let result = &flown.result;
        let share = 1e5 / result.peak_heat_flux_w_m2;
        for kind in [thin(3000.0), thin(20_000.0), slab(&[TILE])] {
            let skin = Skin::new(&spot(0.8, kind)).expect("a wall");
            let peak = |pass: Vec<FluxPoint>| {
                let leg = Leg { pass, cold_s: 0.0 };
                skin.through([&leg]).expect("carried")[0].surface.kelvin
            };
            let exact = peak(flux_along(&flown.history, share));
            let bell = peak(FluxPoint::pulse(1e5, share * result.heat_load_j_m2));
            assert!((bell / exact - 1.0).abs() < 0.02, "{exact} {bell}");
        }
    }
}

fn any_layer() -> impl Strategy<Value = LayerSpec> {
    (
        -3.5..-1.0_f64,
        -2.0..2.5_f64,
        1.5..4.0_f64,
        400.0..2000.0_f64,
    )
        .prop_map(
            |(thickness, conductivity, density, specific_heat)| LayerSpec {
                thickness_m: 10_f64.powf(thickness),
                conductivity_w_m_k: 10_f64.powf(conductivity),
                density_kg_m3: 10_f64.powf(density),
                specific_heat_j_kg_k: specific_heat,
            },
        )
}

fn any_wall() -> impl Strategy<Value = WallKind> {
    let layers = proptest::collection::vec(any_layer(), 1..4);
    prop_oneof![
        (2.0..5.0_f64).prop_map(|capacity| thin(10_f64.powf(capacity))),
        layers.prop_map(|layers| slab(&layers)),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    /// A wall that starts no hotter than its equilibrium with the peak flux, and whose back sees nothing hotter,
    /// never becomes hotter, at the surface or anywhere, in one pass or in several: nothing is warmed beyond the
    /// hottest that warms it. So `band`, which holds the equilibrium against the
    /// limit, errs on the safe side.
    #[test]
    fn equilibrium_at_the_peak_flux_bounds_every_wall(
        kind in any_wall(), emissivity in 0.1..1.0_f64, peak in 3.0..6.5_f64, width in 0.3..2.3_f64,
        background in 0.0..300.0_f64, start in 0.0..1.0_f64, skew in -0.6..0.6_f64, room in -1.0..1.0_f64,
    ) {
        let (peak, width) = (10_f64.powf(peak), 10_f64.powf(width));
        let bound = equilibrium_temperature(peak, emissivity, background);
        let mut spot = spot(emissivity, kind);
        spot.wall.background_k = background;
        spot.wall.start_k = start * bound;
        // Every other slab radiates into a room behind it, no hotter than the bound.
        if let WallKind::Slab { back, .. } = &mut spot.wall.kind && room > 0.0 {
            *back = BackSpec::Radiating { emissivity: 0.7, background_k: room * bound };
        }
        let skin = Skin::new(&spot).expect("a wall");
        // Two bells, the second weaker.
        let mut pass = bell(peak, width, 0.2);
        let again: Vec<FluxPoint> = bell(0.5 * (1.0 + skew) * peak, width, 0.2);
        let later = pass[pass.len() - 1].time_s;
        pass.extend(again.iter().skip(1).map(|p| FluxPoint { time_s: later + p.time_s, ..*p }));
        let leg = Leg { pass, cold_s: 20.0 * width };
        for peaks in skin.through([&leg, &leg]).expect("carried") {
            // Less the error of the method.
            prop_assert!(peaks.surface.kelvin <= bound * (1.0 + 1e-6), "{} {bound}", peaks.surface.kelvin);
            if let Some(back) = peaks.back {
                prop_assert!(back.kelvin <= bound * (1.0 + 1e-6), "{} {bound}", back.kelvin);
            }
        }
    }
}

/// One pass of the bundled example with walls, at this aim (m), after a change of its text.
fn panel_pass(aim_m: f64, change: (&str, &str)) -> (Case, periband::study::single::SinglePass) {
    let text = std::fs::read_to_string(examples().join("panel-walls.yaml")).expect("an example");
    let changed = text.replacen(change.0, change.1, 1);
    assert!(changed != text || change.0 == change.1, "{change:?}");
    let case = case_of(&changed);
    let aim = (aim_m, SampleNumber::Nominal);
    let single = fly_single(&case.problem, &case.scenario.ship, aim, None).expect("flown");
    (case, single)
}

/// A flown pass follows its walls: the sheet lags its flux, the back face of the slab is hottest after the
/// exit, both lie below radiative equilibrium, and their limits are judged by what they were.
#[test]
fn a_pass_judges_spots_by_their_walls() {
    let (case, single) = panel_pass(99e3, ("", ""));
    let [panel, belly] = &single.spots[..] else {
        panic!("two spots");
    };
    let exit_s = single.flown.result.duration_s;
    assert!(
        panel.surface.kelvin < panel.equilibrium_k && belly.surface.kelvin < belly.equilibrium_k
    );
    assert!(belly.back.expect("a slab").time_s > exit_s);
    assert!(!belly.back_still_warms);
    assert!(single.spots.iter().all(SpotHeat::holds));
    let said = pass_text::broken(&case, &single);
    assert!(said.starts_with("All limits hold."), "{said}");
    // Histories have the moments of the flight, then those of the soak.
    assert_eq!(panel.in_air.len(), single.flown.history.len());
    let last = panel.soaked.last().expect("a soak").time_s;
    assert!((last - exit_s - panel.followed_s).abs() < 1e-6, "{last}");
    assert!(panel.followed_s >= belly_time_s(), "{}", panel.followed_s);

    // Held by its wall alone: the bound of the band breaks, the pass does not.
    let between = format!(
        "highest_temperature: {:.1} K",
        0.5 * (panel.surface.kelvin + panel.equilibrium_k)
    );
    let (case, single) = panel_pass(99e3, ("highest_temperature: 500 K", &between));
    assert!(single.spots[0].saved_by_its_wall());
    let said = pass_text::broken(&case, &single);
    assert!(!said.contains("Broken"), "{said}");
    let mask = case
        .problem
        .limits()
        .broken(&single.flown.result, &single.numbers);
    assert_ne!(mask, 0, "radiative equilibrium is held in the band");
    let remarks = heat_text::spot_remarks(&single).join(" ");
    assert!(
        remarks.contains("solar panel holds because its wall"),
        "{remarks}"
    );
    let words = remarks_of(&case);
    assert!(
        words.contains("solar panel is held against radiative equilibrium"),
        "{words}"
    );

    // Broken at the surface, at the back, and by the flux.
    for (change, words) in [
        (
            ("highest_temperature: 500 K", "highest_temperature: 300 K"),
            "surface of solar panel at",
        ),
        (
            (
                "highest_back_temperature: 330 K",
                "highest_back_temperature: 285 K",
            ),
            "back face of belly at",
        ),
        (
            ("highest_temperature: 700 K", "highest_flux: 0.1 W/cm2"),
            "heat flux of belly at",
        ),
    ] {
        let (case, single) = panel_pass(99e3, change);
        let broken = pass_text::broken(&case, &single);
        assert!(broken.contains(words), "{broken}");
        let summary = pass_text::summary(&case, &single, None);
        assert!(
            summary["spots"].to_string().contains("\"held\":false"),
            "{summary}"
        );
    }
}

/// Time in which heat goes through the belly of the example, s: thickness over root of diffusivity, layer by layer,
/// squared (computed by hand from its numbers: √(0.012² · 110 · 1050/0.045) = 19.22 √s and 0.16 √s).
fn belly_time_s() -> f64 {
    let (blanket, skin) = (
        0.012 * (110.0 * 1050.0 / 0.045_f64).sqrt(),
        0.0012 * (2700.0 * 890.0 / 130.0_f64).sqrt(),
    );
    (blanket + skin).powi(2)
}

fn remarks_of(case: &Case) -> String {
    periband::report::remarks::wall_remark(case).expect("a wall that takes time")
}

/// Sutton-Graves along the history is the flown heating where nothing else is flown; where a second correlation
/// covers the gas it is given with its difference, and else that there is none.
#[test]
fn the_stagnation_point_is_shown_by_every_correlation_that_covers_the_gas() {
    let plain = "nose_radius: 1.1 m\n  heating: {radiative: no, free_molecular: no}";
    let (case, single) = panel_pass(99e3, ("nose_radius: 1.1 m", plain));
    let all = opinions(&case.world, &single.flown.history, &Nose::kept(1.1));
    let result = &single.flown.result;
    assert_eq!(all.len(), 2);
    assert!((all[0].peak_flux_w_m2 / result.peak_heat_flux_w_m2 - 1.0).abs() < 1e-4);
    assert!((all[0].load_j_m2 / result.heat_load_j_m2 - 1.0).abs() < 1e-4);
    // 1.35e-4 V^0.04/1.9027e-4 of it (computed from the two equations), at the speed of the peak.
    let speed = single.flown.history[single.flown.history.len() / 2]
        .felt
        .speed;
    let ratio = 1.35e-4 * speed.powf(0.04) / 1.9027e-4;
    assert!((all[1].peak_flux_w_m2 / all[0].peak_flux_w_m2 / ratio - 1.0).abs() < 1e-4);
    // So thin is the air that the pressure lies below what the first was made for.
    assert_eq!(all[0].outside.len(), 1);
    assert_eq!(all[0].outside[0].range.quantity, "stagnation pressure");
    let remarks = heat_text::convective_remarks(&case, &single).join(" ");
    assert!(
        remarks.contains("Sutton-Graves is outside its range"),
        "{remarks}"
    );

    let steep = "title: T\nworld: WORLD\nship: {mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1.2, nose_radius: 0.4 m}\n\
        arrival:\n  entry: {speed: 8.2 km/s, inclination: 30 deg, flight_path_angle: -20 deg}\nlimits: {comes_down: yes}\n";
    let shown = |world: &str| {
        let case = case_of(&steep.replace("WORLD", world));
        let aim = (case.problem.aim().from_m, SampleNumber::Nominal);
        let single = fly_single(&case.problem, &case.scenario.ship, aim, None).expect("flown");
        let json = heat_text::convective_json(&case, &single);
        (
            heat_text::convective_remarks(&case, &single).join(" "),
            json,
        )
    };
    let (_, earth) = shown("earth");
    assert_eq!(earth["by"][1]["correlation"], "detra_kemp_riddell");
    let difference = earth["by"][1]["peak_difference_percent"]
        .as_f64()
        .expect("a number");
    assert!((5.0..20.0).contains(&difference), "{difference}");
    let (words, titan) = shown("titan");
    assert_eq!(titan["by"].as_array().map(Vec::len), Some(1));
    assert!(
        words.contains("No second correlation covers the gas of Titan"),
        "{words}"
    );
}

/// `pass` writes what it says: temperatures beside the history, the soak, the figure; in 80 columns.
#[test]
fn a_pass_writes_its_walls() {
    let folder = Folder::new("walls");
    let file = examples().join("panel-walls.yaml");
    let file = file.to_str().expect("a path of letters");
    let run = periband(&folder.0, &["pass", file, "--periapsis", "100km"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let said = text(&run.stdout);
    for words in [
        "convection by Tauber-Bowles-Yang",
        "solar panel",
        "only radiate",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    let out = folder.0.join("out/panel-walls/pass");
    let read = |name: &str| std::fs::read_to_string(out.join(name)).expect(name);
    let names = "solar_panel_surface_k,belly_surface_k,belly_back_k";
    let history = read("history.csv");
    assert!(
        history
            .lines()
            .next()
            .is_some_and(|head| head.ends_with(names))
    );
    let walls = read("walls.csv");
    assert_eq!(walls.lines().next(), Some(&*format!("time_s,{names}")));
    assert!(walls.lines().count() > history.lines().count() + 50);
    for name in ["walls.parquet", "walls.svg", "walls.png"] {
        assert!(out.join(name).is_file(), "{name} is missing");
    }
    let summary: serde_json::Value = serde_json::from_str(&read("summary.json")).expect("JSON");
    assert_eq!(summary["spots"][1]["spot"], "belly");
    assert!(summary["spots"][1]["peak_back_time_s"].as_f64() > summary["duration_s"].as_f64());
    assert!(summary["convective_heating"]["by"][1]["peak_difference_percent"].is_number());
}
