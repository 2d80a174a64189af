//! Pressure degrees of freedom of a pad: piecewise linear shape functions between given angles.
//!
//! The pressure is piecewise linear, so it can be kept from going negative by its nodal values alone; the consistent forces of a
//! three-node edge cannot (a concave pressure has a negative end force). A shape function's load and its weighted gap use the same
//! integrals, so the compliance is symmetric and contact is a convex quadratic programme in the pressures.
//!
//! Beside a pad edge the pressure grows like `distance^-1/2`. The first shape function has the same centre of force as that law over
//! one element, but a contact zone narrower than the element lies closer to the edge. So on a mesh each edge also has a line force of
//! its own; the least energy decides how the two share. As the mesh is refined the line force goes to nothing. On a body whose
//! compliance to a line force has no bound (a series), the elements are graded to the edge instead.
//!
//! Nothing here knows a mesh: a body turns the segments of a degree of freedom into whatever loads it has.

use std::f64::consts::TAU;

use super::face::face_radius;
use crate::geometry::Surface;
use crate::scheme::Body;

/// Three-point Gauss rule on `[0, 1]`.
pub(crate) const GAUSS: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// Share of the radii that a gap is the difference of, within which it is their rounding and the face touches.
const TOUCHING: f64 = 8.0 * f64::EPSILON;

/// What a pressure degree of freedom is spread over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spread {
    /// A shape function over the elements beside an element end.
    Shape,
    /// A line force at a pad edge, given as the pressure that would make it over a quarter of the shape function beside it.
    EdgeForce,
}

/// A load that is linear in the angle from one angle to another; a line load where they are one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Segment {
    /// Reference angle of its ends, rad, `from <= to`.
    pub from: f64,
    pub to: f64,
    /// Area (mm2 a radian) that a unit pressure acts on at both ends: force a radian per pressure; of a line load the area itself, mm2,
    /// at `from`.
    pub density: [f64; 2],
}

impl Segment {
    /// Whether it is a line load.
    pub fn is_line(&self) -> bool {
        self.to <= self.from
    }

    /// Density at a share of its width, mm2/rad.
    pub fn at(&self, share: f64) -> f64 {
        self.density[0] + share * (self.density[1] - self.density[0])
    }

    /// The same in equal pieces of at most this width, rad.
    pub fn split(&self, widest: f64) -> impl Iterator<Item = Segment> {
        let (segment, width) = (*self, self.to - self.from);
        let pieces = (width / widest).ceil().max(1.0);
        (0..pieces as usize).map(move |k| {
            let (a, b) = (k as f64 / pieces, (k + 1) as f64 / pieces);
            Segment {
                from: segment.from + a * width,
                to: segment.from + b * width,
                density: [segment.at(a), segment.at(b)],
            }
        })
    }

    /// Its integral, mm2.
    pub fn area(&self) -> f64 {
        if self.is_line() {
            self.density[0]
        } else {
            0.5 * (self.density[0] + self.density[1]) * (self.to - self.from)
        }
    }

    /// Points and weights (mm2) that integrate a smooth function times the density.
    pub fn rule(&self) -> impl Iterator<Item = (f64, f64)> {
        let (segment, width) = (*self, self.to - self.from);
        let points = if self.is_line() { 1 } else { GAUSS.len() };
        (0..points).map(move |k| {
            if segment.is_line() {
                (segment.from, segment.density[0])
            } else {
                let (x, w) = GAUSS[k];
                (segment.from + x * width, w * width * segment.at(x))
            }
        })
    }
}

/// A wall of a hold: the part, or one of the sleeves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct WallId(usize);

impl WallId {
    pub const PART: Self = Self(0);

    /// A sleeve of the hold, numbered from 0.
    pub fn sleeve(number: usize) -> Self {
        Self(number + 1)
    }

    /// Its place in a list of all walls, the part first.
    pub fn place(self) -> usize {
        self.0
    }
}

/// A surface that a pressure acts on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Pressed {
    /// Of which wall.
    pub wall: WallId,
    pub surface: Surface,
}

/// One pressure degree of freedom of a pad.
#[derive(Clone, Debug)]
pub(super) struct PressureDof {
    /// What it is spread over.
    pub spread: Spread,
    /// Body it belongs to.
    pub body: usize,
    /// Piece of its pad: 1 beyond a relieved middle.
    pub piece: usize,
    /// Middle of the piece from the body's axis, rad.
    pub middle: f64,
    /// Its place among the shape functions of its piece.
    pub place: usize,
    /// Where an elastic layer covers the face: weighted gap (mm3) per pressure (MPa) of those at these places.
    pub layer: Vec<(usize, f64)>,
    /// Reference angle from the body's axis, rad.
    pub t: f64,
    /// Where and how densely it presses.
    pub segments: Vec<Segment>,
    /// What it presses on: the part, a sleeve, or both where it is between them.
    pub presses: Vec<Pressed>,
    /// Resultant of a unit pressure along the body's axis, N per MPa: also how the gap closes with the approach of the body.
    pub along: f64,
    /// Integral of the shape function over the nominal surface, mm2: turns weighted gaps into gaps.
    pub area: f64,
    /// Weighted gap at zero approach with the part at rest, mm3.
    pub gap: f64,
}

/// What a pad stands against: the surface as it was when the step began (mm over rad), and the nominal radius.
pub(super) struct Against<'a> {
    pub outline: &'a dyn Fn(f64) -> f64,
    pub nominal_radius: f64,
    pub length: f64,
}

/// Which face: of which body, which piece of its pad, and where it stands (mm).
#[derive(Clone)]
pub(super) struct PadPosition {
    pub body: usize,
    pub piece: usize,
    pub position: f64,
    /// Whether it goes round the part, so that its force is the integral of its pressure and not a resultant along an axis.
    pub round: bool,
    pub presses: Vec<Pressed>,
}

/// Element ends of a piece of a pad, rad, increasing (beyond a turn where the piece goes over it); a full circle repeats its first end
/// a turn on.
pub(super) struct Ends {
    pub angles: Vec<f64>,
    pub closed: bool,
    /// Whether the edges of the pad have line forces besides.
    pub edge_forces: bool,
}

/// The pressure degrees of freedom of a piece of a pad: shape functions from edge to edge, then the two edge forces. An elastic layer
/// keeps the pressure at its edges finite, so there a pad has no edge forces.
pub(super) fn pressure_dofs(
    ends: &Ends,
    body: &Body,
    at: &PadPosition,
    against: &Against,
) -> Vec<PressureDof> {
    let from_axis = |theta: f64| {
        let t = (theta - body.angle).rem_euclid(TAU);
        if t > 0.5 * TAU { t - TAU } else { t }
    };
    let [from, to] = body.pieces()[at.piece];
    let edges = ends.angles.len() - 1;
    let scale = against.nominal_radius * against.length;
    let empty = |spread: Spread, k: usize| PressureDof {
        spread,
        body: at.body,
        piece: at.piece,
        middle: 0.5 * (from + to),
        place: k,
        layer: Vec::new(),
        t: from_axis(ends.angles[k]),
        segments: Vec::with_capacity(2),
        presses: at.presses.clone(),
        along: 0.0,
        area: 0.0,
        gap: 0.0,
    };
    let count = if ends.closed { edges } else { edges + 1 };
    let mut list: Vec<PressureDof> = (0..count).map(|k| empty(Spread::Shape, k)).collect();
    let share = |t: f64| if at.round { 1.0 } else { t.cos() };
    let gap = |theta: f64, t: f64| gap_at(body, at, against, theta, t);
    for k in 0..edges {
        let (t0, width) = (ends.angles[k], ends.angles[k + 1] - ends.angles[k]);
        for end in 0..2 {
            list[(k + end) % count].segments.push(Segment {
                from: t0,
                to: t0 + width,
                density: [scale * (1 - end) as f64, scale * end as f64],
            });
        }
        for (x, w) in GAUSS {
            let theta = t0 + width * x;
            let t = from_axis(theta);
            let (gap, shapes) = (gap(theta, t), [1.0 - x, x]);
            for end in 0..2 {
                let da = shapes[end] * w * width * scale;
                let dof = &mut list[(k + end) % count];
                dof.add(share(t), da, gap);
                if let Some(layer) = body.layer {
                    for (other, shape) in shapes.into_iter().enumerate() {
                        dof.add_layer((k + other) % count, layer.compliance() * da * shape);
                    }
                }
            }
        }
    }
    if ends.closed || body.layer.is_some() || !ends.edge_forces {
        return list;
    }
    for k in [0, edges] {
        let mut force = empty(Spread::EdgeForce, k);
        let theta = ends.angles[k];
        let area = 0.25 * list[k].area;
        force.segments.push(Segment {
            from: theta,
            to: theta,
            density: [area, area],
        });
        let along = share(force.t);
        force.add(along, area, gap(theta, force.t));
        list.push(force);
    }
    list
}

/// Gap between a face and what it stands against, mm, at an angle (rad) that lies `t` from the body's axis; rounding is taken for a touch.
fn gap_at(body: &Body, at: &PadPosition, against: &Against, theta: f64, t: f64) -> f64 {
    let inward = -body.surface.outward();
    let (stands, part) = (
        face_radius(body.face, body.surface, at.position, t),
        (against.outline)(theta),
    );
    let gap = -inward * (stands - part);
    let rounding = TOUCHING * (at.position.abs() + stands.abs() + part);
    if gap.abs() > rounding { gap } else { 0.0 }
}

impl PressureDof {
    /// Adds the share of one integration point: its area, share along the axis and gap.
    fn add(&mut self, along: f64, area: f64, gap: f64) {
        self.along += area * along;
        self.area += area;
        self.gap += area * gap;
    }

    fn add_layer(&mut self, place: usize, compliance: f64) {
        match self.layer.iter_mut().find(|l| l.0 == place) {
            Some(l) => l.1 += compliance,
            None => self.layer.push((place, compliance)),
        }
    }

    /// The surface of a wall that it presses on, if it does.
    pub fn on(&self, wall: WallId) -> Option<Surface> {
        let on = self.presses.iter().find(|p| p.wall == wall);
        on.map(|p| p.surface)
    }

    /// Whether it presses on the part itself.
    pub fn on_part(&self) -> bool {
        self.on(WallId::PART).is_some()
    }
}
