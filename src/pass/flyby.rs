//! A moon's gravity: how far an unpowered flyby turns a ship, how many flybys a wanted turn needs, and which orbit
//! about the planet the best one leaves.
//!
//! Patched conics: the moon goes round on a circle in the equator, the ship meets it at a node of its own plane, and
//! the flyby takes no time. The arrival's direction is free, as it is for a planner who still steers.

use super::conic::Conic;
use crate::numeric::Vec3;
use crate::numeric::root::{bounded_minimum, bracketed_root};
use crate::world::moon::Moon;
use std::f64::consts::{FRAC_PI_2, TAU};

/// Angle by which a flyby turns the excess velocity, rad, 0 to π: 2 asin(1/e), e = 1 + r v∞²/μ.
///
/// `periapsis_radius_m` is that of the flyby about the moon, `excess_speed_m_s` the speed far from it.
#[must_use]
pub fn turn_angle_rad(gm_m3_s2: f64, periapsis_radius_m: f64, excess_speed_m_s: f64) -> f64 {
    let e = 1.0 + periapsis_radius_m * excess_speed_m_s * excess_speed_m_s / gm_m3_s2;
    2.0 * libm::asin(1.0 / e)
}

/// How many flybys a wanted turn takes when one turns by `most_rad` at the most; `None` where that is not above 0.
#[must_use]
pub fn flybys_needed(wanted_rad: f64, most_rad: f64) -> Option<u32> {
    /// Turns that differ by rounding count as equal.
    const ROUNDING: f64 = 1e-9;
    if !(most_rad > 0.0) || !wanted_rad.is_finite() {
        return None;
    }
    let count = ((wanted_rad / most_rad) - ROUNDING).ceil().max(0.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates, which is meant"
    )]
    let count = count as u32;
    Some(count)
}

/// The arrival before a flyby.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlybyArrival {
    /// Gravitational parameter of the planet, m³/s².
    pub gm_m3_s2: f64,
    /// Excess speed at the planet, m/s.
    pub excess_speed_m_s: f64,
    /// Inclination to the moon's orbit, rad, 0 to π.
    pub inclination_rad: f64,
    /// Periapsis radius wanted after the flyby, m.
    pub periapsis_radius_m: f64,
    /// Apoapsis radius inside which the orbit counts as closed, m.
    pub loosest_m: f64,
}

/// The best flyby of a moon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flyby {
    /// Speed against the moon, far from it, m/s.
    pub relative_speed_m_s: f64,
    /// Most that one flyby turns, at the lowest allowed altitude, rad.
    pub turn_rad: f64,
    /// Turn that would close the orbit below the loosest apoapsis, rad; `None` where no turn of this moon does.
    pub wanted_rad: Option<f64>,
    /// How many flybys that turn takes.
    pub flybys: Option<u32>,
    /// The conic about the planet afterwards.
    pub after: Conic,
    /// Its inclination, rad.
    pub inclination_rad: f64,
    /// Its argument of periapsis, rad, 0 to π: the flyby is at the ascending node, before periapsis.
    pub argument_of_periapsis_rad: f64,
    /// Speed change by the moon, m/s: 2 v∞ sin(turn/2).
    pub speed_change_m_s: f64,
    /// Time from the flyby to periapsis, s.
    pub to_periapsis_s: f64,
}

/// Velocities at the moon: along its motion, normal to its orbit, and outward.
struct Meeting<'a> {
    arrival: &'a FlybyArrival,
    orbit_radius_m: f64,
    moon_speed_m_s: f64,
    speed_m_s: f64,
    moon: &'a Moon,
}

/// What one way of flying past leaves.
#[derive(Clone, Copy)]
struct Way {
    after: Vec3<f64>,
    relative: Vec3<f64>,
    turn_rad: f64,
    twice_energy: f64,
}

/// Directions of arrival tried, and directions of the turn tried for each.
const ARRIVALS: u32 = 240;
const TURNS: u32 = 180;

impl Meeting<'_> {
    /// Velocity against the moon when the ship comes in at this angle below the horizon, rad.
    fn relative(&self, steepness: f64) -> Vec3<f64> {
        let (level, down) = (libm::cos(steepness), libm::sin(steepness));
        let tilt = self.arrival.inclination_rad;
        Vec3::new(
            self.speed_m_s * level * libm::cos(tilt) - self.moon_speed_m_s,
            self.speed_m_s * level * libm::sin(tilt),
            -self.speed_m_s * down,
        )
    }

    /// The way past the moon that turns by all it can towards direction `about` (rad) of the circle of directions.
    fn way(&self, steepness: f64, about: f64) -> Way {
        let relative = self.relative(steepness);
        let speed = relative.norm();
        let lowest = self.moon.radius_m + self.moon.lowest_flyby_altitude_m;
        let turn_rad = turn_angle_rad(self.moon.gm_m3_s2, lowest, speed);
        let forward = relative.scale(1.0 / speed);
        // Two directions across; the outward one may not lie along the velocity.
        let helper = if forward.z.abs() < 0.9 {
            Vec3::new(0.0, 0.0, 1.0)
        } else {
            Vec3::new(1.0, 0.0, 0.0)
        };
        let one = forward.cross(helper).unit();
        let other = forward.cross(one);
        let across = one
            .scale(libm::cos(about))
            .scale_add(1.0, other.scale(libm::sin(about)));
        let turned = forward
            .scale(libm::cos(turn_rad))
            .scale_add(1.0, across.scale(libm::sin(turn_rad)))
            .scale(speed);
        let after = turned + Vec3::new(self.moon_speed_m_s, 0.0, 0.0);
        let twice_energy = after.dot(after) - 2.0 * self.arrival.gm_m3_s2 / self.orbit_radius_m;
        Way {
            after,
            relative,
            turn_rad,
            twice_energy,
        }
    }

    /// Periapsis radius about the planet after a way past the moon, m.
    fn periapsis_m(&self, way: &Way) -> f64 {
        let gm = self.arrival.gm_m3_s2;
        let h2 = self.orbit_radius_m.powi(2) * (way.after.x.powi(2) + way.after.y.powi(2));
        let e = (1.0 + way.twice_energy * h2 / (gm * gm)).max(0.0).sqrt();
        h2 / (gm * (1.0 + e))
    }

    /// The way with the least energy afterwards that comes to the wanted periapsis on its way in.
    fn best_way(&self, steepness: f64) -> Option<Way> {
        let miss = |about: f64| {
            self.periapsis_m(&self.way(steepness, about)) - self.arrival.periapsis_radius_m
        };
        let mut best: Option<Way> = None;
        let place = |i: u32| TAU * f64::from(i) / f64::from(TURNS);
        for i in 0..TURNS {
            let Some(about) = bracketed_root(miss, place(i), place(i + 1), 1e-10) else {
                continue;
            };
            let way = self.way(steepness, about);
            let inward = way.after.z < 0.0;
            if inward && best.is_none_or(|best| way.twice_energy < best.twice_energy) {
                best = Some(way);
            }
        }
        best
    }

    /// Turn that would leave an orbit inside the loosest apoapsis, whatever its periapsis, rad.
    fn wanted_rad(&self, way: &Way) -> Option<f64> {
        let arrival = self.arrival;
        let loosest = Conic::ellipse(
            arrival.gm_m3_s2,
            arrival.periapsis_radius_m,
            arrival.loosest_m,
        );
        let needed = loosest.speed_at_m_s(self.orbit_radius_m);
        let (w, v_m) = (way.relative.norm(), self.moon_speed_m_s);
        // Angles against the direction in which the speed after the flyby is least.
        let cosine = (v_m * v_m + w * w - needed * needed) / (2.0 * v_m * w);
        if cosine > 1.0 {
            return None;
        }
        let allowed = libm::acos(cosine.max(-1.0));
        let now = libm::acos((-way.relative.x / w).clamp(-1.0, 1.0));
        Some((now - allowed).max(0.0))
    }
}

/// The flyby that leaves the least energy with the wanted periapsis; `None` where no way past the moon, at its
/// lowest allowed altitude, comes to that periapsis.
#[must_use]
pub fn best_flyby(arrival: &FlybyArrival, moon: &Moon) -> Option<Flyby> {
    let gm = arrival.gm_m3_s2;
    let radius = moon.orbit_radius_m;
    let meeting = Meeting {
        arrival,
        orbit_radius_m: radius,
        moon_speed_m_s: (gm / radius).sqrt(),
        speed_m_s: (arrival.excess_speed_m_s.powi(2) + 2.0 * gm / radius).sqrt(),
        moon,
    };
    let energy = |steepness: f64| {
        meeting
            .best_way(steepness)
            .map_or(f64::INFINITY, |way| way.twice_energy)
    };
    // About the steepness that leads to the wanted periapsis without the moon, as far as the moon can mend it.
    // Straight down no plane is left; the horizon is where the ship stays outside.
    let before = Conic::hyperbola(gm, arrival.periapsis_radius_m, arrival.excess_speed_m_s);
    let level =
        before.periapsis_speed_m_s() * arrival.periapsis_radius_m / (radius * meeting.speed_m_s);
    let free = libm::acos(level.clamp(-1.0, 1.0));
    let bent = meeting.way(free, 0.0);
    let reach = 2.0 * bent.turn_rad * bent.relative.norm() / meeting.speed_m_s;
    let (from, to) = (
        (free - reach).max(0.0),
        (free + reach).min(FRAC_PI_2 - 1e-6),
    );
    let step = (to - from) / f64::from(ARRIVALS);
    let tried = (0..=ARRIVALS).map(|i| step.mul_add(f64::from(i), from));
    let (least, start) = tried
        .map(|steepness| (energy(steepness), steepness))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    if !least.is_finite() {
        return None;
    }
    let (low, high) = ((start - step).max(from), (start + step).min(to));
    let (finer, found) = bounded_minimum(energy, low, high, 1e-4 * step);
    let way = meeting.best_way(if found <= least { finer } else { start })?;
    let after = Conic {
        gm_m3_s2: gm,
        periapsis_radius_m: arrival.periapsis_radius_m,
        twice_energy: way.twice_energy,
    };
    let relative_speed_m_s = way.relative.norm();
    let wanted_rad = meeting.wanted_rad(&way);
    Some(Flyby {
        relative_speed_m_s,
        turn_rad: way.turn_rad,
        wanted_rad,
        flybys: wanted_rad.and_then(|wanted| flybys_needed(wanted, way.turn_rad)),
        after,
        inclination_rad: libm::atan2(way.after.y.abs(), way.after.x),
        argument_of_periapsis_rad: after.anomaly_at_radius(radius),
        speed_change_m_s: 2.0 * relative_speed_m_s * libm::sin(0.5 * way.turn_rad),
        to_periapsis_s: after.time_from_radius_s(radius),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Curtis, Orbital Mechanics for Engineering Students, Venus flyby (from memory, and computed): mu 324,900,
    /// periapsis 6352 km, 3.733 km/s: 103.6 deg; tolerance 1e-3. Jupiter, 78,641.2 km, 10 km/s: 140.627943 deg and
    /// 18.831054 km/s,
    /// computed from the equations by an independent program; tolerance 1e-8.
    #[test]
    fn turn_angles_are_the_published_and_computed_ones() {
        let venus = turn_angle_rad(324_900e9, 6.352e6, 3733.0).to_degrees();
        assert!((venus / 103.606 - 1.0).abs() < 1e-5, "{venus}");
        let gm = 126_686_531.9e9;
        let jupiter = turn_angle_rad(gm, 78_641.2e3, 10e3);
        assert!((jupiter.to_degrees() / 140.627_943 - 1.0).abs() < 1e-8);
        let change = 2.0 * 10e3 * libm::sin(0.5 * jupiter);
        // Printed to the millimetre a second.
        assert!((change - 18_831.054).abs() < 5e-4, "{change}");
    }

    #[test]
    fn a_turn_beyond_one_flyby_takes_more_of_them() {
        let most = 0.4;
        for (wanted, count) in [
            (0.0, 0),
            (0.1, 1),
            (0.4, 1),
            (0.400_001, 2),
            (1.2, 3),
            (1.21, 4),
        ] {
            assert_eq!(flybys_needed(wanted, most), Some(count), "{wanted}");
        }
        assert_eq!(flybys_needed(0.1, 0.0), None);
        assert_eq!(flybys_needed(f64::NAN, most), None);
    }

    fn moon(gm_m3_s2: f64) -> Moon {
        Moon {
            name: "Test".to_owned(),
            gm_m3_s2,
            radius_m: 2.28e6,
            orbit_radius_m: 7.6e8,
            lowest_flyby_altitude_m: 1e5,
        }
    }

    fn arrival(inclination_rad: f64) -> FlybyArrival {
        FlybyArrival {
            gm_m3_s2: 6.0e16,
            excess_speed_m_s: 4000.0,
            inclination_rad,
            periapsis_radius_m: 6.3e7,
            loosest_m: 1e10,
        }
    }

    /// In the plane of the moon the flyby is a turn of the relative velocity in that plane: the speed before and
    /// after against the moon is the same, the turn is the one asked for, and the orbit is the one of the state.
    #[test]
    fn a_flyby_keeps_the_speed_against_the_moon_and_leaves_the_orbit_of_its_state() {
        let arrival = arrival(0.0);
        let moon = moon(7.3e12);
        let flyby = best_flyby(&arrival, &moon).expect("a way");
        let gm = arrival.gm_m3_s2;
        let v_m = (gm / moon.orbit_radius_m).sqrt();
        // Velocity after, from the orbit alone: level part by the angular momentum, the rest inward.
        let level =
            flyby.after.periapsis_speed_m_s() * arrival.periapsis_radius_m / moon.orbit_radius_m;
        let speed = flyby.after.speed_at_m_s(moon.orbit_radius_m);
        let w2 = speed * speed + v_m * v_m - 2.0 * v_m * level;
        assert!((w2.sqrt() / flyby.relative_speed_m_s - 1.0).abs() < 1e-6);
        let before = arrival.excess_speed_m_s.powi(2);
        assert!(flyby.after.twice_energy < before);
        // Tisserand: the energy against the moon's frame is kept, so energy falls with angular momentum.
        let jacobi = |twice_energy: f64, along: f64| twice_energy - 2.0 * v_m * along;
        let v2 = before + 2.0 * gm / moon.orbit_radius_m;
        let along_before = (v2 + v_m * v_m - flyby.relative_speed_m_s.powi(2)) / (2.0 * v_m);
        let kept = jacobi(flyby.after.twice_energy, level) - jacobi(before, along_before);
        assert!(kept.abs() < 1e-6 * v_m * v_m, "{kept}");
    }

    #[test]
    fn a_heavier_moon_takes_more_and_a_feather_nothing() {
        let energy = |gm: f64| {
            let flyby = best_flyby(&arrival(0.3), &moon(gm)).expect("a way");
            flyby.after.twice_energy
        };
        let free = arrival(0.3).excess_speed_m_s.powi(2);
        assert!((energy(1e8) / free - 1.0).abs() < 1e-5);
        assert!(energy(7.3e12) < 0.95 * free);
        assert!(energy(2e13) < energy(7.3e12));
    }

    #[test]
    fn a_light_moon_needs_many_flybys_to_close_the_orbit() {
        let slow = FlybyArrival {
            excess_speed_m_s: 2500.0,
            ..arrival(0.0)
        };
        let light = best_flyby(&slow, &moon(1e12)).expect("a way");
        let wanted = light.wanted_rad.expect("some turn does");
        let count = light.flybys.expect("a count");
        assert!(count >= 2, "{count}");
        assert!(wanted <= f64::from(count) * light.turn_rad);
        assert!(wanted > f64::from(count - 1) * light.turn_rad);
        let heavy = best_flyby(&slow, &moon(4e13)).expect("a way");
        assert!(heavy.after.twice_energy < light.after.twice_energy);
    }
}
