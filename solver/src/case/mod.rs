//! The case: what is held, how, and what is cut. This is the checked form; angles are rad, lengths mm.
//!
//! [`read`] turns the text of a case file into a [`Case`], or into every [`Problem`] it has. It decides what a
//! file may say and fills in defaults; what needs the solver (a cut that reaches nothing once the part is
//! squeezed, a hold that slips) is left to the solver. Read [`Case`] and [`read`] first.

mod hold;
mod inspection;
pub mod material;
mod most;
mod node;
mod overlap;
mod part;
mod problem;
pub mod quantity;
mod read;
mod readings;
mod residual;
mod schema;
mod source;
mod step;
mod tolerance;

pub(crate) use hold::default_value;
pub use inspection::{Inspection, Support};
pub use material::{built_in, names as material_names};
pub use problem::{Problem, ProblemKind, steers};
pub(crate) use read::read_despite;
pub use read::{read, read_beside, too_long};
pub use readings::MeasuredStock;
pub use schema::schema;
pub use source::{MOST_CASE_BYTES, open_input, read_little_over};
pub use step::FREE;
pub use tolerance::{RoundnessLimit, SurfaceTolerance, Tolerance};

use std::path::Path;

use crate::geometry::{Outline, PerSurface, StockOutline, Surface};
use crate::scheme::{HoldingScheme, Section, Values};

/// A case that has passed every check that needs no solving.
#[derive(Clone)]
pub struct Case {
    /// Title of the job.
    pub title: String,
    /// SHA-256 of the case file's text, lower-case hex; empty for a case made in code.
    pub sha256: String,
    /// Whether the file was written in inch units (results are shown drawing unit first).
    pub inch: bool,
    /// Asked relative mesh error of the driving quantity.
    pub accuracy: f64,
    /// Limits.
    pub tolerance: Tolerance,
    /// How the finished part is looked at.
    pub inspection: Inspection,
    /// The part as received.
    pub part: Part,
    /// Holds by name, in file order.
    pub holds: Vec<Hold>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// A fixed section mesh, if asked for.
    pub mesh: Option<FixedMesh>,
    /// What the case took for granted, in the user's words.
    pub assumed: Vec<String>,
}

impl Case {
    /// Nominal section at the start of a step: the stock, with the surfaces cut in earlier steps at their cut
    /// diameters. mm.
    pub fn section_at(&self, step: usize) -> Section {
        section_after(self.part.section(), self.steps.iter().take(step))
    }

    /// The files that the case names: the readings of its stock.
    pub fn files(&self) -> impl Iterator<Item = &Path> {
        Surface::BOTH
            .into_iter()
            .filter_map(|s| self.part.measured.get(s).as_ref()?.file.as_deref())
    }

    /// The hold of a step; the built-in "free" has no members.
    pub fn hold(&self, name: &str) -> Option<&Hold> {
        self.holds.iter().find(|h| h.name == name)
    }
}

/// Nominal section after the cuts of these steps, mm.
fn section_after<'a>(mut section: Section, steps: impl IntoIterator<Item = &'a Step>) -> Section {
    for cut in steps.into_iter().flat_map(|s| &s.cuts) {
        let radius = 0.5 * cut.diameter;
        match cut.surface {
            Surface::Outer => section.outer_radius = radius,
            Surface::Bore => section.bore_radius = radius,
        }
    }
    section
}

/// Isotropic linear elastic material.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name as the user wrote it, or "as given" for a table.
    pub name: String,
    /// What it does beside being elastic.
    pub class: material::Class,
    /// Young's modulus, MPa.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Yield strength, MPa.
    pub yield_strength: Option<f64>,
    /// Density, kg/m3.
    pub density: Option<f64>,
}

/// Hoop stress of the stock, linear through the nominal wall, MPa; tension positive. A slit test in the file has become the
/// stress with which the modelled ring opens as far (see [`crate::series::SlitRing`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResidualHoopStress {
    /// At the nominal outside radius.
    pub outer: f64,
    /// At the nominal bore radius.
    pub bore: f64,
}

/// The part as received.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The two surfaces.
    pub stock: PerSurface<StockOutline>,
    /// Axial length, mm.
    pub length: f64,
    /// What it is made of.
    pub material: Material,
    /// Residual stress, if any.
    pub residual: Option<ResidualHoopStress>,
    /// Where the shape of a surface was measured, and how well.
    pub measured: PerSurface<Option<MeasuredStock>>,
}

impl Part {
    /// Nominal section as received.
    pub fn section(&self) -> Section {
        Section {
            outer_radius: self.stock.outer.radius,
            bore_radius: self.stock.bore.radius,
            length: self.length,
        }
    }

    /// The outlines as received.
    pub fn outlines(&self) -> PerSurface<Outline> {
        PerSurface::from_fn(|s| Outline::Stock(self.stock.get(s).clone()))
    }
}

/// One scheme of a hold with its values.
#[derive(Clone)]
pub struct HoldMember {
    /// The scheme.
    pub scheme: &'static dyn HoldingScheme,
    /// Its values.
    pub values: Values,
    /// Line of the case file where it starts, for messages; 0 for a case made in code.
    pub line: usize,
}

/// A named list of schemes acting together.
#[derive(Clone)]
pub struct Hold {
    /// Name in the file; "free" is built in and has no members.
    pub name: String,
    /// The schemes.
    pub members: Vec<HoldMember>,
}

/// One cut: the tool leaves a circle about the spindle axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// The surface cut.
    pub surface: Surface,
    /// Diameter of the circle, mm.
    pub diameter: f64,
    /// Line of the case file, for messages; 0 for a case made in code.
    pub line: usize,
}

/// One clamping: hold, cut, release.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Name of the hold.
    pub hold: String,
    /// Fraction of the hold's forces.
    pub force_scale: f64,
    /// Whether the part lies in the hold turned end for end.
    pub flipped: bool,
    /// How the part is turned against the hold.
    pub turned: Turned,
    /// What the part is centred on the spindle by.
    pub centre_on: CentreOn,
    /// Where the spindle axis lies in the part's frame, mm (x, y), from the centre of what it is centred on.
    pub spindle_offset: [f64; 2],
    /// Whether residual stress is taken out before this step, the shape kept.
    pub stress_relieved: bool,
    /// Cuts in order.
    pub cuts: Vec<Cut>,
    /// Line of the case file, for messages; 0 for a case made in code.
    pub line: usize,
}

impl Step {
    /// A step of a hold with full force, the part as drawn, its axis on the spindle.
    pub fn new(hold: &str, cuts: Vec<Cut>) -> Self {
        Self {
            hold: hold.to_owned(),
            force_scale: 1.0,
            flipped: false,
            turned: Turned::By(0.0),
            centre_on: CentreOn::Jaws,
            spindle_offset: [0.0, 0.0],
            stress_relieved: false,
            cuts,
            line: 0,
        }
    }

    /// Whether a cut (by its index) goes over a surface again at the diameter that this step last cut it to.
    pub fn is_spring_pass(&self, cut: usize) -> bool {
        let this = &self.cuts[cut];
        let last = self.cuts[..cut]
            .iter()
            .rev()
            .find(|c| c.surface == this.surface);
        last.is_some_and(|c| c.diameter == this.diameter)
    }
}

/// How the part is turned against the hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turned {
    /// Counter-clockwise by this much, rad.
    By(f64),
    /// Any way: the worst is looked for.
    Any,
}

/// What the part is centred on the spindle by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CentreOn {
    /// The jaws: it lies where they put it, the spindle runs about the chuck's axis.
    Jaws,
    /// The held surface, set to run true: the spindle runs about its least-squares centre.
    Surface(Surface),
}

/// A section mesh fixed by the user: equal elements between pad edges and pad centres.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FixedMesh {
    /// Elements round the ring.
    pub around: usize,
    /// Elements through the wall.
    pub through: usize,
}
