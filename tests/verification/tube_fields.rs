//! Fields of the first harmonic that quadratic elements hold whole.

use ringwright_solver::element::meridian::{Isotropic, harmonic_nodal_stress};
use ringwright_solver::geometry::Surface;
use ringwright_solver::linear::Factor;
use ringwright_solver::tube::TubeBody;

use crate::tube::tube;

const LAW: Isotropic = Isotropic {
    young_modulus: 72.0,
    poisson_ratio: 0.3,
};

/// A displacement in space, with `x = r cos theta`:
///
/// ```text
/// (p r^2 + q z^2) e_x + s x (x e_x + y e_y) + g x z e_z
/// U = (p + s) r^2 + q z^2     V = -(p r^2 + q z^2)     W = g r z
/// ```
///
/// Its dilation is `(2 p + 3 s + g) x` and its Laplacian `(4 p + 2 q + 2 s) e_x`, so without body force
/// `(lambda + mu)(2 p + 3 s + g) + mu (4 p + 2 q + 2 s) = 0`, which gives `q`.
#[derive(Clone, Copy, Debug)]
struct Quadratic {
    p: f64,
    q: f64,
    s: f64,
    g: f64,
}

impl Quadratic {
    fn balanced([p, s, g]: [f64; 3]) -> Self {
        let [lambda, mu] = LAW.lame();
        let q = -(lambda + mu) * (2.0 * p + 3.0 * s + g) / (2.0 * mu) - 2.0 * p - s;
        Self { p, q, s, g }
    }

    fn amplitudes(&self, [r, z]: [f64; 2]) -> [f64; 3] {
        let across = self.p * r * r + self.q * z * z;
        [across + self.s * r * r, self.g * r * z, -across]
    }

    /// `[rr, zz, hoop, rz, r-theta, z-theta]`.
    fn stress(&self, [r, z]: [f64; 2]) -> [f64; 6] {
        let Self { p, q, s, g } = self;
        let [lambda, mu] = LAW.lame();
        let volume = lambda * (2.0 * p + 3.0 * s + g) * r;
        [
            volume + 4.0 * mu * (p + s) * r,
            volume + 2.0 * mu * g * r,
            volume + 2.0 * mu * s * r,
            mu * (2.0 * q + g) * z,
            -mu * (2.0 * p + s) * r,
            -mu * (2.0 * q + g) * z,
        ]
    }
}

/// Nodal forces of this field's tractions on all four sides, by a rule that integrates them exactly.
fn tractions(body: &TubeBody, field: &Quadratic) -> Vec<[f64; 3]> {
    let mesh = body.mesh();
    let mut load = vec![[0.0; 3]; mesh.coords().len()];
    let mut side = |nodes: [usize; 3], stresses: [usize; 3], sign: f64| {
        let [a, b] = [nodes[0], nodes[2]].map(|n| mesh.coords()[n]);
        let half = 0.5 * (b[0] - a[0]).hypot(b[1] - a[1]);
        let x = 0.6_f64.sqrt();
        for (x, w) in [(-x, 5.0 / 9.0), (0.0, 8.0 / 9.0), (x, 5.0 / 9.0)] {
            let at = [0, 1].map(|c| 0.5 * (a[c] + b[c]) + 0.5 * x * (b[c] - a[c]));
            let stress = field.stress(at);
            let shape = [0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)];
            for (node, n) in nodes.into_iter().zip(shape) {
                for (f, k) in load[node].iter_mut().zip(stresses) {
                    *f += sign * half * w * n * at[0] * stress[k];
                }
            }
        }
    };
    for column in 0..mesh.topology().around() {
        for (surface, sign) in [(Surface::Outer, 1.0), (Surface::Bore, -1.0)] {
            side(mesh.side(column, surface), [0, 3, 4], sign);
        }
    }
    for (face, sign) in mesh.end_faces().iter().zip([-1.0, 1.0]) {
        for element in face.windows(3).step_by(2) {
            side([element[0], element[1], element[2]], [3, 1, 5], sign);
        }
    }
    load
}

/// Three displacement fields of the first harmonic, quadratic in radius and position, under their tractions on outside, bore and both ends: the elements
/// have them among theirs, so displacement, stress and work are met to rounding. Together they span all such fields that are even along the axis, among
/// them pure bending.
/// Truth: analytical; worked out at the field itself
#[test]
fn quadratic_fields_of_the_first_harmonic_are_met_to_rounding() {
    let body = tube([5.0, 3.0, 6.0], LAW, &[0.0, 6.0], [0.4, 1.5, 0.5]);
    let mesh = body.mesh();
    let factor = body.factor(1).unwrap();
    for given in [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]] {
        let field = Quadratic::balanced(given);
        let load = tractions(&body, &field);
        let u = factor.solve(&load).unwrap();
        // the middles of both ends are held across the axis: a shift and a tilt are taken off
        let [start, end] = mesh.end_faces().map(|f| f[f.len() / 2]);
        let across = [start, end].map(|n| field.amplitudes(mesh.coords()[n])[0]);
        let tilt = (across[1] - across[0]) / 6.0;
        let want = |[r, z]: [f64; 2]| {
            let [x, y, v] = field.amplitudes([r, z]);
            let rigid = across[0] + tilt * z;
            [x - rigid, y + tilt * r, v + rigid]
        };
        let largest = u.iter().flatten().fold(0.0, |m: f64, x| m.max(x.abs()));
        let mut apart: f64 = 0.0;
        for (c, u) in mesh.coords().iter().zip(&u) {
            let misses = u.iter().zip(want(*c)).map(|(a, b)| (a - b).abs());
            apart = misses.fold(apart, f64::max);
        }
        assert!(apart < 1e-11 * largest, "{field:?}: {apart:e} of {largest}");
        let top = field
            .stress([5.0, 6.0])
            .iter()
            .fold(0.0, |m: f64, s| m.max(s.abs()));
        let mut missed: f64 = 0.0;
        for (column, layer) in mesh.topology().element_places() {
            let nodes = mesh.topology().element_nodes(column, layer);
            let coords = nodes.map(|n| mesh.coords()[n]);
            let found = harmonic_nodal_stress(&LAW, 1, &coords, &nodes.map(|n| u[n]));
            for (found, at) in found.iter().zip(coords) {
                let misses = found
                    .iter()
                    .zip(field.stress(at))
                    .map(|(a, b)| (a - b).abs());
                missed = misses.fold(missed, f64::max);
            }
        }
        assert!(missed < 1e-10 * top, "{field:?}: {missed:e} of {top}");
    }
}
