//! What was sensed along a flight, and how long it stayed above each level. Between the ends of its steps it is followed
//! as peaks are; what a stay may last is left to others.

use super::extremes::LogCubic;
use crate::numeric::elementary::exp;
use crate::scenario::people::SeveralPeaks;

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
    /// The highest level at the end of a step, m/s²; 0 without any.
    pub(super) fn highest(&self) -> f64 {
        self.nodes
            .iter()
            .fold(0.0, |h: f64, node| h.max(node.level))
    }

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
pub(super) struct Stay {
    pub(super) s: f64,
    pub(super) rate: f64,
    /// The piece in which the longest stay begins.
    pub(super) of: usize,
}

/// A level (its logarithm) with the stay at or above it, and the one above it: these differ where the flight lingers
/// at the level or two peaks part there.
#[derive(Debug, Clone, Copy)]
pub(super) struct At {
    pub(super) level: f64,
    pub(super) closed: Stay,
    pub(super) open: Stay,
}

/// The stays above all levels of a flight.
pub(super) struct Stays {
    pieces: Vec<Piece>,
    /// Logarithms of the levels at which a piece begins or ends, rising; between two of them stays run smoothly.
    pub(super) levels: Vec<f64>,
    several_peaks: SeveralPeaks,
}

impl Stays {
    /// Of the part of a flight above a level whose logarithm is `floor`.
    pub(super) fn new(trace: &Trace, floor: f64, several_peaks: SeveralPeaks) -> Self {
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

    pub(super) fn at(&self, level: f64) -> At {
        At {
            level,
            closed: self.stay(level, true),
            open: self.stay(level, false),
        }
    }
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
