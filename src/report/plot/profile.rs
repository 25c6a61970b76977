//! A world's air: density against altitude on a logarithmic axis with its one-sigma ribbon,
//! and beside it the ribbon's width in per cent, which a logarithmic axis hides.

use super::heading;
use super::palette::{BLUE, Mark, ORANGE, SOLID};
use super::panel::{Axis, Band, Curve, Panel};
use super::scale::{Scale, extent};
use super::scene::{Area, Scene};
use crate::report::figure::Figure;
use crate::report::number::Quantity;

/// The figure's data, SI. Lists run along [`altitude_m`](Self::altitude_m).
#[derive(Debug, Clone, Default)]
pub struct Profile {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Altitudes, m, rising.
    pub altitude_m: Vec<f64>,
    /// Density at each altitude, kg/m³.
    pub density_kg_m3: Vec<f64>,
    /// One-sigma of the logarithm of density at each altitude; empty if the air is taken as certain.
    pub sigma_ln_density: Vec<f64>,
}

impl Profile {
    fn altitude(&self) -> Axis {
        Axis {
            title: "altitude, km".into(),
            scale: Scale::tight(self.altitude_m.iter().map(|m| Quantity::Altitude.shown(*m))),
        }
    }

    /// A value at each altitude: the values go across, the altitudes up.
    fn upward(&self, values: impl Iterator<Item = f64>) -> Vec<(f64, f64)> {
        let km = self.altitude_m.iter().map(|m| Quantity::Altitude.shown(*m));
        values.zip(km).collect()
    }

    fn density(&self) -> Panel {
        let scale = Scale::log(self.density_kg_m3.iter().copied()).with_margins(0.04);
        let x = Axis {
            title: "density, kg/m³".into(),
            scale,
        };
        let mut panel = Panel::new(x, self.altitude());
        let side = |sign: f64| {
            let pairs = self.density_kg_m3.iter().zip(&self.sigma_ln_density);
            self.upward(pairs.map(|(density, sigma)| density * (sign * sigma).exp()))
        };
        if !self.sigma_ln_density.is_empty() {
            panel.bands.push(Band {
                lower: side(-1.0),
                upper: side(1.0),
                name: "one sigma".into(),
                colour: ORANGE,
                opacity: 0.45,
            });
        }
        panel.curves.push(Curve {
            points: self.upward(self.density_kg_m3.iter().copied()),
            name: "density".into(),
            mark: Mark::new(BLUE, SOLID),
            width: 2.0,
            on_right: false,
        });
        panel
    }

    fn spread(&self) -> Panel {
        let per_cent = || self.sigma_ln_density.iter().map(|sigma| 100.0 * sigma);
        let x = Axis {
            title: "one sigma of density, %".into(),
            scale: Scale::roomy(per_cent().chain([0.0]), 4),
        };
        let mut panel = Panel::new(x, self.altitude());
        panel.curves.push(Curve {
            points: self.upward(per_cent()),
            name: String::new(),
            mark: Mark::new(ORANGE, SOLID),
            width: 2.0,
            on_right: false,
        });
        panel
    }
}

impl Figure for Profile {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(540.0, &self.title, &self.note);
        let density = self.density();
        if self.sigma_ln_density.is_empty() {
            density.draw(&mut scene, region, density.gutter());
            return scene;
        }
        let middle = region.left + 0.66 * (region.right - region.left);
        let spread = self.spread();
        density.draw(
            &mut scene,
            Area {
                right: middle,
                ..region
            },
            density.gutter(),
        );
        // The key of the first panel makes its box lower by a row.
        let right = Area {
            left: middle + 12.0,
            top: region.top + super::labels::Key::ROW,
            ..region
        };
        spread.draw(&mut scene, right, spread.gutter());
        scene
    }

    fn describe(&self) -> String {
        let altitudes = extent(self.altitude_m.iter().copied());
        let densities = extent(self.density_kg_m3.iter().copied());
        match (altitudes, densities) {
            (Some((low, high)), Some((thin, dense))) => format!(
                "Density against altitude from {} to {}: {} to {}.",
                Quantity::Altitude.write(low),
                Quantity::Altitude.write(high),
                Quantity::Density.write(thin),
                Quantity::Density.write(dense)
            ),
            _ => "Density against altitude; no data.".into(),
        }
    }
}
