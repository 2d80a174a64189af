//! Numbers as people type them into a case file.

use std::fmt::Write;

use ringwright_solver::case::quantity::{INCH_MM, LBF_N, PSI_MPA};

use crate::random::Random;

/// How often a value carries its own unit.
const OWN_UNIT: f64 = 0.15;

/// The units of a file's plain numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Units {
    Millimetre,
    Inch,
}

/// Ways to type one quantity: plain in mm or inches, or with a unit; each with its size in mm, N or MPa.
struct Ways {
    inch: f64,
    units: &'static [(&'static str, f64)],
}

const LENGTH: Ways = Ways {
    inch: INCH_MM,
    units: &[("mm", 1.0), ("um", 1e-3), ("in", INCH_MM), ("thou", 0.0254)],
};
const FORCE: Ways = Ways {
    inch: LBF_N,
    units: &[("N", 1.0), ("kN", 1e3), ("lbf", LBF_N), ("daN", 10.0)],
};
const STRESS: Ways = Ways {
    inch: PSI_MPA,
    units: &[("MPa", 1.0), ("GPa", 1e3), ("psi", PSI_MPA), ("N/mm2", 1.0)],
};
const STIFFNESS: Ways = Ways {
    inch: LBF_N / INCH_MM,
    units: &[("N/mm", 1.0), ("kN/mm", 1e3), ("N/um", 1e3)],
};
const ANGLE: Ways = Ways {
    inch: 1.0,
    units: &[("deg", 1.0), ("°", 1.0), ("rad", 57.295_779_513_082_32)],
};

impl Ways {
    fn type_in(&self, random: &mut Random, units: Units, value: f64) -> String {
        if random.chance(OWN_UNIT) {
            let (unit, size) = self.units[random.below(self.units.len())];
            return format!("\"{} {unit}\"", value / size);
        }
        match units {
            Units::Millimetre => format!("{value:?}"),
            Units::Inch => format!("{:?}", value / self.inch),
        }
    }
}

impl Units {
    pub(super) fn random(random: &mut Random) -> Self {
        if random.chance(0.2) {
            Units::Inch
        } else {
            Units::Millimetre
        }
    }

    /// A length, mm.
    pub(super) fn length(self, random: &mut Random, mm: f64) -> String {
        LENGTH.type_in(random, self, mm)
    }

    /// A force, N.
    pub(super) fn force(self, random: &mut Random, newtons: f64) -> String {
        FORCE.type_in(random, self, newtons)
    }

    /// A stress or modulus, MPa.
    pub(super) fn stress(self, random: &mut Random, mpa: f64) -> String {
        STRESS.type_in(random, self, mpa)
    }

    /// A stiffness, N/mm.
    pub(super) fn stiffness(self, random: &mut Random, stiffness: f64) -> String {
        STIFFNESS.type_in(random, self, stiffness)
    }

    /// An angle, degrees.
    pub(super) fn angle(self, random: &mut Random, degrees: f64) -> String {
        ANGLE.type_in(random, self, degrees)
    }
}

/// Lines of TOML.
#[derive(Default)]
pub(super) struct Lines(String);

impl Lines {
    /// `[NAME]` or `[[NAME]]`, as given.
    pub(super) fn head(&mut self, head: &str) {
        self.0 += head;
        self.0.push('\n');
    }

    /// `key = value`, the value as it stands in the file.
    pub(super) fn set(&mut self, key: &str, value: impl std::fmt::Display) {
        // writing into a text cannot fail
        let _ = writeln!(self.0, "{key} = {value}");
    }

    pub(super) fn into_text(self) -> String {
        self.0
    }
}
