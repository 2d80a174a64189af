//! Bodies side by side: their factors as one.

use super::LinearError;
use super::factor::{Factor, NodeForce, Reduced, Wanted};

/// Blocks of one body are numbered from this times its place in the list: no factor has as many.
const BLOCKS: u32 = 1 << 26;

/// Bodies that are joined by nothing, their nodes numbered one body after the other.
pub struct Several<'a> {
    bodies: Vec<(&'a dyn Factor, std::ops::Range<usize>)>,
}

impl<'a> Several<'a> {
    /// Factors with the numbers of their nodes.
    ///
    /// # Panics
    /// With more than 64 bodies.
    pub fn new(bodies: impl IntoIterator<Item = (&'a dyn Factor, usize)>) -> Self {
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
        load: &'b [NodeForce],
    ) -> impl Iterator<Item = (u32, &'a dyn Factor, Vec<NodeForce>)> + 'b {
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
        values: &'b [[f64; 2]],
    ) -> impl Iterator<Item = (&'a dyn Factor, &'b [[f64; 2]])> {
        self.bodies
            .iter()
            .map(|(factor, nodes)| (*factor, &values[nodes.clone()]))
    }
}

impl Factor for Several<'_> {
    fn reduce(&self, load: &[NodeForce], work: &mut Vec<f64>) -> Reduced {
        let mut all = Reduced {
            blocks: Vec::new(),
            values: Vec::new(),
        };
        for (first, factor, on) in self.parts(load).filter(|p| !p.2.is_empty()) {
            let reduced = factor.reduce(&on, work);
            let start = all.values.len() as u32;
            let shifted = reduced.blocks.iter().map(|b| (first + b.0, start + b.1));
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
            blocks.extend(wanted.blocks.iter().map(|b| k as u32 * BLOCKS + b));
        }
        Wanted {
            blocks,
            nodes: nodes.to_vec(),
        }
    }

    fn respond(&self, load: &[NodeForce], wanted: &Wanted, work: &mut Vec<f64>) -> Vec<[f64; 2]> {
        let mut moved = vec![[0.0; 2]; wanted.nodes.len()];
        for ((first, factor, on), (_, own)) in self.parts(load).zip(&self.bodies) {
            let places: Vec<usize> = (0..wanted.nodes.len())
                .filter(|&k| own.contains(&wanted.nodes[k]))
                .collect();
            let here = first..first + BLOCKS;
            let part = Wanted {
                blocks: wanted
                    .blocks
                    .iter()
                    .filter(|b| here.contains(b))
                    .map(|b| b - first)
                    .collect(),
                nodes: places
                    .iter()
                    .map(|&k| wanted.nodes[k] - own.start)
                    .collect(),
            };
            for (k, u) in places.into_iter().zip(factor.respond(&on, &part, work)) {
                moved[k] = u;
            }
        }
        moved
    }

    fn solve(&self, load: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, LinearError> {
        let solved: Result<Vec<_>, _> = self.shares(load).map(|(f, own)| f.solve(own)).collect();
        Ok(solved?.concat())
    }

    fn precondition(&self, load: &[[f64; 2]]) -> Vec<[f64; 2]> {
        self.shares(load)
            .flat_map(|(f, own)| f.precondition(own))
            .collect()
    }

    fn forces(&self, displacement: &[[f64; 2]]) -> Vec<[f64; 2]> {
        self.shares(displacement)
            .flat_map(|(f, own)| f.forces(own))
            .collect()
    }
}
