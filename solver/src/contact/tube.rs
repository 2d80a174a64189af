//! A hold closed on a tube: pads in angle and along the part, the tube's harmonics behind them.
//!
//! The pressure of a pad is a product of shape functions round the part, as in a section, and along it. What two of them do to each other is a sum over
//! harmonics of what their strips along the part do to each other times what their Fourier coefficients round it share. The strips' part is known at the
//! rungs of a ladder of harmonics; so the sum over all harmonics of the other part is made once for each pair of angles, shared out among the rungs.

mod along;
mod elastic;

use std::ops::Range;
use std::sync::Arc;

use super::clamp::Clamp;
use super::clamped::Clamped;
use super::closing::{Closed, Closing, Dead, first_to_touch};
use super::elastic::{Elastic, Sum};
use super::pressure::{PressureDof, Segment};
use super::quadratic::{DriveDof, Gram, Solution};
use super::round::pad_dofs;
use super::winkler::Winkler;
use super::{ContactError, PadEnds, Rounds};
use crate::fourier::Complex64;
use crate::geometry::Surface;
use crate::tube::TubeBody;
use crate::tube::field::{SurfaceField, share_of_turn};
use crate::tube::response::{Responses, Strip};
pub use along::AlongPad;
use elastic::{TubeElastic, outward, transform};

/// Share of the dead loads below which their resultant is rounding.
const BALANCED: f64 = 1e-12;

/// Radius of a surface (mm) over angle (rad) and position (mm).
pub type TubeRadius<'a> = dyn Fn(Surface, f64, f64) -> f64 + 'a;

/// A hold against a tube: pressures, and their compliances as far as they were asked for.
pub struct TubeContact {
    elastic: TubeElastic,
    /// Pressures round the part alone, of every body; their resultants are those of the whole length.
    round: Vec<PressureDof>,
    /// Pressures round and along the part: those of a piece follow each other, those of one angle together.
    dofs: Vec<PressureDof>,
    /// Dead loads of each scheme.
    dead: Vec<DeadLoads>,
    /// Weighted displacement (mm3) by anything that is not the contact.
    offset: Vec<f64>,
    gram: Gram,
}

/// The dead loads of a scheme.
struct DeadLoads {
    /// Amplitudes by harmonic and strip, N per mm and radian, outwards.
    amplitudes: Vec<Vec<Complex64>>,
    /// Weighted displacement of each pressure under them, mm3.
    weighted: Vec<f64>,
    /// Resultant along each rigid-body mode, N.
    resultant: [f64; 4],
    /// Sum of the sizes of the forces, N.
    size: f64,
}

/// Where a hold has come to rest on a tube.
#[derive(Clone, Debug)]
pub struct TubeState {
    /// Pressures summed along the part, as those of a section: forces are of the whole part, pressures their mean over its length.
    pub section: Clamped,
    /// Displacement of the surfaces by contact and dead loads, with the rigid motion of the part, mm.
    pub field: SurfaceField,
    /// Amplitudes of all radial loads by harmonic and strip, N per mm and radian, outwards.
    pub(crate) amplitudes: Vec<Vec<Complex64>>,
    /// Rigid motions that nothing resists.
    pub free: Vec<[f64; 4]>,
    /// Which pressures are active, to start a similar problem from.
    pub active: Vec<bool>,
    /// Pressures, MPa, of all shape functions.
    pressures: Vec<f64>,
    gaps: Vec<f64>,
}

/// What stands along the part, and how finely.
pub struct Standing<'a> {
    /// Strips of each body among those of the responses.
    pub spans: Vec<Range<usize>>,
    /// Strips of the dead loads of each scheme, by surface: outside, bore.
    pub dead: Vec<[Range<usize>; 2]>,
    /// Element ends of each piece of each pad, from its body's axis.
    pub pads: &'a [PadEnds],
    /// Radii of the surfaces as the step finds them.
    pub radius: &'a TubeRadius<'a>,
    /// Whether the surfaces run alike all along the part.
    pub alike_along: bool,
}

impl TubeContact {
    /// A hold on a body whose answers to strips are known.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn new(
        clamp: &Clamp,
        body: &TubeBody,
        responses: &Arc<Responses>,
        standing: &Standing,
    ) -> Result<Self, ContactError> {
        let heights = body.mesh().heights();
        let ends = [heights[0], heights[heights.len() - 1]];
        let middle = 0.5 * (ends[0] + ends[1]);
        let radius = |s: Surface, t: f64| (standing.radius)(s, t, middle);
        let round = pad_dofs(clamp, standing.pads, &radius)?;
        let elastic = TubeElastic::new(body, responses, &round, clamp.section.length);
        let mut contact = Self {
            elastic,
            round,
            dofs: Vec::new(),
            dead: Vec::new(),
            offset: Vec::new(),
            gram: Gram::default(),
        };
        contact.lay_along(clamp, standing)?;
        contact.offset = vec![0.0; contact.dofs.len()];
        contact.set_dead(clamp, standing);
        Ok(contact)
    }

    /// Sets the same pads with other faces, gaps or forces against the body; compliances are kept.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn set(&mut self, clamp: &Clamp, standing: &Standing) -> Result<(), ContactError> {
        let middle = self.elastic.lever[0];
        let radius = |s: Surface, t: f64| (standing.radius)(s, t, middle);
        self.round = pad_dofs(clamp, standing.pads, &radius)?;
        self.dofs.clear();
        self.elastic.places.clear();
        self.lay_along(clamp, standing)?;
        self.dead.clear();
        self.set_dead(clamp, standing);
        Ok(())
    }

    /// Makes the pressures round and along the part from those round it, with the gaps at every position.
    fn lay_along(&mut self, clamp: &Clamp, standing: &Standing) -> Result<(), ContactError> {
        let length = self.elastic.length;
        let mut known: Vec<(f64, Vec<f64>)> = Vec::new();
        let middle = self.elastic.lever[0];
        let mut gaps_at = |z: f64| -> Result<usize, ContactError> {
            let z = if standing.alike_along { middle } else { z };
            if let Some(k) = known.iter().position(|g| g.0 == z) {
                return Ok(k);
            }
            let radius = |s: Surface, t: f64| (standing.radius)(s, t, z);
            let dofs = pad_dofs(clamp, standing.pads, &radius)?;
            known.push((z, dofs.iter().map(|d| d.gap).collect()));
            Ok(known.len() - 1)
        };
        let strips = self.elastic.responses.strips();
        // gaps of each strip of each body: weights of the positions
        let mut rules: Vec<Vec<(usize, f64)>> = vec![Vec::new(); strips.len()];
        for strip in standing.spans.iter().cloned().flatten() {
            if rules[strip].is_empty() {
                let rule: Vec<(f64, f64)> = strips[strip].rule().collect();
                for (z, w) in rule {
                    rules[strip].push((gaps_at(z)?, w / length));
                }
            }
        }
        let same = |a: &PressureDof, b: &PressureDof| a.body == b.body && a.piece == b.piece;
        let mut first = 0;
        for piece in self.round.chunk_by(same) {
            let span = standing.spans[piece[0].body].clone();
            let count = span.len();
            for (k, dof) in piece.iter().enumerate() {
                for (m, strip) in span.clone().enumerate() {
                    let share = self.elastic.sizes[strip][0] / length;
                    let gaps = rules[strip].iter();
                    let along_layer = &strips[span.clone()];
                    self.elastic.places.push((first + k, strip));
                    self.dofs.push(PressureDof {
                        place: k * count + m,
                        layer: layer_along(&dof.layer, along_layer, m, length),
                        along: dof.along * share,
                        area: dof.area * share,
                        gap: gaps.map(|&(at, w)| w * known[at].1[first + k]).sum(),
                        segments: Vec::new(),
                        ..dof.clone()
                    });
                }
            }
            first += piece.len();
        }
        Ok(())
    }

    /// Takes over the dead loads of a hold.
    fn set_dead(&mut self, clamp: &Clamp, standing: &Standing) {
        for (member, spans) in standing.dead.iter().enumerate() {
            let mut amplitudes = self.elastic.no_amplitudes();
            let mut size = 0.0;
            let before = clamp.dead_loads(member);
            let (patches, points) = clamp.dead_loads(member + 1);
            let mut add = |surface: Surface, force: f64, terms: &[Complex64]| {
                size += force.abs();
                let span = spans[usize::from(surface == Surface::Bore)].clone();
                let length: f64 = span.clone().map(|s| self.elastic.sizes[s][0]).sum();
                for (n, (strips, term)) in amplitudes.iter_mut().zip(terms).enumerate() {
                    let each = term * (-surface.outward() * share_of_turn(n) / length);
                    span.clone().for_each(|strip| strips[strip] += each);
                }
            };
            let most = self.elastic.harmonics() - 1;
            for &k in &patches[before.0.len()..] {
                let p = clamp.patches()[k];
                let even = p.force / (2.0 * p.half_angle.sin());
                let segment = Segment {
                    from: p.angle - p.half_angle,
                    to: p.angle + p.half_angle,
                    density: [even, even],
                };
                add(p.surface, p.force, &transform(&[segment], most));
            }
            for &k in &points[before.1.len()..] {
                let p = clamp.points()[k];
                let turn = |n: usize| Complex64::from_polar(p.force, -(n as f64) * p.angle);
                let terms: Vec<Complex64> = (0..=most).map(turn).collect();
                add(p.surface, p.force, &terms);
            }
            let moved = self.elastic.moved_strips(&amplitudes);
            let mut resultant = self.elastic.resultant(&amplitudes);
            for r in &mut resultant {
                if r.abs() <= BALANCED * size {
                    *r = 0.0;
                }
            }
            self.dead.push(DeadLoads {
                weighted: self.elastic.against(&moved),
                resultant,
                size,
                amplitudes,
            });
        }
    }

    /// Displacement of the surfaces (mm) by anything that is not the contact: it opens the gaps.
    pub fn set_offset(&mut self, field: &SurfaceField) {
        let on_strips: Vec<Vec<Complex64>> = self
            .elastic
            .loads
            .iter()
            .map(|load| (0..field.len()).map(|n| field.on_strip(n, load)).collect())
            .collect();
        self.offset = self.elastic.against(&on_strips);
    }

    /// Closes the hold; the displacement is told in so many harmonics. It starts from what was active in a like state, if that is given.
    ///
    /// # Errors
    /// See [`ContactError`].
    pub fn close(
        &mut self,
        clamp: &Clamp,
        harmonics: usize,
        start: Option<&[bool]>,
        rounds: &Rounds,
    ) -> Result<TubeState, ContactError> {
        let start = match start {
            Some(active) if active.len() == self.dofs.len() => active.to_vec(),
            _ => self.first_to_touch(),
        };
        let (dead_loads, offset) = (&self.dead, &self.offset);
        let mut dead = |members: usize| -> Result<Dead, ContactError> {
            let mut all = Dead {
                weighted: offset.clone(),
                resultant: vec![0.0; 4],
                size: 0.0,
            };
            for load in &dead_loads[..members] {
                let sums = all.weighted.iter_mut().zip(&load.weighted);
                sums.for_each(|(w, l)| *w += l);
                let sums = all.resultant.iter_mut().zip(load.resultant);
                sums.for_each(|(r, l)| *r += l);
                all.size += load.size;
            }
            Ok(all)
        };
        let mut layers = Winkler::new(&self.dofs, clamp.bodies());
        let mut bodies: Vec<&mut dyn Elastic> = vec![&mut self.elastic];
        bodies.extend(layers.as_mut().map(|l| l as &mut dyn Elastic));
        let mut body = Sum::new(bodies);
        let closed = clamp.close(
            Closing {
                body: &mut body,
                dofs: &self.dofs,
                gram: &mut self.gram,
                dead: &mut dead,
                rounds,
            },
            Some(start),
        )?;
        Ok(self.at_rest(clamp, closed, harmonics))
    }

    /// The places of each pad round the part that touch first, all along it.
    fn first_to_touch(&self) -> Vec<bool> {
        let round = first_to_touch(&self.round);
        let places = self.elastic.places.iter();
        places.map(|&(k, _)| round[k]).collect()
    }

    /// The state of a closed hold, its free motions fixed: the bore neither shifts nor tilts along them.
    fn at_rest(&self, clamp: &Clamp, closed: Closed, harmonics: usize) -> TubeState {
        let solution = closed.solution;
        let mut amplitudes = self.elastic.amplitudes(&solution.pressures);
        for load in &self.dead {
            for (all, own) in amplitudes.iter_mut().zip(&load.amplitudes) {
                all.iter_mut().zip(own).for_each(|(a, b)| *a += b);
            }
        }
        let responses = &*self.elastic.responses;
        let mut field = SurfaceField::of_strips(responses, &amplitudes, harmonics);
        let rigid: [f64; 4] = std::array::from_fn(|k| solution.modes[k]);
        field.add_rigid(responses, rigid, self.elastic.lever);
        let mut moved = solution.drive_displacements.clone();
        let free = orthonormal(&solution.free);
        for (drives, q) in &free {
            let mean = field.rigid_of_bore(responses, self.elastic.lever);
            let along: f64 = -mean.iter().zip(q).map(|(m, q)| m * q).sum::<f64>();
            let step = q.map(|q| along * q);
            field.add_rigid(responses, step, self.elastic.lever);
            moved
                .iter_mut()
                .zip(drives)
                .for_each(|(d, v)| *d += along * v);
        }
        let free: Vec<[f64; 4]> = free.into_iter().map(|f| f.1).collect();
        TubeState {
            section: self.as_section(clamp, &solution, &closed.drive_dofs, moved),
            field,
            amplitudes,
            free,
            active: solution.active,
            pressures: solution.pressures,
            gaps: solution.gaps,
        }
    }

    /// Pressures summed along the part, on the places round it.
    fn as_section(
        &self,
        clamp: &Clamp,
        solution: &Solution,
        drive_dofs: &[DriveDof],
        moved: Vec<f64>,
    ) -> Clamped {
        let length = self.elastic.length;
        let mut pressures = vec![0.0; self.round.len()];
        let mut gaps = vec![f64::INFINITY; self.round.len()];
        let mut active = vec![false; self.round.len()];
        for (k, &(round, strip)) in self.elastic.places.iter().enumerate() {
            pressures[round] += solution.pressures[k] * self.elastic.sizes[strip][0] / length;
            gaps[round] = gaps[round].min(solution.gaps[k]);
            active[round] |= solution.active[k];
        }
        let force = |(dof, f): (&PressureDof, &Vec<Complex64>)| {
            let push = -outward(dof);
            let first = f.get(1).copied().unwrap_or_default();
            vec![(0, [push * first.re, -push * first.im])]
        };
        Clamped {
            displacement: Vec::new(),
            load: Vec::new(),
            free_shifts: Vec::new(),
            rounds: solution.rounds,
            approaches: clamp.approaches(drive_dofs, &moved),
            drive_displacements: moved,
            bodies: clamp.bodies().to_vec(),
            loads: self
                .round
                .iter()
                .zip(&self.elastic.transforms)
                .map(force)
                .collect(),
            dofs: self.round.clone(),
            active,
            pressures,
            gaps,
            slits: Vec::new(),
        }
    }

    /// Resultant of all loads along each rigid-body mode, N.
    pub fn resultant(&self, state: &TubeState) -> [f64; 4] {
        self.elastic.resultant(&state.amplitudes)
    }

    /// Half the work of all loads on a displacement, N mm.
    pub fn energy(&self, state: &TubeState, field: &SurfaceField) -> f64 {
        let mut sum = 0.0;
        for (n, by_strip) in state.amplitudes.iter().enumerate().take(field.len()) {
            for (size, load) in by_strip.iter().zip(&self.elastic.loads) {
                let moved = field.on_strip(n, load);
                sum += 0.5 / share_of_turn(n) * (size.re * moved.re + size.im * moved.im);
            }
        }
        sum
    }
}

/// Weighted gaps of a layer for one of the shape functions along a pad: its own and those of the strips beside it.
fn layer_along(
    round: &[(usize, f64)],
    strips: &[Strip],
    at: usize,
    length: f64,
) -> Vec<(usize, f64)> {
    let count = strips.len();
    let beside = at.saturating_sub(1)..(at + 2).min(count);
    beside
        .flat_map(|other| {
            let share: f64 = strips[at]
                .rule()
                .map(|(z, w)| w * strips[other].at(z))
                .sum();
            round
                .iter()
                .map(move |&(place, c)| (place * count + other, c * share / length))
        })
        .collect()
}

/// Free motions as directions of drive displacements and rigid motions at right angles to each other.
fn orthonormal(free: &[(Vec<f64>, Vec<f64>)]) -> Vec<(Vec<f64>, [f64; 4])> {
    let mut kept: Vec<(Vec<f64>, [f64; 4])> = Vec::new();
    for (d, q) in free {
        let mut d = d.clone();
        let mut q: [f64; 4] = std::array::from_fn(|k| q[k]);
        for (kd, kq) in &kept {
            let along: f64 = q.iter().zip(kq).map(|(a, b)| a * b).sum();
            q.iter_mut().zip(kq).for_each(|(x, y)| *x -= along * y);
            d.iter_mut().zip(kd).for_each(|(x, y)| *x -= along * y);
        }
        let size = q.iter().map(|x| x * x).sum::<f64>().sqrt();
        // a tenth of a millionth in the rigid motion is none
        if size > 1e-7 {
            kept.push((
                d.into_iter().map(|x| x / size).collect(),
                q.map(|x| x / size),
            ));
        }
    }
    kept
}
