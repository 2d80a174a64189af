//! Mesh of the r-z plane of a body of revolution.
//!
//! The lattice of a slit section, straightened out: its columns follow each other along the axis, its layers lie from the bore outwards. Where
//! the outline steps, the lattice goes on beside the body and its elements there are left empty. To that end the straight runs of outside and bore
//! (chains) are put in order: run `a` lies below run `b` if it does at any position that both reach. Each gets a rank, ranks are lines of the lattice
//! from end to end, and the layers between two ranks fill what lies between their radii.

use std::ops::Range;

use super::{Topology, graded_sizes};
use crate::geometry::{Meridian, Surface};

/// Radii that differ by less than this share are one: steps smaller than it would make layers that are lost in rounding.
const SAME_RADIUS: f64 = 1e-9;

/// An axial position that must be a line of the mesh, and how fine the columns beside it are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxialGrading {
    /// Distance from the gripped end, mm.
    pub z: f64,
    /// Length of the columns that touch it, mm; infinite for no refinement.
    pub size: f64,
}

/// Sizes of the elements of a meridian mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeridianSizes {
    /// Longest column, mm.
    pub along: f64,
    /// Thickest layer, mm.
    pub through: f64,
    /// Factor by which columns grow away from a graded position at most.
    pub growth: f64,
}

/// Eight-node quadrilaterals over the r-z plane of a body of revolution. Coordinates are `[r, z]`, mm.
#[derive(Clone, Debug)]
pub struct MeridianMesh {
    topology: Topology,
    coords: Vec<[f64; 2]>,
    /// Layers that are filled, of each column.
    filled: Vec<Range<usize>>,
    /// Axial position of each lattice line, mm.
    heights: Vec<f64>,
}

/// A straight run of a surface over pieces that follow each other without a step.
struct Chain {
    /// Pieces that it spans.
    pieces: Range<usize>,
    surface: Surface,
}

impl MeridianMesh {
    /// Lays a mesh over an outline, with a line at every mark and every point of the outline.
    pub fn build(outline: &Meridian, marks: &[AxialGrading], sizes: &MeridianSizes) -> Self {
        let chains = chains(outline);
        let ranks = ranks(outline, &chains);
        let levels = ranks.iter().max().map_or(0, |r| r + 1);
        let nominal = nominal_radii(outline, &chains, &ranks, levels);
        let layers: Vec<usize> = nominal
            .windows(2)
            .map(|pair| ((pair[1] - pair[0]) / sizes.through).ceil().max(1.0) as usize)
            .collect();
        let ends = column_ends(outline, marks, sizes);
        let rank_of = |piece: usize, surface: Surface| {
            let own = |c: &&Chain| c.surface == surface && c.pieces.contains(&piece);
            let at = chains.iter().position(|c| own(&c));
            ranks[at.expect("every piece has both surfaces")]
        };
        let layer_ends: Vec<usize> = std::iter::once(0)
            .chain(layers.iter().scan(0, |sum, n| {
                *sum += n;
                Some(*sum)
            }))
            .collect();
        let filled = ends
            .windows(2)
            .map(|pair| {
                let piece = piece_at(outline, 0.5 * (pair[0] + pair[1]));
                layer_ends[rank_of(piece, Surface::Bore)]
                    ..layer_ends[rank_of(piece, Surface::Outer)]
            })
            .collect();
        let through = layer_ends[levels - 1];
        let mut heights = Vec::with_capacity(2 * ends.len() - 1);
        for pair in ends.windows(2) {
            heights.extend([pair[0], 0.5 * (pair[0] + pair[1])]);
        }
        heights.extend(ends.last());
        let topology = Topology::new(ends.len() - 1, through, false);
        let mut coords = Vec::with_capacity(topology.nodes());
        for (i, &z) in heights.iter().enumerate() {
            let radii = radii_at(outline, &chains, &ranks, &nominal, z);
            let step = 1 + i % 2;
            for j in (0..=2 * through).step_by(step) {
                coords.push([lattice_radius(&radii, &layer_ends, j), z]);
            }
        }
        Self {
            topology,
            coords,
            filled,
            heights,
        }
    }

    /// Which nodes and elements there are and how they meet, empty ones included.
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// Coordinates `[r, z]` of the nodes, mm.
    pub fn coords(&self) -> &[[f64; 2]] {
        &self.coords
    }

    /// Axial position of each lattice line, mm: column ends and middles in turn.
    pub fn heights(&self) -> &[f64] {
        &self.heights
    }

    /// Layers of a column that are filled.
    pub fn filled(&self, column: usize) -> Range<usize> {
        self.filled[column].clone()
    }

    /// Number of filled elements.
    pub fn elements(&self) -> usize {
        self.filled.iter().map(Range::len).sum()
    }

    /// Nodes that belong to no filled element, increasing.
    pub fn unused_nodes(&self) -> Vec<usize> {
        let mut used = vec![false; self.topology.nodes()];
        for (column, layers) in self.filled.iter().enumerate() {
            for layer in layers.clone() {
                let nodes = self.topology.element_nodes(column, layer);
                nodes.iter().for_each(|&n| used[n] = true);
            }
        }
        (0..used.len()).filter(|&n| !used[n]).collect()
    }

    /// The three nodes of a column's side that lies on a surface, in the direction of the axis.
    pub fn side(&self, column: usize, surface: Surface) -> [usize; 3] {
        let layers = self.filled(column);
        let j = match surface {
            Surface::Outer => 2 * layers.end,
            Surface::Bore => 2 * layers.start,
        };
        [0, 1, 2].map(|k| self.topology.node(2 * column + k, j))
    }

    /// Nodes of an end face from the bore outwards, ends and middles of its layers in turn; the gripped end first.
    pub fn end_faces(&self) -> [Vec<usize>; 2] {
        let last = self.topology.around();
        [(0, 0), (last, last - 1)].map(|(line, column)| {
            let layers = self.filled(column);
            (2 * layers.start..=2 * layers.end)
                .map(|j| self.topology.node(2 * line, j))
                .collect()
        })
    }
}

fn piece_at(outline: &Meridian, z: f64) -> usize {
    outline.pieces().partition_point(|p| p.z[1] < z)
}

/// Ends of columns: at every mark and every point of the outline, graded between them.
fn column_ends(outline: &Meridian, marks: &[AxialGrading], sizes: &MeridianSizes) -> Vec<f64> {
    let [start, end] = outline.ends();
    let points = outline.pieces().iter().flat_map(|p| p.z);
    let mut all: Vec<AxialGrading> = points
        .map(|z| AxialGrading {
            z,
            size: f64::INFINITY,
        })
        .chain(
            marks
                .iter()
                .filter(|m| (start..=end).contains(&m.z))
                .copied(),
        )
        .collect();
    all.sort_by(|a, b| a.z.total_cmp(&b.z));
    all.dedup_by(|later, kept| {
        let same = later.z - kept.z < SAME_RADIUS * (end - start);
        if same {
            kept.size = kept.size.min(later.size);
        }
        same
    });
    let mut ends = vec![start];
    for pair in all.windows(2) {
        let lengths = graded_sizes(
            pair[1].z - pair[0].z,
            pair[0].size,
            pair[1].size,
            sizes.along,
            sizes.growth,
        );
        let mut z = pair[0].z;
        for length in &lengths[..lengths.len() - 1] {
            z += length;
            ends.push(z);
        }
        ends.push(pair[1].z);
    }
    ends
}

fn chains(outline: &Meridian) -> Vec<Chain> {
    let pieces = outline.pieces();
    let mut chains = Vec::new();
    for surface in Surface::BOTH {
        let goes_on = |k: usize| {
            let [before, after] = [
                pieces[k - 1].radii.get(surface)[1],
                pieces[k].radii.get(surface)[0],
            ];
            (before - after).abs() <= SAME_RADIUS * before.max(after)
        };
        let mut first = 0;
        for k in 1..=pieces.len() {
            if k == pieces.len() || !goes_on(k) {
                chains.push(Chain {
                    pieces: first..k,
                    surface,
                });
                first = k;
            }
        }
    }
    chains
}

impl Chain {
    /// Radius at an axial position, if it reaches there.
    fn radius(&self, outline: &Meridian, z: f64) -> Option<f64> {
        let own = &outline.pieces()[self.pieces.clone()];
        let piece = own.iter().find(|p| (p.z[0]..=p.z[1]).contains(&z))?;
        Some(piece.radius(self.surface, z))
    }
}

/// Rank of each chain, from the bore outwards: one more than the highest of those that lie below it.
///
/// There always is one. At a step the walls on both sides meet, so a bore lies below every outside that it shares a position with; of bores only neighbours
/// share one, and so of outsides: nothing lies below itself by way of others.
fn ranks(outline: &Meridian, chains: &[Chain]) -> Vec<usize> {
    let positions: Vec<f64> = outline.pieces().iter().flat_map(|p| p.z).collect();
    let below = |a: &Chain, b: &Chain| {
        positions.iter().any(|&z| {
            let radii = [a, b].map(|c| c.radius(outline, z));
            matches!(radii, [Some(x), Some(y)] if y - x > SAME_RADIUS * y)
        })
    };
    let mut ranks = vec![0; chains.len()];
    // as many sweeps as there are chains settle the longest way
    for _ in chains {
        for (k, upper) in chains.iter().enumerate() {
            let lower = chains.iter().zip(&ranks);
            let lower = lower.filter(|(lower, _)| below(lower, upper));
            ranks[k] = lower.map(|(_, rank)| rank + 1).max().unwrap_or(0);
        }
    }
    ranks
}

/// A radius for each rank, increasing: the mean of its chains' ends.
fn nominal_radii(outline: &Meridian, chains: &[Chain], ranks: &[usize], levels: usize) -> Vec<f64> {
    let mut nominal: Vec<f64> = (0..levels)
        .map(|level| {
            let own = chains.iter().zip(ranks).filter(|(_, r)| **r == level);
            let radii: Vec<f64> = own
                .flat_map(|(c, _)| {
                    let pieces = &outline.pieces()[c.pieces.clone()];
                    let radii = pieces.iter().flat_map(|p| *p.radii.get(c.surface));
                    radii.collect::<Vec<_>>()
                })
                .collect();
            radii.iter().sum::<f64>() / radii.len() as f64
        })
        .collect();
    for k in 1..levels {
        let least = nominal[k - 1] * (1.0 + 1e-6) + 1e-6;
        nominal[k] = nominal[k].max(least);
    }
    nominal
}

/// Radius of every rank at an axial position: those of the chains there; between two of them in the proportion of the nominal ones, beyond them (where
/// nothing is filled) at their distance.
fn radii_at(
    outline: &Meridian,
    chains: &[Chain],
    ranks: &[usize],
    nominal: &[f64],
    z: f64,
) -> Vec<f64> {
    let mut known: Vec<Option<f64>> = vec![None; nominal.len()];
    for (chain, &rank) in chains.iter().zip(ranks) {
        known[rank] = known[rank].or(chain.radius(outline, z));
    }
    (0..nominal.len())
        .map(|k| {
            let below = (0..=k).rev().find_map(|r| known[r].map(|x| (r, x)));
            let above = (k..nominal.len()).find_map(|r| known[r].map(|x| (r, x)));
            match (below, above) {
                (Some((a, low)), Some((b, high))) if b > a => {
                    low + (high - low) * (nominal[k] - nominal[a]) / (nominal[b] - nominal[a])
                }
                (Some((a, x)), _) | (None, Some((a, x))) => x + nominal[k] - nominal[a],
                (None, None) => nominal[k],
            }
        })
        .collect()
}

/// Radius of half-step `j` of a lattice line, from the radii of the ranks and the layers at which they lie.
fn lattice_radius(radii: &[f64], layer_ends: &[usize], j: usize) -> f64 {
    let band = layer_ends[1..].partition_point(|&end| 2 * end < j);
    let (from, to) = (2 * layer_ends[band], 2 * layer_ends[band + 1]);
    let share = (j - from) as f64 / (to - from) as f64;
    (1.0 - share) * radii[band] + share * radii[band + 1]
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::geometry::MeridianPoint;

    /// A cup with a rim: the lattice has as many layers as the floor takes, and most of them are empty over the wall.
    #[test]
    fn steps_leave_elements_empty() {
        let rows = [
            [0.0, 30.0, 0.0],
            [5.0, 30.0, 0.0],
            [5.0, 30.0, 27.0],
            [25.0, 30.0, 27.0],
            [25.0, 33.0, 26.0],
            [28.0, 33.0, 26.0],
        ];
        let point = |&[z, outer, bore]: &[f64; 3]| MeridianPoint { z, outer, bore };
        let outline = Meridian::through(&rows.iter().map(point).collect::<Vec<_>>()).unwrap();
        let sizes = MeridianSizes {
            along: 2.0,
            through: 1.0,
            growth: 1.4,
        };
        let cup = MeridianMesh::build(&outline, &[], &sizes);
        assert!(cup.elements() < cup.topology().elements());
        assert!(!cup.unused_nodes().is_empty());
        for (face, radii) in cup.end_faces().iter().zip([[0.0, 30.0], [26.0, 33.0]]) {
            let ends = [face[0], face[face.len() - 1]].map(|n| cup.coords()[n][0]);
            assert_eq!(ends, radii);
        }
        for column in 0..cup.topology().around() {
            let z = cup.heights()[2 * column + 1];
            for surface in Surface::BOTH {
                for node in cup.side(column, surface) {
                    let [r, _] = cup.coords()[node];
                    assert!((r - outline.radius(surface, z)).abs() < 1e-12);
                }
            }
        }
    }
}
