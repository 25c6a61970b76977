//! The level at which a flight is hardest on a curve of level and duration, against a search through many levels of
//! made-up histories, and in closed form.

use crate::curves::stays;
use periband::pass::exposure::{Curves, SensedCurve};
use periband::pass::extremes::LogCubic;
use periband::pass::trace::Trace;
use periband::scenario::people::SeveralPeaks;

/// Time s, level m/s² and log rate 1/s at the ends of steps.
type Nodes = Vec<(f64, f64, f64)>;

fn trace_of(nodes: &[(f64, f64, f64)]) -> Trace {
    let mut trace = Trace::default();
    for &(time_s, level, rate) in nodes {
        trace.push(time_s, level, rate);
    }
    trace
}

/// Numbers between 0 and 1 (Marsaglia's xorshift).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn next(&mut self) -> f64 {
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
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small numbers, not negative"
)]
fn random_trace(random: &mut Random) -> Nodes {
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
    let mut trace = Vec::new();
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
        trace.push((t, level, rate));
        let next = t + random.between(0.3, 4.0);
        if factor_after < 1.0 && t < drop_s && next >= drop_s {
            let (level, rate) = at(drop_s, factor);
            trace.push((drop_s, level, rate));
            factor = factor_after;
            let (level, rate) = at(drop_s, factor);
            trace.push((drop_s, level, rate));
        }
        t = next;
    }
    trace
}

/// Duration s and level m/s².
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small numbers, not negative"
)]
fn random_curve(random: &mut Random) -> Vec<(f64, f64)> {
    let count = 1 + (6.0 * random.next()) as usize;
    let (mut s, mut a) = (random.between(0.1, 3.0), random.between(60.0, 150.0));
    (0..count)
        .map(|_| {
            let point = (s, a);
            s *= 1.0 + random.between(0.001, 4.0).powi(2);
            // Plateaus and cliffs among gentle slopes.
            a *= [1.0, 0.5, 0.8, 0.95][(4.0 * random.next()) as usize];
            point
        })
        .collect()
}

/// The level that may last for a stay, straight in the logarithms between the points of the curve.
fn limit(points: &[(f64, f64)], stay_s: f64) -> f64 {
    let after = points.partition_point(|(s, _)| *s <= stay_s);
    match (after.checked_sub(1), points.get(after)) {
        (None, _) => points[0].1,
        (_, None) => points[points.len() - 1].1,
        (Some(before), Some(&(s1, a1))) => {
            let (s0, a0) = points[before];
            a0 * (a1 / a0).powf((stay_s / s0).ln() / (s1 / s0).ln())
        }
    }
}

/// The largest level over the one that may last as long, of 2000 levels on a grid of a millisecond.
fn brute(nodes: &[(f64, f64, f64)], points: &[(f64, f64)], rule: SeveralPeaks) -> f64 {
    let mut fine: Vec<(f64, f64)> = Vec::new();
    for pair in nodes.windows(2) {
        let ((t0, a0, d0), (t1, a1, d1)) = (pair[0], pair[1]);
        let h = t1 - t0;
        fine.push((t0, a0));
        if h > 0.0 {
            let cubic = LogCubic::new((a0, a1), (d0, d1), h);
            let steps = (h / 1e-3).ceil();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "steps of a millisecond"
            )]
            let inner = (1..steps as u32).map(|i| f64::from(i) / steps);
            fine.extend(inner.map(|u| (t0 + u * h, cubic.value(u))));
        }
    }
    let peak = fine.iter().fold(0.0_f64, |peak, (_, a)| peak.max(*a));
    let lowest = points[points.len() - 1].1 / points[0].1 * peak;
    let levels: Vec<f64> = (0..=2000)
        .map(|i| lowest * (peak / lowest).powf(f64::from(i) / 2000.0))
        .collect();
    let found = stays(&fine, &levels);
    let shares = levels.iter().zip(found).map(|(level, (longest, sum))| {
        let stay_s = match rule {
            SeveralPeaks::LongestSingleStay => longest,
            SeveralPeaks::TimeAddedUp => sum,
        };
        level / limit(points, stay_s)
    });
    shares.fold(0.0, f64::max)
}

fn curves(points: &[(f64, f64)], several_peaks: SeveralPeaks) -> Curves {
    Curves {
        list: vec![SensedCurve::new(points).expect("a curve")],
        several_peaks,
    }
}

/// Levels 0.2 % apart and a grid of a millisecond leave that much to be missed, to one side only.
#[test]
fn the_hardest_level_is_that_of_a_search_through_all() {
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    for case in 0..200 {
        let (nodes, points) = (random_trace(&mut random), random_curve(&mut random));
        for rule in [SeveralPeaks::LongestSingleStay, SeveralPeaks::TimeAddedUp] {
            let found = curves(&points, rule).exposure(&trace_of(&nodes));
            let found = found.expect("felt");
            let searched = brute(&nodes, &points, rule);
            let off = found.ratio / searched - 1.0;
            assert!(
                (-2e-4..3e-3).contains(&off),
                "{case} {rule:?}: {found:?} {searched} ({off:.1e})"
            );
            let told = found.level_m_s2 / limit(&points, found.stay_s);
            assert!((told / found.ratio - 1.0).abs() < 1e-9);
        }
    }
}

/// Levels twice as high are twice as hard.
#[test]
fn the_ratio_goes_with_the_levels() {
    let mut random = Random(7);
    for _ in 0..200 {
        let (nodes, points) = (random_trace(&mut random), random_curve(&mut random));
        let doubled: Nodes = nodes.iter().map(|&(t, a, d)| (t, 2.0 * a, d)).collect();
        let curves = curves(&points, SeveralPeaks::LongestSingleStay);
        let ratio = |nodes: &Nodes| curves.exposure(&trace_of(nodes)).expect("felt").ratio;
        let twice = ratio(&doubled) / ratio(&nodes);
        assert!((twice - 2.0).abs() < 1e-6, "{twice}");
    }
}

/// A bell a exp(-t²/2σ²) is above L for 2σ√(2 ln(a/L)); against c = k s^-p the worst level is a e^(-p/2), where the
/// stay is 2σ√p (computed).
#[test]
fn a_bell_against_a_straight_curve_is_that_of_the_closed_form() {
    let (a, sigma, p) = (50.0_f64, 12.0_f64, 0.25_f64);
    let bell = |i: i32| {
        let t = 3.0 * f64::from(i);
        let square = sigma * sigma;
        (t + 90.0, a * (-t * t / (2.0 * square)).exp(), -t / square)
    };
    let one = trace_of(&(-30..=30).map(bell).collect::<Nodes>());
    let point = |s: f64| (s, 70.0 * s.powf(-p));
    let points = [point(0.1), point(1000.0)];
    let single = curves(&points, SeveralPeaks::LongestSingleStay);
    let found = single.exposure(&one).expect("felt");
    let stay = 2.0 * sigma * p.sqrt();
    let expected = a * (-0.5 * p).exp() / point(stay).1;
    assert!((found.ratio / expected - 1.0).abs() < 1e-9, "{found:?}");
    assert!((found.stay_s / stay - 1.0).abs() < 1e-3, "{found:?}");
    // Two of them apart are above each level for twice as long, in stays of the same length.
    let mut two = one.clone();
    two.append(&one);
    let again = single.exposure(&two).expect("felt");
    assert!((again.ratio / found.ratio - 1.0).abs() < 1e-9);
    let added = curves(&points, SeveralPeaks::TimeAddedUp).exposure(&two);
    let twice = added.expect("felt").ratio / found.ratio;
    assert!((twice / 2_f64.powf(p) - 1.0).abs() < 1e-9, "{twice}");
}
