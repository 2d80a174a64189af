//! From what was said of a case in code to the case: the checks of a case file, by key path.

use std::sync::Arc;

use super::step::steps;
use super::{CaseBuilder, MadeOf, Member};
use crate::case::check::metal::{Finished, Workpiece};
use crate::case::check::range::{Range, wrong_number, wrong_whole};
use crate::case::check::restraint::Taken;
use crate::case::check::{self, ACCURACIES, ACCURACY, AROUND, Findings, Parts, THROUGH, key_path};
use crate::case::most::{MOST_HOLDS, MOST_LOBE_TABLES, MOST_SCHEMES};
use crate::case::quantity::Dimension;
use crate::case::{
    Case, Chuck, Grip, Hold, HoldMember, Inspection, Material, Part, ResidualHoopStress, Restraint,
    SectionThickness, Support, SurfaceTolerance, Tolerance, section_after,
};
use crate::geometry::{Lobe, PerSurface, StockOutline, Surface};
use crate::grip::Kienzle;
use crate::scheme::{HoldingScheme, Registry, Value, Values, grip_of, number_in_words};

impl CaseBuilder {
    pub(super) fn checked(self, f: &mut Findings, registry: &Registry) -> Option<Case> {
        let mut of_part = Vec::new();
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
        let is_tube = self.tube.is_some();
        let asked = self.tube.as_ref();
        let tube = asked.and_then(|t| check::tube::checked(f, t, part.as_ref()));
        let length = part.as_ref().map(|p| p.length);
        let (holds, names, defaults) = holds(f, &self.holds, registry, length);
        let mut work = Workpiece::of(part.as_ref(), tube.as_ref(), is_tube);
        let steps = steps(f, &self.steps, &mut work, &names);
        let finished = part.as_ref().zip(work.metal).map(|(part, metal)| {
            metal.finished(section_after(part.section(), tube.as_ref(), &steps))
        });
        let tolerance = tolerance(f, &self.tolerance, finished.as_ref());
        let inspection = match &self.inspection {
            Some(inspection) => inspected(f, inspection),
            None => Inspection::default(),
        };
        let parts = Parts {
            title,
            accuracy,
            asks_accuracy: self.accuracy.is_some(),
            part,
            mesh,
            tube,
            section_thickness: self.thickness(f),
            chuck: chuck(f, self.chuck),
            is_tube,
            holds,
            defaults,
            steps,
            tolerance,
            inspection,
            // an inspection made in code says how the part stands
            assumed: [of_part, Vec::new()],
        };
        parts.together(f)
    }

    fn thickness(&self, f: &mut Findings) -> Option<SectionThickness> {
        if let SectionThickness::Given(thickness) = self.section_thickness {
            let path = "part.section_thickness";
            number(f, path, thickness, Dimension::Length, Range::AboveZero)?;
        }
        Some(self.section_thickness)
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
pub(super) fn number(
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
        optional("thermal_expansion", material.thermal_expansion, Plain),
        optional("long_time_modulus", material.long_time_modulus, Stress),
    ];
    let cutting = material
        .cutting
        .is_none_or(|c| cutting(f, &path("cutting"), c).is_some());
    let sound = young.is_some() && poisson.is_some() && rest == [true; 4] && cutting;
    sound.then(|| material.clone())
}

/// Constants of the cutting force that are ones.
fn cutting(f: &mut Findings, path: &str, cutting: Kienzle) -> Option<()> {
    use Dimension::{Plain, Stress};
    let kc11 = number(
        f,
        &key_path(path, "kc11"),
        cutting.kc11,
        Stress,
        Range::AboveZero,
    );
    let range = Range::Between(0.0, 1.0);
    let mc = number(f, &key_path(path, "mc"), cutting.mc, Plain, range);
    kc11.and(mc).map(|_| ())
}

/// What is known of the chuck.
fn chuck(f: &mut Findings, chuck: Chuck) -> Chuck {
    let mut at = |key: &str, value: Option<f64>, dimension| {
        number(
            f,
            &key_path("chuck", key),
            value?,
            dimension,
            Range::AboveZero,
        )
    };
    at("rated_force", chuck.rated_force, Dimension::Force);
    at("rated_speed", chuck.rated_speed, Dimension::Speed);
    at(
        "lowest_steady_force",
        chuck.lowest_steady_force,
        Dimension::Force,
    );
    check::restraint::chuck(f, &chuck);
    chuck
}

/// The holds, all their names, and the choices that each leaves to defaults.
type Held = (Vec<Hold>, Vec<String>, Vec<Vec<String>>);

fn holds(
    f: &mut Findings,
    all: &[(String, Vec<Member>)],
    registry: &Registry,
    length: Option<f64>,
) -> Held {
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
            .map(|(k, m)| {
                member(
                    f,
                    &format!("{path}[{k}]"),
                    m,
                    (registry, length),
                    &mut left_out,
                )
            })
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
    (registry, length): (&Registry, Option<f64>),
    defaults: &mut Vec<String>,
) -> Option<HoldMember> {
    let scheme = check::values::scheme(f, &key_path(path, "scheme"), &member.scheme, registry)?;
    let (grip, restraint) = beside(f, path, &*scheme, &member.given, length);
    let values = values(f, path, &scheme, &member.given, defaults)?;
    Some(HoldMember::new(scheme, values, grip?, restraint?))
}

/// Where along the part a scheme presses, and what is known of its grip.
fn beside(
    f: &mut Findings,
    path: &str,
    scheme: &dyn HoldingScheme,
    given: &[(String, Value)],
    length: Option<f64>,
) -> (Option<Grip>, Option<Restraint>) {
    let taken: Vec<Taken> = grip_of(scheme)
        .into_iter()
        .filter_map(|p| {
            let (_, value) = given.iter().find(|(key, _)| *key == p.key)?;
            let path = key_path(path, &p.key);
            Some((&*p.key, check::values::taken(f, &path, scheme, p, value)))
        })
        .collect();
    (
        check::grip::of_values(f, path, &taken, length),
        check::restraint::of_values(f, path, &taken),
    )
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
        .filter(|(key, _)| !grip_of(&**scheme).iter().any(|p| p.key == *key))
        .map(|(key, value)| {
            let parameter = scheme.parameters().iter().find(|p| p.key == *key);
            let taken = parameter
                .and_then(|p| check::values::taken(f, &key_path(path, key), &**scheme, p, value));
            (key.as_str(), taken)
        })
        .collect();
    check::values::filled(f, path, &**scheme, given, defaults)
}

fn tolerance(f: &mut Findings, asked: &Tolerance, finished: Option<&Finished>) -> Tolerance {
    let zone = |f: &mut Findings, path: &str, width: Option<f64>| {
        let width = number(f, path, width?, Dimension::Length, Range::AboveZero)?;
        check::tolerance::zone(f, path, width, finished)
    };
    let roundness = zone(f, "tolerance.roundness", asked.roundness);
    let marking_pressure = asked.marking_pressure.and_then(|p| {
        let path = "tolerance.marking_pressure";
        number(f, path, p, Dimension::Stress, Range::AboveZero)
    });
    let mut on = |surface: Surface| {
        let table = key_path("tolerance", surface.name());
        let path = |key: &str| key_path(&table, key);
        let own = asked.surfaces.get(surface);
        let drawn = finished.map_or(&[][..], |f| f.diameters.get(surface));
        let size = |f: &mut Findings, key: &str, limits: Option<[f64; 2]>| {
            let [low, high] = limits?;
            let mut end = |k: usize, x: f64| {
                let path = format!("{}[{k}]", path(key));
                number(f, &path, x, Dimension::Length, Range::AboveZero)
            };
            let (low, high) = (end(0, low), end(1, high));
            check::tolerance::size(f, &path(key), [low?, high?], drawn)
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
        marking_pressure,
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
    if let Support::Vee { included_angle_deg } = asked.support {
        let range = Range::Between(0.0, 180.0);
        let path = "inspection.vee_angle";
        number(f, path, included_angle_deg, Dimension::Angle, range);
    }
    asked.clone()
}
