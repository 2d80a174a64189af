//! Which nodes and elements there are and how they meet: numbers alone, no coordinates.

use crate::geometry::Surface;

/// Nodes of an element.
pub const ELEMENT_NODES: usize = 8;

/// Topology of an O-grid of eight-node quadrilaterals, `around` columns of `through` elements.
///
/// The lattice has half-steps: position `i` round (even: element ends, odd: element middles) and `j` through the wall from the
/// bore (0) to the outside (`2 * through`). There is a node wherever not both are odd. Nodes are numbered line by line with `i`,
/// from the bore outwards in each line. Element `(column, layer)` has number `column * through + layer`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Topology {
    around: usize,
    through: usize,
    closed: bool,
}

impl Topology {
    /// Topology of `around` columns of `through` elements. In a `closed` one the last column meets the first, else the grid is slit
    /// there.
    ///
    /// # Panics
    /// Without an element, and for a closed grid of one column, which would meet itself.
    pub fn new(around: usize, through: usize, closed: bool) -> Self {
        assert!(around > usize::from(closed) && through > 0);
        Self {
            around,
            through,
            closed,
        }
    }

    /// Elements round the ring.
    pub fn around(&self) -> usize {
        self.around
    }

    /// Elements through the wall.
    pub fn through(&self) -> usize {
        self.through
    }

    /// Whether the last column meets the first.
    pub fn is_closed(&self) -> bool {
        self.closed
    }

    /// Number of lattice lines across the wall: element ends and middles.
    pub fn lines(&self) -> usize {
        2 * self.around + usize::from(!self.closed)
    }

    /// Number of nodes.
    pub fn nodes(&self) -> usize {
        let last = if self.closed { 0 } else { 2 * self.through + 1 };
        self.around * (3 * self.through + 2) + last
    }

    /// Number of elements.
    pub fn elements(&self) -> usize {
        self.around * self.through
    }

    /// Every element as `(column, layer)`, in the order of their numbers.
    pub fn element_places(&self) -> impl Iterator<Item = (usize, usize)> {
        let through = self.through;
        (0..self.around).flat_map(move |c| (0..through).map(move |l| (c, l)))
    }

    /// Node at lattice position `(i, j)`; `i` wraps in a closed ring. Not both may be odd.
    pub fn node(&self, i: usize, j: usize) -> usize {
        let i = if self.closed {
            i % (2 * self.around)
        } else {
            i
        };
        let line = (i / 2) * (3 * self.through + 2);
        if i.is_multiple_of(2) {
            line + j
        } else {
            line + 2 * self.through + 1 + j / 2
        }
    }

    /// Nodes of element `(column, layer)`: corners counter-clockwise, then the middles of the sides in the same order, as in VTK
    /// cell type 23. Side 0 faces the bore, side 2 the outside.
    pub fn element_nodes(&self, column: usize, layer: usize) -> [usize; ELEMENT_NODES] {
        // first nodes of the lines at the column's start, middle and end
        let lines = 3 * self.through + 2;
        let start = column * lines;
        let middle = start + 2 * self.through + 1;
        let wraps = self.closed && column + 1 == self.around;
        let end = if wraps { 0 } else { start + lines };
        let j = 2 * layer;
        // counter-clockwise with the angle: bore side runs against the angle
        [
            end + j,
            start + j,
            start + j + 2,
            end + j + 2,
            middle + layer,
            start + j + 1,
            middle + layer + 1,
            end + j + 1,
        ]
    }

    /// Nodes of a surface, one a lattice line.
    pub fn boundary(&self, surface: Surface) -> Vec<usize> {
        let j = match surface {
            Surface::Outer => 2 * self.through,
            Surface::Bore => 0,
        };
        (0..self.lines()).map(|i| self.node(i, j)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every node has one place on the lattice, and the elements reach them all.
    #[test]
    fn nodes_are_numbered_line_by_line_without_a_gap() {
        for closed in [true, false] {
            let topology = Topology::new(5, 3, closed);
            let mut next = 0;
            for i in 0..topology.lines() {
                for j in (0..=6).step_by(1 + i % 2) {
                    assert_eq!(topology.node(i, j), next);
                    next += 1;
                }
            }
            assert_eq!(next, topology.nodes());
            let mut met = vec![false; next];
            for (column, layer) in topology.element_places() {
                let nodes = topology.element_nodes(column, layer);
                nodes.iter().for_each(|&n| met[n] = true);
                let (i, j) = (2 * column, 2 * layer);
                let places = [
                    (i + 2, j),
                    (i, j),
                    (i, j + 2),
                    (i + 2, j + 2),
                    (i + 1, j),
                    (i, j + 1),
                    (i + 1, j + 2),
                    (i + 2, j + 1),
                ];
                assert_eq!(nodes, places.map(|(i, j)| topology.node(i, j)));
            }
            assert!(met.iter().all(|m| *m));
            assert_eq!(topology.element_places().count(), topology.elements());
        }
    }
}
