//! Figures from odd data and from realistic data: no panic, nothing clipped, no text over another.
//! The layout is tested, not pixels.

use periband::report::figure::Figure;
use periband::report::plot::break_curves::{BreakCurve, BreakCurves};
use periband::report::plot::distribution::{Distribution, LimitMark};
use periband::report::plot::history::History;
use periband::report::plot::influence_bars::{Bar, InfluenceBars, OutputBars};
use periband::report::plot::lines::{Area, Lines, Series};
use periband::report::plot::map::Map;
use periband::report::plot::profile::Profile;
use periband::report::plot::ribbons::{Ribbon, Ribbons};
use periband::report::plot::walls::{WallCurves, Walls};
use proptest::prelude::*;

/// Draws a figure both ways, and holds that its texts are inside the picture and apart.
fn sound(figure: &dyn Figure) -> Vec<String> {
    let scene = figure.scene();
    assert_eq!(scene.clipped_text(), None);
    assert_eq!(scene.overlapping_texts(), None);
    let svg = figure.svg().expect("an SVG");
    assert!(
        !svg.contains("NaN") && !svg.contains("inf"),
        "no place without a number"
    );
    assert!(figure.describe().ends_with('.'));
    scene.texts().into_iter().map(str::to_owned).collect()
}

/// A normal distribution's share below a value, near enough for a figure (logistic approximation).
fn share_below(z: f64) -> f64 {
    1.0 / (1.0 + (-1.702 * z).exp())
}

fn curve(key: &str, aims: &[f64], centre: f64, width: f64) -> BreakCurve {
    let probability: Vec<f64> = aims
        .iter()
        .map(|aim| (1e4 * share_below((centre - aim) / width)).round() / 1e4)
        .collect();
    BreakCurve {
        key: key.into(),
        name: key.replace('_', " "),
        interval: probability
            .iter()
            .map(|p| ((p - 0.01).max(0.0), (p + 0.01).min(1.0)))
            .collect(),
        probability,
    }
}

fn break_curves() -> BreakCurves {
    let aim_m: Vec<f64> = (0..60).map(|i| 97e3 + 250.0 * f64::from(i)).collect();
    let limits = vec![
        curve("peak_deceleration", &aim_m, 101e3, 400.0),
        curve("onset", &aim_m, 100e3, 350.0),
        curve("heat_flux", &aim_m, 99e3, 300.0),
        curve("captured_below", &aim_m, 107e3, -400.0),
        curve("lowest_altitude", &aim_m, 40e3, 300.0),
    ];
    BreakCurves {
        title: "Where to aim".into(),
        any: limits[0].clone(),
        limits,
        aim_m,
        held: None,
        required: 0.998_65,
        safe_band_m: Some((103.4e3, 104.8e3)),
        recommended_m: Some(104.1e3),
        passes: Some(10_000),
        uncovered: false,
    }
}

#[test]
fn break_curves_name_every_limit_the_band_and_the_level() {
    let texts = sound(&break_curves());
    for wanted in [
        "peak deceleration",
        "onset",
        "heat flux",
        "captured below",
        "any limit",
    ] {
        assert!(
            texts.iter().any(|text| text == wanted),
            "{wanted} in {texts:?}"
        );
    }
    assert!(
        texts
            .iter()
            .any(|text| text == "safe band 103.40 to 104.80 km")
    );
    assert!(texts.iter().any(|text| text == "aim for 104.10 km"));
    assert!(texts.iter().any(|text| text == "allowed: 0.135 %"));
    assert!(
        texts
            .iter()
            .any(|text| text.contains("never broken: lowest altitude"))
    );
    assert!(texts.iter().any(|text| text == "0 %"), "a row for zero");
}

#[test]
fn an_empty_band_is_said_so() {
    let figure = BreakCurves {
        safe_band_m: None,
        recommended_m: None,
        ..break_curves()
    };
    assert!(
        sound(&figure)
            .iter()
            .any(|text| text.contains("no safe band"))
    );
    assert!(figure.describe().contains("at no aim do all limits hold"));
}

#[test]
fn figures_without_data_say_so() {
    let (bars, map) = (InfluenceBars::default(), Map::default());
    let empty: [&dyn Figure; 8] = [
        &bars,
        &map,
        &BreakCurves::default(),
        &Distribution::default(),
        &History::default(),
        &Lines::default(),
        &Profile::default(),
        &Ribbons::default(),
    ];
    for figure in empty {
        sound(figure);
        assert!(figure.png().expect("a PNG").starts_with(b"\x89PNG"));
    }
    assert!(sound(&Lines::default()).contains(&"no data to show".to_owned()));
}

#[test]
fn the_same_figure_gives_the_same_bytes() {
    let figure = break_curves();
    assert_eq!(figure.svg().unwrap(), figure.svg().unwrap());
    assert_eq!(figure.png().unwrap(), figure.png().unwrap());
}

#[test]
fn a_limit_far_from_the_values_does_not_flatten_them() {
    let values: Vec<f64> = (0..1000).map(|i| 2.0 + 0.001 * f64::from(i)).collect();
    let figure = |value| Distribution {
        quantity: "peak deceleration".into(),
        unit: "g".into(),
        limit: Some(LimitMark {
            key: "peak_deceleration".into(),
            value,
            from_below: false,
        }),
        quantiles: vec![("p50".into(), 2.5), ("p99.865".into(), 2.998)],
        ..Distribution::of_values(&values, 40)
    };
    let near = sound(&figure(3.5));
    assert!(near.contains(&"limit 3.5 g".to_owned()), "{near:?}");
    let far = sound(&figure(60.0));
    assert!(
        far.iter()
            .any(|text| text.contains("60 g, is beyond the axis")),
        "{far:?}"
    );
}

#[test]
fn the_extremes_of_a_pass_are_marked_with_their_values() {
    let time_s: Vec<f64> = (0..400).map(f64::from).collect();
    let hump = |top: f64| {
        time_s
            .iter()
            .map(|t| top * (-((t - 200.0) / 60.0).powi(2)).exp())
            .collect()
    };
    let figure = History {
        altitude_m: time_s.iter().map(|t| 50e3 + (t - 200.0).powi(2)).collect(),
        relative_speed_m_s: time_s.iter().map(|t| 6_000.0 - 5.0 * t).collect(),
        deceleration_m_s2: hump(2.5 * 9.806_65),
        heat_flux_w_m2: hump(60e4),
        deceleration_limit_m_s2: Some(3.5 * 9.806_65),
        time_s: time_s.clone(),
        ..History::default()
    };
    let texts = sound(&figure);
    for wanted in [
        "50.000 km at 200 s",
        "4.005 km/s at the end",
        "2.50 g at 200 s",
        "60.0 W/cm² at 200 s",
        "limit 3.50 g",
    ] {
        assert!(texts.contains(&wanted.to_owned()), "{wanted} in {texts:?}");
    }
}

#[test]
fn a_ribbon_without_a_number_is_broken_not_drawn_through() {
    let x: Vec<f64> = (0..50).map(f64::from).collect();
    let mut median: Vec<f64> = x.iter().map(|x| x.sin()).collect();
    median[20] = f64::NAN;
    let low = median.iter().map(|m| m - 1.0).collect();
    let high = median.iter().map(|m| m + 1.0).collect();
    let name = "0.135 % to 99.865 %".to_owned();
    let figure = Ribbons {
        ribbons: vec![Ribbon {
            name: name.clone(),
            low,
            high,
        }],
        limits: vec![("heat_flux".into(), "limit".into(), 1.5)],
        x,
        median,
        ..Ribbons::default()
    };
    assert!(sound(&figure).contains(&name));
    let svg = figure.svg().unwrap();
    assert_eq!(
        svg.matches("<polygon").count(),
        3,
        "the background's key, and two parts of the ribbon"
    );
}

#[test]
fn density_is_shown_over_many_decades_with_powers_of_ten() {
    let altitude_m: Vec<f64> = (0..100).map(|i| 2e3 * f64::from(i)).collect();
    let figure = Profile {
        density_kg_m3: altitude_m
            .iter()
            .map(|h| 1.2 * (-h / 7_500.0).exp())
            .collect(),
        sigma_ln_density: altitude_m.iter().map(|h| 0.05 + h / 1e6).collect(),
        altitude_m,
        ..Profile::default()
    };
    let texts = sound(&figure);
    assert!(texts.contains(&"10⁻¹⁰".to_owned()), "{texts:?}");
    assert!(texts.contains(&"one sigma of density, %".to_owned()));
}

/// Numbers as they come from a run that went wrong.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -1e3..1e3_f64,
        1 => Just(f64::NAN),
        1 => Just(f64::INFINITY),
        1 => Just(0.0),
        1 => Just(-1e308),
        1 => Just(1e-300),
        1 => any::<f64>(),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn lines_of_any_numbers_are_drawn(
        points in prop::collection::vec((any_number(), any_number()), 0..40),
        marks in prop::collection::vec(any_number(), 0..5),
        (logarithmic, probability) in any::<(bool, bool)>(),
        name in "\\PC{0,120}",
    ) {
        let named = |value: &f64| (name.clone(), *value);
        let figure = Lines {
            title: name.clone(),
            note: name.clone(),
            x_title: name.clone(),
            y_title: name.clone(),
            logarithmic,
            probability,
            series: (0..3)
                .map(|i| Series {
                    name: format!("{i} {name}"),
                    points: points.iter().skip(i * 7).copied().collect(),
                    limit_key: name.clone(),
                })
                .collect(),
            levels: marks.iter().map(named).collect(),
            places: marks.iter().map(named).collect(),
            spans: marks.iter().map(|at| (name.clone(), *at, at + 1.0)).collect(),
            points: points.iter().take(3).map(|p| (name.clone(), p.0, p.1)).collect(),
            dots: points.clone(),
            areas: vec![Area {
                name: name.clone(),
                low: points.clone(),
                high: points.iter().map(|p| (p.0, p.1 + 1.0)).collect(),
                muted: true,
            }],
        };
        let scene = figure.scene();
        prop_assert_eq!(scene.clipped_text(), None);
        let svg = figure.svg().expect("an SVG");
        prop_assert!(!svg.contains("\"NaN") && !svg.contains("NaN,"));
    }

    #[test]
    fn histograms_of_any_numbers_are_drawn(
        values in prop::collection::vec(any_number(), 0..60),
        limit in any_number(),
        bins in 0..30_usize,
    ) {
        let figure = Distribution {
            limit: Some(LimitMark { key: "onset".into(), value: limit, from_below: bins % 2 == 0 }),
            quantiles: values.iter().take(2).map(|v| ("p50".into(), *v)).collect(),
            ..Distribution::of_values(&values, bins)
        };
        let scene = figure.scene();
        prop_assert_eq!(scene.clipped_text(), None);
        figure.svg().expect("an SVG");
    }

    #[test]
    fn break_curves_of_any_numbers_are_drawn(
        numbers in prop::collection::vec(any_number(), 0..20),
        required in any_number(),
        few in 0..4_usize,
    ) {
        let broken = BreakCurve {
            key: "onset".into(),
            name: "onset".into(),
            probability: numbers.iter().rev().copied().collect(),
            interval: numbers.iter().take(few).map(|n| (*n, n * 0.5)).collect(),
        };
        let figure = BreakCurves {
            aim_m: numbers.clone(),
            limits: vec![broken.clone(), broken.clone()],
            any: broken,
            required,
            safe_band_m: numbers.first().map(|n| (*n, n + 1e3)),
            recommended_m: numbers.last().copied(),
            ..BreakCurves::default()
        };
        figure.svg().expect("an SVG");
        figure.describe();
    }
}

/// A bell of temperature over 300 s and a slow decay to an hour.
fn wall(name: &str, peak: f64, is_slab: bool) -> WallCurves {
    let kelvin = |t: f64, peak: f64, width: f64| {
        280.0 + (peak - 280.0) * (-((t - 150.0) / width).powi(2)).exp()
    };
    let times = || (0..=360).map(|i| 10.0 * f64::from(i));
    WallCurves {
        name: name.into(),
        surface: times().map(|t| (t, kelvin(t, peak, 80.0))).collect(),
        balance: times()
            .take_while(|t| *t <= 300.0)
            .map(|t| (t, kelvin(t, 1.2 * peak, 70.0)))
            .collect(),
        back: times()
            .filter(|_| is_slab)
            .map(|t| (t, kelvin(t, 0.5 * peak + 100.0, 900.0)))
            .collect(),
        surface_limit_k: Some(1.1 * peak),
        back_limit_k: is_slab.then_some(0.6 * peak + 100.0),
    }
}

#[test]
fn walls_of_one_or_many_spots_are_drawn_soundly() {
    let figure = |spots: Vec<WallCurves>| Walls {
        title: "A ship with many named places on her skin".into(),
        note: "aimed at 101.5 km".into(),
        spots,
        pass_end_s: 300.0,
    };
    let texts = sound(&figure(vec![
        wall("solar panel", 480.0, false),
        wall("belly", 620.0, true),
    ]));
    for text in ["belly, back face", "limit of solar panel", "480 K"] {
        assert!(texts.iter().any(|t| t == text), "{text}: {texts:?}");
    }
    let many = (0..8).map(|i| {
        let name = format!("spot {i} with a rather long name");
        wall(&name, 400.0 + 60.0 * f64::from(i), i % 2 == 0)
    });
    sound(&figure(many.collect()));
    sound(&figure(Vec::new()));
    sound(&figure(vec![WallCurves {
        name: "empty".into(),
        ..WallCurves::default()
    }]));
    let described = figure(vec![wall("belly", 620.0, true)]).describe();
    assert!(
        described.contains("belly 620 K, its back face 410 K"),
        "{described}"
    );
}

fn real(small: usize) -> f64 {
    u32::try_from(small).expect("small").into()
}

fn bars(sources: usize, outputs: usize) -> InfluenceBars {
    let bar = |value: f64| Bar {
        value,
        lower: value - 0.03,
        upper: value + 0.04,
    };
    let names = [
        "density of the air",
        "error of the periapsis altitude",
        "mass with drag coefficient",
    ];
    InfluenceBars {
        title: "What matters".into(),
        note: "aimed at 51.00 km".into(),
        sources: (0..sources)
            .map(|i| format!("{} {i}", names[i % 3]))
            .collect(),
        outputs: (0..outputs)
            .map(|i| OutputBars {
                name: format!("peak dynamic pressure {i}"),
                bars: (0..sources)
                    .map(|i| (bar(-0.01 + 0.12 * real(i % 9)), bar(0.125 * real(i % 9))))
                    .collect(),
            })
            .collect(),
    }
}

#[test]
fn bars_name_every_source_and_output_and_write_their_values() {
    for (sources, outputs) in [(1, 1), (9, 2), (9, 6), (24, 5)] {
        let texts = sound(&bars(sources, outputs));
        assert!(
            texts.iter().any(|text| text == "peak dynamic pressure 0"),
            "{texts:?}"
        );
        assert!(
            texts.iter().any(|text| text == "density of the air 0"),
            "{texts:?}"
        );
        assert!(
            texts.iter().any(|text| text == "0.00"),
            "what is below 0 by chance is 0"
        );
        assert!(texts.iter().any(|text| text.starts_with("total: ")));
    }
    let whole = InfluenceBars {
        outputs: vec![OutputBars {
            name: "one".into(),
            bars: vec![(
                Bar {
                    value: 1.02,
                    lower: 0.97,
                    upper: 1.3,
                },
                Bar {
                    value: f64::NAN,
                    ..Bar::default()
                },
            )],
        }],
        ..bars(1, 1)
    };
    assert!(sound(&whole).iter().any(|text| text == "1.02"));
}

#[test]
fn a_map_writes_its_values_where_there_is_room_and_marks_what_is_missing() {
    let map = |across: usize, up: usize| Map {
        title: "What if".into(),
        note: "the safe band".into(),
        x_title: "ship.lift_to_drag".into(),
        y_title: "limits.peak_deceleration, g".into(),
        value_title: "width of the safe band, km".into(),
        x: (0..across).map(|i| 0.05 * real(i)).collect(),
        y: (0..up).map(|i| 1.0 + 0.25 * real(i)).collect(),
        values: (0..up)
            .map(|j| {
                let value = |i: usize| {
                    if i + j == 1 {
                        f64::NAN
                    } else {
                        real(i * j) * 0.37
                    }
                };
                (0..across).map(value).collect()
            })
            .collect(),
    };
    let texts = sound(&map(6, 5));
    assert!(texts.iter().any(|text| text == "7.4"), "{texts:?}");
    assert!(texts.iter().any(|text| text == "–"), "{texts:?}");
    assert!(
        texts
            .iter()
            .any(|text| text == "width of the safe band, km")
    );
    let crowded = sound(&map(100, 60));
    assert!(
        !crowded.iter().any(|text| text == "7.4"),
        "no room for values"
    );
    let flat = Map {
        values: vec![vec![2.0; 3]; 2],
        ..map(3, 2)
    };
    sound(&flat);
    assert!(
        map(6, 5)
            .describe()
            .contains("most 7.4 at 0.25 of ship.lift_to_drag")
    );
}
