//! Compliances between pressures, made when first asked for and kept.

use faer::Mat;

use crate::contact::elastic::Elastic;

/// The Gram matrix of a body's pressures, as far as it was asked for. It depends on the body and on where the pressures act alone, so
/// it serves any forces, gaps and drives. Whoever changes the body should drop it; [`Problem::solve`](super::Problem::solve) drops one
/// whose pressures do not close the gaps that the body says.
#[derive(Clone, Debug, Default)]
pub(in crate::contact) struct Gram {
    /// Place of each pressure among those made.
    place: Vec<Option<usize>>,
    made: Vec<usize>,
    /// Row `k`: the `k`-th pressure made against those made before it and itself.
    rows: Vec<Vec<f64>>,
}

impl Gram {
    /// Whether nothing is kept.
    pub fn is_empty(&self) -> bool {
        self.made.is_empty()
    }

    /// Makes what is missing for some pressures.
    pub fn make(&mut self, body: &mut dyn Elastic, pressures: &[usize]) {
        self.place.resize(body.pressures(), None);
        let first = self.made.len();
        for &pressure in pressures {
            if self.place[pressure].is_none() {
                self.place[pressure] = Some(self.made.len());
                self.made.push(pressure);
            }
        }
        let made = &self.made;
        let asked: Vec<_> = (first..made.len())
            .map(|k| (made[k], &made[..=k]))
            .collect();
        if !asked.is_empty() {
            self.rows.extend(body.all_compliances(&asked));
        }
    }

    fn place(&self, pressure: usize) -> usize {
        self.place[pressure].expect("made before use")
    }

    /// Compliance of a pressure with itself.
    pub fn own(&self, pressure: usize) -> f64 {
        let k = self.place(pressure);
        self.rows[k][k]
    }

    /// The lower triangle between the pressures of a list.
    pub fn between(&self, list: &[usize]) -> Mat<f64> {
        let places: Vec<usize> = list.iter().map(|&k| self.place(k)).collect();
        let mut triangle = Mat::zeros(list.len(), list.len());
        for (j, &b) in places.iter().enumerate() {
            let below = triangle.col_as_slice_mut(j)[j..].iter_mut();
            for (c, &a) in below.zip(&places[j..]) {
                *c = self.rows[a.max(b)][a.min(b)];
            }
        }
        triangle
    }
}
