//! What every figure can do: be described in words, drawn as SVG and drawn as PNG.
//! The figures themselves are in `plot`; none of them knows a study.

use super::plot;
use super::plot::scene::Scene;

/// Why a figure could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FigureError {
    /// The embedded typeface could not be registered.
    #[error("the typeface of the figures could not be loaded")]
    Typeface,
    /// The drawing library gave up.
    #[error("the figure could not be drawn: {reason}")]
    Drawing {
        /// The library's own words.
        reason: String,
    },
}

impl FigureError {
    pub(super) fn drawing(error: impl std::fmt::Display) -> Self {
        Self::Drawing {
            reason: error.to_string(),
        }
    }
}

/// A figure: data laid out as a picture.
///
/// Data that are empty, constant or not finite make a figure with less in it, never an error.
pub trait Figure {
    /// The picture's layout.
    fn scene(&self) -> Scene;

    /// What the figure shows, in one or two sentences, for readers who cannot see it.
    fn describe(&self) -> String;

    /// The figure as an SVG document: drawn at four times its size and shown scaled down, so that lines are smooth.
    ///
    /// # Errors
    /// [`FigureError`] when the drawing library fails.
    fn svg(&self) -> Result<String, FigureError> {
        plot::paint::svg(&self.scene())
    }

    /// The figure as a PNG file, two pixels to a picture point.
    ///
    /// # Errors
    /// [`FigureError`] when the drawing library fails.
    fn png(&self) -> Result<Vec<u8>, FigureError> {
        plot::paint::png(&self.scene())
    }
}
