//! Stress under a contact zone that is narrow to the mesh, from the half-plane that the wall is to it.
//!
//! Under a narrow zone the stress is that of an elastic half-plane under the zone's pressure (Johnson, *Contact Mechanics*, section 2.4;
//! number from memory) and what the rest of the part adds, which changes little over the zone. The mesh gives both together where its
//! elements are narrow to the distance from the zone: there the half-plane's part is subtracted, and the rest is continued to the
//! zone in a straight line.

use crate::contact::GAUSS;
use crate::element::von_mises_with_axial;
use crate::geometry::{Surface, angle_between};
use crate::mesh::Mesh;

/// Columns of the mesh in a zone from which the mesh itself shows the stress under it.
const RESOLVED: f64 = 5.0;

/// Elements away from the zone where the mesh is trusted, in columns and in widths of the zone.
const TRUSTED: f64 = 2.0;

/// Depths (in half widths of the zone) and places across it (in half widths) that are evaluated: the largest stress under a Hertz
/// pressure lies 0.7 to 0.8 half widths deep.
const DEPTHS: [f64; 7] = [0.2, 0.4, 0.55, 0.7, 0.8, 1.0, 1.4];
const ACROSS: [f64; 5] = [-0.6, -0.3, 0.0, 0.3, 0.6];

/// Directions from a point force in which the stress at a distance is evaluated, rad from straight into the metal.
const BEARINGS: [f64; 5] = [-0.7, -0.35, 0.0, 0.35, 0.7];

/// The loaded arc of a zone: pressure (MPa) over part angles (rad), linear in between.
pub(super) struct LoadedArc<'a> {
    pub surface: Surface,
    pub pressure: &'a [[f64; 2]],
}

/// What is known of the largest stress at a zone.
pub(super) struct UnderZone {
    /// Largest von Mises stress, MPa, and where, mm.
    pub largest: f64,
    pub at: [f64; 2],
    /// The zone's middle on the surface, mm, and the distance from it within which the mesh does not show the stress.
    pub middle: [f64; 2],
    pub reach: f64,
}

impl LoadedArc<'_> {
    fn ends(&self) -> [f64; 2] {
        [
            self.pressure.first().map_or(0.0, |p| p[0]),
            self.pressure.last().map_or(0.0, |p| p[0]),
        ]
    }

    /// Largest von Mises stress under it, if it is narrow to the mesh; `stress` is that of the nodes, `axial` the normal stress across
    /// the section, MPa.
    pub fn under(&self, mesh: &Mesh, stress: &[[f64; 3]], axial: f64) -> Option<UnderZone> {
        let half = |radius: f64| 0.5 * (self.ends()[1] - self.ends()[0]) * radius;
        let places = |radius: f64| {
            let half = half(radius);
            let at = |d: f64| ACROSS.map(|a| [a * half, d * half]);
            DEPTHS.into_iter().flat_map(at).collect()
        };
        self.largest_at(mesh, stress, axial, RESOLVED, &places)
    }

    /// Largest von Mises stress so far (mm) from the middle of an arc that is narrow to that: of the nodes of a mesh, which are wide to
    /// it, none need be near.
    pub fn at_distance(
        &self,
        distance: f64,
        mesh: &Mesh,
        stress: &[[f64; 3]],
        axial: f64,
    ) -> Option<UnderZone> {
        let places = |_: f64| {
            BEARINGS
                .map(|t| {
                    let (s, c) = t.sin_cos();
                    [distance * s, distance * c]
                })
                .to_vec()
        };
        self.largest_at(mesh, stress, axial, f64::INFINITY, &places)
    }

    /// Largest von Mises stress at some places (along the surface from the middle of the arc, and into the metal, mm; by the radius), unless the arc
    /// spans more than so many columns.
    fn largest_at(
        &self,
        mesh: &Mesh,
        stress: &[[f64; 3]],
        axial: f64,
        columns: f64,
        places: &dyn Fn(f64) -> Vec<[f64; 2]>,
    ) -> Option<UnderZone> {
        let [from, to] = self.ends();
        let middle = 0.5 * (from + to);
        let line = nearest_line(mesh, middle);
        let angles = mesh.angles();
        let lines = angles.len();
        let width =
            (angles[(line + 1) % lines] - angles[line]).rem_euclid(std::f64::consts::TAU) * 2.0;
        if to <= from || to - from > columns * width {
            return None;
        }
        let (rows, outward) = (2 * mesh.through(), self.surface.outward());
        let row = |j: usize| match self.surface {
            Surface::Outer => rows - j,
            Surface::Bore => j,
        };
        let node = |j: usize| mesh.node(line, row(j));
        let surface = mesh.coords()[node(0)];
        let radius = surface[0].hypot(surface[1]);
        let half = 0.5 * (to - from) * radius;
        let trusted = TRUSTED * (width * radius).max(2.0 * half);
        let depth = |j: usize| {
            let c = mesh.coords()[node(j)];
            outward * (radius - c[0].hypot(c[1]))
        };
        let first = (0..=rows).find(|&j| depth(j) >= trusted)?;
        let second = (first + 1..=rows).find(|&j| depth(j) >= 2.0 * trusted)?;
        let (s, c) = angles[line].sin_cos();
        // axes along the surface and into the metal
        let local = |[xx, yy, xy]: [f64; 3]| {
            let rr = c * c * xx + s * s * yy + 2.0 * s * c * xy;
            let tt = s * s * xx + c * c * yy - 2.0 * s * c * xy;
            let rt = (yy - xx) * s * c + xy * (c * c - s * s);
            [tt, rr, -outward * rt]
        };
        let off = angle_between(middle, angles[line]) * radius;
        let rest = |j: usize| {
            let (mesh, plane) = (
                local(stress[node(j)]),
                self.half_plane(middle, radius, off, depth(j)),
            );
            std::array::from_fn::<f64, 3, _>(|k| mesh[k] - plane[k])
        };
        let (near, far) = (rest(first), rest(second));
        let (d1, d2) = (depth(first), depth(second));
        let mut best = UnderZone {
            largest: 0.0,
            at: surface,
            middle: [radius * middle.cos(), radius * middle.sin()],
            reach: trusted,
        };
        for [x, y] in places(radius) {
            let plane = self.half_plane(middle, radius, x, y);
            let total: [f64; 3] = std::array::from_fn(|k| {
                plane[k] + near[k] + (near[k] - far[k]) * (d1 - y) / (d2 - d1)
            });
            let v = von_mises_with_axial(total, axial);
            if v > best.largest {
                let (angle, r) = (middle + x / radius, radius - outward * y);
                best.largest = v;
                best.at = [r * angle.cos(), r * angle.sin()];
            }
        }
        Some(best)
    }

    /// Stress `[along, into, shear]` of a half-plane under the zone's pressure at a place along the surface from the zone's middle and at
    /// a depth, mm; MPa.
    fn half_plane(&self, middle: f64, radius: f64, x: f64, y: f64) -> [f64; 3] {
        let mut sum = [0.0; 3];
        for pair in self.pressure.windows(2) {
            let [a, b] = [pair[0][0], pair[1][0]].map(|t| (t - middle) * radius);
            for (share, weight) in GAUSS {
                let (s, p) = (
                    a + share * (b - a),
                    pair[0][1] + share * (pair[1][1] - pair[0][1]),
                );
                let (u, f) = (x - s, weight * (b - a) * p);
                let r4 = (u * u + y * y).powi(2);
                let factor = -2.0 / std::f64::consts::PI * f * y / r4;
                sum[0] += factor * u * u;
                sum[1] += factor * y * y;
                sum[2] += factor * u * y;
            }
        }
        sum
    }
}

/// The even lattice line nearest to an angle.
fn nearest_line(mesh: &Mesh, angle: f64) -> usize {
    let apart = |i: usize| angle_between(angle, mesh.angles()[i]).abs();
    (0..mesh.angles().len())
        .step_by(2)
        .min_by(|&a, &b| apart(a).total_cmp(&apart(b)))
        .unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Under a Hertz pressure between cylinders the principal stresses on the axis are known; the largest shear is 0.30 of the peak, 0.78
    /// half widths deep (Johnson, *Contact Mechanics*, section 4.2; from memory).
    #[test]
    fn under_a_hertz_pressure() {
        let (half, radius) = (0.001, 50.0);
        let pressure: Vec<[f64; 2]> = (0..=64)
            .map(|k| {
                let t = -(std::f64::consts::PI * f64::from(k) / 64.0).cos();
                [half * t, (1.0 - t * t).max(0.0).sqrt()]
            })
            .collect();
        let zone = LoadedArc {
            surface: Surface::Outer,
            pressure: &pressure,
        };
        let a = half * radius;
        let [along, into, _] = zone.half_plane(0.0, radius, 0.0, 0.786 * a);
        assert!(
            (0.5 * (along - into) - 0.300).abs() < 1e-3,
            "{along} {into}"
        );
        for depth in [0.3, 1.0, 2.0] {
            let y: f64 = depth * a;
            let root = (a * a + y * y).sqrt();
            let exact = [-((a * a + 2.0 * y * y) / root - 2.0 * y) / a, -a / root];
            let found = zone.half_plane(0.0, radius, 0.0, y);
            assert!((found[0] - exact[0]).abs() < 1e-3 && (found[1] - exact[1]).abs() < 1e-3);
        }
    }
}
