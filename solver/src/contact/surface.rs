//! Loads along a surface of a mesh: pressures, patches and point forces as nodal forces, and means over the bore.

use std::f64::consts::TAU;

use super::pressure::{GAUSS, Segment};
use crate::geometry::Surface;
use crate::linear::NodeForce;
use crate::mesh::Mesh;
use crate::scheme::{PointForce, PressurePatch};

/// Mesh lines are found by angle to this, rad; ends of graded columns are placed far more exactly.
const ON_LINE: f64 = 1e-7;

/// Share of an element's width below which what reaches into it is rounding.
const SLIVER: f64 = 1e-9;

/// The elements that a pad or a patch covers: first lattice line (even) and number of element edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub first: usize,
    pub edges: usize,
    /// Whether the last edge meets the first.
    pub closed: bool,
}

/// Finds the lines from one angle to another (rad), a whole turn on being all of them; `None` if no line stands at one of them.
pub(super) fn span(mesh: &Mesh, from: f64, to: f64) -> Option<Span> {
    if to - from > TAU - ON_LINE {
        return mesh.is_closed().then(|| Span {
            first: 0,
            edges: mesh.around(),
            closed: true,
        });
    }
    let first = line_at(mesh, from)?;
    let last = line_at(mesh, to)?;
    let lines = mesh.angles().len();
    let edges = (if last > first {
        last - first
    } else {
        last + lines - first
    }) / 2;
    Some(Span {
        first,
        edges,
        closed: false,
    })
}

impl Span {
    /// Angles of the element ends, rad, increasing; those past the seam are a turn on, and a closed span repeats its first.
    pub fn ends(&self, mesh: &Mesh) -> Vec<f64> {
        let (angles, lines) = (mesh.angles(), mesh.angles().len());
        (0..=self.edges)
            .map(|k| {
                let line = self.first + 2 * k;
                angles[line % lines] + if line >= lines { TAU } else { 0.0 }
            })
            .collect()
    }
}

/// The even lattice line at an angle.
fn line_at(mesh: &Mesh, angle: f64) -> Option<usize> {
    let angles = mesh.angles();
    let start = angles[0];
    let a = start + (angle - start).rem_euclid(TAU);
    let near = |x: f64| (x - a).abs() < ON_LINE;
    if near(start + TAU) {
        return Some(0);
    }
    // columns at a pad edge may be narrower than the tolerance, so the nearest end counts
    let first = angles.partition_point(|&x| x < a - ON_LINE);
    (first..angles.len())
        .take_while(|&k| near(angles[k]))
        .filter(|k| k.is_multiple_of(2))
        .min_by(|&k, &l| (angles[k] - a).abs().total_cmp(&(angles[l] - a).abs()))
}

fn surface_row(mesh: &Mesh, surface: Surface) -> usize {
    match surface {
        Surface::Outer => 2 * mesh.through(),
        Surface::Bore => 0,
    }
}

/// Quadratic shape functions of an edge's three nodes at a share of its width.
fn edge_shape(share: f64) -> [f64; 3] {
    let xi = 2.0 * share - 1.0;
    [0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)]
}

/// Unit vector from the axis to the point of a boundary edge: the direction in which pressure acts.
fn direction(mesh: &Mesh, nodes: [usize; 3], shape: [f64; 3]) -> [f64; 2] {
    let mut p = [0.0; 2];
    for (n, s) in nodes.into_iter().zip(shape) {
        let c = mesh.coords()[n];
        p[0] += s * c[0];
        p[1] += s * c[1];
    }
    let r = p[0].hypot(p[1]);
    [p[0] / r, p[1] / r]
}

/// Visits the points of a segment where it crosses the mesh: nodes of the edge, their shape functions, and the weight that
/// integrates the density.
pub(super) fn visit(
    mesh: &Mesh,
    surface: Surface,
    segment: &Segment,
    visit: &mut dyn FnMut([usize; 3], [f64; 3], f64),
) {
    let (angles, lines) = (mesh.angles(), mesh.angles().len());
    let row = surface_row(mesh, surface);
    let start = angles[0];
    let turned = (segment.from - start).div_euclid(TAU) * TAU;
    let (from, to) = (segment.from - turned, segment.to - turned);
    // an end on a line belongs to the edge that it opens
    let middle = if segment.is_line() {
        from
    } else {
        from + SLIVER * (to - from)
    };
    let mut edge = (angles
        .partition_point(|&a| a <= middle + f64::EPSILON * TAU)
        .max(1)
        - 1)
        / 2;
    // a slit ring has a last line, which only ends an edge
    if !mesh.is_closed() {
        edge = edge.min(mesh.around() - 1);
    }
    loop {
        let first = (2 * edge) % lines;
        let lap = ((2 * edge) / lines) as f64 * TAU;
        let t0 = angles[first] + lap;
        let width = 2.0 * (angles[first + 1] - angles[first]);
        let nodes = [first, first + 1, first + 2].map(|i| mesh.node(i, row));
        if segment.is_line() {
            let share = ((from - t0) / width).clamp(0.0, 1.0);
            visit(nodes, edge_shape(share), segment.density[0]);
            return;
        }
        let (a, b) = (from.max(t0), to.min(t0 + width));
        let last = !mesh.is_closed() && edge + 1 == mesh.around();
        let rest = last || to - (t0 + width) <= SLIVER * width;
        let b = if rest { to } else { b };
        if b > a {
            for (x, w) in GAUSS {
                let theta = a + x * (b - a);
                let density = segment.at((theta - from) / (to - from));
                visit(
                    nodes,
                    edge_shape((theta - t0) / width),
                    w * (b - a) * density,
                );
            }
        }
        if rest {
            return;
        }
        edge += 1;
    }
}

/// Adds the nodal forces of a segment's unit pressure on a surface, N per MPa.
pub(super) fn add_load(
    mesh: &Mesh,
    surface: Surface,
    segment: &Segment,
    load: &mut Vec<NodeForce>,
) {
    let inward = -surface.outward();
    visit(mesh, surface, segment, &mut |nodes, shape, weight| {
        let [c, s] = direction(mesh, nodes, shape);
        for (node, n) in nodes.into_iter().zip(shape) {
            let f = inward * weight * n;
            if f != 0.0 {
                push(load, node, [f * c, f * s]);
            }
        }
    });
}

/// The load of a dead patch as a segment whose unit pressure is its whole force.
pub(super) fn patch_segment(patch: &PressurePatch) -> Segment {
    let per_radian = patch.force / (2.0 * patch.half_angle.sin());
    Segment {
        from: patch.angle - patch.half_angle,
        to: patch.angle + patch.half_angle,
        density: [per_radian, per_radian],
    }
}

/// Nodal forces of a dead patch, N; `None` if no line stands at its ends.
pub(super) fn patch_load(mesh: &Mesh, patch: &PressurePatch) -> Option<Vec<NodeForce>> {
    let Segment {
        from, to, density, ..
    } = patch_segment(patch);
    let ends = span(mesh, from, to)?.ends(mesh);
    let mut load = Vec::new();
    for edge in ends.windows(2) {
        let segment = Segment {
            from: edge[0],
            to: edge[1],
            density,
        };
        add_load(mesh, patch.surface, &segment, &mut load);
    }
    Some(load)
}

/// Nodal force of a dead point load, N; `None` if no line stands there.
pub(super) fn point_load(mesh: &Mesh, point: &PointForce) -> Option<NodeForce> {
    let node = mesh.node(
        line_at(mesh, point.angle)?,
        surface_row(mesh, point.surface),
    );
    let c = mesh.coords()[node];
    let f = -point.surface.outward() * point.force / c[0].hypot(c[1]);
    Some((node, [f * c[0], f * c[1]]))
}

fn push(load: &mut Vec<NodeForce>, node: usize, force: [f64; 2]) {
    match load.iter_mut().rev().find(|(n, _)| *n == node) {
        Some((_, f)) => {
            f[0] += force[0];
            f[1] += force[1];
        }
        None => load.push((node, force)),
    }
}

/// Nodal displacements (mm) as weighted displacements of pressures with these nodal forces, mm3.
pub(crate) fn weighted(loads: &[Vec<NodeForce>], displacement: &[[f64; 2]]) -> Vec<f64> {
    let work = |load: &Vec<NodeForce>| {
        load.iter()
            .map(|&(n, f)| f[0] * displacement[n][0] + f[1] * displacement[n][1])
            .sum()
    };
    loads.iter().map(work).collect()
}

/// Adds so many times a load on few nodes to nodal forces.
pub(crate) fn add(forces: &mut [[f64; 2]], load: &[NodeForce], size: f64) {
    for &(node, f) in load {
        forces[node][0] += size * f[0];
        forces[node][1] += size * f[1];
    }
}

/// What the means over the bore of a mesh are made with, again and again.
pub(super) struct BoreMeans {
    /// Cosine and sine of each line, and its share of the turn.
    lines: Vec<([f64; 2], f64)>,
}

impl BoreMeans {
    pub fn new(mesh: &Mesh) -> Self {
        let angles = mesh.angles();
        let direction = |t: &f64| {
            let (s, c) = t.sin_cos();
            ([c, s], 0.0)
        };
        let mut lines: Vec<([f64; 2], f64)> = angles.iter().map(direction).collect();
        for column in 0..mesh.around() {
            let width = 2.0 * (angles[2 * column + 1] - angles[2 * column]);
            for (k, weight) in [1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0].into_iter().enumerate() {
                lines[(2 * column + k) % angles.len()].1 += weight * width / TAU;
            }
        }
        Self { lines }
    }

    /// Number of the mesh's lines.
    pub fn len(&self) -> usize {
        self.lines.len()
    }

    /// [`bore_means`] of the displacement of the bore at each line, mm.
    pub fn of(&self, displacement: impl Fn(usize) -> [f64; 2]) -> [f64; 3] {
        let mut mean = [0.0; 3];
        for (line, ([c, s], share)) in self.lines.iter().enumerate() {
            let u = displacement(line);
            for (m, v) in mean.iter_mut().zip([u[0], u[1], c * u[1] - s * u[0]]) {
                *m += share * v;
            }
        }
        mean
    }
}

/// Mean displacement of the bore `[x, y]` and its mean tangential displacement, mm: what the rule for free
/// motions sets to zero. Means are over the reference angle.
pub fn bore_means(mesh: &Mesh, displacement: &[[f64; 2]]) -> [f64; 3] {
    BoreMeans::new(mesh).of(|line| displacement[mesh.node(line, 0)])
}
