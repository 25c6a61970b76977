//! When to drop the skirt: at the moment at which the ship without it would meet its target.

/// Watches the miss of a drop at once, cycle by cycle, and settles the time of the drop.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SkirtWatch {
    /// Time and miss of the last decisions, the newest first.
    noted: [Option<(f64, f64)>; 3],
    drops_at_s: Option<f64>,
}

impl SkirtWatch {
    /// Whether the skirt is still on at a time, s.
    #[must_use]
    pub fn is_on(&self, time_s: f64) -> bool {
        self.drops_at_s.is_none_or(|at_s| time_s < at_s)
    }

    /// The time of the drop, s, once it is settled.
    #[must_use]
    pub fn drops_at(&self) -> Option<f64> {
        self.drops_at_s
    }

    /// Takes in the miss of a drop at `time_s`: negative while the ship would still fly on too fast. When it
    /// comes to 0 before the next decision, `cycle_s` later, the time of the drop is settled.
    pub fn note(&mut self, time_s: f64, miss: f64, cycle_s: f64) {
        if self.drops_at_s.is_some() || !miss.is_finite() {
            return;
        }
        self.noted = [Some((time_s, miss)), self.noted[0], self.noted[1]];
        if miss >= 0.0 {
            self.drops_at_s = Some(time_s);
            return;
        }
        let Some((before_s, before)) = self.noted[1] else {
            return;
        };
        // The parabola through the last three misses, or the line through two, ahead of now.
        let rate = (miss - before) / (time_s - before_s);
        let bend = self.noted[2].map_or(0.0, |(first_s, first)| {
            let earlier = (before - first) / (before_s - first_s);
            (rate - earlier) / (time_s - first_s)
        });
        let at = |ahead: f64| {
            (bend * (ahead + time_s - before_s)).mul_add(ahead, rate.mul_add(ahead, miss))
        };
        if at(cycle_s) <= 0.0 {
            return;
        }
        let (mut low, mut high) = (0.0, cycle_s);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if at(middle) < 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        self.drops_at_s = Some(time_s + high);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A parabola that crosses 0 between two decisions is met where it crosses.
    #[test]
    fn the_drop_falls_where_the_miss_comes_to_zero() {
        let miss = |t: f64| 0.01 * (t - 3.0) * (t + 9.0);
        let mut watch = SkirtWatch::default();
        for step in 0..3 {
            let time = f64::from(step) * 1.2;
            assert!(watch.is_on(time));
            watch.note(time, miss(time), 1.2);
        }
        assert!((watch.drops_at().expect("settled") - 3.0).abs() < 1e-9);
        assert!(watch.is_on(2.9) && !watch.is_on(3.1));
    }

    #[test]
    fn a_miss_that_is_positive_at_once_drops_at_once() {
        let mut watch = SkirtWatch::default();
        watch.note(4.0, f64::NAN, 2.0);
        assert_eq!(watch.drops_at(), None);
        watch.note(6.0, 0.1, 2.0);
        assert_eq!(watch.drops_at(), Some(6.0));
    }
}
