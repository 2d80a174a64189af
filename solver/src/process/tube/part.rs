//! A tube between steps: its outline as drawn or as last cut, and how its surfaces truly run.

use std::f64::consts::TAU;

use crate::case::{Case, Tube};
use crate::geometry::{Meridian, MeridianFault, Outline, PerSurface, Surface};
use crate::tube::field::{GRID, amplitudes, summed};

/// The part between steps, in its own frame: positions from the end that is gripped in a step that is not flipped.
#[derive(Clone, Debug)]
pub(in crate::process) struct TubePart {
    /// The outline as drawn, or as last cut: the body that is meshed.
    pub nominal: Meridian,
    /// How far the stock's surfaces lie off that, as received, mm over angle: alike all along.
    stock: PerSurface<Outline>,
    stock_nominal: PerSurface<f64>,
    /// The same at [`GRID`] angles.
    on_grid: PerSurface<Vec<f64>>,
    /// Surfaces that were cut.
    cut: PerSurface<Option<Rows>>,
}

/// Radii of a surface at three positions of each of its columns and [`GRID`] angles, mm.
#[derive(Clone, Debug)]
pub(super) struct Rows {
    pub columns: Vec<([f64; 3], [Vec<f64>; 3])>,
}

impl Rows {
    /// The column of a position, and the shape functions of its three places there.
    fn at(&self, z: f64) -> (&[Vec<f64>; 3], [f64; 3]) {
        let after = self.columns.partition_point(|c| c.0[2] < z);
        let (places, rows) = &self.columns[after.min(self.columns.len() - 1)];
        let half = 0.5 * (places[2] - places[0]);
        let x = (z - places[1]) / half;
        (
            rows,
            [0.5 * x * (x - 1.0), 1.0 - x * x, 0.5 * x * (x + 1.0)],
        )
    }

    fn row(&self, z: f64) -> Vec<f64> {
        let (rows, shape) = self.at(z);
        (0..GRID)
            .map(|k| rows.iter().zip(shape).map(|(r, n)| n * r[k]).sum())
            .collect()
    }

    /// Cubic between the angles of the grid.
    fn radius(&self, theta: f64, z: f64) -> f64 {
        let (rows, shape) = self.at(z);
        let place = theta.rem_euclid(TAU) / TAU * GRID as f64;
        let first = place.floor();
        let x = place - first;
        let first = first as usize;
        let weights = [
            -x * (x - 1.0) * (x - 2.0) / 6.0,
            (x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0,
            -(x + 1.0) * x * (x - 2.0) / 2.0,
            (x + 1.0) * x * (x - 1.0) / 6.0,
        ];
        let at = |r: &Vec<f64>| -> f64 {
            let places = (0..4).map(|k| r[(first + GRID + k - 1) % GRID]);
            places.zip(weights).map(|(r, w)| r * w).sum()
        };
        rows.iter().zip(shape).map(|(r, n)| n * at(r)).sum()
    }
}

impl TubePart {
    /// The part of a case as received.
    ///
    /// # Errors
    /// See [`MeridianFault`]; a checked case has none.
    pub fn new(case: &Case, tube: &Tube) -> Result<Self, MeridianFault> {
        let part = &case.part;
        let stock_nominal = PerSurface::from_fn(|s| part.stock.get(s).radius);
        let stock = part.outlines();
        let on_grid = PerSurface::from_fn(|s| {
            let at = |k: usize| stock.get(s).radius(TAU * k as f64 / GRID as f64);
            (0..GRID).map(|k| at(k) - stock_nominal.get(s)).collect()
        });
        Ok(Self {
            nominal: match &tube.outline {
                Some(outline) => outline.clone(),
                None => Meridian::tube(stock_nominal.outer, stock_nominal.bore, part.length)?,
            },
            stock,
            stock_nominal,
            on_grid,
            cut: PerSurface::default(),
        })
    }

    /// Radius at an angle (rad) and position, mm.
    pub fn radius(&self, surface: Surface, theta: f64, z: f64) -> f64 {
        match self.cut.get(surface) {
            Some(rows) => rows.radius(theta, z),
            None => {
                let off = self.stock.get(surface).radius(theta) - self.stock_nominal.get(surface);
                self.nominal.radius(surface, z) + off
            }
        }
    }

    /// Radii at a position and [`GRID`] angles, mm; `inside` is a position in the same column, which tells the sides of a step apart.
    pub fn row(&self, surface: Surface, z: f64, inside: f64) -> Vec<f64> {
        // a hair towards the inside of the column
        let z = z + 1e-9 * (inside - z);
        match self.cut.get(surface) {
            Some(rows) => rows.row(z),
            None => {
                let nominal = self.nominal.radius(surface, z);
                let off = self.on_grid.get(surface).iter();
                off.map(|d| nominal + d).collect()
            }
        }
    }

    /// Radii at a position and so many equal angles, mm.
    pub fn profile(&self, surface: Surface, z: f64, angles: usize) -> Vec<f64> {
        match self.cut.get(surface) {
            Some(rows) => finer(&rows.row(z), angles),
            None => {
                let stock = self.stock.get(surface);
                let nominal = self.nominal.radius(surface, z);
                if stock.as_round().is_some() {
                    return vec![nominal; angles];
                }
                let at = |k: usize| TAU * k as f64 / angles as f64;
                let off = |k: usize| stock.radius(at(k)) - self.stock_nominal.get(surface);
                (0..angles).map(|k| nominal + off(k)).collect()
            }
        }
    }

    /// How a surface that was cut runs.
    pub fn rows(&self, surface: Surface) -> Option<&Rows> {
        self.cut.get(surface).as_ref()
    }

    /// The part with another outline, its surfaces as they are: for a body whose surface is still to be found.
    pub fn outlined(&self, nominal: Meridian) -> Self {
        Self {
            nominal,
            ..self.clone()
        }
    }

    /// The part with another outline, and a surface that runs as these rows say.
    pub fn with(&self, nominal: Meridian, surface: Surface, rows: Rows) -> Self {
        let mut part = self.clone();
        part.nominal = nominal;
        *part.cut.get_mut(surface) = Some(rows);
        part
    }

    /// Whether both surfaces run alike all along.
    pub fn is_alike_along(&self) -> bool {
        let straight = |s: Surface| {
            let radii = self.nominal.pieces().iter().flat_map(|p| *p.radii.get(s));
            self.cut.get(s).is_none() && radii.clone().all(|r| Some(r) == radii.clone().next())
        };
        Surface::BOTH.into_iter().all(straight)
    }

    /// Whether both surfaces run as the outline says.
    pub fn is_nominal(&self) -> bool {
        let round = |s: Surface| self.on_grid.get(s).iter().all(|d| *d == 0.0);
        Surface::BOTH
            .into_iter()
            .all(|s| self.cut.get(s).is_none() && round(s))
    }
}

/// Values at equal angles, carried to more of them by their Fourier series.
pub(super) fn finer(values: &[f64], angles: usize) -> Vec<f64> {
    let terms = amplitudes(values, values.len() / 2);
    summed(terms.into_iter(), angles)
}

/// Values at fewer equal angles: every so many of them.
pub(super) fn thinned<T: Copy>(values: &[T], angles: usize) -> Vec<T> {
    values
        .iter()
        .step_by(values.len() / angles)
        .copied()
        .collect()
}
