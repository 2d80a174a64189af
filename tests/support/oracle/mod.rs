//! Exact answers for round rings, from the Fourier series alone.
//!
//! [`Jaws`] solves unilateral contact of equal rigid bodies at equal angles on pressure nodes of its own, graded to the pad edges and to the ends
//! of contact, with a solver of its own; [`patches`] sums the series for dead loads. No finite element is involved.

mod complementarity;
mod compliance;
mod jaws;
mod nodes;
pub mod series;
mod tail;

pub use jaws::{Answer, Jaws};

use ringwright_solver::geometry::{PerSurface, Surface};
use ringwright_solver::metrology::{Profile, least_squares_circle};
use series::{Annulus, RadialLoad, Response};
use std::f64::consts::TAU;
use tail::Tail;

/// Readings a turn, as in the program's documents.
pub const READINGS: u32 = 3600;

/// Out-of-roundness (mm) about the least-squares circle of a circle of `radius` displaced radially by `u` (mm) at the reference angle (rad).
pub fn out_of_roundness(radius: f64, u: impl Fn(f64) -> f64) -> f64 {
    let radii: Vec<f64> = (0..READINGS)
        .map(|k| radius + u(TAU * f64::from(k) / f64::from(READINGS)))
        .collect();
    least_squares_circle(&Profile::equal(&radii)).roundness
}

/// Terms of the sums under dead loads; what they leave is added as [`Tail`].
const TERMS: u32 = 3000;

/// Held out-of-roundness of both surfaces (mm) under any balanced loads on patches, to about 1e-6.
pub fn loads(annulus: &Annulus, loads: &[RadialLoad]) -> PerSurface<f64> {
    with_terms(annulus, loads, TERMS)
}

fn with_terms(annulus: &Annulus, loads: &[RadialLoad], terms: u32) -> PerSurface<f64> {
    let response = Response::new(annulus, loads, terms);
    PerSurface::from_fn(|surface| {
        let circle = response.circle(annulus.radius(surface));
        let tail = Tail::new(annulus, loads, surface, terms);
        out_of_roundness(annulus.radius(surface), |t| {
            circle.at(t).radial_displacement + tail.at(t)
        })
    })
}

/// Held out-of-roundness of both surfaces (mm) under `count` equal outside patches of resultant `force` (N).
pub fn patches(annulus: &Annulus, count: u32, half_angle: f64, force: f64) -> PerSurface<f64> {
    loads(
        annulus,
        &RadialLoad::ring_of(count, Surface::Outer, half_angle, force),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Under narrow patches a tenth of the terms and the tail give what all of them do; without the tail they are half a thousandth apart.
    #[test]
    fn the_tail_stands_for_more_terms() {
        let annulus = Annulus {
            inner_radius: 22.08,
            outer_radius: 29.58,
            young_modulus: 110e3,
            poisson_ratio: 0.34,
            length: 25.0,
        };
        let loads = RadialLoad::ring_of(24, Surface::Bore, 0.65_f64.to_radians(), 28126.9);
        let [few, many] = [TERMS, 10 * TERMS].map(|terms| with_terms(&annulus, &loads, terms).bore);
        assert!((few / many - 1.0).abs() < 1e-7, "{few} {many}");
    }
}
