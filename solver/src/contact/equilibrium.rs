//! The equilibrium with a given set of hats carrying: compliance between them, and the equalities on top.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt;
use faer::{Mat, Par};
use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::drive::Given;
use super::programme::Programme;
use crate::linear::Reduced;

/// Compliance between hats, made when first asked for and kept.
pub(super) struct Compliance<'a> {
    programme: &'a Programme<'a>,
    /// Place of each hat among those made.
    place: Vec<Option<usize>>,
    made: Vec<usize>,
    reduced: Vec<Reduced>,
    /// Row `k`: the `k`-th hat made against those made before it and itself.
    rows: Vec<Vec<f64>>,
    work: Vec<f64>,
}

impl<'a> Compliance<'a> {
    pub fn new(programme: &'a Programme<'a>) -> Self {
        Self {
            programme,
            place: vec![None; programme.hats.len()],
            made: Vec::new(),
            reduced: Vec::new(),
            rows: Vec::new(),
            work: Vec::new(),
        }
    }

    pub fn make(&mut self, hat: usize) {
        if self.place[hat].is_some() {
            return;
        }
        let Programme { factor, hats, .. } = self.programme;
        self.reduced
            .push(factor.reduce(&hats[hat].load, &mut self.work));
        self.place[hat] = Some(self.made.len());
        self.made.push(hat);
        let new = &self.reduced[self.reduced.len() - 1];
        let mut row = new.dots(self.reduced.iter());
        for (c, &other) in row.iter_mut().zip(&self.made) {
            *c += self.programme.in_series(other, hat);
        }
        self.rows.push(row);
    }

    fn place(&self, hat: usize) -> usize {
        self.place[hat].expect("made before use")
    }

    /// Compliance of a hat with itself.
    pub fn alone(&self, hat: usize) -> f64 {
        let k = self.place(hat);
        self.rows[k][k]
    }

    /// The lower triangle between the hats of a list.
    fn between(&self, list: &[usize]) -> Mat<f64> {
        let places: Vec<usize> = list.iter().map(|&h| self.place(h)).collect();
        Mat::from_fn(list.len(), list.len(), |i, j| {
            let (a, b) = (places[i], places[j]);
            if i < j {
                0.0
            } else {
                self.rows[a.max(b)][a.min(b)]
            }
        })
    }
}

/// Travels by entry, then shifts of the part and of each sleeve.
pub(super) type Motion = (Vec<f64>, Vec<[f64; 2]>);

/// The equations of one set of carrying hats, factored: `C p - H z = -g`, `H' p = b`, with `z` the driven travels and the shifts.
struct Equations {
    /// Cholesky factor of `C`.
    factor: Mat<f64>,
    /// `H`, a row a hat, and `C^-1 H`.
    sides: Mat<f64>,
    eased: Mat<f64>,
    eigen: SymmetricEigen<f64, nalgebra::Dyn>,
    /// Directions of the travels and shifts that the contact resists less than this share of the stiffest are free.
    free: f64,
}

impl Equations {
    /// `None` if rounding has made the compliances dependent.
    fn new(
        programme: &Programme,
        list: &[usize],
        compliance: &Compliance,
        free: f64,
    ) -> Option<Self> {
        let n = list.len();
        let driven = programme.driven();
        let m = programme.wanted_forces(&driven).len();
        let mut factor = compliance.between(list);
        factorise(&mut factor)?;
        let sides = Mat::<f64>::from_fn(n, m, |i, k| programme.drives(&driven, list[i], k));
        let mut eased = sides.clone();
        back(&factor, &mut eased);
        let weigh =
            |a: usize, b: usize| -> f64 { (0..n).map(|i| sides[(i, a)] * eased[(i, b)]).sum() };
        let stiffness = DMatrix::from_fn(m, m, |a, b| 0.5 * (weigh(a, b) + weigh(b, a)));
        Some(Self {
            factor,
            sides,
            eased,
            eigen: SymmetricEigen::new(stiffness),
            free,
        })
    }

    /// Which eigenvectors are directions that something resists.
    fn resisted(&self) -> impl Iterator<Item = (usize, bool)> {
        let values = &self.eigen.eigenvalues;
        let stiffest = values.iter().fold(0.0_f64, |a, &b| a.max(b));
        let least = self.free * stiffest;
        (0..values.len()).map(move |k| (k, values[k] > least))
    }

    /// `p` and `z` for gaps `g` and a right-hand side `b`.
    fn solve(&self, gaps: &[f64], rhs: &DVector<f64>) -> (Vec<f64>, DVector<f64>) {
        let (n, m) = (gaps.len(), rhs.len());
        let mut y = Mat::<f64>::from_fn(n, 1, |i, _| gaps[i]);
        back(&self.factor, &mut y);
        let load = DVector::from_fn(m, |k, _| {
            rhs[k] + (0..n).map(|i| self.sides[(i, k)] * y[(i, 0)]).sum::<f64>()
        });
        let mut z = DVector::zeros(m);
        for (k, _) in self.resisted().filter(|r| r.1) {
            let v = self.eigen.eigenvectors.column(k);
            z += v * (v.dot(&load) / self.eigen.eigenvalues[k]);
        }
        let pressures = (0..n)
            .map(|i| (0..m).map(|k| self.eased[(i, k)] * z[k]).sum::<f64>() - y[(i, 0)])
            .collect();
        (pressures, z)
    }
}

/// The equilibrium with some hats carrying.
pub(super) struct Trial {
    list: Vec<usize>,
    equations: Equations,
    z: DVector<f64>,
    /// Pressure of every hat, MPa.
    pub pressures: Vec<f64>,
    pub travels: Vec<f64>,
    /// Shift of the part, then of each sleeve, mm.
    pub shifts: Vec<[f64; 2]>,
    pub free: Vec<Motion>,
    pub unbalanced: f64,
}

impl Trial {
    /// The equilibrium with the hats of `list` carrying; directions that they resist less than the share `free` of the stiffest are
    /// left free. `None` if rounding has made their compliances dependent.
    pub fn new(
        programme: &Programme,
        list: Vec<usize>,
        compliance: &Compliance,
        free: f64,
    ) -> Option<Self> {
        let driven = programme.driven();
        let rhs = programme.wanted_forces(&driven);
        let equations = Equations::new(programme, &list, compliance, free)?;
        let gaps: Vec<f64> = list.iter().map(|&h| programme.start_gap(h)).collect();
        let (pressures, z) = equations.solve(&gaps, &rhs);
        let mut trial = Self {
            free: equations
                .resisted()
                .filter(|r| !r.1)
                .map(|(k, _)| {
                    programme.spread(&driven, equations.eigen.eigenvectors.column(k).as_slice())
                })
                .collect(),
            pressures: vec![0.0; programme.hats.len()],
            travels: Vec::new(),
            shifts: Vec::new(),
            unbalanced: 0.0,
            list,
            equations,
            z,
        };
        for (&h, p) in trial.list.iter().zip(pressures) {
            trial.pressures[h] = p;
        }
        trial.settle(programme);
        Some(trial)
    }

    /// Travels, shifts and left-over forces, from `z` and the pressures.
    fn settle(&mut self, programme: &Programme) {
        let driven = programme.driven();
        let (mut travels, shifts) = programme.spread(&driven, self.z.as_slice());
        for (t, travel) in travels.iter_mut().zip(programme.travels) {
            if let Given::Position(d) = travel.given {
                *t = d;
            }
        }
        self.travels = travels;
        self.shifts = shifts;
        self.unbalanced = self.left_over(programme).amax();
    }

    /// What is left over of the equalities, N.
    fn left_over(&self, programme: &Programme) -> DVector<f64> {
        let mut left = programme.wanted_forces(&programme.driven());
        for (k, left) in left.iter_mut().enumerate() {
            for (i, &h) in self.list.iter().enumerate() {
                *left -= self.equations.sides[(i, k)] * self.pressures[h];
            }
        }
        left
    }

    /// One step of iterative refinement: takes off what the gaps (mm, over all hats) of the carrying hats and the equalities still lack.
    pub fn refine(&self, programme: &Programme, gaps: &[f64]) -> (Vec<f64>, DVector<f64>) {
        let weighted: Vec<f64> = self
            .list
            .iter()
            .map(|&h| gaps[h] * programme.hats[h].area)
            .collect();
        self.equations.solve(&weighted, &self.left_over(programme))
    }

    /// Adds a correction of pressures and `z`, `sign` times.
    pub fn correct(
        &mut self,
        programme: &Programme,
        (pressures, z): &(Vec<f64>, DVector<f64>),
        sign: f64,
    ) {
        for (&h, p) in self.list.iter().zip(pressures) {
            self.pressures[h] += sign * p;
        }
        self.z += sign * z;
        self.settle(programme);
    }

    /// Pressures that errors of these sizes (mm, over all hats) in the gaps of the carrying hats make, if they change sign from each
    /// to the next: what rounding puts onto each, MPa.
    pub fn stirred(&self, programme: &Programme, closed: &[f64]) -> Vec<f64> {
        let mut x = Mat::<f64>::from_fn(self.list.len(), 1, |i, _| {
            let h = self.list[i];
            let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
            sign * closed[h] * programme.hats[h].area
        });
        back(&self.equations.factor, &mut x);
        let mut stirred = vec![0.0; programme.hats.len()];
        for (i, &h) in self.list.iter().enumerate() {
            stirred[h] = x[(i, 0)].abs();
        }
        stirred
    }

    /// The hats that carry.
    pub fn list(&self) -> &[usize] {
        &self.list
    }

    /// Energy of the equilibrium, N mm, and the size of the terms it is summed from.
    pub fn energy(&self, programme: &Programme) -> (f64, f64) {
        let rhs = programme.wanted_forces(&programme.driven());
        let driven = rhs.dot(&self.z);
        let gaps: f64 = self
            .list
            .iter()
            .map(|&h| programme.start_gap(h) * self.pressures[h])
            .sum();
        (0.5 * (driven + gaps), driven.abs() + gaps.abs())
    }
}

/// Cholesky factor of a symmetric matrix in place, serially; `None` if it is not positive definite, as compliances between independent
/// loads are.
fn factorise(c: &mut Mat<f64>) -> Option<()> {
    let scratch =
        llt::factor::cholesky_in_place_scratch::<f64>(c.nrows(), Par::Seq, Default::default());
    let mut memory = MemBuffer::new(scratch);
    llt::factor::cholesky_in_place(
        c.as_mut(),
        Default::default(),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .ok()?;
    Some(())
}

/// Solves `C X = B` in place with the factor of `C`, serially.
fn back(factor: &Mat<f64>, x: &mut Mat<f64>) {
    let scratch = llt::solve::solve_in_place_scratch::<f64>(factor.nrows(), x.ncols(), Par::Seq);
    let mut memory = MemBuffer::new(scratch);
    llt::solve::solve_in_place(
        factor.as_ref(),
        x.as_mut(),
        Par::Seq,
        MemStack::new(&mut memory),
    );
}
