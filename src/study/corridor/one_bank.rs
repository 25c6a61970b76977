//! What one bank held throughout holds of the deliveries: the best of some banks, each at its own best aim, flown.
//!
//! The corridor lets each limit be held by another flight; this is what one flight holds of all of them at once.

use super::HeldBank;
use super::delivered::MOST;
use super::demand::{Bank, Demand, broken};
use super::stretch::widest;
use crate::ensemble::problem::Numbers;
use crate::ensemble::sorties::{Sortie, fly_sorties};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::scenario::uncertainty::Number;

/// The bank that holds most deliveries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneBank {
    /// The bank, rad.
    pub bank_rad: f64,
    /// Where it is aimed: the middle of the aims at which this bank holds every limit without errors, or of the corridor
    /// where there are none, m.
    pub aim_m: f64,
    /// Deliveries flown, those without an approach included.
    pub deliveries: u64,
    /// Deliveries of which every limit is held.
    pub held: u64,
}

/// Numbers that are of the delivery: all else is flown without its error, as everywhere in the corridor.
const DELIVERED: [Number; 3] = [
    Number::ArrivalEnergy,
    Number::Inclination,
    Number::ArgumentOfPeriapsis,
];

/// The bank and the aim at which most of `samples` deliveries hold all demands; of equals the one nearest to lift up.
/// `None` without an error of the delivery.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn one_bank_of_deliveries(
    (problem, demands): (&Problem, &[Demand]),
    (banks, middle_m): (&[HeldBank], f64),
    samples: u64,
    progress: &Progress,
) -> Result<Option<OneBank>, Stopped> {
    let spread = problem.coordinates();
    let of_delivery =
        |number: &Number| Number::DELIVERY.contains(number) || DELIVERED.contains(number);
    if !spread.iter().any(of_delivery) {
        return Ok(None);
    }
    let deliveries = samples.min(MOST);
    let delivered = |sample: u64| -> Numbers {
        let (mut numbers, drawn) = (*problem.nominal(), problem.numbers(sample));
        for number in Number::DELIVERY.into_iter().chain(DELIVERED) {
            numbers[number as usize] = drawn[number as usize];
        }
        numbers
    };
    let mut best: Option<OneBank> = None;
    for held in banks {
        let aim_m = widest(&held.all).map_or(middle_m, |stretch| {
            f64::midpoint(stretch.low.aim_m, stretch.high.aim_m)
        });
        let bank = Bank::Held(held.bank_rad);
        let sorties: Vec<Sortie> = (0..deliveries)
            .map(|sample| Sortie {
                aim_m,
                numbers: bank.numbers(problem, &delivered(sample)),
            })
            .collect();
        let flown = fly_sorties(problem, &sorties, progress)?;
        let holds = |pass: &&Option<_>| broken(problem, demands, pass.as_ref()) == 0;
        let found = OneBank {
            bank_rad: held.bank_rad,
            aim_m,
            deliveries,
            held: flown.iter().filter(holds).count() as u64,
        };
        if best.is_none_or(|best| found.held > best.held) {
            best = Some(found);
        }
    }
    Ok(best)
}
