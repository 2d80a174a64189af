//! Bodies side by side: their factors as one, block diagonal.

use super::LinearError;
use super::factor::{Factor, NodeForce, Reduced, Wanted};

/// Blocks of one body are numbered from this times its place in the list: no factor has as many.
const BLOCKS: u32 = 1 << 26;

/// Block diagonal factor of bodies that are joined by nothing, their nodes numbered one body after the other.
pub struct BlockDiagonal<'a, const D: usize = 2> {
    bodies: Vec<(&'a dyn Factor<D>, std::ops::Range<usize>)>,
}

impl<'a, const D: usize> BlockDiagonal<'a, D> {
    /// Factors with the numbers of their nodes.
    ///
    /// # Panics
    /// With more than 64 bodies.
    pub fn new(bodies: impl IntoIterator<Item = (&'a dyn Factor<D>, usize)>) -> Self {
        let mut first = 0;
        let bodies: Vec<_> = bodies
            .into_iter()
            .map(|(factor, nodes)| {
                let range = first..first + nodes;
                first = range.end;
                (factor, range)
            })
            .collect();
        assert!(bodies.len() <= 64);
        Self { bodies }
    }

    /// The bodies with the part of a load that is on each, nodes by their own numbers.
    fn parts<'b>(
        &'b self,
        load: &'b [NodeForce<D>],
    ) -> impl Iterator<Item = (u32, &'a dyn Factor<D>, Vec<NodeForce<D>>)> + 'b {
        self.bodies.iter().enumerate().map(|(k, (factor, nodes))| {
            let on = load
                .iter()
                .filter(|(n, _)| nodes.contains(n))
                .map(|&(n, f)| (n - nodes.start, f))
                .collect();
            (k as u32 * BLOCKS, *factor, on)
        })
    }

    /// The bodies with their share of values of every node.
    fn shares<'b>(
        &'b self,
        values: &'b [[f64; D]],
    ) -> impl Iterator<Item = (&'a dyn Factor<D>, &'b [[f64; D]])> {
        self.bodies
            .iter()
            .map(|(factor, nodes)| (*factor, &values[nodes.clone()]))
    }
}

impl<const D: usize> Factor<D> for BlockDiagonal<'_, D> {
    fn reduce(&self, load: &[NodeForce<D>], work: &mut Vec<f64>) -> Reduced {
        let mut all = Reduced {
            blocks: Vec::new(),
            values: Vec::new(),
        };
        for (first, factor, on) in self.parts(load).filter(|p| !p.2.is_empty()) {
            let reduced = factor.reduce(&on, work);
            let start = all.values.len() as u32;
            let shifted = reduced.blocks.iter();
            let shifted = shifted.map(|b| (b.0.after(first), start + b.1));
            all.blocks.extend(shifted);
            all.values.extend(reduced.values);
        }
        all
    }

    fn wanted(&self, nodes: &[usize]) -> Wanted {
        let mut blocks = Vec::new();
        for (k, (factor, own)) in self.bodies.iter().enumerate() {
            let on: Vec<usize> = nodes
                .iter()
                .filter(|n| own.contains(n))
                .map(|n| n - own.start)
                .collect();
            let wanted = factor.wanted(&on);
            blocks.extend(wanted.blocks.iter().map(|b| b.after(k as u32 * BLOCKS)));
        }
        Wanted {
            blocks,
            nodes: nodes.to_vec(),
        }
    }

    fn partial_solve(
        &self,
        load: &[NodeForce<D>],
        wanted: &Wanted,
        work: &mut Vec<f64>,
    ) -> Vec<[f64; D]> {
        let mut moved = vec![[0.0; D]; wanted.nodes.len()];
        for ((first, factor, on), (_, own)) in self.parts(load).zip(&self.bodies) {
            let places: Vec<usize> = (0..wanted.nodes.len())
                .filter(|&k| own.contains(&wanted.nodes[k]))
                .collect();
            let part = Wanted {
                blocks: wanted
                    .blocks
                    .iter()
                    .filter_map(|b| b.before(first))
                    .filter(|b| b.index() < BLOCKS as usize)
                    .collect(),
                nodes: places
                    .iter()
                    .map(|&k| wanted.nodes[k] - own.start)
                    .collect(),
            };
            for (k, u) in places
                .into_iter()
                .zip(factor.partial_solve(&on, &part, work))
            {
                moved[k] = u;
            }
        }
        moved
    }

    fn has_short_paths(&self) -> bool {
        false
    }

    fn weighted_displacements(
        &self,
        reduced: &[&Reduced],
        sizes: &[f64],
        _: &mut Vec<f64>,
    ) -> Vec<f64> {
        let work = |load: &&Reduced| {
            let dots = load.dots(reduced.iter().copied());
            dots.iter().zip(sizes).map(|(c, p)| c * p).sum()
        };
        reduced.iter().map(work).collect()
    }

    fn solve(&self, load: &[[f64; D]]) -> Result<Vec<[f64; D]>, LinearError> {
        let solved: Result<Vec<_>, _> = self.shares(load).map(|(f, own)| f.solve(own)).collect();
        Ok(solved?.concat())
    }

    fn precondition(&self, load: &[[f64; D]]) -> Vec<[f64; D]> {
        self.shares(load)
            .flat_map(|(f, own)| f.precondition(own))
            .collect()
    }

    fn forces(&self, displacement: &[[f64; D]]) -> Vec<[f64; D]> {
        self.shares(displacement)
            .flat_map(|(f, own)| f.forces(own))
            .collect()
    }
}
