//! The part's two surfaces and their outlines: across the axis as closed curves, radius over angle, and along it ([`Meridian`]).

mod meridian;
mod outline;

pub use meridian::{Meridian, MeridianFault, MeridianPiece, MeridianPoint};
pub use outline::{Lobe, Outline, SampledOutline, StockOutline};

use std::f64::consts::TAU;

use serde::Serialize;

/// One of the two surfaces of the section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Surface {
    /// The outside.
    Outer,
    /// The bore.
    Bore,
}

impl Surface {
    /// Both surfaces, outside first.
    pub const BOTH: [Surface; 2] = [Surface::Outer, Surface::Bore];

    /// The key of the surface in every file.
    pub const fn name(self) -> &'static str {
        match self {
            Surface::Outer => "outer",
            Surface::Bore => "bore",
        }
    }

    /// What a shop calls it, as it stands in sentences and pictures.
    pub const fn in_words(self) -> &'static str {
        match self {
            Surface::Outer => "outside",
            Surface::Bore => "bore",
        }
    }

    /// The surface on the other side of the wall.
    pub const fn other(self) -> Self {
        match self {
            Surface::Outer => Surface::Bore,
            Surface::Bore => Surface::Outer,
        }
    }

    /// Radial component of the outward normal of the metal: +1 outside, -1 in the bore.
    pub const fn outward(self) -> f64 {
        match self {
            Surface::Outer => 1.0,
            Surface::Bore => -1.0,
        }
    }
}

/// Signed angle from one direction to another, rad, between half a turn either way.
pub(crate) fn angle_between(from: f64, to: f64) -> f64 {
    let t = to - from;
    t - TAU * (t / TAU).round()
}

/// One value for each surface.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PerSurface<T> {
    /// Value of the outside.
    pub outer: T,
    /// Value of the bore.
    pub bore: T,
}

impl<T> PerSurface<T> {
    /// Builds both values with `f`.
    pub fn from_fn(mut f: impl FnMut(Surface) -> T) -> Self {
        let outer = f(Surface::Outer);
        Self {
            outer,
            bore: f(Surface::Bore),
        }
    }

    /// The value of one surface.
    pub fn get(&self, surface: Surface) -> &T {
        match surface {
            Surface::Outer => &self.outer,
            Surface::Bore => &self.bore,
        }
    }

    /// The value of one surface, to change.
    pub fn get_mut(&mut self, surface: Surface) -> &mut T {
        match surface {
            Surface::Outer => &mut self.outer,
            Surface::Bore => &mut self.bore,
        }
    }
}
