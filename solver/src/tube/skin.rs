//! The skin between a body of revolution and the true surfaces of a part, and what loads on the surfaces do.

use super::field::{Amplitudes, GRID, NOTHING, SurfaceField, amplitudes, sine, summed};
use super::response::{Responses, SurfaceNodes};
use crate::element::meridian::Isotropic;
use crate::fourier::Complex64;
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, Factor, LinearError, NodeForce, collected};

/// Share of a force below which a harmonic of it is not solved for.
const NO_LOAD: f64 = 1e-14;

/// What a thin skin more or less does: the metal between the body's outline and the true one.
///
/// The skin follows the surface, and with no load on it is in plane stress, so to the first order in its thickness `d` its forces are those of the
/// membrane `d * sigma` with the in-plane stress of the surface. Derived here: the energy of the true body is that of the meshed one and
/// `1/2 integral d sigma(e) : e dS`, whose derivative by the displacement is this load.
#[derive(Clone, Debug)]
pub struct Skin {
    /// Thickness, mm, at the Gauss points of each column and [`GRID`] angles; positive where metal is added.
    thickness: PerSurface<Vec<[Vec<f64>; 3]>>,
}

/// Strains and forces of a column's side at one of its Gauss points.
struct SidePoint {
    shape: [f64; 3],
    /// Derivatives along the axis, 1/mm.
    slope: [f64; 3],
    radius: f64,
    /// Length that it stands for, mm.
    weight: f64,
}

fn side_points(places: &[[f64; 2]; 3]) -> [SidePoint; 3] {
    let half = 0.5 * (places[2][1] - places[0][1]);
    super::GAUSS.map(|(x, w)| {
        let shape = super::side_shape(x);
        let slope = [x - 0.5, -2.0 * x, x + 0.5].map(|d| d / half);
        SidePoint {
            radius: shape.iter().zip(places).map(|(n, p)| n * p[0]).sum(),
            shape,
            slope,
            weight: w * half,
        }
    })
}

impl Skin {
    /// The skin between a body's outline and true radii (mm over surface, column, and position).
    pub fn new(
        surface: &SurfaceNodes,
        mut radius: impl FnMut(Surface, usize, f64) -> Vec<f64>,
    ) -> Self {
        let thickness = PerSurface::from_fn(|s| {
            let columns = surface.places.get(s).iter().enumerate();
            columns
                .map(|(column, places)| {
                    let points = side_points(places);
                    let middle = 0.5 * (places[2][1] + places[0][1]);
                    let half = 0.5 * (places[2][1] - places[0][1]);
                    std::array::from_fn(|k| {
                        let z = middle + half * super::GAUSS[k].0;
                        let own = points[k].radius;
                        let radii = radius(s, column, z);
                        radii.iter().map(|r| s.outward() * (r - own)).collect()
                    })
                })
                .collect()
        });
        Self { thickness }
    }

    /// Largest thickness, mm.
    pub fn largest(&self) -> f64 {
        let all = Surface::BOTH
            .into_iter()
            .flat_map(|s| self.thickness.get(s));
        all.flatten().flatten().fold(0.0, |m, d| d.abs().max(m))
    }

    /// Forces that the skin holds the body with, by harmonic: amplitudes on nodes, N per radian.
    pub(crate) fn load(
        &self,
        field: &SurfaceField,
        responses: &Responses,
        law: &Isotropic,
    ) -> Vec<Vec<(usize, Amplitudes)>> {
        let harmonics = field.len();
        let mut loads: Vec<Vec<(usize, Amplitudes)>> = vec![Vec::new(); harmonics];
        let surface = responses.surface();
        for s in Surface::BOTH {
            let columns: Vec<usize> = (0..surface.nodes.get(s).len()).collect();
            let by_column = collected(columns, true, |c| {
                let nodes = surface.nodes.get(s)[c];
                let places = nodes.map(|n| responses.place(n));
                let points = side_points(&surface.places.get(s)[c]);
                let mut forces = vec![[NOTHING; 3]; harmonics];
                for (point, thickness) in points.iter().zip(&self.thickness.get(s)[c]) {
                    add_membrane(field, places, point, thickness, law, &mut forces);
                }
                (nodes, forces)
            });
            for (nodes, forces) in by_column {
                for (to, force) in loads.iter_mut().zip(forces) {
                    to.extend(nodes.into_iter().zip(force));
                }
            }
        }
        loads
    }
}

/// Strains `[hoop, axial, shear]` of a surface at a point of a column's side: at equal angles.
fn strains(
    field: &SurfaceField,
    places: [usize; 3],
    point: &SidePoint,
    angles: usize,
) -> [Vec<f64>; 3] {
    let (mut hoop, mut axial, mut shear) = (Vec::new(), Vec::new(), Vec::new());
    for (n, harmonic) in field.all().iter().enumerate() {
        let order = n as f64;
        let (mut h, mut a, mut g) = (NOTHING[0], NOTHING[0], NOTHING[0]);
        for (k, &place) in places.iter().enumerate() {
            let [u, w, v] = harmonic[place];
            h += (u + v * order) * (point.shape[k] / point.radius);
            a += w * point.slope[k];
            g += v * point.slope[k] - w * (order * point.shape[k] / point.radius);
        }
        hoop.push(h);
        axial.push(a);
        shear.push(sine(g));
    }
    [hoop, axial, shear].map(|c| summed(c.into_iter(), angles))
}

/// A position, the radius there (mm) and in-plane stress `[hoop, axial, shear]` at [`GRID`] angles, MPa.
pub(crate) type StressRow = (f64, f64, Vec<[f64; 3]>);

impl SurfaceField {
    /// Stress of a surface in its own plane, with no load on it, at the Gauss points of every column.
    pub(crate) fn surface_stress(
        &self,
        responses: &Responses,
        law: &Isotropic,
        surface: Surface,
    ) -> Vec<StressRow> {
        let nodes = responses.surface().nodes.get(surface);
        let places = responses.surface().places.get(surface);
        let nu = law.poisson_ratio;
        let plane = law.young_modulus / (1.0 - nu * nu);
        let modulus = law.lame()[1];
        let columns: Vec<usize> = (0..nodes.len()).collect();
        collected(columns, true, |c| {
            let own = nodes[c].map(|n| responses.place(n));
            let points = side_points(&places[c]);
            points.map(|point| {
                let [hoop, axial, shear] = strains(self, own, &point, GRID);
                let z = point
                    .shape
                    .iter()
                    .zip(&places[c])
                    .map(|(n, p)| n * p[1])
                    .sum();
                let stress = (0..GRID).map(|k| {
                    let (h, a) = (hoop[k], axial[k]);
                    [
                        plane * (h + nu * a),
                        plane * (a + nu * h),
                        modulus * shear[k],
                    ]
                });
                (z, point.radius, stress.collect())
            })
        })
        .concat()
    }
}

/// Adds the forces on a side's three nodes that a membrane of this thickness holds them with at one point.
fn add_membrane(
    field: &SurfaceField,
    places: [usize; 3],
    point: &SidePoint,
    thickness: &[f64],
    law: &Isotropic,
    forces: &mut [[Amplitudes; 3]],
) {
    let harmonics = field.len();
    let angles = thickness.len();
    let [hoop, axial, shear] = strains(field, places, point, angles);
    let nu = law.poisson_ratio;
    let plane = law.young_modulus / (1.0 - nu * nu);
    let modulus = law.lame()[1];
    let membrane = |of: &dyn Fn(usize) -> f64| -> Vec<Complex64> {
        let values: Vec<f64> = (0..angles).map(|k| thickness[k] * of(k)).collect();
        amplitudes(&values, harmonics)
    };
    let hoop_force = membrane(&|k| plane * (hoop[k] + nu * axial[k]));
    let axial_force = membrane(&|k| plane * (axial[k] + nu * hoop[k]));
    let shear_force = membrane(&|k| modulus * shear[k]);
    for (n, force) in forces.iter_mut().enumerate() {
        let order = n as f64;
        // amplitudes of a sine: times i, as the sine of a term is its real part times -i
        let g = Complex64::new(-shear_force[n].im, shear_force[n].re);
        for (k, f) in force.iter_mut().enumerate() {
            let (along, slope) = (point.shape[k] * point.weight, point.slope[k] * point.weight);
            f[0] -= hoop_force[n] * along;
            f[1] -= axial_force[n] * (slope * point.radius) - g * (order * along);
            f[2] -= hoop_force[n] * (order * along) + g * (slope * point.radius);
        }
    }
}

/// Solves a body under loads on its surfaces, by harmonic, with the factors of the harmonics that are loaded, and gives the displacement of the surface
/// nodes.
///
/// # Errors
/// As `factor`.
pub(crate) fn under<'a>(
    responses: &Responses,
    loads: &[Vec<(usize, Amplitudes)>],
    factor: &(dyn Fn(usize) -> Result<&'a Cholesky<3>, LinearError> + Sync),
) -> Result<SurfaceField, LinearError> {
    let size = |load: &Vec<(usize, Amplitudes)>| -> f64 {
        let all = load.iter().flat_map(|(_, f)| f);
        all.map(|x| x.norm()).fold(0.0, f64::max)
    };
    let largest = loads.iter().map(size).fold(0.0, f64::max);
    let mut field = SurfaceField::zero(loads.len(), responses.nodes().len());
    let worth: Vec<usize> = (0..loads.len())
        .filter(|&n| size(&loads[n]) > NO_LOAD * largest)
        .collect();
    let solved = collected(worth.clone(), true, |n| -> Result<_, LinearError> {
        let factor = factor(n)?;
        let wanted = factor.wanted(responses.nodes());
        let mut work = Vec::new();
        let part = |of: &dyn Fn(Complex64) -> f64| -> Vec<NodeForce<3>> {
            let forces = loads[n].iter();
            forces.map(|(node, f)| (*node, f.map(of))).collect()
        };
        let [re, im] = [part(&|x| x.re), part(&|x| x.im)]
            .map(|load| factor.partial_solve(&load, &wanted, &mut work));
        let both = re.iter().zip(&im);
        let joined = |(a, b): (&[f64; 3], &[f64; 3])| -> Amplitudes {
            std::array::from_fn(|c| Complex64::new(a[c], b[c]))
        };
        Ok(both.map(joined).collect::<Vec<_>>())
    });
    for (n, harmonic) in worth.into_iter().zip(solved) {
        field.harmonic_mut(n).copy_from_slice(&harmonic?);
    }
    Ok(field)
}
