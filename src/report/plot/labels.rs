//! Names of curves, areas and points: beside what they name where there is room, else in a key above the box.
//! Every name of a curve carries a sample of its line, so that colour alone never has to tell.

use super::frame::Frame;
use super::glyphs;
use super::palette::{Colour, MUTED, Mark};
use super::panel::{Panel, SMALL};
use super::placing::{Ground, cloud, distance};
use super::scene::{Area, Label, Point, Scene, Stroke};

/// Length of the sample of a line before its name.
const SAMPLE: f64 = 22.0;
/// Distance from the sample to the name.
const AFTER_SAMPLE: f64 = 6.0;
/// Height of a name's box.
const HEIGHT: f64 = 14.0;
/// Widest name beside a curve.
const WIDEST: f64 = 250.0;

/// A name that has found its place.
struct Placed {
    text: String,
    area: Area,
    sample: Option<Stroke>,
    /// The point it names, where that is some way off.
    leads_to: Option<Point>,
}

/// Names inside the box, and the numbers of the curves whose names found no place there.
pub(super) struct Names {
    placed: Vec<Placed>,
    pub(super) unplaced: Vec<usize>,
}

/// Places the names of a panel's points and curves, but for the curves named in the key.
pub(super) fn place(
    panel: &Panel,
    frame: &Frame,
    right: Option<&Frame>,
    in_key: &[usize],
) -> Names {
    let frame_of = |on_right: bool| right.filter(|_| on_right).unwrap_or(frame);
    let mut lines: Vec<Vec<Point>> = panel
        .curves
        .iter()
        .map(|curve| {
            let frame = frame_of(curve.on_right);
            match curve.points.as_slice() {
                [(x, y)] => {
                    let place = frame.across(*x).zip(frame.up(*y));
                    place.map(|(x, y)| Point::new(x, y)).into_iter().collect()
                }
                points => cloud(&frame.lines(points)),
            }
        })
        .collect();
    let area = frame.area;
    for upright in &panel.uprights {
        if let Some(x) = frame.across(upright.at) {
            lines.push(cloud(&[vec![
                Point::new(x, area.top),
                Point::new(x, area.bottom),
            ]]));
        }
    }
    let spots: Vec<(Point, &str)> = panel
        .spots
        .iter()
        .filter_map(|spot| {
            let at = Point::new(frame.across(spot.at.0)?, frame.up(spot.at.1)?);
            Some((at, spot.name.as_str()))
        })
        .collect();
    let dots = panel.dots.iter().flat_map(|dots| &dots.points);
    let dots = dots.filter_map(|at| Some(Point::new(frame.across(at.0)?, frame.up(at.1)?)));
    let zero_row = panel.y.scale.zero_row().unwrap_or(0.0);
    let mut ground = Ground {
        bounds: Area {
            left: area.left + 4.0,
            right: area.right - 4.0,
            top: area.top + 5.0,
            bottom: area.bottom - 2.0 - zero_row * (area.bottom - area.top),
        },
        taken: spots
            .iter()
            .map(|(at, _)| around(*at, 4.0))
            .chain(dots.map(|at| around(at, 2.0)))
            .collect(),
        lines,
    };
    let mut names = Names {
        placed: Vec::new(),
        unplaced: Vec::new(),
    };
    for (at, name) in spots {
        let text = glyphs::shorten(name, SMALL, WIDEST);
        let area = ground.place_beside_point(at, glyphs::width(&text, SMALL), HEIGHT);
        names.placed.push(Placed {
            text,
            area,
            sample: None,
            leads_to: (distance(&area, at) > 16.0).then_some(at),
        });
    }
    for (number, curve) in panel.curves.iter().enumerate() {
        if curve.name.is_empty() || in_key.contains(&number) || ground.lines[number].is_empty() {
            continue;
        }
        let text = glyphs::shorten(&curve.name, SMALL, WIDEST);
        let width = SAMPLE + AFTER_SAMPLE + glyphs::width(&text, SMALL);
        match ground.place_beside_line(number, width, HEIGHT) {
            Some(area) => names.placed.push(Placed {
                text,
                area,
                sample: Some(Stroke::of(curve.mark, curve.width.max(1.8))),
                leads_to: None,
            }),
            None => names.unplaced.push(number),
        }
    }
    names
}

fn around(at: Point, by: f64) -> Area {
    Area {
        left: at.x - by,
        right: at.x + by,
        top: at.y - by,
        bottom: at.y + by,
    }
}

impl Names {
    pub(super) fn paint(&self, scene: &mut Scene) {
        for name in &self.placed {
            let middle = f64::midpoint(name.area.top, name.area.bottom);
            let mut left = name.area.left;
            if let Some(point) = name.leads_to {
                let near = Point::new(
                    point.x.clamp(name.area.left, name.area.right),
                    point.y.clamp(name.area.top, name.area.bottom),
                );
                scene.line(vec![point, near], Stroke::of(Mark::new(MUTED, &[]), 1.0));
            }
            if let Some(sample) = name.sample {
                let line = vec![Point::new(left, middle), Point::new(left + SAMPLE, middle)];
                scene.line(line, sample);
                left += SAMPLE + AFTER_SAMPLE;
            }
            let at = Point::new(left, middle + 0.36 * SMALL);
            scene.text(Label::new(name.text.clone(), at, SMALL));
        }
    }
}

/// What an entry of the key shows before its name.
enum Sample {
    Line(Stroke),
    Filled(Colour, f64),
}

/// An entry of the key above a box.
pub(super) struct Key {
    sample: Sample,
    text: String,
}

impl Key {
    /// Height of a row of the key.
    pub(super) const ROW: f64 = 18.0;
    /// Distance between two entries of a row.
    const APART: f64 = 20.0;

    /// The entries of a panel's key, broken into rows that fit.
    pub(super) fn rows(panel: &Panel, curves: &[usize], room: f64) -> Vec<Vec<Self>> {
        let bands = panel.bands.iter().filter(|band| !band.name.is_empty());
        let bands = bands.map(|band| (Sample::Filled(band.colour, band.opacity), &band.name));
        let curves = curves.iter().filter_map(|number| panel.curves.get(*number));
        let curves = curves.map(|curve| {
            (
                Sample::Line(Stroke::of(curve.mark, curve.width)),
                &curve.name,
            )
        });
        let mut rows: Vec<Vec<Self>> = Vec::new();
        let mut used = f64::INFINITY;
        for (sample, name) in curves.chain(bands) {
            let text = glyphs::shorten(name, SMALL, room - SAMPLE - AFTER_SAMPLE);
            let key = Self { sample, text };
            if used + key.width() > room {
                rows.push(Vec::new());
                used = 0.0;
            }
            used += key.width() + Self::APART;
            if let Some(row) = rows.last_mut() {
                row.push(key);
            }
        }
        rows
    }

    fn width(&self) -> f64 {
        SAMPLE + AFTER_SAMPLE + glyphs::width(&self.text, SMALL)
    }

    /// Draws a row of entries from a place on its baseline.
    pub(super) fn paint_row(row: &[Self], scene: &mut Scene, start: Point) {
        let mut left = start.x;
        let middle = start.y - 0.36 * SMALL;
        for key in row {
            match key.sample {
                Sample::Line(stroke) => {
                    let line = vec![Point::new(left, middle), Point::new(left + SAMPLE, middle)];
                    scene.line(line, stroke);
                }
                Sample::Filled(colour, opacity) => {
                    let swatch = Area {
                        left,
                        right: left + SAMPLE,
                        top: middle - 5.0,
                        bottom: middle + 5.0,
                    };
                    scene.fill_area(swatch, colour, opacity);
                }
            }
            let at = Point::new(left + SAMPLE + AFTER_SAMPLE, start.y);
            scene.text(Label::new(key.text.clone(), at, SMALL));
            left += key.width() + Self::APART;
        }
    }
}
