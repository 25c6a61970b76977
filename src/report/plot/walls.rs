//! The walls of a ship's spots against time: their surfaces during the pass, and the layers behind them
//! while the heat soaks in.

use super::heading;
use super::palette::{self, LIMIT_LINE, MUTED, Mark};
use super::panel::{Axis, Curve, Panel, Spot};
use super::scale::Scale;
use super::scene::{Area, Scene};
use crate::report::figure::Figure;
use crate::report::whole;

/// The figure's data: time in s, temperatures in K.
#[derive(Debug, Clone, Default)]
pub struct Walls {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// One entry a spot.
    pub spots: Vec<WallCurves>,
    /// End of the pass, s: the upper panel goes no farther.
    pub pass_end_s: f64,
}

/// The curves of one spot.
#[derive(Debug, Clone, Default)]
pub struct WallCurves {
    /// Its name.
    pub name: String,
    /// Temperature of the surface, from the start of the pass to the end of the soak.
    pub surface: Vec<(f64, f64)>,
    /// Temperature of radiative equilibrium along the pass, where the wall takes time.
    pub balance: Vec<(f64, f64)>,
    /// Temperature of the back face of a slab.
    pub back: Vec<(f64, f64)>,
    /// Highest temperature of the surface.
    pub surface_limit_k: Option<f64>,
    /// Highest temperature of the back face.
    pub back_limit_k: Option<f64>,
}

/// The mark of the spot of this place: as of any series, with other dashes where those begin again.
fn mark_of(index: usize) -> Mark {
    let mark = palette::series(index);
    if index < 6 {
        mark
    } else {
        Mark::new(mark.colour, palette::DASH_DOT)
    }
}

/// A limit more than this many times what is drawn would flatten it; it is then left to the text.
const FAR: f64 = 1.6;

impl Walls {
    fn surfaces(&self) -> Panel {
        let in_pass = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
            let end = self.pass_end_s * (1.0 + 1e-9);
            points.iter().copied().filter(|p| p.0 <= end).collect()
        };
        let mut drawn = Drawn::default();
        for (index, spot) in self.spots.iter().enumerate() {
            let mark = mark_of(index);
            drawn.curve(&spot.name, in_pass(&spot.surface), mark);
            if !spot.balance.is_empty() {
                let mark = Mark::new(mark.colour, palette::DOTTED);
                drawn.curve(
                    &format!("{} in balance", spot.name),
                    spot.balance.clone(),
                    mark,
                );
            }
            let named = |limit| (limit, format!("limit of {}", spot.name));
            drawn.limits.extend(spot.surface_limit_k.map(named));
        }
        drawn.panel("surface temperature, K", "time from entry interface, s")
    }

    fn soak(&self) -> Panel {
        let minutes = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
            points.iter().map(|p| (p.0 / 60.0, p.1)).collect()
        };
        let mut drawn = Drawn::default();
        for (index, spot) in self.spots.iter().enumerate() {
            if !spot.back.is_empty() {
                let colour = palette::series(index).colour;
                let name = |face: &str| format!("{}, {face}", spot.name);
                drawn.curve(
                    &name("surface"),
                    minutes(&spot.surface),
                    Mark::new(colour, palette::DASHED),
                );
                drawn.curve(
                    &name("back face"),
                    minutes(&spot.back),
                    Mark::new(colour, palette::SOLID),
                );
                let named = |limit| (limit, format!("limit of {}, back face", spot.name));
                drawn.limits.extend(spot.back_limit_k.map(named));
                drawn.marked.push(drawn.curves.len() - 1);
            }
        }
        drawn.panel("pass and soak: slabs, K", "time from entry interface, min")
    }
}

/// Curves and limits on their way into a panel.
#[derive(Default)]
struct Drawn {
    curves: Vec<Curve>,
    /// Limits with the names they get.
    limits: Vec<(f64, String)>,
    /// Curves whose highest point is marked; all where none is named.
    marked: Vec<usize>,
}

impl Drawn {
    fn curve(&mut self, name: &str, points: Vec<(f64, f64)>, mark: Mark) {
        self.curves.push(Curve {
            points,
            name: name.into(),
            mark,
            width: if mark.dash == palette::DOTTED {
                1.4
            } else {
                2.0
            },
            on_right: false,
        });
    }

    fn panel(self, title: &str, time: &str) -> Panel {
        let all = || self.curves.iter().flat_map(|curve| &curve.points);
        let highest = all().map(|p| p.1).fold(0.0, f64::max);
        let near = |limit: &&(f64, String)| limit.0 < FAR * highest;
        let limits: Vec<&(f64, String)> = self.limits.iter().filter(near).collect();
        let up = all().map(|p| p.1).chain(limits.iter().map(|limit| limit.0));
        let mut panel = Panel::new(
            Axis {
                title: time.into(),
                scale: Scale::tight(all().map(|p| p.0)),
            },
            Axis {
                title: title.into(),
                scale: Scale::roomy(up.chain([1.05 * highest]), 5),
            },
        );
        for (index, curve) in self.curves.iter().enumerate() {
            let wanted = if self.marked.is_empty() {
                curve.mark.dash != palette::DOTTED
            } else {
                self.marked.contains(&index)
            };
            let finite = curve.points.iter().filter(|p| p.1.is_finite());
            if let Some(&at) = finite.max_by(|a, b| a.1.total_cmp(&b.1)).filter(|_| wanted) {
                panel.spots.push(Spot {
                    at,
                    name: format!("{:.0} K", at.1),
                    colour: curve.mark.colour,
                });
            }
        }
        panel.curves.clone_from(&self.curves);
        if let Scale::Linear { low, high } = panel.x.scale {
            for (limit, name) in limits {
                panel.curves.push(Curve {
                    points: vec![(low, *limit), (high, *limit)],
                    name: name.clone(),
                    mark: Mark::new(MUTED, LIMIT_LINE.dash),
                    width: 1.4,
                    on_right: false,
                });
            }
        }
        panel
    }
}

impl Figure for Walls {
    fn scene(&self) -> Scene {
        let soaks = self.spots.iter().any(|spot| !spot.back.is_empty());
        let mut panels = vec![self.surfaces()];
        panels.extend(soaks.then(|| self.soak()));
        let (mut scene, region) = heading::titled(
            60.0 + 300.0 * whole::real(panels.len()),
            &self.title,
            &self.note,
        );
        let gutter = panels.iter().map(Panel::gutter).fold(0.0, f64::max);
        let height = (region.bottom - region.top) / whole::real(panels.len());
        for (i, panel) in panels.iter().enumerate() {
            let top = region.top + whole::real(i) * height;
            let area = Area {
                top,
                bottom: top + height,
                ..region
            };
            panel.draw(&mut scene, area, gutter);
        }
        scene
    }

    fn describe(&self) -> String {
        let peak = |points: &[(f64, f64)]| points.iter().map(|p| p.1).fold(0.0, f64::max);
        let words: Vec<String> = self
            .spots
            .iter()
            .map(|spot| {
                let back = if spot.back.is_empty() {
                    String::new()
                } else {
                    format!(", its back face {:.0} K", peak(&spot.back))
                };
                format!("{} {:.0} K{back}", spot.name, peak(&spot.surface))
            })
            .collect();
        format!(
            "Temperatures of the ship's spots during the pass and the soak after it; peaks: {}.",
            words.join("; ")
        )
    }
}
