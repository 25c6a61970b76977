//! A burn before entry, then one pass: how much has to be burned until every limit holds, and the front between.

use super::air::{Search, air_costs};
use super::row::{Break, Costs, NoAim, Obstacle, Row, Way};
use super::setting::{Lead, Setting};
use crate::ensemble::Halt;
use crate::pass::burn::Burner;
use crate::pass::conic::Conic;

/// Rounds of halving between the last burn that breaks a limit and the first that holds all.
const ROUNDS: u32 = 4;

/// A sweep over the burn before entry, the pass after each aimed, within its safe band, where the least propellant is needed.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn sweep(setting: &Setting<'_>) -> Result<Row, Halt> {
    let row = |costs| {
        let way = Way::BurnThenAir {
            speed_change_m_s: 0.0,
        };
        Row::new(&setting.arrival.name, way, costs)
    };
    if setting.engine().is_none() {
        return Ok(row(Err(Obstacle::NoEngine)));
    }
    let most = most_speed_change(setting);
    let steps = setting.capture.sweep_steps;
    let mut points: Vec<(f64, Costs)> = Vec::new();
    let mut closed = Obstacle::NoAim(NoAim::NoApproach);
    for step in 0..=steps {
        // The whole of it would leave nothing for the air.
        let speed = most * f64::from(step) / f64::from(steps + 1);
        match point(setting, speed)? {
            Ok(costs) => points.push((speed, costs)),
            Err(obstacle) => closed = obstacle,
        }
    }
    let ruling = close_in(setting, &mut points)?;
    let total = |costs: &Costs| costs.reserve_kg.unwrap_or(f64::INFINITY);
    let holding = points.iter().filter(|(_, costs)| costs.holds);
    let least = holding.min_by(|a, b| total(&a.1).total_cmp(&total(&b.1)));
    let nearest = points
        .iter()
        .max_by(|a, b| a.1.held.lower.total_cmp(&b.1.held.lower));
    let Some((speed_change_m_s, mut costs)) = least.or(nearest).cloned() else {
        return Ok(row(Err(closed)));
    };
    // The least burn is held up by what a smaller one breaks.
    let first = points.iter().find(|(_, costs)| costs.holds);
    if first.is_some_and(|(speed, _)| *speed == speed_change_m_s) {
        costs.ruling = ruling.or(costs.ruling);
    }
    Ok(Row {
        sweep: points,
        ..Row::new(
            &setting.arrival.name,
            Way::BurnThenAir { speed_change_m_s },
            Ok(costs),
        )
    })
}

/// Halves the gap below the least burn that holds every limit; gives what the last burn below it breaks.
fn close_in(setting: &Setting<'_>, points: &mut Vec<(f64, Costs)>) -> Result<Option<Break>, Halt> {
    let mut ruling = None;
    for round in 0..=ROUNDS {
        let Some(first) = points.iter().position(|(_, costs)| costs.holds) else {
            return Ok(None);
        };
        let Some((below, costs)) = first.checked_sub(1).and_then(|index| points.get(index)) else {
            return Ok(None);
        };
        ruling = costs.ruling;
        let middle = 0.5 * (below + points[first].0);
        if round == ROUNDS {
            break;
        }
        match point(setting, middle)? {
            Ok(costs) => points.insert(first, (middle, costs)),
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

/// What a burn of this speed change before entry and the pass after it cost.
fn point(setting: &Setting<'_>, speed_change_m_s: f64) -> Result<Result<Costs, Obstacle>, Halt> {
    if speed_change_m_s == 0.0 {
        return air_costs(setting, &setting.lead(), Search::Cheapest);
    }
    match lead_with_burn(setting, speed_change_m_s) {
        Ok(lead) => air_costs(setting, &lead, Search::Cheapest),
        Err(obstacle) => Ok(Err(obstacle)),
    }
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
