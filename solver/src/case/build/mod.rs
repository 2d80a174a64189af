//! A case made in code, with the schemes' own defaults, and checked as a case file is.

mod checked;
mod step;

use std::fmt;

use super::check::Findings;
use super::{
    Case, Chuck, FixedMesh, Inspection, Material, Problem, SectionThickness, Step,
    SurfaceTolerance, Tolerance, Tube,
};
use crate::geometry::Surface;
use crate::scheme::{Registry, Value};

/// Everything that is wrong with a case made in code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problems(pub Vec<Problem>);

impl std::error::Error for Problems {}

/// One line a problem: the key, what is wrong and what would be right.
impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (k, problem) in self.0.iter().enumerate() {
            if k > 0 {
                f.write_str("\n")?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}

/// One scheme of a hold and the values that are given to it, by the keys of its parameters: lengths mm, forces N, moduli MPa, angles
/// degrees. Keys that are left out take the scheme's defaults.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    scheme: String,
    given: Vec<(String, Value)>,
}

impl Member {
    /// The scheme of this name, nothing given yet.
    pub fn of(scheme: &str) -> Self {
        Self {
            scheme: scheme.to_owned(),
            given: Vec::new(),
        }
    }

    /// The same with a value for a parameter, in place of one that was given before.
    #[must_use]
    pub fn with(mut self, key: &str, value: impl Into<Value>) -> Self {
        self.given.retain(|(k, _)| k != key);
        self.given.push((key.to_owned(), value.into()));
        self
    }

    /// The same pressing over a stretch of the part: where the grip begins, mm from the end gripped in that step, and how long it is, mm;
    /// `None`: to the other end. As the keys `grip_from` and `grip_length` of a case file.
    #[must_use]
    pub fn grip(self, from: f64, length: impl Into<Option<f64>>) -> Self {
        let mut gripped = self.with("grip_from", from);
        gripped.given.retain(|(key, _)| key != "grip_length");
        match length.into() {
            Some(length) => gripped.with("grip_length", length),
            None => gripped,
        }
    }
}

/// What a ring is made of: the name of a material of the built-in table, or a material.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum MadeOf {
    /// Of the built-in table; capitals do not matter.
    Named(String),
    /// This very material.
    Own(Material),
}

impl From<&str> for MadeOf {
    fn from(name: &str) -> Self {
        MadeOf::Named(name.to_owned())
    }
}

impl From<Material> for MadeOf {
    fn from(material: Material) -> Self {
        MadeOf::Own(material)
    }
}

/// A case in the making. Lengths in mm, forces N, stresses MPa, angles degrees; what is not said is as in a case file that leaves the
/// key out.
///
/// ```
/// use ringwright_solver::case::{CaseBuilder, Step};
/// use ringwright_solver::geometry::Surface;
/// use ringwright_solver::scheme::Registry;
///
/// let case = CaseBuilder::ring(110.0, 100.0, 20.0, "aluminium 6061-T6")
///     .lobes([Surface::Bore], 3, 0.02, 0.0)
///     .step(Step::held_by("free").cut(Surface::Bore, 100.5))
///     .roundness(0.01)
///     .build(&Registry::default())?;
/// assert_eq!(case.steps[0].cuts[0].diameter, 100.5);
///
/// // what is wrong is told by the key that it would have in a file
/// let wrong = CaseBuilder::ring(110.0, 120.0, 20.0, "aluminium 6061-T6")
///     .step(Step::held_by("chuck"))
///     .build(&Registry::default())
///     .unwrap_err();
/// assert_eq!(wrong.0[0].field, "part.bore_diameter");
/// assert_eq!(wrong.0[1].field, "step[0].hold");
/// # Ok::<(), ringwright_solver::case::Problems>(())
/// ```
#[derive(Clone, Debug)]
pub struct CaseBuilder {
    title: String,
    accuracy: Option<f64>,
    mesh: Option<FixedMesh>,
    tube: Option<Tube>,
    section_thickness: SectionThickness,
    /// Outside diameter, bore diameter, length, mm.
    sizes: [f64; 3],
    material: MadeOf,
    lobes: Vec<(Vec<Surface>, u32, f64, f64)>,
    bore_offset: Option<[f64; 2]>,
    residual: Option<[f64; 2]>,
    holds: Vec<(String, Vec<Member>)>,
    steps: Vec<Step>,
    tolerance: Tolerance,
    inspection: Option<Inspection>,
    chuck: Chuck,
}

impl CaseBuilder {
    /// A round ring as received: outside diameter, bore diameter and axial length, mm, and what it is made of.
    pub fn ring(
        outer_diameter: f64,
        bore_diameter: f64,
        length: f64,
        material: impl Into<MadeOf>,
    ) -> Self {
        Self {
            title: "untitled".to_owned(),
            accuracy: None,
            mesh: None,
            tube: None,
            section_thickness: SectionThickness::default(),
            sizes: [outer_diameter, bore_diameter, length],
            material: material.into(),
            lobes: Vec::new(),
            bore_offset: None,
            residual: None,
            holds: Vec::new(),
            steps: Vec::new(),
            tolerance: Tolerance::default(),
            inspection: None,
            chuck: Chuck::default(),
        }
    }

    /// Title of the job.
    #[must_use]
    pub fn title(mut self, title: &str) -> Self {
        title.clone_into(&mut self.title);
        self
    }

    /// Relative error of the driving quantity that is asked for.
    #[must_use]
    pub fn accuracy(mut self, accuracy: f64) -> Self {
        self.accuracy = Some(accuracy);
        self
    }

    /// A mesh of so many equal elements round and through, in place of one that is fitted to the accuracy.
    #[must_use]
    pub fn mesh(mut self, around: usize, through: usize) -> Self {
        self.mesh = Some(FixedMesh { around, through });
        self
    }

    /// How thick the slice is that stands for the part.
    #[must_use]
    pub fn section_thickness(mut self, thickness: SectionThickness) -> Self {
        self.section_thickness = thickness;
        self
    }

    /// The part along its length, in place of a slice that stands for it: stations, and the outline of what is no plain tube.
    #[must_use]
    pub fn tube(mut self, tube: Tube) -> Self {
        self.tube = Some(tube);
        self
    }

    /// Lobes of the stock on these surfaces: so many per revolution, amplitude in mm, a crest at this angle, degrees.
    #[must_use]
    pub fn lobes(
        mut self,
        on: impl IntoIterator<Item = Surface>,
        count: u32,
        amplitude: f64,
        angle_deg: f64,
    ) -> Self {
        let on = on.into_iter().collect();
        self.lobes.push((on, count, amplitude, angle_deg));
        self
    }

    /// The centre of the bore: distance from that of the outside, mm, and in which direction, degrees.
    #[must_use]
    pub fn bore_offset(mut self, distance: f64, angle_deg: f64) -> Self {
        self.bore_offset = Some([distance, angle_deg]);
        self
    }

    /// Residual hoop stress of the stock at outside and bore, MPa, linear between; tension positive.
    #[must_use]
    pub fn residual_hoop_stress(mut self, outer: f64, bore: f64) -> Self {
        self.residual = Some([outer, bore]);
        self
    }

    /// A hold: a name for it, and the schemes that act together in it.
    #[must_use]
    pub fn hold(mut self, name: &str, members: impl IntoIterator<Item = Member>) -> Self {
        self.holds
            .push((name.to_owned(), members.into_iter().collect()));
        self
    }

    /// One clamping more: what holds, and what is cut.
    #[must_use]
    pub fn step(mut self, step: Step) -> Self {
        self.steps.push(step);
        self
    }

    /// The roundness asked of every surface that is cut: radial zone, minimum zone, unfiltered, mm.
    #[must_use]
    pub fn roundness(mut self, most: f64) -> Self {
        self.tolerance.roundness = Some(most);
        self
    }

    /// Limits of one surface of the finished part.
    #[must_use]
    pub fn tolerance(mut self, surface: Surface, limits: SurfaceTolerance) -> Self {
        *self.tolerance.surfaces.get_mut(surface) = limits;
        self
    }

    /// How the finished part is looked at.
    #[must_use]
    pub fn inspection(mut self, inspection: Inspection) -> Self {
        self.inspection = Some(inspection);
        self
    }

    /// What is known of the chuck.
    #[must_use]
    pub fn chuck(mut self, chuck: Chuck) -> Self {
        self.chuck = chuck;
        self
    }

    /// The case, if nothing is wrong with it; `registry` has the schemes that its holds name.
    ///
    /// # Errors
    /// Everything that is wrong: what a case file with these values would be told, by key path and without lines.
    pub fn build(self, registry: &Registry) -> Result<Case, Problems> {
        let mut findings = Findings::default();
        let case = self.checked(&mut findings, registry);
        match case {
            Some(case) if findings.list.is_empty() => Ok(case),
            _ => Err(Problems(findings.into_problems())),
        }
    }
}
