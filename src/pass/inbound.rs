//! The way in from far outside to the entry interface along a conic whose energy follows from the place of the
//! crossing, since the elements of an approach are osculating there.
//!
//! Places are counted by the angle φ from the far end of the line of apsides in the direction of motion: 0 at the
//! apoapsis (or opposite to the periapsis of a hyperbola), π at the periapsis. So steep entries, which cross near
//! φ = 0, are told apart as finely as shallow ones.

use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::numeric::root::bounded_minimum;
use crate::world::Planet;
use std::f64::consts::{PI, TAU};

/// What fixes the energy at the crossing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Pace {
    /// Twice the specific energy with its share of the zonal harmonics, m²/s².
    Energy(f64),
    /// Inertial speed at the crossing, m/s.
    Speed(f64),
}

/// A line of apsides in space with its periapsis, and how fast the ship comes along it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Inbound {
    /// Direction of the periapsis.
    pub(super) toward: Vec3<f64>,
    /// Direction of motion at the periapsis.
    pub(super) along: Vec3<f64>,
    pub(super) periapsis_radius_m: f64,
    pub(super) pace: Pace,
    /// Speed taken off by a burn at the crossing, m/s; the conic is that after it.
    pub(super) speed_off_m_s: f64,
}

/// A place on the way in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crossing {
    /// Place φ, rad.
    pub(super) place: f64,
    /// Eccentricity less 1 of the conic that osculates there.
    pub(super) opening: f64,
    /// Whether the conic meets the interface there; else the place is that of its lowest altitude.
    pub(super) meets_air: bool,
}

/// The conic seen from one place against the interface above it.
#[derive(Debug, Clone, Copy)]
struct Look {
    /// Eccentricity less 1.
    opening: f64,
    /// Distance of the interface, m.
    interface_m: f64,
    /// Semi-latus rectum over the distance of the conic.
    reach: f64,
    /// Positive where the conic lies below the interface: the latter's distance times `reach`, less the semi-latus
    /// rectum, m.
    below: f64,
    /// Nearly its slope in the place, m.
    slope: f64,
}

/// From this eccentricity on the altitude along the conic has one low and the interface is crossed once on the way
/// in: about the flattest world an altitude bends by e/(1 + e) of the periapsis radius or more at periapsis, the
/// surface by twice its flattening (0.1 and less) at the most.
const ONE_LOW: f64 = 0.4;
/// Places looked at on a rounder conic.
const LOOKS: u32 = 96;
/// How near the interface a crossing is, m.
const CLOSE_M: f64 = 2e-6;

impl Inbound {
    /// Twice the specific energy of the conic that osculates at a distance (m) and a sine of the latitude, m²/s².
    #[inline(always)]
    fn twice_energy(&self, planet: &Planet, radius: f64, sine: f64) -> f64 {
        let depth = 2.0 * planet.gm_m3_s2 / radius;
        match self.pace {
            Pace::Energy(twice) => {
                let osculating = twice - planet.zonal_energy(radius, sine);
                if self.speed_off_m_s == 0.0 {
                    return osculating;
                }
                self.slowed((osculating + depth).sqrt()) - depth
            }
            Pace::Speed(speed) => self.slowed(speed) - depth,
        }
    }

    /// Square of what a burn leaves of a speed, m²/s²; not a number where it leaves nothing.
    #[inline(always)]
    fn slowed(&self, speed: f64) -> f64 {
        let left = speed - self.speed_off_m_s;
        if left > 0.0 { left * left } else { f64::NAN }
    }

    #[inline(always)]
    fn look(&self, planet: &Planet, place: f64) -> Look {
        let (half, other_half) = sin_cos(0.5 * place);
        let (sine, cosine) = (2.0 * half * other_half, (2.0 * half).mul_add(-half, 1.0));
        let height = -cosine.mul_add(self.toward.z, sine * self.along.z);
        let height_slope = sine.mul_add(self.toward.z, -cosine * self.along.z);
        let (interface_m, by_square) = planet
            .ellipsoid
            .radius_and_slope(planet.interface_m, height * height);
        let interface_slope = 2.0 * by_square * height * height_slope;
        let gm = planet.gm_m3_s2;
        let r_p = self.periapsis_radius_m;
        let opening = r_p * self.twice_energy(planet, interface_m, height) / gm;
        let reach = (2.0 * half * half).mul_add(1.0 + opening, -opening);
        let opening_slope = match self.pace {
            Pace::Energy(_) => 0.0,
            Pace::Speed(_) => 2.0 * r_p * interface_slope / (interface_m * interface_m),
        };
        let turned = (interface_m * (1.0 + opening)).mul_add(sine, interface_slope * reach);
        Look {
            opening,
            interface_m,
            reach,
            below: interface_m.mul_add(reach, -(2.0 + opening) * r_p),
            slope: (-interface_m.mul_add(cosine, r_p)).mul_add(opening_slope, turned),
        }
    }

    /// The first crossing of the interface on the way in, or the lowest place of a conic that stays above it.
    ///
    /// `None` where the numbers fit no conic, or the conic does not come from above the interface, or meets it at a
    /// given speed only on its way up.
    #[inline(always)]
    pub(super) fn crossing(&self, planet: &Planet) -> Option<Crossing> {
        let nearest = self.look(planet, PI);
        if !(nearest.opening >= -1.0) {
            return None;
        }
        if nearest.opening < ONE_LOW - 1.0 {
            return self.crossing_of_round(planet);
        }
        if nearest.opening < 0.0 && !(self.look(planet, 0.0).below < 0.0) {
            return None;
        }
        if nearest.below > 0.0 {
            let found = self.close_in(planet, (0.0, PI), &nearest)?;
            return self.comes_down(planet, &found).then_some(found);
        }
        let above = |place: f64| -self.look(planet, place).below;
        let (lowest, above) = bounded_minimum(above, PI - 1.2, PI + 1.2, 1e-7);
        if above < 0.0 {
            let low = self.look(planet, lowest);
            let found = self.close_in(planet, (0.0, lowest), &low)?;
            self.comes_down(planet, &found).then_some(found)
        } else {
            self.lowest(planet, lowest)
        }
    }

    /// The same for a conic that may dip into the air more than once in a round.
    #[inline(always)]
    fn crossing_of_round(&self, planet: &Planet) -> Option<Crossing> {
        let step = TAU / f64::from(LOOKS);
        let mut before = self.look(planet, 0.0);
        let mut here = self.look(planet, step);
        if !(before.below < 0.0) {
            return None;
        }
        let mut lowest: Option<(f64, f64)> = None;
        for look in 1..LOOKS {
            let at = step * f64::from(look);
            let after = self.look(planet, at + step);
            if before.below < 0.0 && here.below > 0.0 {
                let found = self.close_in(planet, (at - step, at), &here)?;
                if self.is_first(planet, &found) {
                    return Some(found);
                }
            }
            if here.below <= 0.0 && here.below >= before.below && here.below >= after.below {
                let above = |place: f64| -self.look(planet, place).below;
                let (place, above) = bounded_minimum(above, at - step, at + step, 1e-7);
                if above < 0.0 {
                    let inner = self.look(planet, place);
                    let found = self.close_in(planet, (at - step, place), &inner)?;
                    if self.is_first(planet, &found) {
                        return Some(found);
                    }
                } else if lowest.is_none_or(|(_, other)| above < other) {
                    lowest = Some((place, above));
                }
            }
            (before, here) = (here, after);
        }
        self.lowest(planet, lowest?.0)
    }

    /// Whether the one conic of a crossing comes from above the interface and meets it there first: at a given speed
    /// each place has a conic of its own.
    #[inline(always)]
    fn is_first(&self, planet: &Planet, found: &Crossing) -> bool {
        let step = found.place / f64::from(LOOKS);
        for look in 0..LOOKS {
            if !self.is_above(planet, found, step * f64::from(look)) {
                return false;
            }
        }
        self.comes_down(planet, found)
    }

    /// Whether the conic of a crossing lies above the interface just before it.
    #[inline(always)]
    fn comes_down(&self, planet: &Planet, found: &Crossing) -> bool {
        self.is_above(planet, found, found.place * (1.0 - 1e-6))
    }

    /// Whether the conic of a crossing lies above the interface at another place.
    #[inline(always)]
    fn is_above(&self, planet: &Planet, found: &Crossing, place: f64) -> bool {
        let at = Crossing { place, ..*found };
        let (sine, cosine) = sin_cos(place);
        let height = -cosine.mul_add(self.toward.z, sine * self.along.z);
        let ellipsoid = &planet.ellipsoid;
        let (interface, _) = ellipsoid.radius_and_slope(planet.interface_m, height * height);
        // To the closeness of the crossing itself: a grazing conic lies in the interface.
        (interface - CLOSE_M) * Self::reach(&at) < (2.0 + found.opening) * self.periapsis_radius_m
    }

    /// The crossing between a place outside the interface and one inside it.
    #[inline(always)]
    fn close_in(
        &self,
        planet: &Planet,
        (mut outside, mut inside): (f64, f64),
        inner: &Look,
    ) -> Option<Crossing> {
        /// Rounds by slopes; those after them halve.
        const SLOPES: u32 = 40;
        /// Rounds in all.
        const MOST: u32 = 110;
        // Where a sphere of the size seen from inside is crossed.
        let share = (2.0 + inner.opening) * self.periapsis_radius_m / inner.interface_m;
        let square = (share + inner.opening) / (2.0 * (1.0 + inner.opening));
        let mut place = 2.0 * libm::asin(square.clamp(0.0, 1.0).sqrt());
        if !(place > outside && place < inside) {
            place = 0.5 * (outside + inside);
        }
        let mut last: Option<(f64, f64)> = None;
        for round in 0..MOST {
            let look = self.look(planet, place);
            if look.below.abs() <= CLOSE_M * look.reach {
                return Some(Crossing {
                    place,
                    opening: look.opening,
                    meets_air: true,
                });
            }
            if look.below > 0.0 {
                inside = place;
            } else {
                outside = place;
            }
            let slope = match last {
                Some((other, below)) if other != place => (look.below - below) / (place - other),
                _ => look.slope,
            };
            last = Some((place, look.below));
            let next = place - look.below / slope;
            let middle = 0.5 * (outside + inside);
            let fits = round < SLOPES && next > outside && next < inside;
            let next = if fits { next } else { middle };
            if next == place {
                break;
            }
            place = next;
        }
        // The places on either side are neighbours: no number lies nearer.
        let look = self.look(planet, place);
        (look.below.abs() <= 1e-3 * look.reach).then_some(Crossing {
            place,
            opening: look.opening,
            meets_air: true,
        })
    }

    /// The lowest altitude of a conic that stays above the interface, near a place.
    #[inline(never)]
    fn lowest(&self, planet: &Planet, near: f64) -> Option<Crossing> {
        // The energy at a place, of the conic that osculates there: all but the same at every round.
        let opening_at = |place: f64, from: f64| {
            let mut opening = from;
            for _ in 0..6 {
                let r = self.position(&Crossing {
                    place,
                    opening,
                    meets_air: false,
                });
                let twice = self.twice_energy(planet, r.norm(), r.z / r.norm());
                opening = self.periapsis_radius_m * twice / planet.gm_m3_s2;
            }
            opening
        };
        let (mut place, mut opening) = (near, opening_at(near, self.look(planet, near).opening));
        // The energy is that at the lowest place, and the place that of the conic of this energy.
        for _ in 0..30 {
            let altitude = |place: f64| {
                let here = Crossing {
                    place,
                    opening,
                    meets_air: false,
                };
                planet.altitude_at(self.position(&here))
            };
            let (lowest, _) = bounded_minimum(altitude, place - 0.3, place + 0.3, 1e-9);
            let moved = (lowest - place).abs();
            place = lowest;
            opening = opening_at(place, opening);
            if moved < 1e-7 {
                break;
            }
        }
        let found = Crossing {
            place,
            opening,
            meets_air: false,
        };
        (opening >= -1.0 && self.position(&found).norm().is_finite()).then_some(found)
    }

    #[inline(always)]
    fn reach(at: &Crossing) -> f64 {
        let half = sin_cos(0.5 * at.place).0;
        (2.0 * half * half).mul_add(1.0 + at.opening, -at.opening)
    }

    /// Position at a place, m.
    #[inline(always)]
    pub(super) fn position(&self, at: &Crossing) -> Vec3<f64> {
        let (sine, cosine) = sin_cos(at.place);
        let radius = (2.0 + at.opening) * self.periapsis_radius_m / Self::reach(at);
        self.along
            .scale_add(-radius * sine, self.toward.scale(-radius * cosine))
    }

    /// Velocity at a place, m/s.
    #[inline(always)]
    pub(super) fn velocity(&self, planet: &Planet, at: &Crossing) -> Vec3<f64> {
        let (sine, cosine) = sin_cos(at.place);
        let semi_latus = (2.0 + at.opening) * self.periapsis_radius_m;
        let scale = (planet.gm_m3_s2 / semi_latus).sqrt();
        let up = -scale * (1.0 + at.opening) * sine;
        let level = scale * Self::reach(at);
        // Outward is (-cos φ, -sin φ) along (periapsis, motion there), ahead (sin φ, -cos φ).
        self.along.scale_add(
            (-up).mul_add(sine, -level * cosine),
            self.toward.scale((-up).mul_add(cosine, level * sine)),
        )
    }
}
