//! Static condensation of a round ring onto its first line: columns onto their two ends, arcs of columns pair by pair.

use std::collections::HashMap;
use std::f64::consts::TAU;

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::{LltError, cholesky_in_place, cholesky_in_place_scratch};
use faer::linalg::matmul::matmul;
use faer::linalg::triangular_solve::solve_lower_triangular_in_place;
use faer::{Accum, Mat, MatRef, Par};

use super::polar::{local_lattice, polar_elements};
use super::{ElementMatrix, Substructure, SubstructureFactor};
use crate::element::PlaneStress;
use crate::linear::LinearError;
use crate::linear::factor::BlockId;
use crate::mesh::Mesh;

/// Share of a turn that two point constraints must be apart.
const FAR: f64 = 0.15;

/// Widths that differ by less than this (rad) are one: angles carry rounding of a few 1e-16, columns are wider than 1e-6.
const SAME_WIDTH: f64 = 1e-12;

/// Most memory of the distinct substructures, bytes: their blocks are dense across the wall, so that many layers and few equal columns
/// take far more than the sparse factor does.
pub(super) const MOST_BYTES: usize = 1_000_000_000;

/// An arc of columns condensed onto the lines at its two ends.
struct Superelement {
    /// Factor of what was eliminated.
    factor: u32,
    /// Schur complement: the stiffness left on the two lines.
    schur: Mat<f64>,
}

/// What an arc is composed of, to tell equal arcs.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum Composition {
    Column(u32),
    Pair(u32, u32),
    Ring(u32, u32),
}

/// Columns from and to, with the arc over them and its substructure.
type Arc = (usize, usize, (u32, BlockId));

/// Point constraints: replaces the rows and columns of unknowns by a diagonal of the size of the others.
fn constrain(own: &mut Mat<f64>, unknowns: &[usize]) {
    let scale = own[(2, 2)];
    for &p in unknowns {
        for k in 0..own.nrows() {
            own[(p, k)] = 0.0;
            own[(k, p)] = 0.0;
        }
        own[(p, p)] = scale;
    }
}

/// A condensation under way.
pub(super) struct Condensation<'a> {
    mesh: &'a Mesh,
    /// Unknowns of a line between columns, and of one in the middle of a column.
    line: usize,
    middle: usize,
    /// Factors of the distinct superelements.
    pub factors: Vec<SubstructureFactor>,
    /// Arcs made so far, and which arc a description is.
    arcs: Vec<Superelement>,
    known: HashMap<Composition, u32>,
    /// Substructures in the order of elimination.
    pub substructures: Vec<Substructure>,
    /// Which of the distinct widths each column has, and the element matrices of each.
    pub width_class: Vec<u32>,
    pub widths: Vec<Vec<ElementMatrix>>,
    /// Memory of the arcs made so far, and the most that they may take, bytes.
    bytes: usize,
    most_bytes: usize,
}

impl<'a> Condensation<'a> {
    /// Nothing condensed so far. `line` and `middle` are the unknowns of a line between columns and of one in the middle of a column.
    pub fn new(mesh: &'a Mesh, [line, middle]: [usize; 2], most_bytes: usize) -> Self {
        Self {
            mesh,
            line,
            middle,
            factors: Vec::new(),
            arcs: Vec::new(),
            known: HashMap::new(),
            substructures: Vec::new(),
            width_class: Vec::new(),
            widths: Vec::new(),
            bytes: 0,
            most_bytes,
        }
    }

    /// Finds the distinct widths and the element stiffness of each, columns set symmetrically about the x axis. Columns of unlike `walls`
    /// (radii of the bore and the outside, mm; as the mesh is where there are none) count as of unlike widths.
    pub fn sort_widths(
        &mut self,
        law: &PlaneStress,
        walls: Option<&[[f64; 2]]>,
    ) -> Result<(), LinearError> {
        let mesh = self.mesh;
        let mut class_of = HashMap::new();
        for column in 0..mesh.around() {
            let half = mesh.angles()[2 * column + 1] - mesh.angles()[2 * column];
            let own = walls.map(|w| w[column]);
            let key = (
                (half / SAME_WIDTH).round() as u64,
                own.map(|w| w.map(f64::to_bits)),
            );
            let next = self.widths.len() as u32;
            let class = *class_of.entry(key).or_insert(next);
            if class == next {
                self.widths
                    .push(polar_elements(mesh, law, column, half, own)?);
            }
            self.width_class.push(class);
        }
        Ok(())
    }

    /// Condenses the whole ring onto its first line; returns the arc, its top substructure, and the column end at which the ring is
    /// constrained opposite, if at one.
    pub fn whole(&mut self) -> Result<(u32, BlockId, Option<usize>), LinearError> {
        let n = self.mesh.around();
        // if the pattern of widths repeats round the ring (equal jaws), repeats share everything
        let period = (1..=n)
            .find(|&d| {
                n.is_multiple_of(d)
                    && (0..n).all(|k| self.width_class[k] == self.width_class[(k + d) % n])
            })
            .unwrap_or(n);
        let repeats: Vec<(usize, usize)> = (0..n / period)
            .map(|r| (r * period, (r + 1) * period))
            .collect();
        let runs = |from: usize, to: usize, classes: &[u32]| -> Vec<(usize, usize)> {
            let mut runs = Vec::new();
            let mut start = from;
            for k in from + 1..=to {
                if k == to || classes[k] != classes[start] {
                    runs.push((start, k));
                    start = k;
                }
            }
            runs
        };
        let mut parts = Vec::new();
        for &(from, to) in &repeats {
            let mut inner = Vec::new();
            for (a, b) in runs(from, to, &self.width_class) {
                inner.push((a, b, self.run(a, b)?));
            }
            // a ring without repeats stays in two halves, for the last pair
            parts.extend(self.join(inner, if repeats.len() > 1 { 1 } else { 2 })?);
        }
        let halves = self.join(parts, 2)?;
        let &[(a, b, left), (_, c, right)] = halves.as_slice() else {
            unreachable!("a ring has two columns or more, so at least two arcs");
        };
        // a point constraint well away from the first line holds the ring by a long lever; where the last two arcs meet too near it, the wall
        // across that line must do
        let turn = (self.mesh.angles()[2 * b] - self.mesh.angles()[0]) / TAU;
        let opposite = (FAR..1.0 - FAR).contains(&turn).then_some(b);
        let (arc, substructure) = self.pair([a, b, c], left, right, opposite.is_some())?;
        Ok((arc, substructure, opposite))
    }

    /// Joins neighbouring arcs in balanced pairs until `most` are left.
    fn join(&mut self, mut arcs: Vec<Arc>, most: usize) -> Result<Vec<Arc>, LinearError> {
        while arcs.len() > most {
            let mut joined = Vec::with_capacity(arcs.len().div_ceil(2));
            for pair in arcs.chunks(2) {
                joined.push(match *pair {
                    [(a, b, left), (_, c, right)] => {
                        (a, c, self.pair([a, b, c], left, right, false)?)
                    }
                    [single] => single,
                    _ => unreachable!("chunks of two"),
                });
            }
            arcs = joined;
        }
        Ok(arcs)
    }

    /// Condenses a run of equal columns `from..to` by halving.
    fn run(&mut self, from: usize, to: usize) -> Result<(u32, BlockId), LinearError> {
        if to - from == 1 {
            return self.column(from);
        }
        let middle = from + (to - from) / 2;
        let left = self.run(from, middle)?;
        let right = self.run(middle, to)?;
        self.pair([from, middle, to], left, right, false)
    }

    fn column(&mut self, column: usize) -> Result<(u32, BlockId), LinearError> {
        let composition = Composition::Column(self.width_class[column]);
        let arc = match self.known.get(&composition) {
            Some(&arc) => arc,
            None => {
                let (own, coupling, outer) = self.column_blocks(column);
                self.remember(composition, own, coupling, outer)?
            }
        };
        let substructure = self.substructure(arc, 2 * column + 1, 2 * column, 2 * column + 2);
        Ok((arc, substructure))
    }

    /// Joins the arcs `a..b` and `b..c` (columns) over the line between them.
    ///
    /// The `last` pair of a ring is made with the tangential displacement of the bore node between its halves constrained.
    fn pair(
        &mut self,
        [a, b, c]: [usize; 3],
        (left, left_part): (u32, BlockId),
        (right, right_part): (u32, BlockId),
        last: bool,
    ) -> Result<(u32, BlockId), LinearError> {
        let composition = if last {
            Composition::Ring(left, right)
        } else {
            Composition::Pair(left, right)
        };
        let arc = match self.known.get(&composition) {
            Some(&arc) => arc,
            None => {
                let m = self.line;
                let (l, r) = (
                    &self.arcs[left as usize].schur,
                    &self.arcs[right as usize].schur,
                );
                let mut own = Mat::from_fn(m, m, |i, j| l[(m + i, m + j)] + r[(i, j)]);
                let mut coupling =
                    Mat::from_fn(
                        m,
                        2 * m,
                        |i, j| if j < m { l[(m + i, j)] } else { r[(i, j)] },
                    );
                let outer = Mat::from_fn(2 * m, 2 * m, |i, j| match (i < m, j < m) {
                    (true, true) => l[(i, j)],
                    (false, false) => r[(i, j)],
                    _ => 0.0,
                });
                if last {
                    constrain(&mut own, &[1]);
                    (0..2 * m).for_each(|j| coupling[(1, j)] = 0.0);
                }
                self.remember(composition, own, coupling, outer)?
            }
        };
        let substructure = self.substructure(arc, 2 * b, 2 * a, 2 * c);
        self.substructures[left_part.index()].parent = substructure;
        self.substructures[right_part.index()].parent = substructure;
        Ok((arc, substructure))
    }

    /// Records a substructure; its unknowns and ends are lattice lines until the ring is closed.
    fn substructure(&mut self, arc: u32, own: usize, start: usize, end: usize) -> BlockId {
        let factor = self.arcs[arc as usize].factor;
        self.substructures.push(Substructure {
            factor,
            parent: BlockId::new(0),
            own: own..own,
            ends: [start, end],
        });
        BlockId::new(self.substructures.len() - 1)
    }

    /// Eliminates the own unknowns of a new arc.
    fn remember(
        &mut self,
        composition: Composition,
        own: Mat<f64>,
        coupling: Mat<f64>,
        mut outer: Mat<f64>,
    ) -> Result<u32, LinearError> {
        let numbers = own.nrows() * (own.nrows() + coupling.ncols()) + outer.nrows().pow(2);
        self.bytes += numbers * size_of::<f64>();
        if self.bytes > self.most_bytes {
            return Err(LinearError::ManySubstructures);
        }
        let factor = factor_substructure(own, coupling)?;
        let w = MatRef::from_column_major_slice(&factor.coupling, factor.size, 2 * self.line);
        matmul(outer.as_mut(), Accum::Add, w.transpose(), w, -1.0, Par::Seq);
        self.factors.push(factor);
        self.arcs.push(Superelement {
            factor: self.factors.len() as u32 - 1,
            schur: outer,
        });
        let arc = self.arcs.len() as u32 - 1;
        self.known.insert(composition, arc);
        Ok(arc)
    }

    /// Closes the ring on its first line, with the tangential displacement of the bore node constrained, the radial one in the middle
    /// of the wall and, if `across`, the tangential one of the outside node. No radial displacement of a surface: a constraint where
    /// a pad presses would take the load for its own, and that load would seem to move nothing.
    pub fn close(&mut self, arc: u32, top: BlockId, across: bool) -> Result<(), LinearError> {
        let m = self.line;
        let s = &self.arcs[arc as usize].schur;
        let mut own = Mat::from_fn(m, m, |i, j| {
            s[(i, j)] + s[(i, m + j)] + s[(m + i, j)] + s[(m + i, m + j)]
        });
        let constraints = [1, 2 * self.mesh.through(), m - 1];
        constrain(&mut own, &constraints[..if across { 3 } else { 2 }]);
        self.factors
            .push(factor_substructure(own, Mat::zeros(m, 0))?);
        self.substructures.push(Substructure {
            factor: self.factors.len() as u32 - 1,
            parent: BlockId::new(0),
            own: 0..0,
            ends: [0, 0],
        });
        self.substructures[top.index()].parent = BlockId::new(self.substructures.len() - 1);
        Ok(())
    }

    /// A column's stiffness: of its middle line, of that with both ends, and of the ends.
    fn column_blocks(&self, column: usize) -> (Mat<f64>, Mat<f64>, Mat<f64>) {
        let (m, mm, through) = (self.line, self.middle, self.mesh.through());
        // unknowns of the column: start line, end line, middle line
        let mut all = Mat::<f64>::zeros(2 * m + mm, 2 * m + mm);
        for (layer, k) in self.widths[self.width_class[column] as usize]
            .iter()
            .enumerate()
        {
            let places: [usize; 8] = local_lattice(layer).map(|(i, j)| match i {
                0 => 2 * j,
                2 => m + 2 * j,
                _ => 2 * m + j,
            });
            for a in 0..16 {
                for b in 0..16 {
                    all[(places[a / 2] + a % 2, places[b / 2] + b % 2)] += k[a][b];
                }
            }
        }
        debug_assert_eq!(mm, 2 * (through + 1));
        (
            all.submatrix(2 * m, 2 * m, mm, mm).to_owned(),
            all.submatrix(2 * m, 0, mm, 2 * m).to_owned(),
            all.submatrix(0, 0, 2 * m, 2 * m).to_owned(),
        )
    }
}

/// Factors the stiffness of the eliminated unknowns and divides their coupling by it.
fn factor_substructure(
    mut own: Mat<f64>,
    mut coupling: Mat<f64>,
) -> Result<SubstructureFactor, LinearError> {
    let n = own.nrows();
    let mut memory = MemBuffer::new(cholesky_in_place_scratch::<f64>(
        n,
        Par::Seq,
        Default::default(),
    ));
    cholesky_in_place(
        own.as_mut(),
        Default::default(),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .map_err(|LltError::NonPositivePivot { index }| LinearError::NotPositive { unknown: index })?;
    if coupling.ncols() > 0 {
        solve_lower_triangular_in_place(own.as_ref(), coupling.as_mut(), Par::Seq);
    }
    let packed = |m: &Mat<f64>| -> Vec<f64> {
        (0..m.ncols())
            .flat_map(|j| m.col_as_slice(j).to_vec())
            .collect()
    };
    Ok(SubstructureFactor {
        size: n,
        lower: packed(&own),
        coupling: packed(&coupling),
    })
}
