//! A large ring eliminated arc by arc, arcs side by side on as many threads as there are.
//!
//! The tree of the substructures is cut below a few large ones. What is under each cut touches the lines inside its arc, and those at both ends
//! only to take something off them or to read them, so arcs need nothing of each other. How the ring is divided depends on its tree alone,
//! and what the arcs take off the lines between them is taken off in their order.

use super::{Substructure, Substructured, Sweep};
use crate::linear::arcs::{collected, is_shared};
use crate::linear::factor::BlockId;

/// Unknowns from which a ring is divided: below, a solve takes a few milliseconds.
const LARGE: usize = 150_000;

/// Arcs that a large ring is divided into, at least: many, so that threads end together.
const ARCS: usize = 12;

/// How a ring is divided: not at all, or into arcs and the substructures above them.
#[derive(Default)]
pub(super) struct Division {
    arcs: Vec<Arc>,
    /// The others, in the order of their factors.
    upper: Vec<BlockId>,
}

/// An arc with its substructures in the order of their factors, their unknowns counted from the line at its start.
struct Arc {
    first: usize,
    /// Its unknowns, those of the lines at both ends included.
    unknowns: usize,
    list: Vec<Substructure>,
}

impl Division {
    /// Of a ring with its substructures, their order by factor, its unknowns and those of a line between columns.
    pub fn of(
        substructures: &[Substructure],
        order: &[BlockId],
        unknowns: usize,
        line: usize,
    ) -> Self {
        if unknowns < LARGE {
            return Self::default();
        }
        let root = substructures.len() - 1;
        let mut children = vec![Vec::new(); substructures.len()];
        for (k, s) in substructures.iter().enumerate().take(root) {
            children[s.parent.index()].push(k);
        }
        let span = |k: &usize| {
            let [start, end] = substructures[*k].ends;
            match (end + unknowns - start) % unknowns {
                0 => unknowns,
                span => span,
            }
        };
        let mut cuts = vec![root];
        while cuts.len() < ARCS {
            let largest = (0..cuts.len()).max_by_key(|&c| (span(&cuts[c]), cuts[c]));
            let Some(largest) = largest.filter(|&c| !children[cuts[c]].is_empty()) else {
                break;
            };
            let cut = cuts.swap_remove(largest);
            cuts.extend(&children[cut]);
        }
        cuts.sort_unstable_by_key(|&c| substructures[c].ends[0]);
        let mut arc_of = vec![None; substructures.len()];
        for (k, &cut) in cuts.iter().enumerate() {
            let mut below = vec![cut];
            while let Some(block) = below.pop() {
                arc_of[block] = Some(k);
                below.extend(&children[block]);
            }
        }
        let mut arcs: Vec<Arc> = cuts
            .iter()
            .map(|c| Arc {
                first: substructures[*c].ends[0],
                unknowns: span(c) + line,
                list: Vec::new(),
            })
            .collect();
        let mut upper = Vec::new();
        for &block in order {
            let s = &substructures[block.index()];
            let Some(arc) = arc_of[block.index()].map(|k| &mut arcs[k]) else {
                upper.push(block);
                continue;
            };
            let own = |u: usize| (u + unknowns - arc.first) % unknowns;
            let mut inside = s.clone();
            inside.own = own(s.own.start)..own(s.own.start) + s.own.len();
            inside.ends = s.ends.map(own);
            arc.list.push(inside);
        }
        Self { arcs, upper }
    }

    pub fn is_divided(&self) -> bool {
        self.arcs.len() > 1
    }
}

impl Substructured {
    /// The unknowns inside each arc.
    fn insides<'a>(&self, mut x: &'a mut [f64]) -> Vec<(&Arc, &'a mut [f64])> {
        let mut passed = 0;
        let mut insides = Vec::with_capacity(self.division.arcs.len());
        for arc in &self.division.arcs {
            let (_, rest) = x.split_at_mut(arc.first + self.line - passed);
            let (inside, rest) = rest.split_at_mut(arc.unknowns - 2 * self.line);
            insides.push((arc, inside));
            passed = arc.first + arc.unknowns - self.line;
            x = rest;
        }
        insides
    }

    /// Where the line at the end of an arc stands.
    fn end_of(&self, arc: &Arc) -> usize {
        (arc.first + arc.unknowns - self.line) % self.unknowns
    }

    fn is_shared(&self) -> bool {
        is_shared(self.topology.elements())
    }

    /// `L^-1` over all blocks of a divided ring.
    pub(super) fn eliminate_divided(&self, x: &mut [f64]) {
        let line = self.line;
        let taken = collected(self.insides(x), self.is_shared(), |(arc, inside)| {
            let mut own = vec![0.0; arc.unknowns];
            let end = arc.unknowns - line;
            own[line..end].copy_from_slice(inside);
            self.sweep_arc(arc, false, &mut own);
            inside.copy_from_slice(&own[line..end]);
            [own[..line].to_vec(), own[end..].to_vec()]
        });
        for (arc, taken) in self.division.arcs.iter().zip(taken) {
            for (at, taken) in [arc.first, self.end_of(arc)].into_iter().zip(taken) {
                for (x, t) in x[at..].iter_mut().zip(taken) {
                    *x += t;
                }
            }
        }
        self.sweep(&self.division.upper, false, x);
    }

    /// `L'^-1` over all blocks of a divided ring.
    pub(super) fn substitute_divided(&self, x: &mut [f64]) {
        let line = self.line;
        self.sweep(&self.division.upper, true, x);
        let at_ends: Vec<[Vec<f64>; 2]> = self
            .division
            .arcs
            .iter()
            .map(|arc| [arc.first, self.end_of(arc)].map(|at| x[at..at + line].to_vec()))
            .collect();
        let tasks = self.insides(x).into_iter().zip(at_ends).collect();
        collected(tasks, self.is_shared(), |((arc, inside), at_ends)| {
            let mut own = Vec::with_capacity(arc.unknowns);
            own.extend_from_slice(&at_ends[0]);
            own.extend_from_slice(inside);
            own.extend_from_slice(&at_ends[1]);
            self.sweep_arc(arc, true, &mut own);
            inside.copy_from_slice(&own[line..arc.unknowns - line]);
        });
    }

    /// Elimination or back substitution inside an arc. No constraint is inside one: they stand on lines where the last arcs meet.
    fn sweep_arc(&self, arc: &Arc, back: bool, x: &mut [f64]) {
        self.arch.dispatch(Sweep {
            ring: self,
            list: &arc.list,
            constrained: &[],
            back,
            x,
        });
    }
}
