//! What an outline adds to its mean ring, for holds that are locked.
//!
//! Finite elements on one lattice give `C_own - C_mean` between the tool's places and as many on the other surface. Dents are alike on both and what
//! elements do not show of them cancels; what is left is bending, the fourth power of whose lobes keeps it smooth, so trigonometric polynomials through
//! the places give it anywhere. Their cardinal function of an even number `m` of places is `sin(m t / 2) / (m tan(t / 2))` (Trefethen, *Spectral Methods
//! in MATLAB*, chapter 3; from memory). Contact may thus be as finely divided as it likes.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

use super::ToolPlaces;
use crate::contact::elastic::Elastic;
use crate::contact::pressure::{PressureDof, Segment, WallId};
use crate::contact::section::{MeshedWall, Section};
use crate::geometry::{Surface, angle_between};
use crate::linear::Factor;
use crate::mesh::Mesh;

/// Widest segment that is one point to so smooth a function, rad.
const NARROW: f64 = 0.02;

/// A lattice laid through the true outline and through its mean ring, both factored.
#[derive(Clone, Copy)]
pub struct OutlineFactors<'a> {
    /// The true outline.
    pub own: (&'a dyn Factor, &'a Mesh),
    /// Its mean ring.
    pub mean: (&'a dyn Factor, &'a Mesh),
}

/// A load as a sum of unit forces at places.
enum AtPlaces {
    /// At one.
    One(usize),
    /// At those of a surface, from its first on, so much each, N.
    All(usize, DVector<f64>),
}

/// What an outline adds to the compliances of its mean ring.
pub(in crate::contact) struct OutlineAdds {
    loads: Vec<AtPlaces>,
    /// Displacement of every place by a unit of each load, mm.
    moved: DMatrix<f64>,
}

impl OutlineAdds {
    /// Under pressures that act on the part. The last of them are a tool's forces at its places, and as many readings there: a force is spread so
    /// little that the two are one to the outline.
    pub fn new(factors: OutlineFactors, dofs: &[PressureDof], places: &ToolPlaces) -> Self {
        let m = places.count;
        let contact = dofs.len() - 2 * m;
        let both = [places.surface, places.surface.other()];
        let forces: Vec<PressureDof> = both
            .into_iter()
            .flat_map(|surface| ToolPlaces { surface, ..*places }.forces())
            .collect();
        let own = between(factors.own, &forces);
        let base = own - between(factors.mean, &forces);
        let first = |surface: Surface| if surface == both[0] { 0 } else { m };
        let mut loads: Vec<AtPlaces> = dofs[..contact]
            .iter()
            .map(|dof| {
                let surface = dof.on(WallId::PART).unwrap_or(both[1]);
                AtPlaces::All(first(surface), spread(dof, places))
            })
            .collect();
        loads.extend((0..2 * m).map(|k| AtPlaces::One(k % m)));
        let mut moved = DMatrix::zeros(2 * m, loads.len());
        for (mut column, load) in moved.column_iter_mut().zip(&loads) {
            match load {
                AtPlaces::One(k) => column.copy_from(&base.column(*k)),
                AtPlaces::All(first, forces) => {
                    column.gemv(1.0, &base.columns(*first, m), forces, 0.0);
                }
            }
        }
        Self { loads, moved }
    }
}

/// Displacement of each of some loads by a unit of each on a lattice, mm/N.
fn between((factor, mesh): (&dyn Factor, &Mesh), forces: &[PressureDof]) -> DMatrix<f64> {
    let wall = MeshedWall { mesh, first: 0 };
    let mut section = Section::new(factor, &[wall], forces, Vec::new());
    let n = forces.len();
    let numbers: Vec<usize> = (0..n).collect();
    let asked: Vec<(usize, &[usize])> = (0..n).map(|k| (k, &numbers[k..])).collect();
    let mut all = DMatrix::zeros(n, n);
    for (k, row) in section.all_compliances(&asked).into_iter().enumerate() {
        for (other, c) in (k..).zip(row) {
            all[(k, other)] = c;
            all[(other, k)] = c;
        }
    }
    all
}

/// A pressure as unit forces at the places of its surface: what trigonometric polynomials through them make of it.
fn spread(dof: &PressureDof, places: &ToolPlaces) -> DVector<f64> {
    let m = places.count;
    let mut forces = DVector::zeros(m);
    let mut add = |theta: f64, area: f64| {
        for (k, force) in forces.iter_mut().enumerate() {
            *force += area * cardinal(angle_between(places.angle(k), theta), m);
        }
    };
    for segment in &dof.segments {
        if segment.to - segment.from > NARROW {
            segment.rule().for_each(|(theta, w)| add(theta, w));
        } else {
            add(centre(segment), segment.area());
        }
    }
    forces
}

/// Centre of the area of a segment, rad.
fn centre(segment: &Segment) -> f64 {
    let (area, moment) = segment
        .rule()
        .fold((0.0, 0.0), |(a, s), (t, w)| (a + w, s + w * t));
    moment / area
}

/// The trigonometric polynomial that is one at nothing and zero at the other places of `m`, `t` (rad, at most half a turn) away.
fn cardinal(t: f64, m: usize) -> f64 {
    if t.abs() < 1e-9 {
        return 1.0;
    }
    if m % 2 == 1 {
        return (0.5 * m as f64 * t).sin() / (m as f64 * (0.5 * t).sin());
    }
    if (t.abs() - PI).abs() < 1e-9 {
        return 0.0;
    }
    (0.5 * m as f64 * t).sin() / (m as f64 * (0.5 * t).tan())
}

impl Elastic for OutlineAdds {
    fn pressures(&self) -> usize {
        self.loads.len()
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let column = |other: &usize| self.moved.column(*other);
        match &self.loads[pressure] {
            AtPlaces::One(k) => others.iter().map(|o| column(o)[*k]).collect(),
            AtPlaces::All(first, forces) => others
                .iter()
                .map(|o| column(o).rows(*first, forces.len()).dot(forces))
                .collect(),
        }
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let moved = &self.moved * DVector::from_column_slice(pressures);
        let of = |load: &AtPlaces| match load {
            AtPlaces::One(k) => moved[*k],
            AtPlaces::All(first, forces) => moved.rows(*first, forces.len()).dot(forces),
        };
        self.loads.iter().map(of).collect()
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    /// Lobes up to half the number of places come back between them, of an even number and of an odd one.
    #[test]
    fn the_cardinal_function_carries_lobes_on() {
        for m in [9_usize, 12] {
            for lobes in 0..m.div_ceil(2) {
                let value = |t: f64| (lobes as f64 * t + 0.3).cos();
                for k in 0..40 {
                    let at = 0.17 * f64::from(k);
                    let places = (0..m).map(|j| TAU * j as f64 / m as f64);
                    let sum: f64 = places
                        .map(|t| value(t) * cardinal(angle_between(t, at), m))
                        .sum();
                    assert!((sum - value(at)).abs() < 1e-9, "{m} {lobes} {at}");
                }
            }
        }
    }
}
