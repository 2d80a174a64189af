//! Compliances between pressures, made when first asked for and kept.

use std::sync::Arc;

use rayon::prelude::*;

use super::dense::Factor;
use crate::contact::elastic::Elastic;

/// Columns that are worth a thread.
const COLUMNS: usize = 64;

/// The Gram matrix of a body's pressures, as far as it was asked for. It depends on the body and on where the pressures act alone, so
/// it serves any forces, gaps and drives. Whoever changes the body should drop it; [`Programme::solve`](super::Programme::solve) drops one
/// whose pressures do not close the gaps that the body says.
#[derive(Clone, Debug, Default)]
pub(in crate::contact) struct Gram {
    /// Place of each pressure among those made.
    place: Vec<Option<usize>>,
    made: Vec<usize>,
    /// Row `k`: the `k`-th pressure made against those made before it and itself.
    rows: Vec<Vec<f64>>,
    /// The last list that was factored: solves follow each other with the same pressures active.
    factored: Option<(Vec<usize>, Arc<Factor>)>,
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

    /// The factor of the compliances between the pressures of a list; `None` if rounding has made them dependent.
    pub(super) fn factor(&mut self, list: &[usize]) -> Option<Arc<Factor>> {
        if let Some((known, factor)) = &self.factored
            && known == list
        {
            return Some(Arc::clone(factor));
        }
        // memory that was never touched costs more than what is put there
        let last = self.factored.take();
        let memory = last.and_then(|(_, factor)| Arc::into_inner(factor));
        let memory = memory.map_or_else(Vec::new, Factor::into_memory);
        let factor = Arc::new(Factor::new(list.len(), self.between(list, memory))?);
        self.factored = Some((list.to_vec(), Arc::clone(&factor)));
        Some(factor)
    }

    /// The lower triangle between the pressures of a list, column by column; what stands above is of no account.
    fn between(&self, list: &[usize], memory: Vec<f64>) -> Vec<f64> {
        let n = list.len();
        let places: Vec<usize> = list.iter().map(|&k| self.place(k)).collect();
        let mut all = match memory.capacity() {
            known if known < n * n => {
                drop(memory);
                // sets grow from one to the next
                Vec::with_capacity((n * n).max(2 * known))
            }
            _ => memory,
        };
        all.resize(n * n, 0.0);
        let fill = |(j, column): (usize, &mut [f64])| {
            let b = places[j];
            let own = &self.rows[b];
            for (value, &a) in column[j..].iter_mut().zip(&places[j..]) {
                *value = if a < b { own[a] } else { self.rows[a][b] };
            }
        };
        all.par_chunks_mut(n.max(1))
            .with_min_len(COLUMNS)
            .enumerate()
            .for_each(fill);
        all
    }
}
