//! A burn before entry, then one pass: how much has to be burned until every limit holds, and the front between.

use super::air::{Candidate, Search, candidates, told};
use super::row::{Break, Costs, NoAim, Obstacle, Row, Way};
use super::setting::{Lead, Setting};
use crate::ensemble::Halt;
use crate::pass::burn::Burner;
use crate::pass::conic::Conic;

/// Rounds of halving between the last burn that breaks a limit and the first that holds all.
const ROUNDS: u32 = 4;

/// A burn and what the pass after it may be aimed at.
struct Point {
    speed_change_m_s: f64,
    candidates: Vec<Candidate>,
}

impl Point {
    /// The costs of the candidate that delivers most while all holds or, where none holds, of the likeliest.
    fn costs(&self) -> Option<&Costs> {
        let all = || self.candidates.iter().map(|one| &one.costs);
        let holding = all().filter(|costs| costs.holds());
        holding
            .min_by(|a, b| a.order(b))
            .or_else(|| all().max_by(|a, b| a.held.lower.total_cmp(&b.held.lower)))
    }

    fn holds(&self) -> bool {
        self.costs().is_some_and(Costs::holds)
    }
}

/// A sweep over the burn before entry, the pass after each aimed as every pass is; the burn that delivers most is taken.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn sweep(setting: &Setting<'_>) -> Result<Row, Halt> {
    let way = |speed_change_m_s, air_brakes| Way::BurnThenAir {
        speed_change_m_s,
        air_brakes,
    };
    let name = &setting.arrival.name;
    if setting.engine().is_none() {
        return Ok(Row::new(name, way(0.0, true), Err(Obstacle::NoEngine)));
    }
    let most = most_speed_change(setting);
    let steps = setting.capture.sweep_steps;
    let mut points: Vec<Point> = Vec::new();
    let mut closed = Obstacle::NoAim(NoAim::NoApproach);
    for step in 0..=steps {
        // The whole of it would leave nothing for the air.
        let speed = most * f64::from(step) / f64::from(steps + 1);
        match point(setting, speed)? {
            Ok(point) => points.push(point),
            Err(obstacle) => closed = obstacle,
        }
    }
    if points.is_empty() {
        return Ok(Row::new(name, way(0.0, true), Err(closed)));
    }
    let ruling = close_in(setting, &mut points)?;
    let least = points.iter().find(|point| point.holds());
    let least = least.map(|point| point.speed_change_m_s);
    let swept: Vec<(f64, Costs)> = points
        .iter()
        .filter_map(|point| Some((point.speed_change_m_s, point.costs()?.clone())))
        .collect();
    let mut speeds = Vec::new();
    let mut all = Vec::new();
    for point in points {
        for candidate in point.candidates {
            speeds.push(point.speed_change_m_s);
            all.push(candidate);
        }
    }
    let (place, mut costs) = told(setting, &all)?;
    let speed_change_m_s = speeds[place];
    // The least burn is held up by what a smaller one breaks.
    if costs.holds() && least == Some(speed_change_m_s) {
        costs.ruling = ruling.or(costs.ruling);
    }
    let error_m_s = setting.capture.burns.size_sigma * speed_change_m_s;
    let air_brakes = !(costs.air_speed_m_s <= error_m_s);
    Ok(Row {
        sweep: swept,
        ..Row::new(name, way(speed_change_m_s, air_brakes), Ok(costs))
    })
}

/// Halves the gap below the least burn that holds every limit; gives what the last burn below it breaks.
fn close_in(setting: &Setting<'_>, points: &mut Vec<Point>) -> Result<Option<Break>, Halt> {
    let mut ruling = None;
    for round in 0..=ROUNDS {
        let Some(first) = points.iter().position(Point::holds) else {
            return Ok(None);
        };
        let Some(below) = first.checked_sub(1).and_then(|index| points.get(index)) else {
            return Ok(None);
        };
        ruling = below.costs().and_then(|costs| costs.ruling);
        let middle = 0.5 * (below.speed_change_m_s + points[first].speed_change_m_s);
        if round == ROUNDS {
            break;
        }
        match point(setting, middle)? {
            Ok(point) => points.insert(first, point),
            Err(_) => break,
        }
    }
    Ok(ruling)
}

/// The speed change, by the rocket equation, of an engine that does all the braking at the interface, m/s.
fn most_speed_change(setting: &Setting<'_>) -> f64 {
    let (gm, wanted) = (setting.gm(), setting.wanted());
    let planet = setting.case.problem.planet();
    let interface = planet.equatorial_radius_m + planet.interface_m;
    let arriving = Conic::hyperbola(gm, interface, setting.arrival.excess_speed_m_s);
    let left = Conic::ellipse(gm, interface, wanted.apoapsis_m);
    arriving.periapsis_speed_m_s() - left.periapsis_speed_m_s()
}

/// A burn of this speed change before entry and the aims of the pass after it.
fn point(setting: &Setting<'_>, speed_change_m_s: f64) -> Result<Result<Point, Obstacle>, Halt> {
    let lead = if speed_change_m_s == 0.0 {
        setting.lead()
    } else {
        match lead_with_burn(setting, speed_change_m_s) {
            Ok(lead) => lead,
            Err(obstacle) => return Ok(Err(obstacle)),
        }
    };
    let found = candidates(setting, &lead, Search::Roughly)?;
    Ok(found.map(|candidates| Point {
        speed_change_m_s,
        candidates,
    }))
}

/// The lead of a burn that ends at the entry interface.
fn lead_with_burn(setting: &Setting<'_>, speed_change_m_s: f64) -> Result<Lead, Obstacle> {
    let thruster = setting.thruster().ok_or(Obstacle::NoEngine)?;
    let planet = setting.case.problem.planet();
    let interface = planet.equatorial_radius_m + planet.interface_m;
    let mut lead = setting.lead();
    let mass_kg = setting.mass_kg() - lead.spent_kg;
    let periapsis = planet.equatorial_radius_m + setting.case.problem.aim().from_m.max(0.0);
    let burner = Burner {
        conic: Conic::hyperbola(setting.gm(), periapsis, setting.arrival.excess_speed_m_s),
        mass_kg,
        thruster,
        attitude: crate::pass::burn::Attitude::AgainstVelocity,
        farthest_m: setting.loosest_m(),
    };
    let speed_off_m_s = burner
        .speed_off_m_s(interface, speed_change_m_s)
        .map_err(|error| Obstacle::Engine(error.to_string()))?;
    let used = setting.propellant_kg(mass_kg, speed_change_m_s);
    lead.before.speed_off_m_s = speed_off_m_s;
    lead.before.errors = Some(setting.draws.clone());
    lead.spent_kg += used;
    lead.before.mass_factor = setting.mass_left(lead.spent_kg);
    lead.engine_speed_m_s += speed_change_m_s;
    if setting.thrust_is_known() {
        lead.thrust_m_s2 = thruster.thrust_n / (mass_kg - used);
    }
    lead.next_burn = 1;
    Ok(lead)
}
