//! Work on a lattice arc by arc, arcs side by side on as many threads as there are.
//!
//! How a lattice is divided depends on its topology alone, and what arcs add to the lines between them is added in their order: the same
//! bits for any number of threads.

use std::ops::Range;

use rayon::prelude::*;

use crate::mesh::Topology;

/// Columns of an arc.
const COLUMNS: usize = 64;

/// Elements from which threads are worth their starting.
const MANY: usize = 20_000;

/// The same, in loads on few nodes.
const MANY_LOADS: usize = 200;

/// Whether a task of this size, in elements, is worth dividing among threads, of which there are more than one. It says nothing of what comes out.
pub fn is_shared(elements: usize) -> bool {
    elements >= MANY && rayon::current_num_threads() > 1
}

/// The same of a number of loads on few nodes.
pub fn are_shared(loads: usize) -> bool {
    loads >= MANY_LOADS && rayon::current_num_threads() > 1
}

/// Results of independent tasks in their order, made side by side where that is worth while.
pub fn collected<I, R>(tasks: Vec<I>, shared: bool, work: impl Fn(I) -> R + Sync + Send) -> Vec<R>
where
    I: Send,
    R: Send,
{
    match shared {
        true => tasks.into_par_iter().map(work).collect(),
        false => tasks.into_iter().map(work).collect(),
    }
}

/// Values of the nodes of an arc, by their numbers in an open lattice of its own.
pub struct ArcValues<'a, T> {
    own: &'a mut [T],
    /// Of the line at its end, which is the next arc's.
    end: Vec<T>,
}

impl<T> ArcValues<'_, T> {
    /// The value of a node.
    #[inline(always)]
    pub fn at(&mut self, node: usize) -> &mut T {
        match node.checked_sub(self.own.len()) {
            None => &mut self.own[node],
            Some(k) => &mut self.end[k],
        }
    }
}

/// An arc of a lattice.
pub struct ColumnArc {
    /// Its columns.
    pub columns: Range<usize>,
    /// A lattice of its own.
    pub own: Topology,
    /// Number in the whole lattice of its first node; the others follow, and in the last arc of a closed one the end is its beginning.
    pub first: usize,
    /// Nodes of the whole lattice.
    nodes: usize,
}

impl ColumnArc {
    /// The nodes of an element of the arc, by the numbers of the whole lattice.
    #[inline(always)]
    pub fn in_whole(&self, node: usize) -> usize {
        let at = self.first + node;
        if at < self.nodes { at } else { at - self.nodes }
    }
}

/// Sums over the elements of a lattice, one value a node. `work` adds those of an arc; what it returns comes back in the order of the arcs.
pub fn over_arcs<T, R>(
    topology: &Topology,
    work: impl Fn(&ColumnArc, &mut ArcValues<T>) -> R + Sync + Send,
    add: impl Fn(&mut T, &T),
) -> (Vec<T>, Vec<R>)
where
    T: Clone + Default + Send,
    R: Send,
{
    let (around, through) = (topology.around(), topology.through());
    let line = 2 * through + 1;
    let column = 3 * through + 2;
    let mut values = vec![T::default(); topology.nodes()];
    let (main, last_line) = values.split_at_mut(around * column);
    let tasks: Vec<_> = main.chunks_mut(COLUMNS * column).enumerate().collect();
    let done = collected(tasks, is_shared(topology.elements()), |(k, own)| {
        let columns = k * COLUMNS..around.min((k + 1) * COLUMNS);
        let arc = ColumnArc {
            own: Topology::new(columns.len(), through, false),
            first: columns.start * column,
            columns,
            nodes: topology.nodes(),
        };
        let mut values = ArcValues {
            own,
            end: vec![T::default(); line],
        };
        let result = work(&arc, &mut values);
        (values.end, result)
    });
    let mut results = Vec::with_capacity(done.len());
    for (k, (end, result)) in done.into_iter().enumerate() {
        let next = (k + 1) * COLUMNS;
        let at = match (next < around, topology.is_closed()) {
            (true, _) => &mut main[next * column..],
            (false, true) => &mut *main,
            (false, false) => &mut *last_line,
        };
        for (v, e) in at.iter_mut().zip(&end) {
            add(v, e);
        }
        results.push(result);
    }
    (values, results)
}
