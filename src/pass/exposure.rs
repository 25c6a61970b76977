//! How hard a flight is on curves of level against duration, over all levels. The history of what is sensed goes in,
//! the level that is furthest above its curve comes out; what the curves are and whom they hold for is left to others.
//!
//! A flight meets a curve when no level is stayed above for longer than the curve allows. With s(L) the stay above the
//! level L and c(s) the level that may last for s, that is L ≤ c(s(L)) for every L; the [`Exposure`] is the
//! largest L/c(s(L)). It is the factor by which all levels of the curve would have to be raised for the flight to just
//! meet it, and goes in proportion to the levels of the flight.

use super::extremes::LogCubic;
use crate::numeric::elementary::{exp, ln};
use crate::numeric::root::{hermite, quadratic_roots};
use crate::scenario::people::SeveralPeaks;

/// A curve of level against duration in terms of what is sensed in all: straight in the logarithms between its
/// points, level before the first and after the last.
#[derive(Debug, Clone, PartialEq)]
pub struct SensedCurve {
    /// ln of the duration, s, rising, and of the level, m/s², not rising.
    points: Vec<(f64, f64)>,
}

impl SensedCurve {
    /// A curve through points of duration (s, above 0, rising) and sensed acceleration (m/s², above 0, not rising);
    /// `None` for others.
    #[must_use]
    pub fn new(points: &[(f64, f64)]) -> Option<Self> {
        let positive = |x: f64| x > 0.0 && x.is_finite();
        let ordered = |pair: &[(f64, f64)]| pair[1].0 > pair[0].0 && pair[1].1 <= pair[0].1;
        let sound = !points.is_empty()
            && points.iter().all(|(s, a)| positive(*s) && positive(*a))
            && points.windows(2).all(ordered);
        sound.then(|| Self {
            points: points.iter().map(|&(s, a)| (ln(s), ln(a))).collect(),
        })
    }

    /// Logarithms of the highest and the lowest level.
    fn ends(&self) -> (f64, f64) {
        (self.points[0].1, self.points[self.points.len() - 1].1)
    }

    /// ln of the level that may last for a stay of this logarithm.
    fn limit(&self, ln_s: f64) -> f64 {
        let after = self.points.partition_point(|(d, _)| *d <= ln_s);
        match (after.checked_sub(1), self.points.get(after)) {
            (None, _) => self.ends().0,
            (_, None) => self.ends().1,
            (Some(before), Some(&(d1, g1))) => {
                let (d0, g0) = self.points[before];
                g0 + (ln_s - d0) / (d1 - d0) * (g1 - g0)
            }
        }
    }

    /// The same of a stay, s.
    fn limit_of(&self, stay_s: f64) -> f64 {
        if stay_s > 0.0 {
            self.limit(ln(stay_s))
        } else {
            self.ends().0
        }
    }
}

/// The curves that flights are held against, and how several peaks of one flight count together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curves {
    /// The curves; of several, the one a flight is hardest on counts.
    pub list: Vec<SensedCurve>,
    /// How several peaks count.
    pub several_peaks: SeveralPeaks,
}

/// The level at which a flight is hardest on a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// The level over the one that may last as long, at least 0; beyond 1 the curve is not met.
    pub ratio: f64,
    /// The level, sensed in all, m/s².
    pub level_m_s2: f64,
    /// The stay at or above it, s.
    pub stay_s: f64,
    /// Place of the curve in [`Curves::list`].
    pub curve: usize,
}

/// What was sensed along a flight, at the ends of its steps.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    nodes: Vec<Node>,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    time_s: f64,
    /// m/s².
    level: f64,
    /// 1/s.
    log_rate: f64,
}

impl Trace {
    /// Forgets the flight.
    pub fn clear(&mut self) {
        self.nodes.clear();
    }

    /// Takes in the next moment: its time (s, not before the last), the sensed acceleration (m/s²) and its log rate
    /// (1/s). Two moments of one time are a jump.
    pub fn push(&mut self, time_s: f64, level_m_s2: f64, log_rate: f64) {
        self.nodes.push(Node {
            time_s,
            level: level_m_s2,
            log_rate,
        });
    }

    /// Goes on with a flight whose clock began at the end of this one.
    pub fn append(&mut self, later: &Self) {
        let begun = self.nodes.last().map_or(0.0, |node| node.time_s);
        self.nodes.extend(later.nodes.iter().map(|node| Node {
            time_s: begun + node.time_s,
            ..*node
        }));
    }

    /// A level (m/s²) held for a time (s), and nothing before and after.
    #[must_use]
    pub fn held(level_m_s2: f64, time_s: f64) -> Self {
        let mut trace = Self::default();
        trace.push(0.0, level_m_s2, 0.0);
        trace.push(time_s, level_m_s2, 0.0);
        trace
    }
}

impl Curves {
    /// Whether there is nothing to hold a flight against.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Where a flight is hardest on these curves; `None` without curves, or where nothing was sensed.
    #[must_use]
    pub fn exposure(&self, trace: &Trace) -> Option<Exposure> {
        let highest = trace
            .nodes
            .iter()
            .fold(0.0_f64, |h, node| h.max(node.level));
        if !(highest > f64::MIN_POSITIVE) {
            return None;
        }
        // At its peak a flight already is at peak over the curve's highest level. A level that lies below the curve's
        // lowest one by more than that cannot count.
        let spread = |curve: &SensedCurve| curve.ends().1 - curve.ends().0;
        let widest = self.list.iter().map(spread).fold(0.0, f64::min);
        let floor = ln(highest) + widest;
        let stays = Stays::new(trace, floor, self.several_peaks);
        let mut worst: Option<Exposure> = None;
        for (place, curve) in self.list.iter().enumerate() {
            let (share, level, stay_s) = stays.hardest(curve);
            let ratio = exp(share);
            if worst.is_none_or(|worst| ratio > worst.ratio) {
                worst = Some(Exposure {
                    ratio,
                    level_m_s2: exp(level),
                    stay_s,
                    curve: place,
                });
            }
        }
        worst
    }
}

/// A part of a step along which the logarithm of what is sensed only rises or only falls.
#[derive(Debug, Clone, Copy)]
struct Piece {
    start_s: f64,
    /// 0 for a jump.
    step_s: f64,
    /// The cubic over the step, by place in [0, 1].
    cubic: LogCubic,
    /// Places where the piece begins and ends.
    places: (f64, f64),
    /// The logarithms there.
    ends: (f64, f64),
}

impl Piece {
    fn time_s(&self, place: f64) -> f64 {
        place.mul_add(self.step_s, self.start_s)
    }

    /// When a level between the ends is passed, and the rate of that time with the level.
    fn crossing(&self, level: f64) -> (f64, f64) {
        if self.step_s <= 0.0 {
            return (self.start_s, 0.0);
        }
        let (mut low, mut high) = self.places;
        let (from, to) = self.ends;
        let mut place = low + (high - low) * (level - from) / (to - from);
        for _ in 0..60 {
            let (y, slope) = self.cubic.log_and_slope(place);
            if (y < level) == (to > from) {
                low = place;
            } else {
                high = place;
            }
            let newton = place - (y - level) / slope;
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            let moved = (next - place).abs();
            place = next;
            if moved < 1e-11 {
                break;
            }
        }
        let (_, slope) = self.cubic.log_and_slope(place);
        (self.time_s(place), self.step_s / slope)
    }
}

/// The stay above a level and its rate with the logarithm of the level.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Stay {
    s: f64,
    rate: f64,
    /// The piece in which the longest stay begins.
    of: usize,
}

/// A level (its logarithm) with the stay at or above it, and the one above it: these differ where the flight lingers
/// at the level or two peaks part there.
#[derive(Debug, Clone, Copy)]
struct At {
    level: f64,
    closed: Stay,
    open: Stay,
}

/// The stays above all levels of a flight.
struct Stays {
    pieces: Vec<Piece>,
    /// Logarithms of the levels at which a piece begins or ends, rising; between two of them stays run smoothly.
    levels: Vec<f64>,
    several_peaks: SeveralPeaks,
}

impl Stays {
    /// Of the part of a flight above a level whose logarithm is `floor`.
    fn new(trace: &Trace, floor: f64, several_peaks: SeveralPeaks) -> Self {
        let mut pieces = Vec::with_capacity(trace.nodes.len() + 8);
        let lowest = exp(floor);
        for pair in trace.nodes.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let hump = a.log_rate > 0.0 && b.log_rate < 0.0;
            if a.level > lowest || b.level > lowest || hump {
                cut(a, b, &mut pieces);
            }
        }
        let ends = pieces.iter().flat_map(|piece| [piece.ends.0, piece.ends.1]);
        let mut levels: Vec<f64> = ends.filter(|level| *level > floor).collect();
        levels.push(floor);
        levels.sort_unstable_by(f64::total_cmp);
        levels.dedup();
        Self {
            pieces,
            levels,
            several_peaks,
        }
    }

    /// The stay above a level, with the level itself where `closed`.
    fn stay(&self, level: f64, closed: bool) -> Stay {
        let above = |y: f64| y > level || (closed && y == level);
        let mut found = Stay::default();
        let mut open: Option<(f64, f64, usize)> = None;
        let mut take = |(from, to, of): ((f64, f64), (f64, f64), usize)| {
            let (s, rate) = (to.0 - from.0, to.1 - from.1);
            match self.several_peaks {
                SeveralPeaks::TimeAddedUp => {
                    found.s += s;
                    found.rate += rate;
                }
                SeveralPeaks::LongestSingleStay if s > found.s => found = Stay { s, rate, of },
                SeveralPeaks::LongestSingleStay => {}
            }
        };
        for (index, piece) in self.pieces.iter().enumerate() {
            match (above(piece.ends.0), above(piece.ends.1)) {
                (true, true) => {
                    open.get_or_insert((piece.time_s(piece.places.0), 0.0, index));
                }
                (false, true) => {
                    let (time, rate) = piece.crossing(level);
                    open = Some((time, rate, index));
                }
                (true, false) => {
                    let begun = (piece.time_s(piece.places.0), 0.0, index);
                    let (time, rate, of) = open.take().unwrap_or(begun);
                    take(((time, rate), piece.crossing(level), of));
                }
                (false, false) => {}
            }
        }
        if let (Some((time, rate, of)), Some(last)) = (open, self.pieces.last()) {
            take(((time, rate), (last.time_s(last.places.1), 0.0), of));
        }
        found
    }

    fn at(&self, level: f64) -> At {
        At {
            level,
            closed: self.stay(level, true),
            open: self.stay(level, false),
        }
    }

    /// The largest ln(L/c(s(L))), with the ln L and the s at which it is.
    ///
    /// Between two levels the stay lies between those at its ends, which bounds what can be found there: stretches of
    /// levels that cannot hold the largest are left out, the others are halved until the stay runs smoothly in
    /// them, and then followed by the cubic of ln L over ln s.
    fn hardest(&self, curve: &SensedCurve) -> (f64, f64, f64) {
        /// What may be missed, as a share of the level.
        const MISS: f64 = 1e-7;
        let mut best = (f64::NEG_INFINITY, 0.0, 0.0);
        let mut try_at = |level: f64, stay_s: f64| {
            let share = level - curve.limit_of(stay_s);
            if share > best.0 {
                best = (share, level, stay_s);
            }
            best.0
        };
        let Some(last) = self.levels.len().checked_sub(1) else {
            return best;
        };
        let (bottom, top) = (self.at(self.levels[0]), self.at(self.levels[last]));
        try_at(top.level, top.closed.s);
        try_at(bottom.level, bottom.closed.s);
        let mut cells = vec![(bottom, top, 0, last)];
        while let Some((low, high, from, to)) = cells.pop() {
            let so_far = try_at(high.level, high.closed.s);
            let bound = high.level - curve.limit_of(low.open.s);
            let width = high.level - low.level;
            if bound <= so_far + MISS || width < 1e-10 {
                continue;
            }
            let mut split = |at: At, (left, right): ((usize, usize), (usize, usize))| {
                try_at(at.level, at.closed.s);
                cells.push((low, at, left.0, left.1));
                cells.push((at, high, right.0, right.1));
            };
            if to > from + 1 {
                let middle = from + (to - from) / 2;
                split(self.at(self.levels[middle]), ((from, middle), (middle, to)));
                continue;
            }
            let ends = ((from, to), (from, to));
            let (long, short) = (low.open, high.closed);
            if short.s < 0.6 * long.s {
                // Near a peak the stay goes with the root of what lies above the level.
                split(self.at(high.level - 0.25 * width), ends);
                continue;
            }
            let smooth = width < 0.1 && long.of == short.of;
            let Some((level, foretold)) = smooth.then(|| crest((low, high), curve)).flatten()
            else {
                split(self.at(0.5f64.mul_add(width, low.level)), ends);
                continue;
            };
            if foretold <= so_far + MISS {
                continue;
            }
            let at = self.at(level);
            let share = at.level - curve.limit_of(at.closed.s);
            if (share - foretold).abs() > MISS && level > low.level && level < high.level {
                split(at, ends);
            } else {
                try_at(at.level, at.closed.s);
            }
        }
        best
    }
}

/// Where the cubic of ln L over ln s through two levels and their rates is furthest above the curve, and how far;
/// `None` where it has no finite rates.
fn crest((low, high): (At, At), curve: &SensedCurve) -> Option<(f64, f64)> {
    let (long, short) = (low.open, high.closed);
    let (x0, x1) = (ln(short.s), ln(long.s));
    let length = x1 - x0;
    let slope = |stay: Stay| stay.s / stay.rate * length;
    let (d0, d1) = (slope(short), slope(long));
    if !(length > 0.0 && d0.is_finite() && d1.is_finite()) {
        return None;
    }
    let (y0, y1) = (high.level, low.level);
    let mut best = (high.level, high.level - curve.limit(x0));
    let mut consider = |place: f64| {
        let level = hermite(y0, d0, y1, d1, place).clamp(low.level, high.level);
        let share = level - curve.limit(place.mul_add(length, x0));
        if share > best.1 {
            best = (level, share);
        }
    };
    consider(1.0);
    let place_of = |x: f64| (x - x0) / length;
    let mut knots = vec![0.0];
    let inside = curve.points.iter().map(|(d, _)| place_of(*d));
    knots.extend(inside.filter(|place| *place > 0.0 && *place < 1.0));
    knots.push(1.0);
    let (c2, c3) = coefficients((y0, y1), (d0, d1));
    for pair in knots.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        consider(to);
        // Where the cubic runs parallel to the curve.
        let limit = |place: f64| curve.limit(place.mul_add(length, x0));
        let steepness = (limit(to) - limit(from)) / (to - from);
        for place in quadratic_roots(3.0 * c3, 2.0 * c2, d0 - steepness) {
            if place > from && place < to {
                consider(place);
            }
        }
    }
    Some(best)
}

/// The two upper coefficients of the cubic through two values with these slopes.
fn coefficients((y0, y1): (f64, f64), (d0, d1): (f64, f64)) -> (f64, f64) {
    let rise = y1 - y0;
    (3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise)
}

/// Cuts a step into its pieces.
fn cut(a: &Node, b: &Node, pieces: &mut Vec<Piece>) {
    let step_s = b.time_s - a.time_s;
    let cubic = LogCubic::new((a.level, b.level), (a.log_rate, b.log_rate), step_s);
    let mut add = |places: (f64, f64), ends: (f64, f64)| {
        pieces.push(Piece {
            start_s: a.time_s,
            step_s,
            cubic,
            places,
            ends,
        });
    };
    let (y0, y1) = cubic.logs();
    if step_s <= 0.0 {
        add((0.0, 1.0), (y0, y1));
        return;
    }
    let (mut place, mut y) = (0.0, y0);
    for turn in cubic.turns() {
        if turn > place && turn < 1.0 {
            let there = cubic.log_and_slope(turn).0;
            add((place, turn), (y, there));
            (place, y) = (turn, there);
        }
    }
    add((place, 1.0), (y, y1));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers between 0 and 1 (Marsaglia's xorshift).
    struct Random(u64);

    impl Random {
        fn next(&mut self) -> f64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            #[expect(clippy::cast_precision_loss, reason = "53 bits")]
            let share = (self.0 >> 11) as f64 / (1u64 << 53) as f64;
            share
        }

        fn between(&mut self, low: f64, high: f64) -> f64 {
            low + (high - low) * self.next()
        }
    }

    /// One to three bells with waves on them, at uneven steps, sometimes with a jump.
    fn random_trace(random: &mut Random) -> Trace {
        let peaks = 1 + (3.0 * random.next()) as usize;
        let bells: Vec<[f64; 3]> = (0..peaks)
            .map(|_| {
                [
                    random.between(10.0, 120.0),
                    random.between(20.0, 120.0),
                    random.between(4.0, 20.0),
                ]
            })
            .collect();
        let (wave, length) = (random.between(0.0, 0.03), random.between(5.0, 12.0));
        let factor_after = if random.next() < 0.3 { 0.4 } else { 1.0 };
        let drop_s = random.between(30.0, 150.0);
        let mut trace = Trace::default();
        let at = |t: f64, factor: f64| {
            let bell = |[height, middle, sigma]: &[f64; 3]| {
                let x = (t - middle) / sigma;
                let value = height * (-0.5 * x * x).exp();
                (value, -x / sigma * value)
            };
            let (mut sum, mut rate) = (1e-3, 0.0);
            for (value, slope) in bells.iter().map(bell) {
                sum += value;
                rate += slope;
            }
            let waved = factor * sum * (wave * (t / length).sin()).exp();
            (waved, rate / sum + wave / length * (t / length).cos())
        };
        let (mut t, mut factor) = (0.0, 1.0);
        while t < 180.0 {
            let (level, rate) = at(t, factor);
            trace.push(t, level, rate);
            let next = t + random.between(0.3, 4.0);
            if factor_after < 1.0 && t < drop_s && next >= drop_s {
                let (level, rate) = at(drop_s, factor);
                trace.push(drop_s, level, rate);
                factor = factor_after;
                let (level, rate) = at(drop_s, factor);
                trace.push(drop_s, level, rate);
            }
            t = next;
        }
        trace
    }

    fn random_curve(random: &mut Random) -> SensedCurve {
        let count = 1 + (6.0 * random.next()) as usize;
        let (mut s, mut a) = (random.between(0.1, 3.0), random.between(60.0, 150.0));
        let points: Vec<(f64, f64)> = (0..count)
            .map(|_| {
                let point = (s, a);
                s *= 1.0 + random.between(0.001, 4.0).powi(2);
                // Plateaus and cliffs among gentle slopes.
                a *= [1.0, 0.5, 0.8, 0.95][(4.0 * random.next()) as usize];
                point
            })
            .collect();
        SensedCurve::new(&points).unwrap()
    }

    /// The largest level over the one that may last as long, of 2000 levels on a grid of a millisecond.
    fn brute(trace: &Trace, curve: &SensedCurve, rule: SeveralPeaks) -> f64 {
        let mut fine: Vec<(f64, f64)> = Vec::new();
        for pair in trace.nodes.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let h = b.time_s - a.time_s;
            fine.push((a.time_s, a.level));
            if h > 0.0 {
                let cubic = LogCubic::new((a.level, b.level), (a.log_rate, b.log_rate), h);
                let steps = (h / 1e-3).ceil();
                let inner = (1..steps as u32).map(|i| f64::from(i) / steps);
                fine.extend(inner.map(|u| (a.time_s + u * h, cubic.value(u))));
            }
        }
        let peak = fine.iter().fold(0.0_f64, |peak, (_, a)| peak.max(*a));
        let lowest = exp(curve.ends().1 - curve.ends().0) * peak;
        (0..=2000)
            .map(|i| lowest * (peak / lowest).powf(f64::from(i) / 2000.0))
            .map(|level| {
                let (mut longest, mut all, mut stay) = (0.0_f64, 0.0, 0.0);
                for pair in fine.windows(2) {
                    let h = pair[1].0 - pair[0].0;
                    if pair[0].1 >= level && pair[1].1 >= level {
                        stay += h;
                        all += h;
                        longest = longest.max(stay);
                    } else {
                        stay = 0.0;
                    }
                }
                let stay = if rule == SeveralPeaks::TimeAddedUp {
                    all
                } else {
                    longest
                };
                level / exp(curve.limit_of(stay))
            })
            .fold(0.0, f64::max)
    }

    /// Levels 0.2 % apart and a grid of a millisecond leave that much to be missed, to one side only.
    #[test]
    fn the_hardest_level_is_that_of_a_search_through_all() {
        let mut random = Random(0x9e37_79b9_7f4a_7c15);
        for case in 0..15 {
            let (trace, curve) = (random_trace(&mut random), random_curve(&mut random));
            for rule in [SeveralPeaks::LongestSingleStay, SeveralPeaks::TimeAddedUp] {
                let curves = Curves {
                    list: vec![curve.clone()],
                    several_peaks: rule,
                };
                let found = curves.exposure(&trace).unwrap();
                let searched = brute(&trace, &curve, rule);
                let off = found.ratio / searched - 1.0;
                assert!(
                    (-2e-4..3e-3).contains(&off),
                    "{case} {rule:?}: {found:?} {searched} ({off:.1e})"
                );
                let told = found.level_m_s2 / exp(curve.limit_of(found.stay_s));
                assert!((told / found.ratio - 1.0).abs() < 1e-12);
            }
        }
    }

    /// Levels twice as high are twice as hard, to the rounding.
    #[test]
    fn the_ratio_goes_with_the_levels() {
        let mut random = Random(7);
        for _ in 0..200 {
            let (trace, curve) = (random_trace(&mut random), random_curve(&mut random));
            let mut doubled = trace.clone();
            for node in &mut doubled.nodes {
                node.level *= 2.0;
            }
            let curves = Curves {
                list: vec![curve],
                several_peaks: SeveralPeaks::LongestSingleStay,
            };
            let (once, twice) = (curves.exposure(&trace), curves.exposure(&doubled));
            let ratio = twice.unwrap().ratio / once.unwrap().ratio;
            assert!((ratio - 2.0).abs() < 1e-6, "{ratio}");
        }
    }

    /// In closed form: a bell a exp(-t²/2σ²) is above L for 2σ√(2 ln(a/L)); against c = k s^-p the worst level is
    /// a e^(-p/2), where the stay is 2σ√p.
    #[test]
    fn a_bell_against_a_straight_curve_is_that_of_the_closed_form() {
        let (a, sigma, p) = (50.0_f64, 12.0_f64, 0.25_f64);
        let mut trace = Trace::default();
        for i in -30..=30 {
            let t = 3.0 * f64::from(i);
            trace.push(
                t + 90.0,
                a * (-t * t / (2.0 * sigma * sigma)).exp(),
                -t / (sigma * sigma),
            );
        }
        let curve = |s: f64| (s, 70.0 * s.powf(-p));
        let curves = Curves {
            list: vec![SensedCurve::new(&[curve(0.1), curve(1000.0)]).unwrap()],
            several_peaks: SeveralPeaks::LongestSingleStay,
        };
        let found = curves.exposure(&trace).unwrap();
        let level = a * (-0.5 * p).exp();
        let stay = 2.0 * sigma * p.sqrt();
        assert!(
            (found.ratio / (level / curve(stay).1) - 1.0).abs() < 1e-9,
            "{found:?}"
        );
        assert!((found.stay_s / stay - 1.0).abs() < 1e-3, "{found:?}");
        // Two of them apart last twice as long together, one by one not longer.
        let mut two = trace.clone();
        two.append(&trace);
        assert!((curves.exposure(&two).unwrap().ratio / found.ratio - 1.0).abs() < 1e-9);
        let together = Curves {
            several_peaks: SeveralPeaks::TimeAddedUp,
            ..curves
        };
        let twice = together.exposure(&two).unwrap().ratio / found.ratio;
        assert!((twice / 2_f64.powf(p) - 1.0).abs() < 1e-9, "{twice}");
    }

    /// A level held: above the highest point for no time, at the last one for its duration, below it for ever.
    #[test]
    fn every_point_of_a_curve_counts_the_last_one_too() {
        let curves = Curves {
            list: vec![SensedCurve::new(&[(0.5, 38.0), (120.0, 8.8), (1200.0, 5.0)]).unwrap()],
            several_peaks: SeveralPeaks::LongestSingleStay,
        };
        for (level, time_s, held) in [
            (38.01, 1e-3, false),
            (37.99, 0.49, true),
            (37.99, 0.52, false),
            (8.8, 119.9, true),
            (8.8, 120.1, false),
            (5.001, 1199.0, true),
            (5.001, 1201.0, false),
            (4.999, 1e6, true),
        ] {
            let found = curves.exposure(&Trace::held(level, time_s)).unwrap();
            assert_eq!(found.ratio <= 1.0, held, "{level} {time_s}: {found:?}");
        }
        assert_eq!(curves.exposure(&Trace::default()), None);
        assert_eq!(SensedCurve::new(&[(1.0, 2.0), (2.0, 3.0)]), None);
    }
}
