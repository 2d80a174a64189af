//! A tube along its length: a body of revolution under loads that vary around it, one harmonic at a time.
//!
//! A load is a sum of `cos n theta` around the axis; each harmonic deforms the r-z plane by itself (`element::meridian`), so a three-dimensional answer
//! is a few small plane solves. Forces are per radian, amplitudes as that module says. All harmonics share one symbolic analysis.
//!
//! Through the wall a solid is `(R / t)^4` times as stiff as in bending, so rounding takes digits of thin walls: 3e-4 is lost at `R / t`
//! 400, a percent at 1000, by that power less below; beyond, answers are wrong without a word (`tests/verification/tube_published.rs`).
//!
//! [`plates`] clamps the ends, [`buckling`] says what axial force they bear as shells.

pub mod buckling;
pub mod field;
pub mod ladder;
pub mod plates;
pub mod response;
pub mod skin;

use std::sync::Arc;

use crate::element::meridian::Isotropic;
use crate::geometry::Surface;
use crate::linear::{
    Analysis, Cholesky, HarmonicStiffness, LinearError, NodeForce, PointConstraint,
};
use crate::mesh::MeridianMesh;

/// Gauss points and weights on `[-1, 1]`: exact for a load that is linear on a side times shape functions and the radius.
const GAUSS: [(f64, f64); 3] = [
    (-0.774_596_669_241_483_4, 5.0 / 9.0),
    (0.0, 8.0 / 9.0),
    (0.774_596_669_241_483_4, 5.0 / 9.0),
];

/// Shape functions of the ends and the middle of a side at `x` in `[-1, 1]`.
fn side_shape(x: f64) -> [f64; 3] {
    [0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)]
}

/// An elastic body of revolution, meshed.
#[derive(Debug)]
pub struct TubeBody {
    mesh: MeridianMesh,
    law: Isotropic,
    analysis: Arc<Analysis<3>>,
    /// Unknowns of the lattice's empty places.
    empty: Vec<PointConstraint>,
    /// Nodes on the axis.
    on_axis: Vec<usize>,
}

impl TubeBody {
    /// Analyses a mesh.
    pub fn new(mesh: MeridianMesh, law: Isotropic) -> Self {
        let analysis = Arc::new(Analysis::new(mesh.topology()));
        let unused = mesh.unused_nodes();
        let of_axis = |n: &usize| mesh.coords()[*n][0] == 0.0 && unused.binary_search(n).is_err();
        Self {
            on_axis: (0..mesh.coords().len()).filter(of_axis).collect(),
            empty: unused
                .iter()
                .flat_map(|&n| [0, 1, 2].map(|c| [n, c]))
                .collect(),
            mesh,
            law,
            analysis,
        }
    }

    /// Its mesh.
    pub fn mesh(&self) -> &MeridianMesh {
        &self.mesh
    }

    /// Its material.
    pub fn law(&self) -> &Isotropic {
        &self.law
    }

    /// The factor of a harmonic. Its rigid-body modes (along and about the axis in harmonic 0, across it and tilting in harmonic 1) are held by single
    /// unknowns, which take no force from loads that balance.
    ///
    /// # Errors
    /// See [`LinearError`].
    pub fn factor(&self, harmonic: u32) -> Result<Cholesky<3>, LinearError> {
        let [start, end] = self.mesh.end_faces().map(|face| face[face.len() / 2]);
        let [middle, ..] = self
            .mesh
            .side(self.mesh.topology().around() / 2, Surface::Outer);
        let held = match harmonic {
            0 => vec![[middle, 1], [middle, 2]],
            1 => vec![[start, 0], [end, 0]],
            _ => Vec::new(),
        };
        self.factor_held(harmonic, &held)
    }

    /// The factor of a harmonic with these unknowns held at zero, and no other but those of its axis.
    ///
    /// # Errors
    /// [`LinearError::NotPositive`] if a motion is left free.
    pub fn factor_held(
        &self,
        harmonic: u32,
        held: &[PointConstraint],
    ) -> Result<Cholesky<3>, LinearError> {
        // what is on the axis and has one value there: along it in harmonic 0, across it in harmonic 1, where both components are one motion, nothing above
        let zero: &[usize] = match harmonic {
            0 => &[0, 2],
            1 => &[1],
            _ => &[0, 1, 2],
        };
        let axis = self
            .on_axis
            .iter()
            .flat_map(|&n| zero.iter().map(move |&c| [n, c]));
        let mut constraints: Vec<PointConstraint> = held.to_vec();
        constraints.extend(axis);
        constraints.extend(&self.empty);
        constraints.sort_unstable();
        constraints.dedup();
        let operator = HarmonicStiffness {
            mesh: &self.mesh,
            law: &self.law,
            harmonic,
        };
        Cholesky::factor(self.analysis.clone(), &operator, &constraints)
    }

    /// Nodal forces (N per radian) of a radial load on a surface: amplitude in N per mm of length and radian, over axial position (mm), between two lines
    /// of the mesh. Positive outwards.
    pub fn radial_load(
        &self,
        surface: Surface,
        [from, to]: [f64; 2],
        amplitude: impl Fn(f64) -> f64,
    ) -> Vec<NodeForce<3>> {
        let mut load = Vec::new();
        for column in 0..self.mesh.topology().around() {
            let [start, middle, end] = [0, 1, 2].map(|k| self.mesh.heights()[2 * column + k]);
            if middle < from || middle > to {
                continue;
            }
            for (k, node) in self.mesh.side(column, surface).into_iter().enumerate() {
                let half = 0.5 * (end - start);
                let at = |&(x, w): &(f64, f64)| w * side_shape(x)[k] * amplitude(middle + x * half);
                let force = half * GAUSS.iter().map(at).sum::<f64>();
                load.push((node, [force, 0.0, 0.0]));
            }
        }
        load
    }

    /// A load on few nodes as one on every node.
    pub fn spread(&self, load: &[NodeForce<3>]) -> Vec<[f64; 3]> {
        let mut all = vec![[0.0; 3]; self.mesh.coords().len()];
        for (node, force) in load {
            for (sum, f) in all[*node].iter_mut().zip(force) {
                *sum += f;
            }
        }
        all
    }

    /// Amplitudes `[r, z, theta]` of a displacement (mm, of every node) at an axial position of a surface.
    pub fn at(&self, surface: Surface, z: f64, displacement: &[[f64; 3]]) -> [f64; 3] {
        let heights = self.mesh.heights();
        let last = self.mesh.topology().around() - 1;
        let column = (heights.partition_point(|&h| h < z).saturating_sub(1) / 2).min(last);
        let [start, end] = [heights[2 * column], heights[2 * column + 2]];
        let shape = side_shape(2.0 * (z - start) / (end - start) - 1.0);
        let nodes = self.mesh.side(column, surface);
        std::array::from_fn(|c| {
            let terms = shape.iter().zip(nodes);
            terms.map(|(s, n)| s * displacement[n][c]).sum()
        })
    }
}
