//! What an outline adds to its mean ring, for holds that are locked.

use crate::contact::elastic::Elastic;
use crate::contact::pressure::{PressureDof, WallId};
use crate::contact::section::{MeshedWall, Section};
use crate::linear::Factor;
use crate::mesh::Mesh;

/// A lattice laid through the true outline and through its mean ring, both factored.
#[derive(Clone, Copy)]
pub struct OutlineFactors<'a> {
    /// The true outline.
    pub own: (&'a dyn Factor, &'a Mesh),
    /// Its mean ring.
    pub mean: (&'a dyn Factor, &'a Mesh),
}

/// What an outline adds to the compliances of its mean ring, by finite elements on one lattice: `C_own - C_mean`. Dents are alike on both, so
/// what elements do not show of them cancels.
pub(in crate::contact) struct OutlineAdds<'a> {
    own: Section<&'a dyn Factor>,
    mean: Section<&'a dyn Factor>,
}

impl<'a> OutlineAdds<'a> {
    /// Under pressures that act on the part, what they press besides left out.
    pub fn new(factors: OutlineFactors<'a>, dofs: &[PressureDof]) -> Self {
        let on_part: Vec<PressureDof> = dofs
            .iter()
            .map(|d| PressureDof {
                presses: d
                    .presses
                    .iter()
                    .filter(|p| p.wall == WallId::PART)
                    .copied()
                    .collect(),
                ..d.clone()
            })
            .collect();
        let section = |(factor, mesh): (&'a dyn Factor, &'a Mesh)| {
            Section::new(
                factor,
                &[MeshedWall { mesh, first: 0 }],
                &on_part,
                Vec::new(),
            )
        };
        Self {
            own: section(factors.own),
            mean: section(factors.mean),
        }
    }
}

impl Elastic for OutlineAdds<'_> {
    fn pressures(&self) -> usize {
        self.own.pressures()
    }

    fn rigid_body_modes(&self) -> usize {
        0
    }

    fn rigid_work(&self, _: usize, _: usize) -> f64 {
        0.0
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let mut all = self.all_compliances(&[(pressure, others)]);
        all.swap_remove(0)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let mut adds = self.own.all_compliances(asked);
        for (row, mean) in adds.iter_mut().zip(self.mean.all_compliances(asked)) {
            row.iter_mut().zip(mean).for_each(|(a, m)| *a -= m);
        }
        adds
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut adds = self.own.weighted_displacements(pressures);
        let mean = self.mean.weighted_displacements(pressures);
        adds.iter_mut().zip(mean).for_each(|(a, m)| *a -= m);
        adds
    }
}
