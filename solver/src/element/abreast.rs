//! The stiffness of several elements applied at once, one element in each lane of the processor's vectors.
//!
//! The same quadrature as [`internal_force`](super::internal_force), in one order in every lane. The displacement's gradient is formed in
//! the reference square and turned into space once a point, not once a node, and so are the forces on their way back.

use pulp::Simd;

use super::{PlaneStress, stiffness_rule};

/// Values of the nodes of elements side by side: `[node][component]`, one element a lane.
pub type Abreast<S> = [[<S as Simd>::f64s; 2]; 8];

/// Nodal forces (N) that hold displacements (mm) of nodes at these coordinates (mm), and the least Jacobian determinant of each element, which
/// must be positive (mm2, not a number where one is not).
#[inline(always)]
pub fn internal_forces_abreast<S: Simd>(
    simd: S,
    law: &PlaneStress,
    coords: &Abreast<S>,
    displacement: &Abreast<S>,
) -> (Abreast<S>, S::f64s) {
    let moduli = law.moduli();
    let [d11, d12, d33] = moduli.map(|d| simd.splat_f64s(d * law.thickness));
    let zero = simd.splat_f64s(0.0);
    let mul = |a, b| simd.mul_f64s(a, b);
    let add = |a, b, c| simd.mul_add_f64s(a, b, c);
    // a b - c d
    let cross = |a, b, c, d| simd.sub_f64s(simd.mul_f64s(a, b), simd.mul_f64s(c, d));
    let mut forces = [[zero; 2]; 8];
    let mut least = simd.splat_f64s(f64::INFINITY);
    let mut sum = zero;
    for point in stiffness_rule() {
        let (mut j, mut h) = ([[zero; 2]; 2], [[zero; 2]; 2]);
        for n in 0..8 {
            for a in 0..2 {
                let g = simd.splat_f64s(point.gradient[n][a]);
                for b in 0..2 {
                    j[a][b] = add(g, coords[n][b], j[a][b]);
                    h[a][b] = add(g, displacement[n][b], h[a][b]);
                }
            }
        }
        let det = cross(j[0][0], j[1][1], j[0][1], j[1][0]);
        least = simd.min_f64s(least, det);
        sum = simd.add_f64s(sum, det);
        // derivatives of both components along x and y, times the determinant; stress times the weight and the thickness
        let x = [
            cross(j[1][1], h[0][0], j[0][1], h[1][0]),
            cross(j[1][1], h[0][1], j[0][1], h[1][1]),
        ];
        let y = [
            cross(j[0][0], h[1][0], j[1][0], h[0][0]),
            cross(j[0][0], h[1][1], j[1][0], h[0][1]),
        ];
        let share = simd.div_f64s(simd.splat_f64s(point.weight), det);
        let sxx = mul(share, add(d11, x[0], mul(d12, y[1])));
        let syy = mul(share, add(d12, x[0], mul(d11, y[1])));
        let sxy = mul(mul(share, d33), simd.add_f64s(y[0], x[1]));
        // back to the reference square
        let p = [
            cross(j[1][1], sxx, j[1][0], sxy),
            cross(j[0][0], sxy, j[0][1], sxx),
        ];
        let q = [
            cross(j[1][1], sxy, j[1][0], syy),
            cross(j[0][0], syy, j[0][1], sxy),
        ];
        for (force, gradient) in forces.iter_mut().zip(&point.gradient) {
            for a in 0..2 {
                let g = simd.splat_f64s(gradient[a]);
                force[0] = add(g, p[a], force[0]);
                force[1] = add(g, q[a], force[1]);
            }
        }
    }
    // the sum is not a number where one determinant is none, which a least value may pass over
    let whole = simd.sub_f64s(sum, sum);
    (forces, simd.add_f64s(least, whole))
}
