//! A table of coefficients at one angle of attack, cut into the cells of `aero_grid`.

use super::aero_grid::{AeroGrid, FreeMolecularEnd, Row};
use super::aero_table::MachCurves;
use super::monotone::{Monotone, cell};

/// The curves of one angle of attack at each Knudsen number, with a free-molecular end if there is one.
pub(super) struct Slices<'a> {
    /// Where on ln Kn the slices are, rising.
    pub(super) knots: &'a [f64],
    /// The curves at each, up to the free-molecular end.
    pub(super) curves: Vec<MachCurves>,
    /// The free-molecular end, the second of two knots.
    pub(super) end: Option<FreeMolecularEnd>,
}

impl Slices<'_> {
    /// The rows of a grid whose cells have these ends, Mach number running fastest.
    pub(super) fn rows(&self, machs: &[f64], knudsens: &[f64]) -> Vec<Row> {
        let mut rows = Vec::with_capacity(machs.len() * knudsens.len());
        for pair in knudsens.windows(2) {
            for cell in machs.windows(2) {
                let (low, high) = (self.cubics(pair[0], cell), self.cubics(pair[1], cell));
                let mut row = [0.0; 16];
                for (k, (low, high)) in low.into_iter().zip(high).enumerate() {
                    row[k] = low;
                    row[k + 8] = high - low;
                }
                rows.push(row);
            }
        }
        rows
    }

    /// Drag and lift cubics of one Mach cell at one ln Kn.
    fn cubics(&self, ln_knudsen: f64, mach: &[f64]) -> [f64; 8] {
        let (low, share) = self.place(ln_knudsen);
        let cubic = |at: usize| -> [f64; 8] {
            if let (Some(end), 1) = (self.end, at) {
                return [end.drag, 0.0, 0.0, 0.0, end.lift, 0.0, 0.0, 0.0];
            }
            let curves = &self.curves[at.min(self.curves.len() - 1)];
            let (drag, lift) = (cubic_of(&curves.drag, mach), cubic_of(&curves.lift, mach));
            std::array::from_fn(|k| if k < 4 { drag[k] } else { lift[k - 4] })
        };
        let (a, b) = (cubic(low), cubic(low + 1));
        std::array::from_fn(|k| share.mul_add(b[k] - a[k], a[k]))
    }

    /// The knot at or below ln Kn and the share of the next, rounded to a knot where it is one.
    fn place(&self, ln_knudsen: f64) -> (usize, f64) {
        let last = self.knots.len() - 1;
        let below = self
            .knots
            .partition_point(|knot| *knot <= ln_knudsen + 1e-9)
            .saturating_sub(1);
        if below >= last {
            return (last, 0.0);
        }
        let share = (ln_knudsen - self.knots[below]) / (self.knots[below + 1] - self.knots[below]);
        (below, if share < 1e-9 { 0.0 } else { share })
    }

    /// The largest difference of drag or lift between a grid and these curves, in the cells of `step`
    /// that hold an entry; in the others the cubics are the curve itself.
    pub(super) fn worst_departure(&self, grid: &AeroGrid, machs: &[f64], step: f64) -> f64 {
        let mut worst = 0.0_f64;
        for (curves, ln_knudsen) in self.curves.iter().zip(self.knots) {
            for entry in machs {
                for quarters in -3..=3 {
                    let mach = step.mul_add(0.25 * f64::from(quarters), *entry);
                    let (drag, lift) = grid.coefficients(mach, *ln_knudsen);
                    worst = worst
                        .max((drag - curves.drag.at(mach).0).abs())
                        .max((lift - curves.lift.at(mach).0).abs());
                }
            }
        }
        worst
    }
}

/// The curve as a cubic on one cell (in the place from 0 to 1).
fn cubic_of(curve: &Monotone, ends: &[f64]) -> [f64; 4] {
    let width = ends[1] - ends[0];
    if width <= 0.0 {
        return [curve.at(ends[0]).0, 0.0, 0.0, 0.0];
    }
    let ((y0, d0), (y1, d1)) = (curve.at(ends[0]), curve.at(ends[1]));
    cell([y0, y1], [d0 * width, d1 * width])
}
