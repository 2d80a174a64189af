//! The eight-node quadrilateral written out again from the textbook's polynomials, to check the solver's against: it shares no code with it.
//!
//! Zienkiewicz and Taylor, *The Finite Element Method*, vol. 1 (from memory): serendipity family, nodes in the order of VTK cell type 23.

use ringwright_solver::element::PlaneStress;
use ringwright_solver::mesh::Mesh;

/// Shape functions and their two derivatives at a point of the reference square.
pub fn shape(x: f64, y: f64) -> [[f64; 3]; 8] {
    let (xm, xp, ym, yp) = (1.0 - x, 1.0 + x, 1.0 - y, 1.0 + y);
    [
        [
            -0.25 * xm * ym * (1.0 + x + y),
            0.25 * ym * (2.0 * x + y),
            0.25 * xm * (x + 2.0 * y),
        ],
        [
            -0.25 * xp * ym * (1.0 - x + y),
            0.25 * ym * (2.0 * x - y),
            0.25 * xp * (2.0 * y - x),
        ],
        [
            -0.25 * xp * yp * (1.0 - x - y),
            0.25 * yp * (2.0 * x + y),
            0.25 * xp * (x + 2.0 * y),
        ],
        [
            -0.25 * xm * yp * (1.0 + x - y),
            0.25 * yp * (2.0 * x - y),
            0.25 * xm * (2.0 * y - x),
        ],
        [0.5 * xm * xp * ym, -x * ym, -0.5 * xm * xp],
        [0.5 * xp * ym * yp, 0.5 * ym * yp, -y * xp],
        [0.5 * xm * xp * yp, -x * yp, 0.5 * xm * xp],
        [0.5 * xm * ym * yp, -0.5 * ym * yp, -y * xm],
    ]
}

/// Gauss-Legendre points and weights on `[-1, 1]`: 3 or 4 of them.
///
/// # Panics
/// For any other number.
pub fn gauss(points: usize) -> Vec<(f64, f64)> {
    match points {
        3 => {
            let a = (3.0_f64 / 5.0).sqrt();
            vec![(-a, 5.0 / 9.0), (0.0, 8.0 / 9.0), (a, 5.0 / 9.0)]
        }
        4 => {
            let root = (6.0_f64 / 5.0).sqrt();
            let (a, b) = (
                ((3.0 - 2.0 * root) / 7.0).sqrt(),
                ((3.0 + 2.0 * root) / 7.0).sqrt(),
            );
            let (wa, wb) = (
                (18.0 + 30.0_f64.sqrt()) / 36.0,
                (18.0 - 30.0_f64.sqrt()) / 36.0,
            );
            vec![(-b, wb), (-a, wa), (a, wa), (b, wb)]
        }
        _ => panic!("3 or 4 points"),
    }
}

/// One integration point of an element.
pub struct At {
    /// Position, mm.
    pub position: [f64; 2],
    /// Area it stands for, mm2.
    pub area: f64,
    /// Value and gradient `[N, dN/dx, dN/dy]` of each shape function.
    pub shape: [[f64; 3]; 8],
}

/// The integration points of an element, `points` a side.
pub fn points(coords: &[[f64; 2]; 8], points: usize) -> Vec<At> {
    let rule = gauss(points);
    let mut list = Vec::new();
    for &(x, wx) in &rule {
        for &(y, wy) in &rule {
            let local = shape(x, y);
            let (mut position, mut j) = ([0.0; 2], [[0.0; 2]; 2]);
            for (c, n) in coords.iter().zip(&local) {
                for a in 0..2 {
                    position[a] += n[0] * c[a];
                    j[0][a] += n[1] * c[a];
                    j[1][a] += n[2] * c[a];
                }
            }
            let det = j[0][0] * j[1][1] - j[0][1] * j[1][0];
            let shape = local.map(|[n, dx, dy]| {
                [
                    n,
                    (j[1][1] * dx - j[0][1] * dy) / det,
                    (j[0][0] * dy - j[1][0] * dx) / det,
                ]
            });
            list.push(At {
                position,
                area: wx * wy * det,
                shape,
            });
        }
    }
    list
}

impl At {
    /// Value of a nodal field.
    pub fn value(&self, nodal: &[[f64; 2]; 8]) -> [f64; 2] {
        let mut v = [0.0; 2];
        for (u, n) in nodal.iter().zip(&self.shape) {
            v[0] += n[0] * u[0];
            v[1] += n[0] * u[1];
        }
        v
    }

    /// Strain `[xx, yy, xy]` (engineering shear) of a nodal displacement.
    pub fn strain(&self, nodal: &[[f64; 2]; 8]) -> [f64; 3] {
        let mut e = [0.0; 3];
        for (u, n) in nodal.iter().zip(&self.shape) {
            e[0] += n[1] * u[0];
            e[1] += n[2] * u[1];
            e[2] += n[2] * u[0] + n[1] * u[1];
        }
        e
    }
}

/// Strain energy per volume, N/mm2, by the compliance form of Hooke's law: `E / (2 (1 - nu^2)) (exx^2 + eyy^2 + 2 nu exx eyy) + G gxy^2 / 2`.
pub fn energy_density(law: &PlaneStress, e: [f64; 3]) -> f64 {
    let (young, nu) = (law.young_modulus, law.poisson_ratio);
    let shear = 0.5 * young / (1.0 + nu);
    0.5 * young / (1.0 - nu * nu) * (e[0] * e[0] + e[1] * e[1] + 2.0 * nu * e[0] * e[1])
        + 0.5 * shear * e[2] * e[2]
}

/// Strain energy of a displacement (N mm), integrated with `rule` points a side.
pub fn energy(law: &PlaneStress, mesh: &Mesh, displacement: &[[f64; 2]], rule: usize) -> f64 {
    let mut sum = 0.0;
    for (coords, nodes) in elements(mesh) {
        let u = nodes.map(|n| displacement[n]);
        for at in points(&coords, rule) {
            sum += at.area * law.thickness * energy_density(law, at.strain(&u));
        }
    }
    sum
}

/// Coordinates and nodes of every element.
pub fn elements(mesh: &Mesh) -> impl Iterator<Item = ([[f64; 2]; 8], [usize; 8])> + '_ {
    (0..mesh.around()).flat_map(move |c| {
        (0..mesh.through()).map(move |l| {
            let nodes = mesh.element_nodes(c, l);
            (nodes.map(|n| mesh.coords()[n]), nodes)
        })
    })
}

/// Nodal forces (N) of the stress that a displacement makes: `K u`, element by element, 3 by 3 points.
pub fn forces(law: &PlaneStress, mesh: &Mesh, displacement: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let (young, nu) = (law.young_modulus, law.poisson_ratio);
    let (direct, shear) = (young / (1.0 - nu * nu), 0.5 * young / (1.0 + nu));
    let mut sum = vec![[0.0; 2]; mesh.nodes()];
    for (coords, nodes) in elements(mesh) {
        let u = nodes.map(|n| displacement[n]);
        for at in points(&coords, 3) {
            let e = at.strain(&u);
            let (sx, sy, t) = (
                direct * (e[0] + nu * e[1]),
                direct * (e[1] + nu * e[0]),
                shear * e[2],
            );
            let volume = at.area * law.thickness;
            for (n, [_, dx, dy]) in nodes.into_iter().zip(at.shape) {
                sum[n][0] += volume * (dx * sx + dy * t);
                sum[n][1] += volume * (dx * t + dy * sy);
            }
        }
    }
    sum
}
