//! What `check` says of the people aboard: which axis of their seats is held against which curve, and for
//! which axes the user has to give points.

use crate::craft::named_curves::NAMED_CURVES;
use crate::craft::people::SeatAxis;
use crate::study::Case;

/// What has to be known of the limits for people, one sentence or two each; empty for a ship without passengers
/// and without such limits.
#[must_use]
pub fn remarks(case: &Case) -> Vec<String> {
    let passengers = case.scenario.ship.passengers;
    let Some(people) = case.problem.limits().people() else {
        if passengers == 0 {
            return Vec::new();
        }
        let who = match passengers {
            1 => "The passenger is".to_owned(),
            many => format!("The {many} passengers are"),
        };
        return vec![format!(
            "{who} held against no curve of level and duration. Which one suits them is your choice: \
             `limits.people` takes a published one for crews by its name, a level of comfort of ground transport \
             such as `curve: asce-21-seated` for untrained people, or `points` of your own."
        )];
    };
    let mut remarks: Vec<String> = people
        .watched()
        .map(|(axis, share, source)| {
            format!(
                "{} ({}) takes {} of what is sensed and is held against: {source}.",
                axis.symbol(),
                axis.words(),
                percent(share)
            )
        })
        .collect();
    remarks.extend(people.unwatched().into_iter().map(|(axis, share)| {
        format!(
            "{} ({}) takes {} of what is sensed, and nothing holds it: no curve is published for that axis here. \
             Give your own points, as in `limits.people.other_axes: {{{}: [[1 s, 1 g], [60 s, 0.5 g]]}}`.",
            axis.symbol(),
            axis.words(),
            percent(share),
            axis.symbol()
        )
    }));
    remarks.push(format!(
        "Published curves are held here for {} alone. Should the ship turn otherwise to the stream than said, {} \
         need your own points.",
        list(&published(true)),
        list(&published(false))
    ));
    remarks
}

/// The axes with a published curve, or those without.
fn published(with: bool) -> Vec<&'static str> {
    let has = |axis: &SeatAxis| NAMED_CURVES.iter().any(|curve| curve.axis == *axis);
    let axes = SeatAxis::ALL.into_iter().filter(|axis| has(axis) == with);
    axes.map(SeatAxis::symbol).collect()
}

fn list(words: &[&str]) -> String {
    match words {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => words.concat(),
    }
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}
