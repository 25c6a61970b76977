//! Coefficients that vary along the flight, configurations, and heating beside convection, as flown.

use crate::case_of;
use periband::Case;
use periband::craft::free_molecular::heat_flux;
use periband::craft::radiative::TauberSutton;
use periband::craft::rarefaction::{Bridge, Molecules, bridged_heat_flux};
use periband::ensemble::problem::SampleNumber;
use periband::pass::PassResult;
use periband::pass::batch::Batch;
use periband::pass::reference::{FlownPass, FlyOptions, fly};
use periband::scenario::uncertainty::Number;
use std::fmt::Write as _;

/// A ship at the Earth or at Mars with these lines of its own, on a pass at one aim.
fn case(world: &str, (speed, aim): (&str, &str), ship: &str) -> Case {
    case_of(&format!(
        "title: x\nworld: {world}\nship:\n  mass: 10 t\n  nose_radius: 2 m\n{ship}\n\
         arrival: {{hyperbola: {{excess_speed: {speed}, inclination: 30 deg, aim_periapsis: {aim}}}}}\n\
         uncertainty: {{air: exact}}\n"
    ))
}

const CONSTANT: &str = "  reference_area: 50 m2\n  drag_coefficient: 1.5\n  lift_to_drag: 0.2";
/// The same coefficients as a table of one row.
const ONE_ROW: &str = "  reference_area: 50 m2\n  aerodynamics:\n    table: |\n      \
    drag_coefficient, lift_coefficient\n      1.5, 0.3";
/// Coefficients that fall and rise with Mach number, bridged to free molecules.
const VARYING: &str = "  reference_area: 50 m2\n  trim_angle: 4 deg\n  aerodynamics:\n    \
    free_molecular: {drag_coefficient: 2.2, lift_coefficient: 0.05}\n    table: |\n      \
    angle_of_attack_deg, mach, drag_coefficient, lift_coefficient\n      \
    0, 1, 1.1, 0.0\n      0, 5, 1.6, 0.0\n      0, 15, 1.5, 0.0\n      0, 40, 1.7, 0.0\n      \
    8, 1, 1.0, 0.3\n      8, 5, 1.5, 0.4\n      8, 15, 1.4, 0.5\n      8, 40, 1.6, 0.4";

fn reference(case: &Case, tolerance: f64) -> FlownPass {
    let problem = &case.problem;
    let aim = problem.aim().from_m;
    let (start, sample) = problem
        .launch(aim, problem.nominal(), SampleNumber::Nominal)
        .expect("an approach");
    let options = FlyOptions {
        tolerance,
        longest_step_s: 0.25,
    };
    fly(
        problem.models(),
        &sample,
        &start,
        (problem.settings(), options),
    )
    .expect("flown")
}

fn lanes(case: &Case) -> PassResult {
    let problem = &case.problem;
    let launched = problem.launch(
        problem.aim().from_m,
        problem.nominal(),
        SampleNumber::Nominal,
    );
    let mut once = launched.map(|(start, sample)| (0, start, sample));
    let mut result = None;
    Batch::new(problem.models(), problem.settings())
        .fly(|| once.take(), |_, pass| result = Some(pass));
    result.expect("flown")
}

fn near(what: &str, ours: f64, expected: f64, relative: f64) {
    let error = (ours / expected - 1.0).abs();
    assert!(
        error <= relative,
        "{what}: {ours} against {expected}, {error:.1e}"
    );
}

#[test]
fn a_table_of_one_row_flies_as_its_constants() {
    let at = ("3 km/s", "55 km");
    let (constant, table) = (
        lanes(&case("mars", at, CONSTANT)),
        lanes(&case("mars", at, ONE_ROW)),
    );
    near(
        "speed lost",
        table.speed_lost_m_s,
        constant.speed_lost_m_s,
        1e-9,
    );
    near(
        "peak deceleration",
        table.peak_deceleration_m_s2,
        constant.peak_deceleration_m_s2,
        1e-9,
    );
}

/// With everything switched on, eight lanes and the library integrator tell the same.
#[test]
fn lanes_and_the_library_agree_on_tables_and_on_every_kind_of_heating() {
    for (world, at) in [
        ("mars", ("6.5 km/s", "50 km")),
        ("earth", ("5 km/s", "72 km")),
    ] {
        let case = case(world, at, VARYING);
        let (ours, library) = (lanes(&case), reference(&case, 1e-12).result);
        assert_eq!(ours.ending, library.ending);
        near(
            "speed lost",
            ours.speed_lost_m_s,
            library.speed_lost_m_s,
            1e-6,
        );
        near(
            "heat load",
            ours.heat_load_j_m2,
            library.heat_load_j_m2,
            1e-5,
        );
        for (what, a, b) in [
            (
                "deceleration",
                ours.peak_deceleration_m_s2,
                library.peak_deceleration_m_s2,
            ),
            (
                "heat flux",
                ours.peak_heat_flux_w_m2,
                library.peak_heat_flux_w_m2,
            ),
            (
                "pressure",
                ours.peak_dynamic_pressure_pa,
                library.peak_dynamic_pressure_pa,
            ),
        ] {
            near(what, a, b, 1e-4);
        }
    }
}

/// What is followed inside steps rests on the rates of the logarithms: they are the derivatives of the
/// values along the flight (by differences of the history).
#[test]
fn rates_of_deceleration_and_heat_are_their_derivatives() {
    for (world, at) in [
        ("mars", ("6.5 km/s", "50 km")),
        ("earth", ("5 km/s", "72 km")),
    ] {
        let flown = reference(&case(world, at, VARYING), 1e-12);
        let mut errors = Vec::new();
        for three in flown.history.windows(3) {
            let span = three[2].time_s - three[0].time_s;
            if (span - 2.0 * (three[1].time_s - three[0].time_s)).abs() > 1e-9 {
                continue;
            }
            for (value, rate) in [
                (
                    [0, 1, 2].map(|i| three[i].felt.deceleration.ln()),
                    [0, 1, 2].map(|i| three[i].felt.deceleration_log_rate),
                ),
                (
                    [0, 1, 2].map(|i| three[i].felt.heat_flux.ln()),
                    [0, 1, 2].map(|i| three[i].felt.heat_flux_log_rate),
                ),
            ] {
                let simpson = span / 6.0 * (rate[0] + 4.0 * rate[1] + rate[2]);
                errors.push((simpson - (value[2] - value[0])).abs());
            }
        }
        // All but the few moments at the bends of the air, of the tables, and at the jump of the first row of
        // the radiative one; a coefficient of 1.5 that moves by 0.1 in 20 s moves its logarithm by 1e-3.
        errors.sort_by(f64::total_cmp);
        let (count, most) = (errors.len(), errors[errors.len() * 95 / 100]);
        assert!(count > 400 && most < 2e-5, "{world}: {most:.1e} of {count}");
    }
}

/// The drag that is felt is the continuum's times the bridge at the Knudsen number of the air there, from
/// the interface (nearly free molecules) down.
#[test]
fn thin_air_bridges_the_drag_to_that_of_free_molecules() {
    let bridged = format!(
        "{CONSTANT}\n  aerodynamics: {{free_molecular: {{drag_coefficient: 3.0, lift_coefficient: 0.6}}}}"
    );
    let case = case("mars", ("3 km/s", "50 km"), &bridged);
    let gas = case.world.gas().expect("a gas");
    let molecules = Molecules {
        molar_mass_kg_kmol: gas.molar_mass_kg_kmol(),
        diameter_m: gas.collision_diameter_m(),
        reference_temperature_k: 273.15,
        viscosity_exponent: 0.5,
    };
    let diameter = (4.0 * 50.0 / std::f64::consts::PI).sqrt();
    let (mut least, mut most) = (2.0_f64, 1.0_f64);
    for moment in reference(&case, 1e-10).history {
        let felt = moment.felt;
        let drag = felt.deceleration / 1.04_f64.sqrt();
        let share = drag / (felt.dynamic_pressure * 50.0 * 1.5 / 10e3);
        let density = 2.0 * felt.dynamic_pressure / (felt.speed * felt.speed);
        let path = molecules.mean_free_path_m(density, 273.15);
        let expected = Bridge::USUAL.coefficient((path / diameter).ln(), 1.0, 2.0);
        near("share of the continuum's drag", share, expected, 1e-9);
        (least, most) = (least.min(share), most.max(share));
    }
    assert!(least < 1.0 + 1e-6 && most > 1.95, "{least} {most}");
}

#[test]
fn an_error_of_the_trim_moves_drag_and_lift_along_the_table() {
    let text = format!("{VARYING}\n");
    let case = case_of(&format!(
        "title: x\nworld: mars\nship:\n  mass: 10 t\n  nose_radius: 2 m\n{text}\
         arrival: {{hyperbola: {{excess_speed: 3 km/s, inclination: 30 deg, aim_periapsis: 50 km}}}}\n\
         uncertainty: {{air: exact, ship.trim_angle: {{normal: {{std_dev: 1 deg}}}}, \
         ship.drag_factor: {{normal: {{std_dev: 2 %}}}}}}\n"
    ));
    let problem = &case.problem;
    let aerodynamics = problem
        .models()
        .ship
        .aerodynamics
        .as_ref()
        .expect("a table");
    let mut numbers = *problem.nominal();
    numbers[Number::TrimAngle as usize] = 6_f64.to_radians();
    let (_, sample) = problem
        .launch(50e3, &numbers, SampleNumber::Nominal)
        .expect("an approach");
    let off = sample.vehicle.off_trim;
    assert!((off - 2_f64.to_radians()).abs() < 1e-12);
    let (drag, lift) = aerodynamics.grid.coefficients_off_trim(15.0, -20.0, off);
    // Three quarters of the way from 0 to 8 deg at Mach 15.
    assert!(
        (drag - 1.425).abs() < 1e-12 && (lift - 0.375).abs() < 1e-12,
        "{drag} {lift}"
    );
}

#[test]
fn a_configuration_is_the_ship_with_what_differs() {
    let plain = case("mars", ("3 km/s", "55 km"), CONSTANT);
    let configured = case(
        "mars",
        ("3 km/s", "55 km"),
        "  drag_coefficient: 9\n  reference_area: 1 m2\n  configuration: open\n  configurations:\n    \
         open: {reference_area: 50 m2, drag_coefficient: 1.5, lift_to_drag: 0.2}\n    \
         shut: {mass: 3 t}",
    );
    assert_eq!(plain.scenario.ship, configured.scenario.ship);
    let (name, shut) = &configured.scenario.configurations[1];
    assert_eq!(
        (name.as_str(), shut.mass_kg, shut.drag_coefficient),
        ("shut", 3000.0, 9.0)
    );
}

/// A 70 deg sphere-cone with a nose of half its base radius: a hypersonic drag coefficient of 1.6 to 1.7
/// (Mars entry aeroshells, common practice).
#[test]
fn a_shape_alone_gives_a_ship_to_fly() {
    let ship = "  aerodynamics: {shape: {sphere_cone: {nose_radius: 1 m, base_radius: 2 m, half_angle: 70 deg}}}";
    let case = case("mars", ("3 km/s", "55 km"), ship);
    let (drag, lift) = case.problem.reference_coefficients();
    assert!(
        (1.6..1.75).contains(&drag) && lift.abs() < 1e-12,
        "{drag} {lift}"
    );
    let area = case.scenario.ship.reference_area_m2;
    near("base area", area, std::f64::consts::PI * 4.0, 1e-12);
    // The hyperthermal limit of diffuse reflection is twice the silhouette (Schaaf & Chambré 1961).
    let grid = &case
        .problem
        .models()
        .ship
        .aerodynamics
        .as_ref()
        .expect("a shape")
        .grid;
    near("free molecules", grid.coefficients(20.0, 5.0).0, 2.0, 1e-12);
}

/// At every moment the flux is convective bridged to free-molecular, plus radiative where the world has a
/// correlation; each switch takes its part away.
#[test]
fn the_flux_is_the_sum_of_its_parts() {
    let at = ("5 km/s", "72 km");
    let flown = reference(&case("earth", at, CONSTANT), 1e-10);
    let convective = reference(
        &case(
            "earth",
            at,
            &format!("{CONSTANT}\n  heating: {{radiative: no, free_molecular: no}}"),
        ),
        1e-10,
    );
    let hottest = |pass: &FlownPass| {
        let mut moments = pass.history.iter();
        let first = *moments.next().expect("a history");
        moments.fold(first, |best, m| {
            if m.felt.heat_flux > best.felt.heat_flux {
                *m
            } else {
                best
            }
        })
    };
    let (all, plain) = (hottest(&flown), hottest(&convective));
    let earth = TauberSutton::earth();
    let density = 2.0 * all.felt.dynamic_pressure / (all.felt.speed * all.felt.speed);
    let convection = 1.7415e-4 * (density / 2.0).sqrt() * all.felt.speed.powi(3);
    let thin = heat_flux(density, all.felt.speed, 1.0);
    let radiation = earth.at(density, all.felt.speed, 2.0).w_m2;
    near(
        "sum",
        all.felt.heat_flux,
        bridged_heat_flux(convection, thin) + radiation,
        1e-9,
    );
    assert!(radiation > 0.05 * convection, "{radiation} {convection}");
    assert!(all.felt.heat_flux > 1.04 * plain.felt.heat_flux);
    near(
        "without its parts",
        plain.felt.heat_flux,
        1.7415e-4
            * (plain.felt.dynamic_pressure * 2.0 / plain.felt.speed.powi(2) / 2.0).sqrt()
            * plain.felt.speed.powi(3),
        1e-9,
    );
}

/// A table with one far entry: cut into equal cells it gave 2.363 at Mach 20, above all it holds.
#[test]
fn overshooting_table_csv_never_leaves_its_neighbours() {
    let table = "  reference_area: 50 m2\n  aerodynamics:\n    table: |\n      \
        mach,drag_coefficient,lift_coefficient\n      1,0.9,0\n      5,1.7,0\n      25.3,1.5,0\n      \
        10000,1.5,0";
    let case = case("mars", ("3 km/s", "55 km"), table);
    let aerodynamics = case.problem.models().ship.aerodynamics.as_ref();
    let grid = &aerodynamics.expect("a table").grid;
    for (mach, drag) in [(0.0, 0.9), (1.0, 0.9), (5.0, 1.7), (25.3, 1.5), (9e9, 1.5)] {
        near("an entry", grid.coefficients(mach, 0.0).0, drag, 1e-14);
    }
    for i in 0..=20_300 {
        let drag = grid.coefficients(5.0 + f64::from(i) * 1e-3, 0.0).0;
        assert!((1.5 - 1e-14..=1.7 + 1e-14).contains(&drag), "{i}: {drag}");
    }
    // And so it is flown, from the interface down to where the pass is slowest.
    for moment in reference(&case, 1e-10).history {
        let drag = moment.felt.deceleration * 10e3 / (moment.felt.dynamic_pressure * 50.0);
        assert!((1.5 - 1e-9..=1.7 + 1e-9).contains(&drag), "{drag}");
    }
}

/// Numbers that come one after another, even between 0 and 1.
#[expect(clippy::cast_precision_loss, reason = "53 bits")]
fn even(state: &mut u64) -> f64 {
    *state = state
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    (*state >> 11) as f64 / (1_u64 << 53) as f64
}

/// Over random and zigzag tables (gaps from 0.01 to 30 Mach, coefficients over the whole range that may be):
/// every entry is met, and between two of them no coefficient leaves the range of theirs; lanes give the bits
/// of single numbers, on the entries too.
#[test]
fn tables_are_met_at_their_entries_and_stay_between_them() {
    use periband::craft::aero_csv::read_aero_table;
    use periband::craft::aero_grid::Trim;
    use periband::numeric::Lanes;
    let mut state = 7;
    for table in 0..400 {
        let (zigzag, count) = (table % 2 == 0, 2 + table % 19);
        let (mut mach, mut rows) = (even(&mut state), Vec::new());
        for i in 0..count {
            let (low, high) = if zigzag && i % 2 == 0 {
                (0.01, 0.02)
            } else {
                (0.01, 10.0)
            };
            let drag = low + (high - low) * even(&mut state);
            let lift = drag * (even(&mut state) * 18.0 - 9.0);
            rows.push((mach, drag, lift));
            mach += f64::powf(10.0, -2.0 + 3.47 * even(&mut state));
        }
        let mut text = "mach,drag_coefficient,lift_coefficient\n".to_owned();
        for (mach, drag, lift) in &rows {
            writeln!(text, "{mach},{drag},{lift}").expect("text");
        }
        let read = read_aero_table(&text).expect("a table");
        let grid = read.at_trim(&Trim {
            angle_of_attack_rad: 0.0,
            span_rad: 0.0,
            free_molecular: None,
        });
        for pair in rows.windows(2) {
            let ((m0, d0, l0), (m1, d1, l1)) = (pair[0], pair[1]);
            assert_eq!(grid.coefficients(m0, 0.0), (d0, l0), "{text}");
            let (drag, lift) = grid.coefficients(m1, 0.0);
            assert!(
                (drag - d1).abs() < 1e-13 && (lift - l1).abs() < 1e-12,
                "{text}"
            );
            for k in 0..=40 {
                let mach = m0 + (m1 - m0) * f64::from(k) / 40.0;
                let (drag, lift) = grid.coefficients(mach, 0.0);
                let inside =
                    |x: f64, a: f64, b: f64| x >= a.min(b) - 1e-12 && x <= a.max(b) + 1e-12;
                assert!(drag > 0.0 && inside(drag, d0, d1), "{mach}: {drag}\n{text}");
                assert!(inside(lift, l0, l1), "{mach}: {lift}\n{text}");
                let lanes = grid.coefficients(Lanes([mach; 8]), Lanes([0.0; 8]));
                assert_eq!((lanes.0.0[3], lanes.1.0[5]), (drag, lift));
            }
        }
    }
}

/// What cannot be a coefficient is refused where it stands.
#[test]
fn numbers_of_a_table_out_of_range_are_shown_with_file_line_and_column() {
    let error = |line: &str| {
        let text = format!(
            "title: x\nworld: mars\nship:\n  mass: 10 t\n  nose_radius: 2 m\n  reference_area: 50 m2\n  \
             aerodynamics:\n    table: |\n      mach,drag_coefficient,lift_coefficient\n      1,0.9,0\n      {line}\n\
             arrival: {{hyperbola: {{excess_speed: 3 km/s, inclination: 30 deg, aim_periapsis: 55 km}}}}\n"
        );
        let scenario = periband::scenario::Scenario::from_text("x.yaml", &text).expect("a form");
        Case::from_scenario(scenario)
            .expect_err("no table")
            .to_string()
    };
    for (line, words) in [
        (
            "5,1e308,0",
            "line 3: column `drag_coefficient` is 1e308: it must be between 0.01 and 10",
        ),
        (
            "5,0,0",
            "line 3: column `drag_coefficient` is 0: it must be between 0.01 and 10",
        ),
        (
            "5,1.5,1e308",
            "line 3: column `lift_coefficient` is 1e308: it must be between -100 and 100",
        ),
        (
            "5,1.5,-30",
            "line 3: the lift-to-drag ratio is -20: it must be between -10 and 10",
        ),
        (
            "1e308,1.5,0",
            "line 3: column `mach` is 1e308: it must be between 0 and 1e5",
        ),
        (
            "1.00001,1.5,0\n      50,1.5,0",
            "lie closer than a 65536th of its range",
        ),
    ] {
        let message = error(line);
        assert!(
            message.contains("in the table `ship.aerodynamics.table`"),
            "{message}"
        );
        assert!(message.contains(words), "{message}");
    }
}

/// What is felt is the acceleration less gravity, whichever way the ship flies: where lift fades, within 1.15 deg
/// of the vertical, it fades in both.
#[test]
fn what_is_sensed_fades_near_the_vertical_as_the_lift_does() {
    use periband::numeric::Vec3;
    use periband::pass::dynamics::derivative;
    use periband::world::shape::Place;
    for ship in [CONSTANT, VARYING] {
        let case = case("mars", ("3 km/s", "55 km"), ship);
        let problem = &case.problem;
        let (models, planet) = (problem.models(), problem.planet());
        let (_, mut sample) = problem
            .launch(55e3, problem.nominal(), SampleNumber::Nominal)
            .expect("an approach");
        sample.vehicle = sample.vehicle.banked(0.7);
        let mut faded = 0;
        for degrees in [0.0, 0.01, 0.2, 0.6, 1.0, 1.3, 5.0, 40.0, 90.0] {
            let (sine, cosine) = f64::to_radians(degrees).sin_cos();
            let r = Vec3::new(planet.equatorial_radius_m + 40e3, 0.0, 0.0);
            let air = planet.rotation_rad_s * r.x;
            let state = {
                // Straight down and that far off it, against the air.
                let v = Vec3::new(-900.0 * cosine, 600.0 * sine + air, 671.0 * sine);
                [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0]
            };
            let (rates, felt) = derivative(models, &sample, &state);
            let pull = planet.gravity(&Place::new(r));
            let sensed = Vec3::new(rates[3] - pull.x, rates[4] - pull.y, rates[5] - pull.z).norm();
            near("what is sensed", felt.deceleration, sensed, 1e-12);
            let drag = rates[7];
            faded += usize::from(felt.deceleration < drag * 1.0001);
            // Its rate is the derivative along the motion.
            let beside = |t: f64| {
                let mut y = state;
                for (y, rate) in y.iter_mut().zip(rates) {
                    *y += rate * t;
                }
                derivative(models, &sample, &y).1.deceleration.ln()
            };
            let numeric = (beside(1e-3) - beside(-1e-3)) / 2e-3;
            assert!(
                (felt.deceleration_log_rate - numeric).abs() < 1e-5 + 1e-3 * numeric.abs(),
                "{degrees} deg: {} for {numeric}",
                felt.deceleration_log_rate
            );
        }
        assert!((1..5).contains(&faded), "{faded}");
    }
}
