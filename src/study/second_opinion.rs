//! Convective stagnation heating of a flown pass by every correlation that covers the gas.

use super::nose::Nose;
use crate::craft::convective::Stream;
use crate::craft::opinions::{Correlation, GasKind};
use crate::craft::validity::Departure;
use crate::pass::extremes::LogCubic;
use crate::pass::reference::Moment;
use crate::world::World;
use crate::world::gas::Species;

/// What one correlation gives for a pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Opinion {
    /// The correlation.
    pub correlation: Correlation,
    /// Peak flux, W/m².
    pub peak_flux_w_m2: f64,
    /// Heat load, J/m².
    pub load_j_m2: f64,
    /// What left the range of the correlation while its flux was above half its peak; of each quantity the value
    /// farthest outside.
    pub outside: Vec<Departure>,
}

/// Which kind of gas, as far as correlations of heating tell gases apart, the air of a world is. Air: 70 to 85 %
/// of nitrogen and 15 to 25 % of oxygen by volume; carbon dioxide: 90 % or more.
#[must_use]
pub fn gas_kind(world: &World) -> GasKind {
    let Some(gas) = world.gas() else {
        return GasKind::Other;
    };
    let part = |species| gas.mole_fraction(species);
    if (0.7..=0.85).contains(&part(Species::N2)) && (0.15..=0.25).contains(&part(Species::O2)) {
        GasKind::Air
    } else if part(Species::CO2) >= 0.9 {
        GasKind::CarbonDioxide
    } else {
        GasKind::Other
    }
}

/// What each correlation that covers the air of the world gives along a flown history for the nose that flies:
/// Sutton-Graves, with which passes are flown, first. Convection in a continuum alone.
#[must_use]
pub fn opinions(world: &World, history: &[Moment], nose: &Nose) -> Vec<Opinion> {
    let streams: Vec<(f64, Stream)> = history
        .iter()
        .filter(|moment| moment.felt.speed > 0.0)
        .map(|moment| {
            let felt = &moment.felt;
            let stream = Stream {
                density_kg_m3: 2.0 * felt.dynamic_pressure / (felt.speed * felt.speed),
                speed_m_s: felt.speed,
                nose_radius_m: nose.at(moment.time_s),
            };
            (moment.time_s, stream)
        })
        .collect();
    let all = Correlation::covering(gas_kind(world)).iter();
    all.map(|&correlation| opinion(correlation, &streams, world.heating_constant()))
        .collect()
}

fn opinion(correlation: Correlation, streams: &[(f64, Stream)], heating_constant: f64) -> Opinion {
    let flux: Vec<(f64, f64)> = streams
        .iter()
        .map(|(time, stream)| (*time, correlation.flux_w_m2(stream, heating_constant)))
        .collect();
    let (peak_flux_w_m2, load_j_m2) = peak_and_load(&flux);
    let mut outside: Vec<Departure> = Vec::new();
    for ((_, stream), (_, flux)) in streams.iter().zip(&flux) {
        if *flux < 0.5 * peak_flux_w_m2 {
            continue;
        }
        for departure in correlation.validity(stream).departures() {
            let same = |known: &&mut Departure| known.range.quantity == departure.range.quantity;
            match outside.iter_mut().find(same) {
                Some(known) if beyond(departure) > beyond(known) => *known = *departure,
                Some(_) => {}
                None => outside.push(*departure),
            }
        }
    }
    Opinion {
        correlation,
        peak_flux_w_m2,
        load_j_m2,
        outside,
    }
}

/// How far outside its range a value is, as a ratio.
fn beyond(departure: &Departure) -> f64 {
    let (range, value) = (departure.range, departure.value);
    (value / range.highest).max(range.lowest / value)
}

/// Peak and integral over time of a positive quantity known at moments up to about a second apart: by cubics
/// in its logarithm, with rates from the parabola through neighbours.
fn peak_and_load(points: &[(f64, f64)]) -> (f64, f64) {
    let log = |i: usize| points[i].1.max(f64::MIN_POSITIVE).ln();
    let chord = |i: usize| {
        let length = points[i + 1].0 - points[i].0;
        if length > 0.0 {
            (log(i + 1) - log(i)) / length
        } else {
            0.0
        }
    };
    let rate = |i: usize| {
        if i == 0 {
            return chord(0);
        }
        if i + 1 == points.len() {
            return chord(i - 1);
        }
        let (before, after) = (points[i].0 - points[i - 1].0, points[i + 1].0 - points[i].0);
        (chord(i - 1) * after + chord(i) * before) / (before + after).max(f64::MIN_POSITIVE)
    };
    let mut peak = points.iter().map(|point| point.1).fold(0.0, f64::max);
    let mut load = 0.0;
    for i in 0..points.len().saturating_sub(1) {
        let ((t0, q0), (t1, q1)) = (points[i], points[i + 1]);
        let cubic = LogCubic::new((q0, q1), (rate(i), rate(i + 1)), t1 - t0);
        peak = cubic.extreme().map_or(peak, |(_, inner)| peak.max(inner));
        // Simpson's rule.
        load += (t1 - t0) / 6.0 * (q0 + 4.0 * cubic.value(0.5) + q1);
    }
    (peak, load)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bell of width 4 s: its peak lies between points, its integral is peak · width · √2π.
    #[test]
    fn peak_and_load_of_a_bell_between_its_points() {
        let bell = |i: i32| {
            let time = f64::from(i) + 0.3;
            (time, 5e5 * (-0.5 * ((time - 30.0) / 4.0).powi(2)).exp())
        };
        let points: Vec<(f64, f64)> = (0..60).map(bell).collect();
        let (peak, load) = peak_and_load(&points);
        assert!((peak / 5e5 - 1.0).abs() < 1e-6, "{peak}");
        let expected = 5e5 * 4.0 * (2.0 * std::f64::consts::PI).sqrt();
        assert!((load / expected - 1.0).abs() < 1e-6, "{load} {expected}");
        assert_eq!(peak_and_load(&[]), (0.0, 0.0));
    }

    #[test]
    fn worlds_are_told_apart_by_their_gas() {
        for (name, kind) in [
            ("earth", GasKind::Air),
            ("tavrelle", GasKind::Air),
            ("mars", GasKind::CarbonDioxide),
            ("venus", GasKind::CarbonDioxide),
            ("titan", GasKind::Other),
            ("jupiter", GasKind::Other),
        ] {
            let world = World::bundled(name).expect("a bundled world");
            assert_eq!(gas_kind(&world), kind, "{name}");
        }
    }
}
