//! Cases made in code: a round ring, one hold, one step.

use std::f64::consts::PI;
use std::sync::Arc;

use crate::oracle::series::Annulus;
use ringwright_plugins::{Jaws as JawsScheme, PressurePatches};
use ringwright_solver::case::material::Class;
use ringwright_solver::case::{
    Case, Chuck, Cut, Grip, Hold, HoldMember, Inspection, Material, Part, Restraint,
    SectionThickness, Step, Tolerance,
};
use ringwright_solver::geometry::{PerSurface, StockOutline, Surface};
use ringwright_solver::process::{KeepFields, Method, Options};
use ringwright_solver::scheme::{
    Face, HoldingScheme, Parameter, SchemeError, Section, Supports, Value, Values,
};

use crate::oracle::Jaws;

/// The thin ring that tests hold: bore 95, outside 105.
pub const RING: Annulus = Annulus {
    inner_radius: 47.5,
    outer_radius: 52.5,
    young_modulus: 70_000.0,
    poisson_ratio: 0.33,
    length: 20.0,
};

/// Solved with an estimate, fields left out.
pub const OPTIONS: Options = Options {
    fields: KeepFields::None,
    estimate: true,
    method: Method::MeanRing,
    advice: true,
};

/// A case without schemes: a free round ring and one step without cuts.
pub fn ring(annulus: &Annulus) -> Case {
    Case {
        title: "made in code".to_owned(),
        accuracy: 0.01,
        tolerance: Tolerance::default(),
        inspection: Inspection::default(),
        part: Part {
            stock: PerSurface {
                outer: StockOutline::round(annulus.outer_radius),
                bore: StockOutline::round(annulus.inner_radius),
            },
            length: annulus.length,
            material: Material {
                name: "as given".to_owned(),
                class: Class::by_modulus(annulus.young_modulus),
                young_modulus: annulus.young_modulus,
                poisson_ratio: annulus.poisson_ratio,
                yield_strength: None,
                density: None,
                cutting: None,
                thermal_expansion: None,
                long_time_modulus: None,
            },
            residual: None,
            measured: PerSurface::default(),
        },
        holds: vec![Hold {
            name: "bare".to_owned(),
            members: Vec::new(),
        }],
        steps: vec![Step::new("bare", Vec::new())],
        mesh: None,
        chuck: Chuck::default(),
        tube: None,
        section_thickness: SectionThickness::default(),
        assumed: Vec::new(),
    }
}

/// Adds a scheme to the first hold. Values that are left out take the scheme's defaults.
pub fn hold(mut case: Case, scheme: impl HoldingScheme + 'static, mut values: Values) -> Case {
    for parameter in scheme.parameters() {
        let given =
            values.number(&parameter.key).is_some() || values.text(&parameter.key).is_some();
        if let (false, Some(default)) = (given, &parameter.default) {
            let value = match default.parse() {
                Ok(number) => Value::Number(number),
                Err(_) => Value::Text(default.trim_matches('"').to_owned()),
            };
            values.set(&parameter.key, value);
        }
    }
    case.holds[0].members.push(HoldMember {
        scheme: Arc::new(scheme),
        values,
        restraint: Restraint::default(),
        force_unknown: false,
        grip: Grip::default(),
    });
    case
}

/// A scheme that puts these very supports against the part.
struct Fixed(Supports);

impl HoldingScheme for Fixed {
    fn name(&self) -> &str {
        "given"
    }

    fn summary(&self) -> &str {
        "supports made in code"
    }

    fn parameters(&self) -> &[Parameter] {
        &[]
    }

    fn example(&self) -> &str {
        ""
    }

    fn supports(&self, _: &Section, _: &Values) -> Result<Supports, SchemeError> {
        Ok(self.0.clone())
    }
}

/// Adds supports to the first hold.
pub fn supported(case: Case, supports: Supports) -> Case {
    hold(case, Fixed(supports), Values::from([]))
}

/// The same set-up as the oracle's, outside: self-centring jaws from angle 0.
///
/// # Panics
/// For jaws in the bore, which the scheme does not have yet.
pub fn jaws(set_up: &Jaws) -> Case {
    assert_eq!(set_up.surface, Surface::Outer);
    let mut values = Values::from([
        ("count", Value::Number(f64::from(set_up.count))),
        ("force", Value::Number(set_up.force)),
        ("arc", Value::Number(2.0 * set_up.half_angle * 180.0 / PI)),
    ]);
    match set_up.face {
        Face::Concave { radius } => values.set("bored_diameter", Value::Number(2.0 * radius)),
        Face::Convex { radius } => values.set("crown_radius", Value::Number(radius)),
        Face::Flat => {}
    }
    hold(ring(&set_up.annulus), JawsScheme, values)
}

/// `count` equal outside patches of resultant `force` (N).
pub fn patches(annulus: &Annulus, count: u32, half_angle: f64, force: f64) -> Case {
    let values = Values::from([
        ("count", Value::Number(f64::from(count))),
        ("force", Value::Number(force)),
        ("half_angle", Value::Number(half_angle.to_degrees())),
    ]);
    hold(ring(annulus), PressurePatches, values)
}

/// Adds a cut to the only step.
pub fn cut(mut case: Case, surface: Surface, diameter: f64) -> Case {
    case.steps[0].cuts.push(Cut::whole(surface, diameter));
    case
}
