//! What `learn` says on the screen, and its summary.

use super::draws::unit_of;
use super::grid::Grid;
use super::number::significant;
use crate::scenario::log_columns::Channel;
use crate::scenario::uncertainty::{AirDensity, Number};
use crate::study::Case;
use crate::study::learn::known::{Combination, Quantity, stays};
use crate::study::learn::{Learned, Parameter};
use serde_json::{Value, json};

/// A number is taken for learned when less than this of its spread is left.
const LEARNED: f64 = 0.8;

/// The answer in two sentences: how well the pass tells the air from the ship, and what that rests on.
#[must_use]
pub fn answer(learned: &Learned) -> String {
    let count = learned.used.iter().filter(|used| **used).count();
    let better = |left: f64| significant(1.0 / left.max(1e-6), 2);
    let mut best: Vec<&Quantity> = learned.quantities.iter().collect();
    best.sort_by(|a, b| left(a).total_cmp(&left(b)));
    let first = match best.first() {
        Some(quantity) if left(quantity) < LEARNED => format!(
            "{} is {}, known {} times better than before",
            capital(&quantity.name),
            value_and_sigma(quantity.after, quantity.unit),
            better(left(quantity))
        ),
        _ => "The log teaches nothing of ship and air that the scenario does not know".to_owned(),
    };
    let doubts = match learned.doubts.as_slice() {
        [] => String::new(),
        doubts => format!("In doubt: the {}. ", doubts.join("; the ")),
    };
    format!(
        "{doubts}{first}, from {count} readings of one pass. {}",
        apart(learned)
    )
}

/// Which of ship and air the readings tell apart.
#[must_use]
pub fn apart(learned: &Learned) -> String {
    let known: Vec<&Combination> = learned
        .combinations
        .iter()
        .filter(|c| c.left < LEARNED)
        .collect();
    let all = learned.combinations.len();
    if all == 0 {
        return "Nothing of ship and air is uncertain in the scenario.".to_owned();
    }
    let mixed: Vec<String> = known
        .iter()
        .filter(|c| !alone(c))
        .map(|c| mixture(c))
        .collect();
    let clear: Vec<&str> = known
        .iter()
        .filter(|c| alone(c))
        .filter_map(|c| Some(c.shares.first()?.0.words()))
        .collect();
    let unknown = unknown(learned);
    let mut text = format!(
        "Of {all} uncertain numbers of ship and air the readings fix {} combination{}",
        known.len(),
        if known.len() == 1 { "" } else { "s" }
    );
    if !clear.is_empty() {
        text = format!("{text}; by itself: {}", clear.join(", "));
    }
    if !mixed.is_empty() {
        text = format!("{text}; only together: {}", mixed.join("; "));
    }
    if !unknown.is_empty() {
        text = format!(
            "{text}. Not told apart, and left to what was known before: {}",
            unknown.join(", ")
        );
    }
    text + "."
}

/// Whether a combination is one number, as good as alone.
fn alone(combination: &Combination) -> bool {
    let first = combination.shares.first();
    first.is_some_and(|first| first.1.abs() > 0.97)
}

/// Numbers of ship and air of which nearly all the spread is left.
fn unknown(learned: &Learned) -> Vec<&'static str> {
    let left = learned
        .parameters
        .iter()
        .filter(|p| stays(p.number) && p.score.1 > LEARNED);
    left.map(|p| p.number.words()).collect()
}

/// `density of the air (0.94) with drag coefficient (0.32)`.
fn mixture(combination: &Combination) -> String {
    let shares = combination
        .shares
        .iter()
        .filter(|(_, share)| share.abs() > 0.2);
    let words: Vec<String> = shares
        .map(|(number, share)| format!("{} ({share:+.2})", number.words()))
        .collect();
    words.join(" with ")
}

fn left(quantity: &Quantity) -> f64 {
    let relative = |(middle, sigma): (f64, f64)| sigma / middle.abs().max(1e-300);
    let ratio = if quantity.unit.is_empty() {
        quantity.after.1 / quantity.before.1
    } else {
        relative(quantity.after) / relative(quantity.before)
    };
    ratio.min(1.0)
}

pub(crate) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// `140.5 ± 4.0 kg/m²`, with as many places as the spread has two digits.
#[must_use]
pub fn value_and_sigma((middle, sigma): (f64, f64), unit: &str) -> String {
    let text = pair(middle, sigma);
    format!("{text} {unit}").trim_end().to_owned()
}

fn pair(middle: f64, sigma: f64) -> String {
    if !(sigma > 0.0 && sigma.is_finite() && middle.is_finite()) {
        return significant(middle, 6);
    }
    let place = sigma.abs().log10().floor() - 1.0;
    // Small numbers by a power of ten that both share.
    if middle.abs().max(sigma) < 1e-2 {
        let power = middle.abs().max(sigma).log10().floor();
        let scale = 10f64.powf(-power);
        return format!("({})e{power}", pair(middle * scale, sigma * scale));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bounded"
    )]
    let places = (-place).clamp(0.0, 12.0) as usize;
    // No minus before what rounds to nothing.
    let middle = if middle.abs() < 0.5 * 10f64.powf(place) {
        0.0
    } else {
        middle
    };
    format!("{middle:.places$} ± {sigma:.places$}")
}

/// How a number is shown: its value by its own unit.
fn shown(parameter: &Parameter, case: &Case) -> ((f64, f64), (f64, f64), &'static str) {
    let (scale_height, wind) = case.problem.air_draws().spreads();
    let means = case.scenario.uncertainty.air_parts.means;
    let (factor, offset, unit) = match parameter.number {
        Number::AirScaleHeight => (100.0 * scale_height, 100.0 * means.scale_height, "%"),
        Number::AirWind => (wind, means.wind_m_s, "m/s"),
        Number::AirDensity => match case.scenario.uncertainty.air_density {
            AirDensity::LogFactor(_) => (1.0, 0.0, "log of a factor"),
            _ => (1.0, 0.0, "of its spread"),
        },
        number => {
            let unit = unit_of(case, number);
            (unit.per_si(), 0.0, unit.shown)
        }
    };
    let of = |(middle, sigma): (f64, f64)| (offset + factor * middle, factor * sigma);
    (of(parameter.before), of(parameter.after), unit)
}

/// The quantities that people know ship and air by.
#[must_use]
pub fn quantities(learned: &Learned) -> Grid {
    let mut grid = table();
    for quantity in &learned.quantities {
        grid.row([
            quantity.name.clone(),
            value_and_sigma(quantity.before, ""),
            value_and_sigma(quantity.after, ""),
            quantity.unit.to_owned(),
            significant(left(quantity), 2),
        ]);
    }
    grid
}

/// The scenario's own uncertain numbers.
#[must_use]
pub fn numbers(case: &Case, learned: &Learned) -> Grid {
    let mut grid = table();
    for parameter in &learned.parameters {
        let (before, after, unit) = shown(parameter, case);
        grid.row([
            parameter.number.words().to_owned(),
            value_and_sigma(before, ""),
            value_and_sigma(after, ""),
            unit.to_owned(),
            significant(parameter.score.1.min(1.0), 2),
        ]);
    }
    grid
}

fn table() -> Grid {
    Grid::new()
        .words("")
        .words("before")
        .words("after")
        .words("unit")
        .numbers("spread left")
}

/// Correlations of the estimates, as a square.
#[must_use]
pub fn correlations(learned: &Learned) -> Grid {
    let mut grid = Grid::new().words("");
    for place in 1..=learned.parameters.len() {
        grid = grid.numbers(place.to_string());
    }
    for (i, parameter) in learned.parameters.iter().enumerate() {
        let cells = (0..learned.parameters.len()).map(|j| two_places(correlation(learned, i, j)));
        let name = format!("{} {}", i + 1, parameter.number.words());
        grid.row(std::iter::once(name).chain(cells));
    }
    grid
}

/// A coefficient with two places, 0 without a sign.
fn two_places(coefficient: f64) -> String {
    let text = format!("{coefficient:.2}");
    if text == "-0.00" {
        "0.00".to_owned()
    } else {
        text
    }
}

fn correlation(learned: &Learned, i: usize, j: usize) -> f64 {
    let c = &learned.covariance;
    c[(i, j)] / (c[(i, i)] * c[(j, j)]).sqrt()
}

/// The instruments with their noise.
#[must_use]
pub fn instruments(learned: &Learned) -> Grid {
    let mut grid = Grid::new()
        .words("instrument")
        .numbers("readings")
        .numbers("left out")
        .words("noise");
    for channel in Channel::ALL {
        let of = |used: bool| {
            let list = learned.readings.list.iter().zip(&learned.used);
            list.filter(|(r, u)| r.channel == channel && **u == used)
                .count()
        };
        if of(true) + of(false) > 0 {
            let noise = learned.readings.noise[channel as usize];
            grid.row([
                channel.words().to_owned(),
                of(true).to_string(),
                of(false).to_string(),
                format!("{} {}", significant(noise, 2), channel.unit()),
            ]);
        }
    }
    grid
}

/// The summary: stable keys, documented in the README.
#[must_use]
pub fn summary(case: &Case, learned: &Learned, log: &str) -> Value {
    let estimate = |(middle, sigma): (f64, f64)| json!({ "value": middle, "std_dev": sigma });
    let parameters: Vec<Value> = learned
        .parameters
        .iter()
        .map(|parameter| {
            let (before, after, unit) = shown(parameter, case);
            json!({
                "name": parameter.number.words(),
                "unit": unit,
                "before": estimate(before),
                "after": estimate(after),
                "score": estimate(parameter.score),
                "kept_for_next_pass": stays(parameter.number),
            })
        })
        .collect();
    let quantities: Vec<Value> = learned
        .quantities
        .iter()
        .map(|q| json!({ "key": q.key, "before": estimate(q.before), "after": estimate(q.after) }))
        .collect();
    let combinations: Vec<Value> = learned
        .combinations
        .iter()
        .map(|c| {
            let shares: Vec<Value> = c
                .shares
                .iter()
                .map(|(number, share)| json!({ "name": number.words(), "share": share }))
                .collect();
            json!({ "shares": shares, "spread_left": c.left })
        })
        .collect();
    let count = learned.parameters.len();
    let matrix: Vec<Vec<f64>> = (0..count)
        .map(|i| (0..count).map(|j| learned.covariance[(i, j)]).collect())
        .collect();
    let noise: serde_json::Map<String, Value> = Channel::ALL
        .iter()
        .filter(|channel| learned.readings.list.iter().any(|r| r.channel == **channel))
        .map(|channel| {
            let key = channel.words().replace(' ', "_");
            (key, json!(learned.readings.noise[*channel as usize]))
        })
        .collect();
    let clocks: Vec<Value> = learned
        .clocks
        .iter()
        .map(|clock| json!({ "line": clock.line, "offset_s": clock.offset_s, "std_dev_s": clock.sigma_s }))
        .collect();
    json!({
        "study": "learn",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "log": log,
        "aim_periapsis_km": learned.options.aim_m / 1e3,
        "readings": learned.readings.list.len(),
        "readings_left_out": learned.used.iter().filter(|used| !**used).count(),
        "settled": learned.fitted.settled,
        "parameters": parameters,
        "covariance_of_scores": matrix,
        "quantities": quantities,
        "combinations": combinations,
        "noise_si": noise,
        "clocks": clocks,
        "remarks": learned.remarks,
    })
}
