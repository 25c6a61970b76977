//! The figures of a landing: the map, and the ends of the flights about the place.

use super::number::{percent, trimmed};
use super::plot::distribution::{Distribution, LimitMark};
use super::plot::landing_map::{LandingMap, Stands};
use crate::numeric::angle::wrapped;
use crate::pass::Ending;
use crate::scenario::landing::Landing;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::arrivals::{Arrival, Arrivals};
use crate::study::landing::ellipse::HOLDS_95;
use crate::study::landing::ground::{FromEntry, OnMap};

/// Dots of one kind at most.
const MOST_DOTS: usize = 1500;

/// Longitude and latitude in degrees, the longitude next to that of the place.
fn degrees(result: &LandingResult, at: OnMap) -> (f64, f64) {
    let about = result.place.longitude_rad;
    let longitude = about + wrapped(at.longitude_rad - about);
    (longitude.to_degrees(), at.latitude_rad.to_degrees())
}

fn on_map(case: &Case, result: &LandingResult, at: FromEntry) -> OnMap {
    let direction = result.track.direction(at);
    OnMap::of(case.problem.planet(), direction, result.placing.node_rad)
}

/// The whole way down: footprint, tracks, place.
#[must_use]
pub fn map(case: &Case, (result, landing): (&LandingResult, &Landing)) -> LandingMap {
    let outline = |corners: &[FromEntry]| -> Vec<(f64, f64)> {
        let on_map = corners.iter().map(|&at| on_map(case, result, at));
        on_map.map(|at| degrees(result, at)).collect()
    };
    let mut outlines = Vec::new();
    if let Some(footprint) = &result.footprint {
        if footprint.free != footprint.held {
            let corners = outline(&footprint.free.corners());
            outlines.push((Stands::Free, "without the limits".to_owned(), corners));
        }
        let corners = outline(&footprint.held.corners());
        outlines.push((Stands::Reached, "footprint".to_owned(), corners));
    } else if let Some(ellipse) = &result.held.ellipse {
        let around = outline(&ellipse.around(HOLDS_95));
        outlines.push((Stands::Held, "95 % ellipse".to_owned(), around));
    }
    let (x, y) = degrees(result, result.place);
    let mut places = vec![(landing.place.name.clone(), x, y)];
    if let Some(outside) = &result.outside {
        let (x, y) = degrees(result, outside.nearest.1);
        places.push(("nearest reached".to_owned(), x, y));
    }
    let begin = on_map(
        case,
        result,
        FromEntry {
            downrange_m: 0.0,
            crossrange_m: 0.0,
        },
    );
    let (x, y) = degrees(result, begin);
    places.push(("entry".to_owned(), x, y));
    LandingMap {
        title: format!("The way down to {}", landing.place.name),
        note: format!(
            "{} from an aim of {:.2} km; thin lines: ground tracks of {} flights",
            case.world.body().name,
            result.aim_m / 1e3,
            result.tracks.len()
        ),
        x_title: "longitude, deg east".to_owned(),
        y_title: "latitude, deg".to_owned(),
        x_unit: result.place.latitude_rad.cos(),
        outlines,
        tracks: result
            .tracks
            .iter()
            .map(|track| track.iter().map(|&at| degrees(result, at)).collect())
            .collect(),
        name_of_tracks: "tracks".to_owned(),
        dots: Vec::new(),
        places,
    }
}

/// The ends of the flights about the place, in km along and across the track.
#[must_use]
pub fn ends(case: &Case, (result, landing): (&LandingResult, &Landing)) -> LandingMap {
    let place = result.placing.from_entry;
    let about = |at: &FromEntry| {
        (
            (at.downrange_m - place.downrange_m) / 1e3,
            // Left is up, as seen along the track.
            -(at.crossrange_m - place.crossrange_m) / 1e3,
        )
    };
    let main = result.steered.as_ref().unwrap_or(&result.held);
    let stands = if result.steered.is_some() {
        Stands::Steered
    } else {
        Stands::Held
    };
    let down = |flight: &&Arrival| flight.ending == Ending::Landed;
    let dots = main.flights.iter().filter(down).take(MOST_DOTS);
    let mut outlines = Vec::new();
    if let Some(ellipse) = &main.ellipse {
        for (scale, name) in [(HOLDS_95, "95 %"), (3.0, "3 sigma")] {
            let around = ellipse.around(scale).iter().map(about).collect();
            outlines.push((stands, name.to_owned(), around));
        }
    }
    if let Some(gate) = &landing.gate {
        let circle = |radius_m: f64| -> Vec<(f64, f64)> {
            let at = |i: i32| f64::from(i).to_radians() * 3.0;
            (0..=120)
                .map(|i| (radius_m / 1e3 * at(i).cos(), radius_m / 1e3 * at(i).sin()))
                .collect()
        };
        let far = gate.distance_to_go_m + gate.within_m;
        let near = gate.distance_to_go_m - gate.within_m;
        let name = format!("gate within {} km", trimmed(gate.within_m / 1e3, 3));
        outlines.push((Stands::Wanted, name, circle(far)));
        if near > 0.0 {
            outlines.push((Stands::Wanted, String::new(), circle(near)));
        }
    }
    let what = match &landing.gate {
        Some(gate) => format!("ends at {:.0} m/s", gate.speed_m_s),
        None => "ends on the ground".to_owned(),
    };
    let shown = main.flights.iter().filter(down).count().min(MOST_DOTS);
    LandingMap {
        title: format!("Where the flights end about {}", landing.place.name),
        note: format!(
            "{shown} dispersed flights, {what}; the place lies at 0, 0; {}",
            case.world.body().name
        ),
        x_title: "along the track, km".to_owned(),
        y_title: "to the left of it, km".to_owned(),
        x_unit: 1.0,
        outlines,
        tracks: Vec::new(),
        name_of_tracks: String::new(),
        dots: vec![(
            stands,
            dots.map(|flight| about(&flight.from_entry)).collect(),
        )],
        places: vec![(landing.place.name.clone(), 0.0, 0.0)],
    }
}

/// How the misses are spread.
#[must_use]
pub fn misses(arrivals: &Arrivals, landing: &Landing) -> Distribution {
    let values: Vec<f64> = arrivals
        .flights
        .iter()
        .filter(|flight| flight.ending == Ending::Landed)
        .map(|flight| flight.miss_m.abs() / 1e3)
        .collect();
    let reached = arrivals.reached();
    #[allow(clippy::cast_precision_loss)]
    let share = reached as f64 / arrivals.flights.len().max(1) as f64;
    let quantity = if landing.gate.is_some() {
        "distance to go, off by"
    } else {
        "distance from the place"
    };
    Distribution {
        title: match &landing.gate {
            Some(_) => format!("Miss at the gate; {} meet it", percent(share)),
            None => "Distance from the place".to_owned(),
        },
        quantity: quantity.to_owned(),
        unit: "km".to_owned(),
        limit: landing.gate.as_ref().map(|gate| LimitMark {
            key: "gate".to_owned(),
            value: gate.within_m / 1e3,
            from_below: false,
        }),
        ..Distribution::of_values(&values, 50)
    }
}
