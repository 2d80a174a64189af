//! Whether neighbouring pads run into each other when closed.

use std::f64::consts::TAU;

use super::face::face_radius;
use super::sleeve::Stands;
use super::{Clamp, Clamped, ContactError};
use crate::geometry::Surface;

/// Pads may touch at their corners; share of the radius by which they count as apart.
const TOUCHING: f64 = 1e-9;

impl Clamp {
    /// Checks that the pads do not run into each other where they stand in a closed state. A pad is a rigid block as wide as the
    /// chord of its arc on the nominal surface, its corners on its face.
    ///
    /// # Errors
    /// [`ContactError::PadsCollide`].
    pub fn corners(&self, clamped: &Clamped) -> Result<(), ContactError> {
        for surface in Surface::BOTH {
            let mut pads: Vec<usize> = (0..self.bodies.len())
                .filter(|&b| self.bodies[b].surface == surface && !self.bodies[b].is_full_circle())
                .filter(|&b| !matches!(self.stands[b], Stands::AsSleeve(_)))
                .collect();
            let around = |b: usize| self.bodies[b].angle.rem_euclid(TAU);
            pads.sort_by(|&a, &b| around(a).total_cmp(&around(b)));
            for (k, &a) in pads.iter().enumerate() {
                let b = pads[(k + 1) % pads.len()];
                let mut apart = around(b) - around(a);
                if k + 1 == pads.len() {
                    apart += TAU;
                }
                let (p, q) = (self.corner(a, clamped), self.corner(b, clamped));
                let overlap = (p[1].atan2(p[0]) + q[1].atan2(q[0]) - apart)
                    * 0.5
                    * (p[0].hypot(p[1]) + q[0].hypot(q[1]));
                if overlap > TOUCHING * self.section.radius(surface) {
                    return Err(ContactError::PadsCollide {
                        bodies: [a + 1, b + 1],
                        surface,
                        overlap,
                    });
                }
            }
        }
        Ok(())
    }

    /// A corner of a pad where it stands, along its axis and across, mm.
    fn corner(&self, body: usize, clamped: &Clamped) -> [f64; 2] {
        let b = &self.bodies[body];
        let (sin, cos) = b.half_angle.sin_cos();
        let face = face_radius(b.face, b.surface, self.positions[body], b.half_angle);
        let along = face * cos - b.surface.outward() * clamped.face_approach(body);
        [along, self.nominal_radius(body) * sin]
    }
}
