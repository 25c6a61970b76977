//! What a history of moments gives: its peaks, lows and stays, found between its steps as in the lanes.

use super::dynamics::Felt;
use super::ending::{Ending, PassResult, bare_result};
use super::extremes::look_inside;
use super::models::Models;
use super::reference::Moment;
use super::settings::Settings;
use super::stays::Stays;
use super::trace::Trace;

/// Peaks, lows and stays along a history. `jumps` are the places in it at which the ship changed, with what was
/// felt from then on.
pub(super) fn gather(
    models: &Models,
    settings: &Settings,
    (history, jumps): (&[Moment], &[(usize, Felt<f64>)]),
    ending: Ending,
) -> PassResult {
    let last = history[history.len() - 1];
    let mut result = PassResult {
        duration_s: last.time_s,
        heat_load_j_m2: last.state[6],
        speed_lost_m_s: last.state[7],
        end_relative_speed_m_s: last.felt.speed,
        lowest_altitude_m: f64::INFINITY,
        ..bare_result(models, &last.state, ending)
    };
    let raise = |peak: &mut f64, value: f64| *peak = peak.max(value);
    for moment in history {
        let felt = &moment.felt;
        raise(&mut result.peak_deceleration_m_s2, felt.deceleration);
        raise(
            &mut result.onset_m_s3,
            felt.deceleration * felt.deceleration_log_rate,
        );
        raise(&mut result.peak_heat_flux_w_m2, felt.heat_flux);
        raise(&mut result.peak_dynamic_pressure_pa, felt.dynamic_pressure);
        result.lowest_altitude_m = result.lowest_altitude_m.min(felt.altitude);
    }
    let mut trace = Trace::default();
    let mut next_jump = jumps.iter().peekable();
    let mut stays = Stays::default();
    let mut note = |time_s: f64, felt: &Felt<f64>| {
        trace.push(time_s, felt.deceleration, felt.deceleration_log_rate);
    };
    for (place, pair) in history.windows(2).enumerate() {
        let (mut a, b, h) = (
            &pair[0].felt,
            &pair[1].felt,
            pair[1].time_s - pair[0].time_s,
        );
        note(pair[0].time_s, a);
        if let Some((_, felt)) = next_jump.next_if(|(at, _)| *at == place) {
            a = felt;
            note(pair[0].time_s, a);
        }
        let inside = look_inside(a, b, h);
        raise(&mut result.peak_deceleration_m_s2, inside.deceleration);
        raise(&mut result.onset_m_s3, inside.rise);
        raise(&mut result.peak_heat_flux_w_m2, inside.heat_flux);
        raise(&mut result.peak_dynamic_pressure_pa, inside.pressure);
        result.lowest_altitude_m = result.lowest_altitude_m.min(inside.lowest);
        stays.note(&settings.levels, (a, b), h);
    }
    note(last.time_s, &last.felt);
    result.exposure = settings.curves.exposure(&trace);
    result.times_above = stays.times(&settings.levels);
    result
}
