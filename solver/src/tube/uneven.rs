//! A body of revolution whose wall is not the same all round: lobes of the stock, and what a cut in the chuck leaves.
//!
//! The true body is the meshed one with its points moved along the radius: `r' = r + d(r, theta, z)`, the surfaces by what they lie off their outline, the
//! wall between them in proportion. Displacements stay harmonics on the meshed body; their strains in the true one are taken by the chain rule,
//!
//! ```text
//! f,r' = f,r / r',r     f,z' = f,z - r',z f,r'     f,theta' = f,theta - r',theta f,r'
//! ```
//!
//! at the Gauss points of the elements and equal angles round, and the forces that hold the body so are put back into harmonics: nothing is left out
//! but harmonics beyond [`HARMONICS`]. Derived here. Where the wall is even these are the forces of `linear::HarmonicStiffness`.
//!
//! Such a body is solved by conjugate gradients with the meshed one's factors. Plain steps `u <- u + K0^-1 (f - K u)` run away where the middle of the wall
//! lies off a circle by a tenth of the wall: what bends the round body without stretching it stretches the true one, which is many times as stiff to that.

use super::TubeBody;
use super::field::{
    Amplitudes, NOTHING, SurfaceField, add_strips, amplitudes, share_of_turn, sine, solved, summed,
};
use super::response::Responses;
use crate::element::meridian::Isotropic;
use crate::element::stiffness_rule;
use crate::fourier::Complex64;
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Cholesky, LinearError, collected};
use crate::mesh::MeridianMesh;

/// Harmonics in which an uneven wall is followed, from 0: what jaws make of a part, and its lobes.
pub const HARMONICS: usize = 49;

/// Angles round at which its strains are taken: four to the shortest wave.
const ANGLES: usize = 240;

/// Harmonics in which the surfaces' own run is followed.
const SHAPES: usize = 72;

/// Steps of conjugate gradients at a time.
const MOST_STEPS: usize = 40;

/// Share of the largest below which a harmonic is not there.
const NOT_THERE: f64 = 1e-10;

/// Displacement of every node by harmonic, mm: `[U, W, V]` as of a [`SurfaceField`], without rigid motions.
#[derive(Clone, Debug)]
pub struct NodalField {
    harmonics: Vec<Vec<Amplitudes>>,
}

impl NodalField {
    /// Nothing moved.
    pub fn zero(body: &TubeBody) -> Self {
        Self {
            harmonics: vec![vec![NOTHING; body.mesh().coords().len()]; HARMONICS],
        }
    }

    /// The harmonics, node by node.
    pub(crate) fn harmonics(&self) -> &[Vec<Amplitudes>] {
        &self.harmonics
    }

    /// The surface nodes alone.
    pub fn on_surfaces(&self, responses: &Responses) -> SurfaceField {
        let mut field = SurfaceField::zero(HARMONICS, responses.nodes().len());
        for (n, harmonic) in self.harmonics.iter().enumerate() {
            let to = field.harmonic_mut(n);
            for (to, &node) in to.iter_mut().zip(responses.nodes()) {
                *to = harmonic[node];
            }
        }
        field
    }
}

/// How a surface runs beside its outline at a position: deviation (mm), and its slopes along the axis and, by radian, round it.
struct Run {
    off: Vec<f64>,
    along: Vec<f64>,
    round: Vec<f64>,
}

/// A column's two surfaces at one of its three Gauss positions.
struct Station {
    z: f64,
    runs: PerSurface<Run>,
}

/// The true body behind a meshed one.
pub struct Uneven {
    /// The part repeats so often round the axis.
    fold: usize,
    /// Angles in one repeat.
    angles: usize,
    columns: Vec<[Station; 3]>,
}

/// Deviations of a column's surface from its outline at its three places, at equal angles round, mm.
pub type ColumnOff = [Vec<f64>; 3];

impl Uneven {
    /// A body whose surfaces lie off their outlines by so much, by surface and column. `fold` is how often displacements and loads repeat.
    pub fn new(mesh: &MeridianMesh, off: &PerSurface<Vec<ColumnOff>>, fold: usize) -> Self {
        // what is alike all round has no harmonic but the first
        let fold = if fold == 0 { HARMONICS } else { fold };
        let angles = (ANGLES / fold).max(8);
        let columns = (0..mesh.topology().around())
            .map(|c| {
                let [start, middle, end] = [0, 1, 2].map(|k| mesh.heights()[2 * c + k]);
                let half = 0.5 * (end - start);
                // in the order of the stiffness rule's points
                let at = [-(0.6_f64.sqrt()), 0.0, 0.6_f64.sqrt()];
                at.map(|x| Station {
                    z: middle + half * x,
                    runs: PerSurface::from_fn(|s| run(&off.get(s)[c], x, half, fold, angles)),
                })
            })
            .collect();
        Self {
            fold,
            angles,
            columns,
        }
    }

    /// How often deviations and amplitudes repeat round the axis: the largest number that divides every harmonic that is there.
    pub(crate) fn fold(off: &PerSurface<Vec<ColumnOff>>, loads: &[Vec<Complex64>]) -> usize {
        let mut sizes = vec![0.0_f64; SHAPES];
        let all = Surface::BOTH
            .into_iter()
            .flat_map(|s| off.get(s).iter().flatten());
        let mut largest = 0.0_f64;
        for row in all {
            for (n, a) in amplitudes(row, SHAPES).into_iter().enumerate().skip(1) {
                sizes[n] = sizes[n].max(a.norm());
                largest = largest.max(a.norm());
            }
        }
        let there = sizes
            .iter()
            .enumerate()
            .filter(|s| *s.1 > NOT_THERE * largest.max(1e-9));
        let of_shape = there.map(|(n, _)| n);
        let size = |l: &Vec<Complex64>| l.iter().map(|x| x.norm()).fold(0.0, f64::max);
        let most = loads.iter().map(size).fold(0.0, f64::max);
        let loads = loads.iter().take(SHAPES).enumerate().skip(1);
        let of_loads = loads
            .filter(|(_, l)| size(l) > NOT_THERE * most)
            .map(|(n, _)| n);
        of_shape.chain(of_loads).fold(0, divisor)
    }

    /// Forces that hold the true body so, by harmonic and node, N per radian.
    pub fn forces(&self, body: &TubeBody, field: &NodalField) -> Vec<Vec<Amplitudes>> {
        let mesh = body.mesh();
        let orders: Vec<usize> = (0..HARMONICS).step_by(self.fold).collect();
        let columns: Vec<usize> = (0..self.columns.len()).collect();
        let by_column = collected(columns, true, |c| {
            let elements = mesh.filled(c).map(|layer| {
                let nodes = mesh.topology().element_nodes(c, layer);
                (nodes, self.element(body, c, nodes, field, &orders))
            });
            elements.collect::<Vec<_>>()
        });
        let mut forces = vec![vec![NOTHING; mesh.coords().len()]; HARMONICS];
        for (nodes, element) in by_column.into_iter().flatten() {
            for (&n, by_node) in orders.iter().zip(element) {
                for (node, force) in nodes.into_iter().zip(by_node) {
                    let to = &mut forces[n][node];
                    to.iter_mut().zip(force).for_each(|(t, f)| *t += f);
                }
            }
        }
        forces
    }

    /// Forces of one element by harmonic and node.
    fn element(
        &self,
        body: &TubeBody,
        column: usize,
        nodes: [usize; 8],
        field: &NodalField,
        orders: &[usize],
    ) -> Vec<[Amplitudes; 8]> {
        let mesh = body.mesh();
        let coords = nodes.map(|n| mesh.coords()[n]);
        let sides = PerSurface::from_fn(|s| mesh.side(column, s).map(|n| mesh.coords()[n]));
        let mut forces = vec![[NOTHING; 8]; orders.len()];
        for point in stiffness_rule() {
            let (det, gr, gz) = crate::element::spatial_gradients(&coords, &point.gradient);
            let at: [f64; 2] = std::array::from_fn(|c| {
                coords.iter().zip(&point.shape).map(|(x, n)| n * x[c]).sum()
            });
            let nearest = self.columns[column]
                .iter()
                .min_by(|a, b| (a.z - at[1]).abs().total_cmp(&(b.z - at[1]).abs()));
            let Some(station) = nearest else { continue };
            let moved = moved_radii(station, &sides, at);
            let parts = self.parts(field, &nodes, orders, (&point.shape, &gr, &gz));
            let flux = fluxes(body.law(), &parts, &moved, det * point.weight);
            let flux: Vec<Vec<Complex64>> = flux
                .iter()
                .map(|values| amplitudes(values, orders.len()))
                .collect();
            for (k, force) in forces.iter_mut().enumerate() {
                let order = orders[k] as f64;
                for (node, f) in force.iter_mut().enumerate() {
                    for (c, to) in f.iter_mut().enumerate() {
                        let [a_r, a_z, a_t, a_0] = [0, 1, 2, 3].map(|m| flux[4 * c + m][k]);
                        // round the axis the work of a term on what it is of: minus i n
                        let turned = Complex64::new(a_t.im * order, -a_t.re * order);
                        let sum =
                            a_r * gr[node] + a_z * gz[node] + (a_0 + turned) * point.shape[node];
                        // sines: their amplitudes stand a quarter of a wave on
                        *to += if c == 2 {
                            Complex64::new(-sum.im, sum.re)
                        } else {
                            sum
                        };
                    }
                }
            }
        }
        forces
    }

    /// Displacements `[u, w, v]` and their derivatives along radius, axis and angle, at a point of an element and the angles of one repeat:
    /// value, three derivatives, of each component in turn.
    fn parts(
        &self,
        field: &NodalField,
        nodes: &[usize; 8],
        orders: &[usize],
        (shape, gr, gz): (&[f64; 8], &[f64; 8], &[f64; 8]),
    ) -> Vec<Vec<f64>> {
        let mut terms = vec![vec![Complex64::default(); orders.len()]; 12];
        for (k, &n) in orders.iter().enumerate() {
            let harmonic = &field.harmonics[n];
            for c in 0..3 {
                let mut sums = [Complex64::default(); 3];
                for (node, &place) in nodes.iter().enumerate() {
                    let u = harmonic[place][c];
                    let u = if c == 2 { sine(u) } else { u };
                    sums[0] += u * shape[node];
                    sums[1] += u * gr[node];
                    sums[2] += u * gz[node];
                }
                let order = n as f64;
                terms[4 * c][k] = sums[0];
                terms[4 * c + 1][k] = sums[1];
                terms[4 * c + 2][k] = sums[2];
                terms[4 * c + 3][k] = Complex64::new(-order * sums[0].im, order * sums[0].re);
            }
        }
        terms
            .into_iter()
            .map(|t| summed(t.into_iter(), self.angles))
            .collect()
    }
}

/// Greatest common divisor; of nothing yet and a number that number.
fn divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { divisor(b, a % b) }
}

/// How a surface runs at a share `x` of half a column from its middle.
fn run(off: &ColumnOff, x: f64, half: f64, fold: usize, angles: usize) -> Run {
    let shape = super::side_shape(x);
    let slope = [x - 0.5, -2.0 * x, x + 0.5].map(|d| d / half);
    let weighted = |weights: [f64; 3]| -> Vec<Complex64> {
        let values: Vec<f64> = (0..off[0].len())
            .map(|k| off.iter().zip(weights).map(|(o, w)| w * o[k]).sum())
            .collect();
        let all = amplitudes(&values, SHAPES);
        all.into_iter().step_by(fold).collect()
    };
    let own = weighted(shape);
    let turned = own.iter().enumerate().map(|(k, a)| {
        let order = (k * fold) as f64;
        Complex64::new(-order * a.im, order * a.re)
    });
    Run {
        round: summed(turned, angles),
        along: summed(weighted(slope).into_iter(), angles),
        off: summed(own.into_iter(), angles),
    }
}

/// The moved radius at a point and its derivatives along radius, axis and angle, at the angles of one repeat.
fn moved_radii(
    station: &Station,
    sides: &PerSurface<[[f64; 2]; 3]>,
    [r, z]: [f64; 2],
) -> Vec<[f64; 4]> {
    let line = |s: Surface| {
        let [[r0, z0], _, [r1, z1]] = *sides.get(s);
        let slope = (r1 - r0) / (z1 - z0);
        [r0 + slope * (z - z0), slope]
    };
    let [outer, outer_slope] = line(Surface::Outer);
    let [bore, bore_slope] = line(Surface::Bore);
    let wall = outer - bore;
    let share = (r - bore) / wall;
    let share_along = -(bore_slope + share * (outer_slope - bore_slope)) / wall;
    let (o, b) = (&station.runs.outer, &station.runs.bore);
    (0..o.off.len())
        .map(|k| {
            let apart = o.off[k] - b.off[k];
            [
                r + share * o.off[k] + (1.0 - share) * b.off[k],
                1.0 + apart / wall,
                share_along * apart + share * o.along[k] + (1.0 - share) * b.along[k],
                share * o.round[k] + (1.0 - share) * b.round[k],
            ]
        })
        .collect()
}

/// What the stress at a point works on, times the volume that it stands for: by component, its derivatives along radius, axis and angle and its value.
fn fluxes(law: &Isotropic, parts: &[Vec<f64>], moved: &[[f64; 4]], area: f64) -> Vec<Vec<f64>> {
    let [lambda, mu] = law.lame();
    let mut flux = vec![vec![0.0; moved.len()]; 12];
    for (k, &[r, stretch, along, round]) in moved.iter().enumerate() {
        let [u, u_r, u_z, u_t] = [0, 1, 2, 3].map(|m| parts[m][k]);
        let [_, w_r, w_z, w_t] = [4, 5, 6, 7].map(|m| parts[m][k]);
        let [v, v_r, v_z, v_t] = [8, 9, 10, 11].map(|m| parts[m][k]);
        let g = 1.0 / stretch;
        let (a, b) = (along * g, round * g);
        let rr = g * u_r;
        let zz = w_z - a * w_r;
        let hoop = (v_t - b * v_r + u) / r;
        let rz = u_z - a * u_r + g * w_r;
        let rt = (u_t - b * u_r) / r + g * v_r - v / r;
        let zt = v_z - a * v_r + (w_t - b * w_r) / r;
        let volume = lambda * (rr + zz + hoop);
        let weight = area * r * stretch;
        let [rr, zz, hoop] = [rr, zz, hoop].map(|e| weight * (volume + 2.0 * mu * e));
        let [rz, rt, zt] = [rz, rt, zt].map(|e| weight * mu * e);
        let c = b / r;
        let all = [
            [g * rr - a * rz - c * rt, rz, rt / r, hoop / r],
            [g * rz - a * zz - c * zt, zz, zt / r, 0.0],
            [g * rt - a * zt - c * hoop, zt, hoop / r, -rt / r],
        ];
        for (to, value) in flux.iter_mut().zip(all.as_flattened()) {
            to[k] = *value;
        }
    }
    flux
}

/// Forces or displacements of every node, by harmonic.
type Nodal = Vec<Vec<Amplitudes>>;

/// Work of forces on a displacement round a whole turn, N mm.
fn work(forces: &Nodal, moved: &Nodal) -> f64 {
    let of = |(n, (f, u)): (usize, (&Vec<Amplitudes>, &Vec<Amplitudes>))| {
        let pairs = f.iter().flatten().zip(u.iter().flatten());
        pairs.map(|(f, u)| f.re * u.re + f.im * u.im).sum::<f64>() / share_of_turn(n)
    };
    forces.iter().zip(moved).enumerate().map(of).sum()
}

/// Adds so many times of one to another.
fn add(to: &mut Nodal, more: &Nodal, times: f64) {
    for (to, more) in to
        .iter_mut()
        .flatten()
        .flatten()
        .zip(more.iter().flatten().flatten())
    {
        *to += more * times;
    }
}

/// Brings the displacement of the true body nearer to equilibrium under radial loads on strips (amplitudes by harmonic and strip), by conjugate gradients with the
/// meshed body's factors, until the energy of what is left is `share` of what it was.
///
/// # Errors
/// As `factor`.
pub(crate) fn approach<'a>(
    (body, responses): (&TubeBody, &Responses),
    uneven: &Uneven,
    loads: &[Vec<Complex64>],
    field: &mut NodalField,
    share: f64,
    factor: &(dyn Fn(usize) -> Result<&'a Cholesky<3>, LinearError> + Sync),
) -> Result<(), LinearError> {
    let mut left = uneven.forces(body, field);
    left.iter_mut().flatten().flatten().for_each(|f| *f = -*f);
    add_strips((body, responses), loads, &mut left);
    let mut gives = uneven.eased(&left, factor)?;
    let mut along = gives.clone();
    let first = work(&left, &gives);
    let mut energy = first;
    for _ in 0..MOST_STEPS {
        if energy <= share * first {
            break;
        }
        let direction = NodalField { harmonics: along };
        let held = uneven.forces(body, &direction);
        along = direction.harmonics;
        let length = energy / work(&held, &along);
        add(&mut field.harmonics, &along, length);
        add(&mut left, &held, -length);
        gives = uneven.eased(&left, factor)?;
        let next = work(&left, &gives);
        let kept = next / energy;
        energy = next;
        let mut turned = gives.clone();
        add(&mut turned, &along, kept);
        along = turned;
    }
    Ok(())
}

impl Uneven {
    /// What the meshed body gives way under forces.
    fn eased<'a>(
        &self,
        forces: &Nodal,
        factor: &(dyn Fn(usize) -> Result<&'a Cholesky<3>, LinearError> + Sync),
    ) -> Result<Nodal, LinearError> {
        let orders: Vec<usize> = (0..HARMONICS).step_by(self.fold).collect();
        let solve = |n: usize| solved(factor(n)?, &forces[n]);
        let solved = collected(orders.clone(), true, solve);
        let mut moved = vec![vec![NOTHING; forces[0].len()]; HARMONICS];
        for (n, found) in orders.into_iter().zip(solved) {
            moved[n] = found?;
        }
        Ok(moved)
    }
}

#[cfg(test)]
mod tests;
