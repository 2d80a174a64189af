//! The factor of a ring whose two outlines are circles about its axis, from few distinct pieces.
//!
//! In polar directions every column of a round ring has a stiffness that depends on its width alone. Equal columns have
//! equal condensed stiffness, so have equal pairs of them, and pairs of pairs: a run of `n` equal columns costs `log n`
//! small dense factorisations, not `n`. The result is the factor of the same stiffness matrix as the sparse one, to
//! rounding, in another elimination order: first the middles of each column, then the lines between columns from the inside of
//! each arc outwards, last the line where the ring closes.

use std::collections::HashMap;
use std::f64::consts::TAU;
use std::ops::Range;

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::{LltError, cholesky_in_place, cholesky_in_place_scratch};
use faer::linalg::matmul::matmul;
use faer::linalg::triangular_solve::solve_lower_triangular_in_place;
use faer::{Accum, Mat, MatRef, Par};

use super::LinearError;
use super::factor::{Elimination, dot};
use crate::element::{self, NODE_PAIRS, PlaneStress};
use crate::mesh::Mesh;

/// Share of a turn that two pins must be apart.
const FAR: f64 = 0.15;

/// Widths that differ by less than this (rad) are one: angles carry rounding of a few 1e-16, columns are wider than 1e-6.
const SAME_WIDTH: f64 = 1e-12;

/// Most memory of the distinct pieces, bytes: dense blocks across the wall, so that many layers and few equal columns take far more than
/// the sparse factor does.
const MOST_BYTES: usize = 1_000_000_000;

/// What one kind of piece does when it is eliminated: `L` of its own unknowns and `L^-1` times their coupling to the lines at
/// both ends, both column-major.
struct Kind {
    size: usize,
    /// Lower triangle, `size * size`.
    lower: Vec<f64>,
    /// `size * (2 * line)`: first the line at the start, then the line at the end.
    coupling: Vec<f64>,
}

/// A piece of the ring: an arc of columns whose inside is eliminated.
struct Piece {
    kind: u32,
    parent: u32,
    /// Unknowns it eliminates.
    own: Range<usize>,
    /// First unknown of the line at its start and at its end.
    ends: [usize; 2],
}

/// A factored round ring.
pub struct Repeated {
    kinds: Vec<Kind>,
    pieces: Vec<Piece>,
    /// First unknown, piece and direction (cosine, sine) of each node's line.
    place: Vec<(u32, u32)>,
    directions: Vec<[f64; 2]>,
    /// Lattice line of each node.
    line_of: Vec<u32>,
    unknowns: usize,
    /// Unknowns of a line between columns.
    line: usize,
    pinned: [usize; 3],
    /// Element stiffness in polar directions: by width kind, then layer.
    elements: Vec<Vec<[[f64; 16]; 16]>>,
    width_kind: Vec<u32>,
    /// Unknowns of each element, `column * through + layer`.
    element_unknowns: Vec<[u32; 8]>,
    arch: pulp::Arch,
}

/// A condensed arc: its kind, and the stiffness left on the lines at its two ends.
struct Condensed {
    kind: u32,
    stiffness: Mat<f64>,
}

/// What an arc is made of, to tell equal arcs.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
enum Made {
    Column(u32),
    Pair(u32, u32),
    Ring(u32, u32),
}

/// Columns from and to, with the arc over them and its piece.
type Arc = (usize, usize, (u32, u32));

/// Replaces rows and columns by a diagonal of the size of the others.
fn pin(own: &mut Mat<f64>, unknowns: &[usize]) {
    let scale = own[(2, 2)];
    for &p in unknowns {
        for k in 0..own.nrows() {
            own[(p, k)] = 0.0;
            own[(k, p)] = 0.0;
        }
        own[(p, p)] = scale;
    }
}

struct Builder<'a> {
    mesh: &'a Mesh,
    line: usize,
    middle: usize,
    kinds: Vec<Kind>,
    /// Arcs made so far, and which arc a description is.
    arcs: Vec<Condensed>,
    known: HashMap<Made, u32>,
    pieces: Vec<Piece>,
    width_kind: Vec<u32>,
    widths: Vec<Vec<[[f64; 16]; 16]>>,
    /// Memory of the arcs made so far, and the most that they may take, bytes.
    bytes: usize,
    most_bytes: usize,
}

impl Repeated {
    /// Factors a closed mesh whose outlines are circles about the axis.
    ///
    /// # Errors
    /// [`LinearError::Folded`], [`LinearError::NotPositive`] as for the sparse factor; [`LinearError::ManyPieces`] where that takes less
    /// memory.
    pub fn new(mesh: &Mesh, law: &PlaneStress) -> Result<Self, LinearError> {
        Self::within(mesh, law, MOST_BYTES)
    }

    fn within(mesh: &Mesh, law: &PlaneStress, most_bytes: usize) -> Result<Self, LinearError> {
        let through = mesh.through();
        let (line, middle) = (2 * (2 * through + 1), 2 * (through + 1));
        let mut builder = Builder {
            mesh,
            line,
            middle,
            kinds: Vec::new(),
            arcs: Vec::new(),
            known: HashMap::new(),
            pieces: Vec::new(),
            width_kind: Vec::new(),
            widths: Vec::new(),
            bytes: 0,
            most_bytes,
        };
        builder.sort_widths(law)?;
        let (arc, top, opposite) = builder.whole()?;
        builder.close(arc, top, opposite.is_none())?;
        let Builder {
            kinds,
            mut pieces,
            width_kind,
            widths,
            ..
        } = builder;

        // unknowns in the order of the mesh: line, middle, line, middle, ...
        let unknowns = mesh.around() * (line + middle);
        let start =
            |lattice_line: usize| (lattice_line / 2) * (line + middle) + (lattice_line % 2) * line;
        let root = pieces.len() - 1;
        let mut eliminated_by = vec![0_u32; mesh.angles().len()];
        for (k, piece) in pieces.iter_mut().enumerate() {
            let lattice_line = piece.own.start;
            eliminated_by[lattice_line] = k as u32;
            let own = start(lattice_line);
            piece.own = own..own + if lattice_line % 2 == 0 { line } else { middle };
            piece.ends = piece.ends.map(|l| start(l % mesh.angles().len()));
        }
        pieces[root].parent = root as u32;
        let mut place = vec![(0, 0); mesh.nodes()];
        let mut line_of = vec![0; mesh.nodes()];
        for (i, &piece) in eliminated_by.iter().enumerate() {
            for (k, j) in (0..=2 * through).step_by(1 + i % 2).enumerate() {
                let node = mesh.node(i, j);
                place[node] = ((start(i) + 2 * k) as u32, piece);
                line_of[node] = i as u32;
            }
        }
        let element_unknowns = (0..mesh.around())
            .flat_map(|c| (0..through).map(move |l| (c, l)))
            .map(|(c, l)| mesh.element_nodes(c, l).map(|n| place[n].0))
            .collect();
        Ok(Self {
            kinds,
            pieces,
            place,
            directions: mesh.angles().iter().map(|t| [t.cos(), t.sin()]).collect(),
            line_of,
            unknowns,
            line,
            pinned: [
                1,
                2 * through,
                opposite.map_or(line - 1, |b| start(2 * b) + 1),
            ],
            elements: widths,
            width_kind,
            element_unknowns,
            arch: pulp::Arch::new(),
        })
    }
}

impl Builder<'_> {
    /// Finds the distinct widths and the element stiffness of each, columns set symmetrically about the x axis.
    fn sort_widths(&mut self, law: &PlaneStress) -> Result<(), LinearError> {
        let mesh = self.mesh;
        let mut kind_of = HashMap::new();
        for column in 0..mesh.around() {
            let half = mesh.angles()[2 * column + 1] - mesh.angles()[2 * column];
            let key = (half / SAME_WIDTH).round() as u64;
            let next = self.widths.len() as u32;
            let kind = *kind_of.entry(key).or_insert(next);
            if kind == next {
                self.widths.push(polar_elements(mesh, law, column, half)?);
            }
            self.width_kind.push(kind);
        }
        Ok(())
    }

    /// Condenses the whole ring to its first line; returns the arc and its top piece.
    fn whole(&mut self) -> Result<(u32, u32, Option<usize>), LinearError> {
        let n = self.mesh.around();
        // if the pattern of widths repeats round the ring (equal jaws), repeats share everything
        let period = (1..=n)
            .find(|&d| {
                n.is_multiple_of(d)
                    && (0..n).all(|k| self.width_kind[k] == self.width_kind[(k + d) % n])
            })
            .unwrap_or(n);
        let repeats: Vec<(usize, usize)> = (0..n / period)
            .map(|r| (r * period, (r + 1) * period))
            .collect();
        let runs = |from: usize, to: usize, kinds: &[u32]| -> Vec<(usize, usize)> {
            let mut runs = Vec::new();
            let mut start = from;
            for k in from + 1..=to {
                if k == to || kinds[k] != kinds[start] {
                    runs.push((start, k));
                    start = k;
                }
            }
            runs
        };
        let mut parts = Vec::new();
        for &(from, to) in &repeats {
            let mut inner = Vec::new();
            for (a, b) in runs(from, to, &self.width_kind) {
                inner.push((a, b, self.run(a, b)?));
            }
            // a ring without repeats stays in two halves, for the last pair
            parts.extend(self.join(inner, if repeats.len() > 1 { 1 } else { 2 })?);
        }
        let halves = self.join(parts, 2)?;
        let &[(a, b, left), (_, c, right)] = halves.as_slice() else {
            unreachable!("a ring has two columns or more, so at least two arcs");
        };
        // a pin well away from the first line holds the ring by a long lever; where the last two arcs meet too near it, the wall
        // across that line must do
        let turn = (self.mesh.angles()[2 * b] - self.mesh.angles()[0]) / TAU;
        let opposite = (FAR..1.0 - FAR).contains(&turn).then_some(b);
        let (arc, piece) = self.pair([a, b, c], left, right, opposite.is_some())?;
        Ok((arc, piece, opposite))
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
    fn run(&mut self, from: usize, to: usize) -> Result<(u32, u32), LinearError> {
        if to - from == 1 {
            return self.column(from);
        }
        let middle = from + (to - from) / 2;
        let left = self.run(from, middle)?;
        let right = self.run(middle, to)?;
        self.pair([from, middle, to], left, right, false)
    }

    fn column(&mut self, column: usize) -> Result<(u32, u32), LinearError> {
        let made = Made::Column(self.width_kind[column]);
        let arc = match self.known.get(&made) {
            Some(&arc) => arc,
            None => {
                let (own, coupling, outer) = self.column_blocks(column);
                self.remember(made, own, coupling, outer)?
            }
        };
        let piece = self.piece(arc, 2 * column + 1, 2 * column, 2 * column + 2);
        Ok((arc, piece))
    }

    /// Joins the arcs `a..b` and `b..c` (columns) over the line between them.
    ///
    /// The `last` pair of a ring is made with the tangential motion of the bore node between its halves pinned.
    fn pair(
        &mut self,
        [a, b, c]: [usize; 3],
        (left, left_piece): (u32, u32),
        (right, right_piece): (u32, u32),
        last: bool,
    ) -> Result<(u32, u32), LinearError> {
        let made = if last {
            Made::Ring(left, right)
        } else {
            Made::Pair(left, right)
        };
        let arc = match self.known.get(&made) {
            Some(&arc) => arc,
            None => {
                let m = self.line;
                let (l, r) = (
                    &self.arcs[left as usize].stiffness,
                    &self.arcs[right as usize].stiffness,
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
                    pin(&mut own, &[1]);
                    (0..2 * m).for_each(|j| coupling[(1, j)] = 0.0);
                }
                self.remember(made, own, coupling, outer)?
            }
        };
        let piece = self.piece(arc, 2 * b, 2 * a, 2 * c);
        self.pieces[left_piece as usize].parent = piece;
        self.pieces[right_piece as usize].parent = piece;
        Ok((arc, piece))
    }

    /// Records a piece; its unknowns and ends are lattice lines until the ring is closed.
    fn piece(&mut self, arc: u32, own: usize, start: usize, end: usize) -> u32 {
        let kind = self.arcs[arc as usize].kind;
        self.pieces.push(Piece {
            kind,
            parent: 0,
            own: own..own,
            ends: [start, end],
        });
        self.pieces.len() as u32 - 1
    }

    /// Eliminates the own unknowns of a new arc.
    fn remember(
        &mut self,
        made: Made,
        own: Mat<f64>,
        coupling: Mat<f64>,
        mut outer: Mat<f64>,
    ) -> Result<u32, LinearError> {
        let numbers = own.nrows() * (own.nrows() + coupling.ncols()) + outer.nrows().pow(2);
        self.bytes += numbers * size_of::<f64>();
        if self.bytes > self.most_bytes {
            return Err(LinearError::ManyPieces);
        }
        let kind = factor_kind(own, coupling)?;
        let w = MatRef::from_column_major_slice(&kind.coupling, kind.size, 2 * self.line);
        matmul(outer.as_mut(), Accum::Add, w.transpose(), w, -1.0, Par::Seq);
        self.kinds.push(kind);
        self.arcs.push(Condensed {
            kind: self.kinds.len() as u32 - 1,
            stiffness: outer,
        });
        let arc = self.arcs.len() as u32 - 1;
        self.known.insert(made, arc);
        Ok(arc)
    }

    /// Closes the ring on its first line, with the tangential motion of the bore node pinned, the radial one in the middle of the wall
    /// and, if `across`, the tangential one of the outside node. No radial motion of a surface: a pin where a pad presses would
    /// take the load for its own, and that load would seem to move nothing.
    fn close(&mut self, arc: u32, top: u32, across: bool) -> Result<(), LinearError> {
        let m = self.line;
        let s = &self.arcs[arc as usize].stiffness;
        let mut own = Mat::from_fn(m, m, |i, j| {
            s[(i, j)] + s[(i, m + j)] + s[(m + i, j)] + s[(m + i, m + j)]
        });
        let pins = [1, 2 * self.mesh.through(), m - 1];
        pin(&mut own, &pins[..if across { 3 } else { 2 }]);
        self.kinds.push(factor_kind(own, Mat::zeros(m, 0))?);
        self.pieces.push(Piece {
            kind: self.kinds.len() as u32 - 1,
            parent: 0,
            own: 0..0,
            ends: [0, 0],
        });
        self.pieces[top as usize].parent = self.pieces.len() as u32 - 1;
        Ok(())
    }

    /// A column's stiffness: of its middle line, of that with both ends, and of the ends.
    fn column_blocks(&self, column: usize) -> (Mat<f64>, Mat<f64>, Mat<f64>) {
        let (m, mm, through) = (self.line, self.middle, self.mesh.through());
        // unknowns of the column: start line, end line, middle line
        let mut all = Mat::<f64>::zeros(2 * m + mm, 2 * m + mm);
        for (layer, k) in self.widths[self.width_kind[column] as usize]
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

/// Lattice position, within its column, of an element's nodes in the order of [`Mesh::element_nodes`].
fn local_lattice(layer: usize) -> [(usize, usize); 8] {
    let j = 2 * layer;
    [
        (2, j),
        (0, j),
        (0, j + 2),
        (2, j + 2),
        (1, j),
        (0, j + 1),
        (1, j + 2),
        (2, j + 1),
    ]
}

/// Element stiffness of a column in polar directions, layer by layer, `[r, t]` by node.
fn polar_elements(
    mesh: &Mesh,
    law: &PlaneStress,
    column: usize,
    half: f64,
) -> Result<Vec<[[f64; 16]; 16]>, LinearError> {
    let radius = |i: usize, j: usize| {
        let c = mesh.coords()[mesh.node(2 * column + i, j)];
        c[0].hypot(c[1])
    };
    let mut list = Vec::with_capacity(mesh.through());
    let mut blocks = [[0.0; 4]; NODE_PAIRS];
    for layer in 0..mesh.through() {
        let lattice = local_lattice(layer);
        let turn = lattice.map(|(i, _)| (half * (i as f64 - 1.0)).sin_cos());
        let coords: [[f64; 2]; 8] = std::array::from_fn(|n| {
            let (i, j) = lattice[n];
            let (s, c) = turn[n];
            [radius(i, j) * c, radius(i, j) * s]
        });
        element::stiffness(law, &coords, &mut blocks).map_err(|_| LinearError::Folded {
            column,
            layer,
            at: coords[0],
        })?;
        let mut k = [[0.0; 16]; 16];
        let mut pair = 0;
        for a in 0..8 {
            for b in 0..=a {
                let [xx, xy, yx, yy] = blocks[pair];
                pair += 1;
                // rows turn with node a, columns with node b
                let ((sa, ca), (sb, cb)) = (turn[a], turn[b]);
                let (rx, ry) = (ca * xx + sa * yx, ca * xy + sa * yy);
                let (tx, ty) = (ca * yx - sa * xx, ca * yy - sa * xy);
                let polar = [
                    [rx * cb + ry * sb, ry * cb - rx * sb],
                    [tx * cb + ty * sb, ty * cb - tx * sb],
                ];
                for p in 0..2 {
                    for q in 0..2 {
                        k[2 * a + p][2 * b + q] = polar[p][q];
                        k[2 * b + q][2 * a + p] = polar[p][q];
                    }
                }
            }
        }
        list.push(k);
    }
    Ok(list)
}

fn factor_kind(mut own: Mat<f64>, mut coupling: Mat<f64>) -> Result<Kind, LinearError> {
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
    Ok(Kind {
        size: n,
        lower: packed(&own),
        coupling: packed(&coupling),
    })
}

impl Repeated {
    #[inline(always)]
    fn forward(&self, block: usize, x: &mut [f64]) {
        let piece = &self.pieces[block];
        let kind = &self.kinds[piece.kind as usize];
        let n = kind.size;
        let (first, last) = (piece.own.start, piece.own.end);
        // what the pieces pass on to pinned unknowns, the pins take
        for p in self.pinned {
            if (first..last).contains(&p) {
                x[p] = 0.0;
            }
        }
        for k in 0..n {
            let column = &kind.lower[k * n..(k + 1) * n];
            let v = x[first + k] / column[k];
            x[first + k] = v;
            for (t, l) in x[first + k + 1..last].iter_mut().zip(&column[k + 1..]) {
                *t -= l * v;
            }
        }
        for (end, &start) in piece
            .ends
            .iter()
            .enumerate()
            .take(kind.coupling.len() / (n * self.line))
        {
            for k in 0..self.line {
                let at = (end * self.line + k) * n;
                x[start + k] -= dot(&kind.coupling[at..at + n], &x[first..last]);
            }
        }
    }

    #[inline(always)]
    fn backward(&self, block: usize, x: &mut [f64]) {
        let piece = &self.pieces[block];
        let kind = &self.kinds[piece.kind as usize];
        let n = kind.size;
        let (first, last) = (piece.own.start, piece.own.end);
        for (end, &start) in piece
            .ends
            .iter()
            .enumerate()
            .take(kind.coupling.len() / (n * self.line))
        {
            for k in 0..self.line {
                let at = (end * self.line + k) * n;
                let v = x[start + k];
                for (t, w) in x[first..last].iter_mut().zip(&kind.coupling[at..at + n]) {
                    *t -= w * v;
                }
            }
        }
        for k in (0..n).rev() {
            let column = &kind.lower[k * n..(k + 1) * n];
            let below = dot(&column[k + 1..], &x[first + k + 1..last]);
            x[first + k] = (x[first + k] - below) / column[k];
        }
    }
}

impl Elimination for Repeated {
    fn nodes(&self) -> usize {
        self.place.len()
    }

    fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn blocks(&self) -> usize {
        self.pieces.len()
    }

    fn range(&self, block: usize) -> Range<usize> {
        self.pieces[block].own.clone()
    }

    fn parent(&self, block: usize) -> usize {
        self.pieces[block].parent as usize
    }

    fn block_of(&self, node: usize) -> usize {
        self.place[node].1 as usize
    }

    fn first_unknown(&self, node: usize) -> usize {
        self.place[node].0 as usize
    }

    fn to_unknowns(&self, node: usize, [x, y]: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.directions[self.line_of[node] as usize];
        [c * x + s * y, c * y - s * x]
    }

    fn to_plane(&self, node: usize, [r, t]: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.directions[self.line_of[node] as usize];
        [c * r - s * t, s * r + c * t]
    }

    fn pinned(&self) -> &[usize] {
        &self.pinned
    }

    fn eliminate(&self, blocks: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch
            .dispatch(|| blocks.for_each(|b| self.forward(b, x)));
    }

    fn substitute(&self, blocks: impl Iterator<Item = usize>, x: &mut [f64]) {
        self.arch
            .dispatch(|| blocks.for_each(|b| self.backward(b, x)));
    }

    fn stiffest(&self) -> f64 {
        let diagonal = self
            .elements
            .iter()
            .flatten()
            .flat_map(|k| (0..16).map(|n| k[n][n]));
        diagonal.fold(0.0, f64::max)
    }

    fn multiply(&self, x: &[f64]) -> Vec<f64> {
        let mut y = vec![0.0; x.len()];
        let layers = self.elements.first().map_or(1, Vec::len);
        self.arch.dispatch(|| {
            for (e, unknowns) in self.element_unknowns.iter().enumerate() {
                let k = &self.elements[self.width_kind[e / layers] as usize][e % layers];
                let mut local = [0.0; 16];
                for (n, &u) in unknowns.iter().enumerate() {
                    local[2 * n] = x[u as usize];
                    local[2 * n + 1] = x[u as usize + 1];
                }
                let mut sum = [0.0; 16];
                for (row, v) in k.iter().zip(local) {
                    for (s, k) in sum.iter_mut().zip(row) {
                        *s += k * v;
                    }
                }
                for (n, &u) in unknowns.iter().enumerate() {
                    y[u as usize] += sum[2 * n];
                    y[u as usize + 1] += sum[2 * n + 1];
                }
            }
        });
        y
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::geometry::{Outline, PerSurface};
    use crate::linear::{Cholesky, Factor, Layout};
    use crate::mesh::{Grading, equal_between, graded_between};

    const LAW: PlaneStress = PlaneStress {
        young_modulus: 70e3,
        poisson_ratio: 0.33,
        thickness: 20.0,
    };

    fn ring() -> PerSurface<Outline> {
        PerSurface {
            outer: Outline::round(60.0),
            bore: Outline::round(50.0),
        }
    }

    /// Columns that are all of a width of their own are many pieces.
    #[test]
    fn many_pieces_are_refused() {
        let outlines = ring();
        let ends: Vec<f64> = (0..40)
            .map(|k| 0.15 * (f64::from(k) + 1e-3 * f64::from(k * k)))
            .collect();
        let own = Mesh::build(&outlines, &ends, &[0.0, 0.5, 1.0], true).unwrap();
        let alike = Mesh::build(
            &outlines,
            &equal_between(&[0.0], 40),
            &[0.0, 0.5, 1.0],
            true,
        );
        let most = 100_000;
        assert_eq!(
            Repeated::within(&own, &LAW, most).err(),
            Some(LinearError::ManyPieces)
        );
        assert!(Repeated::within(&alike.unwrap(), &LAW, most).is_ok());
    }

    /// Both factors solve one matrix: for loads that balance they give one displacement, rigid motion apart.
    #[test]
    fn agrees_with_the_sparse_factor() {
        let outlines = ring();
        let marks = [0.0, 0.1673, 2.1, 2.2, 4.5];
        let graded: Vec<Grading> = marks
            .iter()
            .map(|&angle| Grading { angle, size: 0.003 })
            .collect();
        for ends in [equal_between(&marks, 97), graded_between(&graded, 0.1, 1.5)] {
            let mesh = Mesh::build(&outlines, &ends, &[0.0, 0.3, 0.7, 1.0], true).unwrap();
            let repeated = Repeated::new(&mesh, &LAW).unwrap();
            let pins = [
                [mesh.node(0, 0), 0],
                [mesh.node(0, 0), 1],
                [mesh.node(0, 6), 1],
            ];
            let sparse = Cholesky::new(Arc::new(Layout::new(&mesh, &pins)), &mesh, &LAW).unwrap();
            // three equal forces 120 degrees apart do not fall on nodes, so balance with the mean of all nodes instead
            let mut load = vec![[0.0; 2]; mesh.nodes()];
            for (k, c) in mesh.coords().iter().enumerate() {
                load[k] = [c[0] * (k % 7) as f64, -0.5 * c[1] * (k % 5) as f64];
            }
            let reduced: Vec<[f64; 2]> = sparse.forces(&load);
            let (a, b) = (
                repeated.solve(&reduced).unwrap(),
                sparse.solve(&reduced).unwrap(),
            );
            // the same up to a rigid motion: compare the forces, and the displacement after taking the pins' motion out
            let size = b.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
            let (fa, fb) = (sparse.forces(&a), repeated.forces(&b));
            let scale = reduced
                .iter()
                .flatten()
                .fold(0.0_f64, |m, x| m.max(x.abs()));
            for ((p, q), r) in fa.iter().zip(&fb).zip(&reduced) {
                for axis in 0..2 {
                    assert!(
                        (p[axis] - r[axis]).abs() < 1e-9 * scale
                            && (q[axis] - r[axis]).abs() < 1e-9 * scale
                    );
                }
            }
            assert!(size > 0.0);
            // compliance between two balanced pairs of loads by reduction, against the full solves
            let pair = |i: usize| {
                let (n, m) = (mesh.node(i, 6), mesh.node(i + mesh.around(), 6));
                let d = [
                    mesh.coords()[n][0] - mesh.coords()[m][0],
                    mesh.coords()[n][1] - mesh.coords()[m][1],
                ];
                vec![(n, d), (m, [-d[0], -d[1]])]
            };
            let mut work = Vec::new();
            for (i, j) in [(0, 0), (4, 10), (31, 3)] {
                let (p, q) = (pair(i), pair(j));
                let by_tree = repeated
                    .reduce(&p, &mut work)
                    .dot(&repeated.reduce(&q, &mut work));
                let by_sparse = sparse
                    .reduce(&p, &mut work)
                    .dot(&sparse.reduce(&q, &mut work));
                assert!(
                    (by_tree - by_sparse).abs() < 1e-8 * by_sparse.abs(),
                    "{by_tree} {by_sparse}"
                );
                let wanted = repeated.wanted(&[q[0].0, q[1].0]);
                let u = repeated.respond(&p, &wanted, &mut work);
                let direct: f64 = (0..2)
                    .map(|k| u[k][0] * q[k].1[0] + u[k][1] * q[k].1[1])
                    .sum();
                assert!((direct - by_tree).abs() < 1e-8 * by_tree.abs());
            }
        }
    }
}
