//! A sleeve behind contact: the closed-form series of the whole ring, and what its slit adds.
//!
//! A whole ring is the slit one joined, along two lines across the wall, to the piece that the slit takes out. Let `G` be the compliance
//! of the slit ring among the unknowns of those lines, `K` the stiffness of the piece as they feel it, and `u` what a load on the slit
//! ring moves there. The piece adds `K` to the stiffness of the slit ring, so by the Sherman-Morrison-Woodbury formula two loads have the compliances
//!
//! `C_whole = C_slit - u' (K^-1 + G)^-1 v`, and with `K = W W'`: `C_slit = C_whole + (W' u)' (1 + W' G W)^-1 (W' v)`.
//!
//! (derived here). `C_whole` is the series', so a zone may be as narrow as it likes. The second term is that of smooth fields but within a
//! wall of the slit, so finite elements that are fine there alone give it; it is positive semidefinite by construction. `K` does not feel a
//! rigid motion, so the point constraints of the slit ring need not be those of the series.

use std::f64::consts::TAU;
use std::sync::Arc;

use faer::Mat;

use super::ContactError;
use super::elastic::{Among, Elastic};
use super::pressure::{PressureDof, WallId};
use super::ring::{Ring, RingKernels};
use super::surface;
use crate::element::PlaneStress;
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::{Cholesky, Factor, PointConstraint, rigid_body_constraints};
use crate::mesh::{Mesh, graded_layers, graded_sizes};
use crate::scheme::Sleeve;
use crate::series::Annulus;

/// Elements at the slit and at the faces, and the thickest layer, in walls; from one to the next.
const SLIT: f64 = 0.06;
const FACE_LAYER: f64 = 0.06;
const LARGEST_LAYER: f64 = 0.25;

/// Widest column, rad, and in walls: a wider curved one is too stiff in bending.
const WIDEST_COLUMN: f64 = 0.07;
const WIDEST_WALLS: f64 = 2.0;

const GROWTH: f64 = 1.6;

/// Stiffness of the piece in the slit, as a share of its greatest, that is the rounding of a rigid motion.
const RIGID: f64 = 1e-11;

/// A sleeve, made once for its radii, slit and material.
#[derive(Clone)]
pub struct SleeveBody {
    sleeve: Sleeve,
    kernels: Arc<RingKernels>,
    slit: Option<Arc<SlitFields>>,
}

impl SleeveBody {
    /// A sleeve as long as the part (mm).
    ///
    /// # Errors
    /// [`ContactError::NoSleeve`] if it has no wall, [`ContactError::Linear`].
    pub fn new(sleeve: Sleeve, length: f64) -> Result<Self, ContactError> {
        let annulus = Annulus {
            inner_radius: sleeve.radius.min(sleeve.back()),
            outer_radius: sleeve.radius.max(sleeve.back()),
            young_modulus: sleeve.young_modulus,
            poisson_ratio: sleeve.poisson_ratio,
            length,
        };
        let slit = sleeve.slit.map(|slit| SlitFields::new(&annulus, slit));
        Ok(Self {
            sleeve,
            kernels: Arc::new(RingKernels::new(annulus)),
            slit: slit.transpose()?.map(Arc::new),
        })
    }

    /// Whether it is this sleeve on a part of this length, mm.
    pub fn is(&self, sleeve: &Sleeve, length: f64) -> bool {
        self.sleeve == *sleeve && self.kernels.annulus().length == length
    }
}

/// A sleeve under the pressures of a hold that act on it.
#[derive(Clone)]
pub(super) struct RoundSleeve {
    /// The sleeve by itself.
    body: SleeveBody,
    /// The whole ring.
    ring: Ring,
    /// The pressures that act on it, among those of the hold.
    on: Vec<usize>,
    /// Of each of them `L^-1 W' u` with `1 + W' G W = L L'`, whose products the slit adds; empty for a whole ring.
    slit: Vec<Vec<f64>>,
    /// How far each of them brings the ends of the slit together, at the bore and the outside of the sleeve, mm/MPa; empty for a whole ring.
    closing: Vec<[f64; 2]>,
}

impl RoundSleeve {
    /// A sleeve as a wall of the hold.
    pub fn new(body: &SleeveBody, dofs: &[PressureDof], wall: WallId) -> Self {
        let on = (0..dofs.len()).filter(|&k| dofs[k].on(wall).is_some());
        let parts = body.slit.as_ref().map(|fields| {
            let acting = dofs.iter().filter_map(|d| Some((d, d.on(wall)?)));
            acting.map(|(d, s)| fields.of(d, s)).unzip()
        });
        let (slit, closing) = parts.unwrap_or_default();
        Self {
            body: body.clone(),
            ring: Ring::new(Arc::clone(&body.kernels), dofs, wall),
            on: on.collect(),
            slit,
            closing,
        }
    }

    /// The same sleeve under other pressures.
    pub fn under(&self, dofs: &[PressureDof], wall: WallId) -> Self {
        Self::new(&self.body, dofs, wall)
    }

    /// How far pressures (MPa, one each of the hold) bring the ends of its slit together where they come nearest, mm; `None` for a whole ring.
    pub fn closes(&self, pressures: &[f64]) -> Option<f64> {
        let acting = self.on.iter().map(|&k| pressures[k]);
        let add = |sum: [f64; 2], (p, by): (f64, &[f64; 2])| [0, 1].map(|s| sum[s] + p * by[s]);
        let [bore, outside] = acting.zip(&self.closing).fold([0.0; 2], add);
        (!self.slit.is_empty()).then(|| bore.max(outside))
    }

    /// The sleeve among all pressures of the hold.
    pub fn among(&mut self, pressures: usize) -> Among<'_> {
        let on = self.on.clone();
        Among::new(self, &on, pressures)
    }
}

impl Elastic for RoundSleeve {
    fn pressures(&self) -> usize {
        self.ring.pressures()
    }

    fn rigid_body_modes(&self) -> usize {
        self.ring.rigid_body_modes()
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.ring.rigid_work(pressure, mode)
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let mut all = self.all_compliances(&[(pressure, others)]);
        all.swap_remove(0)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let mut all = self.ring.all_compliances(asked);
        if self.slit.is_empty() {
            return all;
        }
        for (row, (pressure, others)) in all.iter_mut().zip(asked) {
            let own = &self.slit[*pressure];
            for (c, &other) in row.iter_mut().zip(*others) {
                *c += dot(own, &self.slit[other]);
            }
        }
        all
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut all = self.ring.weighted_displacements(pressures);
        let mut sum = vec![0.0; self.slit.first().map_or(0, Vec::len)];
        for (part, p) in self.slit.iter().zip(pressures) {
            for (s, x) in sum.iter_mut().zip(part) {
                *s += p * x;
            }
        }
        for (moved, part) in all.iter_mut().zip(&self.slit) {
            *moved += dot(part, &sum);
        }
        all
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// The fields of a slit ring whose products with two loads add up to what the slit adds to their compliance.
struct SlitFields {
    mesh: Mesh,
    /// Of each node on a surface its displacement in every field; nothing of the others.
    fields: Vec<Vec<[f64; 2]>>,
    /// Displacement of every node under unit forces that draw the ends of the slit together, at the bore and the outside, mm/N. The work of a
    /// load along it is how far that load draws them together (Betti).
    drawn: [Vec<[f64; 2]>; 2],
}

impl SlitFields {
    fn new(annulus: &Annulus, [middle, half]: [f64; 2]) -> Result<Self, ContactError> {
        let law = PlaneStress {
            young_modulus: annulus.young_modulus,
            poisson_ratio: annulus.poisson_ratio,
            thickness: annulus.length,
        };
        let rest = arc(annulus, middle + half, TAU - 2.0 * half)?;
        let piece = arc(annulus, middle - half, 2.0 * half)?;
        // the piece begins where the rest ends
        let [[first, last], [before, after]] = [&rest, &piece].map(ends);
        let on_rest: Vec<PointConstraint> = unknowns(last.iter().chain(&first));
        let on_piece: Vec<PointConstraint> = unknowns(before.iter().chain(&after));
        let root = semidefinite_root(seen_from(&piece, &law, &on_piece)?);
        let factor = Cholesky::new(&rest, &law, &rigid_body_constraints(&rest))?;
        let moved: Vec<Vec<[f64; 2]>> = root
            .iter()
            .map(|w| {
                let mut load = vec![[0.0; 2]; rest.nodes()];
                for (&[node, axis], f) in on_rest.iter().zip(w) {
                    load[node][axis] = *f;
                }
                factor.solve(&load)
            })
            .collect::<Result<_, _>>()?;
        // 1 + W' G W = L L', and the fields `G W` become `L^-1 W' G`
        let joint = Mat::from_fn(root.len(), root.len(), |i, j| {
            let at = on_rest.iter().map(|&[node, axis]| moved[j][node][axis]);
            let own = root[i].iter().zip(at).map(|(w, u)| w * u).sum::<f64>();
            own + f64::from(i == j)
        });
        let lower = joint
            .llt(faer::Side::Lower)
            .map_err(|_| ContactError::NoSleeve)?;
        let lower = lower.L();
        let mut fields = vec![Vec::new(); rest.nodes()];
        for node in Surface::BOTH.into_iter().flat_map(|s| rest.boundary(s)) {
            let mut field: Vec<[f64; 2]> = Vec::with_capacity(root.len());
            for (k, moved) in moved.iter().enumerate() {
                let mut now = moved[node];
                for (j, before) in field.iter().enumerate() {
                    now = [0, 1].map(|axis| now[axis] - lower[(k, j)] * before[axis]);
                }
                field.push(now.map(|u| u / lower[(k, k)]));
            }
            fields[node] = field;
        }
        let along = [-middle.sin(), middle.cos()];
        let drawn = |row: usize| {
            let mut load = vec![[0.0; 2]; rest.nodes()];
            load[first[row]] = along.map(|x| -x);
            load[last[row]] = along;
            factor.solve(&load)
        };
        let drawn = [drawn(0)?, drawn(first.len() - 1)?];
        Ok(Self {
            mesh: rest,
            fields,
            drawn,
        })
    }

    /// What a unit pressure on a surface moves along the fields, and how far it draws the ends of the slit together at the bore and the outside, mm/MPa.
    fn of(&self, dof: &PressureDof, surface: Surface) -> (Vec<f64>, [f64; 2]) {
        let mut load = Vec::with_capacity(8);
        for segment in &dof.segments {
            surface::add_load(&self.mesh, surface, segment, &mut load);
        }
        let mut sum = vec![0.0; load.first().map_or(0, |l| self.fields[l.0].len())];
        let mut closing = [0.0; 2];
        for (node, f) in load {
            let work = |u: &[f64; 2]| f[0] * u[0] + f[1] * u[1];
            for (s, u) in sum.iter_mut().zip(&self.fields[node]) {
                *s += work(u);
            }
            for (c, drawn) in closing.iter_mut().zip(&self.drawn) {
                *c += work(&drawn[node]);
            }
        }
        (sum, closing)
    }
}

/// A mesh of an arc of a ring, fine at its ends, rad.
fn arc(annulus: &Annulus, from: f64, span: f64) -> Result<Mesh, ContactError> {
    let wall = 2.0 * annulus.half_log_wall();
    let largest = WIDEST_COLUMN.min(WIDEST_WALLS * wall);
    let end = (SLIT * wall).min(largest);
    let mut at = from;
    let mut ends = vec![from];
    for size in graded_sizes(span, end, end, largest, GROWTH) {
        at += size;
        ends.push(at);
    }
    if let Some(last) = ends.last_mut() {
        *last = from + span;
    }
    let outlines = PerSurface::from_fn(|s| Outline::round(annulus.radius(s)));
    let layers = graded_layers(FACE_LAYER, FACE_LAYER, LARGEST_LAYER, GROWTH);
    Mesh::build(&outlines, &ends, &layers, false).map_err(|_| ContactError::NoSleeve)
}

/// The nodes of the first and the last line of an open mesh, from the bore out.
fn ends(mesh: &Mesh) -> [Vec<usize>; 2] {
    [0, mesh.angles().len() - 1].map(|line| {
        let across = 0..=2 * mesh.through();
        across.map(|row| mesh.node(line, row)).collect()
    })
}

/// Both components of nodes.
fn unknowns<'a>(nodes: impl Iterator<Item = &'a usize>) -> Vec<PointConstraint> {
    nodes.flat_map(|&n| [[n, 0], [n, 1]]).collect()
}

/// The stiffness of a body as some of its unknowns feel it, the rest free of forces, N/mm.
fn seen_from(
    mesh: &Mesh,
    law: &PlaneStress,
    unknowns: &[PointConstraint],
) -> Result<Mat<f64>, ContactError> {
    let factor = Cholesky::new(mesh, law, unknowns)?;
    let mut stiffness = Mat::zeros(unknowns.len(), unknowns.len());
    for (k, &[node, axis]) in unknowns.iter().enumerate() {
        let mut moved = vec![[0.0; 2]; mesh.nodes()];
        moved[node][axis] = 1.0;
        let mut load = factor
            .forces(&moved)
            .into_iter()
            .map(|f| f.map(|f| -f))
            .collect::<Vec<_>>();
        for &[node, axis] in unknowns {
            load[node][axis] = 0.0;
        }
        let rest = factor.solve(&load)?;
        for (all, rest) in moved.iter_mut().zip(rest) {
            *all = [all[0] + rest[0], all[1] + rest[1]];
        }
        let forces = factor.forces(&moved);
        for (j, &[node, axis]) in unknowns.iter().enumerate() {
            stiffness[(j, k)] = forces[node][axis];
        }
    }
    Ok(stiffness)
}

/// Vectors `w` with `A = sum w w'`, of a semidefinite matrix: Cholesky's with the largest pivot first (Higham, *Accuracy and Stability of Numerical Algorithms*,
/// 10.3), which ends where what is left is rounding.
fn semidefinite_root(mut left: Mat<f64>) -> Vec<Vec<f64>> {
    let n = left.nrows();
    let mut root = Vec::new();
    let mut most = 0.0_f64;
    for _ in 0..n {
        let pivot = (0..n).max_by(|&a, &b| left[(a, a)].total_cmp(&left[(b, b)]));
        let Some((pivot, size)) = pivot.map(|p| (p, left[(p, p)])) else {
            break;
        };
        most = most.max(size);
        if size <= RIGID * most {
            break;
        }
        let column: Vec<f64> = (0..n).map(|k| left[(k, pivot)] / size.sqrt()).collect();
        for j in 0..n {
            for i in 0..n {
                left[(i, j)] -= column[i] * column[j];
            }
        }
        root.push(column);
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::contact::pressure::{Against, Ends, PadPosition, pressure_dofs};
    use crate::contact::sleeve::Stands;
    use std::f64::consts::PI;

    /// A slit ring under even pressure bends by `M = p h r^2 (1 + cos phi)`, `phi` from opposite the slit, as a piston ring does; so the pressure does
    /// the work `3 pi (p h)^2 r^5 / (E I)` on it, and `2 pi r^3 (p h)^2 / (E A)` on its shrinking. Textbooks give the gap that closes, `3 pi p h r^4 / (E I)`
    /// (from memory). Thin rings: what is left is of the order of wall over radius, squared.
    #[test]
    fn a_slit_ring_under_even_pressure_is_a_piston_ring() {
        let (radius, wall, length, young) = (50.0, 0.5, 4.0, 210e3);
        for half in [1e-4, 1e-3] {
            let sleeve = Sleeve {
                surface: Surface::Outer,
                radius: radius - 0.5 * wall,
                thickness: wall,
                slit: Some([0.3, half]),
                young_modulus: young,
                poisson_ratio: 0.3,
            };
            let face = sleeve.face();
            let count = 240;
            let at = |k: usize| {
                face.angle - face.half_angle + 2.0 * face.half_angle * k as f64 / count as f64
            };
            let ends = Ends {
                angles: (0..=count).map(at).collect(),
                closed: false,
                edge_forces: false,
            };
            let place = PadPosition {
                body: 0,
                piece: 0,
                position: 0.0,
                round: true,
                presses: Stands::AsSleeve(0).presses(face.surface),
            };
            let against = Against {
                outline: &|_| radius,
                nominal_radius: sleeve.radius,
                length,
            };
            let dofs = pressure_dofs(&ends, &face, &place, &against);
            let body = SleeveBody::new(sleeve, length).expect("the sleeve has a wall");
            let mut on_series = RoundSleeve::new(&body, &dofs, WallId::sleeve(0));
            let even = vec![1.0; dofs.len()];
            let work: f64 = on_series.weighted_displacements(&even).iter().sum();
            let per_length = length * sleeve.radius / radius;
            let inertia = length * wall.powi(3) / 12.0;
            let bending = 3.0 * PI * per_length.powi(2) * radius.powi(5) / (young * inertia);
            let hoop = 2.0 * PI * radius.powi(3) * per_length.powi(2) / (young * length * wall);
            let open = 1.0 - half / PI;
            assert!(
                (work / (bending + hoop * open) - 1.0).abs() < 4e-4,
                "{half}: {work} {bending} {hoop}"
            );
            // the ends turn towards each other by 2 pi p h r^3 / (E I) besides: squeezed, the outside comes nearest, and pressed apart from within
            // it is farthest
            let gap = 3.0 * PI * per_length * radius.powi(4) / (young * inertia);
            let turned = 2.0 * PI * per_length * radius.powi(3) / (young * inertia);
            let squeezed = vec![-1.0; dofs.len()];
            for (pressures, expected) in [
                (&squeezed, gap + 0.5 * wall * turned),
                (&even, -(gap - 0.5 * wall * turned)),
            ] {
                let closes = on_series.closes(pressures).expect("it is slit");
                assert!(
                    (closes / expected - 1.0).abs() < 4e-4,
                    "{half}: {closes} {expected}"
                );
            }
            // columns of the compliance say the same
            let all: Vec<usize> = (0..dofs.len()).collect();
            let columns: f64 = all
                .iter()
                .flat_map(|&k| on_series.compliances(k, &all))
                .sum();
            assert!((columns / work - 1.0).abs() < 1e-9, "{columns} {work}");
        }
    }
}
