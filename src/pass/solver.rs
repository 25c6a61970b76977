//! The library's eighth-order integrator as this program uses it.

use nalgebra::SVector;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dop853, System};

/// The integrator over `length` with steps up to `longest_step`, both in the unit of the system's time. Sparse
/// output: a dense sample is only as good as the interpolant, and what it hands over between steps is not the
/// step's end. More than `most_steps` steps are an error. The system must not use time: the method's nodes are wrong for
/// those that do.
pub(super) fn eighth_order<const N: usize, F: System<f64, SVector<f64, N>>>(
    system: F,
    start: SVector<f64, N>,
    (length, longest_step): (f64, f64),
    (tolerance, most_steps): (f64, u32),
) -> Dop853<f64, SVector<f64, N>, F> {
    let (safety, beta, least, most) = (0.9, 0.0, 0.333, 6.0);
    Dop853::from_param(
        system,
        0.0,
        length,
        longest_step,
        start,
        tolerance,
        tolerance,
        safety,
        beta,
        least,
        most,
        longest_step,
        0.0,
        most_steps,
        u32::MAX,
        OutputType::Sparse,
    )
}
