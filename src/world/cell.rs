//! The cells of the flown table of the air: how values at its knots become polynomials between them.

use super::curve::hermite;

/// One step of altitude: cubics c0 + c1 t + c2 t² + c3 t³ in the fraction t of the step.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(64))]
pub struct Cell {
    /// Natural logarithm of density in kg/m³.
    pub ln_density: [f64; 4],
    /// One-sigma of log density, 0 or more.
    pub log_sigma: [f64; 4],
}

impl Cell {
    /// The eight coefficients in a row: log density first, then its one-sigma.
    #[must_use]
    pub fn row(&self) -> [f64; 8] {
        let ([a, b, c, d], [e, f, g, h]) = (self.ln_density, self.log_sigma);
        [a, b, c, d, e, f, g, h]
    }
}

/// Cubics between knots of (value, rate per metre), with a straight one below the first and above the last.
pub(super) fn cubics(knots: &[(f64, f64)], step_m: f64) -> Vec<[f64; 4]> {
    let straight = |(value, per_m): (f64, f64)| [value, per_m * step_m, 0.0, 0.0];
    let mut all = Vec::with_capacity(knots.len() + 1);
    all.extend(
        knots
            .first()
            .map(|&(value, per_m)| straight((step_m.mul_add(-per_m, value), per_m))),
    );
    all.extend(knots.windows(2).map(|pair| {
        hermite(
            [pair[0].0, pair[1].0],
            [pair[0].1 * step_m, pair[1].1 * step_m],
        )
    }));
    all.extend(knots.last().copied().map(straight));
    all
}

/// Makes the cells below the first knot and above the last constant.
pub(super) fn level_ends(mut cells: Vec<[f64; 4]>) -> Vec<[f64; 4]> {
    let at_floor = cells.get(1).map_or(0.0, |second| second[0]);
    if let Some(first) = cells.first_mut() {
        *first = [at_floor, 0.0, 0.0, 0.0];
    }
    if let Some(last) = cells.last_mut() {
        last[1] = 0.0;
    }
    cells
}

/// Linear cells between knots, constant in the cells below the first and above the last.
pub(super) fn lines(knots: &[f64]) -> Vec<[f64; 2]> {
    let level = |knot: &f64| [*knot, 0.0];
    let mut all = Vec::with_capacity(knots.len() + 1);
    all.extend(knots.first().map(level));
    all.extend(knots.windows(2).map(|pair| [pair[0], pair[1] - pair[0]]));
    all.extend(knots.last().map(level));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_fills_one_cache_line() {
        assert_eq!((size_of::<Cell>(), align_of::<Cell>()), (64, 64));
    }

    #[test]
    fn linear_cells_join_and_are_level_outside() {
        assert_eq!(
            lines(&[1.0, 3.0, 2.0]),
            [[1.0, 0.0], [1.0, 2.0], [3.0, -1.0], [2.0, 0.0]]
        );
    }

    #[test]
    fn cubic_cells_go_on_straight_below_and_above_or_level() {
        let cells = cubics(&[(1.0, 0.5), (2.0, 0.25)], 2.0);
        assert_eq!(
            (cells[0], cells[2]),
            ([0.0, 1.0, 0.0, 0.0], [2.0, 0.5, 0.0, 0.0])
        );
        let level = level_ends(cells);
        assert_eq!(
            (level[0], level[2]),
            ([1.0, 0.0, 0.0, 0.0], [2.0, 0.0, 0.0, 0.0])
        );
    }
}
