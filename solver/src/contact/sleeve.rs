//! Elastic sleeves: a wall of its own between bodies and part, on the same lines as the part's mesh.

use std::f64::consts::TAU;

use super::ContactError;
use super::pressure::{Pressed, WallId};
use super::surface;
use crate::element::PlaneStress;
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::{Cholesky, rigid_body_constraints};
use crate::mesh::{Mesh, graded_layers};
use crate::scheme::Sleeve;

/// Layers of a sleeve at its faces, in its wall: as fine as the part's own, within these.
const FACE_LAYERS: [f64; 2] = [0.002, 0.25];

/// Thickest layer of a sleeve, in its wall, and how much thicker each is than the one before.
const LARGEST_LAYER: f64 = 0.4;
const GROWTH: f64 = 1.8;

/// What a body of the hold stands against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    /// The part.
    OnPart,
    /// The back of a sleeve.
    OnSleeve(usize),
    /// It is the face of a sleeve, against the part.
    AsSleeve(usize),
}

impl Stands {
    /// What pressure on a body that faces this surface presses.
    pub fn presses(self, surface: Surface) -> Vec<Pressed> {
        let on = |wall: WallId, surface: Surface| Pressed { wall, surface };
        match self {
            Self::OnPart => vec![on(WallId::PART, surface)],
            Self::OnSleeve(k) => vec![on(WallId::sleeve(k), surface)],
            Self::AsSleeve(k) => {
                let back = on(WallId::sleeve(k), surface.other());
                vec![on(WallId::PART, surface), back]
            }
        }
    }
}

/// A sleeve meshed and factored for a mesh of the part.
pub(super) struct Wall {
    pub mesh: Mesh,
    pub factor: Cholesky,
    /// Number of its first node, after those of the part and of the sleeves before it.
    pub first: usize,
}

impl Wall {
    /// # Errors
    /// [`ContactError::NoLine`] if the part's mesh has no lines at the slit, [`ContactError::Linear`].
    pub fn new(
        sleeve: Sleeve,
        part: &Mesh,
        length: f64,
        first: usize,
    ) -> Result<Self, ContactError> {
        let face = sleeve.face();
        let span = surface::span(
            part,
            face.angle - face.half_angle,
            face.angle + face.half_angle,
        )
        .ok_or(ContactError::NoLine {
            index: 1,
            angle_deg: face.angle.to_degrees(),
        })?;
        let (angles, lines) = (part.angles(), part.angles().len());
        let start = angles[span.first];
        let count = if span.closed {
            span.edges
        } else {
            span.edges + 1
        };
        let ends: Vec<f64> = (0..count)
            .map(|k| {
                let on = angles[(span.first + 2 * k) % lines] - start;
                start + if k == 0 { 0.0 } else { on.rem_euclid(TAU) }
            })
            .collect();
        let [near, far] = [sleeve.radius, sleeve.back()].map(Outline::round);
        let outlines = match sleeve.surface {
            Surface::Outer => PerSurface {
                outer: far,
                bore: near,
            },
            Surface::Bore => PerSurface {
                outer: near,
                bore: far,
            },
        };
        let layer = outside_layer(part, sleeve.surface) / sleeve.thickness;
        let layer = layer.clamp(FACE_LAYERS[0], FACE_LAYERS[1]);
        let layers = graded_layers(layer, layer, LARGEST_LAYER, GROWTH);
        let mesh = Mesh::build(&outlines, &ends, &layers, span.closed)
            .map_err(|_| ContactError::NoSleeve)?;
        let law = PlaneStress {
            young_modulus: sleeve.young_modulus,
            poisson_ratio: sleeve.poisson_ratio,
            thickness: length,
        };
        let factor = Cholesky::new(&mesh, &law, &rigid_body_constraints(&mesh))?;
        Ok(Self {
            mesh,
            factor,
            first,
        })
    }
}

/// Thickness of the layer of the part next to a surface, mm, where the mesh starts.
fn outside_layer(part: &Mesh, surface: Surface) -> f64 {
    let last = 2 * part.through();
    let [a, b] = match surface {
        Surface::Outer => [last - 2, last],
        Surface::Bore => [0, 2],
    }
    .map(|j| part.coords()[part.node(0, j)]);
    (a[0] - b[0]).hypot(a[1] - b[1])
}
