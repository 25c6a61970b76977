//! One pass against time: altitude, speed, deceleration and heat flux one above the other,
//! with their extremes marked.

use super::heading;
use super::palette::{self, BLUE, GREEN, INK, MUTED, Mark, PURPLE, SOLID, VERMILLION};
use super::panel::{Axis, Curve, Panel, Spot, Upright};
use super::scale::Scale;
use super::scene::{Area, Scene};
use crate::report::figure::Figure;
use crate::report::number::Quantity;
use crate::report::whole;

/// The figure's data, SI. Lists run along [`time_s`](Self::time_s); an empty one leaves its panel empty.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Time, s.
    pub time_s: Vec<f64>,
    /// What the time counts from; `entry interface` if empty.
    pub time_from: String,
    /// Altitude, m.
    pub altitude_m: Vec<f64>,
    /// Speed relative to the air, m/s.
    pub relative_speed_m_s: Vec<f64>,
    /// Sensed deceleration, m/s².
    pub deceleration_m_s2: Vec<f64>,
    /// Stagnation heat flux, W/m².
    pub heat_flux_w_m2: Vec<f64>,
    /// Bank angle flown, rad; empty for a ship that holds its own.
    pub bank_rad: Vec<f64>,
    /// Bank angle commanded, rad.
    pub commanded_rad: Vec<f64>,
    /// Moments to mark: time, s, and what happened.
    pub moments: Vec<(f64, String)>,
    /// Highest sensed deceleration allowed, m/s².
    pub deceleration_limit_m_s2: Option<f64>,
    /// Highest heat flux allowed, W/m².
    pub heat_flux_limit_w_m2: Option<f64>,
}

/// What one panel shows.
struct Part<'a> {
    title: &'a str,
    quantity: Quantity,
    values: &'a [f64],
    mark: Mark,
    extreme: Extreme,
    limit: Option<f64>,
}

/// Which value of a panel is marked.
#[derive(Clone, Copy, PartialEq)]
enum Extreme {
    Lowest,
    Highest,
    Last,
    None,
}

impl Extreme {
    fn find(self, points: &[(f64, f64)]) -> Option<(f64, f64)> {
        let mut finite = points.iter().filter(|p| p.0.is_finite() && p.1.is_finite());
        match self {
            Self::Lowest => finite.min_by(|a, b| a.1.total_cmp(&b.1)).copied(),
            Self::Highest => finite.max_by(|a, b| a.1.total_cmp(&b.1)).copied(),
            Self::Last => finite.next_back().copied(),
            Self::None => None,
        }
    }
}

impl History {
    fn parts(&self) -> Vec<Part<'_>> {
        let mut parts = vec![
            Part {
                title: "altitude, km",
                quantity: Quantity::Altitude,
                values: &self.altitude_m,
                mark: Mark::new(INK, SOLID),
                extreme: Extreme::Lowest,
                limit: None,
            },
            Part {
                title: "speed relative to the air, km/s",
                quantity: Quantity::Speed,
                values: &self.relative_speed_m_s,
                mark: Mark::new(GREEN, SOLID),
                extreme: Extreme::Last,
                limit: None,
            },
            Part {
                title: "sensed deceleration, g",
                quantity: Quantity::Deceleration,
                values: &self.deceleration_m_s2,
                mark: Mark::new(VERMILLION, SOLID),
                extreme: Extreme::Highest,
                limit: self.deceleration_limit_m_s2,
            },
            Part {
                title: "heat flux, W/cm²",
                quantity: Quantity::HeatFlux,
                values: &self.heat_flux_w_m2,
                mark: Mark::new(BLUE, SOLID),
                extreme: Extreme::Highest,
                limit: self.heat_flux_limit_w_m2,
            },
        ];
        if !self.bank_rad.is_empty() {
            parts.push(Part {
                title: "bank angle, deg",
                quantity: Quantity::Angle,
                values: &self.bank_rad,
                mark: Mark::new(PURPLE, SOLID),
                extreme: Extreme::None,
                limit: None,
            });
        }
        parts
    }

    fn panel(&self, part: &Part<'_>) -> Panel {
        let shown = part.values.iter().map(|v| part.quantity.shown(*v));
        let points: Vec<(f64, f64)> = self.time_s.iter().copied().zip(shown).collect();
        let highest = Extreme::Highest.find(&points).map_or(0.0, |p| p.1);
        // A limit far above the curve would flatten it; it is then left to the text.
        let limit = part.limit.map(|limit| part.quantity.shown(limit));
        let limit = limit.filter(|limit| *limit < 3.0 * highest);
        // Room above a peak for its value.
        let room = match part.extreme {
            Extreme::Highest => vec![0.0, 1.3 * highest],
            Extreme::Lowest | Extreme::Last | Extreme::None => Vec::new(),
        };
        let up = points.iter().map(|p| p.1).chain(limit).chain(room);
        let from = if self.time_from.is_empty() {
            "entry interface"
        } else {
            &self.time_from
        };
        let mut panel = Panel::new(
            Axis {
                title: format!("time from {from}, s"),
                scale: Scale::tight(self.time_s.iter().copied()),
            },
            Axis {
                title: part.title.into(),
                scale: Scale::roomy(up, 4),
            },
        );
        if let Some(at) = part.extreme.find(&points) {
            let value = part.quantity.write(at.1 / part.quantity.factor());
            panel.spots.push(Spot {
                at,
                name: match part.extreme {
                    Extreme::None => String::new(),
                    Extreme::Last => format!("{value} at the end"),
                    Extreme::Lowest | Extreme::Highest => format!("{value} at {:.0} s", at.0),
                },
                colour: part.mark.colour,
            });
        }
        if part.extreme == Extreme::None && !self.commanded_rad.is_empty() {
            let commanded = self.commanded_rad.iter().map(|v| part.quantity.shown(*v));
            panel.curves.push(Curve {
                points: self.time_s.iter().copied().zip(commanded).collect(),
                name: "commanded".into(),
                mark: Mark::new(MUTED, palette::DOTTED),
                width: 1.2,
                on_right: false,
            });
        }
        if part.extreme == Extreme::Lowest {
            for (at, name) in &self.moments {
                panel.uprights.push(Upright {
                    at: *at,
                    name: name.clone(),
                    mark: Mark::new(MUTED, palette::DASHED),
                });
            }
        }
        panel.curves.push(Curve {
            points,
            name: String::new(),
            mark: part.mark,
            width: 2.0,
            on_right: false,
        });
        if let (Some(limit), Scale::Linear { low, high }) = (limit, panel.x.scale) {
            panel.curves.push(Curve {
                points: vec![(low, limit), (high, limit)],
                name: format!(
                    "limit {}",
                    part.quantity.write(limit / part.quantity.factor())
                ),
                mark: Mark::new(part.mark.colour, palette::LONG_DASHED),
                width: 1.4,
                on_right: false,
            });
        }
        panel
    }
}

impl Figure for History {
    fn scene(&self) -> Scene {
        let parts = self.parts();
        let height = 32.0 + 182.0 * whole::real(parts.len());
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        let mut panels: Vec<Panel> = parts.iter().map(|part| self.panel(part)).collect();
        let gutter = panels.iter().map(Panel::gutter).fold(0.0, f64::max);
        // The lowest panel carries the texts of the time axis for all.
        let texts = 32.0;
        let height = (region.bottom - region.top - texts) / whole::real(panels.len());
        let last = panels.len() - 1;
        for (i, panel) in panels.iter_mut().enumerate() {
            panel.x_texts = i == last;
            let top = region.top + whole::real(i) * height;
            let bottom = top + height + if i == last { texts } else { 0.0 };
            panel.draw(
                &mut scene,
                Area {
                    top,
                    bottom,
                    ..region
                },
                gutter,
            );
        }
        scene
    }

    fn describe(&self) -> String {
        let peak = |quantity: Quantity, values: &[f64], extreme: Extreme| {
            let points: Vec<(f64, f64)> = values.iter().map(|v| (0.0, *v)).collect();
            extreme.find(&points).map(|p| quantity.write(p.1))
        };
        let parts: Vec<String> = [
            (
                "lowest altitude",
                Quantity::Altitude,
                &self.altitude_m,
                Extreme::Lowest,
            ),
            (
                "peak deceleration",
                Quantity::Deceleration,
                &self.deceleration_m_s2,
                Extreme::Highest,
            ),
            (
                "peak heat flux",
                Quantity::HeatFlux,
                &self.heat_flux_w_m2,
                Extreme::Highest,
            ),
        ]
        .into_iter()
        .filter_map(|(name, quantity, values, extreme)| {
            Some(format!("{name} {}", peak(quantity, values, extreme)?))
        })
        .collect();
        let extremes = if parts.is_empty() {
            String::new()
        } else {
            format!(": {}", parts.join(", "))
        };
        let bank = if self.bank_rad.is_empty() {
            ""
        } else {
            ", and the bank angle flown"
        };
        format!(
            "Altitude, speed, deceleration and heat flux of one pass against time{bank}{extremes}."
        )
    }
}
