//! A meshed section behind contact, with the sleeves that stand beside it.

use std::ops::Deref;

use super::elastic::Elastic;
use super::pressure::PressureDof;
use super::surface;
use crate::linear::{Factor, NodeForce, Reduced, Substructured, Wanted, are_shared, collected};
use crate::mesh::Mesh;

/// A wall of the section: the part or a sleeve, and the number of its first node.
pub(super) struct MeshedWall<'a> {
    pub mesh: &'a Mesh,
    pub first: usize,
}

/// Finite elements behind pressures: their compliances come from the factor of the stiffness, reduced to the loads.
pub(super) struct Section<F> {
    factor: F,
    /// Nodal forces of each unit pressure, N per MPa.
    loads: Vec<Vec<NodeForce>>,
    /// Their sum on each wall, `[x, y]` in turn, N per MPa.
    resultants: Vec<Vec<f64>>,
    modes: usize,
    /// Reduced loads as they are asked for.
    reduced: Vec<Option<Reduced>>,
    nodes: Vec<usize>,
    wanted: Wanted,
    work: Vec<f64>,
    /// How often it was asked for all displacements by partial solves.
    partial_solves: usize,
    /// Whether all loads are reduced for good.
    all_reduced: bool,
}

/// Partial solves after which all loads are reduced, where that makes further ones cheaper: it costs as much as some ten.
const MOST_PARTIAL_SOLVES: usize = 3;

impl<F> Section<F>
where
    F: Deref,
    F::Target: Factor,
{
    /// The walls behind `factor`, whose nodes follow each other, under these pressures. Loads that were `reduced` before are taken over.
    pub fn new(
        factor: F,
        walls: &[MeshedWall],
        dofs: &[PressureDof],
        mut reduced: Vec<Option<Reduced>>,
    ) -> Self {
        let modes = 2 * walls.len();
        let mut loads = Vec::with_capacity(dofs.len());
        let mut resultants = Vec::with_capacity(dofs.len());
        for dof in dofs {
            let mut resultant = vec![0.0; modes];
            let mut load = Vec::with_capacity(5);
            for pressed in &dof.presses {
                let place = pressed.wall.place();
                let wall = &walls[place];
                let mut on_wall = Vec::with_capacity(5);
                for segment in &dof.segments {
                    surface::add_load(wall.mesh, pressed.surface, segment, &mut on_wall);
                }
                for (node, f) in on_wall {
                    resultant[2 * place] += f[0];
                    resultant[2 * place + 1] += f[1];
                    load.push((wall.first + node, f));
                }
            }
            loads.push(load);
            resultants.push(resultant);
        }
        let mut nodes: Vec<usize> = loads.iter().flatten().map(|l| l.0).collect();
        nodes.sort_unstable();
        nodes.dedup();
        let wanted = factor.wanted(&nodes);
        reduced.resize(loads.len(), None);
        Self {
            factor,
            reduced,
            wanted,
            nodes,
            loads,
            resultants,
            modes,
            work: Vec::new(),
            partial_solves: 0,
            all_reduced: false,
        }
    }

    /// Reduces all loads now, so that no displacement is asked for by partial solves.
    pub fn reduce_all(&mut self) {
        self.reduce(0..self.loads.len());
        self.all_reduced = true;
    }

    /// A new search begins: it asks as if it were the first, so that its answer does not depend on what was asked before.
    pub fn begin(&mut self) {
        self.partial_solves = 0;
    }

    /// The reduced loads as far as they were asked for.
    pub fn into_reduced(self) -> Vec<Option<Reduced>> {
        self.reduced
    }

    /// Nodal forces of unit pressures, N per MPa.
    pub fn loads(&self) -> &[Vec<NodeForce>] {
        &self.loads
    }

    /// The factor.
    pub fn factor(&self) -> &F::Target {
        &self.factor
    }

    /// The loaded nodes, increasing, and what of the factor they reach.
    pub fn wanted(&self) -> (&[usize], &Wanted) {
        (&self.nodes, &self.wanted)
    }

    /// Nodal forces of pressures, N.
    pub fn nodal_forces(&self, pressures: &[f64]) -> Vec<NodeForce> {
        let mut forces: Vec<NodeForce> = Vec::new();
        for (load, &p) in self.loads.iter().zip(pressures) {
            if p != 0.0 {
                forces.extend(load.iter().map(|&(n, f)| (n, [p * f[0], p * f[1]])));
            }
        }
        forces
    }

    /// All displacements from reduced loads, where that is cheaper.
    fn by_reduced_loads(&mut self, pressures: &[f64]) -> Option<Vec<f64>> {
        let few = self.partial_solves < MOST_PARTIAL_SOLVES || !self.factor.has_short_paths();
        if few && !self.all_reduced {
            return None;
        }
        self.reduce(0..self.loads.len());
        let reduced: Vec<&Reduced> = self.reduced.iter().flatten().collect();
        let (factor, work) = (&self.factor, &mut self.work);
        Some(factor.weighted_displacements(&reduced, pressures, work))
    }

    /// Reduces what is not yet reduced of some loads.
    fn reduce(&mut self, pressures: impl Iterator<Item = usize>) {
        let mut missing: Vec<usize> = pressures.filter(|&k| self.reduced[k].is_none()).collect();
        missing.sort_unstable();
        missing.dedup();
        let (factor, loads) = (&*self.factor, &self.loads);
        let reduce = |few: &[usize], work: &mut Vec<f64>| -> Vec<Reduced> {
            few.iter()
                .map(|&k| factor.reduce(&loads[k], work))
                .collect()
        };
        let made = if are_shared(missing.len()) {
            let tasks = missing.chunks(LOADS_A_TASK).collect();
            collected(tasks, true, |few| reduce(few, &mut Vec::new())).concat()
        } else {
            reduce(&missing, &mut self.work)
        };
        for (k, reduced) in missing.into_iter().zip(made) {
            self.reduced[k] = Some(reduced);
        }
    }
}

/// Loads that one thread reduces at a time, with a working vector as long as the unknowns.
const LOADS_A_TASK: usize = 128;

impl<F: Deref<Target = Substructured>> Section<F> {
    /// Displacement (mm) of wanted nodes of a round ring under pressures whose loads are all reduced.
    pub fn displaced(&self, pressures: &[f64], wanted: &Wanted) -> Vec<[f64; 2]> {
        let loads = self.reduced.iter().flatten().zip(pressures.iter().copied());
        self.factor.displaced_at(loads, wanted)
    }
}

impl<F> Elastic for Section<F>
where
    F: Deref,
    F::Target: Factor,
{
    fn pressures(&self) -> usize {
        self.loads.len()
    }

    fn rigid_body_modes(&self) -> usize {
        self.modes
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.resultants[pressure][mode]
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        self.reduce(std::iter::once(pressure).chain(others.iter().copied()));
        let of = |k: usize| self.reduced[k].as_ref().expect("reduced above");
        of(pressure).dots(others.iter().map(|&other| of(other)))
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let all = |&(k, others): &(usize, &[usize])| std::iter::once(k).chain(others.to_vec());
        self.reduce(asked.iter().flat_map(all));
        let reduced = &self.reduced;
        let of = |k: usize| reduced[k].as_ref().expect("reduced above");
        let shared = are_shared(asked.len());
        collected(asked.to_vec(), shared, |(pressure, others)| {
            of(pressure).dots(others.iter().map(|&other| of(other)))
        })
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        if let Some(moved) = self.by_reduced_loads(pressures) {
            return moved;
        }
        self.partial_solves += 1;
        let load = self.nodal_forces(pressures);
        let moved = self
            .factor
            .partial_solve(&load, &self.wanted, &mut self.work);
        let at = |node: usize| {
            moved[self
                .nodes
                .binary_search(&node)
                .expect("every loaded node is wanted")]
        };
        let work = |load: &Vec<NodeForce>| {
            load.iter()
                .map(|&(n, f)| f[0] * at(n)[0] + f[1] * at(n)[1])
                .sum()
        };
        self.loads.iter().map(work).collect()
    }
}
