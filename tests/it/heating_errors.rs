//! The errors of the heating models: flown wherever heat is limited, of the size that is stated, and by nothing
//! but heat.

use crate::cli::{Folder, periband, text};
use crate::{case_of, changed_example, examples};
use periband::ensemble::campaign::CampaignResult;
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::pass::PassResult;
use periband::scenario::Scenario;
use periband::scenario::heating_errors::HEATING_ERRORS;
use periband::scenario::uncertainty::{Distribution, Number};
use periband::study::Case;
use periband::study::campaign::fly_case;
use std::fs;

/// An arrival at a world at an excess speed (km/s) and aim (km); nothing is uncertain but what the section says.
fn arrival((world, speed, aim): (&str, f64, f64), heating: &str, limits: &str) -> String {
    let heating = if heating.is_empty() {
        String::new()
    } else {
        format!(", heating: {heating}")
    };
    format!(
        "title: t\nworld: {world}\n\
         ship: {{mass: 20 t, reference_area: 60 m2, drag_coefficient: 1.4, nose_radius: 2 m, \
         heating: {{free_molecular: no}}}}\n\
         arrival: {{hyperbola: {{excess_speed: {speed} km/s, inclination: 30 deg, aim_periapsis: {aim} km}}}}\n\
         uncertainty: {{air: exact{heating}}}\nlimits: {limits}\nask: {{samples: 2000, seed: 5}}\n"
    )
}

/// Too slow for radiation, with every margin.
const MARS: (&str, f64, f64) = ("mars", 2.4, 45.0);
const EARTH: (&str, f64, f64) = ("earth", 6.0, 62.0);

fn fly(case: &Case, samples: u64) -> Vec<PassResult> {
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let mut all = Vec::new();
    let aim_m = case.problem.aim().from_m;
    fleet
        .fly(&[aim_m], 0..samples, |flown| all.push(flown.result))
        .expect("not stopped");
    all
}

fn factors(case: &Case, sample: u64) -> [f64; 2] {
    let numbers = case.problem.numbers(sample);
    Number::HEATING.map(|number| numbers[number as usize])
}

fn mean_and_std_dev(values: &[f64]) -> (f64, f64) {
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
    (mean, (square / (n - 1.0)).sqrt())
}

/// Where heat is limited in any of its forms the errors are flown, where it is not they are not; radiation's
/// only where radiation is.
#[test]
fn heating_errors_are_flown_where_heat_is_limited() {
    let drawn = |text: &str| case_of(text).problem.coordinates();
    let [convective, radiative] = Number::HEATING;
    for limits in ["{heat_flux: 90 W/cm2}", "{heat_load: 20 kJ/cm2}"] {
        assert_eq!(drawn(&arrival(MARS, "", limits)), [convective], "{limits}");
        let both = drawn(&arrival(EARTH, "", limits));
        assert_eq!(both, [convective, radiative], "{limits}");
    }
    assert!(drawn(&arrival(EARTH, "", "{peak_deceleration: 4 g}")).is_empty());
    for limit in [
        "highest_flux: 30 W/cm2",
        "highest_temperature: 1400 K",
        "wall: {slab: {layers: [{thickness: 2 cm, conductivity: 0.1 W/(m K), density: 200 kg/m3, \
         specific_heat: 1 kJ/(kg K)}], highest_back_temperature: 400 K}}",
    ] {
        let spot = format!("spots: [{{name: flank, share: 30 %, {limit}}}], heating");
        let text = arrival(EARTH, "", "{}").replace("heating", &spot);
        assert_eq!(drawn(&text), [convective, radiative], "{limit}");
    }
    let spot = "spots: [{name: flank, share: 30 %}], heating";
    let unlimited = arrival(EARTH, "", "{}").replace("heating", spot);
    assert!(drawn(&unlimited).is_empty(), "a spot without a limit");
    // A gas without a correlation has no error of radiation, even where it is asked for.
    let titan = arrival(("titan", 4.0, 250.0), "default", "{}");
    assert_eq!(drawn(&titan), [convective]);
    let sources = case_of(&arrival(EARTH, "", "{heat_flux: 900 W/cm2}"));
    let keys: Vec<String> = sources
        .problem
        .sources()
        .iter()
        .map(periband::ensemble::sources::Source::key)
        .collect();
    assert_eq!(keys, ["heating.convective", "heating.radiative"]);
}

/// Exact, default, several times the default, and distributions as of any number, whole or one by one.
#[test]
fn heating_errors_are_switched_and_replaced_in_the_scenario() {
    let flux = "{heat_flux: 90 W/cm2}";
    let read = |heating: &str, limits: &str| {
        let text = arrival(EARTH, heating, limits);
        let scenario = Scenario::from_text("x.yaml", &text).map_err(|error| error.to_string());
        let numbers = scenario.map(|scenario| scenario.uncertainty.numbers);
        numbers.map(|all| {
            all.iter()
                .map(|u| (u.number, u.distribution))
                .collect::<Vec<_>>()
        })
    };
    let [c, r] = Number::HEATING;
    let log = |log_std_dev| Distribution::LogNormal {
        median: 1.0,
        log_std_dev,
    };
    let [dc, dr] = HEATING_ERRORS.map(|error| error.log_std_dev);
    let default = Ok(vec![(c, log(dc)), (r, log(dr))]);
    assert_eq!(read("", flux), default);
    assert_eq!(read("default", "{}"), default);
    assert_eq!(read("exact", flux), Ok(vec![]));
    let half = Ok(vec![(c, log(0.5 * dc)), (r, log(0.5 * dr))]);
    assert_eq!(read("{default_times: 0.5}", flux), half);
    assert_eq!(read("{radiative: exact}", flux), Ok(vec![(c, log(dc))]));
    let own = read(
        "{convective: {normal: {std_dev: 10 %}}, radiative: {lognormal: {median: 0.7, log_std_dev: 0.3}}}",
        "{}",
    );
    let normal = Distribution::Normal {
        mean: 1.0,
        std_dev: 0.1,
    };
    let lower = Distribution::LogNormal {
        median: 0.7,
        log_std_dev: 0.3,
    };
    assert_eq!(own, Ok(vec![(c, normal), (r, lower)]));
    let dotted = arrival(EARTH, "", flux).replace(
        "air: exact",
        "air: exact, heating.convective: exact, heating.radiative: {uniform: {low: 50 %, high: 150 %}}",
    );
    let scenario = Scenario::from_text("x.yaml", &dotted).expect("dotted keys");
    assert_eq!(scenario.uncertainty.numbers.len(), 1);
    for (heating, part) in [
        ("none", "is not understood"),
        ("{convective: some}", "is not understood"),
        (
            "{convective: {normal: {std_dev: 40 %}}}",
            "draws of `convective` reach",
        ),
        ("{conductive: exact}", "did you mean `heating.convective`?"),
        ("{default_times: 0}", "above 0"),
    ] {
        let said = read(heating, flux).expect_err(heating);
        assert!(said.contains(part), "{heating}: {said}");
    }
}

/// The errors move heat by just their factors, and no bit of anything else: same draws, same flights, same
/// verdicts of every other limit.
#[test]
fn heating_errors_move_no_bit_but_those_of_heat() {
    let limits = "{heat_flux: 900 W/cm2, peak_deceleration: 3 g, captured_below: {apoapsis_altitude: 90000 km}}";
    for place in [MARS, EARTH] {
        let air = |heating: &str| {
            let text = arrival(place, heating, limits);
            let more = "delivery: {periapsis_altitude: {normal: {std_dev: 1 km}}}, ship.mass: {normal: {std_dev: 1 %}}";
            case_of(&text.replace("air: exact", more))
        };
        let (exact, default) = (air("exact"), air(""));
        let count = 256;
        let (before, after) = (fly(&exact, count), fly(&default, count));
        let mut moved = 0;
        for (sample, (a, b)) in (0..count).zip(before.iter().zip(&after)) {
            let heat = [a.peak_heat_flux_w_m2, a.heat_load_j_m2];
            let [peak, load] = heat;
            moved += u32::from(b.peak_heat_flux_w_m2 != peak && b.heat_load_j_m2 != load);
            let same = PassResult {
                peak_heat_flux_w_m2: peak,
                heat_load_j_m2: load,
                peak_heat_flux_by_nose_w_m2: a.peak_heat_flux_by_nose_w_m2,
                end_state: {
                    let mut state = b.end_state;
                    state[6] = a.end_state[6];
                    state
                },
                ..*b
            };
            assert_eq!(format!("{a:?}"), format!("{same:?}"), "sample {sample}");
            let (n, m) = (
                exact.problem.numbers(sample),
                default.problem.numbers(sample),
            );
            let others = Number::ALL.iter().filter(|n| !Number::HEATING.contains(n));
            for number in others.map(|number| *number as usize) {
                assert_eq!(n[number].to_bits(), m[number].to_bits());
            }
            let set = exact.problem.limits().entries();
            for (bit, limit) in set.iter().enumerate() {
                if limit.kind != LimitKind::HeatFlux {
                    let a = exact.problem.limits().broken(a, &n) >> bit & 1;
                    let b = default.problem.limits().broken(b, &m) >> bit & 1;
                    assert_eq!(a, b, "{:?} in sample {sample}", limit.kind);
                }
            }
        }
        assert_eq!(u64::from(moved), count);
    }
}

/// Load is linear in the fluxes: that of a sample is the load of convection times one factor and that of
/// radiation times the other. The flight is the same, so only rounding is between them.
#[test]
fn heating_errors_are_factors_on_convection_and_on_radiation() {
    let limits = "{heat_flux: 900 W/cm2}";
    for (place, radiates) in [(MARS, false), (EARTH, true)] {
        let nominal = fly(&case_of(&arrival(place, "exact", limits)), 1)[0];
        let text = arrival(place, "exact", limits);
        let text = text.replace("free_molecular: no", "free_molecular: no, radiative: no");
        let convective = fly(&case_of(&text), 1)[0];
        let radiated = nominal.heat_load_j_m2 - convective.heat_load_j_m2;
        assert_eq!(radiated > 0.05 * nominal.heat_load_j_m2, radiates);
        let case = case_of(&arrival(place, "", limits));
        for (sample, pass) in (0..200).zip(fly(&case, 200)) {
            let [c, r] = factors(&case, sample);
            let load = c * convective.heat_load_j_m2 + r * radiated;
            let off = pass.heat_load_j_m2 / load - 1.0;
            assert!(off.abs() < 1e-12, "{place:?} sample {sample}: {off:e}");
            if !radiates {
                let off = pass.peak_heat_flux_w_m2 / (c * nominal.peak_heat_flux_w_m2) - 1.0;
                assert!(off.abs() < 1e-9, "peak of sample {sample}: {off:e}");
            }
        }
    }
}

/// The logarithms of the factors have mean 0 and the stated one-sigma, and do not move together. Over 4000
/// samples, to four standard errors.
#[test]
fn heating_errors_are_as_large_as_stated() {
    let case = case_of(&arrival(EARTH, "", "{heat_flux: 900 W/cm2}"));
    let logs: Vec<[f64; 2]> = (0..4000).map(|i| factors(&case, i).map(f64::ln)).collect();
    let root = 4000_f64.sqrt();
    let mut spreads = [0.0; 2];
    for (k, error) in HEATING_ERRORS.iter().enumerate() {
        let column: Vec<f64> = logs.iter().map(|row| row[k]).collect();
        let (mean, std_dev) = mean_and_std_dev(&column);
        let sigma = error.log_std_dev;
        assert!(mean.abs() < 4.0 * sigma / root, "{:?} {mean}", error.number);
        let off = (std_dev / sigma - 1.0).abs();
        assert!(
            off < 4.0 / (2.0_f64.sqrt() * root),
            "{:?} {std_dev}",
            error.number
        );
        spreads[k] = std_dev;
    }
    let product = logs.iter().map(|row| row[0] * row[1]).sum::<f64>() / 4000.0;
    assert!((product / (spreads[0] * spreads[1])).abs() < 4.0 / root);
}

/// With nothing else uncertain a limit on the flux is broken with the probability that the limit exceeds the
/// nominal flux by, in one-sigmas: closed form. With `exact` never.
#[test]
fn a_heat_limit_is_broken_as_often_as_its_error_says() {
    let peak = fly(&case_of(&arrival(MARS, "exact", "{}")), 1)[0].peak_heat_flux_w_m2;
    let sigma = HEATING_ERRORS[0].log_std_dev;
    let samples = 20_000_u64;
    // Normal tails at 1 and 2 one-sigmas (tables).
    for (sigmas, expected) in [(1.0_f64, 0.158_655_3), (2.0, 0.022_750_1)] {
        let limit = peak * (sigma * sigmas).exp() / 1e4;
        let limits = format!("{{heat_flux: {limit:.9} W/cm2}}");
        let broken = |heating: &str| {
            let case = case_of(&arrival(MARS, heating, &limits));
            let progress = Progress::default();
            let mut count = 0_u32;
            Fleet::new(&case.problem, &progress)
                .fly(&[case.problem.aim().from_m], 0..samples, |flown| {
                    count += u32::from(flown.broken != 0);
                })
                .expect("not stopped");
            f64::from(count)
        };
        #[allow(clippy::cast_precision_loss)]
        let n = samples as f64;
        let error = (expected * (1.0 - expected) / n).sqrt();
        let found = broken("") / n;
        assert!((found - expected).abs() < 4.0 * error, "{sigmas}: {found}");
        assert_eq!(broken("exact"), 0.0);
    }
}

/// The operator of a campaign that is flown by its heat flux does not know the error of the models: how long a
/// campaign takes does not go with its factor (a trim more or less aside, since what is reckoned is not the same
/// to the last bit), and the heat that the ship meets does. In thin air the flux is partly that of free molecules,
/// which the factor is not on, so that it rises by less than the factor.
#[test]
fn the_operator_of_a_campaign_does_not_know_the_error_of_heating() {
    let fly = |heating: &str| {
        let case = changed_example("mars-campaign.yaml", &[("uncertainty.heating", heating)]);
        let found = fly_case(&case, (32, 32), &Progress::default()).expect("flown");
        let logs = (0..32).map(|i| factors(&case, i)[0].ln());
        (found.campaigns, logs.collect::<Vec<f64>>())
    };
    let (exact, _) = fly("exact");
    let (default, logs) = fly("default");
    let slope = |of: &dyn Fn(&CampaignResult) -> f64| {
        let changes = exact
            .iter()
            .zip(&default)
            .map(|(a, b)| of(b).ln() - of(a).ln());
        let product: f64 = changes.zip(&logs).map(|(change, log)| change * log).sum();
        product / logs.iter().map(|log| log * log).sum::<f64>()
    };
    let passes = slope(&|campaign| f64::from(campaign.passes));
    let heat = slope(&|campaign| campaign.worst_heat_flux_w_m2);
    assert!(
        passes.abs() < 0.05,
        "passes go with the factor to the power {passes}"
    );
    assert!(
        heat > 0.2 && heat < 1.05,
        "heat goes with it to the power {heat}"
    );
}

/// Draw indices never move, and an error of heating is no limit.
#[test]
fn heating_errors_stand_behind_every_other_number() {
    assert_eq!(Number::NavigationAccelerometer as usize, 28);
    assert_eq!(Number::HEATING.map(|number| number as usize), [29, 30]);
    assert!(Number::HEATING.iter().all(|number| !number.is_limit()));
}

/// `check` says that they are there by default, `pass` that it flies without them and with which a sample flew,
/// the page and the summaries which were flown and where their sizes come from.
#[test]
fn heating_errors_are_told_with_their_source() {
    let folder = Folder::new("heating-errors");
    let limits = "{heat_flux: 90 W/cm2, captured_below: {apoapsis_altitude: 90000 km}}";
    let text_of =
        arrival(MARS, "", limits).replace("45 km}", "{from: 44 km, to: 60 km, step: 2 km}}");
    fs::write(folder.0.join("mine.yaml"), text_of).expect("a scenario");
    let run = |arguments: &[&str]| {
        let run = periband(&folder.0, arguments);
        assert!(run.status.success(), "{}", text(&run.stderr));
        text(&run.stdout)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let checked = run(&["check", "mine.yaml"]);
    let default =
        "factor on convective heating: lognormal, median 1, std dev of the log 0.15 (default)";
    assert!(checked.contains(default), "{checked}");
    let nominal = run(&["pass", "mine.yaml", "--periapsis", "50km"]);
    assert!(
        nominal.contains("Flown without the errors of the heating models"),
        "{nominal}"
    );
    let sample = run(&["pass", "mine.yaml", "--periapsis", "50km", "--sample", "3"]);
    assert!(
        sample.contains("that the sample drew: factors of"),
        "{sample}"
    );
    run(&["band", "mine.yaml"]);
    let read = |path: &str| fs::read_to_string(folder.0.join(path)).expect(path);
    for study in ["band", "pass"] {
        let summary: serde_json::Value =
            serde_json::from_str(&read(&format!("out/mine/{study}/summary.json"))).expect("JSON");
        let error = &summary["heating_errors"][0];
        assert_eq!(error["number"], "heating.convective", "{study}");
        assert_eq!(error["default"], true);
        assert_eq!(error["known"], "chosen");
        assert!(
            error["source"]
                .as_str()
                .is_some_and(|s| s.contains("15 to 20 %"))
        );
        let page = read(&format!("out/mine/{study}/report.html"));
        assert!(page.contains("Errors of the heating models"), "{study}");
        assert!(
            page.contains("std dev of the log 0.15 (default)"),
            "{study}"
        );
    }
}

/// Every bundled example that limits heat flies them.
#[test]
fn every_example_that_limits_heat_flies_its_errors() {
    let mut found = 0;
    for entry in fs::read_dir(examples()).expect("examples") {
        let path = entry.expect("an example").path();
        if path.extension().is_none_or(|end| end != "yaml") {
            continue;
        }
        let case = Case::load(&path, &[]).expect("valid");
        let limited = case.problem.limits().entries().iter().any(|limit| {
            matches!(
                limit.kind,
                LimitKind::HeatFlux | LimitKind::HeatLoad | LimitKind::Spot(_)
            )
        });
        let flown = case
            .problem
            .coordinates()
            .contains(&Number::HeatingConvective);
        assert_eq!(limited, flown, "{}", path.display());
        found += u32::from(flown);
    }
    assert!(found >= 8, "{found}");
}
