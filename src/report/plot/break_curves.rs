//! Probability of breaking each limit against the aim periapsis, with the safe band:
//! the figure that answers where to aim.

use super::heading;
use super::palette::{self, GREEN, INK, Mark, SOLID, VERMILLION};
use super::panel::{Axis, Band, Curve, Panel, Stretch, Upright};
use super::scale::{Scale, extent};
use super::scene::Scene;
use crate::report::coverage_words::limits_hold;
use crate::report::figure::Figure;
use crate::report::number::{Quantity, count, percent};

/// The figure's data. Lists run along [`aim_m`](Self::aim_m); what is not finite is left out.
#[derive(Debug, Clone, Default)]
pub struct BreakCurves {
    /// Title.
    pub title: String,
    /// Aim periapsis altitudes of the grid, m, rising.
    pub aim_m: Vec<f64>,
    /// One curve a limit.
    pub limits: Vec<BreakCurve>,
    /// The curve of "not all limits held"; its key and name are not used.
    pub any: BreakCurve,
    /// Aims (m, rising) and the curve of "any limit broken" of the same ship unsteered.
    pub held: Option<(Vec<f64>, BreakCurve)>,
    /// The probability asked for that all limits hold, 0 to 1.
    pub required: f64,
    /// Lower and upper edge of the safe band, m; none if the band is empty.
    pub safe_band_m: Option<(f64, f64)>,
    /// Recommended aim periapsis altitude, m.
    pub recommended_m: Option<f64>,
    /// Passes flown at each aim, for the note.
    pub passes: Option<u64>,
    /// Whether the models do not cover a limit: the band is then that of the others.
    pub uncovered: bool,
}

/// Probability of breaking one limit at each aim.
#[derive(Debug, Clone, Default)]
pub struct BreakCurve {
    /// The limit's key in a scenario, such as `peak_deceleration`; it sets colour and dashes.
    pub key: String,
    /// What to call it.
    pub name: String,
    /// Probability of breaking it at each aim, 0 to 1.
    pub probability: Vec<f64>,
    /// Lower and upper confidence bound at each aim, 0 to 1; may be empty.
    pub interval: Vec<(f64, f64)>,
}

impl BreakCurve {
    /// Whether the value at this place is drawn: of a stretch of zeros only the ends next to other values are.
    fn shows(&self, i: usize) -> bool {
        let near = self
            .probability
            .get(i.saturating_sub(1)..(i + 2).min(self.probability.len()));
        near.is_some_and(|near| near.iter().any(|p| *p > 0.0))
    }

    fn points(&self, aims_km: &[f64]) -> Vec<(f64, f64)> {
        let values = self.probability.iter().enumerate();
        let values = values.map(|(i, p)| if self.shows(i) { *p } else { f64::NAN });
        aims_km.iter().copied().zip(values).collect()
    }

    /// The confidence interval where the curve is drawn.
    fn band(&self, aims_km: &[f64], mark: Mark) -> Option<Band> {
        if self.interval.is_empty() {
            return None;
        }
        let side = |pick: fn(&(f64, f64)) -> f64| {
            let bounds = self.interval.iter().enumerate();
            let bounds = bounds.map(|(i, b)| if self.shows(i) { pick(b) } else { f64::NAN });
            aims_km.iter().copied().zip(bounds).collect()
        };
        Some(Band {
            lower: side(|bounds| bounds.0),
            upper: side(|bounds| bounds.1),
            name: String::new(),
            colour: mark.colour,
            opacity: 0.16,
        })
    }

    fn ever_broken(&self) -> bool {
        self.probability.iter().any(|p| *p > 0.0)
    }
}

impl BreakCurves {
    /// Names of the limits that no pass broke: they have no curve, but a place in the note.
    fn never_broken(&self) -> Vec<&str> {
        let never = self.limits.iter().filter(|limit| !limit.ever_broken());
        never.map(|limit| limit.name.as_str()).collect()
    }

    fn note(&self) -> String {
        let mut parts = Vec::new();
        if let Some(passes) = self.passes {
            parts.push(format!("{} passes at each aim", count(passes)));
        }
        if self.limits.iter().any(|limit| !limit.interval.is_empty())
            || !self.any.interval.is_empty()
        {
            parts.push("shaded: confidence interval".into());
        }
        let never = self.never_broken();
        if !never.is_empty() {
            parts.push(format!("never broken: {}", never.join(", ")));
        }
        if self.safe_band_m.is_none() {
            parts.push("no safe band".into());
        }
        let mut note = parts.join("; ");
        if let Some(first) = note.get_mut(0..1) {
            first.make_ascii_uppercase();
        }
        note
    }

    fn panel(&self) -> Panel {
        let km = |m: f64| Quantity::Altitude.shown(m);
        let aims: Vec<f64> = self.aim_m.iter().map(|m| km(*m)).collect();
        let allowed = 1.0 - self.required;
        let curves = || self.limits.iter().chain(std::iter::once(&self.any));
        let smallest = curves().flat_map(|curve| &curve.probability).copied();
        let x = Scale::tight(aims.iter().copied());
        let mut panel = Panel::new(
            Axis {
                title: "aim periapsis altitude, km".into(),
                scale: x,
            },
            Axis {
                title: "probability of breaking the limit".into(),
                scale: Scale::probability(smallest.chain([allowed])),
            },
        );
        let curve = |data: &BreakCurve, name: &str, mark: Mark, width: f64| Curve {
            points: data.points(&aims),
            name: name.into(),
            mark,
            width,
            on_right: false,
        };
        if !self.any.probability.is_empty() {
            panel
                .curves
                .push(curve(&self.any, "any limit", palette::ANY_LIMIT, 3.6));
            let band = self.any.band(&aims, palette::ANY_LIMIT);
            // It follows the limits' own bands; darker, it would muddy their colours.
            panel.bands.extend(band.map(|band| Band {
                opacity: 0.08,
                ..band
            }));
        }
        if let Some((aims_m, held)) = &self.held {
            let aims: Vec<f64> = aims_m.iter().map(|m| km(*m)).collect();
            panel.curves.push(Curve {
                points: held.points(&aims),
                name: held.name.clone(),
                mark: Mark::new(INK, palette::DASH_DOT),
                width: 1.8,
                on_right: false,
            });
        }
        for limit in self.limits.iter().filter(|limit| limit.ever_broken()) {
            let mark = palette::limit(&limit.key);
            panel.curves.push(curve(limit, &limit.name, mark, 2.0));
            panel.bands.extend(limit.band(&aims, mark));
        }
        if let Scale::Linear { low, high } = x {
            panel.curves.push(Curve {
                points: vec![(low, allowed), (high, allowed)],
                name: format!("allowed: {}", percent(allowed)),
                mark: Mark::new(INK, palette::DOTTED),
                width: 1.3,
                on_right: false,
            });
        }
        if let Some((low, high)) = self.safe_band_m {
            panel.stretches.push(Stretch {
                from: km(low),
                to: km(high),
                name: format!("safe band {:.2} to {:.2} km", km(low), km(high)),
                colour: GREEN,
            });
        }
        if let Some(aim) = self.recommended_m {
            let (words, colour) = match self.safe_band_m {
                Some(_) => ("aim for", GREEN),
                None => ("likeliest to hold:", VERMILLION),
            };
            panel.uprights.push(Upright {
                at: km(aim),
                name: format!("{words} {:.2} km", km(aim)),
                mark: Mark::new(colour, SOLID),
            });
        }
        panel
    }
}

impl Figure for BreakCurves {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(540.0, &self.title, &self.note());
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let range = extent(self.aim_m.iter().copied()).map_or_else(String::new, |(low, high)| {
            format!(
                " for aims from {} to {}",
                Quantity::Altitude.write(low),
                Quantity::Altitude.write(high)
            )
        });
        let band = match self.safe_band_m {
            Some((low, high)) => format!(
                "the safe band, where {} with {}, is shaded from {} to {}",
                limits_hold(!self.uncovered),
                percent(self.required),
                Quantity::Altitude.write(low),
                Quantity::Altitude.write(high)
            ),
            None => format!(
                "at no aim do all limits hold with {}",
                percent(self.required)
            ),
        };
        format!("Probability of breaking each limit and any of them{range}; {band}.")
    }
}
