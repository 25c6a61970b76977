//! Campaigns and their passes as tables.

use super::folder::slug;
use super::table::Column;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::LimitKind;
use crate::ensemble::campaign::{CampaignResult, PassRow};
use crate::study::campaign::{SpotWarmth, WarmPass};

/// One row a campaign.
#[must_use]
pub(super) fn campaigns(all: &[CampaignResult], limits: &[LimitKind]) -> Vec<Column> {
    let numbers = |name: &str, of: &dyn Fn(&CampaignResult) -> f64| {
        Column::new(name, all.iter().map(of).collect::<Vec<f64>>())
    };
    let whole = |name: &str, of: &dyn Fn(&CampaignResult) -> u64| {
        let of = |c| i64::try_from(of(c)).unwrap_or(i64::MAX);
        Column::new(name, all.iter().map(of).collect::<Vec<i64>>())
    };
    let texts = |name: &str, of: &dyn Fn(&CampaignResult) -> String| {
        Column::new(name, all.iter().map(of).collect::<Vec<String>>())
    };
    vec![
        whole("campaign", &|c| c.campaign),
        texts("ending", &|c| c.ending.word().to_owned()),
        whole("passes", &|c| c.passes.into()),
        numbers("days", &|c| c.days),
        whole("trims", &|c| c.trims.into()),
        numbers("trim_speed_m_s", &|c| c.trim_speed_m_s),
        numbers("final_burns_m_s", &|c| c.raise_speed_m_s),
        numbers("propellant_kg", &|c| c.propellant_kg),
        numbers("speed_taken_by_air_m_s", &|c| c.air_speed_m_s),
        numbers("engine_alone_m_s", &|c| c.engine_speed_m_s),
        numbers("propellant_saved_kg", &|c| c.saved_kg),
        numbers("worst_deceleration_g", &|c| c.worst_deceleration_m_s2 / G0),
        numbers("worst_onset_g_s", &|c| c.worst_onset_m_s3 / G0),
        numbers("worst_heat_flux_w_cm2", &|c| c.worst_heat_flux_w_m2 / 1e4),
        numbers("worst_heat_load_of_a_pass_j_cm2", &|c| {
            c.worst_heat_load_j_m2 / 1e4
        }),
        numbers("worst_dynamic_pressure_pa", &|c| {
            c.worst_dynamic_pressure_pa
        }),
        numbers("lowest_altitude_km", &|c| c.lowest_altitude_m / 1e3),
        whole("passes_counted", &|c| c.band.passes.into()),
        whole("passes_below_band", &|c| c.band.below.into()),
        whole("passes_above_band", &|c| c.band.above.into()),
        numbers("forecast_error_log", &|c| c.forecast_error),
        whole("passes_that_broke_a_limit", &|c| c.passes_broken.into()),
        texts("limits_broken", &|c| broken(c.broken, limits)),
        numbers("end_apoapsis_altitude_km", &|c| {
            c.end_apoapsis_altitude_m / 1e3
        }),
        numbers("end_periapsis_altitude_km", &|c| {
            c.end_periapsis_altitude_m / 1e3
        }),
        numbers("end_mass_kg", &|c| c.end_mass_kg),
    ]
}

/// One row a pass; `unit` and `factor` are those of the controlled quantity.
#[must_use]
pub(super) fn passes(
    all: &[(u64, &[PassRow])],
    (limits, walls): (&[LimitKind], &[SpotWarmth]),
    (unit, factor): (&str, f64),
) -> Vec<Column> {
    let each = || {
        all.iter()
            .flat_map(|(number, rows)| rows.iter().map(move |row| (*number, row)))
    };
    let numbers = |name: &str, of: &dyn Fn(&PassRow) -> f64| {
        Column::new(name, each().map(|(_, row)| of(row)).collect::<Vec<f64>>())
    };
    let whole = |number: u64| i64::try_from(number).unwrap_or(i64::MAX);
    let unit = unit.to_lowercase().replace('/', "_").replace('²', "2");
    let in_unit = |name: &str| format!("{name}_{unit}");
    let mut columns = vec![
        Column::new(
            "campaign",
            each()
                .map(|(number, _)| whole(number))
                .collect::<Vec<i64>>(),
        ),
        Column::new(
            "pass",
            each()
                .map(|(_, row)| i64::from(row.pass))
                .collect::<Vec<i64>>(),
        ),
        Column::new(
            "phase",
            each()
                .map(|(_, row)| row.phase.word().to_owned())
                .collect::<Vec<String>>(),
        ),
        numbers("time_d", &|row| row.time_s / 86_400.0),
        numbers("apoapsis_altitude_km", &|row| row.apoapsis_altitude_m / 1e3),
        numbers("period_h", &|row| row.period_s / 3600.0),
        numbers("vacuum_altitude_km", &|row| row.vacuum_altitude_m / 1e3),
        numbers("lowest_altitude_km", &|row| row.lowest_altitude_m / 1e3),
        numbers("latitude_of_periapsis_deg", &|row| {
            row.latitude_rad.to_degrees()
        }),
        numbers("argument_of_periapsis_deg", &|row| {
            row.argument_of_periapsis_rad.to_degrees()
        }),
        numbers("ascending_node_deg", &|row| row.node_rad.to_degrees()),
        numbers("trim_m_s", &|row| row.trim_m_s),
        numbers(&in_unit("band_low"), &|row| row.band.0 * factor),
        numbers(&in_unit("band_high"), &|row| row.band.1 * factor),
        numbers(&in_unit("expected"), &|row| row.expected * factor),
        numbers(&in_unit("met"), &|row| row.met * factor),
        numbers("peak_deceleration_g", &|row| row.deceleration_m_s2 / G0),
        numbers("peak_heat_flux_w_cm2", &|row| row.heat_flux_w_m2 / 1e4),
        numbers("heat_load_j_cm2", &|row| row.heat_load_j_m2 / 1e4),
        numbers("peak_dynamic_pressure_pa", &|row| row.dynamic_pressure_pa),
        numbers("speed_taken_by_air_m_s", &|row| row.air_speed_m_s),
        numbers("mass_kg", &|row| row.mass_kg),
        Column::new(
            "limits_broken",
            each()
                .map(|(_, row)| broken(row.broken, limits))
                .collect::<Vec<String>>(),
        ),
    ];
    for wall in walls {
        let name = slug(&wall.name).to_lowercase().replace(['-', '.'], "_");
        // The wall has an entry for each pass of a campaign that it was carried through.
        let warm_of = |number: u64| {
            let found = wall.campaigns.binary_search_by_key(&number, |(n, _)| *n);
            found.ok().map(|index| wall.campaigns[index].1.as_slice())
        };
        let column = |of: &dyn Fn(&WarmPass) -> Option<f64>| {
            let mut values: Vec<Option<f64>> = Vec::new();
            for (number, rows) in all {
                let warm = warm_of(*number);
                let passes = 0..rows.len();
                values.extend(passes.map(|pass| of(warm?.get(pass)?)));
            }
            values
        };
        columns.push(Column::new(
            format!("hottest_{name}_k"),
            column(&|warm| Some(warm.surface_k)),
        ));
        let behind = column(&|warm| warm.back_k);
        if behind.iter().any(Option::is_some) {
            columns.push(Column::new(format!("hottest_behind_{name}_k"), behind));
        }
    }
    columns
}

/// The keys of the limits whose bits are set, with `+` between them.
fn broken(bits: u32, limits: &[LimitKind]) -> String {
    let keys = limits.iter().enumerate();
    let set = keys.filter(|(bit, _)| bits >> bit & 1 == 1);
    set.map(|(_, kind)| kind.key())
        .collect::<Vec<_>>()
        .join("+")
}
