//! The stiffness of several elements applied at once, one element in each lane of the processor's vectors.
//!
//! The same quadrature as [`internal_force`](super::internal_force), in one order in every lane. The displacement's gradient is formed in the
//! reference square and turned into space once a point, not once a node, and so are the forces on their way back.

use super::{PlaneStress, stiffness_rule};

/// Elements side by side.
pub const LANES: usize = 4;

/// A number of every element.
pub type Lanes = [f64; LANES];

/// Coordinates (mm) and displacements (mm) of the nodes of elements side by side: `[node][component][lane]`.
#[derive(Default)]
pub struct Abreast {
    /// Coordinates.
    pub coords: [[Lanes; 2]; 8],
    /// Displacements.
    pub displacement: [[Lanes; 2]; 8],
}

#[inline(always)]
fn lanes(of: impl Fn(usize) -> f64) -> Lanes {
    let mut all = [0.0; LANES];
    for (l, v) in all.iter_mut().enumerate() {
        *v = of(l);
    }
    all
}

/// Nodal forces (N) that hold the displacements: `[node][component][lane]`.
///
/// # Errors
/// The lane of an element whose Jacobian is not positive at every integration point.
#[inline(always)]
pub fn internal_forces_abreast(
    law: &PlaneStress,
    elements: &Abreast,
) -> Result<[[Lanes; 2]; 8], usize> {
    let [d11, d12, d33] = law.moduli();
    let Abreast {
        coords,
        displacement,
    } = elements;
    let mut forces = [[[0.0; LANES]; 2]; 8];
    for point in stiffness_rule() {
        let mut j = [[[0.0; LANES]; 2]; 2];
        for (c, g) in coords.iter().zip(&point.gradient) {
            for a in 0..2 {
                for b in 0..2 {
                    for l in 0..LANES {
                        j[a][b][l] += g[a] * c[b][l];
                    }
                }
            }
        }
        let det = lanes(|l| j[0][0][l] * j[1][1][l] - j[0][1][l] * j[1][0][l]);
        if let Some(lane) = det.iter().position(|d| d.is_nan() || *d <= 0.0) {
            return Err(lane);
        }
        // gradient of the displacement in the reference square, then in space
        let mut h = [[[0.0; LANES]; 2]; 2];
        for (u, g) in displacement.iter().zip(&point.gradient) {
            for a in 0..2 {
                for b in 0..2 {
                    for l in 0..LANES {
                        h[a][b][l] += g[a] * u[b][l];
                    }
                }
            }
        }
        let inv = lanes(|l| 1.0 / det[l]);
        let along_x =
            |c: usize| lanes(|l| inv[l] * (j[1][1][l] * h[0][c][l] - j[0][1][l] * h[1][c][l]));
        let along_y =
            |c: usize| lanes(|l| inv[l] * (j[0][0][l] * h[1][c][l] - j[1][0][l] * h[0][c][l]));
        let (exx, vx) = (along_x(0), along_x(1));
        let (uy, eyy) = (along_y(0), along_y(1));
        let w = point.weight * law.thickness;
        // stress times the volume, and with it what goes to the reference square: B' sigma = J^-1 (sigma w det) along each axis
        let sxx = lanes(|l| w * (d11 * exx[l] + d12 * eyy[l]));
        let syy = lanes(|l| w * (d12 * exx[l] + d11 * eyy[l]));
        let sxy = lanes(|l| w * d33 * (uy[l] + vx[l]));
        let p = [
            lanes(|l| j[1][1][l] * sxx[l] - j[1][0][l] * sxy[l]),
            lanes(|l| j[0][0][l] * sxy[l] - j[0][1][l] * sxx[l]),
        ];
        let q = [
            lanes(|l| j[1][1][l] * sxy[l] - j[1][0][l] * syy[l]),
            lanes(|l| j[0][0][l] * syy[l] - j[0][1][l] * sxy[l]),
        ];
        for (f, g) in forces.iter_mut().zip(&point.gradient) {
            for l in 0..LANES {
                f[0][l] += g[0] * p[0][l] + g[1] * p[1][l];
                f[1][l] += g[0] * q[0][l] + g[1] * q[1][l];
            }
        }
    }
    Ok(forces)
}
