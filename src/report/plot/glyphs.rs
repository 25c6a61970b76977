//! The embedded typeface of the figures: its registration with the drawing library, and the widths of texts.
//! The file is a subset of `DejaVu Sans`, so a figure looks the same on a machine without fonts.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef};
use plotters::style::{FontStyle, register_font};

static TYPEFACE: &[u8] = include_bytes!("../font/DejaVuSans-subset.ttf");

/// The name under which the typeface is registered and that an SVG shows as its fallback family.
pub(super) const FAMILY: &str = "sans-serif";

/// Registers the typeface once; false if the drawing library refuses it.
pub(super) fn register() -> bool {
    static DONE: OnceLock<bool> = OnceLock::new();
    *DONE.get_or_init(|| register_font(FAMILY, FontStyle::Normal, TYPEFACE).is_ok())
}

fn font() -> Option<&'static FontRef<'static>> {
    static FONT: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    FONT.get_or_init(|| FontRef::try_from_slice(TYPEFACE).ok())
        .as_ref()
}

/// Width of a text set at this size (the em, in picture points).
pub(super) fn width(text: &str, size: f64) -> f64 {
    places(text, size).1
}

/// Where each character's ink box starts, from the start of the text, and the width of the whole text.
pub(super) fn places(text: &str, size: f64) -> (Vec<(char, f64)>, f64) {
    let Some(font) = font() else {
        return (Vec::new(), 0.0);
    };
    let scale = size / f64::from(font.units_per_em().unwrap_or(2048.0));
    let mut pen = 0.0;
    let glyphs = text
        .chars()
        .map(|character| {
            let glyph = font.glyph_id(character);
            let start = pen + scale * f64::from(font.h_side_bearing_unscaled(glyph));
            pen += scale * f64::from(font.h_advance_unscaled(glyph));
            (character, start)
        })
        .collect();
    (glyphs, pen)
}

/// Height of a line (ascent and descent) in ems.
pub(super) fn line_height() -> f64 {
    font().map_or(1.164, |font| {
        f64::from(font.height_unscaled()) / f64::from(font.units_per_em().unwrap_or(2048.0))
    })
}

/// Cuts a text so that it fits, with an ellipsis.
pub(super) fn shorten(text: &str, size: f64, room: f64) -> String {
    if width(text, size) <= room {
        return text.to_owned();
    }
    let mut kept: Vec<char> = text.chars().collect();
    while !kept.is_empty() {
        kept.pop();
        let short = format!("{}…", kept.iter().collect::<String>().trim_end());
        if width(&short, size) <= room {
            return short;
        }
    }
    String::new()
}

/// Breaks a text into at most `lines` lines that fit, at spaces; the last line is cut if it must be.
pub(super) fn wrap(text: &str, size: f64, room: f64, lines: usize) -> Vec<String> {
    let mut done: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&longer, size) <= room || line.is_empty() || done.len() + 1 >= lines {
            line = longer;
        } else {
            done.push(std::mem::replace(&mut line, word.to_owned()));
        }
    }
    if !line.is_empty() {
        done.push(line);
    }
    done.iter().map(|line| shorten(line, size, room)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_typeface_has_the_signs_that_figures_use() {
        let font = font().expect("the embedded file is a font");
        for sign in "\u{2212}\u{b7}\u{d7}\u{b2}\u{b3}\u{b0}\u{2070}\u{2074}\u{207b}\u{2026}\u{2013}\u{202f}µσρΔ≤≥≈é"
            .chars()
        {
            assert_ne!(font.glyph_id(sign).0, 0, "U+{:04X} {sign}", u32::from(sign));
        }
        assert!(register());
    }

    #[test]
    fn widths_follow_the_typeface() {
        // DejaVu Sans 2.37: a digit advances 1303 of 2048 units (read from its hmtx table).
        assert!((width("0000", 20.48) - 52.12).abs() < 1e-9);
        assert!(width("", 12.0).abs() < 1e-12);
    }

    #[test]
    fn long_texts_are_cut_or_broken_to_fit() {
        let text = "the longest continuous stay above three and a half times standard gravity";
        let short = shorten(text, 12.0, 120.0);
        assert!(short.ends_with('…') && width(&short, 12.0) <= 120.0);
        let lines = wrap(text, 12.0, 200.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|line| width(line, 12.0) <= 200.0));
        assert!(wrap(&"x".repeat(500), 12.0, 100.0, 2)[0].ends_with('…'));
    }
}
