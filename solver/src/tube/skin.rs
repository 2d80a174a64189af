//! The skin between a body of revolution and the true surfaces of a part, and what loads on the surfaces do.

use std::ops::Range;

use super::field::{Amplitudes, GRID, NOTHING, SurfaceField, amplitudes, sine, summed};
use super::response::{Responses, SurfaceNodes};
use crate::element::meridian::Isotropic;
use crate::fourier::Complex64;
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, Factor, LinearError, NodeForce, collected};

/// Share of a force below which a harmonic of it is not solved for.
const NO_LOAD: f64 = 1e-14;

/// Shortest stretch of a surface over which strains are followed, times the largest thickness of the skin.
const STRETCH: f64 = 20.0;

/// What a thin skin more or less does: the metal between the body's outline and the true one.
///
/// The skin follows the surface, and with no load on it is in plane stress, so to the first order in its thickness `d` its forces are those of the
/// membrane `d * sigma` with the in-plane stress of the surface. Derived here: the energy of the true body is that of the meshed one and
/// `1/2 integral d sigma(e) : e dS`, whose derivative by the displacement is this load.
///
/// The first order is meant for strains that vary over lengths far above `d`: of a wave as short as `2 pi d` the skin would be as stiff as the metal below
/// it. So strains and thickness are averaged over stretches of [`STRETCH`] times its thickness where columns are shorter than that. An average is a
/// projection, so the energy stays one.
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
            let stretches = stretches(surface.places.get(s), STRETCH * self.largest());
            let by_stretch = collected(stretches, true, |stretch| {
                let sides = stretch.map(|c| Side {
                    nodes: surface.nodes.get(s)[c],
                    places: surface.nodes.get(s)[c].map(|n| responses.place(n)),
                    points: side_points(&surface.places.get(s)[c]),
                    thickness: &self.thickness.get(s)[c],
                });
                forces_of(&sides.collect::<Vec<_>>(), field, law)
            });
            for (nodes, forces) in by_stretch.into_iter().flatten() {
                for (to, force) in loads.iter_mut().zip(forces) {
                    to.extend(nodes.into_iter().zip(force));
                }
            }
        }
        loads
    }
}

/// Strains `[hoop, axial, shear]` of a surface at a point of a column's side: terms whose real parts are summed over the harmonics.
fn strain_terms(
    field: &SurfaceField,
    places: [usize; 3],
    point: &SidePoint,
) -> [Vec<Complex64>; 3] {
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
    [hoop, axial, shear]
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
                let terms = strain_terms(self, own, &point);
                let [hoop, axial, shear] = terms.map(|c| summed(c.into_iter(), GRID));
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

/// A side of a column with its skin.
struct Side<'a> {
    nodes: [usize; 3],
    places: [usize; 3],
    points: [SidePoint; 3],
    thickness: &'a [Vec<f64>; 3],
}

/// Amplitudes of the forces on a side's nodes by harmonic.
type SideForces = ([usize; 3], Vec<[Amplitudes; 3]>);

/// Columns from the gripped end on, as many together as are needed for a length (mm), what is left over with those before it; none over a step.
fn stretches(places: &[[[f64; 2]; 3]], least: f64) -> Vec<Range<usize>> {
    let length = |r: &Range<usize>| places[r.end - 1][2][1] - places[r.start][0][1];
    let steps = |column: usize| places[column][0][0] != places[column - 1][2][0];
    let mut all: Vec<Range<usize>> = Vec::new();
    for column in 0..places.len() {
        match all.last_mut() {
            Some(last) if length(last) < least && !steps(column) => last.end = column + 1,
            _ => all.push(column..column + 1),
        }
    }
    let mut kept: Vec<Range<usize>> = Vec::new();
    for stretch in all {
        match kept.last_mut() {
            Some(last) if length(&stretch) < least && !steps(stretch.start) => {
                last.end = stretch.end;
            }
            _ => kept.push(stretch),
        }
    }
    kept
}

/// Forces that the skin of a stretch holds the body with.
fn forces_of(sides: &[Side], field: &SurfaceField, law: &Isotropic) -> Vec<SideForces> {
    let mut forces: Vec<SideForces> = sides
        .iter()
        .map(|side| (side.nodes, vec![[NOTHING; 3]; field.len()]))
        .collect();
    if let [side] = sides {
        for (point, thickness) in side.points.iter().zip(side.thickness) {
            let strains = strain_terms(field, side.places, point);
            let membrane = membrane(strains, thickness, law, field.len());
            add(&membrane, point, &mut forces[0].1);
        }
        return forces;
    }
    let points = sides.iter().flat_map(|s| &s.points);
    let area: f64 = points.map(|p| p.weight * p.radius).sum();
    let mut mean = [(); 3].map(|()| vec![NOTHING[0]; field.len()]);
    let mut thickness = vec![0.0; GRID];
    for side in sides {
        for (point, own) in side.points.iter().zip(side.thickness) {
            let share = point.weight * point.radius / area;
            for (sum, terms) in mean.iter_mut().zip(strain_terms(field, side.places, point)) {
                sum.iter_mut().zip(terms).for_each(|(s, t)| *s += t * share);
            }
            thickness
                .iter_mut()
                .zip(own)
                .for_each(|(t, d)| *t += share * d);
        }
    }
    let membrane = membrane(mean, &thickness, law, field.len());
    for (side, (_, to)) in sides.iter().zip(&mut forces) {
        side.points
            .iter()
            .for_each(|point| add(&membrane, point, to));
    }
    forces
}

/// Forces `[hoop, axial, shear]` of a membrane of this thickness, by harmonic, N/mm.
fn membrane(
    strains: [Vec<Complex64>; 3],
    thickness: &[f64],
    law: &Isotropic,
    harmonics: usize,
) -> [Vec<Complex64>; 3] {
    let angles = thickness.len();
    let [hoop, axial, shear] = strains.map(|c| summed(c.into_iter(), angles));
    let nu = law.poisson_ratio;
    let plane = law.young_modulus / (1.0 - nu * nu);
    let modulus = law.lame()[1];
    let of = |stress: &dyn Fn(usize) -> f64| -> Vec<Complex64> {
        let values: Vec<f64> = (0..angles).map(|k| thickness[k] * stress(k)).collect();
        amplitudes(&values, harmonics)
    };
    [
        of(&|k| plane * (hoop[k] + nu * axial[k])),
        of(&|k| plane * (axial[k] + nu * hoop[k])),
        of(&|k| modulus * shear[k]),
    ]
}

/// Adds the forces on a side's three nodes that a membrane holds them with at one point.
fn add([hoop, axial, shear]: &[Vec<Complex64>; 3], point: &SidePoint, to: &mut [[Amplitudes; 3]]) {
    for (n, force) in to.iter_mut().enumerate() {
        let order = n as f64;
        // amplitudes of a sine: times i, as the sine of a term is its real part times -i
        let g = Complex64::new(-shear[n].im, shear[n].re);
        for (k, f) in force.iter_mut().enumerate() {
            let (along, slope) = (point.shape[k] * point.weight, point.slope[k] * point.weight);
            f[0] -= hoop[n] * along;
            f[1] -= axial[n] * (slope * point.radius) - g * (order * along);
            f[2] -= hoop[n] * (order * along) + g * (slope * point.radius);
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
