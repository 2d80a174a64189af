//! Pressure on a pad: hats between the element ends of the boundary, and what each does to the part.
//!
//! The pressure is piecewise linear between element ends, so it can be kept from going negative by its nodal values alone;
//! the consistent forces of a three-node edge cannot (a concave pressure has a negative end force). Quadratic displacement
//! and linear pressure are a stable pair; hats on half edges are not, and rise and fall from node to node beside a pad edge.
//! A hat's load and its weighted gap use the same integrals, so the compliance is symmetric and contact is a convex
//! quadratic programme in the pressures.
//!
//! Beside a pad edge the pressure grows like `distance^-1/2`. The first hat has the same centre of force as that law over one
//! element, but a strip of contact narrower than the element lies closer to the edge. So each edge also has a line force
//! of its own; the least energy decides how the two share. As the mesh is refined the line force goes to nothing.

use crate::geometry::Surface;
use crate::linear::NodeForce;
use crate::mesh::Mesh;
use crate::scheme::{Body, PointForce, PressurePatch};

use super::face::face_radius;

/// Three-point Gauss rule on `[0, 1]`.
const GAUSS: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// Share of the radii that a gap is the difference of, within which it is their rounding and the face touches.
const TOUCHING: f64 = 8.0 * f64::EPSILON;

/// Mesh lines are found by angle to this, rad; ends of graded columns are placed far more exactly.
const ON_LINE: f64 = 1e-7;

/// What a pressure unknown is spread over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spread {
    /// A hat over the elements beside an element end.
    Hat,
    /// A line force at a pad edge, given as the pressure that would make it over a quarter of the hat beside it.
    EdgeForce,
}

/// One pressure unknown of a pad.
#[derive(Clone, Debug)]
pub(super) struct Hat {
    /// What it is spread over.
    pub spread: Spread,
    /// Body it belongs to.
    pub body: usize,
    /// Piece of its pad: 1 beyond a relieved middle.
    pub piece: usize,
    /// Middle of the piece from the body's axis, rad.
    pub middle: f64,
    /// Its place among the hats of its piece.
    pub place: usize,
    /// Where an elastic layer covers the face: weighted gap (mm3) per pressure (MPa) of the hats at these places.
    pub layer: Vec<(usize, f64)>,
    /// Reference angle from the body's axis, rad.
    pub t: f64,
    /// Nodal forces of a unit pressure, N per MPa.
    pub load: Vec<NodeForce>,
    /// Their sum on the part, N per MPa.
    pub resultant: [f64; 2],
    /// The sleeve that it presses on or is the face of, and the sum of its forces on that, N per MPa.
    pub sleeve: Option<(usize, [f64; 2])>,
    /// Resultant of a unit pressure along the body's axis, N per MPa: also how the gap closes with travel.
    pub along: f64,
    /// Integral of the hat over the nominal surface, mm2: turns weighted gaps into gaps.
    pub area: f64,
    /// Weighted gap at zero travel with the part at rest, mm3.
    pub gap: f64,
}

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
    if to - from > std::f64::consts::TAU - ON_LINE {
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

/// The even lattice line at an angle.
fn line_at(mesh: &Mesh, angle: f64) -> Option<usize> {
    let angles = mesh.angles();
    let start = angles[0];
    let turn = std::f64::consts::TAU;
    let a = start + (angle - start).rem_euclid(turn);
    let near = |x: f64| (x - a).abs() < ON_LINE;
    if near(start + turn) {
        return Some(0);
    }
    // columns at a pad edge may be narrower than the tolerance, so the nearest end counts
    let first = angles.partition_point(|&x| x < a - ON_LINE);
    (first..angles.len())
        .take_while(|&k| near(angles[k]))
        .filter(|k| k.is_multiple_of(2))
        .min_by(|&k, &l| (angles[k] - a).abs().total_cmp(&(angles[l] - a).abs()))
}

/// Where an edge is integrated: angle, quadratic shape functions of its three nodes, values of the hats at its two ends,
/// and weight (rad).
struct Point {
    theta: f64,
    shape: [f64; 3],
    hats: [f64; 2],
    weight: f64,
}

/// Visits the Gauss points of the edge that starts at an even lattice line: the lines of its nodes, then the places.
fn edge(mesh: &Mesh, line: usize, visit: &mut dyn FnMut([usize; 3], &Point)) {
    let line = line % mesh.angles().len();
    let nodes = [line, line + 1, line + 2];
    let t0 = mesh.angles()[line];
    let width = 2.0 * (mesh.angles()[line + 1] - t0);
    for (x, w) in GAUSS {
        let xi = 2.0 * x - 1.0;
        let point = Point {
            theta: t0 + width * x,
            shape: [0.5 * xi * (xi - 1.0), 1.0 - xi * xi, 0.5 * xi * (xi + 1.0)],
            hats: [1.0 - x, x],
            weight: w * width,
        };
        visit(nodes, &point);
    }
}

fn surface_row(mesh: &Mesh, surface: Surface) -> usize {
    match surface {
        Surface::Outer => 2 * mesh.through(),
        Surface::Bore => 0,
    }
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

/// What a pad stands against: the surface as it was when the step began (mm over rad), and the nominal radius.
pub(super) struct Against<'a> {
    pub outline: &'a dyn Fn(f64) -> f64,
    pub nominal_radius: f64,
    pub length: f64,
}

/// Which face: of which body, which piece of its pad, and where it stands (mm).
#[derive(Clone, Copy)]
pub(super) struct Place {
    pub body: usize,
    pub piece: usize,
    pub position: f64,
    /// Whether it goes round the part, so that what it carries is the integral of its pressure and not a resultant along an axis.
    pub round: bool,
}

/// The pressure unknowns of a piece of a pad: hats from edge to edge, then the two edge forces; `None` if no line stands at one
/// of its edges. An elastic layer keeps the pressure at its edges finite, so there a pad has no edge forces.
pub(super) fn hats(mesh: &Mesh, body: &Body, at: Place, against: &Against) -> Option<Vec<Hat>> {
    let Body {
        surface,
        angle,
        face,
        ..
    } = *body;
    let (inward, row) = (-surface.outward(), surface_row(mesh, surface));
    let lines = mesh.angles().len();
    let turn = std::f64::consts::TAU;
    let from_axis = |theta: f64| {
        let t = (theta - angle).rem_euclid(turn);
        if t > 0.5 * turn { t - turn } else { t }
    };
    let [from, to] = body.pieces()[at.piece];
    let span = span(mesh, angle + from, angle + to)?;
    let empty = |spread: Spread, k: usize| Hat {
        spread,
        body: at.body,
        piece: at.piece,
        middle: 0.5 * (from + to),
        place: k,
        layer: Vec::new(),
        t: from_axis(mesh.angles()[(span.first + 2 * k) % lines]),
        load: Vec::with_capacity(5),
        resultant: [0.0; 2],
        sleeve: None,
        along: 0.0,
        area: 0.0,
        gap: 0.0,
    };
    let ends = if span.closed {
        span.edges
    } else {
        span.edges + 1
    };
    let mut list: Vec<Hat> = (0..ends).map(|k| empty(Spread::Hat, k)).collect();
    let share = |t: f64| if at.round { 1.0 } else { t.cos() };
    let gap = |theta: f64, t: f64| {
        let (stands, part) = (
            face_radius(face, surface, at.position, t),
            (against.outline)(theta),
        );
        let gap = -inward * (stands - part);
        let rounding = TOUCHING * (at.position.abs() + stands.abs() + part);
        if gap.abs() > rounding { gap } else { 0.0 }
    };
    for k in 0..span.edges {
        edge(mesh, span.first + 2 * k, &mut |lines, point| {
            let nodes = lines.map(|i| mesh.node(i, row));
            let dir = direction(mesh, nodes, point.shape);
            let t = from_axis(point.theta);
            let gap = gap(point.theta, t);
            for end in 0..2 {
                let da = point.hats[end] * point.weight * against.nominal_radius * against.length;
                let f = inward * da;
                let forces = point.shape.map(|n| [f * n * dir[0], f * n * dir[1]]);
                let hat = &mut list[(k + end) % ends];
                hat.add(nodes.into_iter().zip(forces), share(t), da, gap);
                if let Some(bedding) = body.bedding {
                    for other in 0..2 {
                        let give = bedding.give() * da * point.hats[other];
                        hat.add_layer((k + other) % ends, give);
                    }
                }
            }
        });
    }
    if span.closed || body.bedding.is_some() {
        return Some(list);
    }
    for k in [0, span.edges] {
        let mut force = empty(Spread::EdgeForce, k);
        let node = mesh.node(span.first + 2 * k, row);
        let theta = mesh.angles()[(span.first + 2 * k) % lines];
        let gap = gap(theta, force.t);
        let c = mesh.coords()[node];
        let r = c[0].hypot(c[1]);
        let area = 0.25 * list[k].area;
        let f = [inward * area * c[0] / r, inward * area * c[1] / r];
        let along = share(force.t);
        force.add(std::iter::once((node, f)), along, area, gap);
        list.push(force);
    }
    Some(list)
}

impl Hat {
    /// Resultant of a unit pressure on the part (0) or a sleeve (from 1), N per MPa.
    pub fn on(&self, wall: usize) -> [f64; 2] {
        match (wall, self.sleeve) {
            (0, _) => self.resultant,
            (_, Some((sleeve, resultant))) if sleeve + 1 == wall => resultant,
            _ => [0.0; 2],
        }
    }

    /// How much shifts of the part and of the sleeves (mm) open its weighted gap, mm N per MPa.
    pub fn shifted(&self, shifts: &[[f64; 2]]) -> f64 {
        let along =
            |(wall, q): (usize, &[f64; 2])| self.on(wall)[0] * q[0] + self.on(wall)[1] * q[1];
        shifts.iter().enumerate().map(along).sum()
    }

    /// Adds the share of one integration point: nodal forces, share along the axis, area, gap.
    fn add(&mut self, forces: impl Iterator<Item = NodeForce>, along: f64, area: f64, gap: f64) {
        for (node, f) in forces {
            push(&mut self.load, node, f);
            self.resultant[0] += f[0];
            self.resultant[1] += f[1];
        }
        self.along += area * along;
        self.area += area;
        self.gap += area * gap;
    }

    fn add_layer(&mut self, place: usize, give: f64) {
        match self.layer.iter_mut().find(|l| l.0 == place) {
            Some(l) => l.1 += give,
            None => self.layer.push((place, give)),
        }
    }
}

/// Nodal forces of a dead patch, N.
pub(super) fn patch_load(mesh: &Mesh, patch: &PressurePatch, span: Span) -> Vec<NodeForce> {
    let row = surface_row(mesh, patch.surface);
    let per_radian = -patch.surface.outward() * patch.force / (2.0 * patch.half_angle.sin());
    let mut load = Vec::new();
    for k in 0..span.edges {
        edge(mesh, span.first + 2 * k, &mut |lines, point| {
            let nodes = lines.map(|i| mesh.node(i, row));
            let dir = direction(mesh, nodes, point.shape);
            for (node, shape) in nodes.into_iter().zip(point.shape) {
                let f = per_radian * point.weight * shape;
                push(&mut load, node, [f * dir[0], f * dir[1]]);
            }
        });
    }
    load
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

/// Mean displacement of the bore `[x, y]` and its mean tangential displacement, mm: what the rule for free
/// motions sets to zero. Means are over the reference angle.
pub fn bore_means(mesh: &Mesh, displacement: &[[f64; 2]]) -> [f64; 3] {
    let angles = mesh.angles();
    let mut mean = [0.0; 3];
    for column in 0..mesh.around() {
        let width = 2.0 * (angles[2 * column + 1] - angles[2 * column]);
        for (k, weight) in [1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0].into_iter().enumerate() {
            let i = 2 * column + k;
            let u = displacement[mesh.node(i, 0)];
            let (s, c) = angles[i % angles.len()].sin_cos();
            for (m, v) in mean.iter_mut().zip([u[0], u[1], c * u[1] - s * u[0]]) {
                *m += weight * width * v / std::f64::consts::TAU;
            }
        }
    }
    mean
}
