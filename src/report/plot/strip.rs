//! The strip above a plotting box: names of the marked places and shaded spans below it,
//! in as many rows as it takes that none covers another.

use super::glyphs;

/// Distance from one row of the strip to the next, in picture points.
pub(super) const ROW: f64 = 16.0;
/// Least distance between two texts of a row.
const GAP: f64 = 8.0;

/// Something to be named above the box.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Name {
    pub(super) text: String,
    /// Where it should stand, in picture points.
    pub(super) at: f64,
    /// Whether a line leads up to the text.
    pub(super) led: bool,
}

/// A name with its place: left edge and row, the lowest row being 0.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    pub(super) text: String,
    pub(super) left: f64,
    pub(super) row: usize,
    /// Where a line leads up to it, if one does.
    pub(super) led_at: Option<f64>,
}

/// Places names between `low` and `high`; `kept` are stretches of the lowest row that are taken already.
///
/// Names that a line leads up to come first and turn away from a near neighbour, so that no line runs
/// through a text as long as the marks are a few points apart.
pub(super) fn place(
    names: &[Name],
    size: f64,
    (low, high): (f64, f64),
    kept: &[(f64, f64)],
) -> Vec<Placed> {
    let mut rows = Rows(vec![kept.to_vec()]);
    let mut order: Vec<(&Name, f64, [f64; 3])> = names
        .iter()
        .enumerate()
        .map(|(place, name)| {
            let half = glyphs::width(&name.text, size) / 2.0 + GAP;
            let near = |side: f64| {
                names.iter().enumerate().any(|(at, other)| {
                    let away = side * (other.at - name.at);
                    // Of two marks at one place, the one named first is taken for the left one.
                    let tied = away == 0.0 && (at > place) == (side > 0.0) && at != place;
                    other.led && (away > 0.0 || tied) && away < 2.0 * half
                })
            };
            // Shares of the width that stand left of the mark, the best first.
            let (rank, shares) = match (name.led, near(-1.0), near(1.0)) {
                (false, ..) => (2.0, [0.5, 0.0, 1.0]),
                (true, true, true) => (1.0, [0.5, 0.0, 1.0]),
                (true, false, true) => (0.0, [1.0, 0.5, 0.0]),
                (true, true, false) => (0.0, [0.0, 0.5, 1.0]),
                (true, false, false) => (0.0, [0.5, 0.0, 1.0]),
            };
            (name, rank, shares)
        })
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut done = Vec::new();
    for (name, _, shares) in order {
        let text = glyphs::shorten(&name.text, size, high - low);
        let width = glyphs::width(&text, size);
        let starts = shares.map(|share| {
            // A text beside its mark stands a little off it.
            let beside = (1.0 - 2.0 * share) * GAP / 2.0;
            let left = name.at - share * width + beside;
            left.min(high - width).max(low)
        });
        let (row, left) = (0..=rows.0.len())
            .flat_map(|row| starts.map(|left| (row, left)))
            .find(|(row, left)| rows.fits(name, *row, (*left, left + width)))
            .unwrap_or((rows.0.len(), starts[0]));
        rows.take(name, row, (left, left + width));
        done.push(Placed {
            text,
            left,
            row,
            led_at: name.led.then_some(name.at),
        });
    }
    done
}

/// What each row holds already: texts, and the lines that lead through it.
struct Rows(Vec<Vec<(f64, f64)>>);

impl Rows {
    fn fits(&self, name: &Name, row: usize, (from, to): (f64, f64)) -> bool {
        let mut below = self.0.iter().take(row).flatten();
        let led_free = !name.led || below.all(|(a, b)| name.at < a - 2.0 || name.at > b + 2.0);
        let apart = |taken: &(f64, f64)| to + GAP <= taken.0 + 1e-6 || from >= taken.1 + GAP - 1e-6;
        led_free && self.0.get(row).is_none_or(|taken| taken.iter().all(apart))
    }

    fn take(&mut self, name: &Name, row: usize, text: (f64, f64)) {
        while self.0.len() <= row {
            self.0.push(Vec::new());
        }
        if name.led {
            for below in self.0.iter_mut().take(row) {
                below.push((name.at, name.at));
            }
        }
        self.0[row].push(text);
    }
}

/// How many rows the placed names take, counting a lowest row that is kept for something else.
pub(super) fn rows(placed: &[Placed], kept: &[(f64, f64)]) -> usize {
    placed
        .iter()
        .map(|name| name.row + 1)
        .max()
        .unwrap_or(0)
        .max(usize::from(!kept.is_empty()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(text: &str, at: f64) -> Name {
        Name {
            text: text.into(),
            at,
            led: true,
        }
    }

    #[test]
    fn names_that_would_collide_go_to_another_row() {
        let names = [
            name("safe band", 100.0),
            name("recommended", 110.0),
            name("far", 300.0),
        ];
        let placed = place(&names, 12.0, (0.0, 400.0), &[(0.0, 40.0)]);
        for (i, a) in placed.iter().enumerate() {
            for b in &placed[i + 1..] {
                let (a_end, b_end) = (
                    a.left + glyphs::width(&a.text, 12.0),
                    b.left + glyphs::width(&b.text, 12.0),
                );
                assert!(
                    a.row != b.row || a_end < b.left || b_end < a.left,
                    "{a:?} {b:?}"
                );
            }
        }
        assert!(rows(&placed, &[]) >= 1);
    }

    #[test]
    fn no_line_runs_through_a_name() {
        let span = Name {
            led: false,
            ..name("safe band 103.5 to 104.8 km", 105.0)
        };
        let names = [
            span,
            name("first", 100.0),
            name("second", 108.0),
            name("third", 116.0),
        ];
        let placed = place(&names, 12.0, (0.0, 400.0), &[]);
        for mark in placed.iter().filter(|p| p.led_at.is_some()) {
            for other in placed.iter().filter(|p| p.row < mark.row) {
                let end = other.left + glyphs::width(&other.text, 12.0);
                let at = mark.led_at.expect("filtered");
                assert!(at < other.left || at > end, "{mark:?} through {other:?}");
            }
        }
    }

    #[test]
    fn marks_at_one_place_are_named_on_either_side() {
        let placed = place(
            &[name("p50", 200.0), name("p99.865", 200.0)],
            12.0,
            (0.0, 400.0),
            &[],
        );
        assert!(placed.iter().all(|p| p.row == 0), "{placed:?}");
    }

    #[test]
    fn names_stay_inside_and_long_ones_are_cut() {
        let long = "a name that is far too long for the strip it has to stand in";
        let placed = place(&[name(long, 195.0)], 12.0, (0.0, 200.0), &[]);
        assert!(placed[0].text.ends_with('…'));
        assert!(placed[0].left >= 0.0);
        assert!(placed[0].left + glyphs::width(&placed[0].text, 12.0) <= 200.0 + 1e-9);
    }
}
