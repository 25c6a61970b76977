//! Coefficients at one trim angle in the form that is flown: the table's own cubics in Mach number,
//! blended from continuum to free-molecular, without a branch. Tables come from `aero_table`.

use super::aero_cells::Cells;
use super::aero_slices::rows;
use super::aero_table::AeroTable;
use super::rarefaction::{Bridge, sine_squared};
use crate::numeric::Real;
use std::f64::consts::PI;

/// The free-molecular end of a table that does not depend on Knudsen number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreeMolecularEnd {
    /// Drag coefficient of the free-molecular limit.
    pub drag: f64,
    /// Lift coefficient there.
    pub lift: f64,
    /// How the two ends are joined.
    pub bridge: Bridge,
}

/// How a table is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trim {
    /// Trim angle of attack, rad.
    pub angle_of_attack_rad: f64,
    /// Half the span, rad, over which the slope with the angle is taken for samples off the trim (one
    /// standard deviation of the trim error, say); 0 for none.
    pub span_rad: f64,
    /// The free-molecular end; used only where the table has no Knudsen axis of its own.
    pub free_molecular: Option<FreeMolecularEnd>,
}

/// Drag and lift coefficients against Mach number and ln Kn at one trim angle.
#[derive(Debug, Clone, PartialEq)]
pub struct AeroGrid {
    mach: Cells,
    knudsen: Cells,
    /// 0: the blend between two Knudsen numbers is linear in ln Kn; 1: it is sin².
    bend: f64,
    rows: Vec<Row>,
    slopes: Vec<Row>,
    /// Off the trim the drag coefficient is not taken below this: far out a straight line falls to nothing.
    least_drag: f64,
}

/// Coefficients at a place of a grid, with their slopes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coefficients<R> {
    /// Drag coefficient.
    pub drag: Slopes<R>,
    /// Lift coefficient.
    pub lift: Slopes<R>,
}

/// A coefficient with its slopes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slopes<R> {
    /// Its value.
    pub value: R,
    /// Slope with Mach number.
    pub by_mach: R,
    /// Slope with ln Kn.
    pub by_ln_knudsen: R,
}

impl<R: Real> Slopes<R> {
    #[inline(always)]
    fn plus(self, other: Self, times: R) -> Self {
        Self {
            value: other.value.mul_add(times, self.value),
            by_mach: other.by_mach.mul_add(times, self.by_mach),
            by_ln_knudsen: other.by_ln_knudsen.mul_add(times, self.by_ln_knudsen),
        }
    }

    /// Rate along a flight, from those of Mach number and of ln Kn.
    #[inline(always)]
    pub fn rate(self, mach_rate: R, ln_knudsen_rate: R) -> R {
        self.by_mach
            .mul_add(mach_rate, self.by_ln_knudsen * ln_knudsen_rate)
    }
}

/// Cubics in Mach number: drag and lift at the cell's lower Knudsen number, then what the upper adds.
pub(super) type Row = [f64; 16];

impl AeroTable {
    /// The table at a trim angle, in the form that is flown.
    ///
    /// A table with a Knudsen axis is flown as it stands (linear in ln Kn); one without is bridged to
    /// `trim.free_molecular`, if that is given. Nothing is resampled: every entry is met, and between two
    /// neighbours no coefficient leaves the range of theirs.
    #[must_use]
    pub fn at_trim(&self, trim: &Trim) -> AeroGrid {
        let (own, span) = (self.ln_knudsens(), trim.span_rad);
        let end = trim.free_molecular.filter(|_| own.len() == 1);
        let ends = match end.map(|end| end.bridge.ends()) {
            Some((low, high)) => vec![low, high],
            None => own.to_vec(),
        };
        let rows = |angle: f64| rows(&self.mach_curves(angle), end);
        let slopes = if span > 0.0 {
            let angle = trim.angle_of_attack_rad;
            difference(&rows(angle + span), &rows(angle - span), 2.0 * span)
        } else {
            Vec::new()
        };
        AeroGrid {
            rows: rows(trim.angle_of_attack_rad),
            slopes,
            least_drag: LEAST_SHARE * self.least_drag(),
            bend: f64::from(u8::from(end.is_some())),
            mach: Cells::between(self.machs()),
            knudsen: Cells::between(&ends),
        }
    }
}

/// Share of a table's least drag coefficient that is left however far a sample is off the trim.
const LEAST_SHARE: f64 = 0.05;

impl AeroGrid {
    /// Drag and lift coefficient at a Mach number and ln Kn; beyond the table the value of its end.
    #[inline(always)]
    #[must_use]
    pub fn coefficients<R: Real>(&self, mach: R, ln_knudsen: R) -> (R, R) {
        self.coefficients_off_trim(mach, ln_knudsen, R::splat(0.0))
    }

    /// The same for an angle of attack `off_rad` away from the trim: drag and lift are taken as linear
    /// in the angle, with the slope over the span of [`Trim`], drag down to a twentieth of the table's least
    /// (see [`AeroGrid::falls_to_nothing`]). Without a span: as at the trim.
    #[inline(always)]
    #[must_use]
    pub fn coefficients_off_trim<R: Real>(&self, mach: R, ln_knudsen: R, off_rad: R) -> (R, R) {
        let found = self.with_slopes(mach, ln_knudsen, off_rad);
        (found.drag.value, found.lift.value)
    }

    /// The same with the slopes; beyond the table they are 0.
    #[inline(always)]
    #[must_use]
    pub fn with_slopes<R: Real>(&self, mach: R, ln_knudsen: R, off_rad: R) -> Coefficients<R> {
        let at = self.locate(mach, ln_knudsen);
        let found = evaluate(&self.rows, &at);
        if self.slopes.is_empty() {
            return found;
        }
        let slopes = evaluate(&self.slopes, &at);
        let drag = found.drag.plus(slopes.drag, off_rad);
        Coefficients {
            drag: Slopes {
                value: drag.value.max(R::splat(self.least_drag)),
                ..drag
            },
            lift: found.lift.plus(slopes.lift, off_rad),
        }
    }

    /// The Mach numbers between which the coefficients change, if they do.
    #[must_use]
    pub fn mach_range(&self) -> Option<(f64, f64)> {
        let (first, last) = self.mach.range();
        (last > first).then_some((first, last))
    }

    /// Whether somewhere in the table the slope with the angle takes all drag away within `off_rad` of the trim.
    #[must_use]
    pub fn falls_to_nothing(&self, off_rad: f64) -> bool {
        // Drag at a cell's four corners.
        let corners = |row: &Row| {
            let (low, more) = (row[..4].iter().sum::<f64>(), row[8..12].iter().sum::<f64>());
            [row[0], low, row[0] + row[8], low + more]
        };
        let falls = |(row, slope): (&Row, &Row)| {
            let mut pairs = corners(row).into_iter().zip(corners(slope));
            pairs.any(|(drag, slope)| drag <= slope.abs() * off_rad)
        };
        self.rows.iter().zip(&self.slopes).any(falls)
    }

    /// Whether any coefficient of lift is not 0.
    #[must_use]
    pub fn lifts(&self) -> bool {
        let lift = |row: &Row| (4..8).chain(12..16).any(|k| row[k] != 0.0);
        self.rows.iter().chain(&self.slopes).any(lift)
    }

    /// The cell (as a position in the middle of its row), the place in it, and the upper Knudsen share.
    #[inline(always)]
    fn locate<R: Real>(&self, mach: R, ln_knudsen: R) -> Located<R> {
        let (mach_cell, t, per_mach) = self.mach.locate(mach);
        let (knudsen_cell, share, per_ln_knudsen) = self.knudsen.locate(ln_knudsen);
        let bent = sine_squared(share);
        // The slope of sin² of a quarter turn: π sin cos.
        let one = R::splat(1.0);
        let turn = (bent * (one - bent)).max(R::splat(0.0)).sqrt();
        let bend = R::splat(self.bend);
        let steep = bend.mul_add(turn.mul_add(R::splat(PI), -one), one);
        Located {
            cell: knudsen_cell.mul_add(R::splat(self.mach.count()), mach_cell) + R::splat(0.5),
            t,
            blend: bend.mul_add(bent - share, share),
            per_mach,
            blend_per_ln_knudsen: steep * per_ln_knudsen,
        }
    }
}

/// A place in a grid.
struct Located<R> {
    cell: R,
    t: R,
    blend: R,
    per_mach: R,
    blend_per_ln_knudsen: R,
}

#[inline(always)]
fn evaluate<R: Real>(rows: &[Row], at: &Located<R>) -> Coefficients<R> {
    let (c, _) = at.cell.grid_row(rows);
    let [drag, lift, more_drag, more_lift] = [
        cubic([c[0], c[1], c[2], c[3]], at.t),
        cubic([c[4], c[5], c[6], c[7]], at.t),
        cubic([c[8], c[9], c[10], c[11]], at.t),
        cubic([c[12], c[13], c[14], c[15]], at.t),
    ];
    Coefficients {
        drag: blended(drag, more_drag, at),
        lift: blended(lift, more_lift, at),
    }
}

/// A cubic and its slope at a place of its cell.
#[inline(always)]
fn cubic<R: Real>([c0, c1, c2, c3]: [R; 4], t: R) -> (R, R) {
    let bend = c3.mul_add(t, c2);
    let slope = (R::splat(2.0) * bend).mul_add(t, c1) + c3 * t * t;
    (bend.mul_add(t, c1).mul_add(t, c0), slope)
}

#[inline(always)]
fn blended<R: Real>(low: (R, R), more: (R, R), at: &Located<R>) -> Slopes<R> {
    Slopes {
        value: at.blend.mul_add(more.0, low.0),
        by_mach: at.blend.mul_add(more.1, low.1) * at.per_mach,
        by_ln_knudsen: more.0 * at.blend_per_ln_knudsen,
    }
}

fn difference(high: &[Row], low: &[Row], span: f64) -> Vec<Row> {
    let rows = high.iter().zip(low);
    rows.map(|(high, low)| std::array::from_fn(|k| (high[k] - low[k]) / span))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::aero_table::{AeroNumbers, AeroPoint};
    use super::*;
    use crate::numeric::Lanes;

    fn numbers(machs: &[f64], knudsens: &[f64]) -> AeroNumbers {
        let angles = [-0.1, 0.0, 0.2, 0.4];
        let (mut drag, mut lift) = (Vec::new(), Vec::new());
        for a in angles {
            for m in machs {
                for kn in knudsens {
                    drag.push(1.2 + 0.5 * a * a + 0.4 / (1.0 + m * m) + 0.02 * kn.ln());
                    lift.push(a * (1.0 + 1.0 / (1.0 + m)) - 0.01 * kn.ln());
                }
            }
        }
        AeroNumbers {
            angles_rad: angles.to_vec(),
            machs: machs.to_vec(),
            knudsens: knudsens.to_vec(),
            drag,
            lift,
        }
    }

    fn trim(angle_of_attack_rad: f64, span_rad: f64) -> Trim {
        Trim {
            angle_of_attack_rad,
            span_rad,
            free_molecular: None,
        }
    }

    #[test]
    fn the_grid_is_the_table_at_its_trim() {
        let machs = [0.5, 1.2, 1.234_567, 2.0, 5.043_21, 10.0, 25.0];
        let table = AeroTable::new(numbers(&machs, &[1e-3, 1e-2, 1.0, 10.0])).unwrap();
        let grid = table.at_trim(&trim(0.13, 0.0));
        for i in 0..=130 {
            let mach = 0.2 * f64::from(i);
            for k in 0..=30 {
                let knudsen = f64::powf(10.0, -3.5 + 0.171 * f64::from(k));
                let expected = table.at(&AeroPoint {
                    angle_of_attack_rad: 0.13,
                    mach,
                    knudsen,
                });
                let (drag, lift) = grid.coefficients(mach, Real::ln(knudsen));
                assert!((drag - expected.drag).abs() < 1e-12, "{mach} {knudsen}");
                assert!((lift - expected.lift).abs() < 1e-12, "{mach} {knudsen}");
            }
        }
    }

    /// Far off the trim a straight line would make the drag negative: a part of it is left.
    #[test]
    fn no_angle_takes_all_drag_away() {
        let table = AeroTable::new(AeroNumbers {
            angles_rad: vec![0.0, 0.2],
            machs: vec![1.0, 25.0],
            knudsens: vec![1.0],
            drag: vec![1.5, 1.5, 0.3, 0.3],
            lift: vec![0.0; 4],
        })
        .unwrap();
        let grid = table.at_trim(&trim(0.1, 0.02));
        assert!(grid.falls_to_nothing(0.16) && !grid.falls_to_nothing(0.14));
        for off in [-0.5, 0.0, 0.1, 0.15, 0.3, 3.0] {
            assert!(grid.coefficients_off_trim(5.0, 0.0, off).0 >= 0.05 * 0.3);
        }
    }

    #[test]
    fn a_table_without_knudsen_numbers_is_bridged() {
        let table = AeroTable::new(numbers(&[1.0, 5.0, 25.0], &[1.0])).unwrap();
        let end = FreeMolecularEnd {
            drag: 2.1,
            lift: 0.05,
            bridge: Bridge::USUAL,
        };
        let grid = table.at_trim(&Trim {
            free_molecular: Some(end),
            ..trim(0.0, 0.1)
        });
        let (drag, lift) = table.at_trim(&trim(0.0, 0.0)).coefficients(7.3, 0.0);
        for ln_kn in [-12.0, -6.5, -4.0, -1.0, 1.5, 2.3, 6.0] {
            let (bridged_drag, bridged_lift) = grid.coefficients(7.3, ln_kn);
            let expected = Bridge::USUAL.coefficient(ln_kn, drag, 2.1);
            assert!((bridged_drag - expected).abs() < 1e-12, "{ln_kn}");
            let expected = Bridge::USUAL.coefficient(ln_kn, lift, 0.05);
            assert!((bridged_lift - expected).abs() < 1e-12, "{ln_kn}");
        }
        // A trim error changes the continuum, not the given free-molecular end.
        let (free, _) = grid.coefficients_off_trim(7.3, 9.0, 0.1);
        assert!((free - 2.1).abs() < 1e-12);
    }

    #[test]
    fn off_trim_the_table_is_followed_to_the_ends_of_the_span() {
        let table = AeroTable::new(numbers(&[1.0, 5.0, 25.0], &[1e-3, 10.0])).unwrap();
        let grid = table.at_trim(&trim(0.3, 0.05));
        for off in [-0.05, 0.03] {
            let there = table.at_trim(&trim(0.3 + off, 0.0)).coefficients(4.0, -2.0);
            let (drag, lift) = grid.coefficients_off_trim(4.0, -2.0, off);
            assert!((drag - there.0).abs() < 1e-12 && (lift - there.1).abs() < 1e-12);
        }
        assert_eq!(
            grid.coefficients_off_trim(4.0, -2.0, 0.0),
            grid.coefficients(4.0, -2.0)
        );
    }

    #[test]
    fn constants_stay_constant_and_lanes_give_the_same_bits() {
        let constant = AeroTable::constant(1.6, 0.3)
            .unwrap()
            .at_trim(&trim(0.0, 0.0));
        assert_eq!(constant.coefficients(17.0, -5.0), (1.6, 0.3));
        let table = AeroTable::new(numbers(&[1.0, 2.0, 25.0], &[1e-3, 10.0])).unwrap();
        let grid = table.at_trim(&trim(0.3, 0.05));
        let machs = [0.0, 1.0, 1.5, 2.0, 8.0, 24.999, 25.0, 60.0];
        let kns = [-9.0, -6.9, -6.0, -3.0, 0.0, 1.0, 2.3, 8.0];
        let off = Lanes::splat(0.02);
        let (drag, lift) = grid.coefficients_off_trim(Lanes(machs), Lanes(kns), off);
        for i in 0..8 {
            let single = grid.coefficients_off_trim(machs[i], kns[i], 0.02);
            assert_eq!((drag.0[i], lift.0[i]), single);
        }
    }
}
