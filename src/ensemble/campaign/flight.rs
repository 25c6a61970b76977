//! One campaign between its passes: from one apoapsis to the air, and from the air to the next apoapsis.

use super::super::problem::{Numbers, SampleNumber};
use super::forecast::{Estimate, Outlook, outlook};
use super::luck::{Weather, wind};
use super::plan::Plan;
use super::record::{CampaignEnding, CampaignResult, FlownCampaign, PassRow, Phase};
use super::rule::{Ahead, BandNow, band, burn_m_s};
use super::start::Starts;
use crate::numeric::Vec3;
use crate::numeric::elementary::ln;
use crate::pass::coast::{Coast, Until, coast};
use crate::pass::dynamics::{position, velocity};
use crate::pass::orbit::{Orbit, speed_between_apsides};
use crate::pass::{Ending, EntryState, PassResult, Sample};
use crate::scenario::uncertainty::Number;

/// What is known of the pass that is being flown.
#[derive(Debug, Clone, Copy)]
struct Pending {
    row: PassRow,
    outlook: Outlook,
    band: BandNow,
}

/// One campaign on its way.
pub(super) struct Flight<'p> {
    pub(super) plan: &'p Plan<'p>,
    pub(super) number: u64,
    numbers: Numbers,
    /// At an apoapsis, unless a pass is being flown.
    pub(super) position: Vec3<f64>,
    pub(super) velocity: Vec3<f64>,
    pub(super) time_s: f64,
    last_air_s: f64,
    pub(super) mass_kg: f64,
    /// Periapsis speed on the first closed orbit.
    pub(super) first_speed_m_s: f64,
    walked: u32,
    weather: Weather,
    estimate: Estimate,
    pending: Option<Pending>,
    arrival: Option<f64>,
    pub(super) result: CampaignResult,
    pub(super) squares: f64,
    rows: Option<Vec<PassRow>>,
    pub(super) over: bool,
}

impl<'p> Flight<'p> {
    /// A campaign at its start; `rows` says whether its passes are kept.
    pub(super) fn new(plan: &'p Plan<'p>, starts: &Starts<'_>, number: u64, rows: bool) -> Self {
        let numbers = plan.problem.numbers(number);
        let nowhere = Vec3::new(f64::NAN, f64::NAN, f64::NAN);
        let mut flight = Self {
            plan,
            number,
            position: nowhere,
            velocity: nowhere,
            time_s: 0.0,
            last_air_s: 0.0,
            mass_kg: numbers[Number::ShipMass as usize],
            first_speed_m_s: f64::NAN,
            walked: 0,
            weather: Weather::default(),
            estimate: Estimate::default(),
            pending: None,
            arrival: None,
            result: CampaignResult::new(number, 0.0),
            squares: 0.0,
            rows: rows.then(Vec::new),
            over: false,
            numbers,
        };
        let orbit = match starts {
            Starts::Arrival { aim_m } => {
                flight.arrival = Some(*aim_m);
                return flight;
            }
            Starts::Same(orbit) => *orbit,
            Starts::Each(orbit) => orbit(number),
        };
        flight.mass_kg = orbit.mass_kg;
        match orbit.state(&plan.models.planet) {
            Some((position, velocity)) => {
                (flight.position, flight.velocity) = (position, velocity);
            }
            None => flight.end(CampaignEnding::NoApproach),
        }
        flight
    }

    /// Start and sample of the next pass through the air; `None` when the campaign is over.
    pub(super) fn launch(&mut self) -> Option<(EntryState, Sample<f64>)> {
        if let Some(aim_m) = self.arrival.take() {
            return self.arrive(aim_m);
        }
        while !self.over {
            let down = self.descend()?;
            if down.meets_air {
                return Some(self.enter(&down));
            }
            self.stay_above(&down);
        }
        None
    }

    /// The arrival as it comes, with the luck of the sample of the same number.
    fn arrive(&mut self, aim_m: f64) -> Option<(EntryState, Sample<f64>)> {
        let problem = self.plan.problem;
        let flown = problem.launch(aim_m, &self.numbers, SampleNumber::Of(self.number));
        let Some((start, sample)) = flown else {
            self.end(CampaignEnding::NoApproach);
            return None;
        };
        if !start.meets_air {
            self.end(CampaignEnding::Escaped);
            return None;
        }
        let down = Coast {
            position: start.position,
            velocity: start.velocity,
            duration_s: 0.0,
            meets_air: true,
        };
        let control = &self.plan.rule.control;
        let band = BandNow {
            low: control.low,
            high: control.high,
            target: control.target,
            phase: Phase::Arrival,
        };
        let outlook = self.outlook(&down);
        self.expect(&down, outlook, (band, 0.0));
        Some((start, sample))
    }

    fn outlook(&self, down: &Coast) -> Outlook {
        let plan = self.plan;
        outlook(
            (&plan.models, &plan.open),
            plan.gauge,
            &plan.known(self.mass_kg),
            down,
        )
    }

    /// Period of the orbit at the apoapsis, s; NaN on the way in from far away.
    fn period_s(&self) -> f64 {
        let gm = self.plan.models.planet.gm_m3_s2;
        let orbit = Orbit::from_state(gm, self.position, self.velocity);
        let period = orbit.period_s(gm).filter(|period| *period > 0.0);
        period.unwrap_or(f64::NAN)
    }

    fn ahead<'o>(&self, outlook: &'o Outlook) -> Ahead<'o> {
        Ahead {
            apoapsis_m: self.position.norm(),
            outlook,
            ln_ratio: self.estimate.ln_ratio(),
        }
    }

    /// From an apoapsis down to the air or to the periapsis, with the trim that the rule asks for.
    fn descend(&mut self) -> Option<Coast> {
        let (plan, rule) = (self.plan, self.plan.rule);
        let altitude_m = self.position.norm() - plan.models.planet.equatorial_radius_m;
        let speed_m_s = self.velocity.norm();
        if self.first_speed_m_s.is_nan() {
            let orbit =
                Orbit::from_state(plan.models.planet.gm_m3_s2, self.position, self.velocity);
            let (r_p, r_a) = (orbit.periapsis_radius_m, self.position.norm());
            self.first_speed_m_s =
                speed_between_apsides(plan.models.planet.gm_m3_s2, r_p, r_p, r_a);
        }
        if altitude_m <= rule.target_apoapsis_m {
            self.reach();
            return None;
        }
        if self.result.passes >= rule.most_passes {
            self.end(CampaignEnding::OutOfPasses);
            return None;
        }
        if self.time_s > rule.longest_s {
            self.end(CampaignEnding::OutOfTime);
            return None;
        }
        let mut down = self.coast(Until::Air)?;
        let mut outlook = self.outlook(&down);
        let ahead = self.ahead(&outlook);
        let band = band(rule, &plan.models.planet, self.walked, &ahead);
        let expected = ahead.expected();
        let mut trim = 0.0;
        if !(band.low..=band.high).contains(&expected) {
            let known = plan.known(self.mass_kg);
            let asked = (band.target, ahead.ln_ratio);
            let climb = plan.gauge.climb_m((&plan.models, &known), &outlook, asked);
            let gm = plan.models.planet.gm_m3_s2;
            let wanted = burn_m_s(gm, (self.position.norm(), speed_m_s), climb);
            if wanted.abs() > rule.trims.smallest_m_s {
                trim = wanted.clamp(-rule.trims.largest_m_s, rule.trims.largest_m_s);
                self.burn(trim);
                down = self.coast(Until::Air)?;
                outlook = self.outlook(&down);
            }
        }
        self.result.passes += 1;
        self.expect(&down, outlook, (band, trim));
        self.walked = self.walked.saturating_add(1);
        Some(down)
    }

    /// Coasts on; a flight on an open orbit never comes to its end, any other that does not is a failure.
    fn coast(&mut self, until: Until) -> Option<Coast> {
        let flown = coast(
            &self.plan.models.planet,
            self.position,
            self.velocity,
            until,
        );
        if flown.is_none() {
            let gm = self.plan.models.planet.gm_m3_s2;
            let orbit = Orbit::from_state(gm, self.position, self.velocity);
            self.end(if orbit.twice_energy >= 0.0 {
                CampaignEnding::Escaped
            } else {
                CampaignEnding::Failed
            });
        }
        flown
    }

    /// Notes what is expected of the pass ahead.
    fn expect(&mut self, down: &Coast, outlook: Outlook, (band, trim): (BandNow, f64)) {
        let plan = self.plan;
        let start_s = self.time_s + down.duration_s;
        let h = down.position.cross(down.velocity);
        let node_rad = libm::atan2(h.x, -h.y);
        let line = Vec3::new(libm::cos(node_rad), libm::sin(node_rad), 0.0);
        let low = outlook.position;
        let row = PassRow {
            pass: self.result.passes,
            phase: band.phase,
            time_s: start_s,
            apoapsis_altitude_m: self.position.norm() - plan.models.planet.equatorial_radius_m,
            period_s: self.period_s(),
            vacuum_altitude_m: outlook.altitude_m,
            latitude_rad: libm::asin((low.z / low.norm()).clamp(-1.0, 1.0)),
            node_rad,
            argument_of_periapsis_rad: libm::atan2(low.dot(h.unit().cross(line)), low.dot(line)),
            band: (band.low, band.high),
            expected: self.ahead(&outlook).expected(),
            trim_m_s: trim,
            mass_kg: self.mass_kg,
            ..PassRow::default()
        };
        self.pending = Some(Pending { row, outlook, band });
    }

    /// The state at the entry of the pass that was noted, and the air it meets.
    fn enter(&mut self, down: &Coast) -> (EntryState, Sample<f64>) {
        let plan = self.plan;
        let start = EntryState {
            position: down.position,
            velocity: down.velocity,
            meets_air: true,
        };
        let pass = self.result.passes;
        let scores = plan.luck.scores(self.number, pass);
        let since_s = self.time_s + down.duration_s - self.last_air_s;
        self.weather
            .advance(plan.rule.memory.correlation(since_s), &scores);
        self.time_s += down.duration_s;
        self.last_air_s = self.time_s;
        let air = plan.luck.air(
            (self.number, pass),
            &self.weather,
            (&self.numbers, wind(&scores)),
            &start,
        );
        let scout = plan.scout(&self.numbers, self.mass_kg);
        let sample = Sample {
            vehicle: scout.vehicle,
            air,
            lifting: scout.lifting,
        };
        (start, sample)
    }

    /// A round whose periapsis lies above the air.
    fn stay_above(&mut self, down: &Coast) {
        self.time_s += down.duration_s;
        self.last_air_s = self.time_s;
        (self.position, self.velocity) = (down.position, down.velocity);
        if let Some(mut pending) = self.pending.take() {
            pending.row.lowest_altitude_m = pending.outlook.altitude_m;
            self.keep(&pending.row);
        }
        self.climb();
    }

    /// On to the next apoapsis.
    fn climb(&mut self) {
        if let Some(up) = self.coast(Until::Apoapsis) {
            self.time_s += up.duration_s;
            (self.position, self.velocity) = (up.position, up.velocity);
        }
    }

    /// Takes in the pass that was launched.
    pub(super) fn take_in(&mut self, pass: &PassResult) {
        let Some(Pending {
            mut row,
            outlook,
            band,
        }) = self.pending.take()
        else {
            return;
        };
        let plan = self.plan;
        let scout = plan.scout(&self.numbers, self.mass_kg);
        let (heat_flux, heat_load) = plan.gauge.heat(pass, (&plan.models, &scout), &outlook);
        let judged = PassResult {
            peak_heat_flux_w_m2: heat_flux,
            heat_load_j_m2: heat_load,
            ..*pass
        };
        let numbers = plan.problem.judging_numbers(self.number);
        let believed = plan.without_heating_errors(&self.numbers, self.mass_kg);
        let ships = [&scout, &believed];
        let reckoned = plan
            .gauge
            .reckoned((pass, heat_flux), (&plan.models, ships), &outlook);
        row.met = plan.gauge.met(pass, reckoned);
        row.lowest_altitude_m = pass.lowest_altitude_m;
        row.deceleration_m_s2 = pass.peak_deceleration_m_s2;
        row.heat_flux_w_m2 = heat_flux;
        row.heat_load_j_m2 = heat_load;
        row.dynamic_pressure_pa = pass.peak_dynamic_pressure_pa;
        row.air_speed_m_s = pass.speed_lost_m_s;
        row.broken = plan.problem.limits().broken(&judged, &numbers) & plan.watched;
        self.worst(&row, pass.onset_m_s3);
        if matches!(band.phase, Phase::Main | Phase::WalkOut) {
            let count = &mut self.result.band;
            count.passes += 1;
            count.below += u32::from(row.met < band.low);
            count.above += u32::from(row.met > band.high);
            let miss = ln(row.met.max(f64::MIN_POSITIVE) / row.expected);
            self.squares += miss * miss;
        }
        // The arrival flies in other air, and is slowed down before its peak: it teaches nothing.
        if band.phase != Phase::Arrival {
            let weight = plan.rule.weight_of_last;
            self.estimate.take((row.met, outlook.value), weight);
        }
        self.keep(&row);
        self.time_s += pass.duration_s;
        (self.position, self.velocity) = (position(&pass.end_state), velocity(&pass.end_state));
        match pass.ending {
            Ending::Captured => self.climb(),
            Ending::Escaped => self.end(CampaignEnding::Escaped),
            Ending::Landed | Ending::OutOfTime => self.end(CampaignEnding::Decayed),
            Ending::Failed | Ending::NoApproach => self.end(CampaignEnding::Failed),
        }
    }

    fn worst(&mut self, row: &PassRow, onset_m_s3: f64) {
        let result = &mut self.result;
        for (worst, value) in [
            (&mut result.worst_deceleration_m_s2, row.deceleration_m_s2),
            (&mut result.worst_onset_m_s3, onset_m_s3),
            (&mut result.worst_heat_flux_w_m2, row.heat_flux_w_m2),
            (&mut result.worst_heat_load_j_m2, row.heat_load_j_m2),
            (
                &mut result.worst_dynamic_pressure_pa,
                row.dynamic_pressure_pa,
            ),
        ] {
            *worst = worst.max(value);
        }
        result.air_speed_m_s += row.air_speed_m_s;
        result.broken |= row.broken;
        result.passes_broken += u32::from(row.broken != 0);
    }

    fn keep(&mut self, row: &PassRow) {
        let lowest = &mut self.result.lowest_altitude_m;
        *lowest = lowest.min(row.lowest_altitude_m);
        if let Some(rows) = &mut self.rows {
            rows.push(*row);
        }
    }

    /// What the campaign gave; `None` while it is not over.
    pub(super) fn finish(self) -> Option<FlownCampaign> {
        self.over.then(|| FlownCampaign {
            result: self.result,
            rows: self.rows.unwrap_or_default(),
            numbers: self.numbers,
        })
    }
}
