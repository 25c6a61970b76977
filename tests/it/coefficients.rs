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
