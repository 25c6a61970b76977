//! How near many dispersed flights come to the place, and what they have left there.

use super::ellipse::Ellipse;
use super::ground::{FromEntry, OnMap, Track, below};
use crate::ensemble::engine::FlownSample;
use crate::ensemble::tally::undecided;
use crate::ensemble::{Fleet, Problem, Progress, Stopped};
use crate::numeric::Vec3;
use crate::pass::dynamics::{position, velocity};
use crate::pass::{Ending, PassResult};
use crate::scenario::ask::Ask;
use crate::scenario::landing::GateSpec;
use crate::steering::gate::bearing;
use crate::study::outcome::{Outcome, describe_aim};
use crate::world::Planet;
use crate::world::planet::AirSample;

/// The ground about a landing: what turns the end of a flight into a place.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The planet.
    pub planet: &'a Planet,
    /// Longitude of the node, rad.
    pub node_rad: f64,
    /// The place.
    pub place: OnMap,
    /// The gate, if there is one.
    pub gate: Option<&'a GateSpec>,
    /// The track of the nominal entry.
    pub track: &'a Track,
}

/// The end of one flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// Number of the sample.
    pub sample: u64,
    /// How it ended.
    pub ending: Ending,
    /// Whether it met the gate; without a gate, whether it came down.
    pub reached: bool,
    /// One bit for each limit it broke.
    pub broken: u32,
    /// Where it ended on the map.
    pub on_map: OnMap,
    /// Where it ended from the nominal entry.
    pub from_entry: FromEntry,
    /// Ground range from there to the place, m.
    pub range_m: f64,
    /// How much longer than wanted that range is, m: negative when the ship came too far.
    pub miss_m: f64,
    /// Angle from the direction of flight to the place, rad, positive to the right.
    pub heading_rad: f64,
    /// Altitude at the end, m.
    pub altitude_m: f64,
    /// Speed against the air at the end, m/s.
    pub speed_m_s: f64,
    /// Flight-path angle over the turning ground at the end, rad.
    pub angle_rad: f64,
    /// Energy left, as the height from which the ship would fall to have it, m: h + v²/2g.
    pub energy_height_m: f64,
    /// Time of flight, s.
    pub duration_s: f64,
}

impl Ground<'_> {
    /// Velocity over the turning ground at the end of a flight.
    fn over_ground(&self, result: &PassResult) -> (Vec3<f64>, Vec3<f64>) {
        let (r, v) = (position(&result.end_state), velocity(&result.end_state));
        (r, self.planet.over_ground(r, v))
    }

    /// The place that a flight serves: that ahead of its end by the distance to go.
    #[must_use]
    pub fn served(&self, result: &PassResult) -> OnMap {
        let ahead = self.gate.map_or(0.0, |gate| gate.distance_to_go_m);
        OnMap::of(
            self.planet,
            ahead_of_end(self.planet, result, ahead),
            self.node_rad,
        )
    }

    /// What the end of a flight means for `place`.
    #[must_use]
    pub fn arrival(&self, flown: &FlownSample, place: OnMap) -> Arrival {
        let result = &flown.result;
        let (r, over_ground) = self.over_ground(result);
        let time_s = result.duration_s;
        // The place among the stars at the end: the ground has turned on by then.
        let turned = self.node_rad - self.planet.rotation_rad_s * time_s;
        let direction = place.direction(self.planet, turned);
        let there = bearing(direction, (r, over_ground), self.planet.equatorial_radius_m);
        // The ground itself is met to far less than a millimetre.
        let altitude_m = (1e3 * self.planet.altitude_at(r)).round() / 1e3;
        let (v, up) = (over_ground.norm(), r.unit());
        let gravity = self.planet.gm_m3_s2 / r.dot(r);
        let end = below(self.planet, &result.end_state, time_s);
        let wanted = self.gate.map_or(0.0, |gate| gate.distance_to_go_m);
        let miss_m = there.range_m - wanted;
        let down = result.ending == Ending::Landed;
        let reached = down
            && self.gate.is_none_or(|gate| {
                let air = self
                    .planet
                    .air_relative(
                        r,
                        velocity(&result.end_state),
                        altitude_m,
                        &AirSample::EXACT,
                    )
                    .norm();
                // Flights that come to the ground before they have slowed never meet the gate.
                (air <= gate.speed_m_s * 1.2)
                    && miss_m.abs() <= gate.within_m
                    // Over the place itself there is no direction to it.
                    && (there.heading_error_rad.abs() <= gate.heading_rad
                        || there.range_m <= gate.within_m)
                    && (gate.lowest_m..=gate.highest_m).contains(&altitude_m)
            });
        Arrival {
            sample: flown.sample,
            ending: result.ending,
            reached,
            broken: flown.broken,
            on_map: OnMap::of(self.planet, end, self.node_rad),
            from_entry: self.track.place(end),
            range_m: there.range_m,
            miss_m,
            heading_rad: there.heading_error_rad,
            altitude_m,
            speed_m_s: result.end_relative_speed_m_s,
            angle_rad: libm::asin((up.dot(over_ground) / v).clamp(-1.0, 1.0)),
            energy_height_m: altitude_m + 0.5 * v * v / gravity,
            duration_s: time_s,
        }
    }
}

/// The direction `ahead_m` ahead of the end of a flight along its motion over the ground.
#[must_use]
pub fn ahead_of_end(planet: &Planet, result: &PassResult, ahead_m: f64) -> Vec3<f64> {
    let end = below(planet, &result.end_state, result.duration_s);
    if ahead_m == 0.0 {
        return end;
    }
    let (r, v) = (position(&result.end_state), velocity(&result.end_state));
    let over_ground = planet.over_ground(r, v);
    let mut moved = [0.0; 8];
    (moved[0], moved[1], moved[2]) = (over_ground.x, over_ground.y, over_ground.z);
    // The same turn of the frame that takes the end below.
    let forward = below(planet, &moved, result.duration_s);
    let level = end.scale_add(-end.dot(forward), forward);
    if !(level.norm() > 0.0) {
        return end;
    }
    let angle = ahead_m / planet.equatorial_radius_m;
    level.unit().scale(libm::sin(angle)) + end.scale(libm::cos(angle))
}

/// Many flights and where they ended.
#[derive(Debug, Clone)]
pub struct Arrivals {
    /// Each of them, in the order of the samples.
    pub flights: Vec<Arrival>,
    /// What people and skin took, and how the limits were held.
    pub outcome: Outcome,
    /// The ellipse of the ends of those that came down.
    pub ellipse: Option<Ellipse>,
}

impl Arrivals {
    /// Flies samples to a place.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn fly(
        (problem, progress): (&Problem, &Progress),
        ground: &Ground<'_>,
        (aim_m, samples): (f64, u64),
        (place, confidence): (OnMap, f64),
    ) -> Result<Self, Stopped> {
        let mut flights = Vec::new();
        let fleet = Fleet::new(problem, progress);
        let outcome = describe_aim(&fleet, (aim_m, 0..samples), confidence, |flown| {
            flights.push(ground.arrival(flown, place));
        })?;
        let ends: Vec<FromEntry> = flights
            .iter()
            .filter(|flight: &&Arrival| flight.ending == Ending::Landed)
            .map(|flight| flight.from_entry)
            .collect();
        Ok(Self {
            ellipse: Ellipse::of(&ends),
            flights,
            outcome,
        })
    }

    /// How many met the gate.
    #[must_use]
    pub fn reached(&self) -> u64 {
        self.flights.iter().filter(|flight| flight.reached).count() as u64
    }

    /// How many met the gate with every limit held.
    #[must_use]
    pub fn reached_and_held(&self) -> u64 {
        let good = |flight: &&Arrival| flight.reached && flight.broken == 0;
        self.flights.iter().filter(good).count() as u64
    }

    /// Whether flights without a result alone decide whether the gate is met with every limit held at the
    /// probability asked for.
    #[must_use]
    pub fn is_undecided(&self, ask: &Ask) -> bool {
        let unflown = self.outcome.tally.unflown();
        let counts = (self.reached_and_held(), unflown, self.flights.len() as u64);
        undecided(counts, (ask.probability, ask.confidence))
    }
}
