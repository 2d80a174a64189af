//! What contact asks of a body: how it yields to the pressures on it, and how it moves as a rigid whole.

/// An elastic body, known by its pressure degrees of freedom (numbered from 0) alone. Contact never learns what it is made of: a
/// mesh, a series, a spring.
///
/// Weighted displacements are the work of a unit pressure: the displacement along which a pressure pushes, integrated over its shape
/// function, mm3 for pressures in MPa. So compliances are symmetric, and positive definite for independent loads.
///
/// Loads that do not balance give a displacement that is right but for a rigid motion, linear in the load; contact balances them with
/// the rigid-body modes as unknowns of its own.
pub trait Elastic {
    /// Number of pressure degrees of freedom.
    fn pressures(&self) -> usize;

    /// Number of rigid-body modes. A unit of each moves the body by about a millimetre, rotations too.
    fn rigid_body_modes(&self) -> usize;

    /// Work of a unit pressure on a unit of a rigid-body mode: its resultant along the mode, N/MPa for a shift in mm.
    fn rigid_work(&self, pressure: usize, mode: usize) -> f64;

    /// Weighted displacements that a unit pressure makes at some others, in their order, mm3/MPa.
    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64>;

    /// The same for several pressures at once, each with others of its own.
    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let one = |&(pressure, others): &(usize, &[usize])| self.compliances(pressure, others);
        asked.iter().map(one).collect()
    }

    /// Weighted displacements of all under given pressures (MPa, one a degree of freedom), mm3.
    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64>;
}

/// Bodies behind the same pressures, whose displacements add: a part and a sleeve that it presses on, a layer in between.
pub struct Sum<'a> {
    /// The bodies, each with the number of its first rigid-body mode among those of all.
    bodies: Vec<(&'a mut dyn Elastic, usize)>,
    modes: usize,
}

impl<'a> Sum<'a> {
    /// Bodies with equally many pressure degrees of freedom; their rigid-body modes follow each other.
    ///
    /// # Panics
    /// If the numbers of pressures differ or there is no body.
    pub fn new(bodies: Vec<&'a mut dyn Elastic>) -> Self {
        let pressures = bodies[0].pressures();
        let mut modes = 0;
        let bodies = bodies
            .into_iter()
            .map(|body| {
                assert_eq!(body.pressures(), pressures);
                let first = modes;
                modes += body.rigid_body_modes();
                (body, first)
            })
            .collect();
        Self { bodies, modes }
    }
}

impl Elastic for Sum<'_> {
    fn pressures(&self) -> usize {
        self.bodies[0].0.pressures()
    }

    fn rigid_body_modes(&self) -> usize {
        self.modes
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.bodies
            .iter()
            .find(|(body, first)| (*first..first + body.rigid_body_modes()).contains(&mode))
            .map_or(0.0, |(body, first)| body.rigid_work(pressure, mode - first))
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let mut sum = vec![0.0; others.len()];
        for (body, _) in &mut self.bodies {
            for (s, c) in sum.iter_mut().zip(body.compliances(pressure, others)) {
                *s += c;
            }
        }
        sum
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let mut bodies = self.bodies.iter_mut().map(|(body, _)| body);
        let first = bodies.next().map(|body| body.all_compliances(asked));
        let mut sums = first.unwrap_or_default();
        for body in bodies {
            for (sum, more) in sums.iter_mut().zip(body.all_compliances(asked)) {
                for (s, c) in sum.iter_mut().zip(more) {
                    *s += c;
                }
            }
        }
        sums
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut sum = vec![0.0; pressures.len()];
        for (body, _) in &mut self.bodies {
            for (s, u) in sum.iter_mut().zip(body.weighted_displacements(pressures)) {
                *s += u;
            }
        }
        sum
    }
}

/// A body that only some of the pressures act on: the others neither move it nor feel it move.
pub struct Among<'a> {
    body: &'a mut dyn Elastic,
    /// The number that each pressure has on the body, where it acts.
    places: Vec<Option<usize>>,
    /// Whether all act on it, under the same numbers.
    all: bool,
}

impl<'a> Among<'a> {
    /// A body whose pressures are those of a list, in order, among so many.
    pub fn new(body: &'a mut dyn Elastic, list: &[usize], pressures: usize) -> Self {
        let mut places = vec![None; pressures];
        for (place, &k) in list.iter().enumerate() {
            places[k] = Some(place);
        }
        let all = list.iter().copied().eq(0..pressures);
        Self { body, places, all }
    }
}

impl Elastic for Among<'_> {
    fn pressures(&self) -> usize {
        self.places.len()
    }

    fn rigid_body_modes(&self) -> usize {
        self.body.rigid_body_modes()
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.places[pressure].map_or(0.0, |k| self.body.rigid_work(k, mode))
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let mut all = self.all_compliances(&[(pressure, others)]);
        all.swap_remove(0)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        if self.all {
            return self.body.all_compliances(asked);
        }
        let here = |others: &[usize]| -> Vec<usize> {
            others.iter().filter_map(|&k| self.places[k]).collect()
        };
        let acting: Vec<(usize, Vec<usize>)> = asked
            .iter()
            .filter_map(|(k, others)| Some((self.places[*k]?, here(others))))
            .collect();
        let acting: Vec<(usize, &[usize])> =
            acting.iter().map(|(k, o)| (*k, o.as_slice())).collect();
        let mut found = self.body.all_compliances(&acting).into_iter();
        asked
            .iter()
            .map(|(pressure, others)| {
                let own = self.places[*pressure].and_then(|_| found.next());
                let mut own = own.unwrap_or_default().into_iter();
                let at = |k: &usize| self.places[*k].and_then(|_| own.next()).unwrap_or(0.0);
                others.iter().map(at).collect()
            })
            .collect()
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut here = vec![0.0; self.body.pressures()];
        for (place, p) in self.places.iter().zip(pressures) {
            if let Some(k) = place {
                here[*k] = *p;
            }
        }
        let moved = self.body.weighted_displacements(&here);
        self.places
            .iter()
            .map(|place| place.map_or(0.0, |k| moved[k]))
            .collect()
    }
}

/// Some pressures of a body: what stands against it while the rest of a hold is still open.
pub struct Subset<'a> {
    body: &'a mut dyn Elastic,
    list: Vec<usize>,
}

impl<'a> Subset<'a> {
    /// The pressures of a list, numbered by their places in it.
    pub fn new(body: &'a mut dyn Elastic, list: Vec<usize>) -> Self {
        Self { body, list }
    }
}

impl Elastic for Subset<'_> {
    fn pressures(&self) -> usize {
        self.list.len()
    }

    fn rigid_body_modes(&self) -> usize {
        self.body.rigid_body_modes()
    }

    fn rigid_work(&self, pressure: usize, mode: usize) -> f64 {
        self.body.rigid_work(self.list[pressure], mode)
    }

    fn all_compliances(&mut self, asked: &[(usize, &[usize])]) -> Vec<Vec<f64>> {
        let own = |list: &[usize]| list.iter().map(|&k| self.list[k]).collect();
        let others: Vec<Vec<usize>> = asked.iter().map(|(_, others)| own(others)).collect();
        let asked: Vec<(usize, &[usize])> = asked
            .iter()
            .zip(&others)
            .map(|((k, _), others)| (self.list[*k], others.as_slice()))
            .collect();
        self.body.all_compliances(&asked)
    }

    fn compliances(&mut self, pressure: usize, others: &[usize]) -> Vec<f64> {
        let others: Vec<usize> = others.iter().map(|&k| self.list[k]).collect();
        self.body.compliances(self.list[pressure], &others)
    }

    fn weighted_displacements(&mut self, pressures: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; self.body.pressures()];
        for (&k, &p) in self.list.iter().zip(pressures) {
            all[k] = p;
        }
        let moved = self.body.weighted_displacements(&all);
        self.list.iter().map(|&k| moved[k]).collect()
    }
}
