//! The eight-node quadrilateral: shape functions, quadrature, stiffness and stress, here in plane stress, in [`meridian`] as a body of revolution.
//!
//! Serendipity shape functions and node order as in VTK cell type 23: corners counter-clockwise, then the middles
//! of the sides in the same order. Integration is 3 by 3 Gauss, which is exact for the stiffness of a
//! parallelogram and leaves no zero-energy mode beside the rigid ones. Stress is evaluated at the 2 by 2 Gauss points,
//! where it is one order better than elsewhere (Barlow 1976), and carried bilinearly to the nodes.
//!
//! Source of the shape functions: Zienkiewicz and Taylor, *The Finite Element Method*, vol. 1, serendipity family (volume from memory).

mod abreast;
pub mod meridian;

use std::sync::OnceLock;

pub(crate) use abreast::{Abreast, internal_forces_abreast};

/// Position of the nodes in the reference square.
pub const NODE_POSITIONS: [[f64; 2]; 8] = [
    [-1.0, -1.0],
    [1.0, -1.0],
    [1.0, 1.0],
    [-1.0, 1.0],
    [0.0, -1.0],
    [1.0, 0.0],
    [0.0, 1.0],
    [-1.0, 0.0],
];

/// Number of entries of the lower triangle of an element's stiffness, in 2 by 2 node blocks.
pub const NODE_PAIRS: usize = 36;

/// Isotropic plane stress of a slice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaneStress {
    /// Young's modulus, MPa.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
    /// Axial length of the slice, mm.
    pub thickness: f64,
}

impl PlaneStress {
    /// `[d11, d12, d33]` of `sigma = D eps` with engineering shear, MPa.
    pub fn moduli(&self) -> [f64; 3] {
        let d11 = self.young_modulus / (1.0 - self.poisson_ratio * self.poisson_ratio);
        [
            d11,
            self.poisson_ratio * d11,
            0.5 * (1.0 - self.poisson_ratio) * d11,
        ]
    }

    /// Stress `[xx, yy, xy]` of a displacement gradient `[[du/dx, du/dy], [dv/dx, dv/dy]]`, MPa.
    pub fn stress(&self, g: [[f64; 2]; 2]) -> [f64; 3] {
        let [d11, d12, d33] = self.moduli();
        let (exx, eyy) = (g[0][0], g[1][1]);
        [
            d11 * exx + d12 * eyy,
            d12 * exx + d11 * eyy,
            d33 * (g[0][1] + g[1][0]),
        ]
    }
}

/// Von Mises stress of plane stress `[xx, yy, xy]`.
pub fn von_mises(s: [f64; 3]) -> f64 {
    (s[0] * s[0] - s[0] * s[1] + s[1] * s[1] + 3.0 * s[2] * s[2]).sqrt()
}

/// Von Mises stress of `[xx, yy, xy]` in the plane and a normal stress across it.
pub fn von_mises_with_axial(s: [f64; 3], axial: f64) -> f64 {
    let v = von_mises(s);
    (v * v + axial * (axial - s[0] - s[1])).sqrt()
}

/// Shape functions at a point of the reference square.
pub fn shape(x: f64, y: f64) -> [f64; 8] {
    NODE_POSITIONS.map(|[a, b]| {
        if a == 0.0 {
            0.5 * (1.0 - x * x) * (1.0 + b * y)
        } else if b == 0.0 {
            0.5 * (1.0 + a * x) * (1.0 - y * y)
        } else {
            0.25 * (1.0 + a * x) * (1.0 + b * y) * (a * x + b * y - 1.0)
        }
    })
}

/// Derivatives of the shape functions in the reference square.
pub fn shape_gradient(x: f64, y: f64) -> [[f64; 2]; 8] {
    NODE_POSITIONS.map(|[a, b]| {
        if a == 0.0 {
            [-x * (1.0 + b * y), 0.5 * (1.0 - x * x) * b]
        } else if b == 0.0 {
            [0.5 * a * (1.0 - y * y), -(1.0 + a * x) * y]
        } else {
            [
                0.25 * a * (1.0 + b * y) * (2.0 * a * x + b * y),
                0.25 * b * (1.0 + a * x) * (a * x + 2.0 * b * y),
            ]
        }
    })
}

/// A quadrature point: weight, shape functions and their derivatives in the reference square.
pub struct Point {
    /// Weight; the weights of a rule sum to 4.
    pub weight: f64,
    /// Shape functions.
    pub shape: [f64; 8],
    /// Their derivatives.
    pub gradient: [[f64; 2]; 8],
}

/// Gauss product rule of `n` (2 or 3) points a side.
fn product_rule(points: &[(f64, f64)]) -> Vec<Point> {
    points
        .iter()
        .flat_map(|&(y, wy)| points.iter().map(move |&(x, wx)| (x, y, wx * wy)))
        .map(|(x, y, weight)| Point {
            weight,
            shape: shape(x, y),
            gradient: shape_gradient(x, y),
        })
        .collect()
}

/// The rule of the stiffness: 3 by 3 Gauss.
pub fn stiffness_rule() -> &'static [Point] {
    static RULE: OnceLock<Vec<Point>> = OnceLock::new();
    RULE.get_or_init(|| {
        let a = (0.6_f64).sqrt();
        product_rule(&[(-a, 5.0 / 9.0), (0.0, 8.0 / 9.0), (a, 5.0 / 9.0)])
    })
}

/// The rule of the stress: 2 by 2 Gauss, in the order (-,-), (+,-), (-,+), (+,+).
fn stress_rule() -> &'static [Point] {
    static RULE: OnceLock<Vec<Point>> = OnceLock::new();
    RULE.get_or_init(|| {
        let a = (1.0_f64 / 3.0).sqrt();
        product_rule(&[(-a, 1.0), (a, 1.0)])
    })
}

/// An inverted element: its map from the reference square is not one to one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InvertedElement;

/// Jacobian determinant and gradients in space, `[d/dx, d/dy]` of each shape function.
#[inline(always)]
pub(crate) fn spatial_gradients(
    coords: &[[f64; 2]; 8],
    gradient: &[[f64; 2]; 8],
) -> (f64, [f64; 8], [f64; 8]) {
    let mut j = [[0.0; 2]; 2];
    for (c, g) in coords.iter().zip(gradient) {
        j[0][0] += g[0] * c[0];
        j[0][1] += g[0] * c[1];
        j[1][0] += g[1] * c[0];
        j[1][1] += g[1] * c[1];
    }
    let det = j[0][0] * j[1][1] - j[0][1] * j[1][0];
    let inv = 1.0 / det;
    let (mut gx, mut gy) = ([0.0; 8], [0.0; 8]);
    for (n, g) in gradient.iter().enumerate() {
        gx[n] = inv * (j[1][1] * g[0] - j[0][1] * g[1]);
        gy[n] = inv * (j[0][0] * g[1] - j[1][0] * g[0]);
    }
    (det, gx, gy)
}

/// Stiffness as 2 by 2 blocks of the node pairs `(a, b)`, `b <= a`, row by row of the lower triangle:
/// `[xx, xy, yx, yy]` with the row of `a` and the column of `b`. N/mm.
///
/// # Errors
/// [`InvertedElement`] if the Jacobian is not positive at every integration point.
#[inline(always)]
pub fn stiffness(
    law: &PlaneStress,
    coords: &[[f64; 2]; 8],
    out: &mut [[f64; 4]; NODE_PAIRS],
) -> Result<(), InvertedElement> {
    let [d11, d12, d33] = law.moduli();
    // sums over the points of w dN_a/dx dN_b/dx and so on; the law enters once a pair, not once a point
    let mut xx = [[0.0; 8]; 8];
    let mut xy = [[0.0; 8]; 8];
    let mut yy = [[0.0; 8]; 8];
    for point in stiffness_rule() {
        let (det, gx, gy) = spatial_gradients(coords, &point.gradient);
        if det.is_nan() || det <= 0.0 {
            return Err(InvertedElement);
        }
        let w = det * point.weight * law.thickness;
        for a in 0..8 {
            let (wx, wy) = (w * gx[a], w * gy[a]);
            for b in 0..8 {
                xx[a][b] += wx * gx[b];
                xy[a][b] += wx * gy[b];
                yy[a][b] += wy * gy[b];
            }
        }
    }
    let mut k = 0;
    for a in 0..8 {
        for b in 0..=a {
            let (sxx, sxy, syx, syy) = (xx[a][b], xy[a][b], xy[b][a], yy[a][b]);
            out[k] = [
                d11 * sxx + d33 * syy,
                d12 * sxy + d33 * syx,
                d12 * syx + d33 * sxy,
                d11 * syy + d33 * sxx,
            ];
            k += 1;
        }
    }
    Ok(())
}

/// Nodal forces (N) that hold nodal displacements (mm): the stiffness times them, without being made.
///
/// # Errors
/// [`InvertedElement`] if the Jacobian is not positive at every integration point.
#[inline(always)]
pub fn internal_force(
    law: &PlaneStress,
    coords: &[[f64; 2]; 8],
    displacement: &[[f64; 2]; 8],
) -> Result<[[f64; 2]; 8], InvertedElement> {
    let [d11, d12, d33] = law.moduli();
    let (mut fx, mut fy) = ([0.0; 8], [0.0; 8]);
    for point in stiffness_rule() {
        let (det, gx, gy) = spatial_gradients(coords, &point.gradient);
        if det.is_nan() || det <= 0.0 {
            return Err(InvertedElement);
        }
        let w = det * point.weight * law.thickness;
        let (mut exx, mut eyy, mut exy) = (0.0, 0.0, 0.0);
        for (n, [u, v]) in displacement.iter().enumerate() {
            exx += gx[n] * u;
            eyy += gy[n] * v;
            exy += gy[n] * u + gx[n] * v;
        }
        let sxx = w * (d11 * exx + d12 * eyy);
        let syy = w * (d12 * exx + d11 * eyy);
        let sxy = w * d33 * exy;
        for n in 0..8 {
            fx[n] += gx[n] * sxx + gy[n] * sxy;
            fy[n] += gy[n] * syy + gx[n] * sxy;
        }
    }
    Ok(std::array::from_fn(|n| [fx[n], fy[n]]))
}

/// Nodal forces that balance an initial stress: `f_a = -∫ B_a' sigma0 dV` with `sigma0(x, y)` as `[xx, yy, xy]`, MPa.
/// Applied as loads they let the stress relax.
pub fn initial_stress_load(
    law: &PlaneStress,
    coords: &[[f64; 2]; 8],
    initial: &dyn Fn([f64; 2]) -> [f64; 3],
) -> [[f64; 2]; 8] {
    let mut load = [[0.0; 2]; 8];
    for point in stiffness_rule() {
        let (det, gx, gy) = spatial_gradients(coords, &point.gradient);
        let w = det * point.weight * law.thickness;
        let s = initial(position(coords, &point.shape));
        for a in 0..8 {
            load[a][0] -= w * (gx[a] * s[0] + gy[a] * s[2]);
            load[a][1] -= w * (gx[a] * s[2] + gy[a] * s[1]);
        }
    }
    load
}

/// Volume that goes with each node, `∫ N_a dV`, mm3; a body force is shared in this proportion.
pub fn volumes(law: &PlaneStress, coords: &[[f64; 2]; 8]) -> [f64; 8] {
    let mut volumes = [0.0; 8];
    for point in stiffness_rule() {
        let (det, _, _) = spatial_gradients(coords, &point.gradient);
        for (v, n) in volumes.iter_mut().zip(&point.shape) {
            *v += det * point.weight * law.thickness * n;
        }
    }
    volumes
}

/// Position of a point with these shape functions.
pub fn position(coords: &[[f64; 2]; 8], shape: &[f64; 8]) -> [f64; 2] {
    let mut p = [0.0; 2];
    for (c, n) in coords.iter().zip(shape) {
        p[0] += n * c[0];
        p[1] += n * c[1];
    }
    p
}

/// Stress `[xx, yy, xy]` at the nodes, MPa: `D eps + sigma0` at the 2 by 2 points, extrapolated bilinearly.
pub fn nodal_stress(
    law: &PlaneStress,
    coords: &[[f64; 2]; 8],
    displacement: &[[f64; 2]; 8],
    initial: &dyn Fn([f64; 2]) -> [f64; 3],
) -> [[f64; 3]; 8] {
    let mut at_points = [[0.0; 3]; 4];
    for (s, point) in at_points.iter_mut().zip(stress_rule()) {
        let (_, gx, gy) = spatial_gradients(coords, &point.gradient);
        let mut g = [[0.0; 2]; 2];
        for (n, u) in displacement.iter().enumerate() {
            for c in 0..2 {
                g[c][0] += gx[n] * u[c];
                g[c][1] += gy[n] * u[c];
            }
        }
        let (elastic, zero) = (law.stress(g), initial(position(coords, &point.shape)));
        *s = std::array::from_fn(|c| elastic[c] + zero[c]);
    }
    to_nodes(&at_points)
}

/// Values at the 2 by 2 points carried bilinearly to the nodes.
fn to_nodes<const N: usize>(at_points: &[[f64; N]; 4]) -> [[f64; N]; 8] {
    let reach = 3.0_f64.sqrt();
    NODE_POSITIONS.map(|[x, y]| {
        let (px, py) = (reach * x, reach * y);
        let w = [
            0.25 * (1.0 - px) * (1.0 - py),
            0.25 * (1.0 + px) * (1.0 - py),
            0.25 * (1.0 - px) * (1.0 + py),
            0.25 * (1.0 + px) * (1.0 + py),
        ];
        std::array::from_fn(|c| (0..4).map(|p| w[p] * at_points[p][c]).sum())
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn shape_functions_are_nodal_and_sum_to_one() {
        for (n, p) in NODE_POSITIONS.iter().enumerate() {
            let s = shape(p[0], p[1]);
            for (m, v) in s.iter().enumerate() {
                assert!((v - if m == n { 1.0 } else { 0.0 }).abs() < 1e-15);
            }
        }
        for (x, y) in [(0.3, -0.7), (-0.11, 0.95), (0.5, 0.5)] {
            assert!((shape(x, y).iter().sum::<f64>() - 1.0).abs() < 1e-15);
            let h = 1e-6;
            let g = shape_gradient(x, y);
            for (n, g) in g.iter().enumerate() {
                let dx = (shape(x + h, y)[n] - shape(x - h, y)[n]) / (2.0 * h);
                let dy = (shape(x, y + h)[n] - shape(x, y - h)[n]) / (2.0 * h);
                assert!((g[0] - dx).abs() < 1e-9 && (g[1] - dy).abs() < 1e-9);
            }
        }
    }
}
