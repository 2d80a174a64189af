//! A cut that is being taken, and what its iterations are told by.

use crate::case::Cut;
use crate::metrology::ProfileError;
use crate::process::cut::{ToolCircle, Unsettled};
use crate::process::dip::GivingWay;
use crate::process::sample::{difference, mean, sample_angle};

/// Least share of the last change that another iteration, or another pass over the same circle, may take.
const LEAST_REST: f64 = 0.1;

/// A cut that is being taken: its circle, and the outlines before it at the held body's angles, mm.
pub(super) struct Turning<'c> {
    /// Number in its step, from 0.
    pub index: usize,
    pub cut: &'c Cut,
    pub circle: ToolCircle,
    pub stock: Vec<f64>,
    /// Of the other surface.
    pub other: Vec<f64>,
}

impl Turning<'_> {
    /// Wall between an outline and the other surface, mm.
    pub fn wall(&self, outline: &[f64]) -> Vec<f64> {
        outline
            .iter()
            .zip(&self.other)
            .map(|(a, b)| (a - b).abs())
            .collect()
    }

    /// Mean wall before the cut, mm.
    pub fn mean_wall(&self) -> f64 {
        mean(&self.wall(&self.stock))
    }

    /// Reference radii (mm) of the circle seen from a body that is displaced like this (mm) at these angles (rad), the wall giving way by so much (mm)
    /// under the tool where its force is reckoned with.
    pub fn target(
        &self,
        displacement: &[[f64; 2]],
        angles: impl Iterator<Item = f64>,
        dip: Option<&[f64]>,
    ) -> Vec<f64> {
        let at = displacement.iter().zip(angles).enumerate();
        at.map(|(k, (&u, t))| match dip {
            None => self.circle.reference_radius(t, u),
            Some(dip) => self.circle.sprung_back(dip[k]).reference_radius(t, u),
        })
        .collect()
    }

    /// The thinnest wall that an outline leaves, mm.
    pub fn thinnest(&self, outline: &[f64]) -> f64 {
        self.wall(outline).into_iter().fold(f64::INFINITY, f64::min)
    }

    /// What the tool leaves of the stock where it aims at these radii, mm.
    pub fn leave(&self, targets: &[f64]) -> Vec<f64> {
        self.stock
            .iter()
            .zip(targets)
            .map(|(&s, &t)| self.circle.leave(s, t))
            .collect()
    }
}

/// What the tool aims at from the body as it stands.
pub(super) struct Aimed {
    /// Radii that it leaves at the held body's angles, mm.
    pub lines: Vec<f64>,
    /// Radii of its circle at the sampled angles, in the reference, mm.
    pub targets: Vec<f64>,
    /// What it leaves there, mm.
    pub left: Vec<f64>,
}

/// An outline that agrees with its own equilibrium.
pub(super) struct Settled {
    pub aimed: Aimed,
    pub unsettled: Unsettled,
    /// How the wall gave way to the tool's force, if it has one.
    pub gave_way: Option<GivingWay>,
}

/// What iterations leave, as a share of the last change: the sum of a geometric series that goes on by the share of a change that one hands
/// on. That is seen in where the last two began and ended, not in their changes, which mixing makes smaller; where only one was made it is that of the
/// same cut on another mesh, whose outline it began with. A tenth at least, and the whole where half is handed on or nothing is known.
pub(super) fn rest(rate: f64) -> f64 {
    let rest = if rate < 0.5 { rate / (1.0 - rate) } else { 1.0 };
    rest.max(LEAST_REST)
}

/// By how much two outlines at equal angles differ out of round, mm.
pub(super) fn out_of_round(a: &[f64], b: &[f64]) -> f64 {
    ProfileError::new(difference(a, b), 0.0).roundness()
}

/// Largest change of two lists that go together.
pub(super) fn largest_change(a: &[f64], b: &[f64]) -> f64 {
    let size = |(x, y): (&f64, &f64)| (x - y).abs();
    a.iter().zip(b).map(size).fold(0.0, f64::max)
}

/// Share of the turn where the depth is positive, crossings interpolated, and the angles of the crossings, rad.
pub(super) fn reached(depths: &[f64]) -> (f64, Vec<f64>) {
    let n = depths.len();
    let mut share = 0.0;
    let mut kinks = Vec::new();
    for k in 0..n {
        let (a, b) = (depths[k], depths[(k + 1) % n]);
        match (a > 0.0, b > 0.0) {
            (true, true) => share += 1.0,
            (false, false) => {}
            (inside, _) => {
                let at = a / (a - b);
                share += if inside { at } else { 1.0 - at };
                kinks.push(sample_angle(k) + at * std::f64::consts::TAU / n as f64);
            }
        }
    }
    (share / n as f64, kinks)
}
