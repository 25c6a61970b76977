//! Paints a laid-out picture with the drawing library: an SVG whose lines are smooth, a PNG whose text is crisp.
//! Both come from the same list of shapes; the library's whole-pixel coordinates are hidden by
//! drawing larger and scaling down.

use plotters::backend::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, PathElement, Polygon};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, IntoFont, RGBColor, ShapeStyle, TextStyle};

use super::glyphs;
use super::palette::{Colour, PAPER};
use super::scene::{Anchor, Label, Point, Scene, Shape, Stroke};
use crate::report::figure::FigureError;
use crate::report::whole;

/// How much larger than shown an SVG is drawn.
const SVG_SCALE: f64 = 4.0;
/// How many pixels a picture point takes in a PNG.
const PNG_SCALE: u32 = 2;
/// How many times finer than a pixel a PNG is drawn before it is averaged down.
const SAMPLES: u8 = 3;

/// The picture as an SVG document.
pub(in crate::report) fn svg(scene: &Scene) -> Result<String, FigureError> {
    if !glyphs::register() {
        return Err(FigureError::Typeface);
    }
    let (width, height) = (
        pixels(scene.width * SVG_SCALE),
        pixels(scene.height * SVG_SCALE),
    );
    let mut drawn = String::new();
    {
        let area = SVGBackend::with_string(&mut drawn, (width, height)).into_drawing_area();
        let brush = Brush {
            scale: SVG_SCALE,
            glyph_by_glyph: false,
        };
        brush.paint(scene, &area)?;
        area.present().map_err(FigureError::drawing)?;
    }
    let body = drawn
        .split_once('>')
        .map_or("", |(_, body)| body)
        .replace(" dy=\"-0.5ex\"", "")
        .replace(" text-anchor=\"start\"", "")
        .replace(" font-family=\"sans-serif\"", "")
        .replace(" opacity=\"1\"", "");
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}\" height=\"{}\" \
         viewBox=\"0 0 {width} {height}\" role=\"img\" stroke-linejoin=\"round\" \
         font-family=\"'DejaVu Sans', Verdana, sans-serif\">\n<title>{}</title>\n{}",
        scene.width,
        scene.height,
        escape(&scene.title),
        body.trim_start(),
    ))
}

/// The picture as a PNG file, two pixels to a picture point.
pub(in crate::report) fn png(scene: &Scene) -> Result<Vec<u8>, FigureError> {
    if !glyphs::register() {
        return Err(FigureError::Typeface);
    }
    let side = u32::from(SAMPLES);
    let (wide, high) = (
        pixels(scene.width) * PNG_SCALE,
        pixels(scene.height) * PNG_SCALE,
    );
    let (fine_wide, fine_high) = (wide * side, high * side);
    let mut canvas = vec![0_u8; fine_wide as usize * fine_high as usize * 3];
    {
        let area =
            BitMapBackend::with_buffer(&mut canvas, (fine_wide, fine_high)).into_drawing_area();
        let brush = Brush {
            scale: f64::from(PNG_SCALE * side),
            glyph_by_glyph: true,
        };
        brush.paint(scene, &area)?;
        area.present().map_err(FigureError::drawing)?;
    }
    encode(&averaged(&canvas, fine_wide as usize), wide, high)
}

/// Averages each square of `SAMPLES` by `SAMPLES` fine pixels into one.
fn averaged(canvas: &[u8], fine_wide: usize) -> Vec<u8> {
    let side = usize::from(SAMPLES);
    let stride = fine_wide * 3;
    let mut image = Vec::with_capacity(canvas.len() / (side * side));
    let mut sums = vec![0_u16; stride / side];
    for rows in canvas.chunks_exact(stride * side) {
        sums.fill(0);
        for row in rows.chunks_exact(stride) {
            for (sum, square) in sums.chunks_exact_mut(3).zip(row.chunks_exact(side * 3)) {
                for pixel in square.chunks_exact(3) {
                    sum[0] += u16::from(pixel[0]);
                    sum[1] += u16::from(pixel[1]);
                    sum[2] += u16::from(pixel[2]);
                }
            }
        }
        let count = u16::from(SAMPLES).pow(2);
        let mean = |sum: &u16| u8::try_from((sum + count / 2) / count).unwrap_or(u8::MAX);
        image.extend(sums.iter().map(mean));
    }
    image
}

fn encode(image: &[u8], wide: u32, high: u32) -> Result<Vec<u8>, FigureError> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, wide, high);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Best);
    encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
    let mut writer = encoder.write_header().map_err(FigureError::drawing)?;
    writer
        .write_image_data(image)
        .map_err(FigureError::drawing)?;
    writer.finish().map_err(FigureError::drawing)?;
    Ok(file)
}

/// A picture size as whole pixels, kept within what a picture may be.
fn pixels(size: f64) -> u32 {
    whole::signed(size.clamp(1.0, 60_000.0)).unsigned_abs()
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}

struct Brush {
    /// Pixels to a picture point.
    scale: f64,
    /// Whether a text is set one character at a time. The bitmap painter drops the white space
    /// to the left of each character's ink; this puts it back.
    glyph_by_glyph: bool,
}

impl Brush {
    fn paint<DB: DrawingBackend>(
        &self,
        scene: &Scene,
        area: &DrawingArea<DB, Shift>,
    ) -> Result<(), FigureError> {
        area.fill(&rgb(PAPER)).map_err(FigureError::drawing)?;
        for shape in &scene.shapes {
            match shape {
                Shape::Line { points, stroke } => {
                    for piece in dashes(points, stroke) {
                        area.draw(&PathElement::new(self.path(&piece), self.stroke(stroke)))
                            .map_err(FigureError::drawing)?;
                    }
                }
                Shape::Fill {
                    points,
                    colour,
                    opacity,
                } => {
                    let style = ShapeStyle::from(rgb(*colour).mix(*opacity)).filled();
                    area.draw(&Polygon::new(self.path(points), style))
                        .map_err(FigureError::drawing)?;
                }
                Shape::Disc {
                    centre,
                    radius,
                    colour,
                } => {
                    let style = ShapeStyle::from(rgb(*colour)).filled();
                    let radius = whole::signed((radius * self.scale).round());
                    area.draw(&Circle::new(self.place(*centre), radius, style))
                        .map_err(FigureError::drawing)?;
                }
                Shape::Text(label) => self.write(label, area)?,
            }
        }
        Ok(())
    }

    fn write<DB: DrawingBackend>(
        &self,
        label: &Label,
        area: &DrawingArea<DB, Shift>,
    ) -> Result<(), FigureError> {
        // The library takes a size as the height of a line in bitmaps and as 1.24 em in SVG.
        let em = label.size * self.scale;
        let size = em
            * if self.glyph_by_glyph {
                glyphs::line_height()
            } else {
                1.24
            };
        let colour = rgb(label.colour);
        let style = |anchor| {
            TextStyle::from((glyphs::FAMILY, size).into_font())
                .color(&colour)
                .pos(anchor)
        };
        if !self.glyph_by_glyph {
            let across = match label.anchor {
                Anchor::Start => HPos::Left,
                Anchor::Middle => HPos::Center,
                Anchor::End => HPos::Right,
            };
            let style = style(Pos::new(across, VPos::Bottom));
            return area
                .draw_text(&label.text, &style, self.place(label.at))
                .map_err(FigureError::drawing);
        }
        let style = style(Pos::new(HPos::Left, VPos::Top));
        let (places, _) = glyphs::places(&label.text, label.size);
        for (character, start) in places.into_iter().filter(|(c, _)| !c.is_whitespace()) {
            let (x, baseline) = self.place(Point::new(label.left() + start, label.at.y));
            let top = baseline - whole::signed((size / 2.0).round());
            area.draw_text(&character.to_string(), &style, (x, top))
                .map_err(FigureError::drawing)?;
        }
        Ok(())
    }

    fn stroke(&self, stroke: &Stroke) -> ShapeStyle {
        ShapeStyle::from(rgb(stroke.colour))
            .stroke_width(pixels((stroke.width * self.scale).round()))
    }

    fn place(&self, point: Point) -> (i32, i32) {
        let whole = |v: f64| whole::signed((v.clamp(-5_000.0, 10_000.0) * self.scale).round());
        (whole(point.x), whole(point.y))
    }

    fn path(&self, points: &[Point]) -> Vec<(i32, i32)> {
        let mut path: Vec<(i32, i32)> = points.iter().map(|point| self.place(*point)).collect();
        path.dedup();
        path
    }
}

fn rgb(colour: Colour) -> RGBColor {
    RGBColor(colour.0, colour.1, colour.2)
}

/// Cuts a line into the pieces that its dash pattern draws.
fn dashes(points: &[Point], stroke: &Stroke) -> Vec<Vec<Point>> {
    if stroke.dash.is_empty() {
        return vec![points.to_vec()];
    }
    let mut pieces = Vec::new();
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    let (mut place, mut left) = (0, stroke.dash[0]);
    for pair in points.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let length = (to.x - from.x).hypot(to.y - from.y);
        let mut done = 0.0;
        while length - done > left {
            done += left;
            let cut = done / length;
            let at = Point::new(
                from.x + cut * (to.x - from.x),
                from.y + cut * (to.y - from.y),
            );
            if place % 2 == 0 {
                piece.push(at);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![at];
            }
            place += 1;
            left = stroke.dash[place % stroke.dash.len()];
        }
        left -= length - done;
        if place % 2 == 0 {
            piece.push(to);
        }
    }
    if piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::super::palette::{DASHED, INK, Mark};
    use super::*;

    fn scene() -> Scene {
        let mut scene = Scene::new(120.0, 60.0);
        scene.title = "a < b & c".into();
        scene.line(
            vec![Point::new(0.0, 30.0), Point::new(120.0, 30.0)],
            Stroke::of(Mark::new(INK, DASHED), 2.0),
        );
        scene.text(Label::new("0 < 1", Point::new(10.0, 20.0), 12.0));
        scene
    }

    #[test]
    fn an_svg_is_drawn_large_and_shown_small() {
        let svg = svg(&scene()).expect("drawn");
        assert!(svg.contains("width=\"120\" height=\"60\" viewBox=\"0 0 480 240\""));
        assert!(svg.contains("<title>a &lt; b &amp; c</title>"));
        assert!(svg.contains("0 &lt; 1"));
        assert!(svg.trim_end().ends_with("</svg>"));
        assert_eq!(svg.matches("<svg").count(), 1);
    }

    #[test]
    fn a_png_has_two_pixels_to_a_point_and_the_same_bytes_each_time() {
        let file = png(&scene()).expect("drawn");
        let reader = png::Decoder::new(file.as_slice())
            .read_info()
            .expect("a PNG file");
        assert_eq!((reader.info().width, reader.info().height), (240, 120));
        assert_eq!(file, png(&scene()).expect("drawn"));
    }

    #[test]
    fn dashes_cover_their_share_of_a_bent_line() {
        let stroke = Stroke::of(Mark::new(INK, DASHED), 1.0);
        let corner = [
            Point::new(0.0, 0.0),
            Point::new(50.0, 0.0),
            Point::new(50.0, 60.0),
        ];
        let drawn: f64 = dashes(&corner, &stroke)
            .iter()
            .flat_map(|piece| {
                piece
                    .windows(2)
                    .map(|p| (p[1].x - p[0].x).hypot(p[1].y - p[0].y))
            })
            .sum();
        // Ten full periods of 11 points, seven of each drawn.
        assert!((drawn - 70.0).abs() < 1e-9, "{drawn}");
    }
}
