//! Clamping between two flat, rigid plates that press on the ends.
//!
//! Each end face bears on its plate with a pressure and drags on it with a shear stress along the radius, both linear between the ends of elements
//! (never negative: nodal values alone keep the pressure so, as on pads). The plates come together without tilting and are drawn by a force. With
//! Coulomb friction the shear is at most `friction` times the pressure and, where the face slides, as large and against the displacement: loads that
//! grow in proportion slide one way, so the displacement stands for its rate. That is a linear complementarity problem, solved on the compliances of
//! the two faces by an active set.

use nalgebra::{DMatrix, DVector};

use super::{GAUSS, TubeBody, side_shape};
use crate::linear::{Factor, LinearError, NodeForce};

/// Rounds of the active set; it settles in five to ten, and in some tens where it has to change one point at a time.
const MOST_ROUNDS: usize = 500;

/// What the faces do on the plates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EndFriction {
    /// They slide freely.
    Sliding,
    /// They stick all over.
    Stuck,
    /// They stick where Coulomb friction of this coefficient can hold them.
    Coulomb(f64),
}

/// End faces that find no state that agrees with friction, or equations that cannot be solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlatesError {
    /// The active set did not settle.
    #[error("which parts of the end faces slide did not settle in {rounds} rounds")]
    NotSettled {
        /// Rounds taken.
        rounds: usize,
    },
    /// The equations of the body.
    #[error(transparent)]
    Linear(#[from] LinearError),
}

/// What one end face does at the end of an element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FacePoint {
    /// Distance from the axis, mm.
    pub radius: f64,
    /// Pressure, MPa.
    pub pressure: f64,
    /// Shear stress on the part along the radius, MPa, positive outwards.
    pub shear: f64,
    /// Displacement along the radius, mean over the element ends beside it, mm.
    pub slip: f64,
}

/// A tube between plates.
#[derive(Clone, Debug)]
pub struct Plated {
    /// Displacement amplitudes of every node in harmonic 0, mm.
    pub displacement: Vec<[f64; 3]>,
    /// How much nearer the plates have come, mm.
    pub approach: f64,
    /// Both faces from the bore outwards, the gripped end first.
    pub faces: [Vec<FacePoint>; 2],
    /// Radial friction on each face, summed all round, N; negative where it holds the part together.
    pub radial_friction: [f64; 2],
}

/// What a point of a face does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    /// Off the plate.
    Open,
    /// On it and held along the radius.
    Sticks,
    /// On it and dragged: the sign of the shear on the part.
    Slides(f64),
}

/// Shape function of a face's pressure and shear: linear from an element's end to the ends beside it.
struct FaceHat {
    radius: f64,
    /// Nodes and weights `integral of N_k hat r dr`, mm2.
    weights: Vec<(usize, f64)>,
    /// 0 for the gripped end, 1 for the other.
    face: usize,
}

impl FaceHat {
    /// Area per radian that it stands for, mm2.
    fn area(&self) -> f64 {
        self.weights.iter().map(|w| w.1).sum()
    }

    /// Forces of a unit pressure (component 1, into the part) or shear (component 0).
    fn load(&self, component: usize) -> Vec<NodeForce<3>> {
        let sign = match (component, self.face) {
            (1, 1) => -1.0,
            _ => 1.0,
        };
        let mut force = [0.0; 3];
        self.weights
            .iter()
            .map(|&(node, w)| {
                force[component] = sign * w;
                (node, force)
            })
            .collect()
    }
}

/// The shape functions of a face whose nodes these are.
fn hats(body: &TubeBody, nodes: &[usize], face: usize) -> Vec<FaceHat> {
    let radius = |k: usize| body.mesh().coords()[nodes[k]][0];
    let elements = nodes.len() / 2;
    let mut hats: Vec<FaceHat> = (0..=elements)
        .map(|e| FaceHat {
            radius: radius(2 * e),
            weights: Vec::new(),
            face,
        })
        .collect();
    for e in 0..elements {
        let half = 0.5 * (radius(2 * e + 2) - radius(2 * e));
        let middle = radius(2 * e) + half;
        for (end, sign) in [(e, -1.0), (e + 1, 1.0)] {
            for k in 0..3 {
                let at = |&(x, w): &(f64, f64)| {
                    w * 0.5 * (1.0 + sign * x) * side_shape(x)[k] * (middle + x * half)
                };
                let weight = half * GAUSS.iter().map(at).sum::<f64>();
                hats[end].weights.push((nodes[2 * e + k], weight));
            }
        }
    }
    hats
}

impl TubeBody {
    /// Clamps the ends between plates that are drawn together by a force, N.
    ///
    /// # Errors
    /// See [`PlatesError`].
    pub fn between_plates(&self, force: f64, ends: EndFriction) -> Result<Plated, PlatesError> {
        let faces = self.mesh().end_faces();
        let hats: Vec<FaceHat> = [0, 1]
            .into_iter()
            .flat_map(|f| hats(self, &faces[f], f))
            .collect();
        let factor = self.factor(0)?;
        let n = hats.len();
        // reduced loads: pressures, then shears
        let mut work = Vec::new();
        let loads: Vec<Vec<NodeForce<3>>> = [1, 0]
            .iter()
            .flat_map(|&c| hats.iter().map(move |h| h.load(c)))
            .collect();
        let nodes: Vec<usize> = faces.concat();
        let wanted = factor.wanted(&nodes);
        let moved: Vec<Vec<[f64; 3]>> = loads
            .iter()
            .map(|load| factor.partial_solve(load, &wanted, &mut work))
            .collect();
        let mut place = vec![usize::MAX; self.mesh().coords().len()];
        nodes
            .iter()
            .enumerate()
            .for_each(|(k, &node)| place[node] = k);
        let compliance = DMatrix::from_fn(2 * n, 2 * n, |i, j| {
            let terms = loads[i].iter();
            let dot = |f: &[f64; 3], u: &[f64; 3]| f[0] * u[0] + f[1] * u[1];
            terms
                .map(|(node, f)| dot(f, &moved[j][place[*node]]))
                .sum::<f64>()
        });
        let area: Vec<f64> = hats.iter().map(FaceHat::area).collect();
        let per_radian = force / std::f64::consts::TAU;
        let settled = settle(&hats, &compliance, &area, per_radian, ends)?;
        let Settled {
            pressures,
            shears,
            approach,
            slips,
        } = settled;
        let acting = loads.iter().zip(pressures.iter().chain(&shears));
        let acting: Vec<NodeForce<3>> = acting
            .flat_map(|(load, size)| load.iter().map(move |(n, f)| (*n, f.map(|x| size * x))))
            .collect();
        let mut faces_found = [Vec::new(), Vec::new()];
        let mut radial_friction = [0.0; 2];
        for (k, hat) in hats.iter().enumerate() {
            radial_friction[hat.face] += std::f64::consts::TAU * area[k] * shears[k];
            faces_found[hat.face].push(FacePoint {
                radius: hat.radius,
                pressure: pressures[k],
                shear: shears[k],
                slip: slips[k] / area[k],
            });
        }
        Ok(Plated {
            displacement: factor.solve(&self.spread(&acting))?,
            approach,
            faces: faces_found,
            radial_friction,
        })
    }
}

struct Settled {
    pressures: Vec<f64>,
    shears: Vec<f64>,
    approach: f64,
    /// Weighted radial displacements, mm3.
    slips: Vec<f64>,
}

/// Finds what sticks, slides and stands off. Unknowns: pressures and shears of the shape functions, the approach of the plates and where the part lies
/// between them (the body is held along its axis by a point that takes no force).
fn settle(
    hats: &[FaceHat],
    compliance: &DMatrix<f64>,
    area: &[f64],
    force: f64,
    ends: EndFriction,
) -> Result<Settled, PlatesError> {
    let n = hats.len();
    let friction = match ends {
        EndFriction::Sliding => Some(0.0),
        EndFriction::Stuck => None,
        EndFriction::Coulomb(mu) => Some(mu),
    };
    let first = if friction == Some(0.0) {
        State::Slides(0.0)
    } else {
        State::Sticks
    };
    let mut states = vec![first; n];
    // once a set comes back only the first point that is wrong changes: Murty's rule, which does not cycle
    let mut seen: Vec<Vec<State>> = Vec::new();
    let mut one_by_one = false;
    for _ in 0..MOST_ROUNDS {
        let Some(x) = solve(hats, compliance, area, force, friction, &states) else {
            break;
        };
        let moved = compliance * x.rows(0, 2 * n);
        let largest = (0..n).map(|k| x[k].abs()).fold(0.0, f64::max);
        let mut changed = false;
        for k in 0..n {
            // how far a face stands off its plate, and the displacement along the radius; weighted
            let shift = x[2 * n + hats[k].face];
            let (gap, slip) = (moved[k] - area[k] * shift, moved[n + k]);
            let (p, t) = (x[k], x[n + k]);
            let next = match states[k] {
                _ if states[k] != State::Open && p < -1e-9 * largest => State::Open,
                // a point that comes back has moved along the plate meanwhile: friction drags it against that, and a face that is taken to stick has nothing
                // to hold it back to where it was
                State::Open if gap < 0.0 => match friction {
                    Some(mu) if mu > 0.0 && slip != 0.0 => State::Slides(-slip.signum()),
                    Some(_) => first,
                    None => State::Slides(0.0),
                },
                State::Sticks => match friction {
                    Some(mu) if t.abs() > mu * p * (1.0 + 1e-9) => State::Slides(t.signum()),
                    _ => State::Sticks,
                },
                // friction that pushes on is none: it holds again
                State::Slides(sign) if sign * slip > 0.0 => State::Sticks,
                state => state,
            };
            let change = next != states[k] && !(one_by_one && changed);
            changed |= change;
            if change {
                states[k] = next;
            }
        }
        one_by_one |= seen.contains(&states);
        if !one_by_one {
            seen.push(states.clone());
        }
        if !changed {
            return Ok(Settled {
                pressures: x.rows(0, n).iter().copied().collect(),
                shears: x.rows(n, n).iter().copied().collect(),
                approach: x[2 * n] + x[2 * n + 1],
                slips: moved.rows(n, n).iter().copied().collect(),
            });
        }
    }
    Err(PlatesError::NotSettled {
        rounds: MOST_ROUNDS,
    })
}

/// The pressures, shears and places of the plates that these states ask for.
fn solve(
    hats: &[FaceHat],
    compliance: &DMatrix<f64>,
    area: &[f64],
    force: f64,
    friction: Option<f64>,
    states: &[State],
) -> Option<DVector<f64>> {
    let n = hats.len();
    let mut matrix = DMatrix::zeros(2 * n + 2, 2 * n + 2);
    let mut right = DVector::zeros(2 * n + 2);
    // rows that set a stress alone are as large as those of compliance
    let size = compliance[(0, 0)];
    for k in 0..n {
        let mut normal = matrix.row_mut(k);
        if states[k] == State::Open {
            normal[k] = size;
        } else {
            normal.columns_mut(0, 2 * n).copy_from(&compliance.row(k));
            normal[2 * n + hats[k].face] = -area[k];
        }
        let mut along = matrix.row_mut(n + k);
        match states[k] {
            State::Sticks => along
                .columns_mut(0, 2 * n)
                .copy_from(&compliance.row(n + k)),
            State::Open => along[n + k] = size,
            State::Slides(sign) => {
                along[n + k] = size;
                along[k] = -size * sign * friction.unwrap_or(0.0);
            }
        }
        matrix[(2 * n + hats[k].face, k)] = area[k];
    }
    for face in 0..2 {
        right[2 * n + face] = force;
    }
    matrix.lu().solve(&right)
}
