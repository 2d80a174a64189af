//! What radial loads on strips of a tube do to its two surfaces, harmonic by harmonic.

use super::ladder::Ladder;
use super::{GAUSS, TubeBody, side_shape};
use crate::geometry::{PerSurface, Surface};
use crate::linear::{Factor, LinearError, NodeForce, collected};

/// A radial load on a surface along a stretch of the part: linear between lines of the mesh, one where it is full. A unit is a force of 1 N
/// per mm of length and radian, outwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// The surface.
    pub surface: Surface,
    /// Positions, mm, rising: zero at both ends or, at the end of a pad, full there.
    pub ends: Vec<(f64, f64)>,
}

impl Strip {
    /// Its size at a position, mm; zero beyond its ends.
    pub fn at(&self, z: f64) -> f64 {
        let after = self.ends.partition_point(|e| e.0 <= z);
        match (after.checked_sub(1), self.ends.get(after)) {
            (Some(k), Some(next)) => {
                let (z0, s0) = self.ends[k];
                s0 + (next.1 - s0) * (z - z0) / (next.0 - z0)
            }
            (Some(k), None) if self.ends[k].0 == z => self.ends[k].1,
            _ => 0.0,
        }
    }

    /// One strip for all of a pad's: even from its beginning to its end.
    pub fn joined(strips: &[Self]) -> Self {
        let ends = strips.iter().flat_map(|s| &s.ends);
        let (from, to) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), e| {
            (a.min(e.0), b.max(e.0))
        });
        Self {
            surface: strips.first().map_or(Surface::Outer, |s| s.surface),
            ends: vec![(from, 1.0), (to, 1.0)],
        }
    }

    /// Its integral, mm.
    pub fn length(&self) -> f64 {
        let pairs = self.ends.windows(2);
        pairs
            .map(|p| 0.5 * (p[0].1 + p[1].1) * (p[1].0 - p[0].0))
            .sum()
    }

    /// Points and weights (mm) that integrate a smooth function times the strip.
    pub fn rule(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.ends.windows(2).flat_map(|p| {
            let half = 0.5 * (p[1].0 - p[0].0);
            GAUSS.iter().map(move |&(x, w)| {
                let share = 0.5 * (1.0 + x);
                let size = p[0].1 + share * (p[1].1 - p[0].1);
                (p[0].0 + share * 2.0 * half, w * half * size)
            })
        })
    }
}

/// The shape functions of a pad's pressure along the part: one for each line of the mesh on it, from its first to its last.
pub fn strips(heights: &[f64], surface: Surface, [from, to]: [f64; 2]) -> Vec<Strip> {
    let slack = 1e-9 * (to - from);
    let lines = heights.iter().step_by(2).copied();
    let on: Vec<f64> = lines
        .filter(|z| (from - slack..=to + slack).contains(z))
        .collect();
    (0..on.len())
        .map(|k| Strip {
            surface,
            ends: [k.checked_sub(1), Some(k), Some(k + 1)]
                .into_iter()
                .flatten()
                .filter(|&m| m < on.len())
                .map(|m| (on[m], f64::from(u8::from(m == k))))
                .collect(),
        })
        .collect()
}

/// The nodes of both surfaces of a mesh, column by column, three a column from the gripped end on; at a step the two ends of a side lie apart, so none
/// is shared.
#[derive(Clone, Debug)]
pub struct SurfaceNodes {
    /// The nodes.
    pub nodes: PerSurface<Vec<[usize; 3]>>,
    /// Their radii and positions, mm.
    pub places: PerSurface<Vec<[[f64; 2]; 3]>>,
}

impl SurfaceNodes {
    fn of(body: &TubeBody) -> Self {
        let mesh = body.mesh();
        let nodes = PerSurface::from_fn(|s| -> Vec<[usize; 3]> {
            let columns = 0..mesh.topology().around();
            columns.map(|c| mesh.side(c, s)).collect()
        });
        let place = |side: &[usize; 3]| side.map(|n| mesh.coords()[n]);
        Self {
            places: PerSurface::from_fn(|s| nodes.get(s).iter().map(place).collect()),
            nodes,
        }
    }

    /// Column of a position and the shape functions there; at a line that of the column before it.
    pub fn at(&self, surface: Surface, z: f64) -> (usize, [f64; 3]) {
        let places = self.places.get(surface);
        let column = places
            .partition_point(|side| side[2][1] < z)
            .min(places.len() - 1);
        let [start, _, end] = places[column].map(|p| p[1]);
        (column, side_shape(2.0 * (z - start) / (end - start) - 1.0))
    }
}

/// What strips do to both surfaces in the harmonics of a ladder.
#[derive(Debug)]
pub struct Responses {
    ladder: Ladder,
    strips: Vec<Strip>,
    surface: SurfaceNodes,
    /// All surface nodes, rising, and where each node stands among them.
    nodes: Vec<usize>,
    /// Displacement `[U, W, V]` of the surface nodes: by strip, rung and node.
    moved: Vec<Vec<Vec<[f64; 3]>>>,
    /// Compliances of strip pairs, one number a rung: work of a unit of one on what a unit of the other does.
    pairs: Vec<Vec<f64>>,
}

impl Responses {
    /// Solves for the strips in every harmonic of the ladder, the harmonics side by side.
    ///
    /// # Errors
    /// See [`LinearError`].
    pub fn new(body: &TubeBody, strips: Vec<Strip>, ladder: Ladder) -> Result<Self, LinearError> {
        let surface = SurfaceNodes::of(body);
        let mut nodes: Vec<usize> = Surface::BOTH
            .iter()
            .flat_map(|&s| surface.nodes.get(s).iter().flatten().copied())
            .collect();
        nodes.sort_unstable();
        nodes.dedup();
        let loads: Vec<Vec<NodeForce<3>>> = strips.iter().map(|s| body.strip_load(s)).collect();
        let solve = |n: u32| -> Result<Vec<Vec<[f64; 3]>>, LinearError> {
            let factor = body.factor(n)?;
            let wanted = factor.wanted(&nodes);
            let mut work = Vec::new();
            let one = |load: &Vec<NodeForce<3>>| factor.partial_solve(load, &wanted, &mut work);
            Ok(loads.iter().map(one).collect())
        };
        // without a load there is nothing to factor
        let rungs = match loads.is_empty() {
            true => Vec::new(),
            false => ladder.rungs().to_vec(),
        };
        let by_rung: Vec<_> = collected(rungs, true, solve)
            .into_iter()
            .collect::<Result<_, _>>()?;
        let place = |node: usize| nodes.binary_search(&node).unwrap_or_default();
        let placed: Vec<Vec<(usize, f64)>> = loads
            .iter()
            .map(|load| load.iter().map(|(n, f)| (place(*n), f[0])).collect())
            .collect();
        let count = strips.len();
        let mut pairs = Vec::with_capacity(count * (count + 1) / 2);
        for (a, load) in placed.iter().enumerate() {
            for b in 0..=a {
                let work = |moved: &Vec<Vec<[f64; 3]>>| -> f64 {
                    load.iter().map(|&(n, f)| f * moved[b][n][0]).sum()
                };
                pairs.push(by_rung.iter().map(work).collect());
            }
        }
        let moved = (0..count)
            .map(|a| by_rung.iter().map(|rung| rung[a].clone()).collect())
            .collect();
        Ok(Self {
            ladder,
            strips,
            surface,
            nodes,
            moved,
            pairs,
        })
    }

    /// The harmonics solved for.
    pub fn ladder(&self) -> &Ladder {
        &self.ladder
    }

    /// The strips, in their order.
    pub fn strips(&self) -> &[Strip] {
        &self.strips
    }

    /// The nodes of both surfaces.
    pub fn surface(&self) -> &SurfaceNodes {
        &self.surface
    }

    /// All surface nodes, rising.
    pub fn nodes(&self) -> &[usize] {
        &self.nodes
    }

    /// Where a surface node stands among all of them.
    ///
    /// # Panics
    /// If it is none.
    pub fn place(&self, node: usize) -> usize {
        let found = self.nodes.binary_search(&node);
        found.expect("a surface node")
    }

    /// Compliance between two strips, one number a rung: mm of displacement per radian-force, integrated over the strip.
    pub fn between(&self, a: usize, b: usize) -> &[f64] {
        let (high, low) = (a.max(b), a.min(b));
        &self.pairs[high * (high + 1) / 2 + low]
    }

    /// Displacement `[U, W, V]` of the surface nodes by a unit of a strip in a rung of the ladder.
    pub fn moved(&self, strip: usize, rung: usize) -> &[[f64; 3]] {
        &self.moved[strip][rung]
    }
}

impl TubeBody {
    /// Nodal forces of a unit of a strip, N per radian.
    pub fn strip_load(&self, strip: &Strip) -> Vec<NodeForce<3>> {
        let (first, last) = (strip.ends[0].0, strip.ends[strip.ends.len() - 1].0);
        self.radial_load(strip.surface, [first, last], |z| strip.at(z))
    }
}
