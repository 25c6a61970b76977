//! Limits that can be moved on a page: the controls, the kept samples in a form that a browser reads, and
//! the script that finds the band from them.

use super::coverage_words::{is_covered, limits_hold};
use super::error::ReportError;
use super::limit_words::{about, breaking_name, broken_words};
use super::number::{percent, rounded};
use super::plot::palette::{self, Mark};
use super::slider::{Positions, positions, possible, probabilities};
use crate::ensemble::LimitKind;
use crate::scenario::limits::{self, Written};
use crate::study::Case;
use crate::study::band::{BandResult, Edge};
use crate::study::live::Live;
use crate::study::live::gauge::Form;
use crate::study::rare::MOST_SAMPLES_TOLD;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use minijinja::{Environment, Value, context};
use serde_json::{Map, Value as Json, json};
use sha2::{Digest, Sha256};

/// Places between the lowest and the highest kept severity of a limit at an aim.
const PLACES: f64 = 4095.0;
/// Controls that move the limits of a band, with all that the script needs.
#[derive(Debug, Clone)]
pub struct LiveLimits {
    controls: Vec<Value>,
    fixed: Vec<Value>,
    data: String,
    facts: String,
}

/// The script itself. It reads the data of its own page and nothing else.
pub(super) const SCRIPT: &str = include_str!("live.js");

/// The script's source in a content security policy.
pub(super) fn script_source() -> String {
    format!(
        "'sha256-{}'",
        BASE64_STANDARD.encode(Sha256::digest(SCRIPT.as_bytes()))
    )
}

/// The key under which the scenario sets the limit, where one key alone does.
fn key(case: &Case, kind: LimitKind) -> Option<String> {
    // A spot with a limit of temperature has two limits in one.
    let mixed = |index: usize| {
        let spot = case.scenario.ship.spots.get(index);
        spot.is_none_or(|spot| spot.highest_temperature_k.is_some())
    };
    let (spec, place) = (kind.spec(), kind.place().unwrap_or(0));
    Some(match spec.written {
        Written::Value => format!("limits.{}", spec.key),
        Written::Levels => format!("limits.{}.{place}.at_most", spec.key),
        Written::Apoapsis => format!("limits.{}.apoapsis_altitude", spec.key),
        Written::People => format!("limits.{}.level_factor", spec.key),
        Written::Spot if mixed(place) => return None,
        Written::Spot => format!("ship.spots.{place}.highest_flux"),
        Written::Flag | Written::WithCapture => return None,
    })
}

impl LiveLimits {
    /// The controls of a band study; `command` runs it again in its folder.
    #[must_use]
    pub fn new(case: &Case, result: &BandResult, (live, command): (&Live, &str)) -> Self {
        let (mut controls, mut limits, mut fixed) = (Vec::new(), Vec::new(), Vec::new());
        for (index, channel) in live.channels.iter().enumerate() {
            let kind = channel.gauge.kind;
            let mark = palette::limit(&kind.numbered_key());
            let values = positions(case, (live, index), result.recommended.aim_m);
            controls.push(control(
                &format!("live-{index}"),
                (
                    &about(case, kind, (kind.spec().words.control, "")),
                    kind.unit().shown,
                ),
                (&values, mark),
            ));
            limits.push(limit(case, live, index, &values));
        }
        if let Some(kind) = live.staying {
            let words = breaking_name(case, kind);
            let mark = palette::limit(kind.key());
            fixed.push(context! { name => words.as_str(), mark => mark_value(mark) });
            limits.push(json!({
                "name": words,
                "broken": broken_words(case, kind),
                "colour": colour(mark),
                "dash": mark.dash,
                "breaksBelow": kind.spec().form == limits::Form::LeavesAir,
            }));
        }
        let probability = probabilities(case, live);
        controls.push(control(
            "live-probability",
            ("probability that all limits hold", "%"),
            (&probability, palette::ANY_LIMIT),
        ));
        let weights: Vec<f32> = live.kept.iter().map(|kept| single(kept.weight)).collect();
        let below: Vec<f32> = live.stays_below_m.iter().map(|m| single(m / 1e3)).collect();
        let data = json!({
            "aims": live.aims_m.iter().map(|m| m / 1e3).collect::<Vec<f64>>(),
            "samples": live.samples,
            "certain": case.problem.is_deterministic(),
            "confidence": case.scenario.ask.confidence,
            "kept": live.kept.len(),
            "weights": encoded(&weights),
            "staysBelow": encoded(&below),
            "limits": limits,
            "probability": { "values": probability.values, "start": probability.start },
            "mostSamplesTold": MOST_SAMPLES_TOLD,
            "failed": live.failed,
            "hold": limits_hold(is_covered(case)),
            "command": command,
            "asRun": as_run(case, result),
        });
        let facts = format!(
            "Found in this page from {} of the {} samples flown at each aim (all of the hardest, of the milder ones \
             some that stand for the rest), kept at {} aims. A fresh run with the same seed finds the same edges to the \
             metres stated; the command above makes that run. The aim that is best for moved limits is chosen and told by the \
             same samples here, so that its chance looks a little too good; that run tells it by others.",
            live.kept.len(),
            live.samples,
            live.aims_m.len()
        );
        Self {
            controls,
            fixed,
            data: for_script(&data),
            facts,
        }
    }

    /// The controls as HTML.
    pub(super) fn html(&self, environment: &Environment<'_>) -> Result<String, ReportError> {
        Ok(environment.get_template("live.html")?.render(context! {
            controls => self.controls.clone(),
            fixed => self.fixed.clone(),
            facts => self.facts.as_str(),
            data => Value::from_safe_string(self.data.clone()),
        })?)
    }
}

/// JSON that may stand in a script element whatever is in its texts: no character of it ends the element
/// or begins another.
fn for_script(data: &Json) -> String {
    data.to_string()
        .replace('<', "\\u003c")
        .replace('>', "\\u003e")
        .replace('&', "\\u0026")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029")
}

fn colour(mark: Mark) -> String {
    let palette::Colour(red, green, blue) = mark.colour;
    format!("#{red:02X}{green:02X}{blue:02X}")
}

fn mark_value(mark: Mark) -> Value {
    let dash: Vec<String> = mark.dash.iter().map(ToString::to_string).collect();
    context! { colour => colour(mark), dash => dash.join(" ") }
}

fn control(id: &str, (label, unit): (&str, &str), (positions, mark): (&Positions, Mark)) -> Value {
    let start = positions
        .values
        .get(positions.start)
        .copied()
        .unwrap_or(0.0);
    context! {
        id,
        label,
        unit,
        last => positions.values.len().saturating_sub(1),
        start => positions.start,
        value => rounded(start, 6).to_string(),
        mark => mark_value(mark),
    }
}

fn limit(case: &Case, live: &Live, index: usize, positions: &Positions) -> Json {
    let channel = &live.channels[index];
    let (gauge, unit) = (&channel.gauge, channel.gauge.kind.unit());
    let per_si = unit.per_si();
    let mark = palette::limit(&gauge.kind.numbered_key());
    // Severities in the unit shown.
    let (form, shown): (&str, Box<dyn Fn(f64) -> f64>) = match gauge.form {
        Form::Log => {
            let add = libm::log(per_si);
            ("log", Box::new(move |s| s + add))
        }
        Form::Turned => ("turned", Box::new(move |s| s * per_si)),
        Form::InverseRadius(_) => ("inverse", Box::new(move |s| s / per_si)),
        Form::TurnedInverseRadius(_) => ("lowest apoapsis", Box::new(move |s| s / per_si)),
        Form::SignedRoot => ("root", Box::new(move |s| s * per_si)),
    };
    let (least, most) = possible(case, gauge.kind);
    let mut entry = Map::new();
    let aims = live.aims_m.len();
    let (mut lows, mut steps) = (Vec::new(), Vec::new());
    for aim in 0..aims {
        let column = channel.severity.iter().skip(aim).step_by(aims);
        let (low, high) = column.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
            (low.min(shown(*s)), high.max(shown(*s)))
        });
        lows.push(low);
        steps.push((high - low) / PLACES);
    }
    let place = |(at, severity): (usize, &f64)| {
        let (low, step) = (lows[at % aims], steps[at % aims]);
        if step > 0.0 {
            whole((shown(*severity) - low) / step)
        } else {
            0
        }
    };
    let codes: Vec<u16> = channel.severity.iter().enumerate().map(place).collect();
    for (key, value) in [
        ("name", json!(breaking_name(case, gauge.kind))),
        (
            "broken",
            json!(about(
                case,
                gauge.kind,
                (gauge.kind.spec().words.moved, "{}")
            )),
        ),
        ("unit", json!(unit.shown)),
        ("colour", json!(colour(mark))),
        ("dash", json!(mark.dash)),
        ("form", json!(form)),
        ("ofTheOrbit", json!(gauge.is_of_the_orbit())),
        ("least", json!(least)),
        ("most", json!(most)),
        ("values", json!(positions.values)),
        ("start", json!(positions.start)),
        ("lows", json!(lows)),
        ("steps", json!(steps)),
        ("codes", json!(BASE64_STANDARD.encode(packed(&codes)))),
    ] {
        entry.insert(key.to_owned(), value);
    }
    if let Form::InverseRadius(radius_m) | Form::TurnedInverseRadius(radius_m) = gauge.form {
        entry.insert("radius".to_owned(), json!(radius_m / 1e3));
    }
    if let Some(key) = key(case, gauge.kind) {
        entry.insert("key".to_owned(), json!(key));
        entry.insert("written".to_owned(), json!(unit.written));
    }
    Json::Object(entry)
}

fn as_run(case: &Case, result: &BandResult) -> Json {
    let (band, best) = (result.band.as_ref().ok(), &result.recommended);
    let edge = |edge: &Edge| {
        let limit = match edge.limit {
            Some(kind) => Some(broken_words(case, kind)),
            None => edge.unflown.then(|| "samples without a result".to_owned()),
        };
        json!({ "at": edge.aim_m / 1e3, "limit": limit })
    };
    json!({
        "low": band.map(|band| edge(&band.low)),
        "high": band.map(|band| edge(&band.high)),
        "best": best.aim_m / 1e3,
        "held": percent(best.held.estimate),
        "least": percent(best.held.lower),
        "probability": percent(case.scenario.ask.probability),
    })
}

/// A number in the precision that is kept.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a centimetre of an aim and a millionth of a weight"
)]
fn single(value: f64) -> f32 {
    value as f32
}

/// The nearest whole number, 0 or more.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, which is meant"
)]
fn whole(value: f64) -> u16 {
    value.round() as u16
}

/// Numbers of twelve bits, two to three bytes, the lower bits first.
fn packed(codes: &[u16]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(codes.len() / 2 * 3 + 3);
    for pair in codes.chunks(2) {
        let (first, second) = (pair[0], pair.get(1).copied().unwrap_or(0));
        let both = u32::from(first) | u32::from(second) << 12;
        bytes.extend_from_slice(&both.to_le_bytes()[..3]);
    }
    bytes
}

/// Numbers as base64 of their little-endian bytes.
fn encoded(numbers: &[f32]) -> String {
    let bytes: Vec<u8> = numbers.iter().flat_map(|n| n.to_le_bytes()).collect();
    BASE64_STANDARD.encode(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn data_cannot_end_the_element_that_holds_them() {
        let text = for_script(&json!({ "name": "</script><b>&\u{2028}" }));
        for character in ['<', '>', '&', '\u{2028}'] {
            assert!(!text.contains(character), "{text}");
        }
        let read: Json = serde_json::from_str(&text).expect("still the same JSON");
        assert_eq!(read["name"], "</script><b>&\u{2028}");
    }

    #[test]
    fn two_numbers_are_packed_in_three_bytes() {
        assert_eq!(packed(&[0x123, 0xabc]), [0x23, 0xc1, 0xab]);
        assert_eq!(packed(&[0xfff]), [0xff, 0x0f, 0x00]);
        assert_eq!(whole(-3.0), 0);
    }
}
