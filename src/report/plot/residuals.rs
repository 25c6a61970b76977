//! What a fit leaves of a log: measured less flown against time, a panel for each instrument, with the
//! noise that the fit gives it and the readings that were left out.

use super::heading;
use super::palette::{BLUE, MUTED, Mark, SKY, SOLID, VERMILLION};
use super::panel::{Axis, Band, Curve, Dots, Panel};
use super::scale::Scale;
use super::scene::{Area, Scene};
use crate::report::figure::Figure;
use crate::report::number::significant;
use crate::report::whole;

/// The residuals of one instrument, in the unit shown.
#[derive(Debug, Clone, Default)]
pub struct Instrument {
    /// What it measures with the unit: `altitude, m`.
    pub title: String,
    /// Time and residual of each reading that was fitted.
    pub fitted: Vec<(f64, f64)>,
    /// The same of those that were left out.
    pub left_out: Vec<(f64, f64)>,
    /// One-sigma noise.
    pub noise: f64,
}

/// The figure's data.
#[derive(Debug, Clone, Default)]
pub struct Residuals {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// The instruments.
    pub instruments: Vec<Instrument>,
}

/// Standard deviations to either side that a panel shows.
const SHOWN: f64 = 5.0;

impl Residuals {
    fn panel(&self, instrument: &Instrument) -> Panel {
        let times = self
            .instruments
            .iter()
            .flat_map(|i| i.fitted.iter().map(|p| p.0));
        let reach = SHOWN * instrument.noise;
        let mut panel = Panel::new(
            Axis {
                title: "time from entry interface, s".into(),
                scale: Scale::tight(times),
            },
            Axis {
                title: format!("measured less flown: {}", instrument.title),
                scale: Scale::roomy([-reach, reach], 4),
            },
        );
        if let Scale::Linear { low, high } = panel.x.scale {
            let level = |value: f64| vec![(low, value), (high, value)];
            panel.bands.push(Band {
                lower: level(-2.0 * instrument.noise),
                upper: level(2.0 * instrument.noise),
                name: "two standard deviations of the noise".into(),
                colour: SKY,
                opacity: 0.25,
            });
            panel.curves.push(Curve {
                points: level(0.0),
                name: String::new(),
                mark: Mark::new(MUTED, SOLID),
                width: 1.0,
                on_right: false,
            });
        }
        panel.dots.push(Dots {
            points: instrument.fitted.clone(),
            colour: BLUE,
            below: false,
        });
        // What lies beyond the panel stands at its edge.
        let (low, high) = match panel.y.scale {
            Scale::Linear { low, high } => (0.97 * low, 0.97 * high),
            _ => (-reach, reach),
        };
        let edge = |p: &(f64, f64)| (p.0, p.1.clamp(low, high));
        panel.dots.push(Dots {
            points: instrument.left_out.iter().map(edge).collect(),
            colour: VERMILLION,
            below: false,
        });
        panel
    }
}

impl Figure for Residuals {
    fn scene(&self) -> Scene {
        let count = self.instruments.len().max(1);
        let height = 90.0 + 210.0 * whole::real(count);
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        let mut panels: Vec<Panel> = self.instruments.iter().map(|i| self.panel(i)).collect();
        let gutter = panels.iter().map(Panel::gutter).fold(0.0, f64::max);
        let texts = 32.0;
        let each = (region.bottom - region.top - texts) / whole::real(count);
        let last = count - 1;
        for (i, panel) in panels.iter_mut().enumerate() {
            panel.x_texts = i == last;
            if i > 0 {
                for band in &mut panel.bands {
                    band.name.clear();
                }
            }
            let top = region.top + whole::real(i) * each;
            let bottom = top + each + if i == last { texts } else { 0.0 };
            let area = Area {
                top,
                bottom,
                ..region
            };
            panel.draw(&mut scene, area, gutter);
        }
        scene
    }

    fn describe(&self) -> String {
        let parts: Vec<String> = self
            .instruments
            .iter()
            .map(|instrument| {
                format!(
                    "{}: {} readings with a noise of {}, {} left out",
                    instrument.title,
                    instrument.fitted.len(),
                    significant(instrument.noise, 3),
                    instrument.left_out.len()
                )
            })
            .collect();
        format!(
            "Measured less flown against time, after the fit; what is left should look like noise. {}. Readings that \
             were left out are vermillion, at the edge where they lie beyond it.",
            parts.join("; ")
        )
    }
}
