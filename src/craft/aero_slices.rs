//! A table of coefficients at one angle of attack as the cubics that `aero_grid` flies.

use super::aero_grid::{FreeMolecularEnd, Row};
use super::aero_table::MachCurves;

/// Drag and lift cubics of one Mach cell.
type Pair = [f64; 8];

/// The rows of a grid, Mach number running fastest: the curves at each Knudsen number and, where there is
/// one, the free-molecular end behind them. One Knudsen number alone is one cell in which nothing changes.
pub(super) fn rows(curves: &[MachCurves], end: Option<FreeMolecularEnd>) -> Vec<Row> {
    let mut columns: Vec<Vec<Pair>> = curves.iter().map(cubics).collect();
    if let Some(end) = end {
        let free = [end.drag, 0.0, 0.0, 0.0, end.lift, 0.0, 0.0, 0.0];
        columns.push(vec![free; columns[0].len()]);
    }
    let first = columns[0].clone();
    if columns.len() == 1 {
        columns.push(first);
    }
    let pairs = columns.windows(2);
    let cells = pairs.flat_map(|pair| pair[0].iter().zip(&pair[1]));
    let row = |(low, high): (&Pair, &Pair)| -> Row {
        std::array::from_fn(|k| match k {
            0..8 => low[k],
            _ => high[k - 8] - low[k - 8],
        })
    };
    cells.map(row).collect()
}

fn cubics(curves: &MachCurves) -> Vec<Pair> {
    let cells = curves.drag.cubics().into_iter().zip(curves.lift.cubics());
    let pair =
        |(drag, lift): ([f64; 4], [f64; 4])| std::array::from_fn(|k| [drag, lift][k / 4][k % 4]);
    cells.map(pair).collect()
}
