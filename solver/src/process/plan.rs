//! Where a step's mesh must have lines, and how fine it is beside them.

use crate::case::FixedMesh;
use crate::contact::PadEnds;
use crate::geometry::{PerSurface, Surface};
use crate::mesh::{Grading, equal_between, graded_between, graded_layers};

/// Column ends (rad) and layer ends (fractions of the wall) of a mesh to build.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Plan {
    pub ends: Vec<f64>,
    pub layers: Vec<f64>,
    /// Element ends of the contact, where a round ring's series stands behind it instead of the mesh.
    pub pads: Option<Vec<PadEnds>>,
    /// Whether what is solved on it is compared with a finer one, or serves the search for another force, and no more: the field need not be in
    /// equilibrium to the last digit.
    pub rough: bool,
    /// Whether an error is estimated on it, for which the bound of the unresolved contact is wanted.
    pub judged: bool,
}

impl Plan {
    /// A mesh of the user's own: lines on `marks`, equal elements between, equal layers.
    pub fn fixed(marks: &[f64], mesh: FixedMesh) -> Self {
        let layers = (0..=mesh.through)
            .map(|k| k as f64 / mesh.through as f64)
            .collect();
        Self {
            ends: equal_between(marks, mesh.around),
            layers,
            pads: None,
            rough: false,
            judged: true,
        }
    }

    /// A graded mesh. `refine` divides every size: 1 for a first mesh, 2 for one twice as fine everywhere.
    pub fn graded(marks: &[Grading], scale: Scale, fine: &PerSurface<f64>, refine: f64) -> Self {
        let growth = GROWTH.powf(1.0 / refine);
        let marks: Vec<Grading> = marks
            .iter()
            .map(|m| Grading {
                size: m.size / refine,
                ..*m
            })
            .collect();
        let ends = graded_between(&marks, scale.largest_column() / refine, growth);
        let largest = scale.largest_layer() / refine;
        let layer = |s: Surface| fine.get(s).min(SURFACE_LAYER) / refine;
        let layers = graded_layers(
            layer(Surface::Bore),
            layer(Surface::Outer),
            largest,
            LAYER_GROWTH.powf(1.0 / refine),
        );
        Self {
            ends,
            layers,
            pads: None,
            rough: false,
            judged: true,
        }
    }

    /// Elements round and through.
    pub fn size(&self) -> [usize; 2] {
        [self.ends.len(), self.layers.len() - 1]
    }

    /// Number of elements.
    pub fn elements(&self) -> usize {
        self.ends.len() * (self.layers.len() - 1)
    }
}

/// From one column to the next. At 1.3 there are a quarter more columns, at 2 the driving quantity loses a digit.
const GROWTH: f64 = 1.5;

/// From one layer to the next.
const LAYER_GROWTH: f64 = 2.0;

/// Thickest layer, as a fraction of the wall and of the arc from one load to the next: lobes fade through a thick wall over
/// their own length, a sixth of that arc for each factor of e.
const LARGEST_LAYER: f64 = 0.5;
const LAYER_OF_SPACING: f64 = 0.125;

/// Thickest layer at a surface, fraction of the wall: stress is largest there and is carried out from inside the element. At
/// 0.25 the bore stress under a jaw is 0.7 percent low, at this 0.1.
const SURFACE_LAYER: f64 = 0.12;

/// Size of the section, by which columns are measured.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    /// Mean wall, mm.
    pub wall: f64,
    /// Mean radius, mm.
    pub radius: f64,
    /// Least angle from one load to the next, rad.
    pub spacing: f64,
}

impl Scale {
    /// Widest column, rad. Bending of a thin ring is a matter of `sqrt(R t)`, and four degrees show ninety lobes.
    pub fn largest_column(&self) -> f64 {
        (0.5 * (self.wall / self.radius).sqrt())
            .min(4.0_f64.to_radians())
            .min(0.125 * self.spacing)
    }

    /// Thickest layer, as a fraction of the wall.
    pub fn largest_layer(&self) -> f64 {
        LARGEST_LAYER.min(LAYER_OF_SPACING * self.spacing * self.radius / self.wall)
    }

    /// A length of `walls` wall thicknesses as an angle, rad.
    pub fn angle(&self, walls: f64) -> f64 {
        walls * self.wall / self.radius
    }
}
