//! A mean ring: its series, and its factor on the mesh's lattice.

use crate::contact::RoundBody;
use crate::geometry::{Outline, PerSurface, Surface};
use crate::linear::Substructured;
use crate::mesh::Mesh;
use crate::process::ProcessError;
use crate::process::plan::Plan;
use crate::process::statics::ResidualStress;
use crate::process::step::Setting;

/// A mean ring: its series, and its factor on the mesh's lattice.
pub(in crate::process) struct RoundStage {
    pub body: RoundBody,
    pub mesh: Mesh,
    pub factor: Substructured,
}

impl RoundStage {
    pub fn new(setting: &Setting, plan: &Plan, body: RoundBody) -> Result<Self, ProcessError> {
        let law = setting.law();
        let outlines = PerSurface::from_fn(|s| Outline::round(body.annulus().radius(s)));
        let mesh = Mesh::build(&outlines, &plan.ends, &plan.layers, true)?;
        let factor = Substructured::new(&mesh, &law)?;
        Ok(Self { body, mesh, factor })
    }

    /// How far each surface moves when residual stress comes to rest in the mean ring, mm.
    pub fn settled(&self, residual: Option<&ResidualStress>) -> PerSurface<f64> {
        residual.map_or(PerSurface::default(), |r| {
            let annulus = self.body.annulus();
            let at = |s: Surface| r.hoop(annulus.radius(s));
            annulus.settled(at(Surface::Outer), at(Surface::Bore))
        })
    }
}
