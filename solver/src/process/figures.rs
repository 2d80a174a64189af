//! How far each figure of a step may be off: the difference of the two divisions that the step was solved on, figure by figure.
//!
//! The shapes of the two are subtracted angle by angle; what is read off a shape is then off by what it reads off that difference
//! ([`ProfileError`]). Of contacts the difference itself is taken, the largest among the bodies of a scheme: one of them may agree by luck.

use super::adapt::{Adapted, Judge};
use super::dip;
use super::inspect::{Named, contacts};
use super::sample::{difference, range};
use super::step::{Setting, Solved};
use super::{
    Contact, ContactError, CutError, CutOutcome, Estimate, FigureErrors, HeldState, Radii,
    StepOutcome, StressPlace, StressSummary, WallError,
};
use crate::geometry::{PerSurface, Surface};
use crate::metrology::ProfileError;

/// How often the difference of two meshes is stated as the error of stress. Surface stress is carried out from inside the elements and
/// averaged; it has not reached its order on everyday meshes: of 60 random rings against the exact series 11 were off by more than
/// the plain difference, none by more than three times it.
const STRESS_MARGIN: f64 = 3.0;

/// Energy is summed over the same elements.
const ENERGY_MARGIN: f64 = 3.0;

/// Share of its width by which the ends of an arc may be off when two divisions agree on them; of one narrower than [`LINE`] walls, which the
/// ring feels as a line whatever its width, and which has some ten elements.
const ARC_FLOOR: f64 = 1e-4;
const LINE_FLOOR: f64 = 0.05;
const LINE: f64 = 3e-3;

/// Times that the ends of two divisions differ which is stated of the finer: of 328 holds of the long coverage test 36 were off by more than the plain difference,
/// a third of them by less than this.
const ARC_MARGIN: f64 = 1.3;

/// A place of the largest stress that two meshes put farther apart than so many elements is another place that is stressed as much.
const SAME_PLACE: f64 = 8.0;

/// States the error of the stress of a step by what a coarser mesh gave for its states, in order: the largest relative difference with its
/// margin and `floor`, and how far the places may be off.
pub(super) fn judge_stress(step: &mut StepOutcome, coarse: &[StressSummary], floor: f64) {
    let after = step.after_cut.as_mut().map(|a| &mut a.stress);
    let fine = std::iter::once(&mut step.held.stress)
        .chain(&mut step.stress_between_cuts)
        .chain(after);
    let mut largest: f64 = 0.0;
    for (a, b) in coarse.iter().zip(fine) {
        let difference = (a.von_mises_away - b.von_mises_away).abs();
        largest = largest.max(difference / b.von_mises_away.max(f64::MIN_POSITIVE));
        b.at.within_deg = place_within(&a.at, &b.at);
    }
    step.estimate.stress_relative_error = Some(floor + STRESS_MARGIN * largest);
}

/// How far the place of the largest stress may be off: an element of the coarser of two meshes, and what they are apart.
fn place_within(coarse: &StressPlace, fine: &StressPlace) -> f64 {
    let turned = coarse.angle_deg - fine.angle_deg;
    let apart = (turned - 360.0 * (turned / 360.0).round()).abs();
    let element = coarse.within_deg.max(fine.within_deg);
    element
        + if apart <= SAME_PLACE * element {
            apart
        } else {
            0.0
        }
}

/// What earlier steps leave a step's figures off by.
#[derive(Clone, Debug, Default)]
pub(super) struct Carried {
    /// Shape of the free part.
    shape: PerSurface<ProfileError>,
    /// What an out-of-roundness is off by at most, mm.
    pub roundness: f64,
}

impl Carried {
    /// By the step before.
    pub fn by(errors: Option<&FigureErrors>) -> Self {
        let Some(errors) = errors else {
            return Self::default();
        };
        let of = |s: Surface| errors.released.get(s).roundness();
        Self {
            shape: errors.released.clone(),
            roundness: of(Surface::Outer) + of(Surface::Bore),
        }
    }

    /// The estimate of a step with what steps before it left: a blank that is off is held off, and what is cut of it is off by no more.
    pub fn added_to(&self, estimate: &Estimate, accuracy: f64) -> Estimate {
        let mut total = estimate.clone();
        if let (Some(relative), Some(absolute)) =
            (&mut total.relative_error, &mut total.absolute_error)
            && self.roundness > 0.0
            && *absolute > 0.0
        {
            *relative *= 1.0 + self.roundness / *absolute;
            *absolute += self.roundness;
            total.converged &= *relative <= accuracy;
        }
        total
    }
}

/// The errors of all figures of a step; `None` where no second division was solved.
pub(super) fn errors(
    setting: &Setting,
    names: &[Named],
    adapted: &Adapted,
    held: &HeldState,
    after_cut: Option<&[Contact]>,
    carried: &Carried,
) -> Option<FigureErrors> {
    let judge = adapted.judge.as_ref()?;
    let (coarse, fine) = (&judge.solved, &adapted.solved);
    let shapes = Shapes {
        judge,
        fine,
        carried,
    };
    let cut = |s: Surface| fine.cuts.iter().any(|c| c.surface == s);
    let released = PerSurface::from_fn(|s| shapes.released(s, cut(s)));
    let before = coarse.before_cuts(setting);
    let unsettled = fine.unsettled.outline.max(fine.unsettled_held);
    let left = unsettled + fine.unresolved_bound + carried.roundness;
    let unknown = Unknown {
        series: judge.series,
        shape: left,
        moved: Surface::BOTH
            .into_iter()
            .flat_map(|s| fine.held_displacement.get(s))
            .fold(0.0, |most, u| u.abs().max(most)),
        line: line_deg(&setting.body.nominal),
    };
    let of = |a: &[Contact], b: &[Contact]| contact_errors(a, b, &unknown);
    let contacts_after_cut = match (after_cut, coarse.after_cuts()) {
        (Some(fine), Some(after)) => {
            let coarse = contacts(setting, names, after.clamp, after.clamped);
            of(&coarse, fine)
        }
        _ => Vec::new(),
    };
    Some(FigureErrors {
        contacts: of(
            &contacts(setting, names, before.clamp, before.clamped),
            &held.contacts,
        ),
        contacts_after_cut,
        cuts: cut_errors(
            &coarse.cuts,
            &fine.cuts,
            fine.unsettled.outline + carried.roundness,
        ),
        wall: wall_error(&fine.released, &released),
        energy: ENERGY_MARGIN * (coarse.energy - fine.energy).abs()
            + judge.series * fine.energy.abs(),
        held: PerSurface::from_fn(|s| shapes.held(s)),
        released,
    })
}

/// The shapes of a step on its two divisions.
struct Shapes<'a> {
    judge: &'a Judge,
    fine: &'a Solved,
    carried: &'a Carried,
}

impl Shapes<'_> {
    fn held(&self, s: Surface) -> ProfileError {
        let moved = range(self.fine.held_displacement.get(s));
        let shapes = (&self.judge.solved.held_shape, &self.fine.held_shape);
        self.of(s, shapes, moved)
            .and(self.fine.unsettled_held + self.carried.roundness)
    }

    fn released(&self, s: Surface, cut: bool) -> ProfileError {
        let before = self.carried.shape.get(s);
        let shapes = (&self.judge.solved.released, &self.fine.released);
        if cut {
            let left = range(self.fine.released.get(s));
            return self
                .of(s, shapes, left)
                .and(self.fine.unsettled.outline + self.carried.roundness);
        }
        // what is not cut keeps what it was, but for residual stress that comes to rest anew
        let moved = range(&difference(shapes.1.get(s), self.fine.stock.get(s)));
        if moved == 0.0 {
            return before.clone();
        }
        self.of(s, shapes, moved)
            .and(self.fine.unsettled.outline + before.roundness())
    }

    /// Error of a shape whose radii, if all were exact but for what the hold does, vary by so much of that, mm.
    fn of(&self, s: Surface, (coarse, fine): (&Radii, &Radii), moved: f64) -> ProfileError {
        let (judge, solved) = (self.judge, self.fine);
        let off = difference(coarse.get(s), fine.get(s));
        let off = off.iter().map(|d| judge.margin * d).collect();
        let left = (judge.series + judge.sampling) * moved + solved.unresolved_bound;
        ProfileError::new(off, left)
    }
}

/// What is not known of a contact beside what two divisions differ by.
pub(super) struct Unknown {
    /// What the series leaves, as a share.
    pub series: f64,
    /// What the part that is met may be off, mm.
    pub shape: f64,
    /// How far the hold moves the part at most, mm.
    pub moved: f64,
    /// An arc narrower than this has no width to the ring, degrees.
    pub line: f64,
}

/// See [`Unknown::line`].
pub(super) fn line_deg(nominal: &PerSurface<f64>) -> f64 {
    (LINE * (nominal.outer - nominal.bore) / nominal.outer).to_degrees()
}

/// Errors of what bodies do.
pub(super) fn contact_errors(
    coarse: &[Contact],
    fine: &[Contact],
    unknown: &Unknown,
) -> Vec<ContactError> {
    let &Unknown {
        series,
        shape,
        moved,
        line,
    } = unknown;
    let one = |(a, b): (&Contact, &Contact)| {
        // a blank that is off by a share of the travel is pressed by about that share more or less; what does not travel presses by how far the part
        // gives way to it
        let yields = if b.approach == 0.0 {
            moved
        } else {
            b.approach.abs()
        };
        let yields = yields.max(f64::MIN_POSITIVE);
        let share = series + (shape / yields).min(1.0);
        let off = |x: f64, y: f64| (x - y).abs() + share * y.abs();
        let some = |x: Option<f64>, y: Option<f64>| y.map(|y| off(x.unwrap_or(0.0), y));
        ContactError {
            force: off(a.force, b.force),
            approach: (a.approach - b.approach).abs() + series * b.approach.abs() + shape,
            pressure_integral: off(a.pressure_integral, b.pressure_integral),
            peak_pressure: some(a.peak_pressure, b.peak_pressure),
            edge_force_per_length: some(a.edge_force_per_length, b.edge_force_per_length),
            arcs: arcs_apart(&a.arcs, &b.arcs, line),
            gap: (a.gap - b.gap).abs() + shape,
        }
    };
    let own: Vec<ContactError> = coarse.iter().zip(fine).map(one).collect();
    let alike = |a: &Contact, b: &Contact| a.scheme == b.scheme && a.called == b.called;
    fine.iter()
        .map(|c| {
            let group = fine.iter().zip(&own).filter(|(b, _)| alike(b, c));
            group.fold(ContactError::default(), |most, (_, e)| most.larger(e))
        })
        .collect()
}

/// How far the ends of loaded arcs are from the nearest of a coarser division, degrees, the farthest of all; where that has none there, the
/// width of the arc.
fn arcs_apart(coarse: &[[f64; 2]], fine: &[[f64; 2]], line: f64) -> f64 {
    let apart = |arc: &[f64; 2]| {
        let end = |k: usize| {
            let all = coarse.iter().map(|a| (a[k] - arc[k]).abs());
            all.fold(arc[1] - arc[0], f64::min)
        };
        let width = arc[1] - arc[0];
        let floor = if width < line { LINE_FLOOR } else { ARC_FLOOR };
        ARC_MARGIN * end(0).max(end(1)) + floor * width
    };
    fine.iter().map(apart).fold(0.0, f64::max)
}

/// Errors of cuts, `left` what their iterations and earlier steps leave, mm.
pub(super) fn cut_errors(coarse: &[CutOutcome], fine: &[CutOutcome], left: f64) -> Vec<CutError> {
    let one = |(a, b): (&CutOutcome, &CutOutcome)| {
        let [least, most] = [a.depth_min - b.depth_min, a.depth_max - b.depth_max];
        let depth = least.abs().max(most.abs()) + left;
        // what is not cut at all varies by this over the turn
        let varies = (b.depth_max - b.depth_min).max(f64::MIN_POSITIVE);
        let missed = (b.cleaned_up < 1.0).then_some(depth / varies);
        CutError {
            cleaned_up: (a.cleaned_up - b.cleaned_up).abs() + missed.unwrap_or(0.0).min(1.0),
            depth,
            stock_to_clean_up: (a.stock_to_clean_up - b.stock_to_clean_up).abs() + 2.0 * left,
            tool_dip: a.tool_dip.as_ref().zip(b.tool_dip.as_ref()).map(dip::error),
        }
    };
    coarse.iter().zip(fine).map(one).collect()
}

/// Error of the wall, whose outside and bore may both be off.
pub(super) fn wall_error(released: &Radii, errors: &PerSurface<ProfileError>) -> WallError {
    let (a, b) = (errors.outer.off(), errors.bore.off());
    let off = |k: usize| {
        let of = |d: &[f64]| d.get(k).copied().unwrap_or(0.0);
        of(a) - of(b)
    };
    let n = released.outer.len();
    let most = (0..n).map(|k| off(k).abs()).fold(0.0, f64::max);
    let size = most + 0.5 * (errors.outer.floor() + errors.bore.floor());
    let wall = difference(&released.outer, &released.bore);
    // an extreme may lie wherever the wall is as thin to within twice its error
    let spread = |sign: f64| {
        let extreme = wall.iter().fold(f64::NEG_INFINITY, |m, &w| m.max(sign * w));
        let near = |k: usize| sign * wall[k % n] >= extreme - 2.0 * size;
        let Some(k) = (0..n).find(|&k| sign * wall[k] >= extreme) else {
            return 180.0;
        };
        let after = (1..n).take_while(|d| near(k + d)).count();
        let before = (1..n).take_while(|d| near(k + n - d)).count();
        let step = 360.0 / n as f64;
        // half a sample where it lies on one
        (step * (after.max(before) as f64 + 0.5)).min(180.0)
    };
    WallError {
        size,
        min_angle: spread(-1.0),
        max_angle: spread(1.0),
    }
}

impl ContactError {
    /// The larger of each.
    fn larger(self, other: &Self) -> Self {
        let some = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(a), Some(b)) => Some(a.max(b)),
            (a, b) => a.or(b),
        };
        Self {
            force: self.force.max(other.force),
            approach: self.approach.max(other.approach),
            pressure_integral: self.pressure_integral.max(other.pressure_integral),
            peak_pressure: some(self.peak_pressure, other.peak_pressure),
            edge_force_per_length: some(self.edge_force_per_length, other.edge_force_per_length),
            arcs: self.arcs.max(other.arcs),
            gap: self.gap.max(other.gap),
        }
    }
}
