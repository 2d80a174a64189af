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

    /// Makes what is missing for a pressure.
    pub fn make(&mut self, body: &mut dyn Elastic, pressure: usize) {
        self.place.resize(body.pressures(), None);
        if self.place[pressure].is_none() {
            self.place[pressure] = Some(self.made.len());
            self.made.push(pressure);
            self.rows.push(body.compliances(pressure, &self.made));
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
