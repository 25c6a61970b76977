//! Named bars lying side by side, each made of parts in a row: what several ways cost, or how long they take.

use super::glyphs;
use super::heading;
use super::palette::{AXIS, BLUE, Colour, GREEN, GRID, MUTED, Mark, ORANGE, PAPER, PURPLE, SKY};
use super::panel::{AXIS_TITLE, SMALL};
use super::scale::Scale;
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use crate::report::figure::Figure;
use crate::report::number::significant;
use crate::report::whole;

/// The figure's data, in the unit shown.
#[derive(Debug, Clone, Default)]
pub struct Bars {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the axis, with its unit.
    pub axis: String,
    /// What the parts of each bar are.
    pub parts: Vec<String>,
    /// The bars from the top.
    pub bars: Vec<Bar>,
}

/// One bar.
#[derive(Debug, Clone, Default)]
pub struct Bar {
    /// Its name.
    pub name: String,
    /// Length of each part, 0 or more, at the places of [`Bars::parts`]; empty where there is nothing to show.
    pub parts: Vec<f64>,
    /// What is written at its end.
    pub end: String,
    /// Whether it is drawn pale, as something that is not open.
    pub pale: bool,
}

const COLOURS: [Colour; 6] = [BLUE, ORANGE, SKY, GREEN, PURPLE, MUTED];
/// Height of a bar with the space after it, and of the bar itself.
const ROW: f64 = 30.0;
const THICK: f64 = 17.0;
/// Side of a swatch of the key, and the space after it.
const SWATCH: f64 = 12.0;
const AFTER: f64 = 6.0;
/// Share of the width that names may take.
const NAMES: f64 = 0.36;

impl Bar {
    fn total(&self) -> f64 {
        self.parts.iter().filter(|part| part.is_finite()).sum()
    }
}

impl Bars {
    /// The axis, so long that the text at the end of every bar finds room beside it.
    fn scale(&self, width: f64) -> Scale {
        let needed = self.bars.iter().map(|bar| {
            let text = glyphs::width(&bar.end, SMALL) + 12.0;
            bar.total() / (1.0 - text / width).max(0.2)
        });
        let high = needed.fold(0.0, f64::max);
        Scale::Linear {
            low: 0.0,
            high: if high > 0.0 { high } else { 1.0 },
        }
    }

    /// Parts that can be seen in some bar, by their places.
    fn shown(&self) -> Vec<usize> {
        /// Share of the longest bar below which a part cannot be seen.
        const SEEN: f64 = 0.002;
        let longest = self.bars.iter().map(Bar::total).fold(0.0, f64::max);
        let has = |place: usize| {
            let part = |bar: &Bar| {
                let part = bar.parts.get(place).copied().unwrap_or(0.0);
                part > SEEN * longest
            };
            self.bars.iter().any(part)
        };
        (0..self.parts.len()).filter(|place| has(*place)).collect()
    }

    fn key(&self, scene: &mut Scene, from: Point) {
        let mut left = from.x;
        for place in self.shown() {
            let box_area = Area {
                left,
                right: left + SWATCH,
                top: from.y - SWATCH + 1.5,
                bottom: from.y + 1.5,
            };
            scene.fill_area(box_area, COLOURS[place % COLOURS.len()], 1.0);
            let name = &self.parts[place];
            let at = Point::new(left + SWATCH + AFTER, from.y);
            scene.text(Label::new(name.clone(), at, SMALL));
            left += SWATCH + AFTER + glyphs::width(name, SMALL) + 20.0;
        }
    }

    fn paint_axis(&self, scene: &mut Scene, area: Area, scale: &Scale) {
        let most = whole::count((area.right - area.left) / 80.0, 12).max(2);
        for tick in scale.ticks(most) {
            let Some(share) = scale.share(tick.at) else {
                continue;
            };
            let x = area.left + share * (area.right - area.left);
            let line = vec![Point::new(x, area.top), Point::new(x, area.bottom)];
            scene.line(line, Stroke::of(Mark::new(GRID, &[]), 1.0));
            let at = Point::new(x, area.bottom + 17.0);
            let text = Label::new(tick.text, at, SMALL).anchored(Anchor::Middle);
            if text.area().right <= area.right + 12.0 {
                scene.text(text.coloured(MUTED));
            }
        }
        let foot = vec![
            Point::new(area.left, area.top),
            Point::new(area.left, area.bottom),
            Point::new(area.right, area.bottom),
        ];
        scene.line(foot, Stroke::of(Mark::new(AXIS, &[]), 1.0));
        let middle = Point::new(f64::midpoint(area.left, area.right), area.bottom + 34.0);
        scene.text(Label::new(self.axis.clone(), middle, AXIS_TITLE).anchored(Anchor::Middle));
    }

    fn paint_bar(bar: &Bar, scene: &mut Scene, row: Area, scale: &Scale) {
        let width = row.right - row.left;
        let mut done = 0.0;
        let place = |value: f64| row.left + scale.share(value).unwrap_or(0.0) * width;
        for (index, part) in bar.parts.iter().enumerate() {
            if !(*part > 0.0 && part.is_finite()) {
                continue;
            }
            let piece = Area {
                left: place(done),
                right: place(done + part),
                ..row
            };
            let opacity = if bar.pale { 0.3 } else { 1.0 };
            scene.fill_area(piece, COLOURS[index % COLOURS.len()], opacity);
            done += part;
        }
        let at = Point::new(place(done) + 7.0, f64::midpoint(row.top, row.bottom) + 4.0);
        let text = Label::new(bar.end.clone(), at, SMALL);
        if !bar.end.is_empty() {
            // No line of the grid runs through it.
            scene.fill_area(text.area().grown(2.0), PAPER, 1.0);
        }
        scene.text(if bar.pale { text.coloured(MUTED) } else { text });
    }
}

impl Figure for Bars {
    fn scene(&self) -> Scene {
        let rows = whole::real(self.bars.len().max(1));
        let height = 132.0 + rows * ROW;
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        let room = NAMES * (region.right - region.left);
        let names: Vec<String> = self
            .bars
            .iter()
            .map(|bar| glyphs::shorten(&bar.name, SMALL, room))
            .collect();
        let widest = names
            .iter()
            .map(|name| glyphs::width(name, SMALL))
            .fold(0.0, f64::max);
        let area = Area {
            left: region.left + widest + 10.0,
            right: region.right - 10.0,
            top: region.top + 22.0,
            bottom: region.top + 22.0 + rows * ROW,
        };
        self.key(&mut scene, Point::new(area.left, region.top + 8.0));
        let scale = self.scale(area.right - area.left);
        self.paint_axis(&mut scene, area, &scale);
        for (index, (bar, name)) in self.bars.iter().zip(&names).enumerate() {
            let top = area.top + (whole::real(index) + 0.5) * ROW - 0.5 * THICK;
            let row = Area {
                top,
                bottom: top + THICK,
                ..area
            };
            let at = Point::new(area.left - 8.0, top + 0.5 * THICK + 4.0);
            let text = Label::new(name.clone(), at, SMALL).anchored(Anchor::End);
            scene.text(if bar.pale { text.coloured(MUTED) } else { text });
            Self::paint_bar(bar, &mut scene, row, &scale);
        }
        scene
    }

    fn describe(&self) -> String {
        let bars: Vec<String> = self
            .bars
            .iter()
            .map(|bar| {
                let end = if bar.end.is_empty() {
                    significant(bar.total(), 3)
                } else {
                    bar.end.clone()
                };
                format!("{}: {end}", bar.name)
            })
            .collect();
        format!("{}: {}. {}.", self.title, self.axis, bars.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bars() -> Bars {
        let bar = |name: &str, parts: &[f64], end: &str| Bar {
            name: name.into(),
            parts: parts.to_vec(),
            end: end.into(),
            pale: parts.is_empty(),
        };
        Bars {
            title: "Mass".into(),
            note: "at 99 %".into(),
            axis: "kg per passenger".into(),
            parts: vec!["propellant".into(), "shield".into(), "nothing".into()],
            bars: vec![
                bar(
                    "engine alone, 3 burns, on a name that is much too long for the room that names may take",
                    &[190.0, 0.0],
                    "190 kg",
                ),
                bar(
                    "one pass",
                    &[14.0, 30.0],
                    "44 kg, breaks: peak deceleration",
                ),
                bar("a way that is closed", &[], "closed"),
            ],
        }
    }

    #[test]
    fn bars_have_room_for_their_texts() {
        let scene = bars().scene();
        assert_eq!(scene.overlapping_texts(), None);
        assert_eq!(scene.clipped_text(), None);
        let texts = scene.texts();
        for wanted in [
            "propellant",
            "shield",
            "190 kg",
            "closed",
            "kg per passenger",
        ] {
            assert!(texts.contains(&wanted), "{wanted}");
        }
        // A part that no bar has is not in the key.
        assert!(!texts.contains(&"nothing"));
    }

    #[test]
    fn no_bars_and_odd_lengths_make_a_figure_all_the_same() {
        let empty = Bars::default().scene();
        assert_eq!(empty.clipped_text(), None);
        let mut odd = bars();
        odd.bars[0].parts = vec![f64::NAN, f64::INFINITY, -3.0];
        assert_eq!(odd.scene().clipped_text(), None);
    }
}
