//! How far the heating models may be off: a factor on each, log-normal about 1 unless the scenario says
//! otherwise, flown wherever a limit of heat is asked for. The sizes and their sources stand here alone.

use super::bound::Bound;
use super::limits::Limits;
use super::message::InputError;
use super::numbers::Dispersible;
use super::section::Node;
use super::ship::Ship;
use super::uncertainty::{Distribution, Number, Uncertain};
use super::value::Value;
use super::wall::WallKind;
use super::wording::in_words;
use crate::numeric::units::Dimension;

/// The error of one heating model as it is flown unless the scenario says otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatingError {
    /// The factor on the flux of the model.
    pub number: Number,
    /// One-sigma of its natural logarithm.
    pub log_std_dev: f64,
    /// Where the size comes from.
    pub source: &'static str,
}

/// How the sizes are known: what they are taken from is published, that it is taken as one sigma is not.
pub const KNOWN: &str = "chosen";

/// The errors of convection and of radiation.
pub const HEATING_ERRORS: [HeatingError; 2] = [
    HeatingError {
        number: Number::HeatingConvective,
        log_std_dev: 0.15,
        source: "correlations of the convective flux differ by 15 to 20 % (Sutton and Graves against Detra, Kemp and \
                 Riddell), and computed fluxes lay within 10 to 30 % of those flown by the Orbiter (Scott, N84-10154); \
                 15 % taken as one sigma",
    },
    HeatingError {
        number: Number::HeatingRadiative,
        log_std_dev: 0.4,
        source: "the correlation of Tauber and Sutton (J. Spacecraft Rockets 28(1), 1991) is good to 50 %, a factor of \
                 1.5; taken as one sigma",
    },
];

/// A factor that is believed.
const FACTOR: Bound = Bound::between(0.01, 100.0);

impl Uncertain {
    /// The distribution of a bare factor in words: `log-normal, median 1, ...`.
    #[must_use]
    pub fn factor_in_words(&self) -> String {
        in_words(self.distribution, Dimension::Dimensionless)
    }
}

impl HeatingError {
    /// That of a number; `None` for any but the two factors.
    #[must_use]
    pub fn of(number: Number) -> Option<&'static Self> {
        HEATING_ERRORS.iter().find(|error| error.number == number)
    }

    /// That of an uncertain number which is distributed as it is by default.
    #[must_use]
    pub fn behind(uncertain: &Uncertain) -> Option<&'static Self> {
        Self::of(uncertain.number).filter(|error| error.uncertain(1.0) == *uncertain)
    }

    /// Its distribution, with the spread times `factor` (above 0).
    fn uncertain(&self, factor: f64) -> Uncertain {
        Uncertain {
            number: self.number,
            distribution: Distribution::LogNormal {
                median: 1.0,
                log_std_dev: factor * self.log_std_dev,
            },
        }
    }
}

/// The two factors among the numbers of a scenario that may be uncertain.
pub(super) fn dispersibles() -> impl Iterator<Item = Dispersible> {
    HEATING_ERRORS.iter().map(|error| Dispersible {
        number: error.number,
        key: error.number.key().to_owned(),
        dimension: Dimension::Dimensionless,
        bound: FACTOR,
        nominal: Some(1.0),
    })
}

/// Whether anything in a scenario limits heat: flux, load, or the flux or temperature of a spot or its wall.
#[must_use]
pub fn heat_is_limited(limits: &Limits, ship: &Ship) -> bool {
    let back = |wall: &WallKind| {
        matches!(
            wall,
            WallKind::Slab {
                highest_back_k: Some(_),
                ..
            }
        )
    };
    let mut entries = limits.entries().iter();
    entries.any(|limit| limit.kind.spec().of_heat)
        || ship.spots.iter().any(|spot| {
            spot.highest_flux_w_m2.is_some()
                || spot.highest_temperature_k.is_some()
                || back(&spot.wall.kind)
        })
}

/// The errors that are flown where the scenario does not mention them.
pub(super) fn unsaid(limits: &Limits, ship: &Ship) -> Vec<Uncertain> {
    let errors = HEATING_ERRORS.iter();
    errors
        .filter(|_| heat_is_limited(limits, ship))
        .map(|error| error.uncertain(1.0))
        .collect()
}

/// A heating error and how it is drawn; `None` where it is exact.
pub(super) type HeatingChoice = (Number, Option<Uncertain>);

/// What a scenario says of the errors in words of their own: `exact`, `default` or `{default_times: 0.5}`,
/// for one of them or for `heating` as a whole. `None` where it says it in another way, or of something else:
/// a distribution is read as that of any number.
pub(super) fn decode(key: &str, node: &Node<'_>) -> Result<Option<Vec<HeatingChoice>>, InputError> {
    let meant = |error: &&HeatingError| key == "heating" || error.number.key() == key;
    let errors: Vec<&HeatingError> = HEATING_ERRORS.iter().filter(meant).collect();
    if errors.is_empty() {
        return Ok(None);
    }
    let factor = match node.value() {
        Value::Text(text) if text == "exact" => None,
        Value::Text(text) if text == "default" => Some(1.0),
        Value::Map(_) if node.section()?.has("default_times") => {
            let section = node.section()?;
            let factor = section.quantity(
                "default_times",
                Dimension::Dimensionless,
                Bound::above(0.0).at_most(5.0),
            )?;
            section.finish()?;
            Some(factor)
        }
        Value::Map(_) => return Ok(None),
        _ => {
            return Err(node
                .error(format!("the error of `{}` is not understood", node.dotted()))
                .with_help(
                    "write `default`, `exact`, `{default_times: 0.5}` or a distribution of the factor, \
                     `{lognormal: {log_std_dev: 0.15}}`",
                ));
        }
    };
    let said = |error: &HeatingError| (error.number, factor.map(|factor| error.uncertain(factor)));
    Ok(Some(errors.into_iter().map(said).collect()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// One sigma covers what the sources say: Sutton-Graves against Detra-Kemp-Riddell at two points
    /// (W/cm², computed by an independent program: 82.643 and 94.789, 151.206 and 182.605), and 50 %.
    #[test]
    fn the_sizes_are_those_of_their_sources() {
        let [convective, radiative] = HEATING_ERRORS.map(|error| error.log_std_dev);
        let logs = [(94.789_f64 / 82.643).ln(), (182.605_f64 / 151.206).ln()];
        assert!(
            logs[0] < convective && convective < logs[1],
            "{logs:?} {convective}"
        );
        assert!((radiative - 1.5_f64.ln()).abs() < 0.01, "{radiative}");
    }
}
