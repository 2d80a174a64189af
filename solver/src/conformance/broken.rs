//! Ten schemes with one fault each: flat pads round the outside, sound but for the one place that the variant names.

use std::f64::consts::TAU;
use std::sync::atomic::{AtomicU32, Ordering};

use super::Fault;
use crate::geometry::Surface;
use crate::scheme::{
    Body, Drive, Face, HoldingScheme, Parameter, ParameterKind, SchemeError, Section, Supports,
    Unsound, Values,
};

/// A scheme with one fault.
#[derive(Debug)]
pub enum Broken {
    /// Its name has capitals and a space.
    Name,
    /// A default below what its parameter takes.
    Default,
    /// One key described twice.
    KeyTwice,
    /// An example that never holds the part with it.
    Example,
    /// A circle with a radius where the diameter was meant, on the far side of the wall.
    WrongSide,
    /// Pads on one side alone.
    OneSided,
    /// A reply that hangs on how often it was asked.
    Remembers(AtomicU32),
    /// A table of angles that many pads run over.
    Panics,
    /// A refusal that names no parameter.
    Unnamed,
    /// An example that cannot reach its accuracy.
    Coarse,
}

/// The ten, in the order of the checks that catch them.
pub fn broken() -> [Broken; 10] {
    [
        Broken::Name,
        Broken::Default,
        Broken::KeyTwice,
        Broken::Example,
        Broken::WrongSide,
        Broken::OneSided,
        Broken::Remembers(AtomicU32::new(0)),
        Broken::Panics,
        Broken::Unnamed,
        Broken::Coarse,
    ]
}

impl Broken {
    /// Whether this is the fault that the scheme was made to have.
    pub fn shows(&self, fault: &Fault) -> bool {
        match self {
            Broken::Name => matches!(fault, Fault::BadName { .. }),
            Broken::Default => matches!(fault, Fault::BadDefault { .. }),
            Broken::KeyTwice => matches!(fault, Fault::Twice { .. }),
            Broken::Example => matches!(fault, Fault::NotUsed { .. }),
            Broken::WrongSide => matches!(
                fault,
                Fault::Unsound {
                    why: Unsound::InsideMetal { .. },
                    ..
                }
            ),
            Broken::OneSided => matches!(fault, Fault::Loose { .. }),
            Broken::Remembers(_) => matches!(fault, Fault::Unsteady { .. }),
            Broken::Panics => matches!(fault, Fault::Panics { .. }),
            Broken::Unnamed => matches!(fault, Fault::Unnamed { .. }),
            Broken::Coarse => matches!(fault, Fault::NotConverged { .. }),
        }
    }
}

macro_rules! example {
    ($scheme:literal, $hold:literal, $mesh:literal) => {
        concat!(
            "[part]\nouter_diameter = 60.0\nbore_diameter = 48.0\nlength = 10.0\nmaterial = \"steel 52100 annealed\"\n",
            "[[hold.pads]]\nscheme = \"",
            $scheme,
            "\"\ncount = 4\nforce = 100.0\nwidth = 12.0\n[[step]]\nhold = \"",
            $hold,
            "\"\n",
            $mesh
        )
    };
}

const ABOUT: &str = "as for any pads";
const COUNT: Parameter = Parameter::required("count", ParameterKind::Count, ABOUT);
const WIDTH: Parameter = Parameter::required("width", ParameterKind::Length, ABOUT);
const FORCE: Parameter = Parameter::defaulting("force", ParameterKind::Force, "100", ABOUT);
const SOUND: &[Parameter] = &[COUNT, WIDTH, FORCE];
const BAD_DEFAULT: &[Parameter] = &[
    COUNT,
    WIDTH,
    Parameter::defaulting("force", ParameterKind::Force, "-100", ABOUT),
];
const WIDTH_TWICE: &[Parameter] = &[COUNT, WIDTH, FORCE, WIDTH];

/// Angles of the pads of [`Broken::Panics`], deg.
const ANGLES: [f64; 4] = [0.0, 90.0, 180.0, 270.0];

impl HoldingScheme for Broken {
    fn name(&self) -> &str {
        match self {
            Broken::Name => "Flat Pads",
            _ => "flat-pads",
        }
    }

    fn summary(&self) -> &str {
        "flat pads round the outside, each with its force, with one fault on purpose"
    }

    fn parameters(&self) -> &[Parameter] {
        match self {
            Broken::Default => BAD_DEFAULT,
            Broken::KeyTwice => WIDTH_TWICE,
            _ => SOUND,
        }
    }

    fn example(&self) -> &str {
        match self {
            Broken::Name => example!("Flat Pads", "pads", ""),
            Broken::Example => example!("flat-pads", "free", ""),
            Broken::Coarse => {
                example!("flat-pads", "pads", "[mesh]\naround = 16\nthrough = 1\n")
            }
            _ => example!("flat-pads", "pads", ""),
        }
    }

    fn supports(&self, section: &Section, values: &Values) -> Result<Supports, SchemeError> {
        let number = |key: &str| values.number(key).unwrap_or(0.0);
        let (count, chord) = (number("count"), number("width"));
        if chord >= section.outer_radius {
            return Err(SchemeError {
                parameter: (!matches!(self, Broken::Unnamed)).then(|| "width".to_owned()),
                message: "is as wide as the radius of the part; make it narrower".to_owned(),
            });
        }
        if let Broken::WrongSide = self {
            return Ok(Supports {
                bodies: vec![Body::circle(Surface::Outer, 0.5 * section.outer_radius)],
                drive: Drive::fixed(1, 0.0),
                ..Supports::default()
            });
        }
        let turn = match self {
            Broken::Remembers(asked) => f64::from(asked.fetch_add(1, Ordering::Relaxed)),
            _ => 0.0,
        };
        let angle = |k: usize| match self {
            Broken::OneSided => 1e-3 * TAU * k as f64 / count,
            Broken::Panics => ANGLES[k].to_radians(),
            _ => turn + TAU * k as f64 / count,
        };
        let half_angle = (0.5 * chord / section.outer_radius).asin();
        let count = count.clamp(0.0, 1e4) as usize;
        Ok(Supports {
            bodies: (0..count)
                .map(|k| Body::new(Surface::Outer, angle(k), half_angle, Face::Flat))
                .collect(),
            drive: Drive::equal_force(count, number("force")),
            ..Supports::default()
        })
    }
}
