//! The case: what is held, how, and what is cut. This is the checked form; angles are rad, lengths mm.
//!
//! A case is made in code with [`CaseBuilder`], or read from a file with [`toml::read`]; both give a [`Case`], or every [`Problem`] it has,
//! and both pass the same checks. What needs the solver (a cut that reaches nothing once the part is squeezed, a hold that slips) is left
//! to the solver. Read [`Case`] and [`CaseBuilder`] first.

mod build;
mod check;
mod inspection;
pub mod material;
mod most;
mod place;
mod problem;
pub mod quantity;
mod restraint;
mod tolerance;
pub mod toml;

pub use build::{CaseBuilder, MadeOf, Member, Problems};
pub(crate) use check::values::default_value;
pub use inspection::{Inspection, Support};
pub use material::{built_in, names as material_names};
pub use place::Place;
pub use problem::{Problem, ProblemKind, steers};
pub(crate) use problem::{in_one_line, problem_at};
pub use restraint::{Chuck, FaceClass, Friction, JawStiffness, Restraint, Tool};
pub use tolerance::{RoundnessLimit, SurfaceTolerance, Tolerance};
pub(crate) use toml::read_despite;
pub use toml::{
    Change, MOST_CASE_BYTES, NoChange, Origin, hold_in_every_step, open_input, read, read_beside,
    read_changed, read_little_over, read_with_origin, schema, too_long, value_at,
};

use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::geometry::{Meridian, Outline, PerSurface, StockOutline, Surface};
use crate::grip::Kienzle;
use crate::metrology::Gauge;
use crate::scheme::{HoldingScheme, Section, Values};

/// A case that has passed every check that needs no solving.
#[derive(Clone, Debug)]
pub struct Case {
    /// Title of the job.
    pub title: String,
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
    /// The part along its length; `None` where a slice stands for it.
    pub tube: Option<Tube>,
    /// How thick that slice is.
    pub section_thickness: SectionThickness,
    /// What is known of the chuck.
    pub chuck: Chuck,
    /// What the case took for granted, in the user's words.
    pub assumed: Vec<String>,
}

impl Case {
    /// Nominal section at the start of a step, by which schemes size their pads, mm: the stock, with the surfaces cut in earlier steps
    /// at their cut diameters. Of a tube only cuts count that run over its whole length at one diameter; where it has an outline, only
    /// such of them as take metal off this section.
    pub fn section_at(&self, step: usize) -> Section {
        let earlier = self.steps.iter().take(step);
        section_after(self.part.section(), self.tube.as_ref(), earlier)
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

/// Nominal section after the cuts of these steps, mm; see [`Case::section_at`].
fn section_after<'a>(
    mut section: Section,
    tube: Option<&Tube>,
    steps: impl IntoIterator<Item = &'a Step>,
) -> Section {
    // beside a flange the tool may pass the nominal diameter without touching it
    let outlined = tube.is_some_and(|t| t.outline.is_some());
    let cuts = steps.into_iter().flat_map(|s| &s.cuts);
    for cut in cuts.filter(|c| c.is_whole(section.length)) {
        let (radius, own) = (0.5 * cut.diameter, section.radius(cut.surface));
        match cut.surface {
            Surface::Outer if !outlined || radius < own => section.outer_radius = radius,
            Surface::Bore if !outlined || radius > own => section.bore_radius = radius,
            _ => {}
        }
    }
    section
}

/// The hold in which nothing touches the part.
pub const FREE: &str = "free";

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
    /// Constants of the cutting force.
    pub cutting: Option<Kienzle>,
    /// Thermal expansion, 1/K.
    pub thermal_expansion: Option<f64>,
    /// Of a plastic: Young's modulus that is left once it has been held as long as it is in a step, MPa.
    pub long_time_modulus: Option<f64>,
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

/// How a surface of the stock was measured, and how well its shape is known.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredStock {
    /// Where the readings come from: a file's name, or "the case".
    pub source: String,
    /// That file, as it was found from where the program was called; `None` for readings in the case itself.
    pub file: Option<PathBuf>,
    /// Number of readings.
    pub readings: usize,
    /// What they were read on.
    pub gauge: Gauge,
    /// Highest lobe count of the curve through them.
    pub lobes: u32,
    /// Counts up to that which the gauge does not show.
    pub unseen: Vec<u32>,
    /// Standard error of the curve, root mean square round the turn, mm; `None` when no reading is left to judge it by.
    pub uncertainty: Option<f64>,
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
    pub scheme: Arc<dyn HoldingScheme>,
    /// Its values.
    pub values: Values,
    /// Where along the part it presses.
    pub grip: Grip,
    /// What is known of its grip.
    pub restraint: Restraint,
    /// Whether its forces are not known: those of its values are then of a unit force.
    pub force_unknown: bool,
}

impl HoldMember {
    /// A scheme with what a case gives it; a force that is not known becomes a unit force.
    pub(in crate::case) fn new(
        scheme: Arc<dyn HoldingScheme>,
        mut values: Values,
        grip: Grip,
        restraint: Restraint,
    ) -> Self {
        let force_unknown = values.reckon_with_unknown();
        Self {
            scheme,
            values,
            grip,
            restraint,
            force_unknown,
        }
    }
}

/// How thick the slice is that stands for a part: the length over which its loads act.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum SectionThickness {
    /// As long as the part.
    #[default]
    WholeLength,
    /// So thick, mm.
    Given(f64),
    /// As thick as lobes like the part along its length, gripped as the first hold that presses on it does.
    FromTube,
}

/// Where along the part a scheme presses, mm from the end that is gripped in that step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Grip {
    /// Where it begins.
    pub from: f64,
    /// How long it is; `None`: up to the other end.
    pub length: Option<f64>,
}

impl Grip {
    /// Where it begins and ends on a part of this length, mm.
    pub fn on(&self, length: f64) -> [f64; 2] {
        let to = self.length.map_or(length, |own| self.from + own);
        [self.from, to]
    }
}

/// The part along its length: a body of revolution about its axis, the lobes of the stock alike all along.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tube {
    /// Axial positions to report, mm from the end that is gripped in a step that is not flipped; rising.
    pub stations: Vec<f64>,
    /// Its outline, from that end on, where it is not a plain tube.
    pub outline: Option<Meridian>,
}

impl fmt::Debug for HoldMember {
    /// A scheme is shown by its name.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("HoldMember")
            .field("scheme", &self.scheme.name())
            .field("values", &self.values)
            .field("grip", &self.grip)
            .field("restraint", &self.restraint)
            .field("force_unknown", &self.force_unknown)
            .finish()
    }
}

/// A named list of schemes acting together.
#[derive(Clone, Debug)]
pub struct Hold {
    /// Name in the file; "free" is built in and has no members.
    pub name: String,
    /// The schemes.
    pub members: Vec<HoldMember>,
}

/// One cut: the tool leaves a circle about the spindle axis, on a tube a cylinder or a cone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// The surface cut.
    pub surface: Surface,
    /// Diameter of the circle, mm; of a cone where the cut begins.
    pub diameter: f64,
    /// What of a tube's length it runs over.
    pub reach: Reach,
    /// What is known of the tool's force, for the grip.
    pub tool: Tool,
    /// Steady force by which the tool pushes the wall away from itself along the radius, N, zero or more.
    pub radial_force: f64,
}

/// What of a tube's length a cut runs over, mm from the end that is gripped in that step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reach {
    /// Where it begins.
    pub from: f64,
    /// Where it ends; `None`: at the other end of the part.
    pub to: Option<f64>,
    /// Diameter where it ends, mm; `None`: as where it begins.
    pub end_diameter: Option<f64>,
}

impl Reach {
    /// Where it begins and ends on a part of this length, mm.
    pub fn on(&self, length: f64) -> [f64; 2] {
        [self.from, self.to.unwrap_or(length)]
    }
}

impl Cut {
    /// A cut over the whole length: the surface and the diameter of the tool's circle, mm.
    pub fn whole(surface: Surface, diameter: f64) -> Self {
        Self {
            surface,
            diameter,
            reach: Reach::default(),
            tool: Tool::default(),
            radial_force: 0.0,
        }
    }

    /// The same with a steady force of the tool that pushes the wall away along the radius, N.
    #[must_use]
    pub fn with_radial_force(self, radial_force: f64) -> Self {
        Self {
            radial_force,
            ..self
        }
    }

    /// Whether it runs over the whole of a part of this length, mm, at one diameter.
    pub fn is_whole(&self, length: f64) -> bool {
        let [from, to] = self.reach.on(length);
        let end = self.reach.end_diameter;
        from <= 0.0 && to >= length && end.is_none_or(|d| d == self.diameter)
    }
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
    /// Speed of the spindle, rev/min.
    pub speed: Option<f64>,
    /// How much warmer the part is when it is cut than when it is measured, K.
    pub temperature_rise: Option<f64>,
    /// How long it is held, minutes.
    pub minutes_held: Option<f64>,
    /// Cuts in order.
    pub cuts: Vec<Cut>,
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
            speed: None,
            temperature_rise: None,
            minutes_held: None,
            cuts,
        }
    }

    /// A step of a hold by its name, nothing cut yet.
    pub fn held_by(hold: &str) -> Self {
        Self::new(hold, Vec::new())
    }

    /// The same with one cut more: the tool's circle on this surface, diameter in mm.
    #[must_use]
    pub fn cut(mut self, surface: Surface, diameter: f64) -> Self {
        self.cuts.push(Cut::whole(surface, diameter));
        self
    }

    /// The same with one cut more over a part of a tube's length: diameter in mm where it begins, and what it runs over.
    #[must_use]
    pub fn cut_along(mut self, surface: Surface, diameter: f64, reach: Reach) -> Self {
        self.cuts.push(Cut {
            reach,
            ..Cut::whole(surface, diameter)
        });
        self
    }

    /// The same with this known of the tool's force in its last cut.
    #[must_use]
    pub fn with_tool(mut self, tool: Tool) -> Self {
        if let Some(last) = self.cuts.last_mut() {
            last.tool = tool;
        }
        self
    }

    /// The same at a speed of the spindle, rev/min.
    #[must_use]
    pub fn at_speed(mut self, speed: f64) -> Self {
        self.speed = Some(speed);
        self
    }

    /// The same hold, nothing cut.
    pub(crate) fn without_cuts(&self) -> Self {
        Self {
            cuts: Vec::new(),
            ..self.clone()
        }
    }

    /// Whether a cut (by its index) goes over a surface again as this step last cut it: at that diameter, over that length.
    pub fn is_spring_pass(&self, cut: usize) -> bool {
        let this = &self.cuts[cut];
        let last = self.cuts[..cut]
            .iter()
            .rev()
            .find(|c| c.surface == this.surface);
        last.is_some_and(|c| c.diameter == this.diameter && c.reach == this.reach)
    }
}

/// How the part is turned against the hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turned {
    /// Counter-clockwise by this much, rad.
    By(f64),
    /// Any way: the worst is searched for.
    Any,
}

/// What the part is centred on the spindle by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
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
