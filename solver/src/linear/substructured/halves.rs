//! The two halves of a solve with the factor of a round ring, so that loads can be added between them.

use super::Substructured;
use crate::linear::factor::{Elimination, Factor, NodeForce, Reduced, Wanted};

impl Substructured {
    /// `L^-1 f` of a load on every node (N). Its square is the energy `f' K^-1 f` of a load that balances, N mm.
    pub fn forward_solve(&self, load: &[[f64; 2]]) -> Vec<f64> {
        if load.as_flattened().iter().all(|f| *f == 0.0) {
            return vec![0.0; self.unknowns()];
        }
        let mut x = self.scatter(load);
        for &u in self.constrained() {
            x[u] = 0.0;
        }
        self.eliminate(self.blocks(), &mut x);
        x
    }

    /// Adds `L^-1 f` of a load on few nodes to such a vector.
    pub fn add_forward(&self, load: &[NodeForce], x: &mut [f64]) {
        let reduced = self.reduce(load, &mut Vec::new());
        for (range, values) in reduced.parts(self) {
            for (x, v) in x[range].iter_mut().zip(values) {
                *x += v;
            }
        }
    }

    /// `L'^-1 x` at the wanted nodes, mm.
    pub fn back_solve_at(&self, x: &[f64], wanted: &Wanted) -> Vec<[f64; 2]> {
        if x.iter().all(|v| *v == 0.0) {
            return vec![[0.0; 2]; wanted.nodes.len()];
        }
        let mut x = x.to_vec();
        self.substitute(wanted.blocks.iter().rev().copied(), &mut x);
        self.at_nodes(&x, &wanted.nodes)
    }

    /// What of the factor these nodes reach.
    pub fn wanted_at(&self, nodes: &[usize]) -> Wanted {
        self.wanted(nodes)
    }

    /// Displacement (mm) of the wanted nodes under a sum of reduced loads, each so many times: what those of one ring come to, without
    /// eliminating again.
    pub fn displaced_at<'a>(
        &self,
        loads: impl Iterator<Item = (&'a Reduced, f64)>,
        wanted: &Wanted,
    ) -> Vec<[f64; 2]> {
        let mut x = vec![0.0; self.unknowns()];
        for (load, size) in loads.filter(|l| l.1 != 0.0) {
            for (range, values) in load.parts(self) {
                for (x, v) in x[range].iter_mut().zip(values) {
                    *x += size * v;
                }
            }
        }
        self.substitute(wanted.blocks.iter().rev().copied(), &mut x);
        self.at_nodes(&x, &wanted.nodes)
    }

    /// Values of some nodes, from a vector of unknowns.
    fn at_nodes(&self, x: &[f64], nodes: &[usize]) -> Vec<[f64; 2]> {
        let at = |&node: &usize| {
            let u = self.first_unknown(node);
            self.to_plane(node, [x[u], x[u + 1]])
        };
        nodes.iter().map(at).collect()
    }

    /// `L'^-1 x` at every node, mm.
    pub fn back_solve(&self, mut x: Vec<f64>) -> Vec<[f64; 2]> {
        self.substitute(self.blocks().rev(), &mut x);
        self.gather(&x)
    }
}
