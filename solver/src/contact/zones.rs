//! Contact zones of a pad: where it is loaded, and where that ends.

use std::f64::consts::{PI, TAU};

/// A loaded arc of a pad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ContactZone {
    /// Start from the body's axis, rad.
    pub start: f64,
    /// End from the body's axis, rad.
    pub end: f64,
    /// Resultant along the body's axis, N; of a full circle, the integral of its pressure.
    pub force: f64,
    /// Whether the zone starts at a pad edge where the pressure has no bound.
    pub from_edge: bool,
    /// Whether the zone ends at such an edge.
    pub to_edge: bool,
    /// Element edges in it.
    pub edges: usize,
}

/// Zones nearer to each other than `near` as one, where one of the two is narrower than `splinter`, rad.
pub(crate) fn joined(
    zones: impl IntoIterator<Item = ContactZone>,
    near: f64,
    splinter: f64,
) -> Vec<ContactZone> {
    let is_splinter = |z: &ContactZone| z.end - z.start < splinter;
    let mut all: Vec<ContactZone> = Vec::new();
    for zone in zones {
        match all.last_mut() {
            Some(last)
                if zone.start - last.end < near && (is_splinter(last) || is_splinter(&zone)) =>
            {
                last.end = zone.end;
                last.to_edge = zone.to_edge;
                last.force += zone.force;
                last.edges += zone.edges;
            }
            _ => all.push(zone),
        }
    }
    all
}

/// Pressure over one pad, from one edge to the other; round a full circle, which has no edges.
#[derive(Clone)]
pub(super) struct PadLoad {
    /// Angle of each node from the body's axis, rad.
    pub angles: Vec<f64>,
    /// Pressure at each node, MPa.
    pub pressures: Vec<f64>,
    /// Force of each node's shape function, N.
    pub forces: Vec<f64>,
    /// Line forces at the two pad edges, N; `None` round a full circle.
    pub edge_forces: Option<[f64; 2]>,
    /// Whether an elastic layer keeps the pressure at the edges finite.
    pub soft: bool,
}

impl PadLoad {
    pub fn zones(mut self) -> Vec<ContactZone> {
        let n = self.angles.len();
        if self.edge_forces.is_none() && !self.open_at_a_gap() {
            let force = self.forces.iter().sum();
            return vec![ContactZone {
                start: -PI,
                end: PI,
                force,
                from_edge: false,
                to_edge: false,
                edges: n,
            }];
        }
        let mut zones = Vec::new();
        let mut k = 0;
        while k < self.angles.len() {
            if !self.is_loaded(k) {
                k += 1;
                continue;
            }
            let first = k;
            while k + 1 < self.angles.len() && self.is_loaded(k + 1) {
                k += 1;
            }
            zones.push(self.zone(first, k));
            k += 1;
        }
        zones
    }

    /// Force within so much (rad) of the first or the last edge, N; `along` is the force of each node's shape function under a unit pressure, N/MPa.
    pub fn within(&self, end: usize, reach: f64, along: &[f64]) -> f64 {
        let n = self.angles.len();
        let at = |k: usize| if end == 0 { k } else { n - 1 - k };
        let from_edge = |k: usize| (self.angles[at(k)] - self.angles[at(0)]).abs();
        // shape functions reach half into the elements on either side
        let density = |k: usize| {
            let (before, after) = (k.saturating_sub(1), (k + 1).min(n - 1));
            let share = 0.5 * (from_edge(after) - from_edge(before));
            self.pressures[at(k)] * along[at(k)] / share
        };
        let mut force = self.edge_force(end);
        for k in 1..n {
            let (near, far) = (from_edge(k - 1), from_edge(k));
            if near >= reach {
                break;
            }
            let (a, b) = (density(k - 1), density(k));
            let part = ((reach - near) / (far - near)).min(1.0);
            force += (far - near) * part * (a + 0.5 * part * (b - a));
        }
        force
    }

    /// Starts the list of a full circle at a node without pressure, and repeats that node at the end; says whether there
    /// is one.
    fn open_at_a_gap(&mut self) -> bool {
        let Some(gap) = self.pressures.iter().position(|&p| p <= 0.0) else {
            return false;
        };
        self.angles.rotate_left(gap);
        self.pressures.rotate_left(gap);
        self.forces.rotate_left(gap);
        let start = self.angles[0];
        for t in &mut self.angles {
            *t = start + (*t - start).rem_euclid(TAU);
        }
        self.angles.push(start + TAU);
        self.pressures.push(0.0);
        self.forces.push(0.0);
        true
    }

    fn edge_force(&self, end: usize) -> f64 {
        self.edge_forces.map_or(0.0, |f| f[end])
    }

    fn is_loaded(&self, k: usize) -> bool {
        let last = self.angles.len() - 1;
        self.pressures[k] > 0.0
            || (k == 0 && self.edge_force(0) > 0.0)
            || (k == last && self.edge_force(1) > 0.0)
    }

    fn zone(&self, first: usize, last: usize) -> ContactZone {
        let bounded = self.edge_forces.is_some();
        let from_edge = bounded && first == 0;
        let to_edge = bounded && last + 1 == self.angles.len();
        let mut force: f64 = self.forces[first..=last].iter().sum();
        if from_edge {
            force += self.edge_force(0);
        }
        if to_edge {
            force += self.edge_force(1);
        }
        ContactZone {
            start: if from_edge {
                self.angles[0]
            } else {
                self.free_end((first + 2).min(last), first, first - 1)
            },
            end: if to_edge {
                self.angles[last]
            } else {
                self.free_end(last.saturating_sub(2).max(first), last, last + 1)
            },
            force,
            from_edge: from_edge && !self.soft,
            to_edge: to_edge && !self.soft,
            edges: last - first + usize::from(!from_edge) + usize::from(!to_edge),
        }
    }

    /// The free end of a zone near its last loaded node `at`, with `outer` the first unloaded one.
    ///
    /// Pressure falls to a free end like the square root of the distance (Johnson, *Contact Mechanics*, ch. 4 and 5: smooth
    /// bodies), so a force `F` beyond a node of pressure `p` reaches `3 F / (2 p)` past it. `from` is two nodes
    /// before the last: forces are integrals and converge faster than the pressure of the last node. The end is kept
    /// between the last node but one and `outer`.
    fn free_end(&self, from: usize, at: usize, outer: usize) -> f64 {
        let (t, p) = (&self.angles, &self.pressures);
        let (lo, hi) = (from.min(outer), from.max(outer));
        let beyond: f64 = (lo..hi)
            .map(|i| 0.5 * (p[i] + p[i + 1]) * (t[i + 1] - t[i]))
            .sum();
        // an edge force alone is somewhere in the element beside the edge; half of it is taken
        let reach = if p[from] > 0.0 {
            1.5 * beyond / p[from]
        } else {
            0.5 * (t[outer] - t[at]).abs()
        };
        let outward = if outer > at { 1.0 } else { -1.0 };
        let inner = match (from == at, outer > at) {
            (true, _) => at,
            (false, true) => at - 1,
            (false, false) => at + 1,
        };
        let (a, b) = (t[inner].min(t[outer]), t[inner].max(t[outer]));
        (t[from] + outward * reach).clamp(a, b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hertz pressure on an even mesh: the ends come out to a small part of an element.
    #[test]
    fn ends_of_a_hertz_zone() {
        let (half, step) = (1.0, 0.09);
        let angles: Vec<f64> = (-20..=20).map(|k| step * f64::from(k)).collect();
        let pressures: Vec<f64> = angles
            .iter()
            .map(|t| (1.0 - t * t / (half * half)).max(0.0).sqrt())
            .collect();
        let forces = pressures.iter().map(|p| p * step).collect();
        let load = PadLoad {
            angles,
            pressures,
            forces,
            edge_forces: Some([0.0, 0.0]),
            soft: false,
        };
        let zones = load.zones();
        assert_eq!(zones.len(), 1);
        assert!(
            (zones[0].start + half).abs() < 0.3 * step && (zones[0].end - half).abs() < 0.3 * step,
            "{zones:?}"
        );
        assert!(!zones[0].from_edge && !zones[0].to_edge);
    }

    /// A rigid flat punch presses like `1 / sqrt(1 - x^2)`: within `x` of an edge lies the share `acos(1 - x) / pi` of its force (Johnson, *Contact
    /// Mechanics*, ch. 2, from memory).
    #[test]
    fn a_punch_has_little_of_its_force_near_an_edge() {
        let n = 4000;
        // nodes crowd towards both edges, where the pressure has no bound and the nodes there share what lies beside them
        let angles: Vec<f64> = (0..=n)
            .map(|k| -(PI * f64::from(k) / f64::from(n)).cos())
            .collect();
        let mean = |a: f64, b: f64| (b.asin() - a.asin()) / (b - a);
        let side = |k: usize| [k.saturating_sub(1), (k + 1).min(n as usize)].map(|j| angles[j]);
        let all = 0..=n as usize;
        let along: Vec<f64> = all
            .clone()
            .map(|k| 0.5 * (side(k)[1] - side(k)[0]))
            .collect();
        let pressures: Vec<f64> = all.map(|k| mean(side(k)[0], side(k)[1])).collect();
        let load = PadLoad {
            forces: pressures.iter().zip(&along).map(|(p, a)| p * a).collect(),
            pressures,
            angles,
            edge_forces: Some([0.0, 0.0]),
            soft: false,
        };
        for reach in [0.01, 0.1, 1.0, 5.0] {
            let exact = (1.0_f64 - reach).max(-1.0).acos();
            for end in [0, 1] {
                let found = load.within(end, reach, &along);
                assert!(
                    (found / exact - 1.0).abs() < 2e-3,
                    "{reach}: {found} {exact}"
                );
            }
        }
    }

    /// A full circle that is loaded over its seam has one zone there, not two.
    #[test]
    fn a_zone_over_the_seam_of_a_full_circle() {
        let angles: Vec<f64> = (0..36).map(|k| f64::from(k) * TAU / 36.0).collect();
        let pressures: Vec<f64> = angles.iter().map(|t| t.cos().max(0.0)).collect();
        let load = PadLoad {
            forces: pressures.clone(),
            pressures,
            angles: angles.clone(),
            edge_forces: None,
            soft: false,
        };
        let zones = load.zones();
        assert_eq!(zones.len(), 1);
        assert!((zones[0].end - zones[0].start - PI).abs() < 0.3);
        let all = PadLoad {
            forces: vec![1.0; 36],
            pressures: vec![1.0; 36],
            angles,
            edge_forces: None,
            soft: false,
        };
        assert_eq!(all.zones()[0].edges, 36);
    }
}
