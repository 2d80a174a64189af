//! Where a tool pushes, and with what force.

use std::f64::consts::{PI, TAU};

use crate::contact::pressure::{Pressed, PressureDof, Segment, Spread, WallId};
use crate::contact::surface::patch_segment;
use crate::geometry::Surface;
use crate::scheme::PressurePatch;
use crate::series::Annulus;

/// A tool force at its places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tool {
    /// Where it pushes.
    pub places: ToolPlaces,
    /// Its size, N.
    pub force: f64,
}

/// Times what a free thin ring would give way by that a gap must be open for it never to close.
const NEVER_CLOSES: f64 = 5.0;

impl Tool {
    /// Gaps that are wider stay open under the tool, mm, as long as the wall (of this mean ring) gives way no further than a free ring between two such forces does:
    /// `F R^3 / (E I) (pi^2 / 12 - 11 / 16) / pi` for a ring that does not stretch, `I = b t^3 / 12`, and a few times `F / (E b)` for the dent.
    pub(in crate::contact) fn reach(&self, ring: &Annulus) -> f64 {
        let wall = ring.outer_radius - ring.inner_radius;
        let slender = 0.5 * (ring.outer_radius + ring.inner_radius) / wall;
        let bends = 12.0 * (PI * PI / 12.0 - 11.0 / 16.0) / PI * slender.powi(3);
        NEVER_CLOSES * self.force / (ring.young_modulus * ring.length) * (bends + 5.0)
    }
}

/// Where a tool pushes: equal places on one surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ToolPlaces {
    /// The surface under the tool.
    pub surface: Surface,
    /// How many equal angles from 0.
    pub count: usize,
    /// Half of the arc that the force is spread over, rad.
    pub half_angle: f64,
}

impl ToolPlaces {
    /// Angle of a place, rad.
    pub fn angle(&self, place: usize) -> f64 {
        TAU * place as f64 / self.count as f64
    }

    /// A unit force at each place, then a reading of the displacement at the middle of each, as pressures whose unit is 1 N.
    pub(super) fn dofs(&self) -> Vec<PressureDof> {
        let reading = |place: usize| Segment {
            from: self.angle(place),
            to: self.angle(place),
            density: [1.0, 1.0],
        };
        let mut all = self.forces();
        all.extend((0..self.count).map(|place| self.dof(reading(place))));
        all
    }

    /// A unit force at each place.
    pub(super) fn forces(&self) -> Vec<PressureDof> {
        let force = |place: usize| {
            patch_segment(&PressurePatch {
                surface: self.surface,
                angle: self.angle(place),
                half_angle: self.half_angle,
                force: 1.0,
            })
        };
        (0..self.count).map(|k| self.dof(force(k))).collect()
    }

    fn dof(&self, segment: Segment) -> PressureDof {
        PressureDof {
            spread: Spread::Shape,
            // of no body of the hold
            body: usize::MAX,
            piece: 0,
            middle: 0.0,
            place: 0,
            layer: Vec::new(),
            t: 0.0,
            area: segment.area(),
            segments: vec![segment],
            presses: vec![Pressed {
                wall: WallId::PART,
                surface: self.surface,
            }],
            along: 0.0,
            gap: 0.0,
        }
    }
}
