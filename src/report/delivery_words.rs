//! What `check` says of errors of the arrival that do not fit it.

use super::number::{percent, significant};
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use crate::study::delivery::{IllConditioned, ill_conditioned};

/// One remark for each error that is ill-conditioned.
#[must_use]
pub fn remarks(case: &Case) -> Vec<String> {
    let found = ill_conditioned(&case.problem);
    found.iter().map(words).collect()
}

fn words(found: &IllConditioned) -> String {
    let degrees = |rad: f64| significant(rad.to_degrees(), 2);
    let lost = if found.without_approach > 0.0 {
        format!(
            " Of its deliveries within four sigma {} fit no approach: there is no such arrival, and each counts as not \
             held.",
            percent(found.without_approach)
        )
    } else {
        String::new()
    };
    let help = match found.number {
        Number::DeliveryPeriapsis | Number::DeliveryBT | Number::DeliveryBR => {
            " State what is known at the interface, `uncertainty.delivery.flight_path_angle`, or a smaller error."
        }
        _ => " State a smaller error, or an arrival with more room above its entry.",
    };
    format!(
        "Ill-conditioned: the {} (`{}`). At an aim of {:.2} km one sigma turns the entry, at {} deg, by {} deg and \
         moves it by {} deg along its track.{lost}{help}",
        found.number.words(),
        found.number.key(),
        found.aim_m / 1e3,
        significant(found.angle_rad.to_degrees(), 3),
        degrees(found.turned_rad),
        degrees(found.moved_rad),
    )
}
