//! Whole campaigns of aerobraking: what they must keep, how they may end, and what is said of it.

use crate::case_of;
use crate::determinism::with_threads;
use crate::verification::campaigns::SCENARIO;
use periband::Progress;
use periband::ensemble::campaign::{CampaignEnding, CampaignResult, Phase, StartOrbit, Starts};
use periband::study::Case;
use periband::study::campaign::{CampaignError, CampaignOutcome, fly_campaigns, fly_case};

/// The scenario of the verification with lines put in the place of others.
fn case_with(changes: &[(&str, &str)]) -> Case {
    let mut text = SCENARIO.to_owned();
    for (old, new) in changes {
        assert!(text.contains(old), "no `{old}` in the scenario");
        text = text.replace(old, new);
    }
    case_of(&text)
}

fn fly(case: &Case, campaigns: u64) -> CampaignOutcome {
    fly_case(case, (campaigns, campaigns), &Progress::default()).expect("campaigns")
}

const EXACT: (&str, &str) = (
    "ask: {seed: 1}",
    "ask: {seed: 1}\nuncertainty: {air: exact}",
);
const LOW: (&str, &str) = ("apoapsis_altitude: 26870 km", "apoapsis_altitude: 2500 km");
const NO_ERRORS: (&str, &str) = ("size_error: 2 %, pointing_error: 1 deg", "size_error: 0");

#[test]
fn the_same_campaigns_come_of_any_number_of_threads_and_of_campaigns() {
    let case = case_with(&[LOW]);
    let one = with_threads(1, || fly(&case, 70));
    let three = with_threads(3, || fly(&case, 70));
    // Debug text shows every digit of every number.
    assert_eq!(format!("{one:?}"), format!("{three:?}"));
    // Alone or among others, a campaign has the same luck in every pass.
    let few = fly(&case, 3);
    for (few, many) in few.campaigns.iter().zip(&one.campaigns) {
        assert_eq!(format!("{few:?}"), format!("{many:?}"));
    }
    assert_ne!(
        one.campaigns[0].days.to_bits(),
        one.campaigns[1].days.to_bits()
    );
}

/// In air that is as forecast and with burns without errors every pass after the walk-in meets its band, up to
/// the 1 % by which the forecast leaves out the drag before the peak.
#[test]
fn in_air_as_forecast_every_pass_meets_its_band() {
    let case = case_with(&[EXACT, NO_ERRORS]);
    let outcome = fly(&case, 5);
    assert!(outcome.certain && outcome.campaigns.len() == 1);
    let flown = &outcome.campaigns[0];
    assert_eq!(flown.ending, CampaignEnding::Reached);
    let mut seen = 0;
    for row in &outcome.rows[0].1 {
        if matches!(row.phase, Phase::Main | Phase::WalkOut) {
            seen += 1;
            let (low, high) = row.band;
            assert!(row.met > 0.985 * low && row.met < 1.015 * high, "{row:?}");
        }
    }
    assert!(seen > 100);
    assert!(flown.forecast_error < 0.01, "{}", flown.forecast_error);
}

/// A campaign has a target of its own: the limits on where one pass leaves the ship are not asked of it, neither that
/// on too high an apoapsis nor that on too low a one, which every campaign goes through.
#[test]
fn limits_on_the_orbit_after_one_pass_are_not_asked_of_a_campaign() {
    let limits = "limits: {captured_below: {apoapsis_altitude: 2400 km}, captured_above: {apoapsis_altitude: 2000 km}}";
    let exact = format!("ask: {{seed: 1}}\nuncertainty: {{air: exact}}\n{limits}");
    let case = case_with(&[("ask: {seed: 1}", &exact), NO_ERRORS, LOW]);
    let outcome = fly(&case, 1);
    assert_eq!(outcome.limits.len(), 3);
    assert_eq!((outcome.held(), outcome.broken()), (1, vec![0; 3]));
}

/// The books close: the apoapsis goes down by what the air takes, the mass by what the burns take, and the
/// time is that of the rounds.
#[test]
fn what_the_air_and_the_burns_take_adds_up() {
    let case = case_with(&[]);
    let outcome = fly(&case, 6);
    for (flown, (_, rows)) in outcome.campaigns.iter().zip(&outcome.rows) {
        assert_eq!(flown.ending, CampaignEnding::Reached);
        let air: f64 = rows.iter().map(|row| row.air_speed_m_s).sum();
        assert!((air - flown.air_speed_m_s).abs() < 1e-6);
        // One impulse at periapsis and hundreds of small ones spread about it: 2 %.
        assert!((air / flown.engine_speed_m_s - 1.0).abs() < 0.02, "{air}");
        let trims: f64 = rows.iter().map(|row| row.trim_m_s.abs()).sum();
        assert!((trims / flown.trim_speed_m_s - 1.0).abs() < 0.05);
        let exhaust = 9.806_65 * 317.0;
        let burns = flown.trim_speed_m_s + flown.raise_speed_m_s;
        let mass = 461.0 * (-burns / exhaust).exp();
        assert!((flown.end_mass_kg / mass - 1.0).abs() < 1e-9);
        assert!((461.0 - flown.end_mass_kg - flown.propellant_kg).abs() < 1e-9);
        assert_eq!(rows.len(), usize::try_from(flown.passes).expect("few"));
        let rounds: f64 = rows.iter().map(|row| row.period_s).sum();
        assert!((rounds / 86_400.0 / flown.days - 1.0).abs() < 0.02);
        assert!(rows.windows(2).all(|pair| pair[1].time_s > pair[0].time_s));
    }
}

/// Left alone in air as forecast, about the equator where nothing moves the periapsis up or down but drag, the orbit
/// lasts as long as the rule reckons, within 5 %. The rule's reckoning is read off the band: it lowers its upper end
/// to the share that the lifetime is of the one asked for.
#[test]
fn the_lifetime_that_the_rule_reckons_with_is_the_one_flown() {
    let alone = |hours: &str| {
        let lifetime = format!("{{time: {hours}, until_apoapsis: 499 km}}");
        case_with(&[
            EXACT,
            NO_ERRORS,
            LOW,
            ("inclination: 93.5 deg", "inclination: 0 deg"),
            ("first_periapsis: 130 km", "first_periapsis: 104 km"),
            ("{passes: 8, first_share: 5 %}", "{passes: 0}"),
            (
                "low: 0.12 W/cm2, high: 0.25 W/cm2",
                "low: 0.0001 W/cm2, high: 2 W/cm2",
            ),
            ("{time: 24 h, until_apoapsis: 300 km}", &lifetime),
        ])
    };
    let flown = fly(&alone("1 s"), 1).campaigns[0];
    assert_eq!((flown.ending, flown.trims), (CampaignEnding::Reached, 0));
    let first = fly(&alone(&format!("{} d", flown.days)), 1).rows[0].1[0];
    assert_eq!(first.phase, Phase::WalkOut);
    let reckoned = flown.days * first.band.1 / first.expected;
    assert!(
        (reckoned / flown.days - 1.0).abs() < 0.05,
        "{reckoned} {}",
        flown.days
    );
}

#[test]
fn a_higher_band_is_quicker_and_harder_and_more_memory_keeps_it_better() {
    let band = |low: &str, high: &str| {
        let new = format!("low: {low} W/cm2, high: {high} W/cm2");
        fly(
            &case_with(&[("low: 0.12 W/cm2, high: 0.25 W/cm2", &new)]),
            12,
        )
    };
    let (gentle, hard) = (band("0.08", "0.16"), band("0.2", "0.4"));
    let median = |outcome: &CampaignOutcome, of: fn(&CampaignResult) -> f64| outcome.median(of);
    assert!(median(&gentle, |c| c.days) > 1.3 * median(&hard, |c| c.days));
    assert!(
        median(&gentle, |c| c.worst_heat_flux_w_m2)
            < 0.7 * median(&hard, |c| c.worst_heat_flux_w_m2)
    );
    let memory = |share: &str| {
        let new = format!("per_pass: {share}");
        let outcome = fly(&case_with(&[("per_pass: 0.5", &new)]), 12);
        (
            outcome.median(|c| c.forecast_error),
            outcome.band_shares().expect("passes")[0],
        )
    };
    let (forgetful, mindful) = (memory("0"), memory("0.95"));
    assert!(forgetful.0 > 1.3 * mindful.0, "{forgetful:?} {mindful:?}");
    assert!(mindful.1 > forgetful.1 + 0.05);
}

#[test]
fn every_ending_is_told() {
    let ending = |changes: &[(&str, &str)]| {
        let outcome = fly(&case_with(changes), 4);
        let endings = outcome.endings();
        assert_eq!(endings.iter().sum::<u64>(), 4, "{endings:?}");
        (outcome.campaigns[0].ending, outcome.held())
    };
    let caps = |caps: &str| format!("campaign:\n  at_most: {caps}");
    let few = caps("{passes: 20}");
    assert_eq!(
        ending(&[("campaign:", &few)]),
        (CampaignEnding::OutOfPasses, 0)
    );
    let short = caps("{time: 5 d}");
    assert_eq!(
        ending(&[("campaign:", &short)]),
        (CampaignEnding::OutOfTime, 0)
    );
    // A band so high that the ship does not come out of its first full pass.
    let deep = [
        (
            "low: 0.12 W/cm2, high: 0.25 W/cm2",
            "low: 40 W/cm2, high: 80 W/cm2",
        ),
        ("{passes: 8, first_share: 5 %}", "{passes: 0}"),
        ("largest: 5 m/s", "largest: 100 m/s"),
        (
            "  minimum_lifetime: {time: 24 h, until_apoapsis: 300 km}\n",
            "",
        ),
        LOW,
    ];
    assert_eq!(ending(&deep), (CampaignEnding::Decayed, 0));
    // An arrival too high to be captured, and one that is.
    let orbit = "  orbit:\n    apoapsis_altitude: 26870 km\n    inclination: 93.5 deg\n    argument_of_periapsis: 110 deg\n";
    let hyperbola = "  hyperbola:\n    excess_speed: 2.6 km/s\n    inclination: 93.5 deg\n    argument_of_periapsis: 110 deg\n";
    let high = [
        (orbit, hyperbola),
        ("first_periapsis: 130 km", "first_periapsis: 100 km"),
    ];
    assert_eq!(ending(&high), (CampaignEnding::Escaped, 0));
    let captured = [
        (orbit, hyperbola),
        ("first_periapsis: 130 km", "first_periapsis: 66 km"),
        (
            "ask: {seed: 1}",
            "ask: {seed: 1}\nuncertainty: {air: {density: {world_times: 0.2}}}",
        ),
    ];
    let outcome = fly(&case_with(&captured), 4);
    assert_eq!(outcome.endings()[CampaignEnding::Reached as usize], 4);
    assert_eq!(outcome.rows[0].1[0].phase, Phase::Arrival);
    assert_eq!(outcome.rows[0].1[0].pass, 0);
}

#[test]
fn what_cannot_be_flown_says_why_and_where() {
    let message = |changes: &[(&str, &str)]| {
        let case = case_with(changes);
        match fly_case(&case, (2, 2), &Progress::default()) {
            Ok(outcome) => panic!("flown {changes:?}: {:?}", outcome.endings()),
            Err(error) => error.placed(&case.scenario).to_string(),
        }
    };
    let band = "low: 0.12 W/cm2, high: 0.25 W/cm2";
    for (changes, words, key) in [
        (
            vec![
                (band, "low: 1 W/cm2, high: 10000 kW/m2"),
                ("heating: free_molecular", "heating: flown"),
            ],
            "no air of this world is thick enough",
            "key:  campaign.control.heat_flux",
        ),
        (
            vec![
                ("  first_periapsis: 130 km\n", ""),
                (
                    "aim_periapsis: 110 km",
                    "aim_periapsis: {from: 90 km, to: 110 km, step: 1 km}",
                ),
            ],
            "the first periapsis is not known",
            "key:  campaign",
        ),
        (
            vec![("apoapsis_altitude: 26870 km", "apoapsis_altitude: 480 km")],
            "nothing to do",
            "key:  campaign.target.apoapsis_altitude",
        ),
        (
            vec![("first_periapsis: 130 km", "first_periapsis: 30000 km")],
            "no orbit has its periapsis at 30000.000 km",
            "key:  campaign.first_periapsis",
        ),
    ] {
        let text = message(&changes);
        assert!(text.contains(words) && text.contains(key), "{text}");
        assert!(
            text.contains("help:") && text.contains("test.yaml"),
            "{text}"
        );
    }
}

/// No scenario may ask for so little, but a caller of the library may.
#[test]
fn a_band_above_the_air_is_refused() {
    let case = case_with(&[]);
    let mut rule = case.scenario.campaign.clone().expect("a campaign");
    rule.control.low = 1e-9;
    let orbit = StartOrbit {
        apoapsis_altitude_m: 3e6,
        periapsis_altitude_m: 140e3,
        inclination_rad: 1.0,
        argument_of_periapsis_rad: 0.5,
        mass_kg: 455.0,
    };
    let refused = fly_campaigns(
        &case.problem,
        (&rule, &case.scenario.ship),
        &Starts::Same(orbit),
        (2, &Progress::default()),
    );
    let Err(error) = refused else {
        panic!("flown");
    };
    let text = error.placed(&case.scenario).to_string();
    assert!(
        text.contains("all air of this world is too thick"),
        "{text}"
    );
}

/// A run that is stopped keeps the campaigns that were over, and they are those of a whole run.
#[test]
fn a_stopped_run_keeps_what_was_over() {
    let case = case_with(&[LOW]);
    let whole = fly(&case, 90);
    let progress = Progress::default();
    let stopped = std::thread::scope(|scope| {
        scope.spawn(|| {
            // Some dozens of campaigns of some tens of passes.
            while progress.flown() < 1500 {
                std::thread::yield_now();
            }
            progress.cancel();
        });
        with_threads(1, || fly_case(&case, (100_000, 0), &progress))
    });
    let Err(CampaignError::Stopped { kept }) = stopped else {
        panic!("the run was not stopped");
    };
    assert!(!kept.campaigns.is_empty() && kept.campaigns.len() < 100_000);
    for campaign in &kept.campaigns {
        let same = whole
            .campaigns
            .iter()
            .find(|c| c.campaign == campaign.campaign);
        if let Some(same) = same {
            assert_eq!(format!("{same:?}"), format!("{campaign:?}"));
        }
    }
}

#[test]
fn a_campaign_can_begin_on_any_orbit_that_is_handed_over() {
    let case = case_with(&[]);
    let rule = case.scenario.campaign.as_ref().expect("a campaign");
    let orbit = |number: u64| StartOrbit {
        apoapsis_altitude_m: 3000e3 + 100e3 * f64::from(u32::try_from(number).unwrap_or(0)),
        periapsis_altitude_m: 140e3,
        inclination_rad: 1.0,
        argument_of_periapsis_rad: 0.5,
        mass_kg: 455.0,
    };
    let outcome = fly_campaigns(
        &case.problem,
        (rule, &case.scenario.ship),
        &Starts::Each(&orbit),
        (3, &Progress::default()),
    )
    .expect("campaigns");
    for (number, (_, rows)) in outcome.rows.iter().enumerate() {
        let first = &rows[0];
        let expected = 3000e3 + 100e3 * f64::from(u32::try_from(number).unwrap_or(0));
        assert!((first.apoapsis_altitude_m - expected).abs() < 1.0);
        assert!(first.mass_kg <= 455.0);
    }
    assert_eq!(outcome.held(), 3);
}
