//! A moon's gravity first: the best flyby, then engine or air for what is left.

use super::air::{Search, air_costs};
use super::engine::engine_costs;
use super::row::{MoonFacts, Obstacle, Row, StretchKind, Way};
use super::setting::{Lead, Setting};
use crate::ensemble::Halt;
use crate::pass::flyby::{Flyby, FlybyArrival, best_flyby};
use crate::world::moon::Moon;

/// The rows of a moon: with engine, and with air.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn moon_rows(setting: &Setting<'_>, moon: &Moon) -> Result<Vec<Row>, Halt> {
    let planet = setting.case.problem.planet();
    let low = planet.equatorial_radius_m + setting.case.problem.aim().from_m.max(0.0);
    let mut rows = Vec::new();
    if setting.engine().is_some() {
        rows.push(row(setting, moon, (setting.wanted().periapsis_m, true))?);
    }
    rows.push(row(setting, moon, (low, false))?);
    Ok(rows)
}

fn row(
    setting: &Setting<'_>,
    moon: &Moon,
    (periapsis_radius_m, by_engine): (f64, bool),
) -> Result<Row, Halt> {
    let way = |burns| {
        let moon = moon.name.clone();
        if by_engine {
            Way::MoonThenEngine { moon, burns }
        } else {
            Way::MoonThenAir { moon }
        }
    };
    let arrival = FlybyArrival {
        gm_m3_s2: setting.gm(),
        excess_speed_m_s: setting.arrival.excess_speed_m_s,
        inclination_rad: setting.case.scenario.arrival.inclination_rad,
        periapsis_radius_m,
        loosest_m: setting.loosest_m(),
    };
    let name = &setting.arrival.name;
    let Some(flyby) = best_flyby(&arrival, moon) else {
        let closed = Obstacle::NoWayPast(moon.name.clone());
        return Ok(Row::new(name, way(0), Err(closed)));
    };
    let taken = arrival.excess_speed_m_s.powi(2) - flyby.after.twice_energy;
    let facts = Some(facts(setting, &flyby));
    if !(taken > 0.0) {
        let closed = Obstacle::MoonTakesNothing(moon.name.clone());
        return Ok(Row {
            moon: facts,
            ..Row::new(name, way(0), Err(closed))
        });
    }
    let lead = lead(setting, &flyby, taken);
    let mut row = if by_engine {
        let found = engine_costs(setting, &lead, flyby.after.twice_energy)?;
        Row {
            splits: found.tried,
            ..Row::new(name, way(found.burns), found.costs)
        }
    } else {
        Row::new(name, way(0), air_costs(setting, &lead, Search::Roughly)?)
    };
    row.moon = facts;
    Ok(row)
}

/// What precedes the braking at the planet.
fn lead(setting: &Setting<'_>, flyby: &Flyby, taken: f64) -> Lead {
    let mut lead = setting.lead();
    let arrival = &setting.case.scenario.arrival;
    let allowance = setting.capture.flyby_allowance_m_s;
    let mass_kg = setting.mass_kg() - lead.spent_kg;
    let used = setting.propellant_kg(mass_kg, allowance);
    if allowance > 0.0 && used.is_finite() {
        lead.spent_kg += used;
        lead.engine_speed_m_s += allowance;
    }
    lead.before.mass_factor = setting.mass_left(lead.spent_kg);
    lead.before.energy_shift = -taken;
    lead.before.plane_shift_rad = (
        flyby.inclination_rad - arrival.inclination_rad,
        flyby.argument_of_periapsis_rad - arrival.argument_of_periapsis_rad,
    );
    lead.note(StretchKind::FromMoon, flyby.to_periapsis_s);
    lead
}

fn facts(setting: &Setting<'_>, flyby: &Flyby) -> MoonFacts {
    let radius = setting.case.problem.planet().equatorial_radius_m;
    MoonFacts {
        relative_speed_m_s: flyby.relative_speed_m_s,
        turn_rad: flyby.turn_rad,
        wanted_rad: flyby.wanted_rad,
        flybys: flyby.flybys,
        twice_energy_after: flyby.after.twice_energy,
        inclination_rad: flyby.inclination_rad,
        apoapsis_altitude_m: flyby.after.apoapsis_radius_m().map(|far| far - radius),
    }
}
