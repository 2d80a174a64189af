//! A case made in code, with the schemes' own defaults, and checked as a case file is.

use std::fmt;
use std::sync::Arc;

use super::check::range::{Range, wrong_number, wrong_whole};
use super::check::{self, ACCURACIES, ACCURACY, AROUND, Findings, Parts, THROUGH, key_path};
use super::most::{MOST_CUTS, MOST_HOLDS, MOST_LOBE_TABLES, MOST_SCHEMES, MOST_STEPS};
use super::quantity::Dimension;
use super::{
    Case, Cut, FixedMesh, Hold, HoldMember, Inspection, Material, Part, Problem,
    ResidualHoopStress, Step, SurfaceTolerance, Tolerance, Turned, section_after,
};
use crate::geometry::{Lobe, PerSurface, StockOutline, Surface};
use crate::scheme::{HoldingScheme, Registry, Section, Value, Values, number_in_words};

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
            sizes: [outer_diameter, bore_diameter, length],
            material: material.into(),
            lobes: Vec::new(),
            bore_offset: None,
            residual: None,
            holds: Vec::new(),
            steps: Vec::new(),
            tolerance: Tolerance::default(),
            inspection: None,
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

    fn checked(self, f: &mut Findings, registry: &Registry) -> Option<Case> {
        let mut of_part = Vec::new();
        let mut of_inspection = Vec::new();
        let title = check::title(f, &self.title);
        let accuracy = match self.accuracy {
            Some(asked) => {
                let range = Range::AboveUpTo(0.0, ACCURACIES.most);
                let asked = number(f, "accuracy", asked, Dimension::Plain, range);
                asked.and_then(|asked| check::accuracy(f, asked))
            }
            None => Some(ACCURACY),
        };
        let mesh = self.mesh.and_then(|m| {
            let around = whole(f, "mesh.around", m.around as u64, AROUND);
            let through = whole(f, "mesh.through", m.through as u64, THROUGH);
            around.and(through).and_then(|()| check::mesh(f, m))
        });
        let part = self.part(f, &mut of_part);
        let (holds, names, defaults) = holds(f, &self.holds, registry);
        let steps = steps(f, &self.steps, part.as_ref().map(Part::section), &names);
        let finished = part.as_ref().map(|p| section_after(p.section(), &steps));
        let tolerance = tolerance(f, &self.tolerance, finished.as_ref());
        let inspection = match &self.inspection {
            Some(inspection) => inspected(f, inspection),
            None => {
                of_inspection.push(check::LYING.to_owned());
                Inspection::default()
            }
        };
        let parts = Parts {
            title,
            accuracy,
            asks_accuracy: self.accuracy.is_some(),
            part,
            mesh,
            holds,
            defaults,
            steps,
            tolerance,
            inspection,
            assumed: [of_part, of_inspection],
        };
        parts.together(f)
    }

    fn part(&self, f: &mut Findings, assumed: &mut Vec<String>) -> Option<Part> {
        let keys = ["outer_diameter", "bore_diameter", "length"];
        let mut sizes = [None; 3];
        for ((size, key), found) in self.sizes.iter().zip(keys).zip(&mut sizes) {
            let path = key_path("part", key);
            *found = number(f, &path, *size, Dimension::Length, Range::AboveZero);
        }
        let [outer, bore, length] = sizes;
        if let (Some(outer), Some(bore)) = (outer, bore) {
            check::part::has_wall(f, outer, bore);
        }
        let material = match &self.material {
            MadeOf::Named(name) => check::part::material(f, name),
            MadeOf::Own(material) => own(f, material),
        };
        let residual = self.residual.and_then(|[outer, bore]| {
            let path = "part.residual_hoop_stress";
            let mut at = |key, x| number(f, &key_path(path, key), x, Dimension::Stress, Range::Any);
            let (outer, bore) = (at("outer", outer), at("bore", bore));
            let (outer, bore) = (outer?, bore?);
            check::part::stress_cancels(f, outer, bore)?;
            Some(ResidualHoopStress { outer, bore })
        });
        if residual.is_none() {
            assumed.push(check::NO_RESIDUAL.to_owned());
        }
        let mut stock = PerSurface {
            outer: StockOutline::round(0.5 * outer?),
            bore: StockOutline::round(0.5 * bore?),
        };
        self.shape(f, &mut stock);
        let given = |key: &str| match key {
            "bore_offset" => self.bore_offset.is_some(),
            "lobes" => !self.lobes.is_empty(),
            _ => false,
        };
        check::part::wall_is_left(f, &stock, given, assumed);
        Some(Part {
            stock,
            length: length?,
            material: material?,
            residual,
            measured: PerSurface::default(),
        })
    }

    /// Gives the stock its lobes and its offset.
    fn shape(&self, f: &mut Findings, stock: &mut PerSurface<StockOutline>) {
        let many = check::too_many(self.lobes.len(), MOST_LOBE_TABLES, "tables of lobes");
        if let Some(message) = many {
            f.wrong("part.lobes", message);
        }
        for (k, (on, count, amplitude, angle)) in self.lobes.iter().enumerate() {
            let path = |key: &str| format!("part.lobes[{k}].{key}");
            let most = [1, check::part::MOST_LOBES];
            let counted = whole(f, &path("count"), u64::from(*count), most);
            let amplitude = number(
                f,
                &path("amplitude"),
                *amplitude,
                Dimension::Length,
                Range::Any,
            );
            let angle = number(f, &path("angle"), *angle, Dimension::Angle, Range::Any);
            let (Some(()), Some(amplitude), Some(angle)) = (counted, amplitude, angle) else {
                continue;
            };
            for surface in on {
                stock.get_mut(*surface).lobes.push(Lobe {
                    count: *count,
                    amplitude,
                    phase: angle.to_radians(),
                });
            }
        }
        if let Some([distance, angle]) = self.bore_offset {
            let path = |key: &str| key_path("part.bore_offset", key);
            let range = Range::ZeroOrMore;
            let distance = number(f, &path("distance"), distance, Dimension::Length, range);
            let angle = number(f, &path("angle"), angle, Dimension::Angle, Range::Any);
            if let (Some(distance), Some(angle)) = (distance, angle) {
                let (sin, cos) = angle.to_radians().sin_cos();
                stock.bore.centre = [distance * cos, distance * sin];
            }
        }
    }
}

/// A number made in code that is taken; what is wrong with another is noted.
fn number(
    f: &mut Findings,
    path: &str,
    value: f64,
    dimension: Dimension,
    range: Range,
) -> Option<f64> {
    match wrong_number(value, &number_in_words(value), dimension, range) {
        Some(message) => {
            f.wrong(path, message);
            None
        }
        None => Some(value),
    }
}

fn whole(f: &mut Findings, path: &str, n: u64, [least, most]: [u64; 2]) -> Option<()> {
    match wrong_whole(Some(i128::from(n)), least, most) {
        Some(message) => {
            f.wrong(path, message);
            None
        }
        None => Some(()),
    }
}

fn own(f: &mut Findings, material: &Material) -> Option<Material> {
    use Dimension::{Density, Plain, Stress};
    let path = |key: &str| key_path("part.material", key);
    let positive = Range::AboveZero;
    let ratio = Range::Between(-1.0, 0.5);
    let young = number(
        f,
        &path("young_modulus"),
        material.young_modulus,
        Stress,
        positive,
    );
    let poisson = number(
        f,
        &path("poisson_ratio"),
        material.poisson_ratio,
        Plain,
        ratio,
    );
    let mut optional = |key: &str, value: Option<f64>, dimension| match value {
        Some(x) => number(f, &path(key), x, dimension, positive).is_some(),
        None => true,
    };
    let rest = [
        optional("yield_strength", material.yield_strength, Stress),
        optional("density", material.density, Density),
    ];
    let sound = young.is_some() && poisson.is_some() && rest == [true; 2];
    sound.then(|| material.clone())
}

/// The holds, all their names, and the choices that each leaves to defaults.
type Held = (Vec<Hold>, Vec<String>, Vec<Vec<String>>);

fn holds(f: &mut Findings, all: &[(String, Vec<Member>)], registry: &Registry) -> Held {
    let (mut out, mut names, mut defaults) = (Vec::new(), Vec::<String>::new(), Vec::new());
    if let Some(message) = check::too_many(all.len(), MOST_HOLDS, "holds") {
        f.wrong("hold", message);
    }
    for (name, members) in all.iter().take(MOST_HOLDS) {
        let path = key_path("hold", name);
        if check::hold::name(f, &path, name).is_none() {
            continue;
        }
        if names.contains(name) {
            f.wrong(
                path,
                "there are two holds of this name; choose another for one of them",
            );
            continue;
        }
        names.push(name.clone());
        if let Some(message) = check::too_many(members.len(), MOST_SCHEMES, "schemes in one hold") {
            f.wrong(path, message);
            continue;
        }
        if members.is_empty() {
            check::hold::no_member(f, &path);
            continue;
        }
        let mut left_out = Vec::new();
        let members: Vec<_> = members
            .iter()
            .enumerate()
            .map(|(k, m)| member(f, &format!("{path}[{k}]"), m, registry, &mut left_out))
            .collect();
        if let Some(members) = members.into_iter().collect::<Option<Vec<_>>>() {
            let name = name.clone();
            out.push(Hold { name, members });
            defaults.push(left_out);
        }
    }
    (out, names, defaults)
}

fn member(
    f: &mut Findings,
    path: &str,
    member: &Member,
    registry: &Registry,
    defaults: &mut Vec<String>,
) -> Option<HoldMember> {
    let scheme = check::values::scheme(f, &key_path(path, "scheme"), &member.scheme, registry)?;
    let values = values(f, path, &scheme, &member.given, defaults)?;
    Some(HoldMember { scheme, values })
}

fn values(
    f: &mut Findings,
    path: &str,
    scheme: &Arc<dyn HoldingScheme>,
    given: &[(String, Value)],
    defaults: &mut Vec<String>,
) -> Option<Values> {
    let given = given
        .iter()
        .map(|(key, value)| {
            let parameter = scheme.parameters().iter().find(|p| p.key == *key);
            let taken = parameter
                .and_then(|p| check::values::taken(f, &key_path(path, key), &**scheme, p, value));
            (key.as_str(), taken)
        })
        .collect();
    check::values::filled(f, path, &**scheme, given, defaults)
}

fn steps(
    f: &mut Findings,
    all: &[Step],
    mut section: Option<Section>,
    names: &[String],
) -> Vec<Step> {
    if all.is_empty() {
        f.wrong("step", "missing; give at least one [[step]] with a hold");
    }
    if let Some(message) = check::too_many(all.len(), MOST_STEPS, "steps") {
        f.wrong("step", message);
    }
    let mut out = Vec::new();
    for (k, step) in all.iter().take(MOST_STEPS).enumerate() {
        let path = |key: &str| format!("step[{k}].{key}");
        let hold = check::step::hold_is_there(f, &path("hold"), &step.hold, names);
        let scale = number(
            f,
            &path("force_scale"),
            step.force_scale,
            Dimension::Plain,
            Range::ZeroOrMore,
        );
        let turned = match step.turned {
            Turned::By(angle) => number(f, &path("turned"), angle, Dimension::Angle, Range::Any),
            Turned::Any => Some(0.0),
        };
        let [x, y] = step.spindle_offset;
        let offset = number(
            f,
            &path("spindle_offset"),
            x.hypot(y),
            Dimension::Length,
            Range::ZeroOrMore,
        );
        if let Some(message) = check::too_many(step.cuts.len(), MOST_CUTS, "cuts in one step") {
            f.wrong(path("cut"), message);
        }
        let cuts = step.cuts.iter().take(MOST_CUTS).enumerate();
        let cuts: Vec<Cut> = cuts
            .filter_map(|(n, cut)| {
                let path = format!("step[{k}].cut[{n}].diameter");
                number(f, &path, cut.diameter, Dimension::Length, Range::AboveZero)?;
                if let Some(section) = &mut section {
                    check::step::cut(f, &path, (cut.surface, cut.diameter), section);
                }
                Some(*cut)
            })
            .collect();
        if hold.is_some() && scale.and(turned).and(offset).is_some() {
            out.push(Step {
                cuts,
                ..step.clone()
            });
        }
    }
    out
}

fn tolerance(f: &mut Findings, asked: &Tolerance, finished: Option<&Section>) -> Tolerance {
    let zone = |f: &mut Findings, path: &str, width: Option<f64>| {
        let width = number(f, path, width?, Dimension::Length, Range::AboveZero)?;
        check::tolerance::zone(f, path, width, finished)
    };
    let roundness = zone(f, "tolerance.roundness", asked.roundness);
    let mut on = |surface: Surface| {
        let table = key_path("tolerance", surface.name());
        let path = |key: &str| key_path(&table, key);
        let own = asked.surfaces.get(surface);
        let nominal = finished.map(|s| 2.0 * s.radius(surface));
        let size = |f: &mut Findings, key: &str, limits: Option<[f64; 2]>| {
            let [low, high] = limits?;
            let mut end = |k: usize, x: f64| {
                let path = format!("{}[{k}]", path(key));
                number(f, &path, x, Dimension::Length, Range::AboveZero)
            };
            let (low, high) = (end(0, low), end(1, high));
            check::tolerance::size(f, &path(key), [low?, high?], nominal)
        };
        let limits = SurfaceTolerance {
            roundness: zone(f, &path("roundness"), own.roundness),
            diameter: size(f, "diameter", own.diameter),
            average_diameter: size(f, "average_diameter", own.average_diameter),
            wall_variation: zone(f, &path("wall_variation"), own.wall_variation),
            runout: zone(f, &path("runout"), own.runout),
            filter_upr: own
                .filter_upr
                .and_then(|upr| filter(f, &path("filter_upr"), upr)),
            circle: own.circle,
        };
        check::tolerance::sizes_agree(f, &table, &limits);
        limits
    };
    let surfaces = PerSurface {
        outer: on(Surface::Outer),
        bore: on(Surface::Bore),
    };
    Tolerance {
        roundness,
        surfaces,
    }
}

fn filter(f: &mut Findings, path: &str, upr: f64) -> Option<f64> {
    let [low, high] = check::FILTER_UPR;
    number(f, path, upr, Dimension::Plain, Range::AboveUpTo(low, high))
}

fn inspected(f: &mut Findings, asked: &Inspection) -> Inspection {
    let [low, high] = check::TEMPERATURES;
    let range = Range::AboveUpTo(low, high);
    number(
        f,
        "inspection.temperature",
        asked.temperature,
        Dimension::Plain,
        range,
    );
    if let Some(upr) = asked.filter_upr {
        filter(f, "inspection.filter_upr", upr);
    }
    if let Some(force) = asked.measuring_force {
        let path = "inspection.measuring_force";
        number(f, path, force, Dimension::Force, Range::ZeroOrMore);
        if asked.gauge.is_none() {
            f.wrong(path, check::NO_GAUGE);
        }
    }
    if let super::Support::Vee { included_angle_deg } = asked.support {
        let range = Range::Between(0.0, 180.0);
        let path = "inspection.vee_angle";
        number(f, path, included_angle_deg, Dimension::Angle, range);
    }
    asked.clone()
}
