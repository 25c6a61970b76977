//! One plotting box with everything in and around it: axes, shaded spans, areas, curves, marks, and their names.
//! Figures fill in what they have; a panel decides where it goes.

use super::axes;
use super::frame::Frame;
use super::glyphs;
use super::labels::{self, Key};
use super::palette::{Colour, INK, MUTED, Mark};
use super::scale::Scale;
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use super::strip::{self, Name, Placed};
use crate::report::whole;

/// Size of tick texts and of names of curves, in picture points.
pub(super) const SMALL: f64 = 11.5;
/// Size of axis titles.
pub(super) const AXIS_TITLE: f64 = 12.0;

/// An axis: its title with the unit, and its scale.
#[derive(Debug, Clone)]
pub(super) struct Axis {
    pub(super) title: String,
    pub(super) scale: Scale,
}

/// A curve; an empty name leaves it unnamed.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    pub(super) points: Vec<(f64, f64)>,
    pub(super) name: String,
    pub(super) mark: Mark,
    pub(super) width: f64,
    /// Whether it belongs to the axis on the right.
    pub(super) on_right: bool,
}

/// An area between two curves; an empty name leaves it unnamed.
#[derive(Debug, Clone)]
pub(super) struct Band {
    pub(super) lower: Vec<(f64, f64)>,
    pub(super) upper: Vec<(f64, f64)>,
    pub(super) name: String,
    pub(super) colour: Colour,
    pub(super) opacity: f64,
}

/// A shaded stretch of the horizontal axis.
#[derive(Debug, Clone)]
pub(super) struct Stretch {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) name: String,
    pub(super) colour: Colour,
}

/// A vertical line at a place of the horizontal axis.
#[derive(Debug, Clone)]
pub(super) struct Upright {
    pub(super) at: f64,
    pub(super) name: String,
    pub(super) mark: Mark,
}

/// A marked point.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    pub(super) at: (f64, f64),
    pub(super) name: String,
    pub(super) colour: Colour,
}

/// Many small points of one kind, without a name.
#[derive(Debug, Clone)]
pub(super) struct Dots {
    pub(super) points: Vec<(f64, f64)>,
    pub(super) colour: Colour,
    /// Whether curves are drawn over them.
    pub(super) below: bool,
}

/// A plotting box and its contents.
#[derive(Debug, Clone)]
pub(super) struct Panel {
    pub(super) x: Axis,
    pub(super) y: Axis,
    pub(super) right: Option<Axis>,
    pub(super) stretches: Vec<Stretch>,
    pub(super) bands: Vec<Band>,
    pub(super) curves: Vec<Curve>,
    pub(super) uprights: Vec<Upright>,
    pub(super) spots: Vec<Spot>,
    pub(super) dots: Vec<Dots>,
    /// Whether the horizontal axis shows its ticks' texts and its title.
    pub(super) x_texts: bool,
}

impl Panel {
    pub(super) fn new(x: Axis, y: Axis) -> Self {
        Self {
            x,
            y,
            right: None,
            stretches: Vec::new(),
            bands: Vec::new(),
            curves: Vec::new(),
            uprights: Vec::new(),
            spots: Vec::new(),
            dots: Vec::new(),
            x_texts: true,
        }
    }

    /// Room that the texts left of the box need; panels above one another share the largest.
    pub(super) fn gutter(&self) -> f64 {
        axes::texts_width(&self.y.scale, 9) + 12.0
    }

    /// Draws the panel into a region whose left edge is `gutter` left of the box.
    pub(super) fn draw(&self, scene: &mut Scene, region: Area, gutter: f64) {
        // A curve whose name finds no place beside it is named in the key above, which moves the box.
        let mut in_key: Vec<usize> = Vec::new();
        loop {
            let layout = self.layout(region, gutter, &in_key);
            let names = labels::place(self, &layout.frame, layout.right.as_ref(), &in_key);
            if names.unplaced.is_empty() {
                self.paint(scene, &layout, &names);
                return;
            }
            in_key.extend(names.unplaced);
        }
    }

    fn layout(&self, region: Area, gutter: f64, in_key: &[usize]) -> Layout {
        let right_gutter = self
            .right
            .as_ref()
            .map_or(16.0, |axis| axes::texts_width(&axis.scale, 6) + 14.0);
        let (left, right) = (region.left + gutter, region.right - right_gutter);
        let keys = Key::rows(self, in_key, region.right - region.left - 16.0);
        let titles = self.titles(region);
        let mut area = Area {
            left,
            right: right.max(left + 20.0),
            top: region.top,
            bottom: region.bottom - if self.x_texts { 38.0 } else { 6.0 },
        };
        let across = |value| self.frame(area).across(value);
        let inside = |at: f64| (left - 0.5..=right + 0.5).contains(&at);
        let mut names: Vec<Name> = Vec::new();
        for stretch in &self.stretches {
            if let (Some(from), Some(to)) = (across(stretch.from), across(stretch.to))
                && to > left
                && from < right
                && !stretch.name.is_empty()
            {
                let at = f64::midpoint(from.max(left), to.min(right));
                names.push(Name {
                    text: stretch.name.clone(),
                    at,
                    led: false,
                });
            }
        }
        for upright in &self.uprights {
            if let Some(at) = across(upright.at).filter(|at| inside(*at))
                && !upright.name.is_empty()
            {
                names.push(Name {
                    text: upright.name.clone(),
                    at,
                    led: true,
                });
            }
        }
        // The axis titles share the lowest row with the names, unless a line would lead through them.
        let through = |(from, to): &(f64, f64)| {
            let crosses = |name: &Name| name.led && name.at > from - 6.0 && name.at < to + 6.0;
            names.iter().any(crosses)
        };
        let own_row = titles.iter().any(through);
        let kept: &[(f64, f64)] = if own_row { &[] } else { &titles };
        let names = strip::place(&names, SMALL, (region.left, region.right), kept);
        let rows = strip::rows(&names, kept) + usize::from(own_row);
        area.top += whole::real(keys.len()) * Key::ROW + whole::real(rows) * strip::ROW + 8.0;
        area.bottom = area.bottom.max(area.top + 20.0);
        Layout {
            region,
            keys,
            names,
            titles_row: if own_row { rows - 1 } else { 0 },
            right: self.right.as_ref().map(|axis| Frame {
                y: axis.scale,
                ..self.frame(area)
            }),
            frame: self.frame(area),
        }
    }

    /// Stretches that the axis titles take above the box.
    fn titles(&self, region: Area) -> Vec<(f64, f64)> {
        let mut titles = Vec::new();
        if let Some(axis) = &self.right {
            let width = glyphs::width(&axis.title, AXIS_TITLE);
            titles.push((region.right - width, region.right));
        }
        if !self.y.title.is_empty() {
            let title = self.y_title(region);
            titles.push((
                region.left,
                region.left + 2.0 + glyphs::width(&title, AXIS_TITLE),
            ));
        }
        titles
    }

    /// The title of the upright axis, cut to the room it has.
    pub(super) fn y_title(&self, region: Area) -> String {
        let other = self
            .right
            .as_ref()
            .map_or(2.0, |axis| 20.0 + glyphs::width(&axis.title, AXIS_TITLE));
        glyphs::shorten(
            &self.y.title,
            AXIS_TITLE,
            region.right - region.left - other,
        )
    }

    fn frame(&self, area: Area) -> Frame {
        Frame {
            area,
            x: self.x.scale,
            y: self.y.scale,
        }
    }

    fn paint(&self, scene: &mut Scene, layout: &Layout, names: &labels::Names) {
        let (frame, area) = (&layout.frame, layout.frame.area);
        for stretch in &self.stretches {
            if let (Some(from), Some(to)) = (frame.across(stretch.from), frame.across(stretch.to)) {
                let shaded = Area {
                    left: from.clamp(area.left, area.right),
                    right: to.clamp(area.left, area.right),
                    ..area
                };
                if shaded.right > shaded.left {
                    scene.fill_area(shaded, stretch.colour, 0.11);
                    scene.fill_area(
                        Area {
                            bottom: area.top + 3.0,
                            ..shaded
                        },
                        stretch.colour,
                        1.0,
                    );
                }
            }
        }
        axes::paint(self, scene, layout);
        for band in &self.bands {
            for polygon in frame.areas(&band.lower, &band.upper) {
                scene.fill(polygon, band.colour, band.opacity);
            }
        }
        self.paint_dots(scene, frame, true);
        self.paint_uprights(scene, layout);
        for curve in &self.curves {
            let frame = layout.frame_of(curve);
            for piece in frame.lines(&curve.points) {
                scene.line(piece, Stroke::of(curve.mark, curve.width));
            }
            if let [only] = curve.points.as_slice()
                && let (Some(x), Some(y)) = (frame.across(only.0), frame.up(only.1))
            {
                scene.disc(Point::new(x, y), 3.0, curve.mark.colour);
            }
        }
        self.paint_dots(scene, frame, false);
        for spot in &self.spots {
            if let (Some(x), Some(y)) = (frame.across(spot.at.0), frame.up(spot.at.1)) {
                scene.disc(Point::new(x, y), 3.5, spot.colour);
            }
        }
        if self.is_empty(layout) {
            let middle = Point::new(
                f64::midpoint(area.left, area.right),
                f64::midpoint(area.top, area.bottom) + 4.0,
            );
            scene.text(
                Label::new("no data to show", middle, AXIS_TITLE)
                    .anchored(Anchor::Middle)
                    .coloured(MUTED),
            );
        }
        names.paint(scene);
        for (row, keys) in layout.keys.iter().enumerate() {
            let baseline = layout.region.top + (whole::real(row) + 0.75) * Key::ROW;
            Key::paint_row(keys, scene, Point::new(layout.region.left + 2.0, baseline));
        }
    }

    fn is_empty(&self, layout: &Layout) -> bool {
        let drawn = |curve: &Curve| {
            curve.points.len() == 1 || !layout.frame_of(curve).lines(&curve.points).is_empty()
        };
        !self.curves.iter().any(drawn)
            && self.spots.is_empty()
            && self.dots.iter().all(|dots| dots.points.is_empty())
            && !self
                .bands
                .iter()
                .any(|band| !layout.frame.areas(&band.lower, &band.upper).is_empty())
    }

    fn paint_dots(&self, scene: &mut Scene, frame: &Frame, below: bool) {
        for dots in self.dots.iter().filter(|dots| dots.below == below) {
            for at in &dots.points {
                if let (Some(x), Some(y)) = (frame.across(at.0), frame.up(at.1)) {
                    scene.disc(Point::new(x, y), 1.7, dots.colour);
                }
            }
        }
    }

    fn paint_uprights(&self, scene: &mut Scene, layout: &Layout) {
        let area = layout.frame.area;
        for upright in &self.uprights {
            let at = layout.frame.across(upright.at);
            if let Some(at) = at.filter(|at| layout.shows(*at)) {
                let line = vec![Point::new(at, area.bottom), Point::new(at, area.top)];
                scene.line(line, Stroke::of(upright.mark, 1.4));
            }
        }
        for name in &layout.names {
            let baseline = area.top - 8.0 - whole::real(name.row) * strip::ROW;
            if let Some(at) = name.led_at {
                let line = vec![Point::new(at, area.top), Point::new(at, baseline + 4.0)];
                scene.line(line, Stroke::of(Mark::new(INK, &[]), 1.0));
            }
            let at = Point::new(name.left, baseline);
            scene.text(Label::new(name.text.clone(), at, SMALL));
        }
    }
}

/// Where the parts of a panel go.
pub(super) struct Layout {
    pub(super) region: Area,
    pub(super) frame: Frame,
    pub(super) right: Option<Frame>,
    keys: Vec<Vec<Key>>,
    names: Vec<Placed>,
    /// Row of the strip above the box that the axis titles stand in.
    titles_row: usize,
}

impl Layout {
    fn frame_of(&self, curve: &Curve) -> &Frame {
        self.right
            .as_ref()
            .filter(|_| curve.on_right)
            .unwrap_or(&self.frame)
    }

    /// Baseline of the axis titles.
    pub(super) fn titles_baseline(&self) -> f64 {
        self.frame.area.top - 8.0 - whole::real(self.titles_row) * strip::ROW
    }

    /// Whether a place along the horizontal axis is inside the box.
    fn shows(&self, at: f64) -> bool {
        (self.frame.area.left - 0.5..=self.frame.area.right + 0.5).contains(&at)
    }
}
