//! How a ship's coefficients depend on Mach number, Knudsen number and angle of attack, and which of its
//! heating is flown, as the scenario says. What is made of it is left to `craft`.

use super::bound::Bound;
use super::message::InputError;
use super::plain_file;
use super::section::{Node, Section};
use crate::numeric::units::Dimension;
use std::f64::consts::{FRAC_PI_2, PI};

/// Coefficients that are not constant (`ship.aerodynamics`).
#[derive(Debug, Clone, PartialEq)]
pub struct AeroSpec {
    /// Where they come from.
    pub form: AeroForm,
    /// The free-molecular limit of a form without Knudsen numbers; `None` where there is no bridge, or
    /// where the shape gives it.
    pub free_molecular: Option<FreeMolecular>,
    /// Length of the Knudsen number, m; the diameter of the reference area where it is not given.
    pub knudsen_length_m: Option<f64>,
}

/// Where coefficients come from.
#[derive(Debug, Clone, PartialEq)]
pub enum AeroForm {
    /// The ship's own drag coefficient and lift-to-drag ratio, to be bridged.
    Constant,
    /// A table: its text and the name under which mistakes in it are shown.
    Table {
        /// The table as comma-separated text.
        text: String,
        /// The file, or the key of an inline table.
        name: String,
    },
    /// Newton's rule for a shape.
    Shape(ShapeSpec),
}

/// A shape for an estimate by Newton's rule; lengths in m, angles in rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ShapeSpec {
    /// A whole sphere.
    Sphere {
        /// Its radius.
        radius_m: f64,
    },
    /// A spherical nose on a cone.
    SphereCone {
        /// Radius of the nose.
        nose_radius_m: f64,
        /// Radius of the base.
        base_radius_m: f64,
        /// Half angle of the cone.
        half_angle_rad: f64,
    },
    /// A segment of a sphere.
    Segment {
        /// Radius of the sphere.
        radius_m: f64,
        /// Radius of the base.
        base_radius_m: f64,
    },
    /// One side of a flat plate; the angle of attack is that between plate and stream.
    Plate {
        /// Its area, m².
        area_m2: f64,
    },
    /// A cylinder without ends; the angle of attack is that between axis and stream.
    Cylinder {
        /// Its radius.
        radius_m: f64,
        /// Its length.
        length_m: f64,
    },
}

impl ShapeSpec {
    /// The area its coefficients refer to, m².
    #[must_use]
    pub fn area_m2(self) -> f64 {
        match self {
            Self::Sphere { radius_m } => PI * radius_m * radius_m,
            Self::SphereCone { base_radius_m, .. } | Self::Segment { base_radius_m, .. } => {
                PI * base_radius_m * base_radius_m
            }
            Self::Plate { area_m2 } => area_m2,
            Self::Cylinder { radius_m, length_m } => 2.0 * radius_m * length_m,
        }
    }
}

/// Coefficients in air so thin that molecules do not meet each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FreeMolecular {
    /// Drag coefficient.
    pub drag: f64,
    /// Lift coefficient.
    pub lift: f64,
}

/// Which heating is flown beside convection in a continuum (`ship.heating`).
#[derive(Debug, Clone, PartialEq)]
pub struct HeatingSpec {
    /// Radiative heating. Default: where a published correlation covers the world's gas.
    pub radiative: Radiative,
    /// What the user says that radiation is at most, where it is not flown.
    pub radiation_bound: Option<RadiationBound>,
    /// The bridge to free-molecular heating in thin air. Default yes.
    pub free_molecular: bool,
    /// Share of the energy of free molecules that stays in the skin, above 0, at most 1. Default 1.
    pub accommodation: f64,
}

/// Whether radiative heating is flown (`ship.heating.radiative`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Radiative {
    /// Where a published correlation covers the world's gas: the key is left out.
    WhereCovered,
    /// Asked for, `yes`: a gas without a correlation is a mistake.
    Asked,
    /// Left out, `no`.
    LeftOut,
}

/// The user's own bound on radiation that is not flown (`ship.heating.radiation_bound`).
#[derive(Debug, Clone, PartialEq)]
pub struct RadiationBound {
    /// Share of the flux that is flown which radiation adds at most, 0 or more.
    pub share: f64,
    /// Where that is from, in the user's words.
    pub source: String,
}

impl Default for HeatingSpec {
    fn default() -> Self {
        Self {
            radiative: Radiative::WhereCovered,
            radiation_bound: None,
            free_molecular: true,
            accommodation: 1.0,
        }
    }
}

const LENGTH_M: Bound = Bound::between(1e-3, 1e3);
const COEFFICIENT: Bound = Bound::between(-10.0, 10.0);
const DRAG: Bound = Bound::between(0.01, 10.0);
/// Radiation over convection that a user may state: up to that of the fastest probe flown (35 to 50 kW/cm² and more
/// beside some 10, from memory), and beyond.
const RADIATION: Bound = Bound::between(0.0, 100.0);
/// Largest table that is read, bytes.
pub const LARGEST_TABLE: u64 = 8 << 20;

/// Reads `aerodynamics` of the ship or of a configuration.
pub(super) fn decode_aerodynamics(within: &Section<'_>) -> Result<Option<AeroSpec>, InputError> {
    let Some(section) = within.optional_section("aerodynamics")? else {
        return Ok(None);
    };
    let table = section.optional("table");
    let shape = section.optional_section("shape")?;
    let free_molecular = section.optional_section("free_molecular")?;
    let form = match (&table, shape, &free_molecular) {
        (Some(node), None, _) => table_of(node)?,
        (None, Some(shape), _) => AeroForm::Shape(shape_of(shape)?),
        (None, None, Some(_)) => AeroForm::Constant,
        (Some(_), Some(_), _) => {
            return Err(section
                .error_at(
                    "shape",
                    "coefficients come from a `table` or from a `shape`",
                )
                .with_help("keep one of the two"));
        }
        (None, None, None) => {
            return Err(section
                .error("`aerodynamics` has neither a `table` nor a `shape` nor a `free_molecular` limit")
                .with_help("write for example `table: ./coefficients.csv`"));
        }
    };
    let free_molecular = free_molecular
        .map(|limit| {
            let decoded = FreeMolecular {
                drag: limit.quantity("drag_coefficient", Dimension::Dimensionless, DRAG)?,
                lift: limit
                    .optional_quantity("lift_coefficient", Dimension::Dimensionless, COEFFICIENT)?
                    .unwrap_or(0.0),
            };
            limit.finish()?;
            Ok::<_, InputError>(decoded)
        })
        .transpose()?;
    let knudsen_length_m =
        section.optional_quantity("knudsen_length", Dimension::Length, LENGTH_M)?;
    section.finish()?;
    Ok(Some(AeroSpec {
        form,
        free_molecular,
        knudsen_length_m,
    }))
}

/// A table as it stands in the scenario (it has a line break), or the text of the file it names.
fn table_of(node: &Node<'_>) -> Result<AeroForm, InputError> {
    let written = node.text()?;
    if written.contains('\n') {
        return Ok(AeroForm::Table {
            text: written.to_owned(),
            name: node.dotted(),
        });
    }
    let path = node.path_from_file(written);
    let unreadable = |why: String| {
        node.error(format!("the table `{}` cannot be read: {why}", plain_file::shown(&path)))
            .with_help("a relative path starts at the folder of the scenario file; a table may also be written here, with `|` and one point a line")
    };
    let bytes = plain_file::read(&path, LARGEST_TABLE).map_err(unreadable)?;
    let too_large = || unreadable(format!("it has more than {LARGEST_TABLE} bytes"));
    let bytes = bytes.ok_or_else(too_large)?;
    let text =
        String::from_utf8(bytes).map_err(|_| unreadable("it is no UTF-8 text".to_owned()))?;
    Ok(AeroForm::Table {
        text,
        name: written.to_owned(),
    })
}

fn shape_of(shape: Section<'_>) -> Result<ShapeSpec, InputError> {
    const KINDS: [&str; 5] = ["sphere", "sphere_cone", "segment", "plate", "cylinder"];
    let mut found = None;
    for kind in KINDS {
        if let Some(section) = shape.optional_section(kind)? {
            if found.is_some() {
                return Err(shape.error_at(kind, "a ship has one shape"));
            }
            found = Some(one_shape(kind, section)?);
        }
    }
    let missing = shape
        .error("the shape is missing")
        .with_help(format!("write one of {}", KINDS.join(", ")));
    shape.finish()?;
    found.ok_or(missing)
}

fn one_shape(kind: &str, section: Section<'_>) -> Result<ShapeSpec, InputError> {
    let length = |key| section.quantity(key, Dimension::Length, LENGTH_M);
    let shape = match kind {
        "sphere" => ShapeSpec::Sphere {
            radius_m: length("radius")?,
        },
        "sphere_cone" => ShapeSpec::SphereCone {
            nose_radius_m: length("nose_radius")?,
            base_radius_m: length("base_radius")?,
            half_angle_rad: section.quantity(
                "half_angle",
                Dimension::Angle,
                Bound::above(0.0).at_most(FRAC_PI_2),
            )?,
        },
        "segment" => ShapeSpec::Segment {
            radius_m: length("radius")?,
            base_radius_m: length("base_radius")?,
        },
        "plate" => ShapeSpec::Plate {
            area_m2: section.quantity("area", Dimension::Area, Bound::between(1e-3, 1e6))?,
        },
        _ => ShapeSpec::Cylinder {
            radius_m: length("radius")?,
            length_m: length("length")?,
        },
    };
    section.finish()?;
    Ok(shape)
}

/// Reads `heating` of the ship.
pub(super) fn decode_heating(ship: &Section<'_>) -> Result<HeatingSpec, InputError> {
    let usual = HeatingSpec::default();
    let Some(section) = ship.optional_section("heating")? else {
        return Ok(usual);
    };
    let asked = |key: &str| section.optional(key).map(|node| node.flag()).transpose();
    let radiation_bound = section
        .optional_section("radiation_bound")?
        .map(|bound| {
            let decoded = RadiationBound {
                share: bound.quantity("share_of_convection", Dimension::Ratio, RADIATION)?,
                source: bound
                    .required("source", "where the bound is from, in your words")?
                    .text()?
                    .to_owned(),
            };
            bound.finish()?;
            Ok::<_, InputError>(decoded)
        })
        .transpose()?;
    let decoded = HeatingSpec {
        radiative: match asked("radiative")? {
            None => Radiative::WhereCovered,
            Some(true) => Radiative::Asked,
            Some(false) => Radiative::LeftOut,
        },
        radiation_bound,
        free_molecular: asked("free_molecular")?.unwrap_or(usual.free_molecular),
        accommodation: section
            .optional_quantity(
                "accommodation",
                Dimension::Ratio,
                Bound::above(0.0).at_most(1.0),
            )?
            .unwrap_or(usual.accommodation),
    };
    section.finish()?;
    Ok(decoded)
}
