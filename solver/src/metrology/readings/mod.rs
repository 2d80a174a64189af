//! Readings as a shop writes them down: typed lists and CSV, made into a checked set of angles and values.
//!
//! Read [`Format`] and [`Readings`] first. Three ways to write readings are told apart by the first line that is neither
//! blank nor a comment (`#`):
//!
//! - a header that names columns, `angle_deg,radius_mm`; the quantity is a radius, deviation, reading or diameter, its unit
//!   mm, in, thou or um. Without a column of angles the readings are evenly spaced;
//! - pairs, `0:+0.4 30:-0.1 60:-0.9`, between blanks, commas, semicolons or line ends;
//! - numbers alone: two a line are angle and reading, one a line or more than two are evenly spaced readings.
//!
//! Columns are separated by commas, semicolons, tabs or blanks. A decimal comma is read where semicolons or tabs separate, and
//! refused elsewhere. Nothing here opens a file.

mod arrange;
mod fault;
mod jumps;
mod layout;
mod lines;
mod number;
mod parse;
mod unit;

use std::io::BufRead;

use super::Profile;
pub use fault::{Fault, ReadingsError};
pub use unit::{Amount, LengthUnit};

/// Most readings that are taken: as many as the reference circles are made for, 277 a degree.
pub const MOST: usize = 100_000;

/// What the readings are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ReadingKind {
    /// Distances from the axis of the turn.
    #[default]
    Radii,
    /// What an indicator shows: changes from a zero of its own, larger where the part is larger.
    Deviations,
    /// Diameters, as a two-point or three-point gauge shows them.
    Diameters,
}

/// What the text itself does not say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Format {
    /// What the readings are where no header says so.
    pub kind: ReadingKind,
    /// Unit where no header says so.
    pub unit: Option<LengthUnit>,
    /// Unit of plain numbers, where neither a header nor `unit` says more.
    pub plain: LengthUnit,
    /// Where the zero of the typed angles lies on the part, degrees counter-clockwise from its zero mark.
    pub zero_at_deg: f64,
    /// Whether typed angles run clockwise.
    pub clockwise: bool,
    /// Takes readings that stand far out from all others as they are.
    pub keep_jumps: bool,
    /// Lobes that the readings must be able to show.
    pub lobes: Option<u32>,
    /// How many times a turn the trace repeats by the nature of its gauge (a diameter: 2); 0 counts as 1. Only that share of the
    /// turn has to be read.
    pub repeats: u32,
}

/// Checked readings of one closed surface, by rising angle.
#[derive(Clone, Debug, PartialEq)]
pub struct Readings {
    angles: Vec<f64>,
    values: Vec<f64>,
    lines: Vec<usize>,
    kind: ReadingKind,
    unit: LengthUnit,
    kind_named: bool,
    unit_named: bool,
    equal: bool,
    cautions: Vec<String>,
}

impl Readings {
    /// Reads a text.
    ///
    /// ```
    /// use ringwright_solver::metrology::readings::{Format, ReadingKind, LengthUnit, Readings};
    /// let typed = "0:+0.4 60:-0.1 120:-0.9 180:0.2 240:0.4 300:-0.5";
    /// let format = Format { kind: ReadingKind::Deviations, unit: Some(LengthUnit::Thou), ..Format::default() };
    /// let readings = Readings::parse(typed, &format)?;
    /// assert_eq!(readings.values()[0], 0.4 * 0.0254);
    /// assert_eq!(readings.profile(Some(60.0))?.profile().len(), 6);
    /// # Ok::<(), ringwright_solver::metrology::readings::ReadingsError>(())
    /// ```
    ///
    /// # Errors
    /// The first thing that is wrong, with its line: see [`Fault`].
    pub fn parse(text: &str, format: &Format) -> Result<Self, ReadingsError> {
        Self::read(text.as_bytes(), format)
    }

    /// Reads from anything, one line in memory at a time.
    ///
    /// # Errors
    /// As [`Readings::parse`], and [`Fault::Unreadable`].
    pub fn read(reader: impl BufRead, format: &Format) -> Result<Self, ReadingsError> {
        let readings = arrange::arrange(parse::parse(reader, format)?, format)?;
        jumps::check(readings, format)
    }

    /// Angles on the part, rad counter-clockwise from its zero mark, rising, in `[0, 2 pi)`.
    pub fn angles(&self) -> &[f64] {
        &self.angles
    }

    /// Readings, mm.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Line of the text that each came from, from 1.
    pub fn lines(&self) -> &[usize] {
        &self.lines
    }

    /// What the readings are.
    pub fn kind(&self) -> ReadingKind {
        self.kind
    }

    /// The unit that they were written in.
    pub fn unit(&self) -> LengthUnit {
        self.unit
    }

    /// Whether a header says what the readings are. Plain numbers, and a column called `reading`, are taken as the caller says.
    pub fn kind_is_named(&self) -> bool {
        self.kind_named
    }

    /// Whether a header or the caller names the unit; else it is that of plain numbers.
    pub fn unit_is_named(&self) -> bool {
        self.unit_named
    }

    /// Smallest and largest reading, mm.
    pub fn limits(&self) -> [f64; 2] {
        let ends = [f64::INFINITY, f64::NEG_INFINITY];
        self.values
            .iter()
            .fold(ends, |[low, high], &v| [low.min(v), high.max(v)])
    }

    /// The smallest step between readings of different size, mm: about what the indicator was read to. 0 where all are the same.
    pub fn step(&self) -> f64 {
        let mut sorted = self.values.clone();
        sorted.sort_by(f64::total_cmp);
        arrange::resolution(&sorted)
    }

    /// What a reader of the result should know: a closing reading left out, places not read, outliers.
    pub fn cautions(&self) -> &[String] {
        &self.cautions
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// Never true: there are at least three.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// The profile that the readings describe. Radii are taken as they are; deviations lie about `mean_radius` (mm) so that
    /// their mean is zero.
    ///
    /// # Errors
    /// [`Fault::NoRadius`], [`Fault::RadiusNotWanted`], [`Fault::SmallRadius`], [`Fault::Diameters`].
    pub fn profile(&self, mean_radius: Option<f64>) -> Result<MeasuredProfile, ReadingsError> {
        let radii = match (self.kind, mean_radius) {
            (ReadingKind::Radii, None) => self.values.clone(),
            (ReadingKind::Deviations, Some(radius)) => self.about(radius)?,
            (ReadingKind::Radii, Some(_)) => {
                let fault = Fault::RadiusNotWanted { unit: self.unit };
                return Err(ReadingsError::whole(fault));
            }
            (ReadingKind::Deviations, None) => return Err(ReadingsError::whole(Fault::NoRadius)),
            (ReadingKind::Diameters, _) => return Err(ReadingsError::whole(Fault::Diameters)),
        };
        Ok(MeasuredProfile {
            angles: (!self.equal).then(|| self.angles.clone()),
            radii,
        })
    }

    fn about(&self, radius: f64) -> Result<Vec<f64>, ReadingsError> {
        let mean = self.values.iter().sum::<f64>() / self.len() as f64;
        let lowest = self.values.iter().copied().fold(f64::INFINITY, f64::min);
        let least = mean - lowest;
        if radius.is_finite() && radius > least {
            Ok(self.values.iter().map(|v| radius + (v - mean)).collect())
        } else {
            Err(ReadingsError::whole(Fault::SmallRadius { radius, least }))
        }
    }
}

/// A profile that owns its readings.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredProfile {
    angles: Option<Vec<f64>>,
    radii: Vec<f64>,
}

impl MeasuredProfile {
    /// Radii (mm) at equal angles from 0; none when there are fewer than three.
    pub fn equal(radii: Vec<f64>) -> Option<Self> {
        (radii.len() >= 3).then_some(Self {
            angles: None,
            radii,
        })
    }

    /// For everything in [`metrology`](super): evenly spaced readings from the zero mark as such, others by their angles.
    pub fn profile(&self) -> Profile<'_> {
        Profile {
            angles: self.angles.as_deref(),
            radii: &self.radii,
        }
    }
}
