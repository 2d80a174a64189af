//! Whether the ends of a slit sleeve meet when it is squeezed.

use super::{Clamp, Clamped, ContactError};
use crate::mesh::Mesh;
use crate::scheme::Sleeve;

/// How far the ends of a sleeve's slit come together in a state of the hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlitClosing {
    /// The sleeve, from 0 over the whole hold.
    pub sleeve: usize,
    /// By how much its ends approach each other along the circumference where they come nearest, mm; negative where they part.
    pub closes: f64,
}

impl Clamp {
    /// Checks that the slits of sleeves stay open in a closed state: nothing of the model keeps their ends from passing through each other. A
    /// slit is taken to be as wide through the wall as at the face, as a saw leaves it.
    ///
    /// # Errors
    /// [`ContactError::SlitCloses`].
    pub fn check_slits(&self, state: &Clamped) -> Result<(), ContactError> {
        for slit in &state.slits {
            let sleeve = &self.sleeves()[slit.sleeve];
            let width = slit_width(sleeve);
            if slit.closes >= width {
                return Err(ContactError::SlitCloses {
                    surface: sleeve.surface,
                    width,
                    closes: slit.closes,
                });
            }
        }
        Ok(())
    }
}

/// Width of a sleeve's slit across its face, mm.
fn slit_width(sleeve: &Sleeve) -> f64 {
    sleeve
        .slit
        .map_or(f64::INFINITY, |[_, half]| 2.0 * sleeve.radius * half.sin())
}

/// How far the ends of a meshed sleeve come together where they come nearest, mm, from the displacement of its nodes (mm); `None` for one
/// without a slit.
pub(super) fn closes(sleeve: &Sleeve, mesh: &Mesh, displacement: &[[f64; 2]]) -> Option<f64> {
    let [middle, _] = sleeve.slit?;
    let along = [-middle.sin(), middle.cos()];
    let last_line = mesh.angles().len() - 1;
    let at = |line: usize, row: usize| {
        let u = displacement[mesh.node(line, row)];
        along[0] * u[0] + along[1] * u[1]
    };
    // the mesh begins behind the slit and ends before it
    let rows = 0..=2 * mesh.through();
    Some(
        rows.map(|row| at(last_line, row) - at(0, row))
            .fold(f64::NEG_INFINITY, f64::max),
    )
}
