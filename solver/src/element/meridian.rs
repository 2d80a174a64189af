//! The eight-node quadrilateral as a piece of the r-z plane of a body of revolution, for displacements of one harmonic.
//!
//! Displacements along `[r, z, theta]` are `[U cos n theta, W cos n theta, V sin n theta]`, their amplitudes `U, W, V` given at the nodes. With
//! `h = N / r` for a shape function `N` the amplitudes of the strains are
//!
//! ```text
//! rr: U,r     zz: W,z     hoop: (U + n V) / r
//! rz: U,z + W,r     r-theta: -n U / r + V,r - V / r     z-theta: V,z - n W / r
//! ```
//!
//! Energy is taken per radian: the square of a cosine or sine over a turn, `pi` (`2 pi` for harmonic 0), is left out of stiffness and loads alike.
//! Loads that vary as `sin n theta`, `-cos n theta` instead see the same stiffness, turned by `pi / 2n`.
//!
//! Source: Zienkiewicz and Taylor, *The Finite Element Method*, semi-analytical finite element processes (chapter from memory).

use super::{
    InvertedElement, NODE_PAIRS, spatial_gradients, stiffness_rule, stress_rule, to_nodes,
};

/// An isotropic elastic solid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Isotropic {
    /// Young's modulus, MPa.
    pub young_modulus: f64,
    /// Poisson's ratio.
    pub poisson_ratio: f64,
}

impl Isotropic {
    /// Lame's constants `[lambda, mu]`, MPa.
    pub fn lame(&self) -> [f64; 2] {
        let (e, nu) = (self.young_modulus, self.poisson_ratio);
        [
            e * nu / ((1.0 + nu) * (1.0 - 2.0 * nu)),
            e / (2.0 * (1.0 + nu)),
        ]
    }
}

/// Stiffness of a harmonic as 3 by 3 blocks of the node pairs `(a, b)`, `b <= a`, row by row of the lower triangle, unknowns `[U, W, V]`; the row of a
/// block belongs to `a`, its column to `b`. N/mm and radian. Nodes are `[r, z]`, mm.
///
/// # Errors
/// [`InvertedElement`] if the Jacobian is not positive at every integration point.
#[inline(always)]
pub fn harmonic_stiffness(
    law: &Isotropic,
    harmonic: u32,
    coords: &[[f64; 2]; 8],
    out: &mut [[[f64; 3]; 3]; NODE_PAIRS],
) -> Result<(), InvertedElement> {
    let [lambda, mu] = law.lame();
    let normal = lambda + 2.0 * mu;
    let n = f64::from(harmonic);
    // sums over the points of w times products of N,r, N,z and h; the law and the harmonic enter once a pair, not once a point
    let (mut rr, mut rz, mut zz) = ([[0.0; 8]; 8], [[0.0; 8]; 8], [[0.0; 8]; 8]);
    let (mut rh, mut zh, mut hh) = ([[0.0; 8]; 8], [[0.0; 8]; 8], [[0.0; 8]; 8]);
    for point in stiffness_rule() {
        let (det, gr, gz) = spatial_gradients(coords, &point.gradient);
        let r: f64 = coords.iter().zip(&point.shape).map(|(c, s)| c[0] * s).sum();
        if det.is_nan() || det <= 0.0 || r <= 0.0 {
            return Err(InvertedElement);
        }
        let w = det * point.weight * r;
        let h = point.shape.map(|s| s / r);
        for a in 0..8 {
            let (wr, wz, wh) = (w * gr[a], w * gz[a], w * h[a]);
            for b in 0..8 {
                rr[a][b] += wr * gr[b];
                rz[a][b] += wr * gz[b];
                zz[a][b] += wz * gz[b];
                rh[a][b] += wr * h[b];
                zh[a][b] += wz * h[b];
                hh[a][b] += wh * h[b];
            }
        }
    }
    let mut k = 0;
    for a in 0..8 {
        for b in 0..=a {
            let (rr, zz, hh) = (rr[a][b], zz[a][b], hh[a][b]);
            let [rz, zr] = [rz[a][b], rz[b][a]];
            let [rh, hr] = [rh[a][b], rh[b][a]];
            let [zh, hz] = [zh[a][b], zh[b][a]];
            let hoop = (lambda + 3.0 * mu) * hh;
            out[k] = [
                [
                    normal * (rr + hh) + lambda * (rh + hr) + mu * (zz + n * n * hh),
                    lambda * (rz + hz) + mu * zr,
                    n * (lambda * rh + hoop - mu * hr),
                ],
                [
                    lambda * (zr + zh) + mu * rz,
                    normal * zz + mu * (rr + n * n * hh),
                    n * (lambda * zh - mu * hz),
                ],
                [
                    n * (lambda * hr + hoop - mu * rh),
                    n * (lambda * hz - mu * zh),
                    n * n * normal * hh + mu * (rr - rh - hr + hh + zz),
                ],
            ];
            k += 1;
        }
    }
    Ok(())
}

/// Amplitudes of the stress `[rr, zz, hoop, rz, r-theta, z-theta]` of a harmonic at the nodes, MPa: the first four go with the cosine, the last two with the
/// sine. Evaluated at the 2 by 2 points and carried bilinearly.
pub fn harmonic_nodal_stress(
    law: &Isotropic,
    harmonic: u32,
    coords: &[[f64; 2]; 8],
    amplitudes: &[[f64; 3]; 8],
) -> [[f64; 6]; 8] {
    let [lambda, mu] = law.lame();
    let n = f64::from(harmonic);
    let mut at_points = [[0.0; 6]; 4];
    for (s, point) in at_points.iter_mut().zip(stress_rule()) {
        let (_, gr, gz) = spatial_gradients(coords, &point.gradient);
        let r: f64 = coords.iter().zip(&point.shape).map(|(c, s)| c[0] * s).sum();
        let mut strain = [0.0; 6];
        for (k, &[u, w, v]) in amplitudes.iter().enumerate() {
            let h = point.shape[k] / r;
            strain[0] += gr[k] * u;
            strain[1] += gz[k] * w;
            strain[2] += h * (u + n * v);
            strain[3] += gz[k] * u + gr[k] * w;
            strain[4] += (gr[k] - h) * v - n * h * u;
            strain[5] += gz[k] * v - n * h * w;
        }
        let volume = lambda * (strain[0] + strain[1] + strain[2]);
        *s = std::array::from_fn(|c| match c {
            0..3 => volume + 2.0 * mu * strain[c],
            _ => mu * strain[c],
        });
    }
    to_nodes(&at_points)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::element::NODE_POSITIONS;

    const LAW: Isotropic = Isotropic {
        young_modulus: 70e3,
        poisson_ratio: 0.33,
    };

    /// A crooked element well off the axis.
    fn coords() -> [[f64; 2]; 8] {
        NODE_POSITIONS.map(|[x, y]| {
            [
                57.0 + 1.5 * x + 0.2 * y + 0.1 * x * y,
                4.0 + 2.0 * y - 0.3 * x,
            ]
        })
    }

    /// Nodal forces that hold these amplitudes.
    fn forces(harmonic: u32, at: &dyn Fn([f64; 2]) -> [f64; 3]) -> [[f64; 3]; 8] {
        let coords = coords();
        let mut blocks = [[[0.0; 3]; 3]; NODE_PAIRS];
        harmonic_stiffness(&LAW, harmonic, &coords, &mut blocks).unwrap();
        let u = coords.map(at);
        let mut f = [[0.0; 3]; 8];
        let mut k = 0;
        for a in 0..8 {
            for b in 0..=a {
                for c in 0..3 {
                    for d in 0..3 {
                        f[a][c] += blocks[k][c][d] * u[b][d];
                        if a != b {
                            f[b][d] += blocks[k][c][d] * u[a][c];
                        }
                    }
                }
                k += 1;
            }
        }
        f
    }

    fn largest(f: [[f64; 3]; 8]) -> f64 {
        f.into_iter().flatten().fold(0.0, |m, x| x.abs().max(m))
    }

    /// A shift along and a turn about the axis (harmonic 0), a shift across it and a tilt (harmonic 1) take no force; the same in another harmonic do.
    #[test]
    fn rigid_bodies_take_no_force() {
        let along = |_: [f64; 2]| [0.0, 1.0, 0.0];
        let turn = |[r, _]: [f64; 2]| [0.0, 0.0, r / 60.0];
        let across = |_: [f64; 2]| [1.0, 0.0, -1.0];
        let tilt = |[r, z]: [f64; 2]| [z / 60.0, -r / 60.0, -z / 60.0];
        for (harmonic, modes) in [
            (0, [&along as &dyn Fn([f64; 2]) -> [f64; 3], &turn]),
            (1, [&across, &tilt]),
        ] {
            for mode in modes {
                assert!(largest(forces(harmonic, mode)) < 1e-8);
                assert!(largest(forces(harmonic + 1, mode)) > 1e3);
            }
        }
    }

    /// `[U, W, V]` of a linear field in space, seen by the harmonic that it has: its stress is the same at every node.
    #[test]
    fn a_linear_field_has_one_stress() {
        let (e, nu) = (LAW.young_modulus, LAW.poisson_ratio);
        // pulled along the axis: harmonic 0
        let found = harmonic_nodal_stress(
            &LAW,
            0,
            &coords(),
            &coords().map(|[r, z]| [-nu * r / e, z / e, 0.0]),
        );
        // sheared in the plane across the axis, u_x = x, u_y = -y: harmonic 2
        let sheared =
            harmonic_nodal_stress(&LAW, 2, &coords(), &coords().map(|[r, _]| [r, 0.0, -r]));
        let mu = LAW.lame()[1];
        for (a, b) in found.iter().zip(&sheared) {
            let want = [0.0, 1.0, 0.0, 0.0, 0.0, 0.0];
            assert!(
                a.iter().zip(want).all(|(x, w)| (x - w).abs() < 1e-9),
                "{a:?}"
            );
            let want = [2.0 * mu, 0.0, -2.0 * mu, 0.0, -2.0 * mu, 0.0];
            let close = |(x, w): (&f64, f64)| (x - w).abs() < 1e-6;
            assert!(b.iter().zip(want).all(close), "{b:?}");
        }
    }
}
