//! Between which forces to hold, in words.

use crate::case::Case;
use crate::case::quantity::LBF_N;
use crate::geometry::Surface;
use crate::judge::Judgement;
use crate::process::{Alternative, Bound, Change, ForceWindow, LimitedBy, Outcome};
use crate::report::document::StepDocument;
use crate::report::grip::{rounded, safety};
use crate::report::units::{Units, percent};
use crate::scheme::{SetBy, SetByKind, UNIT_FORCE};

/// What goes with a hold in which no force will do.
const CHANGE_FIRST: &str = "Change the hold or the cut first: pads bored to another diameter, wider or more of them, support inside, less feed or depth, or the cuts in \
     another order.";

/// How hard each step may and must be held, one line a step that is set by a force and cuts.
pub(super) fn told(outcome: &Outcome, units: Units) -> Vec<String> {
    let of = outcome.steps.len();
    let steps = outcome.steps.iter().enumerate();
    let windows = steps.filter_map(|(n, s)| Some((n, s.grip.window.as_ref()?)));
    windows
        .map(|(n, window)| {
            let step = match of {
                1 => String::new(),
                _ => format!("Step {}: ", n + 1),
            };
            let said = Said { window, units };
            format!("{step}{}{}", said.line(), said.tried())
        })
        .collect()
}

/// What a force that is not known leaves of each surface that a step with such a force cuts last, for each unit of it.
pub(super) fn per_unit_force(
    case: &Case,
    judgement: &Judgement,
    steps: &[StepDocument],
    units: Units,
) -> Option<String> {
    let last = steps.last()?;
    let cut = Surface::BOTH.into_iter().filter(|s| {
        let last_to_cut = case.last_to_cut(*s);
        last_to_cut.is_some_and(|k| judgement.force_unknown.contains(&k))
    });
    let each: Vec<String> = cut
        .map(|s| {
            let shape = last.released_shape(s);
            let error = shape.error.map(|e| e.roundness);
            let found = units.small_within(shape.roundness_minimum_zone, error);
            format!("the {} {found} out of round", s.in_words())
        })
        .collect();
    if each.is_empty() {
        return None;
    }
    Some(format!(
        "The force is unknown. {UNIT_FORCE} N each leave {}. While the same arcs touch, what the force leaves grows in proportion to it; what the tool leaves does not. \
         `squeeze` finds the force from readings of the clamped ring.",
        each.join(" and ")
    ))
}

/// A zone that is missed at an end of the band that the forces of a step (from 0) are known within.
pub(super) fn band_missed(outcome: &Outcome, (step, share): (usize, f64)) -> String {
    let ends = outcome.steps[step].grip.band.map_or([1.0; 2], |b| b.spread);
    let [low, high] = ends.map(percent);
    format!(
        "Within the band of its forces ({low} to {high} of those reckoned with) step {} is OUT OF TOLERANCE: at the worse end {} of the roundness zone is used up.",
        step + 1,
        percent(share)
    )
}

/// What happens beyond a bound.
fn why(by: LimitedBy) -> &'static str {
    match by {
        LimitedBy::Slip => "it slips by this estimate (at that force without any margin)",
        LimitedBy::Roundness => "it comes out of its roundness zone",
        LimitedBy::Yield => "the part yields",
        LimitedBy::Marking => "the pads mark it",
        LimitedBy::Speed => {
            "turning takes more of the grip than the guideline's factors allow at this speed"
        }
        LimitedBy::Chuck => "the chuck is not made for it",
    }
}

/// A window as it is told.
struct Said<'a> {
    window: &'a ForceWindow,
    units: Units,
}

impl Said<'_> {
    /// In one line.
    fn line(&self) -> String {
        let (low, high) = (self.window.low.as_ref(), self.window.high.as_ref());
        let about = self.about();
        let above = |b: &Bound| match b.not_enough {
            true => format!("even with {} {}", self.force(b, true), why(b.by)),
            false => format!("above {} {}", self.force(b, false), why(b.by)),
        };
        match (low, high) {
            (Some(a), high) if a.not_enough => {
                let and = high.map_or(String::new(), |b| format!(", and {}", above(b)));
                format!(
                    "No force will do in this hold{about}: even with {} {}{and}. {}",
                    self.force(a, false),
                    why(a.by),
                    self.change_first()
                )
            }
            (Some(a), Some(b)) if self.window.is_open() => format!(
                "Hold between {} and {}{}{about}: below, {}; above, {}.",
                self.newtons(a, true),
                self.force(b, false),
                self.by([Some(a), Some(b)]),
                why(a.by),
                why(b.by)
            ),
            (Some(a), Some(b)) => format!(
                "No force will do in this hold{about}: below {} {}, and {}. {}",
                self.force(a, true),
                why(a.by),
                above(b),
                self.change_first()
            ),
            (Some(a), None) => format!(
                "Hold with {} or more{}{about}: below, {}. How much more the part bears is not known: no limit from above was found.",
                self.force(a, true),
                self.by([Some(a), None]),
                why(a.by)
            ),
            (None, Some(b)) if b.not_enough => {
                format!("No force will do in this hold{about}: {}. {}", above(b), self.change_first())
            }
            (None, Some(b)) => format!(
                "Hold with no more than {}{}{about}: above, {}. How much it needs is not known: see what was not checked.",
                self.force(b, false),
                self.by([None, Some(b)]),
                why(b.by)
            ),
            (None, None) => {
                "How hard it must be held and how hard it may be is not known: see what was not checked.".into()
            }
        }
    }

    /// What goes with a hold in which no force will do; what was found to help is told by itself.
    fn change_first(&self) -> &'static str {
        match self.window.tried.as_ref().is_some_and(Alternative::opens) {
            true => "Change the hold or the cut first.",
            false => CHANGE_FIRST,
        }
    }

    /// What the bounds are for, where that has to be said.
    fn about(&self) -> String {
        let [least, most] = self.window.spread;
        let mut all = Vec::new();
        if self.window.several {
            all.push("all other forces in proportion".to_owned());
        }
        if least != most {
            all.push(format!(
                "as set, when what it really is may be {} to {} of that",
                percent(least),
                percent(most)
            ));
        }
        match all.is_empty() {
            true => String::new(),
            false => format!(" ({})", all.join("; ")),
        }
    }

    /// What another setup would do, that was tried.
    fn tried(&self) -> String {
        let tried = self.window.tried.as_ref();
        let Some((tried, change)) = tried.and_then(|t| Some((t, t.change.as_ref()?))) else {
            return String::new();
        };
        let what = match change {
            Change::Pads {
                called,
                diameter,
                width,
            } => format!(
                "{called}s with pads cut to {} and {} wide",
                self.units.size(*diameter),
                self.units.size(*width)
            ),
            Change::Supported { called, crown } => format!(
                "a jack screw behind each {called}, its crown of {} radius set to just touch the free part, if the tool leaves room for it",
                self.units.size(*crown)
            ),
            Change::Order { first } => format!("the {} cut first", first.in_words()),
        };
        let at = Bound::at(tried.factor, LimitedBy::Slip);
        let held = tried.safety.map_or(String::new(), |s| {
            format!(", safety against slip {}", safety(s))
        });
        let comes_out = match tried.opens() {
            true => "run the case so to see it in full, yield and marks too",
            false => "the best that was tried, and not enough",
        };
        format!(
            " Tried, roughly: {what}, at {}: {} of the zone used up{held}; {comes_out}.",
            self.force(&at, true),
            percent(tried.share),
        )
    }

    /// A bound as a force of each of what is set: up or down to three figures.
    fn newtons(&self, bound: &Bound, up: bool) -> String {
        let unit = if self.units.inch { LBF_N } else { 1.0 };
        let each = self.window.set.each;
        let [least, most] = each.map(|f| unit * rounded(f * bound.factor / unit, up));
        match (least - most).abs() <= 1e-9 * most {
            true => self.units.set_force(most),
            false => format!(
                "{} to {}",
                self.units.set_force(least),
                self.units.set_force(most)
            ),
        }
    }

    /// The same, and of what.
    fn force(&self, bound: &Bound, up: bool) -> String {
        let force = self.newtons(bound, up);
        match self.window.set.called.as_str() {
            "end plate" => format!("{force} on the plates"),
            called => format!("{force} a {called}"),
        }
    }

    /// The same in what the forces were worked out from: ", 12 to 21 N m on this key".
    fn by(&self, bounds: [Option<&Bound>; 2]) -> String {
        let Some(SetBy {
            called,
            kind,
            value,
            ..
        }) = &self.window.set_by
        else {
            return String::new();
        };
        let words = |bound: &Bound| {
            let x = value * bound.factor;
            match kind {
                SetByKind::Force => self.units.force(x),
                SetByKind::Torque => self.units.torque(x),
                SetByKind::Pressure => self.units.stress(x),
            }
        };
        let ends: Vec<String> = bounds.into_iter().flatten().map(words).collect();
        format!(", {} {called}", ends.join(" to "))
    }
}
